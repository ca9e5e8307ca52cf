"""Orifice models against measured N2O flow (Waxman et al., AIAA 2013-3636) and trade sayings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from orifice_cases import AREA, CD, PSI, flux, liquid, rows
from scipy.optimize import brentq
from verification import Check

from n2osim.fluid.saturation import sat
from n2osim.physics.orifice import DEFAULT_MODEL, HEM, MODELS, NHNE

TOPIC, PAPER = "Orifices", "Waxman et al., AIAA 2013-3636"
CD_USED = "its discharge coefficient: single-phase points of the same figure"
PICKED = "picked: the exponent, 0.4 of three published ones; and " + CD_USED
PLATEAU_HEM = Check(
    TOPIC,
    "measured choked N2O flow: homogeneous equilibrium",
    PAPER,
    "tests/data/n2o_orifice_waxman2013_injector3.csv",
    "371, 269 psi over saturation; Cd 0.781",
    0.02,
    "%",
    seen="digitised",
    used=CD_USED,
)
PLATEAU = Check(
    TOPIC,
    "measured choked N2O flow: default model (HNE)",
    PAPER,
    "tests/data/n2o_orifice_waxman2013_injector3.csv",
    "four plateaus, 79-371 psi over saturation; Cd 0.781",
    0.02,
    "%",
    seen="digitised",
    used=PICKED,
)
LEVELS = Check(
    TOPIC,
    "measured critical N2O flow: default model (HNE)",
    PAPER,
    "tests/data/n2o_orifice_waxman2013_critical.csv",
    "eight levels, 41-371 psi; inlet 280-282 K",
    0.05,
    "%",
    seen="digitised",
    used=PICKED,
)
CURVES = Check(
    TOPIC,
    "measured N2O flow, root mean square: default model (HNE)",
    PAPER,
    "tests/data/n2o_orifice_waxman2013_injector3.csv",
    "50 points beyond 20 psi drop; digitising error 2 %",
    0.03,
    "%",
    seen="digitised",
    used=PICKED,
)


def plateau(level: str) -> tuple[float, float, list[tuple[float, float]]]:
    """(p0, T0, measured (p_back, kg/s) of the three lowest back pressures) of a level."""
    table = [r for r in rows("n2o_orifice_waxman2013_injector3.csv") if r["P1super_psi"] == level]
    points = [(float(r["P2_Pa_abs"]), float(r["mdot_meas_kg_s"])) for r in table]
    return float(table[0]["P1_Pa_abs"]), float(table[0]["T1_K"]), sorted(points)[:3]


def single_phase(level: str) -> list[float]:
    """Discharge coefficients of the points of a level above saturation, from 20 psi of drop on."""
    found = []
    for r in rows("n2o_orifice_waxman2013_injector3.csv"):
        p0, T0, p_back = float(r["P1_Pa_abs"]), float(r["T1_K"]), float(r["P2_Pa_abs"])
        if r["P1super_psi"] == level and float(r["dP_psi"]) >= 20.0 and p_back > sat(T0)[0]:
            ideal = AREA * math.sqrt(2.0 * liquid(T0, p0) * (p0 - p_back))
            found.append(float(r["mdot_meas_kg_s"]) / ideal)
    return found


def test_where_the_discharge_coefficient_comes_from():
    """CD is the mean of seven single-phase points; the other levels' would be 1 to 4 % lower."""
    means = {level: np.mean(single_phase(level)) for level in ("371", "269", "169", "79")}
    assert means["371"] == pytest.approx(CD, abs=5e-4)
    assert len(single_phase("371")) == 7
    assert all(0.96 < m / CD < 1.0 for level, m in means.items() if level != "371")


@pytest.mark.parametrize("level", ["371", "269"])
def test_equilibrium_on_the_measured_plateau(level):
    p0, T0, points = plateau(level)
    measured = np.mean([m for _, m in points])
    for p_back, _ in points:
        G, choked, *_ = flux(HEM, T0, liquid(T0, p0), p_back)
        assert choked == 1.0
        PLATEAU_HEM.relative(CD * AREA * G, measured)


@pytest.mark.parametrize("level", ["371", "269", "169", "79"])
def test_default_model_on_the_measured_plateau(level):
    """Within 1.7 %, held at 2 %; the exponent 0.4 was picked on these very data."""
    p0, T0, points = plateau(level)
    measured = np.mean([m for _, m in points])
    for p_back, _ in points:
        G, choked, *_ = flux(DEFAULT_MODEL, T0, liquid(T0, p0), p_back)
        assert choked == 1.0
        PLATEAU.relative(CD * AREA * G, measured)


@pytest.mark.parametrize("row", rows("n2o_orifice_waxman2013_critical.csv"))
@pytest.mark.parametrize("T0", [280.0, 281.0, 282.0])
def test_default_model_on_critical_flow_at_other_levels(row, T0):
    """Fig. 16: eight levels from 41 psi up; inlet temperature known to 1-2 K only."""
    p0 = sat(T0)[0] + float(row["P1super_psi"]) * PSI
    G, *_ = flux(DEFAULT_MODEL, T0, liquid(T0, p0), 1.5e6)
    LEVELS.relative(CD * AREA * G, float(row["mdot_critical_kg_s"]))


def test_default_model_along_the_whole_measured_curves():
    """All 51 points beyond 20 psi drop: RMS below 3 % (digitising error 2 %)."""
    errors = []
    for r in rows("n2o_orifice_waxman2013_injector3.csv"):
        if float(r["dP_psi"]) < 20.0:
            continue
        p0, T0 = float(r["P1_Pa_abs"]), float(r["T1_K"])
        G, *_ = flux(DEFAULT_MODEL, T0, liquid(T0, p0), float(r["P2_Pa_abs"]))
        errors.append(CD * AREA * G / float(r["mdot_meas_kg_s"]) - 1.0)
    assert len(errors) == 50
    CURVES.below(math.sqrt(np.mean(np.square(errors))))


def test_equilibrium_falls_short_and_nhne_overshoots_near_saturation():
    """Why neither is the default: 20 % low at 41 psi; 30 % high and still rising at 79 psi."""
    T0 = 281.0
    p0 = sat(T0)[0] + 41.28 * PSI
    G, *_ = flux(HEM, T0, liquid(T0, p0), 1e5)
    assert pytest.approx(0.80, abs=0.03) == CD * AREA * G / 0.04828
    p0, T0, points = plateau("79")
    p_back, measured = points[0]
    G, *_ = flux(NHNE, T0, liquid(T0, p0), p_back)
    assert CD * AREA * G / measured > 1.25


def test_trade_saying_of_the_28_thou_jet():
    """Common practice, no source: "a 0.028 in jet at 1000 psi is a 50 hp jet". Not tuned to.

    Saturated liquid at 1000 psig, Cd 0.8, stoichiometric CH1.87 petrol, BSFC 0.5 lb/hp/h.
    """
    T = brentq(lambda t: sat(t)[0] - 1014.7 * PSI, 290.0, 309.0)
    area = math.pi / 4.0 * (0.028 * 0.0254) ** 2
    bsfc = 0.5 * 0.45359237 / (745.69987 * 3600.0)
    power = {
        name: 0.8 * area * flux(m.index, T, sat(T)[1], 101325.0)[0] / 9.296 / bsfc / 745.69987
        for name, m in MODELS.items()
    }
    expected = {"spi": 49.2, "nhne": 33.5, "omega": 16.3, "hne": 18.9, "hem": 17.8}
    assert power == pytest.approx(expected, rel=0.005)
