"""Quantities of the engine side, computed only when asked for: over time, and of each pass.

A formula of a pass takes a :class:`~n2osim.results.engine_side.PassEngineSummary`; what there is
over time is computed together (``engine_side``) and picked by name.
"""

from __future__ import annotations

from operator import attrgetter, itemgetter
from typing import Any

import numpy as np

from n2osim.results.quantity import ALWAYS, UNDEFINED, Formula, Quantity

ENGINE: list[Quantity] = []


def _add(
    name: str, formula: Formula, kind: str, label: str, sentence: str, missing: str = ALWAYS
) -> None:
    ENGINE.append(Quantity(name, ("engine",), formula, kind, label, sentence, missing))


_add("n2o_used_kg", attrgetter("n2o_used"), "mass", "N2O to the engine", "N2O to the engine")
_add("fuel_used_kg", attrgetter("fuel_used"), "mass", "fuel", "fuel of the shot")
_add("work_J", attrgetter("work"), "energy", "work", "extra energy delivered")
_add("lean_time_s", attrgetter("lean"), "time", "lean", "time below 0.95 of the target mixture")
_add("rich_time_s", attrgetter("rich"), "time", "rich", "time above 1.2 of the target mixture")

# attribute of the summary: (name, unit, kind, words, names of least and largest)
_COURSES = {
    "n2o": ("n2o_flow", "_kg_s", "mass_flow", "N2O flow to the engine", "min", "max"),
    "fuel": ("fuel_flow", "_kg_s", "mass_flow", "fuel flow of the shot", "min", "max"),
    "power": ("power", "_W", "engine_power", "extra power", "min", "max"),
    "mixture": ("mixture", "", "number", "fuel-air ratio of the shot", "leanest", "richest"),
    "ratio": ("n2o_fuel_ratio", "", "number", "N2O to fuel by mass", "min", "max"),
    "engine_mixture": (
        "engine_mixture",
        "",
        "number",
        "fuel-air ratio of the whole engine",
        "leanest",
        "richest",
    ),
    "charge_temperature": (
        "charge_temperature",
        "_K",
        "temperature",
        "temperature of the cooled charge",
        "min",
        "max",
    ),
    "density_gain": (
        "density_gain",
        "",
        "number",
        "density of the cooled charge over the air's",
        "min",
        "max",
    ),
    "air_gain": (
        "air_gain",
        "",
        "number",
        "density of the air in the charge over the air's alone",
        "min",
        "max",
    ),
}


def _figure(attribute: str, part: str) -> Formula:
    def value(one: Any) -> float:
        figure = getattr(one, attribute)
        return np.nan if figure is None else getattr(figure, part)

    return value


for _attribute, (_name, _unit, _kind, _words, _low, _high) in _COURSES.items():
    for _stat, _part, _said in (
        ("start", "start", "first"),
        ("mean", "mean", "mean"),
        ("end", "end", "last"),
        (_low, "minimum", _low if _low != "min" else "least"),
        (_high, "maximum", _high if _high != "max" else "largest"),
    ):
        _add(
            f"{_name}_{_stat}{_unit}",
            _figure(_attribute, _part),
            _kind,
            f"{_said} {_name.replace('_', ' ').replace('n2o', 'N2O')}",
            f"{_words}: {_said} of the pass (missing without flow, or without what it is made of)",
            UNDEFINED,
        )
    for _stat, _part in ((_low, "minimum_at"), (_high, "maximum_at")):
        _add(
            f"{_name}_{_stat}_at_s",
            _figure(_attribute, _part),
            "time",
            f"{_stat} {_name.replace('_', ' ').replace('n2o', 'N2O')} at",
            f"time into the pass of the {_stat} {_words}",
            UNDEFINED,
        )

ENGINE_SERIES: tuple[Quantity, ...] = tuple(
    Quantity(name, ("engine series",), itemgetter(name), kind, label, words, dims=("time",))
    for name, kind, label, words in (
        ("n2o_flow_kg_s", "mass_flow", "N2O flow", "N2O to the engine"),
        ("fuel_flow_kg_s", "mass_flow", "fuel flow", "fuel of the shot"),
        ("fuel_wanted_kg_s", "mass_flow", "fuel wanted", "fuel that the target mixture asks for"),
        ("n2o_fuel_ratio", "number", "N2O to fuel", "N2O to fuel of the shot, by mass"),
        ("equivalence_shot", "number", "mixture", "fuel-air equivalence ratio, shot alone"),
        ("equivalence_engine", "number", "engine mixture", "of the whole engine"),
        ("power_W", "engine_power", "extra power", "extra power"),
        ("power_fuel_W", "engine_power", "from fuel", "part of it from the shot's fuel"),
        (
            "power_decomposition_W",
            "engine_power",
            "from decomposition",
            "part from decomposition heat",
        ),
        ("opening", "number", "opening", "share of the time that the solenoids are open"),
        (
            "charge_temperature_K",
            "temperature",
            "charge",
            "air and evaporated N2O, mixed adiabatically",
        ),
        (
            "charge_density_gain",
            "number",
            "density gain",
            "density of that charge over the air's alone",
        ),
        ("charge_air_gain", "number", "air gain", "density of the air in it over the air's alone"),
        ("n2o_to_engine_kg", "mass", "N2O so far", "N2O to the engine so far"),
        ("n2o_vented_kg", "mass", "vented", "N2O purged and let out by relief so far"),
        ("n2o_refilled_kg", "mass", "refilled", "N2O filled in so far"),
        ("fuel_kg", "mass", "fuel so far", "fuel of the shot so far"),
        (
            "oxygen_burnt_kg",
            "mass",
            "oxygen burnt",
            "oxygen of the N2O that its fuel has used so far",
        ),
        ("oxygen_free_kg", "mass", "oxygen free", "oxygen left free so far"),
        ("work_J", "energy", "work", "extra energy delivered so far"),
    )
)

__all__ = ["ENGINE", "ENGINE_SERIES"]
