"""Pipe loss against Darcy-Weisbach, the `fluids` library and exact limits."""

from __future__ import annotations

import math

import CoolProp.CoolProp as CP
import fluids
import numpy as np
import pytest
from pipe_reference import choked_flux
from scipy.integrate import quad, solve_ivp
from verification import Check

from n2osim.fluid.flash import state_ph, state_pT
from n2osim.fluid.saturation import sat
from n2osim.fluid.state import state_Trho
from n2osim.fluid.transport import viscosity
from n2osim.physics import line

TOPIC = "Lines and feed"
FRICTION = Check(
    TOPIC,
    "friction factor",
    "`fluids`: Colebrook solved",
    "Serghides 1984",
    "Re 4001-1e8, roughness 0-0.01",
    1e-4,
    "%",
    seen="other program",
    used="no",
)
DARCY = Check(
    TOPIC,
    "pressure loss of liquid",
    "Darcy-Weisbach with `fluids`' friction factor",
    "`fluids`",
    "120 bar, 280 K; density changes a little",
    1e-3,
    "%",
    seen="other program",
    used="no",
)
MCADAMS = Check(
    TOPIC,
    "two-phase viscosity",
    "`fluids`: McAdams",
    "McAdams 1942",
    "290 K, x 0.3",
    1e-12,
    seen="same formula",
    used="no",
)
MOMENTUM = Check(
    TOPIC,
    "pressure loss, flashing and two-phase",
    "momentum balance with CoolProp, scipy's solve_ivp",
    "numerical, rtol 1e-7",
    "6 inlets, 80 % of choked flow",
    2e-4,
    "%",
    seen="other program",
    used="no",
)
CHOKED = Check(
    TOPIC,
    "choked flux of a pipe",
    "largest of all outlet pressures, CoolProp and scipy",
    "numerical",
    "6 inlets",
    5e-4,
    "%",
    seen="other program",
    used="no",
)
GAS = Check(
    TOPIC,
    "pressure drop of dilute gas in a pipe",
    "isothermal closed form",
    "exact limit",
    "450 K, 1.3 bar",
    2e-4,
    "%",
    seen="exact",
    used="no",
)
FLASH = Check(
    TOPIC,
    "flash pressure of an enthalpy",
    "CoolProp",
    "Lemmon & Span 2006",
    "200-309.4 K",
    1e-6,
    seen="same formula",
    used="no",
)
INTEGRAL = Check(
    TOPIC,
    "density integral along a pipe",
    "scipy's quad",
    "numerical",
    "subcooled",
    1e-8,
    seen="other program",
    used="no",
)


@pytest.mark.parametrize("roughness", [0.0, 1e-6, 1e-4, 1e-2])
@pytest.mark.parametrize("Re", [4001.0, 1e4, 1e5, 1e6, 1e8])
def test_friction_factor_is_colebrooks(Re, roughness):
    """`fluids` solves Colebrook's equation itself (Clamond); Serghides follows within 0.003 %."""
    exact = fluids.friction.Colebrook(Re, roughness)
    FRICTION.relative(line.friction_factor(Re, roughness), exact)


def test_friction_factor_laminar_and_continuous():
    assert line.friction_factor(1000.0, 1e-3) == pytest.approx(fluids.friction_factor(1000.0, 1e-3))
    for Re in (2000.0, 4000.0):
        a, b = line.friction_factor(Re * (1 - 1e-9), 1e-3), line.friction_factor(Re, 1e-3)
        assert a == pytest.approx(b, rel=1e-6)


def subcooled() -> tuple[float, float, float, float]:
    """(p, T, rho, h) of liquid far from flashing."""
    p, T = 120e5, 280.0
    rho = state_pT(p, T)[1]
    return p, T, rho, state_Trho(T, rho)[2]


def test_liquid_loss_is_darcy_weisbach():
    """Liquid that does not flash: dp = (f L/D + K) rho V^2/2 with the friction factor of `fluids`.

    0.3 %: the density changes a little along the pipe, Darcy-Weisbach's does not.
    """
    p, T, rho, h = subcooled()
    length, bore, rough, K, mdot = 4.0, 5.6e-3, 1.5e-6, 3.0, 0.06
    area = math.pi / 4.0 * bore**2
    V = mdot / (rho * area)
    f = fluids.friction_factor(V * bore * rho / viscosity(T, rho), rough / bore)
    expected = (f * length / bore + K) * rho * V**2 / 2.0
    N = line.loss_number(mdot, p, h, area, length, bore, rough, K)
    p2, possible = line.outlet_pressure(mdot / area, p, h, N)
    assert possible == 1.0
    DARCY.relative(p - p2, expected)
    one_phase = fluids.one_phase_dP(mdot, rho, viscosity(T, rho), bore, rough, length)
    N = line.loss_number(mdot, p, h, area, length, bore, rough, 0.0)
    p2 = line.outlet_pressure(mdot / area, p, h, N)[0]
    DARCY.relative(p - p2, one_phase)


def test_two_phase_viscosity_is_mcadams():
    T, x = 290.0, 0.3
    _p, rho_l, rho_v = sat(T)[:3]
    rho = 1.0 / ((1 - x) / rho_l + x / rho_v)
    expected = fluids.gas_liquid_viscosity(
        x=x, mul=viscosity(T, rho_l), mug=viscosity(T, rho_v), Method="McAdams"
    )
    MCADAMS.relative(line.mixture_viscosity(T, rho, x), expected)
    assert line.mixture_viscosity(T, rho_l, 0.0) == viscosity(T, rho_l)


def states() -> list[tuple[str, float, float]]:
    q = sat(300.0)
    p, _T, _rho, h = subcooled()
    warm = state_Trho(300.0, state_pT(100e5, 300.0)[1])[2]
    return [
        ("subcooled", p, h),
        ("flashing on the way", 100e5, warm),
        ("saturated", q[0], q[5]),
        ("two-phase", q[0], q[5] + 0.2 * (q[6] - q[5])),
        ("vapour", q[0], q[6]),
        ("supercritical", 90e5, 3.2e5),
    ]


@pytest.mark.parametrize(("name", "p1", "h"), states())
def test_outlet_pressure_satisfies_the_momentum_balance(name, p1, h):
    """dp/dz = -G^2 (v N/(2 L) + dv/dz) integrated along the pipe with CoolProp densities."""
    N = 8.0
    G = 0.8 * choked_flux(p1, h, N, line.flash_pressure(h))[0]
    p2, possible = line.outlet_pressure(G, p1, h, N)
    assert possible == 1.0
    fluid = CP.AbstractState("HEOS", "NitrousOxide")

    def volume(p: float) -> float:
        fluid.update(CP.HmassP_INPUTS, h, p)
        return 1.0 / fluid.rhomass()

    def slope(z: float, y: np.ndarray) -> list[float]:
        v = volume(y[0])
        dvdp = (volume(y[0] * (1 + 1e-6)) - volume(y[0] * (1 - 1e-6))) / (2e-6 * y[0])
        return [-0.5 * G * G * v * N / (1.0 + G * G * dvdp)]

    end = solve_ivp(slope, (0.0, 1.0), [p1], method="RK45", rtol=1e-7, max_step=0.01).y[0, -1]
    MOMENTUM.relative(p1 - p2, p1 - end)


@pytest.mark.parametrize(("name", "p1", "h"), states())
def test_choked_pipe(name, p1, h):
    """More than the most that any outlet pressure passes has no outlet pressure, less has one."""
    N = 8.0
    most, _end = choked_flux(p1, h, N, line.flash_pressure(h))
    low, high = 0.9 * most, 1.1 * most
    assert line.outlet_pressure(low, p1, h, N)[1] == 1.0
    assert line.outlet_pressure(high, p1, h, N)[1] == 0.0
    for _ in range(30):
        middle = 0.5 * (low + high)
        possible = line.outlet_pressure(middle, p1, h, N)[1] == 1.0
        low, high = (middle, high) if possible else (low, middle)
    CHOKED.relative(low, most)


def test_dilute_gas_pipe_is_the_isothermal_one():
    """Ideal gas at constant enthalpy is isothermal: G^2 = (p1^2-p2^2)/(RT)/(N + 2 ln(p1/p2))."""
    p1, T, N = 1.3e5, 450.0, 30.0
    rho = state_pT(p1, T)[1]
    h = state_Trho(T, rho)[2]
    p2 = 1.05e5
    RT = p1 / rho
    G = math.sqrt((p1**2 - p2**2) / RT / (N + 2.0 * math.log(p1 / p2)))
    GAS.relative(p1 - line.outlet_pressure(G, p1, h, N)[0], p1 - p2)


def test_flash_pressure():
    """Where liquid of an enthalpy starts to boil, from CoolProp; none for superheated vapour."""
    fluid = CP.AbstractState("HEOS", "NitrousOxide")
    for T in (200.0, 281.0, 305.0, 309.4):
        fluid.update(CP.QT_INPUTS, 0, T)
        FLASH.relative(line.flash_pressure(fluid.hmass()), fluid.p())
    assert line.flash_pressure(6e5) == 0.0


def test_density_integral():
    p, _T, _rho, h = subcooled()
    exact = quad(lambda q: state_ph(q, h)[1], 0.7 * p, p)[0]
    INTEGRAL.relative(line.density_integral(0.7 * p, p, h), exact)


def test_no_flow_no_loss():
    p, _T, _rho, h = subcooled()
    assert line.outlet_pressure(0.0, p, h, 10.0) == (p, 1.0)
