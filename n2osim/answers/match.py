"""Meeting targets: as many fields as wanted quantities, snapped to what can be had, run again."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from n2osim.answers.answer import Answer, Broken, Figure
from n2osim.answers.fields import Knob, knob
from n2osim.answers.requirements import kind_of, matching, standing
from n2osim.errors import InputError, NoSolutionError
from n2osim.numbers import Units
from n2osim.results.quantities import quantity
from n2osim.results.run import Run, simulate
from n2osim.scenario.fields import get_field
from n2osim.scenario.scenario import Scenario
from n2osim.units import parse

_NEAR = 1e-4
_ROUNDS = 12
_STEP = 0.02  # of ln(value): for slopes
_MOST = 0.5  # of ln(value): longest step
_NEIGHBOURS = 3  # sizes of a list that are tried for each field

Point = tuple[float, ...]


def match(
    scenario: Scenario,
    targets: Mapping[str, Any],
    over: Mapping[str, Sequence[Any] | None],
    *,
    question: str = "",
) -> Answer:
    """The scenario with fields set so that quantities of its run meet targets.

    targets : quantity to value ({"pass0.power_mean": "100 hp"}). over : as many fields, each with
    the values that can be had (three or more) or None for any in its usual range. With lists the
    nearest values around the exact answer are run in every combination, and the one with the least
    largest deviation is taken; ``more["exact"]`` keeps what was asked for without lists.

    Raises NoSolutionError where no values meet the targets, InputError for ranges not above 0.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "10 lb"), fill="8.3 lb", start="80 degF",
    ...     feed=n2.Feed(n2.Jets(2, "0.028 in")), schedule=[n2.Pass("8 s")],
    ... )
    >>> found = n2.match(car, {"pass0.used": "0.8 lb"}, {"feed.jets.bore": None})
    >>> print(f"{found.get('feed.jets.bore', 'in'):.3f} in")
    0.040 in
    """
    if len(targets) != len(over) or not targets:
        raise InputError("match", f"{len(targets)} targets", "", "as many fields as targets", "")
    wanted = {n: parse(x, kind_of(n), name=n) for n, x in targets.items()}
    knobs = tuple(knob(scenario, n, among) for n, among in over.items())
    for one in knobs:
        if one.low <= 0.0:
            raise InputError(
                f"range of {one.name}", one.low, "", "above 0", "proportions are tried"
            )
    start = tuple(_fitted(scenario, k) for k in knobs)
    found = Matching(scenario, knobs, tuple(wanted), tuple(wanted.values()), start)
    exact = found.solve()
    best = exact
    if any(k.values for k in knobs):
        best = min(found.around(exact), key=lambda at: max(map(abs, found.errors(at))))
    return found.answer(best, exact, question or f"Values that meet targets: {scenario.title}")


def _fitted(scenario: Scenario, one: Knob) -> float:
    """What the scenario has, where that is inside the range; else the range's middle."""
    value = get_field(scenario, one.name)
    if isinstance(value, float) and one.low <= value <= one.high:
        return value
    return one.middle(one.low, one.high)


@dataclass
class Matching:
    """Fields against targets, with the runs made so far."""

    base: Scenario
    knobs: tuple[Knob, ...]
    names: tuple[str, ...]
    targets: tuple[float, ...]
    start: Point | None = None
    known: dict[Point, Run] = field(default_factory=dict)

    def scenario(self, at: Point) -> Scenario:
        """The scenario with the values put in."""
        found = self.base
        for one, x in zip(self.knobs, at):
            found = one.apply(found, x)
        return found

    def run(self, at: Point) -> Run:
        """Its run, made once."""
        if at not in self.known:
            self.known[at] = simulate(self.scenario(at))
        return self.known[at]

    def values(self, at: Point) -> tuple[float, ...]:
        """The wanted quantities there: of several bottles the mean."""
        numbers = self.run(at).numbers(
            "*" if self.base.engine is not None else None  # the engine's cost more
        )
        found = []
        for name in self.names:
            each = list(matching(numbers, name).values())
            if not each:
                raise InputError("target", name, "", "a quantity of this scenario", "")
            found.append(float(np.mean(each)))
        return tuple(found)

    def errors(self, at: Point) -> list[float]:
        """ln(value / target); large where there is no value."""
        return [
            math.log(v / t) if v > 0.0 and t > 0.0 else 10.0
            for v, t in zip(self.values(at), self.targets)
        ]

    def solve(self) -> Point:
        """Newton's method in logarithms from the middle of the ranges (or what is fitted)."""
        first = self.start or tuple(k.middle(k.low, k.high) for k in self.knobs)
        u = np.array([math.log(x) for x in first])
        low = np.array([math.log(k.low) for k in self.knobs])
        high = np.array([math.log(k.high) for k in self.knobs])
        for _ in range(_ROUNDS):
            e = np.array(self.errors(_point(u)))
            if np.abs(e).max() <= _NEAR:
                return _point(u)
            slopes = self._slopes(u, e, high)
            step = np.linalg.lstsq(slopes, -e, rcond=None)[0]
            step *= min(1.0, _MOST / max(float(np.abs(step).max()), 1e-12))
            moved = np.clip(u + step, low, high)
            if np.abs(moved - u).max() < 1e-9:
                break
            u = moved
        e = np.array(self.errors(_point(u)))
        if np.abs(e).max() <= 50.0 * _NEAR:
            return _point(u)
        raise NoSolutionError(self._why(_point(u)))

    def _slopes(self, u: np.ndarray, e: np.ndarray, high: np.ndarray) -> np.ndarray:
        columns = []
        for k in range(len(u)):
            h = _STEP if u[k] + _STEP <= high[k] else -_STEP
            moved = u.copy()
            moved[k] += h
            columns.append((np.array(self.errors(_point(moved))) - e) / h)
        return np.array(columns).T

    def _why(self, at: Point) -> str:
        told = []
        units = Units()
        for name, got, wanted in zip(self.names, self.values(at), self.targets):
            entry = quantity(name)
            there = f"{entry.label} comes to {units.full(got, entry.kind)} of"
            if not math.isfinite(got):  # a pass that its window holds shut has no power
                there = f"nothing flows: no {entry.label} where it should be"
            told.append(f"{there} {units.full(wanted, entry.kind)}")
        values = ", ".join(f"{k.words} {units.full(x, k.kind)}" for k, x in zip(self.knobs, at))
        return f"no solution because with {values} {'; '.join(told)}"

    def around(self, at: Point, count: int = _NEIGHBOURS) -> list[Point]:
        """Combinations of the nearest values of each list (exact where there is none)."""
        offered = []
        for one, x in zip(self.knobs, at):
            near = sorted(one.values, key=lambda v: abs(math.log(v / x)))[:count]
            offered.append(near or [x])
        return list(itertools.product(*offered))

    def answer(
        self,
        at: Point,
        exact: Point,
        question: str,
        figures: Callable[[Run], Sequence[Figure]] | None = None,
        **more: Any,
    ) -> Answer:
        """The answer for the point taken."""
        run = self.run(at)
        shown = [Figure(k.name, k.words, x, k.kind) for k, x in zip(self.knobs, at)]
        if figures is not None:
            shown += figures(run)
        else:
            shown += [
                Figure(n, quantity(n).label, v, quantity(n).kind)
                for n, v in zip(self.names, self.values(at))
            ]
        return Answer(
            question,
            tuple(shown),
            self.scenario(at),
            run,
            broken=tuple(Broken(h.code, h.text) for h in standing(run, "")),
            runs=len(self.known),
            more={"exact": dict(zip([k.name for k in self.knobs], exact))},
            **more,
        )


def _point(u: np.ndarray) -> Point:
    return tuple(float(math.exp(x)) for x in u)
