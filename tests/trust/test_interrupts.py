"""One interrupt at a random moment for every command and for the library; no time is asserted.

One command and one library run always; the others are part of the campaign.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from interrupts import KINDS, interrupt

QUICK = ("simulate", "library, signal")


@pytest.mark.parametrize(
    "kind", [k if k in QUICK else pytest.param(k, marks=pytest.mark.campaign) for k in KINDS]
)
def test_an_interrupt_stops_it_in_words(kind: str, tmp_path: Path) -> None:
    moment = random.Random(kind).uniform(0.0, 3.0)
    found = interrupt(kind, moment, tmp_path)
    assert found.status == 130, found
    assert "interrupted" in found.said
    assert "Traceback" not in found.said
