"""Which column of a log is which quantity, in which unit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from n2osim.errors import InputError, LogError, N2OSimError, UnknownNameError, did_you_mean
from n2osim.units import parse


@dataclass(frozen=True)
class Quantity:
    """A quantity a log may hold: kind (key of ``units.DIMENSIONS``), range in SI, meaning."""

    dimension: str
    low: float
    high: float
    meaning: str
    switch: bool = False


QUANTITIES: dict[str, Quantity] = {
    "time": Quantity("time", -1e12, 1e12, "time since any zero, or clock time"),
    "gauge_pressure": Quantity("gauge_pressure", -1.1e5, 6e7, "bottle pressure, gauge"),
    "pressure": Quantity("pressure", 0.0, 6e7, "bottle pressure, absolute"),
    "bottle_temperature": Quantity("temperature", 150.0, 900.0, "outside of the shell"),
    "ambient_temperature": Quantity("temperature", 200.0, 360.0, "air around the bottle"),
    "heater_on": Quantity("fraction", -0.01, 1.01, "heater state, 0 or 1", switch=True),
    "solenoid_duty": Quantity("fraction", -0.01, 1.01, "share of full delivery", switch=True),
    "bottle_weight": Quantity("mass", -5.0, 1000.0, "bottle with what it holds, on a scale"),
    "charge": Quantity("mass", -5.0, 1000.0, "N2O in the bottle"),
    "fuel_pressure": Quantity("gauge_pressure", -1.1e5, 5e7, "ahead of the fuel jets, gauge"),
    "boost": Quantity("gauge_pressure", -1.1e5, 1e6, "in the intake, gauge"),
}
"""What can be read, and the range outside which a cell is rejected."""


@dataclass(frozen=True)
class Column:
    """Where a quantity comes from: value in ``unit`` = ``scale`` * cell + ``offset``.

    name : header text, or number of the column counted from 0.
    unit : None takes it from the header ("Tank [psig]", "t_s") or the row below it.
    """

    name: str | int
    unit: str | None = None
    scale: float = 1.0
    offset: float = 0.0


@dataclass(frozen=True)
class Mapped:
    """A quantity tied to a position: SI value = ``slope`` * cell + ``zero``."""

    quantity: str
    index: int
    header: str
    unit: str
    slope: float
    zero: float


def read_mapping(columns: Mapping[str, Any] | None) -> dict[str, Column] | None:
    """Check what the user gave: quantity -> header, number, (header, unit), mapping or Column."""
    if columns is None:
        return None
    if not isinstance(columns, Mapping):
        raise InputError(
            "log columns",
            columns,
            "",
            "a mapping from quantity to column",
            "write {'time': 't_s', 'gauge_pressure': ('P tank', 'psi')}",
        )
    out: dict[str, Column] = {}
    for quantity, spec in columns.items():
        if quantity not in QUANTITIES:
            raise UnknownNameError.among("log quantity", quantity, QUANTITIES)
        out[quantity] = _column(quantity, spec)
    _check_set(out)
    return out or None


def _column(quantity: str, spec: Any) -> Column:
    try:
        if isinstance(spec, Column):
            column = spec
        elif isinstance(spec, Mapping):
            column = Column(**spec)
        elif isinstance(spec, (tuple, list)):
            column = Column(*spec)
        else:
            column = Column(spec)
    except TypeError:
        column = Column(name=-1)
    right_name = isinstance(column.name, str) or (
        isinstance(column.name, int) and not isinstance(column.name, bool) and column.name >= 0
    )
    if not right_name or not isinstance(column.unit, (str, type(None))):
        raise InputError(
            f"log column for {quantity}",
            spec,
            "",
            "a header, a column number from 0, or (header, unit)",
            "write 'P tank' or ('P tank', 'psig')",
        )
    scale = parse(column.scale, "number", name=f"{quantity} scale")
    offset = parse(column.offset, "number", name=f"{quantity} offset")
    return Column(column.name, column.unit, scale, offset)


def _check_set(columns: Mapping[str, Column]) -> None:
    if "gauge_pressure" in columns and "pressure" in columns:
        raise InputError(
            "log columns",
            "gauge_pressure and pressure",
            "",
            "one bottle pressure",
            "a log holds gauge or absolute pressure, not both",
        )


# --- headers --------------------------------------------------------------------------------
def tidy_header(text: str) -> str:
    """Header without case, quotes, brackets' contents and runs of blanks, for comparing."""
    return re.sub(r"\s+", " ", text).strip().strip('"').strip().casefold()


_BRACKETS = re.compile(r"[\[(<{]([^\])>}]*)[\])>}]")


def unit_in_header(header: str, dimension: str) -> str | None:
    """The unit a header states: in brackets, or as its last word ("t_s", "P tank psig")."""
    inside = _BRACKETS.findall(header)
    pieces = [*reversed(inside), *reversed(re.split(r"[\s_,/;:]+", header.strip()))]
    for piece in pieces[: len(inside) + 1]:
        if piece.strip() and _affine(piece.strip(), dimension) is not None:
            return piece.strip()
    return None


def _affine(unit: str, dimension: str, ambient: float | None = None) -> tuple[float, float] | None:
    """(slope, zero) from a number in ``unit`` to SI, or None when the unit does not fit."""
    try:
        three, four = (
            parse(f"{n} {unit}", dimension, name="log unit", ambient=ambient) for n in (300, 400)
        )
    except N2OSimError:
        return None
    slope = (four - three) / 100.0
    return slope, three - 300.0 * slope


def find_columns(
    header: Sequence[str],
    units_row: Sequence[str] | None,
    width: int,
    columns: dict[str, Column] | None,
    ambient: float | None,
    file: str,
) -> tuple[list[Mapped], list[str]]:
    """Tie quantities to positions; returns them and notes on what was assumed."""
    notes: list[str] = []
    columns = _completed(columns or {}, header, units_row, file, notes)
    mapped = []
    for quantity, column in columns.items():
        index = _index(quantity, column, header, width, file)
        text = header[index] if index < len(header) else f"column {index}"
        row_unit = units_row[index] if units_row is not None and index < len(units_row) else None
        mapped.append(_tie(quantity, column, index, text, row_unit, ambient, file, notes))
    taken: dict[int, str] = {}
    for m in mapped:
        if m.index in taken:
            raise LogError(
                f"column used for both {taken[m.index]} and {m.quantity}",
                file,
                column=m.header,
                remedy="give each quantity its own",
            )
        taken[m.index] = m.quantity
    return mapped, notes


def _index(quantity: str, column: Column, header: Sequence[str], width: int, file: str) -> int:
    if isinstance(column.name, int):
        if column.name >= width:
            raise LogError(
                f"{quantity}: there is no column {column.name}",
                file,
                remedy=f"columns are numbered from 0 to {width - 1}",
            )
        return column.name
    wanted = tidy_header(column.name)
    hits = [i for i, h in enumerate(header) if h == column.name]
    hits = hits or [i for i, h in enumerate(header) if tidy_header(h) == wanted]
    if len(hits) == 1:
        return hits[0]
    if hits:
        raise LogError(
            f"{quantity}: {len(hits)} columns have this name",
            file,
            column=column.name,
            remedy="give the column's number instead",
        )
    shown = ", ".join(repr(h) for h in header[:20]) or "no header found"
    hint = did_you_mean(column.name, header)
    raise LogError(
        f"{quantity}: no such column among {shown}",
        file,
        column=column.name,
        remedy=hint or "give the header as written, or the column's number from 0",
    )


def _tie(
    quantity: str,
    column: Column,
    index: int,
    header: str,
    row_unit: str | None,
    ambient: float | None,
    file: str,
    notes: list[str],
) -> Mapped:
    kind = QUANTITIES[quantity]
    unit = column.unit
    if unit is None:
        unit = unit_in_header(header, kind.dimension)
        stripped = (row_unit or "").strip("[](){} ")
        if stripped and _affine(stripped, kind.dimension, ambient) is not None:
            unit = stripped
    other = {"gauge_pressure": "pressure", "pressure": "gauge_pressure"}.get(quantity)
    if unit is None and other is not None:  # psia for gauge or the like: needs the ambient pressure
        unit = unit_in_header(header, other)
    if unit is None and quantity == "time":
        unit = "s"
        notes.append(f"{header!r} has no unit: taken as seconds")
    if unit is None and kind.switch:
        return Mapped(quantity, index, header, "", column.scale, column.offset)
    if unit is None:
        example = _EXAMPLE.get(kind.dimension, "s")
        shown = "".join(c if c.isprintable() else "?" for c in header)
        raise LogError(
            f"{quantity}: no unit in the header",
            file,
            column=header,
            remedy=f"give it with the column, for example ({header!r}, {example!r}), or in a "
            f'command --column "{quantity}={shown}:{example}"',
        )
    affine = _affine(unit, kind.dimension, ambient)
    if affine is None:  # raise the units module's own words
        parse(f"300 {unit}", kind.dimension, name=f"{quantity} unit", ambient=ambient)
        raise LogError(f"{quantity}: unit {unit!r} cannot be used", file, column=header)
    bare = unit.casefold().strip() in ("psi", "bar", "kpa", "mpa", "pa", "hpa", "mbar", "ksi")
    if quantity == "gauge_pressure" and bare:
        notes.append(f"{header!r} in {unit} is taken as gauge pressure")
    slope, zero = affine
    return Mapped(quantity, index, header, unit, slope * column.scale, zero + slope * column.offset)


_EXAMPLE = {
    "time": "s",
    "gauge_pressure": "psig",
    "pressure": "psia",
    "temperature": "degF",
    "mass": "lb",
    "fraction": "%",
}


# --- guessing -------------------------------------------------------------------------------
_HINTS: dict[str, tuple[str, str]] = {
    # quantity: (words that speak for it, words that speak against it)
    "time": (
        r"\b(t|time|zeit|temps|elapsed|seconds|clock|timestamp|date ?time)\b",
        r"\b(lap|on)\b",
    ),
    "gauge_pressure": (
        r"\b(p|press|pressure|psi|psig|barg|bottle p|druck)\b|pressure",
        r"\b(manifold|chamber|boost|fuel|oil|map|intake|baro\w*|ambient|air|line|rail|water|map)\b",
    ),
    "bottle_temperature": (
        r"\b(temp|temperature|t)\b",
        r"\b(ambient|air|oil|water|coolant|intake|egt|exhaust|inlet|iat|trans|outside)\b",
    ),
    "ambient_temperature": (r"\b(ambient|outside|air) (temp|temperature)\b", r"\b(intake|inlet)\b"),
    "heater_on": (r"\b(heater|blanket)\b", r"\b(temp|temperature|volt\w*|amps?|current|power)\b"),
    "solenoid_duty": (r"\b(solenoid|duty|delivery)\b", r"\b(fuel|temp|volt\w*|amps?|current)\b"),
    "bottle_weight": (r"\b(weight|scale|bottle mass)\b", r"\b(car|vehicle|fuel)\b"),
    "charge": (r"\b(charge|n2o mass|m n2o|mass n2o|nitrous mass)\b", r"\b(air|temp)\b"),
    "fuel_pressure": (r"\bfuel (p|press|pressure|rail)\b", r"\b(temp|duty)\b"),
    "boost": (r"\bboost\b", r"\b(target|duty|solenoid|control|temp)\b"),
}


def _words(header: str) -> str:
    text = _BRACKETS.sub(" ", header)
    text = re.sub(r"([a-z])([A-Z])", r"\1 \2", text)
    return re.sub(r"[\W_]+", " ", text).strip().casefold()


def _unit_speaks_against(header: str, quantity: str) -> bool:
    """``T [degC]`` is no time and ``t_s`` no temperature: the header's unit says so."""
    if header.strip() == "t":  # a time, not a tonne
        return quantity != "time"
    kind = QUANTITIES[quantity].dimension
    mine = {kind, "pressure"} if kind == "gauge_pressure" else {kind}
    kinds = {q.dimension for q in QUANTITIES.values()}
    fits = {k for k in kinds if unit_in_header(header, k) is not None}
    return bool(fits) and not fits & mine


def _fitting(quantity: str, header: Sequence[str]) -> list[int]:
    """Columns whose words and unit speak for a quantity."""
    yes, no = _HINTS[quantity]
    return [
        i
        for i, h in enumerate(header)
        if re.search(yes, _words(h))
        and not re.search(no, _words(h))
        and not _unit_speaks_against(h, quantity)
    ]


def _in_psi(quantity: str, header: Sequence[str]) -> list[int]:
    """Columns that only their unit calls a pressure ("bottle [psig]")."""
    if quantity != "gauge_pressure":
        return []
    against = _HINTS[quantity][1]
    return [
        i
        for i, h in enumerate(header)
        if not re.search(against, _words(h))
        and any(unit_in_header(h, kind) for kind in ("gauge_pressure", "pressure"))
    ]


def _completed(
    given: dict[str, Column],
    header: Sequence[str],
    units_row: Sequence[str] | None,
    file: str,
    notes: list[str],
) -> dict[str, Column]:
    """What was given; where time or everything beside it is missing, the rest guessed by name.

    Anything doubtful about a time or pressure that was not given is asked back.
    """
    pressures = {"gauge_pressure", "pressure"}
    if "time" in given and len(given) > 1:
        return given
    taken = [_index(q, c, header, len(header), file) for q, c in given.items() if header]
    found = dict(given)
    for quantity in _HINTS:
        if quantity in given or (quantity in pressures and pressures & given.keys()):
            continue
        named = _fitting(quantity, header) or _in_psi(quantity, header)
        hits = [i for i in named if i not in taken]
        if quantity == "time" and len(hits) > 1:
            hits = [i for i in hits if header[i].strip() == "t"] or hits
        if len(hits) == 1:
            found[quantity] = Column(hits[0])
        elif len(hits) > 1:
            names = ", ".join(repr(header[i]) for i in hits)
            if quantity in ("time", "gauge_pressure"):
                raise LogError(
                    f"{quantity} could be any of {names}",
                    file,
                    remedy=f"say which with columns={{...}}, or in a command --column "
                    f'"{quantity}=HEADER"',
                )
            notes.append(f"{quantity} not read: could be any of {names}")
    if "time" not in found or len(found) < 2:
        missing = "time" if "time" not in found else "pressure"
        raise LogError(
            f"no {missing} column recognised among {', '.join(repr(h) for h in header[:20])}",
            file,
            remedy="say which is which, for example columns={'time': 't_s', 'gauge_pressure': "
            "('P tank', 'psi')}, or in a command --column time=t_s --column "
            '"gauge_pressure=P tank:psi"',
        )
    if not pressures & given.keys():
        _absolute_or_gauge(header, units_row, found)
    guessed = {q: int(c.name) for q, c in found.items() if q not in given}
    used = {*taken, *guessed.values()}
    rest = [repr(h) for i, h in enumerate(header) if i not in used and h]
    notes.extend(f"{q} read from {header[i]!r}" for q, i in guessed.items())
    if rest:
        notes.append(f"columns left out: {', '.join(rest[:30])}")
    return found


def _absolute_or_gauge(
    header: Sequence[str], units_row: Sequence[str] | None, found: dict[str, Column]
) -> None:
    """A pressure column whose unit or name says absolute is read as absolute."""
    if "gauge_pressure" not in found:
        return
    index = int(found["gauge_pressure"].name)
    text = header[index]
    if units_row is not None and index < len(units_row):
        text += f" [{units_row[index].strip('[](){} ')}]"
    unit = unit_in_header(text, "pressure")
    says = re.search(r"\b(abs|absolute)\b", _words(header[index])) is not None
    gauge = _affine(unit or "", "gauge_pressure") is not None
    if says or (unit is not None and not gauge):
        found["pressure"] = found.pop("gauge_pressure")
        if says and unit is not None and unit.casefold() == "psi":
            found["pressure"] = Column(index, "psia")
