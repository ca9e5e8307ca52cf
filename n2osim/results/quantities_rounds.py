"""Quantities of a round: a pass with the purges before it and what is done after it.

A formula takes a :class:`Round`. Any schedule with passes has rounds; those of a planned day with
its window, its recovery and its power are in ``n2osim.answers.race_day``.
"""

from __future__ import annotations

import numpy as np

from n2osim.results.numbers import Numbers
from n2osim.results.quantity import NEVER, UNDEFINED, Table


class Round:
    """The round about the pass at ``index`` of a schedule of these kinds, for one bottle.

    purges: those between the last hold, weighing, refill or pass and this pass. weigh, refill,
    hold: the first of each before the next round leaves (None: not there). records: (member,
    segment).
    """

    def __init__(self, records: np.ndarray, kinds: tuple[str, ...], index: int) -> None:
        self.records = records
        self.index = index
        self.purges = _purges(kinds, index)
        end = next((k for k in range(index + 1, len(kinds)) if kinds[k] == "pass"), len(kinds))
        if end < len(kinds):
            end = min([end, *_purges(kinds, end)])
        after = {kinds[k]: k for k in reversed(range(index + 1, end))}
        self.weigh, self.refill, self.hold = (after.get(x) for x in ("weigh", "refill", "hold"))

    def at(self, index: int | None) -> Numbers:
        """Numbers of an item of the schedule; NaN for one that is not there."""
        if index is None:
            return Numbers(np.full(len(self.records), np.nan).astype(self.records.dtype))
        return Numbers(self.records[:, index])

    @property
    def shot(self) -> Numbers:
        """Numbers of its pass."""
        return self.at(self.index)

    @property
    def left(self) -> Numbers:
        """Numbers of the item with which it leaves the pits: its first purge, or the pass."""
        return self.at(min([self.index, *self.purges]))


def _purges(kinds: tuple[str, ...], index: int) -> list[int]:
    found = []
    for k in range(index - 1, -1, -1):
        if kinds[k] not in ("purge", "rest"):
            break
        if kinds[k] == "purge":
            found.append(k)
    return found[::-1]


def _purge_used(r: Round) -> np.ndarray:
    return np.sum([r.at(k).used for k in r.purges], axis=0) + np.zeros(len(r.records))


ROUNDS = Table()
_add = ROUNDS.rows("round")
_add("leave_pressure_gauge_Pa", "when it leaves the pits", lambda r: r.left.p0 - r.left.ambient)
_add("purge_used_kg", "N2O vented by its purges", _purge_used)
_add("purge_cost_Pa", "pressure lost before launch", lambda r: r.left.p0 - r.shot.p0)
_add("launch_pressure_gauge_Pa", "when the pass begins", lambda r: r.shot.p0 - r.shot.ambient)
_add("pressure_sag_Pa", "launch less end of the pass", lambda r: r.shot.p0 - r.shot.p1)
_add("used_kg", "N2O that purges and pass take", lambda r: _purge_used(r) + r.shot.used)
_add("charge_left_kg", "charge after the pass", lambda r: r.shot.m1)
_add("weighed_kg", "charge by weight", lambda r: r.at(r.weigh).m0, UNDEFINED)
_add("refilled_kg", "N2O let in", lambda r: r.at(r.refill).m1 - r.at(r.refill).m0, UNDEFINED)
_add(
    "reheat_time_s",
    "from the start of the hold behind it until the switch opened",
    lambda r: r.at(r.hold).first_off - r.at(r.hold).t0,
    NEVER,
)
