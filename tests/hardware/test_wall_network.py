"""The wall network against exact conduction: layered tube, strip exchange, totals."""

from __future__ import annotations

import math

import numpy as np
import pytest

from n2osim.errors import N2OSimError
from n2osim.hardware import Bottle, Layer
from n2osim.hardware.wall import wall_network

SHELLS = ("aluminium", "steel", "carbon-aluminium", "carbon-polymer")


@pytest.mark.parametrize("coverage", [0.0, 0.2, 0.5, 0.9, 1.0])
@pytest.mark.parametrize("nodes", [1, 3, 8, "list"])
@pytest.mark.parametrize("shell", SHELLS)
def test_totals(shell, nodes, coverage):
    b = Bottle.preset(shell, "12 lb")
    counts = [2 + i for i in range(len(b.layers))] if nodes == "list" else nodes
    w = b.wall_network(counts, coverage)
    assert w.heat_capacity == pytest.approx(b.heat_capacity, rel=1e-12)
    assert w.covered.inner_area + w.bare.inner_area == pytest.approx(b.inner_area, rel=1e-12)
    assert w.covered.outer_area + w.bare.outer_area == pytest.approx(b.outer_area, rel=1e-12)
    n = len(w.radii)
    for part in (w.covered, w.bare):
        assert part.capacity.shape == (n,)
        assert part.conductance.shape == (n - 1,)
        assert (part.capacity > 0.0).all()
        assert (part.conductance > 0.0).all()
    assert w.cross.shape == w.layer.shape == (n,)
    assert (np.diff(w.radii) > 0.0).all()
    assert (np.diff(w.layer) >= 0).all()


@pytest.mark.parametrize("nodes", [1, 2, 7])
def test_steady_flux_through_layers_is_exact(nodes):
    # Incropera, radial conduction in a composite tube: R = sum ln(r2/r1) / (2 pi k L)
    layers = (Layer("6061-T6", 2.5e-3), Layer("carbon-epoxy", 4e-3), Layer("foam", 10e-3))
    b = Bottle("tube", math.pi / 4 * 0.16**2 * 0.4, 0.16, layers, end_depth=0.0)
    length = b.inner_area / (math.pi * 0.16)
    radius, resistance = 0.08, 0.0
    for x in layers:
        resistance += math.log(1 + x.thickness / radius) / (
            2 * math.pi * x.material.k_radial * length
        )
        radius += x.thickness
    w = wall_network(b, nodes, 0.3)
    for part, share in ((w.covered, 0.3), (w.bare, 0.7)):
        chain = (
            1 / part.inner_conductance + 1 / part.outer_conductance + (1 / part.conductance).sum()
        )
        assert chain == pytest.approx(resistance / share, rel=1e-12)


@pytest.mark.parametrize("coverage", [0.1, 0.5, 0.8])
def test_strip_exchange_against_a_fine_ring(coverage):
    """A ring of 4000 cells, fed evenly under the heater and drained evenly elsewhere, steady."""
    b = Bottle.preset("aluminium", "12 lb")
    w = b.wall_network(1, coverage)
    n, r = 4000, w.radii[0]
    ring = b.layers[0].material.k_inplane * b.wall * (b.inner_area / (math.pi * b.inner_diameter))
    g = ring / (2 * math.pi * r / n)  # W/K between neighbouring cells
    covered = np.arange(n) < round(coverage * n)
    source = np.where(covered, 1.0 / covered.sum(), -1.0 / (~covered).sum())  # 1 W in, 1 W out
    flow = np.cumsum(source)  # through the face after each cell, up to a constant
    flow -= flow.mean()  # the ring closes: temperature differences sum to zero
    temperature = -np.concatenate([[0.0], np.cumsum(flow[:-1] / g)])
    difference = temperature[covered].mean() - temperature[~covered].mean()
    assert w.cross[0] * difference == pytest.approx(1.0, rel=1e-5)


def test_lumped_wall_has_no_gradients_to_speak_of():
    w = Bottle.lumped("7 L", 20e3, 0.25).wall_network(1, 0.5)
    # 300 W through half the wall: below a millikelvin in any direction
    for conductance in (w.covered.inner_conductance, w.covered.outer_conductance, w.cross[0]):
        assert 300.0 / conductance < 1e-3
    assert w.covered.capacity[0] + w.bare.capacity[0] == pytest.approx(20e3, rel=1e-12)


def test_ends_and_neck_sit_on_the_bare_side():
    b = Bottle.preset("aluminium", "12 lb")
    w = b.wall_network(4, 0.5)
    extra = w.bare.capacity.sum() - w.covered.capacity.sum()
    assert extra > b.extra_heat_capacity
    length = b.inner_area / (math.pi * b.inner_diameter)
    tube = math.pi / 4 * (b.outer_diameter**2 - b.inner_diameter**2) * length * 2700.0 * 900.0
    assert 2 * w.covered.capacity.sum() == pytest.approx(tube, rel=1e-12)


def test_refusals():
    b = Bottle.preset("carbon-polymer", "12 lb")
    for nodes in (0, -1, [1, 2], [1, 2, 0]):
        with pytest.raises(N2OSimError, match="nodes per layer"):
            b.wall_network(nodes, 0.5)
    with pytest.raises(N2OSimError, match="coverage"):
        b.wall_network(4, 1.5)
