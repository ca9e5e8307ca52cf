"""How a hold stood to the band of the switch that feeds its heater."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from n2osim.results.run import Run

ABOVE = "was above the band from the start"
"""What is said of a hold whose switch never closed, instead of "the switch did not open"."""


def above_from_start(run: Run, hold: Any) -> bool:
    """Whether a hold began with its switch above the band and the heater never came on.

    The switch is that of the bottle, or of the one whose switch it follows: the switch stands at
    the pressure of that bottle.
    """
    if hold.warm_up_time is not None or hold.energy > 0.0:
        return False
    bottles = run.scenario.bottles
    fitted = bottles[run.scenario.bottle_index(hold.bottle)]
    leader = bottles[run.scenario.bottle_index(fitted.follows or fitted.name)]
    if leader.switch is None:
        return False
    its = next(h for h in run.holds if (h.index, h.bottle) == (hold.index, leader.name))
    return bool(its.start_pressure >= leader.switch.opens)


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
