"""Where tasks run: this thread, a thread pool, worker processes, or any executor that is given.

The kernels release the interpreter lock, so threads of one process scale and are the default. An
executor is anything with ``submit(function, *args)`` that returns a future with ``result()`` and
``add_done_callback``: a process pool, the client executor of dask.distributed, and others of that
interface. A callable that makes executors may be given instead; a new one is then made when one
breaks.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from typing import Any

from n2osim.errors import InputError, UnknownNameError
from n2osim.studies.members import Chunk, Task, run_task

_NAMED = ("threads", "processes", "serial")


def default_workers() -> int:
    """Processors that this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not every system can say
        return os.cpu_count() or 1


def check_workers(workers: Any) -> int:
    """A usable number of workers (None: one a processor)."""
    if workers is None:
        return default_workers()
    if isinstance(workers, bool) or not isinstance(workers, int) or not 1 <= workers <= 4096:
        raise InputError(
            "workers", workers, "", "a whole number, 1 to 4096", "leave it out for one a processor"
        )
    return workers


class _Inline(Executor):
    """Runs what is submitted at once, in the calling thread."""

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as problem:
            future.set_exception(problem)
        return future


def _ignore_interrupt() -> None:
    # Ctrl-C reaches the whole process group; the study's own process decides what happens.
    signal.signal(signal.SIGINT, signal.SIG_IGN)


class Pool:
    """An executor with what the driver needs to know about it."""

    def __init__(self, executor: Any, workers: int | None) -> None:
        self.stop = threading.Event()
        self.local = False  # tasks run in this process and see ``stop``
        self._own: Executor | None = None
        self._executor: Any = None
        self._make: Callable[[], Any] | None = None
        self.workers = check_workers(workers)
        if executor is None:
            executor = "threads" if self.workers > 1 else "serial"
        if isinstance(executor, str):
            self._named(executor)
        elif hasattr(executor, "submit"):
            self._given(executor, workers)
        elif callable(executor):
            self._make = executor
            self._own = self._executor = executor()
        else:
            raise InputError(
                "executor",
                executor,
                "",
                "an object with submit(), a function that "
                "makes one, or " + ", ".join(map(repr, _NAMED)),
            )

    def _named(self, name: str) -> None:
        if name == "serial":
            self.workers, self.local = 1, True
            self._own = _Inline()
        elif name == "threads":
            self.local = True
            self._own = ThreadPoolExecutor(self.workers, thread_name_prefix="n2osim")
        elif name == "processes":
            self._make = self._processes
            self._own = self._processes()
        else:
            raise UnknownNameError.among("executor", name, _NAMED)
        self._executor = self._own

    def _given(self, executor: Any, workers: int | None) -> None:
        self._executor = executor
        self.local = isinstance(executor, (ThreadPoolExecutor, _Inline))
        if workers is None:
            self.workers = int(getattr(executor, "_max_workers", 0) or default_workers())
        if isinstance(executor, ProcessPoolExecutor):
            context = getattr(executor, "_mp_context", None)
            self._make = lambda: ProcessPoolExecutor(self.workers, mp_context=context)

    def _processes(self) -> Executor:
        return ProcessPoolExecutor(self.workers, initializer=_ignore_interrupt)

    @property
    def inline(self) -> bool:
        """True when submit() only returns after the work is done."""
        return isinstance(self._executor, _Inline)

    def submit(self, task: Task) -> Future[Chunk]:
        """Start a task."""
        if self.local:
            return self._executor.submit(run_task, task, self.stop)
        return self._executor.submit(run_task, task)

    def renew(self) -> bool:
        """Replace a broken executor by a fresh one; False when there is no way to make one."""
        if self._make is None:
            return False
        self._shut(self._own)
        self._own = self._executor = self._make()
        return True

    def close(self) -> None:
        """Give up executors that were made here; a given one stays open."""
        self._shut(self._own)

    @staticmethod
    def _shut(executor: Any) -> None:
        if executor is not None and hasattr(executor, "shutdown"):
            try:
                executor.shutdown(wait=True, cancel_futures=True)
            except TypeError:  # executors of the interface before cancel_futures
                executor.shutdown(wait=True)


__all__ = ["Pool", "check_workers", "default_workers"]
