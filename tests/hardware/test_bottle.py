"""Bottles: geometry against solids of revolution, presets, other ways to make one, refusals."""

from __future__ import annotations

import dataclasses
import math
import pickle

import pytest
from scipy import integrate

from n2osim.errors import InputError, N2OSimError, RangeError, UnitError, UnknownNameError
from n2osim.hardware import Bottle, Layer
from n2osim.hardware.bottle import end_area_factor
from n2osim.hardware.materials import MATERIALS
from n2osim.units import INCH, LB, PSI

SHELLS = ("aluminium", "steel", "carbon-aluminium", "carbon-polymer")
SIZES = ("10 lb", "12 lb", "15 lb", "20 lb")


def _plain(volume=8e-3, inner=0.16, depth=0.25, thickness=0.009, **fields):
    layer = Layer("6061-T6", thickness)
    return Bottle("test", volume, inner, (layer,), end_depth=depth, **fields)


# --- geometry ----------------------------------------------------------------------------------
@pytest.mark.parametrize("depth", [1e-4, 0.1, 0.25, 0.4, 0.49])
def test_end_area_by_revolving_the_ellipse(depth):
    # surface of revolution of the quarter ellipse with half axes 1/2 and ``depth`` (diameter 1)
    def ring(t: float) -> float:
        r = 0.5 * math.cos(t)
        arc = math.hypot(-0.5 * math.sin(t), depth * math.cos(t))
        return 2 * math.pi * r * arc

    area = integrate.quad(ring, 0, math.pi / 2, epsrel=1e-10)[0]
    assert end_area_factor(depth) * math.pi / 4 == pytest.approx(area, rel=1e-8)


def test_end_area_limits():
    assert end_area_factor(0.0) == 1.0
    assert end_area_factor(0.5) == 2.0  # hemisphere: two discs
    assert end_area_factor(0.25) == pytest.approx(1.380, abs=5e-4)  # 2:1 ellipsoid


@pytest.mark.parametrize("depth", [0.0, 0.25, 0.5])
def test_volume_is_cylinder_plus_two_half_spheroids(depth):
    b = _plain(depth=depth)
    a = b.inner_diameter / 2
    spheroid = 4 / 3 * math.pi * a * a * (depth * b.inner_diameter)
    assert math.pi * a * a * b.straight_length + spheroid == pytest.approx(b.volume, rel=1e-12)
    assert math.pi * a * a * b.inner_length == pytest.approx(b.volume, rel=1e-12)


def test_a_sphere_weighs_what_a_spherical_shell_weighs():
    r, t = 0.15, 0.004
    b = _plain(4 / 3 * math.pi * r**3 * (1 + 1e-12), 2 * r, 0.5, t)
    exact = 4 / 3 * math.pi * ((r + t) ** 3 - r**3) * MATERIALS["6061-T6"].density
    assert b.straight_length == pytest.approx(0.0, abs=1e-9)
    assert b.inner_area == pytest.approx(4 * math.pi * r * r, rel=1e-9)
    assert b.shell_mass == pytest.approx(exact, rel=t * t / (12 * r * r) * 1.1)
    assert b.outer_area == pytest.approx(4 * math.pi * (r + t) ** 2, rel=1e-9)


def test_flat_ended_tube_by_hand():
    b = _plain(
        math.pi / 4 * 0.1**2 * 0.5,
        0.1,
        0.0,
        0.01,
        end_thickness=2.0,
        extra_mass=1.0,
        extra_heat_capacity=380.0,
    )
    rho, cp = MATERIALS["6061-T6"].density, MATERIALS["6061-T6"].cp
    sides = math.pi / 4 * (0.12**2 - 0.1**2) * 0.5
    ends = 2 * math.pi / 4 * 0.11**2 * 0.01 * 2.0
    assert b.shell_mass == pytest.approx((sides + ends) * rho, rel=1e-12)
    assert b.empty_mass == pytest.approx(b.shell_mass + 1.0)
    assert b.heat_capacity == pytest.approx((sides + ends) * rho * cp + 380.0, rel=1e-12)
    assert b.length == pytest.approx(0.5 + 2 * 0.02)
    assert b.projected_area == pytest.approx(b.length * 0.12)


# --- presets -------------------------------------------------------------------------------------
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("shell", SHELLS)
def test_presets(shell, size):
    b = Bottle.preset(shell, size)
    assert b.capacity == pytest.approx(float(size.split()[0]) * LB, rel=1e-12)
    inches = b.outer_diameter / INCH
    assert inches == pytest.approx(7.0 if size in ("10 lb", "12 lb") else 8.0, rel=1e-12)
    assert b.service_pressure == pytest.approx(1800 * PSI)
    assert b.test_pressure == pytest.approx(3000 * PSI)  # 5/3 of service
    assert b.relief_pressure <= b.test_pressure * (1 + 1e-12)  # 49 CFR 173.301(f), CGA S-1.1
    assert 0.25 < b.length < 0.75
    assert b.specification
    assert b.status


def test_metal_presets_have_the_specification_wall():
    # tests/data/cylinder_rules.csv: 0.3525 in, 0.4029 in of 6061-T6; 0.1277 in of steel
    for shell, size, wall in (
        ("aluminium", "12 lb", 0.3525),
        ("aluminium", "20 lb", 0.4029),
        ("steel", "10 lb", 0.1277),
    ):
        (layer,) = Bottle.preset(shell, size).layers
        assert layer.thickness / INCH == pytest.approx(wall, abs=5.1e-5)


def test_composite_presets_have_the_netting_laminate():
    # fibres carry 3.4 x service: 3 P R / (2 s) of fibre, 60 % by volume; R is the liner's outside
    for shell in ("carbon-aluminium", "carbon-polymer"):
        b = Bottle.preset(shell, "12 lb")
        liner, carbon, glass = b.layers
        radius = b.inner_diameter / 2 + liner.thickness
        fibre = 1.5 * 3.4 * 1800 * PSI * radius / 2550e6
        assert carbon.thickness == pytest.approx(fibre / 0.6, rel=1e-9)
        assert carbon.material.name == "carbon-epoxy"
        assert glass.material.name == "glass-epoxy"
    assert "ISO 11119-3" in Bottle.preset("carbon-polymer", "12 lb").oxidising_note
    assert Bottle.preset("carbon-aluminium", "12 lb").oxidising_note == ""


def test_weights_are_those_of_the_trade():
    """Common practice, no source: a 10 lb aluminium bottle weighs about 15 lb empty with valve,
    a 20 lb one about 26 lb; carbon is lighter than metal; steel is not lighter than aluminium."""
    assert Bottle.preset("aluminium", "10 lb").empty_mass / LB == pytest.approx(15.0, abs=1.5)
    assert Bottle.preset("aluminium", "20 lb").empty_mass / LB == pytest.approx(26.0, abs=2.5)
    for size in SIZES:
        alu, steel, lined, polymer = (Bottle.preset(s, size).empty_mass for s in SHELLS)
        assert lined < 0.65 * alu
        assert polymer < 0.65 * alu
        assert steel > alu


def test_temperature_limit_is_the_weakest_layer():
    b = Bottle.preset("carbon-aluminium", "12 lb")
    assert b.max_wall_temperature == MATERIALS["carbon-epoxy"].max_temperature
    assert len(b.layer_temperature_limits) == 3
    assert dataclasses.replace(b, wall_temperature_limit="150 degF").max_wall_temperature < 340
    assert Bottle.lumped("7 L", 5000.0).max_wall_temperature is None


def test_preset_names_and_sizes_are_suggested():
    with pytest.raises(UnknownNameError, match="did you mean 'aluminium'"):
        Bottle.preset("aluminim", "12 lb")
    with pytest.raises(UnknownNameError, match="10 lb, 12 lb, 15 lb, 20 lb"):
        Bottle.preset("aluminium", "11 lb")
    with pytest.raises(UnitError):
        Bottle.preset("aluminium", "12 L")
    assert Bottle.preset("Aluminum", 12 * LB) == Bottle.preset("aluminium", "12 lb")
    assert Bottle.preset("steel", "12 lb", name="left").name == "left"


def test_any_capacity():
    b = Bottle.from_capacity("11 lb", "carbon-aluminium")
    assert b.capacity == pytest.approx(11 * LB)
    assert b.outer_diameter == pytest.approx(7 * INCH)
    assert Bottle.from_capacity("5 lb", outer_diameter="5.25 in").outer_diameter == pytest.approx(
        5.25 * INCH
    )
    with pytest.raises(RangeError, match="bottle capacity"):
        Bottle.from_capacity("100 lb")


# --- other ways ----------------------------------------------------------------------------------
def test_from_dimensions_agrees_with_the_preset():
    p = Bottle.preset("aluminium", "12 lb")
    by_out = Bottle.from_dimensions(outer_diameter="7 in", capacity="12 lb", spec="3AL")
    by_in = Bottle.from_dimensions(inner_diameter=p.inner_diameter, volume=p.volume, spec="3AL")
    wall = Bottle.from_dimensions(outer_diameter="7 in", volume=p.volume, wall=p.wall)
    inside = p.straight_length + 2 * p.end_depth * p.inner_diameter
    long = Bottle.from_dimensions(outer_diameter="7 in", inside_length=inside, spec="3AL")
    for b in (by_out, by_in, wall, long):
        assert b.volume == pytest.approx(p.volume, rel=1e-12)
        assert b.inner_diameter == pytest.approx(p.inner_diameter, rel=1e-12)
        assert b.wall == pytest.approx(p.wall, rel=1e-12)
    with pytest.raises(InputError, match="exactly one of"):
        Bottle.from_dimensions(outer_diameter="7 in", inner_diameter="6 in", volume=1e-2, wall=5e-3)
    with pytest.raises(InputError, match="exactly one of"):
        Bottle.from_dimensions(outer_diameter="7 in", volume=1e-2)
    with pytest.raises(InputError, match="half the outside diameter"):
        Bottle.from_dimensions(outer_diameter="2 in", volume=1e-3, wall="1.2 in")


def test_from_layers_keeps_the_masses_and_heat_capacities():
    rows = [
        {"mass": "5 lb", "specific_heat": 900.0, "k": 167.0, "thickness": "3 mm"},
        {"heat_capacity": "2 kJ/K", "k": 0.7, "k_inplane": 5.0, "thickness": "6 mm"},
        {"mass": 0.3, "material": "glass-epoxy", "thickness": "0.5 mm"},
    ]
    b = Bottle.from_layers("8 L", rows, inner_diameter="6.3 in", extra_heat_capacity=300.0)
    assert b.layer_masses[0] == pytest.approx(5 * LB, rel=1e-12)
    assert b.layer_masses[2] == pytest.approx(0.3, rel=1e-12)
    expected = (5 * LB * 900.0, 2000.0, 0.3 * MATERIALS["glass-epoxy"].cp)
    assert b.layer_heat_capacities == pytest.approx(expected, rel=1e-12)
    assert b.heat_capacity == pytest.approx(sum(expected) + 300.0, rel=1e-12)
    with pytest.raises(UnknownNameError, match="'specific_heat'"):
        Bottle.from_layers("8 L", [{"mass": 5, "specific_heet": 900, "k": 10}])
    with pytest.raises(InputError, match="conductivity k"):
        Bottle.from_layers("8 L", [{"mass": 5, "specific_heat": 900}])
    with pytest.raises(InputError, match="mass or heat_capacity"):
        Bottle.from_layers("8 L", [{"k": 10.0}])
    with pytest.raises(InputError, match="specific_heat or heat_capacity"):
        Bottle.from_layers("8 L", [{"mass": 5.0, "k": 10.0}])


def test_lumped():
    b = Bottle.lumped("6.9 L", "20 kJ/K", inner_area="0.25 m2")
    assert b.heat_capacity == pytest.approx(20e3, rel=1e-12)
    assert b.inner_area == b.outer_area == 0.25
    assert Bottle.lumped("6.9 L", 20e3, 0.25, 0.3).outer_area == 0.3


def test_jacket_and_finish():
    b = Bottle.preset("aluminium", "12 lb")
    j = b.with_jacket("10 mm", finish="foil jacket")
    assert len(j.layers) == 2
    assert j.outer_diameter == pytest.approx(b.outer_diameter + 0.02)
    assert j.surface_emissivity == 0.05
    assert b.absorbed_sun(1000.0) == pytest.approx(0.7 * 1000.0 * b.projected_area)


# --- frozen, replaced, stored --------------------------------------------------------------------
@pytest.mark.parametrize("shell", SHELLS)
def test_round_trip(shell):
    b = Bottle.preset(shell, "15 lb")
    assert Bottle.from_dict(b.as_dict()) == b
    assert pickle.loads(pickle.dumps(b)) == b
    assert hash(b) == hash(Bottle.preset(shell, "15 lb"))


def test_lumped_round_trip():
    b = Bottle.lumped("6.9 L", "20 kJ/K", inner_area="0.25 m2")
    assert Bottle.from_dict(b.as_dict()) == b


def test_replace_checks_again_and_nothing_can_be_set():
    b = Bottle.preset("aluminium", "12 lb")
    assert dataclasses.replace(b, volume="9 L").inner_length > b.inner_length
    with pytest.raises(RangeError, match="bottle volume"):
        dataclasses.replace(b, volume="-9 L")
    with pytest.raises(RangeError, match="inner diameter"):
        dataclasses.replace(b, inner_diameter="13 in")
    with pytest.raises(dataclasses.FrozenInstanceError):
        b.volume = 1.0


@pytest.mark.parametrize(
    ("table", "check"),
    [
        ({"preset": "aluminium", "capacity": "12 lb", "name": "left"}, lambda b: b.name == "left"),
        (
            {"shell": "steel", "capacity": "5 lb", "outer_diameter": "5.25 in"},
            lambda b: abs(b.capacity - 5 * LB) < 1e-9,
        ),
        (
            {"volume": "8 L", "wall_heat_capacity": "6 kJ/K", "inner_area": "0.25 m2"},
            lambda b: abs(b.heat_capacity - 6000) < 1e-6 and b.inner_area == 0.25,
        ),
        (
            {"outer_diameter": "7 in", "spec": "3AL", "capacity": "12 lb"},
            lambda b: abs(b.wall / INCH - 0.3525) < 1e-4,
        ),
        (
            {"volume": "8 L", "layers": [{"mass": "5 kg", "specific_heat": 900, "k": 167}]},
            lambda b: abs(b.heat_capacity - 4500) < 1e-6,
        ),
        (
            {
                "volume": "8 L",
                "inner_diameter": "160 mm",
                "service_pressure": "1814.7 psia",
                "layers": [{"material": "4130", "thickness": "3 mm"}],
            },
            lambda b: abs(b.service_pressure / PSI - 1800.004) < 1e-3,
        ),
    ],
)
def test_tables(table, check):
    assert check(Bottle.from_dict(table, ambient=101325.0))


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"preset": "aluminium", "capasity": "12 lb"}, "'capacity'"),
        ({"volume": "8 L"}, "inner_diameter, layers"),
        ({}, "name a preset"),
        ({"volume": "8 L", "inner_diameter": "160 mm", "layers": []}, "one or more Layer"),
        ({"volume": "8 L", "inner_diameter": "160 mm", "layers": [{"material": "mud"}]}, "layer"),
        ({"volume": "8 L", "inner_diameter": "160 mm", "layers": 5}, "one or more Layer"),
        ({"preset": 5}, "bottle preset"),
        ({"preset": None}, "exactly one of preset, shell"),
        ({"preset": "steel", "shell": "aluminium"}, "exactly one of preset, shell"),
        ("aluminium", "table"),
        ({"preset": "steel", "capacity": "12 lb", "surface_emissivity": 5}, "emissivity"),
        ({"preset": "steel", "capacity": "12 lb", "spec": "3AL"}, "preset"),
        ({"outer_diameter": "7 in", "wall": "9 mm", "volume": "8 L", "shell": "mud"}, "preset"),
        ({"volume": "8 L", "wall_heat_capacity": 5000, "wall": 0.01}, "wall"),
    ],
)
def test_wrong_tables_are_refused_by_name(table, words):
    with pytest.raises(N2OSimError) as caught:
        Bottle.from_dict(table)
    assert words in str(caught.value)
