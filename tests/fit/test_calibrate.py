"""Fits on synthetic logs: values, warnings, prediction, cross-validation, saving, speed, errors."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import n2osim as n2
from n2osim.errors import InputError, LogError, UnknownNameError
from n2osim.fit.calibrate import Calibration, Sensor, calibrate
from n2osim.fit.calibrate_parameters import PARAMETERS, Free, apply
from n2osim.fit.logs import Log, read_log
from n2osim.fit.synthetic import Recorder, synthetic_log, write_log

PSI = 6894.757293168361
LB = 0.45359237


def warm_up(**changes: object) -> n2.Scenario:
    """Invented 12 lb aluminium bottle: 20 min on a 300 W blanket, 10 min cooling."""
    base: dict[str, object] = {
        "fill": "9 lb",
        "start": "60 degF",
        "ambient": n2.Ambient("50 degF"),
        "heater": n2.Heater("300 W"),
        "model": n2.Model(outside_coefficient=11.0),
        "schedule": [n2.Hold("20 min"), n2.Rest("10 min")],
        "feed": n2.Feed.effective_area("2 mm2"),
        "title": "invented warm-up",
    }
    bottle = n2.Bottle.preset("aluminium", capacity="12 lb")
    return n2.Scenario(bottle, **{**base, **changes})  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def log() -> Log:
    return synthetic_log(warm_up(), seed=1, recorder=Recorder(4.0, noise=2 * PSI, step=PSI))


@pytest.fixture(scope="module")
def fit(log: Log) -> Calibration:
    guess = warm_up(heater=n2.Heater("220 W"), model=n2.Model(outside_coefficient=6.0))
    return calibrate(guess, log, ["heater_power", "outside_coefficient"])


def test_two_parameters_from_a_warm_up(fit: Calibration) -> None:
    for name, truth in (("heater_power", 300.0), ("outside_coefficient", 11.0)):
        p = fit[name]
        assert abs(p.value - truth) < 3.3 * p.error  # 99.9 %; how often 95 % hold: coverage test
        assert p.value == pytest.approx(truth, rel=0.05)
        assert p.profile_low < p.value < p.profile_high
        assert p.determined and not p.at_limit
    assert fit.goodness[0].ratio == pytest.approx(1.0, abs=0.15)
    assert fit.goodness[0].r2 > 0.999
    assert fit.correlation[0, 1] > 0.8  # more power and more loss look alike


def test_two_parameter_fit_is_quick(fit: Calibration) -> None:
    """Under 10 s; the wall clock of a shared machine is no measure, so: few model runs."""
    assert fit.runs < 400  # measured when written: 240
    assert fit.runs * fit.seconds_per_run < 3.0 * fit.seconds + 1.0


def test_a_clock_that_does_not_begin_at_nought_is_noted(log: Log) -> None:
    late = Log.from_arrays(log.time + 30.0, gauge_pressure=log["gauge_pressure"])
    fit = calibrate(warm_up(), late, ["heater_power"], profile=False, search=False)
    assert any("log's first row, 30 s" in n for n in fit.notes)
    told = calibrate(warm_up(), late, ["heater_power"], profile=False, search=False, log_start=30.0)
    assert not told.notes
    assert told["heater_power"].value == fit["heater_power"].value


def test_residual_arrays_add_up(fit: Calibration, log: Log) -> None:
    r = fit.residuals[0]
    np.testing.assert_allclose(r.logged - r.model, r.residual, rtol=1e-12)
    assert r.time.size == len(log) and r.used.all()
    assert fit.goodness[0].rms == pytest.approx(float(np.sqrt(np.mean(r.residual**2))))


def test_result_runs_and_saves(fit: Calibration, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    fit.scenario.to_toml(path)
    again = n2.Scenario.from_toml(path)
    assert again.heater is not None
    assert again.heater.power == pytest.approx(fit["heater_power"].value)
    np.testing.assert_allclose(
        n2.simulate(again)["pressure_Pa"], n2.simulate(fit.scenario)["pressure_Pa"], rtol=1e-9
    )
    json.dumps(fit.as_dict(), allow_nan=False)
    text = fit.summary()
    assert "heater_power" in text and "correlation" in text and "model runs" in text


def test_a_fit_comes_back_from_its_file(fit: Calibration, tmp_path: Path) -> None:
    fit.to_json(tmp_path / "fit.json")
    back = Calibration.from_json(tmp_path / "fit.json")
    assert back == fit and list(back) == list(fit) and next(iter(fit)) in back
    np.testing.assert_array_equal(back.samples(5), fit.samples(5))
    with pytest.raises(InputError, match="file of a fit"):
        (tmp_path / "no.json").write_text("{}")
        Calibration.from_json(tmp_path / "no.json")


def test_prediction_band_covers_the_truth(fit: Calibration) -> None:
    """The fit's band for another hour of the same bottle contains what really happens."""
    after = [n2.Hold("10 min"), n2.Pass("9 s")]
    band = fit.predict(then=after, count=60, seed=3)
    truth = n2.simulate(warm_up(schedule=[*warm_up().schedule, *after]))
    p = np.interp(band.time, truth.time, truth["pressure_gauge_Pa"][0])
    inside = (p >= band.pressure[0]) & (p <= band.pressure[-1])
    assert inside.mean() > 0.6  # errors of the two parameters hang together over the whole course
    assert np.all(np.diff(band.pressure, axis=0) >= 0.0)
    assert band.runs == 60 and band.failed == 0
    wide = fit.predict(then=after, count=60, seed=3, measured=True)
    assert np.mean(wide.pressure[-1] - wide.pressure[0]) > np.mean(
        band.pressure[-1] - band.pressure[0]
    )
    same = fit.predict(then=after, count=60, seed=3)
    np.testing.assert_array_equal(same.pressure, band.pressure)
    assert set(band.at(600.0)) == set(band.levels)


def test_cross_validation_on_a_second_log(fit: Calibration) -> None:
    """A colder day, another charge: nothing is fitted again, residuals are noise."""
    other = warm_up(fill="8 lb", start="50 degF", ambient=n2.Ambient("40 degF"))
    second = synthetic_log(other, seed=8, recorder=Recorder(4.0, noise=2 * PSI, step=PSI))
    blank = other.replace(heater=n2.Heater("220 W"), model=n2.Model(outside_coefficient=6.0))
    check = fit.validate(second, blank)
    assert check.goodness[0].rms < 2.5 * 2 * PSI
    assert check.inside > 0.8
    assert check.relative < 0.01
    assert "predicted 95 % band" in check.summary()
    wrong = fit.validate(second, blank.replace(fill="5 lb"))
    assert wrong.goodness[0].rms > 3 * check.goodness[0].rms
    assert wrong.inside < 0.5


def test_charge_in_a_saturated_warm_up_is_warned_about(log: Log) -> None:
    fit = calibrate(warm_up(), log, ["heater_power", "fill"], search=False)
    assert any("charge cannot be told from a saturated warm-up" in w for w in fit.warnings)


def test_charge_at_rest_is_not_determined() -> None:
    """Bottle and air at one temperature: the pressure is the saturation pressure, full stop."""
    still = warm_up(ambient=n2.Ambient("60 degF"), schedule=[n2.Rest("20 min")])
    quiet = synthetic_log(still, seed=4, recorder=Recorder(5.0, noise=PSI))
    fit = calibrate(still, quiet, ["fill"], search=False)
    assert not fit["fill"].determined
    assert fit["fill"].interval[1] / fit["fill"].interval[0] > 2.0
    assert any("fill cannot be told" in w for w in fit.warnings)
    assert "not determined" in fit.summary()


def test_charge_shows_once_liquid_full() -> None:
    full = warm_up(fill="12 lb", start="80 degF", schedule=[n2.Hold("12 min")])
    logged = synthetic_log(full, seed=5, recorder=Recorder(4.0, noise=2 * PSI, step=PSI))
    fit = calibrate(full.replace(fill="11 lb"), logged, ["fill", "heater_power"], search=False)
    p = fit["fill"]
    assert p.interval[0] <= 12 * LB <= p.interval[1]
    assert p.interval[1] / p.interval[0] < 1.02
    assert not any("saturated" in w for w in fit.warnings)


def test_weight_gives_the_charge(log: Log) -> None:
    fit = calibrate(warm_up(fill="7 lb"), log, ["fill"], use=("pressure", "weight"))
    p = fit["fill"]
    assert p.interval[0] <= 9 * LB <= p.interval[1]
    assert {g.channel for g in fit.goodness} == {"pressure", "weight"}


def test_parameters_without_anything_to_show_for_them(log: Log) -> None:
    fit = calibrate(warm_up(), log, ["effective_area"], search=False)
    assert not fit["effective_area"].determined
    assert any("no flow" in w for w in fit.warnings)


def test_limits_are_kept_and_named(log: Log) -> None:
    fit = calibrate(warm_up(), log, {"heater_power": ("100 W", "280 W")}, profile=False)
    assert fit["heater_power"].value == pytest.approx(280.0, rel=1e-3)
    assert fit["heater_power"].at_limit
    assert any("sits on its limit" in w for w in fit.warnings)
    assert np.isnan(fit["heater_power"].profile_low)


def test_sensor_offset_and_window() -> None:
    truth = warm_up(start="70 degF", schedule=[n2.Rest("2 s"), n2.Pass("9 s"), n2.Rest("5 s")])
    sensor = Sensor(lag=0.2, offset=12 * PSI)
    logged = synthetic_log(truth, seed=6, sensor=sensor, recorder=Recorder(0.05, noise=PSI))
    guess = truth.replace(feeds={"main": n2.Feed.effective_area("1 mm2")})
    fit = calibrate(
        guess,
        logged,
        ["effective_area", "sensor_offset"],
        sensor=Sensor(lag=0.2),
        window=[(0.0, 7.0)],
    )
    for name, value in (("effective_area", 2e-6), ("sensor_offset", 12 * PSI)):
        assert fit[name].interval[0] <= value <= fit[name].interval[1]
    assert fit.sensor.offset == fit["sensor_offset"].value
    assert fit.residuals[0].used.sum() < fit.residuals[0].used.size
    later = fit.residuals[0].residual[~fit.residuals[0].used]
    assert np.std(later) < 2 * PSI  # the rows outside the window are predicted


def test_times_of_a_fit_may_be_text(log: Log) -> None:
    """Text, a window of one number and a negative error ended in errors of Python's own."""
    how = {"profile": False, "search": False}
    plain = calibrate(warm_up(), log, ["heater_power"], window=(60, 600), log_start=4.0, **how)
    for window in (("1 min", "10 min"), [("1 min", "600 s")], np.array([[60.0, 600.0]])):
        text = calibrate(warm_up(), log, ["heater_power"], window=window, log_start="4 s", **how)
        assert text["heater_power"].value == plain["heater_power"].value
    for wrong in ({"window": [3.0]}, {"window": "2 s"}, {"log_start": "soon"}, {"edge_error": -1}):
        with pytest.raises(InputError, match=r"window|log_start|edge_error"):
            calibrate(warm_up(), log, ["heater_power"], **wrong, **how)


def test_mistakes_are_named(log: Log) -> None:
    s = warm_up()
    with pytest.raises(UnknownNameError, match="heater_power"):
        calibrate(s, log, ["heater_powr"])
    with pytest.raises(InputError, match="each once"):
        calibrate(s, log, [])
    with pytest.raises(InputError, match="scenario with a heater"):
        calibrate(s.replace(heater=None, schedule=[n2.Rest(60.0)]), log, ["heater_power"])
    with pytest.raises(InputError, match="low below high"):
        calibrate(s, log, {"fill": ("10 lb", "5 lb")})
    with pytest.raises(InputError, match="pair"):
        calibrate(s, log, {"fill": "10 lb"})
    with pytest.raises(UnknownNameError):
        calibrate(s, log, ["fill"], use=("presure",))
    with pytest.raises(LogError, match="charge"):
        calibrate(s, log, ["fill"], use=("charge",))
    with pytest.raises(LogError, match="usable rows"):
        calibrate(s, log, ["fill"], window=[(1e5, 2e5)])
    with pytest.raises(LogError, match="schedule ends"):
        calibrate(s.replace(schedule=[n2.Hold(5.0)]), log, ["fill"])
    with pytest.raises(UnknownNameError):
        Sensor(temperature="air")


def test_every_parameter_reads_and_writes_its_place() -> None:
    s, sensor = warm_up(), Sensor()
    for name, kind in PARAMETERS.items():
        value = kind.get(s, sensor)
        other = value * 1.1 if kind.log else value + 0.5 * kind.scale
        changed = apply([Free(kind, value, value, other)], [other], s, sensor)
        assert kind.get(*changed) == pytest.approx(other), name


def test_shown_in_notebooks_and_as_a_table(fit: Calibration) -> None:
    shown = fit._repr_html_()
    assert "<table>" in shown and "heater_power" in shown and "correlation" in shown
    frame = fit.to_dataframe()
    assert list(frame.index) == ["heater_power", "outside_coefficient"]
    assert frame.loc["heater_power", "value"] == fit["heater_power"].value
    assert len(fit.plot().figure.axes) == 2


def test_written_log_reads_back(tmp_path: Path, log: Log) -> None:
    write_log(log, tmp_path / "log.csv")
    back = read_log(tmp_path / "log.csv")
    for channel in log.channels:
        np.testing.assert_allclose(back[channel], log[channel], rtol=1e-7, atol=1e-9)
    with pytest.raises(InputError):
        Recorder(interval=0.0)
