# ruff: noqa: RUF009 - Quantity() makes a descriptor, never a shared default
"""Pressure switch: what closes the heater relay, where it senses, and how it can fail."""

from __future__ import annotations

from dataclasses import dataclass

from n2osim.errors import InputError
from n2osim.hardware._part import Checked, MaybeChecked, OptionalQuantity, Part, Quantity, choice

SENSORS = ("bottle", "line")
FAULTS = ("welded", "stuck open")


@dataclass(frozen=True)
class PressureSwitch(Part):
    """Normally-closed pressure switch with hysteresis, acting on GAUGE pressure.

    Parameters
    ----------
    closes, opens : gauge pressures (Pa or "1000 psig"): heater on at or below ``closes``, off at or
        above ``opens``. ``closes < opens``.
    sensor : "bottle" (reads the bottle) or "line" (behind the bottle valve: with the valve shut it
        reads zero, so the heater is never switched off).
    lag : first-order time constant of what the switch sees, s.
    offset : the switch sees true pressure plus this, Pa.
    tolerance : half-width of the set-point scatter, Pa (used by uncertainty studies).
    fault : None, "welded" (relay contacts stay closed) or "stuck open" (never closes).
    rated_switchings : what the relay is rated for, switchings per hour (number), or None.
    """

    closes: Checked = Quantity("gauge_pressure", low=0.0, high=30e6)
    opens: Checked = Quantity("gauge_pressure", low=0.0, high=30e6)
    sensor: str = "bottle"
    lag: Checked = Quantity("time", 0.0, low=0.0, high=3600.0)
    offset: Checked = Quantity("pressure_difference", 0.0, low=-5e6, high=5e6)
    tolerance: Checked = Quantity("pressure_difference", 0.0, low=0.0, high=5e6)
    fault: str | None = None
    rated_switchings: MaybeChecked = OptionalQuantity("number", low=0.0, low_open=True)

    def __post_init__(self) -> None:
        sensor = choice(self.sensor, SENSORS, "pressure switch sensor")
        object.__setattr__(self, "sensor", sensor)
        if self.fault is not None:
            object.__setattr__(self, "fault", choice(self.fault, FAULTS, "pressure switch fault"))
        if self.closes >= self.opens:
            raise InputError(
                "pressure switch closes",
                self.closes,
                "Pa gauge",
                f"below opens ({self.opens:.6g} Pa gauge)",
                "the heater must come on at a lower pressure than it goes off: lower "
                "closes or raise opens",
            )


__all__ = ["FAULTS", "SENSORS", "PressureSwitch"]
