"""The scenario-file reference: ``python -m n2osim.docs.make_scenario_reference``.

Keys, kinds, ranges, defaults and descriptions come from the declarations of the fields; this
module only says which class stands behind which section. A test fails when the file in the
repository is out of date.
"""

from __future__ import annotations

from pathlib import Path

from n2osim.docs._fields import Row, row, rows, table
from n2osim.hardware.air import DayNight, TemperatureTable
from n2osim.hardware.ambient import Ambient, Boot
from n2osim.hardware.bottle import Bottle, Layer
from n2osim.hardware.engine import EngineSide
from n2osim.hardware.feed import Feed, FeedLine, Valve
from n2osim.hardware.heater import CutOut, Heater, Supply
from n2osim.hardware.jets import Jets
from n2osim.hardware.materials import MATERIALS, Material
from n2osim.hardware.orifice_models import MODELS
from n2osim.hardware.switch import PressureSwitch
from n2osim.physics.fuels import FUELS
from n2osim.scenario.read import FITTING
from n2osim.scenario.scenario import SCHEMA, FittedBottle, Model, Mounting, Numerics
from n2osim.scenario.schedule import KINDS, Stage
from n2osim.scenario.weighed import WeighedPass
from n2osim.schema import Part
from n2osim.unit_table import DIMENSIONS, UNITS

HERE = Path(__file__).parent
TARGET = HERE / "scenario-file.md"
EXAMPLES = HERE / "examples"


def keys_of(cls: type[Part], leave_out: tuple[str, ...] = ()) -> str:
    """Table of the keys of a section: the class's own and those that stand for some of them."""
    return table(rows(cls, ways=cls is not Bottle, leave_out=leave_out))


def section(title: str, text: str, *parts: str) -> str:
    """One section of the page."""
    return "\n\n".join([f"## {title}", text, *parts])


def toml(name: str) -> str:
    """An example file, verbatim."""
    text = (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8").strip()
    return f"`examples/{name}.toml`\n\n```toml\n{text}\n```"


# --- the page ----------------------------------------------------------------------------------
HEAD = f"""<!-- Made by `python -m n2osim.docs.make_scenario_reference`: do not edit. -->
# Scenario file

A scenario file is a [TOML](https://toml.io) text: the bottle and what heats it, the surroundings,
the feed to the engine, and what happens, in order. `n2osim simulate FILE` runs it;
`n2osim.Scenario.from_toml(path)` reads it and `scenario.to_toml(path)` writes one. Nothing in a
file is executed. The first key must be `schema = {SCHEMA}`.

- **Quantities** are numbers in SI, or texts with a unit: `"12 lb"`, `"1000 psig"`, `"95 degF"`,
  `"0.028 in"`, `"1 h 30 min"`, `"80 %"`, `"0.5 lb/hp/h"`. Units are listed at the end.
- **Pressures** of bottle, switch, window and fuel are gauge; the ambient's is absolute. `psig` and
  `psia` are converted with the ambient pressure where the other kind is wanted.
- **Clock times** are `"18:10"`, `"6:10 pm"` or a TOML time; durations count from the start.
- **Mistakes** (a mistyped key, a wrong unit, a value out of range, a feed that does not exist) are
  answered with the file, the line, the key and what to write instead. Entries without a default may
  be left out unless marked **required**.

| section | what it is |
|---|---|
| `schema`, `title`, `clock_start` | version of the format; a name; time of day at t = 0 |
| `[bottle]` or several `[[bottles]]` | shell, charge, start temperature |
| `[heater]`, `[switch]`, `[mounting]` | of the one bottle; `[bottles.heater]` etc. when several |
| `[ambient]` | air, pressure, wind, sun, boot |
| `[feed]`, `[feeds.NAME]` | lines and jets; `[feed]` is the one named `main` |
| `[engine]` | fuel and accounting, for mixture and power |
| `[supply]` | battery and cable |
| `[model]`, `[numerics]` | choices of the model; accuracy |
| `[[schedule]]` | one table per thing that happens, in order |
| `[[weighed]]` | passes that were weighed to find out about the jets; not simulated |
"""


def bottle_part() -> str:
    """[bottle] and its ways."""
    fitting = [r for r in rows(FittedBottle) if r.key in FITTING]
    label = Row("label", "text", "", "", "what the shell is called in tables")
    ways = """A bottle is given in exactly one of these ways:

- `preset` and `capacity`: a typical shell of that kind and size;
- what can be measured: `outer_diameter` or `inner_diameter`; `volume`, `capacity`,
  `overall_length` or `inside_length`; and `wall` with `material`, or `spec`, or `layers`, or
  `empty_weight` alone. Ends, neck and valve that are not given are those of the preset of that
  kind; the keys that are assumed are listed in `assumed`;
- `volume`, `inner_diameter` and `layers`, each `{ material = ..., thickness = ... }`;
- `volume` and `layers` by weight, each `{ mass = ..., specific_heat = ..., thickness = ...,
  k = ... }` (or `heat_capacity` for mass and specific heat, or `material` for `k`);
- `volume` and `wall_heat_capacity`: a lumped wall, for checks.

Any of the shell's own keys may stand beside them and replaces what the way chosen would give."""
    return section(
        "[bottle]",
        "The charge and the shell. `fill` may be a share of the rated capacity.",
        table([*fitting, label]),
        ways,
        table([row(key, way.kind, way.words) for key, way in Bottle.ways.items()]),
        "### The shell's own keys",
        keys_of(Bottle, ("name",)),
        "### A layer",
        keys_of(Layer),
        "Materials by name: " + ", ".join(f"`{m}`" for m in MATERIALS) + ". One of your own is a "
        "table:",
        keys_of(Material, ("notes",)),
    )


def parts() -> list[str]:
    """Sections of the hardware and the model."""
    fuels = ", ".join(f"`{f}`" for f in FUELS)
    models = "\n".join(f"- `{k}`: {m.title} ({m.source})" for k, m in MODELS.items())
    return [
        bottle_part(),
        section(
            "[heater]",
            "Give `power`; or `resistance`; or `power` at a rated `voltage`.",
            keys_of(Heater),
            "### cut_out",
            keys_of(CutOut),
        ),
        section("[switch]", "The pressure switch that feeds the heater.", keys_of(PressureSwitch)),
        section("[mounting]", "How the bottle lies, and where its pick-up is.", keys_of(Mounting)),
        section(
            "[ambient]",
            "`temperature` is one temperature, a list of pairs `[clock, "
            "temperature]`, or a table with `mean`, `swing` and `hottest_at`.",
            keys_of(Ambient),
            "### temperature = { mean, swing, hottest_at }",
            keys_of(DayNight),
            "### temperature = { times, temperatures }",
            keys_of(TemperatureTable),
            "### enclosure: a closed boot",
            keys_of(Boot),
        ),
        section(
            "[feed] and [feeds.NAME]",
            "From the pick-up tube to the jets. Only `jets` (or `effective_area`) is required.",
            keys_of(Feed),
            "### jets",
            keys_of(Jets),
            "### line, pickup, distribution",
            keys_of(FeedLine),
            "### valve, bottle_valve",
            keys_of(Valve),
            "### Orifice models",
            models,
        ),
        section(
            "[engine]",
            f"Without it there is no mixture and no power. Fuels: {fuels}.",
            keys_of(EngineSide),
        ),
        section(
            "[supply]", "What feeds a heater that has a voltage or a resistance.", keys_of(Supply)
        ),
        section(
            "[model]",
            "The defaults are the full physics; constants replace parts of it.",
            keys_of(Model),
        ),
        section("[numerics]", "Rarely needed.", keys_of(Numerics)),
    ]


def schedule_part() -> str:
    """[[schedule]] and its kinds."""
    pieces = [
        f'### kind = "{kind}"\n\n{_first_line(cls)}\n\n{keys_of(cls)}'
        for kind, cls in KINDS.items()
    ]
    more = """### kind = "repeat"

`times` (a whole number from 1 to 1000) times what follows as `[[schedule.items]]`; repeats nest.

### Delivery

`delivery` is a list of corners `[time, share]` with straight lines between; equal times make a step
of 1 ms. The time counts from the end of the pass's `delay` (without one, from the start of the
pass), the share from 0 to 1 of full flow: a solenoid pulsed faster than the bottle notices.

Over distance: give the pass a `track`, when the car is where since the pass began (a time slip, or
a log), and write distances for times. The share is then a straight line in distance, whatever the
delay; between two rows of the track distance is taken to grow evenly with time.

```toml
delay = "0.5 s"
delivery = [["60 ft", "30 %"], ["330 ft", "100 %"]]
track = [["0 s", "0 ft"], ["1.2 s", "60 ft"], ["2.2 s", "195 ft"], ["3.0 s", "330 ft"]]
```

### Stages
"""
    text = "Each entry says `kind` and what that kind takes."
    weighed = "Passes that were weighed, read by `n2osim weigh`; they are not simulated."
    return "\n\n".join(
        (
            section("[[schedule]]", text, *pieces, more.strip(), keys_of(Stage)),
            section("[[weighed]]", weighed, keys_of(WeighedPass)),
        )
    )


def _first_line(cls: type) -> str:
    text = " ".join((cls.__doc__ or "").strip().split("\n\n")[0].split())
    return text.replace("``", "`").replace("Scenario.feeds", "[feeds]")


_REFERENCES = {
    "pressure": ("absolute", ""),
    "gauge_pressure": ("gauge", ""),
    "pressure_difference": ("",),
}


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
    if not found:
        found = list(dict.fromkeys((d.si, d.shop.replace("delta_", ""))))
    return ", ".join(f"`{s}`" for s in found)


def units_part() -> str:
    """Every kind of quantity with the symbols that stand for it."""
    lines = ["| quantity | SI | shop | symbols understood |", "|---|---|---|---|"]
    for name, d in DIMENSIONS.items():
        shop = d.shop.replace("delta_", "").replace("gee", "g")
        if name != "engine_power":
            lines.append(f"| {d.label} | {d.si or '-'} | {shop or '-'} | {_symbols(name)} |")
    text = (
        "Symbols combine: `lb/min`, `W/m2/K`, `W/(m2 K)`, `m2 K/W`, `mm2`. Capitals are forgiven "
        "where that is not ambiguous; a symbol that is not in the table is looked up in pint. "
        "`psi` alone is gauge where a gauge pressure is wanted and refused where an absolute one "
        "is."
    )
    return section("Units", text, "\n".join(lines))


def page() -> str:
    """The whole reference."""
    examples = section(
        "Examples",
        "These three files ship with the package and run in its tests.",
        "### A whole evening",
        toml("evening"),
        "### Several bottles, a boot, stages and a window",
        toml("two_bottles"),
        "### Constant coefficients, no losses, lumped wall, prescribed outflow",
        toml("closed_form"),
    )
    return "\n\n".join([HEAD.strip(), examples, *parts(), schedule_part(), units_part()]) + "\n"


if __name__ == "__main__":
    TARGET.write_text(page(), encoding="utf-8", newline="\n")
    print(TARGET)
