"""A scenario: hardware, surroundings and what happens. Everything else reads or varies this."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from n2osim.errors import InputError
from n2osim.hardware.ambient import Ambient
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.feed import Feed
from n2osim.hardware.heater import Heater, Supply
from n2osim.hardware.mounting import Mounting
from n2osim.hardware.switch import PressureSwitch
from n2osim.scenario.checks import as_schedule, check_fitted, check_scenario
from n2osim.scenario.schedule import Item
from n2osim.units import parse

if TYPE_CHECKING:
    from n2osim.results.run import Run

SCHEMA = 1
"""Version of the scenario format."""
DENSEST = 1270.0
"""kg/m3: no charge is denser (liquid at the triple point and some pressure)."""


def _set(obj: object, **values: Any) -> None:
    for name, value in values.items():
        object.__setattr__(obj, name, value)


@dataclass(frozen=True)
class FittedBottle:
    """A bottle in the car: what it holds, how it lies, what heats it and what switches the heat.

    fill: charge, kg. start: temperature of fluid and shell at the beginning, K.
    wall_start: shell temperature where it differs, K. switch: a PressureSwitch reading this
    bottle, or None. follows: name of the bottle whose switch also feeds this one's heater.
    """

    bottle: Bottle
    fill: float
    start: float
    name: str = "bottle"
    heater: Heater | None = None
    switch: PressureSwitch | None = None
    follows: str | None = None
    mounting: Mounting = Mounting()  # noqa: RUF009 - frozen, so shared safely
    wall_start: float | None = None

    def __post_init__(self) -> None:
        check_fitted(self, Mounting)
        high = DENSEST * self.bottle.volume
        _set(
            self,
            fill=parse(self.fill, "mass", name=f"{self.name} fill", low=1e-6, high=high),
            start=parse(
                self.start,
                "temperature",
                name=f"{self.name} start temperature",
                low=183.0,
                high=500.0,
            ),
        )
        if self.wall_start is not None:
            wall = parse(self.wall_start, "temperature", name="wall start", low=100.0, high=900.0)
            _set(self, wall_start=wall)


_NUMBERS = ("inside_factor", "cover_factor", "two_zone", "boiling_growth")


@dataclass(frozen=True)
class Model:
    """Choices of the model; the defaults are the full physics.

    inside_coefficient: None for correlations, or a constant W/m2/K (0: adiabatic fluid).
    inside_factor: multiplies the correlation (to ask how much the answer hangs on it).
    inside_cap: largest inside coefficient, W/m2/K; the boiling correlations have no data at the
    reduced pressures of a held bottle.
    outside_coefficient: None for natural + forced convection and radiation, or a constant that
    stands for all of them (0: no losses). cover_factor: multiplies the outside coefficient on the
    heater's outer face. radiation: False leaves it out of the correlations.
    nodes_per_layer: wall nodes per layer. two_zone: None for an equilibrium bottle, or the
    empirical factor on the liquid side of the surface (Zilliac & Karabeyoglu 2005).
    boiling_growth: None, or two zones with boiling in the bulk of the liquid that grows with the
    time for which it has been superheated, W/kg/K per s (two_zone is then 1 unless given).
    """

    inside_coefficient: float | None = None
    inside_factor: float = 1.0
    inside_cap: float = 10_000.0
    outside_coefficient: float | None = None
    cover_factor: float = 1.0
    radiation: bool = True
    nodes_per_layer: int = 4
    two_zone: float | None = None
    boiling_growth: float | None = None

    @property
    def zones(self) -> bool:
        """Whether liquid and vapour have temperatures of their own while something flows."""
        return self.two_zone is not None or self.boiling_growth is not None

    def __post_init__(self) -> None:
        film = "heat_transfer_coefficient"
        for name, low, high in (
            ("inside_coefficient", 0.0, 1e6),
            ("outside_coefficient", 0.0, 1e5),
            ("inside_cap", 1.0, 1e6),
        ):
            value = getattr(self, name)
            if value is not None:
                label = name.replace("_", " ")
                _set(self, **{name: parse(value, film, name=label, low=low, high=high)})
        for name, high in zip(_NUMBERS, (100.0, 1.0, 1e8, 1e8), strict=True):
            value = getattr(self, name)
            if value is not None:
                label = name.replace("_", " ")
                _set(self, **{name: parse(value, "number", name=label, low=0.0, high=high)})
        nodes = self.nodes_per_layer
        if isinstance(nodes, bool) or not isinstance(nodes, int) or not 1 <= nodes <= 64:
            raise InputError(
                quantity="nodes per layer",
                value=nodes,
                unit="",
                valid="a whole number, 1 to 64",
                remedy="4 is enough for most shells",
            )


@dataclass(frozen=True)
class Numerics:
    """Accuracy of the integration.

    tolerance 1: pressures within 0.5 psi of the converged answer over a 3 h hold and a pass (worst
    of 50 random ones 0.44).
    """

    tolerance: float = 1.0
    max_step_hold: float = 300.0
    max_step_flow: float = 0.5
    max_steps: int = 200_000

    def __post_init__(self) -> None:
        _set(
            self,
            tolerance=parse(self.tolerance, "number", name="tolerance", low=1e-6, high=100.0),
            max_step_hold=parse(
                self.max_step_hold, "time", name="longest step of a hold", low=1e-3, high=3600.0
            ),
            max_step_flow=parse(
                self.max_step_flow, "time", name="longest step of a pass", low=1e-4, high=60.0
            ),
        )


def _as_feeds(value: Any) -> tuple[tuple[str, Feed], ...]:
    if value is None:
        return ()
    if isinstance(value, Mapping):
        return tuple(value.items())
    try:
        return tuple((str(name), feed) for name, feed in value)
    except (TypeError, ValueError):
        raise InputError(
            quantity="feeds",
            value=value,
            unit="",
            valid="a mapping of names to feeds",
            remedy='write feeds={"main": Feed(...), "purge": Feed(...)}, or feed=Feed(...)',
        ) from None


class _Unset:
    """Marks an argument that was not given (None means "take it away")."""


_UNSET: Any = _Unset()


@dataclass(frozen=True, init=False)
class Scenario:
    """Everything a run needs.

    ``Scenario(bottle, fill="12 lb", start="60 degF", heater=..., switch=..., schedule=[...])``
    fits one bottle; ``Scenario([FittedBottle(...), ...], ...)`` several on one manifold.
    fill, start, heater, switch and mounting belong to the one bottle and can be replaced with
    ``scenario.replace(fill="10 lb")``; feed is the feed named "main".
    clock_start: time of day at t = 0, s. Raises InputError naming what is wrong.
    """

    bottles: tuple[FittedBottle, ...]
    schedule: tuple[Item, ...]
    ambient: Ambient
    feeds: tuple[tuple[str, Feed], ...]
    engine: EngineSide | None
    supply: Supply
    model: Model
    numerics: Numerics
    title: str
    clock_start: float

    def __init__(
        self,
        bottles: Bottle | FittedBottle | Sequence[FittedBottle],
        schedule: Sequence[Item] = (),
        ambient: Ambient | None = None,
        feeds: Mapping[str, Feed] | Sequence[tuple[str, Feed]] | None = None,
        engine: EngineSide | None = None,
        supply: Supply | None = None,
        model: Model | None = None,
        numerics: Numerics | None = None,
        title: str = "untitled scenario",
        clock_start: float | str = 0.0,
        *,
        fill: Any = _UNSET,
        start: Any = _UNSET,
        heater: Heater | None = _UNSET,
        switch: PressureSwitch | None = _UNSET,
        mounting: Mounting = _UNSET,
        feed: Feed = _UNSET,
    ) -> None:
        given = {
            "fill": fill,
            "start": start,
            "heater": heater,
            "switch": switch,
            "mounting": mounting,
        }
        all_feeds = _as_feeds(feeds)
        if feed is not _UNSET:
            all_feeds = (("main", feed), *[f for f in all_feeds if f[0] != "main"])
        _set(
            self,
            bottles=_fit(bottles, {k: v for k, v in given.items() if v is not _UNSET}),
            schedule=as_schedule(schedule),
            ambient=Ambient() if ambient is None else ambient,
            feeds=all_feeds,
            engine=engine,
            supply=Supply() if supply is None else supply,
            model=Model() if model is None else model,
            numerics=Numerics() if numerics is None else numerics,
            title=str(title),
            clock_start=parse(clock_start, "clock_time", name="clock start", low=0.0, high=86400.0),
        )
        check_scenario(self, Model, Numerics, FittedBottle)

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
        """The feed of that name, or the first one."""
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

    def replace(self, **changes: Any) -> Scenario:
        """A copy with some fields changed (validated again)."""
        import dataclasses

        return dataclasses.replace(self, **changes)

    @staticmethod
    def from_toml(path: str | Path) -> Scenario:
        """Read a scenario file; see the scenario-file reference in the documentation."""
        from n2osim.scenario.file import load

        return load(path)

    def to_toml(self, path: str | Path | None = None, *, overwrite: bool = False) -> str:
        """Write (and return) the scenario as TOML text in SI numbers."""
        from n2osim.scenario.file import dump

        return dump(self, path, overwrite=overwrite)

    def run(self) -> Run:
        """Shorthand for ``simulate(self)``."""
        from n2osim.results.run import simulate

        return simulate(self)


def _fit(bottles: Any, given: dict[str, Any]) -> tuple[FittedBottle, ...]:
    """Normalise the ways of giving bottles to a tuple of fitted ones."""
    import dataclasses

    if isinstance(bottles, Bottle):
        for name in ("fill", "start"):
            if name not in given:
                raise InputError(
                    quantity=name,
                    value=None,
                    unit="",
                    valid="a charge and a start temperature",
                    remedy=f'give {name}=..., for example fill="12 lb", start="60 degF"',
                )
        return (FittedBottle(bottle=bottles, **given),)
    if isinstance(bottles, FittedBottle):
        bottles = (bottles,)
    if not isinstance(bottles, Sequence) or not bottles:
        raise InputError(
            quantity="bottles",
            value=bottles,
            unit="",
            valid="a Bottle or FittedBottles",
            remedy="give at least one bottle",
        )
    if given and len(bottles) > 1:
        raise InputError(
            quantity=", ".join(given),
            value="given for several bottles",
            unit="",
            valid="set on each FittedBottle",
            remedy="replace the bottles themselves",
        )
    if not all(isinstance(b, FittedBottle) for b in bottles):
        raise InputError(
            quantity="bottles",
            value=bottles,
            unit="",
            valid="a Bottle or FittedBottles",
            remedy="wrap each bottle of several: FittedBottle(bottle, fill, start, name)",
        )
    return tuple(dataclasses.replace(b, **given) if given else b for b in bottles)


__all__ = ["DENSEST", "SCHEMA", "FittedBottle", "Model", "Mounting", "Numerics", "Scenario"]
