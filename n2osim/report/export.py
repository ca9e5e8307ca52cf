"""Runs as JSON, CSV and DataFrame. Numbers are SI; what is not a number is null or empty."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import n2osim
from n2osim.errors import InputError
from n2osim.files import check_writable, read_bytes, write_text
from n2osim.results import frames
from n2osim.text import printable

if TYPE_CHECKING:
    from n2osim.results.run import Run


def as_dict(run: Run) -> dict[str, Any]:
    """Everything about a run as plain values.

    Keys: ``schema`` (version), ``program``, ``title``, ``ending``, ``ambient_pressure_Pa``,
    ``bottles`` (names), ``findings``, ``events``, ``segments`` (summaries), ``totals`` (passes
    and purges over all bottles), ``numbers`` (every quantity by its full name), ``closure``,
    ``engine`` (None without an engine side),
    ``statistics``, ``records`` (numbers by segment and bottle that quantities are made of),
    ``variables`` (name -> unit, dims, description, values) and ``scenario`` (TOML
    text that runs it again). NaN and infinity become None.
    """
    from n2osim.results.run import RUN_SCHEMA
    from n2osim.scenario.dump import scenario_text

    return {
        "schema": RUN_SCHEMA,
        "program": f"n2osim {n2osim.__version__}",
        "title": run.scenario.title,
        "ending": run.ending,
        "ambient_pressure_Pa": run.scenario.ambient.pressure,
        "bottles": [b.name for b in run.scenario.bottles],
        "findings": [f.as_dict() for f in run.findings],
        "events": [
            {
                "time_s": e.time,
                "name": e.name,
                "bottle": e.bottle,
                "segment": e.segment,
                "pressure_gauge_Pa": e.pressure_gauge,
            }
            for e in run.events
        ],
        "segments": [s.as_dict() for s in run.segments],
        "totals": [t.as_dict() for t in run.totals],
        "numbers": run.numbers("*"),
        "closure": closure_of(run),
        "engine": None if run.engine is None else run.engine.as_dict(),
        "statistics": dict(run.statistics),
        "variables": {name: v.as_dict() for name, v in run.variables.items()},
        "scenario": scenario_text(run.scenario),
        "records": {name: run.records[name].tolist() for name in run.records.dtype.names or ()},
    }


def read_json(path: str | Path) -> Run:
    """The run behind a file that :func:`write_json` wrote. InputError for any other file."""
    from n2osim.results.run import RUN_SCHEMA

    text = read_bytes(path)
    try:
        data = json.loads(text)
        if (found := data.get("schema")) != RUN_SCHEMA:
            raise ValueError(f"schema {found}")
        return run_from(data)
    except (ValueError, KeyError, TypeError, AttributeError) as problem:
        raise _not_a_run(str(path), str(problem)) from None


def run_from(data: dict[str, Any]) -> Run:
    """The run behind :func:`as_dict`; numbers that were written as null are NaN."""
    from n2osim.results.arrays import Variable
    from n2osim.results.numbers import DTYPE
    from n2osim.results.run import RUN_SCHEMA, Event, Run
    from n2osim.scenario.file import loads

    if data.get("schema") != RUN_SCHEMA:
        raise _not_a_run(data.get("title"), f"schema {data.get('schema')}")
    records = np.full(np.shape(data["records"]["t0"]), np.nan, DTYPE)
    for name, values in data["records"].items():
        records[name] = np.array(values, float)
    variables = {
        name: Variable(_array(v["values"]), v["unit"], tuple(v["dims"]), v["description"])
        for name, v in data["variables"].items()
    }
    events = tuple(
        Event(e["time_s"], e["name"], e["bottle"], e["segment"], _number(e["pressure_gauge_Pa"]))
        for e in data["events"]
    )
    scenario = loads(data["scenario"], data["title"])
    return Run(scenario, variables, events, records, data["ending"], data["statistics"])


def _not_a_run(what: Any, why: str) -> InputError:
    return InputError(
        "file of a run",
        what,
        "",
        "one that run.to_json of this version of n2osim wrote",
        f"simulate the scenario again ({why})",
    )


def _number(value: float | None) -> float:
    return math.nan if value is None else value


def _array(values: Any) -> np.ndarray:
    """Numbers as they were, null as NaN; they cannot be written to."""
    made = np.array(values)
    if made.dtype == object:
        made = np.array(values, float)
    made.flags.writeable = False
    return made


def closure_of(run: Run) -> dict[str, float] | None:
    """Closure of a run; None where the last state of a broken-off one has no properties."""
    try:
        return {k: float(v) for k, v in run.closure().items()}
    except InputError:
        return None


def json_text(run: Run) -> str:
    """The run as JSON text (RFC 8259: no NaN)."""
    return frames.json_text(as_dict(run), separators=(",", ":"))


def write_json(run: Run, path: str | Path, *, overwrite: bool = False) -> None:
    """Write the run as JSON, whole or not at all; an existing file only with ``overwrite``."""
    check_writable(path, overwrite=overwrite)
    write_text(path, json_text(run), overwrite=overwrite)


# --- columns -----------------------------------------------------------------------------------
def columns(run: Run) -> dict[str, np.ndarray]:
    """Every series over time as one column; extra axes become part of the name.

    ``pressure_Pa`` of two bottles gives ``pressure_Pa[left]`` and ``pressure_Pa[right]``; a wall
    node is ``wall_temperature_K[left,covered,0]``. With one bottle its name is left out.
    """
    bottles = [printable(b.name) for b in run.scenario.bottles]
    labels = {"bottle": bottles if len(bottles) > 1 else [""], **_FIXED}
    found: dict[str, np.ndarray] = {}
    for name, v in run.variables.items():
        if not v.dims or v.dims[-1] != "time":
            continue
        for index in np.ndindex(v.values.shape[:-1]):
            words = (labels[a][k] if a in labels else str(k) for a, k in zip(v.dims, index))
            shown = ",".join(w for w in words if w)
            column = f"{name}[{shown}]" if shown else name
            found[column] = v.values[index]
    if run.engine is not None:
        found |= {f"engine_{name}": v.values for name, v in run.engine.variables.items()}
    return found


_FIXED = {"part": ["covered", "bare"], "zone": ["liquid", "vapour"]}
"""Names along axes that are the same in every run."""


def csv_text(run: Run) -> str:
    """The time series as CSV: one comment line with the schema, one header line, one row a time."""
    from n2osim.results.run import RUN_SCHEMA

    table = columns(run)
    rows = zip(
        *(c.astype(int if c.dtype.kind in "bui" else float).tolist() for c in table.values())
    )
    about = f"# n2osim run, schema {RUN_SCHEMA}; SI units are in the column names\n"
    return about + frames.csv_text(table, rows)


def write_csv(run: Run, path: str | Path, *, overwrite: bool = False) -> None:
    """Write the time series as CSV, whole or not at all; see :func:`csv_text`."""
    check_writable(path, overwrite=overwrite)
    write_text(path, csv_text(run), overwrite=overwrite)


def dataframe(run: Run) -> Any:
    """The time series as a pandas DataFrame, one column a series (the ``tables`` extra)."""
    return frames.extra("pandas").DataFrame(columns(run))


def xarray_of(run: Run) -> Any:
    """Every array as one xarray.Dataset with named axes (the ``xarray`` extra)."""
    coordinates = {"time": run.time, "bottle": [b.name for b in run.scenario.bottles], **_FIXED}
    engine = {} if run.engine is None else run.engine.variables
    variables = run.variables | {f"engine_{n}": v for n, v in engine.items()}
    about = {"title": run.scenario.title, "program": f"n2osim {n2osim.__version__}"}
    return frames.dataset(variables, coordinates, **about)
