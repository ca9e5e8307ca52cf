"""What a report on a run shows as tables: schedule, holds, passes, engine, weighings, events."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.numbers import Units, instant, lasting
from n2osim.results.gas_drawn import held_shut
from n2osim.results.holds import above_from_start, in_band_throughout, led_by
from n2osim.results.limits import kept_clear
from n2osim.results.quantities import of_kind
from n2osim.results.quantity import Quantity
from n2osim.results.rules_flow import gas_from_the_start
from n2osim.text import Table

if TYPE_CHECKING:
    from n2osim.results.engine_side import EngineTrace, Figure, PassEngineSummary
    from n2osim.results.run import Run

MOST_EVENTS = 40
"""Events listed in a summary; the JSON has them all."""

_SCHEDULE = (
    "start_pressure",
    "end_pressure",
    "start_temperature",
    "end_temperature",
    "start_mass",
    "end_mass",
)
_HOLDS = (
    "duty",
    "switchings_per_hour",
    "energy",
    "peak_pressure",
    "overshoot",
    "hottest_wall",
    "hottest_heater",
)
_PASSES = (
    "start_pressure",
    "minimum_pressure",
    "end_pressure",
    "pressure_sag",
    "used",
    "flow_start",
    "flow_mean",
    "flow_end",
)
_REFILLS = ("peak_pressure", "end_temperature", "end_mass", "pump_work")
_WEIGHINGS = ("reading", "charge", "uncertainty")
"""Columns of each table: quantities of a segment, which say heading and unit."""


def tables(run: Run, system: str, *, full: bool = True) -> list[Table]:
    """The tables of a run; ``full`` adds purges, weighings that ask for no refill, and events."""
    units = Units(system)
    weighed = full or any(getattr(s, "refill", False) for s in run.segments)
    found = [
        schedule_table(run, units),
        holds_table(run, units),
        passes_table(run, units, purges=full),
        *engine_tables(run, units),
        refills_table(run, units),
        weighings_table(run, units) if weighed else None,
        margins_table(run, units) if full else None,
        events_table(run, units) if full else None,
    ]
    return [t for t in found if t is not None]


# --- what tables of segments share ---------------------------------------------------------------
def _label(run: Run, s: Any) -> tuple[str, ...]:
    """Number and name of a segment, and its bottle when there are several."""
    name = f"{s.index + 1} {s.kind}" + (f" ({s.label})" if s.label else "")
    return (name, s.bottle) if len(run.scenario.bottles) > 1 else (name,)


@cache
def _quantity(kind: str, name: str) -> Quantity:
    """The quantity of a kind of segment behind an attribute of its summary."""
    return next(q for q in of_kind(kind) if name in (q.field, q.field.removesuffix("_gauge")))


def _heads(
    run: Run, units: Units, kind: str, names: Sequence[str], *more: str
) -> tuple[tuple[str, str], ...]:
    bottle = [("bottle", "")] if len(run.scenario.bottles) > 1 else []
    shown = (_quantity(kind, name) for name in names)
    named = [(q.label, units.unit(q.kind)) for q in shown]
    return (("", ""), *bottle, *((m, "") for m in more), *named)


def _cells(units: Units, names: Sequence[str], s: Any) -> tuple[str, ...]:
    return tuple(units.bare(getattr(s, n), _quantity(s.kind, n).kind) for n in names)


# --- one table each ------------------------------------------------------------------------------
def schedule_table(run: Run, units: Units) -> Table:
    """Every segment: when, and the pressure, temperature and charge that it ends with."""
    rows = tuple(
        (*_label(run, s), instant(s.start_time), lasting(s.duration), *_cells(units, _SCHEDULE, s))
        for s in run.segments
    )
    heads = _heads(run, units, "rest", _SCHEDULE, "begins", "lasts")
    aside = ("start temperature", "start mass")  # they are the ends of what came before
    return Table("What happened", heads, rows, aside=aside)


def holds_table(run: Run, units: Units) -> Table | None:
    """Holds: warm-up, duty, energy, overshoot, hottest wall."""
    rows = []
    for s in run.holds:
        if s.kind == "hold":
            warm = "never" if s.warm_up_time is None else lasting(s.warm_up_time)
            warm = "follows" if s.warm_up_time is None and led_by(run, s) else warm
            warm = "above" if above_from_start(run, s) else warm
            warm = "in band" if in_band_throughout(run, s) else warm
            rows.append((*_label(run, s), warm, *_cells(units, _HOLDS, s)))
    note = (
        "Warm-up: until the switch first opens. Duty: share of the time on after that. Wall and "
        "heater: the hottest they get."
    )
    if any("follows" in row for row in rows):
        note += " Follows: the heater is on the switch of another bottle."
    if any("above" in row for row in rows):
        note += (
            " Above: the pressure was above the band from the start and the heater never came on."
        )
    if any("in band" in row for row in rows):
        note += " In band: it needed no heat."
    heads = _heads(run, units, "hold", _HOLDS, "warm-up")
    aside = ("switchings/h", "hottest heater")
    return Table("Holds", heads, tuple(rows), note, aside=aside) if rows else None


def passes_table(run: Run, units: Units, *, purges: bool = True) -> Table | None:
    """Passes and purges: pressures, sag, N2O used, flow, liquid-out, time held shut."""
    shown = sorted((*run.passes, *(run.purges if purges else ())), key=lambda s: s.index)
    if not shown:
        return None
    held = {s.index: held_shut(run, s.index) for s in run.passes}
    with_held = any(held.values())
    rows = []
    for s in shown:
        out = "no" if s.liquid_out_time is None else f"after {lasting(s.liquid_out_time)}"
        gas = s.used > 0.0 and gas_from_the_start(run.view_of(s.bottle), s) is not None
        out = "at once" if gas or s.liquid_out_time == 0.0 else out
        if min(s.flow_start, s.flow_end) < 0.0:
            out += "; others flow into it"
        shut = (lasting(held[s.index]) if held.get(s.index) else "-",) if with_held else ()
        rows.append((*_label(run, s), *_cells(units, _PASSES, s), out, *shut))
    notes = [_line_fill(run, units)]
    if len(run.scenario.bottles) > 1:
        rows = _with_totals(run, units, rows, ("",) if with_held else ())
        notes.append(
            "All: what the jets or the vent got. The figures of one bottle are net: what it gives "
            "the others as pressures level out counts as used, and what it takes in counts "
            "against it (crossflow)."
        )
    if with_held:
        notes.append("Held shut: by the arming window, of the time that the pass asks for flow.")
    heads = (*_heads(run, units, "pass", _PASSES), ("liquid out", ""))
    heads += (("held shut", ""),) if with_held else ()
    return Table("Passes", heads, tuple(rows), " ".join(n for n in notes if n))


def _with_totals(run: Run, units: Units, rows: list[Any], more: tuple[str, ...]) -> list[Any]:
    """The rows of passes of several bottles with one over all of them behind each."""
    found: list[Any] = []
    each = len(run.scenario.bottles)
    shown = {row[0] for row in rows}
    totals = [t for t in run.totals if _label(run, t)[0] in shown]
    for k, total in enumerate(totals):
        mine = rows[k * each : (k + 1) * each]
        flows = (total.flow_start, total.flow_mean, total.flow_end)
        cells = (units.bare(total.used, "mass"), *(units.bare(f, "mass_flow") for f in flows))
        crossed = units.full(total.crossflow, "mass")
        cross = "" if crossed == units.full(0.0, "mass") else f"crossflow {crossed}"
        found += [*mine, (mine[0][0], "all", "", "", "", "", *cells, cross, *more)]
    return found


def _line_fill(run: Run, units: Units) -> str:
    """How long an empty hose holds the liquid up; the flows of the run do not wait for it."""
    from n2osim.answers.race_day import line_fill_time

    kinds = [type(item).__name__ for item in run.scenario.schedule]
    waits = []
    for s in run.passes:
        before = [k for k in kinds[: s.index] if k in ("Pass", "Purge")]
        wait = line_fill_time(run, s.index, purged=before[-1:] == ["Purge"])
        if wait is not None:
            waits.append(wait)
    if not waits:
        return ""
    return (
        f"An empty line holds the liquid back from the jets for up to {lasting(max(waits))} (after "
        "a purge only its last part is empty). Flow, mixture and power are those of what leaves "
        "the bottle and do not wait for it."
    )


def refills_table(run: Run, units: Units) -> Table | None:
    """Refills: highest pressure and temperature, charge after it, work of the pump."""
    rows = tuple(
        (*_label(run, s), *_cells(units, _REFILLS, s)) for s in run.segments if s.kind == "refill"
    )
    return Table("Refills", _heads(run, units, "refill", _REFILLS), rows) if rows else None


def weighings_table(run: Run, units: Units) -> Table | None:
    """Weighings: what the scale reads, what that says of the charge, refill or not."""
    rows = []
    for s in run.segments:
        if s.kind == "weigh":
            refill = {None: "-", True: "yes", False: "no"}[s.refill]  # type: ignore[attr-defined]
            cells = [units.bare(getattr(s, n) or None, "mass") for n in _WEIGHINGS]
            rows.append((*_label(run, s), *cells, refill))
    note = "+-: tare error and scale tolerance; refill: yes when the charge less these is below it."
    if any(row[-2] == "-" for row in rows):
        note += " A dash under +-: neither was given, so the scale is taken as exact."
    heads = (*_heads(run, units, "weigh", _WEIGHINGS), ("refill", ""))
    return Table("Weighings", heads, tuple(rows), note) if rows else None


def margins_table(run: Run, units: Units) -> Table | None:
    """Limits that a bottle stays inside, the tightest first, and what one keeps clear of them."""
    found = kept_clear(run)
    several = len(run.scenario.bottles) > 1
    heads = ("", *(["bottle"] if several else []), "limit", "clear by", "one keeps")
    rows = []
    for m in found:
        value, bound, left, kept = m.texts(units)
        rows.append((value, *([m.bottle] if several else []), bound, left, kept))
    note = "What one keeps clear of a limit is our choice, no source."
    return Table("Margins", tuple((h, "") for h in heads), tuple(rows), note) if rows else None


def events_table(run: Run, units: Units) -> Table | None:
    """Switchings, phase changes and limits in order of time (the first ones)."""
    shown = [e for e in run.events if e.name not in ("segment start", "segment end")]
    rows = [
        (instant(e.time), e.name, e.bottle, units.bare(e.pressure_gauge, "gauge_pressure"))
        for e in shown[:MOST_EVENTS]
    ]
    note = ""
    if len(shown) > MOST_EVENTS:
        note = f"... and {len(shown) - MOST_EVENTS} more: see the JSON."
    heads = (("time", ""), ("event", ""), ("bottle", ""), ("at", units.unit("gauge_pressure")))
    return Table("Events", heads, tuple(rows), note) if rows else None


# --- engine --------------------------------------------------------------------------------------
def engine_tables(run: Run, units: Units) -> list[Table]:
    """Fuel, mixture and power of each pass, then what concerns the whole charge."""
    trace = run.engine
    if trace is None or not trace.passes:
        return []
    charge = _charge_table(trace, units)
    return [_shot_table(run, trace, units), *([] if charge is None else [charge])]


def _shot_table(run: Run, trace: EngineTrace, units: Units) -> Table:
    power, mass = units.unit("engine_power"), units.unit("mass")
    known = trace.mixture_ends is not None
    heads = (
        ("", ""),
        ("flows", "s"),
        ("N2O", mass),
        ("fuel", mass),
        *((name, "") for name in ("N2O:fuel", "mixture", "leanest", "richest")),
        *([("may be", "")] if known else []),
        ("power", power),
        ("at the end", power),
    )
    rows = tuple(
        (
            _name(p),
            f"{flowing_time(run, trace, p.index):.3g}",
            units.bare(p.n2o_used, "mass"),
            units.bare(p.fuel_used, "mass"),
            *_figures(units, p.ratio, ("mean",)),
            *_figures(units, p.mixture, ("mean", "minimum", "maximum")),
            *([_ends(p)] if known else []),
            *_figures(units, p.power, ("mean", "end"), "engine_power"),
        )
        for p in trace.passes
    )
    words = trace.statement[0].upper() + trace.statement[1:]
    note = f"{words}. Mixture and power: mean while N2O flows."
    if known:
        note += (
            " May be: mixture within what is known of the jets' flow; a weighed pass narrows it "
            "(n2osim weigh)."
        )
    return Table("Engine", heads, rows, note, words.split(";")[0] + ".", ("flows", "N2O:fuel"))


def _ends(one: PassEngineSummary) -> str:
    if one.range is None:
        return "-"
    return f"{one.range.mixture.low:.2f}-{one.range.mixture.high:.2f}"


def _charge_table(trace: EngineTrace, units: Units) -> Table | None:
    """Mixture of the whole engine, and the charge that evaporating N2O cools."""
    if all(p.engine_mixture is None and p.charge_temperature is None for p in trace.passes):
        return None
    degree = units.unit("temperature")
    heads = (
        ("", ""),
        *((name, "") for name in ("mixture", "leanest", "richest")),
        ("charge", degree),
        ("coldest", degree),
        ("air density", "x"),
        ("charge density", "x"),
    )
    rows = tuple(
        (
            _name(p),
            *_figures(units, p.engine_mixture, ("mean", "minimum", "maximum")),
            *_figures(units, p.charge_temperature, ("mean", "minimum"), "temperature"),
            _times(p.air_gain),
            _times(p.density_gain),
        )
        for p in trace.passes
    )
    note = (
        "Mixture: all fuel against the oxygen of air and N2O together. Charge: air with all N2O "
        "evaporated in it and nothing else warming it. Air density: what cooling does for the air "
        "that the engine draws, after the room that the N2O takes; charge density counts the N2O "
        "as well."
    )
    return Table("Whole engine", heads, rows, note)


def _figures(
    units: Units, figure: Figure | None, names: Sequence[str], dimension: str = "number"
) -> Iterable[str]:
    for name in names:
        yield "-" if figure is None else units.bare(getattr(figure, name), dimension)


def _times(figure: Figure | None) -> str:
    """A gain to a thousandth: cooling and the room that the N2O takes nearly cancel."""
    return "-" if figure is None or not math.isfinite(figure.mean) else f"{figure.mean:.3f}"


def flowing_time(run: Run, trace: EngineTrace, index: int) -> float:
    """Seconds of pass ``index`` in which N2O flows to the engine."""
    rows = run.rows_of(index)
    there = trace["n2o_flow_kg_s"][rows] > 0.0
    return float((np.diff(run.time[rows]) * (there[:-1] & there[1:])).sum())


def _name(p: Any) -> str:
    return f"{p.index + 1} pass" + (f" ({p.label})" if p.label else "")
