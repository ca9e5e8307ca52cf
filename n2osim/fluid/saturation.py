"""Saturation line of nitrous oxide as compiled scalar kernels.

Pressure and the two saturated densities come from the super-ancillary equations shipped with
CoolProp (piecewise Chebyshev expansions in temperature, accurate to about 1e-12 up to the
critical point; method of Bell & Alpert, Int. J. Thermophys. 42 (2021) 121). Saturated energies
and entropies are expansions on the same pieces, fitted (make_coefficients.py) to the equation of
state at those densities. NaN outside T_TRIPLE..T_CRITICAL.
"""

from __future__ import annotations

import math

import numpy as np

from n2osim.fluid._coefficients import COEFFICIENTS, frozen
from n2osim.fluid.equation_of_state import (
    MOLAR_MASS,
    P_CRITICAL,
    P_TRIPLE,
    RHO_CRITICAL,
    T_CRITICAL,
    T_TRIPLE,
)
from n2osim.jit import jit

_EDGES = frozen(COEFFICIENTS["saturation"]["T_edges"])
_PIECES = len(_EDGES) - 1
_P = frozen(COEFFICIENTS["saturation"]["p"])
_RHO_L = frozen(np.array(COEFFICIENTS["saturation"]["rho_l_molar"]) * MOLAR_MASS)
_RHO_V = frozen(np.array(COEFFICIENTS["saturation"]["rho_v_molar"]) * MOLAR_MASS)
_ORDER = _P.shape[1]
_CALORIC = [COEFFICIENTS["saturation"][k] for k in ("u_l", "u_v", "s_l", "s_v", "cv_l", "cv_v")]
# One block a piece, one row an order, one column a quantity: what one look-up reads is adjacent.
_TABLE = frozen(np.stack([_P, _RHO_L, _RHO_V, *np.array(_CALORIC)], axis=-1))
_SIGNS = np.array([(-1.0) ** k for k in range(_ORDER)])


def _edge_values(expansion: np.ndarray) -> np.ndarray:
    """Value of a piecewise expansion at every edge (for finding the piece of an inverse)."""
    return frozen(np.append(expansion @ _SIGNS, expansion[-1].sum()))


_P_EDGES = _edge_values(_P)
_RHO_L_EDGES = _edge_values(_RHO_L)
_RHO_V_EDGES = _edge_values(_RHO_V)
RHO_L_TRIPLE: float = float(_RHO_L_EDGES[0])
"""Saturated-liquid density at the triple point, kg/m3."""
RHO_V_TRIPLE: float = float(_RHO_V_EDGES[0])
"""Saturated-vapour density at the triple point, kg/m3."""


_CALORIC_EDGES = {
    name: _edge_values(_TABLE[:, :, column]) for name, column in (("u_l", 3), ("s_l", 5))
}
_S_L_EDGES = _CALORIC_EDGES["s_l"]
_H_L_EDGES = frozen(_CALORIC_EDGES["u_l"] + _P_EDGES / _RHO_L_EDGES)
H_CRITICAL: float = float(_H_L_EDGES[-1])
"""Enthalpy at the critical point, J/kg."""
S_CRITICAL: float = float(_S_L_EDGES[-1])
"""Entropy at the critical point, J/kg/K."""


@jit
def _piece(edges, sign, value):
    """Index of the piece holding value; edges rise (sign 1) or fall (sign -1)."""
    low = 0
    high = _PIECES
    while high - low > 1:
        middle = (low + high) // 2
        if sign * edges[middle] <= sign * value:
            low = middle
        else:
            high = middle
    return low


@jit
def _clenshaw(coefficients, i, x):
    """Value and derivative (with respect to x in -1..1) of Chebyshev expansion number i."""
    b0 = 0.0
    b1 = 0.0
    d0 = 0.0
    d1 = 0.0
    for k in range(_ORDER - 1, 0, -1):
        b2 = b1
        b1 = b0
        d2 = d1
        d1 = d0
        d0 = 2.0 * b1 + 2.0 * x * d1 - d2
        b0 = coefficients[i, k] + 2.0 * x * b1 - b2
    value = coefficients[i, 0] + x * b0 - b1
    slope = b0 + x * d0 - d1
    return value, slope


@jit
def sat_rho(T):
    """Saturation pressure and densities: (p [Pa], rho_l, rho_v [kg/m3]) at T [K]."""
    if not (T_TRIPLE <= T <= T_CRITICAL):
        return math.nan, math.nan, math.nan
    i = _piece(_EDGES, 1.0, T)
    x2 = 2.0 * (2.0 * T - _EDGES[i] - _EDGES[i + 1]) / (_EDGES[i + 1] - _EDGES[i])
    p0 = p1 = l0 = l1 = v0 = v1 = 0.0
    for k in range(_ORDER - 1, 0, -1):
        p0, p1 = _TABLE[i, k, 0] + x2 * p0 - p1, p0
        l0, l1 = _TABLE[i, k, 1] + x2 * l0 - l1, l0
        v0, v1 = _TABLE[i, k, 2] + x2 * v0 - v1, v0
    half = 0.5 * x2
    return (
        _TABLE[i, 0, 0] + half * p0 - p1,
        _TABLE[i, 0, 1] + half * l0 - l1,
        _TABLE[i, 0, 2] + half * v0 - v1,
    )


@jit
def sat_caloric(T):
    """Saturated (u_l, u_v [J/kg], s_l, s_v, c_l, c_v [J/kg/K]) at T [K].

    c_l and c_v are the phases' shares of the two-phase c_v (state.py weighs them with quality).
    """
    if not (T_TRIPLE <= T <= T_CRITICAL):
        return math.nan, math.nan, math.nan, math.nan, math.nan, math.nan
    i = _piece(_EDGES, 1.0, T)
    x2 = 2.0 * (2.0 * T - _EDGES[i] - _EDGES[i + 1]) / (_EDGES[i + 1] - _EDGES[i])
    a0 = a1 = b0 = b1 = c0 = c1 = d0 = d1 = e0 = e1 = f0 = f1 = 0.0
    for k in range(_ORDER - 1, 0, -1):
        a0, a1 = _TABLE[i, k, 3] + x2 * a0 - a1, a0
        b0, b1 = _TABLE[i, k, 4] + x2 * b0 - b1, b0
        c0, c1 = _TABLE[i, k, 5] + x2 * c0 - c1, c0
        d0, d1 = _TABLE[i, k, 6] + x2 * d0 - d1, d0
        e0, e1 = _TABLE[i, k, 7] + x2 * e0 - e1, e0
        f0, f1 = _TABLE[i, k, 8] + x2 * f0 - f1, f0
    half = 0.5 * x2
    return (
        _TABLE[i, 0, 3] + half * a0 - a1,
        _TABLE[i, 0, 4] + half * b0 - b1,
        _TABLE[i, 0, 5] + half * c0 - c1,
        _TABLE[i, 0, 6] + half * d0 - d1,
        _TABLE[i, 0, 7] + half * e0 - e1,
        _TABLE[i, 0, 8] + half * f0 - f1,
    )


@jit
def sat_all(T):
    """sat_rho and sat_caloric in one row of nine: what a state in the dome is made of."""
    p, rho_l, rho_v = sat_rho(T)
    u_l, u_v, s_l, s_v, c_l, c_v = sat_caloric(T)
    return p, rho_l, rho_v, u_l, u_v, s_l, s_v, c_l, c_v


@jit
def sat(T):
    """Saturation (p, rho_l, rho_v, u_l, u_v, h_l, h_v, s_l, s_v) at T [K]; SI, NaN outside."""
    p, rho_l, rho_v = sat_rho(T)
    u_l, u_v, s_l, s_v, _, _ = sat_caloric(T)
    return p, rho_l, rho_v, u_l, u_v, u_l + p / rho_l, u_v + p / rho_v, s_l, s_v


@jit
def dpdT_sat(T):
    """Slope of the saturation pressure, Pa/K, at T [K] (derivative of its expansion)."""
    if not (T_TRIPLE <= T <= T_CRITICAL):
        return math.nan
    i = _piece(_EDGES, 1.0, T)
    width = _EDGES[i + 1] - _EDGES[i]
    slope = _clenshaw(_P, i, (2.0 * T - _EDGES[i] - _EDGES[i + 1]) / width)[1]
    return 2.0 * slope / width


@jit
def _invert(expansion, edges, sign, value):
    """Temperature where a monotonic piecewise expansion takes a value (bracketed Newton)."""
    i = _piece(edges, sign, value)
    low = -1.0
    high = 1.0
    x = -1.0 + 2.0 * (value - edges[i]) / (edges[i + 1] - edges[i])
    for _ in range(60):
        y, slope = _clenshaw(expansion, i, x)
        if sign * (y - value) > 0.0:
            high = x
        else:
            low = x
        step = (value - y) / slope
        new = x + step
        if not (low <= new <= high):
            new = 0.5 * (low + high)
        if abs(new - x) <= 1e-14 or high - low <= 4e-16:
            x = new
            break
        x = new
    return 0.5 * (_EDGES[i] + _EDGES[i + 1] + x * (_EDGES[i + 1] - _EDGES[i]))


@jit
def sat_T(p):
    """Saturation temperature, K, at p [Pa]; NaN outside P_TRIPLE..P_CRITICAL."""
    if not (P_TRIPLE <= p <= P_CRITICAL):
        return math.nan
    return min(max(_invert(_P, _P_EDGES, 1.0, p), T_TRIPLE), T_CRITICAL)


@jit
def sat_T_of_rho_l(rho):
    """Temperature, K, at which liquid of density rho [kg/m3] is saturated; NaN outside."""
    if not (RHO_CRITICAL <= rho <= RHO_L_TRIPLE):
        return math.nan
    return min(max(_invert(_RHO_L, _RHO_L_EDGES, -1.0, rho), T_TRIPLE), T_CRITICAL)


@jit
def sat_T_of_rho_v(rho):
    """Temperature, K, at which vapour of density rho [kg/m3] is saturated; NaN outside."""
    if not (RHO_V_TRIPLE <= rho <= RHO_CRITICAL):
        return math.nan
    return min(max(_invert(_RHO_V, _RHO_V_EDGES, 1.0, rho), T_TRIPLE), T_CRITICAL)


@jit
def guess_T_liquid(y, entropy):
    """Rough temperature, K, of liquid with enthalpy (entropy 0) or entropy (1) y: flash starts."""
    edges = _S_L_EDGES if entropy else _H_L_EDGES
    i = _piece(edges, 1.0, y)
    fraction = (y - edges[i]) / (edges[i + 1] - edges[i])
    T = _EDGES[i] + fraction * (_EDGES[i + 1] - _EDGES[i])
    return min(max(T, T_TRIPLE), T_CRITICAL)
