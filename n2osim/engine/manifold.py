"""Several bottles on one manifold: one pressure in it, jets fed by all, bottles fed by each other.

The same model as ``tests/engine/manifold_reference.py``, which is exact and slow and says it in
full, made fast enough for every evaluation of the rates: the feed behind the manifold
comes from its flow map (liquid, vapour or flashing), what a pick-up draws above and below the
liquid surface are two branches that share the branch's area, and the manifold's pressure is found
by false position on q = sqrt((p_high - p)/(p_high - p_low)), in which flow near a bottle's own
pressure is linear.
"""

from __future__ import annotations

import math

from n2osim.engine import layout as L
from n2osim.engine.fluid_node import FLOWS, is_shut
from n2osim.engine.softening import soften
from n2osim.fluid.flash import state_ph
from n2osim.fluid.phase import TWO_PHASE
from n2osim.fluid.saturation import sat_rho
from n2osim.fluid.state import state_Trho
from n2osim.jit import leaf
from n2osim.physics.feed_network import map_flow
from n2osim.physics.flash_map import flash_flow
from n2osim.physics.numeric import kept_end
from n2osim.physics.orifice import model_valid, orifice_flux
from n2osim.physics.short_jet import jet_flux

BRANCH_SOFT = 2e3
"""Pa: branch flow is made linear below about this difference (0.3 psi), or bottles at the same
pressure would have no finite rate of exchange."""
_CLOSED = 1e-9  # of the inflow: what the feeds get is what bottles lose, so this costs no mass


@leaf
def _soft(drop, width):
    return math.sqrt(drop / (drop + width))


@leaf
def shared_flow(feed, maps, p, h, p_back):
    """Flow (kg/s) of the fully open feed behind a manifold at p [Pa], h [J/kg]."""
    if not (p > p_back):
        return 0.0
    T, rho, x, phase = state_ph(p, h)
    soft = soften(p - p_back)
    if feed.map < 0 or p <= feed.map_floor:
        s = state_Trho(T, rho)[3]
        jets = jet_flux(feed.model, feed.short_share, p, h, s, rho, T, p_back)[0]
        return soft * feed.cda * jets
    packed = maps[feed.map]
    if phase != TWO_PHASE:
        return soft * feed.map_scale * map_flow(packed, p, h, rho, phase)
    _p, rho_l, rho_v = sat_rho(T)
    return soft * feed.map_scale * flash_flow(packed, p, x, rho, rho_v / rho_l)


@leaf
def demand(setup, j, share, p, h):
    """Flow (kg/s) that stage ``j`` takes from the manifold at ``share`` of its course, and the
    share of full opening with which it does."""
    stage = setup.stages[j]
    feed = setup.feeds[setup.feeds[stage.feed].shared]
    if share <= 0.0:
        return 0.0, 0.0
    full = shared_flow(feed, setup.maps, p, h, feed.p_back)
    if stage.meter == L.BY_TARGET:
        wanted = share * stage.value
        if full > wanted:
            return wanted, wanted / full
        return full, 1.0
    return share * full, share


@leaf
def give(states, weights, area, model, p, flows):
    """Flow into the manifold at ``p``: (kg/s, mean enthalpy J/kg); fills ``flows`` (bottle, side).

    states: as fluid_node.py; weights: share of each pick-up under liquid; area: of a branch, m2.
    """
    total = 0.0
    energy = 0.0
    for i in range(states.shape[0]):
        st = states[i]
        for side in range(2):
            flows[i, side] = 0.0
            part = weights[i] if side == 0 else 1.0 - weights[i]
            if part <= 0.0 or st[1] <= p or is_shut(st):
                continue
            k = 6 + 4 * side
            g = orifice_flux(model, st[1], st[k + 1], st[k + 2], st[k], st[k + 3], p)[0]
            flows[i, side] = part * area * g * _soft(st[1] - p, BRANCH_SOFT)
            total += flows[i, side]
            energy += flows[i, side] * (st[19] if side == 0 else st[11])
    return total, energy / total if total > 0.0 else math.nan


@leaf
def receive(states, area, model, p, h, flows):
    """Flow (kg/s) from the manifold (p, h) into the bottles below it; ``flows`` become negative."""
    total = 0.0
    T = math.nan
    for i in range(states.shape[0]):
        if states[i, 1] >= p or is_shut(states[i]):
            continue
        if math.isnan(T):
            T, rho, _x, _phase = state_ph(p, h)
            s = state_Trho(T, rho)[3]
        g = orifice_flux(model, p, h, s, rho, T, states[i, 1])[0]
        flows[i, 0] = -area * g * _soft(p - states[i, 1], BRANCH_SOFT)
        flows[i, 1] = 0.0
        total -= flows[i, 0]
    return total


@leaf
def on_manifold(stage):
    """Whether a stage draws from the manifold: from all bottles, through its jets."""
    return stage.bottle < 0 and stage.meter != L.BY_MASS_FLOW


@leaf
def _taken(setup, first, shares, p, h):
    """Flow (kg/s) that all stages on the manifold take from it."""
    total = 0.0
    for j in range(shares.shape[0]):
        if on_manifold(setup.stages[first + j]):
            total += demand(setup, first + j, shares[j], p, h)[0]
    return total


@leaf
def _surplus(setup, first, shares, branch, model, p, states, weights, flows):
    """Inflow less outflow of the manifold at ``p`` (kg/s), inflow, fed to bottles, enthalpy."""
    came, h = give(states, weights, branch, model, p, flows)
    gone = receive(states, branch, model, p, h, flows)
    return came - gone - _taken(setup, first, shares, p, h), came, gone, h


@leaf
def _lowest(setup, first, shares, states):
    """Lower bracket of the manifold's pressure (Pa): an outlet's, or the emptiest bottle's."""
    low = math.inf
    for i in range(states.shape[0]):
        if not is_shut(states[i]):
            low = min(low, states[i, 1])
    for j in range(shares.shape[0]):
        stage = setup.stages[first + j]
        if on_manifold(stage) and shares[j] > 0.0:
            low = min(low, setup.feeds[stage.feed].p_back)
    return low


@leaf
def _at_top(setup, first, shares, branch, model, high, states, weights, flows):
    """What would leave the manifold (kg/s) at the highest bottle's pressure, with its enthalpy."""
    top = 0
    for i in range(states.shape[0]):
        flows[i, 0] = 0.0
        flows[i, 1] = 0.0
        if states[i, 1] == high:
            top = i
    h = weights[top] * states[top, 19] + (1.0 - weights[top]) * states[top, 11]
    gone = receive(states, branch, model, high, h, flows)
    return gone + _taken(setup, first, shares, high, h)


@leaf
def balance(setup, first, shares, branch, model, states, weights, flows):
    """Flows of all branches: fills ``flows`` (bottle, side; kg/s, negative into a bottle).

    shares: course of every stage of the segment (``first`` on) at this instant. Returns the
    manifold's (pressure Pa, enthalpy J/kg). Anderson-Bjorck false position; what the feeds get is
    what the bottles lose on balance, exactly.
    """
    low = _lowest(setup, first, shares, states)
    high = states[0, 1]
    for i in range(states.shape[0]):
        high = max(high, states[i, 1])
    a = 0.0
    fa = -_at_top(setup, first, shares, branch, model, high, states, weights, flows)
    if not (high > low) or fa == 0.0:
        for i in range(flows.shape[0]):
            flows[i, 0] = 0.0
            flows[i, 1] = 0.0
        return high, 0.0
    b = 1.0
    fb, came, gone, h = _surplus(setup, first, shares, branch, model, low, states, weights, flows)
    p = low
    for _ in range(60):
        if fb == fa or abs(fb) <= _CLOSED * came or abs(a - b) < 1e-12:
            break
        c = b - fb * (b - a) / (fb - fa)
        p = high - (high - low) * c * c
        fc, came, gone, h = _surplus(setup, first, shares, branch, model, p, states, weights, flows)
        a, fa = kept_end(a, fa, b, fb, fc)
        b = c
        fb = fc
    _close(setup, first, shares, came, gone, flows)
    return p, h


@leaf
def _close(setup, first, shares, came, gone, flows):
    """With every solenoid shut the bottles give each other exactly what they take."""
    if gone <= 0.0:
        return
    for j in range(shares.shape[0]):
        if on_manifold(setup.stages[first + j]) and shares[j] > 0.0:
            return
    for i in range(flows.shape[0]):
        if flows[i, 0] < 0.0:
            flows[i, 0] *= came / gone


@leaf
def opening(setup, first, shares, p, h):
    """Area-weighted share of full opening, and the weight, of the stages on the manifold."""
    part = 0.0
    area = 0.0
    for j in range(shares.shape[0]):
        stage = setup.stages[first + j]
        if on_manifold(stage):
            cda = setup.feeds[stage.feed].cda
            part += cda * demand(setup, first + j, shares[j], p, h)[1]
            area += cda
    return part, area


@leaf
def manifold_outflow(setup, first, shares, states, weights, out):
    """Add what the manifold draws from (or feeds to) every bottle to ``out``.

    Returns the opening's (weighted share, weight). The branch and its model are those of the
    first stage on the manifold.
    """
    k = -1
    for j in range(shares.shape[0]):
        if k < 0 and on_manifold(setup.stages[first + j]):
            k = setup.stages[first + j].feed
    if k < 0:
        return 0.0, 0.0
    feed = setup.feeds[k]
    flows = states[:, FLOWS : FLOWS + 2]
    p, h = balance(setup, first, shares, feed.branch_cda, feed.model, states, weights, flows)
    valid = 1.0
    if h != 0.0:  # something flows
        T, rho, _x, _phase = state_ph(p, h)
        valid = model_valid(feed.model, p, rho, T, feed.p_back)
    for i in range(states.shape[0]):
        st = states[i]
        if is_shut(st):
            continue
        out[i, L.O_P_MANIFOLD] = p
        out[i, L.O_FLOW_VALID] = min(out[i, L.O_FLOW_VALID], valid)
        out[i, L.O_MDOT] += flows[i, 0] + flows[i, 1]
        out[i, L.O_MDOT_L] += flows[i, 0]
        if flows[i, 0] < 0.0:
            out[i, L.O_HOUT] += flows[i, 0] * h
            out[i, L.O_FED] = -flows[i, 0]
            out[i, L.O_HFED] = -flows[i, 0] * h
        else:
            out[i, L.O_HOUT] += flows[i, 0] * st[19] + flows[i, 1] * st[11]
    return opening(setup, first, shares, p, h)
