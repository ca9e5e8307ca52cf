"""Text for people: one printer of titles, prose and tables, for terminals, notebooks, spreadsheets.

What comes in is text and nothing else: characters that would move a cursor or colour a terminal
are taken out, HTML is escaped, a cell that a spreadsheet would carry out is marked as text.
"""

from __future__ import annotations

import html
import shutil
import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import zip_longest

NARROWEST, PROSE, WIDEST = 60, 100, 110
"""Characters: terminals are taken to have at least, prose and tables at most so many columns."""
_NO_TERMINAL = 100
_WORDS = {60: 16, 90: 28}  # room of a line: characters of words before they go on in the next
_GAP = "  "


def printable(text: object) -> str:
    """One line without control, formatting or undefined characters; runs of blanks become one."""
    kept = (" " if unicodedata.category(c)[0] in "CZ" else c for c in str(text))
    return " ".join("".join(kept).split())


def columns() -> int:
    """Characters in a line of the terminal, within what can be read."""
    wide = shutil.get_terminal_size((_NO_TERMINAL, 24)).columns
    return min(max(wide, NARROWEST), WIDEST)


def wrapped(text: str, first: str = "", rest: str | None = None) -> str:
    """Prose broken into lines that fit the terminal, with indents of the first and other lines."""
    width = min(columns(), PROSE)
    rest = " " * len(first) if rest is None else rest
    return textwrap.fill(
        printable(text), width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    )


def heading(text: str) -> str:
    """A title and its underline."""
    lines = wrapped(text or "untitled").splitlines() or ["untitled"]
    return "\n".join([*lines, "=" * max(map(len, lines))])


def pairs_text(pairs: Iterable[tuple[str, str]]) -> str:
    """Names in one column, text in the other."""
    found = [(printable(name), text) for name, text in pairs]
    wide = min(max((len(name) for name, _ in found), default=0) + 2, 30)
    return "\n".join(wrapped(text, f"{name} ".ljust(wide), " " * wide) for name, text in found)


def spreadsheet(text: str) -> str:
    """Text for a cell of a CSV file: one that begins like a formula is marked as text."""
    return "'" + text if text[:1] in tuple("=+-@\t\r") else text


@dataclass(frozen=True)
class Table:
    """A titled table. ``heads`` are (name, unit) pairs; ``rows`` hold ready texts.

    ``kept``: what a short report keeps of the note (what a power rests on), ``aside``: names of the
    columns that it leaves out.
    """

    title: str
    heads: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    kept: str = ""
    aside: tuple[str, ...] = ()

    def brief(self) -> Table:
        """The table without the columns that are aside, with what is kept of the note."""
        kept = [c for c, (name, _) in enumerate(self.heads) if name not in self.aside]
        rows = tuple(tuple(row[c] for c in kept) for row in self.rows)
        heads = tuple(self.heads[c] for c in kept)
        return Table(self.title, heads, rows, self.kept)

    def words(self) -> set[int]:
        """Columns that hold words and stand to the left: the others hold numbers."""
        return {
            c
            for c, cells in enumerate(zip(*self.rows))
            if not any(x[:1].isdigit() or x[1:2].isdigit() for x in cells)
            or (c == 0 and not all(_is_number(x) for x in cells))
        }

    def text(self) -> str:
        """The table for a terminal; columns that have no room follow below, named again."""
        grid = _Grid(self, columns() - 2)
        text = "\n\n".join("\n".join(grid.lines(block)) for block in grid.blocks())
        title = printable(self.title).upper()
        if text[: len(title) + 2].isspace():  # the first column has no name: the title stands there
            text = title + text[len(title) :]
        elif title:
            text = f"{title}\n{text}"
        return f"{text}\n{wrapped(self.note, '  ')}" if self.note else text

    def html(self) -> str:
        """The table as a fragment of HTML for notebooks; every text escaped."""
        left = self.words()

        def cell(kind: str, c: int, text: str) -> str:
            side = "left" if c in left else "right"
            return f'<{kind} style="{_CELL}text-align:{side}">{text}</{kind}>'

        head = "".join(
            cell("th", c, html.escape(n) + (f"<br><small>{html.escape(u)}</small>" if u else ""))
            for c, (n, u) in enumerate(self.heads)
        )
        body = "".join(
            "<tr>" + "".join(cell("td", c, html.escape(x)) for c, x in enumerate(row)) + "</tr>"
            for row in self.rows
        )
        title = f"<p><strong>{html.escape(self.title)}</strong></p>" if self.title else ""
        note = f"<p><small>{html.escape(self.note)}</small></p>" if self.note else ""
        return f'{title}<table style="{_TABLE}"><tr>{head}</tr>{body}</table>{note}'


_TABLE = "border-collapse:collapse;margin:0.4em 0 1em 0"
_CELL = "padding:0.15em 0.6em;border-bottom:1px solid #8884;"


def _is_number(text: str) -> bool:
    return text[:1].isdigit() and not any(c.isalpha() for c in text)


class _Grid:
    """A table as lines of characters."""

    def __init__(self, table: Table, room: int) -> None:
        self.room, self.left = room, table.words()
        most = _WORDS[90 if room >= 90 else 60]
        names, units = zip(*table.heads)
        rows = [tuple(map(printable, row)) for row in table.rows]
        cells = [max((len(r[c]) for r in rows), default=0) for c in range(len(names))]
        narrow = [min(w, most) if c in self.left else w for c, w in enumerate(cells)]
        # What names a row: its leading columns of words, at most two (segment and bottle).
        self.keys = [c for c in (0, 1) if set(range(c + 1)) <= self.left] or [0]
        self.wide = [max(w, len(printable(n)), len(u)) for w, n, u in zip(cells, names, units)]
        if self._width(range(len(names))) > room:
            longest = [max(map(len, printable(n).split()), default=0) for n in names]
            self.wide = [max(w, n, len(u)) for w, n, u in zip(narrow, longest, units)]
        self.heads = [[*self._fold(n, c), u] for c, (n, u) in enumerate(zip(names, units))]
        self.rows = [[self._fold(x, c) for c, x in enumerate(row)] for row in rows]

    def _fold(self, text: str, c: int) -> list[str]:
        return textwrap.wrap(printable(text), max(self.wide[c], 1), break_on_hyphens=False) or [""]

    def blocks(self) -> list[list[int]]:
        """Columns that fit beside each other, with the keys in each."""
        found, used = [list(self.keys)], self._width(self.keys)
        for c in range(len(self.wide)):
            if c in self.keys:
                continue
            if used + len(_GAP) + self.wide[c] > self.room and len(found[-1]) > len(self.keys):
                found.append(list(self.keys))
                used = self._width(self.keys)
            found[-1].append(c)
            used += len(_GAP) + self.wide[c]
        return found

    def _width(self, shown: Sequence[int]) -> int:
        return sum(self.wide[c] + len(_GAP) for c in shown)

    def lines(self, block: Sequence[int]) -> list[str]:
        """Lines of heads (they end together) and rows (they begin together)."""
        heads = [self.heads[c] for c in block]
        if not any(head[-1] for head in heads):  # none of these columns has a unit
            heads = [head[:-1] for head in heads]
        tall = max(map(len, heads))
        heads = [[""] * (tall - len(head)) + head for head in heads]
        found = list(self._joined(heads, block))
        for row in self.rows:
            found += self._joined([row[c] for c in block], block)
        return found

    def _joined(self, cells: Sequence[Sequence[str]], block: Sequence[int]) -> Iterable[str]:
        for parts in zip_longest(*cells, fillvalue=""):
            texts = (
                x.ljust(self.wide[c]) if c in self.left else x.rjust(self.wide[c])
                for c, x in zip(block, parts)
            )
            yield (_GAP + _GAP.join(texts)).rstrip()
