"""The schedule's part of packing: segments, stages of delivery and their tables."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.refill import TO_MASS, TO_PRESSURE
from n2osim.errors import InputError
from n2osim.scenario.fitted import DENSEST
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.steps import Filling, Step, Stream

_NEVER = 1e30


def pack_schedule(scenario: Scenario) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Segments, stages and delivery tables of a schedule, and the item that each segment is of."""
    if not len(scenario.schedule):
        raise InputError(
            quantity="schedule",
            value="empty",
            unit="",
            valid="at least one item",
            remedy='add something to do, for example Hold("30 min")',
        )
    stages: list[tuple[Any, ...]] = []
    tables: list[tuple[float, float]] = []
    steps = [(i, s) for i, item in enumerate(scenario.schedule) for s in item.steps(scenario)]
    # A refill over time comes in steps, the whole of it last: that one is checked first.
    for _, step in reversed(steps):
        if step.filling is not None:
            _check_room(scenario, step.filling)
    segments = np.zeros(len(steps), L.SEGMENT)
    for r, (i, step) in zip(segments, steps):
        r["kind"] = L.kind_number(scenario.schedule[i].kind)
        _step(scenario, step, r)
        r["stage0"], r["n_stages"] = len(stages), len(step.streams)
        for stream in step.streams:
            stages.append(_stage(scenario, stream, len(tables)))
            tables.extend(stream.delivery)
    stage_array = np.array(stages, L.STAGE) if stages else np.zeros(1, L.STAGE)
    table_array = np.array(tables) if tables else np.zeros((1, 2))
    return segments, stage_array, table_array, np.array([i for i, _ in steps])


def _step(scenario: Scenario, step: Step, r: Any) -> None:
    r["duration"] = step.duration
    r["heater_armed"], r["until_open"] = int(step.heater), int(step.until_open)
    r["window_low"], r["window_high"] = step.window or (-_NEVER, _NEVER)
    r["refill_bottle"] = -1
    if step.filling is not None:
        _filling(scenario, step.filling, r)


def _stage(scenario: Scenario, stream: Stream, first: int) -> tuple[Any, ...]:
    meter = L.METERS.index(stream.meter)
    feed = 0 if meter == L.BY_MASS_FLOW else scenario.feed_index(stream.feed)
    bottle = -1 if stream.bottle is None else scenario.bottle_index(stream.bottle)
    return meter, feed, first, len(stream.delivery), stream.value, bottle


@lru_cache(maxsize=64)
def _supply(temperature: float) -> tuple[float, float, float]:
    """Enthalpy (J/kg), pressure (Pa) and entropy (J/kg/K) of a supply's saturated liquid."""
    from n2osim.fluid import saturation

    supply = saturation(temperature)
    return float(supply.h_l), float(supply.p), float(supply.s_l)


def _filling(scenario: Scenario, filling: Filling, r: Any) -> None:
    r["refill_bottle"] = -1 if filling.bottle is None else scenario.bottle_index(filling.bottle)
    r["refill_mass"] = -1.0 if filling.to is None else filling.to
    names = ("refill_enthalpy", "refill_pressure", "refill_entropy")
    for name, value in zip(names, _supply(filling.supply_temperature)):
        r[name] = value
    r["refill_efficiency"] = filling.pump_efficiency or 1.0
    r["refill_mode"] = TO_PRESSURE if filling.pump_efficiency is None else TO_MASS


def _check_room(scenario: Scenario, filling: Filling) -> None:
    """InputError for a charge that no bottle of this size can hold."""
    for fitted in scenario.bottles:
        most = DENSEST * fitted.bottle.volume
        if filling.bottle in (None, fitted.name) and not (filling.to or 0.0) <= most:
            raise InputError(
                quantity=f"refill of {fitted.name}",
                value=filling.to,
                unit="kg",
                valid=f"at most {most:.4g} kg",
                remedy="give Refill(to=...) what fits, or name the bottle",
            )
