"""What commands that answer a question share: options, text, JSON, CSV, saved file, exit code."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from n2osim.cli.parser import WRITTEN, command, options
from n2osim.cli.study_output import add_outputs, put_csv, put_plot, put_scenario, say

if TYPE_CHECKING:
    from n2osim.answers.answer import Answer
    from n2osim.scenario.scenario import Scenario


def question(
    commands: Any, name: str, ask: Callable[[Scenario, Any], Answer], summary: str, plot: str = ""
) -> Any:
    """Add a command that loads FILE, asks ``ask(scenario, args)`` and puts out the answer."""
    parser = command(commands, name, lambda args: _answer(args, ask), summary)
    options(parser, ("--save", "PATH", "write the scenario with the answer in it", WRITTEN))
    add_outputs(parser, plot=plot)
    return parser


def _answer(args: Any, ask: Callable[[Scenario, Any], Answer]) -> int:
    from n2osim.cli.output import patience
    from n2osim.scenario.file import load

    scenario = load(args.file)
    with patience():
        found = ask(scenario, args)
    return put_answer(args, found)


def put_answer(args: Any, found: Answer) -> int:
    """The answer on the terminal and in the files asked for; its exit status."""
    from n2osim.cli.output import put_text

    say(args, found.text(args.system))
    if args.json is not None:
        put_text(args.json, found.to_json(), args.overwrite)
    if args.csv is not None:
        rows = found.rows or tuple(
            {"name": f.name, "value": f.value, "unit": f.unit} for f in found.figures
        )
        put_csv(args, rows)
    put_scenario(args, found.scenario)
    drawn = found.more.get("plot")
    if getattr(args, "plot", None) is not None and drawn is not None:
        put_plot(args, drawn)
    return found.status
