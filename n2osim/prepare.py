"""Have the kernels compiled in the background, and wait for that.

The first run on a machine starts ``python -m n2osim.compile_kernels``; a study, which needs
compiled kernels, waits for it and shows how far it is. One process compiles at a time: it holds a
file whose age says that it is alive and whose content which it is and how far.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from n2osim import jit, jit_cache

_EVENTS = 340  # of the compiler until everything is there: only for the progress shown
_STALE = 30.0  # s without one: the process has died
_POLL = 0.05  # s

_child: list[subprocess.Popen[bytes]] = []


def start() -> bool:
    """Start compiling in the background where that is wanted; False where it cannot be done."""
    if not jit.pending():
        return True
    ready = jit_cache.ready_file()
    if ready is None or not sys.executable:
        return False
    if _child and _child[-1].poll() not in (None, 0):
        return False  # it was tried, and failed
    if (_child and _child[-1].poll() is None) or alive(lock_of(ready)):
        return True
    try:
        _child.append(process("main"))
    except OSError:
        return False
    return True


def process(call: str) -> subprocess.Popen[bytes]:
    """Another process, of low priority, that calls a function of ``compile_kernels``."""
    code = f"import sys; sys.path.insert(0, {str(Path(__file__).parents[1])!r}); "
    code += f"from n2osim import compile_kernels; compile_kernels.{call}()"
    own: Any = {"start_new_session": True}  # Ctrl-C is not for it
    if sys.platform == "win32":
        own = {"creationflags": subprocess.BELOW_NORMAL_PRIORITY_CLASS | 0x08000000}
    nothing = subprocess.DEVNULL
    return subprocess.Popen(
        [sys.executable, "-c", code], stdin=nothing, stdout=nothing, stderr=nothing, **own
    )


def wait(show: bool = True) -> None:
    """Wait until kernels are compiled, with a bar where that takes time.

    Where the background cannot do it, they are compiled in this process as they are called.
    """
    if not jit.pending():
        return
    ready = jit_cache.ready_file()
    bar = None
    try:
        while not jit.compiled():
            if ready is None or not start():
                jit.use_compiled()
                return
            if bar is None and show and "PYTEST_CURRENT_TEST" not in os.environ:
                bar = _bar()
            if bar is not None:
                done = min(99, 100 * _events(lock_of(ready)) // _EVENTS)
                bar.update(max(0, done - bar.n))
            time.sleep(_POLL if bar is None else 4 * _POLL)
        if bar is not None:
            bar.n = 100
    finally:
        if bar is not None:
            bar.close()


def _bar() -> Any:
    from tqdm import tqdm

    words = "n2osim compiles its kernels, once on this machine"
    return tqdm(
        total=100,
        desc=words,
        bar_format="{desc}: {percentage:3.0f} % [{elapsed}]",
        mininterval=0.2 if sys.stderr.isatty() else 10.0,  # a file needs no more lines
    )


def lock_of(ready: Path) -> Path:
    """The file that the compiling process holds."""
    return ready.with_suffix(".lock")


def alive(lock: Path) -> bool:
    """Whether the process that holds it has given a sign of life."""
    try:
        return time.time() - lock.stat().st_mtime < _STALE
    except OSError:
        return False


def _events(lock: Path) -> int:
    try:
        return int(lock.read_text("ascii").split()[1])
    except (OSError, ValueError, IndexError):
        return 0
