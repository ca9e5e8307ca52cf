"""From scenario and sensor to what the log should show, and the residuals between the two."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

from n2osim.engine.pack import MapMaker
from n2osim.errors import InputError, LogError, UnknownNameError
from n2osim.fit.area_maps import interpolated_map
from n2osim.fit.calibrate_parameters import Free, Sensor, apply
from n2osim.fit.course import Course, course
from n2osim.fit.logs import Log
from n2osim.fit.trace import sensed
from n2osim.results.run import Run
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass
from n2osim.units import parse

CHANNELS = {
    "pressure": ("gauge_pressure", "Pa"),
    "temperature": ("bottle_temperature", "K"),
    "weight": ("bottle_weight", "kg"),
    "charge": ("charge", "kg"),
}
"""What a fit can look at: channel of the log and unit."""

_ROWS = 20_000  # of a log that a fit looks at

LOST = 1e4
"""Residual, in standard deviations, where the model has no answer."""


@dataclass(frozen=True)
class Target:
    """One channel as the fit sees it: times of the scenario (s), values, which rows count.

    ``rows`` are positions in the log. ``noise`` is the sample-to-sample standard deviation.
    """

    name: str
    unit: str
    times: np.ndarray
    values: np.ndarray
    used: np.ndarray
    rows: np.ndarray
    noise: float

    def only(self, take: np.ndarray) -> Target:
        """Some of its rows."""
        arrays = {n: getattr(self, n)[take] for n in ("times", "values", "used", "rows")}
        return dataclasses.replace(self, **arrays)


def begin(log: Log, log_start: Any) -> float:
    """Time of the log's clock (s) at which the scenario begins."""
    return float(log.time[0]) if log_start is None else parse(log_start, "time", name="log_start")


def targets(
    scenario: Scenario, log: Log, use: Sequence[str], log_start: Any, window: Any
) -> tuple[list[Target], str]:
    """The channels to fit, and that rows after the end of the schedule were left out, in words.

    Raises InputError or LogError for what is not there.
    """
    names = dict.fromkeys([use] if isinstance(use, str) else use)
    found = [_target(scenario, log, n, begin(log, log_start), window) for n in names]
    if not found:
        raise InputError("log channels to fit", "none", "", f"one or more of {list(CHANNELS)}")
    return _within_schedule(scenario, log, found)


def _channel(scenario: Scenario, log: Log, name: str) -> tuple[str, np.ndarray]:
    """Channel of the log and its values, Pa gauge of a pressure."""
    if name not in CHANNELS:
        raise UnknownNameError.among("log channel to fit", name, CHANNELS)
    if name == "pressure":
        return log.pressure_channel, log.gauge(scenario.ambient.pressure)
    channel = CHANNELS[name][0]
    if channel not in log:
        raise LogError(
            f"no {channel} in this log",
            log.report.file or None,
            remedy=f"map it to a column, or leave {name!r} out of use",
        )
    return channel, log.clean(channel)


def _target(scenario: Scenario, log: Log, name: str, zero: float, window: Any) -> Target:
    channel, values = _channel(scenario, log, name)
    rows = np.flatnonzero(np.isfinite(values) & (log.time >= zero))
    rows = rows[:: max(1, -(-rows.size // _ROWS))]
    times = log.time[rows]
    used = np.ones(rows.size, bool)
    if window is not None:
        used = np.any([(times >= a) & (times <= b) for a, b in _windows(window)], axis=0)
    if used.sum() < 5:
        raise LogError(
            f"only {int(used.sum())} usable rows of {name} to fit",
            log.report.file or None,
            remedy="widen the window, or check log_start",
        )
    noise = float((log.report.noise or {}).get(channel, 0.0))
    scale = max(noise, 1e-9 * float(np.max(np.abs(values[rows]))))
    return Target(name, CHANNELS[name][1], times - zero, values[rows], used, rows, scale)


def _windows(window: Any) -> list[tuple[float, float]]:
    if not isinstance(window, str) and not any(map(np.ndim, window)):
        window = [window]
    pairs = []
    for given in window:
        if isinstance(given, str) or len(given) != 2:
            raise InputError("fit window", str(given), "", "pairs (from, to)")
        a, b = (parse(x, "time", name="fit window") for x in given)
        if not a < b:
            raise InputError("fit window", f"{a:g} to {b:g}", "s", "start before end")
        pairs.append((a, b))
    return pairs


def planned(scenario: Scenario) -> float:
    """Length of the schedule, s."""
    return float(sum(item.duration for item in scenario.schedule))


def for_fitting(scenario: Scenario) -> Scenario:
    """The scenario with steps short enough for a smooth course and a tighter tolerance.

    Differences between neighbouring parameter values must not drown in step-size noise.
    """
    span = planned(scenario)
    numerics = dataclasses.replace(
        scenario.numerics,
        tolerance=min(scenario.numerics.tolerance, 0.3),
        max_step_hold=min(scenario.numerics.max_step_hold, max(span / 75.0, 2.0)),
        max_step_flow=min(scenario.numerics.max_step_flow, 0.1),
    )
    return dataclasses.replace(scenario, numerics=numerics)


def moved_edges(scenario: Scenario, error: Any) -> list[Scenario]:
    """The scenario with each edge of a pass in turn ``error`` s later, its neighbour making up."""
    error = parse(error, "time", name="edge_error", low=0.0)
    items = scenario.schedule
    out = []
    for k in range(len(items) - 1 if error > 0.0 else 0):
        a, b = items[k], items[k + 1]
        if isinstance(a, Pass) == isinstance(b, Pass) or b.duration <= 2.0 * error:
            continue
        pair = [
            dataclasses.replace(x, duration=x.duration + d)  # type: ignore[type-var]
            for x, d in ((a, error), (b, -error))
        ]
        schedule = (*items[:k], *pair, *items[k + 2 :])
        out.append(dataclasses.replace(scenario, schedule=schedule))
    return out


def shown(run: Course | Run, sensor: Sensor, name: str, times: np.ndarray) -> np.ndarray:
    """What channel ``name`` should show at ``times`` (s of the scenario, sorted), SI."""
    c = Course.of(run) if isinstance(run, Run) else run
    t = times - sensor.time_offset
    if name == "pressure":
        return sensed(c.time, c.pressure_gauge, t, sensor.lag) + sensor.offset
    if name == "temperature":
        fluid = sensor.temperature == "fluid"
        return sensed(c.time, c.fluid_temperature if fluid else c.shell_temperature, t)
    mass = sensed(c.time, c.mass, t) + sensor.tare
    return mass + c.empty_mass if name == "weight" else mass


@dataclass(frozen=True)
class Mismatch:
    """Residuals (model minus log) as a function of z; picklable, no closures."""

    scenario: Scenario
    sensor: Sensor
    frees: tuple[Free, ...]
    targets: tuple[Target, ...]

    def __call__(self, z: np.ndarray) -> list[np.ndarray]:
        """Residuals of every target at scaled parameters ``z``; large ones where no run is."""
        values = [f.to_value(float(x)) for f, x in zip(self.frees, z)]
        run = None
        with suppress(InputError):
            scenario, sensor = apply(self.frees, values, self.scenario, self.sensor)
            run = course(scenario, maps_of(self.frees))
        if run is None:
            return [np.full(int(t.used.sum()), LOST * t.noise) for t in self.targets]
        out = []
        for t in self.targets:
            r = shown(run, sensor, t.name, t.times[t.used]) - t.values[t.used]
            out.append(np.where(np.isfinite(r), r, LOST * t.noise))
        return out


def maps_of(frees: Sequence[Free]) -> MapMaker | None:
    """Where flow maps come from while these are moved: None for the feed's own."""
    return interpolated_map if any(f.kind.name == "effective_area" for f in frees) else None


def _within_schedule(
    scenario: Scenario, log: Log, wanted: list[Target]
) -> tuple[list[Target], str]:
    """Rows after the end of the schedule cannot be compared; leaves them out and says so."""
    end = planned(scenario)
    kept, late = [], 0
    for t in wanted:
        inside = t.times <= end + 1e-9
        late = max(late, int((~inside & t.used).sum()))
        t = t.only(inside)
        if t.used.sum() < 5:
            raise LogError(
                f"the schedule ends at {end:g} s, before five usable rows of {t.name}",
                log.report.file or None,
                remedy="lengthen the schedule or check log_start",
            )
        kept.append(t)
    note = f"{late} rows after the end of the schedule ({end:g} s) not used" if late else ""
    return kept, note
