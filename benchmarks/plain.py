"""The plain way: CoolProp in the right-hand side of scipy's solve_ivp, one scenario at a time.

An independent twin of the simulation, for checks and as the yardstick of the benchmarks. It takes
numbers about the hardware and nothing else from n2osim: fluid properties come from CoolProp's
low-level interface, time integration and event location from scipy (BDF for a hold, RK45 or LSODA
for a pass, restarted at every switching and phase change).

It is meant to be as quick as a good user would make it: temperature is the fluid's state, so that
the quick (density, temperature) call serves instead of the slow (density, energy) flash; wall,
heater and films are one constant matrix, handed to BDF as its Jacobian.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

import CoolProp.CoolProp as CP
import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq, minimize_scalar

from benchmarks.stretches import Collector, Result

T_DIFFERENCE = 1e-3
"""K either side of T for the true heat capacity of two phases (CoolProp's own is wrong there)."""


LOWEST_BACK = 92e3
"""Pa: N2O would freeze in the jet below this (triple point 87.8 kPa)."""


@dataclass(frozen=True)
class Problem:
    """One bottle as plain numbers, SI.

    capacity_c, capacity_b (n,) J/K and g_c, g_b (n-1,) W/K: nodes of the covered and the bare
    part of the wall, inside to outside, and conductances between neighbours; cross (n,) W/K
    between the parts. g_in_c, g_in_b: innermost node to fluid; g_contact: heater to outermost
    covered node; loss_heater, loss_bare: to the air, W/K. closes, opens: Pa gauge.
    cda: effective jet area, m2. flow: "spi" or "hem". The pick-up draws vapour below the liquid
    volume fraction pickup_low, liquid from pickup_low + pickup_band on, a share of both between.
    """

    volume: float
    mass: float
    T_start: float
    T_air: float
    p_ambient: float
    power: float
    closes: float
    opens: float
    capacity_c: np.ndarray
    capacity_b: np.ndarray
    g_c: np.ndarray
    g_b: np.ndarray
    cross: np.ndarray
    g_in_c: float
    g_in_b: float
    g_contact: float
    heater_capacity: float
    loss_heater: float
    loss_bare: float
    cda: float = 0.0
    flow: str = "spi"
    pickup_low: float = 0.02
    pickup_band: float = 0.01
    films: Films | None = None
    """Correlations in place of the constant coefficients in g_in and loss, for holds."""


class Films(NamedTuple):
    """Film coefficients as functions, and what lies in series with them.

    inside(T_surface, T, rho, phase, level) and outside(T_surface): W/m2/K; areas m2 (covered,
    bare); half_in: inner half nodes, half_out: heater's cover and bare outer half node, W/K;
    cover_factor on the film of the heater's cover.
    """

    inside: Callable[..., float]
    outside: Callable[[float], float]
    area_in: tuple[float, float]
    area_out: tuple[float, float]
    half_in: tuple[float, float]
    half_out: tuple[float, float]
    cover_factor: float


class Draw(NamedTuple):
    """What flows to the jet, SI."""

    p: float
    rho: float
    h: float
    s: float


class Fluid(NamedTuple):
    """What the balances need to know at one state, SI; u_rho is (du/drho) at constant T."""

    p: float
    u: float
    cv: float
    u_rho: float
    liquid: Draw
    """Saturated liquid, or the one phase there is."""
    vapour: Draw
    level: float
    """Volume fraction of liquid (1 in one phase)."""


class Plain:
    """The right-hand sides of one problem."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.state = CP.AbstractState("HEOS", "NitrousOxide")
        self.line = CP.AbstractState("HEOS", "NitrousOxide")
        self.T_critical = self.state.T_critical()
        self.rho_critical = self.state.rhomass_critical()
        self.flows: dict[str, Callable[[Draw, float], float]] = {"spi": self._spi, "hem": self._hem}
        self.matrix, self.source, self.capacity = exchange(problem)

    # --- fluid ---------------------------------------------------------------------------------
    def fluid(self, rho: float, T: float) -> Fluid:
        """State at rho (kg/m3), T (K); true c_v in two phases."""
        s = self.state
        s.update(CP.DmassT_INPUTS, rho, T)
        if s.phase() != CP.iphase_twophase:
            u_rho = s.first_partial_deriv(CP.iUmass, CP.iDmass, CP.iT)
            whole = Draw(s.p(), rho, s.hmass(), s.smass())
            return Fluid(whole.p, s.umass(), s.cvmass(), u_rho, whole, whole, 1.0)
        p, u = s.p(), s.umass()
        rho_l, u_l, h_l, s_l = map(s.saturated_liquid_keyed_output, _SATURATED)
        rho_v, u_v, h_v, s_v = map(s.saturated_vapor_keyed_output, _SATURATED)
        u_rho = -(u_v - u_l) / (1.0 / rho_v - 1.0 / rho_l) / rho**2
        level = (rho - rho_v) / (rho_l - rho_v)
        cv = self._two_phase_cv(rho, T)
        return Fluid(p, u, cv, u_rho, Draw(p, rho_l, h_l, s_l), Draw(p, rho_v, h_v, s_v), level)

    def _two_phase_cv(self, rho: float, T: float) -> float:
        """By differences of u at constant density, from below alone at the edge of the dome.

        Across it they would mix in the heat capacity of one phase (a sixth, near the critical
        point) and lose some joules at every crossing.
        """
        d = T_DIFFERENCE
        u = []
        for t in (T + d, T - d):
            self.state.update(CP.DmassT_INPUTS, rho, t)
            u.append(self.state.umass())
            if len(u) == 1 and self.state.phase() != CP.iphase_twophase:
                break
        else:
            return (u[0] - u[1]) / (2.0 * d)
        u = []
        for t in (T, T - d, T - 2.0 * d):
            self.state.update(CP.DmassT_INPUTS, rho, t)
            u.append(self.state.umass())
        return (3.0 * u[0] - 4.0 * u[1] + u[2]) / (2.0 * d)

    def heat_capacity(self, rho: float, T: float) -> float:
        """c_v (J/kg/K) alone."""
        self.state.update(CP.DmassT_INPUTS, rho, T)
        if self.state.phase() != CP.iphase_twophase:
            return self.state.cvmass()
        return self._two_phase_cv(rho, T)

    def pressure(self, rho: float, T: float) -> float:
        """Absolute pressure, Pa."""
        self.state.update(CP.DmassT_INPUTS, rho, T)
        return self.state.p()

    def dome_depth(self, rho: float, T: float) -> float:
        """Distance in density from the edge of the two-phase dome, kg/m3, positive inside."""
        if self.T_critical <= T:
            return -abs(rho - self.rho_critical)
        self.line.update(CP.QT_INPUTS, 0.0, T)
        above = self.line.rhomass() - rho
        self.line.update(CP.QT_INPUTS, 1.0, T)
        return min(above, rho - self.line.rhomass())

    # --- flow ----------------------------------------------------------------------------------
    def _spi(self, d: Draw, back: float) -> float:
        """Single-phase incompressible: kg/m2/s."""
        return math.sqrt(2.0 * d.rho * (d.p - back))

    def _hem(self, d: Draw, back: float) -> float:
        """Homogeneous equilibrium: largest flux along the isentrope, kg/m2/s."""

        def flux(p: float) -> float:
            self.line.update(CP.PSmass_INPUTS, p, d.s)
            head = 2.0 * (d.h - self.line.hmass())
            return -self.line.rhomass() * math.sqrt(max(head, 0.0))

        best = minimize_scalar(flux, bounds=(back, d.p), method="bounded", options={"xatol": 50.0})
        return -float(best.fun)

    def outflow(self, f: Fluid) -> tuple[float, float]:
        """Mass flow (kg/s) and the enthalpy it carries (W) through pick-up and jet."""
        p = self.problem
        back = max(p.p_ambient, LOWEST_BACK)
        if f.p <= back:
            return 0.0, 0.0
        share = min(max((f.level - p.pickup_low) / p.pickup_band, 0.0), 1.0)
        share *= share * (3.0 - 2.0 * share)
        mdot = heat = 0.0
        for d, part in ((f.liquid, share), (f.vapour, 1.0 - share)):
            if part > 0.0:
                flow = part * p.cda * self.flows[p.flow](d, back)
                mdot += flow
                heat += flow * d.h
        return mdot, heat

    # --- right-hand sides ------------------------------------------------------------------------
    def see_films(self, rho: float, y: np.ndarray) -> None:
        """Bring the exchange matrix up to date with what the correlations say at this state."""
        p = self.problem
        films = p.films
        if films is None:
            return
        self.state.update(CP.DmassT_INPUTS, rho, y[0])
        two, level = self.state.phase() == CP.iphase_twophase, 1.0
        if two:
            rho_l = self.state.saturated_liquid_keyed_output(CP.iDmass)
            rho_v = self.state.saturated_vapor_keyed_output(CP.iDmass)
            level = (rho - rho_v) / (rho_l - rho_v)
        n = len(p.capacity_c)
        inner = []
        for k, node in enumerate((1, 1 + n)):
            surface = y[node]
            for _ in range(2):  # metal: the half node is nothing against the film
                film = films.inside(surface, y[0], rho, two, level) * films.area_in[k]
                g = 1.0 / (1.0 / films.half_in[k] + 1.0 / film)
                surface = y[node] - g * (y[node] - y[0]) / films.half_in[k]
            inner.append(g)
        outer = []
        for k, (node, factor) in enumerate(((-1, films.cover_factor), (-2, 1.0))):
            film = factor * films.outside(y[node]) * films.area_out[k]
            outer.append(1.0 / (1.0 / films.half_out[k] + 1.0 / film))
        now = replace(p, g_in_c=inner[0], g_in_b=inner[1], loss_heater=outer[0], loss_bare=outer[1])
        self.matrix, self.source, self.capacity = exchange(now)

    def heat_rate(self, y: np.ndarray, power: float) -> np.ndarray:
        """Heat into every node (W): fluid first, heater last."""
        q = self.matrix @ y + self.source
        q[-1] += power
        return q

    def hold(self, y: np.ndarray, power: float, rho: float) -> np.ndarray:
        """dy/dt of a closed bottle."""
        self.see_films(rho, y)
        rates = self.heat_rate(y, power) / self.capacity
        rates[0] /= self.heat_capacity(rho, y[0])
        return rates

    def hold_jacobian(self, y: np.ndarray, rho: float) -> np.ndarray:
        """Its Jacobian (without the slopes of c_v and of the films)."""
        self.see_films(rho, y)
        jacobian = self.matrix / self.capacity[:, None]
        jacobian[0] /= self.heat_capacity(rho, y[0])
        return jacobian

    def draw(self, y: np.ndarray, power: float) -> np.ndarray:
        """dy/dt of a bottle that is drawn from; y[0] is the mass."""
        p = self.problem
        rho = y[0] / p.volume
        f = self.fluid(rho, y[1])
        mdot, carried = self.outflow(f)
        rates = np.empty_like(y)
        rates[0] = -mdot
        q = self.heat_rate(y[1:], power)
        rates[1:] = q / self.capacity
        # m du = Q dt - (h - u) dm, and u = u(T, rho)
        rates[1] = (q[0] - carried + mdot * f.u) / y[0] + f.u_rho * mdot / p.volume
        rates[1] /= f.cv
        return rates


class Splined(Plain):
    """A hold whose isochore is splined once: pressure and c_v over T, either side of the dome."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem)
        rho = problem.mass / problem.volume
        low, high = problem.T_start - 5.0, problem.T_start + 60.0
        self.edge = math.inf
        if self.dome_depth(rho, low) > 0.0 > self.dome_depth(rho, high):
            self.edge = brentq(lambda T: self.dome_depth(rho, T), low, high, xtol=1e-10)
        self.parts = [
            self._spline(rho, np.linspace(*ends, 120)) if ends[1] > ends[0] else None
            for ends in (
                (low, min(self.edge - 1e-6, high)),
                (max(self.edge + 1e-6 if self.edge < high else low, low), high),
            )
        ]

    def _spline(self, rho: float, T: np.ndarray) -> CubicSpline:
        exact = super()
        rows = [(exact.pressure(rho, t), exact.heat_capacity(rho, t)) for t in T]
        return CubicSpline(T, np.array(rows))

    def _at(self, T: float) -> np.ndarray:
        return np.asarray(self.parts[0 if self.edge > T else 1](T))

    def heat_capacity(self, rho: float, T: float) -> float:
        return float(self._at(T)[1])

    def pressure(self, rho: float, T: float) -> float:
        return float(self._at(T)[0])

    def dome_depth(self, rho: float, T: float) -> float:
        if not hasattr(self, "parts"):
            return super().dome_depth(rho, T)
        return min(self.edge, 1e6) - T


_SATURATED = (CP.iDmass, CP.iUmass, CP.iHmass, CP.iSmass)


def exchange(p: Problem) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(matrix W/K, source W, capacity J/K) of the nodes: fluid, covered, bare, heater.

    The fluid's capacity is its mass (its c_v comes from the state).
    """
    n = len(p.capacity_c)
    size = 2 * n + 2
    matrix = np.zeros((size, size))

    def join(i: int, j: int, g: float) -> None:
        matrix[i, i] -= g
        matrix[j, j] -= g
        matrix[i, j] += g
        matrix[j, i] += g

    first_b, heater = 1 + n, size - 1
    join(0, 1, p.g_in_c)
    join(0, first_b, p.g_in_b)
    for k in range(n - 1):
        join(1 + k, 2 + k, p.g_c[k])
        join(first_b + k, first_b + k + 1, p.g_b[k])
    for k in range(n):
        join(1 + k, first_b + k, p.cross[k])
    join(n, heater, p.g_contact)
    source = np.zeros(size)
    for node, g in ((heater, p.loss_heater), (heater - 1, p.loss_bare)):
        matrix[node, node] -= g
        source[node] = g * p.T_air
    capacity = np.concatenate([[p.mass], p.capacity_c, p.capacity_b, [p.heater_capacity]])
    return matrix, source, capacity


def hold(
    problem: Problem,
    duration: float,
    rtol: float = 1e-5,
    atol: float = 1e-6,
    at: np.ndarray | None = None,
    start: np.ndarray | None = None,
    method: str = "BDF",
    kind: type[Plain] = Plain,
) -> Result:
    """Hold on the switch for ``duration`` (s), restarted at every switching.

    ``at``: times for the answer's rows instead of the steps taken; ``start``: temperatures
    instead of T_start everywhere. ``kind``: where the fluid's properties come from.
    """
    plain = kind(problem)
    rho = problem.mass / problem.volume
    n = len(plain.capacity)
    y = np.full(n, problem.T_start) if start is None else np.array(start, float)

    def gauge(_t: float, y: np.ndarray) -> float:
        return (plain.pressure(rho, y[0]) - problem.p_ambient) / 1e5

    def depth(_t: float, y: np.ndarray) -> float:
        return plain.dome_depth(rho, y[0])

    on = gauge(0.0, y) * 1e5 <= problem.closes
    two_phase = _is_two_phase(plain, rho, y[0])
    result = Collector(at)
    result.events = [(0.0, "on")] if on else []
    t = 0.0
    while t < duration:
        limit = (problem.opens if on else problem.closes) / 1e5
        power = problem.power if on else 0.0
        done = solve_ivp(
            lambda _t, y, power=power: plain.hold(y, power, rho),
            (t, duration),
            y,
            method=method,
            rtol=rtol,
            atol=atol,
            jac=lambda _t, y: plain.hold_jacobian(y, rho),
            events=[
                _event(lambda t, y, limit=limit: gauge(t, y) - limit, 1 if on else -1),
                _event(depth, -1 if two_phase else 1),
            ],
            dense_output=at is not None,
        )
        t, y = result.add(done)
        if len(done.t_events[0]):
            on = not on
            result.events.append((t, "on" if on else "off"))
        elif len(done.t_events[1]):
            two_phase = not two_phase
            result.events.append((t, "saturated" if two_phase else "one phase"))
    return result.finish(lambda y: plain.pressure(rho, y[0]))


def draw(
    problem: Problem,
    duration: float,
    rtol: float = 1e-5,
    atol: float = 1e-6,
    at: np.ndarray | None = None,
    start: np.ndarray | None = None,
    method: str = "RK45",
) -> Result:
    """Draw for ``duration`` (s) with the heater off, restarted at phase changes.

    ``start``: [mass, temperatures] instead of the problem's.
    """
    plain = Plain(problem)
    n = len(plain.capacity)
    y = np.concatenate([[problem.mass], np.full(n, problem.T_start)]) if start is None else start
    volume = problem.volume

    def depth(_t: float, y: np.ndarray) -> float:
        return plain.dome_depth(y[0] / volume, y[1])

    result = Collector(at)
    t = 0.0
    two_phase = _is_two_phase(plain, y[0] / volume, y[1])
    while t < duration:
        done = solve_ivp(
            lambda _t, y: plain.draw(y, 0.0),
            (t, duration),
            y,
            method=method,
            rtol=rtol,
            atol=atol,
            dense_output=at is not None,
            events=[_event(depth, -1 if two_phase else 1)],
        )
        t, y = result.add(done)
        if len(done.t_events[0]):
            two_phase = not two_phase
            result.events.append((t, "saturated" if two_phase else "one phase"))
            if two_phase:
                # Stand just inside: on the line itself there is no liquid yet to draw.
                y[1] -= 1e-7
    return result.finish(lambda y: plain.pressure(y[0] / volume, y[1]))


def _is_two_phase(plain: Plain, rho: float, T: float) -> bool:
    plain.state.update(CP.DmassT_INPUTS, rho, T)
    return bool(plain.state.phase() == CP.iphase_twophase)


def _event(function: Callable[..., float], direction: int) -> Callable[..., float]:
    function_with_marks = lambda t, y: function(t, y)  # noqa: E731 - marks need a fresh function
    function_with_marks.terminal = True  # type: ignore[attr-defined]
    function_with_marks.direction = direction  # type: ignore[attr-defined]
    return function_with_marks
