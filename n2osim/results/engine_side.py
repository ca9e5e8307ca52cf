"""Engine side of a run: N2O and fuel to the engine, mixture, extra power, charge cooling.

Post-processing of a Run's exported arrays, so that ensembles and the integrator need none of it.
Everything that depends on a choice of accounting (BSFC, decomposition heat, crank or wheel) is said
in :attr:`EngineTrace.statement`, which every summary carries along.

Purges and what a relief device lets out never reach the engine. A solenoid that is pulsed (delivery
courses, target flow) is taken to pulse the fuel with the N2O: fuel jets pass their full flow times
the same share of opening. Several stages share the one set of fuel jets in proportion to the area
of their N2O jets.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from n2osim.errors import RangeError, UnknownNameError
from n2osim.hardware.engine import EngineSide
from n2osim.physics import combustion as C
from n2osim.physics.fuels import OXYGEN_IN_N2O
from n2osim.physics.shot import fuel_of, shot_power_of
from n2osim.results.arrays import Variable
from n2osim.results.frames import without_nan
from n2osim.results.quantities_engine import ENGINE_SERIES
from n2osim.scenario.schedule import Item

if TYPE_CHECKING:
    from n2osim.results.flow_ranges import EngineRange
    from n2osim.results.run import Run

ENGINE_SCHEMA = 1
LEAN, RICH = 0.95, 1.20
"""Mixture over target mixture beyond which a pass is called lean or rich (common practice, no
source)."""

LEAST_FLOW = 1e-3
"""Of a pass's largest flow, below which a row counts as shut."""


# --- one instant ---------------------------------------------------------------------------------
class EnginePoint(NamedTuple):
    """What the engine makes of flows of N2O: floats or arrays, SI; see EngineTrace for each."""

    fuel_flow: Any
    equivalence: Any
    engine_equivalence: Any
    power_fuel: Any
    power_decomposition: Any

    @property
    def power(self) -> Any:
        """Extra power, W."""
        return self.power_fuel + self.power_decomposition


def fuel_jets_flow(engine: EngineSide, since: Any = 0.0) -> Any:
    """Flow (kg/s) of the fuel jets fully open, ``since`` s after a pass began (float or array).

    None when the engine side has no fuel jets.
    """
    if engine.fuel_jets is None or engine.fuel_pressure is None:
        return None
    density = engine.fuel_density if engine.fuel_density is not None else fuel_of(engine).density
    return C.fuel_jet_flow(
        engine.fuel_jets.cda,
        engine.fuel_pressure_at(since),
        engine.intake_pressure_at(since),
        density,
        engine.regulator_referenced,
    )


def engine_point(engine: EngineSide, n2o: Any, opening: Any = 1.0, since: Any = 0.0) -> EnginePoint:
    """Fuel, mixture and power for a flow of N2O (kg/s; float or array), ``since`` s into a pass.

    ``opening``: share of the time that the solenoids are open, which the fuel jets follow. Without
    fuel jets the fuel is what the target mixture asks for. Ratios are NaN where nothing flows.
    """
    of = fuel_of(engine)
    jets = fuel_jets_flow(engine, since)
    n2o = np.asarray(n2o, dtype=float)
    asked = C.fuel_for(n2o, of, engine.target_mixture)
    given = asked if jets is None else jets * np.asarray(opening, dtype=float) + 0.0 * n2o
    power = shot_power_of(engine, of, n2o, given)
    flowing = n2o > 0.0
    safe = np.where(flowing, n2o, 1.0)
    alone = np.where(flowing, C.shot_equivalence(safe, given, of), np.nan)
    whole = np.full_like(alone, np.nan)
    if engine.base_air is not None and engine.base_fuel is not None:
        whole = C.engine_equivalence(n2o, given, engine.base_air, engine.base_fuel, of)
        whole = np.where(flowing, whole, np.nan)
    parts = (given, alone, whole, power.from_fuel, power.from_decomposition)
    return EnginePoint(*(float(p) if np.ndim(p) == 0 else np.asarray(p) for p in parts))


def power_per_flow(engine: EngineSide) -> float:
    """Extra power per flow of N2O (J/kg) at the target mixture."""
    return float(shot_power_of(engine, fuel_of(engine), 1.0, None).total)


def accounting(engine: EngineSide) -> str:
    """The choices that power and mixture figures rest on, in one sentence."""
    of = fuel_of(engine)
    power = shot_power_of(engine, of, 1.0, None)
    if engine.power_at == "wheel":
        where = f" (driveline efficiency {engine.driveline_efficiency:.3g})"
    else:
        where = ""
    if engine.fuel_jets is None:
        fuel_side = f"fuel as the target mixture {engine.target_mixture:.3g} asks for"
    else:
        kept = "referenced to boost" if engine.regulator_referenced else "not referenced to boost"
        fuel_side = f"fixed fuel jets, regulator {kept}, pulsed with the N2O"
    return (
        f"extra power {power.accounting}{where}; {of.name}, {fuel_side}; mixture is fuel-air "
        "equivalence ratio of the shot alone, above 1 rich"
    )


def mixture_excess(
    engine: EngineSide, n2o: np.ndarray, fuel: np.ndarray, share: float
) -> np.ndarray:
    """By how much fuel (kg/s, shape (row,)) the shot is beyond ``share`` of its target mixture.

    n2o, fuel: flows, kg/s, shape (row,). Above zero outside: too little fuel where ``share`` is
    below 1, too much where it is above. Both flows run nearly straight between rows, on a ramp of
    the delivery too, where their ratio does not: where this passes zero is when the mixture passes
    its bound.
    """
    excess = np.asarray(C.fuel_for(n2o, fuel_of(engine), share * engine.target_mixture)) - fuel
    return excess if share < 1.0 else -excess


# --- the trace -----------------------------------------------------------------------------------
@dataclass(frozen=True)
class Figure:
    """A quantity over one pass: at its start and end (first and last instant with flow), its mean
    (by time; mixtures by mass), extremes, and s into the pass at which those are."""

    start: float
    mean: float
    end: float
    minimum: float
    minimum_at: float
    maximum: float
    maximum_at: float

    def as_dict(self) -> dict[str, float | None]:
        """All fields; NaN becomes None."""
        found: dict[str, float | None] = without_nan(vars(self))
        return found


@dataclass(frozen=True)
class PassEngineSummary:
    """One pass as the engine sees it. SI.

    n2o_used, fuel_used: kg. work: extra energy delivered, J. n2o, fuel: flows, kg/s. power: W.
    mixture: equivalence ratio of the shot alone; engine_mixture: of the whole engine (None without
    base air and fuel). ratio: N2O to fuel by mass. charge_temperature (K) and density_gain: of the
    charge cooled by evaporation (None without base air and where it cannot evaporate all N2O);
    air_gain: density of the air in it over that of the air alone, which is what lets the engine
    draw more of it. lean, rich: s of the pass outside LEAN and RICH times the target mixture.
    range: where flow, mixture and power can be (physics/flow_range.py), None where the flow is
    prescribed. statement: the accounting.
    """

    index: int
    label: str
    start_time: float
    n2o_used: float
    fuel_used: float
    work: float
    n2o: Figure
    fuel: Figure
    power: Figure
    mixture: Figure
    ratio: Figure
    engine_mixture: Figure | None
    charge_temperature: Figure | None
    density_gain: Figure | None
    air_gain: Figure | None
    lean: float
    rich: float
    statement: str
    range: EngineRange | None = None

    def as_dict(self) -> dict[str, Any]:
        """All fields as plain values."""
        out: dict[str, Any] = without_nan(asdict(self))
        if self.range is not None:
            out["range"] = {name: end._asdict() for name, end in self.range._asdict().items()}
        return out


@dataclass(frozen=True)
class EngineTrace:
    """Engine side of a run: arrays over the run's own rows, and one summary per pass.

    ``trace["power_W"]`` gives an array by its name (``trace.names``). Flows are zero and ratios
    NaN outside passes.
    """

    engine: EngineSide
    variables: dict[str, Variable]
    passes: tuple[PassEngineSummary, ...]
    statement: str

    def __getitem__(self, name: str) -> np.ndarray:
        if name not in self.variables:
            raise UnknownNameError.among("engine result", name, self.variables)
        return self.variables[name].values

    @property
    def names(self) -> list[str]:
        """Names of all arrays."""
        return list(self.variables)

    @property
    def mixture_ends(self) -> tuple[float, float] | None:
        """Leanest and richest that passes may be within what is known of the jets' flow; None where
        that does not count: fuel as the mixture asks, or a flow that is prescribed."""
        ends = [p.range.mixture for p in self.passes if p.range is not None]
        if self.engine.fuel_jets is None or not ends:
            return None
        return min(e.low for e in ends), max(e.high for e in ends)

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain values: ``schema``, ``statement``, ``passes``, ``variables``."""
        return {
            "schema": ENGINE_SCHEMA,
            "statement": self.statement,
            "passes": [p.as_dict() for p in self.passes],
            "variables": without_nan({n: v.as_dict() for n, v in self.variables.items()}),
        }


# --- arrays --------------------------------------------------------------------------------------
def rows_of(run: Run, wanted: Callable[[Item], bool]) -> np.ndarray:
    """True for rows that belong to schedule items that are ``wanted``, shape (time,)."""
    return np.array([wanted(item) for item in run.scenario.schedule])[run["segment"]]


def pass_rows(run: Run) -> np.ndarray:
    """True for rows that belong to a pass, shape (time,)."""
    return rows_of(run, lambda item: item.feeds_engine)


def engine_arrays(run: Run, engine: EngineSide) -> dict[str, Variable]:
    """What the engine gets and makes over time, by name."""
    n2o = engine_flow(run)
    opening = np.where(pass_rows(run), run["valve_open"].max(axis=0), 0.0)
    since = since_pass(run)
    point = engine_point(engine, n2o, opening, since)
    ratio = np.divide(
        n2o,
        point.fuel_flow,
        out=np.full(len(n2o), np.nan),
        where=(point.fuel_flow > 0.0) & (n2o > 0.0),
    )
    asked = C.fuel_for(n2o, fuel_of(engine), engine.target_mixture)
    values = {
        "n2o_flow_kg_s": n2o,
        "fuel_flow_kg_s": point.fuel_flow,
        "fuel_wanted_kg_s": asked,
        "n2o_fuel_ratio": ratio,
        "equivalence_shot": point.equivalence,
        "equivalence_engine": point.engine_equivalence,
        "power_W": point.power,
        "power_fuel_W": point.power_fuel,
        "power_decomposition_W": point.power_decomposition,
        "opening": opening,
        **_cooling(run, engine, n2o, since),
        **_totals(run, engine, point.fuel_flow),
    }
    return {q.name: Variable(q.formula(values), q.unit, q.dims, q.sentence) for q in ENGINE_SERIES}


def since_pass(run: Run) -> np.ndarray:
    """Time (s) since the item of the schedule began that each row belongs to, shape (time,)."""
    segment = run["segment"]
    return run.time - run.time[np.searchsorted(segment, segment)]


def engine_flow(run: Run) -> np.ndarray:
    """N2O to the engine (kg/s, shape (time,)): what passes draw from all bottles, no vents."""
    out = (run["outflow_kg_s"] - run["relief_flow_kg_s"]).sum(axis=0)
    return np.where(pass_rows(run), np.maximum(out, 0.0), 0.0)


def _cooling(
    run: Run, engine: EngineSide, n2o: np.ndarray, since: np.ndarray
) -> dict[str, np.ndarray]:
    """Mixed charge; NaN without base air, without flow, and where the air cannot evaporate it."""
    mixed, gain, air_gain = (np.full(len(n2o), np.nan) for _ in range(3))
    if engine.base_air:
        boost = engine.intake_pressure_at(since) + np.zeros(len(n2o))
        pressure = run.scenario.ambient.pressure + boost
        carried = run["outflow_enthalpy_W"].sum(axis=0)
        total = run["outflow_kg_s"].sum(axis=0)
        for r in np.flatnonzero(n2o > 0.0):
            try:
                c = C.charge_cooling(
                    engine.base_air,
                    float(n2o[r]),
                    float(carried[r] / total[r]),
                    engine.intake_temperature,
                    float(pressure[r]),
                )
            except RangeError:
                continue
            mixed[r], gain[r], air_gain[r] = c.temperature, c.density_gain, c.air_gain
    return {"charge_temperature_K": mixed, "charge_density_gain": gain, "charge_air_gain": air_gain}


def _totals(run: Run, engine: EngineSide, fuel_flow: np.ndarray) -> dict[str, np.ndarray]:
    """Running totals, from the run's own mass totals so that nothing is lost to quadrature."""
    of = fuel_of(engine)
    passing = pass_rows(run)
    dt = np.diff(run.time)
    inside = passing[1:] & (np.diff(run["segment"]) == 0)
    moved = np.diff(run["mass_out_kg"].sum(axis=0))
    relief = run["relief_flow_kg_s"].sum(axis=0)
    dn = np.where(inside, moved - 0.5 * (relief[1:] + relief[:-1]) * dt, 0.0)
    df = C.fuel_for(dn, of, engine.target_mixture)
    if engine.fuel_jets is not None:
        df = np.where(inside, 0.5 * (fuel_flow[1:] + fuel_flow[:-1]) * dt, 0.0)
    burnt = np.minimum(df * of.oxygen, dn * OXYGEN_IN_N2O)
    refills = np.where(
        rows_of(run, lambda item: item.reports == "filled")[1:], np.minimum(moved, 0.0), 0.0
    )
    steps = {
        "n2o_to_engine_kg": dn,
        "n2o_vented_kg": moved - dn - refills,
        "n2o_refilled_kg": -refills,
        "fuel_kg": df,
        "oxygen_burnt_kg": burnt,
        "oxygen_free_kg": dn * OXYGEN_IN_N2O - burnt,
        "work_J": np.asarray(shot_power_of(engine, of, dn, df).total),
    }
    return {name: np.concatenate([[0.0], np.cumsum(step)]) for name, step in steps.items()}
