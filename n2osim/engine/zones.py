"""Two-zone bottle: liquid and vapour at their own temperatures, evaporation between them.

After Zilliac & Karabeyoglu, AIAA 2005-3549 ("Modeling of Propellant Tank Pressurization"): the
liquid keeps its bulk temperature, the surface sits at the saturation temperature of the pressure,
natural convection on both sides of the surface carries heat to it, and what arrives without
leaving evaporates. Convection on the liquid side is multiplied by an empirical factor that stands
for bulk boiling. Our additions: vapour that cools below its dew point rains back, zones are made
and merged where one of them is too small to have a temperature of its own.
"""

from __future__ import annotations

import math

from n2osim.engine import layout as L
from n2osim.fluid.equation_of_state import P_CRITICAL, T_CRITICAL, eos
from n2osim.fluid.phase import TWO_PHASE
from n2osim.fluid.saturation import dpdT_sat, sat, sat_T
from n2osim.fluid.state import T_of_rho_u, cp_beta, state_Trho
from n2osim.fluid.transport import conductivity, viscosity
from n2osim.jit import leaf

_RAIN_TIME = 0.3  # s, time for condensed droplets to fall out of the vapour zone (our choice)
_SPLIT_ABOVE, _MERGE_ABOVE, _MERGE_BELOW = 0.97, 0.98, 0.01  # liquid volume fractions
_MERGE_DT = 0.1  # K: zones at rest this close together are one again
_T_LIMIT = T_CRITICAL - 0.3
_P_LIMIT = 0.997 * P_CRITICAL  # above the critical pressure there is no surface
_TOP = T_CRITICAL - 1e-3
# W/kg/K beyond which boiling is not followed: superheat is below 0.1 K there even in a fast drain.
_BOILING_MOST = 5e4
_GRAVITY = 9.80665


@leaf
def saturated_liquid_T(u, guess):
    """Temperature (K) of saturated liquid of internal energy ``u`` (J/kg), NaN outside; du/dT."""
    T = min(max(guess, 184.0), _TOP - 0.01)
    slope = 1.0
    step = 0.0
    for _ in range(30):
        u0 = sat(T)[3]
        slope = (sat(T + 2e-3)[3] - u0) / 2e-3 if T + 2e-3 < _TOP else 1e5
        step = (u - u0) / slope
        T = min(max(T + min(max(step, -10.0), 10.0), 183.0), _TOP - 0.01)
        if abs(step) < 1e-9:
            break
    # Held at an end of the range it would not be the temperature of that energy.
    return (T if abs(step) < 1e-3 else math.nan), slope


@leaf
def zone_state(b, y, base, guess, st):
    """Fill ``st`` (see :mod:`n2osim.engine.fluid_node`) for a bottle with two zones."""
    m1, m2 = y[base + L.M1], y[base + L.M2]
    T, slope = saturated_liquid_T(y[base + L.U1] / m1, guess[0])
    if not math.isnan(T):
        guess[0] = T
    rho1 = sat(T)[1]
    volume2 = b.volume - m1 / rho1
    rho2 = m2 / volume2
    Tv = T_of_rho_u(rho2, y[base + L.U2] / m2, guess[1])
    if not math.isnan(Tv):
        guess[1] = Tv
    p, _, h2, s2, _, x2, _ = state_Trho(Tv, rho2)
    st[0], st[1], st[2], st[3] = T, p, m2 / (m1 + m2), TWO_PHASE
    st[4] = m1 / rho1 / b.volume
    st[5] = 0.0
    ts = sat_T(min(p, P_CRITICAL))
    surface = sat(min(ts, _TOP))
    st[6], st[7], st[8], st[9] = surface[1], surface[5], surface[7], ts
    st[10], st[11], st[12], st[13] = rho2, h2, s2, Tv
    st[14] = 1.0
    st[15] = rho1
    st[16] = Tv
    st[17] = m1 + m2
    st[18] = x2
    st[19] = y[base + L.U1] / m1 + p / rho1


@leaf
def _surface_film(T, rho, dT):
    """Natural convection on a horizontal surface, Nu = 0.15 Ra^(1/3) (W/m2/K)."""
    cp, beta = cp_beta(T, rho)
    k = conductivity(T, rho)
    cp = min(max(cp, 500.0), 2e4)
    beta = min(max(beta, 1e-4), 0.1)
    ra = _GRAVITY * beta * cp * rho * rho * (abs(dT) + 1e-4) / (viscosity(T, rho) * k)
    return 0.15 * k * ra ** (1.0 / 3.0)


@leaf
def _from_liquid(b, st, area):
    """Conductance from the liquid's bulk to its surface, W/K."""
    return b.zone_factor * area * _surface_film(st[0], st[15], st[0] - st[9])


@leaf
def _from_bubbles(b, y, base, st):
    """Conductance from superheated liquid to the bubbles in it, W/K: grows with their time.

    A step across the instant at which boiling begins can leave that time a little below zero.
    """
    if st[0] <= st[9]:
        return 0.0
    growth = b.boiling_growth * max(y[base + L.BOILING], 0.0)
    return y[base + L.M1] * min(growth, _BOILING_MOST)


@leaf
def _latent(st, h_surface, heat):
    """Enthalpy (J/kg) between the liquid and what crosses the surface.

    What evaporates leaves saturated. What condenses comes from the bulk of the vapour zone and
    brings its enthalpy along (or a shrinking vapour zone would keep all the superheat), without
    that of the droplets in it.
    """
    return max((h_surface if heat >= 0.0 else max(st[11], h_surface)) - st[19], 2e4)


@leaf
def _exchange(b, y, base, st, area):
    """Heat from surface to vapour (W), evaporation (kg/s, negative condenses), latent heat."""
    ts = st[9]
    surface = sat(min(ts, _TOP))
    from_liquid = (_from_liquid(b, st, area) + _from_bubbles(b, y, base, st)) * (st[0] - ts)
    tv = st[16]
    to_vapour = area * _surface_film(tv, min(st[10], surface[2]), ts - tv) * (ts - tv)
    latent = _latent(st, surface[6], from_liquid - to_vapour)
    return to_vapour, (from_liquid - to_vapour) / latent, latent


@leaf
def _dry_conductance(b, y, base, st, wet, k):
    """From the dry part of wall ``k`` (0 covered, 1 bare) to the vapour, W/K.

    Natural convection, or the inside coefficient given (0: none) behind the wall's half node.
    """
    area = b.area_in_c if k == 0 else b.area_in_b
    h = b.h_in_c if k == 0 else b.h_in_b
    if math.isnan(h):
        d = y[base + L.NODE0 + k] - st[16]
        return area * (1.0 - wet) * _surface_film(st[16], st[10], d)
    if h <= 0.0:
        return 0.0
    return (1.0 - wet) / ((b.r_in_c if k == 0 else b.r_in_b) + 1.0 / (h * area))


@leaf
def _gas_heat(b, y, base, st, wet, heat):
    """Part of the wall's ``heat`` (W) that the vapour takes; the rest of it is the liquid's.

    The film that the wall sees is computed once for both, against the liquid. What the vapour
    would take beyond all of it would come out of the liquid: not from a colder one.
    """
    q = 0.0
    for k in range(2):
        d = y[base + L.NODE0 + k] - st[16]
        q += _dry_conductance(b, y, base, st, wet, k) * d
    colder = min(abs(st[16] - st[0]), 1.0)
    share = colder * colder * (3.0 - 2.0 * colder)  # how surely: the last kelvin blends
    if q > max(heat, 0.0) and st[16] > st[0]:
        q += share * (max(heat, 0.0) - q)
    elif q < min(heat, 0.0) and st[16] < st[0]:
        q += share * (min(heat, 0.0) - q)
    return q


@leaf
def _liquid_slopes(T):
    """(du/dT, d(1/rho)/dT) along the saturated-liquid line."""
    eps = 2e-3
    hot, here = sat(T + eps), sat(T)
    return (hot[3] - here[3]) / eps, (1.0 / hot[1] - 1.0 / here[1]) / eps


@leaf
def _gas_slopes(T, rho):
    """(dp/drho at constant u, dp/du at constant rho) of the vapour zone."""
    p, _, _, _, cv, _, phase = state_Trho(T, rho)
    if phase == TWO_PHASE:
        dpdT, dpdrho = dpdT_sat(T), 0.0
    else:
        r = eos(T, rho)
        dpdT, dpdrho = r[5], r[6]
    dudrho = (p - T * dpdT) / (rho * rho)
    return dpdrho - dpdT * dudrho / cv, dpdT / cv


@leaf
def evaporation_slopes(b, y, base, st, area, pressing, v, g):
    """Linearise evaporation, which is stiff: its rate changes by ``g . d(M1, U1, M2, U2)`` kg/s and
    each kilogram moves these by ``v``; ``pressing``: of :func:`zone_pressure_slopes`.

    Of the exchange between the zones only the liquid's side counts (an empirical factor multiplies
    it), with liquid superheat T1 - T_sat(p) as what drives it.
    """
    m1 = y[base + L.M1]
    latent = _latent(st, sat(min(st[9], _TOP))[6], st[0] - st[9])
    # Each kilogram takes its enthalpy along and makes room, which is work on the liquid.
    slopes = _liquid_slopes(st[0])
    carried = st[19] + latent
    carried += _work_of(y, base, st, slopes, -1.0, -carried)
    v[0], v[1], v[2], v[3] = -1.0, -carried, 1.0, carried
    rise = ((4.0 / 3.0) * _from_liquid(b, st, area) + _from_bubbles(b, y, base, st)) / latent
    slope = 1.0 / dpdT_sat(min(st[9], _TOP))
    for k in range(4):
        g[k] = -rise * slope * pressing[k]
    hotter = rise / (m1 * slopes[0])
    g[0] -= hotter * y[base + L.U1] / m1
    g[1] += hotter


@leaf
def zone_pressure_slopes(y, base, st, g):
    """Fill ``g`` with dp/d(M1, U1, M2, U2) of a bottle with two zones: Pa/kg, Pa/J."""
    m1, m2 = y[base + L.M1], y[base + L.M2]
    rho2 = st[10]
    c, expansion = _liquid_slopes(st[0])
    pr, pu = _gas_slopes(st[16], rho2)
    # Space left to the vapour shrinks as the liquid gets more or warmer.
    density = rho2 * rho2 / m2
    wider = expansion / c
    g[0] = pr * density * (1.0 / st[15] - wider * y[base + L.U1] / m1)
    g[1] = pr * density * wider
    g[2] = (pr * rho2 - pu * y[base + L.U2] / m2) / m2
    g[3] = pu / m2


@leaf
def stream_direction(y, base, st, wet, h_wet, h, d):
    """Fill ``d`` with what a kilogram that enters adds to (M1, U1, M2, U2) of two zones.

    wet: share that enters the liquid, with ``h_wet`` (J/kg); h: enthalpy of the whole stream.
    """
    into = wet * h_wet
    work = _work_of(y, base, st, _liquid_slopes(st[0]), wet, into)
    d[0], d[1], d[2], d[3] = wet, into - work, 1.0 - wet, h - into + work


@leaf
def _work_of(y, base, st, slopes, dm, heat):
    """What the liquid does on the vapour (W) as it gets ``dm`` (kg/s) and ``heat`` (W, enthalpy of
    that mass included); ``slopes`` as of :func:`_liquid_slopes`."""
    c, expansion = slopes
    m1, p, rho1 = y[base + L.M1], st[1], st[15]
    dT = (heat - dm * (y[base + L.U1] / m1 + p / rho1)) / (m1 * (c + p * expansion))
    return p * (dm / rho1 + m1 * expansion * dT)


@leaf
def _out_of_liquid(st, flow, fed, enthalpy):
    """What leaves the liquid zone: (kg/s, W).

    flow: net, below the surface (kg/s); fed: what comes in over a manifold (kg/s), with its
    ``enthalpy`` flow (W). That stream flashes at the bottle's pressure: only what stays liquid
    joins the liquid, the rest joins the vapour.
    """
    drawn = flow + fed
    if fed <= 0.0:
        return drawn, drawn * st[19]
    wet, h_wet = stays_liquid(st, enthalpy / fed)
    stays = wet * fed
    return drawn - stays, drawn * st[19] - stays * h_wet


@leaf
def stays_liquid(st, h):
    """Share of a stream of enthalpy ``h`` (J/kg) that is liquid at the bottle's pressure, and the
    enthalpy of that."""
    surface = sat(min(st[9], _TOP))
    x = min(max((h - surface[5]) / (surface[6] - surface[5]), 0.0), 1.0)
    return 1.0 - x, min(h, surface[5])


@leaf
def zone_rates(b, y, base, st, wet, heat, area, out, i, f):
    """Mass and energy rates of both zones; their sum is that of the bottle to rounding."""
    to_vapour, e, latent = _exchange(b, y, base, st, area)
    rain = (1.0 - min(max(st[18], 0.0), 1.0)) * y[base + L.M2] / _RAIN_TIME
    h_rain = st[7]
    to_gas = _gas_heat(b, y, base, st, wet, heat)
    liquid_out, with_liquid = _out_of_liquid(
        st, out[i, L.O_MDOT_L], out[i, L.O_FED], out[i, L.O_HFED]
    )
    dm1 = -liquid_out - e + rain
    # What leaves the liquid: the evaporating mass with its vapour enthalpy, less heat to vapour
    # that the surface passes on. Written once, used with both signs.
    across = e * (st[19] + latent) + to_vapour - rain * h_rain
    r1 = heat - to_gas - with_liquid - across
    r2 = to_gas - (out[i, L.O_HOUT] - with_liquid) + across
    work = _work_of(y, base, st, _liquid_slopes(st[0]), dm1, r1)
    f[base + L.M1] = dm1
    f[base + L.U1] = r1 - work
    f[base + L.M2] = -(out[i, L.O_MDOT] - liquid_out) + e - rain
    f[base + L.U2] = r2 + work
    f[base + L.BOILING] = 1.0 if st[0] > st[9] else 0.0


@leaf
def zone_due(y, base, out, i, flowing):
    """How far the zones of bottle ``i`` are beyond where they are made or merged (< 0: not yet)."""
    level, T, p = out[i, L.O_LEVEL], out[i, L.O_T], out[i, L.O_P]
    if y[base + L.M2] > 0.0:
        left = max(level - _MERGE_ABOVE, _MERGE_BELOW - level)
        return max(left, max(T - _T_LIMIT, (p - _P_LIMIT) / 1e5))
    if flowing == 0 or int(out[i, L.O_PHASE]) != TWO_PHASE:
        return -1.0
    return min(min(_SPLIT_ABOVE - level, level - 2.0 * _MERGE_BELOW), _T_LIMIT - 0.3 - T)


@leaf
def zone_switch(y, base, out, i, flowing):
    """Make or merge the zones of bottle ``i`` where that is due; True when the state changed."""
    T = out[i, L.O_T]
    due = zone_due(y, base, out, i, flowing) >= 0.0
    if y[base + L.M2] > 0.0:
        at_rest = flowing == 0 and abs(out[i, L.O_TV] - T) < _MERGE_DT
        if not (due or at_rest):
            return False
        y[base + L.M1] += y[base + L.M2]
        y[base + L.U1] += y[base + L.U2]
        y[base + L.M2] = 0.0
        y[base + L.U2] = 0.0
        return True
    if not due:
        return False
    m = y[base + L.M1]
    u = y[base + L.U1]
    s = sat(T)
    y[base + L.BOILING] = 0.0
    y[base + L.M2] = out[i, L.O_X] * m
    y[base + L.U2] = y[base + L.M2] * s[4]
    y[base + L.M1] = m - y[base + L.M2]
    y[base + L.U1] = u - y[base + L.U2]
    return True
