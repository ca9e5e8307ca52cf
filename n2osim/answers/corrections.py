"""A case of the correction table: flow of a charge at a gauge pressure, at once or over a pass."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from n2osim.answers.passes import one_pass
from n2osim.engine.pack import back_pressure
from n2osim.errors import InputError, IntegrationError, NoSolutionError, RangeError
from n2osim.physics.feed_state import drawn_at_pressure, feed_flow
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass
from n2osim.units import format_quantity, parse

if TYPE_CHECKING:
    from n2osim.answers.tables import CorrectionRow

_GAUGE_SPAN = 2.5e6  # Pa either way of the reference in which a pressure is looked for
_BORE_SPAN = (0.6, 1.6)


@dataclass(frozen=True)
class Case:
    """A scenario's first bottle and one of its feeds, at a gauge pressure (Pa)."""

    scenario: Scenario
    gauge: float
    charge: float
    pass_: Pass | None
    feed: str

    @classmethod
    def of(cls, scenario: Scenario, at_pressure: Any, pass_: Pass | None, feed: str) -> Case:
        """From what the user gave."""
        air = scenario.ambient.pressure
        gauge = parse(at_pressure, "gauge_pressure", name="pressure", low=1e5, ambient=air)
        scenario.feed_index(feed)
        if pass_ is not None and (pass_.outflow is not None or pass_.target_flow is not None):
            raise InputError(
                "pass",
                "prescribed flow",
                "",
                "a pass metered by its jets",
                "a prescribed flow needs no correction",
            )
        return cls(scenario, gauge, scenario.bottles[0].fill, pass_, feed)

    def flow(self, charge: float, gauge: float, bore_factor: float) -> float:
        """Flow (kg/s): when the valve opens, or the mean over the pass."""
        feed = self.scenario.feed_named(self.feed)
        jets = dataclasses.replace(feed.jets, bore=feed.jets.bore * bore_factor)
        feed = dataclasses.replace(feed, jets=jets)
        if self.pass_ is None:
            drawn = drawn_at_pressure(
                self.scenario.bottles[0].bottle, charge, gauge, self.scenario.ambient.pressure
            )
            return feed_flow(feed, drawn, back_pressure(self.scenario, self.feed)).flow
        feeds = tuple((n, feed if n == self.feed else f) for n, f in self.scenario.feeds)
        done = one_pass(self.scenario.replace(feeds=feeds), charge, gauge, self.pass_)
        mean = done.passes[0].flow_mean
        if not mean > 0.0:
            raise NoSolutionError(
                f"nothing flows in the pass at {format_quantity(gauge, 'gauge_pressure')}: its "
                "arming window or its delivery holds it shut, so there is no flow to correct for"
            )
        return mean

    def row(self, charge: float, reference: float) -> CorrectionRow:
        """The table's row for a charge. NoSolutionError when it cannot stand at the pressure."""
        from n2osim.answers.tables import CorrectionRow

        bottle = self.scenario.bottles[0].bottle
        drawn = drawn_at_pressure(bottle, charge, self.gauge, self.scenario.ambient.pressure)
        flow = self.flow(charge, self.gauge, 1.0)
        gauge = _solve(
            lambda g: self.flow(charge, g, 1.0) / reference - 1.0,
            self.gauge,
            max(1e5, self.gauge - _GAUGE_SPAN),
            self.gauge + _GAUGE_SPAN,
        )
        factor = _solve(
            lambda k: self.flow(charge, self.gauge, k) / reference - 1.0, 1.0, *_BORE_SPAN
        )
        return CorrectionRow(
            charge,
            charge + bottle.empty_mass,
            drawn.temperature,
            drawn.density,
            drawn.two_phase,
            flow,
            flow / reference - 1.0,
            None if gauge is None else gauge - self.gauge,
            factor,
        )


def _solve(error: Any, start: float, low: float, high: float) -> float | None:
    """Root of ``error`` nearest to ``start`` within low..high; None where there is none.

    Steps away from the start, in the direction that helps, until the sign changes: flow over
    pressure has a kink where the bottle becomes liquid-full, and ends where it leaves the range.
    """
    from scipy.optimize import brentq

    first = error(start)
    if first == 0.0:
        return start
    reach = (high - start) if first < 0.0 else (low - start)
    a, fa = start, first
    for k in range(1, 33):
        b = start + reach * (k / 32.0) ** 2
        try:
            fb = error(b)
        except (NoSolutionError, IntegrationError, RangeError):
            return None
        if fa * fb <= 0.0:
            return float(brentq(error, min(a, b), max(a, b), rtol=1e-9))
        a, fa = b, fb
    return None


__all__ = ["Case"]
