"""Tables of the set-up sheet: pressure by bottle weight, warm-up by weather, passes, jets.

Each function answers one question about a scenario with runs of the same engine as ``simulate``
and gives a ready :class:`~n2osim.report.blocks.Table`.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.errors import N2OSimError, NoSolutionError
from n2osim.numbers import Units, lasting
from n2osim.physics.charge import (
    LIQUID_FULL,
    leaves_saturation,
    pressure_at,
    temperature_for_pressure,
)
from n2osim.scenario.schedule import Hold, Pass
from n2osim.text import Table

if TYPE_CHECKING:
    from n2osim.results.run import Run
    from n2osim.scenario.scenario import Scenario

SHARES = tuple(np.linspace(1.0, 0.2, 9))
EXPOSURE_LIMIT = (125.0 + 459.67) / 1.8
"""K; 125 degF, exposure limit of N2O cylinders (CGA G-8.1, as quoted by cylinder guidance)."""
SAME_FLOW = 0.005
"""Change of flow that is not worth a change of pressure."""
_LONGEST = 4 * 3600.0
_WEATHER = {
    "shop": tuple((f + 459.67) / 1.8 for f in (30.0, 45.0, 60.0, 75.0, 90.0)),
    "si": tuple(c + 273.15 for c in (0.0, 8.0, 16.0, 24.0, 32.0)),
}


def first_pass(scenario: Scenario) -> Pass | None:
    """The first pass of the schedule, or None."""
    return next((x for x in scenario.schedule if isinstance(x, Pass)), None)


def reference_pressure(run: Run) -> float | None:
    """Gauge pressure (Pa) that the sheet speaks of: of the first launch, else of the switch."""
    name = run.scenario.bottles[0].name
    found = next((p for p in run.passes if p.bottle == name), None)
    if found is not None:
        return float(found.start_pressure)
    switch = run.scenario.bottles[0].switch
    return None if switch is None else 0.5 * (switch.closes + switch.opens)


def on_board(scenario: Scenario) -> float:
    """Charge (kg) of all bottles together at the start."""
    return sum(b.fill for b in scenario.bottles)


# --- by weight -----------------------------------------------------------------------------------
def weight_table(run: Run, units: Units) -> Table | None:
    """What to set the gauge to at each bottle weight so that the flow stays; None without a
    pressure to speak of."""
    gauge = reference_pressure(run)
    if gauge is None:
        return None
    rows = _corrections(run.scenario, gauge)
    if rows is None:
        return _plain_weights(run.scenario, gauge, units)
    heads = (
        ("on the scale", units.unit("mass")),
        ("N2O in it", units.unit("mass")),
        ("full", "%"),
        (f"reads {units.bare(gauge, 'gauge_pressure')} at", units.unit("temperature")),
        ("flow then", "%"),
        ("set gauge to", units.unit("gauge_pressure")),
    )
    capacity = run.scenario.bottles[0].bottle.capacity
    cells = tuple(_weight_row(r, gauge, capacity, run.scenario, units) for r in rows)
    note = (
        "Flow then: mean over the pass against the first row, everything at the same gauge "
        "pressure. Set gauge to: pressure with which the first row's flow comes back. "
        f"{setting_words(units)} {tare_words(run.scenario, units)}"
    )
    return Table("Pressure by bottle weight", heads, cells, note)


def _corrections(scenario: Scenario, gauge: float) -> Sequence[Any] | None:
    """Rows of the correction table over the pass; None where it does not apply."""
    item = first_pass(scenario)
    metered = item is not None and item.outflow is None and item.target_flow is None
    if not metered or item is None or len(scenario.bottles) > 1 or item.stages:
        return None
    from n2osim.answers.tables import correction_table

    held = [scenario.bottles[0].fill * float(share) for share in SHARES]
    feed = item.feed or scenario.feeds[0][0]
    try:
        rows = correction_table(scenario, gauge, held, pass_=item, feed=feed).rows
    except N2OSimError:
        return None
    return rows or None


def _weight_row(
    r: Any, gauge: float, capacity: float, scenario: Scenario, units: Units
) -> tuple[str, ...]:
    return (
        units.bare(r.weight, "mass"),
        units.bare(r.charge, "mass"),
        f"{100.0 * r.charge / capacity:.0f}",
        units.bare(r.temperature, "temperature"),
        f"{100.0 * (1.0 + r.flow_change):.0f}",
        gauge_setting(r, gauge, scenario, units),
    )


def gauge_setting(r: Any, gauge: float, scenario: Scenario, units: Units) -> str:
    """Gauge pressure to set for a charge, or the words that refuse it."""
    refused = "refill first"
    if r.temperature > EXPOSURE_LIMIT:
        return refused
    if abs(r.flow_change) < SAME_FLOW:
        return units.bare(gauge, "gauge_pressure")
    if r.gauge_change is None:
        return refused
    wanted = gauge + r.gauge_change
    bottle = scenario.bottles[0].bottle
    try:
        T = float(
            temperature_for_pressure(wanted + scenario.ambient.pressure, r.charge, bottle.volume)
        )
    except NoSolutionError:
        return refused
    if T > EXPOSURE_LIMIT:
        return refused
    if r.gauge_change > 0.0 and _cramped(wanted, T, r.charge, bottle):
        return "not advised"
    return units.bare(wanted, "gauge_pressure")


def setting_words(units: Units) -> str:
    """What the refusals of :func:`gauge_setting` mean."""
    return (
        "Refill first: no pressure brings the flow back, or only with the bottle above "
        f"{units.full(EXPOSURE_LIMIT, 'temperature')}. Not advised: that pressure fills the bottle "
        "with liquid or passes its service mark."
    )


def _cramped(gauge: float, T: float, charge: float, bottle: Any) -> bool:
    """Whether a raised pressure means a bottle full of liquid, or one above its service mark."""
    leaves, how = leaves_saturation(charge / bottle.volume)
    full = how == LIQUID_FULL and leaves <= T
    marked = bottle.service_pressure is not None and gauge > bottle.service_pressure
    return full or marked


def _plain_weights(scenario: Scenario, gauge: float, units: Units) -> Table | None:
    """Temperature at which each charge reads the pressure, where flows cannot be compared."""
    fitted = scenario.bottles[0]
    rows = []
    for share in SHARES:
        charge = fitted.fill * float(share)
        try:
            T = float(
                temperature_for_pressure(
                    gauge + scenario.ambient.pressure, charge, fitted.bottle.volume
                )
            )
        except NoSolutionError:
            continue
        note = "refill first" if T > EXPOSURE_LIMIT else ""
        rows.append(
            (
                units.bare(charge + fitted.bottle.empty_mass, "mass"),
                units.bare(charge, "mass"),
                f"{100.0 * charge / fitted.bottle.capacity:.0f}",
                units.bare(T, "temperature"),
                note,
            )
        )
    heads = (
        ("on the scale", units.unit("mass")),
        ("N2O in it", units.unit("mass")),
        ("full", "%"),
        (f"reads {units.bare(gauge, 'gauge_pressure')} at", units.unit("temperature")),
        ("", ""),
    )
    return Table("Temperature by bottle weight", heads, tuple(rows), tare_words(scenario, units))


def tare_words(scenario: Scenario, units: Units) -> str:
    """What scale readings count for the empty bottle."""
    fitted = scenario.bottles[0]
    which = f' of bottle "{fitted.name}"' if len(scenario.bottles) > 1 else ""
    empty = units.full(fitted.bottle.empty_mass, "mass")
    return f"Scale readings{which} count {empty} for the empty bottle: use yours."


# --- by weather ----------------------------------------------------------------------------------
def weather_table(scenario: Scenario, units: Units) -> Table | None:
    """Warm-up time by weather for this charge and half of it; None without heater and switch."""
    fitted = scenario.bottles[0]
    if fitted.heater is None or fitted.switch is None:
        return None
    air, charges = _WEATHER[units.system], (fitted.fill, 0.5 * fitted.fill)
    cells = _warm_ups(scenario, air, charges, units)
    heads = (
        ("air and bottle", units.unit("temperature")),
        ("reads at first", units.unit("gauge_pressure")),
        *(
            (f"{100.0 * c / fitted.bottle.capacity:.0f} % full", units.full(c, "mass"))
            for c in charges
        ),
    )
    start = [_gauge(scenario, T, charges[0]) for T in air]
    rows = tuple(
        (units.bare(T, "temperature"), units.bare(p, "gauge_pressure"), *row)
        for T, p, row in zip(air, start, cells)
    )
    note = (
        "Heating time until the switch first opens; bottle as warm as the air at first. Wind, sun "
        "and supply as in the scenario."
    )
    if len(scenario.bottles) > 1:
        note += f' Charge and gauge of bottle "{fitted.name}", whose switch is meant.'
    return Table("Warm-up by weather", heads, rows, note)


def _gauge(scenario: Scenario, T: float, charge: float) -> float:
    volume = scenario.bottles[0].bottle.volume
    return float(pressure_at(T, charge, volume)) - scenario.ambient.pressure


def _warm_ups(
    scenario: Scenario, air: Sequence[float], charges: Sequence[float], units: Units
) -> list[tuple[str, ...]]:
    """Texts by (air, charge), all run as one ensemble."""
    from n2osim.studies.ensemble import run_ensemble

    cases = [(T, charge) for T in air for charge in charges]
    result = run_ensemble(
        [_warm_up(scenario, T, charge) for T, charge in cases],
        workers=1,
        outputs=["hold0.warm_up_time_s"],
        title="warm-up by weather",
    )
    times = dict(zip(result.members.tolist(), result["hold0.warm_up_time_s"].tolist()))
    switch = scenario.bottles[0].switch
    assert switch is not None
    texts = []
    for k, (T, charge) in enumerate(cases):
        p, time = _gauge(scenario, T, charge), times.get(k, math.nan)
        if p > switch.opens:
            texts.append("above the band")
        elif p >= switch.closes:
            texts.append("in the band")
        else:
            texts.append(f"not in {lasting(_LONGEST)}" if math.isnan(time) else lasting(time))
    return [tuple(texts[k : k + len(charges)]) for k in range(0, len(texts), len(charges))]


def _warm_up(scenario: Scenario, T: float, charge: float) -> Scenario:
    first = dataclasses.replace(scenario.bottles[0], fill=charge, start=T, wall_start=None)
    others = tuple(dataclasses.replace(b, start=T, wall_start=None) for b in scenario.bottles[1:])
    ambient = dataclasses.replace(scenario.ambient, temperature=T)
    return scenario.replace(
        bottles=(first, *others), ambient=ambient, schedule=(Hold(_LONGEST, until_open=True),)
    )


# --- passes --------------------------------------------------------------------------------------
@dataclasses.dataclass(frozen=True)
class PassWords:
    """Passes per fill and the point to refill, in words; ``count`` None: no pass to count."""

    count: int | None
    sentences: tuple[str, ...]
    refill: str = ""


def pass_words(run: Run, units: Units) -> PassWords:
    """How many passes the charge gives and when to refill; says why where it cannot be told."""
    scenario, item = run.scenario, first_pass(run.scenario)
    if item is None:
        return PassWords(None, ("The scenario has no pass.",))
    from n2osim.answers.passes import PassLimits, passes_per_fill, refill_point

    limits = PassLimits()
    try:
        found = passes_per_fill(scenario, item, limits)
    except N2OSimError as problem:
        return PassWords(None, (f"Passes per fill: not told ({problem}).",))
    said = [
        f"{found.count} passes of {lasting(item.duration)} from "
        f"{units.full(on_board(scenario), 'mass')}, warmed up to the band before each; in "
        f"the next one {_reason(found.reason)}. A pass counts while "
        f"{found.limits.words(units.system)}. Purges come off this."
    ]
    gauge = reference_pressure(run)
    if gauge is None or len(scenario.bottles) > 1:
        return PassWords(found.count, tuple(said))
    try:
        point = refill_point(scenario, item, gauge, limits)
    except N2OSimError:
        return PassWords(found.count, tuple(said))
    said.append(
        f"Refill at {units.full(point.charge, 'mass')} left ({units.full(point.reading, 'mass')} "
        f"on the scale): below that one more pass from {units.full(gauge, 'gauge_pressure')} "
        f"fails, {point.reason or 'a limit is broken'}. Add what your scale and tare may be off."
    )
    return PassWords(found.count, tuple(said), units.full(point.reading, "mass"))


def _reason(reason: str) -> str:
    return "no liquid is left" if reason.startswith("liquid runs out 0 s") else reason


# --- jets ----------------------------------------------------------------------------------------
def jets_table(run: Run, units: Units) -> Table | None:
    """Jets of every feed, and of the fuel."""
    scenario = run.scenario
    rows = [
        _jet_row("N2O" if name == "main" else name, feed.jets, units)
        for name, feed in scenario.feeds
    ]
    engine = scenario.engine
    if engine is not None and engine.fuel_jets is not None:
        pressure = engine.fuel_pressure
        name = "fuel" if pressure is None else (f"fuel at {units.full(pressure, 'gauge_pressure')}")
        rows.append(_jet_row(name, engine.fuel_jets, units))
    if not rows:
        return None
    heads = (("jets", ""), ("number", ""), ("bore", units.unit("length")), ("Cd", ""))
    return Table("Jets", heads, tuple(rows), _flow_words(run, units))


def _jet_row(name: str, jets: Any, units: Units) -> tuple[str, ...]:
    return (name, f"{jets.count}", units.bare(jets.bore, "length"), f"{jets.cd:g}")


def _flow_words(run: Run, units: Units) -> str:
    """What the first pass gives."""
    if not run.passes:
        return ""
    total = next(t for t in run.totals if t.kind == "pass")
    said = (
        f"First pass: {units.full(total.used, 'mass')} at "
        f"{units.full(total.flow_mean, 'mass_flow')} on average, {_sag_words(run, units)}"
    )
    if run.engine is not None and run.engine.passes:
        seen = run.engine.passes[0]
        said += (
            f"; {units.full(seen.power.mean, 'engine_power')} on average, mixture "
            f"{seen.mixture.start:.2f} to {seen.mixture.end:.2f} (above 1: rich)"
        )
    return said + "."


def _sag_words(run: Run, units: Units) -> str:
    """How far the first pass takes the pressure down: of each bottle, where there are several."""
    first = [p for p in run.passes if p.index == run.passes[0].index]
    sags = [units.full(p.pressure_sag, "pressure_difference") for p in first]
    if len(first) == 1:
        return f"pressure sags {sags[0]}"
    each = ", ".join(f'"{p.bottle}" {sag}' for p, sag in zip(first, sags))
    return f"pressure sags: {each}"


__all__ = [
    "EXPOSURE_LIMIT",
    "PassWords",
    "first_pass",
    "jets_table",
    "on_board",
    "pass_words",
    "reference_pressure",
    "weather_table",
    "weight_table",
]
