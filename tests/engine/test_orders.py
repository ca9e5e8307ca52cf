"""Observed order of the integrator on every path through it: error against step length.

ROS34PW2 is of order three (Rang & Angermann, BIT 45 (2005) 761), also with the inexact Jacobian
used here. The tolerance is set so wide that the longest step decides; the answer is the same
program with steps 20 to 200 times shorter, and the order is the slope of ln error over ln step.
Where the pick-up's mouth goes dry the flow has a kink, so the runs end before or start after it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from check_cases import bare_heater, degF, lumped, scenario, warm_day
from verification import Check

from n2osim import simulate
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.feed import Feed
from n2osim.hardware.heater import Heater
from n2osim.hardware.jets import Jets
from n2osim.hardware.switch import PressureSwitch
from n2osim.scenario.scenario import FittedBottle, Model, Mounting, Numerics, Scenario
from n2osim.scenario.schedule import Hold, Pass, Purge, Rest

CONSTANT = {"inside_coefficient": 400.0, "outside_coefficient": 10.0}
BOTTLE = Bottle.preset("aluminium", "12 lb")
TOPIC, SELF = "Order of the integrator", "itself, steps 20-200 times shorter"
Case = Callable[[float, float], Scenario]


def order(path: str, conditions: str, limit: float = 0.2) -> Check:
    return Check(
        TOPIC,
        f"observed order: {path}",
        "3",
        SELF,
        conditions,
        limit,
        "orders",
        seen="itself",
        used="no",
    )


def hold(h: float, tolerance: float) -> Scenario:
    """Heater on, composite shell, two phases; no threshold within."""
    bottle = Bottle.preset("carbon-aluminium", "12 lb")
    return scenario(
        bottle,
        0.8 * bottle.capacity,
        degF(60.0),
        heater=Heater("300 W"),
        model=Model(**CONSTANT),
        schedule=[Rest(600.0, heater=True)],
        numerics=Numerics(tolerance=tolerance, max_step_hold=h),
    )


def switching(h: float, tolerance: float) -> Scenario:
    """Twelve switchings."""
    return scenario(
        lumped(8e-3, 1e4),
        4.0,
        degF(80.0),
        heater=bare_heater(300.0),
        ambient=warm_day(degF(60.0)),
        model=Model(**CONSTANT, nodes_per_layer=1),
        switch=PressureSwitch("940 psig", "960 psig"),
        schedule=[Hold(5400.0)],
        numerics=Numerics(tolerance=tolerance, max_step_hold=h),
    )


def drawn(
    item: Pass | Purge,
    flow: str = "spi",
    filled: float = 0.8,
    start: float = 85.0,
    draw: str = "liquid",
    **model: Any,
) -> Case:
    """What leaves through jets of 6 mm2 (3 mm2 the purge)."""
    feeds = {
        "main": Feed(Jets.effective("6 mm2"), model=flow),
        "purge": Feed(Jets.effective("3 mm2"), model=flow),
    }

    def case(h: float, tolerance: float) -> Scenario:
        return scenario(
            BOTTLE,
            filled * BOTTLE.capacity,
            degF(start),
            feeds=feeds,
            schedule=[item],
            model=Model(**CONSTANT, **model),
            numerics=Numerics(tolerance, max_step_flow=h),
            mounting=Mounting(draw=draw, pickup=0.02, pickup_band=0.01),
        )

    return case


def manifold(h: float, tolerance: float) -> Scenario:
    """A warm and a cooler bottle on one manifold, until long before they are equal.

    Flow goes with the root of a difference that vanishes there, which no smooth method follows at
    its order; what is left is of the size of the softening (test_manifold_run.py).
    """
    bottles = [FittedBottle(BOTTLE, 4.5, degF(88.0), "a"), FittedBottle(BOTTLE, 3.5, degF(60.0))]
    return Scenario(
        bottles,
        [Pass(1.0)],
        feed=Feed(Jets.effective("6 mm2"), model="spi"),
        model=Model(**CONSTANT),
        numerics=Numerics(tolerance, max_step_flow=h),
    )


PATHS: dict[str, tuple[Check, Case, tuple[float, ...], float]] = {
    "hold": (order("hold", "600 s, 300 W, composite, no switching"), hold, (25.0, 12.5, 6.25), 0.5),
    "switching": (
        order(
            "hold with switching",
            "90 min, 12 switchings, lumped; shorter steps meet "
            "the 0.5 Pa to which thresholds are met",
            0.4,
        ),
        switching,
        (50.0, 25.0, 12.5),
        1.0,
    ),
    "spi": (order("pass, SPI", "5 s, 6 mm2"), drawn(Pass(5.0)), (0.4, 0.2, 0.1, 0.05), 0.005),
    "hem": (
        order("pass, HEM", "6 s, 6 mm2"),
        drawn(Pass(6.0), "hem"),
        (0.4, 0.2, 0.1, 0.05),
        0.005,
    ),
    "hne": (
        order("pass, HNE", "6 s, 6 mm2"),
        drawn(Pass(6.0), "hne"),
        (0.4, 0.2, 0.1, 0.05),
        0.005,
    ),
    "prescribed": (
        order("pass, prescribed outflow", "6 s, 0.2 kg/s"),
        drawn(Pass(6.0, outflow=0.2)),
        (0.4, 0.2, 0.1, 0.05),
        0.005,
    ),
    "two zones": (
        order("pass, two zones", "4 s, SPI, factor 100"),
        drawn(Pass(4.0), two_zone=100.0),
        (0.2, 0.1, 0.05, 0.025),
        0.002,
    ),
    "vapour": (
        order("pass, vapour drawn above liquid", "6 s, 6 mm2"),
        drawn(Pass(6.0), draw="vapour"),
        (0.4, 0.2, 0.1, 0.05),
        0.005,
    ),
    "tail": (
        order("pass, vapour tail to a nearly empty bottle", "16 s, 15 % charge, HEM"),
        drawn(Pass(16.0), "hem", 0.15),
        (0.2, 0.1, 0.05, 0.025),
        0.002,
    ),
    "dry": (
        order("pass, vapour only", "6 s, 3 % charge, superheated"),
        drawn(Pass(6.0), "hem", 0.03),
        (0.2, 0.1, 0.05, 0.025),
        0.002,
    ),
    "manifold": (
        order("pass, manifold of two bottles", "1 s, SPI"),
        manifold,
        (0.1, 0.05, 0.025, 0.0125),
        0.002,
    ),
    "purge": (order("purge", "6 s, 3 mm2"), drawn(Purge(6.0)), (0.4, 0.2, 0.1, 0.05), 0.005),
}


def temperature(made: Scenario) -> float:
    """Fluid temperature at the end (K): moves with both mass and energy."""
    return float(simulate(made)["fluid_temperature_K"][0, 0, -1])


@pytest.mark.parametrize("path", PATHS)
def test_observed_order_is_three(path: str) -> None:
    check, case, steps, fine = PATHS[path]
    exact = temperature(case(fine, 1e-5))
    errors = np.abs([temperature(case(h, 100.0)) - exact for h in steps])
    print(path, "errors, K:", errors)
    assert errors[-1] < 1e-3
    check.absolute(np.polyfit(np.log(steps), np.log(errors), 1)[0], 3.0)
