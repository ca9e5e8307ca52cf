"""``n2osim tune``: pressure errors, bottle weight, and a power held against the sag."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import n2osim
from n2osim.cli.output import question
from n2osim.cli.parser import MANY, options, questions
from n2osim.errors import InputError

if TYPE_CHECKING:
    from n2osim.answers.answer import Answer
    from n2osim.scenario.scenario import Scenario

_TUNE = """\
examples:
  n2osim tune pressure my-car.toml                     psi per hp: what a wrong gauge costs
  n2osim tune pressure my-car.toml --at "950 psig" --span "150 psi" --step "50 psi"
  n2osim tune weight my-car.toml --csv wall.csv        same gauge, lighter bottle: for the wall
  n2osim tune weight my-car.toml --over-pass --charges "9 lb" "7 lb" "5 lb"
  n2osim tune power my-car.toml --hp "60 hp"           delivery that holds a flat power
  n2osim tune power my-car.toml --hp "0 s=40 hp" "2 s=40 hp" "3 s=60 hp" --save held.toml

Jets for a power, and passes from a fill: n2osim size jets, n2osim size passes.
"""
_AT = ("--at", "P", "gauge pressure of the bottle (default: the switch's opening point)")


def add(commands: Any) -> None:
    """The commands of this family."""
    words = "psi per hp, correction by bottle weight, a power held"
    asked = questions(commands, "tune", words, _TUNE)
    words = "power and mixture where the bottle is not at its pressure"
    options(
        question(
            asked,
            "pressure",
            lambda scenario, args: n2osim.pressure_error_table(scenario, args.at, _errors(args)),
            words,
        ),
        _AT,
        ("--step", "DP", "from row to row (default: a fifth of the span)"),
        ("--span", "DP", 'errors up to this (default: "100 psi")', {"default": "100 psi"}),
    )
    words = "flow at the same gauge pressure by bottle weight, to keep it"
    over = "compare the mean flow of the file's first pass (default: as the valve opens)"
    options(
        question(asked, "weight", _weight, words),
        _AT,
        ("--charges", "MASS", "charges (default: fill to a fifth of it)", MANY),
        ("--over-pass", "", over),
    )
    words = "opening of the solenoids over the file's first pass that holds a power"
    options(
        question(
            asked,
            "power",
            lambda scenario, args: n2osim.hold_power(scenario, _wanted(args.hp)),
            words,
            plot="write the pass",
            draw=lambda found: n2osim.plot.pass_(found.run),
        ),
        ("--hp", "POWER", '"60 hp", or corners of a curve, TIME=POWER', MANY),
    )


def _errors(args: Any) -> list[float]:
    """Errors (Pa) from -span to span; 0 is always among them."""
    from n2osim.units import parse

    span = parse(args.span, "pressure_difference", name="--span", low=1e3, high=2e7)
    given = span / 5.0 if args.step is None else args.step
    step = parse(given, "pressure_difference", name="--step", low=span / 100.0, high=span)
    count = int(span / step + 1e-9)
    return [k * step for k in range(-count, count + 1)]


def _weight(scenario: Scenario, args: Any) -> Answer:
    from n2osim.answers.judge import first_pass

    item = first_pass(scenario) if args.over_pass else None
    return n2osim.correction_table(scenario, args.at, args.charges, pass_=item)


def _wanted(given: Any) -> Any:
    """One power, or corners ``TIME=POWER`` as pairs."""
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
