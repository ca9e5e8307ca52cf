"""What must hold: bounds on quantities ("hold0.warm_up_time <= 30 min"), and the standing limits.

A requirement without a bottle's name holds for every bottle, with a pattern ("pass*.mixture_leanest
>= 0.95") for every item that fits, and with "CASE: " before it only in that case.
"""

from __future__ import annotations

import fnmatch
import math
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple, Protocol

from n2osim.errors import InputError, UnknownNameError
from n2osim.numbers import Units
from n2osim.results.quantities import quantity
from n2osim.results.quantity import NEVER, UNDEFINED
from n2osim.results.run import Run
from n2osim.units import parse

_FORM = re.compile(r"\s*(?:([\w -]+):)?\s*([\w.*?\[\]-]+)\s*(<=|>=|<|>)\s*(.+?)\s*$")


class Hit(NamedTuple):
    """Something that does not hold: where (case, code, bottle), in words, and how far (of 1).

    standing: a limit that holds whether asked for or not.
    """

    case: str
    code: str
    bottle: str
    words: str
    excess: float
    standing: bool
    got: str = ""

    @property
    def text(self) -> str:
        """What must hold and what is, in words."""
        return f"{self.words}: {self.got}" if self.got else self.words

    @property
    def key(self) -> tuple[str, str, str]:
        """What makes two of them the same."""
        return self.case, self.code, self.bottle


class Requirement(NamedTuple):
    """A bound on a quantity. name: as given; sense: 1 at most, -1 at least; bound: SI."""

    text: str
    name: str
    sense: int
    bound: float
    case: str = ""

    @classmethod
    def of(cls, text: str) -> Requirement:
        """From ``[CASE:] NAME <= VALUE``. InputError where it is not of that form."""
        found = _FORM.match(text) if isinstance(text, str) else None
        if found is None:
            raise InputError(
                "requirement",
                text,
                "",
                "NAME <= VALUE or NAME >= VALUE",
                'for example "hold0.warm_up_time <= 30 min"',
            )
        case, name, sign, value = found.groups()
        kind = kind_of(name)
        bound = parse(_number(value), kind, name=name, low=-math.inf)
        return cls(text.strip(), name, 1 if sign[0] == "<" else -1, bound, (case or "").strip())

    def hits(self, run: Run, numbers: Mapping[str, float], case: str) -> Iterator[Hit]:
        """Where it does not hold. UnknownNameError where no number has that name."""
        if self.case and self.case != case:
            return
        found = matching(numbers, self.name)
        if not found:
            raise UnknownNameError.among("quantity", self.name, numbers)
        for name, value in found.items():
            if math.isnan(value) and _of_follower(run, name):
                continue  # its heater goes with another bottle's switch: it has no opening itself
            excess = self._excess(name, value)
            if excess > 0.0:
                words, got = self._words(name, value)
                yield Hit(case, self.text, name, words, excess, False, got)

    def undefined(self, run: Run, numbers: Mapping[str, float]) -> list[str]:
        """Quantities meant that this run does not have: nothing can be said of them."""
        missing = [n for n, x in matching(numbers, self.name).items() if math.isnan(x)]
        return [n for n in missing if quantity(n).missing == UNDEFINED and not _of_follower(run, n)]

    def _excess(self, name: str, value: float) -> float:
        """How far beyond the bound, in parts of it; 0 or less where it holds."""
        if math.isnan(value):
            value = math.inf if quantity(name).missing == NEVER else -self.sense * math.inf
        excess = self.sense * (value - self.bound)
        return excess / abs(self.bound) if self.bound and math.isfinite(excess) else excess

    def _words(self, name: str, value: float) -> tuple[str, str]:
        entry = quantity(name)
        units = Units()
        bottle = name.split(".")[1:-1]
        of = f" of {bottle[0]}" if bottle else ""
        got = "it never happens" if math.isnan(value) else f"it is {units.full(value, entry.kind)}"
        more = "most" if self.sense > 0 else "least"
        return f"{entry.label}{of} at {more} {units.full(self.bound, entry.kind)}", got


def _of_follower(run: Run, name: str) -> bool:
    """Whether a number is of a bottle whose heater follows another's switch."""
    bottle = name.split(".")[1:-1]
    return any(b.name in bottle and b.follows is not None for b in run.scenario.bottles)


class Needed(Protocol):
    """Anything that must hold of a run: a :class:`Requirement`, or a judge of its passes."""

    @property
    def name(self) -> str:
        """Quantity it speaks of."""

    def hits(self, run: Run, numbers: Mapping[str, float], case: str) -> Iterable[Hit]:
        """Where it does not hold."""

    def undefined(self, run: Run, numbers: Mapping[str, float]) -> list[str]:
        """What cannot be said of a run."""


def _number(text: str) -> str | float:
    try:
        return float(text)
    except ValueError:
        return text


def kind_of(name: str) -> str:
    """Kind of a quantity by a name or pattern of a run ("pass*.mixture_leanest")."""
    first, _, last = name.rpartition(".")
    where = re.sub(r"[*?\[\]].*", "0", first.split(".")[0])
    return quantity(f"{where}.{last}" if where else last).kind


def matching(numbers: Mapping[str, float], name: str) -> dict[str, float]:
    """Numbers of a run that a name means: with or without its unit, a bottle, or a pattern."""
    first, _, last = name.rpartition(".")
    found = {}
    for full, value in numbers.items():
        where, _, quantity_name = full.rpartition(".")
        fits = fnmatch.fnmatchcase(where, first) or (
            "." not in first
            and where.count(".") == 1
            and not where.endswith(".all")
            and fnmatch.fnmatchcase(where.split(".")[0], first)
        )
        if fits and last in (quantity_name, *_shorter(full)):
            found[full] = value
    return found


def _shorter(full: str) -> tuple[str, str]:
    entry = quantity(full)
    return entry.field, entry.name.removesuffix("_Pa")


HELD_WARNINGS = frozenset({"over-125-degF", "relief-opened"})
"""Warnings that hold as the dangers do: limits of the cylinder itself."""


def standing(run: Run, case: str, waived: Iterable[str] = ()) -> Iterator[Hit]:
    """Limits that a run passes although nobody asked: every danger, and those of the cylinder."""
    for f in run.findings:
        if f.code in waived:
            continue
        if f.severity == "danger" or f.code in HELD_WARNINGS:
            yield Hit(case, f.code, f.bottle, f.whose + f.told(), 1.0, True)
