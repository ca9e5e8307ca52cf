"""Time to each limit: hot soak in a closed boot, faults of switch and relay, cool-down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from n2osim.errors import InputError, IntegrationError, NoSolutionError
from n2osim.fluid import RHO_CRITICAL
from n2osim.hardware.ambient import Ambient, Boot
from n2osim.hardware.cylinder_rules import EXPOSURE_LIMIT
from n2osim.physics.charge import leaves_saturation
from n2osim.results.run import Run, simulate
from n2osim.scenario.scenario import FittedBottle, Scenario
from n2osim.scenario.schedule import Hold, Rest
from n2osim.units import format_quantity, parse

_LONGEST = 12 * 3600.0


@dataclass(frozen=True)
class Reached:
    """A limit and when it was reached.

    value: the limit (kind: its dimension); time: s since the start, None if not reached; highest:
    the highest value that the run came to.
    """

    name: str
    bottle: str
    value: float
    kind: str
    time: float | None
    highest: float

    def __str__(self) -> str:
        limit = format_quantity(self.value, self.kind)
        if self.time is not None:
            return f"{self.name} ({limit}) reached after {format_quantity(self.time, 'time')}"
        return (
            f"{self.name} ({limit}) not reached, {format_quantity(self.highest, self.kind)} at most"
        )


@dataclass(frozen=True)
class SoakResult:
    """Peak pressure (Pa gauge) and its time (s), hottest wall (K), times to the limits, the run.

    ended: None, or why the run ended early (what is given is what happened until then).
    """

    peak_pressure: float
    peak_time: float
    hottest_wall: float
    limits: tuple[Reached, ...]
    run: Run
    ended: str | None = None

    def time_to(self, name: str) -> float | None:
        """Time (s) to the limit whose name begins so, None if it was not reached."""
        for limit in self.limits:
            if limit.name.startswith(name):
                return limit.time
        raise InputError("limit", name, "", ", ".join(x.name for x in self.limits), "")

    def __str__(self) -> str:
        lines = [
            f"peak {format_quantity(self.peak_pressure, 'gauge_pressure')} after "
            f"{format_quantity(self.peak_time, 'time')}, wall "
            f"{format_quantity(self.hottest_wall, 'temperature')} at most",
            *map(str, self.limits),
        ]
        return "\n".join(lines + ([] if self.ended is None else [f"ended early: {self.ended}"]))


def time_to_limits(scenario: Scenario) -> SoakResult:
    """Carry out a scenario and say when each limit of each bottle is first reached.

    Limits: 5/4 of the service pressure (information: liquefied N2O is exempt, 49 CFR 173.301a(d)),
    relief device, test pressure, the 125 degF exposure limit, liquid-full (for charges above the
    critical density), the shell's own temperature limit. For faults, give the switch its ``fault``
    and a long Hold. A run that leaves the model's range is reported as far as it goes.
    """
    ended = None
    try:
        run = simulate(scenario)
    except IntegrationError as problem:
        if problem.partial_run is None:
            raise
        run, ended = problem.partial_run, f"{problem.message} at {problem.time:.4g} s"
    p = run["pressure_gauge_Pa"]
    top = int(p.max(axis=0).argmax())
    limits = tuple(
        found for i, fitted in enumerate(scenario.bottles) for found in _reached(run, i, fitted)
    )
    return SoakResult(
        float(p.max()),
        float(run.time[top]),
        float(run["wall_temperature_K"].max()),
        limits,
        run,
        ended,
    )


def _reached(run: Run, i: int, fitted: FittedBottle) -> list[Reached]:
    b = fitted.bottle
    pressure = run["pressure_gauge_Pa"][i]
    fluid = run["fluid_temperature_K"][i, 0]
    wall = run["wall_temperature_K"][i].max(axis=(0, 1))
    density = fitted.fill / b.volume
    full = leaves_saturation(density)[0] if density > RHO_CRITICAL else None
    service = None if b.service_pressure is None else 1.25 * b.service_pressure
    wanted = (
        ("liquid-full", full, "temperature", fluid),
        ("exposure limit of N2O cylinders", EXPOSURE_LIMIT, "temperature", fluid),
        ("5/4 of the service pressure", service, "gauge_pressure", pressure),
        ("relief device", b.relief_pressure, "gauge_pressure", pressure),
        ("test pressure", b.test_pressure, "gauge_pressure", pressure),
        ("shell temperature", b.max_wall_temperature, "temperature", wall),
    )
    return [
        Reached(
            name,
            fitted.name,
            float(limit),
            kind,
            first_time(run.time, series, float(limit)),
            float(series.max()),
        )
        for name, limit, kind, series in wanted
        if limit is not None
    ]


def first_time(
    time: np.ndarray, series: np.ndarray, level: float, falling: bool = False
) -> float | None:
    """First time (s) at which a series is at or beyond a level, interpolated; None if never."""
    sign = -1.0 if falling else 1.0
    beyond = sign * (series - level) >= 0.0
    if not beyond.any():
        return None
    k = int(beyond.argmax())
    if k == 0:
        return float(time[0])
    w = (level - series[k - 1]) / (series[k] - series[k - 1])
    return float(time[k - 1] + w * (time[k] - time[k - 1]))


def hot_soak(
    scenario: Scenario,
    duration: Any = "8 h",
    *,
    boot: Boot | None = None,
    air: Any = None,
    sun: Any = None,
) -> SoakResult:
    """Leave the bottles in a closed boot in the sun, heater off: peak and time to each limit.

    boot : the air node around them (default ``Boot(solar="250 W")``, which ends some 30 K
    above the outside air; typical of a closed car in the sun, no source). air : outside
    temperature, K, DayNight or table (None: the scenario's).
    sun : on the bottle itself, W/m2 (default: none, it lies in the dark).
    """
    ambient = replace(
        scenario.ambient,
        temperature=scenario.ambient.temperature if air is None else Ambient(air).temperature,
        enclosure=Boot(solar="250 W") if boot is None else boot,
        sun=0.0 if sun is None else sun,
        air_speed=0.0,
    )
    length = parse(duration, "time", name="soak", low=1.0)
    return time_to_limits(scenario.replace(ambient=ambient, schedule=[Rest(length)]))


# --- cooling -------------------------------------------------------------------------------------
@dataclass(frozen=True)
class CoolDown:
    """Pressure after the heater is switched off in the band.

    times: s after that at which it first falls to each of ``levels`` (Pa gauge), None if not in
    ``duration``. peak: highest pressure after it, Pa gauge; end_pressure, end_temperature: at the
    end of the wait.
    """

    levels: tuple[float, ...]
    times: tuple[float | None, ...]
    peak: float
    end_pressure: float
    end_temperature: float
    duration: float
    run: Run


def cool_down(
    scenario: Scenario, levels: Sequence[Any] = ("1000 psig", "900 psig"), duration: Any = "4 h"
) -> CoolDown:
    """Heat the bottle to where its switch opens, leave the heater off, watch the pressure fall.

    The scenario (first bottle counts) keeps its hardware, surroundings and start; its schedule
    does not matter. NoSolutionError when the switch never opens.
    """
    wanted = tuple(parse(x, "gauge_pressure", name="level", low=0.0) for x in levels)
    length = parse(duration, "time", name="cool-down", low=1.0)
    run = simulate(scenario.replace(schedule=[Hold(_LONGEST, until_open=True), Rest(length)]))
    if run.holds[0].warm_up_time is None:
        raise NoSolutionError(
            "no cool-down because the switch never opened within "
            f"{format_quantity(_LONGEST, 'time')}: the pressure came to "
            f"{format_quantity(run.holds[0].peak_pressure, 'gauge_pressure')}"
        )
    rows = run["segment"] == 1
    time = run.time[rows] - run.time[rows][0]
    p = run["pressure_gauge_Pa"][0, rows]
    # Looked for from the peak on: the wall may push the pressure up through a level first.
    top = int(p.argmax())
    times = tuple(first_time(time[top:], p[top:], level, falling=True) for level in wanted)
    return CoolDown(
        wanted,
        times,
        float(p.max()),
        float(p[-1]),
        float(run["fluid_temperature_K"][0, 0, rows][-1]),
        length,
        run,
    )


__all__ = [
    "CoolDown",
    "Reached",
    "SoakResult",
    "cool_down",
    "first_time",
    "hot_soak",
    "time_to_limits",
]
