"""Results in other hands: HTML for notebooks, JSON, pandas and xarray where they are installed."""

from __future__ import annotations

import csv
import dataclasses
import html
import importlib
import io
import json
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from n2osim.errors import InputError, N2OSimError, UnknownNameError
from n2osim.files import read_bytes, write_text
from n2osim.results.quantities import quantity
from n2osim.text import spreadsheet

T = TypeVar("T")


def extra(module: str) -> Any:
    """An optional module; N2OSimError with the remedy where it is not installed."""
    try:
        return importlib.import_module(module)
    except ImportError as problem:
        name = "xarray" if module == "xarray" else "tables"  # of the extra that carries it
        remedy = f"pip install 'n2osim[{name}]'"
        raise N2OSimError(f"{module} is not installed: {remedy}") from problem


def dataframe(rows: Sequence[Mapping[str, Any]], index: str | Sequence[str]) -> Any:
    """Rows as a pandas DataFrame with these columns as its index."""
    keys = index if isinstance(index, str) else list(index)
    return extra("pandas").DataFrame(list(rows)).set_index(keys)


def attributes(name: str, **known: str) -> dict[str, str]:
    """What xarray carries beside an array: units (SI), long_name, description.

    Of the table of quantities where ``name`` is in it; ``known`` are told besides.
    """
    try:
        q = quantity(name)
    except UnknownNameError:
        return known
    return {"units": q.unit, "long_name": q.label, "description": q.sentence} | known


def dataset(variables: Mapping[str, Any], coordinates: Mapping[str, Any], **about: str) -> Any:
    """Labelled arrays (with ``dims``, ``values``, ``unit``, ``description``) as xarray.Dataset."""
    data = {
        name: (v.dims, v.values, attributes(name, units=v.unit, description=v.description))
        for name, v in variables.items()
    }
    used = {axis for v in variables.values() for axis in v.dims}
    named = {axis: x for axis, x in coordinates.items() if axis in used}
    return extra("xarray").Dataset(data, named, about)


def dataset_of(frame: Any, units: Mapping[str, str] | None = None, **about: str) -> Any:
    """A DataFrame as xarray.Dataset over its index; ``units`` of columns that are no quantities."""
    extra("xarray")
    made = frame.to_xarray()
    for name in made.data_vars:
        given = (units or {}).get(name)
        known = {} if given is None else {"units": given}
        made[name].attrs = attributes(str(name), **known)
    return made.assign_attrs(about)


def without_nan(value: Any) -> Any:
    """Plain values, with every number that is not finite as None."""
    if isinstance(value, Mapping):
        return {str(k): without_nan(v) for k, v in value.items()}
    if isinstance(value, np.ndarray):
        return without_nan(value.tolist())
    if isinstance(value, (list, tuple)):
        return [without_nan(v) for v in value]
    if hasattr(value, "item"):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value


def json_text(
    value: Any, path: str | Path | None = None, *, overwrite: bool = False, **layout: Any
) -> str:
    """Plain values as JSON text (RFC 8259: no NaN), written to ``path`` where one is given."""
    text = json.dumps(without_nan(value), allow_nan=False, default=str, **layout) + "\n"
    if path is not None:
        write_text(path, text, overwrite=overwrite)
    return text


def csv_text(
    head: Iterable[str],
    rows: Iterable[Iterable[Any]],
    path: str | Path | None = None,
    *,
    overwrite: bool = False,
) -> str:
    """Rows as CSV text, written to ``path`` where one is given.

    Numbers are exact, those that are none empty; texts like a formula are marked as text.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(map(spreadsheet, head))
    writer.writerows(map(_csv_cell, row) for row in rows)
    if path is not None:
        write_text(path, out.getvalue(), overwrite=overwrite)
    return out.getvalue()


def _csv_cell(value: Any) -> Any:
    if isinstance(value, float):
        return repr(float(value)) if math.isfinite(value) else ""
    return value if value is None or isinstance(value, int) else spreadsheet(str(value))


def read_json(path: str | Path, schema: int, what: str, make: Callable[[dict[str, Any]], T]) -> T:
    """What ``make`` builds of the plain values that ``to_json`` of ``what`` wrote.

    InputError for any other file.
    """
    try:
        data = json.loads(read_bytes(path))
        if (found := data.pop("schema")) != schema:
            raise ValueError(f"schema {found}")
        return make(data)
    except (ValueError, KeyError, TypeError, AttributeError) as problem:
        valid = f"one that to_json of {what} of this version of n2osim wrote"
        remedy = f"make it again ({problem})"
        raise InputError(f"file of {what}", str(path), "", valid, remedy) from None


class Comparable:
    """Results that are equal when all they hold is; what is not a number equals its like."""

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and _same(self, other)

    __hash__ = None  # type: ignore[assignment]


def _same(a: Any, b: Any) -> bool:
    if isinstance(a, np.ndarray) or isinstance(b, np.ndarray):
        a, b = np.asarray(a), np.asarray(b)
        if a.dtype.names or a.dtype.kind == "O":
            return a.shape == b.shape and _same(a.tolist(), b.tolist())
        return bool(np.array_equal(a, b, equal_nan=a.dtype.kind == "f" and b.dtype.kind == "f"))
    if dataclasses.is_dataclass(a) and not isinstance(a, type):
        names = [f.name for f in dataclasses.fields(a) if f.compare]
        return type(a) is type(b) and all(_same(getattr(a, n), getattr(b, n)) for n in names)
    if isinstance(a, Mapping) and isinstance(b, Mapping):
        return a.keys() == b.keys() and all(_same(a[k], b[k]) for k in a)
    if isinstance(a, (list, tuple)) and isinstance(b, (list, tuple)):
        return len(a) == len(b) and all(map(_same, a, b))
    return bool(a == b) or (isinstance(a, float) and a != a and b != b)


def html_table(head: Sequence[str], body: Sequence[Sequence[str]], caption: str = "") -> str:
    """A plain HTML table; texts are escaped."""
    top = "".join(f"<th>{html.escape(h)}</th>" for h in head)
    rows = "".join(
        "<tr>" + "".join(f"<td>{html.escape(c)}</td>" for c in row) + "</tr>" for row in body
    )
    above = f"<p>{html.escape(caption)}</p>" if caption else ""
    return f"{above}<table><tr>{top}</tr>{rows}</table>"


def html_list(lines: Sequence[str]) -> str:
    """Lines as an HTML list, nothing where there are none."""
    items = "".join(f"<li>{html.escape(x)}</li>" for x in lines)
    return f"<ul>{items}</ul>" if items else ""
