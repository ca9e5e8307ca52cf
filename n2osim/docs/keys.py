"""Tables of the scenario reference: keys with what they take, as the fields are declared."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from n2osim.hardware.air import DayNight, TemperatureTable
from n2osim.hardware.ambient import Ambient, Boot
from n2osim.hardware.bottle import Bottle, Layer
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.feed import Feed, FeedLine, Valve
from n2osim.hardware.heater import CutOut, Heater, Supply
from n2osim.hardware.jets import Jets
from n2osim.hardware.materials import MATERIALS, Material
from n2osim.hardware.mounting import Mounting
from n2osim.hardware.orifice_models import MODELS
from n2osim.hardware.switch import PressureSwitch
from n2osim.physics.fuels import FUELS
from n2osim.scenario.fitted import FittedBottle
from n2osim.scenario.model import Model, Numerics
from n2osim.scenario.read import FITTING
from n2osim.scenario.schedule import KINDS, Stage
from n2osim.scenario.weighed import WeighedPass
from n2osim.schema import Kind, Part, declared
from n2osim.unit_table import DIMENSIONS, UNITS

EXAMPLES = Path(__file__).parent / "examples"


def _row(key: str, kind: Kind, words: str, default: str = "") -> str:
    words = words.replace("|", "\\|")
    return f"| `{key}` | {kind.takes} | {kind.valid} | {default} | {words} |"


def _table(rows: list[str]) -> str:
    head = ["| key | takes | valid | default | meaning |", "|---|---|---|---|---|"]
    return "\n".join([*head, *rows]) + "\n"


def _rows(cls: type[Part], leave_out: tuple[str, ...] = ()) -> list[str]:
    return [
        _row(key, d.kind, d.words, d.default_words)
        for key, d in declared(cls).items()
        if key not in leave_out
    ]


def _ways(cls: type[Part]) -> list[str]:
    return [_row(key, way.kind, way.words) for key, way in cls.ways.items()]


def keys_of(cls: type[Part]) -> str:
    """Table of the keys of a section: the class's own and those that stand for some of them."""
    return _table(_rows(cls) + _ways(cls))


def _fitting() -> str:
    others = tuple(key for key in declared(FittedBottle) if key not in FITTING)
    label = "| `label` | text |  |  | what the shell is called in tables |"
    return _table([*_rows(FittedBottle, others), label])


def _schedule() -> str:
    """Every kind of item with its keys."""
    parts = (
        f'### kind = "{kind}"\n\n{_first(cls)}\n\n{keys_of(cls)}' for kind, cls in KINDS.items()
    )
    return "\n".join(parts)


def _first(cls: type) -> str:
    text = " ".join((cls.__doc__ or "").strip().split("\n\n")[0].split())
    return text.replace("``", "`").replace("Scenario.feeds", "[feeds]")


def _listed(names: dict[str, object]) -> str:
    return ", ".join(f"`{name}`" for name in names) + "\n"


def _models() -> str:
    return "\n".join(f"- `{k}`: {m.title} ({m.source})" for k, m in MODELS.items()) + "\n"


def _example(name: str) -> str:
    text = (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8").strip()
    return f"`examples/{name}.toml`\n\n```toml\n{text}\n```\n"


_REFERENCES = {"pressure": ("absolute", ""), "gauge_pressure": ("gauge", "")}


def _symbols(name: str) -> str:
    """Symbols of one kind of quantity, or examples where only compound units will do."""
    d = DIMENSIONS[name]
    references = _REFERENCES.get(name, ("",))
    found = [
        s
        for s, u in UNITS.items()
        if u.vector == d.vector and u.reference in references and not {"(", " ", "_"} & set(s)
    ]
    if name == "pressure":
        found = [s for s in found if s not in ("psi", "ksi")]  # ambiguous: refused
    return ", ".join(f"`{s}`" for s in found or dict.fromkeys((d.si, d.shop.replace("delta_", ""))))


def _units() -> str:
    """Every kind of quantity with the symbols that stand for it."""
    lines = ["| quantity | SI | shop | symbols understood |", "|---|---|---|---|"]
    for name, d in DIMENSIONS.items():
        shop = d.shop.replace("delta_", "").replace("gee", "g")
        if name != "engine_power":
            lines.append(f"| {d.label} | {d.si or '-'} | {shop or '-'} | {_symbols(name)} |")
    return "\n".join(lines) + "\n"


_SECTIONS: tuple[type[Part], ...] = (
    *(Layer, Heater, CutOut, PressureSwitch, Mounting, Ambient, DayNight, TemperatureTable, Boot),
    *(Feed, Jets, FeedLine, Valve, EngineSide, Supply, Model, Numerics, Stage, WeighedPass),
)
TABLES: dict[str, Callable[[], str]] = {
    **{f"keys_{cls.__name__}": partial(keys_of, cls) for cls in _SECTIONS},
    **{f"example_{p.stem}": partial(_example, p.stem) for p in sorted(EXAMPLES.glob("*.toml"))},
    "keys_Bottle": lambda: _table(_rows(Bottle, ("name",))),
    "keys_Material": lambda: _table(_rows(Material, ("notes",)) + _ways(Material)),
    "keys_fitting": _fitting,
    "keys_schedule": _schedule,
    "ways_to_give_a_bottle": lambda: _table(_ways(Bottle)),
    "material_names": lambda: _listed(dict(MATERIALS)),
    "fuel_names": lambda: _listed(dict(FUELS)),
    "orifice_models": _models,
    "units": _units,
}
"""What stands between the marks of the page, by name."""
