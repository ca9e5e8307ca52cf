"""What a fit says: values with intervals, warnings, goodness, prediction, cross-validation."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from n2osim.above import above
from n2osim.errors import InputError
from n2osim.fit.calibrate_model import Target, begin, maps_of, shown, targets
from n2osim.fit.calibrate_parameters import PARAMETERS, Free, Sensor, apply
from n2osim.fit.course import course
from n2osim.fit.logs import Log
from n2osim.fit.trace import sample
from n2osim.results.frames import (
    Comparable,
    dataframe,
    dataset_of,
    json_text,
    read_json,
    without_nan,
)
from n2osim.results.run import Run, simulate
from n2osim.scenario.file import loads
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Item

FIT_SCHEMA = 1
"""Version of the JSON format."""


@dataclass(frozen=True)
class Fitted:
    """One fitted parameter, SI. low, high: 95 % interval from the covariance; profile_low,
    profile_high: from the profile likelihood (NaN when not asked for). error: standard error in
    the value's unit. determined: False when the log says nothing about it. at_limit: it sits on
    one of its limits. start: where the fit began."""

    name: str
    unit: str
    value: float
    error: float
    low: float
    high: float
    profile_low: float
    profile_high: float
    start: float
    determined: bool
    at_limit: bool
    words: str = ""

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval: the profile's where there is one, else the covariance's."""
        if math.isnan(self.profile_low):
            return self.low, self.high
        return self.profile_low, self.profile_high


@dataclass(frozen=True)
class Goodness:
    """How well one channel is met by the model, over the rows that were fitted. SI.

    noise: sample-to-sample noise of the channel; scale: spread of the residuals (robust);
    ratio = scale/noise: 1 when only noise is left. share, correlation_time: how much of the
    residuals hangs together and for how long; effective: independent values among ``count``.
    outliers: residuals beyond 4 scales. r2: share of the channel's variance that is explained.
    """

    channel: str
    unit: str
    count: int
    rms: float
    bias: float
    worst: float
    noise: float
    scale: float
    ratio: float
    share: float
    correlation_time: float
    effective: float
    outliers: int
    r2: float


@dataclass(frozen=True, eq=False)
class Residuals(Comparable):
    """For the residual plot, one channel: log clock (s), logged, model, logged minus model (SI),
    ``used``: rows that were fitted, ``lines`` in the file."""

    channel: str
    unit: str
    time: np.ndarray
    logged: np.ndarray
    model: np.ndarray
    residual: np.ndarray
    used: np.ndarray
    lines: np.ndarray


@dataclass(frozen=True)
class Prediction:
    """Band of a predicted course. time (s, of the scenario), pressure (levels, time) in Pa gauge,
    mass (levels, time) in kg, levels as fractions; ``runs`` the samples that could be simulated,
    ``scenario`` that of the best estimate."""

    time: np.ndarray
    levels: tuple[float, ...]
    pressure: np.ndarray
    mass: np.ndarray
    best: np.ndarray
    runs: int
    failed: int
    scenario: Scenario

    def at(self, time: float) -> dict[float, float]:
        """Gauge pressure (Pa) by level at one time (s)."""
        return {
            q: float(np.interp(time, self.time, row)) for q, row in zip(self.levels, self.pressure)
        }


@dataclass(frozen=True)
class Validation:
    """The fitted model against another log: goodness per channel, residuals, and the share of
    pressures inside the 95 % band that parameters and noise together predict."""

    goodness: tuple[Goodness, ...]
    residuals: tuple[Residuals, ...]
    inside: float
    relative: float

    def summary(self, system: str = "shop") -> str:
        """In words; ``system`` is "shop" or "si"."""
        from n2osim.fit.calibrate_text import validation_lines

        return "\n".join(validation_lines(self, system))

    def as_dict(self) -> dict[str, Any]:
        """Plain numbers for JSON, SI (arrays of residuals left out)."""
        return {
            "goodness": [without_nan(dataclasses.asdict(g)) for g in self.goodness],
            **without_nan({"inside": self.inside, "relative": self.relative}),
        }


@dataclass(frozen=True, eq=False)
class Calibration(Comparable):
    """Result of :func:`n2osim.fit.calibrate.calibrate`.

    scenario : with the fitted values in it; ``simulate`` runs it and ``to_toml`` saves it.
    sensor : the sensor with the fitted offsets. parameters : one :class:`Fitted` each.
    correlation : matrix, in the order of ``parameters``. warnings, notes : in words.
    runs, seconds, seconds_per_run : cost of the fit.
    """

    scenario: Scenario
    sensor: Sensor
    parameters: tuple[Fitted, ...]
    correlation: np.ndarray
    goodness: tuple[Goodness, ...]
    residuals: tuple[Residuals, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    runs: int
    seconds: float = dataclasses.field(compare=False)
    seconds_per_run: float = dataclasses.field(compare=False)
    run: Run = dataclasses.field(compare=False)
    frees: tuple[Free, ...]
    z: np.ndarray
    z_covariance: np.ndarray
    freedom: float
    bounds: tuple[np.ndarray, np.ndarray]

    def __getitem__(self, name: str) -> Fitted:
        """A fitted parameter by name."""
        for p in self.parameters:
            if p.name == name:
                return p
        raise InputError("fitted parameter", name, "", ", ".join(p.name for p in self.parameters))

    def __iter__(self) -> Iterator[str]:
        """Over the names of the parameters."""
        return iter(p.name for p in self.parameters)

    # --- samples of what the parameters may be -------------------------------------------------
    def samples(self, count: int, seed: int = 0) -> np.ndarray:
        """(count, parameters) values drawn from the fit's uncertainty, inside the limits.

        Multivariate Student in z (few independent residuals give wider tails).
        """
        rng = np.random.default_rng(seed)
        values, vectors = np.linalg.eigh(self.z_covariance)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        normal = rng.standard_normal((count, self.z.size)) @ root.T
        spread = np.sqrt(self.freedom / rng.chisquare(self.freedom, count))[:, None]
        z = np.clip(self.z + normal * spread, *self.bounds)
        return np.array([[f.to_value(float(x)) for f, x in zip(self.frees, row)] for row in z])

    def predict(
        self,
        scenario: Scenario | None = None,
        *,
        then: Sequence[Item] = (),
        count: int = 200,
        seed: int = 0,
        levels: Sequence[float] = (0.025, 0.25, 0.5, 0.75, 0.975),
        times: Any = None,
        measured: bool = False,
    ) -> Prediction:
        """Band of pressures for what comes next.

        scenario : another scenario, which receives the fitted properties of bottle and car (not
            the charge, start or sensor of the log); None continues the fitted one.
        then : schedule items to append (the next pass).
        count, seed : samples of the parameters; levels : fractions of the band's lines.
        times : s, or None for 400 evenly spread ones. measured : add the log's residual spread
            (noise and what the model leaves out), for a band that new readings should fall in.

        Raises IntegrationError or InputError when the best estimate itself cannot be run.
        """
        hardware = scenario is not None
        base = self.scenario if scenario is None else scenario
        base = dataclasses.replace(base, schedule=(*base.schedule, *then))
        best_values = [p.value for p in self.parameters]
        best_scenario, _ = apply(self.frees, best_values, base, self.sensor, hardware)
        best = simulate(best_scenario)
        grid = np.linspace(0.0, float(best.time[-1]), 400) if times is None else np.asarray(times)
        grid = np.sort(grid.astype(float))
        drawn = self.samples(count, seed)
        p, mass = self._courses(drawn, base, hardware, grid)
        if measured:
            spread = [g.rms for g in self.goodness if g.channel == "pressure"] or [0.0]
            p = p + spread[0] * np.random.default_rng(seed + 1).standard_normal(p.shape)
        line = sample(best.time, np.ascontiguousarray(best["pressure_gauge_Pa"][0]), grid)
        return Prediction(
            grid,
            tuple(levels),
            np.quantile(p, levels, axis=0),
            np.quantile(mass, levels, axis=0),
            line,
            len(p),
            len(drawn) - len(p),
            best_scenario,
        )

    def _courses(
        self, drawn: np.ndarray, base: Scenario, hardware: bool, grid: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Gauge pressure and mass, shape (sample, time), of the samples that run to the end."""
        pressure, mass = [], []
        for values in drawn:
            scenario, _ = apply(self.frees, values, base, self.sensor, hardware)
            run = course(scenario, maps_of(self.frees))
            if run is not None and run.time[-1] >= grid[-1] - 1e-6:
                pressure.append(sample(run.time, run.pressure_gauge, grid))
                mass.append(sample(run.time, run.mass, grid))
        if not pressure:
            failed, valid = f"{len(drawn)} failed samples", "a scenario that runs"
            remedy = "the fitted values leave the model's range"
            raise InputError("prediction", failed, "", valid, remedy)
        return np.array(pressure), np.array(mass)

    def validate(
        self,
        log: Log,
        scenario: Scenario | None = None,
        *,
        sensor: Sensor | None = None,
        log_start: Any = None,
        window: Any = None,
        use: Sequence[str] = ("pressure",),
        count: int = 100,
        seed: int = 0,
    ) -> Validation:
        """Cross-validation: nothing is fitted again, the other log is only compared.

        scenario : what was done in that log, with its own charge and start (fitted properties of
        bottle and car are put in); None takes the fitted scenario whole. sensor: of that log,
        None keeps the fitted one.
        """
        hardware = scenario is not None
        base = self.scenario if scenario is None else scenario
        values = [p.value for p in self.parameters]
        fitted, _ = apply(self.frees, values, base, self.sensor, hardware)
        sensor = self.sensor if sensor is None else sensor
        wanted, _ = targets(fitted, log, use, log_start, window)
        run = simulate(fitted)
        pieces = tuple(residuals_of(run, sensor, t, begin(log, log_start), log) for t in wanted)
        good = tuple(goodness_of(r, t.noise, 0) for r, t in zip(pieces, wanted))
        inside = relative = math.nan
        for t, piece in zip(wanted, pieces):
            if t.name == "pressure":
                band = self.predict(
                    scenario,
                    count=count,
                    seed=seed,
                    levels=(0.025, 0.975),
                    times=t.times,
                    measured=True,
                )
                low, high = band.pressure + sensor.offset
                inside = float(np.mean(((t.values >= low) & (t.values <= high))[t.used]))
                absolute = piece.logged + fitted.ambient.pressure
                relative = float(np.max(np.abs(piece.residual / absolute)[piece.used]))
        return Validation(good, pieces, inside, relative)

    # --- output ---------------------------------------------------------------------------------
    def summary(self) -> str:
        """Table of values, intervals, correlations, goodness and warnings."""
        from n2osim.fit.calibrate_text import summary

        return summary(self)

    def as_dict(self) -> dict[str, Any]:
        """Plain numbers and texts for JSON (arrays of residuals left out)."""
        return {
            "parameters": {p.name: without_nan(dataclasses.asdict(p)) for p in self.parameters},
            "correlation": self.correlation.tolist(),
            "sensor": dataclasses.asdict(self.sensor),
            "goodness": [without_nan(dataclasses.asdict(g)) for g in self.goodness],
            "warnings": list(self.warnings),
            "notes": list(self.notes),
            "runs": self.runs,
            "seconds": self.seconds,
            "seconds_per_run": self.seconds_per_run,
        }

    def to_dataframe(self) -> Any:
        """The fitted parameters in SI as a pandas DataFrame (needs the ``tables`` extra)."""
        return dataframe([dataclasses.asdict(p) for p in self.parameters], "name")

    def to_xarray(self) -> Any:
        """:meth:`to_dataframe` as xarray.Dataset over the parameters' names (``xarray``)."""
        return dataset_of(self.to_dataframe(), title=self.scenario.title)

    def to_json(self, path: str | Path | None = None, *, overwrite: bool = False) -> str:
        """:meth:`as_dict`, residuals and the fitted scenario as JSON text, written if asked."""
        data = {"schema": FIT_SCHEMA} | self.as_dict() | {"scenario": self.scenario.to_toml()}
        data["residuals"] = [vars(r) for r in self.residuals]
        frees = [{**vars(f), "kind": f.kind.name} for f in self.frees]
        spread = {"z": self.z, "z_covariance": self.z_covariance, "freedom": self.freedom}
        data["search"] = {"frees": frees, **spread, "bounds": list(self.bounds)}
        return json_text(data, path, overwrite=overwrite, indent=1)

    @staticmethod
    def from_json(path: str | Path) -> Calibration:
        """The fit that :meth:`to_json` wrote; its run is that of the fitted scenario, in the
        scenario's own steps. InputError for any other file.
        """
        return read_json(path, FIT_SCHEMA, "a fit", _fit_from)

    def plot(self) -> Any:
        """Figure of log, model and residuals."""
        return above("plot_residuals")(self)

    def _repr_html_(self) -> str:
        from n2osim.fit.calibrate_text import summary_html

        return summary_html(self)

    def __repr__(self) -> str:
        values = ", ".join(f"{p.name} = {p.value:.4g} {p.unit}" for p in self.parameters)
        return f"<Calibration: {values}; {len(self.warnings)} warnings>"


def _fit_from(data: dict[str, Any]) -> Calibration:
    scenario, search = loads(data["scenario"]), data["search"]
    return Calibration(
        scenario,
        Sensor(**data["sensor"]),
        tuple(Fitted(**_numbers(p)) for p in data["parameters"].values()),
        _array(data["correlation"]),
        tuple(Goodness(**_numbers(g)) for g in data["goodness"]),
        tuple(Residuals(**{k: _column(v) for k, v in r.items()}) for r in data["residuals"]),
        tuple(data["warnings"]),
        tuple(data["notes"]),
        data["runs"],
        data["seconds"],
        data["seconds_per_run"],
        simulate(scenario),
        tuple(Free(**{**f, "kind": PARAMETERS[f["kind"]]}) for f in search["frees"]),
        _array(search["z"]),
        _array(search["z_covariance"]),
        _numbers(search)["freedom"],
        (_array(search["bounds"][0]), _array(search["bounds"][1])),
    )


def _numbers(plain: dict[str, Any]) -> dict[str, Any]:
    return {k: math.nan if v is None else v for k, v in plain.items()}


def _array(values: Any) -> np.ndarray:
    return np.array(values, float)


def _column(value: Any) -> Any:
    if not isinstance(value, list):
        return value
    return np.array([math.nan if v is None else v for v in value])


def residuals_of(run: Run, sensor: Sensor, target: Target, zero: float, log: Log) -> Residuals:
    """Residual arrays of one channel, rows outside the fit included."""
    model = shown(run, sensor, target.name, target.times)
    return Residuals(
        target.name,
        target.unit,
        target.times + zero,
        target.values,
        model,
        target.values - model,
        target.used,
        log.lines[target.rows],
    )


def goodness_of(piece: Residuals, noise: float, parameters: int) -> Goodness:
    """Goodness over the fitted rows."""
    from n2osim.fit.calibrate_noise import correlation
    from n2osim.fit.log_quality import robust_sigma

    r = piece.residual[piece.used]
    y = piece.logged[piece.used]
    scale = max(robust_sigma(r), 1e-300)
    c = correlation(piece.time[piece.used], r / scale, parameters)
    total = float(np.sum((y - y.mean()) ** 2))
    return Goodness(
        piece.channel,
        piece.unit,
        int(r.size),
        float(np.sqrt(np.mean(r**2))),
        float(np.mean(r)),
        float(np.max(np.abs(r))),
        noise,
        scale,
        scale / noise if noise > 0 else math.nan,
        c.share,
        c.time if c.share > 0 else 0.0,
        c.effective,
        int(np.sum(np.abs(r) > 4.0 * scale)),
        1.0 - float(np.sum(r**2)) / total if total > 0 else math.nan,
    )
