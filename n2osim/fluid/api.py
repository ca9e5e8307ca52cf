"""Array-capable public functions over the compiled kernels, with range checks.

Every function takes SI floats or arrays (broadcast together), or a text with a unit ("95 degF",
"1000 psia") or pint quantity, and answers in SI in the same shape; an array gives exactly what
its elements give one by one. Valid from the triple-point temperature (182.33 K) to 525 K and up to
50 MPa, the range of the equation of state; outside it a RangeError names the first offending value.
Nothing is extrapolated.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from n2osim.errors import InputError, RangeError
from n2osim.fluid import _loops as loops
from n2osim.fluid import flash, phase, saturation, state
from n2osim.fluid.equation_of_state import P_MAX, T_CRITICAL, T_MAX, T_TRIPLE
from n2osim.units import parse

Values: TypeAlias = Any  # float for float input, NDArray[float64] for array input
Quantity: TypeAlias = Any  # SI float or array-like of them, text with a unit, pint quantity


class Phase(IntEnum):
    """The four phases (phase.py has the rule)."""

    LIQUID = phase.LIQUID
    TWO_PHASE = phase.TWO_PHASE
    VAPOUR = phase.VAPOUR
    SUPERCRITICAL = phase.SUPERCRITICAL


@dataclass(frozen=True)
class State:
    """Thermodynamic state; floats, or arrays of one shape.

    p Pa, T K, rho kg/m3, u and h J/kg, s J/kg/K (h = s = 0 for saturated liquid at the normal
    boiling point), cv J/kg/K (the true one, also of a two-phase mixture at equilibrium: what heats
    it at constant volume), quality (vapour mass fraction: 0 for liquid, 1 for vapour; supercritical
    fluid, which has none, counts as 1 below the critical density and as 0 above it), phase (a
    Phase, or an array of its integers).
    """

    p: Values
    T: Values
    rho: Values
    u: Values
    h: Values
    s: Values
    cv: Values
    quality: Values
    phase: Any

    @property
    def phase_name(self) -> Any:
        """ "liquid", "two-phase", "vapour" or "supercritical" (an array of them for arrays)."""
        names = np.array(phase.PHASE_NAMES)[np.asarray(self.phase)]
        return str(names) if np.ndim(names) == 0 else names


@dataclass(frozen=True)
class Saturation:
    """Liquid (_l) and vapour (_v) in equilibrium; floats, or arrays of one shape.

    T K, p Pa, rho kg/m3, u and h J/kg, s J/kg/K, dpdT (slope of the vapour pressure) Pa/K.
    """

    T: Values
    p: Values
    rho_l: Values
    rho_v: Values
    u_l: Values
    u_v: Values
    h_l: Values
    h_v: Values
    s_l: Values
    s_v: Values
    dpdT: Values

    @property
    def h_vap(self) -> Values:
        """Heat of vaporisation, J/kg."""
        return self.h_v - self.h_l


@dataclass(frozen=True)
class _Quantity:
    name: str
    unit: str
    dimension: str  # as n2osim.units names it


_TEMPERATURE = _Quantity("temperature", "K", "temperature")
_PRESSURE = _Quantity("pressure", "Pa", "pressure")
_DENSITY = _Quantity("density", "kg/m3", "density")
_ENERGY = _Quantity("internal energy", "J/kg", "specific_energy")
_ENTHALPY = _Quantity("enthalpy", "J/kg", "specific_energy")
_ENTROPY = _Quantity("entropy", "J/kg/K", "specific_heat")
_T_RANGE = f"{T_TRIPLE:g} to {T_MAX:g} K"
_T_SAT_RANGE = f"{T_TRIPLE:g} to {T_CRITICAL:.6f} K (the critical point)"
_P_RANGE = f"above 0 to {P_MAX:g} Pa (50 MPa)"
_STAY_INSIDE = "the equation of state ends there: stay inside, nothing is extrapolated"


def _read(value: Any, quantity: _Quantity) -> NDArray[np.float64]:
    """A float array of finite SI numbers from numbers, arrays, text with a unit or pint."""
    if isinstance(value, str) or hasattr(value, "magnitude"):
        if np.ndim(getattr(value, "magnitude", 0.0)):
            return np.stack([_read(entry, quantity) for entry in value])
        return np.asarray(parse(value, quantity.dimension, name=quantity.name))
    try:
        array = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        valid = f"a number or array of numbers in {quantity.unit}"
        raise InputError(quantity.name, value, "", valid, "or one text with a unit") from None
    _reject(~np.isfinite(array), array, quantity, "finite numbers", "give a finite number")
    return array


def _reject(
    bad: NDArray[np.bool_], array: NDArray[np.float64], quantity: _Quantity, valid: str, remedy: str
) -> None:
    """Raise a RangeError naming the first value of ``array`` where ``bad``."""
    if not np.any(bad):
        return
    index = tuple(int(i) for i in np.argwhere(bad)[0])
    name = quantity.name if array.ndim == 0 else f"{quantity.name} at index {list(index)}"
    raise RangeError(name, float(array[index]), quantity.unit, valid, remedy)


def _check_T(T: NDArray[np.float64], top: float = T_MAX, valid: str = _T_RANGE) -> None:
    _reject((T < T_TRIPLE) | (top < T), T, _TEMPERATURE, valid, _STAY_INSIDE)


def _check_p(p: NDArray[np.float64]) -> None:
    _reject((p <= 0.0) | (p > P_MAX), p, _PRESSURE, _P_RANGE, _STAY_INSIDE)


def _check_rho(rho: NDArray[np.float64]) -> None:
    remedy = "a density is positive: check the mass and the volume it came from"
    _reject(rho <= 0.0, rho, _DENSITY, "above 0 kg/m3", remedy)


def _unwrap(row: NDArray[np.float64]) -> Values:
    return float(row) if row.ndim == 0 else row


_STATE_FIELDS = ("p", "T", "rho", "u", "h", "s", "cv", "quality")


def _state_result(T: NDArray[np.float64], rho: NDArray[np.float64]) -> State:
    out = loops.run(loops.fill_state, 9, T, rho)
    values = dict(zip(_STATE_FIELDS, (_unwrap(row) for row in out[:8]), strict=True))
    code = out[8].astype(np.int8)
    return State(**values, phase=Phase(int(code)) if code.ndim == 0 else code)


def at_T_rho(T: Quantity, rho: Quantity) -> State:
    """State at temperature and density: ``n2osim.fluid.state(T, rho)``.

    Parameters: T [K], 182.33 to 525; rho [kg/m3], above 0 and with a pressure up to 50 MPa.
    Returns a State of the broadcast shape. Raises RangeError outside.
    Source: Lemmon & Span (2006) as in CoolProp; true two-phase c_v by the Yang-Yang relation.

    >>> from n2osim import fluid
    >>> round(fluid.state(293.15, 500.0).cv)     # J/kg/K, of the boiling mixture
    2658
    """
    T_array, rho_array = np.broadcast_arrays(_read(T, _TEMPERATURE), _read(rho, _DENSITY))
    _check_T(T_array)
    _check_rho(rho_array)
    result = _state_result(T_array, rho_array)
    outside = np.isnan(np.asarray(result.p))
    valid = f"a density with a pressure up to {P_MAX:g} Pa (50 MPa) at its temperature"
    _reject(outside, rho_array, _DENSITY, valid, _STAY_INSIDE)
    return result


def at_saturation(T: Quantity) -> Saturation:
    """Saturated liquid and vapour: ``n2osim.fluid.saturation(T)``.

    Parameters: T [K], 182.33 to the critical temperature (309.5207). Raises RangeError outside.
    Source: super-ancillary equations of CoolProp for the Lemmon & Span (2006) equation.

    >>> from n2osim import fluid
    >>> round(fluid.saturation(293.15).p / 1e5, 2)     # bar
    50.53
    """
    T_array = _read(T, _TEMPERATURE)
    _check_T(T_array, T_CRITICAL, _T_SAT_RANGE)
    return Saturation(*[_unwrap(row) for row in loops.run(loops.fill_saturation, 11, T_array)])


def saturation_temperature(p: Quantity) -> Values:
    """Saturation temperature, K, at p [Pa], triple-point to critical pressure (RangeError)."""
    p_array = _read(p, _PRESSURE)
    low, high = saturation.P_TRIPLE, saturation.P_CRITICAL
    valid = f"{low:.0f} to {high:.0f} Pa (triple point to critical point)"
    remedy = "above the critical pressure there is no saturation: ask for state_from_p_T"
    _reject((p_array < low) | (p_array > high), p_array, _PRESSURE, valid, remedy)
    return _unwrap(loops.run(loops.fill_sat_T, 1, p_array)[0])


def state_from_rho_u(rho: Quantity, u: Quantity) -> State:
    """State at density [kg/m3] and internal energy [J/kg] (RangeError outside)."""
    rho_array, u_array = np.broadcast_arrays(_read(rho, _DENSITY), _read(u, _ENERGY))
    _check_rho(rho_array)
    return _flash(loops.fill_rho_u, rho_array, u_array, _ENERGY, _u_range)


def state_from_p_rho(p: Quantity, rho: Quantity) -> State:
    """State at pressure [Pa] and density [kg/m3] (RangeError outside)."""
    p_array, rho_array = np.broadcast_arrays(_read(p, _PRESSURE), _read(rho, _DENSITY))
    _check_p(p_array)
    _check_rho(rho_array)
    return _flash(loops.fill_p_rho, p_array, rho_array, _DENSITY, _isobar_range("rho"))


def state_from_p_h(p: Quantity, h: Quantity) -> State:
    """State at pressure [Pa] and enthalpy [J/kg] (RangeError outside)."""
    p_array, h_array = np.broadcast_arrays(_read(p, _PRESSURE), _read(h, _ENTHALPY))
    _check_p(p_array)
    return _flash(loops.fill_p_h, p_array, h_array, _ENTHALPY, _isobar_range("h"))


def state_from_p_s(p: Quantity, s: Quantity) -> State:
    """State at pressure [Pa] and entropy [J/kg/K] (RangeError outside)."""
    p_array, s_array = np.broadcast_arrays(_read(p, _PRESSURE), _read(s, _ENTROPY))
    _check_p(p_array)
    return _flash(loops.fill_p_s, p_array, s_array, _ENTROPY, _isobar_range("s"))


def state_from_p_T(p: Quantity, T: Quantity) -> State:
    """State at pressure [Pa] and temperature [K], one phase (RangeError outside).

    On the saturation line itself p and T do not tell liquid from vapour: liquid is returned.
    """
    p_array, T_array = np.broadcast_arrays(_read(p, _PRESSURE), _read(T, _TEMPERATURE))
    _check_p(p_array)
    _check_T(T_array)
    return _flash(loops.fill_p_T, p_array, T_array, _TEMPERATURE, lambda p, T: _T_RANGE)


def _flash(
    kernel: Callable[..., None],
    first: NDArray[np.float64],
    second: NDArray[np.float64],
    quantity: _Quantity,
    valid_range: Callable[[float, float], str],
) -> State:
    """Run a flash kernel, refuse what it could not place, complete the state."""
    T, rho = loops.run(kernel, 2, first, second)
    bad = np.isnan(T) | np.isnan(rho)
    if np.any(bad):
        index = tuple(np.argwhere(bad)[0])
        valid = valid_range(float(first[index]), float(second[index]))
        _reject(bad, second, quantity, valid, _STAY_INSIDE)
    return _state_result(np.asarray(T), np.asarray(rho))


def _isobar_range(name: str) -> Callable[[float, float], str]:
    """The valid range of a State field along an isobar, in words."""
    unit = {"rho": "kg/m3", "h": "J/kg", "s": "J/kg/K"}[name]

    def valid(p: float, _second: float) -> str:
        ends = [getattr(state_from_p_T(p, T), name) for T in (T_TRIPLE, T_MAX)]
        return f"{min(ends):.6g} to {max(ends):.6g} {unit} at {p:.6g} Pa ({_T_RANGE})"

    return valid


def _u_range(rho: float, _u: float) -> str:
    """The valid range of internal energy at a density, in words."""
    top = flash.state_prho(P_MAX, rho)[0]
    bottom_u = state.state_Trho(T_TRIPLE, rho)[1]
    top_u = state.state_Trho(T_MAX if np.isnan(top) else top, rho)[1]
    if np.isnan(bottom_u) or np.isnan(top_u):
        return f"none: at {rho:.6g} kg/m3 the pressure is above {P_MAX:g} Pa (50 MPa) throughout"
    return f"{bottom_u:.6g} to {top_u:.6g} J/kg at {rho:.6g} kg/m3 ({_T_RANGE}, up to 50 MPa)"


def _single_phase_property(row: int, T: Quantity, rho: Quantity) -> Values:
    """A property that only one phase has; a density inside the dome is refused."""
    where = at_T_rho(T, rho)
    density = np.asarray(where.rho)
    remedy = "ask at saturation(T).rho_l or .rho_v"
    valid = "liquid, vapour or supercritical: a two-phase mixture has no such property"
    _reject(np.asarray(where.phase) == phase.TWO_PHASE, density, _DENSITY, valid, remedy)
    return _unwrap(loops.run(loops.fill_single, 5, np.asarray(where.T), density)[row])


def heat_capacity_cp(T: Quantity, rho: Quantity) -> Values:
    """Isobaric heat capacity, J/kg/K, of one phase at T [K], rho [kg/m3] (RangeError)."""
    return _single_phase_property(0, T, rho)


def expansion_coefficient(T: Quantity, rho: Quantity) -> Values:
    """Isobaric expansion coefficient, 1/K, of one phase at T [K], rho [kg/m3] (RangeError)."""
    return _single_phase_property(1, T, rho)


def speed_of_sound(T: Quantity, rho: Quantity) -> Values:
    """Speed of sound, m/s, of one phase at T [K], rho [kg/m3] (RangeError)."""
    return _single_phase_property(2, T, rho)


def viscosity(T: Quantity, rho: Quantity) -> Values:
    """Viscosity, Pa s, of one phase at T [K], rho [kg/m3]; accuracy in transport.py."""
    return _single_phase_property(3, T, rho)


def conductivity(T: Quantity, rho: Quantity) -> Values:
    """Thermal conductivity, W/m/K, of one phase at T [K], rho [kg/m3]; accuracy in transport.py."""
    return _single_phase_property(4, T, rho)


def surface_tension(T: Quantity) -> Values:
    """Surface tension, N/m, at T [K] up to the critical point (Mulero et al. 2012)."""
    T_array = _read(T, _TEMPERATURE)
    _check_T(T_array, T_CRITICAL, _T_SAT_RANGE)
    return _unwrap(loops.run(loops.fill_surface_tension, 1, T_array)[0])
