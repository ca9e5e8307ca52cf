"""What every question gives back: figures, what decides, the scenario with the answer, its run.

An :class:`Answer` has been carried out: ``run`` is the run of ``scenario`` as it would be saved,
and every figure, finding and margin is of that run.
"""

from __future__ import annotations

import html
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from n2osim.errors import UnknownNameError
from n2osim.numbers import Units, in_system
from n2osim.results.findings import CAUTIONS, CAUTIONS_MARK
from n2osim.results.frames import Comparable, dataframe, dataset_of, json_text, read_json
from n2osim.results.limits import kept_clear, nearest
from n2osim.scenario.file import loads
from n2osim.text import Table, heading, pairs_text, wrapped
from n2osim.units import in_unit, unit_label

if TYPE_CHECKING:
    from n2osim.results.findings import Finding
    from n2osim.results.judge import Margin
    from n2osim.results.run import Run
    from n2osim.scenario.scenario import Scenario

SOUND, NOT_SOUND = 0, 3
ANSWER_SCHEMA = 1
"""Version of the JSON format."""
_SEVERE = ("danger", "warning")


class Figure(NamedTuple):
    """One figure: name, words, value (SI, text; None: it did not happen), kind of quantity."""

    name: str
    words: str
    value: Any
    kind: str = ""

    def text(self, units: Units) -> str:
        """Value with its unit."""
        return _shown(self.value, self.kind, units.full)

    @property
    def unit(self) -> str:
        """SI unit."""
        if not self.kind or isinstance(self.value, str):
            return ""
        return _si(self.kind)


def _si(kind: str) -> str:
    """SI unit of a kind, as results carry it."""
    return "Pa gauge" if kind == "gauge_pressure" else unit_label(kind, "si")


def _shown(value: Any, kind: str, show: Callable[[float, str], str]) -> str:
    """A value in words: "-" for what did not happen, as it is without a kind of quantity."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return "-"
    return str(value) if isinstance(value, str) or not kind else show(float(value), kind)


def _margin(m: Margin) -> dict[str, Any]:
    """Plain values of a margin (SI)."""
    plain = {"code": m.limit.code, "bottle": m.bottle, "kind": m.kind, "value": m.value}
    return plain | {"bound": m.bound, "left": m.margin, "kept": m.limit.margin}


class Column(NamedTuple):
    """Column of a :class:`Listing`: key of its rows, head, kind of quantity ("": as it is)."""

    name: str
    words: str
    kind: str = ""


@dataclass(frozen=True)
class Listing:
    """Rows of figures: ``rows`` map names to SI values; ``columns`` are those that are printed."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[Mapping[str, Any], ...]
    note: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Plain values."""
        columns = [c._asdict() for c in self.columns]
        rows = list(map(dict, self.rows))
        return {"title": self.title, "columns": columns, "rows": rows, "note": self.note}

    def table(self, system: str = "shop") -> Table:
        """Ready texts, units in the heads."""
        units = Units(system)

        def cell(c: Column, value: Any) -> str:
            show = units.full if c.kind == "time" else units.bare
            return in_system(_shown(value, c.kind, show), system)

        heads = tuple(
            (c.words, "" if c.kind in ("", "time") else units.unit(c.kind)) for c in self.columns
        )
        rows = tuple(tuple(cell(c, r.get(c.name)) for c in self.columns) for r in self.rows)
        return Table(self.title, heads, rows, self.note)


class Broken(NamedTuple):
    """A requirement or a limit that does not hold: its code, what is wrong in words, in which case.

    always: no value that was looked at cures it.
    """

    code: str
    words: str
    case: str = ""
    always: bool = False

    def text(self) -> str:
        """In one line."""
        where = f" ({self.case})" if self.case else ""
        cure = ": nothing that was asked for can cure it" if self.always else ""
        return f"{self.words}{where}{cure}"


@dataclass(frozen=True, eq=False)
class Answer(Comparable):
    """The answer to a question.

    Parameters
    ----------
    question : in words. figures : the first ones are what was asked for; ``answer["power"]`` and
        ``answer.power`` give a figure's value (SI).
    scenario, run : the whole scenario with the answer in it, and its run.
    decided_by : what decides, in words; then : what comes next in the other direction.
    intervals : values that are allowed, where one field was looked for: (lowest, highest), SI.
    broken : requirements and limits that do not hold. notes : what was assumed or changed besides.
    listings : tables, the first being what was asked for where that is a table.
    runs : how many runs it took. more : objects behind the answer, by name.

    >>> import n2osim as n2
    >>> left = n2.Scenario(n2.Bottle.preset("aluminium", "15 lb"), fill="9.6 lb", start="74 degF")
    >>> found = n2.hot_soak(left, "4 h", air="84 degF", boot=n2.Boot(solar="130 W"))
    >>> list(found)
    ['peak_pressure', 'peak_time', 'hottest_wall']
    >>> print(f"{found.get('peak_pressure', 'psig'):.0f} psig; status {found.status}")
    1069 psig; status 0
    """

    question: str
    figures: tuple[Figure, ...]
    scenario: Scenario
    run: Run
    decided_by: tuple[str, ...] = ()
    then: tuple[str, ...] = ()
    intervals: tuple[tuple[float, float], ...] = ()
    broken: tuple[Broken, ...] = ()
    notes: tuple[str, ...] = ()
    listings: tuple[Listing, ...] = ()
    runs: int = 1
    more: Mapping[str, Any] = field(default_factory=dict, compare=False)

    # --- reading -------------------------------------------------------------------------------
    def __getitem__(self, name: str) -> Any:
        if name not in self:
            raise UnknownNameError.among("figure", name, self)
        return next(f.value for f in self.figures if f.name == name)

    def __getattr__(self, name: str) -> Any:
        if not name.startswith("_") and "figures" in self.__dict__:
            if name in self:
                return self[name]
            if name in self.more:
                return self.more[name]
        raise AttributeError(f"this answer has no {name!r}")

    def __getstate__(self) -> dict[str, Any]:
        """Without what cannot be sent elsewhere: functions in ``more``."""
        more = {k: v for k, v in self.more.items() if not callable(v)}
        return {**self.__dict__, "more": more}

    def get(self, name: str, unit: str = "") -> Any:
        """A figure, or a column of the first table as an array, in ``unit`` (SI without one).

        None (in an array NaN) for what did not happen; UnknownNameError with near matches.
        """
        columns = self.listings[0].columns if self.listings else ()
        every: tuple[Figure | Column, ...] = (*self.figures, *columns)
        found = next((x for x in every if x.name == name), None)
        if found is None:
            known = dict.fromkeys([*self, *(c.name for c in columns)])
            raise UnknownNameError.among("figure", name, known)
        if isinstance(found, Figure):
            value = found.value
        else:
            values = [row.get(name) for row in self.rows]
            value = np.array(values, float if found.kind else object)
        if not unit or value is None:
            return value
        ambient = self.scenario.ambient.pressure
        return in_unit(value, found.kind or "number", unit, name=name, ambient=ambient)

    @property
    def value(self) -> Any:
        """What was asked for: the first figure's value."""
        return self.figures[0].value

    @property
    def rows(self) -> tuple[Mapping[str, Any], ...]:
        """Rows of the first table (none: empty)."""
        return self.listings[0].rows if self.listings else ()

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What the run of the answer gives rise to, most severe first."""
        return tuple(f for f in self.run.findings if f.severity != "caution")

    @cached_property
    def margins(self) -> tuple[Margin, ...]:
        """Limits of the bottles that the run stays inside and that one keeps clear of, the tightest
        first."""
        return kept_clear(self.run)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What always holds."""
        return tuple(f.message for f in self.run.findings if f.severity == "caution")

    @property
    def status(self) -> int:
        """0: sound; 3: the run has a danger, or something required does not hold."""
        unsound = self.broken or any(f.severity == "danger" for f in self.findings)
        return NOT_SOUND if unsound else SOUND

    # --- out -----------------------------------------------------------------------------------
    def save(self, path: str | Path, *, overwrite: bool = False) -> str:
        """Write (and return) the scenario with the answer in it as TOML."""
        return self.scenario.to_toml(path, overwrite=overwrite)

    def text(self, system: str = "shop") -> str:
        """At most a page: figures, what decides, tables, findings, cautions."""
        units = Units(system)
        parts = [
            heading(self.question),
            "\n".join(_marked("NOT SOUND: ", b.text()) for b in self.broken),
            pairs_text((f.words, f.text(units)) for f in self.figures),
            pairs_text(self._decisions(units)),
            *(x.table(system).text() for x in self.listings),
            "\n".join(_marked("  * ", in_system(note, system)) for note in self.notes),
            "\n".join(self._findings_lines(system)),
            wrapped(CAUTIONS, CAUTIONS_MARK, "  "),
        ]
        return "\n\n".join(p for p in parts if p) + "\n"

    def _decisions(self, units: Units) -> list[tuple[str, str]]:
        found = [("decided by", x) for x in self.decided_by] + [("then", x) for x in self.then]
        kind = self.figures[0].kind if self.figures else ""
        if len(self.intervals) > 1 and kind:
            spans = (f"{units.bare(a, kind)} to {units.full(b, kind)}" for a, b in self.intervals)
            found.append(("allowed", "; ".join(spans)))
        return found + nearest(self.run, units)

    def _findings_lines(self, system: str) -> list[str]:
        told = [f for f in self.findings if f.severity in _SEVERE]
        lines = []
        for f in told:
            where = f"{f.bottle}: " if len(self.scenario.bottles) > 1 and f.bottle else ""
            lines.append(_marked(f"{f.severity.upper()}: ", where + f.told(system)))
        notes = len(self.findings) - len(told)
        if notes:
            lines.append(f"{notes} note(s) more with: n2osim simulate on the saved scenario")
        return lines

    def to_dict(self) -> dict[str, Any]:
        """Everything but the run's arrays as plain values (SI)."""
        return {
            "schema": ANSWER_SCHEMA,
            "question": self.question,
            "figures": [f._asdict() for f in self.figures],
            "answer": {f.name: _value(f) for f in self.figures if f.name},
            "decided_by": list(self.decided_by),
            "then": list(self.then),
            "intervals": [list(x) for x in self.intervals],
            "not_sound": [b._asdict() for b in self.broken],
            "notes": list(self.notes),
            "tables": [x.as_dict() for x in self.listings],
            "margins": [_margin(m) for m in self.margins],
            "findings": [f.as_dict() for f in self.findings],
            "cautions": list(self.cautions),
            "status": self.status,
            "runs": self.runs,
            "scenario": self.scenario.to_toml(),
        }

    def to_json(self, path: str | Path | None = None, *, overwrite: bool = False) -> str:
        """The same as JSON text, written to ``path`` where one is given."""
        return json_text(self.to_dict(), path, overwrite=overwrite, indent=1)

    @staticmethod
    def from_json(path: str | Path) -> Answer:
        """The answer that :meth:`to_json` wrote; its run is carried out again, ``more`` is empty.

        InputError for any other file.
        """
        return read_json(path, ANSWER_SCHEMA, "an answer", _answer_from)

    def __contains__(self, name: object) -> bool:
        """Whether it has a figure of that name."""
        return any(f.name == name for f in self.figures)

    def __iter__(self) -> Iterator[str]:
        """Over the names of the figures."""
        return iter(f.name for f in self.figures)

    def to_dataframe(self) -> Any:
        """The first table, or the figures, as a pandas DataFrame in SI (needs ``tables``)."""
        if self.listings:
            return dataframe(list(self.rows), self.listings[0].columns[0].name)
        return dataframe(
            [{"name": f.name, "value": f.value, "unit": f.unit} for f in self.figures], "name"
        )

    def to_xarray(self) -> Any:
        """:meth:`to_dataframe` as xarray.Dataset with units (needs ``xarray`` and ``tables``)."""
        columns = self.listings[0].columns if self.listings else ()
        units = {c.name: _si(c.kind) for c in columns if c.kind}
        return dataset_of(self.to_dataframe(), units, title=self.question)

    def _repr_html_(self) -> str:
        units = Units()
        rows = tuple((f.words, f.text(units)) for f in self.figures)
        rows += tuple(self._decisions(units))
        parts = [Table(self.question, (("", ""), ("", "")), rows).html()]
        parts += [x.table().html() for x in self.listings]
        said = [f"NOT SOUND: {b.text()}" for b in self.broken]
        said += [in_system(note, "shop") for note in self.notes]
        said += self._findings_lines("shop")
        parts += [f"<p>{html.escape(line)}</p>" for line in said]
        return "".join(parts)

    def __str__(self) -> str:
        return self.text()

    def __repr__(self) -> str:
        units = Units()
        shown = ", ".join(f"{f.words} {f.text(units)}" for f in self.figures[:3])
        return f"<Answer {self.question!r}: {shown or self.listings[0].title}; {self.runs} runs>"


def _answer_from(data: dict[str, Any]) -> Answer:
    scenario = loads(data["scenario"])
    return Answer(
        data["question"],
        tuple(Figure(**f) for f in data["figures"]),
        scenario,
        scenario.run(),
        tuple(data["decided_by"]),
        tuple(data["then"]),
        tuple((a, b) for a, b in data["intervals"]),
        tuple(Broken(**b) for b in data["not_sound"]),
        tuple(data["notes"]),
        tuple(
            Listing(
                x["title"], tuple(Column(**c) for c in x["columns"]), tuple(x["rows"]), x["note"]
            )
            for x in data["tables"]
        ),
        data["runs"],
    )


def _marked(mark: str, text: str) -> str:
    return wrapped(text, mark, " " * min(len(mark), 4))


def _value(figure: Figure) -> Any:
    return {"value": figure.value, "unit": figure.unit} if figure.unit else figure.value


def figures_of(run_numbers: Mapping[str, float], wanted: Sequence[Figure]) -> tuple[Figure, ...]:
    """Figures whose value names a number of the run, filled in; one per bottle where several."""
    found: list[Figure] = []
    for figure in wanted:
        first, _, last = str(figure.value).rpartition(".")
        names = [n for n in run_numbers if n.startswith(f"{first}.") and n.split(".")[-1] == last]
        for name in names:
            bottle = name[len(first) + 1 : -len(last) - 1]
            tag = f"_{bottle}" if bottle else ""
            words = f"{figure.words} ({bottle})" if bottle else figure.words
            value = run_numbers[name]
            shown = None if math.isnan(value) else value
            found.append(Figure(f"{figure.name}{tag}", words, shown, figure.kind))
    return tuple(found)
