"""Which pair of standard jets to start with: near the power, and never lean within the range.

Mixture breaks engines, and the flow through a jet that nobody has weighed is the least certain
number here (:mod:`n2osim.physics.flow_range`). So jets are chosen by the ends of their range.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

LEAN_KEEPS, RICH_KEEPS = 0.95, 1.20
"""Of the target mixture: what the lean and the rich end of the range should keep."""


class Pair(NamedTuple):
    """An N2O and a fuel jet with what they give: bores m, power W, mixtures over the target's.

    lean: at the largest N2O flow of the range, rich: at the least.
    """

    n2o_bore: float
    fuel_bore: float
    power: float
    mixture: float
    lean: float
    rich: float


class Choice(NamedTuple):
    """The pair to start with. safe: both ends of the range keep their bounds. lost: power short of
    what was asked, W. too_rich: the rich end in parts of the target, 0 where it keeps its bound."""

    pair: Pair
    safe: bool
    lost: float
    too_rich: float


def choose_pair(pairs: Iterable[Pair], power: float) -> Choice | None:
    """The pair whose power is nearest ``power`` (W) among those whose lean and rich end hold.

    Where none holds both, the lean bound wins: of the pairs that keep it, those not richer than
    they must be (within 2 % of the least rich), then the nearest in power. None where no pair keeps
    the lean bound.
    """
    held = [p for p in pairs if p.lean >= LEAN_KEEPS]
    if not held:
        return None
    both = [p for p in held if p.rich <= RICH_KEEPS]
    if both:
        best = min(both, key=lambda p: abs(p.power - power))
        return Choice(best, True, max(power - best.power, 0.0), 0.0)
    least = min(p.rich for p in held)
    best = min((p for p in held if p.rich <= 1.02 * least), key=lambda p: abs(p.power - power))
    return Choice(best, False, max(power - best.power, 0.0), best.rich)
