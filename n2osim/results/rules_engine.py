"""Rules on the engine side: mixture of shot and engine, fuel or N2O alone, wet charge."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.physics import combustion as C
from n2osim.results.drawing import GAS, gas_share
from n2osim.results.engine_side import LEAN, RICH, fuel_jets_flow, fuel_of, pass_rows
from n2osim.results.findings import LEAVE_FUEL_JETS, Finding
from n2osim.results.rules_feed import worst_bottleneck
from n2osim.results.view import views

if TYPE_CHECKING:
    from n2osim.results.run import Run

SHORTEST = 0.2
"""s; shorter excursions are the opening and closing of valves."""


def mixture(run: Run) -> Iterator[Finding]:
    """Mixture of the shot outside LEAN and RICH times its target."""
    trace = run.engine
    if trace is None:
        return
    target = trace.engine.target_mixture
    ratio = trace["equivalence_shot"]
    gas = gas_share(run) > GAS
    for one in trace.passes:
        rows = (run["segment"] == one.index) & np.isfinite(ratio)
        if one.lean > SHORTEST and one.fuel.maximum > 0.0:  # else no_fuel says it
            yield _lean(run, one, np.where(rows, ratio, np.inf), LEAN * target)
        rich = rows & (ratio > RICH * target)
        for part, drawn_as_gas in ((rich & gas, True), (rich & ~gas, False)):
            lasts = _time_in(run, part)
            if lasts > SHORTEST:
                cause = _gas_cause(run) if drawn_as_gas else _cause(run, one)
                yield _rich(run, one, np.where(part, ratio, -np.inf), RICH * target, lasts, cause)


def _time_in(run: Run, rows: np.ndarray) -> float:
    return float((np.diff(run.time) * (rows[:-1] & rows[1:])).sum())


def _lean(run: Run, one: Any, ratio: np.ndarray, limit: float) -> Finding:
    return Finding(
        "danger",
        "lean",
        f"{_name(one)} runs too lean for {one.lean:.1f} s: too lean is what breaks engines",
        ratio.min(),
        limit,
        "number",
        "leanest fuel-air equivalence ratio of the shot",
        "limit",
        float(run.time[int((ratio < limit).argmax())]),
        "",
        "larger fuel jets or more fuel pressure, or hold the bottle pressure down",
        "mixture computed; limit 95 % of the target mixture: common practice, no source",
    )


def _gas_cause(run: Run) -> str:
    """Why gas is drawn: because the "mounting" says so, or because there is no liquid ("gas")."""
    chosen = all(b.mounting.draw == "vapour" for b in run.scenario.bottles)
    return "mounting" if chosen else "gas"


def _cause(run: Run, one: Any) -> str:
    """Why a pass on liquid is rich: "restricted" ahead of the jets, "cold" bottle, or "jets"."""
    if worst_bottleneck(run, one.index) is not None:
        return "restricted"
    for v in views(run):
        start = next(s.start_pressure for s in v.summaries("pass") if s.index == one.index)
        if v.switch is not None and start < v.switch.closes:
            return "cold"
    return "jets"


_RICH: dict[str, tuple[str, str]] = {
    "gas": (
        " while gas is drawn instead of liquid",
        "refill, or bring liquid to the pick-up" + LEAVE_FUEL_JETS,
    ),
    "mounting": (
        " because the bottle is mounted to draw vapour",
        "a pick-up tube, or the bottle turned so that it draws liquid, comes first: fuel "
        "jets sized for gas are far too lean for liquid",
    ),
    "restricted": (
        ": something ahead of the N2O jets holds the flow down",
        "see the finding on the restricted flow and mend that first; fuel jets made "
        "smaller to match would be too lean once it is mended",
    ),
    "cold": (
        " with the bottle below its band",
        "bring the bottle into its band before the pass and leave the fuel jets alone: "
        "smaller ones would be too lean at the band's pressure",
    ),
    "jets": (
        ": fuel is wasted and plugs foul (common practice, no source), and no power is gained",
        "smaller fuel jets, less fuel pressure, or more bottle pressure: change one at a "
        "time, and only with the bottle at the pressure it will be raced at",
    ),
}
"""By cause: how the message goes on, and the remedy."""


def _rich(run: Run, one: Any, ratio: np.ndarray, limit: float, lasts: float, cause: str) -> Finding:
    words, remedy = _RICH[cause]
    return Finding(
        "warning",
        "rich",
        f"{_name(one)} runs rich for {lasts:.1f} s{words}",
        ratio.max(),
        limit,
        "number",
        "richest fuel-air equivalence ratio of the shot",
        "limit",
        float(run.time[int((ratio > limit).argmax())]),
        "",
        remedy,
        "mixture computed; limit 120 % of the target mixture: common practice, no source",
        key=cause,
    )


def no_fuel(run: Run) -> Iterator[Finding]:
    """N2O without any fuel: no pressure across the fuel jets."""
    trace = run.engine
    if trace is None or fuel_jets_flow(trace.engine) != 0.0:
        return
    flowing = trace["n2o_flow_kg_s"] > 0.0
    if not flowing.any():
        return
    e = trace.engine
    why = (
        "the fuel pressure is zero"
        if e.regulator_referenced or e.intake_pressure <= 0.0
        else "the fuel pressure is not above the boost that the fuel jets blow into"
    )
    yield Finding(
        "danger",
        "no-fuel",
        f"N2O flows and no fuel does: {why}. That breaks engines at once",
        e.fuel_pressure,
        None if e.regulator_referenced else e.intake_pressure,
        "gauge_pressure",
        "fuel pressure",
        "boost",
        float(run.time[int(flowing.argmax())]),
        "",
        "more fuel pressure, or a regulator referenced to boost; larger fuel jets cannot help",
        "computed",
    )


def no_n2o(run: Run) -> Iterator[Finding]:
    """Fuel without any N2O: no bottle stands above the boost."""
    trace = run.engine
    if trace is None or trace.engine.fuel_jets is None:
        return
    alone = pass_rows(run) & (trace["fuel_flow_kg_s"] > 0.0) & (trace["n2o_flow_kg_s"] <= 0.0)
    lasts = _time_in(run, alone)
    if lasts <= SHORTEST:
        return
    gauge = run["pressure_gauge_Pa"].max(axis=0)[alone].max()
    yield Finding(
        "warning",
        "no-n2o",
        f"fuel flows without N2O for {lasts:.1f} s: the bottle stands no higher than what the jets "
        "blow into, and the engine only gets the fuel",
        gauge,
        trace.engine.intake_pressure,
        "gauge_pressure",
        "bottle at most",
        "boost",
        float(run.time[int(alone.argmax())]),
        "",
        "refill, or warm the bottle into its band" + LEAVE_FUEL_JETS,
        "computed",
    )


def whole_engine(run: Run) -> Iterator[Finding]:
    """All fuel against the oxygen of air and N2O: leaner than stoichiometric."""
    trace = run.engine
    if trace is None:
        return
    ratio = trace["equivalence_engine"]
    for one in trace.passes:
        lean = (run["segment"] == one.index) & (ratio < 1.0)
        lasts = _time_in(run, lean)
        if lasts <= SHORTEST:
            continue
        e = trace.engine
        alone = C.engine_equivalence(0.0, 0.0, e.base_air or 0.0, e.base_fuel or 0.0, fuel_of(e))
        yield Finding(
            "danger",
            "engine-lean",
            f"the whole engine runs leaner than stoichiometric for {lasts:.1f} s of {_name(one)} "
            f"(by itself, without the shot, it runs at {float(alone):.2f}): too lean is what "
            "breaks engines",
            np.where(lean, ratio, np.inf).min(),
            1.0,
            "number",
            "leanest fuel-air equivalence ratio of the whole engine",
            "limit",
            float(run.time[int(lean.argmax())]),
            "",
            "more fuel from the engine's own side, or larger fuel jets; check the flows of air and "
            "fuel given for the engine without the shot",
            "mixture computed; limit stoichiometric at full load: common practice, no source",
        )


def cannot_evaporate(run: Run) -> Iterator[Finding]:
    """More N2O than the engine's air can evaporate: no charge temperature."""
    trace = run.engine
    if trace is None or not trace.engine.base_air:
        return
    n2o = trace["n2o_flow_kg_s"]
    wet = (n2o > 0.0) & ~np.isfinite(trace["charge_temperature_K"])
    if not wet.any():
        return
    yield Finding(
        "warning",
        "charge-not-evaporated",
        "the engine's air cannot evaporate so much N2O: liquid reaches the cylinders, and no "
        "charge temperature or density can be given",
        n2o[wet].max(),
        trace.engine.base_air,
        "mass_flow",
        "N2O",
        "air",
        float(run.time[int(wet.argmax())]),
        "",
        "check the air flow given for the engine; else a smaller shot",
        "computed: enthalpy balance",
    )


def _name(one: Any) -> str:
    return f'pass "{one.label}"' if one.label else f"pass {one.index + 1}"


ENGINE_RULES = (mixture, no_fuel, no_n2o, whole_engine, cannot_evaporate)
