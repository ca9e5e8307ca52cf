"""What bottles on a manifold give each other, linearised for the implicit step.

A bottle full of liquid hardly gives, so a little more in it is a lot more pressure and the exchange
is stiff. About the manifold's balance, with the jets' part held, the flow from bottle i to bottle j
changes by K (dp_i - dp_j), K = k_i k_j / sum k, where k is the slope of a branch's own flow with
the pressure across it (a star of branches turned into a mesh of pairs). Each pair moves mass with
its enthalpy from one to the other, a change of rank one that adds nothing; bottles whose pressures
move together are left alone. Pairs are applied one after the other: the implicit step keeps its
order with any linearisation (step.py).
"""

from __future__ import annotations

import math

from n2osim.engine import layout as L
from n2osim.engine.fluid_node import equilibrium_state
from n2osim.engine.manifold import BRANCH_SOFT
from n2osim.jit import leaf

K, DPDM, DPDU, ENTHALPY, N_EXCHANGE = 0, 1, 2, 3, 4
"""Columns of a bottle's row: kg/s/Pa, Pa/kg, Pa/J, J/kg of its stream."""


@leaf
def pressure_slopes(b, m, u, p, dtdu, guess, st):
    """(dp/dm at constant energy, dp/du at constant mass) of a bottle with one zone, by difference.

    Pa/kg, Pa/J. ``p``: its pressure; ``guess`` and ``st``: scratch.
    """
    equilibrium_state(m * (1.0 - 1e-4), u, b.volume, guess, st)
    dpdm = (p - st[1]) / (1e-4 * m)
    du = 0.01 / dtdu
    equilibrium_state(m, u + du, b.volume, guess, st)
    return dpdm, (st[1] - p) / du


@leaf
def exchange_slopes(setup, y, out, work):
    """Fill ``work.exchange`` for bottles on a manifold.

    The pressure of a bottle with two zones is held: its vapour gives.
    """
    width = L.NODE0 + 2 * setup.wall.shape[2]
    for i in range(setup.bottles.shape[0]):
        row = work.exchange[i]
        row[K] = 0.0
        base = i * width
        flow = out[i, L.O_MDOT]
        if out[i, L.O_P_MANIFOLD] <= 0.0 or flow == 0.0:
            continue
        p = out[i, L.O_P]
        dpdm = 0.0
        dpdu = 0.0
        if y[base + L.M2] <= 0.0:
            dpdm, dpdu = pressure_slopes(
                setup.bottles[i],
                y[base + L.M1],
                y[base + L.U1],
                p,
                out[i, L.O_DTDU],
                work.guess[i],
                work.st[i],
            )
        if not math.isfinite(dpdm + dpdu):
            continue
        drop = max(abs(p - out[i, L.O_P_MANIFOLD]), 1e-3)
        # Flow goes as drop / sqrt(drop + BRANCH_SOFT), see manifold.py.
        row[K] = abs(flow) * (1.0 / drop - 0.5 / (drop + BRANCH_SOFT))
        row[DPDM], row[DPDU] = dpdm, dpdu
        row[ENTHALPY] = out[i, L.O_HOUT] / flow


@leaf
def apply_exchange(rows, out, hg, r, width, totals):
    """Apply (I - h gamma J)^-1 of every pair to ``r``; running totals from index ``totals`` on."""
    nb = rows.shape[0]
    total = 0.0
    for i in range(nb):
        total += rows[i, K]
    if not (total > 0.0):
        return
    for i in range(nb):
        for j in range(i + 1, nb):
            if rows[i, K] > 0.0 and rows[j, K] > 0.0:
                pair = rows[i, K] * rows[j, K] / total
                above = i if out[i, L.O_P] >= out[j, L.O_P] else j
                _pair(rows, i, j, pair, rows[above, ENTHALPY], hg, r, width, totals)


@leaf
def _pair(rows, i, j, conductance, h, hg, r, width, totals):
    a, b = i * width, j * width
    rise = rows[i, DPDM] * r[a + L.M1] + rows[i, DPDU] * r[a + L.U1]
    rise -= rows[j, DPDM] * r[b + L.M1] + rows[j, DPDU] * r[b + L.U1]
    along = rows[i, DPDM] + h * rows[i, DPDU] + rows[j, DPDM] + h * rows[j, DPDU]
    if not (along > 0.0):
        return
    flow = conductance * rise / (1.0 + hg * conductance * along)
    r[a + L.M1] -= hg * flow
    r[a + L.U1] -= hg * flow * h
    r[b + L.M1] += hg * flow
    r[b + L.U1] += hg * flow * h
    q = totals + i * L.N_TOTALS
    r[q + L.M_OUT] += flow
    r[q + L.H_OUT] += flow * h
    q = totals + j * L.N_TOTALS
    r[q + L.M_OUT] -= flow
    r[q + L.H_OUT] -= flow * h
