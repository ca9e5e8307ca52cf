"""Start, mean and time of flow in a pass summary do not count the launch delay."""

import pytest

import n2osim as n2


def one_pass(**pass_):
    scenario = n2.Scenario(
        n2.Bottle.preset("aluminium", "10 lb"),
        fill="9 lb",
        start="85 degF",
        ambient=n2.Ambient("60 degF"),
        feed=n2.Feed(n2.Jets(2, "0.03 in")),
        schedule=[n2.Pass(**pass_)],
    )
    return n2.simulate(scenario).passes[0]


def test_a_delay_moves_the_flow_and_changes_nothing_else():
    at_once = one_pass(duration="8 s")
    delayed = one_pass(duration="9 s", delay="1 s")
    assert delayed.flow_start == pytest.approx(at_once.flow_start, rel=2e-3)
    assert delayed.flow_mean == pytest.approx(at_once.flow_mean, rel=2e-3)
    assert delayed.flow_time == pytest.approx(8.0, abs=2e-3)
    assert delayed.used == pytest.approx(at_once.used, rel=2e-3)


def test_a_stepped_delivery_starts_at_its_first_step():
    full = one_pass(duration="4 s")
    stepped = one_pass(duration="4 s", delivery=[(0, 0.3), (2, 0.3), (2, 1.0)])
    assert stepped.flow_start == pytest.approx(0.3 * full.flow_start, rel=1e-3)
    assert stepped.flow_max == pytest.approx(full.flow_start, rel=0.05)
    assert stepped.flow_time == pytest.approx(4.0, abs=1e-6)
