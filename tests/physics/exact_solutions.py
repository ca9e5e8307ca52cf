"""Exact solutions of the heat equation, for tests only (numpy and scipy, nothing of n2osim).

theta = (T - T_inf)/(T_initial - T_inf) throughout; Fo and Bi on the half thickness or radius.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq


def plane_wall(Bi: float, Fo: float, x: float, terms: int = 60) -> float:
    """Plane wall of half thickness 1, insulated at x = 0, convection at x = 1 (Incropera ch. 5)."""
    pairs = [(k * np.pi, k * np.pi + 0.5 * np.pi) for k in range(terms)]
    zeta = np.array([brentq(lambda z: z * np.sin(z) - Bi * np.cos(z), a, b) for a, b in pairs])
    c = 4.0 * np.sin(zeta) / (2.0 * zeta + np.sin(2.0 * zeta))
    return float(np.sum(c * np.exp(-(zeta**2) * Fo) * np.cos(zeta * x)))


def plane_wall_mean(Bi: float, Fo: float, terms: int = 60) -> float:
    """Mean theta of the plane wall; 1 - mean is the share of the heat given off."""
    pairs = [(k * np.pi, k * np.pi + 0.5 * np.pi) for k in range(terms)]
    zeta = np.array([brentq(lambda z: z * np.sin(z) - Bi * np.cos(z), a, b) for a, b in pairs])
    c = 4.0 * np.sin(zeta) / (2.0 * zeta + np.sin(2.0 * zeta))
    return float(np.sum(c * np.exp(-(zeta**2) * Fo) * np.sin(zeta) / zeta))


def two_layer_slab(
    layers: tuple[tuple[float, float, float, float], tuple[float, float, float, float]],
    h: float,
    t: float,
    x: float,
    terms: int = 60,
) -> float:
    """theta at depth x of two layers (thickness, k, rho, cp), insulated inside, convection outside.

    Eigenfunctions cos(a1 x) in the first layer, A cos + B sin (from continuity of temperature
    and flux) in the second, orthogonal with weight rho cp.
    """
    (l1, k1, d1, c1), (l2, k2, d2, c2) = layers
    r1, r2 = math.sqrt(d1 * c1 / k1), math.sqrt(d2 * c2 / k2)  # 1/sqrt(diffusivity)

    def shape(w: float) -> tuple[float, float, float, float]:
        a, b = w * r1, w * r2
        return a, b, math.cos(a * l1), -k1 * a * math.sin(a * l1) / (k2 * b)

    def mismatch(w: float) -> float:
        _, b, cos_part, sin_part = shape(w)
        end = cos_part * math.cos(b * l2) + sin_part * math.sin(b * l2)
        slope = b * (sin_part * math.cos(b * l2) - cos_part * math.sin(b * l2))
        return k2 * slope + h * end

    total = 0.0
    for w in _eigenvalues(mismatch, r1 * l1 + r2 * l2, terms):
        a, b, cos_part, sin_part = shape(w)
        s2, c2b = math.sin(2 * b * l2), math.cos(2 * b * l2)
        norm1 = 0.5 * l1 + math.sin(2 * a * l1) / (4 * a)
        norm2 = cos_part**2 * (0.5 * l2 + s2 / (4 * b)) + sin_part**2 * (0.5 * l2 - s2 / (4 * b))
        norm2 += cos_part * sin_part * (1 - c2b) / (2 * b)
        mean1 = math.sin(a * l1) / a
        mean2 = (cos_part * math.sin(b * l2) + sin_part * (1 - math.cos(b * l2))) / b
        c = (d1 * c1 * mean1 + d2 * c2 * mean2) / (d1 * c1 * norm1 + d2 * c2 * norm2)
        y = x - l1
        here = (
            math.cos(a * x) if y <= 0 else cos_part * math.cos(b * y) + sin_part * math.sin(b * y)
        )
        total += c * math.exp(-w * w * t) * here
    return total


def _eigenvalues(f: Callable[[float], float], scale: float, terms: int) -> list[float]:
    """First roots of f(w) for w > 0, bracketed on a grid 40 times finer than their mean spacing."""
    step = math.pi / scale / 40.0
    found: list[float] = []
    low = step * 1e-3
    while len(found) < terms:
        high = low + step
        if f(low) * f(high) < 0.0:
            found.append(brentq(f, low, high, xtol=1e-16, rtol=1e-14))
        low = high
    return found
