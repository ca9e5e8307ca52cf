"""Profile likelihood: how far one parameter can go while the others follow it.

Runs are what costs. The others' best values are predicted along the way, and the Jacobian of the
optimum is carried along by secant updates (Broyden 1965): a point mostly takes one or two runs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from n2osim.fit.calibrate_fit import SOFT, Covariance, Problem, cost, quantile, score, solve

_FARTHEST = 1.6  # in z: a factor of five
_SETTLED = 0.01  # of cost: what a further step would gain; ends of intervals rise by 2 and more
_CLOSE = 0.02  # of the interval's half width
_NEAR = 0.12  # the same, where a curve through what is known gives the rest


@dataclass
class _Path:
    """Best values of the others along parameter ``k`` on one side of the optimum ``z``.

    jacobian : carried along, changed in place. x, at : last distance from the optimum and the
    best point there.
    """

    problem: Problem
    z: np.ndarray
    k: int
    side: float
    jacobian: np.ndarray
    tangent: np.ndarray
    base: float
    x: float = 0.0
    at: np.ndarray = field(default_factory=lambda: np.zeros(0))

    def guess(self, x: float) -> np.ndarray:
        """Where the best point at distance ``x`` should be: tangent, bent to the last point."""
        z = self.z + self.side * x * self.tangent
        if self.x > 0.0:
            q = x / self.x
            bend = self.at - self.z - self.side * self.x * self.tangent
            z = z + bend * (q * q if q <= 2.0 else 2.0 * q)
        z = np.clip(z, self.problem.low, self.problem.high)
        z[self.k] = self.z[self.k] + self.side * x
        return z

    def go(self, x: float, enough: float, most: int) -> tuple[float, bool]:
        """Rise in cost at distance ``x``, others fitted, and whether they have settled.

        Stops early where even what a step promises leaves the rise above ``enough``.
        """
        free = [i for i in range(self.z.size) if i != self.k]
        self.at, settled = _refit(
            self.problem, self.guess(x), self.jacobian, free, self.base + enough, most
        )
        self.x = x
        return self.rise(), settled

    def solve(self, most: int, tolerance: float) -> float:
        """Rise in cost after a full fit of the others from where they are."""
        self.at = solve(self.problem, self.at, fixed=self.k, most=most, tolerance=tolerance)
        return self.rise()

    def rise(self) -> float:
        """Cost over that of the optimum; where it is less, the problem is told."""
        value = cost(self.problem.residuals(self.at))
        lower = self.problem.lower
        if value < self.base - 0.05 and (lower is None or value < lower[0]):
            self.problem.lower = (value, self.at.copy())
        return max(value - self.base, 0.0)


def _path(problem: Problem, z: np.ndarray, cov: Covariance, k: int, side: float) -> _Path:
    column = cov.matrix[:, k] / max(float(cov.matrix[k, k]), 1e-30)
    tangent = np.clip(column, -1e3, 1e3)
    return _Path(problem, z, k, side, cov.jacobian.copy(), tangent, cost(problem.residuals(z)))


def _refit(
    problem: Problem, z: np.ndarray, jac: np.ndarray, free: list[int], enough: float, most: int
) -> tuple[np.ndarray, bool]:
    """Gauss-Newton over ``free`` with a Jacobian that learns from every run."""
    r = problem.residuals(z)
    now = cost(r)
    for _ in range(most if free else 0):
        step, gain = _step(r, jac[:, free])
        moved = z.copy()
        moved[free] = np.clip(z[free] + step, problem.low[free], problem.high[free])
        if gain < _SETTLED or now - gain > enough or np.array_equal(moved, z):
            return z, True
        trial = problem.residuals(moved)
        _learn(jac, moved - z, trial - r)
        if cost(trial) < now:
            z, r, now = moved, trial, cost(trial)
    return z, not free


def _step(r: np.ndarray, j: np.ndarray) -> tuple[np.ndarray, float]:
    """Step of the robust Gauss-Newton method and the decrease in cost that it promises."""
    weight = 1.0 / np.sqrt(1.0 + (r / SOFT) ** 2)
    normal = j.T @ (weight[:, None] * j)
    slope = j.T @ score(r)
    step = np.linalg.lstsq(normal, -slope, rcond=1e-10)[0]
    return step, float(-slope @ step - 0.5 * step @ normal @ step)


def _learn(jac: np.ndarray, step: np.ndarray, change: np.ndarray) -> None:
    """Broyden's update: the Jacobian must explain the last change."""
    jac += np.outer(change - jac @ step, step / float(step @ step))


def profile_ends(problem: Problem, z: np.ndarray, cov: Covariance, k: int) -> tuple[float, float]:
    """Ends of the 95 % profile-likelihood interval of parameter ``k``; a limit where it is open.

    The other parameters are fitted again at each trial. The rise in cost that marks the end is
    half the squared Student quantile times the inflation, so that for a linear model the interval
    equals that from the covariance, correlated residuals included.
    """
    q = quantile(cov.freedom)
    need = q * math.sqrt(0.5 * float(cov.inflation[k]))
    guess = q * math.sqrt(max(float(cov.matrix[k, k]), 1e-30))
    lower, upper = (
        _end(_path(problem, z, cov, k, side), max(need, 1e-6), guess) for side in (-1.0, 1.0)
    )
    return lower, upper


def _end(path: _Path, need: float, guess: float) -> float:
    """Where the root of the profiled rise reaches ``need``: safeguarded secant from ``guess``."""
    k, side = path.k, path.side
    limit = path.problem.high[k] if side > 0 else path.problem.low[k]
    room = abs(limit - path.z[k])
    inside, outside = (0.0, 0.0), (math.inf, math.inf)
    x = min(guess, room)
    for _ in range(12):
        rise, settled = path.go(x, math.inf, 6)
        root = math.sqrt(rise)
        if not settled and root > (1.0 - _NEAR) * need:
            root = math.sqrt(path.solve(15, 1e-5))  # only a full fit can tell
        if abs(root - need) < _CLOSE * need:
            break
        crossing = _crossing(x, root, need, need / guess)
        if crossing < room:
            x = crossing
            break
        if root < need:
            inside = (x, root)
            if x >= room * (1.0 - 1e-9):
                break
        else:
            outside = (x, root)
        x = min(_next(inside, outside, need), room)
    return float(path.z[k] + side * x)


def _crossing(x: float, root: float, need: float, slope: float) -> float:
    """Where the parabola with ``slope`` at the optimum and through (x, root) reaches ``need``.

    Infinite where the point is not close enough to the end, or the course not straight enough.
    """
    bend = (root - slope * x) / (x * x)
    there = slope + 2.0 * bend * x
    if abs(root - need) > _NEAR * need or not 0.5 * slope < there < 2.0 * slope:
        return math.inf
    return 2.0 * need / (slope + math.sqrt(max(slope * slope + 4.0 * bend * need, 0.0)))


def _next(inside: tuple[float, float], outside: tuple[float, float], need: float) -> float:
    if math.isinf(outside[0]):
        return inside[0] * min(3.0, max(1.6, 1.05 * need / max(inside[1], 1e-9)))
    (a, fa), (b, fb) = inside, outside
    x = a + (b - a) * (need - fa) / max(fb - fa, 1e-12)
    edge = 0.05 * (b - a)
    return min(max(x, a + edge), b - edge)


def far_values(
    problem: Problem, z: np.ndarray, cov: Covariance, k: int, ends: tuple[float, float]
) -> list[float]:
    """Values of parameter ``k`` well outside ``ends`` that fit as well as those inside.

    A second valley of the misfit cannot be seen from the first; this looks for it, each step 1.8
    times as far out as the last, until three in a row are hopeless. A point with less cost than
    the optimum lands in ``problem.lower``.
    """
    need = 0.5 * quantile(cov.freedom) ** 2 * float(cov.inflation[k])
    worth, hopeless_at = 20.0 * max(need, 1.0), 200.0 * max(need, 1.0)
    found = []
    for side, end in ((-1.0, ends[0]), (1.0, ends[1])):
        room = abs((problem.high[k] if side > 0 else problem.low[k]) - z[k])
        path = _path(problem, z, cov, k, side)
        x = 1.8 * abs(end - z[k]) + 1e-6
        hopeless = 0
        while x < min(room, _FARTHEST) and hopeless < 3:
            rise, _ = path.go(x, hopeless_at, 4)
            if need < rise < worth:
                rise = path.solve(8, 1e-4)
            if rise < need:
                found.append(float(z[k] + side * x))
            if rise > worth:
                path.x = 0.0  # lost the valley: the next guess starts from the optimum again
            hopeless = hopeless + 1 if rise > hopeless_at else 0
            x *= 1.8
    return found
