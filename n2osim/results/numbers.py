"""Numbers of segments and bottles that the formulas of the quantities read.

One record per segment and bottle: what the compiled :mod:`~n2osim.results.summarise` finds in the
rows, what needs several bottles at once, and what the formulas must know of the hardware. A single
run has one such table; an ensemble stacks those of its members.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine import recorder
from n2osim.engine.pack import Packed
from n2osim.results import summarise as S
from n2osim.results.quantities_series import has_left

_SMALL = 1e-3  # of the peak: less flow than this does not count (as for one bottle)
_OPENING = 1.5e-3  # s after the valve begins to open at which the start is read (as for one bottle)

MORE = (
    "crossflow",  # kg taken in from other bottles
    "flowmax_all",  # kg/s of all bottles together
    "kind",  # of the schedule's item, layout.kind_number
    "ambient",  # Pa absolute
    "closes",  # set points of the switch in charge, Pa gauge
    "opens",
    "empty_mass",  # kg
    "weigh_error",  # kg
    "refill_below",  # kg, NaN: no limit
    "steps",
    "events",
)
FIELDS = (*S.RAW, *MORE)
DTYPE = np.dtype([(name, float) for name in FIELDS])
"""One record: what :mod:`~n2osim.results.summarise` fills in, then ``MORE``."""


class Numbers:
    """Fields of records as attributes: ``n.t0``, ``n.pmax``, ``n.opens``; arrays of any shape."""

    def __init__(self, records: np.ndarray) -> None:
        self.records = records

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_") or name == "records" or name not in FIELDS:
            raise AttributeError(name)
        return self.records[name]


def numbers_table(packed: Packed, rows: np.ndarray, counts: np.ndarray) -> np.ndarray:
    """Records (segment, bottle) of a run's rows; NaN for segments that were not carried out."""
    table = np.full((len(packed.kinds), packed.n_bottles, len(FIELDS)), np.nan)
    S.fill(rows, packed.ny, packed.n_bottles, packed.nodes, table)
    records = table.view(DTYPE)[..., 0]
    records["crossflow"] = 0.0
    records["flowmax_all"] = records["flowmax"].max(axis=1, keepdims=True)
    if packed.n_bottles > 1:
        _common_flow(packed, rows, records)
    _facts(packed, records)
    _forget_left(packed, rows, records)
    records["steps"], records["events"] = counts[recorder.N_STEPS], counts[recorder.N_EVENTS]
    return records


def _facts(packed: Packed, records: np.ndarray) -> None:
    """What the formulas must know of the scenario."""
    b = packed.setup.bottles
    records["kind"] = np.array(packed.kinds, float)[:, None]
    records["ambient"] = packed.p_ambient
    # Power is asked for by the controller's switch: a bottle that follows another is judged by its
    # own readings but the controller's set points.
    for name in ("closes", "opens"):
        records[name] = b[name][b["controller"]]
    records["empty_mass"] = [f.bottle.empty_mass for f in packed.scenario.bottles]
    for k, item in enumerate(packed.scenario.schedule):
        for name, value in item.facts.items():
            records[name][k] = value


def _forget_left(packed: Packed, rows: np.ndarray, records: np.ndarray) -> None:
    """No numbers of a bottle from the segment on in which it left the equation of state."""
    for i, gone in enumerate(has_left(packed, rows)):
        if gone.any():
            records[int(rows[np.argmax(gone), 1]) :, i] = np.nan


def _flow_of(time: np.ndarray, flow: np.ndarray) -> tuple[int, int, float]:
    """Rows at which a flow starts and ends, and s for which it lasts: less than a thousandth of its
    peak is none. Rows are -1 where there is none."""
    there = flow > _SMALL * max(float(flow.max()), 0.0)
    if not there.any():
        return -1, -1, 0.0
    rows = np.flatnonzero(there)
    opening = rows[time[rows] <= time[rows[0]] + _OPENING]
    lasting = float((np.diff(time) * (there[1:] | there[:-1])).sum())
    return int(opening[-1]), int(rows[-1]), lasting


def _common_flow(packed: Packed, rows: np.ndarray, records: np.ndarray) -> None:
    """Make the flows of several bottles those of the same instants.

    Bottles on a manifold level out as the valves open, so that one can take in while the jets draw:
    flows of one bottle then say nothing about what reaches the engine. Start, end, mean and time of
    flow are where the bottles together have flow.
    """
    nb = packed.n_bottles
    flow_at = [S.out_column(packed.ny, i, L.O_MDOT) for i in range(nb)]
    first = recorder.ROW_HEAD + nb * packed.width + 1 + L.M_OUT
    out_at = [first + i * L.N_TOTALS for i in range(nb)]
    for s in range(len(records)):
        r0, r1 = np.searchsorted(rows[:, 1], [s, s + 1])
        if r1 <= r0:
            continue
        flows, out = rows[r0:r1][:, flow_at].T, rows[r0:r1][:, out_at].T
        one = records[s]
        if not flows.any():
            continue
        one["crossflow"] = [float(np.maximum(-np.diff(x), 0.0).sum()) for x in out]
        one["flowmax_all"] = flows.sum(axis=0).max()
        start, end, lasting = _flow_of(rows[r0:r1, 0], flows.sum(axis=0))
        if start >= 0:
            one["flow0"], one["flow1"] = flows[:, start], flows[:, end]
            one["flow_time"] = lasting
            one["flowmean"] = one["used"] / lasting if lasting > 0.0 else 0.0
