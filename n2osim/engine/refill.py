"""Jumps of the bottle's contents: refilling from a supply cylinder, with or without a pump.

What enters the bottle carries the enthalpy of the supply's saturated liquid. A pump adds its own
work to that wherever the bottle stands above the supply: isentropic compression from the supply to
the bottle's pressure of that moment, over the pump's efficiency,

    dU/dm = h_1 + w(p),    w = (h(p, s_1) - h_1) / efficiency  for p > p_1, else 0

Below the supply's pressure nothing has to be pumped and nothing is gained: it flows.
"""

from __future__ import annotations

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.fluid_node import BOTTLE_STATE_SIZE, GUESS_SIZE, equilibrium_state
from n2osim.fluid.equation_of_state import P_MAX, eos
from n2osim.fluid.flash import state_ps
from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY
from n2osim.jit import jit

TO_MASS, TO_PRESSURE = 0, 1
_STEPS = 64  # of a filling from empty to full, for the pump's work


@jit
def _pressure_after(b, m, u, dm, h):
    st = np.zeros(BOTTLE_STATE_SIZE)
    guess = np.zeros(GUESS_SIZE)
    guess[0] = 300.0
    equilibrium_state(m + dm, u + dm * h, b.volume, guess, st)
    return st[1]


@jit
def mass_to_equalise(b, m, u, h, pressure, most):
    """Mass (kg, at most ``most``) that brings the bottle to ``pressure`` when let in at ``h``.

    The bottle's pressure rises with what is let in, so a bisection on the mass finds it.
    """
    if _pressure_after(b, m, u, 0.0, h) >= pressure:
        return 0.0
    low = 0.0
    high = most
    p = _pressure_after(b, m, u, high, h)
    if p <= pressure:
        return high
    for _ in range(60):
        middle = 0.5 * (low + high)
        # A state too dense for the equation (NaN) counts as too much.
        if _pressure_after(b, m, u, middle, h) < pressure:
            low = middle
        else:
            high = middle
    return low


@jit
def specific_pump_work(p, seg):
    """Work (J/kg) of segment ``seg``'s pump from its supply up to ``p``; 0 at or below the supply.

    A state that the equation does not reach (NaN) costs nothing: the run ends there anyway.
    """
    if not (p > seg.refill_pressure):
        return 0.0
    T, rho, _, _ = state_ps(min(p, P_MAX), seg.refill_entropy)
    return max(0.0, eos(T, rho)[2] - seg.refill_enthalpy) / seg.refill_efficiency


@jit
def _work_at(b, m, u, seg, guess, st):
    """Specific pump work (J/kg) into a bottle that holds ``m`` (kg) and ``u`` (J)."""
    equilibrium_state(m, u, b.volume, guess, st)
    return specific_pump_work(st[1], seg)


@jit
def pump_work(b, m, u, dm, seg, steps):
    """Work (J) that the pump does on ``dm`` (kg) let into a bottle that holds ``m`` and ``u``.

    The bottle's pressure rises with what comes in, work included: classical Runge-Kutta over the
    mass (64 steps: within 2e-4 of 4096 steps, see the tests).
    """
    guess = np.zeros(GUESS_SIZE)
    guess[0] = 300.0
    st = np.zeros(BOTTLE_STATE_SIZE)
    work = 0.0
    h = dm / steps
    for k in range(steps):
        x = m + k * h
        e = u + k * h * seg.refill_enthalpy + work
        half = 0.5 * h
        added = half * seg.refill_enthalpy
        k1 = _work_at(b, x, e, seg, guess, st)
        k2 = _work_at(b, x + half, e + added + half * k1, seg, guess, st)
        k3 = _work_at(b, x + half, e + added + half * k2, seg, guess, st)
        k4 = _work_at(b, x + h, e + 2.0 * added + h * k3, seg, guess, st)
        work += h * (k1 + 2.0 * k2 + 2.0 * k3 + k4) / 6.0
    return work


@jit
def refill(setup, s, y, modes):
    """Apply segment ``s``'s refill, if it is one: mass comes in with its enthalpy, at once.

    Energy balance of an adiabatic filling: U rises by the enthalpy that comes in, the pump's work
    included. The wall takes part afterwards, as the run goes on. The running totals count it as
    negative outflow, and the pump's work once more by itself.
    """
    seg = setup.segments[s]
    if seg.kind != L.REFILL:
        return
    width = L.NODE0 + 2 * setup.wall.shape[2]
    nb = setup.bottles.shape[0]
    for i in range(nb):
        if seg.refill_bottle >= 0 and seg.refill_bottle != i:
            continue
        # Nobody fills a bottle whose relief device stands open.
        if modes[i, L.BURST] == 1 or modes[i, L.FROZEN] != 0:
            continue
        b = setup.bottles[i]
        base = i * width
        m = y[base + L.M1] + y[base + L.M2]
        u = y[base + L.U1] + y[base + L.U2]
        # No mass given: what counts as full (49 CFR 173.304a: 0.68 kg per litre).
        to = seg.refill_mass if seg.refill_mass >= 0.0 else FULL_FILLING_DENSITY * b.volume
        dm = max(0.0, to - m)
        if seg.refill_mode == TO_PRESSURE:
            dm = mass_to_equalise(b, m, u, seg.refill_enthalpy, seg.refill_pressure, dm)
        work = 0.0
        if seg.refill_mode == TO_MASS and dm > 0.0:
            steps = 4 + int(_STEPS * dm / (FULL_FILLING_DENSITY * b.volume))
            work = pump_work(b, m, u, dm, seg, steps)
        y[base + L.M1] = m + dm
        y[base + L.U1] = u + dm * seg.refill_enthalpy + work
        y[base + L.M2] = 0.0
        y[base + L.U2] = 0.0
        total = nb * width + 1 + i * L.N_TOTALS
        y[total + L.M_OUT] -= dm
        y[total + L.H_OUT] -= dm * seg.refill_enthalpy + work
        y[total + L.W_PUMP] += work
        modes[i, L.LIQUID_OUT] = 0
