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
from n2osim.results.quantity import Table

Array = np.ndarray


def has_left(packed: Packed, rows: Array) -> Array:
    """Where each bottle has left the equation of state and is frozen out, bool (bottle, row)."""
    first = ROW_HEAD + packed.ny + packed.n_bottles * L.N_OUT + L.FROZEN
    return rows[:, first : first + packed.n_bottles * L.N_MODES : L.N_MODES].T > 0.0


_STILL_KNOWN = (L.O_MDOT, L.O_MDOT_L, L.O_HOUT, L.O_RELIEF, L.O_POWER, L.O_OPEN, L.O_P_MANIFOLD)


def without_left(packed: Packed, rows: Array) -> Array:
    """Rows without the state of bottles that have left; their flows (none) and totals stay."""
    left = has_left(packed, rows)
    if not left.any():
        return rows
    rows = rows.copy()
    for i, gone in enumerate(left):
        state = ROW_HEAD + i * packed.width
        rows[gone, state : state + packed.width] = np.nan
        report = ROW_HEAD + packed.ny + i * L.N_OUT
        for k in range(L.N_OUT):
            if k not in _STILL_KNOWN:
                rows[gone, report + k] = np.nan
    return rows


class Rows:
    """A run's rows by what is in them. Arrays have the bottle first and time last.

    NaN for a bottle that has left the equation of state, from there on.
    """

    def __init__(self, packed: Packed, rows: Array) -> None:
        self.packed = packed
        self.r = without_left(packed, rows).T
        nb, ny = packed.n_bottles, packed.ny
        after = ROW_HEAD + nb * packed.width
        self.state = self.r[ROW_HEAD:after].reshape(nb, packed.width, -1)
        totals = self.r[after + 1 : after + 1 + nb * L.N_TOTALS]
        self.totals = totals.reshape(nb, L.N_TOTALS, -1)
        first, modes = ROW_HEAD + ny, ROW_HEAD + ny + nb * L.N_OUT
        self.out = self.r[first:modes].reshape(nb, L.N_OUT, -1)
        self.modes = self.r[modes : modes + nb * L.N_MODES].reshape(nb, L.N_MODES, -1)
        self.whole = self.r[modes + nb * L.N_MODES :]

    @property
    def nodes(self) -> Array:
        """Wall temperatures (bottle, part, node, time)."""
        nodes = self.state[:, L.NODE0 :].reshape(len(self.state), self.packed.nodes, 2, -1)
        return np.ascontiguousarray(nodes.transpose(0, 2, 1, 3))

    @property
    def air(self) -> Array:
        """Temperature of the air (time)."""
        if self.packed.setup.whole["air_node"][0] == 1:
            return np.asarray(self.r[ROW_HEAD + self.packed.n_bottles * self.packed.width])
        s = self.packed.scenario
        return np.asarray(s.ambient.temperature_at(s.clock_start + self.r[0]), dtype=float)


SERIES = Table()


def _report(*columns: int) -> Callable[[Rows], Array]:
    return lambda r: r.out[:, columns[0] if len(columns) == 1 else list(columns)]


def _total(column: int) -> Callable[[Rows], Array]:
    return lambda r: r.totals[:, column]


def _mode(column: int) -> Callable[[Rows], Array]:
    return lambda r: r.modes[:, column] > 0.5


def _capacity(r: Rows) -> Array:
    bottles: Any = r.packed.setup.bottles
    return np.array([b["heater_capacity"] if b["has_heater"] else 0.0 for b in bottles])


_t, _b = SERIES.rows("series", "time"), SERIES.rows("series", "bottle time")
_zone, _part = SERIES.rows("series", "bottle zone time"), SERIES.rows("series", "bottle part time")

_t("time_s", "time since the start", lambda r: np.ascontiguousarray(r.r[0]))
_t("segment", "index into the schedule", lambda r: r.r[1].astype(int), kind="count")
_b("mass_kg", "N2O in the bottle", lambda r: r.state[:, L.M1] + r.state[:, L.M2], label="charge")
_zone(
    "zone_mass_kg",
    "mass of the liquid (or only) zone and of the vapour zone",
    lambda r: r.state[:, [L.M1, L.M2]],
)
_zone(
    "zone_internal_energy_J",
    "internal energy (reference state of CoolProp)",
    lambda r: r.state[:, [L.U1, L.U2]],
)
_zone(
    "fluid_temperature_K",
    "temperature of the liquid (or only) zone and of the vapour zone",
    _report(L.O_T, L.O_TV),
)
_t("air_temperature_K", "air around the bottles", lambda r: r.air, label="air")
_b("pressure_Pa", "absolute pressure of the fluid", _report(L.O_P))
_b("quality", "vapour mass fraction (0 liquid, 1 vapour, -1 supercritical)", _report(L.O_X))
_b("phase", "0 liquid, 1 two-phase, 2 vapour, 3 supercritical", _report(L.O_PHASE), kind="count")
_b("liquid_fraction", "volume fraction of liquid (1 in dense single phase)", _report(L.O_LEVEL))
_b("phase_boundary_K", "temperature below which this charge has two phases", _report(L.O_TSAT))
_b("outflow_kg_s", "mass flow out of the bottle", _report(L.O_MDOT))
_b("outflow_liquid_kg_s", "part of it drawn below the liquid surface", _report(L.O_MDOT_L))
_b("relief_flow_kg_s", "part of it through an opened relief device", _report(L.O_RELIEF))
_b("valve_open", "share of the time that the valves of pass or purge are open", _report(L.O_OPEN))
_b("manifold_pressure_Pa", "pressure of the shared manifold (0: none)", _report(L.O_P_MANIFOLD))
_b("outflow_enthalpy_W", "enthalpy flow with it", _report(L.O_HOUT))
_b(
    "throat_pressure_Pa",
    "pressure in the choked throat (0: not choked, or flow from a map)",
    _report(L.O_P_THROAT),
)
_b("flow_model_valid", "1 inside the flow model's own range", _report(L.O_FLOW_VALID), kind="flag")
_b("pickup_covered", "share of the pick-up's mouth under liquid", _report(L.O_DRAW))
_b("heater_power_W", "electrical power of the heater", _report(L.O_POWER))
_b("loss_W", "heat from shell and heater to the air", _report(L.O_LOSS))
_b(
    "inside_extrapolated",
    "1 where the inside coefficient has no data behind it",
    _report(L.O_EXTRAP),
    kind="flag",
)
_b("sensed_gauge_Pa", "pressure at the switch's sensor, before lag", _report(L.O_GAUGE))
_b(
    "pressure_gauge_Pa",
    "gauge pressure of the fluid",
    lambda r: r.out[:, L.O_P] - r.packed.p_ambient,
)
SERIES.rows("series", "bottle part node time")(
    "wall_temperature_K",
    "wall nodes from inside to outside; part 0 under the heater, part 1 bare",
    lambda r: r.nodes,
)
_b("hottest_wall_K", "hottest wall node", lambda r: r.state[:, L.NODE0 :].max(axis=1))
_b("heater_temperature_K", "heater blanket", lambda r: r.state[:, L.HEATER])
_part("heat_to_fluid_W", "heat from shell to fluid by part", _report(L.O_QC, L.O_QB))
_part(
    "inside_coefficient_W_m2K", "inside heat-transfer coefficient by part", _report(L.O_HC, L.O_HB)
)
SERIES.rows("series", "bottle part node")(
    "wall_heat_capacity_J_K",
    "heat capacity of each wall node",
    lambda r: r.packed.setup.wall[:, :2, :].copy(),
)
SERIES.rows("series", "bottle")(
    "heater_heat_capacity_J_K", "heat capacity of the heater blanket", _capacity
)
_b("heater_energy_J", "electrical energy used so far", _total(L.E_HEATER))
_b("heat_to_fluid_J", "heat from shell to fluid so far", _total(L.Q_FLUID))
_b("heat_loss_J", "net heat from shell and heater to the surroundings so far", _total(L.Q_LOSS))
_b("mass_out_kg", "mass drawn so far (refills count negative)", _total(L.M_OUT))
_b("enthalpy_out_J", "enthalpy carried out so far (refills, pump work: negative)", _total(L.H_OUT))
_b("pump_work_J", "work of refill pumps on what they let in so far", _total(L.W_PUMP))
_b("switch_closed", "pressure switch closed (asks for heat)", _mode(L.SW_ON), kind="flag")
_b("cut_out_open", "surface cut-out has interrupted the heater", _mode(L.CUT_OPEN), kind="flag")
_b("liquid_out", "pick-up uncovered", _mode(L.LIQUID_OUT), kind="flag")
_b("relief_open", "relief device has opened", _mode(L.BURST), kind="flag")
_t(
    "flow_commanded",
    "the schedule asks for flow",
    lambda r: r.whole[L.L_FLOWING] > 0.5,
    kind="flag",
)
_t(
    "flow_inhibited",
    "the arming window holds the valve shut",
    lambda r: r.whole[L.L_WINDOW_SHUT] > 0.5,
    kind="flag",
)
