"""The range of the flow of a pass, carried to its mixture and power.

Evaluated at the first and the last row with flow and taken as linear in time between; the bottle
that gives most stands for all, a stage's first feed for its pass.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from n2osim import fluid
from n2osim.engine.pack import back_pressure
from n2osim.errors import InputError, NoSolutionError, RangeError
from n2osim.fluid.phase import TWO_PHASE
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.feed import Feed
from n2osim.physics.feed_state import Drawn, drawn_at, drawn_at_pressure, feed_flow
from n2osim.physics.flow_range import flow_range
from n2osim.results.engine_side import LEAST_FLOW, engine_point, since_pass

if TYPE_CHECKING:
    from n2osim.results.run import Run
    from n2osim.results.view import View
    from n2osim.scenario.fitted import FittedBottle


class Ends(NamedTuple):
    """Something of a pass at the ends of the range of its flow."""

    low: float
    high: float


def drawn_from(run: Run, row: int) -> Drawn:
    """What the bottle that gives most draws at a row."""
    i = int(np.argmax(run["outflow_kg_s"][:, row]))
    T = float(run["fluid_temperature_K"][i, 0, row])
    drawn = drawn_at(T, float(run["mass_kg"][i, row]) / run.scenario.bottles[i].bottle.volume)
    out = float(run["outflow_kg_s"][i, row])
    if int(run["phase"][i, row]) == TWO_PHASE and run["outflow_liquid_kg_s"][i, row] < 0.5 * out:
        return _vapour(T)
    return drawn


def _vapour(temperature: float) -> Drawn:
    """Saturated vapour at a temperature (K), as it is drawn."""
    line = fluid.saturation(temperature)
    gas = (float(line.p), temperature, float(line.rho_v), float(line.h_v), float(line.s_v))
    return Drawn(*gas, False)


def mounted_at_pressure(fitted: FittedBottle, charge: float, gauge: float, ambient: float) -> Drawn:
    """:func:`~n2osim.physics.feed_state.drawn_at_pressure` of a bottle that may be mounted to draw
    its vapour."""
    drawn = drawn_at_pressure(fitted.bottle, charge, gauge, ambient)
    gas = drawn.two_phase and fitted.mounting.draw == "vapour"
    return _vapour(drawn.temperature) if gas else drawn


def pass_feed(run: Run, item: Any) -> tuple[str, Feed] | None:
    """Name and feed that a pass draws through; None where its flow is prescribed."""
    if not item.feeds_engine or item.outflow is not None or not run.scenario.feeds:
        return None
    name = item.stages[0].feed if item.stages else item.feed
    return run.scenario.feeds[run.scenario.feed_index(name)]


def gain_at(v: View, one: Any, gauge: float) -> float | None:
    """Flow of a pass with a bottle at a gauge pressure (Pa) over that with which it begins.

    Fully open, as the valve opens, from this bottle alone. None where the flow is prescribed,
    nothing flows, or the charge cannot stand there.
    """
    run = v.run
    item, density = run.scenario.schedule[one.index], one.start_mass / v.bottle.volume
    used = pass_feed(run, item)
    if used is None:
        return None
    name, feed = used
    back = back_pressure(run.scenario, name)
    try:
        air = run.scenario.ambient.pressure
        there = mounted_at_pressure(v.fitted, one.start_mass, gauge, air)
        begun = drawn_at(one.start_temperature, density)
        if v.fitted.mounting.draw == "vapour":  # which stands apart from the liquid in two zones
            begun = mounted_at_pressure(v.fitted, one.start_mass, one.start_pressure, air)
        flow = feed_flow(feed, begun, back).flow
        return feed_flow(feed, there, back).flow / flow if flow > 0.0 else None
    except (InputError, NoSolutionError, RangeError):
        return None


def factors_at_ends(run: Run, index: int) -> tuple[Ends, Ends] | None:
    """Factors on the flow of pass ``index`` of the schedule, at its first and at its last row.

    None where nothing flows or the flow is prescribed, which has no range.
    """
    item = run.scenario.schedule[index]
    rows = flowing_rows(run, index)
    used = pass_feed(run, item)
    if used is None or not len(rows):
        return None
    name, feed = used
    back = back_pressure(run.scenario, name)
    first, last = (
        flow_range(feed, drawn_from(run, int(r)), back).factors for r in (rows[0], rows[-1])
    )
    return Ends(*first), Ends(*last)


def flowing_rows(run: Run, index: int) -> np.ndarray:
    """Rows of segment ``index`` in which something flows."""
    rows = run.rows_of(index)
    flow = run["outflow_kg_s"][:, rows].sum(axis=0)
    return rows.start + np.flatnonzero(flow > 10.0 * LEAST_FLOW * flow.max(initial=0.0))


class EngineRange(NamedTuple):
    """Ends of the range of a pass: leanest and richest mixture of the shot, mean power (W)."""

    flow: Ends
    mixture: Ends
    power: Ends


def engine_range(
    run: Run, index: int, engine: EngineSide, n2o: np.ndarray, opening: np.ndarray
) -> EngineRange | None:
    """The range of pass ``index``; n2o (kg/s) and opening over the run's rows.

    The fuel jets do not follow what the N2O does, so that more N2O than thought is leaner. With no
    fuel jets given the fuel follows, and the mixture has no range.
    """
    both = factors_at_ends(run, index)
    rows = flowing_rows(run, index)
    rows = rows[n2o[rows] > 0.0]
    if both is None or not len(rows):
        return None
    time = run.time[rows]
    since = since_pass(run)[rows]
    found = []
    for side in ("low", "high"):
        first, last = (getattr(ends, side) for ends in both)
        factor = np.interp(time, [time[0], max(time[-1], time[0] + 1e-9)], [first, last])
        point = engine_point(engine, n2o[rows] * factor, opening[rows], since)
        mean = np.trapezoid(point.power, time) / (time[-1] - time[0]) if len(rows) > 1 else np.nan
        found.append((np.min(point.equivalence), np.max(point.equivalence), mean))
    (_, richest, least), (leanest, _, most) = found
    flow = Ends(min(f.low for f in both), max(f.high for f in both))
    return EngineRange(
        flow,
        Ends(float(leanest), float(richest)),
        Ends(float(min(least, most)), float(max(least, most))),
    )
