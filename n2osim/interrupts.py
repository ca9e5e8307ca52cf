"""Carry out compiled code so that Ctrl-C is seen at once.

Python raises KeyboardInterrupt in the main thread and between its own instructions only. A compiled
run would see it when it is over, and an interrupt that falls into one of the compiler's callbacks
while kernels are made or read is lost. So the main thread hands both to another one and waits.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from typing import Any


def watched() -> bool:
    """Whether an interrupt would be raised here: in the main thread, unless it is ignored."""
    handler = signal.getsignal(signal.SIGINT)
    here = threading.current_thread() is threading.main_thread()
    return here and handler is not None and handler is not signal.SIG_IGN


def interruptible(
    call: Callable[[], Any], stop: Callable[[], None] = lambda: None, patience: float | None = None
) -> Any:
    """What ``call`` returns. On an interrupt ``stop`` is called, and ``patience`` seconds (None: as
    long as it takes) are given to the call to end."""
    if not watched():
        return call()
    result: list[Any] = []
    failure: list[BaseException] = []

    def work() -> None:
        try:
            result.append(call())
        except BaseException as problem:
            failure.append(problem)
        finally:
            done.set()

    # Not joined: a join that is interrupted can take the thread for finished (Python 3.11).
    done = threading.Event()
    threading.Thread(target=work, name="n2osim-run", daemon=True).start()
    try:
        while not done.wait(0.1):
            pass
    except BaseException:
        stop()
        done.wait(patience)
        raise
    if failure:
        raise failure[0]
    return result[0]
