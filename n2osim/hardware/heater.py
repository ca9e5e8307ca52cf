# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Bottle heater, its surface cut-out and the electrical supply."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from n2osim.errors import InputError
from n2osim.numbers import both
from n2osim.schema import Amount, Choice, MaybeAmount, Nested, Part, field

BLANKETS = ("around", "lower", "side", "top")
DRY_WALL_MARGIN: dict[tuple[str, bool], tuple[float, float]] = {
    ("top", False): (2.83e5, 7.13e5),
    ("top", True): (2.83e5, 7.13e5),
}
"""Pressure (Pa, from and to) above the computed one that a layered fluid can stand at, by where the
blanket lies and whether the bottle stands; places that are not in it are within 35 kPa (5 psi).
Two layers at 1000 psia and 620 kg/m3: a twentieth of the mass 2 K warmer (41 psi), a tenth 5 K
(103 psi); computed with the equation of state, not measured."""
FUSE_MARGIN = 1.25
"""Fuse over a load that stays on (NFPA 70 article 210.20(A): 125 %; from memory)."""
VOLTAGE_DROP = 0.1
"""Most of the supply's voltage that its wiring should keep back (ABYC E-11, for what is not
critical; from memory)."""
_SMALLEST_HEAT_CAPACITY = 0.1
_SMALLEST_CONTACT = 1e-6


@dataclass(frozen=True)
class CutOut(Part):
    """Surface thermostat of the heater: opens when hot, closes again when cooler.

    >>> import n2osim as n2
    >>> n2.Heater("420 W", cut_out=n2.CutOut(opens="175 degF", closes="155 degF"))
    Heater(power='420 W', cut_out=CutOut(opens='175.0 degF', closes='155.0 degF'))
    """

    opens: Amount = field("temperature", "of the heater itself: off", low=200.0, high=800.0)
    closes: Amount = field(
        "temperature", "of the heater itself: on again, below `opens`", low=200.0, high=800.0
    )
    pause: Amount = field(
        "time",
        "shortest time that it stays open: a contact does not follow a heater of next to no mass, "
        "which would open it fifty times a second (our choice, no source)",
        5.0,
        low=1e-3,
        high=3600.0,
    )

    def __post_init__(self) -> None:
        if self.closes >= self.opens:
            raise InputError(
                "cut out closes",
                self.closes,
                "K",
                f"below opens, {both(self.opens, 'temperature')}: closes is "
                f"{both(self.closes, 'temperature')}",
                "a thermostat without hysteresis would chatter: lower closes",
            )

    def pack(self, record: Any) -> None:
        """Write itself into the record of a run."""
        record["cut_opens"], record["cut_closes"] = self.opens, self.closes
        record["cut_pause"] = self.pause


@dataclass(frozen=True)
class Supply(Part):
    """Electrical supply: an open-circuit voltage behind a source resistance.

    >>> import n2osim as n2
    >>> weak = n2.Supply("12.4 V", "30 milliohm")
    >>> heater = n2.Heater("340 W", voltage="14 V")
    >>> volts = weak.voltage_at(heater.element_conductance)
    >>> print(f"{volts:.1f} V, {heater.power_at(volts):.0f} W")
    11.8 V, 241 W
    """

    voltage: Amount = field(
        "voltage",
        "open-circuit voltage (common practice, no source: 12 V battery alone, 14.4 V with the "
        "engine charging, 16 V battery)",
        14.4,
        low=1.0,
        high=60.0,
    )
    resistance: Amount = field(
        "resistance", "source resistance: battery, cable, relay", 0.0, low=0.0, high=10.0
    )
    fuse: MaybeAmount = field(
        "current", "rating of the fuse that all heaters hang on", None, low=0.1, high=1000.0
    )

    def voltage_at(self, load_conductance: Any) -> Any:
        """Terminal voltage (V) with a resistive load of ``load_conductance`` (1/ohm; array ok)."""
        return self.voltage / (1.0 + self.resistance * load_conductance)


@dataclass(frozen=True)
class Heater(Part):
    """Electric heater wrapped around part of the shell.

    Exactly one of these: ``power``; ``resistance``; ``power`` and ``voltage``.

    >>> import n2osim as n2
    >>> blanket = n2.Heater("340 W", voltage="14 V", coverage="60 %")
    >>> print(f"{blanket.power_at(12.5):.0f} W, {blanket.current_at(12.5):.0f} A on 12.5 V")
    271 W, 22 A on 12.5 V
    """

    power: MaybeAmount = field(
        "power",
        "constant electric power, or the rated power when `voltage` is given too",
        None,
        low=0.0,
        high=20e3,
    )
    coverage: Amount = field(
        "fraction",
        "fraction of the shell's whole outside surface under the heater, 0.01 to 0.99",
        0.5,
        low=0.01,
        high=0.99,
    )
    contact_resistance: Amount = field(
        "contact_resistance",
        "between heater and shell. Default 1e-3 (typical: strapped on, an air film of some "
        "0.03 mm)",
        1e-3,
        low=0.0,
        high=1.0,
    )
    heat_capacity: Amount = field(
        "heat_capacity",
        "of the heater itself. Default 500 (typical: 0.4 kg of silicone-glass sheet at "
        "1200 J/kg/K)",
        500.0,
        low=0.0,
        high=1e5,
    )
    cover_resistance: Amount = field(
        "contact_resistance",
        "insulation on the heater's outer face. Default 0.1 (typical: 4 mm of closed-cell foam at "
        "0.04 W/m/K)",
        0.1,
        low=0.0,
        high=100.0,
    )
    cut_out: CutOut | None = field(Nested(CutOut), "surface thermostat", None)
    resistance: MaybeAmount = field(
        "resistance",
        "element resistance; then the power is V^2/R of the actual supply voltage",
        None,
        low=1e-3,
        high=1e4,
    )
    voltage: MaybeAmount = field(
        "voltage",
        "rated voltage; with `power` it gives the resistance V^2 / power, and the supply decides "
        "the power",
        None,
        low=1.0,
        high=500.0,
    )
    self_limit: Amount = field(
        "temperature_coefficient",
        "loss of power per kelvin over `self_limit_reference` (self-limiting elements; 0 for an "
        "ordinary one): factor `max(0, 1 - self_limit (T - reference))`",
        0.0,
        low=0.0,
        high=1.0,
    )
    self_limit_reference: Amount = field(
        "temperature", "temperature that `self_limit` counts from", 293.15, low=200.0, high=600.0
    )
    blanket: str = field(
        Choice(*BLANKETS),
        "where it lies, as the bottle is mounted: `around`, on the `lower` half, on one `side`, or "
        "on the `top` half, where it heats the wall above the liquid and the fluid layers",
        "around",
    )

    def __post_init__(self) -> None:
        if (self.power is None) == (self.resistance is None):
            raise InputError(
                "heater",
                f"power={self.power}, resistance={self.resistance}",
                "",
                "either power or resistance",
                "give power ('300 W'), or resistance ('0.69 ohm'), or power with the "
                "voltage it is rated at",
            )
        if self.voltage is not None and not self.power:
            raise InputError(
                "heater voltage",
                self.voltage,
                "V",
                "only together with power",
                "a resistance alone is enough: the supply sets the voltage",
            )

    @property
    def element_conductance(self) -> float:
        """1/R of a resistive element (1/ohm), 0 for a constant-power heater."""
        if self.resistance is not None:
            return 1.0 / self.resistance
        if self.voltage is not None and self.power:
            return self.power / self.voltage**2
        return 0.0

    @property
    def constant_power(self) -> float:
        """Power that does not depend on the supply voltage (W), 0 for a resistive element."""
        return 0.0 if self.element_conductance else float(self.power or 0.0)

    def power_at(self, voltage: Any = 14.4, temperature: Any = None) -> Any:
        """Electric power (W) at supply ``voltage`` (V), element ``temperature`` (K); arrays ok."""
        power = self.constant_power + self.element_conductance * np.square(voltage)
        if temperature is not None:
            excess = np.asarray(temperature) - self.self_limit_reference
            power = power * np.maximum(0.0, 1.0 - self.self_limit * excess)
        return float(power) if np.ndim(power) == 0 else power

    def current_at(self, voltage: float = 14.4, temperature: Any = None) -> Any:
        """Current (A) drawn at supply ``voltage`` (V)."""
        return self.power_at(voltage, temperature) / voltage

    @property
    def node_heat_capacity(self) -> float:
        """Heat capacity for the heater's node (J/K); a massless heater keeps 0.1 J/K."""
        return max(self.heat_capacity, _SMALLEST_HEAT_CAPACITY)

    def contact_conductance(self, covered_area: float) -> float:
        """Heater-to-shell conductance (W/K) over ``covered_area`` (m2), kept finite."""
        return covered_area / max(self.contact_resistance, _SMALLEST_CONTACT)
