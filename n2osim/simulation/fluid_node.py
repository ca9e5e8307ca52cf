"""State of the fluid in one bottle, in the form the balances and the draw need it.

``st`` (scratch, length :data:`BOTTLE_STATE_SIZE`)::

    0 T  1 p  2 quality  3 phase  4 liquid volume fraction  5 dT/dU at fixed m, V (K/J)
    6..9   rho, h, s, T of what a pick-up in the liquid draws
    10..13 rho, h, s, T of what is drawn above the liquid
    14 1.0 where both exist   15 density for film properties   16 vapour temperature
    17 mass (kg)  18 quality of the vapour zone   19 enthalpy that drawn liquid carries off
"""

from __future__ import annotations

import math

from n2osim._jit import jit
from n2osim.fluid.equation_of_state import RHO_CRITICAL, T_CRITICAL
from n2osim.fluid.saturation import sat
from n2osim.fluid.state import TWO_PHASE, T_of_rho_u, state_Trho

BOTTLE_STATE_SIZE = 20


@jit
def _one_phase(T, rho, p, h, s, st):
    for k in (6, 10):
        st[k] = rho
        st[k + 1] = h
        st[k + 2] = s
        st[k + 3] = T
    st[14] = 0.0
    st[19] = h


@jit
def equilibrium_state(m, u_total, volume, guess, st):
    """Fill ``st`` from mass (kg), internal energy (J) and volume (m3); NaN outside the range.

    ``guess`` (one-element array, K) is the last temperature and is updated.
    """
    rho = m / volume
    T = T_of_rho_u(rho, u_total / m, guess[0])
    p, u, h, s, cv, x, phase = state_Trho(T, rho)
    if not math.isnan(T):
        guess[0] = T
    st[0] = T
    st[1] = p
    st[2] = x
    st[3] = phase
    st[5] = 1.0 / (m * cv)
    st[15] = rho
    st[16] = T
    st[17] = m
    if phase == TWO_PHASE:
        _, rl, rv, ul, uv, hl, hv, sl, sv = sat(T)
        st[4] = (1.0 - x) * rho / rl
        st[6], st[7], st[8], st[9] = rl, hl, sl, T
        st[10], st[11], st[12], st[13] = rv, hv, sv, T
        st[14] = 1.0
        st[19] = hl
        return
    _one_phase(T, rho, p, h, s, st)
    st[4] = 1.0 if (rho >= RHO_CRITICAL or T >= T_CRITICAL) else 0.0
