"""Fit the model to a log and say how sure the fit is.

    log = read_log("warm_up.csv", columns={"time": "t_s", "gauge_pressure": ("P", "psig")})
    fit = calibrate(scenario, log, free=["heater_power", "outside_coefficient"])
    print(fit.summary())
    fit.scenario.to_toml("mine.toml")
    band = fit.predict(then=[Rest("10 min"), Pass("9 s")])

Method: bounded robust least squares (scipy ``least_squares``, trust region, soft L1) over the
channels asked for; start values from a scan of the log; covariance by a sandwich estimator with
the residuals' own correlation in time (see :mod:`n2osim.fit.calibrate_noise`); profile
likelihood with the same inflation.
"""

from __future__ import annotations

import dataclasses
import math
import time as clock
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from scipy.stats import qmc

from n2osim.errors import NoSolutionError
from n2osim.fit import calibrate_fit as fit_
from n2osim.fit.calibrate_model import (
    LOST,
    Mismatch,
    Target,
    begin,
    for_fitting,
    moved_edges,
    targets,
)
from n2osim.fit.calibrate_parameters import Free, Sensor, apply, read_free
from n2osim.fit.calibrate_profile import far_values, profile_ends
from n2osim.fit.calibrate_result import Calibration, Fitted, goodness_of, residuals_of
from n2osim.fit.calibrate_warnings import warnings_of
from n2osim.fit.log_pressure import pressure_doubts
from n2osim.fit.log_quality import robust_sigma
from n2osim.fit.logs import Log
from n2osim.results.run import Run, simulate
from n2osim.scenario.scenario import Scenario

_NET = 32  # points of the Sobol net over all parameters
_SCAN = 9  # trial values of each parameter before the fit proper


def calibrate(
    scenario: Scenario,
    log: Log,
    free: Sequence[str] | Mapping[str, Any],
    *,
    use: Sequence[str] = ("pressure",),
    sensor: Sensor | None = None,
    start: Mapping[str, Any] | None = None,
    log_start: Any = None,
    window: Any = None,
    profile: bool = True,
    search: bool = True,
    edge_error: Any = 0.0,
) -> Calibration:
    """Fit ``free`` parameters of ``scenario`` to ``log``.

    Parameters
    ----------
    scenario : what was done while the log ran; its values are the fixed ones and a first guess.
    free : names from ``PARAMETERS``, or name -> (low, high) with limits in SI or text with a unit.
    use : channels to fit: "pressure", "temperature", "weight", "charge". Each is weighed by its
        own residual spread.
    sensor : known lag, offset and so on of the log's channels.
    start : name -> start value (SI or text); others are scanned for.
    log_start : time of the log's clock (s or text) at which the scenario begins; None: its first
        row.
    window : (from, to) or several of them, log clock, s or text: rows to fit (all others are only
        shown).
    profile : intervals by profile likelihood too.
    search : look for a better start over the whole range, and afterwards for a second answer far
        from the first (most of the cost); False trusts the start values.
    edge_error : how well (standard deviation, s) it is known when passes begin and end, as in a
        schedule replayed from a log; intervals take it in.

    Returns
    -------
    Calibration.

    Raises
    ------
    InputError and its kin for the arguments, LogError for a log without the channel or rows,
    NoSolutionError when no start value lets the model run.

    Examples
    --------
    >>> import n2osim as n2
    >>> from n2osim.fit.synthetic import synthetic_log
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "12 lb"), fill="10.1 lb", start="75 degF",
    ...     heater=n2.Heater("300 W"), switch=n2.PressureSwitch("835 psig", "875 psig"),
    ...     schedule=[n2.Hold("10 min")],
    ... )
    >>> log = synthetic_log(car.replace("heater.power", "270 W"), seed=4)
    >>> fit = n2.calibrate(car, log, ["heater_power"], profile=False, search=False)
    >>> print(f"{fit['heater_power'].value:.0f} W")
    270 W
    """
    began = clock.perf_counter()
    sensor = Sensor() if sensor is None else sensor
    frees = read_free(scenario, sensor, free, start)
    doubts = pressure_doubts(log, scenario) if "pressure" in use else ()
    wanted, note = targets(scenario, log, use, log_start, window)
    mismatch = Mismatch(scenario, sensor, frees, tuple(wanted))
    z, runs = np.zeros(len(frees)), 0
    if search:
        mismatch, z, runs = _searched(mismatch)
    mismatch = dataclasses.replace(mismatch, scenario=for_fitting(scenario))
    problem = _problem(mismatch)
    z = _solve(problem, wanted, z)
    edges = moved_edges(mismatch.scenario, edge_error)
    z, cov, ends, far = _intervals(problem, z, profile, search, edges)
    ends = {k: (min([a, *far.get(k, [])]), max([b, *far.get(k, [])])) for k, (a, b) in ends.items()}
    cost = (runs + problem.runs, clock.perf_counter() - began)
    fitted = _parameters(mismatch.frees, problem, z, cov, ends)
    said = (_begin(log, log_start), note, *doubts, *_valleys(mismatch.frees, far))
    notes = tuple(n for n in said if n)
    zero = begin(log, log_start)
    return _result(scenario, log, zero, mismatch, problem, z, cov, fitted, notes, cost)


def _begin(log: Log, log_start: Any) -> str:
    """What was assumed about the clock, where that is not plain."""
    first = float(log.time[0])
    if log_start is not None or abs(first) < 1e-9:
        return ""
    return (
        f"the scenario is taken to begin at the log's first row, {first:g} s on its clock; "
        "log_start puts it elsewhere"
    )


def _valleys(frees: Sequence[Free], far: Mapping[int, list[float]]) -> list[str]:
    """Values far from the estimate that fit as well, in words."""
    return [
        f"{frees[k].kind.name} fits as well near {frees[k].to_value(v):.4g} {frees[k].kind.unit}: "
        "the log has two answers; the profile interval spans both"
        for k, values in far.items()
        for v in values[:1]
    ]


def _problem(mismatch: Mismatch) -> fit_.Problem:
    low, high = np.array([[f.to_z(f.low), f.to_z(f.high)] for f in mismatch.frees]).T
    times = [t.times[t.used] for t in mismatch.targets]
    return fit_.Problem(mismatch, times, [t.noise for t in mismatch.targets], low, high)


# --- start ----------------------------------------------------------------------------------
def _candidates(free: Free, wanted: Sequence[Target], scenario: Scenario) -> np.ndarray:
    """Trial values: spread over the limits, and what the data themselves suggest."""
    low, high = free.to_z(free.low), free.to_z(free.high)
    reach = math.log(6.0) if free.kind.log else 10.0
    spread = np.linspace(max(low, -reach), min(high, reach), _SCAN)
    suggested = [0.0]
    for t in wanted:
        first = float(np.median(t.values[: min(5, t.values.size)]))
        if free.kind.name == "start_temperature" and t.name == "pressure":
            suggested += _saturated(first + scenario.ambient.pressure)
        if free.kind.name == "start_temperature" and t.name == "temperature":
            suggested.append(first)
        if free.kind.name == "fill" and t.name == "charge":
            suggested.append(first)
        if free.kind.name == "fill" and t.name == "weight":
            suggested.append(first - scenario.bottles[0].bottle.empty_mass)
    extra = [free.to_z(v) for v in suggested[1:] if free.low < v < free.high]
    return np.concatenate([[0.0], extra, spread])


def _saturated(p: float) -> list[float]:
    """Saturation temperature (K) of pressure ``p`` (Pa) in a list, empty where there is none."""
    from n2osim.fluid.equation_of_state import P_CRITICAL, P_TRIPLE
    from n2osim.fluid.saturation import sat_T

    return [float(sat_T(p))] if P_TRIPLE < p < P_CRITICAL else []


def _scan(coarse: Mismatch, wanted: Sequence[Target]) -> tuple[Mismatch, int]:
    """Better start values: each parameter in turn at the trial value with the least misfit."""
    runs = 0
    for k, free in enumerate(coarse.frees):
        if free.given:
            continue
        problem = _problem(coarse)
        z = np.zeros(len(coarse.frees))
        best = (math.inf, 0.0)
        for x in _candidates(free, wanted, coarse.scenario):
            z[k] = x
            best = min(best, (_misfit(problem, z), float(x)))
        runs += problem.runs
        better = dataclasses.replace(free, start=free.to_value(best[1]))
        frees = (*coarse.frees[:k], better, *coarse.frees[k + 1 :])
        coarse = dataclasses.replace(coarse, frees=frees)
    return coarse, runs


def _searched(mismatch: Mismatch) -> tuple[Mismatch, np.ndarray, int]:
    """With better starts of its parameters, the point to begin at, and the runs that took."""
    thinned = tuple(_thinned(t, 400) for t in mismatch.targets)
    coarse, scanned = _scan(dataclasses.replace(mismatch, targets=thinned), mismatch.targets)
    guess = np.array([f.to_z(old.start) for f, old in zip(coarse.frees, mismatch.frees)])
    z, more = _starts(coarse, guess)
    return dataclasses.replace(mismatch, frees=coarse.frees), z, scanned + more


def _misfit(problem: fit_.Problem, z: np.ndarray) -> float:
    """Mean absolute residual: spikes hardly count, and starts are far from the noise anyway."""
    return float(np.mean(np.abs(problem.residuals(z))))


def _starts(coarse: Mismatch, guess: np.ndarray) -> tuple[np.ndarray, int]:
    """Best of several descents: from the scanned start, from what the scenario said (``guess``),
    and from good, far-apart points of a net.

    A bottle nearly full of liquid and one nearly full of vapour can show similar pressures, so
    the misfit may have more than one valley.
    """
    problem, frees = _problem(coarse), coarse.frees
    problem.central = False
    origin = np.zeros(len(frees))
    if all(f.given for f in frees):
        return origin, 0
    reach = np.array([math.log(4.0) if f.kind.log else 5.0 for f in frees])
    low, high = np.maximum(problem.low, -reach), np.minimum(problem.high, reach)
    net = qmc.Sobol(len(frees), seed=1).random(_NET)
    points = [np.where([f.given for f in frees], 0.0, low + u * (high - low)) for u in net]
    points.sort(key=lambda z: _misfit(problem, z))
    chosen = [origin]
    for z in [guess, *points]:
        apart = min(float(np.max(np.abs(z - c) / (high - low))) for c in chosen)
        if apart > (0.05 if z is guess else 0.2) and len(chosen) < 5:
            chosen.append(z)
    for most, keep in ((4, 2), (12, 1)):  # the worse half need not go all the way down
        ends = []
        for z in chosen:
            spread = map(robust_sigma, problem.channels(z))
            problem.scale = [max(t.noise, s) for t, s in zip(coarse.targets, spread)]
            ends.append(fit_.solve(problem, z, most=most, tolerance=1e-4))
        problem.scale = [t.noise for t in coarse.targets]
        ends.sort(key=lambda z: fit_.cost(problem.residuals(z)))
        chosen = ends[:keep]
    return chosen[0], problem.runs


def _thinned(t: Target, most: int) -> Target:
    return t.only(np.flatnonzero(t.used)[:: max(1, -(-int(t.used.sum()) // most))])


# --- fit ------------------------------------------------------------------------------------
def _solve(problem: fit_.Problem, wanted: Sequence[Target], z: np.ndarray) -> np.ndarray:
    """Fit, take the spread of what is left as the scale, fit again with fitting step lengths."""
    if all(np.all(np.abs(r) >= LOST * t.noise) for r, t in zip(problem.channels(z), wanted)):
        raise NoSolutionError(
            "the model cannot be run from any start value tried: give start values or limits"
        )
    for _ in range(4):
        before = list(problem.scale)
        problem.scale = [
            max(t.noise, robust_sigma(r), 1e-12) for r, t in zip(problem.channels(z), wanted)
        ]
        z = fit_.solve(problem, z)
        # Steps of about a standard error: far above the solver's noise, yet local.
        spread = np.sqrt(np.diag(fit_.covariance(problem, z).matrix))
        step, problem.step = problem.step, np.clip(spread, 1e-4, 1e-2)
        same_steps = np.all(np.abs(np.log(problem.step / step)) < math.log(2.0))
        if same_steps and all(abs(a / b - 1.0) < 0.02 for a, b in zip(before, problem.scale)):
            break
    return z


def _intervals(
    problem: fit_.Problem,
    z: np.ndarray,
    profile: bool,
    search: bool,
    edges: Sequence[Scenario] = (),
) -> tuple[np.ndarray, fit_.Covariance, dict[int, tuple[float, float]], dict[int, list[float]]]:
    """Covariance, profiles, and far-off values that fit as well; where any of these finds a
    better point, everything again from there."""
    for _ in range(4):
        problem.lower = None
        cov = fit_.widened(fit_.covariance(problem, z), problem, z, _by_edges(problem, z, edges))
        ends: dict[int, tuple[float, float]] = {}
        far: dict[int, list[float]] = {}
        for k in range(z.size if profile else 0):
            if cov.determined[k] and problem.lower is None:
                ends[k] = profile_ends(problem, z, cov, k)
                if search:
                    far[k] = far_values(problem, z, cov, k, ends[k])
        if problem.lower is None:
            break
        z = fit_.solve(problem, problem.lower[1])
    return z, cov, ends, far


def _by_edges(problem: fit_.Problem, z: np.ndarray, edges: Sequence[Scenario]) -> list[np.ndarray]:
    """How the residuals change as each edge of a pass moves by its error."""
    base = problem.residuals(z)
    out = []
    for moved in edges:
        raw = dataclasses.replace(problem.raw, scenario=moved)(z)  # type: ignore[type-var]
        out.append(np.concatenate([r / s for r, s in zip(raw, problem.scale)]) - base)
    return out


def _parameters(
    frees: Sequence[Free],
    problem: fit_.Problem,
    z: np.ndarray,
    cov: fit_.Covariance,
    ends: Mapping[int, tuple[float, float]],
) -> tuple[Fitted, ...]:
    q = fit_.quantile(cov.freedom)
    out = []
    for k, f in enumerate(frees):
        sd = math.sqrt(max(float(cov.matrix[k, k]), 0.0))
        known = bool(cov.determined[k])
        value = f.to_value(float(z[k]))
        reach = q * sd if known else math.inf
        low, high = (_value(f, float(z[k]) + s * reach) for s in (-1.0, 1.0))
        profile = ends.get(k, (math.nan, math.nan) if known else (-math.inf, math.inf))
        p_low, p_high = (_value(f, x) if not math.isnan(x) else math.nan for x in profile)
        width = problem.high[k] - problem.low[k]
        at_limit = min(z[k] - problem.low[k], problem.high[k] - z[k]) < 1e-4 * width
        error = sd * (value if f.kind.log else f.kind.scale)
        numbers = (value, error, low, high, p_low, p_high, f.start)
        kind = f.kind
        out.append(Fitted(kind.name, kind.unit, *numbers, known, bool(at_limit), kind.words))
    return tuple(out)


def _value(free: Free, z: float) -> float:
    """Value at z, limits respected (infinite z gives the limit)."""
    if math.isinf(z) or abs(z) > 500.0:
        return free.high if z > 0 else free.low
    return free.to_value(z)


def _result(
    scenario: Scenario,
    log: Log,
    zero: float,
    mismatch: Mismatch,
    problem: fit_.Problem,
    z: np.ndarray,
    cov: fit_.Covariance,
    fitted: tuple[Fitted, ...],
    notes: tuple[str, ...],
    cost: tuple[int, float],
) -> Calibration:
    """All of it; cost: model runs and s."""
    frees, wanted = mismatch.frees, mismatch.targets
    final, sensor = apply(frees, [p.value for p in fitted], scenario, mismatch.sensor)
    began = clock.perf_counter()
    run = simulate(for_fitting(final))
    each = clock.perf_counter() - began
    pieces = tuple(residuals_of(run, sensor, t, zero, log) for t in wanted)
    goodness = tuple(goodness_of(r, t.noise, len(frees)) for r, t in zip(pieces, wanted))
    final, more = _measured_jets(final, run, fitted)
    correlation = _correlation(cov.matrix)
    warnings = warnings_of(final, run, wanted, fitted, correlation, goodness)
    return Calibration(
        final,
        sensor,
        fitted,
        correlation,
        goodness,
        pieces,
        warnings,
        (*notes, *more),
        *cost,
        each,
        run,
        frees,
        z,
        cov.matrix,
        cov.freedom,
        (problem.low, problem.high),
    )


def _measured_jets(
    scenario: Scenario, run: Run, fitted: tuple[Fitted, ...]
) -> tuple[Scenario, tuple[str, ...]]:
    """The scenario whose jets say how well their area is known, and what they are, in words."""
    area = next((p for p in fitted if p.name == "effective_area" and p.determined), None)
    flowing = run["outflow_kg_s"][0] > 0.0
    if area is None or not flowing.any():
        return scenario, ()
    low, high = area.interval
    half = 0.5 * (high - low) / area.value
    k = scenario.feed_index(None)
    name, feed = scenario.feeds[k]
    mean = float(run["fluid_temperature_K"][0, 0, flowing].mean())
    jets = dataclasses.replace(feed.jets, cd_spread=min(half, 1.0), measured_at=mean)
    feeds = list(scenario.feeds)
    feeds[k] = (name, dataclasses.replace(feed, jets=jets))
    said = f"jets of feed {name}: {jets.count} of {jets.bore * 1e3:.4g} mm, cd {jets.cd:.3f}"
    return scenario.replace(feeds=tuple(feeds)), (said,) if jets.cd < 1.0 else ()


def _correlation(matrix: np.ndarray) -> np.ndarray:
    sd = np.sqrt(np.maximum(np.diag(matrix), 1e-300))
    return np.clip(matrix / np.outer(sd, sd), -1.0, 1.0)
