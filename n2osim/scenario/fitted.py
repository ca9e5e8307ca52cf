# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""A bottle in the car: what it holds, how it lies, what heats it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from n2osim.hardware.bottle import Bottle
from n2osim.hardware.heater import Heater
from n2osim.hardware.mounting import Mounting
from n2osim.hardware.switch import PressureSwitch
from n2osim.schema import Amount, Kind, MaybeAmount, Nested, Number, Part, Text, field
from n2osim.units import parse

DENSEST = 1270.0
"""kg/m3: no charge is denser (liquid at the triple point and some pressure)."""


class _Fill(Kind):
    """A mass, or a share of the rated capacity of the bottle ("80 %")."""

    takes = "mass"
    valid = "above 0, up to 1270 kg per m3 of volume"

    def read(self, value: Any, label: str, owner: Any) -> float:
        shell: Bottle = owner.bottle
        if isinstance(value, str) and value.strip().endswith("%"):
            value = shell.capacity * parse(value, "fraction", name=label, low=0.0, high=2.0)
        return Number("mass", 1e-6, DENSEST * shell.volume).read(value, label, owner)


@dataclass(frozen=True)
class FittedBottle(Part):
    """A bottle in the car: what it holds, how it lies, what heats it and what switches the heat.

    >>> import n2osim as n2
    >>> steel = n2.Bottle.preset("steel", "10 lb")
    >>> pair = [
    ...     n2.FittedBottle(steel, fill="8.4 lb", start="79 degF", name="left"),
    ...     n2.FittedBottle(steel, fill="7.3 lb", start="79 degF", name="right"),
    ... ]
    >>> run = n2.simulate(n2.Scenario(pair, schedule=[n2.Pass("7 s", outflow="0.06 lb/s")]))
    >>> print(f"{run.get('pass0.right.end_mass', 'lb'):.2f} lb left in the right one")
    7.09 lb left in the right one
    """

    title = "bottle"
    bottle: Bottle = field(Nested(Bottle), "the shell")
    fill: Amount = field(_Fill(), "charge")
    start: Amount = field(
        "temperature", "temperature of fluid and shell at the beginning", low=183.0, high=500.0
    )
    name: str = field(Text(), "name of the bottle in tables and in the schedule", "bottle")
    heater: Heater | None = field(Nested(Heater), "what heats it", None)
    switch: PressureSwitch | None = field(
        Nested(PressureSwitch), "the pressure switch reading this bottle", None
    )
    follows: str | None = field(
        Text(), "name of the bottle whose switch also feeds this one's heater", None
    )
    mounting: Mounting = field(Nested(Mounting), "how it lies", Mounting())
    wall_start: MaybeAmount = field(
        "temperature", "shell temperature where it differs", None, low=100.0, high=900.0
    )
