"""What is recorded of one scenario: raw arrays, and everything else as plain values."""

from __future__ import annotations

import dataclasses
import json
import math
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from names import IntegrationError, find

import n2osim as n2

# The whole scenario or run again; how long it took.
_LEFT_OUT = (n2.Scenario, n2.Run)
_TIMINGS = ("wall_s", "member_s", "members_per_s", "first_call_s")


def plain(value: Any) -> Any:
    """Numbers, texts, lists and dictionaries of a result; floats are kept to the last bit."""
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, (float, np.floating)):
        return float(value) if math.isfinite(value) else str(float(value))
    if isinstance(value, (np.ndarray, np.integer, np.bool_)):
        return plain(value.tolist())
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items() if k not in _TIMINGS}
    if isinstance(value, (list, tuple, set)) and not hasattr(value, "_fields"):
        return [plain(v) for v in value if not isinstance(v, _LEFT_OUT)]
    if dataclasses.is_dataclass(value):
        fields = {f.name: getattr(value, f.name) for f in dataclasses.fields(value)}
        return {k: plain(v) for k, v in fields.items() if not isinstance(v, _LEFT_OUT)}
    if hasattr(value, "_asdict"):
        return plain(value._asdict())
    return f"<{type(value).__name__}>"


def attempt(call: Callable[[], Any]) -> Any:
    """What a call gives as plain values, or what it says when it refuses."""
    try:
        return plain(call())
    except n2.N2OSimError as problem:
        return {"refused": type(problem).__name__, "says": str(problem)}


def run_of(scenario: n2.Scenario) -> tuple[n2.Run, str]:
    """The run, and what stopped it; as far as it came when it could not go on."""
    try:
        return n2.simulate(scenario), ""
    except IntegrationError as problem:
        return problem.partial_run, str(problem)


def raw(scenario: n2.Scenario) -> dict[str, np.ndarray]:
    """Rows, events, counts and ending code as the kernel gives them."""
    rows, events, counts, code = find("run_packed")(find("pack")(scenario))
    return {"rows": rows, "events": events, "counts": counts, "code": np.array(code)}


def exported(run: n2.Run) -> Any:
    """Content of the JSON file of a run."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "run.json")
        run.to_json(path)
        return json.loads(path.read_text())


def ensemble_columns(scenario: n2.Scenario) -> Any:
    """What an ensemble keeps of this scenario as its one member."""
    found = n2.run_ensemble([scenario], executor="serial")
    return {
        "failures": [f.reason for f in found.failures],
        "columns": {name: float(found[name][0]) for name in found.names},
    }


def engine_arrays(run: n2.Run) -> Any:
    """Arrays over time of the engine side, and its passes; None without one."""
    trace = run.engine
    if trace is None:
        return None
    return {"arrays": {name: trace[name] for name in trace.names}, "passes": trace.passes}


def everything(scenario: n2.Scenario) -> dict[str, Any]:
    """All that is recorded beside the raw arrays."""
    run, stopped = run_of(scenario)
    return {
        "stopped": stopped,
        "summary_shop": attempt(lambda: run.summary("shop")),
        "summary_si": attempt(lambda: run.summary("si")),
        "findings": attempt(lambda: run.findings),
        "json": attempt(lambda: exported(run)),
        "ensemble": attempt(lambda: ensemble_columns(scenario)),
        "totals": attempt(lambda: run.totals),
        "engine": attempt(lambda: engine_arrays(run)),
        "closure": attempt(run.closure),
    }


def digest(scenario: n2.Scenario) -> dict[str, Any]:
    """A handful of numbers of the end state, bottles in order."""
    run, stopped = run_of(scenario)
    return {
        "time_s": float(run.time[-1]),
        "pressure_Pa": run["pressure_Pa"][:, -1].tolist(),
        "mass_kg": run["mass_kg"][:, -1].tolist(),
        "fluid_temperature_K": run["fluid_temperature_K"][:, 0, -1].tolist(),
        "heater_temperature_K": run["heater_temperature_K"][:, -1].tolist(),
        "steps": int(run.statistics["steps"]),
        "events": len(run.events),
        "stopped": bool(stopped),
    }
