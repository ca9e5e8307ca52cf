"""Rows of the worked-example tables in tests/data (sources in each file's header)."""

from __future__ import annotations

import csv
import re
from pathlib import Path

DATA = Path(__file__).resolve().parents[1] / "data"
_NUMBER = re.compile(r"(?<![A-Za-z_\d.])-?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


def read(name: str) -> list[dict[str, str]]:
    """Rows of a table, comment lines left out."""
    with (DATA / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(line for line in stream if not line.startswith("#")))


def numbers(text: str) -> list[float]:
    """The numbers in a cell, in order."""
    return [float(match) for match in _NUMBER.findall(text)]


def example(name: str, start: str, column: str) -> tuple[list[float], float]:
    """(numbers of `column`, relative tolerance) of the first row whose example begins so."""
    row = next(row for row in read(name) if row["example"].startswith(start))
    tolerance = row["test_tolerance"]
    value = float(tolerance.rstrip("%")) / 100.0 if tolerance.endswith("%") else float("nan")
    return numbers(row[column]), value
