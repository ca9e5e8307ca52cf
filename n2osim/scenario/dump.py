"""A scenario as TOML text that loads back equal: SI numbers, gauge pressures in Pa gauge."""

from __future__ import annotations

import dataclasses
import re
from typing import Any

from n2osim.hardware._part import Part
from n2osim.hardware.materials import MATERIALS, Material
from n2osim.scenario.scenario import SCHEMA, FittedBottle, Scenario
from n2osim.scenario.schedule import KINDS

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPES = {
    "\\": "\\\\",
    '"': '\\"',
    "\n": "\\n",
    "\t": "\\t",
    "\r": "\\r",
    "\b": "\\b",
    "\f": "\\f",
}


def scenario_text(scenario: Scenario) -> str:
    """The whole file."""
    blocks = [
        "# Quantities are SI; pressures of switch, bottle and window are gauge, others absolute.",
        _pairs({"schema": SCHEMA, "title": scenario.title, "clock_start": scenario.clock_start}),
    ]
    blocks += _bottles(scenario)
    blocks.append(_section("ambient", scenario.ambient))
    for name, feed in scenario.feeds:
        blocks.append(_section("feed" if name == "main" else f"feeds.{_key(name)}", feed))
    if scenario.engine is not None:
        blocks.append(_section("engine", scenario.engine))
    for name in ("supply", "model", "numerics"):
        blocks.append(_section(name, getattr(scenario, name)))
    kinds = {cls: kind for kind, cls in KINDS.items()}
    for item in scenario.schedule:
        fields = {"kind": kinds[type(item)], **_plain(item)}
        blocks.append("[[schedule]]\n" + _pairs(fields))
    return "\n\n".join(blocks) + "\n"


def _bottles(scenario: Scenario) -> list[str]:
    single = len(scenario.bottles) == 1 and scenario.bottles[0].follows is None
    blocks = []
    for fitted in scenario.bottles:
        head, prefix = ("[bottle]", "") if single else ("[[bottles]]", "bottles.")
        blocks.append(head + "\n" + _pairs(_fitting(fitted)))
        for name in ("mounting", "heater", "switch"):
            part = getattr(fitted, name)
            if part is not None:
                blocks.append(_section(prefix + name, part))
    return blocks


def _fitting(fitted: FittedBottle) -> dict[str, Any]:
    own = {k: getattr(fitted, k) for k in ("name", "fill", "start", "wall_start", "follows")}
    shell = _plain(fitted.bottle)
    shell["label"] = shell.pop("name")
    return {k: v for k, v in own.items() if v is not None} | shell


def _section(name: str, part: Any) -> str:
    return f"[{name}]\n{_pairs(_plain(part))}"


def _plain(value: Any) -> Any:
    """Dataclasses as dicts without their None entries; known materials by name."""
    if isinstance(value, Material):
        return value.name if MATERIALS.get(value.name) == value else _dict(value)
    if isinstance(value, Part) or dataclasses.is_dataclass(value):
        return _dict(value)
    if isinstance(value, (tuple, list)):
        return [_plain(v) for v in value]
    return value


def _dict(value: Any) -> dict[str, Any]:
    pairs = ((f.name, getattr(value, f.name)) for f in dataclasses.fields(value))
    return {name: _plain(v) for name, v in pairs if v is not None}


# --- TOML ------------------------------------------------------------------------------------
def _pairs(table: dict[str, Any]) -> str:
    return "\n".join(f"{_key(k)} = {_value(v)}" for k, v in table.items())


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else _text(name)


def _text(value: str) -> str:
    out = []
    for c in value:
        if c in _ESCAPES:
            out.append(_ESCAPES[c])
        elif ord(c) < 0x20 or ord(c) == 0x7F:
            out.append(f"\\u{ord(c):04x}")
        else:
            out.append(c)
    return '"' + "".join(out) + '"'


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    if isinstance(value, int):
        return str(value)
    return repr(float(value))


__all__ = ["scenario_text"]
