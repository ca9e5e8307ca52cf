"""Cost grows in proportion to what is asked for: items of a schedule, corners of tables, events."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import pytest

from n2osim.engine.advance import run_packed
from n2osim.engine.pack import pack
from n2osim.hardware import Ambient, Bottle, Feed, Heater, Jets, PressureSwitch, TemperatureTable
from n2osim.results.run import build_run
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Item, Pass, Rest

BOTTLE = Bottle.preset("aluminium", "10 lb")


def scenario(schedule: list[Item], air: object = 290.0) -> Scenario:
    return Scenario(
        BOTTLE,
        schedule,
        fill=4.0,
        start=290.0,
        ambient=Ambient(air),
        heater=Heater(300.0),
        switch=PressureSwitch("900 psig", "950 psig"),
        feed=Feed(Jets(1, "0.010 in")),
    )


def items(n: int) -> Scenario:
    return scenario([Rest(20.0)] * n)


def corners_of_air(n: int) -> Scenario:
    table = TemperatureTable(tuple(20.0 * k for k in range(n)), (290.0, 292.0) * (n // 2))
    return scenario([Rest(20.0 * n)], table)


def corners_of_delivery(n: int) -> Scenario:
    course = tuple((0.02 * k, 1.0 - 0.1 * (k % 2)) for k in range(n))
    return scenario([Pass(0.02 * n, delivery=course)])


def seconds(make: Callable[[int], Scenario], n: int) -> float:
    """Processor time of packing, running and building the run, best of three."""
    s = make(n)
    best = math.inf
    for _ in range(3):
        start = time.process_time()
        packed = pack(s)
        run = build_run(packed, *run_packed(packed))
        assert len(run.segments) == len(s.schedule)
        best = min(best, time.process_time() - start)
    return best


@pytest.mark.parametrize("make", [items, corners_of_air, corners_of_delivery])
def test_time_grows_in_proportion(make: Callable[[int], Scenario]) -> None:
    few, many = 400, 6400
    seconds(make, 10)
    exponent = math.log(seconds(make, many) / seconds(make, few)) / math.log(many / few)
    assert exponent < 1.15
