"""Bracketing search for the edge of what is allowed.

All sizing questions are of one form: a margin that is zero or more where a value is allowed, and
changes sign once between an allowed and a forbidden end. The answer handed back is always on the
allowed side, within the tolerance of the edge (Brent 1973, scipy.optimize.brentq).
"""

from __future__ import annotations

import math
from collections.abc import Callable

from n2osim.errors import IntegrationError, RangeError

BAD = -1e3
"""Margin of a case that cannot be carried out at all."""


class Margin:
    """A margin function that remembers its values and turns failed runs into ``BAD``.

    ``log`` searches on the logarithm of the value.
    """

    def __init__(self, function: Callable[[float], float], log: bool = False) -> None:
        self.function = function
        self.log = log
        self.known: dict[float, float] = {}

    def __call__(self, x: float) -> float:
        """Value at ``x``, computed once; ``BAD`` where the model has none."""
        if x not in self.known:
            try:
                value = float(self.function(x))
            except (IntegrationError, RangeError):
                value = BAD
            self.known[x] = value if math.isfinite(value) else BAD
        return self.known[x]


def edge(margin: Margin, allowed: float, forbidden: float, tolerance: float = 1e-4) -> float:
    """Value nearest to ``forbidden`` whose margin is not negative, to a relative ``tolerance``.

    ``margin(allowed)`` must be 0 or more, ``margin(forbidden)`` negative.
    """
    from scipy.optimize import brentq

    def to(u: float) -> float:
        return math.exp(u) if margin.log else u

    a, b = (math.log(v) if margin.log else v for v in (allowed, forbidden))
    ends = {a: allowed, b: forbidden}
    step = tolerance * (1.0 if margin.log else max(abs(allowed), abs(forbidden)))

    def clipped(u: float) -> float:
        # Failed runs have a margin far below all others: bounded, it only steers the bisection.
        return max(margin(ends.get(u, to(u))), -1.0)

    if margin(allowed) == 0.0:
        return allowed
    u = brentq(clipped, a, b, xtol=step, rtol=8.9e-16, maxiter=100)
    back = math.copysign(step, a - b)
    while clipped(u) < 0.0:
        u += back
        back *= 2.0
        if (a - u) * (a - b) <= 0.0:
            return allowed
    return ends.get(u, to(u))


__all__ = ["BAD", "Margin", "edge"]
