"""The estimate itself: residuals with a memory, robust least squares, covariance, profiles.

Nothing here knows about bottles: a :class:`Problem` turns a vector z into scaled residuals.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import t as student

from n2osim.fit.calibrate_noise import Correlation, correlated_sum, correlation

SOFT = 2.0
"""Residuals beyond this many standard deviations count less and less (soft L1)."""

_LEAST_FREEDOM = 5.0  # the correlated noise is described by all residuals, not by these few alone

STEP = 2e-3
"""Step of the central differences in z until uncertainties are known."""


@dataclass
class Problem:
    """Residuals (in standard deviations of each channel) of z, remembered.

    raw : z -> list of residual arrays, one a channel, in the channel's unit. times : their times.
    scale : standard deviation of each channel, same unit. central : central differences, else
    one-sided ones (half the runs, for a search). lower : (cost, z) of a point with less cost than
    the optimum that a profile came across.
    """

    raw: Callable[[np.ndarray], list[np.ndarray]]
    times: list[np.ndarray]
    scale: list[float]
    low: np.ndarray
    high: np.ndarray
    step: np.ndarray = field(default_factory=lambda: np.zeros(0))
    central: bool = True
    runs: int = 0
    memory: dict[bytes, list[np.ndarray]] = field(default_factory=dict)
    lower: tuple[float, np.ndarray] | None = None

    def __post_init__(self) -> None:
        if self.step.size == 0:
            self.step = np.full(self.low.size, STEP)

    def channels(self, z: np.ndarray) -> list[np.ndarray]:
        """Unscaled residuals, one array a channel."""
        key = np.round(z, 12).tobytes()
        if key not in self.memory:
            if len(self.memory) > 400:
                self.memory.clear()
            self.runs += 1
            self.memory[key] = self.raw(z)
        return self.memory[key]

    def residuals(self, z: np.ndarray) -> np.ndarray:
        """All residuals over their standard deviations."""
        return np.concatenate([r / s for r, s in zip(self.channels(z), self.scale)])

    def jacobian(self, z: np.ndarray, free: np.ndarray | None = None) -> np.ndarray:
        """Differences, one-sided at a limit; only columns in ``free`` where given."""
        columns = []
        for k in range(z.size) if free is None else free:
            up, down = z.copy(), z.copy()
            up[k] = min(z[k] + self.step[k], self.high[k])
            if self.central or up[k] - z[k] < 0.5 * self.step[k]:
                down[k] = max(z[k] - self.step[k], self.low[k])
            columns.append((self.residuals(up) - self.residuals(down)) / (up[k] - down[k]))
        return np.stack(columns, axis=1)


def cost(r: np.ndarray) -> float:
    """Soft-L1 cost, half the sum; a plain half sum of squares for small residuals."""
    return float(SOFT**2 * np.sum(np.sqrt(1.0 + (r / SOFT) ** 2) - 1.0))


def score(r: np.ndarray) -> np.ndarray:
    """Derivative of the cost by each residual."""
    return r / np.sqrt(1.0 + (r / SOFT) ** 2)


def curvature(r: np.ndarray) -> np.ndarray:
    """Second derivative of the cost by each residual."""
    return (1.0 + (r / SOFT) ** 2) ** -1.5


def solve(
    problem: Problem,
    z0: np.ndarray,
    fixed: int | None = None,
    most: int = 40,
    tolerance: float = 1e-6,
) -> np.ndarray:
    """Least cost from ``z0``, inside the limits; parameter ``fixed`` stays."""
    free = np.array([k for k in range(z0.size) if k != fixed])
    if free.size == 0:
        return z0.copy()

    def full(v: np.ndarray) -> np.ndarray:
        z = z0.copy()
        z[free] = v
        return z

    inner = np.maximum(1e-9, 1e-6 * (problem.high - problem.low))
    start = np.clip(z0, problem.low + inner, problem.high - inner)[free]
    found = least_squares(
        lambda v: problem.residuals(full(v)),
        start,
        jac=lambda v: problem.jacobian(full(v), free),  # type: ignore[arg-type]
        bounds=(problem.low[free], problem.high[free]),
        loss="soft_l1",
        f_scale=SOFT,
        xtol=tolerance,
        ftol=1e-9,
        gtol=1e-9,
        max_nfev=most,
    )
    return full(np.asarray(found.x))


@dataclass(frozen=True)
class Covariance:
    """Covariance of z, the curvature matrix of the cost, and how the residuals hang together.

    determined : False for a parameter the log says nothing about. inflation : variance of each
    parameter over what independent residuals of the curvature's own would give. freedom : degrees
    of freedom for intervals.
    """

    matrix: np.ndarray
    hessian: np.ndarray
    determined: np.ndarray
    inflation: np.ndarray
    correlations: tuple[Correlation, ...]
    freedom: float
    jacobian: np.ndarray


def covariance(problem: Problem, z: np.ndarray) -> Covariance:
    """Sandwich covariance of the robust estimate with correlated residuals."""
    jac = problem.jacobian(z)
    r = problem.residuals(z)
    p = z.size
    hessian = jac.T @ (curvature(r)[:, None] * jac)
    middle = np.zeros((p, p))
    found = []
    a = 0
    for t in problem.times:
        b = a + t.size
        c = correlation(t, score(r[a:b]), p)
        middle += c.variance * correlated_sum(t, np.ascontiguousarray(jac[a:b]), c.share, c.time)
        found.append(c)
        a = b
    inverse, determined = _inverse(hessian)
    matrix = inverse @ middle @ inverse
    naive = np.diag(inverse)
    inflation = np.where(naive > 0.0, np.diag(matrix) / np.where(naive > 0.0, naive, 1.0), 1.0)
    freedom = max(_LEAST_FREEDOM, sum(c.effective for c in found) - p)
    return Covariance(matrix, hessian, determined, inflation, tuple(found), freedom, jac)


def widened(
    cov: Covariance, problem: Problem, z: np.ndarray, changes: list[np.ndarray]
) -> Covariance:
    """With independent errors of something not fitted: ``changes`` of the residuals by each.

    The estimate follows each by a Gauss-Newton step, whose square adds to the covariance.
    """
    if not changes:
        return cov
    weight = curvature(problem.residuals(z))
    inverse, _ = _inverse(cov.hessian)
    steps = [inverse @ (cov.jacobian.T @ (weight * change)) for change in changes]
    more = sum((np.outer(s, s) for s in steps), np.zeros_like(cov.matrix))
    old = np.diag(cov.matrix)
    ratio = 1.0 + np.diag(more) / np.where(old > 0.0, old, 1.0)
    return replace(cov, matrix=cov.matrix + more, inflation=cov.inflation * ratio)


def _inverse(hessian: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Inverse through scaled eigenvectors; directions without curvature are very wide."""
    size = np.sqrt(np.maximum(np.diag(hessian), 0.0))
    alive = size > 1e-6
    s = np.where(alive, size, 1.0)
    scaled = hessian / np.outer(s, s)
    scaled[~alive, :] = scaled[:, ~alive] = 0.0
    values, vectors = np.linalg.eigh(scaled)
    loose = values < 1e-7
    inverse = vectors @ np.diag(1.0 / np.maximum(values, 1e-7)) @ vectors.T
    determined = alive & (np.sum(vectors[:, loose] ** 2, axis=1) < 0.1)
    return inverse / np.outer(s, s), determined


def quantile(freedom: float) -> float:
    """Two-sided Student quantile of 95 %."""
    return float(student.ppf(0.975, freedom))
