"""Bridge to the flow map while it is being written; goes away with it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from n2osim._jit import jit
from n2osim.errors import InputError

MAP_SIZE = 1


@jit
def map_flow(packed, p, h, rho, phase):
    """No map yet."""
    return math.nan


def packed_map(feed: Any, back: float) -> np.ndarray:
    """No map yet."""
    raise InputError("feed", "line or valve losses", "", "jets alone for now", "leave them out")
