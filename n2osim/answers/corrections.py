"""Tables for the trailer wall: what a pressure error costs, and what one gauge pressure gives at
other bottle weights, judged as a pass is."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from n2osim.answers.answer import Answer, Column, Figure, Listing
from n2osim.answers.fields import first_of
from n2osim.answers.judge import BAND_SLACK, at_rest, full_flow, launch_pressure
from n2osim.answers.passes import refill_mark
from n2osim.engine.pack import back_pressure
from n2osim.errors import InputError, IntegrationError, N2OSimError, NoSolutionError, RangeError
from n2osim.hardware.cylinder_rules import EXPOSURE_LIMIT
from n2osim.physics.charge import LIQUID_FULL, leaves_saturation, temperature_for_pressure
from n2osim.physics.feed_state import feed_flow
from n2osim.physics.flow_range import slope_range
from n2osim.results.engine_side import accounting, engine_point
from n2osim.results.flow_ranges import mounted_at_pressure
from n2osim.results.holds import switch_of
from n2osim.results.run import simulate
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass, Rest
from n2osim.units import HP, PSI, format_quantity, parse, parse_many

SAME_FLOW = 0.005
"""Change of flow that is not worth a change of pressure."""
REFILL = "refill first"
JETS_ONLY = "jets only"
_SHARES = tuple(np.linspace(1.0, 0.2, 9))
_GAUGE_SPAN = 2.5e6  # Pa either way of the reference in which a pressure is looked for
_BORES = (1.0, 0.6, 1.6)  # factor on the bore: from where, and the least and the most looked at


def drawing_feed(scenario: Scenario, feed: str | None = None) -> str:
    """Name of a feed: as given, that of the first pass, or the first that is no purge."""
    item = first_of(scenario, Pass)
    return scenario.feeds[scenario.feed_index(feed or (item.feed if item else None))][0]


def _resting_run(scenario: Scenario, gauge: float, share: float = 1.0) -> Any:
    """Run of the first pass (or a second of rest) from rest at a gauge pressure."""
    item: Any = first_of(scenario, Pass) or Rest(1.0)
    return simulate(at_rest(scenario, share, gauge, item))


# --- pressure errors -----------------------------------------------------------------------------
_ERRORS = (
    Column("error", "error", "pressure_difference"),
    Column("pressure_gauge", "gauge", "gauge_pressure"),
    Column("temperature", "bottle at", "temperature"),
    Column("density", "drawn", "density"),
    Column("flow", "flow", "mass_flow"),
    Column("power", "power", "engine_power"),
    Column("power_error", "off by", "engine_power"),
    Column("mixture", "mixture", "number"),
)


def pressure_error_table(
    scenario: Scenario,
    at_pressure: Any = None,
    errors: Sequence[Any] | None = None,
    charge: Any = None,
    feed: str | None = None,
) -> Answer:
    """Power and mixture as the valve opens, when the bottle is not at the pressure meant.

    at_pressure : GAUGE pressure (Pa; default: the switch's opening point). errors : differences
    from it (Pa, "-50 psi"); default -100 to +100 psi. charge : kg (default: the first bottle's).
    Fuel jets keep their flow, so the mixture drifts. Pressures that the charge cannot stand at are
    left out. Figures ``hp_per_psi`` and ``mixture_per_psi`` are slopes at the reference with what
    is known of them (:func:`~n2osim.physics.flow_range.slope_range`); withheld where not even their
    sign is known. ``power_per_pressure_range`` and ``mixture_per_pressure_range``: that, per Pa.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "12 lb"), fill="9.8 lb", start="70 degF",
    ...     feed=n2.Feed(n2.Jets(1, "0.052 in")),
    ...     engine=n2.EngineSide(fuel_jets=n2.Jets(1, "0.0235 in"), fuel_pressure="44 psig"),
    ... )
    >>> table = n2.pressure_error_table(car, "980 psig", ["-40 psi", "0 psi", "40 psi"])
    >>> table.get("power_error", "hp").round(1)
    array([ 1.1,  0. , -3.4])
    """
    if scenario.engine is None:
        raise InputError("engine", None, "", "a scenario with an engine", "power needs one")
    gauge = launch_pressure(scenario, at_pressure)
    first = scenario.bottles[0]
    held = first.fill if charge is None else parse(charge, "mass", name="charge", low=1e-6)
    given = [k * PSI for k in range(-100, 101, 20)] if errors is None else errors
    offs = sorted(
        {0.0, *parse_many(given, "pressure_difference", name="pressure errors", low=-gauge)}
    )
    name = drawing_feed(scenario, feed)
    rows = _error_rows(scenario, name, held, gauge, offs)
    if len(rows) < 2 or all(r["error"] for r in rows):
        raise InputError(
            "pressure", gauge, "Pa gauge", "pressures that this charge can stand at", ""
        )
    zero = next(r for r in rows if r["error"] == 0.0)
    lost = len(offs) - len(rows)
    run = _resting_run(scenario, gauge, held / first.fill)
    slopes, more = _told_slopes(scenario, name, held, rows)
    lean = ("lean there: the fuel decides the power",) if zero["mixture"] < 1.0 else ()
    return Answer(
        f"What a pressure error costs: {scenario.title}",
        (
            Figure("at", "set up for", gauge, "gauge_pressure"),
            Figure("power", "power there", zero["power"], "engine_power"),
            Figure("mixture", "mixture there (above 1: rich)", zero["mixture"], "number"),
            *slopes,
        ),
        run.scenario,
        run,
        notes=(
            "as the valve opens, with jets and fuel pressure as fitted: the fuel does not follow "
            "the bottle",
            accounting(scenario.engine),
            *lean,
            *([f"left out: {lost} pressures at which this charge cannot stand"] if lost else []),
            *_several(scenario),
        ),
        listings=(Listing("By pressure", _ERRORS, rows),),
        more=more,
    )


Ends = tuple[float, float]


def _told_slopes(
    scenario: Scenario, name: str, held: float, rows: Sequence[dict[str, Any]]
) -> tuple[tuple[Figure, ...], dict[str, Any]]:
    """Slopes at the reference as figures, and as numbers with their ranges."""
    near = sorted(rows, key=lambda r: abs(r["error"]))[:3]
    power, mixture = (
        float(np.polyfit([r["error"] for r in near], [r[n] for r in near], 1)[0])
        for n in ("power", "mixture")
    )
    powers, mixtures = _slopes(scenario, name, held, near)
    hp, shift = _slope_words(power, powers, PSI / HP, 3), _slope_words(mixture, mixtures, PSI, 5)
    return (
        Figure("hp_per_psi", "hp for each psi more", hp),
        Figure("mixture_per_psi", "mixture for each psi more", shift),
    ), {
        "power_per_pressure": power,
        "mixture_per_pressure": mixture,
        "power_per_pressure_range": powers,
        "mixture_per_pressure_range": mixtures,
    }


def _slopes(
    scenario: Scenario, name: str, held: float, near: Sequence[dict[str, Any]]
) -> tuple[Ends, Ends]:
    """Least and largest change of power (W/Pa) and mixture (1/Pa), around the reference rows."""
    engine, bottle = scenario.engine, scenario.bottles[0]
    assert engine is not None
    gauges = [row["pressure_gauge"] for row in near]
    span = max(gauges) - min(gauges)
    colder, warmer = (
        mounted_at_pressure(bottle, held, g, scenario.ambient.pressure)
        for g in (min(gauges), max(gauges))
    )
    gains = slope_range(scenario.feed_named(name), colder, warmer, back_pressure(scenario, name))
    flow = next(row["flow"] for row in near if row["error"] == 0.0)
    powers, mixtures = [], []
    for gain in gains:
        low, high = (engine_point(engine, flow * math.exp(s * gain)) for s in (-0.5, 0.5))
        powers.append((high.power - low.power) / span)
        mixtures.append((high.equivalence - low.equivalence) / span)
    return (min(powers), max(powers)), (min(mixtures), max(mixtures))


def _slope_words(slope: float, ends: Ends, scale: float, digits: int) -> str:
    """A slope with its range; the range alone where its sign is not known."""
    low, high = (f"{x * scale:+.{digits}f}" for x in ends)
    if ends[0] < 0.0 < ends[1]:
        return f"not known in sign: {low} to {high}"
    return f"{slope * scale:+.{digits}f} ({low} to {high})"


def _several(scenario: Scenario) -> tuple[str, ...]:
    return () if len(scenario.bottles) == 1 else ("every bottle taken to be as the first",)


def _error_rows(
    scenario: Scenario, name: str, held: float, gauge: float, offs: Sequence[float]
) -> tuple[dict[str, Any], ...]:
    feed, p_back = scenario.feed_named(name), back_pressure(scenario, name)
    bottle, air, engine = scenario.bottles[0], scenario.ambient.pressure, scenario.engine
    assert engine is not None
    rows: list[dict[str, Any]] = []
    for off in offs:
        try:
            drawn = mounted_at_pressure(bottle, held, gauge + off, air)
        except (NoSolutionError, RangeError):
            continue
        flow = feed_flow(feed, drawn, p_back).flow
        point = engine_point(engine, flow)
        rows.append(
            {
                "error": off,
                "pressure_gauge": gauge + off,
                "temperature": drawn.temperature,
                "density": drawn.density,
                "flow": flow,
                "power": point.power,
                "mixture": point.equivalence,
                "two_phase": drawn.two_phase,
            }
        )
    zero = next((r["power"] for r in rows if r["error"] == 0.0), 0.0)
    return tuple({**r, "power_error": r["power"] - zero} for r in rows)


# --- by weight -----------------------------------------------------------------------------------
def correction_table(
    scenario: Scenario,
    at_pressure: Any = None,
    charges: Sequence[Any] | None = None,
    pass_: Pass | None = None,
    feed: str | None = None,
) -> Answer:
    """What the same gauge pressure gives at other bottle weights, and how to keep the flow.

    at_pressure : Pa gauge (default: the switch's opening point). charges : kg (default: the
    scenario's fill, which is the reference, down to 20 % of it). pass_ : compare mean flows at full
    opening over this pass, simulated from rest at that pressure; None compares the flow at the
    instant the valve opens. Charges that cannot stand at the pressure are left out.

    Each row says what to set the gauge to (``setting``), or in ``verdict`` why not: "refill first"
    (below the one refill mark of :func:`~n2osim.answers.passes.refill_mark`, or above 125 degF),
    "jets only" (no pressure brings the flow back), "above the band", "not advised" (full of liquid,
    or above the service mark); ``jet_factor``: or by what the bore changes instead.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "12 lb"), fill="9.6 lb", start="70 degF",
    ...     feed=n2.Feed(n2.Jets(1, "0.052 in")),
    ... )
    >>> table = n2.correction_table(car, "880 psig", charges=["9.6 lb", "6 lb", "3.3 lb"])
    >>> print(f"{table.get('flow_change', '%')[-1]:.0f} % flow with 3.3 lb")
    -42 % flow with 3.3 lb
    """
    if pass_ is not None:
        _check_pass(scenario, pass_)
    gauge = launch_pressure(scenario, at_pressure)
    case = _Case(scenario, gauge, pass_, drawing_feed(scenario, feed))
    full = scenario.bottles[0].fill
    held = [full * share for share in _SHARES]
    if charges is not None:
        held = list(parse_many(charges, "mass", name="charges", low=0.0, low_open=True))
    reference = case.flow(full, gauge, 1.0)
    mark = _mark_of(scenario, gauge)
    rows = tuple(case.rows(sorted(held, reverse=True), reference, mark))
    if not rows:
        raise InputError("charges", held, "kg", "one that can stand at that pressure", "heavier")
    run = _resting_run(scenario, gauge)
    return Answer(
        f"Correction by bottle weight: {scenario.title}",
        (
            Figure("pressure", "gauge pressure", gauge, "gauge_pressure"),
            Figure("reference_charge", "flow against that of", full, "mass"),
            Figure("flow", "flow then", reference, "mass_flow"),
            Figure("refill_below", "refill below a charge of", mark, "mass"),
        ),
        run.scenario,
        run,
        notes=tuple(_words(case, len(held) - len(rows))),
        listings=(Listing("By bottle weight", _columns(gauge), rows),),
    )


def _check_pass(scenario: Scenario, item: Pass) -> None:
    if item.outflow is not None or item.target_flow is not None:
        valid, remedy = "a pass metered by its jets", "it needs no correction"
        raise InputError("pass", "prescribed flow", "", valid, remedy)
    if len(scenario.bottles) > 1:
        given, remedy = f"{len(scenario.bottles)} bottles", "compare flows as the valve opens"
        raise InputError("mean over the pass", given, "", "one bottle", remedy)


def _mark_of(scenario: Scenario, gauge: float) -> float | None:
    """Charge of the first bottle at the refill mark; None where none can be told."""
    if first_of(scenario, Pass) is None:
        return None
    try:
        return refill_mark(scenario, None, None, gauge).scenario.bottles[0].fill
    except N2OSimError:
        return None


def _columns(gauge: float) -> tuple[Column, ...]:
    shown = format_quantity(gauge, "gauge_pressure")
    return (
        Column("weight", "on the scale", "mass"),
        Column("charge", "N2O in it", "mass"),
        Column("temperature", f"reads {shown} at", "temperature"),
        Column("density", "drawn", "density"),
        Column("flow", "flow", "mass_flow"),
        Column("flow_change", "change", "fraction"),
        Column("shown", "set gauge to", "gauge_pressure"),
        Column("jet_factor", "or bore x", "number"),
    )


def _words(case: _Case, lost: int) -> Iterator[str]:
    how = "at full opening, mean over the pass" if case.pass_ else "as the valve opens"
    yield f"flow {how}; either set the gauge or change the jets"
    yield (
        f"{REFILL}: below the refill mark, or only above "
        f"{format_quantity(EXPOSURE_LIMIT, 'temperature')}; {JETS_ONLY}: no pressure brings the "
        "flow back; above the band: the switch opens lower; not advised: full of liquid there, or "
        "above the service mark"
    )
    empty = format_quantity(case.scenario.bottles[0].bottle.empty_mass, "mass")
    yield f"scale readings count {empty} for the empty bottle: use yours"
    if lost:
        yield f"left out: {lost} that cannot stand at that pressure"
    yield from _several(case.scenario)


@dataclass(frozen=True)
class _Case:
    """A scenario's first bottle and one of its feeds, at a gauge pressure (Pa)."""

    scenario: Scenario
    gauge: float
    pass_: Pass | None
    feed: str

    def flow(self, charge: float, gauge: float, bore_factor: float) -> float:
        """Flow (kg/s): when the valve opens, or the mean at full opening over the pass."""
        feed = self.scenario.feed_named(self.feed)
        jets = dataclasses.replace(feed.jets, bore=feed.jets.bore * bore_factor)
        feed = dataclasses.replace(feed, jets=jets)
        bottle, air = self.scenario.bottles[0], self.scenario.ambient.pressure
        if self.pass_ is None:
            drawn = mounted_at_pressure(bottle, charge, gauge, air)
            return feed_flow(feed, drawn, back_pressure(self.scenario, self.feed)).flow
        feeds = tuple((n, feed if n == self.feed else f) for n, f in self.scenario.feeds)
        changed = self.scenario.replace(feeds=feeds)
        run = simulate(at_rest(changed, charge / bottle.fill, gauge, self.pass_))
        mean = full_flow(run, 0).mean
        if not mean > 0.0:
            raise NoSolutionError(
                f"nothing flows in the pass at {format_quantity(gauge, 'gauge_pressure')}: its "
                "arming window or its delivery holds it shut, so there is no flow to correct for"
            )
        return mean

    def rows(
        self, charges: Sequence[float], reference: float, mark: float | None
    ) -> Iterator[dict[str, Any]]:
        """A row for each charge that can stand at the pressure."""
        fitted, air = self.scenario.bottles[0], self.scenario.ambient.pressure
        for charge in charges:
            try:
                drawn = mounted_at_pressure(fitted, charge, self.gauge, air)
                flow = self.flow(charge, self.gauge, 1.0)
            except (NoSolutionError, RangeError):
                continue
            change = flow / reference - 1.0
            setting = self._setting(charge, reference, change)
            verdict = self._verdict(charge, drawn.temperature, setting, mark)
            refused = verdict == REFILL
            yield {
                "charge": charge,
                "weight": charge + fitted.bottle.empty_mass,
                "temperature": drawn.temperature,
                "density": drawn.density,
                "two_phase": drawn.two_phase,
                "flow": flow,
                "flow_change": change,
                "setting": setting,
                "gauge_change": None if setting is None else setting - self.gauge,
                "verdict": verdict,
                "shown": verdict or setting,
                "jet_factor": None if refused else self._factor(charge, reference, change),
            }

    def _factor(self, charge: float, reference: float, change: float) -> float | None:
        """By what the bore changes for the reference flow at the same pressure; None: nothing."""
        if abs(change) < SAME_FLOW:
            return 1.0
        return _solve(lambda k: self.flow(charge, self.gauge, k) / reference - 1.0, *_BORES)

    def _setting(self, charge: float, reference: float, change: float) -> float | None:
        """Gauge pressure (Pa) with which the reference flow comes back; None: none does."""
        if abs(change) < SAME_FLOW:
            return self.gauge
        low, high = max(1e5, self.gauge - _GAUGE_SPAN), self.gauge + _GAUGE_SPAN
        return _solve(lambda g: self.flow(charge, g, 1.0) / reference - 1.0, self.gauge, low, high)

    def _verdict(
        self, charge: float, temperature: float, setting: float | None, mark: float | None
    ) -> str:
        """Why the setting is not to be used; "" where it is."""
        if temperature > EXPOSURE_LIMIT or (mark is not None and charge < mark * (1.0 - 1e-9)):
            return REFILL
        if setting is None:
            return REFILL if mark is None else JETS_ONLY
        fitted = self.scenario.bottles[0]
        try:
            p = setting + self.scenario.ambient.pressure
            T = float(temperature_for_pressure(p, charge, fitted.bottle.volume))
        except NoSolutionError:
            return REFILL
        if T > EXPOSURE_LIMIT:
            return REFILL
        if setting > self.gauge and _cramped(setting, T, charge, fitted.bottle):
            return "not advised"
        switch = switch_of(self.scenario, fitted.name)
        if switch is not None and setting != self.gauge:
            slack = BAND_SLACK * (switch.opens - switch.closes)
            if setting > max(self.gauge, switch.opens) + slack:
                return "above the band"
        return ""


def _cramped(gauge: float, T: float, charge: float, bottle: Any) -> bool:
    """Whether a raised pressure means a bottle full of liquid, or one above its service mark."""
    leaves, how = leaves_saturation(charge / bottle.volume)
    full = how == LIQUID_FULL and leaves <= T
    marked = bottle.service_pressure is not None and gauge > bottle.service_pressure
    return full or marked


def _solve(error: Callable[[float], float], start: float, low: float, high: float) -> float | None:
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
            return float(brentq(error, min(a, b), max(a, b), rtol=1e-6))
        a, fa = b, fb
    return None
