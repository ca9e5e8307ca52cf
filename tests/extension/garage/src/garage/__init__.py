# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""A package outside n2osim that adds one of everything; it uses nothing but ``n2osim.extend``.

Everything in it is invented for a test.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from n2osim import PressureSwitch, extend
from n2osim.extend import Amount, field

extend.require(1)


@extend.orifice_model("plain bernoulli", title="Bernoulli again", source="to compare with spi")
def bernoulli(p: float, h: float, s: float, rho: float, T: float, back: float) -> float:
    """Mass flux, kg/m2/s."""
    return math.sqrt(2.0 * rho * (p - back))


@extend.kind("two point")
@dataclass(frozen=True)
class TwoPoint(extend.Controller):
    """What a pressure switch does, asked from Python."""

    def decide(self, seen: extend.Seen) -> bool:
        """On below, off above, else as it was."""
        low, high = self.band
        return seen.gauge <= low or (seen.on and seen.gauge < high)


@extend.kind("proportional")
@dataclass(frozen=True)
class Proportional(extend.Controller):
    """Full power below the band, none above it, the share between."""

    gain: Amount = field("number", "share lost from closes to opens", 1.0, low=0.0, high=10.0)

    def decide(self, seen: extend.Seen) -> float:
        """Share of the heater's power."""
        seen.memory["asked"] = seen.memory.get("asked", 0) + 1
        low, high = self.band
        return min(1.0, max(0.0, 1.0 - self.gain * (seen.gauge - low) / (high - low)))


@extend.kind("early")
@dataclass(frozen=True)
class Early(PressureSwitch):
    """A compiled controller: a switch that opens early; the kernel knows nothing else of it."""

    early: Amount = field("pressure_difference", "opens by this much early", 0.0, low=0.0, high=1e6)

    def pack(self, record: Any) -> None:
        """Set points of the kernel's switch."""
        super().pack(record)
        record["opens"] -= self.early


@extend.kind("cold front")
@dataclass(frozen=True)
class ColdFront(extend.AirFunction):
    """Air that falls from one temperature to another around a clock time."""

    before: Amount = field("temperature", "before it", low=220.0, high=330.0)
    after: Amount = field("temperature", "after it", low=220.0, high=330.0)
    at_clock: Amount = field("clock_time", "when half of it is over")

    def at(self, clock: float) -> float:
        """K."""
        passed = 0.5 * (1.0 + math.tanh((clock - self.at_clock) / 1800.0))
        return self.before + passed * (self.after - self.before)


@extend.kind("as flat plates")
@dataclass(frozen=True)
class FlatInside(extend.InsideFilm):
    """A film that is stronger where liquid wets the wall."""

    wet: Amount = field("heat_transfer_coefficient", "where liquid is", 800.0)
    dry: Amount = field("heat_transfer_coefficient", "where gas is", 80.0)

    def coefficient(self, wall: extend.InsideWall) -> float:
        """W/m2/K."""
        return wall.wetted * self.wet + (1.0 - wall.wetted) * self.dry


@extend.kind("still air")
@dataclass(frozen=True)
class StillAir(extend.OutsideFilm):
    """Convection by a rule of thumb, and radiation."""

    factor: Amount = field("number", "on convection", 1.32)

    def coefficient(self, wall: extend.OutsideWall) -> float:
        """W/m2/K."""
        warm, cold = wall.surface_temperature, wall.air_temperature
        radiation = 5.67e-8 * wall.emissivity * (warm**2 + cold**2) * (warm + cold)
        return radiation + self.factor * math.sqrt(math.sqrt(abs(warm - cold) / wall.diameter))


@dataclass(frozen=True)
class Vent(extend.Item):
    """Let gas out through a feed, partly open, for ``duration``."""

    duration: Amount = field(extend.DURATION, "how long it lasts")
    share: Amount = field("fraction", "how far open", 0.5, low=0.0, high=1.0)
    feed: str = field(extend.Text(), "name of the feed that vents", "purge")
    label: str = field(extend.Text(), "a name for tables and figures", "")
    reports = "flowing"

    @property
    def streams(self) -> tuple[extend.Stream, ...]:
        """The feed, partly open."""
        return (extend.Stream(self.feed, ((0.0, self.share),), key=("feed",)),)


extend.quantity(
    "share_used", "flowing", "used over the charge at its start", lambda n: n.used / n.m0
)


def _too_fast(case: Any) -> Iterator[extend.Reading]:
    one = case.one
    yield extend.Reading(one.used / one.start_mass, 0.001, one.start_time)


extend.limit(
    extend.Limit(
        "garage-drawn",
        "pass",
        _too_fast,
        "note",
        "a thousandth of the charge went in one pass",
        quantity="share_used",
        kind="fraction",
        cause="schedule",
        bound_from="rule",
        source="invented for a test",
        person="a shorter pass",
    )
)
