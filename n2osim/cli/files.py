"""``n2osim new`` and ``n2osim check``."""

from __future__ import annotations

from typing import Any

import n2osim
from n2osim.cli import NOT_SOUND
from n2osim.cli.output import patience, put_text
from n2osim.cli.parser import OVERWRITE, UNITS, OutputPath, command, options
from n2osim.errors import IntegrationError

STARTS = ("blank", "demo")


def add(commands: Any) -> None:
    """The commands of this family."""
    words = "write a commented scenario file to start from"
    new = command(commands, "new", run_new, words, file="")
    new.add_argument("path", type=OutputPath, metavar="PATH", help="file to write ('-': to stdout)")
    new.add_argument(
        "--from",
        dest="start",
        choices=STARTS,
        default="blank",
        help="blank: every section explained (default); demo: the built-in example",
    )
    options(new, OVERWRITE)
    words = "check a scenario file: mistakes, what follows from it, findings of its run"
    options(command(commands, "check", run_check, words), UNITS)


def shipped(name: str) -> str:
    """Text of a scenario file that comes with the package."""
    from importlib.resources import files

    return files("n2osim").joinpath("data", name).read_text(encoding="utf-8")


def run_new(args: Any) -> int:
    """Write a scenario to start from."""
    name = "demo.toml" if args.start == "demo" else "new.toml"
    put_text(args.path, shipped(name), args.overwrite)
    if args.path != "-":
        print(f"wrote {args.path}; next: n2osim check {args.path}")
    return 0


def run_check(args: Any) -> int:
    """Read a scenario file, say what it holds, run it, and say what comes of it."""
    from n2osim.numbers import lasting
    from n2osim.report.facts import scenario_facts, shell_facts
    from n2osim.report.text import cautions_text, findings_text
    from n2osim.scenario.file import load_with_notes
    from n2osim.text import heading, pairs_text, printable

    scenario, bare = load_with_notes(args.file)
    total = sum(item.duration for item in scenario.schedule)
    kinds = [item.kind for item in scenario.schedule]
    counts = ", ".join(f"{kinds.count(k)} {k}" for k in dict.fromkeys(kinds)) or "nothing"
    with patience():
        facts = [
            *scenario_facts(scenario, args.system),
            *shell_facts(scenario, args.system),
            *_circuits(scenario),
            ("Schedule", f"{counts}; {lasting(total)} in all"),
        ]
        found, broken_off = _found(scenario)
    print(heading(scenario.title))
    print(pairs_text(facts))
    for note in bare:
        print(
            f"\n{note.path}: {note.value:g} without a unit is {note.read_as}; {note.meant} meant?"
        )
    if found:
        print("\n" + findings_text(found, args.system))
    print(f"\n{cautions_text()}")
    if broken_off:
        print(f"\n{printable(args.file)}: the run breaks off: {broken_off}")
        return NOT_SOUND
    if any(f.severity == "danger" for f in found):
        print(f"\n{printable(args.file)}: refused, see the danger above")
        return NOT_SOUND
    print(f"\n{printable(args.file)}: no mistakes found")
    if not scenario.schedule:
        print("the schedule is empty: add a [[schedule]] table before simulating")
    return 0


def _found(scenario: Any) -> tuple[Any, str]:
    """Findings of the scenario's run (of its set-up alone without a schedule), and why the run
    broke off ("" where it did not)."""
    from n2osim.results.findings import SEVERITIES
    from n2osim.results.limits import find_as_set_up

    if not scenario.schedule:
        return find_as_set_up(scenario), ""
    try:
        run, why = n2osim.simulate(scenario), ""
    except IntegrationError as problem:
        run, why = problem.partial_run, str(problem)
    if run is None:
        return find_as_set_up(scenario), why
    found = [f for f in run.findings if f.severity != "caution"]
    if not any(item.kind == "pass" for item in scenario.schedule):
        # What is judged at the first pass is judged as set up: there is none.
        known = {f.code for f in found}
        found += [f for f in find_as_set_up(scenario) if f.code not in known]
        found.sort(key=lambda f: SEVERITIES.index(f.severity))
    return tuple(found), why


def _circuits(scenario: Any) -> list[tuple[str, str]]:
    """What each heater draws of the supply when it is on."""
    from n2osim.answers.wiring import wiring

    found = []
    for b in scenario.bottles:
        if b.heater is not None:
            of = f" {b.name}" if len(scenario.bottles) > 1 else ""
            w = wiring(b.heater, scenario.supply)
            text = f"{w.delivered_power:.4g} W delivered, {w.current:.3g} A, {w.resistance:.3g} ohm"
            found.append((f"Circuit{of}", text))
    return found
