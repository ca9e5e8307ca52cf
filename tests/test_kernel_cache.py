"""Compiled kernels: kept where that is possible, rebuilt when anything they were built from
changes, and not waited for by a single run."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
import threading
import time
from pathlib import Path

import numpy as np
import pytest

import n2osim
from n2osim import compile_kernels, jit, jit_cache, prepare
from n2osim.engine import advance, recorder
from n2osim.engine import layout as L
from n2osim.engine.pack import pack
from n2osim.physics import feed_network
from n2osim.physics.make_flow_maps import unit_layers
from n2osim.scenario.file import load

ROOT = Path(n2osim.__file__).parent


def test_stamp_covers_modules_imported_indirectly() -> None:
    whole = str(ROOT / "engine" / "run_schedule.py")
    assert jit_cache.stamp(whole) == jit_cache.stamp(whole)
    _, direct = jit_cache._read(Path(whole))
    assert ROOT / "engine" / "integrate.py" in direct
    assert ROOT / "fluid" / "saturation.py" not in direct  # only through others
    assert jit_cache.stamp(whole) != jit_cache.stamp(str(ROOT / "fluid" / "saturation.py"))


def test_every_module_with_entries_is_known() -> None:
    found = {str(p) for p in ROOT.rglob("*.py") if "\n@entry\n" in p.read_text("utf-8")}
    assert found == set(jit_cache.sources())


def test_edited_callee_reaches_its_cached_caller(tmp_path: Path) -> None:
    """A copy of the package's own jit with two modules: the caller's file never changes."""
    package = tmp_path / "n2osim"
    package.mkdir()
    source = Path(n2osim.__file__).parent
    for name in ("jit.py", "jit_cache.py", "jit_library.py", "interrupts.py"):
        (package / name).write_text((source / name).read_text())
    (package / "__init__.py").write_text("")
    callee = "from n2osim.jit import jit\n\n@jit\ndef inner(x):\n    return {} * x\n"
    caller = """
        from n2osim.jit import entry
        from n2osim.inner import inner

        @entry
        def outer(x):
            return inner(x) + 1.0
    """
    (package / "outer.py").write_text(textwrap.dedent(caller))
    results = []
    for factor in ("2.0", "3.0"):
        (package / "inner.py").write_text(callee.format(factor))
        code = "from n2osim.outer import outer; print(outer(10.0))"
        env = {**os.environ, "PYTHONPATH": str(tmp_path), "NUMBA_CACHE_DIR": str(tmp_path / "c")}
        env["N2OSIM_KERNELS"] = "compiled"
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


WITH_AND_WITHOUT = """
import sys, numpy as np
from n2osim import jit_library
if sys.argv[1] == "without":
    jit_library._library = lambda: getattr(object(), "what this release of numba does not have")
assert (jit_library.pipeline() is None) == (sys.argv[1] == "without")
from n2osim import fluid
states = fluid.state(np.linspace(250.0, 400.0, 301), np.linspace(900.0, 40.0, 301))
for name in ("p", "u", "s", "cv"):
    print(getattr(states, name).tobytes().hex())
"""


@pytest.mark.campaign
def test_kernels_compiled_the_way_of_numba_give_the_same_bits(tmp_path: Path) -> None:
    """What is not numba's public interface may go: then compiling takes longer, nothing else."""
    found = []
    for way in ("with", "without"):
        where = str(tmp_path / way)
        env = {**os.environ, "NUMBA_CACHE_DIR": where, "N2OSIM_KERNELS": "compiled"}
        command = [sys.executable, "-c", WITH_AND_WITHOUT, way]
        done = subprocess.run(command, env=env, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        found.append(done.stdout)
    assert len(found[0]) > 4 * 301 * 16
    assert found[0] == found[1]


def test_places_that_cannot_be_written_to_are_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A read-only package and home leave the temporary directory, then nothing."""
    a_file = tmp_path / "file"
    a_file.write_text("no directory can be made here")
    monkeypatch.setattr(jit_cache, "_ROOT", a_file)
    monkeypatch.setenv("XDG_CACHE_HOME", str(a_file))
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(jit_cache.tempfile, "gettempdir", lambda: str(tmp_path))
    found = [p for p in jit_cache._candidates() if jit_cache._usable(p)]
    assert [p.parent for p in found] == [tmp_path]
    monkeypatch.setattr(jit_cache.tempfile, "gettempdir", lambda: str(a_file))
    assert not any(jit_cache._usable(p) for p in jit_cache._candidates())


def test_a_command_works_where_nothing_can_be_kept() -> None:
    """No home, no temporary directory, a package that is not to be written to: no traceback."""
    code = "from n2osim import jit_cache; jit_cache.directory = lambda: None\n"
    code += "from n2osim.fluid import state; print(round(float(state(300.0, 700.0).p)))"
    env = {**os.environ, "N2OSIM_KERNELS": ""}
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True)
    assert done.stderr == ""
    assert done.stdout.strip() == "5887437"


@pytest.fixture
def cold(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """As on a machine where nothing is compiled yet; says when it was asked to compile."""
    asked: list[str] = []
    monkeypatch.setattr(jit, "_mode", jit._WAITING)
    monkeypatch.setattr(jit, "_next_look", 0.0)
    monkeypatch.setattr(jit, "_LOOK_AGAIN", 0.0)
    monkeypatch.setattr(jit_cache, "is_ready", lambda: False)
    monkeypatch.setattr(prepare, "start", lambda: not asked.append("start"))
    return asked


def test_a_run_on_a_cold_machine_changes_over_to_compiled_kernels(
    cold: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    packed = pack(load(ROOT / "data" / "demo.toml"))
    ready = threading.Event()
    steps: list[int] = []
    go = advance._UnderWay._go

    def watched(self: advance._UnderWay, setup: object, control: np.ndarray) -> None:
        go(self, setup, control)  # type: ignore[arg-type]
        steps.append(int(self.now.counts[recorder.N_STEPS]))
        if steps[-1] >= 60:
            ready.set()

    monkeypatch.setattr(advance._UnderWay, "_go", watched)
    monkeypatch.setattr(jit_cache, "is_ready", ready.is_set)
    rows, events, counts, code = advance.run_packed(packed)
    assert cold == ["start"]
    assert code == L.OK
    assert steps[:3] == [20, 40, 60]
    assert len(steps) == 4  # the rest in one go
    monkeypatch.undo()
    again = advance.run_packed(pack(packed.scenario))
    assert np.array_equal(counts[:5], again[2][:5])
    np.testing.assert_allclose(rows, again[0], rtol=1e-10, atol=1e-9)
    np.testing.assert_allclose(events, again[1], rtol=1e-10, atol=1e-9)


def test_a_study_waits_for_compiled_kernels(
    cold: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    began = time.monotonic()
    monkeypatch.setattr(jit_cache, "is_ready", lambda: time.monotonic() > began + 0.3)
    prepare.wait()
    assert jit.compiled()
    assert time.monotonic() >= began + 0.3
    assert set(cold) == {"start"}


def test_a_study_compiles_here_where_the_background_cannot(
    cold: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(prepare, "start", lambda: False)
    prepare.wait()
    assert jit.compiled()


def test_only_one_process_compiles(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ready = tmp_path / "kernels-1.ready"
    monkeypatch.setattr(jit_cache, "ready_file", lambda: ready)
    monkeypatch.setattr(compile_kernels.os, "nice", lambda by: 0)
    monkeypatch.setattr(compile_kernels.os, "cpu_count", lambda: 1)
    called: list[bool] = []
    monkeypatch.setattr(compile_kernels, "call_everything", lambda: called.append(ready.exists()))
    prepare.lock_of(ready).write_text("1 17", "ascii")
    assert compile_kernels.main() == 0
    assert not called
    os.utime(prepare.lock_of(ready), (time.time() - 60.0,) * 2)  # that one has died
    assert compile_kernels.main() == 0
    assert called == [False]
    assert ready.exists()


def test_flow_maps_in_the_package_are_those_made_anew() -> None:
    shipped = feed_network._shipped()
    made = unit_layers()
    assert set(made) == set(shipped)
    for name, values in made.items():
        np.testing.assert_allclose(shipped[name], values, rtol=1e-9)
