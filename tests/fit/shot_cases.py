"""Random shots from nothing known to weighed jets, with hidden jets as the truth."""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np

import n2osim as n2
from n2osim.answers.jets import LEAN_KEEPS, NUMBER_DRILLS, extremes, size_jets
from n2osim.fit.weighed import WeighedPass, weighed_jets
from n2osim.physics.charge import temperature_for_pressure
from n2osim.physics.feed_state import drawn_at, feed_flow

PSI, LB, HP = 6894.757, 0.45359237, 745.7
AIR = 101325.0
ERRORS = dict(scale_error=0.005, timing_error=0.05, gauge_error=3 * PSI, empty_error=0.03)
"""A scale good for 5 g, a stopwatch for 0.05 s, a gauge for 3 psi, an empty mass for 30 g."""


class Hidden(NamedTuple):
    """What nobody knows of a shot: discharge coefficient and length over bore of its jets."""

    cd: float
    length: float


class Outcome(NamedTuple):
    """How a shot went; mixtures in parts of the target.

    first_lean, warned: lean end of the range of the first set, and whether the answer says that it
    may be lean. first_true: leanest that the hidden jets really were with that set.
    error, half_width: of the flow after two weighed passes. advised: mean mixture of the hidden
    jets with the bores advised then. meant: what the answer says it will be, above 1 where the
    lean end of what is left of the range needs it.
    """

    first_lean: float
    warned: bool
    first_true: float
    error: float
    half_width: float
    advised: float
    meant: float

    @property
    def safe(self) -> bool:
        return self.first_lean >= LEAN_KEEPS or self.warned


def shot(rng: np.random.Generator) -> tuple[n2.Scenario, float, Hidden]:
    """A car with a shot of 50 to 200 hp, the power (W), and what is hidden of its jets."""
    bottle = n2.Bottle.preset("aluminium", "10 lb")
    charge, gauge = rng.uniform(8.0, 10.0) * LB, rng.uniform(880.0, 1000.0) * PSI
    count = int(rng.choice([1, 2, 4, 8]))
    power = rng.uniform(50.0, 200.0) * HP
    engine = n2.EngineSide(
        "gasoline",
        target_mixture=rng.uniform(1.05, 1.3),
        fuel_jets=n2.Jets(count, "0.03 in", cd=0.8),
        fuel_pressure=rng.uniform(40.0, 60.0) * PSI,
    )
    line = n2.FeedLine.from_dash(4, rng.uniform(1.0, 4.0)) if rng.random() < 0.5 else None
    start = float(temperature_for_pressure(gauge + AIR, charge, bottle.volume))
    scenario = n2.Scenario(
        bottle,
        [n2.Pass(rng.uniform(4.0, 7.0))],
        feed=n2.Feed(n2.Jets(count, "0.04 in"), line=line),
        fill=charge,
        start=start,
        engine=engine,
    )
    return scenario, power, Hidden(rng.uniform(0.6, 0.9), rng.uniform(1.0, 12.0))


def with_hidden(scenario: n2.Scenario, hidden: Hidden) -> n2.Scenario:
    """The scenario with jets of the same count and bore as they really are."""
    feed = scenario.feed
    jets = n2.Jets(feed.jets.count, feed.jets.bore, hidden.cd).with_length(hidden.length)
    return scenario.replace(feeds=(("main", dataclasses.replace(feed, jets=jets)),))


def weighed(truth: n2.Scenario, rng: np.random.Generator, count: int = 2) -> list[WeighedPass]:
    """Passes of the hidden jets that take some 2 lb each, with reading errors."""
    bottle = truth.bottles[0].bottle
    empty = bottle.empty_mass + rng.normal(0.0, ERRORS["empty_error"])
    passes = []
    for _ in range(count):
        charge, gauge = rng.uniform(7.5, 10.0) * LB, rng.uniform(880.0, 1000.0) * PSI
        start = float(temperature_for_pressure(gauge + AIR, charge, bottle.volume))
        drawn = drawn_at(start, charge / bottle.volume)
        seconds = round(0.9 / feed_flow(truth.feed, drawn, AIR).flow, 1)
        run = n2.simulate(
            n2.Scenario(bottle, [n2.Pass(seconds)], feed=truth.feed, fill=charge, start=start)
        )
        before, after = (
            m + empty + rng.normal(0.0, ERRORS["scale_error"]) for m in run["mass_kg"][0][[0, -1]]
        )
        timed = seconds + rng.normal(0.0, ERRORS["timing_error"])
        read = gauge + rng.normal(0.0, ERRORS["gauge_error"])
        passes.append(WeighedPass(before, after, timed, read, **ERRORS))
    return passes


def outcome(seed: int) -> Outcome:
    """Start safe, weigh two passes, size again: how that went against the hidden jets."""
    rng = np.random.default_rng(seed)
    scenario, power, hidden = shot(rng)
    target = scenario.engine.target_mixture
    first = size_jets(scenario, power, sizes=NUMBER_DRILLS, fuel_sizes=NUMBER_DRILLS)
    truth = with_hidden(first.scenario, hidden)
    mixture = n2.simulate(truth).engine.passes[0].mixture
    found = weighed_jets(first.scenario, weighed(truth, rng))
    drawn = drawn_at(found.temperature, 600.0)
    error = feed_flow(found.scenario.feed, drawn, AIR).flow
    error = error / feed_flow(truth.feed, drawn, AIR).flow - 1.0
    advised = size_jets(found.scenario, power)
    run = n2.simulate(with_hidden(advised.scenario, hidden))
    return Outcome(
        extremes(first.run).leanest / target,
        any("MAY BE LEAN" in text for text in first.notes),
        mixture.minimum / target,
        error,
        found.half_width,
        run.engine.passes[0].mixture.mean / target,
        advised.run.engine.passes[0].mixture.mean / target,
    )
