"""Runs whose course is known exactly: warm-up, a linear wall with heater, gas through a jet.

- One body: dT/dt = (P - UA (T - T_air))/C gives T_air + P/UA (1 - exp(-t/tau)).
- Wall with heater, constant coefficients, adiabatic fluid: a linear system, solved with the matrix
  exponential (scipy) of the conductances and capacities of Bottle.wall_network.
- Near-ideal gas through a choked jet: flux = p g(T) with g from the ideal isentrope of CoolProp's
  cp0(T) (Lemmon & Span 2006); at constant temperature m = m0 exp(-t/tau), without heat the time is
  a quadrature along the isentrope. The gas is real, so the departure is extrapolated to none.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from check_cases import ATM, NO_HEAT, bare_heater, lumped, prop, scenario, warm_day
from scipy.integrate import quad
from scipy.linalg import expm
from scipy.optimize import brentq, minimize_scalar
from verification import Check

from n2osim import simulate
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.feed import Feed
from n2osim.hardware.heater import Heater
from n2osim.hardware.jets import Jets
from n2osim.results.run import Run
from n2osim.scenario.scenario import Model, Mounting
from n2osim.scenario.schedule import Pass, Rest

WARM_UP = Check(
    "Energy, closure and control",
    "warm-up of a lumped body",
    "T_air + P/UA (1 - exp(-t/tau))",
    "exact",
    "default tolerance, 34 K in 4 h",
    1e-3,
    "K",
    seen="exact",
    used="no",
)
NETWORK = Check(
    "Wall",
    "layered wall with heater: every node and the heater",
    "matrix exponential",
    "exact; scipy's expm",
    "four shells, 300 W for 5 min, off for 15 min; default tolerance",
    0.02,
    "K",
    seen="exact",
    used="no",
)
TOPIC = "Discharge of a bottle"
ISOTHERMAL = Check(
    TOPIC,
    "gas through a choked jet at constant temperature: rate constant, extrapolated to no density",
    "ideal gas with cp(T)",
    "exact limit",
    "300 K, 3-12 bar",
    1e-3,
    "%",
    seen="exact",
    used="no",
)
ADIABATIC = Check(
    TOPIC,
    "gas through a choked jet without heat: time to 75 %, extrapolated to no density",
    "ideal gas with cp(T), quadrature",
    "exact limit",
    "300 K, 3-12 bar",
    1e-3,
    "%",
    seen="exact",
    used="no",
)
AIR = 293.15
R = 8.314462618 / 44.0128e-3  # J/kg/K


# --- heat --------------------------------------------------------------------------------------
def test_warm_up_of_one_body() -> None:
    C, UA, power = 20e3, 2.0, 90.0
    run = simulate(
        scenario(
            lumped(8e-3, 100.0, area=1.0),
            1.0,
            AIR,
            ambient=warm_day(AIR),
            heater=bare_heater(power, heat_capacity=C - 100.0),
            schedule=[Rest("4 h", heater=True)],
            model=Model(inside_coefficient=0.0, outside_coefficient=UA, nodes_per_layer=1),
        )
    )
    exact = AIR + power / UA * (1.0 - np.exp(-run.time * UA / C))
    assert exact[-1] - AIR > 30.0
    WARM_UP.absolute(run["heater_temperature_K"][0], exact)


def heated(bottle: Bottle) -> Run:
    return simulate(
        scenario(
            bottle,
            1.0,
            AIR,
            ambient=warm_day(AIR),
            heater=Heater("300 W"),
            schedule=[Rest("5 min", heater=True), Rest("15 min")],
            model=Model(inside_coefficient=0.0, outside_coefficient=10.0),
        )
    )


def linear_system(run: Run) -> tuple[np.ndarray, np.ndarray]:
    """(A, b) of dx/dt = A x + b on_off; x: excess over air of covered, bare nodes and heater."""
    fitted = run.scenario.bottles[0]
    heater = fitted.heater
    net = fitted.bottle.wall_network(4, heater.coverage)
    n = len(net.covered.capacity)
    links = [(k, k + 1, net.covered.conductance[k]) for k in range(n - 1)]
    links += [(n + k, n + k + 1, net.bare.conductance[k]) for k in range(n - 1)]
    links += [(k, n + k, net.cross[k]) for k in range(n)]
    area = net.covered.outer_area
    contact = heater.contact_conductance(area)
    links.append((n - 1, 2 * n, 1.0 / (1.0 / contact + 1.0 / net.covered.outer_conductance)))
    capacity = np.concatenate([net.covered.capacity, net.bare.capacity, [heater.heat_capacity]])
    A = np.zeros((2 * n + 1, 2 * n + 1))
    for i, j, g in links:
        A[i, [i, j]] += -g, g
        A[j, [j, i]] += -g, g
    film = 10.0
    A[2 * n, 2 * n] -= 1.0 / (heater.cover_resistance / area + 1.0 / (film * area))
    bare = net.bare.outer_area * film
    A[2 * n - 1, 2 * n - 1] -= 1.0 / (1.0 / bare + 1.0 / net.bare.outer_conductance)
    source = np.zeros(2 * n + 1)
    source[2 * n] = heater.power
    return A / capacity[:, None], source / capacity


@pytest.mark.parametrize("shell", ["aluminium", "steel", "carbon-aluminium", "carbon-polymer"])
def test_wall_with_heater_is_the_matrix_exponential(shell: str) -> None:
    run = heated(Bottle.preset(shell, "12 lb"))
    A, b = linear_system(run)
    size = len(b)
    whole = np.zeros((size + 1, size + 1))
    whole[:size, :size], whole[:size, size] = A, b
    walls, heater = run["wall_temperature_K"][0], run["heater_temperature_K"][0]
    warm = expm(300.0 * whole)[:size, size]
    for k, t in enumerate(run.time):
        x = expm(t * whole)[:size, size] if t <= 300.0 else expm((t - 300.0) * A) @ warm
        found = np.concatenate([walls[0, :, k], walls[1, :, k], [heater[k]]]) - AIR
        NETWORK.absolute(found, x)
    assert warm[-1] > 15.0


# --- gas ---------------------------------------------------------------------------------------
def cp0(T: float) -> float:
    """Ideal-gas heat capacity, J/kg/K."""
    return prop("Cp0mass", "T", T, "Dmass", 0.01)


TABLE_T = np.linspace(180.0, 310.0, 131)
ENTHALPY = np.array([quad(cp0, 180.0, T)[0] for T in TABLE_T])
ENTROPY = np.array([quad(lambda t: cp0(t) / t, 180.0, T)[0] for T in TABLE_T])


def flux_per_pressure(T0: float) -> float:
    """Choked flux of the ideal gas over its pressure, s/m."""

    def flux(T: float) -> float:
        ds = np.interp(T0, TABLE_T, ENTROPY) - np.interp(T, TABLE_T, ENTROPY)
        dh = np.interp(T0, TABLE_T, ENTHALPY) - np.interp(T, TABLE_T, ENTHALPY)
        return math.exp(-ds / R) / (R * T) * math.sqrt(2.0 * max(dh, 0.0))

    best = minimize_scalar(lambda T: -flux(T), bounds=(0.75 * T0, T0), method="bounded")
    return -float(best.fun)


def through_a_jet(p0: float, duration: float, model: Model, capacity: float) -> Run:
    volume, area = 8e-3, 1e-6
    return simulate(
        scenario(
            lumped(volume, capacity, area=10.0),
            prop("Dmass", "T", 300.0, "P", p0) * volume,
            300.0,
            feed=Feed(Jets.effective(area), model="hem"),
            schedule=[Pass(duration)],
            model=model,
            mounting=Mounting(draw="vapour"),
        )
    )


def extrapolated(values: list[float], pressures: tuple[float, ...]) -> float:
    """What the ratios found tend to as the pressure goes to nothing."""
    return float(np.polyfit(pressures, values, 2)[-1])


PRESSURES = (3e5, 6e5, 12e5)


def test_isothermal_discharge_of_dilute_gas() -> None:
    """m = m0 exp(-t/tau), tau = V/(A R T g)."""
    tau = 8e-3 / (1e-6 * R * 300.0 * flux_per_pressure(300.0))
    perfect = Model(inside_coefficient=1e6, outside_coefficient=0.0, nodes_per_layer=1)
    ratios = []
    for p0 in PRESSURES:
        run = through_a_jet(p0, 0.3 * tau, perfect, 1e6)
        T, m = run["fluid_temperature_K"][0, 0], run["mass_kg"][0]
        assert np.ptp(T) < 2e-2 and run["pressure_Pa"][0, -1] > 2.0 * ATM
        ratios.append(math.log(m[0] / m[-1]) / 0.3)
    print("rate over the ideal one:", ratios)
    assert abs(ratios[0] - 1.0) < 0.03
    ISOTHERMAL.relative(extrapolated(ratios, PRESSURES), 1.0)


def test_adiabatic_discharge_of_dilute_gas() -> None:
    """dt = -dm/(A p g(T)), m/m0 = exp of the entropy that cooling at constant volume gives up."""

    def left(T: float) -> float:
        ds = np.interp(T, TABLE_T, ENTROPY) - np.interp(300.0, TABLE_T, ENTROPY)
        return math.exp(ds / R) * 300.0 / T

    T_end = brentq(lambda T: left(T) - 0.75, 200.0, 300.0)
    per_dT = lambda T: (cp0(T) - R) / (R * T) / (R * T * flux_per_pressure(T))  # noqa: E731
    exact = 8e-3 / 1e-6 * quad(per_dT, T_end, 300.0, epsrel=1e-6)[0]
    ratios = []
    for p0 in PRESSURES:
        run = through_a_jet(p0, 1.2 * exact, NO_HEAT, 1e3)
        m = run["mass_kg"][0]
        at = float(np.interp(-math.log(0.75), -np.log(m / m[0]), run.time))
        ratios.append(at / exact)
    print("time over the ideal one:", ratios)
    assert abs(ratios[0] - 1.0) < 0.03
    ADIABATIC.relative(extrapolated(ratios, PRESSURES), 1.0)
