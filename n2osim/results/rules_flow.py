"""Rules on passes, lines that can be shut in, and an opened relief device."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim import fluid
from n2osim.errors import InputError
from n2osim.fluid.phase import TWO_PHASE
from n2osim.numbers import both, lasting
from n2osim.physics.charge import trapped_liquid_pressure
from n2osim.physics.enclosure import CAR_VOLUME, OXYGEN_LEAST, closed_space, volume_made_deficient
from n2osim.results.drawing import first_row, gas_flow, held_rows
from n2osim.results.findings import LEAVE_FUEL_JETS, Finding
from n2osim.results.rules_bottle import DEGF_131
from n2osim.results.view import View
from n2osim.units import PSI

if TYPE_CHECKING:
    from n2osim.results.run import Run

WARM_LINE = 310.93
"""100 degF: a line in a closed engine bay on a mild day (typical)."""
CUBIC_FOOT = 0.3048**3  # m3
NEARLY_EMPTY = 0.02  # of the rated capacity
PUDDLE = 0.05
"""Share of the volume as liquid below which the charge, not the pick-up, is to blame."""
AT_ONCE = 0.1
"""s after the first flow within which gas counts as drawn from the start."""


def no_liquid(v: View) -> Iterator[Finding]:
    """A pass that draws gas from its very start."""
    for one in v.summaries("pass"):
        row = _gas_from_the_start(v, one)
        if row is None:
            continue
        level = float(v.array("liquid_fraction")[row])
        there = int(v.array("phase")[row]) == TWO_PHASE and level > PUDDLE
        yield Finding(
            "warning",
            "no-liquid-at-launch",
            "no liquid at launch: "
            + (
                "the liquid lies where the pick-up does not reach it"
                if there
                else "the bottle holds only gas or next to no liquid"
            )
            + ", the jets pass far "
            "less than they are sized for and the mixture is rich",
            float(v.mass[row]),
            v.bottle.capacity,
            "mass",
            "charge at launch",
            "full",
            float(v.time[row]),
            v.name,
            ("turn or move the pick-up or the bottle" if there else "refill before this pass")
            + LEAVE_FUEL_JETS,
            "computed",
            key="reach" if there else "gas",
        )


def _gas_from_the_start(v: View, one: Any) -> int | None:
    """The row, at most 0.1 s after the first flow, in which mostly gas is drawn; or None."""
    first = first_row(v, one)
    if first is None or v.fitted.mounting.draw == "vapour":
        return None
    stop = int(np.searchsorted(v.time, v.time[first] + AT_ONCE, side="right"))
    gas, drawn = gas_flow(v)[first:stop], v.array("outflow_kg_s")[first:stop]
    mostly = np.flatnonzero(gas > 0.5 * np.maximum(drawn, 1e-12))
    return first + int(mostly[0]) if len(mostly) else None


def liquid_out(v: View) -> Iterator[Finding]:
    """The pick-up uncovers during a pass."""
    for one in v.summaries("pass"):
        if one.liquid_out_time is None or _gas_from_the_start(v, one) is not None:
            continue
        yield Finding(
            "warning",
            "liquid-out",
            "liquid runs out during a pass: gas follows, flow falls and the mixture goes rich",
            one.end_mass,
            one.start_mass,
            "mass",
            "left at the end",
            "at the start",
            one.start_time + one.liquid_out_time,
            v.name,
            "refill before this pass" + LEAVE_FUEL_JETS,
            "computed",
        )


def ran_empty(v: View) -> Iterator[Finding]:
    """Next to nothing left."""
    empty = v.mass < NEARLY_EMPTY * v.bottle.capacity
    if empty.any() and not v.array("relief_open").any():
        yield Finding(
            "note",
            "nearly-empty",
            "next to nothing is left in the bottle",
            v.mass.min(),
            NEARLY_EMPTY * v.bottle.capacity,
            "mass",
            "left",
            "2 % of capacity",
            v.first(empty),
            v.name,
            "refill; never heat an empty bottle",
            "computed",
        )


def flow_model(v: View) -> Iterator[Finding]:
    """Flow outside the orifice model's own range."""
    flowing = v.array("outflow_kg_s") > 0.0
    outside = flowing & (v.array("flow_model_valid") < 0.5)
    if outside.any():
        yield Finding(
            "note",
            "flow-model-extrapolated",
            "part of the flow was computed outside the orifice model's own range of validity",
            v.gauge[outside].max(),
            None,
            "gauge_pressure",
            "up to",
            "",
            v.first(outside),
            v.name,
            "compare with another model of the feed",
            "the model's own literature",
        )


def window(v: View) -> Iterator[Finding]:
    """The arming window held the valve shut, on the side where it did."""
    if v.index:  # only the first bottle's gauge counts
        return
    for k, item in enumerate(v.run.scenario.schedule):
        limits = getattr(item, "window", None)
        if limits is None:
            continue
        held = held_rows(v.run, k)
        # Flow comes back only some way inside a limit: the nearer one is the one that was passed.
        above = v.gauge > 0.5 * (limits[0] + limits[1])
        for rows, limit, over in (
            (held & above, limits[1], True),
            (held & ~above, limits[0], False),
        ):
            if rows.any():
                yield _held(v, k, rows, float(limit), over)


def _held(v: View, k: int, rows: np.ndarray, limit: float, over: bool) -> Finding:
    steps = np.diff(v.time) * (rows[:-1] & (v.run["segment"][1:] == k))
    gauge = v.gauge[rows]
    return Finding(
        "warning",
        "flow-inhibited",
        f"pressure is {'above' if over else 'below'} the arming window: flow is held back for "
        f"{lasting(float(steps.sum()))} of pass {k + 1}; it comes back 5 psi (35 kPa) inside the "
        "limit, or a quarter of the window if that is less",
        gauge.max() if over else gauge.min(),
        limit,
        "gauge_pressure",
        "pressure then",
        "window ends at" if over else "window begins at",
        v.first(rows),
        v.name,
        "heater off and let the bottle cool, then set the band lower; never raise the window to "
        "launch an over-pressure bottle, never vent it by heating"
        if over
        else "more heat before the pass, a fuller bottle, or a window that begins lower",
        "computed",
        key="above" if over else "below",
    )


def relief_opened(v: View) -> Iterator[Finding]:
    """The relief device opened: gas into the car, bottle lost."""
    is_open = v.array("relief_open")
    if not is_open.any():
        return
    first = int(is_open.argmax())
    lost = _vented(v, first)
    air = min(max(float(v.run["air_temperature_K"][-1]), 200.0), 400.0), v.ambient_pressure
    car = closed_space(lost, CAR_VOLUME, *air)
    yield Finding(
        "danger",
        "relief-opened",
        f"the relief device opens and lets out {both(lost, 'mass')}, {_space(car.gas_volume)} of "
        f"gas, in {lasting(float(v.time[-1] - v.time[first]))}, enough to bring "
        f"{_space(volume_made_deficient(lost, OXYGEN_LEAST, *air))} of air below 19.5 % oxygen; "
        f"well mixed in a closed car of {_space(CAR_VOLUME)} it leaves {100 * car.oxygen:.1f} % "
        f"oxygen and {100 * car.nitrous:.2g} % N2O ({_few(car.times_exposure_limit)} times the "
        "recommended limit of 25 ppm)",
        v.gauge.max(),
        v.bottle.relief_pressure,
        "gauge_pressure",
        "peak",
        "relief",
        v.first(is_open),
        v.name,
        "open every door and stay out of the car; the vent must lead outside; the bottle needs a "
        "new disc and an inspection",
        "computed; 29 CFR 1910.134 and 1910.146: below 19.5 % is oxygen-deficient; NIOSH 77-140: "
        "25 ppm; car volume typical",
    )


def _vented(v: View, first: int) -> float:
    """What the relief device lets out (kg) from row ``first`` on.

    What is filled in or fed meanwhile goes out too, so the mass left tells only where there is
    none of that.
    """
    relief = v.array("relief_flow_kg_s")[first:]
    other = v.array("outflow_kg_s")[first:] - relief
    filled = np.diff(v.array("mass_out_kg")[first:]) < 0.0
    if not filled.any() and not np.abs(other).any():
        return max(0.0, float(v.mass[first] - v.mass[-1]))
    return float(np.trapezoid(relief, v.time[first:]))


def _space(volume: float) -> str:
    """Room or gas in cubic feet and m3."""
    return f"{_few(volume / CUBIC_FOOT)} cu ft ({_few(volume)} m3)"


def _few(number: float) -> str:
    """Two figures, written out: "800", never "8e+02"."""
    return f"{float(f'{number:.2g}'):.12g}"


def trapped_liquid(run: Run) -> Iterator[Finding]:
    """Liquid shut in between two closed valves."""
    cold = float(run["fluid_temperature_K"][:, 0].min())
    shut_at = min(max(cold, fluid.T_TRIPLE), 305.0)
    warm = max(WARM_LINE, float(run["air_temperature_K"].max()), shut_at + 11.1)
    for name, feed in run.scenario.feeds:
        if feed.closed_volume <= 0.0:
            continue
        start = float(fluid.saturation(shut_at).p) - run.scenario.ambient.pressure
        at_warm = _gauge_when_warm(run, warm, shut_at)
        slope = (at_warm - start) / (warm - shut_at)
        hot = max(DEGF_131, warm)
        at_hot = _gauge_when_warm(run, hot, shut_at)
        beyond = "more than " if at_hot + run.scenario.ambient.pressure >= fluid.P_MAX else ""
        yield Finding(
            "warning",
            "trapped-liquid",
            f'line "{name}" can be shut in full of liquid between two valves; as it warms its '
            f"pressure rises far above the bottle's, by some {slope / PSI / 1.8:.0f} psi for every "
            f"degF ({slope / 1e3:.0f} kPa/K); in a shut car in the sun, at {_degrees(hot)}, it "
            f"reaches {beyond}{both(at_hot, 'gauge_pressure')}",
            at_warm,
            start,
            "gauge_pressure",
            f"at {_degrees(warm)}",
            f"shut in at {_degrees(shut_at)}",
            None,
            "",
            "always purge the line before closing the second valve, or fit a line relief",
            "computed: rigid line at constant density; 131 degF (55 degC): 49 CFR 173.301a(d)",
            key=name,
        )


def _degrees(temperature: float) -> str:
    return f"{temperature * 1.8 - 459.67:.0f} degF ({temperature - 273.15:.0f} degC)"


def _gauge_when_warm(run: Run, warm: float, shut_at: float) -> float:
    try:
        absolute = float(trapped_liquid_pressure(warm, shut_at))
    except InputError:
        absolute = fluid.P_MAX  # beyond the equation of state
    return absolute - run.scenario.ambient.pressure


FLOW_RULES = (no_liquid, liquid_out, ran_empty, flow_model, window, relief_opened)
LINE_RULES = (trapped_liquid,)
