"""Studies: ensembles, sweeps, Monte Carlo, sizing, comparison, logs and calibration.

Names are loaded when they are first asked for, so that importing the package stays cheap.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

# module -> names that are public here
_WHERE = {
    "band": ("Band", "set_band"),
    "bottle_sizing": ("BottleSize", "size_bottle"),
    "checkpoint": ("CheckpointError",),
    "compare": ("ShellComparison", "ShellRow", "compare_shells"),
    "ensemble": ("StudyError", "run_ensemble"),
    "members": ("SERIES", "numbers_of"),
    "montecarlo": ("PlusMinus", "SobolIndices", "monte_carlo", "plus_minus", "sobol_indices"),
    "paths": ("field_paths", "get_field", "with_fields"),
    "result": ("Failure", "Probability", "StudyResult"),
    "sizing": ("HeaterSize", "Limit", "Limits", "PowerLimit", "largest_power", "size_heater",
               "warm_up_table"),
    "soak": ("CoolDown", "Reached", "SoakResult", "cool_down", "hot_soak", "time_to_limits"),
    "sweeps": ("sweep",),
}  # fmt: skip
_MODULE_OF = {name: module for module, names in _WHERE.items() for name in names}

if TYPE_CHECKING:
    from n2osim.studies.band import Band, set_band
    from n2osim.studies.bottle_sizing import BottleSize, size_bottle
    from n2osim.studies.checkpoint import CheckpointError
    from n2osim.studies.compare import ShellComparison, ShellRow, compare_shells
    from n2osim.studies.ensemble import StudyError, run_ensemble
    from n2osim.studies.members import SERIES, numbers_of
    from n2osim.studies.montecarlo import (
        PlusMinus,
        SobolIndices,
        monte_carlo,
        plus_minus,
        sobol_indices,
    )
    from n2osim.studies.paths import field_paths, get_field, with_fields
    from n2osim.studies.result import Failure, Probability, StudyResult
    from n2osim.studies.sizing import (
        HeaterSize,
        Limit,
        Limits,
        PowerLimit,
        largest_power,
        size_heater,
        warm_up_table,
    )
    from n2osim.studies.soak import (
        CoolDown,
        Reached,
        SoakResult,
        cool_down,
        hot_soak,
        time_to_limits,
    )
    from n2osim.studies.sweeps import sweep

__all__ = [
    "SERIES", "Band", "BottleSize", "CheckpointError", "CoolDown", "Failure", "HeaterSize",
    "Limit", "Limits", "PlusMinus", "PowerLimit", "Probability", "Reached", "ShellComparison",
    "ShellRow", "SoakResult", "SobolIndices", "StudyError", "StudyResult", "compare_shells",
    "cool_down", "field_paths", "get_field", "hot_soak", "largest_power", "monte_carlo",
    "numbers_of", "plus_minus", "run_ensemble", "set_band", "size_bottle", "size_heater",
    "sobol_indices", "sweep", "time_to_limits", "warm_up_table", "with_fields",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(f"{__name__}.{_MODULE_OF[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_MODULE_OF})
