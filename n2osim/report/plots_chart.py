"""The pressure chart of one bottle: pressure against temperature for this charge and others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim import fluid
from n2osim.errors import InputError
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.cylinder_rules import EXPOSURE_LIMIT, HOT_CAR
from n2osim.hardware.switch import PressureSwitch
from n2osim.physics.charge import LIQUID_FULL, leaves_saturation
from n2osim.report import style
from n2osim.report.chart import Chart, gauge_at
from n2osim.report.style import PAGE, ROLES
from n2osim.units import PSI, format_quantity, to_degF

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LINE = ROLES["pressure"]


@style.figure
def plot_pressure_chart(
    source: Any,
    ax: Axes | None = None,
    *,
    fills: Sequence[Any] | None = None,
    fill: Any = None,
    switch: PressureSwitch | None = None,
    ambient: float | None = None,
    low: Any = "30 degF",
    high: Any = "140 degF",
    width: float = PAGE,
) -> Axes:
    """Pressure chart of a bottle, with saturation line, liquid-full points, band and limits.

    source : a :class:`Bottle`, or a Run or Scenario (its first bottle, charge, switch, ambient), or
        a :class:`n2osim.report.chart.Chart` that says everything else.
    fills : charges to draw, kg or text (default: 20 to 100 % of the rated capacity).
    fill : this bottle's own charge, drawn bold. ambient : Pa. low, high : temperature range.

    >>> import n2osim as n2
    >>> ax = n2.plot.chart(n2.Bottle.preset("steel", "12 lb"), fill="9.4 lb", high="125 degF")
    >>> ax.get_xlabel()
    'bottle temperature, °F'
    """
    chart = source
    if not isinstance(source, Chart):
        chart = Chart.asked(source, fill, fills, switch, ambient, low, high)
    bottle = chart.bottle
    ax = style.given_or_new(ax, width, 0.78 * width if width > 5 else 1.15 * width)
    top = _top(bottle, chart.switch)
    letters = 5 if chart.fill is None else (8 if style.is_narrow(ax) else 14)
    style.gutter(ax, to_degF(chart.low), to_degF(chart.high), letters)
    ax.set_ylim(0.0, top)
    _draw_limits(ax, bottle, chart.switch, top)
    _draw_saturation(ax, chart.low, chart.ambient)
    style.label_axis(ax, "gauge_pressure", "gauge pressure")
    style.ticks_up_to(ax, to_degF(chart.high))
    style.label_axis(ax, "temperature", "bottle temperature", axis="x")
    held = format_quantity(bottle.capacity, "mass")
    style.title(ax, f"{bottle.name}: pressure by charge (100 % is {held})")
    _draw_charges(ax, chart)
    return ax


def _top(bottle: Bottle, switch: PressureSwitch | None) -> float:
    """Top of the chart, psig: a little over 5/4 of service pressure, at least 2000."""
    top = 2000.0
    if bottle.service_pressure is not None:
        top = max(top, 1.35 * bottle.service_pressure / PSI)
    if switch is not None:
        top = max(top, 1.2 * switch.opens / PSI)
    return top


def _draw_limits(ax: Axes, bottle: Bottle, switch: PressureSwitch | None, top: float) -> None:
    narrow = style.is_narrow(ax)
    for kelvin, what in ((EXPOSURE_LIMIT, "exposure limit"), (HOT_CAR, "reference")):
        mark = to_degF(kelvin)
        text = f"{mark:.0f} \u00b0F" + ("" if narrow else f" {what}")
        side = -1 if kelvin == EXPOSURE_LIMIT else 1
        style.limit_line(ax, mark, text, vertical=True, place=0.02, side=side)
    limits = (
        (bottle.service_pressure, 1.25, "5/4 of service (information)"),
        (bottle.relief_pressure, 1.0, "relief device"),
    )
    for value, factor, text in limits:
        if value is not None and factor * value / PSI < top:
            style.limit_line(ax, factor * value / PSI, text)
    if switch is not None:
        style.band(ax, switch.closes / PSI, switch.opens / PSI, "switching band")


def _draw_saturation(ax: Axes, T0: float, ambient: float) -> None:
    T = np.append(np.linspace(T0, fluid.T_CRITICAL - 0.01, 120), fluid.T_CRITICAL)
    p = (fluid.saturation(T).p - ambient) / PSI
    ax.plot(to_degF(T), p, color=style.INK, lw=2.2, zorder=4)
    ax.plot(to_degF(T[-1]), p[-1], "o", ms=7, mfc="white", mec=style.INK, mew=1.6, zorder=5)
    style.note(ax, (to_degF(T[-1]), p[-1]), "critical point", (-40, 62), arrow=True, ha="right")
    k = len(T) // 3
    style.note(
        ax,
        (to_degF(T[k]), p[k]),
        "liquid and vapour:\nany charge reads this",
        (8, -26),
        arrow=True,
        ha="left",
        va="top",
    )


def _draw_charges(ax: Axes, chart: Chart) -> None:
    """One line per charge from where it leaves saturation; the bottle's own bold."""
    bottle, own, span, top = chart.bottle, chart.fill, (chart.low, chart.high), ax.get_ylim()[1]
    fills = list(chart.fills)
    if own is not None:  # in place of others that would touch it
        fills = [f for f in fills if abs(f - own) > 0.015 * bottle.capacity] + [own]
    ends: list[style.Label] = []
    for fill in fills:
        try:
            T_leave, how = leaves_saturation(fill / bottle.volume)
        except InputError:
            continue
        bold = fill == own
        T = np.linspace(max(T_leave, span[0]), span[1], 140)
        p = np.array([gauge_at(chart, float(t), fill)[0] for t in T], dtype=float) / PSI
        ax.plot(
            to_degF(T),
            p,
            color=_LINE,
            lw=2.8 if bold else 1.2,
            alpha=1.0 if bold else 0.75,
            zorder=5 if bold else 3,
        )
        if how == LIQUID_FULL and span[0] < T_leave < fluid.T_CRITICAL - 0.3:
            ax.plot(to_degF(T[0]), p[0], "o", ms=6 if bold else 3.5, color=_LINE, zorder=6)
            if bold:
                _name_liquid_full(ax, to_degF(T[0]), p[0])
        share = f"{100.0 * fill / bottle.capacity:.0f} %"
        text = share
        if bold:
            text = format_quantity(fill, "mass") + ("" if style.is_narrow(ax) else f" ({share})")
        above = np.flatnonzero(p > top)
        if len(above):
            _label_top(ax, to_degF(T[above[0]]), share, bold)
        elif np.isfinite(p[-1]):
            ends.append(style.Label(float(p[-1]), text, _LINE, bold))
    style.label_ends(ax, ends, to_degF(span[1]))


def _name_liquid_full(ax: Axes, x: float, y: float) -> None:
    style.note(
        ax,
        (x, y),
        f"liquid-full{chr(10) if style.is_narrow(ax) else ' '}at {x:.0f} \u00b0F",
        (-26, 20),
        arrow=True,
        color=_LINE,
        ha="right",
    )


def _label_top(ax: Axes, x: float, text: str, bold: bool) -> None:
    style.write(
        ax,
        x,
        0.985,
        text,
        share="y",
        ha="center",
        va="top",
        color=_LINE,
        weight="bold" if bold else "normal",
        bbox=style.BOX,
        zorder=7,
    )
