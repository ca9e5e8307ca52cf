"""Results in other hands: xarray with units, JSON there and back, names, one time, short reprs."""

import json

import numpy as np
import pytest
from report_runs import evening, pair, scenario

import n2osim as n2
from n2osim.errors import InputError
from n2osim.results.quantities import quantity
from n2osim.studies.result import StudyResult


@pytest.fixture(scope="module")
def study() -> StudyResult:
    given = {"fill": ["6 lb", "8 lb"]}
    return n2.sweep(scenario(), given, workers=1, times=np.linspace(0.0, 600.0, 20))


def test_run_as_xarray_carries_units_labels_and_names_of_axes() -> None:
    xarray = pytest.importorskip("xarray")
    run = pair()
    made = run.to_xarray()
    assert isinstance(made, xarray.Dataset)
    pressure = made["pressure_gauge_Pa"]
    q = quantity("pressure_gauge_Pa")
    assert pressure.attrs["units"] == "Pa gauge" and pressure.attrs["long_name"] == q.label
    name = run.scenario.bottles[1].name
    np.testing.assert_array_equal(pressure.sel(bottle=name), run["pressure_gauge_Pa"][1])
    assert list(made["wall_temperature_K"].coords["part"].values) == ["covered", "bare"]


def test_tables_as_xarray(study) -> None:
    pytest.importorskip("xarray")
    made = study.to_xarray()
    name = next(n for n in study.names if n.endswith("peak_pressure_gauge_Pa"))
    np.testing.assert_array_equal(made[name], study[name])
    assert made[name].attrs["units"] == "Pa gauge"
    assert made["pressure_gauge_Pa"].dims == ("member", "bottle", "time")
    car = scenario(
        heater=n2.Heater("300 W"),
        switch=n2.PressureSwitch("880 psig", "920 psig"),
        schedule=[n2.Hold("2 h")],
    )
    answer = n2.warm_up_table(car, [300.0, 400.0])
    table = answer.to_xarray()
    np.testing.assert_allclose(table["warm_up_time"], [r["warm_up_time"] for r in answer.rows])
    assert table["warm_up_time"].attrs["units"] == "s"
    minutes = [r["warm_up_time"] / 60.0 for r in answer.rows]
    np.testing.assert_allclose(answer.get("warm_up_time", "min"), minutes)
    assert len(repr(answer)) < 300


def test_study_comes_back_from_json(study, tmp_path) -> None:
    study.to_json(tmp_path / "study.json")
    back = StudyResult.from_json(tmp_path / "study.json")
    assert list(back) == list(study) and back.labels == study.labels and back.base == study.base
    for name in study:
        np.testing.assert_array_equal(back[name], study[name])
    for name, values in study.series.items():
        np.testing.assert_array_equal(back.series[name], values)
    with pytest.raises(ValueError, match="read-only"):
        back[study.names[0]][:] = 0.0
    (tmp_path / "no.json").write_text(json.dumps({"schema": 0}))
    with pytest.raises(InputError, match="file of a study"):
        StudyResult.from_json(tmp_path / "no.json")


def test_run_at_one_time() -> None:
    run = evening()
    row = len(run.time) // 2
    there = run.at(float(run.time[row]))
    assert there["mass_kg"][0] == pytest.approx(run["mass_kg"][0, row], abs=0.02)
    a, b = run.time[:2]
    middle = run.at(0.5 * (a + b))["fluid_temperature_K"]
    np.testing.assert_allclose(middle, run["fluid_temperature_K"][..., :2].mean(axis=-1))
    last = run.at(run.time[-1])
    np.testing.assert_array_equal(last["pressure_Pa"], run["pressure_Pa"][:, -1])
    with pytest.raises(InputError, match="time"):
        run.at("400 h")


def test_names_in_runs_and_studies(study) -> None:
    run = evening()
    assert "pressure_Pa" in run and "pressure" in run and list(run) == run.names
    segment = next(n for n in run.numbers("*"))
    assert segment in run and "hold0.nonsense" not in run and 3 not in run
    assert "fill" in study and "hold9.nonsense" not in study


def test_dir_of_the_package_is_what_is_meant() -> None:
    assert set(dir(n2)) == {*n2.__all__, "__version__"}


def test_every_result_comes_back_from_its_file(study, tmp_path) -> None:
    """Written, read, equal; shown in one line; its names can be asked for and counted through."""
    car = scenario(
        heater=n2.Heater("300 W"),
        switch=n2.PressureSwitch("880 psig", "920 psig"),
        schedule=[n2.Hold("2 h")],
    )
    results = [
        pair(),
        study,
        n2.size_heater(car, "60 min"),
        n2.compare_shells(car, ["aluminium", "steel"], run=n2.Pass("1 s", outflow=0.02)),
        n2.inside_sensitivity(car, (1.0, 2.0)),
        n2.sobol_indices(
            car.replace(schedule=[n2.Rest("1 min")]),
            {"fill": ("7 lb", "8 lb")},
            8,
            ["rest0.end_pressure_gauge_Pa"],
            workers=1,
        ),
    ]
    for i, result in enumerate(results):
        path = tmp_path / f"{i}.json"
        result.to_json(path)
        back = type(result).from_json(path)
        assert back == result, type(result)
        assert 20 < len(repr(result)) < 300 and "\n" not in repr(result)
        assert len(result.to_dataframe())
        if hasattr(result, "__iter__"):
            names = list(result)
            assert names == list(back) and all(n in result for n in names)
            assert "nonsense" not in result
        with pytest.raises(InputError, match="file of"):
            type(result).from_json(_spoiled(path))
    assert results[0] != results[1] and pair() != evening()


def _spoiled(path):
    data = json.loads(path.read_text()) | {"schema": 0}
    path.write_text(json.dumps(data))
    return path


def test_parts_show_what_was_said_of_them() -> None:
    assert repr(n2.Heater("400 W", coverage="40 %")) == "Heater(power='400 W', coverage='40.0 %')"
    assert repr(n2.Ambient("60 degF")) == "Ambient(temperature='60.0 degF')"
    assert repr(n2.Bottle.preset("steel", "10 lb")) == "<Bottle steel 10 lb>"
    assert len(repr(scenario())) < 160
