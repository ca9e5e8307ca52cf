"""Upward calls go through one table, and every entry of it exists."""

from __future__ import annotations

import pytest

from n2osim.above import ABOVE, above


@pytest.mark.parametrize("name", ABOVE)
def test_what_is_registered_above_is_there(name: str) -> None:
    assert callable(above(name)) or above(name)
