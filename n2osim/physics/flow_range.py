"""How far the flow of a feed is known: a value and a range, from data.

The range is not the spread of the orifice models, of which some are simply wrong here, but of what
was measured: discharge coefficients by edge, the length of a jet that nobody has measured, and how
well the default model meets flows (``KNOWN``). A measured discharge coefficient
(``Jets.cd_spread``, from a weighed pass) replaces the first, and at the temperature it was measured
at the others too.
Ranges count as 95 %.
"""

from __future__ import annotations

import dataclasses
import math
from typing import NamedTuple

import numpy as np

from n2osim.fluid.equation_of_state import RHO_CRITICAL, T_CRITICAL
from n2osim.hardware.feed import Feed
from n2osim.hardware.jets import EDGES, LONG_START, SHORT_END, Jets
from n2osim.physics.feed_state import Drawn, feed_flow


class Known(NamedTuple):
    """How well the default model is known: half width at reduced temperature, relative."""

    where: str
    temperatures: tuple[float, ...]
    half_widths: tuple[float, ...]
    source: str


SHORT = Known(
    "liquid through a jet up to 3.2 bores long",
    (0.93, 0.945, 0.96, 0.97),
    (0.25, 0.20, 0.15, 0.10),
    "no N2O measured; nitrogen L/D 3.2 (NASA TP-1484), sharp refrigerant tubes L/D 5, "
    "near-critical CO2 L/D 3-5, joined by reduced temperature",
)
LONG = Known(
    "liquid through a jet 12 bores long or more",
    (0.92, 0.95),
    (0.05, 0.10),
    "N2O L/D 12 at 281-283 K within 2 % (Waxman et al., AIAA 2013-3636); warmer not measured",
)
GAS = Known("gas", (1.0,), (0.05,), "choked gas by the equation of state; our estimate")
"""What is known of the default model's flux, to be read with EDGES for discharge coefficients."""

_FORGETS = 10.0
"""K from the temperature of a weighed pass over which its hold on the model is lost (ours)."""


_AREA = 0.10


class Doubt(NamedTuple):
    """One reason for a range: factors on the flow of the jets, with its source."""

    name: str
    low: float
    high: float
    source: str


class FlowRange(NamedTuple):
    """Flow of a feed at one state, kg/s: as the scenario's model has it, and where it can be."""

    flow: float
    low: float
    high: float
    doubts: tuple[Doubt, ...]

    @property
    def factors(self) -> tuple[float, float]:
        """(low, high) over ``flow``."""
        if not self.flow > 0.0:
            return 1.0, 1.0
        return self.low / self.flow, self.high / self.flow


def model_half_width(jets: Jets, drawn: Drawn) -> float:
    """How well the default model is known at a state, relative, half width."""
    reduced = drawn.temperature / T_CRITICAL
    if drawn.density < RHO_CRITICAL:
        return GAS.half_widths[0]
    short, long = (float(np.interp(reduced, k.temperatures, k.half_widths)) for k in (SHORT, LONG))
    return jets.short_share * short + (1.0 - jets.short_share) * long


def doubts(jets: Jets, drawn: Drawn) -> tuple[Doubt, ...]:
    """Why the flow through ``jets`` is not known better, as factors on it."""
    model = model_half_width(jets, drawn)
    if jets.cd_spread is not None:
        if jets.measured_at is not None:
            model *= min(abs(drawn.temperature - jets.measured_at) / _FORGETS, 1.0)
        cd = Doubt("discharge coefficient", 1 - jets.cd_spread, 1 + jets.cd_spread, "measured")
    elif jets.cd == 1.0:
        area = "an effective area of no given interval: our estimate"
        cd = Doubt("effective area", 1.0 - _AREA, 1.0 + _AREA, area)
    else:
        edge = EDGES[jets.edge]
        low, high = min(edge.low, jets.cd) / jets.cd, max(edge.high, jets.cd) / jets.cd
        cd = Doubt("discharge coefficient", low, high, f"{jets.edge} edge: {edge.source}")
    return cd, Doubt("model", 1.0 - model, 1.0 + model, "; ".join(k.source for k in (SHORT, LONG)))


def _bound(feed: Feed, found: tuple[Doubt, ...], side: int) -> Feed:
    """The feed whose jets pass the least (side -1) or most (1) that they can.

    Independent doubts add in quadrature; an unknown length takes the end of its own range.
    """
    jets = feed.jets
    far = [(d.low if side < 0 else d.high) - 1.0 for d in found]
    area = max(jets.cda * (1.0 + side * math.sqrt(sum(x * x for x in far))), 1e-3 * jets.cda)
    bound = jets.with_area(area)
    if jets.length is None and jets.cd_spread is None:
        bound = bound.with_length(SHORT_END if side > 0 else LONG_START)
    return dataclasses.replace(feed, jets=bound, model="hne")


def flow_range(feed: Feed, drawn: Drawn, p_back: float) -> FlowRange:
    """Flow (kg/s) of a feed from what is drawn against ``p_back`` (Pa absolute), and its range.

    Losses ahead of the jets are solved at both ends, so that they narrow the range as they should.
    The range is that of the default model, whichever the feed names: only that one is backed by
    data. Jets of no given length reach from as short to as long as matters.
    """
    found = doubts(feed.jets, drawn)
    flow = feed_flow(feed, drawn, p_back).flow
    low, high = (feed_flow(_bound(feed, found, side), drawn, p_back).flow for side in (-1, 1))
    return FlowRange(flow, low, high, found)


def slope_range(feed: Feed, colder: Drawn, warmer: Drawn, p_back: float) -> tuple[float, float]:
    """Least and largest relative gain of flow from ``colder`` to ``warmer`` (ln of the ratio).

    Discharge coefficients cancel; what remains is the length, where it is not given, and how
    differently the model may err at the two states (as after a weighed pass at one of them).
    """
    jets = feed.jets
    lengths = [jets.length_over_bore]
    if jets.length is None:
        lengths = [SHORT_END, LONG_START]
    gains = []
    for ratio in lengths:
        area = jets.with_area(jets.cda).with_length(ratio)
        trial = dataclasses.replace(feed, jets=area, model="hne")
        cold, warm = (feed_flow(trial, d, p_back).flow for d in (colder, warmer))
        apart = min(abs(warmer.temperature - colder.temperature) / _FORGETS, 1.0)
        doubt = apart * max(model_half_width(area, d) for d in (colder, warmer))
        gains += [math.log(warm / cold) - doubt, math.log(warm / cold) + doubt]
    return min(gains), max(gains)
