"""The kernels against CoolProp, the source of the equation and the oracle for its evaluation."""

from __future__ import annotations

import json
import subprocess
import sys

import CoolProp
import numpy as np
import pytest
from fluid_sampling import coolprop_puhs, random_states
from verification import Check

from n2osim import fluid
from n2osim.fluid import coolprop_oracle, make_coefficients
from n2osim.fluid.equation_of_state import eos, stiffness
from n2osim.fluid.state import cp_beta, speed_of_sound

TOPIC, SOURCE = "Equation of state", "CoolProp's NitrousOxide: Lemmon & Span 2006"
PUHS = Check(
    TOPIC,
    "p, u, h, s",
    "CoolProp",
    SOURCE,
    "20,000 random states, half of them within 10^0.5 K of the critical point; its "
    "neighbourhood to 1 mK; corners of the range",
    1e-8,
    seen="same formula",
    used="the coefficients are this program's",
)
LITERAL = Check(
    TOPIC,
    "c_v, dp/dT, dp/drho (of RT) of the literal equation",
    "CoolProp",
    SOURCE,
    "1000 states, metastable ones too",
    1e-10,
    seen="same formula",
    used="the coefficients are this program's",
)
DERIVED = Check(
    TOPIC,
    "c_p, expansion, speed of sound",
    "CoolProp",
    SOURCE,
    "5 states",
    1e-9,
    seen="same formula",
    used="the coefficients are this program's",
)
CRITICAL = Check(
    TOPIC,
    "critical temperature, pressure, density",
    "CoolProp",
    SOURCE,
    "exact constants",
    1e-11,
    seen="same formula",
    used="the coefficients are this program's",
)
TENSION = Check(
    "Transport",
    "surface tension",
    "CoolProp",
    "Mulero et al. 2012",
    "185-309.4 K",
    1e-12,
    seen="same formula",
    used="the coefficients are this program's",
)

# Relative 1e-8; u, h and s pass through zero (the reference state is arbitrary), so they get an
# absolute floor there: 1e-8 of 1 kJ/kg and of 1 J/kg/K. Pressure never does, and gets none.
FLOORS = {"p": 0.0, "u": 1e3, "h": 1e3, "s": 1.0}


def departures(pairs: np.ndarray) -> dict[str, np.ndarray]:
    ours = fluid.state(pairs[:, 0], pairs[:, 1])
    theirs = np.array([coolprop_puhs(T, rho) for T, rho in pairs])
    return {
        name: np.abs(getattr(ours, name) - theirs[:, i])
        / np.maximum(np.abs(theirs[:, i]), FLOORS[name])
        for i, name in enumerate(FLOORS)
    }


def assert_close(pairs: np.ndarray) -> None:
    """Report every quantity's worst state, not just the first failure."""
    failures = []
    errors = departures(pairs)
    for name, error in errors.items():
        worst = int(np.argmax(error))
        if not error[worst] <= PUHS.limit:
            failures.append(f"{name}: {error[worst]:.2e} at T, rho = {pairs[worst].tolist()}")
    assert not failures, "; ".join(failures)
    PUHS.below(list(errors.values()))


def test_random_states_over_the_whole_range_and_about_the_critical_point():
    pairs = random_states(20_000, seed=20)
    assert len(pairs) == 20_000
    phases = np.asarray(fluid.state(pairs[:, 0], pairs[:, 1]).phase)
    assert all(np.sum(phases == phase) > 500 for phase in fluid.Phase)
    assert_close(pairs)


def test_one_millikelvin_either_side_of_the_critical_point_without_gap():
    T = fluid.T_CRITICAL + np.linspace(-1e-3, 1e-3, 201)
    rho = fluid.RHO_CRITICAL * np.linspace(0.97, 1.03, 61)
    grid = np.stack([a.ravel() for a in np.meshgrid(T, rho)], axis=1)
    published = [[309.52 + d, 452.0115] for d in (-1e-3, -1e-6, 0.0, 1e-6, 5e-4, 1e-3)]
    exact = [[fluid.T_CRITICAL, fluid.RHO_CRITICAL]]
    assert_close(np.concatenate([grid, published, exact]))
    # No step either: along every isochore pressure and energy rise by what their slopes allow.
    states = fluid.state(*np.meshgrid(T, rho))
    assert np.all(np.isfinite(states.cv))
    assert np.all(np.diff(states.p, axis=1) > 0.0)
    assert np.all(np.diff(states.u, axis=1) > 0.0)
    step = 1e-5  # K; slope of the pressure 0.17 MPa/K, true c_v at most 9.2 kJ/kg/K here
    assert np.max(np.diff(states.p, axis=1)) < 0.2e6 * step
    assert np.max(np.diff(states.u, axis=1)) < 9.5e3 * step


def test_corners_of_the_range():
    corners = [
        (fluid.T_TRIPLE, 1e-4),
        (fluid.T_TRIPLE, fluid.saturation(fluid.T_TRIPLE).rho_v),
        (fluid.T_TRIPLE, fluid.saturation(fluid.T_TRIPLE).rho_l),
        (fluid.T_TRIPLE, fluid.state_from_p_T(fluid.P_MAX, fluid.T_TRIPLE).rho * (1 - 1e-9)),
        (fluid.T_MAX, 1e-4),
        (fluid.T_MAX, fluid.state_from_p_T(fluid.P_MAX, fluid.T_MAX).rho * (1 - 1e-9)),
    ]
    assert_close(np.array(corners))


def test_literal_equation_and_its_derivatives():
    """eos() also inside the dome, where CoolProp is told to take the equation literally."""
    state = coolprop_oracle.abstract_state()
    state.specify_phase(CoolProp.iphase_gas)
    p, t, d = CoolProp.iP, CoolProp.iT, CoolProp.iDmass
    try:
        for T, rho in random_states(1000, seed=21, near_critical=0.2):
            state.update(CoolProp.DmassT_INPUTS, rho, T)
            expected = [
                state.cvmass(),
                state.first_partial_deriv(p, t, d),
                state.first_partial_deriv(p, d, t),
            ]
            scale = [abs(expected[0]), abs(expected[1]), 188.9 * T]
            LITERAL.below((np.array(eos(T, rho)[4:]) - expected) / scale, f"at {T}, {rho}")
            assert stiffness(T, rho) == pytest.approx(eos(T, rho)[6], abs=1e-11 * scale[2])
    finally:
        state.unspecify_phase()


def test_cp_expansion_and_speed_of_sound():
    state = coolprop_oracle.abstract_state()
    for T, rho in ((250.0, 1050.0), (300.0, 100.0), (320.0, 700.0), (312.0, 450.0), (500.0, 5.0)):
        state.update(CoolProp.DmassT_INPUTS, rho, T)
        cp, beta = cp_beta(T, rho)
        found = (cp, beta, speed_of_sound(T, rho))
        expansion = state.isobaric_expansion_coefficient()
        DERIVED.relative(found, (state.cpmass(), expansion, state.speed_sound()))


def test_surface_tension_and_constants():
    state = coolprop_oracle.abstract_state()
    for T in (185.0, 250.0, 300.0, 309.4):
        state.update(CoolProp.QT_INPUTS, 0.0, T)
        TENSION.relative(fluid.surface_tension(T), state.surface_tension())
    ours = (fluid.T_CRITICAL, fluid.P_CRITICAL, fluid.RHO_CRITICAL)
    CRITICAL.relative(ours, (state.T_critical(), state.p_critical(), state.rhomass_critical()))
    assert state.molar_mass() == fluid.MOLAR_MASS
    assert (fluid.T_TRIPLE, fluid.T_MAX, fluid.P_MAX) == (182.33, 525.0, 50e6)


def test_shipped_coefficients_are_those_of_the_installed_coolprop():
    shipped = json.loads(make_coefficients.COEFFICIENT_FILE.read_text())
    current = make_coefficients.extract_coefficients()
    remedy = (
        f"the coefficient file was made from CoolProp {shipped['coolprop_version']}, installed is "
        f"{current['coolprop_version']} and differs: run python -m n2osim.fluid.make_coefficients"
    )
    versions = {"coolprop_version"}  # another release with the same equation is welcome
    assert set(shipped) == set(current), remedy
    for key in set(current) - versions:
        assert_same(shipped[key], current[key], remedy, key)


def assert_same(shipped: object, current: object, remedy: str, key: str) -> None:
    """Equal structure, numbers equal to rounding (fits go through a linear solver)."""
    if isinstance(current, dict):
        assert isinstance(shipped, dict) and set(shipped) == set(current), remedy
        for name, entry in current.items():
            assert_same(shipped[name], entry, remedy, f"{key}.{name}")
    elif isinstance(current, str):
        assert shipped == current, remedy
    else:
        a, b = np.asarray(shipped, dtype=float), np.asarray(current, dtype=float)
        assert a.shape == b.shape, f"{key}: {remedy}"
        scale = np.max(np.abs(b)) if b.ndim else abs(b)
        # The shares of c_v are differences that vanish towards the critical point: more rounding.
        limit = 1e-6 if key.startswith("saturation.cv_") else 1e-9
        assert np.all(np.abs(a - b) <= limit * scale), f"{key}: {remedy}"


def test_coolprop_is_not_imported_at_run_time():
    code = (
        "import sys; from n2osim import fluid; fluid.state(300.0, 500.0); fluid.saturation(300.0);"
        "fluid.viscosity(300.0, 10.0); sys.exit('CoolProp' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], timeout=120).returncode == 0


def test_kernels_run_unchanged_as_plain_python():
    """NUMBA_DISABLE_JIT=1 gives the same numbers (to rounding of exp and log)."""
    code = (
        "import os; os.environ['NUMBA_DISABLE_JIT'] = '1';"
        "from n2osim import fluid as f;"
        "a = f.state([200.0, 293.15, 320.0], [1200.0, 500.0, 400.0]);"
        "b = f.state_from_p_h(8e6, 3e5); c = f.state_from_rho_u(500.0, 2.5e5);"
        "print(*a.p, *a.cv, b.T, b.rho, c.T, f.conductivity(320.0, 300.0))"
    )
    out = subprocess.run(
        [sys.executable, "-c", code], timeout=120, capture_output=True, text=True, check=True
    ).stdout
    a = fluid.state([200.0, 293.15, 320.0], [1200.0, 500.0, 400.0])
    b = fluid.state_from_p_h(8e6, 3e5)
    c = fluid.state_from_rho_u(500.0, 2.5e5)
    expected = [*a.p, *a.cv, b.T, b.rho, c.T, fluid.conductivity(320.0, 300.0)]
    assert [float(x) for x in out.split()] == pytest.approx(expected, rel=1e-10)
