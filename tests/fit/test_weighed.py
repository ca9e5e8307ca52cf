"""Jets from weighed passes: truth regained, intervals that hold it, jets that keep their bores."""

from __future__ import annotations

import dataclasses
import math

import pytest
from weighed_cases import BOTTLE, PSI, case, outcome, without_errors

import n2osim as n2
from n2osim.errors import InputError, NoSolutionError
from n2osim.fit.weighed import WeighedPass, weighed_jets
from n2osim.physics.feed_state import drawn_at, feed_flow
from n2osim.physics.flow_range import flow_range

JETS = n2.Jets(2, "0.04 in")
BASE = n2.Scenario(BOTTLE, [], feed=n2.Feed(JETS), fill="10 lb", start=300.0)


def made_with(jets: n2.Jets, **errors: float) -> WeighedPass:
    """A pass of 8 s from 10 lb at 300 K as these jets make it, without reading errors."""
    run = n2.simulate(BASE.replace(schedule=(n2.Pass("8 s"),), feeds=(("main", n2.Feed(jets)),)))
    mass, gauge = run["mass_kg"][0], run["pressure_gauge_Pa"][0]
    empty = BOTTLE.empty_mass
    return WeighedPass(mass[0] + empty, mass[-1] + empty, 8.0, gauge[0], gauge[-1], **errors)


def test_hidden_coefficient_is_regained_and_the_jets_keep_count_and_bore():
    hidden = dataclasses.replace(JETS, cd=0.70)
    found = weighed_jets(BASE, [made_with(hidden)])
    assert found.cd == pytest.approx(0.70, rel=2e-3)
    assert found.area == pytest.approx(hidden.cda, rel=2e-3)
    jets = found.scenario.feed.jets
    assert (jets.count, jets.bore) == (JETS.count, JETS.bore)
    assert jets.cd == pytest.approx(0.70, rel=2e-3) and jets.cd_spread == found.half_width
    assert found.inside and found.range[0] < found.area < found.range[1]
    assert abs(found.gauge_after[0]) < 0.2 * PSI
    drawn = drawn_at(found.temperature, 600.0)
    low, high = flow_range(found.scenario.feed, drawn, 101325.0).factors
    assert high - low == pytest.approx(2.0 * found.half_width, rel=1e-3)


def test_interval_follows_from_the_errors_of_the_readings():
    """By hand: time alone, relative error of the time; scale alone, two readings."""
    one = made_with(JETS)
    exact = without_errors(one)
    timed = weighed_jets(BASE, [dataclasses.replace(exact, timing_error=0.1)])
    slope = 1.0 / 0.9  # the bottle empties: flow falls as mass leaves, so area weighs less
    assert timed.half_width == pytest.approx(1.96 * 0.1 / 8.0 * slope, rel=0.15)
    scaled = weighed_jets(BASE, [dataclasses.replace(exact, scale_error=0.01)])
    assert scaled.half_width == pytest.approx(1.96 * 0.01 * math.sqrt(2) / one.used, rel=0.25)
    assert timed.shares["timing"] > 0.99 and scaled.shares["scale"] > 0.99
    assert "timer" in timed.text() or "pass of" in timed.text()


def test_more_passes_narrow_it_but_for_what_they_share():
    one = made_with(JETS)
    single, double = (weighed_jets(BASE, [one] * n) for n in (1, 2))
    assert double.half_width == pytest.approx(single.half_width / math.sqrt(2.0), rel=0.1)
    shared = dataclasses.replace(without_errors(one), empty_error=0.2)
    single, double = (weighed_jets(BASE, [shared] * n) for n in (1, 2))
    assert double.half_width == pytest.approx(single.half_width, rel=0.02)


def test_passes_that_disagree_widen_the_interval_and_are_named():
    a = made_with(dataclasses.replace(JETS, cd=0.65))
    b = made_with(dataclasses.replace(JETS, cd=0.85))
    agreed = weighed_jets(BASE, [a, a])
    found = weighed_jets(BASE, [a, b, a, b])
    assert found.half_width > 2.0 * agreed.half_width and found.spread > 3.0
    assert "disagree" in found.text()


def test_area_beyond_the_bores_becomes_one_and_lies_outside_the_range():
    found = weighed_jets(BASE, [made_with(n2.Jets.effective(1.3 * JETS.area, 2.0))])
    assert found.cd == pytest.approx(1.3, rel=0.01) and not found.inside
    assert found.jets.cda == pytest.approx(found.area, rel=1e-6)
    assert "OUTSIDE" in found.text()


def test_what_cannot_be():
    good = made_with(JETS)
    with pytest.raises(InputError, match="less after than before"):
        dataclasses.replace(good, before=good.after, after=good.before)
    with pytest.raises(InputError, match="above the empty bottle's"):
        weighed_jets(BASE, [dataclasses.replace(good, before=1.0, after=0.5)])
    with pytest.raises(InputError, match="one pass or more"):
        weighed_jets(BASE)
    with pytest.raises(NoSolutionError, match="a quarter to four times"):
        small = BASE.replace(feeds=(("main", n2.Feed(n2.Jets(2, "0.010 in"))),))
        weighed_jets(small, [good])


def test_scenario_file_carries_the_weighing(tmp_path):
    scenario = BASE.replace(weighed=(made_with(JETS),))
    path = tmp_path / "weighed.toml"
    scenario.to_toml(path)
    again = n2.Scenario.from_toml(path)
    assert again.weighed == scenario.weighed
    assert weighed_jets(again).area == pytest.approx(JETS.cda, rel=2e-3)


@pytest.mark.parametrize("seed", range(6))
def test_hidden_length_and_coefficient(seed):
    """The flow is found within 3 % with an interval under 3 %, whatever the hidden length."""
    found = outcome(seed)
    assert abs(found.error) < 0.03 and found.half_width < 0.03


def test_fuel_matched_to_the_weighed_flow_lands_on_the_mixture():
    made = case(11)
    found = weighed_jets(made.believed, made.passes)
    drawn = drawn_at(found.temperature, 600.0)
    flow = feed_flow(found.scenario.feed, drawn, 101325.0).flow
    true = feed_flow(made.truth, drawn, 101325.0).flow
    assert flow / true == pytest.approx(1.0, abs=0.03)
