"""``n2osim chart``: pressure by temperature and charge, and back."""

from __future__ import annotations

import sys
from typing import Any

from n2osim.cli.parser import OutputPath, PicturePath, add_overwrite, add_units, command

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
    chart = command(commands, "chart", run_chart, "pressure chart of a bottle by charge", _DETAILS)
    chart.add_argument("--file", metavar="FILE", help="take bottle, charge, band from a scenario")
    chart.add_argument("--bottle", metavar="SHELL", help="preset shell (default: aluminium)")
    chart.add_argument("--capacity", metavar="MASS", help='preset size (default: "10 lb")')
    chart.add_argument("--fill", metavar="MASS", help="this bottle's charge")
    chart.add_argument("--fills", metavar="MASS", nargs="+", help="charges to show")
    chart.add_argument("--closes", metavar="P", help="switch comes on at (gauge)")
    chart.add_argument("--opens", metavar="P", help="switch goes off at (gauge)")
    chart.add_argument("--altitude", metavar="H", help="altitude of the meeting")
    chart.add_argument("--low", metavar="T", default="40 degF", help="lowest temperature")
    chart.add_argument("--high", metavar="T", default="130 degF", help="highest temperature")
    chart.add_argument(
        "--reading", metavar=("P", "T"), nargs=2, help="charge from a gauge and a thermometer"
    )
    chart.add_argument(
        "--csv", type=OutputPath, metavar="PATH", help="write the table ('-': to stdout)"
    )
    chart.add_argument(
        "--plot", type=PicturePath, metavar="PATH", help="write the chart (.png, .pdf, .svg)"
    )
    add_units(chart)
    add_overwrite(chart)


def run_chart(args: Any) -> int:
    """Table on the terminal; CSV and figure where asked."""
    from n2osim.cli.output import put_text
    from n2osim.report import chart

    asked = _question(args)
    if args.reading is not None:
        sys.stdout.write(chart.reading_text(asked, args.reading[0], args.reading[1], args.system))
        return 0
    if args.csv != "-":
        sys.stdout.write(chart.chart_text(asked, args.system))
    if args.csv is not None:
        put_text(args.csv, chart.chart_csv(asked), args.overwrite)
    if args.plot is not None:
        _plot(asked, args)
    return 0


def _question(args: Any) -> Any:
    """What the chart is about, from the options or from a scenario file."""
    from n2osim.errors import InputError
    from n2osim.hardware import Bottle, PressureSwitch, standard_pressure
    from n2osim.report.chart import Chart
    from n2osim.scenario.file import load
    from n2osim.units import STANDARD_ATMOSPHERE

    if (args.closes is None) != (args.opens is None):
        raise InputError(
            "switching band",
            args.closes or args.opens,
            "",
            "both ends",
            "give --closes and --opens",
        )
    ambient = STANDARD_ATMOSPHERE if args.altitude is None else standard_pressure(args.altitude)
    switch = None if args.closes is None else PressureSwitch(args.closes, args.opens)
    fill = args.fill
    if args.file is not None:
        if args.bottle or args.capacity:
            raise InputError(
                "--file",
                args.file,
                "",
                "without --bottle and --capacity",
                "the file says which bottle",
            )
        scenario = load(args.file)
        first = scenario.bottles[0]
        bottle, switch = first.bottle, switch or first.switch
        fill = first.fill if fill is None else fill
        ambient = scenario.ambient.pressure if args.altitude is None else ambient
    else:
        bottle = Bottle.preset(args.bottle or "aluminium", args.capacity or "10 lb")
    return Chart.asked(bottle, fill, args.fills, switch, ambient, args.low, args.high)


def _plot(asked: Any, args: Any) -> None:
    from n2osim.cli.output import put_picture, use_file_backend

    use_file_backend()
    from n2osim.plot import chart

    axes = chart(
        asked.bottle,
        fill=asked.fill,
        fills=asked.fills,
        switch=asked.switch,
        ambient=asked.ambient,
        low=asked.low,
        high=asked.high,
    )
    put_picture(args.plot, axes, args.overwrite)
