"""Viscosity, thermal conductivity and surface tension of nitrous oxide (compiled kernels)."""

from __future__ import annotations

import math

from n2osim._jit import jit
from n2osim.fluid._coefficients import COEFFICIENTS, frozen

_SIGMA_TC: float = COEFFICIENTS["surface_tension"]["Tc"]
_SIGMA_A = frozen(COEFFICIENTS["surface_tension"]["a"])
_SIGMA_N = frozen(COEFFICIENTS["surface_tension"]["n"])


@jit
def surface_tension(T):
    """Surface tension, N/m, at T [K] (Mulero et al. 2012); 0 at and above the critical point."""
    if T >= _SIGMA_TC:
        return 0.0
    total = 0.0
    for i in range(len(_SIGMA_A)):
        total += _SIGMA_A[i] * (1.0 - T / _SIGMA_TC) ** _SIGMA_N[i]
    return total
