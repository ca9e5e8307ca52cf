"""Engine side in findings, summary, files and figures."""

import json

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
import pytest
from report_runs import evening, run, with_engine

import n2osim as n2
from n2osim.errors import ScenarioError
from n2osim.report import export
from n2osim.results.limits import find
from n2osim.scenario.file import loads


def codes(run) -> dict:
    return {f.code: f for f in find(run)}


def test_mixture_follows_the_square_root_of_fuel_pressure() -> None:
    # Bernoulli: fuel flow, and so the mixture at the same N2O flow, goes as sqrt(pressure)
    a, b = (with_engine(p).engine.passes[0].mixture.mean for p in ("20 psig", "80 psig"))
    assert b / a == pytest.approx(2.0, rel=0.02)


def test_lean_is_a_danger_and_rich_a_warning() -> None:
    lean, rich = codes(with_engine("15 psig")), codes(with_engine("120 psig"))
    assert lean["lean"].severity == "danger" and "rich" not in lean
    assert rich["rich"].severity == "warning" and "lean" not in rich
    f = lean["lean"]
    assert f.value < f.limit == pytest.approx(0.95 * 1.15)
    assert 60.0 <= f.time < 66.0 and '"run"' in f.message
    assert "breaks engines" in f.message and "no source" in f.source


def test_a_good_mixture_is_not_found_fault_with() -> None:
    run = with_engine("43 psig")
    mean = run.engine.passes[0].mixture.mean
    found = codes(run)
    if 1.10 < mean < 1.37:
        assert "lean" not in found and "rich" not in found
    else:
        pytest.fail(f"the fixture's mixture is {mean}: choose other jets")


def test_summary_prints_power_with_its_accounting() -> None:
    text = with_engine().summary()
    block = " ".join(text.split("ENGINE")[1].split())
    assert "decomposition heat not counted" in block and "at the crank" in block
    assert "brake efficiency 0.313 of the fuel that burns" in block
    one = with_engine().engine.passes[0]
    assert f"{one.power.mean / 745.6998715822702:.0f} " in block
    si = " ".join(with_engine().summary("si").split("ENGINE")[1].split())
    assert "kW" in si
    assert "ENGINE" not in evening().summary()


def test_files_carry_the_engine() -> None:
    data = json.loads(export.json_text(with_engine()))
    assert data["engine"]["passes"][0]["label"] == "run"
    assert data["engine"]["statement"]
    assert json.loads(export.json_text(evening()))["engine"] is None
    frame = with_engine().to_dataframe()
    assert np.array_equal(frame["engine_power_W"], with_engine().engine["power_W"])


def test_figure_of_the_pass_shows_mixture_and_power() -> None:
    axes = n2.plot.pass_(with_engine())
    labels = [a.get_ylabel() for a in axes.figure.axes]
    assert any("mixture" in x for x in labels) and any("power" in x for x in labels)
    assert len(n2.plot.pass_(evening()).figure.axes) == 3
    plt.close("all")


def test_unknown_fuel_is_caught_when_the_file_is_read() -> None:
    text = """\
schema = 1
[bottle]
preset = "steel"
capacity = "10 lb"
fill = "9 lb"
start = "70 degF"
[engine]
fuel = "petrl"
"""
    with pytest.raises(ScenarioError, match=r"line 8: engine\.fuel.*petrol"):
        loads(text, "x.toml")


# --- the whole engine, boost, air -----------------------------------------------------------
def boosted(base_scenario=(), **engine) -> n2.Run:
    """9 lb at 88 degF through one jet of 0.046 in, for 10 s."""
    given = dict(
        feed=n2.Feed(n2.Jets(1, "0.046 in")),
        fill="9 lb",
        start="88 degF",
        schedule=[n2.Pass("10 s")],
    ) | dict(base_scenario)
    side = dict(fuel_jets=n2.Jets(1, "0.0213 in"), fuel_pressure="43 psig") | engine
    return run(engine=n2.EngineSide(**side), **given)


LEAN_BASE = dict(base_air="30 lb/min", base_fuel="1.6 lb/min")


def test_a_lean_whole_engine_is_a_danger_though_the_shot_is_not() -> None:
    found = codes(boosted(**LEAN_BASE))
    assert "lean" not in found
    f = found["engine-lean"]
    # by hand: petrol as C8H15 takes 3.38 kg of oxygen a kg; air 23.14 % and N2O 36.35 % oxygen
    one = boosted(**LEAN_BASE).engine.passes[0]
    fuel = 1.6 + one.fuel.mean / 0.45359237 * 60
    oxygen = 0.2314 * 30.0 + 0.3635 * one.n2o.mean / 0.45359237 * 60
    assert f.value == pytest.approx(3.38 * fuel / oxygen, rel=0.02)
    assert f.severity == "danger" and f.limit == 1.0
    assert f"{3.38 * 1.6 / (0.2314 * 30.0):.2f}"[:3] in f.message
    assert "engine-lean" not in codes(boosted(base_air="30 lb/min", base_fuel="2.4 lb/min"))


def test_fuel_pressure_below_boost_is_refused() -> None:
    with pytest.raises(
        n2.errors.InputError, match=r"43\.0 psig' .*above the intake's 50\.0 psig"
    ) as told:
        boosted(intake_pressure="50 psig")
    assert "regulator" in told.value.remedy
    for fine in (dict(), dict(intake_pressure="50 psig", regulator_referenced=True)):
        assert "no-fuel" not in codes(boosted(**fine))


def test_a_referenced_regulator_that_holds_nothing_is_a_danger() -> None:
    none = dict(fuel_pressure="0 psig", regulator_referenced=True, intake_pressure="10 psig")
    f = codes(boosted(**none))["no-fuel"]
    assert f.severity == "danger" and f.limit is None and f.value == 0.0
    assert "larger fuel jets cannot help" in f.text()


def test_fuel_without_n2o_is_found() -> None:
    empty = dict(fill="0.1 lb", start="60 degF")
    found = codes(boosted(empty, intake_pressure="50 psig", regulator_referenced=True))
    f = found["no-n2o"]
    assert f.value < f.limit and "10.0 s" in f.message
    assert "no-n2o" not in codes(boosted())


def test_air_that_cannot_evaporate_the_shot_is_found() -> None:
    result = boosted(base_air="2 lb/min", base_fuel="0.14 lb/min")
    f = codes(result)["charge-not-evaporated"]
    assert f.value > f.limit
    text = result.summary()
    assert " nan" not in text.lower()
    one = result.engine.passes[0]
    assert one.charge_temperature is None and one.density_gain is None and one.air_gain is None
    assert "charge-not-evaporated" not in codes(boosted(**LEAN_BASE))


def test_summary_prints_what_the_engine_figures_rest_on() -> None:
    result = boosted(**LEAN_BASE, intake_pressure="10 psig")
    text = " ".join(result.summary(full=True).split())
    for words in (
        "jets blow into 10.0 psig",
        "30 lb/min of air and 1.6 lb/min of fuel",
        "Fuel jets 1 x 0.0213 in, Cd 0.8 (assumed), at 43.0 psig",
        "WHOLE ENGINE",
        "N2O:fuel",
    ):
        assert words in text
    one = result.engine.passes[0]
    assert one.air_gain is not None and f"{one.air_gain.mean:.3f}" in text
    assert f"{one.density_gain.mean:.3f}" in text and one.air_gain.mean < one.density_gain.mean
    assert f"{one.ratio.mean:.3g}" in text and f"{one.engine_mixture.mean:.3g}" in text
    # the room that N2O takes: air gain is density gain less the N2O's share of the mass
    air, n2o = 30.0, one.n2o.mean / 0.45359237 * 60
    share = air / (air + n2o)
    assert one.air_gain.mean == pytest.approx(one.density_gain.mean * share, rel=1e-3)
    assert "WHOLE ENGINE" not in boosted().summary(full=True)


def test_boost_that_builds_and_a_pump_that_sags_are_printed() -> None:
    courses = {
        "boost_course": [["0 s", "0 psig"], ["2 s", "20 psig"]],
        "fuel_pressure_course": [["0 s", "60 psig"], ["7 s", "48 psig"]],
    }
    text = " ".join(boosted(**courses).summary(full=True).split())
    assert "jets blow into 0.0 psig, 20.0 psig from 2 s on, the N2O jets into the first" in text
    assert "at 60.0 psig, 48.0 psig from 7 s on" in text


def test_parts_ahead_of_the_jets_are_printed_with_their_sizes() -> None:
    feed = n2.Feed(
        n2.Jets(1, "0.046 in"),
        line=n2.FeedLine.from_dash(6, "10 ft"),
        valve=n2.Valve(bore="0.1 in"),
        bottle_valve=n2.Valve(area="20 mm2"),
    )
    text = " ".join(boosted(dict(feed=feed)).summary(full=True).split())
    assert "line 10 ft x 0.344 in" in text and "solenoid valve 0.1 in (Cd 0.7 (assumed))" in text
    si = " ".join(boosted(dict(feed=feed)).summary("si", full=True).split())
    assert "line 3.05 m x 8.738 mm" in si and "bottle valve 20 mm2" in si


# --- the arming window -----------------------------------------------------------------------
def test_time_held_shut_and_time_flowing_are_printed() -> None:
    item = n2.Pass("10 s", window=["910 psig", "1000 psig"])
    result = boosted(dict(start="87.05 degF", schedule=[n2.Hold("1 s"), item]))
    shut = next(e.time for e in result.events if e.name == "flow inhibited")
    text = " ".join(result.summary(full=True).split())
    assert "HELD SHUT" in text.upper()
    assert f"flow is held back for {11.0 - shut:.3g} s of pass 2" in text
    block = next(
        x for x in result.summary(full=True).split("\nENGINE  ")[1].splitlines() if "2 pass" in x
    )
    assert float(block.split()[2]) == pytest.approx(shut - 1.0, abs=0.01)
    assert "held shut" not in boosted().summary(full=True)
