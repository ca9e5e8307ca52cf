"""Passes, jets, corrections, held power, +- figures.

Sources: single-phase Bernoulli and CoolProp where a number can be had outside; trade sayings
("common practice, no source") are reported beside what each flow model gives, not tuned to; the
rest checks an answer by running it again.
"""

from __future__ import annotations

import dataclasses
import math

import CoolProp.CoolProp as CP
import numpy as np
import pytest

from n2osim.answers.corrections import _slope_words, correction_table, pressure_error_table
from n2osim.answers.delivery import hold_power, power_course, written_course
from n2osim.answers.jets import NUMBER_DRILLS, size_jets
from n2osim.answers.judge import PassLimits, at_rest, broken, full_flow
from n2osim.answers.passes import passes_per_fill, refill_mark, size_bottle
from n2osim.answers.race_plan import RaceDay
from n2osim.answers.tuning import headline, start_error
from n2osim.errors import InputError, NoSolutionError
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
from n2osim.hardware.mounting import Mounting
from n2osim.physics.feed_state import drawn_at, drawn_at_pressure, feed_flow
from n2osim.physics.flow_range import slope_range
from n2osim.results.engine_side import power_per_flow
from n2osim.results.run import simulate
from n2osim.scenario.delivery import over_distance
from n2osim.scenario.file import loads
from n2osim.scenario.scenario import FittedBottle, Scenario
from n2osim.scenario.schedule import Hold, Pass, Stage, Weigh

BOTTLE = Bottle.preset("aluminium", "10 lb")
PSI, HP, LB, INCH = 6894.757293168, 745.69987158, 0.45359237, 0.0254
ENGINE = EngineSide(fuel_pressure="43 psig", bsfc="0.5 lb/hp/h", fuel_jets=Jets(1, "0.027 in"))
LINE = Feed(Jets(4, "0.02 in"), line=FeedLine.from_dash(4, "14 ft"), valve=Valve("3 mm"))
TEN = Pass("10 s")


def scenario(**changes) -> Scenario:
    """A car that makes some 100 hp from 900 psig."""
    given = (
        dict(
            fill="10 lb",
            start="65 degF",
            ambient=Ambient("65 degF"),
            heater=Heater("400 W"),
            switch=PressureSwitch("900 psig", "950 psig"),
            feed=Feed(Jets(1, "0.0592 in")),
            engine=ENGINE,
            schedule=[Hold("90 min", until_open=True), TEN],
        )
        | changes
    )
    return Scenario(BOTTLE, **given)


def saved(answer):
    """The run of the scenario as it would be saved."""
    return simulate(loads(answer.scenario.to_toml(), "saved"))


# --- jets ----------------------------------------------------------------------------------------
def test_incompressible_jet_by_hand():
    """SPI: mdot = Cd A sqrt(2 rho dp) with CoolProp's saturated liquid at 80 degF."""
    T = (80.0 - 32.0) / 1.8 + 273.15
    p = CP.PropsSI("P", "T", T, "Q", 0, "NitrousOxide")
    rho = CP.PropsSI("D", "T", T, "Q", 0, "NitrousOxide")
    area = math.pi / 4.0 * (0.03 * INCH) ** 2
    expected = 0.8 * area * math.sqrt(2.0 * rho * (p - 101325.0))
    point = feed_flow(Feed(Jets(1, "0.03 in", cd=0.8), model="spi"), drawn_at(T, 600.0), 101325.0)
    assert point.flow == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("at", [None, "850 psig"])
@pytest.mark.parametrize("wanted", [60.0, 120.0])
def test_sized_jets_give_the_mean_power_when_run_again(at, wanted):
    """It sized the opening instant: 200 hp asked, 176 hp on average."""
    found = size_jets(scenario(), f"{wanted} hp", at_pressure=at)
    run = saved(found)
    one = run.engine.passes[0]
    assert one.power.mean == pytest.approx(wanted * HP, rel=2e-3)
    # On target with the fuel bore asked for; the one advised keeps the lean end of jets that nobody
    # has weighed at 95 % of it (mixture goes with the square of the bore: Bernoulli).
    on_target = one.mixture.mean * (found["exact_fuel_bore"] / found["fuel_bore"]) ** 2
    assert on_target == pytest.approx(1.15, rel=2e-3)
    assert one.range.mixture.low == pytest.approx(0.95 * 1.15, rel=1e-4) == found["leanest"]
    assert found["charge"] == pytest.approx(run.passes[0].start_mass, rel=1e-9)
    assert found["density"] == pytest.approx(run.passes[0].start_mass / BOTTLE.volume, rel=1e-9)
    for word in ("charge then", "filling density then", "CAUTIONS", "BSFC"):
        assert word in found.text()


def test_each_kind_of_jet_has_a_list_of_its_own():
    """Both were rounded to one list, which gave a mixture of 4.2."""
    n2o, fuel = ["1.2 mm", "1.3 mm", "1.4 mm"], ["0.5 mm", "0.55 mm", "0.6 mm", "0.65 mm", "0.7 mm"]
    found = size_jets(scenario(), "80 hp", sizes=n2o, fuel_sizes=fuel)
    bores = found["n2o_bore"], found["fuel_bore"]
    assert any(bores[0] == pytest.approx(float(x.split()[0]) * 1e-3) for x in n2o)
    assert any(bores[1] == pytest.approx(float(x.split()[0]) * 1e-3) for x in fuel)
    drills = size_jets(scenario(), "80 hp", sizes=NUMBER_DRILLS, fuel_sizes=NUMBER_DRILLS)
    assert drills["leanest"] >= 0.95 * 1.15 * 0.999
    run = saved(drills)
    assert run.engine.passes[0].range.mixture.low == pytest.approx(drills["leanest"], rel=1e-3)
    assert drills["n2o_bore"] in NUMBER_DRILLS and drills["fuel_bore"] in NUMBER_DRILLS


def test_number_drills_are_a_rising_list():
    """ASME B94.11M: 80 is 0.0135 in, 60 is 0.040 in, 40 is 0.098 in."""
    thou = [round(d / INCH * 1000, 2) for d in NUMBER_DRILLS]
    assert thou == sorted(thou) and len(thou) == 41
    assert (thou[0], thou[20], thou[40]) == (13.5, 40.0, 98.0)


def test_fuel_jets_by_bernoulli():
    found = size_jets(scenario(), "100 hp", count=2, fuel_count=4)
    flow = 100.0 * 0.5 * LB / 3600.0  # 100 hp at 0.5 lb/hp/h
    jets = found.scenario.engine.fuel_jets
    area = flow / jets.cd / math.sqrt(2.0 * 740.0 * 43.0 * PSI) / 4
    assert jets.count == 4 and found.scenario.feed.jets.count == 2
    assert found["exact_fuel_bore"] == pytest.approx(2.0 * math.sqrt(area / math.pi), rel=2e-3)
    assert jets.bore == found["fuel_bore"] > found["exact_fuel_bore"]


def test_what_a_light_bottle_gives_instead_of_liquid_is_said():
    found = size_jets(scenario(fill="3 lb"), "60 hp", at_pressure="925 psig")
    told = {f.code for f in found.findings}
    assert {"no-liquid-at-launch", "liquid-out"} & told
    assert "WARNING" in found.text() or "DANGER" in found.text()


def test_a_line_that_cannot_pass_it_says_so():
    feed = dataclasses.replace(LINE, valve=Valve("1 mm"))
    with pytest.raises(NoSolutionError, match="no jet gives that power"):
        size_jets(scenario(feed=feed), "400 hp")
    cold = [Pass("8 s", window=("1100 psig", "1200 psig"))]
    with pytest.raises(NoSolutionError, match="nothing flows"):  # it "comes to - of 60.0 hp"
        size_jets(scenario(schedule=cold), "60 hp")
    with pytest.raises(InputError, match="power"):
        size_jets(scenario(), "-5 hp")
    with pytest.raises(InputError, match="engine"):
        size_jets(scenario(engine=None), "50 hp")


def test_a_028_jet_by_model():
    """A 0.028 in jet at 1000 psi "is a 50 hp jet" (common practice, no source).

    Figures of 47, 32 and 17 hp said to belong to the three literature models are met within 8 % at
    Cd 0.8, BSFC 0.5 lb/hp/h, stoichiometric petrol, saturated at 1000 psia.
    """
    p = 1000.0 * PSI
    T = CP.PropsSI("T", "P", p, "Q", 0, "NitrousOxide")
    drawn = drawn_at(T, 500.0)
    each = power_per_flow(EngineSide(target_mixture=1.0, bsfc="0.5 lb/hp/h")) / HP
    power = {
        m: feed_flow(Feed(Jets(1, "0.028 in", cd=0.8), model=m), drawn, 101325.0).flow * each
        for m in ("spi", "nhne", "hem", "hne")
    }
    assert power["spi"] == pytest.approx(47.0, rel=0.08)
    assert power["nhne"] == pytest.approx(32.0, rel=0.08)
    assert power["hem"] == pytest.approx(17.0, rel=0.08)
    assert power["hem"] < power["hne"] < power["nhne"] < power["spi"]


# --- passes per fill -----------------------------------------------------------------------------
@pytest.fixture(scope="module")
def fill():
    return passes_per_fill(scenario(), TEN)


def test_passes_of_a_10_lb_bottle(fill):
    """ "Seven to ten 10 s passes of 100 hp from 10 lb" (common practice, no source).

    By mass it is 10 lb / 1.1 lb = 9. Held at 900 psig the bottle's vapour weighs 3.4 lb of it, so
    liquid lasts 5 to 7; the rest goes as gas at falling power.
    """
    each = (10 * LB - fill.left[0]) / LB
    assert 8 <= 10.0 / each <= 10.5
    assert fill["count"] in (5, 6, 7) and "liquid runs out" in fill["reason"]
    free = PassLimits("700 psig", None, True, band=False)
    gas = passes_per_fill(scenario(), TEN, free)
    assert fill["count"] < gas["count"] <= 10 and "pressure falls" in gas["reason"]


def test_the_run_behind_it_has_these_passes_and_the_next_one_fails(fill):
    run = saved(fill)
    assert len(run.passes) == fill["count"]
    reference = full_flow(run, run.passes[0].index).mean
    for one in run.passes:
        assert not list(broken(run, one.index, PassLimits(), reference))


def test_tighter_limits_give_fewer_passes(fill):
    day = RaceDay(pass_=TEN, purge=0, staging="5 min")
    tight = passes_per_fill(scenario(), day, PassLimits(minimum_pressure="900 psig"))
    assert tight["count"] < fill["count"]
    with pytest.raises(InputError, match="no flow"):
        passes_per_fill(scenario(), Pass("5 s", delivery=[(0, 0.0)]))


def test_the_refill_mark_is_the_edge():
    """The charge found keeps the limits through a pass, 1 % less does not."""
    s = scenario(schedule=[TEN, Weigh("0.05 lb", "0.1 lb")])
    mark = refill_mark(s)
    full = simulate(at_rest(s, 1.0, 950 * PSI, TEN))
    reference = full_flow(full, 0).mean
    keep = PassLimits(band=False)
    for factor, good in ((1.0, True), (0.99, False)):
        share = factor * mark["charge"] / s.fill
        run = simulate(at_rest(s, share, 950 * PSI, TEN))
        assert (not list(broken(run, 0, keep, reference))) is good
    assert mark["reading"] == pytest.approx(mark["charge"] + 0.15 * LB + BOTTLE.empty_mass)


def test_a_progressive_delivery_has_the_same_refill_mark(fill):
    """Compared with the opening flow it gave a mark of 1.72 lb (278 degF, 56 hp instead of 142), or
    0 passes from a full bottle."""
    ramp = Pass("10 s", delivery=[(0, 0.3), (3, 1.0)])
    soft = passes_per_fill(scenario(schedule=[ramp]))
    assert soft["count"] >= fill["count"]
    hard = refill_mark(scenario())
    easy = refill_mark(scenario(schedule=[ramp]))
    assert easy["charge"] > 0.8 * hard["charge"]
    T = easy.scenario.bottles[0].start
    assert T <= (125 + 459.67) / 1.8


def test_one_refill_mark_in_every_answer(fill):
    """Sheet and command disagreed: 25.34 and 26.73 lb."""
    from n2osim.numbers import Units
    from n2osim.report.sheet_tables import pass_words

    mark = refill_mark(scenario())
    assert fill["refill_below"] == pytest.approx(mark["charge"], rel=1e-12)
    assert correction_table(scenario())["refill_below"] == pytest.approx(mark["charge"], rel=1e-12)
    words = pass_words(simulate(scenario()), Units())
    assert words.refill == Units().full(mark["reading"], "mass")


def test_smallest_bottle_for_three_passes():
    size = size_bottle(scenario(), 3)
    run = saved(size)
    reference = full_flow(run, run.passes[0].index).mean
    assert len(run.passes) == 3
    for one in run.passes:
        assert not list(broken(run, one.index, PassLimits(), reference))
    used = sum(x.used for x in run.passes)
    assert size["charge_left"] == pytest.approx(size["charge"] - used, rel=1e-9)
    assert size_bottle(scenario(), 4)["capacity"] > size["capacity"]
    with pytest.raises(NoSolutionError, match="no solution"):
        size_bottle(scenario(schedule=[Pass("60 s", outflow="1 lb/s")]), 2)
    with pytest.raises(InputError, match="passes"):
        size_bottle(scenario(), 0)


def test_bottles_together_share_a_mark():
    b = [FittedBottle(BOTTLE, "8 lb", "70 degF", name=n) for n in ("left", "right")]
    pair = Scenario(b, [TEN], feeds={"main": Feed(Jets(2, "0.05 in"))})
    mark = refill_mark(pair, at_pressure="800 psig")
    left, right = mark.scenario.bottles
    assert left.fill == right.fill and mark["charge"] == pytest.approx(2 * left.fill)


# --- errors and corrections ----------------------------------------------------------------------
def test_pressure_errors_by_running_them():
    """Each row against the first instant of a simulated pass; fuel jets rich enough for all."""
    engine = dataclasses.replace(ENGINE, fuel_jets=Jets(1, "0.032 in"))
    s = scenario(engine=engine)
    table = pressure_error_table(s, "950 psig", ["-60 psi", 0.0, "60 psi"])
    for row in table.rows:
        one = simulate(at_rest(s, 1.0, row["pressure_gauge"], Pass("0.5 s"))).engine.passes[0]
        assert row["power"] == pytest.approx(one.power.start, rel=3e-3)
        assert row["mixture"] == pytest.approx(one.mixture.start, rel=3e-3)
    slope = (table.rows[2]["power"] - table.rows[0]["power"]) / (120 * PSI)
    assert table.power_per_pressure == pytest.approx(slope, rel=1e-9)
    low, high = table.power_per_pressure_range
    assert low < slope < high
    low, high = table.mixture_per_pressure_range
    assert low < table.mixture_per_pressure < high
    assert "BSFC" in table.text()
    with pytest.raises(InputError, match="engine"):
        pressure_error_table(scenario(engine=None), "900 psig")


def test_a_slope_is_given_with_its_range_or_withheld():
    """By hand: 1 % more flow over 20 psi is that much of power that the N2O makes."""
    assert _slope_words(2.0, (1.0, 3.0), 1.0, 1) == "+2.0 (+1.0 to +3.0)"
    assert _slope_words(2.0, (-1.0, 3.0), 1.0, 1) == "not known in sign: -1.0 to +3.0"
    s = scenario(engine=dataclasses.replace(ENGINE, fuel_jets=Jets(1, "0.040 in")))
    table = pressure_error_table(s, "950 psig", ["-20 psi", "20 psi"])
    ends = [
        drawn_at_pressure(BOTTLE, s.bottles[0].fill, row["pressure_gauge"], s.ambient.pressure)
        for row in (table.rows[0], table.rows[-1])
    ]
    power = table.rows[1]["power"]  # rich: it goes with the flow of N2O
    gains = slope_range(s.feed, *ends, s.ambient.pressure)
    for slope, gain in zip(table.power_per_pressure_range, gains, strict=True):
        assert slope * 40 * PSI / power == pytest.approx(2.0 * math.sinh(0.5 * gain), rel=1e-6)


def test_same_gauge_pressure_is_not_the_same_flow():
    """At 950 psig 10 lb in this bottle is liquid-full and denser than a lighter bottle's liquid.

    Densities from CoolProp: 680 kg/m3 (all of it) against saturated liquid.
    """
    table = correction_table(scenario(), "950 psig", ["10 lb", "8 lb", "6 lb"])
    full, eight, six = table.rows
    assert full["density"] == pytest.approx(680.0, rel=1e-9) and not full["two_phase"]
    rho = CP.PropsSI("D", "P", 950 * PSI + 101325.0, "Q", 0, "NitrousOxide")
    assert eight["density"] == pytest.approx(rho, rel=1e-6) and six["two_phase"]
    assert eight["flow"] == pytest.approx(six["flow"], rel=1e-9)
    assert eight["flow"] < full["flow"] and full["flow_change"] == 0.0
    assert full["weight"] == pytest.approx(10 * LB + BOTTLE.empty_mass)


def test_corrections_bring_the_flow_back():
    s = scenario()
    table = correction_table(s, "950 psig", ["9 lb", "8 lb"])
    for row in table.rows:
        drawn = drawn_at_pressure(BOTTLE, row["charge"], row["setting"], 101325.0)
        assert feed_flow(s.feed, drawn, 101325.0).flow == pytest.approx(table["flow"], rel=1e-5)
        jets = dataclasses.replace(s.feed.jets, bore=s.feed.jets.bore * row["jet_factor"])
        drawn = drawn_at_pressure(BOTTLE, row["charge"], 950 * PSI, 101325.0)
        flow = feed_flow(dataclasses.replace(s.feed, jets=jets), drawn, 101325.0).flow
        assert flow == pytest.approx(table["flow"], rel=1e-3)


def test_corrections_over_a_whole_pass():
    s = scenario()
    table = correction_table(s, "950 psig", ["10 lb", "7 lb"], pass_=Pass("8 s"))
    for row in table.rows:
        run = simulate(at_rest(s, row["charge"] / s.fill, 950 * PSI, Pass("8 s")))
        assert row["flow"] == pytest.approx(run.passes[0].flow_mean, rel=1e-3)
    with pytest.raises(InputError, match="metered by its jets"):
        correction_table(s, "950 psig", pass_=Pass("8 s", outflow=0.05))


def test_no_setting_above_the_band_is_recommended_unmarked():
    """It recommended 1273 and 1285 psig, unmarked, with a band of 1000 to 1100."""
    s = scenario(switch=PressureSwitch("1000 psig", "1100 psig"))
    table = correction_table(s, None, ["10 lb", "8 lb", "7 lb", "6 lb"])
    for row in table.rows:
        if row["setting"] is not None and row["setting"] > 1120 * PSI:
            assert row["verdict"] in ("above the band", "not advised", "refill first")
    light = correction_table(scenario(), None, ["10 lb", "1.5 lb"]).rows[1]
    assert light["verdict"] == "refill first" and light["jet_factor"] is None


# --- held power ----------------------------------------------------------------------------------
AT_900 = dict(start="86 degF", heater=None, switch=None, schedule=[])


def test_flat_power_is_held_by_opening_more():
    held = hold_power(scenario(**AT_900), "75 hp", Pass("8 s"))
    assert held["held_until"] is None and held["shortfall"] == pytest.approx(0.0, abs=1.0)
    assert held.power[1:-1] == pytest.approx(75 * HP, rel=1e-3)
    assert held["power_least"] == pytest.approx(75 * HP, rel=5e-3)
    assert "held to the end" in held.text() and held.status == 0


@pytest.mark.parametrize("delay", [0.3, 0.8, 0.9])
def test_a_delay_is_not_a_shortfall(delay):
    """With these delays it said "held until 0.8 s, short by 45 hp" where 45 hp is held."""
    held = hold_power(scenario(**AT_900), "45 hp", Pass("8 s", delay=delay))
    assert held["held_until"] is None and held["shortfall"] == pytest.approx(0.0, abs=1.0)
    at = np.linspace(delay + 0.1, 7.9, 60)
    run = saved(held)
    power = np.interp(at, run.time, run.engine["power_W"])
    assert power == pytest.approx(45 * HP, rel=5e-3)


def test_written_schedule_gives_the_same_pass():
    """The opening as a plain delivery course: the same flow without a controller."""
    held = hold_power(scenario(**AT_900), [(0, "40 hp"), (2, "40 hp"), (3, "90 hp")], Pass("8 s"))
    run = saved(held)
    at = np.linspace(0.1, 7.9, 60)
    flow = np.interp(at, run.time, run["outflow_kg_s"][0])
    assert flow == pytest.approx(np.interp(at, held.time, held.flow), rel=5e-3)
    assert len(held.schedule.delivery) < 12


def test_capped_early_then_more_than_the_jets_can_give():
    """60 hp for 2 s while the tyres are the limit, then 150 hp, which these jets cannot give."""
    curve = [(0, "60 hp"), (2, "60 hp"), (2.5, "150 hp")]
    held = hold_power(scenario(**AT_900), curve, Pass("8 s"))
    assert held.power[(held.time > 0.01) & (held.time < 2.0)] == pytest.approx(60 * HP, rel=1e-3)
    assert 2.0 < held["held_until"] < 2.5 and held.status == 3
    assert "fully open" in held.text() or "too little fuel" in held.text()


def test_the_first_pass_of_a_schedule_is_steered_and_the_rest_kept():
    s = scenario(schedule=[Hold("60 min", until_open=True), Pass("5 s"), Hold("5 min")])
    held = hold_power(s, "40 hp")
    kinds = [type(x).__name__ for x in held.scenario.schedule]
    assert kinds == ["Hold", "Pass", "Hold"] and held.scenario.schedule[1].delivery is not None


def test_fuel_jets_that_are_lean_do_not_open_the_valve_further():
    """Fuel as the square of the bore: with lean jets it is the fuel that decides the power."""
    lean = dataclasses.replace(ENGINE, fuel_jets=Jets(1, "0.0225 in"))
    short = hold_power(scenario(**AT_900, engine=lean), "60 hp", Pass("8 s"))
    assert short["held_until"] is not None and "too little fuel" in short["limit"]


@pytest.mark.parametrize(
    ("engine", "window", "limit"),
    [
        (dict(fuel_jets=Jets(1, "0.018 in"), fuel_pressure="43 psig"), None, "too little fuel"),
        (
            dict(fuel_jets=Jets(1, "0.021 in"), fuel_pressure="43 psig", intake_pressure="20 psig"),
            None,
            "too little fuel",
        ),
        ({}, ("910 psig", "1000 psig"), "arming window"),
    ],
    ids=["fuel jets", "boost", "window"],
)
def test_power_that_something_else_keeps_down_is_not_held(engine, window, limit):
    """Not only a fully open valve can miss the curve: each row of power is compared with it."""
    s = Scenario(
        BOTTLE,
        fill="9 lb",
        start="88 degF",
        feed=Feed(Jets(1, "0.046 in")),
        engine=EngineSide(**engine),
    )
    held = hold_power(s, "50 hp", Pass("8 s", window=window))
    assert limit in held["limit"] and held["held_until"] is not None
    assert held["shortfall"] > 5.0 * HP and held.status == 3


def test_power_curves_that_make_no_sense():
    for wrong in ([(0, "5 hp"), (0, "6 hp")], [], "5 lb", [(0, 0.0)], [3]):
        with pytest.raises(InputError):
            power_course(wrong)
    assert power_course("10 hp") == ((0.0, pytest.approx(10 * HP)),)
    with pytest.raises(InputError, match="stages"):
        hold_power(scenario(**AT_900), "50 hp", Pass("5 s", stages=(Stage("main"),)))
    with pytest.raises(InputError, match="engine"):
        hold_power(scenario(engine=None), "50 hp")


def test_delivery_over_distance():
    track = [("0 s", "0 ft"), ("1.5 s", "60 ft"), ("4 s", "330 ft"), ("6 s", "660 ft")]
    found = over_distance([("0 ft", 0.3), ("60 ft", 0.3), ("195 ft", 1.0)], track)
    assert [f for _, f in found] == [0.3, 0.3, 1.0]
    assert [t for t, _ in found] == pytest.approx([0.0, 1.5, 2.75])
    with pytest.raises(InputError, match="distance"):
        over_distance([("700 ft", 1.0)], track)


def test_written_course_stays_within_its_tolerance():
    t = np.linspace(0.0, 5.0, 101)
    y = 0.5 + 0.3 * np.sin(t)
    corners = written_course(t, y, 1e-2)
    back = np.interp(t, *np.array(corners).T)
    assert np.abs(back - y).max() <= 1e-2 and len(corners) < 15


# --- plus or minus -------------------------------------------------------------------------------
def test_headline_figures_with_plus_minus():
    """The further end of each tolerance, run by hand, added in quadrature (JCGM 100:2008)."""
    s = scenario(**AT_900).replace(schedule=[Pass("8 s")])
    found = headline(s, {"fill": "0.2 lb"})
    key = "pass0.power_mean_W"
    ends = [s.replace(fill=(10 + d) * LB).run().get(key) for d in (-0.2, 0.2)]
    middle = s.run().get(key)
    assert found[key].value == pytest.approx(middle, rel=1e-12)
    assert found[key].plus_minus == pytest.approx(max(abs(e - middle) for e in ends), rel=1e-6)


def test_gauge_error_moves_the_launch_by_as_much():
    """A gauge (switch) that is 10 psi out: launch pressure +- 10 psi."""
    s = scenario(start="75 degF").replace(schedule=[Hold("60 min", until_open=True), Pass("5 s")])
    found = headline(s, {"switch.offset": "10 psi"})["pass0.start_pressure_gauge_Pa"]
    assert found.plus_minus == pytest.approx(10 * PSI, rel=0.02)


def test_start_error_is_the_gauge_error_in_kelvin():
    """dT = dp / (dp/dT along saturation), CoolProp, 80 degF and 8 lb."""
    s = scenario(fill="8 lb", start="80 degF", heater=None, switch=None)
    T = s.start
    slope = (
        CP.PropsSI("P", "T", T + 0.01, "Q", 0, "NitrousOxide")
        - CP.PropsSI("P", "T", T - 0.01, "Q", 0, "NitrousOxide")
    ) / 0.02
    assert start_error(s, "10 psi") == pytest.approx(10 * PSI / slope, rel=1e-3)


def test_held_power_counts_what_all_bottles_gave():
    """It said what the first one gave, which is negative where the second fills it."""
    first, second = (
        FittedBottle(BOTTLE, "7 lb", start, name)
        for start, name in (("80 degF", "first"), ("88 degF", "second"))
    )
    car = Scenario([first, second], feed=LINE, engine=ENGINE, ambient=Ambient("80 degF"))
    held = hold_power(car, "45 hp", Pass("8 s"))
    assert held["used"] == pytest.approx(sum(p.used for p in held.run.passes), rel=1e-6)
    assert held["used"] != pytest.approx(held.run.passes[0].used, rel=0.1)


def test_a_charge_above_the_refill_mark_is_not_told_to_be_refilled():
    """9.8 lb are liquid-full at 950 psig: nothing lighter gets that flow by any pressure."""
    full = scenario(fill="9.8 lb")
    table = correction_table(full, "950 psig", ["9.8 lb", "6 lb", "5 lb"])
    for row in table.rows[1:]:
        assert row["charge"] > table["refill_below"] and row["setting"] is None
        assert row["verdict"] == "jets only" and 1.0 < row["jet_factor"] < 1.05


# --- a bottle that draws vapour -------------------------------------------------------------------
def test_tables_of_a_vapour_bottle_are_of_its_vapour() -> None:
    """They were of its liquid: 9.5 lb/min and 140 hp where the pass has 5.7 and 85."""
    gas = scenario(mounting=Mounting(draw="vapour", standing=True), schedule=[TEN])
    table = pressure_error_table(gas, "900 psig", ["-100 psi", "0 psi", "60 psi"])
    drawn = at_rest(gas, 1.0, 900 * PSI, TEN)
    run = simulate(drawn)
    flow = table.get("flow", "lb/min")
    assert flow[1] == pytest.approx(run.get("pass0.flow_start", "lb/min"), rel=0.01)
    assert table["power"] == pytest.approx(run.engine["power_W"][1], rel=0.02)
    assert table.get("density", "kg/m3")[1] < 300.0
    assert (np.diff(flow) > 0.0).all()  # gas: more pressure is more flow
    light = correction_table(gas, "900 psig", charges=["10 lb", "6 lb"])
    assert light["flow"] == pytest.approx(flow[1] * LB / 60.0, rel=1e-6)
    assert abs(light.get("flow_change", "%")[1]) < 1.0


def test_a_vapour_bottle_below_its_band_is_said_to_pass_less() -> None:
    gas = scenario(mounting=Mounting(draw="vapour", standing=True), schedule=[TEN], start="70 degF")
    low, high = simulate(gas), simulate(gas.replace(start="86 degF"))
    assert low.passes[0].flow_start < 0.9 * high.passes[0].flow_start
    (f,) = (f for f in low.findings if f.code == "launch-below-band")
    assert "less flow than in it, and richer" in f.message


def test_a_power_that_cannot_be_had_from_the_start_is_listed_as_wanted():
    """Where the fuel falls short at once, the first row said that it had been wanted so."""
    weak = scenario(engine=dataclasses.replace(ENGINE, fuel_jets=Jets(1, "0.018 in")))
    held = hold_power(weak, "100 hp")
    assert held.status == 3 and held["shortfall"] > 10.0 * HP
    first, last = held.rows[0], held.rows[-1]
    assert first["power"] < 90.0 * HP
    assert first["wanted"] == last["wanted"] == pytest.approx(100.0 * HP)
    late = hold_power(scenario(schedule=[Hold("90 min"), Pass("10 s", delay="1 s")]), "50 hp")
    assert late.rows[0]["wanted"] == 0.0 and late.rows[-1]["wanted"] == pytest.approx(50.0 * HP)


def test_of_the_rounds_of_a_repeat_the_first_is_steered():
    """They are one and the same item: the delivery was written into the last of them."""
    rounds = [Hold("60 min", until_open=True), TEN] * 3
    held = hold_power(scenario(schedule=rounds), "60 hp")
    given = [x.delivery is not None for x in held.scenario.schedule if isinstance(x, Pass)]
    assert given == [True, False, False]
    first, *others = held.run.engine.passes
    assert first.power.mean == pytest.approx(60.0 * HP, rel=0.01)
    assert all(p.power.mean > 80.0 * HP for p in others)
    added = hold_power(scenario(schedule=rounds), "60 hp", TEN)
    assert [x.delivery is not None for x in added.scenario.schedule[1::2]] == [False, False, False]
    assert added.scenario.schedule[-1].delivery is not None
