"""What a report on a run says, as titled tables: rendered as text or HTML elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import n2osim
from n2osim.errors import InputError
from n2osim.numbers import Units, instant, lasting
from n2osim.report.blocks_engine import engine_tables
from n2osim.report.facts import facts, scenario_facts
from n2osim.report.totals import TOGETHER, with_totals
from n2osim.results.drawing import held_shut
from n2osim.results.holds import ABOVE, above_from_start
from n2osim.text import Table

if TYPE_CHECKING:
    from n2osim.results.run import Run

MOST_EVENTS = 40
"""Events listed in a summary; the JSON has them all."""


# (column name, dimension, attribute)
_SCHEDULE = (
    ("from", "gauge_pressure", "start_pressure"),
    ("to", "gauge_pressure", "end_pressure"),
    ("from", "temperature", "start_temperature"),
    ("to", "temperature", "end_temperature"),
    ("from", "mass", "start_mass"),
    ("to", "mass", "end_mass"),
)
_HOLDS = (
    ("duty", "fraction", "duty"),
    ("switchings", "number", "switchings_per_hour"),
    ("energy", "energy", "energy"),
    ("peak", "gauge_pressure", "peak_pressure"),
    ("overshoot", "pressure_difference", "overshoot"),
    ("hottest wall", "temperature", "hottest_wall"),
    ("heater", "temperature", "hottest_heater"),
)
_PASSES = (
    ("start", "gauge_pressure", "start_pressure"),
    ("lowest", "gauge_pressure", "minimum_pressure"),
    ("end", "gauge_pressure", "end_pressure"),
    ("sag", "pressure_difference", "pressure_sag"),
    ("used", "mass", "used"),
    ("flow start", "mass_flow", "flow_start"),
    ("mean", "mass_flow", "flow_mean"),
    ("end", "mass_flow", "flow_end"),
)


def tables(run: Run, system: str) -> list[Table]:
    """Schedule, holds, passes, weighings and events of a run."""
    units = Units(system)
    found = [
        schedule_table(run, units),
        holds_table(run, units),
        passes_table(run, units),
        *engine_tables(run, units),
        weighings_table(run, units),
        events_table(run, units),
    ]
    return [t for t in found if t is not None]


def _label(run: Run, s: Any) -> tuple[str, ...]:
    """Number and name of a segment, and its bottle when there are several."""
    name = f"{s.index + 1} {s.kind}" + (f" ({s.label})" if s.label else "")
    return (name, s.bottle) if len(run.scenario.bottles) > 1 else (name,)


def _label_heads(run: Run) -> tuple[tuple[str, str], ...]:
    return (("", ""), ("bottle", "")) if len(run.scenario.bottles) > 1 else (("", ""),)


def _columns(units: Units, columns: Any) -> tuple[tuple[str, str], ...]:
    heads = []
    for name, dimension, attribute in columns:
        unit = "1/h" if attribute == "switchings_per_hour" else units.unit(dimension)
        heads.append((name, unit))
    return tuple(heads)


def _cells(units: Units, columns: Any, s: Any) -> tuple[str, ...]:
    return tuple(units.bare(getattr(s, a), dimension) for _, dimension, a in columns)


def schedule_table(run: Run, units: Units) -> Table | None:
    """Every segment: when, and pressure, temperature and charge from and to."""
    heads = (*_label_heads(run), ("begins", ""), ("lasts", ""), *_columns(units, _SCHEDULE))
    rows = [
        (*_label(run, s), instant(s.start_time), lasting(s.duration), *_cells(units, _SCHEDULE, s))
        for s in run.segments
    ]
    return Table("What happened", heads, tuple(rows))


def holds_table(run: Run, units: Units) -> Table | None:
    """Holds: warm-up, duty, energy, overshoot, hottest wall."""
    heads = (*_label_heads(run), ("warm-up", ""), *_columns(units, _HOLDS))
    rows = []
    note = "Warm-up: until the switch first opens. Duty: share of the time on after that."
    for s in run.holds:
        if s.kind == "hold":
            warm = "never" if s.warm_up_time is None else lasting(s.warm_up_time)
            warm = "above" if above_from_start(run, s) else warm
            rows.append((*_label(run, s), warm, *_cells(units, _HOLDS, s)))
    if any("above" in row for row in rows):
        note += " Above: the switch was above its band from the start, the heater never came on."
    return Table("Holds", heads, tuple(rows), note) if rows else None


def passes_table(run: Run, units: Units) -> Table | None:
    """Passes and purges: pressures, sag, N2O used, flow, liquid-out, time held shut."""
    shown = sorted((*run.passes, *run.purges), key=lambda s: s.index)
    if not shown:
        return None
    held = {s.index: held_shut(run, s.index) for s in run.passes}
    with_held = any(held.values())
    heads = (
        *_label_heads(run),
        *_columns(units, _PASSES),
        ("liquid out", ""),
        *((("held shut", ""),) if with_held else ()),
    )
    rows = []
    for s in shown:
        out = "no" if s.liquid_out_time is None else f"at {lasting(s.liquid_out_time)}"
        shut = (lasting(held[s.index]) if held.get(s.index) else "-",) if with_held else ()
        rows.append((*_label(run, s), *_cells(units, _PASSES, s), out, *shut))
    notes = [_line_fill(run, units)]
    if len(run.scenario.bottles) > 1:
        rows = with_totals(run, units, rows, ("",) if with_held else ())
        notes.append(TOGETHER)
    if with_held:
        notes.append("Held shut: by the arming window, of the time that the pass asks for flow.")
    return Table("Passes", heads, tuple(rows), " ".join(n for n in notes if n))


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
        f"Liquid reaches the jets up to {lasting(max(waits))} after a pass begins if the line was "
        "empty (behind a purge: its last part only). Flow, mixture and power are those of what "
        "leaves the bottle and do not wait for it."
    )


def weighings_table(run: Run, units: Units) -> Table | None:
    """Weighings: what the scale reads, what that says of the charge, refill or not."""
    rows = []
    for s in run.segments:
        if s.kind == "weigh":
            refill = {None: "-", True: "yes", False: "no"}[s.refill]  # type: ignore[attr-defined]
            numbers = (s.reading, s.charge, s.uncertainty or None)  # type: ignore[attr-defined]
            cells = [units.bare(x, "mass") for x in numbers]
            rows.append((*_label(run, s), *cells, refill))
    unit = units.unit("mass")
    heads = (
        *_label_heads(run),
        ("scale reads", unit),
        ("charge", unit),
        ("+-", unit),
        ("refill", ""),
    )
    note = "+-: tare error and scale tolerance; refill: yes when the charge less these is below it."
    if any(row[-2] == "-" for row in rows):
        note += " A dash under +-: neither was given, so the scale is taken as exact."
    return Table("Weighings", heads, tuple(rows), note) if rows else None


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


# --- in words ----------------------------------------------------------------------------------
def sentences(run: Run, system: str) -> list[str]:
    """The run in plain sentences: one per hold, pass and refill decision."""
    units = Units(system)
    found = []
    for s in run.segments:
        who = f" {s.bottle}" if len(run.scenario.bottles) > 1 else ""
        name = f"{s.kind.capitalize()} {s.index + 1}{who}" + (f" ({s.label})" if s.label else "")
        text = _SAY.get(s.kind, _say_nothing)(s, units)
        if s.kind == "hold" and above_from_start(run, s):
            text = text.replace("did not open", ABOVE + ", the heater never came on")
        held = held_shut(run, s.index) if s.kind == "pass" else 0.0
        if held > 0.0:
            text += f" The arming window held the flow back for {lasting(held)} of it."
        if text:
            found.append(f"{name}: {text}")
    return found


def _say_nothing(s: Any, units: Units) -> str:
    return ""


def _say_hold(s: Any, units: Units) -> str:
    full = units.full
    begin = (
        f"from {full(s.start_temperature, 'temperature')} and "
        f"{full(s.start_pressure, 'gauge_pressure')} "
    )
    if s.warm_up_time is None:
        return (
            begin + f"to {full(s.end_pressure, 'gauge_pressure')} in "
            f"{lasting(s.duration)}; the switch did not open."
        )
    text = (
        begin + f"the switch first opened after {lasting(s.warm_up_time)}; highest pressure "
        f"{full(s.peak_pressure, 'gauge_pressure')}"
    )
    if s.duty is not None and s.duration > 1.05 * s.warm_up_time:
        text += f", then on {100 * s.duty:.0f} % of the time"
    return text + f"; {full(s.energy, 'energy')} of electricity."


def _say_pass(s: Any, units: Units) -> str:
    full = units.full
    moved = (
        f"{full(s.used, 'mass')} used"
        if s.used >= 0.0
        else (f"{full(-s.used, 'mass')} taken in from another bottle")
    )
    text = (
        f"{full(s.start_pressure, 'gauge_pressure')} at the start, "
        f"{full(s.end_pressure, 'gauge_pressure')} at the end, "
        f"{moved}, {full(s.end_mass, 'mass')} left"
    )
    if s.liquid_out_time is not None:
        text += f"; liquid ran out after {lasting(s.liquid_out_time)}"
    return text + "."


def _say_weigh(s: Any, units: Units) -> str:
    text = f"the scale reads {units.full(s.reading, 'mass')}: {units.full(s.charge, 'mass')} of N2O"
    if s.uncertainty > 0.0:
        text += f" +- {units.full(s.uncertainty, 'mass')}"
    return text + {None: ".", True: "; refill.", False: "; enough."}[s.refill]


def _say_refill(s: Any, units: Units) -> str:
    added = units.full(s.end_mass - s.start_mass, "mass")
    text = f"{added} let in, now {units.full(s.end_mass, 'mass')}"
    if s.pump_work > 0.0:
        text += f"; the pump's work, {units.full(s.pump_work, 'energy')}, is in it"
    return text + "."


_SAY = {"hold": _say_hold, "pass": _say_pass, "weigh": _say_weigh, "refill": _say_refill}


# --- how it was made ---------------------------------------------------------------------------
def closure_of(run: Run) -> dict[str, float] | None:
    """Closure of a run; None where the last state of a broken-off one has no properties."""
    try:
        return {k: float(v) for k, v in run.closure().items()}
    except InputError:
        return None


def _closure_words(run: Run) -> str:
    closed = closure_of(run)
    if closed is None:
        return "Closure: not computed, the run left the range of the equation of state."
    energy = max(closed["fluid_energy"], closed["shell_energy"])
    return (
        f"Closure recomputed from the results: mass {closed['mass']:.1e}, energy {energy:.1e} of "
        "what was moved."
    )


def assumptions(run: Run) -> list[str]:
    """How the run was made: choices of the model, closure, ending, version."""
    model = run.scenario.model
    inside = (
        "inside coefficient by correlation"
        if model.inside_coefficient is None
        else f"inside coefficient fixed at {model.inside_coefficient:g} W/m2/K"
    )
    outside = (
        "outside by correlation"
        if model.outside_coefficient is None
        else f"outside fixed at {model.outside_coefficient:g} W/m2/K"
    )
    zones = "one fluid temperature"
    if model.zones:
        factor = 1.0 if model.two_zone is None else model.two_zone
        zones = f"liquid and vapour apart (factor {factor:g}"
        growth = model.boiling_growth
        zones += ")" if growth is None else f", boiling growth {growth:g} W/kg/K per s)"
    return [
        f"Model: {inside}, {outside}, {zones}.",
        _closure_words(run),
        f"Ended: {run.ending}. n2osim {n2osim.__version__}.",
    ]


__all__ = ["Table", "assumptions", "closure_of", "facts", "scenario_facts", "sentences", "tables"]
