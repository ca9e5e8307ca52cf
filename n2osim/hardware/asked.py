# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Parts that a run asks as it goes: heater controllers and films of other packages, plain Python.

A run with one of them integrates from question to question (:mod:`n2osim.engine.slices`), each
``period`` (s) long at most; what was answered holds until the next one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from n2osim.hardware.switch import PressureSwitch
from n2osim.schema import Amount, Part, field


@dataclass(frozen=True)
class Seen:
    """What a heater controller is told.

    time : s since the run began. clock : s after midnight. gauge : Pa gauge, as its sensor gives it
    (place, lag and offset included). heater_temperature, wall_temperature (outer face under the
    heater), air_temperature : K. on : what it answered last. memory : empty at the start of a run
    and kept for it until the run's end.
    """

    time: float
    clock: float
    gauge: float
    heater_temperature: float
    wall_temperature: float
    air_temperature: float
    on: bool
    memory: dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class Controller(PressureSwitch):
    """Heater controller of another package: write ``decide``.

    ``closes`` and ``opens`` say the band that it is to keep and is judged by; it need not switch
    there. ``sensor``, ``lag``, ``offset`` and ``fault`` act as they do for a switch. It is asked
    while the heater is armed.
    """

    asked = True
    period: Amount = field("time", "how often it is asked", 1.0, low=1e-3, high=3600.0)

    def decide(self, seen: Seen) -> bool | float:
        """Heater on or off until asked again, or the share (0..1) of its power."""
        raise NotImplementedError


@dataclass(frozen=True)
class InsideWall:
    """What an inside film is told of one part of the wall ("covered" by the heater, or "bare").

    wall_temperature : of its inner surface, K. fluid_temperature : K. pressure : Pa absolute.
    density : of all that is in the bottle, kg/m3. quality : of it, outside 0..1 in one phase.
    wetted : share of the wall under liquid, 0..1. flowing : whether something is drawn. diameter,
    length : of the inside, m. standing : whether the bottle stands. last : what held until now,
    W/m2/K (the correlation's at the start).
    """

    part: str
    wall_temperature: float
    fluid_temperature: float
    pressure: float
    density: float
    quality: float
    wetted: float
    flowing: bool
    diameter: float
    length: float
    standing: bool
    last: float


@dataclass(frozen=True)
class OutsideWall:
    """What an outside film is told of one part ("covered": the heater's face, or "bare").

    surface_temperature, air_temperature : K. air_pressure : Pa absolute. air_speed : m/s.
    emissivity : of the bare surface. diameter, length : of the outside, m.
    """

    part: str
    surface_temperature: float
    air_temperature: float
    air_pressure: float
    air_speed: float
    emissivity: float
    diameter: float
    length: float
    standing: bool


@dataclass(frozen=True, kw_only=True)
class InsideFilm(Part):
    """Film between wall and fluid of another package: write ``coefficient``."""

    extensible = needs_kind = True
    period: Amount = field("time", "how often it is asked", 0.5, low=1e-3, high=3600.0)

    def coefficient(self, wall: InsideWall) -> float:
        """W/m2/K, 0 or more, of one part of the wall."""
        raise NotImplementedError


@dataclass(frozen=True, kw_only=True)
class OutsideFilm(Part):
    """Film between surface and air of another package: write ``coefficient``."""

    extensible = needs_kind = True
    period: Amount = field("time", "how often it is asked", 5.0, low=1e-3, high=3600.0)

    def coefficient(self, wall: OutsideWall) -> float:
        """W/m2/K, 0 or more, convection and radiation together."""
        raise NotImplementedError
