"""Limits on the switch and on what it makes of the heater's heat."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np

from n2osim import fluid
from n2osim.hardware.cylinder_rules import EXPOSURE_LIMIT, EXPOSURE_SOURCE, FULL_FILLING_DENSITY
from n2osim.physics.charge import pressure_at
from n2osim.results.bottle_readings import driven, needed_temperature, outdoors
from n2osim.results.findings import PRACTICE
from n2osim.results.instants import first_above, highest
from n2osim.results.judge import Case, Limit, Part, Reading
from n2osim.results.rules_heater import cuts
from n2osim.results.view import View

COLDEST = 233.15  # K: -40 degF; no band in use lies below the pressure of liquid there
LEAST_RISE = 3.0  # K of shell over air before a loss coefficient is taken from a hold


def own_switch(v: View) -> Any:
    """The switch of a heater with one of its own (a follower is judged through its leader)."""
    return v.fitted.switch if v.fitted.heater is not None else None


# --- a hold that does not come into its band ---------------------------------------------------
def _unopened(case: Case, kinds: tuple[str, ...] = ("hold",)) -> Any:
    """The switch of a hold that heated and did not open it; None for any other."""
    switch, hold = own_switch(case.view), case.one
    if switch is None or hold.kind not in kinds or hold.duration <= 0.0 or hold.energy <= 0.0:
        return None
    opened = hold.warm_up_time is not None or hold.start_pressure >= switch.opens
    return None if opened else switch


def _never_opens(case: Case) -> Reading | None:
    switch = _unopened(case, ("hold", "rest"))
    if switch is None:
        return None
    needed = needed_temperature(case.view, case.one.start_mass, switch.opens)
    air = case.view.ambient_pressure
    light = switch.opens + air < float(pressure_at(EXPOSURE_LIMIT, FULL_FILLING_DENSITY, 1.0))
    return Reading(
        fluid.T_MAX if needed is None else needed,
        EXPOSURE_LIMIT,
        case.one.start_time,
        value_is="opens only above" if needed is None else "opens only at",
        cause="charge" if light else "switch",
        details={"why": "the bottle is so light" if light else "the band lies so high"},
    )


def _power_below_loss(case: Case) -> Reading | None:
    switch = _unopened(case)
    needed = switch and needed_temperature(case.view, case.one.start_mass, switch.opens)
    if not needed or needed > EXPOSURE_LIMIT:
        return None
    loss = loss_at(case.view, case.one, needed)
    if loss is None:
        return None
    cut = any(case.one.start_time <= e.time <= case.one.end_time for e in cuts(case.view))
    cause = "cut-out" if cut else "heater"
    return Reading(power_when_wanted(case.view, case.one), loss, case.one.end_time, cause=cause)


def power_when_wanted(v: View, hold: Any) -> float:
    """Mean power (W) of a hold's heater while its switch is closed: in the band it is off."""
    rows = v.rows(hold)
    closed = np.diff(v.time[rows])[v.array("switch_closed")[rows][:-1] > 0].sum()
    return float(hold.energy / closed) if closed > 0.0 else float(hold.mean_power)


def _band_not_reached(case: Case) -> Reading | None:
    switch = _unopened(case)
    if switch is None:
        return None
    other = any(limit.is_beyond(r) for limit in _INSTEAD for r in limit.readings(case))
    hold = case.one
    below = not other and hold.end_pressure < switch.opens
    return Reading(hold.end_pressure, switch.opens, hold.end_time, beyond=below)


def loss_at(v: View, hold: Any, temperature: float) -> float | None:
    """Heat loss (W) with the fluid at ``temperature``, from the last row of a hold.

    The shell is taken to keep its lead over the fluid. None while shell and air are too close.
    """
    row = v.rows(hold).stop - 1
    shell = float(v.array("wall_temperature_K")[:, -1, row].mean())
    air = float(v.run["air_temperature_K"][row])
    if shell - air < LEAST_RISE:
        return None
    coefficient = float(v.array("loss_W")[row]) / (shell - air)
    return coefficient * (shell + temperature - float(v.temperature[row]) - air)


# --- above the band, or about it -----------------------------------------------------------------
def _crosses_liquid_full(case: Case) -> Reading | None:
    v = case.view
    switch, boundary = own_switch(v), float(v.array("phase_boundary_K")[0])
    if switch is None or v.density[0] <= fluid.RHO_CRITICAL or boundary <= 0.0:
        return None
    full = float(fluid.saturation(boundary).p) - v.ambient_pressure
    return Reading(full, switch.opens, beyond=switch.closes < full < switch.opens)


def _weather(case: Case) -> Reading | None:
    v = case.view
    switch, air = own_switch(v), v.run["air_temperature_K"][v.there]
    needed = switch and needed_temperature(v, float(v.mass[0]), switch.opens)
    if not needed:
        return None
    out = "bring the bottle" if outdoors(case) else "take the bottle out of the car"
    passed = first_above(v.time, air, needed)
    return Reading(float(air.max()), needed, passed, details={"out": out})


def _overshoot(case: Case) -> Reading | None:
    """Of a hold or rest whose heater is on this bottle's own switch."""
    v, hold = case.view, case.one
    switch = own_switch(v)
    if switch is None or hold.overshoot is None:
        return None
    rows = v.rows(hold)
    top = highest(v.time[rows], v.gauge[rows])
    return Reading(hold.overshoot, switch.opens - switch.closes, top.time)


def _follower(case: Case, above: bool) -> Reading | None:
    """A bottle on another's switch against that switch's band, at the end of a hold."""
    v, hold = case.view, case.one
    switch = v.switch
    if v.fitted.follows is None or switch is None or hold.kind != "hold" or hold.energy <= 0.0:
        return None
    its = v.run.by_item.get((hold.index, v.fitted.follows))  # None: it has left the range
    width = switch.opens - switch.closes
    details = {"leader": v.fitted.follows}
    if above:
        rows = v.rows(hold)
        top = highest(v.time[rows], v.gauge[rows])
        return Reading(top.value, switch.opens + width, top.time, details=details)
    if its is None or its.end_pressure < switch.closes:  # the leader is not in the band either
        return None
    return Reading(hold.end_pressure, switch.closes, hold.end_time, details=details)


def _relay_rating(case: Case) -> Reading | None:
    switch = own_switch(case.view)
    if switch is None:
        return None
    return Reading(case.one.switchings_per_hour, switch.rated_switchings, case.one.start_time)


# --- faults --------------------------------------------------------------------------------------
def _on(v: View) -> np.ndarray:
    return np.asarray(v.array("heater_power_W") > 0.0)


def _without_end(case: Case, field: str, wrong: str) -> Reading | None:
    """A heater that a switch with something wrong in one of its fields does not switch off."""
    v, switch = case.view, own_switch(case.view)
    if switch is None:
        return None
    passed = first_above(v.time, v.gauge, switch.opens)
    beyond = getattr(switch, field) == wrong and bool(_on(v).any())
    return Reading(highest(v.time, v.gauge).value, switch.opens, passed, beyond=beyond)


def _stuck_open(case: Case) -> Reading | None:
    switch = own_switch(case.view)
    if switch is None:
        return None
    peak = highest(case.view.time, case.view.gauge).value
    return Reading(peak, switch.closes, beyond=switch.fault == "stuck open")


def _no_switch(case: Case) -> Reading | None:
    v = case.view
    on = _on(v)
    if v.fitted.heater is None or v.switch is not None or not on.any():
        return None
    return Reading(highest(v.time, v.gauge).value, None, v.first(on), beyond=True)


# --- as it is set up -----------------------------------------------------------------------------
def _part_switch(case: Part) -> Any:
    return case.fitted.switch if case.fitted.heater is not None else None


def _scatter(case: Part) -> Reading | None:
    switch = _part_switch(case)
    return switch and Reading(2.0 * switch.tolerance, switch.opens - switch.closes)


def _far_below(case: Part) -> Reading | None:
    switch = _part_switch(case)
    least = float(fluid.saturation(COLDEST).p) - case.scenario.ambient.pressure
    return switch and Reading(switch.opens, least)


_INSTEAD = (
    Limit(
        "switch-never-opens",
        "hold",
        _never_opens,
        "danger",
        "{why} that the switch would open only far above the exposure limit: the heater stays on",
        quantity="opening_temperature_K",
        limit_is="exposure limit",
        bound_from="rule",
        source=f"computed; {EXPOSURE_SOURCE}",
        margin=3.0,
        person="never leave the heater on unattended; a surface cut-out ends it in any case",
    ),
    Limit(
        "power-below-loss",
        "hold",
        _power_below_loss,
        "warning",
        "the heater gives less than the bottle would lose at the opening point: it will never get "
        "there in this weather",
        quantity="mean_power_W",
        sense="below",
        value_is="mean power",
        limit_is="loss at the opening point",
        cause="heater",
        bound_from="scenario",
        source="computed: loss coefficient of this hold's last row, carried to the opening point",
    ),
)

CONTROL_LIMITS = (
    *_INSTEAD,
    Limit(
        "band-not-reached",
        "hold",
        _band_not_reached,
        "warning",
        "the hold ends before the switch has opened",
        quantity="end_pressure_gauge_Pa",
        sense="below",
        value_is="reached",
        limit_is="opening point",
        cause="schedule",
        bound_from="switch band",
    ),
    Limit(
        "band-crosses-liquid-full",
        "bottle",
        _crosses_liquid_full,
        "note",
        "the bottle becomes full of liquid inside the switching band: above it a little heat moves "
        "the pressure a lot, so expect overshoot",
        quantity="liquid_full_pressure_gauge_Pa",
        sense="below",
        value_is="liquid-full at",
        limit_is="opening point",
        cause="charge",
        source="computed from the equation of state (Lemmon & Span 2006)",
    ),
    Limit(
        "weather-above-band",
        "bottle",
        _weather,
        "warning",
        "the air around the bottle is warmer than the opening point needs: pressure goes above the "
        "band with the heater off",
        quantity="air_temperature_K",
        value_is="air",
        limit_is="opening point at",
        cause="air",
        bound_from="switch band",
        person="{out} into a cooler place; a heater cannot help",
    ),
    Limit(
        "overshoot",
        "hold",
        _overshoot,
        "note",
        "after the switch opens the pressure runs on by more than the width of the band",
        quantity="overshoot_Pa",
        value_is="overshoot",
        limit_is="width of band",
        cause=driven,
        bound_from="switch band",
    ),
    Limit(
        "follower-above-band",
        "hold",
        partial(_follower, above=True),
        "warning",
        'this bottle hangs on the switch of "{leader}" and goes above its band by more than the '
        "width of it: nothing senses its own pressure",
        quantity="peak_pressure_gauge_Pa",
        value_is="peak",
        limit_is="a band's width above it",
        cause="switch",
        bound_from="switch band",
        person="a switch of its own",
    ),
    Limit(
        "follower-below-band",
        "hold",
        partial(_follower, above=False),
        "warning",
        'this bottle hangs on the switch of "{leader}" and ends the hold below its band: the '
        "switch opens for the other one",
        quantity="end_pressure_gauge_Pa",
        sense="below",
        value_is="reached",
        limit_is="band begins at",
        cause="switch",
        bound_from="switch band",
        person="a switch of its own",
    ),
    Limit(
        "relay-rating",
        "hold",
        _relay_rating,
        "warning",
        "the relay switches more often than it is rated for",
        quantity="switchings_per_hour",
        value_is="per hour",
        limit_is="rated",
        cause="switch",
        bound_from="scenario",
        source="the rating given with the switch",
        person="a solid-state relay does not wear",
    ),
    Limit(
        "relay-welded",
        "bottle",
        partial(_without_end, field="fault", wrong="welded"),
        "danger",
        "the relay is welded shut: nothing switches the heater off",
        quantity="peak_pressure_gauge_Pa",
        value_is="peak",
        limit_is="opening point",
        cause="relay",
        source="given in the scenario",
        person="a second, independent switch in series, and a surface cut-out",
    ),
    Limit(
        "sensor-in-line",
        "bottle",
        partial(_without_end, field="sensor", wrong="line"),
        "danger",
        "the switch sits behind the bottle valve: with the valve shut it reads zero and never "
        "opens, so the heater stays on",
        quantity="peak_pressure_gauge_Pa",
        value_is="peak in the bottle",
        limit_is="opening point",
        cause="sensor",
    ),
    Limit(
        "switch-stuck-open",
        "bottle",
        _stuck_open,
        "warning",
        "the switch never closes: the bottle is not heated",
        quantity="peak_pressure_gauge_Pa",
        value_is="peak",
        limit_is="closing point",
        cause="switch",
        source="given in the scenario",
        person="test the switch with a regulated air supply",
    ),
    Limit(
        "no-pressure-switch",
        "bottle",
        _no_switch,
        "danger",
        "no pressure switch controls this heater: only the schedule ends the heating",
        quantity="peak_pressure_gauge_Pa",
        value_is="peak",
        cause="switch",
        person="fit a pressure switch",
        source=PRACTICE,
    ),
    Limit(
        "scatter-wider-than-band",
        "fitted",
        _scatter,
        "warning",
        "the switch's set points scatter by more than its band is wide: where it really opens and "
        "closes is not known, and it may chatter",
        kind="pressure_difference",
        value_is="scatter",
        limit_is="band",
        cause="switch",
        bound_from="switch band",
    ),
    Limit(
        "band-far-below",
        "fitted",
        _far_below,
        "warning",
        "the switch opens below any pressure of a bottle with liquid in it: the heater never comes "
        "on; a number without a unit is Pa, not psi",
        kind="gauge_pressure",
        sense="below",
        value_is="opens",
        limit_is="at -40 degF (-40 degC)",
        cause="switch",
        bound_from="fluid",
        source="saturation at -40 degF (Lemmon & Span 2006)",
        person='write the unit: "1000 psig"',
    ),
)
