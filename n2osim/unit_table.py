"""Unit symbols, kinds of quantity and the small expression reader behind :mod:`n2osim.units`.

A unit is a factor to SI and a vector of exponents over (kg, m, s, K, A, rad), so that compound
units such as ``lb/hp/h`` or ``W/(m2 K)`` need no entries of their own. Factors are the exact
definitions (international yard and pound 1959, standard gravity, US gallon, mechanical
horsepower 550 ft lbf/s, International Table Btu) as listed in NIST Special Publication 811.
"""

from __future__ import annotations

import math
import re
from typing import NamedTuple

LB = 0.45359237
INCH = 0.0254
GRAVITY = 9.80665
LBF = LB * GRAVITY
PSI = LBF / INCH**2
HP = 550.0 * 12.0 * INCH * LBF
BTU = 1055.05585262
ATMOSPHERE = 101325.0
MMHG = 13.5951 * GRAVITY  # conventional millimetre of mercury

Vector = tuple[int, int, int, int, int, int]
_BASE = ("kg", "m", "s", "K", "A", "rad")


class Unit(NamedTuple):
    """``value_SI = value * factor + offset``; ``reference`` tells gauge from absolute pressure."""

    factor: float
    vector: Vector
    offset: float = 0.0
    reference: str = ""  # "gauge", "absolute" or "" (not said)


def _v(kg: int = 0, m: int = 0, s: int = 0, K: int = 0, A: int = 0, rad: int = 0) -> Vector:
    return (kg, m, s, K, A, rad)


NONE, MASS, LENGTH, TIME, TEMP = _v(), _v(kg=1), _v(m=1), _v(s=1), _v(K=1)
VOLUME, SPEED, ACCEL = _v(m=3), _v(m=1, s=-1), _v(m=1, s=-2)
FORCE, PRESSURE = _v(kg=1, m=1, s=-2), _v(kg=1, m=-1, s=-2)
ENERGY, POWER = _v(kg=1, m=2, s=-2), _v(kg=1, m=2, s=-3)
CURRENT, CHARGE, ANGLE = _v(A=1), _v(A=1, s=1), _v(rad=1)
VOLT, OHM = _v(kg=1, m=2, s=-3, A=-1), _v(kg=1, m=2, s=-3, A=-2)

# symbols (comma separated): (factor, vector)
_TABLE: dict[str, tuple[float, Vector]] = {
    "%,percent": (0.01, NONE),
    "kg,kgs,kilogram,kilograms": (1.0, MASS),
    "g,gram,grams": (1e-3, MASS),
    "mg": (1e-6, MASS),
    "lb,lbs,lbm,pound,pounds": (LB, MASS),
    "oz,ounce,ounces": (LB / 16.0, MASS),
    "m,metre,metres,meter,meters": (1.0, LENGTH),
    "cm": (1e-2, LENGTH),
    "mm,millimetre,millimetres,millimeter,millimeters": (1e-3, LENGTH),
    "um,micron,microns": (1e-6, LENGTH),
    "km": (1e3, LENGTH),
    "in,inch,inches": (INCH, LENGTH),
    "thou,mil,mils": (INCH / 1000.0, LENGTH),
    "ft,foot,feet": (12 * INCH, LENGTH),
    "yd,yard,yards": (36 * INCH, LENGTH),
    "mi,mile,miles": (63360 * INCH, LENGTH),
    "L,litre,litres,liter,liters": (1e-3, VOLUME),
    "mL,cc": (1e-6, VOLUME),
    "gal,gallon,gallons": (231 * INCH**3, VOLUME),
    "cuin,ci": (INCH**3, VOLUME),
    "s,sec,secs,second,seconds": (1.0, TIME),
    "ms": (1e-3, TIME),
    "min,mins,minute,minutes": (60.0, TIME),
    "h,hr,hrs,hour,hours": (3600.0, TIME),
    "d,day,days": (86400.0, TIME),
    "Hz": (1.0, _v(s=-1)),
    "mph": (63360 * INCH / 3600.0, SPEED),
    "kph,kmh": (1 / 3.6, SPEED),
    "knot,knots,kt": (1852.0 / 3600.0, SPEED),
    "g0,gee,gees": (GRAVITY, ACCEL),
    "N": (1.0, FORCE),
    "kN": (1e3, FORCE),
    "lbf": (LBF, FORCE),
    "torr": (ATMOSPHERE / 760.0, PRESSURE),
    "mmHg": (MMHG, PRESSURE),
    "inHg": (25.4 * MMHG, PRESSURE),
    "inH2O": (INCH * 1000.0 * GRAVITY, PRESSURE),
    "J,joule,joules": (1.0, ENERGY),
    "kJ": (1e3, ENERGY),
    "MJ": (1e6, ENERGY),
    "Wh": (3600.0, ENERGY),
    "kWh": (3.6e6, ENERGY),
    "Btu": (BTU, ENERGY),
    "cal": (4.184, ENERGY),
    "kcal": (4184.0, ENERGY),
    "W,watt,watts": (1.0, POWER),
    "mW": (1e-3, POWER),
    "kW,kilowatt,kilowatts": (1e3, POWER),
    "MW": (1e6, POWER),
    "hp,bhp,whp,horsepower": (HP, POWER),
    "PS": (75.0 * GRAVITY, POWER),
    "V,volt,volts": (1.0, VOLT),
    "mV": (1e-3, VOLT),
    "ohm,ohms": (1.0, OHM),
    "mohm,milliohm,milliohms": (1e-3, OHM),
    "A,amp,amps,ampere,amperes": (1.0, CURRENT),
    "mA": (1e-3, CURRENT),
    "Ah": (3600.0, CHARGE),
    "mAh": (3.6, CHARGE),
    "mol": (1.0, NONE),
    "rad,radian,radians": (1.0, ANGLE),
    "deg,degree,degrees": (math.pi / 180.0, ANGLE),
}
_PRESSURES = {
    "Pa": 1.0,
    "hPa": 100.0,
    "kPa": 1e3,
    "MPa": 1e6,
    "bar": 1e5,
    "mbar": 100.0,
    "psi": PSI,
    "ksi": 1000 * PSI,
}
_TEMPERATURES = {
    "K,kelvin": (1.0, 0.0),
    "degC,C,celsius": (1.0, 273.15),
    "degF,F,fahrenheit": (5.0 / 9.0, 459.67 * 5.0 / 9.0),
    "degR,R,rankine": (5.0 / 9.0, 0.0),
    "delta_degC,delta_C": (1.0, 0.0),
    "delta_degF,delta_F": (5.0 / 9.0, 0.0),
}


def _build() -> dict[str, Unit]:
    units = {
        symbol: Unit(factor, vector)
        for symbols, (factor, vector) in _TABLE.items()
        for symbol in symbols.split(",")
    }
    del units["mol"]  # amounts are always masses here
    for symbol, factor in _PRESSURES.items():
        units[symbol] = Unit(factor, PRESSURE)
        for end, reference in (("g", "gauge"), ("a", "absolute")):
            for form in (f"{symbol}{end}", f"{symbol}({end})", f"{symbol} {end}"):
                units[form] = Unit(factor, PRESSURE, 0.0, reference)
    units["atm"] = Unit(ATMOSPHERE, PRESSURE, 0.0, "absolute")
    for symbols, (factor, offset) in _TEMPERATURES.items():
        for symbol in symbols.split(","):
            units[symbol] = Unit(factor, TEMP, offset)
    return units


UNITS: dict[str, Unit] = _build()
_FOLDED: dict[str, list[str]] = {}
for _symbol in UNITS:
    _FOLDED.setdefault(_symbol.casefold(), []).append(_symbol)


class Dimension(NamedTuple):
    """A kind of quantity: its SI unit, its shop unit and how a shop prints it."""

    label: str
    si: str
    vector: Vector
    shop: str
    digits: str  # format specification in shop units
    low: float = -math.inf  # physical limit of the kind itself
    low_open: bool = False


def _d(
    label: str,
    si: str,
    shop: str,
    digits: str = ".4g",
    low: float = -math.inf,
    low_open: bool = False,
) -> Dimension:
    return Dimension(label, si, read_unit(si).vector if si else NONE, shop, digits, low, low_open)


def tidy(text: str) -> str:
    """Plain-ASCII spelling of a unit: superscripts, degree, ohm and micro signs, 'per'."""
    for old, new in (
        ("²", "2"),
        ("³", "3"),
        ("·", " "),
        ("*", " "),
        ("×", " "),
        ("^", ""),
        ("Δ°", "delta_deg"),
        ("°", "deg"),
        ("º", "deg"),
        ("Ω", "ohm"),
        ("Ω", "ohm"),
        ("µ", "u"),
        ("μ", "u"),
        ('"', "in"),
        ("″", "in"),
    ):
        text = text.replace(old, new)
    text = re.sub(r"\bper\b", "/", text)
    text = re.sub(r"\bdeg\s+([CFKR])\b", r"deg\1", text)
    return re.sub(r"\s+", " ", text).strip()


def find_symbol(symbol: str) -> Unit | None:
    """The unit of one symbol; capitals are forgiven where that is not ambiguous (mW, MW)."""
    if symbol in UNITS:
        return UNITS[symbol]
    same = {UNITS[s] for s in _FOLDED.get(symbol.casefold(), ())}
    return same.pop() if len(same) == 1 else None


class UnknownSymbol(Exception):
    """A symbol that is not in the table (``args[0]``)."""


_TOKEN = re.compile(r"\s*(?:([A-Za-z_%]+)(-?[0-9])?|([/()])|(1)(?=\s*/))")


def _tokens(text: str) -> list[tuple[str, int]]:
    found, at = [], 0
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None or match.end() == at:
            raise UnknownSymbol(text)
        symbol, power, mark, _one = match.groups()
        if symbol:
            found.append((symbol, int(power) if power else 1))
        elif mark:
            found.append((mark, 0))
        at = match.end()
    return found


def read_unit(text: str, fallback: object = None) -> Unit:
    """The unit written in ``text``; raises :class:`UnknownSymbol`.

    A symbol alone keeps its offset and reference; in a product or quotient temperatures are
    differences. After a ``/`` one factor (or one bracket) divides. ``fallback(symbol)`` may supply
    a :class:`Unit` for a symbol that is not in the table.
    """
    whole = find_symbol(text)
    if whole is not None:
        return whole
    factor, vector = 1.0, [0] * 6
    sign, inside = 1, 0
    tokens = _tokens(text)
    if not tokens:
        raise UnknownSymbol(text)
    for symbol, power in tokens:
        if symbol == "/":
            sign = -1
        elif symbol == "(":
            inside += 1
        elif symbol == ")":
            inside, sign = inside - 1, 1
        else:
            unit = find_symbol(symbol)
            if unit is None and callable(fallback):
                unit = fallback(symbol)
            if unit is None or unit.reference:
                raise UnknownSymbol(symbol)
            factor *= unit.factor ** (sign * power)
            vector = [a + sign * power * b for a, b in zip(vector, unit.vector)]
            sign = sign if inside else 1
    if inside != 0:
        raise UnknownSymbol(text)
    a, b, c, d, e, f = vector
    return Unit(factor, (a, b, c, d, e, f))


def vector_words(vector: Vector) -> str:
    """The exponents as text, e.g. ``kg m-1 s-2``."""
    words = [f"{n}{p if p != 1 else ''}" for n, p in zip(_BASE, vector) if p]
    return " ".join(words) or "a pure number"


DIMENSIONS: dict[str, Dimension] = {
    "fraction": _d("fraction", "", "%", ".1f"),
    "number": _d("pure number", "", "", ".4g"),
    "count": _d("count", "", "", ".0f"),
    "flag": _d("yes (1) or no (0)", "", "", ".0f"),
    "mass": _d("mass", "kg", "lb", ".2f"),
    "length": _d("length", "m", "in", ".4g"),
    "area": _d("area", "m2", "in2"),
    "volume": _d("volume", "m3", "L"),
    "time": _d("time", "s", "s"),
    "clock_time": _d("clock time", "s", "h"),
    "temperature": _d("temperature", "K", "degF", ".1f", 0.0, True),
    "temperature_difference": _d("temperature difference", "K", "delta_degF", ".1f"),
    "temperature_coefficient": _d("temperature coefficient", "1/K", "1/degF"),
    "pressure": _d("absolute pressure", "Pa", "psia", ".1f", 0.0),
    "gauge_pressure": _d("gauge pressure", "Pa", "psig", ".1f", -1.1e5),
    "pressure_difference": _d("pressure difference", "Pa", "psi", ".1f"),
    "power": _d("power", "W", "W"),
    "engine_power": _d("power", "W", "hp", ".1f"),
    "voltage": _d("voltage", "V", "V"),
    "resistance": _d("electrical resistance", "ohm", "ohm"),
    "current": _d("current", "A", "A"),
    "electric_charge": _d("electric charge", "A s", "Ah"),
    "energy": _d("energy", "J", "kJ"),
    "specific_energy": _d("energy per mass", "J/kg", "kJ/kg"),
    "heat_capacity": _d("heat capacity", "J/K", "kJ/K"),
    "specific_heat": _d("specific heat", "J/kg/K", "J/kg/K"),
    "conductance": _d("thermal conductance", "W/K", "W/K"),
    "conductivity": _d("thermal conductivity", "W/m/K", "W/m/K"),
    "heat_transfer_coefficient": _d("heat-transfer coefficient", "W/m2/K", "W/m2/K"),
    "contact_resistance": _d("thermal resistance times area", "m2 K/W", "m2 K/W"),
    "heat_flux": _d("heat flux", "W/m2", "W/in2"),
    "density": _d("density", "kg/m3", "kg/m3"),
    "mass_flow": _d("mass flow", "kg/s", "lb/min"),
    "mass_flux": _d("mass flux", "kg/m2/s", "kg/m2/s"),
    "volume_flow": _d("volume flow", "m3/s", "L/min"),
    "angle": _d("angle", "rad", "deg", ".1f"),
    "speed": _d("speed", "m/s", "mph", ".3g"),
    "acceleration": _d("acceleration", "m/s2", "gee", ".3g"),
    "bsfc": _d("brake-specific fuel consumption", "kg/J", "lb/hp/h"),
}
# A symbol whose everyday meaning depends on what is asked for.
SPECIAL: dict[tuple[str, str], Unit] = {
    ("acceleration", "g"): Unit(GRAVITY, ACCEL),
    ("acceleration", "G"): Unit(GRAVITY, ACCEL),
}
