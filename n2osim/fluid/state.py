"""States of nitrous oxide over the whole range, one or two phases, as compiled scalar kernels.

Phase rule (the one place it is defined)
----------------------------------------
Below or at the critical temperature T_CRITICAL, at the saturated densities of that temperature:
  LIQUID      rho >= rho_l(T)  (any pressure, also above the critical pressure)
  TWO_PHASE   rho_v(T) < rho < rho_l(T)
  VAPOUR      rho <= rho_v(T)
Above the critical temperature:
  SUPERCRITICAL  p > P_CRITICAL
  VAPOUR         p <= P_CRITICAL
"""

from __future__ import annotations

import math

from n2osim._jit import jit
from n2osim.fluid.equation_of_state import (
    P_CRITICAL,
    P_MAX,
    P_TRIPLE,
    R_SPECIFIC,
    RHO_CRITICAL,
    T_CRITICAL,
    T_MAX,
    T_TRIPLE,
    eos,
)
from n2osim.fluid.saturation import (
    RHO_L_TRIPLE,
    RHO_V_TRIPLE,
    dpdT_sat,
    sat,
    sat_rho,
    sat_T,
    sat_T_of_rho_l,
    sat_T_of_rho_v,
)

LIQUID = 0
TWO_PHASE = 1
VAPOUR = 2
SUPERCRITICAL = 3

_RHO_MAX = 1320.0  # above the density of 50 MPa liquid at the triple point (1293 kg/m3)
_EDGE = 1e-9  # relative slack at the ends of the range, so that round trips do not fall off it
_CV_MARGIN = 2e-6  # K below T_CRITICAL where the two-phase c_v formula turns into 0/0


@jit
def _liquid_or_dense(T, rho, p):
    """Phase and kernel quality of a single-phase state."""
    if T > T_CRITICAL:
        if p > P_CRITICAL:
            return -1.0, SUPERCRITICAL
        return 1.0, VAPOUR
    if rho > RHO_CRITICAL:
        return 0.0, LIQUID
    return 1.0, VAPOUR


@jit
def _cv_term(slope, T, rho, cv, p_T, p_rho):
    """A phase's share of the two-phase c_v (see cv_two_phase)."""
    return cv + T * (slope - p_T) ** 2 / (rho * rho * p_rho)


@jit
def cv_two_phase(T, x):
    """True two-phase c_v, J/kg/K, at T [K] and vapour mass fraction x.

    c_v = sum over phases k of x_k [c_v,k + T (dp_sat/dT - (dp/dT)_k)^2 / (rho_k^2 (dp/drho)_k)].
    This is the Yang-Yang relation with the saturation derivatives written through the equation of
    state (chain rule, Clausius-Clapeyron); all terms are positive, so nothing cancels.
    """
    t = min(T, T_CRITICAL - _CV_MARGIN)
    p, rho_l, rho_v = sat_rho(t)
    l = eos(t, rho_l)
    v = eos(t, rho_v)
    slope = (v[3] - l[3]) / (1.0 / rho_v - 1.0 / rho_l)
    liquid = _cv_term(slope, t, rho_l, l[4], l[5], l[6])
    vapour = _cv_term(slope, t, rho_v, v[4], v[5], v[6])
    return (1.0 - x) * liquid + x * vapour


@jit
def state_Trho(T, rho):
    """State at T [K], rho [kg/m3]: (p [Pa], u, h [J/kg], s, cv [J/kg/K], x, phase).

    x is the vapour mass fraction: 0 liquid, 1 vapour, -1 supercritical. NaN outside the range.
    """
    n = math.nan
    if not (T_TRIPLE <= T <= T_MAX and 0.0 < rho <= _RHO_MAX):
        return n, n, n, n, n, n, LIQUID
    if T <= T_CRITICAL:
        p, rho_l, rho_v = sat_rho(T)
        if rho_v < rho < rho_l:
            l = eos(T, rho_l)
            v = eos(T, rho_v)
            x = (1.0 / rho - 1.0 / rho_l) / (1.0 / rho_v - 1.0 / rho_l)
            u = l[1] + x * (v[1] - l[1])
            s = l[3] + x * (v[3] - l[3])
            if T > T_CRITICAL - _CV_MARGIN:
                cv = cv_two_phase(T, x)
            else:
                slope = (v[3] - l[3]) / (1.0 / rho_v - 1.0 / rho_l)
                liquid = _cv_term(slope, T, rho_l, l[4], l[5], l[6])
                cv = liquid + x * (_cv_term(slope, T, rho_v, v[4], v[5], v[6]) - liquid)
            return p, u, u + p / rho, s, cv, x, TWO_PHASE
    r = eos(T, rho)
    if r[0] > P_MAX * (1.0 + _EDGE):
        return n, n, n, n, n, n, LIQUID
    x, phase = _liquid_or_dense(T, rho, r[0])
    return r[0], r[1], r[2], r[3], r[4], x, phase


@jit
def _u_cv(T, rho):
    """u and true c_v at T, rho without the pressure limit: what T_of_rho_u iterates on."""
    if T <= T_CRITICAL:
        p, rho_l, rho_v = sat_rho(T)
        if rho_v < rho < rho_l:
            l = eos(T, rho_l)
            v = eos(T, rho_v)
            x = (1.0 / rho - 1.0 / rho_l) / (1.0 / rho_v - 1.0 / rho_l)
            u = l[1] + x * (v[1] - l[1])
            if T > T_CRITICAL - _CV_MARGIN:
                return u, cv_two_phase(T, x), p
            slope = (v[3] - l[3]) / (1.0 / rho_v - 1.0 / rho_l)
            liquid = _cv_term(slope, T, rho_l, l[4], l[5], l[6])
            cv = liquid + x * (_cv_term(slope, T, rho_v, v[4], v[5], v[6]) - liquid)
            return u, cv, p
    r = eos(T, rho)
    return r[1], r[4], r[0]


@jit
def T_of_rho_u(rho, u, T_guess):
    """Temperature, K, at rho [kg/m3] and u [J/kg]; T_guess [K] is a warm start (NaN: none).

    Newton on u(T) at fixed density (c_v > 0, so it rises throughout, with kinks at the saturation
    line) inside a bracket that only shrinks; halves the bracket whenever Newton leaves it or
    stalls. NaN outside T_TRIPLE..T_MAX or above P_MAX.
    """
    if not (0.0 < rho <= _RHO_MAX) or not math.isfinite(u):
        return math.nan
    low = T_TRIPLE
    high = T_MAX
    T = T_guess
    if not (low < T < high):
        T = 300.0
    low_checked = False
    high_checked = False
    last = math.inf
    p = 0.0
    for iteration in range(100):
        value, cv, p = _u_cv(T, rho)
        error = u - value
        if error >= 0.0:
            low = T
            low_checked = True
        if error <= 0.0:
            high = T
            high_checked = True
        step = error / cv
        new = T + step
        if abs(step) <= 1e-8 and T_TRIPLE <= new <= T_MAX:
            T = new
            break
        if not (low < new < high) or (iteration > 3 and abs(error) > 0.5 * abs(last)):
            # An end of the range that was never evaluated is tried itself before halving.
            if new >= high and not high_checked:
                new = high
            elif new <= low and not low_checked:
                new = low
            else:
                new = 0.5 * (low + high)
        if new == T:
            if abs(step) > 1e-7:
                return math.nan
            break
        if high - low <= 1e-12 * high:
            break
        last = error
        T = new
    if p > P_MAX * (1.0 + 1e-6):
        return math.nan
    return T


@jit
def cp_beta(T, rho):
    """Single-phase cp [J/kg/K] and isobaric expansion coefficient [1/K] at T [K], rho [kg/m3].

    Literal equation (no phase check): both grow without bound at the critical point.
    """
    r = eos(T, rho)
    cp = r[4] + T * r[5] * r[5] / (rho * rho * r[6])
    return cp, r[5] / (rho * r[6])


@jit
def speed_of_sound(T, rho):
    """Single-phase speed of sound, m/s, at T [K], rho [kg/m3]; NaN where mechanically unstable."""
    r = eos(T, rho)
    square = r[6] + T * r[5] * r[5] / (rho * rho * r[4])
    if not (square >= 0.0):
        return math.nan
    return math.sqrt(square)


@jit
def _rho_on_isotherm(p, T, low, high, guess):
    """Density at p on an isotherm that rises through low..high (bracketed Newton)."""
    rho = guess
    if not (low <= rho <= high):
        rho = 0.5 * (low + high)
    last = math.inf
    for _ in range(200):
        r = eos(T, rho)
        error = p - r[0]
        if error >= 0.0:
            low = rho
        if error <= 0.0:
            high = rho
        new = rho + error / r[6]
        if not (low <= new <= high) or abs(error) > 0.7 * last:
            new = 0.5 * (low + high)
        last = abs(error)
        if abs(new - rho) <= 2e-16 * rho or high - low <= 2e-16 * high:
            return new
        if abs(new - rho) <= 1e-9 * rho and r[6] > 1.0:
            return new
        rho = new
    return rho


@jit
def _rho_pT(p, T, guess):
    """Stable single-phase density at p, T (liquid on the saturation line itself)."""
    if T < T_CRITICAL:
        p_sat, rho_l, rho_v = sat_rho(T)
        if p >= p_sat:
            return _rho_on_isotherm(p, T, rho_l, _RHO_MAX, max(guess, rho_l))
        if not (0.0 < guess <= rho_v):
            guess = min(p / (R_SPECIFIC * T), rho_v)
        return _rho_on_isotherm(p, T, 0.0, rho_v, guess)
    if not (guess > 0.0):
        guess = min(p / (R_SPECIFIC * T), RHO_CRITICAL)
    return _rho_on_isotherm(p, T, 0.0, _RHO_MAX, guess)


@jit
def state_pT(p, T):
    """State at p [Pa], T [K], single-phase side: (T, rho, x, phase); liquid at p = p_sat(T)."""
    n = math.nan
    if not (0.0 < p <= P_MAX * (1.0 + _EDGE) and T_TRIPLE <= T <= T_MAX):
        return n, n, n, LIQUID
    rho = _rho_pT(p, T, -1.0)
    x, phase = _liquid_or_dense(T, rho, p)
    return T, rho, x, phase


@jit
def _isobar(p, y, entropy, low, high, rho_guess):
    """T, rho on a single-phase isobar between T low and high where h (or s) equals y.

    Newton in T on y(T) at constant p (dh/dT = cp > 0, ds/dT = cp/T > 0), bracketed; density by
    _rho_pT. NaN when y lies outside the bracket's values.
    """
    T = 0.5 * (low + high)
    rho = rho_guess
    bottom = low
    top = high
    low_checked = False
    high_checked = False
    last = math.inf
    for _ in range(200):
        rho = _rho_pT(p, T, rho)
        r = eos(T, rho)
        cp = r[4] + T * r[5] * r[5] / (rho * rho * r[6])
        value = r[2]
        slope = cp
        if entropy:
            value = r[3]
            slope = cp / T
        error = y - value
        if error >= 0.0:
            low = T
            low_checked = True
        if error <= 0.0:
            high = T
            high_checked = True
        new = T + error / slope
        if abs(new - T) <= 1e-9 and bottom - 1e-8 <= new <= top + 1e-8:
            T = min(max(new, bottom), top)
            return T, _rho_pT(p, T, rho)
        if not (low < new < high) or abs(error) > 0.7 * last:
            if new >= high and not high_checked:
                new = high
            elif new <= low and not low_checked:
                new = low
            else:
                new = 0.5 * (low + high)
        last = abs(error)
        if new == T:
            # Stuck on an end of the bracket: y lies beyond it unless Newton says otherwise.
            if abs(error / slope) > 1e-7:
                return math.nan, math.nan
            return T, rho
        if high - low <= 1e-13 * high:
            return new, _rho_pT(p, new, rho)
        T = new
    return math.nan, math.nan


@jit
def _state_p_y(p, y, entropy):
    """Flash at p with h (entropy 0) or s (entropy 1): (T, rho, x, phase)."""
    n = math.nan
    if not (0.0 < p <= P_MAX * (1.0 + _EDGE)) or not math.isfinite(y):
        return n, n, n, LIQUID
    if p < P_TRIPLE:
        T, rho = _isobar(p, y, entropy, T_TRIPLE, T_MAX, -1.0)
    elif p >= P_CRITICAL:
        T, rho = _isobar(p, y, entropy, T_TRIPLE, T_MAX, -1.0)
    else:
        T_sat = sat_T(p)
        q = sat(T_sat)
        y_l = q[5]
        y_v = q[6]
        if entropy:
            y_l = q[7]
            y_v = q[8]
        if y_l < y < y_v:
            x = (y - y_l) / (y_v - y_l)
            return T_sat, 1.0 / (1.0 / q[1] + x * (1.0 / q[2] - 1.0 / q[1])), x, TWO_PHASE
        if y <= y_l:
            T, rho = _isobar(p, y, entropy, T_TRIPLE, T_sat, q[1])
        else:
            T, rho = _isobar(p, y, entropy, T_sat, T_MAX, q[2])
    if not (T >= T_TRIPLE):
        return n, n, n, LIQUID
    x, phase = _liquid_or_dense(T, rho, p)
    return T, rho, x, phase


@jit
def state_ph(p, h):
    """State at p [Pa], h [J/kg]: (T [K], rho [kg/m3], x, phase); NaN outside the range."""
    return _state_p_y(p, h, 0)


@jit
def state_ps(p, s):
    """State at p [Pa], s [J/kg/K]: (T [K], rho [kg/m3], x, phase); NaN outside the range."""
    return _state_p_y(p, s, 1)


@jit
def _isochore(p, rho, low, high):
    """T on a single-phase isochore between low and high where the pressure is p; NaN outside."""
    T = 0.5 * (low + high)
    bottom = low
    top = high
    low_checked = False
    high_checked = False
    last = math.inf
    for _ in range(200):
        r = eos(T, rho)
        error = p - r[0]
        if error >= 0.0:
            low = T
            low_checked = True
        if error <= 0.0:
            high = T
            high_checked = True
        new = T + error / r[5]
        if abs(new - T) <= 1e-9 and bottom - 1e-8 <= new <= top + 1e-8:
            return min(max(new, bottom), top)
        if not (low < new < high) or abs(error) > 0.7 * last:
            if new >= high and not high_checked:
                new = high
            elif new <= low and not low_checked:
                new = low
            else:
                new = 0.5 * (low + high)
        last = abs(error)
        if new == T:
            if abs(error / r[5]) > 1e-7:
                return math.nan
            return T
        if high - low <= 1e-13 * high:
            return new
        T = new
    return math.nan


@jit
def state_prho(p, rho):
    """State at p [Pa], rho [kg/m3]: (T [K], rho, x, phase); NaN outside the range."""
    n = math.nan
    if not (0.0 < p <= P_MAX * (1.0 + _EDGE) and 0.0 < rho <= _RHO_MAX):
        return n, n, n, LIQUID
    floor = T_TRIPLE
    if RHO_V_TRIPLE <= rho <= RHO_L_TRIPLE:
        if P_TRIPLE <= p < P_CRITICAL:
            T = sat_T(p)
            rho_l = 0.0
            p_sat, rho_l, rho_v = sat_rho(T)
            if rho_v < rho < rho_l:
                x = (1.0 / rho - 1.0 / rho_l) / (1.0 / rho_v - 1.0 / rho_l)
                return T, rho, x, TWO_PHASE
        if rho >= RHO_CRITICAL:
            floor = sat_T_of_rho_l(rho)
        else:
            floor = sat_T_of_rho_v(rho)
    T = _isochore(p, rho, floor, T_MAX)
    if not (T >= T_TRIPLE):
        return n, n, n, LIQUID
    x, phase = _liquid_or_dense(T, rho, p)
    return T, rho, x, phase
