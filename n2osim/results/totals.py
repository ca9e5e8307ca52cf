"""What passes and purges draw from all bottles together, and what bottles give each other.

Bottles on a manifold level out as the valves open, so that one can take in while the jets draw:
flows of one bottle then say nothing about what reaches the engine. The manifold holds nothing, so
the sum over the bottles is what leaves through the jets (and an opened relief device).
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.recorder import ROW_HEAD
from n2osim.results import summarise as S

if TYPE_CHECKING:
    from n2osim.engine.pack import Packed
    from n2osim.results.run import Run

_SMALL = 1e-3  # of the peak: less flow than this does not count (as for one bottle)
_OPENING = 1.5e-3  # s after the valve begins to open at which the start is read (as for one bottle)


@dataclass(frozen=True)
class FlowTotal:
    """A pass or purge over all bottles. SI.

    used: kg that left through the jets or the vent. flow_*: kg/s, as in PassSummary, of all
    bottles together; flow_time: s with flow. crossflow: kg that bottles took in from each other
    (already taken off ``used``).
    """

    kind: str
    index: int
    label: str
    start_time: float
    end_time: float
    used: float
    flow_start: float
    flow_mean: float
    flow_max: float
    flow_end: float
    flow_time: float
    crossflow: float

    def as_dict(self) -> dict[str, Any]:
        """All fields."""
        return asdict(self)


class _Flow(NamedTuple):
    """Rows at which the flow starts and ends, and s for which it lasts (rows -1: none)."""

    first: int
    last: int
    time: float


def _flow_of(time: np.ndarray, flow: np.ndarray) -> _Flow:
    """Where a course of flow starts and ends: less than a thousandth of its peak is none."""
    there = flow > _SMALL * max(float(flow.max()), 0.0)
    if not there.any():
        return _Flow(-1, -1, 0.0)
    rows = np.flatnonzero(there)
    opening = rows[time[rows] <= time[rows[0]] + _OPENING]
    lasting = float((np.diff(time) * (there[1:] | there[:-1])).sum())
    return _Flow(int(opening[-1]), int(rows[-1]), lasting)


def let_in(mass_out: np.ndarray) -> float:
    """Mass (kg) that came in, from a running total of what went out."""
    return float(np.maximum(-np.diff(mass_out), 0.0).sum())


def common_flow(packed: Packed, rows: np.ndarray, table: np.ndarray) -> None:
    """Make the flows of several bottles those of the same instants, in ``table`` (segment, bottle,
    N_SUMMARY): start, end, mean and duration of flow are where the bottles together have flow."""
    if packed.n_bottles < 2:
        return
    segment = rows[:, 1]
    columns = [S.out_column(packed.ny, i, L.O_MDOT) for i in range(packed.n_bottles)]
    for s, kind in enumerate(packed.kinds):
        r0, r1 = np.searchsorted(segment, [s, s + 1])
        if kind not in (L.PASS, L.PURGE) or r1 <= r0:
            continue
        flows = rows[r0:r1][:, columns].T
        at = _flow_of(rows[r0:r1, 0], flows.sum(axis=0))
        if at.first < 0:
            continue
        table[s, :, S.S_FLOW0] = flows[:, at.first]
        table[s, :, S.S_FLOW1] = flows[:, at.last]
        table[s, :, S.S_FLOW_TIME] = at.time
        table[s, :, S.S_FLOWMEAN] = table[s, :, S.S_USED] / at.time if at.time > 0.0 else 0.0


def taken_in(packed: Packed, rows: np.ndarray, i: int) -> float:
    """Mass (kg) that bottle ``i`` took in over ``rows`` of one segment."""
    if packed.n_bottles < 2:
        return 0.0
    total = ROW_HEAD + packed.n_bottles * packed.width + 1 + i * L.N_TOTALS
    return let_in(rows[:, total + L.M_OUT])


def flow_totals(run: Run) -> tuple[FlowTotal, ...]:
    """One total per pass and purge carried out, in order."""
    segment = run["segment"]
    drawn = sorted({s.index for s in (*run.passes, *run.purges)})
    return tuple(_total(run, k, *np.searchsorted(segment, [k, k + 1]).tolist()) for k in drawn)


def _total(run: Run, k: int, r0: int, r1: int) -> FlowTotal:
    time = run.time[r0:r1]
    flow = run["outflow_kg_s"][:, r0:r1].sum(axis=0)
    out = run["mass_out_kg"][:, r0:r1]
    used = float((out[:, -1] - out[:, 0]).sum())
    at = _flow_of(time, flow)
    there = at.first >= 0
    return FlowTotal(
        kind=type(run.scenario.schedule[k]).__name__.lower(),
        index=k,
        label=run.scenario.schedule[k].label,
        start_time=float(time[0]),
        end_time=float(time[-1]),
        used=used,
        flow_start=float(flow[at.first]) if there else 0.0,
        flow_mean=used / at.time if at.time > 0.0 else 0.0,
        flow_max=max(float(flow.max()), 0.0),
        flow_end=float(flow[at.last]) if there else 0.0,
        flow_time=at.time,
        crossflow=sum(let_in(one) for one in out) if len(out) > 1 else 0.0,
    )


__all__ = ["FlowTotal", "common_flow", "flow_totals", "let_in", "taken_in"]
