# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""What happens, in order: hold, pass, purge, rest, refill, weigh. Frozen, unit strings welcome.

An item is one class here: its fields with their words, ``steps`` (what the engine carries out)
and ``reports`` (which summary its rows get). The class registers itself in :data:`KINDS` under its
name, which is its ``kind`` in a file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, ClassVar, Literal, NamedTuple

from n2osim.errors import InputError, UnknownNameError, did_you_mean
from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY
from n2osim.scenario.delivery import (
    course,
    delayed,
    distance_points,
    in_distance,
    needs_track,
    opening,
    timed,
)
from n2osim.scenario.steps import Filling, Step, Stream, Window
from n2osim.schema import (
    Amount,
    Custom,
    Flag,
    Given,
    MaybeAmount,
    MaybePairs,
    Nested,
    Number,
    Pairs,
    Part,
    Several,
    Show,
    Text,
    Typed,
    field,
    inside,
)
from n2osim.units import format_quantity

if TYPE_CHECKING:
    from n2osim.scenario.scenario import Scenario

PUMP_EFFICIENCY = 0.6
"""Isentropic efficiency assumed of a refill pump; common practice for a small one, no source."""
FILLING_STEPS = 20
"""Small fillings of a bottle from empty. With twice as many the highest pressure of a filling in
3 min is 1 psi lower (``tests/engine/test_filling.py``)."""

DURATION = Number("time", 0.0, 10 * 86400.0)
_NAME = Text()
Report = Literal["held", "flowing", "filled", "weighed"]
"""Which group of quantities the rows of an item are reported by."""
KINDS: dict[str, type[Item]] = {}
"""Kind in a file -> class, in the order by which the arrays of a run number them."""


def _label() -> Any:
    return field(_NAME, "a name for tables and figures", "")


class Reference(NamedTuple):
    """A name in an item: of a feed (None: the first that is not the purge) or of a bottle."""

    what: Literal["feed", "bottle"]
    name: str | None
    key: tuple[str | int, ...]


class Item(Part):
    """An item of a schedule.

    kind : its name in a file. reports : the summary it gets. feeds_engine : whether what flows out
    reaches the engine. heats : whether it is there to bring the bottles into their band.
    """

    extensible = True
    kind: ClassVar[str] = ""
    reports: ClassVar[Report] = "held"
    feeds_engine: ClassVar[bool] = False
    heats: ClassVar[bool] = False
    if TYPE_CHECKING:
        duration: Amount
        label: str

    def __init_subclass__(cls, **more: Any) -> None:
        super().__init_subclass__(**more)
        cls.kind = cls.__name__.lower()
        taken = KINDS.get(cls.kind, cls)
        if taken.__module__ != cls.__module__ or cls.kind == "repeat":
            where = f"a class whose name is free: {taken.__module__} has it"
            raise InputError("schedule item", cls.__name__, "", where, "rename the class")
        KINDS[cls.kind] = cls

    @property
    def streams(self) -> tuple[Stream, ...]:
        """What flows out meanwhile."""
        return ()

    def steps(self, scenario: Scenario) -> list[Step]:
        """What the engine carries out."""
        return [Step(self.duration, getattr(self, "heater", False), streams=self.streams)]

    @property
    def facts(self) -> dict[str, float]:
        """What the formulas of its quantities must know of it, by name of the record."""
        return {}

    @property
    def deliveries(self) -> tuple[Pairs, ...]:
        """Courses of delivery: corners (s since its beginning, share of full flow)."""
        return ()

    def words(self, show: Show) -> str:
        """What it opens and when, in words; "" where it opens nothing."""
        return ""

    @property
    def references(self) -> list[Reference]:
        """Feeds and bottles of the scenario that it names."""
        found = [Reference("feed", s.feed, s.key) for s in self.streams if s.meter != "mass flow"]
        where = ((s.bottle, (*s.key[:-1], "bottle")) for s in self.streams)
        own = (getattr(self, "bottle", None), ("bottle",))
        return found + [Reference("bottle", n, key) for n, key in (*where, own) if n is not None]


@dataclass(frozen=True)
class Hold(Item):
    """Heater on its pressure switch for ``duration``; nothing is drawn.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "12 lb"), fill="9.8 lb", start="71 degF",
    ...     heater=n2.Heater("330 W"), switch=n2.PressureSwitch("815 psig", "855 psig"),
    ...     schedule=[n2.Hold("30 min", until_open=True)],
    ... )
    >>> run = n2.simulate(car)
    >>> print(f"{run.get('hold0.duration', 'min'):.0f} of 30 min")
    5 of 30 min
    """

    duration: Amount = field(DURATION, "how long it lasts")
    until_open: bool = field(
        Flag(),
        "end early, when the switch first opens (the bottle is in its band; of several switches "
        "the first to open, whatever the others have reached)",
        False,
    )
    label: str = _label()
    heats = True

    def steps(self, scenario: Scenario) -> list[Step]:
        """The heater armed."""
        return [Step(self.duration, heater=True, until_open=self.until_open)]


@dataclass(frozen=True)
class Stage(Part):
    """One stage of a pass: a feed of the scenario, opened by a delivery course.

    >>> import n2osim as n2
    >>> small, large = n2.Feed(n2.Jets(1, "0.024 in")), n2.Feed(n2.Jets(2, "0.032 in"))
    >>> stages = [n2.Stage("small"), n2.Stage("large", delivery=[("2 s", 0), ("3 s", 1)])]
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "12 lb"), fill="9.6 lb", start="82 degF",
    ...     feeds={"small": small, "large": large}, schedule=[n2.Pass("7 s", stages=stages)],
    ... )
    >>> run = n2.simulate(car)
    >>> [f"{run.get(f'pass0.flow_{when}', 'lb/min'):.1f} lb/min" for when in ("start", "end")]
    ['1.1 lb/min', '5.0 lb/min']
    """

    feed: str | None = field(
        _NAME, "name of a feed (left out: the first that is not the purge)", None
    )
    delivery: MaybePairs = field(
        Custom(lambda value, label, owner: value),
        "corners (time since the end of the pass's delay, fraction 0..1 of full flow): a solenoid "
        "pulsed faster than the bottle notices passes this share on average. Before the first "
        "corner it is that corner's share, behind the last one that of the last",
        None,
    )
    bottle: str | None = field(
        _NAME, "name of the bottle it draws from (left out: all on the manifold)", None
    )
    by_distance: bool = field(
        Flag(),
        'true when the corners are (distance, fraction); distances written with a unit ("60 ft") '
        "set it by themselves. The pass needs a `track` then, and turns them into times",
        False,
    )

    def __post_init__(self) -> None:
        if self.delivery is None:
            return
        with inside("delivery"):
            if self.by_distance or in_distance(self.delivery):
                object.__setattr__(self, "delivery", distance_points(self.delivery))
                object.__setattr__(self, "by_distance", True)
            else:
                object.__setattr__(self, "delivery", course(self.delivery, "delivery"))

    def timed(self, track: Any, delay: float) -> Stage:
        """The same stage with its delivery over time."""
        if not self.by_distance or self.delivery is None:
            return self
        return Stage(self.feed, timed(self.delivery, track, delay), self.bottle)


def _window(value: Any, label: str, owner: Any) -> tuple[float, float]:
    if isinstance(value, str) or not isinstance(value, Sequence) or len(value) != 2:
        remedy = 'window = ["900 psig", "1150 psig"]'
        raise InputError("arming window", value, "", "a list of two pressures", remedy)
    limit = Number("gauge_pressure", 0.0)
    low, high = (
        limit.read(v, f"arming window, {end}", owner) for v, end in zip(value, ("low", "high"))
    )
    if high <= low:
        shown, least = (format_quantity(p, "gauge_pressure", "shop") for p in (high, low))
        remedy = "swap or widen the window"
        raise InputError("arming window, high", shown, "", f"above the low end, {least}", remedy)
    return low, high


_FLOW = Number("mass_flow", 0.0, 50.0)


@dataclass(frozen=True)
class Pass(Item):
    """Draw for ``duration`` through the feed's jets, or as prescribed.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "12 lb"), fill="9.7 lb", start="82 degF",
    ...     feed=n2.Feed(n2.Jets(2, "0.031 in")),
    ...     schedule=[n2.Pass("8.8 s", delivery=[("0 s", 0.6), ("1.5 s", 1)], delay="0.5 s")],
    ... )
    >>> run = n2.simulate(car)
    >>> print(f"{run.get('pass0.used', 'lb'):.2f} lb used")
    0.49 lb used
    """

    duration: Amount = field(DURATION, "how long it lasts")
    delivery: MaybePairs = field(
        Custom(lambda value, label, owner: value),
        "corners `[[time, share], ...]` of the share of full flow; see Delivery below",
        None,
    )
    delay: Amount = field(
        DURATION,
        "time before anything flows, shorter than the pass; deliveries count from its end",
        0.0,
    )
    stages: Typed[Sequence[Stage], tuple[Stage, ...]] = field(
        Several(Nested(Stage)), "list of stages instead of the one feed; see Stages below", ()
    )
    feed: str | None = field(
        _NAME, "name of a feed (left out: the first that is not the purge)", None
    )
    outflow: MaybeAmount = field(
        _FLOW,
        'prescribed mass outflow instead of any feed ("0.1 lb/s"); of all bottles together, shared '
        "equally among them whatever their pressures",
        None,
    )
    target_flow: MaybeAmount = field(
        _FLOW, "flow to hold by pulsing; fully open where it can no longer be held", None
    )
    window: Typed[Sequence[Given] | None, tuple[float, float] | None] = field(
        Custom(_window, "two gauge pressures", "from 0 Pa gauge", each="gauge_pressure"),
        "`[low, high]` gauge pressures outside which flow is inhibited; only the first bottle's "
        "gauge counts, and once shut the flow comes back 5 psi inside the limit passed (a quarter "
        "of the window where that is less)",
        None,
    )
    heater: bool = field(
        Flag(), "true defeats the usual interlock that keeps the heater off during a pass", False
    )
    label: str = _label()
    track: MaybePairs = field(
        Custom(lambda value, label, owner: value),
        "`[[time, distance], ...]` of the car since the pass began, both rising; deliveries are "
        "given over distance then, see Delivery below",
        None,
    )
    reports = "flowing"
    feeds_engine = True

    def __post_init__(self) -> None:
        if 0.0 < self.duration <= self.delay:
            raise InputError(
                quantity="pass delay",
                value=self.delay,
                unit="s",
                valid=f"less than the pass lasts ({self.duration:g} s)",
                remedy="nothing would flow: shorten the delay or lengthen the pass",
            )
        self._time_deliveries()
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
        track, given = self.track, self.delivery
        distances = given is not None and (track is not None or in_distance(given))
        if distances and track is None:
            with inside("delivery"):
                raise needs_track(given)
        if track is not None and not distances and not any(s.by_distance for s in self.stages):
            raise InputError(
                quantity="pass track",
                value="no delivery over distance",
                unit="",
                valid="a delivery, or a stage with one, given over distance",
                remedy='write its corners as [["60 ft", 0.3], ["330 ft", 1.0]]',
            )
        found: Pairs | None = None
        if given is not None:
            with inside("delivery"):
                found = timed(given, track, self.delay) if distances else course(given, "delivery")
        stages = tuple(s.timed(track, self.delay) for s in self.stages)
        for name, value in (("delivery", found), ("stages", stages), ("track", None)):
            object.__setattr__(self, name, value)

    def steps(self, scenario: Scenario) -> list[Step]:
        """One step with a stream a stage."""
        window = None if self.window is None else Window(*self.window)
        return [Step(self.duration, self.heater, streams=self.streams, window=window)]

    @property
    def deliveries(self) -> tuple[Pairs, ...]:
        """Those of its stages, or its own."""
        given = [s.delivery for s in self.stages] if self.stages else [self.delivery]
        return tuple(delayed(corners, self.delay) for corners in given if corners)

    def words(self, show: Show) -> str:
        """What it opens and when, in words."""
        text = f"{self.duration:g} s"
        if self.outflow is not None:
            text += f", {show(self.outflow, 'mass_flow')} drawn as prescribed"
        elif self.stages:
            parts = (f'"{s.feed or "main"}" {opening(s.delivery)}' for s in self.stages)
            text += ", " + "; ".join(parts)
        elif self.target_flow is not None:
            text += f", pulsed to hold {show(self.target_flow, 'mass_flow')}"
        else:
            text += f", {opening(self.delivery)}"
        text += f", from {self.delay:g} s on" if self.delay else ""
        if self.window is not None:
            low, high = (show(p, "gauge_pressure") for p in self.window)
            text += f", only between {low} and {high}"
        return text + (", heater on" if self.heater else "")

    @property
    def streams(self) -> tuple[Stream, ...]:
        """A stream a stage."""
        if self.outflow is not None:
            corners = delayed(self.delivery or (), self.delay)
            return (Stream(None, corners, "mass flow", self.outflow),)
        whole = Stream(self.feed, meter="area", key=("feed",))
        if self.target_flow is not None:
            whole = replace(whole, meter="target flow", value=self.target_flow)
        if not self.stages:
            return (replace(whole, delivery=delayed(self.delivery or (), self.delay)),)
        return tuple(
            replace(
                whole,
                feed=s.feed or self.feed,
                delivery=delayed(s.delivery or (), self.delay),
                bottle=s.bottle,
                key=("stages", i, "feed"),
            )
            for i, s in enumerate(self.stages)
        )


@dataclass(frozen=True)
class Purge(Item):
    """Vent through the purge feed (name in ``Scenario.feeds``) for ``duration``, then go on.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "10 lb"), fill="7.9 lb", start="80 degF",
    ...     feeds={"purge": n2.Feed(n2.Jets(1, "0.06 in"))}, schedule=[n2.Purge("1.2 s")],
    ... )
    >>> print(f"{n2.simulate(car).get('purge0.used', 'lb'):.2f} lb")
    0.14 lb
    """

    duration: Amount = field(DURATION, "how long it lasts")
    feed: str = field(_NAME, "name of the feed that vents", "purge")
    heater: bool = field(Flag(), "true leaves the heater on its switch meanwhile", False)
    label: str = _label()
    reports = "flowing"

    @property
    def streams(self) -> tuple[Stream, ...]:
        """The feed, fully open."""
        return (Stream(self.feed, key=("feed",)),)


@dataclass(frozen=True)
class Rest(Item):
    """Nothing is drawn and the heater is off (unless ``heater``) for ``duration``.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("carbon-aluminium", "15 lb"), fill="12.1 lb", start="86 degF",
    ...     ambient=n2.Ambient("52 degF", air_speed="6 mph"), schedule=[n2.Rest("24 min")],
    ... )
    >>> print(f"{n2.simulate(car).get('rest0.end_pressure', 'psig'):.0f} psig left")
    800 psig left
    """

    duration: Amount = field(DURATION, "how long it lasts")
    heater: bool = field(Flag(), "true leaves the heater on its switch during the rest", False)
    label: str = _label()


@dataclass(frozen=True)
class Refill(Item):
    """Fill from a supply cylinder whose liquid is at ``supply_temperature``.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "10 lb"), fill="3.1 lb", start="66 degF",
    ...     schedule=[n2.Refill("71 degF", to="8.2 lb", duration="4 min")],
    ... )
    >>> run = n2.simulate(car)
    >>> print(f"{run.get('refill0.end_mass', 'lb'):.1f} lb in it")
    8.2 lb in it
    """

    supply_temperature: Amount = field(
        "temperature", "temperature of the liquid in the supply cylinder", low=200.0, high=309.0
    )
    to: MaybeAmount = field(
        "mass", "charge wanted (left out: the bottle's rated capacity)", None, low=0.0
    )
    pumped: bool = field(
        Flag(),
        "a pump makes up the pressure; otherwise filling stops when the pressures are equal",
        True,
    )
    bottle: str | None = field(_NAME, "name (left out: all)", None)
    duration: Amount = field(
        DURATION,
        "time at the cylinder, in which an empty bottle would be filled at constant flow; 0 fills "
        "at once and adiabatically, with a spike of pressure",
        180.0,
    )
    label: str = _label()
    pump_efficiency: Amount = field(
        "fraction",
        "isentropic work over the work that the pump puts into what it moves (an assumption, "
        "common practice, no source: 0.6 stands for a small piston pump; no effect unless pumped)",
        PUMP_EFFICIENCY,
        low=0.05,
        high=1.0,
    )
    reports = "filled"

    def steps(self, scenario: Scenario) -> list[Step]:
        """Small fillings with rests between them, in which the wall takes part.

        Constant flow that would fill an empty bottle in ``duration``: what is in the bottle already
        shortens the filling, not the time at the cylinder. The last step comes at the end and is
        the refill itself, so that the charge wanted, or the supply's pressure, is met exactly.
        """
        efficiency = self.pump_efficiency if self.pumped else None
        whole = Filling(self.supply_temperature, self.to, efficiency, self.bottle)
        if self.duration <= 0.0:
            return [Step(0.0, filling=whole)]
        named = [b for b in scenario.bottles if self.bottle in (None, b.name)]
        found = []
        for k in range(FILLING_STEPS):
            for fitted in named:
                full = FULL_FILLING_DENSITY * fitted.bottle.volume
                part = k / FILLING_STEPS * (full if self.to is None else self.to)
                found.append(Step(0.0, filling=replace(whole, to=part, bottle=fitted.name)))
            found[-1] = replace(found[-1], duration=self.duration / FILLING_STEPS)
        return [*found, Step(0.0, filling=whole)]


@dataclass(frozen=True)
class Weigh(Item):
    """Put the bottle on a scale: reads charge + empty mass.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "10 lb"), fill="4.3 lb", start="74 degF",
    ...     schedule=[n2.Weigh(scale_tolerance="0.2 lb", refill_below="4.2 lb")],
    ... )
    >>> n2.simulate(car).segments[0].refill
    True
    """

    tare_error: Amount = field(
        "mass", "how far off the stamped empty mass may be (one-sided)", 0.0, low=0.0
    )
    scale_tolerance: Amount = field(
        "mass", "how far off the scale may be (one-sided)", 0.0, low=0.0
    )
    refill_below: MaybeAmount = field(
        "mass",
        "charge under which the summary says refill: when the charge less tare error and scale "
        "tolerance is below it, so that what the scale hides does not count as charge",
        None,
        low=0.0,
    )
    duration: Amount = field(DURATION, "how long it lasts", 0.0)
    label: str = _label()
    reports = "weighed"

    @property
    def facts(self) -> dict[str, float]:
        """How far off a weighing may be, and below what charge to refill."""
        error = {"weigh_error": self.tare_error + self.scale_tolerance}
        return error if self.refill_below is None else error | {"refill_below": self.refill_below}


def check_references(item: Item, feeds: Sequence[str], bottles: Sequence[str]) -> None:
    """Feeds and bottles that an item names must be among these."""
    for what, name, key in item.references:
        known = feeds if what == "feed" else bottles
        if name in known or (name is None and any(n != "purge" for n in known)):
            continue
        with inside(*key):
            if name is None:
                valid = "a feed to draw through" + (" beside the purge" if known else "")
                remedy = "add [feed] with jets (feed=Feed(...)), or give an outflow"
                raise InputError(item.kind, "no feed", "", valid, remedy)
            remedy = did_you_mean(name, known) or f"{what}s: {', '.join(known) or 'none given'}"
            raise UnknownNameError(what, name, "", f"one of {list(known)}", remedy)
