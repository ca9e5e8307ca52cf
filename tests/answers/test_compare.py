"""Shells side by side: what simulate gives, and what cannot be compared."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from study_samples import base

from n2osim.answers.compare import compare_shells
from n2osim.errors import InputError, NoSolutionError
from n2osim.hardware import Bottle, Layer
from n2osim.results.run import simulate
from n2osim.scenario.fields import with_fields
from n2osim.scenario.scenario import Numerics
from n2osim.scenario.schedule import Hold, Pass
from n2osim.units import PSI


@pytest.fixture(scope="module")
def answer():
    return compare_shells(base())


def test_shells_of_equal_charge(answer):
    rows = answer.shells
    metal, light, polymer = (rows[x] for x in ("aluminium", "carbon-aluminium", "carbon-polymer"))
    # Common practice, no source: metal holds a steadier pressure; carbon is lighter.
    assert metal.overshoot < light.overshoot < polymer.overshoot
    assert metal.empty_mass > light.empty_mass > polymer.empty_mass
    # A conductive, heavy wall gives the pass more of its heat.
    assert metal.sag_support > light.sag_support > polymer.sag_support > 0.0
    assert metal.hottest_wall < light.hottest_wall < polymer.hottest_wall
    assert "ISO 11119-3" in polymer.note and "ISO 11119-3" in answer.text()


def test_a_row_is_what_simulate_gives(answer):
    row = answer.shells["carbon-polymer"]
    scenario = with_fields(base(), {"bottle": "carbon-polymer"}).replace(
        schedule=[
            Hold("12 h", until_open=True),
            Hold("1 h"),
            Hold("12 h", until_open=True),
            Pass("9 s"),
            Hold("4 h", until_open=True),
        ]
    )
    run = simulate(scenario)
    assert row.warm_up_time == run.holds[0].warm_up_time
    assert row.overshoot == pytest.approx(run.holds[1].peak_pressure - 1100 * PSI, abs=1e-6)
    assert row.sag == run.passes[0].pressure_sag
    after = run.time > run.passes[0].end_time
    inside = run["pressure_gauge_Pa"][0, after] >= scenario.bottles[0].switch.closes
    first = run.time[after][np.argmax(inside)] - run.passes[0].end_time
    assert row.recovery_time == pytest.approx(first, abs=30.0) and inside.any()
    assert row.mean_power == pytest.approx(run.holds[1].energy / 3600.0)
    frame = answer.to_dataframe()
    assert frame.loc["carbon-polymer", "sag"] == row.sag


def test_shells_that_cannot_be_compared():
    with pytest.raises(InputError, match="a heater and a switch"):
        compare_shells(base(heater=None))
    with pytest.raises(InputError, match="did you mean"):
        compare_shells(base(), ["aluminum alloy", "stel"])
    for none in ("steel", []):
        with pytest.raises(InputError, match="a list of presets or bottles"):
            compare_shells(base(), none)
    with pytest.raises(NoSolutionError, match="steel: too many steps"):
        compare_shells(base(numerics=Numerics(max_steps=5)), ["aluminium", "steel"])


def test_shells_of_one_name_have_a_row_each():
    bare = Bottle("mine", "8 L", "160 mm", [Layer("6061-T6", "9 mm")])
    thick = Bottle("mine", "8 L", "160 mm", [Layer("6061-T6", "14 mm")])
    rows = compare_shells(base(), [bare, thick]).shells
    assert [rows[n].empty_mass for n in ("mine", "mine (2)")] == [bare.empty_mass, thick.empty_mass]


def test_two_bottles_have_a_row_each_of_one_run():
    one = base().bottles[0]
    pair = (replace(one, name="left"), replace(one, name="right", fill=0.6 * one.fill))
    car = base().replace(bottles=pair)
    answer = compare_shells(car, ["aluminium", "carbon-polymer"])
    rows = answer.shells
    assert list(rows) == [
        f"{shell}, {b}" for shell in ("aluminium", "carbon-polymer") for b in ("left", "right")
    ]
    # The full bottle turns all liquid below the band and climbs the last psi steeply: it is up
    # first. Both are waited for, before the pass and after it.
    assert rows["aluminium, left"].warm_up_time < rows["aluminium, right"].warm_up_time
    assert all(row.recovery_time is not None for row in rows.values())
    # Each bottle warms as it would alone, but for steps of another length: they share nothing yet.
    alone = compare_shells(base(), ["aluminium"]).shells["aluminium"]
    assert rows["aluminium, left"].warm_up_time == pytest.approx(alone.warm_up_time, rel=1e-4)
