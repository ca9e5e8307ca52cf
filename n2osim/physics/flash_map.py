"""Flow map of a flashing stream: what a feed behind a manifold takes from a liquid-vapour mixture.

A bottle offers its feed liquid or vapour (feed_network.py); a manifold whose pressure has fallen
below saturation offers a mixture. This map adds the region between the two saturated lines, in the
same two layers: F of the jets alone, and the squared ratio of the feed's flow to theirs. Each is
stored over its own value on the lines, weighed by quality,

    value / ((1 - x) value_liquid + x value_vapour),

which is 1 on both lines, so that it joins the feed's map without a step. First coordinate:
pressure as there; second

    w = x / (x + (1 - x) (rho_v/rho_l)^(1/2)),

between quality and void fraction, in which the flux is smooth both where bubbles first appear and
where the last drops go. Interpolation by cubics through four nodes.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from n2osim.fluid.equation_of_state import P_CRITICAL
from n2osim.fluid.saturation import sat, sat_rho, sat_T
from n2osim.jit import entry, jit
from n2osim.physics.feed_chain import balanced_flow
from n2osim.physics.feed_network import MAP_SIZE, in_table, line_values
from n2osim.physics.short_jet import jet_flux

FLASH_JETS = (25, 25)
FLASH_RATIO = (17, 13)
_TOP = 1.0 - 1e-9  # of the critical pressure: there the lines are still two
_TOLERANCE = 1e-6  # relative, of the network's solution
FLASH_SIZE = FLASH_JETS[0] * FLASH_JETS[1] + FLASH_RATIO[0] * FLASH_RATIO[1]
"""Length of a packed map of flashing streams; it follows the feed's packed map."""
FLASH_RATIO_START = MAP_SIZE + FLASH_JETS[0] * FLASH_JETS[1]


@jit
def _mixture(T, x):
    """(p [Pa], h [J/kg], s [J/kg/K], rho [kg/m3]) of quality x at T [K]."""
    p, rho_l, rho_v, _u_l, _u_v, h_l, h_v, s_l, s_v = sat(T)
    rho = 1.0 / ((1.0 - x) / rho_l + x / rho_v)
    return p, h_l + x * (h_v - h_l), s_l + x * (s_v - s_l), rho


@jit
def _value(elements, model, T, x, p_back, ratio, guess):
    """Value of a layer for a mixture: (F of the jets or squared flow ratio, flow ratio)."""
    p, h, s, rho = _mixture(T, x)
    last = elements.shape[0] - 1
    high = elements[last, 1] * jet_flux(model, elements[last, 2], p, h, s, rho, T, p_back)[0]
    if not ratio:
        return high * high / (rho * (p - p_back) * elements[last, 1] ** 2), guess
    mdot = balanced_flow(elements, model, high, guess * high, p, h, p_back, _TOLERANCE)[0]
    return (mdot / high) ** 2, mdot / high


@jit
def fill_row(packed, start, i, n, m, elements, model, ratio):
    """Row ``i`` of n of a layer that begins at ``start``: one pressure, m values of w."""
    p_low = packed[1]
    p = p_low + (_TOP * P_CRITICAL - p_low) * 0.5 * (1.0 - math.cos(math.pi * i / (n - 1.0)))
    T = sat_T(p)
    _p, rho_l, rho_v = sat_rho(T)
    q = math.sqrt(rho_v / rho_l)
    row = start + i * m
    guess = 0.9
    for k in range(m):
        w = k / (m - 1.0)
        x = w * q / (1.0 - w + w * q)
        packed[row + k], guess = _value(elements, model, T, x, packed[0], ratio, guess)
    liquid, vapour = packed[row], packed[row + m - 1]
    for k in range(m):
        w = k / (m - 1.0)
        x = w * q / (1.0 - w + w * q)
        packed[row + k] /= (1.0 - x) * liquid + x * vapour


@entry
def _fill(packed, start, n, m, elements, model, ratio):
    """Tabulate a layer over (pressure, w); rows of m."""
    for i in range(n):
        fill_row(packed, start, i, n, m, elements, model, ratio)


@jit
def flash_flow(packed, p, x, rho, q):
    """Mass flow [kg/s] of a feed from a mixture, from its packed map followed by flash_part.

    Parameters: p [Pa], quality x, density rho [kg/m3] of the mixture, q = rho_v/rho_l at p. At
    most the critical pressure.
    """
    if not (p > packed[0]):
        return 0.0
    held = min(max(p, packed[1]), P_CRITICAL)
    z = math.acos(1.0 - 2.0 * (held - packed[1]) / (P_CRITICAL - packed[1])) / math.pi
    w = x / (x + (1.0 - x) * math.sqrt(q))
    liquid, vapour = line_values(packed, z, False)
    F = (1.0 - x) * liquid + x * vapour
    F *= in_table(packed, MAP_SIZE, z, FLASH_JETS[0], w, FLASH_JETS[1], 0)
    if packed[3] == 1.0:
        liquid, vapour = line_values(packed, z, True)
        F *= (1.0 - x) * liquid + x * vapour
        F *= in_table(packed, FLASH_RATIO_START, z, FLASH_RATIO[0], w, FLASH_RATIO[1], 0)
    return math.sqrt(max(F, 0.0) * packed[4] * rho * (p - packed[0]))


def flash_part(
    packed: NDArray[np.float64], elements: NDArray[np.float64], model: int
) -> NDArray[np.float64]:
    """What follows a feed's packed map (feed_network.py) to make it one of flashing streams too.

    float64 (FLASH_SIZE,). elements (n, 6) and model: those the map was made from.
    """
    chain = np.ascontiguousarray(elements, dtype=np.float64).reshape(-1, 6)
    out = np.concatenate([packed, np.ones(FLASH_SIZE)])
    _fill(out, MAP_SIZE, *FLASH_JETS, chain[-1:], int(model), False)
    if packed[3] == 1.0:
        _fill(out, FLASH_RATIO_START, *FLASH_RATIO, chain, int(model), True)
    return out[MAP_SIZE:]
