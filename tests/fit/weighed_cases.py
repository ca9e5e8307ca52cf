"""Weighed passes made with hidden jets, for testing what is found out about them."""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import numpy as np

import n2osim as n2
from n2osim.fit.weighed import WeighedPass, weighed_jets
from n2osim.physics.charge import temperature_for_pressure
from n2osim.physics.feed_state import drawn_at, feed_flow

PSI, LB = 6894.757, 0.45359237
BOTTLE = n2.Bottle.preset("aluminium", "10 lb")


class Case(NamedTuple):
    """What is believed, what is true, and the readings."""

    believed: n2.Scenario
    truth: n2.Feed
    passes: tuple[WeighedPass, ...]


def case(seed: int, count: int = 2) -> Case:
    """Two passes in the band through jets of hidden coefficient and length, with reading errors.

    A scale good for 5 g, a stopwatch for 0.05 s, a gauge for 3 psi, an empty mass for 30 g
    (standard deviations), some 1.5 to 3 lb a pass.
    """
    rng = np.random.default_rng(seed)
    bore = rng.uniform(0.045, 0.075) * 0.0254
    jets = n2.Jets(2, bore)
    hidden = n2.Jets(2, bore, rng.uniform(0.6, 0.9)).with_length(rng.uniform(1.0, 12.0))
    line = n2.FeedLine.from_dash(4, rng.uniform(1.0, 4.0)) if rng.random() < 0.5 else None
    truth = n2.Feed(hidden, line=line)
    believed = n2.Scenario(BOTTLE, [], feed=n2.Feed(jets, line=line), fill="10 lb", start=300.0)
    empty_off = rng.normal(0.0, 0.03)
    errors = dict(scale_error=0.005, timing_error=0.05, gauge_error=3 * PSI, empty_error=0.03)
    passes = []
    for _ in range(count):
        charge = rng.uniform(7.5, 10.0) * LB
        gauge = rng.uniform(880.0, 1000.0) * PSI
        seconds = rng.uniform(8.0, 12.0)
        start = float(temperature_for_pressure(gauge + 101325.0, charge, BOTTLE.volume))
        run = n2.simulate(
            n2.Scenario(BOTTLE, [n2.Pass(seconds)], feed=truth, fill=charge, start=start)
        )
        empty = BOTTLE.empty_mass + empty_off
        before, after = (
            m + empty + rng.normal(0.0, errors["scale_error"]) for m in run["mass_kg"][0][[0, -1]]
        )
        passes.append(
            WeighedPass(
                before,
                after,
                seconds + rng.normal(0.0, errors["timing_error"]),
                gauge + rng.normal(0.0, errors["gauge_error"]),
                **errors,
            )
        )
    return Case(believed, truth, tuple(passes))


class Outcome(NamedTuple):
    """How a case ended: error of the flow at the state weighed at, and the interval's half width,
    both relative."""

    error: float
    half_width: float

    @property
    def covered(self) -> bool:
        return abs(self.error) <= self.half_width


def outcome(seed: int) -> Outcome:
    """Weigh, and compare the flow of the jets found with that of the hidden ones."""
    made = case(seed)
    found = weighed_jets(made.believed, made.passes)
    drawn = drawn_at(found.temperature, 600.0)
    known = feed_flow(found.scenario.feed, drawn, 101325.0).flow
    true = feed_flow(made.truth, drawn, 101325.0).flow
    return Outcome(known / true - 1.0, found.half_width)


def without_errors(found: WeighedPass) -> WeighedPass:
    """The same readings, believed to the digit."""
    exact = dict.fromkeys(("scale_error", "timing_error", "gauge_error", "empty_error"), 1e-6)
    return dataclasses.replace(found, **exact)
