"""Quantities of a pass as the engine sees it, computed only when asked for.

A formula takes a :class:`~n2osim.results.engine_side.PassEngineSummary`.
"""

from __future__ import annotations

from operator import attrgetter
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

__all__ = ["ENGINE"]
