"""Commands and their options. Only argparse here; what a command does is imported when it runs."""

from __future__ import annotations

import argparse
import importlib
from typing import Any

import n2osim

# (module in n2osim.cli, one per family of commands); each has ``add(commands)``.
FAMILIES = (
    "runs",
    "charts",
    "files",
    "sizing_command",
    "tune_command",
    "study_command",
    "fit_command",
    "weigh_command",
    "sheet_command",
)

EXAMPLES = """\
examples:
  n2osim demo                          the built-in example, cold bottle to pass
  n2osim new my-car.toml               a commented scenario to start from
  n2osim check my-car.toml             any mistakes? what comes of it?
  n2osim simulate my-car.toml --json out.json --plot out.png
  n2osim chart --bottle aluminium --capacity "10 lb" --fill "9.2 lb"
  n2osim size heater my-car.toml --within "20 min"
  n2osim tune weight my-car.toml       same gauge, lighter bottle: then what?
  n2osim sheet my-car.toml my-car.html     the set-up sheet, to print

Shop units (psig, degF, lb) unless --si is given. Never heat a bottle with a
flame; never defeat its relief device. This is a model, not a measurement:
check against gauge and scale.
"""


class InputPath(str):
    """A file to read, as given: ``type=InputPath`` marks an option as one."""


class ScenarioPath(InputPath):
    """A scenario file to read; "-" and /dev/stdin are standard input."""


class OutputPath(str):
    """A file to write ("-": standard output), as given: ``type=OutputPath`` marks an option."""


class PicturePath(OutputPath):
    """A picture to write; its ending says which kind."""


def build_parser() -> argparse.ArgumentParser:
    """The parser with all commands."""
    parser = argparse.ArgumentParser(
        prog="n2osim",
        description="Simulate nitrous-oxide bottles, heaters and passes of drag and\n"
        "street/strip cars with real-fluid thermodynamics.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"n2osim {n2osim.__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for family in FAMILIES:
        importlib.import_module(f"n2osim.cli.{family}").add(commands)
    return parser


# How argparse is to read an option, where that is not one text.
MANY: dict[str, Any] = {"nargs": "+"}
AGAIN: dict[str, Any] = {"action": "append"}
WHOLE: dict[str, Any] = {"type": int}
WRITTEN: dict[str, Any] = {"type": OutputPath}

Option = tuple[Any, ...]
"""(--name, metavar, help), and how it is read; without a metavar a flag."""
ADVISE: Option = ("--advise", "", "try what helps against the findings: up to 150 more runs")
OVERWRITE: Option = ("--overwrite", "", "replace files that exist (refused otherwise)")
UNITS: Option = (
    "--si",
    "",
    "kPa, degC and kg instead of psig, degF and lb",
    {"dest": "system", "action": "store_const", "const": "si", "default": "shop"},
)


def options(parser: Any, *given: Option) -> None:
    """Add options to a command."""
    for name, metavar, words, *how in given:
        read: dict[str, Any] = {"metavar": metavar} if metavar else {"action": "store_true"}
        parser.add_argument(name, help=words, **(read | (how[0] if how else {})))


def command(
    commands: Any,
    name: str,
    run: Any,
    summary: str,
    details: str = "",
    file: str = "scenario file (TOML)",
) -> Any:
    """Add a command that ``run(args) -> int | None`` does. file: what FILE is ("": none)."""
    parser = commands.add_parser(
        name,
        help=summary,
        description=summary[0].upper() + summary[1:] + ".",
        epilog=details,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.set_defaults(run=run)
    if file:
        parser.add_argument("file", type=ScenarioPath, metavar="FILE", help=file)
    return parser


def questions(commands: Any, name: str, summary: str, details: str) -> Any:
    """Add a command that only gathers questions, and give what they are added to."""
    parser = command(commands, name, None, summary, details, file="")
    return parser.add_subparsers(title="questions", metavar="QUESTION", required=True)
