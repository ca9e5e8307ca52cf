"""Viscosity, thermal conductivity and surface tension of nitrous oxide (compiled kernels).

There is no transport model of reference quality for nitrous oxide (CoolProp has none; REFPROP 10
labels its own an estimate, NISTIR 8209). This one is extended corresponding states on carbon
dioxide, which has the same molar mass and a critical temperature 2 % lower:

  viscosity(T, rho)    = dilute gas (Perry's Handbook, 8th ed., Table 2-312)
                         + carbon dioxide's excess viscosity at the corresponding T and rho
  conductivity(T, rho) = dilute gas (Perry's, Table 2-314) + carbon dioxide's excess + critical part

with f = T_c/T_c0, h = rho_c0/rho_c (molar), F_viscosity = f^(1/2) h^(-2/3) (M/M0)^(1/2) and
F_conductivity with the inverse mass ratio (Hanley 1976; Ely & Hanley 1981, 1983). The reference is
Laesecke & Muzny (2017) for viscosity, Huber et al. (2016) for conductivity, both as in CoolProp.

Three numbers were fitted, to nothing but the saturated values tabulated in
tests/data/n2o_transport_independent_sources.csv: the slope 0.085 in density of the viscosity
factor (liquid, Perry's and the WTT table), the factor 0.957 on the excess conductivity and the
factor 0.8 on the cut-off wave number of the critical part (liquid and vapour of the WTT table).

Departures found on the saturation line, 250-307 K (tests/fluid holds them):
  liquid viscosity     within 2 % of Perry's and WTT to 305 K, 3.2 % at 307 K; 9-13 % above ESDU
                       91022, which lies 8-13 % below the other two
  vapour viscosity     1-6 % below WTT, 0-7 % below ESDU 91022
  liquid conductivity  within 1.5 % of WTT; ESDU 91022 (ends at 283 K) lies 13 % below WTT at 250 K
                       and 2 % above it at 280 K
  vapour conductivity  within 5 % of WTT; 0-15 % above ESDU 91022 up to 295 K (that source has no
                       rise towards the critical point)
Take 5 % for liquid and 8 % for vapour up to 3 K below the critical point and 15 % nearer to it.
Above the critical point and below 250 K nothing independent was at hand: 10-20 % is an estimate.

The critical part grows without limit at the critical point. It is bounded here (see
critical_enhancement): within about 0.7 K of the critical point at its density, real fluid conducts
better than this says.
"""

from __future__ import annotations

import math

from n2osim.fluid._coefficients import COEFFICIENTS, frozen
from n2osim.fluid.equation_of_state import (
    MOLAR_MASS,
    P_CRITICAL,
    R_SPECIFIC,
    RHO_CRITICAL,
    RHO_REDUCING,
    T_REDUCING,
    eos,
)
from n2osim.fluid.equation_of_state import stiffness as stiffness_at
from n2osim.jit import jit

_REFERENCE = COEFFICIENTS["transport_reference"]
_MASS_RATIO: float = MOLAR_MASS / _REFERENCE["molar_mass"]
_T_RATIO: float = T_REDUCING / _REFERENCE["T_reducing"]
_RHO_RATIO: float = RHO_REDUCING / _REFERENCE["rho_reducing"]  # kilograms over kilograms
_MOLAR_RATIO: float = _RHO_RATIO / _MASS_RATIO
_FACTOR_MU: float = math.sqrt(_T_RATIO * _MASS_RATIO) * _MOLAR_RATIO ** (2.0 / 3.0)
_FACTOR_K: float = math.sqrt(_T_RATIO / _MASS_RATIO) * _MOLAR_RATIO ** (2.0 / 3.0)
_MU_SHAPE = 0.085  # fitted: excess viscosity is lowered by this fraction per reduced density
_K_SCALE = 0.957  # fitted: excess conductivity against plain corresponding states
_QD_SCALE = 0.8  # fitted: cut-off wave number of the critical part against carbon dioxide's

_MU_T = frozen(_REFERENCE["viscosity_T"])
_MU_RHO = frozen(_REFERENCE["viscosity_rho"])
_MU = frozen(_REFERENCE["viscosity"])
_MU_ROWS, _MU_COLUMNS = _MU.shape
_K = frozen(_REFERENCE["conductivity"])
_K_TERMS = _K.shape[1]

_BOLTZMANN = 1.380649e-23  # J/K, SI definition
_AMPLITUDE: float = _REFERENCE["critical"]["GAMMA"]
_R0: float = _REFERENCE["critical"]["R0"]
_EXPONENT: float = _REFERENCE["critical"]["nu"] / _REFERENCE["critical"]["gamma"]
_QD: float = _QD_SCALE * _REFERENCE["critical"]["qD"]
_XI0: float = _REFERENCE["critical"]["zeta0"]
_T_FAR = 1.5 * T_REDUCING
_STIFFNESS_FLOOR = 0.005  # of R T, see critical_enhancement

_SIGMA_TC: float = COEFFICIENTS["surface_tension"]["Tc"]
_SIGMA_A = frozen(COEFFICIENTS["surface_tension"]["a"])
_SIGMA_N = frozen(COEFFICIENTS["surface_tension"]["n"])


@jit
def dilute_viscosity(T):
    """Dilute-gas viscosity, Pa s, at T [K]: Perry's 8th ed. Table 2-312."""
    return 2.115e-6 * T**0.4642 / (1.0 + 305.7 / T)


@jit
def dilute_conductivity(T):
    """Dilute-gas conductivity, W/m/K, at T [K]: Perry's 8th ed. Table 2-314."""
    return 0.001096 * T**0.667 / (1.0 + 540.0 / T)


@jit
def _reference_excess_viscosity(T, rho):
    """Carbon dioxide's excess viscosity, Pa s, at its T, rho (two-dimensional Clenshaw sum)."""
    x2 = 2.0 * (2.0 * T - _MU_T[0] - _MU_T[1]) / (_MU_T[1] - _MU_T[0])
    y2 = 2.0 * (2.0 * rho - _MU_RHO[0] - _MU_RHO[1]) / (_MU_RHO[1] - _MU_RHO[0])
    b0 = 0.0
    b1 = 0.0
    for i in range(_MU_ROWS - 1, -1, -1):
        c0 = 0.0
        c1 = 0.0
        for k in range(_MU_COLUMNS - 1, 0, -1):
            c2 = c1
            c1 = c0
            c0 = _MU[i, k] + y2 * c1 - c2
        row = _MU[i, 0] + 0.5 * y2 * c0 - c1
        if i == 0:
            return rho * (row + 0.5 * x2 * b0 - b1)
        b2 = b1
        b1 = b0
        b0 = row + x2 * b1 - b2
    return 0.0


@jit
def viscosity(T, rho):
    """Viscosity, Pa s, of one phase at T [K], rho [kg/m3]."""
    excess = _reference_excess_viscosity(T / _T_RATIO, rho / _RHO_RATIO)
    return dilute_viscosity(T) + excess * _FACTOR_MU * (1.0 - _MU_SHAPE * rho / RHO_REDUCING)


@jit
def background_conductivity(T, rho):
    """Thermal conductivity without the critical enhancement, W/m/K."""
    theta = T / T_REDUCING
    delta = rho / RHO_REDUCING
    excess = 0.0
    for i in range(_K_TERMS - 1, -1, -1):
        excess = (excess + _K[0, i] + _K[1, i] * theta) * delta
    return dilute_conductivity(T) + _K_SCALE * _FACTOR_K * excess


@jit
def critical_enhancement(T, rho, mu):
    """Critical part of the conductivity, W/m/K; mu is the viscosity, Pa s.

    Simplified cross-over model of Olchowy & Sengers, Int. J. Thermophys. 10 (1989) 417, with
    carbon dioxide's amplitudes and nitrous oxide's own equation of state. Bounded: dp/drho counts
    as at least 0.005 R T, which limits correlation length and heat capacity (also inside the dome).
    """
    r = eos(T, rho)
    stiffness = max(r[6], _STIFFNESS_FLOOR * R_SPECIFIC * T)
    far = stiffness_at(_T_FAR, rho)
    chi = P_CRITICAL * rho / (RHO_CRITICAL * RHO_CRITICAL)
    chi *= 1.0 / stiffness - _T_FAR / T / far
    if not (chi > 0.0):
        return 0.0
    cp = r[4] + T * r[5] * r[5] / (rho * rho * stiffness)
    xi = _XI0 * (chi / _AMPLITUDE) ** _EXPONENT
    z = _QD * xi
    ratio = r[4] / cp
    omega = (1.0 - ratio) * math.atan(z) + ratio * z
    dense = RHO_CRITICAL / rho
    omega -= 1.0 - math.exp(-1.0 / (1.0 / z + z * z * dense * dense / 3.0))
    omega *= 2.0 / math.pi
    return max(rho * cp * _R0 * _BOLTZMANN * T / (6.0 * math.pi * mu * xi) * omega, 0.0)


@jit
def conductivity(T, rho):
    """Thermal conductivity, W/m/K, of one phase at T [K], rho [kg/m3], with critical part."""
    return background_conductivity(T, rho) + critical_enhancement(T, rho, viscosity(T, rho))


@jit
def surface_tension(T):
    """Surface tension, N/m, at T [K] (Mulero et al. 2012); 0 at and above the critical point."""
    if T >= _SIGMA_TC:
        return 0.0
    total = 0.0
    for i in range(len(_SIGMA_A)):
        total += _SIGMA_A[i] * (1.0 - T / _SIGMA_TC) ** _SIGMA_N[i]
    return total
