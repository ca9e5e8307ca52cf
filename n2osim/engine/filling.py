"""A refill over time: packed as small fillings with rests between them, read back as one item.

Each small filling lets in its part at once and adiabatically, as :mod:`n2osim.engine.refill`
does; in the rest behind it the wall takes part. A filling at constant flow is the limit of many.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from n2osim.engine import layout as L
from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY

if TYPE_CHECKING:
    from n2osim.engine.pack import Packed
    from n2osim.scenario.scenario import Scenario
    from n2osim.scenario.schedule import Refill

STEPS = 20
"""Small fillings of a bottle from empty. With twice as many the highest pressure of a filling in
3 min is 1 psi lower (``tests/engine/test_filling.py``)."""


def in_steps(scenario: Scenario, item: Refill, record: np.ndarray) -> np.ndarray:
    """Segments that carry out one refill; ``record``: the refill at once, as packed.

    Constant flow that would fill an empty bottle in ``item.duration``: what is in the bottle
    already shortens the filling, not the time at the cylinder. The last step comes at the end and
    is the refill itself, so that the charge wanted, or the supply's pressure, is met exactly.
    """
    if item.duration <= 0.0:
        return record
    one = int(record["refill_bottle"][0])
    bottles = range(len(scenario.bottles)) if one < 0 else (one,)
    found = []
    for k in range(STEPS):
        for i in bottles:
            step = record.copy()
            full = FULL_FILLING_DENSITY * scenario.bottles[i].bottle.volume
            step["refill_mass"] = k / STEPS * (full if item.to is None else item.to)
            step["refill_bottle"] = i
            step["duration"] = 0.0
            found.append(step)
        found[-1]["duration"] = item.duration / STEPS
    last = record.copy()
    last["duration"] = 0.0
    return np.concatenate([*found, last])


def as_items(packed: Packed, rows: np.ndarray, events: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rows and events with the schedule's items in place of the plant's segments.

    Of an item in several segments only the first start and the last end stay as events.
    """
    items = packed.items
    if len(items) == len(packed.scenario.schedule):
        return rows, events
    segment = events[:, 3].astype(int)
    first = np.concatenate([[True], np.diff(items) > 0])
    last = np.concatenate([np.diff(items) > 0, [True]])
    # A run that broke off ends where it broke off.
    last[segment[-1]] = True
    code = events[:, 1]
    inner = (code == L.EV_START) & ~first[segment] | (code == L.EV_END) & ~last[segment]
    kept = events[~inner]
    kept[:, 3] = items[kept[:, 3].astype(int)]
    rows[:, 1] = items[rows[:, 1].astype(int)]
    return rows, kept


__all__ = ["STEPS", "as_items", "in_steps"]
