"""The one way of designing: minimise or maximise something over fields, subject to what must hold.

:func:`optimize` asks anything; the named questions (heater, band, bottle, ...) are a few lines each
on :func:`design`, which it stands on.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from typing import Any

from n2osim.answers.answer import Answer, Broken, Figure
from n2osim.answers.fields import Case, Knob, as_cases, knob
from n2osim.answers.requirements import Hit, Needed, Requirement, kind_of, matching
from n2osim.answers.search import BUDGET, SAMPLES, Line, Problem, Trial, along, of_bottle
from n2osim.errors import InputError, NoSolutionError, UnknownNameError
from n2osim.numbers import Units
from n2osim.results.quantities import quantity
from n2osim.results.run import Run, simulate
from n2osim.scenario.fields import get_field, tied_names, with_fields
from n2osim.scenario.scenario import Scenario
from n2osim.units import parse

_ROUNDS = 3


def optimize(
    scenario: Scenario,
    *,
    minimize: str | None = None,
    maximize: str | None = None,
    over: str | Sequence[str] | Mapping[str, Sequence[Any] | None] | None = None,
    subject_to: Sequence[str] = (),
    cases: Mapping[str, Any] | None = None,
    spreads: Mapping[str, tuple[Any, Any]] | None = None,
    waive: Iterable[str] = (),
    resolution: float | None = None,
    budget: int = BUDGET,
) -> Answer:
    """The scenario with the fields set so that an objective is least or largest.

    Parameters
    ----------
    minimize, maximize : one of them: a field ("heater.power") or a quantity ("run.energy").
    over : fields that may change, with (lowest, highest) or a list of three or more values
        that can be had; default: the objective, where it is a field. A field of a bottle's part
        without a bottle's name moves in every bottle that has the part. Several fields are
        improved in turn: what is found is best in each of them alone.
    subject_to : requirements, "hold0.warm_up_time <= 30 min"; "CASE: " before one holds it to that
        case only.
    cases : name to changes by field ({"cold night": {"start": "20 degF", "ambient.temperature":
        "20 degF"}}); everything must hold in the scenario as given and in each of them.
    spreads : field to (lowest, highest): the answer holds at each of these ends too.
    waive : codes of standing limits that need not hold. Dangers and the cylinder's own limits hold
        otherwise, unless no value of the fields cures them: then the answer names them.
    resolution : of an edge, as a share of the value (default 0.001).
    budget : runs at most, about, for each field; where it ends a search of several fields, the
        answer says so.

    Raises NoSolutionError saying what stands against it; ``nearest`` is then the answer that comes
    nearest to the requirements and keeps the standing limits.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "20 lb"), fill="16.5 lb", start="60 degF",
    ...     heater=n2.Heater("300 W"), switch=n2.PressureSwitch("845 psig", "885 psig"),
    ...     schedule=[n2.Hold("90 min")],
    ... )
    >>> soon = "hold0.warm_up_time <= 45 min"
    >>> round(n2.optimize(car, minimize="heater.power", subject_to=[soon]).value)
    159
    """
    subject_to = [subject_to] if isinstance(subject_to, str) else subject_to
    if (minimize is None) == (maximize is None):
        raise InputError("objective", f"{minimize}, {maximize}", "", "minimize or maximize", "")
    name = str(minimize if maximize is None else maximize)
    if resolution is not None:
        resolution = parse(resolution, "fraction", name="resolution", low=0.0, high=1.0)
    ranges = _ranges(scenario, name, over)
    knobs = tuple(knob(scenario, n, among, resolution) for n, among in ranges.items())
    if name not in ranges:
        kind_of(name)  # UnknownNameError where there is no such quantity
    sense = 1 if maximize is None else -1
    return design(
        scenario,
        knobs,
        name,
        sense,
        question=f"{'Least' if sense > 0 else 'Largest'} {name}: {scenario.title}",
        subject_to=subject_to,
        cases=as_cases(cases),
        spreads=spreads or {},
        waive=waive,
        budget=budget,
    )


def _ranges(scenario: Scenario, name: str, over: Any) -> Mapping[str, Any]:
    if isinstance(over, Mapping):
        return over
    if over is not None:
        return dict.fromkeys([over] if isinstance(over, str) else over)
    try:
        for one in tied_names(scenario, name):
            get_field(scenario, one)
    except UnknownNameError as problem:
        raise InputError(
            "fields to change",
            None,
            "",
            "over=..., where the objective is not a field",
            f"say what may change ({problem.remedy})" if problem.remedy else "",
        ) from None
    return {name: None}


def design(
    scenario: Scenario,
    knobs: Sequence[Knob],
    objective: str,
    sense: int = 1,
    *,
    question: str,
    subject_to: Sequence[str | Needed] = (),
    cases: Sequence[Case] = as_cases(None),
    spreads: Mapping[str, tuple[Any, Any]] = {},
    waive: Iterable[str] = (),
    budget: int = BUDGET,
    nearest: bool = True,
    figures: Callable[[Run], Sequence[Figure]] | None = None,
    notes: Sequence[str] = (),
    samples: int = SAMPLES,
) -> Answer:
    """:func:`optimize` for knobs of any kind. objective: a knob's name or a quantity; sense 1: the
    least of it, -1: the largest. figures: what the answer prints after the knobs."""
    required = tuple(Requirement.of(x) if isinstance(x, str) else x for x in subject_to)
    looked, waived, ends = tuple(cases), frozenset(waive), spread_cases(spreads)
    runs = 0
    while True:
        problem = Problem(
            scenario,
            tuple(knobs),
            required,
            looked,
            waived,
            budget * len(knobs),
            samples,
            objective="" if objective in [k.name for k in knobs] else objective,
        )
        line = _solve(problem, objective, sense, nearest)
        runs += problem.runs
        worse = _worst(problem, line.best, ends)
        if worse is None:
            break
        looked = (*looked, worse)
    answer = _answer(problem, line, objective, question, ends, figures)
    _all_defined(problem, answer.run)
    return dataclasses.replace(answer, notes=(*notes, *answer.notes), runs=runs + 1)


def _solve(problem: Problem, objective: str, sense: int, nearest: bool) -> Line:
    """The best point: each knob in turn, until none helps."""
    names = [k.name for k in problem.knobs]

    def value(trial: Trial) -> float:
        if objective in names:
            return sense * trial.at[names.index(objective)]
        found = matching(trial.numbers, objective).values()
        return max((sense * x for x in found if not math.isnan(x)), default=math.inf)

    def edges(k: int) -> int:
        return sense if objective == names[k] else 0

    at = tuple(k.middle(k.low, k.high) for k in problem.knobs)
    try:
        if len(names) == 1:
            return along(problem, 0, at, value, edges(0))
        return _in_turn(problem, _start(problem, at), value, edges)
    except NoSolutionError:
        raise _none_fits(problem, nearest) from None


def _start(problem: Problem, at: tuple[float, ...]) -> tuple[float, ...]:
    """An allowed point to begin with: of an even scatter, the first one without a hit."""
    from scipy.stats import qmc

    scatter = qmc.Halton(len(problem.knobs), scramble=False).random(40)[1:]
    points = (
        tuple(
            k.values[int(u * len(k.values))] if k.values else k.low + u * (k.high - k.low)
            for k, u in zip(problem.knobs, row)
        )
        for row in scatter
    )
    found = next(filter(problem.allowed, (at, *points)), None)
    if found is None:
        raise NoSolutionError("nothing looked at is allowed")
    return found


def _in_turn(
    problem: Problem,
    at: tuple[float, ...],
    value: Callable[[Trial], float],
    edges: Callable[[int], int],
) -> Line:
    for _ in range(_ROUNDS):
        before = at
        for k in range(len(problem.knobs)):
            if problem.spent:
                break
            line = along(problem, k, at, value, edges(k))
            if value(problem.trial(line.best)) <= value(problem.trial(at)):
                at = line.best
        if at == before:
            break
    return Line(at, (), line.active, line.beyond)


def _worst(problem: Problem, at: tuple[float, ...], ends: Iterable[Case]) -> Case | None:
    """The end of a spread at which the point does not hold, the worst of them; None: all hold."""
    known = {c.name for c in problem.cases}
    found: list[tuple[float, Case]] = []
    for case in (c for c in ends if c.name not in known):
        hits, _ = problem.look(at, case)
        bad = [h.excess for h in hits if ("", *h.key[1:]) not in problem.always]
        if bad:
            found.append((max(bad), case))
    return max(found, key=lambda x: x[0])[1] if found else None


def spread_cases(spreads: Mapping[str, tuple[Any, Any]]) -> list[Case]:
    """A case for each end of each spread."""
    return [
        Case(f"{name} = {end}", partial(with_fields, changes={name: end}))
        for name, ends in spreads.items()
        for end in ends
    ]


def _all_defined(problem: Problem, run: Run) -> None:
    """InputError where a bounded quantity is none of an answer's run."""
    numbers = problem.numbers(run)
    for required in problem.requirements:
        for name in required.undefined(run, numbers):
            raise InputError(
                name, None, "", "a quantity that this scenario has", "bound another one"
            )


# --- saying it -----------------------------------------------------------------------------------
def _answer(
    problem: Problem,
    line: Line,
    objective: str,
    question: str,
    ends: Iterable[Case] = (),
    figures: Callable[[Run], Sequence[Figure]] | None = None,
) -> Answer:
    scenario = problem.scenario(line.best)
    run = simulate(scenario)
    numbers = problem.numbers(run)
    hits = list(problem.hits_of(run, numbers, ""))
    for case in problem.cases[1:]:
        hits += problem.look(line.best, case)[0]
    unsound = {h.case for h in hits}
    first = [Figure(k.name, k.words, x, k.kind) for k, x in zip(problem.knobs, line.best)]
    first.sort(key=lambda f: f.name != objective)
    more = figures(run) if figures is not None else _numbers(problem, run, objective)
    one = problem.knobs[0] if len(problem.knobs) == 1 else None
    return Answer(
        question,
        (*first, *more),
        scenario,
        run,
        decided_by=_decided(problem, line),
        then=_then(line, one),
        intervals=line.intervals,
        broken=tuple(
            Broken(h.code, h.text, h.case, h.key in problem.always) for h in _told_once(hits)
        ),
        notes=(
            *(f"holds also with {c.name}" for c in ends if c.name not in unsound),
            *_unfinished(problem),
        ),
        runs=problem.runs,
        more={"beyond": lambda: _breaks_beyond(problem, line, objective)},
    )


def _unfinished(problem: Problem) -> list[str]:
    """That a search of several fields ended with its budget: a better point may be near."""
    if len(problem.knobs) < 2 or not problem.spent:
        return []
    return [
        f"the search ended with its budget of {problem.budget:.0f} runs: a larger one may do better"
    ]


def _breaks_beyond(problem: Problem, line: Line, objective: str) -> bool:
    """Whether twice the resolution beyond the answer something breaks, or the range ends there."""
    names = [k.name for k in problem.knobs]
    if len(names) > 1 or objective not in names or not line.active or problem.knobs[0].values:
        return True
    one, x = problem.knobs[0], line.best[0]
    sides = (x - 2.0 * one.step(x), x + 2.0 * one.step(x))
    return any(not one.low <= v <= one.high or not problem.allowed((v,)) for v in sides)


def _numbers(problem: Problem, run: Run, objective: str) -> list[Figure]:
    """The objective and what was bounded, as the run gives them."""
    numbers = problem.numbers(run)
    names = [objective] if objective not in [k.name for k in problem.knobs] else []
    names += [r.name for r in problem.requirements if r.name not in names]
    found = []
    for name in names:
        for full, value in matching(numbers, name).items():
            entry = quantity(full)
            where = full.rpartition(".")[0].replace(".", " ")
            shown = None if math.isnan(value) else value
            found.append(Figure(full, f"{entry.label} ({where})", shown, entry.kind))
    return found


def _told_once(hits: Iterable[Hit]) -> list[Hit]:
    found: dict[tuple[str, str], Hit] = {}
    for h in sorted(hits, key=lambda h: h.case):
        found.setdefault((h.code, h.bottle), h)
    return list(found.values())


def _decided(problem: Problem, line: Line) -> tuple[str, ...]:
    if line.active:
        return tuple(_in_words(h) for h in _told_once(line.active)[:2])
    for one, x in zip(problem.knobs, line.best):
        if x in (one.low, one.high):
            return (
                one.ends[x == one.high] or "the end of the range or list that was looked through",
            )
    return ("the list of values",)


def _then(line: Line, one: Knob | None) -> tuple[str, ...]:
    if not line.beyond or one is None or not line.intervals:
        return ()
    x = line.best[0]
    span = next((s for s in line.intervals if s[0] <= x <= s[1]), None)
    if span is None:
        return ()
    far = span[1] if abs(span[1] - x) > abs(span[0] - x) else span[0]
    reason = _in_words(_told_once(line.beyond)[0])
    way = "up" if far > x else "down"
    return (f"allowed {way} to {Units().full(far, one.kind)} from there; beyond: {reason}",)


def _in_words(h: Hit, got: bool = False) -> str:
    return (h.text if got else h.words) + (f" ({h.case})" if h.case else "")


def _none_fits(problem: Problem, nearest: bool) -> NoSolutionError:
    """Why nothing fits, and the nearest that keeps the standing limits."""
    wanted = [t for t in problem.trials.values() if t.numbers] or list(problem.trials.values())
    ends = sorted(wanted, key=lambda t: t.at)
    one = problem.knobs[0]
    told = []
    for t in ends[:1] if len(ends) == 1 else (ends[0], ends[-1]):
        bad = [h for h in t.hits if h.key not in problem.always]
        at = Units().full(t.at[0], one.kind)
        end = {one.low: one.ends[0], one.high: one.ends[1]}.get(t.at[0])
        at += f" ({end})" if end else ""
        told.append(f"at {one.words} {at} {_in_words(_told_once(bad)[0], got=True)}" if bad else "")
    reason = "no solution because " + "; ".join(x for x in told if x)
    return NoSolutionError(reason, _nearest(problem) if nearest else None)


def _nearest(problem: Problem) -> Answer | None:
    """The point with the bottle's standing limits kept and the requirements missed by least; those
    of engine and passes, which are not what was asked about, count last."""

    def missed(t: Trial) -> tuple[float, float, float]:
        bad = [h for h in t.hits if h.key not in problem.always]
        other = [h for h in bad if h.standing and not of_bottle(h.code)]
        return (
            max((h.excess for h in bad if h.standing and h not in other), default=0.0),
            max((h.excess for h in bad if not h.standing), default=0.0),
            max((h.excess for h in other), default=0.0),
        )

    carried = [t for t in problem.trials.values() if t.numbers]
    if not carried:
        return None
    best = min(carried, key=missed)
    line = Line(best.at, (), best.hits, ())
    return _answer(problem, line, problem.knobs[0].name, "Nearest that can be had")
