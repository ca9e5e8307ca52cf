"""What heaters draw of the supply, and took from it in a run."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from n2osim.hardware.heater import Heater, Supply
    from n2osim.results.run import Run


def current(heaters: Sequence[Heater], supply: Supply) -> float:
    """Current (A) of heaters that are all on together."""
    voltage = supply.voltage_at(sum(h.element_conductance for h in heaters))
    return float(sum(h.current_at(voltage) for h in heaters))


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
