# ruff: noqa: RUF009 - Quantity() makes a descriptor, never a shared default
"""Jets: metered orifices."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Self

from n2osim.errors import InputError
from n2osim.hardware._part import Checked, Part, Quantity
from n2osim.units import parse

_ORDER = "write Jets(count, bore), e.g. Jets(1, '0.028 in')"


@dataclass(frozen=True)
class Jets(Part):
    """``count`` equal jets of diameter ``bore`` (m, "0.028 in", "28 thou", "0.7 mm").

    cd : discharge coefficient. It comes from your own flow test or log; the default 0.8 is common
        practice for a short drilled jet, no source.
    """

    count: int
    bore: Checked = Quantity("length", low=5e-5, high=0.02, remedy=_ORDER)
    cd: Checked = Quantity("fraction", 0.8, low=0.1, high=1.0)

    def __post_init__(self) -> None:
        whole = isinstance(self.count, int) and not isinstance(self.count, bool)
        if not whole and hasattr(self.count, "__index__") and not isinstance(self.count, bool):
            object.__setattr__(self, "count", self.count.__index__())
            whole = True
        if not whole or not 1 <= self.count <= 64:
            raise InputError("jets count", self.count, "", "a whole number from 1 to 64", _ORDER)

    @property
    def area(self) -> float:
        """Geometric flow area of all jets, m2."""
        return self.count * math.pi / 4.0 * self.bore**2

    @property
    def cda(self) -> float:
        """Effective area cd * area, m2."""
        return self.cd * self.area

    @classmethod
    def effective(cls, area: Any) -> Self:
        """One jet of cd 1 with this effective area (m2 or text): what a flow test measures."""
        cda = parse(area, "area", name="jets effective area", low=2e-9, high=3e-4)
        return cls(1, math.sqrt(4.0 * cda / math.pi), cd=1.0)


__all__ = ["Jets"]
