"""``n2osim weigh``: jets from weighed passes."""

from __future__ import annotations

import dataclasses
from typing import Any

import n2osim
from n2osim.cli.output import add_outputs, patience, put_json, put_scenario, say, say_cautions
from n2osim.cli.parser import WRITTEN, command, options
from n2osim.errors import InputError

_WEIGH = """\
examples:
  n2osim weigh my-car.toml --pass "27.40 lb" "24.95 lb" "8.0 s" "1005 psig"
  n2osim weigh my-car.toml --pass "27.40 lb" "24.95 lb" 8.0 "1005 psig" "890 psig" \\
      --pass "27.38 lb" "24.90 lb" 8.0 "1010 psig" --timing-error "0.05 s" --save mine.toml

Put the bottle on a scale, open the valve (engine off, outside, hose or jets blowing into the open,
nobody in front of it: what comes out burns skin and takes the air to breathe), put it on the scale
again. BEFORE and AFTER are bottle and charge, GAUGE is read at rest before the valve opens,
GAUGE_AFTER right after it shuts. Without --pass the readings are those of the file ([[weighed]]).
"""
_ERRORS = {
    "scale": "a weighing",
    "timing": "the time open",
    "gauge": "the gauge",
    "empty": "the bottle's empty mass",
}


def add(commands: Any) -> None:
    """The command of this family."""
    words, file = "find out about the jets with a scale", "scenario file (TOML): bottle, feed, jets"
    weigh = command(commands, "weigh", run_weigh, words, _WEIGH, file)
    words = "BEFORE AFTER SECONDS GAUGE [GAUGE_AFTER] of a weighed pass; repeat"
    options(
        weigh,
        ("--pass", "READING", words, {"dest": "passes", "action": "append", "nargs": "+"}),
        ("--feed", "NAME", "feed that was weighed"),
        *((f"--{n}-error", "VALUE", f"standard deviation of {x}") for n, x in _ERRORS.items()),
        ("--save", "PATH", "write the scenario with these jets (.toml)", WRITTEN),
    )
    add_outputs(weigh)


def run_weigh(args: Any) -> int:
    """Read, estimate, report, save."""
    scenario = n2osim.Scenario.from_toml(args.file)
    passes = _passes(args, scenario)
    with patience():
        found = n2osim.weighed_jets(scenario, passes, feed=args.feed)
    say(args, found.text(args.system))
    put_json(args, {"title": scenario.title, **found.as_dict()})
    put_scenario(args, found.scenario)
    say_cautions(args)
    return 0


def _passes(args: Any, scenario: Any) -> Any:
    """The readings given, or the file's own, with the errors given."""
    errors = {f"{n}_error": v for n in _ERRORS if (v := getattr(args, f"{n}_error")) is not None}
    if args.passes is None:
        return tuple(dataclasses.replace(one, **errors) for one in scenario.weighed)
    for readings in args.passes:
        if not 4 <= len(readings) <= 5:
            raise InputError(
                "--pass",
                " ".join(readings),
                "",
                "BEFORE AFTER SECONDS GAUGE [GAUGE_AFTER]",
                'for example --pass "27.4 lb" "24.9 lb" "8 s" "1005 psig"',
            )
    return tuple(n2osim.WeighedPass(*readings, **errors) for readings in args.passes)
