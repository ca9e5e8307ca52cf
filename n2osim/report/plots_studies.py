"""Figures of studies: shells compared, sensitivity bars, percentile bands, fit residuals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.errors import InputError, UnknownNameError
from n2osim.numbers import difference_of
from n2osim.report import style
from n2osim.report.style import GREY, PAGE, PALE, ROLES, SERIES
from n2osim.results.quantities import quantity
from n2osim.units import LB, PSI, to_degF, to_display, unit_label

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from n2osim.answers.answer import Answer
    from n2osim.fit.calibrate_result import Calibration
    from n2osim.studies.montecarlo import PlusMinus, SobolIndices
    from n2osim.studies.result import StudyResult


# --- shells --------------------------------------------------------------------------------------
def _per(value: float | None, unit: float) -> float | None:
    return None if value is None else value / unit


def _rise(comparison: Answer, row: Any) -> float:
    """Hottest wall above the start, degF: degF themselves have no zero to draw a bar from."""
    return 1.8 * (row.hottest_wall - comparison.scenario.bottles[0].start)


# name, unit, figure of a row in that unit, digits
_SHELL_FIGURES: tuple[tuple[str, str, Any, str], ...] = (
    ("empty shell", "lb", lambda r: r.empty_mass / LB, ".1f"),
    ("warm-up to the band", "min", lambda r: _per(r.warm_up_time, 60.0), ".1f"),
    ("overshoot", "psi", lambda r: _per(r.overshoot, PSI), ".1f"),
    ("heater duty in the band", "%", lambda r: _per(r.duty, 0.01), ".1f"),
    (
        "hottest wall (bar: rise from the start)",
        "\u00b0F",
        lambda r: float(to_degF(r.hottest_wall)),
        ".0f",
    ),
    ("pressure sag in the pass", "psi", lambda r: r.sag / PSI, ".1f"),
    ("heater on after the pass", "min", lambda r: _per(r.reheat_time, 60.0), ".1f"),
)


@style.figure
def plot_shells(comparison: Answer, ax: Axes | None = None, *, width: float = PAGE) -> Axes:
    """Shells side by side: a group of bars per figure, each group on its own scale.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "12 lb"), fill="10 lb", start="66 degF",
    ...     heater=n2.Heater("380 W"), switch=n2.PressureSwitch("835 psig", "875 psig"),
    ...     schedule=[n2.Pass("9 s", outflow="0.08 lb/s")],
    ... )
    >>> ax = n2.plot.shells(n2.compare_shells(car, ["steel", "carbon-aluminium"]))
    >>> [text.get_text() for text in ax.texts[:3]]
    ['empty shell, lb', '18.2', '10.2']
    """
    rows = tuple(comparison.shells.values())
    step = len(rows) + 1.7
    total = step * len(_SHELL_FIGURES)
    ax = style.given_or_new(ax, width, 0.9 + total * (0.145 if width >= 5.0 else 0.125))
    ticks, names = [], []
    for k, figure in enumerate(_SHELL_FIGURES):
        top = k * step
        lengths = [_rise(comparison, r) for r in rows] if "rise" in figure[0] else None
        _shell_group(ax, figure, rows, top, lengths)
        ticks += [top + 1.0 + i for i in range(len(rows))]
        names += [style.plain(r.shell) for r in rows]
    ax.set_ylim(total - 0.9, -0.6)
    ax.set_xlim(0.0, 1.22)
    ax.set_yticks(ticks, names)
    ax.tick_params(axis="y", length=0)
    ax.set_xticks([])
    ax.grid(False)
    ax.spines[["bottom", "left"]].set_visible(False)
    held = comparison.scenario.bottles[0].fill / LB
    style.title(ax, f"Shells with {held:.3g} lb each, same heater and switch")
    return ax


def _shell_group(
    ax: Axes,
    figure: Any,
    rows: Sequence[Any],
    top: float,
    lengths: Sequence[float | None] | None = None,
) -> None:
    name, unit, get, digits = figure
    style.write(ax, 0.0, top, f"{name}, {unit}", weight="bold", va="center")
    values = [get(r) for r in rows]
    bars = values if lengths is None else lengths
    largest = max((abs(v) for v in bars if v is not None), default=1.0) or 1.0
    missing = "no whole cycle" if unit == "%" else "never"
    for i, (value, bar) in enumerate(zip(values, bars)):
        y, colour = top + 1.0 + i, SERIES[i % len(SERIES)]
        length = 0.0 if bar is None else max(bar, 0.0) / largest
        ax.barh(y, length, height=0.72, color=colour, lw=0)
        text = missing if value is None else format(value, digits)
        style.write(ax, length + 0.012, y, text, va="center", ha="left")


# --- sensitivity ---------------------------------------------------------------------------------
def _shown(output: str) -> tuple[str, str, float]:
    """(name in words, unit, factor from SI differences) of a quantity of a run."""
    try:
        q = quantity(output)
    except UnknownNameError:  # a column that the caller made
        return output.replace("_", " "), "", 1.0
    where = output.rpartition(".")[0]
    kind = difference_of(q.kind)
    zero, one = (float(to_display(x, kind)) for x in (0.0, 1.0))
    unit = unit_label(kind, "shop").replace("delta_", "").replace("degF", "\u00b0F")
    return f"{where}: {q.label}" if where else q.label, unit, one - zero


@style.figure
def plot_sensitivity(
    result: SobolIndices | PlusMinus | Mapping[str, PlusMinus],
    ax: Axes | None = None,
    *,
    output: str | None = None,
    width: float = PAGE,
) -> Axes:
    """What an output hangs on, strongest input on top.

    For Sobol' indices: total (pale, with its 95 % interval) and first order (dark). For +- figures:
    half the change from one end of each tolerance to the other, in the output's shop unit.
    output : which one (default: the first).

    >>> import n2osim as n2
    >>> from n2osim.studies.montecarlo import plus_minus
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "10 lb"), fill="8.4 lb", start="80 degF",
    ...     feed=n2.Feed(n2.Jets(1, "0.05 in")), schedule=[n2.Pass("7 s")],
    ... )
    >>> told = plus_minus(car, {"fill": "0.2 lb", "feed.jets.cd": "4 %"}, of="pass0.used_kg")
    >>> [label.get_text() for label in n2.plot.sensitivity(told).get_yticklabels()]
    ['feed.jets.cd', 'fill']
    """
    tolerances = _tolerance(result, output)
    if tolerances is not None:
        ax = style.given_or_new(ax, width, 1.3 + 0.32 * len(tolerances.by))
        _draw_tolerances(ax, tolerances)
    else:
        found: Any = result
        ax = style.given_or_new(ax, width, 1.3 + 0.4 * len(found.inputs))
        _draw_indices(ax, found, _among(output, found.outputs))
    return ax


def _among(output: str | None, known: Sequence[str]) -> str:
    if output is None:
        return known[0]
    if output not in known:
        raise UnknownNameError.among("output", output, known)
    return output


def _tolerance(result: Any, output: str | None) -> PlusMinus | None:
    if isinstance(result, Mapping):
        if not result:
            raise InputError("sensitivity", "nothing", "", "at least one output", "")
        found: PlusMinus = result[_among(output, list(result))]
        return found
    return result if hasattr(result, "plus_minus") else None


def _frame_bars(ax: Axes, names: Sequence[str]) -> None:
    ax.set_yticks(range(len(names)), [style.plain(n) for n in names])
    ax.set_ylim(len(names) - 0.4, -0.6)
    ax.tick_params(axis="y", length=0)
    ax.grid(False, axis="y")


def _draw_tolerances(ax: Axes, one: PlusMinus) -> None:
    name, unit, factor = _shown(one.name)
    order = sorted(one.by, key=lambda p: -abs(one.by[p]))
    values = [one.by[p] * factor for p in order]
    reach = max((abs(v) for v in values), default=0.0) or 1.0
    for k, v in enumerate(values):
        ax.barh(k, v, height=0.62, color=ROLES["pressure"] if v >= 0 else ROLES["wall"], lw=0)
        style.write(
            ax,
            v + 0.02 * reach * (1 if v >= 0 else -1),
            k,
            f"{v:+.2g}",
            va="center",
            ha="left" if v >= 0 else "right",
        )
    ax.axvline(0.0, color="#444444", lw=0.8)
    low = min(0.0, *values) if values else 0.0
    high = max(0.0, *values) if values else 1.0
    ax.set_xlim(low - (0.22 * reach if low < 0 else 0.02 * reach), high + 0.22 * reach)
    _frame_bars(ax, order)
    text = "change at the upper end of the tolerance"
    ax.set_xlabel(f"{text}, {unit}" if unit else text)
    total = f"{one.plus_minus * factor:.2g} {unit}".strip()
    style.title(ax, f"{name}: \u00b1 {total} together")


def _draw_indices(ax: Axes, found: SobolIndices, output: str) -> None:
    total, first = found.total[output], found.first[output]
    order = sorted(found.inputs, key=lambda n: -total[n])
    dark = ROLES["pressure"]
    for k, n in enumerate(order):
        low, high = found.total_interval[output][n]
        ax.barh(k, total[n], height=0.66, color=dark, alpha=0.3, lw=0)
        ax.barh(k, max(first[n], 0.0), height=0.34, color=dark, lw=0)
        if np.isfinite([low, high]).all():
            ax.plot([low, high], [k, k], color="#222222", lw=1.0)
        style.write(
            ax,
            np.nanmax([total[n], high, 0.0]) + 0.015,
            k,
            f"{max(first[n], 0.0):.2f} alone, {total[n]:.2f} in all",
            va="center",
        )
    _frame_bars(ax, [_short(n) for n in order])
    ends = [found.total_interval[output][n][1] for n in order]
    reach = float(np.nanmax([1.0, *(total[n] for n in order), *ends]))
    ax.set_xlim(0.0, reach * (1.8 if style.is_narrow(ax) else 1.36))
    ax.set_xticks(np.arange(0.0, 1.01, 0.25))
    ax.set_xlabel("share of the variance")
    style.title(ax, f"What decides {_shown(output)[0]}")


def _short(name: str) -> str:
    return name.partition(" [")[0]


# --- bands ---------------------------------------------------------------------------------------
@style.figure
def plot_bands(
    study: StudyResult,
    ax: Axes | None = None,
    *,
    series: str = "pressure_gauge_Pa",
    bottle: int = 0,
    width: float = PAGE,
) -> Axes:
    """Percentile bands over time (5 to 95 and 25 to 75 %, median) of a kept series.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "12 lb"), fill="9.5 lb", start="84 degF",
    ...     schedule=[n2.Rest("1 h")],
    ... )
    >>> spread = {"start": ["80 degF", "84 degF", "88 degF"]}
    >>> ax = n2.plot.bands(n2.sweep(car, spread, times=range(0, 3601, 300)))
    >>> ax.get_xlabel()
    'time, min'
    """
    rows = study.percentiles(series, (5.0, 25.0, 50.0, 75.0, 95.0), bottle)
    assert study.times is not None
    per, unit = style.time_unit(float(study.times[-1]))
    q = quantity(series)
    scaled = q.kind in style.SCALES
    shown = style.shop_values(rows, q.kind) if scaled else rows
    ax = style.given_or_new(ax, width, 0.55 * width if width >= 5.0 else 0.85 * width)
    t = study.times / per
    colour = ROLES["pressure"]
    ax.fill_between(t, shown[0], shown[4], color=colour, alpha=0.18, lw=0)
    ax.fill_between(t, shown[1], shown[3], color=colour, alpha=0.32, lw=0)
    ax.plot(t, shown[2], color=colour)
    style.gutter(ax, float(t[0]), float(t[-1]), 7)
    if scaled:
        style.label_axis(ax, q.kind, q.label)
    else:
        ax.set_ylabel(f"{q.label}, {q.unit}" if q.unit not in ("", "1") else q.label)
    style.ticks_up_to(ax, float(t[-1]))
    ax.set_xlabel(f"time, {unit}")
    _label_bands(ax, t, shown)
    style.title(ax, f"{study.title}: {int(study.ok.sum())} runs")
    return ax


def _label_bands(ax: Axes, t: np.ndarray, shown: np.ndarray) -> None:
    """Percentages where the bands end."""
    live = np.flatnonzero(np.isfinite(shown[2]))
    if not len(live):
        return
    k = int(live[-1])
    labels = [
        style.Label(float(shown[i, k]), text, ROLES["pressure"], i == 2)
        for i, text in enumerate(("5 %", "25 %", "median", "75 %", "95 %"))
    ]
    style.label_ends(ax, labels, float(t[k]))


# --- residuals -----------------------------------------------------------------------------------
_CHANNEL = {
    "pressure": ("gauge_pressure", "gauge pressure", "psi", PSI),
    "temperature": ("temperature", "bottle temperature", "\u00b0F", 1.0 / 1.8),
    "weight": ("mass", "weight", "lb", LB),
    "charge": ("mass", "charge", "lb", LB),
}


@style.figure
def plot_residuals(
    fit: Calibration, ax: Axes | None = None, *, channel: str | None = None, width: float = PAGE
) -> Axes:
    """Log and fitted model, and below what is left between them against the log's noise.

    >>> import n2osim as n2
    >>> from n2osim.fit.synthetic import synthetic_log
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "10 lb"), fill="8.4 lb", start="74 degF",
    ...     heater=n2.Heater("300 W"), switch=n2.PressureSwitch("810 psig", "845 psig"),
    ...     schedule=[n2.Hold("7 min")],
    ... )
    >>> log = synthetic_log(car.replace("heater.power", "330 W"), seed=2)
    >>> fit = n2.calibrate(car, log, ["heater_power"], profile=False, search=False)
    >>> n2.plot.residuals(fit).get_ylabel()
    'gauge pressure, psig'
    """
    known = [r.channel for r in fit.residuals]
    piece = fit.residuals[known.index(_among(channel, known))]
    good = fit.goodness[known.index(piece.channel)]
    dimension, name, unit, per_unit = _CHANNEL[piece.channel]
    if ax is None:
        ax, below = style.new_axes(
            width, 0.72 * width if width >= 5.0 else 1.15 * width, (2.0, 1.0)
        )
    else:
        below = _below(ax)
    per, time = style.time_unit(float(np.ptp(piece.time)))
    t = piece.time / per
    _dots(ax, t, style.shop_values(piece.logged, dimension), piece.used)
    model = style.shop_values(piece.model, dimension)
    ax.plot(t, model, color=ROLES["wall"], lw=1.6, zorder=4)
    _dots(below, t, piece.residual / per_unit, piece.used)
    half = 2.0 * good.noise / per_unit
    below.axhspan(-half, half, color=PALE, zorder=0)
    below.axhline(0.0, color=ROLES["wall"], lw=1.0)
    style.label_axis(ax, dimension, name)
    below.set_ylabel(f"left over, {unit}")
    below.set_xlabel(f"log's clock, {time}")
    _name_fit(ax, below, bool(piece.model[-1] > np.median(piece.model)))
    style.title(ax, f"Fit: {good.rms / per_unit:.2g} {unit} rms is left, R\u00b2 {good.r2:.4f}")
    return ax


def _below(ax: Axes) -> Axes:
    from mpl_toolkits.axes_grid1 import make_axes_locatable

    made: Axes = make_axes_locatable(ax).append_axes("bottom", "45%", pad=0.15, sharex=ax)
    ax.tick_params(labelbottom=False)
    return made


def _dots(ax: Axes, t: np.ndarray, values: np.ndarray, used: np.ndarray) -> None:
    """Rows that were fitted dark, the others pale."""
    for rows, colour in ((~used, "#BBBBBB"), (used, ROLES["pressure"])):
        if rows.any():
            ax.plot(t[rows], values[rows], ".", ms=2.6, color=colour, mew=0, rasterized=True)


def _name_fit(ax: Axes, below: Axes, rising: bool) -> None:
    top = 0.2 if rising else 0.95  # the corner that the curve leaves free
    for y, name, role in ((top, "log", "pressure"), (top - 0.1, "model", "wall")):
        style.write(
            ax, 0.985, y, name, share="xy", ha="right", va="top", color=ROLES[role], weight="bold"
        )
    style.write(
        below,
        0.985,
        0.94,
        "shaded: noise of the log, \u00b1 2 sigma",
        share="xy",
        ha="right",
        va="top",
        color=GREY,
        bbox=style.BOX,
    )
