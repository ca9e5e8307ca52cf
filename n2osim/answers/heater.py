"""Sizing the heater: least power for a warm-up time as a design page, largest power, coverage."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any

import numpy as np

from n2osim.answers.answer import Answer, Column, Figure, Listing, figures_of
from n2osim.answers.faults import as_far_as_it_goes, hot_soak, welded
from n2osim.answers.fields import (
    Knob,
    as_cases,
    below_at_first,
    first_hold,
    knob,
    part_needed,
    weather,
)
from n2osim.answers.optimize import design
from n2osim.answers.requirements import matching
from n2osim.answers.search import BUDGET
from n2osim.answers.wiring import BLANKET, RULES, Wiring, supply_current, wiring
from n2osim.errors import InputError, N2OSimError, NoSolutionError
from n2osim.hardware.heater import Heater, Supply
from n2osim.numbers import both, lasting
from n2osim.results.electric import supply_use
from n2osim.results.holds import in_band_throughout, switch_of
from n2osim.results.run import Run, simulate
from n2osim.scenario.fields import get_field, tied_names, with_fields
from n2osim.scenario.fitted import FittedBottle
from n2osim.scenario.scenario import Scenario
from n2osim.units import INCH, parse

_AFTER = 7200.0
"""s in the band after the warm-up, in which peak, duty and the hottest parts are looked at."""
_LONGEST = 12 * 3600.0
NIGHTS: Mapping[str, Any] = {"cold": "40 degF", "mean": "65 degF", "hot": "95 degF"}
"""Air of the other nights (an assumption, no source: give your own); where the scenario itself is
colder or hotter, cold and hot are as the scenario."""
LOW_BATTERY = 12.0 / 14.4
"""Voltage of a battery alone over that of a charging engine (common practice, no source)."""
TOLERANCES: tuple[tuple[str, str, float], ...] = (
    ("charge 10 % less", "fill", 0.9),
    ("charge 5 % more", "fill", 1.05),
    ("contact resistance halved", "heater.contact_resistance", 0.5),
    ("contact resistance doubled", "heater.contact_resistance", 2.0),
    ("inside coefficient halved", "model.inside_factor", 0.5),
    ("inside coefficient doubled", "model.inside_factor", 2.0),
)
"""Words, field, factor on its value: how far they are commonly off (no source)."""
WIND = 4.5  # m/s, some 10 mph
_DROP = 0.1
"""Share of the supply's voltage lost ahead of the heaters from which it is told (no source)."""


def size_heater(
    scenario: Scenario,
    within: Any = "30 min",
    *,
    target: Any = None,
    overshoot: Any = None,
    wall: Any = None,
    current: Any = None,
    values: Sequence[Any] | None = None,
    cases: Mapping[str, Any] | None = None,
    spreads: Mapping[str, tuple[Any, Any]] | None = None,
    nights: Mapping[str, Any] | None = None,
    waive: Sequence[str] = (),
    page: bool = True,
    budget: int = BUDGET,
) -> Answer:
    """Least heater power that opens the switch within a time, as a page for whoever builds it.

    Parameters
    ----------
    scenario : with heater and switch; only the power of its heaters changes (all of them alike). A
        heater given in plain watts is taken as an element rated at the supply's voltage, so that
        what it delivers follows the supply. Its schedule is kept, with a first hold long enough.
    within : s from the start of the first hold. target: gauge pressure (Pa) at which the switch is
        to open (it then closes as far below as before); default: as given.
    overshoot, wall, current : more limits: Pa above the opening point, K, A.
    values : rated powers (W) that can be had; default: any.
    cases, spreads, waive : as :func:`~n2osim.answers.optimize.optimize`.
    nights : name to air temperature of further nights to tell of (default 40, 65, 95 degF, the ends
        colder or hotter where the scenario is).
    page : False leaves out nights, tolerances and faults (some 15 runs).

    Raises NoSolutionError naming what stands against it, with the nearest answer.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "15 lb"), fill="12.5 lb", start="50 degF",
    ...     ambient=n2.Ambient("50 degF"), heater=n2.Heater("300 W"),
    ...     switch=n2.PressureSwitch("840 psig", "880 psig"), schedule=[n2.Hold("2 h")],
    ... )
    >>> found = n2.size_heater(car, within="35 min", page=False)
    >>> print(f"{found.get('heater.power', 'W'):.0f} W, {found.get('current', 'A'):.0f} A")
    232 W, 16 A
    """
    longest = parse(within, "time", name="time to the band", low=1.0, high=_LONGEST)
    base, notes = _prepared(scenario, target, longest + _AFTER)
    required = [f"hold0.warm_up_time <= {longest!r} s", *_limits(base, overshoot, wall)]
    name, sense = _element(base)
    answer = design(
        base,
        [_element_knob(base, name, values, current)],
        name,
        sense,
        question=f"Heater for the band within {lasting(longest)}: {scenario.title}",
        subject_to=required,
        cases=as_cases(cases),
        spreads=spreads or {},
        waive=waive,
        budget=budget,
        figures=heater_figures,
        notes=notes,
    )
    return _page(answer, nights) if page else answer


def largest_power(
    scenario: Scenario,
    *,
    overshoot: Any = None,
    wall: Any = None,
    current: Any = None,
    values: Sequence[Any] | None = None,
    budget: int = BUDGET,
    **how: Any,
) -> Answer:
    """Largest heater power that keeps the limits (and the standing ones), as :func:`size_heater`.

    Where the supply cannot give more, or the range ends, the answer says that this is what decides.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("carbon-aluminium", "10 lb"), fill="8.6 lb", start="56 degF",
    ...     heater=n2.Heater("150 W"), switch=n2.PressureSwitch("800 psig", "840 psig"),
    ...     schedule=[n2.Hold("2 h")],
    ... )
    >>> most = n2.largest_power(car, overshoot="10 psi")
    >>> print(f"{most.get('heater.power', 'W'):.0f} W")
    186 W
    """
    base, notes = _prepared(scenario, None, 2.0 * _AFTER)
    name, sense = _element(base)
    return design(
        base,
        [_element_knob(base, name, values, current)],
        name,
        -sense,
        question=f"Largest heater power: {scenario.title}",
        # One with which the switch never opens keeps every limit and does nothing.
        subject_to=[f"hold0.warm_up_time <= {2.0 * _AFTER} s", *_limits(base, overshoot, wall)],
        cases=as_cases(how.pop("cases", None)),
        budget=budget,
        figures=heater_figures,
        notes=notes,
        **how,
    )


def size_coverage(
    scenario: Scenario,
    within: Any = "30 min",
    *,
    overshoot: Any = None,
    wall: Any = None,
    among: Sequence[Any] | None = None,
    budget: int = BUDGET,
    **how: Any,
) -> Answer:
    """Least covered share of the shell with which the scenario's heater keeps time and limits.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("carbon-aluminium", "10 lb"), fill="8.4 lb", start="54 degF",
    ...     heater=n2.Heater("250 W"), switch=n2.PressureSwitch("810 psig", "850 psig"),
    ...     schedule=[n2.Hold("2 h")],
    ... )
    >>> least = n2.size_coverage(car, "35 min", overshoot="13 psi")
    >>> print(f"{least.get('heater.coverage', '%'):.0f} % of the shell")
    56 % of the shell
    """
    longest = parse(within, "time", name="time to the band", low=1.0, high=_LONGEST)
    base, notes = _prepared(scenario, None, longest + _AFTER)
    return design(
        base,
        [_coverage_knob(base, among)],
        "heater.coverage",
        question=f"Least coverage for the band within {lasting(longest)}: {scenario.title}",
        subject_to=[f"hold0.warm_up_time <= {longest!r} s", *_limits(base, overshoot, wall)],
        cases=as_cases(how.pop("cases", None)),
        budget=budget,
        figures=heater_figures,
        notes=notes,
        **how,
    )


def _coverage_knob(scenario: Scenario, among: Sequence[Any] | None) -> Knob:
    """Coverages from what the blanket must at least be for its watts."""
    one = knob(scenario, "heater.coverage", among, listed=True)
    watts = _circuit(scenario).delivered_power
    least = watts / BLANKET / _heated(scenario)[0][0].bottle.outer_area
    if least >= one.high:
        raise NoSolutionError(
            f"no solution because the heater's {watts:.0f} W are more "
            f"than a blanket over {one.high:.0%} of the shell bears"
        )
    kept = _only(one, max(one.low, least), one.high, "what the blanket bears")
    return dataclasses.replace(kept, ends=("what the blanket bears", ""))


def warm_up_table(scenario: Scenario, powers: Sequence[Any]) -> Answer:
    """Warm-up, current, peak and hottest wall of each of the heater powers (W).

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "15 lb"), fill="12.4 lb", start="59 degF",
    ...     heater=n2.Heater("200 W"), switch=n2.PressureSwitch("850 psig", "885 psig"),
    ...     schedule=[n2.Hold("2 h")],
    ... )
    >>> n2.warm_up_table(car, ["220 W", "440 W"]).get("warm_up_time", "min").round(0)
    array([22., 11.])
    """
    if not powers:
        raise InputError("powers", "none", "", "one heater power or more", "")
    base, notes = _prepared(scenario, None, _LONGEST)
    rows = []
    for given in [powers] if isinstance(powers, str) else powers:
        watts = parse(given, "power", name="power", low=1.0, high=20e3)
        run = simulate(with_fields(base, {_element(base)[0]: watts}))
        rows.append({"power": watts, **_night_row(run), "current": _circuit(run.scenario).current})
    columns = (Column("power", "heater", "power"), *_NIGHT, Column("current", "current", "current"))
    return Answer(
        f"Warm-up by heater power: {scenario.title}",
        (),
        base,
        run,
        notes=notes,
        listings=(Listing("By heater power", columns, tuple(rows)),),
        runs=len(rows),
    )


# --- the heater as what changes ------------------------------------------------------------------
def _prepared(scenario: Scenario, target: Any, least: float) -> tuple[Scenario, tuple[str, ...]]:
    """The scenario with elements that follow the supply and a first hold that is long enough."""
    part_needed(scenario, "heater", "its coverage and contact decide")
    part_needed(scenario, "switch", "it says where the band is")
    notes = []
    base, told = first_hold(scenario, least)
    notes += [told] if told else []
    if target is not None:
        opens = parse(target, "gauge_pressure", name="target", ambient=base.ambient.pressure)
        base = _opening_at(base, opens)
    plain = [b for b, heater in _heated(base) if heater.constant_power]
    if plain:
        volts = base.supply.voltage
        notes.append(
            f"the heater was given in plain watts: taken as an element rated at {volts:g} V, the "
            "supply's voltage, so that its watts follow the supply"
        )
        base = with_fields(base, {f"bottles.{b.name}.heater.voltage": volts for b in plain})
    below_at_first(as_far_as_it_goes(base)[0])
    return base, tuple(notes)


def _opening_at(scenario: Scenario, opens: float) -> Scenario:
    """All switches with that opening point, and as wide a band as before."""
    changes = {}
    for b in scenario.bottles:
        if b.switch is not None:
            changes[f"bottles.{b.name}.switch.opens"] = opens
            changes[f"bottles.{b.name}.switch.closes"] = opens - (b.switch.opens - b.switch.closes)
    return with_fields(scenario, changes)


def _heated(scenario: Scenario) -> list[tuple[FittedBottle, Heater]]:
    return [(b, b.heater) for b in scenario.bottles if b.heater is not None]


def _element(scenario: Scenario) -> tuple[str, int]:
    """The field that sets the heater's power, and whether more of it is more power."""
    heaters = [h for _, h in _heated(scenario)]
    if all(h.power is not None for h in heaters):
        return "heater.power", 1
    if all(h.resistance is not None for h in heaters):
        return "heater.resistance", -1
    raise InputError(
        "heaters", "some by power, some by resistance", "", "all given alike", "give all watts"
    )


def _element_knob(
    scenario: Scenario, name: str, values: Sequence[Any] | None, current: Any
) -> Knob:
    """The element's knob; with a limit on the current the range ends there."""
    one = knob(scenario, name, values, listed=True)
    one = dataclasses.replace(
        one, words="rated power" if name.endswith("power") else "element resistance"
    )
    most, why = _most_conductance(scenario, current)
    if name.endswith("resistance"):
        low = max(one.low, 1.0 / most)
        return dataclasses.replace(_only(one, low, one.high, why), ends=(why, ""))
    volts = _heated(scenario)[0][1].voltage
    assert volts is not None
    high = min(one.high, most * volts**2)
    if not one.values and high <= one.low:
        raise NoSolutionError(f"no solution because {why} leaves less than {one.low:.3g} W")
    kept = _only(one, one.low, high, why)
    return dataclasses.replace(kept, ends=("", "" if kept.values else why))


def _only(one: Knob, low: float, high: float, why: str) -> Knob:
    """A knob between two values; of a list those there. NoSolutionError where none is."""
    kept = tuple(x for x in one.values if low * (1.0 - 1e-9) <= x <= high * (1.0 + 1e-9))
    if one.values and not kept:
        raise NoSolutionError(f"no solution because {why} allows none of the values given")
    low, high = (kept[0], kept[-1]) if kept else (low, high)
    return dataclasses.replace(one, low=low, high=high, values=kept)


def _most_conductance(scenario: Scenario, current: Any) -> tuple[float, str]:
    """Largest conductance (1/ohm) of an element, and what bounds it in words: what its blanket
    bears, the supply (a larger one gets less), a limit on the current (A)."""
    v, r, heated = scenario.supply.voltage, scenario.supply.resistance, _heated(scenario)
    watts = BLANKET * heated[0][1].coverage * heated[0][0].bottle.outer_area
    found = [
        (_conductance(v, r, watts), f"what the blanket bears ({BLANKET * INCH**2:.0f} W/sq in)"),
        (
            math.inf if r <= 0.0 else 1.0 / r,
            "what the supply can give at most" + (f" ({0.5 * v / r:.0f} A)" if r > 0.0 else ""),
        ),
    ]
    if current is not None:
        amps = parse(current, "current", name="current", low=0.1, high=1e4)
        most = amps / (v - amps * r) if amps * r < v else math.inf
        found.append((most, f"the limit of {amps:.4g} A on its current"))
    fuse = scenario.supply.fuse
    if fuse is not None and fuse * r < v:
        most = (1.0 - 1e-9) * fuse / (v - fuse * r) / len(heated)  # at it, not beyond by rounding
        found.append((most, f"the supply's fuse of {fuse:.4g} A"))
    return min(found, key=lambda x: x[0])


def _conductance(v: float, r: float, watts: float) -> float:
    """Conductance of an element that takes ``watts`` behind a supply; inf where none does."""
    amps = supply_current(Supply(v, r), watts)
    return math.inf if math.isnan(amps) else amps / (v - amps * r)


def _limits(scenario: Scenario, overshoot: Any, wall: Any) -> list[str]:
    """Requirements on overshoot (Pa) and wall temperature (K; default: each shell's own limit)."""
    found = []
    if overshoot is not None:
        most = parse(overshoot, "pressure_difference", name="overshoot", low=0.0)
        found.append(f"hold0.overshoot <= {most!r} Pa")
        for b in scenario.bottles:  # a follower has no opening of its own to overshoot
            led = switch_of(scenario, b.name)
            if b.follows is not None and led is not None:
                found.append(f"hold0.{b.name}.peak_pressure <= {led.opens + most!r} Pa")
    if wall is not None:
        hot = parse(wall, "temperature", name="wall temperature")
        return [*found, f"run.hottest_wall <= {hot!r} K"]
    several = len(scenario.bottles) > 1
    for b in scenario.bottles:
        own = b.bottle.max_wall_temperature
        if own is not None:
            tag = f".{b.name}" if several else ""
            found.append(f"run{tag}.hottest_wall <= {float(own)!r} K")
    return found


# --- the page ------------------------------------------------------------------------------------
_WANTED = (
    Figure("warm_up_time", "warm-up", "hold0.warm_up_time_s", "time"),
    Figure("warm_up_energy", "electricity of the schedule", "run.energy_J", "energy"),
    Figure("peak_pressure", "peak", "run.peak_pressure_gauge_Pa", "gauge_pressure"),
    Figure("overshoot", "overshoot", "hold0.overshoot_Pa", "pressure_difference"),
    Figure("lowest", "lowest in band", "hold0.lowest_after_open_gauge_Pa", "gauge_pressure"),
    Figure("duty", "duty in the band", "hold0.duty", "fraction"),
    Figure("hottest_wall", "hottest wall", "run.hottest_wall_K", "temperature"),
    Figure("hottest_heater", "hottest heater", "run.hottest_heater_K", "temperature"),
    Figure("hottest_fluid", "hottest N2O", "run.hottest_fluid_K", "temperature"),
)


def heater_figures(run: Run) -> list[Figure]:
    """The circuit and what the run makes of it."""
    scenario = run.scenario
    w, heated = _circuit(scenario), _heated(scenario)
    blanket = heated[0][1].coverage * heated[0][0].bottle.outer_area
    watts, taken = supply_use(run) or (None, 0.0)
    several = len(heated) > 1 and scenario.supply.resistance > 0.0
    alone = ", alone" if several else ""
    together = [watts] if several and watts is not None else []
    at = "" if w.rated_voltage is None else f" at {w.rated_voltage:g} V"
    return [
        Figure("element", "element", f"{w.resistance:.4g} ohm"),
        Figure("rated_power", "rated", f"{w.rated_power:.4g} W{at}"),
        Figure("delivered_power", f"delivered at the supply{alone}", w.delivered_power, "power"),
        *(Figure("together", "by all heaters together", x, "power") for x in together),
        Figure("current", f"current of each heater{alone}", w.current, "current"),
        Figure("fuse", "fuse", None if w.fuse is None else f"{w.fuse:g} A"),
        Figure("wire", "wire", None if w.wire is None else f"AWG {w.wire}"),
        Figure("ampere_hours", "charge taken, whole schedule", f"{taken:.3g} Ah"),
        Figure(
            "blanket",
            "blanket",
            f"{blanket / INCH**2:.0f} sq in, {w.delivered_power / blanket * INCH**2:.2f} W/sq in "
            f"(such blankets bear some {BLANKET * INCH**2:.0f})",
        ),
        *_lost(scenario, w),
        *figures_of(run.numbers(), _WANTED),
    ]


def _lost(scenario: Scenario, w: Wiring) -> list[Figure]:
    """What a weak supply turns into heat of its own, where it is much: it, not watts, is short."""
    supply = scenario.supply
    drop = supply.voltage - w.terminal_voltage
    if drop <= _DROP * supply.voltage:
        return []
    said = (
        f"{drop:.1f} V of {supply.voltage:.1f} V, {drop**2 / supply.resistance:.0f} W of heat: "
        "mend battery and wiring before fitting more watts"
    )
    return [Figure("lost", "lost ahead of the heaters", said)]


def _circuit(scenario: Scenario) -> Wiring:
    return wiring(_heated(scenario)[0][1], scenario.supply)


_NIGHT = (
    Column("warm_up_time", "warm-up", "time"),
    Column("peak_pressure", "peak", "gauge_pressure"),
    Column("hottest_wall", "hottest wall", "temperature"),
)


def _night_row(run: Run) -> dict[str, Any]:
    """The slowest warm-up, and the highest peak and wall, of any bottle."""
    numbers = run.numbers("run.*")

    def worst(name: str) -> float | None:
        found = list(matching(numbers, f"run.{name}").values())
        return None if not found or any(map(math.isnan, found)) else max(found)

    opens = {b.name: b.switch.opens for b in run.scenario.bottles if b.switch is not None}
    switched = [h for h in run.holds[: len(run.scenario.bottles)] if h.bottle in opens]
    times = [h.warm_up_time for h in switched if h.warm_up_time is not None]
    warm = max(times) if times and len(times) == len(switched) else "never"
    if switched and all(h.start_pressure >= opens[h.bottle] for h in switched):
        warm = "above the band"
    elif switched and all(in_band_throughout(run, h) for h in switched):
        warm = "in the band"
    return {
        "warm_up_time": warm,
        "peak_pressure": worst("peak_pressure_gauge_Pa"),
        "hottest_wall": worst("hottest_wall_K"),
    }


def _nights(run: Run) -> dict[str, float]:
    """Air (K) of the nights that are assumed: cold and hot are no milder than what the scenario
    itself has, air or bottle."""
    scenario = run.scenario
    air = {name: parse(x, "temperature") for name, x in NIGHTS.items()}
    own = scenario.ambient.temperature_at(scenario.clock_start + run.time)
    met = [*np.ravel(own).tolist(), *(b.start for b in scenario.bottles)]
    return air | {"cold": min(air["cold"], *met), "hot": max(air["hot"], *met)}


def _page(answer: Answer, given: Mapping[str, Any] | None) -> Answer:
    """The answer with its nights, tolerances and faults."""
    scenario = answer.scenario
    rows = [{"when": "as given", **_night_row(answer.run)}]
    assumed = _nights(answer.run)
    nights = {name: parse(x, "temperature") for name, x in (given or assumed).items()}
    others = {
        f"{name}, {both(T, 'temperature')}": weather(scenario, T) for name, T in nights.items()
    }
    low = dataclasses.replace(scenario.supply, voltage=LOW_BATTERY * scenario.supply.voltage)
    others[f"battery at {low.voltage:.1f} V"] = scenario.replace(supply=low)
    others |= _tolerances(scenario)
    rows += [{"when": name, **_night_row(as_far_as_it_goes(s)[0])} for name, s in others.items()]
    listing = Listing(
        "Other nights, and what may be off", (Column("when", ""), *_NIGHT), tuple(rows)
    )
    hottest = nights.get("hot", assumed["hot"])
    faults = [welded(scenario), hot_soak(scenario, air=hottest)]
    return dataclasses.replace(
        answer,
        listings=(*answer.listings, listing),
        notes=(*answer.notes, RULES, *(_fault_words(one) for one in faults)),
        runs=answer.runs + len(others) + len(faults),
        more={**answer.more, "welded": faults[0], "boot": faults[1]},
    )


def _tolerances(scenario: Scenario) -> dict[str, Scenario]:
    found = {}
    for words, name, factor in TOLERANCES:
        with suppress(N2OSimError):  # a bottle filled to the brim has no room for more
            names = tied_names(scenario, name)
            scaled = {n: factor * get_field(scenario, n) for n in names}
            found[words] = with_fields(scenario, scaled)
    wind = scenario.ambient.air_speed + WIND
    found["10 mph more wind"] = with_fields(scenario, {"ambient.air_speed": wind})
    return found


def _fault_words(one: Answer) -> str:
    """In one line: what is reached when, by the first bottle that reaches it."""
    fault = str(one.rows[0]["fault"]) if one.rows else "fault"
    first: dict[str, float] = {}
    for r in one.rows:
        if r["time"] is not None and r["limit"] != "liquid-full":
            limit = f"{r['limit']} ({r['shown']})"
            first[limit] = min(r["time"], first.get(limit, math.inf))
    reached = [f"{limit} after {lasting(time)}" for limit, time in first.items()]
    peak = both(one["peak_pressure"], "gauge_pressure")
    return f"{fault}: peak {peak}; " + ("; ".join(reached) or "no limit is reached")
