"""Sizing the heater: least power for a warm-up time, largest power that limits allow.

Every answer comes from runs of the same engine as ``simulate``; the search is in
:mod:`n2osim.answers.search`. Where nothing fits, NoSolutionError says why and carries the nearest
thing that can be had.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from n2osim.answers.heater_limits import HeaterSize, Limit, Limits
from n2osim.answers.search import BAD, Margin, edge
from n2osim.errors import InputError, IntegrationError, NoSolutionError
from n2osim.hardware.ambient import Ambient
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.heater import Heater, Supply
from n2osim.hardware.switch import PressureSwitch
from n2osim.physics.charge import temperature_for_pressure
from n2osim.scenario.scenario import Model, Mounting, Scenario
from n2osim.scenario.schedule import Hold
from n2osim.studies.members import numbers_of
from n2osim.units import format_quantity, parse

LEAST_POWER = 1.0
LARGEST_POWER = 5000.0
"""W: where the search for a power ends unless said otherwise."""
_LONGEST = 12 * 3600.0
_SOAK = 2700.0  # s after the switch first opens in which the first overshoot is over


# --- cases ---------------------------------------------------------------------------------------
@dataclass(frozen=True)
class _Case:
    """A bottle to be heated; everything but the power."""

    base: Scenario
    template: Heater
    within: float
    hold: float
    limits: Limits

    def scenario(self, power: float, *schedule: Hold) -> Scenario:
        heater = replace(self.template, power=power, resistance=None, voltage=None)
        return self.base.replace(heater=heater, schedule=schedule)

    @property
    def opens(self) -> float:
        switch = self.base.switch
        assert switch is not None
        return switch.opens

    def in_time(self, power: float) -> float:
        """Margin of the warm-up time; below 0 by the missing pressure where it never opens."""
        n = numbers_of(self.scenario(power, Hold(self.within, until_open=True)))
        if math.isnan(n["hold0.warm_up_time_s"]):
            return (n["hold0.end_pressure_gauge_Pa"] - self.opens) / 1e7
        return (self.within - n["hold0.warm_up_time_s"]) / self.within

    def reached(self, power: float) -> tuple[Limit, ...]:
        """Limits and what a power makes of them, whenever it gets to the band."""
        n = numbers_of(self.scenario(power, Hold(_LONGEST, until_open=True), Hold(_SOAK)))
        opened = not math.isnan(n["hold0.warm_up_time_s"])
        peak = n["run.peak_pressure_gauge_Pa"] if opened else -math.inf
        return self.against(
            power, peak - self.opens, n["run.hottest_wall_K"], n["run.hottest_heater_K"]
        )

    def against(
        self, power: float, overshoot: float, wall: float, heater: float
    ) -> tuple[Limit, ...]:
        found = []
        wall_limit = self.limits.wall_of(self.base.bottles[0].bottle)
        for name, value, limit, kind in (
            ("overshoot", overshoot, self.limits.overshoot, "pressure_difference"),
            ("wall temperature", wall, wall_limit, "temperature"),
            ("heater temperature", heater, self.limits.heater, "temperature"),
            ("current", supply_current(self.base.supply, power), self.limits.current, "current"),
        ):
            if limit is not None:
                found.append(Limit(name, value, float(limit), kind))
        return tuple(found)

    def within_limits(self, power: float) -> float:
        """Smallest margin over all limits; BAD where the supply cannot give the power."""
        if math.isnan(supply_current(self.base.supply, power)):
            return BAD
        return min([1e3, *(limit.share for limit in self.reached(power))])


def supply_current(supply: Supply, power: float) -> float:
    """Current (A) of a resistive element that takes ``power`` (W) behind the supply's resistance.

    NaN when the supply cannot give that power (the most is V^2 / 4r).
    """
    v, r = supply.voltage, supply.resistance
    if 4.0 * r * power > v * v:
        return math.nan
    return 2.0 * power / (v + math.sqrt(v * v - 4.0 * r * power))


# --- least power ---------------------------------------------------------------------------------
def size_heater(
    bottle: Bottle,
    charge: Any,
    start: Any,
    target: Any,
    within: Any,
    ambient: Ambient | Any = None,
    *,
    band: Any = "100 psi",
    supply: Supply | Any = None,
    heater: Heater | None = None,
    limits: Limits | None = None,
    hold: Any = "2 h",
    mounting: Mounting | None = None,
    model: Model | None = None,
    largest: Any = LARGEST_POWER,
) -> HeaterSize:
    """Least heater power that brings a bottle to ``target`` within a time.

    Raises NoSolutionError when the band cannot be reached in time, or only by breaking a limit;
    ``nearest`` is then the :class:`HeaterSize` of the largest power that is allowed.

    Parameters
    ----------
    charge (kg), start (K): what the bottle holds and how warm it begins. target: gauge pressure
        (Pa) at which the switch opens; it closes ``band`` (Pa) lower. within: s.
    ambient : :class:`Ambient`, or a constant air temperature (K). supply : :class:`Supply` or a
        voltage (V), default 14.4 V.
    heater : carries coverage, contact, insulation and cut-out; its power is what is looked for.
    limits : :class:`Limits`; the default keeps the wall under the shell's own limit.
    hold : time (s) in the band after the warm-up, for duty and energy.
    largest : largest power (W) considered.
    """
    opens = parse(target, "gauge_pressure", name="target pressure", low=1e5)
    width = parse(band, "pressure_difference", name="band", low=1e3, high=opens)
    template = heater if heater is not None else Heater(100.0)
    case = _Case(
        Scenario(
            bottle,
            fill=charge,
            start=start,
            ambient=_ambient(ambient),
            heater=template,
            switch=PressureSwitch(opens - width, opens),
            supply=_supply(supply),
            model=model,
            mounting=Mounting() if mounting is None else mounting,
        ),
        template,
        parse(within, "time", name="warm-up time", low=1.0, high=_LONGEST),
        parse(hold, "time", name="hold", low=60.0, high=_LONGEST),
        limits or Limits(),
    )
    top = parse(largest, "power", name="largest power", low=LEAST_POWER)
    _check_reachable(case)
    margin = Margin(case.in_time, log=True)
    if margin(LEAST_POWER) >= 0.0:
        power = LEAST_POWER
    elif margin(top) < 0.0:
        raise _too_slow(case, top)
    else:
        power = edge(margin, top, LEAST_POWER)
    return _judged(case, power, top)


def _ambient(ambient: Any) -> Ambient:
    if ambient is None:
        return Ambient()
    return ambient if isinstance(ambient, Ambient) else Ambient(ambient)


def _supply(supply: Any) -> Supply:
    if supply is None:
        return Supply()
    return supply if isinstance(supply, Supply) else Supply(supply)


def _check_reachable(case: _Case) -> None:
    """Refuse what no heater can do, in words: too little charge, or already there."""
    fitted = case.base.bottles[0]
    pressure = case.opens + case.base.ambient.pressure
    wanted = format_quantity(case.opens, "gauge_pressure")
    try:
        needed = float(temperature_for_pressure(pressure, fitted.fill, fitted.bottle.volume))
    except NoSolutionError as problem:
        raise NoSolutionError(
            f"no solution because {format_quantity(fitted.fill, 'mass')} in this bottle never "
            f"reads {wanted}: {problem.reason}"
        ) from problem
    if needed <= fitted.start:
        raise NoSolutionError(
            f"no heater to size because the bottle already reads {wanted} or more at the start "
            f"({format_quantity(fitted.start, 'temperature')}; it reads that from "
            f"{format_quantity(needed, 'temperature')} up)"
        )
    limit = case.limits.wall_of(fitted.bottle)
    if limit is not None and needed >= limit:
        raise NoSolutionError(
            f"no solution because {format_quantity(fitted.fill, 'mass')} in this bottle reads "
            f"{wanted} only at {format_quantity(needed, 'temperature')}, above the limit of the "
            f"wall ({format_quantity(limit, 'temperature')}): the switch would never open; put "
            "more N2O in, or lower the target"
        )


def _too_slow(case: _Case, top: float) -> NoSolutionError:
    nearest = _nearest(case, top)
    return NoSolutionError(
        f"no solution because even {top:.4g} W does not bring the bottle to "
        f"{format_quantity(case.opens, 'gauge_pressure')} within "
        f"{format_quantity(case.within, 'time')}: allow more time, more coverage, a smaller step "
        "or a larger power",
        nearest,
    )


def _nearest(case: _Case, top: float) -> HeaterSize | None:
    """The size at the largest power that keeps the limits; None when there is none."""
    margin = Margin(case.within_limits, log=True)
    if margin(LEAST_POWER) < 0.0:
        return None
    power = top if margin(top) >= 0.0 else edge(margin, LEAST_POWER, top)
    try:
        return _size(case, power, "the limits")
    except (NoSolutionError, IntegrationError):
        return None


def _judged(case: _Case, power: float, top: float) -> HeaterSize:
    """The size at ``power``, if it keeps the limits; and how much more would be allowed."""
    if math.isnan(supply_current(case.base.supply, power)):
        v, r = case.base.supply.voltage, case.base.supply.resistance
        raise NoSolutionError(
            f"no solution because {power:.4g} W are needed and a supply of {v:.4g} V behind "
            f"{r:.3g} ohm gives {v * v / 4.0 / r:.4g} W at most",
            _nearest(case, top),
        )
    try:
        size = _size(case, power, "warm-up time")
    except IntegrationError as problem:
        raise NoSolutionError(
            f"no solution because the {power:.4g} W needed within "
            f"{format_quantity(case.within, 'time')} run away: {problem.message} at "
            f"{format_quantity(problem.time, 'time')}",
            _nearest(case, top),
        ) from problem
    broken = [limit for limit in size.limits if limit.broken]
    if broken:
        raise NoSolutionError(
            f"no solution because the {power:.4g} W needed to be at "
            f"{format_quantity(case.opens, 'gauge_pressure')} within "
            f"{format_quantity(case.within, 'time')} break a limit: " + "; ".join(map(str, broken)),
            _nearest(case, top),
        )
    margin = Margin(case.within_limits, log=True)
    if not size.limits or margin(top) >= 0.0 or margin(power) < 0.0:
        return size
    most = edge(margin, power, top)
    return replace(size, largest_power=most, next_limit=_tightest(case, most))


def _tightest(case: _Case, power: float) -> str:
    """Name of the limit with the least margin just above a power."""
    try:
        return min(case.reached(power), key=lambda limit: limit.share).name
    except IntegrationError:
        return "range of the model"


def _size(case: _Case, power: float, binding: str) -> HeaterSize:
    """Figures of a power; the hold begins when the switch first opens."""
    warm = numbers_of(case.scenario(power, Hold(_LONGEST, until_open=True)))
    time = warm["hold0.warm_up_time_s"]
    if math.isnan(time):
        raise NoSolutionError(
            f"no solution because {power:.4g} W never bring the bottle to "
            f"{format_quantity(case.opens, 'gauge_pressure')}: losses take all of it"
        )
    scenario = case.scenario(power, Hold(time + case.hold))
    n = {k.removeprefix("hold0."): v for k, v in numbers_of(scenario).items()}
    current = supply_current(case.base.supply, power)
    energy = n["energy_J"]
    held = energy - warm["hold0.energy_J"]
    # A hold too short for a whole switching cycle: what the heater gave in it.
    duty = held / (power * case.hold) if math.isnan(n["duty"]) else n["duty"]
    bottle = case.base.bottles[0].bottle
    return HeaterSize(
        power=power,
        current=current,
        resistance=power / current**2,
        warm_up_time=n["warm_up_time_s"],
        overshoot=n["overshoot_Pa"],
        peak_pressure=n["peak_pressure_gauge_Pa"],
        duty=duty,
        mean_power=duty * power,
        warm_up_energy=warm["hold0.energy_J"],
        hold_energy=held,
        hold_time=case.hold,
        ampere_hours=energy / power * current / 3600.0,
        hottest_wall=n["hottest_wall_K"],
        hottest_inner=n["hottest_inner_K"],
        hottest_heater=n["hottest_heater_K"],
        wall_limit=case.limits.wall_of(bottle),
        binding=binding,
        limits=case.against(power, n["overshoot_Pa"], n["hottest_wall_K"], n["hottest_heater_K"]),
        scenario=scenario,
    )


# --- largest power -------------------------------------------------------------------------------
@dataclass(frozen=True)
class PowerLimit:
    """Largest allowed power (W), the limit that binds there (None: none up to the largest tried),
    and all limits with their margins at that power."""

    power: float
    binding: str | None
    limits: tuple[Limit, ...]

    def __str__(self) -> str:
        why = "no limit binds" if self.binding is None else f"{self.binding} binds"
        return "\n".join([f"{self.power:.4g} W: {why}", *(f"  {x}" for x in self.limits)])


def largest_power(
    scenario: Scenario, limits: Limits, *, largest: Any = LARGEST_POWER
) -> PowerLimit:
    """Largest power of the scenario's heater that keeps overshoot, wall and element in limits.

    The scenario (one bottle with heater and switch) is heated from its start until the switch
    first opens, and watched for 45 min after that; its own schedule does not matter. Raises
    NoSolutionError when even 1 W breaks a limit (a bottle that starts too hot, for example).
    """
    case = case_of(scenario, limits)
    top = parse(largest, "power", name="largest power", low=LEAST_POWER)
    if not case.reached(LEAST_POWER):
        raise InputError(
            "limits",
            limits,
            "",
            "at least one limit",
            "the shell has none of its own: give Limits(overshoot=...)",
        )
    margin = Margin(case.within_limits, log=True)
    if margin(LEAST_POWER) < 0.0:
        broken = [x for x in case.reached(LEAST_POWER) if x.broken]
        raise NoSolutionError(
            "no solution because the limits are broken with hardly any heat: "
            + "; ".join(map(str, broken))
        )
    if margin(top) >= 0.0:
        return PowerLimit(top, None, case.reached(top))
    power = edge(margin, LEAST_POWER, top)
    return PowerLimit(power, _tightest(case, power), case.reached(power))


def case_of(scenario: Scenario, limits: Limits) -> _Case:
    """The heated bottle of a scenario. InputError unless it is one with heater and switch."""
    if len(scenario.bottles) != 1 or scenario.heater is None or scenario.switch is None:
        raise InputError(
            "scenario",
            scenario.title,
            "",
            "one bottle with a heater and a switch",
            "size each bottle by itself",
        )
    return _Case(scenario, scenario.heater, _LONGEST, _SOAK, limits)


# --- a range of powers ---------------------------------------------------------------------------
def warm_up_table(scenario: Scenario, powers: Sequence[Any]) -> list[dict[str, float]]:
    """Time to the band for a range of powers, one row each.

    power_W, warm_up_time_s (NaN: not within 12 h), energy_J until then, overshoot_Pa (45 min
    after), hottest_wall_K, hottest_heater_K, current_A. The scenario's own schedule does not
    matter.
    """
    from n2osim.studies.ensemble import run_ensemble

    case = case_of(scenario, Limits())
    values = [parse(p, "power", name="power", low=0.1) for p in powers]
    members = [case.scenario(p, Hold(_LONGEST, until_open=True), Hold(_SOAK)) for p in values]
    r = run_ensemble(members, outputs=["hold0.warm_up_time_s", "hold0.energy_J", "run.*"])
    if not len(r) or "run.hottest_wall_K" not in r.names:
        reasons = "; ".join(f.reason for f in r.failures[:1])
        raise NoSolutionError(f"no power of the range can be carried out: {reasons}")
    opened = np.isfinite(r["hold0.warm_up_time_s"])
    over = np.where(opened, r["run.peak_pressure_gauge_Pa"] - case.opens, np.nan)
    return [
        {
            "power_W": p,
            "warm_up_time_s": float(r["hold0.warm_up_time_s"][k]),
            "energy_J": float(r["hold0.energy_J"][k]),
            "overshoot_Pa": float(over[k]),
            "hottest_wall_K": float(r["run.hottest_wall_K"][k]),
            "hottest_heater_K": float(r["run.hottest_heater_K"][k]),
            "current_A": supply_current(scenario.supply, p),
        }
        for k, p in enumerate(values)
    ]


__all__ = [
    "HeaterSize",
    "Limit",
    "Limits",
    "PowerLimit",
    "case_of",
    "largest_power",
    "size_heater",
    "supply_current",
    "warm_up_table",
]
