"""Sensitivity to the inside coefficient."""

import pytest

import n2osim as n2
from n2osim.errors import InputError
from n2osim.studies.sensitivity import inside_sensitivity


def scenario(**model):
    return n2.Scenario(
        n2.Bottle.preset("aluminium", "12 lb"),
        fill="12 lb",
        start="70 degF",
        ambient=n2.Ambient("70 degF"),
        heater=n2.Heater("300 W"),
        switch=n2.PressureSwitch("985 psig", "1085 psig"),
        schedule=[n2.Hold("1 h")],
        model=n2.Model(**model),
    )


@pytest.mark.parametrize("model", [{}, {"inside_coefficient": 1000.0}])
def test_a_weaker_film_overshoots_more_and_runs_hotter(model):
    """Heat stored in the wall per kelvin of film difference: physics, no outside number needed."""
    s = inside_sensitivity(scenario(**model), factors=(0.4, 1.0, 3.0))
    assert s.overshoot[0] > s.overshoot[1] > s.overshoot[2] > 0
    assert s.hottest_wall[0] > s.hottest_wall[1] > s.hottest_wall[2]
    assert s.spread("overshoot") == pytest.approx(s.overshoot[0] - s.overshoot[2])
    assert "psi" in str(s)


def test_constant_coefficient_scales_like_the_constant_itself():
    scaled = inside_sensitivity(scenario(inside_coefficient=400.0), factors=(2.5,))
    direct = n2.simulate(scenario(inside_coefficient=1000.0)).holds[0]
    assert scaled.overshoot[0] == pytest.approx(direct.overshoot, rel=1e-9)
    one = inside_sensitivity(scenario(inside_coefficient=400.0), factors=2.5)
    assert one.overshoot == scaled.overshoot


def test_needs_a_hold():
    with pytest.raises(InputError, match="hold"):
        inside_sensitivity(scenario().replace(schedule=[n2.Rest("1 min")]))
