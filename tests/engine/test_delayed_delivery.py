"""A delay moves a delivery course and changes nothing else about it."""

from __future__ import annotations

import numpy as np
import pytest

from n2osim.hardware import Ambient, Bottle, Feed, Jets
from n2osim.results.run import simulate
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass

COURSES = [
    None,
    [("0 s", 0.3), ("2 s", 1.0)],
    [("4 s", 0.3), ("6 s", 1.0)],
    [("1 s", 0.0), ("1.0005 s", 1.0)],
]


def flow(item: Pass) -> tuple[np.ndarray, np.ndarray]:
    made = Scenario(
        Bottle.preset("aluminium", "10 lb"),
        [item],
        Ambient("75 degF"),
        {"main": Feed(Jets(1, "0.04 in"))},
        fill="8 lb",
        start="85 degF",
    )
    run = simulate(made)
    return run.time, run["valve_open"][0]


@pytest.mark.parametrize("course", COURSES)
@pytest.mark.parametrize("delay", [1e-3, 0.5])
def test_the_course_is_the_same_later(course, delay) -> None:
    """Before its first corner a course stands at that corner's share; delayed it does too."""
    t0, now = flow(Pass("8 s", delivery=course))
    t1, later = flow(Pass(8.0 + delay, delivery=course, delay=delay))
    assert later[t1 < delay - 1e-9] == pytest.approx(0.0, abs=1e-12)
    at = np.array([0.01, 0.5, 0.9, 1.2, 3.0, 3.9, 5.0, 7.0])
    assert np.interp(at + delay, t1, later) == pytest.approx(np.interp(at, t0, now), abs=5e-3)
