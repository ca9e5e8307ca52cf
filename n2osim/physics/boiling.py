"""Boiling, condensation, and the inside coefficient of a bottle (compiled scalar kernels).

The inside coefficient joins four things, all between a wall and the bulk of the fluid:

* natural convection (Churchill & Chu) of liquid on the wetted and of vapour on the dry part,
  or of the one phase there is;
* nucleate boiling (Cooper 1984) where liquid touches a wall above the saturation temperature,
  limited by the critical heat flux (Zuber 1959) and falling back to natural convection past it;
* film condensation (Nusselt 1916) where vapour touches a wall below saturation;
* a cap.

Near the critical point
-----------------------
No boiling correlation reaches there (Cooper's data end at p_r = 0.9). Boiling and condensation
are faded out with a smooth weight, 1 at p_r = 0.90 and 0 from 0.99 on, so that only natural
convection is left where the two phases become one. The weight multiplies Cooper's coefficient at
a given superheat; the critical heat flux, whose formula goes to zero at the critical point by
itself, is left alone. Natural convection itself would diverge with
c_p and the expansion coefficient. It does not, because both are taken as secants over the actual
wall-to-bulk difference instead of as slopes: the density difference solves a local expansion of
the isobar (`density_drop`), the one number that replaces (dp/drho)_T in c_p, in the expansion
and in the critical part of the conductivity. Against the same correlation with secants from the
equation of state itself (1.008 < p_r < 4, walls 5 K colder to 10 K warmer) this is 11 % rms off
and 95 % of the states are within 22 %; a full bottle (680 kg/m3) in the switching band is within
30 %, a gas-like bulk against a wall several kelvin beyond the pseudo-critical line up to a
factor 3 low. Every result with p_r > 0.9 is flagged.
"""

from __future__ import annotations

import math

from n2osim.fluid.equation_of_state import MOLAR_MASS, P_CRITICAL, P_TRIPLE, RHO_CRITICAL, eos
from n2osim.fluid.phase import LIQUID, TWO_PHASE, VAPOUR
from n2osim.fluid.saturation import sat, sat_T
from n2osim.fluid.transport import (
    background_conductivity,
    critical_enhancement,
    surface_tension,
    viscosity,
)
from n2osim.jit import jit
from n2osim.physics.convection import (
    GRAVITY,
    blend_cubes,
    nusselt_horizontal_cylinder,
    nusselt_vertical_plate,
)

P_R_DATA = 0.90  # Cooper's data: 0.001 <= p_r <= 0.9 (as quoted in the reviews; recalled)
P_R_END = 0.99  # boiling and condensation have faded out here; our choice
ZUBER_CONSTANT = 0.149  # Lienhard & Dhir 1973, large plate; Incropera & DeWitt, eq. 10.6
DEFAULT_CAP = 20e3  # W/m2/K; our choice, above any Cooper value inside its own range here

_COOPER_POWER = 0.67 / 0.33  # h ~ q**0.67 rewritten for a given superheat
_COOPER_GAIN = 55.0 / math.sqrt(MOLAR_MASS * 1e3)
_SMALL_DT = 1e-2  # K; keeps powers of a temperature difference differentiable at zero
_FILM_DT = 0.25  # K; below it the condensate film coefficient falls to 0 with the difference
_LEIDENFROST = 3.0  # boiling has halved past this multiple of the superheat at the critical flux
_CURVATURE = 0.9 * 1.5 * P_CRITICAL / RHO_CRITICAL**3  # Pa/(kg/m3)^3, see density_drop
_STIFFNESS_FLOOR = 10.0  # m2/s2, 0.02 % of R T: dp/drho is 0 at the critical point
_MONOTONIC = 0.95  # share of the linear term that the quadratic one may cancel


@jit
def zuber_flux(sigma, h_fg, rho_l, rho_v, constant):
    """Critical heat flux of pool boiling, W/m2: C h_fg rho_v**.5 (sigma g (rho_l-rho_v))**.25.

    sigma [N/m], h_fg [J/kg], densities [kg/m3]; constant 0.149 (large plate) or pi/24
    (Zuber 1959). Horizontal cylinders and bottle walls differ by some 20 %.
    """
    lift = max(sigma * GRAVITY * (rho_l - rho_v), 0.0)
    return constant * h_fg * math.sqrt(rho_v) * math.sqrt(math.sqrt(lift))


@jit
def film_condensation(group, length, standing, subcooling):
    """Laminar film condensation coefficient, W/m2/K.

    group = g rho_l (rho_l - rho_v) k_l^3 h_fg / mu_l; length [m] and subcooling [K]. Nusselt 1916:
    0.943 (group/(L dT))**(1/4) on a vertical wall; 0.555 inside a lying cylinder (Chato 1962),
    both as in Incropera & DeWitt, section 10.8-10.9. Faded to 0 below 0.25 K of subcooling, where
    the formula's coefficient (not its flux) would grow without bound.
    """
    if not (subcooling > 0.0 and group > 0.0):
        return 0.0
    factor = 0.943 if standing else 0.555
    dT = math.sqrt(subcooling * subcooling + _FILM_DT * _FILM_DT)
    return factor * math.sqrt(math.sqrt(group / (length * dT))) * subcooling / dT


@jit
def boiling_coefficient(gain, q_critical, superheat):
    """Boiling coefficient, W/m2/K, over the whole curve: nucleate, critical flux, decline.

    gain: Cooper's coefficient at 1 K. The flux runs smoothly into q_critical, then declines to
    about a quarter at 4 times the superheat of the critical flux (shape of the pool boiling
    curve, Incropera & DeWitt, fig. 10.4); the caller adds natural convection, which remains.
    """
    if not (superheat > 0.0 and gain > 0.0):
        return 0.0
    h = gain * superheat**_COOPER_POWER
    ratio = h * superheat / (q_critical + 1e-30)
    if ratio < 1e-3:  # the limits below differ from 1 by less than 2e-6
        return h
    square = ratio * ratio
    limited = h / math.sqrt(math.sqrt(1.0 + square * square))
    return limited / (1.0 + ratio ** (4.0 * 0.33) / _LEIDENFROST**4)


@jit
def boiling_weight(p_r):
    """Share of boiling and condensation kept at p_r: 1 up to 0.90, smoothly 0 from 0.99 on."""
    s = (p_r - P_R_DATA) / (P_R_END - P_R_DATA)
    s = min(max(s, 0.0), 1.0)
    return 1.0 - s * s * (3.0 - 2.0 * s)


@jit
def density_drop(rho, stiffness, dpdT, dT):
    """Density drop, kg/m3 > 0, across dT [K] at constant pressure (a rise where dT < 0).

    Local cubic expansion of the isobar about the bulk, e the drop, x = rho - rho_c:
    stiffness e - 3 c x e|e| + c e**3 = dpdT dT, with stiffness = (dp/drho)_T and
    c = 0.9 * 1.5 p_c/rho_c**3 (a sixth of van der Waals' third derivative, times a factor fitted
    to the isobars of the equation of state). Away from the critical point the first term rules;
    near it the second follows the isobar across the pseudo-critical density and the third keeps
    the result finite. x is limited so that the cubic is monotonic: one root, in closed form.
    """
    sign = 1.0 if dT > 0.0 else -1.0
    linear = max(stiffness, _STIFFNESS_FLOOR)
    drive = dpdT * abs(dT)
    limit = math.sqrt(_MONOTONIC * linear / (3.0 * _CURVATURE))
    x = sign * min(max(rho - RHO_CRITICAL, -limit), limit)
    slope = linear / _CURVATURE
    root = math.sqrt(slope / 3.0 - x * x)  # z**3 + 3 root**2 z = 2 q with z = e - x
    q = 0.5 * (drive / _CURVATURE - x * (slope - 2.0 * x * x))
    e = x + 2.0 * root * math.sinh(math.asinh(q / root**3) / 3.0)
    f = e * (linear + _CURVATURE * e * (e - 3.0 * x)) - drive  # one Newton step: the sum above
    return e - f / (linear + 3.0 * _CURVATURE * e * (e - 2.0 * x))  # loses digits where e << x


@jit
def natural_coefficient(fluid, T, T_wall, length, standing):
    """Natural convection coefficient, W/m2/K, of one phase against a wall.

    fluid: tuple of `_phase_properties`; T bulk, T_wall [K]; length [m]: inner height (standing,
    vertical plate) or diameter (lying, horizontal cylinder). Churchill & Chu's plate and
    cylinder are outside correlations; in their turbulent range the length drops out and inside
    and outside differ little (our assumption, common practice for vessels).
    """
    rho, mu, k_background, k_critical, cv, dpdT, stiffness = fluid
    dT = math.sqrt((T_wall - T) ** 2 + _SMALL_DT * _SMALL_DT)
    drop = density_drop(rho, stiffness, dpdT, dT if T_wall > T else -dT)
    secant = dpdT * dT / drop
    cp = cv + T * dpdT * dpdT / (rho * rho * secant)
    k = k_background + k_critical * math.sqrt(min(max(stiffness, 0.0) / secant, 1.0))
    Pr = cp * mu / k
    Ra = GRAVITY * drop * rho * cp * length**3 / (mu * k)
    if standing:
        return nusselt_vertical_plate(Ra, Pr) * k / length
    return nusselt_horizontal_cylinder(Ra, Pr) * k / length


@jit
def soft_cap(h, cap):
    """h limited smoothly to cap > 0 (0.05 % low at half of it, 8 % low at it)."""
    r = h / cap
    r = r * r
    r = r * r
    return h / math.sqrt(math.sqrt(math.sqrt(1.0 + r * r)))


@jit
def _phase_properties(T, rho):
    """p and (rho, mu, k background, k critical, cv, dp/dT, dp/drho) of one phase, SI."""
    p, _, _, _, cv, dpdT, stiffness = eos(T, rho)
    mu = viscosity(T, rho)
    k = background_conductivity(T, rho)
    return p, (rho, mu, k, critical_enhancement(T, rho, mu), cv, dpdT, stiffness)


@jit
def boiling_gain(p_r):
    """Cooper's coefficient for nitrous oxide at 1 K of superheat, W/m2/K; bounded at P_R_END."""
    p_r = min(p_r, P_R_END)
    return (_COOPER_GAIN * p_r**0.12 * (-math.log10(p_r)) ** -0.55) ** (1.0 / 0.33)


@jit
def _film_group(h_fg, rho_v, rho_l, mu_l, k_l):
    return GRAVITY * rho_l * (rho_l - rho_v) * k_l**3 * h_fg / mu_l


@jit
def _two_phase_properties(T):
    p, rho_l, rho_v, _, _, h_l, h_v, _, _ = sat(T)
    h_fg = h_v - h_l
    _, liquid = _phase_properties(T, rho_l)
    _, vapour = _phase_properties(T, rho_v)
    flux = zuber_flux(surface_tension(T), h_fg, rho_l, rho_v, ZUBER_CONSTANT)
    film = _film_group(h_fg, rho_v, rho_l, liquid[1], liquid[2])
    p_r = p / P_CRITICAL
    gain = boiling_gain(p_r)
    return p_r, T, T, -1.0, boiling_weight(p_r), gain, flux, film, liquid, vapour


@jit
def subcooled_boiling(p):
    """(saturation temperature K, Cooper's gain, critical flux W/m2) of liquid at p [Pa]."""
    T_sat = sat_T(p)
    _, rho_l, rho_v, _, _, h_l, h_v, _, _ = sat(T_sat)
    flux = zuber_flux(surface_tension(T_sat), h_v - h_l, rho_l, rho_v, ZUBER_CONSTANT)
    return T_sat, boiling_gain(p / P_CRITICAL), flux


@jit
def _one_phase_properties(T, rho, phase):
    p, fluid = _phase_properties(T, rho)
    p_r = p / P_CRITICAL
    wet = 0.0 if phase == VAPOUR else 1.0
    if not (P_TRIPLE < p < P_R_END * P_CRITICAL):
        return p_r, T, T, wet, 0.0, 0.0, 0.0, 0.0, fluid, fluid
    weight = boiling_weight(p_r)
    if phase == LIQUID:
        T_sat, gain, flux = subcooled_boiling(p)
        return p_r, T, T_sat, wet, weight, gain, flux, 0.0, fluid, fluid
    T_sat = sat_T(p)
    _, rho_l, rho_v, _, _, h_l, h_v, _, _ = sat(T_sat)
    mu_l = viscosity(T_sat, rho_l)
    film = _film_group(h_v - h_l, rho_v, rho_l, mu_l, background_conductivity(T_sat, rho_l))
    return p_r, T, T_sat, wet, weight, 0.0, 0.0, film, fluid, fluid


@jit
def inside_properties(T, rho, phase):
    """Everything the inside coefficient needs from the fluid, once per state.

    T [K], rho [kg/m3] (mean density when two-phase), phase code of n2osim.fluid.phase. Returns
    (p_r, T, T_sat, wet, weight, boiling gain, critical flux, film group, liquid, vapour), wet
    being -1 in two phases (the caller's wetted fraction counts), 1 liquid or supercritical,
    0 vapour; liquid and vapour as `_phase_properties`. Single-phase: both are the bulk.
    """
    if phase == TWO_PHASE:
        return _two_phase_properties(T)
    return _one_phase_properties(T, rho, phase)


@jit
def _share(T, T_sat, T_wall):
    """Share of the difference that boiling or condensation has: the bulk may be subcooled or
    superheated."""
    superheat = T_wall - T_sat
    return abs(superheat) / (max(abs(T_wall - T), abs(superheat)) + 1e-300)


@jit
def with_boiling(h, T, T_sat, T_wall, gain, q_critical, cap):
    """Natural convection ``h`` of liquid with boiling beside it, W/m2/K; ``gain``: weighed."""
    boiling = boiling_coefficient(gain, q_critical, T_wall - T_sat)
    if boiling == 0.0:
        return soft_cap(h, cap)
    return soft_cap(blend_cubes(h, _share(T, T_sat, T_wall) * boiling), cap)


@jit
def wet_coefficient(props, T_wall, length_scale, standing, cap):
    """Coefficient, W/m2/K, on the wetted area; arguments as :func:`inside_from_properties`."""
    _, T, T_sat, _, weight, gain, q_critical, _, liquid, _ = props
    h = natural_coefficient(liquid, T, T_wall, length_scale, standing)
    return with_boiling(h, T, T_sat, T_wall, weight * gain, q_critical, cap)


@jit
def dry_coefficient(props, T_wall, length_scale, standing, cap):
    """Coefficient, W/m2/K, on the dry area; arguments as :func:`inside_from_properties`."""
    _, T, T_sat, _, weight, _, _, film, _, vapour = props
    h = natural_coefficient(vapour, T, T_wall, length_scale, standing)
    condensing = film_condensation(film, length_scale, standing, T_sat - T_wall)
    return soft_cap(blend_cubes(h, weight * _share(T, T_sat, T_wall) * condensing), cap)


@jit
def inside_from_properties(props, T_wall, wet_fraction, length_scale, standing, cap):
    """Coefficient between a wall part and the bulk, averaged over wetted and dry area.

    props of `inside_properties`; T_wall: inner surface [K]; wet_fraction of the part's area
    (0..1, used in two phases only); length_scale [m]: inner length (standing) or diameter
    (lying); standing 0 or 1; cap [W/m2/K], > 0, on wetted and dry part each.
    Returns (h [W/m2/K], extrapolated 0.0/1.0): extrapolated where p_r > 0.9, see the module.
    Continuous in T_wall, T and rho; h (T_wall - T) is the flux.
    """
    flag = 1.0 if props[0] > P_R_DATA else 0.0
    wet = props[3] if props[3] >= 0.0 else wet_fraction
    h = 0.0
    if wet > 0.0:
        h = wet * wet_coefficient(props, T_wall, length_scale, standing, cap)
    if wet < 1.0:
        h += (1.0 - wet) * dry_coefficient(props, T_wall, length_scale, standing, cap)
    return h, flag


@jit
def inside_coefficient(T_wall, T, rho, phase, wet_fraction, length_scale, standing, cap):
    """`inside_properties` and `inside_from_properties` in one call: (h, extrapolated)."""
    props = inside_properties(T, rho, phase)
    return inside_from_properties(props, T_wall, wet_fraction, length_scale, standing, cap)
