"""The sections of a scenario file: which keys they have and what they become.

Every quantity may be a number in SI or a text with a unit. The tables of keys here are also what
the scenario-file reference is generated from.
"""

from __future__ import annotations

import dataclasses
from typing import Any

from n2osim.hardware import build
from n2osim.hardware.ambient import Ambient, Boot, DayNight, TemperatureTable, standard_pressure
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.feed import Feed, FeedLine, Valve
from n2osim.hardware.heater import CutOut, Heater, Supply
from n2osim.hardware.jets import Jets
from n2osim.hardware.switch import PressureSwitch
from n2osim.physics.fuels import fuel
from n2osim.scenario.read_schedule import Names, read_schedule
from n2osim.scenario.scenario import FittedBottle, Model, Mounting, Numerics, Scenario
from n2osim.scenario.source import Source, clock_texts, plain
from n2osim.scenario.toml_lines import Path
from n2osim.units import parse

FITTING_KEYS = ("name", "label", "fill", "start", "wall_start")
PARTS = {"heater": Heater, "switch": PressureSwitch, "mounting": Mounting}
SECTIONS = (
    "schema",
    "title",
    "clock_start",
    "bottle",
    "bottles",
    "heater",
    "switch",
    "mounting",
    "ambient",
    "feed",
    "feeds",
    "engine",
    "supply",
    "model",
    "numerics",
    "schedule",
)
# Keys that the file understands on top of a class's own fields.
EXTRA_KEYS: dict[type, tuple[str, ...]] = {
    Bottle: build.TABLE_KEYS,
    Ambient: ("altitude",),
    FeedLine: ("dash",),
    Feed: ("effective_area",),
    Jets: ("effective_area",),
}
NESTED: dict[tuple[type, str], type] = {
    (Heater, "cut_out"): CutOut,
    (Ambient, "enclosure"): Boot,
    (Feed, "jets"): Jets,
    (Feed, "line"): FeedLine,
    (Feed, "pickup"): FeedLine,
    (Feed, "distribution"): FeedLine,
    (Feed, "valve"): Valve,
    (Feed, "bottle_valve"): Valve,
    (EngineSide, "fuel_jets"): Jets,
}


def read_scenario(source: Source) -> Scenario:
    """The scenario of a parsed file. Raises ScenarioError naming line and key."""
    data = clock_texts(source.data)
    source.check_keys(data, (), SECTIONS)
    ambient = part(source, Ambient, data.get("ambient", {}), ("ambient",), None)
    pressure = ambient.pressure
    feeds = _feeds(source, data, pressure)
    fields: dict[str, Any] = {
        "bottles": _bottles(source, data, pressure),
        "ambient": ambient,
        "feeds": feeds,
    }
    names = Names(tuple(n for n, _ in feeds), tuple(b.name for b in fields["bottles"]), pressure)
    fields["schedule"] = read_schedule(source, data.get("schedule", []), ("schedule",), names)
    for name, cls in (("engine", EngineSide), ("supply", Supply)):
        if name in data:
            fields[name] = part(source, cls, data[name], (name,), pressure)
    if "engine" in fields:
        with source.located(("engine",), data["engine"]):
            fuel(fields["engine"].fuel)  # names are looked up later: say now what is not known
    for name, kind in (("model", Model), ("numerics", Numerics)):
        if name in data:
            fields[name] = plain(source, kind, data[name], (name,))
    source.check_type("str", data.get("title", ""), ("title",))
    fields["title"] = data.get("title", "untitled scenario")
    with source.located((), data):
        fields["clock_start"] = parse(
            data.get("clock_start", 0.0), "clock_time", name="clock start", low=0.0, high=86400.0
        )
    with source.located((), data):
        return Scenario(**fields)


# --- hardware parts ---------------------------------------------------------------------------
def part(source: Source, cls: type, table: Any, path: Path, ambient: float | None) -> Any:
    """A hardware object from its table."""
    table = source.table(table, path)
    known = [f.name for f in dataclasses.fields(cls)] + list(EXTRA_KEYS.get(cls, ()))
    source.check_keys(table, path, known)
    if "effective_area" in table:
        _exclusive(source, table, path, "effective_area", "jets", "count", "bore", "cd")
    ready = dict(table)
    for key, value in table.items():
        inner = NESTED.get((cls, key))
        if inner is not None:
            ready[key] = part(source, inner, value, (*path, key), ambient)
    source.check_types(cls, {k: v for k, v in ready.items() if v is table.get(k)}, path)
    with source.located(path, table):
        return _make(source, cls, ready, path, ambient)


def _make(source: Source, cls: Any, table: dict[str, Any], path: Path, ambient: Any) -> Any:
    if cls is Ambient:
        return _ambient(source, table, path)
    if cls is FeedLine and "dash" in table:
        source.check_type("int", table["dash"], (*path, "dash"))
        _exclusive(source, table, path, "dash", "bore")
        return FeedLine.from_dash(table.pop("dash"), table.pop("length", None), **table)
    if cls in (Jets, Feed) and "effective_area" in table:
        jets = Jets.effective(table.pop("effective_area"))
        return jets if cls is Jets else Feed(jets=jets, **table)
    return cls.from_dict(table, ambient=ambient)


def _exclusive(source: Source, table: dict[str, Any], path: Path, key: str, *others: str) -> None:
    for other in others:
        if other in table:
            raise source.error((*path, other), f"excludes {key!r}", "give one of the two")


def _ambient(source: Source, table: dict[str, Any], path: Path) -> Ambient:
    temperature = table.get("temperature")
    if isinstance(temperature, dict):
        cls = DayNight if "mean" in temperature else TemperatureTable
        table["temperature"] = part(source, cls, temperature, (*path, "temperature"), None)
    if "altitude" in table:
        _exclusive(source, table, path, "altitude", "pressure")
        table["pressure"] = standard_pressure(table.pop("altitude"))
    return Ambient.from_dict(table)


# --- bottles ------------------------------------------------------------------------------------
def _bottles(source: Source, data: dict[str, Any], ambient: float) -> tuple[FittedBottle, ...]:
    if ("bottle" in data) == ("bottles" in data):
        raise source.error(
            ("bottles",) if "bottles" in data else (),
            "needs either one [bottle] or several [[bottles]]",
            'for one: [bottle] with preset = "aluminium", capacity = "12 lb", fill, start',
        )
    if "bottle" in data:
        table = source.table(data["bottle"], ("bottle",))
        parts: dict[str, tuple[Any, Path]] = {k: (data[k], (k,)) for k in PARTS if k in data}
        return (_fitted(source, table, ("bottle",), parts, ambient, ()),)
    for key in PARTS:
        if key in data:
            raise source.error(
                (key,),
                "belongs to one bottle when there are several",
                f"write [bottles.{key}] below its [[bottles]]",
            )
    fitted = []
    for i, table in enumerate(source.tables(data["bottles"], ("bottles",))):
        path: Path = ("bottles", i)
        parts = {k: (table[k], (*path, k)) for k in PARTS if k in table}
        rest = {k: v for k, v in table.items() if k not in PARTS}
        fitted.append(_fitted(source, rest, path, parts, ambient, ("follows",)))
    return tuple(fitted)


def _fitted(
    source: Source,
    table: dict[str, Any],
    path: Path,
    parts: dict[str, Any],
    ambient: float,
    more: tuple[str, ...],
) -> FittedBottle:
    own = {k: table[k] for k in (*FITTING_KEYS, *more) if k in table}
    shell = {k: v for k, v in table.items() if k not in own}
    known = [f.name for f in dataclasses.fields(Bottle) if f.name != "name"]
    source.check_keys(shell, path, [*known, *build.TABLE_KEYS, *FITTING_KEYS, *more])
    for key in ("name", "label", "follows"):
        source.check_type("str", own.get(key, ""), (*path, key))
    if "label" in own:
        shell["name"] = own.pop("label")
    source.check_types(Bottle, shell, path)
    with source.located(path, table):
        bottle = Bottle.from_dict(shell, ambient=ambient)
    for key in ("fill", "start"):
        if key not in own:
            raise source.error(
                path, f"needs {key!r}", 'for example fill = "12 lb", start = "60 degF"'
            )
    made = {
        k: (plain if cls is Mounting else part)(
            source, cls, *parts[k], *(() if cls is Mounting else (ambient,))
        )
        for k, cls in PARTS.items()
        if k in parts
    }
    with source.located(path, table):
        own["fill"] = _fill(own["fill"], bottle)
        return FittedBottle(bottle=bottle, **own, **made)


def _fill(value: Any, bottle: Bottle) -> Any:
    """``"80 %"`` is a share of the rated capacity; anything else is a mass."""
    if isinstance(value, str) and value.strip().endswith("%"):
        return bottle.capacity * parse(value, "fraction", name="bottle fill", low=0.0, high=2.0)
    return value


# --- feeds -----------------------------------------------------------------------------------
def _feeds(source: Source, data: dict[str, Any], ambient: float) -> tuple[tuple[str, Feed], ...]:
    found: list[tuple[str, Feed]] = []
    if "feed" in data:
        found.append(("main", part(source, Feed, data["feed"], ("feed",), ambient)))
    for name, table in source.table(data.get("feeds", {}), ("feeds",)).items():
        if name == "main" and found:
            raise source.error(("feeds", name), "is the same as [feed]", "keep one of them")
        found.append((name, part(source, Feed, table, ("feeds", name), ambient)))
    return tuple(found)


__all__ = ["EXTRA_KEYS", "FITTING_KEYS", "NESTED", "PARTS", "SECTIONS", "part", "read_scenario"]
