"""Text side of reading data logs: encodings, delimiters, decimal commas, numbers, clock times.

Nothing here knows what the columns mean. Everything is tolerant of what loggers write and strict
about what a number is: a cell is a number by a regular expression, never by ``float`` alone
(which would accept ``1_000``, ``infinity`` and digits of other scripts).
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from n2osim.errors import InputError, LogError
from n2osim.files import check_readable

LONGEST_LINE = 200_000
"""Characters; a longer line is no data row (it is skipped in pieces and reported)."""

DELIMITERS = ("\t", ";", ",", "|", " ")
DELIMITER_WORDS = {"\t": "tab", ";": "semicolon", ",": "comma", "|": "bar", " ": "blanks"}

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,4})?")
_GROUPED = re.compile(r"[+-]?[0-9]{1,3}(?:[,' ][0-9]{3})+(?:\.[0-9]*)?")
_GROUPED_COMMA = re.compile(r"[+-]?[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+")
_CLOCK = re.compile(r"(?:([0-9]{1,3}):)?([0-9]{1,2}):([0-9]{1,2}(?:\.[0-9]{1,9})?)")
_ISO = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,9})?)?"
    r"(?:Z|[+-][0-9]{2}:?[0-9]{2})?"
)
_COMMA_NUMBER = re.compile(r"([+-]?[0-9]*),([0-9]+)(?:[eE][+-]?[0-9]+)?")
_POINT_NUMBER = re.compile(r"[+-]?[0-9]*\.[0-9]+(?:[eE][+-]?[0-9]+)?")
MISSING = frozenset(("", "nan", "na", "n/a", "null", "none", "-", "--", "---"))
ON_OFF = dict.fromkeys(("on", "true", "yes", "open"), 1.0) | dict.fromkeys(
    ("off", "false", "no", "closed", "shut"), 0.0
)


_EXPORT = "export the log as CSV text"
_NO_TEXT = (
    (b"PK\x03\x04", "a zip archive or a workbook", "unpack it, or " + _EXPORT),
    (b"\x1f\x8b", "a gzip archive", "unpack it first"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", "unpack it first"),
    (b"%PDF", "a PDF", _EXPORT),
    (b"\xd0\xcf\x11\xe0", "an old workbook", _EXPORT),
    (b"MDF ", "a logger's binary format (MDF)", _EXPORT),
)


@dataclass(frozen=True)
class Dialect:
    """How a file separates its cells and writes its numbers."""

    delimiter: str
    decimal: str


# --- bytes to lines -------------------------------------------------------------------------
def sniff_encoding(data: io.BufferedIOBase, file: str) -> str:
    """Encoding of an open binary stream (left at its start); LogError for what is no text."""
    head = data.read(4096)
    data.seek(0)
    if not head:
        raise LogError("the file is empty", file, remedy="export the log again")
    for magic, what, remedy in _NO_TEXT:
        if head.startswith(magic):
            raise LogError(f"not a text file but {what}", file, remedy=remedy)
    for mark, name in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF32_LE, "utf-32"),
        (codecs.BOM_UTF32_BE, "utf-32"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if head.startswith(mark):
            return name
    name = _without_mark(head, file)
    if name == "utf-8" and not _is_utf8(data):
        name = "cp1252"
    data.seek(0)
    return name


def _without_mark(head: bytes, file: str) -> str:
    """UTF-16 shows as a zero in every other byte; other zeros mean a binary file."""
    if b"\0" not in head:
        return "utf-8"
    even, odd = head[0::2].count(0), head[1::2].count(0)
    half = len(head) // 2
    if odd > 0.4 * half and even < 0.05 * half:
        return "utf-16-le"
    if even > 0.4 * half and odd < 0.05 * half:
        return "utf-16-be"
    raise LogError("not a text file", file, remedy="export the log as CSV text")


def _is_utf8(data: io.BufferedIOBase) -> bool:
    decoder = codecs.getincrementaldecoder("utf-8")("strict")
    try:
        while chunk := data.read(1 << 20):
            decoder.decode(chunk)
        decoder.decode(b"", True)
    except UnicodeDecodeError:
        return False
    return True


def open_text(path: Path, encoding: str | None) -> tuple[io.TextIOBase, str]:
    """The file as text and the encoding used. Undecodable bytes become U+FFFD, so that the cells
    they sit in are rejected one by one rather than the whole file."""
    try:
        check_readable(path)
    except InputError as problem:
        raise LogError(
            f"cannot be opened ({problem.remedy})",
            str(path),
            remedy="give a file that you may read, or an open text stream",
        ) from None
    try:
        with open(path, "rb") as data:
            found = encoding or sniff_encoding(data, str(path))
        return open(path, encoding=found, errors="replace", newline=None), found
    except LogError:
        raise
    except OSError as problem:
        raise LogError(
            f"cannot be opened ({problem.strerror or problem})",
            str(path),
            remedy="check the path and that it is a file you may read",
        ) from None
    except (LookupError, ValueError):
        raise LogError(
            f"encoding {encoding!r} is not known",
            str(path),
            remedy="use 'utf-8', 'cp1252' or 'utf-16', or leave it out",
        ) from None


def lines_of(stream: io.TextIOBase) -> Iterator[tuple[int, str | None]]:
    """(line number from 1, text without its end); text is None for an overlong line."""
    number = 0
    while True:
        try:
            line = stream.readline(LONGEST_LINE)
        except UnicodeError:  # a damaged multi-byte file: nothing after this can be trusted
            yield number + 1, None
            return
        if not line:
            return
        number += 1
        if len(line) == LONGEST_LINE and not line.endswith("\n"):
            while rest := stream.readline(LONGEST_LINE):
                if rest.endswith("\n"):
                    break
            yield number, None
            continue
        yield number, line.rstrip("\r\n")


# --- cells ----------------------------------------------------------------------------------
def split_cells(line: str, delimiter: str) -> list[str]:
    """Cells of one physical line, stripped; quotes are honoured within the line only."""
    if delimiter == " ":
        return line.split()
    if '"' in line:
        try:
            return [c.strip() for c in next(csv.reader([line], delimiter=delimiter))]
        except (csv.Error, StopIteration):
            pass
    return [c.strip() for c in line.split(delimiter)]


def to_number(cell: str, decimal: str) -> float:
    """The number in a cell; ValueError when it is not one (infinities included)."""
    text = cell.replace("\u2212", "-").replace("\u00a0", " ").strip()
    if decimal == ",":
        if "." in text:
            if _GROUPED_COMMA.fullmatch(text) is None:
                raise ValueError(cell)
            text = text.replace(".", "")
        text = text.replace(",", ".")
    if _NUMBER.fullmatch(text) is None:
        if decimal != "." or _GROUPED.fullmatch(text) is None:
            raise ValueError(cell)
        text = re.sub("[,' ]", "", text)
    value = float(text)
    if value in (float("inf"), float("-inf")):
        raise ValueError(cell)
    return value


def to_clock(cell: str) -> float | None:
    """Seconds of ``h:mm:ss.s``, ``mm:ss`` or an ISO 8601 date and time, else None."""
    text = cell.replace(",", ".") if ":" in cell else cell
    match = _CLOCK.fullmatch(text)
    if match is not None:
        hour, minute, second = (float(x or 0.0) for x in match.groups())
        return 3600.0 * hour + 60.0 * minute + second if minute < 60 and second < 60 else None
    if _ISO.fullmatch(text) is None:
        return None
    try:
        stamp = datetime.fromisoformat(_six_digits(text))
    except ValueError:
        return None
    day = stamp.toordinal() * 86400.0
    zone = stamp.utcoffset()
    shift = zone.total_seconds() if zone is not None else 0.0
    seconds = 3600.0 * stamp.hour + 60.0 * stamp.minute + stamp.second + 1e-6 * stamp.microsecond
    return day + seconds - shift


def _six_digits(text: str) -> str:
    return re.sub(r"(\.[0-9]{6})[0-9]+", r"\1", text)


def looks_like_value(cell: str) -> bool:
    """Whether a cell could stand in a data row: a number in either spelling or a clock time."""
    forms = (_NUMBER, _COMMA_NUMBER, _GROUPED, _GROUPED_COMMA)
    return any(form.fullmatch(cell) for form in forms) or to_clock(cell) is not None


def is_data_row(cells: Sequence[str]) -> bool:
    """More than half of what is there are values, and there are at least two cells."""
    values, filled = _values(cells)
    return len(cells) >= 2 and values > 0 and 2 * values > filled


def _values(cells: Sequence[str]) -> tuple[int, int]:
    """How many cells are values, and how many hold anything."""
    filled = [c for c in cells if c.casefold() not in MISSING]
    return sum(looks_like_value(c) or c.casefold() in ON_OFF for c in filled), len(filled)


def is_comment(line: str, delimiter: str | None = None) -> bool:
    """Lines that begin with ``#``, ``%``, ``//`` or (unless it separates cells) ``;``."""
    text = line.lstrip()
    return text.startswith(("#", "%", "//")) or (delimiter != ";" and text.startswith(";"))


# --- dialect --------------------------------------------------------------------------------
def sniff_dialect(
    lines: Sequence[str], delimiter: str | None, decimal: str | None, file: str
) -> Dialect:
    """Delimiter and decimal sign from sample lines (no comments, no blanks)."""
    odd = delimiter is not None and (len(delimiter) != 1 or delimiter in ".\"'\n\r")
    if odd or decimal not in (None, ".", ","):
        raise LogError(
            f"delimiter {delimiter!r} with decimal sign {decimal!r} cannot work",
            file,
            remedy="use one of comma, semicolon, tab, bar or blank, and '.' or ','",
        )
    if delimiter is None:
        scores = [(_score(lines, d), -i, d) for i, d in enumerate(DELIMITERS)]
        best, _, delimiter = max(scores)
        if best <= 0.0:
            raise LogError(
                "no rows of numbers in columns found",
                file,
                remedy="a log needs a time column and at least one other, separated by comma, "
                "semicolon, tab or blanks",
            )
    return Dialect(delimiter, decimal or _decimal(lines, delimiter, file))


def _score(lines: Sequence[str], delimiter: str) -> float:
    """Share of lines as wide as most data rows, times the share of values in those rows."""
    rows = [split_cells(line, delimiter) for line in lines]
    data = [r for r in rows if is_data_row(r)]
    if not data:
        return 0.0
    width = Counter(map(len, data)).most_common(1)[0][0]
    count = sum(len(r) == width for r in rows)
    values, cells = _values([c for r in data if len(r) == width for c in r])
    return count / len(rows) * values / max(cells, 1)


def _decimal(lines: Sequence[str], delimiter: str, file: str) -> str:
    cells = [c for line in lines for c in split_cells(line, delimiter)]
    commas = [m for c in cells if (m := _COMMA_NUMBER.fullmatch(c)) is not None]
    points = sum(_POINT_NUMBER.fullmatch(c) is not None for c in cells)
    if any(_GROUPED_COMMA.fullmatch(c) for c in cells):
        return ","
    if not commas:
        return "."
    # "1,050" may be a thousand and fifty or one point nought five: only the company it keeps
    # can tell. A leading zero, four digits before it or not three behind it is a decimal comma.
    surely = any(
        len(m[2]) != 3 or len(m[1].lstrip("+-")) > 3 or m[1].lstrip("+-").startswith("0")
        for m in commas
    )
    if (points and not surely) or points > len(commas):
        return "."
    if not surely:
        raise LogError(
            f"cannot tell whether {commas[0][0]!r} has a decimal comma or a thousands mark",
            file,
            remedy="say decimal=',' or decimal='.'",
        )
    return ","
