"""The engine as plain Python (NUMBA_DISABLE_JIT=1) gives the numbers of the compiled one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from uncompiled_cases import CASES, numbers

from n2osim.simulation.run import simulate


@pytest.fixture(scope="module")
def plain() -> dict:
    """Every case run without compilation, in a process of its own."""
    paths = [p for p in sys.path if p]
    env = os.environ | {"NUMBA_DISABLE_JIT": "1", "PYTHONPATH": os.pathsep.join(paths)}
    script = Path(__file__).with_name("uncompiled_cases.py")
    done = subprocess.run(
        [sys.executable, str(script)], env=env, capture_output=True, text=True, timeout=600,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout)


# Largest difference, of the largest value. A vented bottle rests so near the outside's pressure
# that the last bit of exp and log decides which of its steps are repeated.
LIMITS = dict.fromkeys(CASES, 1e-10) | {"overheated": 1e-5}


@pytest.mark.parametrize("case", CASES)
def test_compiled_and_plain_agree(case: str, plain: dict) -> None:
    ours, theirs, limit = numbers(simulate(CASES[case]())), plain[case], LIMITS[case]
    assert [e[:2] for e in ours["events"]] == [list(e[:2]) for e in theirs["events"]]
    times = [[e[2] for e in run["events"]] for run in (ours, theirs)]
    assert times[0] == pytest.approx(times[1], rel=limit, abs=1e-9)
    for name, values in ours["last"].items():
        scale = limit * ours["largest"][name]
        assert values == pytest.approx(theirs["last"][name], rel=0.0, abs=scale), name
    assert ours["walls"] == pytest.approx(theirs["walls"], rel=limit)
    assert ours["steps"] == pytest.approx(theirs["steps"], rel=0.05 if limit > 1e-6 else 0.0)


def test_cases_go_where_they_say() -> None:
    seen = {case: {e.name for e in simulate(CASES[case]()).events} for case in CASES}
    assert {"switch on", "switch off"} <= seen["evening"]
    assert "liquid-out" in seen["emptied"]
    assert "switch on" in seen["two_bottles"]
    assert {"flow inhibited", "flow allowed"} <= seen["metered"]
    assert {"relief opens", "cut-out opens"} <= seen["overheated"]
