"""``n2osim sheet`` and ``n2osim day``."""

from __future__ import annotations

import dataclasses
import math
import sys
from typing import Any

import n2osim
from n2osim.cli import NOT_SOUND, OK
from n2osim.cli.output import (
    add_outputs,
    patience,
    put_csv,
    put_json,
    put_plot,
    put_scenario,
    put_text,
    say,
    use_file_backend,
)
from n2osim.cli.parser import ADVISE, OVERWRITE, UNITS, WHOLE, WRITTEN, OutputPath, command, options
from n2osim.cli.runs import advice_text
from n2osim.errors import InputError

_SHEET = """\
examples:
  n2osim sheet my-car.toml my-car.html                 open it in a browser; prints on two sides
  n2osim sheet my-car.toml my-car.html --si --date 2025-06-01
  n2osim sheet my-car.toml - > my-car.html
"""
_DAY = """\
examples:
  n2osim day my-car.toml                               four rounds, as the file's first pass
  n2osim day my-car.toml --rounds 6 --purge "1 s" --staging "3 min"
  n2osim day my-car.toml --rounds 8 --refill-every 3 --plot day.png
  n2osim day my-car.toml --refill-below "4 lb" --refill-to "9 lb" --csv day.csv

The scenario gives bottle, charge, start, heater, air and pass; its own schedule is not used.
"""


def add(commands: Any) -> None:
    """The commands of this family."""
    words = "write the set-up sheet of a scenario, to print"
    sheet = command(commands, "sheet", run_sheet, words, _SHEET)
    words = "file to write (.html; '-': to stdout)"
    sheet.add_argument("out", type=OutputPath, metavar="PATH", help=words)
    options(sheet, ("--date", "DATE", "date printed on it (default: today)"), UNITS, OVERWRITE)
    day = command(commands, "day", run_day, "a day at the strip, round by round", _DAY)
    gauge = 'what gauge and switch may be off by (default: "10 psi")'
    fill = 'what the charge may be off by (default: "0.2 lb")'
    options(
        day,
        ("--rounds", "N", "passes (default: 4)", {"type": int, "default": 4}),
        *((f"--{n.replace('_', '-')}", "TIME", words) for n, words in _TIMES.items()),
        ("--refill-every", "N", "refill after every N rounds", WHOLE),
        ("--refill-below", "MASS", "refill when weighed below this charge"),
        ("--refill-to", "MASS", "charge to refill to (default: what the bottle is rated for)"),
        ("--unpumped", "", "refill without a pump: only until both pressures are equal"),
        ("--pump-efficiency", "SHARE", 'isentropic, of the pump (default: "60 %%", an assumption)'),
        ("--supply", "T", 'temperature of the supply bottle (default: "70 degF")'),
        ("--gauge-error", "PRESSURE", gauge, {"default": "10 psi"}),
        ("--fill-error", "MASS", fill, {"default": "0.2 lb"}),
        ("--save", "PATH", "write the scenario with the day's schedule", WRITTEN),
        ADVISE,
    )
    add_outputs(day, csv="write one row a round", plot="write the ladder of rounds")


_TIMES = {
    "warm": "longest warm-up before the first round (default: 90 min)",
    "soak": "time in the band before each round (default: 5 min)",
    "purge": 'purge before each pass (default: 0.5 s if there is a feed "purge")',
    "staging": "wait between purge and pass, heater off (default: 2 min)",
    "cool_down": "after each pass, heater off (default: 5 min)",
    "reheat": "longest heating before the next round (default: 45 min)",
}


def run_sheet(args: Any) -> int:
    """Write the set-up sheet; its exit status, as that of the run it is made from."""
    if args.out != "-" and not args.out.lower().endswith((".html", ".htm")):
        raise InputError(
            "sheet file", args.out, "", "a name ending in .html, or '-'", "for example my-car.html"
        )
    scenario = n2osim.Scenario.from_toml(args.file)
    with patience():
        from n2osim.report.sheet import SetUpSheet

        use_file_backend()
        sheet = SetUpSheet.of(scenario, system=args.system, date=args.date, progress=_tell)
        text = sheet.html()
    put_text(args.out, text, args.overwrite)
    unsound = any(f.severity == "danger" for f in sheet.findings)
    if args.out != "-":
        print(f"wrote {args.out}; open it in a browser and print it")
        if unsound:
            print("it says: do not run this set-up as it stands")
    return NOT_SOUND if unsound else OK


def _tell(step: str) -> None:
    if sys.stderr.isatty():
        print(f"n2osim: {step} ...", file=sys.stderr, flush=True)


def run_day(args: Any) -> int:
    """Carry out a day."""
    from n2osim.results.findings import CAUTIONS_MARK

    scenario = n2osim.Scenario.from_toml(args.file)
    plan = _plan(scenario, args)
    with patience():
        done = n2osim.race_day(scenario, plan)
        errors = _errors(done, args)
    rows = [r.as_dict() for r in done.rounds]
    told, mark, cautions = done.text(args.system).rpartition(CAUTIONS_MARK)  # they stay the last
    said = _errors_text(errors, args)
    say(args, told + (f"{said}\n\n" if said else "") + mark + cautions)
    if args.advise:
        say(args, "\n" + advice_text(done.run, args.system))
    put_json(
        args,
        {
            "title": scenario.title,
            "rounds": rows,
            "plus_minus": {n: e.plus_minus for n, e in errors.items()},
            "refilled_after": done.filled_after,
        },
    )
    put_csv(args, rows)
    put_plot(args, lambda: n2osim.plot.rounds(done.run))
    put_scenario(args, done.scenario)
    return int(done.status)


def _errors(done: Any, args: Any) -> dict[str, Any]:
    """Headline figures of every round with the +- that gauge, fill and refills give them.

    Nothing for several bottles, whose gauges and fills are each their own.
    """
    from n2osim.answers.tuning import headline, start_error

    scenario = _with_charges(done.run.scenario)
    if len(scenario.bottles) > 1:
        return {}
    tolerances = {"fill": args.fill_error}
    for k in _refills(scenario):
        tolerances[f"schedule.{k}.to"] = _refill_error(done, args)
    if scenario.bottles[0].switch is not None:
        tolerances["switch.offset"] = args.gauge_error
    else:
        tolerances["start"] = start_error(scenario, args.gauge_error)
    return headline(scenario, tolerances)


def _refills(scenario: Any) -> list[int]:
    """Refills by their place in the schedule that are stopped by the scale."""
    items = enumerate(scenario.schedule)
    return [k for k, x in items if isinstance(x, n2osim.Refill) and x.pumped]


def _with_charges(scenario: Any) -> Any:
    """The scenario with the charge that its refills go to written down."""
    items = list(scenario.schedule)
    for k in _refills(scenario):
        if items[k].to is None:
            items[k] = dataclasses.replace(items[k], to=scenario.bottles[0].bottle.capacity)
    return scenario.replace(schedule=tuple(items))


def _refill_error(done: Any, args: Any) -> Any:
    """What a refilled charge may be off by: the scale's errors, or else as the first charge."""
    weigh = done.day.weigh
    error = 0.0 if weigh is None else weigh.tare_error + weigh.scale_tolerance
    return error if error > 0.0 else args.fill_error


# name of the quantity, words, kind of quantity
_SHOWN = (
    ("start_pressure_gauge_Pa", "launch", "gauge_pressure"),
    ("pressure_sag_Pa", "sag", "pressure_difference"),
    ("used_kg", "used", "mass"),
    ("flow_mean_kg_s", "flow", "mass_flow"),
    ("power_mean_W", "power", "engine_power"),
    ("mixture_start", "mix at", "number"),
    ("end_mass_kg", "left", "mass"),
)


def _errors_text(errors: dict[str, Any], args: Any) -> str:
    """The +- of each round as a table; empty where there is none."""
    from n2osim.numbers import Units
    from n2osim.text import Table

    shown = [c for c in _SHOWN if f"pass0.{c[0]}" in errors]
    if not shown:
        return ""
    units = Units(args.system)
    rounds = 1 + max(int(n[4 : n.index(".")]) for n in errors if n.startswith("pass"))
    heads = [("round", ""), *((words, units.unit(kind)) for _, words, kind in shown)]
    rows = []
    for k in range(rounds):
        cells = (_half(units, errors.get(f"pass{k}.{name}"), kind) for name, _, kind in shown)
        rows.append((str(k + 1), *cells))
    title = f"+- of a gauge off by {args.gauge_error} and a charge off by {args.fill_error}"
    note = (
        "The further end of each error, root sum square (after JCGM 100:2008); a refilled "
        "charge is off by what the weighing says of its scale, or as the first one. The errors "
        "assumed are typical, no source: give your own with --gauge-error and --fill-error. "
        "Not in it: the jets' discharge coefficient (find yours), the flow model (up to 5 % "
        "off measured flows), fuel consumption, weather. <: less than the rounds show."
    )
    return Table(title, tuple(heads), tuple(rows), note).text()


def _half(units: Any, found: Any, kind: str) -> str:
    """Half-width to the last digit that the rounds are shown with; a dash where a run did not get
    that far."""
    from n2osim.numbers import difference_of

    if found is None or not math.isfinite(found.plus_minus):
        return "-"
    half = float(units.value(found.plus_minus, difference_of(kind)))
    _, _, decimals = units.bare(found.value, kind).partition(".")
    last = 10.0 ** -len(decimals)
    return f"<{last:g}" if half < last else f"{half:.{len(decimals)}f}"


def _plan(scenario: Any, args: Any) -> Any:
    from n2osim.answers.fields import first_of
    from n2osim.answers.judge import first_pass

    item = first_pass(scenario)
    given = {n: v for n in _TIMES if (v := getattr(args, n)) is not None}
    if "purge" not in dict(scenario.feeds) and "purge" not in given:
        given["purge"] = 0.0
    weigh = first_of(scenario, n2osim.Weigh) or n2osim.Weigh()
    refill = None
    if args.refill_every is not None or args.refill_below is not None:
        pump = {} if args.pump_efficiency is None else {"pump_efficiency": args.pump_efficiency}
        supply: Any = "70 degF" if args.supply is None else args.supply
        refill = n2osim.Refill(supply, to=args.refill_to, pumped=not args.unpumped, **pump)
    elif args.unpumped or any(
        x is not None for x in (args.refill_to, args.pump_efficiency, args.supply)
    ):
        raise InputError(
            "refill", "no time for it", "", "--refill-every or --refill-below", "say when to refill"
        )
    return n2osim.RaceDay(
        rounds=args.rounds,
        pass_=item,
        weigh=weigh,
        refill=refill,
        refill_every=args.refill_every,
        refill_below=args.refill_below,
        **given,
    )
