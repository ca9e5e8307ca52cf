"""Quantities in and out: factors against independent sources, refusals by name, hostile text."""

from __future__ import annotations

import math
import subprocess
import sys
from fractions import Fraction

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from n2osim import unit_table as table
from n2osim import units
from n2osim.errors import InputError, N2OSimError, RangeError, UnitError, UnknownNameError
from n2osim.units import parse

ATM = 101325.0
U = pint.UnitRegistry()

# Conversion factors as printed in NIST Special Publication 811 (2008), appendix B.8 (7 digits).
NIST_SP811 = [
    ("1 lb", "mass", 4.535924e-01),
    ("1 oz", "mass", 2.834952e-02),
    ("1 in", "length", 2.54e-02),
    ("1 ft", "length", 3.048e-01),
    ("1 mil", "length", 2.54e-05),
    ("1 in2", "area", 6.4516e-04),
    ("1 in3", "volume", 1.638706e-05),
    ("1 gal", "volume", 3.785412e-03),
    ("1 mph", "speed", 4.4704e-01),
    ("1 psi", "gauge_pressure", 6.894757e03),
    ("1 atm", "pressure", 1.01325e05),
    ("1 inHg", "pressure", 3.386389e03),
    ("1 mmHg", "pressure", 1.333224e02),
    ("1 hp", "power", 7.456999e02),
    ("1 PS", "power", 7.354988e02),
    ("1 Btu", "energy", 1.055056e03),
    ("1 Btu/h/ft2/degF", "heat_transfer_coefficient", 5.678263e00),
    ("1 Btu/h/ft/degF", "conductivity", 1.730735e00),
    ("1 Btu/lb/degF", "specific_heat", 4.1868e03),
    ("1 lb/hp/h", "bsfc", 1.689659e-07),
    ("1 lb/min", "mass_flow", 7.559873e-03),
    ("1 lb/ft3", "density", 1.601846e01),
    ("1 deg", "angle", 1.745329e-02),
    ("1 g", "acceleration", 9.80665e00),
]


@pytest.mark.parametrize(("text", "dimension", "factor"), NIST_SP811)
def test_factors_against_nist_sp811(text, dimension, factor):
    assert parse(text, dimension) == pytest.approx(factor, rel=6e-7)


_PINT_NAMES = {
    "L": "liter",
    "mL": "milliliter",
    "C": "delta_degC",
    "F": "delta_degF",
    "degC": "delta_degC",
    "degF": "delta_degF",
    "degR": "degR",
    "R": "degR",
    "ci": None,
    "cuin": None,
    "mil": "thou",
    "mils": "thou",
    "bhp": "hp",
    "whp": "hp",
    "g0": "g_0",
    "gee": "g_0",
    "gees": "g_0",
    "inHg": "inHg",
    "d": "day",
    "kph": "km/h",
    "kmh": "km/h",
    "kt": "knot",
    "min": "minute",
    "PS": "metric_horsepower",
    "delta_C": "delta_degC",
    "delta_F": "delta_degF",
    "Btu": "Btu_it",
    "%": "percent",
    "lbs": "lb",
    "lbm": "lb",
    "kgs": "kg",
    "hrs": "hour",
    "secs": "s",
    "mins": "minute",
    "h": "hour",
    "mohm": "milliohm",
    "amps": "ampere",
    "celsius": "delta_degC",
    "fahrenheit": "delta_degF",
    "rankine": "degR",
    "deg": "degree",
}


def test_every_plain_symbol_agrees_with_pint():
    """The whole table against pint, an independent table; only what pint does not know is left."""
    unknown, checked = [], 0
    for symbol, unit in table.UNITS.items():
        if unit.reference == "gauge" or (unit.reference == "absolute" and symbol != "atm"):
            continue
        name = _PINT_NAMES.get(symbol, symbol)
        try:
            base = U.Quantity(1.0, name or "no such unit").to_base_units()
        except Exception:
            unknown.append(symbol)
            continue
        assert base.magnitude == pytest.approx(unit.factor, rel=1e-12), symbol
        checked += 1
    assert checked > 95
    assert set(unknown) <= {"ci", "cuin"}


def test_gauge_symbols_are_their_absolute_twins():
    for plain in ("psi", "bar", "kPa", "Pa", "MPa"):
        for end, reference in (("g", "gauge"), ("a", "absolute")):
            for form in (f"{plain}{end}", f"{plain} {end}", f"{plain}({end})"):
                assert table.UNITS[form].factor == table.UNITS[plain].factor
                assert table.UNITS[form].reference == reference


# Defining points: ice and steam point, absolute zero, the Fahrenheit-Celsius crossing.
@pytest.mark.parametrize(
    ("text", "kelvin"),
    [
        ("32 degF", 273.15),
        ("212 degF", 373.15),
        ("0 degC", 273.15),
        ("-40 degF", 233.15),
        ("-40 °C", 233.15),
        ("491.67 degR", 273.15),
        ("300 K", 300.0),
        ("95 °F", 308.15),
        ("95F", 308.15),
        ("95 deg F", 308.15),
        ("95 DEGF", 308.15),
        ("95 fahrenheit", 308.15),
    ],
)
def test_temperatures(text, kelvin):
    assert parse(text, "temperature") == pytest.approx(kelvin, rel=1e-14)


def test_a_temperature_difference_has_no_offset():
    assert parse("9 degF", "temperature_difference") == pytest.approx(5.0)
    assert parse("5 degC", "temperature_difference") == pytest.approx(5.0)
    assert parse("0.018 1/degF", "temperature_coefficient") == pytest.approx(0.018 * 1.8)


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("12 lb", "mass", 12 * 0.45359237),
        ("10 lb 4 oz", "mass", 10.25 * 0.45359237),
        ("0.028 in", "length", 0.028 * 0.0254),
        ('0.028"', "length", 0.028 * 0.0254),
        ("28 thou", "length", 0.028 * 0.0254),
        ("3/8 in", "length", 0.375 * 0.0254),
        ("5 ft 6 in", "length", 66 * 0.0254),
        ("5 min", "time", 300.0),
        ("1 h 30 min", "time", 5400.0),
        ("1h30min", "time", 5400.0),
        ("80 %", "fraction", 0.8),
        ("80%", "fraction", 0.8),
        ("0.8", "fraction", 0.8),
        ("3/4", "fraction", 0.75),
        ("100 hp", "power", 74569.98715822702),
        ("5 W/m²/K", "heat_transfer_coefficient", 5.0),
        ("5 W/(m2 K)", "heat_transfer_coefficient", 5.0),
        ("5 W m-2 K-1", "heat_transfer_coefficient", 5.0),
        ("5 W per m2 per K", "heat_transfer_coefficient", 5.0),
        ("2e-4 m²·K/W", "contact_resistance", 2e-4),
        ("2e-4 m2K/W", "contact_resistance", 2e-4),
        ("0.5 Ω", "resistance", 0.5),
        ("14:30", "clock_time", 52200.0),
        ("3 pm", "clock_time", 54000.0),
        ("12:15 am", "clock_time", 900.0),
        ("6 h", "clock_time", 21600.0),
        ("1.2 g", "acceleration", 1.2 * 9.80665),
        ("−5 degC", "temperature", 268.15),
        ("+.5e1 kg", "mass", 5.0),
        ("2 stone", "mass", 28 * 0.45359237),  # only pint knows it: 14 lb
    ],
)
def test_shop_writing(text, dimension, si):
    assert parse(text, dimension) == pytest.approx(si, rel=1e-12)


def test_si_numbers_pass_unchanged():
    for value in (
        3,
        3.5,
        np.float64(2.5),
        np.float32(0.5),
        np.int64(4),
        np.array(7.25),
        Fraction(1, 4),
    ):
        result = parse(value, "mass")
        assert type(result) is float
        assert result == float(value)


# --- gauge and absolute ----------------------------------------------------------------------
def test_gauge_and_absolute_are_apart():
    gauge = 1000 * table.PSI
    assert parse("1000 psig", "gauge_pressure") == gauge
    assert parse("1000 psi", "gauge_pressure") == gauge
    assert parse("1000 psig", "pressure", ambient=ATM) == gauge + ATM
    assert parse("1000 psia", "gauge_pressure", ambient=84e3) == gauge - 84e3
    assert parse("1000 psia", "pressure") == gauge
    assert parse("69 bar", "pressure") == pytest.approx(6.9e6)
    assert parse("69 barg", "pressure", ambient=ATM) == pytest.approx(6.9e6 + ATM)
    assert parse("1 atm", "gauge_pressure", ambient=ATM) == 0.0
    assert parse("10 psi", "pressure_difference") == 10 * table.PSI


def test_ambiguous_or_unreferenced_pressure_is_refused():
    with pytest.raises(UnitError, match="write psia, or psig"):
        parse("1000 psi", "pressure", name="bottle pressure")
    with pytest.raises(UnitError, match="give the ambient pressure"):
        parse("1000 psig", "pressure")
    with pytest.raises(UnitError, match="give the ambient pressure"):
        parse("1000 psia", "gauge_pressure")
    with pytest.raises(UnitError, match="ambiguous"):
        parse(U.Quantity(1000, "psi"), "pressure")


# --- pint --------------------------------------------------------------------------------------
def test_pint_quantities():
    assert parse(U.Quantity(12, "lb"), "mass") == pytest.approx(12 * 0.45359237)
    assert parse(U.Quantity(95, "degF"), "temperature") == pytest.approx(308.15)
    assert parse(U.Quantity(9, "delta_degF"), "temperature_difference") == pytest.approx(5.0)
    assert parse(U.Quantity(69, "bar"), "pressure") == pytest.approx(6.9e6)
    assert parse(U.Quantity(30, "degree"), "angle") == pytest.approx(math.pi / 6)
    assert parse(U.Quantity(80, "percent"), "fraction") == pytest.approx(0.8)
    with pytest.raises(UnitError, match="mass, not length"):
        parse(U.Quantity(1, "m"), "mass")
    with pytest.raises(UnitError, match="delta_"):
        parse(U.Quantity(9, "degF"), "temperature_difference")
    with pytest.raises(InputError):
        parse(U.Quantity([1, 2], "kg"), "mass")


def test_pint_is_not_imported_for_shop_units():
    code = (
        "import sys\nfrom n2osim.units import parse\n"
        "parse('12 lb','mass'); parse('1000 psig','gauge_pressure')\n"
        "parse('95 degF','temperature')\n"
        "parse('0.5 lb/hp/h','bsfc'); parse('5 W/m2/K','heat_transfer_coefficient')\n"
        "assert 'pint' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


# --- refusals ----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("value", "dimension", "kind", "words"),
    [
        (float("nan"), "mass", InputError, "finite"),
        (float("inf"), "mass", InputError, "finite"),
        ("1e999 kg", "mass", InputError, "finite"),
        (10**400, "mass", InputError, "finite"),
        (True, "mass", InputError, "True"),
        (np.True_, "mass", InputError, "mass"),
        (None, "mass", InputError, "None"),
        (1 + 2j, "mass", InputError, "one mass"),
        ([12], "mass", InputError, "one mass"),
        (np.array([1.0, 2.0]), "mass", InputError, "one mass"),
        ("", "mass", InputError, "10 lb"),
        ("lb", "mass", InputError, "10 lb"),
        ("12", "mass", UnitError, "with its unit"),
        ("12 lbz", "mass", UnitError, "did you mean 'lb'"),
        ("12 psgi", "gauge_pressure", UnitError, "'psig'"),
        ("12 psi", "mass", UnitError, "mass, not"),
        ("30 deg", "fraction", UnitError, "fraction, not angle"),
        ("1,000 psig", "gauge_pressure", InputError, "without commas"),
        ("0,028 in", "length", InputError, "without commas"),
        ("1/0 in", "length", InputError, "finite"),
        ("5 m**9**9**9", "length", UnitError, "unit of length"),
        ("25:00", "clock_time", InputError, "14:30"),
        ("13 pm", "clock_time", UnitError, "14:30"),
        ("x" * 5000, "mass", InputError, "one mass"),
        ("12 mW", "mass", UnitError, "mass, not power"),
        ("12 dBm", "power", UnitError, "unit of power"),
        ("5 h 3 lb", "time", UnitError, "time, not mass"),
    ],
)
def test_refusals_name_quantity_value_and_remedy(value, dimension, kind, words):
    with pytest.raises(kind) as caught:
        parse(value, dimension, name="the thing")
    assert str(caught.value).startswith("the thing: ")
    assert words in str(caught.value)
    assert len(str(caught.value)) < 500


def test_range_error_names_range_and_remedy():
    with pytest.raises(RangeError) as caught:
        parse("120 lb", "mass", name="fill", low=0.0, high=50.0, remedy="weigh again")
    text = str(caught.value)
    assert text == (
        "fill: '120 lb' is out of range; valid: at least 0 kg (0.00 lb) and at most 50 kg "
        "(110.23 lb); weigh again"
    )
    assert parse(50.0, "mass", low=0.0, high=50.0) == 50.0
    for edge in ({"low": 1.0, "low_open": True}, {"high": 1.0, "high_open": True}):
        with pytest.raises(RangeError):
            parse(1.0, "mass", **edge)
    with pytest.raises(RangeError, match="'80 %' if percent is meant"):
        parse(80, "fraction", low=0.0, high=1.0)
    with pytest.raises(RangeError, match="above 0 K"):
        parse("-500 degF", "temperature")
    with pytest.raises(RangeError):
        parse(-1.0, "pressure")


def test_unknown_kind_of_quantity_suggests():
    with pytest.raises(UnknownNameError, match="did you mean 'pressure'"):
        parse(1.0, "presure")


def test_parse_many():
    assert units.parse_many(["1 lb", 2.0], "mass") == (0.45359237, 2.0)
    with pytest.raises(UnitError, match=r"mass\[1\]"):
        units.parse_many(["1 lb", "2 in"], "mass", name="mass")
    with pytest.raises(InputError):
        units.parse_many("1 lb", "mass")


# --- hostile text ------------------------------------------------------------------------------
_DIMENSIONS = st.sampled_from(sorted(table.DIMENSIONS))
_PIECES = st.lists(
    st.sampled_from(
        [
            "1",
            "-3",
            "1e9",
            "1e-400",
            ".",
            ",",
            "/",
            "**",
            "^",
            "(",
            ")",
            "%",
            "lb",
            "psig",
            "psia",
            "degF",
            "°F",
            "m2",
            "K",
            "W",
            "h",
            "min",
            ":",
            "am",
            " ",
            "nan",
            "inf",
            "\n",
            "\x00",
            "²",
            "µ",
            "e",
            "E5",
            "__import__('os')",
            "λ",
            "١٢",
            "kg",
            "g",
            "G",
            "-",
            "+",
            "_",
            "per",
        ]
    ),
    max_size=8,
).map("".join)


@settings(max_examples=400, deadline=None)
@given(st.one_of(st.text(max_size=30), _PIECES), _DIMENSIONS)
def test_any_text_gives_a_finite_number_or_our_error(text, dimension):
    try:
        value = parse(text, dimension, name="x", low=-1e6, high=1e6)
    except N2OSimError as problem:
        assert str(problem).startswith("x: ")
    else:
        assert -1e6 <= value <= 1e6


@settings(max_examples=200, deadline=None)
@given(
    st.one_of(
        st.none(),
        st.booleans(),
        st.complex_numbers(),
        st.binary(),
        st.lists(st.integers()),
        st.dictionaries(st.text(), st.integers()),
        st.floats(),
        st.integers(),
        st.decimals(),
        st.dates(),
        st.tuples(st.text()),
    ),
    _DIMENSIONS,
)
def test_any_object_gives_a_finite_number_or_our_error(value, dimension):
    try:
        result = parse(value, dimension, name="x")
    except N2OSimError as problem:
        assert str(problem).startswith("x: ")
    else:
        assert math.isfinite(result)
        assert result == float(value)


@settings(max_examples=200, deadline=None)
@given(st.floats(-1e9, 1e9), st.sampled_from(sorted(set(table.DIMENSIONS) - {"clock_time"})))
def test_display_and_parse_are_inverse(value, dimension):
    d = table.DIMENSIONS[dimension]
    if value < d.low + 1e-9 * (d.low > -math.inf):  # rounding of the offset may cross the limit
        return
    shown = units.to_display(value, dimension)
    text = f"{shown!r} {d.shop}" if d.shop else repr(shown)
    assert parse(text, dimension) == pytest.approx(value, rel=1e-12, abs=1e-12 * 460)


# --- out ----------------------------------------------------------------------------------------
def test_formatting():
    f = units.format_quantity
    assert f(parse("1050 psig", "gauge_pressure"), "gauge_pressure") == "1050.0 psig"
    assert f(6.9e6, "gauge_pressure", "si") == "6.9e+06 Pa gauge"
    assert f(308.15, "temperature") == "95.0 degF"
    assert f(5.0, "temperature_difference") == "9.0 degF"
    assert f(5.4431, "mass") == "12.00 lb"
    assert f(0.8, "fraction") == "80.0 %"
    assert f(45.0, "time") == "45 s"
    assert f(1500.0, "time") == "25 min"
    assert f(10800.0, "time") == "3 h"
    assert f(10800.0, "time", "si") == "10800 s"
    assert f(float("nan"), "mass") == "n/a"
    assert f(74570.0, "engine_power") == "100.0 hp"
    with pytest.raises(UnknownNameError):
        f(1.0, "mass", "metric")


def test_array_converters():
    p = np.array([ATM, ATM + 1000 * table.PSI])
    assert units.to_psig(p) == pytest.approx([0.0, 1000.0])
    assert units.to_psig(p, ambient=ATM + 100 * table.PSI) == pytest.approx([-100.0, 900.0])
    assert units.to_psia(ATM) == pytest.approx(14.6959, abs=1e-4)  # standard atmosphere, psia
    assert units.to_degF(np.array([273.15, 373.15])) == pytest.approx([32.0, 212.0])
    assert units.to_lb(0.45359237) == 1.0
    assert units.to_in(0.0254) == 1.0
    assert units.to_hp(745.6998715822702) == pytest.approx(1.0)
    assert units.from_psig(0.0) == ATM


def test_the_article_of_a_kind_of_quantity() -> None:
    for dimension, said in (("pressure", "an absolute pressure with"), ("mass", "a mass with")):
        with pytest.raises(InputError, match=f"valid: {said} its unit"):
            parse("1050", dimension)
