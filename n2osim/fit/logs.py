"""Data logs: a CSV of any make into SI arrays, with an account of everything left out.

    log = read_log("pass.csv", columns={"time": "t_s", "gauge_pressure": ("P tank", "psig")})
    print(log.report.text())

Nothing is dropped silently: every row or cell that could not be used is listed with its line and
the reason, and :class:`~n2osim.errors.LogError` is raised only when nothing usable is left.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from n2osim.errors import InputError, LogError, UnknownNameError
from n2osim.fit import log_quality as quality
from n2osim.fit.log_columns import QUANTITIES, read_mapping
from n2osim.fit.log_reader import Options, Parts, read_stream
from n2osim.fit.log_report import LogReport
from n2osim.fit.log_text import open_text
from n2osim.units import parse


@dataclass(frozen=True)
class Log:
    """A log as arrays in SI.

    time : s, never falling (as recorded: its zero is the logger's).
    channels : quantity -> array as long as ``time``; NaN where there was nothing usable.
    marked : quantity -> True where a sample is a spike.
    lines : line of each row in the file.
    """

    time: np.ndarray
    channels: Mapping[str, np.ndarray]
    report: LogReport
    marked: Mapping[str, np.ndarray]
    lines: np.ndarray
    name: str = "log"

    def __repr__(self) -> str:
        ends = f"{self.time[0]:g} to {self.time[-1]:g} s" if len(self.time) else "empty"
        return f"<Log {self.name!r}: {', '.join(self.channels)}; {len(self.time)} rows, {ends}>"

    def __str__(self) -> str:
        return f"{self!r}\n{self.report.text()}"

    @classmethod
    def from_arrays(cls, time: Any, *, name: str = "log", **channels: Any) -> Log:
        """A log from arrays in SI (gauge_pressure in Pa gauge, charge in kg, ...).

        Raises InputError for unequal lengths or falling times, UnknownNameError for a channel
        that is not in ``QUANTITIES``.
        """
        t = np.asarray(time, dtype=float)
        arrays = {k: np.asarray(v, dtype=float).copy() for k, v in channels.items()}
        for k, v in arrays.items():
            if k == "time" or k not in QUANTITIES:
                raise UnknownNameError.among(
                    "log channel", k, [q for q in QUANTITIES if q != "time"]
                )
            if t.ndim != 1 or v.shape != t.shape:
                raise InputError(
                    f"log channel {k}", f"shape {v.shape}", "", f"the shape of time, {t.shape}"
                )
        if not arrays or t.size < 2 or not np.all(np.isfinite(t)) or np.any(np.diff(t) < 0.0):
            raise InputError(
                "log time",
                f"{t.size} values",
                "s",
                "two or more finite, not falling, with at least one channel",
            )
        lines = np.arange(1, t.size + 1)
        return _log(Parts(t, arrays, lines, LogReport(rows=t.size, kept=t.size)), name)

    def __len__(self) -> int:
        return int(self.time.size)

    def __getitem__(self, channel: str) -> np.ndarray:
        """A channel as recorded (spikes included); "time" too."""
        if channel == "time":
            return self.time
        if channel not in self.channels:
            raise UnknownNameError.among("log channel", channel, self.channels)
        return self.channels[channel]

    def __contains__(self, channel: object) -> bool:
        return channel in self.channels

    def clean(self, channel: str) -> np.ndarray:
        """A channel with its spikes replaced by NaN."""
        return np.where(self.marked[channel], np.nan, self[channel])

    def gauge(self, ambient: float) -> np.ndarray:
        """Gauge pressure without spikes, Pa; ``ambient`` (Pa) turns an absolute record into it."""
        if "gauge_pressure" in self.channels:
            return self.clean("gauge_pressure")
        if "pressure" in self.channels:
            return self.clean("pressure") - ambient
        raise LogError(
            "there is no pressure in this log",
            self.report.file or None,
            remedy="map gauge_pressure or pressure to a column",
        )

    @property
    def pressure_channel(self) -> str:
        """Name of the pressure channel ("gauge_pressure" or "pressure")."""
        self.gauge(0.0)
        return "gauge_pressure" if "gauge_pressure" in self.channels else "pressure"

    @property
    def duration(self) -> float:
        """Last minus first time, s."""
        return float(self.time[-1] - self.time[0])

    def between(self, start: float | str, end: float | str, *, zero: bool = False) -> Log:
        """The rows from ``start`` to ``end`` (s of the log's clock, both included).

        zero: move the log's zero to ``start``.
        """
        a = parse(start, "time", name="log start")
        b = parse(end, "time", name="log end")
        keep = (self.time >= a) & (self.time <= b)
        if keep.sum() < 2:
            raise InputError(
                "log window",
                f"{a:g} to {b:g}",
                "s",
                f"a stretch of {self.time[0]:g} to {self.time[-1]:g} s with two or more rows",
            )
        found = replace(self._rows(keep), report=replace(self.report, kept=int(keep.sum())))
        return replace(found, time=found.time - a) if zero else found

    def thin(self, most: int) -> Log:
        """Every k-th row so that at most ``most`` remain (no averaging: noise stays as it is)."""
        return self._rows(slice(None, None, max(1, -(-len(self) // max(2, most)))))

    def _rows(self, take: Any) -> Log:
        channels, marked = (
            {n: v[take] for n, v in each.items()} for each in (self.channels, self.marked)
        )
        return Log(self.time[take], channels, self.report, marked, self.lines[take], self.name)


# --- reading --------------------------------------------------------------------------------
def read_log(
    source: Any,
    columns: Mapping[str, Any] | None = None,
    *,
    encoding: str | None = None,
    delimiter: str | None = None,
    decimal: str | None = None,
    ambient: float | str | None = None,
    name: str | None = None,
    max_rows: int = 10_000_000,
) -> Log:
    r"""Read a data log.

    Parameters
    ----------
    source : path, an open text stream, or a pandas DataFrame.
    columns : quantity -> header, column number from 0, ``(header, unit)``, mapping or
        :class:`~n2osim.fit.log_columns.Column` (with scale and offset for a raw sensor).
        Quantities: time, gauge_pressure or pressure (absolute), bottle_temperature,
        ambient_temperature, heater_on, solenoid_duty, bottle_weight, charge. Where the time, or
        everything beside it, is not given, the rest is guessed from the headers, and
        ``report.notes`` says what was taken.
    encoding, delimiter, decimal : None finds out (UTF-8 with or without mark, UTF-16, else
        Windows-1252; tab, semicolon, comma, bar or blanks; decimal point or comma).
    ambient : ambient pressure (Pa or text), only needed where a unit gives the other reference
        than the quantity (psig for ``pressure``).
    max_rows : refuse longer files.

    Raises
    ------
    LogError (no such file, not text, nothing usable, ambiguous), InputError and its kin for the
    arguments themselves.

    Examples
    --------
    >>> import io
    >>> import n2osim as n2
    >>> text = "time [s],pressure [psig],shell [degF]\n0,655,60.2\n30,662,61\n60,671,61.9\n"
    >>> log = n2.read_log(io.StringIO(text), {"bottle_temperature": "shell [degF]"})
    >>> print(f"{log.duration:.0f} s of {', '.join(log.channels)}")
    60 s of bottle_temperature, gauge_pressure
    """
    p = None if ambient is None else parse(ambient, "pressure", name="ambient pressure")
    options = Options(read_mapping(columns), delimiter, decimal, p, max_rows)
    if hasattr(source, "to_csv"):
        named = getattr(source.index, "name", None) is not None
        text = io.StringIO(source.to_csv(index=named))
        return _log(read_stream(text, name or "frame", "", options), name or "log")
    if isinstance(source, io.TextIOBase):
        label = str(getattr(source, "name", "log"))
        return _log(read_stream(source, label, "", options), name or "log")
    if not isinstance(source, (str, Path)) or "\0" in str(source):
        raise InputError("log", source, "", "a path, an open text stream or a DataFrame")
    path = Path(source)
    stream, found = open_text(path, encoding)
    with stream:
        return _log(read_stream(stream, str(path), found, options), name or path.stem)


def _log(parts: Parts, name: str) -> Log:
    """Mark spikes and measure resolution, noise and gaps."""
    time, channels, lines, report = parts
    marked, steps, noise, where = {}, {}, {}, {}
    for q, v in channels.items():
        switch = QUANTITIES[q].switch
        steps[q] = 0.0 if switch else quality.resolution(v)
        marked[q] = np.zeros(v.shape, bool) if switch else quality.spikes(v, steps[q])
        good = np.where(marked[q], np.nan, v)
        noise[q] = 0.0 if switch else quality.white_noise(good, steps[q])
        where[q] = tuple(int(n) for n in lines[marked[q]])
    same = int(np.sum(np.diff(time) == 0.0))
    notes = report.notes
    if same:
        notes = (*notes, f"{same} rows share their time with the row before")
    report = replace(
        report,
        interval=float(np.median(np.diff(time))),
        gaps=tuple(quality.gaps(time)),
        resolution=steps,
        noise=noise,
        spikes=where,
        notes=notes,
    )
    return Log(time, channels, report, marked, lines, name)
