"""From the kernel's rows to arrays with names, units and labelled axes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.pack import Packed
from n2osim.engine.recorder import ROW_HEAD


@dataclass(frozen=True)
class Variable:
    """A labelled array: values, unit, names of its axes, and what it is in words."""

    values: np.ndarray
    unit: str
    dims: tuple[str, ...]
    description: str


# name -> (report column, unit, description) for arrays (bottle, time)
_REPORT = {
    "pressure_Pa": (L.O_P, "Pa", "absolute pressure of the fluid"),
    "quality": (L.O_X, "1", "vapour mass fraction (0 liquid, 1 vapour, -1 supercritical)"),
    "phase": (L.O_PHASE, "", "0 liquid, 1 two-phase, 2 vapour, 3 supercritical"),
    "liquid_fraction": (L.O_LEVEL, "1", "volume fraction of liquid (1 in dense single phase)"),
    "phase_boundary_K": (L.O_TSAT, "K", "temperature below which this charge has two phases"),
    "outflow_kg_s": (L.O_MDOT, "kg/s", "mass flow out of the bottle"),
    "outflow_liquid_kg_s": (L.O_MDOT_L, "kg/s", "part of it drawn below the liquid surface"),
    "relief_flow_kg_s": (L.O_RELIEF, "kg/s", "part of it through an opened relief device"),
    "valve_open": (L.O_OPEN, "1", "share of the time that the valves of pass or purge are open"),
    "manifold_pressure_Pa": (L.O_P_MANIFOLD, "Pa", "pressure of the shared manifold (0: none)"),
    "outflow_enthalpy_W": (L.O_HOUT, "W", "enthalpy flow with it"),
    "throat_pressure_Pa": (
        L.O_P_THROAT,
        "Pa",
        "pressure in the choked throat (0: not choked, or flow from a map)",
    ),
    "flow_model_valid": (L.O_FLOW_VALID, "", "1 inside the flow model's own range"),
    "pickup_covered": (L.O_DRAW, "1", "share of the pick-up's mouth under liquid"),
    "heater_power_W": (L.O_POWER, "W", "electrical power of the heater"),
    "loss_W": (L.O_LOSS, "W", "heat from shell and heater to the air"),
    "inside_extrapolated": (L.O_EXTRAP, "", "1 where the inside coefficient has no data behind it"),
    "sensed_gauge_Pa": (L.O_GAUGE, "Pa gauge", "pressure at the switch's sensor, before lag"),
}
_TOTALS = {
    "heater_energy_J": (L.E_HEATER, "J", "electrical energy used so far"),
    "heat_to_fluid_J": (L.Q_FLUID, "J", "heat from shell to fluid so far"),
    "heat_loss_J": (L.Q_LOSS, "J", "net heat from shell and heater to the surroundings so far"),
    "mass_out_kg": (L.M_OUT, "kg", "mass drawn so far (refills count negative)"),
    "enthalpy_out_J": (L.H_OUT, "J", "enthalpy carried out so far (refills, pump work: negative)"),
    "pump_work_J": (L.W_PUMP, "J", "work of refill pumps on what they let in so far"),
}
_MODES = {
    "switch_closed": (L.SW_ON, "pressure switch closed (asks for heat)"),
    "cut_out_open": (L.CUT_OPEN, "surface cut-out has interrupted the heater"),
    "liquid_out": (L.LIQUID_OUT, "pick-up uncovered"),
    "relief_open": (L.BURST, "relief device has opened"),
}


def arrays_from_rows(packed: Packed, rows: np.ndarray) -> dict[str, Variable]:
    """All arrays of a run by name."""
    bt = ("bottle", "time")
    r = rows.T
    v: dict[str, Variable] = {
        "time_s": Variable(np.ascontiguousarray(r[0]), "s", ("time",), "time since the start"),
        "segment": Variable(r[1].astype(int), "", ("time",), "index into the schedule"),
    }
    state = _states(packed, r)
    v.update(_fluid(packed, r, state))
    out = _reports(packed, r)
    for name, (column, unit, text) in _REPORT.items():
        v[name] = Variable(out[:, column], unit, bt, text)
    v["pressure_gauge_Pa"] = Variable(
        out[:, L.O_P] - packed.p_ambient, "Pa gauge", bt, "gauge pressure of the fluid"
    )
    v.update(_wall(packed, state, out))
    v.update(_totals(packed, r))
    v.update(_mode_arrays(packed, r))
    return v


def _states(packed: Packed, r: np.ndarray) -> np.ndarray:
    nb, width = packed.n_bottles, packed.width
    return r[ROW_HEAD : ROW_HEAD + nb * width].reshape(nb, width, -1)


def _reports(packed: Packed, r: np.ndarray) -> np.ndarray:
    first = ROW_HEAD + packed.ny
    return r[first : first + packed.n_bottles * L.N_OUT].reshape(packed.n_bottles, L.N_OUT, -1)


def _air(packed: Packed, r: np.ndarray) -> np.ndarray:
    if packed.plant.lane["air_node"][0] == 1:
        return r[ROW_HEAD + packed.n_bottles * packed.width]
    scenario = packed.scenario
    return np.asarray(scenario.ambient.temperature_at(scenario.clock_start + r[0]), dtype=float)


def _fluid(packed: Packed, r: np.ndarray, state: np.ndarray) -> dict[str, Variable]:
    zone = ("bottle", "zone", "time")
    out = _reports(packed, r)
    return {
        "mass_kg": Variable(
            state[:, L.M1] + state[:, L.M2], "kg", ("bottle", "time"), "N2O in the bottle"
        ),
        "zone_mass_kg": Variable(
            state[:, [L.M1, L.M2]],
            "kg",
            zone,
            "mass of the liquid (or only) zone and of the vapour zone",
        ),
        "zone_internal_energy_J": Variable(
            state[:, [L.U1, L.U2]], "J", zone, "internal energy (reference state of CoolProp)"
        ),
        "fluid_temperature_K": Variable(
            out[:, [L.O_T, L.O_TV]],
            "K",
            zone,
            "temperature of the liquid (or only) zone and of the vapour zone",
        ),
        "air_temperature_K": Variable(
            _air(packed, r), "K", ("time",), "temperature of the air around the bottles"
        ),
    }


def _wall(packed: Packed, state: np.ndarray, out: np.ndarray) -> dict[str, Variable]:
    part = ("bottle", "part", "time")
    nodes = state[:, L.NODE0 :].reshape(packed.n_bottles, packed.nodes, 2, -1)
    nodes = np.ascontiguousarray(nodes.transpose(0, 2, 1, 3))
    return {
        "wall_temperature_K": Variable(
            nodes,
            "K",
            ("bottle", "part", "node", "time"),
            "wall nodes from inside to outside; part 0 under the heater, part 1 bare",
        ),
        "heater_temperature_K": Variable(
            state[:, L.HEATER], "K", ("bottle", "time"), "heater blanket"
        ),
        "heat_to_fluid_W": Variable(
            out[:, [L.O_QC, L.O_QB]], "W", part, "heat from shell to fluid by part"
        ),
        "inside_coefficient_W_m2K": Variable(
            out[:, [L.O_HC, L.O_HB]], "W/m2/K", part, "inside heat-transfer coefficient by part"
        ),
        "wall_heat_capacity_J_K": Variable(
            packed.plant.wall[:, :2, :].copy(),
            "J/K",
            ("bottle", "part", "node"),
            "heat capacity of each wall node",
        ),
        "heater_heat_capacity_J_K": Variable(
            np.array(
                [b["heater_capacity"] if b["has_heater"] else 0.0 for b in packed.plant.bottles]
            ),
            "J/K",
            ("bottle",),
            "heat capacity of the heater blanket",
        ),
    }


def _totals(packed: Packed, r: np.ndarray) -> dict[str, Variable]:
    nb = packed.n_bottles
    first = ROW_HEAD + nb * packed.width + 1
    totals = r[first : first + nb * L.N_TOTALS].reshape(nb, L.N_TOTALS, -1)
    return {
        name: Variable(totals[:, column], unit, ("bottle", "time"), text)
        for name, (column, unit, text) in _TOTALS.items()
    }


def _mode_arrays(packed: Packed, r: np.ndarray) -> dict[str, Variable]:
    nb = packed.n_bottles
    first = ROW_HEAD + packed.ny + nb * L.N_OUT
    modes = r[first : first + nb * L.N_MODES].reshape(nb, L.N_MODES, -1)
    lane = r[first + nb * L.N_MODES :]
    arrays = {
        name: Variable(modes[:, column] > 0.5, "", ("bottle", "time"), text)
        for name, (column, text) in _MODES.items()
    }
    arrays["flow_commanded"] = Variable(
        lane[L.L_FLOWING] > 0.5, "", ("time",), "the schedule asks for flow"
    )
    arrays["flow_inhibited"] = Variable(
        lane[L.L_WINDOW_SHUT] > 0.5, "", ("time",), "the arming window holds the valve shut"
    )
    return arrays
