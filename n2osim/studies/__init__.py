"""Studies: ensembles, sweeps, Monte Carlo, sizing, comparison, logs and calibration.

Names are loaded when they are first asked for, so that importing the package stays cheap.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

_WHERE = {
    "ensemble": ("run_ensemble", "StudyError"),
    "paths": ("field_paths", "get_field", "with_fields"),
    "result": ("StudyResult", "Failure", "Probability"),
    "members": ("SERIES", "numbers_of"),
    "sweeps": ("sweep",),
    "montecarlo": ("monte_carlo", "sensitivity", "plus_minus", "Sensitivity", "PlusMinus"),
    "checkpoint": ("CheckpointError",),
}
_MODULE_OF = {name: module for module, names in _WHERE.items() for name in names}

if TYPE_CHECKING:
    from n2osim.studies.checkpoint import CheckpointError
    from n2osim.studies.ensemble import StudyError, run_ensemble
    from n2osim.studies.members import SERIES, numbers_of
    from n2osim.studies.montecarlo import (
        PlusMinus,
        Sensitivity,
        monte_carlo,
        plus_minus,
        sensitivity,
    )
    from n2osim.studies.paths import field_paths, get_field, with_fields
    from n2osim.studies.result import Failure, Probability, StudyResult
    from n2osim.studies.sweeps import sweep


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(f"{__name__}.{_MODULE_OF[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_MODULE_OF])


__all__ = [
    "SERIES", "CheckpointError", "Failure", "PlusMinus", "Probability", "Sensitivity", "StudyError",
    "StudyResult", "field_paths", "get_field", "monte_carlo", "numbers_of", "plus_minus",
    "run_ensemble", "sensitivity", "sweep", "with_fields",
]  # fmt: skip
