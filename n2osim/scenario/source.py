"""A scenario file as text: reading it safely, and saying where in it something is wrong."""

from __future__ import annotations

import datetime
import errno
import os
import re
import sys
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from n2osim.errors import InputError, ScenarioError
from n2osim.scenario.toml_lines import DEEPEST, Place, TooDeep, key_lines

LARGEST = 1_000_000
"""Bytes. A scenario with a long weather table is some tens of kilobytes."""


def said_name(path: str | Path) -> str:
    """What messages call the file."""
    return "standard input" if str(path) == "-" else str(path)


def _standard_input() -> bytes:
    stream = sys.stdin
    if stream is None:  # closed before the program began
        raise OSError(errno.EBADF, os.strerror(errno.EBADF))
    buffer = getattr(stream, "buffer", None)
    if buffer is None:
        return stream.read(LARGEST + 1).encode("utf-8")
    return bytes(buffer.read(LARGEST + 1))


def read_text(path: str | Path) -> str:
    """The file as text, standard input for "-".

    ScenarioError when it is missing, not a file, too large or not UTF-8.
    """
    name = said_name(path)
    try:
        if str(path) == "-":
            data = _standard_input()
        else:
            with open(path, "rb") as file:
                data = file.read(LARGEST + 1)
    except (OSError, ValueError) as problem:
        why = getattr(problem, "strerror", None) or str(problem)
        raise ScenarioError(
            name, None, f"cannot be read: {why}", "", "check the name and the directory"
        ) from None
    if len(data) > LARGEST:
        raise ScenarioError(
            name,
            None,
            f"larger than {LARGEST} bytes",
            "",
            "a scenario file is a few kilobytes: is this the right file?",
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data.count(b"\n", 0, problem.start) + 1
        raise ScenarioError(
            name, line, "is not UTF-8 text", "", "save the file as UTF-8 (plain text)"
        ) from None


LONGEST_TEXT = 500


class Source:
    """A parsed scenario text with the line of every key."""

    def __init__(self, text: str, file: str) -> None:
        self.file = file
        text = text.replace("\r\n", "\n")
        try:
            self.lines = key_lines(text)
            self.data: dict[str, Any] = clock_texts(tomllib.loads(text))
        except TooDeep as problem:
            raise self._deep(problem.line) from None
        except RecursionError:
            raise self._deep(None) from None
        except tomllib.TOMLDecodeError as problem:
            raise self._syntax(str(problem)) from None
        except ValueError as problem:  # a number with thousands of digits, an impossible date
            raise ScenarioError(file, None, f"is not valid TOML: {problem}") from None
        for path, value in _entries(self.data, ()):
            if len(path) >= DEEPEST and isinstance(value, (dict, list)):
                raise self._deep(None)
            if isinstance(value, str) and len(value) > LONGEST_TEXT:
                raise self.error(path, f"is a text of {len(value)} characters", "shorten it")

    def _deep(self, line: int | None) -> ScenarioError:
        return ScenarioError(
            self.file,
            line,
            f"nested deeper than {DEEPEST} levels",
            "",
            "a scenario needs three or four",
        )

    def _syntax(self, text: str) -> ScenarioError:
        match = re.search(r"\(at line (\d+), column (\d+)\)", text)
        line = int(match[1]) if match else None
        what = text[: match.start()].strip() if match else text.replace("(at end of document)", "")
        where = f" in column {match[2]}" if match else " at the end of the file"
        return ScenarioError(
            self.file,
            line,
            f"is not valid TOML{where}: {what.strip()}",
            "",
            'texts need quotes (fill = "12 lb"), tables a header ([heater])',
        )

    # --- errors ------------------------------------------------------------------------------
    def line(self, path: Place) -> int | None:
        """Line of a key, or of the nearest table around it."""
        for end in range(len(path), 0, -1):
            if path[:end] in self.lines:
                return self.lines[path[:end]]
        return None

    def error(self, path: Place, message: str, remedy: str = "") -> ScenarioError:
        """A ScenarioError at that key."""
        return ScenarioError(self.file, self.line(path), message, dotted(path), remedy)

    @contextmanager
    def located(self, *path: str | int) -> Iterator[None]:
        """Turn errors raised inside into a ScenarioError at the entry below ``path`` at fault."""
        try:
            yield
        except InputError as problem:
            where = (*path, *problem.path)
            raise self.error(where, _headline(problem), problem.remedy) from None

    # --- checked access ------------------------------------------------------------------------
    def table(self, value: Any, path: Place) -> dict[str, Any]:
        """``value`` if it is a table."""
        if isinstance(value, dict):
            return value
        name = str(path[-1]) if path else "scenario"
        raise self.error(path, f"must be a table, not {kind_of(value)}", f"write [{name}]")

    def tables(self, value: Any, path: Place) -> list[dict[str, Any]]:
        """``value`` if it is a list of tables."""
        if isinstance(value, list) and all(isinstance(x, dict) for x in value):
            return value
        name = dotted(path)
        raise self.error(
            path,
            f"must be a list of tables, not {kind_of(value)}",
            f"write [[{name}]] with two brackets before each",
        )


def dotted(path: Place) -> str:
    """``("schedule", 2, "duration")`` -> ``schedule[3].duration`` (counted from 1)."""
    text = ""
    for part in path[:DEEPEST]:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += ("." if text else "") + short(part)
    return text


def short(text: str) -> str:
    """At most 60 characters of something the user wrote."""
    return text if len(text) <= 60 else text[:57] + "..."


def kind_of(value: Any) -> str:
    """What a TOML value is, in words."""
    if isinstance(value, str):
        return f"the text {value[:40]!r}"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        try:
            return f"the number {value:.6g}"
        except OverflowError:
            return "a huge number"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return f"the date or time {value}"


def clock_texts(value: Any) -> Any:
    """TOML local times (15:00:00) as texts, everywhere inside lists and tables."""
    if isinstance(value, datetime.time):
        return value.strftime("%H:%M:%S")
    if isinstance(value, list):
        return [clock_texts(v) for v in value]
    if isinstance(value, dict):
        return {k: clock_texts(v) for k, v in value.items()}
    return value


def _headline(problem: InputError) -> str:
    shown = repr(problem.value) if isinstance(problem.value, str) else problem.value
    if isinstance(problem.value, float):
        shown = f"{problem.value:.6g}"
    unit = f" {problem.unit}" if problem.unit else ""
    text = f"{problem.quantity}: {shown}{unit} {problem.problem}"
    return text + (f"; valid: {problem.valid}" if problem.valid else "")


def _entries(value: Any, path: Place) -> Iterator[tuple[Place, Any]]:
    """Every entry of nested tables and lists with its path."""
    items: Iterable[tuple[str | int, Any]] = ()
    if isinstance(value, Mapping):
        items = value.items()
    elif isinstance(value, list):
        items = enumerate(value)
    for key, inner in items:
        yield (*path, key), inner
        yield from _entries(inner, (*path, key))
