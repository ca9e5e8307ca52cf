"""What passes draw: liquid or gas, and for how long the arming window holds them back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim import fluid
from n2osim.fluid.phase import SUPERCRITICAL, TWO_PHASE, VAPOUR
from n2osim.results.view import View

if TYPE_CHECKING:
    from n2osim.results.run import Run

GAS = 0.05
"""Share of gas in the flow from which a pass is said to draw gas: jets pass a good deal less of it
(5 % by mass of saturated vapour is 13 % of the volume at 900 psig, 22 % at 700)."""


def gas_flow(v: View, rows: slice = slice(None)) -> np.ndarray:
    """What passes and purges draw from a bottle as gas, kg/s, over ``rows`` (all unless given).

    Vapour past an uncovered pick-up, all of a bottle that holds only vapour, and all of one above
    the critical point that is less dense than there. What a relief device lets out is not counted.
    """
    drawn, phase = fed(v, rows), v.array("phase")[rows]
    thin = (phase == SUPERCRITICAL) & (v.density[rows] < fluid.RHO_CRITICAL)
    all_gas = (phase == VAPOUR) | thin
    above = np.where(phase == TWO_PHASE, drawn - v.array("outflow_liquid_kg_s")[rows], 0.0)
    return np.where(all_gas, drawn, np.clip(above, 0.0, drawn))


def fed(v: View, rows: slice = slice(None)) -> np.ndarray:
    """What a bottle gives to passes and purges, kg/s, over ``rows`` (all unless given)."""
    return np.maximum(v.array("outflow_kg_s")[rows] - v.array("relief_flow_kg_s")[rows], 0.0)


def gas_share(run: Run) -> np.ndarray:
    """Share (0..1, by mass) of gas in what all bottles give together, shape (time,); 0 at rest."""
    drawn = np.maximum(run["outflow_kg_s"] - run["relief_flow_kg_s"], 0.0).sum(axis=0)
    gas = np.zeros(len(drawn))
    for v in run.views:
        gas[v.there] += gas_flow(v)
    return np.divide(gas, drawn, out=np.zeros(len(drawn)), where=drawn > 0.0)


def first_row(v: View, one: Any) -> int | None:
    """First row of a pass with flow from this bottle; None when nothing flows."""
    rows = v.rows(one)
    flow = fed(v, rows)
    # A delayed or ramped delivery begins with a row of next to nothing.
    there = np.flatnonzero((flow > 0.0) & (flow >= 0.01 * flow.max(initial=0.0)))
    return rows.start + int(there[0]) if len(there) else None


def held_rows(run: Run, index: int) -> np.ndarray:
    """Which rows of pass ``index`` have flow asked for and held back by the arming window."""
    from n2osim.engine.pack_schedule import pack_schedule

    rows = run.rows_of(index)
    there = run["flow_commanded"][rows] & run["flow_inhibited"][rows]
    if not there.any():
        return there
    since = run.time[rows] - run.time[rows.start]
    segments, stages, tables, items = pack_schedule(run.scenario)
    segment = segments[int((items == index).argmax())]
    first = int(segment["stage0"])
    asked = np.zeros(len(since), bool)
    for stage in stages[first : first + int(segment["n_stages"])]:
        corners = tables[int(stage["table0"]) : int(stage["table0"]) + int(stage["table_n"])]
        asked |= np.interp(since, *corners.T) > 0.0 if len(corners) else True
    return there & asked


def held_shut(run: Run, index: int) -> float:
    """Seconds of pass ``index`` for which the arming window holds the flow back."""
    held = held_rows(run, index)
    return float((np.diff(run.time[run.rows_of(index)]) * held[:-1]).sum())
