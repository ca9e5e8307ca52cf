"""Quantities of segments, of whole runs, and of several bottles together.

A formula takes :class:`~n2osim.results.numbers.Numbers` whose fields are arrays over members. For a
segment of a bottle that is all; for a whole run the last axis are the segments, for several bottles
together the last axis are the bottles.
"""

from __future__ import annotations

import numpy as np

from n2osim.engine import layout as L
from n2osim.results.quantity import GOOD, NEVER, UNDEFINED, Table

SEGMENTS = Table()


def _ratio(top, bottom, otherwise=np.nan):
    """``top / bottom``, or ``otherwise`` where there is nothing to divide by."""
    there = np.asarray(bottom) > 0.0
    return np.where(there, top / np.where(there, bottom, 1.0), otherwise)


def _if_begun(n, values):
    """``values`` where the segment was carried out at all."""
    return np.where(np.isnan(n.t0), np.nan, values)


def _total(values):
    """Sum over segments (last axis); missing for a bottle without a state in any of them."""
    return np.where(np.isnan(values).all(axis=-1), np.nan, np.nansum(values, axis=-1))


def _together(values):
    """Sum over segments and bottles (last axes); missing where one bottle's total is."""
    unknown = np.isnan(values).all(axis=-2).any(axis=-1)
    return np.where(unknown, np.nan, np.nansum(values, axis=(-2, -1)))


def _over_run(reduce):
    """Maker of formulas of a whole run that take all segments of a field together.

    All pass over segments without a state and are missing, without a warning, where none has one:
    a bottle that left the equation of state in its first segment.
    """
    return lambda field: lambda n: reduce(getattr(n, field))


_max = _over_run(lambda values: np.fmax.reduce(values, axis=-1))
_min = _over_run(lambda values: np.fmin.reduce(values, axis=-1))
_sum = _over_run(_total)


# --- every segment ---------------------------------------------------------------------------
_add = SEGMENTS.rows("segment")
_add("start_time_s", "time at which it began", lambda n: n.t0)
_add("end_time_s", "time at which it ended", lambda n: n.t1)
_add("duration_s", "how long it lasted", lambda n: n.t1 - n.t0)
_add("start_pressure_gauge_Pa", "pressure at its start", lambda n: n.p0 - n.ambient)
_add("end_pressure_gauge_Pa", "pressure at its end", lambda n: n.p1 - n.ambient)
_add("minimum_pressure_gauge_Pa", "lowest pressure", lambda n: n.pmin - n.ambient)
_add(
    "peak_pressure_gauge_Pa",
    "highest pressure, between the rows as well (parabola through three of them)",
    lambda n: n.pmax - n.ambient,
)
_add("start_temperature_K", "fluid (liquid zone) at its start", lambda n: n.tf0)
_add("end_temperature_K", "fluid (liquid zone) at its end", lambda n: n.tf1)
_add("start_mass_kg", "charge at its start", lambda n: n.m0)
_add("end_mass_kg", "charge at its end", lambda n: n.m1)

# --- holds and rests -------------------------------------------------------------------------
_add = SEGMENTS.rows("held")
_add(
    "warm_up_time_s",
    "from its start until the switch first opened",
    lambda n: n.first_off - n.t0,
    NEVER,
    label="warm-up",
)
_add(
    "duty",
    "share of the time that the heater was on, over whole switching cycles (opening to opening); "
    "missing with fewer than one, since a cycle cut short says nothing about the next",
    lambda n: _ratio(n.cycle_on, n.cycle_time),
    UNDEFINED,
    kind="fraction",
)
_add(
    "switchings",
    "openings and closings of the switch, all of them",
    lambda n: n.switchings,
    kind="count",
)
_add(
    "switchings_per_hour",
    "openings and closings an hour over whole switching cycles (missing with fewer than one)",
    lambda n: _ratio(2.0 * n.cycles * 3600.0, n.cycle_time),
    UNDEFINED,
    label="switchings/h",
)
_add("energy_J", "electrical energy that the heater used", lambda n: n.energy)
_add(
    "mean_power_W",
    "electrical energy over its length",
    lambda n: _if_begun(n, _ratio(n.energy, n.t1 - n.t0, 0.0)),
)
_add("loss_J", "net heat from shell and heater to the surroundings", lambda n: n.loss)
_add("heat_to_fluid_J", "heat from the shell to the fluid", lambda n: n.heat)
_add(
    "peak_after_open_gauge_Pa",
    "highest pressure after the switch first opened",
    lambda n: n.peak_after - n.ambient,
    UNDEFINED,
    label="peak in band",
)
_add(
    "lowest_after_open_gauge_Pa",
    "lowest pressure after the switch first opened",
    lambda n: n.low_after - n.ambient,
    UNDEFINED,
    label="lowest in band",
)
_add(
    "overshoot_Pa",
    "highest pressure after the switch first opened, above its opening point",
    lambda n: n.peak_after - n.ambient - n.opens,
    UNDEFINED,
)
_add(
    "undershoot_Pa",
    "lowest pressure after the switch first opened, below its closing point",
    lambda n: n.closes - (n.low_after - n.ambient),
    UNDEFINED,
)
_add("hottest_wall_K", "hottest wall node", lambda n: n.hot_wall)
_add("hottest_inner_K", "hottest innermost wall node", lambda n: n.hot_inner)
_add("hottest_heater_K", "hottest heater blanket", lambda n: n.hot_heater)
_add("hottest_fluid_K", "highest temperature of the fluid", lambda n: n.hot_fluid)
_add(
    "inside_extrapolated",
    "whether the inside coefficient had no data behind it at some time",
    lambda n: np.where(np.isnan(n.extrap), np.nan, 1.0 * (n.extrap > 0.0)),
    kind="flag",
)

# --- passes and purges -----------------------------------------------------------------------
_add = SEGMENTS.rows("flowing")
_add("pressure_sag_Pa", "pressure at its start less at its end", lambda n: n.p0 - n.p1, label="sag")
_add("used_kg", "N2O that left, net: negative where others fill it", lambda n: n.used)
_add(
    "flow_start_kg_s",
    "flow 1.5 ms after the valve begins to open (0 without flow)",
    lambda n: np.where(np.isnan(n.flow0) & ~np.isnan(n.t0), 0.0, n.flow0),
)
_add("flow_mean_kg_s", "used over the time with flow", lambda n: n.flowmean)
_add("flow_max_kg_s", "largest flow", lambda n: _if_begun(n, np.maximum(n.flowmax, 0.0)))
_add("flow_end_kg_s", "last flow", lambda n: n.flow1)
_add(
    "flow_time_s",
    "time with more flow than a thousandth of the largest, of all bottles together",
    lambda n: n.flow_time,
)
_add(
    "liquid_out_time_s",
    "from its start until the pick-up uncovered",
    lambda n: n.liquid_out - n.t0,
    GOOD,
    label="liquid out",
)
_add("coldest_fluid_K", "lowest temperature of the fluid", lambda n: n.cold_fluid)
_add("heat_to_fluid_J", "heat from the shell to the fluid", lambda n: n.heat)
_add(
    "crossflow_kg",
    "what this bottle took in from the others as pressures levelled out",
    lambda n: n.crossflow,
)

# --- several bottles together: last axis bottles -------------------------------------------------
_add = SEGMENTS.rows("together")
_add("used_kg", "N2O that left by jets or vent", lambda n: n.used.sum(axis=-1))
_add(
    "flow_start_kg_s",
    "flow of all bottles 1.5 ms after it begins (0 without flow)",
    lambda n: np.where(np.isnan(n.flow0) & ~np.isnan(n.t0), 0.0, n.flow0).sum(axis=-1),
)
_add(
    "flow_mean_kg_s",
    "used by all bottles over the time with flow",
    lambda n: n.flowmean.sum(axis=-1),
)
_add(
    "flow_max_kg_s",
    "largest flow of all bottles together",
    lambda n: np.maximum(n.flowmax_all[..., 0], 0.0),
)
_add("flow_end_kg_s", "last flow of all bottles", lambda n: n.flow1.sum(axis=-1))
_add("flow_time_s", "time with flow", lambda n: n.flow_time[..., 0])
_add(
    "crossflow_kg",
    "what bottles took in from each other (already taken off used)",
    lambda n: n.crossflow.sum(axis=-1),
)

# --- weighings and refills -------------------------------------------------------------------
_add = SEGMENTS.rows("weighed")
_add("reading_kg", "bottle and charge on the scale", lambda n: n.m0 + n.empty_mass)
_add("charge_kg", "charge by weight", lambda n: n.m0)
_add(
    "uncertainty_kg", "tare error and scale tolerance together", lambda n: n.weigh_error, label="+-"
)


def _refill_due(n):
    # On the safe side: what the scale hides does not count as charge.
    none = np.isnan(n.refill_below) | np.isnan(n.m0)
    return np.where(none, np.nan, 1.0 * (n.m0 - n.weigh_error < n.refill_below))


_add(
    "refill",
    "whether charge less uncertainty is below the weighing's limit (missing: it has none)",
    _refill_due,
    UNDEFINED,
    kind="flag",
)
_add = SEGMENTS.rows("filled")
_add("pump_work_J", "work that the pump put into what it let in", lambda n: n.pump)

# --- the whole run: last axis segments -------------------------------------------------------
_add = SEGMENTS.rows("run")
_add("duration_s", "length of the run", _max("t1"))
_add("peak_pressure_gauge_Pa", "highest pressure", lambda n: _max("pmax")(n) - n.ambient[..., 0])
_add("minimum_pressure_gauge_Pa", "lowest pressure", lambda n: _min("pmin")(n) - n.ambient[..., 0])
_add("hottest_wall_K", "hottest node", _max("hot_wall"))
_add("hottest_inner_K", "hottest innermost wall node", _max("hot_inner"))
_add("hottest_heater_K", "hottest blanket", _max("hot_heater"))
_add("hottest_fluid_K", "hottest fluid", _max("hot_fluid"))
_add("coldest_fluid_K", "coldest fluid", _min("cold_fluid"))
_add(
    "used_kg",
    "N2O that left the bottle, net of crossflow; what refills let in does not count",
    lambda n: _total(np.where(n.kind == L.REFILL, 0.0, n.used)),
)
_add(
    "refilled_kg",
    "N2O that refills let in",
    lambda n: 0.0 - _total(np.where(n.kind == L.REFILL, n.used, 0.0 * n.used)),  # never -0
)
_add("end_mass_kg", "charge at the end of the schedule", lambda n: n.m1[..., -1])
_add("energy_J", "electrical energy used", _sum("energy"))
_add("loss_J", "net heat to the surroundings", _sum("loss"))
_add("switchings", "openings and closings of the switch", _sum("switchings"), kind="count")

# --- the whole run, several bottles together: last axes segments and bottles ----------------------
_add = SEGMENTS.rows("run together")
_add(
    "used_kg",
    "N2O that left the bottles; what refills let in does not count",
    lambda n: _together(np.where(n.kind == L.REFILL, 0.0, n.used)),
)
_add("end_mass_kg", "charge at the end", lambda n: n.m1[..., -1, :].sum(axis=-1))
_add("energy_J", "electrical energy used", lambda n: _together(n.energy))
_add("loss_J", "net heat to the surroundings", lambda n: _together(n.loss))
_add = SEGMENTS.rows("car")
_add("steps", "accepted steps", lambda n: n.steps[..., 0, 0], kind="count")
_add("events", "events of the run", lambda n: n.events[..., 0, 0], kind="count")
