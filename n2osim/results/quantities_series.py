"""Quantities over time: every array of a run.

A formula takes :class:`Rows` and gives the array; its last axis is time unless it has none.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.pack import Packed
from n2osim.engine.recorder import ROW_HEAD
from n2osim.results.quantity import Formula, Quantity

Array = np.ndarray


class Rows:
    """A run's rows by what is in them. Arrays have the bottle first and time last."""

    def __init__(self, packed: Packed, rows: Array) -> None:
        self.packed = packed
        self.r = rows.T
        nb, ny = packed.n_bottles, packed.ny
        after = ROW_HEAD + nb * packed.width
        self.state = self.r[ROW_HEAD:after].reshape(nb, packed.width, -1)
        totals = self.r[after + 1 : after + 1 + nb * L.N_TOTALS]
        self.totals = totals.reshape(nb, L.N_TOTALS, -1)
        first, modes = ROW_HEAD + ny, ROW_HEAD + ny + nb * L.N_OUT
        self.out = self.r[first:modes].reshape(nb, L.N_OUT, -1)
        self.modes = self.r[modes : modes + nb * L.N_MODES].reshape(nb, L.N_MODES, -1)
        self.lane = self.r[modes + nb * L.N_MODES :]

    @property
    def nodes(self) -> Array:
        """Wall temperatures (bottle, part, node, time)."""
        nodes = self.state[:, L.NODE0 :].reshape(len(self.state), self.packed.nodes, 2, -1)
        return np.ascontiguousarray(nodes.transpose(0, 2, 1, 3))

    @property
    def air(self) -> Array:
        """Temperature of the air (time)."""
        if self.packed.plant.lane["air_node"][0] == 1:
            return np.asarray(self.r[ROW_HEAD + self.packed.n_bottles * self.packed.width])
        s = self.packed.scenario
        return np.asarray(s.ambient.temperature_at(s.clock_start + self.r[0]), dtype=float)


SERIES: list[Quantity] = []


def _add(dims: str) -> Callable[..., None]:
    axes = tuple(dims.split())

    def add(name: str, formula: Formula, kind: str, label: str, sentence: str) -> None:
        SERIES.append(Quantity(name, ("series",), formula, kind, label, sentence, dims=axes))

    return add


def _report(*columns: int) -> Callable[[Rows], Array]:
    return lambda r: r.out[:, columns[0] if len(columns) == 1 else list(columns)]


def _total(column: int) -> Callable[[Rows], Array]:
    return lambda r: r.totals[:, column]


def _mode(column: int) -> Callable[[Rows], Array]:
    return lambda r: r.modes[:, column] > 0.5


def _capacity(r: Rows) -> Array:
    bottles: Any = r.packed.plant.bottles
    return np.array([b["heater_capacity"] if b["has_heater"] else 0.0 for b in bottles])


_t, _b = _add("time"), _add("bottle time")
_zone, _part = _add("bottle zone time"), _add("bottle part time")

_t("time_s", lambda r: np.ascontiguousarray(r.r[0]), "time", "time", "time since the start")
_t("segment", lambda r: r.r[1].astype(int), "count", "segment", "index into the schedule")
_b("mass_kg", lambda r: r.state[:, L.M1] + r.state[:, L.M2], "mass", "charge", "N2O in the bottle")
_zone(
    "zone_mass_kg",
    lambda r: r.state[:, [L.M1, L.M2]],
    "mass",
    "mass by zone",
    "mass of the liquid (or only) zone and of the vapour zone",
)
_zone(
    "zone_internal_energy_J",
    lambda r: r.state[:, [L.U1, L.U2]],
    "energy",
    "energy by zone",
    "internal energy (reference state of CoolProp)",
)
_zone(
    "fluid_temperature_K",
    _report(L.O_T, L.O_TV),
    "temperature",
    "N2O temperature",
    "temperature of the liquid (or only) zone and of the vapour zone",
)
_t("air_temperature_K", lambda r: r.air, "temperature", "air", "air around the bottles")
_b("pressure_Pa", _report(L.O_P), "pressure", "pressure", "absolute pressure of the fluid")
_b(
    "quality",
    _report(L.O_X),
    "number",
    "quality",
    "vapour mass fraction (0 liquid, 1 vapour, -1 supercritical)",
)
_b(
    "phase",
    _report(L.O_PHASE),
    "count",
    "phase",
    "0 liquid, 1 two-phase, 2 vapour, 3 supercritical",
)
_b(
    "liquid_fraction",
    _report(L.O_LEVEL),
    "number",
    "liquid level",
    "volume fraction of liquid (1 in dense single phase)",
)
_b(
    "phase_boundary_K",
    _report(L.O_TSAT),
    "temperature",
    "phase boundary",
    "temperature below which this charge has two phases",
)
_b("outflow_kg_s", _report(L.O_MDOT), "mass_flow", "outflow", "mass flow out of the bottle")
_b(
    "outflow_liquid_kg_s",
    _report(L.O_MDOT_L),
    "mass_flow",
    "liquid outflow",
    "part of it drawn below the liquid surface",
)
_b(
    "relief_flow_kg_s",
    _report(L.O_RELIEF),
    "mass_flow",
    "relief flow",
    "part of it through an opened relief device",
)
_b(
    "valve_open",
    _report(L.O_OPEN),
    "number",
    "valve open",
    "share of the time that the valves of pass or purge are open",
)
_b(
    "manifold_pressure_Pa",
    _report(L.O_P_MANIFOLD),
    "pressure",
    "manifold pressure",
    "pressure of the shared manifold (0: none)",
)
_b("outflow_enthalpy_W", _report(L.O_HOUT), "power", "enthalpy outflow", "enthalpy flow with it")
_b(
    "throat_pressure_Pa",
    _report(L.O_P_THROAT),
    "pressure",
    "throat pressure",
    "pressure in the choked throat (0: not choked, or flow from a map)",
)
_b(
    "flow_model_valid",
    _report(L.O_FLOW_VALID),
    "flag",
    "flow model valid",
    "1 inside the flow model's own range",
)
_b(
    "pickup_covered",
    _report(L.O_DRAW),
    "number",
    "pick-up covered",
    "share of the pick-up's mouth under liquid",
)
_b("heater_power_W", _report(L.O_POWER), "power", "heater", "electrical power of the heater")
_b("loss_W", _report(L.O_LOSS), "power", "loss", "heat from shell and heater to the air")
_b(
    "inside_extrapolated",
    _report(L.O_EXTRAP),
    "flag",
    "extrapolated",
    "1 where the inside coefficient has no data behind it",
)
_b(
    "sensed_gauge_Pa",
    _report(L.O_GAUGE),
    "gauge_pressure",
    "sensed pressure",
    "pressure at the switch's sensor, before lag",
)
_b(
    "pressure_gauge_Pa",
    lambda r: r.out[:, L.O_P] - r.packed.p_ambient,
    "gauge_pressure",
    "pressure",
    "gauge pressure of the fluid",
)
_add("bottle part node time")(
    "wall_temperature_K",
    lambda r: r.nodes,
    "temperature",
    "wall temperature",
    "wall nodes from inside to outside; part 0 under the heater, part 1 bare",
)
_b(
    "hottest_wall_K",
    lambda r: r.state[:, L.NODE0 :].max(axis=1),
    "temperature",
    "hottest wall",
    "hottest wall node",
)
_b(
    "heater_temperature_K",
    lambda r: r.state[:, L.HEATER],
    "temperature",
    "heater temperature",
    "heater blanket",
)
_part(
    "heat_to_fluid_W",
    _report(L.O_QC, L.O_QB),
    "power",
    "heat to N2O",
    "heat from shell to fluid by part",
)
_part(
    "inside_coefficient_W_m2K",
    _report(L.O_HC, L.O_HB),
    "heat_transfer_coefficient",
    "inside coefficient",
    "inside heat-transfer coefficient by part",
)
_add("bottle part node")(
    "wall_heat_capacity_J_K",
    lambda r: r.packed.plant.wall[:, :2, :].copy(),
    "heat_capacity",
    "heat capacity of the wall",
    "heat capacity of each wall node",
)
_add("bottle")(
    "heater_heat_capacity_J_K",
    _capacity,
    "heat_capacity",
    "heat capacity of the heater",
    "heat capacity of the heater blanket",
)
_b(
    "heater_energy_J",
    _total(L.E_HEATER),
    "energy",
    "heater energy",
    "electrical energy used so far",
)
_b(
    "heat_to_fluid_J",
    _total(L.Q_FLUID),
    "energy",
    "heat to N2O so far",
    "heat from shell to fluid so far",
)
_b(
    "heat_loss_J",
    _total(L.Q_LOSS),
    "energy",
    "losses so far",
    "net heat from shell and heater to the surroundings so far",
)
_b("mass_out_kg", _total(L.M_OUT), "mass", "mass out", "mass drawn so far (refills count negative)")
_b(
    "enthalpy_out_J",
    _total(L.H_OUT),
    "energy",
    "enthalpy out",
    "enthalpy carried out so far (refills, pump work: negative)",
)
_b(
    "pump_work_J",
    _total(L.W_PUMP),
    "energy",
    "pump work",
    "work of refill pumps on what they let in so far",
)
_b(
    "switch_closed",
    _mode(L.SW_ON),
    "flag",
    "switch closed",
    "pressure switch closed (asks for heat)",
)
_b(
    "cut_out_open",
    _mode(L.CUT_OPEN),
    "flag",
    "cut-out open",
    "surface cut-out has interrupted the heater",
)
_b("liquid_out", _mode(L.LIQUID_OUT), "flag", "liquid out", "pick-up uncovered")
_b("relief_open", _mode(L.BURST), "flag", "relief open", "relief device has opened")
_t(
    "flow_commanded",
    lambda r: r.lane[L.L_FLOWING] > 0.5,
    "flag",
    "flow asked for",
    "the schedule asks for flow",
)
_t(
    "flow_inhibited",
    lambda r: r.lane[L.L_WINDOW_SHUT] > 0.5,
    "flag",
    "flow inhibited",
    "the arming window holds the valve shut",
)

__all__ = ["SERIES", "Rows"]
