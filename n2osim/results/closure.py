"""Mass and energy closure of a run, from what it exports and nothing else.

The internal energy is computed afresh from exported temperatures and masses with the equation of
state, wall energy from exported node temperatures and heat capacities. Nothing here reads the
integrator's own energy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from n2osim.results.run import Run


def fluid_energy(run: Run, bottle: int) -> np.ndarray:
    """Internal energy (J) of one bottle's fluid over time from exported T and m, shape (time,)."""
    volume = run.scenario.bottles[bottle].bottle.volume
    T, m = run["fluid_temperature_K"][bottle], run["zone_mass_kg"][bottle]
    there = np.isfinite(T[0])
    total = np.full(T.shape[1], np.nan)
    total[there] = _energy(T[:, there], m[:, there], volume)
    return total


def _energy(T: np.ndarray, m: np.ndarray, volume: float) -> np.ndarray:
    from n2osim.fluid import saturation, state

    two = m[1] > 0
    total = np.empty(T.shape[1])
    if (~two).any():
        mass = m[0][~two]
        total[~two] = mass * state(T[0][~two], mass / volume).u
    if two.any():
        liquid = saturation(T[0][two])
        rest = volume - m[0][two] / liquid.rho_l
        vapour = state(T[1][two], m[1][two] / rest)
        total[two] = m[0][two] * liquid.u_l + m[1][two] * vapour.u
    return total


def shell_energy(run: Run, bottle: int) -> np.ndarray:
    """Heat stored in shell and heater (J, zero at 0 K) of one bottle over time, shape (time,)."""
    capacity = run["wall_heat_capacity_J_K"][bottle]
    wall = (capacity[:, :, None] * run["wall_temperature_K"][bottle]).sum(axis=(0, 1))
    return wall + run["heater_heat_capacity_J_K"][bottle] * run["heater_temperature_K"][bottle]


def closure(run: Run) -> dict[str, float]:
    """Worst relative closure over time and bottles: ``mass``, ``fluid_energy``, ``shell_energy``.

    Each is |stored - started - net in| over the gross throughput of the run (mass moved; heat and
    enthalpy moved). Undefined (0) while nothing has moved.
    """
    worst = {"mass": 0.0, "fluid_energy": 0.0, "shell_energy": 0.0}
    for i in range(len(run.scenario.bottles)):
        there = np.isfinite(run["pressure_Pa"][i])  # until it leaves the equation of state
        mass, out = run["mass_kg"][i][there], run["mass_out_kg"][i][there]
        heat, carried = run["heat_to_fluid_J"][i][there], run["enthalpy_out_J"][i][there]
        electric, loss = run["heater_energy_J"][i][there], run["heat_loss_J"][i][there]
        energy = fluid_energy(run, i)[there]
        shell = shell_energy(run, i)[there]
        gross_m = _gross(out) + mass[0]
        # A temperature is known to some 1e-11 of itself: of a large bottle that hardly moves any
        # heat that is more than a millionth of what it moves.
        gross_u = max(_gross(heat) + _gross(carried), 1e-4 * float(np.abs(energy).max()))
        gross_s = _gross(electric) + _gross(heat) + _gross(loss)
        _worse(worst, "mass", mass - mass[0] + out, gross_m)
        _worse(worst, "fluid_energy", energy - energy[0] - heat + carried, gross_u)
        _worse(worst, "shell_energy", shell - shell[0] - electric + heat + loss, gross_s)
    return worst


def _gross(x: np.ndarray) -> float:
    """Everything moved during the run, whichever way."""
    return float(np.abs(np.diff(x)).sum())


def _worse(worst: dict[str, float], name: str, residual: np.ndarray, gross: float) -> None:
    # Below this (10 J, a milligram) the ratio is rounding over rounding.
    floor = 1e-6 if name == "mass" else 10.0
    ratio = float(np.abs(residual).max()) / max(gross, floor)
    worst[name] = max(worst[name], ratio)
