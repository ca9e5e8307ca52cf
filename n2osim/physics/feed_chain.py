"""Feed system from bottle to jets: losses in series, one flow, choking where it really happens.

A feed is a chain of elements, each a row of a float array

    [kind, area, length, bore, roughness, K]

kind ORIFICE (bottle valve, solenoid, jets; ``area`` is the effective one, Cd A, m2; ``length`` of
the jets is the share of a short jet's excess, see short_jet.py; rest unused) or PIPE (pick-up
tube, hose, distribution; flow area m2, lengths m, K of its fittings). The last row is the jets.
Between elements the stream's kinetic energy is dissipated: enthalpy is conserved,
pressure is not recovered. A pipe's entrance costs ENTRANCE_K velocity heads besides its own K.
All orifices use the same model (orifice.py). Jets never run backwards.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from n2osim.errors import InputError
from n2osim.fluid.flash import state_ph
from n2osim.fluid.state import state_Trho
from n2osim.jit import entry, jit
from n2osim.physics.line import loss_number, outlet_pressure
from n2osim.physics.numeric import kept_end
from n2osim.physics.orifice import orifice_flux
from n2osim.physics.short_jet import jet_flux

ORIFICE = 0.0
PIPE = 1.0
ENTRANCE_K = 1.5
"""Velocity heads lost at a pipe's mouth: 1 to set the fluid in motion (not recovered), 0.5 for a
sharp edge (Crane TP-410; value from memory)."""


def orifice_element(cda: float, share: float = 0.0) -> list[float]:
    """Row for an orifice of effective area ``cda`` = Cd A, m2; share of a short jet's excess."""
    return [ORIFICE, _positive("effective area", cda, "m2"), float(share), 0.0, 0.0, 0.0]


def pipe_element(length: float, bore: float, roughness: float, K: float) -> list[float]:
    """Row for a pipe: length, bore, absolute wall roughness in m, K of its fittings."""
    bore = _positive("bore", bore, "m")
    if not (length >= 0.0 and roughness >= 0.0 and K >= 0.0):
        raise InputError(
            "pipe",
            f"length={length}, roughness={roughness}, K={K}",
            "",
            "zero or more",
            "check the signs",
        )
    return [PIPE, math.pi / 4.0 * bore * bore, float(length), bore, float(roughness), float(K)]


def _positive(name: str, value: float, unit: str) -> float:
    if not (value > 0.0 and math.isfinite(value)):
        raise InputError(name, value, unit, "above 0", "give the size of the part")
    return float(value)


def feed_elements(feed: Any) -> NDArray[np.float64]:
    """Elements of a :class:`n2osim.hardware.feed.Feed` in flow order, shape (n, 6)."""
    rows = []
    for _, part in feed.parts:
        if hasattr(part, "cda"):
            rows.append(orifice_element(part.cda, getattr(part, "short_share", 0.0)))
        else:
            rows.append(pipe_element(part.length, part.bore, part.roughness, part.fittings_k))
    return np.array(rows, dtype=np.float64)


@jit
def _jets_to(elements, model, p, h, p_back):
    """jet_flux from an isenthalpic state inside the feed: (G, choked, valid, p_throat)."""
    T, rho, _x, _phase = state_ph(p, h)
    s = state_Trho(T, rho)[3]
    return jet_flux(model, elements[elements.shape[0] - 1, 2], p, h, s, rho, T, p_back)


@jit
def _orifice_outlet(model, cda, mdot, p, h, p_back):
    """Pressure behind an orifice that passes mdot: (p_out [Pa], capacity [kg/s] or -1 if passed).

    Anderson-Bjorck regula falsi on the squared flux, which is nearly linear in the pressure drop.
    The capacity is only worked out when the first guess takes more than a tenth of the pressure.
    """
    T, rho, _x, _phase = state_ph(p, h)
    s = state_Trho(T, rho)[3]
    target = (mdot / cda) ** 2
    drop = target / (2.0 * rho)
    b = p - 1.25 * drop
    G = 0.0
    if drop < 0.1 * p and b > p_back:
        G = orifice_flux(model, p, h, s, rho, T, b)[0]
    if not (cda * G > mdot):
        G, _choked, _valid, throat = orifice_flux(model, p, h, s, rho, T, p_back)
        if not (cda * G > mdot):
            return p_back, cda * G
        b = max(throat, p_back)
    fb = G * G - target
    a = p
    fa = -target
    for _ in range(60):
        c = b - fb * (b - a) / (fb - fa)
        fc = orifice_flux(model, p, h, s, rho, T, c)[0] ** 2 - target
        a, fa = kept_end(a, fa, b, fb, fc)
        b = c
        fb = fc
        if abs(fc) < 1e-7 * target or abs(a - b) < 1e-10 * p:
            break
    return b, -1.0


@jit
def _pipe_outlet(elements, i, mdot, p, h):
    """Pressure at a pipe's end: (p_out [Pa], -1 if it passes mdot, else 0.95 mdot).

    What a choked pipe could pass is not worked out: only that it is less matters.
    """
    area = elements[i, 1]
    N = ENTRANCE_K + loss_number(
        mdot, p, h, area, elements[i, 2], elements[i, 3], elements[i, 4], elements[i, 5]
    )
    p2, possible = outlet_pressure(mdot / area, p, h, N)
    if possible == 1.0:
        return p2, -1.0
    return p2, 0.95 * mdot


@jit
def _march(elements, model, mdot, p, h, p_back):
    """Carry mdot from the bottle to the jets: (residual [kg/s], jet inlet pressure, index).

    The residual is what the first element that cannot pass mdot could pass, less mdot (negative,
    with its index); or the jets' capacity less mdot, with index -1.
    """
    last = elements.shape[0] - 1
    for i in range(last):
        if elements[i, 0] == PIPE:
            p_out, capacity = _pipe_outlet(elements, i, mdot, p, h)
        else:
            p_out, capacity = _orifice_outlet(model, elements[i, 1], mdot, p, h, p_back)
        if capacity >= 0.0:
            return min(capacity - mdot, -1e-12 * mdot), p_out, i
        if not (p_out > p_back):
            return -mdot, p_back, last
        p = p_out
    return elements[last, 1] * _jets_to(elements, model, p, h, p_back)[0] - mdot, p, -1


@jit
def balanced_flow(elements, model, high, guess, p0, h0, p_back, tolerance):
    """Flow at which the jets take what the losses let through: (mdot, p_jet, place).

    ``high`` is the jets' capacity without losses, an upper bound; ``guess`` a first try. Secant
    inside a shrinking bracket, with a bisection where an element ahead of the jets chokes, since
    the residual jumps there. ``place`` is that element, -1 when the jets decide; p_jet is then
    the pressure behind it just before it chokes.
    """
    a = 0.0
    fa = high
    b = guess
    low = 0.0
    p_low = p0
    top = high
    place = -1
    blocked = False
    for _ in range(100):
        fb, p, i = _march(elements, model, b, p0, h0, p_back)
        if i < 0 and abs(fb) < tolerance * b:
            return b, p, -1
        if fb > 0.0:
            low = b
            p_low = p
        else:
            top = b
            place = i
            blocked = i >= 0
        if top - low < 1e-9 * top:
            break
        c = b - fb * (b - a) / (fb - fa)
        if not (low < c < top) or (blocked and low > 0.0):
            c = 0.5 * (low + top)
        a = b
        fa = fb
        b = c
    return low, p_low, place


@jit
def _behind_choke(elements, model, place, mdot, h, p_back, p_high):
    """Jet inlet pressure when element ``place`` chokes: the rest must pass mdot (bisection)."""
    rest = elements[place + 1 :]
    low = p_back
    high = p_high
    p_jet = p_high
    for _ in range(60):
        middle = 0.5 * (low + high)
        f, p, i = _march(rest, model, mdot, middle, h, p_back)
        if f > 0.0:
            high = middle
        else:
            low = middle
        if i < 0:
            p_jet = p
        if high - low < 1e-9 * high:
            break
    return p_jet


@jit
def _outlet(elements, model, place, mdot, p, h, p_back):
    """Pressure behind element ``place`` for a flow that it and those before it just pass."""
    for i in range(place + 1):
        if elements[i, 0] == PIPE:
            p = _pipe_outlet(elements, i, mdot, p, h)[0]
        else:
            p = _orifice_outlet(model, elements[i, 1], mdot, p, h, p_back)[0]
    return p


@entry
def network_flow(elements, model, p0, h0, s0, rho0, T0, p_back):
    """Flow of a feed from a bottle state to the back pressure.

    Parameters: elements (n, 6), model of the orifices, stagnation state drawn from the bottle as
    in orifice_flux, p_back [Pa].
    Returns (mdot [kg/s], p_jet [Pa] ahead of the jets, x_jet quality there (0 liquid, 1 vapour,
    -1 supercritical), T_jet [K], place, valid): place is the index of the element where the flow
    chokes, -1 if nowhere. NaN for a state outside the equation of state.
    """
    last = elements.shape[0] - 1
    G, choked, valid, _p = jet_flux(model, elements[last, 2], p0, h0, s0, rho0, T0, p_back)
    mdot = elements[last, 1] * G
    p_jet = p0
    place = -1
    if last > 0 and mdot > 0.0:
        mdot, p_jet, place = balanced_flow(elements, model, mdot, mdot, p0, h0, p_back, 1e-8)
        if place >= 0:
            p = _outlet(elements, model, place, mdot, p0, h0, p_back)
            p_jet = _behind_choke(elements, model, place, mdot, h0, p_back, p)
        _G, choked, valid, _p = _jets_to(elements, model, p_jet, h0, p_back)
    if place < 0 and choked == 1.0:
        place = last
    T, _rho, x, _phase = state_ph(p_jet, h0)
    return mdot, p_jet, x, T, place, valid
