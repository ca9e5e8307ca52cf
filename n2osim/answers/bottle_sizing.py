"""Sizing the bottle: the smallest that gives so many passes from one fill."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from n2osim.answers.search import Margin, edge
from n2osim.errors import InputError, IntegrationError, NoSolutionError
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.shells import OUTSIDE_DIAMETERS
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Hold, Pass, Rest
from n2osim.studies.members import numbers_of
from n2osim.units import LB, format_quantity, parse

SMALLEST, LARGEST = 1.0 * LB, 60.0 * LB
"""Capacities looked through, kg: the range of ``Bottle.from_capacity``."""


@dataclass(frozen=True)
class BottleSize:
    """Smallest bottle for a number of passes.

    capacity, charge: kg. bottle: of that capacity. charge_left: after the last pass, kg. sags (Pa),
    end_pressures (Pa gauge): pass by pass. trade_size: smallest preset that is no smaller (kg,
    None: none is). scenario: what was run.
    """

    capacity: float
    charge: float
    bottle: Bottle
    charge_left: float
    sags: tuple[float, ...]
    end_pressures: tuple[float, ...]
    trade_size: float | None
    scenario: Scenario

    def __str__(self) -> str:
        trade = "none" if self.trade_size is None else f"{self.trade_size / LB:.3g} lb"
        return (
            f"{format_quantity(self.capacity, 'mass')} of capacity for {len(self.sags)} passes, "
            f"{format_quantity(self.charge_left, 'mass')} left; smallest preset: {trade}"
        )


def size_bottle(
    scenario: Scenario,
    passes: int,
    *,
    shell: str = "aluminium",
    fill: Any = 1.0,
    run: Pass | None = None,
    between: Any = "1 h",
    lowest_pressure: Any = None,
) -> BottleSize:
    """Smallest bottle of a preset ``shell`` that gives ``passes`` full passes from one fill.

    A pass is full when liquid lasts to its end and the pressure stays at or above
    ``lowest_pressure`` (Pa gauge; None: any). Before each pass the bottle is heated until its
    switch opens, for ``between`` (s) at most (without heater and switch: it rests so long).

    Parameters
    ----------
    scenario : one bottle with its feed (or ``run`` with an outflow); start, heater, switch and
        surroundings are kept, bottle and charge replaced, its schedule gives the pass.
    fill : share of the capacity filled in, 1.0 or "90 %". run : the pass, default the scenario's.

    Raises NoSolutionError when even a 60 lb bottle does not do (``nearest``: what it does).
    """
    if isinstance(passes, bool) or not isinstance(passes, int) or not 1 <= passes <= 100:
        raise InputError("passes", passes, "", "a whole number, 1 to 100", "")
    if len(scenario.bottles) != 1:
        raise InputError("scenario", scenario.title, "", "one bottle", "size one at a time")
    item = run or next((x for x in scenario.schedule if isinstance(x, Pass)), None)
    if item is None:
        raise InputError("pass", None, "", "a Pass in the schedule, or run=Pass(...)", "")
    share = parse(fill, "fraction", name="fill", low=0.05, high=1.2)
    floor = (
        None
        if lowest_pressure is None
        else parse(lowest_pressure, "gauge_pressure", name="lowest pressure", low=0.0)
    )
    case = _Case(
        scenario,
        passes,
        shell,
        share,
        item,
        parse(between, "time", name="time between passes", low=1.0),
        floor,
    )
    margin = Margin(case.margin, log=True)
    if margin(SMALLEST) >= 0.0:
        return case.size(SMALLEST)
    if margin(LARGEST) < 0.0:
        raise NoSolutionError(
            f"no solution because even a {format_quantity(LARGEST, 'mass')} bottle does not give "
            f"{passes} such passes: {case.why_not(LARGEST)}"
        )
    return case.size(edge(margin, LARGEST, SMALLEST, 1e-3))


@dataclass(frozen=True)
class _Case:
    """Everything but the capacity."""

    base: Scenario
    passes: int
    shell: str
    share: float
    item: Pass
    between: float
    floor: float | None

    def scenario(self, capacity: float) -> Scenario:
        old = self.base.bottles[0]
        heated = old.heater is not None and old.switch is not None
        wait: Hold | Rest = Hold(self.between, until_open=True) if heated else Rest(self.between)
        bottle = Bottle.from_capacity(capacity, self.shell)
        fitted = replace(old, bottle=bottle, fill=self.share * capacity)
        return self.base.replace(bottles=(fitted,), schedule=[wait, self.item] * self.passes)

    def rows(self, capacity: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(time of liquid-out, minimum pressure, sag) pass by pass."""
        n = numbers_of(self.scenario(capacity))
        names = ("liquid_out_time_s", "minimum_pressure_gauge_Pa", "pressure_sag_Pa")
        found = [[n[f"pass{k}.{name}"] for k in range(self.passes)] for name in names]
        return tuple(map(np.array, found))  # type: ignore[return-value]

    def margin(self, capacity: float) -> float:
        """Smallest margin of the passes: time without liquid, pressure above the floor."""
        out, low, _ = self.rows(capacity)
        dry = np.where(np.isnan(out), 0.0, out / self.item.duration - 1.0).min()
        if dry < 0.0 or self.floor is None:
            return float(dry)
        return float((low.min() - self.floor) / 1e6)

    def why_not(self, capacity: float) -> str:
        """What goes wrong at a capacity, in words."""
        try:
            out, low, _ = self.rows(capacity)
        except IntegrationError as problem:
            return problem.message
        if np.isfinite(out).any():
            k = int(np.isfinite(out).argmax())
            return f"liquid runs out in pass {k + 1} after {format_quantity(out[k], 'time')}"
        k = int(low.argmin())
        return f"pressure falls to {format_quantity(low[k], 'gauge_pressure')} in pass {k + 1}"

    def size(self, capacity: float) -> BottleSize:
        scenario = self.scenario(capacity)
        n = numbers_of(scenario)
        trade = [s * LB for s in OUTSIDE_DIAMETERS if s * LB >= capacity * (1.0 - 1e-9)]
        every = range(self.passes)
        return BottleSize(
            capacity,
            scenario.fill,
            scenario.bottles[0].bottle,
            n["run.end_mass_kg"],
            tuple(n[f"pass{k}.pressure_sag_Pa"] for k in every),
            tuple(n[f"pass{k}.end_pressure_gauge_Pa"] for k in every),
            min(trade, default=None),
            scenario,
        )


__all__ = ["LARGEST", "SMALLEST", "BottleSize", "size_bottle"]
