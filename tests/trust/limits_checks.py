"""Limits that a run passes without a finding: from its arrays, not by the code of the rules."""

from __future__ import annotations

import numpy as np

from n2osim import fluid
from n2osim.results.run import Run

PSI = 6894.757293168361
F_125, F_131 = (125.0 + 459.67) / 1.8, (131.0 + 459.67) / 1.8


def passed_limits(run: Run) -> set[tuple[str, str]]:
    """(code, bottle) of every limit that a row of the run lies beyond."""
    beyond: set[tuple[str, str]] = set()
    for i, fitted in enumerate(run.scenario.bottles):
        beyond |= {(code, fitted.name) for code in _of_bottle(run, i)}
    return beyond | {(code, "") for code in _of_engine(run)}


def _of_bottle(run: Run, i: int) -> set[str]:
    fitted = run.scenario.bottles[i]
    bottle = fitted.bottle
    gauge = run["pressure_Pa"][i] - run.scenario.ambient.pressure
    mass, T = run["mass_kg"][i], run["fluid_temperature_K"][i, 0]
    wall, weight = run["wall_temperature_K"][i], run["wall_heat_capacity_J_K"][i]
    mean = (wall * weight[:, :, None]).sum(axis=(0, 1)) / weight.sum()
    opened = bool((run["relief_flow_kg_s"][i] > 0.0).any())
    relief, test, service = bottle.relief_pressure, bottle.test_pressure, bottle.service_pressure
    rules = {
        "overfilled": mass.max() > 680.0 * bottle.volume * 1.001,
        "over-125-degF": max(T.max(), mean.max()) > F_125 + 0.01,
        "over-test-pressure": test is not None and gauge.max() > test + 1.0,
        "over-service-pressure": service is not None and gauge.max() > service + 1.0,
        "relief-opened": opened,
        "relief-margin": relief is not None and not opened and gauge.max() > 0.9 * relief + 1.0,
        "layer-too-hot": bottle.max_wall_temperature is not None
        and len(bottle.layers) == 1
        and wall.max() > bottle.max_wall_temperature + 0.01,
        "liquid-full": _is_liquid_full(mass / bottle.volume, T),
        "nearly-empty": mass.min() < 0.02 * bottle.capacity * 0.999
        and not run["relief_open"][i].any(),
        "relief-not-stated": relief is None,
        "service-not-stated": service is None,
        "no-pressure-switch": fitted.switch is None
        and fitted.follows is None
        and bool((run["heater_power_W"][i] > 0.0).any()),
    }
    rules |= _of_switch(run, i, gauge)
    return {code for code, is_beyond in rules.items() if is_beyond}


def _is_liquid_full(density: np.ndarray, T: np.ndarray) -> bool:
    """Some row dense and single-phase by the equation of state (and clearly so)."""
    for r in np.flatnonzero(density > fluid.RHO_CRITICAL * 1.001)[:: max(1, len(T) // 60)]:
        warm = float(T[r])
        if warm > fluid.T_CRITICAL + 0.05:
            return True
        if (
            fluid.T_TRIPLE < warm < fluid.T_CRITICAL
            and density[r] > float(fluid.saturation(warm).rho_l) * 1.001
        ):
            return True
    return False


def _of_switch(run: Run, i: int, gauge: np.ndarray) -> dict[str, bool]:
    fitted = run.scenario.bottles[i]
    switch = fitted.switch
    if fitted.heater is None or switch is None:
        return {}
    on = bool((run["heater_power_W"][i] > 0.0).any())
    return {
        "relay-welded": switch.fault == "welded" and on,
        "switch-stuck-open": switch.fault == "stuck open",
        "sensor-in-line": switch.sensor == "line" and on,
        "scatter-wider-than-band": 2.0 * switch.tolerance > (switch.opens - switch.closes) * 1.001,
    }


def _of_engine(run: Run) -> set[str]:
    trace = run.engine
    if trace is None:
        return set()
    found = set()
    n2o, fuel = trace["n2o_flow_kg_s"], trace["fuel_flow_kg_s"]
    ratio = np.divide(fuel, n2o, out=np.full(len(n2o), np.nan), where=n2o > 1e-9)
    wanted = np.divide(
        trace["fuel_wanted_kg_s"], n2o, out=np.full(len(n2o), np.nan), where=n2o > 1e-9
    )
    for one in trace.passes:
        rows = (run["segment"] == one.index) & (n2o > 2e-3 * one.n2o.maximum)
        lean = rows & (ratio < 0.95 * wanted * 0.999)
        both = lean[:-1] & lean[1:]
        if (np.diff(run.time) * both).sum() > 0.21:
            found.add("lean" if fuel[rows].max(initial=0.0) > 0.0 else "no-fuel")
    return found


def unsaid(run: Run) -> list[str]:
    """Limits that the run passes and no finding speaks of."""
    said = {(f.code, f.bottle) for f in run.findings}
    return sorted(f"{code} ({bottle})" for code, bottle in passed_limits(run) - said)
