"""What leaves the bottles: pick-up, stages of the schedule, relief device."""

from __future__ import annotations

import math

from n2osim.engine import layout as L
from n2osim.engine.fluid_node import is_shut
from n2osim.engine.manifold import manifold_outflow, on_manifold
from n2osim.engine.softening import soften
from n2osim.jit import leaf
from n2osim.physics.feed_network import map_flow
from n2osim.physics.orifice import HEM, model_valid, orifice_flux
from n2osim.physics.short_jet import jet_flux

LOWEST_OUTSIDE = 92e3
"""Pa: below this, N2O would freeze where it leaves (triple point 87.8 kPa); the model stops there
and takes thinner air as this."""
FADE_DROP = 2e4  # Pa over the outside below which a prescribed outflow fades
_RELIEF_BAND = 0.01
"""Share of the volume over which liquid comes to cover a relief device at the top (our choice)."""


@leaf
def corner_after(table, low, high, t):
    """First row in ``low .. high`` of a table over rising time whose time is not before ``t``."""
    while low < high:
        middle = (low + high) // 2
        if table[middle, 0] < t:
            low = middle + 1
        else:
            high = middle
    return low


@leaf
def table_value(tables, first, n, t):
    """Piecewise-linear table (``n`` rows from ``first``: time s, value), held at both ends; 1 for
    none."""
    if n == 0:
        return 1.0
    if t <= tables[first, 0]:
        return tables[first, 1]
    i = corner_after(tables, first + 1, first + n, t)
    if i == first + n:
        return tables[i - 1, 1]
    width = tables[i, 0] - tables[i - 1, 0]
    w = (t - tables[i - 1, 0]) / width if width > 0.0 else 1.0
    return tables[i - 1, 1] + w * (tables[i, 1] - tables[i - 1, 1])


@leaf
def _covered(level, low, band):
    """Share (0..1) of an opening that is under liquid, which rises past it from ``low``."""
    w = min(max((level - low) / band, 0.0), 1.0)
    return w * w * (3.0 - 2.0 * w)


@leaf
def pickup_weight(b, st):
    """Share (0..1) of the pick-up's mouth that is under liquid; one for vapour sits at the top.

    The liquid that tilt and launch leave behind is ``pickup_low`` of the volume. Around it the
    share slides over ``pickup_band``, so that near liquid-out the level can sit at the mouth
    (drawing vapour makes liquid again at these temperatures) without switching to and fro.
    """
    if st[14] == 0.0:
        return 1.0
    low = b.pickup_low if b.draw_vapour == 0 else 1.0 - b.pickup_band
    return _covered(st[4], low, b.pickup_band)


@leaf
def _side_flow(feed, maps, st, k, p_back):
    """Mass flow (kg/s), validity, throat pressure for the draw state at ``st[k:k+4]``.

    A map knows no throat: 0.
    """
    if feed.map >= 0 and st[1] > feed.map_floor:
        flow = map_flow(maps[feed.map], st[1], st[k + 1], st[k], int(st[3]))
        valid = model_valid(feed.model, st[1], st[k], st[k + 3], feed.p_back)
        return feed.map_scale * flow, valid, 0.0
    g, choked, valid, throat = jet_flux(
        feed.model, feed.short_share, st[1], st[k + 1], st[k + 2], st[k], st[k + 3], p_back
    )
    return g * feed.cda, valid, throat


@leaf
def _add(out, i, st, w, flow_l, flow_v, valid, throat):
    out[i, L.O_MDOT] += w * flow_l + (1.0 - w) * flow_v
    out[i, L.O_HOUT] += w * flow_l * st[19] + (1.0 - w) * flow_v * st[11]
    out[i, L.O_MDOT_L] += w * flow_l
    out[i, L.O_FLOW_VALID] = min(out[i, L.O_FLOW_VALID], valid)
    if throat > 0.0:
        out[i, L.O_P_THROAT] = throat


@leaf
def feed_flow(feed, maps, b, st, fraction, out, i):
    """Add the flow of one feed at ``fraction`` of full delivery; returns full flow (kg/s)."""
    w = pickup_weight(b, st)
    fl = 0.0
    fv = 0.0
    ok = 1.0
    throat = 0.0
    if st[1] > feed.p_back:
        soft = soften(st[1] - feed.p_back)
        out[i, L.O_DROP] = min(out[i, L.O_DROP], st[1] - feed.p_back)
        if w > 0.0:
            fl, ok, throat = _side_flow(feed, maps, st, 6, feed.p_back)
            fl *= soft
        if w < 1.0:
            fv, ok_v, throat_v = _side_flow(feed, maps, st, 10, feed.p_back)
            fv *= soft
            ok = min(ok, ok_v)
            if w == 0.0:
                throat = throat_v
    _add(out, i, st, w, fraction * fl, fraction * fv, ok, throat)
    return w * fl + (1.0 - w) * fv


@leaf
def _prescribed(whole, b, st, flow, out, i):
    w = pickup_weight(b, st)
    # A prescribed outflow cannot take what is not there, nor draw a bottle below the outside's
    # pressure: it fades over the last gram and the last 20 kPa (3 psi).
    drop = st[1] - max(whole.p_ambient, LOWEST_OUTSIDE)
    flow *= min(1.0, st[17] / 1e-3) * min(1.0, max(0.0, drop) / FADE_DROP)
    if 0.0 < drop < FADE_DROP:
        # Linear in the drop here, where outflow through an orifice goes with its square root.
        out[i, L.O_DROP] = min(out[i, L.O_DROP], 0.5 * drop)
    _add(out, i, st, w, flow, flow, 1.0, 0.0)


@leaf
def _relief(whole, b, st, out, i):
    """Full-bore vent through a burst disc: from the top, homogeneous equilibrium.

    What it passes must not jump where the last vapour goes, or a bottle that is fed as fast as it
    vents would flicker between full and not quite full.
    """
    outside = max(whole.p_ambient, LOWEST_OUTSIDE)
    if st[1] <= outside:
        return
    w = _covered(st[4], 1.0 - _RELIEF_BAND, _RELIEF_BAND) if st[14] == 1.0 else 0.0
    opening = b.relief_cda * soften(st[1] - outside)
    g, _, _, throat = orifice_flux(HEM, st[1], st[11], st[12], st[10], st[13], outside)
    flow = flow_l = g * opening
    if w > 0.0:
        flow_l = opening * orifice_flux(HEM, st[1], st[7], st[8], st[6], st[9], outside)[0]
    out[i, L.O_DROP] = min(out[i, L.O_DROP], st[1] - outside)
    out[i, L.O_RELIEF] = w * flow_l + (1.0 - w) * flow
    _add(out, i, st, w, flow_l, flow, 1.0, throat)


@leaf
def total_outflow(t, setup, lmodes, modes, states, shares, out):
    """Outflow of every bottle (kg/s, W) at ``t`` seconds into the segment, into ``out``.

    ``shares`` (as long as there are stages) is scratch.
    """
    nb = setup.bottles.shape[0]
    for i in range(nb):
        out[i, L.O_MDOT] = 0.0
        out[i, L.O_HOUT] = 0.0
        out[i, L.O_MDOT_L] = 0.0
        out[i, L.O_DROP] = math.inf
        out[i, L.O_FLOW_VALID] = 1.0
        out[i, L.O_P_THROAT] = 0.0
        out[i, L.O_RELIEF] = 0.0
        out[i, L.O_OPEN] = 0.0
        out[i, L.O_P_MANIFOLD] = 0.0
        out[i, L.O_FED] = 0.0
        out[i, L.O_HFED] = 0.0
        out[i, L.O_DRAW] = pickup_weight(setup.bottles[i], states[i])
        if modes[i, L.BURST] == 1 and modes[i, L.FROZEN] == 0:
            _relief(setup.whole[0], setup.bottles[i], states[i], out, i)
    if lmodes[L.L_FLOWING] == 0 or lmodes[L.L_WINDOW_SHUT] == 1:
        return
    seg = setup.segments[lmodes[L.L_SEGMENT]]
    part = 0.0
    weight = 0.0
    if nb > 1:
        part, weight = _from_manifold(t, setup, seg, states, shares[: seg.n_stages], out)
    for j in range(seg.stage0, seg.stage0 + seg.n_stages):
        stage = setup.stages[j]
        if nb == 1 or not on_manifold(stage):
            part += _stage(t, setup, stage, states, out) * setup.feeds[stage.feed].cda
            weight += setup.feeds[stage.feed].cda
    for i in range(nb):
        out[i, L.O_OPEN] = part / weight if weight > 0.0 else 0.0


@leaf
def _from_manifold(t, setup, seg, states, shares, out):
    """Stages that all bottles feed together."""
    for j in range(seg.n_stages):
        stage = setup.stages[seg.stage0 + j]
        shares[j] = table_value(setup.tables, stage.table0, stage.table_n, t)
    return manifold_outflow(setup, seg.stage0, shares, states, out[:, L.O_DRAW], out)


@leaf
def _stage(t, setup, stage, states, out):
    """One stage, metered by area, mass flow or target; returns its share of full opening.

    A prescribed outflow of several bottles is shared equally.
    """
    share = table_value(setup.tables, stage.table0, stage.table_n, t)
    nb = setup.bottles.shape[0]
    for i in range(nb):
        if is_shut(states[i]) or (stage.bottle >= 0 and stage.bottle != i):
            continue
        b = setup.bottles[i]
        if stage.meter == L.BY_MASS_FLOW:
            each = 1.0 if stage.bottle >= 0 else 1.0 / nb
            _prescribed(setup.whole[0], b, states[i], each * share * stage.value, out, i)
            continue
        feed = setup.feeds[stage.feed]
        if stage.meter == L.BY_AREA:
            feed_flow(feed, setup.maps, b, states[i], share, out, i)
            continue
        share = _by_target(feed, setup, b, states, share * stage.value, out, i)
    return share


@leaf
def _by_target(feed, setup, b, states, target, out, i):
    """Hold a wanted flow by pulsing the valve; fully open where it can no longer be held."""
    before_m = out[i, L.O_MDOT]
    before_h = out[i, L.O_HOUT]
    before_l = out[i, L.O_MDOT_L]
    full = feed_flow(feed, setup.maps, b, states[i], 1.0, out, i)
    duty = 1.0
    if full > target:
        duty = target / full
    out[i, L.O_MDOT] = before_m + duty * (out[i, L.O_MDOT] - before_m)
    out[i, L.O_HOUT] = before_h + duty * (out[i, L.O_HOUT] - before_h)
    out[i, L.O_MDOT_L] = before_l + duty * (out[i, L.O_MDOT_L] - before_l)
    return duty
