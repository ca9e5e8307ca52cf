"""Answers settle as nodes double and tolerance halves; observed order of the integrator."""

from __future__ import annotations

import math

import numpy as np
import pytest
from check_cases import degF, lumped, scenario, warm_day
from verification import Check

from n2osim import simulate
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.heater import Heater
from n2osim.hardware.switch import PressureSwitch
from n2osim.results.run import Run
from n2osim.scenario.scenario import Model, Numerics
from n2osim.scenario.schedule import Hold, Rest

TOPIC = "Order of the integrator"
NODES = Check(
    TOPIC,
    "warm-up and overshoot, 4 nodes a layer",
    "8 nodes a layer",
    "itself",
    "four shells, constant coefficients and full model",
    2e-3,
    "%",
    seen="itself",
    used="no",
)
TIME = Check(
    TOPIC,
    "warm-up at the default tolerance",
    "a hundredth of it",
    "itself",
    "four shells, full model",
    2e-4,
    "%",
    seen="itself",
    used="no",
)
OVERSHOOT = Check(
    TOPIC,
    "overshoot at the default tolerance",
    "a hundredth of it",
    "itself",
    "four shells, full model",
    0.2,
    "psi",
    seen="itself",
    used="no",
)
EXACT = Check(
    TOPIC,
    "observed order: cooling of one body",
    "3; exp(-t/tau)",
    "exact",
    "steps 500, 250, 125 s, tau 2000 s",
    0.35,
    "orders",
    seen="exact",
    used="no",
)
SHELLS = ("aluminium", "steel", "carbon-aluminium", "carbon-polymer")


def warmed(shell: str, tolerance: float = 1.0, **model: object) -> Run:
    """A full 12 lb bottle from 60 degF through its first overshoot."""
    bottle = Bottle.preset(shell, "12 lb")
    return simulate(
        scenario(
            bottle,
            bottle.capacity,
            degF(60.0),
            heater=Heater("300 W"),
            switch=PressureSwitch("1000 psig", "1100 psig"),
            schedule=[Hold("45 min")],
            model=Model(**model),
            numerics=Numerics(tolerance=tolerance),
        )
    )


def answers(run: Run) -> tuple[float, float]:
    """Warm-up time (s) and overshoot (Pa)."""
    hold = run.holds[0]
    return hold.warm_up_time, hold.overshoot


@pytest.mark.parametrize("constant", [True, False])
@pytest.mark.parametrize("shell", SHELLS)
def test_doubling_the_nodes_changes_less_than_a_fifth_of_a_percent(
    shell: str, constant: bool
) -> None:
    """Default 4 nodes a layer against 8; tight in time, so that only the grid differs."""
    films = {"inside_coefficient": 400.0, "outside_coefficient": 10.0} if constant else {}
    coarse, fine = (answers(warmed(shell, 0.01, nodes_per_layer=n, **films)) for n in (4, 8))
    NODES.relative(coarse, fine)


@pytest.mark.parametrize("shell", SHELLS)
def test_halving_the_tolerance(shell: str) -> None:
    """Default tolerance against half and a hundredth: 0.02 % of warm-up, 0.2 psi of overshoot."""
    default, half, tight = (answers(warmed(shell, tol)) for tol in (1.0, 0.5, 0.01))
    TIME.relative(default[0], tight[0])
    OVERSHOOT.below((default[1] - tight[1]) / 6894.757)
    assert abs(half[0] - tight[0]) <= abs(default[0] - tight[0]) + 1e-3 * 0.1 * tight[0]


def cooled(step: float) -> float:
    """Temperature of a lumped shell after two time constants, in equal steps of ``step`` s."""
    capacity, conductance, T0, air, steps = 1e4, 5.0, 350.0, 300.0, 4000.0
    run = simulate(
        scenario(
            lumped(8e-3, capacity, area=1.0),
            1.0,
            290.0,
            wall_start=T0,
            ambient=warm_day(air),
            schedule=[Rest(steps)],
            numerics=Numerics(tolerance=100.0, max_step_hold=step),
            model=Model(inside_coefficient=0.0, outside_coefficient=conductance, nodes_per_layer=1),
        )
    )
    exact = air + (T0 - air) * math.exp(-conductance / capacity * steps)
    return float(run["wall_temperature_K"][0, 1, 0, -1]) - exact


def test_observed_order_is_three() -> None:
    """dT/dt = -(T - T_air)/tau has the exact solution exp(-t/tau); ROS34PW2 is of order 3."""
    steps = np.array([500.0, 250.0, 125.0])
    errors = np.abs([cooled(h) for h in steps])
    orders = np.log(errors[:-1] / errors[1:]) / np.log(2.0)
    print("errors, K:", errors, "orders:", orders)
    assert errors[-1] < 1e-3
    EXACT.absolute(orders, 3.0)
