"""The engine side of a run: over time and pass by pass."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from n2osim import fluid
from n2osim.fluid.phase import TWO_PHASE
from n2osim.hardware.engine import EngineSide
from n2osim.physics.shot import fuel_of
from n2osim.results.arrays import Variable
from n2osim.results.engine_side import (
    LEAN,
    LEAST_FLOW,
    RICH,
    EngineTrace,
    Figure,
    PassEngineSummary,
    accounting,
    engine_arrays,
    mixture_excess,
)
from n2osim.results.flow_ranges import engine_range
from n2osim.results.instants import time_above
from n2osim.scenario.schedule import Item

if TYPE_CHECKING:
    from n2osim.results.run import Run


def engine_trace(run: Run) -> EngineTrace | None:
    """Engine side of a run; None when its scenario has no engine."""
    engine = run.scenario.engine
    if engine is None:
        return None
    variables = engine_arrays(run, engine)
    statement = accounting(engine)
    passes = tuple(
        _summary(run, engine, variables, k, item, statement)
        for k, item in run.begun
        if item.feeds_engine
    )
    return EngineTrace(engine, variables, passes, statement)


def _summary(
    run: Run, engine: EngineSide, variables: dict[str, Variable], k: int, item: Item, statement: str
) -> PassEngineSummary:
    rows = run.rows_of(k)
    t = run.time[rows] - run.time[rows.start]
    v = {name: variable.values[rows] for name, variable in variables.items()}
    totals = ("n2o_to_engine_kg", "fuel_kg", "work_J")
    used, burnt, work = (float(v[name][-1] - v[name][0]) for name in totals)
    of = fuel_of(engine)
    mean_mixture = burnt * of.n2o_fuel / used if used > 0.0 else np.nan
    mean_ratio = used / burnt if burnt > 0.0 else np.nan
    flows = engine, v["n2o_flow_kg_s"], v["fuel_flow_kg_s"]
    return PassEngineSummary(
        index=k,
        label=item.label,
        start_time=float(run.time[rows.start]),
        n2o_used=used,
        fuel_used=burnt,
        work=work,
        n2o=_figure(t, v["n2o_flow_kg_s"], v),
        fuel=_figure(t, v["fuel_flow_kg_s"], v),
        power=_figure(t, v["power_W"], v),
        mixture=_figure(t, v["equivalence_shot"], v, mean_mixture),
        ratio=_figure(t, v["n2o_fuel_ratio"], v, mean_ratio),
        engine_mixture=_figure(t, v["equivalence_engine"], v)
        if engine.base_air and engine.base_fuel is not None
        else None,
        charge_temperature=_known(t, v["charge_temperature_K"], v),
        density_gain=_known(t, v["charge_density_gain"], v),
        air_gain=_known(t, v["charge_air_gain"], v),
        lean=time_above(t, mixture_excess(*flows, LEAN)),
        rich=time_above(t, mixture_excess(*flows, RICH)),
        statement=statement,
        range=engine_range(
            run, k, engine, variables["n2o_flow_kg_s"].values, variables["opening"].values
        ),
    )


def _known(t: np.ndarray, values: np.ndarray, v: dict[str, np.ndarray]) -> Figure | None:
    """Figure of the charge; None without base air and where the air cannot evaporate the N2O."""
    return _figure(t, values, v) if np.isfinite(values).any() else None


def _figure(
    t: np.ndarray, values: np.ndarray, v: dict[str, np.ndarray], mean: float | None = None
) -> Figure:
    """Start, mean, end and extremes over the rows with flow."""
    flow = v["n2o_flow_kg_s"]
    # The row at which a delay or a shut window ends holds next to nothing.
    there = np.flatnonzero((flow > LEAST_FLOW * flow.max(initial=0.0)) & np.isfinite(values))
    if not len(there):
        return Figure(*([np.nan] * 7))
    x, time = values[there], t[there]
    low, high = int(x.argmin()), int(x.argmax())
    if mean is None:
        span = time[-1] - time[0]
        mean = float(np.trapezoid(x, time) / span) if span > 0.0 else float(x[0])
    return Figure(
        float(x[0]),
        float(mean),
        float(x[-1]),
        float(x[low]),
        float(time[low]),
        float(x[high]),
        float(time[high]),
    )


def drawn_density(run: Run, row: int) -> float:
    """Density (kg/m3) of what all bottles together give at a row, by volume flow."""
    flow, volume = 0.0, 0.0
    for i, fitted in enumerate(run.scenario.bottles):
        out = float(run["outflow_kg_s"][i, row])
        if out <= 0.0:
            continue
        T = float(run["fluid_temperature_K"][i, 0, row])
        rho = float(run["mass_kg"][i, row]) / fitted.bottle.volume
        liquid = float(run["outflow_liquid_kg_s"][i, row]) / out
        if int(run["phase"][i, row]) == TWO_PHASE:
            line = fluid.saturation(T)
            volume += out * (liquid / float(line.rho_l) + (1.0 - liquid) / float(line.rho_v))
        else:
            volume += out / rho
        flow += out
    return flow / volume if volume > 0.0 else 0.0


def first_flow(run: Run, index: int) -> tuple[float, float]:
    """First flow (kg/s) of segment ``index`` and the density (kg/m3) then drawn; zeros if none.

    A delayed or ramped delivery begins with a row of next to nothing: flow counts from 1 % of its
    largest in the segment.
    """
    begin = run.rows_of(index).start
    flow = run["outflow_kg_s"][:, run.rows_of(index)].sum(axis=0)
    rows = np.flatnonzero((flow > 0.0) & (flow >= 0.01 * flow.max(initial=0.0)))
    if not len(rows):
        return 0.0, 0.0
    r = begin + int(rows[0])
    return float(run["outflow_kg_s"][:, r].sum()), drawn_density(run, r)
