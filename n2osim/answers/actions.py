"""Corrective actions: what may be changed of a scenario against a finding, by how much, in words.

An :class:`Action` proposes changes of fields (:func:`~n2osim.scenario.fields.with_fields`) in
rising amounts. Whether one helps is not said here: :mod:`n2osim.answers.remedies` runs each.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY
from n2osim.hardware.heater import CutOut
from n2osim.hardware.switch import PressureSwitch
from n2osim.numbers import both
from n2osim.results.findings import Finding
from n2osim.results.holds import leader_of, switch_of
from n2osim.results.rules_bottle import CLEAR
from n2osim.scenario.fitted import FittedBottle
from n2osim.scenario.scenario import Scenario
from n2osim.units import PSI

Changes = dict[str, Any]
Proposal = tuple[str, Changes]
"""What to do, in words with both systems of units, and the fields to change."""
Propose = Callable[[Scenario, Finding], Iterator[Proposal]]


@dataclass(frozen=True)
class Action:
    """A corrective action.

    codes: findings it may help against. propose: gives (words, changes) in rising amounts for a
    scenario and a finding; nothing where it does not fit. causes: only for findings with one of
    these causes (empty: any). mends: whether it takes a fault away, which no job may keep from
    being said: what the fault did for the job is said with it.
    """

    codes: tuple[str, ...]
    propose: Propose
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
            found[f"bottles.{leader.name}.switch."] = leader.switch
    return list(found.items())


def _items(scenario: Scenario, f: Finding) -> list[tuple[str, Any]]:
    return [(f"schedule.{k}.", item) for k, item in enumerate(scenario.schedule)]


def _refills(scenario: Scenario, f: Finding) -> list[tuple[str, Any]]:
    return [
        (path, item)
        for path, item in _items(scenario, f)
        if item.reports == "filled" and (not f.bottle or item.bottle in (None, f.bottle))
    ]


def _whole(scenario: Scenario, f: Finding) -> list[tuple[str, Scenario]]:
    return [("", scenario)]


Parts = Callable[[Scenario, Finding], Sequence[tuple[str, Any]]]
Told = tuple[str, Changes]
Change = Callable[[Scenario, Finding, Any, float], Told | None]


def _stepped(words: str, steps: Sequence[float], parts: Parts) -> Callable[[Change], Propose]:
    """Rising amounts of one change. parts: (dotted prefix, part) of all that it may apply to. What
    is decorated: from a part and an amount to what is put into ``words`` and the part's new fields,
    None where it does not fit."""

    def decorated(change: Change) -> Propose:
        def propose(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
            for step in steps:
                told, changes = "", Changes()
                for path, part in parts(scenario, f):
                    found = change(scenario, f, part, step)
                    if found is not None:
                        told = found[0]
                        changes |= {f"{path}{name}": value for name, value in found[1].items()}
                if changes:
                    yield words.format(told), changes

        return propose

    return decorated


def _once(words: str, parts: Parts, when: Callable[[Any], Any], fields: Changes) -> Propose:
    """One change: the fields of every part of which ``when`` is true."""
    made = _stepped(words, (0.0,), parts)
    return made(lambda s, f, part, _: ("", fields) if when(part) else None)


# --- switch --------------------------------------------------------------------------------------
_STEPS = (10.0, 20.0, 40.0, 80.0, 160.0)  # psi
_NARROWEST = 5.0 * PSI


def _band(low: float, high: float) -> Told | None:
    """A band between two gauge pressures (Pa), where there can be one."""
    words = f"{both(low, 'gauge_pressure')} to {both(high, 'gauge_pressure')}"
    return (words, {"closes": low, "opens": high}) if low > 0.0 else None


@_stepped("open the switch at {}", _STEPS, _leaders)
def _open_earlier(scenario: Scenario, f: Finding, s: PressureSwitch, psi: float) -> Told | None:
    opens = s.opens - psi * PSI
    told = both(opens, "gauge_pressure")
    return (told, {"opens": opens}) if opens - s.closes >= _NARROWEST else None


@_stepped("lower the band to {}", _STEPS, _leaders)
def _lower_band(scenario: Scenario, f: Finding, s: PressureSwitch, psi: float) -> Told | None:
    return _band(s.closes - psi * PSI, s.opens - psi * PSI)


@_stepped("lower the band to {}", (50.0, 100.0, 200.0, 400.0), _leaders)
def _below_bound(scenario: Scenario, f: Finding, s: PressureSwitch, psi: float) -> Told | None:
    """A band that opened only above, or just below, what bottle or relief device may see."""
    limit = f.limit or 0.0
    high = limit - psi * PSI
    return _band(high - (s.opens - s.closes), high) if s.opens > limit - CLEAR else None


@_stepped("close the switch at {}: a wider band", _STEPS, _leaders)
def _wider_band(scenario: Scenario, f: Finding, s: PressureSwitch, psi: float) -> Told | None:
    low = s.closes - psi * PSI
    return (both(low, "gauge_pressure"), {"closes": low}) if low > 0.0 else None


@_stepped("fit a pressure switch that opens at {}", (950.0, 900.0, 850.0), _bottles)
def _fit_switch(scenario: Scenario, f: Finding, b: FittedBottle, psi: float) -> Told | None:
    if b.heater is None or b.switch or b.follows:
        return None
    high = psi * PSI
    return both(high, "gauge_pressure"), {"switch": PressureSwitch(high - 50.0 * PSI, high)}


@_stepped("give the bottle a switch of its own, set like the other", (0.0,), _bottles)
def _own_switch(scenario: Scenario, f: Finding, b: FittedBottle, _: float) -> Told | None:
    if b.follows is None:
        return None
    return "", {"follows": None, "switch": switch_of(scenario, b.name)}


_mend_switch = _once(
    "replace the relay and switch that failed",
    _leaders,
    lambda s: s.fault is not None,
    {"fault": None},
)
_true_switch = _once(
    "set the switch against a good gauge, so that it reads true",
    _leaders,
    lambda s: s.offset != 0.0,
    {"offset": 0.0},
)
_sense_bottle = _once(
    "move the sensor to the bottle side of the valve",
    _leaders,
    lambda s: s.sensor == "line",
    {"sensor": "bottle"},
)


# --- heater --------------------------------------------------------------------------------------
def _power(scenario: Scenario, f: Finding, b: FittedBottle, factor: float) -> Told | None:
    if b.heater is None:
        return None
    if b.heater.power:
        watts = factor * b.heater.power
        return f"{watts:.0f} W", {"heater.power": watts}
    if b.heater.resistance:
        watts = factor * b.heater.power_at(scenario.supply.voltage)
        return f"{watts:.0f} W", {"heater.resistance": b.heater.resistance / factor}
    return None


_more_power = _stepped("more heater power: {}", (1.25, 1.6, 2.0, 3.0), _bottles)(_power)
_less_power = _stepped("less heater power: {}", (0.8, 0.6, 0.45, 0.3), _bottles)(_power)


@_stepped("cover {} % of the shell with the heater", (0.6, 0.75, 0.9), _bottles)
def _coverage(scenario: Scenario, f: Finding, b: FittedBottle, share: float) -> Told | None:
    low = b.heater is not None and b.heater.coverage < share
    return (f"{100 * share:.0f}", {"heater.coverage": share}) if low else None


@_stepped("a surface cut-out that opens at {}", (360.0, 352.0, 340.0, 325.0), _bottles)
def _cut_out(scenario: Scenario, f: Finding, b: FittedBottle, opens: float) -> Told | None:
    if b.heater is None or b.heater.cut_out is not None:
        return None
    return both(opens, "temperature"), {"heater.cut_out": CutOut(opens, opens - 6.0)}


@_stepped("a surface cut-out that opens at {}", (5.0,), _bottles)
def _lower_cut_out(scenario: Scenario, f: Finding, b: FittedBottle, below: float) -> Told | None:
    opens = (f.limit or 0.0) - below
    if b.heater is None or b.heater.cut_out is None or b.heater.cut_out.opens <= opens:
        return None
    new = dataclasses.replace(b.heater.cut_out, opens=opens, closes=opens - 6.0)
    return both(opens, "temperature"), {"heater.cut_out": new}


@_stepped(
    "a surface cut-out that opens at {}, still below what the shell bears",
    (325.0, 335.0, 345.0, 355.0),
    _bottles,
)
def _higher_cut_out(scenario: Scenario, f: Finding, b: FittedBottle, opens: float) -> Told | None:
    most = b.bottle.max_wall_temperature
    if b.heater is None or b.heater.cut_out is None or b.heater.cut_out.opens >= opens:
        return None
    new = dataclasses.replace(b.heater.cut_out, opens=opens, closes=opens - 6.0)
    told = both(opens, "temperature"), {"heater.cut_out": new}
    return told if most is not None and opens < most - 5.0 else None


@_stepped("a foam jacket of {}", (0.006, 0.012, 0.025), _bottles)
def _jacket(scenario: Scenario, f: Finding, b: FittedBottle, thick: float) -> Told:
    return both(thick, "length"), {"bottle": b.bottle.with_jacket(thick)}


_blanket_lower = _once(
    "put the blanket on the lower half",
    _bottles,
    lambda b: b.heater and b.heater.blanket == "top",
    {"heater.blanket": "lower"},
)
_shade = _once("keep the sun off the bottle", _whole, lambda s: s.ambient.sun, {"ambient.sun": 0.0})
_open_boot = _once(
    "open the boot: outside air at the bottle",
    _whole,
    lambda s: s.ambient.enclosure is not None,
    {"ambient.enclosure": None},
)
_shelter = _once(
    "shelter the bottle from the wind",
    _whole,
    lambda s: s.ambient.air_speed,
    {"ambient.air_speed": 0.0},
)


# --- charge --------------------------------------------------------------------------------------
_SHARES = (1.0, 0.95, 0.9, 0.8, 0.7)


@_stepped("start with a charge of {}", _SHARES, _bottles)
def _less_charge(scenario: Scenario, f: Finding, b: FittedBottle, share: float) -> Told | None:
    wanted = share * min(b.fill, FULL_FILLING_DENSITY * b.bottle.volume)
    return (both(wanted, "mass"), {"fill": wanted}) if wanted < b.fill else None


@_stepped("have it refilled by a licensed filler: start with {}", (0.4, 0.6, 0.8, 1.0), _bottles)
def _more_charge(scenario: Scenario, f: Finding, b: FittedBottle, share: float) -> Told | None:
    wanted = share * b.bottle.capacity
    return (both(wanted, "mass"), {"fill": wanted}) if wanted > b.fill else None


@_stepped("refill to {} only", _SHARES, _refills)
def _refill_less(scenario: Scenario, f: Finding, item: Any, share: float) -> Told | None:
    rated = min(b.bottle.capacity for _, b in _bottles(scenario, f))
    wanted = rated if item.to is None else item.to
    least = share * min(wanted, rated)
    return (both(least, "mass"), {"to": least}) if least < wanted else None


@_stepped("keep the supply cylinder cool: {}", (5.0, 10.0, 20.0), _refills)
def _refill_cooler(scenario: Scenario, f: Finding, item: Any, step: float) -> Told | None:
    cool = item.supply_temperature - step
    told = both(cool, "temperature")
    return (told, {"supply_temperature": cool}) if cool > 273.15 else None


_refill_pumped = _once(
    "have it filled with a pump, by a licensed filler and by weight",
    _refills,
    lambda item: not item.pumped,
    {"pumped": True},
)
_refill_slower = _once(
    "give the refill 3 min", _refills, lambda item: item.duration == 0.0, {"duration": 180.0}
)


def _equal_bottles(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    first = scenario.bottles[0]
    start = {f"bottles.{b.name}.start": first.start for b in scenario.bottles[1:]}
    yield "bring all bottles to one temperature before the valves open", start
    fill = {
        f"bottles.{b.name}.fill": min(first.fill, b.bottle.capacity) for b in scenario.bottles[1:]
    }
    yield "the same charge and temperature in all bottles", start | fill


# --- schedule ------------------------------------------------------------------------------------
def _hold_length(factors: tuple[float, ...]) -> Propose:
    def propose(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
        holds = [k for k, item in enumerate(scenario.schedule) if item.heats]
        for factor in factors if holds else ():
            lengths = {k: factor * scenario.schedule[k].duration for k in holds}
            told = both(max(lengths.values()), "time").split(" (")[0]
            kind = "longer" if factor > 1.0 else "shorter"
            words = f"hold {kind}: {told}" + (" at most" if len(holds) > 1 else "")
            yield words, {f"schedule.{k}.duration": value for k, value in lengths.items()}

    return propose


@_stepped("let the pass last until its delivery has ended", (0.0,), _items)
def _whole_delivery(scenario: Scenario, f: Finding, item: Any, _: float) -> Told | None:
    last = max((course[-1][0] for course in item.deliveries), default=0.0)
    return ("", {"duration": last}) if last > item.duration else None


def _never_opens(item: Any) -> bool:
    return any(max(share for _, share in course) <= 0.0 for course in item.deliveries)


_full_delivery = _once("take the delivery out: full flow", _items, _never_opens, {"delivery": None})


# --- pick-up, feed, engine -----------------------------------------------------------------------
@_stepped("put the mouth of the pick-up low and to the rear", (0.95,), _bottles)
def _pickup(scenario: Scenario, f: Finding, b: FittedBottle, along: float) -> Told | None:
    new = dataclasses.replace(b.mounting, pickup_along=along, pickup_height=None, pickup=None)
    return ("", {"mounting": new}) if new != b.mounting else None


_draw_liquid = _once(
    "a pick-up tube that draws liquid",
    _bottles,
    lambda b: b.mounting.draw == "vapour",
    {"mounting.draw": "liquid"},
)


def _the_feed(scenario: Scenario, f: Finding) -> list[tuple[str, Any]]:
    """The feed that a finding names, else the first."""
    feeds = dict(scenario.feeds)
    name = f.key if f.key in feeds else next(iter(feeds))
    return [(f"feeds.{name}.", feeds[name])]


@_stepped("valves and lines with a bore {} times as large", (1.25, 1.6, 2.5), _the_feed)
def _larger_part(scenario: Scenario, f: Finding, feed: Any, factor: float) -> Told:
    parts = {n: getattr(feed, n) for n in ("valve", "bottle_valve", "line", "pickup")}
    bored = {n: x for n, x in parts.items() if x is not None and getattr(x, "bore", None)}
    return f"{factor:g}", {f"{n}.bore": factor * x.bore for n, x in bored.items()}


def _fuel_jets(scenario: Scenario, f: Finding) -> list[tuple[str, Any]]:
    engine = scenario.engine
    there = engine is not None and engine.fuel_jets is not None
    return [("engine.fuel_jets.", engine.fuel_jets)] if engine is not None and there else []


def _jets(scenario: Scenario, f: Finding) -> list[tuple[str, Any]]:
    return [] if scenario.feed is None else [("feed.jets.", scenario.feed.jets)]


def _bore(scenario: Scenario, f: Finding, jets: Any, factor: float) -> Told:
    bore = factor * jets.bore
    return both(bore, "length"), {"bore": bore}


_RICHER = (1.01, 1.02, 1.04, 1.07, 1.12, 1.2, 1.3, 1.45, 1.6, 1.8, 2.0)
_LEANER = (0.99, 0.97, 0.94, 0.9, 0.85, 0.79, 0.73, 0.67, 0.61, 0.56, 0.51)
_larger_fuel_jets = _stepped("larger fuel jets: {}", _RICHER, _fuel_jets)(_bore)


def _smaller_fuel_jets(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    """First to just inside the bound of a rich shot, whose mixture goes as the bore squared."""
    just = [math.sqrt(s * f.limit / f.value) for s in (0.98, 0.94) if f.limit and f.value]
    steps = (*(s for s in just if s >= _LEANER[-1]), *_LEANER)
    yield from _stepped("smaller fuel jets: {}", steps, _fuel_jets)(_bore)(scenario, f)


_n2o_jets = _stepped("smaller N2O jets: {}", (0.98, 0.95, 0.9), _jets)(_bore)


def _fuel_pressure(scenario: Scenario, f: Finding) -> Iterator[Proposal]:
    engine = scenario.engine
    if engine is None or engine.fuel_pressure is None:
        return
    if engine.intake_pressure > 0.0 and not engine.regulator_referenced:
        yield "a fuel regulator referenced to boost", {"engine.regulator_referenced": True}
    for more in (3.0, 6.0, 12.0, 25.0, 45.0):
        new = max(engine.fuel_pressure, engine.intake_pressure) + more * PSI
        yield f"fuel pressure {both(new, 'gauge_pressure')}", {"engine.fuel_pressure": new}


_TOO_HIGH = (
    "relief-opened",
    "relief-margin",
    "over-test-pressure",
    "over-service-pressure",
    "over-125-degF",
)
_HIGH = (*_TOO_HIGH, "liquid-full", "launch-above-band", "lean")
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
_LEAN_BY_FUEL = ("fuel",)
"""Jets set for a bottle that stands too high (sun, refill, relay) would be wrong for the next pass
in the band: against that the cause is mended, not the fuel."""
_LONGER = (1.25, 1.5, 2.0, 3.0)

ACTIONS: tuple[Action, ...] = (
    Action(
        (
            *("relay-welded", "switch-stuck-open", *_HIGH, *_HOT, *_COLD, "overshoot"),
            *("flow-inhibited", "no-liquid-at-launch"),
        ),
        _mend_switch,
        mends=True,
    ),
    Action((*_HIGH, *_COLD, "overshoot"), _true_switch, mends=True),
    Action(("sensor-in-line", *_HIGH, *_HOT, "overshoot"), _sense_bottle, mends=True),
    Action(("no-pressure-switch", *_HIGH, *_HOT), _fit_switch),
    Action(("follower-above-band", "follower-below-band"), _own_switch),
    Action(("overfilled", "liquid-full", *_HIGH, "relief-in-hot-car"), _refill_less),
    Action(("liquid-full", *_HIGH), _refill_cooler, ("refill",)),
    Action(("refill-short",), _refill_pumped),
    Action(("refill-spike",), _refill_slower),
    Action((*_HIGH, "overshoot", "hot-spot-over-125-degF"), _shade, ("air", "start")),
    Action(("liquid-full", "lean", "overshoot", "hot-spot-over-125-degF"), _shade, ("sun",)),
    Action((*_TOO_HIGH, "launch-above-band"), _shade, ("sun",), mends=True),
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
    Action((*_HOT, *_HIGH, "overshoot", "relay-rating", "over-fuse"), _less_power),
    Action(_HOT, _coverage, ("heater", "stored heat", "relay", "sensor", "cut-out")),
    Action(("power-below-loss",), _coverage, ("cut-out",)),
    Action((*_HOT, "over-125-degF", "no-cut-out"), _cut_out),
    Action(("cut-out-too-high",), _lower_cut_out),
    Action(("power-below-loss", "cut-out-cycling"), _higher_cut_out, ("cut-out",)),
    Action(("heat-on-dry-wall",), _blanket_lower),
    Action((*_HIGH, *_HOT), _hold_length((0.75, 0.5, 0.25)), ("heater", "relay", "sensor")),
    Action((*_COLD, "power-below-loss"), _shelter),
    Action((*_COLD, "flow-inhibited"), _hold_length(_LONGER)),
    Action((*_COLD, "power-below-loss", "flow-inhibited"), _more_power),
    Action(("lean",), _shelter, ("cold bottle",)),
    Action(("lean",), _hold_length(_LONGER), ("cold bottle",)),
    Action(("lean",), _more_power, ("cold bottle",)),
    Action(("power-below-loss",), _jacket),
    Action((*_HIGH, "overfilled", "relief-in-hot-car", "band-crosses-liquid-full"), _less_charge),
    Action(_LIGHT, _more_charge),
    Action(("rich",), _more_charge, ("charge",)),
    Action(("rich",), _draw_liquid, ("pick-up",)),
    Action(("stranded", "no-liquid-at-launch"), _pickup, ("pick-up",)),
    Action(("bottles-unequal",), _equal_bottles),
    Action(("delivery-cut",), _whole_delivery),
    Action(("delivery-never-opens",), _full_delivery),
    Action(("flow-restricted",), _larger_part),
    Action(("lean",), _larger_fuel_jets, _LEAN_BY_FUEL),
    Action(("engine-lean", "may-be-lean"), _larger_fuel_jets),
    Action(("rich",), _smaller_fuel_jets, ("fuel",)),
    Action(("lean",), _fuel_pressure, _LEAN_BY_FUEL),
    Action(("engine-lean", "no-fuel"), _fuel_pressure),
    Action(("lean",), _n2o_jets, _LEAN_BY_FUEL),
    Action(("charge-not-evaporated",), _n2o_jets),
)
"""Every action, those that mend a cause before those that work around it."""
