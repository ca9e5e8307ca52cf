"""Flow maps of a feed whose jets are being fitted.

Losses in hose and valves make the flow map depend on the jets' area in more than its size. Solving
a feed anew for every trial area takes many times as long as the run itself, so it is solved at
areas on a fixed ladder and the layer of flow ratios is interpolated between them, by cubics in the
logarithm of the area. A test says how far that is from the feed solved at the very area.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from n2osim.engine.pack import flow_map
from n2osim.hardware.feed import Feed
from n2osim.physics.feed_network import RATIO_LAYER

RUNG = 0.2
"""Distance of the areas solved, in the logarithm of the area."""
_LAST = math.floor(math.log(3e-4) / RUNG)  # the largest area that jets may have


def interpolated_map(feed: Feed, back: float) -> np.ndarray:
    """Packed flow map of ``feed`` for an absolute back pressure (Pa).

    ``pack(scenario, maps=interpolated_map)`` uses it for feeds with losses.
    """
    area = feed.jets.cda
    x = math.log(area) / RUNG
    first = min(math.floor(x) - 1, _LAST - 3)
    rungs = [_rung(feed, back, first + k) for k in range(4)]
    packed = rungs[1].copy()
    packed[4] = area**2
    packed[RATIO_LAYER] = sum(w * rung[RATIO_LAYER] for w, rung in zip(_cubic(x - first), rungs))
    return packed


def _rung(feed: Feed, back: float, k: int) -> np.ndarray:
    area = math.exp(RUNG * k)
    return flow_map(dataclasses.replace(feed, jets=feed.jets.with_area(area)), back)


def _cubic(a: float) -> tuple[float, float, float, float]:
    """Lagrange's weights at ``a`` of the nodes 0, 1, 2, 3."""
    b, c, d = a - 1.0, a - 2.0, a - 3.0
    return -b * c * d / 6.0, a * c * d / 2.0, -a * b * d / 2.0, a * b * c / 6.0
