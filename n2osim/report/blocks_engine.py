"""What the engine makes of each pass, as tables."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.numbers import Units
from n2osim.text import Table

if TYPE_CHECKING:
    from n2osim.results.engine_side import EngineTrace, Figure
    from n2osim.results.run import Run


def engine_tables(run: Run, units: Units) -> list[Table]:
    """Fuel, mixture and power of each pass, then what concerns the whole charge."""
    trace = run.engine
    if trace is None or not trace.passes:
        return []
    charge = _charge_table(trace, units)
    return [_shot_table(run, trace, units), *([] if charge is None else [charge])]


def _shot_table(run: Run, trace: EngineTrace, units: Units) -> Table:
    power = units.unit("engine_power")
    heads = (
        ("", ""),
        ("flows", "s"),
        ("N2O", units.unit("mass")),
        ("fuel", units.unit("mass")),
        ("N2O:fuel", ""),
        ("mixture", ""),
        ("leanest", ""),
        ("richest", ""),
        ("power", power),
        ("at the end", power),
    )
    rows = []
    for p in trace.passes:
        ratios = (p.ratio.mean, p.mixture.mean, p.mixture.minimum, p.mixture.maximum)
        rows.append(
            (
                _name(p),
                f"{flowing_time(run, trace, p.index):.3g}",
                units.bare(p.n2o_used, "mass"),
                units.bare(p.fuel_used, "mass"),
                *(units.bare(x, "number") for x in ratios),
                units.bare(p.power.mean, "engine_power"),
                units.bare(p.power.end, "engine_power"),
            )
        )
    words = trace.statement
    return Table("Engine", heads, tuple(rows), _sentence(words) + " Power: mean while N2O flows.")


def _charge_table(trace: EngineTrace, units: Units) -> Table | None:
    """Mixture of the whole engine, and the charge that evaporating N2O cools."""
    if all(p.engine_mixture is None and p.charge_temperature is None for p in trace.passes):
        return None
    heads = (
        ("", ""),
        ("mixture", "mean"),
        ("leanest", ""),
        ("richest", ""),
        ("charge", units.unit("temperature")),
        ("coldest", units.unit("temperature")),
        ("air density", "x"),
        ("charge density", "x"),
    )
    rows = [
        (
            _name(p),
            *_three(p.engine_mixture, units),
            *_cells(p.charge_temperature, ("mean", "minimum"), units, "temperature"),
            _times(p.air_gain),
            _times(p.density_gain),
        )
        for p in trace.passes
    ]
    note = (
        "Mixture: all fuel against the oxygen of air and N2O together. Charge: air with all N2O "
        "evaporated in it, nothing else warming it. Air density: what cooling does for the air the "
        "engine draws, after the room that the N2O takes; charge density counts the N2O as well."
    )
    return Table("Whole engine", heads, tuple(rows), note)


def _three(figure: Figure | None, units: Units) -> tuple[str, ...]:
    return _cells(figure, ("mean", "minimum", "maximum"), units)


def _cells(
    figure: Figure | None, names: tuple[str, ...], units: Units, dimension: str = "number"
) -> tuple[str, ...]:
    if figure is None:
        return ("-",) * len(names)
    return tuple(units.bare(getattr(figure, n), dimension) for n in names)


def _times(figure: Figure | None) -> str:
    """A gain to a thousandth: cooling and the room that the N2O takes nearly cancel."""
    known = figure is not None and math.isfinite(figure.mean)
    return f"{figure.mean:.3f}" if figure is not None and known else "-"


def flowing_time(run: Run, trace: EngineTrace, index: int) -> float:
    """Seconds of pass ``index`` in which N2O flows to the engine."""
    there = (run["segment"] == index) & (trace["n2o_flow_kg_s"] > 0.0)
    return float((np.diff(run.time) * (there[:-1] & there[1:])).sum())


def _name(p: Any) -> str:
    return f"{p.index + 1} pass" + (f" ({p.label})" if p.label else "")


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:] + "."


__all__ = ["engine_tables", "flowing_time"]
