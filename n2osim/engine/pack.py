"""Turn a scenario into the arrays of :mod:`n2osim.engine.layout`."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any

import numpy as np

from n2osim import jit
from n2osim.engine import layout as L
from n2osim.engine.balances import Setup
from n2osim.engine.outflow import LOWEST_OUTSIDE
from n2osim.engine.pack_schedule import pack_schedule
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.feed import Feed
from n2osim.hardware.orifice_models import MODELS
from n2osim.physics.feed_chain import ENTRANCE_K, feed_elements
from n2osim.physics.feed_network import MAP_SIZE, packed_map
from n2osim.physics.flash_map import flash_part
from n2osim.physics.orifice import DEFAULT_MODEL
from n2osim.physics.plain_map import PlainMap
from n2osim.physics.sampled_orifice import is_sampled, sampled_flash_part, sampled_map
from n2osim.scenario.fitted import FittedBottle
from n2osim.scenario.scenario import Scenario
from n2osim.units import STANDARD_ATMOSPHERE

_NEVER = 1e30
_BRANCH = 0.7 * math.pi / 4.0 * 0.006**2  # m2: a bottle valve of 6 mm bore; typical, no source
_TUBE_FRICTION = 0.02  # Darcy; drawn tube of some mm at the Reynolds numbers of a pass (Moody)
_UNIT_AREA = 1e-6  # m2
MapMaker = Callable[[Feed, float], np.ndarray]
"""From feed and back pressure (Pa) to its packed flow map."""
_CHOKED_ABOVE = 4.0  # times the back pressure; N2O chokes at 0.5 to 0.9 of the inlet pressure


@dataclass(frozen=True)
class Packed:
    """A scenario as arrays: set-up, start vector, start modes, and how to read rows back.

    items: index into the schedule of each of the set-up's segments (a refill over time is several).
    """

    scenario: Scenario
    setup: Setup
    y0: np.ndarray
    modes0: np.ndarray
    n_bottles: int
    nodes: int
    p_ambient: float
    items: np.ndarray

    @property
    def kinds(self) -> tuple[int, ...]:
        """Kind of each item of the schedule (``layout.kind_number``)."""
        return tuple(L.kind_number(item.kind) for item in self.scenario.schedule)

    @property
    def width(self) -> int:
        """Length of one bottle's part of the state vector."""
        return L.n_bottle(self.nodes)

    @property
    def ny(self) -> int:
        """Length of the state vector."""
        return len(self.y0)


def pack(scenario: Scenario, maps: MapMaker | None = None) -> Packed:
    """Arrays for one scenario. Raises InputError for what only shows when parts come together.

    ``maps`` makes the flow maps of feeds with losses, :func:`flow_map` where not given.
    """
    n = scenario.model.nodes_per_layer * max(len(b.bottle.layers) for b in scenario.bottles)
    nb = len(scenario.bottles)
    bottles = np.zeros(nb, L.BOTTLE)
    wall = np.zeros((nb, 5, n))
    for i, fitted in enumerate(scenario.bottles):
        _bottle(scenario, fitted, i, bottles, wall)
    feeds, tables_of_feeds = _feeds(scenario, maps)
    segments, stages, tables, items = pack_schedule(scenario)
    air = _air_table(scenario, segments)
    setup = Setup(
        _whole(scenario, len(air)),
        bottles,
        wall,
        segments,
        stages,
        feeds,
        tables,
        tables_of_feeds,
        air if len(air) else np.zeros((1, 2)),
    )
    y0, modes0 = _start(scenario, bottles, n)
    return Packed(scenario, setup, y0, modes0, nb, n, scenario.ambient.pressure, items)


def _whole(scenario: Scenario, n_air: int) -> np.ndarray:
    a = scenario.ambient
    whole = np.zeros(1, L.WHOLE)
    r = whole[0]
    r["ambient_kind"] = a.air.index
    r["ambient_n"] = n_air
    a.air.pack(r)
    r["p_ambient"], r["clock0"] = a.pressure, scenario.clock_start
    r["air_speed"] = a.wind_on_bottle
    if a.enclosure is not None:
        r["air_node"] = 1
        r["air_capacity"] = a.enclosure.heat_capacity
        r["air_conductance"] = a.enclosure.conductance
        r["air_sun"] = a.enclosure.solar
    supply = scenario.supply
    r["supply_voltage"], r["supply_resistance"] = supply.voltage, supply.resistance
    r["tolerance"] = scenario.numerics.tolerance
    r["max_step_hold"] = scenario.numerics.max_step_hold
    r["max_step_flow"] = scenario.numerics.max_step_flow
    return whole


def _air_table(scenario: Scenario, segments: np.ndarray) -> np.ndarray:
    first = scenario.clock_start
    return scenario.ambient.air.table(first, first + float(segments["duration"].sum()))


def _bottle(
    scenario: Scenario, fitted: FittedBottle, i: int, bottles: np.ndarray, wall: np.ndarray
) -> None:
    bottle, heater, model = fitted.bottle, fitted.heater, scenario.model
    coverage = heater.coverage if heater is not None else 0.5
    bottles[i], wall[i] = _shell(bottle, model.nodes_per_layer, wall.shape[2], coverage)
    r = bottles[i]
    r["sun"] = bottle.absorbed_sun(scenario.ambient.sun_on_bottle)
    r["relief_pressure"] = _NEVER
    if bottle.relief_pressure is not None:
        r["relief_pressure"] = bottle.relief_pressure + scenario.ambient.pressure
        r["relief_cda"] = bottle.relief_cda
    _model(model, r)
    _heater(scenario, fitted, i, r)
    _mounting(fitted, r)


@lru_cache(maxsize=1024)
def _shell(bottle: Bottle, per_layer: int, total: int, coverage: float) -> tuple[Any, np.ndarray]:
    """What depends on the bottle and how much of it is covered: its record and wall arrays.

    Kept, since a study packs the same few shells thousands of times.
    """
    record = np.zeros(1, L.BOTTLE)
    r = record[0]
    wall = np.zeros((5, total))
    net = bottle.wall_network(_nodes(per_layer, len(bottle.layers), total), coverage)
    for k, side, part in ((0, "c", net.covered), (1, "b", net.bare)):
        wall[k] = part.capacity
        wall[2 + k, :-1] = part.conductance
        r[f"r_in_{side}"] = 1.0 / part.inner_conductance
        r[f"r_out_{side}"] = 1.0 / part.outer_conductance
        r[f"area_in_{side}"], r[f"area_out_{side}"] = part.inner_area, part.outer_area
    wall[4] = net.cross
    r["n"], r["volume"] = total, bottle.volume
    r["diameter_in"], r["length_in"] = bottle.inner_diameter, bottle.inner_length
    r["diameter_out"], r["length_out"] = bottle.outer_diameter, bottle.length
    r["emissivity"] = bottle.surface_emissivity
    for array in (record, wall):
        array.setflags(write=False)
    return record[0], wall


def _nodes(per_layer: int, layers: int, total: int) -> int | list[int]:
    """Nodes in each layer; shells with fewer layers than the largest get the rest inside."""
    counts = [per_layer] * layers
    counts[0] += total - per_layer * layers
    return counts


def _model(model: Any, r: Any) -> None:
    nan = math.nan
    inside, outside = model.inside_coefficient, model.outside_coefficient
    for part in ("c", "b"):
        r[f"h_in_{part}"] = nan if inside is None else inside
        r[f"h_out_{part}"] = nan if outside is None else outside
    r["h_in_factor"], r["h_in_cap"] = model.inside_factor, model.inside_cap
    r["cover_factor"], r["radiation"] = model.cover_factor, int(model.radiation)
    r["two_zone"] = int(model.zones)
    r["zone_factor"] = 1.0 if model.two_zone is None else model.two_zone
    r["boiling_growth"] = model.boiling_growth or 0.0


def _heater(scenario: Scenario, fitted: FittedBottle, i: int, r: Any) -> None:
    heater = fitted.heater
    r["controller"] = i if fitted.follows is None else scenario.bottle_index(fitted.follows)
    r["closes"], r["opens"] = -_NEVER, _NEVER
    r["cut_opens"], r["cut_closes"] = _NEVER, -_NEVER
    r["heater_capacity"] = 1.0
    switch = fitted.switch
    followed = any(b.follows == fitted.name and b.heater is not None for b in scenario.bottles)
    if switch is not None and (heater is not None or followed):
        switch.pack(r)
    elif heater is not None and fitted.follows is None:
        # No switch at all: the heater is on whenever the schedule arms it.
        r["closes"] = 0.5 * _NEVER
    if fitted.follows is not None:
        led = scenario.bottles[scenario.bottle_index(fitted.follows)].switch
        if led is not None:
            led.pack_relay(r)
    if heater is None:
        return
    r["has_heater"] = 1
    r["power"], r["conductance"] = heater.constant_power, heater.element_conductance
    r["self_limit"], r["self_ref"] = heater.self_limit, heater.self_limit_reference
    r["heater_capacity"] = heater.node_heat_capacity
    r["cover_resistance"] = heater.cover_resistance
    contact = heater.contact_conductance(float(r["area_out_c"]))
    r["g_contact"] = 1.0 / (1.0 / contact + float(r["r_out_c"]))
    if heater.cut_out is not None:
        heater.cut_out.pack(r)


def _mounting(fitted: FittedBottle, r: Any) -> None:
    m = fitted.mounting
    r["standing"], r["draw_vapour"] = int(m.standing), int(m.draw == "vapour")
    low = m.stranded(fitted.bottle.inner_diameter, fitted.bottle.inner_length)
    r["pickup_low"], r["pickup_band"] = low, m.pickup_band


def _feeds(scenario: Scenario, maps_of: MapMaker | None) -> tuple[np.ndarray, Any]:
    """Feeds in the scenario's order; with several bottles their shared parts after them.

    Maps are an array, or for plain Python a list that is filled as it is used.
    """
    plain = maps_of is None and not jit.compiled()
    make: MapMaker = maps_of or flow_map
    make_unit: MapMaker = flow_map
    mixed, mixed_unit = partial(_flashing, make), partial(_flashing, flow_map)
    if plain:
        make = make_unit = partial(_plain_map, False)
        mixed = mixed_unit = partial(_plain_map, True)
    count = len(scenario.feeds)
    shared = len(scenario.bottles) > 1
    feeds = np.zeros(max(1, count * (2 if shared else 1)), L.FEED)
    maps: list[Any] = []
    for k, (name, feed) in enumerate(scenario.feeds):
        back = back_pressure(scenario, name)
        _feed(feed, back, feeds[k], maps, make, make_unit)
        feeds[k]["shared"] = -1
        if shared:
            feeds[k]["shared"] = count + k
            feeds[k]["branch_cda"] = branch_area(feed)
            behind = dataclasses.replace(feed, pickup=None, bottle_valve=None)
            _feed(behind, back, feeds[count + k], maps, mixed, mixed_unit)
    if plain:
        return feeds, maps
    width = max((len(m) for m in maps), default=MAP_SIZE)
    return feeds, np.array([np.pad(m, (0, width - len(m))) for m in maps]).reshape(-1, width)


def _feed(
    feed: Feed, back: float, r: Any, maps: list[np.ndarray], make: MapMaker, make_unit: MapMaker
) -> None:
    # A model from another package is all in the map; it is the jets', valves keep the default.
    r["model"] = DEFAULT_MODEL if is_sampled(feed) else MODELS[feed.model].index
    r["cda"], r["p_back"] = feed.jets.cda, back
    r["short_share"] = feed.jets.short_share
    r["map"] = -1
    if len(feed.parts) > 1 or is_sampled(feed):
        r["map"], r["map_scale"] = len(maps), 1.0
        maps.append(make(feed, back))
    elif MODELS[feed.model].unit_map:
        # Choked flow does not feel the back pressure: one map of unit area serves every feed of
        # a model and length over bore.
        r["map"], r["map_scale"] = len(maps), feed.jets.cda / _UNIT_AREA
        r["map_floor"] = _CHOKED_ABOVE * max(back, STANDARD_ATMOSPHERE)
        unit = Feed(jets=feed.jets.with_area(_UNIT_AREA), model=feed.model)
        maps.append(make_unit(unit, STANDARD_ATMOSPHERE))


def branch_area(feed: Feed) -> float:
    """Effective area (m2) of what each bottle has to itself ahead of a manifold.

    Bottle valve and pick-up tube in series, the tube as an orifice of the same loss (friction
    factor ``_TUBE_FRICTION``). ``_BRANCH`` where neither is given.
    """
    inverse = 0.0
    if feed.bottle_valve is not None:
        inverse += feed.bottle_valve.cda**-2
    tube = feed.pickup
    if tube is not None:
        heads = ENTRANCE_K + _TUBE_FRICTION * tube.length / tube.bore + tube.fittings_k
        inverse += heads / tube.area**2
    return inverse**-0.5 if inverse > 0.0 else _BRANCH


def back_pressure(scenario: Scenario, feed: str) -> float:
    """Absolute pressure (Pa) a feed blows into: ambient for "purge", else the intake's."""
    p = scenario.ambient.pressure
    if feed != "purge" and scenario.engine is not None:
        p += scenario.engine.intake_pressure
    return max(p, LOWEST_OUTSIDE)


def _flashing(make: MapMaker, feed: Feed, back: float) -> np.ndarray:
    """Flow map of a feed behind a manifold, whose stream may flash ahead of it."""
    return np.concatenate([make(feed, back), _flash_part(feed, back)])


@lru_cache(maxsize=256)
def _flash_part(feed: Feed, back: float) -> np.ndarray:
    if is_sampled(feed):
        return sampled_flash_part(feed, flow_map(feed, back))
    return flash_part(flow_map(feed, back), feed_elements(feed), MODELS[feed.model].index)


@lru_cache(maxsize=64)
def _plain_map(flashing: bool, feed: Feed, back: float) -> Any:
    if is_sampled(feed):
        return _flashing(flow_map, feed, back) if flashing else flow_map(feed, back)
    return PlainMap(feed_elements(feed), back, MODELS[feed.model].index, flashing)


@lru_cache(maxsize=256)
def flow_map(feed: Feed, back: float) -> np.ndarray:
    """Flow map of a feed with losses, made once per feed and back pressure."""
    return sampled_map(feed, back) if is_sampled(feed) else packed_map(feed, back)


def forget_maps() -> None:
    """Make flow maps anew: an orifice model has been registered."""
    for made in (flow_map, _flash_part, _plain_map):
        made.cache_clear()


def _start(scenario: Scenario, bottles: np.ndarray, n: int) -> tuple[np.ndarray, np.ndarray]:
    """Start vector and modes; refuses a charge that the equation of state cannot hold."""
    from n2osim.fluid import state
    from n2osim.fluid.state import state_Trho

    nb = len(bottles)
    width = L.n_bottle(n)
    y = np.zeros(L.n_state(nb, n))
    modes = np.zeros((nb, L.N_MODES), np.int64)
    for i, fitted in enumerate(scenario.bottles):
        rho = fitted.fill / fitted.bottle.volume
        p, u, _, _, _, _, phase = state_Trho(fitted.start, rho)
        if math.isnan(p):
            state(fitted.start, rho)  # says what is out of range
        base = i * width
        wall = fitted.start if fitted.wall_start is None else fitted.wall_start
        y[base + L.M1] = fitted.fill
        y[base + L.U1] = fitted.fill * u
        y[base + L.SENSOR] = p - scenario.ambient.pressure
        if bottles[i]["line_side"]:
            y[base + L.SENSOR] = 0.0
        y[base + L.HEATER] = wall
        y[base + L.NODE0 : base + width] = wall
        modes[i, L.TWO_PHASE_FLAG] = int(phase == 1)
    y[nb * width] = float(scenario.ambient.temperature_at(scenario.clock_start))
    return y, modes
