"""Many scenarios through the same compiled engine as ``simulate``, in chunks, on any executor.

Each member has its own steps and switch events; nothing is shared between members, so results do
not depend on chunk size, number of workers or executor, to the last bit on one machine.
"""

from __future__ import annotations

import itertools
import pickle
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Sized
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypedDict, Unpack

import numpy as np

from n2osim.errors import InputError, N2OSimError, UnknownNameError
from n2osim.results.quantities import check_names
from n2osim.results.run import Run
from n2osim.scenario.scenario import Scenario
from n2osim.studies.checkpoint import Checkpoint, CheckpointError, digest
from n2osim.studies.driver import Driver, Workers
from n2osim.studies.members import Chunk, Plan, Task, first_call, whole_number
from n2osim.studies.result import Failure, StudyResult

CHUNK = 100
"""Most members a task unless said otherwise: about half a second of work."""


class StudyError(N2OSimError):
    """A study that could not be carried out at all; says why."""


class HowToRun(TypedDict, total=False):
    """Keywords that every study takes; see :func:`run_ensemble`."""

    workers: int | None
    executor: Any
    chunk: int | None
    progress: bool | Callable[[int, int | None], None]
    checkpoint: str | Path | None
    outputs: Sequence[str] | None
    times: Any
    series: Sequence[str]
    keep_events: bool
    measure: Callable[[Run], Mapping[str, float]] | None


@dataclass(frozen=True)
class Source:
    """Where the members of a study come from.

    count: how many (None: not known beforehand). definition: hash of what makes up the study
    beside its plan. take(numbers, plan) gives a task for given member numbers; None when they are
    only known in order (``stream``).
    """

    title: str
    count: int | None
    definition: str
    take: Callable[[np.ndarray, Plan], Task] | None = None
    stream: Iterator[Scenario] | None = None
    inputs: Callable[[np.ndarray], dict[str, np.ndarray]] = lambda members: {}
    labels: Callable[[np.ndarray], dict[str, list[str]]] = lambda members: {}
    base: Scenario | None = None
    describe: dict[str, Any] = field(default_factory=dict)


def run_ensemble(
    scenarios: Iterable[Scenario], *, title: str = "ensemble", **how: Unpack[HowToRun]
) -> StudyResult:
    """Run many scenarios.

    Returns a :class:`StudyResult`, incomplete after Ctrl-C. Failed members are recorded in it and
    do not raise. Raises InputError for arguments that make no sense.

    Parameters
    ----------
    scenarios : any iterable; it is drawn from as fast as it is worked off, so a generator of a
        hundred thousand scenarios takes no more memory than their results.
    workers : None for one a processor. executor : None for threads of this process, "serial",
        "threads", "processes", a ``concurrent.futures`` executor (process pool,
        dask.distributed's ``client.get_executor()``, ...), or a function that makes one.
    chunk : members a task (None: at most 100, fewer when there are few); it changes nothing but
        the overhead.
    progress : True for a bar, or a function of (members done, members in all or None).
    checkpoint : directory to keep finished pieces in. The same call takes up a study that was
        interrupted; a directory of another study raises CheckpointError.
    outputs : names or patterns of the columns to keep ("pass*.pressure_sag", "hold0.*"); None
        keeps all but the engine's, which are computed when they are asked for.
    times : common time grid, s, for ``series`` (names in ``n2osim.studies.SERIES``), e.g. for
        percentile bands; None keeps no series.
    keep_events : keep the event table of every member.
    measure : function of a :class:`Run` giving further columns; importable where processes are
        used.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "12 lb"), fill="9.9 lb", start="69 degF",
    ...     heater=n2.Heater("345 W"), switch=n2.PressureSwitch("825 psig", "860 psig"),
    ...     schedule=[n2.Hold("1 h")],
    ... )
    >>> result = n2.run_ensemble([car, car.replace("bottle", "carbon-aluminium")])
    >>> result.get("hold0.overshoot", "psi").round(0)
    array([ 2., 15.])
    """
    if isinstance(scenarios, Scenario) or not isinstance(scenarios, Iterable):
        remedy = "put a single one in a list, or call simulate"
        raise InputError("scenarios", scenarios, "", "a list of scenarios", remedy)
    outputs = how.get("outputs")
    if outputs is not None:
        check_names(outputs)
    count = len(scenarios) if isinstance(scenarios, Sized) else None
    return run_study(Source(title, count, "scenarios", stream=iter(scenarios)), how)


def run_study(source: Source, how: HowToRun) -> StudyResult:
    """Carry out a study from its source; the one loop behind all kinds of studies."""
    unknown = set(how) - set(HowToRun.__annotations__)
    if unknown:
        raise UnknownNameError.among("study keyword", min(unknown), HowToRun.__annotations__)
    plan = _plan(how)
    size = how.get("chunk")
    if size is not None:
        whole_number("chunk", size, 1, remedy="100 is a good size")
    start = time.perf_counter()
    compile_s = first_call()
    workers = Workers(how.get("executor"), how.get("workers"))
    try:
        if not workers.local and plan.measure is not None:
            _check_sendable(plan.measure)
        work = _Work(source, plan, how, workers)
        work.go(_chunk(source, workers) if size is None else size)
    finally:
        workers.close()
    return work.result(compile_s, time.perf_counter() - start)


def _chunk(source: Source, workers: Workers) -> int:
    """A chunk that keeps all workers busy to the end of a small study."""
    if source.count is None:
        return CHUNK
    return max(1, min(CHUNK, -(-source.count // (4 * workers.count))))


def _names(given: str | Sequence[str]) -> tuple[str, ...]:
    return (given,) if isinstance(given, str) else tuple(given)


def _plan(how: HowToRun) -> Plan:
    outputs = how.get("outputs")
    return Plan(
        None if outputs is None else _names(outputs),
        how.get("times"),
        _names(how.get("series", ("pressure_gauge_Pa",))),
        bool(how.get("keep_events", False)),
        how.get("measure"),
    )


def _check_sendable(function: Any) -> None:
    try:
        pickle.dumps(function)
    except Exception as problem:
        raise InputError(
            "measure",
            function,
            "",
            "a function that can be sent to other processes",
            "define it at the top level of a module, not inside a function",
        ) from problem


class _Work:
    """State of one study while it runs."""

    def __init__(self, source: Source, plan: Plan, how: HowToRun, workers: Workers) -> None:
        self.source = source
        self.plan = plan
        self.workers = workers
        self.chunks: list[Chunk] = []
        self.restored: set[int] = set()
        self.digests: dict[int, str] = {}
        self.checkpoint: Checkpoint | None = None
        self.seen = 0
        where = how.get("checkpoint")
        if where is not None:
            definition = digest(source.definition, plan.key())
            about = {"title": source.title, "members": source.count, **source.describe}
            self.checkpoint = Checkpoint(where, definition, about)
            for chunk in self.checkpoint.load():
                self.restored.update(chunk.members.tolist())
                self.digests.update(zip(chunk.members.tolist(), chunk.digests))
                self.chunks.append(chunk)
        self.driver = Driver(workers, self._done)
        self.bar = _Progress(how.get("progress", False), source, len(self.restored))

    # --- running ---------------------------------------------------------------------------------
    def go(self, size: int) -> None:
        """Run what is not there yet."""
        stream = self.source.stream
        tasks = self._numbered(size) if stream is None else self._streamed(size, stream)
        try:
            self.driver.run(tasks)
        finally:
            self.bar.close()
        if self.driver.note and not self.chunks:
            raise StudyError(self.driver.note)

    def _numbered(self, size: int) -> Iterator[Task]:
        assert self.source.count is not None and self.source.take is not None
        todo = np.array([m for m in range(self.source.count) if m not in self.restored], np.int64)
        for first in range(0, len(todo), size):
            yield self.source.take(todo[first : first + size], self.plan)

    def _streamed(self, size: int, stream: Iterator[Scenario]) -> Iterator[Task]:
        while batch := list(itertools.islice(stream, size)):
            numbers = range(self.seen, self.seen + len(batch))
            self.seen += len(batch)
            keep = []
            for m, scenario in zip(numbers, batch):
                if not isinstance(scenario, Scenario):
                    raise InputError(f"scenario {m}", scenario, "", "a Scenario", "")
                if self._new(m, scenario):
                    keep.append((m, scenario))
            if keep:
                yield Task(
                    np.array([m for m, _ in keep], np.int64), self.plan, tuple(s for _, s in keep)
                )

    def _new(self, member: int, scenario: Scenario) -> bool:
        """Whether a streamed member is still to be run (and is the one kept on disk, if it is)."""
        if self.checkpoint is None:
            return True
        mark = digest(scenario)[:16]
        if member not in self.restored:
            self.digests[member] = mark
            return True
        if self.digests.get(member) != mark:
            raise CheckpointError(
                f"checkpoint {self.checkpoint.path} was made with another scenario as member "
                f"{member}: give another directory, or the same scenarios in the same order"
            )
        return False

    def _done(self, chunk: Chunk) -> None:
        if self.checkpoint is not None:
            if self.source.stream is not None:
                chunk.digests = tuple(self.digests[m] for m in chunk.members.tolist())
            self.checkpoint.save(chunk)
        self.chunks.append(chunk)
        self.bar.update(len(chunk.members))

    # --- putting together ------------------------------------------------------------------------
    def result(self, compile_s: float, wall: float) -> StudyResult:
        """Everything that is there, in order of members."""
        chunks = sorted(self.chunks, key=lambda c: int(c.members.min()))
        members, order, ok = _members(chunks)
        count = self.source.count if self.source.count is not None else self.seen
        stopped = self.driver.interrupted or bool(self.driver.note)
        complete = len(members) == count and not (stopped and self.source.count is None)
        note = self.driver.note or ("interrupted" if self.driver.interrupted else "")
        inputs = self.source.inputs(members)
        return StudyResult(
            title=self.source.title,
            members=members,
            ok=ok,
            columns=_columns(chunks, order),
            inputs=inputs,
            labels=self.source.labels(members),
            failures=_failures(chunks, members, inputs),
            times=self.plan.times,
            series=_series(chunks, order, self.plan),
            event_table=_events(chunks) if self.plan.events else None,
            statistics=self._statistics(chunks, compile_s, wall),
            complete=complete,
            note="" if complete else note,
            base=self.source.base,
        )

    def _statistics(self, chunks: list[Chunk], compile_s: float, wall: float) -> dict[str, float]:
        computed = sum(len(c.members) for c in chunks) - len(self.restored)
        new = [c for c in chunks if not self.restored.intersection(c.members[:1].tolist())]
        busy = sum(c.seconds for c in new)
        first = max([compile_s, *(c.first_call for c in new)])
        return {
            "computed": float(computed),
            "restored": float(len(self.restored)),
            "workers": float(self.workers.count),
            "wall_s": wall,
            "first_call_s": first,
            "member_s": busy / computed if computed else 0.0,
            "members_per_s": computed / max(wall - compile_s, 1e-9),
            "pool_restarts": float(self.driver.restarts),
        }


def _members(chunks: list[Chunk]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(member numbers in order, positions that put joined chunks into that order, ok)."""
    if not chunks:
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0, bool)
    joined = np.concatenate([c.members for c in chunks])
    order = np.argsort(joined, kind="stable")
    return joined[order], order, np.concatenate([c.ok for c in chunks])[order]


def _columns(chunks: list[Chunk], order: np.ndarray) -> dict[str, np.ndarray]:
    """Columns over all members; their order is that in which members first have them."""
    first: dict[str, tuple[int, int]] = {}
    for c in chunks:
        for k, name in enumerate(c.columns):
            held = c.members[c.ok]
            place = (int(held[0]) if len(held) else int(c.members[0]), k)
            first[name] = min(first.get(name, place), place)
    none = [np.full(len(c.members), np.nan) for c in chunks]
    return {
        name: np.concatenate([c.columns.get(name, nan) for c, nan in zip(chunks, none)])[order]
        for name in sorted(first, key=lambda n: first[n])
    }


def _series(chunks: list[Chunk], order: np.ndarray, plan: Plan) -> dict[str, np.ndarray]:
    if plan.times is None:
        return {}
    bottles = max((c.series.shape[2] for c in chunks), default=1)
    out = {}
    for k, name in enumerate(plan.series):
        parts = [np.full((len(c.members), bottles, len(plan.times)), np.nan) for c in chunks]
        for part, c in zip(parts, chunks):
            part[:, : c.series.shape[2]] = c.series[:, k]
        out[name] = (
            np.concatenate(parts)[order] if parts else np.empty((0, bottles, len(plan.times)))
        )
    return out


def _events(chunks: list[Chunk]) -> np.ndarray:
    table = np.vstack([np.empty((0, 6)), *(c.events for c in chunks)])
    return table[np.argsort(table[:, 0], kind="stable")]


def _failures(
    chunks: list[Chunk], members: np.ndarray, inputs: dict[str, np.ndarray]
) -> tuple[Failure, ...]:
    """Failed members with what it takes to run them again: inputs, or the scenario file."""
    place = {m: k for k, m in enumerate(members.tolist())}
    found = []
    for f in sorted((f for c in chunks for f in c.failures), key=lambda f: f.member):
        what: dict[str, Any] = {n: v[place[f.member]] for n, v in inputs.items()}
        if f.scenario:
            what["scenario"] = f.scenario
        found.append(Failure(f.member, f.kind, f.reason, what))
    return tuple(found)


class _Progress:
    """A tqdm bar, a function of the user's, or nothing."""

    def __init__(self, progress: Any, source: Source, done: int) -> None:
        self.count = source.count
        self.done = done
        self.call = progress if callable(progress) else None
        self.bar: Any = None
        if progress is True:
            from tqdm import tqdm

            self.bar = tqdm(total=source.count, initial=done, desc=source.title, unit="run")

    def update(self, more: int) -> None:
        self.done += more
        if self.bar is not None:
            self.bar.update(more)
        if self.call is not None:
            self.call(self.done, self.count)

    def close(self) -> None:
        if self.bar is not None:
            self.bar.close()
