# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""A scenario: hardware, surroundings and what happens. Everything else reads or varies this."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from n2osim.above import above
from n2osim.errors import InputError
from n2osim.hardware.ambient import Ambient
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.feed import Feed
from n2osim.hardware.heater import Heater, Supply
from n2osim.hardware.mounting import Mounting
from n2osim.hardware.switch import PressureSwitch
from n2osim.physics.shot import fuel_of, shot_power_of
from n2osim.scenario.fitted import FittedBottle
from n2osim.scenario.model import Model, Numerics
from n2osim.scenario.schedule import KINDS, Item, check_references
from n2osim.scenario.weighed import WeighedPass
from n2osim.schema import (
    Amount,
    Given,
    Kind,
    Nested,
    Part,
    Several,
    Text,
    Typed,
    declared,
    field,
    inside,
)

if TYPE_CHECKING:
    from n2osim.results.run import Run

SCHEMA = 1
"""Version of the scenario format."""


class _Schedule(Kind):
    """Items in order; a single one is taken as a list of one."""

    def read(self, value: Any, label: str, owner: Any) -> tuple[Item, ...]:
        example = 'for example [Hold("30 min"), Pass("9 s")]'
        items = (value,) if isinstance(value, Item) else value
        if isinstance(items, (str, Mapping)) or not isinstance(items, Iterable):
            raise InputError("schedule", value, "", "a list of Hold, Pass, Rest, ...", example)
        found = tuple(items)
        for item in found:
            if not isinstance(item, Item):
                *most, last = (k.__name__ for k in KINDS.values())
                valid = f"{', '.join(most)} or {last}"
                raise InputError(
                    "schedule item", type(item).__name__, "", valid, "use one of these"
                )
        return found

    def plain(self, value: Any) -> Any:
        return [{"kind": item.kind, **item.as_dict()} for item in value]


class _Feeds(Kind):
    """Feeds by name."""

    def read(self, value: Any, label: str, owner: Any) -> tuple[tuple[str, Feed], ...]:
        pairs = value.items() if isinstance(value, Mapping) else value
        try:
            found = tuple((str(name), feed) for name, feed in pairs or ())
        except (TypeError, ValueError):
            remedy = 'write feeds={"main": Feed(...), "purge": Feed(...)}, or feed=Feed(...)'
            raise InputError("feeds", value, "", "a mapping of names to feeds", remedy) from None
        one = Nested(Feed)
        return tuple((name, one.read(feed, f'feed "{name}"', owner)) for name, feed in found)


class _Bottles(Kind):
    """Fitted bottles in order."""

    def read(self, value: Any, label: str, owner: Any) -> tuple[FittedBottle, ...]:
        found = (value,) if isinstance(value, FittedBottle) else value
        if isinstance(found, (str, Mapping)) or not isinstance(found, Sequence) or not found:
            remedy = "give at least one bottle"
            raise InputError("bottles", value, "", "a Bottle or FittedBottles", remedy)
        if not all(isinstance(b, FittedBottle) for b in found):
            remedy = "wrap each bottle of several: FittedBottle(bottle, fill, start, name)"
            raise InputError("bottles", value, "", "a Bottle or FittedBottles", remedy)
        return tuple(found)


_UNSET: Any = object()
"""Marks an argument that was not given (None means "take it away")."""


@dataclass(frozen=True, init=False)
class Scenario(Part):
    """Everything a run needs.

    ``Scenario(bottle, fill="12 lb", start="60 degF", heater=..., switch=..., schedule=[...])``
    fits one bottle; ``Scenario([FittedBottle(...), ...], ...)`` several on one manifold.
    fill, start, heater, switch and mounting belong to the one bottle; feed is the feed named
    "main". ``scenario.replace("bottle.fill", "9 lb")`` changes any field by its dotted name.
    Raises InputError naming what is wrong.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("carbon-aluminium", "15 lb"), fill="12.2 lb", start="67 degF",
    ...     ambient=n2.Ambient("67 degF"), heater=n2.Heater("370 W"),
    ...     switch=n2.PressureSwitch("825 psig", "865 psig"), schedule=[n2.Hold("45 min")],
    ... )
    >>> lighter = car.replace("bottle.fill", "10 lb")
    >>> print(f"{lighter.run().get('hold0.warm_up_time', 'min'):.1f} min")
    8.5 min
    """

    bottles: Typed[Sequence[FittedBottle], tuple[FittedBottle, ...]] = field(
        _Bottles(), "the bottles on one manifold"
    )
    schedule: Typed[Sequence[Item] | Item, tuple[Item, ...]] = field(
        _Schedule(), "what happens, in order", ()
    )
    ambient: Ambient = field(Nested(Ambient), "air, pressure, wind, sun, boot", Ambient())
    feeds: Typed[Mapping[str, Feed] | Sequence[tuple[str, Feed]], tuple[tuple[str, Feed], ...]] = (
        field(_Feeds(), "lines and jets by name", ())
    )
    engine: EngineSide | None = field(
        Nested(EngineSide), "fuel and accounting, for mixture and power", None
    )
    supply: Supply = field(Nested(Supply), "battery and cable", Supply())
    model: Model = field(Nested(Model), "choices of the model", Model())
    numerics: Numerics = field(Nested(Numerics), "accuracy", Numerics())
    title: str = field(Text(), "a name", "untitled scenario")
    clock_start: Amount = field("clock_time", "time of day at t = 0", 0.0, low=0.0, high=86400.0)
    weighed: Typed[Sequence[WeighedPass], tuple[WeighedPass, ...]] = field(
        Several(Nested(WeighedPass)),
        "passes that were weighed to find out about the jets; not simulated",
        (),
    )

    def __init__(
        self,
        bottles: Bottle | FittedBottle | Sequence[FittedBottle],
        schedule: Sequence[Item] | Item = (),
        ambient: Ambient | None = None,
        feeds: Mapping[str, Feed] | Sequence[tuple[str, Feed]] | None = None,
        engine: EngineSide | None = None,
        supply: Supply | None = None,
        model: Model | None = None,
        numerics: Numerics | None = None,
        title: str = "untitled scenario",
        clock_start: Given = 0.0,
        weighed: Sequence[WeighedPass] = (),
        *,
        fill: Given = _UNSET,
        start: Given = _UNSET,
        heater: Heater | None = _UNSET,
        switch: PressureSwitch | None = _UNSET,
        mounting: Mounting = _UNSET,
        feed: Feed = _UNSET,
    ) -> None:
        of_bottle = dict(fill=fill, start=start, heater=heater, switch=switch, mounting=mounting)
        given = {k: v for k, v in of_bottle.items() if v is not _UNSET}
        named = _Feeds().read(feeds, "feeds", self)
        if feed is not _UNSET:
            named = (("main", feed), *[f for f in named if f[0] != "main"])
        values = {
            "bottles": _fit(bottles, given),
            "schedule": schedule,
            "ambient": ambient,
            "feeds": named,
            "engine": engine,
            "supply": supply,
            "model": model,
            "numerics": numerics,
            "title": str(title),
            "clock_start": clock_start,
            "weighed": weighed,
        }
        for name, d in declared(type(self)).items():
            value = d.default if values[name] is None else values[name]
            object.__setattr__(self, name, value)
        self._check()

    # --- checks of what only shows when the parts come together ---------------------------------
    def _check(self) -> None:
        """Names are unique, whoever is named exists."""
        if self.engine is not None:
            with inside("engine"):
                shot_power_of(self.engine, fuel_of(self.engine), 1.0, None)  # a BSFC it cannot have
        names = [b.name for b in self.bottles]
        if len(set(names)) != len(names):
            raise InputError("bottle names", names, "", "all different", "rename one of them")
        for b in self.bottles:
            if b.follows is None:
                continue
            leader = self.bottles[self.bottle_index(b.follows)]
            if leader.follows is not None:
                # Nobody would have a switch of his own: the heaters would never come on.
                valid, remedy = "a bottle that follows none itself", "name whose switch it is"
                raise InputError(f"{b.name} follows", b.follows, "", valid, remedy)
        feeds = [n for n, _ in self.feeds]
        for item in self.schedule:
            check_references(item, feeds, names)

    def __repr__(self) -> str:
        held = "; ".join(
            f"{b.bottle.name}, {b.fill:.3g} kg at {b.start:.1f} K" for b in self.bottles
        )
        items = ", ".join(item.kind for item in self.schedule[:6])
        more = ", ..." if len(self.schedule) > 6 else ""
        return f"<Scenario {self.title!r}: {held}; {items}{more}>"

    # --- short ways -------------------------------------------------------------------------------
    @property
    def bottle(self) -> Bottle:
        """The shell of the first bottle."""
        return self.bottles[0].bottle

    @property
    def feed(self) -> Feed | None:
        """The feed named "main", if there is one."""
        return dict(self.feeds).get("main")

    @property
    def fill(self) -> float:
        """Charge of the first bottle, kg."""
        return self.bottles[0].fill

    @property
    def start(self) -> float:
        """Start temperature of the first bottle, K."""
        return self.bottles[0].start

    @property
    def heater(self) -> Heater | None:
        """Heater of the first bottle."""
        return self.bottles[0].heater

    @property
    def switch(self) -> PressureSwitch | None:
        """Pressure switch of the first bottle."""
        return self.bottles[0].switch

    @property
    def mounting(self) -> Mounting:
        """Mounting of the first bottle."""
        return self.bottles[0].mounting

    def feed_named(self, name: str | None) -> Feed:
        """The feed of that name (None: the first that is not the purge)."""
        return self.feeds[self.feed_index(name)][1]

    def feed_index(self, name: str | None) -> int:
        """Position of a feed by name (None: the first that is not the purge)."""
        names = [n for n, _ in self.feeds]
        if name is None:
            candidates = [n for n in names if n != "purge"]
            name = candidates[0] if candidates else "main"
        if name not in names:
            raise InputError(
                quantity="feed",
                value=name,
                unit="",
                valid=f"one of {names or 'none given'}",
                remedy="give the scenario a feed (jets) of that name, or a prescribed outflow",
            )
        return names.index(name)

    def bottle_index(self, name: str) -> int:
        """Position of a fitted bottle by name."""
        names = [b.name for b in self.bottles]
        if name not in names:
            raise InputError(
                quantity="bottle name",
                value=name,
                unit="",
                valid=f"one of {names}",
                remedy="use the name given to the fitted bottle",
            )
        return names.index(name)

    def replace(
        self, change: str | Mapping[str, Any] | None = None, value: Any = _UNSET, /, **changes: Any
    ) -> Scenario:
        """A copy with fields changed and checked again.

        ``replace("bottle.fill", "9 lb")``, ``replace({"heater.power": "200 W", "fill": "9 lb"})``
        or ``replace(fill="9 lb", heater=None)``: any dotted name (see
        :mod:`n2osim.scenario.fields`), any value that the field takes. Changes made together are
        applied together. UnknownNameError for a name that does not exist.
        """
        if isinstance(change, str):
            if value is _UNSET:
                remedy = 'write replace("bottle.fill", "9 lb")'
                raise InputError(change, None, "", "a name and its new value", remedy)
            change = {change: value}
        changed: Scenario = above("with_fields")(self, dict(change or {}) | changes)
        return changed

    @staticmethod
    def from_toml(path: str | Path) -> Scenario:
        """Read a scenario file; see the scenario-file reference in the documentation."""
        found: Scenario = above("load")(path)
        return found

    def to_toml(self, path: str | Path | None = None, *, overwrite: bool = False) -> str:
        """Write (and return) the scenario as TOML text in SI numbers."""
        return str(above("dump")(self, path, overwrite=overwrite))

    def run(self) -> Run:
        """Shorthand for ``simulate(self)``."""
        run: Run = above("simulate")(self)
        return run


def _fit(bottles: Any, given: dict[str, Any]) -> tuple[FittedBottle, ...]:
    """Normalise the ways of giving bottles to a tuple of fitted ones."""
    if isinstance(bottles, Bottle):
        for name in ("fill", "start"):
            if name not in given:
                valid = "a charge and a start temperature"
                remedy = f'give {name}=..., for example fill="12 lb", start="60 degF"'
                raise InputError(name, None, "", valid, remedy)
        return (FittedBottle(bottle=bottles, **given),)
    found = _Bottles().read(bottles, "bottles", None)
    if given and len(found) > 1:
        valid, remedy = "set on each FittedBottle", "replace the bottles themselves"
        raise InputError(", ".join(given), "given for several bottles", "", valid, remedy)
    return tuple(dataclasses.replace(b, **given) if given else b for b in found)
