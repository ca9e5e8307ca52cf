"""Random physical scenarios: one generator, fed by hypothesis (tests) or by dice (campaign).

Everything that a user may combine is in here: any shell, charge 2 to 105 %, -40 to 160 degF, any
heater, cut-out, band, lag and fault, several bottles, feeds with and without lines, closed boot,
sun, two zones, constant coefficients, and schedules of one to six items.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import cache
from typing import Any, Protocol, TypeVar

from hypothesis import strategies as st

from n2osim.hardware.air import DayNight, TemperatureTable
from n2osim.hardware.ambient import Ambient, Boot
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.feed import Feed, FeedLine, Valve
from n2osim.hardware.heater import CutOut, Heater, Supply
from n2osim.hardware.jets import Jets
from n2osim.hardware.switch import PressureSwitch
from n2osim.scenario.scenario import FittedBottle, Model, Mounting, Numerics, Scenario
from n2osim.scenario.schedule import Hold, Item, Pass, Purge, Refill, Rest, Stage, Weigh
from n2osim.units import PSI

T = TypeVar("T")
COLD, HOT = 233.15, 344.26  # K: -40 and 160 degF
SHELLS = ("aluminium", "steel", "carbon-aluminium", "carbon-polymer")
MOST_STEPS = 20_000  # of one item; a stretch that needs more is a fault of the engine
JETS_MODELS = ("hne", "hem", "nhne", "omega", "spi")


class Draws(Protocol):
    """Where the random numbers come from."""

    def real(self, low: float, high: float) -> float: ...
    def whole(self, low: int, high: int) -> int: ...
    def one_of(self, options: Sequence[T]) -> T: ...


class Dice:
    """Pseudo-random numbers from a seed: the same scenario on every machine."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def real(self, low: float, high: float) -> float:
        return self.random.uniform(low, high)

    def whole(self, low: int, high: int) -> int:
        return self.random.randint(low, high)

    def one_of(self, options: Sequence[T]) -> T:
        return options[self.random.randrange(len(options))]


class Drawn:
    """Numbers drawn by hypothesis, so that it can search and shrink."""

    def __init__(self, draw: Any) -> None:
        self.draw = draw

    def real(self, low: float, high: float) -> float:
        return self.draw(st.floats(low, high, allow_subnormal=False))

    def whole(self, low: int, high: int) -> int:
        return self.draw(st.integers(low, high))

    def one_of(self, options: Sequence[T]) -> T:
        return self.draw(st.sampled_from(options))


@cache
def preset(shell: str, pounds: int, jacket: float) -> Bottle:
    bottle = Bottle.preset(shell, f"{pounds} lb")
    return bottle.with_jacket(jacket) if jacket else bottle


def bottle(d: Draws) -> Bottle:
    """A preset, with or without jacket and relief device, or a lumped shell of any weight."""
    if d.whole(0, 4) == 0:
        volume = d.real(0.002, 0.03)
        area = 5.5 * volume ** (2.0 / 3.0) * d.real(0.8, 1.6)
        relief = d.one_of((None, d.real(8e6, 25e6)))
        return Bottle.lumped(
            volume,
            d.real(500.0, 30e3),
            area,
            relief_pressure=relief,
            relief_bore=d.real(1e-3, 1.2e-2),
        )
    return preset(
        d.one_of(SHELLS), d.one_of((10, 12, 15, 20)), d.one_of((0.0, 0.0, 0.0, 3e-3, 15e-3))
    )


def heater(d: Draws) -> Heater | None:
    kind = d.whole(0, 9)
    if kind == 0:
        return None
    fields: dict[str, Any] = {
        "coverage": d.real(0.02, 0.98),
        "contact_resistance": d.one_of((0.0, 1e-3, 1e-2)),
        "heat_capacity": d.one_of((500.0, 500.0, 5000.0)),
        "cover_resistance": d.one_of((0.0, 0.1, 1.0)),
        "cut_out": d.one_of((None, None, CutOut(360.0, 350.0), CutOut(330.0, 322.0))),
        "self_limit": d.one_of((0.0, 0.0, 5e-3)),
    }
    if fields["cut_out"] is None and d.whole(0, 3) == 0:
        fields["heat_capacity"] = d.one_of(
            (0.0, 100.0)
        )  # with a cut-out a heater without mass buzzes (test_hazards)
    if kind < 7:
        fields["power"] = d.one_of((0.0, d.real(10.0, 800.0), d.real(800.0, 10e3)))
    elif kind == 7:
        fields["resistance"] = d.real(0.05, 5.0)
    else:
        fields |= {"power": d.real(10.0, 1000.0), "voltage": 14.4}
    return Heater(**fields)


def switch(d: Draws) -> PressureSwitch | None:
    if d.whole(0, 9) == 0:
        return None
    closes = d.real(100.0, 1600.0) * PSI
    return PressureSwitch(
        closes,
        closes + d.one_of((d.real(0.02, 5.0), d.real(5.0, 200.0))) * PSI,
        sensor=d.one_of(("bottle", "bottle", "bottle", "line")),
        lag=d.one_of((0.0, 0.0, 0.3, 10.0)),
        offset=d.one_of((0.0, 0.0, d.real(-30.0, 30.0) * PSI)),
        fault=d.one_of((None, None, None, "welded", "stuck open")),
    )


def mounting(d: Draws) -> Mounting:
    standing, tilt = d.whole(0, 1) == 1, d.one_of((0.0, 0.3))
    return Mounting(
        standing=standing,
        tilt=0.0 if standing else tilt,  # refused together
        acceleration=d.one_of((0.0, 10.0)),
        pickup_band=d.one_of((0.01, 1e-3, 0.1)),
        draw=d.one_of(("liquid", "liquid", "liquid", "vapour")),
    )


def fitted(d: Draws, name: str, lead: str | None) -> FittedBottle:
    b = bottle(d)
    start = d.real(COLD, HOT)
    return FittedBottle(
        b,
        b.capacity * d.real(0.02, 1.05),
        start,
        name,
        heater(d),
        *((None, lead) if lead and d.whole(0, 1) else (switch(d), None)),
        mounting=mounting(d),
        wall_start=d.one_of((None, None, None, d.real(COLD, HOT))),
    )


def _temperature(d: Draws) -> Any:
    kind = d.whole(0, 4)
    mean = d.real(COLD, 325.0)
    if kind == 0:
        return DayNight(mean, d.real(0.0, 15.0), d.real(0.0, 86400.0))
    if kind == 1:
        a, b = d.real(0.0, 3000.0), d.real(1.0, 5000.0)
        return TemperatureTable((a, a + b), (mean, d.real(COLD, 325.0)))
    return mean


def ambient(d: Draws) -> Ambient:
    boot = Boot(d.one_of((500.0, 20e3)), d.one_of((2.0, 8.0)), d.one_of((0.0, 300.0)))
    return Ambient(
        _temperature(d),
        d.one_of((101325.0, 101325.0, 79.5e3)),
        d.one_of((0.0, 0.0, 4.0, 40.0)),
        d.one_of((0.0, 0.0, 800.0)),
        d.one_of((None, None, boot)),
    )


@cache
def feed_with_losses(number: int) -> Feed:
    """A random feed with line and valves; few and kept, because each needs its flow map made."""
    d = Dice(number)
    return Feed(
        Jets(d.one_of((1, 2, 8)), d.real(4e-4, 2e-3), d.real(0.5, 1.0)),
        line=d.one_of((None, FeedLine(d.real(0.1, 6.0), d.real(2e-3, 1e-2), fittings_k=2.0))),
        valve=Valve(bore=d.real(1e-3, 6e-3)),
        bottle_valve=d.one_of((None, Valve(bore=d.real(2e-3, 6e-3)))),
        pickup=d.one_of((None, FeedLine(0.4, d.real(3e-3, 8e-3)))),
        model=d.one_of(JETS_MODELS),
    )


def feed(d: Draws, variety: int) -> Feed:
    if d.whole(0, 2) == 0:
        return feed_with_losses(d.whole(1, variety))
    jets = Jets(d.one_of((1, 4, 8)), d.real(2e-4, 2.5e-3), d.real(0.3, 1.0))
    return Feed(jets, model=d.one_of(JETS_MODELS))


def _delivery(d: Draws, length: float) -> tuple[tuple[float, float], ...] | None:
    kind = d.whole(0, 4)
    if kind > 2:
        return None
    if kind == 2:
        return ((0.0, d.real(0.0, 1.0)),)
    corner = 0.5 * length
    return ((0.0, d.real(0.0, 1.0)), (corner, d.real(0.0, 1.0)), (corner + 0.5, d.real(0.0, 1.0)))


def _pass(d: Draws, names: Sequence[str]) -> Pass:
    length = d.one_of((0.0, d.real(0.01, 1.0), d.real(1.0, 20.0), d.real(20.0, 120.0)))
    fields: dict[str, Any] = {"heater": d.whole(0, 3) == 0, "delay": d.one_of((0.0, 0.0, 0.4))}
    if fields["delay"] >= length > 0.0:
        fields["delay"] = 0.0  # refused: nothing would flow
    kind = d.whole(0, 5)
    if kind == 0:
        return Pass(length, outflow=d.real(0.0, 0.5), **fields)
    if kind == 1:
        fields["target_flow"] = d.real(0.0, 0.3)
    if kind == 2:
        fields["stages"] = tuple(
            Stage(d.one_of(("main", "second")), _delivery(d, length), d.one_of((None, names[-1])))
            for _ in range(d.whole(1, 2))
        )
    else:
        fields["delivery"] = _delivery(d, length)
    if d.whole(0, 5) == 0:
        low = d.real(0.0, 1000.0) * PSI
        fields["window"] = (low, low + d.real(10.0, 800.0) * PSI)
    return Pass(length, **fields)


def _item(d: Draws, names: Sequence[str]) -> Item:
    kind = d.whole(0, 9)
    if kind < 3:
        long = d.one_of((0.0, d.real(1.0, 600.0), d.real(600.0, 7200.0)))
        return Hold(long, until_open=d.whole(0, 2) == 0)
    if kind < 6:
        return _pass(d, names)
    if kind == 6:
        return Rest(d.one_of((0.0, d.real(1.0, 14400.0))), heater=d.whole(0, 3) == 0)
    if kind == 7:
        return Purge(d.real(0.0, 5.0), heater=d.whole(0, 1) == 1)
    if kind == 8:
        return Weigh(duration=d.one_of((0.0, 60.0)), refill_below=d.one_of((None, 3.0)))
    return Refill(
        d.real(240.0, 308.0),
        to=d.one_of((None, d.real(0.5, 7.0))),
        pumped=d.whole(0, 1) == 1,
        bottle=d.one_of((None, names[0])),
        duration=d.one_of((0.0, 60.0)),
    )


def model(d: Draws) -> Model:
    return Model(
        inside_coefficient=d.one_of((None, None, None, 0.0, 400.0, 3000.0)),
        inside_factor=d.one_of((1.0, 1.0, 0.1, 3.0)),
        outside_coefficient=d.one_of((None, None, None, 0.0, 10.0)),
        cover_factor=d.one_of((1.0, 0.0)),
        radiation=d.whole(0, 3) > 0,
        nodes_per_layer=d.one_of((4, 4, 1, 2, 7)),
        two_zone=d.one_of((None,) * 9 + (1.0, 100.0, 2e4)),
    )


def scenario(d: Draws, variety: int = 6) -> Scenario:
    """A random scenario; ``variety`` is how many different feeds with losses there are."""
    count = d.one_of((1,) * 48 + (2, 3))  # several bottles: 4 %, most of the time
    names = tuple("abc"[:count])
    boost = d.one_of((None, None, 0.0, 1e5))
    return Scenario(
        [fitted(d, n, None if n == "a" else "a") for n in names],
        [_item(d, names) for _ in range(d.whole(1, 6))],
        ambient(d),
        {"main": feed(d, variety), "second": feed(d, variety), "purge": feed(d, variety)},
        None if boost is None else EngineSide(intake_pressure=boost),
        Supply(d.real(11.0, 16.0), d.one_of((0.0, 0.02, 0.5))),
        model(d),
        Numerics(tolerance=d.one_of((1.0, 1.0, 0.3, 5.0)), max_steps=MOST_STEPS),
        clock_start=d.real(0.0, 86400.0),
    )


@st.composite
def scenarios(draw: Any) -> Scenario:
    """Hypothesis strategy of :func:`scenario`."""
    return scenario(Drawn(draw))
