# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Jets: metered orifices."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import Any, ClassVar, NamedTuple, Self

from n2osim.schema import Amount, Choice, Given, MaybeAmount, Number, Part, Typed, Way, Whole, field

_ORDER = "write Jets(count, bore), e.g. Jets(1, '0.028 in')"
SHORT_END = 3.2
"""Length over bore up to which a short jet's whole excess counts (physics/short_jet.py)."""
LONG_START = 12.0
"""Length over bore from which none of it is left: that of the measured N2O orifices."""
DRILLED = 2.0
"""Length over bore of a jet of no given length: drilled jets have 1 to 3 (usual, no source)."""


class Edge(NamedTuple):
    """Discharge coefficient of an inlet edge: what to take, and from where to where it is met."""

    cd: float
    low: float
    high: float
    source: str


EDGES = {
    "drilled": Edge(
        0.80,
        0.60,
        0.90,
        "edge not known: common practice; a detached sharp jet has 0.61, short drilled passages "
        "0.73-0.90 (refrigerant tubes well below saturation), near-critical CO2 through sharp "
        "L/D 3-5 0.81-0.87 (Edlebeck et al. 2014, abstract)",
    ),
    "sharp": Edge(
        0.68,
        0.61,
        0.75,
        "N2O, square edges, L/D 10-23, 13 points 0.64-0.73 (Waxman et al., AIAA 2013-3636, "
        "fig. 15, digitised); plateau 0.68 (Nino & Razavi, AIAA 2019-4154)",
    ),
    "rounded": Edge(
        0.78, 0.75, 0.82, "N2O, rounded inlet, L/D 12 (Waxman et al., injector 3: 0.781)"
    ),
    "nozzle": Edge(
        0.945,
        0.92,
        0.98,
        "nitrogen, smooth conical nozzle (Simoneau & Hendricks 1979, p0 > 2.5 p_s)",
    ),
}
"""Inlet edges of a jet with their discharge coefficients; the default is "drilled", not known."""
EFFECTIVE_AREA = Number("area", 2e-9, 3e-4)


def _one_jet(area: float, length_over_bore: float = LONG_START) -> dict[str, Any]:
    bore = math.sqrt(4.0 * area / math.pi)
    return {"count": 1, "bore": bore, "cd": 1.0, "length": length_over_bore * bore}


@dataclass(frozen=True)
class Jets(Part):
    """``count`` equal jets of diameter ``bore`` ("0.028 in", "28 thou", "0.7 mm").

    >>> import n2osim as n2
    >>> jets = n2.Jets(2, "31 thou", cd=0.74)
    >>> print(f"{1e6 * jets.cda:.2f} mm2 effective")
    0.72 mm2 effective
    """

    count: int = field(Whole(1, 64, _ORDER), "number of equal jets")
    bore: Amount = field("length", "diameter of each jet", low=5e-5, high=0.02, remedy=_ORDER)
    cd: Typed[Given | None, float] = field(
        Number("fraction", 0.1, 1.0),
        "discharge coefficient. It comes from your own weighed pass, flow test or log; left out, "
        "it is the usual one of the `edge`",
        None,
    )
    length: MaybeAmount = field(
        Number("length", 0.0, 0.24),  # a long jet of the largest bore
        "of the bore: a short jet passes more of a cold bottle's liquid than a long one; left out, "
        "the jet is taken as drilled, two bores long",
        None,
    )
    edge: str = field(
        Choice(*EDGES),
        "of the inlet: `drilled` (not known), `sharp`, `rounded` or `nozzle`",
        "drilled",
    )
    cd_spread: MaybeAmount = field(
        Number("fraction", 0.0, 1.0),
        "half width of the 95 % interval of a measured `cd`, relative to it; left out, `cd` counts "
        "as not measured and flows carry the whole range of the edge",
        None,
    )
    measured_at: MaybeAmount = field(
        Number("temperature", 182.0, 525.0),
        "temperature of what was drawn when `cd` was measured: there it has taken in what the "
        "orifice model has wrong",
        None,
    )
    ways: ClassVar = {
        "effective_area": Way(
            EFFECTIVE_AREA,
            "Cd times area, as a flow test measures it, instead of the jets",
            ("count", "bore", "cd"),
            _one_jet,
        )
    }

    def __post_init__(self) -> None:
        if self.cd is None:
            object.__setattr__(self, "cd", EDGES[self.edge].cd)

    @property
    def area(self) -> float:
        """Geometric flow area of all jets, m2."""
        return self.count * math.pi / 4.0 * self.bore**2

    @property
    def cda(self) -> float:
        """Effective area cd * area, m2."""
        return self.cd * self.area

    @property
    def length_over_bore(self) -> float:
        """Length over bore; ``DRILLED`` where no length is given."""
        return DRILLED if self.length is None else self.length / self.bore

    @property
    def short_share(self) -> float:
        """Share (0..1) of a short jet's excess of flow, see physics/short_jet.py."""
        share = (LONG_START - self.length_over_bore) / (LONG_START - SHORT_END)
        return min(max(share, 0.0), 1.0)

    def with_area(self, area: float) -> Self:
        """One jet of cd 1 with this effective area (m2) that flows as these do for their area."""
        bore = math.sqrt(4.0 * area / math.pi)
        return type(self)(1, bore, cd=1.0).with_length(self.length_over_bore)

    def with_length(self, length_over_bore: float) -> Self:
        """These jets with another length over bore."""
        return dataclasses.replace(self, length=length_over_bore * self.bore)

    def with_cda(self, cda: float) -> Self:
        """These jets with another effective area (m2): count and bore stay, cd is what it takes.

        Where that is no discharge coefficient (0.1 to 1), or these jets are an effective area
        themselves (cd 1), :meth:`with_area`.
        """
        cd = cda / self.area
        if self.cd == 1.0 or not 0.1 <= cd <= 1.0:
            return self.with_area(cda)
        return dataclasses.replace(self, cd=cd, cd_spread=None, measured_at=None)

    @classmethod
    def effective(cls, area: Given, length_over_bore: float = LONG_START) -> Self:
        """One jet of cd 1 with this effective area (m2 or text): what a flow test measures.

        Its length is that of the orifices N2O was measured through (12 bores), unless given.
        """
        return cls(
            **_one_jet(EFFECTIVE_AREA.read(area, "jets effective area", None), length_over_bore)
        )
