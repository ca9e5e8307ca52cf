"""Pressure, temperature and fill of a closed bottle.

Check values: computed once with CoolProp's NitrousOxide (Lemmon & Span 2006) apart from
this code; CoolProp itself is asked again below; trade facts are "common practice, no source".
"""

from __future__ import annotations

import doctest

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from verification import Check

from n2osim import fluid
from n2osim.errors import InputError, N2OSimError, NoSolutionError, RangeError, UnitError
from n2osim.hardware import Bottle
from n2osim.physics import charge as c
from n2osim.units import from_psig, parse, to_degF, to_psia

TEN_LITRES = 0.010
TOPIC, APART = "Charge and pressure", "CoolProp, computed apart from this project's code"
FULL_T = Check(
    TOPIC,
    "liquid-full point, temperature",
    "87.1 degF",
    APART,
    "680 kg/m3",
    0.05,
    "degF",
    seen="other program",
    used="no",
)
FULL_P = Check(
    TOPIC,
    "liquid-full point, pressure",
    "927 psia",
    APART,
    "680 kg/m3",
    0.5,
    "psi",
    seen="other program",
    used="no",
)
PRESSURE = Check(
    TOPIC,
    "pressure at a temperature and charge",
    "1267, 2079, 1080, 1134, 1020 psia",
    APART,
    "95-130 degF, 408-680 kg/m3",
    0.5,
    "psi",
    seen="other program",
    used="no",
)
TEMPERATURE = Check(
    TOPIC,
    "temperature that a charge needs",
    "97.9, 177 degF",
    APART,
    "50 % at 1050 psia, 20 % at 1000 psia",
    0.5,
    "degF",
    seen="other program",
    used="no",
)
FLASHES = Check(
    TOPIC,
    "pressure and charge from temperature",
    "CoolProp",
    "Lemmon & Span 2006",
    "250-335 K, 30-745 kg/m3",
    1e-10,
    seen="same formula",
    used="the coefficients are this program's",
)
TRAPPED = Check(
    TOPIC,
    "liquid shut in at 70 degF",
    "1121, 1871 psia: CoolProp",
    "computed apart from this project's code",
    "80, 100 degF",
    0.5,
    "psi",
    seen="other program",
    used="no",
)


def _psia(text_T: str, density: float) -> float:
    return to_psia(c.pressure_at(text_T, density * TEN_LITRES, TEN_LITRES))


# --- the numbers a chart must show (independent calculation with CoolProp, rounded as given) ------
def test_full_charge_is_liquid_full_at_87_degF():
    T = c.liquid_full_temperature(680.0)
    FULL_T.absolute(to_degF(T), 87.1)
    FULL_P.absolute(to_psia(fluid.saturation(T).p), 927.0)
    assert c.leaves_saturation(680.0) == (T, c.LIQUID_FULL)


@pytest.mark.parametrize(
    ("temperature", "density", "psia", "rounding"),
    [
        ("100 degF", 680.0, 1266.5, 0.05),
        ("130 degF", 680.0, 2079.0, 0.5),
        ("100 degF", 408.0, 1080.0, 0.5),  # "about 1080"
        ("95 degF", 680.0, 1134.0, 0.5),
        ("95 degF", 0.8 * 680.0, 1020.0, 0.5),
    ],
)
def test_pressure_at_temperature_and_fill(temperature, density, psia, rounding):
    assert _psia(temperature, density) == pytest.approx(psia, abs=rounding)
    PRESSURE.absolute(_psia(temperature, density), psia)


@pytest.mark.parametrize(
    ("fraction", "psia", "degF", "rounding"),
    [(0.5, 1050.0, 97.9, 0.05), (0.2, 1000.0, 177.0, 0.5)],  # the second "about 177"
)
def test_temperature_for_a_pressure(fraction, psia, degF, rounding):
    charge = c.charge_for_fraction(fraction, TEN_LITRES)
    T = c.temperature_for_pressure(f"{psia} psia", charge, TEN_LITRES)
    assert to_degF(T) == pytest.approx(degF, abs=rounding)
    TEMPERATURE.absolute(to_degF(T), degF)
    assert fluid.state(T, charge / TEN_LITRES).phase != fluid.Phase.TWO_PHASE


def test_half_full_bottle_at_1050_psia_tells_its_charge():
    T = c.temperature_for_pressure("1050 psia", 3.4, TEN_LITRES)
    assert c.charge_from_state("1050 psia", T, TEN_LITRES) == pytest.approx(3.4, rel=1e-6)


def test_trapped_liquid():
    # shut in at 70 degF: 1121 psia at 80 degF, 1871 at 100 degF (independent calculation)
    for later, psia in (("80 degF", 1121.0), ("100 degF", 1871.0)):
        TRAPPED.absolute(to_psia(c.trapped_liquid_pressure(later, "70 degF")), psia)
    line = c.trapped_liquid_pressure([300.0, 311.0], parse("70 degF", "temperature"))
    assert line[1] > line[0] > 1121.0 * 6894.757
    colder = c.trapped_liquid_pressure("60 degF", "70 degF")  # back on the saturation line
    assert colder == pytest.approx(fluid.saturation(parse("60 degF", "temperature")).p, rel=1e-9)
    at_rest = c.trapped_liquid_pressure("70 degF", "70 degF")
    assert at_rest == pytest.approx(fluid.saturation(parse("70 degF", "temperature")).p, rel=1e-6)


def test_trade_facts():
    """Common practice, no source: a full bottle at 1000-1100 psi is at roughly 90-94 degF and a
    60 % one up to 103 degF; pressure rises with temperature throughout."""
    full = Bottle.preset("aluminium", "12 lb")
    span = [
        to_degF(c.temperature_for_pressure(from_psig(p), full.capacity, full.volume))
        for p in (1000.0, 1100.0)
    ]
    assert span[0] == pytest.approx(90.0, abs=2.0)
    assert span[1] == pytest.approx(94.0, abs=2.0)
    part = c.temperature_for_pressure(from_psig(1100.0), 0.6 * full.capacity, full.volume)
    assert to_degF(part) == pytest.approx(103.0, abs=2.0)
    for fraction in (0.2, 0.5, 0.66, 0.8, 1.0, 1.1):
        T = np.linspace(190.0, 330.0, 400)
        p = c.pressure_at(T, fraction * full.capacity, full.volume)
        assert (np.diff(p) > 0.0).all()


def test_against_coolprop():
    """The same questions put to CoolProp's own (D, T) and (P, T) flashes."""
    CoolProp = pytest.importorskip("CoolProp.CoolProp")
    for density in (30.0, 136.0, 340.0, 450.0, 460.0, 680.0, 745.0):
        for T in (250.0, 295.0, 309.0, 310.0, 320.0, 335.0):
            expected = CoolProp.PropsSI("P", "T", T, "D", density, "NitrousOxide")
            found = c.pressure_at(T, density * TEN_LITRES, TEN_LITRES)
            FLASHES.relative(found, expected)
    for p, T in ((3e6, 300.0), (9e6, 300.0), (9e6, 320.0)):
        density = CoolProp.PropsSI("D", "T", T, "P", p, "NitrousOxide")
        FLASHES.relative(c.charge_from_state(p, T, 0.01), density * 0.01)


def test_docstring_examples():
    assert doctest.testmod(c).failed == 0


# --- fill and level ----------------------------------------------------------------------------
def test_fill():
    b = Bottle.preset("steel", "20 lb")
    assert c.filling_fraction(b.capacity, b.volume) == pytest.approx(1.0, rel=1e-12)
    assert c.filling_density("5.06 kg", "6.9 L") == pytest.approx(733.3, abs=0.05)
    assert c.filling_fraction("5.06 kg", "6.9 L") > 1.0  # overfilled: computed, not refused
    assert c.charge_for_fraction("50 %", "10 L") == pytest.approx(3.4)
    assert c.filling_density(np.array([1.0, 2.0]), 0.01) == pytest.approx([100.0, 200.0])


def test_overfilled_bottles_are_computed():
    # real static tests ran at 733-745 kg/m3
    assert c.pressure_at(300.0, 7.45, 0.01) > fluid.saturation(300.0).p


def test_leaving_saturation_on_either_side():
    assert c.leaves_saturation(340.0)[1] == c.ALL_VAPOUR
    for density in (50.0, 340.0, 440.0, 470.0, 680.0, 1000.0):
        T, _ = c.leaves_saturation(density)
        line = fluid.saturation(T)
        near = line.rho_l if density > fluid.RHO_CRITICAL else line.rho_v
        assert near == pytest.approx(density, rel=1e-9)
    both = c.liquid_full_temperature(np.array([340.0, 680.0]))
    assert np.isnan(both[0])
    assert both[1] == c.liquid_full_temperature(680.0)
    with pytest.raises(RangeError, match="never two-phase"):
        c.leaves_saturation(1300.0)


def test_liquid_level_conserves_mass():
    T = np.array([250.0, 280.0, 300.0, 309.0])
    share = c.liquid_volume_fraction(T, 5.0, 0.01)
    line = fluid.saturation(T)
    mass = 0.01 * (share * line.rho_l + (1 - share) * line.rho_v)
    assert mass == pytest.approx(5.0, rel=1e-6)
    full = c.liquid_full_temperature(680.0)
    assert c.liquid_volume_fraction(full - 1e-4, 6.8, 0.01) == pytest.approx(1.0, abs=1e-4)
    assert c.liquid_volume_fraction(full + 1.0, 6.8, 0.01) == 1.0
    assert c.liquid_volume_fraction(300.0, 0.5, 0.01) == 0.0
    assert np.isnan(c.liquid_volume_fraction(320.0, 6.8, 0.01))


# --- refusals ------------------------------------------------------------------------------------
def test_saturated_charge_is_not_determinable():
    T = fluid.saturation_temperature("900 psia")
    with pytest.raises(NoSolutionError, match="not determinable: saturated") as caught:
        c.charge_from_state("900 psia", T, TEN_LITRES)
    least, largest = caught.value.nearest
    line = fluid.saturation(T)
    assert (least, largest) == pytest.approx((line.rho_v * 0.01, line.rho_l * 0.01))
    with pytest.raises(NoSolutionError):  # within gauge accuracy of saturation
        c.charge_from_state("903 psia", T, TEN_LITRES)
    assert c.charge_from_state("903 psia", T, TEN_LITRES, tolerance=0.001) > largest
    assert c.charge_from_state("890 psia", T, TEN_LITRES) < least


def test_unreachable_pressure():
    with pytest.raises(NoSolutionError, match="no temperature between"):
        c.temperature_for_pressure("1000 psia", 0.136, TEN_LITRES)  # a 2 % charge
    with pytest.raises(RangeError, match="pressure"):
        c.temperature_for_pressure("9000 psia", 6.8, TEN_LITRES)


@pytest.mark.parametrize(
    "call",
    [
        lambda: c.pressure_at("100 degF", 0.0, 0.01),
        lambda: c.pressure_at("100 degF", 6.8, "10 lb"),
        lambda: c.pressure_at("100 psi", 6.8, 0.01),
        lambda: c.pressure_at(700.0, 6.8, 0.01),
        lambda: c.pressure_at(310.0, 12.0, 0.01),
        lambda: c.pressure_at(310.0, [1.0, float("nan")], 0.01),
        lambda: c.charge_from_state([1e6, 2e6], 300.0, 0.01),
        lambda: c.charge_from_state("1000 psi", 300.0, 0.01),
        lambda: c.charge_from_state("1000 psig", 300.0, 0.01),
        lambda: c.liquid_full_temperature(-5.0),
    ],
)
def test_refusals(call):
    with pytest.raises((InputError, RangeError, UnitError)):
        call()


@settings(max_examples=200, deadline=None)
@given(st.floats(183.0, 520.0), st.floats(0.02, 7.6))
def test_temperature_and_pressure_are_inverse(T, charge):
    try:
        p = c.pressure_at(T, charge, TEN_LITRES)
    except N2OSimError:  # above 50 MPa
        return
    assert c.temperature_for_pressure(p, charge, TEN_LITRES) == pytest.approx(T, abs=1e-5)
