"""``n2osim size``, ``n2osim compare`` and ``n2osim faults``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import n2osim
from n2osim.cli.output import FLAGS, pairs, question
from n2osim.cli.parser import MANY, WHOLE, options, questions
from n2osim.errors import InputError

if TYPE_CHECKING:
    from n2osim.answers.answer import Answer
    from n2osim.scenario.scenario import Scenario

_SIZE = """\
examples:
  n2osim size heater my-car.toml --within "20 min"     least power that is in the band in time
  n2osim size power my-car.toml --overshoot "20 psi"   largest power that keeps the limits
  n2osim size coverage my-car.toml --within "30 min"   least blanket
  n2osim size band my-car.toml --low "900 psig" --high "1000 psig" --save set.toml
  n2osim size bottle my-car.toml --passes 6            smallest bottle for six passes
  n2osim size jets my-car.toml --hp "80 hp" --sizes drills --fuel-sizes drills
  n2osim size passes my-car.toml                       passes of this fill, when to refill
  n2osim size for my-car.toml --minimize heater.coverage \\
      --subject-to "hold0.warm_up_time <= 30 min" "run.hottest_wall <= 180 degF"

Each question has options of its own: n2osim size heater --help. Only what is asked for changes;
--save writes the scenario with the answer in it. Exit code 3: the answer's run has a danger, or
something required does not hold. Never heat a bottle with a flame; never defeat its relief device.
"""
_LIMITS = (
    ("--overshoot", "DP", "most pressure above the opening point"),
    ("--wall", "T", "hottest wall (default: the shell's own limit)"),
    ("--current", "A", "most current of each heater"),
)


def add(commands: Any) -> None:
    """The commands of this family."""
    words = "size heater, switch band, bottle or jets for a scenario, or ask anything"
    asked = questions(commands, "size", words, _SIZE)
    _add_heater(asked)
    _add_band(asked)
    _add_bottle(asked)
    _add_jets(asked)
    _add_passes(asked)
    _add_for(asked)
    _add_compare(commands)
    _add_faults(commands)


# --- heater --------------------------------------------------------------------------------------
def _add_heater(asked: Any) -> None:
    within = ("--within", "TIME", 'time to the band (default: "30 min")')
    values = ("--values", "POWER", "rated powers that can be had", MANY)
    heater = question(
        asked, "heater", _heater, "least heater power that is in the band in time: a design page"
    )
    target = ("--target", "P", "opening point (default: the switch's)")
    brief = ("--brief", "", "without other nights, tolerances and faults")
    options(heater, within, target, *_LIMITS, values, brief)
    _add_cases(heater)
    power = question(
        asked,
        "power",
        lambda scenario, args: n2osim.largest_power(scenario, **_limits(args), **_cases(args)),
        "largest heater power that keeps the limits",
    )
    options(power, *_LIMITS, values)
    _add_cases(power)
    coverage = question(asked, "coverage", _coverage, "least covered share of the shell")
    options(coverage, within, *_LIMITS[:2])
    _add_cases(coverage)


def _limits(args: Any) -> dict[str, Any]:
    names = ("overshoot", "wall", "current", "values")
    return {n: v for n in names if (v := getattr(args, n, None)) is not None}


def _heater(scenario: Scenario, args: Any) -> Answer:
    return n2osim.size_heater(
        scenario,
        args.within or "30 min",
        target=args.target,
        page=not args.brief,
        **_limits(args),
        **_cases(args),
    )


def _coverage(scenario: Scenario, args: Any) -> Answer:
    within = args.within or "30 min"
    return n2osim.size_coverage(scenario, within, **_limits(args), **_cases(args))


# --- band ----------------------------------------------------------------------------------------
def _add_band(asked: Any) -> None:
    band = question(asked, "band", _band, "widest switch band that keeps the pressure inside")
    options(
        band,
        ("--low", "P", "pressure never below (default: the switch's closing point)"),
        ("--high", "P", "pressure never above (default: its opening point)"),
        ("--hold", "TIME", 'time over which this is looked at (default: "3 h")'),
    )
    _add_cases(band, spreads=False)


def _band(scenario: Scenario, args: Any) -> Answer:
    return n2osim.set_band(scenario, args.low, args.high, hold=args.hold or "3 h", **_cases(args))


# --- bottle, jets, passes ------------------------------------------------------------------------
def _add_bottle(asked: Any) -> None:
    bottle = question(asked, "bottle", _bottle, "smallest bottle for a number of passes")
    options(
        bottle,
        ("--passes", "N", "passes (default: 4)", {"type": int, "default": 4}),
        ("--shell", "SHELL", "preset shell (default: aluminium)"),
        ("--low", "P", "pressure never below"),
        ("--flow", "SHARE", 'least flow at the end of a pass, of the mean (default: "80 %%")'),
    )


def _bottle(scenario: Scenario, args: Any) -> Answer:
    how = {"minimum_pressure": args.low} | ({} if args.flow is None else {"flow": args.flow})
    return n2osim.size_bottle(scenario, args.passes, shell=args.shell or "aluminium", **how)


def _add_jets(asked: Any) -> None:
    words = "N2O and fuel jets for a power over the file's first pass"
    jets = question(asked, "jets", _jets, words)
    words = "bores that can be had, or 'drills' for number drills"
    options(
        jets,
        ("--hp", "POWER", 'power wanted, mean over the pass: "80 hp" or "60 kW"'),
        ("--at", "P", "pressure at launch (default: as the schedule comes to it)"),
        ("--count", "N", "N2O jets (default: as fitted)", WHOLE),
        ("--fuel-count", "N", "fuel jets (default: as fitted)", WHOLE),
        ("--sizes", "BORE", f"N2O {words}", MANY),
        ("--fuel-sizes", "BORE", f"fuel {words}", MANY),
    )


def _jets(scenario: Scenario, args: Any) -> Answer:
    from n2osim.answers.jets import NUMBER_DRILLS

    if args.hp is None:
        raise InputError("--hp", None, "", "a power", 'for example --hp "80 hp"')

    def offered(given: Any) -> Any:
        return NUMBER_DRILLS if given == ["drills"] else given

    return n2osim.size_jets(
        scenario,
        args.hp,
        at_pressure=args.at,
        count=args.count,
        fuel_count=args.fuel_count,
        sizes=offered(args.sizes),
        fuel_sizes=offered(args.fuel_sizes),
    )


def _add_passes(asked: Any) -> None:
    passes = question(asked, "passes", _passes, "passes that this fill gives, and when to refill")
    options(
        passes,
        ("--low", "P", "pressure never below"),
        ("--at", "P", "pressure at launch for the refill mark (default: the opening point)"),
        ("--flow", "SHARE", 'least flow at the end of a pass, of the mean (default: "80 %%")'),
    )


def _passes(scenario: Scenario, args: Any) -> Answer:
    how = {} if args.flow is None else {"flow": args.flow}
    how |= {"minimum_pressure": args.low, "at_pressure": args.at}
    return n2osim.passes_per_fill(scenario, **how)


# --- anything ------------------------------------------------------------------------------------
def _add_for(asked: Any) -> None:
    free = question(asked, "for", _for, "least or largest of anything, subject to anything")
    goal = free.add_mutually_exclusive_group(required=True)
    goal.add_argument("--minimize", metavar="NAME", help="field or quantity to make least")
    goal.add_argument("--maximize", metavar="NAME", help="field or quantity to make largest")
    over = 'fields that may change: "heater.power=50 W..900 W", or a list "NAME=A,B,C"'
    bound = 'what must hold: "hold0.warm_up_time <= 30 min"'
    options(
        free,
        ("--over", "NAME=VALUES", over, MANY),
        ("--subject-to", "BOUND", bound, {"nargs": "+", "default": []}),
        ("--resolution", "SHARE", "default: 0.001", {"type": float}),
    )
    _add_cases(free)


def _for(scenario: Scenario, args: Any) -> Answer:
    over = None if args.over is None else {n: _range(v) for n, v in _pairs(args.over, "--over")}
    return n2osim.optimize(
        scenario,
        minimize=args.minimize,
        maximize=args.maximize,
        over=over,
        subject_to=args.subject_to,
        resolution=args.resolution,
        **_cases(args),
    )


def _add_cases(parser: Any, spreads: bool = True) -> None:
    case = 'it must hold then too: "cold: start=20 degF, ambient.temperature=20 degF"'
    ends = 'it must hold at both ends too: "ambient.air_speed=0 mph..10 mph"'
    waive = "limits that need not hold, by code"
    options(parser, ("--case", "CASE", case, MANY))
    if spreads:
        options(parser, ("--spread", "NAME=LOW..HIGH", ends, MANY))
    options(parser, ("--waive", "CODE", waive, {"nargs": "+", "default": []}))


def _cases(args: Any) -> dict[str, Any]:
    found: dict[str, Any] = {"waive": args.waive}
    if args.case is not None:
        found["cases"] = dict(map(_case, args.case))
    if getattr(args, "spread", None) is not None:
        found["spreads"] = {n: _range(v) for n, v in _pairs(args.spread, "--spread")}
    return found


def _case(text: str) -> tuple[str, dict[str, Any]]:
    name, sign, rest = text.partition(":")
    if not sign or not name.strip() or not rest.strip():
        raise InputError("--case", text, "", '"NAME: field=value, field=value"', "name it first")
    given = _pairs(rest.split(","), "--case")
    return name.strip(), {field: FLAGS.get(value, value) for field, value in given}


def _pairs(given: Any, option: str) -> list[tuple[str, str]]:
    return list(pairs(given, option, '"heater.power=50 W..900 W"').items())


def _range(text: str) -> tuple[str, ...]:
    found = tuple(x.strip() for x in (text.split("..") if ".." in text else text.split(",")))
    if len(found) == 2 and ".." not in text:
        remedy = f'"{found[0]}..{found[1]}" for everything between'
        raise InputError("values", text, "", "LOW..HIGH, or a list of three or more", remedy)
    return found


# --- compare, faults -----------------------------------------------------------------------------
_COMPARE = """\
examples:
  n2osim compare my-car.toml                           aluminium, steel and both carbon shells
  n2osim compare my-car.toml --shells aluminium carbon-polymer --plot shells.png
  n2osim compare my-car.toml --csv - | head

Every shell holds the scenario's charge, with its heater, switch, air and first pass.
"""
_FAULTS = """\
examples:
  n2osim faults my-car.toml                            welded relay, and a hot closed boot
  n2osim faults my-car.toml --relay "2 h" --air "100 degF"
"""


def _add_compare(commands: Any) -> None:
    words = "compare shells: carbon against metal, same charge and heater"
    options(
        question(
            commands,
            "compare",
            _compare,
            words,
            _COMPARE,
            plot="write the comparison as bars",
            draw=lambda found: n2osim.plot.shells(found),
        ),
        ("--shells", "SHELL", "preset shells to compare", MANY),
        ("--hold", "TIME", "in the band (default: 1 h)", {"default": "1 h"}),
    )


def _compare(scenario: Scenario, args: Any) -> Answer:
    from n2osim.answers.compare import SHELLS

    return n2osim.compare_shells(scenario, args.shells or SHELLS, hold=args.hold)


def _add_faults(commands: Any) -> None:
    words = "time to each limit: welded relay, and a hot closed boot"
    options(
        question(commands, "faults", _faults, words, _FAULTS),
        ("--relay", "TIME", "how long (default: 3 h)", {"default": "3 h"}),
        ("--soak", "TIME", "in the boot (default: 8 h)", {"default": "8 h"}),
        ("--air", "T", "outside the boot (default: 95 degF, or the file's own day if hotter)"),
    )


def _faults(scenario: Scenario, args: Any) -> Answer:
    return n2osim.faults(scenario, relay=args.relay, soak=args.soak, air=args.air)
