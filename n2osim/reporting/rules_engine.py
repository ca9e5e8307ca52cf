"""Rules on the engine side: mixture too lean or too rich during a pass."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.reporting.findings import Finding
from n2osim.simulation.engine_side import LEAN, RICH

if TYPE_CHECKING:
    from n2osim.simulation.run import Run

SHORTEST = 0.2
"""s; shorter excursions are the opening and closing of valves."""


def mixture(run: Run) -> Iterator[Finding]:
    """Mixture of the shot outside LEAN and RICH times its target."""
    trace = run.engine
    if trace is None:
        return
    target = trace.engine.target_mixture
    ratio = trace["equivalence_shot"]
    for one in trace.passes:
        rows = (run["segment"] == one.index) & np.isfinite(ratio)
        if one.lean > SHORTEST:
            yield _lean(run, one, np.where(rows, ratio, np.inf), LEAN * target)
        if one.rich > SHORTEST:
            yield _rich(run, one, np.where(rows, ratio, -np.inf), RICH * target)


def _lean(run: Run, one: Any, ratio: np.ndarray, limit: float) -> Finding:
    return Finding(
        "danger", "lean",
        f"{_name(one)} runs too lean for {one.lean:.1f} s: too lean is what breaks engines",
        ratio.min(), limit, "number", "leanest fuel-air equivalence ratio of the shot", "limit",
        float(run.time[int((ratio < limit).argmax())]), "",
        "larger fuel jets or more fuel pressure, or hold the bottle pressure down",
        "mixture computed; limit 95 % of the target mixture: common practice, no source",
    )  # fmt: skip


def _rich(run: Run, one: Any, ratio: np.ndarray, limit: float) -> Finding:
    return Finding(
        "warning", "rich", f"{_name(one)} runs rich for {one.rich:.1f} s: power is left behind",
        ratio.max(), limit, "number", "richest fuel-air equivalence ratio of the shot", "limit",
        float(run.time[int((ratio > limit).argmax())]), "",
        "smaller fuel jets, less fuel pressure, or more bottle pressure: change one at a time",
        "mixture computed; limit 120 % of the target mixture: common practice, no source",
    )  # fmt: skip


def _name(one: Any) -> str:
    return f'pass "{one.label}"' if one.label else f"pass {one.index + 1}"


ENGINE_RULES = (mixture,)
