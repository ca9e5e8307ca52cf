"""The public functions: arrays, results, units, and errors that say what was wrong."""

from __future__ import annotations

import dataclasses
import doctest
import pickle
import threading

import numpy as np
import pytest
from fluid_sampling import random_states

from n2osim import fluid
from n2osim.errors import InputError, RangeError, UnitError
from n2osim.fluid import api
from n2osim.fluid.state import state_Trho

PAIRS = random_states(3000, seed=60)
FIELDS = [field.name for field in dataclasses.fields(fluid.State)]


def test_array_equals_scalar_to_the_last_bit():
    whole = fluid.state(PAIRS[:, 0], PAIRS[:, 1])
    for i, (T, rho) in enumerate(PAIRS[:500]):
        one = fluid.state(float(T), float(rho))
        for name in FIELDS:
            assert getattr(one, name) == getattr(whole, name)[i], name
        kernel = state_Trho(T, rho)
        assert (one.p, one.u, one.h, one.s, one.cv) == kernel[:5]


@pytest.mark.parametrize(
    ("function", "columns"),
    [
        (fluid.state_from_rho_u, ("rho", "u")),
        (fluid.state_from_p_rho, ("p", "rho")),
        (fluid.state_from_p_h, ("p", "h")),
        (fluid.state_from_p_s, ("p", "s")),
        (fluid.state_from_p_T, ("p", "T")),
    ],
)
def test_flashes_array_equals_scalar_and_round_trip(function, columns):
    start = fluid.state(PAIRS[:, 0], PAIRS[:, 1])
    a, b = (getattr(start, name) for name in columns)
    if function is fluid.state_from_p_T:
        keep = (np.asarray(start.phase) != 1) & (np.abs(start.T - fluid.T_CRITICAL) > 0.05)
        start = fluid.state(start.T[keep], start.rho[keep])
        a, b = a[keep], b[keep]
    whole = function(a, b)
    np.testing.assert_allclose(whole.T, start.T, rtol=1e-10)
    np.testing.assert_allclose(whole.rho, start.rho, rtol=1e-8)
    np.testing.assert_allclose(whole.p, start.p, rtol=1e-8)
    for i in range(0, len(a), 25):
        one = function(float(a[i]), float(b[i]))
        assert all(getattr(one, name) == getattr(whole, name)[i] for name in FIELDS)


def test_saturation_array_equals_scalar():
    T = np.linspace(fluid.T_TRIPLE, fluid.T_CRITICAL, 300)
    whole = fluid.saturation(T)
    for i in (0, 17, 150, 299):
        one = fluid.saturation(float(T[i]))
        for field in dataclasses.fields(fluid.Saturation):
            assert getattr(one, field.name) == getattr(whole, field.name)[i]


def test_broadcasting_and_shapes():
    grid = fluid.state([[280.0], [320.0]], [100.0, 500.0, 800.0])
    assert grid.p.shape == grid.phase.shape == (2, 3)
    assert isinstance(fluid.state(300.0, 100.0).p, float)
    assert fluid.state(np.float64(300.0), np.int64(100)).p == fluid.state(300, 100).p
    assert fluid.state([], []).p.shape == (0,)
    assert fluid.viscosity([300.0, 320.0], 50.0).shape == (2,)


def test_results_are_frozen_and_picklable():
    result = fluid.state(300.0, 500.0)
    with pytest.raises(dataclasses.FrozenInstanceError):
        result.p = 1.0
    assert pickle.loads(pickle.dumps(result)) == result


def test_phase_rule():
    """Each clause of the rule in words (phase.py), both sides of every boundary."""
    Phase = fluid.Phase
    line = fluid.saturation(300.0)
    cases = [
        (300.0, line.rho_l * (1 + 1e-9), Phase.LIQUID, "liquid", 0.0),
        (300.0, line.rho_v * (1 - 1e-9), Phase.VAPOUR, "vapour", 1.0),
        (300.0, 1000.0, Phase.LIQUID, "liquid", 0.0),  # far above the critical pressure
        (fluid.T_CRITICAL, 700.0, Phase.LIQUID, "liquid", 0.0),
        (fluid.T_CRITICAL + 1e-6, 700.0, Phase.SUPERCRITICAL, "supercritical", 0.0),
        (330.0, 100.0, Phase.VAPOUR, "vapour", 1.0),
        (330.0, 300.0, Phase.SUPERCRITICAL, "supercritical", 1.0),
        (330.0, 600.0, Phase.SUPERCRITICAL, "supercritical", 0.0),
    ]
    for T, rho, phase, name, quality in cases:
        state = fluid.state(T, rho)
        assert (state.phase, state.phase_name, state.quality) == (phase, name, quality)
    assert fluid.state(300.0, 1000.0).p > fluid.P_CRITICAL
    assert fluid.state(330.0, 100.0).p < fluid.P_CRITICAL
    middle = fluid.state(300.0, line.rho_l * (1 - 1e-6))
    assert middle.phase is Phase.TWO_PHASE and 0.0 < middle.quality < 1e-6
    names = fluid.state([300.0, 300.0, 330.0], [5.0, 500.0, 500.0]).phase_name
    assert names.tolist() == ["vapour", "two-phase", "supercritical"]


def test_quality_never_nan_and_within_zero_and_one():
    states = fluid.state(PAIRS[:, 0], PAIRS[:, 1])
    assert np.all((states.quality >= 0.0) & (states.quality <= 1.0))


def test_lever_rule():
    """Volume, energy and entropy of the mixture are the mass-weighted ones of its phases."""
    line = fluid.saturation(285.0)
    x = 0.3
    rho = 1.0 / ((1 - x) / line.rho_l + x / line.rho_v)
    state = fluid.state(285.0, rho)
    assert state.quality == pytest.approx(x, rel=1e-12)
    assert state.u == pytest.approx((1 - x) * line.u_l + x * line.u_v, rel=1e-12)
    assert state.h == pytest.approx((1 - x) * line.h_l + x * line.h_v, rel=1e-12)
    assert state.s == pytest.approx((1 - x) * line.s_l + x * line.s_v, rel=1e-12)


def test_text_and_pint_quantities():
    import pint

    units = pint.UnitRegistry()
    plain = fluid.state(308.15, 500.0)
    assert fluid.state("35 degC", "500 kg/m3").p == pytest.approx(plain.p, rel=1e-12)
    assert pytest.approx(308.15, abs=1e-9) == fluid.state("95 degF", 500.0).T
    quantity = units.Quantity(35.0, units.degC)
    assert fluid.state(quantity, 500.0).p == pytest.approx(plain.p, rel=1e-12)
    several = fluid.saturation(units.Quantity([290.0, 300.0], "kelvin"))
    assert several.p.tolist() == fluid.saturation([290.0, 300.0]).p.tolist()
    assert fluid.state_from_p_T("1000 psia", 330.0).p == pytest.approx(6894757.293, rel=1e-9)
    with pytest.raises(UnitError):
        fluid.state("35 bar", 500.0)
    with pytest.raises(UnitError):
        fluid.state_from_p_T("1000 psig", 330.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: fluid.state(182.0, 5.0), ["temperature: 182 K", "182.33 to 525 K", "nothing is"]),
        (lambda: fluid.state(525.01, 5.0), ["temperature: 525.01 K", "182.33 to 525 K"]),
        (lambda: fluid.state(300.0, 0.0), ["density: 0 kg/m3", "above 0", "mass and the volume"]),
        (lambda: fluid.state(300.0, 1290.0), ["density: 1290 kg/m3", "50 MPa"]),
        (lambda: fluid.state([300.0, 600.0], 5.0), ["temperature at index [1]: 600 K"]),
        (lambda: fluid.state(300.0, [[5.0], [-2.0]]), ["density at index [1, 0]: -2 kg/m3"]),
        (lambda: fluid.state(float("nan"), 5.0), ["temperature: nan K", "finite"]),
        (lambda: fluid.state(300.0, float("inf")), ["density: inf kg/m3", "finite"]),
        (lambda: fluid.saturation(309.53), ["temperature: 309.53 K", "309.520678", "critical"]),
        (lambda: fluid.saturation(180.0), ["temperature: 180 K", "182.33"]),
        (lambda: fluid.saturation_temperature(8e6), ["pressure: 8e+06 Pa", "7244817"]),
        (lambda: fluid.state_from_p_T(5.1e7, 300.0), ["pressure: 5.1e+07 Pa", "50 MPa"]),
        (lambda: fluid.state_from_p_T(0.0, 300.0), ["pressure: 0 Pa", "above 0"]),
        (lambda: fluid.state_from_p_h(5e6, 9e6), ["enthalpy: 9e+06 J/kg", "674559", "5e+06 Pa"]),
        (lambda: fluid.state_from_p_s(5e6, [1e3, 9e3]), ["entropy at index [1]: 9000 J/kg/K"]),
        (lambda: fluid.state_from_p_rho(5e6, 1.0), ["density: 1 kg/m3", "52.0939"]),
        (lambda: fluid.state_from_rho_u(500.0, -1e6), ["internal energy: -1e+06 J/kg", "500"]),
        (lambda: fluid.state_from_rho_u(500.0, 1e7), ["internal energy: 1e+07 J/kg", "482521"]),
        (lambda: fluid.state_from_rho_u(1310.0, 0.0), ["at 1310 kg/m3 the pressure is above"]),
        (lambda: fluid.viscosity(300.0, 400.0), ["density: 400 kg/m3", "two-phase", "rho_l"]),
        (lambda: fluid.conductivity(300.0, 400.0), ["density: 400 kg/m3", "two-phase"]),
        (lambda: fluid.surface_tension(310.0), ["temperature: 310 K", "critical"]),
    ],
)
def test_range_errors_name_quantity_value_range_and_remedy(call, words):
    with pytest.raises(RangeError) as caught:
        call()
    message = str(caught.value)
    assert all(word in message for word in words), message
    assert "; " in message and caught.value.remedy


def test_wrong_kind_of_input():
    with pytest.raises(InputError, match=r"temperature: .*'hot'"):
        fluid.state("hot", 5.0)
    with pytest.raises(InputError, match="a number or array of numbers in kg/m3"):
        fluid.state(300.0, [object()])


def test_ends_of_the_range_are_inside():
    for T in (fluid.T_TRIPLE, fluid.T_MAX):
        assert np.isfinite(fluid.state(T, 1.0).p)
    assert fluid.state_from_p_T(50e6, 300.0).p == pytest.approx(50e6, rel=1e-9)
    assert np.isfinite(fluid.saturation(fluid.T_CRITICAL).p)
    assert fluid.saturation_temperature(fluid.P_CRITICAL) == pytest.approx(fluid.T_CRITICAL)


def test_four_threads_agree_with_one():
    """CoolProp's states are not thread-safe; the kernels hold no state at all."""
    T, rho = np.tile(PAIRS[:, 0], 5), np.tile(PAIRS[:, 1], 5)
    expected = fluid.state(T, rho).p
    answers: list[np.ndarray] = []
    threads = [
        threading.Thread(target=lambda: answers.append(fluid.state(T, rho).p)) for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == 4 and all(np.array_equal(a, expected) for a in answers)


def test_read_only_and_strided_arrays():
    T = np.linspace(250.0, 350.0, 20)
    expected = fluid.state(T[::2].copy(), 300.0).p
    T.setflags(write=False)
    assert np.array_equal(fluid.state(T[::2], 300.0).p, expected)


def test_examples_in_the_docstrings():
    result = doctest.testmod(api)
    assert result.attempted >= 4 and result.failed == 0
