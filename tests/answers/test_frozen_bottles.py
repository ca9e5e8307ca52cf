"""A bottle that left the equation of state: whatever is asked, our own words or an answer.

A nearly empty bottle on the switch of a full one is heated for as long as that one needs, and the
other way round; both found by the campaign of answers (seeds 137, 352).
"""

from __future__ import annotations

import re

import matplotlib.pyplot as plt
import pytest

import n2osim as n2
from n2osim.above import FIGURES
from n2osim.errors import N2OSimError
from n2osim.report.export import json_text
from n2osim.report.sheet import set_up_sheet


def _car(who: str) -> n2.Scenario:
    """``who`` ("leader" or "follower") is nearly empty and strongly heated."""
    shell, start = n2.Bottle.preset("aluminium", "10 lb"), "45 degF"
    switch = n2.PressureSwitch("850 psig", "900 psig")
    full, empty = ("9 lb", n2.Heater("220 W")), ("0.4 lb", n2.Heater("1400 W"))
    first, second = (empty, full) if who == "leader" else (full, empty)
    front = n2.FittedBottle(shell, first[0], start, name="front", heater=first[1], switch=switch)
    rear = n2.FittedBottle(shell, second[0], start, name="rear", heater=second[1], follows="front")
    return n2.Scenario(
        [front, rear],
        feed=n2.Feed(n2.Jets(2, "0.03 in")),
        engine=n2.EngineSide(),
        ambient=n2.Ambient("45 degF"),
        schedule=[n2.Hold("50 min"), n2.Pass("5 s"), n2.Rest("5 min"), n2.Weigh()],
    )


QUESTIONS = {
    "findings": lambda car: n2.simulate(car).findings,
    "summary": lambda car: n2.simulate(car).summary(full=True),
    "numbers": lambda car: n2.simulate(car).numbers(),
    "json": lambda car: json_text(n2.simulate(car)),
    "frame": lambda car: n2.simulate(car).to_dataframe(),
    "remedies": lambda car: n2.remedies(n2.simulate(car), budget=25).text(),
    "sheet": lambda car: set_up_sheet(car),
    "heater": lambda car: n2.size_heater(car, "40 min", page=False),
    "power": lambda car: n2.largest_power(car, overshoot="20 psi"),
    "coverage": lambda car: n2.size_coverage(car, "40 min"),
    "band": lambda car: n2.set_band(car, "850 psig", "900 psig"),
    "jets": lambda car: n2.size_jets(car, "60 hp"),
    "passes": lambda car: n2.passes_per_fill(car),
    "bottle": lambda car: n2.size_bottle(car, 2),
    "refill mark": lambda car: n2.refill_mark(car),
    "corrections": lambda car: n2.correction_table(car),
    "gauge": lambda car: n2.pressure_error_table(car),
    "held power": lambda car: n2.hold_power(car, "40 hp"),
    "shells": lambda car: n2.compare_shells(car, ["aluminium"]),
    "faults": lambda car: n2.faults(car, relay="30 min", soak="1 h"),
    "warm-up": lambda car: n2.warm_up_table(car, ["200 W", "300 W"]),
    "day": lambda car: n2.race_day(car, n2.RaceDay(rounds=2, pass_=n2.Pass("5 s"))),
    "sweep": lambda car: n2.sweep(car, {"ambient.temperature": ["40 degF", "50 degF"]}),
    **{f"figure {name}": lambda car, name=name: n2.simulate(car).plot(name) for name in FIGURES},
}


@pytest.mark.parametrize("who", ["leader", "follower"])
def test_the_bottle_is_frozen_out(who: str) -> None:
    run = n2.simulate(_car(who))
    assert list(run.frozen) == ["front" if who == "leader" else "rear"]
    said = " ".join(run.summary().split())
    assert "It does not do the job: nothing can be said of" in said
    assert ('"rear" begins a pass below the band' in said) == (who == "leader")
    assert any("nothing is said about it from there on" in f.message for f in run.findings)


@pytest.mark.parametrize("question", QUESTIONS)
@pytest.mark.parametrize("who", ["leader", pytest.param("follower", marks=pytest.mark.campaign)])
def test_an_answer_or_our_own_words(who: str, question: str) -> None:
    try:
        found = QUESTIONS[question](_car(who))
    except N2OSimError as problem:
        assert str(problem) and "nan" not in str(problem)
    else:
        text = found if isinstance(found, str) else str(found)
        assert text
        if isinstance(found, (str, n2.Answer)) and question != "json":
            assert not re.search(r"\bnan\b", text), text
        if isinstance(found, n2.Answer):
            assert found.status in (0, 3)
    plt.close("all")
