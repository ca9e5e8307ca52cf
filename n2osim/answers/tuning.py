"""A run's headline figures, each with a +- from gauge, fill and whatever else may be off."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from n2osim.physics.charge import pressure_at, temperature_for_pressure
from n2osim.scenario.scenario import Scenario
from n2osim.studies.montecarlo import PlusMinus, plus_minus
from n2osim.units import parse

_OF_A_PASS = (
    "start_pressure_gauge_Pa",
    "pressure_sag_Pa",
    "used_kg",
    "flow_mean_kg_s",
    "end_mass_kg",
)
_OF_ITS_ENGINE = ("power_mean_W", "mixture_start", "mixture_end")


def headline(scenario: Scenario, tolerances: Mapping[str, Any]) -> dict[str, PlusMinus]:
    """Headline figures of a scenario's passes, each with a +- from the tolerances given.

    By their names in the table of quantities (``pass0.start_pressure_gauge_Pa``,
    ``pass0.pressure_sag_Pa``, ``pass0.used_kg``, ...; with an engine ``pass0.power_mean_W``, ...).
    tolerances : as :func:`~n2osim.studies.montecarlo.plus_minus`, for example
    ``{"switch.offset": "10 psi", "fill": "0.2 lb", "feed.jets.cd": 0.03}``: a gauge that reads
    wrong shifts what the switch does by the same amount. Where there is no switch give the start
    temperature instead (:func:`start_error`).
    """
    names = _OF_A_PASS if scenario.engine is None else _OF_A_PASS + _OF_ITS_ENGINE
    return plus_minus(scenario, tolerances, [f"pass*.{name}" for name in names])


def start_error(scenario: Scenario, gauge_error: Any) -> float:
    """Half-width (K) of the start temperature that a gauge error (Pa, "10 psi") stands for.

    For bottles brought to pressure by the gauge and not by the scenario's own switch.
    """
    fitted = scenario.bottles[0]
    error = parse(gauge_error, "pressure_difference", name="gauge error", low=0.0)
    p = float(pressure_at(fitted.start, fitted.fill, fitted.bottle.volume))
    ends = [
        float(temperature_for_pressure(p + sign * error, fitted.fill, fitted.bottle.volume))
        for sign in (1.0, -1.0)
    ]
    return 0.5 * (ends[0] - ends[1])
