"""Summaries of segments: what the table of quantities says of one segment, as named values."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from n2osim.results.numbers import Numbers
from n2osim.results.quantities import of_group, of_kind
from n2osim.scenario.scenario import Scenario


@dataclass(frozen=True)
class SegmentSummary:
    """A segment of one bottle: ``kind``, ``index`` into the schedule, ``label``, ``bottle``, and as
    attributes what the table of quantities has for it, by name without unit ("warm_up_time"). SI;
    pressures are gauge, Pa. None where there is no value.
    """

    kind: str
    index: int
    label: str
    bottle: str
    quantities: dict[str, float | int | bool | None] = field(repr=False)

    def __getattr__(self, name: str) -> Any:
        found = self.__dict__.get("quantities", {})
        if name in found:
            return found[name]
        from n2osim.errors import did_you_mean

        raise AttributeError(f"{type(self).__name__} has no {name!r}. {did_you_mean(name, found)}")

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *self.quantities})

    def as_dict(self) -> dict[str, float | int | bool | str | None]:
        """Everything as plain values."""
        out: dict[str, float | int | bool | str | None] = {"kind": self.kind, "index": self.index}
        return out | {"label": self.label, "bottle": self.bottle} | self.quantities


class HoldSummary(SegmentSummary):
    """A hold or rest of one bottle."""


class PassSummary(SegmentSummary):
    """A pass or purge of one bottle. Of several bottles each has its own net figures, at the
    instants and over the time that they flow together: a bottle that is filled by the others has
    negative ones. What the jets got is in ``Run.totals``."""


class WeighSummary(SegmentSummary):
    """A weighing."""


class RefillSummary(SegmentSummary):
    """A refill."""


class FlowTotal(SegmentSummary):
    """A pass or purge over all bottles (``bottle`` is "all")."""


_CLASSES: dict[str, type[SegmentSummary]] = {
    "held": HoldSummary,
    "flowing": PassSummary,
    "weighed": WeighSummary,
    "filled": RefillSummary,
    "together": FlowTotal,
}
for _group, _class in _CLASSES.items():
    _lines = [f"{q.field} ({q.unit}): {q.sentence}" for q in of_group("segment", _group)]
    _class.__doc__ = f"{_class.__doc__}\n\n    " + "\n    ".join(_lines)


def summaries(scenario: Scenario, records: np.ndarray) -> tuple[SegmentSummary, ...]:
    """Summaries of all segments carried out, of every bottle, from their records."""
    found = []
    for k, item in enumerate(scenario.schedule):
        for i, fitted in enumerate(scenario.bottles):
            if np.isnan(records["t0"][k, i]):  # not begun, or it has left the equation of state
                continue
            n = Numbers(records[None, k, i])
            values = {q.field: q.plain(q.formula(n)[0]) for q in of_kind(item.kind)}
            made = _CLASSES[item.reports]
            found.append(made(item.kind, k, item.label, fitted.name, values))
    return tuple(found)


def flow_totals(scenario: Scenario, records: np.ndarray) -> tuple[FlowTotal, ...]:
    """One total per pass and purge carried out, in order."""
    found = []
    for k, item in enumerate(scenario.schedule):
        if item.reports != "flowing" or np.isnan(records["t0"][k]).all():
            continue
        left = np.isnan(records["t0"][k])
        n, one = Numbers(records[None, k, ~left]), Numbers(records[None, k, np.argmin(left)])
        times = ("start_time", "end_time", "duration")
        values = {
            q.field: q.plain(q.formula(one)[0]) for q in of_group("segment") if q.field in times
        }
        values |= {q.field: q.plain(q.formula(n)[0]) for q in of_group("together")}
        found.append(FlowTotal(item.kind, k, item.label, "all", values))
    return tuple(found)
