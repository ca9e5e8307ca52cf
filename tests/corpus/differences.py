"""Differences between two recordings: raw arrays, values by quantity, findings and texts."""

from __future__ import annotations

import difflib
import math
import re
from collections import defaultdict
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

RELATIVE = 1e-9
STEPS = 2  # place of the accepted steps among the counts


class Raw(NamedTuple):
    """How raw arrays differ; ``largest`` is relative, ``where`` the column it is in."""

    name: str
    what: str
    largest: float
    where: int
    same_steps: bool


def relative(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Difference over the larger of each pair; infinite where only one is a number."""
    with np.errstate(all="ignore"):
        found = np.abs(a - b) / np.maximum(np.abs(a), np.abs(b))
    found = np.where((a == b) | (np.isnan(a) & np.isnan(b)), 0.0, found)
    return np.where(np.isnan(found), np.inf, found)


def compare_raw(name: str, one: Any, other: Any) -> Iterator[Raw]:
    """Arrays that are not the same bit for bit."""
    steps = bool(one["counts"][STEPS] == other["counts"][STEPS])
    for what in one:
        a, b = np.asarray(one[what]), np.asarray(other[what])
        if a.dtype == b.dtype and a.shape == b.shape and a.tobytes() == b.tobytes():
            continue
        if a.shape != b.shape:
            yield Raw(name, f"{what} {a.shape} {b.shape}", math.inf, -1, steps)
            continue
        far = relative(a.astype(float), b.astype(float))
        worst = np.unravel_index(int(far.argmax()), far.shape) if far.size else ()
        yield Raw(name, what, float(far.max()), int(worst[-1]) if worst else -1, steps)


class Report:
    """Collects what differs, by quantity; ``where`` are the scenarios in which."""

    def __init__(self) -> None:
        self.one_sided: dict[str, set[str]] = defaultdict(set)
        self.values: dict[str, list[tuple[float, str, Any, Any]]] = defaultdict(list)
        self.lines: dict[tuple[str, str], set[str]] = defaultdict(set)

    @property
    def empty(self) -> bool:
        """Whether nothing differs."""
        return not (self.one_sided or self.values or self.lines)

    def only(self, side: str, quantity: str, name: str) -> None:
        """A name that only one side has."""
        self.one_sided[f"{side} {quantity}"].add(name)

    def text(self, group: str, name: str, old: str, new: str) -> None:
        """Lines that only one of two texts has."""
        for line in difflib.unified_diff(old.splitlines(), new.splitlines(), n=0, lineterm=""):
            if not line.startswith(("---", "+++", "@@")):
                self.lines[group, line].add(name)


def quantity_of(path: str) -> str:
    """A path without what differs from scenario to scenario: counts and bottles."""
    return re.sub(r"(?<=[a-z])\d+(?=\.)", "#", path)


def numbers_differ(a: float, b: float) -> float:
    """Relative difference, 0 within the tolerance."""
    if a == b or (math.isnan(a) and math.isnan(b)):
        return 0.0
    if not (math.isfinite(a) and math.isfinite(b)):
        return math.inf
    far = abs(a - b) / max(abs(a), abs(b))
    return far if far > RELATIVE else 0.0


def walk(report: Report, name: str, path: str, a: Any, b: Any) -> None:
    """Compare two plain values, whatever they are."""
    quantity = quantity_of(path)
    numbers = (int, float)
    if isinstance(a, dict) and isinstance(b, dict):
        for key in [*a, *(k for k in b if k not in a)]:
            if key in a and key in b:
                walk(report, name, f"{path}.{key}", a[key], b[key])
            else:
                report.only("-" if key in a else "+", f"{quantity}.{key}", name)
    elif isinstance(a, list) and isinstance(b, list):
        _lists(report, name, path, a, b)
    elif isinstance(a, str) and isinstance(b, str):
        report.text(quantity, name, a, b)
    elif isinstance(a, numbers) and isinstance(b, numbers):
        far = numbers_differ(a, b)
        if far:
            report.values[quantity].append((far, name, a, b))
    elif a != b:
        report.values[quantity].append((math.inf, name, a, b))


def _lists(report: Report, name: str, path: str, a: list[Any], b: list[Any]) -> None:
    if len(a) != len(b):
        length = f"{len(a)} items", f"{len(b)} items"
        report.values[quantity_of(path)].append((math.inf, name, *length))
    for x, y in zip(a, b):
        walk(report, name, f"{path}[]", x, y)


def by_code(findings: Any) -> dict[str, str]:
    """Findings as text, a line a field, by their code."""
    found: dict[str, str] = defaultdict(str)
    for f in findings:
        for key, value in f.items():
            shown = f"{value:.9g}" if isinstance(value, float) else value
            found[f["code"]] += f"{key}: {shown}\n"
    return found


def compare_findings(report: Report, name: str, a: Any, b: Any) -> None:
    """Lines that differ, grouped by the code of the finding."""
    if not (isinstance(a, list) and isinstance(b, list)):
        walk(report, name, "findings", a, b)
        return
    old, new = by_code(a), by_code(b)
    for code in sorted({*old, *new}):
        report.text(f"finding {code}", name, old.get(code, ""), new.get(code, ""))
