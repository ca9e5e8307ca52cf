"""How residuals hang together in time, and what that does to the intervals.

Residuals of a real log are not independent: quantisation, a drifting sensor and what the model
leaves out all stay the same from one sample to the next. Taken as independent they would give
intervals many times too narrow. Here they are described as white noise plus an exponentially
correlated part (Ornstein-Uhlenbeck), fitted by maximum likelihood to the residuals at their own
irregular times, and the covariance of the estimate follows from that (sandwich estimator: Huber
1967, White 1980, with the parametric correlation in the middle).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from n2osim.jit import entry

_LEVEL = 6.0  # twice the gain in log-likelihood that makes a correlated part believable (2 numbers)


@dataclass(frozen=True)
class Correlation:
    """White part and correlated part of residuals.

    variance : of one residual. share : of it that is correlated over ``time`` (s).
    effective : number of independent values that carry the same mean as the series.
    """

    variance: float
    share: float
    time: float
    effective: float


@entry
def _log_likelihood(t, r, share, tau):
    """Concentrated log-likelihood of unit-scaled OU plus white noise, and the scale (variance).

    Kalman filter of a scalar state; the variance is maximised out.
    """
    p = share
    mean = 0.0
    white = 1.0 - share
    total = 0.0
    logs = 0.0
    n = t.shape[0]
    for k in range(n):
        if k > 0:
            a = math.exp(-max(t[k] - t[k - 1], 0.0) / tau)
            mean *= a
            p = a * a * p + share * (1.0 - a * a)
        s = p + white
        e = r[k] - mean
        total += e * e / s
        logs += math.log(s)
        gain = p / s
        mean += gain * e
        p *= 1.0 - gain
    variance = total / n
    return -0.5 * (n * math.log(max(variance, 1e-300)) + logs + n), variance


@entry
def correlated_sum(t, j, share, tau):
    """``sum_ab j_a j_b^T C(t_a - t_b)`` for unit variance: white part plus OU; j is (n, p)."""
    n, p = j.shape
    out = np.zeros((p, p))
    carry = np.zeros(p)
    for k in range(n):
        if k > 0:
            a = math.exp(-max(t[k] - t[k - 1], 0.0) / tau)
            for i in range(p):
                carry[i] = a * (carry[i] + j[k - 1, i])
        for i in range(p):
            for m in range(p):
                out[i, m] += j[k, i] * j[k, m] + share * (j[k, i] * carry[m] + carry[i] * j[k, m])
    return out


def correlation(t: np.ndarray, r: np.ndarray, parameters: int) -> Correlation:
    """Fit white noise plus OU to residuals ``r`` at times ``t`` (s).

    The variance is raised by n/(n - parameters), what the fit itself has swallowed. The
    correlated part is only kept when the likelihood asks for it.
    """
    n = r.size
    raise_ = n / max(n - parameters, 1)
    if n < 8:
        return Correlation(float(np.mean(r**2)) * raise_, 0.0, 1.0, float(n))
    step = max(float(np.median(np.diff(t))), 1e-9)
    base, variance = _log_likelihood(t, r, 0.0, 1.0)
    best = (base + 0.5 * _LEVEL, 0.0, step, variance)
    longest = max(float(t[-1] - t[0]) / 2.0, 2.0 * step)
    for tau in np.geomspace(step, longest, 16):
        for share in (0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.85, 0.95, 0.99, 0.999):
            value, variance = _log_likelihood(t, r, share, tau)
            if value > best[0]:
                best = (value, share, float(tau), variance)
    _, share, tau, variance = best
    ones = np.ones((n, 1))
    effective = n * n / float(correlated_sum(t, ones, share, tau)[0, 0])
    return Correlation(variance * raise_, share, tau, min(float(n), effective))
