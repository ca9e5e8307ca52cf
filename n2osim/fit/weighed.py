"""Jets from weighed passes: bottle weight before and after, seconds open, gauge before.

    found = weighed_jets(scenario, [WeighedPass("27.40 lb", "24.95 lb", "8.0 s", "1005 psig")])
    print(found)
    found.scenario.to_toml("mine.toml")

Every pass is simulated from the charge and gauge pressure it began with, through the scenario's own
feed; what the scale saw leave decides the effective area. The estimator is that of a fit to a log
(:mod:`~n2osim.fit.calibrate_fit`): robust least squares on residuals weighed by their own spread.
That spread is worked out from the errors of scale, stopwatch, gauge and empty mass and how each
moves what the model expects; the error of the empty mass is common to all passes. Passes that
disagree by more than their errors widen the interval.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.stats import t as student

from n2osim.engine.pack import back_pressure
from n2osim.errors import InputError, NoSolutionError
from n2osim.fit.area_maps import interpolated_map
from n2osim.fit.calibrate_fit import Problem, solve
from n2osim.fit.course import course
from n2osim.hardware.jets import Jets
from n2osim.numbers import Units
from n2osim.physics.charge import temperature_for_pressure
from n2osim.physics.feed_state import drawn_at
from n2osim.physics.flow_range import FlowRange, flow_range
from n2osim.results.frames import without_nan
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass
from n2osim.scenario.weighed import WeighedPass

_WIDEST = math.log(4.0)  # from the jets' own area either way, in which it is looked for
_GOAL = 0.02
"""Half width of the interval that the advice aims at: the mixture is then within 2 %."""


@dataclass(frozen=True)
class WeighedJets:
    """What weighed passes say about the jets of a feed.

    area : effective area, m2; cd per jet (above 1 where the jets are larger than stated).
    half_width : of the 95 % interval, relative, of both. used, expected : kg a pass, weighed and by
    the fitted model. shares : what the interval comes from (parts of the variance). inside :
    whether the interval meets the range known beforehand; range : that range, as areas, m2.
    temperature : K, of what was drawn. spread : how far passes disagree, in their own errors (nan
    for one). gauge_after : differences, read less model, Pa (nan where not read). advice : what to
    weigh next. scenario : with the jets as they are now known.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "12 lb"), fill="10 lb", start="73 degF",
    ...     feed=n2.Feed(n2.Jets(2, "0.03 in")),
    ... )
    >>> found = n2.weighed_jets(car, [n2.WeighedPass("31.20 lb", "29.87 lb", "21 s", "840 psig")])
    >>> print(f"{1e6 * found.area:.2f} mm2, in the range known before: {found.inside}")
    0.80 mm2, in the range known before: True
    """

    feed: str
    jets: Jets
    area: float
    cd: float
    half_width: float
    used: tuple[float, ...]
    expected: tuple[float, ...]
    shares: dict[str, float]
    range: tuple[float, float]
    inside: bool
    temperature: float
    spread: float
    gauge_after: tuple[float, ...]
    advice: tuple[str, ...]
    scenario: Scenario

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval of the discharge coefficient."""
        return self.cd * (1.0 - self.half_width), self.cd * (1.0 + self.half_width)

    def text(self, system: str = "shop") -> str:
        """In words and figures."""
        u = Units(system)
        low, high = self.interval
        lines = [
            f"jets of feed {self.feed} from {len(self.used)} weighed pass(es), liquid at "
            f"{u.full(self.temperature, 'temperature')}",
            f"  effective area   {self.area * 1e6:.4g} mm2 +- {self.half_width:.1%} (95 %)",
            f"  cd per jet       {self.cd:.3f}, between {low:.3f} and {high:.3f}",
            f"  known before     {self.range[0] * 1e6:.4g} to {self.range[1] * 1e6:.4g} mm2: "
            + ("the weighing lies in it" if self.inside else "THE WEIGHING LIES OUTSIDE IT"),
        ]
        for k, (seen, model) in enumerate(zip(self.used, self.expected, strict=True)):
            lines.append(
                f"  pass {k + 1}: {u.full(seen, 'mass')} weighed, {u.full(model, 'mass')} expected"
                + self._after(k, u)
            )
        lines += [f"  {text}" for text in self.advice]
        return "\n".join(lines)

    def _after(self, k: int, u: Units) -> str:
        off = self.gauge_after[k]
        if math.isnan(off):
            return ""
        more = "above" if off > 0.0 else "below"
        return f"; gauge after {u.full(abs(off), 'pressure_difference')} {more} the model"

    __str__ = text

    def as_dict(self) -> dict[str, Any]:
        """Plain numbers and texts, SI."""
        out = {
            f.name: getattr(self, f.name)
            for f in dataclasses.fields(self)
            if f.name not in ("jets", "scenario")
        }
        out |= {"cd_interval": self.interval, "jets": self.jets.as_dict()}
        return out | without_nan({"gauge_after": self.gauge_after, "spread": self.spread})


# --- model of one pass ---------------------------------------------------------------------------
@dataclass(frozen=True)
class _Bench:
    """The scenario with which weighed passes are simulated: one bottle, its feed alone."""

    scenario: Scenario
    feed: str

    def run(
        self, weighed: WeighedPass, area: float, gauge: float = 0.0, empty: float = 0.0
    ) -> tuple[Any, float]:
        """(course, start temperature) of a pass; gauge (Pa) and empty (kg) move readings."""
        first = self.scenario.bottles[0]
        charge = weighed.before - first.bottle.empty_mass - empty
        start = self._temperature(weighed, charge, weighed.gauge + gauge)
        feed = self.scenario.feed_named(self.feed)
        feed = dataclasses.replace(feed, jets=feed.jets.with_area(area))
        fitted = dataclasses.replace(first, fill=charge, start=start, wall_start=None)
        scenario = dataclasses.replace(
            self.scenario,
            bottles=(fitted,),
            feeds=((self.feed, feed),),
            schedule=(Pass(weighed.seconds, feed=self.feed),),
        )
        return course(scenario, interpolated_map), start

    def _temperature(self, weighed: WeighedPass, charge: float, gauge: float) -> float:
        """At rest, K. InputError where scale and gauge cannot both be right of this bottle."""
        bottle, air = self.scenario.bottles[0].bottle, self.scenario.ambient.pressure
        weight, remedy = f"{bottle.empty_mass:.6g} kg", "give the bottle's own empty mass"
        if not charge > 0.0:
            valid = f"above the empty bottle's {weight}"
            raise InputError("weight before", weighed.before, "kg", valid, remedy)
        try:
            return float(temperature_for_pressure(gauge + air, charge, bottle.volume))
        except NoSolutionError:
            valid = (
                f"one that can stand at the gauge's pressure: above the empty bottle's {weight} it "
                f"makes a charge of {charge:.4g} kg in {1e3 * bottle.volume:.4g} L"
            )
            remedy = f"check gauge and scale, and {remedy}"
            raise InputError("weight before", weighed.before, "kg", valid, remedy) from None

    def used(self, weighed: WeighedPass, area: float, moved: dict[str, float]) -> float:
        """What a pass should use, kg, with some readings moved by their errors."""
        seconds = weighed.seconds + moved.get("timing", 0.0)
        weighed = dataclasses.replace(weighed, seconds=max(seconds, 0.1))
        found, _ = self.run(weighed, area, moved.get("gauge", 0.0), moved.get("empty mass", 0.0))
        if found is None:
            raise NoSolutionError("a weighed pass cannot be simulated: check its readings")
        return float(found.mass[0] - found.mass[-1])


def _errors(bench: _Bench, weighed: WeighedPass, area: float) -> dict[str, float]:
    """By how much (relative) each error moves what was weighed against what is expected."""
    base = bench.used(weighed, area, {})
    out = {"scale": math.sqrt(2.0) * weighed.scale_error / weighed.used}
    for name, size in (
        ("timing", weighed.timing_error),
        ("gauge", weighed.gauge_error),
        ("empty mass", weighed.empty_error),
    ):
        out[name] = bench.used(weighed, area, {name: size}) / base - 1.0 if size > 0.0 else 0.0
    return out


def _covariance(errors: Sequence[dict[str, float]]) -> np.ndarray:
    """Of the relative residuals: own errors on the diagonal, the empty mass common to all."""
    own = [sum(v * v for k, v in e.items() if k != "empty mass") for e in errors]
    common = np.array([e["empty mass"] for e in errors])
    return np.diag(own) + np.outer(common, common) + 1e-12 * np.eye(len(errors))


# --- estimate ------------------------------------------------------------------------------------
def weighed_jets(
    scenario: Scenario, passes: Sequence[WeighedPass] | None = None, *, feed: str | None = None
) -> WeighedJets:
    """Effective area and discharge coefficient of a feed's jets from weighed passes.

    Parameters
    ----------
    scenario : the car: one bottle, its feed with the jets as bought; charge, start and schedule are
        not used.
    passes : readings; None takes those of the scenario (``[[weighed]]`` in a file).
    feed : name of the feed that was weighed, None for the first that is not the purge.

    Raises InputError without passes, for several bottles or a feed that is not there;
    NoSolutionError for readings that no jets of a quarter to four times the size explain.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "10 lb"), fill="8.5 lb", start="75 degF",
    ...     feed=n2.Feed(n2.Jets(1, "0.042 in")),
    ... )
    >>> readings = [n2.WeighedPass("23.40 lb", "22.31 lb", "19 s", "870 psig")]
    >>> found = n2.weighed_jets(car, readings)
    >>> print(f"cd {found.cd:.2f} +- {100 * found.half_width:.0f} %")
    cd 0.81 +- 6 %
    """
    given = tuple(scenario.weighed if passes is None else passes)
    if not given or len(scenario.bottles) != 1 or not scenario.feeds:
        raise InputError(
            "weighed passes",
            f"{len(given)} passes, {len(scenario.bottles)} bottles, {len(scenario.feeds)} feeds",
            "",
            "one pass or more, one bottle, a feed",
            "weigh one bottle at a time, with the jets in the scenario",
        )
    name, own = scenario.feeds[scenario.feed_index(feed)]
    bench = _Bench(scenario, name)
    area = own.jets.cda
    for _ in range(2):  # the second time with the errors at the area found
        errors = [_errors(bench, w, area) for w in given]
        covariance = _covariance(errors)
        area, slope = _solve(bench, given, own.jets.cda, covariance)
    used = tuple(w.used for w in given)
    expected = tuple(bench.used(w, area, {}) for w in given)
    weight = np.linalg.inv(covariance)
    variance = 1.0 / float(slope @ weight @ slope)
    off = np.log(np.array(expected) / np.array(used))
    freedom = len(given) - 1
    chi = float(off @ weight @ off) / freedom if freedom else math.nan
    if freedom and chi > float(student.ppf(0.975, freedom)) ** 2:
        variance *= chi
    half = 1.96 * math.sqrt(variance)
    shares = _shares(errors, weight @ slope / float(slope @ weight @ slope))
    spread = math.sqrt(chi) if freedom else math.nan
    return _told(scenario, bench, given, area, half, used, expected, shares, spread)


def _shares(errors: Sequence[dict[str, float]], gain: np.ndarray) -> dict[str, float]:
    """Parts of the variance by what it comes from; the empty mass is one error in all passes."""
    found = {k: float(np.sum((gain * [e[k] for e in errors]) ** 2)) for k in errors[0]}
    found["empty mass"] = float(np.sum(gain * [e["empty mass"] for e in errors])) ** 2
    total = sum(found.values())
    return {k: v / total for k, v in found.items()}


def _solve(
    bench: _Bench, given: tuple[WeighedPass, ...], start: float, covariance: np.ndarray
) -> tuple[float, np.ndarray]:
    """(area, slope of the relative residuals with its logarithm), the fit's own estimator."""
    root = np.linalg.inv(np.linalg.cholesky(covariance))

    def residuals(z: np.ndarray) -> list[np.ndarray]:
        area = start * math.exp(float(z[0]))
        return [root @ [math.log(bench.used(w, area, {}) / w.used) for w in given]]

    problem = Problem(
        residuals,
        [np.arange(float(len(given)))],
        [1.0],
        np.array([-_WIDEST]),
        np.array([_WIDEST]),
        np.array([0.01]),
    )
    first = np.median([math.log(w.used / bench.used(w, start, {})) for w in given])
    z = solve(problem, np.array([float(np.clip(first, -_WIDEST, _WIDEST))]), tolerance=1e-5)
    if abs(abs(z[0]) - _WIDEST) < 1e-3:
        raise NoSolutionError(
            "no jets of a quarter to four times the area given explain what was weighed: check "
            "count and bore, and the readings"
        )
    slope = np.linalg.solve(root, problem.jacobian(z)[:, 0])
    return start * math.exp(float(z[0])), slope


def _told(
    scenario: Scenario,
    bench: _Bench,
    given: tuple[WeighedPass, ...],
    area: float,
    half: float,
    used: tuple[float, ...],
    expected: tuple[float, ...],
    shares: dict[str, float],
    spread: float,
) -> WeighedJets:
    """The answer with its checks, jets and advice."""
    own = scenario.feed_named(bench.feed)
    runs = [bench.run(w, area) for w in given]
    mean = float(np.mean([c.fluid_temperature.mean() for c, _ in runs]))
    after = tuple(
        w.gauge_after - float(c.pressure_gauge[-1]) if w.gauge_after is not None else math.nan
        for w, (c, _) in zip(given, runs, strict=True)
    )
    charge = given[0].before - scenario.bottles[0].bottle.empty_mass
    drawn = drawn_at(runs[0][1], charge / scenario.bottles[0].bottle.volume)
    known = flow_range(own, drawn, back_pressure(scenario, bench.feed))
    # Count, bore, length and edge stay; where the area is larger than the bores, or the jets were
    # an effective area themselves, they become one.
    jets = dataclasses.replace(own.jets.with_cda(area), cd_spread=min(half, 1.0), measured_at=mean)
    bounds = own.jets.cda * known.factors[0], own.jets.cda * known.factors[1]
    feeds = tuple(
        (n, dataclasses.replace(f, jets=jets) if n == bench.feed else f) for n, f in scenario.feeds
    )
    return WeighedJets(
        bench.feed,
        jets,
        area,
        area / own.jets.area,
        half,
        used,
        expected,
        shares,
        bounds,
        area * (1.0 + half) >= bounds[0] and area * (1.0 - half) <= bounds[1],
        mean,
        spread,
        after,
        tuple(_advice(given, half, shares, spread, known)),
        dataclasses.replace(scenario, feeds=feeds, weighed=given),
    )


def _advice(
    given: tuple[WeighedPass, ...],
    half: float,
    shares: dict[str, float],
    spread: float,
    known: FlowRange,
) -> list[str]:
    """What to weigh next, the most useful first."""
    low, high = known.factors
    said = [
        f"the interval is +-{half:.1%}; before the weighing it was {low - 1:+.0%} to "
        f"{high - 1:+.0%}"
    ]
    worst = max(shares, key=lambda k: shares[k])
    if spread > 2.0:
        said.append(
            f"the passes disagree by {spread:.1f} of their own errors: weigh again, and look for a "
            "reading that was mistaken, a valve that opened late or a bottle not at rest"
        )
    if half > _GOAL or len(given) < 2:
        what = {
            "scale": "a longer pass, or a finer scale",
            "timing": f"a pass of {2.0 * given[0].seconds:.0f} s instead of "
            f"{given[0].seconds:.0f} s, or a timer on the solenoid",
            "gauge": "a gauge checked at zero and against the bottle at rest",
            "empty mass": "the empty bottle on the same scale",
        }[worst]
        more = max(1, math.ceil(len(given) * ((half / _GOAL) ** 2 - 1.0)))
        said.append(
            f"next: {what} ({worst} makes {shares[worst]:.0%} of what is not known); or "
            f"{more} more pass(es) like these for +-{_GOAL:.0%}"
        )
    else:
        said.append(
            "next: a pass with the bottle as cold (or as hot) as it will be used, if that is more "
            "than 5 K from these: the jets are known at the temperature they were weighed at"
        )
    return said
