"""``n2osim chart``: pressure by temperature and charge, and back."""

from __future__ import annotations

import sys
from typing import Any

import n2osim
from n2osim.cli.output import add_outputs, put_plot, put_text
from n2osim.cli.parser import MANY, command, options
from n2osim.errors import InputError

_DETAILS = """\
examples:
  n2osim chart                                          a 10 lb aluminium bottle
  n2osim chart --capacity "12 lb" --fill "9 lb" --closes "900 psig" --opens "950 psig"
  n2osim chart --file my-car.toml --plot chart.png      bottle, charge and band of a scenario
  n2osim chart --reading "1050 psig" "97.9 degF"        how much is in it? (if it can be told)

A star marks pressures where the bottle holds one phase: full of liquid, or no liquid left.
"""


def add(commands: Any) -> None:
    """The commands of this family."""
    words = "pressure chart of a bottle by charge"
    chart = command(commands, "chart", run_chart, words, _DETAILS, file="")
    options(
        chart,
        ("--file", "FILE", "take bottle, charge, band from a scenario"),
        ("--bottle", "SHELL", "preset shell (default: aluminium)"),
        ("--capacity", "MASS", 'preset size (default: "10 lb")'),
        ("--fill", "MASS", "this bottle's charge"),
        ("--fills", "MASS", "charges to show", MANY),
        ("--closes", "P", "switch comes on at (gauge)"),
        ("--opens", "P", "switch goes off at (gauge)"),
        ("--altitude", "H", "altitude of the meeting"),
        ("--low", "T", "lowest temperature", {"default": "40 degF"}),
        ("--high", "T", "highest temperature", {"default": "130 degF"}),
        ("--reading", ("P", "T"), "charge from a gauge and a thermometer", {"nargs": 2}),
    )
    add_outputs(chart, json="", csv="write the table", plot="write the chart")


def run_chart(args: Any) -> int:
    """Table on the terminal; CSV and figure where asked."""
    from n2osim.report import chart

    asked = _question(args)
    if args.reading is not None:
        sys.stdout.write(chart.reading_text(asked, args.reading[0], args.reading[1], args.system))
        return 0
    if args.csv != "-":
        sys.stdout.write(chart.chart_text(asked, args.system))
    if args.csv is not None:
        put_text(args.csv, chart.chart_csv(asked), args.overwrite)
    put_plot(args, lambda: n2osim.plot.chart(asked))
    return 0


def _question(args: Any) -> Any:
    """What the chart is about, from the options or from a scenario file."""
    from n2osim.report.chart import Chart

    if (args.closes is None) != (args.opens is None):
        given = args.closes or args.opens
        raise InputError("switching band", given, "", "both ends", "give --closes and --opens")
    ambient = None if args.altitude is None else n2osim.standard_pressure(args.altitude)
    switch = None if args.closes is None else n2osim.PressureSwitch(args.closes, args.opens)
    source: Any = None
    if args.file is None:
        source = n2osim.Bottle.preset(args.bottle or "aluminium", args.capacity or "10 lb")
    elif args.bottle or args.capacity:
        valid, remedy = "without --bottle and --capacity", "the file says which bottle"
        raise InputError("--file", args.file, "", valid, remedy)
    else:
        source = n2osim.Scenario.from_toml(args.file)
    return Chart.asked(source, args.fill, args.fills, switch, ambient, args.low, args.high)
