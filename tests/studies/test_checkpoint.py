"""Long work: killed workers, interrupts, files on disk, taking up again."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
import scipy.stats as ss
from study_samples import base, count_calls, kill_always, kill_once, slow

from n2osim.scenario.fields import with_fields
from n2osim.scenario.schedule import Hold, Pass
from n2osim.studies.checkpoint import CheckpointError, digest
from n2osim.studies.ensemble import StudyError, run_ensemble
from n2osim.studies.montecarlo import monte_carlo
from n2osim.studies.sweeps import sweep

COUNT = 40
FILLS = {"fill": ss.uniform(4.0, 1.0)}


def quick(**changes):
    return base(schedule=[Hold(30.0), Pass(1.0)], start=300.0, **changes)


def study(**how):
    return monte_carlo(quick(), FILLS, COUNT, seed=1, **{"chunk": 5, **how})


def same(a, b):
    assert a.names == b.names and a.complete and b.complete
    for name in [*a.names, *a.inputs]:
        np.testing.assert_array_equal(a[name], b[name], err_msg=name)
    for name in a.series:
        np.testing.assert_array_equal(a.series[name], b.series[name])
    assert a.failures == b.failures
    np.testing.assert_array_equal(a.ok, b.ok)


@pytest.fixture
def marker(tmp_path, monkeypatch):
    path = tmp_path / "marker"
    monkeypatch.setenv("N2OSIM_TEST_MARKER", str(path))
    return path


# --- killed workers ------------------------------------------------------------------------------
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_a_killed_worker_costs_nothing_but_time(marker, tmp_path):
    marker.write_text("no killing")
    calm = study(measure=kill_once, executor="threads")
    marker.unlink()
    result = study(measure=kill_once, executor="processes", workers=2, checkpoint=tmp_path / "c")
    assert marker.read_text() == "killed"
    assert result.statistics["pool_restarts"] >= 1
    same(calm, result)
    kept = study(measure=kill_once, executor="processes", checkpoint=tmp_path / "c")
    assert kept.statistics["computed"] == 0 and kept.statistics["restored"] == COUNT
    same(calm, kept)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_a_member_that_kills_its_worker_is_singled_out():
    members = [with_fields(quick(), {"fill": 4.0 + 0.1 * k}) for k in range(8)]
    result = run_ensemble(members, measure=kill_always, executor="processes", workers=2, chunk=4)
    assert result.complete
    assert result.ok.tolist() == [True] * 5 + [False] + [True] * 2
    assert result.failures[0].member == 5 and "worker died" in result.failures[0].reason
    assert result["fill_seen"][[4, 6]].tolist() == [members[4].fill, members[6].fill]


def test_an_executor_that_takes_no_work_says_so():
    from concurrent.futures import ThreadPoolExecutor

    executor = ThreadPoolExecutor(1)
    executor.shutdown()
    with pytest.raises(StudyError, match="takes no work"):
        study(executor=executor)


class _Faulty:
    """An executor whose futures all fail, as a lost cluster's do."""

    def submit(self, function, *args):
        from concurrent.futures import Future

        future: Future = Future()
        future.set_exception(OSError("connection lost"))
        return future


def test_a_lost_cluster_is_given_up():
    with pytest.raises(StudyError, match="connection lost"):
        study(executor=_Faulty(), chunk=1)


# --- interrupts ----------------------------------------------------------------------------------
def interrupt_after(members):
    """A progress function that presses Ctrl-C once so many members are done."""

    pressed = []

    def progress(done, total):
        if done >= members and not pressed:
            pressed.append(done)
            os.kill(os.getpid(), signal.SIGINT)

    return progress


def in_main_thread():
    return (
        threading.current_thread() is threading.main_thread()
        and signal.getsignal(signal.SIGINT) is signal.default_int_handler
    )


@pytest.mark.parametrize("executor", ["serial", "threads", "processes"])
def test_interrupt_and_take_up_again(executor, marker, tmp_path):
    if not in_main_thread():
        pytest.skip("Ctrl-C reaches the main thread only")
    how = {"executor": executor, "workers": 2, "measure": count_calls, "times": [0.0, 10.0]}
    whole = study(**how)
    marker.unlink()
    part = study(**how, checkpoint=tmp_path / "c", progress=interrupt_after(10), chunk=3)
    assert not part.complete and part.note == "interrupted"
    assert 10 <= len(part) < COUNT
    for name in part.names:
        np.testing.assert_array_equal(part[name], whole[name][part.members])
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    # Taken up with other chunks, by threads: nothing lost, nothing computed twice.
    rest = study(**how | {"executor": "threads"}, checkpoint=tmp_path / "c", chunk=7)
    same(whole, rest)
    assert rest.statistics["restored"] == len(part)
    assert rest.statistics["computed"] == COUNT - len(part)
    calls = marker.read_text().split()
    assert len(calls) == COUNT and len(set(calls)) == COUNT


def test_a_keyboard_interrupt_inside_a_member_keeps_what_is_done(tmp_path):
    seen = []

    def press(run):
        seen.append(run.scenario.fill)
        if len(seen) == 8:
            raise KeyboardInterrupt
        return {}

    part = study(measure=press, executor="serial", checkpoint=tmp_path / "c")
    assert not part.complete and len(part) == 7
    same(study(measure=press, executor="serial"), study(measure=press, checkpoint=tmp_path / "c"))


SCRIPT = """
import sys
sys.path.insert(0, {here!r})
import scipy.stats as ss
from study_samples import base, slow
from test_checkpoint import FILLS, study
if __name__ == "__main__":
    result = study(measure=slow, executor={executor!r}, workers=2, checkpoint={where!r}, chunk=2)
    print("complete" if result.complete else "part", len(result), flush=True)
"""


@pytest.mark.parametrize(
    ("executor", "blow"),
    [
        pytest.param("threads", "SIGKILL", marks=pytest.mark.campaign),
        pytest.param("processes", "SIGINT", marks=pytest.mark.campaign),
        pytest.param("threads", "SIGINT", marks=pytest.mark.campaign),
    ],
)
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_a_program_stopped_from_outside(executor, blow, marker, tmp_path):
    where = tmp_path / "c"
    script = tmp_path / "run.py"
    here = str(Path(__file__).parent)
    script.write_text(SCRIPT.format(here=here, executor=executor, where=str(where)))
    env = dict(os.environ, N2OSIM_TEST_MARKER=str(marker))
    # A group of its own, so that Ctrl-C reaches the workers as it does from a terminal.
    program = subprocess.Popen(
        [sys.executable, str(script)],
        env=env,
        stdout=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    until = time.monotonic() + 300.0
    while len(list(where.glob("members-*.npz"))) < 3:
        assert program.poll() is None and time.monotonic() < until
        time.sleep(0.01)
    os.killpg(program.pid, getattr(signal, blow))
    out, _ = program.communicate(timeout=120)
    kept = sum(len(np.load(f)["members"]) for f in where.glob("members-*.npz"))
    assert 6 <= kept < COUNT
    if blow == "SIGINT":
        assert out.split() == ["part", str(kept)]
    marker.unlink()
    rest = study(measure=slow, checkpoint=where, chunk=4)
    assert rest.statistics["restored"] == kept
    assert len(marker.read_text().split()) == COUNT - kept
    same(study(measure=slow), rest)


# --- what is on disk -----------------------------------------------------------------------------
def test_streamed_scenarios_are_recognised(tmp_path):
    members = [with_fields(quick(), {"fill": 4.0 + 0.1 * k}) for k in range(6)]
    first = run_ensemble(iter(members[:4]), checkpoint=tmp_path, chunk=2)
    assert first.complete
    whole = run_ensemble(iter(members), checkpoint=tmp_path, chunk=3)
    assert whole.statistics["restored"] == 4 and whole.statistics["computed"] == 2
    same(run_ensemble(members), whole)
    with pytest.raises(CheckpointError, match="another scenario as member 0"):
        run_ensemble(members[::-1], checkpoint=tmp_path)


@pytest.mark.parametrize(
    "other",
    [
        lambda c: monte_carlo(quick(), FILLS, COUNT, seed=2, checkpoint=c),
        lambda c: monte_carlo(quick(), FILLS, COUNT + 1, seed=1, checkpoint=c),
        lambda c: monte_carlo(quick(title="another"), FILLS, COUNT, seed=1, checkpoint=c),
        lambda c: study(checkpoint=c, outputs=["run.used_kg"]),
        lambda c: study(checkpoint=c, times=[0.0, 1.0]),
        lambda c: sweep(quick(), {"fill": [4.0, 5.0]}, checkpoint=c),
    ],
)
def test_another_study_is_refused(other, tmp_path):
    study(checkpoint=tmp_path)
    with pytest.raises(CheckpointError, match=r"another study.*give another directory"):
        other(tmp_path)


def test_damaged_and_foreign_files(tmp_path):
    study(checkpoint=tmp_path)
    manifest = tmp_path / "manifest.json"
    good = manifest.read_text()
    about = json.loads(good)
    assert about["study"]["members"] == COUNT and about["study"]["fields"] == ["fill"]
    for text, words in (
        ("{", "cannot be read"),
        ("[]", "cannot be read"),
        (json.dumps(about | {"version": "0.0.0"}), "another version"),
        (json.dumps(about | {"schema": 99}), "another format"),
    ):
        manifest.write_text(text)
        with pytest.raises(CheckpointError, match=words):
            study(checkpoint=tmp_path)
    manifest.unlink()
    with pytest.raises(CheckpointError, match=r"no manifest\.json"):
        study(checkpoint=tmp_path)
    manifest.write_text(good)


@pytest.mark.parametrize("cut", [0, 100, -10])
def test_a_damaged_piece_is_put_aside_and_computed_again(cut, tmp_path):
    study(checkpoint=tmp_path)
    piece = sorted(tmp_path.glob("members-*.npz"))[1]
    piece.write_bytes(piece.read_bytes()[:cut])
    with pytest.warns(UserWarning, match=r"cannot be read.*computed again"):
        rest = study(checkpoint=tmp_path)
    assert rest.statistics["computed"] == 5 and piece.with_suffix(".damaged").exists()
    same(study(), rest)
    assert study(checkpoint=tmp_path).statistics["computed"] == 0


def test_pieces_hold_no_pickles(tmp_path):
    study(checkpoint=tmp_path)
    for file in tmp_path.glob("members-*.npz"):
        with np.load(file, allow_pickle=False) as data:
            assert all(data[name].dtype != object for name in data.files)
    bad = tmp_path / "members-000000000-000000000-1.npz"
    sorted(tmp_path.glob("members-*.npz"))[0].unlink()
    np.savez(bad, members=np.array([{"a": 1}], dtype=object))
    with pytest.warns(UserWarning, match="cannot be read"):
        assert study(checkpoint=tmp_path).complete


def test_failures_are_kept_on_disk_too(tmp_path):
    values = {"fill": [4.0, -1.0, "5 lb\n", 5.0]}
    first = sweep(quick(), values, checkpoint=tmp_path, chunk=1)
    again = sweep(quick(), values, checkpoint=tmp_path)
    assert again.statistics["computed"] == 0 and first.failures
    same(first, again)


def test_digests_tell_studies_apart():
    a = np.array([1.0, 2.0])
    assert digest(a, "x") == digest(a.copy(), "x")
    assert (
        len(
            {
                digest(a),
                digest(a.astype(np.float32)),
                digest(a[:1]),
                digest("a"),
                digest("a", "b"),
                digest("ab"),
                digest(1),
                digest(1.0),
            }
        )
        == 8
    )


def test_a_checkpoint_must_be_a_directory(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(CheckpointError, match="give a directory"):
        study(checkpoint=tmp_path / "file")
