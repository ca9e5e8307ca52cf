"""The record of fits to logs with a known truth, and what it counts up to.

``tests/fit/coverage_campaign.py`` writes ``fit_coverage.csv``; the table in the documentation
is counted from it.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from pathlib import Path

RECORD = Path(__file__).parent / "fit_coverage.csv"
COLUMNS = (
    "case",
    "seed",
    "parameter",
    "truth",
    "value",
    "low",
    "high",
    "profile_low",
    "profile_high",
    "runs",
)


def read(path: Path = RECORD) -> list[dict[str, str]]:
    """Rows of the record, in its order; none where there is no record."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def inside(row: dict[str, str]) -> tuple[bool, bool]:
    """Whether the truth is inside the covariance interval and inside the profile interval."""
    truth = float(row["truth"])
    return (
        float(row["low"]) <= truth <= float(row["high"]),
        float(row["profile_low"]) <= truth <= float(row["profile_high"]),
    )


def counts(rows: Iterable[dict[str, str]]) -> dict[tuple[str, str], tuple[int, int, int]]:
    """(case, parameter) -> (seeds, truth inside by covariance, by profile)."""
    out: dict[tuple[str, str], tuple[int, int, int]] = {}
    for row in rows:
        key = (row["case"], row["parameter"])
        n, a, b = out.get(key, (0, 0, 0))
        covariance, profile = inside(row)
        out[key] = (n + 1, a + covariance, b + profile)
    return out
