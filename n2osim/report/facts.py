"""What was simulated, as (heading, text) lines; what was assumed is marked so."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

from n2osim.hardware.air import ConstantAir
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.feed import FeedLine, Valve
from n2osim.hardware.jets import EDGES, Jets
from n2osim.hardware.shells import RELIEF_RATING, SERVICE_PRESSURE
from n2osim.numbers import Units, lasting
from n2osim.results.mounting import attitude, stranded_mass
from n2osim.results.rules_feed import PART_NAMES
from n2osim.results.rules_schedule import model_choices

if TYPE_CHECKING:
    from n2osim.hardware.engine import EngineSide
    from n2osim.hardware.feed import Feed
    from n2osim.scenario.fitted import FittedBottle
    from n2osim.scenario.scenario import Scenario

DEFAULTS = "all choices at their defaults (assumed)"
VAPOUR = "; draws vapour"
ASSUMED = "(assumed): a default of the program, nothing else was given for it."


def assumed(part: Any, *names: str) -> str:
    """The mark behind a figure whose fields all stand at their defaults."""
    defaults = {f.name: f.default for f in fields(part)}
    shown = {n: defaults[n] for n in names}
    # A field made by a descriptor has its default on the class.
    at_default = all(getattr(part, n) == getattr(type(part), n, d) for n, d in shown.items())
    return " (assumed)" if at_default else ""


def main_facts(scenario: Scenario, system: str) -> list[tuple[str, str]]:
    """What a short report needs of :func:`scenario_facts`: no jets that only vent, and how a bottle
    lies only where it gives vapour."""
    opened = {
        scenario.feeds[scenario.feed_index(s.feed)][0]
        for item in scenario.schedule
        for s in (item.streams if item.feeds_engine else ())
        if s.meter != "mass flow"
    }
    left_out = {"Marked", *(f'Jets "{name}"' for name, _ in scenario.feeds if name not in opened)}
    if model_words(scenario) == DEFAULTS:
        left_out.add("Model")
    return [
        (head, text)
        for head, text in scenario_facts(scenario, system)
        if head not in left_out and (head != "Mounting" or text.endswith(VAPOUR))
    ]


def scenario_facts(scenario: Scenario, system: str) -> list[tuple[str, str]]:
    """(heading, text) lines on bottles, heaters, air, jets, deliveries, engine and model."""
    units = Units(system)
    lines: list[tuple[str, str]] = []
    for fitted in scenario.bottles:
        lines += _bottle_facts(fitted, scenario, units)
    lines.append(("Air", _air(scenario, units)))
    for name, feed in scenario.feeds:
        lines.append(("Jets" if name == "main" else f'Jets "{name}"', _feed(feed, units)))
    said = deliveries(scenario, units)
    lines += [("Delivery", "; ".join(said))] if said else []
    lines += _engine_facts(scenario.engine, units)
    lines.append(("Model", model_words(scenario)))
    return lines


def shell_facts(scenario: Scenario, system: str = "shop") -> list[tuple[str, str]]:
    """What follows from how each bottle was given; assumed numbers say so."""
    units = Units(system)
    return [
        (
            "Shell" if fitted.name == "bottle" else f"Shell {fitted.name}",
            ", ".join(
                f"{f.label} {units.full(f.value, f.dimension)}{' (assumed)' if f.assumed else ''}"
                for f in fitted.bottle.figures
            ),
        )
        for fitted in scenario.bottles
    ]


# --- bottle, heater, switch ----------------------------------------------------------------------
def _bottle_facts(fitted: FittedBottle, scenario: Scenario, units: Units) -> list[tuple[str, str]]:
    bottle = fitted.bottle
    share = 100.0 * fitted.fill / bottle.capacity
    charge, rated = units.full(fitted.fill, "mass"), units.full(bottle.capacity, "mass")
    text = (
        f"{bottle.name}, holds {units.full(bottle.volume, 'volume')}; charge {charge} "
        f"({share:.0f} % of {rated}), {units.full(fitted.start, 'temperature')} at the start"
    )
    if fitted.wall_start is not None:
        text += f", shell at {units.full(fitted.wall_start, 'temperature')}"
    lines = [("Bottle" if fitted.name == "bottle" else f"Bottle {fitted.name}", text)]
    marked = marks(bottle, units)
    if marked:
        lines.append(("Marked", marked))
    lines.append(("Mounting", _mounting(fitted, units)))
    if fitted.heater is not None:
        lines.append(("Heater", _heater(fitted, scenario, units)))
    if fitted.switch is not None:
        lines.append(("Switch", _switch(fitted.switch, units)))
    return lines


def is_preset(bottle: Bottle) -> bool:
    """Whether the pressures marked on a bottle are those that every preset carries."""
    marked = (bottle.service_pressure, bottle.relief_pressure)
    return bottle.status.startswith("typical") and marked == (SERVICE_PRESSURE, RELIEF_RATING)


def marks(bottle: Bottle, units: Units) -> str:
    """Pressures marked on a bottle and whose word they are; empty where there are none."""
    named = {
        "service": bottle.service_pressure,
        "test": bottle.test_pressure,
        "relief device": bottle.relief_pressure,
    }
    said = ", ".join(
        f"{what} {units.full(value, 'gauge_pressure')}"
        for what, value in named.items()
        if value is not None
    )
    if not said:
        return ""
    whose = "the preset's (assumed)" if is_preset(bottle) else "as given"
    return f"{said}; {whose}: read the shoulder"


def _mounting(fitted: FittedBottle, units: Units) -> str:
    """How the bottle lies, where its pick-up is and what that leaves behind at the start."""
    m = fitted.mounting
    text = attitude(m)
    if m.draw == "vapour":
        return text + VAPOUR
    share = m.stranded(fitted.bottle.inner_diameter, fitted.bottle.inner_length)
    behind = stranded_mass(fitted, fitted.start, fitted.fill)
    mouth = f"mouth at {100 * m.pickup_along:.0f} % of the length{assumed(m, 'pickup_along')}"
    given = mouth if m.pickup is None else "as given"
    return (
        f"{text}; pick-up {given}, leaves the liquid in {100 * share:.1f} % of the volume behind: "
        f"{units.full(behind, 'mass')} ({100 * behind / fitted.fill:.0f} % of the charge)"
    )


def _heater(fitted: FittedBottle, scenario: Scenario, units: Units) -> str:
    heater, supply = fitted.heater, scenario.supply
    assert heater is not None
    volts = supply.voltage_at(heater.element_conductance)
    delivered = units.full(heater.power_at(volts), "power")
    text = f"delivers {delivered} at {volts:.1f} V of the supply{assumed(supply, 'voltage')}"
    others = any(b.heater is not None and b is not fitted for b in scenario.bottles)
    if others and supply.resistance > 0.0 and heater.element_conductance:
        text += " while the others are off"
    if heater.voltage is not None and heater.power:
        text += f", rated {units.full(heater.power, 'power')} at {heater.voltage:g} V"
    if heater.self_limit:
        shop = units.system == "shop"
        per, degree = (heater.self_limit / 1.8, "degF") if shop else (heater.self_limit, "degC")
        above = units.full(heater.self_limit_reference, "temperature")
        text += f", {100 * per:.2g} % less for every {degree} that the heater is above {above}"
    text += f", over {100 * heater.coverage:.0f} % of the shell{assumed(heater, 'coverage')}"
    if heater.cut_out is not None:
        text += f", cut-out at {units.full(heater.cut_out.opens, 'temperature')}"
    if fitted.follows is not None:
        text += f', on the switch of "{fitted.follows}"'
    return text


def _switch(switch: Any, units: Units) -> str:
    text = (
        f"on at {units.full(switch.closes, 'gauge_pressure')}, off at "
        f"{units.full(switch.opens, 'gauge_pressure')}, senses the {switch.sensor}"
    )
    if switch.asked:
        text += f"; {switch.registered or type(switch).__name__} decides, asked every "
        text += lasting(switch.period)
    if switch.lag:
        text += f", lags {lasting(switch.lag)}"
    if switch.offset:
        off = units.full(abs(switch.offset), "pressure_difference")
        text += f", reads {off} too {'high' if switch.offset > 0.0 else 'low'}"
    return text + (f"; fault: {switch.fault}" if switch.fault else "")


def _air(scenario: Scenario, units: Units) -> str:
    a = scenario.ambient
    text = a.air.words(units.full)
    if not isinstance(a.air, ConstantAir):
        minutes = round(scenario.clock_start / 60.0)
        text += f", from {minutes // 60}:{minutes % 60:02d} on{assumed(scenario, 'clock_start')}"
    text += f", {units.full(a.pressure, 'pressure')}{assumed(a, 'pressure')}"
    text += f", wind {units.full(a.air_speed, 'speed')}" if a.air_speed else ", still"
    text += f", sun {a.sun:.0f} W/m2" if a.sun else ""
    return text + (", in a closed boot" if a.enclosure is not None else "")


# --- jets and deliveries -------------------------------------------------------------------------
def _feed(feed: Feed, units: Units) -> str:
    jets = feed.jets
    text = (
        f"{jets.count} x {units.full(jets.bore, 'length')}, Cd {jets.cd:g}{_known(jets, units)}, "
        f"flow model {feed.model}{assumed(feed, 'model')}"
    )
    ahead = [_part(name, part, units) for name, part in feed.parts if name != "jets"]
    return text + (f"; behind {', '.join(ahead)}" if ahead else "")


def _known(jets: Jets, units: Units) -> str:
    """How a discharge coefficient is known: measured to so much, or assumed."""
    if jets.cd_spread is None:
        return _assumed_cd(jets)
    text = f" (weighed to {100.0 * jets.cd_spread:.2g} %"
    if jets.measured_at is not None:
        text += f" at {units.short(jets.measured_at, 'temperature')}"
    return text + ")"


def _assumed_cd(jets: Jets) -> str:
    """The mark behind a discharge coefficient that is the usual one of the jets' edge."""
    usual = jets.cd == EDGES[jets.edge].cd and jets.cd_spread is None
    return " (assumed)" if usual else ""


def _part(name: str, part: object, units: Units) -> str:
    """A part ahead of the jets with its size: "line 6 ft x 0.219 in"."""
    text = PART_NAMES[name]
    if isinstance(part, Valve):
        size = (
            f"{units.full(part.bore, 'length')}"
            if part.bore is not None
            else units.full(part.flow_area, "area")
        )
        return f"{text} {size} (Cd {part.cd:g}{assumed(part, 'cd')})"
    if isinstance(part, FeedLine):
        long = (
            f"{part.length / 0.3048:.3g} ft" if units.system == "shop" else f"{part.length:.3g} m"
        )
        return f"{text} {long} x {units.full(part.bore, 'length')}"
    return text


def deliveries(scenario: Scenario, units: Units) -> list[str]:
    """What each pass opens and when; passes that are alike are told together."""
    alike: dict[str, list[str]] = {}
    for k, item in enumerate(scenario.schedule):
        if said := item.words(units.full):
            alike.setdefault(said, []).append(item.label or f"{item.kind} {k + 1}")
    return [f"{', '.join(dict.fromkeys(names))}: {said}" for said, names in alike.items()]


# --- engine --------------------------------------------------------------------------------------
def _engine_facts(engine: EngineSide | None, units: Units) -> list[tuple[str, str]]:
    """What the engine figures rest on: fuel, boost, own flows, fuel jets and their pressure."""
    if engine is None:
        return []
    text = (
        f"{engine.fuel}, shot tuned to mixture {engine.target_mixture:g}"
        f"{assumed(engine, 'target_mixture')}"
    )
    if engine.intake_pressure or engine.boost_course:
        boost = _over_a_pass(engine.intake_pressure, engine.boost_course, units)
        text += f"; jets blow into {boost}"
    if engine.boost_course:
        text += ", the N2O jets into the first of it"
    own = [
        f"{units.full(flow, 'mass_flow')} of {name}"
        for flow, name in ((engine.base_air, "air"), (engine.base_fuel, "fuel"))
        if flow is not None
    ]
    if own:
        text += f"; takes {' and '.join(own)} by itself"
    if engine.base_air:
        text += (
            f", intake at {units.full(engine.intake_temperature, 'temperature')}"
            f"{assumed(engine, 'intake_temperature')}"
        )
    lines = [("Engine", text)]
    jets = engine.fuel_jets
    if jets is not None:
        kept = ", kept above boost" if engine.regulator_referenced else ""
        size = f"{jets.count} x {units.full(jets.bore, 'length')}, Cd {jets.cd:g}"
        at = _over_a_pass(engine.fuel_pressure, engine.fuel_pressure_course, units)
        lines.append(("Fuel jets", f"{size}{_assumed_cd(jets)}, at {at}{kept}"))
    return lines


def _over_a_pass(constant: float | None, course: Any, units: Units) -> str:
    """A gauge pressure, or its course over a pass by its ends."""
    if not course:
        return units.full(constant, "gauge_pressure")
    first, last = (units.full(p, "gauge_pressure") for _, p in (course[0], course[-1]))
    return f"{first}, {last} from {lasting(course[-1][0])} on"


# --- model ---------------------------------------------------------------------------------------
def model_words(scenario: Scenario) -> str:
    """Every choice of model and numerics that is not the default, in words."""
    said = model_choices(scenario)
    if not said:
        return DEFAULTS
    return "not the default: " + "; ".join(said)
