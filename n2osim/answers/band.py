"""Setting the switch: the widest band that keeps the pressure inside low and high."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

from n2osim.answers.answer import Answer, Figure, figures_of
from n2osim.answers.fields import Knob, as_cases, below_at_first, first_hold, part_needed
from n2osim.answers.optimize import design
from n2osim.answers.requirements import Requirement
from n2osim.answers.search import BUDGET
from n2osim.errors import NoSolutionError
from n2osim.hardware.cylinder_rules import EXPOSURE_LIMIT
from n2osim.results.bottle_readings import needed_temperature
from n2osim.results.run import Run, simulate
from n2osim.results.view import View
from n2osim.scenario.fields import with_fields
from n2osim.scenario.scenario import Scenario
from n2osim.units import PSI, format_quantity, parse

LEAST_BAND = 5.0 * PSI
"""Narrowest band set, Pa: what a good mechanical switch resolves (common practice, no source)."""
_RESOLUTION = 0.1 * PSI
_ROUNDS = 4
_WANTED = (
    Figure("peak", "pressure then peaks at", "hold0.peak_after_open_gauge_Pa", "gauge_pressure"),
    Figure("lowest", "and falls to", "hold0.lowest_after_open_gauge_Pa", "gauge_pressure"),
    Figure("warm_up_time", "warm-up", "hold0.warm_up_time_s", "time"),
    Figure("duty", "duty in the band", "hold0.duty", "fraction"),
    Figure("switchings_per_hour", "switchings an hour", "hold0.switchings_per_hour", "number"),
    Figure(
        "peak_pressure",
        "peak of the whole schedule",
        "run.peak_pressure_gauge_Pa",
        "gauge_pressure",
    ),
)


def set_band(
    scenario: Scenario,
    low: Any = None,
    high: Any = None,
    *,
    hold: Any = "3 h",
    cases: Mapping[str, Any] | None = None,
    waive: Sequence[str] = (),
    budget: int = 2 * BUDGET,
) -> Answer:
    """Set points of the widest band, the one that opens lowest of those as wide, that keeps the
    pressure of every bottle between ``low`` and ``high`` (Pa gauge) once the switch has opened.

    low, high : default: the scenario's own set points, that is, its switch is then drawn in so that
    the pressure, and not the switch, stays between them. hold : least length (s) of the first hold,
    in which this is looked at. All switches of the scenario get the same set points; offset, lag,
    clock and everything else stay as they are. cases, waive : as
    :func:`~n2osim.answers.optimize.optimize`.

    Raises NoSolutionError saying what stands against it: heat stored in the wall, the air, power.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("carbon-aluminium", "15 lb"), fill="12.6 lb", start="55 degF",
    ...     heater=n2.Heater("260 W"), switch=n2.PressureSwitch("820 psig", "860 psig"),
    ... )
    >>> found = n2.set_band(car, low="815 psig", high="870 psig")
    >>> print(f"{found.get('closes', 'psig'):.0f} to {found.get('opens', 'psig'):.0f} psig")
    815 to 860 psig
    """
    part_needed(scenario, "switch", "its band is what is set")
    part_needed(scenario, "heater", "a band needs something that is switched")
    own = next(b.switch for b in scenario.bottles if b.switch is not None)
    bottom = parse(own.closes if low is None else low, "gauge_pressure", name="low end", low=0.0)
    top = parse(
        own.opens if high is None else high,
        "gauge_pressure",
        name="high end of the band",
        low=bottom + LEAST_BAND,
    )
    length = parse(hold, "time", name="hold", low=60.0, high=12 * 3600.0)
    base, told = first_hold(scenario, length)
    how: dict[str, Any] = {
        "cases": as_cases(cases),
        "waive": waive,
        "budget": budget,
        "samples": 7,
        "figures": _figures,
        "notes": (told,) if told else (),
        "question": f"Switch for {format_quantity(bottom, 'gauge_pressure')} to "
        f"{format_quantity(top, 'gauge_pressure')}: {base.title}",
    }
    _check_reach(_switched(base, bottom, top), top)
    return _drawn_in(base, bottom, top, how)


def _check_reach(base: Scenario, top: float) -> None:
    """NoSolutionError where the heater has no say: above the band at first, or never in it."""
    run = simulate(base)
    below_at_first(run, top)
    for hold in run.holds[: len(base.bottles)]:
        if base.bottles[base.bottle_index(hold.bottle)].switch is None:
            continue
        if hold.warm_up_time is None:
            raise NoSolutionError(_out_of_reach(run, hold, top))


def _out_of_reach(run: Run, hold: Any, top: float) -> str:
    """Why a hold did not come to ``top`` (Pa gauge), and what helps."""
    peak, wanted = (format_quantity(p, "gauge_pressure") for p in (hold.peak_pressure, top))
    if hold.peak_pressure >= top or hold.energy <= 0.0:
        heater = "the heater never comes on" if hold.energy <= 0.0 else "nothing stops the heater"
        return (
            f"no solution because the switch does not do its work: {heater}, and the bottle comes "
            f"to {peak}: mend the switch, or where it senses, first"
        )
    needed = needed_temperature(
        View(run, run.scenario.bottle_index(hold.bottle)), hold.start_mass, top
    )
    told = f"no solution because the heater brings the bottle to {peak} only, not to {wanted}"
    if needed is None or needed > EXPOSURE_LIMIT:
        limit = format_quantity(EXPOSURE_LIMIT, "temperature")
        return f"{told}, which this charge reaches only above {limit}: refill it, never more power"
    if any(e.name == "cut-out opens" and e.bottle == hold.bottle for e in run.events):
        return f"{told}: the surface cut-out ends the heat before"
    return f"{told}: more power, a longer hold, or shelter from the wind"


def _drawn_in(base: Scenario, bottom: float, top: float, how: Mapping[str, Any]) -> Answer:
    """The opening point as high and the closing point as low as pressure allows, in turn: a peak
    hangs on where the switch opens, a dip on where it closes, and little on the other.

    True pressures at the set points are what the switch sees less its offset, and the wall adds to
    a peak and takes from a dip: neither point can lie outside its end of the range so shifted.
    """
    offsets = [b.switch.offset for b in base.bottles if b.switch is not None]
    floor, ceiling = bottom + min(offsets), top + max(offsets)
    peak = [f"hold0.peak_after_open <= {top!r} Pa", *_followers(base, top)]
    dip = f"hold0.lowest_after_open >= {bottom!r} Pa"
    closes, runs = floor, 0
    for _ in range(_ROUNDS):
        wide, least = _switched(base, closes, ceiling), closes + LEAST_BAND
        upper = _furthest(wide, "opens", least, ceiling, peak, **how)
        opens = upper["opens"]
        fixed, most = _switched(base, closes, opens), opens - LEAST_BAND
        lower = _furthest(fixed, "closes", floor, most, [dip], **how)
        runs += upper.runs + lower.runs
        if not _broken(lower, peak):
            break
        closes = lower["closes"]
    answer = lower
    if _broken(lower, peak):  # they chase each other by a hair: the last pair that keeps both
        if _broken(upper, [dip]):
            raise NoSolutionError(
                "no solution because peak and dip of the pressure hang on each other: no pair of "
                f"points was found in {runs} runs that keeps both"
            )
        answer = upper
    return dataclasses.replace(
        answer,
        decided_by=(*upper.decided_by, *lower.decided_by),
        then=(),
        intervals=(),
        runs=runs,
        more={},
    )


def _followers(base: Scenario, top: float) -> list[str]:
    """The same of bottles that follow another's switch, which have no opening of their own."""
    names = [b.name for b in base.bottles if b.follows is not None]
    return [f"hold0.{name}.peak_pressure <= {top!r} Pa" for name in names]


def _broken(answer: Answer, requirements: Sequence[str]) -> bool:
    """Whether the run of an answer breaks one of them."""
    numbers = answer.run.numbers()
    return any(True for r in requirements for _ in Requirement.of(r).hits(answer.run, numbers, ""))


def _furthest(
    scenario: Scenario, name: str, low: float, high: float, needed: Sequence[str], **how: Any
) -> Answer:
    """The opening point as high, or the closing point as low, as what is needed allows."""
    one = Knob(
        name,
        f"{name} at",
        "gauge_pressure",
        low,
        high,
        lambda s, x: with_fields(s, {f"switch.{name}": x}),
        resolution=_RESOLUTION / max(high - low, _RESOLUTION),
    )
    return design(scenario, [one], name, -1 if name == "opens" else 1, subject_to=needed, **how)


def _switched(scenario: Scenario, closes: float, opens: float) -> Scenario:
    """All switches with these set points."""
    return with_fields(scenario, {"switch.closes": closes, "switch.opens": opens})


def _figures(run: Run) -> list[Figure]:
    switch = next(b.switch for b in run.scenario.bottles if b.switch is not None)
    assert switch is not None
    points = [
        Figure("opens", "opens at", switch.opens, "gauge_pressure"),
        Figure("width", "band", switch.opens - switch.closes, "pressure_difference"),
    ]
    return [*points, *figures_of(run.numbers(), _WANTED)]
