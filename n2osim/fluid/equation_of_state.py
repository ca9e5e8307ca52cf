"""Helmholtz equation of state of nitrous oxide, as compiled scalar kernels.

The short equation of Lemmon & Span, J. Chem. Eng. Data 51 (2006) 785-850, evaluated from
CoolProp's coefficients (shipped file, see make_coefficients.py). Enthalpy and entropy are zero for
saturated liquid at the normal boiling point (184.68 K, 101325 Pa): the reference state of the
equation and CoolProp's default for NitrousOxide, so values compare directly.

The critical point named here is the equation's own, where its two saturated densities meet
(309.52068 K, 7.24482 MPa, 452.93 kg/m3). The published 309.52 K, 7.245 MPa, 452.01 kg/m3 are the
reducing values; between 309.52 and 309.52068 K the equation still has two phases, and leaving
that sliver out would put a step into pressure and energy.
"""

from __future__ import annotations

import math

from n2osim.fluid._coefficients import COEFFICIENTS, frozen
from n2osim.jit import jit

MOLAR_MASS: float = COEFFICIENTS["molar_mass"]
"""Molar mass, kg/mol."""
R_SPECIFIC: float = COEFFICIENTS["gas_constant"] / MOLAR_MASS
"""Gas constant per kilogram, J/(kg K)."""
T_REDUCING: float = COEFFICIENTS["T_reducing"]
"""Reducing temperature (published critical temperature), K."""
RHO_REDUCING: float = COEFFICIENTS["rho_reducing_molar"] * MOLAR_MASS
"""Reducing density (published critical density), kg/m3."""
T_CRITICAL: float = COEFFICIENTS["saturation"]["T_critical"]
"""Critical temperature of the equation, K."""
RHO_CRITICAL: float = COEFFICIENTS["saturation"]["rho_critical_molar"] * MOLAR_MASS
"""Critical density of the equation, kg/m3."""
P_CRITICAL: float = sum(COEFFICIENTS["saturation"]["p"][-1])
"""Critical pressure of the equation (its last saturation expansion at the upper end), Pa."""
T_TRIPLE: float = COEFFICIENTS["T_triple"]
"""Triple-point temperature, lower end of validity, K."""
P_TRIPLE: float = sum(c * (-1) ** i for i, c in enumerate(COEFFICIENTS["saturation"]["p"][0]))
"""Triple-point pressure (first saturation expansion at the lower end), Pa."""
T_MAX: float = float(COEFFICIENTS["T_max"])
"""Highest temperature of validity, K."""
P_MAX: float = float(COEFFICIENTS["p_max"])
"""Highest pressure of validity, Pa."""

_N = frozen(COEFFICIENTS["residual"]["n"])
_D = frozen(COEFFICIENTS["residual"]["d"])
_T = frozen(COEFFICIENTS["residual"]["t"])
_L = frozen(COEFFICIENTS["residual"]["l"])
_TERMS = len(_N)
_LEAD_1: float = COEFFICIENTS["ideal"]["lead"][0]
_LEAD_2: float = COEFFICIENTS["ideal"]["lead"][1]
_LOG_TAU: float = COEFFICIENTS["ideal"]["log_tau"]
_EINSTEIN_N = frozen(COEFFICIENTS["ideal"]["einstein_n"])
_EINSTEIN_T = frozen(COEFFICIENTS["ideal"]["einstein_t"])
_EINSTEINS = len(_EINSTEIN_N)


@jit
def _ideal(log_delta, log_tau, tau):
    """Ideal-gas part: alpha0, tau * d alpha0/d tau, tau^2 * d2 alpha0/d tau2."""
    a = log_delta + _LEAD_1 + _LEAD_2 * tau + _LOG_TAU * log_tau
    a_t = _LEAD_2 * tau + _LOG_TAU
    a_tt = -_LOG_TAU
    for i in range(_EINSTEINS):
        x = _EINSTEIN_T[i] * tau
        e = math.exp(-x)
        f = 1.0 - e
        a += _EINSTEIN_N[i] * math.log(f)
        a_t += _EINSTEIN_N[i] * x * e / f
        a_tt -= _EINSTEIN_N[i] * x * x * e / (f * f)
    return a, a_t, a_tt


@jit
def _tau_powers(tau):
    """tau**t of the residual terms: every t is a multiple of 1/8, so three roots and products do.

    Written out for the exponents of the coefficient file (compared with it in the tests); twelve
    exponentials a state took twice as long.
    """
    r = math.sqrt(math.sqrt(math.sqrt(tau)))
    r2 = r * r
    r4 = r2 * r2
    t2 = tau * tau
    t4 = t2 * t2
    return (
        r2,
        tau * r2,
        tau * r4,
        r2,
        r4 * r2 * r,
        t2 * r2 * r,
        t2,
        t2 * r,
        t2 * tau * r4,
        t4 * t2 * r4,
        t4 * r4 * r2,
        t4 * t4 * t4 * r4,
    )


@jit
def _delta_powers(delta):
    """delta**d exp(-delta**l) of the residual terms, and delta**l (0 without exponential)."""
    d2 = delta * delta
    d3 = d2 * delta
    d4 = d2 * d2
    e1 = math.exp(-delta)
    e2 = math.exp(-d2)
    e3 = math.exp(-d3)
    factors = (
        delta,
        delta,
        delta,
        d3,
        d4 * d3,
        delta * e1,
        d2 * e1,
        d4 * delta * e1,
        delta * e2,
        delta * e2,
        d4 * e2,
        d2 * e3,
    )
    return factors, (0.0, 0.0, 0.0, 0.0, 0.0, delta, delta, delta, d2, d2, d2, d3)


@jit
def _residual(tau, delta):
    """Residual part: a, d*a_d, t*a_t, d^2*a_dd, d*t*a_dt, t^2*a_tt (all dimensionless)."""
    a = 0.0
    a_d = 0.0
    a_t = 0.0
    a_dd = 0.0
    a_dt = 0.0
    a_tt = 0.0
    of_tau = _tau_powers(tau)
    of_delta, powers = _delta_powers(delta)
    for i in range(_TERMS):
        power = powers[i]
        term = _N[i] * of_delta[i] * of_tau[i]
        slope = _D[i] - _L[i] * power
        a += term
        a_d += term * slope
        a_t += term * _T[i]
        a_dd += term * (slope * (slope - 1.0) - _L[i] * _L[i] * power)
        a_dt += term * slope * _T[i]
        a_tt += term * _T[i] * (_T[i] - 1.0)
    return a, a_d, a_t, a_dd, a_dt, a_tt


@jit
def eos(T, rho):
    """Literal single-phase equation, also metastable and inside the dome.

    Parameters: T [K], rho [kg/m3], both > 0.
    Returns (p [Pa], u [J/kg], h [J/kg], s [J/kg/K], cv [J/kg/K], dp/dT at rho [Pa/K],
    dp/drho at T [Pa m3/kg]).
    """
    delta = rho / RHO_REDUCING
    tau = T_REDUCING / T
    log_delta = math.log(delta)
    log_tau = math.log(tau)
    i_a, i_t, i_tt = _ideal(log_delta, log_tau, tau)
    a, a_d, a_t, a_dd, a_dt, a_tt = _residual(tau, delta)
    rt = R_SPECIFIC * T
    z = 1.0 + a_d
    p = rho * rt * z
    u = rt * (i_t + a_t)
    s = R_SPECIFIC * (i_t + a_t - i_a - a)
    cv = -R_SPECIFIC * (i_tt + a_tt)
    return (p, u, u + rt * z, s, cv, rho * R_SPECIFIC * (z - a_dt), rt * (1.0 + 2.0 * a_d + a_dd))


@jit
def stiffness(T, rho):
    """dp/drho at constant T [Pa m3/kg] alone (a third of the work of eos)."""
    delta = rho / RHO_REDUCING
    of_tau = _tau_powers(T_REDUCING / T)
    of_delta, powers = _delta_powers(delta)
    total = 1.0
    for i in range(_TERMS):
        power = powers[i]
        slope = _D[i] - _L[i] * power
        term = _N[i] * of_delta[i] * of_tau[i]
        total += term * (slope * (slope + 1.0) - _L[i] * _L[i] * power)
    return R_SPECIFIC * T * total
