"""States of nitrous oxide over the whole range, one or two phases, as compiled scalar kernels.

The phase rule is in phase.py, the flashes from pressure in flash.py.
"""

from __future__ import annotations

import math

from n2osim.fluid.equation_of_state import P_MAX, T_CRITICAL, T_MAX, T_TRIPLE, eos
from n2osim.fluid.flash import EDGE, RHO_MAX
from n2osim.fluid.phase import LIQUID, TWO_PHASE, quality, single_phase
from n2osim.fluid.saturation import sat_caloric, sat_rho
from n2osim.jit import entry, jit


@jit
def _two_phase_caloric(T, x):
    """(u [J/kg], s [J/kg/K], true c_v [J/kg/K]) of a two-phase mixture at T [K], quality x.

    c_v = sum over phases k of x_k [c_v,k + T (dp_sat/dT - (dp/dT)_k)^2 / (rho_k^2 (dp/drho)_k)].
    This is the Yang-Yang relation with the saturation derivatives written through the equation of
    state (chain rule, Clausius-Clapeyron). All terms are positive, so nothing cancels; the shares
    in brackets depend on temperature alone and are tabulated with the saturation line.
    """
    u_l, u_v, s_l, s_v, c_l, c_v = sat_caloric(T)
    return u_l + x * (u_v - u_l), s_l + x * (s_v - s_l), c_l + x * (c_v - c_l)


@entry
def state_Trho(T, rho):
    """State at T [K], rho [kg/m3]: (p [Pa], u, h [J/kg], s, cv [J/kg/K], x, phase).

    x is the vapour mass fraction: 0 liquid, 1 vapour, -1 supercritical. NaN outside the range.
    """
    n = math.nan
    if not (T_TRIPLE <= T <= T_MAX and 0.0 < rho <= RHO_MAX):
        return n, n, n, n, n, n, LIQUID
    if T <= T_CRITICAL:
        p, rho_l, rho_v = sat_rho(T)
        if rho_v < rho < rho_l:
            x = quality(rho, rho_l, rho_v)
            u, s, cv = _two_phase_caloric(T, x)
            return p, u, u + p / rho, s, cv, x, TWO_PHASE
    r = eos(T, rho)
    if r[0] > P_MAX * (1.0 + EDGE):
        return n, n, n, n, n, n, LIQUID
    x, phase = single_phase(T, rho, r[0])
    return r[0], r[1], r[2], r[3], r[4], x, phase


@jit
def _u_cv_p(T, rho):
    """u, true c_v and p at T, rho without the pressure limit: what T_of_rho_u iterates on."""
    if T <= T_CRITICAL:
        p, rho_l, rho_v = sat_rho(T)
        if rho_v < rho < rho_l:
            u, _s, cv = _two_phase_caloric(T, quality(rho, rho_l, rho_v))
            return u, cv, p
    r = eos(T, rho)
    return r[1], r[4], r[0]


@jit
def T_of_rho_u(rho, u, T_guess):
    """Temperature, K, at rho [kg/m3] and u [J/kg]; T_guess [K] is a warm start (NaN: none).

    Newton on u(T) at fixed density (c_v > 0, so it rises throughout, with kinks at the saturation
    line) inside a bracket that only shrinks; halves the bracket whenever Newton leaves it or
    stalls. NaN outside T_TRIPLE..T_MAX or above P_MAX.
    """
    if not (0.0 < rho <= RHO_MAX) or not math.isfinite(u):
        return math.nan
    low = T_TRIPLE
    high = T_MAX
    T = T_guess
    if not (low < T < high):
        T = 300.0
    low_checked = False
    high_checked = False
    last = math.inf
    p = 0.0
    for iteration in range(100):
        value, cv, p = _u_cv_p(T, rho)
        error = u - value
        if error >= 0.0:
            low = T
            low_checked = True
        if error <= 0.0:
            high = T
            high_checked = True
        step = error / cv
        new = T + step
        if abs(step) <= 1e-8 and T_TRIPLE <= new <= T_MAX:
            T = new
            break
        if not (low < new < high) or (iteration > 3 and abs(error) > 0.5 * abs(last)):
            # An end of the range that was never evaluated is tried itself before halving.
            if new >= high and not high_checked:
                new = high
            elif new <= low and not low_checked:
                new = low
            else:
                new = 0.5 * (low + high)
        if new == T:
            if abs(step) > 1e-7:
                return math.nan
            break
        if high - low <= 1e-12 * high:
            if abs(step) > 1e-6:
                return math.nan  # an end of the range: the energy lies beyond
            break
        last = error
        T = new
    if p > P_MAX * (1.0 + 1e-6):
        return math.nan
    return T


@jit
def cp_beta(T, rho):
    """Single-phase cp [J/kg/K] and isobaric expansion coefficient [1/K] at T [K], rho [kg/m3].

    Literal equation (no phase check): both grow without bound at the critical point.
    """
    r = eos(T, rho)
    cp = r[4] + T * r[5] * r[5] / (rho * rho * r[6])
    return cp, r[5] / (rho * r[6])


@jit
def speed_of_sound(T, rho):
    """Single-phase speed of sound, m/s, at T [K], rho [kg/m3]; NaN where mechanically unstable."""
    r = eos(T, rho)
    square = r[6] + T * r[5] * r[5] / (rho * rho * r[4])
    if not (square >= 0.0):
        return math.nan
    return math.sqrt(square)
