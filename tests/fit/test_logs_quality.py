"""Noise, quantisation, spikes and gaps of a channel against what was put in."""

from __future__ import annotations

import numpy as np
import pytest

from n2osim.fit import log_quality as q


@pytest.mark.parametrize("step", [0.5, 689.4757, 1e5 / 1024])
@pytest.mark.parametrize("noise", [0.2, 1.0, 5.0])
def test_quantisation_step_is_found(step: float, noise: float) -> None:
    rng = np.random.default_rng(1)
    x = 6e6 + 3e4 * np.sin(np.linspace(0, 9, 4000)) + noise * step * rng.normal(size=4000)
    assert q.resolution(np.round(x / step) * step) == pytest.approx(step, rel=0.02)
    assert q.resolution(x) == 0.0


@pytest.mark.parametrize("sigma", [500.0, 5000.0])
def test_white_noise_is_measured(sigma: float) -> None:
    rng = np.random.default_rng(2)
    t = np.linspace(0, 100, 5000)
    x = 6e6 - 1e4 * t + sigma * rng.normal(size=t.size)
    assert q.white_noise(x) == pytest.approx(sigma, rel=0.06)


@pytest.mark.parametrize("ratio", [0.05, 0.2, 0.4, 1.0])
def test_noise_below_a_step_is_never_called_nothing(ratio: float) -> None:
    """Rounding alone has standard deviation step/sqrt(12); the noise beneath adds to it."""
    rng = np.random.default_rng(3)
    step = 1000.0
    x = 6e6 + 40.0 * np.arange(4000) + ratio * step * rng.normal(size=4000)
    found = q.white_noise(np.round(x / step) * step)
    true = np.hypot(ratio * step, step / np.sqrt(12.0))
    assert 0.75 * true < found < 1.5 * true


def test_spikes_are_marked_and_events_are_not() -> None:
    rng = np.random.default_rng(4)
    x = np.where(np.arange(600) < 300, 6e6, 4.5e6) + 2000.0 * rng.normal(size=600)
    x[300:310] = np.linspace(6e6, 4.5e6, 10)  # a valve opens: not a spike
    put = [50, 120, 121, 400, 550]
    x[put] += np.array([3e5, -4e5, -4e5, 1e6, -6e6])
    x[200] = np.nan
    assert np.flatnonzero(q.spikes(x)).tolist() == put


def test_clean_noise_has_no_spikes() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        assert not q.spikes(rng.normal(size=2000)).any()


def test_gaps() -> None:
    t = np.concatenate([np.arange(0, 10, 0.1), np.arange(30, 40, 0.1)])
    assert q.gaps(t) == [(pytest.approx(9.9), pytest.approx(30.0))]
    assert q.gaps(np.sort(np.random.default_rng(6).uniform(0, 100, 400))) == []
    assert q.gaps(np.array([0.0, 1.0])) == []
