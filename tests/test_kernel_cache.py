"""Compiled kernels on disk are rebuilt when anything they were built from changes."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
from pathlib import Path

import n2osim
from n2osim import jit_cache


def test_stamp_covers_modules_imported_indirectly() -> None:
    root = Path(n2osim.__file__).parent
    lane = str(root / "simulation" / "lane.py")
    assert jit_cache.stamp(lane) == jit_cache.stamp(lane)
    _, direct = jit_cache._read(Path(lane))
    assert root / "simulation" / "integrate.py" in direct
    assert root / "fluid" / "saturation.py" not in direct  # only through others
    assert jit_cache.stamp(lane) != jit_cache.stamp(str(root / "fluid" / "saturation.py"))


def test_edited_callee_reaches_its_cached_caller(tmp_path: Path) -> None:
    """A copy of the package's own jit with two modules: the caller's file never changes."""
    package = tmp_path / "n2osim"
    package.mkdir()
    source = Path(n2osim.__file__).parent
    for name in ("_jit.py", "jit_cache.py"):
        (package / name).write_text((source / name).read_text())
    (package / "__init__.py").write_text("")
    callee = "from n2osim.jit import jit\n\n@jit\ndef inner(x):\n    return {} * x\n"
    caller = """
        from n2osim.jit import jit
        from n2osim.inner import inner

        @jit
        def outer(x):
            return inner(x) + 1.0
    """
    (package / "outer.py").write_text(textwrap.dedent(caller))
    results = []
    for factor in ("2.0", "3.0"):
        (package / "inner.py").write_text(callee.format(factor))
        code = "from n2osim.outer import outer; print(outer(10.0))"
        env = {**os.environ, "PYTHONPATH": str(tmp_path), "NUMBA_CACHE_DIR": str(tmp_path / "c")}
        done = subprocess.run(
            [sys.executable, "-c", code],
            env=env,
            cwd=tmp_path,
            capture_output=True,
            text=True,
            check=True,
        )
        results.append(float(done.stdout))
    assert results == [21.0, 31.0]
