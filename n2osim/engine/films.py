"""Film coefficients by look-up: solved at nodes when first needed, interpolated between them.

A correlation's coefficient between wall and fluid is smooth in the fluid's temperature and in the
wall's distance from it, and costs some microseconds; a run asks for it ten thousand times along one
path. So its logarithm is kept on a grid per bottle, filled node by node as the run comes by:

* two phases: over sqrt(T_c - T) (saturated properties are smooth in it);
* one phase while the density stays (a hold): over T from the phase boundary on, natural convection
  alone (boiling of a subcooled liquid begins at a wall temperature of its own);
* both over asinh(dT / 0.01 K), each side of dT = 0 by itself.

Interpolation is by cubics through four nodes each way. Where the grid ends (next to the critical
point, in vapour, in a flow without liquid, far above the boundary) the correlation itself is
asked. Outside, the properties of air are kept over the film temperature. Against the correlations:
1e-5, up to 10 % in the few tenths of a kelvin where condensation or the cap of boiling fades
(``tests/engine/test_films.py``).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from n2osim.fluid.equation_of_state import P_CRITICAL, P_TRIPLE, T_CRITICAL
from n2osim.fluid.phase import LIQUID, TWO_PHASE, VAPOUR
from n2osim.jit import leaf
from n2osim.physics.boiling import (
    P_R_END,
    boiling_weight,
    dry_coefficient,
    inside_from_properties,
    inside_properties,
    natural_coefficient,
    subcooled_boiling,
    wet_coefficient,
    with_boiling,
)
from n2osim.physics.convection import SMALL_DT, blend_cubes, forced_air, natural_air
from n2osim.physics.numeric import four_nodes

_SCALE = 0.01  # K
_DS = 0.15
_SIDE = 72  # nodes of one side of dT = 0: to 245 K
_DY = 0.15  # sqrt(K)
_SATURATED = 76  # nodes of sqrt(T_c - T): to the triple point
_DT = 0.5  # K
_SINGLE = 80  # nodes above the phase boundary: 40 K
_PROPERTIES = 22
_AIR_LOW, _AIR_STEP, _AIR = 170.0, 8.0, 100


class Films(NamedTuple):
    """What has been solved so far, by bottle; 0 where nothing has been.

    ``share``: logarithm of the film's share of the difference between a wall part's inner node and
    the fluid, as found last for both parts (0: all of it), then the slopes it was found with.
    """

    saturated: np.ndarray
    single: np.ndarray
    of_saturated: np.ndarray
    of_single: np.ndarray
    density: np.ndarray
    air: np.ndarray
    share: np.ndarray


def make_films(nb: int) -> Films:
    """Empty grids for ``nb`` bottles."""
    return Films(
        np.zeros((nb, _SATURATED, 2, _SIDE, 2)),
        np.zeros((nb, _SINGLE, 2, _SIDE, 2)),
        np.zeros((nb, _SATURATED, _PROPERTIES)),
        np.zeros((nb, _SINGLE, _PROPERTIES)),
        np.zeros(nb),
        np.zeros((nb, _AIR, 4)),
        np.concatenate([np.zeros((nb, 2)), np.ones((nb, 2))], axis=1),
    )


@leaf
def _keep(props, row):
    p_r, T, T_sat, wet, weight, gain, flux, film, liquid, vapour = props
    row[0], row[1], row[2], row[3], row[4] = p_r, T, T_sat, wet, weight
    row[5], row[6], row[7] = gain, flux, film
    for k in range(7):
        row[8 + k] = liquid[k]
        row[15 + k] = vapour[k]


@leaf
def _kept(r):
    liquid = (r[8], r[9], r[10], r[11], r[12], r[13], r[14])
    vapour = (r[15], r[16], r[17], r[18], r[19], r[20], r[21])
    return r[0], r[1], r[2], r[3], r[4], r[5], r[6], r[7], liquid, vapour


@leaf
def _solve(b, row, side, j, part):
    """Logarithm of a coefficient at a node; part 0 wet, 1 dry, 2 natural convection alone."""
    props = _kept(row)
    dT = _SCALE * math.sinh(_DS * j)
    T_wall = row[1] + (dT if side == 0 else -dT)
    length = b.length_in if b.standing == 1 else b.diameter_in
    if part == 2:
        return math.log(natural_coefficient(props[8], row[1], T_wall, length, b.standing))
    if part == 0:
        return math.log(wet_coefficient(props, T_wall, length, b.standing, b.h_in_cap))
    return math.log(dry_coefficient(props, T_wall, length, b.standing, b.h_in_cap))


@leaf
def _across(dT):
    """Where a wall ``dT`` (K) from the fluid lies: side, first of four nodes (-1 beyond the grid)
    and their weights."""
    z = abs(dT) / _SCALE
    x = math.log(z + math.sqrt(z * z + 1.0)) / _DS
    side = 0 if dT >= 0.0 else 1
    if not (x < _SIDE - 1.0):
        return side, -1, 0.0, 0.0, 0.0, 0.0
    j, w0, w1, w2, w3 = four_nodes(x, 0, _SIDE)
    return side, j, w0, w1, w2, w3


@leaf
def _part(b, grid, rows, k, weights, across, part):
    """Coefficient (W/m2/K) of one part, interpolated.

    Natural convection alone (part 2) is kept in the place of the wet part.
    """
    side, j, w0, w1, w2, w3 = across
    at = part % 2
    total = 0.0
    for m in range(4):
        cell = grid[k + m, side]
        for n in range(4):
            if cell[j + n, at] == 0.0:
                cell[j + n, at] = _solve(b, rows[k + m], side, j + n, part)
        line = w0 * cell[j, at] + w1 * cell[j + 1, at]
        line += w2 * cell[j + 2, at] + w3 * cell[j + 3, at]
        total += weights[m] * line
    return math.exp(total)


@leaf
def _boiling(T, p, phase):
    """Saturation temperature, weighed gain and critical flux of boiling in one phase."""
    if phase != LIQUID or not (P_TRIPLE < p < P_R_END * P_CRITICAL):
        return T, 0.0, 0.0
    T_sat, gain, flux = subcooled_boiling(p)
    return T_sat, gain * boiling_weight(p / P_CRITICAL), flux


@leaf
def _forget(rows, grid):
    for k in range(_SINGLE):
        if rows[k, 1] == 0.0:
            continue
        rows[k, 1] = 0.0
        for j in range(_SIDE):
            for part in range(2):
                grid[k, 0, j, part] = 0.0
                grid[k, 1, j, part] = 0.0


@leaf
def _place(st, i, boundary, films):
    """Where the state of bottle ``i`` lies on its grid: (coordinate, first node, nodes), 0 nodes
    where it has none. Forgets the grid of another density."""
    T = st[0]
    if int(st[3]) == TWO_PHASE:
        x = math.sqrt(max(T_CRITICAL - T, 0.0)) / _DY
        return x, 1, _SATURATED if 1.0 <= x < _SATURATED else 0
    rho = st[15]
    x = (T - boundary[1]) / _DT
    inside = boundary[1] > 0.0 and 0.0 <= x < _SINGLE - 1.0
    # Vapour begins to condense at a wall temperature of its own, where the coefficient has a kink.
    if rho != boundary[0] or not inside or int(st[3]) == VAPOUR:
        return x, 0, 0
    if films.density[i] != rho:
        films.density[i] = rho
        _forget(films.of_single[i], films.single[i])
    return x, 0, _SINGLE


@leaf
def film_place(st, i, boundary, films):
    """Place of bottle ``i`` on its grid, with properties at its four nodes solved.

    boundary: density and temperature of the phase boundary, as found last. Returns (first of the
    four nodes or -1 where the correlation is to be asked, their weights, what boiling in one phase
    needs, what the correlation needs).
    """
    phase = int(st[3])
    x, first, count = _place(st, i, boundary, films)
    if count == 0:
        props = inside_properties(st[0], st[15], phase)
        return -1, (0.0, 0.0, 0.0, 0.0), (0.0, 0.0, 0.0), props
    k, w0, w1, w2, w3 = four_nodes(x, first, count)
    two = phase == TWO_PHASE
    rows = films.of_saturated[i] if two else films.of_single[i]
    for m in range(k, k + 4):
        if rows[m, 1] == 0.0:
            T = T_CRITICAL - (_DY * m) ** 2 if two else boundary[1] + _DT * m
            _keep(inside_properties(T, st[15], phase), rows[m])
    boiling = (0.0, 0.0, 0.0) if two else _boiling(st[0], st[1], phase)
    return k, (w0, w1, w2, w3), boiling, NO_PLACE[3]


_NOTHING = (0.0,) * 7
NO_PLACE = (
    -1,
    (0.0,) * 4,
    (0.0,) * 3,
    (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, _NOTHING, _NOTHING),
)
"""What stands for a place where no film is asked for."""


@leaf
def inside_film(b, st, wet, i, place, t_wall, films):
    """Coefficient (W/m2/K) between a wall part and the fluid, as ``inside_from_properties``.

    ``place`` from :func:`film_place`.
    """
    k, weights, boiling, props = place
    two = int(st[3]) == TWO_PHASE
    across = _across(t_wall - st[0])
    if k >= 0 and across[1] >= 0:
        grid = films.saturated[i] if two else films.single[i]
        rows = films.of_saturated[i] if two else films.of_single[i]
        h = 0.0
        if not two:
            T_sat, gain, flux = boiling
            h = _part(b, grid, rows, k, weights, across, 2)
            h = with_boiling(h, st[0], T_sat, t_wall, gain, flux, b.h_in_cap)
        elif wet > 0.0:
            h = wet * _part(b, grid, rows, k, weights, across, 0)
        if two and wet < 1.0:
            h += (1.0 - wet) * _part(b, grid, rows, k, weights, across, 1)
        return h
    if k >= 0:
        props = inside_properties(st[0], st[15], int(st[3]))
    length = b.length_in if b.standing == 1 else b.diameter_in
    return inside_from_properties(props, t_wall, wet, length, b.standing, b.h_in_cap)[0]


@leaf
def _air_node(whole, b, k, row):
    film = _AIR_LOW + _AIR_STEP * k
    length = b.length_out if b.standing == 1 else b.diameter_out
    row[1], row[2] = natural_air(film, whole.p_ambient, length, b.standing)
    row[3] = forced_air(film, whole.p_ambient, whole.air_speed, b.diameter_out)
    row[0] = 1.0


@leaf
def outside_film(whole, b, t_surface, t_air, air):
    """Convection coefficient (W/m2/K) outside, as ``outside_coefficient``; ``air``: its grid."""
    film = 0.5 * (t_surface + t_air)
    x = (film - _AIR_LOW) / _AIR_STEP
    dT = math.sqrt((t_surface - t_air) ** 2 + SMALL_DT * SMALL_DT)
    if not (1.0 < x < _AIR - 2.0):
        length = b.length_out if b.standing == 1 else b.diameter_out
        still, lift = natural_air(film, whole.p_ambient, length, b.standing)
        forced = forced_air(film, whole.p_ambient, whole.air_speed, b.diameter_out)
    else:
        k, w0, w1, w2, w3 = four_nodes(x, 0, _AIR)
        for m in range(k, k + 4):
            if air[m, 0] == 0.0:
                _air_node(whole, b, m, air[m])
        still = w0 * air[k, 1] + w1 * air[k + 1, 1] + w2 * air[k + 2, 1] + w3 * air[k + 3, 1]
        lift = w0 * air[k, 2] + w1 * air[k + 1, 2] + w2 * air[k + 2, 2] + w3 * air[k + 3, 2]
        forced = w0 * air[k, 3] + w1 * air[k + 1, 3] + w2 * air[k + 2, 3] + w3 * air[k + 3, 3]
    root = still + lift * dT ** (1.0 / 6.0)
    return blend_cubes(root * root, forced)
