"""A scenario as TOML text that loads back equal: SI numbers, gauge pressures in Pa gauge."""

from __future__ import annotations

import json
import re
from typing import Any

from n2osim.scenario.fitted import FittedBottle
from n2osim.scenario.read import FITTING, OF_BOTTLE, PARTS
from n2osim.scenario.scenario import SCHEMA, Scenario
from n2osim.schema import Part

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def scenario_text(scenario: Scenario) -> str:
    """The whole file."""
    blocks = [
        "# Quantities are SI; pressures of switch, bottle and window are gauge, others absolute.",
        _pairs({"schema": SCHEMA, "title": scenario.title, "clock_start": scenario.clock_start}),
    ]
    blocks += _bottles(scenario)
    for name, feed in scenario.feeds:
        blocks.append(_section("feed" if name == "main" else f"feeds.{_key(name)}", feed))
    blocks += [_section(n, p) for n in PARTS if (p := getattr(scenario, n)) is not None]
    for item in scenario.as_dict()["schedule"]:
        blocks.append("[[schedule]]\n" + _pairs(item))
    blocks += ["[[weighed]]\n" + _pairs(one.as_dict()) for one in scenario.weighed]
    return "\n\n".join(blocks) + "\n"


def _bottles(scenario: Scenario) -> list[str]:
    single = len(scenario.bottles) == 1 and scenario.bottles[0].follows is None
    head, prefix = ("[bottle]", "") if single else ("[[bottles]]", "bottles.")
    blocks = []
    for fitted in scenario.bottles:
        blocks.append(head + "\n" + _pairs(_fitting(fitted)))
        parts = ((name, getattr(fitted, name)) for name in OF_BOTTLE)
        blocks += [_section(prefix + name, part) for name, part in parts if part is not None]
    return blocks


def _fitting(fitted: FittedBottle) -> dict[str, Any]:
    plain = fitted.as_dict()
    shell = plain["bottle"]
    shell["label"] = shell.pop("name")
    return {k: plain[k] for k in FITTING if k in plain} | shell


def _section(name: str, part: Part) -> str:
    return f"[{name}]\n{_pairs(part.as_dict())}"


# --- TOML ------------------------------------------------------------------------------------
def _pairs(table: dict[str, Any]) -> str:
    return "\n".join(f"{_key(k)} = {_value(v)}" for k, v in table.items())


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else _text(name)


def _text(value: str) -> str:
    # A basic string of TOML is one of JSON, but for the one control character that JSON lets stand.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


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
