"""Runs stop when they are told to, keep what they have, and go on as if nothing had happened."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time

import numpy as np
import pytest

from n2osim.engine import advance, recorder
from n2osim.engine import layout as L
from n2osim.engine.pack import Packed, pack
from n2osim.hardware import Bottle, Feed, Heater, Jets, PressureSwitch
from n2osim.results.run import simulate
from n2osim.scenario.scenario import Numerics, Scenario
from n2osim.scenario.schedule import Hold, Pass, Rest
from n2osim.studies import run_ensemble

BOTTLE = Bottle.preset("carbon-aluminium", "10 lb")


def evening(rounds: int, tolerance: float = 1.0) -> Scenario:
    return Scenario(
        BOTTLE,
        [Hold("20 min"), Pass("8 s"), Rest("10 min")] * rounds,
        fill="9 lb",
        start="60 degF",
        heater=Heater("400 W"),
        switch=PressureSwitch("900 psig", "950 psig"),
        feed=Feed(Jets(2, "0.028 in")),
        numerics=Numerics(tolerance=tolerance, max_steps=10_000_000),
    )


ENDLESS = evening(60, 1e-5)


def interrupt_soon(after: float) -> threading.Timer:
    timer = threading.Timer(after, os.kill, (os.getpid(), signal.SIGINT))
    timer.start()
    return timer


def test_ctrl_c_stops_a_run_and_keeps_what_there_is() -> None:
    simulate(evening(1))
    timer = interrupt_soon(0.5)
    with pytest.raises(KeyboardInterrupt) as caught:
        simulate(ENDLESS)
    timer.join()
    partial = caught.value.partial_run  # type: ignore[attr-defined]
    assert partial.ending == "interrupted"
    assert 0.0 < partial.time[-1] < 60 * 1808.0
    assert np.isfinite(partial["pressure_Pa"]).all()
    assert partial.closure()["mass"] < 1e-9


@pytest.mark.parametrize(
    "executor", [pytest.param("serial", marks=pytest.mark.campaign), "threads"]
)
def test_ctrl_c_stops_a_study_within_a_member(executor: str) -> None:
    simulate(evening(1))
    timer = interrupt_soon(0.5)
    result = run_ensemble([ENDLESS] * 4, executor=executor, workers=2)
    timer.join()
    assert not result.complete
    assert len(result) == 0


def test_another_thread_can_stop_a_run() -> None:
    stop, found = advance.Stop(), []
    packed = pack(ENDLESS)
    thread = threading.Thread(target=lambda: found.append(advance.run_packed(packed, stop=stop)))
    thread.start()
    time.sleep(0.3)
    stop.set()
    thread.join(60.0)
    rows, _, _, code = found[0]
    assert code == L.PAUSED
    assert len(rows) > 0


@pytest.mark.parametrize("after", [0.2, 1.0, pytest.param(2.0, marks=pytest.mark.campaign)])
def test_the_command_answers_ctrl_c_with_130_and_one_line(after: float, tmp_path: object) -> None:
    file = f"{tmp_path}/endless.toml"
    ENDLESS.to_toml(file)
    begin = "import sys; from n2osim.cli import main; print('begun', file=sys.stderr, flush=True)"
    command = subprocess.Popen(
        [sys.executable, "-c", begin + "; sys.exit(main(sys.argv[1:]))", "simulate", file],
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert command.stderr is not None and command.stderr.readline() == "begun\n"
    time.sleep(after)  # from there on, however long the interpreter took to start
    command.send_signal(signal.SIGINT)
    _, said = command.communicate(timeout=60.0)
    assert command.returncode == 130
    assert after < 0.5 or "Traceback" not in said


def in_parts(packed: Packed, every: int, plain_first: bool) -> tuple[np.ndarray, np.ndarray]:
    """The same run with a pause every so many steps."""
    whole = advance._UnderWay(packed, 8, 8, None)
    if plain_first:
        whole.stop.control[recorder.PAUSE_AT] = every
        whole._go(advance.Setup(*map(advance.as_objects, packed.setup)), whole.stop.control)
    while whole.code == L.PAUSED:
        whole.stop.control[recorder.PAUSE_AT] += every
        whole.compiled()
    rows, events, _, code = whole.tables()
    assert code == L.OK
    return rows, events


def test_a_run_that_pauses_is_the_same_bit_for_bit() -> None:
    packed = pack(evening(2))
    rows, events, _, _ = advance.run_packed(packed)
    again, happened = in_parts(packed, 7, False)
    assert np.array_equal(rows, again)
    assert np.array_equal(events, happened)
