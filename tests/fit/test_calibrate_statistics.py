"""The estimator on problems with closed-form answers: no bottle involved."""

from __future__ import annotations

import numpy as np
import pytest

from n2osim.fit import calibrate_fit as fit_
from n2osim.fit.calibrate_noise import correlated_sum, correlation
from n2osim.fit.calibrate_profile import far_values, profile_ends
from n2osim.fit.trace import lagged, sample, sensed


def line_problem(y: np.ndarray, t: np.ndarray, sigma: float) -> fit_.Problem:
    """Straight line a + b t."""
    return fit_.Problem(
        lambda z: [z[0] + z[1] * t - y], [t], [sigma], np.full(2, -1e3), np.full(2, 1e3)
    )


def test_line_with_white_noise_matches_the_textbook() -> None:
    """Ordinary least squares: cov = sigma^2 (X^T X)^-1."""
    rng = np.random.default_rng(1)
    t = np.linspace(-1.0, 1.0, 4000)
    p = line_problem(2.0 + 3.0 * t + 0.5 * rng.normal(size=t.size), t, 0.5)
    z = fit_.solve(p, np.zeros(2))
    cov = fit_.covariance(p, z)
    x = np.stack([np.ones_like(t), t], 1)
    expected = 0.25 * np.linalg.inv(x.T @ x)
    # Soft L1 at two standard deviations costs a few percent of efficiency.
    np.testing.assert_allclose(np.diag(cov.matrix), np.diag(expected), rtol=0.12)
    assert cov.determined.all()
    for k in range(2):
        low, high = profile_ends(p, z, cov, k)
        half = fit_.quantile(cov.freedom) * np.sqrt(cov.matrix[k, k])
        assert low == pytest.approx(z[k] - half, abs=0.05 * half)
        assert high == pytest.approx(z[k] + half, abs=0.05 * half)


def ou(t: np.ndarray, tau: float, rng: np.random.Generator) -> np.ndarray:
    out = np.empty(t.size)
    out[0] = rng.normal()
    for k in range(1, t.size):
        a = np.exp(-(t[k] - t[k - 1]) / tau)
        out[k] = a * out[k - 1] + np.sqrt(1 - a * a) * rng.normal()
    return out


@pytest.mark.parametrize("tau", [0.0, 0.5, 3.0])
def test_coverage_with_correlated_noise(tau: float) -> None:
    """Slope of a line, 200 seeds: truth inside the 95 % interval 179 to 198 times.

    With tau = 3 s and the residuals taken as independent it would be inside about 60 times.
    """
    t = np.linspace(0.0, 100.0, 600)
    hits = 0
    for seed in range(200):
        rng = np.random.default_rng(seed)
        noise = 0.4 * rng.normal(size=t.size) + (ou(t, tau, rng) if tau else 0.0)
        p = line_problem(1.0 + 0.02 * t + noise, t, 0.5)
        z = fit_.solve(p, np.zeros(2))
        cov = fit_.covariance(p, z)
        half = fit_.quantile(cov.freedom) * np.sqrt(cov.matrix[1, 1])
        hits += abs(z[1] - 0.02) <= half
    assert 179 <= hits <= 198


def test_correlation_is_recovered_and_white_noise_stays_white() -> None:
    t = np.sort(np.random.default_rng(3).uniform(0.0, 400.0, 4000))
    white = correlation(t, np.random.default_rng(4).normal(size=t.size), 1)
    assert white.share == 0.0 and white.effective == t.size
    r = 0.6 * np.random.default_rng(5).normal(size=t.size) + ou(t, 2.0, np.random.default_rng(6))
    found = correlation(t, r, 1)
    assert found.variance == pytest.approx(1.36, rel=0.15)
    assert found.share == pytest.approx(1 / 1.36, abs=0.15)
    assert found.time == pytest.approx(2.0, rel=0.4)


def test_correlated_sum_against_the_full_matrix() -> None:
    rng = np.random.default_rng(7)
    t = np.sort(rng.uniform(0, 10, 60))
    j = rng.normal(size=(60, 3))
    c = 0.7 * np.exp(-np.abs(t[:, None] - t[None, :]) / 1.5) + 0.3 * np.eye(60)
    np.testing.assert_allclose(correlated_sum(t, j, 0.7, 1.5), j.T @ c @ j, rtol=1e-12)


def test_what_cannot_be_told_is_said() -> None:
    t = np.linspace(0, 1, 200)
    y = 2.0 + 0.1 * np.random.default_rng(8).normal(size=200)
    same = fit_.Problem(lambda z: [z[0] + z[1] - y], [t], [0.1], np.full(2, -9.0), np.full(2, 9.0))
    z = fit_.solve(same, np.zeros(2))
    assert not fit_.covariance(same, z).determined.any()
    dead = fit_.Problem(
        lambda z: [z[0] + 0.0 * z[1] - y], [t], [0.1], np.full(2, -9.0), np.full(2, 9.0)
    )
    assert fit_.covariance(dead, fit_.solve(dead, np.zeros(2))).determined.tolist() == [True, False]


def test_outliers_hardly_move_the_estimate() -> None:
    rng = np.random.default_rng(9)
    t = np.linspace(0, 1, 1000)
    y = 1.0 + 0.1 * rng.normal(size=1000)
    y[rng.integers(0, 1000, 30)] += 50.0
    p = line_problem(y, t, 0.1)
    z = fit_.solve(p, np.zeros(2))
    assert z[0] + 0.5 * z[1] == pytest.approx(1.0, abs=0.02)


def test_far_values_that_fit_as_well_are_found() -> None:
    """Beyond the wall all values fit about as well as before it."""
    y = 0.05 * np.random.default_rng(10).normal(size=400)
    t = np.linspace(0, 1, 400)

    def bump(z: np.ndarray) -> list[np.ndarray]:
        wall = 0.02 * np.exp(-(((z[0] - 0.6) / 0.1) ** 2))  # a wall between two plains
        return [y - y.mean() + wall + 0.003 * np.tanh(z[0])]

    p = fit_.Problem(bump, [t], [0.05], np.array([-1.5]), np.array([1.5]))
    z = np.array([0.0])
    cov = fit_.covariance(p, z)
    far = far_values(p, z, cov, 0, (-0.3, 0.3))
    assert any(v > 0.8 for v in far)


def test_sample_reproduces_smooth_courses_and_jumps() -> None:
    t = np.linspace(0, 6, 40)
    at = np.linspace(-0.5, 6.5, 500)
    out = sample(t, np.sin(t) + 2 * t, at)
    inner = (at > 0) & (at < 6)
    np.testing.assert_allclose(out[inner], (np.sin(at) + 2 * at)[inner], atol=2e-3)
    assert out[0] == 0.0 and out[-1] == np.sin(6.0) + 12.0
    jump = sample(
        np.array([0.0, 1.0, 1.0, 2.0]),
        np.array([0.0, 1.0, 5.0, 5.0]),
        np.array([0.5, 0.999999, 1.000001, 1.5]),
    )
    np.testing.assert_allclose(jump, [0.5, 1.0, 5.0, 5.0], atol=1e-4)


@pytest.mark.parametrize("tau", [0.05, 0.7, 10.0])
def test_lag_against_its_closed_form(tau: float) -> None:
    """Ramp then hold: z = t - tau (1 - exp(-t/tau)) on the ramp."""
    at = np.linspace(0.0, 2.0, 200)
    out = sensed(np.array([0.0, 2.0]), np.array([0.0, 2.0]), at, tau)
    np.testing.assert_allclose(out, at - tau * (1 - np.exp(-at / tau)), atol=1e-3)
    assert lagged(np.array([0.0, 1.0]), np.array([3.0, 3.0]), tau).tolist() == [3.0, 3.0]
