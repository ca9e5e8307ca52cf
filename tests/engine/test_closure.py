"""Mass and energy closure recomputed from exported T, m and fluxes: 1e-6 of gross throughput.

The fluid's energy is computed here with CoolProp from the exported temperature and mass, the
shell's from exported node temperatures and heat capacities: nothing of the integrator's own.
"""

from __future__ import annotations

import CoolProp.CoolProp as CP
import numpy as np
import pytest
from check_cases import degF, scenario
from verification import Check

from n2osim import simulate
from n2osim.hardware.ambient import Ambient, Boot
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.feed import Feed
from n2osim.hardware.heater import Heater
from n2osim.hardware.jets import Jets
from n2osim.hardware.switch import PressureSwitch
from n2osim.results.run import Run
from n2osim.scenario.scenario import FittedBottle, Model, Scenario
from n2osim.scenario.schedule import Hold, Pass, Rest

SWITCH = PressureSwitch("1000 psig", "1100 psig")
JETS = Feed(Jets(4, "0.028 in"))
DAY = [Hold("30 min"), Pass("9 s"), Rest("10 min"), Hold("20 min"), Pass("9 s"), Rest("5 min")]

TOPIC = "Energy, closure and control"
MASS = Check(
    TOPIC,
    "mass closure, of gross throughput",
    "exported masses and outflow",
    "exact",
    "six schedules: shells, charges, two zones, two bottles",
    1e-9,
    seen="exact",
    used="no",
)
FLUID = Check(
    TOPIC,
    "energy closure of the fluid, of gross throughput",
    "CoolProp's u at exported temperatures and masses",
    "exact",
    "the same",
    1e-6,
    seen="same formula",
    used="no",
)
SHELL = Check(
    TOPIC,
    "energy closure of shell and heater, of gross throughput",
    "exported node temperatures and heat capacities",
    "exact",
    "the same",
    1e-9,
    seen="exact",
    used="no",
)


def one(shell: str, filled: float, **fields: object) -> Scenario:
    bottle = Bottle.preset(shell, "12 lb")
    return scenario(
        bottle,
        filled * bottle.capacity,
        degF(60.0),
        heater=Heater("300 W"),
        switch=SWITCH,
        feed=JETS,
        schedule=DAY,
        **fields,
    )


def two_in_a_boot() -> Scenario:
    """Two bottles on one manifold in a closed boot with its own air."""
    a = FittedBottle(
        Bottle.preset("aluminium", "10 lb"),
        4.0,
        degF(60.0),
        name="left",
        heater=Heater("300 W"),
        switch=SWITCH,
    )
    b = FittedBottle(
        Bottle.preset("carbon-polymer", "12 lb"),
        5.0,
        degF(60.0),
        name="right",
        heater=Heater("300 W"),
        follows="left",
    )
    return Scenario(
        [a, b], feed=JETS, schedule=DAY, ambient=Ambient("60 degF", enclosure=Boot(solar=100.0))
    )


CASES = {
    "aluminium, full": lambda: one("aluminium", 1.0),
    "carbon-polymer, half": lambda: one("carbon-polymer", 0.5),
    "steel, nearly empty": lambda: one("steel", 0.15),
    "constant coefficients": lambda: one(
        "carbon-aluminium", 0.8, model=Model(inside_coefficient=400.0, outside_coefficient=10.0)
    ),
    "two zones": lambda: one("aluminium", 0.9, model=Model(two_zone=100.0)),
    "two bottles": two_in_a_boot,
}


def fluid_energy(run: Run, bottle: int) -> np.ndarray:
    """Internal energy (J) over time by CoolProp from exported temperatures and masses."""
    volume = run.scenario.bottles[bottle].bottle.volume
    zones, T = run["zone_mass_kg"][bottle], run["fluid_temperature_K"][bottle]
    state = CP.AbstractState("HEOS", "NitrousOxide")
    energy = np.empty(T.shape[1])
    for k in range(len(energy)):
        m1, m2 = zones[:, k]
        if m2 == 0.0:
            state.update(CP.DmassT_INPUTS, m1 / volume, T[0, k])
            energy[k] = m1 * state.umass()
            continue
        state.update(CP.QT_INPUTS, 0.0, T[0, k])
        liquid, rest = m1 * state.umass(), volume - m1 / state.rhomass()
        state.update(CP.DmassT_INPUTS, m2 / rest, T[1, k])
        energy[k] = liquid + m2 * state.umass()
    return energy


def gross(x: np.ndarray) -> float:
    """Everything moved, whichever way."""
    return float(np.abs(np.diff(x)).sum())


def worst(residual: np.ndarray, *moved: np.ndarray) -> float:
    return float(np.abs(residual - residual[0]).max()) / sum(gross(x) for x in moved)


@pytest.mark.parametrize("case", list(CASES))
def test_closure_of_mass_and_energy(case: str) -> None:
    run = simulate(CASES[case]())
    for i in range(len(run.scenario.bottles)):
        m, out = run["mass_kg"][i], run["mass_out_kg"][i]
        heat, carried = run["heat_to_fluid_J"][i], run["enthalpy_out_J"][i]
        electric, loss = run["heater_energy_J"][i], run["heat_loss_J"][i]
        assert gross(out) > 0.1
        MASS.below(worst(m + out, out))
        fluid = fluid_energy(run, i)
        FLUID.below(worst(fluid - heat + carried, heat, carried))
        nodes = run["wall_heat_capacity_J_K"][i][:, :, None] * run["wall_temperature_K"][i]
        shell = nodes.sum(axis=(0, 1))
        shell += run["heater_heat_capacity_J_K"][i] * run["heater_temperature_K"][i]
        SHELL.below(worst(shell - electric + heat + loss, electric, heat, loss))
    assert max(run.closure().values()) < 1e-6  # what the library reports is the same check
