"""Ensembles: the same numbers as ``simulate``, however the work is split."""

from __future__ import annotations

import math
import pickle
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np
import pytest
from study_samples import base, count_calls

from n2osim.errors import InputError, IntegrationError, UnknownNameError
from n2osim.hardware import Bottle, Feed, Jets, PressureSwitch
from n2osim.results.run import simulate
from n2osim.scenario.fields import with_fields
from n2osim.scenario.scenario import FittedBottle, Scenario
from n2osim.scenario.schedule import Hold, Pass, Rest, Weigh
from n2osim.studies.ensemble import run_ensemble

TIMES = np.linspace(0.0, 2200.0, 23)


def members(count=12):
    return [with_fields(base(), {"fill": 4.0 + 0.1 * k}) for k in range(count)]


@pytest.fixture(scope="module")
def serial():
    return run_ensemble(members(), executor="serial", chunk=5, times=TIMES, keep_events=True)


def same(a, b):
    """Bit-for-bit equality of everything that is a result."""
    assert a.names == b.names
    assert np.array_equal(a.members, b.members) and np.array_equal(a.ok, b.ok)
    for name in a.names:
        assert np.array_equal(a[name], b[name], equal_nan=True), name
    for name in a.series:
        assert np.array_equal(a.series[name], b.series[name], equal_nan=True), name
    if a.event_table is not None:
        assert np.array_equal(a.event_table, b.event_table, equal_nan=True)
    assert [(f.member, f.kind, f.reason) for f in a.failures] == [
        (f.member, f.kind, f.reason) for f in b.failures
    ]


# name in a summary -> column; the values must agree exactly (same compiled function)
HOLD = {
    "start_time": "start_time_s",
    "duration": "duration_s",
    "start_mass": "start_mass_kg",
    "start_pressure": "start_pressure_gauge_Pa",
    "end_pressure": "end_pressure_gauge_Pa",
    "start_temperature": "start_temperature_K",
    "end_temperature": "end_temperature_K",
    "end_mass": "end_mass_kg",
    "warm_up_time": "warm_up_time_s",
    "duty": "duty",
    "switchings": "switchings",
    "switchings_per_hour": "switchings_per_hour",
    "energy": "energy_J",
    "mean_power": "mean_power_W",
    "loss": "loss_J",
    "peak_pressure": "peak_pressure_gauge_Pa",
    "overshoot": "overshoot_Pa",
    "undershoot": "undershoot_Pa",
    "hottest_wall": "hottest_wall_K",
    "hottest_inner": "hottest_inner_K",
    "hottest_heater": "hottest_heater_K",
    "hottest_fluid": "hottest_fluid_K",
    "inside_extrapolated": "inside_extrapolated",
}
PASS = {
    "minimum_pressure": "minimum_pressure_gauge_Pa",
    "pressure_sag": "pressure_sag_Pa",
    "used": "used_kg",
    "flow_start": "flow_start_kg_s",
    "flow_mean": "flow_mean_kg_s",
    "flow_max": "flow_max_kg_s",
    "flow_end": "flow_end_kg_s",
    "flow_time": "flow_time_s",
    "liquid_out_time": "liquid_out_time_s",
    "coldest_fluid": "coldest_fluid_K",
}


@pytest.mark.parametrize("member", [0, 7])
def test_columns_are_the_summaries_of_simulate(serial, member):
    run = simulate(members()[member])
    pairs = [
        (run.holds[0], "hold0", HOLD),
        (run.rests[0], "rest0", HOLD),
        (run.passes[0], "pass0", PASS),
    ]
    for summary, segment, table in pairs:
        for field, column in table.items():
            value = getattr(summary, field)
            got = serial[f"{segment}.{column}"][member]
            if value is None:
                assert math.isnan(got), (segment, field)
            else:
                assert got == value, (segment, field)
    events = [(e.time, e.name, e.pressure_gauge) for e in run.events]
    assert [(e.time, e.name, e.pressure_gauge) for e in serial.events(member)] == events
    assert serial["run.events"][member] == len(events)
    gauge = np.interp(TIMES, run.time, run["pressure_gauge_Pa"][0], right=np.nan)
    assert np.array_equal(serial.series_of("pressure_gauge_Pa")[member], gauge, equal_nan=True)
    assert serial["run.peak_pressure_gauge_Pa"][member] == max(
        run.holds[0].peak_pressure, run.rests[0].peak_pressure, run.passes[0].start_pressure
    )


@pytest.mark.parametrize(
    ("executor", "workers", "chunk"),
    [
        ("threads", 2, 1),
        ("threads", 2, 4),
        ("threads", 1, 100),
        ("processes", 2, 3),
        (None, None, None),
    ],
)
def test_however_the_work_is_split(serial, executor, workers, chunk):
    other = run_ensemble(
        members(), executor=executor, workers=workers, chunk=chunk, times=TIMES, keep_events=True
    )
    same(serial, other)


def test_executors_that_are_given_stay_open(serial):
    for kind in (ThreadPoolExecutor, ProcessPoolExecutor):
        with kind(2) as executor:
            result = run_ensemble(
                members(), executor=executor, chunk=3, times=TIMES, keep_events=True
            )
            same(serial, result)
            assert executor.submit(len, "still open").result() == 10


def test_executor_from_a_function(serial):
    same(
        serial,
        run_ensemble(
            members(), executor=lambda: ThreadPoolExecutor(2), times=TIMES, keep_events=True
        ),
    )


def test_a_generator_is_drawn_from_as_it_is_worked_off():
    most_ahead = 0
    done = [0]
    drawn = 0

    def stream():
        nonlocal drawn, most_ahead
        for k in range(60):
            drawn += 1
            most_ahead = max(most_ahead, drawn - done[0])
            yield with_fields(short, {"fill": 4.0 + 0.01 * k})

    def progress(now, total):
        done[0] = now
        assert total is None

    short = base(schedule=[Hold(60.0)])
    result = run_ensemble(stream(), workers=2, chunk=2, progress=progress)
    assert len(result) == 60 and result.complete and done[0] == 60
    # at most 2 tasks a worker in flight, and one being filled
    assert most_ahead <= 2 * (2 * 2 + 1)


def test_failed_members_are_recorded_and_the_rest_goes_on(tmp_path):
    def burst(**changes):
        # No switch: 3 kW for an hour takes any bottle out of the equation of state.
        return base(switch=None, **changes)

    hot = with_fields(
        burst(schedule=[Hold("1 h")]), {"heater.power": 3000.0, "bottle.relief_pressure": None}
    )
    odd = with_fields(base(), {"start": 200.0})
    odd.bottles[0].__dict__["fill"] = float("nan")  # past its own check
    result = run_ensemble([base(), hot, odd, base()], chunk=2)
    assert result.ok.tolist() == [True, False, False, True]
    first, second = result.failures
    assert first.member == 1 and first.kind == "IntegrationError"
    assert "equation of state" in first.reason and "try:" in first.reason
    assert second.member == 2 and second.reason
    again = first.inputs["scenario"]
    (tmp_path / "again.toml").write_text(again)
    with pytest.raises(IntegrationError, match="equation of state"):
        simulate(Scenario.from_toml(tmp_path / "again.toml"))
    assert np.isnan(result["hold0.energy_J"][1])
    assert result["hold0.energy_J"][0] == result["hold0.energy_J"][3] > 0
    assert "failed" in result.summary()
    assert "equation of state" in result.to_csv()


def test_mixed_schedules_and_bottles_share_a_table():
    two = Scenario(
        [
            FittedBottle(Bottle.preset(), 4.0, 300.0, name=n, switch=PressureSwitch(6.9e6, 7.2e6))
            for n in ("left", "right")
        ],
        schedule=[Pass(2.0), Weigh()],
        feed=Feed(Jets(1, 0.001)),
    )
    mixed = [base(schedule=[Rest(10.0)]), two, base(schedule=[Hold(5.0), Weigh()])]
    whole = run_ensemble(mixed, executor="serial", chunk=3, times=[0.0, 1.0])
    same(whole, run_ensemble(mixed, workers=2, chunk=1, times=[0.0, 1.0]))
    assert whole["rest0.duration_s"].tolist()[0] == 10.0
    assert np.isnan(whole["rest0.duration_s"][1:]).all()
    left, right = whole["pass0.left.used_kg"][1], whole["pass0.right.used_kg"][1]
    assert left == pytest.approx(right, rel=1e-12) and left > 0.0
    run = simulate(two)
    assert [p.used for p in run.passes] == [left, right]
    assert whole.series["pressure_gauge_Pa"].shape == (3, 2, 2)


def test_outputs_by_name_and_pattern():
    result = run_ensemble(members(2), outputs=["pass*.pressure_sag_Pa", "hold0.duty"])
    assert result.names == ["hold0.duty", "pass0.pressure_sag_Pa"]
    with pytest.raises(UnknownNameError, match="pressure_sag_Pa"):
        run_ensemble(members(2), outputs=["pass0.pressure_sagg_Pa"])
    with pytest.raises(UnknownNameError, match="pressure_sag_Pa"):
        result["pass0.pressure_sagPa"]


def test_measures_of_ones_own(tmp_path, monkeypatch):
    monkeypatch.setenv("N2OSIM_TEST_MARKER", str(tmp_path / "calls"))
    result = run_ensemble(members(4), measure=count_calls, outputs=["hold0.duty"])
    assert result["fill_seen"].tolist() == [m.fill for m in members(4)]
    with pytest.raises(InputError, match="top level of a module"):
        run_ensemble(members(2), measure=lambda run: {}, executor="processes")


def test_a_result_survives_pickling(serial):
    same(serial, pickle.loads(pickle.dumps(serial)))


def test_timing_is_reported(serial):
    s = serial.statistics
    assert s["computed"] == 12 and s["restored"] == 0
    assert s["member_s"] > 0 and s["first_call_s"] >= 0 and s["wall_s"] >= 12 * s["member_s"]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"workers": 0}, "workers"),
        ({"workers": 1.5}, "workers"),
        ({"chunk": 0}, "chunk"),
        ({"executor": "thread"}, "did you mean 'threads'"),
        ({"executor": 3}, "executor"),
        ({"times": [1.0, 0.5]}, "times"),
        ({"series": ["presure_Pa"], "times": [0.0]}, "series"),
    ],
)
def test_arguments_that_make_no_sense(wrong, words):
    with pytest.raises(InputError, match=words):
        run_ensemble(members(1), **wrong)


def test_not_scenarios():
    with pytest.raises(InputError, match="put a single one in a list"):
        run_ensemble(base())
    with pytest.raises(InputError, match="scenario 1"):
        run_ensemble([base(), 3])
    empty = run_ensemble([])
    assert len(empty) == 0 and empty.complete
