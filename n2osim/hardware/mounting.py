# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""How a bottle lies in the car, and how much liquid its pick-up leaves behind."""

from __future__ import annotations

import math
from dataclasses import dataclass

from n2osim.errors import InputError
from n2osim.schema import Amount, Choice, Flag, MaybeAmount, Part, field

PICKUP_HEIGHT = {False: 0.02, True: 0.5}
"""Height of the pick-up's mouth where none is given: near the lowest line of a lying bottle, on the
axis of a standing one (typical, no source)."""


@dataclass(frozen=True)
class Mounting(Part):
    """How a bottle lies in the car.

    >>> import n2osim as n2
    >>> lying = n2.Mounting(tilt="4 deg", acceleration="0.7 g", pickup_along=0.65)
    >>> print(f"{100 * lying.stranded(0.16, 0.45):.0f} % of the volume is out of reach")
    14 % of the volume is out of reach
    """

    standing: bool = field(
        Flag(), "true for a bottle on its base, false for one on its side", False
    )
    tilt: Amount = field(
        "angle",
        "angle of the axis from the horizontal (lying) that raises the valve end; only of a bottle "
        "that does not stand (one that leans by 20 deg is lying with a tilt of 70 deg)",
        0.0,
        low=-1.5,
        high=1.5,
    )
    acceleration: Amount = field(
        "acceleration",
        "launch acceleration that throws the liquid to the rear (0: at rest)",
        0.0,
        low=0.0,
        high=100.0,
    )
    pickup_along: Amount = field(
        "fraction",
        "where the pick-up's mouth is along the axis (0 front or top end, 1 rear end or base)",
        0.95,
        low=0.0,
        high=1.0,
    )
    pickup_height: MaybeAmount = field(
        "fraction",
        "where it is across the axis (0 lowest or, standing, foremost; 1 highest or rearmost); "
        "left out for 0.02 lying and 0.5, the axis, standing",
        None,
        shown="0.02 lying, 0.5 standing",
        low=0.0,
        high=1.0,
    )
    pickup: MaybeAmount = field(
        "fraction",
        "volume fraction of liquid that the pick-up cannot reach; left out: computed from the "
        "mouth's place, tilt and acceleration",
        None,
        shown="computed",
        low=0.0,
        high=0.9,
    )
    pickup_band: Amount = field(
        "fraction",
        "fraction over which the mouth goes from covered to uncovered",
        0.01,
        low=1e-4,
        high=0.5,
    )
    draw: str = field(
        Choice("liquid", "vapour"), "`liquid` (pick-up tube) or `vapour` (no tube)", "liquid"
    )

    def __post_init__(self) -> None:
        if self.standing and self.tilt != 0.0:
            raise InputError(
                quantity="mounting tilt",
                value=self.tilt,
                unit="rad",
                valid="0 for a standing bottle",
                remedy="leave standing out and give the angle of the axis from the horizontal: "
                'tilt = "70 deg" for a bottle that leans 20 deg from upright',
            )

    def stranded(self, diameter: float, length: float) -> float:
        """Share (0..1) of the volume from which the pick-up draws no liquid.

        ``diameter``, ``length`` (m): inside, of the flat-ended cylinder that holds the volume. The
        liquid's surface is the plane normal to gravity and the launch together; a standing bottle
        is one whose axis points up (tilt of 90 deg).
        """
        if self.pickup is not None:
            return self.pickup
        from n2osim.hardware.geometry import stranded_fraction  # compiled: loaded for a run only

        if self.standing and self.acceleration == 0.0:
            return 1.0 - self.pickup_along
        height = self.pickup_height
        if height is None:
            height = PICKUP_HEIGHT[bool(self.standing)]
        tilt = 0.5 * math.pi if self.standing else self.tilt
        return float(
            stranded_fraction(diameter, length, tilt, self.acceleration, self.pickup_along, height)
        )
