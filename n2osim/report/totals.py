"""Rows over all bottles in the table of passes and purges."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from n2osim.numbers import Units
    from n2osim.results.run import Run

TOGETHER = (
    "All: what the jets or the vent got. A bottle's own figures are net: what it gives the others "
    "as pressures level out counts as used, what it takes in counts against it (crossflow)."
)


def with_totals(run: Run, units: Units, rows: list[Any], more: tuple[str, ...]) -> list[Any]:
    """The rows of passes of several bottles with one over all of them behind each.

    more: cells of further columns that have no total.
    """
    found: list[Any] = []
    each = len(run.scenario.bottles)
    for k, total in enumerate(run.totals):
        mine = rows[k * each : (k + 1) * each]
        flows = (total.flow_start, total.flow_mean, total.flow_end)
        cells = (units.bare(total.used, "mass"), *(units.bare(f, "mass_flow") for f in flows))
        cross = f"crossflow {units.full(total.crossflow, 'mass')}" if total.crossflow > 0.0 else ""
        found += [*mine, (mine[0][0], "all", "", "", "", "", *cells, cross, *more)]
    return found


__all__ = ["TOGETHER", "with_totals"]
