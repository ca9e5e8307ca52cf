"""What a study gives: labelled columns, one row a member, with failures, series and statistics."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

import numpy as np

from n2osim.engine import layout as L
from n2osim.errors import InputError, N2OSimError, UnknownNameError
from n2osim.files import write_bytes
from n2osim.results.frames import (
    Comparable,
    attributes,
    csv_text,
    dataset_of,
    extra,
    html_table,
    json_text,
    read_json,
)
from n2osim.results.quantities import kind_in, short_name
from n2osim.results.run import Event
from n2osim.scenario.fields import kind_of_field, with_fields
from n2osim.scenario.file import loads
from n2osim.scenario.scenario import Scenario
from n2osim.units import in_unit, parse

STUDY_SCHEMA = 1
"""Version of the JSON format."""

QUANTILES = (5.0, 25.0, 50.0, 75.0, 95.0)

_STATISTICS: dict[str, Callable[[np.ndarray], Any]] = {
    "mean": np.mean,
    "std": np.std,
    "least": np.min,
    "largest": np.max,
}
_SHOWN = ("mean", "std", "p5", "p50", "p95")


@dataclass(frozen=True)
class Failure:
    """A member without a result; kind: class of the error.

    inputs: what was different about it; ``{"scenario": text of its scenario file}`` where the study
    was given as scenarios.
    """

    member: int
    kind: str
    reason: str
    inputs: dict[str, Any]


@dataclass(frozen=True)
class Probability:
    """Share of members that meet a condition.

    low, high: exact (Clopper-Pearson) 95 % interval for independent members (wider than needed for
    stratified samples). count of members; undefined: members without a number there (a switch that
    never opened), which count as not meeting the condition.
    """

    value: float
    low: float
    high: float
    count: int
    of: int
    undefined: int


@dataclass(frozen=True, eq=False)
class StudyResult(Comparable):
    """Results of an ensemble, sweep or Monte Carlo study, one row a member.

    ``result["hold0.overshoot_Pa"]`` is an array over members (an input by its dotted name as well),
    ``result.get("hold0.overshoot", "psi")`` the same in any unit; ``names`` lists the outputs,
    ``inputs`` what was varied (numbers in SI) and ``labels`` how it was given ("10 lb"). Arrays
    cannot be written to. Members that failed have NaN and are in
    ``failures``; ``complete`` is False when the study was interrupted, ``note`` says why.
    series: (member, bottle, time) arrays on the common grid ``times`` (s). statistics: members
    computed and restored, wall_s, member_s (processor time a member), first_call_s (compiling).
    """

    title: str
    members: np.ndarray
    ok: np.ndarray
    columns: dict[str, np.ndarray]
    inputs: dict[str, np.ndarray] = field(default_factory=dict)
    labels: dict[str, list[str]] = field(default_factory=dict)
    failures: tuple[Failure, ...] = ()
    times: np.ndarray | None = None
    series: dict[str, np.ndarray] = field(default_factory=dict)
    event_table: np.ndarray | None = None
    statistics: dict[str, float] = field(default_factory=dict, compare=False)
    complete: bool = True
    note: str = ""
    base: Scenario | None = None

    def __post_init__(self) -> None:
        arrays = (self.columns, self.inputs, self.series, {"": self.members, "ok": self.ok})
        for values in (v for group in arrays for v in group.values()):
            values.flags.writeable = False

    # --- access ----------------------------------------------------------------------------------
    def __len__(self) -> int:
        return len(self.members)

    def __getitem__(self, name: str) -> np.ndarray:
        """Values of an output, or of an input by its dotted name, over the members (SI)."""
        for known in (self.columns, self.inputs):
            if name in known:
                return known[name]
        for full, values in self.columns.items():
            if name == short_name(full):
                return values
        if self.failures and not self.columns:
            why = self.failures[0].reason
            raise N2OSimError(f"no {name}: every member failed, the first because of {why}")
        raise UnknownNameError.among("column", name, [*self.columns, *self.inputs])

    def __contains__(self, name: object) -> bool:
        """Whether there is such an output or input."""
        known = (*self.columns, *self.inputs, *map(short_name, self.columns))
        return name in known

    def __iter__(self) -> Iterator[str]:
        """Over the names of inputs and outputs."""
        return iter((*self.inputs, *self.columns))

    def get(self, name: str, unit: str = "") -> np.ndarray:
        """Values of an output or input in ``unit`` (SI, or an input's own, without one).

        NaN where a member has none.
        """
        values = self[name]
        if not unit:
            return values
        kind = kind_in(name)
        air = self._air_pressures()
        if name in self.inputs and self.base is not None:
            path, _, own = name.partition(" [")
            kind = kind_of_field(self.base, path)
            if own:
                told = zip((f"{v!r} {own[:-1]}" for v in values.tolist()), air)
                values = np.array([parse(v, kind, name=name, ambient=p) for v, p in told])
        if len(set(air)) == 1:
            return in_unit(values, kind, unit, name=name, ambient=air[0])  # type: ignore[no-any-return]
        each = [in_unit(v, kind, unit, name=name, ambient=p) for v, p in zip(values, air)]
        return np.array(each)

    def _air_pressures(self) -> list[float | None]:
        """Pressure (Pa) of each member's air; None where the study does not know it."""
        if self.base is None:
            return [None] * len(self)
        if not any(name.startswith("ambient") for name in self.inputs):
            return [self.base.ambient.pressure] * len(self)
        return [self._air_pressure(k) for k in self.members.tolist()]

    def _air_pressure(self, member: int) -> float:
        try:
            return self.scenario(member).ambient.pressure
        except N2OSimError:  # a member that could not be made
            return math.nan

    @property
    def names(self) -> list[str]:
        """Names of the outputs."""
        return list(self.columns)

    def rows(self) -> Iterator[dict[str, Any]]:
        """One mapping a member: member, ok, inputs, outputs, reason."""
        why = {f.member: f.reason for f in self.failures}
        for k, member in enumerate(self.members.tolist()):
            row: dict[str, Any] = {"member": member, "ok": bool(self.ok[k])}
            row |= {n: _item(v[k]) for n, v in self.inputs.items()}
            row |= {n: float(v[k]) for n, v in self.columns.items()}
            row["reason"] = why.get(member, "")
            yield row

    def scenario(self, member: int) -> Scenario:
        """The scenario of a member (its number), to look at it with ``simulate``."""
        if self.base is None:
            raise N2OSimError("the study was given as scenarios: they are yours to look up")
        k = self._position(member)
        changes = {}
        for label, values in self.inputs.items():
            path, _, unit = label.partition(" [")
            value = _item(values[k])
            changes[path] = f"{value!r} {unit[:-1]}" if unit else value
        return with_fields(self.base, changes)

    def events(self, member: int) -> tuple[Event, ...]:
        """Events of a member (studies run with ``keep_events=True``); bottles by position."""
        if self.event_table is None:
            raise N2OSimError("no events kept: run the study with keep_events=True")
        rows = self.event_table[self.event_table[:, 0] == member]
        return tuple(
            Event(
                float(r[1]),
                L.EVENTS[int(r[2])],
                str(int(r[3])) if r[3] >= 0 else "",
                int(r[4]),
                float(r[5]),
            )
            for r in rows
        )

    def _position(self, member: int) -> int:
        found = np.flatnonzero(self.members == member)
        if not len(found):
            raise InputError("member", member, "", "a member of the study", "see result.members")
        return int(found[0])

    # --- statistics ------------------------------------------------------------------------------
    def describe(
        self, names: Sequence[str] | None = None, quantiles: Sequence[float] = QUANTILES
    ) -> dict[str, dict[str, float]]:
        """Per output: count, mean, std, least, largest and percentiles of members with a number.

        ``quantiles`` are percents, as everywhere here: 50 is the median.
        """
        _check_percents(quantiles)
        names = [names] if isinstance(names, str) else names
        out = {}
        for name in self.names if names is None else names:
            values = self[name][self.ok].astype(float)
            values = values[np.isfinite(values)]
            some = values if len(values) else np.array([math.nan])
            row = {label: float(f(some)) for label, f in _STATISTICS.items()}
            row |= {f"p{q:g}": float(np.percentile(some, q)) for q in quantiles}
            out[name] = {"count": float(len(values)), **row}
        return out

    def percentiles(
        self, series: str, quantiles: Sequence[float] = QUANTILES, bottle: int = 0
    ) -> np.ndarray:
        """Percentile bands over time, shape (quantile, time), of the members running then.

        NaN at times when no member runs.
        """
        _check_percents(quantiles)
        values = self.series_of(series, bottle)
        out = np.full((len(quantiles), values.shape[1]), np.nan)
        live = np.isfinite(values).any(axis=0)
        if live.any():
            out[:, live] = np.nanpercentile(values[:, live], quantiles, axis=0)
        return out

    def series_of(self, name: str, bottle: int = 0) -> np.ndarray:
        """A kept series of one bottle, shape (member, time)."""
        if name not in self.series:
            raise UnknownNameError.among("kept series", name, self.series)
        return self.series[name][:, bottle]

    def probability(self, name: str, *, above: Any = None, below: Any = None) -> Probability:
        """Probability that an output is above (or below) a limit; text with a unit is welcome.

        With both, that it lies outside ``below`` .. ``above``.
        """
        values = self[name][self.ok].astype(float)
        lo, hi = _limits(name, above, below)
        return _share((values > hi) | (values < lo), int(np.isnan(values).sum()))

    def probability_of_leaving(
        self, segment: str, low: Any, high: Any, bottle: str | None = None
    ) -> Probability:
        """Probability that the pressure of a hold leaves ``low`` .. ``high`` (gauge) once in it.

        Counted from the first opening of the switch; a hold in which it never opened has not
        brought the bottle into its band and counts as outside.
        """
        tag = f"{segment}." if bottle is None else f"{segment}.{bottle}."
        top, bottom = (self[f"{tag}{x}_after_open_gauge_Pa"][self.ok] for x in ("peak", "lowest"))
        lo = parse(low, "gauge_pressure", name="band, low end")
        hi = parse(high, "gauge_pressure", name="band, high end", low=lo)
        never = np.isnan(top)
        return _share(never | (top > hi) | (bottom < lo), int(never.sum()))

    def probability_over_time(
        self, series: str, *, above: Any = None, below: Any = None, bottle: int = 0
    ) -> np.ndarray:
        """Share of the members running at each time whose series is beyond a limit, shape (time,).

        NaN at times when no member runs.
        """
        values = self.series_of(series, bottle)
        lo, hi = _limits(series, above, below)
        live = np.isfinite(values)
        beyond = live & ((values > hi) | (values < lo))
        count = live.sum(axis=0)
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(count > 0, beyond.sum(axis=0) / count, np.nan)

    # --- output ----------------------------------------------------------------------------------
    def to_csv(self, path: str | Path | None = None, *, overwrite: bool = False) -> str:
        """Write (and return) the table as CSV: member, ok, inputs, outputs, reason."""
        head = ["member", "ok", *self.inputs, *self.columns, "reason"]
        return csv_text(head, (row.values() for row in self.rows()), path, overwrite=overwrite)

    def to_dataframe(self) -> Any:
        """The table as a pandas DataFrame indexed by member (needs the ``tables`` extra)."""
        pandas = extra("pandas")
        data: dict[str, Any] = {"ok": self.ok}
        data |= self.inputs | self.columns
        why = {f.member: f.reason for f in self.failures}
        data["reason"] = [why.get(m, "") for m in self.members.tolist()]
        return pandas.DataFrame(data, index=pandas.Index(self.members, name="member"))

    def to_xarray(self) -> Any:
        """Table and kept series as xarray.Dataset over member, bottle and time (``xarray``)."""
        made = dataset_of(self.to_dataframe(), title=self.title)
        series = {
            n: (("member", "bottle", "time"), v, attributes(n)) for n, v in self.series.items()
        }
        return made.assign(series).assign_coords({} if self.times is None else {"time": self.times})

    def to_json(self, path: str | Path | None = None, *, overwrite: bool = False) -> str:
        """Everything as JSON text (numbers that are none: null), written to ``path`` if given."""
        return json_text({"schema": STUDY_SCHEMA} | self.as_dict(), path, overwrite=overwrite)

    def as_dict(self) -> dict[str, Any]:
        """Everything by name of the field, members' failures and the base scenario as plain."""
        data = {f.name: getattr(self, f.name) for f in fields(self)}
        data["failures"] = [asdict(f) for f in self.failures]
        data["base"] = None if self.base is None else self.base.to_toml()
        return data

    @staticmethod
    def from_json(path: str | Path) -> StudyResult:
        """The study that :meth:`to_json` wrote; inputs that were objects come back as their text.

        InputError for any other file.
        """
        return read_json(path, STUDY_SCHEMA, "a study", study_from)

    def to_parquet(self, path: str | Path, *, overwrite: bool = False) -> None:
        """Write the table as Parquet (needs the ``tables`` extra)."""
        extra("pyarrow")
        frame = self.to_dataframe()
        for name in frame.columns:
            if frame[name].dtype == object and name != "reason":
                frame[name] = frame[name].map(str)
        write_bytes(path, frame.to_parquet(), overwrite=overwrite)

    def summary(self, names: Sequence[str] | None = None) -> str:
        """Plain-text table of the outputs: mean, spread and percentiles."""
        rows = [("output", "count", *_SHOWN), *self._described(names)]
        widths = [max(map(len, column)) for column in zip(*rows)]
        lines = [self._headline()]
        for name, *rest in rows:
            cells = (x.rjust(w) for x, w in zip(rest, widths[1:]))
            lines.append("  ".join([name.ljust(widths[0]), *cells]))
        for failure in self.failures[:5]:
            lines.append(f"member {failure.member} failed: {failure.kind}: {failure.reason}")
        return "\n".join(lines)

    def _described(self, names: Sequence[str] | None = None) -> list[tuple[str, ...]]:
        """Name, count and statistics of the outputs that have a number, as texts."""
        return [
            (name, f"{d['count']:.0f}", *(f"{d[k]:.5g}" for k in _SHOWN))
            for name, d in self.describe(names).items()
            if d["count"]
        ]

    def _headline(self) -> str:
        text = f"{self.title}: {len(self)} members, {int((~self.ok).sum())} failed"
        if not self.complete:
            text += f", INCOMPLETE ({self.note})"
        return text

    def __repr__(self) -> str:
        return f"<StudyResult {self._headline()}, {len(self.columns)} outputs>"

    def _repr_html_(self) -> str:
        body = [(name, *shown) for name, _, *shown in self._described()]
        return html_table(["output", *_SHOWN], body, self._headline())


def study_from(data: dict[str, Any]) -> StudyResult:
    """The study behind :meth:`StudyResult.to_json`; null is NaN in arrays of numbers."""
    for name in ("columns", "inputs", "series"):
        data[name] = {k: _read_array(v) for k, v in data[name].items()}
    for name in ("times", "event_table"):
        data[name] = None if data[name] is None else np.array(data[name], float)
    data["members"] = np.array(data["members"], int)
    data["ok"] = np.array(data["ok"], bool)
    data["failures"] = tuple(Failure(**f) for f in data["failures"])
    data["base"] = None if data["base"] is None else loads(data["base"])
    return StudyResult(**data)


def _read_array(values: list[Any]) -> np.ndarray:
    made = np.array(values)
    texts = made.dtype == object and any(isinstance(x, str) for x in values)
    return np.array(values, float) if made.dtype == object and not texts else made


# --- small helpers -------------------------------------------------------------------------------
def _item(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value


def _limits(name: str, above: Any, below: Any) -> tuple[float, float]:
    """(low, high) in SI: a value is beyond when it is under low or over high."""
    if above is None and below is None:
        raise InputError(
            "limit", None, "", "above=... or below=...", 'for example above="1150 psig"'
        )
    kind = kind_in(name)

    def read(value: Any) -> float:
        text = isinstance(value, str)
        return parse(value, kind, name=f"limit on {name}") if text else float(value)

    return read(-math.inf if below is None else below), read(math.inf if above is None else above)


def _check_percents(quantiles: Sequence[float]) -> None:
    if not all(0.0 <= q <= 100.0 for q in quantiles):
        raise InputError("quantiles", str(list(quantiles)), "", "percents, 0 to 100", "")


def _share(hit: np.ndarray, undefined: int) -> Probability:
    from scipy.stats import binomtest

    n, k = len(hit), int(hit.sum())
    if n == 0:
        return Probability(math.nan, 0.0, 1.0, 0, 0, 0)
    low, high = binomtest(k, n).proportion_ci(0.95, "exact")
    return Probability(k / n, float(low), float(high), k, n, undefined)
