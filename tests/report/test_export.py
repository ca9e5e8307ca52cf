"""JSON, CSV and DataFrame: complete, valid, and never over somebody's file."""

import csv
import io
import json
import math
import os
import sys
import threading

import numpy as np
import pytest
from report_runs import evening, pair

from n2osim.errors import InputError, N2OSimError
from n2osim.report import export
from n2osim.results import frames
from n2osim.results.run import RUN_SCHEMA, Run
from n2osim.scenario.file import loads


def reject(name: str) -> None:
    raise AssertionError(f"{name} is not JSON")


@pytest.fixture(params=[evening, pair])
def result(request):
    return request.param()


def test_json_is_strict_and_complete(result, tmp_path) -> None:
    path = tmp_path / "run.json"
    result.to_json(path)
    data = json.loads(path.read_text(encoding="utf-8"), parse_constant=reject)
    assert data["schema"] == RUN_SCHEMA
    assert data["title"] == result.scenario.title
    assert set(data["variables"]) == set(result.names)
    for name, v in data["variables"].items():
        assert np.shape(v["values"]) == result[name].shape, name
        assert len(v["dims"]) == result[name].ndim
        assert v["unit"] == result.variable(name).unit and v["description"]
    assert len(data["events"]) == len(result.events)
    assert len(data["segments"]) == len(result.segments)
    assert [f["code"] for f in data["findings"]] == [f.code for f in result.findings]
    assert max(data["closure"].values()) < 1e-6


def test_json_values_are_exact(result) -> None:
    data = json.loads(export.json_text(result))
    for name in ("time_s", "pressure_Pa", "mass_kg", "wall_temperature_K"):
        assert np.array_equal(np.array(data["variables"][name]["values"]), result[name])
    assert data["segments"][0]["peak_pressure"] == result.holds[0].peak_pressure


def test_a_run_comes_back_from_its_json(result, tmp_path) -> None:
    path = tmp_path / "run.json"
    result.to_json(path)
    again = Run.from_json(path)
    assert again.scenario == result.scenario and again.ending == result.ending
    assert again.events == result.events
    for name in result.names:
        np.testing.assert_array_equal(again[name], result[name])
        assert again[name].dtype == result[name].dtype, name
    for name in result.records.dtype.names:  # field by field: NaN is equal to NaN then
        np.testing.assert_array_equal(again.records[name], result.records[name])
    assert again.numbers() == pytest.approx(result.numbers(), nan_ok=True, rel=0)
    assert again.summary(full=True) == result.summary(full=True)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"schema": 2}', '{"schema": 1}', "\x00"])
def test_a_file_that_is_no_run_is_refused(text: str, tmp_path) -> None:
    path = tmp_path / "run.json"
    path.write_text(text)
    with pytest.raises(InputError, match="file of a run") as caught:
        Run.from_json(path)
    assert str(caught.value).count("is not usable") == 1  # said once


def test_scenario_inside_the_json_runs_again(result) -> None:
    assert loads(json.loads(export.json_text(result))["scenario"]) == result.scenario


def test_nan_becomes_null() -> None:
    given = {"a": [1.0, math.nan, (math.inf, {"b": -math.inf})], "c": "nan"}
    assert frames.without_nan(given) == {"a": [1.0, None, [None, {"b": None}]], "c": "nan"}


def test_csv_reads_back(result, tmp_path) -> None:
    path = tmp_path / "run.csv"
    result.to_csv(path)
    text = path.read_text(encoding="utf-8")
    assert text.startswith(f"# n2osim run, schema {RUN_SCHEMA}")
    rows = list(csv.reader(io.StringIO(text.split("\n", 1)[1])))
    heads, body = rows[0], rows[1:]
    assert len(body) == len(result.time)
    assert all(len(r) == len(heads) for r in body)
    assert len(set(heads)) == len(heads)
    assert np.array_equal(np.array([float(r[0]) for r in body]), result.time)
    name = "pressure_Pa" if len(result.scenario.bottles) == 1 else "pressure_Pa[right, rear]"
    column = heads.index(name)
    values = np.array([float(r[column]) for r in body])
    assert np.array_equal(values, result["pressure_Pa"][-1])
    # every series over time is there
    series = sum(
        int(np.prod(v.values.shape[:-1])) for v in result.variables.values() if v.dims[-1] == "time"
    )
    assert len(heads) == series


def test_dataframe(result) -> None:
    frame = result.to_dataframe()
    assert len(frame) == len(result.time)
    assert np.array_equal(frame["time_s"].to_numpy(), result.time)
    assert list(frame.columns) == list(export.columns(result))


def test_dataframe_without_pandas_says_what_to_install(monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(N2OSimError, match=r"n2osim\[tables\]"):
        export.dataframe(evening())


@pytest.mark.parametrize("write", [export.write_json, export.write_csv])
def test_existing_files_are_left_alone(write, tmp_path) -> None:
    path = tmp_path / "mine.txt"
    path.write_text("mine")
    with pytest.raises(InputError, match="overwrite"):
        write(evening(), path)
    assert path.read_text() == "mine"
    write(evening(), path, overwrite=True)
    assert path.read_text() != "mine"
    assert os.listdir(tmp_path) == ["mine.txt"]


def test_directories_and_missing_ones_are_named(tmp_path) -> None:
    with pytest.raises(InputError, match="a directory"):
        export.write_json(evening(), tmp_path)
    with pytest.raises(OSError, match="no directory"):
        export.write_json(evening(), tmp_path / "no" / "run.json")


def test_failed_write_leaves_nothing_behind(tmp_path, monkeypatch) -> None:
    def broken(*args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", broken)
    with pytest.raises(OSError, match="No space left"):
        export.write_json(evening(), tmp_path / "run.json")
    assert os.listdir(tmp_path) == []


def test_two_writers_do_not_both_win(tmp_path) -> None:
    path, failures = tmp_path / "run.csv", []

    def write() -> None:
        try:
            export.write_csv(evening(), path)
        except InputError as problem:
            failures.append(problem)

    threads = [threading.Thread(target=write) for _ in range(8)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert len(failures) == 7
    assert path.read_text() == export.csv_text(evening())


def test_file_mode_and_link(tmp_path) -> None:
    path = tmp_path / "run.csv"
    export.write_csv(evening(), path)
    plain = tmp_path / "plain"
    plain.write_text("")
    assert path.stat().st_mode == plain.stat().st_mode


def test_devices_are_written_to_not_replaced() -> None:
    from n2osim.files import write_text

    before = os.stat(os.devnull)
    write_text(os.devnull, "x", overwrite=True)
    assert os.stat(os.devnull).st_ino == before.st_ino
