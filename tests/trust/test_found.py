"""Failures that the random campaign found, each with the smallest scenario that showed it."""

from __future__ import annotations

import numpy as np
import pytest
from run_checks import problems

from n2osim.errors import InputError, IntegrationError
from n2osim.hardware.ambient import Ambient
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.wall import wall_network
from n2osim.simulation.run import simulate
from n2osim.simulation.scenario import Model, Mounting, Scenario
from n2osim.simulation.schedule import Pass, Refill, Rest

ALUMINIUM = Bottle.preset("aluminium", "12 lb")


@pytest.mark.parametrize("coverage", [0.01, 0.5, 0.97, 0.99])
@pytest.mark.parametrize("area", [0.3, 0.62, 2.0])
def test_no_wall_node_has_a_negative_heat_capacity(coverage: float, area: float) -> None:
    """Areas given by the user make the cylinder heavier than the layer: all nodes share that."""
    bottle = Bottle.lumped(0.0235, 24e3, area)
    net = wall_network(bottle, 3, coverage)
    assert min(net.covered.capacity.min(), net.bare.capacity.min()) > 0.0
    assert net.heat_capacity == pytest.approx(bottle.heat_capacity, rel=1e-12)


def test_a_schedule_that_begins_with_a_refill_closes() -> None:
    run = simulate(Scenario(ALUMINIUM, [Refill("40 degF", pumped=False)], fill=3.0, start=250.0))
    assert problems(run) == []
    filled = run.segments[0]
    assert filled.start_mass == 3.0
    assert filled.end_mass > 4.0
    assert run["mass_out_kg"][0, -1] == pytest.approx(3.0 - filled.end_mass, rel=1e-12)


@pytest.mark.parametrize("start", [233.0, 338.9])
def test_a_refill_that_does_not_fit_says_so(start: float) -> None:
    scenario = Scenario(ALUMINIUM, [Refill("60 degF", to=9.5)], fill=3.6, start=start)
    with pytest.raises(IntegrationError, match="smaller refill") as caught:
        simulate(scenario)
    assert caught.value.partial_run["mass_kg"][0, -1] == 3.6
    assert problems(caught.value.partial_run) == []
    with pytest.raises(InputError, match=r"refill of bottle: 30 kg.*at most"):
        simulate(scenario.replace(schedule=[Refill("60 degF", to=30.0)]))


@pytest.mark.parametrize("two_zone", [None, 1.0, 2e4])
@pytest.mark.parametrize("draw", ["liquid", "vapour"])
def test_a_prescribed_outflow_cannot_empty_a_bottle_below_the_outside(draw, two_zone) -> None:
    """It drew the vapour space down to the triple point, where the equation of state ends."""
    run = simulate(Scenario(
        ALUMINIUM, [Pass("60 s", outflow=0.3)], fill=4.9, start=254.0,
        mounting=Mounting(draw=draw), model=Model(two_zone=two_zone),
    ))  # fmt: skip
    assert problems(run) == []
    assert run["pressure_gauge_Pa"].min() > 0.0


def test_thin_air_does_not_freeze_a_vented_bottle() -> None:
    """79.5 kPa of a high strip is below the triple point's 87.8 kPa: the vent stops above it."""
    run = simulate(Scenario(
        Bottle.lumped(0.007, 5e3, 0.2, relief_pressure=4e6, relief_bore=6e-3), [Rest("10 min")],
        Ambient(280.0, 79.5e3), fill=4.4, start=295.0, model=Model(inside_coefficient=0.0),
    ))  # fmt: skip
    assert run["relief_open"][0, -1]
    assert problems(run) == []
    assert 91.9e3 < run["pressure_Pa"][0, -1] < 93e3
    assert np.all(run["fluid_temperature_K"] > 182.33)
