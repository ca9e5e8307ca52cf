"""The account of a log: what was read, what was refused and why, what the channels are worth."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from n2osim.fit.log_columns import QUANTITIES
from n2osim.fit.log_text import DELIMITER_WORDS
from n2osim.units import unit_label

LISTED = 20_000
"""Rejections kept one by one; beyond, they are counted by reason."""

SI = {q: unit_label(kind.dimension, "si") for q, kind in QUANTITIES.items()}
"""Unit of every channel."""


@dataclass(frozen=True)
class Rejected:
    """A row, or one cell of it (``column``), that was not used: line from 1, reason, its text."""

    line: int
    reason: str
    text: str = ""
    column: str | None = None


@dataclass(frozen=True)
class LogReport:
    """How a log was read and what is in it.

    ``rejected`` lists rows and cells with line numbers; past ``LISTED`` of them ``more_rejected``
    counts the rest by reason. ``resolution`` and ``noise`` per channel in SI, ``spikes`` the lines
    of samples marked (and kept in the arrays), ``gaps`` times in s.
    """

    file: str = ""
    encoding: str = ""
    delimiter: str = ""
    decimal: str = ""
    header_line: int | None = None
    columns: Mapping[str, str] | None = None
    rows: int = 0
    kept: int = 0
    comments: int = 0
    blank: int = 0
    rejected: tuple[Rejected, ...] = ()
    more_rejected: tuple[tuple[str, int], ...] = ()
    empty_cells: Mapping[str, int] | None = None
    notes: tuple[str, ...] = ()
    interval: float = float("nan")
    gaps: tuple[tuple[float, float], ...] = ()
    resolution: Mapping[str, float] | None = None
    noise: Mapping[str, float] | None = None
    spikes: Mapping[str, tuple[int, ...]] | None = None

    def text(self, longest: int = 20) -> str:
        """The report in words; at most ``longest`` rejections are printed."""
        return "\n".join(_report_lines(self, longest))


def _report_lines(r: LogReport, longest: int) -> Iterator[str]:
    word = DELIMITER_WORDS.get(r.delimiter, repr(r.delimiter))
    yield f"{r.file or 'log'}: {r.kept} of {r.rows} data rows used"
    if r.encoding:
        yield f"  written in {r.encoding}, cells separated by {word}, decimal sign {r.decimal!r}"
    for quantity, source in (r.columns or {}).items():
        yield f"  {quantity} <- {source}"
    yield f"  usual interval {r.interval:.4g} s" + "".join(
        f"; pause from {a:.6g} to {b:.6g} s" for a, b in r.gaps[:longest]
    )
    for channel, step in (r.resolution or {}).items():
        noise = (r.noise or {}).get(channel, 0.0)
        unit = SI[channel]
        yield f"  {channel}: step {step:.4g} {unit}, noise {noise:.4g} {unit}"
    for channel, lines in (r.spikes or {}).items():
        if lines:
            yield f"  {channel}: {len(lines)} spikes (marked, not removed), lines {_some(lines)}"
    for channel, count in (r.empty_cells or {}).items():
        if count:
            yield f"  {channel}: {count} empty cells"
    yield from (f"  note: {n}" for n in r.notes)
    for x in r.rejected[:longest]:
        where = f", {x.column}" if x.column else ""
        yield f"  line {x.line}{where}: {x.reason}"
    if len(r.rejected) > longest:
        rest = Counter(x.reason.split(":")[0] for x in r.rejected[longest:])
        yield "  and " + ", ".join(f"{n} more: {reason}" for reason, n in rest.items())
    yield from (f"  not listed: {n} times {reason}" for reason, n in r.more_rejected)


def _some(lines: tuple[int, ...]) -> str:
    return ", ".join(map(str, lines[:10])) + (" ..." if len(lines) > 10 else "")
