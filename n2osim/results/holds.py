"""How a hold stood to the band of the switch that feeds its heater."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from n2osim.hardware.switch import PressureSwitch
    from n2osim.results.run import Run
    from n2osim.scenario.fitted import FittedBottle
    from n2osim.scenario.scenario import Scenario

ABOVE = "was above the band from the start"
IN_BAND = "stood in the band"
"""What is said of holds whose switch never closed, instead of "the switch did not open"."""


def leader_of(scenario: Scenario, bottle: str) -> FittedBottle:
    """The bottle whose switch is in charge of a bottle's heater: itself, or the one it follows."""
    fitted = scenario.bottles[scenario.bottle_index(bottle)]
    return scenario.bottles[scenario.bottle_index(fitted.follows or bottle)]


def switch_of(scenario: Scenario, bottle: str) -> PressureSwitch | None:
    """The switch in charge of a bottle: its own, or that of the bottle it follows; or None."""
    return leader_of(scenario, bottle).switch


def above_from_start(run: Run, hold: Any) -> bool:
    """Whether a hold began with its switch above the band and the heater never came on.

    The switch is that of the bottle, or of the one whose switch it follows: the switch stands at
    the pressure of that bottle.
    """
    if hold.warm_up_time is not None or hold.energy > 0.0:
        return False
    switch, leader = switch_of(run.scenario, hold.bottle), leader_of(run.scenario, hold.bottle)
    if switch is None:
        return False
    its = run.by_item.get((hold.index, leader.name))
    return its is not None and bool(its.start_pressure >= switch.opens)


def in_band_throughout(run: Run, hold: Any) -> bool:
    """Whether a hold stood between its switch's set points from the start and needed no heat."""
    if hold.warm_up_time is not None or hold.energy > 0.0:
        return False
    switch, leader = switch_of(run.scenario, hold.bottle), leader_of(run.scenario, hold.bottle)
    its = None if switch is None else run.by_item.get((hold.index, leader.name))
    if switch is None or its is None:
        return False
    return bool(switch.closes < its.minimum_pressure and its.peak_pressure < switch.opens)


def led_by(run: Run, hold: Any) -> str:
    """How often the switch that a bottle follows opened in a hold, in words; "" for its own."""
    fitted = run.scenario.bottles[run.scenario.bottle_index(hold.bottle)]
    if fitted.follows is None:
        return ""
    opened = sum(
        e.name == "switch off" and e.bottle == fitted.follows and e.segment == hold.index
        for e in run.events
    )
    times = "once" if opened == 1 else f"{opened} times" if opened else "not at all"
    return f'on the switch of "{fitted.follows}", which opened {times}'
