"""The schedule of a scenario file: one ``[[schedule]]`` table per thing that happens, in order."""

from __future__ import annotations

import dataclasses
from typing import Any, NamedTuple

from n2osim.errors import did_you_mean
from n2osim.scenario.schedule import KINDS, Pass, Purge, Stage
from n2osim.scenario.source import Source, plain, short
from n2osim.scenario.toml_lines import Path
from n2osim.units import parse

MOST_ITEMS = 10_000
"""Longest schedule, after repeats."""

_EXAMPLE = {
    "duration": 'for example duration = "30 min"',
    "supply_temperature": 'for example supply_temperature = "70 degF"',
}


class Names(NamedTuple):
    """What the schedule may refer to: names of feeds and bottles, and the ambient pressure, Pa."""

    feeds: tuple[str, ...]
    bottles: tuple[str, ...]
    ambient: float


def read_schedule(source: Source, value: Any, path: Path, names: Names) -> tuple[Any, ...]:
    """The items of ``[[schedule]]`` (or of a repeat), in order."""
    items: list[Any] = []
    for i, table in enumerate(source.tables(value, path)):
        items.extend(_item(source, table, (*path, i), names))
        if len(items) > MOST_ITEMS:
            raise source.error(
                (*path, i), f"makes the schedule longer than {MOST_ITEMS} items", "repeat less"
            )
    return tuple(items)


def _item(source: Source, table: dict[str, Any], path: Path, names: Names) -> tuple[Any, ...]:
    kinds = (*KINDS, "repeat")
    kind = table.get("kind")
    if kind is None:
        raise source.error(path, "needs a 'kind'", f"one of {', '.join(kinds)}")
    source.check_type("str", kind, (*path, "kind"))
    if kind == "repeat":
        return _repeat(source, table, path, names)
    if kind not in KINDS:
        hint = did_you_mean(kind, kinds) or f"one of {', '.join(kinds)}"
        raise source.error((*path, "kind"), f"{short(kind)!r} is not something to do", hint)
    cls = KINDS[kind]
    rest = {k: v for k, v in table.items() if k != "kind"}
    source.check_keys(rest, path, ["kind", *(f.name for f in dataclasses.fields(cls))])
    for f in dataclasses.fields(cls):
        if f.default is dataclasses.MISSING and f.name not in rest:
            raise source.error(path, f"a {kind} needs {f.name!r}", _EXAMPLE.get(f.name, ""))
    source.check_types(cls, rest, path)
    if "stages" in rest:
        rest["stages"] = tuple(
            plain(source, Stage, s, (*path, "stages", i)) for i, s in enumerate(rest["stages"])
        )
    _window(source, rest, path, names.ambient)
    with source.located(path, rest):
        item = cls(**rest)
    _check_references(source, item, path, names)
    return (item,)


def _window(source: Source, table: dict[str, Any], path: Path, ambient: float) -> None:
    """The arming window in gauge pressure, with the scenario's ambient for psia."""
    window = table.get("window")
    if window is None:
        return
    where = (*path, "window")
    if len(window) != 2:
        raise source.error(
            where, f"needs two pressures, not {len(window)}", 'window = ["900 psig", "1150 psig"]'
        )
    with source.located(where, {}):
        table["window"] = tuple(
            parse(v, "gauge_pressure", name="arming window", ambient=ambient) for v in window
        )


def _check_references(source: Source, item: Any, path: Path, names: Names) -> None:
    """Feeds and bottles that the item names must exist."""
    for where, name in _references(item):
        feed = where[-1] == "feed"
        known = names.feeds if feed else names.bottles
        if name is None and any(n != "purge" for n in known):
            continue
        if name not in known:
            what = "feed" if feed else "bottle"
            shown = f"{short(name)!r} is not a {what}" if name else "has no feed to draw through"
            remedy = did_you_mean(name, known) or (
                "add [feed] with jets, or give an outflow"
                if feed and not known
                else f"{what}s: {', '.join(known)}"
            )
            raise source.error((*path, *where), shown, remedy)


def _references(item: Any) -> list[tuple[Path, str | None]]:
    """(place inside the item, name) of every feed and bottle that it needs."""
    stages = list(enumerate(getattr(item, "stages", ())))
    found: list[tuple[Path, str | None]] = []
    if isinstance(item, Purge) or (isinstance(item, Pass) and not stages and item.outflow is None):
        found.append((("feed",), item.feed))
    found += [(("stages", i, "feed"), stage.feed or item.feed) for i, stage in stages]
    bottles: list[tuple[Path, str | None]] = [(("bottle",), getattr(item, "bottle", None))]
    bottles += [(("stages", i, "bottle"), stage.bottle) for i, stage in stages]
    return found + [(where, name) for where, name in bottles if name is not None]


def _repeat(source: Source, table: dict[str, Any], path: Path, names: Names) -> tuple[Any, ...]:
    source.check_keys(table, path, ("kind", "times", "items"))
    times = table.get("times")
    source.check_type("int", times, (*path, "times"))
    if times is None or not 1 <= times <= 1000:
        raise source.error((*path, "times"), "must be a whole number from 1 to 1000")
    items = read_schedule(source, table.get("items", []), (*path, "items"), names)
    if not items:
        raise source.error(path, "repeats nothing", "add [[schedule.items]] below it")
    if len(items) * times > MOST_ITEMS:
        raise source.error(
            path, f"makes the schedule longer than {MOST_ITEMS} items", "repeat less"
        )
    return items * times


__all__ = ["Names", "read_schedule"]
