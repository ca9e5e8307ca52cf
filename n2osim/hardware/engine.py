# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Engine side of the shot: what the engine burns by itself, fuel jets and accounting choices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from n2osim.errors import InputError
from n2osim.hardware.jets import Jets
from n2osim.schema import (
    Amount,
    Choice,
    Custom,
    Flag,
    MaybeAmount,
    MaybePairs,
    Nested,
    Number,
    Pairs,
    Part,
    Text,
    field,
)
from n2osim.units import format_quantity

POWER_AT = ("crank", "wheel")
_TIME, _GAUGE = Number("time", 0.0), Number("gauge_pressure", -1e5, 5e7)


def _course(given: Sequence[Sequence[Any]], label: str, owner: Any) -> Pairs:
    """Pairs (s since a pass began, Pa gauge) with rising times."""
    rows = list(given) if isinstance(given, (list, tuple)) else []
    if not rows or not all(isinstance(r, (list, tuple)) and len(r) == 2 for r in rows):
        raise InputError(
            label,
            given,
            "",
            "a list of pairs (s since the pass began, gauge pressure)",
            'write [[0, "43 psig"], [8, "38 psig"]]',
        )
    course = tuple(
        (_TIME.read(t, f"{label} time", owner), _GAUGE.read(p, label, owner)) for t, p in rows
    )
    if any(b[0] <= a[0] for a, b in zip(course[:-1], course[1:], strict=True)):
        raise InputError(label, given, "", "times that rise", "sort the pairs")
    return course


def _at(time: Any, course: Pairs | None, constant: float | None) -> Any:
    """A course (straight lines, held at both ends) or constant at a time; float or array."""
    if course is None:
        return constant
    times, values = zip(*course, strict=True)
    found = np.interp(time, times, values)
    return float(found) if np.ndim(found) == 0 else found


@dataclass(frozen=True)
class EngineSide(Part):
    """What the mixture and power figures need to know about the engine.

    >>> import n2osim as n2
    >>> n2.EngineSide(fuel="E85", target_mixture=1.1, bsfc="0.7 lb/hp/h", fuel_pressure="48 psig")
    EngineSide(fuel='E85', target_mixture='1.1', bsfc='0.7 lb/hp/h', fuel_pressure='48.0 psig')
    """

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
        "mixture to extra power, of this fuel; it holds for all of that power, decomposition heat "
        "included (or give `efficiency`)",
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

    fuel_pressure_course: MaybePairs = field(
        Custom(_course),
        "`fuel_pressure` over a pass, a pump that sags: pairs of time since the pass began and "
        "gauge pressure, straight lines between; `fuel_pressure` is then its first value",
        None,
    )
    boost_course: MaybePairs = field(
        Custom(_course),
        "`intake_pressure` over a pass, boost that builds, as `fuel_pressure_course`; N2O jets see "
        "its first value",
        None,
    )

    def __post_init__(self) -> None:
        for course, constant in (
            (self.fuel_pressure_course, "fuel_pressure"),
            (self.boost_course, "intake_pressure"),
        ):
            if course is not None:
                object.__setattr__(self, constant, course[0][1])
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
        self._check_drop()

    def _check_drop(self) -> None:
        """Fuel flows only while its pressure is above the boost it is injected into."""
        if self.fuel_pressure is None or self.regulator_referenced:
            return
        times = [t for c in (self.fuel_pressure_course, self.boost_course) for t, _ in c or ()]
        for t in times or [0.0]:
            fuel, boost = self.fuel_pressure_at(t), self.intake_pressure_at(t)
            if not fuel > boost:
                raise InputError(
                    "engine side fuel pressure",
                    format_quantity(fuel, "gauge_pressure") + (f" at {t:g} s" if times else ""),
                    "",
                    f"above the intake's {format_quantity(boost, 'gauge_pressure')}, or none flows",
                    "raise it, or use a regulator referenced to boost",
                )

    def fuel_pressure_at(self, time: Any) -> Any:
        """Gauge pressure (Pa) ahead of the fuel jets, s after a pass began (float or array)."""
        return _at(time, self.fuel_pressure_course, self.fuel_pressure)

    def intake_pressure_at(self, time: Any) -> Any:
        """Gauge pressure (Pa) that the jets blow into, s after a pass began (float or array)."""
        return _at(time, self.boost_course, self.intake_pressure)

    @property
    def power_factor(self) -> float:
        """Crank power to the power that is printed."""
        return self.driveline_efficiency if self.power_at == "wheel" else 1.0
