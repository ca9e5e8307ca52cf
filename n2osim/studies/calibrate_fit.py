"""The estimate itself: residuals with a memory, robust least squares, covariance, profiles.

Nothing here knows about bottles: a :class:`Problem` turns a vector z into scaled residuals.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import t as student

from n2osim.studies.calibrate_noise import Correlation, correlated_sum, correlation

SOFT = 2.0
"""Residuals beyond this many standard deviations count less and less (soft L1)."""

_LEAST_FREEDOM = 5.0  # the correlated noise is described by all residuals, not by these few alone
_FARTHEST = 1.6  # in z: a factor of five

STEP = 2e-3
"""Step of the central differences in z until uncertainties are known."""


@dataclass
class Problem:
    """Residuals (in standard deviations of each channel) of z, remembered.

    raw : z -> list of residual arrays, one a channel, in the channel's unit. times : their times.
    scale : standard deviation of each channel, same unit. lower : (cost, z) of a point with less
    cost than the optimum that a profile came across.
    """

    raw: Callable[[np.ndarray], list[np.ndarray]]
    times: list[np.ndarray]
    scale: list[float]
    low: np.ndarray
    high: np.ndarray
    step: np.ndarray = field(default_factory=lambda: np.zeros(0))
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
        """Central differences, one-sided at a limit; only columns in ``free`` where given."""
        columns = []
        for k in range(z.size) if free is None else free:
            up, down = z.copy(), z.copy()
            up[k] = min(z[k] + self.step[k], self.high[k])
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


def solve(problem: Problem, z0: np.ndarray, fixed: int | None = None, most: int = 40,
          tolerance: float = 1e-6) -> np.ndarray:  # fmt: skip
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
        lambda v: problem.residuals(full(v)), start,
        jac=lambda v: problem.jacobian(full(v), free),  # type: ignore[arg-type]
        bounds=(problem.low[free], problem.high[free]), loss="soft_l1", f_scale=SOFT,
        xtol=tolerance, ftol=1e-9, gtol=1e-9, max_nfev=most,
    )  # fmt: skip
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


def quantile(freedom: float, level: float = 0.95) -> float:
    """Two-sided Student quantile."""
    return float(student.ppf(0.5 + 0.5 * level, freedom))


def profile_ends(
    problem: Problem, z: np.ndarray, cov: Covariance, k: int, level: float = 0.95
) -> tuple[float, float]:
    """Ends of the profile-likelihood interval of parameter ``k``; a limit where it does not close.

    The other parameters are fitted again at each trial. The rise in cost that marks the end is
    half the squared Student quantile times the inflation, so that for a linear model the interval
    equals that from the covariance, correlated residuals included.
    """
    best = cost(problem.residuals(z))
    rise = 0.5 * quantile(cov.freedom, level) ** 2 * float(cov.inflation[k])
    guess = quantile(cov.freedom, level) * math.sqrt(max(float(cov.matrix[k, k]), 1e-30))
    lower, upper = (_end(problem, z, cov, k, side, best + rise, guess) for side in (-1, 1))
    return lower, upper


def _end(problem: Problem, z: np.ndarray, cov: Covariance, k: int, side: int, target: float,
         guess: float) -> float:  # fmt: skip
    """Where the profiled cost reaches ``target`` on one side: safeguarded secant on sqrt(rise)."""
    room = abs((problem.high[k] if side > 0 else problem.low[k]) - z[k])
    base = cost(problem.residuals(z))
    need = math.sqrt(max(target - base, 1e-12))
    start = z
    inside, outside = (0.0, 0.0), (math.inf, math.inf)
    x = min(guess, room)
    for _ in range(12):
        trial = _moved(z, cov, k, side * x) if start is z else start.copy()
        trial = np.clip(trial, problem.low, problem.high)
        trial[k] = z[k] + side * x
        at = _refit(problem, trial, cov.jacobian, k)
        rise = _rise(problem, at, base)
        if rise > 0.98 * need:  # only a full fit can say that it does not get lower
            at = solve(problem, at, fixed=k, most=15, tolerance=1e-5)
            rise = _rise(problem, at, base)
        if abs(rise - need) < 0.02 * need:
            return float(z[k] + side * x)
        if rise < need:
            inside, start = (x, rise), at
            if x >= room * (1.0 - 1e-9):
                break
        else:
            outside = (x, rise)
        x = min(_next(inside, outside, need), room)
    return float(z[k] + side * x)


def far_values(
    problem: Problem, z: np.ndarray, cov: Covariance, k: int, ends: tuple[float, float],
    level: float = 0.95,
) -> list[float]:  # fmt: skip
    """Values of parameter ``k`` well outside ``ends`` that fit as well as those inside.

    A second valley of the misfit cannot be seen from the first; this looks for it, each step 1.7
    times as far out as the last, until three in a row are hopeless. A point with less cost than
    the optimum lands in ``problem.lower``.
    """
    base = cost(problem.residuals(z))
    need = 0.5 * quantile(cov.freedom, level) ** 2 * float(cov.inflation[k])
    found = []
    for side, end in ((-1.0, ends[0]), (1.0, ends[1])):
        room = abs((problem.high[k] if side > 0 else problem.low[k]) - z[k])
        x = 1.7 * abs(end - z[k]) + 1e-6
        near = z
        hopeless = 0
        while x < min(room, _FARTHEST) and hopeless < 3:
            trial = near.copy()
            trial[k] = z[k] + side * x
            at = _refit(problem, trial, cov.jacobian, k)
            rise = _rise(problem, at, base) ** 2
            if need < rise < 20.0 * max(need, 1.0):
                at = solve(problem, at, fixed=k, most=8, tolerance=1e-4)
                rise = _rise(problem, at, base) ** 2
            if rise < need:
                found.append(float(z[k] + side * x))
            near = at if rise < 20.0 * max(need, 1.0) else z
            hopeless = hopeless + 1 if rise > 200.0 * max(need, 1.0) else 0
            x *= 1.7
    return found


def _rise(problem: Problem, z: np.ndarray, base: float) -> float:
    value = cost(problem.residuals(z))
    if value < base - 0.05 and (problem.lower is None or value < problem.lower[0]):
        problem.lower = (value, z.copy())
    return math.sqrt(max(value - base, 0.0))


def _refit(problem: Problem, z: np.ndarray, jac: np.ndarray, fixed: int) -> np.ndarray:
    """Best values of the others with one fixed, by Gauss-Newton steps with the Jacobian of the
    optimum: it hardly changes over an interval, and each step costs one run."""
    free = [k for k in range(z.size) if k != fixed]
    if not free:
        return z
    r = problem.residuals(z)
    now = cost(r)
    for _ in range(5):
        j = jac[:, free]
        weight = 1.0 / np.sqrt(1.0 + (r / SOFT) ** 2)
        normal = j.T @ (weight[:, None] * j)
        normal[np.diag_indices(len(free))] *= 1.0 + 1e-9
        step = np.linalg.lstsq(normal, -j.T @ score(r), rcond=1e-10)[0]
        moved = z.copy()
        moved[free] = np.clip(z[free] + step, problem.low[free], problem.high[free])
        trial = problem.residuals(moved)
        better = cost(trial)
        if better >= now - 1e-3:
            return moved if better < now else z
        z, r, now = moved, trial, better
    return z


def _next(inside: tuple[float, float], outside: tuple[float, float], need: float) -> float:
    if math.isinf(outside[0]):
        return inside[0] * min(3.0, max(1.6, 1.05 * need / max(inside[1], 1e-9)))
    (a, fa), (b, fb) = inside, outside
    x = a + (b - a) * (need - fa) / max(fb - fa, 1e-12)
    edge = 0.05 * (b - a)
    return min(max(x, a + edge), b - edge)


def _moved(z: np.ndarray, cov: Covariance, k: int, by: float) -> np.ndarray:
    """z with parameter ``k`` moved and the others following along the covariance."""
    column = cov.matrix[:, k] / max(float(cov.matrix[k, k]), 1e-30)
    return z + by * np.clip(column, -1e3, 1e3)


__all__ = ["Covariance", "Problem", "cost", "covariance", "profile_ends", "quantile", "solve"]
