"""``n2osim tune``: pressure errors, bottle weight, and a power held against the sag."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

from n2osim.cli.parser import InputPath, OutputPath, command
from n2osim.cli.study_output import (
    Answer,
    add_outputs,
    answers_data,
    answers_text,
    put_csv,
    put_json,
    put_plot,
    say,
)

if TYPE_CHECKING:
    from n2osim.scenario.scenario import Scenario
    from n2osim.scenario.schedule import Pass

_TUNE = """\
examples:
  n2osim tune pressure my-car.toml                     psi per hp: what a wrong gauge costs
  n2osim tune pressure my-car.toml --at "950 psig" --span "150 psi" --step "50 psi"
  n2osim tune weight my-car.toml --csv wall.csv        same gauge, lighter bottle: for the wall
  n2osim tune weight my-car.toml --over-pass --charges "9 lb" "7 lb" "5 lb"
  n2osim tune power my-car.toml --hp "60 hp"           delivery that holds a flat power
  n2osim tune power my-car.toml --hp "0 s=40 hp" "2 s=40 hp" "3 s=60 hp" --save held.toml

pressure  power and mixture where the bottle is not at the pressure it was set up for
weight    flow at the same gauge pressure by bottle weight, and what to change to keep it
power     opening of the solenoids over the file's first pass, and where fully open falls short

Jets for a power, and passes from a fill: n2osim size jets, n2osim size passes.
"""
_CHECKED = "A model, not a measurement: check against gauge and scale."


def add(commands: Any) -> None:
    """The commands of this family."""
    tune = command(
        commands,
        "tune",
        run_tune,
        "what a psi is worth in power, corrections by bottle weight, how to hold a power",
        _TUNE,
    )
    tune.add_argument("what", choices=tuple(_TUNERS), metavar="WHAT", help=", ".join(_TUNERS))
    tune.add_argument("file", type=InputPath, metavar="FILE", help="scenario file (TOML)")
    tune.add_argument(
        "--at",
        metavar="P",
        help="pressure, weight: gauge pressure of the bottle (default: the switch's opening point)",
    )
    tune.add_argument(
        "--span",
        metavar="DP",
        default="100 psi",
        help='pressure: errors up to this (default: "100 psi")',
    )
    tune.add_argument(
        "--step", metavar="DP", help="pressure: from row to row (default: a fifth of the span)"
    )
    tune.add_argument(
        "--charges",
        metavar="MASS",
        nargs="+",
        help="weight: charges to list (default: fill to a fifth of it)",
    )
    tune.add_argument(
        "--over-pass",
        action="store_true",
        help="weight: compare the mean flow of "
        "the file's first pass (default: flow as the valve opens)",
    )
    tune.add_argument(
        "--hp", metavar="POWER", nargs="+", help='power: "60 hp", or corners of a curve, TIME=POWER'
    )
    tune.add_argument(
        "--save",
        type=OutputPath,
        metavar="PATH",
        help="power: write the scenario with that delivery (.toml)",
    )
    add_outputs(tune, plot="power: write the pass")


def run_tune(args: Any) -> int:
    """One question of the tuner."""
    from n2osim.cli.output import patience
    from n2osim.errors import InputError
    from n2osim.scenario.file import load

    for option in ("plot", "save", "hp"):
        if args.what != "power" and getattr(args, option) is not None:
            raise InputError(f"--{option}", args.what, "", "tune power", f"leave --{option} out")
    scenario = load(args.file)
    with patience():
        _TUNERS[args.what](scenario, args)
    return 0


# --- what they share -----------------------------------------------------------------------------
def _gauge(scenario: Scenario, args: Any) -> Any:
    """The pressure asked for, or the switch's opening point."""
    from n2osim.errors import InputError

    switch = scenario.bottles[0].switch
    if args.at is None and switch is None:
        raise InputError(
            "bottle pressure",
            None,
            "",
            "a scenario with a pressure switch, or --at",
            'for example --at "950 psig"',
        )
    return args.at if args.at is not None else switch.opens  # type: ignore[union-attr]


def _first_pass(scenario: Scenario) -> Pass:
    from n2osim.errors import InputError
    from n2osim.report.sheet_tables import first_pass

    item = first_pass(scenario)
    if item is None:
        raise InputError(
            "pass",
            None,
            "",
            "a scenario with a pass in its schedule",
            'add [[schedule]] with kind = "pass"',
        )
    if item.stages:
        raise InputError(
            "pass", f"{len(item.stages)} stages", "", "a pass of one feed", "leave its stages out"
        )
    return item


def _feed(scenario: Scenario) -> str:
    """Name of the feed that the first pass draws through, or of the first that is no purge."""
    from n2osim.report.sheet_tables import first_pass

    item = first_pass(scenario)
    name = None if item is None else item.feed
    return scenario.feeds[scenario.feed_index(name)][0]


def _table(title: str, heads: Any, rows: Any, note: str) -> str:
    from n2osim.text import Table

    return Table(title, tuple(heads), tuple(rows), f"{note} {_CHECKED}").text() + "\n"


def _fine(units: Any, value: float, kind: str) -> str:
    """A number as in a sentence, finer than a column's, without its unit."""
    text = str(units.full(value, kind)).partition(" ")[0]
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def _left_out(count: int, what: str) -> str:
    return f" Left out: {count} {what} at which this charge cannot stand." if count else ""


def _several(scenario: Scenario) -> str:
    return "" if len(scenario.bottles) == 1 else " Every bottle taken to be as the first."


# --- tuners: (scenario, args) -> None ------------------------------------------------------------
def _pressure(scenario: Scenario, args: Any) -> None:
    from n2osim.answers.tables import pressure_error_table
    from n2osim.errors import InputError
    from n2osim.numbers import Units

    errors = _errors(args)
    table = pressure_error_table(scenario, _gauge(scenario, args), errors, feed=_feed(scenario))
    if len(table.rows) < 2:
        raise InputError("--at", args.at, "", "pressures that this charge can stand at", "")
    zero = next(r for r in table.rows if r.error == 0.0)
    answers = [
        Answer("at", "set up for", table.reference, "gauge_pressure"),
        Answer("power", "power there", zero.power, "engine_power"),
        Answer("mixture", "mixture there (above 1: rich)", zero.mixture, "number"),
        Answer("rests_on", "rests on", table.statement),
    ]
    rows = _pressure_rows(table, zero.mixture)
    title = f"What a pressure error costs: {scenario.title}"
    units = Units(args.system)
    note = _left_out(len(errors) - len(rows), "pressures") + _several(scenario)
    if zero.mixture < 1.0:
        note += " Lean there, so that fuel decides the power."
    say(
        args,
        answers_text(title, [*answers[:3], *_slopes(table, units), *answers[3:]], args.system)
        + "\n"
        + _pressure_text(rows, units, note),
    )
    slopes = {n: getattr(table, n) for n in ("hp_per_psi", "mixture_per_pressure")}
    put_json(args, {"title": title, "answer": answers_data(answers), **slopes, "rows": rows})
    put_csv(args, rows)


def _pressure_rows(table: Any, mixture: float) -> list[dict[str, Any]]:
    """The table's rows, with the pressure called gauge and what the mixture is off by."""
    rows = []
    for r in table.rows:
        given = dataclasses.asdict(r)
        rows.append(
            {"pressure_gauge": given.pop("pressure"), **given, "mixture_error": r.mixture - mixture}
        )
    return rows


def _errors(args: Any) -> list[float]:
    """Errors (Pa) from -span to span; 0 is always among them."""
    from n2osim.units import parse

    span = parse(args.span, "pressure_difference", name="--span", low=1e3, high=2e7)
    given = span / 5.0 if args.step is None else args.step
    step = parse(given, "pressure_difference", name="--step", low=span / 100.0, high=span)
    count = int(span / step + 1e-9)
    return [k * step for k in range(-count, count + 1)]


def _slopes(table: Any, units: Any) -> list[Answer]:
    """What one unit of power costs in pressure, and what pressure makes of power and mixture."""
    from n2osim.units import HP, PSI

    unit, words = (HP, "1 hp") if units.system == "shop" else (1e3, "1 kW")
    off = 10.0 * PSI if units.system == "shop" else 1e5
    slope, most = table.power_per_pressure, max(abs(r.error) for r in table.rows)
    cost = _pressure_for(table.rows, unit)
    if cost is None:
        needs = f"more than the {units.full(most, 'pressure_difference')} listed"
    else:
        needs = f"{units.value(cost, 'pressure_difference'):+.1f} "
        needs += units.unit("pressure_difference")
    power = f"{units.value(slope * off, 'engine_power'):+.2f} {words[2:]}"
    told = units.full(off, "pressure_difference").replace(".0", "")
    return [
        Answer("", f"{words} more needs", needs),
        Answer(
            "", f"{told} more make", f"{power}, mixture {table.mixture_per_pressure * off:+.4f}"
        ),
    ]


def _pressure_for(rows: Any, more: float) -> float | None:
    """Smallest pressure error (Pa) at which the listed rows make ``more`` (W); None: none does.

    From the rows and not from the slope at zero, which changes sign within some tables.
    """
    found = []
    for a, b in zip(rows, rows[1:]):
        low, high = a.power_error - more, b.power_error - more
        if low * high <= 0.0 and low != high:
            found.append(a.error + (b.error - a.error) * low / (low - high))
    return min(found, key=abs) if found else None


def _pressure_text(rows: Any, units: Any, more: str) -> str:
    shown = (
        ("error", "error", "pressure_difference"),
        ("pressure_gauge", "gauge", "gauge_pressure"),
        ("temperature", "bottle at", "temperature"),
        ("density", "drawn", "density"),
        ("flow", "flow", "mass_flow"),
        ("power", "power", "engine_power"),
        ("power_error", "off by", "engine_power"),
    )
    heads = [
        *((words, units.unit(kind)) for _, words, kind in shown),
        ("mixture", ""),
        ("off by", ""),
    ]
    body = []
    for r in rows:
        cells = [_fine(units, r[name], kind) for name, _, kind in shown]
        off = round(r["mixture_error"], 3) + 0.0  # no -0.000
        body.append((*cells, f"{r['mixture']:.3f}", f"{off:+.3f}"))
    note = (
        "As the valve opens, with jets and fuel pressure as fitted: the fuel does not follow "
        f"the bottle.{more}"
    )
    return _table("By pressure", heads, body, note)


def _weight(scenario: Scenario, args: Any) -> None:
    from n2osim.answers.tables import correction_table
    from n2osim.errors import InputError
    from n2osim.numbers import Units

    item = _first_pass(scenario) if args.over_pass else None
    if item is not None and len(scenario.bottles) > 1:
        raise InputError(
            "--over-pass",
            f"{len(scenario.bottles)} bottles",
            "",
            "one bottle",
            "leave it out: then flows as the valve opens are compared",
        )
    table = correction_table(
        scenario, _gauge(scenario, args), args.charges, pass_=item, feed=_feed(scenario)
    )
    if not table.rows:
        raise InputError(
            "charges",
            ", ".join(args.charges),
            "",
            "one that can stand at that pressure",
            "give heavier ones, or another --at",
        )
    title = f"Correction by bottle weight: {scenario.title}"
    lost = (9 if args.charges is None else len(args.charges)) - len(table.rows)
    more = f" Left out: {lost} that cannot stand at that pressure." if lost else ""
    shown = _weight_text(
        table, scenario, Units(args.system), item is not None, more + _several(scenario)
    )
    say(args, answers_text(title, (), args.system) + shown)
    rows = [dataclasses.asdict(r) for r in table.rows]
    put_json(
        args,
        {
            "title": title,
            "pressure_gauge_Pa": table.pressure,
            "reference_charge_kg": table.reference_charge,
            "flow_kg_s": table.flow,
            "mean_over_pass": item is not None,
            "rows": rows,
        },
    )
    put_csv(args, rows)


def _weight_text(table: Any, scenario: Scenario, units: Any, mean: bool, more: str) -> str:
    from n2osim.report.sheet_tables import gauge_setting, setting_words, tare_words

    heads = (
        ("on the scale", units.unit("mass")),
        ("N2O in it", units.unit("mass")),
        (f"reads {units.bare(table.pressure, 'gauge_pressure')} at", units.unit("temperature")),
        ("drawn", units.unit("density")),
        ("flow", units.unit("mass_flow")),
        ("change", "%"),
        ("set gauge to", units.unit("gauge_pressure")),
        ("or bore x", ""),
    )
    body = []
    for r in table.rows:
        setting = gauge_setting(r, table.pressure, scenario, units)
        factor = "-" if r.jet_factor is None or setting == "refill first" else f"{r.jet_factor:.3f}"
        body.append(
            (
                units.bare(r.weight, "mass"),
                units.bare(r.charge, "mass"),
                units.bare(r.temperature, "temperature"),
                units.bare(r.density, "density"),
                units.bare(r.flow, "mass_flow"),
                f"{100.0 * r.flow_change:+.1f}",
                setting,
                factor,
            )
        )
    flow = "mean over the pass" if mean else "as the valve opens"
    note = (
        f"Flow {flow}, against that of {units.full(table.reference_charge, 'mass')} at the "
        "same gauge pressure. Either set the gauge or change the jets. "
        f"{setting_words(units)} {tare_words(scenario, units)}{more}"
    )
    return _table("By bottle weight", heads, body, note)


def _power(scenario: Scenario, args: Any) -> None:
    from n2osim.answers.delivery import hold_power
    from n2osim.numbers import Units

    wanted = _wanted(args.hp)
    item = _first_pass(scenario)
    before = scenario.schedule[: scenario.schedule.index(item)]
    found = hold_power(scenario.replace(schedule=before), wanted, item)
    title = f"Power held: {scenario.title}"
    answers = _held(found)
    corners = found.schedule.delivery or ()
    say(
        args,
        answers_text(title, _in_words(answers), args.system)
        + "\n"
        + _power_text(found, corners, Units(args.system)),
    )
    names = ("time", "opening", "flow", "power", "wanted")
    rows = [dict(zip(names, map(float, r))) for r in zip(*(getattr(found, n) for n in names))]
    put_json(
        args,
        {
            "title": title,
            "answer": answers_data(answers),
            "delivery": [list(c) for c in corners],
            "rows": rows,
        },
    )
    put_csv(args, rows)
    if args.save is not None:
        _save(scenario, item, found.schedule, args)
    if args.plot is not None:
        put_plot(args, lambda: _pass_plot(found.run))


def _wanted(given: Any) -> Any:
    """One power, or corners ``TIME=POWER`` as pairs."""
    from n2osim.errors import InputError

    if given and len(given) == 1 and "=" not in given[0]:
        return given[0]
    corners = [text.partition("=")[::2] for text in given or ()]
    if not corners or any(not t.strip() or not p.strip() for t, p in corners):
        raise InputError(
            "--hp",
            " ".join(given or ()) or None,
            "",
            "a power, or corners TIME=POWER",
            'for example --hp "60 hp", or "0 s=40 hp" "3 s=60 hp"',
        )
    return [(t.strip(), p.strip()) for t, p in corners]


def _held(found: Any) -> list[Answer]:
    shot, engine = found.run.passes[-1], found.run.engine.passes[-1]
    return [
        Answer("wanted", "power wanted, at most", float(found.wanted.max()), "engine_power"),
        Answer(
            "opening_first",
            "open at first",
            next((float(x) for x in found.opening if x > 0.0), 0.0),
            "fraction",
        ),
        Answer("opening_most", "open at most", float(found.opening.max()), "fraction"),
        Answer("held_until", "held until (into the pass)", found.held_until, "time"),
        Answer("limit", "then", found.limit or None),
        Answer("shortfall", "short by up to", found.shortfall, "engine_power"),
        Answer("start_pressure", "bottle from", shot.start_pressure, "gauge_pressure"),
        Answer("end_pressure", "to", shot.end_pressure, "gauge_pressure"),
        Answer("mixture_start", "mixture from (above 1: rich)", engine.mixture.start, "number"),
        Answer("mixture_end", "to", engine.mixture.end, "number"),
        Answer("used", "N2O used", shot.used, "mass"),
    ]


def _in_words(answers: list[Answer]) -> list[Answer]:
    """As :func:`_held`, with words where the power is held throughout."""
    if next(a for a in answers if a.name == "held_until").value is not None:
        return answers
    held = Answer("held_until", "held", "to the end of the pass")
    spare = ("shortfall", "limit")
    return [held if a.name == "held_until" else a for a in answers if a.name not in spare]


def _power_text(found: Any, corners: Any, units: Any) -> str:
    import numpy as np

    heads = (
        ("time", "s"),
        ("open", "%"),
        ("flow", units.unit("mass_flow")),
        ("power", units.unit("engine_power")),
        ("wanted", units.unit("engine_power")),
        ("", ""),
    )
    body = []
    for t, opening in corners:
        flow, power, wanted = (
            float(np.interp(t, found.time, getattr(found, n))) for n in ("flow", "power", "wanted")
        )
        late = found.held_until is not None and t >= found.held_until
        body.append(
            (
                f"{t:.2f}",
                f"{100.0 * opening:.1f}",
                units.bare(flow, "mass_flow"),
                _fine(units, power, "engine_power"),
                _fine(units, wanted, "engine_power"),
                found.limit if late else "",
            )
        )
    note = (
        "Straight lines between the rows, which are also the corners for a scenario file "
        "(--save writes one). The controller is ideal: the solenoids pass the share of the "
        "time they are open."
    )
    return _table("Delivery", heads, body, note)


def _save(scenario: Scenario, item: Pass, held: Pass, args: Any) -> None:
    """The scenario with its first pass delivered so."""
    from n2osim.cli.output import put_text

    at = scenario.schedule.index(item)
    schedule = (*scenario.schedule[:at], held, *scenario.schedule[at + 1 :])
    put_text(args.save, scenario.replace(schedule=schedule).to_toml(), args.overwrite)


def _pass_plot(run: Any) -> Any:
    from n2osim.report.plots import plot_pass

    return plot_pass(run, index=0)


_TUNERS = {"pressure": _pressure, "weight": _weight, "power": _power}

__all__ = ["add", "run_tune"]
