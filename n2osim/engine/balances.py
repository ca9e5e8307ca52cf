"""Right-hand side of the balances: mass, energy, wall and heater temperatures, sensor, air.

``rates`` fills ``f = dy/dt`` and ``out`` (everything a reader of the run wants to know about that
instant, and the exchange conductances that the implicit step linearises with).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.films import NO_PLACE, film_place, inside_film, outside_film
from n2osim.engine.fluid_node import equilibrium_state, shut
from n2osim.engine.outflow import corner_after, total_outflow
from n2osim.engine.zones import zone_rates, zone_state
from n2osim.fluid.equation_of_state import P_CRITICAL
from n2osim.fluid.saturation import dpdT_sat
from n2osim.hardware.geometry import free_surface_area, wetted_fraction
from n2osim.jit import leaf
from n2osim.physics.boiling import P_R_DATA
from n2osim.physics.radiation import radiation_coefficient, radiation_steepness

# Half node over film resistance below which the surface is at the node's temperature. Where boiling
# begins a hundredth of the difference is a tenth of the coefficient.
_THIN = 1e-3
# How near ln s of a surface must be to be taken at the first look and for its last correction;
# behind little resistance the one is as good as the other.
_THERE, _NEAR, _METAL = 1e-6, 1e-4, 0.1


class Setup(NamedTuple):
    """Arrays that describe one run; see :mod:`n2osim.engine.layout`."""

    whole: np.ndarray
    bottles: np.ndarray
    wall: np.ndarray
    segments: np.ndarray
    stages: np.ndarray
    feeds: np.ndarray
    tables: np.ndarray
    maps: np.ndarray
    ambient: np.ndarray


@leaf
def ambient_temperature(whole, ambient, t):
    """Air temperature (K) at run time ``t`` (s): constant, table over the clock, or day/night."""
    clock = whole.clock0 + t
    if whole.ambient_kind == 1:
        n = whole.ambient_n
        if clock <= ambient[0, 0]:
            return ambient[0, 1]
        i = corner_after(ambient, 1, n, clock)
        if i == n:
            return ambient[n - 1, 1]
        w = (clock - ambient[i - 1, 0]) / (ambient[i, 0] - ambient[i - 1, 0])
        return ambient[i - 1, 1] + w * (ambient[i, 1] - ambient[i - 1, 1])
    if whole.ambient_kind == 2:
        angle = 2.0 * math.pi * (clock - whole.ambient_hottest) / 86400.0
        return whole.ambient_mean + whole.ambient_swing * math.cos(angle)
    return whole.ambient_mean


@leaf
def bus_voltage(whole, bottles, modes, armed):
    """Voltage at the heaters (V) when the supply's source resistance drops some of it."""
    g = 0.0
    for i in range(bottles.shape[0]):
        if heater_is_on(bottles, modes, armed, i):
            g += bottles[i].conductance
    return whole.supply_voltage / (1.0 + whole.supply_resistance * g)


@leaf
def heater_is_on(bottles, modes, armed, i):
    """Whether bottle ``i``'s heater is fed: armed, its controller closed, cut-out closed."""
    b = bottles[i]
    if b.has_heater == 0 or modes[i, L.FROZEN] != 0:
        return False
    # A welded relay feeds the heater whatever the interlock says; the surface cut-out still works.
    closed = b.fault == 1 or (armed == 1 and modes[b.controller, L.SW_ON] == 1)
    return closed and modes[i, L.CUT_OPEN] == 0


@leaf
def _heater_power(b, temperature, volts):
    """Power (W) and how fast self-limiting takes it away (W/K)."""
    power = b.power + b.conductance * volts * volts
    factor = 1.0 - b.self_limit * (temperature - b.self_ref)
    if factor <= 0.0:
        return 0.0, 0.0
    return power * factor, power * b.self_limit


@leaf
def _film(b, st, wet, i, place, t_surface, films):
    """Inside coefficient (W/m2/K) at this surface temperature."""
    return max(inside_film(b, st, wet, i, place, t_surface, films) * b.h_in_factor, 1e-9)


@leaf
def _film_share(b, st, wet, i, place, difference, r, x, side, films):
    """Logarithm of the share of the node-to-fluid ``difference`` (K) that falls across the film.

    Solves s (1 + r h(s)) = 1, ``r`` the half node's resistance in m2 K/W, by a bracketed secant in
    ln s from ``x``, where it is nearly straight (h goes as a power of s); the first slope is the
    last one found. Simple substitution would swing to and fro where the film boils behind a
    polymer liner. The last correction is taken without another look at the film.
    """
    low, high = -30.0, 0.0
    slope = films.share[i, 2 + side]
    x0 = f0 = 0.0
    for turn in range(30):
        h = _film(b, st, wet, i, place, st[0] + math.exp(x) * difference, films)
        f = x + math.log(1.0 + r * h)
        if turn == 0 and abs(f) < (_NEAR if r * h < _METAL else _THERE):
            return x - f
        if f > 0.0:
            high = x
        else:
            low = x
        if turn > 0 and f != f0:
            slope = (f - f0) / (x - x0)
        new = x - f / slope if slope > 0.0 else low
        if f == 0.0 or (turn > 0 and abs(f) < _NEAR and low < new < high):
            x = new
            break
        if not (low < new < high):
            new = 0.5 * (low + high)
        x0, f0, x = x, f, new
    films.share[i, 2 + side] = min(max(slope, 0.1), 10.0)
    return x


@leaf
def _at_surface(b, t_node, r, st, wet, i, side, place, films):
    """Film coefficient (W/m2/K) and the temperature (K) of the surface, which the half node's
    resistance ``r`` (m2 K/W) sets; where that is nothing against the film (metal) the surface is
    as warm as the node."""
    difference = t_node - st[0]
    x = films.share[i, side]
    for _ in range(2):
        if x < 0.0 and difference != 0.0:
            x = _film_share(b, st, wet, i, place, difference, r, x, side, films)
            ratio = math.exp(-x) - 1.0
            if ratio > _THIN:
                films.share[i, side] = x
                return ratio / r, st[0] + difference / (1.0 + ratio)
        h = _film(b, st, wet, i, place, t_node, films)
        if not (r * h > _THIN) or x < 0.0:
            break
        x = -math.log(1.0 + r * h)
    films.share[i, side] = 0.0
    return h, t_node


@leaf
def _inside(b, given, t_node, r_half, area, st, wet, i, side, place, films, slopes):
    """Node-to-fluid heat flow (W), its slopes over the node's and the fluid's temperature (W/K),
    film coefficient.

    given: the coefficient, NaN for the correlation. The slopes cost other films and are only found
    where ``slopes`` is 1.
    """
    t = st[0]
    if not math.isnan(given):
        if given <= 0.0:
            return 0.0, 0.0, 0.0, 0.0
        g = 1.0 / (r_half + 1.0 / (given * area))
        return g * (t_node - t), g, g, given
    h, t_surface = _at_surface(b, t_node, r_half * area, st, wet, i, side, place, films)
    q = (t_node - t) / (r_half + 1.0 / (h * area))
    if slopes == 0:
        return q, 0.0, 0.0, h
    # Boiling is steep (flux as the cube of superheat): the implicit step needs the slope.
    probe = _film(b, st, wet, i, place, t_surface + 0.02, films)
    slope = (probe * (t_surface + 0.02 - t) - h * (t_surface - t)) / 0.02
    slope = min(max(slope, h), 10.0 * h)
    g = 1.0 / (r_half + 1.0 / (slope * area))
    by_fluid = slope + _by_saturation(b, st, wet, i, place, t_surface, h, films)
    return q, g, g * by_fluid / slope, h


@leaf
def _by_saturation(b, st, wet, i, place, t_surface, h, films):
    """How much faster than a warmer fluid alone its rising saturation temperature chokes boiling
    (W/m2/K): in a bottle full of liquid a kelvin lifts that by three."""
    k, weights, boiling, props = place
    t_sat, gain, flux = boiling
    if not (st[22] > 0.0 and gain > 0.0 and t_surface > t_sat):
        return 0.0
    lifted = (k, weights, (t_sat + 0.02, gain, flux), props)
    less = (h - _film(b, st, wet, i, lifted, t_surface, films)) * (t_surface - st[0]) / 0.02
    return max(less, 0.0) * max(st[22] / dpdT_sat(t_sat) - 1.0, 0.0)


@leaf
def _film_out(whole, b, given, t_surface, t_air, air):
    """Outside coefficient (W/m2/K), convection and radiation together unless given (not NaN)."""
    if not math.isnan(given):
        return given
    h = outside_film(whole, b, t_surface, t_air, air)
    if b.radiation == 1:
        h += radiation_coefficient(t_surface, t_air, b.emissivity)
    return h


@leaf
def _series(r, h, area):
    """Conductance of a resistance and a film in series; no film, no flow."""
    if h <= 0.0 or area <= 0.0:
        return 0.0
    return 1.0 / (r + 1.0 / (h * area))


@leaf
def _steeper(b, t, t_air, film, conductance):
    """What radiation adds to the slope of a heater's loss over its temperature, W/K.

    A heater of next to no mass glows within a step: with the conductance alone in the implicit
    step, a third of the slope at 1500 K, that step would have to follow it.
    """
    if b.radiation == 0 or not math.isnan(b.h_out_c) or film <= 0.0 or t <= t_air:
        return 0.0
    share = conductance / (film * b.area_out_c)
    rise = radiation_steepness(t, t_air, b.emissivity) * b.cover_factor * b.area_out_c
    return (t - t_air) * rise * share * share


@leaf
def _outer(whole, b, y, base, t_air, air, out, i):
    """Loss conductances of the covered and the bare side (W/K) and their driving temperatures."""
    n = b.n
    t_b = y[base + L.NODE0 + 2 * n - 1]
    glb = _series(b.r_out_b, _film_out(whole, b, b.h_out_b, t_b, t_air, air), b.area_out_b)
    if b.has_heater == 1:
        t_c = y[base + L.HEATER]
        film = _film_out(whole, b, b.h_out_c, t_c, t_air, air) * b.cover_factor
        r = b.cover_resistance / b.area_out_c
        glc = _series(r, film, b.area_out_c)
        slope = glc + _steeper(b, t_c, t_air, film, glc)
    else:
        t_c = y[base + L.NODE0 + 2 * n - 2]
        glc = _series(b.r_out_c, _film_out(whole, b, b.h_out_c, t_c, t_air, air), b.area_out_c)
        slope = glc
    out[i, L.O_GLC] = slope
    out[i, L.O_GLB] = glb
    return glc * (t_c - t_air), glb * (t_b - t_air)


@leaf
def _wall(wall, b, y, base, q_c, q_b, f):
    """Conduction along both chains and around the shell; film flows leave the inner nodes."""
    n = b.n
    for k in range(n):
        c = base + L.NODE0 + 2 * k
        cross = wall[4, k] * (y[c] - y[c + 1])
        fc = -cross
        fb = cross
        if k == 0:
            fc -= q_c
            fb -= q_b
        else:
            fc += wall[2, k - 1] * (y[c - 2] - y[c])
            fb += wall[3, k - 1] * (y[c - 1] - y[c + 1])
        if k < n - 1:
            fc += wall[2, k] * (y[c + 2] - y[c])
            fb += wall[3, k] * (y[c + 3] - y[c + 1])
        f[c] = fc
        f[c + 1] = fb


@leaf
def _shell_rates(whole, b, wall, y, base, t_air, air, power, out, i, f):
    """Wall and heater rates for heat flows already in ``out``; returns the loss to the air (W)."""
    n = b.n
    loss_c, loss_b = _outer(whole, b, y, base, t_air, air, out, i)
    _wall(wall, b, y, base, out[i, L.O_QC], out[i, L.O_QB], f)
    last = base + L.NODE0 + 2 * n - 2
    share = b.area_out_c / (b.area_out_c + b.area_out_b)
    f[last + 1] += b.sun * (1.0 - share) - loss_b
    if b.has_heater == 1:
        contact = b.g_contact * (y[base + L.HEATER] - y[last])
        f[last] += contact
        f[base + L.HEATER] = (power - contact - loss_c + b.sun * share) / b.heater_capacity
    else:
        f[last] += b.sun * share - loss_c
        f[base + L.HEATER] = 0.0
    for k in range(n):
        f[base + L.NODE0 + 2 * k] /= wall[0, k]
        f[base + L.NODE0 + 2 * k + 1] /= wall[1, k]
    return loss_c + loss_b


@leaf
def _fluid(b, y, base, guess, st, out, i):
    """State of the fluid (or of both zones) into ``st`` and ``out``."""
    if b.two_zone == 1 and y[base + L.M2] > 0.0:
        zone_state(b, y, base, guess, st)
    else:
        equilibrium_state(
            y[base + L.M1] + y[base + L.M2], y[base + L.U1] + y[base + L.U2], b.volume, guess, st
        )
    out[i, L.O_T] = st[0]
    out[i, L.O_P] = st[1]
    out[i, L.O_X] = st[2]
    out[i, L.O_PHASE] = st[3]
    out[i, L.O_LEVEL] = st[4]
    out[i, L.O_DTDU] = st[5]
    out[i, L.O_TV] = st[16]
    out[i, L.O_TSAT] = 0.0
    out[i, L.O_DPDT] = st[22]


@leaf
def _heat_in(b, y, base, st, work, out, i, slopes):
    """Heat from both wall parts to the fluid (W) into ``out``, with slopes where asked for."""
    wet = 0.0
    films = work.films
    place = NO_PLACE
    if math.isnan(b.h_in_c) or b.two_zone == 1:
        wet = wetted_fraction(st[4], b.diameter_in, b.length_in, b.standing)
    if math.isnan(b.h_in_c):
        place = film_place(st, i, work.boundary[i], films)
    c, r, area = y[base + L.NODE0], b.r_in_c, b.area_in_c
    qc, gc, gtc, hc = _inside(b, b.h_in_c, c, r, area, st, wet, i, 0, place, films, slopes)
    c, r, area = y[base + L.NODE0 + 1], b.r_in_b, b.area_in_b
    qb, gb, gtb, hb = _inside(b, b.h_in_b, c, r, area, st, wet, i, 1, place, films, slopes)
    out[i, L.O_GC] = gc
    out[i, L.O_GB] = gb
    out[i, L.O_GTC] = gtc
    out[i, L.O_GTB] = gtb
    out[i, L.O_QC] = qc
    out[i, L.O_QB] = qb
    out[i, L.O_HC] = hc
    out[i, L.O_HB] = hb
    found = math.isnan(b.h_in_c) or math.isnan(b.h_in_b)
    out[i, L.O_EXTRAP] = 1.0 if found and st[1] > P_R_DATA * P_CRITICAL else 0.0
    return wet


@leaf
def _sensor_rate(whole, b, y, base, out, i, flowing):
    """First-order lag of the pressure (gauge) that the switch sees; line side reads zero shut."""
    gauge = out[i, L.O_P] - whole.p_ambient
    seen = gauge
    if b.line_side == 1 and flowing == 0:
        seen = 0.0
    out[i, L.O_GAUGE] = seen
    if b.lag <= 0.0:
        return 0.0
    return (seen - y[base + L.SENSOR]) / b.lag


@leaf
def _frozen(base, width, totals, out, i, f):
    """A bottle that is frozen out: nothing changes, nothing flows; its states are not numbers."""
    for k in range(width):
        f[base + k] = 0.0
    for k in range(L.N_TOTALS):
        f[totals + k] = 0.0
    for k in range(L.N_OUT):
        out[i, k] = 0.0
    for k in (L.O_T, L.O_P, L.O_TV, L.O_GAUGE):
        out[i, k] = math.nan


@leaf
def _fluid_rates(b, y, base, st, wet, heat, out, i, f):
    """Mass and energy rates of one bottle's fluid."""
    if b.two_zone == 1 and y[base + L.M2] > 0.0:
        area = free_surface_area(st[4], b.diameter_in, b.length_in, b.standing)
        zone_rates(b, y, base, st, wet, heat, area, out, i, f)
        return
    f[base + L.M1] = -out[i, L.O_MDOT]
    f[base + L.U1] = heat - out[i, L.O_HOUT]
    f[base + L.M2] = 0.0
    f[base + L.U2] = 0.0
    f[base + L.BOILING] = 0.0


@leaf
def _bottle_rates(setup, y, modes, lmodes, work, t_air, volts, i, totals, out, f, slopes):
    """Rates of bottle ``i`` and of its running totals; returns its loss to the air (W)."""
    whole = setup.whole[0]
    b = setup.bottles[i]
    base = i * (L.NODE0 + 2 * setup.wall.shape[2])
    wet = _heat_in(b, y, base, work.st[i], work, out, i, slopes)
    power = 0.0
    out[i, L.O_GPOWER] = 0.0
    if heater_is_on(setup.bottles, modes, lmodes[L.L_HEATER_ARMED], i):
        power, out[i, L.O_GPOWER] = _heater_power(b, y[base + L.HEATER], volts)
    out[i, L.O_POWER] = power
    grid = work.films.air[i]
    loss = _shell_rates(whole, b, setup.wall[i], y, base, t_air, grid, power, out, i, f)
    out[i, L.O_LOSS] = loss
    heat = out[i, L.O_QC] + out[i, L.O_QB]
    _fluid_rates(b, y, base, work.st[i], wet, heat, out, i, f)
    f[base + L.SENSOR] = _sensor_rate(whole, b, y, base, out, i, lmodes[L.L_FLOWING])
    f[totals + L.E_HEATER] = power
    f[totals + L.Q_FLUID] = heat
    f[totals + L.Q_LOSS] = loss - b.sun
    f[totals + L.M_OUT] = out[i, L.O_MDOT]
    f[totals + L.H_OUT] = out[i, L.O_HOUT]
    return loss


@leaf
def rates(t, t_segment, y, setup, lmodes, modes, work, f, out, slopes):
    """Fill ``f = dy/dt`` and ``out``; ``work``: scratch and memory (integrate.Work).

    ``slopes`` 1 also finds the film slopes that the implicit step linearises with.

    Energy is conserved term by term: each exchange appears with both signs, and the running
    totals integrate the same numbers.
    """
    whole = setup.whole[0]
    nb = setup.bottles.shape[0]
    width = L.NODE0 + 2 * setup.wall.shape[2]
    t_out = ambient_temperature(whole, setup.ambient, t)
    air = nb * width
    t_air = y[air] if whole.air_node == 1 else t_out
    volts = bus_voltage(whole, setup.bottles, modes, lmodes[L.L_HEATER_ARMED])
    for i in range(nb):
        if modes[i, L.FROZEN] == 0:
            _fluid(setup.bottles[i], y, i * width, work.guess[i], work.st[i], out, i)
        else:
            shut(work.st[i])
    total_outflow(t - t_segment, setup, lmodes, modes, work.st, work.shares, out)
    to_air = 0.0
    for i in range(nb):
        totals = air + 1 + i * L.N_TOTALS
        if modes[i, L.FROZEN] != 0:
            _frozen(i * width, width, totals, out, i, f)
            continue
        to_air += _bottle_rates(
            setup, y, modes, lmodes, work, t_air, volts, i, totals, out, f, slopes
        )
    f[air] = 0.0
    if whole.air_node == 1:
        gain = to_air + whole.air_sun + whole.air_conductance * (t_out - t_air)
        f[air] = gain / whole.air_capacity
