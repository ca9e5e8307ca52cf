"""Conduction in a bottle's wall: resistances, and the coupling of covered and bare parts.

Kernels are compiled and return K/W or W/K; `thermostat_cycle` is a closed form for checks and
first estimates and validates what it is given.
"""

from __future__ import annotations

import math

from n2osim.errors import InputError
from n2osim.jit import jit


@jit
def plane_resistance(thickness, conductivity, area):
    """Resistance of a plane layer, K/W: thickness [m], conductivity [W/m/K], area [m2]."""
    return thickness / (conductivity * area)


@jit
def cylinder_resistance(r_inner, r_outer, conductivity, length):
    """Radial resistance of a tube, K/W: ln(r_o/r_i)/(2 pi k L) (Incropera & DeWitt, eq. 3.28).

    Radii and length [m], conductivity [W/m/K]. For a sector multiply by 2 pi / angle.
    """
    return math.log(r_outer / r_inner) / (2.0 * math.pi * conductivity * length)


@jit
def contact_resistance(unit_resistance, area):
    """Resistance of a joint, K/W: unit_resistance [m2 K/W] over area [m2]."""
    return unit_resistance / area


@jit
def film_resistance(coefficient, area):
    """Resistance of a surface film, K/W: 1/(h A), h [W/m2/K], area [m2]; inf where h = 0."""
    conductance = coefficient * area
    return 1.0 / conductance if conductance > 0.0 else math.inf


@jit
def arc_resistance(half_width, in_plane, coefficient):
    """From the edge of a strip to the strip's mean temperature, per edge and length, K m/W.

    half_width s [m] from the adiabatic mid-line to the edge; in_plane: sum of conductivity times
    thickness of the wall's layers [W/K]; coefficient h [W/m2/K]: sum of what both faces lose.

    Derivation. In the strip kt T'' = h (T - T_ref), T' = 0 on the mid-line. With m = sqrt(h/kt)
    the excess over what h alone would give is cosh(m x), so edge flow Q = kt m tanh(m s) E and
    mean excess = E tanh(m s)/(m s) for edge excess E. The wanted resistance is
    (E - mean)/Q = (m s coth(m s) - 1)/(kt m^2 s). It tends to s/(3 kt) for small m s (the
    parabola of a uniformly fed strip) and to 1/(kt m) for large (a fin's end effect).
    """
    x = half_width * math.sqrt(coefficient / in_plane)
    if x < 0.05:  # series: the closed form loses digits; next term 2 x**4 / 945
        bracket = 1.0 / 3.0 - x * x / 45.0
    else:
        bracket = (x / math.tanh(x) - 1.0) / (x * x)
    return bracket * half_width / in_plane


@jit
def circumferential_conductance(in_plane, radius, length, covered_fraction, h_covered, h_bare):
    """Conductance between the MEAN temperatures of a shell's covered and bare parts, W/K.

    in_plane: sum over layers of k_inplane * thickness [W/K]; radius of the wall's middle and
    length [m]; covered_fraction of the circumference, 0 < f < 1; h_* [W/m2/K]: sum of inner and
    outer film coefficients of each part (0: uniformly fed strips). Two edges, each
    two `arc_resistance` in series. With h = 0 it is 6 kt L/(pi r) whatever the fraction.
    Outside 0 < f < 1 there is nothing to couple: 0.
    """
    if covered_fraction <= 0.0 or covered_fraction >= 1.0:
        return 0.0
    half_turn = math.pi * radius
    edge = arc_resistance(covered_fraction * half_turn, in_plane, h_covered)
    edge += arc_resistance((1.0 - covered_fraction) * half_turn, in_plane, h_bare)
    return 2.0 * length / edge


def thermostat_cycle(
    heat_capacity: float,
    loss_conductance: float,
    power: float,
    ambient: float,
    low: float,
    high: float,
) -> tuple[float, float, float]:
    """On-time, off-time [s] and duty [-] of a lumped body held between low and high.

    heat_capacity C [J/K], loss_conductance UA [W/K], power q [W]; ambient, low, high [K] (or any
    one temperature scale). First-order lag, tau = C/UA, T_end = ambient + q/UA:
    t_on = tau ln((T_end - low)/(T_end - high)), t_off = tau ln((high - ambient)/(low - ambient)).

    Raises InputError when the power cannot reach `high`, or the body cannot fall to `low`.
    """
    for name, value in (("heat capacity", heat_capacity), ("loss conductance", loss_conductance)):
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(name, value, "J/K or W/K", "> 0", "give a positive finite value")
    if not low < high:
        raise InputError("upper switch point", high, "K", f"> {low:g}", "set it above the lower")
    if not low > ambient:
        raise InputError(
            "lower switch point",
            low,
            "K",
            f"> ambient {ambient:g}",
            "raise it above ambient, or the body never cools down to it",
        )
    end = ambient + power / loss_conductance
    if not end > high:
        raise InputError(
            "heater power",
            power,
            "W",
            f"> {loss_conductance * (high - ambient):.4g}",
            "raise the power above the loss at the upper switch point, or insulate",
        )
    tau = heat_capacity / loss_conductance
    t_on = tau * math.log((end - low) / (end - high))
    t_off = tau * math.log((high - ambient) / (low - ambient))
    return t_on, t_off, t_on / (t_on + t_off)
