"""The computed tables of the model page about doubts, against what is outside the project."""

from __future__ import annotations

import pytest
from reference_rows import read
from verification import Check

from n2osim.docs import doubts, numbers
from n2osim.hardware.engine import EngineSide
from n2osim.results.engine_side import engine_point

LAYERS = Check(
    "Charge and pressure",
    "excess of a layered bottle over the mixed one",
    "two zones at one pressure, by CoolProp",
    "tests/data/stratification_pressure_computed.csv",
    "620-740 kg/m3, 5-50 % of the mass 0.5-5 K warmer",
    0.05,
    "psi",
    seen="other program",
    used="no",
)


def test_layered_bottle():
    rows = [r for r in read("stratification_pressure_computed.csv") if r["excess_psi"]]
    rows = [r for r in rows if float(r["density_kg_m3"]) > 600.0]
    assert len(rows) > 30
    for r in rows:
        given = [float(r[k]) for k in ("p_Pa", "f_hot_mass", "dT_K", "density_kg_m3")]
        LAYERS.absolute(doubts.excess_pressure(*given) / 6894.757, float(r["excess_Pa"]) / 6894.757)


def test_power_line_by_line_is_what_the_engine_side_computes():
    """0.045 kg/s with the defaults; by hand 0.045 * 0.36350 / 3.3789 * 43.44e6 * 0.3131 W."""
    crank = engine_point(EngineSide(fuel="petrol"), 0.045).power
    assert crank == pytest.approx(0.045 * 0.36350 / 3.3789 * 43.44e6 * 0.3131, rel=2e-3)
    assert f"{crank / 1e3:.1f} kW" in doubts.power_steps()[-2][2]


def test_inside_coefficient_lies_where_a_sister_fluid_puts_it():
    """0.10 to 0.15 Ra^(1/3) on carbon dioxide at the same reduced state; computed, not measured."""
    for flux, (low, high) in doubts.EXPECTED.items():
        for T in (306.0, 308.0):
            assert low < doubts.film_at_flux(T, 1e3 * flux) < high


def test_a_number_without_a_maker_or_a_row_is_refused():
    with pytest.raises(KeyError, match="no such number"):
        numbers.filled("<!-- n: no such number -->1<!-- /n -->")
    with pytest.raises(KeyError, match="0 rows"):
        numbers.value("worst: phlogiston")
    with pytest.raises(KeyError, match="rows of the verification page"):
        numbers.value("worst: saturated-liquid viscosity")
