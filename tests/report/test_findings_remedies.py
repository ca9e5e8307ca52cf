"""Remedies that must point the right way: which side of the window, gas or liquid, what restricts.

Following the remedy of a rich pass that only lacked liquid would run the next full bottle too lean,
and heating a bottle that stands above its window would make it worse: these are safety tests.
"""

import csv
import dataclasses
import math
from pathlib import Path

import pytest
from report_runs import run

import n2osim as n2
from n2osim import fluid
from n2osim.results.findings import Finding
from n2osim.results.limits import find
from n2osim.results.rules_feed import bottleneck
from n2osim.units import PSI

ENGINE = n2.EngineSide(fuel_jets=n2.Jets(1, "0.021 in"), fuel_pressure="43 psig")
DATA = Path(__file__).parents[1] / "data"
FEED = n2.Feed(n2.Jets(1, "0.046 in"))


def shot(**changes) -> n2.Run:
    """One 10 s pass with fixed fuel jets that suit 9 lb at 88 degF."""
    given = (
        dict(feed=FEED, engine=ENGINE, fill="9 lb", start="88 degF", schedule=[n2.Pass("10 s")])
        | changes
    )
    return run(**given)


def coded(result: n2.Run, code: str) -> list[Finding]:
    return [f for f in find(result) if f.code == code]


# --- the arming window ------------------------------------------------------------------------
def test_over_the_window_is_never_told_to_heat() -> None:
    result = shot(start="97 degF", schedule=[n2.Pass("10 s", window=["800 psig", "1000 psig"])])
    (f,) = coded(result, "flow-inhibited")
    assert "above" in f.message and f.value > f.limit == pytest.approx(1000 * PSI)
    assert "more heat" not in f.remedy and "heater off" in f.remedy
    assert "10 s" in f.message


def test_under_the_window_is_told_to_heat() -> None:
    result = shot(start="84.5 degF", schedule=[n2.Pass("10 s", window=["900 psig", "1000 psig"])])
    (f,) = coded(result, "flow-inhibited")
    assert "below" in f.message and f.value < f.limit == pytest.approx(900 * PSI)
    assert f.cause == "cold bottle" and "vent" not in f.remedy
    # saturation at 84.5 degF, less the air: the gauge reads that at launch
    assert f.value == pytest.approx(float(fluid.saturation(302.317).p) - 101325, rel=2e-3)


def test_time_held_shut_does_not_count_the_delay() -> None:
    window = ["800 psig", "1000 psig"]
    (f,) = coded(
        shot(start="97 degF", schedule=[n2.Pass("10 s", delay="4 s", window=window)]),
        "flow-inhibited",
    )
    assert "held back for 6 s" in f.message
    course = [["0 s", 0.0], ["3 s", 0.0], ["3 s", 1.0]]
    (f,) = coded(
        shot(start="97 degF", schedule=[n2.Pass("10 s", delivery=course, window=window)]),
        "flow-inhibited",
    )
    assert "held back for 7 s" in f.message


# --- gas instead of liquid ----------------------------------------------------------------------
def test_gas_is_not_answered_with_smaller_fuel_jets() -> None:
    for result in (
        shot(fill="1 lb"),
        shot(fill="3.6 lb", start="80 degF", schedule=[n2.Pass("30 s")]),
    ):
        rich = coded(result, "rich")
        assert rich and all(f.cause == "charge" for f in rich)
        assert all("leave the fuel jets alone" in f.remedy for f in rich)
        assert not any(f.remedy.startswith("smaller fuel jets") for f in rich)
    (out,) = coded(result, "liquid-out")
    assert "leave the fuel jets alone" in out.remedy


def test_rich_on_liquid_is_still_answered_with_the_jets() -> None:
    big = dataclasses.replace(ENGINE, fuel_jets=n2.Jets(1, "0.026 in"))
    result = shot(engine=big)
    (f,) = coded(result, "rich")
    assert f.cause == "fuel"
    # The oxygen of the N2O sets the power: what it cannot burn is wasted, not power left behind.
    assert "fuel is wasted" in f.message and "no power is gained" in f.message
    power = [r.engine.passes[0].power.mean for r in (result, shot())]
    assert power[0] == pytest.approx(power[1], rel=1e-9)


def test_rich_before_and_after_liquid_out_are_told_apart() -> None:
    big = dataclasses.replace(ENGINE, fuel_jets=n2.Jets(1, "0.026 in"))
    result = shot(engine=big, fill="3.6 lb", start="80 degF", schedule=[n2.Pass("30 s")])
    liquid, gas = coded(result, "rich")
    assert (liquid.cause, gas.cause) == ("fuel", "charge")
    assert "leave the fuel jets alone" in gas.remedy and "leave" not in liquid.remedy
    assert liquid.time < gas.time and liquid.value < gas.value


def test_a_cold_bottle_is_answered_with_its_band() -> None:
    suits = dataclasses.replace(ENGINE, fuel_jets=n2.Jets(1, "0.022 in"))
    assert not coded(shot(engine=suits), "rich")
    result = shot(
        engine=suits,
        feed=n2.Feed(n2.Jets(1, "0.046 in", length="0.6 in")),  # long: less flow from a cold bottle
        start="20 degF",
        heater=n2.Heater("300 W"),
        switch=n2.PressureSwitch("900 psig", "950 psig"),
    )
    (f,) = coded(result, "rich")
    assert "band" in f.remedy and "leave the fuel jets alone" in f.remedy


def test_vapour_by_mounting_is_not_answered_with_the_jets() -> None:
    (f,) = coded(shot(mounting=n2.Mounting(draw="vapour")), "rich")
    assert f.cause == "pick-up" and "too lean for liquid" in f.remedy


def test_no_liquid_at_launch() -> None:
    (f,) = coded(shot(fill="1 lb"), "no-liquid-at-launch")
    assert "only gas" in f.message and f.time == pytest.approx(0.0, abs=0.01)
    # a delayed launch: the time is that of the first flow, and it is not "liquid runs out"
    late = shot(fill="3 lb", start="95 degF", schedule=[n2.Pass("10 s", delay="0.8 s")])
    (f,) = coded(late, "no-liquid-at-launch")
    assert 0.8 <= f.time <= 0.95
    assert not coded(late, "liquid-out")
    assert not coded(shot(), "no-liquid-at-launch")


def test_liquid_out_of_reach_is_said_so() -> None:
    front = n2.Mounting(pickup_along=0.05, acceleration="1.5 g")
    (f,) = coded(shot(fill="4 lb", start="75 degF", mounting=front), "no-liquid-at-launch")
    assert "does not reach" in f.message and f.cause == "pick-up"
    # the last drop on the bottom of a level bottle: a matter of charge, not of the pick-up
    (f,) = coded(shot(fill="3.01 lb", start="80 degF"), "no-liquid-at-launch")
    assert "next to no liquid" in f.message and f.cause == "charge"


# --- the bottleneck -----------------------------------------------------------------------------
def test_small_solenoid_is_named() -> None:
    small = n2.Feed(n2.Jets(1, "0.044 in"), valve=n2.Valve(bore="0.040 in"))
    result = shot(feed=small, engine=dataclasses.replace(ENGINE, fuel_jets=n2.Jets(1, "0.0205 in")))
    (f,) = coded(result, "flow-restricted")
    assert "solenoid valve" in f.message and f.severity == "warning"
    # what the run itself passes, against the same run without the valve
    alone = shot(feed=n2.Feed(n2.Jets(1, "0.044 in")))
    lost = 1.0 - result.passes[0].flow_start / alone.passes[0].flow_start
    assert f.value == pytest.approx(lost, abs=0.01)
    (rich,) = coded(result, "rich")
    assert "mend that first" in rich.remedy and not rich.remedy.startswith("smaller")


def test_incompressible_bottleneck_by_hand() -> None:
    # two orifices in series, no flashing between: 1/A^2 adds up, so the jets pass
    # A_valve / sqrt(A_valve^2 + A_jets^2) of their own flow (Bernoulli)
    feed = n2.Feed(n2.Jets.effective(1e-6), valve=n2.Valve(area=2e-6, cd=1.0), model="spi")
    liquid = fluid.state(270.0, 1000.0)  # compressed: stays liquid
    b = bottleneck(feed, 270.0, 1000.0, float(liquid.p) - 2e6)
    assert b is not None and b.part == "valve" and not b.chokes
    assert 1.0 - b.loss == pytest.approx(2.0 / math.sqrt(5.0), rel=0.01)


def test_choking_ahead_of_the_jets_is_said_so() -> None:
    small = n2.Feed(n2.Jets(4, "0.046 in"), bottle_valve=n2.Valve(bore="0.06 in"))
    (f,) = coded(shot(feed=small, engine=None), "flow-restricted")
    assert "chokes in the bottle valve" in f.message and f.severity == "warning"


def test_roomy_feeds_are_not_remarked_on() -> None:
    roomy = n2.Feed(
        n2.Jets(1, "0.046 in"),
        line=n2.FeedLine.from_dash(6, "4 ft"),
        valve=n2.Valve(bore="0.25 in"),
    )
    assert not coded(shot(feed=roomy), "flow-restricted")
    assert not coded(shot(), "flow-restricted")


def test_prescribed_outflow_has_no_bottleneck() -> None:
    small = n2.Feed(n2.Jets(4, "0.046 in"), valve=n2.Valve(bore="0.06 in"))
    assert not coded(
        shot(feed=small, schedule=[n2.Pass("2 s", outflow="0.1 lb/s")]), "flow-restricted"
    )


# --- bottles that stand apart -----------------------------------------------------------------
def two(right: str, **changes) -> n2.Run:
    bottle = n2.Bottle.preset("aluminium", "10 lb")
    fitted = [
        n2.FittedBottle(bottle, "8 lb", "88 degF", name="left"),
        n2.FittedBottle(bottle, "8 lb", right, name="right"),
    ]
    given = dict(feed=FEED, ambient=n2.Ambient("70 degF"), schedule=[n2.Pass("5 s")]) | changes
    return n2.simulate(n2.Scenario(fitted, **given))


def test_unequal_bottles_and_crossflow() -> None:
    result = two("70 degF")
    (f,) = coded(result, "bottles-unequal")
    gauge = result["pressure_gauge_Pa"][:, 0]
    assert f.value == pytest.approx(gauge[0] - gauge[1])
    taken = result["mass_kg"][1, -1] - result["mass_kg"][1, 0]
    assert '"left"' in f.message and taken > 0.0
    assert f"({taken:.3f} kg)" in f.message
    assert not coded(two("87 degF"), "bottles-unequal")
    shut = two("70 degF", schedule=[n2.Pass("5 s", window=["1000 psig", "1100 psig"])])
    assert not coded(shut, "bottles-unequal")  # never opened onto each other


@pytest.mark.parametrize("right, severity", [("70 degF", "warning"), ("50 degF", "danger")])
def test_bottles_hundreds_of_psi_apart_are_a_danger_that_names_what_happens(right, severity):
    (f,) = coded(two(right), "bottles-unequal")
    assert (f.value > 300.0 * PSI) == (severity == "danger") and f.severity == severity
    assert "one fills the other and can overfill it" in f.message and "weigh both" in f.remedy


def test_window_of_several_bottles_reads_the_first_gauge_only() -> None:
    result = two("87 degF", schedule=[n2.Pass("2 s", window=["500 psig", "1200 psig"])])
    (f,) = coded(result, "window-one-gauge")
    assert '"left"' in f.message


# --- the data behind the orifice model -----------------------------------------------------------
def test_flow_beyond_the_data_is_said_once() -> None:
    twice = shot(schedule=[n2.Pass("2 s"), n2.Rest("1 min"), n2.Pass("2 s")])
    (f,) = coded(twice, "flow-beyond-data")
    assert f.severity == "note" and f.count == 1
    assert f.value == pytest.approx(twice["fluid_temperature_K"][0, 0].max())
    # the data's own temperatures (tests/data/n2o_orifice_waxman2013_injector3.csv, T1_K)
    lines = (DATA / "n2o_orifice_waxman2013_injector3.csv").read_text("utf-8").splitlines()
    rows = csv.DictReader(x for x in lines if not x.startswith("#"))
    T = [float(row["T1_K"]) for row in rows]
    assert max(T) == pytest.approx(f.limit, abs=0.1)
    cold = shot(start=f"{sum(T) / len(T)} K", engine=None, schedule=[n2.Pass("2 s")])
    assert not coded(cold, "flow-beyond-data")
    prescribed = shot(engine=None, schedule=[n2.Pass("2 s", outflow="0.05 lb/s")])
    assert not coded(prescribed, "flow-beyond-data")


def test_a_window_that_shuts_on_the_sag_is_not_put_down_to_a_cold_bottle() -> None:
    window = ["900 psig", "1000 psig"]
    result = shot(start="87 degF", schedule=[n2.Pass("10 s", window=window)])
    assert result.passes[0].start_pressure > 905 * PSI
    (f,) = coded(result, "flow-inhibited")
    assert "below" in f.message and f.cause == "schedule"
    assert "below what the pressure sags to" in f.remedy


def test_gas_from_a_vapour_bottle_beside_a_liquid_one_is_put_down_to_its_mounting() -> None:
    both = [
        n2.FittedBottle(n2.Bottle.preset("aluminium", "10 lb"), fill="10 lb", start="86 degF"),
        n2.FittedBottle(
            n2.Bottle.preset("steel", "10 lb"),
            fill="6 lb",
            start="88 degF",
            name="gas",
            mounting=n2.Mounting(draw="vapour"),
        ),
    ]
    car = n2.Scenario(both, feed=FEED, engine=ENGINE, schedule=[n2.Pass("6 s")])
    found = coded(n2.simulate(car), "rich")
    assert "pick-up" in {f.cause for f in found} and "charge" not in {f.cause for f in found}


def test_a_cable_that_heats_is_a_warning_and_mending_it_minds_the_fuse() -> None:
    """12.1 V through 0.15 ohm into 0.3456 ohm: 24.4 A, 89 W in the wiring; without it 35 A."""

    def wired(**supply) -> Finding:
        heater = n2.Heater("600 W", voltage="14.4 V")
        switch = n2.PressureSwitch("850 psig", "900 psig")
        given = n2.Supply("12.1 V", **supply)
        (f,) = coded(run(heater=heater, switch=switch, supply=given), "weak-supply")
        return f

    weak = wired(resistance="0.15 ohm", fuse="30 A")
    assert weak.severity == "warning" and "89 W of heat" in weak.message
    assert "draw up to 35 A, too much for the fuse" in weak.remedy
    assert "fuse" not in wired(resistance="0.15 ohm", fuse="50 A").remedy
    assert wired(resistance="0.05 ohm").severity == "note"
