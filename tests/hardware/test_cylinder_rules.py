"""Wall thickness against the worked numbers of tests/data/cylinder_rules.csv (sources there)."""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path

import pytest
from verification import Check

from n2osim.errors import InputError, RangeError, UnknownNameError
from n2osim.hardware import cylinder_rules as rules
from n2osim.units import INCH, PSI

DATA = Path(__file__).parents[1] / "data" / "cylinder_rules.csv"
TOPIC, TABLE = "Regulations and materials", "tests/data/cylinder_rules.csv"
LEAST = Check(
    TOPIC,
    "least wall of a cylinder",
    "49 CFR 178.46 (3AL), 178.37 (3AA), worked",
    TABLE,
    "7 and 8 in, 3000 psig",
    5.1e-5,
    "in",
    seen="memory",
    used="the stress limits are this program's",
)
STRESS = Check(
    TOPIC,
    "wall stress formula",
    "25462 psi by hand",
    "49 CFR 178.46",
    "D 7 in, d 6.295 in, 3000 psi",
    3.0,
    "psi",
    seen="text",
    used="no",
)
LIMITS = Check(
    TOPIC,
    "stress limits of 3AL and 3AA",
    "25,460 and 70,000 psi",
    "49 CFR 178.46(d), second-hand; 178.37(f), by memory",
    "67 % of 38,000 psi for 3AL",
    1e-6,
    seen="memory",
    used="the limits are this program's",
)
NETTING = Check(
    TOPIC,
    "netting thickness, helical and hoop",
    "worked example",
    "Peters 1990; " + TABLE,
    "42.19 MPa, 87.5 mm, 15 degrees",
    5e-4,
    "mm",
    seen="exact",
    used="no",
)
FILLING = Check(
    TOPIC,
    "filling density of a full bottle",
    "68 % of water's",
    "49 CFR 173.304a, Table 1 of (a)(2)",
    "water as 1000 kg/m3",
    1e-6,
    seen="second-hand",
    used="the density is this program's",
)


def _content(rule: str) -> str:
    lines = [x for x in DATA.read_text().splitlines() if not x.startswith("#")]
    return next(r["content"] for r in csv.DictReader(lines) if r["rule"] == rule)


def _first_number(pattern: str, text: str) -> float:
    found = re.search(pattern, text)
    assert found is not None
    return float(found.group(1))


@pytest.mark.parametrize(
    ("rule", "spec", "outside"),
    [
        ("3AL D=7.000 in P=3000 psig", "3AL", 7.0),
        ("3AL D=8.000 in P=3000 psig", "3AL", 8.0),
        ("3AA D=7.000 in P=3000 S=70000", "3AA", 7.0),
    ],
)
def test_least_wall_reproduces_the_worked_numbers(rule, spec, outside):
    expected = _first_number(r"([0-9.]+) in", _content(rule))
    wall = rules.wall_thickness(spec, outside * INCH, 3000 * PSI) / INCH
    LEAST.absolute(wall, expected)


def wall_stress(pressure, D, d):
    """49 CFR 178.46: S = P (1.3 D2 + 0.4 d2) / (D2 - d2)."""
    return pressure * (1.3 * D**2 + 0.4 * d**2) / (D**2 - d**2)


def test_thickness_inverts_the_specification_formula():
    for spec in ("3AL", "3AA"):
        limit = rules.SPECIFICATIONS[spec].stress_limit
        for outside in (0.14, 0.1778, 0.25):
            t = rules.wall_thickness(spec, outside, 25e6)
            stress = wall_stress(25e6, outside, outside - 2 * t)
            assert stress == pytest.approx(limit, rel=1e-12)


def test_stress_formula_by_hand():
    # D 7, d 6.295 in, P 3000 psi by hand:
    # (63.7 + 15.851) / (49 - 39.627) * 3000 = 25462 psi
    s = wall_stress(3000 * PSI, 7.0 * INCH, 6.295 * INCH) / PSI
    STRESS.absolute(s, 25462.0)


def test_limits_are_the_specifications():
    # 49 CFR 178.46: 67 % of 38,000 psi governs over 80 % of 35,000 psi. 178.37: 70,000 psi.
    found = [rules.SPECIFICATIONS[name].stress_limit / PSI for name in ("3AL", "3AA")]
    LIMITS.relative(found, [25460.0, 70000.0])
    assert rules.wall_thickness("3AL", 6.0 * INCH, 100 * PSI) == pytest.approx(0.125 * INCH)
    assert rules.wall_thickness("3aa", 6.0 * INCH, 100 * PSI) == pytest.approx(0.100 * INCH)


def test_netting_analysis_worked_example():
    # data row "netting example": 42.19 MPa, 87.5 mm, 2550 MPa, 15 degrees
    text = _content("netting example")
    helical, hoop = rules.netting_thickness(3.4 * 1800 * PSI, 87.5e-3, 2550e6, math.radians(15))
    expected = [_first_number(r"deg ([0-9.]+)\+", text), _first_number(r"\+([0-9.]+)=", text)]
    NETTING.absolute([helical * 1e3, hoop * 1e3], expected)
    laminate = rules.laminate_thickness(1800 * PSI, 87.5e-3)
    assert laminate * 1e3 == pytest.approx(_first_number(r"-> ([0-9.]+) mm", text), abs=5e-3)


@pytest.mark.parametrize("degrees", [0.0, 10.0, 30.0, 54.0])
def test_netting_sum_does_not_depend_on_the_angle(degrees):
    # t_helical + t_hoop = 3 P R / (2 s) for every angle (Peters 1990; algebra in the data file)
    total = sum(rules.netting_thickness(40e6, 0.09, 2.5e9, math.radians(degrees)))
    assert total == pytest.approx(1.5 * 40e6 * 0.09 / 2.5e9, rel=1e-12)


def test_full_filling_density_is_68_percent_of_water():
    # 49 CFR 173.304a Table 1 of (a)(2); water taken as 1000 kg/m3
    water = 1000.0
    share = rules.FULL_FILLING_DENSITY / water
    FILLING.relative(share, 0.68)


def test_refusals():
    with pytest.raises(UnknownNameError, match="3AL, 3AA"):
        rules.wall_thickness("3A2", 0.18, 20e6)
    with pytest.raises(RangeError):
        rules.wall_thickness("3AL", 0.18, 200e6)
    with pytest.raises(RangeError, match="helix angle"):
        rules.netting_thickness(40e6, 0.09, 2.5e9, 1.2)
    with pytest.raises(InputError):
        rules.netting_thickness(40e6, -0.09, 2.5e9, 0.2)
