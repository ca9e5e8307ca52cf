"""Identities between the functions of state on a grid crowded around the critical point.

Each holds for any substance and ties different functions of the library together (Callen,
Thermodynamics, ch. 7). Slopes are central differences, extrapolated once (Richardson), so that what
is left is their own error.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from verification import Check

from n2osim import fluid
from n2osim.fluid.equation_of_state import eos
from n2osim.fluid.flash import state_prho, state_ps, state_pT
from n2osim.fluid.phase import TWO_PHASE
from n2osim.fluid.saturation import sat, sat_rho
from n2osim.fluid.state import state_Trho

T_C, RHO_C = fluid.T_CRITICAL, fluid.RHO_CRITICAL
TOPIC, EXACT = "Thermodynamic identities", "exact for any substance"
GRID = "3600 states, as near as 1 uK and 1e-6 of the critical density, all sides"
ONE = GRID + "; one phase"
CLAPEYRON = Check(
    TOPIC,
    "dp/dT of saturation (slope of p) against (h_v - h_l)/(T dv)",
    "Clausius-Clapeyron",
    EXACT,
    "200 temperatures, to 1 mK below critical",
    1e-7,
    seen="exact",
    used="no",
)
GIBBS = Check(
    TOPIC,
    "g_l - g_v on the saturation line (of R T)",
    "equal Gibbs energies",
    EXACT,
    "200 temperatures, to 1 uK below critical",
    1e-10,
    seen="exact",
    used="no",
)
SLOPE_U = Check(
    TOPIC, "c_v against (du/dT)_v", "definition", EXACT, ONE, 1e-8, seen="exact", used="no"
)
SLOPE_S = Check(
    TOPIC, "c_v against T (ds/dT)_v", "T ds = du + p dv", EXACT, ONE, 1e-8, seen="exact", used="no"
)
HELMHOLTZ = Check(
    TOPIC, "(ds/dv)_T against (dp/dT)_v", "Maxwell", EXACT, ONE, 1e-8, seen="exact", used="no"
)
INSIDE = Check(
    TOPIC,
    "two phases: (ds/dv)_T against dp/dT of saturation",
    "Maxwell",
    EXACT,
    GRID + "; two phases",
    1e-7,
    seen="exact",
    used="no",
)
INSIDE_CV = Check(
    TOPIC,
    "two phases: c_v against (du/dT)_v and T (ds/dT)_v",
    "definition",
    EXACT,
    "two phases, to 10 mK from critical and edge",
    1e-6,
    seen="exact",
    used="no",
)
ENERGY = Check(
    TOPIC,
    "(dT/dv)_s against -(dp/ds)_v, by flashes",
    "Maxwell",
    EXACT,
    "one phase, to 0.3 K or 3 % of density from critical",
    1e-7,
    seen="exact",
    used="no",
)
ENTHALPY = Check(
    TOPIC,
    "(dT/dp)_s against (dv/ds)_p, by flashes",
    "Maxwell",
    EXACT,
    "the same",
    1e-7,
    seen="exact",
    used="no",
)
GIBBS_MAXWELL = Check(
    TOPIC,
    "(dv/dT)_p against -(ds/dp)_T, by flashes",
    "Maxwell",
    EXACT,
    "the same",
    2e-6,
    seen="exact",
    used="no",
)


def slope(f: Callable[[float], float], x: float, step: float) -> float:
    """df/dx of order four."""
    coarse = (f(x + step) - f(x - step)) / (2.0 * step)
    fine = (f(x + 0.5 * step) - f(x - 0.5 * step)) / step
    return (4.0 * fine - coarse) / 3.0


def crowded() -> list[tuple[float, float]]:
    """Temperatures and densities whose distance from the critical point is spread by decades."""
    dT = np.concatenate([-np.logspace(1.9, -6, 30), [0.0], np.logspace(-6, 1.9, 29)])
    dr = np.concatenate([-np.logspace(-0.05, -6, 30), [0.0], np.logspace(-6, 0.2, 29)])
    return [(float(T_C + a), float(RHO_C * (1.0 + b))) for a in dT for b in dr]


STATES = crowded()


def alone(T: float, rho: float, dT: float, drho: float, phase: int | None = None) -> bool:
    """Whether state and neighbours are all one phase (or all of ``phase``) and inside the range."""
    for a in (-1.01, 0.0, 1.01):
        for b in (-1.01, 0.0, 1.01):
            q = state_Trho(T + a * dT, rho + b * drho)
            if not q[0] > 0.0 or (q[6] == TWO_PHASE) != (phase == TWO_PHASE):
                return False
    return True


def test_signs():
    """c_v > 0, (dp/dT)_v > 0, and (dp/drho)_T >= 0 but for rounding where it vanishes."""
    tried = 0
    for T, rho in STATES:
        q = state_Trho(T, rho)
        if not q[0] > 0.0:
            continue
        tried += 1
        assert q[4] > 0.0, (T, rho)
        up = state_Trho(T * (1.0 + 1e-9), rho)
        assert up[0] > q[0] and up[1] > q[1] and up[3] > q[3], (T, rho)
        if q[6] != TWO_PHASE:
            _p, _u, _h, _s, cv, dpdT, dpdrho = eos(T, rho)
            assert cv > 0.0 and dpdT > 0.0, (T, rho)
            assert dpdrho > -1e-9 * 188.9 * T, (T, rho)
    assert tried > 3000


def test_one_phase_slopes():
    tried = 0
    for T, rho in STATES:
        dT, drho = 0.02, 1e-3 * rho
        if not alone(T, rho, dT, drho):
            dT, drho = 2e-3, 1e-4 * rho
            if not alone(T, rho, dT, drho):
                continue
        tried += 1
        p, _u, _h, _s, cv, _x, _phase = state_Trho(T, rho)
        SLOPE_U.relative(slope(lambda t, r=rho: state_Trho(t, r)[1], T, dT), cv)
        SLOPE_S.relative(T * slope(lambda t, r=rho: state_Trho(t, r)[3], T, dT), cv)
        dp_dT = slope(lambda t, r=rho: state_Trho(t, r)[0], T, dT)
        ds_dv = -(rho**2) * slope(lambda r, t=T: state_Trho(t, r)[3], rho, drho)
        HELMHOLTZ.relative(ds_dv, dp_dT)
        assert dp_dT > 0.0
    assert tried > 1500


def test_two_phase_slopes():
    tried = 0
    for T, rho in STATES:
        drho = 1e-4 * rho
        if T_C - T < 1e-3 or not alone(T, rho, 0.0, drho, TWO_PHASE):
            continue
        _p, rho_l, rho_v, _ul, _uv, _hl, _hv, s_l, s_v = sat(T)
        ds_dv = -(rho**2) * slope(lambda r, t=T: state_Trho(t, r)[3], rho, drho)
        step = min(0.02, 0.05 * (T_C - T))
        INSIDE.relative(ds_dv, slope(lambda t: sat_rho(t)[0], T, step))
        if T_C - T > 0.01 and alone(T, rho, step, 0.0, TWO_PHASE):
            tried += 1
            u_T = slope(lambda t, r=rho: state_Trho(t, r)[1], T, step)
            s_T = slope(lambda t, r=rho: state_Trho(t, r)[3], T, step)
            INSIDE_CV.relative([u_T, T * s_T], state_Trho(T, rho)[4])
    assert tried > 150, tried


def test_clausius_clapeyron_and_equal_gibbs_energies():
    for gap in np.concatenate([np.logspace(2.1, -6, 200)]):
        T = T_C - float(gap)
        _p, rho_l, rho_v, _ul, _uv, h_l, h_v, s_l, s_v = sat(T)
        GIBBS.below((h_l - T * s_l - h_v + T * s_v) / (188.9 * T))
        if gap >= 1e-3:
            by_slope = slope(lambda t: sat_rho(t)[0], T, min(0.02, 0.05 * float(gap)))
            CLAPEYRON.relative(by_slope, (h_v - h_l) / (T * (1.0 / rho_v - 1.0 / rho_l)))


def test_maxwell_relations_by_flashes():
    """Along isentropes, isobars and isotherms, through the inverse functions."""
    tried = 0
    for T, rho in STATES[::3]:
        far = max(abs(T - T_C) / T_C, abs(rho / RHO_C - 1.0) ** 2)
        if far < 1e-3 or not alone(T, rho, 5e-3, 3e-4 * rho):
            continue
        p, s = (state_Trho(T, rho)[k] for k in (0, 3))
        _p, _u, _h, _s, cv, dpdT, stiff = eos(T, rho)
        # Steps that move density by 3e-4 of itself and temperature by 4 mK at most, soft or stiff.
        drho = min(3e-4 * rho, 4e-3 * rho**2 * cv / (T * dpdT))
        ds, soft = 1e-5 * cv, drho * stiff
        hard = soft + drho * T * dpdT**2 / (rho**2 * cv)
        tried += 1

        def T_vs(r: float, s: float = s, t: float = T) -> float:
            """T at density r and entropy s, by Newton on the entropy."""
            for _ in range(6):
                q = state_Trho(t, r)
                t -= (q[3] - s) * t / q[4]
            return t

        dT_dv = -(rho**2) * slope(T_vs, rho, drho)
        dp_ds = 1.0 / slope(lambda x, r=rho: state_Trho(state_prho(x, r)[0], r)[3], p, 4e-3 * dpdT)
        ENERGY.relative(dT_dv, -dp_ds)
        dT_dp = slope(lambda x, s=s: state_ps(x, s)[0], p, hard)
        dv_ds = slope(lambda x, p=p: 1.0 / state_ps(p, x)[1], s, ds)
        ENTHALPY.relative(dT_dp, dv_ds)
        dv_dT = slope(lambda t, p=p: 1.0 / state_pT(p, t)[1], T, soft / dpdT)
        ds_dp = slope(lambda x, t=T: state_Trho(t, state_pT(x, t)[1])[3], p, soft)
        GIBBS_MAXWELL.relative(dv_dT, -ds_dp)
    assert tried > 300, tried
