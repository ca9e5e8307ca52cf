"""What a feed passes at a gauge pressure and a charge: the state drawn, and the flow from it.

Equal gauge pressure is not equal flow: a bottle in two phases draws saturated liquid, a
liquid-full one at the same pressure compressed liquid of its own (other) density, and one above
the critical point whatever its filling density is.
"""

from __future__ import annotations

from typing import NamedTuple

from n2osim import fluid
from n2osim.fluid.phase import TWO_PHASE
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.feed import Feed
from n2osim.hardware.orifice_models import MODELS
from n2osim.physics.charge import temperature_for_pressure
from n2osim.physics.feed_chain import feed_elements, network_flow
from n2osim.physics.sampled_orifice import is_sampled, sampled_flow


class Drawn(NamedTuple):
    """A bottle at rest and what its pick-up tube draws.

    pressure (Pa absolute), temperature (K) of the bottle; density (kg/m3), enthalpy (J/kg),
    entropy (J/kg/K) of what is drawn; two_phase: whether that is saturated liquid.
    """

    pressure: float
    temperature: float
    density: float
    enthalpy: float
    entropy: float
    two_phase: bool


class FlowPoint(NamedTuple):
    """Flow of a feed at one state: kg/s, pressure (Pa absolute) ahead of the jets, where it chokes
    (name of the part, "" nowhere), and whether the orifice model is inside its own range."""

    flow: float
    jet_pressure: float
    chokes_at: str
    valid: bool


def drawn_at(temperature: float, density: float) -> Drawn:
    """What is drawn from a bottle at a temperature (K) and filling density (kg/m3)."""
    s = fluid.state(temperature, density)
    if int(s.phase) != TWO_PHASE:
        return Drawn(float(s.p), temperature, density, float(s.h), float(s.s), False)
    line = fluid.saturation(temperature)
    return Drawn(
        float(line.p), temperature, float(line.rho_l), float(line.h_l), float(line.s_l), True
    )


def drawn_at_pressure(bottle: Bottle, charge: float, gauge: float, ambient: float) -> Drawn:
    """What is drawn from ``charge`` (kg) in ``bottle`` that reads ``gauge`` (Pa) at rest.

    ``ambient``: Pa absolute. NoSolutionError when the charge cannot reach that pressure.
    """
    T = float(temperature_for_pressure(gauge + ambient, charge, bottle.volume))
    return drawn_at(T, charge / bottle.volume)


def feed_flow(feed: Feed, drawn: Drawn, p_back: float) -> FlowPoint:
    """Flow of a feed from what is drawn against ``p_back`` (Pa absolute), network solved anew."""
    if is_sampled(feed):
        state = (drawn.pressure, drawn.enthalpy, drawn.entropy, drawn.density, drawn.temperature)
        mdot, p_jet, place, valid = sampled_flow(feed, *state, p_back)
        return _flow_point(feed, mdot, p_jet, place, valid)
    elements = feed_elements(feed)
    mdot, p_jet, _x, _T, place, valid = network_flow(
        elements,
        MODELS[feed.model].index,
        drawn.pressure,
        drawn.enthalpy,
        drawn.entropy,
        drawn.density,
        drawn.temperature,
        p_back,
    )
    return _flow_point(feed, mdot, p_jet, place, valid)


def _flow_point(feed: Feed, mdot: float, p_jet: float, place: float, valid: float) -> FlowPoint:
    names = [name for name, _ in feed.parts]
    where = names[int(place)] if place >= 0 else ""
    return FlowPoint(float(mdot), float(p_jet), where, valid == 1.0)
