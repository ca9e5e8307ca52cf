"""How a bottle lies in the car, and how much liquid its pick-up leaves behind."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from n2osim.errors import InputError
from n2osim.units import parse

PICKUP_HEIGHT = {False: 0.02, True: 0.5}
"""Height of the pick-up's mouth where none is given: near the lowest line of a lying bottle, on the
axis of a standing one (typical, no source)."""


def _set(obj: object, **values: Any) -> None:
    for name, value in values.items():
        object.__setattr__(obj, name, value)


@dataclass(frozen=True)
class Mounting:
    """How a bottle lies in the car.

    standing: True for a bottle on its base, False for one on its side.
    tilt: angle (rad) of the axis from the horizontal (lying) that raises the valve end; only of a
    bottle that does not stand (one that leans by 20 deg is lying with a tilt of 70 deg).
    acceleration: launch acceleration (m/s2) that throws the liquid to the rear (0: at rest).
    pickup_along: where the pick-up's mouth is along the axis (0 front or top end, 1 rear end or
    base).
    pickup_height: where it is across the axis (0 lowest or, standing, foremost; 1 highest or
    rearmost); None for 0.02 lying and 0.5, the axis, standing.
    pickup: volume fraction of liquid that the pick-up cannot reach; None computes it from the
    mouth's place, tilt and acceleration. pickup_band: fraction over which the mouth goes from
    covered to uncovered. draw: "liquid" (pick-up tube) or "vapour" (no tube).
    """

    standing: bool = False
    tilt: float = 0.0
    acceleration: float = 0.0
    pickup_along: float = 0.95
    pickup_height: float | None = None
    pickup: float | None = None
    pickup_band: float = 0.01
    draw: str = "liquid"

    def __post_init__(self) -> None:
        _set(
            self,
            tilt=parse(self.tilt, "angle", name="mounting tilt", low=-1.5, high=1.5),
            acceleration=parse(
                self.acceleration, "acceleration", name="launch acceleration", low=0.0, high=100.0
            ),
            pickup_along=parse(
                self.pickup_along, "fraction", name="pick-up along", low=0.0, high=1.0
            ),
            pickup_band=parse(
                self.pickup_band, "fraction", name="pick-up band", low=1e-4, high=0.5
            ),
        )
        for name, label, high in (
            ("pickup_height", "pick-up height", 1.0),
            ("pickup", "pick-up", 0.9),
        ):
            value = getattr(self, name)
            if value is not None:
                _set(self, **{name: parse(value, "fraction", name=label, low=0.0, high=high)})
        self._check()

    def _check(self) -> None:
        if self.draw not in ("liquid", "vapour"):
            raise InputError(
                quantity="mounting draw",
                value=self.draw,
                unit="",
                valid='"liquid" or "vapour"',
                remedy='use "liquid" for a bottle with a pick-up tube',
            )
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
        from n2osim.hardware.geometry import stranded_fraction

        if self.standing and self.acceleration == 0.0:
            return 1.0 - self.pickup_along
        height = self.pickup_height
        if height is None:
            height = PICKUP_HEIGHT[bool(self.standing)]
        tilt = 0.5 * math.pi if self.standing else self.tilt
        return float(
            stranded_fraction(diameter, length, tilt, self.acceleration, self.pickup_along, height)
        )


__all__ = ["PICKUP_HEIGHT", "Mounting"]
