"""Limits on refills and deliveries, and what the model was told."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any

import numpy as np

from n2osim import fluid
from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY
from n2osim.results.judge import Case, Limit, Part, Reading
from n2osim.scenario.model import Model, Numerics
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Item

MISSED = 0.01
"""Part of the charge wanted that may be missing before it is worth saying."""
SPIKE = 1.02
"""Absolute pressure behind a refill at once over that a little later: more is a spike."""
CUT = 0.005
"""Share of full flow: smaller differences from what the delivery was going to are not told."""
WALL_TIME = 30.0  # s in which a metal wall takes most of the spike off


def _short(case: Case) -> Reading | None:
    """A refill without a pump that ends before the charge wanted is in."""
    v, one, item = case.view, case.one, case.item
    if item.bottle not in (None, v.name) or item.pumped:
        return None
    wanted = FULL_FILLING_DENSITY * v.bottle.volume if item.to is None else item.to
    supply = float(fluid.saturation(item.supply_temperature).p) - v.ambient_pressure
    nothing = one.end_mass - one.start_mass < MISSED * wanted
    return Reading(
        one.start_pressure,
        supply,
        one.start_time,
        beyond=one.end_mass < (1.0 - MISSED) * wanted,
        details={"what": "nothing" if nothing else "less than wanted"},
    )


def _spike(case: Case) -> Reading | None:
    """The pressure behind a refill at once, which the wall takes off again."""
    v, one, item = case.view, case.one, case.item
    rows = (v.time > one.end_time) & (v.time <= one.end_time + WALL_TIME)
    if item.bottle not in (None, v.name) or item.duration > 0.0 or not rows.any():
        return None
    later, air = float(v.gauge[rows].min()), v.ambient_pressure
    beyond = one.end_pressure + air > SPIKE * (later + air)
    return Reading(one.end_pressure, later, one.end_time, beyond=beyond)


# --- deliveries ----------------------------------------------------------------------------------
def share_at(course: Any, time: float) -> float:
    """Share of full flow that a course asks for at ``time`` (s)."""
    times, shares = zip(*course, strict=True)
    return float(np.interp(time, times, shares))


def largest_share(item: Item, course: Any) -> float:
    """Largest share (0..1) that a course reaches while its pass lasts."""
    length = item.duration
    corners = [share for at, share in course if at <= length]
    return max([share_at(course, 0.0), share_at(course, length), *corners])


def _passes(case: Part) -> Iterator[tuple[Item, str, Any]]:
    for k, item in enumerate(case.scenario.schedule):
        name = f'{item.kind} "{item.label}"' if item.label else f"{item.kind} {k + 1}"
        yield from ((item, name, course) for course in item.deliveries)


def _cut(case: Part) -> Iterator[Reading]:
    """A delivery that is still changing when its pass ends."""
    for item, name, course in _passes(case):
        last = course[-1][0]
        reached = share_at(course, item.duration)
        late = last > item.duration * (1.0 + 1e-9)
        yield Reading(
            last,
            item.duration,
            beyond=late and abs(reached - course[-1][1]) > CUT,
            details={
                "name": name,
                "reached": f"{100.0 * reached:.0f}",
                "wanted": f"{100.0 * course[-1][1]:.0f}",
            },
        )


def _never_opens(case: Part) -> Iterator[Reading]:
    for item, name, course in _passes(case):
        largest = largest_share(item, course)
        yield Reading(largest, 0.0, beyond=largest <= 0.0, details={"name": name})


def _partial(case: Part) -> Iterator[Reading]:
    for item, name, course in _passes(case):
        largest = largest_share(item, course)
        share = f"{100.0 * largest:.0f}"
        yield Reading(
            largest, 1.0, beyond=0.0 < largest < 1.0 - CUT, details={"name": name, "share": share}
        )


# --- the heater while something flows ------------------------------------------------------------
def _interlock(case: Part) -> Reading:
    heated = any(b.heater is not None for b in case.scenario.bottles)
    found = [
        f"{item.kind} {k + 1}"
        for k, item in enumerate(case.scenario.schedule)
        if item.streams and getattr(item, "heater", False)
    ]
    where = " and ".join(found) if len(found) < 3 else f"{found[0]} and {len(found) - 1} others"
    return Reading(beyond=heated and bool(found), details={"where": where})


# --- the model -----------------------------------------------------------------------------------
_CHOICES = {
    "inside_coefficient": "inside coefficient fixed at {:g} W/m2/K",
    "inside_factor": "inside coefficient times {:g}",
    "inside_cap": "inside coefficient at most {:g} W/m2/K",
    "outside_coefficient": "outside coefficient fixed at {:g} W/m2/K",
    "cover_factor": "outside coefficient of the heater's face times {:g}",
    "radiation": "radiation left out",
    "nodes_per_layer": "{:g} wall nodes in a layer",
    "two_zone": "liquid and vapour at temperatures of their own, factor {:g}",
    "boiling_growth": "liquid and vapour apart, boiling in the liquid grows by {:g} W/kg/K per s",
}
"""Words for choices other than the default; a field without words is told by its name."""


def model_choices(scenario: Scenario) -> list[str]:
    """Every choice of model and numerics that is not the default, in words."""
    return [
        _CHOICES.get(f.name, f.name.replace("_", " ") + " {}").format(getattr(part, f.name))
        for part, default in ((scenario.model, Model()), (scenario.numerics, Numerics()))
        for f in dataclasses.fields(part)
        if getattr(part, f.name) != getattr(default, f.name)
    ]


def _model(case: Part) -> Reading:
    chosen = model_choices(case.scenario)
    return Reading(beyond=bool(chosen), details={"chosen": ", ".join(chosen)})


def _inside(case: Case) -> Reading | None:
    """Share of the time with an inside coefficient that no data stand behind."""
    v = case.view
    flag = v.array("inside_extrapolated") > 0
    total = float(v.time[-1] - v.time[0])
    if not flag.any() or total <= 0.0:
        return None
    share = float((np.diff(v.time) * flag[:-1]).sum()) / total
    return Reading(share, None, v.first(flag), beyond=True)


SCHEDULE_LIMITS = (
    Limit(
        "refill-short",
        "refill",
        _short,
        "warning",
        "the refill let in {what}: without a pump it stops when the supply's pressure is reached",
        kind="gauge_pressure",
        value_is="bottle stood at",
        limit_is="supply stands at",
        cause="refill",
        person="a supply cylinder is never warmed; whoever fills with a pump is licensed to, and "
        "weighs the bottle while it fills",
    ),
    Limit(
        "refill-spike",
        "refill",
        _spike,
        "note",
        "the pressure and the liquid level right behind this refill are a spike of the model: it "
        "takes no time and is adiabatic, and the spike is gone when the wall has taken part",
        kind="gauge_pressure",
        value_is="right behind it",
        limit_is="within 30 s",
        cause="refill",
        information=True,
    ),
    Limit(
        "delivery-cut",
        "set-up",
        _cut,
        "note",
        "{name} ends before its delivery does, at {reached} % of full flow and not {wanted} %",
        kind="time",
        value_is="last corner at",
        limit_is="pass lasts",
        cause="schedule",
        source="computed, from the beginning of the pass",
    ),
    Limit(
        "delivery-never-opens",
        "set-up",
        _never_opens,
        "warning",
        "{name} never opens: its delivery asks for nothing as long as it lasts",
        kind="fraction",
        value_is="at most",
        cause="schedule",
        source="given in the scenario",
    ),
    Limit(
        "delivery-partial",
        "set-up",
        _partial,
        "note",
        "the delivery of {name} peaks at {share} % of full flow: that, not the full shot, is what "
        "its power and mixture are for",
        kind="fraction",
        value_is="at most",
        cause="schedule",
        source="given in the scenario",
        information=True,
    ),
    Limit(
        "interlock-off",
        "set-up",
        _interlock,
        "note",
        "the heater stays armed in {where}: as the bottle empties its pressure falls, the switch "
        "calls for heat and the wall that is heated falls dry",
        cause="schedule",
        source="given in the scenario",
        person="let an interlock keep the heater off while anything flows",
    ),
    Limit(
        "model-choices",
        "set-up",
        _model,
        "note",
        "not the default model but {chosen}",
        cause="model",
        source="given in the scenario",
        person="what is printed hangs on these choices: compare with the default",
        information=True,
    ),
    Limit(
        "inside-coefficient",
        "bottle",
        _inside,
        "note",
        "near the critical point the boiling correlations have no data behind them: the inside "
        "coefficient is capped and blended there, and overshoot depends on it",
        kind="fraction",
        value_is="share of the time",
        cause="model",
        source="Cooper 1984 is given to a reduced pressure of about 0.9",
        person="run it again with Model.inside_factor 0.5 and 2 to see how much it matters",
        information=True,
    ),
)
