"""Runs that several tests of the reports share (each computed once)."""

from functools import lru_cache
from typing import Any

import n2osim as n2


def scenario(**changes: Any) -> n2.Scenario:
    """A 10 lb aluminium bottle at rest, 80 % full at 60 degF; ``changes`` replace arguments."""
    given: dict[str, Any] = (
        dict(
            bottles=n2.Bottle.preset("aluminium", "10 lb"),
            fill="8 lb",
            start="60 degF",
            ambient=n2.Ambient("60 degF"),
            schedule=[n2.Rest("10 min")],
        )
        | changes
    )
    return n2.Scenario(given.pop("bottles"), **given)


def run(**changes: Any) -> n2.Run:
    """The run of :func:`scenario`."""
    return n2.simulate(scenario(**changes))


@lru_cache
def evening() -> n2.Run:
    """Warm up, hold, purge, pass, hold, pass, weigh: everything that a report shows."""
    return run(
        heater=n2.Heater("400 W"),
        switch=n2.PressureSwitch("880 psig", "920 psig"),
        feeds={
            "main": n2.Feed(n2.Jets(1, "0.06 in"), model="hem"),
            "purge": n2.Feed(n2.Jets(1, "0.04 in"), model="hem"),
        },
        schedule=[
            n2.Hold("40 min", label="warm up"),
            n2.Purge("1 s"),
            n2.Pass("8 s", label="first"),
            n2.Hold("20 min"),
            n2.Pass("8 s"),
            n2.Weigh(scale_tolerance="0.05 lb"),
        ],
        title="An <invented> evening, with ü",
    )


@lru_cache
def pair() -> n2.Run:
    """Two bottles, the right one on the left one's switch."""
    bottle = n2.Bottle.preset("aluminium", "10 lb")
    return n2.simulate(
        n2.Scenario(
            [
                n2.FittedBottle(
                    bottle,
                    "9 lb",
                    "60 degF",
                    name="left",
                    heater=n2.Heater("400 W"),
                    switch=n2.PressureSwitch("880 psig", "920 psig"),
                ),
                n2.FittedBottle(
                    bottle,
                    "7 lb",
                    "60 degF",
                    name="right, rear",
                    heater=n2.Heater("400 W"),
                    follows="left",
                ),
            ],
            schedule=[n2.Hold("30 min"), n2.Pass("5 s", outflow="0.2 lb/s")],
            ambient=n2.Ambient("60 degF"),
        )
    )


@lru_cache
def with_engine(fuel_pressure: str = "43 psig") -> n2.Run:
    """One pass with fixed fuel jets."""
    return run(
        feed=n2.Feed(n2.Jets(1, "0.05 in"), model="hem"),
        start="85 degF",
        engine=n2.EngineSide(
            fuel="gasoline",
            fuel_jets=n2.Jets(1, "0.0222 in"),
            fuel_pressure=fuel_pressure,
            target_mixture=1.15,
        ),
        schedule=[n2.Rest("1 min"), n2.Pass("6 s", label="run")],
    )
