"""From the lines of a log to arrays: finds the header, ties columns, collects rows."""

from __future__ import annotations

import io
from array import array
from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain, islice
from typing import NamedTuple

import numpy as np

from n2osim.errors import LogError
from n2osim.fit import log_text as text_
from n2osim.fit.log_columns import QUANTITIES, Column, Mapped, find_columns, tidy_header
from n2osim.fit.log_report import LISTED, SI, LogReport, Rejected

_SAMPLE = 400  # lines looked at to find out how the file is written
_MIDNIGHT = 86400.0


class Parts(NamedTuple):
    """Arrays and report of a log that has been read."""

    time: np.ndarray
    channels: dict[str, np.ndarray]
    lines: np.ndarray
    report: LogReport


@dataclass(frozen=True)
class Options:
    """How to read: what the caller prescribed (None: find out)."""

    columns: dict[str, Column] | None = None
    delimiter: str | None = None
    decimal: str | None = None
    ambient: float | None = None
    max_rows: int = 10_000_000


def read_stream(stream: io.TextIOBase, file: str, encoding: str, options: Options) -> Parts:
    """Read an open text stream; ``file`` is for messages."""
    lines = text_.lines_of(stream)
    head = list(islice(lines, _SAMPLE))
    table = _Table(_layout(head, options, file), file, options.max_rows)
    for number, line in chain(head, lines):
        table.add(number, line)
    return table.parts(encoding)


@dataclass(frozen=True)
class _Layout:
    dialect: text_.Dialect
    mapped: tuple[Mapped, ...]
    header: tuple[str, ...]
    header_line: int
    units_line: int
    width: int
    notes: tuple[str, ...]


def _layout(head: list[tuple[int, str | None]], options: Options, file: str) -> _Layout:
    sample = [(n, s) for n, s in head if s is not None and s.strip()]
    plain = [s for _, s in sample if not text_.is_comment(s, options.delimiter)]
    if not plain:
        raise LogError("no data rows found", file, remedy="check that this is the right file")
    dialect = text_.sniff_dialect(plain, options.delimiter, options.decimal, file)
    rows = [
        (n, text_.split_cells(s, dialect.delimiter), text_.is_comment(s, dialect.delimiter))
        for n, s in sample
    ]
    start = _first_data(rows, file)
    width = len(rows[start][1])
    at, below = _header(rows, start, width, options.columns)
    units = None if below is None else rows[below][1]
    header = rows[at][1] if at is not None else []
    if at is not None and rows[at][2]:
        header = [header[0].lstrip("#%/; "), *header[1:]] if header else header
        header = [h for h in header if h] if len(header) != width else header
    mapped, notes = find_columns(header, units, width, options.columns, options.ambient, file)
    line = rows[at][0] if at is not None else 0
    skip = rows[below][0] if below is not None else 0
    return _Layout(
        dialect, tuple(mapped), tuple(header), line, skip, len(header) or width, tuple(notes)
    )


def _first_data(rows: list[tuple[int, list[str], bool]], file: str) -> int:
    """Position of the first data row: of the width that most data rows have."""
    widths = Counter(len(c) for _, c, comment in rows if not comment and text_.is_data_row(c))
    if not widths:
        raise LogError(
            "no data rows found",
            file,
            remedy="a data row needs a time and at least one other number",
        )
    width = widths.most_common(1)[0][0]
    for i, (_, cells, comment) in enumerate(rows):
        if not comment and len(cells) == width and text_.is_data_row(cells):
            return i
    raise AssertionError("counted above")


def _header(
    rows: list[tuple[int, list[str], bool]],
    start: int,
    width: int,
    wanted: dict[str, Column] | None,
) -> tuple[int | None, int | None]:
    """Positions of the header row and of the units row behind it, None where there is none."""
    names = {tidy_header(c.name) for c in (wanted or {}).values() if isinstance(c.name, str)}
    for i in range(start if names else 0):
        if names <= set(map(tidy_header, rows[i][1])):
            below = [k for k in range(i + 1, start) if not rows[k][2]]
            return i, below[0] if below and _is_units(rows[below[0]][1]) else None
    fitting = [i for i in range(start) if abs(len(rows[i][1]) - width) <= 1 and any(rows[i][1])]
    words = [i for i in fitting if not any(map(text_.looks_like_value, rows[i][1]))]
    plain = [i for i in words if not rows[i][2]]
    if plain and _is_units(rows[plain[-1]][1]) and len(plain) >= 2:
        return plain[-2], plain[-1]
    for candidates in (plain, words, fitting):
        if candidates:
            return candidates[-1], None
    return None, None


def _is_units(cells: list[str]) -> bool:
    """A row such as ``s;bar;degC`` or ``[s],[psi]``: short words, at least one a known unit."""
    from n2osim.unit_table import find_symbol, tidy

    words = [c.strip("[](){} ") for c in cells if c.strip()]
    known = sum(find_symbol(tidy(w)) is not None for w in words)
    return bool(words) and known > 0 and 2 * known >= len(words) and max(map(len, words)) <= 12


class _Table:
    """Collects rows; everything refused is written down."""

    def __init__(self, layout: _Layout, file: str, max_rows: int) -> None:
        self.layout, self.file, self.max_rows = layout, file, max_rows
        self.values = {m.quantity: array("d") for m in layout.mapped}
        self.lines = array("q")
        self.rejected: list[Rejected] = []
        self.more: Counter[str] = Counter()
        self.empty: Counter[str] = Counter()
        self.rows = self.comments = self.blank = 0
        self.day = 0.0
        self.last_clock = -np.inf
        self.needed = max(m.index for m in layout.mapped)

    def reject(self, line: int, reason: str, text: str = "", column: str | None = None) -> None:
        if len(self.rejected) < LISTED:
            self.rejected.append(Rejected(line, reason, text[:80], column))
        else:
            self.more[reason.split(":")[0]] += 1

    def add(self, number: int, line: str | None) -> None:
        layout = self.layout
        if number <= layout.header_line or number == layout.units_line:
            return
        if line is None:
            self.rows += 1
            self.reject(number, f"line longer than {text_.LONGEST_LINE} characters, or damaged")
            return
        if not line.strip():
            self.blank += 1
            return
        if text_.is_comment(line, layout.dialect.delimiter):
            self.comments += 1
            return
        self.rows += 1
        if self.rows > self.max_rows:
            raise LogError(
                f"more than {self.max_rows} rows",
                self.file,
                number,
                remedy="cut the log, or raise max_rows",
            )
        self._row(number, line)

    def _row(self, number: int, line: str) -> None:
        layout = self.layout
        cells = text_.split_cells(line, layout.dialect.delimiter)
        extra = any(cells[layout.width :])
        if len(cells) <= self.needed or extra:
            self.reject(
                number,
                f"wrong number of cells: {len(cells)} where {layout.width} are expected",
                line,
            )
            return
        if layout.header and tuple(cells[: len(layout.header)]) == layout.header:
            self.reject(number, "header repeated", line)
            return
        found = {m.quantity: self._cell(number, m, cells[m.index]) for m in layout.mapped}
        if np.isnan(found["time"]):
            self.reject(number, "no time that can be read", line)
            return
        if all(np.isnan(v) for q, v in found.items() if q != "time"):
            self.reject(number, "nothing usable beside the time", line)
            return
        for quantity, value in found.items():
            self.values[quantity].append(value)
        self.lines.append(number)

    def _cell(self, number: int, m: Mapped, cell: str) -> float:
        """SI value of a cell, NaN when empty or refused."""
        if cell.casefold() in text_.MISSING:
            self.empty[m.quantity] += 1
            return np.nan
        kind = QUANTITIES[m.quantity]
        raw: float | None = None
        if kind.switch:
            raw = text_.ON_OFF.get(cell.casefold())
            if raw is not None:
                return raw
        if m.quantity == "time" and ":" in cell and (raw := text_.to_clock(cell)) is not None:
            return self._clock(raw)
        try:
            value = m.slope * text_.to_number(cell, self.layout.dialect.decimal) + m.zero
        except ValueError:
            self.reject(number, "not a number: " + repr(cell[:40]), cell, m.header)
            return np.nan
        if not kind.low <= value <= kind.high:
            self.reject(
                number,
                f"out of range: {value:.6g} {SI[m.quantity]}, possible are "
                f"{kind.low:g} to {kind.high:g}",
                cell,
                m.header,
            )
            return np.nan
        return min(max(value, 0.0), 1.0) if kind.switch else value

    def _clock(self, seconds: float) -> float:
        """Clock times start again at midnight; a fall by more than half a day is one."""
        if seconds < 2 * _MIDNIGHT:
            if seconds < self.last_clock - 0.5 * _MIDNIGHT:
                self.day += _MIDNIGHT
            self.last_clock = seconds
        return seconds + self.day

    def parts(self, encoding: str) -> Parts:
        """What was collected; LogError when nothing usable is left."""
        layout = self.layout
        time = np.array(self.values.pop("time"))
        lines = np.array(self.lines)
        keep = self._in_order(time, lines)
        if keep.size < 2:
            why = self.rejected[0] if self.rejected else None
            raise LogError(
                "no usable rows"
                + (f": the first was refused because of {why.reason}" if why else " beyond one"),
                self.file,
                why.line if why else None,
                why.column if why else None,
                remedy="check columns, units, delimiter and decimal sign",
            )
        channels = {q: np.array(v)[keep] for q, v in self.values.items()}
        dead = [q for q, v in channels.items() if not np.isfinite(v).any()]
        notes = [*layout.notes, *(f"{q} holds nothing usable" for q in dead)]
        report = LogReport(
            self.file,
            encoding,
            layout.dialect.delimiter,
            layout.dialect.decimal,
            layout.header_line or None,
            {m.quantity: f"{m.header!r} [{m.unit or 'as it is'}]" for m in layout.mapped},
            self.rows,
            int(keep.size),
            self.comments,
            self.blank,
            tuple(sorted(self.rejected, key=lambda r: r.line)),
            tuple(self.more.items()),
            dict(self.empty),
            tuple(notes),
        )
        channels = {q: v for q, v in channels.items() if q not in dead}
        return Parts(time[keep], channels, lines[keep], report)

    def _in_order(self, time: np.ndarray, lines: np.ndarray) -> np.ndarray:
        """Rows of the longest never-falling run of times; the others are refused."""
        if time.size == 0 or np.all(np.diff(time) >= 0.0):
            return np.arange(time.size)
        keep = longest_rising(time.tolist())
        out = np.ones(time.size, bool)
        out[keep] = False
        for i in np.flatnonzero(out):
            self.reject(int(lines[i]), f"time out of order: {time[i]:.9g} s")
        return keep


def longest_rising(time: Sequence[float]) -> np.ndarray:
    """Positions of the longest never-falling subsequence (so one wild time costs one row).

    Worked from the end, so that of two rows in the wrong order the later one is left out.
    """
    tails: list[float] = []
    at: list[int] = []
    after: list[int] = []
    n = len(time)
    for k in range(n):
        t = -time[n - 1 - k]
        j = bisect_right(tails, t)
        after.append(at[j - 1] if j else -1)
        if j == len(tails):
            tails.append(t)
            at.append(k)
        else:
            tails[j], at[j] = t, k
    out = []
    k = at[-1] if at else -1
    while k >= 0:
        out.append(n - 1 - k)
        k = after[k]
    return np.array(out, dtype=int)
