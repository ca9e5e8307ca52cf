"""On-off cycling of a lumped body against its closed form.

t_on = tau ln((T_ss - lo)/(T_ss - hi)), t_off = tau ln(hi/lo), tau = C/UA, T_ss = q/UA, all over
ambient: C = 20 kJ/K, UA = 2 W/K, 300 W, band 30 to 32 K gives on 168.071 s, off 645.385 s, duty
0.20661 (tests/data/transient_conduction_examples.csv, "thermostat on-off (derived)").
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from check_cases import bare_heater, event_times, lumped, scenario, warm_day
from verification import Check

from n2osim import simulate
from n2osim.hardware.heater import CutOut
from n2osim.results.run import Run
from n2osim.scenario.scenario import Model
from n2osim.scenario.schedule import Hold

C, UA, POWER, LOW, HIGH, AIR = 20e3, 2.0, 300.0, 30.0, 32.0, 293.15
TAU, STEADY = C / UA, POWER / UA
T_ON = TAU * math.log((STEADY - LOW) / (STEADY - HIGH))
T_OFF = TAU * math.log(HIGH / LOW)

CYCLE = Check(
    "Energy, closure and control",
    "thermostat cycle run: on, off, duty",
    "closed form",
    "tests/data/transient_conduction_examples.csv",
    "lumped body, 300 W, 2 W/K, 30-32 K",
    1e-4,
    "%",
    seen="exact",
    used="no",
)


def run_cycling() -> Run:
    """Nearly all of C sits in the heater, whose surface the cut-out reads; UA = 2 W/m2/K over 1 m2.

    The fluid is adiabatic, so the body is heater and shell alone.
    """
    shell = 100.0
    heater = bare_heater(
        POWER, heat_capacity=C - shell, cut_out=CutOut(AIR + HIGH, AIR + LOW), coverage=0.5
    )
    model = Model(inside_coefficient=0.0, outside_coefficient=UA, nodes_per_layer=1)
    return simulate(
        scenario(
            lumped(8e-3, shell, area=1.0),
            1.0,
            AIR,
            heater=heater,
            ambient=warm_day(AIR),
            schedule=[Hold("2 h")],
            model=model,
        )
    )


def test_closed_form_is_the_stated_one() -> None:
    assert pytest.approx(168.071, abs=1e-3) == T_ON
    assert pytest.approx(645.385, abs=1e-3) == T_OFF


def test_on_and_off_times_and_duty() -> None:
    run = run_cycling()
    off, on = event_times(run, "cut-out opens"), event_times(run, "cut-out closes")
    assert len(off) >= 6
    assert off[0] == pytest.approx(TAU * math.log(STEADY / (STEADY - HIGH)), rel=2e-4)
    on_times = off[1:] - on[: len(off) - 1]
    off_times = on[: len(off) - 1] - off[:-1]
    CYCLE.relative(on_times, T_ON)
    CYCLE.relative(off_times, T_OFF)
    duty = on_times.sum() / (on_times + off_times).sum()
    CYCLE.relative(duty, 0.20661)
    # Every cycle is like every other: location of the thresholds adds no noise of its own.
    assert np.ptp(on_times) < 1e-3 * T_ON
    assert np.ptp(off_times) < 1e-3 * T_OFF
