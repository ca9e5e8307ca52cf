"""Jets for a wanted power: N2O and fuel bores together, means over a simulated pass.

Mixture breaks engines, and the flow through a jet that nobody has weighed is the least certain
number here (:mod:`n2osim.physics.flow_range`). So of the pairs that can be had one is chosen by the
ends of its range: near the power, and never lean within it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from n2osim.answers.answer import Answer, Broken, Column, Figure, Listing
from n2osim.answers.fields import Knob
from n2osim.answers.judge import at_rest, first_pass, launch_pressure
from n2osim.answers.match import Matching, Point
from n2osim.errors import InputError, IntegrationError, NoSolutionError
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.jets import Jets
from n2osim.hardware.orifice_models import MODELS
from n2osim.results.engine_side import accounting
from n2osim.results.run import Run
from n2osim.scenario.fields import with_fields
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass
from n2osim.units import INCH, format_quantity, parse, parse_many

_THOU = (
    "13.5 14.5 16 18 20 21 22.5 24 25 26 28 29.2 31 32 33 35 36 37 38 39 40 41 42 43 46.5 52 55 "
    "59.5 63.5 67 70 73 76 78.5 81 82 86 89 93.5 96 98"
)
NUMBER_DRILLS = tuple(float(x) * INCH / 1000.0 for x in _THOU.split())
"""Number-size twist drills 80 to 40, m (ASME B94.11M; from memory)."""
_LEAST, _LARGEST = 1e-4, 0.012
_TO_WEIGH = 0.9
"""kg that a pass to be weighed should use: a scale good for 10 g then tells 1.6 % (ours)."""
_NEAR = 5  # sizes of each list around the exact bore that are run
_POWER = ("pass0.power_mean_W",)
_FUEL_AS_ASKED = {"engine.fuel_jets": None, "engine.fuel_pressure": None}
FUEL_CD = 0.8
"""Discharge coefficient of fuel jets where none is fitted (typical, no source)."""


LEAN_KEEPS, RICH_KEEPS = 0.95, 1.20
"""Of the target mixture: what the lean and the rich end of the range should keep."""


class Pair(NamedTuple):
    """An N2O and a fuel jet with what they give: bores m, power W, mixtures over the target's.

    lean: at the largest N2O flow of the range, rich: at the least.
    """

    n2o_bore: float
    fuel_bore: float
    power: float
    mixture: float
    lean: float
    rich: float


class Choice(NamedTuple):
    """The pair to start with. safe: both ends of the range keep their bounds. lost: power short of
    what was asked, W. too_rich: the rich end in parts of the target, 0 where it keeps its bound."""

    pair: Pair
    safe: bool
    lost: float
    too_rich: float


def choose_pair(pairs: Iterable[Pair], power: float) -> Choice | None:
    """The pair whose power is nearest ``power`` (W) among those whose lean and rich end hold.

    Where none holds both, the lean bound wins: of the pairs that keep it, those not richer than
    they must be (within 2 % of the least rich), then the nearest in power. None where no pair keeps
    the lean bound.
    """
    held = [p for p in pairs if p.lean >= LEAN_KEEPS]
    if not held:
        return None
    both = [p for p in held if p.rich <= RICH_KEEPS]
    if both:
        best = min(both, key=lambda p: abs(p.power - power))
        return Choice(best, True, max(power - best.power, 0.0), 0.0)
    least = min(p.rich for p in held)
    best = min((p for p in held if p.rich <= 1.02 * least), key=lambda p: abs(p.power - power))
    return Choice(best, False, max(power - best.power, 0.0), best.rich)


class Extremes(NamedTuple):
    """Mixture of the shot (equivalence ratio): leanest and richest that it may be in a pass."""

    leanest: float
    richest: float


def extremes(run: Run) -> Extremes:
    """Mixture over the run's first pass at both ends of what its flow may be."""
    assert run.engine is not None
    one = run.engine.passes[0]
    if one.range is None:
        return Extremes(one.mixture.minimum, one.mixture.maximum)
    return Extremes(one.range.mixture.low, one.range.mixture.high)


def size_jets(
    scenario: Scenario,
    power: Any,
    *,
    at_pressure: Any = None,
    count: int | None = None,
    fuel_count: int | None = None,
    sizes: Sequence[Any] | None = None,
    fuel_sizes: Sequence[Any] | None = None,
) -> Answer:
    """N2O and fuel jets with which the scenario's first pass makes ``power`` (W, "100 hp") on
    average at the engine's target mixture.

    at_pressure : None: the pass as the scenario's schedule comes to it. A gauge pressure (Pa): that
        pass alone, from rest at it with the scenario's charge (that replaces the schedule).
    count, fuel_count : jets of each kind (default: as fitted, one where none are).
    sizes, fuel_sizes : bores (m or text) that can be had, each kind from its own list, for example
        ``NUMBER_DRILLS``. Chosen together by running the pairs around the exact answer: power
        nearest among those whose leanest mixture keeps 95 % and whose richest 120 % of the target;
        where none does, the one that comes nearest to keeping the lean end. Without lists the fuel
        bore is as large as that lean end needs.

    The answer prints the charge and density it holds for, and the bore that each orifice model
    asks for: how far they lie apart is how much rests on the model (a weighed pass settles it).
    Raises NoSolutionError when the feed cannot pass that much whatever the bore.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "12 lb"), fill="10.2 lb", start="78 degF",
    ...     feed=n2.Feed(n2.Jets(2, "0.03 in")), schedule=[n2.Pass("9 s")],
    ...     engine=n2.EngineSide(fuel="E85", fuel_pressure="50 psig"),
    ... )
    >>> found = n2.size_jets(car, "95 hp", at_pressure="870 psig", fuel_count=2)
    >>> [f"{found.get(name, 'in'):.3f} in" for name in ("n2o_bore", "fuel_bore")]
    ['0.041 in', '0.023 in']
    """
    engine = scenario.engine
    if engine is None:
        raise InputError("engine", None, "", "a scenario with an engine", "power needs its fuel")
    item = first_pass(scenario)
    wanted = parse(power, "engine_power", name="power", low=100.0, high=3e6)
    base, notes = scenario, []
    if at_pressure is not None:
        base = at_rest(scenario, 1.0, launch_pressure(scenario, at_pressure), item)
        notes.append("the pass alone, from rest at that pressure: this replaces the schedule")
    name = _feed_name(base, item)
    base = _fitted(base, name, count, fuel_count)
    exact = _exact(base, name, wanted, engine)
    if sizes is None and fuel_sizes is None:
        best, said = _safe(exact, engine.target_mixture)
    else:
        exact.matching.knobs = _offered(exact.matching.knobs, sizes, fuel_sizes)
        best, said = _chosen(exact.matching, exact.point, wanted, engine)
    notes += said
    models = _by_model(base, name, wanted)
    answer = exact.matching.answer(
        best,
        exact.point,
        f"Jets for {format_quantity(wanted, 'engine_power')}: {scenario.title}",
        lambda run: _figures(run, name, exact.point),
        listings=(models,) if models.rows else (),
    )
    if base.feed_named(name).jets.cd_spread is None:
        notes.append(
            "nobody has weighed these jets. Weigh a pass next (n2osim weigh), then ask again: "
            f"{_first_weighing(answer.run)}"
        )
    return dataclasses.replace(
        answer,
        notes=(*notes, accounting(engine)),
        broken=(*answer.broken, *_lean_end(answer, engine)),
    )


def _lean_end(answer: Answer, engine: EngineSide) -> list[Broken]:
    """That the lean end of the range does not keep its share of the target: not to be driven."""
    if engine.fuel_jets is None and engine.fuel_pressure is None:
        return []
    lean = extremes(answer.run).leanest / engine.target_mixture
    if lean >= LEAN_KEEPS:
        return []
    return [
        Broken(
            "may-be-lean",
            f"the flow that these jets may have leans the shot to {lean:.0%} of the target, below "
            f"{LEAN_KEEPS:.0%}: too lean is what breaks engines",
        )
    ]


def _flow(run: Run) -> float:
    """Mean flow of the first pass, kg/s, of all bottles."""
    return next(t.flow_mean for t in run.totals if t.kind == "pass")


def _first_weighing(run: Run) -> str:
    """The pass to weigh: at the pressure of this one, long enough for the scale."""
    shot = run.passes[0]
    flow = _flow(run)
    seconds = max(_TO_WEIGH / flow, 5.0)
    return (
        f"some {seconds:.0f} s from {format_quantity(shot.start_pressure, 'gauge_pressure')} use "
        f"about {format_quantity(seconds * flow, 'mass')}"
    )


def _feed_name(scenario: Scenario, item: Pass) -> str:
    if item.outflow is not None or item.target_flow is not None or item.stages:
        raise InputError(
            "pass", "prescribed flow or stages", "", "a pass metered by one feed's jets", ""
        )
    if not scenario.feeds:
        raise InputError("feed", None, "", "a scenario with a feed", "its jets are looked for")
    return scenario.feeds[scenario.feed_index(item.feed)][0]


def _fitted(scenario: Scenario, name: str, count: int | None, fuel_count: int | None) -> Scenario:
    """The scenario with the counts asked for, and some fuel jets to begin with."""
    engine = scenario.engine
    assert engine is not None
    if count is not None:
        scenario = with_fields(scenario, {f"feeds.{name}.jets.count": count})
    if engine.fuel_pressure is None:
        return scenario
    fuel = engine.fuel_jets or Jets(count or 1, 5e-4, cd=FUEL_CD)
    if fuel_count is not None:
        fuel = dataclasses.replace(fuel, count=fuel_count)
    return scenario.replace(engine=dataclasses.replace(engine, fuel_jets=fuel))


class _Exact(NamedTuple):
    point: Point
    matching: Matching


def _exact(base: Scenario, name: str, wanted: float, engine: EngineSide) -> _Exact:
    """Bores that meet power and mixture: the N2O bore with fuel as the target mixture asks, then
    the fuel bore, whose flow goes with its square whatever the bottle does."""
    asked = with_fields(base, _FUEL_AS_ASKED)
    n2o = Knob("n2o_bore", "N2O bore", "length", _LEAST, _LARGEST, _n2o(name))
    start = (base.feed_named(name).jets.bore,)
    alone = Matching(asked, (n2o,), _POWER, (wanted,), start)
    try:
        (bore,) = alone.solve()
    except (NoSolutionError, IntegrationError) as problem:
        raise NoSolutionError(f"no jet gives that power: {problem}") from None
    if base.engine is None or base.engine.fuel_jets is None:
        return _Exact((bore,), alone)
    fuel = Knob("fuel_bore", "fuel bore", "length", 5e-5, _LARGEST, _fuel)
    targets = (wanted, engine.target_mixture)
    both = Matching(base, (n2o, fuel), (*_POWER, "pass0.mixture_mean"), targets)
    first = base.engine.fuel_jets.bore
    got = both.values((bore, first))[1]
    if not got > 0.0:
        raise InputError(
            "fuel pressure",
            engine.fuel_pressure,
            "Pa gauge",
            f"above the intake's ({engine.intake_pressure:.6g} Pa gauge)",
            "raise it, or use a regulator referenced to boost",
        )
    return _Exact((bore, first * (engine.target_mixture / got) ** 0.5), both)


def _n2o(name: str) -> Any:
    def apply(scenario: Scenario, bore: float) -> Scenario:
        jets = scenario.feed_named(name).jets
        length = jets.length
        if length is not None and jets.cd == 1.0:  # an effective area, of no real length
            length *= bore / jets.bore
        where = f"feeds.{name}.jets"
        return with_fields(scenario, {f"{where}.bore": bore, f"{where}.length": length})

    return apply


def _fuel(scenario: Scenario, bore: float) -> Scenario:
    return with_fields(scenario, {"engine.fuel_jets.bore": bore})


def _offered(knobs: tuple[Knob, ...], *lists: Sequence[Any] | None) -> tuple[Knob, ...]:
    """The knobs with the bores that can be had."""
    found = []
    for one, given in zip(knobs, lists):
        values: tuple[float, ...] = ()
        if given is not None:
            values = tuple(parse_many(given, "length", name="jet sizes", low=5e-5, high=0.02))
            if not values:
                raise InputError(
                    "jet sizes", "none", "", "one bore or more", "leave it out for any"
                )
        found.append(dataclasses.replace(one, values=values))
    return tuple(found)


def _safe(exact: _Exact, target: float) -> tuple[Point, list[str]]:
    """The exact bores, the fuel's larger where the lean end of the flow's range would not keep its
    share of the target: mixture goes with the square of the bore."""
    if len(exact.point) == 1:
        return exact.point, []
    n2o, fuel = exact.point
    lean = extremes(exact.matching.run(exact.point)).leanest / target
    if lean >= LEAN_KEEPS:
        return exact.point, []
    larger = fuel * (LEAN_KEEPS / lean) ** 0.5 * (1.0 + 1e-6)
    return (n2o, larger), [
        "the fuel bore is larger than the target mixture asks for "
        f"({format_quantity(fuel, 'length')}), so that the largest flow that the N2O jets may have "
        f"keeps {LEAN_KEEPS:.0%} of it"
    ]


def _chosen(
    matching: Matching, exact: Point, wanted: float, engine: EngineSide
) -> tuple[Point, list[str]]:
    """Of the pairs around the exact bores the one to take, and what it does not keep."""
    pairs = matching.around(exact, _NEAR)

    def off(at: Point) -> float:
        return abs(matching.errors(at)[0])

    if len(exact) == 1:
        return min(pairs, key=off), []
    target, offered = engine.target_mixture, []
    for at in pairs:
        power, mixture = matching.values(at)
        ends = extremes(matching.run(at))
        offered.append(Pair(at[0], at[1], power, mixture / target, *(x / target for x in ends)))
    choice = choose_pair(offered, wanted)
    if choice is None:
        leanest = max(offered, key=lambda p: p.lean)
        return leanest[:2], [_may_be_lean(leanest)]
    return choice.pair[:2], [] if choice.safe else [_may_be_rich(choice)]


def _may_be_lean(pair: Pair) -> str:
    return (
        f"MAY BE LEAN: no pair of these sizes keeps {LEAN_KEEPS:.0%} of the target mixture at the "
        f"lean end; this one comes nearest, with {pair.lean:.0%}. Offer larger fuel jets, or "
        "smaller N2O jets, before a pass"
    )


def _may_be_rich(choice: Choice) -> str:
    lost = ""
    if choice.lost > 0.0:
        lost = f" and {format_quantity(choice.lost, 'engine_power')} less than asked for"
    return (
        f"may be rich: no pair of these sizes keeps both ends of the mixture, so the lean end is "
        f"kept ({choice.pair.lean:.0%} of the target), with up to {choice.too_rich:.0%} of it at "
        f"the rich end{lost}"
    )


def _figures(run: Run, name: str, exact: Point) -> list[Figure]:
    scenario, engine = run.scenario, run.scenario.engine
    assert engine is not None
    jets, shot = scenario.feed_named(name).jets, run.passes[0]
    density = shot.start_mass / scenario.bottles[0].bottle.volume
    seen = run.numbers("pass0.*")
    flow = _flow(run)
    found = [
        Figure("count", "N2O jets", jets.count),
        Figure("exact_n2o_bore", "N2O bore asked for", exact[0], "length"),
    ]
    if engine.fuel_jets is not None and len(exact) > 1:
        found += [
            Figure("fuel_count", "fuel jets", engine.fuel_jets.count),
            Figure("exact_fuel_bore", "fuel bore asked for", exact[1], "length"),
        ]
    ends = extremes(run)
    return [
        *found,
        Figure("power", "power, mean over the pass", seen["pass0.power_mean_W"], "engine_power"),
        Figure("power_end", "at its end", seen["pass0.power_end_W"], "engine_power"),
        Figure("mixture", "mixture, mean (above 1: rich)", seen["pass0.mixture_mean"], "number"),
        Figure("leanest", "leanest its flow may make it", ends.leanest, "number"),
        Figure("richest", "richest", ends.richest, "number"),
        Figure("n2o_flow", "N2O flow, mean", flow, "mass_flow"),
        Figure("launch_pressure", "launched at", shot.start_pressure, "gauge_pressure"),
        Figure("charge", "charge then", shot.start_mass, "mass"),
        Figure("density", "filling density then", density, "density"),
    ]


def _by_model(base: Scenario, name: str, wanted: float) -> Listing:
    """N2O bore that each orifice model asks for; a model without an answer is left out."""
    start = (base.feed_named(name).jets.bore,)
    rows = []
    for model in MODELS:
        other = with_fields(base, {f"feeds.{name}.model": model, **_FUEL_AS_ASKED})
        n2o = Knob("n2o_bore", "N2O bore", "length", _LEAST, _LARGEST, _n2o(name))
        try:
            (bore,) = Matching(other, (n2o,), _POWER, (wanted,), start).solve()
        except (NoSolutionError, IntegrationError):
            continue
        rows.append({"model": model, "bore": bore})
    columns = (Column("model", "orifice model"), Column("bore", "N2O bore", "length"))
    return Listing("Bore by orifice model", columns, tuple(rows))
