"""What a short jet passes beyond the boiling-delay model, because its liquid boils too late.

In a passage a few diameters long liquid can leave before it has boiled at all: it expands along its
isentrope as metastable liquid. The jet then passes

    G = rho sqrt(2 (h0 - h))

of the metastable liquid at the pressure where boiling sets in, the higher of two:

* ``1 - DEPTH`` of the pressure at which the isentrope meets saturation, as far as compression
  leaves it: the depth is whole up to ``FADE_FROM`` times that pressure ahead of the jet and gone
  at ``FADE_TO``;
* where homogeneous nucleation sets in (classical theory, ``NUCLEATION_RATE``): it approaches
  saturation towards the critical point, where no metastable range is left.

What this is more than the boiling-delay flux is counted by the *share* of a jet's length:
1 up to 3.2 diameters, 0 from 12 on, linear between (``Jets.short_share``).

Sources. Metastable isentrope to the nucleation limit: Wilhelmsen & Aasen, Chem. Eng. Sci. 248
(2022) 117176 (abstract seen). DEPTH, FADE_FROM and FADE_TO are fitted to the choked nitrogen flow
of Simoneau & Hendricks, NASA TP-1484 (1979), smooth nozzle, L/D 3.2, reduced temperature 0.75 to
1.03 (half of the set): met within 3 %, at 0.75 within 13 %. The lengths are read from published
fits of sharp refrigerant tubes, L/D 5 to 20, reduced temperature 0.76 to 0.94 (Kim, O'Neal, Yuan,
Payne; see the tests), which differ among themselves by up to 35 % at L/D 5; that nothing is left at
L/D 12 is also what nitrous oxide measured there (Waxman et al. 2013). Nitrous oxide in a short jet
is not measured. Ours: the excess falls with the square of the liquid's share of the volume where
bubbles arrive with the stream (they give boiling its surface); both changes of regime are rounded.
"""

from __future__ import annotations

import math

from n2osim.fluid.equation_of_state import MOLAR_MASS, T_CRITICAL, eos
from n2osim.fluid.saturation import S_CRITICAL, sat, sat_rho
from n2osim.fluid.transport import surface_tension
from n2osim.jit import jit
from n2osim.physics.isentrope import entry_temperature, temperature_at
from n2osim.physics.orifice import HNE, inside_dome, orifice_flux, smoothstep

DEPTH = 0.35
FADE_FROM = 1.2
FADE_TO = 2.2
NUCLEATION_RATE = 1e12  # bubbles per m3 and s; usual threshold, the answer hardly feels it
_ROUND = 0.03  # width of the rounded corners, relative
_STEPS = 8
_TOP = 0.9995  # of the critical temperature: no metastable range worth the name beyond
_BOLTZMANN = 1.380649e-23
_AVOGADRO = 6.02214076e23


@jit
def nucleation_pressure(T):
    """Pressure, Pa, at which metastable liquid at T [K] boils by itself (classical theory).

    NUCLEATION_RATE = n (2 sigma/(pi m))**0.5 exp(-16 pi sigma**3/(3 k T dp**2)), n molecules per
    m3 of saturated liquid of mass m; the bubble's excess pressure dp is referred to saturation with
    the Poynting factor 1 - rho_v/rho_l.
    """
    p, rho_l, rho_v = sat_rho(T)
    sigma = surface_tension(T)
    m = MOLAR_MASS / _AVOGADRO
    attempts = rho_l / m * math.sqrt(2.0 * sigma / (math.pi * m))
    barrier = 3.0 * _BOLTZMANN * T * math.log(attempts / NUCLEATION_RATE)
    return p - math.sqrt(16.0 * math.pi * sigma**3 / barrier) / (1.0 - rho_v / rho_l)


@jit
def rounded(excess, width):
    """max(excess, 0) with its corner rounded on the positive side over ``width``."""
    if excess <= 0.0:
        return 0.0
    return excess * excess / math.sqrt(excess * excess + width * width)


@jit
def _liquid_at(p, s0, T, rho):
    """(T, rho, 1.0) of metastable liquid of entropy s0 at p [Pa] from a state above it near by.

    Newton in density with the speed of sound. The last answer is 0.0 where the liquid stops being
    mechanically stable first.
    """
    for _ in range(40):
        r = eos(T, rho)
        slope = r[6] + T * r[5] * r[5] / (rho * rho * r[4])
        if not (slope > 0.0 and r[6] > 0.0):
            return T, rho, 0.0
        step = max((p - r[0]) / slope, -0.03 * rho)
        rho += step
        T = temperature_at(rho, s0, T)
        if abs(step) < 1e-9 * rho:
            break
    return T, rho, 1.0


@jit
def _onset(s0, T_in, p_in, rho_in, floor):
    """(p [Pa], T, rho) on the liquid's isentrope where it boils: at nucleation, or at ``floor``.

    Walks down from saturation in equal steps until nucleation is passed, then regula falsi
    (Anderson & Bjorck) in density. The corner between the two is rounded.
    """
    T, rho = T_in, rho_in
    fb = p_in - nucleation_pressure(T_in)
    a, fa, T_a = rho, fb, T
    for i in range(_STEPS):
        a, fa, T_a = rho, fb, T
        T, rho, stable = _liquid_at(p_in + (floor - p_in) * (i + 1) / _STEPS, s0, T, rho)
        if stable == 0.0:
            return eos(T_a, a)[0], T_a, a
        fb = eos(T, rho)[0] - nucleation_pressure(T)
        if fb < 0.0:
            break
    if fb >= 0.0:
        return floor, T, rho
    b = rho
    for _ in range(40):
        c = b - fb * (b - a) / (fb - fa)
        T = temperature_at(c, s0, T)
        fc = eos(T, c)[0] - nucleation_pressure(T)
        if (fc > 0.0) != (fb > 0.0):
            a, fa, T_a = b, fb, T
        else:
            m = 1.0 - fc / fb
            fa *= m if m > 0.0 else 0.5
        b, fb = c, fc
        if abs(a - b) < 1e-8 * rho_in or fc == 0.0:
            break
    boils = eos(T, b)[0]
    p = floor + p_in * rounded((boils - floor) / p_in, _ROUND)
    T, rho, _stable = _liquid_at(p, s0, T, b)
    return p, T, rho


@jit
def metastable_flux(p0, h0, s0, p_back):
    """Flux of liquid that stays liquid down to where it must boil: (G [kg/m2/s], p_throat [Pa]).

    s0 below the critical entropy, h0 with it; p0 [Pa] may be the saturation pressure. G is 0 where
    no metastable range is left.
    """
    T_in = entry_temperature(s0)
    if not (T_in < _TOP * T_CRITICAL):
        return 0.0, p0
    p_in, rho_in, _rho_v = sat_rho(T_in)
    depth = DEPTH * (1.0 - smoothstep(p0 / p_in, FADE_FROM, FADE_TO))
    if depth < 1e-6 or p_back >= p_in:
        return 0.0, p0
    p, T, rho = _onset(s0, T_in, p_in, rho_in, (1.0 - depth) * p_in)
    if p_back > p:
        p = p_back
        T, rho, _stable = _liquid_at(p, s0, T_in, rho_in)
    return rho * math.sqrt(2.0 * max(h0 - eos(T, rho)[2], 0.0)), p


@jit
def jet_flux(model, share, p0, h0, s0, rho0, T0, p_back):
    """Mass flux through a jet of unit effective area: orifice_flux and what a short jet adds.

    share (0..1, Jets.short_share) counts with the model HNE only. Other parameters and the result
    (G [kg/m2/s], choked 0/1, valid 0/1, p_throat [Pa]) as orifice_flux.
    """
    G, choked, valid, p = orifice_flux(model, p0, h0, s0, rho0, T0, p_back)
    if model != HNE or not (share > 0.0 and G > 0.0):
        return G, choked, valid, p
    x0 = inside_dome(T0, rho0)
    if x0 <= 0.0 and s0 > S_CRITICAL:
        return G, choked, valid, p
    wet = 1.0
    delayed = G
    if x0 > 0.0:
        # a stream with bubbles: the relative excess of its saturated liquid, by its void
        p_s, rho_l, rho_v, _u_l, _u_v, h_l, _h_v, s_l, _s_v = sat(T0)
        wet = ((1.0 - x0) * rho_v / ((1.0 - x0) * rho_v + x0 * rho_l)) ** 2
        delayed = orifice_flux(model, p_s, h_l, s_l, rho_l, T0, p_back)[0]
        more, throat = metastable_flux(p_s, h_l, s_l, p_back)
    else:
        more, throat = metastable_flux(p0, h0, s0, p_back)
    gain = share * wet * rounded(more / delayed - 1.0, _ROUND)
    if gain > 0.0:
        if throat > p_back:
            choked = 1.0
        return G * (1.0 + gain), choked, valid, throat if x0 <= 0.0 else p
    return G, choked, valid, p
