"""The shell as a thermal network: radial chains of nodes, one under the heater and one bare.

For a cylinder of layers, each cut into equal slices, the network holds what the integrator
needs as plain arrays. Radial resistances are those of the cylinder, ``ln(r2/r1) / (2 pi k L)``
(Incropera, one-dimensional conduction in a tube), with the effective length ``L`` chosen so that
the inside area includes the ends. What the cylinder does not count (thicker ends, neck, valve)
is added as heat capacity to bare nodes, so that the network's total is the bottle's own. Where
the cylinder counts too much (areas given by the user), every node of the layer gives its share.

Covered and bare side exchange heat along the shell. For a strip fed evenly over its half-width
``a`` and drained at its edge, the mean stands ``q a / (3 k t L)`` over the edge (quasi-steady
parabola), so the exchange between the two means over the two edges is
``2 k t L / (a_covered / 3 + a_bare / 3)``, with half-arcs ``a`` of the node's circle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from n2osim.errors import InputError
from n2osim.units import parse

if TYPE_CHECKING:
    from n2osim.hardware.bottle import Bottle

LEAST_COVERAGE = 1e-3


@dataclass(frozen=True)
class WallPart:
    """One radial chain, inside to outside.

    capacity (n,) J/K; conductance (n-1,) W/K between neighbours; inner_conductance and
    outer_conductance W/K of the half slices at the two faces; inner_area, outer_area m2.
    """

    capacity: np.ndarray
    conductance: np.ndarray
    inner_conductance: float
    outer_conductance: float
    inner_area: float
    outer_area: float


@dataclass(frozen=True)
class WallNetwork:
    """Both chains of a shell.

    cross (n,) W/K between covered and bare node of the same radius; radii (n,) m of the nodes;
    layer (n,) index of the node's layer; coverage as used.
    """

    covered: WallPart
    bare: WallPart
    cross: np.ndarray
    radii: np.ndarray
    layer: np.ndarray
    coverage: float

    @property
    def heat_capacity(self) -> float:
        """Sum over all nodes, J/K; equals ``Bottle.heat_capacity``."""
        return float(self.covered.capacity.sum() + self.bare.capacity.sum())


def _counts(nodes_per_layer: int | Sequence[int], layers: int) -> list[int]:
    counts = [nodes_per_layer] * layers if isinstance(nodes_per_layer, int) else nodes_per_layer
    counts = [int(c) for c in counts]
    if len(counts) != layers or min(counts) < 1:
        raise InputError(
            "nodes per layer",
            nodes_per_layer,
            "",
            f"a whole number from 1, or {layers} of them",
            "",
        )
    return counts


@dataclass(frozen=True)
class _Slices:
    """Concentric slices: faces and mid radii, properties per slice."""

    inner: np.ndarray
    outer: np.ndarray
    k: np.ndarray
    k_inplane: np.ndarray
    heat: np.ndarray  # density * cp, J/m3/K
    layer: np.ndarray

    @property
    def middle(self) -> np.ndarray:
        return 0.5 * (self.inner + self.outer)


def _slices(bottle: Bottle, counts: list[int]) -> _Slices:
    inner, outer, k, k_inplane, heat, layer = [], [], [], [], [], []
    radius = 0.5 * bottle.inner_diameter
    for index, (part, count) in enumerate(zip(bottle.layers, counts)):
        faces = np.linspace(radius, radius + part.thickness, count + 1)
        inner.append(faces[:-1])
        outer.append(faces[1:])
        m = part.material
        k.append(np.full(count, m.k_radial))
        k_inplane.append(np.full(count, m.k_inplane))
        heat.append(np.full(count, m.density * m.cp))
        layer.append(np.full(count, index))
        radius += part.thickness
    return _Slices(*(np.concatenate(x) for x in (inner, outer, k, k_inplane, heat, layer)))


def _part(bottle: Bottle, s: _Slices, length: float, share: float) -> WallPart:
    half_in = np.log(s.middle / s.inner) / (2.0 * np.pi * s.k * length)
    half_out = np.log(s.outer / s.middle) / (2.0 * np.pi * s.k * length)
    return WallPart(
        capacity=share * s.heat * np.pi * (s.outer**2 - s.inner**2) * length,
        conductance=share / (half_out[:-1] + half_in[1:]),
        inner_conductance=float(share / half_in[0]),
        outer_conductance=float(share / half_out[-1]),
        inner_area=share * bottle.inner_area,
        outer_area=share * bottle.outer_area,
    )


def _ends_and_neck(bottle: Bottle, s: _Slices, length: float) -> np.ndarray:
    """Heat capacity per slice that the cylinder of ``length`` lacks: thick ends, neck, valve.

    Negative where the cylinder has more than the layer.
    """
    cylinder = s.heat * np.pi * (s.outer**2 - s.inner**2) * length
    extra = np.zeros_like(cylinder)
    for index, whole in enumerate(bottle.layer_heat_capacities):
        here = s.layer == index
        extra[here] = cylinder[here] * (whole / cylinder[here].sum() - 1.0)
    first = s.layer == 0
    extra[first] += bottle.extra_heat_capacity * cylinder[first] / cylinder[first].sum()
    return extra


def _cross(s: _Slices, length: float, coverage: float) -> np.ndarray:
    half_circle = np.pi * s.middle
    # A third of both half-arcs: together they are half the circle, whatever the coverage.
    distance = half_circle * (coverage + (1.0 - coverage)) / 3.0
    return s.k_inplane * (s.outer - s.inner) * length * 2.0 / distance


def wall_network(
    bottle: Bottle, nodes_per_layer: int | Sequence[int] = 4, coverage: float = 0.5
) -> WallNetwork:
    """Network of ``bottle`` for a heater covering the fraction ``coverage`` of its surface.

    ``coverage`` of 0 or 1 is taken as 0.001 or 0.999, so that both chains exist.
    """
    coverage = parse(coverage, "fraction", name="coverage", low=0.0, high=1.0)
    coverage = min(1.0 - LEAST_COVERAGE, max(LEAST_COVERAGE, coverage))
    s = _slices(bottle, _counts(nodes_per_layer, len(bottle.layers)))
    length = bottle.inner_area / (np.pi * bottle.inner_diameter)
    covered = _part(bottle, s, length, coverage)
    bare = _part(bottle, s, length, 1.0 - coverage)
    extra = _ends_and_neck(bottle, s, length)
    missing, surplus = np.maximum(extra, 0.0), np.minimum(extra, 0.0)
    bare.capacity[:] += missing + (1.0 - coverage) * surplus
    covered.capacity[:] += coverage * surplus
    return WallNetwork(covered, bare, _cross(s, length, coverage), s.middle, s.layer, coverage)
