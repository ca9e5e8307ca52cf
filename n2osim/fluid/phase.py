"""The phase rule, defined once in words and in code.

Up to and including the critical temperature T_CRITICAL, by the saturated densities there:
  LIQUID      rho >= rho_l(T)             (any pressure, also above the critical pressure)
  TWO_PHASE   rho_v(T) < rho < rho_l(T)
  VAPOUR      rho <= rho_v(T)
Above the critical temperature, by pressure:
  SUPERCRITICAL  p > P_CRITICAL
  VAPOUR         p <= P_CRITICAL

Kernel quality x is the vapour mass fraction of a two-phase mixture, 0.0 for liquid, 1.0 for
vapour and -1.0 for supercritical fluid (which the public API turns into a number in 0..1).
"""

from __future__ import annotations

from n2osim.fluid.equation_of_state import P_CRITICAL, RHO_CRITICAL, T_CRITICAL
from n2osim.jit import jit

LIQUID = 0
TWO_PHASE = 1
VAPOUR = 2
SUPERCRITICAL = 3
PHASE_NAMES = ("liquid", "two-phase", "vapour", "supercritical")


@jit
def single_phase(T, rho, p):
    """(kernel quality, phase) of a state known to be outside the dome; p is its pressure, Pa."""
    if T > T_CRITICAL:
        if p > P_CRITICAL:
            return -1.0, SUPERCRITICAL
        return 1.0, VAPOUR
    if rho > RHO_CRITICAL:
        return 0.0, LIQUID
    return 1.0, VAPOUR


@jit
def quality(rho, rho_l, rho_v):
    """Vapour mass fraction of a two-phase mixture of density rho (lever rule in volume)."""
    return (1.0 / rho - 1.0 / rho_l) / (1.0 / rho_v - 1.0 / rho_l)
