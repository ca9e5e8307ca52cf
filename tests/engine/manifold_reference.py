"""Bottles on one manifold: who feeds it, who is fed by it, what the jets take.

Each bottle hangs on the manifold by an orifice of effective area (its valve and hose, Cd A). A
bottle above the manifold's pressure gives what it draws, one below it receives what the manifold
holds; the jets never run backwards. The manifold stores nothing: it is at the pressure where what
comes in goes out, with the mean enthalpy of what comes in.
"""

from __future__ import annotations

import math

from n2osim.fluid.flash import state_ph
from n2osim.fluid.state import state_Trho
from n2osim.jit import jit
from n2osim.physics.feed_chain import network_flow
from n2osim.physics.orifice import orifice_flux


@jit
def _state(p, h):
    """(s [J/kg/K], rho [kg/m3], T [K]) at p, h."""
    T, rho, _x, _phase = state_ph(p, h)
    return state_Trho(T, rho)[3], rho, T


@jit
def _exchange(states, areas, model, p, flows):
    """Inflow [kg/s] and its enthalpy [J/kg] at manifold pressure p; fills flows of the givers."""
    total = 0.0
    energy = 0.0
    for i in range(states.shape[0]):
        flows[i] = 0.0
        if states[i, 0] > p:
            G = orifice_flux(
                model, states[i, 0], states[i, 1], states[i, 2], states[i, 3], states[i, 4], p
            )[0]
            flows[i] = areas[i] * G
            total += flows[i]
            energy += flows[i] * states[i, 1]
    return total, energy / total if total > 0.0 else math.nan


@jit
def _receive(states, areas, model, p, h, flows):
    """Flow [kg/s] out of the manifold (p, h) into bottles below it; fills flows (negative)."""
    total = 0.0
    s, rho, T = _state(p, h)
    for i in range(states.shape[0]):
        if states[i, 0] < p:
            flows[i] = -areas[i] * orifice_flux(model, p, h, s, rho, T, states[i, 0])[0]
            total -= flows[i]
    return total


@jit
def _surplus(states, areas, model, elements, p, p_back, flows):
    """Inflow less outflow [kg/s] at manifold pressure p: (surplus, enthalpy, flow of the feed)."""
    total, h = _exchange(states, areas, model, p, flows)
    if not (total > 0.0):
        return -1.0, h, 0.0
    out = _receive(states, areas, model, p, h, flows)
    feed = 0.0
    if elements.shape[0] > 0 and p > p_back:
        s, rho, T = _state(p, h)
        feed = network_flow(elements, model, p, h, s, rho, T, p_back)[0]
    return total - out - feed, h, feed


@jit
def manifold_flows(states, areas, model, elements, p_back, flows):
    """Flows of n bottles that share a manifold.

    Parameters: states (n, 5), what each bottle draws: p [Pa], h [J/kg], s [J/kg/K], rho [kg/m3],
    T [K]; areas (n,) effective areas of the branches, m2; model of the orifices; elements of the
    feed behind the manifold (feed_chain.py; no row: solenoid shut); p_back [Pa]; flows (n,) is
    filled with kg/s out of each bottle, negative where it is fed. Liquid or vapour drawn: the
    caller's choice of state.
    Returns (p_manifold [Pa], h_manifold [J/kg], feed flow [kg/s]).

    Bisection on the manifold's pressure: surplus falls as it rises.
    """
    low = p_back if elements.shape[0] > 0 else states[0, 0]
    high = low
    for i in range(states.shape[0]):
        high = max(high, states[i, 0])
        if elements.shape[0] == 0:
            low = min(low, states[i, 0])
    if not (high > low):
        for i in range(states.shape[0]):
            flows[i] = 0.0
        return high, states[0, 1], 0.0
    for _ in range(60):
        p = 0.5 * (low + high)
        surplus = _surplus(states, areas, model, elements, p, p_back, flows)[0]
        if surplus > 0.0:
            low = p
        else:
            high = p
        if high - low < 1e-10 * high:
            break
    surplus, h, feed = _surplus(states, areas, model, elements, low, p_back, flows)
    return low, h, feed
