"""What the rules of several topics read off a bottle."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.errors import InputError, NoSolutionError
from n2osim.hardware.cylinder_rules import DISC_TOLERANCE
from n2osim.physics.charge import temperature_for_pressure
from n2osim.results.driver import driver
from n2osim.results.instants import first_above, highest
from n2osim.results.judge import Case, Reading
from n2osim.results.view import View

if TYPE_CHECKING:
    from n2osim.scenario.fitted import FittedBottle


def driven(case: Case, r: Reading) -> str:
    """The cause of a state of the bottle at the reading's instant."""
    return driver(case.view, r.time)


def against(v: View, values: np.ndarray, bound: float, **more: Any) -> Reading:
    """The highest of a course against a bound: when it passed it, or else was highest."""
    top, passed = highest(v.time, values), first_above(v.time, values, bound)
    return Reading(top.value, bound, top.time if passed is None else passed, **more)


def peak(case: Case, bound: float | None) -> Reading | None:
    """Highest gauge pressure against a bound that may not be known."""
    return None if bound is None else against(case.view, case.view.gauge, bound)


def disc_opens(v: View | FittedBottle) -> float | None:
    """Gauge pressure (Pa) from which the relief device may open; None without a rating."""
    relief = v.bottle.relief_pressure
    return None if relief is None else (1.0 - DISC_TOLERANCE) * relief


def outdoors(case: Case) -> bool:
    """Whether sun or wind reaches the bottles: they do not lie in a car."""
    air = case.run.scenario.ambient
    return air.sun_on_bottle > 0.0 or air.wind_on_bottle > 0.0


def needed_temperature(v: View, mass: float, gauge: float) -> float | None:
    """Temperature (K) for a gauge pressure at a charge, None beyond the equation of state."""
    try:
        return float(temperature_for_pressure(gauge + v.ambient_pressure, mass, v.bottle.volume))
    except (InputError, NoSolutionError):
        return None
