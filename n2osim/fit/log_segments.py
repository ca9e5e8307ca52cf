"""What happened when in a log: heating, idle, pass, recovery.

Recorded states (solenoid duty, heater state) are believed where they exist. Otherwise the
pressure decides: a pass falls faster than any bottle cools, heating rises significantly, idle is
the rest; a rise that follows a pass until the pressure of before is regained is recovery.
Slopes are differences of means over windows wide enough for the noise, without marked spikes; a
fall of no more than two quantisation steps is no pass.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from n2osim.errors import InputError
from n2osim.fit.logs import Log
from n2osim.scenario.schedule import Hold, Item, Pass, Rest
from n2osim.units import PSI, parse

KINDS = ("heating", "idle", "pass", "recovery")

FALL = 10e3
"""Pa/s (1.5 psi/s): faster falls are passes. A bottle that loses 100 W through its shell falls at
some 0.5 kPa/s while saturated, 3 kPa/s when liquid-full."""


@dataclass(frozen=True)
class LogSegment:
    """One stretch: kind, from and to (log clock, s), pressures there (Pa, as recorded), rows
    [first, last), and what it was told by ("solenoid", "heater" or "pressure")."""

    kind: str
    start: float
    end: float
    start_pressure: float
    end_pressure: float
    first: int
    last: int
    told_by: str

    @property
    def duration(self) -> float:
        """Length, s."""
        return self.end - self.start

    @property
    def slope(self) -> float:
        """Mean pressure change, Pa/s."""
        return (self.end_pressure - self.start_pressure) / max(self.duration, 1e-9)


def detect_segments(
    log: Log, *, shortest: float | str | None = None, fall: float = FALL
) -> tuple[LogSegment, ...]:
    """Stretches of a log in order of time, covering all of it.

    shortest : shorter stretches are joined to their neighbours, s (None: six rows, at least
    0.3 s). fall : pressure fall (Pa/s) from which it is a pass, where no solenoid was recorded.
    """
    channel = log.pressure_channel
    t = log.time
    p = _filled(t, log.clean(channel))
    if shortest is None:
        least = max(6.0 * log.report.interval, 0.3)
    else:
        least = parse(shortest, "time", name="shortest segment")
    if fall <= 0.0:
        raise InputError("pass fall", fall, "Pa/s", "above 0")
    noise = float((log.report.noise or {}).get(channel, 0.0))
    flowing, by_flow = _flowing(log, t, p, noise, fall)
    heating, by_heat = _heating(log, t, p, noise, flowing)
    code = np.where(flowing, 2, np.where(heating, 0, 1))
    code = _joined(t, code, least, by_flow == "solenoid", by_heat == "heater")
    told = {2: by_flow, 0: by_heat, 1: by_heat}
    runs = _runs(code)
    edges = [float(t[0]), *(_edge(t, code, a, told) for a, _ in runs[1:]), float(t[-1])]
    out = []
    for (first, last), start, end in zip(runs, edges[:-1], edges[1:], strict=True):
        kind = KINDS[int(code[first])]
        a, b = _level(p, first, last)
        out.append(LogSegment(kind, start, end, a, b, first, last, told[int(code[first])]))
    return tuple(_recoveries(out))


def _edge(t: np.ndarray, code: np.ndarray, row: int, told: dict[int, str]) -> float:
    """Time of the change before ``row``: of a recorded state it lies between two rows."""
    flow = 2 in (code[row - 1], code[row])
    recorded = told[2] == "solenoid" if flow else told[0] == "heater"
    return float(0.5 * (t[row - 1] + t[row]) if recorded else t[row])


def _joined(
    t: np.ndarray, code: np.ndarray, least: float, by_solenoid: bool, by_heater: bool
) -> np.ndarray:
    """Short stretches joined to their neighbours, but never across what was recorded."""
    if not by_solenoid:
        return _join_short(t, code, least)
    if by_heater:
        return code
    code = code.copy()
    for first, last in _runs((code == 2).astype(int)):
        if code[first] != 2:
            code[first:last] = _join_short(t[first:last], code[first:last], least)
    return code


def _filled(t: np.ndarray, p: np.ndarray) -> np.ndarray:
    good = np.isfinite(p)
    return np.interp(t, t[good], p[good])


def _level(p: np.ndarray, first: int, last: int) -> tuple[float, float]:
    n = max(1, min(5, (last - first) // 3))
    return float(np.median(p[first : first + n])), float(np.median(p[last - n : last]))


def _slope(t: np.ndarray, p: np.ndarray, width: float) -> np.ndarray:
    """Slope (Pa/s) between the means of the half windows before and after each row.

    Means rather than medians: where noise dithers a coarse quantisation, only they see between
    the steps (spikes are gone already).
    """
    total = np.concatenate([[0.0], np.cumsum(p)])
    half = 0.5 * max(width, 4.0 * max(float(np.median(np.diff(t))), 1e-9))
    here = np.arange(t.size)
    first = np.minimum(np.searchsorted(t, t - half), here)
    last = np.maximum(np.searchsorted(t, t + half, side="right"), here + 1)
    clock = np.concatenate([[0.0], np.cumsum(t)])

    def means(low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        n = high - low
        return (total[high] - total[low]) / n, (clock[high] - clock[low]) / n

    p0, t0 = means(first, here + 1)
    p1, t1 = means(here, last)
    return (p1 - p0) / np.maximum(t1 - t0, 1e-9)


def _width(t: np.ndarray, noise: float, slope: float, least: float) -> float:
    """Window that makes ``slope`` stand five times above the slope's own noise.

    Two means over w/2 have noise sigma sqrt(2 dt/w) each and lie w/2 apart: the slope's noise is
    4 sigma sqrt(dt) w^(-3/2).
    """
    interval = max(float(np.median(np.diff(t))), 1e-9)
    w = (5.0 * 4.0 * noise * math.sqrt(interval) / slope) ** (2.0 / 3.0)
    return min(max(w, least, 4.0 * interval), 0.25 * max(float(t[-1] - t[0]), interval))


def _flowing(
    log: Log, t: np.ndarray, p: np.ndarray, noise: float, fall: float
) -> tuple[np.ndarray, str]:
    if "solenoid_duty" in log:
        return np.nan_to_num(log["solenoid_duty"]) > 0.02, "solenoid"
    slope = _slope(t, p, _width(t, noise, fall, 0.4))
    found = _grown(slope < -fall, slope < -0.35 * fall)
    step = float((log.report.resolution or {}).get(log.pressure_channel, 0.0))
    for first, last in _runs(found.astype(int)):
        high, low = _level(p, first, last)
        if found[first] and high - low < max(2.5 * step, 4.0 * noise):
            found[first:last] = False  # one step of the quantisation, or noise
    return found, "pressure"


def _heating(
    log: Log, t: np.ndarray, p: np.ndarray, noise: float, flowing: np.ndarray
) -> tuple[np.ndarray, str]:
    if "heater_on" in log:
        return (np.nan_to_num(log["heater_on"]) > 0.5) & ~flowing, "heater"
    rise = 400.0  # Pa/s; 100 W in a 12 lb aluminium bottle gives about 1 kPa/s
    slope = np.zeros(t.size)
    for first, last in _runs(flowing.astype(int)):
        if not flowing[first] and last - first > 3:
            part = slice(first, last)
            slope[part] = _slope(t[part], p[part], _width(t[part], noise, rise, 5.0))
    return _grown(slope > rise, slope > 0.5 * rise) & ~flowing, "pressure"


def _grown(core: np.ndarray, weak: np.ndarray) -> np.ndarray:
    """Runs of ``weak`` that contain a ``core`` row (hysteresis)."""
    out = np.zeros(core.size, bool)
    for first, last in _runs(weak.astype(int)):
        if weak[first] and core[first:last].any():
            out[first:last] = True
    return out


def _runs(code: np.ndarray) -> list[tuple[int, int]]:
    """[first, last) of stretches of equal values."""
    edges = np.flatnonzero(np.diff(code)) + 1
    bounds = [0, *edges.tolist(), code.size]
    return [(a, b) for a, b in zip(bounds[:-1], bounds[1:]) if b > a]


def _join_short(t: np.ndarray, code: np.ndarray, least: float) -> np.ndarray:
    """Stretches shorter than ``least`` take the value of their longer neighbour."""
    code = code.copy()
    for _ in range(code.size):
        runs = _runs(code)
        if len(runs) < 2:
            break
        length = [float(t[min(b, t.size - 1)] - t[a]) for a, b in runs]
        k = int(np.argmin(length))
        if length[k] >= least:
            break
        left = length[k - 1] if k > 0 else -1.0
        right = length[k + 1] if k + 1 < len(runs) else -1.0
        neighbour = runs[k - 1] if left >= right else runs[k + 1]
        code[runs[k][0] : runs[k][1]] = code[neighbour[0]]
    return code


def _recoveries(segments: list[LogSegment]) -> list[LogSegment]:
    """Heating after a pass is recovery until the pressure from before the pass is regained."""
    out: list[LogSegment] = []
    wanted = -math.inf
    for s in segments:
        if s.kind == "pass":
            wanted = max(wanted, s.start_pressure)
        if s.kind == "heating" and wanted > -math.inf and s.start_pressure < wanted:
            s = replace(s, kind="recovery")
            if s.end_pressure >= 0.99 * wanted:
                wanted = -math.inf
        out.append(s)
    return out


def replay_schedule(segments: tuple[LogSegment, ...], *, switch: bool = False) -> list[Item]:
    """A schedule that does what the log shows, for a scenario beginning at the log's first row.

    switch : True leaves the heater to the scenario's pressure switch in every stretch without
    flow; False turns it on and off as logged, for a scenario WITHOUT a switch (heater armed means
    heater on then).
    """
    items: list[Item] = []
    for s in segments:
        if s.duration <= 0.0:
            continue
        if s.kind == "pass":
            items.append(Pass(s.duration))
        elif switch or s.kind in ("heating", "recovery"):
            items.append(Hold(s.duration))
        else:
            items.append(Rest(s.duration))
    return items


def edge_error(log: Log, segments: tuple[LogSegment, ...]) -> float:
    """Standard deviation (s) of the edges of the passes of a log.

    A recorded change lies anywhere between two rows; one told by the pressure within two rows.
    """
    passes = [s for s in segments if s.kind == "pass"]
    if not passes:
        return 0.0
    recorded = all(s.told_by == "solenoid" for s in passes)
    return log.report.interval * (1.0 / math.sqrt(12.0) if recorded else 1.0)


def engine_courses(log: Log, start: float, end: float, most: int = 60) -> dict[str, Any]:
    """Fuel pressure and boost of a logged pass as fields of an engine side.

    start, end : of the pass, log clock, s. At most ``most`` pairs (s since it began, Pa gauge)
    each, means over equal times; empty where the log has neither channel.
    """
    out: dict[str, Any] = {}
    names = {"fuel_pressure": "fuel_pressure_course", "boost": "boost_course"}
    for channel, field in names.items():
        if channel not in log:
            continue
        values = log.clean(channel)
        there = np.flatnonzero(np.isfinite(values) & (log.time >= start) & (log.time <= end))
        if there.size:
            parts = np.array_split(there, min(most, there.size))
            times = (float(log.time[p].mean() - start) for p in parts)
            pairs = dict(zip(times, (float(values[p].mean()) for p in parts), strict=True))
            out[field] = tuple(pairs.items())
    return out


def segments_text(segments: tuple[LogSegment, ...], system: str = "shop") -> str:
    """The stretches as lines of text; pressures as recorded (gauge or absolute)."""
    unit, factor = ("psi", PSI) if system == "shop" else ("Pa", 1.0)
    rows = [
        f"  {s.kind:<9}{s.start:>10.2f} to {s.end:>10.2f} s, {s.start_pressure / factor:>7.1f} "
        f"to {s.end_pressure / factor:>7.1f} {unit} (told by the {s.told_by})"
        for s in segments
    ]
    return "\n".join(["segments", *rows])
