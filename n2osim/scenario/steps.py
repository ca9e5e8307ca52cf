"""What the engine carries out: steps of constant mode. Items of a schedule turn into these."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from n2osim.schema import Pairs

Meter = Literal["area", "mass flow", "target flow"]


@dataclass(frozen=True)
class Stream:
    """Something that flows out: through a feed, or as prescribed.

    feed : name in ``Scenario.feeds`` (None: the first that is not the purge; none is needed for a
    prescribed mass flow). delivery : corners (time in the step s, share of full flow), none for
    fully open. meter : what sets the flow; value : kg/s where that is a flow. bottle : name (None:
    all on the manifold). key : where in the item the names stand.
    """

    feed: str | None = None
    delivery: Pairs = ()
    meter: Meter = "area"
    value: float = 0.0
    bottle: str | None = None
    key: tuple[str | int, ...] = ()


@dataclass(frozen=True)
class Filling:
    """A filling at the beginning of a step, at once.

    supply_temperature : K, of the supply's liquid. to : charge wanted, kg (None: the rated
    capacity). pump_efficiency : of a pumped one, None where the pressures equalise. bottle : name
    (None: all).
    """

    supply_temperature: float
    to: float | None
    pump_efficiency: float | None
    bottle: str | None


class Window(NamedTuple):
    """Gauge pressures (Pa) outside which flow is inhibited."""

    low: float
    high: float


@dataclass(frozen=True)
class Step:
    """One step of constant mode: how long (s), whether the heater is armed, what flows or fills.

    until_open : ends early, when the switch first opens.
    """

    duration: float
    heater: bool = False
    until_open: bool = False
    streams: tuple[Stream, ...] = ()
    window: Window | None = None
    filling: Filling | None = None
