# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Engine side of the shot: what the engine burns by itself, fuel jets and accounting choices."""

from __future__ import annotations

from dataclasses import dataclass

from n2osim.errors import InputError
from n2osim.hardware.jets import Jets
from n2osim.schema import Amount, Choice, Flag, MaybeAmount, Nested, Part, Text, field

POWER_AT = ("crank", "wheel")


@dataclass(frozen=True)
class EngineSide(Part):
    """What the mixture and power figures need to know about the engine."""

    fuel: str = field(Text("the name of a fuel"), "fuel of the shot", "petrol")
    target_mixture: Amount = field(
        "number",
        "fuel-air equivalence ratio wanted for the shot alone (1 = stoichiometric, above 1 rich). "
        "Default 1.15 (common practice, no source)",
        1.15,
        low=0.2,
        high=5.0,
    )
    bsfc: MaybeAmount = field(
        "bsfc",
        'brake-specific fuel consumption ("0.5 lb/hp/h"): extra fuel supplied at the target '
        "mixture to extra power, of this fuel (or give `efficiency`)",
        None,
        low=2e-8,
        high=5e-7,
    )
    base_air: MaybeAmount = field(
        "mass_flow", "air flow of the engine without the shot", None, low=0.0, high=10.0
    )
    base_fuel: MaybeAmount = field(
        "mass_flow", "fuel flow of the engine without the shot", None, low=0.0, high=5.0
    )
    fuel_jets: Jets | None = field(Nested(Jets), "jets of the shot's fuel side", None)
    fuel_pressure: MaybeAmount = field(
        "gauge_pressure", 'ahead of the fuel jets ("43 psig")', None, low=0.0, high=5e7
    )
    fuel_density: MaybeAmount = field(
        "density", "density of the fuel (left out: the fuel's own)", None, low=400.0, high=1200.0
    )
    regulator_referenced: bool = field(
        Flag(),
        "true when the fuel regulator follows boost, so that the pressure across the fuel jets "
        "stays `fuel_pressure`",
        False,
    )
    intake_temperature: Amount = field(
        "temperature", "charge air before the shot", 305.0, low=230.0, high=500.0
    )
    intake_pressure: Amount = field(
        "gauge_pressure", "GAUGE pressure where the jets discharge (boost)", 0.0, low=-1e5, high=1e6
    )
    decomposition: bool = field(
        Flag(), "whether the heat of N2O decomposition counts towards power", False
    )
    power_at: str = field(
        Choice(*POWER_AT),
        "`crank` or `wheel`; wheel power is crank power times `driveline_efficiency`",
        "crank",
    )
    driveline_efficiency: Amount = field(
        "fraction", "wheel power over crank power", 0.85, low=0.3, high=1.0
    )
    efficiency: MaybeAmount = field(
        "fraction",
        "brake efficiency of the fuel that burns, instead of `bsfc`. With neither it is 0.313, "
        "what 0.5 lb/hp/h of petrol at a mixture of 1.15 stands for (common practice, no source)",
        None,
        low=0.05,
        high=0.6,
    )

    def __post_init__(self) -> None:
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
