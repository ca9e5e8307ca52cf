# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Surroundings: air temperature over the clock, pressure, wind, sun, and a closed boot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from n2osim.hardware.air import Air, AirKind, ConstantAir
from n2osim.schema import Amount, Given, Nested, Number, Part, Typed, Way, field
from n2osim.units import STANDARD_ATMOSPHERE, parse

Temperature = Typed[Any, float | Air]
"""Takes a temperature, a kind of air, pairs (clock, temperature), a Series or a DataFrame."""


@dataclass(frozen=True)
class Boot(Part):
    """Closed boot (trunk) or box around the bottle: an air node of its own.

    Neither wind nor sun reaches the bottle inside it: wind is for what stands outside, and what
    the sun does to the boot is ``solar``.

    >>> import n2osim as n2
    >>> n2.Ambient("84 degF", enclosure=n2.Boot(solar="160 W", conductance=6.5))
    Ambient(temperature='84.0 degF', enclosure=Boot(conductance='6.5 W/K', solar='160 W'))
    """

    heat_capacity: Amount = field(
        "heat_capacity",
        "of the air and the trim that follows it. Default 20 kJ/K (typical)",
        20e3,
        low=10.0,
        high=1e7,
    )
    conductance: Amount = field(
        "conductance", "from that air to the outside. Default 8 (typical)", 8.0, low=0.0, high=1e4
    )
    solar: Amount = field("power", "heat that the sun puts into the boot", 0.0, low=0.0, high=1e4)


def standard_pressure(altitude: Given) -> float:
    """Pressure (Pa) of the ICAO standard atmosphere at ``altitude`` (m or "5000 ft"), to 11 km.

    Source: ICAO Doc 7488: 6.5 K/km from 288.15 K, exponent g/(R L) = 5.25588.

    >>> import n2osim as n2
    >>> from n2osim.units import to_psia
    >>> round(to_psia(n2.standard_pressure("4800 ft")), 1)
    12.3
    """
    h = parse(altitude, "length", name="altitude", low=-500.0, high=11000.0)
    return STANDARD_ATMOSPHERE * float((1.0 - 0.0065 * h / 288.15) ** 5.25588)


@dataclass(frozen=True)
class Ambient(Part):
    """What surrounds the bottle.

    >>> import n2osim as n2
    >>> from n2osim.units import to_degF
    >>> air = [("08:00", "54 degF"), ("14:00", "83 degF")]
    >>> paddock = n2.Ambient(air, pressure=n2.standard_pressure("2600 ft"), air_speed="5 mph")
    >>> print(f"{to_degF(paddock.temperature_at(11 * 3600)):.1f} degF at eleven")
    68.5 degF at eleven
    """

    temperature: Temperature = field(
        AirKind(),
        "air temperature: one, a list of pairs, or a table",
        294.26,
        shown="294.26 K (70.0 degF)",
    )
    pressure: Amount = field(
        "pressure",
        "absolute pressure of the air (or, in a file, `altitude`; in Python `standard_pressure`)",
        STANDARD_ATMOSPHERE,
        low=30e3,
        high=120e3,
    )
    air_speed: Amount = field(
        "speed", "wind past the bottle; none of it gets into an enclosure", 0.0, low=0.0, high=100.0
    )
    sun: Amount = field(
        "heat_flux",
        "irradiance on the bottle's projected area; none inside an enclosure, which has "
        "its `solar`",
        0.0,
        low=0.0,
        high=1500.0,
    )
    enclosure: Boot | None = field(Nested(Boot), "a closed boot or box around the bottles", None)
    ways: ClassVar = {
        "altitude": Way(
            Number("length", -500.0, 11000.0),
            "sets `pressure` from the standard atmosphere",
            ("pressure",),
            lambda altitude: {"pressure": standard_pressure(altitude)},
        )
    }

    @property
    def air(self) -> Air:
        """The air outside as one of its kinds."""
        found = self.temperature
        return found if isinstance(found, Air) else ConstantAir(found)

    @property
    def wind_on_bottle(self) -> float:
        """Air speed (m/s) at the bottle: none in an enclosure."""
        return 0.0 if self.enclosure is not None else self.air_speed

    @property
    def sun_on_bottle(self) -> float:
        """Irradiance (W/m2) on the bottle: none in an enclosure."""
        return 0.0 if self.enclosure is not None else self.sun

    def temperature_at(self, clock: Any) -> Any:
        """Outside air temperature (K) at ``clock`` (s after midnight; float or array)."""
        return self.air.temperature_at(clock)
