"""The shipped coefficient file as frozen arrays (per kilogram, SI). No CoolProp here."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

COEFFICIENTS: dict[str, Any] = json.loads(
    Path(__file__).with_name("n2o_coefficients.json").read_text()
)


def frozen(values: Any) -> np.ndarray:
    """A read-only float array: compiled kernels take module arrays in as constants."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array
