"""Numbers of one segment, from its rows: compiled, so that ensembles use the same."""

from __future__ import annotations

import math

from n2osim.engine import layout as L
from n2osim.engine.recorder import ROW_HEAD
from n2osim.jit import entry, jit

# --- what ``segment_numbers`` fills in ------------------------------------------------------
(
    S_T0,
    S_T1,
    S_P0,
    S_PMIN,
    S_PMAX,
    S_P1,
    S_M0,
    S_M1,
    S_USED,
    S_FLOW0,
    S_FLOWMAX,
    S_FLOWMEAN,
    S_FLOW1,
    S_FIRST_OFF,
    S_ON_AFTER,
    S_TIME_AFTER,
    S_CYCLE_ON,
    S_CYCLE_TIME,
    S_CYCLES,
    S_SWITCHINGS,
    S_ENERGY,
    S_PEAK_AFTER,
    S_LOW_AFTER,
    S_HOT_WALL,
    S_HOT_HEATER,
    S_HOT_FLUID,
    S_LIQUID_OUT,
    S_LOSS,
    S_HEAT,
    S_TF0,
    S_TF1,
    S_HOT_INNER,
    S_FLOW_TIME,
    S_EXTRAP,
    S_COLD_FLUID,
    S_PUMP,
    N_SUMMARY,
) = range(37)

RAW = tuple(name[2:].lower() for name in list(globals()) if name.startswith("S_"))
"""Names of these numbers, in order."""
_OPENING = 1.5e-3  # s, a little more than a step of a delivery course takes


@jit
def out_column(ny, i, k):
    """Column of report number ``k`` of bottle ``i`` in a row."""
    return ROW_HEAD + ny + i * L.N_OUT + k


@jit
def mode_column(ny, nb, i, k):
    """Column of mode ``k`` of bottle ``i`` in a row."""
    return ROW_HEAD + ny + nb * L.N_OUT + i * L.N_MODES + k


@jit
def peak_between(t0, p0, t1, p1, t2, p2):
    """Top of the parabola through three points when the middle one is highest (else p1)."""
    if not (p1 >= p0 and p1 >= p2 and t0 < t1 < t2):
        return p1
    d1 = (p1 - p0) / (t1 - t0)
    d2 = (p2 - p1) / (t2 - t1)
    curve = (d2 - d1) / (t2 - t0)
    if curve >= 0.0:
        return p1
    slope = d1 + curve * (t1 - t0)
    return p1 - slope * slope / (4.0 * curve)


@jit
def _start(rows, r0, r1, ny, nb, i, s):
    p = out_column(ny, i, L.O_P)
    width = (ny - 1 - nb * L.N_TOTALS) // nb
    base = ROW_HEAD + i * width
    total = ROW_HEAD + nb * width + 1 + i * L.N_TOTALS
    s[S_T0] = rows[r0, 0]
    s[S_T1] = rows[r1 - 1, 0]
    s[S_P0] = rows[r0, p]
    s[S_P1] = rows[r1 - 1, p]
    s[S_M0] = rows[r0, base + L.M1] + rows[r0, base + L.M2]
    s[S_M1] = rows[r1 - 1, base + L.M1] + rows[r1 - 1, base + L.M2]
    s[S_USED] = rows[r1 - 1, total + L.M_OUT] - rows[r0, total + L.M_OUT]
    s[S_ENERGY] = rows[r1 - 1, total + L.E_HEATER] - rows[r0, total + L.E_HEATER]
    s[S_LOSS] = rows[r1 - 1, total + L.Q_LOSS] - rows[r0, total + L.Q_LOSS]
    s[S_HEAT] = rows[r1 - 1, total + L.Q_FLUID] - rows[r0, total + L.Q_FLUID]
    s[S_PUMP] = rows[r1 - 1, total + L.W_PUMP] - rows[r0, total + L.W_PUMP]
    s[S_TF0] = rows[r0, out_column(ny, i, L.O_T)]
    s[S_TF1] = rows[r1 - 1, out_column(ny, i, L.O_T)]
    for k in (S_FLOW0, S_FIRST_OFF, S_PEAK_AFTER, S_LOW_AFTER, S_LIQUID_OUT):
        s[k] = math.nan
    for k in (S_PMAX, S_HOT_WALL, S_HOT_HEATER, S_HOT_FLUID, S_HOT_INNER, S_FLOWMAX):
        s[k] = -math.inf
    s[S_PMIN] = math.inf
    s[S_COLD_FLUID] = math.inf
    for k in (S_ON_AFTER, S_TIME_AFTER, S_CYCLE_ON, S_CYCLE_TIME, S_CYCLES):
        s[k] = 0.0
    for k in (S_SWITCHINGS, S_FLOW_TIME, S_FLOW1, S_EXTRAP):
        s[k] = 0.0


@jit
def _extremes(rows, r, ny, nb, i, n, s):
    width = (ny - 1 - nb * L.N_TOTALS) // nb
    base = ROW_HEAD + i * width
    row = rows[r]
    p = row[out_column(ny, i, L.O_P)]
    t = row[out_column(ny, i, L.O_T)]
    flow = row[out_column(ny, i, L.O_MDOT)]
    s[S_PMIN] = min(s[S_PMIN], p)
    s[S_PMAX] = max(s[S_PMAX], p)
    s[S_HOT_FLUID] = max(s[S_HOT_FLUID], t)
    s[S_COLD_FLUID] = min(s[S_COLD_FLUID], t)
    s[S_FLOWMAX] = max(s[S_FLOWMAX], flow)
    s[S_HOT_HEATER] = max(s[S_HOT_HEATER], row[base + L.HEATER])
    s[S_EXTRAP] = max(s[S_EXTRAP], row[out_column(ny, i, L.O_EXTRAP)])
    for k in range(2 * n):
        s[S_HOT_WALL] = max(s[S_HOT_WALL], row[base + L.NODE0 + k])
    for k in range(2):
        s[S_HOT_INNER] = max(s[S_HOT_INNER], row[base + L.NODE0 + k])


@jit
def _flow(rows, r0, r1, column, s):
    """Start, end, mean and time of flow: what is below a thousandth of the peak does not count.

    The start is read 1.5 ms after the valve begins to open, so that it is not a value from the
    millisecond in which a step of the delivery opens it.
    """
    small = 1e-3 * s[S_FLOWMAX]
    first = math.nan
    for r in range(r0, r1):
        flow = rows[r, column]
        if r > r0 and (flow > small or rows[r - 1, column] > small):
            s[S_FLOW_TIME] += rows[r, 0] - rows[r - 1, 0]
        if not flow > small:
            continue
        if math.isnan(first):
            first = rows[r, 0]
            s[S_FLOW0] = flow
        elif rows[r, 0] <= first + _OPENING:
            s[S_FLOW0] = flow
        s[S_FLOW1] = flow
    s[S_FLOWMEAN] = s[S_USED] / s[S_FLOW_TIME] if s[S_FLOW_TIME] > 0.0 else 0.0


@jit
def _opening(time, p, s):
    """The switch opens: the first time in the segment, or at the end of a whole cycle."""
    if math.isnan(s[S_FIRST_OFF]):
        s[S_FIRST_OFF] = time
        s[S_PEAK_AFTER] = p
        s[S_LOW_AFTER] = p
    else:
        s[S_CYCLES] += 1.0
        s[S_CYCLE_ON] = s[S_ON_AFTER]
        s[S_CYCLE_TIME] = s[S_TIME_AFTER]


@jit
def segment_numbers(rows, r0, r1, ny, nb, i, n, s):
    """Fill ``s`` (length N_SUMMARY) for bottle ``i`` from rows ``r0 <= r < r1`` of one segment."""
    _start(rows, r0, r1, ny, nb, i, s)
    on_col = mode_column(ny, nb, i, L.SW_ON)
    out_col = mode_column(ny, nb, i, L.LIQUID_OUT)
    p_col = out_column(ny, i, L.O_P)
    power_col = out_column(ny, i, L.O_POWER)
    flow_col = out_column(ny, i, L.O_MDOT)
    for r in range(r0, r1):
        _extremes(rows, r, ny, nb, i, n, s)
        p = rows[r, p_col]
        if r - r0 > 0 and r < r1 - 1:
            p = peak_between(
                rows[r - 1, 0],
                rows[r - 1, p_col],
                rows[r, 0],
                p,
                rows[r + 1, 0],
                rows[r + 1, p_col],
            )
            s[S_PMAX] = max(s[S_PMAX], p)
        if rows[r, out_col] == 1.0 and math.isnan(s[S_LIQUID_OUT]):
            s[S_LIQUID_OUT] = rows[r, 0]
        if r == r0:
            continue
        dt = rows[r, 0] - rows[r - 1, 0]
        if not math.isnan(s[S_FIRST_OFF]):
            s[S_TIME_AFTER] += dt
            if rows[r - 1, power_col] > 0.0:
                s[S_ON_AFTER] += dt
            s[S_PEAK_AFTER] = max(s[S_PEAK_AFTER], p)
            s[S_LOW_AFTER] = min(s[S_LOW_AFTER], p)
        if rows[r, on_col] != rows[r - 1, on_col]:
            s[S_SWITCHINGS] += 1.0
            if rows[r, on_col] == 0.0:
                _opening(rows[r, 0], p, s)
    _flow(rows, r0, r1, flow_col, s)


@entry
def fill(rows, ny, nb, n, table):
    """Fill the first columns of ``table`` (segment, bottle, number) from a run's rows."""
    r0 = 0
    for s in range(table.shape[0]):
        r1 = r0
        while r1 < rows.shape[0] and rows[r1, 1] == s:
            r1 += 1
        if r1 > r0:
            for i in range(nb):
                segment_numbers(rows, r0, r1, ny, nb, i, n, table[s, i])
        r0 = r1
