"""How many passes a fill gives, and the charge at which to refill."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import Any

from n2osim.answers.race_day import RaceDayResult, RoundSummary, race_day
from n2osim.answers.race_plan import MOST_ROUNDS, RaceDay
from n2osim.answers.search import Margin, edge
from n2osim.errors import InputError, IntegrationError, NoSolutionError
from n2osim.physics.charge import temperature_for_pressure
from n2osim.results.run import Run, simulate
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass, Weigh
from n2osim.units import format_quantity, parse


@dataclass(frozen=True)
class PassLimits:
    """What a pass must keep to count.

    minimum_pressure : lowest gauge pressure (Pa) during it, or None.
    flow_fraction : least flow at its end over the flow at the start of the first pass, or None;
        of several bottles the flow of all of them together, which is what the jets get.
    liquid_out : False: the pick-up must stay covered.
    """

    minimum_pressure: float | None = None
    flow_fraction: float | None = 0.8
    liquid_out: bool = False

    def __post_init__(self) -> None:
        if self.minimum_pressure is not None:
            p = parse(self.minimum_pressure, "gauge_pressure", name="minimum pressure", low=0.0)
            object.__setattr__(self, "minimum_pressure", p)
        if self.flow_fraction is not None:
            x = parse(self.flow_fraction, "fraction", name="flow fraction", low=0.0, high=1.0)
            object.__setattr__(self, "flow_fraction", x)

    def words(self, system: str = "shop") -> str:
        """What a pass must keep, in words."""
        from n2osim.numbers import Units

        parts = [] if self.liquid_out else ["liquid reaches the pick-up"]
        if self.flow_fraction is not None:
            share = f"{100.0 * self.flow_fraction:.3g} %"
            parts.append(f"its last flow is at least {share} of the first pass's first flow")
        if self.minimum_pressure is not None:
            low = Units(system).full(self.minimum_pressure, "gauge_pressure")
            parts.append(f"the pressure stays at or above {low}")
        return " and ".join(parts) or "whatever it does"

    def broken(self, one: Any, first_flow: float, end_flow: float | None = None) -> str:
        """Which limit a pass (PassSummary or RoundSummary) breaks, in words; "" for none.

        first_flow, end_flow: kg/s at the start of the first pass and at the end of this one, of
        all bottles together (``end_flow`` None: the bottle's own, when there is one).
        """
        if not self.liquid_out and one.liquid_out_time is not None:
            return f"liquid runs out {one.liquid_out_time:.3g} s into the pass"
        low = self.minimum_pressure
        if low is not None and one.minimum_pressure < low:
            return (
                f"pressure falls to {format_quantity(one.minimum_pressure, 'gauge_pressure')}, "
                f"below {format_quantity(low, 'gauge_pressure')}"
            )
        ends = one.flow_end if end_flow is None else end_flow
        part = ends / first_flow if first_flow > 0.0 else 0.0
        if self.flow_fraction is not None and part < self.flow_fraction:
            return f"flow falls to {part:.3g} of the first, below {self.flow_fraction:.3g}"
        return ""


@dataclass(frozen=True)
class PassesPerFill:
    """Passes that a fill gives.

    count : passes in a row that keep the limits. reason: why the next one does not. rounds: all
    rounds that were carried out (the first bottle's), the one that failed last. day: the whole run
    (None when the run broke off: ``reason`` says why). limits: what a pass had to keep.
    """

    count: int
    reason: str
    rounds: tuple[RoundSummary, ...]
    day: RaceDayResult | None
    limits: PassLimits

    @property
    def left(self) -> tuple[float, ...]:
        """Charge (kg, of all bottles together) after each pass that counts."""
        rounds = self.rounds if self.day is None else self.day.rounds
        return tuple(
            sum(r.charge_left for r in rounds if r.round == k + 1) for k in range(self.count)
        )


def passes_per_fill(
    scenario: Scenario, day: RaceDay | Pass | None = None, limits: PassLimits | None = None
) -> PassesPerFill:
    """How many passes the scenario's charge gives before one breaks a limit.

    ``day``: what happens around each pass (warm-up, purge, re-heat, ...); its rounds and refills
    do not count. A Pass alone is put into a plain day: warm-up, pass, 5 min cool-down, re-heat,
    no purge. Bottles on a manifold share the passes; the first one to break a limit ends it.
    """
    plan = _plain_day(day)
    keep = limits or PassLimits()
    result = _carried_out(scenario, plan)
    jets = [t for t in result.run.totals if t.kind == "pass"]
    rounds = result.of(scenario.bottles[0].name)
    for number in range(1, plan.rounds + MOST_ROUNDS):
        these = [r for r in result.rounds if r.round == number]
        if not these:
            raise NoSolutionError(f"all {number - 1} passes that were tried keep the limits")
        first, last = jets[0].flow_start, jets[number - 1].flow_end
        reasons = [w + _whose(scenario, r) for r in these if (w := keep.broken(r, first, last))]
        if reasons:
            return PassesPerFill(number - 1, reasons[0], rounds[:number], result, keep)
    raise AssertionError("unreachable")


def _whose(scenario: Scenario, one: RoundSummary) -> str:
    return f" ({one.bottle})" if len(scenario.bottles) > 1 else ""


def _plain_day(day: RaceDay | Pass | None) -> RaceDay:
    if day is None:
        day = Pass(10.0)
    if isinstance(day, Pass):
        return RaceDay(pass_=day, purge=0.0, purges=0, staging=0.0)
    return dataclasses.replace(day, refill=None, refill_every=None, refill_below=None)


def _carried_out(scenario: Scenario, plan: RaceDay) -> RaceDayResult:
    """The day with enough rounds to empty the bottles, or as many as can be carried out."""
    one = race_day(scenario, dataclasses.replace(plan, rounds=1))
    used = sum(r.used + r.purge_used for r in one.rounds)
    charge = sum(b.fill for b in scenario.bottles)
    if used <= 0.0:
        raise InputError("pass", "no flow", "", "a pass that draws N2O", "open the feed")
    rounds = min(MOST_ROUNDS, math.ceil(charge / used) + 2)
    while True:
        try:
            return race_day(scenario, dataclasses.replace(plan, rounds=rounds))
        except IntegrationError:
            # A nearly empty bottle on its heater can leave the equation's range: stop before it.
            if rounds <= 1:
                raise
            rounds -= 1


# --- when to refill ------------------------------------------------------------------------------
@dataclass(frozen=True)
class RefillPoint:
    """Charge below which a bottle should be refilled before the next pass. kg.

    charge: least charge that keeps the limits through one more pass. reading: on the scale, with
    bottle and valve, at or below which to refill so that tare and scale errors are covered.
    margin: those errors together. reason: what a lighter charge would break.
    """

    charge: float
    reading: float
    margin: float
    reason: str


def refill_point(
    scenario: Scenario,
    run: Pass,
    at_pressure: Any,
    limits: PassLimits | None = None,
    weigh: Weigh | None = None,
) -> RefillPoint:
    """Least charge of the (first) bottle with which one more pass from a gauge pressure is good.

    Flow is compared with that of the scenario's own charge at the same gauge pressure (of all
    bottles together, the others as the scenario has them).
    """
    air = scenario.ambient.pressure
    gauge = parse(at_pressure, "gauge_pressure", name="pressure at the start", low=1e5, ambient=air)
    keep = limits or PassLimits()
    full = scenario.bottles[0].fill
    first = one_pass(scenario, full, gauge, run).totals[0].flow_start
    why: dict[float, str] = {}

    def margin(charge: float) -> float:
        done = one_pass(scenario, charge, gauge, run)
        one, end = done.passes[0], done.totals[0].flow_end
        why[charge] = keep.broken(one, first, end)
        return _margin(keep, one, end / first)

    search = Margin(margin)
    if search(full) < 0.0:
        raise NoSolutionError(f"no charge up to {full:.4g} kg is enough: {why.get(full, '')}")
    low = _lightest(scenario, gauge)
    charge = low if search(low) >= 0.0 else edge(search, full, low)
    below = [reason for c, reason in sorted(why.items(), reverse=True) if c < charge and reason]
    error = 0.0 if weigh is None else weigh.tare_error + weigh.scale_tolerance
    reading = charge + error + scenario.bottles[0].bottle.empty_mass
    return RefillPoint(charge, reading, error, below[0] if below else "")


def _lightest(scenario: Scenario, gauge: float) -> float:
    """Least charge that is tried: 5 % of the bottle's capacity, or what can stand the pressure."""
    bottle = scenario.bottles[0].bottle
    charge = 0.05 * bottle.capacity
    while charge < bottle.capacity:
        try:
            temperature_for_pressure(gauge + scenario.ambient.pressure, charge, bottle.volume)
            return charge
        except NoSolutionError:
            charge *= 1.25
    return charge


def _margin(keep: PassLimits, done: Any, flow: float) -> float:
    """Least margin (of 1) over the limits; ``flow``: at the end over the first's at the start.

    Liquid-out counts by how early it comes.
    """
    margins = [1.0]
    if keep.minimum_pressure is not None:
        margins.append(done.minimum_pressure / max(keep.minimum_pressure, 1e5) - 1.0)
    if keep.flow_fraction is not None:
        margins.append(flow - keep.flow_fraction)
    if not keep.liquid_out and done.liquid_out_time is not None:
        margins.append(done.liquid_out_time / done.duration - 1.0 - 1e-9)
    return min(margins)


def one_pass(scenario: Scenario, charge: float, gauge: float, run: Pass) -> Run:
    """Run of a single pass of the first bottle, charged with ``charge`` (kg) and at rest at a
    gauge pressure (Pa)."""
    fitted = scenario.bottles[0]
    p = gauge + scenario.ambient.pressure
    T = float(temperature_for_pressure(p, charge, fitted.bottle.volume))
    bottle = dataclasses.replace(fitted, fill=charge, start=T, wall_start=None)
    return simulate(scenario.replace(bottles=(bottle, *scenario.bottles[1:]), schedule=(run,)))


__all__ = [
    "PassLimits",
    "PassesPerFill",
    "RefillPoint",
    "one_pass",
    "passes_per_fill",
    "refill_point",
]
