"""What may change: fields of a scenario, those tied to them moving along; and the cases."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

from n2osim.errors import InputError, NoSolutionError
from n2osim.results.run import Run
from n2osim.scenario.fields import get_field, tied_names, with_fields
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Hold, Item
from n2osim.schema import Number, declared
from n2osim.units import format_quantity, parse

_RANGES = {
    "power": (1.0, 5000.0),
    "coverage": (0.05, 0.95),
    "resistance": (0.02, 100.0),
    "bore": (1e-4, 0.012),
}
"""Last piece of a field's name: the range looked through (SI); others must be given one."""
_KINDS = {"fill": "mass", "temperature": "temperature"}
"""Kinds of quantity of fields that take other things too."""
_STEPS = 1000.0

Change = Callable[[Scenario, float], Scenario]
I = TypeVar("I", bound=Item)


@dataclass(frozen=True)
class Knob:
    """Something that may change. name, words, kind: of its value; low, high: where to look (SI).

    apply: a scenario with a value put in. values: those that can be had (rising; none: any).
    ends: what the ends of the range mean, in words. resolution: how finely an edge is looked for,
    as a share of the value, or of the range for one that may be zero or a gauge pressure.
    """

    name: str
    words: str
    kind: str
    low: float
    high: float
    apply: Change
    values: tuple[float, ...] = ()
    resolution: float = 1.0 / _STEPS
    ends: tuple[str, str] = ("", "")

    @property
    def log(self) -> bool:
        """Whether steps are proportions."""
        return self.low > 0.0 and self.high / self.low > 4.0

    def grid(self, count: int) -> list[float]:
        """Values to begin with."""
        if self.values:
            return list(self.values)
        ends = (math.log(self.low), math.log(self.high)) if self.log else (self.low, self.high)
        raw = [ends[0] + (ends[1] - ends[0]) * k / (count - 1) for k in range(count)]
        inner = [math.exp(x) if self.log else x for x in raw[1:-1]]
        return [self.low, *inner, self.high]

    def middle(self, a: float, b: float) -> float:
        """Half way."""
        return math.sqrt(a * b) if self.log else 0.5 * (a + b)

    def step(self, at: float) -> float:
        """Resolution at a value."""
        return self.resolution * (at if self.log else self.high - self.low)


def knob(
    scenario: Scenario,
    name: str,
    among: Sequence[Any] | None = None,
    resolution: float | None = None,
    listed: bool = False,
) -> Knob:
    """The knob of a field. among: (lowest, highest), or a list of values of three or more
    (``listed``: of any number).

    InputError for a field that is not there, or whose range is not known and not given.
    """
    names = tied_names(scenario, name)
    for one in names:
        get_field(scenario, one)
    kind = _kind(scenario, name)
    known = _RANGES.get(name.rpartition(".")[2])
    given = known if among is None else tuple(parse(x, kind, name=name) for x in among)
    listed = among is not None and (listed or len(among) > 2)
    if given is None or len(given) < (1 if listed else 2):
        raise InputError(
            f"range of {name}", None, "", "(lowest, highest), or a list of values", "say it"
        )
    given = tuple(sorted(given))
    return Knob(
        name,
        name.replace("_", " ").replace(".", " "),
        kind,
        given[0],
        given[-1],
        lambda s, x: with_fields(s, dict.fromkeys(names, x)),
        given if listed else (),
        1.0 / _STEPS if resolution is None else resolution,
    )


def _kind(scenario: Scenario, name: str) -> str:
    """Kind of quantity that a field is declared to hold."""
    parent, _, last = name.rpartition(".")
    owners = (get_field(scenario, parent) if parent else None, scenario.bottles[0], scenario)
    found = (declared(type(x)).get(last) for x in owners if dataclasses.is_dataclass(x))
    kind = next((d.kind for d in found if d is not None), None)
    return kind.dimension if isinstance(kind, Number) else _KINDS.get(last, "number")


@dataclass(frozen=True)
class Case:
    """A way in which the scenario may stand: name ("": as given) and what is otherwise then."""

    name: str
    change: Callable[[Scenario], Scenario]


def as_cases(cases: Mapping[str, Any] | None) -> tuple[Case, ...]:
    """The scenario as given, and each case: changes by dotted name, or a function of a scenario."""
    found = [Case("", lambda scenario: scenario)]
    for name, what in (cases or {}).items():
        if not callable(what) and not isinstance(what, Mapping):
            raise InputError(f"case {name}", what, "", "fields with their values", "")
        change = what if callable(what) else partial(with_fields, changes=what)
        found.append(Case(name, change))
    return tuple(found)


def weather(scenario: Scenario, air: float) -> Scenario:
    """Air of that temperature (K) throughout, bottles as warm as it at first."""
    bottles = tuple(dataclasses.replace(b, start=air, wall_start=None) for b in scenario.bottles)
    ambient = dataclasses.replace(scenario.ambient, temperature=air)
    return scenario.replace(bottles=bottles, ambient=ambient)


def first_hold(scenario: Scenario, least: float) -> tuple[Scenario, str]:
    """The scenario with a first hold of at least ``least`` (s) that does not end early, and what
    was changed for it in words ("" for nothing). It counts from wherever it is in the schedule."""
    minutes = f"{least / 60.0:.0f} min"
    at = next((k for k, x in enumerate(scenario.schedule) if isinstance(x, Hold)), None)
    items = list(scenario.schedule)
    if at is None:
        told = f"the schedule has no hold: one of {minutes} is put before it"
        return scenario.replace(schedule=[Hold(least), *items]), told
    hold = items[at]
    assert isinstance(hold, Hold)
    if hold.duration >= least and not hold.until_open:
        return scenario, ""
    items[at] = dataclasses.replace(hold, duration=max(least, hold.duration), until_open=False)
    return scenario.replace(schedule=items), (
        f"the first hold of the schedule lasts {minutes} here, to see what comes after the switch "
        "opens; what follows it comes later"
    )


def first_of(scenario: Scenario, kind: type[I]) -> I | None:
    """The first item of a kind in the schedule; None where there is none."""
    return next((x for x in scenario.schedule if isinstance(x, kind)), None)


def part_needed(scenario: Scenario, part: str, why: str) -> None:
    """InputError where no bottle has a heater, switch, ..."""
    if all(getattr(b, part) is None for b in scenario.bottles):
        raise InputError(part, None, "", f"a scenario with a {part}", why)


def below_at_first(run: Run, top: float | None = None) -> None:
    """NoSolutionError where a bottle with a switch begins its first hold above ``top`` (gauge, Pa;
    default: its own opening point)."""
    bottles = run.scenario.bottles
    for hold in run.holds[: len(bottles)]:
        switch = bottles[run.scenario.bottle_index(hold.bottle)].switch
        if switch is None:
            continue
        most = switch.opens if top is None else top
        if hold.start_pressure >= most:
            raise NoSolutionError(
                "no solution because the bottle stands at "
                f"{format_quantity(hold.start_pressure, 'gauge_pressure')} at first, above "
                f"{format_quantity(most, 'gauge_pressure')}: a switch and a heater cannot cool it"
            )
