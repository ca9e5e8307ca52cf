"""Run what the pages show; ``python tests/docs/page_tools.py`` rewrites the outputs they show.

A page's fenced blocks are carried out in order in one directory:

- ``sh`` in a shell, ``python`` in one namespace a page, ``toml`` below ``<!-- file: NAME -->`` is
  written to that file;
- ``text`` right after one of them is what it prints (words exactly, numbers to their last digits);
- set-up commands (``<!-- the demo command -->``, ``<!-- the test command -->``) are left to
  continuous integration, which carries out the one and, through the tests, the end of the other.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple
from unittest import mock

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "n2osim" / "docs"
PAGES = [ROOT / "README.md", DOCS / "how-to.md", DOCS / "measure.md"]
_BLOCK = re.compile(r"(<!-- ([^\n]*) -->\n)?```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
SETUP = ("the demo command", "the test command")


class Block(NamedTuple):
    """A fenced block: language, text, note in the comment above it, place of the text."""

    language: str
    text: str
    note: str
    span: tuple[int, int]
    line: int


def blocks(page: str) -> list[Block]:
    """The fenced blocks of a page in order."""
    return [
        Block(m[3], m[4], m[2] or "", m.span(4), page.count("\n", 0, m.start(4)))
        for m in _BLOCK.finditer(page)
    ]


def carried_out(page: str, directory: Path) -> Iterator[tuple[Block, str]]:
    """Each block with what it printed (text blocks: what was printed by the one before)."""
    space: dict[str, Any] = {"__name__": "__main__"}
    printed = ""
    for block in blocks(page):
        if block.note in SETUP:
            continue
        if block.language == "sh":
            printed = _shell(block.text, directory)
        elif block.language == "python":
            printed = _python(block, space, directory)
        elif block.language == "toml" and block.note.startswith("file: "):
            (directory / block.note.removeprefix("file: ")).write_text(block.text, "utf-8")
        yield block, printed


def environment() -> dict[str, str]:
    """Commands of this interpreter's environment come first; no window is opened."""
    own = str(Path(sys.executable).parent)
    return os.environ | {
        "PATH": own + os.pathsep + os.environ["PATH"],
        "MPLBACKEND": "Agg",
        "COLUMNS": "80",
    }


def _shell(text: str, directory: Path) -> str:
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", text],
        cwd=directory,
        env=environment(),
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    if done.returncode:
        raise AssertionError(f"{text}\nended with {done.returncode}:\n{done.stderr[-3000:]}")
    return done.stdout


def _python(block: Block, space: dict[str, Any], directory: Path) -> str:
    out = io.StringIO()
    code = compile("\n" * block.line + block.text, "<page>", "exec")
    wide = mock.patch.dict(os.environ, COLUMNS="100")  # whatever runs the tests says of its own
    with wide, contextlib.chdir(directory), contextlib.redirect_stdout(out):
        exec(code, space)
    return out.getvalue()


def rewritten(page: str, directory: Path) -> str:
    """The page with its outputs as they are now."""
    pieces, at = [], 0
    for block, printed in carried_out(page, directory):
        if block.language == "text":
            pieces += [page[at : block.span[0]], _tidy(printed)]
            at = block.span[1]
    return "".join([*pieces, page[at:]])


def _tidy(text: str) -> str:
    return "\n".join(line.rstrip() for line in text.rstrip().splitlines()) + "\n"


if __name__ == "__main__":
    import matplotlib

    matplotlib.use("Agg")
    for path in PAGES:
        with tempfile.TemporaryDirectory() as made:
            text = rewritten(path.read_text(encoding="utf-8"), Path(made))
        path.write_text(text, encoding="utf-8", newline="\n")
        print(path)
