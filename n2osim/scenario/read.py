"""A parsed scenario file as a :class:`Scenario`: which section becomes what.

Keys, kinds and limits are those of the classes (:mod:`n2osim.schema`); this module only knows how
a file is laid out.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from n2osim.errors import did_you_mean
from n2osim.hardware.ambient import Ambient
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.feed import Feed
from n2osim.hardware.heater import Supply
from n2osim.physics.fuels import fuel
from n2osim.scenario.bare_numbers import BareNumber, bare_numbers
from n2osim.scenario.fitted import FittedBottle
from n2osim.scenario.model import Model, Numerics
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import KINDS, Item, check_references
from n2osim.scenario.source import Source, short
from n2osim.scenario.toml_lines import Place
from n2osim.scenario.weighed import WeighedPass
from n2osim.schema import Nested, Part, Whole, declared, inside, reading_at, required, unknown_key

MOST_ITEMS = 10_000
"""Longest schedule, after repeats."""
OF_BOTTLE: dict[str, type[Part]] = {
    n: d.kind.kinds[0]
    for n, d in declared(FittedBottle).items()
    if isinstance(d.kind, Nested) and n != "bottle"
}
"""Sections that belong to one bottle: heater, switch, mounting."""
FITTING = tuple(n for n in declared(FittedBottle) if n not in ("bottle", *OF_BOTTLE))
"""Keys of [bottle] that are not the shell's."""
PARTS: dict[str, type[Part]] = {
    "ambient": Ambient,
    "engine": EngineSide,
    "supply": Supply,
    "model": Model,
    "numerics": Numerics,
}
SECTIONS = (
    "schema",
    "title",
    "clock_start",
    "bottle",
    "bottles",
    *OF_BOTTLE,
    *PARTS,
    "feed",
    "feeds",
    "schedule",
    "weighed",
)
_TIMES = Whole(1, 1000)


def read_scenario(source: Source) -> Scenario:
    """The scenario of a parsed file. Raises ScenarioError naming line and key."""
    data = source.data
    with source.located():
        _check_keys(data, SECTIONS, "section")
    ambient = _part(source, Ambient, data.get("ambient", {}), "ambient")
    with reading_at(ambient.pressure):
        fields: dict[str, Any] = {
            name: _part(source, cls, data[name], name)
            for name, cls in PARTS.items()
            if name in data and name != "ambient"
        }
        if "engine" in fields:
            with source.located("engine"), inside("fuel"):
                fuel(fields["engine"].fuel)  # names are looked up later: say now what is not known
        feeds, bottles = _feeds(source, data), _bottles(source, data)
        names = ([n for n, _ in feeds], [b.name for b in bottles])
        schedule = _schedule(source, data.get("schedule", []), ("schedule",), names)
    fields["weighed"] = tuple(
        _part(source, WeighedPass, table, "weighed", i)
        for i, table in enumerate(source.tables(data.get("weighed", []), ("weighed",)))
    )
    fields |= {k: data[k] for k in ("clock_start",) if k in data}
    with source.located():
        title = declared(Scenario)["title"]
        with inside("title"):
            fields["title"] = title.kind.read(data.get("title", title.default), "title", None)
        return Scenario(bottles, schedule, ambient, feeds, **fields)


def _check_keys(
    table: dict[str, Any], known: tuple[str, ...], what: str, meant: Mapping[str, str] | None = None
) -> None:
    for key in table:
        if key not in known:
            with inside(key):
                raise unknown_key(what, key, known, meant or {})


def _part(source: Source, cls: type[Part], table: Any, *path: str | int) -> Any:
    """A part from its table."""
    with source.located(*path):
        return cls.from_dict(source.table(table, path))


# --- bottles and feeds ---------------------------------------------------------------------------
def _bottles(source: Source, data: dict[str, Any]) -> tuple[FittedBottle, ...]:
    if ("bottle" in data) == ("bottles" in data):
        raise source.error(
            ("bottles",) if "bottles" in data else (),
            "needs either one [bottle] or several [[bottles]]",
            'for one: [bottle] with preset = "aluminium", capacity = "12 lb", fill, start',
        )
    if "bottle" in data:
        table = source.table(data["bottle"], ("bottle",))
        parts = {k: _of_bottle(source, k, data[k], k) for k in OF_BOTTLE if k in data}
        return (_fitted(source, table, parts, "bottle"),)
    for key in OF_BOTTLE:
        if key in data:
            raise source.error(
                (key,),
                "belongs to one bottle when there are several",
                f"write [bottles.{key}] below its [[bottles]]",
            )
    found = []
    for i, table in enumerate(source.tables(data["bottles"], ("bottles",))):
        parts = {
            k: _of_bottle(source, k, table[k], "bottles", i, k) for k in OF_BOTTLE if k in table
        }
        rest = {k: v for k, v in table.items() if k not in OF_BOTTLE}
        found.append(_fitted(source, rest, parts, "bottles", i))
    return tuple(found)


def _of_bottle(source: Source, name: str, table: Any, *path: str | int) -> Any:
    return _part(source, OF_BOTTLE[name], table, *path)


def _fitted(
    source: Source, table: dict[str, Any], parts: dict[str, Any], *path: str | int
) -> FittedBottle:
    """``label`` names the shell, ``name`` the fitted bottle; the rest is one or the other's."""
    own = {k: v for k, v in table.items() if k in FITTING}
    shell = {("name" if k == "label" else k): v for k, v in table.items() if k not in FITTING}
    with source.located(*path):
        known = ("label", *FITTING, *declared(Bottle), *Bottle.ways)
        _check_keys(table, known, "bottle entry", Bottle.meant)
        bottle = Bottle.from_dict(shell)
        for key in required(FittedBottle):
            if key != "bottle" and key not in own:
                raise source.error(
                    path, f"needs {key!r}", 'for example fill = "12 lb", start = "60 degF"'
                )
        return FittedBottle(bottle=bottle, **own, **parts)


def _feeds(source: Source, data: dict[str, Any]) -> tuple[tuple[str, Feed], ...]:
    found: list[tuple[str, Feed]] = []
    if "feed" in data:
        found.append(("main", _part(source, Feed, data["feed"], "feed")))
    for name, table in source.table(data.get("feeds", {}), ("feeds",)).items():
        if name == "main" and found:
            raise source.error(("feeds", name), "is the same as [feed]", "keep one of them")
        found.append((name, _part(source, Feed, table, "feeds", name)))
    return tuple(found)


# --- the schedule --------------------------------------------------------------------------------
Names = tuple[list[str], list[str]]


def _schedule(source: Source, value: Any, path: Place, names: Names) -> tuple[Item, ...]:
    """The items of ``[[schedule]]`` (or of a repeat), in order; ``names`` of feeds and bottles."""
    items: list[Item] = []
    for i, table in enumerate(source.tables(value, path)):
        items.extend(_item(source, table, (*path, i), names))
        if len(items) > MOST_ITEMS:
            raise source.error(
                (*path, i), f"makes the schedule longer than {MOST_ITEMS} items", "repeat less"
            )
    return tuple(items)


def _item(source: Source, table: dict[str, Any], path: Place, names: Names) -> tuple[Item, ...]:
    kinds = (*KINDS, "repeat")
    kind = table.get("kind")
    if kind is None:
        raise source.error(path, "needs a 'kind'", f"one of {', '.join(kinds)}")
    if kind == "repeat":
        return _repeat(source, table, path, names)
    if not isinstance(kind, str) or kind not in KINDS:
        hint = did_you_mean(str(kind), kinds) or f"one of {', '.join(kinds)}"
        raise source.error((*path, "kind"), f"{short(str(kind))!r} is not something to do", hint)
    with source.located(*path):
        item = KINDS[kind].from_dict({k: v for k, v in table.items() if k != "kind"})
        check_references(item, *names)
    return (item,)


def _repeat(source: Source, table: dict[str, Any], path: Place, names: Names) -> tuple[Item, ...]:
    with source.located(*path):
        _check_keys(table, ("kind", "times", "items"), "repeat entry")
        with inside("times"):
            times = _TIMES.read(table.get("times"), "times", None)
    items = _schedule(source, table.get("items", []), (*path, "items"), names)
    if not items:
        raise source.error(path, "repeats nothing", "add [[schedule.items]] below it")
    if len(items) * times > MOST_ITEMS:
        raise source.error(
            path, f"makes the schedule longer than {MOST_ITEMS} items", "repeat less"
        )
    return items * times


# --- bare numbers --------------------------------------------------------------------------------
def bare_numbers_in(source: Source) -> list[BareNumber]:
    """Numbers of a file that are unusual in SI and usual in the shop's unit, such as 900 psig."""
    data = source.data
    found: list[BareNumber] = []
    for name, cls in PARTS.items():
        found += bare_numbers(cls, data.get(name, {}), name)
    tables: list[tuple[str, dict[str, Any]]] = [("", data)] if "bottle" in data else []
    tables += [(f"bottles[{i + 1}].", t) for i, t in enumerate(data.get("bottles", []))]
    for prefix, table in tables:
        found += bare_numbers(Bottle, table.get("bottle", table), f"{prefix}bottle")
        for key in OF_BOTTLE:
            found += bare_numbers(OF_BOTTLE[key], table.get(key, {}), f"{prefix}{key}")
    for name, feed in ({"main": data.get("feed", {})} | data.get("feeds", {})).items():
        found += bare_numbers(Feed, feed, f"feeds.{name}")
    return found + _bare_items(data.get("schedule", []), "schedule")


def _bare_items(items: list[dict[str, Any]], path: str) -> list[BareNumber]:
    found: list[BareNumber] = []
    for i, table in enumerate(items, 1):
        where = f"{path}[{i}]"
        if table.get("kind") == "repeat":
            found += _bare_items(table.get("items", []), f"{where}.items")
        else:
            found += bare_numbers(KINDS[table["kind"]], table, where)
    return found
