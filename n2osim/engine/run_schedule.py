"""Run a scenario through its schedule and write down rows and events."""

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
    pauses_end,
    watch,
    zone_slopes,
)
from n2osim.engine.recorder import (
    N_EVENTS,
    N_FIRST_STEP,
    N_INSIDE,
    N_LOCATED,
    N_REJECTED,
    N_ROWS,
    N_SEGMENT,
    N_STEPS,
    N_TRIALS,
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
_LAST_STRETCH = 1.0  # s before a phase boundary that may be stepped across
_MAX_ROUNDS = 20  # of thresholds firing at one instant
# What a bottle looked like just before it left the equation of state.
_HOT = 500.0  # K
_FULL = 4e7  # Pa
_THIN = 3.0  # kg/m3, about saturated vapour at the triple point


@leaf
def _most_events(setup):
    """Most events that one instant can write, segment start and end included."""
    return _MAX_ROUNDS * N_WATCH * setup.bottles.shape[0] + 2


@leaf
def _settle(setup, lmodes, modes, y, work, now, rows, events, kind):
    """Fire everything already passed at this instant; returns (ending code, switch opened)."""
    opened = 0
    for _ in range(_MAX_ROUNDS):
        evaluate(now.time[0], now.time[1], y, setup, lmodes, modes, work, now.f, now.out)
        if not _in_range(now.out, modes):
            return L.OUT_OF_RANGE, opened
        watch(setup, lmodes, modes, y, now.out, now.waits, now.g)
        fired, off = fire(
            now.time[0], setup, lmodes, modes, y, now.out, now.waits, now.g, now.codes
        )
        opened = max(opened, off)
        if fired == 0:
            write_row(rows, now, kind, y, now.out, lmodes, modes)
            return L.OK, opened
        note_fired(setup, now, events, lmodes, now.out)
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
def _try(setup, lmodes, modes, y, work, now, h):
    """Step of length ``h``; False when a stage or the end left the range."""
    t = now.time[0]
    now.counts[N_TRIALS] += 1
    if not take_step(
        t, now.time[1], h, y, now.f, now.out, setup, lmodes, modes, work, now.y1, now.error
    ):
        return False
    evaluate(t + h, now.time[1], now.y1, setup, lmodes, modes, work, now.f1, now.out1)
    return _in_range(now.out1, modes)


@leaf
def _less(g, before):
    """Factor on the value kept at the other end when the same end moves twice in turn."""
    m = 1.0 - g / before
    return m if m > 0.0 else 0.5


@leaf
def _locate(setup, lmodes, modes, y, work, now, h):
    """Shorten a step that passed the marked thresholds until it ends just behind the first.

    False position (Anderson and Bjorck, BIT 13 (1973) 253) on the largest of their functions
    alone, which is smooth; halving now and then in case it is not. Ending 5e-6 behind is 0.5 Pa,
    50 uK of a heater or 5 uK of a phase boundary: no sensor could tell.
    """
    low, high = 0.0, h
    g_low = _highest_of(now.g0, now.codes)
    g_high = _highest_of(now.g, now.codes)
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
        if not _try(setup, lmodes, modes, y, work, now, trial):
            high = trial
            continue
        watch(setup, lmodes, modes, now.y1, now.out1, now.waits, now.g)
        g = _highest_of(now.g, now.codes)
        if g >= 0.0:
            g_low *= _less(g, g_high) if side == 1 else 1.0
            high, g_high, behind, side = trial, g, g, 1
        else:
            g_high *= _less(g, g_low) if side == -1 else 1.0
            low, g_low, side = trial, g, -1
    if last != high:
        _try(setup, lmodes, modes, y, work, now, high)
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
def _copy_accepted(y, now, h):
    now.time[0] += h
    for m in range(y.shape[0]):
        y[m] = now.y1[m]
        now.f[m] = now.f1[m]
    for i in range(now.out.shape[0]):
        for k in range(L.N_OUT):
            now.out[i, k] = now.out1[i, k]


@leaf
def _remember(now):
    """Keep the report from before a refill: what comes after it may be out of range."""
    for i in range(now.out.shape[0]):
        for k in range(L.N_OUT):
            now.out1[i, k] = now.out[i, k]


@leaf
def _to_boundary(setup, y, now):
    """Longest step towards the next phase boundary of a bottle that nothing leaves (s).

    Rates have a kink there, so that a long step across it is refused; while the density stays it is
    met about when temperature goes on as now.
    """
    first = math.inf
    width = L.NODE0 + 2 * setup.wall.shape[2]
    for i in range(setup.bottles.shape[0]):
        if now.out[i, L.O_MDOT] != 0.0 or y[i * width + L.M2] > 0.0:
            continue
        rate = now.out[i, L.O_DTDU] * now.f[i * width + L.U1]
        ahead = now.out[i, L.O_TSAT] - now.out[i, L.O_T]
        if ahead * rate > 0.0:
            first = min(first, ahead / rate)
    return 0.9 * first if first > _LAST_STRETCH else first + 1e-3


@leaf
def _advance(setup, lmodes, modes, y, work, now, stop, h_max, tolerance):
    """Make one accepted step towards ``stop``; returns (ending code, crossed a threshold)."""
    h = min(now.time[2], h_max, _to_boundary(setup, y, now))
    note_clear_of_boundary(modes, now.out)
    zone_slopes(setup, y, work)
    outflow_slopes(setup, y, now.out, work)
    exchange_slopes(setup, y, now.out, work)
    while True:
        left = stop - now.time[0]
        full = h >= left * (1.0 - 1e-12)
        if full:
            h = left
        elif h > 0.5 * left:
            h = 0.5 * left
        good = _try(setup, lmodes, modes, y, work, now, h)
        err = math.inf
        if good:
            err = error_norm(y, now.y1, now.error, setup, now.out, work.pressing, tolerance)
            if math.isnan(err):
                err = math.inf
        if err <= 1.0:
            break
        now.counts[N_REJECTED] += 1
        h *= 0.25 if not good else max(0.1, 0.85 * err ** (-1.0 / 3.0))
        if h < MIN_STEP:
            return (L.OUT_OF_RANGE if not good else L.STEP_TOO_SMALL), False
    now.counts[N_STEPS] += 1
    if now.time[4] == 0.0 and not full:
        now.time[4] = h
    grow = min(5.0, 0.85 * max(err, 1e-8) ** (-1.0 / 3.0))
    if not full or grow < 1.0:
        now.time[2] = h * grow
    else:
        now.time[2] = max(now.time[2], h * grow)
    watch(setup, lmodes, modes, y, now.out, now.waits, now.g0)
    watch(setup, lmodes, modes, now.y1, now.out1, now.waits, now.g)
    crossed = _highest(now.g) >= 0.0
    sharp = _is_sharp(now.g)
    ahead = _highest(now.g0) < 0.0 and _mark_passed(now.g0, now.g, now.codes) > 0
    if ahead and (sharp or now.counts[N_LOCATED] < _MAX_LOCATED):
        now.counts[N_LOCATED] += 0 if sharp else 1
        h = _locate(setup, lmodes, modes, y, work, now, h)
        full = False
        if not _in_range(now.out1, modes):  # behind the threshold the equation of state ends
            return L.OUT_OF_RANGE, False
    _copy_accepted(y, now, h)
    if full:
        now.time[0] = stop
    return L.OK, crossed


@leaf
def _rezone(setup, lmodes, modes, y, work, now):
    """Make or merge liquid and vapour zones where due; true when a state changed."""
    changed = False
    width = L.NODE0 + 2 * setup.wall.shape[2]
    for i in range(setup.bottles.shape[0]):
        b = setup.bottles[i]
        if b.two_zone == 1 and zone_switch(y, i * width, now.out, i, lmodes[L.L_FLOWING]):
            changed = True
            modes[i, L.TWO_PHASE_FLAG] = 1 if now.out[i, L.O_LEVEL] > 0.0 else 0
            modes[i, L.PHASE_CLEAR] = 0
    if changed:
        evaluate(now.time[0], now.time[1], y, setup, lmodes, modes, work, now.f, now.out)
        now.time[2] = 1e-3
    return changed


@leaf
def _enter(setup, s, t, lmodes, modes, now):
    """Set the modes of segment ``s`` at time ``t``."""
    seg = setup.segments[s]
    lmodes[L.L_SEGMENT] = s
    lmodes[L.L_HEATER_ARMED] = seg.heater_armed
    lmodes[L.L_FLOWING] = 1 if seg.n_stages > 0 else 0
    lmodes[L.L_WINDOW_SHUT] = 0
    now.time[1] = t
    now.time[2] = 2e-3 if seg.n_stages > 0 else 0.2
    now.time[4] = 1.0


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
def _freeze(setup, y, lmodes, modes, work, now, events):
    """Freeze out the bottle that has left the range; False when it is not known or the last one.

    From then on its valve counts as shut and its heater as off, and its state stays as it was.
    """
    i = _culprit(work.out, modes)
    if i < 0:
        i = _culprit(now.out1, modes)
    if i < 0:
        i = _culprit(now.out, modes)
    left = 0
    for k in range(modes.shape[0]):
        left += 1 if modes[k, L.FROZEN] == 0 else 0
    if i < 0 or left < 2:
        return False
    base = i * (L.NODE0 + 2 * setup.wall.shape[2])
    y[base + L.M1] += y[base + L.M2]
    y[base + L.U1] += y[base + L.U2]
    y[base + L.M2] = 0.0
    y[base + L.U2] = 0.0
    cause = _cause(now.out[i], y[base + L.M1] / setup.bottles[i].volume)
    modes[i, L.FROZEN] = cause
    modes[i, L.SW_ON] = 0
    p = now.out[i, L.O_P] if math.isfinite(now.out[i, L.O_P]) else now.out1[i, L.O_P]
    gauge = p - setup.whole[0].p_ambient
    write_event(events, now, L.EV_HOT + cause - L.HOT, i, lmodes[L.L_SEGMENT], gauge)
    return True


@jit
def _go_on(setup, y, lmodes, modes, work, now, rows, events):
    """Settle what is left; bottles that are out of range are frozen out until the rest can go on.

    Returns (rows, events, ending code, switch opened).
    """
    while True:
        rows = grow(rows, now.counts[N_ROWS] + 3)
        events = grow(events, now.counts[N_EVENTS] + _most_events(setup))
        code, opened = _settle(setup, lmodes, modes, y, work, now, rows, events, 2)
        if code != L.OUT_OF_RANGE or not _freeze(setup, y, lmodes, modes, work, now, events):
            return rows, events, code, opened


@leaf
def _must_pause(now, control):
    return control[STOP] != 0 or 0 < control[PAUSE_AT] <= now.counts[N_STEPS]


@leaf
def _start_small(now, seg):
    """Go on with a short step after a switching: in a hold as short as the last one there had to
    be, so that a heater of next to no mass is not found out anew each time."""
    if seg.n_stages > 0:
        now.time[2] = min(now.time[2], 2e-3)
        return
    if now.time[4] > 0.0:
        now.time[2] = min(now.time[2], min(2.0, 2.0 * now.time[4]))
        now.time[4] = 0.0


@jit
def _run_segment(setup, s, y, lmodes, modes, work, now, rows, events, control, max_steps):
    """Integrate one segment, or what is left of it; returns (rows, events, ending code)."""
    seg = setup.segments[s]
    whole = setup.whole[0]
    t_end = now.time[3]
    h_max = whole.max_step_flow if seg.n_stages > 0 else whole.max_step_hold
    room = _most_events(setup)
    while t_end - now.time[0] > _TIME_EPS:
        if _must_pause(now, control):
            return rows, events, L.PAUSED
        if pauses_end(setup, y, modes, now.waits, now.time[0]):
            rows, events, code, _ = _go_on(setup, y, lmodes, modes, work, now, rows, events)
            _start_small(now, seg)
            if code != L.OK:
                return rows, events, code
        stop = next_stop(setup, seg, now.time[0], now.time[1], t_end, now.waits, work.places)
        code, crossed = _advance(setup, lmodes, modes, y, work, now, stop, h_max, whole.tolerance)
        rows = grow(rows, now.counts[N_ROWS] + 3)
        events = grow(events, now.counts[N_EVENTS] + room)
        if code == L.OUT_OF_RANGE and _freeze(setup, y, lmodes, modes, work, now, events):
            rows, events, code, _ = _go_on(setup, y, lmodes, modes, work, now, rows, events)
            now.time[2] = 2e-3 if seg.n_stages > 0 else 0.2
            crossed = False
            if code == L.OK:
                continue
        if code != L.OK:
            return rows, events, code
        if crossed:
            write_row(rows, now, 1, y, now.out, lmodes, modes)
            rows, events, code, opened = _go_on(setup, y, lmodes, modes, work, now, rows, events)
            if code != L.OK:
                return rows, events, code
            _rezone(setup, lmodes, modes, y, work, now)
            _start_small(now, seg)
            if opened == 1 and seg.until_open == 1:
                return rows, events, L.OK
        else:
            write_row(rows, now, 0, y, now.out, lmodes, modes)
            if _rezone(setup, lmodes, modes, y, work, now):
                write_row(rows, now, 2, y, now.out, lmodes, modes)
            if stop < t_end and now.time[0] == stop:
                _start_small(now, seg)
        if now.counts[N_STEPS] - now.counts[N_FIRST_STEP] > max_steps:
            return rows, events, L.TOO_MANY_STEPS
    now.time[0] = t_end
    return rows, events, L.OK


@jit
def _begin(setup, s, y, lmodes, modes, work, now, rows, events):
    """Start of a segment: its modes, its refill, what is already passed; (rows, events, code)."""
    _enter(setup, s, now.time[0], lmodes, modes, now)
    rows = grow(rows, now.counts[N_ROWS] + 3)
    events = grow(events, now.counts[N_EVENTS] + _most_events(setup))
    write_event(events, now, L.EV_START, -1, s, 0.0)
    if setup.segments[s].kind == L.REFILL:
        # A row before the jump: what was there, and how much came in.
        evaluate(now.time[0], now.time[1], y, setup, lmodes, modes, work, now.f, now.out)
        write_row(rows, now, 1, y, now.out, lmodes, modes)
        _remember(now)
        refill(setup, s, y, modes)
    rows, events, code, _ = _go_on(setup, y, lmodes, modes, work, now, rows, events)
    if code == L.OK:
        _rezone(setup, lmodes, modes, y, work, now)
        now.time[3] = now.time[0] + setup.segments[s].duration
        now.counts[N_FIRST_STEP] = now.counts[N_STEPS]
        now.counts[N_INSIDE] = 1
    return rows, events, code


@entry
def run_schedule(setup, y, lmodes, modes, work, now, rows, events, control, max_steps):
    """Run the schedule, or go on with it; returns (rows, events, ending code).

    ``rows`` (n, row_width) and ``events`` (m, EVENT_WIDTH) are tables with room, larger ones come
    back when it is used up; ``now.counts`` says how much of them is filled. ``control``: see
    :mod:`n2osim.engine.recorder`; with L.PAUSED the same call goes on where this one stopped.
    """
    while now.counts[N_SEGMENT] < setup.segments.shape[0]:
        s = now.counts[N_SEGMENT]
        code = L.OK
        if now.counts[N_INSIDE] == 0:
            rows, events, code = _begin(setup, s, y, lmodes, modes, work, now, rows, events)
        if code == L.OK:
            rows, events, code = _run_segment(
                setup, s, y, lmodes, modes, work, now, rows, events, control, max_steps
            )
        if code == L.PAUSED:
            return rows, events, code
        events = grow(events, now.counts[N_EVENTS] + 1)
        write_event(events, now, L.EV_END, -1, s, 0.0)
        if code != L.OK:
            return rows, events, code
        now.counts[N_INSIDE] = 0
        now.counts[N_SEGMENT] = s + 1
    return rows, events, L.OK
