"""Runs the tasks of a study on an executor of :mod:`concurrent.futures` and hands on the results.

The kernels release the interpreter lock, so threads of one process scale and are the default.
Few tasks are in flight at a time, so memory stays bounded however many members a study has. A task
whose worker died or whose transport failed is tried again, alone, in a fresh executor; if it fails
again it is halved until the member at fault stands alone and is written down as failed. Ctrl-C
stops the study within a step of the integration: what is done is kept, the rest is left for another
day (a second Ctrl-C gives up at once).
"""

from __future__ import annotations

import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
    wait,
)
from contextlib import contextmanager
from types import FrameType
from typing import Any

from n2osim.engine.advance import Stop
from n2osim.errors import InputError, UnknownNameError
from n2osim.studies.members import Chunk, Task, run_task, whole_number

_ATTEMPTS = 2
_HOPELESS = 24  # task failures in a row, none succeeding: it is not the members' fault


class _Inline(Executor):
    """Runs what is submitted at once, in the calling thread."""

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as problem:
            future.set_exception(problem)
        return future


def _processors() -> int:
    """Processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _ignore_interrupt() -> None:
    # Ctrl-C reaches the whole process group; the study's own process decides what happens.
    signal.signal(signal.SIGINT, signal.SIG_IGN)


class Workers:
    """An executor with what the driver must know: where it runs, how many, how to renew it.

    executor: None (threads), a name of ``NAMED``, an executor, or a function that makes one. One
    that is given stays open. workers: None for one a processor.
    """

    NAMED: tuple[str, ...] = ("threads", "processes", "serial")

    def __init__(self, executor: Any = None, workers: Any = None) -> None:
        if workers is not None:
            whole_number("workers", workers, 1, 4096, "leave it out for one a processor")
        self.count: int = workers or _processors()
        self.make: Callable[[], Any] | None = None
        self.mine = True
        if executor is None:
            executor = "threads" if self.count > 1 else "serial"
        if isinstance(executor, str):
            if executor not in self.NAMED:
                raise UnknownNameError.among("executor", executor, self.NAMED)
            self.make = {
                "threads": lambda: ThreadPoolExecutor(self.count, thread_name_prefix="n2osim"),
                "processes": lambda: ProcessPoolExecutor(self.count, initializer=_ignore_interrupt),
                "serial": _Inline,
            }[executor]
        elif hasattr(executor, "submit"):
            self.mine = False
            self.count = workers or int(getattr(executor, "_max_workers", 0) or _processors())
            if isinstance(executor, ProcessPoolExecutor):
                context = getattr(executor, "_mp_context", None)
                self.make = lambda: ProcessPoolExecutor(self.count, mp_context=context)
        elif callable(executor):
            self.make = executor
        else:
            valid = f"an executor, a function that makes one, or {', '.join(self.NAMED)}"
            raise InputError("executor", executor, "", valid, "leave it out for threads")
        self.executor = executor if not self.mine or self.make is None else self.make()
        self.inline = isinstance(self.executor, _Inline)
        self.local = isinstance(self.executor, (ThreadPoolExecutor, _Inline))
        if self.inline:
            self.count = 1

    def renew(self) -> bool:
        """Replace a broken executor by a fresh one; False when there is no way to make one."""
        if self.make is None:
            return False
        self.close()
        self.executor, self.mine = self.make(), True
        return True

    def close(self) -> None:
        """Give up an executor that was made here."""
        if self.mine:
            self.executor.shutdown(wait=True, cancel_futures=True)


class Driver:
    """Runs tasks. After :meth:`run`, ``interrupted`` and ``note`` say how it ended."""

    def __init__(self, workers: Workers, done: Callable[[Chunk], None]) -> None:
        self.workers = workers
        self.done = done
        self.interrupted = False
        self.note = ""
        self.restarts = 0
        self._stop = Stop()
        self._flying: dict[Future[Chunk], Task] = {}
        self._again: deque[Task] = deque()
        self._suspect: Future[Chunk] | None = None
        self._in_a_row = 0
        self._doubtful: list[Chunk] = []

    # --- the loop --------------------------------------------------------------------------------
    def run(self, tasks: Iterator[Task]) -> None:
        """Run all tasks (drawn from the iterator only as fast as they are needed)."""
        with _interrupts(self._interrupt):
            while self._fill(tasks):
                # A signal does not end a wait, so it ends by itself now and then.
                landed, _ = wait(self._flying, timeout=0.2, return_when=FIRST_COMPLETED)
                for future in landed:
                    if future in self._flying:
                        self._collect(self._flying.pop(future), future)
                if self._stopping:
                    for future in [f for f in self._flying if f.cancel()]:
                        del self._flying[future]
            if not self._stopping:
                self._believe()

    @property
    def _stopping(self) -> bool:
        return self.interrupted or bool(self.note)

    def _interrupt(self) -> None:
        self.interrupted = True
        self._stop.set()

    def _fill(self, tasks: Iterator[Task]) -> bool:
        """Submit until the workers are busy; False when nothing is left to wait for."""
        most = 1 if self.workers.inline else 2 * self.workers.count
        while not self._stopping and len(self._flying) < most:
            # A task under suspicion runs alone, so that it cannot drag others down with it.
            if self._suspect in self._flying or (self._again and self._flying):
                break
            if self._again:
                self._suspect = self._submit(self._again.popleft())
            elif task := next(tasks, None):
                self._submit(task)
            else:
                break
        return bool(self._flying)

    def _submit(self, task: Task) -> Future[Chunk] | None:
        stop = (self._stop,) if self.workers.local else ()
        try:
            future = self.workers.executor.submit(run_task, task, *stop)
        except BrokenExecutor as problem:
            future = Future()
            future.set_exception(problem)
        except RuntimeError as problem:
            self.note = f"the executor takes no work: {problem}"
            return None
        self._flying[future] = task
        return future

    # --- outcomes --------------------------------------------------------------------------------
    def _collect(self, task: Task, future: Future[Chunk]) -> None:
        try:
            chunk = future.result()
        except CancelledError:
            return
        except Exception as problem:
            self._went_wrong(task, problem)
        else:
            self._came(task, chunk)

    def _came(self, task: Task, chunk: Chunk) -> None:
        if len(chunk.members):
            self._in_a_row = 0
            self._believe()
            self.done(chunk)
        if chunk.interrupted and self.workers.local:
            self._interrupt()
        left = range(len(chunk.members), len(task))
        if not left or self._stopping:
            return
        if len(chunk.members):
            self._again.append(task.subset(left, task.attempts))
        else:
            self._went_wrong(task, InterruptedError("its worker was interrupted"))

    def _believe(self) -> None:
        """Write down the members given up: the workers work, so it was their fault."""
        for chunk in self._doubtful:
            self.done(chunk)
        self._doubtful.clear()

    def _went_wrong(self, task: Task, problem: Exception) -> None:
        """A whole task failed: its worker died, or it could not be sent or brought back."""
        self._in_a_row += 1
        broken = isinstance(problem, BrokenExecutor)
        if broken and not self._renew():
            return
        if self._in_a_row > _HOPELESS:
            self.note = f"given up after {self._in_a_row} failures in a row: {problem!r}"
        if self._stopping:
            return
        if task.attempts + 1 < _ATTEMPTS:
            self._again.append(task.subset(range(len(task)), task.attempts + 1))
        elif len(task) > 1:
            half = len(task) // 2
            self._again.append(task.subset(range(half), _ATTEMPTS - 1))
            self._again.append(task.subset(range(half, len(task)), _ATTEMPTS - 1))
        else:
            # Only once something else has worked is it sure that the member was at fault.
            why = "its worker died" if broken else f"could not be carried out: {problem}"
            self._doubtful.append(task.lost(type(problem).__name__, f"{why} (tried twice)"))

    def _renew(self) -> bool:
        """A fresh executor; everything that was in flight in the broken one is suspect."""
        flying, self._flying = self._flying, {}
        for future, task in flying.items():
            if future.done() and not future.cancelled() and not future.exception():
                self._came(task, future.result())
            else:
                self._again.append(task)
        self.restarts += 1
        if self._stopping:
            return False
        if not self.workers.renew():
            self.note = (
                "the executor broke and cannot be renewed: give a function that makes "
                "executors, or executor='processes'"
            )
        return not self.note


@contextmanager
def _interrupts(action: Callable[[], None]) -> Iterator[None]:
    """Turn the first Ctrl-C into a call of ``action``; the next is a KeyboardInterrupt again."""
    mine = threading.current_thread() is threading.main_thread()
    before = signal.getsignal(signal.SIGINT) if mine else None
    if before is not signal.default_int_handler:
        yield  # somebody else handles it; leave that alone
        return

    def handler(number: int, frame: FrameType | None) -> None:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        action()

    signal.signal(signal.SIGINT, handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
