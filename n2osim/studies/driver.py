"""Keeps a pool busy with the tasks of a study and hands on what comes back.

Few tasks are in flight at a time, so memory stays bounded however many members a study has. A task
whose worker died or whose transport failed is tried again, alone, in a fresh pool; if it fails
again it is halved until the member at fault stands alone and is written down as failed. Ctrl-C
stops the study at the next member: what is done is kept, the rest is left for another day (a
second Ctrl-C gives up at once).
"""

from __future__ import annotations

import queue
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, CancelledError
from contextlib import contextmanager
from functools import partial
from types import FrameType
from typing import Any

import numpy as np

from n2osim.studies.members import Chunk, Task
from n2osim.studies.pools import Pool

_ATTEMPTS = 2
_HOPELESS = 24  # task failures in a row, none succeeding: it is not the members' fault


class Driver:
    """Runs tasks on a pool. After :meth:`run`, ``interrupted`` and ``note`` say how it ended."""

    def __init__(self, pool: Pool, done: Callable[[Chunk], None]) -> None:
        self.pool = pool
        self.done = done
        self.interrupted = False
        self.note = ""
        self.restarts = 0
        self._back: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._flying: dict[int, tuple[Task, Any]] = {}
        self._again: deque[Task] = deque()
        self._number = 0
        self._in_a_row = 0
        self._doubtful: list[Chunk] = []

    # --- the loop --------------------------------------------------------------------------------
    def run(self, tasks: Iterator[Task]) -> None:
        """Run all tasks (drawn from the iterator only as fast as they are needed)."""
        with _interrupts(self._interrupt):
            more = True
            while True:
                more = self._fill(tasks, more)
                if not self._flying and (self._stopping or not (more or self._again)):
                    break
                if self._flying:
                    self._collect()
            if not self._stopping:
                self._believe()

    def _believe(self) -> None:
        """Write down the members given up: the pool works, so it was their fault."""
        for chunk in self._doubtful:
            self.done(chunk)
        self._doubtful.clear()

    @property
    def _stopping(self) -> bool:
        return self.interrupted or bool(self.note)

    def _interrupt(self) -> None:
        self.interrupted = True
        self.pool.stop.set()
        self._back.put(None)

    def _fill(self, tasks: Iterator[Task], more: bool) -> bool:
        """Submit until the pool is busy; False when the tasks have run out."""
        while not self._stopping:
            # A task under suspicion runs alone, so that it cannot drag others down with it.
            if self._again:
                if self._flying:
                    return more
                self._submit(self._again.popleft())
                return more
            if not more or len(self._flying) >= self._wanted:
                return more
            task = next(tasks, None)
            if task is None:
                return False
            self._submit(task)
        return more

    @property
    def _wanted(self) -> int:
        return 1 if self.pool.inline else 2 * self.pool.workers

    def _submit(self, task: Task) -> None:
        number = self._number
        self._number += 1
        try:
            future = self.pool.submit(task)
        except BrokenExecutor as problem:
            self._flying[number] = (task, None)
            self._back.put((number, problem))
            return
        except RuntimeError as problem:
            self.note = f"the executor takes no work: {problem}"
            return
        self._flying[number] = (task, future)
        future.add_done_callback(partial(self._announce, number))

    def _announce(self, number: int, future: Any) -> None:
        self._back.put((number, None))

    def _collect(self) -> None:
        """Wait for something to come back and deal with it."""
        try:
            item = self._back.get(timeout=0.2)
        except queue.Empty:
            return
        if item is None:
            self._cancel()
            return
        number, problem = item
        if number not in self._flying:
            return
        task, future = self._flying.pop(number)
        if problem is None:
            try:
                chunk = future.result()
            except CancelledError:
                return
            except Exception as caught:
                problem = caught
            else:
                self._came(task, chunk)
                return
        self._went_wrong(task, problem)

    def _cancel(self) -> None:
        for number, (_, future) in list(self._flying.items()):
            if future is not None and future.cancel():
                self._flying.pop(number, None)

    # --- outcomes --------------------------------------------------------------------------------
    def _came(self, task: Task, chunk: Chunk) -> None:
        if len(chunk.members):
            self._in_a_row = 0
            self._believe()
            self.done(chunk)
        if chunk.interrupted and self.pool.local:
            self._interrupt()
        left = range(len(chunk.members), len(task))
        if not left or self._stopping:
            return
        if len(chunk.members):
            self._again.append(task.subset(left, task.attempts))
        else:
            self._went_wrong(task, InterruptedError("its worker was interrupted"))

    def _went_wrong(self, task: Task, problem: BaseException) -> None:
        """A whole task failed: its worker died, or it could not be sent or brought back."""
        self._in_a_row += 1
        broken = isinstance(problem, BrokenExecutor)
        if broken and not self._renew():
            return
        if self._in_a_row > _HOPELESS:
            self.note = f"given up after {self._in_a_row} failures in a row: {problem!r}"
            return
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
            self._doubtful.append(_lost(task, problem, broken))

    def _renew(self) -> bool:
        """A fresh pool; everything that was in flight in the broken one is suspect."""
        flying = list(self._flying.values())
        self._flying.clear()
        for task, future in flying:
            if future is not None and future.done() and not future.exception():
                self._came(task, future.result())
            else:
                self._again.append(task)
        self.restarts += 1
        if self._stopping:
            return False
        if not self.pool.renew():
            self.note = (
                "the executor broke and cannot be renewed: give a function that makes "
                "executors, or executor='processes'"
            )
            return False
        return True


def _lost(task: Task, problem: BaseException, broken: bool) -> Chunk:
    reason = "its worker died" if broken else f"could not be carried out: {problem}"
    failed = task.failed(0, type(problem).__name__, f"{reason} (tried twice)")
    bottles = 0 if task.plan.times is None else 1
    times = 0 if task.plan.times is None else len(task.plan.times)
    return Chunk(
        task.members.copy(),
        np.zeros(1, bool),
        (),
        np.empty((1, 0)),
        np.full((1, len(task.plan.series) if times else 0, bottles, times), np.nan),
        np.empty((0, 6)),
        (failed,),
    )


@contextmanager
def _interrupts(action: Callable[[], None]) -> Iterator[None]:
    """Turn the first Ctrl-C into a call of ``action``; the next is a KeyboardInterrupt again."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.getsignal(signal.SIGINT)
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


__all__ = ["Driver"]
