"""Quantities at the edge: SI floats, strings with a unit, pint quantities in; SI floats out.

:func:`parse` is the only door. A float or int is taken as SI and passes; a string such as
``"12 lb"``, ``"1000 psig"``, ``"95 degF"``, ``"0.028 in"``, ``"1 h 30 min"`` or ``"80 %"`` is read
with the table in :mod:`n2osim.unit_table`; pint is loaded only for a symbol that is not in it.

Gauge and absolute pressure are different kinds of quantity. ``pressure`` (absolute) takes Pa,
bar, psia, atm and so on; a bare ``psi`` is refused as ambiguous; ``psig`` needs the ambient
pressure. ``gauge_pressure`` takes psig, barg and so on, and a bare psi, bar or Pa as gauge (that
is how a shop gauge reads); ``psia`` or ``atm`` needs the ambient pressure.
"""

from __future__ import annotations

import math
import numbers
import re
from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache
from typing import Any

from n2osim import unit_table as table
from n2osim.errors import InputError, RangeError, UnitError, UnknownNameError, did_you_mean
from n2osim.unit_table import DIMENSIONS, HP, INCH, LB, PSI, Dimension, Unit

STANDARD_ATMOSPHERE = table.ATMOSPHERE
"""Default ambient pressure, 101 325 Pa."""

_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_SINGLE = re.compile(rf"({_NUMBER})(?:\s*/\s*([0-9]+(?![0-9.])))?\s*(.*)", re.DOTALL)
_PAIR = re.compile(rf"({_NUMBER})\s*([A-Za-z]+)\s*")
_CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?\s*(am|pm)?|([0-9]{1,2})\s*(am|pm)")
_SUMS = {"mass", "length", "time", "clock_time"}
_LONGEST = 100


def _dimension(name: str) -> Dimension:
    if name not in DIMENSIONS:
        raise UnknownNameError.among("kind of quantity", name, DIMENSIONS)
    return DIMENSIONS[name]


def _write_like(dimension: str) -> str:
    d = _dimension(dimension)
    if dimension == "clock_time":
        return "write a time such as '14:30', or hours ('30 h' is 6:00 of the day after)"
    if dimension in ("fraction", "number"):
        return "write a plain number" + (" such as 0.8, or '80 %'" if d.shop else "")
    shop = d.shop.replace("delta_", "")
    return f"write a number in {d.si}, or text with a unit such as '10 {shop}'"


def _number(value: Any, name: str, dimension: str) -> float:
    """A finite float from any real number; bool, complex and containers are refused."""
    d = _dimension(dimension)
    if isinstance(value, bool) or not isinstance(value, numbers.Real):
        if getattr(value, "ndim", None) == 0 and hasattr(value, "item"):
            item = value.item()
            if not hasattr(item, "ndim"):
                return _number(item, name, dimension)
        raise InputError(name, value, "", f"one {d.label}", _write_like(dimension))
    try:
        number = float(value)
    except (OverflowError, ValueError):
        number = math.inf
    if not math.isfinite(number):
        raise InputError(name, number, d.si, f"a finite {d.label}", _write_like(dimension))
    return number


# --- reading text -------------------------------------------------------------------------
@lru_cache(maxsize=256)
def _pint_symbol(symbol: str) -> Unit | None:
    """The unit of a symbol that only pint knows, or None. Offset and logarithmic units: None."""
    if len(symbol) > 40:
        return None
    import pint

    registry = pint.get_application_registry()
    try:
        one = registry.Quantity(1.0, registry.Unit(symbol)).to_base_units()
        zero = registry.Quantity(0.0, registry.Unit(symbol)).to_base_units()
    except Exception:  # pint raises many kinds; all of them mean "not a unit for us"
        return None
    vector = _pint_vector(one)
    if vector is None or zero.magnitude != 0.0:
        return None
    return Unit(float(one.magnitude), vector)


def _pint_vector(quantity: Any) -> table.Vector | None:
    order = ("[mass]", "[length]", "[time]", "[temperature]", "[current]")
    powers = dict(quantity.dimensionality)
    if any(k not in order or p != int(p) for k, p in powers.items()):
        return None
    a, b, c, d, e = (int(powers.get(k, 0)) for k in order)
    return (a, b, c, d, e, 0)


def _unit(text: str, dimension: str, name: str, given: object) -> Unit:
    unit = table.SPECIAL.get((dimension, text))
    if unit is not None:
        return unit
    try:
        return table.read_unit(text, _pint_symbol)
    except table.UnknownSymbol as unknown:
        symbol = unknown.args[0]
    d = _dimension(dimension)
    right = [s for s, u in table.UNITS.items() if u.vector == d.vector and "(" not in s]
    hint = did_you_mean(symbol, right) or did_you_mean(symbol, table.UNITS)
    raise UnitError(name, given, "", f"a unit of {d.label}", hint or _write_like(dimension))


def _names_of(vector: table.Vector) -> str:
    names = {d.label for d in DIMENSIONS.values() if d.vector == vector}
    return " or ".join(sorted(names)) or table.vector_words(vector)


def _check_vector(unit: Unit, dimension: str, name: str, given: object) -> None:
    d = _dimension(dimension)
    if unit.vector == d.vector:
        return
    found = _names_of(unit.vector)
    raise UnitError(name, given, "", f"{d.label}, not {found}", _write_like(dimension))


def _pressure(
    si: float,
    unit: Unit,
    dimension: str,
    name: str,
    given: object,
    ambient: float | None,
    bare_psi: bool,
) -> float:
    """Bring a pressure to the reference that ``dimension`` asks for."""
    if dimension == "pressure_difference":
        return si
    wanted = "absolute" if dimension == "pressure" else "gauge"
    if unit.reference == "" and wanted == "absolute" and bare_psi:
        raise UnitError(
            name,
            given,
            "",
            "an absolute pressure",
            "psi alone is ambiguous here: write psia, or psig with an ambient pressure",
        )
    if unit.reference in ("", wanted):
        return si
    if ambient is None:
        raise UnitError(
            name,
            given,
            "",
            f"{wanted} pressure",
            f"write it as {wanted} pressure (psi{wanted[0]}), or give the ambient "
            "pressure so that it can be converted",
        )
    return si + ambient if wanted == "absolute" else si - ambient


def _one(
    number: float, unit_text: str, dimension: str, name: str, given: object, ambient: float | None
) -> float:
    unit = _unit(unit_text, dimension, name, given)
    _check_vector(unit, dimension, name, given)
    if unit.vector == table.PRESSURE:
        bare = unit_text.casefold() in ("psi", "ksi")
        return _pressure(number * unit.factor, unit, dimension, name, given, ambient, bare)
    offset = unit.offset if dimension == "temperature" else 0.0
    return number * unit.factor + offset


def _clock(text: str) -> float | None:
    match = _CLOCK.fullmatch(text.lower())
    if match is None:
        return None
    h, m, s, half, h12, half12 = match.groups()
    hour, minute, second = int(h or h12), int(m or 0), int(s or 0)
    half = half or half12
    if minute > 59 or second > 59 or hour > (12 if half else 24) or (half and hour == 0):
        return None
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0)
    return 3600.0 * hour + 60.0 * minute + second


def _sum_of_pairs(text: str, dimension: str, name: str, ambient: float | None) -> float | None:
    """``"1 h 30 min"``, ``"10 lb 4 oz"``: several numbers with units that add up, else None."""
    pairs = _PAIR.findall(text)
    if len(pairs) < 2 or _PAIR.sub("", text) or any(n[0] in "+-" for n, _ in pairs):
        return None
    return math.fsum(_one(float(n), u, dimension, name, text, ambient) for n, u in pairs)


def _from_text(given: str, dimension: str, name: str, ambient: float | None) -> float:
    d = _dimension(dimension)
    if len(given) > _LONGEST:
        raise InputError(name, given, "", f"one {d.label}", _write_like(dimension))
    text = table.tidy(given.replace("−", "-"))
    if dimension == "clock_time" and (clock := _clock(text)) is not None:
        return clock
    if dimension in _SUMS and (total := _sum_of_pairs(text, dimension, name, ambient)) is not None:
        return total
    match = _SINGLE.fullmatch(text)
    if match is None:
        raise InputError(name, given, "", _a(d.label), _write_like(dimension))
    digits, below, unit_text = match.groups()
    if unit_text.startswith(","):
        raise InputError(
            name, given, "", _a(d.label), "write numbers without commas, with a point for decimals"
        )
    if below is not None and int(below) == 0:
        raise InputError(name, given, "", f"a finite {d.label}", _write_like(dimension))
    number = float(digits) if below is None else float(Fraction(digits) / int(below))
    if not unit_text:
        if d.vector == table.NONE:
            return number
        raise UnitError(name, given, "", f"{_a(d.label)} with its unit", _write_like(dimension))
    return _one(number, unit_text, dimension, name, given, ambient)


def _a(label: str) -> str:
    """The name of a kind of quantity with its article."""
    return f"{'an' if label[0] in 'aeiou' else 'a'} {label}"


# --- pint quantities ------------------------------------------------------------------------
def _is_pint(value: object) -> bool:
    return hasattr(value, "magnitude") and hasattr(value, "to_base_units")


def _from_pint(value: Any, dimension: str, name: str, ambient: float | None) -> float:
    d = _dimension(dimension)
    words = str(value.units)
    offset_unit = words in ("degree_Celsius", "degree_Fahrenheit")
    if dimension == "temperature_difference" and offset_unit:
        raise UnitError(name, value, "", d.label, f"use delta_{words} for a difference")
    try:
        base = value.to_base_units()
        vector = _pint_vector(base)
        number = base.magnitude
    except Exception as problem:
        raise UnitError(name, value, "", d.label, _write_like(dimension)) from problem
    if vector is None:
        raise UnitError(name, value, "", d.label, _write_like(dimension))
    if dimension == "angle" and vector == table.NONE:
        return _number(number, name, dimension)
    _check_vector(Unit(1.0, vector), dimension, name, value)
    if d.vector == table.PRESSURE:
        bare_psi = "pound_force_per_square_inch" in words
        number = _number(number, name, dimension)
        return _pressure(number, Unit(1.0, vector), dimension, name, value, ambient, bare_psi)
    return _number(number, name, dimension)


# --- the door -------------------------------------------------------------------------------
def parse(
    value: Any,
    dimension: str,
    *,
    name: str = "",
    low: float | None = None,
    high: float | None = None,
    low_open: bool = False,
    high_open: bool = False,
    ambient: float | None = None,
    remedy: str = "",
) -> float:
    """The SI value of ``value``, checked.

    Parameters
    ----------
    value : number (taken as SI), text with a unit, or pint quantity.
    dimension : kind of quantity, a key of ``DIMENSIONS`` ("mass", "gauge_pressure", ...).
    name : the quantity's name for messages.
    low, high : valid range in SI; ``low_open``/``high_open`` exclude the bound itself.
    ambient : ambient pressure, Pa, for text in the other pressure reference.
    remedy : advice added to a range error.

    Raises
    ------
    InputError (not a number, NaN, infinite), UnitError (unknown unit or wrong kind of quantity),
    RangeError (outside the range).
    """
    d = _dimension(dimension)
    name = name or d.label
    if isinstance(value, str):
        result = _number(_from_text(value, dimension, name, ambient), name, dimension)
    elif _is_pint(value):
        result = _from_pint(value, dimension, name, ambient)
    else:
        result = _number(value, name, dimension)
    low_open = low_open if low is not None else d.low_open
    low = d.low if low is None else low
    high = math.inf if high is None else high
    too_low = result <= low if low_open else result < low
    too_high = result >= high if high_open else result > high
    if too_low or too_high:
        if dimension == "fraction" and 1.0 < result <= 100.0 and high <= 1.0:
            given = isinstance(value, str) and "%" in value
            remedy = remedy if given else f"write '{result:g} %' if percent is meant"
        valid = _range_words(low, high, dimension, low_open, high_open)
        shown: object = value if isinstance(value, str) else result
        raise RangeError(name, shown, "" if isinstance(value, str) else d.si, valid, remedy)
    return result


def parse_many(
    values: Iterable[Any], dimension: str, *, name: str = "", **limits: Any
) -> tuple[float, ...]:
    """:func:`parse` for every entry of a list; messages carry the position."""
    if isinstance(values, (str, bytes)) or not isinstance(values, Iterable):
        raise InputError(name or dimension, values, "", "a list of values", "")
    return tuple(parse(v, dimension, name=f"{name}[{i}]", **limits) for i, v in enumerate(values))


def _range_words(low: float, high: float, dimension: str, low_open: bool, high_open: bool) -> str:
    def both(x: float) -> str:
        si, shop = (format_quantity(x, dimension, s) for s in ("si", "shop"))
        return si if si == shop else f"{si} ({shop})"

    lower = ("above " if low_open else "at least ") + both(low) if low > -math.inf else ""
    upper = ("below " if high_open else "at most ") + both(high) if high < math.inf else ""
    return " and ".join(w for w in (lower, upper) if w)


# --- out again ------------------------------------------------------------------------------
def to_psia(pressure: Any) -> Any:
    """Absolute pressure in Pa to psia (float or array)."""
    return pressure / PSI


def to_psig(pressure: Any, ambient: float = STANDARD_ATMOSPHERE) -> Any:
    """ABSOLUTE pressure in Pa to psig over the ambient pressure (Pa); float or array."""
    return (pressure - ambient) / PSI


def to_degF(temperature: Any) -> Any:
    """Temperature in K to degF (float or array)."""
    return temperature * 1.8 - 459.67


def to_lb(mass: Any) -> Any:
    """Mass in kg to lb (float or array)."""
    return mass / LB


def to_in(length: Any) -> Any:
    """Length in m to inches (float or array)."""
    return length / INCH


def to_hp(power: Any) -> Any:
    """Power in W to mechanical horsepower (float or array)."""
    return power / HP


def from_psig(psig: float, ambient: float = STANDARD_ATMOSPHERE) -> float:
    """psig to ABSOLUTE pressure in Pa."""
    return psig * PSI + ambient


def unit_label(dimension: str, system: str = "shop") -> str:
    """The unit that ``system`` ("shop" or "si") uses for ``dimension``."""
    d = _dimension(dimension)
    if system not in ("shop", "si"):
        raise UnknownNameError.among("unit system", system, ("shop", "si"))
    return d.si if system == "si" else d.shop.replace("delta_", "").replace("gee", "g")


def to_display(value: Any, dimension: str, system: str = "shop") -> Any:
    """SI value (float or array) in the unit named by :func:`unit_label`."""
    d = _dimension(dimension)
    if unit_label(dimension, system) == d.si or not d.shop:
        return value
    unit = table.read_unit(d.shop)
    offset = unit.offset if dimension == "temperature" else 0.0
    return (value - offset) / unit.factor


def in_unit(
    value: Any, dimension: str, unit: str, *, name: str = "", ambient: float | None = None
) -> Any:
    """SI value (float or array) of a kind of quantity in any unit of that kind; see :func:`parse`.

    A gauge pressure can be had as absolute and the other way round where ``ambient`` (Pa) is given.
    Raises UnitError, which names units that would do, for one of another kind.
    """
    d = _dimension(dimension)
    name = name or d.label
    text = table.tidy(unit)
    found = _unit(text, dimension, name, unit)
    of_its_own = found.reference if dimension == "pressure_difference" else ""
    if dimension == "temperature" and text.casefold().startswith("delta"):
        of_its_own = text
    if found.vector != d.vector or of_its_own:
        right = dict.fromkeys([d.shop.replace("delta_", ""), d.si, *_UNITS_SAID.get(dimension, ())])
        said = ", ".join(u for u in right if u) or "no unit, or %"
        raise UnitError(name, unit, "", f"a unit of {d.label}", f"for example {said}")
    if found.vector == table.PRESSURE and dimension != "pressure_difference":
        bare = text.casefold() in ("psi", "ksi")
        # What parse adds to reach this kind is taken off to leave it.
        zero = _pressure(0.0, found, dimension, name, unit, ambient, bare)
        return (value - zero) / found.factor
    offset = found.offset if dimension == "temperature" else 0.0
    return (value - offset) / found.factor


_UNITS_SAID = {
    "gauge_pressure": ("psi", "bar"),
    "pressure": ("bar", "kPa"),
    "pressure_difference": ("psi", "bar"),
    "temperature": ("degC",),
    "temperature_difference": ("degC",),
    "time": ("min", "h"),
    "mass_flow": ("lb/s", "g/s"),
    "power": ("hp",),
    "engine_power": ("kW",),
    "energy": ("Wh",),
}


def _adaptive_time(seconds: float) -> str:
    if abs(seconds) < 120.0:
        return f"{seconds:.4g} s"
    if abs(seconds) < 7200.0:
        return f"{seconds / 60.0:.4g} min"
    return f"{seconds / 3600.0:.4g} h"


def format_quantity(value: float, dimension: str, system: str = "shop") -> str:
    """Text with its unit, e.g. ``"1050.0 psig"``; seconds grow into minutes and hours.

    Gauge pressures are given and shown as gauge, absolute ones as absolute: convert before.
    A value that is not finite reads ``"n/a"``.
    """
    label = unit_label(dimension, system)
    if value is None or not math.isfinite(value):
        return "n/a"
    if dimension in ("time", "clock_time") and system == "shop":
        return _adaptive_time(value)
    digits = _dimension(dimension).digits if system == "shop" else ".6g"
    text = format(to_display(value, dimension, system), digits)
    if dimension == "gauge_pressure" and system == "si":
        label = "Pa gauge"
    return f"{text} {label}".rstrip()
