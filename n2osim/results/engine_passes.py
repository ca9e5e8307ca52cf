"""The engine side of a run: over time, pass by pass, and the oxygen balance of the whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from n2osim import fluid
from n2osim.fluid.phase import TWO_PHASE
from n2osim.hardware.engine import EngineSide
from n2osim.physics import combustion as C
from n2osim.physics.fuels import OXYGEN_IN_N2O
from n2osim.results.arrays import Variable
from n2osim.results.engine_side import (
    LEAN,
    LEAST_FLOW,
    RICH,
    EngineTrace,
    Figure,
    PassEngineSummary,
    accounting,
    engine_arrays,
    fuel_of,
)
from n2osim.results.flow_ranges import engine_range
from n2osim.results.instants import time_above
from n2osim.scenario.schedule import Item

if TYPE_CHECKING:
    from n2osim.results.run import Run


def engine_trace(run: Run) -> EngineTrace | None:
    """Engine side of a run; None when its scenario has no engine."""
    engine = run.scenario.engine
    if engine is None:
        return None
    variables = engine_arrays(run, engine)
    statement = accounting(engine)
    return EngineTrace(
        engine, variables, pass_summaries(run, engine, variables, statement), statement
    )


def pass_summaries(
    run: Run, engine: EngineSide, variables: dict[str, Variable], statement: str
) -> tuple[PassEngineSummary, ...]:
    """One summary per pass that was begun, in order."""
    done = int(run["segment"][-1])
    return tuple(
        _summary(run, engine, variables, k, item, statement)
        for k, item in enumerate(run.scenario.schedule[: done + 1])
        if item.feeds_engine
    )


def _summary(
    run: Run, engine: EngineSide, variables: dict[str, Variable], k: int, item: Item, statement: str
) -> PassEngineSummary:
    rows = run.rows_of(k)
    t = run.time[rows] - run.time[rows.start]
    v = {name: variable.values[rows] for name, variable in variables.items()}
    totals = ("n2o_to_engine_kg", "fuel_kg", "work_J")
    used, burnt, work = (float(v[name][-1] - v[name][0]) for name in totals)
    of = fuel_of(engine)
    mean_mixture = burnt * of.n2o_fuel / used if used > 0.0 else np.nan
    mean_ratio = used / burnt if burnt > 0.0 else np.nan
    has_air = bool(engine.base_air)
    mixture, burning = v["equivalence_shot"], v["fuel_flow_kg_s"]

    def asked(share: float) -> np.ndarray:
        return np.asarray(C.fuel_for(v["n2o_flow_kg_s"], of, share * engine.target_mixture))

    return PassEngineSummary(
        index=k,
        label=item.label,
        start_time=float(run.time[rows.start]),
        n2o_used=used,
        fuel_used=burnt,
        work=work,
        n2o=_figure(t, v["n2o_flow_kg_s"], v),
        fuel=_figure(t, v["fuel_flow_kg_s"], v),
        power=_figure(t, v["power_W"], v),
        mixture=_figure(t, mixture, v, mean_mixture),
        ratio=_figure(t, v["n2o_fuel_ratio"], v, mean_ratio),
        engine_mixture=_figure(t, v["equivalence_engine"], v)
        if has_air and engine.base_fuel is not None
        else None,
        charge_temperature=_known(t, v["charge_temperature_K"], v),
        density_gain=_known(t, v["charge_density_gain"], v),
        air_gain=_known(t, v["charge_air_gain"], v),
        lean=time_above(t, asked(LEAN) - burning),
        rich=time_above(t, burning - asked(RICH)),
        statement=statement,
        range=engine_range(
            run, k, engine, variables["n2o_flow_kg_s"].values, variables["opening"].values
        ),
    )


def _known(t: np.ndarray, values: np.ndarray, v: dict[str, np.ndarray]) -> Figure | None:
    """Figure of the charge; None without base air and where the air cannot evaporate the N2O."""
    return _figure(t, values, v) if np.isfinite(values).any() else None


def _figure(
    t: np.ndarray, values: np.ndarray, v: dict[str, np.ndarray], mean: float | None = None
) -> Figure:
    """Start, mean, end and extremes over the rows with flow."""
    flow = v["n2o_flow_kg_s"]
    # The row at which a delay or a shut window ends holds next to nothing.
    there = np.flatnonzero((flow > LEAST_FLOW * flow.max(initial=0.0)) & np.isfinite(values))
    if not len(there):
        return Figure(*([np.nan] * 7))
    x, time = values[there], t[there]
    low, high = int(x.argmin()), int(x.argmax())
    if mean is None:
        span = time[-1] - time[0]
        mean = float(np.trapezoid(x, time) / span) if span > 0.0 else float(x[0])
    return Figure(
        float(x[0]),
        float(mean),
        float(x[-1]),
        float(x[low]),
        float(time[low]),
        float(x[high]),
        float(time[high]),
    )


def drawn_density(run: Run, row: int) -> float:
    """Density (kg/m3) of what all bottles together give at a row, by volume flow."""
    flow, volume = 0.0, 0.0
    for i, fitted in enumerate(run.scenario.bottles):
        out = float(run["outflow_kg_s"][i, row])
        if out <= 0.0:
            continue
        T = float(run["fluid_temperature_K"][i, 0, row])
        rho = float(run["mass_kg"][i, row]) / fitted.bottle.volume
        liquid = float(run["outflow_liquid_kg_s"][i, row]) / out
        if int(run["phase"][i, row]) == TWO_PHASE:
            line = fluid.saturation(T)
            volume += out * (liquid / float(line.rho_l) + (1.0 - liquid) / float(line.rho_v))
        else:
            volume += out / rho
        flow += out
    return flow / volume if volume > 0.0 else 0.0


def first_flow(run: Run, index: int) -> tuple[float, float]:
    """First flow (kg/s) of segment ``index`` and the density (kg/m3) then drawn; zeros if none.

    A delayed or ramped delivery begins with a row of next to nothing: flow counts from 1 % of its
    largest in the segment.
    """
    begin = run.rows_of(index).start
    flow = run["outflow_kg_s"][:, run.rows_of(index)].sum(axis=0)
    rows = np.flatnonzero((flow > 0.0) & (flow >= 0.01 * flow.max(initial=0.0)))
    if not len(rows):
        return 0.0, 0.0
    r = begin + int(rows[0])
    return float(run["outflow_kg_s"][:, r].sum()), drawn_density(run, r)


def oxygen_balance(run: Run, trace: EngineTrace) -> dict[str, float]:
    """Oxygen (kg) of a whole run, from exported arrays: where it was and where it went.

    Keys: ``started``, ``refilled``, ``left`` (in the bottles); ``vented``, ``burnt`` (with the
    shot's fuel, from the fuel burnt and its demand), ``free`` (reached the engine unused);
    ``closure``: |started + refilled - left - vented - burnt - free| over started + refilled.
    """
    bottles = run["mass_kg"].sum(axis=0)
    found = {
        "started": float(bottles[0]) * OXYGEN_IN_N2O,
        "refilled": float(trace["n2o_refilled_kg"][-1]) * OXYGEN_IN_N2O,
        "left": float(bottles[-1]) * OXYGEN_IN_N2O,
        "vented": float(trace["n2o_vented_kg"][-1]) * OXYGEN_IN_N2O,
        "burnt": float(trace["oxygen_burnt_kg"][-1]),
        "free": float(trace["oxygen_free_kg"][-1]),
    }
    came = found["started"] + found["refilled"]
    gone = found["left"] + found["vented"] + found["burnt"] + found["free"]
    found["closure"] = abs(came - gone) / came
    return found
