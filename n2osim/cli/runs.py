"""``n2osim demo`` and ``n2osim simulate``."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import n2osim
from n2osim.above import FIGURES
from n2osim.cli import NOT_SOUND, OK
from n2osim.cli.files import shipped
from n2osim.cli.output import add_outputs, patience, put_plot, put_text
from n2osim.cli.parser import ADVISE, command, options
from n2osim.errors import IntegrationError, ScenarioError

if TYPE_CHECKING:
    from n2osim.results.run import Run
    from n2osim.scenario.scenario import Scenario

_SIMULATE = """\
examples:
  n2osim simulate my-car.toml
  n2osim simulate my-car.toml --si --csv out.csv
  n2osim simulate my-car.toml --json - | python -m json.tool
  n2osim simulate my-car.toml --advise
  n2osim simulate my-car.toml --plot pass.pdf --figure pass
"""


def add(commands: Any) -> None:
    """The commands of this family."""
    words = "simulate the built-in example (an invented car, meeting and evening)"
    details = "The same scenario as a file to edit: n2osim new my-car.toml --from demo"
    _add_outputs(command(commands, "demo", run_demo, words, details, file=""))
    words = "simulate a scenario file and report"
    _add_outputs(command(commands, "simulate", run_simulate, words, _SIMULATE))


def _add_outputs(parser: Any) -> None:
    add_outputs(
        parser, json="write everything as JSON", csv="write the time series", plot="write a figure"
    )
    figures = {"action": "store", "choices": FIGURES, "default": "run"}
    options(
        parser,
        ("--figure", "", "which figure (default: run)", figures),
        ("--full", "", "every finding, event and note, not the short report"),
        ADVISE,
    )


def run_demo(args: Any) -> int:
    """The built-in example."""
    from n2osim.scenario.file import loads

    return _carry_out(loads(shipped("demo.toml"), "demo.toml"), args)


def run_simulate(args: Any) -> int:
    """A scenario file."""
    return _carry_out(n2osim.Scenario.from_toml(args.file), args)


def _carry_out(scenario: Scenario, args: Any) -> int:
    if not scenario.schedule:  # said before anything heavy is loaded
        raise ScenarioError(
            getattr(args, "file", None),
            None,
            "the schedule is empty",
            "schedule",
            'add [[schedule]] with, for example, kind = "hold", duration = "30 min"',
        )
    try:
        with patience():
            run = n2osim.simulate(scenario)
    except IntegrationError as problem:
        if problem.partial_run is not None and len(problem.partial_run.time):
            report(problem.partial_run, args)
        raise
    report(run, args)
    return NOT_SOUND if any(f.severity == "danger" for f in run.findings) else OK


def report(run: Run, args: Any) -> None:
    """Summary and files of a run as asked for."""
    from n2osim.report import export

    if not args.quiet and "-" not in (args.json, args.csv):
        sys.stdout.write(run.summary(args.system, full=args.full))
        if args.advise:
            sys.stdout.write("\n" + advice_text(run, args.system))
    if args.json is not None:
        put_text(args.json, export.json_text(run), args.overwrite)
    if args.csv is not None:
        put_text(args.csv, export.csv_text(run), args.overwrite)
    put_plot(args, lambda: run.plot(args.figure))


def advice_text(run: Run, system: str) -> str:
    """What helps against the findings of a run, each change tried; line by line."""
    with patience():
        return run.remedies().text(system) + "\n"
