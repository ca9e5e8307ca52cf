"""Where the keys of a TOML text stand: tomllib gives values without positions.

The scan follows TOML's grammar just far enough to tell keys from values. It never fails: what
it cannot follow is left to tomllib, which says what is wrong.
"""

from __future__ import annotations

import re

Place = tuple[str | int, ...]
"""Where in a file: keys, and positions in lists."""

DEEPEST = 24
"""Deepest nesting (dotted keys, arrays and inline tables together) that a scenario may have."""

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SPACE = re.compile(r"[ \t]*")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_SCALAR = re.compile(r"[^,\]}\n#\"'\[{]+")
_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")


class TooDeep(Exception):
    """Nesting beyond :data:`DEEPEST`; ``line`` says where."""

    def __init__(self, line: int) -> None:
        self.line = line
        super().__init__(line)


class _Lost(Exception):
    """The text does not follow the grammar here."""


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Place, int] = {}
        self.counts: dict[Place, int] = {}
        self.line = 1
        self.line_at = 0

    # --- position --------------------------------------------------------------------------
    def here(self) -> int:
        """Line number of the current position (1-based); positions only ever grow."""
        self.line += self.text.count("\n", self.line_at, self.at)
        self.line_at = self.at
        return self.line

    def note(self, path: Place) -> None:
        if len(path) > DEEPEST:
            raise TooDeep(self.here())
        self.lines.setdefault(path, self.here())

    def skip(self, pattern: re.Pattern[str]) -> bool:
        match = pattern.match(self.text, self.at)
        if match is None:
            return False
        self.at = match.end()
        return True

    def take(self, mark: str) -> bool:
        if self.text.startswith(mark, self.at):
            self.at += len(mark)
            return True
        return False

    # --- grammar ---------------------------------------------------------------------------
    def key(self) -> Place:
        """A dotted key."""
        parts: list[str | int] = []
        while True:
            self.skip(_SPACE)
            start = self.at
            if self.skip(_BARE):
                parts.append(self.text[start : self.at])
            elif self.skip(_STRING):
                parts.append(self.text[start : self.at].strip("\"'"))
            else:
                raise _Lost
            if len(parts) > DEEPEST:
                raise TooDeep(self.here())
            self.skip(_SPACE)
            if not self.take("."):
                return tuple(parts)

    def header(self) -> Place:
        """``[a.b]`` or ``[[a.b]]``: the path that following keys belong to."""
        double = self.take("[")
        parts = self.key()
        if not self.take("]]" if double else "]"):
            raise _Lost
        path: Place = ()
        for k, part in enumerate(parts):
            path += (part,)
            self.note(path)
            if double and k == len(parts) - 1:
                self.counts[path] = self.counts.get(path, -1) + 1
            if path in self.counts:
                path += (self.counts[path],)
        self.note(path)
        return path

    def value(self, path: Place) -> None:
        if len(path) > DEEPEST:
            raise TooDeep(self.here())
        self.skip(_SPACE)
        if self.skip(_STRING) or self.skip(_SCALAR):
            return
        if self.take("["):
            self.array(path)
        elif self.take("{"):
            self.table(path)
        else:
            raise _Lost

    def array(self, path: Place) -> None:
        for index in range(len(self.text)):
            self.skip(_BLANK)
            if self.take("]"):
                return
            self.note((*path, index))
            self.value((*path, index))
            self.skip(_BLANK)
            if not self.take(","):
                if self.take("]"):
                    return
                raise _Lost

    def table(self, path: Place) -> None:
        while True:
            self.skip(_BLANK)
            if self.take("}"):
                return
            self.pair(path)
            self.skip(_BLANK)
            if not self.take(","):
                if self.take("}"):
                    return
                raise _Lost

    def pair(self, path: Place) -> None:
        full = path
        for part in self.key():
            full += (part,)
            self.note(full)
        if not self.take("="):
            raise _Lost
        self.value(full)

    def document(self) -> None:
        path: Place = ()
        while True:
            self.skip(_BLANK)
            if self.at >= len(self.text):
                return
            try:
                if self.take("["):
                    path = self.header()
                else:
                    self.pair(path)
            except _Lost:
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end + 1


def key_lines(text: str) -> dict[Place, int]:
    """Line number (from 1) of every key of a TOML text, by path.

    A path is a tuple of keys and, inside arrays, positions: ``("schedule", 2, "duration")``.
    Raises :class:`TooDeep` for nesting beyond :data:`DEEPEST`.
    """
    scanner = _Scanner(text)
    scanner.document()
    return scanner.lines
