"""The default model in short passages: kernels, an independent twin, and measured flows.

Nothing is measured of N2O in a short jet. The twin (short_reference.py) is the same model written
again for any fluid of CoolProp's; it must agree with the kernels on nitrous oxide, and what it says
of nitrogen and refrigerants is compared with what was measured of them.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from orifice_cases import PSI, rows
from orifice_table import PAGE, nitrogen, tubes, written
from short_reference import fluid, inlet
from verification import Check

from n2osim.fluid.equation_of_state import T_CRITICAL
from n2osim.fluid.flash import state_ph, state_pT
from n2osim.fluid.saturation import sat, sat_T
from n2osim.fluid.state import state_Trho
from n2osim.hardware.feed import Feed
from n2osim.hardware.jets import EDGES, Jets
from n2osim.physics.feed_chain import feed_elements
from n2osim.physics.feed_network import build_flow_map
from n2osim.physics.orifice import DEFAULT_MODEL, HEM, HNE, MODELS, orifice_flux
from n2osim.physics.short_jet import jet_flux

TOPIC = "Orifices"
TWIN = Check(
    TOPIC,
    "default model in short jets, N2O",
    "the same model on CoolProp, written again",
    "tests/physics/short_reference.py",
    "saturated and compressed liquid, reduced temperature 0.85-0.99",
    0.005,
    "%",
    seen="itself",
    used="no",
)
NITROGEN = Check(
    TOPIC,
    "measured choked nitrogen flow near saturation: default model, short",
    "Simoneau & Hendricks 1979",
    "tests/data/n2_nozzle_choked_flow.csv",
    "L/D 3.2, p0/psat < 1.25, reduced temperature 0.87-0.99; Cd 0.945",
    0.12,
    "%",
    seen="second-hand",
    used="the depth of the metastable liquid and its fade with compression",
)
NITROGEN_ALL = Check(
    TOPIC,
    "measured choked nitrogen flow: default model, short",
    "Simoneau & Hendricks 1979",
    "tests/data/n2_nozzle_choked_flow.csv",
    "L/D 3.2, all with reduced temperature above 0.86; constants fitted to these rows",
    0.05,
    "%",
    seen="second-hand",
    used="the depth of the metastable liquid and its fade with compression",
)
TUBES = Check(
    TOPIC,
    "fits of measured short-tube flow, root mean square: default model",
    "Kim, O'Neal, Yuan, Payne 1994-2004",
    "tests/data/short_tube_refrigerant_fits.csv",
    "sharp, L/D 5-12, mean of two fits; Cd 0.80",
    0.20,
    "%",
    seen="second-hand",
    used="the fade with length",
)
SQUARE = Check(
    TOPIC,
    "measured N2O plateau, square edge: default model",
    "Nino & Razavi, AIAA 2019-4154",
    "tests/data/n2o_orifice_square_edged.csv",
    "L/D 12.3, 280 K, past the knee; Cd of a sharp edge",
    0.05,
    "%",
    seen="second-hand",
    used="no",
)
MEAN_MAP = Check(
    TOPIC,
    "flow map of a jet between short and long",
    "orifice solved at the state",
    "mean of two maps, node by node",
    "L/D 2, 6 and 9, liquid, vapour, supercritical",
    0.015,
    "%",
    seen="itself",
    used="no",
)


def ours(share: float, p: float, h: float, back: float = 2e5) -> tuple[float, ...]:
    T, rho, _x, _phase = state_ph(p, h)
    return jet_flux(HNE, share, p, h, state_Trho(T, rho)[3], rho, T, back)


@pytest.mark.parametrize("Tr", (0.85, 0.90, 0.93, 0.942, 0.95, 0.96, 0.97, 0.985, 0.99))
@pytest.mark.parametrize("over", (1.0, 1.1, 1.4, 1.8))
def test_kernels_agree_with_the_twin(Tr, over):
    T = Tr * T_CRITICAL
    p = sat(T)[0] * over
    there = inlet("NitrousOxide", p, T, saturated=over == 1.0)
    for share in (0.0, 0.4, 1.0):
        found = ours(share, there.p0, there.h0)
        assert found[1] == 1.0  # choked
        TWIN.relative(found[0], there.flux(share))


def test_nitrogen_nozzle():
    table = list(nitrogen())
    assert len(table) >= 55
    close = [f.error for f in table if f.over < 1.25 and f.Tr > 0.87]
    assert len(close) >= 4
    NITROGEN.below(close)
    NITROGEN_ALL.below([f.error for f in table if f.Tr > 0.86])
    cold = [f.error for f in table if f.Tr < 0.86]
    assert max(cold) < 0.15  # Tr 0.75, beyond any bottle: high


def test_short_tubes():
    errors = np.array([f.error for f in tubes()])
    assert len(errors) == 192
    TUBES.below(math.sqrt(np.mean(errors**2)))
    assert abs(np.mean(errors)) < 0.1


def test_the_table_of_measured_flow_is_in_the_page():
    page = PAGE.read_text(encoding="utf-8")
    assert written(page) == page, "run: python tests/physics/orifice_table.py"


def test_square_edged_plateau():
    for row in rows("n2o_orifice_square_edged.csv")[-2:]:
        T, p = float(row["T0_K"]), float(row["p0_Pa"])
        rho = state_pT(p, T)[1]
        _p, _u, h, s = state_Trho(T, rho)[:4]
        share = Jets(1, "1.5 mm", edge="sharp", length="18.4 mm").short_share
        G = jet_flux(DEFAULT_MODEL, share, p, h, s, rho, T, float(row["p_back_Pa"]))[0]
        SQUARE.relative(EDGES["sharp"].cd * G, float(row["G_kg_m2_s"]))


def test_long_jets_and_other_models_are_unchanged_to_the_bit():
    for Tr in (0.88, 0.95, 0.99):
        T = Tr * T_CRITICAL
        p, rho, _v, _u, _w, h, _h, s, _s = sat(T)
        for model in MODELS.values():
            plain = orifice_flux(model.index, p, h, s, rho, T, 3e5)
            assert jet_flux(model.index, 0.0, p, h, s, rho, T, 3e5) == plain
            if model.index != HNE:
                assert jet_flux(model.index, 1.0, p, h, s, rho, T, 3e5) == plain
    assert Jets(1, "1 mm", length="12 mm").short_share == 0.0
    assert Jets.effective("3 mm2").short_share == 0.0
    assert Jets(1, "1 mm", length="3 mm").short_share == Jets(1, "1 mm").short_share == 1.0


def test_what_is_known_of_a_drilled_jet_of_saturated_nitrous_oxide():
    """Joined from the sets above by reduced temperature: within its doubt everywhere."""
    known = {288: (1.5, 2.1), 292: (1.45, 1.75), 297: (1.15, 1.45), 300: (1.1, 1.25)}
    known |= {305: (1.05, 1.2), 309: (1.0, 1.08)}
    for T, (low, high) in known.items():
        p, rho, _v, _u, _w, h, _h, s, _s = sat(float(T))
        ratio = ours(1.0, p, h)[0] / orifice_flux(HEM, p, h, s, rho, float(T), 2e5)[0]
        assert low * 0.98 < ratio < high * 1.02, (T, ratio)


def test_flux_is_continuous_and_falls_with_length_and_back_pressure():
    """Across the saturation line, along it, in back pressure and in length."""
    T = 290.0
    p, _l, _v, _u, _w, h_l, h_v, *_ = sat(T)
    around = [ours(1.0, p, h_l + dx * (h_v - h_l))[0] for dx in (-1e-7, 0.0, 1e-7)]
    assert np.ptp(around) < 1e-4 * around[1]
    along = np.array([ours(1.0, q, sat(sat_T(q))[5])[0] for q in np.linspace(3e6, 7.2e6, 300)])
    assert np.max(np.abs(np.diff(along, 2))) < 0.004 * along.max()
    backs = np.linspace(0.0, p, 120)
    flux = np.array([ours(1.0, p, h_l, back)[0] for back in backs])
    assert np.all(np.diff(flux) <= 1e-9 * flux[0]) and flux[-1] == 0.0
    lengths = [Jets(1, 1e-3, length=ratio * 1e-3).short_share for ratio in np.linspace(1, 14, 27)]
    assert np.all(np.diff(lengths) <= 0.0)
    mixtures = [ours(1.0, p, h_l + x * (h_v - h_l))[0] for x in np.linspace(0.0, 1.0, 60)]
    assert np.all(np.diff(mixtures) < 0.0)


@pytest.mark.parametrize("ratio", (2.0, 6.0, 9.0))
def test_map_between_short_and_long(ratio):
    jets = Jets(1, "1 mm", length=ratio * 1e-3)
    chart = build_flow_map(feed_elements(Feed(jets)), 101325.0)
    share = jets.short_share
    for T, rho in ((280.0, 900.0), (288.0, 850.0), (296.0, 800.0), (304.0, 700.0), (315.0, 500.0)):
        p, _u, h, s = state_Trho(T, rho)[:4]
        exact = jet_flux(HNE, share, p, h, s, rho, T, 101325.0)[0] * jets.cda
        MEAN_MAP.relative(chart.flow(p, rho), exact)
    for T in np.linspace(262.0, 309.0, 40):
        p, rho, rho_v, _u, _w, h, h_v, s, s_v = sat(T)
        exact = jet_flux(HNE, share, p, h, s, rho, T, 101325.0)[0] * jets.cda
        MEAN_MAP.relative(chart.flow(p, rho), exact)
        exact = jet_flux(HNE, share, p, h_v, s_v, rho_v, T, 101325.0)[0] * jets.cda
        MEAN_MAP.relative(chart.flow(p, rho_v), exact)


def test_edges_bring_their_coefficient():
    assert Jets(1, 1e-3).cd == 0.8
    assert Jets(1, 1e-3, edge="sharp").cd == 0.68
    assert Jets(1, 1e-3, 0.71, edge="sharp").cd == 0.71
    measured = [float(r["Cd"]) for r in rows("n2o_orifice_waxman2013_cd.csv")]
    assert EDGES["sharp"].cd == pytest.approx(np.mean(measured), abs=0.01)
    assert EDGES["sharp"].low < min(measured) and max(measured) < EDGES["sharp"].high
    assert PSI and fluid("Nitrogen").T_critical() == pytest.approx(126.19, abs=0.01)
