"""What a report on a run says, as titled tables: rendered as text or HTML elsewhere."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import n2osim
from n2osim.errors import InputError
from n2osim.hardware.ambient import DayNight, TemperatureTable
from n2osim.reporting.numbers import Units, instant, lasting
from n2osim.reporting.totals import TOGETHER, with_totals

if TYPE_CHECKING:
    from n2osim.simulation.run import Run
    from n2osim.simulation.scenario import FittedBottle, Scenario

MOST_EVENTS = 40
"""Events listed in a summary; the JSON has them all."""


@dataclass(frozen=True)
class Table:
    """A titled table. ``heads`` are (name, unit) pairs; rows hold ready texts."""

    title: str
    heads: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


# (column name, dimension, attribute)
_SCHEDULE = (
    ("from", "gauge_pressure", "start_pressure"), ("to", "gauge_pressure", "end_pressure"),
    ("from", "temperature", "start_temperature"), ("to", "temperature", "end_temperature"),
    ("from", "mass", "start_mass"), ("to", "mass", "end_mass"),
)  # fmt: skip
_HOLDS = (
    ("duty", "fraction", "duty"), ("switchings", "number", "switchings_per_hour"),
    ("energy", "energy", "energy"), ("peak", "gauge_pressure", "peak_pressure"),
    ("overshoot", "pressure_difference", "overshoot"),
    ("hottest wall", "temperature", "hottest_wall"),
    ("heater", "temperature", "hottest_heater"),
)  # fmt: skip
_PASSES = (
    ("start", "gauge_pressure", "start_pressure"), ("lowest", "gauge_pressure", "minimum_pressure"),
    ("end", "gauge_pressure", "end_pressure"), ("sag", "pressure_difference", "pressure_sag"),
    ("used", "mass", "used"), ("flow start", "mass_flow", "flow_start"),
    ("mean", "mass_flow", "flow_mean"), ("end", "mass_flow", "flow_end"),
)  # fmt: skip


def tables(run: Run, system: str) -> list[Table]:
    """Schedule, holds, passes, weighings and events of a run."""
    units = Units(system)
    found = [
        schedule_table(run, units), holds_table(run, units), passes_table(run, units),
        engine_table(run, units),
        weighings_table(run, units), events_table(run, units),
    ]  # fmt: skip
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
    for s in run.holds:
        if s.kind == "hold":
            warm = "never" if s.warm_up_time is None else lasting(s.warm_up_time)
            rows.append((*_label(run, s), warm, *_cells(units, _HOLDS, s)))
    note = "Warm-up: until the switch first opens. Duty: share of the time on after that."
    return Table("Holds", heads, tuple(rows), note) if rows else None


def passes_table(run: Run, units: Units) -> Table | None:
    """Passes and purges: pressures, sag, N2O used, flow, liquid-out."""
    heads = (*_label_heads(run), *_columns(units, _PASSES), ("liquid out", ""))
    rows = []
    for s in sorted((*run.passes, *run.purges), key=lambda s: s.index):
        out = "no" if s.liquid_out_time is None else f"at {lasting(s.liquid_out_time)}"
        rows.append((*_label(run, s), *_cells(units, _PASSES, s), out))
    if not rows:
        return None
    note = _line_fill(run, units)
    if len(run.scenario.bottles) > 1:
        rows, note = with_totals(run, units, rows), f"{TOGETHER} {note}".rstrip()
    return Table("Passes", heads, tuple(rows), note)


def _line_fill(run: Run, units: Units) -> str:
    """How long an empty hose holds the liquid up; the flows of the run do not wait for it."""
    from n2osim.studies.race_day import line_fill_time

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


def engine_table(run: Run, units: Units) -> Table | None:
    """What the engine makes of each pass: fuel, mixture drift, power."""
    trace = run.engine
    if trace is None or not trace.passes:
        return None
    heads = (
        ("", ""), ("N2O", units.unit("mass")), ("fuel", units.unit("mass")),
        ("mixture", ""), ("leanest", ""), ("richest", ""),
        ("power", units.unit("engine_power")), ("at the end", units.unit("engine_power")),
    )  # fmt: skip
    rows = []
    for p in trace.passes:
        name = f"{p.index + 1} pass" + (f" ({p.label})" if p.label else "")
        mixture = (p.mixture.mean, p.mixture.minimum, p.mixture.maximum)
        rows.append((
            name, units.bare(p.n2o_used, "mass"), units.bare(p.fuel_used, "mass"),
            *(units.bare(x, "number") for x in mixture),
            units.bare(p.power.mean, "engine_power"), units.bare(p.power.end, "engine_power"),
        ))  # fmt: skip
    words = accounting_words(trace.statement, trace.engine, units)
    return Table("Engine", heads, tuple(rows), _sentence(words))


def accounting_words(statement: str, engine: Any, units: Units) -> str:
    """What power and mixture rest on, in the units of the report."""
    if units.system == "shop":
        shown = units.full(engine.bsfc, "bsfc")
        return re.sub(r"BSFC [0-9.e+-]+ kg/J", f"BSFC {shown}", statement)
    return statement


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + "."


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
    heads = (*_label_heads(run), ("scale reads", unit), ("charge", unit), ("+-", unit),
             ("refill", ""))  # fmt: skip
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
    text = (
        f"{full(s.start_pressure, 'gauge_pressure')} at the start, "
        f"{full(s.end_pressure, 'gauge_pressure')} at the end, "
        f"{full(s.used, 'mass')} used, {full(s.end_mass, 'mass')} left"
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
    return f"{added} let in, now {units.full(s.end_mass, 'mass')}."


_SAY = {"hold": _say_hold, "pass": _say_pass, "weigh": _say_weigh, "refill": _say_refill}


# --- what was simulated -------------------------------------------------------------------------
def facts(run: Run, system: str) -> list[tuple[str, str]]:
    """(heading, text) lines on what was simulated."""
    return scenario_facts(run.scenario, system)


def scenario_facts(scenario: Scenario, system: str) -> list[tuple[str, str]]:
    """(heading, text) lines on bottle, heater, switch, air and jets."""
    units = Units(system)
    lines: list[tuple[str, str]] = []
    for fitted in scenario.bottles:
        lines += _bottle_facts(fitted, units)
    lines.append(("Air", _air(scenario, units)))
    for name, feed in scenario.feeds:
        jets = feed.jets
        text = f"{jets.count} x {units.full(jets.bore, 'length')}, Cd {jets.cd:g}, {feed.model}"
        more = [n.replace("_", " ") for n, _ in feed.parts if n != "jets"]
        lines.append(("Jets" if name == "main" else f'Jets "{name}"',
                      text + (f"; behind {', '.join(more)}" if more else "")))  # fmt: skip
    return lines


def _bottle_facts(fitted: FittedBottle, units: Units) -> list[tuple[str, str]]:
    bottle = fitted.bottle
    share = 100.0 * fitted.fill / bottle.capacity
    charge, rated = units.full(fitted.fill, "mass"), units.full(bottle.capacity, "mass")
    lines = [(
        "Bottle" if fitted.name == "bottle" else f"Bottle {fitted.name}",
        f"{bottle.name}, holds {units.full(bottle.volume, 'volume')}; charge {charge} "
        f"({share:.0f} % of {rated}), {units.full(fitted.start, 'temperature')} at the start",
    )]  # fmt: skip
    heater, switch = fitted.heater, fitted.switch
    if heater is not None:
        power = units.full(heater.power_at(heater.voltage or 14.4), "power")
        text = f"{power} over {100 * heater.coverage:.0f} % of the shell"
        if heater.cut_out is not None:
            text += f", cut-out at {units.full(heater.cut_out.opens, 'temperature')}"
        if fitted.follows is not None:
            text += f', on the switch of "{fitted.follows}"'
        lines.append(("Heater", text))
    if switch is not None:
        text = (
            f"on at {units.full(switch.closes, 'gauge_pressure')}, off at "
            f"{units.full(switch.opens, 'gauge_pressure')}, senses the {switch.sensor}"
        )
        lines.append(("Switch", text + (f"; fault: {switch.fault}" if switch.fault else "")))
    return lines


def _air(scenario: Scenario, units: Units) -> str:
    a = scenario.ambient
    if isinstance(a.temperature, DayNight):
        text = (
            f"{units.full(a.temperature.mean, 'temperature')} +- "
            f"{units.full(a.temperature.swing, 'temperature_difference')} over the day"
        )
    elif isinstance(a.temperature, TemperatureTable):
        low, high = min(a.temperature.temperatures), max(a.temperature.temperatures)
        text = f"{units.full(low, 'temperature')} to {units.full(high, 'temperature')} by table"
    else:
        text = units.full(float(a.temperature), "temperature")
    text += f", {units.full(a.pressure, 'pressure')}"
    text += f", wind {units.full(a.air_speed, 'speed')}" if a.air_speed else ", still"
    text += f", sun {units.full(a.sun, 'heat_flux')}" if a.sun else ""
    return text + (", in a closed boot" if a.enclosure is not None else "")


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
