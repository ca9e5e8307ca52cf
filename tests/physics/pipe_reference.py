"""Flow of nitrous oxide in a pipe by quadrature over CoolProp's densities, for tests only.

At constant enthalpy dp (1/rho) + G^2 (N/2 dz/L - d ln rho) = 0, so that between two pressures
G^2 = integral of rho dp / (N/2 + ln(rho1/rho2)); the pipe chokes where that is largest.
"""

from __future__ import annotations

import math

import CoolProp.CoolProp as CP
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

FLUID = CP.AbstractState("HEOS", "NitrousOxide")


def density(p: float, h: float) -> float:
    """kg/m3 at p [Pa] and h [J/kg]."""
    FLUID.update(CP.HmassP_INPUTS, h, p)
    return FLUID.rhomass()


def pipe_flux(p1: float, h: float, p2: float, N: float, kink: float = 0.0) -> float:
    """Mass flux, kg/m2/s, from p1 to p2 < p1 [Pa], N = f L/D + K; ``kink``: flash pressure."""
    ends = [p2, kink, p1] if p2 < kink < p1 else [p2, p1]
    total = 0.0
    for low, high in zip(ends, ends[1:]):
        total += quad(
            lambda x: math.exp(x) * density(math.exp(x), h),
            math.log(low),
            math.log(high),
            epsrel=1e-8,
            limit=200,
        )[0]
    return math.sqrt(total / (0.5 * N + math.log(density(p1, h) / density(p2, h))))


def choked_flux(p1: float, h: float, N: float, kink: float = 0.0) -> tuple[float, float]:
    """Largest mass flux of a pipe, kg/m2/s, and the pressure at its end, Pa."""
    found = minimize_scalar(
        lambda x: -pipe_flux(p1, h, math.exp(x), N, kink),
        bounds=(math.log(1e5), math.log(0.999 * p1)),
        method="bounded",
        options={"xatol": 1e-6},
    )
    return -found.fun, math.exp(found.x)
