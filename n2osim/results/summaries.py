"""Per-segment summaries of a run, as frozen records of named numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.pack import Packed
from n2osim.results import summarise as S
from n2osim.results.arrays import Variable
from n2osim.results.totals import common_flow, taken_in
from n2osim.scenario.schedule import Weigh


@dataclass(frozen=True)
class SegmentSummary:
    """What every segment reports. SI; pressures are gauge, Pa."""

    kind: str
    index: int
    label: str
    bottle: str
    start_time: float
    end_time: float
    start_pressure: float
    end_pressure: float
    start_temperature: float
    end_temperature: float
    start_mass: float
    end_mass: float

    @property
    def duration(self) -> float:
        """Length of the segment, s."""
        return self.end_time - self.start_time

    def as_dict(self) -> dict[str, float | str | None]:
        """All fields as plain values (NaN becomes None)."""
        out: dict[str, float | str | None] = {}
        for f in fields(self):
            value = getattr(self, f.name)
            out[f.name] = None if isinstance(value, float) and math.isnan(value) else value
        return out


@dataclass(frozen=True)
class HoldSummary(SegmentSummary):
    """A hold. warm_up_time: s until the switch first opened (None: it never did).

    duty: on-time fraction after that (None before). switchings_per_hour counts openings and
    closings after it. energy: J of electricity. overshoot: highest pressure after the switch first
    opened, above the opening point, Pa. undershoot: lowest after it, below the closing point.
    hottest_wall covers every wall node, hottest_inner the innermost ones (liner), K.
    """

    warm_up_time: float | None
    duty: float | None
    switchings: int
    switchings_per_hour: float | None
    energy: float
    mean_power: float
    loss: float
    peak_pressure: float
    overshoot: float | None
    undershoot: float | None
    hottest_wall: float
    hottest_inner: float
    hottest_heater: float
    hottest_fluid: float
    inside_extrapolated: bool


@dataclass(frozen=True)
class PassSummary(SegmentSummary):
    """A pass or purge of one bottle. pressure_sag: start minus end, Pa. used: N2O drawn, kg.

    flow_*: kg/s (mean over the time with flow). liquid_out_time: s since the segment began at
    which the pick-up uncovered (None: never). Of several bottles each has its own net figures,
    at the instants and over the time that they flow together: a bottle that is filled by the
    others has negative ones. crossflow: kg that it took in from them. What the jets got is in
    ``Run.totals``.
    """

    minimum_pressure: float
    pressure_sag: float
    used: float
    flow_start: float
    flow_mean: float
    flow_max: float
    flow_end: float
    flow_time: float
    liquid_out_time: float | None
    coldest_fluid: float
    crossflow: float = 0.0


@dataclass(frozen=True)
class WeighSummary(SegmentSummary):
    """A weighing. reading: kg on the scale (bottle and charge); charge +- uncertainty, kg (0: no
    tare error and scale tolerance were given). refill: whether the charge can be below the limit,
    that is, whether charge less uncertainty is (None: no limit)."""

    reading: float
    charge: float
    uncertainty: float
    refill: bool | None


@dataclass(frozen=True)
class RefillSummary(SegmentSummary):
    """A refill. pump_work: J that the pump put into what it let in (0 without one)."""

    pump_work: float


def segment_table(packed: Packed, rows: np.ndarray) -> tuple[list[tuple[int, int]], np.ndarray]:
    """Row ranges of the segments carried out and their numbers (segment, bottle, N_SUMMARY)."""
    seg = rows[:, 1].astype(int)
    n = int(seg[-1]) + 1
    edges = np.searchsorted(seg, np.arange(n + 1))
    ranges = [(int(a), int(b)) for a, b in zip(edges[:-1], edges[1:])]
    table = np.full((n, packed.n_bottles, S.N_SUMMARY), np.nan)
    for k, (a, b) in enumerate(ranges):
        for i in range(packed.n_bottles):
            S.segment_numbers(rows, a, b, packed.ny, packed.n_bottles, i, packed.nodes, table[k, i])
    common_flow(packed, rows, table)
    return ranges, table


def summarise(
    packed: Packed, rows: np.ndarray, variables: dict[str, Variable]
) -> tuple[SegmentSummary, ...]:
    """Summaries of all segments and bottles in order of time."""
    ranges, table = segment_table(packed, rows)
    out: list[SegmentSummary] = []
    for k in range(table.shape[0]):
        for i in range(packed.n_bottles):
            one = _one(packed, k, i, table[k, i])
            if isinstance(one, PassSummary):
                one = replace(one, crossflow=taken_in(packed, rows[slice(*ranges[k])], i))
            out.append(one)
    return tuple(out)


def _one(packed: Packed, k: int, i: int, s: np.ndarray) -> SegmentSummary:
    item = packed.scenario.schedule[k]
    kind = L.KIND_NAMES[packed.kinds[k]]
    p0 = packed.p_ambient
    common = dict(
        kind=kind,
        index=k,
        label=item.label,
        bottle=packed.scenario.bottles[i].name,
        start_time=float(s[S.S_T0]),
        end_time=float(s[S.S_T1]),
        start_pressure=float(s[S.S_P0] - p0),
        end_pressure=float(s[S.S_P1] - p0),
        start_temperature=float(s[S.S_TF0]),
        end_temperature=float(s[S.S_TF1]),
        start_mass=float(s[S.S_M0]),
        end_mass=float(s[S.S_M1]),
    )
    if kind in ("hold", "rest"):
        return _hold(packed, i, s, common)
    if kind in ("pass", "purge"):
        return _pass(packed, s, common)
    if kind == "weigh":
        return _weigh(packed, item, i, s, common)  # type: ignore[arg-type]
    return RefillSummary(**common, pump_work=float(s[S.S_PUMP]))  # type: ignore[arg-type]


def _opt(x: float) -> float | None:
    return None if math.isnan(x) else float(x)


def _hold(packed: Packed, i: int, s: np.ndarray, common: dict[str, object]) -> HoldSummary:
    b = packed.plant.bottles[i]
    p0 = packed.p_ambient
    length = s[S.S_T1] - s[S.S_T0]
    opened = not math.isnan(s[S.S_FIRST_OFF])
    after = s[S.S_TIME_AFTER]
    # Power is asked for by the controller's switch, so a following bottle is judged by its own
    # readings but the controller's set points.
    band = packed.plant.bottles[int(b["controller"])]
    return HoldSummary(
        **common,  # type: ignore[arg-type]
        warm_up_time=float(s[S.S_FIRST_OFF] - s[S.S_T0]) if opened else None,
        duty=float(s[S.S_ON_AFTER] / after) if opened and after > 0 else None,
        switchings=int(s[S.S_SWITCHINGS]),
        switchings_per_hour=float((s[S.S_SWITCHINGS] - 1) / after * 3600.0)
        if opened and after > 0
        else None,
        energy=float(s[S.S_ENERGY]),
        mean_power=float(s[S.S_ENERGY] / length) if length > 0 else 0.0,
        loss=float(s[S.S_LOSS]),
        peak_pressure=float(s[S.S_PMAX] - p0),
        overshoot=float(s[S.S_PEAK_AFTER] - p0 - band["opens"]) if opened else None,
        undershoot=float(band["closes"] - (s[S.S_LOW_AFTER] - p0)) if opened else None,
        hottest_wall=float(s[S.S_HOT_WALL]),
        hottest_inner=float(s[S.S_HOT_INNER]),
        hottest_heater=float(s[S.S_HOT_HEATER]),
        hottest_fluid=float(s[S.S_HOT_FLUID]),
        inside_extrapolated=bool(s[S.S_EXTRAP] > 0),
    )


def _pass(packed: Packed, s: np.ndarray, common: dict[str, object]) -> PassSummary:
    p0 = packed.p_ambient
    out_time = s[S.S_LIQUID_OUT] - s[S.S_T0]
    return PassSummary(
        **common,  # type: ignore[arg-type]
        minimum_pressure=float(s[S.S_PMIN] - p0),
        pressure_sag=float(s[S.S_P0] - s[S.S_P1]),
        used=float(s[S.S_USED]),
        flow_start=0.0 if math.isnan(s[S.S_FLOW0]) else float(s[S.S_FLOW0]),
        flow_mean=float(s[S.S_FLOWMEAN]),
        flow_max=float(max(s[S.S_FLOWMAX], 0.0)),
        flow_end=float(s[S.S_FLOW1]),
        flow_time=float(s[S.S_FLOW_TIME]),
        liquid_out_time=_opt(float(out_time)),
        coldest_fluid=float(s[S.S_COLD_FLUID]),
    )


def _weigh(
    packed: Packed, item: Weigh, i: int, s: np.ndarray, common: dict[str, object]
) -> WeighSummary:
    charge = float(s[S.S_M0])
    error = item.tare_error + item.scale_tolerance
    # Decided on the safe side: what the scale shows may be less than it shows.
    refill = None if item.refill_below is None else charge - error < item.refill_below
    return WeighSummary(
        **common,  # type: ignore[arg-type]
        reading=charge + packed.scenario.bottles[i].bottle.empty_mass,
        charge=charge,
        uncertainty=error,
        refill=refill,
    )
