"""Fields of a scenario by dotted name: read one, change several at once, list them.

Names follow the objects: ``"fill"``, ``"start"``, ``"heater.power"``, ``"switch.opens"``,
``"bottle.layers.1.thickness"``, ``"ambient.temperature"``, ``"feed.jets.bore"``,
``"schedule.1.duration"``, ``"model.inside_factor"``. What belongs to a bottle may be written
without ``bottles.0.``. Of several bottles it then means every one that has the part, changed
together (and the first of these where it is read), and ``"bottles.left.fill"`` means one of them
(name or position). Feeds go by name (``"feeds.purge.jets.bore"``, ``"feed"`` is the one named
main), schedule items by position, by label, or by kind and count (``"schedule.pass0.duration"``,
the names that result columns carry). ``"bottle.fill"`` is the same as ``"fill"``, as in a file.

Changes made together are applied together, so that a switch can be moved past its old set points
and every object is checked once, with all its new values.
"""

from __future__ import annotations

import dataclasses
import numbers
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from itertools import count
from typing import Any

from n2osim.errors import InputError, UnknownNameError, did_you_mean
from n2osim.hardware.bottle import Bottle
from n2osim.scenario.fitted import FittedBottle
from n2osim.scenario.scenario import Scenario
from n2osim.schema import Part, declared
from n2osim.units import DIMENSIONS

_OF_BOTTLE = tuple(name for name in declared(FittedBottle) if name != "name")
_VALUE = None  # key of a tree node under which the node's own new value is kept

Pieces = tuple[str, ...]


def get_field(scenario: Scenario, path: str) -> Any:
    """The value of the field ``path`` (SI). UnknownNameError with near matches for a wrong name."""
    obj: Any = scenario
    done: list[str] = []
    for piece in _pieces(scenario, tied_names(scenario, path)[0]):
        obj = _child(scenario, obj, piece, done, path)
        done.append(piece)
    return obj


def kind_of_field(scenario: Scenario, path: str) -> str:
    """Kind of quantity that a field holds ("length"); "number" where it holds none."""
    *above, last = _pieces(scenario, tied_names(scenario, path)[0])
    obj: Any = scenario
    for k, piece in enumerate(above):
        obj = _child(scenario, obj, piece, above[:k], path)
    entry = declared(type(obj)).get(last) if isinstance(obj, Part) else None
    told = "" if entry is None else getattr(entry.kind, "dimension", entry.kind.takes)
    return told if told in DIMENSIONS else "number"


def number_of(scenario: Scenario, path: str, label: str) -> float:
    """The number that a field holds, the same in every bottle that it means; InputError if not."""
    names = tied_names(scenario, path)
    values = [get_field(scenario, name) for name in names]
    if isinstance(values[0], bool) or not isinstance(values[0], (int, float)):
        raise InputError(label, values[0], "", "a field that holds a number", "")
    if any(value != values[0] for value in values):
        remedy = "say which bottle"
        raise InputError(label, path, "", " or ".join(names) + ": they differ", remedy)
    return values[0]


def with_fields(scenario: Scenario, changes: Mapping[str, Any]) -> Scenario:
    """A copy with the fields in ``changes`` (dotted name to value) replaced and checked again.

    Values are SI numbers, text with a unit, pint quantities, ready-made parts, or a plain table
    for a part; a text for ``"bottle"`` is the name of a preset shell of the same capacity.
    Raises UnknownNameError for a name that does not exist (with near matches), InputError for a
    value that cannot be used or a part that the scenario does not have.
    """
    tree: dict[Any, Any] = {}
    for name, value in changes.items():
        for path in tied_names(scenario, name):
            node = tree
            for piece in _pieces(scenario, path):
                node = node.setdefault(piece, {})
            node[_VALUE] = (path, value)
    return _apply(scenario, scenario, tree, [])


def tied_names(scenario: Scenario, name: str) -> list[str]:
    """The dotted names that a name means: of every bottle that has the part, where several.

    InputError where no bottle has it.
    """
    pieces = _pieces(scenario, name)
    if len(scenario.bottles) == 1 or pieces[:2] != ("bottles", "0") or name.startswith("bottles."):
        return [name]
    part = pieces[2]
    having = [b.name for b in scenario.bottles if len(pieces) == 3 or getattr(b, part) is not None]
    if not having:
        remedy = f"no bottle has a {part}"
        raise InputError("scenario field", name, "", f"a scenario with a {part}", remedy)
    return [".".join(("bottles", b, *pieces[2:])) for b in having]


def check_fields(scenario: Scenario, paths: Iterable[str]) -> None:
    """Raise UnknownNameError or InputError for the first of ``paths`` that cannot be set."""
    for path in paths:
        for name in tied_names(scenario, path):
            get_field(scenario, name)


def field_paths(scenario: Scenario) -> dict[str, Any]:
    """Every field that can be set, by its shortest dotted name, with its value."""
    found: dict[str, Any] = {}
    for pieces, value in _leaves(scenario, scenario, ()):
        found[_short(scenario, pieces)] = value
    return found


# --- names ---------------------------------------------------------------------------------------
def _pieces(scenario: Scenario, path: Any) -> Pieces:
    """The path from the scenario object, aliases written out."""
    if not isinstance(path, str) or not path.strip():
        raise InputError(
            "scenario field",
            path,
            "",
            "a dotted name such as 'heater.power'",
            "see n2osim.scenario.fields.field_paths(scenario)",
        )
    pieces = tuple(p.strip() for p in path.split("."))
    first = pieces[0]
    if first == "bottle" and len(pieces) > 1 and pieces[1] in _OF_BOTTLE:
        pieces = pieces[1:]
        first, path = pieces[0], ".".join(pieces)
    if first in _OF_BOTTLE:
        return ("bottles", "0", *pieces)
    if first == "feed":
        return ("feeds", "main", *pieces[1:])
    return pieces


def _short(scenario: Scenario, pieces: Pieces) -> str:
    if pieces[:2] == ("bottles", "0") and len(scenario.bottles) == 1 and pieces[2] != "name":
        pieces = pieces[2:]
    elif pieces[:2] == ("feeds", "main"):
        pieces = ("feed", *pieces[2:])
    return ".".join(pieces)


def _unknown(scenario: Scenario, path: str, done: list[str], known: list[str]) -> UnknownNameError:
    where = ".".join(done) or "the scenario"
    paths = list(field_paths(scenario))
    if path.startswith("bottle."):
        paths += [f"bottle.{p}" for p in paths if p.split(".")[0] in _OF_BOTTLE]
    hint = did_you_mean(path, paths)
    return UnknownNameError(
        "scenario field",
        path,
        "",
        f"in {where}: {', '.join(known)}",
        hint or "see n2osim.scenario.fields.field_paths(scenario)",
    )


def _keys(scenario: Scenario, obj: Any, done: list[str]) -> dict[str, Any]:
    """What can follow in a dotted name: piece to value (several pieces may mean the same)."""
    if dataclasses.is_dataclass(obj):
        return {f.name: getattr(obj, f.name) for f in dataclasses.fields(obj)}
    if not isinstance(obj, tuple):
        return {}
    if done == ["feeds"]:
        return dict(obj)
    keys = {str(i): value for i, value in enumerate(obj)}
    for name, index in _item_names(scenario, done).items():
        keys.setdefault(name, obj[index])
    return keys


@lru_cache(maxsize=64)
def segment_names(kinds: tuple[str, ...]) -> tuple[str, ...]:
    """Names of the items of a schedule: kind and its count ("hold0", "pass0", "hold1")."""
    counts: dict[str, Iterator[int]] = defaultdict(count)
    return tuple(f"{kind}{next(counts[kind])}" for kind in kinds)


def _item_names(scenario: Scenario, done: list[str]) -> dict[str, int]:
    """Names of the entries of a list beside their positions."""
    if done == ["bottles"]:
        return {b.name: i for i, b in enumerate(scenario.bottles)}
    if done != ["schedule"]:
        return {}
    counted = segment_names(tuple(item.kind for item in scenario.schedule))
    names = {name: i for i, name in enumerate(counted)}
    for i, item in enumerate(scenario.schedule):
        if item.label:
            names.setdefault(item.label, i)
    return names


def _child(scenario: Scenario, obj: Any, piece: str, done: list[str], path: str) -> Any:
    keys = _keys(scenario, obj, done)
    if piece in keys:
        return keys[piece]
    if done == ["feeds"] and piece == "main" and path == "feed":
        return None  # a whole new one
    if obj is None or (done == ["feeds"] and piece == "main"):
        what = (done[-1] if obj is None else "feed").replace("_", " ")
        raise InputError(
            "scenario field",
            path,
            "",
            f"fields of parts that are there: no {what}",
            f"give the base scenario a {what} first",
        )
    raise _unknown(scenario, path, done, list(keys))


def _leaves(scenario: Scenario, obj: Any, pieces: Pieces) -> Iterator[tuple[Pieces, Any]]:
    if dataclasses.is_dataclass(obj) or (isinstance(obj, tuple) and obj):
        keys = _keys(scenario, obj, list(pieces))
        if isinstance(obj, tuple) and pieces != ("feeds",):
            keys = {str(i): v for i, v in enumerate(obj)}
        for key, value in keys.items():
            yield from _leaves(scenario, value, (*pieces, key))
    else:
        yield pieces, obj


# --- changing ------------------------------------------------------------------------------------
def _apply(scenario: Scenario, obj: Any, tree: dict[Any, Any], done: list[str]) -> Any:
    """``obj`` with the changes of ``tree`` below it."""
    children = {k: v for k, v in tree.items() if k is not _VALUE}
    if _VALUE in tree:
        obj = _coerce(tree[_VALUE][1], obj)
    if not children:
        return obj
    path = _path_of(tree)
    changed: dict[str, Any] = {}
    for piece, child in children.items():
        old = _child(scenario, obj, piece, done, path)
        changed[piece] = _apply(scenario, old, child, [*done, piece])
    if isinstance(obj, tuple):
        return _with_items(scenario, obj, changed, done)
    return dataclasses.replace(obj, **changed)


def _path_of(tree: dict[Any, Any]) -> str:
    """One of the dotted names that led below this node."""
    while _VALUE not in tree or len(tree) > 1:
        tree = next(v for k, v in tree.items() if k is not _VALUE)
    return str(tree[_VALUE][0])


def _with_items(
    scenario: Scenario, items: tuple[Any, ...], changed: dict[str, Any], done: list[str]
) -> tuple[Any, ...]:
    if done == ["feeds"]:
        named = dict(items) | changed
        first = {"main": named["main"]} if "main" in changed else {}
        return tuple((first | named).items())
    names = _item_names(scenario, done)
    new = list(items)
    for piece, value in changed.items():
        new[int(piece) if piece.isdecimal() else names[piece]] = value
    return tuple(new)


def _coerce(value: Any, current: Any) -> Any:
    """Fit a value from a table, an array or a sample to the kind of the field it replaces."""
    if hasattr(value, "dtype") and getattr(value, "ndim", None) == 0:
        value = value.item()
    if isinstance(value, numbers.Real) and not isinstance(value, bool):
        if isinstance(current, bool) and value in (0, 1):
            return bool(value)
        if type(current) is int and float(value).is_integer():
            return int(float(value))
    if isinstance(value, str) and isinstance(current, Bottle):
        return shell_like(value, current)
    if isinstance(value, Mapping) and isinstance(current, Part):
        return type(current).from_dict(value)
    return value


def shell_like(shell: str, bottle: Bottle) -> Bottle:
    """The preset ``shell`` ("aluminium", "carbon-polymer", ...) with the capacity of ``bottle``."""
    try:
        return Bottle.preset(shell, bottle.capacity)
    except UnknownNameError as problem:
        if "capacity" not in problem.quantity:
            raise
    return Bottle.from_capacity(bottle.capacity, shell)
