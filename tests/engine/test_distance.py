"""Deliveries over distance and what their times count from. The reference is the car's own track:
share against distance is the straight line asked for, at any instant."""

import numpy as np
import pytest

from n2osim.errors import InputError, ScenarioError
from n2osim.hardware import Ambient, Bottle, Feed, Jets
from n2osim.results.run import simulate
from n2osim.scenario.delivery import over_distance
from n2osim.scenario.delivery import over_distance as of_the_studies
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass, Stage

FOOT = 0.3048
POINTS = [("0 ft", "30 %"), ("60 ft", "30 %"), ("330 ft", "100 %")]
TIMES = np.linspace(0.0, 6.0, 61)
TRACK = [(t, 3.0 * t**2) for t in TIMES]  # even acceleration, 6 m/s2


def wanted(distance):
    return np.interp(distance, [60 * FOOT, 330 * FOOT], [0.3, 1.0])


def feet(share_at, delay: float):
    """Largest error of the share over the track from the end of the delay on."""
    times = np.linspace(delay + 2e-3, 6.0, 2000)
    return np.abs(share_at(times) - wanted(np.interp(times, *np.array(TRACK).T))).max()


@pytest.mark.parametrize("delay", [0.0, 0.5, 2.0, 4.5])
def test_the_share_is_straight_in_distance_whatever_the_delay(delay: float) -> None:
    """Found: 0.689 for 0.65 half-way between two corners, and 0.81 for 1.0 behind a delay."""
    course = over_distance(POINTS, TRACK, delay)
    assert feet(lambda t: np.interp(t - delay, *np.array(course).T), delay) < 5e-3
    assert course[0][0] >= 0.0
    kept = Pass("6 s", delay=delay, delivery=POINTS, track=TRACK)
    assert kept.track is None and np.array(kept.delivery) == pytest.approx(np.array(course))
    assert of_the_studies is over_distance


def test_the_worked_example() -> None:
    """195 ft is half-way from 60 to 330 ft: 65 %."""
    track = [("0 s", "0 ft"), ("1.2 s", "60 ft"), ("2.2 s", "195 ft"), ("3 s", "330 ft")]
    assert over_distance(POINTS, track) == [
        (0.0, 0.3),
        (1.2, 0.3),
        (2.2, pytest.approx(0.65)),
        (3.0, 1.0),
    ]


def test_in_a_run_the_valves_follow_the_car() -> None:
    bottle = Bottle.preset("aluminium", "10 lb")
    feeds = {"main": Feed(Jets(1, "0.03 in")), "second": Feed(Jets(1, "0.03 in"))}
    for item in (
        Pass("6 s", delay="0.5 s", delivery=POINTS, track=TRACK),
        Pass("6 s", delay="0.5 s", track=TRACK, stages=[Stage("second", POINTS)]),
    ):
        run = simulate(Scenario(bottle, [item], Ambient("70 degF"), feeds, fill=4.0, start=300.0))
        assert feet(lambda t, r=run: np.interp(t, r.time, r["valve_open"][0]), 0.5) < 6e-3


def test_a_step_in_distance_is_a_step() -> None:
    course = over_distance([("60 ft", 0.2), ("60 ft", 0.9)], TRACK)
    at = np.sqrt(60 * FOOT / 3.0)
    assert [f for _, f in course] == [0.2, 0.9]
    assert course[0][0] == pytest.approx(at, abs=1e-3)
    assert Pass("6 s", delivery=course).delivery[1][0] == pytest.approx(course[0][0] + 1e-3)


def test_from_a_file(tmp_path) -> None:
    text = """
schema = 1
[bottle]
preset = "aluminium"
capacity = "10 lb"
fill = "9 lb"
start = "80 degF"
[feed]
jets = { count = 1, bore = "0.04 in" }
[[schedule]]
kind = "pass"
duration = "6 s"
delay = "0.5 s"
delivery = [["60 ft", "30 %"], ["330 ft", "100 %"]]
track = [["0 s", "0 ft"], ["1.2 s", "60 ft"], ["2.2 s", "195 ft"], ["3.0 s", "330 ft"]]
"""
    path = tmp_path / "car.toml"
    path.write_text(text)
    item = Scenario.from_toml(path).schedule[0]
    assert np.array(item.delivery) == pytest.approx(np.array([(0.7, 0.3), (1.7, 0.65), (2.5, 1)]))
    again = tmp_path / "again.toml"
    Scenario.from_toml(path).to_toml(again)
    assert Scenario.from_toml(again).schedule[0] == item
    path.write_text(text.replace("track", "# track"))
    with pytest.raises(ScenarioError, match=r"line 14.*give the pass a track"):
        Scenario.from_toml(path)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (dict(track=TRACK), "no delivery over distance"),
        (dict(track=TRACK, delivery=[("330 ft", 1), ("60 ft", 0)]), "order of distance"),
        (dict(track=TRACK, delivery=[("900 ft", 1)]), "give the track up to there"),
        (dict(track=TRACK, delivery=[("60 ft", "130 %")]), "130 %"),
        (dict(track=TRACK, delivery=[]), "at least one"),
        (dict(track=[(0, 0), (1, 0)], delivery=POINTS), "both rising"),
        (dict(track=[(0, 0, 0)], delivery=POINTS), "pairs"),
        (dict(stages=[Stage(delivery=POINTS)]), "give the pass a track"),
        (dict(delivery=POINTS), "give the pass a track"),
        (dict(delay="7 s"), "less than the pass lasts"),
        (dict(delay="6 s"), "less than the pass lasts"),
    ],
)
def test_mistakes_are_named(given, said: str) -> None:
    with pytest.raises(InputError, match=said):
        Pass("6 s", **given)


def test_more_than_all_is_not_mistaken_for_a_missing_percent_sign() -> None:
    """Found: '130 %' was answered with "write '1.3 %'"."""
    with pytest.raises(InputError) as caught:
        Pass("6 s", delivery=[("0 s", "130 %")])
    assert "if percent is meant" not in str(caught.value)
    with pytest.raises(InputError, match="'80 %' if percent is meant"):
        Pass("6 s", delivery=[("0 s", 80)])


def test_delivery_times_count_from_the_end_of_the_delay() -> None:
    """As the pages say: a ramp of 2 s behind 1 s of delay is up after 3 s, a stage at 1.5 s comes
    in at 2.5 s."""
    bottle = Bottle.preset("aluminium", "10 lb")
    feeds = {"main": Feed(Jets(1, "0.03 in")), "second": Feed(Jets(1, "0.03 in"))}
    ramp = Pass("6 s", delay="1 s", delivery=[("0 s", "40 %"), ("2 s", "100 %")])
    run = simulate(Scenario(bottle, [ramp], Ambient("70 degF"), feeds, fill=4.0, start=300.0))
    share = np.interp([0.5, 1.01, 2.0, 3.0, 5.0], run.time, run["valve_open"][0])
    assert share == pytest.approx([0.0, 0.4, 0.7, 1.0, 1.0], abs=5e-3)
    late = Stage("second", [("0 s", 0), ("1.5 s", 0), ("1.5 s", 1)])
    two = Pass("6 s", delay="1 s", stages=[Stage("main"), late])
    run = simulate(Scenario(bottle, [two], Ambient("70 degF"), feeds, fill=4.0, start=300.0))
    assert run.time[(run["valve_open"][0] > 0.9).argmax()] == pytest.approx(2.5, abs=2e-3)


def test_a_delivery_that_the_pass_cuts_off_is_found() -> None:
    bottle = Bottle.preset("aluminium", "10 lb")
    for last, found in (("20 s", True), ("10 s", False), ("9 s", True)):
        item = Pass(
            "10 s",
            delay=0.0 if last != "9 s" else "2 s",
            delivery=[("0 s", "40 %"), (last, "100 %")],
        )
        run = simulate(Scenario(bottle, [item], fill=4.0, start=300.0, feed=Feed(Jets(1, 1e-3))))
        assert ("delivery-cut" in {f.code for f in run.findings}) == found
