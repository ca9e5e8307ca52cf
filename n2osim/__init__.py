"""n2osim: real-fluid simulation of nitrous-oxide bottles, heaters and passes.

    import n2osim as n2

    bottle = n2.Bottle.preset("aluminium", capacity="12 lb")
    scenario = n2.Scenario(
        bottle, fill="12 lb", start="60 degF", ambient=n2.Ambient("60 degF"),
        heater=n2.Heater("300 W"), switch=n2.PressureSwitch("1000 psig", "1100 psig"),
        feed=n2.Feed(n2.Jets(4, "0.028 in")),
        schedule=[n2.Hold("45 min"), n2.Pass("9 s"), n2.Rest("20 min")],
    )
    run = n2.simulate(scenario)
    print(run.summary())

Everything public hangs here and is loaded when first used, so that importing costs little.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

# name -> module that defines it; loaded on first use (PEP 562)
_WHERE = {
    **dict.fromkeys(
        ("Ambient", "Boot", "DayNight", "TemperatureTable", "standard_pressure"),
        "n2osim.hardware.ambient",
    ),
    **dict.fromkeys(("Bottle", "Layer"), "n2osim.hardware.bottle"),
    **dict.fromkeys(("Material", "material"), "n2osim.hardware.materials"),
    **dict.fromkeys(("CutOut", "Heater", "Supply"), "n2osim.hardware.heater"),
    "PressureSwitch": "n2osim.hardware.switch",
    "Jets": "n2osim.hardware.jets",
    **dict.fromkeys(("Feed", "FeedLine", "Valve"), "n2osim.hardware.feed"),
    "EngineSide": "n2osim.hardware.engine",
    **dict.fromkeys(
        ("FittedBottle", "Model", "Mounting", "Numerics", "Scenario"), "n2osim.simulation.scenario"
    ),
    **dict.fromkeys(
        ("Hold", "Pass", "Purge", "Refill", "Rest", "Stage", "Weigh"), "n2osim.simulation.schedule"
    ),
    **dict.fromkeys(("Event", "Run", "simulate"), "n2osim.simulation.run"),
    **dict.fromkeys(
        (
            "compare_shells",
            "correction_table",
            "hold_power",
            "hot_soak",
            "inside_sensitivity",
            "monte_carlo",
            "passes_per_fill",
            "pressure_error_table",
            "run_ensemble",
            "set_band",
            "size_bottle",
            "size_heater",
            "size_jets",
            "sobol_indices",
            "sweep",
            "time_to_limits",
            "warm_up_table",
        ),
        "n2osim.studies",
    ),
    **dict.fromkeys(("closed_space", "volume_made_deficient"), "n2osim.physics.enclosure"),
    "RaceDay": "n2osim.studies.race_plan",
    "race_day": "n2osim.studies.race_day",
    "calibrate": "n2osim.studies.calibrate",
    "read_log": "n2osim.studies.logs",
    "N2OSimError": "n2osim.errors",
}
_MODULES = ("errors", "fluid", "hardware", "physics", "reporting", "simulation", "studies", "units")

__all__ = ["__version__", *sorted(_WHERE), *_MODULES]


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        value = getattr(importlib.import_module(_WHERE[name]), name)
        globals()[name] = value
        return value
    if name in _MODULES:
        return importlib.import_module(f"n2osim.{name}")
    if name.startswith("__"):
        raise AttributeError(name)
    from n2osim.errors import did_you_mean

    hint = did_you_mean(name, __all__)
    raise AttributeError(f"n2osim has no {name!r}" + (f"; {hint}" if hint else ""))


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


if TYPE_CHECKING:
    from n2osim.errors import N2OSimError as N2OSimError
    from n2osim.hardware.ambient import Ambient as Ambient
    from n2osim.hardware.ambient import Boot as Boot
    from n2osim.hardware.ambient import DayNight as DayNight
    from n2osim.hardware.ambient import TemperatureTable as TemperatureTable
    from n2osim.hardware.ambient import standard_pressure as standard_pressure
    from n2osim.hardware.bottle import Bottle as Bottle
    from n2osim.hardware.bottle import Layer as Layer
    from n2osim.hardware.engine import EngineSide as EngineSide
    from n2osim.hardware.feed import Feed as Feed
    from n2osim.hardware.feed import FeedLine as FeedLine
    from n2osim.hardware.feed import Valve as Valve
    from n2osim.hardware.heater import CutOut as CutOut
    from n2osim.hardware.heater import Heater as Heater
    from n2osim.hardware.heater import Supply as Supply
    from n2osim.hardware.jets import Jets as Jets
    from n2osim.hardware.materials import Material as Material
    from n2osim.hardware.materials import material as material
    from n2osim.hardware.switch import PressureSwitch as PressureSwitch
    from n2osim.physics.enclosure import closed_space as closed_space
    from n2osim.physics.enclosure import volume_made_deficient as volume_made_deficient
    from n2osim.simulation.run import Event as Event
    from n2osim.simulation.run import Run as Run
    from n2osim.simulation.run import simulate as simulate
    from n2osim.simulation.scenario import FittedBottle as FittedBottle
    from n2osim.simulation.scenario import Model as Model
    from n2osim.simulation.scenario import Mounting as Mounting
    from n2osim.simulation.scenario import Numerics as Numerics
    from n2osim.simulation.scenario import Scenario as Scenario
    from n2osim.simulation.schedule import Hold as Hold
    from n2osim.simulation.schedule import Pass as Pass
    from n2osim.simulation.schedule import Purge as Purge
    from n2osim.simulation.schedule import Refill as Refill
    from n2osim.simulation.schedule import Rest as Rest
    from n2osim.simulation.schedule import Stage as Stage
    from n2osim.simulation.schedule import Weigh as Weigh
    from n2osim.studies import compare_shells as compare_shells
    from n2osim.studies import correction_table as correction_table
    from n2osim.studies import hold_power as hold_power
    from n2osim.studies import hot_soak as hot_soak
    from n2osim.studies import inside_sensitivity as inside_sensitivity
    from n2osim.studies import monte_carlo as monte_carlo
    from n2osim.studies import passes_per_fill as passes_per_fill
    from n2osim.studies import pressure_error_table as pressure_error_table
    from n2osim.studies import run_ensemble as run_ensemble
    from n2osim.studies import set_band as set_band
    from n2osim.studies import size_bottle as size_bottle
    from n2osim.studies import size_heater as size_heater
    from n2osim.studies import size_jets as size_jets
    from n2osim.studies import sobol_indices as sobol_indices
    from n2osim.studies import sweep as sweep
    from n2osim.studies import time_to_limits as time_to_limits
    from n2osim.studies import warm_up_table as warm_up_table
    from n2osim.studies.calibrate import calibrate as calibrate
    from n2osim.studies.logs import read_log as read_log
    from n2osim.studies.race_day import race_day as race_day
    from n2osim.studies.race_plan import RaceDay as RaceDay
