"""Omega method for flashing flow (Leung), with the boiling delay of HNE-DS.

Flux of a homogeneous stream whose volume is taken to follow v/v_s = omega (p_s/p - 1) + 1 below
the saturation pressure p_s, v = v_0 above it, in reduced form

    G = psi sqrt(2 p0 / v0)
    psi^2 = {(1 - eta_s) + omega eta_s ln(eta_s/eta) - (omega - 1)(eta_s - eta)}
            / {omega (eta_s/eta - 1) + 1}^2

eta = p/p0, eta_s = p_s/p0 (1 for a saturated or two-phase inlet). Sources: J.C. Leung, AIChE J.
32 (1986) 1622 and 34 (1988) 688; API Std 520 Part I (9th ed. 2014) Annex C; boiling-delay
coefficient N: R. Diener & J. Schmidt, Process Saf. Prog. 23 (2004) 335 and 24 (2005) 29,
J. Schmidt, Forsch. Ingenieurwes. 71 (2007) 47, taken up by ISO 4126-10. The text of the standard
was not at hand; the formulas are those of the open papers.
"""

from __future__ import annotations

import math

from n2osim.jit import jit


@jit
def _balance(eta, omega, eta_s):
    """Zero at the critical pressure ratio (API Std 520 Part I, subcooled form; eta_s = 1 gives
    the saturated form)."""
    return (
        (omega + 1.0 / omega - 2.0) / (2.0 * eta_s) * eta * eta
        - 2.0 * (omega - 1.0) * eta
        + omega * eta_s * math.log(eta / eta_s)
        + 1.5 * omega * eta_s
        - 1.0
    )


@jit
def critical_ratio(omega, eta_s):
    """Critical pressure ratio p_throat/p0; eta_s where the stream chokes as it starts to boil.

    High subcooling (eta_s <= 2 omega/(1 + 2 omega)) chokes at the saturation pressure.
    """
    if eta_s <= 2.0 * omega / (1.0 + 2.0 * omega):
        return eta_s
    low = 1e-6 * eta_s
    high = eta_s
    for _ in range(60):
        middle = 0.5 * (low + high)
        if _balance(middle, omega, eta_s) < 0.0:
            low = middle
        else:
            high = middle
        if high - low < 1e-13:
            break
    return 0.5 * (low + high)


@jit
def reduced_flux(eta, omega, eta_s):
    """psi = G / sqrt(2 p0/v0) at pressure ratio eta (no choking test)."""
    if eta >= eta_s:
        return math.sqrt(max(1.0 - eta, 0.0))
    work = 1.0 - eta_s + omega * eta_s * math.log(eta_s / eta) - (omega - 1.0) * (eta_s - eta)
    return math.sqrt(max(work, 0.0)) / (omega * (eta_s / eta - 1.0) + 1.0)


@jit
def equilibrium_omega(p, v, cp_liquid, T, ratio):
    """Flashing part of omega: cp T p / v (dv/dh)^2; p saturation pressure, v inlet volume.

    ratio = (v_v - v_l)/(h_v - h_l) [m3/J] at saturation.
    """
    return cp_liquid * T * p / v * ratio * ratio


@jit
def delay_coefficient(x0, flashing, eta, exponent):
    """HNE-DS boiling-delay coefficient N = (x0 + flashing ln(1/eta))^a, at most 1.

    flashing = cp_l T0 p0 (v_v - v_l)/(h_v - h_l)^2; eta the equilibrium critical pressure ratio;
    exponent a: 0 long nozzles (equilibrium), 2/5 safety valves, 3/5 orifices and short nozzles
    (Diener & Schmidt 2004, 2005; values from memory).
    """
    return min(max(x0 + flashing * math.log(1.0 / eta), 0.0), 1.0) ** exponent
