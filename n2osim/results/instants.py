"""Exact instants of a run: when a quantity passes a bound, for how long, and its extreme.

Rows are steps of the integration and are not equally far apart; between them a quantity is taken
to run straight, at its top along the parabola through three rows.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from n2osim.results.summarise import peak_between


class Extreme(NamedTuple):
    """A value and its time, s."""

    value: float
    time: float


def first_above(time: np.ndarray, values: np.ndarray, bound: float | np.ndarray) -> float | None:
    """Time (s) at which ``values`` first pass above ``bound``; None when they never do."""
    excess = values - bound
    hits = np.flatnonzero(excess > 0.0)
    if not len(hits):
        return None
    k = int(hits[0])
    if k == 0 or not np.isfinite(excess[k - 1]):
        return float(time[k])
    share = excess[k - 1] / (excess[k - 1] - excess[k])
    return float(time[k - 1] + share * (time[k] - time[k - 1]))


def time_above(time: np.ndarray, excess: np.ndarray) -> float:
    """Time (s) for which ``excess`` is above zero, straight between rows; NaN rows do not count."""
    a, b = excess[:-1], excess[1:]
    known = np.isfinite(a) & np.isfinite(b)
    a, b = np.where(known, a, -1.0), np.where(known, b, -1.0)
    low, high = np.minimum(a, b), np.maximum(a, b)
    share = np.divide(high, high - low, out=np.ones_like(high), where=high > low)
    share = np.where(high <= 0.0, 0.0, np.where(low >= 0.0, 1.0, share))
    return float((np.diff(time) * np.where(known, share, 0.0)).sum())


def highest(time: np.ndarray, values: np.ndarray) -> Extreme:
    """Largest of ``values`` and when it is reached."""
    k = int(np.nanargmax(values))
    top = float(values[k])
    if 0 < k < len(values) - 1 and np.isfinite(values[k - 1] + values[k + 1]):
        top = float(
            peak_between(time[k - 1], values[k - 1], time[k], values[k], time[k + 1], values[k + 1])
        )
    return Extreme(top, float(time[k]))
