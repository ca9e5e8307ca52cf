"""Monte Carlo: scatter in any scenario fields, what it does to the outputs, and which matters.

The whole sample is drawn before anything runs, from the seed alone, so it is the same however the
work is split. Sampling is stratified by default (Latin hypercube, McKay, Beckman & Conover 1979) or
by a scrambled Sobol' sequence (Owen 1998); both from scipy.stats.qmc.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Unpack

import numpy as np

from n2osim.errors import InputError, N2OSimError, UnitError, UnknownNameError
from n2osim.results.frames import (
    Comparable,
    dataframe,
    dataset_of,
    html_table,
    json_text,
    read_json,
)
from n2osim.scenario.fields import get_field, number_of, with_fields
from n2osim.scenario.scenario import Scenario
from n2osim.studies.ensemble import HowToRun, run_study
from n2osim.studies.members import whole_number
from n2osim.studies.result import StudyResult, study_from
from n2osim.studies.sweeps import LARGEST, checked, points_source, sweep
from n2osim.unit_table import DIMENSIONS
from n2osim.units import parse

SAMPLINGS = ("latin", "sobol", "random")
_NO_DIFFERENCE = ("pressure", "gauge_pressure", "temperature", "clock_time", "count", "flag")
_LOST_SHARE = 0.05  # of the base sample, beyond which indices are refused


def monte_carlo(
    scenario: Scenario,
    distributions: Mapping[str, Any],
    count: int,
    *,
    seed: int = 0,
    sampling: str = "latin",
    title: str = "Monte Carlo",
    **how: Unpack[HowToRun],
) -> StudyResult:
    """Run a scenario with fields drawn from distributions.

    Parameters
    ----------
    distributions : dotted name to a frozen scipy.stats distribution in SI units; to a pair
        (distribution, unit) such as ``(norm(1100, 5), "psig")``, whose column is then in that
        unit and named with it (``"start [degF]"``); or to a list of equally likely values. They
        are independent: draw what hangs together yourself and give it to :func:`sweep`, one
        mapping a member.
    count : members. seed : same seed, same members, same results.
    sampling : "latin" (Latin hypercube), "sobol" (scrambled; take a power of 2) or "random".
    how : keywords of :func:`~n2osim.studies.ensemble.run_ensemble`.

    >>> from scipy.stats import norm
    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "10 lb"), fill="8.2 lb", start="83 degF",
    ...     schedule=[n2.Pass("9 s", outflow="0.08 lb/s")],
    ... )
    >>> study = n2.monte_carlo(car, {"start": (norm(83, 2), "degF")}, 32, seed=3)
    >>> print(f"+- {study.get('pass0.end_pressure', 'psig').std():.0f} psi")
    +- 21 psi
    """
    factors = _factors(scenario, distributions)
    points = unit_sample(len(factors), count, seed, sampling)
    return _run(scenario, factors, points, title, how)


def unit_sample(dimensions: int, count: int, seed: int, sampling: str = "latin") -> np.ndarray:
    """Points in the unit cube, shape (count, dimensions), strictly between 0 and 1."""
    from scipy.stats import qmc

    whole_number("members", count, 1, LARGEST)
    rng = _generator(seed)
    if sampling == "latin":
        points = qmc.LatinHypercube(dimensions, **rng).random(count)
    elif sampling == "sobol":
        # Drawn to the next power of 2 (a Sobol' sequence is balanced only there), then cut.
        points = qmc.Sobol(dimensions, **rng).random_base2(max(0, math.ceil(math.log2(count))))
        points = points[:count]
    elif sampling == "random":
        points = np.random.default_rng(seed).random((count, dimensions))
    else:
        raise UnknownNameError.among("sampling", sampling, SAMPLINGS)
    edge = np.finfo(float).eps
    return np.clip(points, edge, 1.0 - edge)


def _generator(seed: int) -> dict[str, Any]:
    """Keyword of the generator in scipy.stats.qmc (renamed between releases)."""
    import inspect

    from scipy.stats import qmc

    remedy = "any will do: it only has to be the same for the same sample"
    whole_number("seed", seed, 0, remedy=remedy)
    names = inspect.signature(qmc.Sobol.__init__).parameters
    return {"rng" if "rng" in names else "seed": np.random.default_rng(seed)}


# --- distributions -------------------------------------------------------------------------------
@dataclass(frozen=True)
class Factor:
    """One varied field: its dotted name, distribution (or choices) and unit ("" for SI)."""

    path: str
    distribution: Any
    unit: str = ""
    choices: tuple[Any, ...] = ()

    @property
    def label(self) -> str:
        """Name of the input column."""
        return f"{self.path} [{self.unit}]" if self.unit else self.path

    def draw(self, u: np.ndarray) -> np.ndarray:
        """Values at cumulative probabilities ``u``."""
        if self.choices:
            picked = np.minimum((u * len(self.choices)).astype(int), len(self.choices) - 1)
            out = np.empty(len(u), dtype=object)
            out[:] = [self.choices[k] for k in picked]
            return out
        values = np.asarray(self.distribution.ppf(u), dtype=float)
        if not np.isfinite(values).all():
            raise InputError(
                f"distribution of {self.path}",
                "a value that is not a number",
                "",
                "a distribution with finite quantiles",
                "check its parameters",
            )
        return values

    def field_values(self, values: np.ndarray) -> list[Any]:
        """``values`` as they are put into the scenario (text when there is a unit)."""
        if self.unit:
            return [f"{v!r} {self.unit}" for v in values.tolist()]
        return list(values) if self.choices else values.tolist()


def _factors(scenario: Scenario, distributions: Mapping[str, Any]) -> list[Factor]:
    if not isinstance(distributions, Mapping) or not distributions:
        raise InputError(
            "distributions",
            distributions,
            "",
            "a mapping of dotted names to distributions",
            "for example {'fill': scipy.stats.norm(5.4, 0.05)}",
        )
    factors = []
    for path, given in distributions.items():
        get_field(scenario, path)
        factors.append(_factor(path, given))
    return factors


def _factor(path: str, given: Any) -> Factor:
    if _is_distribution(given):
        return Factor(path, given)
    if isinstance(given, tuple) and len(given) == 2 and _is_distribution(given[0]):
        return Factor(path, given[0], str(given[1]))
    several = isinstance(given, Sequence) and not isinstance(given, str) and len(given) > 0
    if several and not any(hasattr(value, "ppf") for value in given):
        return Factor(path, None, choices=tuple(given))
    raise InputError(
        f"distribution of {path}",
        given,
        "",
        "a frozen scipy.stats distribution, (distribution, unit), or a list of values",
        "for example scipy.stats.uniform(5.0, 0.4)",
    )


def _is_distribution(given: Any) -> bool:
    """Whether it has quantiles and parameters of its own (``norm(1, 2)``, not ``norm``)."""
    from scipy import stats

    family = isinstance(given, type) or getattr(stats, str(getattr(given, "name", "")), 0) is given
    return callable(getattr(given, "ppf", None)) and not family


def _run(
    scenario: Scenario, factors: list[Factor], points: np.ndarray, title: str, how: HowToRun
) -> StudyResult:
    columns = {f.label: f.draw(points[:, k]) for k, f in enumerate(factors)}
    fields = [f.field_values(columns[f.label]) for f in factors]
    rows = list(zip(*fields))
    source = points_source(
        scenario, tuple(f.path for f in factors), rows, title, tuple(columns), columns
    )
    return run_study(source, checked(scenario, how))


# --- which input matters -------------------------------------------------------------------------
SOBOL_SCHEMA = 1
"""Version of the JSON format of indices."""


@dataclass(frozen=True, eq=False)
class SobolIndices(Comparable):
    """Sobol' indices of outputs with respect to inputs.

    first[output][input]: share of the output's variance that goes with the input alone; total: with
    all its interactions; *_interval: bootstrap 95 %. used of the ``count`` base members
    entered (members with a failure or without a number are left out, and then as many more as
    leave a power of 2).
    """

    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    first: dict[str, dict[str, float]]
    total: dict[str, dict[str, float]]
    first_interval: dict[str, dict[str, tuple[float, float]]]
    total_interval: dict[str, dict[str, tuple[float, float]]]
    count: int
    used: int
    study: StudyResult

    def summary(self) -> str:
        """Plain-text table, strongest input first for each output."""
        lines = []
        for output in self.outputs:
            lines.append(self._headline(output))
            lines += [
                f"  {r['input']:<30} first {r['first']:6.3f}   total {r['total']:6.3f}{_within(r)}"
                for r in self._rows(output)
            ]
        return "\n".join(lines)

    def to_dataframe(self) -> Any:
        """Indices and their intervals as a pandas DataFrame indexed by output and input."""
        rows = [r for output in self.outputs for r in self._rows(output)]
        return dataframe(rows, ["output", "input"])

    def to_xarray(self) -> Any:
        """:meth:`to_dataframe` as xarray.Dataset over output and input (needs ``xarray``)."""
        return dataset_of(self.to_dataframe(), title=self.study.title)

    def to_json(self, path: str | Path | None = None, *, overwrite: bool = False) -> str:
        """Indices, intervals and the study as JSON text, written to ``path`` where one is given."""
        rows = [r for output in self.outputs for r in self._rows(output)]
        data = {"schema": SOBOL_SCHEMA, "count": self.count, "used": self.used, "rows": rows}
        data |= {"inputs": self.inputs, "study": self.study.as_dict()}
        return json_text(data, path, overwrite=overwrite)

    @staticmethod
    def from_json(path: str | Path) -> SobolIndices:
        """What :meth:`to_json` wrote, the study with it. InputError for any other file."""
        return read_json(path, SOBOL_SCHEMA, "Sobol' indices", _indices_from)

    def __iter__(self) -> Iterator[str]:
        """Over the outputs."""
        return iter(self.outputs)

    def __repr__(self) -> str:
        names = f"{len(self.outputs)} outputs by {len(self.inputs)} inputs"
        return f"<SobolIndices of {names}, {self.used} of {self.count} base members>"

    def _repr_html_(self) -> str:
        head = ["input", "first", "total", "95 % of the total"]
        form = "{first:.3f}|{total:.3f}"
        return "".join(
            html_table(
                head,
                [
                    [r["input"], *form.format(**r).split("|"), _within(r).strip(" ()") or "-"]
                    for r in self._rows(output)
                ],
                self._headline(output),
            )
            for output in self.outputs
        )

    def _headline(self, output: str) -> str:
        return f"{output} ({self.used} of {self.count} base members)"

    def _rows(self, output: str) -> list[dict[str, Any]]:
        """One record an input, the strongest first."""
        out = []
        for name in sorted(self.inputs, key=lambda n: -self.total[output][n]):
            row: dict[str, Any] = {"output": output, "input": name}
            for kind, value, ends in (
                ("first", self.first, self.first_interval),
                ("total", self.total, self.total_interval),
            ):
                low, high = ends[output][name]
                row |= {kind: value[output][name], f"{kind}_low": low, f"{kind}_high": high}
            out.append(row)
        return out


def _indices_from(data: dict[str, Any]) -> SobolIndices:
    tables: dict[str, dict[str, dict[str, Any]]] = {}
    for row in data["rows"]:
        for kind in ("first", "total"):
            ends = (_nan(row[f"{kind}_low"]), _nan(row[f"{kind}_high"]))
            for name, value in ((kind, _nan(row[kind])), (f"{kind}_interval", ends)):
                tables.setdefault(name, {}).setdefault(row["output"], {})[row["input"]] = value
    outputs = tuple(dict.fromkeys(row["output"] for row in data["rows"]))
    return SobolIndices(
        tuple(data["inputs"]),
        outputs,
        **tables,  # type: ignore[arg-type]
        count=data["count"],
        used=data["used"],
        study=study_from(data["study"]),
    )


def _nan(value: float | None) -> float:
    return math.nan if value is None else value


def sobol_indices(
    scenario: Scenario,
    distributions: Mapping[str, Any],
    count: int,
    of: str | Sequence[str],
    *,
    seed: int = 0,
    **how: Unpack[HowToRun],
) -> SobolIndices:
    """Sobol' indices (Saltelli 2010 estimators, scipy.stats.sobol_indices).

    ``count`` base members, a power of 2; the study runs ``count * (inputs + 2)`` members.
    ``of``: columns that always have a number (a warm-up time is missing where the switch
    never opens). Raises N2OSimError when more than 5 % of the base members lack one.

    >>> from scipy.stats import uniform
    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "10 lb"), fill="8.1 lb", start="80 degF",
    ...     feed=n2.Feed(n2.Jets(1, "0.04 in")), schedule=[n2.Pass("6 s")],
    ... )
    >>> given = {"feed.jets.cd": uniform(0.7, 0.2), "start": (uniform(78, 4), "degF")}
    >>> total = n2.sobol_indices(car, given, 32, of="pass0.used_kg").total["pass0.used_kg"]
    >>> max(total, key=total.get)
    'feed.jets.cd'
    """
    if isinstance(count, bool) or not isinstance(count, int) or count < 2 or count & (count - 1):
        raise InputError("base members", count, "", "a power of 2, 2 or more", "for example 256")
    wanted = (of,) if isinstance(of, str) else tuple(of)
    factors = _factors(scenario, distributions)
    d = len(factors)
    both = unit_sample(2 * d, count, seed, "sobol")
    a, b = both[:, :d], both[:, d:]
    mixed = [np.column_stack([b[:, j] if j == i else a[:, j] for j in range(d)]) for i in range(d)]
    how["outputs"] = wanted
    study = _run(scenario, factors, np.vstack([a, b, *mixed]), "Sobol' indices", how)
    if not study.complete:
        raise N2OSimError(
            "the study behind the indices is not complete: run it again with the same checkpoint="
        )
    return _indices(study, wanted, tuple(f.label for f in factors), count, seed)


def _indices(
    study: StudyResult, outputs: tuple[str, ...], inputs: tuple[str, ...], n: int, seed: int
) -> SobolIndices:
    from scipy.stats import sobol_indices as estimate

    d = len(inputs)
    blocks = np.array([study[o] for o in outputs]).reshape(len(outputs), d + 2, n)
    good = np.isfinite(blocks).all(axis=(0, 1))
    used = int(good.sum())
    if used < (1.0 - _LOST_SHARE) * n:
        worst = [o for o, v in zip(outputs, blocks) if not np.isfinite(v).all()]
        raise N2OSimError(
            f"{n - used} of {n} base members have no number for {', '.join(worst)}: choose outputs "
            "that always exist, or narrower distributions"
        )
    used = 1 << (used.bit_length() - 1)  # the estimators want a power of 2
    values = blocks[:, :, good][:, :, :used]
    # scipy squeezes its answers: a lone output goes in twice, so that one axis is left to squeeze.
    values = np.repeat(values, 2, axis=0) if len(outputs) == 1 else values
    found = estimate(
        func={
            "f_A": values[:, 0],
            "f_B": values[:, 1],
            "f_AB": np.ascontiguousarray(values[:, 2:].transpose(1, 0, 2)),
        },
        n=used,
    )

    def table(array: Any) -> dict[str, dict[str, float]]:
        grid = np.reshape(array, (len(values), d)).tolist()
        return {o: dict(zip(inputs, row)) for o, row in zip(outputs, grid)}

    def intervals(ends: Any) -> dict[str, dict[str, tuple[float, float]]]:
        lo, hi = table(ends.low), table(ends.high)
        return {o: {i: (lo[o][i], hi[o][i]) for i in inputs} for o in outputs}

    first, total = table(found.first_order), table(found.total_order)
    of_first, of_total = map(intervals, _bootstrap(found))
    return SobolIndices(inputs, outputs, first, total, of_first, of_total, n, used, study)


def _bootstrap(found: Any) -> tuple[Any, Any]:
    """95 % intervals of first-order and total indices; NaN for an input without any effect."""
    import warnings

    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")  # degenerate resamples of such an input
        spread = found.bootstrap(confidence_level=0.95, n_resamples=200)
    return spread.first_order.confidence_interval, spread.total_order.confidence_interval


# --- plus or minus -------------------------------------------------------------------------------
@dataclass(frozen=True)
class PlusMinus:
    """An output with the uncertainty that the tolerances give it.

    value; plus_minus: root sum square of ``by``: each tolerance's change to its further end,
    positive where the output rises with the field there.
    """

    name: str
    value: float
    plus_minus: float
    by: dict[str, float]


def plus_minus(
    scenario: Scenario,
    tolerances: Mapping[str, Any],
    of: str | Sequence[str],
    **how: Unpack[HowToRun],
) -> dict[str, PlusMinus]:
    """Headline figures with a +- from gauge, fill and other tolerances, by 2 runs a tolerance.

    ``of``: output columns. ``tolerances``: dotted name to half-width, SI or text with a unit
    (``{"fill": "0.1 lb", "switch.offset": "10 psi", "start": "2 delta_degF"}``), independent.
    As BIPM JCGM 100:2008 (5.1.2), with the further end of a tolerance in place of the slope: at a
    flat maximum that is nothing, and both ends lie below. NaN where a run lacks an output.
    """
    if not isinstance(tolerances, Mapping) or not tolerances:
        valid = "a mapping of dotted names to half-widths"
        raise InputError("tolerances", tolerances, "", valid, 'for example {"fill": "0.1 lb"}')
    how["outputs"] = (of,) if isinstance(of, str) else tuple(of)
    middle = {p: number_of(scenario, p, f"tolerance of {p}") for p in tolerances}
    half = {p: half_width(scenario, p, given) for p, given in tolerances.items()}
    points = [dict(middle)]
    for path, width in half.items():
        points += [middle | {path: middle[path] - width}, middle | {path: middle[path] + width}]
    result = sweep(scenario, points, title="tolerances", **how)
    out = {}
    for name in result.names:
        v = result[name]
        by = {p: _further(v[2 * k + 1], v[0], v[2 * k + 2]) for k, p in enumerate(half)}
        out[name] = PlusMinus(name, float(v[0]), math.hypot(*by.values()), by)
    return out


def _further(low: float, middle: float, high: float) -> float:
    """Change from the middle towards the end that is further from it, per whole tolerance up."""
    up, down = float(high - middle), float(middle - low)
    return math.nan if math.isnan(up + down) else max(up, down, key=abs)


def _within(row: Mapping[str, Any]) -> str:
    """The interval of a total index, where there is one."""
    low, high = row["total_low"], row["total_high"]
    return "" if math.isnan(low + high) else f" ({low:.3f} to {high:.3f})"


def half_width(scenario: Scenario, path: str, given: Any) -> float:
    """A tolerance in SI: a number, a percentage of the field's value, or a difference."""
    name = f"tolerance of {path}"
    if not isinstance(given, str):
        return parse(given, "number", name=name, low=0.0)
    if given.strip().endswith("%"):
        return abs(number_of(scenario, path, name)) * parse(given, "fraction", name=name, low=0.0)
    try:
        with_fields(scenario, {path: given.replace("delta_", "")})
    except UnitError as problem:
        raise InputError(
            name,
            given,
            "",
            "a number in SI, a percentage, or a difference with its unit",
            f"write '10 psi', '2 delta_degF', '0.1 lb', '1 %' ({problem})",
        ) from problem
    except InputError:
        pass  # the unit fits; a difference need not lie in the range of the value itself
    for kind in (k for k in DIMENSIONS if k not in _NO_DIFFERENCE):
        try:
            return parse(given, kind, name=name, low=0.0)
        except UnitError:
            continue
    raise InputError(
        name, given, "", "a kind of quantity that has differences", "give it as a number in SI"
    )
