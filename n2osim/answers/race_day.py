"""A day at the strip, carried out: every round's pressure, flow, power, mixture and charge.

:func:`race_day` writes a :class:`~n2osim.answers.race_plan.RaceDay` out as the schedule of a
scenario, runs it, puts refills where the weighed charge asks for them, and summarises each round.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from operator import attrgetter
from typing import Any

import numpy as np

from n2osim.answers.answer import Answer, Column, Figure, Listing
from n2osim.answers.judge import PassLimits, broken, full_flow
from n2osim.answers.race_plan import (
    DaySchedule,
    RaceDay,
    RoundItems,
    ends_early,
    refill_rounds,
    schedule,
)
from n2osim.answers.recovery import recovery_time
from n2osim.errors import InputError
from n2osim.numbers import both
from n2osim.results.frames import without_nan
from n2osim.results.run import Run, simulate
from n2osim.results.summaries import PassSummary, SegmentSummary, WeighSummary
from n2osim.scenario.scenario import Scenario
from n2osim.units import format_quantity


@dataclass(frozen=True)
class RoundSummary:
    """One round of one bottle. SI; pressures are gauge, Pa. Engine figures are the whole car's.

    start_pressure: when it leaves the pits (before the purge). purge_used: N2O vented, kg.
    purge_cost: pressure that the purges took, Pa. launch_pressure: when the pass begins, after
    purge and staging wait. pressure_sag: launch minus end of the pass. used: by the pass, kg.
    flow_*: kg/s from this bottle. inhibited: s that the arming window held the valve shut.
    outside_window: s of the pass with the pressure outside the window (None: no window).
    line_fill_time: s before liquid reaches the jets (None: jets alone, or nothing to fill).
    power_*, mixture_*: extra power (W) as the scenario's engine counts it, and fuel-air
    equivalence ratio of the shot alone (above 1 rich); None without an engine. mixture_lean_end,
    mixture_rich_end: leanest and richest within what is known of the jets' flow (None: prescribed).
    recovery_time: s from the end of the pass (or from the beginning of the refill, if there was
    one) until the pressure is at the switch's closing point or above it and stays so until the
    next round leaves the pits (0: it never left the band; None: it is not in it by then), see
    :func:`~n2osim.answers.recovery.recovery_time`. reheat_time: s of re-heating until the switch
    opened (None: it did not).
    weighed: charge by weight, kg, +- ``weighed_error`` (None: not weighed, or no errors given).
    refill_due: whether weighed less its error is below the weighing's own limit. charge_left: true
    charge after the pass, kg. refilled: kg let in; short: kg by which that missed what was wanted.
    verdict: "yes" where its pass counts, else what it breaks.
    """

    round: int
    bottle: str
    start_pressure: float
    purge_used: float
    purge_cost: float
    launch_pressure: float
    end_pressure: float
    pressure_sag: float
    minimum_pressure: float
    used: float
    flow_start: float
    flow_mean: float
    flow_end: float
    liquid_out_time: float | None
    inhibited: float
    outside_window: float | None
    line_fill_time: float | None
    power_start: float | None
    power_mean: float | None
    power_end: float | None
    mixture_start: float | None
    mixture_mean: float | None
    mixture_end: float | None
    leanest: float | None
    richest: float | None
    mixture_lean_end: float | None
    mixture_rich_end: float | None
    recovery_time: float | None
    reheat_time: float | None
    charge_left: float
    weighed: float | None
    weighed_error: float | None
    refill_due: bool | None
    refilled: float
    refill_short: float
    verdict: str

    def as_dict(self) -> dict[str, Any]:
        """All fields as plain values (NaN becomes None)."""
        found: dict[str, Any] = without_nan(vars(self))
        return found


_COLUMNS = (
    Column("round", "round"),
    Column("bottle", "bottle"),
    Column("launch_pressure", "launch", "gauge_pressure"),
    Column("pressure_sag", "sag", "pressure_difference"),
    Column("purge_used", "purged", "mass"),
    Column("used", "used", "mass"),
    Column("flow_mean", "flow", "mass_flow"),
    Column("power_mean", "power", "engine_power"),
    Column("mixture_start", "mix at", "number"),
    Column("mixture_end", "mix to", "number"),
    Column("mixture_lean_end", "mix lean end", "number"),
    Column("mixture_rich_end", "mix rich end", "number"),
    Column("recovery_time", "in band after", "time"),
    Column("line_fill_time", "at jets after", "time"),
    Column("charge_left", "left", "mass"),
    Column("refilled", "refilled", "mass"),
    Column("verdict", "counts"),
)
_WHOLE = (
    "power_mean",
    "mixture_start",
    "mixture_end",
    "mixture_lean_end",
    "mixture_rich_end",
    "line_fill_time",
    "verdict",
)
"""Figures of the whole car, not of a bottle: with several bottles they stand in the row of all."""
_SUMMED = ("purge_used", "used", "charge_left", "refilled")
_LEAST = 1e-6  # kg; less than this was not let in
_WHOLE_HEATING = "each heating lasts its whole time, as the bottles have switches of their own"


def race_day(scenario: Scenario, day: RaceDay, limits: PassLimits | None = None) -> Answer:
    """Carry out ``day`` with the hardware, charge and start state of ``scenario``.

    The scenario's own schedule is replaced. With ``day.refill_below`` the day is run again with a
    refill after the first round whose weighed charge is below it, until no more are due (what is
    before a refill is not changed by it). ``limits``: what a pass must keep to count, against the
    first one. ``answer.rounds`` are :class:`RoundSummary`, one per round and bottle; ``of(bottle)``
    those of one; ``refilled_after`` the rounds followed by a refill, ``filled_after`` those after
    which it let something in; ``day`` the plan.

    Raises what ``simulate`` raises, and InputError for a refill beyond a bottle's rated charge.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "12 lb"), fill="10.3 lb", start="63 degF",
    ...     heater=n2.Heater("360 W"), switch=n2.PressureSwitch("845 psig", "890 psig"),
    ...     feed=n2.Feed(n2.Jets(2, "0.034 in")),
    ... )
    >>> day = n2.race_day(car, n2.RaceDay(rounds=3, pass_=n2.Pass("7.6 s"), purges=0))
    >>> day.get("charge_left", "lb").round(1)
    array([9.7, 9.2, 8.6])
    """
    if not isinstance(day, RaceDay):
        raise InputError("day", day, "", "a RaceDay", "for example RaceDay(rounds=4)")
    _check_charge(scenario, day)
    refills, early = set(refill_rounds(day)), ends_early(scenario)
    while True:
        plan = schedule(day, refills, early)
        run = simulate(scenario.replace(schedule=plan.items))
        due = _first_due(run, day, plan, refills)
        if due is None:
            break
        refills.add(due)
    limits = limits or PassLimits()
    rounds = tuple(
        _round(run, day, plan, r, fitted.name, words or "yes")
        for r, words in zip(plan.rounds, judged(run, limits))
        for fitted in scenario.bottles
        if _segment(run, r.pass_, fitted.name) is not None  # else it is frozen out by then
    )
    return _answer(run, day, rounds, tuple(sorted(refills)), limits)


def _answer(
    run: Run,
    day: RaceDay,
    rounds: tuple[RoundSummary, ...],
    refilled: tuple[int, ...],
    limits: PassLimits,
) -> Answer:
    several = len(run.scenario.bottles) > 1
    rows = tuple(_listed_rows(run, rounds))
    counted = {r.round for r in rounds if r.verdict == "yes"}
    left_out = {
        *([] if several else ["bottle"]),
        *(["verdict"] if len(counted) == day.rounds else []),
    }
    shown = [c for c in _COLUMNS if c.name not in left_out and any(r.get(c.name) for r in rows)]

    def of(bottle: str) -> tuple[RoundSummary, ...]:
        run.scenario.bottle_index(bottle)
        return tuple(r for r in rounds if r.bottle == bottle)

    got = {r.round for r in rounds if r.refilled > _LEAST}
    filled = [n for n in refilled if n in got]
    notes = [_refill_words(rounds, refilled, filled)] if refilled else []
    notes += [_weighing_words(day, rounds)] if day.refill_below is not None else []
    notes += [] if ends_early(run.scenario) else [_WHOLE_HEATING]
    return Answer(
        f"A day of {day.rounds} rounds: {run.scenario.title}",
        (
            Figure("passes", "passes that count", f"{len(counted)} of {day.rounds}"),
            Figure("counts_while", "a pass counts while", limits.words()),
        ),
        run.scenario,
        run,
        notes=tuple(notes),
        listings=(Listing("Round by round", tuple(shown), rows, _legend(shown, several)),),
        more={
            "day": day,
            "rounds": rounds,
            "refilled_after": refilled,
            "filled_after": filled,
            "of": of,
            "limits": limits,
        },
    )


def _listed_rows(run: Run, rounds: tuple[RoundSummary, ...]) -> Iterator[dict[str, Any]]:
    """A row for each round and bottle; of several bottles also one of them all."""
    several = len(run.scenario.bottles) > 1
    totals = [t for t in run.totals if t.kind == "pass"]
    for number, total in enumerate(totals, 1):
        these = [r.as_dict() for r in rounds if r.round == number]
        for row in these:
            yield row | dict.fromkeys(_WHOLE) if several else row
        if several:
            sums = {name: sum(row[name] for row in these) for name in _SUMMED}
            whole = {name: these[0][name] for name in _WHOLE}
            who = {"round": number, "bottle": "all"}
            yield {**who, **sums, **whole, "flow_mean": total.flow_mean}


def _legend(shown: list[Column], several: bool) -> str:
    """What the columns mean that do not say it themselves."""
    names = {c.name for c in shown}
    said = ["Launch: gauge as the pass begins."]
    if "recovery_time" in names:
        said.append(
            "In band after: from the end of the pass (or the beginning of the refill) until the "
            "pressure is at the switch's closing point or above it and stays so until the next "
            "round leaves the pits; -: it is not by then."
        )
    if "line_fill_time" in names:
        said.append(
            "At jets after: liquid fills what is empty of the line for so long at most; flow and "
            "power are those of what leaves the bottle."
        )
    if "mixture_lean_end" in names:
        said.append(
            "Lean end, rich end: within what is known of the jets' flow; a weighed pass narrows "
            "it (n2osim weigh)."
        )
    if several:
        said.append(
            "Flow and used of one bottle are net of what it takes in from the others; all: what "
            "the jets got."
        )
    return " ".join(said)


def _refill_words(
    rounds: tuple[RoundSummary, ...], refilled: tuple[int, ...], filled: list[int]
) -> str:
    """After which rounds something was let in; after which nothing was, and why."""
    short = list(dict.fromkeys(r.round for r in rounds if r.refill_short > _LEAST))
    empty = [n for n in refilled if n not in filled]
    said = (
        ("refilled after round {}", filled),
        (
            "nothing was let in after round {}: the charge was not below the one wanted",
            [n for n in empty if n not in short],
        ),
        ("nothing was let in after round {}", [n for n in empty if n in short]),
        ("the supply's pressure was too low to reach the charge wanted after round {}", short),
    )
    return "; ".join(words.format(", ".join(map(str, which))) for words, which in said if which)


def _weighing_words(day: RaceDay, rounds: tuple[RoundSummary, ...]) -> str:
    """How the scale's errors count in the decision to refill."""
    assert day.refill_below is not None
    error = max(r.weighed_error or 0.0 for r in rounds)
    limit = both(day.refill_below, "mass")
    if error > 0.0:
        off = both(error, "mass")
        return f"refill when the scale, off by {off}, may hide a charge below {limit}"
    return (
        f"refill below {limit}, with a scale taken as exact: no scale_tolerance or tare_error "
        "in a weigh item of the schedule"
    )


def judged(run: Run, limits: PassLimits) -> list[str]:
    """What each pass of a run breaks, in words; "" where it counts. The first is the measure."""
    indices = sorted({p.index for p in run.passes})
    reference = full_flow(run, indices[0]).mean if indices else 0.0
    return [next((w for _, _, w, _ in broken(run, k, limits, reference)), "") for k in indices]


def _check_charge(scenario: Scenario, day: RaceDay) -> None:
    """A day's refill must not ask for more than the bottles are rated for."""
    if day.refill is None or day.refill.to is None:
        return
    for fitted in scenario.bottles:
        rated = fitted.bottle.capacity
        if day.refill.bottle in (None, fitted.name) and day.refill.to > rated * (1.0 + 1e-9):
            raise InputError(
                f"refill of {fitted.name}",
                format_quantity(day.refill.to, "mass"),
                "",
                f"at most its rated charge, {format_quantity(rated, 'mass')}",
                "never overfill",
            )


def _first_due(run: Run, day: RaceDay, plan: DaySchedule, refills: set[int]) -> int | None:
    """First round not yet followed by a refill in which a bottle may weigh below the limit.

    The scale's errors count against it, as in the weighing's own verdict.
    """
    if day.refill_below is None:
        return None
    for r in plan.rounds:
        light = any(
            s.charge - s.uncertainty < day.refill_below
            for s in run.segments
            if s.index == r.weigh and isinstance(s, WeighSummary)
        )
        if light and r.number not in refills:
            return r.number
    return None


# --- one round -----------------------------------------------------------------------------------
def _segment(run: Run, index: int | None, bottle: str) -> SegmentSummary | None:
    if index is None:
        return None
    return next((s for s in run.segments if s.index == index and s.bottle == bottle), None)


def _round(
    run: Run, day: RaceDay, plan: DaySchedule, items: RoundItems, bottle: str, verdict: str
) -> RoundSummary:
    passed = _segment(run, items.pass_, bottle)
    left = _segment(run, items.first, bottle)
    assert isinstance(passed, PassSummary) and left is not None  # it took part: race_day
    return RoundSummary(
        round=items.number,
        bottle=bottle,
        start_pressure=left.start_pressure,
        **_purge(run, items, bottle),
        launch_pressure=passed.start_pressure,
        **{name: getattr(passed, name) for name in _OF_THE_PASS},
        **_window(run, day, items, bottle),
        **_engine(run, items),
        **_recovery(run, plan, items, bottle, passed.end_time),
        **_charge(run, items, bottle, passed.end_mass),
        verdict=verdict,
    )


def _purge(run: Run, items: RoundItems, bottle: str) -> dict[str, Any]:
    shots = [_segment(run, k, bottle) for k in items.purges]
    done = [s for s in shots if isinstance(s, PassSummary)]
    if not done:
        return {"purge_used": 0.0, "purge_cost": 0.0}
    cost = done[0].start_pressure - done[-1].end_pressure
    return {"purge_used": sum(s.used for s in done), "purge_cost": cost}


def time_where(time: np.ndarray, true: np.ndarray) -> float:
    """Total time (s) over which a condition holds from one row to the next."""
    return float((np.diff(time) * true[:-1]).sum())


def _window(run: Run, day: RaceDay, items: RoundItems, bottle: str) -> dict[str, Any]:
    rows = run.rows_of(items.pass_)
    time = run.time[rows]
    outside = None
    if day.pass_.window is not None:
        p = run["pressure_gauge_Pa"][run.scenario.bottle_index(bottle), rows]
        low, high = day.pass_.window
        outside = time_where(time, (p < low) | (p > high))
    return {
        "inhibited": time_where(time, run["flow_inhibited"][rows]),
        "outside_window": outside,
        "line_fill_time": line_fill_time(run, items.pass_, purged=bool(items.purges)),
    }


def line_fill_time(run: Run, index: int, purged: bool) -> float | None:
    """Time (s) before liquid reaches the jets in pass ``index``; None where nothing must fill.

    Volume of hose and distribution over the volume flow at the pass's first flow; ``purged``
    hoses are full already. The first rush into an empty hose is faster than the steady flow
    counted here, so this is an upper bound.
    """
    from n2osim.results.engine_passes import first_flow

    item: Any = run.scenario.schedule[index]
    if item.outflow is not None:
        return None
    volume = 0.0
    for stage in item.stages or (item,):
        feed = run.scenario.feed_named(stage.feed or item.feed)
        full = feed.line.volume if purged and feed.line is not None else 0.0
        volume += max(feed.fill_volume - full, 0.0)
    if volume <= 0.0:
        return None
    flow, density = first_flow(run, index)
    return volume * density / flow if flow > 0.0 else None


_OF_THE_PASS = (
    "end_pressure",
    "pressure_sag",
    "minimum_pressure",
    "used",
    "flow_start",
    "flow_mean",
    "flow_end",
    "liquid_out_time",
)
_ENGINE = {
    "power_start": "power.start",
    "power_mean": "power.mean",
    "power_end": "power.end",
    "mixture_start": "mixture.start",
    "mixture_mean": "mixture.mean",
    "mixture_end": "mixture.end",
    "leanest": "mixture.minimum",
    "richest": "mixture.maximum",
}
_RANGE = {"mixture_lean_end": "low", "mixture_rich_end": "high"}
"""Figures of a round by where a pass's engine summary has them."""


def _engine(run: Run, items: RoundItems) -> dict[str, Any]:
    if run.engine is None:
        return dict.fromkeys((*_ENGINE, *_RANGE))
    one = next(p for p in run.engine.passes if p.index == items.pass_)
    found = {name: attrgetter(place)(one) for name, place in _ENGINE.items()}
    ends = {n: one.range and getattr(one.range.mixture, end) for n, end in _RANGE.items()}
    return found | ends


def _recovery(
    run: Run, plan: DaySchedule, items: RoundItems, bottle: str, end: float
) -> dict[str, Any]:
    refill = _segment(run, items.refill, bottle)
    since = end if refill is None else refill.start_time
    following = plan.rounds[items.number] if items.number < len(plan.rounds) else None
    hold: Any = _segment(run, items.reheat, bottle)
    reheat = None if hold is None else hold.warm_up_time
    back = recovery_time(run, items, following, bottle, since)
    return {"recovery_time": back, "reheat_time": reheat}


def _charge(run: Run, items: RoundItems, bottle: str, left: float) -> dict[str, Any]:
    weighed: Any = _segment(run, items.weigh, bottle)
    filled = _segment(run, items.refill, bottle)
    refilled = short = 0.0
    if filled is not None and items.refill is not None:
        item: Any = run.scenario.schedule[items.refill]
        if item.bottle in (None, bottle):
            rated = run.scenario.bottles[run.scenario.bottle_index(bottle)].bottle.capacity
            refilled = filled.end_mass - filled.start_mass
            short = max(0.0, (rated if item.to is None else item.to) - filled.end_mass)
    return {
        "charge_left": left,
        "weighed": weighed and weighed.charge,
        "weighed_error": weighed and (weighed.uncertainty or None),
        "refill_due": weighed and weighed.refill,
        "refilled": refilled,
        "refill_short": short,
    }
