"""What must be true of every run, whatever the scenario: finite, closed, second law, in range."""

from __future__ import annotations

import math

import numpy as np
from limits_checks import unsaid

from n2osim import fluid
from n2osim.errors import IntegrationError
from n2osim.results.arrays import Variable
from n2osim.results.run import Run
from n2osim.scenario.schedule import Refill

MASS, ENERGY = 1e-9, 1e-6  # relative to gross throughput


def there(run: Run, i: int) -> slice:
    """Rows in which bottle ``i`` has a state: until it leaves the equation of state."""
    return slice(int(np.isfinite(run["pressure_Pa"][i]).sum()))


def _finite(run: Run, v: Variable) -> bool:
    """Whether everything is a number, up to where a bottle has left (and said so)."""
    if v.dims[0] != "bottle" or v.dims[-1] != "time":
        return bool(np.isfinite(v.values).all())
    for i, one in enumerate(run.scenario.bottles):
        rows = there(run, i) if one.name in run.frozen else slice(None)
        if not np.isfinite(v.values[i][..., rows]).all():
            return False
    return True


def not_finite(run: Run) -> list[str]:
    """Names of arrays, events and summaries with a NaN or infinity in them."""
    bad = [n for n, v in run.variables.items() if not _finite(run, v)]
    for e in run.events:
        if not math.isfinite(e.time + e.pressure_gauge):
            bad.append(f"event {e.name}")
    for s in run.segments:
        for key, value in s.as_dict().items():
            if value is None and key in _MAY_BE_NONE:
                continue
            if value is None or (isinstance(value, float) and not math.isfinite(value)):
                bad.append(f"{s.kind}.{key}")
    return bad


_MAY_BE_NONE = frozenset(
    (
        "warm_up_time",
        "duty",
        "switchings_per_hour",
        "overshoot",
        "undershoot",
        "peak_after_open",
        "lowest_after_open",
        "liquid_out_time",
        "refill",
    )
)


def out_of_range(run: Run) -> list[str]:
    """Quantities outside what they can be at all."""
    t = run.time
    rules = {
        "time runs backwards": (np.diff(t) < 0.0).any(),
        "negative mass": (run["zone_mass_kg"] < 0.0).any(),
        "pressure": ((run["pressure_Pa"] <= 0.0) | (run["pressure_Pa"] > 50e6 * 1.001)).any(),
        "quality": ((run["quality"] < -1.0) | (run["quality"] > 1.0 + 1e-9)).any(),
        "level": ((run["liquid_fraction"] < -1e-9) | (run["liquid_fraction"] > 1.0 + 1e-9)).any(),
        # Bottles on one manifold feed each other; one alone can only lose.
        "outflow": len(run.scenario.bottles) == 1 and (run["outflow_kg_s"] < 0.0).any(),
        "heater power": (run["heater_power_W"] < 0.0).any(),
        "wall below absolute zero": (run["wall_temperature_K"] <= 0.0).any(),
        "inside coefficient": (run["inside_coefficient_W_m2K"] < 0.0).any(),
        "mass used backwards": (np.diff(run["mass_out_kg"]) > 1e-12).any()
        and (run["outflow_kg_s"].max() <= 0.0),
    }
    return [name for name, broken in rules.items() if broken]


def not_closed(run: Run) -> list[str]:
    """Balances that do not close to 1e-9 (mass) and 1e-6 (energy), from exported arrays."""
    found = run.closure()
    return [
        f"{name} {value:.2e}"
        for name, value in found.items()
        if not value <= (MASS if name == "mass" else ENERGY)
    ]


# --- second law --------------------------------------------------------------------------------
def fluid_entropy(run: Run, i: int) -> np.ndarray:
    """Entropy (J/K) of one bottle's fluid over time, from exported temperatures and masses."""
    volume = run.scenario.bottles[i].bottle.volume
    rows = there(run, i)
    T, m = run["fluid_temperature_K"][i][:, rows], run["zone_mass_kg"][i][:, rows]
    two = m[1] > 0.0
    total = np.empty(T.shape[1])
    if (~two).any():
        total[~two] = m[0][~two] * fluid.state(T[0][~two], m[0][~two] / volume).s
    if two.any():
        line = fluid.saturation(T[0][two])
        gas = fluid.state(T[1][two], m[1][two] / (volume - m[0][two] / line.rho_l))
        total[two] = m[0][two] * line.s_l + m[1][two] * gas.s
    return total


def shell_entropy(run: Run, i: int) -> np.ndarray:
    """Entropy (J/K, zero at 1 K) of shell and heater over time."""
    capacity = run["wall_heat_capacity_J_K"][i][:, :, None]
    rows = there(run, i)
    wall = (capacity * np.log(run["wall_temperature_K"][i][..., rows])).sum(axis=(0, 1))
    heater = np.log(run["heater_temperature_K"][i][rows])
    return wall + run["heater_heat_capacity_J_K"][i] * heater


def entropy_production(run: Run) -> tuple[float, float]:
    """(least, gross) entropy production (J/K) of stretches between rows without flow.

    System: fluid, shell and heater of each bottle. Electricity and sun bring no entropy; what is
    lost to the air leaves with loss / T_air (the warmer end of the stretch when it leaves, the
    colder when it comes: the bound that is true for any course in between).
    """
    least, gross = 0.0, 0.0
    for i, one in enumerate(run.scenario.bottles):
        rows = there(run, i)
        t, air = run.time[rows], run["air_temperature_K"][rows]
        warm = np.maximum(air[1:], air[:-1])
        cold = np.minimum(air[1:], air[:-1])
        still = run["outflow_kg_s"][i][rows] == 0.0
        still = still[1:] & still[:-1] & (np.diff(run["mass_out_kg"][i][rows]) == 0.0)
        sun = one.bottle.absorbed_sun(run.scenario.ambient.sun)
        lost = np.diff(run["heat_loss_J"][i][rows]) + sun * np.diff(t)
        away = np.where(lost > 0.0, lost / cold, lost / warm)
        made = np.diff(fluid_entropy(run, i)) + np.diff(shell_entropy(run, i)) + away
        made = made[still]
        if len(made):
            least = min(least, float(made.min()))
            gross += float(np.abs(made).sum())
    return least, gross


def second_law_broken(run: Run) -> list[str]:
    """A stretch that destroys more entropy than the integrator's own tolerance allows."""
    least, _ = entropy_production(run)
    worst = 0.0
    for i in range(len(run.scenario.bottles)):
        worst = max(worst, float(run["wall_heat_capacity_J_K"][i].sum()))
    # A millikelvin of error moved from one body to another at a difference of some kelvin.
    allowed = 1e-6 * worst * run.scenario.numerics.tolerance
    return [f"entropy {least:.3e} J/K (allowed {allowed:.1e})"] if least < -allowed else []


def problems(run: Run) -> list[str]:
    """Everything that is wrong with a run; empty when it is sound."""
    found = [f"not finite: {n}" for n in not_finite(run)]
    if found:
        return found
    found += out_of_range(run) + not_closed(run) + second_law_broken(run)
    return found + [f"no finding: {limit}" for limit in unsaid(run)]


def measures(run: Run) -> dict[str, float]:
    """Numbers for a study of many runs: how many things are wrong, and how well it closes."""
    return {"wrong": float(len(problems(run))), **run.closure()}


def leaves_the_equation(run: Run | None) -> bool:
    """Whether a run that ended early was on its way out of the equation of state.

    182.33 to 525 K, up to 50 MPa: the last row must be near one of these ends, or before a refill
    that does not fit, or the shell must be so hot (1500 K) that there is none any more.
    """
    if run is None:
        return False
    last = run.scenario.schedule[int(run["segment"][-1])]
    p = run["pressure_Pa"][:, -1]
    if isinstance(last, Refill) or p.max() > 35e6:
        return True
    for i in range(len(p)):
        present = run["zone_mass_kg"][i, :, -1] > 0.0
        T = run["fluid_temperature_K"][i, :, -1][present]
        # Only its wall heats a fluid that far: one hotter than its wall is a fault of the model.
        if run["wall_temperature_K"][i, :, :, -1].max() > 1500.0:
            return True
        # A gas below the triple point's pressure that liquid is let into freezes within one step.
        if T.min() < 186.0 or (T.min() < 195.0 and p[i] < 95e3):
            return True
        if 505.0 < T.max() < run["wall_temperature_K"][i, :, :, -1].max() + 20.0:
            return True
    return False


def ends_soundly(error: IntegrationError) -> bool:
    """Whether a run had to end early: out of the equation of state, or switching without end.

    More than one event in twenty steps is a control that cycles thousands of times (a light heater
    of kilowatts on its cut-out); more steps than that between events are a fault of the engine.
    """
    run = error.partial_run
    if run is None:
        return False
    busy = 20 * len(run.events) > run.statistics["steps"]
    return leaves_the_equation(run) or (busy and "too many steps" in error.message)
