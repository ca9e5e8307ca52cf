# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Logs made from runs, with a truth that is known: noise, quantisation, lag, gaps, spikes, drift.

For tests of the fit, for the notebook, and to ask before a test day whether a planned log could
tell what one wants to know.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from n2osim.errors import InputError
from n2osim.files import write_text
from n2osim.fit.calibrate_model import shown
from n2osim.fit.calibrate_parameters import Sensor
from n2osim.fit.logs import Log
from n2osim.results.run import Run, simulate
from n2osim.scenario.scenario import Scenario
from n2osim.schema import Amount, Number, Part, field
from n2osim.units import to_degF, to_lb

_TIME, _SHARE, _MASS = Number("time", 0.0), Number("number", 0.0), Number("mass", 0.0)
_PRESSURE = Number("pressure_difference", 0.0)
_TEMPERATURE = Number("temperature_difference", 0.0)


@dataclass(frozen=True)
class Recorder(Part):
    """How a log is made. All in SI or text with a unit."""

    interval: Amount = field(_TIME, "between rows", 0.1)
    jitter: Amount = field(_SHARE, "standard deviation of the interval over it (irregular)", 0.0)
    noise: Amount = field(_PRESSURE, "white noise of the pressure channel", 0.0)
    step: Amount = field(_PRESSURE, "quantisation of the pressure channel (0: none)", 0.0)
    temperature_noise: Amount = field(_TEMPERATURE, "white noise of the temperature channel", 0.2)
    temperature_step: Amount = field(_TEMPERATURE, "quantisation of the temperature channel", 0.1)
    weight_noise: Amount = field(_MASS, "white noise of the scale", 0.02)
    weight_step: Amount = field(_MASS, "quantisation of the scale", 0.01)
    gap: Amount = field(_SHARE, "share of rows lost in one stretch", 0.0)
    spikes: Amount = field(_SHARE, "share of rows with a wild pressure", 0.0)
    drift: Amount = field(
        _PRESSURE, "slow wander of the pressure channel (Ornstein-Uhlenbeck)", 0.0
    )
    drift_time: Amount = field(_TIME, "time over which it wanders", 10.0)

    def __post_init__(self) -> None:
        if self.interval <= 0.0 or self.gap > 0.9 or self.spikes > 0.5 or self.jitter > 0.3:
            raise InputError(
                "recorder",
                f"interval {self.interval:g}, gap {self.gap:g}, spikes "
                f"{self.spikes:g}, jitter {self.jitter:g}",
                "",
                "interval above 0, gap to 0.9, spikes to 0.5, jitter to 0.3",
            )


def for_truth(scenario: Scenario, span: float) -> Scenario:
    """The scenario with steps much shorter than those of a fit, which must not share its errors."""
    numerics = dataclasses.replace(
        scenario.numerics, tolerance=0.05, max_step_hold=max(span / 300.0, 1.0), max_step_flow=0.05
    )
    return dataclasses.replace(scenario, numerics=numerics)


def _quantised(x: np.ndarray, step: float) -> np.ndarray:
    return np.round(x / step) * step if step > 0.0 else x


def _times(end: float, recorder: Recorder, rng: np.random.Generator) -> np.ndarray:
    n = int(np.floor(end / recorder.interval)) + 1
    t = recorder.interval * np.arange(n)
    if recorder.jitter > 0.0:
        t = np.sort(np.clip(t + recorder.jitter * recorder.interval * rng.normal(size=n), 0.0, end))
    if recorder.gap > 0.0:
        lost = int(recorder.gap * n)
        first = rng.integers(n // 10, max(n // 10 + 1, n - lost - n // 10))
        t = np.delete(t, slice(first, first + lost))
    return t


def _wander(t: np.ndarray, recorder: Recorder, rng: np.random.Generator) -> np.ndarray:
    out = np.zeros(t.size)
    if recorder.drift <= 0.0:
        return out
    out[0] = recorder.drift * rng.normal()
    for k in range(1, t.size):
        a = np.exp(-(t[k] - t[k - 1]) / recorder.drift_time)
        out[k] = a * out[k - 1] + recorder.drift * np.sqrt(1.0 - a * a) * rng.normal()
    return out


def synthetic_log(
    scenario: Scenario,
    *,
    seed: int,
    recorder: Recorder | None = None,
    sensor: Sensor | None = None,
    run: Run | None = None,
    name: str = "synthetic log",
) -> Log:
    """The log that ``recorder`` would make of this scenario.

    ``sensor`` holds the true lag, offset, tare and so on. ``run`` saves simulating again (made
    with :func:`for_truth` or similarly short steps). Channels:
    gauge_pressure, bottle_temperature, bottle_weight, heater_on, solenoid_duty.
    """
    recorder = Recorder() if recorder is None else recorder
    sensor = Sensor() if sensor is None else sensor
    rng = np.random.default_rng(seed)
    end = float(sum(item.duration for item in scenario.schedule))
    run = simulate(for_truth(scenario, end)) if run is None else run
    t = _times(float(run.time[-1]), recorder, rng)
    p = shown(run, sensor, "pressure", t) + _wander(t, recorder, rng)
    p = _quantised(p + recorder.noise * rng.normal(size=t.size), recorder.step)
    wild = rng.random(t.size) < recorder.spikes
    p = np.where(wild, p + rng.choice((-1.0, 1.0), t.size) * rng.uniform(5e5, 4e6, t.size), p)
    temperature = shown(run, sensor, "temperature", t)
    temperature = temperature + recorder.temperature_noise * rng.normal(size=t.size)
    weight = shown(run, sensor, "weight", t) + recorder.weight_noise * rng.normal(size=t.size)
    row = np.clip(np.searchsorted(run.time, t, side="right") - 1, 0, run.time.size - 1)
    return Log.from_arrays(
        t,
        name=name,
        gauge_pressure=p,
        bottle_temperature=_quantised(temperature, recorder.temperature_step),
        bottle_weight=_quantised(weight, recorder.weight_step),
        heater_on=(run["heater_power_W"][0][row] > 0.0).astype(float),
        solenoid_duty=run["flow_commanded"][row].astype(float),
    )


def write_log(log: Log, path: str | Path, *, overwrite: bool = False, note: str = "") -> None:
    """Write a log as CSV in shop units (psig, degF, lb), to be read back with ``read_log``."""
    columns: dict[str, Any] = {"time [s]": log.time}
    for channel, header, convert in (
        ("gauge_pressure", "bottle pressure [psig]", lambda v: v / 6894.757293168361),
        ("pressure", "bottle pressure [psia]", lambda v: v / 6894.757293168361),
        ("bottle_temperature", "bottle temperature [degF]", to_degF),
        ("bottle_weight", "bottle weight [lb]", to_lb),
        ("charge", "N2O mass [lb]", to_lb),
        ("heater_on", "heater", lambda v: v),
        ("solenoid_duty", "solenoid duty", lambda v: v),
    ):
        if channel in log:
            columns[header] = convert(log[channel])
    rows = [",".join(columns)]
    for values in zip(*columns.values()):
        rows.append(",".join("" if np.isnan(v) else f"{v:.9g}" for v in values))
    head = [f"# {line}" for line in note.splitlines()]
    write_text(Path(path), "\n".join([*head, *rows]) + "\n", overwrite=overwrite)
