"""Texts of the second generator: always the same ones, each run and checked."""

from __future__ import annotations

import pytest
import second_generator

DONE = "through its schedule"


@pytest.mark.parametrize(
    "seeds", [range(8), pytest.param(range(8, 40), marks=pytest.mark.campaign)], ids=str
)
def test_texts_of_the_second_generator(seeds: range) -> None:
    found = [second_generator.examine(seed) for seed in seeds]
    wrong = {seed: problems for seed, _, problems, _, _ in found if problems}
    assert wrong == {}
    assert sum(ending == DONE for _, ending, _, _, _ in found) > 0.8 * len(found)


@pytest.mark.parametrize(
    "seed",
    [
        198,
        576,
        2489,
        2987,
        4466,
        5884,
        6197,
        10214,
        10755,
        pytest.param(13906, marks=pytest.mark.campaign),
        16031,
    ],
)
def test_texts_that_failed_once(seed: int) -> None:
    """A bottle within rounding of the critical point; a hose behind one that left the equation;
    an empty bottle that others on the manifold chill below the triple point; air warmer than a
    bottle that is frozen out; cut-outs that opened 40 times a second (four); an overfilled bottle;
    bubbles of a negative age, which condensed vapour on warmer liquid (two)."""
    assert second_generator.examine(seed)[2] == []


@pytest.mark.campaign
def test_time_grows_no_faster_than_the_schedule(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the square of the number of segments it would be two."""
    monkeypatch.setattr(second_generator, "SIZES", (200, 2000))
    assert second_generator.exponent() < 1.5
