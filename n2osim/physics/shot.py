"""Extra power of a shot by the accounting that an engine side states."""

from __future__ import annotations

from typing import Any

from n2osim.hardware.engine import EngineSide
from n2osim.physics import combustion as C
from n2osim.physics.fuels import Fuel, fuel


def fuel_of(engine: EngineSide) -> Fuel:
    """The fuel of an engine side by its name."""
    return fuel(engine.fuel)


def shot_power_of(engine: EngineSide, of: Fuel, n2o: Any, given: Any) -> C.ShotPower:
    """Extra power by the engine side's own accounting."""
    efficiency = engine.efficiency
    if engine.bsfc is None and efficiency is None:
        efficiency = C.DEFAULT_EFFICIENCY
    return C.shot_power(
        n2o,
        of,
        engine.target_mixture,
        bsfc=engine.bsfc,
        efficiency=efficiency,
        decomposition=engine.decomposition,
        power_at=engine.power_at,
        driveline_efficiency=engine.power_factor,
        fuel_flow=given,
    )
