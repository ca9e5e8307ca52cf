"""A titled table of ready texts, for terminal, notebook and sheet alike."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """A titled table. ``heads`` are (name, unit) pairs; rows hold ready texts."""

    title: str
    heads: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


__all__ = ["Table"]
