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


# --- every segment ---------------------------------------------------------------------------
_add = SEGMENTS.rows("segment")
_add("start_time_s", "begins", "time at which it began", lambda n: n.t0)
_add("end_time_s", "ends", "time at which it ended", lambda n: n.t1)
_add("duration_s", "lasts", "how long it lasted", lambda n: n.t1 - n.t0)
_add("start_pressure_gauge_Pa", "from", "pressure at its start", lambda n: n.p0 - n.ambient)
_add("end_pressure_gauge_Pa", "to", "pressure at its end", lambda n: n.p1 - n.ambient)
_add("minimum_pressure_gauge_Pa", "lowest", "lowest pressure", lambda n: n.pmin - n.ambient)
_add(
    "peak_pressure_gauge_Pa",
    "peak",
    "highest pressure, between the rows as well (parabola through three of them)",
    lambda n: n.pmax - n.ambient,
)
_add("start_temperature_K", "N2O from", "fluid (liquid zone) at its start", lambda n: n.tf0)
_add("end_temperature_K", "N2O to", "fluid (liquid zone) at its end", lambda n: n.tf1)
_add("start_mass_kg", "charge from", "charge at its start", lambda n: n.m0)
_add("end_mass_kg", "charge to", "charge at its end", lambda n: n.m1)

# --- holds and rests -------------------------------------------------------------------------
_add = SEGMENTS.rows("held")
_add(
    "warm_up_time_s",
    "warm-up",
    "from its start until the switch first opened",
    lambda n: n.first_off - n.t0,
    NEVER,
)
_add(
    "duty",
    "duty",
    "share of the time that the heater was on, over whole switching cycles (opening to opening); "
    "missing with fewer than one, since a cycle cut short says nothing about the next",
    lambda n: _ratio(n.cycle_on, n.cycle_time),
    UNDEFINED,
    "fraction",
)
_add(
    "switchings",
    "switchings",
    "openings and closings of the switch, all of them",
    lambda n: n.switchings,
    kind="count",
)
_add(
    "switchings_per_hour",
    "switchings/h",
    "openings and closings an hour over whole switching cycles (missing with fewer than one)",
    lambda n: _ratio(2.0 * n.cycles * 3600.0, n.cycle_time),
    UNDEFINED,
)
_add("energy_J", "energy", "electrical energy that the heater used", lambda n: n.energy)
_add(
    "mean_power_W",
    "mean power",
    "electrical energy over its length",
    lambda n: _if_begun(n, _ratio(n.energy, n.t1 - n.t0, 0.0)),
)
_add("loss_J", "losses", "net heat from shell and heater to the surroundings", lambda n: n.loss)
_add("heat_to_fluid_J", "heat to N2O", "heat from the shell to the fluid", lambda n: n.heat)
_add(
    "peak_after_open_gauge_Pa",
    "peak in band",
    "highest pressure after the switch first opened",
    lambda n: n.peak_after - n.ambient,
    UNDEFINED,
)
_add(
    "lowest_after_open_gauge_Pa",
    "lowest in band",
    "lowest pressure after the switch first opened",
    lambda n: n.low_after - n.ambient,
    UNDEFINED,
)
_add(
    "overshoot_Pa",
    "overshoot",
    "highest pressure after the switch first opened, above its opening point",
    lambda n: n.peak_after - n.ambient - n.opens,
    UNDEFINED,
)
_add(
    "undershoot_Pa",
    "undershoot",
    "lowest pressure after the switch first opened, below its closing point",
    lambda n: n.closes - (n.low_after - n.ambient),
    UNDEFINED,
)
_add("hottest_wall_K", "hottest wall", "hottest wall node", lambda n: n.hot_wall)
_add("hottest_inner_K", "hottest liner", "hottest innermost wall node", lambda n: n.hot_inner)
_add("hottest_heater_K", "heater", "hottest heater blanket", lambda n: n.hot_heater)
_add("hottest_fluid_K", "hottest N2O", "highest temperature of the fluid", lambda n: n.hot_fluid)
_add(
    "inside_extrapolated",
    "extrapolated",
    "whether the inside coefficient had no data behind it at some time",
    lambda n: np.where(np.isnan(n.extrap), np.nan, 1.0 * (n.extrap > 0.0)),
    kind="flag",
)

# --- passes and purges -----------------------------------------------------------------------
_add = SEGMENTS.rows("flowing")
_add("pressure_sag_Pa", "sag", "pressure at its start less at its end", lambda n: n.p0 - n.p1)
_add("used_kg", "used", "N2O that left, net: negative where others fill it", lambda n: n.used)
_add(
    "flow_start_kg_s",
    "flow start",
    "flow 1.5 ms after the valve begins to open (0 without flow)",
    lambda n: np.where(np.isnan(n.flow0) & ~np.isnan(n.t0), 0.0, n.flow0),
)
_add("flow_mean_kg_s", "mean", "used over the time with flow", lambda n: n.flowmean)
_add("flow_max_kg_s", "largest", "largest flow", lambda n: _if_begun(n, np.maximum(n.flowmax, 0.0)))
_add("flow_end_kg_s", "end", "last flow", lambda n: n.flow1)
_add(
    "flow_time_s",
    "flows",
    "time with more flow than a thousandth of the largest, of all bottles together",
    lambda n: n.flow_time,
)
_add(
    "liquid_out_time_s",
    "liquid out",
    "from its start until the pick-up uncovered",
    lambda n: n.liquid_out - n.t0,
    GOOD,
)
_add("coldest_fluid_K", "coldest N2O", "lowest temperature of the fluid", lambda n: n.cold_fluid)
_add("heat_to_fluid_J", "heat to N2O", "heat from the shell to the fluid", lambda n: n.heat)
_add(
    "crossflow_kg",
    "crossflow",
    "what this bottle took in from the others as pressures levelled out",
    lambda n: n.crossflow,
)

# --- several bottles together: last axis bottles -------------------------------------------------
_add = SEGMENTS.rows("together")
_add("used_kg", "used", "N2O that left by jets or vent", lambda n: n.used.sum(axis=-1))
_add(
    "flow_start_kg_s",
    "flow start",
    "flow of all bottles 1.5 ms after it begins (0 without flow)",
    lambda n: np.where(np.isnan(n.flow0) & ~np.isnan(n.t0), 0.0, n.flow0).sum(axis=-1),
)
_add(
    "flow_mean_kg_s",
    "mean",
    "used by all bottles over the time with flow",
    lambda n: n.flowmean.sum(axis=-1),
)
_add(
    "flow_max_kg_s",
    "largest",
    "largest flow of all bottles together",
    lambda n: np.maximum(n.flowmax_all[..., 0], 0.0),
)
_add("flow_end_kg_s", "end", "last flow of all bottles", lambda n: n.flow1.sum(axis=-1))
_add("flow_time_s", "flows", "time with flow", lambda n: n.flow_time[..., 0])
_add(
    "crossflow_kg",
    "crossflow",
    "what bottles took in from each other (already taken off used)",
    lambda n: n.crossflow.sum(axis=-1),
)

# --- weighings and refills -------------------------------------------------------------------
_add = SEGMENTS.rows("weighed")
_add("reading_kg", "scale reads", "bottle and charge on the scale", lambda n: n.m0 + n.empty_mass)
_add("charge_kg", "charge", "charge by weight", lambda n: n.m0)
_add("uncertainty_kg", "+-", "tare error and scale tolerance together", lambda n: n.weigh_error)


def _refill_due(n):
    # On the safe side: what the scale hides does not count as charge.
    none = np.isnan(n.refill_below) | np.isnan(n.m0)
    return np.where(none, np.nan, 1.0 * (n.m0 - n.weigh_error < n.refill_below))


_add(
    "refill",
    "refill",
    "whether charge less uncertainty is below the weighing's limit (missing: it has none)",
    _refill_due,
    UNDEFINED,
    "flag",
)
_add = SEGMENTS.rows("filled")
_add("pump_work_J", "pump work", "work that the pump put into what it let in", lambda n: n.pump)

# --- the whole run: last axis segments -------------------------------------------------------
_add = SEGMENTS.rows("run")
_add("duration_s", "lasts", "length of the run", lambda n: np.nanmax(n.t1, axis=-1))
_add(
    "peak_pressure_gauge_Pa",
    "peak pressure",
    "highest pressure",
    lambda n: np.nanmax(n.pmax, axis=-1) - n.ambient[..., 0],
)
_add(
    "minimum_pressure_gauge_Pa",
    "lowest pressure",
    "lowest pressure",
    lambda n: np.nanmin(n.pmin, axis=-1) - n.ambient[..., 0],
)
_add("hottest_wall_K", "hottest wall", "hottest node", lambda n: np.nanmax(n.hot_wall, axis=-1))
_add(
    "hottest_inner_K",
    "hottest liner",
    "hottest innermost wall node",
    lambda n: np.nanmax(n.hot_inner, axis=-1),
)
_add("hottest_heater_K", "heater", "hottest blanket", lambda n: np.nanmax(n.hot_heater, axis=-1))
_add("hottest_fluid_K", "hottest N2O", "hottest fluid", lambda n: np.nanmax(n.hot_fluid, axis=-1))
_add("coldest_fluid_K", "coldest N2O", "coldest fluid", lambda n: np.nanmin(n.cold_fluid, axis=-1))
_add(
    "used_kg",
    "used",
    "N2O that left the bottle, net of crossflow; what refills let in does not count",
    lambda n: np.nansum(np.where(n.kind == L.REFILL, 0.0, n.used), axis=-1),
)
_add(
    "refilled_kg",
    "refilled",
    "N2O that refills let in",
    lambda n: -np.nansum(np.where(n.kind == L.REFILL, n.used, 0.0), axis=-1),
)
_add("end_mass_kg", "charge left", "charge at the end of the schedule", lambda n: n.m1[..., -1])
_add("energy_J", "energy", "electrical energy used", lambda n: np.nansum(n.energy, axis=-1))
_add("loss_J", "losses", "net heat to the surroundings", lambda n: np.nansum(n.loss, axis=-1))
_add(
    "switchings",
    "switchings",
    "openings and closings of the switch",
    lambda n: np.nansum(n.switchings, axis=-1),
    kind="count",
)

# --- the whole run, several bottles together: last axes segments and bottles ----------------------
_add = SEGMENTS.rows("run together")
_add(
    "used_kg",
    "used",
    "N2O that left the bottles; what refills let in does not count",
    lambda n: np.nansum(np.where(n.kind == L.REFILL, 0.0, n.used), axis=(-2, -1)),
)
_add("end_mass_kg", "charge left", "charge at the end", lambda n: n.m1[..., -1, :].sum(axis=-1))
_add("energy_J", "energy", "electrical energy used", lambda n: np.nansum(n.energy, axis=(-2, -1)))
_add("loss_J", "losses", "net heat to the surroundings", lambda n: np.nansum(n.loss, axis=(-2, -1)))
_add = SEGMENTS.rows("car")
_add("steps", "steps", "accepted steps", lambda n: n.steps[..., 0, 0], kind="count")
_add("events", "events", "events of the run", lambda n: n.events[..., 0, 0], kind="count")

__all__ = ["SEGMENTS"]
