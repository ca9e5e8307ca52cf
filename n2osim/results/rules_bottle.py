"""Rules on charge, pressure and temperature of a bottle."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from n2osim import fluid
from n2osim.errors import InputError, NoSolutionError
from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY
from n2osim.numbers import both
from n2osim.physics.charge import pressure_at, temperature_for_pressure
from n2osim.results.findings import Finding
from n2osim.results.view import View

DEGF_131 = 328.15
"""131 degF (55 degC): the reference temperature of 49 CFR 173.301a(d)."""
EXPOSURE_LIMIT = 324.817
"""125 degF (52 degC): exposure limit of N2O cylinders, CGA G-8.1 as quoted by the industry."""
DISC_TOLERANCE = 0.10
"""A disc may open from its rating to 10 % under it (CGA S-1.1, recalled)."""
NEAR_LIQUID_FULL = 5.0  # K
_BY_SCALE = 0.02
"""Share of the rated charge below which there is no room to speak of for more."""
POLYMERS = ("HDPE", "PA6")


def overfilled(v: View) -> Iterator[Finding]:
    """Filling density over 68 % of water."""
    densest = float(v.density.max())
    if densest <= FULL_FILLING_DENSITY * 1.0005:
        return
    yield Finding(
        "warning",
        "overfilled",
        "the charge is above the filling density allowed for nitrous oxide: 0.68 kg per litre of "
        "water capacity",
        densest,
        FULL_FILLING_DENSITY,
        "density",
        "filling density",
        "allowed",
        v.first(v.density > FULL_FILLING_DENSITY * 1.0005),
        v.name,
        f"take out {both((densest - FULL_FILLING_DENSITY) * v.bottle.volume, 'mass')}, and weigh",
        "49 CFR 173.304a, Table 1 of (a)(2): 68 %",
    )


def liquid_full(v: View) -> Iterator[Finding]:
    """The bottle full of liquid: pressure climbs steeply from there."""
    boundary = v.array("phase_boundary_K")
    dense = v.density > fluid.RHO_CRITICAL
    if not dense.any():
        return
    margin = np.where(dense, boundary - v.temperature, np.inf)
    worst = int(np.argmin(margin))
    reached = margin[worst] <= 0.0
    if not reached and margin[worst] > NEAR_LIQUID_FULL:
        return
    message = (
        "liquid fills the whole bottle: from there pressure climbs steeply with every degree"
        if reached
        else "the bottle comes close to being full of liquid, where pressure climbs steeply"
    )
    yield Finding(
        "warning" if reached else "note",
        "liquid-full",
        message,
        v.temperature[worst],
        boundary[worst],
        "temperature",
        "hottest",
        "liquid-full at",
        v.first(margin <= 0.0) if reached else float(v.time[worst]),
        v.name,
        "keep it out of the sun, lower the switch's opening point, or carry a smaller charge",
        "computed from the equation of state (Lemmon & Span 2006)",
    )


def pressure_at_131(v: View) -> Iterator[Finding]:
    """Pressure at 131 degF against 5/4 of service pressure: information only."""
    service = v.bottle.service_pressure
    if service is None:
        return
    charge = float(v.mass.max())
    try:
        gauge = float(pressure_at(DEGF_131, charge, v.bottle.volume)) - v.ambient_pressure
    except InputError:  # beyond 50 MPa: the relief rule speaks of it
        return
    if gauge > 1.25 * service:
        yield Finding(
            "note",
            "pressure-at-131-degF",
            "at 131 degF (55 degC) this charge would stand above 5/4 of the marked service "
            "pressure; for information only, the rule exempts liquefied nitrous oxide",
            gauge,
            1.25 * service,
            "gauge_pressure",
            "at 131 degF (55 degC)",
            "5/4 of service",
            None,
            v.name,
            "know what a hot trailer does to a full bottle",
            "49 CFR 173.301a(d)(1)",
        )
    yield from _relief_at_131(v, gauge)


def _relief_at_131(v: View, gauge: float) -> Iterator[Finding]:
    relief = v.bottle.relief_pressure
    if relief is None or gauge < (1.0 - DISC_TOLERANCE) * relief:
        return
    yield Finding(
        "warning",
        "relief-in-hot-car",
        "this charge would open its relief device in a closed car or trailer at 131 degF (55 degC)",
        gauge,
        (1.0 - DISC_TOLERANCE) * relief,
        "gauge_pressure",
        "at 131 degF (55 degC)",
        "disc may open from",
        None,
        v.name,
        "never leave a full bottle in a closed car in the sun; carry less or keep it cool",
        "computed; disc rating +0/-10 % (CGA S-1.1, recalled)",
    )


def relief_margin(v: View) -> Iterator[Finding]:
    """Relief device against predicted pressure and test pressure."""
    relief, test = v.bottle.relief_pressure, v.bottle.test_pressure
    if relief is None:
        yield Finding(
            "note",
            "relief-not-stated",
            "no relief rating is given, so none is checked",
            bottle=v.name,
            remedy="read the rating on the relief device and give relief_pressure",
            source="49 CFR 173.301(f)",
        )
        return
    if test is not None and relief > test * 1.0005:
        yield Finding(
            "danger",
            "relief-above-test",
            "the relief device is rated above the test pressure",
            relief,
            test,
            "gauge_pressure",
            "relief",
            "test pressure",
            None,
            v.name,
            "fit the device that belongs to this cylinder",
            "49 CFR 173.301(f), CGA S-1.1: rating not above test pressure (recalled)",
        )
    peak = float(v.gauge.max())
    least = (1.0 - DISC_TOLERANCE) * relief
    if not v.array("relief_open").any() and peak >= least:
        yield Finding(
            "danger",
            "relief-margin",
            "the predicted pressure comes within the tolerance of the relief device",
            peak,
            least,
            "gauge_pressure",
            "peak",
            "disc may open from",
            v.first(v.gauge >= least),
            v.name,
            "less heat, a lower opening point or a smaller charge",
            "disc rating +0/-10 % (CGA S-1.1, recalled)",
        )


def over_test_pressure(v: View) -> Iterator[Finding]:
    """Pressure above the cylinder's test pressure."""
    test = v.bottle.test_pressure
    if test is None or v.gauge.max() <= test:
        return
    yield Finding(
        "danger",
        "over-test-pressure",
        "pressure exceeds the cylinder's test pressure",
        v.gauge.max(),
        test,
        "gauge_pressure",
        "peak",
        "test pressure",
        v.first(v.gauge > test),
        v.name,
        "do not do this: the shell has never been proven there",
        "49 CFR 178.46, 178.37: wall stress is limited at test pressure",
    )


def exposure(v: View) -> Iterator[Finding]:
    """Bulk of the cylinder above 125 degF."""
    shell = v.array("wall_temperature_K")
    weight = v.run["wall_heat_capacity_J_K"][v.index]
    mean = (shell * weight[:, :, None]).sum(axis=(0, 1)) / weight.sum()
    bulk = np.maximum(mean, v.temperature)
    if bulk.max() > EXPOSURE_LIMIT:
        light = float(v.mass[int(bulk.argmax())]) < (1.0 - _BY_SCALE) * v.bottle.capacity
        yield Finding(
            "warning",
            "over-125-degF",
            "the cylinder as a whole goes above the exposure limit for nitrous-oxide cylinders",
            bulk.max(),
            EXPOSURE_LIMIT,
            "temperature",
            "hottest",
            "limit",
            v.first(bulk > EXPOSURE_LIMIT),
            v.name,
            "less heat, shade, or a charge nearer the rated one (it reaches the band at a lower "
            "temperature)"
            if light
            else "less heat, or shade",
            "CGA G-8.1 as quoted by cylinder-industry guidance: 125 degF (52 degC)",
        )
        return
    hottest = shell.max(axis=(0, 1))
    if hottest.max() > EXPOSURE_LIMIT:
        yield Finding(
            "note",
            "hot-spot-over-125-degF",
            "the shell under the heater goes above 125 degF (52 degC), the cylinder as a whole "
            "does not",
            hottest.max(),
            EXPOSURE_LIMIT,
            "temperature",
            "hottest spot",
            "limit",
            v.first(hottest > EXPOSURE_LIMIT),
            v.name,
            "spread the heat: more covered area, less power, or a surface cut-out",
            "CGA G-8.1 as quoted by cylinder-industry guidance: 125 degF (52 degC)",
        )


def layer_limits(v: View) -> Iterator[Finding]:
    """Aluminium over 350 degF, laminate or liner over its limit."""
    for k, layer in enumerate(v.bottle.layers):
        limit = layer.material.max_temperature
        if v.bottle.wall_temperature_limit is not None:
            limit = v.bottle.wall_temperature_limit
        if limit is None:
            continue
        hottest = v.layer_temperature(k)
        if hottest.max() <= limit:
            continue
        metal = layer.material.name == "6061-T6"
        message = (
            "aluminium goes above the temperature at which a cylinder is condemned"
            if metal
            else f"{layer.material.name} (layer {k + 1} from inside) goes above its limit"
        )
        yield Finding(
            "danger",
            "layer-too-hot",
            message,
            hottest.max(),
            limit,
            "temperature",
            "hottest",
            "limit",
            v.first(hottest > limit),
            v.name,
            "take the cylinder out of service and have it examined; then less power, more covered "
            "area, or a cut-out that opens below the limit",
            layer.material.provenance("max_temperature")[1],
            key=str(k),
        )


def polymer_lined(v: View) -> Iterator[Finding]:
    """Polymer-lined shells in oxidising service."""
    liner = v.bottle.layers[0].material.name
    if liner not in POLYMERS and not v.bottle.oxidising_note:
        return
    yield Finding(
        "warning",
        "polymer-lined",
        v.bottle.oxidising_note
        or f"the liner is {liner}: ISO 11119-3 (polymer-lined) excludes oxidising gases",
        bottle=v.name,
        remedy="ask the cylinder's maker for its own approval for nitrous oxide, in writing",
        source="ISO 11119-3:2020, scope",
    )


def single_phase_band(v: View) -> Iterator[Finding]:
    """No liquid left at the switch's opening point (light charges)."""
    switch = v.switch
    if switch is None or v.fitted.heater is None:
        return
    density = float(v.density[0])
    if density >= fluid.RHO_CRITICAL:
        return
    boundary = float(v.array("phase_boundary_K")[0])
    try:
        needed = temperature_for_pressure(
            switch.opens + v.ambient_pressure, float(v.mass[0]), v.bottle.volume
        )
    except (InputError, NoSolutionError):
        return
    if needed > boundary:
        yield Finding(
            "note",
            "no-liquid-in-band",
            "at the opening point this light charge has no liquid left: the tube draws dense gas, "
            "and the start of a pass differs from that of a fuller bottle",
            needed,
            boundary,
            "temperature",
            "opening point at",
            "liquid gone from",
            None,
            v.name,
            "refill, or set a lower band for light bottles",
            "computed from the equation of state (Lemmon & Span 2006)",
        )


BOTTLE_RULES = (
    overfilled,
    liquid_full,
    pressure_at_131,
    relief_margin,
    over_test_pressure,
    exposure,
    layer_limits,
    polymer_lined,
    single_phase_band,
)
