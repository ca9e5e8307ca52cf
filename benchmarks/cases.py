"""The same case for both sides: a scenario for n2osim and plain numbers for the reference."""

from __future__ import annotations

from typing import Any

from benchmarks.plain import Problem
from n2osim.hardware.ambient import Ambient
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.feed import Feed
from n2osim.hardware.heater import Heater
from n2osim.hardware.jets import Jets
from n2osim.hardware.switch import PressureSwitch
from n2osim.scenario.scenario import Model, Mounting, Scenario

INSIDE, OUTSIDE = 400.0, 10.0
"""W/m2/K; constants, so that both sides use the same coefficients."""


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
) -> Scenario:
    """A 12 lb bottle with a heater, at constant coefficients."""
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
        model=Model(inside_coefficient=INSIDE, outside_coefficient=OUTSIDE, nodes_per_layer=nodes),
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
    h_in, h_out = s.model.inside_coefficient, s.model.outside_coefficient
    if h_in is None or h_out is None:
        raise ValueError("the plain reference needs constant coefficients")
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
    )


def _series(*conductances: float) -> float:
    return 1.0 / sum(1.0 / g for g in conductances)
