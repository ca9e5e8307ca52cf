"""Run one lane through its schedule and write down rows and events."""

from __future__ import annotations

import math

from n2osim.engine import layout as L
from n2osim.engine.exchange import exchange_slopes
from n2osim.engine.integrate import (
    _MAX_LOCATED,
    _TIME_EPS,
    N_WATCH,
    error_norm,
    evaluate,
    fire,
    next_stop,
    note_clear_of_boundary,
    outflow_slopes,
    watch,
    zone_slopes,
)
from n2osim.engine.recorder import (
    N_EVENTS,
    N_FIRST_STEP,
    N_INSIDE,
    N_INSTANT,
    N_LOCATED,
    N_REJECTED,
    N_ROWS,
    N_SEGMENT,
    N_STEPS,
    PAUSE_AT,
    STOP,
    grow,
    note_fired,
    write_event,
    write_row,
)
from n2osim.engine.refill import refill
from n2osim.engine.step import take_step
from n2osim.engine.zones import zone_switch
from n2osim.jit import entry, jit, leaf

MIN_STEP = 1e-10
_CLOSE_BEHIND = 5e-6  # of an event function: how far behind a threshold a step may end
_MAX_ROUNDS = 20  # of thresholds firing at one instant
# What a bottle looked like just before it left the equation of state.
_HOT = 500.0  # K
_FULL = 4e7  # Pa
_THIN = 3.0  # kg/m3, about saturated vapour at the triple point


@leaf
def _most_events(plant):
    """Most events that one instant can write, segment start and end included."""
    return _MAX_ROUNDS * N_WATCH * plant.bottles.shape[0] + 2


@leaf
def _settle(plant, lmodes, modes, y, work, book, rows, events, kind):
    """Fire everything already passed at this instant; returns (ending code, switch opened)."""
    opened = 0
    for _ in range(_MAX_ROUNDS):
        evaluate(book.time[0], book.time[1], y, plant, lmodes, modes, work, book.f, book.out)
        if not _in_range(book.out, modes):
            return L.OUT_OF_RANGE, opened
        watch(plant, lmodes, modes, y, book.out, book.g)
        fired, off = fire(plant, lmodes, modes, y, book.out, book.g, book.codes)
        opened = max(opened, off)
        if fired == 0:
            write_row(rows, book, kind, y, book.out, lmodes, modes)
            return L.OK, opened
        note_fired(plant, book, events, lmodes, book.out)
    return L.TOO_MANY_EVENTS, opened


@leaf
def _in_range(out, modes):
    """Whether every bottle (that is not frozen out) is in a state of the equation of state."""
    for i in range(out.shape[0]):
        if modes[i, L.FROZEN] == 0 and not math.isfinite(
            out[i, L.O_T] + out[i, L.O_P] + out[i, L.O_MDOT]
        ):
            return False
    return True


@leaf
def _highest(g):
    top = -math.inf
    for i in range(g.shape[0]):
        for k in range(N_WATCH):
            top = max(top, g[i, k])
    return top


@leaf
def _highest_of(g, codes):
    """Largest event function among those marked."""
    top = -math.inf
    for i in range(g.shape[0]):
        for k in range(N_WATCH):
            if codes[i, k] == 1:
                top = max(top, g[i, k])
    return top


@leaf
def _mark_passed(before, after, codes):
    """Mark (1) the thresholds that were ahead before and are passed after; how many."""
    found = 0
    for i in range(after.shape[0]):
        for k in range(N_WATCH):
            codes[i, k] = 1 if after[i, k] >= 0.0 and before[i, k] < 0.0 else 0
            found += codes[i, k]
    return found


@leaf
def _try(plant, lmodes, modes, y, work, book, h):
    """Step of length ``h``; False when a stage or the end left the range."""
    t = book.time[0]
    book.counts[N_INSTANT] += 1
    if not take_step(
        t, book.time[1], h, y, book.f, book.out, plant, lmodes, modes, work, book.y1, book.error
    ):
        return False
    evaluate(t + h, book.time[1], book.y1, plant, lmodes, modes, work, book.f1, book.out1)
    return _in_range(book.out1, modes)


@leaf
def _less(g, before):
    """Factor on the value kept at the other end when the same end moves twice in turn."""
    m = 1.0 - g / before
    return m if m > 0.0 else 0.5


@leaf
def _locate(plant, lmodes, modes, y, work, book, h):
    """Shorten a step that passed the marked thresholds until it ends just behind the first.

    False position (Anderson and Bjorck, BIT 13 (1973) 253) on the largest of their functions
    alone, which is smooth; halving now and then in case it is not. Ending 5e-6 behind is 0.5 Pa,
    50 uK of a heater or 5 uK of a phase boundary: no sensor could tell.
    """
    low, high = 0.0, h
    g_low = _highest_of(book.g0, book.codes)
    g_high = _highest_of(book.g, book.codes)
    behind = g_high
    side = 0
    last = h
    for turn in range(60):
        if high - low <= max(1e-7, 1e-13 * h) or behind <= _CLOSE_BEHIND:
            break
        trial = low + (0.5 * _CLOSE_BEHIND - g_low) * (high - low) / (g_high - g_low)
        if turn % 5 == 4 or not (low < trial < high):
            trial = 0.5 * (low + high)
        last = trial
        if not _try(plant, lmodes, modes, y, work, book, trial):
            high = trial
            continue
        watch(plant, lmodes, modes, book.y1, book.out1, book.g)
        g = _highest_of(book.g, book.codes)
        if g >= 0.0:
            g_low *= _less(g, g_high) if side == 1 else 1.0
            high, g_high, behind, side = trial, g, g, 1
        else:
            g_high *= _less(g, g_low) if side == -1 else 1.0
            low, g_low, side = trial, g, -1
    if last != high:
        _try(plant, lmodes, modes, y, work, book, high)
    return high


@leaf
def _is_sharp(g):
    """Whether a threshold that changes what is switched is passed (not only a phase or a level)."""
    for i in range(g.shape[0]):
        for k in (0, 1, 2, 3, 7, 8):
            if g[i, k] >= 0.0:
                return True
    return False


@leaf
def _copy_accepted(y, book, h):
    book.time[0] += h
    for m in range(y.shape[0]):
        y[m] = book.y1[m]
        book.f[m] = book.f1[m]
    for i in range(book.out.shape[0]):
        for k in range(L.N_OUT):
            book.out[i, k] = book.out1[i, k]


@leaf
def _advance(plant, lmodes, modes, y, work, book, stop, h_max, tolerance):
    """Make one accepted step towards ``stop``; returns (ending code, crossed a threshold)."""
    h = min(book.time[2], h_max)
    note_clear_of_boundary(modes, book.out)
    outflow_slopes(plant, y, book.out, work)
    exchange_slopes(plant, y, book.out, work)
    zone_slopes(plant, y, work)
    while True:
        left = stop - book.time[0]
        full = h >= left * (1.0 - 1e-12)
        if full:
            h = left
        elif h > 0.5 * left:
            h = 0.5 * left
        good = _try(plant, lmodes, modes, y, work, book, h)
        err = math.inf
        if good:
            err = error_norm(y, book.y1, book.error, plant, book.out, tolerance)
            if math.isnan(err):
                err = math.inf
        if err <= 1.0:
            break
        book.counts[N_REJECTED] += 1
        h *= 0.25 if not good else max(0.1, 0.85 * err ** (-1.0 / 3.0))
        if h < MIN_STEP:
            return (L.OUT_OF_RANGE if not good else L.STEP_TOO_SMALL), False
    book.counts[N_STEPS] += 1
    grow = min(5.0, 0.85 * max(err, 1e-8) ** (-1.0 / 3.0))
    if not full or grow < 1.0:
        book.time[2] = h * grow
    else:
        book.time[2] = max(book.time[2], h * grow)
    watch(plant, lmodes, modes, y, book.out, book.g0)
    watch(plant, lmodes, modes, book.y1, book.out1, book.g)
    crossed = _highest(book.g) >= 0.0
    sharp = _is_sharp(book.g)
    ahead = _highest(book.g0) < 0.0 and _mark_passed(book.g0, book.g, book.codes) > 0
    if ahead and (sharp or book.counts[N_LOCATED] < _MAX_LOCATED):
        book.counts[N_LOCATED] += 0 if sharp else 1
        h = _locate(plant, lmodes, modes, y, work, book, h)
        full = False
    _copy_accepted(y, book, h)
    if full:
        book.time[0] = stop
    return L.OK, crossed


@leaf
def _rezone(plant, lmodes, modes, y, work, book):
    """Make or merge liquid and vapour zones where due; true when a state changed."""
    changed = False
    width = L.NODE0 + 2 * plant.wall.shape[2]
    for i in range(plant.bottles.shape[0]):
        b = plant.bottles[i]
        if b.two_zone == 1 and zone_switch(b, y, i * width, book.out, i, lmodes[L.L_FLOWING]):
            changed = True
            modes[i, L.TWO_PHASE_FLAG] = 1 if book.out[i, L.O_LEVEL] > 0.0 else 0
            modes[i, L.PHASE_CLEAR] = 0
    if changed:
        evaluate(book.time[0], book.time[1], y, plant, lmodes, modes, work, book.f, book.out)
        book.time[2] = 1e-3
    return changed


@leaf
def _enter(plant, s, t, lmodes, modes, book):
    """Set the modes of segment ``s`` at time ``t``."""
    seg = plant.segments[s]
    lmodes[L.L_SEGMENT] = s
    lmodes[L.L_HEATER_ARMED] = seg.heater_armed
    lmodes[L.L_FLOWING] = 1 if seg.n_stages > 0 else 0
    lmodes[L.L_WINDOW_SHUT] = 0
    book.time[1] = t
    book.time[2] = 2e-3 if seg.n_stages > 0 else 0.2


# --- bottles that leave the equation of state ----------------------------------------------------
@leaf
def _culprit(out, modes):
    """First bottle in a state that the equation of state does not know, -1 if there is none."""
    for i in range(out.shape[0]):
        if modes[i, L.FROZEN] == 0 and not math.isfinite(out[i, L.O_T] + out[i, L.O_P]):
            return i
    for i in range(out.shape[0]):
        if modes[i, L.FROZEN] == 0 and not math.isfinite(out[i, L.O_MDOT]):
            return i
    return -1


@leaf
def _cause(last, density):
    """Why a bottle leaves, from its last report in range (none: a refill) and density (kg/m3)."""
    if last[L.O_T] > _HOT or last[L.O_TV] > _HOT:
        return L.HOT
    if last[L.O_P] > _FULL or not math.isfinite(last[L.O_P]):
        return L.FULL
    return L.EMPTY if density < _THIN else L.COLD


@leaf
def _freeze(plant, y, lmodes, modes, work, book, events):
    """Freeze out the bottle that has left the range; False when it is not known or the last one.

    From then on its valve counts as shut and its heater as off, and its state stays as it was.
    """
    i = _culprit(work.out, modes)
    if i < 0:
        i = _culprit(book.out1, modes)
    if i < 0:
        i = _culprit(book.out, modes)
    left = 0
    for k in range(modes.shape[0]):
        left += 1 if modes[k, L.FROZEN] == 0 else 0
    if i < 0 or left < 2:
        return False
    base = i * (L.NODE0 + 2 * plant.wall.shape[2])
    y[base + L.M1] += y[base + L.M2]
    y[base + L.U1] += y[base + L.U2]
    y[base + L.M2] = 0.0
    y[base + L.U2] = 0.0
    cause = _cause(book.out[i], y[base + L.M1] / plant.bottles[i].volume)
    modes[i, L.FROZEN] = cause
    modes[i, L.SW_ON] = 0
    gauge = book.out[i, L.O_P] - plant.lane[0].p_ambient
    write_event(events, book, L.EV_HOT + cause - L.HOT, i, lmodes[L.L_SEGMENT], gauge)
    return True


@jit
def _go_on(plant, y, lmodes, modes, work, book, rows, events):
    """Settle what is left; bottles that are out of range are frozen out until the rest can go on.

    Returns (rows, events, ending code, switch opened).
    """
    while True:
        rows = grow(rows, book.counts[N_ROWS] + 3)
        events = grow(events, book.counts[N_EVENTS] + _most_events(plant))
        code, opened = _settle(plant, lmodes, modes, y, work, book, rows, events, 2)
        if code != L.OUT_OF_RANGE or not _freeze(plant, y, lmodes, modes, work, book, events):
            return rows, events, code, opened


@leaf
def _must_pause(book, control):
    return control[STOP] != 0 or 0 < control[PAUSE_AT] <= book.counts[N_STEPS]


@jit
def _run_segment(plant, s, y, lmodes, modes, work, book, rows, events, control, max_steps):
    """Integrate one segment, or what is left of it; returns (rows, events, ending code)."""
    seg = plant.segments[s]
    lane = plant.lane[0]
    t_end = book.time[3]
    h_max = lane.max_step_flow if seg.n_stages > 0 else lane.max_step_hold
    room = _most_events(plant)
    while t_end - book.time[0] > _TIME_EPS:
        if _must_pause(book, control):
            return rows, events, L.PAUSED
        stop = next_stop(plant, seg, book.time[0], book.time[1], t_end, work.places)
        code, crossed = _advance(plant, lmodes, modes, y, work, book, stop, h_max, lane.tolerance)
        rows = grow(rows, book.counts[N_ROWS] + 3)
        events = grow(events, book.counts[N_EVENTS] + room)
        if code == L.OUT_OF_RANGE and _freeze(plant, y, lmodes, modes, work, book, events):
            rows, events, code, _ = _go_on(plant, y, lmodes, modes, work, book, rows, events)
            book.time[2] = 2e-3 if seg.n_stages > 0 else 0.2
            crossed = False
            if code == L.OK:
                continue
        if code != L.OK:
            return rows, events, code
        if crossed:
            write_row(rows, book, 1, y, book.out, lmodes, modes)
            code, opened = _settle(plant, lmodes, modes, y, work, book, rows, events, 2)
            if code != L.OK:
                return rows, events, code
            _rezone(plant, lmodes, modes, y, work, book)
            book.time[2] = min(book.time[2], 2e-3 if seg.n_stages > 0 else 2.0)
            if opened == 1 and seg.until_open == 1:
                return rows, events, L.OK
        else:
            write_row(rows, book, 0, y, book.out, lmodes, modes)
            if _rezone(plant, lmodes, modes, y, work, book):
                write_row(rows, book, 2, y, book.out, lmodes, modes)
            if stop < t_end and book.time[0] == stop:
                book.time[2] = min(book.time[2], 2e-3 if seg.n_stages > 0 else 2.0)
        if book.counts[N_STEPS] - book.counts[N_FIRST_STEP] > max_steps:
            return rows, events, L.TOO_MANY_STEPS
    book.time[0] = t_end
    return rows, events, L.OK


@jit
def _begin(plant, s, y, lmodes, modes, work, book, rows, events):
    """Start of a segment: its modes, its refill, what is already passed; (rows, events, code)."""
    _enter(plant, s, book.time[0], lmodes, modes, book)
    rows = grow(rows, book.counts[N_ROWS] + 3)
    events = grow(events, book.counts[N_EVENTS] + _most_events(plant))
    write_event(events, book, L.EV_START, -1, s, 0.0)
    if plant.segments[s].kind == L.REFILL:
        # A row before the jump: what was there, and how much came in.
        evaluate(book.time[0], book.time[1], y, plant, lmodes, modes, work, book.f, book.out)
        write_row(rows, book, 1, y, book.out, lmodes, modes)
        refill(plant, s, y, modes)
    rows, events, code, _ = _go_on(plant, y, lmodes, modes, work, book, rows, events)
    if code == L.OK:
        _rezone(plant, lmodes, modes, y, work, book)
        book.time[3] = book.time[0] + plant.segments[s].duration
        book.counts[N_FIRST_STEP] = book.counts[N_STEPS]
        book.counts[N_INSIDE] = 1
    return rows, events, code


@entry
def run_lane(plant, y, lmodes, modes, work, book, rows, events, control, max_steps):
    """Run the schedule, or go on with it; returns (rows, events, ending code).

    ``rows`` (n, row_width) and ``events`` (m, EVENT_WIDTH) are tables with room, larger ones come
    back when it is used up; ``book.counts`` says how much of them is filled. ``control``: see
    :mod:`n2osim.engine.recorder`; with L.PAUSED the same call goes on where this one stopped.
    """
    while book.counts[N_SEGMENT] < plant.segments.shape[0]:
        s = book.counts[N_SEGMENT]
        code = L.OK
        if book.counts[N_INSIDE] == 0:
            rows, events, code = _begin(plant, s, y, lmodes, modes, work, book, rows, events)
        if code == L.OK:
            rows, events, code = _run_segment(
                plant, s, y, lmodes, modes, work, book, rows, events, control, max_steps
            )
        if code == L.PAUSED:
            return rows, events, code
        events = grow(events, book.counts[N_EVENTS] + 1)
        write_event(events, book, L.EV_END, -1, s, 0.0)
        if code != L.OK:
            return rows, events, code
        book.counts[N_INSIDE] = 0
        book.counts[N_SEGMENT] = s + 1
    return rows, events, L.OK
