"""A scenario file as text: reading it safely, and saying where in it something is wrong."""

from __future__ import annotations

import dataclasses
import datetime
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path as FilePath
from typing import Any

from n2osim.errors import InputError, ScenarioError, UnknownNameError, did_you_mean
from n2osim.scenario.toml_lines import DEEPEST, Path, TooDeep, key_lines

LARGEST = 1_000_000
"""Bytes. A scenario with a long weather table is some tens of kilobytes."""


def read_text(path: str | FilePath) -> str:
    """The file as text. ScenarioError when it is missing, not a file, too large or not UTF-8."""
    name = str(path)
    try:
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
            self.data: dict[str, Any] = tomllib.loads(text)
        except TooDeep as problem:
            raise self._deep(problem.line) from None
        except RecursionError:
            raise self._deep(None) from None
        except tomllib.TOMLDecodeError as problem:
            raise self._syntax(str(problem)) from None
        except ValueError as problem:  # a number with thousands of digits, an impossible date
            raise ScenarioError(file, None, f"is not valid TOML: {problem}") from None
        if _deeper_than(self.data, DEEPEST):
            raise self._deep(None)

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
    def line(self, path: Path) -> int | None:
        """Line of a key, or of the nearest table around it."""
        for end in range(len(path), 0, -1):
            if path[:end] in self.lines:
                return self.lines[path[:end]]
        return None

    def error(self, path: Path, message: str, remedy: str = "") -> ScenarioError:
        """A ScenarioError at that key."""
        return ScenarioError(self.file, self.line(path), message, dotted(path), remedy)

    def unknown(self, path: Path, key: str, known: Iterable[str], what: str) -> ScenarioError:
        """A key that does not exist, with near matches."""
        names = list(known)
        hint = did_you_mean(key, names)
        valid = "" if hint else f"{what}: {', '.join(names)}"
        return self.error((*path, key), f"{short(key)!r} is not a known entry here", hint or valid)

    @contextmanager
    def located(self, path: Path, table: Mapping[str, Any]) -> Iterator[None]:
        """Turn errors raised inside into a ScenarioError at the entry of ``table`` at fault."""
        try:
            yield
        except InputError as problem:
            where = (*path, *_culprit(problem, table))
            raise self.error(where, _headline(problem), problem.remedy) from None
        except (TypeError, AttributeError, KeyError) as problem:
            # Constructors take keyword arguments: entries that exclude each other end up here.
            text = re.sub(r"^[\w.<>]+\(\) ", "", str(problem))[:200]
            raise self.error(
                path,
                f"these entries do not go together ({text})",
                "see the scenario-file reference",
            ) from None

    # --- checked access ------------------------------------------------------------------------
    def table(self, value: Any, path: Path) -> dict[str, Any]:
        """``value`` if it is a table."""
        if isinstance(value, dict):
            return value
        name = str(path[-1]) if path else "scenario"
        raise self.error(path, f"must be a table, not {kind_of(value)}", f"write [{name}]")

    def tables(self, value: Any, path: Path) -> list[dict[str, Any]]:
        """``value`` if it is a list of tables."""
        if isinstance(value, list) and all(isinstance(x, dict) for x in value):
            return value
        name = dotted(path)
        raise self.error(
            path,
            f"must be a list of tables, not {kind_of(value)}",
            f"write [[{name}]] with two brackets before each",
        )

    def check_keys(self, table: Mapping[str, Any], path: Path, known: Iterable[str]) -> None:
        """Raise for the first key that is not in ``known``."""
        names = list(known)
        for key in table:
            if key not in names:
                raise self.unknown(path, key, names, "valid here")

    def check_types(self, cls: type, table: Mapping[str, Any], path: Path) -> None:
        """Check texts, true/false and whole numbers against the annotations of ``cls``."""
        for field in dataclasses.fields(cls):
            if field.name in table:
                self.check_type(str(field.type), table[field.name], (*path, field.name))

    def check_type(self, annotation: str, value: Any, path: Path) -> None:
        """``annotation`` as written in the source ("bool", "str | None", "float", ...)."""
        kind = annotation.split("|")[0].strip()
        wanted = {
            "bool": (bool, "true or false"),
            "str": (str, "a text in quotes"),
            "int": (int, "a whole number"),
        }.get(kind)
        good = True
        if wanted is not None:
            good = isinstance(value, wanted[0]) and (kind == "bool") == isinstance(value, bool)
        elif annotation in ("float", "float | None"):
            wanted = (float, "a number, or a text with a unit")
            good = isinstance(value, (int, float, str)) and not isinstance(value, bool)
        elif kind in ("Table", "tuple[float, float]") or kind.startswith("tuple["):
            wanted = (list, "a list")
            good = isinstance(value, list)
        if not good and wanted is not None:
            raise self.error(path, f"must be {wanted[1]}, not {kind_of(value)}")
        if isinstance(value, str) and len(value) > LONGEST_TEXT:
            raise self.error(path, f"is a text of {len(value)} characters", "shorten it")


def _deeper_than(value: Any, limit: int) -> bool:
    """Whether tables and lists nest deeper than ``limit`` (without recursion)."""
    level = [value]
    for _ in range(limit):
        inner: list[Any] = []
        for x in level:
            if isinstance(x, dict):
                inner.extend(x.values())
            elif isinstance(x, list):
                inner.extend(x)
        level = [x for x in inner if isinstance(x, (dict, list))]
        if not level:
            return False
    return True


def dotted(path: Path) -> str:
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


def _culprit(problem: InputError, table: Mapping[str, Any]) -> Path:
    """Path (inside ``table``) of the entry that an error is about, as well as it can be told."""
    entries = [(path, value) for path, value in _entries(table, ())]
    if isinstance(problem, UnknownNameError):
        for path, _ in entries:
            if path[-1] == problem.value:
                return path
    quantity = problem.quantity.casefold()
    named = [
        (len(str(path[-1])), path)
        for path, _ in entries
        if isinstance(path[-1], str) and path[-1].replace("_", " ").casefold() in quantity
    ]
    same = [
        path
        for path, value in entries
        if isinstance(value, (str, int, float)) and value == problem.value
    ]
    for _, path in sorted(named, key=lambda n: -n[0]):
        if not same or path in same or any(s[: len(path)] == path for s in same):
            return next((s for s in same if s[: len(path)] == path), path)
    if named:
        return max(named, key=lambda n: n[0])[1]
    return same[0] if same else ()


def _entries(value: Any, path: Path) -> Iterator[tuple[Path, Any]]:
    """Every entry of nested tables and lists with its path."""
    items: Iterable[tuple[str | int, Any]] = ()
    if isinstance(value, Mapping):
        items = value.items()
    elif isinstance(value, list):
        items = enumerate(value)
    for key, inner in items:
        yield (*path, key), inner
        yield from _entries(inner, (*path, key))


def plain(source: Source, cls: type, table: Any, path: Path) -> Any:
    """An object of the simulation package (not a hardware part) from its table."""
    table = source.table(table, path)
    source.check_keys(table, path, [f.name for f in dataclasses.fields(cls)])
    source.check_types(cls, table, path)
    with source.located(path, table):
        return cls(**table)
