"""Numbers without a unit in a file, where one is usual: were shop units meant?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from n2osim.schema import Nested, Number, Part, declared
from n2osim.units import format_quantity, parse, unit_label

_USUAL = {"gauge_pressure": (1e5, 5e7), "pressure": (3e4, 1.2e5), "pressure_difference": (1e3, 5e6)}
"""What such a quantity usually is, SI; a bare number outside was probably meant in shop units."""


@dataclass(frozen=True)
class BareNumber:
    """A number without a unit where one is usual: where, what it was read as, what was meant."""

    path: str
    value: float
    read_as: str
    meant: str


def bare_numbers(cls: type[Part], table: Mapping[str, Any], path: str = "") -> list[BareNumber]:
    """Numbers in a part's table that are unusual in SI and usual in the shop's unit."""
    found = []
    for key, d in declared(cls).items():
        value, where = table.get(key), f"{path}.{key}" if path else key
        if isinstance(d.kind, Nested) and isinstance(value, Mapping):
            found += bare_numbers(d.kind.kinds[0], value, where)
        elif isinstance(d.kind, Number) and (note := _meant(value, d.kind.dimension)):
            found.append(BareNumber(where, float(value), *note))  # type: ignore[arg-type]
        elif isinstance(value, (list, tuple)) and (dimension := getattr(d.kind, "each", "")):
            notes = [(v, _meant(v, dimension)) for v in value]
            found += [BareNumber(where, float(v), *n) for v, n in notes if n]
    return found


def _meant(value: Any, dimension: str) -> tuple[str, str] | None:
    """(what it reads as, what was probably meant) of a suspicious bare number."""
    low, high = _USUAL.get(dimension, (None, None))
    if low is None or high is None or isinstance(value, bool) or not value:
        return None
    if not isinstance(value, (int, float)) or abs(value) > high:
        return None
    unit = unit_label(dimension, "shop")
    as_shop = abs(parse(f"{abs(float(value)):g} {unit}", dimension, low=0.0))
    if low <= abs(float(value)) <= high or not low <= as_shop <= high:
        return None
    return format_quantity(float(value), dimension, "shop"), f"{value:g} {unit}"
