"""Random scenarios, random questions: is the saved answer what it says?

    python tests/answers/answer_campaign.py --count 2000 --json campaign.jsonl

For each pair the scenario as it would be saved is simulated again: every stated figure must come
back (warm-up 0.5 %, extreme pressures 0.5 psi, duty 1 point), no danger or warning of that run may
be missing from the answer, and twice the stated resolution further something required must break,
unless the answer says that the range or list ends there. What is refused is counted by its reason.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import re
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from n2osim.answers.answer import Answer
from n2osim.answers.band import set_band
from n2osim.answers.heater import largest_power, size_coverage, size_heater
from n2osim.answers.optimize import optimize
from n2osim.answers.passes import passes_per_fill, size_bottle
from n2osim.errors import IntegrationError, N2OSimError
from n2osim.hardware import (
    Ambient,
    Boot,
    Bottle,
    CutOut,
    Feed,
    Heater,
    Jets,
    PressureSwitch,
    Supply,
)
from n2osim.hardware.air import DayNight
from n2osim.results.run import Run, simulate
from n2osim.scenario.file import loads
from n2osim.scenario.scenario import FittedBottle, Scenario
from n2osim.scenario.schedule import Hold, Pass, Rest
from n2osim.units import LB, PSI

SHELLS = ("aluminium", "steel", "carbon-aluminium", "carbon-polymer")


# --- scenarios -----------------------------------------------------------------------------------
def scenario(r: random.Random) -> Scenario:
    """One to three bottles with what a car may have."""
    shell, pounds = r.choice(SHELLS), r.choice((10, 12, 15))
    bottle = Bottle.preset(shell, f"{pounds} lb")
    closes = r.uniform(750.0, 1000.0)
    switch = PressureSwitch(
        f"{closes} psig",
        f"{closes + r.uniform(20.0, 120.0)} psig",
        offset=r.choice((0.0, 0.0, r.uniform(-40.0, 40.0))) * PSI,
        lag=r.choice((0.0, 0.0, r.uniform(1.0, 60.0))),
    )
    start = r.uniform(270.0, 300.0)
    count = r.choice((1, 1, 1, 2, 3))
    bottles = [
        FittedBottle(
            bottle,
            pounds
            * LB
            * r.choice((r.uniform(0.5, 1.0), r.uniform(0.15, 0.5), r.uniform(1.0, 1.1))),
            start,
            name=f"b{k}",
            heater=heater(r),
            switch=switch if k == 0 or r.random() < 0.3 else None,
            wall_start=r.choice((None, None, start + r.uniform(-5.0, 15.0))),
        )
        for k in range(count)
    ]
    bottles = [
        b if b.switch is not None else FittedBottle(**{**vars(b), "follows": "b0"}) for b in bottles
    ]
    return Scenario(
        bottles,
        schedule(r),
        ambient(r),
        {"main": Feed(Jets(r.choice((1, 2)), r.uniform(0.7e-3, 1.6e-3)))},
        supply=Supply(r.uniform(11.5, 16.0), r.choice((0.0, r.uniform(0.0, 0.1)))),
        clock_start=r.uniform(0.0, 86400.0),
        title="random",
    )


def heater(r: random.Random) -> Heater:
    """In watts, rated watts, with or without a cut-out."""
    how: dict[str, Any] = {"coverage": r.uniform(0.2, 0.9)}
    if r.random() < 0.5:
        how["contact_resistance"] = 10.0 ** r.uniform(-3.5, -2.3)
    if r.random() < 0.3:
        how["cut_out"] = CutOut("190 degF", "170 degF")
    if r.random() < 0.5:
        how["voltage"] = r.choice((12.0, 14.4))
    return Heater(r.uniform(100.0, 600.0), **how)


def ambient(r: random.Random) -> Ambient:
    """Constant, table or day and night; wind, sun, boot."""
    mean = r.uniform(272.0, 308.0)
    kind = r.randrange(3)
    air: Any = mean
    if kind == 1:
        air = DayNight(mean, r.uniform(1.0, 8.0))
    if kind == 2:
        air = [(k * 21600.0, mean + r.uniform(-8.0, 8.0)) for k in range(5)]
    return Ambient(
        air,
        air_speed=r.choice((0.0, r.uniform(0.0, 10.0))),
        sun=r.choice((0.0, 0.0, r.uniform(0.0, 900.0))),
        enclosure=r.choice((None, None, Boot(solar=r.choice((0.0, 200.0))))),
    )


def schedule(r: random.Random) -> list[Any]:
    """A hold, and perhaps what an evening has after it."""
    items: list[Any] = [Hold(r.uniform(1200.0, 7200.0))]
    if r.random() < 0.5:
        items += [Pass(r.uniform(3.0, 12.0)), Rest(r.uniform(60.0, 900.0))]
    if r.random() < 0.3:
        items += [Hold(1800.0), Pass(8.0)]
    return items


# --- questions -----------------------------------------------------------------------------------
def questions(r: random.Random) -> list[tuple[str, Callable[[Scenario], Answer]]]:
    """Name and question, with random limits."""
    within = r.uniform(600.0, 4000.0)
    over = f"{r.uniform(2.0, 60.0)} psi"
    low = r.uniform(800.0, 1000.0)
    span = r.uniform(30.0, 150.0)
    return [
        ("heater", lambda s: size_heater(s, within, page=False)),
        ("power", lambda s: largest_power(s, overshoot=over)),
        ("coverage", lambda s: size_coverage(s, within)),
        ("band", lambda s: set_band(s, f"{low} psig", f"{low + span} psig")),
        (
            "wall",
            lambda s: optimize(
                s,
                maximize="heater.power",
                over={"heater.power": ("20 W", "800 W")},
                subject_to=["run.hottest_wall <= 150 degF"],
            ),
        ),
        ("passes", lambda s: passes_per_fill(s, Pass("8 s"))),
        ("bottle", lambda s: size_bottle(s, r.choice((1, 2, 3)), run=Pass("8 s"))),
    ]


# figure, quantity of the run, tolerance (share, SI)
STATED = (
    ("warm_up_time", "hold0", "warm_up_time_s", 5e-3, 0.1),
    ("peak_pressure", "run", "peak_pressure_gauge_Pa", 0.0, 0.5 * PSI),
    ("peak", "hold0", "peak_after_open_gauge_Pa", 0.0, 0.5 * PSI),
    ("lowest", "hold0", "lowest_after_open_gauge_Pa", 0.0, 0.5 * PSI),
    ("duty", "hold0", "duty", 0.0, 0.01),
)


def examine(seed: int) -> tuple[str, str, list[str]]:
    """(question, what became of it, what is wrong with the answer) of one pair."""
    r = random.Random(seed)
    s = scenario(r)
    name, ask = r.choice(questions(r))
    try:
        found = ask(s)
    except IntegrationError as problem:
        return name, f"run: {problem.message[:60]}", []
    except N2OSimError as problem:
        return name, re.sub(r"[-+]?\d[\d.]*(e[-+]?\d+)?", "#", str(problem).split(":")[0])[:60], []
    return name, f"answered, status {found.status}", wrong(found)


def wrong(found: Answer) -> list[str]:
    """What the answer says that its saved scenario does not do."""
    run = simulate(loads(found.scenario.to_toml(), "saved"))
    return [*_figures(found, run), *_unsaid(found, run), *_not_at_the_edge(found)]


def _figures(found: Answer, run: Run) -> list[str]:
    numbers, bad = run.numbers(), []
    for figure in found.figures:
        for name, where, last, share, absolute in STATED:
            if not re.fullmatch(rf"{name}(_b\d)?", figure.name):
                continue
            tag = figure.name[len(name) + 1 :]
            full = ".".join(x for x in (where, tag, last) if x)
            if full not in numbers:
                continue
            got = numbers[full]
            said = math.nan if figure.value is None else figure.value
            if math.isnan(got) and math.isnan(said):
                continue
            if not abs(got - said) <= share * abs(said) + absolute:
                bad.append(f"{figure.name} says {said!r}, the saved scenario gives {got!r}")
    return bad


def _unsaid(found: Answer, run: Run) -> list[str]:
    told = {(f.code, f.bottle) for f in found.findings}
    text = found.text()
    return [
        f"unsaid: {f.severity} {f.code} ({f.bottle})"
        for f in run.findings
        if f.severity in ("danger", "warning")
        and ((f.code, f.bottle) not in told or f.severity.upper() not in text)
    ]


def _not_at_the_edge(found: Answer) -> list[str]:
    """Twice the resolution further what decides must break."""
    beyond = found.more.get("beyond")
    if beyond is None:
        return []
    return [] if beyond() else [f"not at an edge: {found.decided_by}"]


# --- the campaign --------------------------------------------------------------------------------
def main(argv: list[str] | None = None) -> int:
    """Run pairs; print failing seeds as they come, and the count at the end."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--json", type=Path)
    given = parser.parse_args(argv)
    became: Counter[tuple[str, str]] = Counter()
    failed = 0
    began = time.monotonic()
    for seed in range(given.first, given.first + given.count):
        name, what, bad = examine(seed)
        became[name, what] += 1
        failed += bool(bad)
        if bad:
            print(f"seed {seed} ({name}): {'; '.join(bad)}", flush=True)
        if given.json is not None:
            with given.json.open("a") as file:
                row = {"seed": seed, "question": name, "became": what, "wrong": bad}
                file.write(json.dumps(row) + "\n")
    for (name, what), count in sorted(became.items()):
        print(f"{count:6} {name:9} {what}")
    print(f"{given.count} pairs, {failed} failed, {time.monotonic() - began:.0f} s")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
