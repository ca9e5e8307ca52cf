"""Isentropic expansion of nitrous oxide from a stagnation state to a throat.

An isentrope outside the dome meets the saturation line at one point: on the bubble line when its
entropy lies below the critical one (liquid-like), on the dew line when above (vapour-like). From
there on the throat is parametrised by its temperature, so that no inversion of the saturation
line is needed while the maximum flux is searched.

Mass flux at a throat, from the momentum balance of a frictionless homogeneous stream,

    G = sqrt(2 E) / v,    E = integral of v dp from the throat to stagnation,

with v the specific volume of the stream. In equilibrium E = h0 - h and this is the homogeneous
equilibrium model. A stream that boils with delay has

    v = N v_e + (1 - N) v_f,       N = x_e ** n

v_e equilibrium and v_f frozen composition (liquid keeps the volume it had when it entered the
dome, vapour follows the saturated vapour); x_e is the local equilibrium quality. n = 0 gives
equilibrium. See orifice.py for where N comes from.
"""

from __future__ import annotations

import math

from n2osim.fluid.equation_of_state import T_CRITICAL, T_TRIPLE, eos
from n2osim.fluid.saturation import S_CRITICAL, dpdT_sat, sat, sat_caloric
from n2osim.jit import jit
from n2osim.physics.numeric import kept_end

_S_L_TRIPLE: float = float(sat(T_TRIPLE)[7])
_S_V_TRIPLE: float = float(sat(T_TRIPLE)[8])

_SCAN_ABOVE = 0.95  # T/T_c of the dome entry above which the flux may have two maxima
_CLIMB_ABOVE = 0.995  # above which a narrow first maximum hides even in a short range
_SCAN_POINTS = 14
_SCAN_STEP = 1.5  # K

# 3-point Gauss-Legendre on 0..1 (Abramowitz & Stegun, Table 25.4)
_NODES = (0.11270166537925831, 0.5, 0.88729833462074169)
_WEIGHTS = (0.27777777777777778, 0.44444444444444444, 0.27777777777777778)


@jit
def _entropy_on_line(T, s0):
    """Entropy of the saturated phase that an isentrope s0 meets, J/kg/K, at T [K]."""
    q = sat_caloric(T)
    if s0 <= S_CRITICAL:
        return q[2]
    return q[3]


@jit
def entry_temperature(s0):
    """Temperature, K, where the isentrope s0 [J/kg/K] meets the saturation line; NaN if nowhere.

    Bracketed regula falsi (Anderson & Bjorck) in y = sqrt(T_c - T), in which the entropy of the
    saturated phases is smooth up to the critical point.
    """
    if not (_S_L_TRIPLE <= s0 <= _S_V_TRIPLE):
        return math.nan
    a = 0.0
    fa = S_CRITICAL - s0
    b = math.sqrt(T_CRITICAL - T_TRIPLE)
    fb = _entropy_on_line(T_TRIPLE, s0) - s0
    if fa == 0.0:
        return T_CRITICAL
    for _ in range(60):
        if fb == 0.0:
            return T_CRITICAL - b * b
        c = b - fb * (b - a) / (fb - fa)
        fc = _entropy_on_line(T_CRITICAL - c * c, s0) - s0
        if fc == 0.0 or abs(c - b) < 1e-11 * (1.0 + c):
            return T_CRITICAL - c * c
        a, fa = kept_end(a, fa, b, fb, fc)
        b = c
        fb = fc
    return T_CRITICAL - b * b


@jit
def temperature_at(rho, s0, T):
    """Temperature, K, on the single-phase isentrope s0 at density rho; T is the starting guess."""
    for _ in range(30):
        r = eos(T, rho)
        step = (s0 - r[3]) * T / r[4]
        step = min(max(step, -0.3 * T), 0.3 * T)
        T += step
        if abs(step) < 1e-9 * T:
            break
    return T


@jit
def density_at(T, s0, rho):
    """Density, kg/m3, on the single-phase isentrope s0 at T [K]; rho is the starting guess."""
    for _ in range(50):
        r = eos(T, rho)
        step = min(max((r[3] - s0) * rho / r[5], -0.5), 0.5)
        rho *= math.exp(step)
        if abs(step) < 1e-12:
            break
    return rho


@jit
def sonic_excess(T, rho, h0):
    """u^2 - c^2 [m2/s2] of a stream of stagnation enthalpy h0 at a single-phase state T, rho."""
    r = eos(T, rho)
    return 2.0 * (h0 - r[2]) - (r[6] + T * r[5] * r[5] / (rho * rho * r[4]))


@jit
def single_phase_throat(T0, rho0, h0, s0, rho_low, T_low):
    """Sonic point of a single-phase isentrope between rho0 (subsonic) and rho_low (supersonic).

    Returns (T, rho) where the stream's speed equals the speed of sound.
    """
    a = rho0
    fa = sonic_excess(T0, rho0, h0)
    b = rho_low
    fb = sonic_excess(T_low, rho_low, h0)
    T = T_low
    for _ in range(60):
        c = b - fb * (b - a) / (fb - fa)
        T = temperature_at(c, s0, T)
        fc = sonic_excess(T, c, h0)
        if fc == 0.0 or abs(c - b) < 1e-9 * rho0:
            return T, c
        a, fa = kept_end(a, fa, b, fb, fc)
        b = c
        fb = fc
    return T, b


@jit
def _stream(T, s0, x_in, v_liquid, n):
    """Two-phase stream at throat temperature T: (p, h_e, v, v_e - v); see the module's text."""
    p, rho_l, rho_v, _u_l, _u_v, h_l, h_v, s_l, s_v = sat(T)
    x = min(max((s0 - s_l) / (s_v - s_l), 0.0), 1.0) if s_v > s_l else 0.5
    v_v = 1.0 / rho_v
    v_e = 1.0 / rho_l + x * (v_v - 1.0 / rho_l)
    delay = 0.0
    if n > 0.0:
        delay = (1.0 - x**n) * (v_e - (1.0 - x_in) * v_liquid - x_in * v_v)
    return p, h_l + x * (h_v - h_l), v_e - delay, delay


@jit
def two_phase_flux(T, T_in, h0, s0, x_in, v_liquid, n):
    """Flux [kg/m2/s] and pressure [Pa] of the stream at a throat of temperature T inside the dome.

    T_in, x_in, v_liquid: temperature, quality and liquid volume where the stream entered the dome;
    n: exponent of the boiling delay (0: equilibrium). The work lost to the delay is integrated
    over T = T_in - (T_in - T) z^2, z in 0..1, with three Gauss points (2e-5 of G or better).
    """
    p, h, v, _delay = _stream(T, s0, x_in, v_liquid, n)
    energy = h0 - h
    if n > 0.0 and T_in > T:
        lost = 0.0
        for i in range(3):
            z = _NODES[i]
            t = T_in - (T_in - T) * z * z
            lost += _WEIGHTS[i] * 2.0 * z * _stream(t, s0, x_in, v_liquid, n)[3] * dpdT_sat(t)
        energy -= lost * (T_in - T)
    return math.sqrt(2.0 * max(energy, 0.0)) / v, p


@jit
def two_phase_throat(T_back, T_in, h0, s0, x_in, v_liquid, n):
    """Largest flux for throats between T_back and T_in: (G, p_throat, choked).

    Along the expansion the flux rises to one maximum, which may be the kink at the dome's edge.
    Only for isentropes entering the dome close to the critical point, where the speed of sound
    dips at the edge, a second, wide maximum can follow; there the whole range is scanned. A flux
    that still rises at the end of a short range is its largest (190,000 random ones up to 309.4 K).
    """
    span = T_in - T_back
    g_edge, p_edge = two_phase_flux(T_in, T_in, h0, s0, x_in, v_liquid, n)
    if not (span > 0.0):
        return g_edge, p_edge, 0.0
    close = T_in > _SCAN_ABOVE * T_CRITICAL
    G, p = two_phase_flux(T_back, T_in, h0, s0, x_in, v_liquid, n)
    near = two_phase_flux(T_back + 1e-3 * span, T_in, h0, s0, x_in, v_liquid, n)[0]
    choked = 0.0
    if close and span > _SCAN_STEP:
        G, p, choked = _scan(span, T_in, h0, s0, x_in, v_liquid, n)
    elif near >= G or T_in > _CLIMB_ABOVE * T_CRITICAL:
        g_top, p_top, peak = _climb(span, g_edge, near, G, T_in, h0, s0, x_in, v_liquid, n)
        if g_top >= G:
            G, p, choked = g_top, p_top, peak
    if g_edge >= G:
        return g_edge, p_edge, 1.0
    return G, p, choked


@jit
def _climb(span, g_edge, g_near, g_back, T_in, h0, s0, x_in, v_liquid, n):
    """First maximum met going down from the dome's edge by growing steps; see two_phase_throat."""
    a = 0.0
    g_a = g_edge
    b = min(1e-4, 0.5 * span)
    g_b, p_b = two_phase_flux(T_in - b, T_in, h0, s0, x_in, v_liquid, n)
    if g_b <= g_a:
        return g_b, p_b, 1.0
    c = min(0.4, 0.5 * span)
    while c < span * (1.0 - 1e-3):
        g_c = two_phase_flux(T_in - c, T_in, h0, s0, x_in, v_liquid, n)[0]
        if g_c <= g_b:
            return _refine(a, g_a, b, g_b, c, g_c, T_in, h0, s0, x_in, v_liquid, n)
        a, g_a, b, g_b = b, g_b, c, g_c
        c *= 2.0
    c = span * (1.0 - 1e-3)
    if g_near >= g_b:
        return _refine(b, g_b, c, g_near, span, g_back, T_in, h0, s0, x_in, v_liquid, n)
    return _refine(a, g_a, b, g_b, c, g_near, T_in, h0, s0, x_in, v_liquid, n)


@jit
def _scan(span, T_in, h0, s0, x_in, v_liquid, n):
    """Largest of the flux over the whole range, refined; see two_phase_throat."""
    points = max(3, min(_SCAN_POINTS, int(span / _SCAN_STEP)))
    g_b = -1.0
    i_b = 0
    for i in range(1, points + 1):
        z = span * (i / points) ** 2
        g = two_phase_flux(T_in - z, T_in, h0, s0, x_in, v_liquid, n)[0]
        if g > g_b:
            g_b = g
            i_b = i
    a = span * ((i_b - 1) / points) ** 2
    b = span * (i_b / points) ** 2
    g_a = two_phase_flux(T_in - a, T_in, h0, s0, x_in, v_liquid, n)[0]
    if i_b == points:
        g_b, p_b = two_phase_flux(T_in - b, T_in, h0, s0, x_in, v_liquid, n)
        return _at_back(a, g_a, span, g_b, p_b, T_in, h0, s0, x_in, v_liquid, n)
    c = span * ((i_b + 1) / points) ** 2
    g_c = two_phase_flux(T_in - c, T_in, h0, s0, x_in, v_liquid, n)[0]
    return _refine(a, g_a, b, g_b, c, g_c, T_in, h0, s0, x_in, v_liquid, n)


@jit
def _at_back(a, g_a, span, g_c, p_c, T_in, h0, s0, x_in, v_liquid, n):
    """The flux still rises at the back pressure: unchoked, unless it peaks just before it."""
    b = a + (span - a) * (1.0 - 1e-4)
    g_b = two_phase_flux(T_in - b, T_in, h0, s0, x_in, v_liquid, n)[0]
    if g_b <= g_c:
        return g_c, p_c, 0.0
    return _refine(a, g_a, b, g_b, span, g_c, T_in, h0, s0, x_in, v_liquid, n)


@jit
def _refine(a, g_a, b, g_b, c, g_c, T_in, h0, s0, x_in, v_liquid, n):
    """Maximum bracketed by a < b < c (temperature drops, K): parabola steps, golden fallback."""
    old = c - a
    for i in range(40):
        width = c - a
        if width < 3e-4 * c:
            break
        d1 = (b - a) * (g_b - g_c)
        d2 = (b - c) * (g_b - g_a)
        trial = b
        if d1 != d2:
            trial = b - 0.5 * ((b - a) * d1 - (b - c) * d2) / (d1 - d2)
        shift = 1.4e-4 * c
        if abs(trial - b) < shift:
            trial = b + shift if c - b > b - a else b - shift
        if not (a < trial < c) or (i % 3 == 2 and width > 0.4 * old):
            trial = b + 0.382 * (c - b) if c - b > b - a else b - 0.382 * (b - a)
        if i % 3 == 2:
            old = width
        g = two_phase_flux(T_in - trial, T_in, h0, s0, x_in, v_liquid, n)[0]
        if g >= g_b:
            if trial > b:
                a, g_a = b, g_b
            else:
                c, g_c = b, g_b
            b, g_b = trial, g
        elif trial > b:
            c, g_c = trial, g
        else:
            a, g_a = trial, g
    g_b, p_b = two_phase_flux(T_in - b, T_in, h0, s0, x_in, v_liquid, n)
    return g_b, p_b, 1.0
