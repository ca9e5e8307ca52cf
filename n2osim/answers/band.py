"""Setting the switch so that the peak stays inside: the heat stored in the wall comes after it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from n2osim.answers.search import Margin, edge
from n2osim.answers.sizing import Limits, PowerLimit, case_of, largest_power
from n2osim.errors import IntegrationError, NoSolutionError
from n2osim.scenario.fields import with_fields
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Hold
from n2osim.studies.members import numbers_of
from n2osim.units import PSI, format_quantity, parse

LEAST_BAND = 5.0 * PSI
"""Narrowest band set, Pa: what a good mechanical switch resolves (common practice, no source)."""
_LONGEST = 12 * 3600.0
_RESOLUTION = 0.05 * PSI


@dataclass(frozen=True)
class Band:
    """Set points (Pa gauge) and what the pressure then does in the hold.

    peak, lowest: extremes of the pressure after the switch first opened, Pa gauge. overshoot,
    undershoot: beyond the set points, Pa. warm_up_time: s. duty (1), switchings_per_hour: of the
    hold. scenario: with this switch.
    """

    closes: float
    opens: float
    peak: float
    lowest: float
    warm_up_time: float
    duty: float
    switchings_per_hour: float
    scenario: Scenario

    @property
    def overshoot(self) -> float:
        """Peak above the opening point, Pa."""
        return self.peak - self.opens

    @property
    def undershoot(self) -> float:
        """Lowest below the closing point, Pa (negative: it never falls that far)."""
        return self.closes - self.lowest

    def __str__(self) -> str:
        f = format_quantity
        return (
            f"close at {f(self.closes, 'gauge_pressure')}, open at "
            f"{f(self.opens, 'gauge_pressure')}: pressure stays between "
            f"{f(self.lowest, 'gauge_pressure')} and {f(self.peak, 'gauge_pressure')}, "
            f"{self.switchings_per_hour:.3g} switchings an hour"
        )


def set_band(
    scenario: Scenario,
    low: Any = "1000 psig",
    high: Any = "1100 psig",
    *,
    hold: Any = "3 h",
    raise_closing: bool = True,
) -> Band:
    """Set points that keep the pressure between ``low`` and ``high`` (Pa gauge) once it is there.

    The opening point is lowered until the heat still coming out of the wall takes the pressure no
    higher than ``high``; then, with ``raise_closing``, the closing point is raised until it does
    not fall below ``low`` before the heat has come through. The scenario (one bottle with heater
    and switch) keeps its other switch properties; its own schedule does not matter: it is warmed
    up and held for ``hold`` (s).

    Raises NoSolutionError when the wall overshoots ``high`` even when the switch opens just above
    ``low``; ``nearest`` is then the largest power (:class:`PowerLimit`) with which a band exists.
    """
    bottom = parse(low, "gauge_pressure", name="low end of the band", low=0.0)
    top = parse(high, "gauge_pressure", name="high end of the band", low=bottom + LEAST_BAND)
    length = parse(hold, "time", name="hold", low=60.0, high=_LONGEST)
    case_of(scenario, Limits())
    closes, opens = bottom, _opening(scenario, bottom, bottom, top, length)
    if raise_closing:
        for _ in range(3):
            closes = _closing(scenario, opens, bottom, length)
            if _margin_top(scenario, closes, opens, top, length) >= 0.0:
                break
            opens = _opening(scenario, closes, bottom, top, length)
    return _band(scenario, closes, opens, length)


def _band(scenario: Scenario, closes: float, opens: float, hold: float) -> Band:
    changed = with_fields(scenario, {"switch.closes": closes, "switch.opens": opens})
    changed = changed.replace(schedule=[Hold(_LONGEST, until_open=True), Hold(hold)])
    n = numbers_of(changed)
    # In the second hold the switch is open from the start, at the opening point.
    warm = n["hold0.warm_up_time_s"]
    if math.isnan(warm):
        nan = math.nan
        return Band(closes, opens, n["hold0.peak_pressure_gauge_Pa"], nan, nan, nan, nan, changed)
    return Band(
        closes,
        opens,
        n["hold1.peak_pressure_gauge_Pa"],
        n["hold1.minimum_pressure_gauge_Pa"],
        warm,
        n["hold1.energy_J"] / hold / max(_power(scenario), 1e-9),
        n["hold1.switchings"] / hold * 3600.0,
        changed,
    )


def _power(scenario: Scenario) -> float:
    """Power (W) of the heater on its supply when on."""
    heater, supply = scenario.heater, scenario.supply
    assert heater is not None
    voltage = supply.voltage_at(heater.element_conductance)
    return float(heater.power_at(voltage))


def _margin_top(scenario: Scenario, closes: float, opens: float, top: float, hold: float) -> float:
    band = _band(scenario, closes, opens, hold)
    if math.isnan(band.warm_up_time):
        raise NoSolutionError(
            f"no solution because the heater does not bring the bottle to "
            f"{format_quantity(opens, 'gauge_pressure')} within "
            f"{format_quantity(_LONGEST, 'time')}"
        )
    return (top - band.peak) / 1e5


def _opening(scenario: Scenario, closes: float, low: float, top: float, hold: float) -> float:
    """Highest opening point whose peak stays at or under ``top``."""
    margin = Margin(lambda opens: _margin_top(scenario, closes, opens, top, hold))
    least = closes + LEAST_BAND
    if margin(top) >= 0.0:
        return top
    if margin(least) < 0.0:
        raise _wall_too_hot(scenario, low, top, hold)
    return edge(margin, least, top, _RESOLUTION / top)


def _wall_too_hot(scenario: Scenario, low: float, top: float, hold: float) -> NoSolutionError:
    opens = low + LEAST_BAND
    try:
        peak = format_quantity(_band(scenario, low, opens, hold).peak, "gauge_pressure")
        nearest = _power_for(scenario, low, opens, top)
    except IntegrationError as problem:
        peak, nearest = f"no end ({problem.message})", None
    return NoSolutionError(
        f"no solution because the heat stored in heater and wall takes the pressure to {peak} even "
        f"when the switch opens at {format_quantity(opens, 'gauge_pressure')}: less power, more "
        "coverage, or a wider band",
        nearest,
    )


def _power_for(scenario: Scenario, low: float, opens: float, top: float) -> PowerLimit | None:
    changed = with_fields(scenario, {"switch.closes": low, "switch.opens": opens})
    try:
        return largest_power(
            changed, Limits(overshoot=top - opens, wall=None), largest=_power(scenario)
        )
    except NoSolutionError:
        return None


def _closing(scenario: Scenario, opens: float, low: float, hold: float) -> float:
    """Lowest closing point, ``low`` or above, that keeps the pressure at or above ``low``."""

    def above(closes: float) -> float:
        return (_band(scenario, closes, opens, hold).lowest - low) / 1e5

    margin = Margin(above)
    highest = opens - LEAST_BAND
    if margin(low) >= 0.0 or highest <= low:
        return low
    if margin(highest) < 0.0:
        raise NoSolutionError(
            "no solution because the pressure falls below "
            f"{format_quantity(low, 'gauge_pressure')} even when the switch closes at "
            f"{format_quantity(highest, 'gauge_pressure')}, just under its opening point: more "
            "power, or a heater closer to the shell"
        )
    return edge(margin, highest, low, _RESOLUTION / opens)


__all__ = ["LEAST_BAND", "Band", "set_band"]
