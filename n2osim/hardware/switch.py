# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Pressure switch: what closes the heater relay, where it senses, and how it can fail."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from n2osim.errors import InputError
from n2osim.numbers import both
from n2osim.schema import Amount, Choice, MaybeAmount, Part, field

SENSORS = ("bottle", "line")
"""Where a switch senses; kernels know the place by its position (``engine.integrate._seen``)."""
FAULTS = ("welded", "stuck open")
"""How a switch can fail; kernels know the fault by its position, counted from 1."""


@dataclass(frozen=True)
class PressureSwitch(Part):
    """Normally-closed pressure switch with hysteresis, acting on GAUGE pressure.

    >>> import n2osim as n2
    >>> from n2osim.units import in_unit
    >>> switch = n2.PressureSwitch("865 psig", "905 psig", offset="-8 psi")
    >>> width = in_unit(switch.opens - switch.closes, "pressure_difference", "psi")
    >>> print(f"{width:.0f} psi wide")
    40 psi wide
    """

    extensible = True
    asked: ClassVar[bool] = False
    """Whether a run asks it in Python (``asked.Controller``)."""
    closes: Amount = field("gauge_pressure", "heater on at or below this", low=0.0, high=30e6)
    opens: Amount = field("gauge_pressure", "heater off at or above this", low=0.0, high=30e6)
    sensor: str = field(
        Choice(*SENSORS),
        "what it reads: `bottle`, or `line` behind the bottle valve: with the valve shut it reads "
        "zero, so the heater is never switched off",
        "bottle",
    )
    lag: Amount = field(
        "time", "first-order time constant of what the switch sees", 0.0, low=0.0, high=3600.0
    )
    offset: Amount = field(
        "pressure_difference", "the switch sees true pressure plus this", 0.0, low=-5e6, high=5e6
    )
    tolerance: Amount = field(
        "pressure_difference",
        "half-width of the set-point scatter (used by uncertainty studies)",
        0.0,
        low=0.0,
        high=5e6,
    )
    fault: str | None = field(
        Choice(*FAULTS),
        "left out (no fault), `welded` (relay contacts stay closed) or `stuck open` (never closes)",
        None,
    )
    rated_switchings: MaybeAmount = field(
        "number", "what the relay is rated for, switchings per hour", None, low=0.0, low_open=True
    )

    def __init_subclass__(cls, **more: Any) -> None:
        super().__init_subclass__(**more)
        own = [n for n, v in vars(cls).items() if callable(v) and not n.startswith("_")]
        if own and not cls.asked and cls.pack is PressureSwitch.pack:
            raise InputError(
                f"{cls.__name__}.{own[0]}",
                "a method of its own",
                "",
                "a switch whose set points a run reads by `pack`, and no other method",
                "a run would never call it: write a n2osim.extend.Controller, or change the set "
                "points in `pack` (n2osim/docs/extending.md)",
            )

    def __post_init__(self) -> None:
        if self.closes >= self.opens:
            raise InputError(
                "pressure switch closes",
                self.closes,
                "Pa gauge",
                f"below opens, {both(self.opens, 'gauge_pressure')}: closes is "
                f"{both(self.closes, 'gauge_pressure')}",
                "the heater must come on at a lower pressure than it goes off: lower "
                "closes or raise opens",
            )

    @property
    def band(self) -> tuple[float, float]:
        """Closing and opening point, Pa gauge."""
        return self.closes, self.opens

    def pack(self, record: Any) -> None:
        """Write itself into the record of a run."""
        record["closes"], record["opens"] = self.closes, self.opens
        record["lag"], record["offset"] = self.lag, self.offset
        record["fault"] = 0 if self.fault is None else 1 + FAULTS.index(self.fault)
        record["line_side"] = SENSORS.index(self.sensor)

    def pack_relay(self, record: Any) -> None:
        """Write into the record of a bottle that follows this switch what its relay does to it:
        welded, it feeds that heater too."""
        if self.fault == "welded":
            record["fault"] = 1 + FAULTS.index(self.fault)
