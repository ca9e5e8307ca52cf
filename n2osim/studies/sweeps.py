"""Sweeps: every combination, or a list of points, of any scenario fields by dotted name."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Unpack

import numpy as np

from n2osim.errors import InputError, N2OSimError
from n2osim.results.quantities import check_outputs, layout_of
from n2osim.scenario.fields import check_fields, get_field, with_fields
from n2osim.scenario.scenario import Scenario
from n2osim.studies.checkpoint import digest
from n2osim.studies.ensemble import HowToRun, Source, run_study
from n2osim.studies.members import Plan, Task
from n2osim.studies.result import StudyResult

LARGEST = 20_000_000
"""Most members of one study; more is a slip of the pen."""


def sweep(
    scenario: Scenario,
    over: Mapping[str, Sequence[Any]] | Sequence[Mapping[str, Any]],
    *,
    paired: bool = False,
    title: str = "sweep",
    **how: Unpack[HowToRun],
) -> StudyResult:
    """Run a scenario with some of its fields varied.

    Parameters
    ----------
    scenario : what everything else stays at.
    over : mapping of dotted names to lists of values, such as
        ``{"heater.power": ["200 W", "350 W"]}``: every combination, the last name varying fastest
        (with ``paired`` the lists go together instead); or a list of mappings, one a member.
    how : keywords of :func:`~n2osim.studies.ensemble.run_ensemble` (workers, executor, checkpoint,
        outputs, times, ...).

    Raises UnknownNameError for a field or output that does not exist (with near matches).

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "15 lb"), fill="12.9 lb", start="57 degF",
    ...     heater=n2.Heater("300 W"), switch=n2.PressureSwitch("855 psig", "895 psig"),
    ...     schedule=[n2.Hold("2 h")],
    ... )
    >>> result = n2.sweep(car, {"heater.power": ["240 W", "480 W"]})
    >>> result.get("hold0.warm_up_time", "min").round(0)
    array([27., 13.])
    """
    paths, rows = _points(over, paired)
    return run_study(points_source(scenario, paths, rows, title), checked(scenario, how))


def _points(over: Any, paired: bool) -> tuple[tuple[str, ...], list[tuple[Any, ...]]]:
    """(dotted names, one row of values a member)."""
    if isinstance(over, Mapping):
        lists = {name: _values(name, values) for name, values in over.items()}
        if not lists:
            raise InputError(
                "sweep",
                "nothing",
                "",
                "at least one field with values",
                'for example {"heater.power": ["200 W", "400 W"]}',
            )
        lengths = [len(v) for v in lists.values()]
        count = max(lengths) if paired else int(np.prod(lengths, dtype=object))
        if paired and len(set(lengths)) > 1:
            raise InputError(
                "sweep",
                str(dict(zip(lists, lengths))),
                "",
                "lists of one length",
                "leave paired out for every combination",
            )
        if count > LARGEST:
            raise InputError(
                "members of the study",
                count,
                "",
                f"at most {LARGEST}",
                "fewer values, or monte_carlo with a sample",
            )
        make = zip if paired else itertools.product
        return tuple(lists), list(make(*lists.values()))
    points = list(over) if isinstance(over, Iterable) else []
    if not points or not all(isinstance(p, Mapping) and p for p in points):
        raise InputError(
            "sweep",
            over,
            "",
            "a mapping of names to lists, or a list of mappings",
            'for example {"heater.power": ["200 W", "400 W"]}',
        )
    paths = tuple(points[0])
    for k, point in enumerate(points):
        if set(point) != set(paths):
            raise InputError(
                f"sweep point {k}",
                ", ".join(point),
                "",
                ", ".join(paths),
                "give every point the same fields",
            )
    return paths, [tuple(p[name] for name in paths) for p in points]


def _values(name: str, values: Any) -> list[Any]:
    if isinstance(values, (str, Mapping)) or not hasattr(values, "__iter__"):
        raise InputError(
            f"sweep of {name}", values, "", "a list of values", f'write {{"{name}": [{values!r}]}}'
        )
    found = list(values)
    if not found:
        raise InputError(f"sweep of {name}", "no values", "", "one or more values", "")
    return found


def checked(scenario: Scenario, how: HowToRun) -> HowToRun:
    """``how`` with its outputs checked against the scenario's schedule."""
    outputs = how.get("outputs")
    if outputs is not None and how.get("measure") is None:
        names = (outputs,) if isinstance(outputs, str) else tuple(outputs)
        check_outputs(layout_of(scenario), names)
    return how


def points_source(
    scenario: Scenario,
    paths: tuple[str, ...],
    rows: Sequence[tuple[Any, ...]],
    title: str,
    labels: tuple[str, ...] | None = None,
    columns: Mapping[str, np.ndarray] | None = None,
) -> Source:
    """A source of members that differ from ``scenario`` in ``paths``, one row of values each.

    ``columns`` are the inputs as the result shows them (default: the rows as they are).
    """
    if not isinstance(scenario, Scenario):
        raise InputError("scenario", scenario, "", "a Scenario", "")
    check_fields(scenario, paths)

    def take(members: np.ndarray, plan: Plan) -> Task:
        return Task(members, plan, base=scenario, paths=paths, rows=[rows[m] for m in members])

    shown = columns or {p: in_si(scenario, paths, rows, k) for k, p in enumerate(paths)}

    def inputs(members: np.ndarray) -> dict[str, np.ndarray]:
        return {name: values[members] for name, values in shown.items()}

    def given(members: np.ndarray) -> dict[str, list[str]]:
        return {p: [_said(rows[m][k]) for m in members] for k, p in enumerate(shown)}

    return Source(
        title,
        len(rows),
        digest(scenario, paths, *rows),
        take=take,
        inputs=inputs,
        labels=given,
        base=scenario,
        describe={"fields": list(labels or paths), "scenario": scenario.title},
    )


def in_si(
    scenario: Scenario, paths: tuple[str, ...], rows: Sequence[tuple[Any, ...]], k: int
) -> np.ndarray:
    """Values of the ``k``-th field as the scenarios hold them: SI floats where they are numbers
    (NaN for a value that its field refuses), else objects as given."""
    found: dict[str, Any] = {}
    for row in rows:
        given = row[k]
        if isinstance(given, str) and given not in found:
            try:
                held = get_field(with_fields(scenario, dict(zip(paths, row))), paths[k])
            except N2OSimError:
                held = math.nan
            found[given] = held if _is_number(held) else given
    values = [found[row[k]] if isinstance(row[k], str) else row[k] for row in rows]
    if all(map(_is_number, values)):
        return np.array(values, dtype=float)
    column = np.empty(len(rows), dtype=object)
    column[:] = [row[k] for row in rows]
    return column


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float, np.number)) and not isinstance(value, bool)


def _said(value: Any) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)
