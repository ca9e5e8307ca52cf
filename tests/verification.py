"""Checks that assert a tolerance and write down how well it was met.

A test module says once what it compares with what, and uses that in its tests::

    PRESSURE = Check("Saturation", "vapour pressure", "ESDU 91022", "tests/data/....csv",
                     "250-305 K", 0.005, "%", seen="second-hand", used="no")

    def test_vapour_pressure():
        PRESSURE.relative(found, expected)          # or: assert found == PRESSURE.near(expected)

The largest deviation of all tests that used a check becomes a row of n2osim/docs/verification.md
(see verification_page.py), which a test run compares with what it measured (see conftest.py).
"""

from __future__ import annotations

import math
import os
from dataclasses import dataclass, field
from typing import Any

import numpy as np

TOPICS = (
    "Equation of state",
    "Thermodynamic identities",
    "Saturation",
    "Transport",
    "Charge and pressure",
    "Wall",
    "Convection and radiation",
    "Boiling and inside film",
    "Orifices",
    "Lines and feed",
    "Combustion and engine side",
    "Discharge of a bottle",
    "Regulations and materials",
    "Energy, closure and control",
    "Order of the integrator",
    "Against a plain reference",
)


SEEN = {
    "exact": "a closed form, an identity or a conservation law, evaluated in the tests",
    "other program": "computed by a program that is not ours, or by general solvers, from other "
    "equations or in another way",
    "same formula": "the same published equation as another program has it: shows that it is typed "
    "right, not that it is true",
    "itself": "the same program with smaller steps, or without its tables",
    "companion": "a textbook's worked example as a notebook that accompanies the book repeats it, "
    "recomputed; the book itself was not at hand",
    "second-hand": "numbers or coefficients of a publication as a public program, package or page "
    "quotes them; the publication itself was not at hand",
    "digitised": "read off a printed figure by somebody else; the paper itself was not at hand",
    "raw record": "a measurement's own log in a public repository, with what its authors say of it",
    "text": "read in a copy of the publication",
    "memory": "from memory of the publication: verify before relying on it",
}
"""How the reference of a check was seen."""


@dataclass(frozen=True)
class Check:
    """One row: what is compared with what, and by how much it may differ.

    topic: one of TOPICS. limit: largest deviation allowed; relative when ``unit`` is "" (or "%",
    given as a fraction and shown in percent), otherwise absolute in ``unit``. seen: how the
    reference was seen, one of SEEN. used: "no" where nothing in the program was chosen by looking
    at this reference, otherwise what was chosen or fitted on it.
    """

    topic: str
    quantity: str
    reference: str
    source: str
    conditions: str
    limit: float
    unit: str = ""
    seen: str = field(kw_only=True)
    used: str = field(kw_only=True)

    def __post_init__(self) -> None:
        if self.topic not in TOPICS:
            raise ValueError(f"{self.topic!r} is none of {TOPICS}")
        if self.seen not in SEEN:
            raise ValueError(f"seen as {self.seen!r}: none of {tuple(SEEN)}")
        if not self.used:
            raise ValueError("used: say 'no', or what was chosen on this reference")
        if not math.isfinite(self.limit) or self.limit < 0.0:
            raise ValueError(f"limit {self.limit}")
        RECORDS.setdefault(self, Record())

    def below(self, deviation: Any, where: str = "") -> None:
        """Assert that no deviation (relative, or in the unit) exceeds the limit; note the worst."""
        values = np.abs(np.asarray(deviation, dtype=float))
        assert values.size > 0, f"{self.quantity}: nothing was compared"
        at = int(np.argmax(np.where(np.isnan(values), math.inf, values)))
        worst = float(values.flat[at])
        _note(self, worst)
        assert worst <= self.limit, (
            f"{self.quantity} against {self.reference}: off by {worst:.6g} {self.unit or '(rel.)'}"
            f" at place {at}, allowed {self.limit:g} {where}"
        )

    def relative(self, found: Any, expected: Any) -> None:
        """Assert |found/expected - 1| <= limit everywhere."""
        a, b = np.asarray(found, dtype=float), np.asarray(expected, dtype=float)
        assert a.shape == b.shape or b.shape == (), f"{a.shape} against {b.shape}"
        with np.errstate(divide="ignore", invalid="ignore"):
            off = np.where(a == b, 0.0, a / b - 1.0)
        self.below(off, f"(found {found}, expected {expected})" if a.size < 4 else "")

    def absolute(self, found: Any, expected: Any) -> None:
        """Assert |found - expected| <= limit everywhere."""
        a, b = np.asarray(found, dtype=float), np.asarray(expected, dtype=float)
        assert a.shape == b.shape or b.shape == (), f"{a.shape} against {b.shape}"
        self.below(a - b, f"(found {found}, expected {expected})" if a.size < 4 else "")

    def compare(self, found: Any, expected: Any) -> None:
        """:meth:`relative` or :meth:`absolute`, as the unit says."""
        (self.relative if self.unit in ("", "%") else self.absolute)(found, expected)

    def near(self, expected: Any) -> Near:
        """For ``assert found == check.near(expected)`` (also inside tuples), noting as it goes."""
        return Near(self, expected)


class Near:
    """Equal to what is within a check's limit of ``expected``."""

    __array_ufunc__ = None  # numpy leaves comparing to us
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, check: Check, expected: Any) -> None:
        self.check, self.expected = check, expected

    def __eq__(self, found: object) -> bool:
        self.check.compare(found, self.expected)
        return True

    def __repr__(self) -> str:
        return f"{self.expected} +- {self.check.limit:g} {self.check.unit or '(rel.)'}"


@dataclass
class Record:
    """The worst deviation of a check so far and the tests that made it."""

    worst: float = 0.0
    tests: set[str] = field(default_factory=set)

    def merge(self, worst: float, tests: Any) -> None:
        """Take in what another process measured."""
        self.worst = max(self.worst, worst)
        self.tests |= set(tests)


RECORDS: dict[Check, Record] = {}
"""Every check that was declared in this process."""


def _note(check: Check, worst: float) -> None:
    """Write down a deviation under the test that is running (pytest tells its name)."""
    test = os.environ.get("PYTEST_CURRENT_TEST", "").rpartition(" ")[0]
    if test:
        RECORDS[check].merge(worst, [test])
