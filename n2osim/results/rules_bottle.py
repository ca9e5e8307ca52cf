"""Limits on charge, pressure and temperature of a bottle."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from n2osim import fluid
from n2osim.errors import InputError
from n2osim.hardware.cylinder_rules import (
    EXPOSURE_LIMIT,
    EXPOSURE_SOURCE,
    FULL_FILLING_DENSITY,
    HOT_CAR,
)
from n2osim.numbers import both, lasting
from n2osim.physics.charge import pressure_at
from n2osim.physics.enclosure import CAR_VOLUME, OXYGEN_LEAST, closed_space, volume_made_deficient
from n2osim.results.bottle_readings import (
    against,
    disc_opens,
    driven,
    needed_temperature,
    outdoors,
    peak,
)
from n2osim.results.findings import PRACTICE
from n2osim.results.instants import first_above, highest
from n2osim.results.judge import Case, Limit, Part, Reading
from n2osim.results.view import View
from n2osim.units import PSI

NEAR_LIQUID_FULL = 5.0  # K
ROUNDING = 1.0005
"""A charge given in pounds stands this near above the bound and counts as at it."""
NEARLY_EMPTY = 0.02  # of the rated capacity
POLYMER_CONDUCTS = 1.0
"""W/m/K: a liner that conducts less is no metal (polymers 0.2 to 0.5, laminates below 1, any metal
above 5)."""
CUBIC_FOOT = 0.3048**3  # m3
CLEAR = 50.0 * PSI
"""Pa; kept clear of pressure limits unless told otherwise (no source)."""


# --- charge --------------------------------------------------------------------------------------
def _filling(case: Case) -> Reading:
    v = case.view
    densest = float(v.density.max())
    over = densest > FULL_FILLING_DENSITY * ROUNDING
    passed = first_above(v.time, v.density, FULL_FILLING_DENSITY * ROUNDING)
    later = over and v.density[0] <= FULL_FILLING_DENSITY * ROUNDING
    refilled = later and bool(v.filling[int(v.density.argmax())])
    full = bool((v.full_margin < 0.0).any())
    what = "a refill" if refilled else "another bottle on the manifold"
    excess = both((densest - FULL_FILLING_DENSITY) * v.bottle.volume, "mass")
    return Reading(
        densest,
        FULL_FILLING_DENSITY,
        passed,
        beyond=over,
        severity="danger" if later and full else None,
        cause="refill" if refilled else "manifold" if later else "charge",
        details={
            "excess": excess,
            "full": f"; {what} put it in, and liquid fills the whole bottle"
            if later and full
            else "",
        },
    )


def _filled_as_fitted(case: Part) -> Reading:
    fitted = case.fitted
    density = fitted.fill / fitted.bottle.volume
    excess = both((density - FULL_FILLING_DENSITY) * fitted.bottle.volume, "mass")
    over = density > FULL_FILLING_DENSITY * ROUNDING
    return Reading(
        density, FULL_FILLING_DENSITY, beyond=over, details={"excess": excess, "full": ""}
    )


def _liquid_full(case: Case) -> Reading | None:
    v = case.view
    margin = v.full_margin
    if not np.isfinite(margin).any():
        return None
    worst = int(np.argmin(margin))
    reached = bool(margin[worst] <= 0.0)
    boundary = v.array("phase_boundary_K")
    finite = np.where(np.isfinite(margin), margin, 1e3)
    passed = first_above(v.time, -finite, 0.0) if reached else None
    return Reading(
        float(v.temperature[worst]),
        float(boundary[worst]),
        passed if passed is not None else float(v.time[worst]),
        beyond=reached or bool(margin[worst] <= NEAR_LIQUID_FULL),
        severity="warning" if reached else "note",
        details={
            "what": "liquid fills the whole bottle: from there pressure climbs steeply with every "
            "degree"
            if reached
            else "the bottle comes close to liquid-full, where pressure climbs steeply"
        },
    )


def _empty(case: Case) -> Reading | None:
    v = case.view
    bound = NEARLY_EMPTY * v.bottle.capacity
    if v.array("relief_open").any():
        return None
    return Reading(float(v.mass.min()), bound, first_above(v.time, -v.mass, -bound))


# --- pressure ------------------------------------------------------------------------------------
def _hot_gauge(v: View) -> float | None:
    """Gauge pressure (Pa) of the largest charge at 131 degF; None beyond the equation of state."""
    try:
        return float(pressure_at(HOT_CAR, v.mass.max(), v.bottle.volume)) - v.ambient_pressure
    except InputError:
        return None


def _at_131(case: Case) -> Reading | None:
    service = case.view.bottle.service_pressure
    return None if service is None else Reading(_hot_gauge(case.view), 1.25 * service)


def _relief_at_131(case: Case) -> Reading | None:
    bound = disc_opens(case.view)
    if bound is None:
        return None
    hot = _hot_gauge(case.view)
    out = "" if outdoors(case) else ": take the bottle out of the car"
    return Reading(fluid.P_MAX if hot is None else hot, bound, details={"out": out})


def _service(case: Case) -> Reading | None:
    service = case.view.bottle.service_pressure
    found = peak(case, service)
    if found is None or found.value is None or service is None:
        return found
    return replace(found, severity="danger") if found.value > 1.25 * service else found


def _relief_margin(case: Case) -> Reading | None:
    v = case.view
    return None if v.array("relief_open").any() else peak(case, disc_opens(v))


def _test(case: Case) -> Reading | None:
    return peak(case, case.view.bottle.test_pressure)


def _relief_opened(case: Case) -> Reading | None:
    """Gas into the car, bottle lost."""
    v = case.view
    is_open = v.array("relief_open")
    if not is_open.any():
        return None
    opened = v.events("relief opens")
    first = int(is_open.argmax())
    at = opened[0].time if opened else float(v.time[first])
    lost = vented(v, first)
    air = min(max(float(v.run["air_temperature_K"][-1]), 200.0), 400.0), v.ambient_pressure
    car = closed_space(lost, CAR_VOLUME, *air)
    return Reading(
        highest(v.time, v.gauge).value,
        v.bottle.relief_pressure,
        at,
        beyond=True,
        details={
            "lost": both(lost, "mass"),
            "gas": space(car.gas_volume),
            "lasts": lasting(vented_mostly(v, first) - at),
            "room": space(volume_made_deficient(lost, OXYGEN_LEAST, *air)),
            "car": space(CAR_VOLUME),
            "oxygen": f"{100 * car.oxygen:.1f}",
            "nitrous": f"{100 * car.nitrous:.2g}",
            "times": few(car.times_exposure_limit),
        },
    )


def vented(v: View, first: int) -> float:
    """What the relief device lets out (kg) from row ``first`` on, what is filled in meanwhile too:
    the mass left tells only where there is none of that."""
    relief = v.array("relief_flow_kg_s")[first:]
    other = v.array("outflow_kg_s")[first:] - relief
    filled = np.diff(v.array("mass_out_kg")[first:]) < 0.0
    if not filled.any() and not np.abs(other).any():
        return max(0.0, float(v.mass[first] - v.mass[-1]))
    return float(np.trapezoid(relief, v.time[first:]))


def vented_mostly(v: View, first: int) -> float:
    """Time (s) by which nine tenths of that are out; what is left boils off for hours."""
    flow, time = v.array("relief_flow_kg_s")[first:], v.time[first:]
    out = np.append(0.0, np.cumsum(0.5 * (flow[1:] + flow[:-1]) * np.diff(time)))
    return float(time[int(np.searchsorted(out, 0.9 * out[-1]))])


def space(volume: float) -> str:
    """Room or gas in cubic feet and m3."""
    return f"{few(volume / CUBIC_FOOT)} cu ft ({few(volume)} m3)"


def few(number: float) -> str:
    """Two figures, written out: "800", never "8e+02"."""
    return f"{float(f'{number:.2g}'):.12g}"


# --- temperature ---------------------------------------------------------------------------------
def _bulk(case: Case) -> Reading:
    return against(case.view, case.view.bulk_temperature, EXPOSURE_LIMIT)


def _hot_spot(case: Case) -> Reading:
    v = case.view
    hottest = v.array("wall_temperature_K").max(axis=(0, 1))
    alone = v.bulk_temperature.max() <= EXPOSURE_LIMIT < hottest.max()
    return against(v, hottest, EXPOSURE_LIMIT, beyond=bool(alone))


def _layers(case: Case) -> Iterator[Reading]:
    v, last = case.view, len(case.view.bottle.layers) - 1
    for k, layer in enumerate(v.bottle.layers):
        limit = layer.material.max_temperature
        if v.bottle.wall_temperature_limit is not None:
            limit = v.bottle.wall_temperature_limit
        if limit is None:
            continue
        metal = layer.material.name == "6061-T6"
        what = (
            "aluminium goes above the temperature at which a cylinder is condemned"
            if metal
            else f"{layer.material.name} (layer {k + 1} from inside) goes above its limit"
        )
        yield against(
            v,
            v.layer_temperature(k),
            limit,
            key=str(k),
            value_is="hottest, at its surface" if k == last else f"hottest of layer {k + 1}",
            source=layer.material.provenance("max_temperature")[1],
            details={"what": what},
        )


def _no_liquid_in_band(case: Case) -> Reading | None:
    v = case.view
    if v.switch is None or v.fitted.heater is None or v.density[0] >= fluid.RHO_CRITICAL:
        return None
    needed = needed_temperature(v, float(v.mass[0]), v.switch.opens)
    return Reading(needed, float(v.array("phase_boundary_K")[0]))


# --- the cylinder as it is -----------------------------------------------------------------------
def _relief_not_stated(case: Part) -> Reading:
    return Reading(beyond=case.fitted.bottle.relief_pressure is None)


def _service_not_stated(case: Part) -> Reading:
    return Reading(beyond=case.fitted.bottle.service_pressure is None)


def _relief_above_test(case: Part) -> Reading | None:
    bottle = case.fitted.bottle
    if bottle.relief_pressure is None or bottle.test_pressure is None:
        return None
    over = bottle.relief_pressure > bottle.test_pressure * ROUNDING
    return Reading(bottle.relief_pressure, bottle.test_pressure, beyond=over)


def _band_above_relief(case: Part) -> Reading | None:
    fitted, bound = case.fitted, disc_opens(case.fitted)
    if bound is None or fitted.heater is None or fitted.switch is None:
        return None
    return Reading(fitted.switch.opens, bound)


def _polymer(case: Part) -> Reading:
    bottle = case.fitted.bottle
    liner = bottle.layers[0].material
    note = bottle.oxidising_note or (
        f"the liner is {liner.name}, not a metal, and ISO 11119-3 (polymer-lined) excludes "
        "oxidising gases"
    )
    lined = liner.k_radial < POLYMER_CONDUCTS or bool(bottle.oxidising_note)
    return Reading(beyond=lined, details={"note": note})


# Why it leaves the equation of state -> (what drives that, what a person does about it).
_LEFT = {
    "hot": ("heater", "switch its heater off, or keep enough charge in it"),
    "full": ("charge", "put less into it"),
    "cold": ("cold bottle", "draw less from it at once, or keep it warmer"),
    "empty": ("schedule", "do not draw it that far down"),
}


def _left(case: Case) -> Reading | None:
    event = case.run.frozen.get(case.view.name)
    if event is None:
        return None
    why = event.name.rpartition(" ")[2]
    cause, remedy = _LEFT[why]
    return Reading(
        event.pressure_gauge,
        time=event.time,
        beyond=True,
        cause=cause,
        details={"why": why, "remedy": remedy},
    )


_EOS = "computed from the equation of state (Lemmon & Span 2006)"
_DISC = "disc rating +0/-10 % (CGA S-1.1, recalled)"

_OVERFILLED: dict[str, Any] = {
    "severity": "warning",
    "words": "the charge is above the filling density allowed for nitrous oxide: 0.68 kg per litre "
    "of water capacity{full}",
    "kind": "density",
    "value_is": "filling density",
    "limit_is": "allowed",
    "bound_from": "rule",
    "source": "49 CFR 173.304a, Table 1 of (a)(2): 68 %",
    "person": "have {excess} taken out by a licensed filler, and weigh",
}

BOTTLE_LIMITS = (
    Limit(
        "left-the-range",
        "bottle",
        _left,
        "danger",
        "the bottle became too {why} for what is known of nitrous oxide (182.33 to 525 K, up to "
        "50 MPa): nothing is said about it from there on, and the others go on as if its valve "
        "were shut and its heater off",
        kind="gauge_pressure",
        value_is="pressure just before",
        bound_from="fluid",
        source="range of the equation of state (Lemmon & Span 2006)",
        person="{remedy}",
    ),
    Limit("overfilled", "bottle", _filling, **_OVERFILLED),
    Limit(
        "liquid-full",
        "bottle",
        _liquid_full,
        "warning",
        "{what}",
        quantity="peak_temperature_K",
        value_is="hottest",
        limit_is="liquid-full at",
        cause=driven,
        bound_from="fluid",
        source=_EOS,
        margin=NEAR_LIQUID_FULL,
    ),
    Limit(
        "nearly-empty",
        "bottle",
        _empty,
        "note",
        "next to nothing is left in the bottle",
        quantity="mass_kg",
        sense="below",
        value_is="left",
        limit_is="2 % of capacity",
        bound_from="shell",
        person="never heat an empty bottle",
    ),
    Limit(
        "pressure-at-131-degF",
        "bottle",
        _at_131,
        "note",
        "at 131 degF (55 degC) this charge would stand above 5/4 of the marked service "
        "pressure; for information only, the rule exempts liquefied nitrous oxide",
        quantity="pressure_at_131_degF_gauge_Pa",
        value_is="at 131 degF (55 degC)",
        limit_is="5/4 of service",
        bound_from="shell",
        source="49 CFR 173.301a(d)(1)",
        information=True,
    ),
    Limit(
        "relief-in-hot-car",
        "bottle",
        _relief_at_131,
        "warning",
        "this charge would open its relief device in a closed car or trailer at 131 degF (55 degC)",
        quantity="pressure_at_131_degF_gauge_Pa",
        value_is="at 131 degF (55 degC)",
        limit_is="disc may open from",
        bound_from="relief device",
        source=f"computed; {_DISC}",
        person="never leave it in a closed car in the sun{out}",
    ),
    Limit(
        "over-service-pressure",
        "bottle",
        _service,
        "warning",
        "pressure goes above the cylinder's marked service pressure",
        quantity="peak_pressure_gauge_Pa",
        value_is="peak",
        limit_is="service pressure",
        cause=driven,
        bound_from="shell",
        source="the marking; danger from 5/4 of it (the yardstick of 49 CFR 173.301a(d)(1), which "
        "exempts nitrous oxide at 131 degF)",
        margin=CLEAR,
    ),
    Limit(
        "relief-margin",
        "bottle",
        _relief_margin,
        "danger",
        "the predicted pressure comes within the tolerance of the relief device",
        quantity="peak_pressure_gauge_Pa",
        value_is="peak",
        limit_is="disc may open from",
        cause=driven,
        bound_from="relief device",
        source=_DISC,
        margin=CLEAR,
    ),
    Limit(
        "over-test-pressure",
        "bottle",
        _test,
        "danger",
        "pressure exceeds the cylinder's test pressure",
        quantity="peak_pressure_gauge_Pa",
        value_is="peak",
        limit_is="test pressure",
        cause=driven,
        bound_from="shell",
        source="49 CFR 178.46, 178.37: wall stress is limited at test pressure",
        margin=CLEAR,
        person="do not do this: the shell has never been proven there",
    ),
    Limit(
        "relief-opened",
        "bottle",
        _relief_opened,
        "danger",
        "the relief device opens and lets out {lost}, {gas} of gas, nine tenths of it in {lasts}, "
        "enough to bring {room} of air below 19.5 % oxygen; well mixed in a closed car of {car} it "
        "leaves {oxygen} % oxygen and {nitrous} % N2O ({times} times the recommended limit of 25 "
        "ppm)",
        quantity="peak_pressure_gauge_Pa",
        value_is="peak",
        limit_is="relief",
        cause=driven,
        source="computed; 29 CFR 1910.134 and 1910.146: below 19.5 % is oxygen-deficient; NIOSH "
        "77-140: 25 ppm; car volume typical",
        person="open every door and stay out of the car; the vent must lead outside; the bottle "
        "needs a new disc and an inspection",
    ),
    Limit(
        "over-125-degF",
        "bottle",
        _bulk,
        "warning",
        "the cylinder as a whole goes above the exposure limit for nitrous-oxide cylinders",
        quantity="peak_temperature_K",
        value_is="hottest",
        limit_is="exposure limit",
        cause=driven,
        bound_from="rule",
        source=EXPOSURE_SOURCE,
        margin=3.0,
    ),
    Limit(
        "hot-spot-over-125-degF",
        "bottle",
        _hot_spot,
        "note",
        "the shell under the heater goes above 125 degF (52 degC), the cylinder as a whole does "
        "not",
        quantity="hottest_wall_K",
        value_is="hottest spot",
        limit_is="exposure limit",
        cause=driven,
        bound_from="rule",
        source=EXPOSURE_SOURCE,
    ),
    Limit(
        "layer-too-hot",
        "bottle",
        _layers,
        "danger",
        "{what}",
        quantity="hottest_wall_K",
        value_is="hottest",
        limit_is="limit of the layer",
        cause=driven,
        bound_from="shell",
        margin=5.0,
        person="if it has happened, take the cylinder out of service and have it examined",
        source=PRACTICE,
    ),
    Limit(
        "no-liquid-in-band",
        "bottle",
        _no_liquid_in_band,
        "note",
        "at the opening point this light charge has no liquid left: the tube draws dense gas, "
        "and the start of a pass differs from that of a fuller bottle",
        quantity="opening_temperature_K",
        value_is="opening point at",
        limit_is="liquid gone from",
        bound_from="switch band",
        source=_EOS,
    ),
    Limit(
        "relief-not-stated",
        "fitted",
        _relief_not_stated,
        "note",
        "no relief rating is given, so none is checked",
        cause="shell",
        source="49 CFR 173.301(f)",
        person="read the rating on the relief device and give relief_pressure",
    ),
    Limit(
        "service-not-stated",
        "fitted",
        _service_not_stated,
        "note",
        "no service pressure is given, so none is checked",
        cause="shell",
        source="49 CFR 178.35(f): every cylinder is marked with it (recalled)",
        person="read the marking on the cylinder's shoulder and give service_pressure",
    ),
    Limit(
        "relief-above-test",
        "fitted",
        _relief_above_test,
        "danger",
        "the relief device is rated above the test pressure",
        kind="gauge_pressure",
        value_is="relief",
        limit_is="test pressure",
        cause="shell",
        bound_from="relief device",
        source="49 CFR 173.301(f), CGA S-1.1: rating not above test pressure (recalled)",
        person="fit the device that belongs to this cylinder",
    ),
    Limit(
        "band-above-relief",
        "fitted",
        _band_above_relief,
        "danger",
        "the switch opens only where the relief device may have opened: it cannot end the heat in "
        "time",
        kind="gauge_pressure",
        value_is="switch opens",
        limit_is="disc may open from",
        cause="switch",
        bound_from="relief device",
        source=_DISC,
        margin=CLEAR,
    ),
    Limit(
        "polymer-lined",
        "fitted",
        _polymer,
        "warning",
        "{note}",
        cause="shell",
        source="ISO 11119-3:2020, scope",
        person="ask the cylinder's maker for its own approval for nitrous oxide, in writing",
    ),
)
FILLED_AS_FITTED = Limit("overfilled", "fitted", _filled_as_fitted, **_OVERFILLED)
"""The same before anything is run: for a check of the file."""
