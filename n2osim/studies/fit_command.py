"""One call from files to a fit: what ``n2osim fit`` does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from n2osim._files import check_writable
from n2osim.simulation.scenario import Scenario
from n2osim.studies.calibrate import Calibration, Sensor, Validation, calibrate
from n2osim.studies.log_segments import LogSegment, detect_segments, replay_schedule
from n2osim.studies.logs import Log, read_log


@dataclass(frozen=True)
class FitOutcome:
    """Log, its segments, the fit and (where a second log was given) the cross-validation."""

    log: Log
    segments: tuple[LogSegment, ...]
    fit: Calibration
    validation: Validation | None

    def text(self, system: str = "shop") -> str:
        """Report of the log, table of the fit, cross-validation."""
        parts = [self.log.report.text(), _segment_text(self.segments), self.fit.summary()]
        if self.validation is not None:
            parts.append("second log (nothing fitted again)\n" + self.validation.summary())
        return "\n\n".join(p for p in parts if p)

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        r = self.log.report
        return {
            "log": {"file": r.file, "rows": r.rows, "kept": r.kept, "rejected": [
                {"line": x.line, "column": x.column, "reason": x.reason} for x in r.rejected]},
            "segments": [{"kind": s.kind, "start_s": s.start, "end_s": s.end}
                         for s in self.segments],
            "fit": self.fit.as_dict(),
        }  # fmt: skip


def fit_command(
    scenario: str | Path | Scenario, log: str | Path, free: Sequence[str] | Mapping[str, Any], *,
    columns: Mapping[str, Any] | None = None, use: Sequence[str] = ("pressure",),
    sensor: Sensor | None = None, log_start: float | None = None,
    window: Sequence[tuple[float, float]] | None = None, replay: bool = False,
    second_log: str | Path | None = None, second_scenario: str | Path | None = None,
    out: str | Path | None = None, overwrite: bool = False, profile: bool = True,
    **reading: Any,
) -> FitOutcome:  # fmt: skip
    """Read a scenario file and a log, fit, cross-validate, save the fitted scenario.

    Parameters
    ----------
    free, use, sensor, log_start, window, profile : as in :func:`n2osim.studies.calibrate`.
    columns : as in :func:`n2osim.studies.logs.read_log` (``columns_from_options`` reads them from
        the command line); ``reading`` is passed on (delimiter, decimal, encoding).
    replay : take the schedule from the log's own segments instead of the scenario's (heater on
        and off as logged, so the scenario's pressure switch is taken away).
    second_log, second_scenario : for the cross-validation.
    out : write the fitted scenario as TOML; ``overwrite`` allows to replace a file.

    Raises
    ------
    The project's errors only.
    """
    if out is not None:
        check_writable(out, overwrite=overwrite)
    given = scenario if isinstance(scenario, Scenario) else Scenario.from_toml(scenario)
    data = read_log(log, columns, ambient=given.ambient.pressure, **reading)
    segments = detect_segments(data) if _has_pressure(data) else ()
    if replay:
        given = given.replace(schedule=tuple(replay_schedule(segments)), switch=None)
        log_start = None
    result = calibrate(given, data, free, use=use, sensor=sensor, log_start=log_start,
                       window=window, profile=profile)  # fmt: skip
    validation = None
    if second_log is not None:
        other = None if second_scenario is None else Scenario.from_toml(second_scenario)
        second = read_log(second_log, columns, ambient=given.ambient.pressure, **reading)
        validation = result.validate(second, other)
    if out is not None:
        result.scenario.to_toml(out, overwrite=overwrite)
    return FitOutcome(data, segments, result, validation)


def _has_pressure(log: Log) -> bool:
    return "gauge_pressure" in log or "pressure" in log


def _segment_text(segments: tuple[LogSegment, ...]) -> str:
    rows = [
        f"  {s.kind:<9}{s.start:>10.2f} to {s.end:>10.2f} s, {s.start_pressure / 6894.757:>7.1f} "
        f"to {s.end_pressure / 6894.757:>7.1f} psi (told by the {s.told_by})"
        for s in segments
    ]
    return "\n".join(["segments", *rows]) if rows else ""


__all__ = ["FitOutcome", "fit_command"]
