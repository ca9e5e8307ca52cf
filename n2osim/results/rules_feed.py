"""Limits on the feed: what takes flow ahead of the jets, and bottles that stand apart."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from n2osim.hardware.feed import Feed
from n2osim.numbers import both
from n2osim.results.gas_drawn import GAS, first_row
from n2osim.results.judge import Case, Limit, Reading
from n2osim.scenario.schedule import Item
from n2osim.units import PSI

if TYPE_CHECKING:
    from n2osim.results.run import Run

PART_NAMES = {
    "pickup": "pick-up tube",
    "bottle_valve": "bottle valve",
    "line": "line",
    "valve": "solenoid valve",
    "distribution": "distribution",
}
"""The parts of a feed as people call them."""

MOST_LOSS = 0.10
"""Share of the jets' own flow that the parts ahead of them may take unremarked (no source)."""
SEVERE_LOSS = 0.25
"""Share from which the loss is a warning rather than a note (no source)."""
COMPARED = (281.0, 283.2)
"""K: temperatures of the measured flows that the orifice models were compared with."""
NEAR = 5.0
"""K beyond them that is not remarked on (no source)."""
APART = 1.7e5
"""Pa (25 psi): bottles on one manifold that stand further apart are remarked on (no source)."""
FAR_APART = 300.0 * PSI
"""Pa from which that is a danger: pounds pour over at once, whatever room there is (no source)."""


class Bottleneck(NamedTuple):
    """What a feed loses ahead of its jets at one state of the bottle.

    flow, jets_alone: kg/s with and without the parts ahead of the jets. part: name of the one that
    costs most. chokes: whether flow chokes there.
    """

    flow: float
    jets_alone: float
    part: str
    chokes: bool

    @property
    def loss(self) -> float:
        """Share of the jets' own flow that is lost."""
        return 1.0 - self.flow / self.jets_alone if self.jets_alone > 0.0 else 0.0


def bottleneck(feed: Feed, temperature: float, density: float, p_back: float) -> Bottleneck | None:
    """The bottleneck of a feed drawing from a bottle at (K, kg/m3) against ``p_back`` (Pa abs.).

    The part that costs most is the one without which most would flow. None for jets alone.
    """
    from n2osim.physics.feed_state import drawn_at, feed_flow

    names = [name for name, _ in feed.parts if name != "jets"]
    if not names:
        return None
    drawn = drawn_at(temperature, density)
    whole = feed_flow(feed, drawn, p_back)
    alone = feed_flow(Feed(feed.jets, model=feed.model), drawn, p_back)
    if not (math.isfinite(whole.flow) and alone.flow > 0.0):
        return None
    if whole.chokes_at in names:
        return Bottleneck(whole.flow, alone.flow, whole.chokes_at, True)
    without: dict[str, float] = {}
    for n in names:
        changed: dict[str, Any] = {n: None}
        without[n] = feed_flow(dataclasses.replace(feed, **changed), drawn, p_back).flow
    return Bottleneck(whole.flow, alone.flow, max(without, key=without.__getitem__), False)


def bottleneck_of(run: Run, index: int, name: str) -> Bottleneck | None:
    """Bottleneck of feed ``name`` at the first flow of segment ``index`` from liquid; or None.

    Several bottles: the one of highest pressure, with valves and tubes of as many beside each
    other as there are bottles.
    """
    from n2osim.engine.pack import back_pressure

    firsts = [
        (v, row)
        for v in run.views
        if (s := v.summary_of(index)) is not None and (row := first_row(v, s)) is not None
    ]
    if not firsts:
        return None
    v, row = max(firsts, key=lambda x: float(x[0].gauge[x[1]]))
    if run.gas_share[row] > GAS:
        return None
    feed = _beside_each_other(run.scenario.feed_named(name), len(run.scenario.bottles))
    return bottleneck(
        feed, float(v.temperature[row]), float(v.density[row]), back_pressure(run.scenario, name)
    )


def _beside_each_other(feed: Feed, count: int) -> Feed:
    """The feed with its branches (bottle valve, pick-up) put together into one of their area."""
    if count == 1:
        return feed
    valve, tube = feed.bottle_valve, feed.pickup
    if valve is not None:
        valve = dataclasses.replace(valve, bore=None, area=count * valve.flow_area)
    if tube is not None:
        tube = dataclasses.replace(tube, bore=math.sqrt(count) * tube.bore)
    return dataclasses.replace(feed, bottle_valve=valve, pickup=tube)


def feeds_of(run: Run, item: Item) -> list[str]:
    """Names of the feeds that a pass or purge opens; none for a prescribed outflow."""
    scenario = run.scenario
    wanted = [s.feed for s in item.streams if s.meter != "mass flow"]
    return [scenario.feeds[scenario.feed_index(n)][0] for n in wanted]


def worst_bottleneck(run: Run, index: int) -> Bottleneck | None:
    """The feed of a pass that loses most ahead of its jets, where that is worth a remark."""
    found = [
        b
        for name in feeds_of(run, run.scenario.schedule[index])
        if (b := bottleneck_of(run, index, name)) is not None
    ]
    worst = max(found, key=lambda b: b.loss, default=None)
    return worst if worst is not None and (worst.chokes or worst.loss > MOST_LOSS) else None


def _restricted(case: Case) -> Iterator[Reading]:
    """Flow that chokes, or loses more than a tenth, ahead of the jets: once per feed."""
    run, seen = case.run, set()
    for k, item in run.begun:
        for name in feeds_of(run, item) if item.feeds_engine else []:
            b = None if name in seen else bottleneck_of(run, k, name)
            if b is not None:
                seen.add(name)
                yield _loss(run, k, name, b)


def _loss(run: Run, k: int, name: str, b: Bottleneck) -> Reading:
    part = PART_NAMES[b.part]
    where = f'the {part} of feed "{name}"' if len(run.scenario.feeds) > 1 else f"the {part}"
    return Reading(
        b.loss,
        MOST_LOSS,
        next(s.start_time for s in run.segments if s.index == k),
        key=name,
        beyond=b.chokes or b.loss > MOST_LOSS,
        severity="warning" if b.chokes or b.loss > SEVERE_LOSS else "note",
        details={
            "what": f"flow chokes in {where}, ahead of the jets"
            if b.chokes
            else f"the parts ahead of the jets take flow, {where} most of it",
            "flow": both(b.flow, "mass_flow"),
            "alone": both(b.jets_alone, "mass_flow"),
            "part": part,
        },
    )


def _unequal(case: Case) -> Iterator[Reading]:
    """Bottles on one manifold that stand apart when it is opened: one fills the other."""
    run = case.run
    if len(run.scenario.bottles) < 2:
        return
    for k, item in run.begun:
        stages = getattr(item, "stages", ())
        if not feeds_of(run, item) or (stages and all(s.bottle is not None for s in stages)):
            continue
        rows = run.rows_of(k)
        row = rows.start
        if np.isfinite(run["pressure_gauge_Pa"][:, row]).sum() < 2:  # the others have left
            continue
        if (run["outflow_kg_s"][:, rows] > 0.0).any():
            yield _apart(run, k, row)


def _apart(run: Run, k: int, row: int) -> Reading:
    moved = np.diff(run["mass_out_kg"][:, run.rows_of(k)], axis=1)
    gauge = run["pressure_gauge_Pa"][:, row]
    names = [b.name for b in run.scenario.bottles]
    apart = float(np.nanmax(gauge) - np.nanmin(gauge))
    return Reading(
        apart,
        APART,
        float(run.time[row]),
        severity="danger" if apart > FAR_APART else None,
        details={
            "high": names[int(np.nanargmax(gauge))],
            "low": names[int(np.nanargmin(gauge))],
            "moved": both(-float(np.nansum(np.minimum(moved, 0.0))), "mass"),
            "item": f"{run.scenario.schedule[k].kind} {k + 1}",
        },
    )


def _beyond_the_data(case: Case) -> Reading | None:
    """Liquid drawn through jets at temperatures where no orifice model was compared with data."""
    run = case.run
    metered = np.array([bool(feeds_of(run, item)) for item in run.scenario.schedule])
    liquid = (run["outflow_kg_s"] > 0.0) & metered[run["segment"]] & (run.gas_share <= GAS)
    if not liquid.any():
        return None
    T = np.where(liquid, run["fluid_temperature_K"][:, 0], np.nan)
    high, low = float(np.nanmax(T)), float(np.nanmin(T))
    warm = high - COMPARED[1] > COMPARED[0] - low
    far = high if warm else low
    rows = np.equal(T, far).any(axis=0)
    return Reading(
        far,
        COMPARED[1] if warm else COMPARED[0],
        float(run.time[int(rows.argmax())]),
        beyond=not COMPARED[0] - NEAR < far < COMPARED[1] + NEAR,
        limit_is=f"compared {'up' if warm else 'down'} to",
    )


FEED_LIMITS = (
    Limit(
        "flow-restricted",
        "car",
        _restricted,
        "warning",
        "{what}: the jets pass {flow} instead of the {alone} that they would pass alone",
        kind="fraction",
        value_is="lost",
        limit_is="flagged above",
        cause="feed",
        bound_from="rule",
        person="after a larger {part}, size jets and fuel jets anew (more N2O on the same fuel is "
        "leaner); or keep it and size both with it in place",
    ),
    Limit(
        "bottles-unequal",
        "car",
        _unequal,
        "warning",
        'bottle "{high}" stands above bottle "{low}" when both are opened onto one manifold: '
        "{moved} flows from bottle to bottle during {item}, not to the jets; one fills the other "
        "and can overfill it",
        quantity="bottles_apart_Pa",
        value_is="apart",
        limit_is="flagged above",
        cause="manifold",
        bound_from="rule",
        person="never more charge in a bottle than it is rated for: weigh both before either is "
        "warmed again",
    ),
    Limit(
        "flow-beyond-data",
        "car",
        _beyond_the_data,
        "note",
        "the orifice model is used beyond the data it was compared with: one orifice with liquid "
        "at 46 to 50 degF (8 to 10 degC), whether or not its own range covers it; flow, mixture "
        "and power here are extrapolated",
        kind="temperature",
        value_is="liquid drawn at",
        cause="model",
        source="model page, Orifices: Waxman et al., AIAA 2013-3636, injector 3",
        person="flow-test the jets with nitrous oxide, or fit a log of a pass; run it again with "
        "another model of the feed to see how much hangs on it",
        information=True,
    ),
)
