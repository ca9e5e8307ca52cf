"""Liquid in a cylinder against numeric integration of the same solid (no closed forms shared)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate

from n2osim.hardware import geometry as g

D, LENGTH = 0.16, 0.42


def _segment_by_quadrature(level: float, diameter: float) -> float:
    """Area below ``level`` of a circle: integral of its chord (z = q^2 removes the root at 0)."""

    def chord(q: float) -> float:
        return 2 * math.sqrt(max(0.0, q * q * (diameter - q * q))) * 2 * q

    return integrate.quad(chord, 0, math.sqrt(level), epsabs=0, epsrel=1e-11)[0]


def liquid_level(fraction):
    """Height (m) of the liquid in a lying bottle."""
    return 0.5 * D * (1.0 - math.cos(0.5 * g.segment_angle(fraction)))


@pytest.mark.parametrize("fraction", [1e-9, 1e-4, 0.02, 0.1, 0.37, 0.5, 0.63, 0.9, 0.999])
def test_lying_level_holds_the_fraction(fraction):
    level = liquid_level(fraction)
    held = _segment_by_quadrature(level, D) / (math.pi * D * D / 4)
    assert held == pytest.approx(fraction, rel=1e-6)


@pytest.mark.parametrize("fraction", [0.01, 0.2, 0.5, 0.77, 0.99])
def test_lying_wetted_area_and_surface_by_counting(fraction):
    level = liquid_level(fraction)
    angle = (np.arange(400_000) + 0.5) / 400_000 * 2 * np.pi
    below = np.mean(D / 2 * (1 - np.cos(angle)) <= level)  # share of the rim below the level
    ends = _segment_by_quadrature(level, D)
    area = math.pi * D * LENGTH + math.pi * D * D / 2
    wet = (below * math.pi * D * LENGTH + 2 * ends) / area
    assert g.wetted_fraction(fraction, D, LENGTH, 0) == pytest.approx(wet, abs=1e-5)
    chord = 2 * math.sqrt((D / 2) ** 2 - (D / 2 - level) ** 2)
    assert g.free_surface_area(fraction, D, LENGTH, 0) == pytest.approx(chord * LENGTH, rel=1e-9)


def test_standing():
    side, end = math.pi * D * LENGTH, math.pi * D * D / 4
    assert g.wetted_fraction(0.5, D, LENGTH, 1) == pytest.approx(
        (0.5 * side + end) / (side + 2 * end)
    )
    assert g.free_surface_area(0.5, D, LENGTH, 1) == pytest.approx(end)


@pytest.mark.parametrize("standing", [0, 1])
def test_wetted_fraction_is_continuous_and_runs_from_0_to_1(standing):
    f = np.linspace(0.0, 1.0, 20_001)
    wet = np.array([g.wetted_fraction(x, D, LENGTH, standing) for x in f])
    assert wet[0] == 0.0
    assert wet[-1] == pytest.approx(1.0, abs=1e-12)
    steps = np.diff(wet)
    assert (steps > 0.0).all()
    assert steps.max() < 0.03  # the lying curve starts as the cube root of the fraction
    assert g.wetted_fraction(-0.1, D, LENGTH, standing) == 0.0
    assert g.wetted_fraction(1.1, D, LENGTH, standing) == pytest.approx(1.0)


def _stranded_by_counting(tilt, acceleration, along, height, n=160):
    """Share of the cells of a cylinder that lie below the plane through the pick-up."""
    x = (np.arange(n) + 0.5) / n * LENGTH
    y = (np.arange(n) + 0.5) / n * D
    z = (np.arange(n) + 0.5) / n * D - D / 2
    X, Y, Z = np.meshgrid(x, y, z, indexing="ij", sparse=True)
    inside = (Y - D / 2) ** 2 + Z**2 <= (D / 2) ** 2
    # bottle axes: x to the rear, y up from the lowest line; car axes: gravity and inertia
    gx = 9.80665 * math.sin(tilt) + acceleration * math.cos(tilt)
    gy = -9.80665 * math.cos(tilt) + acceleration * math.sin(tilt)
    depth = gx * X + gy * Y
    at_pickup = gx * along * LENGTH + gy * height * D
    below = (depth > at_pickup) & inside
    return below.sum() / (inside.sum() * n)


@pytest.mark.parametrize("tilt_deg", [-20.0, 0.0, 3.0, 10.0, 45.0, 89.0, 120.0])
@pytest.mark.parametrize("acceleration", [-9.0, 0.0, 4.0, 15.0])
@pytest.mark.parametrize("pickup", [(0.95, 0.05), (0.5, 0.5), (0.02, 0.1)])
def test_stranded_fraction_by_counting_cells(tilt_deg, acceleration, pickup):
    tilt = math.radians(tilt_deg)
    expected = _stranded_by_counting(tilt, acceleration, *pickup)
    found = g.stranded_fraction(D, LENGTH, tilt, acceleration, *pickup)
    assert found == pytest.approx(expected, abs=6e-3)
    assert -1e-12 <= found <= 1.0 + 1e-12


def test_stranded_limits():
    # pick-up in the lowest rear corner, rear low: nothing stays behind
    assert g.stranded_fraction(D, LENGTH, 0.1, 5.0, 1.0, 0.0) == pytest.approx(0.0, abs=1e-12)
    # level, at rest: the share below the height of the pick-up, by quadrature
    share = _segment_by_quadrature(0.2 * D, D) / (math.pi * D * D / 4)
    assert g.stranded_fraction(D, LENGTH, 0.0, 0.0, 0.9, 0.2) == pytest.approx(share, rel=1e-9)
    # continuous through zero slope
    near = g.stranded_fraction(D, LENGTH, 1e-5, 0.0, 0.9, 0.2)
    assert near == pytest.approx(share, rel=1e-3)
    # standing on the rear end: what lies under the pick-up
    assert g.stranded_fraction(D, LENGTH, math.pi / 2, 0.0, 0.97, 0.3) == pytest.approx(0.03)
    # hard launch with the pick-up at the rear strands little, at the front nearly everything
    assert g.stranded_fraction(D, LENGTH, 0.0, 20.0, 0.98, 0.05) < 0.05
    assert g.stranded_fraction(D, LENGTH, 0.0, 20.0, 0.02, 0.05) > 0.8
