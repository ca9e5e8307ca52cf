"""Engine side of a shot of nitrous oxide: mixture, power, charge cooling, decomposition.

Plain functions of SI floats or arrays. Fuels are in fuels.py. Equivalence ratio here is fuel over
stoichiometric fuel: 1 stoichiometric, above 1 rich, below 1 lean. Lean is what breaks engines.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from n2osim import fluid
from n2osim.errors import InputError, RangeError
from n2osim.physics.fuels import M_AIR, M_N2O, OXYGEN_IN_AIR, OXYGEN_IN_N2O, Fuel
from n2osim.units import format_quantity

Values = Any  # float or float64 array
DECOMPOSITION_ENTHALPY = 82.05e3
"""Heat released by N2O -> N2 + 1/2 O2 at 298 K, J/mol (NIST-JANAF heat of formation)."""
DECOMPOSITION_HEAT = DECOMPOSITION_ENTHALPY / M_N2O
"""The same, J/kg: 1.864 MJ/kg."""
CP_AIR = 1006.0
"""Dry air, J/(kg K), within 0.1 % of Incropera's Table A.4 at 250 to 300 K."""


# --- mixture -------------------------------------------------------------------------------------
def fuel_for(n2o: Values, of: Fuel, equivalence: Values = 1.0) -> Values:
    """Fuel (kg or kg/s) for an amount of N2O at a fuel-air equivalence ratio."""
    return n2o * equivalence / of.n2o_fuel


def shot_equivalence(n2o: Values, fuel_flow: Values, of: Fuel) -> Values:
    """Equivalence ratio of the shot alone: its fuel against its N2O (kg/s each)."""
    return fuel_flow * of.n2o_fuel / n2o


def engine_equivalence(
    n2o: Values, shot_fuel: Values, base_air: Values, base_fuel: Values, of: Fuel
) -> Values:
    """Equivalence ratio of the whole engine: all fuel against oxygen of air and N2O (kg/s)."""
    oxygen = OXYGEN_IN_AIR * base_air + OXYGEN_IN_N2O * n2o
    return (shot_fuel + base_fuel) * of.oxygen / oxygen


def fuel_jet_flow(
    cda: Values,
    gauge_pressure: Values,
    intake_gauge: Values,
    density: Values,
    referenced: bool = False,
) -> Values:
    """Flow of fuel jets, kg/s: incompressible, Cd A sqrt(2 rho dp).

    cda m2; gauge_pressure of the fuel ahead of the jets and intake_gauge at their outlet, Pa;
    density kg/m3. ``referenced``: the regulator follows intake pressure, so that dp stays
    gauge_pressure; otherwise boost is lost from it. No flow when dp is negative.
    """
    drop = gauge_pressure if referenced else np.subtract(gauge_pressure, intake_gauge)
    flow = cda * np.sqrt(2.0 * density * np.maximum(drop, 0.0))
    return float(flow) if np.ndim(flow) == 0 else flow


# --- power ---------------------------------------------------------------------------------------
@dataclass(frozen=True)
class ShotPower:
    """Extra power of a shot and how it was counted.

    fuel_flow kg/s; from_fuel, from_decomposition, total W (at the place that ``accounting`` names).
    """

    fuel_flow: Values
    from_fuel: Values
    from_decomposition: Values
    accounting: str

    @property
    def total(self) -> Values:
        """Extra power, W."""
        return self.from_fuel + self.from_decomposition


DEFAULT_EFFICIENCY = 0.3134
"""Brake efficiency of the fuel that burns where none is stated: what 0.5 lb/hp/h of petrol at a
mixture of 1.15 stands for (common practice, no source)."""
_MOST_EFFICIENT = 0.6  # no piston engine; a BSFC that asks for more belongs to another fuel


def brake_efficiency(bsfc: float, of: Fuel, equivalence: Values = 1.0) -> Values:
    """Brake thermal efficiency, of the fuel that finds oxygen, that a BSFC (kg/J) stands for.

    A BSFC counts the fuel supplied; of a rich mixture (equivalence ratio above 1) only the
    stoichiometric part burns. InputError beyond 0.6.
    """
    eta = np.maximum(equivalence, 1.0) / (bsfc * of.lhv)
    if np.max(eta) > _MOST_EFFICIENT:
        least = float(np.max(eta)) * bsfc / _MOST_EFFICIENT
        raise InputError(
            "BSFC",
            format_quantity(bsfc, "bsfc"),
            "",
            f"{format_quantity(least, 'bsfc')} or more: {of.name} at that mixture holds no more "
            f"heat (brake efficiency {float(np.max(eta)):.2f})",
            "give the BSFC of this fuel at this mixture, or none for a brake efficiency of "
            f"{DEFAULT_EFFICIENCY:.3g}",
        )
    return float(eta) if np.ndim(eta) == 0 else eta


def shot_power(
    n2o: Values,
    of: Fuel,
    equivalence: Values = 1.0,
    *,
    bsfc: float | None = None,
    efficiency: float | None = None,
    decomposition: bool = False,
    power_at: str = "crank",
    driveline_efficiency: float = 1.0,
    fuel_flow: Values | None = None,
) -> ShotPower:
    """Extra power of ``n2o`` kg/s.

    Fuel is what the equivalence ratio asks for, or ``fuel_flow`` where it is given. Power =
    ``efficiency`` (brake thermal) * LHV * fuel that finds oxygen: N2O decides on the rich side of
    stoichiometric, fuel on the lean side. Instead of the efficiency a ``bsfc`` (kg/J) may be
    stated, fuel supplied at the equivalence ratio to power. ``decomposition``: whether the heat of
    N2O's own decomposition counts, at the same efficiency; a BSFC then holds for all of the power,
    as one measured does, and the efficiency is what it asks of fuel and decomposition together.
    ``power_at`` "crank" or "wheel" (times driveline_efficiency).
    """
    if (bsfc is None) == (efficiency is None):
        raise InputError(
            "power",
            f"bsfc={bsfc}, efficiency={efficiency}",
            "",
            "either bsfc or efficiency",
            "give one of them",
        )
    if power_at not in ("crank", "wheel"):
        raise InputError("power at", power_at, "", '"crank" or "wheel"', "choose one of them")
    given = fuel_for(n2o, of, equivalence) if fuel_flow is None else fuel_flow
    burnt = np.minimum(given, fuel_for(n2o, of))
    burnt = float(burnt) if np.ndim(burnt) == 0 else burnt
    eta = brake_efficiency(bsfc, of, equivalence) if bsfc is not None else efficiency or 0.0
    factor = driveline_efficiency if power_at == "wheel" else 1.0
    heat = DECOMPOSITION_HEAT if decomposition else 0.0
    if bsfc is not None and decomposition:
        fuel_heat = np.minimum(fuel_for(1.0, of, equivalence), fuel_for(1.0, of)) * of.lhv
        eta = eta * fuel_heat / (fuel_heat + heat)
    note = (
        f"at the {power_at}, {_efficiency_words(bsfc, eta)}, N2O decomposition heat "
        f"{'counted' if decomposition else 'not counted'}"
    )
    return ShotPower(given, factor * eta * burnt * of.lhv, factor * eta * n2o * heat, note)


def _efficiency_words(bsfc: float | None, eta: Values) -> str:
    said = f"brake efficiency {float(np.max(eta)):.3g} of the fuel that burns"
    if bsfc is None:
        return said
    return f"BSFC {format_quantity(bsfc, 'bsfc')} ({bsfc * 3.6e9:.0f} g/kWh), {said}"


# --- charge cooling ------------------------------------------------------------------------------
@dataclass(frozen=True)
class ChargeCooling:
    """Charge after mixing: temperature K; density_gain, of the whole charge against dry air at
    the air's temperature and the same pressure; air_gain, the same for the air in it alone
    (what the N2O displaces counts against it)."""

    temperature: float
    density_gain: float
    air_gain: float


def charge_cooling(
    air: float,
    n2o: float,
    h_n2o: float,
    temperature: float,
    pressure: float,
    fuel_flow: float = 0.0,
    of: Fuel | None = None,
    evaporated: float = 0.0,
) -> ChargeCooling:
    """Adiabatic mixing of air with N2O that flashes and evaporates completely.

    air, n2o, fuel_flow kg/s; h_n2o J/kg as drawn from the bottle (n2osim.fluid's reference);
    air temperature K; intake pressure Pa absolute; ``evaporated`` fraction of the fuel's latent
    heat taken from the charge. Enthalpy balance with the real vapour enthalpy of N2O at its
    partial pressure and cp of dry air; water vapour, wall heat and the fuel's own sensible heat
    are left out. N2O in the intake without its fuel is an explosion hazard, not a cooler.
    """
    if not (air > 0.0 and n2o >= 0.0 and 0.0 <= evaporated <= 1.0):
        raise RangeError(
            "charge",
            f"air={air}, n2o={n2o}, evaporated={evaporated}",
            "",
            "air above 0, n2o not negative, evaporated 0 to 1",
            "",
        )
    moles = n2o / M_N2O
    x_air = (air / M_AIR) / (air / M_AIR + moles)
    latent = evaporated * fuel_flow * (of.latent_heat if of is not None else 0.0)
    if n2o == 0.0:
        mixed = temperature - latent / (air * CP_AIR)
        return ChargeCooling(mixed, temperature / mixed, temperature / mixed)

    partial = pressure * (1.0 - x_air)

    def excess(T: float) -> float:
        h = float(fluid.state_from_p_T(partial, T).h)
        return air * CP_AIR * (T - temperature) + n2o * (h - h_n2o) + latent

    low, high = fluid.T_TRIPLE, 500.0
    if excess(low) > 0.0:
        raise RangeError(
            "N2O flow",
            n2o,
            "kg/s",
            "what leaves the charge above 182 K",
            "the air cannot evaporate so much: less N2O or more air",
        )
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if excess(middle) < 0.0 else (low, middle)
    mixed = 0.5 * (low + high)
    mean = x_air * M_AIR + (1.0 - x_air) * M_N2O
    warm = temperature / mixed
    return ChargeCooling(mixed, warm * mean / M_AIR, warm * x_air)
