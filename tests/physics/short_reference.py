"""The default orifice model for any CoolProp fluid: the tests' independent twin of orifice.py.

Written from the model's description, not from its kernels: along an isentrope inside the dome the
stream is integrated by the trapezium rule on a fine grid of temperatures, and the metastable
liquid is followed on CoolProp's own single-phase surface. Nitrous oxide through this code must
agree with the kernels; nitrogen and refrigerants through it meet measurements.
"""

from __future__ import annotations

import functools
import math
from typing import NamedTuple

import CoolProp
import CoolProp.CoolProp as CP
import numpy as np
from scipy.optimize import brentq

BOLTZMANN, AVOGADRO = 1.380649e-23, 6.02214076e23


class Line(NamedTuple):
    """Saturation line at falling temperatures: arrays, SI."""

    T: np.ndarray
    p: np.ndarray
    rho_l: np.ndarray
    rho_v: np.ndarray
    h_l: np.ndarray
    h_v: np.ndarray
    s_l: np.ndarray
    s_v: np.ndarray


@functools.cache
def fluid(name: str) -> CP.AbstractState:
    return CP.AbstractState("HEOS", name)


def saturation(name: str, T: float) -> tuple[float, ...]:
    """(p, rho_l, rho_v, h_l, h_v, s_l, s_v) at T, SI."""
    s = fluid(name)
    s.update(CoolProp.QT_INPUTS, 0.0, T)
    p, rho_l, h_l, s_l = s.p(), s.rhomass(), s.hmass(), s.smass()
    s.update(CoolProp.QT_INPUTS, 1.0, T)
    return p, rho_l, s.rhomass(), h_l, s.hmass(), s_l, s.smass()


def entry_temperature(name: str, s0: float, T0: float) -> float:
    """Temperature at which a liquid's isentrope meets the saturation line."""
    s = fluid(name)
    top = min(T0 + 5.0, s.T_critical() - 1e-4)
    return brentq(lambda T: saturation(name, T)[5] - s0, s.Ttriple() + 1.0, top, xtol=1e-8)


@functools.cache
def delayed_flux(
    name: str, T_in: float, h0: float, s0: float, p_back: float, exponent: float, points: int = 400
) -> float:
    """Largest flux of a stream that boils with delay, from where it enters the dome; kg/m2/s."""
    low = brentq(
        lambda T: saturation(name, T)[0] - p_back, fluid(name).Ttriple() + 1e-3, T_in, xtol=1e-6
    )
    T = T_in - (T_in - low) * np.linspace(0.0, 1.0, points) ** 2
    line = Line(T, *np.array([saturation(name, t) for t in T]).T)
    x = np.clip((s0 - line.s_l) / (line.s_v - line.s_l), 0.0, 1.0)
    v_e = (1 - x) / line.rho_l + x / line.rho_v
    n = exponent * (1.0 - line.rho_v[0] / line.rho_l[0])
    N = x**n if n > 0.0 else np.ones_like(x)
    v = N * v_e + (1.0 - N) / line.rho_l[0]
    work = np.concatenate([[0.0], np.cumsum(0.5 * (v[1:] + v[:-1]) * -np.diff(line.p))])
    energy = h0 - (line.h_l[0] + x[0] * (line.h_v[0] - line.h_l[0])) + work
    return float(np.max(np.sqrt(2.0 * np.maximum(energy, 0.0)) / v))


# --- the metastable liquid of a short jet -------------------------------------------------------
DEPTH, FADE_FROM, FADE_TO, RATE, ROUND = 0.35, 1.2, 2.2, 1e12, 0.03


def nucleation_pressure(name: str, T: float) -> float:
    """Pressure at which metastable liquid at T boils by itself: classical nucleation theory."""
    p, rho_l, rho_v, *_ = saturation(name, T)
    sigma = CP.PropsSI("I", "T", T, "Q", 0, name)
    m = fluid(name).molar_mass() / AVOGADRO
    attempts = rho_l / m * math.sqrt(2.0 * sigma / (math.pi * m))
    dp = math.sqrt(16 * math.pi * sigma**3 / (3 * BOLTZMANN * T * math.log(attempts / RATE)))
    return p - dp / (1.0 - rho_v / rho_l)


def liquid(name: str, p: float, s0: float, T: float, rho: float) -> tuple[float, float, float]:
    """(T, rho, h) of liquid of entropy s0 at p, stable or not: Newton in T and rho from a guess."""
    s = fluid(name)
    s.specify_phase(CoolProp.iphase_liquid)
    try:
        for _ in range(80):
            s.update(CoolProp.DmassT_INPUTS, rho, T)
            (a, b), (c, d) = (
                (
                    s.first_partial_deriv(of, CoolProp.iT, CoolProp.iDmass),
                    s.first_partial_deriv(of, CoolProp.iDmass, CoolProp.iT),
                )
                for of in (CoolProp.iP, CoolProp.iSmass)
            )
            dT, drho = np.linalg.solve([[a, b], [c, d]], [p - s.p(), s0 - s.smass()])
            shorter = min(1.0, 0.03 * rho / max(abs(drho), 1e-300))
            T, rho = T + shorter * dT, rho + shorter * drho
            if abs(drho) < 1e-9 * rho:
                break
        return T, rho, s.hmass()
    finally:
        s.unspecify_phase()


def rounded(excess: float) -> float:
    return 0.0 if excess <= 0.0 else excess**2 / math.sqrt(excess**2 + ROUND**2)


@functools.cache
def metastable_flux(name: str, p0: float, h0: float, s0: float, T_in: float) -> float:
    """Flux of liquid that stays liquid down to where it must boil, kg/m2/s; low back pressure."""
    p_in, rho_in, *_ = saturation(name, T_in)
    z = min(max((p0 / p_in - FADE_FROM) / (FADE_TO - FADE_FROM), 0.0), 1.0)
    depth = DEPTH * (1.0 - z * z * (3.0 - 2.0 * z))
    if depth < 1e-6 or T_in > 0.9995 * fluid(name).T_critical():
        return 0.0
    floor = (1.0 - depth) * p_in
    T, rho, above = T_in, rho_in, p_in
    stop = floor
    for p in np.linspace(p_in, floor, 60)[1:]:
        T, rho, _h = liquid(name, p, s0, T, rho)
        if p < nucleation_pressure(name, T):
            start = T, rho

            def excess(p: float, start: tuple[float, float] = start) -> float:
                return p - nucleation_pressure(name, liquid(name, p, s0, *start)[0])

            stop = floor + p_in * rounded((brentq(excess, p, above) - floor) / p_in)
            break
        above = p
    T, rho, h = liquid(name, stop, s0, T, rho)
    return rho * math.sqrt(2.0 * (h0 - h))


class Inlet(NamedTuple):
    """Stagnation state of a liquid and where its isentrope meets saturation."""

    name: str
    p0: float
    h0: float
    s0: float
    T_in: float
    p_in: float

    @property
    def compression(self) -> float:
        return self.p0 / self.p_in

    @property
    def back(self) -> float:
        """A back pressure low enough to choke, above the triple point."""
        triple = saturation(self.name, fluid(self.name).Ttriple() + 0.1)[0]
        return max(0.1 * self.p_in, 1.02 * triple)

    def equilibrium(self) -> float:
        return delayed_flux(self.name, self.T_in, self.h0, self.s0, self.back, 0.0)

    def flux(self, share: float, exponent: float = 0.4) -> float:
        """The default model's choked flux, kg/m2/s, without discharge coefficient."""
        G = delayed_flux(self.name, self.T_in, self.h0, self.s0, self.back, exponent)
        more = metastable_flux(self.name, self.p0, self.h0, self.s0, self.T_in)
        return G * (1.0 + share * rounded(more / G - 1.0))


def inlet(name: str, p0: float, T0: float, saturated: bool = False) -> Inlet:
    """Liquid (or supercritical) at p0, T0; or saturated liquid at p0."""
    s = fluid(name)
    if saturated:
        s.update(CoolProp.PQ_INPUTS, p0, 0.0)
    else:
        s.update(CoolProp.PT_INPUTS, p0, T0)
    h0, s0 = s.hmass(), s.smass()
    T_in = s.T() - 1e-6 if saturated else entry_temperature(name, s0, T0)
    return Inlet(name, p0, h0, s0, T_in, saturation(name, T_in)[0])
