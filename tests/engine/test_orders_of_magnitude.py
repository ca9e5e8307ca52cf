"""Warm-up, overshoot and hottest wall of three shells against an independent calculation.

The project's stated orders of magnitude (constant coefficients: inside 400, outside 10 W/m2/K, of
which 30 % through the blanket, half the shell covered, 300 W, 70 degF air, 12 lb full, band
1000-1100 psia): aluminium about 12 min and 40 psi; aluminium-lined carbon 12 min, 100 psi;
polymer-lined carbon 15 min, nearly 300 psi, outer laminate above 200 degF. That calculation counted
the cylindrical sides only. Bottles cut down to their sides must agree with it; whole bottles, with
ends, neck and valve, take longer and overshoot less, because there is a third more shell and more
inside area for the same heat.
"""

from __future__ import annotations

import math

import pytest
from check_cases import ATM, PSI, degF, scenario, to_degF, warm_day
from verification import Check

from n2osim import simulate
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.heater import Heater
from n2osim.hardware.switch import PressureSwitch
from n2osim.results.run import Run
from n2osim.scenario.scenario import Model
from n2osim.scenario.schedule import Hold

BAND = PressureSwitch(1000.0 * PSI - ATM, 1100.0 * PSI - ATM)
STATED = {  # minutes to 1100 psia, overshoot psi
    "aluminium": (12.0, 40.0),
    "carbon-aluminium": (12.0, 100.0),
    "carbon-polymer": (15.0, 300.0),
}

TOPIC, APART = "Against a plain reference", "scipy and CoolProp, apart from this project's code"
WARM_UP = Check(
    TOPIC,
    "warm-up of three shells, constant coefficients",
    "12, 12, 15 min (rounded)",
    APART,
    "sides only; 300 W, 70 degF air, to 1100 psia",
    0.10,
    "%",
    seen="other program",
    used="no",
)
OVERSHOOT = Check(
    TOPIC,
    "overshoot of three shells, constant coefficients",
    "40, 100, nearly 300 psi (rounded)",
    APART,
    "the same",
    0.15,
    "%",
    seen="other program",
    used="no",
)
HOTTEST = Check(
    TOPIC,
    "hottest laminate, constant coefficients",
    "above 200 degF (rounded)",
    APART,
    "polymer-lined carbon",
    6.0,
    "degF",
    seen="other program",
    used="no",
)


def sides_only(shell: str) -> Bottle:
    """The preset without ends, neck and valve."""
    whole = Bottle.preset(shell, "12 lb")
    length, diameter, layers = whole.straight_length, whole.inner_diameter, []
    for part in whole.layers:
        m = part.material
        volume = math.pi * (diameter + part.thickness) * part.thickness * length
        layers.append(
            {
                "mass": volume * m.density,
                "specific_heat": m.cp,
                "thickness": part.thickness,
                "k": m.k_radial,
                "k_inplane": m.k_inplane,
            }
        )
        diameter += 2.0 * part.thickness
    return Bottle.from_layers(
        whole.volume,
        layers,
        whole.inner_diameter,
        inner_area_given=math.pi * whole.inner_diameter * length,
        outer_area_given=math.pi * whole.outer_diameter * length,
    )


def warmed(bottle: Bottle, inside: float = 400.0) -> Run:
    """From 70 degF until well past the first opening of the switch."""
    model = Model(inside_coefficient=inside, outside_coefficient=10.0, cover_factor=0.3)
    air = degF(70.0)
    return simulate(
        scenario(
            bottle,
            bottle.capacity,
            air,
            ambient=warm_day(air),
            schedule=[Hold("45 min")],
            heater=Heater("300 W", cover_resistance=0.0),
            switch=BAND,
            model=model,
        )
    )


@pytest.mark.parametrize("shell", list(STATED))
def test_sides_only_agree_with_the_stated_calculation(shell: str) -> None:
    minutes, overshoot = STATED[shell]
    hold = warmed(sides_only(shell)).holds[0]
    WARM_UP.relative(hold.warm_up_time / 60.0, minutes)
    OVERSHOOT.relative(hold.overshoot / PSI, overshoot)
    if shell == "carbon-polymer":  # "above 200 degF": the outer laminate gets to 197
        HOTTEST.absolute(to_degF(hold.hottest_wall), 200.0)


@pytest.mark.parametrize("shell", list(STATED))
def test_whole_bottles_are_slower_and_overshoot_less(shell: str) -> None:
    minutes, overshoot = STATED[shell]
    hold = warmed(Bottle.preset(shell, "12 lb")).holds[0]
    print(
        f"{shell}: {hold.warm_up_time / 60:.1f} min, {hold.overshoot / PSI:.0f} psi, "
        f"{to_degF(hold.hottest_wall):.0f} degF"
    )
    assert 1.0 < hold.warm_up_time / 60.0 / minutes < 1.3
    assert 0.6 < hold.overshoot / PSI / overshoot < 0.9


def test_metal_overshoot_depends_on_the_inside_coefficient() -> None:
    """Stated: 40, 16, 6 psi for 400, 1000, 3000. The heater's own heat adds some 5 psi to each."""
    found = [
        warmed(sides_only("aluminium"), h).holds[0].overshoot / PSI for h in (400.0, 1000.0, 3000.0)
    ]
    print("aluminium, sides only:", found)
    for psi, stated in zip(found, (40.0, 16.0, 6.0)):
        assert stated - 2.0 < psi < stated + 6.0
