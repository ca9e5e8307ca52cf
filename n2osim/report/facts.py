"""What was simulated, as (heading, text) lines: bottles, heaters, air, feeds, engine side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from n2osim.hardware.ambient import DayNight, TemperatureTable
from n2osim.hardware.feed import FeedLine, Valve
from n2osim.numbers import Units
from n2osim.results.rules_feed import PART_NAMES
from n2osim.results.rules_mounting import attitude, stranded_mass

if TYPE_CHECKING:
    from n2osim.hardware.engine import EngineSide
    from n2osim.hardware.feed import Feed
    from n2osim.results.run import Run
    from n2osim.scenario.scenario import FittedBottle, Scenario


def facts(run: Run, system: str) -> list[tuple[str, str]]:
    """(heading, text) lines on what was simulated."""
    return scenario_facts(run.scenario, system)


def scenario_facts(scenario: Scenario, system: str) -> list[tuple[str, str]]:
    """(heading, text) lines on bottle, heater, switch, air and jets."""
    units = Units(system)
    lines: list[tuple[str, str]] = []
    for fitted in scenario.bottles:
        lines += _bottle_facts(fitted, units)
    lines.append(("Air", _air(scenario, units)))
    for name, feed in scenario.feeds:
        lines.append(("Jets" if name == "main" else f'Jets "{name}"', _feed(feed, units)))
    return lines + _engine_facts(scenario.engine, units)


def _feed(feed: Feed, units: Units) -> str:
    jets = feed.jets
    text = f"{jets.count} x {units.full(jets.bore, 'length')}, Cd {jets.cd:g}, {feed.model}"
    ahead = [_part(name, part, units) for name, part in feed.parts if name != "jets"]
    return text + (f"; behind {', '.join(ahead)}" if ahead else "")


def _part(name: str, part: object, units: Units) -> str:
    """A part ahead of the jets with its size: "line 6 ft x 0.219 in"."""
    text = PART_NAMES[name]
    if isinstance(part, Valve):
        size = (
            f"{units.full(part.bore, 'length')}"
            if part.bore is not None
            else units.full(part.flow_area, "area")
        )
        return f"{text} {size} (Cd {part.cd:g})"
    if isinstance(part, FeedLine):
        long = (
            f"{part.length / 0.3048:.3g} ft" if units.system == "shop" else f"{part.length:.3g} m"
        )
        return f"{text} {long} x {units.full(part.bore, 'length')}"
    return text


def _engine_facts(engine: EngineSide | None, units: Units) -> list[tuple[str, str]]:
    """What the engine figures rest on: fuel, boost, own flows, fuel jets and their pressure."""
    if engine is None:
        return []
    text = f"{engine.fuel}, shot tuned to mixture {engine.target_mixture:g}"
    if engine.intake_pressure:
        text += f"; jets blow into {units.full(engine.intake_pressure, 'gauge_pressure')}"
    own = [
        f"{units.full(flow, 'mass_flow')} of {name}"
        for flow, name in ((engine.base_air, "air"), (engine.base_fuel, "fuel"))
        if flow is not None
    ]
    if own:
        text += f"; takes {' and '.join(own)} by itself"
    if engine.base_air:
        text += f", intake at {units.full(engine.intake_temperature, 'temperature')}"
    lines = [("Engine", text)]
    jets = engine.fuel_jets
    if jets is not None:
        kept = ", kept above boost" if engine.regulator_referenced else ""
        size = f"{jets.count} x {units.full(jets.bore, 'length')}, Cd {jets.cd:g}"
        at = units.full(engine.fuel_pressure, "gauge_pressure")
        lines.append(("Fuel jets", f"{size}, at {at}{kept}"))
    return lines


def _bottle_facts(fitted: FittedBottle, units: Units) -> list[tuple[str, str]]:
    bottle = fitted.bottle
    share = 100.0 * fitted.fill / bottle.capacity
    charge, rated = units.full(fitted.fill, "mass"), units.full(bottle.capacity, "mass")
    lines = [
        (
            "Bottle" if fitted.name == "bottle" else f"Bottle {fitted.name}",
            f"{bottle.name}, holds {units.full(bottle.volume, 'volume')}; charge {charge} "
            f"({share:.0f} % of {rated}), {units.full(fitted.start, 'temperature')} at the start",
        )
    ]
    lines.append(("Mounting", _mounting(fitted, units)))
    heater, switch = fitted.heater, fitted.switch
    if heater is not None:
        power = units.full(heater.power_at(heater.voltage or 14.4), "power")
        text = f"{power} over {100 * heater.coverage:.0f} % of the shell"
        if heater.cut_out is not None:
            text += f", cut-out at {units.full(heater.cut_out.opens, 'temperature')}"
        if fitted.follows is not None:
            text += f', on the switch of "{fitted.follows}"'
        lines.append(("Heater", text))
    if switch is not None:
        text = (
            f"on at {units.full(switch.closes, 'gauge_pressure')}, off at "
            f"{units.full(switch.opens, 'gauge_pressure')}, senses the {switch.sensor}"
        )
        lines.append(("Switch", text + (f"; fault: {switch.fault}" if switch.fault else "")))
    return lines


def _mounting(fitted: FittedBottle, units: Units) -> str:
    """How the bottle lies, where its pick-up is and what that leaves behind at the start."""
    m = fitted.mounting
    text = attitude(m)
    if m.draw == "vapour":
        return text + "; draws vapour"
    share = m.stranded(fitted.bottle.inner_diameter, fitted.bottle.inner_length)
    behind = stranded_mass(fitted, fitted.start, fitted.fill)
    mouth = f"mouth at {100 * m.pickup_along:.0f} % of length"
    given = mouth if m.pickup is None else "as given"
    return (
        f"{text}; pick-up {given}, leaves the liquid in {100 * share:.1f} % of the volume behind: "
        f"{units.full(behind, 'mass')} ({100 * behind / fitted.fill:.0f} % of the charge)"
    )


def _air(scenario: Scenario, units: Units) -> str:
    a = scenario.ambient
    if isinstance(a.temperature, DayNight):
        text = (
            f"{units.full(a.temperature.mean, 'temperature')} +- "
            f"{units.full(a.temperature.swing, 'temperature_difference')} over the day"
        )
    elif isinstance(a.temperature, TemperatureTable):
        low, high = min(a.temperature.temperatures), max(a.temperature.temperatures)
        text = f"{units.full(low, 'temperature')} to {units.full(high, 'temperature')} by table"
    else:
        text = units.full(float(a.temperature), "temperature")
    text += f", {units.full(a.pressure, 'pressure')}"
    text += f", wind {units.full(a.air_speed, 'speed')}" if a.air_speed else ", still"
    text += f", sun {units.full(a.sun, 'heat_flux')}" if a.sun else ""
    return text + (", in a closed boot" if a.enclosure is not None else "")
