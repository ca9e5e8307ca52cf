"""Wall resistances, circumferential coupling and thermostat cycling against exact solutions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from exact_solutions import multilayer_cylinder, two_part_ring
from reference_rows import book, example
from scipy.integrate import solve_ivp
from scipy.sparse import diags
from scipy.sparse.linalg import spsolve
from verification import Check

from n2osim.errors import InputError
from n2osim.physics.conduction import (
    arc_resistance,
    circumferential_conductance,
    contact_resistance,
    cylinder_resistance,
    film_resistance,
    plane_resistance,
    thermostat_cycle,
)

TOPIC = "Wall"
LAYERS = Check(
    TOPIC,
    "layers of a cylinder in series: heat and face temperatures",
    "Laplace's equation solved as one",
    "exact",
    "1-3 layers, films in and out",
    1e-11,
    seen="exact",
    used="no",
)
RING = Check(
    TOPIC,
    "covered and bare node, coupled: means and flow",
    "fins joined at their edges",
    "exact",
    "aluminium, steel, laminate; coverage 0.1-0.8; films 0.2-3000 W/m2/K",
    1e-9,
    seen="exact",
    used="no",
)
CELLS = Check(
    TOPIC,
    "the exact ring itself",
    "3900 finite volumes",
    "numerical",
    "1.5 W/K",
    1e-6,
    seen="other program",
    used="no",
)
HALVES = Check(
    TOPIC,
    "circumferential conductance without films",
    "6 k t L/(pi r)",
    "exact",
    "coverage 0.05-0.9",
    1e-12,
    seen="exact",
    used="no",
)
CYCLE = Check(
    "Energy, closure and control",
    "thermostat cycle: on, off, duty",
    "closed form",
    "tests/data/transient_conduction_examples.csv",
    "30-32 K",
    1e-4,
    seen="exact",
    used="no",
)
CYCLE_ODE = Check(
    "Energy, closure and control",
    "thermostat cycle: on, off",
    "scipy's solve_ivp with events",
    "numerical",
    "rtol 1e-10",
    1e-7,
    seen="other program",
    used="no",
)


def test_incropera_3_7_plane_layers():
    exact, check = book(TOPIC, "heat_transfer_examples.csv", "Incropera 3.7", "plane layers")
    flux = 1.5e6 * 0.05
    outer = 30.0 + flux * film_resistance(1000.0, 1.0)
    middle = outer + flux * plane_resistance(0.02, 150.0, 1.0)
    inner = middle + 1.5e6 * 0.05**2 / (2.0 * 75.0)
    check.relative((inner, middle, outer), exact)


@pytest.mark.parametrize(
    ("thickness", "k"),
    (
        ((0.009,), (167.0,)),
        ((0.006, 0.010), (167.0, 0.6)),
        ((0.007, 0.017, 0.004), (0.385, 0.5, 0.04)),
    ),
)
def test_layers_in_series_are_the_exact_cylinder(thickness, k):
    """Steady flow and every interface temperature against Laplace's equation solved as one."""
    radii = [0.08]
    for layer in thickness:
        radii.append(radii[-1] + layer)
    h_in, h_out, T_in, T_out, length = 400.0, 10.0, 306.0, 262.0, 0.45
    flow, faces = multilayer_cylinder(radii, list(k), h_in, T_in, h_out, T_out)
    layers = [cylinder_resistance(a, b, kk, length) for a, b, kk in zip(radii, radii[1:], k)]
    first = film_resistance(h_in, 2 * math.pi * radii[0] * length)
    last = film_resistance(h_out, 2 * math.pi * radii[-1] * length)
    heat = (T_in - T_out) / (first + sum(layers) + last)
    assert heat == LAYERS.near(flow * length)
    at_faces = T_in - heat * (first + np.concatenate([[0.0], np.cumsum(layers)]))
    LAYERS.below((at_faces - faces) / (T_in - T_out))


def test_contact_is_a_resistance_over_area():
    assert contact_resistance(2e-4, 0.1) == pytest.approx(2e-3, rel=1e-14)
    assert film_resistance(0.0, 1.0) == math.inf


# --- circumferential coupling --------------------------------------------------------------------

SHELLS = {  # k t [W/K], radius [m], length [m]: 9 mm aluminium, 3 mm steel, 10 mm laminate
    "aluminium": (167.0 * 0.009, 0.085, 0.45),
    "steel": (42.7 * 0.003, 0.085, 0.45),
    "laminate": (4.0 * 0.010, 0.085, 0.45),
}
FILMS = ((410.0, 12.0), (410.0, 410.0), (20.0, 3000.0), (0.5, 0.2))


@pytest.mark.parametrize("shell", SHELLS)
@pytest.mark.parametrize("fraction", (0.1, 0.5, 0.8))
@pytest.mark.parametrize(("h_c", "h_b"), FILMS)
def test_two_nodes_with_the_conductance_are_the_exact_ring(shell, fraction, h_c, h_b):
    """Lumped covered and bare node, coupled by G, have the ring's exact means and flow."""
    kt, radius, length = SHELLS[shell]
    G = circumferential_conductance(kt, radius, length, fraction, h_c, h_b)
    half_c, half_b = fraction * math.pi * radius, (1 - fraction) * math.pi * radius
    q_c, q_b = 3000.0, -40.0
    a_c, a_b = 2 * half_c * length, 2 * half_b * length
    matrix = np.array([[h_c * a_c + G, -G], [-G, h_b * a_b + G]])
    nodes = np.linalg.solve(matrix, [q_c * a_c, q_b * a_b])
    mean_c, mean_b, flow = two_part_ring(kt, half_c, half_b, h_c, h_b, q_c, q_b)
    RING.relative(nodes, [mean_c, mean_b])
    RING.relative(G * (nodes[0] - nodes[1]), 2 * flow * length)


def test_exact_ring_against_a_finite_volume_ring():
    """The closed form that the test above leans on, against 3900 cells, the joint on a face."""
    kt, half_c, half_b, h_c, h_b, q_c, q_b = 1.5, 0.10, 0.16, 410.0, 12.0, 3000.0, -40.0
    n = 3900
    dx = (half_c + half_b) / n
    x = (np.arange(n) + 0.5) * dx
    covered = x < half_c
    h, q = np.where(covered, h_c, h_b), np.where(covered, q_c, q_b)
    link = kt / dx**2
    centre = h + 2 * link
    centre[[0, -1]] -= link
    T = spsolve(diags([-link, centre, -link], [-1, 0, 1], shape=(n, n), format="csc"), q)
    mean_c, mean_b, _ = two_part_ring(kt, half_c, half_b, h_c, h_b, q_c, q_b)
    CELLS.relative((T[covered].mean(), T[~covered].mean()), (mean_c, mean_b))


def test_uniformly_fed_halves():
    """h -> 0: parabolas, 6 k t L/(pi r) between mean temperatures, whatever the fraction."""
    for kt, radius, length in SHELLS.values():
        for fraction in (0.05, 0.3, 0.5, 0.9):
            coupling = circumferential_conductance(kt, radius, length, fraction, 0.0, 0.0)
            parabola = 6.0 * kt * length / (math.pi * radius)
            assert coupling == HALVES.near(parabola)
            weak = circumferential_conductance(kt, radius, length, fraction, 1e-6, 1e-6)
            assert weak == pytest.approx(coupling, rel=1e-6)


def test_arc_resistance_limits_and_series():
    assert arc_resistance(0.1, 2.0, 0.0) == pytest.approx(0.1 / 6.0, rel=1e-14)
    long = arc_resistance(1.0, 0.05, 500.0)  # m s = 100
    assert long == pytest.approx((1.0 - 0.01) / math.sqrt(0.05 * 500.0), rel=1e-12)
    switch = 0.05**2 * 2.0 / 0.1**2  # where the series takes over
    below, above = (arc_resistance(0.1, 2.0, switch * f) for f in (1 - 1e-9, 1 + 1e-9))
    assert below == pytest.approx(above, rel=1e-7)


@pytest.mark.parametrize("fraction", (0.0, 1.0))
def test_nothing_to_couple(fraction):
    assert circumferential_conductance(1.5, 0.085, 0.45, fraction, 400.0, 10.0) == 0.0


# --- thermostat ----------------------------------------------------------------------------------


def test_thermostat_row_of_the_table():
    table = "transient_conduction_examples.csv"
    (t_on, t_off, duty), _ = example(table, "thermostat on-off", "exact")
    found = thermostat_cycle(20000.0, 2.0, 300.0, 0.0, 30.0, 32.0)
    CYCLE.relative(found, (t_on, t_off, duty))


def test_thermostat_against_integration():
    C, UA, q, T_a, lo, hi = 9000.0, 1.3, 180.0, 290.0, 305.0, 306.5
    t_on, t_off, duty = thermostat_cycle(C, UA, q, T_a, lo, hi)

    def run(power, start, target):
        def hit(_t, T):
            return T[0] - target

        hit.terminal = True
        lag = solve_ivp(
            lambda _t, T: (power - UA * (T - T_a)) / C,
            (0.0, 1e5),
            [start],
            events=hit,
            rtol=1e-10,
            atol=1e-10,
        )
        return lag.t_events[0][0]

    assert run(q, lo, hi) == CYCLE_ODE.near(t_on)
    assert run(0.0, hi, lo) == CYCLE_ODE.near(t_off)
    # narrow band: the duty is the loss at the band over the power
    narrow = thermostat_cycle(C, UA, q, T_a, 305.0, 305.001)[2]
    assert narrow == pytest.approx(UA * 15.0005 / q, rel=1e-6)
    assert 0.0 < duty < 1.0


@pytest.mark.parametrize(
    ("change", "words"),
    (
        ({"power": 60.0}, "heater power.*raise the power"),
        ({"ambient": 31.0}, "lower switch point.*ambient"),
        ({"high": 29.0}, "upper switch point"),
        ({"heat_capacity": math.nan}, "heat capacity"),
        ({"loss_conductance": 0.0}, "loss conductance"),
        ({"power": math.nan}, "heater power"),
    ),
)
def test_thermostat_says_what_is_wrong(change, words):
    good = {
        "heat_capacity": 20000.0,
        "loss_conductance": 2.0,
        "power": 300.0,
        "ambient": 0.0,
        "low": 30.0,
        "high": 32.0,
    }
    with pytest.raises(InputError, match=words):
        thermostat_cycle(**(good | change))
