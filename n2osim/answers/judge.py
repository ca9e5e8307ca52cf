"""The one judge of a pass: flow at full opening, liquid, pressure, band and the 125 degF cap.

Passes from a fill, the mark at which to refill, corrections by weight, the set-up sheet and the day
all ask here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from n2osim.answers.fields import first_of
from n2osim.answers.requirements import Hit
from n2osim.errors import InputError
from n2osim.hardware.cylinder_rules import EXPOSURE_LIMIT
from n2osim.numbers import Units
from n2osim.physics.charge import temperature_for_pressure
from n2osim.results.driver import driver
from n2osim.results.holds import switch_of
from n2osim.results.instants import highest
from n2osim.results.rules_flow import gas_from_the_start
from n2osim.results.run import Run
from n2osim.results.view import View
from n2osim.scenario.fitted import FittedBottle
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass
from n2osim.units import format_quantity, parse

_OPEN = 0.05  # of the largest opening in a pass, below which a row says nothing of full flow
_FULL = 0.98
BAND_SLACK = 0.2
"""Part of the switch's band by which a launch may lie outside it (the dip of a switch that has just
come on; common practice, no source); above it, by what the bottle overshoots on its switch, one
band's width at most."""


@dataclass(frozen=True)
class PassLimits:
    """What a pass must keep to count.

    minimum_pressure : lowest gauge pressure (Pa) during it, or None.
    flow : least flow at its end, and least mean flow, over the mean of the reference pass (the
        first of a full bottle), each at full opening and of all bottles together; or None.
    liquid_out : True: the pick-up may run dry.
    band : the launch lies in the switch's band (bottles with a switch).
    hottest : no N2O above this (K), or None; default the 125 degF exposure limit.
    """

    minimum_pressure: float | None = None
    flow: float | None = 0.8
    liquid_out: bool = False
    band: bool = True
    hottest: float | None = EXPOSURE_LIMIT

    def __post_init__(self) -> None:
        for name, kind, high in (
            ("minimum_pressure", "gauge_pressure", None),
            ("flow", "fraction", 1.0),
            ("hottest", "temperature", None),
        ):
            value = getattr(self, name)
            if value is not None:
                label = name.replace("_", " ")
                checked = parse(value, kind, name=label, low=0.0, high=high)
                object.__setattr__(self, name, checked)

    def words(self, system: str = "shop") -> str:
        """What a pass must keep, in words."""
        units = Units(system)
        parts = [] if self.liquid_out else ["liquid reaches the pick-up"]
        if self.flow is not None:
            parts.append(
                f"its mean and last flow, fully open, are at least {100.0 * self.flow:.3g} % of a "
                "full bottle's mean"
            )
        if self.minimum_pressure is not None:
            low = units.full(self.minimum_pressure, "gauge_pressure")
            parts.append(f"the pressure stays at or above {low}")
        if self.band:
            parts.append("it is launched in the band")
        if self.hottest is not None:
            parts.append(f"nothing is above {units.full(self.hottest, 'temperature')}")
        return ", ".join(parts) or "whatever it does"


class FullFlow(NamedTuple):
    """Flow (kg/s, all bottles) that the open valves would pass, over a pass: mean and last."""

    mean: float
    end: float


def full_flow(run: Run, index: int) -> FullFlow:
    """Flow at full opening of the pass at ``index`` of the schedule; zeros where nothing flows."""
    rows = np.flatnonzero(run["segment"] == index)
    flow = run["outflow_kg_s"][:, rows].sum(axis=0)
    share = run["valve_open"][:, rows].max(axis=0)
    item: Any = run.scenario.schedule[index]
    # Stages share the flow between feeds of their own: only where all are open is it comparable.
    least = (_FULL if item.stages else _OPEN) * max(float(share.max(initial=0.0)), 1e-12)
    seen = (share >= least) & (flow > 0.0)
    if not seen.any():
        return FullFlow(0.0, 0.0)
    time, full = run.time[rows], np.divide(flow, share, where=seen, out=np.zeros_like(flow))
    both = seen[1:] & seen[:-1]
    steps = np.diff(time) * both
    if steps.sum() <= 0.0:
        return FullFlow(float(full[seen].mean()), float(full[seen][-1]))
    mean = float((0.5 * (full[1:] + full[:-1]) * steps).sum() / steps.sum())
    return FullFlow(mean, float(full[seen][-1]))


@dataclass(frozen=True)
class Judge:
    """Whether every pass of a run counts. reference: flow (kg/s) of a full bottle at full opening
    (None: the mean of the run's first pass)."""

    limits: PassLimits
    reference: float | None = None
    name: str = "pass"

    def hits(self, run: Run, numbers: Mapping[str, float], case: str) -> Iterable[Hit]:
        """What breaks a limit, pass by pass."""
        indices = sorted({p.index for p in run.passes})
        if not indices:
            yield Hit(case, "pass", "", "a pass is carried out", 1.0, False, "there is none")
            return
        reference = self.reference or full_flow(run, indices[0]).mean
        for count, index in enumerate(indices):
            for code, bottle, words, excess in broken(run, index, self.limits, reference):
                yield Hit(case, f"pass {code}", bottle, f"pass {count + 1}: {words}", excess, False)

    def undefined(self, run: Run, numbers: Mapping[str, float]) -> list[str]:
        """Nothing: a pass that cannot be judged does not count."""
        return []


def broken(
    run: Run, index: int, limits: PassLimits, reference: float
) -> Iterator[tuple[str, str, str, float]]:
    """(code, bottle, words, how far) of each limit that the pass at ``index`` breaks."""
    several = len(run.scenario.bottles) > 1
    taking_part = [p for p in run.passes if p.index == index]
    seen = {p.bottle for p in taking_part}
    for name in (b.name for b in run.scenario.bottles if b.name not in seen):
        yield "beyond", name, f"nothing can be said of {name} any more (see its finding)", 1.0
    for one in taking_part:
        where = f" ({one.bottle})" if several else ""
        for code, words, excess in _of_bottle(run, one, limits):
            yield code, one.bottle, words + where, excess
    if limits.flow is not None:
        flow = full_flow(run, index)
        for code, value in (("mean flow", flow.mean), ("last flow", flow.end)):
            share = value / reference if reference > 0.0 else 0.0
            if share < limits.flow:
                words = f"its {code} is {share:.1%} of a full bottle's, below {limits.flow:.0%}"
                yield code, "", words, (limits.flow - share) / limits.flow


def _of_bottle(run: Run, one: Any, limits: PassLimits) -> Iterator[tuple[str, str, float]]:
    f = format_quantity
    view = View(run, run.scenario.bottle_index(one.bottle))
    if not limits.liquid_out and gas_from_the_start(view, one) is not None:
        yield "liquid", "no liquid reaches the pick-up at all", 1.0
    elif not limits.liquid_out and one.liquid_out_time is not None:
        early = 1.0 - one.liquid_out_time / max(one.duration, 1e-9)
        yield "liquid", f"liquid runs out {one.liquid_out_time:.3g} s into the pass", early + 1e-9
    low = limits.minimum_pressure
    if low is not None and one.minimum_pressure < low:
        words = (
            f"pressure falls to {f(one.minimum_pressure, 'gauge_pressure')}, below "
            f"{f(low, 'gauge_pressure')}"
        )
        yield "pressure", words, (low - one.minimum_pressure) / max(low, 1e5)
    if limits.hottest is not None and one.start_temperature > limits.hottest:
        words = (
            f"the bottle is at {f(one.start_temperature, 'temperature')}, above "
            f"{f(limits.hottest, 'temperature')}"
        )
        yield "hot", words, (one.start_temperature - limits.hottest) / limits.hottest
    if limits.band:
        yield from _launch(run, one)


def _launch(run: Run, one: Any) -> Iterator[tuple[str, str, float]]:
    switch, side = switch_of(run.scenario, one.bottle), beside_band(run, one)
    if switch is None or not side:
        return
    p = one.start_pressure
    off = switch.closes - p if side == "below" else p - switch.opens
    words = f"it is launched at {format_quantity(p, 'gauge_pressure')}, {side} the band"
    yield "launch", words, off / p


def beside_band(run: Run, one: Any) -> str:
    """ "below" or "above" where a pass is launched out of its switch's band, else ""."""
    switch = switch_of(run.scenario, one.bottle)
    if switch is None:
        return ""
    width = switch.opens - switch.closes
    slack = BAND_SLACK * width
    if one.start_pressure < switch.closes - slack:
        return "below"
    if one.start_pressure <= switch.opens + slack:
        return ""
    # Heat stored in the shell carries it above the point where its switch opens; warm air or the
    # sun is nothing that the band was set for.
    last = [h for h in run.holds if h.bottle == one.bottle and h.index < one.index][-1:]
    over = [h.peak_pressure - switch.opens for h in last if _own_heat(run, h)]
    above = min(max([slack, *over]), width)
    return "above" if one.start_pressure > switch.opens + above else ""


def _own_heat(run: Run, hold: Any) -> bool:
    """Whether the heater drove the highest pressure of a hold, or what it had stored."""
    v = View(run, run.scenario.bottle_index(hold.bottle))
    rows = v.rows(hold)
    return driver(v, highest(v.time[rows], v.gauge[rows]).time) in ("heater", "stored heat")


# --- a pass from rest ----------------------------------------------------------------------------
def first_pass(scenario: Scenario) -> Pass:
    """The first pass of the schedule. InputError where there is none."""
    found = first_of(scenario, Pass)
    if found is None:
        raise InputError(
            "pass",
            None,
            "",
            "a scenario with a pass in its schedule",
            'add [[schedule]] with kind = "pass"',
        )
    return found


def launch_pressure(scenario: Scenario, at: Any = None) -> float:
    """Gauge pressure (Pa) of a launch: as given, else the opening point of the first switch."""
    if at is not None:
        air = scenario.ambient.pressure
        return parse(at, "gauge_pressure", name="pressure at launch", low=1e5, ambient=air)
    switch = next((b.switch for b in scenario.bottles if b.switch is not None), None)
    if switch is None:
        raise InputError(
            "pressure at launch",
            None,
            "",
            "a scenario with a pressure switch, or a pressure",
            'for example "950 psig" (--at)',
        )
    return switch.opens


def at_rest(scenario: Scenario, share: float, gauge: float, item: Pass) -> Scenario:
    """One pass with every bottle at rest at a gauge pressure (Pa), holding ``share`` of its charge.

    NoSolutionError when a charge cannot stand at that pressure.
    """
    p = gauge + scenario.ambient.pressure
    return scenario.replace(
        bottles=tuple(_resting(b, share, p) for b in scenario.bottles), schedule=(item,)
    )


def _resting(fitted: FittedBottle, share: float, p: float) -> FittedBottle:
    charge = share * fitted.fill
    T = float(temperature_for_pressure(p, charge, fitted.bottle.volume))
    return replace(fitted, fill=charge, start=T, wall_start=None)
