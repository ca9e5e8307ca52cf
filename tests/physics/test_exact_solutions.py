"""The exact solutions that other tests lean on, against textbook values."""

from __future__ import annotations

import math

import pytest
from exact_solutions import (
    cylinder,
    cylinder_mean,
    plane_wall,
    plane_wall_mean,
    semi_infinite_convection,
    semi_infinite_flux,
    semi_infinite_surface,
    sphere,
    two_layer_slab,
)
from reference_rows import example, read
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

TABLE = "transient_conduction_examples.csv"


def exact(start: str) -> list[float]:
    return example(TABLE, start, "exact")[0]


def test_incropera_5_1_lumped_sphere():
    diameter, time = exact("Incropera 5.1")
    needed = 6.0 * 400.0 * 1.0 / (8500.0 * 400.0)  # time constant rho c D/(6 h) = 1 s
    assert needed == pytest.approx(diameter, rel=1e-3)
    # the book's junction: 25 to 199 degC in 200 degC gas, time constant 1 s
    assert math.log((25.0 - 200.0) / (199.0 - 200.0)) == pytest.approx(time, rel=1e-3)


def test_incropera_5_3_lumped_with_radiation():
    # Al plate 3 mm, both faces; radiation makes it an ODE without closed form
    capacity = 2770.0 * 875.0 * 0.0015
    sigma = 5.67e-8

    def rate(h, T_inf):
        return lambda _t, T: -(h * (T - T_inf) + 0.8 * sigma * (T**4 - T_inf**4)) / capacity

    def reach(h, T_inf, start, target):
        def hit(_t, T):
            return T[0] - target

        hit.terminal = True
        run = solve_ivp(rate(h, T_inf), (0, 5000), [start], events=hit, rtol=1e-9, atol=1e-9)
        return run.t_events[0][0]

    t_c, t_e, T_e, total = exact("Incropera 5.3")[:4]
    heat = reach(40.0, 448.0, 298.0, 423.0)
    assert heat == pytest.approx(t_c, rel=3e-3)
    assert heat + 300.0 == pytest.approx(t_e, rel=3e-3)
    hold = solve_ivp(rate(40.0, 448.0), (0, heat + 300.0), [298.0], rtol=1e-9, atol=1e-9)
    end = hold.y[0, -1]
    assert end - 273.0 == pytest.approx(T_e, abs=0.05)
    assert heat + 300.0 + reach(10.0, 298.0, end, 310.0) == pytest.approx(total, rel=3e-3)


def test_incropera_5_4_plane_wall():
    Bi, Fo, T_outer, flux, heat = exact("Incropera 5.4")[:5]
    # book: Bi 0.313, Fo 5.64; outer surface of the pipe is the insulated face (x = 0)
    Bi_now, Fo_now = 500.0 * 0.04 / 63.9, 18.8e-6 * 480.0 / 0.04**2
    assert (Bi_now, Fo_now) == (pytest.approx(Bi, rel=2e-3), pytest.approx(Fo, rel=2e-3))
    assert 60.0 - 80.0 * plane_wall(Bi_now, Fo_now, 0.0) == pytest.approx(T_outer, rel=5e-3)
    assert -500.0 * 80.0 * plane_wall(Bi_now, Fo_now, 1.0) == pytest.approx(flux, rel=5e-3)
    stored = 7832.0 * 434.0 * 0.04 * math.pi * 1.0 * 80.0
    given = -stored * (1.0 - plane_wall_mean(Bi_now, Fo_now))
    assert given == pytest.approx(heat, rel=5e-3)


def test_incropera_5_5_sphere():
    t_air, t_water = exact("Incropera 5.5")[:2]
    lumped = 3000.0 * 1000.0 * 0.005 / (3.0 * 10.0) * math.log((400.0 - 20.0) / (335.0 - 20.0))
    assert lumped == pytest.approx(t_air, rel=1e-3)
    alpha, Bi, goal = 20.0 / (3000.0 * 1000.0), 6000.0 * 0.005 / 20.0, 30.0 / 315.0
    time = brentq(lambda t: sphere(Bi, alpha * t / 0.005**2, 1e-6) - goal, 1.0, 10.0)
    assert time == pytest.approx(t_water, rel=5e-3)  # one-term value; the book's table 3 % higher


def test_incropera_5_6_and_5_10_semi_infinite():
    depth = exact("Incropera 5.6")[0]
    alpha = 0.52 / (2050.0 * 1840.0)
    found = brentq(
        lambda x: -15.0 + 35.0 * semi_infinite_surface(x, alpha, 60 * 86400.0), 0.01, 5.0
    )
    assert found == pytest.approx(depth, rel=5e-3)
    surface, inside = exact("Incropera 5.10")
    for x, value in ((0.0, surface), (0.15, inside)):
        rise = semi_infinite_flux(3e5, x, 117e-6, 401.0, 120.0)
        assert 20.0 + rise == pytest.approx(value, rel=1e-3)


def test_holman_4_1_and_4_2():
    lumped = 7800.0 * 460.0 * 0.025 / (3.0 * 10.0) * math.log(350.0 / 50.0)
    assert lumped == pytest.approx(exact("Holman 4-1")[0], rel=1e-3)
    a, b, b_surface = exact("Holman 4-2")
    step = 250.0 + (35.0 - 250.0) * semi_infinite_surface(0.025, 1.4e-5, 30.0)
    assert step == pytest.approx(a, rel=1e-3)
    assert 35.0 + semi_infinite_flux(3.2e5, 0.025, 1.4e-5, 45.0, 30.0) == pytest.approx(b, rel=1e-3)
    surface = 35.0 + semi_infinite_flux(3.2e5, 0.0, 1.4e-5, 45.0, 30.0)
    assert surface == pytest.approx(b_surface, rel=1e-3)


def test_holman_4_5_to_4_7_aluminium():
    time = exact("Holman 4-5")[0]
    share = semi_infinite_convection(525.0, 0.04, 8.4e-5, 215.0, time)
    assert 200.0 - 130.0 * share == pytest.approx(120.0, abs=0.02)
    Fo, Bi = 8.4e-5 * 60.0 / 0.025**2, 525.0 * 0.025 / 215.0
    T, heat = exact("Holman 4-6")
    assert 70.0 + 130.0 * plane_wall(Bi, Fo, 0.5) == pytest.approx(T, rel=1e-3)
    stored = 2700.0 * 900.0 * 0.05 * 130.0  # the book's rho c, 5 % under its own k/alpha
    assert stored * (1.0 - plane_wall_mean(Bi, Fo)) == pytest.approx(heat, rel=1e-3)
    T, heat = exact("Holman 4-7")
    assert 70.0 + 130.0 * cylinder(Bi, Fo, 0.5) == pytest.approx(T, rel=1e-3)
    stored = 2700.0 * 900.0 * math.pi * 0.025**2 * 130.0
    assert stored * (1.0 - cylinder_mean(Bi, Fo)) == pytest.approx(heat, rel=1e-3)


SLABS = {  # header of two_layer_slab_exact.csv: (thickness, k, rho, cp) inside to outside, h
    "A": (((0.006, 167.0, 2700.0, 896.0), (0.010, 0.6, 1500.0, 1000.0)), 10.0),
    "B": (((0.007, 0.385, 945.0, 1584.0), (0.017, 0.5, 1360.0, 1020.0)), 8.0),
}


@pytest.mark.parametrize(
    "row", read("two_layer_slab_exact.csv"), ids=lambda r: r["case"] + r["t_s"]
)
def test_two_layer_slab_against_the_table(row):
    layers, h = SLABS[row["case"]]
    thickness = layers[0][0]
    depths = {"inner": 0.0, "interface": thickness, "outer": thickness + layers[1][0]}
    for place, x in depths.items():
        theta = two_layer_slab(layers, h, float(row["t_s"]), x)
        assert theta == pytest.approx(float(row[f"theta_{place}"]), abs=2e-6), place


def test_two_layer_slab_of_one_material_is_the_plane_wall():
    half = (0.01, 2.0, 1000.0, 900.0)
    for t in (20.0, 200.0, 2000.0):
        Fo, Bi = 2.0 / (1000.0 * 900.0) * t / 0.02**2, 15.0 * 0.02 / 2.0
        for x in (0.0, 0.01, 0.02):
            both = two_layer_slab((half, half), 15.0, t, x)
            assert both == pytest.approx(plane_wall(Bi, Fo, x / 0.02), abs=1e-10)
