"""Map of flashing streams behind a manifold, against the network solved directly."""

from __future__ import annotations

import math

import numpy as np
import pytest
from verification import Check

from n2osim.fluid.saturation import sat
from n2osim.physics.feed_chain import network_flow, orifice_element, pipe_element
from n2osim.physics.feed_network import build_flow_map, map_flow
from n2osim.physics.flash_map import FLASH_SIZE, flash_flow, flash_part
from n2osim.physics.orifice import HEM, HNE, NHNE, OMEGA, SPI

P_BACK = 101325.0
TOPIC = "Lines and feed"
STREAMS = Check(
    TOPIC,
    "map of flashing streams, default model",
    "network solved directly",
    "itself, no map",
    "20 random feeds, 600 streams of quality 0 to 1, 265-309 K",
    1e-3,
    "%",
    seen="itself",
    used="no",
)


def mixture(T: float, x: float) -> tuple[float, float, float, float, float]:
    """(p, h, s, rho, rho_v/rho_l) of quality x at T."""
    p, rho_l, rho_v, _u_l, _u_v, h_l, h_v, s_l, s_v = sat(T)
    rho = 1.0 / ((1.0 - x) / rho_l + x / rho_v)
    return p, h_l + x * (h_v - h_l), s_l + x * (s_v - s_l), rho, rho_v / rho_l


def random_feed(rng: np.random.Generator) -> np.ndarray:
    """Hose, solenoid and jets whose losses leave between all and a third of the jets' flow."""
    jets = math.exp(rng.uniform(math.log(1e-6), math.log(1.5e-5)))
    bore = math.sqrt(jets * rng.uniform(1.5, 40.0) * 4.0 / math.pi)
    return np.array(
        [
            pipe_element(rng.uniform(0.3, 6.0), bore, 1.5e-6, rng.uniform(0.0, 4.0)),
            orifice_element(jets * rng.uniform(0.8, 8.0)),
            orifice_element(jets),
        ]
    )


def packed(elements: np.ndarray, model: int, back: float = P_BACK) -> np.ndarray:
    base = build_flow_map(elements, back, model).packed
    return np.concatenate([base, flash_part(base, elements, model)])


def errors(model: int, feeds: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(feeds):
        elements = random_feed(rng)
        table = packed(elements, model)
        for _ in range(30):
            T, x = rng.uniform(265.0, 309.0), rng.uniform() ** 2
            p, h, s, rho, q = mixture(T, x)
            exact = network_flow(elements, model, p, h, s, rho, T, P_BACK)[0]
            found.append(flash_flow(table, p, x, rho, q) / exact - 1.0)
    return np.array(found)


def test_default_model_through_random_feeds():
    STREAMS.below(errors(HNE, 20, 5))


@pytest.mark.parametrize(
    ("model", "typical", "worst"),
    [(SPI, 1e-4, 1e-3), (HEM, 1e-4, 1e-3), (NHNE, 2e-3, 0.05), (OMEGA, 1e-3, 0.06)],
)
def test_other_models_through_random_feeds(model, typical, worst):
    """NHNE changes between its two terms, and OMEGA to HEM, within a narrow range of density."""
    e = np.abs(errors(model, 8, 6))
    print(f"median {np.median(e):.1e}, worst {e.max():.1e}")
    assert np.median(e) < typical and e.max() < worst


@pytest.mark.parametrize("model", [HEM, HNE, NHNE])
def test_joins_the_feed_s_map_on_both_lines(model):
    """A stream that just begins, or ends, to flash is the saturated one: no step to the solver."""
    elements = random_feed(np.random.default_rng(2))
    table = packed(elements, model)
    for T in (250.0, 290.0, 305.0, 309.3):
        p, rho_l, rho_v = sat(T)[:3]
        for x, rho in ((0.0, rho_l), (1.0, rho_v)):
            flow = flash_flow(table, p, x, rho, rho_v / rho_l)
            assert flow == pytest.approx(map_flow(table, p, 0.0, rho, 0), rel=1e-8)


def test_jets_without_losses_and_back_pressure():
    elements = np.array([orifice_element(3e-6)])
    table = packed(elements, HNE, 3e5)
    assert table.shape == (len(build_flow_map(elements, 3e5).packed) + FLASH_SIZE,)
    p, h, s, rho, q = mixture(295.0, 0.2)
    exact = network_flow(elements, HNE, p, h, s, rho, 295.0, 3e5)[0]
    assert flash_flow(table, p, 0.2, rho, q) == pytest.approx(exact, rel=1e-4)
    assert flash_flow(table, 3e5, 0.2, rho, q) == 0.0 == flash_flow(table, 1e5, 0.2, rho, q)
