"""Duty of a held bottle against closed forms, and the energy budget over whole cycles."""

from __future__ import annotations

import numpy as np
import pytest
from check_cases import (
    ATM,
    PSI,
    bare_heater,
    degF,
    event_times,
    lumped,
    prop,
    scenario,
    switch_at,
    warm_day,
)
from verification import Check

from n2osim import simulate
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.heater import Heater
from n2osim.hardware.switch import PressureSwitch
from n2osim.results.run import Run
from n2osim.scenario.scenario import Model, Numerics
from n2osim.scenario.schedule import Hold

AIR, VOLUME, AREA = degF(60.0), 8e-3, 0.5
TOPIC = "Energy, closure and control"
DUTY = Check(
    TOPIC,
    "duty of a held bottle",
    "UA (T - T_air)/P, T from CoolProp",
    "exact",
    "lumped, band of 2 psi at 900 psia",
    1e-4,
    "%",
    seen="exact",
    used="no",
)
BUDGET = Check(
    TOPIC,
    "heat in against losses and stored, integrated from exported powers",
    "conservation of energy",
    "exact",
    "full model, whole cycles of 4 h",
    1e-3,
    "%",
    seen="exact",
    used="no",
)


def test_lumped_duty_is_loss_over_power() -> None:
    """A narrow band: duty = UA (T - T_air)/P, with T where CoolProp puts the band's pressure.

    Heater, shell and fluid are at one temperature (inside 1e6 W/m2/K, perfect contact).
    """
    outside, power, density = 12.0, 250.0, 500.0
    high, span = 900.0 * PSI, 2.0 * PSI
    run = simulate(
        scenario(
            lumped(VOLUME, 4000.0, area=AREA),
            density * VOLUME,
            degF(85.0),
            heater=bare_heater(power),
            switch=switch_at(high, span),
            ambient=warm_day(AIR),
            schedule=[Hold("4 h")],
            model=Model(inside_coefficient=1e6, outside_coefficient=outside, nodes_per_layer=1),
        )
    )
    on, off = event_times(run, "switch on"), event_times(run, "switch off")
    n = min(len(on), len(off) - 1)
    assert n > 20
    heated = (off[1 : n + 1] - on[:n]).sum() if on[0] > off[0] else (off[1:n] - on[1:n]).sum()
    whole = off[n] - off[0] if on[0] > off[0] else off[n - 1] - off[0]
    T = prop("T", "P", high - 0.5 * span, "Q", 0)
    DUTY.relative(heated / whole, outside * AREA * (T - AIR) / power)


def held() -> Run:
    """The full model (correlations), rows close enough together to integrate exported powers."""
    bottle = Bottle.preset("aluminium", "12 lb")
    return simulate(
        scenario(
            bottle,
            0.8 * bottle.capacity,
            AIR,
            ambient=warm_day(AIR),
            heater=Heater("300 W"),
            switch=PressureSwitch("1000 psig", "1100 psig"),
            schedule=[Hold("4 h")],
            numerics=Numerics(max_step_hold=2.0),
        )
    )


def test_energy_budget_over_whole_cycles() -> None:
    """Heat in = losses + stored within 0.1 %, integrating exported powers over time."""
    run = held()
    opened = event_times(run, "switch off")
    assert len(opened) >= 4
    t = run.time
    whole = (t >= opened[0]) & (t <= opened[-1])
    electric = np.trapezoid(run["heater_power_W"][0][whole], t[whole])
    loss = np.trapezoid(run["loss_W"][0][whole], t[whole])
    to_fluid = np.trapezoid(run["heat_to_fluid_W"][0].sum(axis=0)[whole], t[whole])
    nodes = run["wall_heat_capacity_J_K"][0][:, :, None] * run["wall_temperature_K"][0]
    shell = nodes.sum(axis=(0, 1))
    shell += run["heater_heat_capacity_J_K"][0] * run["heater_temperature_K"][0]
    stored = shell[whole][-1] - shell[whole][0] + to_fluid
    BUDGET.relative(electric, loss + stored)
    # Whole cycles end where they began: nearly all of it is loss.
    assert abs(stored) < 0.02 * electric
    # By events, over the same whole cycles: the summary's duty also counts the cycle cut short.
    on = event_times(run, "switch on")
    heated = sum(off - on[on < off][-1] for off in opened[1:])
    mean_loss = loss / (opened[-1] - opened[0])
    assert heated / (opened[-1] - opened[0]) == pytest.approx(mean_loss / 300.0, rel=0.02)
    assert run["pressure_Pa"].max() < 1200.0 * PSI + ATM
