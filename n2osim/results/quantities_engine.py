"""Quantities of the engine side, computed only when asked for: over time, and of each pass.

A formula of a pass takes a :class:`~n2osim.results.engine_side.PassEngineSummary`; what there is
over time is computed together (``engine_side``) and picked by name.
"""

from __future__ import annotations

from operator import attrgetter, itemgetter
from typing import Any

import numpy as np

from n2osim.results.quantity import UNDEFINED, Formula, Table

ENGINE = Table()
_add = ENGINE.rows("engine")
_add("n2o_used_kg", "N2O to the engine", attrgetter("n2o_used"))
_add("fuel_used_kg", "fuel of the shot", attrgetter("fuel_used"))
_add("work_J", "extra energy delivered", attrgetter("work"))
_add("lean_time_s", "time below 0.95 of the target mixture", attrgetter("lean"))
_add("rich_time_s", "time above 1.2 of the target mixture", attrgetter("rich"))

# attribute of the summary: (name, unit, words, names of least and largest)
_LEAN = ("leanest", "richest")
_COURSES = {
    "n2o": ("n2o_flow", "_kg_s", "N2O flow to the engine"),
    "fuel": ("fuel_flow", "_kg_s", "fuel flow of the shot"),
    "power": ("power", "_W", "extra power"),
    "mixture": ("mixture", "", "fuel-air ratio of the shot", *_LEAN),
    "ratio": ("n2o_fuel_ratio", "", "N2O to fuel by mass"),
    "engine_mixture": ("engine_mixture", "", "fuel-air ratio of the whole engine", *_LEAN),
    "charge_temperature": ("charge_temperature", "_K", "temperature of the cooled charge"),
    "density_gain": ("density_gain", "", "density of the cooled charge over the air's"),
    "air_gain": ("air_gain", "", "density of the air in the charge over the air's alone"),
}


def _figure(attribute: str, part: str) -> Formula:
    def value(one: Any) -> float:
        figure = getattr(one, attribute)
        return np.nan if figure is None else getattr(figure, part)

    return value


for _attribute, (_name, _unit, _words, *_ends) in _COURSES.items():
    _low, _high = _ends or ("min", "max")
    for _stat, _part in (
        ("start", "start"),
        ("mean", "mean"),
        ("end", "end"),
        (_low, "minimum"),
        (_high, "maximum"),
    ):
        _add(
            f"{_name}_{_stat}{_unit}",
            f"{_words}: {_stat} of the pass",
            _figure(_attribute, _part),
            UNDEFINED,
            "engine_power" if _unit == "_W" else "",
        )
    for _stat, _part in ((_low, "minimum_at"), (_high, "maximum_at")):
        _add(
            f"{_name}_{_stat}_at_s",
            f"time into the pass of the {_stat} {_words}",
            _figure(_attribute, _part),
            UNDEFINED,
        )


def _end(what: str, side: str) -> Formula:
    def value(one: Any) -> float:
        return np.nan if one.range is None else getattr(getattr(one.range, what), side)

    return value


for _name, _what, _side, _said in (
    ("flow_factor_low", "flow", "low", "least N2O flow over the flow"),
    ("flow_factor_high", "flow", "high", "largest N2O flow over the flow"),
    ("mixture_lean_end", "mixture", "low", "leanest mixture"),
    ("mixture_rich_end", "mixture", "high", "richest mixture"),
    ("power_low_end_W", "power", "low", "least mean power"),
    ("power_high_end_W", "power", "high", "largest mean power"),
):
    _add(
        _name,
        f"{_said} in the range in which the flow of the jets is known (missing where prescribed)",
        _end(_what, _side),
        UNDEFINED,
        "engine_power" if _name.endswith("_W") else "",
    )

ENGINE_SERIES = Table()
_over_time = ENGINE_SERIES.rows("engine series", "time")
for _name, _words in (
    ("n2o_flow_kg_s", "N2O to the engine"),
    ("fuel_flow_kg_s", "fuel of the shot"),
    ("fuel_wanted_kg_s", "fuel that the target mixture asks for"),
    ("n2o_fuel_ratio", "N2O to fuel of the shot, by mass"),
    ("equivalence_shot", "fuel-air equivalence ratio, shot alone"),
    ("equivalence_engine", "of the whole engine"),
    ("power_W", "extra power"),
    ("power_fuel_W", "part of it from the shot's fuel"),
    ("power_decomposition_W", "part from decomposition heat"),
    ("opening", "share of the time that the solenoids are open"),
    ("charge_temperature_K", "air and evaporated N2O, mixed adiabatically"),
    ("charge_density_gain", "density of that charge over the air's alone"),
    ("charge_air_gain", "density of the air in it over the air's alone"),
    ("n2o_to_engine_kg", "N2O to the engine so far"),
    ("n2o_vented_kg", "N2O purged and let out by relief so far"),
    ("n2o_refilled_kg", "N2O filled in so far"),
    ("fuel_kg", "fuel of the shot so far"),
    ("oxygen_burnt_kg", "oxygen of the N2O that its fuel has used so far"),
    ("oxygen_free_kg", "oxygen left free so far"),
    ("work_J", "extra energy delivered so far"),
):
    _power = "engine_power" if _name.endswith("_W") else ""
    _over_time(_name, _words, itemgetter(_name), kind=_power)
