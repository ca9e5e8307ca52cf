"""Questions of size, tune, passes, day and compare: library answers and what the console prints."""

from __future__ import annotations

import contextlib
import io
import json
import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from names import find
from recording import attempt

import n2osim as n2
from n2osim.studies import Limits

POWER = "60 hp"
SHELLS = ("aluminium", "carbon-polymer")
DAY = n2.RaceDay(rounds=2, warm="1 h", reheat="30 min")

COMMANDS = (
    "size heater FILE --within 50min", "size heater FILE --within 5min",
    "size power FILE --wall 160degF", "size band FILE", "size bottle FILE --passes 2",
    "size jets FILE --hp 60hp", "size jets FILE --hp 60hp --sizes drills",
    "size passes FILE --low 600psig", "tune pressure FILE", "tune weight FILE",
    "tune weight FILE --over-pass", "tune power FILE --hp 25hp", "day FILE --rounds 2",
    "day FILE --rounds 2 --refill-every 1 --supply 65degF", "compare FILE --shells aluminium "
    "carbon-polymer --hold 15min", "check FILE", "simulate FILE", "size power FILE",
)  # fmt: skip


def questions(s: n2.Scenario) -> dict[str, Callable[[], Any]]:
    """The library calls for a car, by name."""
    fitted, shot = s.bottles[0], next(x for x in s.schedule if isinstance(x, n2.Pass))
    switch, largest, refill = fitted.switch, find("largest_power"), find("refill_point")
    before = s.replace(schedule=s.schedule[: s.schedule.index(shot)])
    at = switch.opens
    return {
        "size_heater": lambda: n2.size_heater(
            fitted.bottle, fitted.fill, fitted.start, at, "50 min", s.ambient, band="40 psi",
            supply=s.supply, heater=fitted.heater),
        "largest_power": lambda: largest(s, Limits(overshoot="30 psi", wall="shell")),
        "set_band": lambda: n2.set_band(s, switch.closes, at, hold="1 h"),
        "size_bottle": lambda: n2.size_bottle(s, 2, lowest_pressure="300 psig"),
        "size_jets": lambda: n2.size_jets(
            POWER, at, 1, s.engine, fitted.bottle, fitted.fill, feed=s.feed, ambient=s.ambient),
        "passes_per_fill": lambda: n2.passes_per_fill(s, shot),
        "refill_point": lambda: refill(s, shot, at),
        "pressure_error_table": lambda: n2.pressure_error_table(s, at),
        "correction_table": lambda: n2.correction_table(s, at),
        "hold_power": lambda: n2.hold_power(before, "25 hp", shot),
        "race_day": lambda: n2.race_day(s, DAY),
        "compare_shells": lambda: n2.compare_shells(
            s, SHELLS, hold="15 min", recovery="1 h", executor="serial"),
    }  # fmt: skip


def console(path: Path, command: str, system: str) -> dict[str, Any]:
    """Exit code, output and JSON answer of one command on the scenario file at ``path``."""
    words = [path.name if w == "FILE" else w for w in command.split()]
    words += ["--si"] if system == "si" and words[0] != "check" else []
    out, err, kept = io.StringIO(), io.StringIO(), Path("answer.json")
    words += ["--json", kept.name] if words[0] in ("size", "tune", "day", "compare") else []
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = find("main")(words)
    data = json.loads(kept.read_text()) if kept.exists() else None
    kept.unlink(missing_ok=True)
    said = [x for x in err.getvalue().splitlines() if "working ..." not in x]  # that hangs on time
    problem = "\n".join(said) if code else ""
    return {"code": code, "text": out.getvalue(), "problem": problem, "json": data}


@contextlib.contextmanager
def inside(folder: str) -> Iterator[None]:
    """Work in ``folder``, so that no path of this machine is printed."""
    back = os.getcwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(back)


def answers(scenario: n2.Scenario, system: str) -> dict[str, Any]:
    """All answers for one car; ``system`` is that of the texts."""
    asked = {name: attempt(call) for name, call in questions(scenario).items()}
    with tempfile.TemporaryDirectory() as folder, inside(folder):
        path = Path("car.toml")
        scenario.to_toml(path)
        printed = {c: console(path, c, system) for c in COMMANDS}
    return {"library": asked, "console": printed}
