"""Remedies that a tuner's own files missed: of what was plainly to be done nothing was said."""

import dataclasses

from hazards import BAND, engine, passed

import n2osim as n2
from n2osim.units import PSI, to_degF

COLD = dict(fill="9 lb", start="60 degF", heater=n2.Heater("200 W"), switch=BAND)


def test_fuel_jets_far_too_large_come_down_to_inside_both_bounds() -> None:
    """In steps of an eighth they stopped outside the one, or passed by the other."""
    measured = n2.Feed(n2.Jets(1, "0.046 in", cd=0.8, cd_spread=0.03))
    run = n2.simulate(passed(feed=measured, engine=engine(fuel_jets=n2.Jets(1, "0.0275 in"))))
    (best, *_) = n2.remedies(run).of("rich")
    assert "smaller fuel jets" in best.words and best.clears
    after = {f.code for f in n2.simulate(best.scenario).findings}
    assert not after & {"rich", "lean", "may-be-lean"}


def test_the_sun_is_kept_off_though_the_heater_must_work_then() -> None:
    """It was "harm elsewhere" that a bottle in the shade needs its heater, up to the cut-out."""
    car = n2.Scenario(
        n2.Bottle.preset("carbon-polymer", "15 lb"),
        fill="15 lb",
        start="95 degF",
        ambient=n2.Ambient("103 degF", sun="900 W/m2"),
        heater=n2.Heater("900 W", cut_out=n2.CutOut("180 degF", "160 degF")),
        switch=n2.PressureSwitch("1020 psig", "1100 psig"),
        feed=n2.Feed(n2.Jets(1, "0.073 in")),
        schedule=[
            *(n2.Hold("45 min"), n2.Pass("6 s"), n2.Rest("15 min")),
            *(n2.Hold("20 min"), n2.Pass("6 s")),
        ],
    )
    (best, *_) = n2.remedies(n2.simulate(car)).of("launch-above-band")
    assert best.words == "keep the sun off the bottle" and best.after < best.before
    assert "; but then warning cut-out-cycling" in best.text()


def test_a_switch_that_reads_low_is_set_right() -> None:
    """60 psi low, it was answered with less power and a lower band alone."""
    low = dataclasses.replace(BAND, offset=-60.0 * PSI)
    schedule = [n2.Hold("60 min"), n2.Pass("8 s")]
    run = n2.simulate(passed(**(COLD | {"switch": low, "fill": "9.8 lb"}), schedule=schedule))
    true = next(r for r in n2.remedies(run).of("overshoot") if "gauge" in r.words)
    assert true.scenario.bottles[0].switch.offset == 0.0 and true.after < true.before


def test_a_switch_that_failed_is_replaced_against_what_the_window_holds_back() -> None:
    stuck = dataclasses.replace(BAND, fault="stuck open")
    schedule = [n2.Hold("60 min"), n2.Pass("8 s", window=("800 psig", "1000 psig"))]
    run = n2.simulate(passed(**(COLD | {"switch": stuck}), schedule=schedule))
    (best, *_) = n2.remedies(run).of("flow-inhibited")
    assert "replace the relay and switch" in best.words and best.clears


def test_two_lines_with_the_same_numbers_are_told_apart() -> None:
    lines = {
        n: n2.Feed(n2.Jets(1, "0.04 in"), line=n2.FeedLine.from_dash(4, "12 ft")) for n in "ab"
    }
    stages = [n2.Stage("a"), n2.Stage("b")]
    text = n2.remedies(n2.simulate(passed(feeds=lines, schedule=[n2.Pass("5 s", stages=stages)])))
    assert 'trapped-liquid "a" (' in str(text) and 'trapped-liquid "b" (' in str(text)


def test_a_band_just_below_the_relief_device_is_lowered_with_the_peak() -> None:
    """It opened 5 psi under where the disc may go, and ran on: nothing helped, it was said."""
    bottle = n2.Bottle.preset("carbon-aluminium", "10 lb", relief_pressure="1250 psig")
    near = n2.PressureSwitch("1100 psig", "1120 psig", lag="8 s")
    car = n2.Scenario(
        bottle,
        fill="6 lb",
        start="80 degF",
        heater=n2.Heater("500 W"),
        switch=near,
        schedule=[n2.Hold("40 min")],
    )
    run = n2.simulate(car)
    (best, *_) = n2.remedies(run).of("relief-margin")
    assert best.words.startswith("lower the band to") and best.clears
    assert n2.simulate(best.scenario)["pressure_gauge_Pa"].max() < 1125.0 * PSI


def test_a_cut_out_that_keeps_the_bottle_cold_is_set_higher_below_the_shells_limit() -> None:
    low = n2.Heater("500 W", coverage="25 %", cut_out=n2.CutOut("105 degF", "100 degF"))
    shell = n2.Bottle.preset("carbon-polymer", "10 lb")
    frost = n2.Ambient("-5 degF", air_speed="12 mph")
    cold = dict(fill="9 lb", start="-5 degF", ambient=frost, heater=low, switch=BAND)
    run = n2.simulate(n2.Scenario(shell, **cold, schedule=[n2.Hold("90 min")]))
    found = n2.remedies(run).of("power-below-loss")
    (higher,) = (r for r in found if "surface cut-out" in r.words)
    opens = higher.scenario.bottles[0].heater.cut_out.opens
    assert higher.after > higher.before and to_degF(opens) > 105.0
    assert opens < shell.max_wall_temperature


def test_a_bottle_without_a_switch_has_no_band_to_launch_below() -> None:
    """A pass in the shade "begins below its band", of a bottle that nothing heats."""
    sun = n2.Ambient("90 degF", sun="1000 W/m2")
    schedule = [n2.Hold("3 h"), n2.Pass("5 s")]
    run = n2.simulate(passed(fill="10 lb", start="100 degF", ambient=sun, schedule=schedule))
    (best, *_) = n2.remedies(run).of("over-service-pressure")
    assert "sun" in best.words and "but then a pass begins with less pressure" in best.text()
    assert "below its band" not in best.text()
