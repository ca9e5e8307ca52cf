"""What the pages show passes strict type checks, as a user's own files would be checked."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from page_tools import DOCS, PAGES, ROOT, blocks

SHOWN = [*(p for p in PAGES if p.stem in ("README", "how-to")), DOCS / "extending.md"]


@pytest.mark.campaign
def test_what_the_pages_show_passes_strict_types(tmp_path: Path) -> None:
    pytest.importorskip("mypy")
    for page in SHOWN:
        shown = [b.text for b in blocks(page.read_text("utf-8")) if b.language == "python"]
        own = tmp_path / f"shown_{page.stem.replace('-', '_').lower()}.py"
        own.write_text("\n".join(shown), encoding="utf-8")
    command = [sys.executable, "-m", "mypy", "--strict", "--follow-imports=silent", "."]
    done = subprocess.run(
        command,
        cwd=tmp_path,
        env=os.environ | {"MYPYPATH": str(ROOT), "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=600,
    )
    assert done.returncode == 0, done.stdout + done.stderr
