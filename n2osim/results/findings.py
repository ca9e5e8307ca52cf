"""A finding: one thing about a run that a person should know, with numbers, remedy and source."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import Any

from n2osim.numbers import Units, in_system, instant
from n2osim.units import unit_label

SEVERITIES = ("danger", "warning", "note", "caution")
"""Most severe first. danger: somebody can get hurt or a part is lost. warning: outside a limit, or
the set-up will not do what it is meant to. note: worth knowing, information only. caution: always
given, whatever the run says."""

PRACTICE = "common practice, no source"
LEAVE_FUEL_JETS = (
    "leave the fuel jets alone: smaller ones would make the next pass with liquid too lean"
)
"""Said wherever a pass is rich because it gets less N2O than its jets are sized for."""
_HEADLINE = re.compile(r'(?:"[^"]*"|(?![:;] ).)*', re.DOTALL)
"""A message up to where it goes on to explain; a name in quotes counts as one word."""


@dataclass(frozen=True)
class Finding:
    """One finding.

    Parameters
    ----------
    severity : one of :data:`SEVERITIES`.
    code : short fixed name ("overfilled", "relief-opened", ...).
    message : what, in words; quantities in both systems, "0.50 lb (0.227 kg)".
    value, limit : SI numbers or None; ``value_is`` and ``limit_is`` say what they are and
        ``dimension`` is their kind of quantity (pressures are gauge where it says so).
    time : s since the start of the run when it (the first of those merged) applied, or None.
    bottle : name, or "" for the car.
    cause : what drives it: a key of :data:`n2osim.results.judge.CAUSES`.
    remedy : what a person must do that no change of the scenario stands for, or "". Changes that
        help are found by running them: :func:`n2osim.answers.remedies.remedies`.
    source : regulation, paper, "computed", or "common practice, no source".
    key : tells apart findings of one code, bottle and severity that are not the same thing told
        again (which side, layer or line); the others are merged, see :func:`merged`.
    count, last : how many were merged into this one, and when the last of them applied, s.
    """

    severity: str
    code: str
    message: str
    value: float | None = None
    limit: float | None = None
    dimension: str = "number"
    value_is: str = ""
    limit_is: str = ""
    time: float | None = None
    bottle: str = ""
    remedy: str = ""
    source: str = PRACTICE
    key: str = ""
    cause: str = ""
    count: int = 1
    last: float | None = None

    def __post_init__(self) -> None:
        for name in ("value", "limit", "time", "last"):
            number = getattr(self, name)
            if number is not None:
                number = float(number)
                object.__setattr__(self, name, number if math.isfinite(number) else None)

    @property
    def unit(self) -> str:
        """SI unit of ``value`` and ``limit``."""
        label = unit_label(self.dimension, "si")
        return "Pa gauge" if self.dimension == "gauge_pressure" else label

    def numbers(self, system: str = "shop") -> str:
        """How far, as text: value, limit and time; ``""`` where there are none."""
        units, parts = Units(system), []
        for number, what in ((self.value, self.value_is), (self.limit, self.limit_is)):
            if number is not None:
                parts.append(f"{what} {units.full(number, self.dimension)}".strip())
        if self.count > 1 and self.time is not None:
            until = instant(self.time if self.last is None else self.last)
            parts.append(f"the worst of {self.count}, from {instant(self.time)} to {until}")
        elif self.time is not None:
            parts.append(f"at {instant(self.time)}")
        if self.cause:
            parts.append(f"cause: {self.cause}")
        return in_system(", ".join(parts), system)

    def said(self, system: str = "shop") -> str:
        """The message with quantities in one system (``message`` has them in both)."""
        return in_system(self.message, system)

    def advice(self, system: str = "shop") -> str:
        """The remedy with quantities in one system."""
        return in_system(self.remedy, system)

    @property
    def whose(self) -> str:
        """The bottle it is about as a beginning ("left: "); nothing where a name says nothing."""
        return f"{self.bottle}: " if self.bottle not in ("", "bottle") else ""

    def told(self, system: str = "shop", brackets: str = "[]") -> str:
        """The message and, in brackets, its numbers."""
        numbers = self.numbers(system)
        return self.said(system) + (f" {brackets[0]}{numbers}{brackets[1]}" if numbers else "")

    def headline(self, system: str = "shop") -> str:
        """What it is about: the message up to its first colon or semicolon outside of a name in
        quotes, and the cause."""
        first = _HEADLINE.match(self.said(system))
        assert first is not None  # an empty text matches as well
        return first[0] + (f" (cause: {self.cause})" if self.cause else "")

    def text(self, system: str = "shop") -> str:
        """The whole finding as one line of text."""
        where = f" ({self.bottle})" if self.bottle else ""
        said = f"{self.severity.upper()}{where}: {self.told(system)}"
        return said + (f" -> {self.advice(system)}" if self.remedy else "")

    def as_dict(self) -> dict[str, Any]:
        """All fields and the unit as plain values."""
        return {_WRITTEN.get(name, name): getattr(self, name) for name in _AS_DICT}


_AS_DICT = (
    *("severity", "code", "message", "value", "value_is", "limit", "limit_is", "unit"),
    *("time", "bottle", "cause", "remedy", "source", "count", "last"),
)
_WRITTEN = {"time": "time_s", "last": "last_time_s"}


CAUTIONS = (
    "Never heat a bottle with a flame or leave a heater unattended. Never defeat the relief "
    "device. Ventilate. The cylinder's own marking comes first. A model, not a measurement: check "
    "against gauge and scale. Local codes and licensed practice govern."
)
"""Said once at the end of every answer that someone might act on."""
CAUTIONS_MARK = "CAUTIONS  "

STANDING = (
    Finding(
        "caution",
        "no-flame",
        "never heat a bottle with a flame, a torch or anything but a heater made for it, and never "
        "leave a heater on unattended",
    ),
    Finding(
        "caution",
        "relief-device",
        "never block, remove or re-rate the relief device; lead its vent outside the car",
        source="49 CFR 173.301(f): a cylinder filled with a gas must have its relief device",
    ),
    Finding(
        "caution",
        "ventilate",
        "nitrous oxide displaces oxygen: ventilate, and never open a valve in a closed car or room",
        source="29 CFR 1926.55 Appendix A: simple asphyxiant, keep oxygen at 19.5 % or more",
    ),
    Finding(
        "caution",
        "marking",
        "the cylinder's own marking, approval and re-test date come before anything printed here",
    ),
    Finding(
        "caution",
        "licensed",
        "a model, not a measurement: check against gauge and scale; local codes and licensed "
        "practice govern",
    ),
)
"""Given with every run."""


def merged(findings: list[Finding]) -> list[Finding]:
    """The same thing found again and again, told once: the worst of it, how often and from when.

    Alike are findings of one code, severity, bottle and key. Those without a time stay apart.
    """
    alike: dict[Any, list[Finding]] = {}
    for k, f in enumerate(findings):
        same = (f.severity, f.code, f.bottle, f.key) if f.time is not None else k
        alike.setdefault(same, []).append(f)
    return [group[0] if len(group) == 1 else _worst(group) for group in alike.values()]


def _worst(group: list[Finding]) -> Finding:
    """Of findings alike the one furthest beyond its limit (the largest where none is given)."""
    times = [f.time for f in group if f.time is not None]
    worst = max(group, key=_beyond)
    return replace(worst, count=len(group), time=min(times), last=max(times))


def _beyond(f: Finding) -> float:
    if f.value is None:
        return 0.0
    return f.value if f.limit is None else abs(f.value - f.limit)


def in_order(findings: list[Finding]) -> tuple[Finding, ...]:
    """Most severe first; within a severity by time (untimed ones last), else as found."""
    return tuple(
        sorted(
            findings,
            key=lambda f: (SEVERITIES.index(f.severity), math.inf if f.time is None else f.time),
        )
    )
