"""Members of a study: what is sent to a worker, how it is run there, what comes back.

A :class:`Task` is plain data (scenarios, or one base scenario with dotted names and rows of
values) and its answer a :class:`Chunk` of arrays, so that both survive pickling and any executor
can carry them. A member goes the short way: pack, compiled run, compiled summary; no Run object
is built unless the plan asks for measures of its own. A member that fails is written down with
its reason and the rest goes on.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from n2osim import prepare
from n2osim.above import above
from n2osim.engine import layout as L
from n2osim.engine.advance import Stop, run_packed
from n2osim.engine.pack import Packed, pack
from n2osim.errors import InputError, UnknownNameError
from n2osim.results.numbers import numbers_table
from n2osim.results.quantities import Column, Layout, columns, early, layout_of, of_group
from n2osim.results.quantities_series import Rows
from n2osim.results.reading import late_values
from n2osim.results.run import ENDING_ADVICE, Run, build_run
from n2osim.scenario.fields import with_fields
from n2osim.scenario.scenario import Scenario
from n2osim.units import parse

_FIRST_ROWS = 512
_FIRST_EVENTS = 256

SERIES = {
    q.name: q
    for q in of_group("series")
    if q.dims in (("bottle", "time"), ("bottle", "zone", "time"))
}
"""Series that a study can keep on its common time grid (of two zones the liquid's)."""


def whole_number(
    name: str, value: Any, low: int, high: int | None = None, remedy: str = ""
) -> None:
    """InputError where a value is no whole number between ``low`` and ``high``, or above."""
    whole = isinstance(value, int) and not isinstance(value, bool)
    if not whole or value < low or (high is not None and value > high):
        ends = f"{low} or more" if high is None else f"{low} to {high}"
        raise InputError(name, value, "", f"a whole number, {ends}", remedy)


def _seconds(times: Any) -> np.ndarray:
    """A time grid, s, from numbers or texts with a unit."""
    try:
        return np.asarray(times, dtype=float)
    except (TypeError, ValueError):
        if isinstance(times, str) or not isinstance(times, Iterable):
            remedy = "for example numpy.linspace(0, 3600, 121)"
            raise InputError("times", times, "", "a rising list of times", remedy) from None
        return np.array([parse(t, "time", name="times") for t in times])


@dataclass(frozen=True)
class Plan:
    """What to keep of each member.

    outputs: names or patterns of columns (None: all). times: common time grid (s) for ``series``
    (names in ``SERIES``), None for no series. events: keep the event tables. measure: a function
    of a Run returning a mapping of names to numbers (importable, so that it can be pickled).
    """

    outputs: tuple[str, ...] | None = None
    times: np.ndarray | None = None
    series: tuple[str, ...] = ()
    events: bool = False
    measure: Callable[[Run], Mapping[str, float]] | None = None

    def __post_init__(self) -> None:
        for name in self.series:
            if name not in SERIES:
                raise UnknownNameError.among("series", name, SERIES)
        if self.times is not None:
            grid = _seconds(self.times)
            there = grid.ndim == 1 and len(grid) and np.isfinite(grid).all()
            if not there or (np.diff(grid) <= 0.0).any():
                remedy = "for example numpy.linspace(0, 3600, 121)"
                raise InputError("times", str(self.times), "s", "a rising list of times", remedy)
            object.__setattr__(self, "times", grid)

    def key(self) -> str:
        """Text that tells plans apart (for checkpoints)."""
        times = "" if self.times is None else hashlib.sha256(self.times.tobytes()).hexdigest()
        measure = ""
        if self.measure is not None:
            measure = f"{self.measure.__module__}.{self.measure.__qualname__}"
        return repr((self.outputs, times, self.series, self.events, measure))


@dataclass(frozen=True)
class Task:
    """Some members to run.

    members: their numbers in the study. Either ``scenarios`` (one each), or ``base`` with dotted
    ``paths`` and ``rows`` of values (one row each).
    """

    members: np.ndarray
    plan: Plan
    scenarios: tuple[Scenario, ...] = ()
    base: Scenario | None = None
    paths: tuple[str, ...] = ()
    rows: Sequence[Sequence[Any]] = ()
    attempts: int = 0

    def __len__(self) -> int:
        return len(self.members)

    def scenario(self, k: int) -> Scenario:
        """Scenario of the ``k``-th member of this task."""
        if self.base is None:
            return self.scenarios[k]
        return with_fields(self.base, dict(zip(self.paths, self.rows[k])))

    def failed(self, k: int, kind: str, reason: str) -> Failed:
        """The ``k``-th member written down as failed, with what it takes to run it again."""
        text = ""
        if self.base is None:
            try:
                text = self.scenarios[k].to_toml()
            except Exception:  # what cannot be simulated may not be writable either
                text = repr(self.scenarios[k])
        return Failed(int(self.members[k]), kind, reason, text)

    def lost(self, kind: str, reason: str) -> Chunk:
        """The answer of a task of one member that could not be carried out."""
        work = _TaskWork(self)
        work.failures.append(self.failed(0, kind, reason))
        return work.chunk(1)

    def subset(self, keep: Sequence[int], attempts: int = 0) -> Task:
        """The task with only the members at positions ``keep``."""
        return replace(
            self,
            members=self.members[list(keep)],
            scenarios=tuple(self.scenarios[k] for k in keep) if self.scenarios else (),
            rows=[self.rows[k] for k in keep] if len(self.rows) else (),
            attempts=attempts,
        )


class Failed(NamedTuple):
    """A member that gave no result: its number, the kind of error and why.

    scenario: its scenario file where the study was given as scenarios ("" where inputs tell).
    """

    member: int
    kind: str
    reason: str
    scenario: str = ""


@dataclass
class Chunk:
    """Results of a task (or of the part that was done): plain arrays.

    members (n,), ok (n,) bool, columns by name (n,) with NaN where a member failed or has no such
    column, series (n, series, bottle, time), events (m, 6): member, time, code, bottle, segment,
    gauge pressure. seconds: time spent; first_call: s spent on compiling or loading; digests:
    hash of each member's scenario, where scenarios were given and are kept on disk.
    """

    members: np.ndarray
    ok: np.ndarray
    columns: dict[str, np.ndarray]
    series: np.ndarray
    events: np.ndarray
    failures: tuple[Failed, ...] = ()
    seconds: float = 0.0
    first_call: float = 0.0
    interrupted: bool = False
    digests: tuple[str, ...] = ()


class _UnderWay(NamedTuple):
    packed: Packed
    rows: np.ndarray
    events: np.ndarray
    counts: np.ndarray


class MemberError(Exception):
    """A run that did not get through its schedule (becomes a Failed)."""


def carry_out(scenario: Scenario, stop: Stop | None = None) -> _UnderWay:
    """Pack and run one scenario.

    Raises MemberError when the run ends early, KeyboardInterrupt when ``stop`` has been set.
    """
    packed = pack(scenario)
    rows, events, counts, code = run_packed(packed, _FIRST_ROWS, _FIRST_EVENTS, stop)
    if code == L.PAUSED:
        raise KeyboardInterrupt
    if code != L.OK:
        raise MemberError(f"{L.ENDINGS[code]} at {rows[-1, 0]:.6g} s; try: {ENDING_ADVICE[code]}")
    return _UnderWay(packed, rows, events, counts)


def numbers_of(scenario: Scenario, outputs: Sequence[str] | None = None) -> dict[str, float]:
    """Columns of one scenario by name. Raises what ``simulate`` would raise."""
    try:
        whole = carry_out(scenario)
    except MemberError:
        scenario.run()  # raises the same with the partial run
        raise
    chosen = columns(layout_of(scenario), None if outputs is None else tuple(outputs))
    soon = [c for c in chosen if not c.late]
    values = early(soon, numbers_table(whole.packed, whole.rows, whole.counts)[None])[0]
    found = dict(zip((c.name for c in soon), values.tolist()))
    late = [c for c in chosen if c.late]
    return found | late_values(_run(whole), late) if late else found


def _run(whole: _UnderWay) -> Run:
    return build_run(whole.packed, whole.rows, whole.events, whole.counts, L.OK)


# --- series --------------------------------------------------------------------------------------
def _sample(whole: _UnderWay, plan: Plan) -> np.ndarray:
    """Series on the time grid, shape (series, bottle, time); NaN outside the run."""
    assert plan.times is not None
    view = Rows(whole.packed, whole.rows)
    out = np.empty((len(plan.series), whole.packed.n_bottles, len(plan.times)))
    for k, name in enumerate(plan.series):
        for i, values in enumerate(SERIES[name].formula(view)):
            x = values if values.ndim == 1 else values[0]
            out[k, i] = np.interp(plan.times, whole.rows[:, 0], x, left=np.nan, right=np.nan)
    return out


# --- a task --------------------------------------------------------------------------------------
_WARM: list[bool] = []


def first_call() -> float:
    """Run something small once in this process; s spent on it (0 when already done)."""
    if _WARM:
        return 0.0
    start = time.perf_counter()
    above("load_extensions")()  # a worker may be a process of its own
    prepare.wait()
    from n2osim.hardware import Bottle, Feed, Heater, Jets, PressureSwitch
    from n2osim.scenario.schedule import Hold, Pass

    small = Scenario(
        Bottle.preset("aluminium", "10 lb"),
        fill=4.0,
        start=300.0,
        heater=Heater(300.0),
        switch=PressureSwitch(6.9e6, 7.6e6),
        feed=Feed(Jets(1, 0.001)),
        schedule=[Hold(1.0), Pass(0.05)],
    )
    numbers_of(small)
    _WARM.append(True)
    return time.perf_counter() - start


def run_task(task: Task, stop: Stop | None = None) -> Chunk:
    """Run the members of a task one after the other.

    When ``stop`` is set, and on KeyboardInterrupt, what is done until then is returned with
    ``interrupted`` True.
    """
    work = _TaskWork(task)
    start = time.perf_counter()
    done, warm, interrupted = 0, 0.0, False
    try:
        warm = first_call()
        for k in range(len(task)):
            if stop is not None and stop.is_set():
                raise KeyboardInterrupt
            work.one(k, stop)
            done = k + 1
    except KeyboardInterrupt:
        interrupted = True
    chunk = work.chunk(done)
    chunk.first_call = warm
    chunk.seconds = time.perf_counter() - start - warm
    chunk.interrupted = interrupted
    return chunk


class _TaskWork:
    """Collects the results of a task's members, by their position in it."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self.plan = task.plan
        self.records: dict[Layout, dict[int, np.ndarray]] = {}
        self.measured: dict[int, dict[str, float]] = {}
        self.series: dict[int, np.ndarray] = {}
        self.events: dict[int, np.ndarray] = {}
        self.failures: list[Failed] = []

    def one(self, k: int, stop: Stop | None = None) -> None:
        """Run member ``k`` of the task; nothing it raises on its own account gets out."""
        try:
            whole = carry_out(self.task.scenario(k), stop)
            layout = layout_of(whole.packed.scenario)
            late = [c for c in columns(layout, self.plan.outputs) if c.late]
            measured = self._measure(whole, late) if late or self.plan.measure else {}
            series = None if self.plan.times is None else _sample(whole, self.plan)
            records = numbers_table(whole.packed, whole.rows, whole.counts)
        except Exception as problem:
            early = isinstance(problem, MemberError)
            kind = "IntegrationError" if early else type(problem).__name__
            self.failures.append(self.task.failed(k, kind, str(problem)))
            return
        # Nothing can fail below: a member is there with all it gave or not at all.
        self.records.setdefault(layout, {})[k] = records
        if measured:
            self.measured[k] = measured
        if series is not None:
            self.series[k] = series
        if self.plan.events:
            head = np.full((len(whole.events), 1), float(self.task.members[k]))
            self.events[k] = np.hstack([head, whole.events])

    def _measure(self, whole: _UnderWay, late: Sequence[Column]) -> dict[str, float]:
        run = _run(whole)
        found = late_values(run, late)
        if self.plan.measure is not None:
            found |= {str(name): float(value) for name, value in self.plan.measure(run).items()}
        return found

    def chunk(self, done: int) -> Chunk:
        """What the first ``done`` members gave."""
        ok = np.zeros(done, bool)
        pieces: list[tuple[list[int], dict[str, Any]]] = []
        for layout, records in self.records.items():
            chosen = [c for c in columns(layout, self.plan.outputs) if not c.late]
            values = early(chosen, np.stack(list(records.values())))
            pieces.append((list(records), dict(zip((c.name for c in chosen), values.T))))
            ok[list(records)] = True
        pieces += [([k], values) for k, values in self.measured.items()]
        found: dict[str, np.ndarray] = {}
        # In the order in which members first have them, however the work is split.
        for where, values_of in sorted(pieces, key=lambda p: p[0][0]):
            for name, column in values_of.items():
                found.setdefault(name, np.full(done, np.nan))[where] = column
        events = np.vstack([np.empty((0, 6)), *self.events.values()])
        members = self.task.members[:done].copy()
        return Chunk(members, ok, found, self._stack(done), events, tuple(self.failures))

    def _stack(self, done: int) -> np.ndarray:
        if self.plan.times is None:
            return np.empty((done, 0, 0, 0))
        bottles = max((s.shape[1] for s in self.series.values()), default=1)
        out = np.full((done, len(self.plan.series), bottles, len(self.plan.times)), np.nan)
        for k, s in self.series.items():
            out[k, :, : s.shape[1]] = s
        return out
