"""Rows of the worked-example tables in tests/data (sources in each file's header)."""

from __future__ import annotations

import csv
import re
from pathlib import Path

from verification import Check

DATA = Path(__file__).resolve().parents[1] / "data"
_NUMBER = re.compile(r"(?<![A-Za-z_\d.])-?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


def read(name: str) -> list[dict[str, str]]:
    """Rows of a table, comment lines left out."""
    with (DATA / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(line for line in stream if not line.startswith("#")))


def numbers(text: str) -> list[float]:
    """The numbers in a cell, in order."""
    return [float(match) for match in _NUMBER.findall(text)]


def book(topic: str, name: str, start: str, what: str, column: str = "recomputed"):
    """(numbers, Check with the row's tolerance) of a worked example, for comparing with it."""
    row = next(row for row in read(name) if row["example"].startswith(start))
    values, tolerance = example(name, start, column)
    unit = "%" if tolerance > 1e-3 else ""
    source = f"tests/data/{name}"
    check = Check(
        topic,
        what,
        row["example"],
        source,
        "worked example",
        tolerance,
        unit,
        seen="companion",
        used="no",
    )
    return values, check


def example(name: str, start: str, column: str) -> tuple[list[float], float]:
    """(numbers of `column`, relative tolerance) of the first row whose example begins so."""
    row = next(row for row in read(name) if row["example"].startswith(start))
    tolerance = row["test_tolerance"]
    value = float(tolerance.rstrip("%")) / 100.0 if tolerance.endswith("%") else float("nan")
    return numbers(row[column]), value
