"""Limits on the engine side: mixture of shot and engine, fuel or N2O alone, wet charge."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from n2osim.hardware.cylinder_rules import EXPOSURE_LIMIT
from n2osim.hardware.engine import EngineSide
from n2osim.physics import combustion as C
from n2osim.physics.shot import fuel_of
from n2osim.results.driver import driver
from n2osim.results.engine_side import (
    LEAN,
    LEAST_FLOW,
    RICH,
    fuel_jets_flow,
    mixture_excess,
    pass_rows,
)
from n2osim.results.findings import LEAVE_FUEL_JETS
from n2osim.results.flow_ranges import gain_at
from n2osim.results.gas_drawn import GAS, gas_flow
from n2osim.results.instants import first_above, time_above
from n2osim.results.judge import Case, Limit, Part, Reading
from n2osim.results.rules_feed import worst_bottleneck

FUEL_ALONE = 50.0
"""Mixture of the shot from which on it counts as fuel without N2O (no-n2o says that)."""
SHORTEST = 0.2
"""s; shorter excursions are the opening and closing of valves."""


def pass_name(one: Any) -> str:
    """A pass as it is called in words."""
    return f'pass "{one.label}"' if one.label else f"pass {one.index + 1}"


def _mixture(case: Case, share: float, where: np.ndarray | None = None) -> tuple[Any, ...] | None:
    """(extreme mixture, bound, first time, seconds) of a pass beyond a share of its target."""
    run, one = case.run, case.one
    trace = run.engine
    assert trace is not None
    rows = run.rows_of(one.index)
    time, flow = run.time[rows], trace["n2o_flow_kg_s"][rows]
    shot = trace["equivalence_shot"][rows]
    counts = (flow > LEAST_FLOW * flow.max(initial=0.0)) & (shot < FUEL_ALONE)
    if where is not None:
        counts = counts & where[rows]
    ratio = np.where(counts, shot, np.nan)
    if not np.isfinite(ratio).any():
        return None
    excess = mixture_excess(trace.engine, flow, trace["fuel_flow_kg_s"][rows], share)
    excess = np.where(counts, excess, np.nan)
    extreme = np.nanmin(ratio) if share < 1.0 else np.nanmax(ratio)
    since = first_above(time, np.where(np.isfinite(excess), excess, -np.inf), 0.0)
    bound = share * trace.engine.target_mixture
    return float(extreme), bound, since, time_above(time, excess)


def _lean(case: Case) -> Reading | None:
    found = _mixture(case, LEAN)
    if found is None or not case.one.fuel.maximum > 0.0:  # no_fuel says it
        return None
    value, bound, since, lasts = found
    cause = _lean_cause(case, value, bound)
    why, person = _COLD_AND_LEAN if cause == "cold bottle" else ("", "")
    return Reading(
        value,
        bound,
        since,
        beyond=value < bound and lasts > SHORTEST,
        cause=cause,
        details={
            "name": pass_name(case.one),
            "lasts": f"{lasts:.1f}",
            "why": why,
            "person": person,
        },
    )


def _may_be_lean(case: Case) -> Reading | None:
    """The lean end of what the flow of the jets may be, where the flow that is computed is not."""
    one, trace = case.one, case.run.engine
    if one.range is None or trace is None or trace.engine.fuel_jets is None:
        return None
    bound = LEAN * trace.engine.target_mixture
    low = one.range.mixture.low
    beyond = low < bound <= one.mixture.minimum
    return Reading(low, bound, one.start_time, beyond=beyond, details={"name": pass_name(one)})


def _lean_cause(case: Case, leanest: float, bound: float) -> str:
    """Pressure more than a band's width above the band (without one: a bottle above the exposure
    limit) leans a pass out where most of it goes away in the band, and one below it where the jets
    pass more of a cold bottle's liquid; else the fuel does."""
    for v in case.run.views:
        start = v.summary_of(case.one.index)
        if start is None:
            continue
        if _too_high(v, start) and _by_pressure(v, start, leanest, bound):
            return driver(v, start.start_time)
        if leanest < bound <= leanest / _gain_in_band(case, v):
            return "cold bottle"
    return "fuel"


def _too_high(v: Any, start: Any) -> bool:
    """Whether a bottle is launched far above where it is to be."""
    if v.switch is None:
        return bool(start.start_temperature > EXPOSURE_LIMIT)
    return bool(start.start_pressure > 2.0 * v.switch.opens - v.switch.closes)


def _by_pressure(v: Any, start: Any, leanest: float, bound: float) -> bool:
    """Whether a launch where the switch opens would take away most of what a mixture is too lean by
    (half of it as a ratio)."""
    gain = None if v.switch is None else gain_at(v, start, v.switch.opens)
    return gain is None or leanest >= bound * gain**2


_COLD_AND_LEAN = (
    " with the bottle below its band, where the jets pass more of the colder liquid",
    "leave the fuel jets alone and bring the bottle into its band: larger ones would be too rich "
    "there",
)


def _rich(case: Case) -> Iterator[Reading]:
    gas = case.run.gas_share > GAS
    for part, as_gas in ((gas, True), (~gas, False)):
        found = _mixture(case, RICH, part)
        if found is None:
            continue
        value, bound, since, lasts = found
        cause = _gas_cause(case) if as_gas else _rich_cause(case, value, bound)
        words, person = _RICH[cause]
        yield Reading(
            value,
            bound,
            since,
            key=cause,
            beyond=value > bound and lasts > SHORTEST,
            cause="pick-up" if cause == "mounting" else _CAUSE.get(cause, cause),
            details={
                "name": pass_name(case.one),
                "lasts": f"{lasts:.1f}",
                "why": words,
                "person": person,
            },
        )


def _gas_cause(case: Case) -> str:
    """Why gas is drawn: because the "mounting" says so of the bottles that give most of it, or
    because there is no liquid ("gas")."""
    rows = case.run.rows_of(case.one.index)
    given = {"vapour": 0.0, "liquid": 0.0}
    for v in case.run.views:
        gas = gas_flow(v, rows)
        given[v.fitted.mounting.draw] += float(np.trapezoid(gas, v.time[rows]))
    return "mounting" if given["vapour"] > given["liquid"] else "gas"


def _rich_cause(case: Case, richest: float, bound: float) -> str:
    """Why a pass on liquid is rich: "restricted" ahead of the jets, "cold" bottle, or "jets"."""
    if worst_bottleneck(case.run, case.one.index) is not None:
        return "restricted"
    views = case.run.views if richest > bound else ()
    cold = any(richest <= bound * _gain_in_band(case, v) for v in views)
    return "cold" if cold else "jets"


def _gain_in_band(case: Case, v: Any) -> float:
    """Flow of the pass with a bottle where its band begins over that with which it was launched, if
    that was below; else 1."""
    start = v.summary_of(case.one.index)
    if start is None or v.switch is None or start.start_pressure >= v.switch.closes:
        return 1.0
    return gain_at(v, start, v.switch.closes) or 1.0


_CAUSE = {"gas": "charge", "restricted": "feed", "cold": "cold bottle", "jets": "fuel"}
_RICH: dict[str, tuple[str, str]] = {
    "gas": (" while gas is drawn instead of liquid", LEAVE_FUEL_JETS),
    "mounting": (
        " because a bottle is mounted to draw vapour",
        "fuel jets sized for gas are far too lean for liquid",
    ),
    "restricted": (
        ": something ahead of the N2O jets holds the flow down",
        "see the finding on the restricted flow and mend that first; fuel jets made "
        "smaller to match would be too lean once it is mended",
    ),
    "cold": (
        " with the bottle below its band",
        "leave the fuel jets alone: smaller ones would be too lean at the band's pressure",
    ),
    "jets": (
        ": fuel is wasted and plugs foul (common practice, no source), and no power is gained",
        "change one thing at a time, and only with the bottle at the pressure it will be raced at",
    ),
}
"""By cause: how the message goes on, and what a person must mind."""


def _engine_lean(case: Case) -> Reading | None:
    """All fuel against the oxygen of air and N2O: leaner than stoichiometric."""
    run, one = case.run, case.one
    trace = run.engine
    assert trace is not None
    rows = run.rows_of(one.index)
    time, ratio = run.time[rows], trace["equivalence_engine"][rows]
    if not np.isfinite(ratio).any():
        return None
    e, lasts = trace.engine, time_above(time, 1.0 - ratio)
    alone = C.engine_equivalence(0.0, 0.0, e.base_air or 0.0, e.base_fuel or 0.0, fuel_of(e))
    return Reading(
        float(np.nanmin(ratio)),
        1.0,
        first_above(time, np.where(np.isfinite(ratio), 1.0 - ratio, -np.inf), 0.0),
        beyond=lasts > SHORTEST,
        details={"name": pass_name(one), "lasts": f"{lasts:.1f}", "alone": f"{float(alone):.2f}"},
    )


# --- one of the two alone ------------------------------------------------------------------------
def fuel_blocked(engine: EngineSide | None) -> bool:
    """Whether the fuel jets pass nothing: no pressure across them."""
    return engine is not None and fuel_jets_flow(engine) == 0.0


def _no_fuel_reading(engine: EngineSide, time: float | None) -> Reading:
    """Without a reference to boost such an engine side is refused when it is made."""
    return Reading(engine.fuel_pressure, None, time, beyond=True)


def _no_fuel(case: Case) -> Reading | None:
    trace = case.run.engine
    if trace is None or not fuel_blocked(trace.engine):
        return None
    flowing = trace["n2o_flow_kg_s"] > 0.0
    if not flowing.any():
        return None
    return _no_fuel_reading(trace.engine, float(case.run.time[int(flowing.argmax())]))


def _fuel_as_set_up(case: Part) -> Reading | None:
    engine = case.scenario.engine
    if engine is None or not fuel_blocked(engine):
        return None
    return _no_fuel_reading(engine, None)


def _no_n2o(case: Case) -> Reading | None:
    """Fuel without any N2O: no bottle stands above the boost."""
    run, trace = case.run, case.run.engine
    if trace is None or trace.engine.fuel_jets is None:
        return None
    alone = pass_rows(run) & (trace["fuel_flow_kg_s"] > 0.0) & (trace["n2o_flow_kg_s"] <= 0.0)
    lasts = float((np.diff(run.time) * (alone[:-1] & alone[1:])).sum())
    if lasts <= SHORTEST:
        return None
    return Reading(
        float(np.nanmax(run["pressure_gauge_Pa"][:, alone])),
        trace.engine.intake_pressure,
        float(run.time[int(alone.argmax())]),
        beyond=True,
        details={"lasts": f"{lasts:.1f}"},
    )


def _wet(case: Case) -> Reading | None:
    """More N2O than the engine's air can evaporate: no charge temperature."""
    trace = case.run.engine
    if trace is None or not trace.engine.base_air:
        return None
    n2o = trace["n2o_flow_kg_s"]
    wet = (n2o > 0.0) & ~np.isfinite(trace["charge_temperature_K"])
    if not wet.any():
        return None
    at = float(case.run.time[int(wet.argmax())])
    return Reading(float(n2o[wet].max()), trace.engine.base_air, at, beyond=True)


_NO_FUEL: dict[str, Any] = {
    "severity": "danger",
    "words": "N2O flows and no fuel does: the regulator, referenced to boost, holds no pressure "
    "across the fuel jets. That breaks engines at once",
    "kind": "gauge_pressure",
    "sense": "below",
    "value_is": "fuel pressure",
    "cause": "fuel",
    "person": "more fuel pressure; larger fuel jets cannot help",
}

ENGINE_LIMITS = (
    Limit(
        "lean",
        "engine",
        _lean,
        "danger",
        "{name} runs too lean for {lasts} s{why}: too lean is what breaks engines",
        quantity="mixture_leanest",
        sense="below",
        value_is="leanest fuel-air equivalence ratio of the shot",
        limit_is="limit",
        bound_from="fuel",
        source="mixture computed; limit 95 % of the target mixture: common practice, no source",
        person="{person}",
    ),
    Limit(
        "may-be-lean",
        "engine",
        _may_be_lean,
        "warning",
        "{name} may run too lean: the flow of these jets is not known more closely",
        quantity="mixture_lean_end",
        sense="below",
        value_is="leanest mixture that it may have",
        limit_is="limit",
        cause="jets",
        bound_from="fuel",
        source="data on the flow of such jets; limit as for lean",
        person="weigh a pass before you rely on the mixture (n2osim weigh), or let n2osim size "
        "jets choose a safe first set",
    ),
    Limit(
        "rich",
        "engine",
        _rich,
        "warning",
        "{name} runs rich for {lasts} s{why}",
        quantity="mixture_richest",
        value_is="richest fuel-air equivalence ratio of the shot",
        limit_is="limit",
        bound_from="fuel",
        source="mixture computed; limit 120 % of the target mixture: common practice, no source",
        person="{person}",
    ),
    Limit(
        "engine-lean",
        "engine",
        _engine_lean,
        "danger",
        "the whole engine runs leaner than stoichiometric for {lasts} s of {name} (by itself, "
        "without the shot, it runs at {alone}): too lean is what breaks engines",
        quantity="engine_mixture_leanest",
        sense="below",
        value_is="leanest fuel-air equivalence ratio of the whole engine",
        limit_is="limit",
        cause="engine",
        bound_from="fuel",
        source="mixture computed; limit stoichiometric at full load: common practice, no source",
        person="check the flows of air and fuel given for the engine without the shot",
    ),
    Limit("no-fuel", "car", _no_fuel, **_NO_FUEL),
    Limit(
        "no-n2o",
        "car",
        _no_n2o,
        "warning",
        "fuel flows without N2O for {lasts} s: the bottle stands no higher than what the jets "
        "blow into, and the engine only gets the fuel",
        kind="gauge_pressure",
        sense="below",
        value_is="bottle at most",
        limit_is="boost",
        cause="charge",
        person=LEAVE_FUEL_JETS,
    ),
    Limit(
        "charge-not-evaporated",
        "car",
        _wet,
        "warning",
        "the engine's air cannot evaporate so much N2O: liquid reaches the cylinders, and no "
        "charge temperature or density can be given",
        kind="mass_flow",
        value_is="N2O",
        limit_is="air",
        cause="engine",
        source="computed: enthalpy balance",
        person="check the air flow given for the engine",
    ),
)
FUEL_AS_SET_UP = Limit("no-fuel", "set-up", _fuel_as_set_up, **_NO_FUEL)
"""The same before anything is run: for a check of the file."""
