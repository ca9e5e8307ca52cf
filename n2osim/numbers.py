"""Numbers for people: shop units, or SI with the prefixes that a gauge or a data sheet uses."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Mapping
from typing import Any

from n2osim.units import format_quantity, to_display, unit_label

_KELVIN = 273.15
# dimension: (unit, factor from SI base unit, digits). Offsets: only temperature has one.
_METRIC: dict[str, tuple[str, float, str]] = {
    "gauge_pressure": ("kPa gauge", 1e-3, ".0f"),
    "pressure": ("kPa", 1e-3, ".1f"),
    "pressure_difference": ("kPa", 1e-3, ".0f"),
    "temperature": ("degC", 1.0, ".1f"),
    "temperature_difference": ("K", 1.0, ".1f"),
    "mass": ("kg", 1.0, ".3f"),
    "mass_flow": ("g/s", 1e3, ".1f"),
    "energy": ("kJ", 1e-3, ".0f"),
    "length": ("mm", 1e3, ".4g"),
    "area": ("mm2", 1e6, ".4g"),
    "volume": ("L", 1e3, ".4g"),
    "power": ("W", 1.0, ".4g"),
    "engine_power": ("kW", 1e-3, ".1f"),
    "fraction": ("%", 100.0, ".1f"),
    "density": ("kg/m3", 1.0, ".1f"),
    "speed": ("m/s", 1.0, ".3g"),
    "number": ("", 1.0, ".4g"),
    "heat_flux": ("W/m2", 1.0, ".4g"),
}
# Digits of table columns in shop units, where fewer than usual read better.
_COLUMN = {
    "gauge_pressure": ".0f",
    "pressure_difference": ".0f",
    "temperature": ".1f",
    "mass": ".2f",
    "mass_flow": ".2f",
    "energy": ".0f",
    "fraction": ".0f",
    "number": ".3g",
    "power": ".0f",
    "engine_power": ".0f",
}


_DIFFERENCES = {
    "gauge_pressure": "pressure_difference",
    "pressure": "pressure_difference",
    "temperature": "temperature_difference",
}


def difference_of(dimension: str) -> str:
    """Kind of quantity that a difference of two of a kind is."""
    return _DIFFERENCES.get(dimension, dimension)


def _unsigned(text: str) -> str:
    """A number that is rounded to nothing has no sign, with a unit behind it or not."""
    return text[1:] if text[:1] == "-" and not text.partition(" ")[0].strip("-0.") else text


def lasting(seconds: float | None) -> str:
    """A duration in words: "13.5 s", "25.3 min", "3.2 h"; None reads "-"."""
    if seconds is None or not math.isfinite(seconds):
        return "-"
    size = abs(seconds)
    if size < 120.0:
        return _unsigned(f"{seconds:.3g} s")
    return f"{seconds / 60.0:.1f} min" if size < 7200.0 else f"{seconds / 3600.0:.2f} h"


def instant(seconds: float | None) -> str:
    """A moment of the run as h:mm:ss.s, "0:25:16.8"; None reads "-"."""
    if seconds is None or not math.isfinite(seconds):
        return "-"
    tenths = round(seconds * 10.0)
    minutes, tenths = divmod(tenths, 600)
    return f"{minutes // 60}:{minutes % 60:02d}:{tenths // 10:02d}.{tenths % 10}"


class Units:
    """Formats SI numbers in one system: "shop" (psig, degF, lb) or "si" (kPa, degC, kg)."""

    def __init__(self, system: str = "shop") -> None:
        unit_label("mass", system)  # rejects an unknown system by name
        self.system = system

    def _metric(self, dimension: str) -> tuple[str, float, str] | None:
        return _METRIC.get(dimension) if self.system == "si" else None

    def unit(self, dimension: str) -> str:
        """Unit shown for a kind of quantity."""
        metric = self._metric(dimension)
        return metric[0] if metric else unit_label(dimension, self.system)

    def value(self, si: Any, dimension: str) -> Any:
        """SI number or array in that unit."""
        metric = self._metric(dimension)
        if metric is None:
            return to_display(si, dimension, self.system)
        return (si - _KELVIN if dimension == "temperature" else si) * metric[1]

    def full(self, si: float | None, dimension: str) -> str:
        """Number with its unit; durations in words; None reads "-"."""
        if si is None or not math.isfinite(si):
            return "-"
        if dimension == "time":
            return lasting(si)
        metric = self._metric(dimension)
        if metric is None:
            return _unsigned(format_quantity(si, dimension, self.system))
        return _unsigned(f"{format(self.value(si, dimension), metric[2])} {metric[0]}".rstrip())

    def bare(self, si: float | None, dimension: str) -> str:
        """Number alone, for a column that carries the unit."""
        if si is None or not math.isfinite(si):
            return "-"
        metric = self._metric(dimension)
        digits = metric[2] if metric else _COLUMN.get(dimension, ".4g")
        return _unsigned(format(self.value(si, dimension), digits))

    def short(self, si: float | None, dimension: str) -> str:
        """Number with its unit, to the digits of a column."""
        text = self.bare(si, dimension)
        return text if text == "-" else f"{text} {self.unit(dimension)}".rstrip()


def both(si: float, dimension: str) -> str:
    """A number in both systems, "0.50 lb (0.227 kg)"; :func:`in_system` leaves one of them."""
    return f"{Units('shop').full(si, dimension)} ({Units('si').full(si, dimension)})"


_NUMBER = r"-?[\d.,e+-]*\d(?: to -?[\d.,]+)?"
_BOTH = re.compile(
    rf"({_NUMBER} (?:lb/min|lb|in|psig|psi(?: for every degF)?|degF|cu ft)) \(({_NUMBER} [^()]+)\)"
)


def in_system(text: str, system: str) -> str:
    """Text that gives quantities as "131 degF (55 degC)" with those of one system only."""
    return _BOTH.sub(r"\2" if system == "si" else r"\1", text)


def number_words(value: float, dimension: str) -> str:
    """SI, with the shop's unit in brackets where it is another one."""
    si = format_quantity(value, dimension, "si")
    if dimension in ("fraction", "number") or value == 0.0:
        return si
    if dimension in ("time", "clock_time"):
        return si if value < 120.0 else format_quantity(value, dimension, "shop")
    shop = format_quantity(value, dimension, "shop")
    return si if unit_label(dimension, "shop") == unit_label(dimension, "si") else f"{si} ({shop})"


def exact(value: Any) -> str:
    """A text that tells values apart exactly, parts within lists and tables included."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        inner = {f.name: getattr(value, f.name) for f in dataclasses.fields(value)}
        return type(value).__name__ + exact(inner)
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{k!r}: {exact(v)}" for k, v in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "(" + ", ".join(map(exact, value)) + ")"
    return repr(value)
