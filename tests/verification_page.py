"""The page n2osim/docs/verification.md: written from records, read back, compared with a run."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from verification import SEEN, TOPICS, Check, Record

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "n2osim" / "docs" / "verification.md"
COMMAND = "python -m pytest -m verification --write-verification"
HEAD = (
    "quantity",
    "against",
    "source",
    "conditions",
    "seen",
    "used to choose anything?",
    "allowed",
    "worst found",
    "checked in",
)
INTRODUCTION = f"""# Verification

Made by the tests themselves (`{COMMAND}`): each row is one
check, and the number under *worst found* is the largest deviation that its tests measured, rounded
up. Every test run compares this page with what it measures and fails when they differ. Deviations
are relative unless they carry a unit. A power of ten stands for what is rounding only, or less than
a thousandth of what is allowed.

What *allowed* means: the test fails beyond it. It is as narrow as the comparison itself is good
(textbook examples are printed to three digits, tables and correlations have their own spread,
finite differences their own error), not as wide as would be convenient. What these checks do not
cover is on the [model page](model.md#choices-and-doubts).

*Seen* says how we know the reference:

| seen | meaning |
|---|---|
{"".join(f"| {name} | {words} |" + chr(10) for name, words in SEEN.items())}
*Used to choose anything?* says "no" where nothing in the program was chosen by looking at the
reference. Where it says something else, agreement is partly our own doing and proves less.
"""


class Row(NamedTuple):
    """One row as text."""

    topic: str
    cells: tuple[str, ...]

    @property
    def key(self) -> tuple[str, ...]:
        """What identifies it: all but limit, result and place."""
        return (self.topic, *self.cells[:4])

    @property
    def said(self) -> tuple[str, ...]:
        """What must be the same to the letter."""
        return (*self.key, *self.cells[4:7])

    @property
    def worst(self) -> str:
        """Largest deviation, as printed."""
        return self.cells[7]

    @property
    def module(self) -> str:
        """Test module that it is checked in."""
        return "tests/" + self.cells[-1].split("`")[1]

    @property
    def count(self) -> int:
        """Number of tests that it comes from."""
        return int(self.cells[-1].rpartition("(")[2].rstrip(")"))


# --- numbers -------------------------------------------------------------------------------------
def _scale(check: Check) -> float:
    return 100.0 if check.unit == "%" else 1.0


def is_rounding(check: Check, worst: float) -> bool:
    """Whether only the decade of a deviation means anything."""
    relative = check.unit in ("", "%")
    return worst < 1e-3 * check.limit or (relative and worst < 1e-6)


def shown(check: Check, worst: float) -> str:
    """A deviation as printed: two digits, or a power of ten, always rounded up."""
    value = worst * _scale(check)
    if value == 0.0:
        return "0"
    if is_rounding(check, worst):
        return f"1e{math.ceil(math.log10(value))}"
    for digits in (2, 3, 4, 5):
        up = _rounded_up(value, digits)
        if up <= check.limit * _scale(check) * (1.0 + 1e-12):
            return _number(up, digits)
    return _number(up, digits)


def _rounded_up(value: float, digits: int) -> float:
    unit = 10.0 ** (math.floor(math.log10(value)) - digits + 1)
    return math.ceil(value / unit - 1e-9) * unit


def _number(value: float, digits: int) -> str:
    """As Python writes it, without the zero in 1e-08."""
    return re.sub(r"e([+-])0", r"e\1", f"{value:.{digits}g}")


def agrees(check: Check, worst: float, printed: str) -> bool:
    """Whether a deviation is what was printed, give or take what another machine may change.

    Rounding: at most a decade more. Otherwise 5 % about the interval that rounds to it, and 0.03
    for an order, which is a slope through differences of nearly equal numbers.
    """
    said = float(printed.split()[0])
    value = worst * _scale(check)
    if said == 0.0 or printed.startswith("1e"):
        return value <= max(10.0 * said, 1e-14)
    unit = 10.0 ** (math.floor(math.log10(said)) - 1)
    slack = 0.03 if check.unit == "orders" else 0.0
    return 0.95 * (said - unit) - slack <= value <= 1.05 * said + slack


# --- rows ----------------------------------------------------------------------------------------
def row(check: Check, record: Record) -> Row:
    """The row of a check from what was measured."""
    unit = f" {check.unit}" if check.unit else ""
    module = sorted({t.partition("::")[0] for t in record.tests})[0]
    place = f"`{module.removeprefix('tests/')}` ({len(record.tests)})"
    allowed = _number(check.limit * _scale(check), 4) + unit
    cells = (
        check.quantity,
        check.reference,
        check.source,
        check.conditions,
        check.seen,
        check.used,
        allowed,
        shown(check, record.worst) + unit,
        place,
    )
    return Row(check.topic, tuple(c.replace("|", "\\|") for c in cells))


def measured(records: dict[Check, Record]) -> list[Row]:
    """The rows of what a run measured."""
    return [row(c, r) for c, r in records.items() if r.tests]


def merged(committed: list[Row], now: list[Row]) -> list[Row]:
    """Committed rows with those of a partial run in the places of theirs, new ones at the end."""
    found = {r.key: r for r in now}
    return [found.pop(r.key, r) for r in committed] + list(found.values())


def page(rows: list[Row]) -> str:
    """The whole page."""
    parts = [INTRODUCTION, f"{len(rows)} checks.\n"]
    for topic in TOPICS:
        here = sorted((r for r in rows if r.topic == topic), key=lambda r: r.module)
        if here:
            lines = [f"## {topic}\n", _line(HEAD), "|" + "---|" * len(HEAD)]
            parts.append("\n".join([*lines, *(_line(r.cells) for r in here)]) + "\n")
    return "\n".join(parts)


def _line(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cells) + " |"


def read(text: str) -> list[Row]:
    """Rows of a page."""
    rows: list[Row] = []
    topic = ""
    for line in text.splitlines():
        if line.startswith("## "):
            topic = line[3:]
        elif topic and line.startswith("| ") and not line.startswith("| quantity |"):
            cells = line.replace("\\|", "\0")[2:-2].split(" | ")
            rows.append(Row(topic, tuple(c.replace("\0", "\\|") for c in cells)))
    return rows


def differences(
    records: dict[Check, Record], committed: list[Row], whole: bool, covered: Iterable[str]
) -> list[str]:
    """What the page says otherwise than a run.

    whole: no test of the modules that ran was left out, so that each row must be there with all of
    its tests; ``covered``: prefixes of the paths that were run.
    """
    known = {r.key: r for r in committed}
    found, seen = [], set()
    for check, record in records.items():
        if not record.tests:
            if whole:
                found.append(f"declared but never used: {check.topic}, {check.quantity}")
            continue
        now = row(check, record)
        seen.add(now.key)
        then = known.get(now.key)
        if then is None:
            found.append(f"not on the page: {now.topic}: {', '.join(now.cells[:2])}")
        elif now.said != then.said:
            found.append(f"{then.said} is now {now.said}")
        elif now.count > then.count or (whole and now.count != then.count):
            found.append(f"{now.cells[0]}: {then.cells[-1]} is now {now.cells[-1]}")
        elif now.count == then.count and not agrees(check, record.worst, then.worst):
            found.append(f"{now.cells[0]} ({now.cells[1]}): {then.worst} is now {now.worst}")
    if whole:
        paths = tuple(covered)
        found += [
            f"no longer checked: {r.topic}: {', '.join(r.cells[:2])}"
            for r in committed
            if r.key not in seen and r.module.startswith(paths)
        ]
    return found
