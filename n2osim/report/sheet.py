"""The set-up sheet: one page of HTML per scenario, to print on two sides and leave in the trailer.

    from n2osim.report.sheet import set_up_sheet, write_sheet

    write_sheet(scenario, "my-car.html")

It holds what is fitted, the band to set, pressure by bottle weight, warm-up by weather, passes per
fill, jets, a check list, limits and cautions (first), and what the figures rest on. Nothing in it
is fetched from elsewhere or executed; figures are drawn into it.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import n2osim
from n2osim.errors import InputError, N2OSimError
from n2osim.files import write_text
from n2osim.numbers import Units, lasting
from n2osim.report import sheet_tables
from n2osim.report.facts import ASSUMED, scenario_facts
from n2osim.report.short import warm_up
from n2osim.results.electric import current, supply_use
from n2osim.results.findings import Finding
from n2osim.results.limits import nearest
from n2osim.results.run import Run, simulate
from n2osim.scenario.scenario import Scenario
from n2osim.text import Table

if TYPE_CHECKING:
    from n2osim.hardware.heater import Heater

PROGRESS = ("simulating", "pressure by weight", "warm-up by weather", "passes per fill", "figures")


@dataclass(frozen=True)
class Tile:
    """One figure in large type: what it is, number, unit; ``key`` stands out."""

    name: str
    number: str
    unit: str = ""
    key: bool = False


@dataclass(frozen=True)
class BottleBlock:
    """One bottle, or several that are alike: tables, and the pressure chart as SVG ("": none)."""

    names: tuple[str, ...]
    weights: Table | None
    weather: Table | None
    chart: str = ""


@dataclass(frozen=True)
class SetUpSheet:
    """Everything on a set-up sheet, as ready texts; :meth:`html` renders it.

    ``findings`` are those of the scenario's own run.
    """

    title: str
    date: str
    system: str
    findings: tuple[Finding, ...]
    tiles: tuple[Tile, ...]
    facts: tuple[tuple[str, str], ...]
    jets: tuple[Table, ...]
    bottles: tuple[BottleBlock, ...]
    passes: tuple[str, ...]
    checks: tuple[str, ...]
    assumptions: tuple[str, ...]

    @classmethod
    def of(
        cls,
        source: Scenario | Run,
        *,
        system: str = "shop",
        date: str | None = None,
        figures: bool = True,
        progress: Callable[[str], None] | None = None,
    ) -> SetUpSheet:
        """Work out the sheet of a scenario (or of a run already made).

        system : "shop" or "si". date : as printed (default: today, ISO 8601). figures : False
        leaves the drawings out. progress : called with each of ``PROGRESS`` as it begins.
        Raises what ``simulate`` raises; a table that cannot be had is left out.
        """
        tell = progress or (lambda step: None)
        units = Units(system)
        tell(PROGRESS[0])
        run = source if isinstance(source, Run) else simulate(_with_schedule(source))
        alike = _alike(run.scenario)
        tell(PROGRESS[1])
        weights = [sheet_tables.weight_table(run, units, i) for i in alike.values()]
        tell(PROGRESS[2])
        weather = [sheet_tables.weather_table(run.scenario, units, i) for i in alike.values()]
        tell(PROGRESS[3])
        passes = sheet_tables.pass_words(run, units)
        tell(PROGRESS[4])
        charts = [_chart(run.scenario, i) if figures else "" for i in alike.values()]
        return cls(
            run.scenario.title,
            date or datetime.date.today().isoformat(),
            system,
            run.findings,
            _tiles(run, passes, units),
            tuple(_facts(run, units)),
            sheet_tables.jets_tables(run, units),
            tuple(map(BottleBlock, alike, weights, weather, charts)),
            passes.sentences,
            tuple(check_list(run, units)),
            tuple(_assumptions(run)),
        )

    def html(self) -> str:
        """The sheet as one HTML document."""
        from n2osim.report.sheet_html import document

        return document(self)

    def _repr_html_(self) -> str:
        import base64

        data = base64.b64encode(self.html().encode("utf-8")).decode("ascii")
        return (
            f'<iframe sandbox title="set-up sheet" style="width:100%;height:900px;border:0" '
            f'src="data:text/html;base64,{data}"></iframe>'
        )


def set_up_sheet(source: Scenario | Run, **how: Any) -> str:
    """HTML of the set-up sheet of a scenario or run; keywords as :meth:`SetUpSheet.of`."""
    return SetUpSheet.of(source, **how).html()


def write_sheet(
    source: Scenario | Run, path: str | Path, *, overwrite: bool = False, **how: Any
) -> Path:
    """Write the set-up sheet of a scenario or run to ``path`` (.html)."""
    if Path(path).suffix.lower() not in (".html", ".htm"):
        raise InputError(
            "sheet file", str(path), "", "a name ending in .html", "for example my-car.html"
        )
    return write_text(path, set_up_sheet(source, **how), overwrite=overwrite)


def _with_schedule(scenario: Scenario) -> Scenario:
    """A scenario without a schedule is warmed up, so that there is something to say."""
    if scenario.schedule:
        return scenario
    from n2osim.scenario.schedule import Hold

    return scenario.replace(schedule=(Hold(3600.0),))


# --- parts ---------------------------------------------------------------------------------------
def _tiles(run: Run, passes: sheet_tables.PassWords, units: Units) -> tuple[Tile, ...]:
    """What to set, what was seen in the run, what the charge gives; of every bottle."""
    found: list[Tile] = []

    def add(name: str, values: Sequence[float | None], dimension: str, key: bool = False) -> None:
        known = [v for v in values if v is not None]
        if known:
            texts = [units.bare(v, dimension) for v in known]
            number = texts[0] if len(set(texts)) == 1 else " / ".join(texts)
            found.append(Tile(name, number, units.unit(dimension), key))

    bottles = run.scenario.bottles
    switches = [b.switch for b in bottles if b.switch is not None]
    add("heater comes on at", [s.closes for s in switches], "gauge_pressure", True)
    add("heater goes off at", [s.opens for s in switches], "gauge_pressure", True)
    add("charge", [b.fill for b in bottles], "mass")
    launches = [p for p in run.passes if p.index == run.passes[0].index]
    add("reads at the launch", [p.start_pressure for p in launches], "gauge_pressure")
    add("bottle at the launch", [p.start_temperature for p in launches], "temperature")
    add("highest pressure", list(np.nanmax(run["pressure_gauge_Pa"], axis=-1)), "gauge_pressure")
    add("overshoot", _worst(run, "overshoot"), "pressure_difference")
    walls = np.nanmax(run["wall_temperature_K"], axis=(1, 2, 3))  # of one that has left: until then
    add("hottest wall", list(walls), "temperature")
    warm = warm_up(run)
    if warm is not None:
        found.append(Tile("warm-up as simulated", *_split(lasting(warm))))
    used = supply_use(run)
    if used is not None:
        add("heaters deliver" if len(bottles) > 1 else "heater delivers", [used[0]], "power")
        found.append(Tile("taken from the battery", f"{used[1]:.1f}", "Ah"))
    if passes.count is not None:
        found.append(Tile("passes from this fill", str(passes.count)))
    if passes.refill:
        found.append(Tile("refill when the scale says", *_split(passes.refill)))
    return tuple(found)


def _worst(run: Run, name: str) -> list[float]:
    """The largest of a figure over all holds of each bottle that has it."""
    each: dict[str, float] = {}
    for h in run.holds:
        value = getattr(h, name)
        if value is not None:
            each[h.bottle] = max(value, each.get(h.bottle, value))
    return list(each.values())


def _split(text: str) -> tuple[str, str]:
    number, _, unit = text.partition(" ")
    return number, unit


def _facts(run: Run, units: Units) -> list[tuple[str, str]]:
    """What is fitted; jets have a table of their own."""
    facts = scenario_facts(run.scenario, units.system)
    kept = [(h, t) for h, t in facts if not h.startswith(("Jets", "Fuel jets"))]
    return [*kept, *((h.capitalize(), t) for h, t in nearest(run, units))]


def _assumptions(run: Run) -> list[str]:
    several = len(run.scenario.bottles) > 1
    order = " / ".join(b.name for b in run.scenario.bottles)
    return [
        *(
            [f"Figures are in the order of the bottles: {order}; one alone is that of each."]
            if several
            else []
        ),
        f"Made by n2osim {n2osim.__version__} from the scenario \u201c{run.scenario.title}\u201d. "
        "A model, not a measurement.",
        "Real-fluid properties of N2O (Lemmon and Span 2006). Discharge coefficients, contact and "
        "heat-loss figures are those of the scenario; measure yours and fit them.",
        ASSUMED,
    ]


def check_list(run: Run, units: Units) -> list[str]:
    """What to look at before the run. Common practice, no source, with this car's figures."""
    scenario = run.scenario
    checks = [
        "Bottle: re-test date good, no dents, cuts or heat marks; label faces up as the pick-up "
        "needs it",
        "Bracket: all fasteners torqued, each paint-marked across head and part; marks in line",
        "Bottle cannot turn or slide in the bracket by hand",
        "Line fittings: tight and paint-marked; hose clear of exhaust, edges and moving parts",
        "Leak check under pressure with leak fluid; never with a hand or a flame",
        "Relief device: in place, never blocked; vent led outside the body, end open and clear",
    ]
    air = units.full(scenario.ambient.pressure, "pressure")
    checks += [*_heater_checks(scenario), *_switch_checks(scenario, units)]
    checks.append(f"Weighed: scale says ____, N2O ____ (barometer here {air})")
    if scenario.feeds:
        checks.append("Jets: sizes read off and compared with this sheet; filters clean")
        checks.append(
            "Solenoids: heard to work with the bottle valve shut; arming and "
            "full-throttle switch cut them off"
        )
    if scenario.engine is not None and scenario.engine.fuel_pressure is not None:
        fuel = units.full(scenario.engine.fuel_pressure, "gauge_pressure")
        checks.append(f"Fuel pressure set flowing: {fuel}; gauge read ____")
    return [*checks, "Bottle valve fully open; valve shut again after the run"]


def _heater_checks(scenario: Scenario) -> list[str]:
    """Wiring and fit of the heaters; those on one switch hang on one fuse."""
    wires = heaters_by_switch(scenario)
    if not wires:
        return []
    found = []
    for name, heaters in wires.items():
        where = f' on the switch of "{name}"' if len(wires) > 1 else ""
        draws = "it draws" if len(heaters) == 1 else f"its {len(heaters)} heaters draw"
        amps = current(heaters, scenario.supply)
        found.append(
            f"Heater wiring{where}: no chafe, fuse close to the battery; {draws} "
            f"{amps:.1f} A, fuse above that and within the wire's rating: fitted ____ A"
        )
    flat = "Every heater lies" if sum(map(len, wires.values())) > 1 else "Heater lies"
    return [*found, f"{flat} flat on the shell, no loose edge; nobody leaves it on unattended"]


def heaters_by_switch(scenario: Scenario) -> dict[str, list[Heater]]:
    """Heaters that are fed together, by the name of the bottle whose switch feeds them."""
    found: dict[str, list[Heater]] = {}
    for fitted in scenario.bottles:
        if fitted.heater is not None:
            found.setdefault(fitted.follows or fitted.name, []).append(fitted.heater)
    return found


def _switch_checks(scenario: Scenario, units: Units) -> list[str]:
    found = []
    for b in scenario.bottles:
        if b.switch is None:
            continue
        whose = f' of "{b.name}"' if len(scenario.bottles) > 1 else ""
        opens = units.full(b.switch.opens, "gauge_pressure")
        found.append(
            f"Pressure switch{whose}: seen to go off at {opens} on the gauge with this "
            "bottle; gauge read ____"
        )
    return found


# --- bottles -------------------------------------------------------------------------------------
def _alike(scenario: Scenario) -> dict[tuple[str, ...], int]:
    """Names of bottles that are alike in everything else, and which is the first of them."""
    groups: dict[Any, list[int]] = {}
    for i, b in enumerate(scenario.bottles):
        groups.setdefault(replace(b, name=""), []).append(i)
    return {tuple(scenario.bottles[i].name for i in g): g[0] for g in groups.values()}


def _chart(scenario: Scenario, index: int) -> str:
    """The pressure chart of a bottle for a column of the page; "" when it cannot be drawn."""
    from n2osim.report.plots_chart import plot_pressure_chart
    from n2osim.report.sheet_html import svg_of
    from n2osim.report.style import PHONE

    b, air = scenario.bottles[index], scenario.ambient.pressure
    with suppress(N2OSimError):
        how: Any = {"fill": b.fill, "switch": b.switch, "ambient": air, "width": PHONE}
        return svg_of(plot_pressure_chart(b.bottle, **how).figure)
    return ""
