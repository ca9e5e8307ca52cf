"""Short runs that between them go through every mode of the engine; printed as JSON when run."""

from __future__ import annotations

import json

from n2osim.hardware.air import TemperatureTable
from n2osim.hardware.ambient import Ambient, Boot
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.feed import Feed
from n2osim.hardware.heater import CutOut, Heater
from n2osim.hardware.jets import Jets
from n2osim.hardware.switch import PressureSwitch
from n2osim.results.run import Run, simulate
from n2osim.scenario.scenario import FittedBottle, Model, Mounting, Scenario
from n2osim.scenario.schedule import Hold, Pass, Purge, Refill, Rest, Stage, Weigh
from n2osim.studies.ensemble import run_ensemble

ALUMINIUM = Bottle.preset("aluminium", "12 lb")
FEEDS = {
    "main": Feed(Jets.effective("8 mm2"), model="spi"),
    "purge": Feed(Jets.effective("2 mm2"), model="spi"),
}
BAND = PressureSwitch("900 psig", "910 psig", lag=2.0, offset="3 psi")


def evening() -> Scenario:
    """Hold with switching on a lagged sensor, purge, pass with a window, weigh, refill, rest."""
    schedule = [
        Hold("30 min", until_open=True),
        Hold("5 min"),
        Purge("1 s"),
        Rest("1 min"),
        Pass("5 s", delivery=[(0, 0.3), (2, 0.3), (2, 1.0)], window=("600 psig", "1200 psig")),
        Weigh(),
        Refill("60 degF", pumped=False),
        Rest("10 min"),
    ]
    return Scenario(
        ALUMINIUM,
        schedule,
        Ambient(TemperatureTable((0.0, 3600.0), (290.0, 285.0)), sun=300.0),
        FEEDS,
        fill="9 lb",
        start="80 degF",
        heater=Heater("600 W"),
        switch=BAND,
    )


def emptied() -> Scenario:
    """Liquid out, vapour tail and down to the outside's pressure, standing, composite shell."""
    return Scenario(
        Bottle.preset("carbon-polymer", "10 lb"),
        [Pass("40 s"), Rest("20 s")],
        feeds=FEEDS,
        fill="4 lb",
        start="70 degF",
        mounting=Mounting(standing=True, draw="liquid"),
        model=Model(inside_coefficient=400.0, outside_coefficient=10.0, nodes_per_layer=2),
    )


def two_zones() -> Scenario:
    return Scenario(
        ALUMINIUM,
        [Pass("3 s"), Rest("30 s"), Pass("2 s", target_flow=0.05)],
        feeds=FEEDS,
        fill="10 lb",
        start="85 degF",
        model=Model(two_zone=100.0),
    )


def two_bottles() -> Scenario:
    """Manifold, one heater following the other's switch, closed boot; shared, then equalising."""
    bottles = [
        FittedBottle(ALUMINIUM, 4.0, 300.0, "a", Heater("300 W"), BAND),
        FittedBottle(
            ALUMINIUM,
            3.0,
            296.0,
            "b",
            follows="a",
            heater=Heater("300 W", cut_out=CutOut("82 degF", "80 degF")),
        ),
    ]
    boot = Ambient("60 degF", enclosure=Boot(solar=100.0))
    schedule = [
        Hold("5 min"),
        Pass("0.5 s"),
        Pass("5 s", delivery=[(0, 0.0)]),
        Pass("0.5 s", target_flow=0.02),
        Pass("0.5 s", outflow=0.02),
        Pass("0.5 s", stages=(Stage("main", bottle="b"),)),
    ]
    return Scenario(bottles, schedule, boot, FEEDS)


def metered() -> Scenario:
    """Prescribed outflow, refills by pressure and by pump, a window that shuts and opens."""
    schedule = [
        Pass("3 s", outflow=0.05),
        Refill("75 degF", pumped=False),
        Rest("1 min"),
        Refill("60 degF", to="8 lb"),
        Pass("6 s", window=("550 psig", "1000 psig")),
    ]
    return Scenario(ALUMINIUM, schedule, feeds=FEEDS, fill="3 lb", start="60 degF")


def overheated() -> Scenario:
    """Relay welded, through the critical point until the disc bursts, and 5 s of the vent.

    No longer: when the last liquid of a vented bottle goes is not a sharp question.
    """
    bottle = Bottle.lumped(0.008, 4e3, 0.25, relief_pressure="1200 psig", relief_bore="3 mm")
    return Scenario(
        bottle,
        [Hold("182 s")],
        fill=3.5,
        start="90 degF",
        heater=Heater("900 W"),
        switch=PressureSwitch("900 psig", "1000 psig", fault="welded"),
    )


CASES = {f.__name__: f for f in (evening, emptied, two_zones, two_bottles, metered, overheated)}


def numbers(run: Run) -> dict[str, object]:
    """What two ways of running must agree on."""
    names = ("pressure_Pa", "mass_kg", "heater_energy_J", "heat_loss_J", "enthalpy_out_J")
    return {
        "events": [[e.name, e.bottle, e.time] for e in run.events],
        "last": {n: run[n][:, -1].tolist() for n in names},
        "largest": {n: float(abs(run[n]).max()) for n in names},
        "walls": run["wall_temperature_K"][..., -1].ravel().tolist(),
        "steps": run.statistics["steps"],
    }


def together() -> dict[str, list[float]]:
    """Two of them through the ensemble engine."""
    outputs = ["pass0.pressure_sag_Pa", "pass0.used_kg", "pass0.end_temperature_K"]
    made = run_ensemble([metered(), two_zones()], workers=1, outputs=outputs)
    return {name: [float(x) for x in made[name]] for name in outputs}


if __name__ == "__main__":
    found: dict[str, object] = {name: numbers(simulate(f())) for name, f in CASES.items()}
    print(json.dumps(found | {"together": together()}))
