"""The schedule's part of packing: segments, stages of delivery and their tables."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.filling import in_steps
from n2osim.engine.refill import TO_MASS, TO_PRESSURE
from n2osim.errors import InputError
from n2osim.scenario.scenario import DENSEST, Scenario
from n2osim.scenario.schedule import Hold, Item, Pass, Purge, Refill, Stage

_NEVER = 1e30
_OPENS = 1e-3  # s, that a valve takes to open


def pack_schedule(scenario: Scenario) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Segments, stages and delivery tables of a schedule, and the item that each segment is of."""
    segments: list[np.ndarray] = []
    stages: list[tuple[Any, ...]] = []
    tables: list[tuple[float, float]] = []
    if not len(scenario.schedule):
        raise InputError(
            quantity="schedule",
            value="empty",
            unit="",
            valid="at least one item",
            remedy='add something to do, for example Hold("30 min")',
        )
    for item in scenario.schedule:
        segment = np.zeros(1, L.SEGMENT)
        r = segment[0]
        kind = type(item).__name__.lower()
        r["kind"] = L.KIND_NAMES.index(kind)
        r["duration"] = item.duration
        r["heater_armed"] = int(isinstance(item, Hold) or getattr(item, "heater", False))
        r["until_open"] = int(isinstance(item, Hold) and item.until_open)
        r["window_low"], r["window_high"] = -_NEVER, _NEVER
        r["refill_bottle"] = -1
        r["stage0"] = len(stages)
        _stages(scenario, item, stages, tables)
        r["n_stages"] = len(stages) - r["stage0"]
        if isinstance(item, Pass) and item.window is not None:
            r["window_low"], r["window_high"] = item.window
        if isinstance(item, Refill):
            _refill(scenario, item, r)
            segment = in_steps(scenario, item, segment)
        segments.append(segment)
    items = np.repeat(np.arange(len(segments)), [len(s) for s in segments])
    stage_array = np.array(stages, L.STAGE) if stages else np.zeros(1, L.STAGE)
    table_array = np.array(tables) if tables else np.zeros((1, 2))
    return np.concatenate(segments), stage_array, table_array, items


def _stages(
    scenario: Scenario, item: Item, stages: list[tuple[Any, ...]], tables: list[tuple[float, float]]
) -> None:
    if isinstance(item, Purge):
        index = scenario.feed_index(item.feed)
        stages.append((L.BY_AREA, index, 0, 0, 0.0, -1))
        return
    if not isinstance(item, Pass):
        return
    given = item.stages or (Stage(feed=item.feed, delivery=item.delivery),)
    for stage in given:
        meter, value, feed = L.BY_AREA, 0.0, 0
        if item.outflow is not None:
            meter, value = L.BY_MASS_FLOW, item.outflow
        else:
            feed = scenario.feed_index(stage.feed or item.feed)
            if item.target_flow is not None:
                meter, value = L.BY_TARGET, item.target_flow
        corners = list(stage.delivery or ())
        if item.delay > 0.0:
            corners = _delayed(corners or [(0.0, 1.0)], item.delay)
        first = len(tables)
        tables.extend(corners)
        bottle = -1 if stage.bottle is None else scenario.bottle_index(stage.bottle)
        stages.append((meter, feed, first, len(corners), value, bottle))


def _delayed(corners: list[tuple[float, float]], delay: float) -> list[tuple[float, float]]:
    """A delivery course that begins ``delay`` s later: shut until then, open at once behind it.

    Before its first corner a course is at that corner's share, delayed or not.
    """
    moved = [(t + delay, v) for t, v in corners]
    if moved[0][0] > delay:
        moved.insert(0, (delay, moved[0][1]))
    later = moved[1][0] if len(moved) > 1 else math.inf
    return [(delay, 0.0), (min(delay + _OPENS, 0.5 * (delay + later)), moved[0][1]), *moved[1:]]


def _refill(scenario: Scenario, item: Refill, r: Any) -> None:
    from n2osim.fluid import saturation

    supply = saturation(item.supply_temperature)
    r["refill_bottle"] = -1 if item.bottle is None else scenario.bottle_index(item.bottle)
    r["refill_mass"] = -1.0 if item.to is None else item.to
    _check_room(scenario, r)
    r["refill_enthalpy"] = float(supply.h_l)
    r["refill_pressure"] = float(supply.p)
    r["refill_entropy"] = float(supply.s_l)
    r["refill_efficiency"] = item.pump_efficiency
    r["refill_mode"] = TO_MASS if item.pumped else TO_PRESSURE


def _check_room(scenario: Scenario, r: Any) -> None:
    index = int(r["refill_bottle"])
    for fitted in scenario.bottles if index < 0 else (scenario.bottles[index],):
        most = DENSEST * fitted.bottle.volume
        if not float(r["refill_mass"]) <= most:
            raise InputError(
                quantity=f"refill of {fitted.name}",
                value=float(r["refill_mass"]),
                unit="kg",
                valid=f"at most {most:.4g} kg",
                remedy="give Refill(to=...) what fits, or name the bottle",
            )
