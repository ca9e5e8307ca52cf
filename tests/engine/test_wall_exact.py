"""The wall, run through simulate(), against exact solutions with convection.

A plane wall is a shell of radius 0.5 m made so thin (layers 350 times thinner, conductivity and
density scaled to keep every Fourier and Biot number) that it is 3e-4 of its radius at most. The
fluid is adiabatic (inside coefficient 0), the outside coefficient constant, both parts alike.

Sources: series solutions in tests/physics/exact_solutions.py (Incropera ch. 5; eigenfunctions of
the two-layer slab); worked examples Incropera 5.4 and Holman 4-6 with the exact values of
tests/data/transient_conduction_examples.csv; tests/data/two_layer_slab_exact.csv.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from check_cases import plane_wall, scenario, warm_day
from verification import Check

from n2osim import simulate
from n2osim.results.run import Run
from n2osim.scenario.scenario import Model, Numerics
from n2osim.scenario.schedule import Rest

sys.path.append(str(Path(__file__).resolve().parents[1] / "physics"))
from exact_solutions import plane_wall as exact_plane_wall
from exact_solutions import plane_wall_mean, two_layer_slab

Layers = list[tuple[float, float, float, float]]
SLAB_A: Layers = [(6e-3, 167.0, 2700.0, 896.0), (10e-3, 0.6, 1500.0, 1000.0)]
SLAB_B: Layers = [(7e-3, 0.385, 945.0, 1584.0), (17e-3, 0.5, 1360.0, 1020.0)]
# Incropera 5.4 (p. 278): pipe wall, insulated inside, warm oil outside as h = 500 W/m2/K
PIPE: Layers = [(0.04, 63.9, 7832.0, 434.0)]

TOPIC, BOOK = "Wall", "tests/data/transient_conduction_examples.csv"
SERIES = Check(
    TOPIC,
    "plane wall, run: node temperatures (of the step)",
    "series solution",
    "Incropera ch. 5, plane wall with convection",
    "32 nodes, Fo 0.7, 5.6",
    1e-4,
    "K/K",
    seen="exact",
    used="no",
)
BOOK_5_4 = Check(
    TOPIC,
    "plane wall, run: flux and heat",
    "worked example Incropera 5.4",
    BOOK,
    "exact values",
    1e-3,
    "%",
    seen="companion",
    used="no",
)
BOOK_5_4_T = Check(
    TOPIC,
    "plane wall, run: temperature",
    "worked example Incropera 5.4, 43.02 C",
    BOOK,
    "exact values",
    0.01,
    "K",
    seen="companion",
    used="no",
)
BOOK_4_6 = Check(
    TOPIC,
    "plane wall, run: temperature",
    "worked example Holman 4-6, 150.44 degC",
    BOOK,
    "exact values",
    0.01,
    "K",
    seen="companion",
    used="no",
)
SLAB = Check(
    TOPIC,
    "two-layer slab, run: node temperatures (of the step)",
    "eigenfunctions",
    "exact",
    "24 nodes a layer, metal and polymer liners",
    2e-4,
    "K/K",
    seen="exact",
    used="no",
)
TABLE = Check(
    TOPIC,
    "two-layer slab, run: inner face and interface (of the step)",
    "table",
    "tests/data/two_layer_slab_exact.csv",
    "the same",
    2e-4,
    "K/K",
    seen="other program",
    used="no",
)
FACE = Check(
    TOPIC,
    "two-layer slab, run: outer face (of the step)",
    "table",
    "tests/data/two_layer_slab_exact.csv",
    "the same",
    5e-4,
    "K/K",
    seen="other program",
    used="no",
)
NODES = Check(
    "Order of the integrator",
    "wall nodes: observed order",
    "2",
    "finite volumes",
    "4, 8, 16, 32 nodes; what they tend to is the series",
    0.02,
    "orders",
    seen="exact",
    used="no",
)


def transient(layers: Layers, h: float, T0: float, air: float, t: float, nodes: int) -> Run:
    """Wall at T0 (K), suddenly in air; tight time integration."""
    return simulate(
        scenario(
            plane_wall(layers),
            100.0,
            290.0,
            wall_start=T0,
            ambient=warm_day(air),
            schedule=[Rest(t)],
            numerics=Numerics(tolerance=1e-3),
            model=Model(inside_coefficient=0.0, outside_coefficient=h, nodes_per_layer=nodes),
        )
    )


def theta_nodes(run: Run, T0: float, air: float) -> np.ndarray:
    """(T - T_air)/(T0 - T_air) of the nodes at the end; both parts must agree."""
    nodes = run["wall_temperature_K"][0, :, :, -1]
    np.testing.assert_allclose(nodes[0], nodes[1], atol=1e-3 * abs(T0 - air))
    return (nodes[1] - air) / (T0 - air)


def centres(layers: Layers, nodes: int) -> np.ndarray:
    """Depths of the nodes, m."""
    out: list[float] = []
    depth = 0.0
    for thickness, *_ in layers:
        out += [depth + (k + 0.5) * thickness / nodes for k in range(nodes)]
        depth += thickness
    return np.array(out)


def outer_face(theta: float, layers: Layers, h: float, nodes: int) -> float:
    """theta of the outer face, behind half a node, from that of the outermost node."""
    thickness, k = layers[-1][:2]
    return theta / (1.0 + h * 0.5 * thickness / nodes / k)


@pytest.mark.parametrize("t", [60.0, 480.0])
def test_plane_wall_against_the_series(t: float) -> None:
    (thickness, k, rho, cp), h, T0, air = PIPE[0], 500.0, 273.15 - 20.0, 273.15 + 60.0
    theta = theta_nodes(transient(PIPE, h, T0, air, t, 32), T0, air)
    fourier = k / (rho * cp) * t / thickness**2
    exact = [exact_plane_wall(h * thickness / k, fourier, x / thickness) for x in centres(PIPE, 32)]
    SERIES.absolute(theta, exact)


def test_incropera_5_4() -> None:
    """Outer face 43.02 degC, flux -7318 W/m2, heat -2.725e7 J per metre of pipe of 1 m diameter."""
    h, T0, air, t = 500.0, 273.15 - 20.0, 273.15 + 60.0, 480.0
    run = transient(PIPE, h, T0, air, t, 32)
    theta = theta_nodes(run, T0, air)
    # The insulated face is the outer one of the pipe in the book: the node there is within 1e-4.
    inner = theta[0] * (T0 - air) + air - 273.15
    BOOK_5_4_T.absolute(inner, 43.02)
    area = float(run.scenario.bottles[0].bottle.outer_area)
    BOOK_5_4.relative(run["loss_W"][0, -1] / area, -7318.0)
    heat = run["heat_loss_J"][0, -1] / area * np.pi * 1.0
    BOOK_5_4.relative(heat, -2.725e7)


def test_holman_4_6() -> None:
    """Aluminium plate 2L = 5 cm from 200 to 70 degC, h = 525: 150.44 degC at x/L = 0.5, 60 s."""
    layers: Layers = [(0.025, 215.0, 2700.0, 215.0 / 8.4e-5 / 2700.0)]
    # Air is at most 60 degC in a scenario: the problem is linear, so it is shifted by 50 K.
    theta = theta_nodes(transient(layers, 525.0, 423.15, 293.15, 60.0, 32), 423.15, 293.15)
    middle = 0.5 * (theta[15] + theta[16]) * 130.0 + 70.0
    BOOK_4_6.absolute(middle, 150.44)
    lost = 1.0 - theta.mean()
    fourier = 8.4e-5 * 60.0 / 0.025**2
    assert lost == pytest.approx(1.0 - plane_wall_mean(525 * 0.025 / 215.0, fourier), abs=2e-4)
    # The book's heat is with rho cp = 2700 * 900, which is not its k/alpha.
    assert 2.0 * lost * 130.0 * 0.025 * 2700.0 * 900.0 == pytest.approx(6.046e6, rel=1e-3)


@pytest.mark.parametrize(("case", "layers", "h"), [("A", SLAB_A, 10.0), ("B", SLAB_B, 8.0)])
def test_two_layer_slab(case: str, layers: Layers, h: float) -> None:
    table = [r for r in _slab_rows() if r[0] == case]
    for _, t, inner, interface, outer in table:
        theta = theta_nodes(transient(layers, h, 350.0, 300.0, t, 24), 350.0, 300.0)
        exact = [two_layer_slab((layers[0], layers[1]), h, t, x) for x in centres(layers, 24)]
        SLAB.absolute(theta, exact)
        TABLE.absolute(theta[0], inner)
        FACE.absolute(outer_face(theta[-1], layers, h, 24), outer)
        left, right = theta[23], theta[24]  # half a node either side of the interface
        r_left, r_right = (layers[i][0] / layers[i][1] for i in (0, 1))
        at_interface = left + (right - left) * r_left / (r_left + r_right)
        TABLE.absolute(at_interface, interface)


def test_second_order_in_nodes() -> None:
    """Differences fall fourfold when nodes double, and what they fall to is the series."""
    (thickness, k, rho, cp), h, T0, air, t = SLAB_B[1], 8.0, 350.0, 300.0, 600.0
    layers: Layers = [(thickness, k, rho, cp)]
    fourier = k / (rho * cp) * t / thickness**2
    exact = plane_wall_mean(h * thickness / k, fourier)
    means = [
        float(theta_nodes(transient(layers, h, T0, air, t, n), T0, air).mean())
        for n in (4, 8, 16, 32)
    ]
    assert means[0] == pytest.approx(exact, abs=1e-3)
    assert means[-1] == pytest.approx(exact, abs=5e-5)
    steps = np.diff(means)
    NODES.absolute(np.log2(steps[:-1] / steps[1:]), 2.0)


def _slab_rows() -> list[tuple[str, float, float, float, float]]:
    import csv

    from check_cases import DATA

    with (DATA / "two_layer_slab_exact.csv").open(encoding="utf-8", newline="") as stream:
        table = csv.DictReader(line for line in stream if not line.startswith("#"))
        return [
            (
                r["case"],
                float(r["t_s"]),
                float(r["theta_inner"]),
                float(r["theta_interface"]),
                float(r["theta_outer"]),
            )
            for r in table
        ]
