"""``n2osim demo`` and ``n2osim simulate``."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

from n2osim.above import FIGURES
from n2osim.cli.parser import add_advise, command, options
from n2osim.cli.study_output import add_outputs, put_plot

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
    words = "which figure (default: run)"
    parser.add_argument("--figure", choices=FIGURES, default="run", help=words)
    options(parser, ("--full", "", "every finding, event and note, not the short report"))
    add_advise(parser)


def demo_path() -> Any:
    """The demo's scenario file inside the package."""
    from importlib.resources import files

    return files("n2osim").joinpath("data", "demo.toml")


def run_demo(args: Any) -> int:
    """The built-in example."""
    from n2osim.scenario.file import loads

    return _carry_out(loads(demo_path().read_text(encoding="utf-8"), "demo.toml"), args)


def run_simulate(args: Any) -> int:
    """A scenario file."""
    from n2osim.scenario.file import load

    return _carry_out(load(args.file), args)


def _carry_out(scenario: Scenario, args: Any) -> int:
    from n2osim.cli import NOT_SOUND, OK
    from n2osim.cli.output import patience
    from n2osim.errors import IntegrationError, ScenarioError

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
            from n2osim.results.run import simulate

            run = simulate(scenario)
    except IntegrationError as problem:
        if problem.partial_run is not None and len(problem.partial_run.time):
            report(problem.partial_run, args)
        raise
    report(run, args)
    return NOT_SOUND if any(f.severity == "danger" for f in run.findings) else OK


def report(run: Run, args: Any) -> None:
    """Summary and files of a run as asked for."""
    from n2osim.cli.output import put_text
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
    from n2osim.cli.output import patience

    with patience():
        return run.remedies().text(system) + "\n"
