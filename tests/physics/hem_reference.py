"""Homogeneous-equilibrium flux of any CoolProp fluid by brute force: the tests' independent twin.

Maximises rho sqrt(2 (h0 - h)) along the isentrope on a grid in pressure, refined around the best
point. Checked itself on published helium, carbon dioxide and propane cases (test_orifice.py).
"""

from __future__ import annotations

import functools

import CoolProp.CoolProp as CP
import numpy as np


@functools.cache
def fluid(name: str = "NitrousOxide") -> CP.AbstractState:
    return CP.AbstractState("HEOS", name)


def flux_at(state: CP.AbstractState, p: float, h0: float, s0: float) -> float:
    state.update(CP.PSmass_INPUTS, p, s0)
    return state.rhomass() * np.sqrt(max(0.0, 2.0 * (h0 - state.hmass())))


def hem_flux(
    p0: float, h0: float, s0: float, p_back: float, name: str = "NitrousOxide", points: int = 120
) -> tuple[float, float]:
    """(largest flux kg/m2/s, its pressure Pa) for throat pressures from p_back to p0."""
    state = fluid(name)
    grid = np.geomspace(p_back, p0, points)
    for _ in range(5):
        flux = np.array([flux_at(state, p, h0, s0) for p in grid])
        i = int(flux.argmax())
        low, high = grid[max(i - 1, 0)], grid[min(i + 1, len(grid) - 1)]
        grid = np.linspace(low, high, 21)
    return float(flux[i]), float(grid[10] if 0 < i < 20 else grid[i])
