"""``n2osim fit``: make the model yours from a log."""

from __future__ import annotations

import dataclasses
import textwrap
from typing import Any

import n2osim
from n2osim.cli.output import (
    add_outputs,
    pairs,
    patience,
    put_csv,
    put_json,
    put_plot,
    put_scenario,
    say,
    say_cautions,
)
from n2osim.cli.parser import AGAIN, WRITTEN, InputPath, command, options
from n2osim.errors import InputError

_FIT = """\
examples:
  n2osim fit warm-up.toml warm-up.csv --free heater_power outside_coefficient
  n2osim fit pass.toml log.csv --free effective_area --column time=t_s \\
      --column "gauge_pressure=P tank:psig" --save mine.toml --plot fit.png
  n2osim fit pass.toml log.csv --free effective_area --window 2 8 --json -
  n2osim fit warm-up.toml sunday.csv --free heater_power --replay --second monday.csv

The scenario file says what was done while the log ran (charge, start, heater, schedule). Free
parameters: {names}.
A column is given as QUANTITY=HEADER or QUANTITY=HEADER:UNIT; without any they are guessed from
the headers, and what was taken is reported. Rows that cannot be used are listed, never dropped
silently.
"""
# Written out, because naming them must not import the fit; a test keeps the two the same.
PARAMETERS = (
    "outside_coefficient",
    "inside_factor",
    "heater_power",
    "contact_resistance",
    "fill",
    "effective_area",
    "two_zone",
    "boiling_growth",
    "start_temperature",
    "ambient_temperature",
    "sensor_offset",
    "sensor_lag",
    "time_offset",
    "tare",
)


def add(commands: Any) -> None:
    """The commands of this family."""
    names = "\n" + textwrap.fill(", ".join(PARAMETERS), 92)
    words, file = "fit the model to a data log", "scenario file (TOML) of what was done"
    fit = command(commands, "fit", run_fit, words, _FIT.replace("{names}", names), file)
    fit.add_argument("log", type=InputPath, metavar="LOG", help="data log (CSV of any make)")
    free = "parameters to fit (NAME, or NAME=LOW..HIGH with limits)"
    use = "channels to fit: pressure, temperature, weight, charge"
    second = "another log, to compare with: nothing is fitted again"
    options(
        fit,
        ("--free", "NAME", free, {"nargs": "+", "required": True}),
        ("--column", "Q=HEADER", "which column is which quantity; may be given again", AGAIN),
        ("--use", "CHANNEL", use, {"nargs": "+", "default": ["pressure"]}),
        ("--start", "NAME=VALUE", "start value; may be given again", AGAIN),
        ("--window", ("FROM", "TO"), "rows to fit, log clock", {"nargs": 2}),
        ("--log-start", "TIME", "log clock when the scenario begins"),
        ("--replay", "", "take the schedule from the log: heat, passes, rests"),
        ("--second", "LOG", second, {"type": InputPath}),
        ("--second-file", "FILE", "scenario file of the second log (default: as the first)"),
        ("--no-profile", "", "quicker: covariance intervals only"),
        ("--save", "PATH", "write the fitted scenario (.toml)", WRITTEN),
    )
    add_outputs(fit, csv="write log, model and residuals", plot="write fit and residuals")


def run_fit(args: Any) -> int:
    """Read the log, fit, compare with a second log, report."""
    scenario = n2osim.Scenario.from_toml(args.file)
    log, scenario, edges = _log(args, args.log, scenario)
    with patience():
        fit = n2osim.calibrate(
            scenario,
            log,
            _free(args.free),
            use=args.use,
            profile=not args.no_profile,
            start=pairs(args.start, "--start", '"heater_power=250 W"'),
            window=_window(args.window),
            log_start=_clock(args.log_start),
            edge_error=edges,
        )
    from n2osim.fit.calibrate_text import summary

    say(args, summary(fit, args.system))
    found = {"title": scenario.title, "log": args.log, **fit.as_dict()}
    if args.second is not None:
        found["second_log"] = _second(args, fit, scenario)
    put_json(args, found)
    if args.csv is not None:
        put_csv(args, _rows(fit))
    put_scenario(args, fit.scenario)
    put_plot(args, fit.plot)
    say_cautions(args)
    return 0


def _log(args: Any, path: str, scenario: Any) -> tuple[Any, Any, float]:
    """A log, told about, the scenario with the log's own schedule where that is wanted, and how
    well that is known (s)."""
    from n2osim.fit.log_segments import (
        detect_segments,
        edge_error,
        engine_courses,
        replay_schedule,
        segments_text,
    )

    log = n2osim.read_log(path, _columns(args.column), ambient=scenario.ambient.pressure)
    say(args, log.report.text())
    if not args.replay:
        say(args, "")
        return log, scenario, 0.0
    segments = detect_segments(log)
    say(args, segments_text(segments, args.system) + "\n")
    # The heater is on as the log has it, so nothing else may switch it.
    replayed = scenario.replace(schedule=tuple(replay_schedule(segments)), switch=None)
    first = next((s for s in segments if s.kind == "pass"), None)
    if first is not None and scenario.engine is not None:
        courses = engine_courses(log, first.start, first.end)
        replayed = replayed.replace(engine=dataclasses.replace(scenario.engine, **courses))
    return log, replayed, edge_error(log, segments)


def _second(args: Any, fit: Any, scenario: Any) -> dict[str, Any]:
    """The fitted model against another log, told about."""
    own = args.second_file is None
    other = scenario if own else n2osim.Scenario.from_toml(args.second_file)
    log, other, _ = _log(args, args.second, other)
    check_ = fit.validate(log, None if own and not args.replay else other, use=args.use)
    say(args, "second log, nothing fitted again\n" + check_.summary(args.system))
    return {"log": args.second, **check_.as_dict()}


def _columns(given: Any) -> dict[str, Any] | None:
    """``QUANTITY=HEADER[:UNIT]`` options as a mapping for ``read_log``."""
    found = pairs(given, "--column", '"gauge_pressure=P tank:psig"')
    if not found:
        return None
    out: dict[str, Any] = {}
    for quantity, text in found.items():
        header, sign, unit = text.rpartition(":")
        name: Any = header if sign and header else text
        name = int(name) if name.isdecimal() else name
        out[quantity] = (name, unit) if sign and header and unit else name
    return out


def _free(given: list[str]) -> Any:
    """Names, or names with limits as LOW..HIGH."""
    out: dict[str, Any] = {}
    for text in given:
        name, sign, span = text.partition("=")
        low, dots, high = span.partition("..")
        if (sign and not dots) or name in out:
            raise InputError(
                "--free",
                text,
                "",
                "NAME or NAME=LOW..HIGH, each once",
                'for example "heater_power=100 W..400 W"',
            )
        out[name] = (low.strip(), high.strip()) if sign else None
    if all(v is None for v in out.values()):
        return list(out)
    missing = [n for n, v in out.items() if v is None]
    if missing:
        raise InputError(
            "--free",
            missing[0],
            "",
            "limits for all or for none",
            f'write "{missing[0]}=LOW..HIGH"',
        )
    return out


def _window(given: Any) -> Any:
    if given is None:
        return None
    return [(_clock(given[0]), _clock(given[1]))]


def _clock(text: str | None) -> float | None:
    """A time of the log's clock: seconds, or text with a unit."""
    from n2osim.units import parse

    if text is None:
        return None
    try:
        return float(text)
    except ValueError:
        return parse(text, "time", name="log time")


def _rows(fit: Any) -> list[dict[str, Any]]:
    """Residual rows of all channels, SI."""
    names = ("channel", "unit", "time_s", "logged", "model", "residual", "fitted", "line")
    rows = []
    for p in fit.residuals:
        columns = (p.time, p.logged, p.model, p.residual, p.used.astype(int), p.lines)
        values = zip(*(column.tolist() for column in columns), strict=True)
        rows += [dict(zip(names, (p.channel, p.unit, *row), strict=True)) for row in values]
    return rows
