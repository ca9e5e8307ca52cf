"""Feed network and its flow map; bottles on a manifold."""

from __future__ import annotations

import math

import numpy as np
import pytest
from manifold_reference import manifold_flows
from pipe_reference import choked_flux
from verification import Check

from n2osim.errors import InputError, RangeError
from n2osim.fluid.flash import state_ph, state_pT
from n2osim.fluid.saturation import sat
from n2osim.fluid.state import state_Trho
from n2osim.physics import line
from n2osim.physics.feed_chain import ENTRANCE_K, network_flow, orifice_element, pipe_element
from n2osim.physics.feed_network import MAP_SIZE, P_MAP_MAX, build_flow_map, map_flow
from n2osim.physics.orifice import DEFAULT_MODEL, HEM, HNE, orifice_flux

P_BACK = 101325.0
JETS = 4 * math.pi / 4 * 0.7e-3**2 * 0.8
JETS_ONLY = np.array([orifice_element(JETS)])
FEED = np.array(
    [pipe_element(4.0, 5.6e-3, 1.5e-6, 2.0), orifice_element(9e-6), orifice_element(JETS)]
)
SMALL_VALVE = np.array(
    [orifice_element(0.3 * JETS), pipe_element(1.0, 5.6e-3, 1.5e-6, 2.0), orifice_element(JETS)]
)
THIN_LINE = np.array([pipe_element(4.0, 1.6e-3, 1.5e-6, 2.0), orifice_element(JETS)])

TOPIC = "Lines and feed"
CHAIN = Check(
    TOPIC,
    "flow through line, valve and jets",
    "the jets fed at what the losses leave",
    "conservation of mass and enthalpy",
    "7 states, two feeds",
    1e-6,
    seen="exact",
    used="no",
)
MAP_TYPICAL = Check(
    TOPIC,
    "flow map: median",
    "network solved directly",
    "itself, no map",
    "500 bottle states, jets alone and with line, two models",
    5e-4,
    "%",
    seen="itself",
    used="no",
)
MAP_WORST = Check(
    TOPIC,
    "flow map: worst",
    "network solved directly",
    "itself, no map",
    "the same; worst where throats just reach the dome",
    0.015,
    "%",
    seen="itself",
    used="no",
)
MANIFOLD = Check(
    TOPIC,
    "manifold: enthalpy in against out",
    "conservation of energy",
    "exact",
    "three bottles, one fed by the others",
    1e-6,
    seen="exact",
    used="no",
)


def drawn(T: float, rho: float | str) -> tuple[float, float, float, float, float]:
    """(p, h, s, rho, T) as the network takes it; "l"/"v": saturated."""
    if isinstance(rho, str):
        q = sat(T)
        return (q[0], q[5], q[7], q[1], T) if rho == "l" else (q[0], q[6], q[8], q[2], T)
    p, _u, h, s = state_Trho(T, rho)[:4]
    return p, h, s, rho, T


STATES = [
    drawn(300.0, "l"),
    drawn(270.0, "l"),
    drawn(300.0, "v"),
    drawn(300.0, 800.0),
    drawn(312.0, 452.0),
    drawn(300.0, 500.0),
    drawn(313.0, 680.0),
]


def flux(model: int, p: float, h: float) -> tuple[float, float, float, float]:
    T, rho, _x, _phase = state_ph(p, h)
    return orifice_flux(model, p, h, state_Trho(T, rho)[3], rho, T, P_BACK)


@pytest.mark.parametrize("state", STATES)
def test_jets_alone_are_the_orifice_model(state):
    mdot, p_jet, *_ = network_flow(JETS_ONLY, HNE, *state, P_BACK)
    assert mdot == JETS * orifice_flux(HNE, *state, P_BACK)[0]
    assert p_jet == state[0]


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("feed", [FEED, THIN_LINE])
def test_losses_and_jets_agree(state, feed):
    """The jets, fed at p_jet with the bottle's enthalpy, take exactly what the losses pass."""
    p, h = state[:2]
    mdot, p_jet, x_jet, T_jet, place, _valid = network_flow(feed, HNE, *state, P_BACK)
    assert 0.0 < mdot < JETS * orifice_flux(HNE, *state, P_BACK)[0]
    assert p_jet < p
    if place == len(feed) - 1:
        CHAIN.relative(mdot, JETS * flux(HNE, p_jet, h)[0])
    T, _rho, x, _phase = state_ph(p_jet, h)  # enthalpy conserved
    assert (T_jet, x_jet) == (pytest.approx(T), pytest.approx(x))
    pipe = feed[0]
    N = ENTRANCE_K + line.loss_number(mdot, p, h, pipe[1], *pipe[2:])
    behind, possible = line.outlet_pressure(mdot / pipe[1], p, h, N)
    if place == len(feed) - 1:
        assert possible == 1.0
        assert behind >= p_jet * (1.0 - 1e-6)
        if len(feed) == 2:
            assert behind == pytest.approx(p_jet, rel=1e-5)


@pytest.mark.parametrize("state", STATES)
def test_choking_is_found_where_it_is(state):
    """A valve of 0.3 jet areas decides the flow; the jets then see what lets just that pass."""
    mdot, p_jet, _x, _T, place, _v = network_flow(SMALL_VALVE, HNE, *state, P_BACK)
    assert place == 0
    assert mdot == pytest.approx(0.3 * JETS * orifice_flux(HNE, *state, P_BACK)[0], rel=1e-6)
    assert mdot == pytest.approx(JETS * flux(HNE, p_jet, state[1])[0], rel=1e-4)
    assert network_flow(FEED, HNE, *state, P_BACK)[4] == 2


def test_thin_line_chokes_at_its_end():
    """Jets far larger than the line's bore: the flow is the line's own choked flow."""
    feed = np.array([pipe_element(1.0, 1.6e-3, 1.5e-6, 0.0), orifice_element(2e-5)])
    state = drawn(300.0, "l")
    p, h = state[:2]
    mdot, _p, _x, _T, place, _v = network_flow(feed, HEM, *state, P_BACK)
    assert place == 0
    N = ENTRANCE_K + line.loss_number(mdot, p, h, feed[0, 1], *feed[0, 2:])
    most = choked_flux(p, h, N, line.flash_pressure(h))[0]
    assert mdot == pytest.approx(feed[0, 1] * most, rel=1e-3)


def test_more_loss_less_flow_and_none_backwards():
    state = drawn(298.0, "l")
    flows = []
    for length in (0.1, 1.0, 5.0, 20.0):
        feed = np.array([pipe_element(length, 3e-3, 1.5e-6, 0.0), orifice_element(JETS)])
        flows.append(network_flow(feed, HNE, *state, P_BACK)[0])
    assert flows == sorted(flows, reverse=True)
    assert network_flow(FEED, HNE, *state, 1.1 * state[0])[0] == 0.0
    assert math.isnan(network_flow(FEED, HNE, 5e6, math.nan, 1e3, 800.0, 290.0, P_BACK)[0])


# --- map -----------------------------------------------------------------------------------------
def bottle_states(n: int, seed: int) -> list[tuple[str, tuple[float, ...]]]:
    """Random draws: saturated liquid and vapour, compressed liquid, supercritical, vapour."""
    rng = np.random.default_rng(seed)
    out: list[tuple[str, tuple[float, ...]]] = []
    while len(out) < n:
        kind = ("liquid line", "vapour line", "compressed", "supercritical", "vapour")[len(out) % 5]
        T = rng.uniform(235.0, 309.4)
        if kind.endswith("line"):
            state = drawn(T, "l" if kind == "liquid line" else "v")
        elif kind == "compressed":
            state = drawn(T, state_pT(min(sat(T)[0] * (1.0 + rng.exponential(0.5)), 24e6), T)[1])
        elif kind == "supercritical":
            state = drawn(rng.uniform(309.6, 345.0), rng.uniform(80.0, 900.0))
        else:
            state = drawn(T, state_pT(rng.uniform(0.3, 0.999) * sat(T)[0], T)[1])
        if 1.5e5 < state[0] < 24.5e6:
            out.append((kind, state))
    return out


@pytest.mark.parametrize("feed", [JETS_ONLY, FEED])
@pytest.mark.parametrize(("model", "tail"), [(DEFAULT_MODEL, 3e-3), (HEM, 7e-3)])
def test_map_against_direct_solution(feed, model, tail):
    """Relative error on random bottle states: below 0.05 % typically, 1e-4 on saturation.

    The tail is kinks of the flow itself: throats that just reach the dome (HEM has them for
    liquid too), and the ridge between two flux maxima near the critical point.
    """
    m = build_flow_map(feed, P_BACK, model)
    errors: dict[str, list[float]] = {}
    for kind, state in bottle_states(500, 3):
        exact = network_flow(feed, model, *state, P_BACK)[0]
        got = map_flow(m.packed, state[0], state[1], state[3], 0)
        errors.setdefault(kind, []).append(abs(got / exact - 1.0))
    for kind, e in errors.items():
        on_line = kind.endswith("line")
        assert not on_line or np.median(e) < 1e-6, kind
        MAP_TYPICAL.below(np.median(e), kind)
        assert np.quantile(e, 0.95) < (1e-4 if on_line else tail), kind
        assert not on_line or max(e) < 1e-3, kind
        MAP_WORST.below(e, kind)


def test_map_is_continuous():
    """Across saturation, the critical pressure and the critical density."""
    m = build_flow_map(FEED, P_BACK)
    for T in (250.0, 300.0, 309.0):
        p, rho_l, rho_v = sat(T)[:3]
        for rho, step in ((rho_l, 1 + 1e-9), (rho_v, 1 - 1e-9)):
            assert m.flow(p, rho) == pytest.approx(m.flow(p, rho * step), rel=1e-5)
    for rho in (100.0, 300.0, 440.0, 460.0, 600.0, 900.0):
        below, above = m.flow(7.2448e6, rho), m.flow(7.2449e6, rho)
        assert below == pytest.approx(above, rel=2e-3)
    for p in (7.6e6, 9e6, 2e7):
        assert m.flow(p, 452.9) == pytest.approx(m.flow(p, 452.96), rel=1e-3)


def test_map_scales_with_the_jets_and_stops_at_the_back_pressure():
    a = build_flow_map(JETS_ONLY, P_BACK)
    b = build_flow_map(2.0 * JETS_ONLY, P_BACK)
    assert b.flow(5e6, 800.0) == pytest.approx(2.0 * a.flow(5e6, 800.0), rel=1e-12)
    assert a.packed.shape == (MAP_SIZE,) and a.packed.dtype == np.float64
    assert a.flow(P_BACK, 2.0) == 0.0 == a.flow(0.5 * P_BACK, 2.0)
    assert 0.0 < a.flow(1.01 * P_BACK, 2.0) < a.flow(1.2 * P_BACK, 2.2)
    assert math.isfinite(a.flow(1.5 * P_MAP_MAX, 1000.0))


def test_map_with_boost():
    back = 3e5
    m = build_flow_map(FEED, back)
    for _kind, state in bottle_states(60, 8):
        if state[0] > 2.0 * back:
            exact = network_flow(FEED, DEFAULT_MODEL, *state, back)[0]
            assert m.flow(state[0], state[3]) == pytest.approx(exact, rel=0.015)


def test_bad_feeds_are_refused():
    with pytest.raises(InputError, match="effective area"):
        orifice_element(-1e-6)
    with pytest.raises(InputError, match="bore"):
        pipe_element(1.0, 0.0, 1e-6, 0.0)
    with pytest.raises(InputError, match="zero or more"):
        pipe_element(-1.0, 5e-3, 1e-6, 0.0)
    with pytest.raises(RangeError, match="back pressure"):
        build_flow_map(JETS_ONLY, 7e6)


# --- manifold ------------------------------------------------------------------------------------
def manifold(temperatures, feed):
    states = np.array([drawn(T, "l") for T in temperatures])
    flows = np.zeros(len(states))
    result = manifold_flows(states, np.full(len(states), 5e-6), HNE, feed, P_BACK, flows)
    return states, flows, result


def test_equal_bottles_share_equally():
    _s, flows, (p, h, feed) = manifold((298.0, 298.0), JETS_ONLY)
    assert flows[0] == flows[1] > 0.0
    assert feed == pytest.approx(flows.sum(), rel=1e-6)
    assert p < sat(298.0)[0] and h == pytest.approx(sat(298.0)[5])


def test_warm_bottle_feeds_the_cold_one():
    """Mass and energy through the manifold close; the cold bottle's flow is negative."""
    states, flows, (p, h, feed) = manifold((300.0, 299.0, 290.0), JETS_ONLY)
    assert flows[0] > flows[1] > 0.0 > flows[2]
    assert feed > 0.0 and states[2, 0] < p < states[0, 0]
    assert flows.sum() == pytest.approx(feed, abs=1e-6)
    inflow = flows[:2] @ states[:2, 1]
    MANIFOLD.relative(inflow, (feed - flows[2]) * h)


def test_shut_solenoid_lets_bottles_equalise_only():
    _s, flows, (_p, _h, feed) = manifold((300.0, 290.0), np.zeros((0, 6)))
    assert feed == 0.0
    assert flows[0] == pytest.approx(-flows[1], rel=1e-6) and flows[0] > 0.0
    _s, flows, _r = manifold((295.0, 295.0), np.zeros((0, 6)))
    assert (flows == 0.0).all()


def test_large_jets_draw_from_all():
    _s, flows, _r = manifold((300.0, 290.0), np.array([orifice_element(2e-5)]))
    assert (flows > 0.0).all()
