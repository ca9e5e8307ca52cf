"""Limits on passes: where they start, what they draw, what holds them back, lines shut in."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim import fluid
from n2osim.errors import InputError
from n2osim.fluid.phase import TWO_PHASE
from n2osim.hardware.cylinder_rules import HOT_CAR
from n2osim.numbers import both, lasting
from n2osim.physics.charge import trapped_liquid_pressure
from n2osim.results.driver import driver
from n2osim.results.findings import LEAVE_FUEL_JETS
from n2osim.results.flow_ranges import gain_at
from n2osim.results.gas_drawn import fed, first_row, gas_flow, held_rows
from n2osim.results.judge import Case, Limit, Part, Reading
from n2osim.results.mounting import attitude, stranded_mass
from n2osim.results.view import View
from n2osim.units import PSI

if TYPE_CHECKING:
    from n2osim.results.run import Run
    from n2osim.scenario.fitted import FittedBottle

WARM_LINE = 310.93
"""100 degF: a line in a closed engine bay on a mild day (typical)."""
PUDDLE = 0.05
"""Share of the volume as liquid below which the charge, not the pick-up, is to blame."""
AT_ONCE = 0.1
"""s after the first flow within which gas counts as drawn from the start."""
MOST_STRANDED = 0.10
"""Share of the charge that may stay behind unremarked (no source)."""


# --- the launch ----------------------------------------------------------------------------------
def _launch(case: Case, above: bool) -> Reading | None:
    """The pressure at the first flow of a pass, against a band's width beside the band."""
    v, row = case.view, first_row(case.view, case.one)
    if v.switch is None or v.fitted.heater is None or row is None:
        return None
    time, ends = float(v.time[row]), (v.switch.opens, v.switch.closes)
    near, far = ends if above else ends[::-1]
    if above:
        cause = driver(v, time)
    else:
        gas = gas_from_the_start(v, case.one)
        cause = "charge" if gas is not None and not _two_phase(v, gas) else "cold bottle"
    details = _launch_words(case, near, "more" if above else "less")
    return Reading(float(v.gauge[row]), 2.0 * near - far, time, cause=cause, details=details)


def _launch_words(case: Case, gauge: float, otherwise: str) -> dict[str, Any]:
    """Whether the jets pass more or less than at an end of the band (Pa gauge), and what a person
    must mind: a colder liquid is denser and boils less in the jets, so either may be."""
    if len(case.run.scenario.bottles) > 1:
        return {"flow": _TOGETHER, "person": _MIND_THE_JETS[otherwise]}
    gain, gas = gain_at(case.view, case.one, gauge), gas_from_the_start(case.view, case.one)
    how = otherwise if gain is None else "less" if gain > 1.0 else "more"
    if gas is not None:
        how = "more" if _dense_gas(case.view, case.one, gas, gauge) else "less"
    mixture = "richer" if how == "less" else "leaner"
    return {"flow": f"{how} flow than in it, and {mixture}", "person": _MIND_THE_JETS[how]}


_TOGETHER = "what the jets get, leaner or richer, hangs on the other bottles as well"
_MIND_THE_JETS = {
    "less": LEAVE_FUEL_JETS,
    "more": "never launch it there with fuel jets set for the band",
}


def _no_liquid(case: Case) -> Reading | None:
    """A pass that draws gas from its very start."""
    v, row = case.view, gas_from_the_start(case.view, case.one)
    if row is None:
        return None
    level = float(v.array("liquid_fraction")[row])
    there = _two_phase(v, row) and level > PUDDLE
    dense = v.switch is not None and _dense_gas(v, case.one, row, v.switch.opens)
    how = "more" if dense else "less"
    flows = _TOGETHER if len(case.run.scenario.bottles) > 1 else _GAS_FLOWS[how]
    where = (
        "the liquid lies where the pick-up does not reach it"
        if there
        else "the bottle holds only gas or next to no liquid"
    )
    return Reading(
        float(v.mass[row]),
        v.bottle.capacity,
        float(v.time[row]),
        key="reach" if there else "gas",
        beyond=True,
        cause="pick-up" if there else "charge",
        details={"where": where, "flow": flows, "person": _MIND_THE_JETS[how]},
    )


_GAS_FLOWS = {
    "less": "the jets pass far less than they are sized for and the mixture is rich",
    "more": "which is so dense that the jets pass more than in the band and the mixture is leaner "
    "than there",
}


def _two_phase(v: View, row: int) -> bool:
    return int(v.array("phase")[row]) == TWO_PHASE


def _dense_gas(v: View, one: Any, row: int, gauge: float) -> bool:
    """Whether more flows of a bottle full of gas than of the liquid that the same charge has at a
    gauge pressure (Pa)."""
    pressure = gauge + v.ambient_pressure
    if _two_phase(v, row) or not fluid.P_TRIPLE < pressure < fluid.P_CRITICAL:
        return False
    vapour = float(fluid.saturation(fluid.saturation_temperature(pressure)).rho_v)
    gain = gain_at(v, one, gauge) if one.start_mass / v.bottle.volume > vapour else None
    return gain is not None and gain < 1.0


def gas_from_the_start(v: View, one: Any) -> int | None:
    """The row, at most 0.1 s after the first flow, in which mostly gas is drawn; or None."""
    first = first_row(v, one)
    if first is None or v.fitted.mounting.draw == "vapour":
        return None
    stop = int(np.searchsorted(v.time, v.time[first] + AT_ONCE, side="right"))
    gas, drawn = gas_flow(v, slice(first, stop)), fed(v, slice(first, stop))
    mostly = np.flatnonzero(gas > 0.5 * np.maximum(drawn, 1e-12))
    return first + int(mostly[0]) if len(mostly) else None


def _liquid_out(case: Case) -> Reading | None:
    one = case.one
    if one.liquid_out_time is None or gas_from_the_start(case.view, one) is not None:
        return None
    at = one.start_time + one.liquid_out_time
    return Reading(one.end_mass, one.start_mass, at, beyond=True)


def _flow_model(case: Case) -> Reading | None:
    v = case.view
    outside = (v.array("outflow_kg_s") > 0.0) & (v.array("flow_model_valid") < 0.5)
    if not outside.any():
        return None
    return Reading(float(v.gauge[outside].max()), None, v.first(outside), beyond=True)


# --- the pick-up ---------------------------------------------------------------------------------
def stranded(
    fitted: FittedBottle, temperature: float, mass: float, time: float | None = None
) -> Reading:
    """Liquid that the pick-up leaves behind of a charge (kg) at a temperature (K)."""
    behind = stranded_mass(fitted, temperature, mass)
    details = {"share": f"{100 * behind / mass:.0f}", "how": attitude(fitted.mounting)}
    return Reading(behind, MOST_STRANDED * mass, time, details=details)


def _stranded_at_launch(case: Case) -> Reading | None:
    """At the start of the first pass."""
    v, one = case.view, case.one
    if one.index != v.summaries("pass")[0].index:
        return None
    return stranded(v.fitted, one.start_temperature, one.start_mass, one.start_time)


def _stranded_as_fitted(case: Part) -> Reading:
    return stranded(case.fitted, case.fitted.start, case.fitted.fill)


# --- the arming window ---------------------------------------------------------------------------
def _held(case: Case) -> Iterator[Reading]:
    """The arming window held the valve shut, on the side where it did."""
    v = case.view
    limits = getattr(case.item, "window", None)
    if v.index or limits is None:  # only the first bottle's gauge counts
        return
    held = held_rows(v.run, case.one.index)
    # Flow comes back only some way inside a limit: the nearer one is the one that was passed.
    above = v.gauge[v.run.rows_of(case.one.index)] > 0.5 * (limits[0] + limits[1])
    for rows, limit, over in ((held & above, limits[1], True), (held & ~above, limits[0], False)):
        if rows.any():
            yield _held_on(v, case.one.index, rows, float(limit), over)


def _held_on(v: View, k: int, rows: np.ndarray, limit: float, over: bool) -> Reading:
    item = v.run.rows_of(k)
    time, gauge = v.run.time[item], v.gauge[item][rows]
    first = float(time[rows][0])
    steps = np.diff(time) * rows[:-1]
    sagged = not over and float(v.gauge[item][0]) >= limit
    return Reading(
        float(gauge.max() if over else gauge.min()),
        limit,
        first,
        key="above" if over else "below",
        beyond=True,
        cause=driver(v, first) if over else "schedule" if sagged else "cold bottle",
        limit_is="window ends at" if over else "window begins at",
        details={
            "side": "above" if over else "below",
            "lasts": lasting(float(steps.sum())),
            "which": k + 1,
            "do": _LET_IT_COOL if over else _BELOW_THE_SAG if sagged else "",
        },
    )


_LET_IT_COOL = (
    "heater off and let the bottle cool; never raise the window to launch an over-pressure bottle, "
    "never vent it by heating"
)
_BELOW_THE_SAG = "set the lower end of the window below what the pressure sags to in the pass"


def _one_gauge(case: Part) -> Reading:
    scenario = case.scenario
    windows = any(getattr(item, "window", None) is not None for item in scenario.schedule)
    several = len(scenario.bottles) > 1
    return Reading(beyond=windows and several, details={"first": scenario.bottles[0].name})


# --- lines ---------------------------------------------------------------------------------------
def _trapped(case: Case) -> Iterator[Reading]:
    """Liquid shut in between two closed valves."""
    run = case.run
    # Behind a burst disc nothing fills a line, however cold it is there; frozen bottles have none.
    fills = np.isfinite(run["fluid_temperature_K"][:, 0]) & ~run["relief_open"]
    if not fills.any():
        return
    cold = float(run["fluid_temperature_K"][:, 0][fills].min())
    shut_at = min(max(cold, fluid.T_TRIPLE), 305.0)
    warm = max(WARM_LINE, float(run["air_temperature_K"].max()), shut_at + 11.1)
    hot = max(HOT_CAR, warm)
    for name, feed in run.scenario.feeds:
        if feed.closed_volume <= 0.0:
            continue
        air = run.scenario.ambient.pressure
        start = float(fluid.saturation(shut_at).p) - air
        at_warm, at_hot = (_gauge_when_warm(run, T, shut_at) for T in (warm, hot))
        slope = (at_warm - start) / (warm - shut_at)
        yield Reading(
            at_warm,
            start,
            key=name,
            value_is=f"at {_degrees(warm)}",
            limit_is=f"shut in at {_degrees(shut_at)}",
            details={
                "name": name,
                "slope": f"{slope / PSI / 1.8:.0f} psi for every degF ({slope / 1e3:.0f} kPa/K)",
                "hot": _degrees(hot),
                "beyond": "more than " if at_hot + air >= fluid.P_MAX else "",
                "at_hot": both(at_hot, "gauge_pressure"),
            },
        )


def _degrees(temperature: float) -> str:
    return f"{temperature * 1.8 - 459.67:.0f} degF ({temperature - 273.15:.0f} degC)"


def _gauge_when_warm(run: Run, warm: float, shut_at: float) -> float:
    try:
        absolute = float(trapped_liquid_pressure(warm, shut_at))
    except InputError:
        absolute = fluid.P_MAX  # beyond the equation of state
    return absolute - run.scenario.ambient.pressure


_STRANDED: dict[str, Any] = {
    "severity": "warning",
    "words": "the pick-up leaves {share} % of the charge behind as liquid that it does not reach "
    "({how}): gas follows while the scale still shows a charge",
    "quantity": "stranded_mass_kg",
    "value_is": "stays behind",
    "limit_is": "flagged above",
    "cause": "pick-up",
    "bound_from": "rule",
    "source": "computed: plane liquid surface, no sloshing",
    "person": LEAVE_FUEL_JETS,
}

FLOW_LIMITS = (
    Limit(
        "launch-above-band",
        "pass",
        partial(_launch, above=True),
        "warning",
        "the pass is launched above the switch's band by more than the width of it: {flow}",
        quantity="launch_pressure_gauge_Pa",
        value_is="launched at",
        limit_is="a band's width above it",
        bound_from="switch band",
    ),
    Limit(
        "launch-below-band",
        "pass",
        partial(_launch, above=False),
        "warning",
        "the pass is launched below the switch's band by more than the width of it: {flow}",
        quantity="launch_pressure_gauge_Pa",
        sense="below",
        value_is="launched at",
        limit_is="a band's width below it",
        bound_from="switch band",
        person="{person}",
    ),
    Limit(
        "no-liquid-at-launch",
        "pass",
        _no_liquid,
        "warning",
        "no liquid at launch: {where}, {flow}",
        quantity="start_mass_kg",
        sense="below",
        value_is="charge at launch",
        limit_is="full",
        person="{person}",
    ),
    Limit(
        "liquid-out",
        "pass",
        _liquid_out,
        "warning",
        "liquid runs out during a pass: gas follows, flow falls and the mixture goes rich",
        quantity="end_mass_kg",
        sense="below",
        value_is="left at the end",
        limit_is="at the start",
        cause="charge",
        person=LEAVE_FUEL_JETS,
    ),
    Limit(
        "flow-model-extrapolated",
        "bottle",
        _flow_model,
        "note",
        "part of the flow was computed outside the orifice model's own range of validity",
        kind="gauge_pressure",
        value_is="up to",
        cause="model",
        source="the model's own literature",
        person="compare with another model of the feed",
        information=True,
    ),
    Limit("stranded", "pass", _stranded_at_launch, **_STRANDED),
    Limit(
        "flow-inhibited",
        "pass",
        _held,
        "warning",
        "pressure is {side} the arming window: flow is held back for {lasts} of pass {which}; it "
        "comes back 5 psi (35 kPa) inside the limit, or a quarter of the window if that is less",
        quantity="pressure_gauge_Pa",
        value_is="pressure then",
        person="{do}",
    ),
    Limit(
        "window-one-gauge",
        "set-up",
        _one_gauge,
        "note",
        'the arming window reads the gauge of the first bottle, "{first}", alone: what the others '
        "stand at does not hold flow back",
        cause="switch",
        source="how arming is modelled",
        person="check the other gauges before arming",
        information=True,
    ),
    Limit(
        "trapped-liquid",
        "car",
        _trapped,
        "warning",
        'line "{name}" can be shut in full of liquid between two valves; as it warms its pressure '
        "rises far above the bottle's, by some {slope}; in a shut car in the sun, at {hot}, it "
        "reaches {beyond}{at_hot}",
        kind="gauge_pressure",
        cause="line",
        source="computed: rigid line at constant density; 131 degF (55 degC): 49 CFR 173.301a(d)",
        person="always purge the line before closing the second valve, or fit a line relief",
    ),
)
STRANDED_AS_FITTED = Limit("stranded", "fitted", _stranded_as_fitted, **_STRANDED)
"""The same before anything is run: for a check of the file."""
