"""Delivery that holds a wanted power against the sag, and courses given over distance."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np

from n2osim.answers.answer import Answer, Broken, Column, Figure, Listing
from n2osim.answers.judge import first_pass
from n2osim.errors import InputError
from n2osim.results.engine_side import power_per_flow
from n2osim.results.run import Run, simulate
from n2osim.scenario.delivery import course
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass
from n2osim.schema import Pairs
from n2osim.units import parse

_HELD = 1e-3  # relative: closer than this to the wanted power counts as held
_OPEN = 1.0 - 1e-9
_ROW = 0.05  # s: longest step, so that the instant it stops holding is known to this
_OPENS = 2e-3  # s that a valve's step takes, and what a time in seconds is rounded to
_COARSE = 2e-3  # of opening: how far the written course may be from the computed one


def hold_power(scenario: Scenario, wanted: Any, pass_: Pass | None = None) -> Answer:
    """The delivery with which a pass holds a power curve against the sag, by pulsing the solenoids.

    Parameters
    ----------
    scenario : its ``engine`` turns power into flow at the target mixture. Its first pass is the one
        that is steered, and what follows is kept; a ``pass_`` given comes after its schedule.
    wanted : power (W, "100 hp") to hold flat, or corners (time, power) of a curve: one that is
        capped early while the tyres are the limit is ``[(0, "60 hp"), (3, "60 hp"),
        (3.5, "120 hp")]``. Times count from the end of the pass's delay.

    The controller is ideal: it opens as much as the flow needs. With fixed fuel jets the fuel
    follows the opening and not the flow, so the mixture goes richer as the bottle sags. Where the
    fuel jets are too small for the target mixture it asks for that flow and no more, and says that
    the power falls short.

    Figures: ``held_until`` (s into the pass, None: to the end), ``limit`` what then keeps it below,
    ``shortfall`` (W). The scenario has the opening written down as the pass's delivery course (at
    most 0.2 % off), and the run is of that; ``more``: time, opening, flow, power, asked (the curve)
    and wanted (that less what a shut valve excuses), arrays of the controller's own pass, and
    ``schedule`` (the pass).

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "12 lb"), fill="10 lb", start="82 degF",
    ...     feed=n2.Feed(n2.Jets(2, "0.036 in")),
    ...     engine=n2.EngineSide(fuel_jets=n2.Jets(2, "0.0175 in"), fuel_pressure="45 psig"),
    ... )
    >>> held = n2.hold_power(car, "60 hp", n2.Pass("7.5 s"))
    >>> print(f"opens to {held.get('opening_first', '%'):.0f} %")
    opens to 81 %
    """
    if scenario.engine is None:
        raise InputError(
            "engine", None, "", "a scenario with an EngineSide", "power needs fuel and BSFC"
        )
    curve = power_course(wanted)
    base = scenario if pass_ is None else scenario.replace(schedule=(*scenario.schedule, pass_))
    item = first_pass(base) if pass_ is None else pass_
    # Rounds of a repeat are one and the same item: the first of them is meant.
    at = base.schedule.index(item) if pass_ is None else len(base.schedule) - 1
    _check(item)
    top = max(p for _, p in curve)
    steered = dataclasses.replace(
        item,
        delivery=tuple((t, p / top) for t, p in curve),
        target_flow=top / power_per_flow(scenario.engine),
    )
    numerics = base.numerics
    fine = dataclasses.replace(numerics, max_step_flow=min(_ROW, numerics.max_step_flow))
    run = simulate(base.replace(schedule=(*base.schedule[:at], steered), numerics=fine))
    held = _read(run, curve, item)
    schedule = (*base.schedule[:at], held["schedule"], *base.schedule[at + 1 :])
    return _answer(base.replace(schedule=schedule), held, at)


def _check(item: Pass) -> None:
    if item.stages:
        raise InputError(
            "pass",
            f"{len(item.stages)} stages",
            "",
            "a pass of one feed",
            "one set of jets can be steered to a power: leave its stages out",
        )
    if item.outflow is not None:
        raise InputError(
            "pass", "outflow together with a power", "", "one way of metering", "leave one out"
        )


def _answer(scenario: Scenario, held: dict[str, Any], at: int) -> Answer:
    run = simulate(scenario)
    shot = next(p for p in run.passes if p.index == at)
    assert run.engine is not None
    engine = next(p for p in run.engine.passes if p.index == at)
    opening = held["opening"]
    first = next((x for x in opening if x > 0.0), 0.0)
    figures = [
        Figure("wanted_most", "power wanted, at most", float(held["wanted"].max()), "engine_power"),
        Figure("opening_first", "open at first", float(first), "fraction"),
        Figure("opening_most", "open at most", float(opening.max()), "fraction"),
        Figure("held_until", "held until (into the pass)", held["held_until"], "time"),
        Figure("limit", "then", held["limit"] or "held to the end"),
        Figure("shortfall", "short by up to", held["shortfall"], "engine_power"),
        Figure("power_least", "least power as written", engine.power.minimum, "engine_power"),
        Figure("start_pressure", "bottle from", shot.start_pressure, "gauge_pressure"),
        Figure("end_pressure", "to", shot.end_pressure, "gauge_pressure"),
        Figure("mixture_start", "mixture from (above 1: rich)", engine.mixture.start, "number"),
        Figure("mixture_end", "to", engine.mixture.end, "number"),
        Figure("used", "N2O used", engine.n2o_used, "mass"),
    ]
    limits = (held["limit"],) if held["limit"] else ()
    rows = tuple(
        {
            "time": t,
            "opening": x,
            **{n: float(np.interp(t, held["time"], held[m])) for n, m in _LISTED.items()},
        }
        for t, x in held["schedule"].delivery or ()
    )
    return Answer(
        f"Power held: {scenario.title}",
        tuple(figures),
        scenario,
        run,
        decided_by=limits,
        broken=tuple(Broken("power", f"the power falls short: {x}") for x in limits),
        notes=(
            "straight between the rows; written into the pass they hold it without a controller",
        ),
        listings=(Listing("Delivery", _COLUMNS, rows),),
        runs=2,
        more=held,
    )


_COLUMNS = (
    Column("time", "time", "time"),
    Column("opening", "open", "fraction"),
    Column("flow", "flow", "mass_flow"),
    Column("power", "power", "engine_power"),
    Column("wanted", "wanted", "engine_power"),
)
_LISTED = {"flow": "flow", "power": "power", "wanted": "asked"}
"""Columns, and the arrays that they are read from."""


def power_course(wanted: Any) -> Pairs:
    """Corners (s, W) of a wanted power: one value, or pairs (time, power)."""
    if isinstance(wanted, (list, tuple)):
        found = []
        for point in wanted:
            if not isinstance(point, (list, tuple)) or len(point) != 2:
                raise InputError("power curve", point, "", "pairs (time, power)", "")
            t = parse(point[0], "time", name="power curve: time", low=0.0)
            p = parse(point[1], "engine_power", name="power curve: power", low=0.0, high=3e6)
            found.append((t, p))
        times = [t for t, _ in found]
        if not found or any(b <= a for a, b in zip(times, times[1:])):
            raise InputError("power curve: time", times, "s", "rising times", "")
        if max(p for _, p in found) <= 0.0:
            raise InputError("power curve", 0.0, "W", "some power above 0", "")
        return tuple(found)
    p = parse(wanted, "engine_power", name="wanted power", low=0.0, low_open=True, high=3e6)
    return ((0.0, p),)


def _read(run: Run, curve: Pairs, pass_: Pass) -> dict[str, Any]:
    index = len(run.scenario.schedule) - 1
    rows = run["segment"] == index
    trace = run.engine
    assert trace is not None
    time = run.time[rows] - run.time[rows][0]
    opening, power = trace["opening"][rows], trace["power_W"][rows]
    corners = np.array(curve)
    wanted = np.interp(time - pass_.delay, corners[:, 0], corners[:, 1])
    asked = np.where(time < pass_.delay, 0.0, wanted)
    # A delay, the step in which the valve opens after it, and the end are nobody's shortfall.
    shut = (opening <= 0.0) & ~run["flow_inhibited"][rows].astype(bool)
    wanted = np.where(time < pass_.delay + _OPENS, power, np.where(shut, power, wanted))
    short = power < wanted * (1.0 - _HELD)
    at = int(short.argmax())
    limit = _limit(run, np.flatnonzero(rows)[at], opening[at]) if short.any() else ""
    written = course(written_course(time, opening), "delivery")
    return {
        "time": time,
        "opening": opening,
        "flow": trace["n2o_flow_kg_s"][rows],
        "power": power,
        "wanted": wanted,
        "asked": asked,
        "held_until": float(time[at]) if short.any() else None,
        "shortfall": float(np.max(wanted - power, initial=0.0)) if short.any() else 0.0,
        "limit": limit,
        "steered": run,
        "schedule": dataclasses.replace(pass_, delay=0.0, target_flow=None, delivery=written),
    }


def _limit(run: Run, row: int, opening: float) -> str:
    """What keeps the power below the curve at a row."""
    if run["flow_inhibited"][row]:
        return "held shut by the arming window"
    if opening >= _OPEN:
        return "fully open"
    if run.engine is not None and run.engine["equivalence_shot"][row] < 1.0:
        return "lean: the fuel jets pass too little fuel for the power"
    return "short of it"


def written_course(
    time: np.ndarray, opening: np.ndarray, tolerance: float = _COARSE
) -> list[tuple[float, float]]:
    """Fewest of the corners (greedy) that stay within ``tolerance`` of an opening over time."""
    keep = [0]
    last = len(time) - 1
    while keep[-1] < last:
        a = keep[-1]
        b = a + 1
        for c in range(last, a, -1):
            if time[c] <= time[a]:
                continue
            between = np.interp(time[a : c + 1], time[[a, c]], opening[[a, c]])
            if np.abs(between - opening[a : c + 1]).max() <= tolerance:
                b = c
                break
        keep.append(b)
    return [(float(time[k]), min(1.0, float(opening[k]))) for k in keep]
