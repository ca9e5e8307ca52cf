"""Some forty scenarios of the corpus end where they always did (``record.py --digest``)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from record import digested
from recording import digest

KEPT = json.loads((Path(__file__).parents[1] / "data" / "corpus.json").read_text())
SCENARIOS = digested()


def test_digest_is_of_these_scenarios() -> None:
    assert list(KEPT) == list(SCENARIOS)


@pytest.mark.parametrize("name", KEPT)
def test_end_state(name: str) -> None:
    found, kept = digest(SCENARIOS[name]), KEPT[name]
    assert list(found) == list(kept)
    for quantity, value in kept.items():
        assert found[quantity] == pytest.approx(value, rel=1e-9, abs=1e-12), quantity
