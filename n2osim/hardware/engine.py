# ruff: noqa: RUF009 - Quantity() makes a descriptor, never a shared default
"""Engine side of the shot: what the engine burns by itself, fuel jets and accounting choices."""

from __future__ import annotations

from dataclasses import dataclass

from n2osim.errors import InputError
from n2osim.hardware._part import (
    Checked,
    MaybeChecked,
    OptionalQuantity,
    Part,
    Quantity,
    choice,
    flag,
    optional,
    require,
)
from n2osim.hardware.jets import Jets

POWER_AT = ("crank", "wheel")


@dataclass(frozen=True)
class EngineSide(Part):
    """What the mixture and power figures need to know about the engine.

    Parameters
    ----------
    fuel : name of the fuel of the shot (looked up by the combustion functions).
    target_mixture : fuel-air equivalence ratio wanted for the shot alone (1 = stoichiometric,
        above 1 rich). Default 1.15 (common practice, no source).
    bsfc : brake-specific fuel consumption, kg/J ("0.5 lb/hp/h"): extra fuel supplied at the target
        mixture to extra power, of this fuel; or
    efficiency : brake efficiency of the fuel that burns, 0.05 to 0.6. With neither it is 0.313,
        what 0.5 lb/hp/h of petrol at a mixture of 1.15 stands for (common practice, no source).
    base_air, base_fuel : flows of the engine without the shot, kg/s, or None.
    fuel_jets : :class:`Jets` of the shot's fuel side, or None.
    fuel_pressure : GAUGE pressure ahead of the fuel jets, Pa ("43 psig"), or None.
    fuel_density : kg/m3, or None for the fuel's own.
    regulator_referenced : True when the fuel regulator follows boost, so that the pressure across
        the fuel jets stays ``fuel_pressure``.
    intake_temperature : charge air before the shot, K.
    intake_pressure : GAUGE pressure where the jets discharge (boost), Pa.
    decomposition : whether the heat of N2O decomposition counts towards power.
    power_at : "crank" or "wheel"; wheel power is crank power times ``driveline_efficiency``.
    """

    fuel: str = "petrol"
    target_mixture: Checked = Quantity("number", 1.15, low=0.2, high=5.0)
    bsfc: MaybeChecked = OptionalQuantity("bsfc", low=2e-8, high=5e-7)
    base_air: MaybeChecked = OptionalQuantity("mass_flow", low=0.0, high=10.0)
    base_fuel: MaybeChecked = OptionalQuantity("mass_flow", low=0.0, high=5.0)
    fuel_jets: Jets | None = None
    fuel_pressure: MaybeChecked = OptionalQuantity("gauge_pressure", low=0.0, high=5e7)
    fuel_density: MaybeChecked = OptionalQuantity("density", low=400.0, high=1200.0)
    regulator_referenced: bool = False
    intake_temperature: Checked = Quantity("temperature", 305.0, low=230.0, high=500.0)
    intake_pressure: Checked = Quantity("gauge_pressure", 0.0, low=-1e5, high=1e6)
    decomposition: bool = False
    power_at: str = "crank"
    driveline_efficiency: Checked = Quantity("fraction", 0.85, low=0.3, high=1.0)
    efficiency: MaybeChecked = OptionalQuantity("fraction", low=0.05, high=0.6)

    _readers = {"fuel_jets": optional(Jets)}  # noqa: RUF012 - a class constant, never written

    def __post_init__(self) -> None:
        if not isinstance(self.fuel, str) or not self.fuel.strip():
            raise InputError("engine side fuel", self.fuel, "", "the name of a fuel", "")
        require(self.fuel_jets, Jets, "engine side fuel jets")
        flag(self.regulator_referenced, "engine side regulator referenced")
        flag(self.decomposition, "engine side decomposition")
        object.__setattr__(self, "power_at", choice(self.power_at, POWER_AT, "power at"))
        if self.bsfc is not None and self.efficiency is not None:
            raise InputError(
                "engine side",
                f"bsfc={self.bsfc}, efficiency={self.efficiency}",
                "",
                "either bsfc or efficiency",
                "give one of them",
            )
        if self.fuel_jets is not None and self.fuel_pressure is None:
            raise InputError(
                "engine side fuel pressure",
                None,
                "",
                "a gauge pressure",
                "fuel jets need the pressure ahead of them",
            )

    @property
    def power_factor(self) -> float:
        """Crank power to the power that is printed."""
        return self.driveline_efficiency if self.power_at == "wheel" else 1.0


__all__ = ["POWER_AT", "EngineSide"]
