"""The same case for both sides: a scenario for n2osim and plain numbers for the reference."""

from __future__ import annotations

from typing import Any

from benchmarks.plain import Films, Problem
from n2osim.fluid.equation_of_state import RHO_CRITICAL, T_CRITICAL
from n2osim.fluid.phase import LIQUID, SUPERCRITICAL, TWO_PHASE, VAPOUR
from n2osim.hardware.ambient import Ambient
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.feed import Feed
from n2osim.hardware.geometry import wetted_fraction
from n2osim.hardware.heater import Heater
from n2osim.hardware.jets import Jets
from n2osim.hardware.switch import PressureSwitch
from n2osim.jit import entry
from n2osim.physics.boiling import inside_coefficient
from n2osim.physics.convection import outside_coefficient
from n2osim.physics.radiation import radiation_coefficient
from n2osim.scenario.scenario import Model, Mounting, Scenario

INSIDE, OUTSIDE = 400.0, 10.0
"""W/m2/K; constants, so that both sides use the same coefficients."""


@entry
def _inside(T_wall, T, rho, phase, wet, length, standing, cap):
    return inside_coefficient(T_wall, T, rho, phase, wet, length, standing, cap)[0]


@entry
def _outside(T_surface, T_air, p_air, speed, diameter, length, standing, emissivity):
    h = outside_coefficient(T_surface, T_air, p_air, speed, diameter, length, standing)
    return h + radiation_coefficient(T_surface, T_air, emissivity)


def scenario(
    shell: str = "aluminium",
    filled: float = 1.0,
    start: Any = "60 degF",
    power: Any = "300 W",
    band: tuple[Any, Any] = ("1000 psig", "1100 psig"),
    jets: Any = "6 mm2",
    flow: str = "spi",
    schedule: Any = (),
    nodes: int = 4,
    air: Any = "60 degF",
    numerics: Any = None,
    default_films: bool = False,
) -> Scenario:
    """A 12 lb bottle with a heater, at constant coefficients unless ``default_films``."""
    bottle = Bottle.preset(shell, "12 lb")
    return Scenario(
        bottle,
        fill=filled * bottle.capacity,
        start=start,
        ambient=Ambient(air),
        heater=Heater(power),
        switch=PressureSwitch(*band),
        feed=Feed(Jets.effective(jets), model=flow),
        schedule=schedule,
        mounting=Mounting(pickup=0.02, pickup_band=0.01),
        model=Model(nodes_per_layer=nodes)
        if default_films
        else Model(inside_coefficient=INSIDE, outside_coefficient=OUTSIDE, nodes_per_layer=nodes),
        numerics=numerics,
    )


def problem(s: Scenario) -> Problem:
    """Plain numbers of the scenario's first bottle, from the hardware alone."""
    fitted = s.bottles[0]
    bottle, heater, switch = fitted.bottle, fitted.heater, fitted.switch
    if heater is None or switch is None or s.feed is None:
        raise ValueError("the plain reference needs a heater, a switch and a feed")
    net = bottle.wall_network(s.model.nodes_per_layer, heater.coverage)
    c, b = net.covered, net.bare
    films = _films(s) if s.model.inside_coefficient is None else None
    h_in, h_out = s.model.inside_coefficient or INSIDE, s.model.outside_coefficient or OUTSIDE
    contact = heater.contact_conductance(c.outer_area)
    cover = heater.cover_resistance / c.outer_area
    film = h_out * s.model.cover_factor * c.outer_area
    return Problem(
        volume=bottle.volume,
        mass=fitted.fill,
        T_start=fitted.start,
        T_air=float(s.ambient.temperature_at(0.0)),
        p_ambient=s.ambient.pressure,
        power=float(heater.power or 0.0),
        closes=switch.closes,
        opens=switch.opens,
        capacity_c=c.capacity,
        capacity_b=b.capacity,
        g_c=c.conductance,
        g_b=b.conductance,
        cross=net.cross,
        g_in_c=_series(c.inner_conductance, h_in * c.inner_area),
        g_in_b=_series(b.inner_conductance, h_in * b.inner_area),
        g_contact=_series(contact, c.outer_conductance),
        heater_capacity=heater.heat_capacity,
        loss_heater=_series(1.0 / cover, film) if cover > 0.0 else film,
        loss_bare=_series(b.outer_conductance, h_out * b.outer_area),
        cda=s.feed.jets.cda,
        flow=s.feed.model,
        pickup_low=float(fitted.mounting.pickup or 0.0),
        pickup_band=fitted.mounting.pickup_band,
        films=films,
    )


def _films(s: Scenario) -> Films:
    """The package's own correlations, compiled, for the reference to call: a user would have
    written the same formulas, and not in anything quicker."""
    fitted = s.bottles[0]
    bottle, heater, a = fitted.bottle, fitted.heater, s.ambient
    assert heater is not None
    net = bottle.wall_network(s.model.nodes_per_layer, heater.coverage)
    c, b = net.covered, net.bare
    d, length, standing = bottle.inner_diameter, bottle.inner_length, int(fitted.mounting.standing)
    across = length if standing else d
    T_air = float(a.temperature_at(0.0))

    def inside(T_wall: float, T: float, rho: float, two: bool, level: float) -> float:
        phase = TWO_PHASE
        if not two:
            phase = LIQUID if rho > RHO_CRITICAL else VAPOUR
            phase = phase if T < T_CRITICAL else SUPERCRITICAL
        wet = wetted_fraction(level, d, length, standing) if two else 1.0
        return float(_inside(T_wall, T, rho, phase, wet, across, standing, s.model.inside_cap))

    def outside(T: float) -> float:
        e = bottle.surface_emissivity
        size = (bottle.outer_diameter, bottle.length, standing)
        return float(_outside(T, T_air, a.pressure, a.air_speed, *size, e))

    cover = c.outer_area / heater.cover_resistance if heater.cover_resistance > 0.0 else 1e12
    return Films(
        inside,
        outside,
        (c.inner_area, b.inner_area),
        (c.outer_area, b.outer_area),
        (c.inner_conductance, b.inner_conductance),
        (cover, b.outer_conductance),
        s.model.cover_factor,
    )


def _series(*conductances: float) -> float:
    return 1.0 / sum(1.0 / g for g in conductances)
