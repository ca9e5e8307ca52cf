"""A power that the fuel jets are too lean for: it is told, not made up for by more N2O."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from test_tuning import AT_900, HP, scenario

from n2osim.answers.delivery import hold_power
from n2osim.scenario.schedule import Pass


def test_fuel_jets_that_are_lean_do_not_open_the_valve_further():
    """Fuel as the square of the bore: 0.81 of a mixture of 1.15 is lean, so fuel decides the power,
    1.15 x 0.81 of what is wanted where the valve is opened as the target mixture asks."""
    right = scenario(**AT_900)
    jets = dataclasses.replace(right.engine.fuel_jets, bore=0.9 * right.engine.fuel_jets.bore)
    lean = right.replace(engine=dataclasses.replace(right.engine, fuel_jets=jets))
    held = hold_power(right, "60 hp", Pass("8 s"))
    short = hold_power(lean, "60 hp", Pass("8 s"))
    assert held.held_until is None and short.held_until == 0.0
    assert "too little fuel" in short.limit
    inside = (short.time > 0.1) & (short.time < 7.9)
    expected = 1.15 * 0.81 * np.interp(short.time, held.time, held.opening) / held.opening[5]
    assert short.power[inside] / (60 * HP) == pytest.approx(expected[inside], rel=2e-2)
    assert np.interp(short.time, held.time, held.opening)[inside] == pytest.approx(
        short.opening[inside], rel=1e-3
    )
