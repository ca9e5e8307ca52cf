"""Convection correlations and the air outside a bottle (compiled scalar kernels).

Dimensionless groups use the fluid properties their caller chose (film temperature unless said).
Ranges are those of the cited source; outside them the formula is evaluated as it stands.
"""

from __future__ import annotations

import math

from n2osim.jit import jit

GRAVITY = 9.80665  # m/s2, standard gravity (CGPM 1901)

_AIR_R = 8.31446261815324 / 0.02896546  # J/kg/K; molar mass: Lemmon et al. 2000
SMALL_DT = 1e-2  # K; keeps Ra**(1/6) differentiable where surface and fluid are equally warm


@jit
def nusselt_vertical_plate(Ra, Pr):
    """Mean Nusselt number of an isothermal vertical plate over its height, [-].

    Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1323, full range (0.1 < Ra < 1e12).
    Holds for vertical cylinders when D/L >= 35/Gr_L**0.25 (Incropera & DeWitt, section 9.6.1).
    """
    shape = (1.0 + (0.492 / Pr) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    root = 0.825 + 0.387 * Ra ** (1.0 / 6.0) / shape
    return root * root


@jit
def nusselt_horizontal_cylinder(Ra, Pr):
    """Mean Nusselt number of an isothermal horizontal cylinder on its diameter, [-].

    Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1049 (1e-5 < Ra < 1e12).
    """
    shape = (1.0 + (0.559 / Pr) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    root = 0.60 + 0.387 * Ra ** (1.0 / 6.0) / shape
    return root * root


@jit
def nusselt_cylinder_crossflow(Re, Pr):
    """Mean Nusselt number of a cylinder in cross flow on its diameter, [-].

    Churchill & Bernstein, J. Heat Transfer 99 (1977) 300; Re Pr > 0.2, film properties.
    """
    laminar = 0.62 * math.sqrt(Re) * Pr ** (1.0 / 3.0)
    laminar /= (1.0 + (0.4 / Pr) ** (2.0 / 3.0)) ** 0.25
    return 0.3 + laminar * (1.0 + (Re / 282000.0) ** 0.625) ** 0.8


@jit
def blend_cubes(a, b):
    """Natural and assisting or transverse forced convection together: (a**3 + b**3)**(1/3).

    Exponent 3 after Churchill 1977 as in Incropera & DeWitt, eq. 9.64. Works on coefficients
    as on Nusselt numbers.
    """
    if b == 0.0:
        return a
    return (a * a * a + b * b * b) ** (1.0 / 3.0)


@jit
def _air_cp(T):
    """Ideal-gas heat capacity of dry air, J/kg/K: Lemmon et al., JPCRD 29 (2000) 331."""
    u = 3364.011 / T
    v = 2242.45 / T
    eu = math.exp(-u)
    ev = math.exp(-v)
    cp = 3.490888032 + T * (2.395525583e-6 + T * (7.172111248e-9 - 3.115413101e-13 * T))
    cp += 0.223806688 / (T * math.sqrt(T))
    cp += 0.791309509 * u * u * eu / ((1.0 - eu) * (1.0 - eu))
    cp += 0.212236768 * v * v * ev / ((1.0 - ev) * (1.0 - ev))
    return cp * _AIR_R


@jit
def air(T, p):
    """Dry air as an ideal gas: (rho [kg/m3], mu [Pa s], k [W/m/K], cp [J/kg/K], Pr [-]).

    T [K], p [Pa absolute]; 200-600 K near atmospheric pressure. Transport: dilute-gas terms of
    Lemmon & Jacobsen, Int. J. Thermophys. 25 (2004) 21. Moisture is ignored.
    """
    t = math.log(T / 103.3)
    omega = math.exp(0.431 + t * (-0.4623 + t * (0.08406 + t * (0.005341 - 0.00331 * t))))
    mu = 2.66958e-8 * math.sqrt(28.9586 * T) / (0.36 * 0.36 * omega)
    tau = 132.6312 / T
    k = 1e-3 * (1.308e6 * mu + 1.405 * tau**-1.1 - 1.036 * tau**-0.3)
    cp = _air_cp(T)
    return p / (_AIR_R * T), mu, k, cp, cp * mu / k


@jit
def natural_air(film, p_air, length, standing):
    """Natural convection of air at a film temperature [K] as (a + b dT^(1/6))^2: (a, b).

    W^(1/2)/m/K^(1/2), and that per K^(1/6); length [m]: the bottle's (standing) or its diameter.
    The correlations of :func:`outside_coefficient` with what depends on dT [K] taken apart.
    """
    rho, mu, k, _, Pr = air(film, p_air)
    nu = mu / rho
    ra = GRAVITY / film * Pr / (nu * nu) * length**3
    still = 0.825 if standing else 0.60
    limit = 0.492 if standing else 0.559
    shape = (1.0 + (limit / Pr) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    scale = math.sqrt(k / length)
    return still * scale, 0.387 * ra ** (1.0 / 6.0) / shape * scale


@jit
def forced_air(film, p_air, speed, diameter):
    """Forced part of :func:`outside_coefficient` at a film temperature [K], W/m2/K."""
    rho, mu, k, _, Pr = air(film, p_air)
    return nusselt_cylinder_crossflow(abs(speed) * diameter / (mu / rho), Pr) * k / diameter


@jit
def outside_coefficient(T_surface, T_air, p_air, speed, diameter, length, standing):
    """Convection coefficient of air on a bottle's outer surface, W/m2/K (radiation not included).

    T_surface, T_air [K], p_air [Pa abs], speed [m/s], diameter and length [m], standing 0 or 1.
    Natural convection: horizontal cylinder (lying) or vertical plate of the bottle's length
    (standing); forced: cylinder in cross flow, whichever way the bottle lies; together by the
    third-power rule. Film-temperature properties. The ends get the side's coefficient.
    """
    film = 0.5 * (T_surface + T_air)
    dT = math.sqrt((T_surface - T_air) ** 2 + SMALL_DT * SMALL_DT)
    still, lift = natural_air(film, p_air, length if standing else diameter, standing)
    root = still + lift * dT ** (1.0 / 6.0)
    return blend_cubes(root * root, forced_air(film, p_air, speed, diameter))
