"""What README and how-to show passes strict type checks, as a user's own file would be checked."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from page_tools import PAGES, ROOT, blocks

SHOWN = [page for page in PAGES if page.stem in ("README", "how-to")]


@pytest.mark.campaign
@pytest.mark.parametrize("page", SHOWN, ids=lambda p: p.stem)
def test_what_a_page_shows_passes_strict_types(page: Path, tmp_path: Path) -> None:
    pytest.importorskip("mypy")
    shown = [b.text for b in blocks(page.read_text(encoding="utf-8")) if b.language == "python"]
    own = tmp_path / "mine.py"
    own.write_text("\n".join(shown), encoding="utf-8")
    command = [sys.executable, "-m", "mypy", "--strict", "--follow-imports=silent", "mine.py"]
    done = subprocess.run(
        command,
        cwd=tmp_path,
        env=os.environ | {"MYPYPATH": str(ROOT), "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=600,
    )
    assert done.returncode == 0, done.stdout + done.stderr
