"""Scenarios and measures that the study tests share (importable by worker processes)."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from n2osim.hardware import Ambient, Bottle, Feed, Heater, Jets, PressureSwitch
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Hold, Pass, Rest


def base(**changes) -> Scenario:
    """A warm-up, a pass and a rest of a metal bottle."""
    given = {
        "fill": "12 lb",
        "start": "60 degF",
        "ambient": Ambient("60 degF"),
        "heater": Heater("300 W"),
        "switch": PressureSwitch("1000 psig", "1100 psig"),
        "feed": Feed(Jets(1, "0.05 in")),
        "schedule": [Hold("30 min"), Pass("9 s"), Rest("5 min")],
    }
    return Scenario(Bottle.preset("aluminium", "12 lb"), **(given | changes))


def kill_once(run) -> dict[str, float]:
    """Kills its own process the first time a fuller bottle comes by (marker file in a variable)."""
    marker = Path(os.environ["N2OSIM_TEST_MARKER"])
    if run.scenario.fill > 4.5 and not marker.exists():
        marker.write_text("killed")
        os.kill(os.getpid(), signal.SIGKILL)
    return {"fill_seen": run.scenario.fill}


def kill_always(run) -> dict[str, float]:
    """Kills its process for one member only, every time."""
    if 4.49 < run.scenario.fill < 4.51:
        os.kill(os.getpid(), signal.SIGKILL)
    return {"fill_seen": run.scenario.fill}


def count_calls(run) -> dict[str, float]:
    """Leaves one line a member in a file, so that a test can count who was computed."""
    with open(os.environ["N2OSIM_TEST_MARKER"], "a") as file:
        file.write(f"{run.scenario.fill!r}\n")
    return {"fill_seen": run.scenario.fill}


def slow(run) -> dict[str, float]:
    """Counts like :func:`count_calls` and takes its time, so that there is time to interrupt."""
    time.sleep(0.02)
    return count_calls(run)
