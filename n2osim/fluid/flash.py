"""States from pressure and a second property, as compiled scalar kernels.

All return (T [K], rho [kg/m3], x, phase), with x and phase as in phase.py, and NaN outside
T_TRIPLE..T_MAX or 0..P_MAX. Two-phase answers come straight from the saturation line. One phase:
Newton in (T, rho) together, whose equations stay regular at the critical point; if it does not
land on the stable branch, nested bracketing does the search and Newton only the last digits.
"""

from __future__ import annotations

import math

from n2osim.fluid.equation_of_state import (
    P_CRITICAL,
    P_MAX,
    P_TRIPLE,
    R_SPECIFIC,
    RHO_CRITICAL,
    T_CRITICAL,
    T_MAX,
    T_TRIPLE,
    eos,
)
from n2osim.fluid.phase import LIQUID, TWO_PHASE, quality, single_phase
from n2osim.fluid.saturation import (
    H_CRITICAL,
    RHO_L_TRIPLE,
    RHO_V_TRIPLE,
    S_CRITICAL,
    guess_T_liquid,
    sat,
    sat_rho,
    sat_T,
    sat_T_of_rho_l,
    sat_T_of_rho_v,
)
from n2osim.jit import entry, jit

RHO_MAX = 1320.0
"""Above the density of 50 MPa liquid at the triple point (1293 kg/m3): upper search limit."""
EDGE = 1e-9
"""Relative slack at the ends of the range, so that round trips do not fall off it."""
T_SLACK = 1e-7
"""The same in temperature, K."""


@jit
def _rho_on_isotherm(p, T, low, high, guess):
    """Density at p on an isotherm that rises through low..high (bracketed Newton)."""
    rho = guess
    if not (low <= rho <= high):
        rho = 0.5 * (low + high)
    last = math.inf
    for _ in range(200):
        r = eos(T, rho)
        error = p - r[0]
        if error >= 0.0:
            low = rho
        if error <= 0.0:
            high = rho
        new = rho + error / r[6]
        if not (low <= new <= high) or abs(error) > 0.7 * last:
            new = 0.5 * (low + high)
        last = abs(error)
        if high - low <= 2e-16 * high or abs(new - rho) <= 1e-15 * rho:
            return new
        if abs(new - rho) <= 1e-9 * rho and r[6] > 0.01 * R_SPECIFIC * T:
            return new
        rho = new
    return rho


@jit
def rho_pT(p, T, guess):
    """Stable single-phase density, kg/m3, at p [Pa], T [K] (liquid on the saturation line)."""
    if T < T_CRITICAL:
        p_sat, rho_l, rho_v = sat_rho(T)
        if p >= p_sat:
            return _rho_on_isotherm(p, T, rho_l, RHO_MAX, max(guess, rho_l))
        if not (0.0 < guess <= rho_v):
            guess = min(p / (R_SPECIFIC * T), rho_v)
        return _rho_on_isotherm(p, T, 0.0, rho_v, guess)
    if not (guess > 0.0):
        guess = min(p / (R_SPECIFIC * T), RHO_CRITICAL)
    return _rho_on_isotherm(p, T, 0.0, RHO_MAX, guess)


@jit
def state_pT(p, T):
    """State at p [Pa], T [K], always one phase: liquid exactly on the saturation line."""
    n = math.nan
    if not (0.0 < p <= P_MAX * (1.0 + EDGE) and T_TRIPLE <= T <= T_MAX):
        return n, n, n, LIQUID
    rho = rho_pT(p, T, -1.0)
    x, phase = single_phase(T, rho, p)
    return T, rho, x, phase


@jit
def _newton_step(p, y, entropy, T, rho):
    """Newton step (dT, drho) towards p and y = h (entropy 0) or s (entropy 1)."""
    r = eos(T, rho)
    p_T = r[5]
    p_rho = r[6]
    if entropy:
        y_T = r[4] / T
        y_rho = -p_T / (rho * rho)
        d_y = y - r[3]
    else:
        y_T = r[4] + p_T / rho
        y_rho = (rho * p_rho - T * p_T) / (rho * rho)
        d_y = y - r[2]
    d_p = p - r[0]
    determinant = p_T * y_rho - p_rho * y_T
    d_T = (d_p * y_rho - d_y * p_rho) / determinant
    d_rho = (d_y * p_T - d_p * y_T) / determinant
    return d_T, d_rho


@jit
def _newton(p, y, entropy, T, rho, steps):
    """Damped Newton in (T, rho): (T, rho), NaN when it has not settled."""
    for _ in range(steps):
        d_T, d_rho = _newton_step(p, y, entropy, T, rho)
        shrink = max(abs(d_T) / 60.0, abs(d_rho) / (0.4 * rho), 1.0)
        T = min(max(T + d_T / shrink, 0.8 * T_TRIPLE), 1.2 * T_MAX)
        rho = min(rho + d_rho / shrink, RHO_MAX)
        if not math.isfinite(T + rho):
            break
        if abs(d_T) <= 1e-8 * T and abs(d_rho) <= 1e-7 * rho:
            return T, rho
    return math.nan, math.nan


@jit
def _on_stable_branch(T, rho, low, high, rho_low, rho_high):
    """Whether T, rho lie between the limits of a branch and outside the dome."""
    if not (low - 1e-7 <= T <= high + 1e-7 and rho_low <= rho <= rho_high):
        return False
    if T >= T_CRITICAL:
        return True
    _p, rho_l, rho_v = sat_rho(max(T, T_TRIPLE))
    return rho >= rho_l * (1.0 - EDGE) or rho <= rho_v * (1.0 + EDGE)


@jit
def _caloric_slope(T, rho, entropy):
    """h (or s) of one phase and its slope with temperature at constant pressure."""
    r = eos(T, rho)
    cp = r[4] + T * r[5] * r[5] / (rho * rho * r[6])
    if entropy:
        return r[3], cp / T
    return r[2], cp


@jit
def _bracketed_isobar(p, y, entropy, low, high):
    """T, rho on a stable isobar between T low and high where h (or s) equals y; NaN if none.

    y rises with T along it (dh/dT = cp > 0, ds/dT = cp/T > 0): Newton in T inside a bracket,
    which is halved when Newton leaves it or stalls (cp has a sharp peak near the critical point).
    """
    rho = rho_pT(p, low, -1.0)
    value, slope = _caloric_slope(low, rho, entropy)
    if y <= value:
        return (low if value - y <= T_SLACK * slope else math.nan), rho
    rho = rho_pT(p, high, -1.0)
    value, slope = _caloric_slope(high, rho, entropy)
    if y >= value:
        return (high if y - value <= T_SLACK * slope else math.nan), rho
    last = math.inf
    T = 0.5 * (low + high)
    for _ in range(200):
        rho = rho_pT(p, T, rho)
        value, slope = _caloric_slope(T, rho, entropy)
        error = y - value
        if error >= 0.0:
            low = T
        if error <= 0.0:
            high = T
        new = T + error / slope
        if not (low <= new <= high) or abs(error) > 0.7 * last:
            new = 0.5 * (low + high)
        last = abs(error)
        if abs(new - T) <= 1e-9 or high - low <= 1e-9:
            return new, rho_pT(p, new, rho)
        T = new
    return math.nan, math.nan


@jit
def _isobar(p, y, entropy, low, high, rho_low, rho_high, T_guess, rho_guess):
    """T, rho of one phase at p and h or s, with T in low..high and rho in rho_low..rho_high."""
    T, rho = _newton(p, y, entropy, T_guess, rho_guess, 12)
    if not _on_stable_branch(T, rho, low, high, rho_low, rho_high):
        T, rho = _bracketed_isobar(p, y, entropy, low, high)
        polished_T, polished_rho = _newton(p, y, entropy, T, rho, 4)
        if abs(polished_T - T) < 1e-6 and abs(polished_rho - rho) < 0.02 * rho:
            T = polished_T
            rho = polished_rho
    return min(max(T, low), high), rho


@jit
def _state_p_y(p, y, entropy):
    """Flash at p with h (entropy 0) or s (entropy 1)."""
    n = math.nan
    if not (0.0 < p <= P_MAX * (1.0 + EDGE)) or not math.isfinite(y):
        return n, n, n, LIQUID
    liquid_like = y < (S_CRITICAL if entropy else H_CRITICAL)
    T_guess = 1.1 * T_CRITICAL
    rho_guess = min(p / (R_SPECIFIC * T_guess), RHO_CRITICAL)
    if liquid_like:
        T_guess = guess_T_liquid(y, entropy)
        rho_guess = sat_rho(T_guess)[1]
    if p < P_TRIPLE or p >= P_CRITICAL:
        T, rho = _isobar(p, y, entropy, T_TRIPLE, T_MAX, 0.0, RHO_MAX, T_guess, rho_guess)
    else:
        T_sat = sat_T(p)
        q = sat(T_sat)
        y_l = q[7] if entropy else q[5]
        y_v = q[8] if entropy else q[6]
        if y_l < y < y_v:
            x = (y - y_l) / (y_v - y_l)
            return T_sat, 1.0 / (1.0 / q[1] + x * (1.0 / q[2] - 1.0 / q[1])), x, TWO_PHASE
        if y <= y_l:
            low = q[1] * (1.0 - EDGE)
            T, rho = _isobar(p, y, entropy, T_TRIPLE, T_sat, low, RHO_MAX, T_guess, rho_guess)
        else:
            high = q[2] * (1.0 + EDGE)
            T, rho = _isobar(p, y, entropy, T_sat, T_MAX, 0.0, high, T_sat, q[2])
    if not (T >= T_TRIPLE):
        return n, n, n, LIQUID
    x, phase = single_phase(T, rho, p)
    return T, rho, x, phase


@entry
def state_ph(p, h):
    """State at p [Pa], h [J/kg]."""
    return _state_p_y(p, h, 0)


@jit
def state_ps(p, s):
    """State at p [Pa], s [J/kg/K]."""
    return _state_p_y(p, s, 1)


@jit
def _isochore(p, rho, low, high):
    """T on a single-phase isochore (p rises with T) between low and high; NaN if none."""
    r = eos(low, rho)
    if p <= r[0]:
        return low if r[0] - p <= T_SLACK * r[5] else math.nan
    r = eos(high, rho)
    if p >= r[0]:
        return high if p - r[0] <= T_SLACK * r[5] else math.nan
    T = min(max(T_CRITICAL, low), high)
    last = math.inf
    for _ in range(200):
        r = eos(T, rho)
        error = p - r[0]
        if error >= 0.0:
            low = T
        if error <= 0.0:
            high = T
        new = T + error / r[5]
        if not (low <= new <= high) or abs(error) > 0.7 * last:
            new = 0.5 * (low + high)
        last = abs(error)
        if abs(new - T) <= 1e-8 or high - low <= 1e-9:
            return new
        T = new
    return math.nan


@jit
def state_prho(p, rho):
    """State at p [Pa], rho [kg/m3]."""
    n = math.nan
    if not (0.0 < p <= P_MAX * (1.0 + EDGE) and 0.0 < rho <= RHO_MAX):
        return n, n, n, LIQUID
    floor = T_TRIPLE
    if RHO_V_TRIPLE <= rho <= RHO_L_TRIPLE:
        if P_TRIPLE <= p < P_CRITICAL:
            T = sat_T(p)
            _p, rho_l, rho_v = sat_rho(T)
            if rho_v < rho < rho_l:
                return T, rho, quality(rho, rho_l, rho_v), TWO_PHASE
        floor = sat_T_of_rho_l(rho) if rho >= RHO_CRITICAL else sat_T_of_rho_v(rho)
    T = _isochore(p, rho, floor, T_MAX)
    if not (T >= T_TRIPLE):
        return n, n, n, LIQUID
    x, phase = single_phase(T, rho, p)
    return T, rho, x, phase
