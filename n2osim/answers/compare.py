"""Carbon against metal: shells of equal charge through the same warm-up, hold, pass, recovery."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from n2osim.answers.answer import Answer, Broken, Column, Listing
from n2osim.answers.fields import first_of
from n2osim.answers.recovery import CYCLING, stays_from
from n2osim.answers.requirements import standing
from n2osim.errors import InputError, N2OSimError, NoSolutionError
from n2osim.hardware.bottle import Bottle
from n2osim.results.run import Run, simulate
from n2osim.scenario.fields import shell_like, with_fields
from n2osim.scenario.fitted import FittedBottle
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Hold, Pass
from n2osim.units import parse

SHELLS = ("aluminium", "steel", "carbon-aluminium", "carbon-polymer")
_LONGEST = 12 * 3600.0
_JUST_AFTER = 1.0  # s, so that an opening lies inside the hold that waits for it


@dataclass(frozen=True)
class ShellRow:
    """One shell. SI; pressures are differences unless said otherwise; None: it did not happen.

    warm_up_time (s) to the first opening of the switch; overshoot (Pa) above it; duty (1),
    mean_power (W) and energy (J) of the hold that follows; warm_up_energy (J); hottest_wall,
    hottest_inner (liner), K; wall_limit, and wall_margin: that less the hottest wall, K. sag (Pa):
    start minus end pressure of the pass; sag_without_wall: the same pass with no heat from the
    wall; sag_support: the difference, what the shell gives back; wall_heat: that heat, J.
    recovery_time (s) from the end of the pass until the pressure is back in the band and stays
    there (0: it never left it); reheat_time (s) for which the heater is then on until its switch
    opens again, recovery_energy (J) what that takes. empty_mass (kg), heat_capacity (J/K) of shell,
    neck and valve. note: caution about the shell.
    """

    shell: str
    empty_mass: float
    heat_capacity: float
    warm_up_time: float | None
    warm_up_energy: float
    overshoot: float | None
    duty: float | None
    mean_power: float
    energy: float
    hottest_wall: float
    hottest_inner: float
    wall_limit: float | None
    sag: float
    sag_without_wall: float
    wall_heat: float
    recovery_time: float | None
    reheat_time: float | None
    recovery_energy: float
    note: str
    wall_margin: float | None
    sag_support: float


COLUMNS = (
    Column("shell", ""),
    Column("empty_mass", "empty", "mass"),
    Column("warm_up_time", "warm-up", "time"),
    Column("warm_up_energy", "warm-up", "energy"),
    Column("overshoot", "overshoot", "pressure_difference"),
    Column("duty", "duty", "fraction"),
    Column("mean_power", "hold", "power"),
    Column("hottest_wall", "hottest wall", "temperature"),
    Column("wall_margin", "wall margin", "temperature_difference"),
    Column("sag", "sag", "pressure_difference"),
    Column("sag_support", "sag saved by wall", "pressure_difference"),
    Column("recovery_time", "recovery", "time"),
    Column("reheat_time", "reheat", "time"),
)


def compare_shells(
    scenario: Scenario,
    shells: Sequence[str | Bottle] = SHELLS,
    *,
    hold: Any = "1 h",
    run: Pass | None = None,
    recovery: Any = "4 h",
) -> Answer:
    """Compare shells that hold the same charge, everything else equal.

    Parameters
    ----------
    scenario : bottle with heater and switch, and a feed (or ``run`` with an outflow); its bottle
        (each of them) is replaced by each shell in turn (presets of its capacity, or bottles
        given), its charge, start, heater, switch and surroundings are kept. Its schedule is
        replaced: warm-up, hold, to the opening point, pass, and there again.
    hold : time (s) in the band between the first opening of the switch and the pass.
    run : the pass; default the first pass of the scenario's schedule, else 9 s.
    recovery : longest time (s) for which the pressure is waited for after the pass.

    ``answer.shells["aluminium"]`` is a :class:`ShellRow` (``"aluminium, left"`` where there are
    several bottles: each has a row); scenario, run and findings are those of
    the first shell, and dangers of every other one are told with its name. Raises NoSolutionError
    naming the shells that cannot be carried out.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "15 lb"), fill="12.8 lb", start="61 degF",
    ...     heater=n2.Heater("400 W"), switch=n2.PressureSwitch("840 psig", "880 psig"),
    ...     schedule=[n2.Pass("8 s", outflow="0.07 lb/s")],
    ... )
    >>> both = n2.compare_shells(car, ["aluminium", "carbon-aluminium"])
    >>> both.get("warm_up_time", "min").round(0)
    array([13., 12.])
    """
    if all(b.heater is None or b.switch is None for b in scenario.bottles):
        raise InputError("scenario", scenario.title, "", "a heater and a switch", "fit them")
    if isinstance(shells, (str, Bottle)) or not (named := list(shells)):
        valid = "a list of presets or bottles, one or more"
        raise InputError("shells", shells, "", valid, 'for example ["aluminium", "steel"]')
    item = run or first_of(scenario, Pass) or Pass(9.0)
    base = scenario.replace(schedule=_schedule(hold, item, recovery))
    runs = _carried_out(base, named)
    rows = {row.shell: row for name, one in runs.items() for row in _rows(name, one)}
    first, *others = runs.items()
    hits = [(name, h) for name, one in others for h in standing(one, name)]
    return Answer(
        f"Shells compared: {scenario.title}",
        (),
        first[1].scenario,
        first[1],
        broken=tuple(Broken(h.code, h.words, name) for name, h in hits),
        notes=tuple(f"{name}: {row.note}" for name, row in rows.items() if row.note),
        listings=(Listing("Shells", COLUMNS, tuple(map(vars, rows.values()))),),
        runs=2 * len(runs),
        more={"shells": rows},
    )


def _schedule(hold: Any, item: Pass, recovery: Any) -> list[Any]:
    """Warm up, hold, bring to the opening point, pass, bring there again."""
    length = parse(hold, "time", name="hold", low=60.0, high=_LONGEST)
    wait = parse(recovery, "time", name="recovery", low=60.0, high=_LONGEST)
    return [
        Hold(_LONGEST, until_open=True),
        Hold(length),
        Hold(_LONGEST, until_open=True),
        item,
        Hold(wait, until_open=True),
    ]


def _carried_out(base: Scenario, shells: Sequence[str | Bottle]) -> dict[str, Run]:
    runs: dict[str, Run] = {}
    failed = []
    for x in shells:
        fitted = {
            f"bottles.{b.name}.bottle": x if isinstance(x, Bottle) else shell_like(x, b.bottle)
            for b in base.bottles
        }
        name = _unused(x.name if isinstance(x, Bottle) else x, runs)
        try:
            runs[name] = simulate(_until_all_open(with_fields(base, fitted)))
        except N2OSimError as problem:
            failed.append(f"{name}: {problem}")
    if failed:
        raise NoSolutionError("shells that cannot be compared: " + "; ".join(failed))
    return runs


def _unused(name: str, taken: Mapping[str, Any]) -> str:
    """The name, counted where an earlier shell has it."""
    again = (f"{name} ({k})" for k in itertools.count(2))
    return name if name not in taken else next(n for n in again if n not in taken)


def _until_all_open(scenario: Scenario) -> Scenario:
    """Holds that last until a switch opens last until every bottle's has, where several have one
    (such a hold by itself ends with the first)."""
    if sum(b.switch is not None for b in scenario.bottles) < 2:
        return scenario
    done: list[Any] = []
    for item in scenario.schedule:
        if isinstance(item, Hold) and item.until_open:
            longest = Hold(item.duration)
            holds = simulate(scenario.replace(schedule=[*done, longest])).holds
            times = [h.warm_up_time for h in holds[-len(scenario.bottles) :]]
            waited = [t for t in times if t is not None]
            item = Hold(max(waited) + _JUST_AFTER) if waited else longest
        done.append(item)
    return scenario.replace(schedule=done)


def _passes_without_wall(run: Run) -> Run:
    """The pass alone from the states at its start, with no heat from the walls."""
    changes: dict[str, Any] = {"model.inside_coefficient": 0.0}
    for shot in run.passes[: len(run.scenario.bottles)]:
        own = f"bottles.{shot.bottle}."
        changes[own + "fill"] = shot.start_mass
        changes[own + "start"] = shot.start_temperature
        changes[own + "wall_start"] = None
    item = next(x for x in run.scenario.schedule if isinstance(x, Pass))
    return simulate(with_fields(run.scenario.replace(schedule=[item]), changes))


def _rows(shell: str, run: Run) -> list[ShellRow]:
    """A row for each bottle that a heater and a switch of its own keep in its band."""
    n = run.numbers()
    alone = _passes_without_wall(run)
    without = {x.bottle: float(x.pressure_sag) for x in alone.passes}
    several = len(run.scenario.bottles) > 1
    return [
        _row(f"{shell}, {b.name}" if several else shell, b, n, without[b.name], run)
        for b in run.scenario.bottles
        if b.switch is not None and b.heater is not None
    ]


def _row(
    shell: str, fitted: FittedBottle, n: Mapping[str, float], sag_without: float, run: Run
) -> ShellRow:
    bottle, switch = fitted.bottle, fitted.switch
    assert switch is not None
    several = len(run.scenario.bottles) > 1

    def of(part: str, name: str) -> float:
        return n[f"{part}.{fitted.name}.{name}" if several else f"{part}.{name}"]

    def maybe(part: str, name: str) -> float | None:
        return None if math.isnan(of(part, name)) else of(part, name)

    warm = maybe("hold0", "warm_up_time_s")
    opened = warm is not None
    peak, sag = of("hold1", "peak_pressure_gauge_Pa"), of("pass0", "pressure_sag_Pa")
    limit, hottest = bottle.max_wall_temperature, of("run", "hottest_wall_K")
    return ShellRow(
        shell=shell,
        empty_mass=bottle.empty_mass,
        heat_capacity=bottle.heat_capacity,
        warm_up_time=warm,
        warm_up_energy=of("hold0", "energy_J"),
        overshoot=peak - switch.opens if opened else None,
        duty=maybe("hold1", "duty") if opened else None,
        mean_power=of("hold1", "mean_power_W"),
        energy=of("hold1", "energy_J"),
        hottest_wall=hottest,
        hottest_inner=of("run", "hottest_inner_K"),
        wall_limit=limit,
        wall_margin=None if limit is None else limit - hottest,
        sag=sag,
        sag_without_wall=sag_without,
        sag_support=sag_without - sag,
        wall_heat=of("pass0", "heat_to_fluid_J"),
        recovery_time=_back(run, fitted) if opened else None,
        reheat_time=None if maybe("hold3", "warm_up_time_s") is None else _reheat(run, fitted),
        recovery_energy=of("hold3", "energy_J"),
        note=bottle.oxidising_note,
    )


def _reheat(run: Run, fitted: FittedBottle) -> float:
    """Seconds for which the heater is on in the last hold, which ends when its switch opens."""
    rows = run.rows_of(len(run.scenario.schedule) - 1)
    on = run["heater_power_W"][run.scenario.bottle_index(fitted.name), rows] > 0.0
    return float((np.diff(run.time[rows]) * (on[:-1] & on[1:])).sum())


def _back(run: Run, fitted: FittedBottle) -> float | None:
    """Seconds from the end of the pass until the bottle is in its band and stays there."""
    assert fitted.switch is not None
    shot = next(p for p in run.passes if p.bottle == fitted.name)
    rows = np.flatnonzero(run["segment"] > shot.index)
    p = run["pressure_gauge_Pa"][run.scenario.bottle_index(fitted.name), rows]
    slack = CYCLING * (fitted.switch.opens - fitted.switch.closes)
    return stays_from(run.time[rows] - shot.end_time, p, fitted.switch.closes, slack)
