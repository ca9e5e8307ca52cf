"""The one table of limits, and what a run or a scenario is found to be against it.

:data:`LIMITS` is read by findings (:func:`find`), by questions as standing constraints
(:func:`margins`), by sheet, figures and ``n2osim check`` (:func:`find_as_set_up`). A new limit with
its finding is a reader and one entry in the ``rules_*`` file of its topic.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from n2osim.errors import InputError
from n2osim.results.findings import STANDING, Finding, in_order, merged
from n2osim.results.judge import Limit, Margin, Reading, cases, parts
from n2osim.results.rules_bottle import BOTTLE_LIMITS, FILLED_AS_FITTED
from n2osim.results.rules_controls import CONTROL_LIMITS
from n2osim.results.rules_engine import ENGINE_LIMITS, FUEL_AS_SET_UP
from n2osim.results.rules_feed import FEED_LIMITS
from n2osim.results.rules_flow import FLOW_LIMITS, STRANDED_AS_FITTED
from n2osim.results.rules_heater import HEATER_LIMITS
from n2osim.results.rules_schedule import SCHEDULE_LIMITS

if TYPE_CHECKING:
    from n2osim.numbers import Units
    from n2osim.results.run import Run
    from n2osim.scenario.scenario import Scenario

LIMITS: list[Limit] = [
    *BOTTLE_LIMITS,
    *CONTROL_LIMITS,
    *HEATER_LIMITS,
    *FLOW_LIMITS,
    *FEED_LIMITS,
    *ENGINE_LIMITS,
    *SCHEDULE_LIMITS,
]
BY_CODE: dict[str, Limit] = {limit.code: limit for limit in LIMITS}
_OWN = frozenset(BY_CODE)
_BEFORE_A_RUN = (FILLED_AS_FITTED, STRANDED_AS_FITTED, FUEL_AS_SET_UP)


def register_limit(limit: Limit) -> None:
    """Add a limit of another package; one of its own of that code makes way.

    InputError for a code of the package's own.
    """
    if limit.code in _OWN:
        raise InputError("limit", limit.code, "", "a code that is free", "choose another code")
    LIMITS[:] = [one for one in LIMITS if one.code != limit.code] + [limit]
    BY_CODE[limit.code] = limit


class Judged(NamedTuple):
    """A limit, what it was judged for, and the reading."""

    limit: Limit
    case: Any
    bottle: str
    reading: Reading

    @property
    def finding(self) -> Finding:
        """The finding of a reading outside the limit."""
        return self.limit.finding(self.case, self.reading, self.bottle)

    @property
    def beyond(self) -> bool:
        """Whether it is outside."""
        return self.limit.is_beyond(self.reading)


def judged(run: Run) -> list[Judged]:
    """Every reading of a run against every limit, inside or not."""
    views = run.views
    return [
        Judged(limit, case, bottle, r)
        for limit in LIMITS
        for case, bottle in cases(run, views, limit.of)
        for r in limit.readings(case)
    ]


def findings_of(readings: list[Judged]) -> tuple[Finding, ...]:
    """Findings of readings, most severe first, each told once; no standing cautions."""
    return in_order(merged([one.finding for one in readings if one.beyond]))


def find(run: Run) -> tuple[Finding, ...]:
    """All findings of a run, most severe first; the standing cautions close the list.

    What is found again and again is told once, with how often and the worst of it.
    """
    return (*findings_of(judged(run)), *STANDING)


def find_as_set_up(scenario: Scenario) -> tuple[Finding, ...]:
    """What can be found before anything is run, most severe first (no standing cautions)."""
    found = [
        Judged(limit, case, bottle, r)
        for limit in (*LIMITS, *_BEFORE_A_RUN)
        if limit.of in ("fitted", "set-up")
        for case, bottle in parts(scenario, limit.of)
        for r in limit.readings(case)
    ]
    return findings_of(found)


def margins(run: Run) -> tuple[Margin, ...]:
    """How far a run stays inside every limit with a bound that fits it (negative: outside).

    States that have no bound (a sensor in the line) have no margin; they are findings alone.
    """
    return tuple(
        Margin(
            limit,
            bottle,
            r.value,
            r.bound,
            limit.left(r),
            limit.kind,
            r.time,
            r.key,
            limit.value_is if r.value_is is None else r.value_is,
        )
        for limit, _, bottle, r in judged(run)
        if limit.bound_from and r.value is not None and r.bound is not None
    )


def kept_clear(run: Run) -> tuple[Margin, ...]:
    """Limits of the bottles that one keeps clear of and that the run stays inside, the tightest
    first: least room for what one keeps."""
    found = [m for m in margins(run) if m.limit.of == "bottle" and m.limit.margin > 0.0]
    return tuple(
        sorted((m for m in found if m.margin >= 0.0), key=lambda m: m.margin / m.limit.margin)
    )


def nearest(run: Run, units: Units) -> list[tuple[str, str]]:
    """("clear of", what and by how much) for the tightest of those of each kind of quantity."""
    several = len(run.scenario.bottles) > 1
    first: dict[str, Margin] = {}
    for m in kept_clear(run):
        first.setdefault(m.kind, m)
    return [("clear of", f"{m.bottle}: " * several + m.told(units)) for m in first.values()]
