"""How many passes a fill gives, the charge at which to refill, the bottle for so many passes."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

from n2osim.answers.answer import Answer, Column, Figure, Listing
from n2osim.answers.fields import Knob, first_of
from n2osim.answers.judge import Judge, PassLimits, at_rest, first_pass, full_flow, launch_pressure
from n2osim.answers.optimize import design
from n2osim.answers.race_day import judged, race_day
from n2osim.answers.race_plan import MOST_ROUNDS, RaceDay, ends_early
from n2osim.errors import InputError, IntegrationError, N2OSimError, NoSolutionError
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.shells import OUTSIDE_DIAMETERS
from n2osim.results.run import Run, simulate
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Hold, Pass, Rest, Weigh
from n2osim.studies.members import whole_number
from n2osim.units import LB, parse

SMALLEST, LARGEST = 1.0 * LB, 60.0 * LB
"""Capacities looked through, kg: the range of ``Bottle.from_capacity``."""
_LEAST_SHARE = 0.05


def passes_per_fill(
    scenario: Scenario,
    day: RaceDay | Pass | None = None,
    limits: PassLimits | None = None,
    *,
    minimum_pressure: Any = None,
    flow: Any = 0.8,
    at_pressure: Any = None,
) -> Answer:
    """How many passes the scenario's charge gives before one breaks a limit, and when to refill.

    day : what happens around each pass (warm-up, purge, re-heat, ...; its rounds and refills do not
        count), or the pass alone; default the scenario's first pass, warmed up to the band before
        each, 5 min of cool-down, no purge. This replaces the scenario's schedule.
    limits : what a pass must keep (:class:`~n2osim.answers.judge.PassLimits`); ``minimum_pressure``
        (Pa gauge) and ``flow`` are a short way to give them.
    at_pressure : gauge pressure (Pa) at launch for the refill mark (default: the opening point).

    Bottles on a manifold share the passes; the first one to break a limit ends it.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "10 lb"), fill="8.8 lb", start="66 degF",
    ...     heater=n2.Heater("400 W"), switch=n2.PressureSwitch("840 psig", "880 psig"),
    ...     feed=n2.Feed(n2.Jets(2, "0.036 in")), schedule=[n2.Pass("9 s")],
    ... )
    >>> n2.passes_per_fill(car, minimum_pressure="780 psig")["count"]
    7
    """
    keep = limits or PassLimits(minimum_pressure, flow)
    plan = _plain_day(first_pass(scenario) if day is None else day)
    whole = _carried_out(scenario, plan)
    count, reason = _counted(whole.run, keep)
    shown = race_day(scenario, dataclasses.replace(plan, rounds=max(count, 1)))
    left = tuple(sum(r.charge_left for r in shown.rounds if r.round == k + 1) for k in range(count))
    rows = tuple({"pass": k + 1, "left": x} for k, x in enumerate(left))
    columns = (Column("pass", "after pass"), Column("left", "left", "mass"))
    mark, note = _mark(scenario, plan.pass_, keep, at_pressure)
    return Answer(
        f"Passes from one fill: {scenario.title}",
        (
            Figure("count", "passes", count),
            Figure("reason", "in the next one", reason),
            Figure("counts_while", "a pass counts while", keep.words()),
            *mark,
        ),
        shown.run.scenario,
        shown.run,
        decided_by=(reason,),
        notes=("warmed up to the band before each pass; purges of the schedule come off", *note),
        listings=(Listing("Charge", columns, rows),) if rows else (),
        more={"day": shown, "limits": keep, "left": left},
    )


def _counted(run: Run, keep: PassLimits) -> tuple[int, str]:
    """Passes that keep the limits, and what is wrong with the one after them."""
    verdicts = judged(run, keep)
    found = next(((count, words) for count, words in enumerate(verdicts) if words), None)
    if found is None:
        raise NoSolutionError(f"all {len(verdicts)} passes that were tried keep the limits")
    return found


def _plain_day(day: RaceDay | Pass) -> RaceDay:
    if isinstance(day, Pass):
        return RaceDay(pass_=day, purge=0.0, purges=0, staging=0.0)
    return dataclasses.replace(day, refill=None, refill_every=None, refill_below=None)


def _carried_out(scenario: Scenario, plan: RaceDay) -> Answer:
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
def refill_mark(
    scenario: Scenario,
    item: Pass | None = None,
    limits: PassLimits | None = None,
    at_pressure: Any = None,
) -> Answer:
    """Least charge with which one more pass from rest at a gauge pressure counts.

    Figures: ``charge`` (kg, all bottles), ``reading`` on the scale of the first bottle (kg, with
    bottle and valve, and the errors of the schedule's weighing), ``reason`` what a lighter charge
    breaks. The flow is compared with that of the scenario's own charge at the same pressure.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "12 lb"), fill="10.4 lb", start="70 degF",
    ...     feed=n2.Feed(n2.Jets(2, "0.032 in")), schedule=[n2.Pass("8.5 s")],
    ... )
    >>> mark = n2.refill_mark(car, at_pressure="840 psig")
    >>> print(f"refill below {mark.get('charge', 'lb'):.1f} lb")
    refill below 4.0 lb
    """
    keep = limits or PassLimits()
    item = item or first_pass(scenario)
    gauge = launch_pressure(scenario, at_pressure)
    full = simulate(at_rest(scenario, 1.0, gauge, item))
    reference = full_flow(full, 0).mean
    if reference <= 0.0:
        raise NoSolutionError("nothing flows in the pass: there is no charge to tell")
    one = Knob(
        "share",
        "share of the charge",
        "fraction",
        _LEAST_SHARE,
        1.0,
        lambda s, x: at_rest(s, x, gauge, item),
        resolution=2e-3,
        ends=("no limit is in reach", ""),
    )
    return design(
        scenario,
        [one],
        "share",
        question=f"Refill mark: {scenario.title}",
        # Whether the switch's band is kept is not asked here: the pressure is given.
        subject_to=[Judge(dataclasses.replace(keep, band=False), reference)],
        figures=lambda run: _mark_figures(run, scenario),
        nearest=False,
        samples=9,
    )


def _mark_figures(run: Run, scenario: Scenario) -> list[Figure]:
    weigh = first_of(scenario, Weigh)
    error = 0.0 if weigh is None else weigh.tare_error + weigh.scale_tolerance
    first = run.scenario.bottles[0]
    return [
        Figure("charge", "charge", sum(b.fill for b in run.scenario.bottles), "mass"),
        Figure("reading", "on the scale", first.fill + error + first.bottle.empty_mass, "mass"),
    ]


def _mark(
    scenario: Scenario, item: Pass, keep: PassLimits, at_pressure: Any
) -> tuple[list[Figure], tuple[str, ...]]:
    """The refill mark as figures, or why there is none."""
    try:
        mark = refill_mark(scenario, item, keep, at_pressure)
    except N2OSimError as problem:
        return [Figure("refill_below", "refill below", f"not told: {problem}")], ()
    of = f" ({scenario.bottles[0].name})" if len(scenario.bottles) > 1 else ""
    return [
        Figure("refill_below", "refill below a charge of", mark["charge"], "mass"),
        Figure("refill_reading", f"when the scale says{of}", mark["reading"], "mass"),
        Figure("refill_reason", "or else", mark.decided_by[0]),
    ], tuple(b.text() for b in mark.broken)


# --- the bottle ----------------------------------------------------------------------------------
def size_bottle(
    scenario: Scenario,
    passes: int = 4,
    *,
    shell: str = "aluminium",
    fill: Any = 1.0,
    run: Pass | None = None,
    between: Any = "1 h",
    minimum_pressure: Any = None,
    flow: Any = 0.8,
    limits: PassLimits | None = None,
) -> Answer:
    """Smallest bottle of a preset ``shell`` that gives ``passes`` passes that count from one fill.

    Before each pass the bottle is heated until its switch opens, for ``between`` (s) at most; with
    several switches it is heated for so long, without heater and switch it rests. That replaces the
    scenario's schedule. Every bottle of the scenario is replaced alike; start, heater, switch, feed
    and surroundings are kept.

    fill : share of the capacity filled in, 1.0 or "90 %". run : the pass, default the scenario's
    first. limits, or minimum_pressure (Pa gauge) and flow: what a pass must keep.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "10 lb"), fill="8 lb", start="68 degF",
    ...     heater=n2.Heater("450 W"), switch=n2.PressureSwitch("830 psig", "870 psig"),
    ...     feed=n2.Feed(n2.Jets(2, "0.04 in")), schedule=[n2.Pass("10 s")],
    ... )
    >>> found = n2.size_bottle(car, 3, shell="carbon-aluminium", fill="88 %")
    >>> print(f"{found.get('capacity', 'lb'):.0f} lb")
    5 lb
    """
    whole_number("passes", passes, 1, 100)
    share = parse(fill, "fraction", name="fill", low=0.05, high=1.2)
    wait = parse(between, "time", name="time between passes", low=1.0)
    item = run or first_pass(scenario)
    heated = any(b.heater is not None and b.switch is not None for b in scenario.bottles)
    before: Hold | Rest = Hold(wait, until_open=ends_early(scenario)) if heated else Rest(wait)
    keep = limits or PassLimits(minimum_pressure, flow)
    one = Knob(
        "capacity",
        "capacity at least",
        "mass",
        SMALLEST,
        LARGEST,
        lambda s, x: _with_bottles(s, x, shell, share),
        ends=("the smallest that is known", ""),
    )
    return design(
        scenario.replace(schedule=[before, item] * passes),
        [one],
        "capacity",
        question=f"Bottle for {passes} passes: {scenario.title}",
        subject_to=[Judge(keep)],
        figures=_bottle_figures,
        notes=(
            f"each pass after at most {wait / 60.0:.0f} min of heating; a pass counts while "
            f"{keep.words()}",
        ),
    )


def _with_bottles(scenario: Scenario, capacity: float, shell: str, share: float) -> Scenario:
    bottle = Bottle.from_capacity(capacity, shell)
    return scenario.replace(
        bottles=tuple(
            dataclasses.replace(b, bottle=bottle, fill=share * capacity, wall_start=None)
            for b in scenario.bottles
        )
    )


def _bottle_figures(run: Run) -> list[Figure]:
    capacity = run.scenario.bottles[0].bottle.capacity
    trade = [s * LB for s in OUTSIDE_DIAMETERS if s * LB >= capacity * (1.0 - 1e-9)]
    last = run.passes[-1]
    left = sum(p.end_mass for p in run.passes if p.index == last.index)
    return [
        Figure("trade_size", "smallest preset", min(trade, default=None), "mass"),
        Figure("charge", "filled with", run.scenario.bottles[0].fill, "mass"),
        Figure("charge_left", "left after the last (all)", left, "mass"),
        Figure("last_sag", "sag of the last", last.pressure_sag, "pressure_difference"),
        Figure("last_end", "it ends at", last.end_pressure, "gauge_pressure"),
    ]
