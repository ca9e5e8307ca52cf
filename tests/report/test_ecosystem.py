"""Results in other people's tools: data frames, notebooks, pickles, copies, replaced parts."""

import copy
import dataclasses
import pickle

import numpy as np
import pytest
from report_runs import evening, scenario

import n2osim as n2
from n2osim.answers.compare import compare_shells
from n2osim.errors import InputError
from n2osim.studies.sweeps import sweep


def study():
    return sweep(scenario(), {"fill": ["6 lb", "8 lb"]}, workers=1, title="<b>two</b>")


def shells():
    car = evening().scenario.replace(schedule=[n2.Pass("5 s")])
    return compare_shells(car, ["aluminium", "steel"], hold="10 min")


HARDWARE = {
    "bottle": n2.Bottle.preset("carbon-polymer", "12 lb"),
    "heater": n2.Heater("300 W"),
    "switch": n2.PressureSwitch("900 psig", "950 psig"),
    "jets": n2.Jets(4, "0.03 in"),
    "feed": n2.Feed(n2.Jets(1, "0.06 in")),
    "ambient": n2.Ambient("70 degF"),
    "supply": n2.Supply("14 V"),
    "engine": n2.EngineSide(),
}


@pytest.mark.parametrize("name", HARDWARE)
@pytest.mark.parametrize("way", [copy.copy, copy.deepcopy, lambda x: pickle.loads(pickle.dumps(x))])
def test_hardware_copies_are_equal_and_hash_alike(name: str, way) -> None:
    part = HARDWARE[name]
    other = way(part)
    assert other == part and type(other) is type(part)
    assert hash(other) == hash(part)


@pytest.mark.parametrize("name", HARDWARE)
def test_hardware_cannot_be_changed_in_place(name: str) -> None:
    part = HARDWARE[name]
    field = dataclasses.fields(part)[0].name
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(part, field, 1.0)


def test_replaced_parts_are_parsed_and_checked_again() -> None:
    switch = dataclasses.replace(HARDWARE["switch"], opens="1000 psig")
    assert switch.opens == pytest.approx(1000.0 * 6894.757293168361)
    assert HARDWARE["switch"].opens == pytest.approx(950.0 * 6894.757293168361)
    with pytest.raises(InputError):
        dataclasses.replace(HARDWARE["switch"], opens="100 psig")
    with pytest.raises(InputError):
        dataclasses.replace(HARDWARE["heater"], coverage=2.0)
    assert dataclasses.replace(HARDWARE["jets"], count=2).area == pytest.approx(
        0.5 * HARDWARE["jets"].area
    )


def test_scenarios_and_runs_survive_pickling_and_copying() -> None:
    run = evening()
    for other in (pickle.loads(pickle.dumps(run)), copy.deepcopy(run)):
        assert other.scenario == run.scenario and other.events == run.events
        np.testing.assert_array_equal(other["pressure_gauge_Pa"], run["pressure_gauge_Pa"])
        assert other.summary() == run.summary()


def test_a_run_again_from_its_pickle_is_the_same_run() -> None:
    again = n2.simulate(pickle.loads(pickle.dumps(evening().scenario)))
    np.testing.assert_array_equal(again["pressure_gauge_Pa"], evening()["pressure_gauge_Pa"])


@pytest.mark.parametrize("make", [study, shells])
def test_study_results_survive_pickling_and_copying(make) -> None:
    found = make()
    for other in (pickle.loads(pickle.dumps(found)), copy.deepcopy(found)):
        assert str(other) == str(found) or repr(other) == repr(found)
        assert other._repr_html_() == found._repr_html_()


def test_data_frames() -> None:
    pandas = pytest.importorskip("pandas")
    frame = evening().to_dataframe()
    assert isinstance(frame, pandas.DataFrame) and len(frame) == len(evening().time)
    made = study()
    np.testing.assert_array_equal(made.to_dataframe()["run.end_mass_kg"], made["run.end_mass_kg"])
    found = shells()
    table = found.to_dataframe()
    assert list(table.index) == ["aluminium", "steel"]
    assert table.loc["steel", "sag"] == found.shells["steel"].sag


@pytest.mark.parametrize("make", [evening, study, shells])
def test_notebook_views_are_escaped_html(make) -> None:
    shown = make()._repr_html_()
    assert "<table" in shown and "<script" not in shown
    assert "<invented>" not in shown and "<b>two</b>" not in shown
