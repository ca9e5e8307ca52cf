"""What the scenario format accepts, read from the classes themselves.

A key's kind, range and default come from the field's own declaration, or, where a constructor
parses by hand, from watching it parse a probe. Its description comes from the class's docstring.
So the reference cannot say anything that the code does not do.
"""

from __future__ import annotations

import dataclasses
import inspect
import math
import re
import sys
from contextlib import suppress
from typing import Any, NamedTuple

from n2osim.hardware._part import Part, _Field
from n2osim.units import DIMENSIONS, format_quantity, unit_label

_PROBES = (0.5, 300.0, 5e6, 50.0, 2.0, 1e-3)


class Row(NamedTuple):
    """One key: its name, what it takes, the valid range, the default, what it means."""

    key: str
    kind: str
    valid: str
    default: str
    text: str


class _Probe(float):
    """A float that can be told apart when it arrives at ``parse``."""


class Parsed(NamedTuple):
    """How a field is parsed: kind of quantity and limits in SI."""

    dimension: str
    low: float
    high: float


def parsed_as(cls: type, name: str) -> Parsed | None:
    """Kind and limits of a quantity field of ``cls``; None where it is not a quantity."""
    declared = cls.__dict__.get(name)
    if isinstance(declared, _Field):
        return _limits(declared.dimension, declared.limits)
    annotation = str(cls.__annotations__.get(name, ""))
    if issubclass(cls, Part) or annotation.split(" ")[0] not in ("float", "tuple[float,"):
        return None
    return _watched(cls, name, pair=annotation.startswith("tuple"))


def _limits(dimension: str, given: dict[str, Any]) -> Parsed:
    low = given.get("low")
    high = given.get("high")
    return Parsed(
        dimension,
        DIMENSIONS[dimension].low if low is None else low,
        math.inf if high is None else high,
    )


def _watched(cls: type, name: str, pair: bool) -> Parsed | None:
    """Build ``cls`` with a probe in the field and watch what is asked of ``parse``."""
    module: Any = sys.modules[cls.__module__]
    real, seen = module.parse, []

    def watching(value: Any, dimension: str, **how: Any) -> float:
        if isinstance(value, _Probe):
            seen.append(_limits(dimension, how))
        return float(real(value, dimension, **how))

    module.parse = watching
    try:
        for number in _PROBES:
            probe: Any = _Probe(number)
            with suppress(Exception):  # a probe out of range: what was asked for has been seen
                cls(**_required(cls) | {name: (probe, probe) if pair else probe})
            if seen:
                return seen[0]
    finally:
        module.parse = real
    return None


def _required(cls: type) -> dict[str, Any]:
    from n2osim.hardware.bottle import Bottle

    values = {"bottle": Bottle.preset(), "fill": 4.0}
    return {
        f.name: values.get(f.name, 290.0)
        for f in dataclasses.fields(cls)
        if f.default is dataclasses.MISSING and f.default_factory is dataclasses.MISSING
    }


# --- words -----------------------------------------------------------------------------------
def described(cls: type) -> dict[str, str]:
    """Field -> its entry in the docstring of ``cls`` ("name : text", "one, other: text")."""
    names = [f.name for f in dataclasses.fields(cls)]
    text = inspect.cleandoc(cls.__doc__ or "")
    one = "|".join(sorted(map(re.escape, names), key=len, reverse=True))
    entry = re.compile(rf"(?:(?<=\n)|(?<=\. )|(?<=\.\n))\s*((?:{one})(?:, (?:{one}))*) ?: ")
    found: dict[str, str] = {}
    marks = list(entry.finditer(text))
    for k, mark in enumerate(marks):
        end = marks[k + 1].start() if k + 1 < len(marks) else len(text)
        words = _tidy(text[mark.end() : end].split("\n\n")[0])
        for name in mark[1].split(", "):
            found.setdefault(name, words)
    return found


def _tidy(text: str) -> str:
    text = re.sub(r":\w+:`~?([^`]*)`", lambda m: f"`{m[1].rsplit('.', 1)[-1]}`", text)
    text = re.sub(r"\s+", " ", text.replace("``", "`")).strip().replace("|", "\\|")
    return _as_in_a_file(text)


def _as_in_a_file(text: str) -> str:
    """Python's None, True and False in the words of a scenario file."""
    text = re.sub(r",? or None\b", "", text)
    text = text.replace("None computes it from", "left out: computed from")
    text = re.sub(r'\bNone, (?=")', "left out (no fault), ", text)
    for python, file in (("None", "left out"), ("True", "true"), ("False", "false")):
        text = re.sub(rf"\b{python}\b", file, text)
    return text.rstrip(".")


def _number(value: float, dimension: str) -> str:
    """SI, with the shop's unit in brackets where it is another one."""
    if not math.isfinite(value):
        return ""
    si = format_quantity(value, dimension, "si")
    if dimension in ("fraction", "number") or value == 0.0:
        return si
    if dimension in ("time", "clock_time"):
        return si if value < 120.0 else format_quantity(value, dimension, "shop")
    shop = format_quantity(value, dimension, "shop")
    return si if unit_label(dimension, "shop") == unit_label(dimension, "si") else f"{si} ({shop})"


def valid_words(p: Parsed) -> str:
    """The range in words."""
    low, high = _number(p.low, p.dimension), _number(p.high, p.dimension)
    if low and high:
        return f"{low} to {high}"
    return f"from {low}" if low else (f"up to {high}" if high else "")


def _default(f: dataclasses.Field[Any], p: Parsed | None) -> str:
    if f.default is dataclasses.MISSING and f.default_factory is dataclasses.MISSING:
        return "**required**"
    value = f.default
    if value is None or value == () or value == "":
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'`"{value}"`'
    if p is not None and isinstance(value, (int, float)):
        return _number(float(value), p.dimension)
    return str(value) if isinstance(value, (int, float)) else ""


def kind_words(f: dataclasses.Field[Any], p: Parsed | None, nested: type | None) -> str:
    """What a key takes, in words."""
    if nested is not None:
        return "table"
    annotation = str(f.type)
    if p is not None:
        label = DIMENSIONS[p.dimension].label
        return f"two {label}s" if annotation.startswith("tuple") else label
    first = annotation.split("|")[0].strip()
    return {"str": "text", "bool": "true or false", "int": "whole number"}.get(first, "list")


def rows(
    cls: type,
    words: dict[str, str],
    nested: dict[tuple[type, str], type],
    leave_out: tuple[str, ...] = (),
    columns: dict[str, dict[str, str]] | None = None,
) -> list[Row]:
    """One row per key of ``cls``.

    ``words`` adds to (or replaces) what the docstring says, ``columns`` (key -> column -> text)
    what the declaration says. LookupError for a key that nothing describes.
    """
    entries = described(cls) | words
    table = []
    for f in dataclasses.fields(cls):
        if f.name in leave_out:
            continue
        if f.name not in entries:
            raise LookupError(f"{cls.__name__}.{f.name} is not described in its docstring")
        p = parsed_as(cls, f.name)
        inner = nested.get((cls, f.name))
        valid = valid_words(p) if p is not None else ""
        row = Row(f.name, kind_words(f, p, inner), valid, _default(f, p), entries[f.name])
        table.append(row._replace(**(columns or {}).get(f.name, {})))
    return table


__all__ = ["Row", "described", "kind_words", "parsed_as", "rows", "valid_words"]
