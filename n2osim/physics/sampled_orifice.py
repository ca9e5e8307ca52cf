"""Orifice models of other packages: a Python function, sampled into the flow maps that runs read.

Kernels know a closed set of models, so a model from outside is solved at the nodes of the two
layers of :mod:`~n2osim.physics.feed_network` (and of ``flash_map``, behind a manifold) and a run
interpolates between them, as it does for every choking model. It stands for the jets: bottle valve
and solenoid keep the default model. Losses ahead of the jets are solved with jets of the default
model of just such an area that they pass, from the same state, what the outside model's would.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from n2osim.errors import InputError, NoSolutionError
from n2osim.fluid.equation_of_state import P_CRITICAL
from n2osim.fluid.flash import state_ph, state_prho
from n2osim.fluid.saturation import sat, sat_rho, sat_T
from n2osim.fluid.state import state_Trho
from n2osim.hardware.feed import Feed
from n2osim.hardware.orifice_models import MODELS, SYNONYMS, OrificeModel
from n2osim.physics import feed_network as F
from n2osim.physics import flash_map
from n2osim.physics.feed_chain import feed_elements, network_flow
from n2osim.physics.orifice import DEFAULT_MODEL
from n2osim.physics.plain_map import tables_of
from n2osim.schema import Choice, declared

Flux = Callable[[float, float, float, float, float, float], float]
"""From the stagnation state p (Pa), h (J/kg), s (J/kg/K), rho (kg/m3), T (K) and the back pressure
(Pa) to kg/m2/s through a unit of effective area; only asked below the inlet's pressure."""
Value = Callable[[float, float, float], float]
"""Value of a layer at p (Pa), T (K), rho (kg/m3)."""
State = tuple[float, float, float, float, float]
FIRST_INDEX = 100


def register_orifice_model(name: str, flux: Flux, title: str, source: str) -> None:
    """Make ``name`` a model that ``Feed(model=...)`` takes; InputError where it is taken.

    A name registered from outside before may be given again (a notebook's cell run twice).
    """
    taken = MODELS.get(name)
    if (taken is not None and taken.flux is None) or name in SYNONYMS or name != name.casefold():
        valid = f"a lower-case name that is free: not {', '.join((*MODELS, *SYNONYMS))}"
        raise InputError("orifice model", name, "", valid, "choose another name")
    index = max(FIRST_INDEX, 1 + max(m.index for m in MODELS.values()))
    MODELS[name] = OrificeModel(index, title, source, flux=_checked(name, flux))
    kind = declared(Feed)["model"].kind
    assert isinstance(kind, Choice)
    kind.allow(name)


def _checked(name: str, flux: Flux) -> Flux:
    def checked(p: float, h: float, s: float, rho: float, T: float, back: float) -> float:
        found = float(flux(p, h, s, rho, T, back)) if back < p else 0.0
        if not (0.0 <= found < math.inf):
            where = f"at {p:.6g} Pa, {T:.5g} K, {rho:.5g} kg/m3 against {back:.6g} Pa"
            valid = f"a mass flux from 0 up {where}"
            raise InputError(f"orifice model {name}", found, "kg/m2/s", valid, "see its author")
        return found

    return checked


def is_sampled(feed: Feed) -> bool:
    """Whether a feed names a model from another package."""
    return MODELS[feed.model].flux is not None


def _flux(feed: Feed) -> Flux:
    found = MODELS[feed.model].flux
    assert found is not None
    return found


def sampled_flow(
    feed: Feed, p: float, h: float, s: float, rho: float, T: float, p_back: float
) -> tuple[float, float, int, float]:
    """Flow of a feed with such a model: as ``network_flow`` (mdot, p_jet, place, valid)."""
    return _solve(feed_elements(feed), _flux(feed), (p, h, s, rho, T), p_back)


def _solve(
    elements: NDArray[np.float64], flux: Flux, state: State, p_back: float
) -> tuple[float, float, int, float]:
    area = float(elements[-1, 1])
    if len(elements) == 1 or p_back >= state[0]:
        return area * flux(*state, p_back), state[0], -1, 1.0
    chain = elements.copy()
    chain[-1, 2] = 0.0

    def passed(size: float) -> tuple[float, float, int]:
        chain[-1, 1] = area * math.exp(size)
        mdot, p_jet, _x, _T, place, _valid = network_flow(chain, DEFAULT_MODEL, *state, p_back)
        return float(mdot), float(p_jet), int(place)

    def surplus(size: float) -> float:
        mdot, p_jet, _ = passed(size)
        T, rho, _x, _phase = state_ph(p_jet, state[1])
        capacity = area * flux(p_jet, state[1], state_Trho(T, rho)[3], rho, T, p_back)
        return math.log(max(mdot, 1e-30) / max(capacity, 1e-30))

    size = -surplus(0.0)
    for width in (0.05, 0.5, 3.0, 10.0):
        low, high = size - width, size + width
        if surplus(low) < 0.0 < surplus(high):
            root = brentq(surplus, low, high, xtol=1e-7)
            return (*passed(root), 1.0)
    raise NoSolutionError("no flow through the losses ahead of the jets meets the orifice model")


# --- maps ----------------------------------------------------------------------------------------
def sampled_map(feed: Feed, p_back: float) -> NDArray[np.float64]:
    """Packed map of such a feed, as ``feed_network.packed_map``."""
    elements, flux = feed_elements(feed), _flux(feed)
    packed = _unit_map(flux, p_back).copy()
    packed[4] = elements[-1, 1] ** 2
    if len(elements) > 1:
        packed[3] = 1.0
        _fill(packed, F.RATIO_START, F.RATIO, _ratio_of(elements, flux, p_back))
    return packed


@lru_cache(maxsize=32)
def _unit_map(flux: Flux, p_back: float) -> NDArray[np.float64]:
    packed = F.empty_map(FIRST_INDEX, p_back)
    _fill(packed, F.HEADER, F.JETS, _jets_of(flux, p_back))
    return packed


def _jets_of(flux: Flux, p_back: float) -> Value:
    """Squared flux over density and pressure drop."""

    def value(p: float, T: float, rho: float) -> float:
        st = state_Trho(T, rho)
        return flux(p, st[2], st[3], rho, T, p_back) ** 2 / (rho * (p - p_back))

    return value


def _ratio_of(elements: NDArray[np.float64], flux: Flux, p_back: float) -> Value:
    """Squared ratio of the feed's flow to that of its jets alone."""

    def value(p: float, T: float, rho: float) -> float:
        st = state_Trho(T, rho)
        state = (p, float(st[2]), float(st[3]), rho, T)
        alone = elements[-1, 1] * flux(*state, p_back)
        return float((_solve(elements, flux, state, p_back)[0] / alone) ** 2) if alone else 1.0

    return value


def _fill(packed: NDArray[np.float64], start: int, shape: tuple[int, ...], value: Value) -> None:
    """One layer: lines, then tables, in the order of ``feed_network._fill_layer``."""
    line = shape[0]
    for dense in (True, False):
        for i in range(line):
            p = F._pressure(packed[1], i / (line - 1.0), False)
            packed[start + i] = _on_line(p, dense, value)
        start += line
    for n, m, above, dense in tables_of(shape):
        for i in range(n):
            p = F._pressure(packed[1], i / (n - 1.0), above)
            packed[start : start + m] = _row(p, m, above, dense, value)
            start += m


def _on_line(p: float, dense: bool, value: Value) -> float:
    rho = F._line_densities(p)[0 if dense else 1]
    T = sat_T(p) if p < P_CRITICAL else state_prho(p, rho)[0]
    return value(p, T, rho)


def _row(p: float, m: int, above: bool, dense: bool, value: Value) -> list[float]:
    """One pressure, m densities: over the line's value below the critical pressure."""
    line = F._line_densities(p)[0 if dense else 1]
    reference = _on_line(p, dense, value)
    found = [reference] if above else [1.0]
    for k in range(1, m):
        rho = F._side_density(p, line, k / (m - 1.0), dense)
        T = state_prho(p, rho)[0]
        if T > 0.0:
            found.append(value(p, T, rho) / (1.0 if above else reference))
        else:  # just outside the equation of state: carry on in a straight line
            found.append(2.0 * found[-1] - found[-2])
    return found


def sampled_flash_part(feed: Feed, packed: NDArray[np.float64]) -> NDArray[np.float64]:
    """What follows the map to make it one of flashing streams too, as ``flash_map.flash_part``."""
    elements, flux, back = feed_elements(feed), _flux(feed), float(packed[0])
    jets = _mixture_table(packed, flash_map.FLASH_JETS, _jets_of(flux, back))
    ratio = np.ones(flash_map.FLASH_SIZE - jets.size)
    if len(elements) > 1:
        ratio = _mixture_table(packed, flash_map.FLASH_RATIO, _ratio_of(elements, flux, back))
    return np.concatenate([jets, ratio])


def _mixture_table(
    packed: NDArray[np.float64], shape: tuple[int, int], value: Value
) -> NDArray[np.float64]:
    """Values of mixtures over those on both lines, weighed by quality (see ``flash_map``)."""
    n, m = shape
    found = np.empty((n, m))
    w = np.arange(m) / (m - 1.0)
    top = flash_map._TOP * P_CRITICAL
    for i in range(n):
        p = packed[1] + (top - packed[1]) * 0.5 * (1.0 - math.cos(math.pi * i / (n - 1.0)))
        T = float(sat_T(p))
        _p, rho_l, rho_v = sat_rho(T)
        q = math.sqrt(rho_v / rho_l)
        x = w * q / (1.0 - w + w * q)
        p_sat = float(sat(T)[0])
        row = [value(p_sat, T, 1.0 / ((1.0 - one) / rho_l + one / rho_v)) for one in x]
        found[i] = np.array(row) / ((1.0 - x) * row[0] + x * row[-1])
    return found.ravel()
