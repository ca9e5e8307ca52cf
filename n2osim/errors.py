"""Errors of the project: each says what was wrong, with which value, and what to do about it.

Everything raised on purpose derives from :class:`N2OSimError`. A mistake in what the user gave is
an :class:`InputError` (also a ``ValueError``): it names the quantity, the value, the valid range
and the remedy in one line. All of them survive pickling, so that they reach the user from worker
processes unchanged.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from typing import Any


class N2OSimError(Exception):
    """Base of every error that the project raises on purpose.

    >>> import n2osim as n2
    >>> try:
    ...     n2.Heater("290 psi")
    ... except n2.N2OSimError as problem:
    ...     print(str(problem).split(";")[0])
    heater power: '290 psi' has the wrong unit or none
    """


def did_you_mean(name: object, known: Iterable[str], count: int = 3) -> str:
    """Names in ``known`` that look like ``name``: ``"did you mean 'a' or 'b'?"``, or ``""``.

    Those first that begin with it, where it is three letters or more.
    """
    by_fold = {k.casefold(): k for k in known}
    text = str(name).casefold()
    begun = [k for k in by_fold if len(text) >= 3 and k.startswith(text)]
    alike = difflib.get_close_matches(text, list(by_fold), n=count, cutoff=0.55)
    near = list(dict.fromkeys([*sorted(begun, key=len), *alike]))[:count]
    if not near:
        return ""
    return "did you mean " + " or ".join(repr(by_fold[k]) for k in near) + "?"


def _plain(value: object) -> object:
    """A picklable, short stand-in for what the user gave."""
    if value is None or isinstance(value, (bool, int, float)):
        return value
    text = value if isinstance(value, str) else repr(value)
    return text if len(text) <= 120 else text[:117] + "..."


def _show(value: object) -> str:
    if isinstance(value, float) and math.isfinite(value):
        return f"{value:.6g}"
    return repr(value)


class InputError(N2OSimError, ValueError):
    """A value that cannot be used.

    Parameters
    ----------
    quantity : name of the quantity as the user knows it ("fill", "heater power").
    value : what was given (kept as number or text).
    unit : unit of ``value`` when it is a number, else ``""``.
    valid : the valid range or the list of valid choices, in words.
    remedy : what to do instead.
    """

    problem = "is not usable"
    path: tuple[str | int, ...] = ()
    """Where in what was given the mistake is: keys and positions, outermost first."""

    def __init__(
        self, quantity: str, value: object = None, unit: str = "", valid: str = "", remedy: str = ""
    ) -> None:
        self.quantity = quantity
        self.value = _plain(value)
        self.unit = unit
        self.valid = valid
        self.remedy = remedy
        super().__init__(quantity, self.value, unit, valid, remedy)

    def __str__(self) -> str:
        shown = _show(self.value) + (f" {self.unit}" if self.unit else "")
        text = f"{self.quantity}: {shown} {self.problem}"
        if self.valid:
            text += f"; valid: {self.valid}"
        if self.remedy:
            text += f"; {self.remedy}"
        return text


class RangeError(InputError):
    """A value of the right kind outside its valid range."""

    problem = "is out of range"


class UnitError(InputError):
    """A unit that is unknown or belongs to another kind of quantity."""

    problem = "has the wrong unit or none"


class UnknownNameError(InputError):
    """A name (preset, material, key, model) that does not exist; suggests near matches."""

    problem = "is not known"

    @classmethod
    def among(cls, quantity: str, value: object, known: Iterable[str]) -> UnknownNameError:
        """The error for ``value`` not being one of ``known``, with the nearest names suggested."""
        names = list(dict.fromkeys(known))
        return cls(quantity, value, "", ", ".join(names), did_you_mean(value, names))


def choice(value: object, allowed: Mapping[str, str] | tuple[str, ...], name: str) -> str:
    """``value`` if it is one of ``allowed`` (a mapping gives synonyms); capitals are forgiven."""
    table = dict(allowed) if isinstance(allowed, Mapping) else {a: a for a in allowed}
    if isinstance(value, str) and value.strip().casefold() in table:
        return table[value.strip().casefold()]
    known = list(dict.fromkeys(table.values()))
    hint = did_you_mean(value, known) or did_you_mean(value, table)
    raise UnknownNameError(name, value, "", ", ".join(known), hint)


class ScenarioError(N2OSimError, ValueError):
    """A scenario file that cannot be read or does not make sense; says where.

    ``file`` and ``line`` may be None, ``key`` is the dotted name of the entry, ``remedy`` says
    what to do.
    """

    def __init__(
        self,
        file: str | None = None,
        line: int | None = None,
        message: str = "",
        key: str = "",
        remedy: str = "",
    ) -> None:
        self.file = None if file is None else str(file)
        self.line = line
        self.message = message
        self.key = key
        self.remedy = remedy
        super().__init__(self.file, line, message, key, remedy)

    def __str__(self) -> str:
        where = self.file or ""
        if self.line is not None:
            where += f"{', ' if where else ''}line {self.line}"
        parts = [p for p in (where, self.key, self.message) if p]
        text = ": ".join(parts) if parts else "scenario is not usable"
        return text + (f"; {self.remedy}" if self.remedy else "")


class IntegrationError(N2OSimError, RuntimeError):
    """The time integration could not go on.

    ``time`` in s, ``state`` and ``mode`` in words or plain mappings, ``advice`` what to try;
    ``partial_run`` holds what was computed until then (or None).
    """

    def __init__(
        self,
        message: str,
        time: float = math.nan,
        state: Any = None,
        mode: Any = None,
        advice: str = "",
        partial_run: Any = None,
    ) -> None:
        self.message = message
        self.time = time
        self.state = state
        self.mode = mode
        self.advice = advice
        self.partial_run = partial_run
        super().__init__(message, time, state, mode, advice, partial_run)

    def __str__(self) -> str:
        text = self.message
        if math.isfinite(self.time):
            text += f" at {self.time:.4g} s"
        if self.mode is not None:
            text += f" (mode: {self.mode})"
        if self.state is not None:
            text += f" in state {_in_words(self.state)}"
        return text + (f"; try: {self.advice}" if self.advice else "")


def _in_words(state: Any) -> str:
    """A mapping of names and numbers as text, nested ones by name."""
    if not isinstance(state, dict):
        return f"{state:.4g}" if isinstance(state, float) else str(state)
    return ", ".join(
        f"{name}: {_in_words(value)}" if isinstance(value, dict) else f"{name} {_in_words(value)}"
        for name, value in state.items()
    )


class NoSolutionError(N2OSimError):
    """A search has no answer; ``reason`` says why, ``nearest`` is the closest that can be had."""

    def __init__(self, reason: str, nearest: Any = None) -> None:
        self.reason = reason
        self.nearest = nearest
        super().__init__(reason, nearest)

    def __str__(self) -> str:
        return self.reason + (f"; nearest: {self.nearest}" if self.nearest is not None else "")


class LogError(N2OSimError, ValueError):
    """A data log that cannot be read or used; says in which file and where."""

    def __init__(
        self,
        message: str,
        file: str | None = None,
        line: int | None = None,
        column: str | None = None,
        remedy: str = "",
    ) -> None:
        self.message = message
        self.file = None if file is None else str(file)
        self.line = line
        self.column = column
        self.remedy = remedy
        super().__init__(message, self.file, line, column, remedy)

    def __str__(self) -> str:
        where = self.file or ""
        if self.line is not None:
            where += f"{', ' if where else ''}line {self.line}"
        if self.column is not None:
            where += f"{', ' if where else ''}column {self.column!r}"
        text = f"{where}: {self.message}" if where else self.message
        return text + (f"; {self.remedy}" if self.remedy else "")
