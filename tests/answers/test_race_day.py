"""A day at the strip: schedule, rounds, balances, refills, weighings, waste.

Independent numbers: conservation from exported arrays, volume over flow, CoolProp for the liquid
shut in a hose; the rest checks one reading of the run against another.
"""

from __future__ import annotations

import dataclasses
import json

import CoolProp.CoolProp as CP
import numpy as np
import pytest
from oxygen import oxygen_balance

import n2osim as n2
from n2osim.answers.passes import passes_per_fill
from n2osim.answers.race_day import race_day
from n2osim.answers.race_plan import RaceDay, refill_rounds, schedule
from n2osim.errors import InputError
from n2osim.hardware import (
    Ambient,
    Bottle,
    EngineSide,
    Feed,
    FeedLine,
    Heater,
    Jets,
    PressureSwitch,
    Valve,
)
from n2osim.results.run import simulate
from n2osim.scenario.scenario import FittedBottle, Mounting, Scenario
from n2osim.scenario.schedule import Hold, Pass, Purge, Refill, Rest, Weigh

BOTTLE = Bottle.preset("aluminium", "10 lb")
PSI, LB = 6894.757293168, 0.45359237
ENGINE = EngineSide(fuel_jets=Jets(1, "0.026 in"), fuel_pressure="43 psig")
FEEDS = {"main": Feed(Jets(1, "0.055 in")), "purge": Feed(Jets(1, "0.03 in"))}


def scenario(**changes) -> Scenario:
    given = (
        dict(
            fill="10 lb",
            start="65 degF",
            ambient=Ambient("65 degF"),
            heater=Heater("400 W"),
            switch=PressureSwitch("900 psig", "950 psig"),
            feeds=FEEDS,
            engine=ENGINE,
        )
        | changes
    )
    return Scenario(given.pop("bottle", BOTTLE), **given)


DAY = RaceDay(
    rounds=3,
    pass_=Pass("8 s", delay="1 s", window=("600 psig", "1100 psig")),
    purge="1 s",
    purges=2,
    staging="3 min",
    weigh=Weigh("0.05 lb", "0.1 lb", refill_below="7 lb"),
    refill=Refill("60 degF"),
    refill_every=2,
)


@pytest.fixture(scope="module")
def day():
    return race_day(scenario(), DAY)


# --- the plan ------------------------------------------------------------------------------------
def test_schedule_of_a_day():
    plan = schedule(DAY)
    kinds = [type(item).__name__ for item in plan.items]
    one = ["Hold", "Purge", "Rest", "Purge", "Rest", "Pass", "Rest", "Weigh"]
    assert kinds == ["Hold", *one, "Hold", *one, "Refill", "Hold", *one, "Hold"]
    assert plan.rounds[1].refill is not None and plan.rounds[0].refill is None
    for r in plan.rounds:
        assert isinstance(plan.items[r.pass_], Pass) and isinstance(plan.items[r.weigh], Weigh)
        assert all(isinstance(plan.items[k], Purge) for k in r.purges)
        assert plan.items[r.pass_].label == f"round {r.number} pass"
    assert plan.items[plan.rounds[0].reheat].until_open


def test_steps_of_no_length_are_left_out():
    plan = schedule(
        RaceDay(rounds=2, warm=0, soak=0, purge=0, staging=0, cool_down=0, reheat=0, weigh=None)
    )
    assert [type(item) for item in plan.items] == [Pass, Pass]


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (dict(rounds=0), "rounds"),
        (dict(rounds=True), "rounds"),
        (dict(purges=99), "purges"),
        (dict(warm="5 psi"), "warm"),
        (dict(refill_every=1), "Refill"),
        (dict(refill=Refill(290.0), refill_every=1, refill_below=2.0), "one of them"),
        (dict(refill=Refill(290.0), refill_below=2.0, weigh=None), "Weigh"),
    ],
)
def test_plans_that_make_no_sense(given, message):
    with pytest.raises(InputError, match=message):
        RaceDay(**given)


def test_a_day_is_a_plan():
    with pytest.raises(InputError, match=r"a RaceDay; for example RaceDay\(rounds=4\)"):
        race_day(scenario(), "4 rounds")


def test_refill_rounds():
    refill = Refill("60 degF")
    assert refill_rounds(RaceDay(rounds=5)) == frozenset()
    assert refill_rounds(RaceDay(rounds=3, refill=refill)) == {1, 2, 3}
    assert refill_rounds(RaceDay(rounds=5, refill=refill, refill_every=2)) == {2, 4}
    assert refill_rounds(RaceDay(rounds=5, refill=refill, refill_below="5 lb")) == frozenset()


# --- balances ------------------------------------------------------------------------------------
def test_mass_energy_and_oxygen_close_over_the_day(day):
    """To 1e-6 of gross throughput, recomputed from exported temperatures, masses and flows."""
    assert max(day.run.closure().values()) < 1e-6
    assert oxygen_balance(day.run, day.run.engine)["closure"] < 1e-6


def test_what_the_rounds_say_adds_up(day):
    """Charge at the start, less purges and passes, plus refills, is what is left."""
    left = 10 * LB
    for r in day.rounds:
        left -= r.used + r.purge_used
        assert r.charge_left == pytest.approx(left, rel=1e-9)
        left += r.refilled
    assert day.run["mass_kg"][0, -1] == pytest.approx(left, rel=1e-9)
    assert day.refilled_after == (2,)


# --- rounds --------------------------------------------------------------------------------------
def test_purge_and_wait_cost_pressure(day):
    for r in day.rounds:
        assert r.purge_cost > 2 * PSI and r.purge_used > 0.005
        assert r.launch_pressure < r.start_pressure
        assert r.launch_pressure != pytest.approx(r.start_pressure - r.purge_cost, abs=1.0)
        assert r.pressure_sag == pytest.approx(r.launch_pressure - r.end_pressure, abs=1e-6)


def test_launch_delay_holds_the_flow_back(day):
    """1 s of the 8 s without flow."""
    r = day.rounds[0]
    assert r.used == pytest.approx(r.flow_mean * 7.0, rel=1e-3)


def test_engine_figures_of_each_round(day):
    for r, one in zip(day.rounds, day.run.engine.passes):
        assert r.power_mean == one.power.mean and r.leanest == one.mixture.minimum
        assert r.power_mean * 7.0 == pytest.approx(one.work, rel=2e-3)
        assert (r.mixture_lean_end, r.mixture_rich_end) == tuple(one.range.mixture)
        assert r.mixture_lean_end <= r.leanest + 1e-9 and r.richest - 1e-9 <= r.mixture_rich_end


def test_recovery_time_by_running_on(day):
    """The same day cut at the time given stands at the closing point then."""
    r = day.rounds[0]
    k = schedule(DAY).rounds[0]
    end = next(p for p in day.run.passes).end_time
    p = np.interp(end + r.recovery_time, day.run.time, day.run["pressure_gauge_Pa"][0])
    assert p == pytest.approx(900 * PSI, abs=0.3 * PSI)
    before = (day.run.time > end) & (day.run.time < end + r.recovery_time - 1.0)
    assert (day.run["pressure_gauge_Pa"][0, before] < 900 * PSI).all()
    hold = next(s for s in day.run.holds if s.index == k.reheat)
    assert r.reheat_time == hold.warm_up_time


def test_recovery_is_none_without_enough_heat():
    weak = race_day(
        scenario(heater=Heater("60 W"), start="85 degF"),
        RaceDay(rounds=1, warm=0, soak=0, reheat="5 min", purge=0),
    )
    assert weak.rounds[0].recovery_time is None and weak.rounds[0].reheat_time is None


def test_weighing_says_plus_or_minus_and_refill(day):
    """Tare and scale errors add (one-sided bounds): 0.05 + 0.1 lb."""
    for r in day.rounds:
        assert r.weighed_error == pytest.approx(0.15 * LB)
        assert r.weighed == pytest.approx(r.charge_left)
        assert r.refill_due == (r.charge_left - 0.15 * LB < 7 * LB)


def test_refill_when_the_scale_says_so():
    """First round below the limit is followed by a refill; the others are not."""
    import dataclasses

    plan = dataclasses.replace(DAY, rounds=5, refill_every=None, refill_below="7.5 lb")
    day = race_day(scenario(), plan)
    below = [r.round for r in day.rounds if r.weighed - 0.15 * LB < 7.5 * LB]
    assert day.refilled_after == tuple(below) and below
    for r in day.rounds:
        filled = r.charge_left + r.refilled
        assert filled == pytest.approx(10 * LB) if r.round in below else r.refilled == 0.0


def test_a_scale_that_may_hide_a_light_bottle_says_refill():
    """Found: 7.50 +- 0.15 lb against a limit of 7.45 lb read "enough", and a day did not refill."""
    import dataclasses

    cases = ((0.0, 7.45, False), (0.15, 7.45, True), (0.15, 7.30, False), (0.8, 6.75, True))
    for tolerance, limit, due in cases:
        weigh = Weigh(scale_tolerance=f"{tolerance} lb", refill_below=f"{limit} lb")
        run = simulate(scenario(fill="7.5 lb", schedule=[weigh]))
        assert run.segments[0].refill is due
        words = run.summary(full=True).split("WEIGHINGS")[1]
        assert ("yes" in words.split("Model:")[0].split("+-:")[0]) == due
        assert ("neither was given" in words) == (tolerance == 0.0)
    plan = RaceDay(
        rounds=1,
        purge=0,
        warm=0,
        reheat=0,
        refill=Refill("60 degF"),
        pass_=Pass("4 s"),
        refill_below="7.5 lb",
        weigh=Weigh(scale_tolerance="0.8 lb"),
    )
    day = race_day(scenario(fill="8.5 lb", start="84 degF"), plan)
    assert 7.5 * LB < day.rounds[0].weighed < 8.3 * LB and day.refilled_after == (1,)
    exact = race_day(
        scenario(fill="8.5 lb", start="84 degF"), dataclasses.replace(plan, weigh=Weigh())
    )
    assert exact.rounds[0].weighed_error is None and exact.refilled_after == ()


def test_unpumped_refill_stops_when_pressures_are_equal():
    """A warm bottle against a cold supply cylinder: nothing, or less than wanted, goes in."""
    import dataclasses

    supply = CP.PropsSI("P", "T", 293.15, "Q", 0, "NitrousOxide")
    plan = dataclasses.replace(
        DAY, rounds=2, refill=Refill(293.15, pumped=False), refill_every=1, cool_down="1 min"
    )
    day = race_day(scenario(), plan)
    r = day.rounds[0]
    assert r.refill_short > 0.0
    assert r.refilled + r.charge_left + r.refill_short == pytest.approx(BOTTLE.capacity)
    k = schedule(plan).rounds[0].refill
    after = next(s for s in day.run.segments if s.index == k).end_pressure
    before = r.end_pressure + 101325.0
    assert before > supply and r.refilled == 0.0 and after + 101325.0 > supply


def test_unpumped_refill_fills_a_cold_bottle_to_the_supply_s_pressure():
    supply = CP.PropsSI("P", "T", 293.15, "Q", 0, "NitrousOxide")
    plan = RaceDay(
        rounds=1,
        warm=0,
        soak=0,
        purge=0,
        staging=0,
        reheat=0,
        refill=Refill(293.15, pumped=False, to="10 lb", duration=0),
    )
    cold = scenario(fill="3 lb", start="20 degF", heater=None, switch=None)
    day = race_day(cold, plan)
    k = schedule(plan).rounds[0].refill
    after = next(s for s in day.run.segments if s.index == k).end_pressure + 101325.0
    r = day.rounds[0]
    assert r.refilled > 0.5
    assert after == pytest.approx(supply, rel=1e-3) and r.refill_short > 0.0


def test_arming_window_counts_time_outside():
    """Window above what the pass sags to: the flow is held back, and the time counted."""
    plan = RaceDay(
        rounds=1,
        warm=0,
        soak=0,
        purge=0,
        staging=0,
        reheat=0,
        pass_=Pass("10 s", window=("850 psig", "1100 psig")),
    )
    day = race_day(scenario(start="84 degF"), plan)
    r = day.rounds[0]
    assert 0.0 < r.inhibited < 10.0 and 0.0 < r.outside_window <= r.inhibited
    free = race_day(
        scenario(start="84 degF"), RaceDay(rounds=1, warm=0, soak=0, purge=0, staging=0, reheat=0)
    )
    assert free.rounds[0].outside_window is None and free.rounds[0].used > r.used


def test_line_fill_time_is_volume_over_volume_flow():
    """Purged hose: only the distribution behind the solenoid is empty; else all of it."""
    line, tubes = FeedLine.from_dash(4, "14 ft"), FeedLine("1 m", "2.5 mm")
    feeds = FEEDS | {
        "main": Feed(Jets(1, "0.05 in"), line=line, valve=Valve("5 mm"), distribution=tubes)
    }
    base = dict(rounds=1, warm=0, soak=0, staging=0, reheat=0)
    for purge, volume in (("1 s", tubes.volume), (0, tubes.volume + line.volume)):
        day = race_day(scenario(feeds=feeds, start="80 degF"), RaceDay(purge=purge, **base))
        r, run = day.rounds[0], day.run
        row = int(np.flatnonzero(run["segment"] == schedule(day.day).rounds[0].pass_)[0])
        rho = CP.PropsSI("D", "T", run["fluid_temperature_K"][0, 0, row], "Q", 0, "NitrousOxide")
        assert r.line_fill_time == pytest.approx(volume * rho / r.flow_start, rel=1e-4)
    assert race_day(scenario(), RaceDay(**base)).rounds[0].line_fill_time is None


def test_line_fill_time_of_a_delayed_pass_is_that_of_its_flow():
    """Found: the row that ends a delay flows next to nothing, and the time came out in years."""
    feeds = FEEDS | {"main": Feed(Jets(1, "0.05 in"), line=FeedLine.from_dash(4, "14 ft"))}
    plan = RaceDay(
        rounds=3,
        warm=0,
        soak=0,
        purge=0,
        staging=0,
        reheat="1 min",
        pass_=Pass("5 s", delay="0.8 s"),
    )
    day = race_day(scenario(feeds=feeds, start="80 degF"), plan)
    times = [r.line_fill_time for r in day.rounds]
    assert all(0.5 < t < 5.0 for t in times), times


def test_two_bottles_one_summary_each():
    bottles = [
        FittedBottle(
            BOTTLE,
            "10 lb",
            "70 degF",
            "left",
            Heater("400 W"),
            PressureSwitch("900 psig", "950 psig"),
        ),
        FittedBottle(
            BOTTLE,
            "8 lb",
            "70 degF",
            "right",
            Heater("400 W"),
            follows="left",
            mounting=Mounting(standing=True),
        ),
    ]
    both = Scenario(bottles, ambient=Ambient("65 degF"), feeds=FEEDS, engine=ENGINE)
    day = race_day(both, RaceDay(rounds=2, purge="0.5 s", staging="30 s"))
    assert [(r.round, r.bottle) for r in day.rounds] == [
        (1, "left"),
        (1, "right"),
        (2, "left"),
        (2, "right"),
    ]
    assert max(day.run.closure().values()) < 1e-6
    assert oxygen_balance(day.run, day.run.engine)["closure"] < 1e-6
    assert len(day.of("right")) == 2 and day.of("right")[0].power_mean == day.rounds[0].power_mean
    with pytest.raises(InputError, match="left"):
        day.of("middle")


# --- liquid shut in ------------------------------------------------------------------------------
@pytest.mark.parametrize(("later", "psia"), [(80.0, 1121), (100.0, 1871)])
def test_hose_shut_in_full_of_liquid(later, psia):
    """Shut in at 70 degF: CoolProp's density of saturated liquid, held constant."""
    from n2osim.physics.charge import trapped_liquid_pressure

    kelvin = [(t - 32.0) / 1.8 + 273.15 for t in (70.0, later)]
    rho = CP.PropsSI("D", "T", kelvin[0], "Q", 0, "NitrousOxide")
    expected = CP.PropsSI("P", "T", kelvin[1], "D", rho, "NitrousOxide")
    found = float(trapped_liquid_pressure(f"{later} degF", "70 degF"))
    assert found == pytest.approx(expected, rel=1e-6)
    assert round(found / PSI) == psia


def test_every_line_that_can_be_closed_is_flagged():
    """Two feeds with a hose between valves, one without: two findings, 1871 psia at 100 degF."""
    line = FeedLine.from_dash(4, "10 ft")
    feeds = {
        "main": Feed(Jets(1, "0.05 in"), line=line, valve=Valve("5 mm")),
        "second": Feed(Jets(1, "0.03 in"), line=line, valve=Valve("5 mm")),
        "purge": Feed(Jets(1, "0.03 in")),
    }
    s = Scenario(
        BOTTLE, [Hold("1 s"), Rest("1 s")], Ambient("70 degF"), feeds, fill="8 lb", start="70 degF"
    )
    found = [f for f in s.run().findings if f.code == "trapped-liquid"]
    assert len(found) == 2
    assert {w for f in found for w in ("main", "second") if f'"{w}"' in f.message} == {
        "main",
        "second",
    }
    for f in found:
        assert (f.value + 101325.0) / PSI == pytest.approx(1871.0, abs=1.0)


# --- output --------------------------------------------------------------------------------------
def test_table_and_plain_values(day):
    text = day.text()
    assert "psig" in text and "lb/min" in text and "kPa" in day.text("si")
    assert json.loads(json.dumps([r.as_dict() for r in day.rounds]))[0]["round"] == 1
    assert json.loads(day.to_json())["tables"][0]["rows"][0]["used"] == day.rounds[0].used


def test_a_day_as_a_table_and_in_a_notebook(day):
    frame = day.to_dataframe()
    assert list(frame.index) == [r.round for r in day.rounds]
    assert frame["used"].tolist() == [r.used for r in day.rounds]
    assert "psig" in day._repr_html_()


def test_rounds_are_judged_as_passes_are(day):
    """One judge: a round counts here if it counts for the passes of a fill."""
    from n2osim.answers.judge import PassLimits, broken, full_flow

    reference = full_flow(day.run, day.run.passes[0].index).mean
    for row, one in zip(day.rows, day.run.passes):
        found = list(broken(day.run, one.index, PassLimits(), reference))
        assert (row["verdict"] == "yes") is (not found)


def test_a_round_with_a_bottle_beyond_the_equation_of_state_does_not_count():
    # Found by the campaign of answers (seed 137): the day broke off with an AssertionError.
    shell = n2.Bottle.preset("aluminium", "10 lb")
    at_first = {"start": "45 degF"}
    front = n2.FittedBottle(
        shell,
        "9 lb",
        **at_first,
        name="front",
        heater=n2.Heater("200 W"),
        switch=n2.PressureSwitch("850 psig", "900 psig"),
    )
    rear = n2.FittedBottle(
        shell, "0.4 lb", **at_first, name="rear", heater=n2.Heater("1400 W"), follows="front"
    )
    feed, air = n2.Feed(n2.Jets(2, "0.03 in")), n2.Ambient("45 degF")
    car = n2.Scenario([front, rear], feed=feed, ambient=air)
    day = n2.race_day(car, n2.RaceDay(rounds=2, pass_=n2.Pass("6 s"), purges=0))
    assert set(day.run.frozen) == {"rear"}
    assert [(r.round, r.bottle) for r in day.rounds] == [(1, "front"), (2, "front")]
    assert all("nothing can be said of rear" in r.verdict for r in day.rounds)
    assert day["passes"] == "0 of 2" and day.status == 3


def test_bottles_with_switches_of_their_own_are_all_heated_to_their_band():
    """Heating ended when the first switch opened, and the colder bottle failed every pass."""
    small, large = Bottle.preset("steel", "10 lb"), Bottle.preset("aluminium", "20 lb")
    switch = PressureSwitch("880 psig", "920 psig")
    pair = [
        FittedBottle(small, 4.0, 290.0, "quick", Heater("300 W"), switch),
        FittedBottle(large, 8.0, 290.0, "slow", Heater("250 W"), switch),
    ]
    car = Scenario(pair, ambient=Ambient("62 degF"), feed=Feed(Jets(1, "0.05 in")))
    day = race_day(car, RaceDay(rounds=2, pass_=Pass("8 s"), purges=0))
    assert day["passes"] == "2 of 2"
    assert any("switches of their own" in n for n in day.notes)
    assert passes_per_fill(car, Pass("8 s"))["count"] >= 3
    led = [pair[0], dataclasses.replace(pair[1], switch=None, follows="quick")]
    one = race_day(car.replace(bottles=led), RaceDay(rounds=1, pass_=Pass("8 s"), purges=0))
    assert not any("switches of their own" in n for n in one.notes)
    assert one.run.holds[0].duration < 5400.0
