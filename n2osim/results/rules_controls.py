"""Rules on heater, switch and supply."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from n2osim import fluid
from n2osim.errors import InputError, NoSolutionError
from n2osim.hardware.switch import PressureSwitch
from n2osim.physics.charge import temperature_for_pressure
from n2osim.results.findings import Finding
from n2osim.results.rules_bottle import EXPOSURE_LIMIT
from n2osim.results.view import View

COLDEST = 233.15  # K: -40 degF; no band in use lies below the pressure of liquid there
LEAST_RISE = 3.0  # K of shell over air before a loss coefficient is taken from a hold


def _heated(v: View) -> bool:
    """A heater with a switch of its own to judge (a follower is judged through its leader)."""
    return v.fitted.heater is not None and v.fitted.switch is not None


def _needed(v: View, mass: float, gauge: float) -> float | None:
    """Temperature (K) for a gauge pressure at a charge, None beyond the equation of state."""
    try:
        return float(temperature_for_pressure(gauge + v.ambient_pressure, mass, v.bottle.volume))
    except (InputError, NoSolutionError):
        return None


def never_opens(v: View) -> Iterator[Finding]:
    """Holds whose switch did not open: nearly empty, too little power, or not yet."""
    if not _heated(v):
        return
    switch = v.fitted.switch
    assert switch is not None
    for hold in v.summaries("hold"):
        if hold.warm_up_time is not None or hold.start_pressure >= switch.opens:
            continue
        if hold.duration <= 0.0 or hold.energy <= 0.0:
            continue
        needed = _needed(v, hold.start_mass, switch.opens)
        if needed is None or needed > EXPOSURE_LIMIT:
            yield _nearly_empty(v, hold, needed)
            continue
        loss = loss_at(v, hold, needed)
        if loss is not None and hold.mean_power <= loss:
            yield _too_weak(v, hold, loss)
        else:
            yield _not_yet(v, hold, switch)


def _nearly_empty(v: View, hold: Any, needed: float | None) -> Finding:
    return Finding(
        "danger",
        "switch-never-opens",
        "the bottle is so light that the switch would open only far above the exposure limit: the "
        "heater stays on",
        fluid.T_MAX if needed is None else needed,
        EXPOSURE_LIMIT,
        "temperature",
        "opens only above" if needed is None else "opens only at",
        "exposure limit",
        hold.start_time,
        v.name,
        "refill before heating; fit a surface cut-out; never leave the heater on unattended",
        "computed; CGA G-8.1 as quoted by cylinder-industry guidance: 125 degF (52 degC)",
    )


def _too_weak(v: View, hold: Any, loss: float) -> Finding:
    return Finding(
        "warning",
        "power-below-loss",
        "the heater gives less than the bottle would lose at the opening point: it will never get "
        "there in this weather",
        hold.mean_power,
        loss,
        "power",
        "mean power",
        "loss at the opening point",
        hold.end_time,
        v.name,
        "more power, a jacket, or shelter from the wind",
        "computed: loss coefficient of this hold's last row, carried to the opening point",
    )


def _not_yet(v: View, hold: Any, switch: PressureSwitch) -> Finding:
    return Finding(
        "warning",
        "band-not-reached",
        "the hold ends before the switch has opened",
        hold.end_pressure,
        switch.opens,
        "gauge_pressure",
        "reached",
        "opening point",
        hold.end_time,
        v.name,
        "start earlier, or more power",
        "computed",
    )


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


def band_crosses_liquid_full(v: View) -> Iterator[Finding]:
    """The liquid-full pressure lies inside the band: control changes character there."""
    if not _heated(v):
        return
    switch = v.fitted.switch
    assert switch is not None
    density = float(v.density[0])
    boundary = float(v.array("phase_boundary_K")[0])
    if density <= fluid.RHO_CRITICAL or boundary <= 0.0:
        return
    full = float(fluid.saturation(boundary).p) - v.ambient_pressure
    if not switch.closes < full < switch.opens:
        return
    yield Finding(
        "note",
        "band-crosses-liquid-full",
        "the bottle becomes full of liquid inside the switching band: above it a little heat moves "
        "the pressure a lot, so expect overshoot",
        full,
        switch.opens,
        "gauge_pressure",
        "liquid-full at",
        "opening point",
        None,
        v.name,
        "open the switch below the liquid-full pressure, or carry a smaller charge",
        "computed from the equation of state (Lemmon & Span 2006)",
    )


def weather_above_band(v: View) -> Iterator[Finding]:
    """Air alone that takes the bottle above the opening point."""
    if not _heated(v):
        return
    switch = v.fitted.switch
    assert switch is not None
    air = v.run["air_temperature_K"]
    needed = _needed(v, float(v.mass[0]), switch.opens)
    if needed is None or air.max() <= needed:
        return
    yield Finding(
        "warning",
        "weather-above-band",
        "the air around the bottle is warmer than the opening point needs: pressure goes above the "
        "band with the heater off",
        air.max(),
        needed,
        "temperature",
        "air",
        "opening point at",
        v.first(air > needed),
        v.name,
        "shade and air the bottle, or cool it; a heater cannot help",
        "computed",
    )


def overshoot(v: View) -> Iterator[Finding]:
    """Peak above the opening point by more than the width of the band."""
    if not _heated(v):
        return
    switch = v.fitted.switch
    assert switch is not None
    for hold in v.summaries("hold"):
        if hold.overshoot is None or hold.overshoot <= switch.opens - switch.closes:
            continue
        yield Finding(
            "note",
            "overshoot",
            "after the switch opens the pressure runs on by more than the width of the band, on "
            "heat stored in shell and heater",
            hold.overshoot,
            switch.opens - switch.closes,
            "pressure_difference",
            "overshoot",
            "width of band",
            hold.start_time + (hold.warm_up_time or 0.0),
            v.name,
            "lower the opening point by the overshoot, or use less power",
            "computed",
        )


def cut_out_cycling(v: View) -> Iterator[Finding]:
    """The heater's surface thermostat does the work of the pressure switch."""
    opened = v.events("cut-out opens")
    cut_out = v.fitted.heater.cut_out if v.fitted.heater is not None else None
    if not opened or cut_out is None:
        return
    yield Finding(
        "warning" if len(opened) > 1 else "note",
        "cut-out-cycling",
        f"the surface cut-out interrupts the heater ({len(opened)} times): the full power does not "
        "get into the shell",
        v.array("heater_temperature_K").max(),
        cut_out.opens,
        "temperature",
        "heater",
        "cut-out opens at",
        opened[0].time,
        v.name,
        "better contact, more covered area or less power",
        "computed",
    )


def relay_rating(v: View) -> Iterator[Finding]:
    """Switching more often than the relay is rated for."""
    if not _heated(v):
        return
    rated = v.fitted.switch.rated_switchings if v.fitted.switch is not None else None
    for hold in v.summaries("hold"):
        rate = hold.switchings_per_hour
        if rated is None or rate is None or rate <= rated:
            continue
        yield Finding(
            "warning",
            "relay-rating",
            "the relay switches more often than it is rated for",
            rate,
            rated,
            "number",
            "per hour",
            "rated",
            hold.start_time,
            v.name,
            "widen the band, damp the sensor, use less power or a solid-state relay",
            "the rating given with the switch",
        )


def faults(v: View) -> Iterator[Finding]:
    """A failed relay or a sensor that cannot see the bottle."""
    switch = v.fitted.switch
    if not _heated(v) or switch is None:
        return
    on = v.array("heater_power_W") > 0.0
    if switch.fault == "welded" and on.any():
        yield Finding(
            "danger",
            "relay-welded",
            "the relay is welded shut: nothing switches the heater off",
            v.gauge.max(),
            switch.opens,
            "gauge_pressure",
            "peak",
            "opening point",
            v.first(v.gauge > switch.opens),
            v.name,
            "a second, independent switch in series, and a surface cut-out",
            "given in the scenario",
        )
    if switch.fault == "stuck open":
        yield Finding(
            "warning",
            "switch-stuck-open",
            "the switch never closes: the bottle is not heated",
            v.gauge.max(),
            switch.closes,
            "gauge_pressure",
            "peak",
            "closing point",
            None,
            v.name,
            "test the switch with a regulated air supply",
            "given in the scenario",
        )
    if switch.sensor == "line" and on.any():
        yield Finding(
            "danger",
            "sensor-in-line",
            "the switch sits behind the bottle valve: with the valve shut it reads zero and never "
            "opens, so the heater stays on",
            v.gauge.max(),
            switch.opens,
            "gauge_pressure",
            "peak in the bottle",
            "opening point",
            v.first(v.gauge > switch.opens),
            v.name,
            "move the sensor to the bottle side of the valve",
            "computed",
        )


def no_switch(v: View) -> Iterator[Finding]:
    """A heater with nothing that switches it off by pressure."""
    heater = v.fitted.heater
    if heater is None or v.switch is not None:
        return
    on = v.array("heater_power_W") > 0.0
    if on.any():
        yield Finding(
            "danger",
            "no-pressure-switch",
            "no pressure switch controls this heater: only the schedule ends the heating",
            v.gauge.max(),
            None,
            "gauge_pressure",
            "peak",
            "",
            v.first(on),
            v.name,
            "fit a pressure switch",
            "common practice, no source",
        )


def inside_extrapolated(v: View) -> Iterator[Finding]:
    """Share of the time with an inside coefficient that no data stand behind."""
    flag = v.array("inside_extrapolated") > 0
    total = float(v.time[-1] - v.time[0])
    if not flag.any() or total <= 0.0:
        return
    share = float((np.diff(v.time) * flag[:-1]).sum()) / total
    yield Finding(
        "note",
        "inside-coefficient",
        "near the critical point the boiling correlations have no data behind them: the inside "
        "coefficient is capped and blended there, and overshoot depends on it",
        share,
        None,
        "fraction",
        "share of the time",
        "",
        v.first(flag),
        v.name,
        "run it again with Model.inside_factor 0.5 and 2 to see how much it matters",
        "Cooper 1984 is given to a reduced pressure of about 0.9",
    )


def scatter_wider_than_band(v: View) -> Iterator[Finding]:
    """A set-point scatter that the band does not cover: opening may come below closing."""
    if not _heated(v):
        return
    switch = v.fitted.switch
    assert switch is not None
    band = switch.opens - switch.closes
    if 2.0 * switch.tolerance > band:
        yield Finding(
            "warning",
            "scatter-wider-than-band",
            "the switch's set points scatter by more than its band is wide: where it really opens "
            "and closes is not known, and it may chatter",
            2.0 * switch.tolerance,
            band,
            "pressure_difference",
            "scatter",
            "band",
            None,
            v.name,
            "widen the band, or fit a switch with less tolerance",
            "computed",
        )


def band_far_below(v: View) -> Iterator[Finding]:
    """A band that no bottle with liquid can reach: a unit forgotten, most likely."""
    if not _heated(v):
        return
    switch = v.fitted.switch
    assert switch is not None
    least = float(fluid.saturation(COLDEST).p) - v.ambient_pressure
    if switch.opens < least:
        yield Finding(
            "warning",
            "band-far-below",
            "the switch opens below any pressure of a bottle with liquid in it: the heater never "
            "comes on; a number without a unit is Pa, not psi",
            switch.opens,
            least,
            "gauge_pressure",
            "opens",
            "at -40 degF (-40 degC)",
            None,
            v.name,
            'write the unit: "1000 psig"',
            "saturation at -40 degF (Lemmon & Span 2006)",
        )


CONTROL_RULES = (
    scatter_wider_than_band,
    band_far_below,
    never_opens,
    band_crosses_liquid_full,
    weather_above_band,
    overshoot,
    cut_out_cycling,
    relay_rating,
    faults,
    no_switch,
    inside_extrapolated,
)
