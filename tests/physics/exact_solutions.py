"""Exact solutions of the heat equation, for tests only (numpy and scipy, nothing of n2osim).

theta = (T - T_inf)/(T_initial - T_inf) throughout; Fo and Bi on the half thickness or radius.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
from scipy.linalg import solve
from scipy.optimize import brentq
from scipy.special import erf, erfc, j0, j1, jn_zeros


def _roots(f: Callable[[float], float], edges: np.ndarray) -> np.ndarray:
    return np.array([brentq(f, a, b, xtol=1e-14) for a, b in pairwise(edges)])


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


def _cylinder_roots(Bi: float, terms: int) -> np.ndarray:
    edges = np.concatenate([[1e-9], jn_zeros(1, terms)])  # one root between zeros of J1
    return _roots(lambda z: z * j1(z) - Bi * j0(z), edges)


def cylinder(Bi: float, Fo: float, r: float, terms: int = 40) -> float:
    """Infinite solid cylinder of radius 1 with surface convection (Incropera 5.50)."""
    z = _cylinder_roots(Bi, terms)
    c = 2.0 * j1(z) / (z * (j0(z) ** 2 + j1(z) ** 2))
    return float(np.sum(c * np.exp(-(z**2) * Fo) * j0(z * r)))


def cylinder_mean(Bi: float, Fo: float, terms: int = 40) -> float:
    """Mean theta of the solid cylinder."""
    z = _cylinder_roots(Bi, terms)
    c = 2.0 * j1(z) / (z * (j0(z) ** 2 + j1(z) ** 2))
    return float(np.sum(c * np.exp(-(z**2) * Fo) * 2.0 * j1(z) / z))


def sphere(Bi: float, Fo: float, r: float, terms: int = 40) -> float:
    """Sphere of radius 1 with surface convection, r > 0 (Incropera 5.51)."""
    edges = np.pi * np.arange(terms + 1)
    edges[0] = 1e-9
    z = _roots(lambda x: (1.0 - Bi) * np.sin(x) - x * np.cos(x), edges)
    c = 4.0 * (np.sin(z) - z * np.cos(z)) / (2.0 * z - np.sin(2.0 * z))
    return float(np.sum(c * np.exp(-(z**2) * Fo) * np.sin(z * r) / (z * r)))


def semi_infinite_surface(x: float, alpha: float, t: float) -> float:
    """(T - T_s)/(T_i - T_s) after a step of the surface temperature (Incropera 5.57)."""
    return float(erf(x / (2.0 * math.sqrt(alpha * t))))


def semi_infinite_flux(flux: float, x: float, alpha: float, k: float, t: float) -> float:
    """T - T_i under a constant surface flux (Incropera 5.59)."""
    depth = x / (2.0 * math.sqrt(alpha * t))
    rise = 2.0 * flux / k * math.sqrt(alpha * t / math.pi) * math.exp(-(depth**2))
    return rise - flux * x / k * float(erfc(depth))


def semi_infinite_convection(h: float, x: float, alpha: float, k: float, t: float) -> float:
    """(T - T_i)/(T_inf - T_i) under convection (Incropera 5.60)."""
    root = math.sqrt(alpha * t)
    depth = x / (2.0 * root)
    lag = math.exp(h * x / k + h * h * alpha * t / k**2) * erfc(depth + h * root / k)
    return float(erfc(depth) - lag)


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


def multilayer_cylinder(
    radii: list[float], k: list[float], h_in: float, T_in: float, h_out: float, T_out: float
) -> tuple[float, np.ndarray]:
    """Steady flow per length (W/m, inside to outside) and temperatures at the radii.

    Laplace's equation with T = a + b ln r in every layer; a and b of all layers from one linear
    system (convection at both faces, temperature and flux continuous), no resistances summed.
    """
    n = len(k)
    matrix = np.zeros((2 * n, 2 * n))
    right = np.zeros(2 * n)
    matrix[0, :2] = h_in, h_in * math.log(radii[0]) - k[0] / radii[0]
    right[0] = h_in * T_in
    for i in range(n - 1):
        log = math.log(radii[i + 1])
        matrix[2 * i + 1, 2 * i : 2 * i + 4] = 1.0, log, -1.0, -log
        matrix[2 * i + 2, 2 * i : 2 * i + 4] = 0.0, k[i], 0.0, -k[i + 1]
    matrix[-1, -2:] = h_out, h_out * math.log(radii[-1]) + k[-1] / radii[-1]
    right[-1] = h_out * T_out
    solution = solve(matrix, right)
    a, b = solution[::2], solution[1::2]
    layer = [*range(n), n - 1]
    faces = np.array([a[j] + b[j] * math.log(r) for j, r in zip(layer, radii)])
    return -2.0 * math.pi * k[0] * b[0], faces


def two_part_ring(
    kt: float, half_c: float, half_b: float, h_c: float, h_b: float, q_c: float, q_b: float
) -> tuple[float, float, float]:
    """Mean excess temperatures of two strips joined at their edges, and flow between them (W/m).

    Each strip: kt T'' = h T - q (excess over one surroundings), T' = 0 on its mid-line. One edge
    of two; flow counts from the first (covered) to the second (bare) strip.
    """
    m_c, m_b = math.sqrt(h_c / kt), math.sqrt(h_b / kt)
    far_c, far_b = q_c / h_c, q_b / h_b
    y_c, y_b = (kt * m * math.tanh(m * s) for m, s in ((m_c, half_c), (m_b, half_b)))
    edge = (y_c * far_c + y_b * far_b) / (y_c + y_b)
    flow = y_c * (far_c - edge)
    mean_c = far_c + (edge - far_c) * math.tanh(m_c * half_c) / (m_c * half_c)
    mean_b = far_b + (edge - far_b) * math.tanh(m_b * half_b) / (m_b * half_b)
    return mean_c, mean_b, flow
