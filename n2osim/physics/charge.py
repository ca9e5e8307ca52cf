"""Pressure, temperature and fill of a closed bottle.

A bottle at rest sits at fixed density (charge over water capacity), so its pressure follows the
saturation line only until it is liquid-full (dense charges) or all vapour (light ones), and leaves
it from there. "100 %" is a filling density of 680 kg/m3 (49 CFR 173.304a: 68 % of the water the
bottle holds); the constant lives in :mod:`n2osim.hardware.cylinder_rules`.

Quantities are SI floats or arrays, or text with a unit; pressures are ABSOLUTE. Properties come
from the equation of state of :mod:`n2osim.fluid`, whose range (182.33 to 525 K, 50 MPa) holds.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from n2osim import fluid
from n2osim.errors import InputError, NoSolutionError, RangeError
from n2osim.fluid.phase import TWO_PHASE
from n2osim.fluid.saturation import sat_T_of_rho_l, sat_T_of_rho_v
from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY
from n2osim.units import format_quantity, parse

LIQUID_FULL = "liquid-full"
ALL_VAPOUR = "all vapour"


def _si(value: Any, dimension: str, name: str) -> Any:
    """SI float of a text or scalar, or float array of an array; all finite and above zero."""
    if np.ndim(value) == 0 or hasattr(value, "to_base_units"):
        return parse(value, dimension, name=name, low=0.0, low_open=True)
    array = np.asarray(value, dtype=float)
    if not (np.isfinite(array) & (array > 0.0)).all():
        bad = float(array[~(np.isfinite(array) & (array > 0.0))][0])
        raise RangeError(name, bad, "", "finite numbers above 0", "")
    return array


def _over(function: Callable[[float], float], values: Any) -> Any:
    """A scalar kernel over a float or an array."""
    if np.ndim(values) == 0:
        return function(float(values))
    return np.vectorize(function, otypes=[float])(values)


def filling_density(charge: Any, volume: Any) -> Any:
    """Charge over water capacity, kg/m3; ``charge`` (kg), ``volume`` (m3)."""
    return _si(charge, "mass", "charge") / _si(volume, "volume", "water capacity")


def filling_fraction(charge: Any, volume: Any) -> Any:
    """Filling density over 680 kg/m3: 1.0 is "100 % full" (49 CFR 173.304a)."""
    return filling_density(charge, volume) / FULL_FILLING_DENSITY


def charge_for_fraction(fraction: Any, volume: Any) -> Any:
    """Charge (kg) at ``fraction`` (1.0 or "100 %") of the full filling density."""
    part = _si(fraction, "fraction", "fill fraction")
    return part * FULL_FILLING_DENSITY * _si(volume, "volume", "water capacity")


def pressure_at(temperature: Any, charge: Any, volume: Any) -> Any:
    """ABSOLUTE pressure (Pa) of ``charge`` (kg) in ``volume`` (m3) at ``temperature`` (K).

    Any phase, overfilled bottles included. RangeError outside the equation of state.

    >>> from n2osim.units import to_psia
    >>> round(to_psia(pressure_at("100 degF", 6.8, 0.010)), 1)      # 680 kg/m3
    1266.5
    """
    return fluid.state(temperature, filling_density(charge, volume)).p


def temperature_for_pressure(pressure: Any, charge: Any, volume: Any) -> Any:
    """Temperature (K) at which ``charge`` in ``volume`` reads ABSOLUTE ``pressure`` (Pa).

    NoSolutionError when the charge does not reach that pressure between 182.33 and 525 K.
    """
    density = filling_density(charge, volume)
    try:
        return fluid.state_from_p_rho(pressure, density).T
    except RangeError as problem:
        if problem.quantity != "density":
            raise
        raise NoSolutionError(
            f"no temperature between 182.33 and 525 K gives this pressure at a filling density of "
            f"{problem.value:.6g} kg/m3; such pressures need {problem.valid}"
        ) from problem


def leaves_saturation(density: float) -> tuple[float, str]:
    """(temperature, K; ``LIQUID_FULL`` or ``ALL_VAPOUR``) where a density leaves two phases.

    Above the critical density (452 kg/m3) heating makes the bottle liquid-full, below it the last
    liquid boils away. Densities beyond the triple point's (1237 kg/m3; 2.6 kg/m3 of vapour) have
    none: RangeError.
    """
    density = _si(density, "density", "filling density")
    dense = density >= fluid.RHO_CRITICAL
    T = float(sat_T_of_rho_l(density) if dense else sat_T_of_rho_v(density))
    if not np.isfinite(T):
        triple = fluid.saturation(fluid.T_TRIPLE)
        raise RangeError(
            "filling density",
            density,
            "kg/m3",
            f"{triple.rho_v:.4g} to {triple.rho_l:.6g} kg/m3 (triple point)",
            "such a bottle is never two-phase",
        )
    return T, LIQUID_FULL if dense else ALL_VAPOUR


def liquid_full_temperature(density: Any) -> Any:
    """Temperature (K) at which a filling density (kg/m3; array ok) becomes liquid-full.

    NaN at or below the critical density, where the bottle never becomes liquid-full, and beyond
    the triple-point liquid.
    """
    rho = _si(density, "density", "filling density")
    critical = fluid.RHO_CRITICAL
    return _over(lambda r: sat_T_of_rho_l(r) if r > critical else float("nan"), rho)


def liquid_volume_fraction(temperature: Any, charge: Any, volume: Any) -> Any:
    """Share (0 to 1) of the water capacity that is liquid; the rest is ullage.

    1 for a liquid-full bottle, 0 for vapour; a supercritical charge has no level: NaN.
    """
    here = fluid.state(temperature, filling_density(charge, volume))
    T, rho, phase = np.asarray(here.T), np.asarray(here.rho), np.asarray(here.phase)
    share = np.full(np.broadcast(T, rho).shape, np.nan)
    two = phase == TWO_PHASE
    line = fluid.saturation(np.where(two, T, fluid.T_TRIPLE))
    part = (rho - line.rho_v) / (np.asarray(line.rho_l) - line.rho_v)
    share = np.where(two, part, share)
    share = np.where(phase == int(fluid.Phase.LIQUID), 1.0, share)
    share = np.where(phase == int(fluid.Phase.VAPOUR), 0.0, share)
    return float(share) if share.ndim == 0 else share


def charge_from_state(
    pressure: Any, temperature: Any, volume: Any, tolerance: Any = 0.005
) -> float:
    """Charge (kg) of a bottle from what its gauge and its thermometer say.

    Only a single-phase bottle tells its charge this way. Within ``tolerance`` (of the pressure,
    default 0.5 %) of saturation it does not: :class:`NoSolutionError` "not determinable:
    saturated", whose ``nearest`` is the (least, largest) two-phase charge in kg. ``pressure``
    ABSOLUTE Pa, ``temperature`` K, ``volume`` m3.
    """
    p = _si(pressure, "pressure", "bottle pressure")
    T = _si(temperature, "temperature", "bottle temperature")
    held = _si(volume, "volume", "water capacity")
    if np.ndim(p) or np.ndim(T) or np.ndim(held):
        raise InputError("bottle state", "array", "", "single values", "ask bottle by bottle")
    band = parse(tolerance, "fraction", name="pressure tolerance", low=0.0, high=0.5)
    if T <= fluid.T_CRITICAL:
        line = fluid.saturation(T)
        if abs(p - line.p) <= band * line.p:
            nearest = (line.rho_v * held, line.rho_l * held)
            raise NoSolutionError(
                "charge is not determinable: saturated. At this temperature any charge from "
                f"{format_quantity(nearest[0], 'mass')} to {format_quantity(nearest[1], 'mass')} "
                f"reads {format_quantity(line.p, 'pressure')}; weigh the bottle instead",
                nearest,
            )
    return float(fluid.state_from_p_T(p, T).rho * held)


def trapped_liquid_pressure(temperature: Any, shut_at: Any) -> Any:
    """ABSOLUTE pressure (Pa) of a line shut in full of saturated liquid at ``shut_at`` (K).

    ``temperature`` (K) of the line later. Constant density: the hose's own give is not counted,
    which makes this the upper bound. Below ``shut_at`` it is two-phase, on the saturation line.
    RangeError above the 50 MPa of the equation of state.

    >>> from n2osim.units import to_psia
    >>> round(to_psia(trapped_liquid_pressure("80 degF", "70 degF")))
    1121
    """
    return fluid.state(temperature, fluid.saturation(shut_at).rho_l).p
