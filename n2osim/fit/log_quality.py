"""What a recorded channel is worth: noise, quantisation, spikes, gaps. Plain array functions."""

from __future__ import annotations

import math

import numpy as np

_TO_SIGMA = 1.4826  # median absolute deviation of a normal variable to its standard deviation


def robust_sigma(x: np.ndarray) -> float:
    """Standard deviation of ``x`` from its median absolute deviation (0 for fewer than 2)."""
    x = x[np.isfinite(x)]
    if x.size < 2:
        return 0.0
    return float(_TO_SIGMA * np.median(np.abs(x - np.median(x))))


def resolution(x: np.ndarray) -> float:
    """Quantisation step of a channel (its unit), 0 where none shows.

    The smallest gap between recorded values is the step if all gaps are whole multiples of it
    (within 5 % of a step, which leaves room for digits cut off by the logger).
    """
    x = x[np.isfinite(x)]
    if x.size < 8:
        return 0.0
    values = np.unique(x)
    if values.size < 2:
        return 0.0
    gaps = np.diff(values)
    scale = float(np.max(np.abs(values)))
    gaps = gaps[gaps > 1e-9 * max(scale, 1e-300)]
    if gaps.size == 0:
        return 0.0
    step = float(np.min(gaps))
    step = float(np.median(gaps[gaps < 1.5 * step]))
    multiples = gaps / step
    small = multiples < 20.0  # beyond, the error of the step itself adds up
    off = np.abs(multiples[small] - np.round(multiples[small]))
    if off.size == 0 or float(np.quantile(off, 0.95)) > 0.05:
        return 0.0
    return step


def white_noise(x: np.ndarray, step: float | None = None) -> float:
    """Standard deviation of the sample-to-sample noise, from second differences.

    Second differences of neighbouring samples remove any smooth course; white noise leaves
    variance 6 sigma^2. Never below what quantisation alone gives, step / sqrt(12).
    """
    x = x[np.isfinite(x)]
    step = resolution(x) if step is None else step
    floor = step / math.sqrt(12.0)
    if x.size < 5:
        return floor
    second = x[2:] - 2.0 * x[1:-1] + x[:-2]
    # Root mean square without what is no noise (events, spikes); the median alone is too coarse
    # for quantised values.
    sigma = max(robust_sigma(second), step)
    for _ in range(5):
        inner = second[np.abs(second) <= 4.0 * sigma]
        sigma = float(np.sqrt(np.mean(inner**2))) if inner.size else 0.0
        if sigma < 0.3 * step:
            break
    return max(sigma / math.sqrt(6.0), floor)


def spikes(x: np.ndarray, step: float = 0.0, threshold: float = 8.0) -> np.ndarray:
    """True where one or two samples jump away from both neighbours and come straight back.

    A real event (a valve opening) does not come back within two samples, so it is never marked.
    ``threshold`` in standard deviations of the surroundings' noise.
    """
    mark = np.zeros(x.shape, bool)
    good = np.flatnonzero(np.isfinite(x))
    if good.size < 7:
        return mark
    v = x[good]
    noise = max(white_noise(v, step), 1e-12 * float(np.max(np.abs(v))), step)
    for width in (1, 2):
        before, after = v[: -width - 1], v[width + 1 :]
        agree = np.abs(after - before)
        apart = np.full(before.shape, np.inf)
        side = np.zeros(before.shape)
        for k in range(1, width + 1):
            inner = v[k : k + before.size]
            high = inner - np.maximum(before, after)
            low = np.minimum(before, after) - inner
            out = np.maximum(high, low)
            apart = np.minimum(apart, out)
            side += np.sign(high - low)
        hit = (apart > threshold * noise) & (apart > 2.0 * agree) & (np.abs(side) == width)
        for k in range(1, width + 1):
            mark[good[np.flatnonzero(hit) + k]] = True
    return mark


def gaps(time: np.ndarray) -> list[tuple[float, float]]:
    """(from, to) in s where the recording paused: over five times the usual interval."""
    if time.size < 4:
        return []
    step = np.diff(time)
    usual = max(float(np.median(step)), float(np.quantile(step, 0.8)))
    if usual <= 0.0:
        usual = float(np.mean(step))
    return [(float(time[i]), float(time[i + 1])) for i in np.flatnonzero(step > 5.0 * usual)]
