"""Jumps of the bottle's contents: refilling from a supply cylinder."""

from __future__ import annotations

import numpy as np

from n2osim._jit import jit
from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY
from n2osim.simulation import layout as L
from n2osim.simulation.fluid_node import BOTTLE_STATE_SIZE, GUESS_SIZE, equilibrium_state

TO_MASS, TO_PRESSURE = 0, 1


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
def refill(plant, s, y, modes):
    """Apply segment ``s``'s refill, if it is one: mass comes in with its enthalpy, at once.

    Energy balance of an adiabatic filling: U rises by the enthalpy that comes in. The wall takes
    part afterwards, as the run goes on. The totals book it as negative outflow.
    """
    seg = plant.segments[s]
    if seg.kind != L.REFILL:
        return
    width = L.NODE0 + 2 * plant.wall.shape[2]
    nb = plant.bottles.shape[0]
    for i in range(nb):
        if seg.refill_bottle >= 0 and seg.refill_bottle != i:
            continue
        b = plant.bottles[i]
        base = i * width
        m = y[base + L.M1] + y[base + L.M2]
        u = y[base + L.U1] + y[base + L.U2]
        # No mass given: what counts as full (49 CFR 173.304a: 0.68 kg per litre).
        to = seg.refill_mass if seg.refill_mass >= 0.0 else FULL_FILLING_DENSITY * b.volume
        dm = max(0.0, to - m)
        if seg.refill_mode == TO_PRESSURE:
            dm = mass_to_equalise(b, m, u, seg.refill_enthalpy, seg.refill_pressure, dm)
        y[base + L.M1] = m + dm
        y[base + L.U1] = u + dm * seg.refill_enthalpy
        y[base + L.M2] = 0.0
        y[base + L.U2] = 0.0
        total = nb * width + 1 + i * L.N_TOTALS
        y[total + L.M_OUT] -= dm
        y[total + L.H_OUT] -= dm * seg.refill_enthalpy
        modes[i, L.LIQUID_OUT] = 0
