"""What a run writes down as it goes: rows of its state and report, and events."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.integrate import N_WATCH
from n2osim.jit import jit, leaf

ROW_HEAD = 3  # time, segment, kind of row (0 step, 1 before an event, 2 after it)
EVENT_WIDTH = 5  # time, code, bottle, segment, gauge pressure


class Now(NamedTuple):
    """Counters and current arrays of a run; arrays so that kernels can change them."""

    counts: np.ndarray  # rows, events, steps, rejected, located crossings, trial steps, then the
    # segment, whether it has begun, and the steps before it
    time: np.ndarray  # now, start of segment, step length, end of segment, first step after the
    # last switching (0: to come)
    f: np.ndarray
    out: np.ndarray
    y1: np.ndarray
    f1: np.ndarray
    out1: np.ndarray
    error: np.ndarray
    g0: np.ndarray
    g: np.ndarray
    codes: np.ndarray
    waits: np.ndarray  # until when (s) a cut-out stays open however cool, 0 where it need not


N_ROWS, N_EVENTS, N_STEPS, N_REJECTED, N_LOCATED, N_TRIALS = range(6)
N_SEGMENT, N_INSIDE, N_FIRST_STEP, N_COUNTS = range(6, 10)
STOP, PAUSE_AT = 0, 1
"""What a run looks at before every step (``control``): not 0 stops it; number of steps to pause
at (0: never)."""


def at_first(nb: int, ny: int) -> Now:
    """Nothing done yet, for ``nb`` bottles and ``ny`` unknowns."""
    return Now(
        np.zeros(N_COUNTS, np.int64),
        np.zeros(5),
        np.zeros(ny),
        np.zeros((nb, L.N_OUT)),
        np.zeros(ny),
        np.zeros(ny),
        np.zeros((nb, L.N_OUT)),
        np.zeros(ny),
        np.zeros((nb, N_WATCH)),
        np.zeros((nb, N_WATCH)),
        np.zeros((nb, N_WATCH), np.int64),
        np.zeros(nb),
    )


def row_width(nb: int, ny: int) -> int:
    """Numbers in one row: head, state, report and modes of every bottle, run modes."""
    return ROW_HEAD + ny + nb * L.N_OUT + nb * L.N_MODES + L.N_RUN_MODES


@jit
def grow(rows, needed):
    """The table itself, or a larger copy when row number ``needed`` would not fit."""
    if needed < rows.shape[0]:
        return rows
    bigger = np.empty((max(2 * rows.shape[0], needed + 1), rows.shape[1]))
    for r in range(rows.shape[0]):
        for k in range(rows.shape[1]):
            bigger[r, k] = rows[r, k]
    return bigger


@leaf
def write_row(rows, now, kind, y, out, lmodes, modes):
    """Write the present instant as one row; kinds: see ``ROW_HEAD``."""
    r = now.counts[N_ROWS]
    row = rows[r]
    row[0] = now.time[0]
    row[1] = lmodes[L.L_SEGMENT]
    row[2] = kind
    c = ROW_HEAD
    for m in range(y.shape[0]):
        row[c + m] = y[m]
    c += y.shape[0]
    for i in range(out.shape[0]):
        for k in range(L.N_OUT):
            row[c + k] = out[i, k]
        c += L.N_OUT
    for i in range(out.shape[0]):
        for k in range(L.N_MODES):
            row[c + k] = modes[i, k]
        c += L.N_MODES
    for k in range(L.N_RUN_MODES):
        row[c + k] = lmodes[k]
    now.counts[N_ROWS] = r + 1


@leaf
def write_event(events, now, code, bottle, segment, gauge):
    """Write one event of the present instant; ``gauge`` in Pa."""
    n = now.counts[N_EVENTS]
    events[n, 0] = now.time[0]
    events[n, 1] = code
    events[n, 2] = bottle
    events[n, 3] = segment
    events[n, 4] = gauge
    now.counts[N_EVENTS] = n + 1


@leaf
def note_fired(setup, now, events, lmodes, out):
    """Write down every threshold that fired at this instant."""
    for i in range(out.shape[0]):
        for k in range(N_WATCH):
            if now.codes[i, k] >= 0:
                gauge = out[i, L.O_P] - setup.whole[0].p_ambient
                write_event(events, now, now.codes[i, k], i, lmodes[L.L_SEGMENT], gauge)
