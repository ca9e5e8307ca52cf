"""Rows of the scenario reference, from the declarations of the fields (:mod:`n2osim.schema`)."""

from __future__ import annotations

from typing import NamedTuple

from n2osim.schema import Declared, Kind, Part, declared


class Row(NamedTuple):
    """One key: its name, what it takes, the valid range, the default, what it means."""

    key: str
    kind: str
    valid: str
    default: str
    text: str


def row(key: str, kind: Kind, words: str, default: str = "") -> Row:
    """The row of one key."""
    return Row(key, kind.takes, kind.valid, default, words.replace("|", "\\|"))


def rows(cls: type[Part], *, ways: bool = True, leave_out: tuple[str, ...] = ()) -> list[Row]:
    """One row per key of ``cls``; with ``ways`` also the keys that stand for some of them."""
    entries: list[tuple[str, Declared]] = list(declared(cls).items())
    found = [row(k, d.kind, d.words, d.default_words) for k, d in entries if k not in leave_out]
    return found + [row(k, w.kind, w.words) for k, w in cls.ways.items() if ways]


def table(entries: list[Row]) -> str:
    """A Markdown table of keys."""
    lines = ["| key | takes | valid | default | meaning |", "|---|---|---|---|---|"]
    lines += [f"| `{r.key}` | {r.kind} | {r.valid} | {r.default} | {r.text} |" for r in entries]
    return "\n".join(lines)
