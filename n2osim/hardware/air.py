# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Air over the clock: constant, day and night, a table. One class a kind.

Each says its temperature at a clock time, writes itself into the arrays of a run (``pack``,
``table``) and describes itself. ``index`` is the number by which the kernel
``engine.balances.ambient_temperature`` knows it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, ClassVar

import numpy as np

from n2osim.errors import InputError
from n2osim.schema import Amount, Given, Kind, Number, Part, Several, Show, Typed, field, inside

DAY = 86400.0
AIR = Number("temperature", 200.0, 360.0)


class Air(Part):
    """What every kind of air can do."""

    extensible = True
    index: ClassVar[int]

    def temperature_at(self, clock: Any) -> Any:
        """Air temperature (K) at ``clock`` (s after midnight; float or array)."""
        raise NotImplementedError

    def pack(self, record: Any) -> None:
        """Write itself into the record of a run."""
        raise NotImplementedError

    def table(self, first: float, last: float) -> np.ndarray:
        """(clock s, temperature K) where the course has corners, shape (n, 2); n may be 0.

        first, last: clock of the run's start and end.
        """
        return np.zeros((0, 2))

    def words(self, show: Show) -> str:
        """In words."""
        raise NotImplementedError


@dataclass(frozen=True)
class ConstantAir(Air):
    """One temperature all day."""

    temperature: Amount = field(AIR, "air temperature")
    index = 0

    def temperature_at(self, clock: Any) -> Any:
        """Air temperature (K) at ``clock`` (s; float or array)."""
        return _scalar(np.full(np.shape(clock), self.temperature))

    def pack(self, record: Any) -> None:
        """Write itself into the record of a run."""
        record["ambient_mean"] = self.temperature

    def words(self, show: Show) -> str:
        """In words."""
        return show(self.temperature, "temperature")


@dataclass(frozen=True)
class DayNight(Air):
    """Air temperature as a sinusoid over the day.

    >>> import n2osim as n2
    >>> from n2osim.units import to_degF
    >>> day = n2.DayNight("68 degF", swing="12 degF", hottest_at="16:00")
    >>> print(f"{to_degF(day.temperature_at(4 * 3600)):.1f} degF at four in the morning")
    56.0 degF at four in the morning
    """

    mean: Amount = field(AIR, "mean temperature of the day")
    swing: Amount = field(
        "temperature_difference",
        "half the difference between the hottest and the coldest hour",
        0.0,
        low=0.0,
        high=40.0,
    )
    hottest_at: Amount = field(
        "clock_time", 'clock time of the maximum ("15:00")', 54000.0, low=0.0, high=DAY
    )
    index = 2

    def temperature_at(self, clock: Any) -> Any:
        """Air temperature (K) at ``clock`` (s after midnight; float or array)."""
        angle = 2.0 * math.pi * (np.asarray(clock, dtype=float) - self.hottest_at) / DAY
        return _scalar(self.mean + self.swing * np.cos(angle))

    def pack(self, record: Any) -> None:
        """Write itself into the record of a run."""
        record["ambient_mean"], record["ambient_swing"] = self.mean, self.swing
        record["ambient_hottest"] = self.hottest_at

    def words(self, show: Show) -> str:
        """In words."""
        mean, swing = show(self.mean, "temperature"), show(self.swing, "temperature_difference")
        return f"{mean} +- {swing} over the day"


Row = Typed[Sequence[Given], tuple[float, ...]]


@dataclass(frozen=True)
class TemperatureTable(Air):
    """Air temperature given at clock times, straight lines between, constant beyond the ends.

    >>> import n2osim as n2
    >>> from n2osim.units import to_degF
    >>> table = n2.TemperatureTable(["18:00", "22:00"], ["74 degF", "58 degF"])
    >>> print(f"{to_degF(table.temperature_at(20 * 3600)):.1f} degF at eight")
    66.0 degF at eight
    """

    times: Row = field(
        Several(Number("clock_time", 0.0, 30.0 * DAY)),
        "clock times, rising (seconds after midnight of the first day; more than one day is fine)",
    )
    temperatures: Row = field(Several(AIR), "one for each time")
    index = 1

    def __post_init__(self) -> None:
        if len(self.times) != len(self.temperatures) or len(self.times) < 2:
            given = f"{len(self.times)} times, {len(self.temperatures)} temperatures"
            valid = "two or more times with one temperature each"
            raise InputError("ambient table", given, "", valid, "")
        for before, after in pairwise(self.times):
            if after <= before:
                remedy = "list the times in rising order; 4:00 of the day after is '28 h'"
                valid = f"later than {before:g} s"
                raise InputError("ambient table time", after, "s", valid, remedy)

    @classmethod
    def from_pairs(cls, pairs: Iterable[Any]) -> TemperatureTable:
        """From ``[(clock, temperature), ...]``, e.g. ``[("06:00", "50 degF"), ("15:00", ...)]``."""
        rows = []
        for i, given in enumerate(pairs):
            pair = isinstance(given, Iterable) and not isinstance(given, (str, Mapping))
            rows.append(tuple(given) if pair else ())
            if len(rows[i]) != 2:
                with inside(i):
                    raise InputError("ambient table row", given, "", "a pair (clock, temperature)")
        return cls(tuple(clock for clock, _ in rows), tuple(value for _, value in rows))

    @classmethod
    def from_pandas(cls, data: Any) -> TemperatureTable:
        """From a Series of temperatures over clock times, or a DataFrame.

        The index (of a DataFrame with one column: its index, else its first column) is the clock:
        timestamps count from midnight of the first day, time differences and numbers (s) from
        midnight, texts are read ("18:00"). Temperatures are K, texts with a unit, or in the unit
        of ``attrs["units"]``.
        """
        clock, values = data.index, data
        if getattr(data, "ndim", 1) == 2:
            values = data.iloc[:, data.shape[1] - 1]
            if data.shape[1] == 2:
                clock = data.iloc[:, 0]
        unit = getattr(data, "attrs", {}).get("units", "")
        listed = values.tolist()
        rows = [v if isinstance(v, str) or not unit else f"{v} {unit}" for v in listed]
        return cls(_clock(clock), rows)

    def temperature_at(self, clock: Any) -> Any:
        """Air temperature (K) at ``clock`` (s; float or array)."""
        return _scalar(np.interp(np.asarray(clock, dtype=float), self.times, self.temperatures))

    def pack(self, record: Any) -> None:
        """Nothing: its table is all there is."""

    def table(self, first: float, last: float) -> np.ndarray:
        """(clock s, temperature K), shape (n, 2)."""
        return np.column_stack([self.times, self.temperatures]).astype(float)

    def words(self, show: Show) -> str:
        """In words."""
        low, high = (show(f(self.temperatures), "temperature") for f in (min, max))
        return f"{low} to {high} by table"


class AirFunction(Air):
    """Air of another package, a function of the clock: write ``at``.

    A run reads it as a table, every ``step`` (s), with straight lines between: off by at most an
    eighth of its curvature times the square of the step (a day's sinusoid of 15 K: 1 mK).
    """

    index = 1
    step: ClassVar[float] = 300.0

    def at(self, clock: float) -> float:
        """Air temperature (K) at ``clock`` (s after midnight of the first day)."""
        raise NotImplementedError

    def temperature_at(self, clock: Any) -> Any:
        """Air temperature (K) at ``clock`` (s; float or array)."""
        name = f"air of {type(self).__name__}"
        found = [AIR.read(float(self.at(float(t))), name, self) for t in np.ravel(clock)]
        return _scalar(np.reshape(found, np.shape(clock)))

    def pack(self, record: Any) -> None:
        """Nothing: its table is all there is."""

    def table(self, first: float, last: float) -> np.ndarray:
        """(clock s, temperature K) from the run's start to its end, shape (n, 2)."""
        times = np.arange(first, last + self.step, self.step)
        return np.column_stack([times, self.temperature_at(times)])

    def words(self, show: Show) -> str:
        """In words."""
        return f"by {self.registered or type(self).__name__}"


def _clock(index: Any) -> list[Given]:
    """Clock times (s after midnight of the first day, or texts) of a pandas index or column."""
    values = np.asarray(index)
    if values.dtype.kind == "M":
        first = values.min().astype("datetime64[D]")
        values = values - first
    if values.dtype.kind == "m":
        return [float(v) for v in values / np.timedelta64(1, "s")]
    return list(values.tolist())


class AirKind(Kind):
    """Air: a temperature, pairs (clock, temperature), a pandas object, or one of the kinds."""

    takes = "temperature, list or table"
    dimension = AIR.dimension
    valid = "200 K to 360 K"

    def read(self, value: Any, label: str, owner: Any) -> float | Air:
        if isinstance(value, ConstantAir):
            return value.temperature
        if isinstance(value, Air):
            return value
        if hasattr(value, "index") and hasattr(value, "iloc"):
            return TemperatureTable.from_pandas(value)
        if isinstance(value, Mapping):
            if "kind" in value:
                return Air.from_dict(value)
            return (DayNight if "mean" in value else TemperatureTable).from_dict(value)
        if isinstance(value, (list, tuple)):
            return TemperatureTable.from_pairs(value)
        return AIR.read(value, label, owner)

    def plain(self, value: Any) -> Any:
        return value.as_dict() if isinstance(value, Air) else value


def _scalar(values: Any) -> Any:
    return float(values) if np.ndim(values) == 0 else values
