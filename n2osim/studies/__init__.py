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
    "delivery": ("PowerDelivery", "hold_power", "over_distance"),
    "ensemble": ("StudyError", "run_ensemble"),
    "jet_sizing": ("JetSet", "JetSizing", "size_jets"),
    "logs": ("Log", "read_log"),
    "members": ("SERIES", "numbers_of"),
    "montecarlo": ("PlusMinus", "SobolIndices", "monte_carlo", "plus_minus", "sobol_indices"),
    "passes": ("PassLimits", "PassesPerFill", "RefillPoint", "passes_per_fill", "refill_point"),
    "paths": ("field_paths", "get_field", "with_fields"),
    "race_day": ("RaceDayResult", "RoundSummary"),
    "race_plan": ("RaceDay",),
    "result": ("Failure", "Probability", "StudyResult"),
    "sensitivity": ("InsideSensitivity", "inside_sensitivity"),
    "sizing": (
        "HeaterSize",
        "Limit",
        "Limits",
        "PowerLimit",
        "largest_power",
        "size_heater",
        "warm_up_table",
    ),
    "soak": ("CoolDown", "Reached", "SoakResult", "cool_down", "hot_soak", "time_to_limits"),
    "sweeps": ("sweep",),
    "tables": ("CorrectionTable", "PressureErrorTable", "correction_table", "pressure_error_table"),
    "tuning": ("headline", "headline_figures", "start_error"),
}
_MODULE_OF = {name: module for module, names in _WHERE.items() for name in names}

if TYPE_CHECKING:
    from n2osim.studies.band import Band, set_band
    from n2osim.studies.bottle_sizing import BottleSize, size_bottle
    from n2osim.studies.checkpoint import CheckpointError
    from n2osim.studies.compare import ShellComparison, ShellRow, compare_shells
    from n2osim.studies.delivery import PowerDelivery, hold_power, over_distance
    from n2osim.studies.ensemble import StudyError, run_ensemble
    from n2osim.studies.jet_sizing import JetSet, JetSizing, size_jets
    from n2osim.studies.logs import Log, read_log
    from n2osim.studies.members import SERIES, numbers_of
    from n2osim.studies.montecarlo import (
        PlusMinus,
        SobolIndices,
        monte_carlo,
        plus_minus,
        sobol_indices,
    )
    from n2osim.studies.passes import (
        PassesPerFill,
        PassLimits,
        RefillPoint,
        passes_per_fill,
        refill_point,
    )
    from n2osim.studies.paths import field_paths, get_field, with_fields
    from n2osim.studies.race_day import RaceDayResult, RoundSummary
    from n2osim.studies.race_plan import RaceDay
    from n2osim.studies.result import Failure, Probability, StudyResult
    from n2osim.studies.sensitivity import InsideSensitivity, inside_sensitivity
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
    from n2osim.studies.tables import (
        CorrectionTable,
        PressureErrorTable,
        correction_table,
        pressure_error_table,
    )
    from n2osim.studies.tuning import headline, headline_figures, start_error

__all__ = [
    "SERIES",
    "Band",
    "BottleSize",
    "CheckpointError",
    "CoolDown",
    "CorrectionTable",
    "Failure",
    "HeaterSize",
    "InsideSensitivity",
    "JetSet",
    "JetSizing",
    "Limit",
    "Limits",
    "Log",
    "PassLimits",
    "PassesPerFill",
    "PlusMinus",
    "PowerDelivery",
    "PowerLimit",
    "PressureErrorTable",
    "Probability",
    "RaceDay",
    "RaceDayResult",
    "Reached",
    "RefillPoint",
    "RoundSummary",
    "ShellComparison",
    "ShellRow",
    "SoakResult",
    "SobolIndices",
    "StudyError",
    "StudyResult",
    "compare_shells",
    "cool_down",
    "correction_table",
    "field_paths",
    "get_field",
    "headline",
    "headline_figures",
    "hold_power",
    "hot_soak",
    "inside_sensitivity",
    "largest_power",
    "monte_carlo",
    "numbers_of",
    "over_distance",
    "passes_per_fill",
    "plus_minus",
    "pressure_error_table",
    "read_log",
    "refill_point",
    "run_ensemble",
    "set_band",
    "size_bottle",
    "size_heater",
    "size_jets",
    "sobol_indices",
    "start_error",
    "sweep",
    "time_to_limits",
    "warm_up_table",
    "with_fields",
]


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(f"{__name__}.{_MODULE_OF[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_MODULE_OF})
