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
from n2osim.engine.zones import stays_liquid, stream_direction
from n2osim.jit import leaf

K, ENTHALPY, SLOPE, SHARE, N_EXCHANGE = 0, 1, 2, 6, 10
"""Columns of a bottle's row: kg/s/Pa; J/kg of its stream; slopes of its pressure with (M1, U1, M2,
U2) in Pa/kg and Pa/J; what a kilogram of the stream adds to these."""


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

    ``work.st`` of bottles with two zones must be that of ``y`` (integrate.zone_slopes).
    """
    width = L.NODE0 + 2 * setup.wall.shape[2]
    for i in range(setup.bottles.shape[0]):
        row = work.exchange[i]
        row[K] = 0.0
        # A stream into the bottle is not the balance of what its own relief device lets go.
        taken = out[i, L.O_FED]
        flow = taken if taken > 0.0 else out[i, L.O_MDOT] - out[i, L.O_RELIEF]
        if out[i, L.O_P_MANIFOLD] <= 0.0 or flow == 0.0:
            continue
        h = out[i, L.O_HFED] / taken if taken > 0.0 else out[i, L.O_HOUT] / out[i, L.O_MDOT]
        row[ENTHALPY] = h
        base = i * width
        wet = out[i, L.O_MDOT_L] / flow
        if not _bottle_slopes(setup.bottles[i], y, base, taken, wet, h, out[i], work, i, row):
            continue
        drop = max(abs(out[i, L.O_P] - out[i, L.O_P_MANIFOLD]), 1e-3)
        # Flow goes as drop / sqrt(drop + BRANCH_SOFT), see manifold.py.
        row[K] = abs(flow) * (1.0 / drop - 0.5 / (drop + BRANCH_SOFT))


@leaf
def _bottle_slopes(b, y, base, taken, wet, h, out, work, i, row):
    """Fill slopes and shares of a bottle's ``row``; False where it has no slopes.

    wet: share of a stream out of it that is drawn below the surface; h: J/kg of the stream.
    """
    st = work.st[i]
    slope, share = row[SLOPE : SLOPE + 4], row[SHARE : SHARE + 4]
    if y[base + L.M2] > 0.0:
        h_wet = st[19]
        if taken > 0.0:
            wet, h_wet = stays_liquid(st, h)
        for k in range(4):
            slope[k] = work.pressing[i, k]
        stream_direction(y, base, st, wet, h_wet, h, share)
    else:
        guess = work.guess[i]
        slope[0], slope[1] = pressure_slopes(
            b, y[base + L.M1], y[base + L.U1], out[L.O_P], out[L.O_DTDU], guess, st
        )
        slope[2] = slope[3] = share[2] = share[3] = 0.0
        share[0], share[1] = 1.0, h
    return math.isfinite(slope[0] + slope[1] + slope[2] + slope[3] + share[1] + share[3])


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
    """Move what the pair exchanges by the end of the stage; the energy of it is one stream's."""
    a, b = i * width, j * width
    rise = along = 0.0
    for k in range(4):
        rise += rows[i, SLOPE + k] * r[a + k] - rows[j, SLOPE + k] * r[b + k]
        along += rows[i, SLOPE + k] * rows[i, SHARE + k]
        along += rows[j, SLOPE + k] * rows[j, SHARE + k]
    over_i, over_j = h - rows[i, ENTHALPY], h - rows[j, ENTHALPY]
    along += rows[i, SLOPE + 1] * over_i + rows[j, SLOPE + 1] * over_j
    if not (along > 0.0):
        return
    flow = conductance * rise / (1.0 + hg * conductance * along)
    for k in range(4):
        r[a + k] -= hg * flow * rows[i, SHARE + k]
        r[b + k] += hg * flow * rows[j, SHARE + k]
    r[a + L.U1] -= hg * flow * over_i
    r[b + L.U1] += hg * flow * over_j
    q = totals + i * L.N_TOTALS
    r[q + L.M_OUT] += flow
    r[q + L.H_OUT] += flow * h
    q = totals + j * L.N_TOTALS
    r[q + L.M_OUT] -= flow
    r[q + L.H_OUT] -= flow * h
