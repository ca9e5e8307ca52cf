"""Carry out a "how to add" of DEVELOPERS.md in a copy of the package; count the files touched."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


class Copy:
    """A copy of the package in ``folder``; edits are counted."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.touched: set[str] = set()
        leave = shutil.ignore_patterns("__pycache__", "*.pyc")
        shutil.copytree(ROOT / "n2osim", folder / "n2osim", ignore=leave)

    def path(self, name: str) -> Path:
        """A file of the package, "results/quantities.py"."""
        return self.folder / "n2osim" / name

    def replace(self, name: str, old: str, new: str) -> None:
        """Put ``new`` in place of ``old``, which must be there once."""
        text = self.path(name).read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{name}: {text.count(old)} times: {old}"
        self.path(name).write_text(text.replace(old, new), encoding="utf-8", newline="\n")
        self.touched.add(name)

    def before(self, name: str, mark: str, text: str) -> None:
        """Insert ``text`` before ``mark``, which must be there once."""
        self.replace(name, mark, text + mark)

    def python(self, code: str, compiled: bool = True) -> str:
        """What code prints with the copy as the package; fails with what it said otherwise.

        ``compiled``: False runs the kernels as plain Python, slower but without compiling the copy.
        """
        env = os.environ | {"PYTHONPATH": str(self.folder)}
        if not compiled:
            env["NUMBA_DISABLE_JIT"] = "1"
        done = subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            text=True,
            env=env,
            cwd=self.folder,
            timeout=900,
        )
        assert done.returncode == 0, done.stderr[-3000:]
        return done.stdout
