"""The limits engine: every finding that a run gives rise to, most severe first.

Rules live in ``rules_bottle`` (charge, pressure, temperature), ``rules_controls`` (heater, switch,
supply), ``rules_flow`` (passes, lines, relief), ``rules_feed`` (bottlenecks, bottles that stand
apart), ``rules_mounting`` (liquid out of reach), ``rules_schedule`` (refills, deliveries) and
``rules_engine`` (mixture). A rule is a function of one bottle's
:class:`~n2osim.results.view.View` (or of the run) that yields :class:`Finding`; adding one means
writing it and naming it in its module's list.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from n2osim.results.findings import SEVERITIES, STANDING, Finding, in_order, merged
from n2osim.results.rules_bottle import BOTTLE_RULES as _BOTTLE
from n2osim.results.rules_controls import CONTROL_RULES
from n2osim.results.rules_engine import ENGINE_RULES
from n2osim.results.rules_feed import FEED_RULES
from n2osim.results.rules_flow import FLOW_RULES, LINE_RULES
from n2osim.results.rules_mounting import MOUNTING_RULES
from n2osim.results.rules_schedule import DELIVERY_RULES, REFILL_RULES
from n2osim.results.view import View, views

if TYPE_CHECKING:
    from n2osim.results.run import Run

BOTTLE_RULES: tuple[Callable[[View], Iterator[Finding]], ...] = (
    *_BOTTLE,
    *CONTROL_RULES,
    *FLOW_RULES,
    *MOUNTING_RULES,
    *REFILL_RULES,
)
CAR_RULES: tuple[Callable[[Run], Iterator[Finding]], ...] = (
    *LINE_RULES,
    *FEED_RULES,
    *ENGINE_RULES,
    *DELIVERY_RULES,
)


def find(run: Run) -> tuple[Finding, ...]:
    """All findings of a run, most severe first; the standing cautions close the list.

    What is found again and again is told once, with how often and the worst of it.
    """
    found: list[Finding] = []
    for view in views(run):
        for rule in BOTTLE_RULES:
            found.extend(rule(view))
    for car_rule in CAR_RULES:
        found.extend(car_rule(run))
    return in_order([*merged(found), *STANDING])


def worst(findings: tuple[Finding, ...]) -> str:
    """The highest severity among ``findings`` (``"caution"`` when there is nothing else)."""
    return min((f.severity for f in findings), key=SEVERITIES.index, default="caution")


__all__ = ["BOTTLE_RULES", "CAR_RULES", "SEVERITIES", "STANDING", "Finding", "find", "worst"]
