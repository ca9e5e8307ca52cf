"""Film coefficients by look-up against the correlations they stand for."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from n2osim.engine import advance, balances, films
from n2osim.engine.fluid_node import BOTTLE_STATE_SIZE
from n2osim.engine.integrate import boundary_temperature
from n2osim.engine.pack import pack
from n2osim.fluid.equation_of_state import eos
from n2osim.fluid.state import state_Trho
from n2osim.hardware import Ambient, Bottle
from n2osim.physics.boiling import inside_from_properties, inside_properties
from n2osim.physics.convection import outside_coefficient
from n2osim.scenario.scenario import Mounting, Scenario
from n2osim.scenario.schedule import Rest


def records(standing: bool) -> tuple[object, object]:
    scenario = Scenario(
        Bottle.preset("aluminium", "12 lb"),
        [Rest("1 min")],
        fill="9 lb",
        start="60 degF",
        mounting=Mounting(standing=standing),
        ambient=Ambient("70 degF", air_speed=0.4),
    )
    setup = pack(scenario).setup
    return advance.as_objects(setup.whole)[0], advance.as_objects(setup.bottles)[0]


def state(T: float, rho: float) -> np.ndarray:
    st = np.zeros(BOTTLE_STATE_SIZE)
    p, *_, phase = state_Trho(T, rho)
    st[0], st[1], st[3], st[15] = T, p, phase, rho
    return st


@pytest.mark.parametrize("standing", [False, True])
@pytest.mark.parametrize(
    ("rho", "low", "high"),
    [(340.0, 240.0, 309.0), (680.0, 304.0, 320.0), (340.0, 308.7, 320.0), (684.0, 303.5, 306.0)],
)
def test_inside_films_are_those_of_the_correlation(
    standing: bool, rho: float, low: float, high: float
) -> None:
    dice = np.random.default_rng(int(rho) + standing)
    _, b = records(standing)
    grids = films.make_films(1)
    boundary = np.array([rho, boundary_temperature(rho)])
    length = b.length_in if standing else b.diameter_in  # type: ignore[attr-defined]
    worst, looked_up = [], 0
    for _ in range(60):
        T, wet = dice.uniform(low, high), dice.uniform()
        dT = dice.choice([-1.0, 1.0]) * 10.0 ** dice.uniform(-3.0, 1.6)
        st = state(T, rho)
        place = films.film_place(st, 0, boundary, grids)
        looked_up += place[0] >= 0
        h = films.inside_film(b, st, wet, 0, place, T + dT, grids)
        props = inside_properties(T, rho, int(st[3]))
        exact = inside_from_properties(props, T + dT, wet, length, int(standing), b.h_in_cap)  # type: ignore[attr-defined]
        worst.append(abs(h / exact[0] - 1.0))
    assert looked_up > 40
    assert np.median(worst) < 2e-5
    assert np.quantile(worst, 0.9) < 2e-3
    assert max(worst) < 0.15  # where condensation or boiling fades, see the module


@pytest.mark.parametrize("r", [4e-6, 3e-5, 1e-3])
def test_surface_behind_a_half_node(r: float) -> None:
    """Metal, thick metal, polymer: what a root finder has, from whatever was found before."""
    dice = np.random.default_rng(7)
    _, b = records(False)
    grids, rho = films.make_films(1), 684.0
    boundary = np.array([rho, boundary_temperature(rho)])
    for T in np.sort(dice.uniform(300.0, 308.0, 40)):
        st, T_node = state(T, rho), T + dice.uniform(-3.0, 6.0)
        place = films.film_place(st, 0, boundary, grids)
        h, T_surface = balances._at_surface(b, T_node, r, st, 1.0, 0, 0, place, grids)

        def residual(surface: float, st=st, T_node=T_node, T=T, place=place) -> float:  # type: ignore[no-untyped-def]
            film = films.inside_film(b, st, 1.0, 0, place, surface, grids)
            return float(film * (surface - T) - (T_node - surface) / r)

        exact = brentq(residual, min(T, T_node), max(T, T_node), xtol=1e-12)
        assert math.isclose(T_surface - T, exact - T, rel_tol=2e-3)
        flux = (T_node - T) / (r + 1.0 / h)
        assert math.isclose(flux, (T_node - exact) / r, rel_tol=0.02 if r < 1e-5 else 1e-4)


@pytest.mark.parametrize(("above", "superheat"), [(0.06, 0.42), (0.16, 0.6), (0.3, 0.85)])
def test_slopes_of_boiling_in_a_full_bottle(above: float, superheat: float) -> None:
    """A warmer wall, and a warmer fluid whose saturation temperature rises faster: by difference.

    The step is linearised with both; taken as equal, the slope over the fluid's temperature would
    be a third of what it is, and a hold of 55 s took 40 steps instead of 9.
    """
    _, b = records(False)
    rho, eps = 684.0, 1e-3
    boundary = np.array([rho, boundary_temperature(rho)])
    T = boundary[1] + above

    def heat(T: float, T_node: float, slopes: int = 0) -> tuple[float, ...]:
        st, grids = state(T, rho), films.make_films(1)
        st[22] = eos(T, rho)[5]
        place = films.film_place(st, 0, boundary, grids)
        r, area = b.r_in_c, b.area_in_c  # type: ignore[attr-defined]
        return balances._inside(b, math.nan, T_node, r, area, st, 1.0, 0, 0, place, grids, slopes)

    _, by_wall, by_fluid, _ = heat(T, T + superheat, 1)
    rise = heat(T, T + superheat + eps)[0] - heat(T, T + superheat - eps)[0]
    fall = heat(T - eps, T + superheat)[0] - heat(T + eps, T + superheat)[0]
    assert by_wall == pytest.approx(rise / (2.0 * eps), rel=0.06)
    assert by_fluid == pytest.approx(fall / (2.0 * eps), rel=0.06)
    assert by_fluid > 2.0 * by_wall


@pytest.mark.parametrize("standing", [False, True])
def test_outside_films_are_those_of_the_correlation(standing: bool) -> None:
    whole, b = records(standing)
    grid = films.make_films(1).air[0]
    for T_air in (255.0, 295.0, 330.0):
        for dT in (-20.0, -0.3, 0.0, 0.01, 3.0, 60.0, 300.0):
            h = films.outside_film(whole, b, T_air + dT, T_air, grid)
            exact = outside_coefficient(
                T_air + dT,
                T_air,
                whole.p_ambient,  # type: ignore[attr-defined]
                whole.air_speed,  # type: ignore[attr-defined]
                b.diameter_out,  # type: ignore[attr-defined]
                b.length_out,  # type: ignore[attr-defined]
                int(standing),
            )
            assert math.isclose(h, exact, rel_tol=1e-6)
