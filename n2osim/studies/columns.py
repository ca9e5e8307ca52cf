"""Numbers of a lane as labelled columns: what an ensemble keeps of each member.

A column is named ``<segment>.<quantity>`` ("hold0.warm_up_time_s", "pass0.pressure_sag_Pa"), with
the unit at the end (``gauge_Pa`` is gauge pressure, a bare ``_Pa`` a difference), and
``<segment>.<bottle>.<quantity>`` where the scenario has several bottles. Segments are counted by
kind. ``run.<quantity>`` covers the whole schedule. The numbers are those of the summaries of a
:class:`~n2osim.results.run.Run`, from the same compiled function; NaN where a summary says None.
"""

from __future__ import annotations

import fnmatch
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.pack import Packed
from n2osim.errors import UnknownNameError
from n2osim.jit import jit
from n2osim.results import summarise as S

Array = np.ndarray


class Layout(NamedTuple):
    """What the names of the columns depend on."""

    kinds: tuple[str, ...]
    bottles: tuple[str, ...]


class Raw(NamedTuple):
    """Numbers of members of one layout, members first.

    table (member, segment, bottle, N_SUMMARY); p0 (member,) ambient pressure, Pa absolute;
    closes, opens (member, bottle): set points of the switch in charge, Pa gauge; counts
    (member, 2): steps and events.
    """

    table: Array
    p0: Array
    closes: Array
    opens: Array
    counts: Array


@jit
def lane_numbers(rows, ny, nb, n, table):
    """Fill ``table`` (segment, bottle, N_SUMMARY) from a lane's rows."""
    r0 = 0
    for s in range(table.shape[0]):
        r1 = r0
        while r1 < rows.shape[0] and rows[r1, 1] == s:
            r1 += 1
        for i in range(nb):
            if r1 > r0:
                S.segment_numbers(rows, r0, r1, ny, nb, i, n, table[s, i])
            else:
                table[s, i, :] = np.nan
        r0 = r1


def layout_of(packed: Packed) -> Layout:
    """Layout of a packed scenario."""
    kinds = tuple(L.KIND_NAMES[k] for k in packed.kinds)
    return Layout(kinds, tuple(b.name for b in packed.scenario.bottles))


def switch_band(packed: Packed) -> tuple[Array, Array]:
    """(closes, opens) of the switch in charge of each bottle, Pa gauge."""
    b = packed.plant.bottles
    charge = b["controller"]
    return b["closes"][charge], b["opens"][charge]


# --- one quantity of one segment and bottle: (raw numbers, segment, bottle) -> values ------------
Function = Callable[[Raw, int, int], Array]


def _plain(k: int) -> Function:
    return lambda w, s, i: w.table[:, s, i, k]


def _gauge(k: int) -> Function:
    return lambda w, s, i: w.table[:, s, i, k] - w.p0


def _since_start(k: int) -> Function:
    return lambda w, s, i: w.table[:, s, i, k] - w.table[:, s, i, S.S_T0]


def _length(w: Raw, s: int, i: int) -> Array:
    return w.table[:, s, i, S.S_T1] - w.table[:, s, i, S.S_T0]


def _over(top: Function, bottom: Function) -> Function:
    def ratio(w: Raw, s: int, i: int) -> Array:
        below = bottom(w, s, i)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(below > 0.0, top(w, s, i) / below, np.nan)

    return ratio


def _if_opened(values: Function) -> Function:
    """NaN unless the switch has opened in the segment."""

    def masked(w: Raw, s: int, i: int) -> Array:
        opened = np.isfinite(w.table[:, s, i, S.S_FIRST_OFF])
        return np.where(opened, values(w, s, i), np.nan)

    return masked


def _mean_power(w: Raw, s: int, i: int) -> Array:
    length = _length(w, s, i)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(length > 0.0, w.table[:, s, i, S.S_ENERGY] / length, 0.0)


def _none_is_zero(k: int) -> Function:
    return lambda w, s, i: np.where(
        w.table[:, s, i, k] > 0.0, w.table[:, s, i, k], np.where(_missing(w, s, i), np.nan, 0.0)
    )


def _no_flow_is_zero(w: Raw, s: int, i: int) -> Array:
    # Negative where the other bottles on the manifold fill this one.
    start = w.table[:, s, i, S.S_FLOW0]
    return np.where(np.isnan(start) & ~_missing(w, s, i), 0.0, start)


def _missing(w: Raw, s: int, i: int) -> Array:
    return np.isnan(w.table[:, s, i, S.S_T0])


def _extrapolated(w: Raw, s: int, i: int) -> Array:
    return np.where(_missing(w, s, i), np.nan, 1.0 * (w.table[:, s, i, S.S_EXTRAP] > 0.0))


_AFTER = _plain(S.S_TIME_AFTER)
_COMMON: dict[str, Function] = {
    "start_time_s": _plain(S.S_T0),
    "duration_s": _length,
    "start_pressure_gauge_Pa": _gauge(S.S_P0),
    "end_pressure_gauge_Pa": _gauge(S.S_P1),
    "minimum_pressure_gauge_Pa": _gauge(S.S_PMIN),
    "peak_pressure_gauge_Pa": _gauge(S.S_PMAX),
    "start_temperature_K": _plain(S.S_TF0),
    "end_temperature_K": _plain(S.S_TF1),
    "start_mass_kg": _plain(S.S_M0),
    "end_mass_kg": _plain(S.S_M1),
}
_HEATED: dict[str, Function] = {
    "warm_up_time_s": _since_start(S.S_FIRST_OFF),
    "duty": _if_opened(_over(_plain(S.S_ON_AFTER), _AFTER)),
    "switchings": _plain(S.S_SWITCHINGS),
    "switchings_per_hour": _if_opened(
        _over(lambda w, s, i: 3600.0 * (w.table[:, s, i, S.S_SWITCHINGS] - 1.0), _AFTER)
    ),
    "energy_J": _plain(S.S_ENERGY),
    "mean_power_W": _mean_power,
    "loss_J": _plain(S.S_LOSS),
    "heat_to_fluid_J": _plain(S.S_HEAT),
    "peak_after_open_gauge_Pa": _gauge(S.S_PEAK_AFTER),
    "lowest_after_open_gauge_Pa": _gauge(S.S_LOW_AFTER),
    "overshoot_Pa": lambda w, s, i: w.table[:, s, i, S.S_PEAK_AFTER] - w.p0 - w.opens[:, i],
    "undershoot_Pa": lambda w, s, i: w.closes[:, i] - (w.table[:, s, i, S.S_LOW_AFTER] - w.p0),
    "hottest_wall_K": _plain(S.S_HOT_WALL),
    "hottest_inner_K": _plain(S.S_HOT_INNER),
    "hottest_heater_K": _plain(S.S_HOT_HEATER),
    "hottest_fluid_K": _plain(S.S_HOT_FLUID),
    "inside_extrapolated": _extrapolated,
}
_FLOWING: dict[str, Function] = {
    "pressure_sag_Pa": lambda w, s, i: w.table[:, s, i, S.S_P0] - w.table[:, s, i, S.S_P1],
    "used_kg": _plain(S.S_USED),
    "flow_start_kg_s": _no_flow_is_zero,
    "flow_mean_kg_s": _plain(S.S_FLOWMEAN),
    "flow_max_kg_s": _none_is_zero(S.S_FLOWMAX),
    "flow_end_kg_s": _plain(S.S_FLOW1),
    "flow_time_s": _plain(S.S_FLOW_TIME),
    "liquid_out_time_s": _since_start(S.S_LIQUID_OUT),
    "coldest_fluid_K": _plain(S.S_COLD_FLUID),
    "heat_to_fluid_J": _plain(S.S_HEAT),
}
QUANTITIES: dict[str, dict[str, Function]] = {
    "hold": _COMMON | _HEATED,
    "rest": _COMMON | _HEATED,
    "pass": _COMMON | _FLOWING,
    "purge": _COMMON | _FLOWING,
    "weigh": _COMMON,
    "refill": _COMMON | {"pump_work_J": _plain(S.S_PUMP)},
}
"""Quantities of each kind of segment."""


# --- whole run -----------------------------------------------------------------------------------
RunFunction = Callable[[Raw, int], Array]


def _highest(k: int, gauge: bool = False) -> RunFunction:
    return lambda w, i: np.nanmax(w.table[:, :, i, k], axis=1) - (w.p0 if gauge else 0.0)


def _lowest(k: int, gauge: bool = False) -> RunFunction:
    return lambda w, i: np.nanmin(w.table[:, :, i, k], axis=1) - (w.p0 if gauge else 0.0)


def _sum(k: int) -> RunFunction:
    return lambda w, i: np.nansum(w.table[:, :, i, k], axis=1)


RUN_QUANTITIES: dict[str, RunFunction] = {
    "duration_s": lambda w, i: np.nanmax(w.table[:, :, i, S.S_T1], axis=1),
    "peak_pressure_gauge_Pa": _highest(S.S_PMAX, gauge=True),
    "minimum_pressure_gauge_Pa": _lowest(S.S_PMIN, gauge=True),
    "hottest_wall_K": _highest(S.S_HOT_WALL),
    "hottest_inner_K": _highest(S.S_HOT_INNER),
    "hottest_heater_K": _highest(S.S_HOT_HEATER),
    "hottest_fluid_K": _highest(S.S_HOT_FLUID),
    "coldest_fluid_K": _lowest(S.S_COLD_FLUID),
    "used_kg": _sum(S.S_USED),
    "end_mass_kg": lambda w, i: w.table[:, -1, i, S.S_M1],
    "energy_J": _sum(S.S_ENERGY),
    "loss_J": _sum(S.S_LOSS),
    "switchings": _sum(S.S_SWITCHINGS),
}
"""Quantities over the whole schedule (refills count negative in ``used_kg``)."""
COUNTS = ("run.steps", "run.events")


# --- names ---------------------------------------------------------------------------------------
@lru_cache(maxsize=64)
def segment_names(kinds: tuple[str, ...]) -> tuple[str, ...]:
    """Names of the segments of a schedule: kind and its count ("hold0", "pass0", "hold1")."""
    seen: dict[str, int] = {}
    names = []
    for kind in kinds:
        names.append(f"{kind}{seen.get(kind, 0)}")
        seen[kind] = seen.get(kind, 0) + 1
    return tuple(names)


@lru_cache(maxsize=64)
def column_names(layout: Layout) -> tuple[str, ...]:
    """All columns of a layout, in the order of :func:`all_columns`."""
    return tuple(name for name, _ in _plan(layout, None))


@lru_cache(maxsize=64)
def _plan(
    layout: Layout, patterns: tuple[str, ...] | None
) -> tuple[tuple[str, Callable[[Raw], Array]], ...]:
    """(name, function of the raw numbers) of the wanted columns."""
    several = len(layout.bottles) > 1
    plan: list[tuple[str, Callable[[Raw], Array]]] = []
    for i, bottle in enumerate(layout.bottles):
        tag = f"{bottle}." if several else ""
        for q, whole in RUN_QUANTITIES.items():
            plan.append((f"run.{tag}{q}", _bound_run(whole, i)))
    plan.append((COUNTS[0], lambda w: w.counts[:, 0]))
    plan.append((COUNTS[1], lambda w: w.counts[:, 1]))
    for s, (segment, kind) in enumerate(zip(segment_names(layout.kinds), layout.kinds)):
        for i, bottle in enumerate(layout.bottles):
            tag = f"{bottle}." if several else ""
            for q, one in QUANTITIES[kind].items():
                plan.append((f"{segment}.{tag}{q}", _bound(one, s, i)))
    if patterns is None:
        return tuple(plan)
    return tuple(entry for entry in plan if any(_fits(entry[0], p) for p in patterns))


def _bound(function: Function, s: int, i: int) -> Callable[[Raw], Array]:
    return lambda w: function(w, s, i)


def _bound_run(function: RunFunction, i: int) -> Callable[[Raw], Array]:
    return lambda w: function(w, i)


def _fits(name: str, pattern: str) -> bool:
    return name == pattern or fnmatch.fnmatchcase(name, pattern)


def columns(
    layout: Layout, raw: Raw, outputs: Sequence[str] | None = None
) -> tuple[tuple[str, ...], Array]:
    """(names, values (member, column)) of the columns that match ``outputs`` (None: all).

    ``outputs`` are names or patterns ("pass*.pressure_sag_Pa", "hold0.*").
    """
    plan = _plan(layout, None if outputs is None else tuple(outputs))
    values = np.empty((len(raw.p0), len(plan)))
    for k, (_, function) in enumerate(plan):
        values[:, k] = function(raw)
    return tuple(name for name, _ in plan), values


def check_outputs(layout: Layout, outputs: Sequence[str]) -> None:
    """Raise UnknownNameError with near matches for a name or pattern that fits no column."""
    names = column_names(layout)
    for pattern in outputs:
        if not any(_fits(name, pattern) for name in names):
            raise UnknownNameError.among("output", pattern, names)


def check_names(outputs: Sequence[str]) -> None:
    """As :func:`check_outputs` where the layouts are not known yet: the quantity must exist."""
    known = sorted(
        {q for kind in QUANTITIES.values() for q in kind}
        | set(RUN_QUANTITIES)
        | {c.split(".")[1] for c in COUNTS}
    )
    for pattern in (outputs,) if isinstance(outputs, str) else outputs:
        last = str(pattern).split(".")[-1]
        if not any(_fits(q, last) for q in known):
            raise UnknownNameError.among("output", pattern, known)


def union(
    count: int, pieces: list[tuple[list[int], tuple[str, ...], np.ndarray]]
) -> tuple[tuple[str, ...], np.ndarray]:
    """One table of all columns, in the order in which members first have them."""
    order: dict[str, int] = {}
    for _, names, _ in sorted(pieces, key=lambda p: p[0][0]):
        for name in names:
            order.setdefault(name, len(order))
    table = np.full((count, len(order)), np.nan)
    for where, names, values in pieces:
        table[np.ix_(where, [order[n] for n in names])] = values
    return tuple(order), table


__all__ = [
    "QUANTITIES",
    "RUN_QUANTITIES",
    "Layout",
    "Raw",
    "check_names",
    "check_outputs",
    "column_names",
    "columns",
    "lane_numbers",
    "layout_of",
    "segment_names",
    "switch_band",
]
