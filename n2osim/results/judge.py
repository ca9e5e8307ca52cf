"""How a run is judged: limits, what is read off a run for them, margins and findings.

A :class:`Limit` says in words what must hold, and names a *reader*: a function of a
:class:`Case` (one bottle, one hold of one bottle, one pass of the engine, the whole car) that gives
:class:`Reading` s, the value and its bound. Findings and margins are both made from the readings,
so that what is printed, what sizing keeps and what a figure draws are the same numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from n2osim.numbers import Units, difference_of
from n2osim.results.findings import Finding
from n2osim.results.quantity import kind_of

if TYPE_CHECKING:
    from n2osim.results.run import Run
    from n2osim.results.view import View
    from n2osim.scenario.fitted import FittedBottle
    from n2osim.scenario.scenario import Scenario

CAUSES = {
    "air": "warm air around the bottle",
    "sun": "the sun",
    "stored heat": "heat stored in shell and heater",
    "heater": "the heater",
    "relay": "a relay that does not open",
    "sensor": "where the switch senses",
    "switch": "the switch or its setting",
    "cut-out": "the surface cut-out",
    "refill": "the refill",
    "charge": "the charge",
    "start": "the state it starts in",
    "shell": "the cylinder and its fittings",
    "line": "the line and its valves",
    "feed": "a part ahead of the jets",
    "jets": "the N2O jets and the pressure on them",
    "pick-up": "where the pick-up and the bottle lie",
    "fuel": "the fuel side",
    "engine": "the engine's own air and fuel",
    "cold bottle": "a bottle below its band",
    "manifold": "bottles that stand apart on one manifold",
    "schedule": "the schedule",
    "layering": "where the heater sits",
    "model": "choices of the model",
}
"""What can drive a finding, and how it is said."""


@dataclass(frozen=True)
class Reading:
    """What a reader finds: ``value`` and ``bound`` (SI), and the instant (s) that it is about.

    key: tells readings of one limit and bottle apart. details: fills the limit's words. severity,
    cause, source, value_is, limit_is: replace the limit's own where they are given. beyond: whether
    it is outside; None compares value and bound.
    """

    value: float | None = None
    bound: float | None = None
    time: float | None = None
    key: str = ""
    details: dict[str, Any] = field(default_factory=dict)
    severity: str | None = None
    cause: str | None = None
    source: str | None = None
    value_is: str | None = None
    limit_is: str | None = None
    beyond: bool | None = None


@dataclass(frozen=True)
class Case:
    """What a reader is asked about: the run, and the bottle or item that the limit belongs to.

    view: the bottle (None for the car). one: summary of the hold, pass or refill, or the engine's
    summary of a pass.
    """

    run: Run
    view: Any = None
    one: Any = None

    @property
    def item(self) -> Any:
        """The item of the schedule that ``one`` is about."""
        return self.run.scenario.schedule[self.one.index]


@dataclass(frozen=True)
class Part:
    """What a reader of a static limit is asked about: a scenario that nobody has run yet.

    fitted: the bottle (the first one for limits of the car).
    """

    scenario: Scenario
    fitted: FittedBottle


Read = Reading | None | Iterable[Reading]


@dataclass(frozen=True)
class Limit:
    """A bound on a quantity, or a state that must not be.

    Parameters
    ----------
    code : short fixed name.
    of : what it is judged for: "bottle", "hold" (rests too), "pass", "refill" (one of each per
        bottle; any other kind of item by its name), "engine" (a pass as the engine sees it),
        "car", or without any run "fitted" (a bottle as it is fitted) and "set-up" (the car's).
    read : gives the readings of a case.
    severity : "danger", "warning" or "note".
    words : what is wrong; ``{...}`` are details of the reading.
    quantity : what is bounded, by its name in the table of quantities where it has one; "" for
        states that have no number.
    kind : kind of quantity of value and bound; default: that of the quantity by its unit.
    sense : "above" or "below": the side of the bound that is outside.
    value_is, limit_is : what the numbers are, in words.
    cause : one of :data:`CAUSES`, or a function of (case, reading) that gives one.
    bound_from : where the bound comes from: "shell", "relief device", "supply", "switch band",
        "fuel", "rule", "scenario" or "" where there is none.
    source : regulation, paper, "computed" (the default), or "common practice, no source".
    margin : what one keeps clear of the bound unless told otherwise, SI of the kind.
    person : what a person must do that no change of the scenario stands for.
    information : True where it tells about the model or the rule, not about a harm.
    """

    code: str
    of: str
    read: Callable[[Any], Read]
    severity: str
    words: str
    quantity: str = ""
    kind: str = ""
    sense: str = "above"
    value_is: str = ""
    limit_is: str = ""
    cause: str | Callable[[Any, Reading], str] = "charge"
    bound_from: str = ""
    source: str = "computed"
    margin: float = 0.0
    person: str = ""
    information: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "kind", self.kind or kind_of(self.quantity))

    def readings(self, case: Any) -> list[Reading]:
        """Readings of a case, within the limit or not."""
        found = self.read(case)
        if found is None:
            return []
        return [found] if isinstance(found, Reading) else list(found)

    def is_beyond(self, r: Reading) -> bool:
        """Whether a reading is outside the limit."""
        if r.beyond is not None:
            return r.beyond
        if r.value is None or r.bound is None:
            return False
        return r.value > r.bound if self.sense == "above" else r.value < r.bound

    def left(self, r: Reading) -> float:
        """How far a reading is inside (negative: outside), SI."""
        assert r.value is not None and r.bound is not None
        return (r.bound - r.value) * (1.0 if self.sense == "above" else -1.0)

    def finding(self, case: Any, r: Reading, bottle: str) -> Finding:
        """The finding of a reading outside the limit."""
        cause = r.cause
        if cause is None:
            cause = self.cause if isinstance(self.cause, str) else self.cause(case, r)
        return Finding(
            severity=r.severity or self.severity,
            code=self.code,
            message=self.words.format(**r.details),
            value=r.value,
            limit=r.bound,
            dimension=self.kind,
            value_is=self.value_is if r.value_is is None else r.value_is,
            limit_is=self.limit_is if r.limit_is is None else r.limit_is,
            time=r.time,
            bottle=bottle,
            remedy=self.person.format(**r.details),
            source=r.source or self.source,
            key=r.key,
            cause=cause,
        )


@dataclass(frozen=True)
class Margin:
    """How far a run stays inside a limit (``margin``, negative: outside), SI of ``kind``.

    What one keeps clear of it unless told otherwise is ``limit.margin`` (0: nothing is told); the
    package's own are our choices, no source.
    """

    limit: Limit
    bottle: str
    value: float
    bound: float
    margin: float
    kind: str
    time: float | None
    key: str
    value_is: str

    def texts(self, units: Units) -> tuple[str, str, str, str]:
        """(what it is and how much, the limit, how far from it, how far one keeps) in words."""
        apart = difference_of(self.kind)
        return (
            f"{self.value_is} {units.full(self.value, self.kind)}",
            f"{self.limit.limit_is} {units.full(self.bound, self.kind)}",
            units.full(self.margin, apart),
            units.full(self.limit.margin, apart),
        )

    def told(self, units: Units) -> str:
        """In one line."""
        value, bound, left, kept = self.texts(units)
        thin = f", less than the {kept} one keeps" if self.margin < self.limit.margin else ""
        return f"{bound} by {left} ({value}){thin}"


def cases(run: Run, views: Sequence[View], of: str) -> Iterator[tuple[Any, str]]:
    """(case, bottle) of everything in a run that limits ``of`` a kind are judged for.

    views: those of the run, shared by all limits, so that each array is computed once.
    """
    if of == "car":
        yield Case(run), ""
    elif of == "engine":
        for one in run.engine.passes if run.engine is not None else ():
            yield Case(run, None, one), ""
    elif of == "bottle":
        for v in views:
            yield Case(run, v), v.name
    elif of in ("fitted", "set-up"):
        yield from parts(run.scenario, of)
    else:
        kinds = ("hold", "rest") if of == "hold" else (of,)
        for v in views:
            for segment in run.segments:
                if segment.bottle == v.name and segment.kind in kinds:
                    yield Case(run, v, segment), v.name


def parts(scenario: Scenario, of: str) -> Iterator[tuple[Part, str]]:
    """(case, bottle) for limits that need no run."""
    for fitted in scenario.bottles if of == "fitted" else scenario.bottles[:1]:
        yield Part(scenario, fitted), fitted.name if of == "fitted" else ""
