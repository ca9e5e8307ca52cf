"""Looking for the best value: sample, refine every edge of what is allowed, one knob at a time.

What is allowed is seldom one interval (where in its cycle the switch stands at launch made three of
a heater's power), so an edge is only believed when the samples beside it agree.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import islice, permutations

from n2osim.answers.fields import Case, Knob
from n2osim.answers.requirements import Hit, Needed, standing
from n2osim.errors import (
    InputError,
    IntegrationError,
    N2OSimError,
    NoSolutionError,
    UnitError,
    UnknownNameError,
)
from n2osim.results.limits import BY_CODE
from n2osim.results.run import Run, simulate
from n2osim.scenario.scenario import Scenario

SAMPLES = 11
BUDGET = 80
"""Runs that a search may take before it stops refining."""
_COARSE = 4  # bisections of an edge that does not decide
_ORDERS = 24  # in which values of several knobs are put in

Point = tuple[float, ...]
Key = tuple[str, str, str]


@dataclass(frozen=True)
class Trial:
    """A point that was looked at: what does not hold there, and numbers of the case as given."""

    at: Point
    hits: tuple[Hit, ...]
    numbers: Mapping[str, float] = field(default_factory=dict)

    def allowed(self, always: frozenset[tuple[str, str, str]]) -> bool:
        """Whether all holds but what nothing can cure."""
        return all(h.key in always for h in self.hits)


@dataclass
class Problem:
    """A scenario with its knobs, what must hold in which cases, and the points looked at so far."""

    base: Scenario
    knobs: tuple[Knob, ...]
    requirements: tuple[Needed, ...]
    cases: tuple[Case, ...]
    waived: frozenset[str] = frozenset()
    budget: float = BUDGET
    samples: int = SAMPLES
    always: frozenset[tuple[str, str, str]] = frozenset()
    objective: str = ""
    trials: dict[Point, Trial] = field(default_factory=dict)
    runs: int = 0

    def scenario(self, at: Point) -> Scenario:
        """The scenario with the values put in, in the first order in which it can stand meanwhile:
        a switch that is to open below where it closed must first close lower."""
        refused: InputError | None = None
        for order in islice(permutations(zip(self.knobs, at)), _ORDERS):
            found = self.base
            try:
                for one, value in order:
                    found = one.apply(found, value)
            except InputError as problem:
                refused = refused or problem
                continue
            return found
        assert refused is not None
        raise refused

    def trial(self, at: Point) -> Trial:
        """The point, looked at once, in every case."""
        if at not in self.trials:
            hits: list[Hit] = []
            numbers: Mapping[str, float] = {}
            for case in self.cases:
                found, seen = self.look(at, case)
                hits += found
                numbers = numbers or seen
            self.trials[at] = Trial(at, tuple(hits), numbers)
        return self.trials[at]

    def look(self, at: Point, case: Case) -> tuple[list[Hit], Mapping[str, float]]:
        """What does not hold in one case, and its numbers (none where it cannot be carried out).

        UnknownNameError and UnitError are mistakes of whoever asked: no value cures them.
        """
        self.runs += 1
        try:
            run = simulate(case.change(self.scenario(at)))
        except (UnknownNameError, UnitError):
            raise
        except N2OSimError as problem:
            if isinstance(problem, IntegrationError):
                words = f"the run cannot be carried to its end: {problem.message}"
            else:
                words = str(problem)
            return [Hit(case.name, type(problem).__name__, "", words, 1e3, True)], {}
        numbers = self.numbers(run)
        return list(self.hits_of(run, numbers, case.name)), numbers

    def hits_of(self, run: Run, numbers: Mapping[str, float], case: str) -> Iterable[Hit]:
        """What does not hold in a run."""
        for requirement in self.requirements:
            yield from requirement.hits(run, numbers, case)
        yield from standing(run, case, self.waived)

    def allowed(self, at: Point) -> bool:
        """Whether a point is allowed."""
        return self.trial(at).allowed(self.always)

    @property
    def spent(self) -> bool:
        """Whether the budget is used up."""
        return self.runs >= self.budget

    def numbers(self, run: Run) -> Mapping[str, float]:
        """All numbers of a run; the engine's only where one is bounded or sought."""
        named = (self.objective, *(r.name for r in self.requirements))
        engine = any(w in n for n in named for w in ("mixture", "power", "fuel", "engine"))
        return run.numbers("*" if engine and run.scenario.engine is not None else None)


@dataclass(frozen=True)
class Line:
    """What one knob was found to allow.

    best: where the objective is best; intervals: allowed (lowest, highest); active: what does not
    hold just beyond best (empty: the end of the range or of the list), beyond: at the other end of
    its interval.
    """

    best: Point
    intervals: tuple[tuple[float, float], ...]
    active: tuple[Hit, ...]
    beyond: tuple[Hit, ...]


Objective = Callable[[Trial], float]


@dataclass
class _Span:
    """Allowed values, and the nearest ones known not to be (None: the end of the range)."""

    low: float
    high: float
    below: float | None
    above: float | None


def along(problem: Problem, k: int, at: Point, objective: Objective, edges: int) -> Line:
    """Best point along knob ``k`` from ``at``. edges: 1 where the objective rises with the knob,
    -1 where it falls, 0 where only runs tell.

    NoSolutionError where no sample is allowed.
    """
    one = problem.knobs[k]
    look = _Along(problem, k, at)
    samples = one.grid(problem.samples)
    if len(problem.knobs) > 1 and not one.values:
        samples = sorted({*samples, at[k]})
    for x in samples:
        look.trial(x)
    problem.always = _never_cured(problem)
    good = [x for x in samples if look.allowed(x)]
    if not good:
        raise NoSolutionError("nothing looked at is allowed")
    spans = look.spans(samples)
    if edges:
        best = spans[0] if edges > 0 else spans[-1]
        x = best.low if edges > 0 else best.high
        if not one.values:
            x = look.edge(x, best.below if edges > 0 else best.above)
    else:
        x = look.least(good, objective)
        best = min(spans, key=lambda s: max(s.low - x, x - s.high))
    active, beyond = look.around(x, edges)
    found = tuple(
        (min(s.low, x) if s is best else s.low, max(s.high, x) if s is best else s.high)
        for s in spans
    )
    return Line(look.put(x), found, active, beyond)


def _never_cured(problem: Problem) -> frozenset[Key]:
    """Standing limits that do not hold at any point that could be carried out; and those of engine
    and passes, which are not what was asked about, that do not hold wherever the rest does."""
    carried = [t for t in problem.trials.values() if t.numbers]
    everywhere = _common(carried or list(problem.trials.values()))
    meeting = [t for t in carried if not any(_hinders(h, everywhere) for h in t.hits)]
    elsewhere = {key for key in _common(meeting) if not of_bottle(key[1])}
    return frozenset(everywhere | elsewhere)


def _common(trials: Iterable[Trial]) -> set[Key]:
    keys = [{h.key for h in t.hits if h.standing} for t in trials]
    return set.intersection(*keys) if keys else set()


def _hinders(h: Hit, everywhere: set[Key]) -> bool:
    """Whether a hit stands against a point, those of engine and passes left aside."""
    return h.key not in everywhere and (not h.standing or of_bottle(h.code))


def of_bottle(code: str) -> bool:
    """Whether a limit is one of a bottle or its heating."""
    limit = BY_CODE.get(code)
    return limit is None or limit.of in ("bottle", "hold", "fitted")


@dataclass(frozen=True)
class _Along:
    """One knob of a problem that moves, the others standing as in ``at``."""

    problem: Problem
    k: int
    at: Point

    @property
    def one(self) -> Knob:
        return self.problem.knobs[self.k]

    def put(self, x: float) -> Point:
        return (*self.at[: self.k], x, *self.at[self.k + 1 :])

    def trial(self, x: float) -> Trial:
        return self.problem.trial(self.put(x))

    def allowed(self, x: float) -> bool:
        return self.problem.allowed(self.put(x))

    def spans(self, samples: list[float]) -> list[_Span]:
        """Allowed intervals between the samples, their edges refined a little."""
        spans: list[_Span] = []
        before: float | None = None
        for x in samples:
            if self.allowed(x):
                if spans and spans[-1].above is None:
                    spans[-1].high = x
                else:
                    spans.append(_Span(x, x, before, None))
            elif spans and spans[-1].above is None:
                spans[-1].above = x
            before = x
        if not self.one.values:
            for s in spans:
                s.low, s.below = self.bisect(s.low, s.below, _COARSE)
                s.high, s.above = self.bisect(s.high, s.above, _COARSE)
        return spans

    def bisect(self, good: float, bad: float | None, times: int) -> tuple[float, float | None]:
        """The edge between an allowed value and one that is not, to the resolution at best."""
        for _ in range(times):
            if bad is None or abs(bad - good) <= self.one.step(good) or self.problem.spent:
                break
            middle = self.one.middle(good, bad)
            if self.allowed(middle):
                good = middle
            else:
                bad = middle
        return good, bad

    def edge(self, good: float, bad: float | None) -> float:
        """The edge to the resolution, and on as far as what lies beyond is allowed after all."""
        if bad is None:
            return good
        one = self.one
        while not self.problem.spent:
            good, bad = self.bisect(good, bad, 40)
            assert bad is not None
            twice = good + 2.0 * one.step(good) * (1.0 if bad > good else -1.0)
            if not one.low <= twice <= one.high or not self.allowed(twice):
                break
            good, bad = twice, self.next_bad(twice, bad > good)
            if bad is None:
                return one.high if twice > good else one.low
        return good

    def next_bad(self, good: float, up: bool) -> float | None:
        """The nearest value beyond ``good`` known not to be allowed."""
        known = [x for x in self.one.grid(self.problem.samples) if (x > good if up else x < good)]
        bad = [x for x in known if not self.allowed(x)]
        return (min(bad) if up else max(bad)) if bad else None

    def least(self, good: list[float], objective: Objective) -> float:
        """Value with the least objective, allowed ones only: halves around the best one known."""
        one, best = self.one, min(good, key=lambda x: objective(self.trial(x)))
        if one.values:
            return best
        for _ in range(8):
            known = sorted(t.at[self.k] for t in self.trials())
            best = min(filter(self.allowed, known), key=lambda x: objective(self.trial(x)))
            here = known.index(best)
            near = [one.middle(best, known[j]) for j in (here - 1, here + 1) if 0 <= j < len(known)]
            tried = [x for x in near if abs(x - best) > one.step(best) and not self.problem.spent]
            best = min(
                (x for x in (*tried, best) if self.allowed(x)),
                key=lambda x: objective(self.trial(x)),
            )
            if not tried:
                break
        return best

    def trials(self) -> list[Trial]:
        """What was looked at so far, the other knobs standing as here."""
        found = self.problem.trials.values()
        return [t for t in found if t.at == self.put(t.at[self.k])]

    def around(self, x: float, edges: int) -> tuple[tuple[Hit, ...], tuple[Hit, ...]]:
        """What does not hold just beyond the best value, and at the other end of its interval."""
        always = self.problem.always
        known = [(t.at[self.k], t) for t in self.trials() if not t.allowed(always)]
        known.sort(key=lambda found: abs(found[0] - x))

        def beyond(up: bool) -> tuple[Hit, ...]:
            for v, t in known:
                if (v > x) is up:
                    return tuple(h for h in t.hits if h.key not in always)
            return ()

        return beyond(edges < 0), beyond(edges >= 0)
