"""What happens, in order: hold, pass, purge, rest, weigh, refill. Frozen, unit strings welcome."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from n2osim.errors import InputError
from n2osim.scenario.distance import distance_points, is_distance, over_distance
from n2osim.units import parse

Table = tuple[tuple[float, float], ...]
"""Corners (time s, value) of a piecewise-linear course."""

PUMP_EFFICIENCY = 0.6
"""Isentropic efficiency assumed of a refill pump; common practice for a small one, no source."""

_STEP = 1e-3  # s; a jump in a delivery table takes this long


def _set(obj: object, **values: Any) -> None:
    for name, value in values.items():
        object.__setattr__(obj, name, value)


def _duration(value: Any, name: str) -> float:
    return parse(value, "time", name=name, low=0.0, high=10 * 86400.0)


def course(points: Sequence[Sequence[Any]], name: str, high: float | None = 1.0) -> Table:
    """Check and convert a course of (time, value) corners; equal times become a 1 ms step.

    Raises InputError when it is empty, runs backwards, or a value leaves 0..``high``.
    """
    corners: list[tuple[float, float]] = []
    for point in points:
        if len(point) != 2:
            raise InputError(
                quantity=name,
                value=point,
                unit="(time, value)",
                valid="pairs of time and value",
                remedy='write it as [["0 s", 0.5], ["1 s", 1.0]]',
            )
        t = parse(point[0], "time", name=f"{name}: time", low=0.0)
        v = parse(point[1], "fraction", name=f"{name}: value", low=0.0, high=high)
        if corners and t < corners[-1][0]:
            raise InputError(
                quantity=f"{name}: time",
                value=t,
                unit="s",
                valid=f"not before the corner at {corners[-1][0]:g} s",
                remedy="list the corners in order of time",
            )
        if corners and t <= corners[-1][0]:
            t = corners[-1][0] + _STEP
        corners.append((t, v))
    if not corners:
        raise InputError(
            quantity=name,
            value="nothing",
            unit="",
            valid="at least one corner",
            remedy="leave it out for full delivery",
        )
    return tuple(corners)


@dataclass(frozen=True)
class Stage:
    """One stage of a pass: a feed of the scenario, opened by a delivery course.

    feed: name of a feed in ``Scenario.feeds`` (None: the only or first one).
    delivery: corners (time since the end of the pass's delay, fraction 0..1 of full flow): a
    solenoid pulsed faster than the bottle notices passes this share on average. Before the first
    corner it is that corner's share, behind the last one that of the last.
    bottle: name of the bottle it draws from (None: all on the manifold).
    by_distance: True when the corners are (distance, fraction); distances written with a unit
    ("60 ft") set it by themselves. The pass needs a ``track`` then, and turns them into times.
    """

    feed: str | None = None
    delivery: Table | None = None
    bottle: str | None = None
    by_distance: bool = False

    def __post_init__(self) -> None:
        if self.delivery is None:
            return
        if self.by_distance or _in_distance(self.delivery):
            _set(self, delivery=tuple(distance_points(self.delivery)), by_distance=True)
        else:
            _set(self, delivery=course(self.delivery, "delivery"))

    def timed(self, track: Any, delay: float) -> Stage:
        """The same stage with its delivery over time."""
        if not self.by_distance or self.delivery is None:
            return self
        if track is None:
            raise _no_track(self.delivery[0][0])
        points = over_distance(self.delivery, track, delay)
        return Stage(self.feed, course(points, "delivery"), self.bottle)


def _in_distance(points: Any) -> bool:
    """Whether any corner's first value is a distance by its unit."""
    return any(len(p) == 2 and is_distance(p[0]) for p in points)


def _no_track(distance: Any) -> InputError:
    return InputError(
        quantity="delivery: distance",
        value=distance,
        unit="" if isinstance(distance, str) else "m",
        valid="times, or distances in a pass that knows when the car is where",
        remedy='give the pass a track, for example [["0 s", "0 ft"], ["1.2 s", "60 ft"]]',
    )


@dataclass(frozen=True)
class Hold:
    """Heater on its pressure switch for ``duration`` (s); nothing is drawn.

    until_open: end early, when the switch first opens (the bottle is in its band).
    """

    duration: float
    until_open: bool = False
    label: str = ""

    def __post_init__(self) -> None:
        _set(self, duration=_duration(self.duration, "hold duration"))


@dataclass(frozen=True)
class Rest:
    """Nothing is drawn and the heater is off (unless ``heater``) for ``duration`` (s)."""

    duration: float
    heater: bool = False
    label: str = ""

    def __post_init__(self) -> None:
        _set(self, duration=_duration(self.duration, "rest duration"))


@dataclass(frozen=True)
class Pass:
    """Draw for ``duration`` (s) through the feed's jets, or as prescribed.

    delivery: course of the fraction of full flow (see Stage); its times count from the end of
    delay: s before anything flows, shorter than the pass.
    stages: several stages instead of the one feed.
    track: (time since the pass began, distance) of the car, both rising. With it deliveries are
    given over distance and become courses over time here (see
    :func:`~n2osim.scenario.distance.over_distance`); it is None afterwards.
    outflow: prescribed mass outflow, kg/s, instead of any feed ("0.1 lb/s"); of all bottles
    together, shared equally among them whatever their pressures.
    target_flow: flow to hold by pulsing, kg/s; fully open where it can no longer be held.
    window: (low, high) gauge pressures, Pa, outside which flow is inhibited. Only the first
    bottle's gauge counts; once shut, flow comes back 5 psi inside the limit that was passed (a
    quarter of the window where that is less).
    heater: True defeats the usual interlock that keeps the heater off during a pass.
    """

    duration: float
    delivery: Table | None = None
    delay: float = 0.0
    stages: tuple[Stage, ...] = ()
    feed: str | None = None
    outflow: float | None = None
    target_flow: float | None = None
    window: tuple[float, float] | None = None
    heater: bool = False
    label: str = ""
    track: Table | None = None

    def __post_init__(self) -> None:
        _set(self, duration=_duration(self.duration, "pass duration"))
        _set(self, delay=_duration(self.delay, "pass delay"), stages=tuple(self.stages))
        if 0.0 < self.duration <= self.delay:
            raise InputError(
                quantity="pass delay",
                value=self.delay,
                unit="s",
                valid=f"less than the pass lasts ({self.duration:g} s)",
                remedy="nothing would flow: shorten the delay or lengthen the pass",
            )
        self._time_deliveries()
        for name in ("outflow", "target_flow"):
            value = getattr(self, name)
            if value is not None:
                checked = parse(value, "mass_flow", name=f"pass {name}", low=0.0, high=50.0)
                _set(self, **{name: checked})
        if self.window is not None:
            low, high = self.window
            _set(self, window=_window(low, high))
        if self.outflow is not None and (self.stages or self.feed or self.target_flow is not None):
            raise InputError(
                quantity="pass",
                value="outflow together with feed, stages or target_flow",
                unit="",
                valid="one way of metering",
                remedy="give either outflow, or feed/stages/target_flow",
            )

    def _time_deliveries(self) -> None:
        """Deliveries over distance as courses over time; uses the track up."""
        track = self.track
        distances = self.delivery is not None and (track is not None or _in_distance(self.delivery))
        if distances and track is None:
            raise _no_track(self.delivery[0][0])  # type: ignore[index]
        if track is not None and not distances and not any(s.by_distance for s in self.stages):
            raise InputError(
                quantity="pass track",
                value="no delivery over distance",
                unit="",
                valid="a delivery, or a stage with one, given over distance",
                remedy='write its corners as [["60 ft", 0.3], ["330 ft", 1.0]]',
            )
        if self.delivery is not None:
            given: Sequence[Sequence[Any]] = self.delivery
            if distances and track is not None:
                given = over_distance(given, track, self.delay)
            _set(self, delivery=course(given, "delivery"))
        _set(self, stages=tuple(s.timed(track, self.delay) for s in self.stages), track=None)


def _window(low: Any, high: Any) -> tuple[float, float]:
    lo = parse(low, "gauge_pressure", name="arming window, low", low=0.0)
    hi = parse(high, "gauge_pressure", name="arming window, high", low=0.0)
    if hi <= lo:
        raise InputError(
            quantity="arming window, high",
            value=hi,
            unit="Pa gauge",
            valid=f"above the low end ({lo:g} Pa gauge)",
            remedy="swap or widen the window",
        )
    return lo, hi


@dataclass(frozen=True)
class Purge:
    """Vent through the purge feed (name in ``Scenario.feeds``) for ``duration`` (s), then go on."""

    duration: float
    feed: str = "purge"
    heater: bool = False
    label: str = ""

    def __post_init__(self) -> None:
        _set(self, duration=_duration(self.duration, "purge duration"))


@dataclass(frozen=True)
class Weigh:
    """Put the bottle on a scale: reads charge + empty mass.

    tare_error, scale_tolerance: one-sided bounds, kg, on the stamped empty mass and the scale.
    refill_below: charge (kg) under which the summary says refill: when the charge less tare error
    and scale tolerance is below it, so that what the scale hides does not count as charge.
    """

    tare_error: float = 0.0
    scale_tolerance: float = 0.0
    refill_below: float | None = None
    duration: float = 0.0
    label: str = ""

    def __post_init__(self) -> None:
        _set(
            self,
            tare_error=parse(self.tare_error, "mass", name="tare error", low=0.0),
            scale_tolerance=parse(self.scale_tolerance, "mass", name="scale tolerance", low=0.0),
            duration=_duration(self.duration, "weigh duration"),
        )
        if self.refill_below is not None:
            _set(self, refill_below=parse(self.refill_below, "mass", name="refill below", low=0.0))


@dataclass(frozen=True)
class Refill:
    """Fill from a supply cylinder whose liquid is at ``supply_temperature`` (K).

    to: charge (kg) wanted (None: the bottle's rated capacity). pumped: a pump makes up the
    pressure; otherwise filling stops when the pressures are equal. pump_efficiency: isentropic work
    over the work that the pump puts into what it moves (an assumption, common practice, no source:
    0.6 stands for a small piston pump; no effect unless pumped). bottle: name (None: all).
    duration: s at the cylinder, in which an empty bottle would be filled at constant flow; a
    bottle that is not empty waits for its part of it. 0 fills at once and adiabatically, with a
    spike of pressure that no wall has had time to take off. The default is common practice, no
    source.
    """

    supply_temperature: float
    to: float | None = None
    pumped: bool = True
    bottle: str | None = None
    duration: float = 180.0
    label: str = ""
    pump_efficiency: float = PUMP_EFFICIENCY

    def __post_init__(self) -> None:
        _set(
            self,
            supply_temperature=parse(
                self.supply_temperature,
                "temperature",
                name="supply temperature",
                low=200.0,
                high=309.0,
            ),
            pump_efficiency=parse(
                self.pump_efficiency, "fraction", name="pump efficiency", low=0.05, high=1.0
            ),
            duration=_duration(self.duration, "refill duration"),
        )
        if self.to is not None:
            _set(self, to=parse(self.to, "mass", name="refill to", low=0.0))


Item = Hold | Rest | Pass | Purge | Weigh | Refill
KINDS: dict[str, type[Any]] = {
    "hold": Hold,
    "rest": Rest,
    "pass": Pass,
    "purge": Purge,
    "weigh": Weigh,
    "refill": Refill,
}
