"""``n2osim new`` and ``n2osim check``."""

from __future__ import annotations

from typing import Any

from n2osim.cli.parser import InputPath, OutputPath, add_overwrite, add_units, command

STARTS = ("blank", "demo")


def add(commands: Any) -> None:
    """The commands of this family."""
    new = command(commands, "new", run_new, "write a commented scenario file to start from")
    new.add_argument("path", type=OutputPath, metavar="PATH", help="file to write ('-': to stdout)")
    new.add_argument(
        "--from",
        dest="start",
        choices=STARTS,
        default="blank",
        help="blank: every section explained (default); demo: the built-in example",
    )
    add_overwrite(new)
    check = command(
        commands, "check", run_check, "check a scenario file without simulating anything"
    )
    check.add_argument("file", type=InputPath, metavar="FILE", help="scenario file (TOML)")
    add_units(check)


def run_new(args: Any) -> int:
    """Write a scenario to start from."""
    from importlib.resources import files

    from n2osim.cli.output import put_text

    name = "demo.toml" if args.start == "demo" else "new.toml"
    text = files("n2osim").joinpath("data", name).read_text(encoding="utf-8")
    put_text(args.path, text, args.overwrite)
    if args.path != "-":
        print(f"wrote {args.path}; next: n2osim check {args.path}")
    return 0


def run_check(args: Any) -> int:
    """Read a scenario file and say what it holds."""
    from n2osim.cli import NOT_SOUND
    from n2osim.cli.output import patience
    from n2osim.numbers import lasting
    from n2osim.report.facts import scenario_facts, shell_facts
    from n2osim.report.text import cautions_text, findings_text
    from n2osim.results.limits import find_as_set_up
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
            ("Schedule", f"{counts}; {lasting(total)} in all"),
        ]
        found = find_as_set_up(scenario)
    print(heading(scenario.title))
    print(pairs_text(facts))
    for note in bare:
        print(
            f"\n{note.path}: {note.value:g} without a unit is {note.read_as}; {note.meant} meant?"
        )
    if found:
        print("\n" + findings_text(found, args.system))
    print(f"\n{cautions_text()}")
    if any(f.severity == "danger" for f in found):
        print(f"\n{printable(args.file)}: refused, see the danger above")
        return NOT_SOUND
    print(f"\n{printable(args.file)}: no mistakes found")
    if not scenario.schedule:
        print("the schedule is empty: add a [[schedule]] table before simulating")
    return 0
