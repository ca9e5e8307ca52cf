"""Items of a schedule that are several segments of the engine, read back as one.

A refill over time is small fillings with rests between them. Each lets in its part at once and
adiabatically, as :mod:`n2osim.engine.refill` does; in the rest behind it the wall takes part. A
filling at constant flow is the limit of many.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from n2osim.engine import layout as L

if TYPE_CHECKING:
    from n2osim.engine.pack import Packed


def as_items(packed: Packed, rows: np.ndarray, events: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Rows and events with the schedule's items in place of the engine's segments.

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
