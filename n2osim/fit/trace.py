"""A run's course at the times of a log, and the sensor in between: scalar kernels over arrays."""

from __future__ import annotations

import math

import numpy as np

from n2osim.jit import entry, jit


@jit
def _slopes(t, y):
    """Slopes at the nodes by Fritsch & Carlson (1980): no overshoot, kinks where times repeat."""
    n = t.shape[0]
    d = np.zeros(n)
    for k in range(n):
        left = k > 0 and t[k] > t[k - 1]
        right = k < n - 1 and t[k + 1] > t[k]
        if left and right:
            h0 = t[k] - t[k - 1]
            h1 = t[k + 1] - t[k]
            s0 = (y[k] - y[k - 1]) / h0
            s1 = (y[k + 1] - y[k]) / h1
            if s0 * s1 > 0.0:
                w0 = 2.0 * h1 + h0
                w1 = h1 + 2.0 * h0
                d[k] = (w0 + w1) / (w0 / s0 + w1 / s1)
        elif left:
            d[k] = (y[k] - y[k - 1]) / (t[k] - t[k - 1])
        elif right:
            d[k] = (y[k + 1] - y[k]) / (t[k + 1] - t[k])
    return d


@entry
def sample(t, y, at):
    """``y`` given at rising ``t`` (repeats are jumps) at the sorted times ``at``; ends held."""
    n = t.shape[0]
    out = np.empty(at.shape[0])
    d = _slopes(t, y)
    k = 0
    for i in range(at.shape[0]):
        x = at[i]
        while k < n - 2 and t[k + 1] < x:
            k += 1
        h = t[k + 1] - t[k] if n > 1 else 0.0
        if x <= t[0]:
            out[i] = y[0]
        elif x >= t[n - 1]:
            out[i] = y[n - 1]
        elif h <= 0.0:
            out[i] = y[k + 1]
        else:
            u = (x - t[k]) / h
            v = 1.0 - u
            out[i] = (
                y[k] * (1.0 + 2.0 * u) * v * v
                + y[k + 1] * u * u * (3.0 - 2.0 * u)
                + h * (d[k] * u * v * v - d[k + 1] * u * u * v)
            )
    return out


@entry
def lagged(t, y, tau):
    """First-order lag ``dz/dt = (y - z)/tau`` of a piecewise linear ``y``, exact; settled at t0."""
    z = np.empty(t.shape[0])
    z[0] = y[0]
    for k in range(1, t.shape[0]):
        h = t[k] - t[k - 1]
        if h <= 0.0 or tau <= 0.0:
            z[k] = z[k - 1] if tau > 0.0 else y[k]
            continue
        slope = (y[k] - y[k - 1]) / h
        z[k] = y[k] - slope * tau + (z[k - 1] - y[k - 1] + slope * tau) * math.exp(-h / tau)
    return z


def sensed(t: np.ndarray, y: np.ndarray, at: np.ndarray, lag: float = 0.0) -> np.ndarray:
    """What a sensor with first-order ``lag`` (s) shows at the sorted times ``at`` (s).

    Before the first time of the run the sensor has settled on its first value.
    """
    t, y = np.ascontiguousarray(t, dtype=float), np.ascontiguousarray(y, dtype=float)
    at = np.ascontiguousarray(at, dtype=float)
    if lag <= 0.0:
        return np.asarray(sample(t, y, at))
    inside = at[(at > t[0]) & (at < t[-1])]
    # Enough points that straight lines between them stand in for the course.
    fine = np.arange(t[0], t[-1], lag / 4.0) if (t[-1] - t[0]) / lag < 4e5 else t
    grid = np.sort(np.concatenate([t, inside, fine, [at[-1]]]))
    z = lagged(grid, sample(t, y, grid), float(lag))
    return np.interp(at, grid, z)
