"""Compile every kernel that is not on disk: ``python -m n2osim.compile_kernels``.

Nobody has to call it: see :mod:`n2osim.prepare`.
"""

from __future__ import annotations

import os
import sys
import threading
from contextlib import suppress
from pathlib import Path
from typing import Any

from n2osim import jit, jit_cache, prepare
from n2osim.prepare import alive, lock_of


def main() -> int:
    """Compile everything that is not on disk; the exit code is 0 also when another process does."""
    ready = jit_cache.ready_file()
    jit.use_compiled()
    if ready is None:
        return 1
    if hasattr(os, "nice"):
        os.nice(19)
    lock = lock_of(ready)
    if not alive(lock):
        lock.unlink(missing_ok=True)
    try:
        os.close(os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
    except FileExistsError:
        return 0
    finished = threading.Event()
    beat = threading.Thread(target=_beat, args=(lock, _count_events(), finished), daemon=True)
    beat.start()
    try:
        beside = prepare.process("call_others") if (os.cpu_count() or 1) > 1 else None
        call_everything()
        if beside is not None:
            beside.wait()
        ready.write_text("everything is compiled\n", encoding="ascii")
        _forget_old(ready)
    finally:
        finished.set()
        with suppress(OSError):
            lock.unlink()
    return 0


def _count_events() -> list[int]:
    """Number of functions the compiler has finished, kept up to date."""
    from numba.core import event

    done = [0]

    class Count(event.Listener):  # type: ignore[misc]
        def on_start(self, event: Any) -> None:
            pass

        def on_end(self, event: Any) -> None:
            done[0] += 1

    event.register("numba:compile", Count())
    return done


def _beat(lock: Path, done: list[int], finished: threading.Event) -> None:
    """Give signs of life; end the process where somebody has taken its place away."""
    while lock.exists():
        with suppress(OSError):
            lock.write_text(f"{os.getpid()} {done[0]}", "ascii")
        finished.wait(0.5)
    if not finished.is_set():
        os._exit(1)


def _forget_old(ready: Path) -> None:
    """Remove what other sources than these have left in the same place."""
    kept = {jit_cache.directory_for(source) for source in jit_cache.sources()}
    stems = {path.name.rpartition("-")[0] for path in kept if path is not None}
    import shutil

    for path in ready.parent.iterdir():
        old = path.is_dir() and path.name.rpartition("-")[0] in stems and path not in kept
        if old:
            shutil.rmtree(path, ignore_errors=True)
        elif path.suffix == ".ready" and path != ready:
            path.unlink(missing_ok=True)


def call_everything() -> None:
    """Call every entry with what the package gives it, so that it is compiled and kept."""
    call_runs()
    call_others()


def call_runs() -> None:
    """Call what a run needs: two thirds of the time of compiling."""
    from n2osim.hardware import Bottle, Feed, Heater, Jets, PressureSwitch
    from n2osim.results.run import simulate
    from n2osim.scenario.scenario import Scenario
    from n2osim.scenario.schedule import Hold, Pass
    from n2osim.studies.members import numbers_of

    bottle = Bottle.preset("aluminium", "10 lb")
    heater, switch = Heater(300.0), PressureSwitch(6.9e6, 7.6e6)
    one = Scenario(
        bottle,
        fill=4.0,
        start=300.0,
        heater=heater,
        switch=switch,
        feed=Feed(Jets(1, 0.001)),
        schedule=[Hold(1.0), Pass(0.05)],
    )
    simulate(one)
    numbers_of(one)


def call_others() -> None:
    """Call the rest, for which another process has time: maps of lines, properties, fits."""
    import numpy as np

    from n2osim import fluid
    from n2osim.engine.pack import pack
    from n2osim.fit import calibrate_noise, trace
    from n2osim.fluid import _loops, flash
    from n2osim.hardware import Bottle, Feed, FeedLine, Jets
    from n2osim.physics import feed_chain, feed_network, orifice
    from n2osim.scenario.fitted import FittedBottle
    from n2osim.scenario.scenario import Scenario
    from n2osim.scenario.schedule import Pass

    jit.use_compiled()
    bottle = Bottle.preset("aluminium", "10 lb")
    line = Feed(Jets(1, 0.001), line=FeedLine(3.0, 0.006))
    two = [FittedBottle(bottle, 4.0, 300.0, name) for name in ("left", "right")]
    pack(Scenario(two, [Pass(0.01)], feeds={"main": line}))
    for kernel, rows, count in _loops.KERNELS:
        values = (np.array([300.0]), np.array([700.0]))[:count]
        _loops.run(kernel, rows, *values)
    state = fluid.state(300.0, 700.0)
    flash.state_ph(6e6, float(state.h))
    chain = feed_chain.feed_elements(line)
    feed_network.build_flow_map(chain, 2e5)
    inlet = (float(state.p), float(state.h), float(state.s), 700.0, 300.0)
    feed_chain.network_flow(chain, 0, *inlet, 1e5)
    orifice.orifice_flux(0, *inlet, 1e5)
    t = np.linspace(0.0, 10.0, 50)
    trace.sensed(t, np.sin(t), t[10:20], 1.0)
    calibrate_noise.correlation(t, np.sin(t), 1)


if __name__ == "__main__":
    sys.exit(main())
