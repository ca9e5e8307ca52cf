"""Cars for the scenarios of ``hazards.py``: a bottle at rest, held, in a pass, two, a day."""

import dataclasses
from typing import Any

import n2osim as n2

METAL = n2.Bottle.preset("aluminium", "10 lb")
CARBON = n2.Bottle.preset("carbon-polymer", "10 lb")
BAND = n2.PressureSwitch("880 psig", "920 psig")
JET = n2.Feed(n2.Jets(1, "0.046 in"))
ENGINE = n2.EngineSide(fuel_jets=n2.Jets(1, "0.0207 in"), fuel_pressure="43 psig")
HEATER = n2.Heater("300 W")
ELEMENT = n2.Heater("300 W", voltage="14.4 V")


NYLON = dataclasses.replace(
    CARBON,
    oxidising_note="",
    layers=[n2.Layer(n2.Material("nylon", 0.25, 0.25, 1130, 1700), "4 mm"), *CARBON.layers[1:]],
)
WEIGHED = dataclasses.replace(
    JET, jets=dataclasses.replace(JET.jets, cd_spread=0.02, measured_at="85 degF")
)


def bottle(**changes: Any) -> n2.Bottle:
    """The metal bottle with other markings."""
    return dataclasses.replace(METAL, **changes)


def engine(**changes: Any) -> n2.EngineSide:
    """The engine's side with other fields."""
    return dataclasses.replace(ENGINE, **changes)


def rest(**changes: Any) -> n2.Scenario:
    """A bottle that only lies there."""
    given: dict[str, Any] = dict(
        bottles=METAL,
        fill="8 lb",
        start="60 degF",
        ambient=n2.Ambient("60 degF"),
        schedule=[n2.Rest("10 min")],
    )
    given |= changes
    return n2.Scenario(given.pop("bottles"), **given)


def held(minutes: float = 45.0, **changes: Any) -> n2.Scenario:
    """A bottle on its heater and switch."""
    hold = [n2.Hold(60.0 * minutes)]
    return rest(**(dict(heater=HEATER, switch=BAND, schedule=hold) | changes))


def passed(**changes: Any) -> n2.Scenario:
    """One 8 s pass from 88 degF with an engine."""
    given = dict(fill="9 lb", start="88 degF", feed=JET, engine=ENGINE, schedule=[n2.Pass("8 s")])
    return rest(**(given | changes))


def two(right: dict[str, Any], **changes: Any) -> n2.Scenario:
    """A left bottle on its switch and a right one with its own fields."""
    left = dict(fill="8 lb", start="88 degF", name="left", heater=HEATER, switch=BAND)
    other = dict(fill="8 lb", start="88 degF", name="right") | right
    return rest_of([n2.FittedBottle(METAL, **left), n2.FittedBottle(METAL, **other)], **changes)


def rest_of(fitted: list[Any], **changes: Any) -> n2.Scenario:
    """Fitted bottles in mild air."""
    return n2.Scenario(fitted, **(dict(ambient=n2.Ambient("75 degF"), feed=JET) | changes))


def day(**refill: Any) -> n2.Scenario:
    """A pass, a refill, heat, a pass: a round of a hot day."""
    supply = refill.pop("supply", "95 degF")
    schedule = [n2.Hold("20 min"), n2.Pass("8 s"), n2.Refill(supply, **refill)]
    schedule += [n2.Hold("20 min"), n2.Pass("8 s")]
    air = n2.Ambient("95 degF")
    return passed(
        fill="6 lb", start="95 degF", ambient=air, heater=HEATER, switch=BAND, schedule=schedule
    )


def course(*corners: tuple[str, float], length: str = "8 s") -> list[Any]:
    """A pass with a delivery."""
    return [n2.Pass(length, delivery=[list(c) for c in corners])]


def follower(**right: Any) -> n2.Scenario:
    """The right bottle on the left one's switch, both from cold."""
    given = dict(start="60 degF", heater=HEATER, follows="left") | right
    made = two(given, schedule=[n2.Hold("60 min")], ambient=n2.Ambient("60 degF"))
    left = dataclasses.replace(made.bottles[0], start="60 degF")
    return made.replace(bottles=(left, *made.bottles[1:]))


def leaver(watts: float, fill: float = 4.0, minutes: float = 120.0, **right: Any) -> n2.Scenario:
    """Two bottles without relief, the right one on a heater that nothing switches off."""
    bare = bottle(relief_pressure=None)
    left = n2.FittedBottle(bare, 3.0, 280.0, "left")
    heated = n2.FittedBottle(bare, fill, 300.0, "right", n2.Heater(watts), **right)
    return rest_of([left, heated], schedule=[n2.Hold(60.0 * minutes), n2.Pass("2 s")])


HOT = {"start": "130 degF", "ambient": n2.Ambient("130 degF")}
COLD_AIR = n2.Ambient("20 degF", air_speed="20 mph")
LINE = n2.Feed(
    n2.Jets(1, "0.046 in"), line=n2.FeedLine("6 ft", "0.219 in"), valve=n2.Valve(bore="0.1 in")
)
ROOMY = n2.Feed(
    n2.Jets(1, "0.046 in"), line=n2.FeedLine.from_dash(6, "4 ft"), valve=n2.Valve(bore="0.25 in")
)
SMALL = n2.Feed(n2.Jets(1, "0.046 in"), valve=n2.Valve(bore="0.040 in"))
CUT_OUT = n2.Heater("500 W", cut_out=n2.CutOut("90 degF", "85 degF"))
AIRY = engine(base_air="0.4 kg/s", base_fuel="0.03 kg/s")
FRONT = n2.Mounting(pickup_along=0.05, acceleration="1.5 g")
WINDOW = ["800 psig", "1000 psig"]
