"""When it goes wrong: time to each limit with a welded relay, and in a hot closed boot."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from n2osim.answers.answer import Answer, Column, Figure, Listing
from n2osim.errors import IntegrationError, UnknownNameError
from n2osim.fluid import RHO_CRITICAL
from n2osim.hardware.ambient import Ambient, Boot
from n2osim.hardware.cylinder_rules import EXPOSURE_LIMIT
from n2osim.numbers import both
from n2osim.physics.charge import leaves_saturation
from n2osim.results.instants import first_above, highest
from n2osim.results.run import Run, simulate
from n2osim.scenario.fields import with_fields
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Hold, Rest
from n2osim.units import parse

COLUMNS = (
    Column("fault", "what happens"),
    Column("bottle", "bottle"),
    Column("limit", "limit"),
    Column("shown", "at"),
    Column("time", "reached after", "time"),
)


def _columns(scenario: Scenario, *left_out: str) -> tuple[Column, ...]:
    if len(scenario.bottles) == 1:
        left_out += ("bottle",)
    return tuple(c for c in COLUMNS if c.name not in left_out)


def time_to_limits(scenario: Scenario, fault: str = "as given") -> Answer:
    """Carry out a scenario and say when each limit of each bottle is first reached.

    Limits: the 125 degF exposure limit, liquid-full (for charges above the critical density), 5/4
    of the service pressure (information: liquefied N2O is exempt, 49 CFR 173.301a(d)), relief
    device, test pressure, the shell's own temperature limit. ``answer.time_to("relief")`` reads the
    time (s) of the first bottle to get there, None if none does. A run that leaves the model's
    range is reported as far as it goes.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("carbon-aluminium", "12 lb"), fill="10.5 lb", start="72 degF",
    ...     heater=n2.Heater("300 W"), schedule=[n2.Hold("20 min")],
    ...     switch=n2.PressureSwitch("860 psig", "900 psig", fault="welded"),
    ... )
    >>> found = n2.time_to_limits(car)
    >>> print(f"full of liquid after {found.time_to('liquid-full') / 60:.0f} min")
    full of liquid after 14 min
    """
    run, notes = as_far_as_it_goes(scenario)
    rows = tuple({"fault": fault, **row} for row in limit_rows(run))
    peak = max(highest(run.time, p) for p in run["pressure_gauge_Pa"])
    wall = float(run["wall_temperature_K"].max())
    return Answer(
        f"Time to each limit, {fault}: {scenario.title}",
        (
            Figure("peak_pressure", "peak", peak.value, "gauge_pressure"),
            Figure("peak_time", "reached after", peak.time, "time"),
            Figure("hottest_wall", "hottest wall", wall, "temperature"),
        ),
        scenario,
        run,
        notes=notes,
        listings=(Listing("Limits", _columns(scenario, "fault"), rows),),
        more={"time_to": lambda name: _time_to(rows, name), "ended": "".join(notes) or None},
    )


def as_far_as_it_goes(scenario: Scenario) -> tuple[Run, tuple[str, ...]]:
    """The run, or what there is of one that leaves the model's range, and that in words."""
    try:
        return simulate(scenario), ()
    except IntegrationError as problem:
        if problem.partial_run is None:
            raise
        return problem.partial_run, (f"ends early: {problem.message} at {problem.time:.4g} s",)


def _time_to(rows: tuple[dict[str, Any], ...], name: str) -> float | None:
    times = [r["time"] for r in rows if r["limit"].startswith(name)]
    if not times:
        raise UnknownNameError.among("limit", name, sorted({r["limit"] for r in rows}))
    return min((t for t in times if t is not None), default=None)


def limit_rows(run: Run) -> Iterator[dict[str, Any]]:
    """Each limit of each bottle: its value, when it is reached, and the highest that is."""
    for i, fitted in enumerate(run.scenario.bottles):
        for name, given, kind, series in _limits(run, i):
            if given is None:
                continue
            limit, highest = float(given), float(series.max())
            yield {
                "bottle": fitted.name,
                "limit": name,
                "value": limit,
                "kind": kind,
                "shown": both(limit, kind),
                "time": first_above(run.time, series, limit),
                "highest": highest,
                "highest_shown": both(highest, kind),
            }


def _limits(run: Run, i: int) -> tuple[tuple[str, float | None, str, np.ndarray], ...]:
    fitted = run.scenario.bottles[i]
    b = fitted.bottle
    pressure, fluid = run["pressure_gauge_Pa"][i], run["fluid_temperature_K"][i, 0]
    wall = run["wall_temperature_K"][i].max(axis=(0, 1))
    density = fitted.fill / b.volume
    full = leaves_saturation(density)[0] if density > RHO_CRITICAL else None
    service = None if b.service_pressure is None else 1.25 * b.service_pressure
    return (
        ("liquid-full", full, "temperature", fluid),
        ("exposure limit of N2O cylinders", EXPOSURE_LIMIT, "temperature", fluid),
        ("5/4 of the service pressure", service, "gauge_pressure", pressure),
        ("relief device", b.relief_pressure, "gauge_pressure", pressure),
        ("test pressure", b.test_pressure, "gauge_pressure", pressure),
        ("shell temperature", b.max_wall_temperature, "temperature", wall),
    )


def hot_soak(
    scenario: Scenario,
    duration: Any = "8 h",
    *,
    boot: Boot | None = None,
    air: Any = None,
    sun: Any = None,
) -> Answer:
    """Leave the bottles in a closed boot in the sun, heater off: peak and time to each limit.

    boot : the air node around them (default ``Boot(solar="250 W")``, which ends some 30 K above the
    outside air; typical of a closed car in the sun, no source). air : outside temperature, K,
    DayNight or table (None: the scenario's). sun : on the bottle itself, W/m2 (default: none).

    >>> import n2osim as n2
    >>> left = n2.Scenario(n2.Bottle.preset("steel", "10 lb"), fill="6.5 lb", start="75 degF")
    >>> found = n2.hot_soak(left, "3 h", air="88 degF", boot=n2.Boot(solar="105 W"))
    >>> print(f"peak {found.get('peak_pressure', 'psig'):.0f} psig")
    peak 1034 psig
    """
    length = parse(duration, "time", name="soak", low=1.0)
    ambient = replace(
        scenario.ambient,
        temperature=scenario.ambient.temperature if air is None else Ambient(air).temperature,
        enclosure=Boot(solar="250 W") if boot is None else boot,  # type: ignore[arg-type]
        sun=0.0 if sun is None else sun,
        air_speed=0.0,
    )
    return time_to_limits(
        scenario.replace(ambient=ambient, schedule=[Rest(length)]), "in a hot closed boot"
    )


def welded(scenario: Scenario, duration: Any = "3 h") -> Answer:
    """The heater's relay welded from the start: time to each limit."""
    length = parse(duration, "time", name="time with a welded relay", low=1.0)
    broken = with_fields(scenario.replace(schedule=[Hold(length)]), {"switch.fault": "welded"})
    return time_to_limits(broken, "relay welded")


def faults(
    scenario: Scenario,
    *,
    relay: Any = "3 h",
    soak: Any = "8 h",
    boot: Boot | None = None,
    air: Any = None,
) -> Answer:
    """Time to each limit with a welded relay (from the scenario's start, for ``relay`` s), and left
    in a closed boot at ``air`` in the sun (heater off, for ``soak`` s).

    air : outside temperature, K, DayNight or table (None: 95 degF, or the hottest of the scenario's
    own day where that is hotter).

    The run and findings are those of the welded relay, the worse of the two for a heated bottle;
    without a heater and a switch only the soak is looked at. ``answer.boot`` is the other one;
    ``answer.time_to("relief")`` is of the first, ``answer.boot.time_to("relief")`` of the boot.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "20 lb"), fill="16 lb", start="68 degF",
    ...     heater=n2.Heater("350 W"), switch=n2.PressureSwitch("850 psig", "900 psig"),
    ... )
    >>> found = n2.faults(car, relay="40 min", soak="3 h", air="86 degF")
    >>> round(found.get("peak_welded", "psig"), -1), round(found.get("peak_boot", "psig"), -1)
    (1410.0, 1150.0)
    """
    heated = any(b.heater is not None and b.switch is not None for b in scenario.bottles)
    outside = _hot_day(scenario) if air is None else air
    boot_answer = hot_soak(scenario, soak, boot=boot, air=outside)
    found = [welded(scenario, relay)] if heated else []
    found.append(boot_answer)
    rows = tuple(row for one in found for row in one.rows)
    told = (("welded", "relay welded"), ("boot", "closed boot"))[-len(found) :]
    figures = tuple(
        Figure(f"peak_{tag}", f"peak, {words}", one["peak_pressure"], "gauge_pressure")
        for (tag, words), one in zip(told, found)
    )
    return Answer(
        f"Faults: {scenario.title}",
        figures,
        found[0].scenario,
        found[0].run,
        notes=(
            f"the boot stands in the sun with {_told(outside)} outside (an assumption, no source): "
            "say --air, or boot=Boot(...)",
            *(note for one in found for note in one.notes),
            *(_dangers_of(boot_answer.run) if heated else ()),
        ),
        listings=(Listing("Time to each limit", _columns(scenario), rows),),
        runs=len(found),
        more={"boot": boot_answer, "time_to": found[0].time_to},
    )


def _hot_day(scenario: Scenario) -> float:
    """95 degF, or the hottest air (K) of 24 hours of the scenario where that is hotter."""
    clock = scenario.clock_start + np.linspace(0.0, 86400.0, 97)
    return max(
        parse("95 degF", "temperature"), float(np.max(scenario.ambient.temperature_at(clock)))
    )


def _told(air: Any) -> str:
    return both(air, "temperature") if isinstance(air, float) else f"{air}"


def _dangers_of(run: Run) -> Iterator[str]:
    """What the findings of the boot's run are dangers of: the findings told are the relay's."""
    for f in run.findings:
        if f.severity == "danger":
            yield f"danger in the hot closed boot: {f.whose}{f.message}"
