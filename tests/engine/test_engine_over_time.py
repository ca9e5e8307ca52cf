"""Fuel pressure and boost over a pass, and how a measured BSFC counts decomposition heat."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

import n2osim as n2
from n2osim.errors import InputError
from n2osim.fit.log_segments import engine_courses
from n2osim.fit.logs import Log
from n2osim.physics.combustion import shot_power
from n2osim.physics.fuels import fuel
from n2osim.results.engine_passes import engine_trace
from n2osim.results.engine_side import accounting, fuel_jets_flow, power_per_flow

PSI = 6894.757293168361
BSFC = 0.5 * 0.45359237 / (745.69987 * 3600.0)
JETS = n2.Jets(1, "0.022 in")


def test_courses_of_pressures_set_the_fuel_flow_by_bernoulli():
    engine = n2.EngineSide(
        fuel_jets=JETS,
        fuel_pressure_course=[[0.0, "45 psig"], [8.0, "37 psig"]],
        boost_course=[[0.0, "0 psig"], [4.0, "20 psig"]],
    )
    assert engine.fuel_pressure == pytest.approx(45 * PSI)
    for since, drop in ((0.0, 45.0), (2.0, 33.0), (4.0, 21.0), (8.0, 17.0), (20.0, 17.0)):
        expected = JETS.cda * np.sqrt(2.0 * fuel("petrol").density * drop * PSI)
        assert fuel_jets_flow(engine, since) == pytest.approx(expected, rel=1e-9)


def test_a_sagging_pump_leans_the_pass_as_its_pressure_says():
    def run(**engine):
        side = n2.EngineSide(fuel_jets=JETS, fuel_pressure="43 psig", **engine)
        return n2.simulate(
            n2.Scenario(
                n2.Bottle.preset("aluminium", "10 lb"),
                [n2.Rest("5 s"), n2.Pass("6 s")],
                fill="9 lb",
                start=300.0,
                feed=n2.Feed(n2.Jets(1, "0.05 in")),
                engine=side,
            )
        )

    steady, sagging = run(), run(fuel_pressure_course=[[0.0, "43 psig"], [6.0, "21.5 psig"]])
    one, other = (engine_trace(r)["equivalence_shot"][-2] for r in (steady, sagging))
    since = steady.time[-2] - 5.0
    assert other / one == pytest.approx(np.sqrt(1.0 - 0.5 * since / 6.0), rel=1e-6)
    start = np.flatnonzero(engine_trace(steady)["n2o_flow_kg_s"] > 0.0)[1]
    one, other = (engine_trace(r)["equivalence_shot"][start] for r in (steady, sagging))
    assert other / one == pytest.approx(1.0, rel=0.02)  # times count from the pass, not the run


@pytest.mark.parametrize(
    "engine",
    (
        dict(fuel_pressure="43 psig", intake_pressure="43 psig"),
        dict(fuel_pressure="10 psig", intake_pressure="20 psig"),
        dict(fuel_pressure="43 psig", boost_course=[[0, "5 psig"], [3, "50 psig"]]),
    ),
)
def test_fuel_pressure_at_or_below_boost_is_refused(engine):
    with pytest.raises(InputError, match="above the intake's"):
        n2.EngineSide(fuel_jets=JETS, **engine)
    n2.EngineSide(fuel_jets=JETS, regulator_referenced=True, **engine)


@pytest.mark.parametrize("course", ([], "43 psig", [[0, 1, 2]], [[1, "43 psig"], [1, "40 psig"]]))
def test_courses_that_are_none(course):
    with pytest.raises(InputError, match="fuel pressure course"):
        n2.EngineSide(fuel_jets=JETS, fuel_pressure_course=course)


def test_scenario_file_and_log_carry_courses(tmp_path):
    time = np.linspace(0.0, 10.0, 201)
    log = Log.from_arrays(
        time, gauge_pressure=6e6 - 1e5 * time, fuel_pressure=3e5 - 1e4 * time, boost=1e4 * time
    )
    courses = engine_courses(log, 2.0, 8.0)
    engine = n2.EngineSide(fuel_jets=JETS, **courses)
    assert engine.fuel_pressure_at(3.0) == pytest.approx(3e5 - 5e4, rel=1e-3)
    assert engine.intake_pressure_at(3.0) == pytest.approx(5e4, rel=1e-2)
    bottle = n2.Bottle.preset("aluminium", "10 lb")
    feed = n2.Feed(n2.Jets(1, "0.05 in"))
    scenario = n2.Scenario(
        bottle, [n2.Pass("6 s")], fill="9 lb", start=300.0, feed=feed, engine=engine
    )
    scenario.to_toml(tmp_path / "a.toml")
    assert n2.Scenario.from_toml(tmp_path / "a.toml").engine == engine


@pytest.mark.parametrize("mixture", (0.9, 1.0, 1.15, 1.5))
def test_measured_bsfc_holds_with_and_without_decomposition(mixture):
    """BSFC is fuel to power whatever the books say: 0.5 must not come out as 0.357."""
    for counted in (False, True):
        power = shot_power(0.02, fuel("petrol"), mixture, bsfc=BSFC, decomposition=counted)
        assert power.fuel_flow / power.total == pytest.approx(BSFC, rel=1e-9)
    plain, shared = (
        n2.EngineSide(bsfc="0.5 lb/hp/h", decomposition=counted) for counted in (False, True)
    )
    assert power_per_flow(shared) == pytest.approx(power_per_flow(plain), rel=1e-9)
    assert "decomposition heat counted" in accounting(shared)
    stated = dataclasses.replace(shared, bsfc=None, efficiency=0.3)
    assert power_per_flow(stated) > 1.2 * power_per_flow(
        dataclasses.replace(stated, decomposition=False)
    )
