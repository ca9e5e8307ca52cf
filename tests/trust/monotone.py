"""Where physics says which way an answer must go: pairs of runs that differ in one thing."""

from __future__ import annotations

import numpy as np
from random_scenarios import HOT, JETS_MODELS, Draws, bottle
from run_checks import leaves_the_equation

from n2osim.errors import IntegrationError
from n2osim.hardware.ambient import Ambient
from n2osim.hardware.feed import Feed
from n2osim.hardware.heater import Heater
from n2osim.hardware.jets import Jets
from n2osim.hardware.switch import PressureSwitch
from n2osim.physics.charge import pressure_at
from n2osim.results.run import Run, simulate
from n2osim.scenario.scenario import Model, Scenario
from n2osim.scenario.schedule import Hold, Pass, Rest
from n2osim.units import PSI

# The integrator's stated accuracy over a hold is 0.5 psi (Numerics): two runs that end at the same
# temperature may differ by that.
ACCURACY = 0.5 * PSI
FILM = (None, None, 400.0, 3000.0)


def _first_opening(scenario: Scenario) -> float:
    try:
        run: Run = simulate(scenario)
    except IntegrationError as error:  # a light bottle may pass 525 K before the switch opens
        if error.partial_run is None or not leaves_the_equation(error.partial_run):
            raise
        run = error.partial_run
    return next((e.time for e in run.events if e.name == "switch off"), np.inf)


def more_power_is_not_slower(d: Draws) -> list[str]:
    """More heater power reaches the opening point no later (no cut-out, no self-limiting)."""
    shell = bottle(d)
    power, closes = d.real(20.0, 1500.0), d.real(300.0, 1300.0) * PSI
    fixed = {
        "coverage": d.real(0.05, 0.95),
        "contact_resistance": d.one_of((0.0, 1e-3, 1e-2)),
        "heat_capacity": d.one_of((50.0, 500.0, 5000.0)),
    }
    weak = Scenario(
        shell,
        [Hold("4 h", until_open=True)],
        Ambient(d.real(255.0, 315.0)),
        fill=shell.capacity * d.real(0.1, 1.0),
        start=d.real(245.0, 300.0),
        heater=Heater(power, **fixed),
        switch=PressureSwitch(closes, closes + d.real(5.0, 80.0) * PSI),
        model=Model(inside_coefficient=d.one_of(FILM)),
    )
    strong = weak.replace(heater=Heater(power * d.real(1.02, 4.0), **fixed))
    slow, fast = _first_opening(weak), _first_opening(strong)
    # Near the end of what a weak heater can do the time hangs on a fraction of a psi: 0.5 %.
    if fast > slow * 1.005 + 1.0:
        return [f"{strong.heater.power:.1f} W takes {fast:.1f} s, {power:.1f} W {slow:.1f} s"]
    return []


def warmer_is_not_lower(d: Draws) -> list[str]:
    """At equal charge: higher temperature, no lower pressure; at once and after any rest."""
    shell = bottle(d)
    fill, start = shell.capacity * d.real(0.02, 1.0), d.real(235.0, HOT - 1.0)
    warm = min(start + d.one_of((d.real(0.01, 1.0), d.real(1.0, 40.0))), HOT)
    if not pressure_at(warm, fill, shell.volume) > pressure_at(start, fill, shell.volume):
        return [f"P(T) falls: {fill} kg in {shell.volume} m3, {start} K to {warm} K"]
    cold = Scenario(
        shell,
        [Rest(d.real(60.0, 10_000.0))],
        Ambient(d.real(240.0, 320.0)),
        fill=fill,
        start=start,
        model=Model(inside_coefficient=d.one_of(FILM)),
    )
    a, b = simulate(cold), simulate(cold.replace(start=warm))
    if a["relief_open"].any() or b["relief_open"].any():
        return []
    grid = np.linspace(0.0, a.time[-1], 200)
    low, high = (np.interp(grid, r.time, r["pressure_Pa"][0]) for r in (a, b))
    # Straight lines between rows of different runs: compare where both have been resolved.
    worst = float((high - low).min())
    return [f"warmer start is {-worst:.0f} Pa lower"] if worst < -ACCURACY else []


def larger_jets_pass_more(d: Draws) -> list[str]:
    """Larger jets let out no less, as long as liquid reaches the pick-up of both.

    Once a bottle is down to gas this need not hold: one that empties faster is colder in the end,
    and cold gas at the outside's pressure is more gas.
    """
    shell = bottle(d)
    bore, cd = d.real(3e-4, 2.2e-3), d.real(0.4, 1.0)
    small = Scenario(
        shell,
        [Pass(d.real(0.2, 20.0))],
        Ambient(d.real(255.0, 315.0)),
        fill=shell.capacity * d.real(0.2, 1.0),
        start=d.real(255.0, 320.0),
        feed=Feed(Jets(d.one_of((1, 4)), bore, cd), model=(which := d.one_of(JETS_MODELS))),
        model=Model(inside_coefficient=d.one_of((0.0, *FILM))),
    )
    jets = small.feeds[0][1].jets
    large = small.replace(feed=Feed(Jets(jets.count, bore * d.real(1.01, 1.6), cd), model=which))
    a, b = simulate(small), simulate(large)
    if a["relief_open"].any() or b["relief_open"].any():
        return []
    outs = [e.time for e in b.events if e.name == "liquid-out"]
    grid = np.linspace(0.0, min([float(b.time[-1]), *outs]), 100)
    less, more = (np.interp(grid, r.time, r["mass_out_kg"][0]) for r in (a, b))
    worst = float((more * (1.0 + 1e-3) + 1e-6 * small.fill - less).min())
    return [f"larger jets pass {-worst:.2e} kg less"] if worst < 0.0 else []


RULES = (more_power_is_not_slower, warmer_is_not_lower, larger_jets_pass_more)
