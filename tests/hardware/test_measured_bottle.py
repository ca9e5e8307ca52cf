"""A bottle from what a shop can measure agrees with the preset of the same shell."""

from __future__ import annotations

import math

import pytest

from n2osim.errors import InputError, RangeError, UnknownNameError
from n2osim.hardware import Bottle
from n2osim.hardware.cylinder_rules import wall_thickness
from n2osim.units import INCH, LB, PSI

SHELLS = ("aluminium", "steel", "carbon-aluminium", "carbon-polymer")


@pytest.mark.parametrize("shell", SHELLS)
def test_the_same_shell_by_its_dimensions_weighs_what_the_preset_weighs(shell: str) -> None:
    p = Bottle.preset(shell, "12 lb")
    own = Bottle.from_dimensions(outer_diameter="7 in", capacity="12 lb", layers=p.layers)
    assert own.empty_mass == pytest.approx(p.empty_mass, rel=1e-12)
    assert own.heat_capacity == pytest.approx(p.heat_capacity, rel=1e-12)
    assert set(own.assumed) == {
        "end_thickness",
        "extra_mass",
        "extra_heat_capacity",
        "empty_weight",
    }


@pytest.mark.parametrize("shell, spec", [("aluminium", "3AL"), ("steel", "3AA")])
def test_diameter_length_weight_and_marks_give_the_preset_back(shell: str, spec: str) -> None:
    p = Bottle.preset(shell, "10 lb")
    own = Bottle.from_dimensions(
        outer_diameter="7 in",
        overall_length=p.length,
        empty_weight=p.empty_mass,
        spec=spec,
        service_pressure="1800 psig",
    )
    assert own.test_pressure == pytest.approx(3000.0 * PSI)  # 5/3 of service: 49 CFR 178.46
    assert own.wall == wall_thickness(spec, 7.0 * INCH, 3000.0 * PSI)
    assert own.volume == pytest.approx(p.volume, rel=1e-9)
    assert own.end_thickness == pytest.approx(p.end_thickness, rel=1e-9)
    assert "end_thickness" not in own.assumed and "test_pressure" in own.assumed


def test_weight_alone_gives_the_wall() -> None:
    p = Bottle.preset("aluminium", "10 lb")
    size = {"outer_diameter": p.outer_diameter, "overall_length": p.length, "material": "6061-T6"}
    own = Bottle.from_dimensions(**size, empty_weight=p.empty_mass)
    assert own.wall == pytest.approx(p.wall, rel=1e-9)
    bare = Bottle.from_dimensions(**size, empty_weight=p.empty_mass - 0.6, weight_with_valve=False)
    assert bare.wall == pytest.approx(p.wall, rel=1e-9)  # 0.6 kg of valve off the scale
    assert bare.empty_mass == pytest.approx(p.empty_mass)  # and back on it in the car


def test_a_tube_weighed_by_hand() -> None:
    """Flat ends as thick as the side: a tube and two discs of aluminium, 2700 kg/m3."""
    r, t, inside = 0.1, 0.006, 0.4
    discs = math.pi * (2.0 * r - t) ** 2 / 4.0  # ends at the middle of the wall
    solid = 2.0 * math.pi * (r - 0.5 * t) * inside * t + 2.0 * discs * t
    made = Bottle.from_dimensions(
        outer_diameter=2.0 * r,
        inside_length=inside,
        empty_weight=2700.0 * solid + 1.0,
        end_depth=0.0,
        end_thickness=1.0,
        extra_mass=1.0,
        extra_heat_capacity=380.0,
    )
    assert made.wall == pytest.approx(t, rel=1e-9)


def test_figures_tell_what_is_assumed() -> None:
    figures = {
        f.label: f
        for f in Bottle.from_dimensions(
            outer_diameter="7 in", overall_length="20 in", wall="0.36 in", material="6061-T6"
        ).figures
    }
    assert figures["wall"].value == pytest.approx(0.36 * INCH) and not figures["wall"].assumed
    assert figures["neck and valve"].assumed and figures["empty weight with valve"].assumed
    weighed = Bottle.from_dimensions(
        outer_diameter="7 in", overall_length="20 in", material="6061-T6", empty_weight="16 lb"
    )
    (weight,) = (f for f in weighed.figures if f.label == "empty weight with valve")
    assert not weight.assumed and weight.value == pytest.approx(16.0 * LB)
    assert all(f.value > 0.0 for f in weighed.figures)


def test_what_cannot_be_is_refused_with_the_range() -> None:
    size = {"outer_diameter": "7 in", "overall_length": "20 in"}
    with pytest.raises(RangeError, match="valve was on the scale"):
        Bottle.from_dimensions(**size, spec="3AL", empty_weight="2 kg")
    with pytest.raises(InputError, match="exactly one of wall, spec, layers"):
        Bottle.from_dimensions(**size)
    with pytest.raises(UnknownNameError, match="did you mean 'empty_weight'"):
        Bottle.from_dict({**size, "tare": "16 lb"})
    with pytest.raises(UnknownNameError, match="did you mean 'outer_diameter'"):
        Bottle.from_dict({"outer_diametr": "7 in", "overall_length": "20 in"})
