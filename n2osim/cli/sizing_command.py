"""``n2osim size`` and ``n2osim compare``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from n2osim.cli.parser import InputPath, command
from n2osim.cli.study_output import (
    Answer,
    add_outputs,
    counter,
    put_answers,
    put_csv,
    put_json,
    put_plot,
    say,
)

if TYPE_CHECKING:
    from n2osim.scenario.scenario import Scenario

_SIZE = """\
examples:
  n2osim size heater my-car.toml --within "20 min"     least power that is in the band in time
  n2osim size power my-car.toml --overshoot "20 psi"   largest power that keeps the limits
  n2osim size band my-car.toml --low "900 psig" --high "1000 psig"
  n2osim size bottle my-car.toml --passes 6            smallest bottle for six passes
  n2osim size jets my-car.toml --hp "80 hp" --at "925 psig"
  n2osim size jets my-car.toml --hp "80 hp" --sizes drills    nearest number drills too
  n2osim size passes my-car.toml --low "800 psig"      passes that this fill gives, when to refill
"""
_COMPARE = """\
examples:
  n2osim compare my-car.toml                           aluminium, steel and both carbon shells
  n2osim compare my-car.toml --shells aluminium carbon-polymer --plot shells.png
  n2osim compare my-car.toml --csv - | head

Every shell holds the scenario's charge, with its heater, switch, air and first pass.
"""


def add(commands: Any) -> None:
    """The commands of this family."""
    size = command(
        commands, "size", run_size, "size heater, switch band, bottle or jets for a scenario", _SIZE
    )
    size.add_argument("what", choices=tuple(_SIZERS), metavar="WHAT", help=", ".join(_SIZERS))
    size.add_argument("file", type=InputPath, metavar="FILE", help="scenario file (TOML)")
    size.add_argument(
        "--within",
        metavar="TIME",
        default="30 min",
        help='heater: time to the band (default: "30 min")',
    )
    size.add_argument("--target", metavar="P", help="heater: opening point (default: the switch's)")
    size.add_argument("--overshoot", metavar="DP", help="heater, power: most overshoot allowed")
    size.add_argument(
        "--wall",
        metavar="T",
        help="heater, power: hottest wall allowed (default: the shell's limit)",
    )
    size.add_argument("--current", metavar="A", help="heater, power: most current allowed")
    size.add_argument(
        "--low",
        metavar="P",
        help="band, bottle, passes: pressure never below (default: closing point; none; none)",
    )
    size.add_argument("--high", metavar="P", help="band: pressure never above (default: opening)")
    size.add_argument(
        "--passes",
        metavar="N",
        type=int,
        default=4,
        help="bottle: passes from one fill (default: 4)",
    )
    size.add_argument("--shell", metavar="SHELL", default="aluminium", help="bottle: preset shell")
    size.add_argument("--hp", metavar="POWER", help='jets: power wanted, "80 hp" or "60 kW"')
    size.add_argument(
        "--at", metavar="P", help="jets, passes: bottle pressure (default: opening point)"
    )
    size.add_argument("--count", metavar="N", type=int, help="jets: how many (default: as fitted)")
    size.add_argument(
        "--sizes",
        metavar="BORE",
        nargs="+",
        help="jets: bores to be had, or 'drills' for number drills",
    )
    size.add_argument(
        "--flow",
        metavar="SHARE",
        default="80 %",
        help='passes: least flow, of the first (default: "80 %%")',
    )
    add_outputs(size, csv="")
    compare = command(
        commands,
        "compare",
        run_compare,
        "compare shells: carbon against metal, same charge and heater",
        _COMPARE,
    )
    compare.add_argument("file", type=InputPath, metavar="FILE", help="scenario file (TOML)")
    compare.add_argument("--shells", metavar="SHELL", nargs="+", help="preset shells to compare")
    compare.add_argument("--hold", metavar="TIME", default="1 h", help="in the band (default: 1 h)")
    add_outputs(compare, plot="write the comparison as bars")


def run_size(args: Any) -> int:
    """One sizing question."""
    from n2osim.cli.output import patience
    from n2osim.scenario.file import load

    scenario = load(args.file)
    with patience():
        title, answers = _SIZERS[args.what](scenario, args)
    put_answers(args, title, answers)
    return 0


_EMPTY = 1e5  # Pa gauge


# --- sizers: (scenario, args) -> (title, answers) ------------------------------------------------
def _switch(scenario: Scenario, why: str) -> Any:
    from n2osim.errors import InputError

    switch = scenario.bottles[0].switch
    if switch is None:
        raise InputError("switch", None, "", "a scenario with a pressure switch", why)
    return switch


def _limits(args: Any) -> Any:
    from n2osim.answers.sizing import Limits

    wall = "shell" if args.wall is None else args.wall
    return Limits(overshoot=args.overshoot, wall=wall, current=args.current)


def _size_heater(scenario: Scenario, args: Any) -> tuple[str, list[Answer]]:
    from n2osim.answers.sizing import Limits, case_of, size_heater

    case_of(scenario, Limits())
    fitted, switch = scenario.bottles[0], _switch(scenario, "it says where the band is")
    s = size_heater(
        fitted.bottle,
        fitted.fill,
        fitted.start,
        switch.opens if args.target is None else args.target,
        args.within,
        scenario.ambient,
        band=switch.opens - switch.closes,
        supply=scenario.supply,
        heater=fitted.heater,
        limits=_limits(args),
        mounting=fitted.mounting,
        model=scenario.model,
    )
    found = [
        Answer("power", "heater", s.power, "power"),
        Answer("decides", "decided by", s.binding),
        Answer("current", "current", s.current, "current"),
        Answer("warm_up_time", "warm-up", s.warm_up_time, "time"),
        Answer("warm_up_energy", "warm-up takes", s.warm_up_energy, "energy"),
        Answer("overshoot", "overshoot", s.overshoot, "pressure_difference"),
        Answer("peak_pressure", "peak", s.peak_pressure, "gauge_pressure"),
        Answer("duty", "duty in the band", s.duty, "fraction"),
        Answer("hottest_wall", "hottest wall", s.hottest_wall, "temperature"),
        Answer("hottest_heater", "hottest heater", s.hottest_heater, "temperature"),
        Answer("wall_margin", "wall margin", s.wall_margin, "temperature_difference"),
        Answer("largest_power", "more is allowed to", s.largest_power, "power"),
        Answer("next_limit", "then", s.next_limit),
    ]
    return f"Heater for {scenario.title}", found


def _size_power(scenario: Scenario, args: Any) -> tuple[str, list[Answer]]:
    from n2osim.answers.sizing import largest_power

    p = largest_power(scenario, _limits(args))
    found = [
        Answer("power", "largest power", p.power, "power"),
        Answer("decides", "decided by", p.binding or "no limit up to there"),
    ]
    found += [Answer(x.name.replace(" ", "_"), x.name, x.value, x.kind) for x in p.limits]
    return f"Largest heater for {scenario.title}", found


def _size_band(scenario: Scenario, args: Any) -> tuple[str, list[Answer]]:
    from n2osim.answers.band import set_band

    switch = _switch(scenario, "its band is what is set")
    b = set_band(
        scenario,
        switch.closes if args.low is None else args.low,
        switch.opens if args.high is None else args.high,
    )
    gauge = "gauge_pressure"
    return f"Switch band for {scenario.title}", [
        Answer("closes", "heater comes on at", b.closes, gauge),
        Answer("opens", "heater goes off at", b.opens, gauge),
        Answer("peak", "pressure then peaks at", b.peak, gauge),
        Answer("lowest", "and falls to", b.lowest, gauge),
        Answer("warm_up_time", "warm-up", b.warm_up_time, "time"),
        Answer("duty", "duty", b.duty, "fraction"),
        Answer("switchings_per_hour", "switchings an hour", b.switchings_per_hour, "number"),
    ]


def _size_bottle(scenario: Scenario, args: Any) -> tuple[str, list[Answer]]:
    from n2osim.answers.bottle_sizing import size_bottle

    # Without a floor size_bottle has nothing to narrow its search with (its margin is then 0 for
    # every bottle that lasts): one that only an empty bottle breaks.
    low = _EMPTY if args.low is None else args.low
    b = size_bottle(scenario, args.passes, shell=args.shell, lowest_pressure=low)
    return f"Bottle for {args.passes} passes: {scenario.title}", [
        Answer("capacity", "capacity at least", b.capacity, "mass"),
        Answer("trade_size", "smallest preset", b.trade_size, "mass"),
        Answer("charge_left", "left after the last", b.charge_left, "mass"),
        Answer("last_sag", "sag of the last", b.sags[-1], "pressure_difference"),
        Answer("last_end", "it ends at", b.end_pressures[-1], "gauge_pressure"),
    ]


def _first_feed(scenario: Scenario) -> Any:
    """Feed of the first pass, "main" where that names none; None without feeds."""
    from n2osim.report.sheet_tables import first_pass

    if not scenario.feeds:
        return None
    item = first_pass(scenario)
    stage = item.stages[0] if item is not None and item.stages else None
    name = (stage.feed if stage is not None else None) or (item.feed if item else None) or "main"
    return scenario.feed_named(name)


def _mounting_cautions(mounting: Any) -> list[str]:
    """A bottle that is mounted to draw vapour gives no liquid, whatever it holds."""
    if mounting.draw != "vapour":
        return []
    return [
        "the bottle is mounted to draw vapour; these jets are sized for what it draws standing "
        "still the right way round, liquid"
    ]


def _size_jets(scenario: Scenario, args: Any) -> tuple[str, list[Answer]]:
    from n2osim.answers.jet_sizing import NUMBER_DRILLS, size_jets
    from n2osim.errors import InputError

    engine = scenario.engine
    if engine is None or args.hp is None:
        raise InputError(
            "jets",
            "no engine" if engine is None else "no power",
            "",
            "a scenario with [engine], and --hp",
            'for example --hp "80 hp"',
        )
    at = _switch(scenario, "or give --at").opens if args.at is None else args.at
    feed = _first_feed(scenario)
    count = args.count if args.count is not None else (1 if feed is None else feed.jets.count)
    fitted = scenario.bottles[0]
    sizes = NUMBER_DRILLS if args.sizes == ["drills"] else args.sizes
    s = size_jets(
        args.hp,
        at,
        count,
        engine,
        fitted.bottle,
        fitted.fill,
        feed=feed,
        ambient=scenario.ambient,
        sizes=sizes,
    )
    return f"Jets for {scenario.title}", [
        Answer("count", "jets", s.count),
        Answer("n2o_bore", "N2O bore", s.exact.n2o_bore, "length"),
        Answer("fuel_bore", "fuel bore", s.exact.fuel_bore, "length"),
        Answer("n2o_flow", "N2O flow", s.exact.n2o_flow, "mass_flow"),
        Answer("fuel_flow", "fuel flow", s.exact.fuel_flow, "mass_flow"),
        Answer("power", "power", s.exact.power, "engine_power"),
        Answer("mixture", "mixture (above 1: rich)", s.exact.mixture, "number"),
        *_jets_to_be_had(s),
        *(
            Answer(f"caution_{i}", "CAUTION", text)
            for i, text in enumerate([*s.cautions, *_mounting_cautions(fitted.mounting)], 1)
        ),
        Answer("rests_on", "rests on", s.statement),
    ]


def _jets_to_be_had(s: Any) -> list[Answer]:
    """The nearest sizes offered, and the bore that each orifice model would ask for."""
    near = (
        []
        if s.standard is None
        else [
            Answer("nearest_n2o_bore", "nearest N2O bore to be had", s.standard.n2o_bore, "length"),
            Answer("nearest_fuel_bore", "nearest fuel bore", s.standard.fuel_bore, "length"),
            Answer("nearest_power", "power then", s.standard.power, "engine_power"),
            Answer("nearest_mixture", "mixture then", s.standard.mixture, "number"),
        ]
    )
    return near + [
        Answer(f"n2o_bore_{name}", f"N2O bore, model {name}", bore, "length")
        for name, bore in s.by_model.items()
    ]


def _size_passes(scenario: Scenario, args: Any) -> tuple[str, list[Answer]]:
    from n2osim.answers.passes import PassLimits, passes_per_fill
    from n2osim.errors import InputError
    from n2osim.report.sheet_tables import first_pass

    item = first_pass(scenario)
    if item is None:
        raise InputError("pass", None, "", "a scenario with a pass", "add one to its schedule")
    limits = PassLimits(minimum_pressure=args.low, flow_fraction=args.flow)
    p = passes_per_fill(scenario, item, limits)
    found = [
        Answer("count", "passes", p.count),
        Answer("reason", "the next one", p.reason),
        Answer("counts_while", "a pass counts while", p.limits.words(args.system)),
    ]
    for k, left in enumerate(p.left, start=1):
        found.append(Answer(f"left_after_{k}", f"left after pass {k}", left, "mass"))
    found += _refill_point(scenario, item, limits, args)
    return f"Passes from one fill: {scenario.title}", found


def _refill_point(scenario: Scenario, item: Any, limits: Any, args: Any) -> list[Answer]:
    """Charge and scale reading below which to refill; nothing where no pressure is told."""
    from n2osim.answers.passes import refill_point
    from n2osim.errors import IntegrationError, NoSolutionError
    from n2osim.scenario.schedule import Weigh

    fitted = scenario.bottles[0]
    at = args.at if args.at is not None or fitted.switch is None else fitted.switch.opens
    if at is None or len(scenario.bottles) > 1:
        return []
    weigh = next((x for x in scenario.schedule if isinstance(x, Weigh)), None)
    try:
        point = refill_point(scenario, item, at, limits, weigh)
    except (IntegrationError, NoSolutionError) as problem:
        return [Answer("refill_below", "refill below", f"not told: {problem}")]
    return [
        Answer("refill_below", "refill below a charge of", point.charge, "mass"),
        Answer("refill_reading", "when the scale says", point.reading, "mass"),
        Answer("refill_reason", "or else", point.reason or "no limit is in reach"),
    ]


_SIZERS = {
    "heater": _size_heater,
    "power": _size_power,
    "band": _size_band,
    "bottle": _size_bottle,
    "jets": _size_jets,
    "passes": _size_passes,
}


# --- compare -------------------------------------------------------------------------------------
def run_compare(args: Any) -> int:
    """Shells side by side."""
    from n2osim.cli.output import patience
    from n2osim.scenario.file import load

    scenario = load(args.file)
    with patience():
        from n2osim.answers.compare import SHELLS, compare_shells

        found = compare_shells(
            scenario, args.shells or SHELLS, hold=args.hold, progress=counter("shells")
        )
    rows = [r.as_dict() for r in found.rows]
    say(args, found.to_text() if args.system == "shop" else _si_text(found.rows))
    put_json(args, {"title": scenario.title, "shells": rows})
    put_csv(args, rows)
    if args.plot is not None:
        put_plot(args, found.plot)
    return 0


_SI = {
    "empty_mass": "mass",
    "warm_up_time": "time",
    "warm_up_energy": "energy",
    "overshoot": "pressure_difference",
    "duty": "fraction",
    "mean_power": "power",
    "hottest_wall": "temperature",
    "wall_margin": "temperature_difference",
    "sag": "pressure_difference",
    "sag_support": "pressure_difference",
    "recovery_time": "time",
}


def _si_text(rows: Any) -> str:
    """One shell a column, SI."""
    from n2osim.numbers import Units
    from n2osim.text import Table

    units = Units("si")
    heads = (("", ""), *((r.shell, "") for r in rows))
    body = tuple(
        (name.replace("_", " "), *(units.full(getattr(r, name), kind) for r in rows))
        for name, kind in _SI.items()
    )
    notes = " ".join(f"{r.shell}: {r.note}" for r in rows if r.note)
    return Table("Shells compared", heads, body, notes).text() + "\n"


__all__ = ["add", "run_compare", "run_size"]
