# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Feed system from the pick-up tube to the jets."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar, Self

from n2osim.errors import InputError, UnknownNameError
from n2osim.hardware.jets import EFFECTIVE_AREA, Jets
from n2osim.hardware.orifice_models import DEFAULT, MODELS, SYNONYMS
from n2osim.schema import (
    Amount,
    Choice,
    Custom,
    Flag,
    Given,
    MaybeAmount,
    Nested,
    Part,
    Way,
    field,
    take_ways,
)
from n2osim.units import INCH

# Inside diameter of flexible hose by dash size (sixteenths of an inch of the tube it replaces);
# typical of braided hose, recalled from SAE J517 100R5-style tables: check the maker's sheet.
DASH_BORES = {3: 0.125, 4: 0.219, 5: 0.25, 6: 0.344, 8: 0.438, 10: 0.562, 12: 0.688}


def _dash_size(value: Any, label: str, owner: Any) -> float:
    """Bore (m) of a hose by its dash size."""
    if isinstance(value, bool) or not isinstance(value, int):
        raise InputError(label, value, "", "a whole number", "write 4 for a -4 hose")
    if value not in DASH_BORES:
        raise UnknownNameError.among("dash size", str(value), [str(s) for s in DASH_BORES])
    return DASH_BORES[value] * INCH


@dataclass(frozen=True)
class FeedLine(Part):
    """Tube or hose carrying N2O.

    >>> import n2osim as n2
    >>> hose = n2.FeedLine.from_dash(6, "8 ft")
    >>> print(f"{1e3 * hose.bore:.1f} mm bore, {1e6 * hose.volume:.0f} cm3")
    8.7 mm bore, 146 cm3
    """

    length: Amount = field("length", "length", low=0.0, high=20.0)
    bore: Amount = field("length", "inside diameter", low=5e-4, high=0.05)
    roughness: Amount = field(
        "length",
        "absolute wall roughness. Default 1.5e-6 (drawn tubing, Moody 1944)",
        1.5e-6,
        low=0.0,
        high=1e-3,
    )
    fittings_k: Amount = field(
        "number",
        "sum of loss coefficients of bends and fittings, referred to the bore",
        0.0,
        low=0.0,
        high=200.0,
    )
    extra_volume: Amount = field(
        "volume",
        "volume beyond the bore (filter bowl, distribution block)",
        0.0,
        low=0.0,
        high=5e-3,
    )
    closable: bool = field(
        Flag(),
        "true when valves can shut liquid in at both ends (trapped liquid is then checked)",
        True,
    )
    ways: ClassVar = {
        "dash": Way(
            Custom(_dash_size, "whole number", ", ".join(map(str, DASH_BORES))),
            "hose size instead of `bore` (typical inside diameters)",
            ("bore",),
            lambda bore: {"bore": bore},
        )
    }

    @classmethod
    def from_dash(
        cls,
        size: int,
        length: Given,
        roughness: Given = 1.5e-6,
        fittings_k: Given = 0.0,
        extra_volume: Given = 0.0,
        closable: bool = True,
    ) -> Self:
        """Hose of a dash size ("-4" is ``4``); bores in ``DASH_BORES`` are typical values."""
        bore = take_ways(cls, {"dash": size})["bore"]
        return cls(length, bore, roughness, fittings_k, extra_volume, closable)

    @property
    def area(self) -> float:
        """Flow area, m2."""
        return math.pi / 4.0 * self.bore**2

    @property
    def volume(self) -> float:
        """Volume held, m3."""
        return self.area * self.length + self.extra_volume


@dataclass(frozen=True)
class Valve(Part):
    """Bottle valve or solenoid as an orifice: its ``bore`` or its ``area``, and ``cd``.

    >>> import n2osim as n2
    >>> solenoid = n2.Valve("0.11 in", cd=0.66)
    >>> print(f"{1e6 * solenoid.cda:.2f} mm2 effective")
    4.05 mm2 effective
    """

    bore: MaybeAmount = field(
        "length", "diameter of the opening (or give `area`)", None, low=1e-4, high=0.05
    )
    area: MaybeAmount = field("area", "flow area (or give `bore`)", None, low=1e-8, high=2e-3)
    cd: Amount = field("fraction", "discharge coefficient", 0.7, low=0.1, high=1.0)

    def __post_init__(self) -> None:
        if (self.bore is None) == (self.area is None):
            raise InputError(
                "valve",
                f"bore={self.bore}, area={self.area}",
                "",
                "either bore or area",
                "give one of them",
            )

    @property
    def flow_area(self) -> float:
        """Geometric flow area, m2."""
        return self.area if self.area is not None else math.pi / 4.0 * float(self.bore or 0.0) ** 2

    @property
    def cda(self) -> float:
        """Effective area cd * area, m2."""
        return self.cd * self.flow_area


@dataclass(frozen=True)
class Feed(Part):
    """Everything between the liquid and the intake, in flow order.

    >>> import n2osim as n2
    >>> feed = n2.Feed(
    ...     n2.Jets(4, "0.025 in"), line=n2.FeedLine("13 ft", "0.21 in"), valve=n2.Valve("0.1 in")
    ... )
    >>> [name for name, part in feed.parts]
    ['line', 'valve', 'jets']
    """

    jets: Jets = field(Nested(Jets), "the jets at the end")
    line: FeedLine | None = field(Nested(FeedLine), "hose (left out: no loss in it)", None)
    valve: Valve | None = field(Nested(Valve), "solenoid", None)
    model: str = field(
        Choice(*MODELS, synonyms=SYNONYMS),
        "orifice model of the jets and valves; the jets' length counts with `hne` alone; see below",
        DEFAULT,
    )
    bottle_valve: Valve | None = field(Nested(Valve), "the valve on the bottle", None)
    pickup: FeedLine | None = field(Nested(FeedLine), "pick-up tube", None)
    distribution: FeedLine | None = field(Nested(FeedLine), "tubes behind the solenoid", None)
    ways: ClassVar = {
        "effective_area": Way(
            EFFECTIVE_AREA,
            "Cd times area, as a flow test measures it, instead of the jets",
            ("jets",),
            lambda area: {"jets": Jets.effective(area)},
        )
    }

    @classmethod
    def effective_area(cls, area: Given, model: str = DEFAULT) -> Self:
        """A feed with no losses but one orifice of this effective area CdA (m2 or text)."""
        return cls(jets=Jets.effective(area), model=model)

    @property
    def parts(self) -> tuple[tuple[str, FeedLine | Valve | Jets], ...]:
        """(name, part) of what is present, in flow order."""
        order = ("pickup", "bottle_valve", "line", "valve", "distribution", "jets")
        return tuple((n, p) for n in order if (p := getattr(self, n)) is not None)

    @property
    def closed_volume(self) -> float:
        """Volume between bottle valve and solenoid that can shut liquid in, m3 (0 if none)."""
        return self.line.volume if self.line is not None and self.line.closable else 0.0

    @property
    def fill_volume(self) -> float:
        """Volume of line and distribution that must fill before liquid reaches the jets, m3."""
        return sum(p.volume for p in (self.line, self.distribution) if p is not None)
