"""Thermal radiation between a small grey body and large surroundings (compiled kernels).

Grey, diffuse surface of emissivity eps in surroundings at one temperature (the surroundings
act as a black cavity whatever their own emissivity): Incropera & DeWitt, eq. 1.7.
"""

from __future__ import annotations

from n2osim.jit import jit

STEFAN_BOLTZMANN = 5.670374419e-8  # W/m2/K4, SI definition (CODATA 2018)


@jit
def radiation_steepness(T_surface, T_surround, emissivity):
    """How the radiation coefficient rises with the surface's temperature, W/m2/K2."""
    of_surface = T_surface * (3.0 * T_surface + 2.0 * T_surround)
    return emissivity * STEFAN_BOLTZMANN * (of_surface + T_surround * T_surround)


@jit
def radiation_coefficient(T_surface, T_surround, emissivity):
    """Radiation coefficient h_r, W/m2/K: h_r (T_surface - T_surround) is the exact net flux.

    Temperatures in K, emissivity 0..1. Smooth through T_surface = T_surround
    (Incropera & DeWitt, eq. 1.9).
    """
    squares = T_surface * T_surface + T_surround * T_surround
    return emissivity * STEFAN_BOLTZMANN * (T_surface + T_surround) * squares
