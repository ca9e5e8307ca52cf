"""Corrective actions: what may be changed of a scenario against a finding, by how much, in words.

An :class:`Action` proposes changes of fields (:func:`~n2osim.scenario.fields.with_fields`) in
rising amounts. Whether one helps is not said here: :mod:`n2osim.answers.remedies` runs each.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY
from n2osim.hardware.heater import CutOut
from n2osim.hardware.switch import PressureSwitch
from n2osim.numbers import both
from n2osim.results.findings import Finding
from n2osim.results.holds import leader_of, switch_of
from n2osim.scenario.scenario import FittedBottle, Scenario
from n2osim.units import PSI

Changes = dict[str, Any]
Proposal = tuple[str, Changes]
"""What to do, in words with both systems of units, and the fields to change."""


@dataclass(frozen=True)
class Action:
    """A corrective action.

    codes: findings it may help against. propose: gives (words, changes) in rising amounts for a
    scenario and a finding; nothing where it does not fit. causes: only for findings with one of
    these causes (empty: any). mends: whether it takes a fault away, which no job may keep from
    being said: what the fault did for the job is said with it.
    """

    codes: tuple[str, ...]
    propose: Callable[[Scenario, Finding], Iterator[Proposal]]
    causes: tuple[str, ...] = ()
    mends: bool = False

    def fits(self, finding: Finding) -> bool:
        """Whether it is worth trying against a finding."""
        return finding.code in self.codes and (not self.causes or finding.cause in self.causes)


def _bottles(scenario: Scenario, f: Finding) -> list[tuple[str, FittedBottle]]:
    """(dotted prefix, bottle) of the bottle that a finding is about, or of all."""
    return [(f"bottles.{b.name}.", b) for b in scenario.bottles if f.bottle in ("", b.name)]


def _leaders(scenario: Scenario, f: Finding) -> list[tuple[str, PressureSwitch]]:
    """(dotted prefix, switch) of the switches that rule those bottles."""
    found: dict[str, PressureSwitch] = {}
    for _, b in _bottles(scenario, f):
        leader = leader_of(scenario, b.name)
        if leader.switch is not None:
            found[f"bottles.{leader.name}."] = leader.switch
    return list(found.items())


def _each(words: str, changes: Changes) -> Iterator[Proposal]:
    if changes:
        yield words, changes


# --- switch --------------------------------------------------------------------------------------
_STEPS = (10.0, 20.0, 40.0, 80.0, 160.0)  # psi
_NARROWEST = 5.0 * PSI


def _open_earlier(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    for step in _STEPS:
        changes: Changes = {}
        opens = 0.0
        for path, s in _leaders(scenario, f):
            opens = s.opens - step * PSI
            if opens - s.closes >= _NARROWEST:
                changes[f"{path}switch.opens"] = opens
        yield from _each(f"open the switch at {both(opens, 'gauge_pressure')}", changes)


def _lower_band(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    for step in _STEPS:
        changes: Changes = {}
        words = ""
        for path, s in _leaders(scenario, f):
            low, high = s.closes - step * PSI, s.opens - step * PSI
            if low > 0.0:
                changes |= {f"{path}switch.closes": low, f"{path}switch.opens": high}
                words = f"{both(low, 'gauge_pressure')} to {both(high, 'gauge_pressure')}"
        yield from _each(f"lower the band to {words}", changes)


def _below_bound(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    """A band that opened only above what the bottle or its relief device may see."""
    for step in (50.0, 100.0, 200.0, 400.0):
        changes: Changes = {}
        words = ""
        for path, s in _leaders(scenario, f):
            high = (f.limit or 0.0) - step * PSI
            low = high - (s.opens - s.closes)
            if low > 0.0 and s.opens >= (f.limit or 0.0):
                changes |= {f"{path}switch.closes": low, f"{path}switch.opens": high}
                words = f"{both(low, 'gauge_pressure')} to {both(high, 'gauge_pressure')}"
        yield from _each(f"lower the band to {words}", changes)


def _wider_band(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    for step in _STEPS:
        changes: Changes = {}
        low = 0.0
        for path, s in _leaders(scenario, f):
            low = s.closes - step * PSI
            if low > 0.0:
                changes[f"{path}switch.closes"] = low
        words = f"close the switch at {both(low, 'gauge_pressure')}: a wider band"
        yield from _each(words, changes)


def _mend_switch(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    faulty = [path for path, s in _leaders(scenario, f) if s.fault is not None]
    yield from _each(
        "replace the relay and switch that failed", {f"{p}switch.fault": None for p in faulty}
    )


def _sense_bottle(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    line = [path for path, s in _leaders(scenario, f) if s.sensor == "line"]
    yield from _each(
        "move the sensor to the bottle side of the valve",
        {f"{p}switch.sensor": "bottle" for p in line},
    )


def _fit_switch(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    for opens in (950.0, 900.0, 850.0):
        high = opens * PSI
        new = PressureSwitch(high - 50.0 * PSI, high)
        bare = [p for p, b in _bottles(scenario, f) if b.heater and not (b.switch or b.follows)]
        words = f"fit a pressure switch that opens at {both(high, 'gauge_pressure')}"
        yield from _each(words, {f"{p}switch": new for p in bare})


def _own_switch(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    changes: Changes = {}
    for path, b in _bottles(scenario, f):
        if b.follows is not None:
            changes |= {f"{path}follows": None, f"{path}switch": switch_of(scenario, b.name)}
    yield from _each("give the bottle a switch of its own, set like the other", changes)


# --- heater --------------------------------------------------------------------------------------
def _power(factors: tuple[float, ...]) -> Callable[[Scenario, Finding], Iterator[Proposal]]:
    def propose(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
        for factor in factors:
            changes: Changes = {}
            shown = 0.0
            for path, b in _bottles(scenario, f):
                if b.heater is None:
                    continue
                if b.heater.power:
                    changes[f"{path}heater.power"] = shown = factor * b.heater.power
                elif b.heater.resistance:
                    changes[f"{path}heater.resistance"] = b.heater.resistance / factor
                    shown = factor * b.heater.power_at(scenario.supply.voltage)
            more = "more" if factor > 1.0 else "less"
            yield from _each(f"{more} heater power: {shown:.0f} W", changes)

    return propose


def _coverage(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    for share in (0.6, 0.75, 0.9):
        low = [p for p, b in _bottles(scenario, f) if b.heater and b.heater.coverage < share]
        words = f"cover {100 * share:.0f} % of the shell with the heater"
        yield from _each(words, {f"{p}heater.coverage": share for p in low})


def _cut_out(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    for opens in (360.0, 352.0, 340.0, 325.0):
        bare = [p for p, b in _bottles(scenario, f) if b.heater and b.heater.cut_out is None]
        words = f"a surface cut-out that opens at {both(opens, 'temperature')}"
        yield from _each(words, {f"{p}heater.cut_out": CutOut(opens, opens - 6.0) for p in bare})


def _lower_cut_out(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    opens = (f.limit or 0.0) - 5.0
    changes: Changes = {
        f"{p}heater.cut_out": dataclasses.replace(b.heater.cut_out, opens=opens, closes=opens - 6.0)
        for p, b in _bottles(scenario, f)
        if b.heater and b.heater.cut_out and b.heater.cut_out.opens > opens
    }
    yield from _each(f"a surface cut-out that opens at {both(opens, 'temperature')}", changes)


def _blanket_lower(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    top = [p for p, b in _bottles(scenario, f) if b.heater and b.heater.blanket == "top"]
    yield from _each(
        "put the blanket on the lower half", {f"{p}heater.blanket": "lower" for p in top}
    )


# --- surroundings --------------------------------------------------------------------------------
def _shade(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    if scenario.ambient.sun:
        yield "keep the sun off the bottle", {"ambient.sun": 0.0}


def _open_boot(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    if scenario.ambient.enclosure is not None:
        yield "open the boot: outside air at the bottle", {"ambient.enclosure": None}


def _shelter(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    if scenario.ambient.air_speed:
        yield "shelter the bottle from the wind", {"ambient.air_speed": 0.0}


def _jacket(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    for thick in (0.006, 0.012, 0.025):
        jackets = {f"{p}bottle": b.bottle.with_jacket(thick) for p, b in _bottles(scenario, f)}
        yield from _each(f"a foam jacket of {both(thick, 'length')}", jackets)


# --- charge --------------------------------------------------------------------------------------
def _less_charge(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    for share in (1.0, 0.95, 0.9, 0.8, 0.7):
        changes: Changes = {}
        fill = 0.0
        for path, b in _bottles(scenario, f):
            full = FULL_FILLING_DENSITY * b.bottle.volume
            wanted = share * min(b.fill, full)
            if wanted < b.fill:
                changes[f"{path}fill"] = fill = wanted
        yield from _each(f"start with a charge of {both(fill, 'mass')}", changes)


def _more_charge(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    for share in (0.4, 0.6, 0.8, 1.0):
        changes: Changes = {}
        fill = 0.0
        for path, b in _bottles(scenario, f):
            if share * b.bottle.capacity > b.fill:
                changes[f"{path}fill"] = fill = share * b.bottle.capacity
        words = f"have it refilled by a licensed filler: start with {both(fill, 'mass')}"
        yield from _each(words, changes)


def _refills(scenario: Scenario, f: Finding) -> list[tuple[str, Any]]:
    items: Any = scenario.schedule
    return [
        (f"schedule.{k}.", item)
        for k, item in enumerate(items)
        if item.reports == "filled" and (not f.bottle or item.bottle in (None, f.bottle))
    ]


def _refill_less(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    for share in (1.0, 0.95, 0.9, 0.8, 0.7):
        changes: Changes = {}
        to = 0.0
        for path, item in _refills(scenario, f):
            rated = min(b.bottle.capacity for _, b in _bottles(scenario, f))
            wanted = rated if item.to is None else item.to
            least = share * min(wanted, rated)
            if least < wanted:
                changes[f"{path}to"] = to = least
        yield from _each(f"refill to {both(to, 'mass')} only", changes)


def _refill_cooler(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    for step in (5.0, 10.0, 20.0):
        changes: Changes = {}
        cool = 0.0
        for path, item in _refills(scenario, f):
            cool = item.supply_temperature - step
            if cool > 273.15:
                changes[f"{path}supply_temperature"] = cool
        words = f"keep the supply cylinder cool: {both(cool, 'temperature')}"
        yield from _each(words, changes)


def _refill_pumped(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    slow = [path for path, item in _refills(scenario, f) if not item.pumped]
    words = "have it filled with a pump, by a licensed filler and by weight"
    yield from _each(words, {f"{p}pumped": True for p in slow})


def _refill_slower(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    once = [path for path, item in _refills(scenario, f) if item.duration == 0.0]
    yield from _each("give the refill 3 min", {f"{p}duration": 180.0 for p in once})


def _equal_bottles(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    first = scenario.bottles[0]
    start = {f"bottles.{b.name}.start": first.start for b in scenario.bottles[1:]}
    yield "bring all bottles to one temperature before the valves open", start
    fill = {
        f"bottles.{b.name}.fill": min(first.fill, b.bottle.capacity) for b in scenario.bottles[1:]
    }
    yield "the same charge and temperature in all bottles", start | fill


# --- schedule ------------------------------------------------------------------------------------
def _hold_length(factors: tuple[float, ...]) -> Callable[[Scenario, Finding], Iterator[Proposal]]:
    def propose(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
        holds = [k for k, item in enumerate(scenario.schedule) if item.heats]
        for factor in factors if holds else ():
            lengths = {k: factor * scenario.schedule[k].duration for k in holds}
            told = both(max(lengths.values()), "time").split(" (")[0]
            kind = "longer" if factor > 1.0 else "shorter"
            words = f"hold {kind}: {told}" + (" at most" if len(holds) > 1 else "")
            yield words, {f"schedule.{k}.duration": value for k, value in lengths.items()}

    return propose


def _whole_delivery(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    changes: Changes = {}
    for k, item in enumerate(scenario.schedule):
        last = max((course[-1][0] for course in item.deliveries), default=0.0)
        if last > item.duration:
            changes[f"schedule.{k}.duration"] = last
    yield from _each("let the pass last until its delivery has ended", changes)


def _full_delivery(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    changes: Changes = {}
    for k, item in enumerate(scenario.schedule):
        if any(max(share for _, share in course) <= 0.0 for course in item.deliveries):
            changes[f"schedule.{k}.delivery"] = None
    yield from _each("take the delivery out: full flow", changes)


# --- pick-up, feed, engine -----------------------------------------------------------------------
def _pickup(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    changes: Changes = {}
    for path, b in _bottles(scenario, f):
        new = dataclasses.replace(b.mounting, pickup_along=0.95, pickup_height=None, pickup=None)
        if new != b.mounting:
            changes[f"{path}mounting"] = new
    yield from _each("put the mouth of the pick-up low and to the rear", changes)


def _draw_liquid(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    gas = [p for p, b in _bottles(scenario, f) if b.mounting.draw == "vapour"]
    yield from _each(
        "a pick-up tube that draws liquid", {f"{p}mounting.draw": "liquid" for p in gas}
    )


def _larger_part(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    feeds = dict(scenario.feeds)
    name = f.key if f.key in feeds else next(iter(feeds))
    for factor in (1.25, 1.6, 2.5):
        changes: Changes = {}
        for part in ("valve", "bottle_valve", "line", "pickup"):
            one = getattr(feeds[name], part)
            if one is not None and getattr(one, "bore", None):
                changes[f"feeds.{name}.{part}.bore"] = factor * one.bore
        words = f"valves and lines with a bore {factor:g} times as large"
        yield from _each(words, changes)


def _fuel_jets(factors: tuple[float, ...]) -> Callable[[Scenario, Finding], Iterator[Proposal]]:
    def propose(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
        engine = scenario.engine
        if engine is None or engine.fuel_jets is None:
            return
        for factor in factors:
            bore = factor * engine.fuel_jets.bore
            kind = "larger" if factor > 1.0 else "smaller"
            yield f"{kind} fuel jets: {both(bore, 'length')}", {"engine.fuel_jets.bore": bore}

    return propose


def _fuel_pressure(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    engine = scenario.engine
    if engine is None or engine.fuel_pressure is None:
        return
    if engine.intake_pressure > 0.0 and not engine.regulator_referenced:
        yield "a fuel regulator referenced to boost", {"engine.regulator_referenced": True}
    for more in (3.0, 6.0, 12.0, 25.0, 45.0):
        new = max(engine.fuel_pressure, engine.intake_pressure) + more * PSI
        yield f"fuel pressure {both(new, 'gauge_pressure')}", {"engine.fuel_pressure": new}


def _n2o_jets(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    feed = scenario.feed
    for factor in (0.98, 0.95, 0.9) if feed is not None else ():
        bore = factor * feed.jets.bore  # type: ignore[union-attr]
        yield f"smaller N2O jets: {both(bore, 'length')}", {"feed.jets.bore": bore}


_HIGH = (
    "relief-opened",
    "relief-margin",
    "over-test-pressure",
    "over-service-pressure",
    "over-125-degF",
    "liquid-full",
    "launch-above-band",
    "lean",
)
_HOT = ("layer-too-hot", "hot-spot-over-125-degF", "cut-out-cycling", "heater-too-hot")
_COLD = ("band-not-reached", "launch-below-band", "follower-below-band")
_LIGHT = (
    "switch-never-opens",
    "no-liquid-at-launch",
    "liquid-out",
    "no-liquid-in-band",
    "nearly-empty",
    "over-125-degF",
    "no-n2o",
)
_MORE = (1.25, 1.6, 2.0, 3.0)
_LONGER = (1.25, 1.5, 2.0, 3.0)
_LEAN_BY_FUEL = ("fuel",)
"""Jets set for a bottle that stands too high (sun, refill, relay) would be wrong for the next pass
in the band: against that the cause is mended, not the fuel."""
_RICHER = (1.01, 1.02, 1.04, 1.07, 1.12, 1.2, 1.3, 1.45)
_REACH = ("stranded", "no-liquid-at-launch")

ACTIONS: tuple[Action, ...] = (
    Action(
        ("relay-welded", "switch-stuck-open", *_HIGH, *_HOT, *_COLD, "overshoot"),
        _mend_switch,
        mends=True,
    ),
    Action(("sensor-in-line", *_HIGH, *_HOT, "overshoot"), _sense_bottle, mends=True),
    Action(("no-pressure-switch", *_HIGH, *_HOT), _fit_switch),
    Action(("follower-above-band", "follower-below-band"), _own_switch),
    Action(("overfilled", "liquid-full", *_HIGH, "relief-in-hot-car"), _refill_less),
    Action(("liquid-full", *_HIGH), _refill_cooler, ("refill",)),
    Action(("refill-short",), _refill_pumped),
    Action(("refill-spike",), _refill_slower),
    Action((*_HIGH, "overshoot", "hot-spot-over-125-degF"), _shade, ("sun", "air", "start")),
    Action((*_HIGH, "layer-too-hot", "overshoot", "weather-above-band"), _open_boot),
    Action((*_HIGH, "overshoot", "follower-above-band"), _open_earlier),
    Action(
        ("band-above-relief", "relief-opened", "relief-margin", "over-service-pressure"),
        _below_bound,
        mends=True,
    ),
    Action(
        (*_HIGH, "band-crosses-liquid-full", "switch-never-opens", "flow-inhibited"), _lower_band
    ),
    Action(("relay-rating", "scatter-wider-than-band"), _wider_band),
    Action(
        (*_HOT, *_HIGH, "overshoot", "relay-rating", "over-fuse"), _power((0.8, 0.6, 0.45, 0.3))
    ),
    Action(_HOT, _coverage, ("heater", "stored heat", "relay", "sensor", "cut-out")),
    Action(("power-below-loss",), _coverage, ("cut-out",)),
    Action((*_HOT, "over-125-degF", "no-cut-out"), _cut_out),
    Action(("cut-out-too-high",), _lower_cut_out),
    Action(("heat-on-dry-wall",), _blanket_lower),
    Action((*_HIGH, *_HOT), _hold_length((0.75, 0.5, 0.25)), ("heater", "relay", "sensor")),
    Action((*_COLD, "power-below-loss"), _shelter),
    Action((*_COLD, "flow-inhibited"), _hold_length(_LONGER)),
    Action((*_COLD, "power-below-loss", "flow-inhibited"), _power(_MORE)),
    Action(("lean",), _shelter, ("cold bottle",)),
    Action(("lean",), _hold_length(_LONGER), ("cold bottle",)),
    Action(("lean",), _power(_MORE), ("cold bottle",)),
    Action(("power-below-loss",), _jacket),
    Action((*_HIGH, "overfilled", "relief-in-hot-car", "band-crosses-liquid-full"), _less_charge),
    Action(_LIGHT, _more_charge),
    Action(("rich",), _more_charge, ("charge",)),
    Action(("rich",), _draw_liquid, ("pick-up",)),
    Action(_REACH, _pickup, ("pick-up",)),
    Action(("bottles-unequal",), _equal_bottles),
    Action(("delivery-cut",), _whole_delivery),
    Action(("delivery-never-opens",), _full_delivery),
    Action(("flow-restricted",), _larger_part),
    Action(("lean",), _fuel_jets(_RICHER), _LEAN_BY_FUEL),
    Action(("engine-lean", "may-be-lean"), _fuel_jets(_RICHER)),
    Action(("rich",), _fuel_jets((0.99, 0.97, 0.94, 0.9, 0.85)), ("fuel",)),
    Action(("lean",), _fuel_pressure, _LEAN_BY_FUEL),
    Action(("engine-lean", "no-fuel"), _fuel_pressure),
    Action(("lean",), _n2o_jets, _LEAN_BY_FUEL),
    Action(("charge-not-evaporated",), _n2o_jets),
)
"""Every action, those that mend a cause before those that work around it."""
