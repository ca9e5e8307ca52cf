"""Quantities of a run by name, in any unit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.results.quantities import (
    Column,
    all_columns,
    check_outputs,
    columns,
    layout_of,
    names_of,
    unknown,
)
from n2osim.results.quantities_engine import ENGINE_SERIES
from n2osim.results.quantities_series import SERIES
from n2osim.results.quantity import Quantity
from n2osim.unit_table import find_symbol
from n2osim.units import in_unit, parse

if TYPE_CHECKING:
    from n2osim.results.run import Run


def get(run: Run, name: str, unit: str = "") -> Any:
    """A quantity of a run in ``unit``; see :meth:`n2osim.results.run.Run.get`."""
    head, _, last = name.rpartition(".")
    bottles = [b.name for b in run.scenario.bottles]
    series, numbered = _named(run, name)
    if series:
        q = _meant(series, last, unit)
        values = _series(run, q)
        return _shown(
            values[bottles.index(head)] if head in bottles else values, q, name, unit, run
        )
    layout = layout_of(run.scenario)
    if not numbered:
        every = (c.name for c in all_columns(layout))
        known = every if head else (*run.names, *(q.name for q in ENGINE_SERIES))
        raise unknown(name, known, layout)
    found = numbered[0]
    plain = found.quantity.plain(_values(run, [found])[found.name])
    return plain if plain is None else _shown(plain, found.quantity, name, unit, run)


def _named(run: Run, name: str) -> tuple[list[Quantity], list[Column]]:
    """Series, or else numbers, that a name can mean."""
    head, _, last = name.rpartition(".")
    if head in ("", "engine", *(b.name for b in run.scenario.bottles)):
        series = [q for q in (*SERIES, *ENGINE_SERIES) if last in names_of(q)]
        if series:
            return series, []
    every = all_columns(layout_of(run.scenario))
    return [], [c for c in every if name in names_of(c.quantity, c.name)]


def known(run: Run, name: object) -> bool:
    """Whether a quantity of that name, with or without its unit, can be read from a run."""
    series, numbered = _named(run, str(name))
    engine = run.scenario.engine is not None
    return bool(numbered) or any(engine or q.of == "series" for q in series)


def at(run: Run, time: Any) -> dict[str, Any]:
    """Every series at one time; see :meth:`n2osim.results.run.Run.at`."""
    t = parse(time, "time", name="time", low=float(run.time[0]), high=float(run.time[-1]))
    row = int(np.searchsorted(run.time, t, side="right")) - 1
    after = min(row + 1, len(run.time) - 1)
    gap = run.time[after] - run.time[row]
    share = (t - run.time[row]) / gap if gap > 0.0 else 0.0
    return {
        name: _between(v.values[..., row], v.values[..., after], share)
        for name, v in run.variables.items()
        if v.dims and v.dims[-1] == "time"
    }


def _between(first: Any, second: Any, share: float) -> Any:
    whole = np.asarray(first).dtype.kind in "bui"
    return first if whole else first + share * (second - first)


def _series(run: Run, q: Quantity) -> np.ndarray:
    if q.of == "series":
        return run[q.name]
    if run.engine is None:
        raise unknown(q.name, (), layout_of(run.scenario))
    return run.engine[q.name]


def numbers(run: Run, patterns: str | Iterable[str] | None = None) -> dict[str, float]:
    """Numbers of a run by full name; see :meth:`n2osim.results.run.Run.numbers`."""
    if patterns is None:
        return _values(run, columns(layout_of(run.scenario)))
    wanted = (patterns,) if isinstance(patterns, str) else tuple(patterns)
    check_outputs(layout_of(run.scenario), wanted)
    return _values(run, columns(layout_of(run.scenario), wanted))


def _values(run: Run, chosen: Sequence[Column]) -> dict[str, float]:
    late = late_values(run, [c for c in chosen if c.late])
    with np.errstate(invalid="ignore"):
        return {
            c.name: late[c.name] if c.late else float(c.values(run.records[None])[0])
            for c in chosen
        }


def late_values(run: Run, chosen: Sequence[Column]) -> dict[str, float]:
    """Values of columns that need the run itself: the engine's. NaN for a pass not begun."""
    if not chosen or run.engine is None:
        return dict.fromkeys((c.name for c in chosen), np.nan)
    passes = {p.index: p for p in run.engine.passes}
    return {
        c.name: float(c.quantity.formula(passes[c.segment])) if c.segment in passes else np.nan
        for c in chosen
    }


def _meant(candidates: list[Quantity], name: str, unit: str) -> Quantity:
    """Of gauge and absolute pressure the one that the unit speaks of."""
    symbol = find_symbol(unit) if unit else None
    gauge = symbol is not None and symbol.reference == "gauge"
    exact = [q for q in candidates if q.name == name]
    kinds = [q for q in candidates if (q.kind == "gauge_pressure") == gauge]
    return (exact or kinds or candidates)[0]


def _shown(value: Any, q: Quantity, name: str, unit: str, run: Run) -> Any:
    if not unit:
        return value
    return in_unit(value, q.kind, unit, name=name, ambient=run.scenario.ambient.pressure)
