"""Hazards of jets, places, threads and inputs: one test each."""

from __future__ import annotations

import concurrent.futures
import math
from typing import Any

import numpy as np
import pytest
from hazard_cases import base, sound
from run_checks import problems

import n2osim as n2
from n2osim.errors import InputError, IntegrationError, RangeError, UnitError
from n2osim.results.run import simulate
from n2osim.scenario.scenario import Numerics, Scenario
from n2osim.units import PSI


# --- jets and lines ------------------------------------------------------------------------------
@pytest.mark.parametrize("model", ["hne", "hem", "nhne", "omega", "spi"])
def test_huge_jets(model: str) -> None:
    """A bottle emptied through a square inch in a second: closed, no negative mass."""
    run = sound(
        base(
            feed=n2.Feed(n2.Jets(8, "0.4 in"), model=model),
            schedule=[n2.Pass("20 s")],
            heater=None,
            switch=None,
        )
    )
    assert 0.0 < run["mass_kg"][0, -1] < 0.5
    assert run["pressure_gauge_Pa"][0, -1] < 1e5


def test_jets_larger_than_their_hose() -> None:
    """The hose decides: ten times the jet area passes hardly more."""

    def used(count: int) -> float:
        feed = n2.Feed(n2.Jets(count, "0.1 in"), line=n2.FeedLine("10 ft", "0.13 in"), model="hem")
        run = sound(base(feed=feed, schedule=[n2.Pass("5 s")], heater=None, switch=None))
        return float(run["mass_out_kg"][0, -1])

    one, ten = used(2), used(20)
    assert one < ten < 1.6 * one


def test_a_jet_too_small_to_see() -> None:
    feed = n2.Feed(n2.Jets(1, "0.004 in"))
    run = sound(base(feed=feed, schedule=[n2.Pass("120 s")], heater=None, switch=None))
    assert 0.0 < run["mass_out_kg"][0, -1] < 0.05


# --- places --------------------------------------------------------------------------------------
@pytest.mark.parametrize("start", [183.0, 185.0, 233.15])
def test_as_cold_as_it_gets(start: float) -> None:
    run = sound(base(start=start, ambient=n2.Ambient(max(start, 200.0)), heater=n2.Heater(300.0)))
    assert run["fluid_temperature_K"].min() >= 182.9


def test_ambient_below_the_triple_point_is_refused() -> None:
    """182.33 K is colder than any weather on earth (178 K was read once, Vostok, satellite)."""
    for T in (182.0, 150.0, -200.0):
        with pytest.raises(InputError, match="temperature"):
            n2.Ambient(T)
    with pytest.raises(InputError, match="start"):
        base(start=180.0)


def test_heated_out_of_the_equation_of_state_stops_with_what_there_is() -> None:
    bare = n2.Bottle.preset("aluminium", "10 lb", relief_pressure=None)
    with pytest.raises(IntegrationError, match="left the range") as caught:
        simulate(base(bottle=bare, switch=None, heater=n2.Heater(5e3), schedule=[n2.Hold("2 h")]))
    run = caught.value.partial_run
    assert caught.value.advice and problems(run) == []
    assert run["pressure_Pa"].max() <= 50e6 * 1.001
    assert any(f.code == "over-test-pressure" for f in run.findings)


def test_one_of_several_bottles_leaves_and_the_others_go_on() -> None:
    bare = n2.Bottle.preset("aluminium", "10 lb", relief_pressure=None)
    cold = n2.FittedBottle(bare, 3.0, 280.0, "cold")
    hot = n2.FittedBottle(bare, 4.0, 300.0, "hot", n2.Heater(8e3))
    schedule = [n2.Hold("2 h"), n2.Pass("2 s"), n2.Rest("1 min")]
    run = simulate(Scenario([cold, hot], schedule, feed=n2.Feed(n2.Jets(1, "0.020 in"))))
    left = run.frozen["hot"]
    assert left.name in ("left the range: hot", "left the range: full") and left.time < 7200.0
    gone = run.time > left.time
    assert np.isnan(run["pressure_Pa"][1][gone]).all() and np.isnan(run["mass_kg"][1][gone]).all()
    assert (run["outflow_kg_s"][1][gone] == 0.0).all()
    assert (run["heater_power_W"][1][gone] == 0.0).all()
    assert {s.bottle for s in run.segments} == {"cold"}
    assert run.passes[0].used > 0.0
    assert run.totals[0].used == pytest.approx(run.passes[0].used, rel=1e-12)
    assert problems(run) == []
    assert "left-the-range" in {f.code for f in run.findings}
    assert "nan" not in run.summary().lower()
    alone = simulate(Scenario([cold], schedule, feed=n2.Feed(n2.Jets(1, "0.020 in"))))
    assert run["pressure_Pa"][0, -1] == pytest.approx(alone["pressure_Pa"][0, -1], rel=2e-3)


def test_the_last_bottle_that_leaves_ends_the_run() -> None:
    bare = n2.Bottle.preset("aluminium", "10 lb", relief_pressure=None)
    two = [n2.FittedBottle(bare, 4.0, 300.0, name, n2.Heater(8e3)) for name in ("a", "b")]
    with pytest.raises(IntegrationError, match="left the range") as caught:
        simulate(Scenario(two, [n2.Hold("2 h")]))
    assert set(caught.value.state) == {"a", "b"}


def test_a_bottle_of_cold_gas_is_filled_by_the_other_one() -> None:
    """It gets as cold as the triple point for a moment: some of what comes in freezes there."""
    bottle = n2.Bottle.preset("aluminium", "10 lb")
    for start, charge in ((190.0, 0.019), (184.5, 0.0197), (250.0, 0.0145)):
        full = n2.FittedBottle(bottle, 4.0, 300.0, "full")
        gas = n2.FittedBottle(bottle, charge, start, "gas")
        scenario = Scenario([full, gas], [n2.Pass("1 s")], feed=n2.Feed(n2.Jets(1, "0.020 in")))
        run = simulate(scenario)
        assert not run.frozen and run.time[-1] == 1.0
        assert run["mass_kg"][1, -1] > 0.1
        assert run["fluid_temperature_K"].min() >= 182.33
        assert problems(run) == []


# --- the same everywhere -------------------------------------------------------------------------
def _varied(k: int) -> Scenario:
    return base(
        start=285.0 + k,
        heater=n2.Heater(300.0 + 10.0 * k),
        schedule=[n2.Hold("30 min"), n2.Pass("5 s", outflow=0.05), n2.Rest("5 min")],
    )


def _bits(k: int) -> bytes:
    run = simulate(_varied(k))
    return b"".join(v.values.tobytes() for v in run.variables.values())


def test_eight_threads_and_processes_give_the_same_bits() -> None:
    alone = [_bits(k) for k in range(8)]
    with concurrent.futures.ThreadPoolExecutor(8) as pool:
        assert list(pool.map(_bits, list(range(8)) * 3)) == alone * 3
    with concurrent.futures.ProcessPoolExecutor(2) as pool:
        assert list(pool.map(_bits, range(8))) == alone
    assert [_bits(k) for k in reversed(range(8))] == alone[::-1]


def test_the_ensemble_gives_the_same_bits_whoever_runs_it() -> None:
    some = [_varied(k) for k in range(8)]
    one = n2.run_ensemble(some, executor="serial")
    for how in (
        {"executor": "threads", "workers": 8, "chunk": 1},
        {"executor": "processes", "workers": 2},
    ):
        other = n2.run_ensemble(some, **how)
        for name, values in one.columns.items():
            assert values.tobytes() == other[name].tobytes(), name


# --- mix-ups of units ----------------------------------------------------------------------------
@pytest.mark.parametrize("start", [95, 95.0, 70, 20.0, 35])
def test_degrees_without_a_unit_are_refused(start: float) -> None:
    """A bare number is SI: 95 K is no bottle, so a forgotten degF cannot pass."""
    with pytest.raises(RangeError, match=r"bottle start: .* K is out of range"):
        base(start=start)
    with pytest.raises(RangeError, match=r"temperature.*K"):
        n2.Ambient(start)


@pytest.mark.parametrize("psi", [900.0, 1000, 1100.0])
def test_a_band_in_psi_without_a_unit_never_passes_for_pascal(psi: float) -> None:
    """1000 Pa gauge is under every bottle's pressure: the run must not look like a warm-up."""
    run = sound(base(switch=n2.PressureSwitch(psi, psi + 50.0), schedule=[n2.Hold("10 min")]))
    assert run["heater_energy_J"][0, -1] == 0.0
    assert any(f.severity in ("danger", "warning") for f in run.findings), "nobody was told"


def test_gauge_and_absolute_are_never_mixed() -> None:
    with pytest.raises(UnitError, match="psig"):
        n2.PressureSwitch("1000 psia", "1100 psia")
    with pytest.raises(UnitError, match=r"psia|absolute"):
        n2.Ambient("70 degF", pressure="14.7 psi")
    assert n2.PressureSwitch("1000 psig", "1100 psig").closes == pytest.approx(1000 * PSI)


WRONG = [
    True,
    False,
    math.nan,
    math.inf,
    -math.inf,
    -1.0,
    "",
    "  ",
    "lb",
    "12",
    "12 furlong",
    "nan lb",
    "inf lb",
    "-3 lb",
    "1e400 lb",
    None,
    [],
    {},
    b"3",
    3j,
    Ellipsis,
]


@pytest.mark.parametrize("value", WRONG, ids=repr)
def test_no_field_takes_nonsense(value: Any) -> None:
    """Booleans, NaN, infinities, negatives, no unit, no number: refused by name, everywhere."""
    makers = {
        "fill": lambda v: base(fill=v),
        "start": lambda v: base(start=v),
        "coverage": lambda v: n2.Heater(300.0, coverage=v),
        "bore": lambda v: n2.Jets(1, v),
        "closes": lambda v: n2.PressureSwitch(v, 7e6),
        "tolerance": lambda v: Numerics(tolerance=v),
        "pressure": lambda v: n2.Ambient(290.0, v),
        "opens": lambda v: n2.CutOut(v, 300.0),
        "duration": lambda v: n2.Hold(v),
        "supply": lambda v: n2.Refill(v),
        "volume": lambda v: n2.Bottle.lumped(v, 5e3, 0.2),
        "voltage": lambda v: n2.Supply(v),
        "length": lambda v: n2.FeedLine(v, 0.004),
        "push": lambda v: n2.Mounting(acceleration=v),
    }
    for name, make in makers.items():
        if name in ("coverage", "tolerance") and value == "12":  # numbers need no unit
            continue
        with pytest.raises(InputError) as caught:
            make(value)
        assert len(str(caught.value)) > 10, name


def test_wrong_kinds_of_parts_are_refused() -> None:
    """A heater where a switch belongs, a text where a bottle belongs: said at once."""
    for changes in (
        {"heater": n2.PressureSwitch(6e6, 7e6)},
        {"switch": n2.Heater(300.0)},
        {"ambient": 290.0},
        {"feed": n2.Jets(1, 0.001)},
        {"schedule": ["hold"]},
        {"schedule": 3.0},
        {"mounting": "standing"},
        {"heater": "300 W"},
        {"bottle": "aluminium"},
        {"model": "full"},
        {"numerics": 1.0},
        {"supply": 14.4},
        {"engine": "v8"},
    ):
        with pytest.raises(InputError) as caught:
            base(**changes)
        assert str(caught.value)
    with pytest.raises(InputError, match=r"a Scenario; Scenario\.from_toml reads a file"):
        n2.simulate("car.toml")  # type: ignore[arg-type]
