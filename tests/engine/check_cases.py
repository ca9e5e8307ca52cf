"""Small builders for the verification of the engine; no physics of the library in here."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import CoolProp.CoolProp as CP
import numpy as np

from n2osim.hardware.ambient import Ambient
from n2osim.hardware.bottle import Bottle, Layer
from n2osim.hardware.heater import Heater
from n2osim.hardware.materials import Material
from n2osim.hardware.switch import PressureSwitch
from n2osim.results.run import Run
from n2osim.scenario.scenario import FittedBottle, Model, Scenario

DATA = Path(__file__).resolve().parents[1] / "data"
PSI = 6894.757293168361
ATM = 101325.0
NO_HEAT = Model(inside_coefficient=0.0, outside_coefficient=0.0, nodes_per_layer=1)
"""Fluid without any heat from or to the shell."""


def degF(t: float) -> float:
    """Kelvin from degrees Fahrenheit."""
    return (t - 32.0) / 1.8 + 273.15


def to_degF(T: float) -> float:
    """Degrees Fahrenheit from kelvin."""
    return (T - 273.15) * 1.8 + 32.0


def prop(output: str, *pairs: Any) -> float:
    """CoolProp's own value for nitrous oxide."""
    return float(CP.PropsSI(output, *pairs, "NitrousOxide"))


def rows(name: str) -> dict[str, np.ndarray]:
    """Columns of a numeric table in tests/data."""
    with (DATA / name).open(encoding="utf-8", newline="") as stream:
        table = list(csv.DictReader(line for line in stream if not line.startswith("#")))
    return {key: np.array([float(row[key]) for row in table]) for key in table[0]}


def lumped(volume: float, capacity: float, area: float = 0.3) -> Bottle:
    """A shell of one temperature."""
    return Bottle.lumped(volume, capacity, inner_area=area)


def bare_heater(power: float, **fields: Any) -> Heater:
    """A heater that adds nothing of its own: no mass to speak of, perfect contact, no cover."""
    plain = {"heat_capacity": 0.0, "contact_resistance": 0.0, "cover_resistance": 0.0}
    return Heater(power, **(plain | fields))


def plane_wall(layers: list[tuple[float, float, float, float]], shrink: float = 350.0) -> Bottle:
    """A plane wall, as a shell so thin for its radius (0.5 m) that its curvature is nothing.

    layers: (thickness m, k W/m/K, density kg/m3, cp J/kg/K) from the insulated face outwards. Each
    is made ``shrink`` times thinner, with k divided and density multiplied by the same number:
    resistance and heat capacity per area stay, and with them Fourier and Biot number.
    """
    made = tuple(
        Layer(Material(f"layer {i}", k / shrink, k / shrink, rho * shrink, cp), x / shrink)
        for i, (x, k, rho, cp) in enumerate(layers, 1)
    )
    return Bottle("plane wall", 0.9, 1.0, made, end_depth=0.0)


def switch_at(opens_absolute: float, span: float = 1e5, ambient: float = ATM) -> PressureSwitch:
    """A switch that opens at an absolute pressure (Pa)."""
    return PressureSwitch(opens_absolute - ambient - span, opens_absolute - ambient)


def warm_day(temperature: float, **fields: Any) -> Ambient:
    """Constant air temperature (K) at standard pressure."""
    return Ambient(temperature, **fields)


def event_times(run: Run, name: str) -> np.ndarray:
    """Times (s) of all events of that name."""
    return np.array([e.time for e in run.events if e.name == name])


def scenario(
    bottle: Bottle, charge: float, start: float, wall_start: float | None = None, **fields: Any
) -> Scenario:
    """One bottle with ``charge`` (kg) at ``start`` (K), its shell at ``wall_start`` (K)."""
    fitted = FittedBottle(bottle, charge, start, wall_start=wall_start)
    return Scenario(fitted, **fields)
