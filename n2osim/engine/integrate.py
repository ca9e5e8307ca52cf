"""What the integration looks at between steps: thresholds, slopes, the error of a step.

Within a stretch every mode is constant. :func:`watch` gives event functions, one a column:
0 switch off, 1 on, 2 cut-out opens, 3 closes, 4 phase boundary, 5 liquid-out, 6 liquid back,
7 relief opens, 8 arming window, 9 zones to be made or merged. Where one is passed
:mod:`~n2osim.engine.run_schedule` shortens the step until the earliest crossing is met and
:func:`fire` changes the mode. Thresholds act on level, not on edge, so one that is already passed
fires at once; hysteresis keeps opposite thresholds apart and a bound on firings at one instant
stops any chatter.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.balances import rates
from n2osim.engine.exchange import N_EXCHANGE, pressure_slopes
from n2osim.engine.films import Films, make_films
from n2osim.engine.fluid_node import BOTTLE_STATE_SIZE, GUESS_SIZE
from n2osim.engine.softening import soft_slope
from n2osim.engine.zones import (
    evaporation_slopes,
    stream_direction,
    zone_due,
    zone_pressure_slopes,
    zone_state,
)
from n2osim.fluid.equation_of_state import RHO_CRITICAL, T_CRITICAL
from n2osim.fluid.saturation import sat_T_of_rho_l, sat_T_of_rho_v
from n2osim.hardware.geometry import free_surface_area
from n2osim.jit import leaf

N_WATCH = 10
_ZONES = 9  # met like the others, but what is due is done between steps, not fired
_PHASE_EPS = 1e-6  # K behind a phase boundary at which its crossing counts
# K: after a crossing the boundary must be left by this much before the next one counts sharply.
# A bottle whose last liquid evaporates as fast as it forms rides the boundary without end.
_PHASE_CLEAR = 0.03
_WINDOW_BAND = 3.5e4  # Pa (5 psi): arming-window hysteresis
_TIME_EPS = 1e-9  # s
_STIFF_DROP = 3e5  # Pa over ambient below which outflow is linearised in the implicit step
_MAX_LOCATED = 400  # phase and level crossings that are met exactly; later ones are only noted


class Work(NamedTuple):
    """Scratch arrays of one run (never shared between threads)."""

    a: np.ndarray
    border: np.ndarray
    x: np.ndarray
    schur: np.ndarray
    k: np.ndarray
    s: np.ndarray
    r: np.ndarray
    f: np.ndarray
    y: np.ndarray
    out: np.ndarray
    st: np.ndarray
    guess: np.ndarray
    slope: np.ndarray
    slope_u: np.ndarray
    h_draw: np.ndarray
    boundary: np.ndarray
    evaporation: np.ndarray
    vent: np.ndarray
    pressing: np.ndarray
    shares: np.ndarray
    exchange: np.ndarray
    places: np.ndarray
    films: Films


def _no_guess(nb: int) -> np.ndarray:
    guess = np.zeros((nb, GUESS_SIZE))
    guess[:, :2] = 300.0
    guess[:, 5] = float(nb > 1)
    return guess


def make_work(nb: int, n: int, ny: int, stages: int) -> Work:
    """Scratch arrays for ``nb`` bottles with ``n`` wall nodes, ``ny`` unknowns, ``stages``."""
    return Work(
        np.zeros((nb, 5, 2 * n + 2)),
        np.zeros((nb, 2 * n + 2)),
        np.zeros((nb, 2 * n + 2)),
        np.zeros(1),
        np.zeros((4, ny)),
        np.zeros(ny),
        np.zeros(ny),
        np.zeros(ny),
        np.zeros(ny),
        np.zeros((nb, L.N_OUT)),
        np.zeros((nb, BOTTLE_STATE_SIZE)),
        _no_guess(nb),
        np.zeros(nb),
        np.zeros(nb),
        np.zeros(nb),
        np.zeros((nb, 2)),
        np.zeros((nb, 2, 4)),
        np.zeros((nb, 2, 4)),
        np.zeros((nb, 4)),
        np.zeros(stages),
        np.zeros((nb, N_EXCHANGE)),
        np.zeros(stages + 1, np.int64),
        make_films(nb),
    )


@leaf
def boundary_temperature(rho):
    """Temperature (K) below which a bottle at this overall density holds two phases."""
    if rho >= RHO_CRITICAL:
        t = sat_T_of_rho_l(rho)
    else:
        t = sat_T_of_rho_v(rho)
    return t if not math.isnan(t) else -1.0


@leaf
def _seen(b, y, base, out, i):
    """Gauge pressure (Pa) that the switch acts on: lagged, with its offset."""
    p = y[base + L.SENSOR] if b.lag > 0.0 else out[i, L.O_GAUGE]
    return p + b.offset


@leaf
def watch(setup, lmodes, modes, y, out, waits, g):
    """Fill ``g[i, k]`` with scaled event functions; > 0 means that the threshold is passed."""
    width = L.NODE0 + 2 * setup.wall.shape[2]
    seg = setup.segments[lmodes[L.L_SEGMENT]]
    for i in range(setup.bottles.shape[0]):
        b = setup.bottles[i]
        base = i * width
        for k in range(N_WATCH):
            g[i, k] = -1.0
        if modes[i, L.FROZEN] != 0:
            continue
        seen = _seen(b, y, base, out, i)
        if b.controller == i and lmodes[L.L_HEATER_ARMED] == 1:
            if modes[i, L.SW_ON] == 1:
                g[i, 0] = (seen - b.opens) / 1e5
            elif b.fault != 2:
                g[i, 1] = (b.closes - seen) / 1e5
        if b.has_heater == 1:
            t = y[base + L.HEATER]
            if modes[i, L.CUT_OPEN] == 0:
                g[i, 2] = (t - b.cut_opens) / 10.0
            elif waits[i] == 0.0:
                g[i, 3] = (b.cut_closes - t) / 10.0
        if b.two_zone == 0 or y[base + L.M2] <= 0.0:
            t = out[i, L.O_T] - out[i, L.O_TSAT]
            if modes[i, L.TWO_PHASE_FLAG] == 0:
                t = -t
            g[i, 4] = t - (_PHASE_EPS if modes[i, L.PHASE_CLEAR] == 1 else _PHASE_CLEAR)
        _watch_level(b, lmodes, modes, out, i, g)
        if b.two_zone == 1:
            g[i, _ZONES] = zone_due(y, base, out, i, lmodes[L.L_FLOWING])
        if modes[i, L.BURST] == 0:
            g[i, 7] = (out[i, L.O_P] - b.relief_pressure) / 1e5
    if modes[0, L.FROZEN] == 0:
        g[0, 8] = _watch_window(seg, setup.whole[0], lmodes, out)


@leaf
def _watch_level(b, lmodes, modes, out, i, g):
    """Liquid-out when the mouth is mostly uncovered while flowing; back when well covered."""
    level = out[i, L.O_LEVEL]
    if modes[i, L.LIQUID_OUT] == 0:
        two_phase = modes[i, L.TWO_PHASE_FLAG] == 1
        if lmodes[L.L_FLOWING] == 1 and b.draw_vapour == 0 and two_phase:
            g[i, 5] = b.pickup_low + 0.5 * b.pickup_band - level
    else:
        g[i, 6] = level - (b.pickup_low + 2.0 * b.pickup_band)


@leaf
def _watch_window(seg, whole, lmodes, out):
    """Arming window on the first bottle's gauge pressure; only while flow is commanded."""
    if lmodes[L.L_FLOWING] == 0:
        return -1.0
    p = out[0, L.O_P] - whole.p_ambient
    if lmodes[L.L_WINDOW_SHUT] == 0:
        return max(p - seg.window_high, seg.window_low - p) / 1e5
    band = min(_WINDOW_BAND, 0.25 * (seg.window_high - seg.window_low))
    return min(seg.window_high - band - p, p - seg.window_low - band) / 1e5


@leaf
def _phase_event(out, i, rho):
    if out[i, L.O_T] >= T_CRITICAL or rho < RHO_CRITICAL:
        return L.EV_SINGLE
    return L.EV_LIQUID_FULL


@leaf
def fire(t, setup, lmodes, modes, y, out, waits, g, codes):
    """Change modes for every passed threshold at ``t`` (s); returns (fired any, switch opened)."""
    fired = 0
    opened = 0
    width = L.NODE0 + 2 * setup.wall.shape[2]
    for i in range(setup.bottles.shape[0]):
        for k in range(N_WATCH):
            codes[i, k] = -1
            if g[i, k] < 0.0 or k == _ZONES:
                continue
            if k == 0:
                modes[i, L.SW_ON] = 0
                opened = 1
                codes[i, k] = L.EV_OFF
            elif k == 1:
                modes[i, L.SW_ON] = 1
                codes[i, k] = L.EV_ON
            elif k == 2:
                modes[i, L.CUT_OPEN] = 1
                waits[i] = t + setup.bottles[i].cut_pause
                codes[i, k] = L.EV_CUT_OPEN
            elif k == 3:
                modes[i, L.CUT_OPEN] = 0
                codes[i, k] = L.EV_CUT_CLOSE
            elif k == 4:
                b = setup.bottles[i]
                rho = (y[i * width + L.M1] + y[i * width + L.M2]) / b.volume
                if modes[i, L.TWO_PHASE_FLAG] == 1:
                    codes[i, k] = _phase_event(out, i, rho)
                else:
                    codes[i, k] = L.EV_SATURATED
                modes[i, L.TWO_PHASE_FLAG] = 1 - modes[i, L.TWO_PHASE_FLAG]
                modes[i, L.PHASE_CLEAR] = 0
            elif k == 5:
                modes[i, L.LIQUID_OUT] = 1
                codes[i, k] = L.EV_LIQUID_OUT
            elif k == 6:
                modes[i, L.LIQUID_OUT] = 0
                codes[i, k] = L.EV_LIQUID_BACK
            elif k == 7:
                modes[i, L.BURST] = 1
                codes[i, k] = L.EV_RELIEF
            else:
                lmodes[L.L_WINDOW_SHUT] = 1 - lmodes[L.L_WINDOW_SHUT]
                codes[i, k] = L.EV_SHUT if lmodes[L.L_WINDOW_SHUT] == 1 else L.EV_ALLOWED
            fired += 1
    return fired, opened


@leaf
def note_clear_of_boundary(modes, out):
    """Arm the sharp phase threshold of every bottle that is well off its phase boundary."""
    for i in range(out.shape[0]):
        t = out[i, L.O_T] - out[i, L.O_TSAT]
        inside = t < 0.0
        if abs(t) > _PHASE_CLEAR and inside == (modes[i, L.TWO_PHASE_FLAG] == 1):
            modes[i, L.PHASE_CLEAR] = 1


@leaf
def outflow_slopes(setup, y, out, work):
    """How outflow changes with what is left, near the pressure it flows into (elsewhere zero).

    There the flow is stiff. ``slope`` (1/s): with mass that takes its enthalpy along; ``slope_u``
    (kg/s/J): with energy at constant mass. It costs two states a bottle. With two zones ``vent``
    instead: as ``evaporation``, what a kilogram takes along and how the flow goes with the state;
    ``work.st`` must be that of ``y`` (:func:`zone_slopes`).
    """
    width = L.NODE0 + 2 * setup.wall.shape[2]
    for i in range(setup.bottles.shape[0]):
        work.slope[i] = 0.0
        work.slope_u[i] = 0.0
        work.h_draw[i] = 0.0
        _clear(work.vent[i])
        b = setup.bottles[i]
        drop = out[i, L.O_DROP]
        flow = out[i, L.O_MDOT]
        base = i * width
        if flow <= 0.0 or drop > _STIFF_DROP:
            continue
        slope = flow * soft_slope(max(drop, 1e-9))
        h = out[i, L.O_HOUT] / flow
        if y[base + L.M2] > 0.0:
            _vent_slopes(y, base, work.st[i], out[i, L.O_MDOT_L] / flow, h, slope, work, i)
            continue
        dpdm, dpdu = pressure_slopes(
            b,
            y[base + L.M1],
            y[base + L.U1],
            out[i, L.O_P],
            out[i, L.O_DTDU],
            work.guess[i],
            work.st[i],
        )
        if math.isfinite(dpdm + dpdu):
            work.slope[i] = slope * max(dpdm + h * dpdu, 0.0)
            work.slope_u[i] = slope * max(dpdu, 0.0)
            work.h_draw[i] = h


@leaf
def _vent_slopes(y, base, st, wet, h, slope, work, i):
    """Fill ``work.vent[i]`` for a flow out of two zones that rises by ``slope`` (kg/s/Pa)."""
    pair = work.vent[i]
    stream_direction(y, base, st, wet, st[19], h, pair[0])
    for k in range(4):
        pair[0, k] = -pair[0, k]
        pair[1, k] = slope * work.pressing[i, k]
    _keep_if_damped(pair)


@leaf
def _keep_if_damped(pair):
    """Drop a pair whose rate would grow by what it moves."""
    along = 0.0
    for k in range(4):
        along += pair[0, k] * pair[1, k]
    if not (along < 0.0 and math.isfinite(along)):
        _clear(pair)


@leaf
def _clear(pair):
    for r in range(pair.shape[0]):
        for k in range(pair.shape[1]):
            pair[r, k] = 0.0


@leaf
def zone_slopes(setup, y, work):
    """How the pressure of every two-zone bottle goes with its state into ``work.pressing``, and its
    evaporation, direction and gradient, into ``work.evaporation``."""
    width = L.NODE0 + 2 * setup.wall.shape[2]
    for i in range(setup.bottles.shape[0]):
        b = setup.bottles[i]
        base = i * width
        pair = work.evaporation[i]
        _clear(pair)
        if b.two_zone == 0 or y[base + L.M2] <= 0.0:
            continue
        st = work.st[i]
        zone_state(b, y, base, work.guess[i], st)
        area = free_surface_area(st[4], b.diameter_in, b.length_in, b.standing)
        pressing = work.pressing[i]
        zone_pressure_slopes(y, base, st, pressing)
        evaporation_slopes(b, y, base, st, area, pressing, pair[0], pair[1])
        _keep_if_damped(pair)


@leaf
def report_boundaries(setup, y, out, work):
    """Phase-boundary temperature of each bottle into ``out`` (needs the densities only)."""
    width = L.NODE0 + 2 * setup.wall.shape[2]
    for i in range(setup.bottles.shape[0]):
        rho = (y[i * width + L.M1] + y[i * width + L.M2]) / setup.bottles[i].volume
        # During a hold the density does not change: keep what was found last time.
        if rho != work.boundary[i, 0]:
            work.boundary[i, 0] = rho
            work.boundary[i, 1] = boundary_temperature(rho)
        out[i, L.O_TSAT] = work.boundary[i, 1]


@leaf
def evaluate(t, t_segment, y, setup, lmodes, modes, work, f, out):
    """Rates and report at an accepted state, phase boundary included."""
    rates(t, t_segment, y, setup, lmodes, modes, work, f, out, 1)
    report_boundaries(setup, y, out, work)


@leaf
def error_norm(y, y1, error, setup, out, pressing, tolerance):
    """Largest local error in units of its tolerance (temperatures K, energy as K, mass kg; of two
    zones, the one of which may be a small cushion of vapour, pressure as well)."""
    width = L.NODE0 + 2 * setup.wall.shape[2]
    worst = 0.0
    for i in range(setup.bottles.shape[0]):
        b = setup.bottles[i]
        base = i * width
        m = y[base + L.M1] + y[base + L.M2]
        d = out[i, L.O_DTDU]
        if d == 0.0:
            d = 1.0 / (1500.0 * m)
        # 0.7 mK of the fluid, less where a kelvin is much pressure (1.3 MPa when liquid fills the
        # bottle); a few grams of gas are allowed 25 J per m3 of bottle (30 Pa).
        kelvin = 7e-4 / (1.0 + out[i, L.O_DPDT] / 6e5)
        e_u = abs(error[base + L.U1]) + abs(error[base + L.U2])
        worst = max(worst, e_u / (kelvin / d + 25.0 * b.volume))
        if y[base + L.M2] > 0.0:
            e_p = 0.0
            for k in range(4):
                e_p += pressing[i, k] * error[base + k]
            worst = max(worst, abs(e_p) / 150.0)
        worst = max(worst, (abs(error[base + L.M1]) + abs(error[base + L.M2])) / (2e-6 * m + 1e-6))
        # A heater that holds less than 100 J/K may be further off: its kelvins carry little heat.
        heater = min(max(4e-2, 4.0 / b.heater_capacity), 2.5)
        worst = max(worst, abs(error[base + L.HEATER]) / heater)
        worst = max(worst, abs(error[base + L.SENSOR]) / 200.0)
        for k in range(2 * b.n):
            worst = max(worst, abs(error[base + L.NODE0 + k]) / 3.5e-3)
    worst = max(worst, abs(error[setup.bottles.shape[0] * width]) / 2e-2)
    return worst / tolerance


@leaf
def pauses_end(setup, y, modes, waits, t):
    """Let every cut-out close whose pause is over; whether one is cool enough to do so at once."""
    closes = False
    width = L.NODE0 + 2 * setup.wall.shape[2]
    for i in range(waits.shape[0]):
        if waits[i] > 0.0 and t >= waits[i] - _TIME_EPS:
            waits[i] = 0.0
            if modes[i, L.FROZEN] == 0 and y[i * width + L.HEATER] <= setup.bottles[i].cut_closes:
                closes = True
    return closes


@leaf
def next_stop(setup, seg, t, t_segment, t_end, waits, places):
    """Next instant at which a given table has a corner or a cut-out's pause ends (s), at most the
    segment's end.

    ``places`` remembers how far each table has been passed: time only goes on.
    """
    stop = t_end
    for i in range(waits.shape[0]):
        if waits[i] > 0.0:
            stop = min(stop, waits[i])
    for j in range(seg.stage0, seg.stage0 + seg.n_stages):
        s = setup.stages[j]
        while places[j] < s.table_n:
            corner = t_segment + setup.tables[s.table0 + places[j], 0]
            if t + _TIME_EPS < corner:
                stop = min(stop, corner)
                break
            places[j] += 1
    whole = setup.whole[0]
    last = places.shape[0] - 1
    while whole.ambient_kind == 1 and places[last] < whole.ambient_n:
        corner = setup.ambient[places[last], 0] - whole.clock0
        if t + _TIME_EPS < corner:
            stop = min(stop, corner)
            break
        places[last] += 1
    return stop
