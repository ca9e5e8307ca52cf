"""The search: edges, intervals, cases, spreads, lists, waivers, reasons; and matching."""

from __future__ import annotations

import pytest
from study_samples import base

import n2osim as n2
from n2osim.answers.fields import Knob
from n2osim.answers.heater import largest_power
from n2osim.answers.match import match
from n2osim.answers.optimize import design, optimize
from n2osim.answers.requirements import Hit, Requirement
from n2osim.errors import InputError, NoSolutionError, UnknownNameError
from n2osim.hardware import Bottle, EngineSide, Heater, Jets, PressureSwitch
from n2osim.results.run import simulate
from n2osim.scenario.fields import with_fields
from n2osim.scenario.scenario import FittedBottle, Scenario
from n2osim.scenario.schedule import Hold, Pass
from n2osim.units import PSI

WITHIN = "hold0.warm_up_time <= 30 min"
SHORT = base(schedule=[Hold("50 min")])


class Allowed:
    """Stands in for a requirement: allowed where a function of the charge says so."""

    name = "run.used_kg"

    def __init__(self, good):
        self.good = good

    def hits(self, run, numbers, case):
        x = run.scenario.fill
        return [] if self.good(x) else [Hit(case, "not", "", "it is not allowed", 1.0, False)]

    def undefined(self, run, numbers):
        return []


def charge(low=1.0, high=5.0, **how):
    return Knob("x", "charge", "mass", low, high, lambda s, x: with_fields(s, {"fill": x}), **how)


def asked(good, sense=1, **how):
    rest = base(schedule=[Hold(0.0)], heater=None, switch=None)
    return design(
        rest, [charge(**how)], "x", sense, question="x", subject_to=[Allowed(good)], nearest=False
    )


@pytest.mark.parametrize("edge", [1.37, 2.0, 4.91])
def test_an_edge_is_found_on_the_allowed_side(edge):
    up = asked(lambda x: x >= edge)
    assert edge <= up["x"] <= edge + 2e-3 * 4.0
    down = asked(lambda x: x <= edge, -1)
    assert edge - 2e-3 * 4.0 <= down["x"] <= edge
    assert up.decided_by == ("it is not allowed",)


def test_several_intervals_are_all_told():
    found = asked(lambda x: 1.5 <= x <= 2.2 or 3.1 <= x <= 4.0)
    assert found["x"] == pytest.approx(1.5, abs=8e-3) and len(found.intervals) == 2
    low, high = found.intervals[1]
    assert low == pytest.approx(3.1, abs=0.05) and high == pytest.approx(4.0, abs=0.05)
    assert "allowed" in found.text()


def test_the_end_of_the_range_is_called_so():
    assert "end of the range" in asked(lambda x: True).decided_by[0]
    found = asked(lambda x: x >= 2.5, values=(1.0, 2.0, 3.0, 5.0))
    assert found["x"] == 3.0


def test_nothing_fits():
    with pytest.raises(NoSolutionError, match="it is not allowed"):
        asked(lambda x: False)


def test_what_nobody_thought_of():
    """Coverage for a wall limit: one edge, confirmed by running both sides of it."""
    s = with_fields(SHORT, {"heater.power": "500 W", "bottle": "carbon-polymer"})
    keep = ["run.hottest_wall <= 150 degF", WITHIN]
    found = optimize(s, minimize="heater.coverage", subject_to=keep)
    hot = (150 + 459.67) / 1.8
    assert simulate(found.scenario).get("run.hottest_wall") <= hot
    less = with_fields(s, {"heater.coverage": found["heater.coverage"] - 4e-3})
    assert simulate(less).get("run.hottest_wall") > hot
    assert found.runs <= 80 and len(found.text().splitlines()) < 60


def test_one_requirement_may_be_a_text():
    only, listed = (
        optimize(SHORT, minimize="heater.power", subject_to=x) for x in (WITHIN, [WITHIN])
    )
    assert only.value == listed.value


def test_a_cold_night_sizes_and_a_hot_day_is_looked_at_too():
    cases = {
        "cold": {"start": "30 degF", "ambient.temperature": "30 degF"},
        "battery": {"supply.voltage": "12 V"},
    }
    alone = optimize(SHORT, minimize="heater.power", subject_to=[WITHIN])
    found = optimize(SHORT, minimize="heater.power", subject_to=[WITHIN], cases=cases)
    assert found["heater.power"] > 1.2 * alone["heater.power"]
    assert "(cold)" in found.decided_by[0]
    cold = with_fields(found.scenario, cases["cold"])
    assert simulate(cold).holds[0].warm_up_time <= 1800.0
    only = optimize(SHORT, minimize="heater.power", subject_to=[f"battery: {WITHIN}"], cases=cases)
    assert only["heater.power"] <= found["heater.power"]


def test_robust_over_a_spread():
    spread = {"ambient.air_speed": ("0 mph", "20 mph")}
    alone = optimize(SHORT, minimize="heater.power", subject_to=[WITHIN])
    found = optimize(SHORT, minimize="heater.power", subject_to=[WITHIN], spreads=spread)
    assert found["heater.power"] > alone["heater.power"]
    for wind in spread["ambient.air_speed"]:
        windy = with_fields(found.scenario, {"ambient.air_speed": wind})
        assert simulate(windy).holds[0].warm_up_time <= 1800.0


def test_every_end_of_every_spread_holds_however_many_rounds_that_takes():
    """After three rounds the ends left over were said to hold without having been looked at."""
    needed = {
        "start = 290": 2.0,
        "start = 291": 2.5,
        "ambient.air_speed = 1": 3.0,
        "ambient.air_speed = 2": 3.5,
    }

    class ByCase(Allowed):
        def hits(self, run, numbers, case):
            least = needed.get(case, 1.2)  # the end that asks for least seems worst
            missing = run.scenario.fill < least
            return [Hit(case, "not", "", "not allowed", 9.0 - least, False)] if missing else []

    rest = base(schedule=[Hold(0.0)], heater=None, switch=None)
    spreads = {"start": (290, 291), "ambient.air_speed": (1, 2)}
    found = design(rest, [charge()], "x", question="x", subject_to=[ByCase(None)], spreads=spreads)
    assert found["x"] == pytest.approx(3.5, abs=0.01) and found["x"] >= 3.5
    assert [n for n in found.notes if "holds also" in n] == [f"holds also with {c}" for c in needed]


def test_a_mistake_in_a_case_is_told_at_once():
    """A misspelt field made an answer that nothing could cure, which said that the end held."""
    for how in (
        {"cases": {"x": {"heater.pover": 3.0}}},
        {"spreads": {"heater.pover": (1.0, 2.0)}},
        {"cases": {"x": {"supply.voltage": "3 psi"}}},
    ):
        with pytest.raises(InputError, match=r"heater\.pover|voltage"):
            optimize(SHORT, minimize="heater.power", subject_to=[WITHIN], **how)
    bad = {"fill": ("much", "11 lb")}
    found = optimize(SHORT, minimize="heater.power", subject_to=[WITHIN], spreads=bad)
    assert found.status == 3 and "holds also with fill = much" not in found.notes
    with pytest.raises(InputError, match="resolution"):
        optimize(SHORT, minimize="heater.power", subject_to=[WITHIN], resolution="fine")


def test_every_field_takes_its_own_units():
    """Fields beside twenty known ones took plain numbers only."""
    car = SHORT.replace(schedule=[Hold("50 min"), Pass("9 s")])
    over = {"mounting.tilt": ("0 deg", "20 deg")}
    found = optimize(car, maximize="pass0.used", over=over)
    assert 0.0 <= found["mounting.tilt"] <= 0.35 and "deg" in found.text()
    with pytest.raises(InputError, match="angle"):
        optimize(car, maximize="pass0.used", over={"mounting.tilt": ("0 lb", "20 lb")})
    filled = optimize(car, minimize="fill", over={"fill": ("8 lb", "9 lb", "10 lb")})
    assert filled.get("fill", "lb") == pytest.approx(8.0)


def test_questions_about_nothing_are_refused():
    car = SHORT.replace(engine=EngineSide(), schedule=[Hold("50 min"), Pass("9 s")])
    for ask in (
        lambda: n2.warm_up_table(car, []),
        lambda: n2.compare_shells(car, []),
        lambda: n2.size_jets(car, "60 hp", sizes=[]),
        lambda: n2.inside_sensitivity(car, []),
        lambda: n2.sweep(car, 3),
        lambda: match(car, {"pass0.used": "0.8 lb"}, {"switch.offset": ["-5 psi", "5 psi"]}),
    ):
        with pytest.raises(InputError):
            ask()


def test_dangers_hold_without_being_asked_unless_waived():
    """With 900 W the polymer wall would be too hot: nobody asked, it holds all the same."""
    hot = with_fields(SHORT, {"bottle": "carbon-polymer", "heater.coverage": 0.2})
    found = optimize(hot, maximize="heater.power", over={"heater.power": ("50 W", "2 kW")})
    assert not any(f.severity == "danger" for f in found.findings)
    free = optimize(
        hot,
        maximize="heater.power",
        over={"heater.power": ("50 W", "2 kW")},
        waive=[f.code for f in found.findings] + ["layer-too-hot", "over-125-degF"],
    )
    assert free["heater.power"] >= found["heater.power"]


def test_tied_fields_move_together():
    b, switch = Bottle.preset(), PressureSwitch("850 psig", "900 psig")
    pair = Scenario(
        [
            FittedBottle(b, "9 lb", "60 degF", name="left", heater=Heater("200 W"), switch=switch),
            FittedBottle(
                b, "9 lb", "60 degF", name="right", heater=Heater("200 W"), follows="left"
            ),
        ],
        [Hold("1 h")],
    )
    found = optimize(pair, minimize="heater.power", subject_to=["hold0.warm_up_time <= 40 min"])
    powers = {b.heater.power for b in found.scenario.bottles}
    assert powers == {found["heater.power"]}


def test_an_engine_quantity_is_looked_for_though_none_is_bounded():
    """It was not computed, every value was as good as the next, and it was not printed."""
    s = base(
        schedule=[Pass("4 s")],
        engine=EngineSide(fuel_jets=Jets(1, "0.03 in"), fuel_pressure="43 psig"),
    )
    found = optimize(s, maximize="pass0.power_mean", over={"start": ("50 degF", "80 degF")})
    ends = [with_fields(s, {"start": t}) for t in ("50 degF", "65 degF", "80 degF")]
    powers = [simulate(e).get("pass0.power_mean") for e in ends]
    assert found["pass0.power_mean_W"] >= max(powers) * (1.0 - 1e-3)
    assert found["pass0.power_mean_W"] == pytest.approx(found.run.get("pass0.power_mean"))


def test_two_fields_at_once():
    """The widest band, by the general way: it does not beat the named question."""
    from n2osim.answers.band import set_band

    s = base(schedule=[Hold("3 h")])
    named = set_band(s, "1000 psig", "1080 psig")
    found = optimize(
        s,
        maximize="switch.opens",
        over={
            "switch.opens": ("1050 psig", "1080 psig"),
            "switch.closes": ("1000 psig", "1040 psig"),
        },
        subject_to=[
            f"hold0.peak_after_open <= {1080 * PSI} Pa",
            f"hold0.lowest_after_open >= {1000 * PSI} Pa",
        ],
    )
    assert found["switch.opens"] <= named["opens"] + PSI
    run = simulate(found.scenario)
    assert run.get("hold0.peak_after_open", "psig") <= 1080.0


@pytest.mark.parametrize(
    ("how", "message"),
    [
        (dict(minimize="heater.powr"), "heater.power"),
        (dict(minimize="heater.power", maximize="heater.power"), "minimize or maximize"),
        (dict(minimize="heater.power", subject_to=["warm-up quick"]), "NAME <= VALUE"),
        (dict(minimize="heater.power", subject_to=["hold0.warm_up_tim <= 3 s"]), "did you mean"),
        (dict(minimize="fill"), "range of fill"),
        (dict(minimize="run.energy"), "over"),
        (dict(minimize="heater.power", subject_to=["hold0.warm_up_time <= 3 psi"]), "time"),
    ],
)
def test_mistakes(how, message):
    with pytest.raises((InputError, UnknownNameError), match=message):
        optimize(SHORT, **how)


def test_requirements_of_every_bottle_and_pattern():
    r = Requirement.of("cold night: pass*.pressure_sag <= 50 psi")
    assert r.case == "cold night" and r.bound == pytest.approx(50 * PSI) and r.sense == 1
    run = simulate(base(schedule=[Pass("5 s"), Pass("5 s")]))
    hits = list(Requirement.of("pass*.pressure_sag <= 0.1 psi").hits(run, run.numbers(), ""))
    assert len(hits) == 2


# --- match ---------------------------------------------------------------------------------------
def test_targets_are_met():
    found = match(SHORT, {"hold0.warm_up_time": "25 min"}, {"heater.power": None})
    assert simulate(found.scenario).holds[0].warm_up_time == pytest.approx(1500.0, rel=1e-3)
    listed = match(
        SHORT, {"hold0.warm_up_time": "25 min"}, {"heater.power": ["200 W", "350 W", "500 W"]}
    )
    assert listed["heater.power"] in (200.0, 350.0, 500.0)
    with pytest.raises(InputError, match="as many"):
        match(SHORT, {"hold0.warm_up_time": "25 min"}, {})


def test_what_else_is_allowed_is_said_in_its_direction():
    """The largest of 1.5 to 4 said "allowed up to 1.5 from there"."""
    down = asked(lambda x: 1.5 <= x <= 4.0, -1)
    assert down.then and down.then[0].startswith("allowed down to")
    up = asked(lambda x: 1.5 <= x <= 4.0)
    assert up.then and up.then[0].startswith("allowed up to")


def test_no_solution_is_said_where_the_nearest_run_lacks_what_was_bounded():
    """A switch that never opens has no overshoot: that was answered with "bound another one"."""
    stuck = with_fields(SHORT, {"switch.sensor": "line"})
    with pytest.raises(NoSolutionError) as caught:
        largest_power(stuck, overshoot="20 psi")
    assert caught.value.nearest is not None
    assert "sensor-in-line" in {f.code for f in caught.value.nearest.findings}


def test_fields_that_bound_each_other_are_put_in_together():
    """Points below the old closing point were refused before the new one was put in."""
    quick = base(schedule=[Hold("25 min")])
    found = optimize(
        quick,
        minimize="run.peak_pressure",
        over={"switch.opens": ("500 psig", "1100 psig"), "switch.closes": ("400 psig", "480 psig")},
    )
    assert quick.switch.closes > 900 * PSI
    assert found["switch.opens"] == pytest.approx(500 * PSI, abs=5 * PSI)


def test_a_better_point_that_edges_were_looked_for_at_is_not_forgotten():
    """The edge was found to 3.34 and the least of what rises with the charge given at 3.39."""
    looked = []

    def good(x):
        looked.append(x)
        return x >= 3.337

    still = base(schedule=[Hold(0.0)], heater=None, switch=None)
    found = design(
        still,
        [charge(3.0, 5.0)],
        "hold0.end_mass",
        1,
        question="x",
        subject_to=[Allowed(good)],
        nearest=False,
    )
    assert found["x"] <= min(x for x in looked if x >= 3.337) + 1e-9


def test_the_nearest_is_not_the_heater_that_never_gets_there():
    """A lean shot that only a warm bottle has stood against every power but the least, 1 W."""
    car = n2.Scenario(
        n2.Bottle.preset("carbon-aluminium", "10 lb"),
        fill="10 lb",
        start="72 degF",
        heater=n2.Heater("450 W", coverage=0.3),
        switch=n2.PressureSwitch("980 psig", "1000 psig", lag="5 s", offset="-20 psi"),
        feed=n2.Feed(
            n2.Jets(1, "0.093 in"),
            line=n2.FeedLine.from_dash(4, "16 ft", fittings_k=5.0),
            valve=n2.Valve("0.1 in"),
        ),
        engine=n2.EngineSide(
            fuel_jets=n2.Jets(1, "0.03 in"),
            fuel_pressure_course=[["0 s", "58 psig"], ["2 s", "50 psig"], ["8 s", "44 psig"]],
            boost_course=[["0 s", "2 psig"], ["2 s", "18 psig"]],
            base_air="40 lb/min",
            base_fuel="3.4 lb/min",
        ),
        schedule=[n2.Hold("30 min"), n2.Pass("8 s")],
    )
    with pytest.raises(NoSolutionError) as none:
        n2.largest_power(car, overshoot="20 psi")
    nearest = none.value.nearest
    assert nearest["heater.power"] > 10.0
    assert nearest.run.holds[0].warm_up_time is not None
