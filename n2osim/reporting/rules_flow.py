"""Rules on passes, lines that can be shut in, and an opened relief device."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from n2osim import fluid
from n2osim.errors import InputError
from n2osim.physics.charge import trapped_liquid_pressure
from n2osim.physics.enclosure import (
    CAR_VOLUME,
    OXYGEN_LEAST,
    closed_space,
    volume_made_deficient,
)
from n2osim.reporting.findings import Finding
from n2osim.reporting.numbers import lasting
from n2osim.reporting.view import View

if TYPE_CHECKING:
    from n2osim.simulation.run import Run

WARM_LINE = 310.93
"""100 degF: a line in a closed engine bay on a mild day (typical)."""
NEARLY_EMPTY = 0.02  # of the rated capacity


def liquid_out(v: View) -> Iterator[Finding]:
    """The pick-up uncovers during a pass."""
    for one in v.summaries("pass"):
        if one.liquid_out_time is None:
            continue
        yield Finding(
            "warning", "liquid-out",
            "liquid runs out during a pass: gas follows, flow falls and the mixture goes rich",
            one.end_mass, one.start_mass, "mass", "left at the end", "at the start",
            one.start_time + one.liquid_out_time, v.name,
            "refill before this pass", "computed",
        )  # fmt: skip


def ran_empty(v: View) -> Iterator[Finding]:
    """Next to nothing left."""
    empty = v.mass < NEARLY_EMPTY * v.bottle.capacity
    if empty.any() and not v.array("relief_open").any():
        yield Finding(
            "note", "nearly-empty", "next to nothing is left in the bottle",
            v.mass.min(), NEARLY_EMPTY * v.bottle.capacity, "mass", "left", "2 % of capacity",
            v.first(empty), v.name, "refill; never heat an empty bottle", "computed",
        )  # fmt: skip


def flow_model(v: View) -> Iterator[Finding]:
    """Flow outside the orifice model's own range."""
    flowing = v.array("outflow_kg_s") > 0.0
    outside = flowing & (v.array("flow_model_valid") < 0.5)
    if outside.any():
        yield Finding(
            "note", "flow-model-extrapolated",
            "part of the flow was computed outside the orifice model's own range of validity",
            v.gauge[outside].max(), None, "gauge_pressure", "up to", "", v.first(outside), v.name,
            "compare with another model of the feed", "the model's own literature",
        )  # fmt: skip


def window(v: View) -> Iterator[Finding]:
    """The arming window held the valve shut."""
    shut = v.run["flow_inhibited"] & v.run["flow_commanded"]
    if v.index == 0 and shut.any():
        yield Finding(
            "warning", "flow-inhibited",
            "pressure is outside the arming window: flow is held back during a pass",
            v.gauge[shut].min(), None, "gauge_pressure", "pressure then", "", v.first(shut), v.name,
            "more heat before the pass, a fuller bottle, or a wider window", "computed",
        )  # fmt: skip


def relief_opened(v: View) -> Iterator[Finding]:
    """The relief device opened: gas into the car, bottle lost."""
    is_open = v.array("relief_open")
    if not is_open.any():
        return
    first = int(is_open.argmax())
    lost = max(0.0, float(v.mass[first] - v.mass[-1]))
    air = min(max(float(v.run["air_temperature_K"][-1]), 200.0), 400.0), v.ambient_pressure
    car = closed_space(lost, CAR_VOLUME, *air)
    yield Finding(
        "danger", "relief-opened",
        f"the relief device opens and lets out {lost:.2f} kg ({car.gas_volume:.2g} m3 of gas) in "
        f"{lasting(float(v.time[-1] - v.time[first]))}, enough to bring "
        f"{volume_made_deficient(lost, OXYGEN_LEAST, *air):.2g} m3 of air below 19.5 % oxygen; "
        f"well mixed in a closed car of {CAR_VOLUME:g} m3 it leaves {100 * car.oxygen:.1f} % "
        f"oxygen and {100 * car.nitrous:.2g} % N2O ({car.times_exposure_limit:.2g} times the "
        "recommended limit of 25 ppm)",
        v.gauge.max(), v.bottle.relief_pressure, "gauge_pressure", "peak", "relief",
        v.first(is_open), v.name,
        "open every door and stay out of the car; the vent must lead outside; the bottle needs a "
        "new disc and an inspection",
        "computed; 29 CFR 1910.134 and 1910.146: below 19.5 % is oxygen-deficient; NIOSH 77-140: "
        "25 ppm; car volume typical",
    )  # fmt: skip


def trapped_liquid(run: Run) -> Iterator[Finding]:
    """Liquid shut in between two closed valves."""
    cold = float(run["fluid_temperature_K"][:, 0].min())
    shut_at = min(max(cold, fluid.T_TRIPLE), 305.0)
    warm = max(WARM_LINE, float(run["air_temperature_K"].max()), shut_at + 11.1)
    for name, feed in run.scenario.feeds:
        if feed.closed_volume <= 0.0:
            continue
        start = float(fluid.saturation(shut_at).p) - run.scenario.ambient.pressure
        yield Finding(
            "warning", "trapped-liquid",
            f'line "{name}" can be shut in full of liquid between two valves; as it warms its '
            f"pressure rises far above the bottle's",
            _gauge_when_warm(run, warm, shut_at), start, "gauge_pressure",
            f"at {warm * 1.8 - 459.67:.0f} degF", f"shut in at {shut_at * 1.8 - 459.67:.0f} degF",
            None, "", "always purge the line before closing the second valve, or fit a line relief",
            "computed: rigid line at constant density",
        )  # fmt: skip


def _gauge_when_warm(run: Run, warm: float, shut_at: float) -> float:
    try:
        absolute = float(trapped_liquid_pressure(warm, shut_at))
    except InputError:
        absolute = fluid.P_MAX  # beyond the equation of state
    return absolute - run.scenario.ambient.pressure


FLOW_RULES = (liquid_out, ran_empty, flow_model, window, relief_opened)
LINE_RULES = (trapped_liquid,)
