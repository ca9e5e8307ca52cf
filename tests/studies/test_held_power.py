"""A power held where the fuel jets are leaner than the target: fuel decides, by hand."""

from __future__ import annotations

import dataclasses

import pytest
from test_tuning import AT_900, HP, scenario

from n2osim.simulation.schedule import Pass
from n2osim.studies import hold_power


def test_fuel_jets_that_are_lean_open_the_valve_further():
    """Fuel decides the power then: the opening is wanted over what fully open makes, by hand."""
    lean = scenario(**AT_900)
    jets = dataclasses.replace(lean.engine.fuel_jets, bore=0.9 * lean.engine.fuel_jets.bore)
    lean = lean.replace(engine=dataclasses.replace(lean.engine, fuel_jets=jets))
    most = 0.81 * 100 * HP  # fuel as the square of the bore
    for wanted, delay in (("60 hp", 0.0), ("60 hp", "0.5 s"), ([(0, "30 hp"), (4, "70 hp")], 0.0)):
        held = hold_power(lean, wanted, Pass("8 s", delay=delay))
        on = held.time > 0.51
        assert held.power[on] == pytest.approx(held.wanted[on], rel=1.5e-3)
        assert held.opening[on] == pytest.approx(held.wanted[on] / most, rel=5e-3)
        assert held.held_until is None
    late = hold_power(lean, [(0, 0.0), (3, 0.0), (3.5, "60 hp")], Pass("8 s"))
    assert late.opening[late.time < 2.99] == pytest.approx(0.0, abs=1e-9)
    assert late.power[late.time > 3.6] == pytest.approx(60 * HP, rel=1.5e-3)
    short = hold_power(lean, "90 hp", Pass("8 s"))
    assert short.held_until == 0.0 and short.shortfall == pytest.approx(90 * HP - most, rel=5e-3)
