"""Synthetic logs with a known truth, and one fit to each: the cases of the coverage test."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import n2osim as n2
from n2osim.fit.calibrate import Calibration, Sensor, calibrate
from n2osim.fit.synthetic import Recorder, for_truth, synthetic_log

PSI = 6894.757293168361


@dataclass(frozen=True)
class Case:
    """Truth, how it is logged, and where the fit starts (off the truth)."""

    truth: n2.Scenario
    sensor: Sensor
    recorder: Recorder
    true: dict[str, float]
    start: dict[str, float]


def _warm_up(**changes: Any) -> n2.Scenario:
    """Invented: 12 lb aluminium bottle on its blanket, 25 min of heating and 10 min of cooling."""
    base: dict[str, Any] = {
        "fill": "10 lb",
        "start": "60 degF",
        "ambient": n2.Ambient("50 degF"),
        "heater": n2.Heater("300 W"),
        "model": n2.Model(outside_coefficient=11.0),
        "schedule": [n2.Hold("25 min"), n2.Rest("10 min")],
    }
    return n2.Scenario(n2.Bottle.preset("aluminium", capacity="12 lb"), **{**base, **changes})


def _pass(**changes: Any) -> n2.Scenario:
    """Invented: the same bottle, one pass of 9 s in the two-zone model and a short rest."""
    base: dict[str, Any] = {
        "fill": "10 lb",
        "start": "85 degF",
        "ambient": n2.Ambient("60 degF"),
        "feed": n2.Feed.effective_area("2 mm2"),
        "model": n2.Model(two_zone=2000.0),
        "schedule": [n2.Rest("1 s"), n2.Pass("9 s"), n2.Rest("5 s")],
    }
    return n2.Scenario(n2.Bottle.preset("aluminium", capacity="12 lb"), **{**base, **changes})


CASES: dict[str, Case] = {
    "warm-up": Case(
        _warm_up(),
        Sensor(lag=5.0),
        Recorder(interval=5.0, noise=2 * PSI, step=1 * PSI),
        {"heater_power": 300.0, "outside_coefficient": 11.0, "fill": 10 * 0.45359237},
        {"heater_power": 270.0, "outside_coefficient": 8.0, "fill": 4.2},
    ),
    "contact": Case(
        _warm_up(schedule=[n2.Hold("6 min"), n2.Rest("6 min")]),
        Sensor(lag=2.0),
        Recorder(interval=1.0, jitter=0.1, noise=1 * PSI, step=2 * PSI, gap=0.1),
        {"heater_power": 300.0, "contact_resistance": 1e-3},
        {"heater_power": 330.0, "contact_resistance": 2e-3},
    ),
    "pass": Case(
        _pass(),
        Sensor(lag=0.1, offset=5 * PSI),
        Recorder(interval=0.05, noise=2 * PSI, step=2 * PSI, spikes=0.01),
        {"effective_area": 2e-6, "two_zone": 2000.0, "sensor_offset": 5 * PSI},
        {"effective_area": 1.6e-6, "two_zone": 3000.0, "sensor_offset": 0.0},
    ),
}


@lru_cache(maxsize=8)
def _run(name: str) -> n2.Run:
    case = CASES[name]
    return n2.simulate(for_truth(case.truth, sum(i.duration for i in case.truth.schedule)))


def fit(name: str, seed: int, profile: bool = True) -> Calibration:
    """Make the log of one seed and fit it."""
    case = CASES[name]
    log = synthetic_log(
        case.truth, seed=seed, recorder=case.recorder, sensor=case.sensor, run=_run(name)
    )
    return calibrate(
        case.truth,
        log,
        list(case.true),
        sensor=replace(case.sensor, offset=0.0),
        start=case.start,
        log_start=0.0,
        profile=profile,
        search=False,
    )


def inside(name: str, result: Calibration) -> dict[str, tuple[bool, bool]]:
    """Parameter -> (truth in the covariance interval, truth in the profile interval)."""
    return {
        p.name: (
            p.low <= CASES[name].true[p.name] <= p.high,
            p.profile_low <= CASES[name].true[p.name] <= p.profile_high,
        )
        for p in result.parameters
    }
