"""What the heaters of a run took from the supply."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from n2osim.results.run import Run


def supply_use(run: Run) -> tuple[float, float] | None:
    """(most power delivered at a time, W; charge taken from the supply, Ah) of all heaters.

    None where nothing was heated. The current is power over the voltage that the supply gives with
    the elements that are on.
    """
    power = np.nan_to_num(run["heater_power_W"])  # none of a bottle that is frozen out
    if not (power > 0.0).any():
        return None
    elements = np.array(
        [b.heater.element_conductance if b.heater else 0.0 for b in run.scenario.bottles]
    )
    load = (elements[:, None] * (power > 0.0)).sum(axis=0)
    current = power.sum(axis=0) / run.scenario.supply.voltage_at(load)
    return float(power.sum(axis=0).max()), float(np.trapezoid(current, run.time)) / 3600.0
