"""The electrical side of a heater: element, current, fuse, wire, and what its surface must bear."""

from __future__ import annotations

import math
from typing import NamedTuple

from n2osim.hardware.heater import FUSE_MARGIN, Heater, Supply
from n2osim.units import INCH

FUSES = (1, 2, 3, 5, 7.5, 10, 15, 20, 25, 30, 40, 50, 60, 70, 80, 100, 125, 150, 175, 200, 250, 300)
"""A: sizes of vehicle fuses, blade to bolt-down (common practice, no source)."""
WIRES = {
    18: 20.0,
    16: 25.0,
    14: 35.0,
    12: 45.0,
    10: 60.0,
    8: 80.0,
    6: 120.0,
    4: 160.0,
    2: 210.0,
    1: 245.0,
}
"""AWG to A of copper wire, 105 degC insulation, outside engine spaces (ABYC E-11; from memory)."""
DROP, RUN = 0.03, 2.0 * 4.5
"""Voltage drop allowed (ABYC E-11: 3 % for what matters; from memory), m of wire out and back."""
COPPER = 1.724e-8  # ohm m at 20 degC (IACS)
BLANKET = 5.0 / INCH**2
"""W/m2: 5 W per square inch, what silicone-rubber blankets bear on metal with a thermostat (common
practice, no source)."""


class Wiring(NamedTuple):
    """rated_power (W) at rated_voltage (V; None: given in plain watts), resistance (ohm) of the
    element when it takes delivered_power (W) at terminal_voltage (V), current A, fuse A, wire AWG;
    the last two None where no size is large enough."""

    rated_power: float
    rated_voltage: float | None
    resistance: float
    delivered_power: float
    terminal_voltage: float
    current: float
    fuse: float | None
    wire: int | None


def wiring(heater: Heater, supply: Supply) -> Wiring:
    """The circuit of one heater that is on, others off. NaN where the supply cannot give it."""
    if heater.element_conductance:
        resistance = 1.0 / heater.element_conductance
        volts = float(supply.voltage_at(heater.element_conductance))
        current = volts / resistance
        power = volts * current
    else:
        power = heater.constant_power
        current = supply_current(supply, power)
        volts = supply.voltage - current * supply.resistance
        resistance = volts / current if current > 0.0 else math.inf
    rated = power if heater.power is None else heater.power
    return Wiring(
        rated,
        heater.voltage,
        resistance,
        power,
        volts,
        current,
        fuse(current),
        wire(current, volts),
    )


def supply_current(supply: Supply, power: float) -> float:
    """Current (A) of a load that takes ``power`` (W) behind the supply's resistance.

    NaN when the supply cannot give that power (the most is V^2 / 4r).
    """
    v, r = supply.voltage, supply.resistance
    if 4.0 * r * power > v * v:
        return math.nan
    return 2.0 * power / (v + math.sqrt(v * v - 4.0 * r * power))


def fuse(current: float) -> float | None:
    """Smallest fuse (A) of at least 125 % of a current that stays on."""
    return next((float(f) for f in FUSES if f >= FUSE_MARGIN * current), None)


def wire(current: float, volts: float) -> int | None:
    """Thinnest copper wire (AWG) that carries the fuse's current and drops 3 % at most."""
    protected = fuse(current)
    if protected is None:
        return None
    for gauge, ampacity in WIRES.items():
        diameter = 0.127e-3 * 92.0 ** ((36 - gauge) / 39.0)  # definition of AWG
        drop = current * COPPER * RUN / (0.25 * math.pi * diameter**2)
        if ampacity >= protected and drop <= DROP * volts:
            return gauge
    return None


RULES = (
    "fuse: the next size above 125 % of a load that stays on (NFPA 70, 210.20(A), from memory); "
    "wire: copper that carries the fuse's current (ABYC E-11, 105 degC insulation, from memory) "
    f"and drops 3 % at most over {RUN:.0f} m out and back, which is assumed"
)
