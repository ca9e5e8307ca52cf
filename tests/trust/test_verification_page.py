"""The page of checks: rounding, agreement, and what counts as out of date."""

from __future__ import annotations

import dataclasses
import math

import pytest
import verification
import verification_page as v
from verification import RECORDS, TOPICS, Record


@pytest.fixture
def check():
    """A check that leaves no trace in this run's records."""
    made = verification.Check(
        TOPICS[0], "x", "y", "z", "nowhere", 0.135, "%", seen="exact", used="no"
    )
    yield made
    RECORDS.pop(made)


def record(worst: float, *names: str) -> Record:
    return Record(worst, {f"tests/fluid/test_a.py::{n}" for n in names or ("test_one",)})


def test_a_deviation_beyond_the_limit_or_nan_fails_and_equality_does_not(check, monkeypatch):
    monkeypatch.delenv("PYTEST_CURRENT_TEST")  # nothing is noted outside a test
    check.relative([1.0, 0.0, math.inf], [1.1, 0.0, math.inf])
    assert (check.near(1.1), check.near(2.0)) == (1.0, 2.0)
    for found, expected in ((1.14, 1.0), (math.nan, 1.0), (1.0, 0.0), ([1.0, 2.0], [1.0, 3.0])):
        with pytest.raises(AssertionError, match="x against y: off by"):
            check.relative(found, expected)
    with pytest.raises(AssertionError, match="nothing was compared"):
        check.below([])
    with pytest.raises(AssertionError, match=r"\(2,\) against \(3,\)"):
        check.relative([1.0, 2.0], [1.0, 2.0, 3.0])
    assert RECORDS[check].worst == 0.0


@pytest.mark.parametrize(
    ("worst", "text"),
    [
        (0.0, "0"),
        (0.0131, "1.4"),
        (0.13, "13"),
        (0.1341, "13.5"),
        (0.13411, "13.5"),
        (0.135, "13.5"),
        (3.3e-8, "1e-5"),
    ],
)
def test_rounded_up_but_never_beyond_the_limit(check, worst, text):
    assert v.shown(check, worst) == text
    assert float(text) >= 100.0 * worst * (1.0 - 1e-12)
    assert v.agrees(check, worst, text)


def test_what_another_machine_may_change(check):
    for worst, good in (
        (0.0131, True),
        (0.0145, True),
        (0.0125, True),
        (0.015, False),
        (0.0115, False),
        (0.0, False),
    ):
        assert v.agrees(check, worst, "1.4") is good
    assert v.agrees(check, 5e-7, "1e-5") and not v.agrees(check, 5e-6, "1e-5")


def test_differences_between_a_run_and_the_page(check):
    row = v.row(check, record(0.0131))
    assert v.read(v.page(v.measured({check: record(0.0131)}))) == [row]
    other = row._replace(cells=("other", *row.cells[1:]))
    later = v.row(check, record(0.02))
    assert v.merged([row, other], [later]) == [later, other]
    assert v.merged([other], [later]) == [other, later]
    everything = ["tests"]

    def told(records, rows=(row,), whole=True, covered=everything):
        return " ".join(v.differences(records, list(rows), whole, covered))

    assert told({check: record(0.0131)}) == ""
    assert "1.4 % is now 3 %" in told({check: record(0.03)})
    assert "not on the page" in told({check: record(0.0131)}, rows=())
    assert "no longer checked" in told({})
    assert told({}, whole=False) == "" == told({}, covered=["tests/physics"])
    assert "(1) is now" in told({check: record(0.0131, "a", "b")})
    two = v.row(check, record(0.0131, "a", "b"))
    assert told({check: record(0.001, "a")}, rows=[two], whole=False) == ""  # a part of its tests
    assert "(2) is now" in told({check: record(0.001, "a")}, rows=[two])
    assert "never used" in told({check: Record()})
    wider = dataclasses.replace(check, limit=0.2)
    RECORDS.pop(wider)
    assert "20 %" in told({wider: record(0.0131)})
    tuned = dataclasses.replace(check, used="fitted on it")
    RECORDS.pop(tuned)
    assert "fitted on it" in told({tuned: record(0.0131)})


@pytest.mark.parametrize(
    "standing", [{"seen": "somewhere", "used": "no"}, {"seen": "text", "used": ""}]
)
def test_a_check_says_how_its_reference_was_seen_and_used(standing):
    with pytest.raises(ValueError, match=r"seen|used"):
        verification.Check(TOPICS[0], "x", "y", "z", "nowhere", 0.1, **standing)
