"""What one entry of the table of quantities is, and how its name, field and unit hang together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from n2osim.unit_table import DIMENSIONS

ALWAYS = ""
NEVER = "never happened: counts as infinitely late"
GOOD = "never happened, which is good: a limit on it is met"
UNDEFINED = "not applicable: a limit on it is refused"

_KINDS = {
    "gauge_Pa": "gauge_pressure",
    "pressure_Pa": "pressure",
    "_Pa": "pressure_difference",
    "_J_K": "heat_capacity",
    "_W_m2K": "heat_transfer_coefficient",
    "_K": "temperature",
    "_kg_s": "mass_flow",
    "_kg": "mass",
    "_J": "energy",
    "_W": "power",
    "_s": "time",
}
_ENDS = {"gauge_pressure": "_gauge_Pa", "heat_transfer_coefficient": "_W_m2K"}
_SHOWN = {"gauge_pressure": "Pa gauge", "fraction": "1", "number": "1"}

Formula = Callable[[Any], Any]


def kind_of(name: str) -> str:
    """Kind of quantity that the end of a name tells; "number" where it has no unit."""
    return next((kind for end, kind in _KINDS.items() if name.endswith(end)), "number")


@dataclass(frozen=True)
class Quantity:
    """One entry.

    name: with its unit at its end (``gauge_Pa`` is a gauge pressure, a bare ``_Pa`` an absolute one
    or a difference, by ``kind``). of: what it belongs to (a key of ``GROUPS``). formula: one
    function, for one run and for many members alike; what it takes depends on the group. kind:
    dimension of :mod:`n2osim.units`. label: two or three words. sentence: what it is. missing: what
    it means that there is no value (``ALWAYS``: there is one). dims: axes of a series.
    """

    name: str
    of: str
    formula: Formula
    kind: str
    label: str
    sentence: str
    missing: str = ALWAYS
    dims: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.name.endswith(self.suffix) or not self.sentence:
            raise ValueError(f"quantity {self.name}: name must end in {self.suffix!r}, with words")

    @property
    def suffix(self) -> str:
        """The unit as the name carries it ("_gauge_Pa", "_kg_s", "")."""
        si = DIMENSIONS[self.kind].si.replace("/", "_")
        return _ENDS.get(self.kind, f"_{si}" if si else "")

    @property
    def field(self) -> str:
        """The name without its unit, as summaries carry it."""
        return self.name.removesuffix(self.suffix)

    @property
    def unit(self) -> str:
        """SI unit in words ("Pa gauge", "kg/s", "1")."""
        return _SHOWN.get(self.kind, DIMENSIONS[self.kind].si)

    def plain(self, value: float) -> float | int | bool | None:
        """A number of this quantity as a plain value: None where missing, whole counts, flags."""
        if value != value:
            return None
        if self.kind == "count":
            return int(value)
        return bool(value) if self.kind == "flag" else float(value)


class Table(list[Quantity]):
    """Entries in the order in which they are reported."""

    def rows(self, of: str, dims: str = "") -> Callable[..., None]:
        """A function that makes an entry of this group: ``add(name, sentence, formula)``."""

        def add(
            name: str,
            sentence: str,
            formula: Formula,
            missing: str = ALWAYS,
            kind: str = "",
            label: str = "",
        ) -> None:
            entry = Quantity(
                name,
                of,
                formula,
                kind or kind_of(name),
                label,
                sentence,
                missing,
                tuple(dims.split()),
            )
            label = label or entry.field.replace("_", " ")
            self.append(replace(entry, label=label))

        return add
