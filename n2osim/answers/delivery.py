"""Delivery that holds a wanted power against the sag, and courses given over distance."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np

from n2osim.errors import InputError
from n2osim.results.engine_side import power_per_flow
from n2osim.results.run import Run, simulate
from n2osim.scenario.delivery import course, over_distance
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass
from n2osim.schema import Pairs
from n2osim.units import format_quantity, parse

_HELD = 1e-3  # relative: closer than this to the wanted power counts as held
_OPEN = 1.0 - 1e-9
_ROW = 0.05  # s: longest step, so that the instant it stops holding is known to this
_COARSE = 2e-3  # of opening: how far the written course may be from the computed one


@dataclass(frozen=True)
class PowerDelivery:
    """A pass that holds a power curve by pulsing the solenoids.

    time (s into the pass, at most 0.05 s apart), opening (share of the time open), flow (kg/s of
    N2O), power and wanted (W): arrays over the pass. held_until: s at which the fully open valve
    can no longer hold the curve, or at which something else first keeps the power below it (None:
    it holds to the end); limit says what ("" where it holds). shortfall: largest missing power, W.
    schedule: the same pass as a plain :class:`Pass` with the opening written down as its delivery
    course. run: the run behind it.
    """

    time: np.ndarray
    opening: np.ndarray
    flow: np.ndarray
    power: np.ndarray
    wanted: np.ndarray
    held_until: float | None
    shortfall: float
    schedule: Pass
    run: Run
    limit: str = ""

    def __str__(self) -> str:
        if self.held_until is None:
            end = "held to the end"
        else:
            until = f"held until {self.held_until:.3g} s; then" if self.held_until else "NOT held:"
            end = (
                f"{until} {self.limit}, up to "
                f"{format_quantity(self.shortfall, 'engine_power')} short"
            )
        return f"opening {self.opening[0]:.3g} at first, {self.opening.max():.3g} at most; {end}"


def hold_power(scenario: Scenario, wanted: Any, pass_: Pass) -> PowerDelivery:
    """The delivery with which the last pass of the scenario holds a power curve.

    Parameters
    ----------
    scenario : what happens before (warm-up, purge, wait) is its schedule; its ``engine`` turns
        power into flow at the target mixture.
    wanted : power (W, "100 hp") to hold flat, or corners (time, power) of a curve: one that is
        capped early while the tyres are the limit is ``[(0, "60 hp"), (3, "60 hp"),
        (3.5, "120 hp")]``.
    pass_ : length, feed and window of the pass, which is put behind the schedule.

    The controller is ideal: it opens as much as the flow needs. With fixed fuel jets the fuel
    follows the opening and not the flow, so the mixture goes richer as the bottle sags. Where the
    fuel jets are too small for the target mixture it asks for that flow and no more, and says that
    the power falls short.
    """
    if scenario.engine is None:
        raise InputError(
            "engine",
            None,
            "",
            "a scenario with an EngineSide",
            "power needs fuel, mixture and BSFC",
        )
    curve = power_course(wanted)
    top = max(p for _, p in curve)
    if pass_.stages:
        raise InputError(
            "pass",
            f"{len(pass_.stages)} stages",
            "",
            "a pass without stages",
            "one set of jets can be steered to a power: give it as feed",
        )
    steered = dataclasses.replace(
        pass_,
        delivery=tuple((t, p / top) for t, p in curve),
        target_flow=top / power_per_flow(scenario.engine),
    )
    numerics = scenario.numerics
    fine = dataclasses.replace(numerics, max_step_flow=min(_ROW, numerics.max_step_flow))
    run = simulate(scenario.replace(schedule=(*scenario.schedule, steered), numerics=fine))
    return _read(run, curve, pass_)


def power_course(wanted: Any) -> Pairs:
    """Corners (s, W) of a wanted power: one value, or pairs (time, power)."""
    if isinstance(wanted, (list, tuple)):
        found = []
        for point in wanted:
            if not isinstance(point, (list, tuple)) or len(point) != 2:
                raise InputError("power curve", point, "", "pairs (time, power)", "")
            t = parse(point[0], "time", name="power curve: time", low=0.0)
            p = parse(point[1], "engine_power", name="power curve: power", low=0.0, high=3e6)
            found.append((t, p))
        times = [t for t, _ in found]
        if not found or any(b <= a for a, b in zip(times, times[1:])):
            raise InputError("power curve: time", times, "s", "rising times", "")
        if max(p for _, p in found) <= 0.0:
            raise InputError("power curve", 0.0, "W", "some power above 0", "")
        return tuple(found)
    p = parse(wanted, "engine_power", name="wanted power", low=0.0, low_open=True, high=3e6)
    return ((0.0, p),)


def _read(run: Run, curve: Pairs, pass_: Pass) -> PowerDelivery:
    index = len(run.scenario.schedule) - 1
    rows = run["segment"] == index
    trace = run.engine
    assert trace is not None
    time = run.time[rows] - run.time[rows][0]
    opening, power = trace["opening"][rows], trace["power_W"][rows]
    corners = np.array(curve)
    wanted = np.interp(time - pass_.delay, corners[:, 0], corners[:, 1])
    wanted = np.where(time < pass_.delay, 0.0, wanted)
    inhibited = run["flow_inhibited"][rows].astype(bool)
    wanted = np.where((opening <= 0.0) & ~inhibited, power, wanted)  # a delay, the end
    short = power < wanted * (1.0 - _HELD)
    held = float(time[short.argmax()]) if short.any() else None
    missing = float(np.max(wanted - power, initial=0.0)) if short.any() else 0.0
    limit = _limit(run, np.flatnonzero(rows)[short.argmax()], opening[short.argmax()])
    corners_of = course(written_course(time, opening), "delivery")
    plain = dataclasses.replace(pass_, delay=0.0, target_flow=None, delivery=corners_of)
    return PowerDelivery(
        time,
        opening,
        trace["n2o_flow_kg_s"][rows],
        power,
        wanted,
        held,
        missing,
        plain,
        run,
        limit if short.any() else "",
    )


def _limit(run: Run, row: int, opening: float) -> str:
    """What keeps the power below the curve at a row."""
    if run["flow_inhibited"][row]:
        return "held shut by the arming window"
    if opening >= _OPEN:
        return "fully open"
    if run.engine is not None and run.engine["equivalence_shot"][row] < 1.0:
        return "lean: the fuel jets pass too little fuel for the power"
    return "short of it"


def written_course(
    time: np.ndarray, opening: np.ndarray, tolerance: float = _COARSE
) -> list[tuple[float, float]]:
    """Fewest of the corners (greedy) that stay within ``tolerance`` of an opening over time."""
    keep = [0]
    last = len(time) - 1
    while keep[-1] < last:
        a = keep[-1]
        b = a + 1
        for c in range(last, a, -1):
            if time[c] <= time[a]:
                continue
            between = np.interp(time[a : c + 1], time[[a, c]], opening[[a, c]])
            if np.abs(between - opening[a : c + 1]).max() <= tolerance:
                b = c
                break
        keep.append(b)
    return [(float(time[k]), min(1.0, float(opening[k]))) for k in keep]


__all__ = ["PowerDelivery", "hold_power", "over_distance", "power_course", "written_course"]
