"""What is said of a bottle whose disc has burst: how fast it empties, who heats the empty shell,
what its pass and its line are.

It was said to let its charge out over the hours that the hold lasted.
"""

import dataclasses

import numpy as np
import pytest

import n2osim as n2
from n2osim.results.findings import Finding

LB = 0.45359237
BOTTLE = dataclasses.replace(n2.Bottle.preset("carbon-aluminium", "10 lb"), relief_pressure=13e6)
LINE = n2.Feed(n2.Jets(1, "0.04 in"), line=n2.FeedLine.from_dash(4, "10 ft"))


@pytest.fixture(scope="module")
def burst() -> n2.Run:
    """A welded relay, two hours, and a pass from what is left."""
    return n2.simulate(
        n2.Scenario(
            BOTTLE,
            fill="10 lb",
            start="70 degF",
            heater=n2.Heater("300 W"),
            switch=n2.PressureSwitch("900 psig", "950 psig", fault="welded"),
            feed=LINE,
            schedule=[n2.Hold("2 h"), n2.Pass("8 s")],
        )
    )


def by_code(run: n2.Run) -> dict[str, Finding]:
    return {f.code: f for f in run.findings}


def test_the_time_is_that_in_which_most_of_it_leaves(burst: n2.Run) -> None:
    said = by_code(burst)["relief-opened"].message
    words = said.split("nine tenths of it in ")[1].split(",")[0].split(" (")[0]
    number, unit = words.split()
    seconds = float(number) * {"s": 1.0, "min": 60.0}[unit]
    opened = next(e.time for e in burst.events if e.name == "relief opens")
    left = np.interp(opened + seconds, burst.time, burst["mass_kg"][0])
    assert left == pytest.approx(0.1 * 10 * LB, rel=0.1)
    # choked gas through 6 mm at 13 MPa passes about a kilogram a second: minutes, not hours
    assert 5.0 < seconds < 300.0


def test_the_empty_shell_is_heated_by_what_heats_it(burst: n2.Run) -> None:
    hot = [f for f in burst.findings if f.code == "layer-too-hot"]
    opened = next(e.time for e in burst.events if e.name == "relief opens")
    assert any(f.time > opened for f in burst.findings if f.code == "over-125-degF") or hot
    late = [f for f in burst.findings if f.code in ("layer-too-hot", "over-125-degF")]
    assert late and {f.cause for f in late} == {"relay"}


def test_an_empty_bottle_is_not_called_a_cold_one(burst: n2.Run) -> None:
    found = by_code(burst)
    assert burst.passes[0].start_temperature > 320.0
    assert found["launch-below-band"].cause == "charge"
    assert "only gas" in found["no-liquid-at-launch"].message


def test_no_line_is_shut_in_at_the_cold_of_the_burst(burst: n2.Run) -> None:
    coldest = burst["fluid_temperature_K"].min()
    assert coldest < 220.0
    shut_in = by_code(burst)["trapped-liquid"].limit
    assert shut_in == pytest.approx(burst["pressure_gauge_Pa"][0, 0], rel=1e-3)
