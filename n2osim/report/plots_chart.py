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
from n2osim.report.chart import SHARES
from n2osim.report.style import PAGE, ROLES
from n2osim.units import PSI, STANDARD_ATMOSPHERE, format_quantity, parse, to_degF

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LINE = ROLES["pressure"]


def chart_lines(
    bottle: Bottle, fills: Sequence[float], temperatures: np.ndarray
) -> dict[float, np.ndarray]:
    """Absolute pressure (Pa) over ``temperatures`` (K) for each charge (kg); NaN out of range."""
    lines = {}
    for fill in fills:
        pressure = np.full(temperatures.shape, np.nan)
        for k, T in enumerate(temperatures):
            try:
                pressure[k] = fluid.state(float(T), fill / bottle.volume).p
            except InputError:  # beyond 50 MPa
                break
        lines[float(fill)] = pressure
    return lines


@style.figure
def plot_pressure_chart(
    source: Any,
    ax: Axes | None = None,
    *,
    fills: Sequence[Any] | None = None,
    fill: Any = None,
    switch: PressureSwitch | None = None,
    ambient: float = STANDARD_ATMOSPHERE,
    low: Any = "30 degF",
    high: Any = "140 degF",
    width: float = PAGE,
) -> Axes:
    """Pressure chart of a bottle, with saturation line, liquid-full points, band and limits.

    source : a :class:`Bottle`, or a Run or Scenario (its first bottle, charge, switch, ambient).
    fills : charges to draw, kg or text (default: 20 to 100 % of the rated capacity).
    fill : this bottle's own charge, drawn bold. ambient : Pa. low, high : temperature range.

    >>> import n2osim as n2
    >>> ax = n2.plot.chart(n2.Bottle.preset("steel", "12 lb"), fill="9.4 lb", high="125 degF")
    >>> ax.get_xlabel()
    'bottle temperature, °F'
    """
    fills = [fills] if isinstance(fills, str) else fills
    bottle, fill, switch, ambient = _unpack(source, fill, switch, ambient)
    charges = (
        [s * bottle.capacity for s in SHARES]
        if fills is None
        else [parse(f, "mass", name="chart fill", low=1e-3) for f in fills]
    )
    T0, T1 = _span(low, high)
    if ax is None:
        ax = style.new_axes(width, 0.78 * width if width > 5 else 1.15 * width)[0]
    top = _top(bottle, switch)
    style.gutter(ax, to_degF(T0), to_degF(T1), _gutter_letters(ax, fill))
    ax.set_ylim(0.0, top)
    _draw_limits(ax, bottle, switch, top)
    _draw_saturation(ax, T0, ambient)
    style.label_axis(ax, "gauge_pressure", "gauge pressure")
    style.ticks_up_to(ax, to_degF(T1))
    style.label_axis(ax, "temperature", "bottle temperature", axis="x")
    held = format_quantity(bottle.capacity, "mass")
    text = f"{bottle.name}: pressure by charge (100 % is {held})"
    ax.set_title(style.wrapped(text, style.width_of(ax)))
    if fill is not None:
        charges = [c for c in charges if abs(c - fill) > 0.015 * bottle.capacity] + [fill]
    _draw_charges(ax, bottle, charges, fill, (T0, T1), ambient)
    return ax


def _gutter_letters(ax: Axes, fill: float | None) -> int:
    return 5 if fill is None else (8 if style.is_narrow(ax) else 14)


def _span(low: Any, high: Any) -> tuple[float, float]:
    limits: dict[str, Any] = {"low": fluid.T_TRIPLE + 1.0, "high": fluid.T_MAX}
    T0, T1 = (parse(x, "temperature", name="chart temperature", **limits) for x in (low, high))
    if T1 - T0 < 1.0:
        raise InputError(
            "chart temperatures",
            T1,
            "K",
            f"above the lower end ({T0:.1f} K)",
            "give the lower one first",
        )
    return T0, T1


def _unpack(source: Any, fill: Any, switch: Any, ambient: Any) -> tuple[Bottle, Any, Any, float]:
    scenario = getattr(source, "scenario", source)
    if isinstance(scenario, Bottle):
        if fill is not None:
            fill = parse(fill, "mass", name="chart fill", low=1e-3)
        return scenario, fill, switch, ambient
    if not hasattr(scenario, "bottles"):
        raise InputError("chart of", source, "", "a Bottle, Scenario or Run", "")
    first = scenario.bottles[0]
    own = first.fill if fill is None else parse(fill, "mass", name="chart fill", low=1e-3)
    return first.bottle, own, switch or first.switch, scenario.ambient.pressure


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


def _draw_charges(
    ax: Axes,
    bottle: Bottle,
    fills: Sequence[float],
    own: float | None,
    span: tuple[float, float],
    ambient: float,
) -> None:
    """One line per charge from where it leaves saturation; ``own`` (one of them) bold."""
    top = ax.get_ylim()[1]
    ends: list[style.Label] = []
    for fill in fills:
        try:
            T_leave, how = leaves_saturation(fill / bottle.volume)
        except InputError:
            continue
        bold = fill == own
        T = np.linspace(max(T_leave, span[0]), span[1], 140)
        p = (chart_lines(bottle, [fill], T)[fill] - ambient) / PSI
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
