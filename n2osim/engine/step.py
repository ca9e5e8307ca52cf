"""One implicit step: the Rosenbrock-W method ROS34PW2, linearised with the exchange conductances.

ROS34PW2 (J. Rang and L. Angermann, BIT Numerical Mathematics 45 (2005) 761-787): four stages,
order three, L-stable, stiffly accurate, embedded order two, and it keeps its order with an
inexact Jacobian. So only what is stiff is linearised: wall conduction, films, heater contact and
loss, sensor lag, the air node, outflow near the outside's pressure, evaporation between zones and
what bottles on a manifold give each other. All other flow is left out of the Jacobian.
Exchange terms are linearised with both signs and the running totals with the same rows, so
every step conserves energy to rounding.
"""

from __future__ import annotations

import math

from n2osim.engine import layout as L
from n2osim.engine.balances import rates
from n2osim.engine.exchange import apply_exchange
from n2osim.engine.linear import factor, solve
from n2osim.jit import leaf

GAMMA = 4.3586652150845900e-01
_A21 = 8.7173304301691801e-01
_A31, _A32 = 8.4457060015369423e-01, -1.1299064236484185e-01
_A43 = 1.0
_G21 = -8.7173304301691801e-01
_G31, _G32 = -9.0338057013044082e-01, 5.4180672388095326e-02
_G41, _G42, _G43 = 2.4212380706095346e-01, -1.2232505839045147e00, 5.4526025533510214e-01
_B1, _B2, _B3, _B4 = _G41, _G42, 1.5452602553351020e00, GAMMA
B_HAT = (3.7810903145819369e-01, -9.6042292212423178e-02, 5.0e-01, 2.1793326075422950e-01)
_E1, _E2, _E3, _E4 = _B1 - B_HAT[0], _B2 - B_HAT[1], _B3 - B_HAT[2], _B4 - B_HAT[3]
_PER_GAMMA = 1.0 / GAMMA
C = (0.0, _A21, _A31 + _A32, _A43)


@leaf
def _chain(setup, out, i, hg, work):
    """Fill and factor bottle ``i``'s matrix I - h gamma J (order: fluid, c0, b0, ..., heater).

    The fluid's unknown is its energy less what the mass drawn carries, so that outflow has no part
    in this chain.
    """
    b = setup.bottles[i]
    wall = setup.wall[i]
    a = work.a[i]
    n = b.n
    size = 2 * n + 2
    for r in range(size):
        for k in range(5):
            a[k, r] = 0.0
        a[2, r] = 1.0
    gc, gb, dtdu = out[i, L.O_GC], out[i, L.O_GB], out[i, L.O_DTDU]
    by_fluid_c, by_fluid_b = out[i, L.O_GTC] * dtdu, out[i, L.O_GTB] * dtdu
    a[2, 0] += hg * (by_fluid_c + by_fluid_b)
    a[3, 0] -= hg * gc
    a[4, 0] -= hg * gb
    a[1, 1] -= hg * by_fluid_c / wall[0, 0]
    a[2, 1] += hg * gc / wall[0, 0]
    a[0, 2] -= hg * by_fluid_b / wall[1, 0]
    a[2, 2] += hg * gb / wall[1, 0]
    for k in range(n):
        c = 1 + 2 * k
        wc = hg / wall[0, k]
        wb = hg / wall[1, k]
        a[2, c] += wc * wall[4, k]
        a[3, c] -= wc * wall[4, k]
        a[2, c + 1] += wb * wall[4, k]
        a[1, c + 1] -= wb * wall[4, k]
        if k > 0:
            a[2, c] += wc * wall[2, k - 1]
            a[0, c] -= wc * wall[2, k - 1]
            a[2, c + 1] += wb * wall[3, k - 1]
            a[0, c + 1] -= wb * wall[3, k - 1]
        if k < n - 1:
            a[2, c] += wc * wall[2, k]
            a[4, c] -= wc * wall[2, k]
            a[2, c + 1] += wb * wall[3, k]
            a[4, c + 1] -= wb * wall[3, k]
    _outer_rows(b, wall, out, i, hg, a)
    factor(a, size)


@leaf
def _outer_rows(b, wall, out, i, hg, a):
    n = b.n
    last = 2 * n - 1
    heater = 2 * n + 1
    a[2, last + 1] += hg * out[i, L.O_GLB] / wall[1, n - 1]
    if b.has_heater == 1:
        a[2, last] += hg * b.g_contact / wall[0, n - 1]
        a[4, last] -= hg * b.g_contact / wall[0, n - 1]
        leaving = b.g_contact + out[i, L.O_GLC] + out[i, L.O_GPOWER]
        a[2, heater] += hg * leaving / b.heater_capacity
        a[0, heater] -= hg * b.g_contact / b.heater_capacity
    else:
        a[2, last] += hg * out[i, L.O_GLC] / wall[0, n - 1]


@leaf
def _air_column(b, wall, out, i, hg, column):
    """Right border of the chain: how the air node's change moves this bottle's unknowns."""
    n = b.n
    for r in range(2 * n + 2):
        column[r] = 0.0
    column[2 * n] = -hg * out[i, L.O_GLB] / wall[1, n - 1]
    if b.has_heater == 1:
        column[2 * n + 1] = -hg * out[i, L.O_GLC] / b.heater_capacity
    else:
        column[2 * n - 1] = -hg * out[i, L.O_GLC] / wall[0, n - 1]


@leaf
def _covered_end(b):
    """Chain index of what loses heat on the covered side."""
    return 2 * b.n + 1 if b.has_heater == 1 else 2 * b.n - 1


@leaf
def prepare(setup, out, hg, work):
    """Factor all chains for this step; Schur complement of the air node into ``work.schur``."""
    whole = setup.whole[0]
    nb = setup.bottles.shape[0]
    schur = 1.0
    if whole.air_node == 1:
        schur += hg * whole.air_conductance / whole.air_capacity
    for i in range(nb):
        _chain(setup, out, i, hg, work)
        if whole.air_node == 0:
            continue
        b = setup.bottles[i]
        _air_column(b, setup.wall[i], out, i, hg, work.border[i])
        solve(work.a[i], 2 * b.n + 2, work.border[i])
        wb = hg * out[i, L.O_GLB] / whole.air_capacity
        wc = hg * out[i, L.O_GLC] / whole.air_capacity
        schur += wb * (1.0 + work.border[i, 2 * b.n]) + wc * (1.0 + work.border[i, _covered_end(b)])
    work.schur[0] = schur


@leaf
def _fluid_row(b, y, base):
    """State slot that takes the fluid's share of the linearised wall heat."""
    if b.two_zone == 1 and y[base + L.M2] > 0.0 and y[base + L.M1] < 0.05 * y[base + L.M2]:
        return base + L.U2
    return base + L.U1


@leaf
def _air_change(setup, out, hg, r, air, work):
    """Solution for the air node, from what the chains alone would give."""
    whole = setup.whole[0]
    if whole.air_node == 0:
        return 0.0
    z = r[air]
    for i in range(setup.bottles.shape[0]):
        b = setup.bottles[i]
        bare = out[i, L.O_GLB] * work.x[i, 2 * b.n]
        z += hg / whole.air_capacity * (bare + out[i, L.O_GLC] * work.x[i, _covered_end(b)])
    return z / work.schur[0]


@leaf
def _bottle_change(setup, y, out, hg, r, i, air, z_air, work):
    """Put bottle ``i``'s part of the solution, and of its totals, back into ``r``."""
    b = setup.bottles[i]
    base = i * (L.NODE0 + 2 * setup.wall.shape[2])
    n = b.n
    x = work.x[i]
    if setup.whole[0].air_node == 1:
        for k in range(2 * n + 2):
            x[k] -= z_air * work.border[i, k]
    mass = (r[base + L.M1] - hg * work.slope_u[i] * x[0]) / (1.0 + hg * work.slope[i])
    r[base + L.M1] = mass
    r[_fluid_row(b, y, base)] = x[0] + work.h_draw[i] * mass
    for k in range(2 * n):
        r[base + L.NODE0 + k] = x[1 + k]
    r[base + L.HEATER] = x[2 * n + 1]
    _along(work.evaporation[i], hg, r[base : base + 4])
    vent = work.vent[i]
    vented = _along(vent, hg, r[base : base + 4])
    dm = work.slope[i] * mass + work.slope_u[i] * x[0]
    dh = dm * work.h_draw[i] - vented * (vent[0, 1] + vent[0, 3])
    _totals_rows(b, out, i, x, z_air, dm + vented, dh, r, air + 1 + i * L.N_TOTALS)


@leaf
def _solve_stage(setup, y, out, hg, r, work):
    """Turn the right-hand side ``r`` (whole state) into the solution of (I - h gamma J) z = r."""
    nb = setup.bottles.shape[0]
    width = L.NODE0 + 2 * setup.wall.shape[2]
    air = nb * width
    for i in range(nb):
        b = setup.bottles[i]
        base = i * width
        x = work.x[i]
        n = b.n
        x[0] = r[_fluid_row(b, y, base)] - work.h_draw[i] * r[base + L.M1]
        for k in range(2 * n):
            x[1 + k] = r[base + L.NODE0 + k]
        x[2 * n + 1] = r[base + L.HEATER]
        solve(work.a[i], 2 * n + 2, x)
        if b.lag > 0.0:
            r[base + L.SENSOR] /= 1.0 + hg / b.lag
    z_air = _air_change(setup, out, hg, r, air, work)
    if setup.whole[0].air_node == 1:
        r[air] = z_air
    for i in range(nb):
        _bottle_change(setup, y, out, hg, r, i, air, z_air, work)
    if nb > 1:
        apply_exchange(work.exchange, out, hg, r, width, air + 1)


@leaf
def _along(pair, hg, z):
    """Apply (I - h gamma v g^T)^-1 to (M1, U1, M2, U2), ``pair`` = (v, g); returns g . z (kg/s)."""
    rate = 0.0
    along = 0.0
    for k in range(4):
        rate += pair[1, k] * z[k]
        along += pair[1, k] * pair[0, k]
    rate /= 1.0 - hg * along
    for k in range(4):
        z[k] += hg * rate * pair[0, k]
    return rate


@leaf
def _totals_rows(b, out, i, x, z_air, dm, dh, r, q):
    """J z of the running totals, kept in ``r`` (they have no column of their own)."""
    d = out[i, L.O_DTDU] * x[0]
    r[q + L.E_HEATER] = -out[i, L.O_GPOWER] * x[2 * b.n + 1]
    r[q + L.Q_FLUID] = out[i, L.O_GC] * x[1] + out[i, L.O_GB] * x[2]
    r[q + L.Q_FLUID] -= (out[i, L.O_GTC] + out[i, L.O_GTB]) * d
    r[q + L.Q_LOSS] = out[i, L.O_GLC] * (x[_covered_end(b)] - z_air) + out[i, L.O_GLB] * (
        x[2 * b.n] - z_air
    )
    r[q + L.M_OUT] = dm
    r[q + L.H_OUT] = dh


@leaf
def _stage_state(i, y, k, to):
    """State at which stage ``i`` takes its rates: y + sum_j alpha_ij k_j (zero terms left out)."""
    if i == 1:
        for m in range(y.shape[0]):
            to[m] = y[m] + _A21 * k[0, m]
    elif i == 2:
        for m in range(y.shape[0]):
            to[m] = y[m] + _A31 * k[0, m] + _A32 * k[1, m]
    else:
        for m in range(y.shape[0]):
            to[m] = y[m] + _A43 * k[2, m]


@leaf
def _earlier(i, k, s):
    """Sum_j gamma_ij k_j of the stages before ``i``."""
    if i == 0:
        for m in range(s.shape[0]):
            s[m] = 0.0
    elif i == 1:
        for m in range(s.shape[0]):
            s[m] = _G21 * k[0, m]
    elif i == 2:
        for m in range(s.shape[0]):
            s[m] = _G31 * k[0, m] + _G32 * k[1, m]
    else:
        for m in range(s.shape[0]):
            s[m] = _G41 * k[0, m] + _G42 * k[1, m] + _G43 * k[2, m]


@leaf
def _stage(i, y, f, h, totals0, setup, out0, work):
    """Increment k_i from the rates ``f`` of its state."""
    k, r, s = work.k, work.r, work.s
    _earlier(i, k, s)
    hg = h * GAMMA
    for m in range(y.shape[0]):
        r[m] = hg * f[m] + s[m]
    _solve_stage(setup, y, out0, hg, r, work)
    for m in range(totals0):
        k[i, m] = (r[m] - s[m]) * _PER_GAMMA
    for m in range(totals0, y.shape[0]):
        k[i, m] = h * (f[m] + r[m])


@leaf
def _finish(y, k, y1, error):
    """The step's end and its local error (difference to the embedded result)."""
    for m in range(y.shape[0]):
        a, b, c, d = k[0, m], k[1, m], k[2, m], k[3, m]
        y1[m] = y[m] + _B1 * a + _B2 * b + _B3 * c + _B4 * d
        error[m] = _E1 * a + _E2 * b + _E3 * c + _E4 * d


@leaf
def take_step(t, t_segment, h, y, f0, out0, setup, lmodes, modes, work, y1, error):
    """Try one step of length ``h`` from ``y`` (rates ``f0``, report ``out0``) into ``y1``.

    Returns True when every stage stayed inside the range of the equation of state.
    """
    nb = setup.bottles.shape[0]
    totals0 = y.shape[0] - nb * L.N_TOTALS
    prepare(setup, out0, h * GAMMA, work)
    _stage(0, y, f0, h, totals0, setup, out0, work)
    for i in range(1, 4):
        _stage_state(i, y, work.k, work.y)
        rates(t + C[i] * h, t_segment, work.y, setup, lmodes, modes, work, work.f, work.out, 0)
        for n in range(nb):
            good = math.isfinite(work.out[n, L.O_T] + work.out[n, L.O_MDOT])
            if modes[n, L.FROZEN] == 0 and not good:
                return False
        _stage(i, y, work.f, h, totals0, setup, out0, work)
    _finish(y, work.k, y1, error)
    return True
