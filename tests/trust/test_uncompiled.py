"""The engine as plain Python (NUMBA_DISABLE_JIT=1) gives the numbers of the compiled one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from uncompiled_cases import CASES, numbers, together

from n2osim.results.run import simulate


@pytest.fixture(scope="module")
def plain() -> dict:
    """Every case run without compilation, in a process of its own."""
    paths = [p for p in sys.path if p]
    env = os.environ | {"NUMBA_DISABLE_JIT": "1", "PYTHONPATH": os.pathsep.join(paths)}
    script = Path(__file__).with_name("uncompiled_cases.py")
    done = subprocess.run(
        [sys.executable, str(script)],
        env=env,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout)


LIMIT = 1e-10
"""Largest difference, of the largest value: rounding of exp and log, carried along."""


@pytest.mark.parametrize("case", CASES)
def test_compiled_and_plain_agree(case: str, plain: dict) -> None:
    ours, theirs = numbers(simulate(CASES[case]())), plain[case]
    assert [e[:2] for e in ours["events"]] == [list(e[:2]) for e in theirs["events"]]
    times = [[e[2] for e in run["events"]] for run in (ours, theirs)]
    assert times[0] == pytest.approx(times[1], rel=LIMIT, abs=1e-9)
    for name, values in ours["last"].items():
        scale = LIMIT * ours["largest"][name]
        assert values == pytest.approx(theirs["last"][name], rel=0.0, abs=scale), name
    assert ours["walls"] == pytest.approx(theirs["walls"], rel=LIMIT)
    assert ours["steps"] == theirs["steps"]


def test_the_ensemble_engine_agrees_too(plain: dict) -> None:
    for name, values in together().items():
        assert values == pytest.approx(plain["together"][name], rel=1e-10), name


def test_cases_go_where_they_say() -> None:
    seen = {case: {e.name for e in simulate(CASES[case]()).events} for case in CASES}
    assert {"switch on", "switch off"} <= seen["evening"]
    assert "liquid-out" in seen["emptied"]
    assert {"switch on", "cut-out opens"} <= seen["two_bottles"]
    assert {"flow inhibited", "flow allowed"} <= seen["metered"]
    assert {"all vapour or supercritical", "relief opens"} <= seen["overheated"]
