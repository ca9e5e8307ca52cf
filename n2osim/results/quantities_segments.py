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
_of = SEGMENTS.entry


def _ratio(top, bottom, otherwise=np.nan):
    """``top / bottom``, or ``otherwise`` where there is nothing to divide by."""
    there = np.asarray(bottom) > 0.0
    return np.where(there, top / np.where(there, bottom, 1.0), otherwise)


# --- every segment ---------------------------------------------------------------------------
@_of("segment", "time", "begins")
def start_time_s(n):
    """Time at which it began."""
    return n.t0


@_of("segment", "time", "ends")
def end_time_s(n):
    """Time at which it ended."""
    return n.t1


@_of("segment", "time", "lasts")
def duration_s(n):
    """How long it lasted."""
    return n.t1 - n.t0


@_of("segment", "gauge_pressure", "at the start")
def start_pressure_gauge_Pa(n):
    """Pressure at its start (of a pass: at launch)."""
    return n.p0 - n.ambient


@_of("segment", "gauge_pressure", "at the end")
def end_pressure_gauge_Pa(n):
    """Pressure at its end."""
    return n.p1 - n.ambient


@_of("segment", "gauge_pressure", "lowest")
def minimum_pressure_gauge_Pa(n):
    """Lowest pressure in it."""
    return n.pmin - n.ambient


@_of("segment", "gauge_pressure", "peak")
def peak_pressure_gauge_Pa(n):
    """Highest pressure in it, between the rows as well (parabola through three of them)."""
    return n.pmax - n.ambient


@_of("segment", "temperature", "N2O at the start")
def start_temperature_K(n):
    """Temperature of the fluid (of two zones the liquid) at its start."""
    return n.tf0


@_of("segment", "temperature", "N2O at the end")
def end_temperature_K(n):
    """Temperature of the fluid (of two zones the liquid) at its end."""
    return n.tf1


@_of("segment", "mass", "charge before")
def start_mass_kg(n):
    """Charge at its start."""
    return n.m0


@_of("segment", "mass", "charge after")
def end_mass_kg(n):
    """Charge at its end."""
    return n.m1


# --- holds and rests -------------------------------------------------------------------------
@_of("held", "time", "warm-up", NEVER)
def warm_up_time_s(n):
    """From its start until the switch first opened."""
    return n.first_off - n.t0


@_of("held", "fraction", "duty", UNDEFINED)
def duty(n):
    """Share of the time that the heater was on, over whole switching cycles (opening to opening).

    Missing with fewer than one whole cycle: a cycle cut short says nothing about the next.
    """
    return _ratio(n.cycle_on, n.cycle_time)


@_of("held", "count", "switchings")
def switchings(n):
    """Openings and closings of the switch, all of them."""
    return n.switchings


@_of("held", "number", "switchings/h", UNDEFINED)
def switchings_per_hour(n):
    """Openings and closings an hour, over whole switching cycles (missing with fewer than one)."""
    return _ratio(2.0 * n.cycles * 3600.0, n.cycle_time)


@_of("held", "energy", "heater energy")
def energy_J(n):
    """Electrical energy that the heater used."""
    return n.energy


@_of("held", "power", "mean power")
def mean_power_W(n):
    """Electrical energy over its length."""
    return np.where(np.isnan(n.t0), np.nan, _ratio(n.energy, n.t1 - n.t0, 0.0))


@_of("held", "energy", "losses")
def loss_J(n):
    """Net heat from shell and heater to the surroundings."""
    return n.loss


@_of("held flowing", "energy", "heat to N2O")
def heat_to_fluid_J(n):
    """Heat from the shell to the fluid."""
    return n.heat


@_of("held", "gauge_pressure", "peak in band", UNDEFINED)
def peak_after_open_gauge_Pa(n):
    """Highest pressure after the switch first opened."""
    return n.peak_after - n.ambient


@_of("held", "gauge_pressure", "lowest in band", UNDEFINED)
def lowest_after_open_gauge_Pa(n):
    """Lowest pressure after the switch first opened."""
    return n.low_after - n.ambient


@_of("held", "pressure_difference", "overshoot", UNDEFINED)
def overshoot_Pa(n):
    """Highest pressure after the switch first opened, above its opening point."""
    return n.peak_after - n.ambient - n.opens


@_of("held", "pressure_difference", "undershoot", UNDEFINED)
def undershoot_Pa(n):
    """Lowest pressure after the switch first opened, below its closing point."""
    return n.closes - (n.low_after - n.ambient)


@_of("held", "temperature", "hottest wall")
def hottest_wall_K(n):
    """Highest temperature of any wall node."""
    return n.hot_wall


@_of("held", "temperature", "hottest liner")
def hottest_inner_K(n):
    """Highest temperature of the innermost wall nodes (the liner)."""
    return n.hot_inner


@_of("held", "temperature", "hottest heater")
def hottest_heater_K(n):
    """Highest temperature of the heater blanket."""
    return n.hot_heater


@_of("held", "temperature", "hottest N2O")
def hottest_fluid_K(n):
    """Highest temperature of the fluid."""
    return n.hot_fluid


@_of("held", "flag", "extrapolated")
def inside_extrapolated(n):
    """Whether the inside coefficient had no data behind it at some time."""
    return np.where(np.isnan(n.extrap), np.nan, 1.0 * (n.extrap > 0.0))


# --- passes and purges -----------------------------------------------------------------------
@_of("flowing", "pressure_difference", "sag")
def pressure_sag_Pa(n):
    """Pressure at its start less that at its end."""
    return n.p0 - n.p1


@_of("flowing", "mass", "used")
def used_kg(n):
    """N2O that left this bottle, net: negative where the others fill it."""
    return n.used


@_of("flowing", "mass_flow", "flow at the start")
def flow_start_kg_s(n):
    """Flow 1.5 ms after the valve begins to open (0 without flow)."""
    return np.where(np.isnan(n.flow0) & ~np.isnan(n.t0), 0.0, n.flow0)


@_of("flowing", "mass_flow", "mean flow")
def flow_mean_kg_s(n):
    """Used over the time with flow."""
    return n.flowmean


@_of("flowing", "mass_flow", "largest flow")
def flow_max_kg_s(n):
    """Largest flow."""
    return np.where(np.isnan(n.t0), np.nan, np.maximum(n.flowmax, 0.0))


@_of("flowing", "mass_flow", "flow at the end")
def flow_end_kg_s(n):
    """Last flow."""
    return n.flow1


@_of("flowing", "time", "flow lasts")
def flow_time_s(n):
    """Time with more flow than a thousandth of the largest, of all bottles together."""
    return n.flow_time


@_of("flowing", "time", "liquid out", GOOD)
def liquid_out_time_s(n):
    """From its start until the pick-up uncovered."""
    return n.liquid_out - n.t0


@_of("flowing", "temperature", "coldest N2O")
def coldest_fluid_K(n):
    """Lowest temperature of the fluid."""
    return n.cold_fluid


@_of("flowing", "mass", "crossflow")
def crossflow_kg(n):
    """What this bottle took in from the others as pressures levelled out."""
    return n.crossflow


# --- several bottles together: last axis bottles -------------------------------------------------
@_of("together", "mass", "used", name="used_kg")
def _used_together(n):
    """N2O that left through the jets or the vent."""
    return n.used.sum(axis=-1)


@_of("together", "mass_flow", "flow at the start", name="flow_start_kg_s")
def _start_together(n):
    """Flow of all bottles 1.5 ms after it begins (0 without flow)."""
    return flow_start_kg_s(n).sum(axis=-1)


@_of("together", "mass_flow", "mean flow", name="flow_mean_kg_s")
def _mean_together(n):
    """Used by all bottles over the time with flow."""
    return n.flowmean.sum(axis=-1)


@_of("together", "mass_flow", "largest flow", name="flow_max_kg_s")
def _max_together(n):
    """Largest flow of all bottles together."""
    return np.maximum(n.flowmax_all[..., 0], 0.0)


@_of("together", "mass_flow", "flow at the end", name="flow_end_kg_s")
def _end_together(n):
    """Last flow of all bottles."""
    return n.flow1.sum(axis=-1)


@_of("together", "time", "flow lasts", name="flow_time_s")
def _time_together(n):
    """Time with more flow than a thousandth of the largest."""
    return n.flow_time[..., 0]


@_of("together", "mass", "crossflow", name="crossflow_kg")
def _cross_together(n):
    """What bottles took in from each other (already taken off used)."""
    return n.crossflow.sum(axis=-1)


# --- weighings and refills -------------------------------------------------------------------
@_of("weighed", "mass", "scale reads")
def reading_kg(n):
    """Bottle and charge on the scale."""
    return n.m0 + n.empty_mass


@_of("weighed", "mass", "charge")
def charge_kg(n):
    """Charge by weight."""
    return n.m0


@_of("weighed", "mass", "+-")
def uncertainty_kg(n):
    """Tare error and scale tolerance together (0: none were given)."""
    return n.weigh_error


@_of("weighed", "flag", "refill", UNDEFINED)
def refill(n):
    """Whether charge less uncertainty is below the weighing's limit (missing: it has none).

    On the safe side: what the scale hides does not count as charge.
    """
    none = np.isnan(n.refill_below) | np.isnan(n.m0)
    return np.where(none, np.nan, 1.0 * (n.m0 - n.weigh_error < n.refill_below))


@_of("filled", "energy", "pump work")
def pump_work_J(n):
    """Work that the pump put into what it let in (0 without one)."""
    return n.pump


# --- the whole run: last axis segments -------------------------------------------------------
@_of("run", "time", "lasts", name="duration_s")
def _whole_length(n):
    """Length of the run."""
    return np.nanmax(n.t1, axis=-1)


@_of("run", "gauge_pressure", "peak pressure", name="peak_pressure_gauge_Pa")
def _highest(n):
    """Highest pressure of the run."""
    return np.nanmax(n.pmax, axis=-1) - n.ambient[..., 0]


@_of("run", "gauge_pressure", "lowest pressure", name="minimum_pressure_gauge_Pa")
def _lowest(n):
    """Lowest pressure of the run."""
    return np.nanmin(n.pmin, axis=-1) - n.ambient[..., 0]


@_of("run", "temperature", "hottest wall", name="hottest_wall_K")
def _hottest_wall(n):
    """Highest temperature of any wall node in the run."""
    return np.nanmax(n.hot_wall, axis=-1)


@_of("run", "temperature", "hottest liner", name="hottest_inner_K")
def _hottest_inner(n):
    """Highest temperature of the innermost wall nodes in the run."""
    return np.nanmax(n.hot_inner, axis=-1)


@_of("run", "temperature", "hottest heater", name="hottest_heater_K")
def _hottest_heater(n):
    """Highest temperature of the heater blanket in the run."""
    return np.nanmax(n.hot_heater, axis=-1)


@_of("run", "temperature", "hottest N2O", name="hottest_fluid_K")
def _hottest_fluid(n):
    """Highest temperature of the fluid in the run."""
    return np.nanmax(n.hot_fluid, axis=-1)


@_of("run", "temperature", "coldest N2O", name="coldest_fluid_K")
def _coldest_fluid(n):
    """Lowest temperature of the fluid in the run."""
    return np.nanmin(n.cold_fluid, axis=-1)


@_of("run", "mass", "used", name="used_kg")
def _drawn(n):
    """N2O that left the bottle, net of crossflow; what refills let in does not count."""
    return np.nansum(np.where(n.kind == L.REFILL, 0.0, n.used), axis=-1)


@_of("run", "mass", "refilled")
def refilled_kg(n):
    """N2O that refills let in."""
    return -np.nansum(np.where(n.kind == L.REFILL, n.used, 0.0), axis=-1)


@_of("run", "mass", "charge left", name="end_mass_kg")
def _left(n):
    """Charge at the end of the schedule."""
    return n.m1[..., -1]


@_of("run", "energy", "heater energy", name="energy_J")
def _energy(n):
    """Electrical energy that the heater used in the run."""
    return np.nansum(n.energy, axis=-1)


@_of("run", "energy", "losses", name="loss_J")
def _loss(n):
    """Net heat from shell and heater to the surroundings in the run."""
    return np.nansum(n.loss, axis=-1)


@_of("run", "count", "switchings", name="switchings")
def _switchings(n):
    """Openings and closings of the switch in the run."""
    return np.nansum(n.switchings, axis=-1)


@_of("car", "count", "steps")
def steps(n):
    """Accepted steps of the integration."""
    return n.steps[..., 0, 0]


@_of("car", "count", "events")
def events(n):
    """Events of the run."""
    return n.events[..., 0, 0]


__all__ = ["SEGMENTS"]
