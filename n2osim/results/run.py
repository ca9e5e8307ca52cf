"""``simulate`` and what comes out of it: a :class:`Run` of arrays, events and summaries."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.above import FIGURES, above
from n2osim.engine import layout as L
from n2osim.engine import recorder
from n2osim.engine.advance import Interrupted, run_packed
from n2osim.engine.pack import Packed, pack
from n2osim.errors import InputError, IntegrationError, UnknownNameError
from n2osim.fluid.equation_of_state import T_MAX
from n2osim.results import summaries as sm
from n2osim.results.arrays import Variable, arrays_from_rows
from n2osim.results.frames import Comparable
from n2osim.results.numbers import numbers_table
from n2osim.results.summarise import out_column
from n2osim.results.view import View
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Item

if TYPE_CHECKING:
    from n2osim.answers.remedies import Remedies
    from n2osim.results.engine_side import EngineTrace
    from n2osim.results.findings import Finding

RUN_SCHEMA = 2
"""Version of the JSON and CSV formats."""


@dataclass(frozen=True)
class Event:
    """Something that happened: time (s), name, bottle ("" for the car), gauge pressure (Pa).

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "10 lb"), fill="8.6 lb", start="72 degF",
    ...     heater=n2.Heater("300 W"), switch=n2.PressureSwitch("820 psig", "855 psig"),
    ...     schedule=[n2.Hold("20 min", until_open=True)],
    ... )
    >>> [event.name for event in n2.simulate(car).events]
    ['segment start', 'switch on', 'switch off', 'segment end']
    """

    time: float
    name: str
    bottle: str
    segment: int
    pressure_gauge: float


@dataclass(frozen=True, eq=False)
class Run(Comparable):
    """One scenario carried out.

    ``run.get("hold0.overshoot", "psi")`` reads any quantity in any unit, ``run.numbers("pass*")``
    many of them in SI. ``run["pressure_Pa"]`` gives an array by its unit-bearing name
    (``run.names`` lists them, a mistyped one gets near matches); ``run.variables[name].dims`` says
    what its axes are. Rows just before and just after a switching share their time.
    ``records`` (segment, bottle) is what quantities are made of.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "12 lb"), fill="9.9 lb", start="81 degF",
    ...     feed=n2.Feed(n2.Jets(2, "0.033 in")), schedule=[n2.Pass("8.6 s")],
    ... )
    >>> run = n2.simulate(car)
    >>> print(f"{run.get('pass0.used', 'lb'):.1f} lb in {run.time[-1]:.1f} s")
    0.6 lb in 8.6 s
    >>> print(f"from {run.get('pressure', 'psig').max():.0f} psig")
    from 846 psig
    """

    scenario: Scenario
    variables: dict[str, Variable]
    events: tuple[Event, ...]
    records: np.ndarray
    ending: str
    statistics: dict[str, float] = field(default_factory=dict)

    # --- access ------------------------------------------------------------------------------
    def __getitem__(self, name: str) -> np.ndarray:
        return self.variable(name).values

    def variable(self, name: str) -> Variable:
        """The labelled array of that name; UnknownNameError with near matches otherwise."""
        if name not in self.variables:
            raise UnknownNameError.among("result", name, self.variables)
        return self.variables[name]

    def __contains__(self, name: object) -> bool:
        """Whether :meth:`get` knows the name: an array's, or any quantity's."""
        from n2osim.results.reading import known

        return name in self.variables or known(self, name)

    def __iter__(self) -> Iterator[str]:
        """Over the names of the arrays."""
        return iter(self.variables)

    def at(self, time: Any) -> dict[str, Any]:
        """Every series at one time (s, "12 min") by name, in SI: arrays over the other axes.

        Straight lines between rows; flags and counts as they were last. At a switching, what is
        just after it. InputError for a time outside the run.
        """
        from n2osim.results.reading import at

        return at(self, time)

    @property
    def names(self) -> list[str]:
        """Names of all arrays."""
        return list(self.variables)

    @property
    def time(self) -> np.ndarray:
        """Time, s, shape (time,)."""
        return self["time_s"]

    def get(self, name: str, unit: str = "") -> Any:
        """A quantity by name ("hold0.overshoot", "pass0.mixture_leanest", "pressure") in ``unit``
        (SI without one): a float, None where there is no value, or the array of a series.

        Raises UnknownNameError with near matches, UnitError for a unit of another kind.
        """
        from n2osim.results.reading import get

        return get(self, name, unit)

    def numbers(self, patterns: str | Iterable[str] | None = None) -> dict[str, float]:
        """Quantities by full name, SI, that match names or patterns ("pass*.flow_*"); NaN where
        there is no value. None: all but the engine's (``"*"``: those too)."""
        from n2osim.results.reading import numbers

        return numbers(self, patterns)

    @cached_property
    def segments(self) -> tuple[sm.SegmentSummary, ...]:
        """One summary per segment and bottle, in order of time."""
        return sm.summaries(self.scenario, self.records)

    @property
    def begun(self) -> list[tuple[int, Item]]:
        """Items of the schedule that were begun, each behind its place in it."""
        return list(enumerate(self.scenario.schedule[: int(self["segment"][-1]) + 1]))

    def rows_of(self, index: int) -> slice:
        """Rows that belong to item ``index`` of the schedule."""
        ends = np.searchsorted(self["segment"], (index, index + 1))
        return slice(int(ends[0]), int(ends[1]))

    @cached_property
    def by_item(self) -> dict[tuple[int, str], sm.SegmentSummary]:
        """Summaries by item of the schedule and bottle."""
        return {(s.index, s.bottle): s for s in self.segments}

    @cached_property
    def by_kind(self) -> dict[tuple[str, str], list[sm.SegmentSummary]]:
        """Summaries by kind of item and bottle, in order of time."""
        found: dict[tuple[str, str], list[sm.SegmentSummary]] = {}
        for s in self.segments:
            found.setdefault((s.kind, s.bottle), []).append(s)
        return found

    @property
    def views(self) -> tuple[View, ...]:
        """Every bottle, with the arrays that rules and figures look at (not kept: they hold the
        run, which could then be freed only by the collector of circles)."""
        return tuple(View(self, i) for i in range(len(self.scenario.bottles)))

    def view_of(self, bottle: str) -> View:
        """The bottle of that name. InputError where there is none."""
        return self.views[self.scenario.bottle_index(bottle)]

    @cached_property
    def gas_share(self) -> np.ndarray:
        """Share (0..1, by mass) of gas in what all bottles give together, shape (time,)."""
        from n2osim.results.gas_drawn import gas_share

        return gas_share(self)

    def _of_kind(self, kind: str) -> tuple[Any, ...]:
        return tuple(s for s in self.segments if s.kind == kind)

    @cached_property
    def passes(self) -> tuple[sm.PassSummary, ...]:
        """One summary per pass and bottle, in order."""
        return self._of_kind("pass")

    @cached_property
    def purges(self) -> tuple[sm.PassSummary, ...]:
        """One summary per purge and bottle, in order."""
        return self._of_kind("purge")

    @cached_property
    def holds(self) -> tuple[sm.HoldSummary, ...]:
        """One summary per hold and bottle, in order."""
        return self._of_kind("hold")

    @cached_property
    def rests(self) -> tuple[sm.HoldSummary, ...]:
        """One summary per rest and bottle, in order."""
        return self._of_kind("rest")

    @cached_property
    def frozen(self) -> dict[str, Event]:
        """Bottles that left the equation of state while the others went on: name and event.

        Their arrays are NaN from there on, and they have no summaries from that segment on.
        """
        left = L.EVENTS[L.EV_HOT : L.EV_EMPTY + 1]
        return {e.bottle: e for e in self.events if e.name in left}

    @cached_property
    def totals(self) -> tuple[sm.FlowTotal, ...]:
        """One total over all bottles per pass and purge, in order: what jets and vents got."""
        return sm.flow_totals(self.scenario, self.records)

    @cached_property
    def engine(self) -> EngineTrace | None:
        """Engine side (flows, mixture, power, charge cooling); None without ``scenario.engine``."""
        from n2osim.results.engine_passes import engine_trace

        return engine_trace(self)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """Limits and cautions that this run gives rise to, most severe first."""
        from n2osim.results.limits import find

        return find(self)

    def remedies(self, budget: int = 150) -> Remedies:
        """What helps against the findings: changes of the scenario, each tried in a run."""
        return above("remedies")(self, budget)

    def closure(self) -> dict[str, float]:
        """Mass and energy closure recomputed from exported arrays, relative to gross throughput."""
        from n2osim.results.closure import closure

        return closure(self)

    # --- output --------------------------------------------------------------------------------
    def summary(self, system: str = "shop", *, full: bool = False) -> str:
        """Plain-language report; ``system`` is "shop" (psig, degF, lb) or "si".

        ``full`` adds every finding, event and note, and the cautions at length.
        """
        return above("summary")(self, system, full=full)

    def plot(self, what: str = "run", ax: Any = None, **how: Any) -> Any:
        """A figure of the run: "run", "hold", "pass", "rounds", "wall" or "chart".

        ``how`` are the keywords of the function of that name in :mod:`n2osim.plot`.
        """
        if what not in FIGURES:
            raise UnknownNameError.among("figure", what, FIGURES)
        return above(what, FIGURES)(self, ax, **how)

    def to_json(self, path: str | Path, *, overwrite: bool = False) -> None:
        """Write everything as JSON (schema version inside); over an existing file only if told."""
        above("write_json")(self, path, overwrite=overwrite)

    @staticmethod
    def from_json(path: str | Path) -> Run:
        """The run that :meth:`to_json` wrote. InputError for a file that is none."""
        found: Run = above("read_json")(path)
        return found

    def to_csv(self, path: str | Path, *, overwrite: bool = False) -> None:
        """Write the time series as CSV, one column a series; over an existing file only if told."""
        above("write_csv")(self, path, overwrite=overwrite)

    def to_dataframe(self) -> Any:
        """The time series as a pandas DataFrame (needs the ``tables`` extra)."""
        return above("dataframe")(self)

    def to_xarray(self) -> Any:
        """All arrays as an xarray.Dataset with units and labels (needs the ``xarray`` extra)."""
        return above("xarray_of")(self)

    def _repr_html_(self) -> str:
        return above("summary_html")(self)

    def __repr__(self) -> str:
        return (
            f"<Run of {self.scenario.title!r}: {self.time[-1]:.6g} s, "
            f"{len(self.time)} rows, {len(self.events)} events, {self.ending}>"
        )


def simulate(scenario: Scenario) -> Run:
    """Carry out a scenario.

    Raises InputError for a scenario that makes no sense, IntegrationError (with what was computed
    until then as ``partial_run``) where the state leaves the equation of state or the integrator
    cannot go on. Ctrl-C raises KeyboardInterrupt, with ``partial_run`` where there is one.

    >>> import n2osim as n2
    >>> scenario = n2.Scenario(
    ...     n2.Bottle.preset("steel", "10 lb"), fill="8.7 lb", start="58 degF",
    ...     heater=n2.Heater("320 W"), switch=n2.PressureSwitch("830 psig", "870 psig"),
    ...     schedule=[n2.Hold("1 h")],
    ... )
    >>> run = n2.simulate(scenario)
    >>> print(f"in the band after {run.get('hold0.warm_up_time', 'min'):.0f} min")
    in the band after 10 min
    """
    if not isinstance(scenario, Scenario):
        remedy = "Scenario.from_toml reads a file"
        raise InputError("what is to be simulated", scenario, "", "a Scenario", remedy)
    packed = pack(scenario)
    try:
        rows, events, counts, code = run_packed(packed)
    except Interrupted as stopped:
        if len(stopped.tables[0]):
            stopped.partial_run = build_run(packed, *stopped.tables)
        raise
    run = build_run(packed, rows, events, counts, code)
    if code != L.OK:
        raise _failure(run, code)
    return run


def build_run(
    packed: Packed, rows: np.ndarray, events: np.ndarray, counts: np.ndarray, code: int
) -> Run:
    """Turn the kernel's rows and events into a Run."""
    scenario = packed.scenario
    if code != L.OK:
        rows = within_range(packed, rows)
    names = [b.name for b in scenario.bottles]
    table = tuple(
        Event(
            float(e[0]),
            L.EVENTS[int(e[1])],
            names[int(e[2])] if e[2] >= 0 else "",
            int(e[3]),
            float(e[4]),
        )
        for e in events
    )
    statistics = {
        "steps": float(counts[recorder.N_STEPS]),
        "rejected_steps": float(counts[recorder.N_REJECTED]),
        "located_crossings": float(counts[recorder.N_LOCATED]),
    }
    variables = arrays_from_rows(packed, rows)
    records = numbers_table(packed, rows, counts)
    return Run(scenario, variables, table, records, L.ENDINGS[code], statistics)


def within_range(packed: Packed, rows: np.ndarray) -> np.ndarray:
    """Rows of a run that ended early, without last ones that the equation of state does not reach.

    There temperatures are NaN, or held at the hottest that it knows (525 K) while energy goes on.
    """
    good = np.ones(len(rows), bool)
    for i in range(packed.n_bottles):
        T, Tv, p = (rows[:, out_column(packed.ny, i, k)] for k in (L.O_T, L.O_TV, L.O_P))
        flow = rows[:, out_column(packed.ny, i, L.O_MDOT)]
        good &= np.isfinite(p + flow) & (np.maximum(T, Tv) < T_MAX - 1e-6)
    last = np.flatnonzero(good)
    return rows[: last[-1] + 1] if len(last) else rows[:1]


ENDING_ADVICE = {
    L.OUT_OF_RANGE: "less heat or a relief device where it was hot, less flow where it was cold or "
    "empty, a smaller refill where it was full: see the last rows of error.partial_run",
    L.STEP_TOO_SMALL: "a larger Numerics.tolerance, or a smoother delivery",
    L.TOO_MANY_STEPS: "a larger Numerics.max_steps, or a shorter schedule",
    L.TOO_MANY_EVENTS: "thresholds further apart (switch band, cut-out, arming window)",
}


_CYCLING = 0.05  # events in a step on average: a control that switches without end


def _advice(run: Run, code: int) -> str:
    """What may help; where a control switched thousands of times, that one."""
    busiest = Counter(e.name for e in run.events).most_common(1)
    if code != L.TOO_MANY_STEPS or len(run.events) < _CYCLING * run.statistics["steps"]:
        return ENDING_ADVICE[code]
    name, times = busiest[0]
    return (
        f"something that cycles more slowly ({name}: {times} times): a heater with more heat "
        f"capacity or less power, set points further apart; or {ENDING_ADVICE[code]}"
    )


def _failure(run: Run, code: int) -> IntegrationError:
    states = {b.name: _last_state(run, i) for i, b in enumerate(run.scenario.bottles)}
    _, segment = run.begun[-1]
    heater = "heater on" if run["heater_power_W"][:, -1].any() else "heater off"
    return IntegrationError(
        L.ENDINGS[code],
        time=float(run.time[-1]),
        state=states if len(states) > 1 else next(iter(states.values())),
        mode=f"{segment.kind}, {heater}",
        advice=_advice(run, code),
        partial_run=run,
    )


def _last_state(run: Run, i: int) -> dict[str, float]:
    """Where bottle ``i`` was when the integration ended."""
    return {
        "pressure_Pa": float(run["pressure_Pa"][i, -1]),
        "temperature_K": float(run["fluid_temperature_K"][i, 0, -1]),
        "mass_kg": float(run["mass_kg"][i, -1]),
    }
