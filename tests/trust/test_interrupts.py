"""One interrupt at a random moment for every command and for the library; no time is asserted."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from interrupts import KINDS, interrupt


@pytest.mark.parametrize("kind", KINDS)
def test_an_interrupt_stops_it_in_words(kind: str, tmp_path: Path) -> None:
    moment = random.Random(kind).uniform(0.0, 3.0)
    found = interrupt(kind, moment, tmp_path)
    assert found.status == 130, found
    assert "interrupted" in found.said
    assert "Traceback" not in found.said
