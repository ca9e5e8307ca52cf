"""How thick a cylinder wall must be, and the numbers marked on it.

Metal: the wall-stress formula of 49 CFR 178.46 (3AL, aluminium 6061-T6) and 178.37 (3AA, steel).
Composite: netting analysis, fibres only, at a stated burst factor. These size the presets'
thermal mass; they are not a design or an approval of any cylinder.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from n2osim.errors import InputError, RangeError, UnknownNameError
from n2osim.units import INCH, PSI

TEST_TO_SERVICE = 5.0 / 3.0
"""Test pressure over service pressure (MIL-STD-1411B; 49 CFR 178.46 and 178.37)."""
FULL_FILLING_DENSITY = 680.0
"""Filling density that counts as 100 % full, kg of N2O per m3 of water capacity: 68 % of the mass
of water the cylinder holds, 49 CFR 173.304a, Table 1 of (a)(2). The only place that defines it."""
EXPOSURE_LIMIT = (125.0 + 459.67) / 1.8
"""K, 125 degF (52 degC): highest temperature that N2O cylinders should be exposed to. The only
place that defines it."""
EXPOSURE_SOURCE = "CGA G-8.1 as quoted by cylinder-industry guidance: 125 degF (52 degC)"
HOT_CAR = 328.15
"""K, 131 degF (55 degC): reference temperature of 49 CFR 173.301a(d), and what a closed car in the
sun reaches."""
CONDEMNED = (350.0 + 459.67) / 1.8
"""K, 350 degF (177 degC): metal temperature above which an aluminium cylinder is condemned (CGA
C-6.1, as quoted by cylinder-industry guidance)."""
DISC_TOLERANCE = 0.10
"""A disc may open from its rating to 10 % under it (CGA S-1.1, recalled)."""
BURST_FACTOR = 3.4
"""Minimum burst over service pressure, carbon over aluminium liner (DOT-CFFC, 5th revision)."""


class Specification(NamedTuple):
    """Metal cylinder specification: allowed wall stress at test pressure, least wall; SI."""

    name: str
    stress_limit: float
    least_wall: float
    material: str
    source: str


SPECIFICATIONS: dict[str, Specification] = {
    "3AL": Specification(
        "3AL",
        min(0.80 * 35000.0, 0.67 * 38000.0) * PSI,
        0.125 * INCH,
        "6061-T6",
        "49 CFR 178.46(d): 35,000 psi yield and 38,000 psi ultimate (Table 2, sourced); limits "
        "80 % of yield, 67 % of ultimate (governs: 25,460 psi), 0.125 in over 5 in (recalled)",
    ),
    "3AA": Specification(
        "3AA",
        70000.0 * PSI,
        0.100 * INCH,
        "4130",
        "49 CFR 178.37(f): not over 70,000 psi (and 67 % of tensile strength); 0.100 in over 5 in "
        "outside (recalled)",
    ),
}


def specification(name: str) -> Specification:
    """The specification "3AL" or "3AA"."""
    if isinstance(name, str) and name.upper() in SPECIFICATIONS:
        return SPECIFICATIONS[name.upper()]
    raise UnknownNameError.among("cylinder specification", name, SPECIFICATIONS)


def wall_thickness(spec: str, outside: float, test_pressure: float) -> float:
    """Least wall (m) of a metal cylinder: ``outside`` diameter (m), ``test_pressure`` (Pa gauge).

    49 CFR 178.37 and 178.46, S = P (1.3 D^2 + 0.4 d^2) / (D^2 - d^2) solved for d at the
    specification's limit; not below its least wall.
    """
    rule = specification(spec)
    s, p = rule.stress_limit, test_pressure
    if not 0.0 < p < s / 1.3 or outside <= 0.0:
        raise RangeError("test pressure", p, "Pa", f"between 0 and {s / 1.3:.6g} Pa", "")
    t = 0.5 * outside * (1.0 - math.sqrt((s - 1.3 * p) / (s + 0.4 * p)))
    return max(t, rule.least_wall)


def netting_thickness(
    burst_pressure: float, radius: float, strength: float, angle: float
) -> tuple[float, float]:
    """(helical, hoop) FIBRE thickness (m) by netting analysis (Peters 1990: fibres carry all).

    burst_pressure (Pa gauge), radius (m), fibre strength as wound (Pa), helix angle to the axis
    (rad). Helical from the axial load P R / 2, hoop the rest; their sum is 3 P R / (2 strength).
    """
    if not 0.0 <= angle < math.atan(math.sqrt(2.0)):
        raise RangeError("helix angle", angle, "rad", "0 to 0.955 rad (54.7 degrees)", "")
    if min(burst_pressure, radius, strength) <= 0.0:
        raise InputError("netting analysis", (burst_pressure, radius, strength), "", "above 0", "")
    helical = burst_pressure * radius / (2.0 * strength * math.cos(angle) ** 2)
    hoop = burst_pressure * radius * (1.0 - 0.5 * math.tan(angle) ** 2) / strength
    return helical, hoop


def laminate_thickness(
    service_pressure: float,
    radius: float,
    *,
    burst_factor: float = BURST_FACTOR,
    strength: float = 2550e6,
    angle: float = math.radians(15.0),
    fibre_fraction: float = 0.6,
) -> float:
    """Laminate thickness (m) over a liner of outside ``radius`` (m); the liner carries nothing.

    strength 2550 MPa: standard-modulus carbon as delivered in a wound vessel (typical); 60 % fibre
    by volume and 15 degree helix (typical).
    """
    helical, hoop = netting_thickness(burst_factor * service_pressure, radius, strength, angle)
    return (helical + hoop) / fibre_fraction
