"""Pressure loss of nitrous oxide in a pipe: homogeneous, flashing where it falls below saturation.

Momentum balance of a homogeneous stream in a pipe of constant bore, multiplied by density and
integrated from inlet 1 to outlet 2,

    integral of rho dp from p2 to p1 = G^2 [ (f L/D + K)/2 + ln(v2/v1) ],

friction and fittings first, acceleration second (e.g. API RP 521, isothermal pipe flow, with the
ideal-gas integral replaced by the real one). The density is that of equilibrium at the pipe's
pressure and the inlet's enthalpy: flow is taken as isenthalpic, so kinetic energy is left out of
the energy balance (at the 30-60 m/s of a hose 1 kJ/kg or less of some 150 kJ/kg latent heat).
Elevation is ignored (1 m of liquid is 0.09 bar). p1 is the static pressure in the pipe's mouth:
whoever starts from a vessel adds one velocity head and an entrance loss to K. For given G the
pressure falls along the pipe until dp/dG vanishes at the exit: the pipe is choked there.

One friction factor is used for a pipe, from the inlet's Reynolds number with the viscosity of a
homogeneous mixture, 1/mu = x/mu_v + (1 - x)/mu_l (McAdams, Woods & Heroman 1942).
"""

from __future__ import annotations

import math

from n2osim.fluid.equation_of_state import P_CRITICAL, P_TRIPLE, T_CRITICAL, T_TRIPLE
from n2osim.fluid.flash import state_ph
from n2osim.fluid.saturation import H_CRITICAL, sat, sat_rho
from n2osim.fluid.transport import viscosity
from n2osim.jit import jit
from n2osim.physics.numeric import kept_end

_LAMINAR = 2000.0
_TURBULENT = 4000.0
_SLOPE_STEP = 1e-4  # relative pressure step of d ln(rho)/dp at constant enthalpy
# 4-point Gauss-Legendre on 0..1 (Abramowitz & Stegun, Table 25.4); 2-point below
_NODES = (0.06943184420297371, 0.33000947820757187, 0.66999052179242813, 0.93056815579702629)
_WEIGHTS = (0.17392742256872693, 0.32607257743127307, 0.32607257743127307, 0.17392742256872693)
_TWO = 0.5 - 0.5 / math.sqrt(3.0)
_SHORT = 0.97  # pressure ratio above which two points do
_H_L_TRIPLE: float = float(sat(T_TRIPLE)[5])


def _largest_vapour_enthalpy() -> tuple[float, float]:
    """Temperature, K, and value, J/kg, of the largest enthalpy of saturated vapour."""
    low, high = 220.0, 300.0
    for _ in range(60):
        a, b = low + (high - low) / 3.0, high - (high - low) / 3.0
        low, high = (a, high) if sat(a)[6] < sat(b)[6] else (low, b)
    return 0.5 * (low + high), float(sat(0.5 * (low + high))[6])


_T_H_V_MAX, _H_V_MAX = _largest_vapour_enthalpy()


@jit
def _serghides(Re, roughness):
    """Turbulent Darcy friction factor; roughness relative to the bore."""
    e = roughness / 3.7
    a = -2.0 * math.log10(e + 12.0 / Re)
    b = -2.0 * math.log10(e + 2.51 * a / Re)
    c = -2.0 * math.log10(e + 2.51 * b / Re)
    return (a - (b - a) ** 2 / (c - 2.0 * b + a)) ** -2


@jit
def friction_factor(Re, roughness):
    """Darcy friction factor of a round pipe; ``roughness`` is absolute over bore.

    Turbulent (Re > 4000): T.K. Serghides, Chem. Eng. 91 (1984) 63, which follows Colebrook-White
    within 0.003 %. Laminar (Re < 2000): 64/Re. Linear in Re between, so that it is continuous (no
    source: flow is undefined there). Re = 0 gives infinity.
    """
    if Re <= _LAMINAR:
        return 64.0 / Re
    if Re >= _TURBULENT:
        return _serghides(Re, roughness)
    low = 64.0 / _LAMINAR
    high = _serghides(_TURBULENT, roughness)
    return low + (high - low) * (Re - _LAMINAR) / (_TURBULENT - _LAMINAR)


@jit
def mixture_viscosity(T, rho, x):
    """Viscosity, Pa s, at T [K]: single-phase at rho [kg/m3]; McAdams's mean for 0 < x < 1."""
    if 0.0 < x < 1.0 and T < T_CRITICAL:
        _p, rho_l, rho_v = sat_rho(T)
        return 1.0 / (x / viscosity(T, rho_v) + (1.0 - x) / viscosity(T, rho_l))
    return viscosity(T, rho)


@jit
def loss_number(mdot, p, h, area, length, bore, roughness, K):
    """f L/D + K of a pipe at inlet p [Pa], h [J/kg] for flow mdot [kg/s]; lengths m, area m2."""
    if length <= 0.0:
        return K
    T, rho, x, _phase = state_ph(p, h)
    mu = mixture_viscosity(T, rho, x)
    Re = max(mdot, 1e-12) * bore / (area * mu)
    return friction_factor(Re, roughness / bore) * length / bore + K


@jit
def _line_enthalpy(y, h):
    """Saturated enthalpy that an isenthalp meets, minus h [J/kg], at T_c - y^2."""
    q = sat(T_CRITICAL - y * y)
    return (q[5] if h <= H_CRITICAL else q[6]) - h


@jit
def flash_pressure(h):
    """Pressure, Pa, at which fluid expanding at enthalpy h [J/kg] enters the dome; 0 if nowhere.

    Liquid-like fluid (h below the critical enthalpy) meets the bubble line there and flashes,
    denser vapour-like fluid the dew line. Anderson-Bjorck regula falsi in sqrt(T_c - T).
    """
    if not (_H_L_TRIPLE < h < _H_V_MAX):
        return 0.0
    a = 0.0
    fa = H_CRITICAL - h
    b = math.sqrt(T_CRITICAL - (T_TRIPLE if h <= H_CRITICAL else _T_H_V_MAX))
    fb = _line_enthalpy(b, h)
    if fa == 0.0:
        return P_CRITICAL
    for _ in range(60):
        c = b - fb * (b - a) / (fb - fa)
        fc = _line_enthalpy(c, h)
        if abs(c - b) < 1e-10 or fc == 0.0:
            b = c
            break
        a, fa = kept_end(a, fa, b, fb, fc)
        b = c
        fb = fc
    return sat_rho(T_CRITICAL - b * b)[0]


@jit
def density_integral(p_low, p_high, h):
    """Integral of rho dp [kg Pa/m3] at enthalpy h between two pressures (2 or 4 Gauss points)."""
    width = p_high - p_low
    if p_low > _SHORT * p_high:
        a = state_ph(p_low + _TWO * width, h)[1]
        return 0.5 * width * (a + state_ph(p_high - _TWO * width, h)[1])
    total = 0.0
    for i in range(4):
        total += _WEIGHTS[i] * state_ph(p_low + width * _NODES[i], h)[1]
    return total * width


@jit
def _log_density_slope(p, rho, h):
    """d ln(rho)/dp at constant enthalpy, 1/Pa, by a backward difference."""
    q = p * (1.0 - _SLOPE_STEP)
    return math.log(rho / state_ph(q, h)[1]) / (p - q)


@jit
def outlet_pressure(G, p1, h, N):
    """Static pressure at the end of a pipe of loss number N = f L/D + K.

    Parameters: mass flux G [kg/m2/s], inlet p1 [Pa] and enthalpy h [J/kg].
    Returns (p2 [Pa], possible 0/1); not possible: the pipe chokes at less than G, p2 is where.

    Newton from the inlet down. The balance is concave in the pressure drop, so that every step
    stays short of the root; the kink where liquid begins to flash is stepped on exactly.
    """
    rho1 = state_ph(p1, h)[1]
    p = p1
    rho = rho1
    balance = -0.5 * G * G * N
    if not (balance < 0.0):
        return p1, 1.0
    kink = flash_pressure(h)
    floor = P_TRIPLE * 1.0002
    for _ in range(200):
        slope = rho - G * G * _log_density_slope(p, rho, h)
        if not (slope > 0.0) or p <= floor:
            return p, 0.0
        q = p + balance / slope
        if q < kink < p:
            q = kink
        q = max(q, 0.5 * p, floor)
        rho_q = state_ph(q, h)[1]
        balance += density_integral(q, p, h) + G * G * math.log(rho_q / rho)
        if q == kink:
            # just inside the dome, so that the next slope is that of the far side
            q *= 1.0 - 1e-9
            rho_q = state_ph(q, h)[1]
        p = q
        rho = rho_q
        if not (p > 0.0):
            return math.nan, 0.0
        if abs(balance) < 1e-8 * (0.5 * G * G * N + 1e-3 * rho1 * p1):
            break
    return p, 1.0
