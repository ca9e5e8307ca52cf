# ruff: noqa: RUF009 - Quantity() makes a descriptor, never a shared default
"""Feed system from the pick-up tube to the jets."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Self

from n2osim.errors import InputError, UnknownNameError
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
from n2osim.units import INCH

# Inside diameter of flexible hose by dash size (sixteenths of an inch of the tube it replaces);
# typical of braided hose, recalled from SAE J517 100R5-style tables: check the maker's sheet.
DASH_BORES = {3: 0.125, 4: 0.219, 5: 0.25, 6: 0.344, 8: 0.438, 10: 0.562, 12: 0.688}

MODELS = {
    "spi": "spi",
    "incompressible": "spi",
    "hem": "hem",
    "homogeneous equilibrium": "hem",
    "nhne": "nhne",
    "dyer": "nhne",
    "omega": "omega",
    "hne-ds": "omega",
    "hne": "hne",
    "boiling delay": "hne",
}
"""Orifice models by literature name (and synonyms); the value is the short name kept."""


@dataclass(frozen=True)
class FeedLine(Part):
    """Tube or hose carrying N2O.

    Parameters
    ----------
    length, bore : m (or text).
    roughness : absolute wall roughness, m. Default 1.5e-6 (drawn tubing, Moody 1944).
    fittings_k : sum of loss coefficients of bends and fittings, referred to the bore.
    extra_volume : volume beyond the bore (filter bowl, distribution block), m3.
    closable : True when valves can shut liquid in at both ends (trapped liquid is then checked).
    """

    length: Checked = Quantity("length", low=0.0, high=20.0)
    bore: Checked = Quantity("length", low=5e-4, high=0.05)
    roughness: Checked = Quantity("length", 1.5e-6, low=0.0, high=1e-3)
    fittings_k: Checked = Quantity("number", 0.0, low=0.0, high=200.0)
    extra_volume: Checked = Quantity("volume", 0.0, low=0.0, high=5e-3)
    closable: bool = True

    def __post_init__(self) -> None:
        flag(self.closable, "feed line closable")

    @classmethod
    def from_dash(cls, size: int, length: Any, **others: Any) -> Self:
        """Hose of a dash size ("-4" is ``4``); bores in ``DASH_BORES`` are typical values."""
        if size not in DASH_BORES:
            raise UnknownNameError.among("dash size", str(size), [str(s) for s in DASH_BORES])
        return cls(length=length, bore=DASH_BORES[size] * INCH, **others)

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
    """Bottle valve or solenoid as an orifice: ``area`` (m2) or ``bore`` (m), and ``cd``."""

    bore: MaybeChecked = OptionalQuantity("length", low=1e-4, high=0.05)
    area: MaybeChecked = OptionalQuantity("area", low=1e-8, high=2e-3)
    cd: Checked = Quantity("fraction", 0.7, low=0.1, high=1.0)

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

    Parameters
    ----------
    jets : :class:`Jets` at the end.
    line : hose (:class:`FeedLine`) or None for no line loss.
    valve : solenoid (:class:`Valve`) or None.
    model : orifice model at the jets: "spi", "hem", "nhne", "omega" or "hne" (default; it meets
        measured plateaus, see physics/orifice.py; the jets' length counts with it alone).
    bottle_valve : :class:`Valve` at the bottle or None.
    pickup : pick-up tube (:class:`FeedLine`) or None.
    distribution : tubes behind the solenoid (:class:`FeedLine`) or None.
    """

    jets: Jets
    line: FeedLine | None = None
    valve: Valve | None = None
    model: str = "hne"
    bottle_valve: Valve | None = None
    pickup: FeedLine | None = None
    distribution: FeedLine | None = None

    _readers = {  # noqa: RUF012 - a class constant, never written
        "jets": optional(Jets),
        "line": optional(FeedLine),
        "valve": optional(Valve),
        "bottle_valve": optional(Valve),
        "pickup": optional(FeedLine),
        "distribution": optional(FeedLine),
    }

    def __post_init__(self) -> None:
        require(self.jets, Jets, "feed jets", allow_none=False)
        for name, kind in (
            ("line", FeedLine),
            ("valve", Valve),
            ("bottle_valve", Valve),
            ("pickup", FeedLine),
            ("distribution", FeedLine),
        ):
            require(getattr(self, name), kind, f"feed {name.replace('_', ' ')}")
        object.__setattr__(self, "model", choice(self.model, MODELS, "orifice model"))

    @classmethod
    def effective_area(cls, area: Any, model: str = "hne") -> Self:
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


__all__ = ["DASH_BORES", "MODELS", "Feed", "FeedLine", "Valve"]
