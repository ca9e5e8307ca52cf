"""The range of a flow holds what the data behind it say, and narrows as it should."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from n2osim.fluid.saturation import sat
from n2osim.hardware.feed import Feed, FeedLine
from n2osim.hardware.jets import Jets
from n2osim.physics.feed_state import drawn_at, feed_flow
from n2osim.physics.flow_range import doubts, flow_range, slope_range
from n2osim.physics.orifice import HEM, orifice_flux

BACK = 101325.0
JETS = Jets(1, "0.05 in")


@pytest.mark.parametrize(
    ("T", "low", "high"), ((288, 1.5, 2.1), (292, 1.45, 1.75), (297, 1.15, 1.45), (305, 1.05, 1.2))
)
def test_range_holds_what_is_known_of_a_drilled_jet(T, low, high):
    """Flux over equilibrium as joined from other fluids, Cd 0.75 to 0.87 (reference tables)."""
    p, rho, _v, _u, _w, h, _h, s, _s = sat(float(T))
    hem = orifice_flux(HEM, p, h, s, rho, float(T), BACK)[0] * JETS.area
    found = flow_range(Feed(JETS), drawn_at(float(T), 600.0), BACK)
    middle = 0.5 * (low + high)
    for edge, ratio in ((0.81, low), (0.81, high), (0.75, middle), (0.87, middle)):
        assert found.low < edge * ratio * hem < found.high
    assert found.low < found.flow < found.high


@pytest.mark.parametrize("cd", (0.6, 0.75, 0.9))
@pytest.mark.parametrize("ratio", (1.0, 5.0, 12.0))
@pytest.mark.parametrize("T", (280.0, 290.0, 300.0, 306.0))
def test_range_holds_every_coefficient_and_length(cd, ratio, T):
    truth = feed_flow(Feed(Jets(1, JETS.bore, cd).with_length(ratio)), drawn_at(T, 600.0), BACK)
    found = flow_range(Feed(JETS), drawn_at(T, 600.0), BACK)
    assert found.low <= truth.flow <= found.high


def test_measured_coefficient_narrows_and_forgets_with_temperature():
    known = dataclasses.replace(JETS, cd=0.7, cd_spread=0.02, measured_at=300.0)
    widths = []
    for T in (300.0, 297.0, 285.0):
        low, high = flow_range(Feed(known), drawn_at(T, 600.0), BACK).factors
        assert low < 1.0 < high
        widths.append(high - low)
    assert widths[0] == pytest.approx(0.04, rel=1e-6) and np.all(np.diff(widths) > 0.0)
    assert doubts(known, drawn_at(300.0, 600.0))[0].name == "discharge coefficient"


def test_losses_ahead_of_the_jets_narrow_the_range():
    drawn = drawn_at(300.0, 600.0)
    line = Feed(Jets(1, "0.1 in"), line=FeedLine(length=4.0, bore=3e-3))
    bare = flow_range(Feed(Jets(1, "0.1 in")), drawn, BACK).factors
    held = flow_range(line, drawn, BACK).factors
    assert bare[0] < held[0] < 1.0 < held[1] < bare[1]


def test_range_is_of_the_data_whatever_the_model():
    drawn = drawn_at(300.0, 600.0)
    ranges = [flow_range(Feed(JETS, model=m), drawn, BACK) for m in ("hne", "spi", "nhne")]
    assert len({(r.low, r.high) for r in ranges}) == 1
    assert ranges[1].flow > ranges[1].high  # incompressible flow is beyond what the data allow


def test_slope_cancels_the_coefficient_and_knows_when_its_sign_is_not_known():
    cold, warm = drawn_at(290.0, 600.0), drawn_at(300.0, 600.0)
    one, other = (slope_range(Feed(Jets(1, "1 mm", cd)), cold, warm, BACK) for cd in (0.6, 0.9))
    assert one == pytest.approx(other, rel=1e-9)
    assert one[0] < 0.0 < one[1]  # length and model not known: flow may rise or fall
    long = slope_range(Feed(Jets.effective("1 mm2")), drawn_at(280.0, 600.0), cold, BACK)
    assert 0.0 < long[0] < long[1]
