"""The table of quantities: names, units, one formula for a run and for a study, and what it says.

References: events and arrays of the same run, conservation of mass, and the unit parser the other
way round.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

import n2osim as n2
from n2osim.errors import UnitError, UnknownNameError
from n2osim.results.quantities import QUANTITIES, all_columns, layout_of, quantity
from n2osim.studies.members import numbers_of
from n2osim.units import in_unit, parse

BOTTLE = n2.Bottle.preset("aluminium", "10 lb")
FEEDS = {"main": n2.Feed(n2.Jets(1, "0.04 in"), model="spi")}
FEEDS["purge"] = n2.Feed(n2.Jets(1, "0.03 in"), model="spi")
ENGINE = n2.EngineSide(fuel_jets=n2.Jets(1, "0.0222 in"), fuel_pressure="43 psig")
AIR = n2.Ambient("70 degF", n2.standard_pressure("3000 ft"))
ROUND = (
    n2.Rest("1 min"),
    n2.Purge("0.5 s"),
    n2.Rest("5 s"),
    n2.Purge("0.5 s"),
    n2.Pass("3 s"),
    n2.Weigh(refill_below="9 lb", tare_error="0.1 lb"),
    n2.Refill("65 degF", to="8.5 lb"),
)


def car(*items, **changes) -> n2.Scenario:
    given = dict(fill="8 lb", start="78 degF", ambient=AIR)
    given |= dict(feeds=FEEDS, engine=ENGINE, heater=n2.Heater("400 W"))
    given["switch"] = n2.PressureSwitch("880 psig", "900 psig")
    return n2.Scenario(BOTTLE, **given | changes, schedule=list(items))


@pytest.fixture(scope="module")
def held() -> n2.Run:
    return car(n2.Hold("3 h")).run()


@pytest.fixture(scope="module")
def day() -> n2.Run:
    return car(*ROUND, n2.Hold("40 min"), *ROUND).run()


def test_every_name_ends_in_its_unit_and_finds_its_entry() -> None:
    pair = [n2.FittedBottle(BOTTLE, "8 lb", "78 degF", name=x) for x in ("left", "right")]
    two = n2.Scenario(pair, feeds=FEEDS, engine=ENGINE, schedule=[n2.Hold(1.0), *ROUND])
    for scenario in (two, car(n2.Hold(1.0), *ROUND)):
        for column in all_columns(layout_of(scenario)):
            assert quantity(column.name) == column.quantity, column.name
            short = column.name.removesuffix(column.quantity.suffix)
            assert quantity(short).kind == column.quantity.kind, column.name
    assert len({(q.of, q.name) for q in QUANTITIES}) == len(QUANTITIES)


def test_a_number_in_any_unit_of_its_kind(held: n2.Run) -> None:
    peak = held.holds[0].peak_pressure
    ambient = held.scenario.ambient.pressure
    shown = held.get("hold0.peak_pressure", "psig")
    assert parse(f"{shown!r} psig", "gauge_pressure") == pytest.approx(peak, rel=1e-12)
    assert held.get("hold0.peak_pressure", "bara") * 1e5 == pytest.approx(peak + ambient, rel=1e-12)
    assert held.get("hold0.peak_pressure") == held.get("hold0.peak_pressure_gauge_Pa") == peak
    hot = held.get("hold0.hottest_wall", "degF")
    assert parse(f"{hot!r} degF", "temperature") == pytest.approx(held.holds[0].hottest_wall)
    assert held.get("run.switchings") == held.holds[0].switchings
    # Over time: gauge by the unit, absolute without one; one bottle by its name.
    gauge, absolute = held.get("pressure", "psig"), held.get("pressure")
    assert np.array_equal(absolute, held["pressure_Pa"])
    assert gauge * 6894.757293168 == pytest.approx(held["pressure_gauge_Pa"], rel=1e-12)
    assert np.array_equal(held.get("bottle.pressure"), absolute[0])
    with pytest.raises(ValueError, match="read-only"):
        absolute[0, 0] = 1.0


@pytest.mark.parametrize(
    ("name", "unit", "words"),
    [
        ("hold0.overshot", "", "did you mean 'hold0.overshoot_Pa'"),
        ("presure", "", "did you mean 'pressure_Pa'"),
        ("hold1.overshoot", "psi", "hold0"),
        ("power", "hp", "give it one"),
    ],
)
def test_a_name_that_is_not_there(name: str, unit: str, words: str) -> None:
    run = car(n2.Rest(1.0), n2.Hold(1.0), engine=None).run()
    with pytest.raises(UnknownNameError) as caught:
        run.get(name, unit)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("name", "unit", "right"),
    [
        ("hold0.overshoot", "psig", "psi"),
        ("hold0.hottest_wall", "psi", "degF"),
        ("hold0.hottest_wall", "delta_degF", "degF"),
        ("hold0.duty", "s", "%"),
        ("hold0.warm_up_time", "kg", "min"),
        ("pressure_Pa", "psi", "psia"),
    ],
)
def test_a_unit_of_another_kind_names_right_ones(held, name, unit, right) -> None:
    with pytest.raises(UnitError) as caught:
        held.get(name, unit)
    assert right in str(caught.value)


def test_units_out_are_units_in() -> None:
    for value, unit, kind in ((7.3, "lb/min", "mass_flow"), (2.0, "hp", "engine_power")):
        assert in_unit(parse(f"{value} {unit}", kind), kind, unit) == pytest.approx(value)


# --- what the numbers mean -----------------------------------------------------------------------
def test_duty_is_over_whole_cycles_by_the_events(held: n2.Run) -> None:
    times = {x: [e.time for e in held.events if e.name == f"switch {x}"] for x in ("on", "off")}
    first, last = times["off"][0], times["off"][-1]
    on = [t for t in times["on"] if first < t < last]
    assert len(on) == len(times["off"]) - 1 >= 3
    heated = sum(off - start for start, off in zip(on, times["off"][1:]))
    hold = held.holds[0]
    assert hold.duty == pytest.approx(heated / (last - first), rel=1e-9)
    assert hold.switchings_per_hour == pytest.approx(7200.0 * len(on) / (last - first), rel=1e-9)


def test_duty_hardly_depends_on_where_the_hold_ends(held: n2.Run) -> None:
    """Cut anywhere, whole cycles agree within what one differs from the next."""
    found = [car(n2.Hold(t)).run().holds[0].duty for t in ("100 min", "120 min", "150 min")]
    assert found == pytest.approx([held.holds[0].duty] * 3, rel=0.05)


def test_fewer_than_one_cycle_has_no_duty() -> None:
    one = car(n2.Hold("2 h", until_open=True)).run()
    assert one.holds[0].warm_up_time > 0.0 and one.holds[0].duty is None
    assert one.get("hold0.duty", "%") is None and one.holds[0].as_dict()["duty"] is None
    assert math.isnan(one.numbers("hold0.duty")["hold0.duty"])


def test_what_is_used_was_drawn_and_refills_are_apart(day: n2.Run) -> None:
    n = day.numbers("run.*")
    lost = day["mass_kg"][0, 0] - day["mass_kg"][0, -1]
    assert n["run.used_kg"] - n["run.refilled_kg"] == pytest.approx(lost, abs=1e-9)
    drawn = sum(s.used for s in (*day.passes, *day.purges))
    assert n["run.used_kg"] == pytest.approx(drawn, rel=1e-9) and n["run.refilled_kg"] > 0.0


def test_without_a_refill_nothing_is_let_in_and_that_has_no_sign(held: n2.Run) -> None:
    assert str(held.get("run.refilled")) == "0.0"


def test_a_study_has_the_numbers_of_the_run(day: n2.Run) -> None:
    names = [*day.numbers("*"), "round1.purge_cost_Pa"]
    found = numbers_of(day.scenario, names)
    for name, value in day.numbers("*").items():
        assert found[name] == value or (math.isnan(found[name]) and math.isnan(value)), name


def test_a_sweep_of_fuel_pressure_sees_the_mixture() -> None:
    study = n2.sweep(
        car(n2.Pass("2 s")),
        {"engine.fuel_pressure": ["40 psig", "50 psig"]},
        outputs=["pass0.mixture_leanest", "pass0.power_mean"],
    )
    assert sorted(study.names) == ["pass0.mixture_leanest", "pass0.power_mean_W"]
    lean, rich = study["pass0.mixture_leanest"]
    # Fuel jets pass the root of their pressure drop (no boost: the gauge pressure itself).
    assert rich / lean == pytest.approx(math.sqrt(50.0 / 40.0), rel=1e-9)
    mixture = study.scenario(1).run().engine.passes[0].mixture.minimum
    assert rich == mixture
    assert study.get("pass0.power_mean", "hp")[0] == pytest.approx(
        study["pass0.power_mean_W"][0] / 745.6998715822702
    )


def test_a_round_is_its_purges_its_pass_and_what_follows(day: n2.Run) -> None:
    for k in range(2):
        first, second = day.purges[2 * k : 2 * k + 2]
        one, r = day.passes[k], day.numbers(f"round{k}.*")
        assert r[f"round{k}.purge_used_kg"] == pytest.approx(first.used + second.used)
        lost = first.start_pressure - one.start_pressure
        assert r[f"round{k}.purge_cost_Pa"] == pytest.approx(lost)
        assert r[f"round{k}.weighed_kg"] == one.end_mass
        filled = day.segments[7 * (k + 1) + k - 1]
        assert filled.kind == "refill"
        let_in = filled.end_mass - filled.start_mass
        assert r[f"round{k}.refilled_kg"] == pytest.approx(let_in)
    assert day.get("round0.reheat_time") == day.holds[0].warm_up_time
    assert day.get("round1.reheat_time") is None


@pytest.mark.filterwarnings("error")
def test_a_bottle_that_leaves_in_its_first_segment_has_no_numbers() -> None:
    """Its sums were zero, as if it had used nothing, and numpy warned of its extremes."""
    light = n2.Bottle.preset("aluminium", "10 lb", relief_pressure=3e6)
    hot = n2.FittedBottle(light, 1.0, 300.0, "hot", n2.Heater(2000.0))
    cold = n2.FittedBottle(BOTTLE, 3.0, 290.0, "cold")
    run = n2.simulate(n2.Scenario([hot, cold], [n2.Hold("1 h"), n2.Rest("1 min")]))
    assert set(run.frozen) == {"hot"}
    found = run.numbers()
    of_hot = [value for name, value in found.items() if name.startswith("run.hot.")]
    assert len(of_hot) > 10
    assert all(math.isnan(value) for value in of_hot)
    assert math.isnan(found["run.all.used_kg"])
    assert found["run.cold.used_kg"] == 0.0
    assert found["run.cold.end_mass_kg"] == 3.0
