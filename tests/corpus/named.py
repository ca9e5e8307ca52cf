"""Hand-built scenarios, each for a feature; all with public names, short schedules."""

from __future__ import annotations

from functools import cache
from typing import Any

import n2osim as n2

Scenarios = dict[str, n2.Scenario]
SHELLS = ("aluminium", "steel", "carbon-aluminium", "carbon-polymer")
MODELS = ("spi", "hem", "nhne", "omega", "hne")
FUELS = ("petrol", "methanol", "ethanol", "e85", "isooctane", "toluene")


def base(**changes: Any) -> n2.Scenario:
    """A 10 lb bottle with heater, switch and one jet: hold, pass, rest; ``changes`` replace."""
    given: dict[str, Any] = (
        dict(
            bottles=n2.Bottle.preset("aluminium", "10 lb"),
            fill="9 lb",
            start="62 degF",
            ambient=n2.Ambient("58 degF"),
            heater=n2.Heater("400 W"),
            switch=n2.PressureSwitch("880 psig", "920 psig"),
            feeds={"main": jets(), "purge": vent()},
            schedule=[n2.Hold("15 min"), n2.Pass("6 s"), n2.Rest("3 min")],
        )
        | changes
    )
    return n2.Scenario(given.pop("bottles"), **given)


def jets(bore: str = "0.05 in", count: int = 1, model: str = "hem") -> n2.Feed:
    """Jets without any line."""
    return n2.Feed(n2.Jets(count, bore), model=model)


def vent() -> n2.Feed:
    """The jets of a purge."""
    return n2.Feed(n2.Jets(1, "0.04 in"), model="hem")


@cache
def plumbed(model: str = "hne", parts: str = "lv") -> n2.Feed:
    """A feed with some of: l line, v valve, b bottle valve, p pick-up, d distribution."""
    given: dict[str, Any] = {
        "l": ("line", n2.FeedLine("12 ft", "0.2 in", fittings_k=2.0)),
        "v": ("valve", n2.Valve(bore="0.125 in")),
        "b": ("bottle_valve", n2.Valve(bore="0.25 in")),
        "p": ("pickup", n2.FeedLine("0.4 m", "8 mm")),
        "d": ("distribution", n2.FeedLine("0.5 m", "3 mm", extra_volume="20 cc")),
    }
    return n2.Feed(n2.Jets(2, "0.04 in"), model=model, **dict(given[p] for p in parts))


def engine(**changes: Any) -> n2.EngineSide:
    """Fixed fuel jets behind 43 psig."""
    given: dict[str, Any] = dict(fuel_jets=n2.Jets(1, "0.0222 in"), fuel_pressure="43 psig")
    return n2.EngineSide(**given | changes)


def drawn(*items: Any, **changes: Any) -> n2.Scenario:
    """A warm bottle without heater: ``items`` are the schedule."""
    given: dict[str, Any] = dict(heater=None, switch=None, start="80 degF")
    return base(**given | changes, schedule=list(items))


def held(heater: Any = None, switch: Any = None, **changes: Any) -> n2.Scenario:
    """Twenty minutes on the switch and a short rest."""
    given: dict[str, Any] = dict(schedule=[n2.Hold("20 min"), n2.Rest("2 min")])
    given |= {k: v for k, v in (("heater", heater), ("switch", switch)) if v is not None}
    return base(**given | changes)


# --- cars: all that the questions of size, tune, passes, day and compare need ---------------------
def cars() -> Scenarios:
    """Twelve cars with heater, switch, feed, engine and pass."""
    found = {
        f"car-{shell}": base(bottles=n2.Bottle.preset(shell, "10 lb"), engine=engine())
        for shell in SHELLS
    }
    found |= {
        f"car-{model}": base(feeds={"main": jets(model=model), "purge": vent()}, engine=engine())
        for model in ("spi", "nhne", "hne")
    }
    cut_out = n2.Heater("300 W", voltage="14.4 V", cut_out=n2.CutOut("180 degF", "160 degF"))
    found |= {
        "car-e85": base(engine=engine(fuel="e85", bsfc="0.65 lb/hp/h", power_at="wheel")),
        "car-methanol": base(engine=engine(fuel="methanol", efficiency=0.3), start="50 degF"),
        "car-supply": base(engine=engine(), heater=cut_out, supply=n2.Supply(13.6, 0.02)),
        "car-lagging": base(
            engine=engine(), switch=n2.PressureSwitch("860 psig", "940 psig", lag="3 s")
        ),
        "car-plumbed": base(engine=engine(), feeds={"main": plumbed(), "purge": vent()}),
    }
    return found


# --- bottles --------------------------------------------------------------------------------------
def shells() -> Scenarios:
    """Every preset in the sizes that it comes in, and shells of one's own."""
    found = {
        f"preset-{shell}-{pounds}": held(bottles=n2.Bottle.preset(shell, f"{pounds} lb"))
        for shell, pounds in zip(SHELLS, (12, 15, 20, 12))
    }
    glass = n2.Material("glass wool", 0.04, 0.04, 60.0, 800.0)
    layers = (n2.Layer("HDPE", "5 mm"), n2.Layer("carbon-epoxy", "8 mm"), n2.Layer(glass, "6 mm"))
    own = {
        "capacity": n2.Bottle.from_capacity("13 lb", "steel"),
        "dimensions": n2.Bottle.from_dimensions(
            outer_diameter="7 in", volume="7 L", wall="0.25 in", material="6061-T6"
        ),
        "specification": n2.Bottle.from_dimensions(
            outer_diameter="7 in", volume="7 L", spec="3AL", test_pressure="3000 psig"
        ),
        "layers": n2.Bottle("layered", "7 L", "6.5 in", layers),
        "weighed": n2.Bottle.from_layers(
            "7 L", [{"mass": 6.0, "specific_heat": 900.0, "thickness": "6 mm", "k": 160.0}]
        ),
        "lumped": n2.Bottle.lumped("7 L", "6 kJ/K", "0.2 m2"),
        "jacket": n2.Bottle.preset("aluminium", "10 lb").with_jacket("10 mm"),
        "silicone": n2.Bottle.preset("steel", "10 lb").with_jacket("3 mm", "silicone rubber"),
    }
    return found | {f"own-{name}": held(bottles=b, fill="8 lb") for name, b in own.items()}


def reliefs() -> Scenarios:
    """Relief devices and discs that open, and overfilled bottles."""
    weak = n2.Bottle.preset("aluminium", "10 lb", relief_pressure="1300 psig", relief_bore="2 mm")
    wide = n2.Bottle.preset("aluminium", "10 lb", relief_pressure="1500 psig", relief_bore="8 mm")
    fault = n2.PressureSwitch("880 psig", "920 psig", fault="welded")
    strong = n2.Heater("1500 W")
    return {
        "relief-small": held(strong, fault, bottles=weak, fill="8 lb"),
        "relief-wide": held(strong, fault, bottles=wide, fill="9 lb"),
        "relief-overfilled": held(strong, fault, bottles=wide, fill="10.4 lb"),
        "relief-vapour": held(strong, fault, bottles=weak, fill="1 lb"),
    }


def several() -> Scenarios:
    """Two and three bottles: followers, own switches, unlike shells, stages that choose one."""
    a, s = n2.Bottle.preset("aluminium", "10 lb"), n2.Bottle.preset("steel", "10 lb")
    h, sw = n2.Heater("300 W"), n2.PressureSwitch("880 psig", "920 psig")
    left = n2.FittedBottle(a, "9 lb", "66 degF", "left", h, sw)
    follower = n2.FittedBottle(s, "7 lb", "66 degF", "right", h, follows="left")
    own = n2.FittedBottle(a, "8 lb", "60 degF", "right", n2.Heater("500 W"), sw)
    cold = n2.FittedBottle(s, "6 lb", "50 degF", "third", mounting=n2.Mounting(standing=True))
    feeds = {"main": jets("0.07 in"), "second": jets("0.05 in"), "purge": vent()}
    short = [n2.Hold("12 min"), n2.Purge("1 s"), n2.Pass("5 s"), n2.Rest("2 min")]
    one = n2.Pass(
        "4 s",
        stages=[
            n2.Stage("main", bottle="left"),
            n2.Stage("second", [(0, 0), (2, 1)], bottle="right"),
        ],
    )
    refill = n2.Refill("65 degF", to="8 lb", bottle="right")
    ways: dict[str, tuple[list[Any], list[Any]]] = {
        "follower": ([left, follower], short),
        "two-switches": ([left, own], short),
        "three": ([left, follower, cold], short),
        "unlike": ([left, cold], short),
        "outflow": ([left, own], [n2.Pass("5 s", outflow="0.2 lb/s")]),
        "chosen": ([left, own], [n2.Hold("5 min"), one]),
        "refilled": ([left, own], [n2.Pass("5 s"), refill, n2.Weigh(), n2.Pass("3 s")]),
    }
    return {f"several-{k}": base_of(b, s, feeds) for k, (b, s) in ways.items()}


def base_of(bottles: list[Any], schedule: list[Any], feeds: Any) -> n2.Scenario:
    """Several bottles in mild air."""
    return n2.Scenario(bottles, schedule, n2.Ambient("60 degF"), feeds, engine=engine())


def mountings() -> Scenarios:
    """How a bottle lies, and where it is drawn from."""
    ways = {
        "standing": n2.Mounting(standing=True),
        "tilted": n2.Mounting(tilt="15 deg"),
        "launch": n2.Mounting(acceleration="1.2 g"),
        "vapour": n2.Mounting(draw="vapour"),
        "high": n2.Mounting(pickup_along=0.5, pickup_height=0.3),
        "stranded": n2.Mounting(pickup=0.2, pickup_band=0.05),
        "nose-down": n2.Mounting(tilt="-20 deg", acceleration="0.5 g"),
    }
    long = n2.Pass("20 s")
    return {f"mounting-{k}": drawn(long, mounting=m, fill="5 lb") for k, m in ways.items()}


# --- heater and switch ----------------------------------------------------------------------------
def heaters() -> Scenarios:
    """Constant, resistive, rated and self-limiting heaters, cut-outs, supplies."""
    cut = n2.CutOut("120 degF", "110 degF")
    ways: dict[str, Any] = {
        "resistance": n2.Heater(resistance="0.5 ohm"),
        "rated": n2.Heater(350.0, voltage=14.4),
        "self-limiting": n2.Heater("600 W", self_limit=0.01),
        "massless": n2.Heater(300.0, heat_capacity=0.0),
        "bare": n2.Heater("400 W", cover_resistance=0.0),
        "narrow": n2.Heater("300 W", coverage=0.1, contact_resistance=1e-2),
        "cut-out": n2.Heater("900 W", cut_out=cut),
        "off": n2.Heater(0.0),
    }
    weak = n2.Supply("12.2 V", "0.1 ohm")
    found = {f"heater-{k}": held(h) for k, h in ways.items()}
    found["heater-weak-supply"] = held(ways["resistance"], supply=weak)
    found["heater-in-pass"] = base(
        schedule=[
            n2.Hold("10 min", until_open=True),
            n2.Pass("20 s", heater=True),
            n2.Rest("10 min", heater=True),
        ]
    )
    return found


def switches() -> Scenarios:
    """Sensor, lag, offset, scatter and both faults."""
    ways: dict[str, dict[str, Any]] = {
        "lag": {"lag": "10 s"},
        "offset": {"offset": "-20 psi"},
        "tolerance": {"tolerance": 7e4},
        "welded": {"fault": "welded"},
        "stuck": {"fault": "stuck open"},
        "line": {"sensor": "line"},
        "rated": {"rated_switchings": 5.0},
    }
    found = {
        f"switch-{k}": held(n2.Heater("700 W"), n2.PressureSwitch("800 psig", "830 psig", **w))
        for k, w in ways.items()
    }
    close = n2.PressureSwitch("820 psig", "821 psig")
    return found | {
        "switch-narrow": held(n2.Heater("500 W"), close),
        "switch-none": held(switch=n2.PressureSwitch("10 psig", "20 psig")),
    }


# --- surroundings and model -----------------------------------------------------------------------
def surroundings() -> Scenarios:
    """Air tables, day and night, wind, sun, altitude, a closed boot."""
    boot = n2.Boot("15 kJ/K", "6 W/K", "150 W")
    table = n2.TemperatureTable(("18:00", "19:00"), ("70 degF", "50 degF"))
    ways = {
        "day-night": n2.Ambient(n2.DayNight("70 degF", "12 degF", "15:00")),
        "table": n2.Ambient(table),
        "wind": n2.Ambient("40 degF", air_speed="15 mph"),
        "sun": n2.Ambient("90 degF", sun=900.0),
        "altitude": n2.Ambient("60 degF", pressure=n2.standard_pressure("5000 ft")),
        "boot": n2.Ambient("60 degF", enclosure=boot),
        "frost": n2.Ambient("-20 degF"),
        "hot": n2.Ambient("115 degF", sun=500.0, enclosure=boot),
    }
    rest = [n2.Rest("40 min"), n2.Pass("4 s"), n2.Rest("20 min")]
    return {
        f"air-{k}": base(ambient=a, schedule=rest, clock_start="18:10") for k, a in ways.items()
    }


def models() -> Scenarios:
    """Constants instead of correlations, two zones, boiling growth, nodes, tolerances."""
    ways: dict[str, dict[str, Any]] = {
        "adiabatic": {"inside_coefficient": 0.0, "outside_coefficient": 0.0},
        "constant": {"inside_coefficient": 400.0, "outside_coefficient": 10.0},
        "factor": {"inside_factor": 0.3, "cover_factor": 0.0},
        "cap": {"inside_cap": 500.0},
        "dark": {"radiation": False},
        "coarse": {"nodes_per_layer": 1},
        "fine": {"nodes_per_layer": 9},
        "two-zone": {"two_zone": 1.0},
        "two-zone-strong": {"two_zone": 1e4},
        "boiling": {"boiling_growth": 2e4},
        "boiling-zones": {"two_zone": 50.0, "boiling_growth": 1e5},
    }
    found = {f"model-{k}": base(model=n2.Model(**w)) for k, w in ways.items()}
    found["numerics-fine"] = base(numerics=n2.Numerics(0.1))
    found["numerics-coarse"] = base(numerics=n2.Numerics(10.0, max_step_hold=60.0))
    found["numerics-few-steps"] = base(numerics=n2.Numerics(max_steps=20))  # ends early
    return found


# --- feeds and what happens -----------------------------------------------------------------------
def feeds() -> Scenarios:
    """Every orifice model by jets alone and behind a valve, and every part of a line."""
    found = {
        f"jets-{m}": drawn(n2.Pass("12 s"), n2.Rest("1 min"), feeds={"main": jets(model=m)})
        for m in MODELS
    }
    lines = {"valve": ("hem", "v"), "everything": ("omega", "lvbpd"), "hose": ("hne", "lv")}
    for name, (model, parts) in lines.items():
        feed = plumbed(model, parts)
        found[f"line-{name}"] = drawn(n2.Pass("6 s", delay="0.5 s"), feeds={"main": feed})
    found["line-purged"] = drawn(
        n2.Purge("2 s"), n2.Pass("4 s"), feeds={"main": plumbed(), "purge": plumbed()}
    )
    effective = n2.Feed(n2.Jets.effective("1.5 mm2"))
    found["jets-effective"] = drawn(n2.Pass("8 s"), feeds={"main": effective})
    return found


def passes() -> Scenarios:
    """Delays, delivery over time and distance, stages, outflow, target flow, windows, dry ends."""
    track = [("0 s", "0 ft"), ("1.2 s", "60 ft"), ("2.2 s", "195 ft"), ("3 s", "330 ft")]
    distance = [("60 ft", 0.3), ("330 ft", 1.0)]
    second = n2.Stage("second", [("0 s", 0), ("3 s", 0), ("3 s", 1)])
    ways = {
        "delay": n2.Pass("6 s", delay="1.5 s"),
        "empty": n2.Pass("60 s"),
        "none": n2.Pass("0 s"),
        "ramp": n2.Pass("6 s", delivery=[("0 s", 0.2), ("3 s", 1.0)]),
        "steps": n2.Pass("6 s", delivery=[(0, 0.5), (2, 0.5), (2, 1), (4, 1), (4, 0.3)]),
        "distance": n2.Pass("5 s", distance, delay="0.5 s", track=track),
        "stages": n2.Pass("6 s", stages=[n2.Stage("main", [(0, 0.5), (1, 1)]), second]),
        "stage-distance": n2.Pass(
            "5 s", stages=[n2.Stage("main"), n2.Stage("second", distance)], track=track
        ),
        "outflow": n2.Pass("6 s", outflow="0.08 lb/s"),
        "target": n2.Pass("10 s", target_flow="2 lb/min"),
        "named": n2.Pass("6 s", feed="second"),
        "window": n2.Pass("15 s", window=("600 psig", "800 psig")),
        "emptied": n2.Pass("60 s", outflow="0.5 lb/s"),
        "window-shut": n2.Pass("5 s", window=("900 psig", "1000 psig"), heater=True),
    }
    both = {"main": jets(), "second": jets("0.035 in", 2, "spi")}
    return {f"pass-{k}": drawn(p, feeds=both, engine=engine()) for k, p in ways.items()}


def refills() -> Scenarios:
    """Pumped and not, at once and over time, into warm and empty bottles; weighing around them."""
    weigh = n2.Weigh("0.1 lb", "0.05 lb", refill_below="6 lb", duration="1 min")
    ways = {
        "pumped": n2.Refill("60 degF"),
        "at-once": n2.Refill("60 degF", duration=0.0),
        "unpumped": n2.Refill("75 degF", pumped=False),
        "slow": n2.Refill("60 degF", to="8 lb", duration="20 min"),
        "pump": n2.Refill("40 degF", pump_efficiency=0.2),
        "cold": n2.Refill("-20 degF", pumped=False),
        "unpumped-at-once": n2.Refill("85 degF", pumped=False, duration=0.0),
    }
    return {
        f"refill-{k}": drawn(weigh, r, weigh, n2.Pass("4 s"), fill="2 lb", start="65 degF")
        for k, r in ways.items()
    }


def engines() -> Scenarios:
    """Each fuel, and the ways of accounting."""
    found = {f"fuel-{f}": engine(fuel=f) for f in FUELS}
    boost = {"intake_pressure": "12 psig", "regulator_referenced": True}
    flows = {"base_air": "0.12 kg/s", "base_fuel": "0.01 kg/s", "decomposition": True}
    wheel = {"power_at": "wheel", "driveline_efficiency": 0.8, "bsfc": "0.55 lb/hp/h"}
    found |= {
        "engine-target": n2.EngineSide(target_mixture=1.3),
        "engine-boost": engine(**boost),
        "engine-base": engine(**flows),
        "engine-wheel": engine(**wheel, fuel_density=760.0),
        "engine-vacuum": engine(intake_pressure="-8 psig", intake_temperature="20 degF"),
    }
    shot = n2.Pass("4 s", delivery=[(0, 0.5), (1, 1)])
    return {k: drawn(n2.Purge("1 s"), shot, engine=e) for k, e in found.items()}


GROUPS = (
    cars,
    shells,
    reliefs,
    several,
    mountings,
    heaters,
    switches,
    surroundings,
    models,
    feeds,
    passes,
    refills,
    engines,
)
