"""Rules on what the schedule asks for: refills that fall short or take no time, deliveries that a
pass is too short for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim import fluid
from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY
from n2osim.results.findings import Finding
from n2osim.scenario.schedule import Pass

if TYPE_CHECKING:
    from n2osim.results.run import Run
    from n2osim.results.view import View

MISSED = 0.01
"""Part of the charge wanted that may be missing before it is worth saying."""
SPIKE = 1.02
"""Absolute pressure behind a refill at once over that a little later: more is a spike."""
CUT = 0.005
"""Share of full flow: smaller differences from what the delivery was going to are not told."""
WALL_TIME = 30.0  # s in which a metal wall takes most of the spike off


def _refills(v: View) -> Iterator[tuple[Any, Any]]:
    """(item, summary) of the refills of this bottle."""
    for one in v.summaries("refill"):
        item: Any = v.run.scenario.schedule[one.index]
        if item.bottle in (None, v.name):
            yield item, one


def short_refill(v: View) -> Iterator[Finding]:
    """A refill without a pump that ends before the charge wanted is in."""
    for item, one in _refills(v):
        full = FULL_FILLING_DENSITY * v.bottle.volume
        wanted = full if item.to is None else item.to
        if item.pumped or one.end_mass >= (1.0 - MISSED) * wanted:
            continue
        supply = float(fluid.saturation(item.supply_temperature).p) - v.ambient_pressure
        nothing = one.end_mass - one.start_mass < MISSED * wanted
        yield Finding(
            "warning",
            "refill-short",
            f"the refill let in {'nothing' if nothing else 'less than wanted'}: without a pump "
            "it stops when the supply's pressure is reached",
            one.start_pressure,
            supply,
            "gauge_pressure",
            "bottle stood at",
            "supply stands at",
            one.start_time,
            v.name,
            "cool the bottle or warm the supply cylinder (never with a flame), or use a pump",
            "computed",
        )


def refill_spike(v: View) -> Iterator[Finding]:
    """The pressure behind a refill at once, which the wall takes off again."""
    for item, one in _refills(v):
        rows = (v.time > one.end_time) & (v.time <= one.end_time + WALL_TIME)
        if item.duration > 0.0 or not rows.any():
            continue
        later, air = float(v.gauge[rows].min()), v.ambient_pressure
        if one.end_pressure + air > SPIKE * (later + air):
            yield Finding(
                "note",
                "refill-spike",
                "this refill takes no time and is adiabatic: the pressure and the liquid level "
                "right behind it are a spike of that model, gone when the wall has taken part",
                one.end_pressure,
                later,
                "gauge_pressure",
                "right behind it",
                "within 30 s",
                one.end_time,
                v.name,
                "give the refill a duration; judge fullness and pressure by what comes later",
                "computed",
            )


def delivery_cut(run: Run) -> Iterator[Finding]:
    """A delivery that is still changing when its pass ends."""
    for k, item in enumerate(run.scenario.schedule):
        if not isinstance(item, Pass):
            continue
        for delivery in (item.delivery, *(stage.delivery for stage in item.stages)):
            if not delivery or delivery[-1][0] + item.delay <= item.duration * (1.0 + 1e-9):
                continue
            times, shares = zip(*delivery)
            reached = float(np.interp(item.duration - item.delay, times, shares))
            if abs(reached - shares[-1]) > CUT:
                name = f'pass "{item.label}"' if item.label else f"pass {k + 1}"
                yield Finding(
                    "note",
                    "delivery-cut",
                    f"{name} ends before its delivery does: it gets to "
                    f"{100.0 * reached:.0f} %, not {100.0 * shares[-1]:.0f} %",
                    delivery[-1][0] + item.delay,
                    item.duration,
                    "time",
                    "last corner at",
                    "pass lasts",
                    None,
                    "",
                    "shorten the course (its times count from the end of the delay) or lengthen "
                    "the pass",
                    "computed",
                )


REFILL_RULES = (short_refill, refill_spike)
DELIVERY_RULES = (delivery_cut,)
