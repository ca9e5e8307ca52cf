"""Recovery of known truth from synthetic logs with noise, quantisation, lag, gaps, spikes.

The share of seeds with the truth inside the 95 % interval must be that of a binomial variable:
179 to 198 of 200 (99.9 % of its mass). CI runs the first seeds only;
N2OSIM_COVERAGE_SEEDS=200 runs the whole campaign (minutes).
"""

from __future__ import annotations

import os

import coverage_cases as cases
import pytest
from scipy.stats import binom

SEEDS = int(os.environ.get("N2OSIM_COVERAGE_SEEDS", "6"))


@pytest.mark.parametrize("name", list(cases.CASES))
def test_truth_is_inside_as_often_as_it_should(name: str) -> None:
    hits = {p: [0, 0] for p in cases.CASES[name].true}
    for seed in range(SEEDS):
        for parameter, (covariance, profile) in cases.inside(name, cases.fit(name, seed)).items():
            hits[parameter][0] += covariance
            hits[parameter][1] += profile
    low = binom.ppf(0.0005, SEEDS, 0.95) if SEEDS != 200 else 179
    high = SEEDS if SEEDS < 100 else binom.ppf(0.9995, SEEDS, 0.95)
    for parameter, counts in hits.items():
        for count, which in zip(counts, ("covariance", "profile")):
            assert low <= count <= high, f"{name} {parameter} {which}: {count} of {SEEDS}"
