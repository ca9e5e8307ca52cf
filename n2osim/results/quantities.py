"""The table of quantities: every number and array that a run can give, by name.

A series goes by its own name ("pressure_Pa"). Everything else is ``<where>.<quantity>``:
"hold0.warm_up_time_s" (segments are counted by kind), "run.peak_pressure_gauge_Pa" (the whole
schedule), and with several bottles ``<where>.<bottle>.<quantity>`` ("hold0.left.duty") or
"pass0.all.used_kg" for all of them together. Names end in their SI unit, which may be left out
where only one quantity is meant; ``gauge_Pa`` is a gauge pressure.

Entries are in :mod:`~n2osim.results.quantities_series`, ``quantities_segments``,
``quantities_engine`` and ``quantities_rounds``; a new one appears wherever quantities do.
"""

from __future__ import annotations

import fnmatch
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from n2osim.errors import InputError, UnknownNameError, did_you_mean
from n2osim.results.numbers import Numbers
from n2osim.results.quantities_engine import ENGINE, ENGINE_SERIES
from n2osim.results.quantities_rounds import ROUNDS, Round
from n2osim.results.quantities_segments import SEGMENTS
from n2osim.results.quantities_series import SERIES
from n2osim.results.quantity import Quantity, kind_of
from n2osim.scenario.fields import segment_names
from n2osim.scenario.schedule import KINDS

if TYPE_CHECKING:
    from n2osim.scenario.scenario import Scenario

QUANTITIES = [*SERIES, *ENGINE_SERIES, *SEGMENTS, *ENGINE, *ROUNDS]
"""All entries."""
_OWN = frozenset((q.of, q.name) for q in QUANTITIES)
_TABLES = {"series": SERIES, "engine series": ENGINE_SERIES, "engine": ENGINE, "round": ROUNDS}

GROUPS = {
    "series": "over time",
    "engine series": "over time, with an engine in the scenario",
    "segment": "every item of the schedule",
    "held": "holds and rests",
    "flowing": "passes and purges",
    "together": "passes and purges, all bottles together",
    "weighed": "weighings",
    "filled": "refills",
    "run": "the whole run",
    "run together": "the whole run, all bottles together",
    "car": "the whole run, whatever the bottles",
    "round": "rounds (a pass with its purges and what is done after it)",
    "engine": "passes, with an engine in the scenario",
}
"""What a quantity can belong to, in words."""


def register_quantity(entry: Quantity) -> None:
    """Add an entry of another package; one of its own of that name and group makes way.

    InputError for a name of the package's own, or a group that does not exist.
    """
    if entry.of not in GROUPS:
        raise UnknownNameError.among("group of quantities", entry.of, GROUPS)
    if (entry.of, entry.name) in _OWN:
        raise InputError("quantity", entry.name, "", "a name that is free", "choose another name")
    for table in (QUANTITIES, _TABLES.get(entry.of, SEGMENTS)):
        table[:] = [q for q in table if (q.of, q.name) != (entry.of, entry.name)] + [entry]
    for kept in (of_group, all_columns, columns, quantity):
        kept.cache_clear()


class Layout(NamedTuple):
    """What the names of a run depend on: kinds of its items, names of its bottles, engine."""

    kinds: tuple[str, ...]
    bottles: tuple[str, ...]
    engine: bool = False


class Column(NamedTuple):
    """One number of a run: its full name, the entry, and where it is (segment, bottle).

    kinds: the schedule's, for a quantity of a round.
    """

    name: str
    quantity: Quantity
    segment: int = -1
    bottle: int = -1
    kinds: tuple[str, ...] = ()

    @property
    def late(self) -> bool:
        """Whether it needs the run itself, not only its records."""
        return self.quantity.of == "engine"

    def values(self, records: np.ndarray) -> Any:
        """Values over members from records (member, segment, bottle)."""
        k = self.segment if self.segment >= 0 else slice(None)
        i = self.bottle if self.bottle >= 0 else slice(None)
        if self.kinds:
            return self.quantity.formula(Round(records[:, :, i], self.kinds, self.segment))
        return self.quantity.formula(Numbers(records[:, k, i]))


def layout_of(scenario: Scenario) -> Layout:
    """The layout of a scenario's run."""
    kinds = tuple(item.kind for item in scenario.schedule)
    return Layout(kinds, tuple(b.name for b in scenario.bottles), scenario.engine is not None)


@cache
def of_group(*groups: str) -> tuple[Quantity, ...]:
    """Entries of any of these groups, in order."""
    return tuple(q for q in QUANTITIES if q.of in groups)


def of_kind(kind: str) -> tuple[Quantity, ...]:
    """What a kind of schedule item ("hold", "pass", ...) reports of a bottle."""
    return of_group("segment", KINDS[kind].reports)


@lru_cache(maxsize=64)
def all_columns(layout: Layout) -> tuple[Column, ...]:
    """Every number of a layout, in order."""
    several = len(layout.bottles) > 1
    tags = [f"{name}." if several else "" for name in layout.bottles]
    found = [
        Column(f"run.{tag}{q.name}", q, -1, i)
        for i, tag in enumerate(tags)
        for q in of_group("run")
    ]
    if several:
        found += [Column(f"run.all.{q.name}", q) for q in of_group("run together")]
    found += [Column(f"run.{q.name}", q) for q in of_group("car")]
    for k, (where, kind) in enumerate(zip(segment_names(layout.kinds), layout.kinds)):
        for i, tag in enumerate(tags):
            found += [Column(f"{where}.{tag}{q.name}", q, k, i) for q in of_kind(kind)]
        if several and KINDS[kind].reports == "flowing":
            found += [Column(f"{where}.all.{q.name}", q, k) for q in of_group("together")]
        if layout.engine and kind == "pass":
            found += [Column(f"{where}.{q.name}", q, k) for q in ENGINE]
    passes = [k for k, kind in enumerate(layout.kinds) if kind == "pass"]
    for number, k in enumerate(passes):
        for i, tag in enumerate(tags):
            where = f"round{number}.{tag}"
            found += [Column(f"{where}{q.name}", q, k, i, layout.kinds) for q in ROUNDS]
    return tuple(found)


@lru_cache(maxsize=64)
def columns(layout: Layout, outputs: tuple[str, ...] | None = None) -> tuple[Column, ...]:
    """The numbers that match names or patterns ("pass*.pressure_sag_Pa", "hold0.*").

    None: all but what must be asked for, the engine's and those of rounds.
    """
    every = all_columns(layout)
    if outputs is None:
        return tuple(c for c in every if c.quantity.of not in ("engine", "round"))
    return tuple(c for c in every if any(_fits(c, p) for p in outputs))


def names_of(q: Quantity, full: str = "") -> tuple[str, ...]:
    """Names that an entry answers to: with its unit, without, and ending in "_gauge".

    full: its name in a run ("hold0.duty"; default: its own).
    """
    full = full or q.name
    return full, full.removesuffix(q.suffix), full.removesuffix("_Pa")


def _fits(column: Column, pattern: str) -> bool:
    names = names_of(column.quantity, column.name)
    return any(n == pattern or fnmatch.fnmatchcase(n, pattern) for n in names)


def early(chosen: Sequence[Column], records: np.ndarray) -> np.ndarray:
    """Values (member, column) of columns that need only the records (member, segment, bottle)."""
    values = np.empty((len(records), len(chosen)))
    for k, column in enumerate(chosen):
        values[:, k] = column.values(records)
    return values


# --- names ---------------------------------------------------------------------------------------
def check_outputs(layout: Layout, outputs: Iterable[str]) -> None:
    """Raise UnknownNameError with near matches for a name or pattern that fits nothing."""
    for pattern in outputs:
        if not columns(layout, (pattern,)):
            raise unknown(pattern, [c.name for c in all_columns(layout)], layout)


def check_names(outputs: Iterable[str] | str) -> None:
    """As :func:`check_outputs` where the layouts are not known yet: the quantity must exist."""
    known = {q.name: q for q in QUANTITIES if not q.dims}
    for pattern in (outputs,) if isinstance(outputs, str) else outputs:
        last = str(pattern).split(".")[-1]
        if not any(_fits(Column(q.name, q), last) for q in known.values()):
            raise UnknownNameError.among("output", pattern, sorted(known))


def unknown(name: str, known: Iterable[str], layout: Layout) -> UnknownNameError:
    """The error for a name that no quantity of a run has, with the nearest names."""
    near = did_you_mean(name, known) or "n2osim/docs/quantities.md lists them, run.numbers('*') too"
    last = str(name).split(".")[-1]
    if not layout.engine and any(_fits(Column(q.name, q), last) for q in (*ENGINE, *ENGINE_SERIES)):
        near = "the scenario has no engine: give it one"
    return UnknownNameError("quantity", name, "", "", near)


@lru_cache(maxsize=8192)
def quantity(name: str) -> Quantity:
    """The entry behind a name: a quantity's own ("duty"), or that of a run ("hold0.left.duty").

    The unit may be left out. Raises UnknownNameError with near matches.
    """
    *where, last = name.split(".")
    among = _among(where)
    for k in range(3):
        for q in among:
            if names_of(q)[k] == last:
                return q
    raise UnknownNameError.among("quantity", name, [q.name for q in among])


def _among(where: list[str]) -> tuple[Quantity, ...]:
    """Entries that a place in a run ("hold0", "left") can have."""
    if not where:
        return tuple(QUANTITIES)
    kind, together = where[0].rstrip("0123456789"), where[1:] == ["all"]
    if kind == "run":
        return of_group("run together") if together else of_group("run", "car")
    if kind == "round":
        return tuple(ROUNDS)
    if kind in KINDS:
        return of_group("together") if together else (*of_kind(kind), *ENGINE)
    return (*SERIES, *ENGINE_SERIES)


def kind_in(name: str) -> str:
    """Kind of a column: its quantity's; by the end of its name where it is not one of ours."""
    try:
        return quantity(name).kind
    except UnknownNameError:
        return kind_of(name)


def short_name(name: str) -> str:
    """A column's name without its unit ("hold0.overshoot")."""
    try:
        return name.removesuffix(quantity(name).suffix)
    except UnknownNameError:
        return name
