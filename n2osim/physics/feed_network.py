"""Flow map: the feed network solved once, looked up ever after.

For one feed and one back pressure the flow depends on the bottle state alone. A map holds it as
tables over pressure and density, packed in one float64 array that a compiled time integration can
carry. Two layers are multiplied: what the jets alone would pass, stored as

    F = mdot^2 / (rho (p - p_back) (Cd A)^2),

which is smooth, of order one, and has a limit where the flow stops; and the squared ratio of
the feed's flow to that, which losses make a little less than 1 and which needs few nodes.

In each layer saturated liquid and vapour are tabulated finely as lines; beside each a coarser
table holds the ratio to the value on the line, so that crossing the line is continuous. Above the
critical pressure tables start on both sides of the critical isochore. The second coordinate is 0
on the line:

    dense side   eta = ((rho - rho_line)/(rho_top - rho_line))^(1/2),
                 1 at the triple-point temperature
    light side   xi = (ln(rho/rho_line)/ln(rho_hot/rho_line))^(1/2), 1 near T_MAX

so that no table reaches across the dome and the steep part beside the line is resolved. Pressure
runs as p_low + (p_c - p_low)(1 - cos(pi t))/2 below the critical point (dense at both ends, where
saturated properties change like square roots) and p_c + (p_high - p_c) u^2 above. Interpolation is
by cubics through four nodes. Pressures beyond P_MAP_MAX are held at it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from n2osim.errors import RangeError
from n2osim.fluid.equation_of_state import P_CRITICAL, P_TRIPLE, R_SPECIFIC, RHO_CRITICAL, T_MAX
from n2osim.fluid.flash import state_prho, state_pT
from n2osim.fluid.saturation import RHO_L_TRIPLE, sat_rho, sat_T
from n2osim.fluid.state import state_Trho
from n2osim.hardware.orifice_models import MODELS
from n2osim.jit import entry, jit
from n2osim.physics.feed_chain import balanced_flow, feed_elements
from n2osim.physics.numeric import four_nodes
from n2osim.physics.orifice import DEFAULT_MODEL, HNE
from n2osim.physics.short_jet import jet_flux

P_MAP_MAX = 25e6
"""Highest pressure tabulated, Pa."""
SHIPPED = Path(__file__).parents[1] / "data" / "flow_maps.npz"
"""Jets' layers of the choking models at standard pressure."""
_P_BACK_MAX = 0.8 * P_CRITICAL
_TOLERANCE = 1e-6  # relative, of the network's solution

# A layer's node counts: line, pressure below and above p_c, eta, xi.
JETS = (97, 33, 25, 25, 25)
RATIO = (25, 17, 13, 14, 9)
HEADER = 5  # p_back, p_low, model, 1 if there are losses ahead of the jets, (Cd A)^2 of the jets


def _layer_size(shape: tuple[int, ...]) -> int:
    line, sub, above, eta, xi = shape
    return 2 * line + (sub + above) * (eta + xi)


RATIO_START = HEADER + _layer_size(JETS)
MAP_SIZE = RATIO_START + _layer_size(RATIO)
"""Length of a packed map."""
RATIO_LAYER = slice(RATIO_START, MAP_SIZE)
"""Part of a packed map that losses ahead of the jets decide; packed[4] = (Cd A)^2 is the rest."""

_TOP_SLOPE = float(state_pT(P_MAP_MAX, 182.34)[1] - RHO_L_TRIPLE) / P_MAP_MAX
_HOT = 1.15 / (R_SPECIFIC * T_MAX)  # density over pressure near T_MAX, inside the range


@jit
def _pressure(p_low, z, above):
    """Pressure, Pa, at coordinate z (0..1) below or above the critical point."""
    if above:
        return P_CRITICAL + (P_MAP_MAX - P_CRITICAL) * z * z
    return p_low + (P_CRITICAL - p_low) * 0.5 * (1.0 - math.cos(math.pi * z))


@jit
def _line_densities(p):
    """Density of the dense and of the light side's line at p [Pa], kg/m3."""
    if p >= P_CRITICAL:
        return RHO_CRITICAL, RHO_CRITICAL
    _p, rho_l, rho_v = sat_rho(sat_T(p))
    return rho_l, rho_v


@jit
def _side_density(p, line, y, dense):
    """Density, kg/m3, at the second coordinate y on one side of the line."""
    if dense:
        return line + max(RHO_L_TRIPLE + _TOP_SLOPE * p - line, 0.1) * y * y
    return line * (_HOT * p / line) ** (y * y)


@jit
def _side_coordinate(p, rho, line, dense):
    """Second coordinate (eta or xi) of a density on one side of the line."""
    if dense:
        y = (rho - line) / max(RHO_L_TRIPLE + _TOP_SLOPE * p - line, 0.1)
    else:
        y = math.log(rho / line) / math.log(_HOT * p / line)
    return math.sqrt(max(y, 0.0))


@jit
def _node(packed, elements, model, p, rho, line, ratio, guess):
    """Value of a layer at a node: F of the jets, or the squared flow ratio (ratio True).

    Returns (value, flow ratio): the second is the guess for the next node.
    """
    T = sat_T(p) if rho == line and p < P_CRITICAL else state_prho(p, rho)[0]
    if not (T > 0.0):
        return math.nan, guess
    st = state_Trho(T, rho)
    last = elements.shape[0] - 1
    share = elements[last, 2]
    high = elements[last, 1] * jet_flux(model, share, p, st[2], st[3], rho, T, packed[0])[0]
    if not ratio:
        return high * high / (rho * (p - packed[0])), guess
    mdot = balanced_flow(elements, model, high, guess * high, p, st[2], packed[0], _TOLERANCE)[0]
    return (mdot / high) ** 2, mdot / high


@jit
def fill_line(packed, first, n, dense, elements, model, ratio):
    """Tabulate a layer along the liquid (dense) or vapour line."""
    guess = 0.98
    for i in range(n):
        p = _pressure(packed[1], i / (n - 1.0), False)
        rho_l, rho_v = _line_densities(p)
        line = rho_l if dense else rho_v
        packed[first + i], guess = _node(packed, elements, model, p, line, line, ratio, guess)


@jit
def fill_row(packed, first, i, n, m, above, dense, elements, model, ratio):
    """Row ``i`` of n of a table that begins at ``first``: one pressure, m densities."""
    p = _pressure(packed[1], i / (n - 1.0), above)
    rho_l, rho_v = _line_densities(p)
    line = rho_l if dense else rho_v
    row = first + i * m
    reference, guess = _node(packed, elements, model, p, line, line, ratio, 0.98)
    if above:
        packed[row] = reference
        reference = 1.0
    else:
        packed[row] = 1.0
    for k in range(1, m):
        rho = _side_density(p, line, k / (m - 1.0), dense)
        value, guess = _node(packed, elements, model, p, rho, line, ratio, guess)
        if value > 0.0:
            packed[row + k] = value / reference
        else:
            # just outside the equation of state: carry on in a straight line
            packed[row + k] = 2.0 * packed[row + k - 1] - packed[row + k - 2]


@jit
def _fill_table(packed, first, n, m, above, dense, elements, model, ratio):
    """Tabulate a layer over (pressure, eta or xi), below p_c over the line's value; rows of m."""
    for i in range(n):
        fill_row(packed, first, i, n, m, above, dense, elements, model, ratio)


@jit
def _fill_layer(packed, start, shape, elements, model, ratio):
    """Tabulate one layer from ``start`` on."""
    line, sub, above, eta, xi = shape
    fill_line(packed, start, line, True, elements, model, ratio)
    start += line
    fill_line(packed, start, line, False, elements, model, ratio)
    start += line
    _fill_table(packed, start, sub, eta, False, True, elements, model, ratio)
    start += sub * eta
    _fill_table(packed, start, above, eta, True, True, elements, model, ratio)
    start += above * eta
    _fill_table(packed, start, sub, xi, False, False, elements, model, ratio)
    start += sub * xi
    _fill_table(packed, start, above, xi, True, False, elements, model, ratio)


@entry
def _fill_jets(packed, elements, model):
    """The jets' layer for an effective area of 1 m2."""
    _fill_layer(packed, HEADER, JETS, elements, model, False)


@entry
def _fill_losses(packed, elements, model):
    """The layer of flow ratios of a feed with losses."""
    _fill_layer(packed, RATIO_START, RATIO, elements, model, True)


def empty_map(model: int, p_back: float) -> NDArray[np.float64]:
    """Packed map with nothing but its header, for jets of 1 m2 without losses."""
    packed = np.zeros(MAP_SIZE)
    packed[:HEADER] = p_back, max(p_back, P_TRIPLE) * 1.0005, model, 0.0, 1.0
    return packed


def unit_jets(share: float) -> NDArray[np.float64]:
    """Elements of jets of 1 m2 alone; share: of what a short jet adds (short_jet.py)."""
    jets = np.zeros((1, 6))
    jets[0, 1] = 1.0
    jets[0, 2] = share
    return jets


@lru_cache(maxsize=32)
def _unit_map(model: int, share: float, p_back: float) -> NDArray[np.float64]:
    """Packed map of jets of 1 m2 without losses, shared by all feeds of a model, length and p_back.

    Two are solved for a model and back pressure, of the shortest and of the longest jets; flux is
    linear in the share, so that any other length is a mean of the two, node by node.
    """
    if model != HNE:
        share = 0.0
    packed = shipped_map(model, share, p_back)
    if packed is None and 0.0 < share < 1.0:
        packed = _mean_map(_unit_map(model, 0.0, p_back), _unit_map(model, 1.0, p_back), share)
    elif packed is None:
        packed = empty_map(model, p_back)
        _fill_jets(packed, unit_jets(share), model)
    packed.setflags(write=False)
    return packed


@cache
def _shipped() -> dict[str, NDArray[np.float64]]:
    with np.load(SHIPPED) as maps:
        return {name: maps[name] for name in maps.files}


def shipped_map(model: int, share: float, p_back: float) -> NDArray[np.float64] | None:
    """The map of jets of 1 m2 that comes with the package, where it holds this one.

    They are made by ``python -m n2osim.physics.make_flow_maps`` and compared in the tests.
    """
    if model == HNE and 0.0 < share < 1.0:
        ends = [shipped_map(model, end, p_back) for end in (0.0, 1.0)]
        return None if ends[0] is None or ends[1] is None else _mean_map(ends[0], ends[1], share)
    values = _shipped().get(shipped_name(model, share, p_back))
    if values is None:
        return None
    packed = empty_map(model, p_back)
    packed[HEADER:RATIO_START] = values
    return packed


def shipped_name(model: int, share: float, p_back: float) -> str:
    """What a map is called in the file."""
    return f"{model} {share if model == HNE else 0.0:g} {p_back!r}"


def _mean_map(
    long: NDArray[np.float64], short: NDArray[np.float64], share: float
) -> NDArray[np.float64]:
    """Jets' layer whose flux at every node is that of ``long`` and ``short`` weighed by share.

    F goes as the square of the flux; a table below the critical pressure holds ratios to its
    line, every third node of which stands at a row's pressure.
    """
    packed = long.copy()
    line, sub, above, eta, xi = JETS
    step = (line - 1) // (sub - 1)

    def mean(a: Any, b: Any) -> Any:
        return ((1.0 - share) * np.sqrt(a) + share * np.sqrt(b)) ** 2

    start = HEADER
    table = start + 2 * line
    for width in (eta, xi):
        lines = [m[start : start + line] for m in (long, short)]
        packed[start : start + line] = mean(*lines)
        rows = slice(table, table + sub * width)
        heights = [v[::step, None] for v in (*lines, packed[start : start + line])]
        values = [
            m[rows].reshape(sub, width) * height
            for m, height in zip((long, short), heights, strict=False)
        ]
        packed[rows] = (mean(*values) / heights[2]).ravel()
        rows = slice(rows.stop, rows.stop + above * width)
        packed[rows] = mean(long[rows], short[rows])
        start, table = start + line, rows.stop
    return packed


@jit
def _stencil(z, n, first):
    """First of four nodes around z (0..1 over n nodes, from ``first``) and the cubic's weights."""
    return four_nodes(min(max(z, 0.0), 1.0) * (n - 1), first, n)


@jit
def _on_line(packed, first, z, n):
    """Cubic interpolation in a line of n values."""
    i, a, b, c, d = _stencil(z, n, 0)
    k = first + i
    return a * packed[k] + b * packed[k + 1] + c * packed[k + 2] + d * packed[k + 3]


@jit
def in_table(packed, first, z, n, y, m, left):
    """Bicubic interpolation in a table of n rows of m values, from packed[first] on.

    left -1: values are even in y, beside y = 0 node -1 mirrors node 1; 0: they are not.
    """
    i, a, b, c, d = _stencil(z, n, 0)
    j, e, f, g, h = _stencil(y, m, left)
    mirror = 2 if j < 0 else 0
    total = 0.0
    for k in range(4):
        r = first + (i + k) * m + j
        w = a if k == 0 else (b if k == 1 else (c if k == 2 else d))
        row = e * packed[r + mirror] + f * packed[r + 1] + g * packed[r + 2] + h * packed[r + 3]
        total += w * row
    return total


@jit
def _layer(packed, start, shape, z, y, above, dense):
    """Value of a layer at the coordinates z, y on one side; y = 0 is the line.

    Values are smooth in density, hence in y^2.
    """
    line, sub, top, eta, xi = shape
    table = start + 2 * line
    if dense:
        if above:
            return in_table(packed, table + sub * eta, z, top, y, eta, -1)
        value = _on_line(packed, start, z, line)
        if y > 0.0:
            value *= in_table(packed, table, z, sub, y, eta, -1)
        return value
    table += (sub + top) * eta
    if above:
        return in_table(packed, table + sub * xi, z, top, y, xi, -1)
    value = _on_line(packed, start + line, z, line)
    if y > 0.0:
        value *= in_table(packed, table, z, sub, y, xi, -1)
    return value


@jit
def line_values(packed, z, ratio):
    """Values of a layer (the flow ratios', else the jets') on the liquid and the vapour line."""
    start = RATIO_START if ratio else HEADER
    line = RATIO[0] if ratio else JETS[0]
    return _on_line(packed, start, z, line), _on_line(packed, start + line, z, line)


@jit
def map_flow(packed, p, h, rho, phase):
    """Mass flow [kg/s] of a feed from its packed map.

    p [Pa] and rho [kg/m3] of what is drawn: liquid, vapour, supercritical, or one saturated side
    of a two-phase bottle. A mixture of both is not a state of the map: weigh the two flows. h and
    phase are not needed (rho tells the sides apart) and are kept for maps that need them.
    """
    if not (p > packed[0]):
        return 0.0
    q = min(max(p, packed[1]), P_MAP_MAX)
    above = q >= P_CRITICAL
    dense = rho >= RHO_CRITICAL
    if above:
        z = math.sqrt((q - P_CRITICAL) / (P_MAP_MAX - P_CRITICAL))
    else:
        z = math.acos(1.0 - 2.0 * (q - packed[1]) / (P_CRITICAL - packed[1])) / math.pi
    rho_l, rho_v = _line_densities(q)
    y = _side_coordinate(q, rho, rho_l if dense else rho_v, dense)
    F = _layer(packed, HEADER, JETS, z, y, above, dense)
    if packed[3] == 1.0:
        F *= _layer(packed, RATIO_START, RATIO, z, y, above, dense)
    return math.sqrt(max(F, 0.0) * packed[4] * rho * (p - packed[0]))


@dataclass(frozen=True)
class FlowMap:
    """A feed's packed map with what it was made from.

    packed: float64 (MAP_SIZE,), for the kernel map_flow; elements (n, 6); model; p_back Pa.
    """

    packed: NDArray[np.float64]
    elements: NDArray[np.float64]
    model: int
    p_back: float

    def flow(self, p: float, rho: float) -> float:
        """Mass flow, kg/s, from a state of pressure p [Pa] and density rho [kg/m3]."""
        return float(map_flow(self.packed, p, 0.0, rho, 0))


def build_flow_map(
    elements: NDArray[np.float64], p_back: float, model: int = DEFAULT_MODEL
) -> FlowMap:
    """Solve a feed over all bottle states: elements as in feed_chain.py, p_back [Pa] absolute.

    Raises RangeError for a back pressure the map cannot hold.
    """
    if not (0.0 <= p_back <= _P_BACK_MAX):
        raise RangeError(
            "back pressure",
            p_back,
            "Pa",
            f"0 to {_P_BACK_MAX:.4g} Pa",
            "give the absolute pressure at the jets' outlet",
        )
    chain = np.ascontiguousarray(elements, dtype=np.float64).reshape(-1, 6)
    packed = _unit_map(int(model), float(chain[-1, 2]), float(p_back)).copy()
    packed[4] = chain[-1, 1] ** 2
    if len(chain) > 1:
        packed[3] = 1.0
        _fill_losses(packed, chain, int(model))
    return FlowMap(packed, chain, int(model), float(p_back))


def packed_map(feed: Any, p_back: float) -> NDArray[np.float64]:
    """Packed map of a :class:`n2osim.hardware.feed.Feed` for an absolute back pressure, Pa."""
    return build_flow_map(feed_elements(feed), p_back, MODELS[feed.model].index).packed
