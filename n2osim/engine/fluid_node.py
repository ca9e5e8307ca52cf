"""State of the fluid in one bottle, in the form the balances and the draw need it.

``st`` (scratch, length :data:`BOTTLE_STATE_SIZE`)::

    0 T  1 p  2 quality  3 phase  4 liquid volume fraction  5 dT/dU at fixed m, V (K/J)
    6..9   rho, h, s, T of what a pick-up in the liquid draws
    10..13 rho, h, s, T of what is drawn above the liquid
    14 1.0 where both exist   15 density for film properties   16 vapour temperature
    17 mass (kg)  18 quality of the vapour zone   19 enthalpy that drawn liquid carries off
    20, 21 flows (kg/s) into a manifold from below and above the liquid surface
    22 dp/dT at constant density in one phase (Pa/K), 0 in two phases or where not looked up
"""

from __future__ import annotations

import math

from n2osim.fluid.equation_of_state import (
    P_CRITICAL,
    P_MAX,
    RHO_CRITICAL,
    T_CRITICAL,
    T_MAX,
    T_TRIPLE,
    eos,
)
from n2osim.fluid.phase import LIQUID, SUPERCRITICAL, TWO_PHASE, VAPOUR
from n2osim.fluid.saturation import sat, sat_all, sat_rho
from n2osim.fluid.state import T_of_rho_u, state_Trho
from n2osim.jit import leaf

BOTTLE_STATE_SIZE = 23
FLOWS = 20
GUESS_SIZE = 6
"""Memory of the last state of a bottle: T, vapour-zone T, u, rho, c_v; 1.0 to allow solid."""
_FUSION = 1.486e5  # J/kg: 6.54 kJ/mol at the triple point (Blue & Giauque 1935; from memory)

_SHUT = -1.0  # in place of the pressure of a bottle that is frozen out
_CLOSE = 1e-4  # K: a Newton step this short needs no second look (its own error is below 1e-9 K)


@leaf
def shut(st):
    """Mark the state of a bottle that is frozen out: nothing flows from it or to it."""
    for k in range(BOTTLE_STATE_SIZE):
        st[k] = 0.0
    st[1] = _SHUT


@leaf
def is_shut(st):
    """Whether :func:`shut` has marked this state."""
    return st[1] == _SHUT


@leaf
def _fill(T, rho, p, u, s, cv, x, phase, st):
    st[0], st[1], st[2], st[3] = T, p, x, phase
    st[15], st[16] = rho, T
    st[22] = 0.0
    if phase == TWO_PHASE:
        return
    h = u + p / rho
    for k in (6, 10):
        st[k], st[k + 1], st[k + 2], st[k + 3] = rho, h, s, T
    st[14] = 0.0
    st[19] = h
    st[4] = 1.0 if rho >= RHO_CRITICAL else 0.0


@leaf
def _fill_saturated(T, rho, st):
    """Draw states of a two-phase bottle; False when ``rho`` is not between the saturated ones."""
    p, rl, rv, _, _, hl, hv, sl, sv = sat(T)
    if not (rv < rho < rl):
        return False
    x = (1.0 / rho - 1.0 / rl) / (1.0 / rv - 1.0 / rl)
    st[1], st[2] = p, x
    st[4] = (1.0 - x) * rho / rl
    st[6], st[7], st[8], st[9] = rl, hl, sl, T
    st[10], st[11], st[12], st[13] = rv, hv, sv, T
    st[14] = 1.0
    st[19] = hl
    return True


@leaf
def _one_phase(T, rho):
    """Phase code outside the dome, given that the state is not in it."""
    if T > T_CRITICAL:
        return SUPERCRITICAL
    return LIQUID if rho > RHO_CRITICAL else VAPOUR


@leaf
def _saturated_step(T0, rho, u, st):
    """Newton step inside the dome; (inside at all, dT, c_v), ``st`` filled when it is short."""
    _, rl, rv, ul, uv, _, _, cl, cv = sat_all(T0)
    if not (rv < rho < rl):
        return False, math.nan, math.nan
    x = (1.0 / rho - 1.0 / rl) / (1.0 / rv - 1.0 / rl)
    c = cl + x * (cv - cl)
    step = (u - ul - x * (uv - ul)) / c
    T = T0 + step
    if abs(step) < _CLOSE and T_TRIPLE < T < T_CRITICAL - 1e-3:
        _fill(T, rho, 0.0, u, 0.0, c, 0.0, TWO_PHASE, st)
        if not _fill_saturated(T, rho, st):
            return True, math.nan, c
    return True, step, c


@leaf
def _single_step(T0, rho, u, st):
    """Newton step outside the dome; (dT, c_v), with ``st`` filled when the step is short enough."""
    p, u0, _, s, cv, dpdT, _ = eos(T0, rho)
    step = (u - u0) / cv
    T = T0 + step
    if not (abs(step) < _CLOSE):
        return step, cv
    if T < T_CRITICAL:
        _, rl, rv = sat_rho(T)
        if rv < rho < rl:
            return math.nan, cv
    p += dpdT * step
    if p > P_MAX or T >= T_MAX:
        return math.nan, cv
    phase = _one_phase(T, rho)
    if phase == SUPERCRITICAL and p <= P_CRITICAL:
        phase = VAPOUR
    x = 1.0 if phase == VAPOUR else (0.0 if phase == LIQUID else -1.0)
    _fill(T, rho, p, u, s + cv / T * step, cv, x, phase, st)
    st[22] = dpdT
    return step, cv


@leaf
def _quick(T0, rho, u, st):
    """State a few Newton steps from ``T0`` without leaving its side of the dome; c_v, or NaN.

    Inside a step of the integration the temperature is known to a fraction of a kelvin from the
    last state, so one or two looks at the equation, corrected to first order, are the answer.
    """
    step = cv = math.nan
    for _ in range(3):
        if not (T_TRIPLE < T0 < T_MAX):
            return math.nan
        inside = False
        if T0 < T_CRITICAL:
            inside, step, cv = _saturated_step(T0, rho, u, st)
        if not inside:
            step, cv = _single_step(T0, rho, u, st)
        if abs(step) < _CLOSE and not (inside and T0 + step >= T_CRITICAL - 1e-3):
            return cv
        if not (abs(step) < 1.0):
            return math.nan
        T0 += step
    return math.nan


@leaf
def _at_triple_point(rho, u, st):
    """State with some of its liquid frozen, at the triple point; infinite c_v, or NaN.

    Solid counts with the density of liquid. What a warm bottle lets into one with nothing but cold
    gas in it gets as cold as that for a moment.
    """
    p, rl, rv, ul, uv, _, _, _, _ = sat(T_TRIPLE)
    if not (rv < rho < rl):
        return math.nan
    x = (1.0 / rho - 1.0 / rl) / (1.0 / rv - 1.0 / rl)
    missing = ul + x * (uv - ul) - u
    if not (0.0 <= missing <= (1.0 - x) * _FUSION):
        return math.nan
    _fill(T_TRIPLE, rho, p, u, 0.0, math.inf, x, TWO_PHASE, st)
    _fill_saturated(T_TRIPLE, rho, st)
    return math.inf


@leaf
def equilibrium_state(m, u_total, volume, guess, st):
    """Fill ``st`` from mass (kg), internal energy (J) and volume (m3); NaN outside the range.

    ``guess`` (length GUESS_SIZE) remembers the last state and is updated.
    """
    rho = m / volume
    u = u_total / m
    T0 = guess[0]
    if rho == guess[3] and guess[4] > 0.0:
        T0 += (u - guess[2]) / guess[4]
    cv = _quick(T0, rho, u, st)
    if math.isnan(cv):
        T = T_of_rho_u(rho, u, T0)
        if math.isnan(T) and guess[5] == 1.0:
            cv = _at_triple_point(rho, u, st)
        if math.isnan(cv):
            p, _, _, s, cv, x, phase = state_Trho(T, rho)
            _fill(T, rho, p, u, s, cv, x, phase, st)
            if phase == TWO_PHASE:
                _fill_saturated(T, rho, st)
    st[5] = 1.0 / (m * cv)
    st[17] = m
    if not math.isnan(st[0]):
        guess[0], guess[2], guess[3], guess[4] = st[0], u, rho, cv
