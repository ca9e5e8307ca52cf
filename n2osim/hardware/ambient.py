# ruff: noqa: RUF009 - Quantity() makes a descriptor, never a shared default
"""Surroundings: air temperature over the clock, pressure, wind, sun, and a closed boot."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from n2osim.errors import InputError
from n2osim.hardware._part import Checked, Part, Quantity, optional, require
from n2osim.units import STANDARD_ATMOSPHERE, parse

DAY = 86400.0
_AIR: dict[str, Any] = {"low": 200.0, "high": 360.0}


@dataclass(frozen=True)
class DayNight(Part):
    """Air temperature as a sinusoid over the day.

    mean (K); swing : half the difference between the hottest and the coldest hour (K);
    hottest_at : clock time of the maximum (s after midnight, or "15:00").
    """

    mean: Checked = Quantity("temperature", **_AIR)
    swing: Checked = Quantity("temperature_difference", 0.0, low=0.0, high=40.0)
    hottest_at: Checked = Quantity("clock_time", 54000.0, low=0.0, high=DAY)

    def temperature_at(self, clock: Any) -> Any:
        """Air temperature (K) at ``clock`` (s after midnight; float or array)."""
        angle = 2.0 * math.pi * (np.asarray(clock, dtype=float) - self.hottest_at) / DAY
        return _scalar(self.mean + self.swing * np.cos(angle))


@dataclass(frozen=True)
class TemperatureTable(Part):
    """Air temperature given at clock times, straight lines between, constant beyond the ends.

    times : seconds after midnight of the first day, strictly rising (more than one day is fine).
    temperatures : K.
    """

    times: tuple[float, ...]
    temperatures: tuple[float, ...]

    def __post_init__(self) -> None:
        times = _each(self.times, "clock_time", "ambient table time", low=0.0, high=30 * DAY)
        temps = _each(self.temperatures, "temperature", "ambient table temperature", **_AIR)
        if len(times) != len(temps) or len(times) < 2:
            raise InputError(
                "ambient table",
                f"{len(times)} times, {len(temps)} temperatures",
                "",
                "two or more times with one temperature each",
                "",
            )
        for before, after in pairwise(times):
            if after <= before:
                raise InputError(
                    "ambient table time",
                    after,
                    "s",
                    f"later than {before:g} s",
                    "list the times in rising order",
                )
        object.__setattr__(self, "times", times)
        object.__setattr__(self, "temperatures", temps)

    @classmethod
    def from_pairs(cls, pairs: Iterable[Any]) -> TemperatureTable:
        """From ``[(clock, temperature), ...]``, e.g. ``[("06:00", "50 degF"), ("15:00", ...)]``."""
        rows = list(pairs)
        for row in rows:
            if isinstance(row, str) or not isinstance(row, Iterable) or len(list(row)) != 2:
                raise InputError("ambient table row", row, "", "a pair (clock, temperature)")
        return cls(tuple(r[0] for r in rows), tuple(r[1] for r in rows))

    def temperature_at(self, clock: Any) -> Any:
        """Air temperature (K) at ``clock`` (s; float or array)."""
        return _scalar(np.interp(np.asarray(clock, dtype=float), self.times, self.temperatures))


@dataclass(frozen=True)
class Boot(Part):
    """Closed boot (trunk) or box around the bottle: an air node of its own.

    heat_capacity : of the air and the trim that follows it, J/K. Default 20 kJ/K (typical).
    conductance : from that air to the outside, W/K. Default 8 (typical).
    solar : heat that the sun puts into the boot, W.
    """

    heat_capacity: Checked = Quantity("heat_capacity", 20e3, low=10.0, high=1e7)
    conductance: Checked = Quantity("conductance", 8.0, low=0.0, high=1e4)
    solar: Checked = Quantity("power", 0.0, low=0.0, high=1e4)


@dataclass(frozen=True)
class Ambient(Part):
    """What surrounds the bottle.

    Parameters
    ----------
    temperature : air temperature: constant (K, "60 degF"), :class:`DayNight`,
        :class:`TemperatureTable`, or pairs (clock, temperature) for the latter.
    pressure : ambient ABSOLUTE pressure, Pa; see :func:`standard_pressure` for altitude.
    air_speed : m/s past the bottle, 0 for still air.
    sun : irradiance on the bottle's projected area, W/m2.
    enclosure : :class:`Boot` or None.
    """

    temperature: float | DayNight | TemperatureTable = 294.26
    pressure: Checked = Quantity("pressure", STANDARD_ATMOSPHERE, low=30e3, high=120e3)
    air_speed: Checked = Quantity("speed", 0.0, low=0.0, high=100.0)
    sun: Checked = Quantity("heat_flux", 0.0, low=0.0, high=1500.0)
    enclosure: Boot | None = None

    _readers = {"enclosure": optional(Boot)}  # noqa: RUF012 - a class constant, never written

    def __post_init__(self) -> None:
        object.__setattr__(self, "temperature", _read_temperature(self.temperature))
        require(self.enclosure, Boot, "ambient enclosure")

    def temperature_at(self, clock: Any) -> Any:
        """Outside air temperature (K) at ``clock`` (s after midnight; float or array)."""
        if isinstance(self.temperature, float):
            return _scalar(np.full(np.shape(clock), self.temperature))
        return self.temperature.temperature_at(clock)


def standard_pressure(altitude: Any) -> float:
    """Pressure (Pa) of the ICAO standard atmosphere at ``altitude`` (m or "5000 ft"), to 11 km.

    Source: ICAO Doc 7488: 6.5 K/km from 288.15 K, exponent g/(R L) = 5.25588.
    """
    h = parse(altitude, "length", name="altitude", low=-500.0, high=11000.0)
    return STANDARD_ATMOSPHERE * float((1.0 - 0.0065 * h / 288.15) ** 5.25588)


def _scalar(values: Any) -> Any:
    return float(values) if np.ndim(values) == 0 else values


def _each(values: Any, dimension: str, name: str, **limits: Any) -> tuple[float, ...]:
    if isinstance(values, (str, Mapping)) or not isinstance(values, Iterable):
        raise InputError(name, values, "", "a list", "")
    return tuple(parse(v, dimension, name=f"{name} {i}", **limits) for i, v in enumerate(values, 1))


def _read_temperature(value: Any) -> float | DayNight | TemperatureTable:
    if isinstance(value, (DayNight, TemperatureTable)):
        return value
    if isinstance(value, Mapping):
        return (DayNight if "mean" in value else TemperatureTable).from_dict(value)
    if isinstance(value, (list, tuple)):
        return TemperatureTable.from_pairs(value)
    return parse(value, "temperature", name="ambient temperature", **_AIR)


__all__ = ["Ambient", "Boot", "DayNight", "TemperatureTable", "standard_pressure"]
