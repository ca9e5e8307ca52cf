"""Viscosity, thermal conductivity and surface tension of nitrous oxide (compiled kernels).

There is no reference-quality transport model for nitrous oxide. This is extended corresponding
states on carbon dioxide (same molar mass, critical temperature 2 % apart): the dilute gas has its
own correlation (Perry's Handbook, 8th ed., Tables 2-312 and 2-314, 182-1000 K), the excess over
it is carbon dioxide's at the corresponding temperature and density.
"""

from __future__ import annotations

import math

from n2osim._jit import jit
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

_REFERENCE = COEFFICIENTS["transport_reference"]
_MASS_RATIO: float = MOLAR_MASS / _REFERENCE["molar_mass"]
_T_RATIO: float = T_REDUCING / _REFERENCE["T_reducing"]
_RHO_RATIO: float = RHO_REDUCING / _REFERENCE["rho_reducing"]  # kilograms over kilograms
_MOLAR_RATIO: float = _RHO_RATIO / _MASS_RATIO
_FACTOR_MU: float = math.sqrt(_T_RATIO * _MASS_RATIO) * _MOLAR_RATIO ** (2.0 / 3.0)
_FACTOR_K: float = math.sqrt(_T_RATIO / _MASS_RATIO) * _MOLAR_RATIO ** (2.0 / 3.0)
_MU_SHAPE = 0.09  # excess viscosity is lowered by this fraction per reduced density
_K_SCALE = 0.97  # excess conductivity against plain corresponding states

_MU_T = frozen(_REFERENCE["viscosity_T"])
_MU_RHO = frozen(_REFERENCE["viscosity_rho"])
_MU = frozen(_REFERENCE["viscosity"])
_MU_ROWS, _MU_COLUMNS = _MU.shape
_K_B = frozen(_REFERENCE["conductivity"]["B"])
_K_D = frozen(_REFERENCE["conductivity"]["d"])
_K_T = frozen(_REFERENCE["conductivity"]["t"])
_K_TERMS = len(_K_B)

_BOLTZMANN = 1.380649e-23  # J/K, SI definition
_AMPLITUDE: float = _REFERENCE["critical"]["GAMMA"]
_R0: float = _REFERENCE["critical"]["R0"]
_EXPONENT: float = _REFERENCE["critical"]["nu"] / _REFERENCE["critical"]["gamma"]
_QD: float = _REFERENCE["critical"]["qD"]
_XI0: float = _REFERENCE["critical"]["zeta0"]
_T_FAR = 1.5 * T_REDUCING
_STIFFNESS_FLOOR = 0.02  # of R T: bounds the critical enhancement, see critical_enhancement

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
    tau = T_REDUCING / T
    delta = rho / RHO_REDUCING
    excess = 0.0
    for i in range(_K_TERMS):
        excess += _K_B[i] * delta ** _K_D[i] * tau ** _K_T[i]
    return dilute_conductivity(T) + _K_SCALE * _FACTOR_K * excess


@jit
def critical_enhancement(T, rho, mu):
    """Critical part of the conductivity, W/m/K, bounded (Olchowy & Sengers 1989, simplified)."""
    r = eos(T, rho)
    stiffness = max(r[6], _STIFFNESS_FLOOR * R_SPECIFIC * T)
    far = eos(_T_FAR, rho)[6]
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
