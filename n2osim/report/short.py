"""A run in five lines: whether the set-up does its job, the worst, and the main figures."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.answers.judge import beside_band
from n2osim.numbers import Units, lasting
from n2osim.results.electric import supply_use
from n2osim.results.gas_drawn import held_shut
from n2osim.results.holds import switch_of
from n2osim.results.rules_engine import pass_name
from n2osim.results.rules_flow import gas_from_the_start

if TYPE_CHECKING:
    from n2osim.results.run import Run

FAR_TOO_RICH = 1.5
"""Times the target mixture: beyond it the fuel drowns what the oxygen is worth (no source)."""


def in_short(run: Run, system: str = "shop") -> list[str]:
    """At most five sentences."""
    units = Units(system)
    found = [f"{verdict(run, units)} {worst(run, system)}".strip(), heat(run, units)]
    return [s for s in (*found, passes(run, units), engine(run, units)) if s]


def verdict(run: Run, units: Units) -> str:
    """Whether every hold gets to its band and every pass has pressure, liquid and mixture."""
    warmed = any(h.kind == "hold" and _band(run, h.bottle) for h in run.holds)
    failures = list(dict.fromkeys(shortfalls(run, units)))
    if failures:
        more = f"; and {len(failures) - 3} more" if len(failures) > 3 else ""
        return "It does not do the job: " + "; ".join(failures[:3]) + more + "."
    danger = any(f.severity == "danger" for f in run.findings)
    does = "It does the job, but not without danger:" if danger else "It does the job:"
    if not run.passes:
        return f"{does} the band is reached." if warmed else ""
    many = len({p.index for p in run.passes})
    which = {1: "the pass", 2: "both passes"}.get(many, f"all {many} passes")
    banded = any(_band(run, b.name) for b in run.scenario.bottles)
    begun = ("begins in the band and " if many == 1 else "begin in the band and ") if banded else ""
    kept = "keeps liquid to the end" if many == 1 else "keep liquid to the end"
    if any(b.mounting.draw == "vapour" for b in run.scenario.bottles):
        kept = "draws vapour" if many == 1 else "draw vapour"  # from one of the bottles at least
    return f"{does} {which} {begun}{kept}."


def shortfalls(run: Run, units: Units) -> Iterator[str]:
    """What keeps a run from doing its job, in words."""
    if run.ending != "schedule complete":
        yield f"the simulation could not go on after {lasting(float(run.time[-1]))} ({run.ending})"
    for name, event in run.frozen.items():
        yield f'nothing can be said of "{name}" after {lasting(event.time)}'
    for h in run.holds:
        band = _band(run, h.bottle)
        if band is None or h.warm_up_time is not None or h.kind != "hold":
            continue
        if h.energy > 0.0 and h.end_pressure < band[0]:
            end = units.short(h.end_pressure, "gauge_pressure")
            yield f"{_name(run, h)} ends at {end}, below the band"
    for p in run.passes:
        side = beside_band(run, p)
        if side and _band(run, p.bottle) is not None:
            begins = units.short(p.start_pressure, "gauge_pressure")
            yield f"{_name(run, p)} begins at {begins}, {side} the band"
        if gas_from_the_start(run.view_of(p.bottle), p) is not None:
            yield f"no liquid reaches the pick-up in {_name(run, p)}"
        elif p.liquid_out_time is not None:
            yield f"liquid runs out {lasting(p.liquid_out_time)} into {_name(run, p)}"
        held = held_shut(run, p.index)
        if held > 0.0:
            yield f"the arming window holds {_name(run, p)} shut for {lasting(held)}"
    for f in run.findings:  # followers: the band is another's
        if f.code in ("launch-below-band", "launch-above-band") and not _band(run, f.bottle):
            side = "below" if f.code == "launch-below-band" else "above"
            yield f'"{f.bottle}" begins a pass {side} the band'
        if f.code == "over-fuse":
            draw, fuse = (units.full(x, "current") for x in (f.value, f.limit))
            yield f"the heaters draw {draw} through a fuse of {fuse}"
    shots = run.engine.passes if run.engine is not None else ()
    for e in shots:
        if e.lean > 0.0:
            yield f"{pass_name(e)} is too lean for {lasting(e.lean)}"
    wanted = run.scenario.engine.target_mixture if run.scenario.engine is not None else math.inf
    drowned = [e for e in shots if FAR_TOO_RICH * wanted < e.mixture.mean < math.inf]
    if drowned:
        worst = max(drowned, key=lambda e: e.mixture.mean)
        told = f"mixture {worst.mixture.mean:.3g} where {wanted:.3g} is wanted"
        more = f"and {len(drowned) - 1} more are" if len(drowned) > 1 else "is"
        yield f"{pass_name(worst)} {more} far too rich for the power stated ({told})"


def _band(run: Run, bottle: str) -> tuple[float, float] | None:
    """Set points (Pa gauge) of the switch that feeds a bottle's heater."""
    bottles = run.scenario.bottles
    fitted = bottles[run.scenario.bottle_index(bottle)]
    if fitted.follows is not None:  # its switch stands at the pressure of another bottle
        return None
    return None if fitted.switch is None else (fitted.switch.closes, fitted.switch.opens)


def _name(run: Run, s: Any) -> str:
    whose = f' of "{s.bottle}"' if len(run.scenario.bottles) > 1 else ""
    return (f'{s.kind} "{s.label}"' if s.label else f"{s.kind} {s.index + 1}") + whose


def worst(run: Run, system: str) -> str:
    """The most severe finding, and how many more there are."""
    found = [f for f in run.findings if f.severity != "caution"]
    if not found or found[0].severity == "note":
        return "No limit is passed."
    f = found[0]
    said = f"Worst: {f.severity.upper()}, {f.whose}{f.told(system, '()')}"
    more = sum(x.severity in ("danger", "warning") for x in found) - 1
    return said + (f"; {more} more below." if more else ".")


def heat(run: Run, units: Units) -> str:
    """Highest pressure and wall, warm-up, electricity."""
    peak, k = _highest(run["pressure_gauge_Pa"])
    text = f"Highest pressure {units.short(peak, 'gauge_pressure')}{_whose(run, k)}"
    switch = switch_of(run.scenario, run.scenario.bottles[k].name)
    if switch is not None and peak >= switch.opens:
        over = units.short(peak - switch.opens, "pressure_difference")
        text += f" ({over} over the switch)"
    wall, k = _highest(run["wall_temperature_K"].max(axis=(1, 2)))
    text += f"; hottest wall {units.short(wall, 'temperature')}{_whose(run, k)}"
    warm = warm_up(run)
    if warm is not None:
        text += f"; in the band after {lasting(warm)}"
    used = supply_use(run)
    if used is not None:
        text += f"; {units.short(used[0], 'power')} delivered, {used[1]:.1f} Ah"
    return text + "."


def warm_up(run: Run) -> float | None:
    """Time (s) of the first hold until every switch has opened; None where one does not."""
    first = [h for h in run.holds if h.index == run.holds[0].index and _band(run, h.bottle)]
    warm = [h.warm_up_time for h in first if h.warm_up_time is not None]
    return max(warm) if warm and len(warm) == len(first) else None


def _highest(values: np.ndarray) -> tuple[float, int]:
    """Largest of an array (bottle, time), and which bottle's."""
    each = np.nanmax(values, axis=-1)
    k = int(np.argmax(each))
    return float(each[k]), k


def _whose(run: Run, k: int) -> str:
    """Which bottle, where there are several."""
    several = len(run.scenario.bottles) > 1
    return f' ("{run.scenario.bottles[k].name}")' if several else ""


def passes(run: Run, units: Units) -> str:
    """N2O used, sag, what is left."""
    if not run.passes:
        return ""
    totals = [t for t in run.totals if t.kind == "pass"]
    used = _range([t.used for t in totals], "mass", units)
    sag = _range([p.pressure_sag for p in run.passes], "pressure_difference", units)
    left = sum(float(m) for m in run["mass_kg"][:, -1])
    whose = " in all bottles" if len(run.scenario.bottles) > 1 else ""
    if not any(t.used for t in totals):
        return f"No pass draws anything; {units.short(left, 'mass')} left{whose}."
    each = "The pass uses" if len(totals) == 1 else "Each pass uses"
    return f"{each} {used}, the pressure sags {sag}; {units.short(left, 'mass')} left{whose}."


def engine(run: Run, units: Units) -> str:
    """Extra power and mixture."""
    if run.engine is None or not run.engine.passes:
        return ""
    seen = [p for p in run.engine.passes if np.isfinite(p.power.mean)]
    if not seen:
        return ""
    power = _range([p.power.mean for p in seen], "engine_power", units)
    mixed = [x for p in seen for x in (p.mixture.minimum, p.mixture.maximum) if np.isfinite(x)]
    text = f"Extra power {power} on average at the {run.engine.engine.power_at}"
    if mixed:
        ends = dict.fromkeys(f"{x:.2f}" for x in (min(mixed), max(mixed)))
        text += f"; mixture {' to '.join(ends)} (above 1 rich, tuned to "
        text += f"{run.engine.engine.target_mixture:.2f})"
    known = run.engine.mixture_ends
    if mixed and known is not None:
        inside = known[0] <= min(mixed) and max(mixed) <= known[1]
        text += ", within the jets' range" if inside else ", not in the range known of such jets,"
        text += f" {known[0]:.2f} to {known[1]:.2f}"
    return text + "."


def _range(values: Iterable[float], dimension: str, units: Units) -> str:
    """One number with its unit, or the smallest and the largest."""
    low, high = min(values := list(values)), max(values)
    if units.bare(low, dimension) == units.bare(high, dimension):
        return units.short(high, dimension)
    return f"{units.bare(low, dimension)} to {units.short(high, dimension)}"
