"""Thermodynamic identities: they hold for any substance, whatever the coefficients."""

from __future__ import annotations

import numpy as np
import pytest
from fluid_sampling import coolprop_puhs, random_states
from verification import Check

from n2osim import fluid
from n2osim.fluid.saturation import dpdT_sat, sat, sat_caloric, sat_rho
from n2osim.fluid.state import state_Trho

TOPIC = "Thermodynamic identities"
TRUE_CV = Check(
    TOPIC,
    "two phases: c_v against (du/dT)_v of CoolProp's u",
    "CoolProp",
    "exact",
    "over 1000 random states",
    1e-4,
    "%",
    seen="same formula",
    used="no",
)
YANG = Check(
    TOPIC,
    "two phases: c_v against v T p_s'' - T g''",
    "Yang & Yang 1964",
    "for any substance",
    "220-307 K; second differences",
    2e-4,
    "%",
    seen="exact",
    used="no",
)
H = Check(
    TOPIC,
    "h against u + p/rho",
    "definition",
    "exact",
    "2000 random states",
    1e-9,
    seen="exact",
    used="no",
)
IDEAL = Check(
    TOPIC,
    "dilute gas: p/(rho R T), (h - u)/(R T)",
    "1",
    "exact limit; R of CODATA 1998",
    "185-520 K, 1e-4 kg/m3",
    2e-6,
    seen="exact",
    used="no",
)
TABULATED = Check(
    TOPIC,
    "tabulated saturated u and s",
    "the equation at saturated densities",
    "itself",
    "1600 temperatures, to 1 uK below critical",
    1e-9,
    seen="itself",
    used="no",
)


def two_phase_states() -> list[tuple[float, float]]:
    pairs = random_states(6000, seed=30)
    inside = np.asarray(fluid.state(pairs[:, 0], pairs[:, 1]).phase) == fluid.Phase.TWO_PHASE
    return [(float(T), float(rho)) for T, rho in pairs[inside]]


def test_two_phase_cv_is_the_slope_of_u():
    """True c_v against a central difference of CoolProp's own u at constant density."""
    tried = 0
    for T, rho in two_phase_states():
        step = min(2e-3, 0.02 * (fluid.T_CRITICAL - T))
        ends = [state_Trho(T + d, rho) for d in (-step, step)]
        if step < 2e-5 or T - step < fluid.T_TRIPLE or any(end[6] != 1 for end in ends):
            continue  # too near the critical point or the dome's edge for a difference
        u = [coolprop_puhs(T + d, rho)[1] for d in (-step, step)]
        slope = (u[1] - u[0]) / (2.0 * step)
        TRUE_CV.relative(state_Trho(T, rho)[4], slope)
        tried += 1
    assert tried > 1000


def test_two_phase_cv_is_twice_what_coolprop_answers():
    """The trap: CoolProp 8's cvmass() is no two-phase c_v (1339 against 2658 J/kg/K here)."""
    assert fluid.state(293.15, 500.0).cv == pytest.approx(2658.0, abs=1.0)


def test_yang_yang():
    """c_v = v T p_sat'' - T g'' with g = h - T s on the saturation line (differences of both)."""
    h = 0.02
    for T, rho in ((220.0, 300.0), (270.0, 600.0), (300.0, 400.0), (307.0, 500.0)):
        p = [sat_rho(T + d)[0] for d in (-h, 0.0, h)]
        g = [q[5] - t * q[7] for t in (T - h, T, T + h) for q in [sat(t)]]
        second_p = (p[0] - 2.0 * p[1] + p[2]) / h**2
        second_g = (g[0] - 2.0 * g[1] + g[2]) / h**2
        expected = T * second_p / rho - T * second_g
        YANG.relative(fluid.state(T, rho).cv, expected)


def test_clausius_clapeyron():
    T = np.concatenate(
        [np.linspace(182.34, 309.0, 200), fluid.T_CRITICAL - np.logspace(-4, -0.3, 60)]
    )
    for t in T:
        p, rho_l, rho_v, _u_l, _u_v, h_l, h_v, _s_l, _s_v = sat(t)
        clapeyron = (h_v - h_l) / (t * (1.0 / rho_v - 1.0 / rho_l))
        assert dpdT_sat(t) == pytest.approx(clapeyron, rel=1e-7), t
        step = 1e-3 * min(1.0, fluid.T_CRITICAL - t)
        if t - step > fluid.T_TRIPLE:
            slope = (sat_rho(t + step)[0] - sat_rho(t - step)[0]) / (2.0 * step)
            assert dpdT_sat(t) == pytest.approx(slope, rel=1e-6), t
        assert p > 0.0


def test_phases_are_in_equilibrium():
    """Equal pressure and Gibbs energy of the two phases in the literal equation."""
    from n2osim.fluid.equation_of_state import eos

    for T in np.concatenate([np.linspace(182.33, 309.5, 100), [309.52, 309.5205]]):
        p, rho_l, rho_v = sat_rho(T)
        liquid, vapour = eos(T, rho_l), eos(T, rho_v)
        scale = rho_l * 188.9 * T  # what the liquid's pressure is a small difference of
        assert liquid[0] == pytest.approx(p, abs=1e-12 * scale)
        assert vapour[0] == pytest.approx(p, rel=1e-11)
        gibbs = [q[2] - T * q[3] for q in (liquid, vapour)]
        assert gibbs[0] == pytest.approx(gibbs[1], abs=1e-10 * 188.9 * T)


def test_tabulated_saturated_energies_are_the_equation_at_the_saturated_densities():
    from n2osim.fluid.equation_of_state import eos

    for T in np.concatenate(
        [np.linspace(182.33, 309.5, 1500), fluid.T_CRITICAL - np.logspace(-6, -2, 100)]
    ):
        _p, rho_l, rho_v = sat_rho(T)
        u_l, u_v, s_l, s_v, _c_l, _c_v = sat_caloric(T)
        liquid, vapour = eos(T, rho_l), eos(T, rho_v)
        for fit, exact in ((u_l, liquid[1]), (u_v, vapour[1])):
            TABULATED.below((fit - exact) / max(abs(exact), 1e3), f"at {T}")
        for fit, exact in ((s_l, liquid[3]), (s_v, vapour[3])):
            TABULATED.below((fit - exact) / max(abs(exact), 1.0), f"at {T}")


def test_maxwell_relation_in_one_phase():
    """(ds/dv)_T = (dp/dT)_v, both by central differences, and du = T ds - p dv along isotherms."""
    cases = ((200.0, 1220.0), (280.0, 60.0), (315.0, 450.0), (330.0, 900.0), (450.0, 0.5))
    for T, rho in cases:
        a, b = fluid.state(T, rho * 1.0002), fluid.state(T, rho / 1.0002)
        d_v = 1.0 / b.rho - 1.0 / a.rho
        hot, cold = fluid.state(T + 0.05, rho), fluid.state(T - 0.05, rho)
        dp_dT = (hot.p - cold.p) / 0.1
        assert (b.s - a.s) / d_v == pytest.approx(dp_dT, rel=2e-6)
        pressure = fluid.state(T, rho).p
        du_dv = (b.u - a.u) / d_v
        assert du_dv == pytest.approx(T * dp_dT - pressure, rel=1e-5, abs=1e-6 * T * dp_dT)


def test_h_is_u_plus_p_over_rho_everywhere():
    pairs = random_states(2000, seed=31)
    s = fluid.state(pairs[:, 0], pairs[:, 1])
    np.testing.assert_allclose(s.h, s.u + s.p / s.rho, rtol=1e-13, atol=1e-7)
    H.below((s.h - s.u - s.p / s.rho) / np.maximum(np.abs(s.h), 1e3))


def test_dilute_gas_is_ideal():
    """p -> rho R T, h - u -> R T, R from the CODATA 1998 value the equation was fitted with."""
    R = 8.314472 / 0.0440128
    for T in (185.0, 300.0, 520.0):
        s = fluid.state(T, 1e-4)
        IDEAL.relative([s.p / 1e-4 / (R * T), (s.h - s.u) / (R * T)], 1.0)


def test_reference_state_is_saturated_liquid_at_the_normal_boiling_point():
    """h = s = 0 there (Lemmon & Span 2006); what the docstrings promise."""
    line = fluid.saturation(fluid.saturation_temperature(101325.0))
    assert line.h_l == pytest.approx(0.0, abs=1e-3)
    assert line.s_l == pytest.approx(0.0, abs=1e-5)
