# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""The plan of a day at the strip: warm up, purge, wait, pass, cool down, weigh, refill, re-heat.

A :class:`RaceDay` says what happens in each round; :func:`schedule` writes it out as the schedule
of a scenario and remembers which item belongs to which round. :mod:`n2osim.answers.race_day`
carries it out and summarises it.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

from n2osim.errors import InputError
from n2osim.scenario.schedule import Hold, Item, Pass, Purge, Refill, Rest, Weigh
from n2osim.schema import Amount, Flag, MaybeAmount, Nested, Number, Part, Text, Whole, field

if TYPE_CHECKING:
    from n2osim.scenario.scenario import Scenario

MOST_ROUNDS = 200
_TEN_SECONDS = Pass(10.0)
_EXACT = Weigh()


def _time(words: str, default: float) -> Any:
    return field(Number("time", 0.0, 86400.0), words, default)


@dataclass(frozen=True)
class RaceDay(Part):
    """What happens on the day. Times are s or text; 0 leaves a step out.

    >>> import n2osim as n2
    >>> n2.RaceDay(rounds=5, pass_=n2.Pass("8.2 s"), staging="100 s", purges=2, reheat="35 min")
    RaceDay(rounds=5, pass_=Pass(duration='8.2 s'), purges=2, staging='100 s', reheat='35 min')
    """

    rounds: int = field(Whole(1, MOST_ROUNDS), "number of passes", 4)
    pass_: Pass = field(
        Nested(Pass),
        "the Pass of every round (its `delay` is the wait for the launch)",
        _TEN_SECONDS,
    )
    warm: Amount = _time(
        "longest warm-up before the first round; it ends when the pressure switch first opens, and "
        "lasts so long where bottles have switches of their own",
        5400.0,
    )
    soak: Amount = _time("in the band, heater on its switch, between that and the purge", 300.0)
    purge: Amount = _time("length of one purge shot", 0.5)
    purges: int = field(Whole(0, 20), "how many purge shots", 1)
    purge_gap: Amount = _time("between two purge shots", 1.0)
    purge_feed: str = field(Text(), "name of the feed that is purged through", "purge")
    staging: Amount = _time("wait between the last purge and the pass", 120.0)
    staging_heater: bool = field(Flag(), "whether the heater is on meanwhile", False)
    cool_down: Amount = _time("after the pass, heater off", 300.0)
    reheat: Amount = _time(
        "longest heating before the next round (and after the last); ends as `warm` does", 2700.0
    )
    weigh: Weigh | None = field(
        Nested(Weigh, none=True),
        "how the bottle is weighed after each pass (None: it is not)",
        _EXACT,
    )
    refill: Refill | None = field(
        Nested(Refill),
        "what a refill is (None: never). With neither `refill_every` nor `refill_below`, one after "
        "every round",
        None,
    )
    refill_every: int | None = field(
        Whole(1, MOST_ROUNDS), "refill after every so many rounds", None
    )
    refill_below: MaybeAmount = field(
        Number("mass", 0.0, low_open=True),
        "refill when the weighed charge less tare error and scale tolerance of `weigh` has fallen "
        "below this",
        None,
    )

    def __post_init__(self) -> None:
        asked = self.refill_every is not None or self.refill_below is not None
        if asked and self.refill is None:
            raise InputError(
                "race day refill",
                None,
                "",
                "a Refill",
                'say from what, for example Refill(supply_temperature="70 degF")',
            )
        if self.refill_every is not None and self.refill_below is not None:
            raise InputError(
                "race day refill",
                "refill_every and refill_below",
                "",
                "one of them",
                "leave one out",
            )
        if self.refill_below is not None and self.weigh is None:
            raise InputError(
                "race day weigh", None, "", "a Weigh", "refilling below a charge needs a weighing"
            )


class RoundItems(NamedTuple):
    """Positions in the schedule of one round's items (None: not there)."""

    number: int
    heat: int | None
    soak: int | None
    purges: tuple[int, ...]
    pass_: int
    weigh: int | None
    refill: int | None
    reheat: int | None

    @property
    def first(self) -> int:
        """Where the round leaves the pits: its first purge, or the pass."""
        return self.purges[0] if self.purges else self.pass_


class DaySchedule(NamedTuple):
    """A day written out: the schedule, and where each round's items are in it."""

    items: tuple[Item, ...]
    rounds: tuple[RoundItems, ...]


def refill_rounds(day: RaceDay) -> frozenset[int]:
    """Rounds (from 1) after which the plan itself says refill; those by weight come later."""
    if day.refill is None or day.refill_below is not None:
        return frozenset()
    step = day.refill_every or 1
    return frozenset(range(step, day.rounds + 1, step))


def ends_early(scenario: Scenario) -> bool:
    """Whether a heating may end when a switch first opens: of several, each with a heater of its
    own, the first to open would leave the other bottles cold."""
    return sum(b.switch is not None and b.heater is not None for b in scenario.bottles) <= 1


def schedule(
    day: RaceDay, refills: Collection[int] | None = None, early: bool = True
) -> DaySchedule:
    """Write the day out; ``refills``: rounds followed by a refill (None: as the plan says);
    ``early``: whether heating ends when the switch opens."""
    chosen = refill_rounds(day) if refills is None else refills
    items: list[Item] = []
    rounds: list[RoundItems] = []
    heat = _add(items, Hold(day.warm, until_open=early, label="warm-up") if day.warm else None)
    for number in range(1, day.rounds + 1):
        rounds.append(_round(day, number, number in chosen, heat, early, items))
        heat = rounds[-1].reheat
    return DaySchedule(tuple(items), tuple(rounds))


def _add(items: list[Item], item: Item | None) -> int | None:
    if item is None:
        return None
    items.append(item)
    return len(items) - 1


def _round(
    day: RaceDay, number: int, refill: bool, heat: int | None, early: bool, items: list[Item]
) -> RoundItems:
    """Append one round's items."""
    name = f"round {number}"
    soak = _add(items, Hold(day.soak, label=f"{name} soak") if day.soak else None)
    purges = _purges(day, name, items)
    if day.staging:
        items.append(Rest(day.staging, heater=day.staging_heater, label=f"{name} staging"))
    passed = _add(items, replace(day.pass_, label=f"{name} pass"))
    if day.cool_down:
        items.append(Rest(day.cool_down, label=f"{name} cool-down"))
    weigh = _add(items, replace(day.weigh, label=f"{name} weigh") if day.weigh else None)
    filled = None
    if refill and day.refill is not None:
        filled = _add(items, replace(day.refill, label=f"{name} refill"))
    again = _add(
        items, Hold(day.reheat, until_open=early, label=f"{name} re-heat") if day.reheat else None
    )
    assert passed is not None
    return RoundItems(number, heat, soak, purges, passed, weigh, filled, again)


def _purges(day: RaceDay, name: str, items: list[Item]) -> tuple[int, ...]:
    where: list[int] = []
    for k in range(day.purges if day.purge else 0):
        if k and day.purge_gap:
            items.append(Rest(day.purge_gap, label=f"{name} purge gap"))
        items.append(Purge(day.purge, feed=day.purge_feed, label=f"{name} purge"))
        where.append(len(items) - 1)
    return tuple(where)
