"""The scenario that tests of hazards vary, and the checks that each of their runs must pass."""

from __future__ import annotations

from typing import Any

from run_checks import problems

import n2osim as n2
from n2osim.results.run import Run, simulate
from n2osim.scenario.scenario import Scenario

BOTTLE = n2.Bottle.preset("aluminium", "10 lb")
ATM = 101325.0
SMALL = n2.Bottle.lumped(0.002, 300.0, 0.1)  # reacts fast: many switchings in little time


def base(**changes: Any) -> Scenario:
    """80 % full at 70 degF with heater and switch; ``changes`` replace arguments."""
    given: dict[str, Any] = {
        "fill": "8 lb",
        "start": "70 degF",
        "ambient": n2.Ambient("70 degF"),
        "heater": n2.Heater("400 W"),
        "switch": n2.PressureSwitch("880 psig", "920 psig"),
        "schedule": [n2.Hold("20 min")],
    }
    given |= changes
    return Scenario(given.pop("bottle", BOTTLE), **given)


def sound(scenario: Scenario) -> Run:
    """The scenario's run, after all checks."""
    run = simulate(scenario)
    assert problems(run) == []
    return run


def named(run: Run, name: str) -> list[Any]:
    return [e for e in run.events if e.name == name]
