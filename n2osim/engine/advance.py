"""Carry a packed scenario through its schedule: compiled or plain, and open to interruption.

An interrupt, or another thread, sets a flag that the integration reads before every step. A run
that began as plain Python, because kernels are still being compiled, pauses now and then and goes
on compiled from the same arrays once that is possible; after ten seconds of that a process waits
for it.
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np

from n2osim import jit, prepare
from n2osim.engine import layout as L
from n2osim.engine import recorder
from n2osim.engine.balances import Setup
from n2osim.engine.filling import as_items
from n2osim.engine.integrate import make_work
from n2osim.engine.pack import Packed, pack
from n2osim.engine.run_schedule import run_schedule
from n2osim.engine.slices import Slices, asks
from n2osim.interrupts import interruptible

_PLAIN_STEPS = 20  # plain steps between looks whether compiled kernels are there; some 0.1 s
_PLAIN_ENOUGH = 10.0  # s of plain running in a process; who needs more waits for compiled kernels
_spent = [0.0]


class Stop:
    """A flag that stops every run it was given to, from any thread."""

    def __init__(self) -> None:
        self.control = np.zeros(2, np.int64)

    def set(self) -> None:
        """Stop before the next step."""
        self.control[recorder.STOP] = 1

    def is_set(self) -> bool:
        """Whether it has been set."""
        return bool(self.control[recorder.STOP])


class Interrupted(KeyboardInterrupt):
    """Ctrl-C in a run: ``tables`` as :func:`run_packed` would have returned them, until then."""

    def __init__(self, tables: tuple[np.ndarray, np.ndarray, np.ndarray, int]) -> None:
        super().__init__("interrupted")
        self.tables = tables
        self.partial_run: Any = None


class _UnderWay:
    """Arrays of a run under way."""

    def __init__(self, packed: Packed, rows: int, events: int, stop: Stop | None) -> None:
        nb, ny = packed.n_bottles, packed.ny
        self.packed = packed
        self.stop = Stop() if stop is None else stop
        self.y, self.modes = packed.y0.copy(), packed.modes0.copy()
        self.lmodes = np.zeros(L.N_RUN_MODES, np.int64)
        self.work = make_work(nb, packed.nodes, ny, len(packed.setup.stages))
        self.now = recorder.at_first(nb, ny)
        self.rows = np.empty((max(rows, 8), recorder.row_width(nb, ny)))
        self.events = np.empty((max(events, 8), recorder.EVENT_WIDTH))
        self.code = L.PAUSED

    def compiled(self) -> None:
        """Go on, compiled, to the end or until stopped."""
        setup = self.packed.setup
        if isinstance(setup.maps, list):  # it was packed for plain Python
            setup = pack(self.packed.scenario).setup
        if asks(self.packed.scenario):
            self._ask(setup)
        else:
            self._go(setup, self.stop.control)

    def plain(self) -> None:
        """Go on as plain Python, until compiled kernels are at hand."""
        waiting = jit.pending()
        if asks(self.packed.scenario):
            if waiting:  # it is slow enough
                prepare.wait()
            else:
                self._ask(self.packed.setup)
            return
        setup = Setup(*map(as_objects, self.packed.setup))
        control = self.stop.control
        if waiting:
            control = control.copy()
        with np.errstate(all="ignore"):
            while self.code == L.PAUSED and not self.stop.is_set() and not jit.compiled():
                if waiting and _spent[0] > _PLAIN_ENOUGH:
                    prepare.wait()
                    return
                if waiting:
                    steps = self.now.counts[recorder.N_STEPS]
                    control[recorder.PAUSE_AT] = steps + _PLAIN_STEPS
                began = time.monotonic()
                self._go(setup, control)
                _spent[0] += time.monotonic() - began

    def _ask(self, setup: Setup) -> None:
        """Go on from question to question (:mod:`n2osim.engine.slices`)."""

        def call(setup: Setup, control: np.ndarray) -> int:
            compiled = jit.compiled()
            self._go(setup if compiled else Setup(*map(as_objects, setup)), control)
            return int(self.code)

        self.code = Slices(self, setup, call, self.stop.is_set).run()

    def _go(self, setup: Setup, control: np.ndarray) -> None:
        self.rows, self.events, self.code = run_schedule(
            setup,
            self.y,
            self.lmodes,
            self.modes,
            self.work,
            self.now,
            self.rows,
            self.events,
            control,
            self.packed.scenario.numerics.max_steps,
        )

    def tables(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, int]:
        """Rows and events by items of the schedule, counts, ending code."""
        counts = self.now.counts
        rows = self.rows[: counts[recorder.N_ROWS]]
        rows, events = as_items(self.packed, rows, self.events[: counts[recorder.N_EVENTS]])
        counts[recorder.N_EVENTS] = len(events)
        return rows, events, counts, int(self.code)


def run_packed(
    packed: Packed, rows: int = 2000, events: int = 500, stop: Stop | None = None
) -> tuple[np.ndarray, np.ndarray, np.ndarray, int]:
    """Rows, events, counts and ending code of a packed scenario, from its start.

    ``rows`` and ``events`` are how many to make room for at first; both lists grow as needed.
    ``stop`` ends the run early (code L.PAUSED). Raises :class:`Interrupted` on Ctrl-C.
    """
    whole = _UnderWay(packed, rows, events, stop)
    try:
        if not jit.compiled():
            prepare.start()
            _plainly(whole)
        if whole.code == L.PAUSED and not whole.stop.is_set():
            interruptible(whole.compiled, whole.stop.set)
    except KeyboardInterrupt:
        raise Interrupted(whole.tables()) from None
    return whole.tables()


def _plainly(whole: _UnderWay) -> None:
    """As plain Python; what it cannot do (a division by zero) is done again compiled."""
    try:
        whole.plain()
    except (ArithmeticError, ValueError):
        if not jit.pending():
            raise
        prepare.wait()
        whole.__init__(whole.packed, len(whole.rows), len(whole.events), whole.stop)  # type: ignore[misc]


class _Row:
    """One record as an object: its fields are attributes, as compiled code sees them."""

    def __init__(self, record: Any) -> None:
        for name in record.dtype.names:
            setattr(self, name, record[name])


class _Rows(list[_Row]):
    """Records as objects, many times faster for plain Python than numpy's."""

    @property
    def shape(self) -> tuple[int]:
        return (len(self),)


def as_objects(table: Any) -> Any:
    """Records as kernels that run as plain Python want them; other arrays as they are."""
    named = isinstance(table, np.ndarray) and table.dtype.names
    return _Rows(map(_Row, table)) if named else table
