"""A run's headline figures, each with a +- from gauge, fill and whatever else may be off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from n2osim.physics.charge import pressure_at, temperature_for_pressure
from n2osim.results.run import Run
from n2osim.scenario.scenario import Scenario
from n2osim.studies.montecarlo import PlusMinus, plus_minus
from n2osim.units import parse


def headline_figures(run: Run) -> dict[str, float]:
    """Headline figures of a run by name (SI, unit at the end), for each pass of the first bottle.

    ``pass0.launch_pressure_gauge_Pa``, ``pass0.pressure_sag_Pa``, ``pass0.used_kg``,
    ``pass0.flow_mean_kg_s``, ``pass0.charge_left_kg``; with an engine also ``pass0.power_mean_W``,
    ``pass0.mixture_start``, ``pass0.mixture_end``.
    """
    name = run.scenario.bottles[0].name
    found: dict[str, float] = {}
    trace = run.engine
    for k, one in enumerate(p for p in run.passes if p.bottle == name):
        found |= {
            f"pass{k}.launch_pressure_gauge_Pa": one.start_pressure,
            f"pass{k}.pressure_sag_Pa": one.pressure_sag,
            f"pass{k}.used_kg": one.used,
            f"pass{k}.flow_mean_kg_s": one.flow_mean,
            f"pass{k}.charge_left_kg": one.end_mass,
        }
        if trace is not None:
            seen = trace.passes[k]
            found |= {
                f"pass{k}.power_mean_W": seen.power.mean,
                f"pass{k}.mixture_start": seen.mixture.start,
                f"pass{k}.mixture_end": seen.mixture.end,
            }
    return found


def headline(
    scenario: Scenario, tolerances: Mapping[str, Any], of: str | Sequence[str] = ()
) -> dict[str, PlusMinus]:
    """Headline figures of a scenario's passes, each with a +- from the tolerances given.

    tolerances : as :func:`~n2osim.studies.montecarlo.plus_minus`, for example
    ``{"switch.offset": "10 psi", "fill": "0.2 lb", "feed.jets.cd": 0.03}``: a gauge that reads
    wrong shifts what the switch does by the same amount. Where there is no switch give the start
    temperature instead (:func:`start_error`). of : further output columns of the run.
    """
    return plus_minus(scenario, tolerances, of or ("pass0.used_kg",), measure=headline_figures)


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
