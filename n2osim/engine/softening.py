"""Flow in the last pascals of pressure difference.

Flow goes with the square root of the difference, so its slope has no bound at zero and an emptying
bottle would never come to rest. Below about ``SOFT_DROP`` it is made linear instead:

    flow = c sqrt(drop) (1 + (SOFT_DROP / drop)^2)^(-1/4)

3 kPa (0.4 psi) changes the flow at a difference of 1 bar by 0.02 %, at 10 bar by 0.0002 %.
"""

from __future__ import annotations

import math

from n2osim.jit import leaf

SOFT_DROP = 3e3  # Pa


@leaf
def soften(drop):
    """Factor on a flow that goes with the square root of ``drop`` (Pa, above 0)."""
    ratio = SOFT_DROP / drop
    return 1.0 / math.sqrt(math.sqrt(1.0 + ratio * ratio))


@leaf
def soft_slope(drop):
    """Slope of such a flow over the flow itself, 1/Pa."""
    return 1.0 / drop - 0.5 * drop / (drop * drop + SOFT_DROP * SOFT_DROP)
