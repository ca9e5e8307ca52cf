"""Tables of the set-up sheet: pressure by bottle weight, warm-up by weather, passes, jets.

Each function answers one question about a scenario with runs of the same engine as ``simulate``
and gives a ready :class:`~n2osim.text.Table`.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.answers.fields import first_of
from n2osim.errors import N2OSimError, NoSolutionError
from n2osim.hardware.cylinder_rules import EXPOSURE_LIMIT
from n2osim.numbers import Units, lasting
from n2osim.physics.charge import (
    ALL_VAPOUR,
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
_LONGEST = 4 * 3600.0
_WEATHER = {
    "shop": tuple((f + 459.67) / 1.8 for f in (30.0, 45.0, 60.0, 75.0, 90.0)),
    "si": tuple(c + 273.15 for c in (0.0, 8.0, 16.0, 24.0, 32.0)),
}


def reference_pressure(run: Run, index: int = 0) -> float | None:
    """Gauge pressure (Pa) that the sheet speaks of for a bottle, as the answers do: where its
    switch opens, else that of the first launch."""
    fitted = run.scenario.bottles[index]
    if fitted.switch is not None:
        return fitted.switch.opens
    found = next((p for p in run.passes if p.bottle == fitted.name), None)
    return None if found is None else float(found.start_pressure)


# --- by weight -----------------------------------------------------------------------------------
def weight_table(run: Run, units: Units, index: int = 0) -> Table | None:
    """What to set the gauge to at each weight of a bottle so that the flow stays; None without a
    pressure to speak of."""
    gauge = reference_pressure(run, index)
    if gauge is None:
        return None
    rows = _corrections(run.scenario, gauge)
    if rows is None:
        return _plain_weights(run.scenario, index, gauge, units)
    return _corrected(run.scenario, rows, gauge, units)


def _corrected(scenario: Scenario, rows: Sequence[Any], gauge: float, units: Units) -> Table:
    heads = (
        *_weight_heads(gauge, units),
        ("flow then", "%"),
        ("set gauge to", units.unit("gauge_pressure")),
    )
    capacity = scenario.bottles[0].bottle.capacity
    cells = tuple(_weight_row(r, capacity, units) for r in rows)
    note = (
        "Flow then: mean over the pass against the first row, everything at the same gauge "
        "pressure. Set gauge to: pressure with which the first row's flow comes back. "
        "Refill first: below the refill mark, or only above "
        f"{units.full(EXPOSURE_LIMIT, 'temperature')}. Jets only: no pressure brings it back. "
        "Above the band: the switch opens lower. Not advised: full of liquid there, or above the "
        "service mark. "
        f"{tare_words(scenario, units)}"
    )
    return Table("Pressure by bottle weight", heads, cells, note)


def _weight_heads(gauge: float, units: Units) -> tuple[tuple[str, str], ...]:
    return (
        ("on the scale", units.unit("mass")),
        ("N2O in it", units.unit("mass")),
        ("full", "%"),
        (f"reads {units.bare(gauge, 'gauge_pressure')} at", units.unit("temperature")),
    )


def _corrections(scenario: Scenario, gauge: float) -> Sequence[Any] | None:
    """Rows of the correction table over the pass; None where it does not apply."""
    item = first_of(scenario, Pass)
    metered = item is not None and item.outflow is None and item.target_flow is None
    if not metered or item is None or len(scenario.bottles) > 1 or item.stages:
        return None
    from n2osim.answers.corrections import correction_table

    held = [scenario.bottles[0].fill * float(share) for share in SHARES]
    feed = item.feed or scenario.feeds[0][0]
    try:
        rows = correction_table(scenario, gauge, held, pass_=item, feed=feed).rows
    except N2OSimError:
        return None
    return rows or None


def _weight_row(r: Mapping[str, Any], capacity: float, units: Units) -> tuple[str, ...]:
    return (
        units.bare(r["weight"], "mass"),
        units.bare(r["charge"], "mass"),
        f"{100.0 * r['charge'] / capacity:.0f}",
        units.bare(r["temperature"], "temperature"),
        f"{100.0 * (1.0 + r['flow_change']):.0f}",
        r["verdict"] or units.bare(r["setting"], "gauge_pressure"),
    )


def _all_gas(density: float, T: float) -> bool:
    """Whether a filling density (kg/m3) has no liquid left at a temperature (K)."""
    leaves, how = leaves_saturation(density)
    return how == ALL_VAPOUR and leaves <= T


def _plain_weights(scenario: Scenario, index: int, gauge: float, units: Units) -> Table | None:
    """Temperature at which each charge reads the pressure, where flows cannot be compared."""
    fitted = scenario.bottles[index]
    bottle, wanted = fitted.bottle, gauge + scenario.ambient.pressure
    rows = []
    for share in SHARES:
        charge = fitted.fill * float(share)
        try:
            T = float(temperature_for_pressure(wanted, charge, bottle.volume))
        except NoSolutionError:
            continue
        rows.append(
            (
                units.bare(charge + bottle.empty_mass, "mass"),
                units.bare(charge, "mass"),
                f"{100.0 * charge / bottle.capacity:.0f}",
                units.bare(T, "temperature"),
                "refill first" if T > EXPOSURE_LIMIT or _all_gas(charge / bottle.volume, T) else "",
            )
        )
    title = "Temperature by bottle weight" + _whose(scenario, index)
    heads = (*_weight_heads(gauge, units), ("", ""))
    note = tare_words(scenario, units, index)
    return Table(title, heads, tuple(rows), note) if rows else None


def _whose(scenario: Scenario, index: int) -> str:
    return f': "{scenario.bottles[index].name}"' if len(scenario.bottles) > 1 else ""


def tare_words(scenario: Scenario, units: Units, index: int = 0) -> str:
    """What scale readings count for the empty bottle."""
    empty = units.full(scenario.bottles[index].bottle.empty_mass, "mass")
    return f"Scale readings count {empty} for the empty bottle: use yours."


# --- by weather ----------------------------------------------------------------------------------
def weather_table(scenario: Scenario, units: Units, index: int = 0) -> Table | None:
    """Warm-up of a bottle by weather, for its charge and half of it; None without heater and
    switch, and where no run of it can be had."""
    fitted = scenario.bottles[index]
    if fitted.heater is None or fitted.switch is None:
        return None
    with suppress(N2OSimError):
        return _weather_table(scenario, index, units)
    return None


def _weather_table(scenario: Scenario, index: int, units: Units) -> Table:
    fitted = scenario.bottles[index]
    air, charges = _WEATHER[units.system], (fitted.fill, 0.5 * fitted.fill)
    cells = _warm_ups(scenario, index, air, charges, units)
    full = [100.0 * c / fitted.bottle.capacity for c in charges]
    heads = (
        ("air and bottle", units.unit("temperature")),
        ("reads at first", units.unit("gauge_pressure")),
        *((f"{share:.0f} % full", units.full(c, "mass")) for share, c in zip(full, charges)),
    )
    rows = tuple(
        (
            units.bare(T, "temperature"),
            units.bare(_gauge(scenario, index, T, charges[0]), "gauge_pressure"),
            *row,
        )
        for T, row in zip(air, cells)
    )
    note = (
        "Heating time until the switch first opens; the bottle is as warm as the air at first. "
        "Wind, sun and supply are those of the scenario."
    )
    return Table("Warm-up by weather" + _whose(scenario, index), heads, rows, note)


def _gauge(scenario: Scenario, index: int, T: float, charge: float) -> float:
    volume = scenario.bottles[index].bottle.volume
    return float(pressure_at(T, charge, volume)) - scenario.ambient.pressure


def _warm_ups(
    scenario: Scenario, index: int, air: Sequence[float], charges: Sequence[float], units: Units
) -> list[tuple[str, ...]]:
    """Texts by (air, charge), all run as one ensemble."""
    from n2osim.studies.ensemble import run_ensemble

    fitted = scenario.bottles[index]
    tag = f"{fitted.name}." if len(scenario.bottles) > 1 else ""
    output = f"hold0.{tag}warm_up_time_s"
    cases = [(T, charge) for T in air for charge in charges]
    result = run_ensemble(
        [_warm_up(scenario, index, T, charge) for T, charge in cases],
        workers=1,
        outputs=[output],
        title="warm-up by weather",
    )
    times = dict(zip(result.members.tolist(), result[output].tolist()))
    switch = fitted.switch
    assert switch is not None
    texts = []
    for k, (T, charge) in enumerate(cases):
        p, time = _gauge(scenario, index, T, charge), times.get(k, math.nan)
        if p > switch.opens:
            texts.append("above the band")
        elif p >= switch.closes:
            texts.append("in the band")
        else:
            texts.append(f"not in {lasting(_LONGEST)}" if math.isnan(time) else lasting(time))
    return [tuple(texts[k : k + len(charges)]) for k in range(0, len(texts), len(charges))]


def _warm_up(scenario: Scenario, index: int, T: float, charge: float) -> Scenario:
    bottles = tuple(
        dataclasses.replace(b, start=T, wall_start=None, fill=charge if i == index else b.fill)
        for i, b in enumerate(scenario.bottles)
    )
    ambient = dataclasses.replace(scenario.ambient, temperature=T)
    # The hold ends when the first switch opens, whichever bottle's that is: of several run it out.
    alone = len(scenario.bottles) == 1
    return scenario.replace(
        bottles=bottles, ambient=ambient, schedule=(Hold(_LONGEST, until_open=alone),)
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
    scenario = run.scenario
    item = first_of(scenario, Pass)
    if item is None:
        return PassWords(None, ("The scenario has no pass.",))
    from n2osim.answers.passes import passes_per_fill

    try:
        found = passes_per_fill(scenario, item)
    except N2OSimError as problem:
        return PassWords(None, (f"Passes per fill: not told ({problem}).",))
    held = units.full(sum(b.fill for b in scenario.bottles), "mass")
    many = f"{found['count']} pass{'es' * (found['count'] != 1)}"
    said = [
        f"{many} of {lasting(item.duration)} from {held}, warmed up to the band "
        f"before each; in the next one {_reason(found['reason'])}. A pass counts while "
        f"{found.limits.words(units.system)}. Purges come off this."
    ]
    charge = found["refill_below"]
    if isinstance(charge, str):
        return PassWords(found["count"], tuple(said))
    reading = units.full(found["refill_reading"], "mass")
    said.append(
        f"Refill at {units.full(charge, 'mass')} left in all ({reading} on the scale"
        f"{_whose(scenario, 0)}, its errors covered): below that one more pass from where the "
        f"switch opens fails: {found['refill_reason']}."
    )
    return PassWords(found["count"], tuple(said), reading)


def _reason(reason: str) -> str:
    return "no liquid is left" if reason.startswith("liquid runs out 0 s") else reason


# --- jets ----------------------------------------------------------------------------------------
def jets_tables(run: Run, units: Units) -> tuple[Table, ...]:
    """Jets of every feed, and of the fuel; empty where there are none."""
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
        return ()
    heads = (("jets", ""), ("number", ""), ("bore", units.unit("length")), ("Cd", ""))
    return (Table("Jets", heads, tuple(rows), _flow_words(run, units)),)


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
        ends = dict.fromkeys(f"{m:.2f}" for m in (seen.mixture.start, seen.mixture.end))
        said += (
            f"; {units.full(seen.power.mean, 'engine_power')} on average, mixture "
            f"{' to '.join(ends)} (above 1: rich)"
        )
        if seen.range is not None and run.engine.engine.fuel_jets is not None:
            low, high = seen.range.mixture
            said += f", {low:.2f} to {high:.2f} within what is known of the jets' flow"
    return said + "."


def _sag_words(run: Run, units: Units) -> str:
    """How far the first pass takes the pressure down: of each bottle, where there are several."""
    first = [p for p in run.passes if p.index == run.passes[0].index]
    sags = [units.full(p.pressure_sag, "pressure_difference") for p in first]
    if len(first) == 1:
        return f"pressure sags {sags[0]}"
    each = ", ".join(f'"{p.bottle}" {sag}' for p, sag in zip(first, sags))
    return f"pressure sags: {each}"
