"""Figures of a run over time: the whole run, one hold, round by round."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.errors import InputError
from n2osim.report import style
from n2osim.report.style import PAGE, ROLES, SCALES, Label
from n2osim.results.holds import ABOVE, above_from_start
from n2osim.results.view import View
from n2osim.units import PSI, format_quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from n2osim.results.run import Run


def shop_values(values: Any, dimension: str) -> np.ndarray:
    """SI values in the unit that figures show."""
    return np.asarray(SCALES[dimension].shop_value(values))


def view_of(run: Run, bottle: str | None) -> View:
    """The bottle of that name, or the first one."""
    return View(run, 0 if bottle is None else run.scenario.bottle_index(bottle))


def _whose(v: View) -> str:
    """The bottle that a figure is of, where there are several."""
    return f": {v.name}" if len(v.run.scenario.bottles) > 1 else ""


# --- the whole run -----------------------------------------------------------------------------
def plot_run(
    run: Run, ax: Axes | None = None, *, bottle: str | None = None, width: float = PAGE
) -> Axes:
    """Pressure, temperatures, heater and flow of one bottle over the whole run.

    With ``ax`` only the pressure is drawn there. Returns the axes of the pressure.
    """
    v = view_of(run, bottle)
    if ax is not None:
        with style.look(style.width_of(ax)):
            per, unit = style.time_unit(float(run.time[-1]))
            _pressure(ax, v, per)
            ax.set_xlabel(f"time, {unit}")
        return ax
    with style.look(width):
        tall = 7.6 if width > 5 else 1.75 * width
        axes = style.new_axes(width, tall, (0.22, 2.2, 2.2, 0.7, 1.2))
        per, unit = style.time_unit(float(run.time[-1]))
        _schedule(axes[0], run, per)
        _pressure(axes[1], v, per)
        _temperatures(axes[2], v, per)
        _power(axes[3], v, per)
        _charge(axes[4], v, per)
        axes[-1].set_xlabel(f"time, {unit}")
        axes[0].set_title(style.wrapped(run.scenario.title + _whose(v), width))
        _name_lines(axes[2], v, per)
        full = float(shop_values(v.bottle.capacity, "mass"))
        style.label_ends(axes[4], [Label(full, "100 %", ROLES["limit"])], float(v.time[-1]) / per)
        axes[0].figure.align_ylabels(axes)
    return axes[1]


_KIND_COLOUR = {
    "hold": "#D9ECF7",
    "rest": "#EFEFEF",
    "pass": ROLES["flow"],
    "purge": "#E9C8DB",
    "refill": ROLES["mixture"],
    "weigh": "#777777",
}


def _schedule(ax: Axes, run: Run, per: float) -> None:
    """A strip that says what happens when."""
    seen = [s for s in run.segments if s.bottle == run.scenario.bottles[0].name]
    total = max(float(run.time[-1]), 1e-9)
    for s in seen:
        ax.axvspan(
            s.start_time / per,
            max(s.end_time, s.start_time + 0.002 * total) / per,
            color=_KIND_COLOUR[s.kind],
            lw=0,
        )
        if s.duration > 0.12 * total:
            ax.text(
                0.5 * (s.start_time + s.end_time) / per,
                0.5,
                s.label or s.kind,
                ha="center",
                va="center",
                fontsize=style.font_size(ax),
                clip_on=True,
            )
    ax.set_yticks([])
    ax.grid(False)
    ax.spines[:].set_visible(False)
    ax.tick_params(bottom=False)
    style.gutter(ax, 0.0, total / per, 7)


def _pressure(ax: Axes, v: View, per: float) -> None:
    t, p = v.time / per, shop_values(v.gauge, "gauge_pressure")
    ax.plot(t, p, color=ROLES["pressure"])
    ax.margins(y=0.12)
    if v.switch is not None:
        low, high = v.switch.closes / PSI, v.switch.opens / PSI
        style.band(ax, low, high, f"band {low:.0f} to {high:.0f} psig")
    _mark_passes(ax, v, per)
    for s in v.summaries("pass"):
        ax.text(
            s.start_time / per,
            0.02,
            "pass ",
            transform=ax.get_xaxis_transform(),
            ha="right",
            va="bottom",
            fontsize=style.font_size(ax),
            color=ROLES["flow"],
        )
    style.label_axis(ax, "gauge_pressure", "pressure")


def _mark_passes(ax: Axes, v: View, per: float) -> None:
    """A thin line where a pass begins."""
    for s in v.summaries("pass"):
        ax.axvline(s.start_time / per, color=ROLES["flow"], lw=0.9, alpha=0.7, zorder=1)


def _thermometers(v: View) -> list[tuple[str, np.ndarray, str]]:
    """(name, values K, colour) of the temperatures worth a line."""
    wall = v.array("wall_temperature_K")
    lines = [
        ("heater", v.array("heater_temperature_K"), ROLES["heater"]),
        ("shell", wall[0, -1], ROLES["wall"]),
        ("N$_2$O", v.temperature, ROLES["fluid"]),
        ("air", v.run["air_temperature_K"], ROLES["air"]),
    ]
    return lines if v.fitted.heater is not None else lines[1:]


def _temperatures(ax: Axes, v: View, per: float) -> None:
    for _, values, colour in _thermometers(v):
        ax.plot(v.time / per, shop_values(values, "temperature"), color=colour, lw=1.5)
    ax.margins(y=0.1)
    _mark_passes(ax, v, per)
    style.label_axis(ax, "temperature")


def _name_lines(ax: Axes, v: View, per: float) -> None:
    labels = [
        Label(float(shop_values(values[-1], "temperature")), name, colour)
        for name, values, colour in _thermometers(v)
    ]
    style.label_ends(ax, labels, float(v.time[-1]) / per)


def _power(ax: Axes, v: View, per: float) -> None:
    power = v.array("heater_power_W")
    ax.fill_between(v.time / per, power, step=None, color=ROLES["heater"], alpha=0.8, lw=0)
    ax.set_ylim(0.0, max(1.0, 1.25 * float(power.max())))
    ax.set_ylabel("heater, W")


def _charge(ax: Axes, v: View, per: float) -> None:
    mass = shop_values(v.mass, "mass")
    ax.plot(v.time / per, mass, color=ROLES["charge"])
    full = float(shop_values(v.bottle.capacity, "mass"))
    ax.set_ylim(0.0, 1.15 * max(float(mass.max()), full))
    ax.axhline(full, color=ROLES["limit"], lw=0.8, ls=(0, (5, 3)))
    style.label_axis(ax, "mass", "charge")


# --- one hold ------------------------------------------------------------------------------------
def nth_segment(run: Run, kind: str, index: int, bottle: str) -> Any:
    """Summary number ``index`` of a kind; InputError where there are fewer."""
    found = [s for s in run.segments if s.kind == kind and s.bottle == bottle]
    if not -len(found) <= index < len(found):
        raise InputError(
            f"{kind} number",
            index,
            "",
            f"0 to {len(found) - 1}" if found else "none",
            f"this run has {len(found)} of them",
        )
    return found[index]


def plot_hold(
    run: Run,
    ax: Axes | None = None,
    *,
    index: int = 0,
    bottle: str | None = None,
    width: float = PAGE,
) -> Axes:
    """Pressure of one hold in its band, overshoot marked, with the heater's on/off strip below."""
    v = view_of(run, bottle)
    hold = nth_segment(run, "hold", index, v.name)
    rows = v.rows(hold)
    with style.look(width if ax is None else style.width_of(ax)):
        strip = None
        if ax is None:
            ax, strip = style.new_axes(width, 0.62 * width if width > 5 else 0.95 * width, (5, 0.5))
        t = v.time[rows] - hold.start_time
        per, unit = style.time_unit(float(t[-1]))
        p = shop_values(v.gauge[rows], "gauge_pressure")
        ax.plot(t / per, p, color=ROLES["pressure"])
        ax.margins(y=0.12)
        ax.set_xlim(0.0, max(float(t[-1]) / per, 1e-6))
        _hold_marks(ax, v, hold, per)
        style.label_axis(ax, "gauge_pressure", "pressure")
        ax.set_title(style.wrapped(_hold_title(v.run, hold), style.width_of(ax)))
        on = v.array("heater_power_W")[rows] > 0.0
        strip = _strip_below(ax) if strip is None else strip
        _on_off(strip, t / per, on)
        strip.set_xlabel(f"time from the start of the hold, {unit}")
    return ax


def _hold_title(run: Run, hold: Any) -> str:
    name = hold.label or f"hold {hold.index + 1}"
    if above_from_start(run, hold):
        return f"{name}: the switch {ABOVE}"
    if hold.warm_up_time is None:
        return f"{name}: the switch did not open"
    text = f"{name}: band after {hold.warm_up_time / 60:.1f} min"
    if hold.duty is not None and hold.duration > 1.05 * hold.warm_up_time:
        text += f", then {100 * hold.duty:.0f} % on"
    return text


def _hold_marks(ax: Axes, v: View, hold: Any, per: float) -> None:
    if v.switch is None:
        return
    low, high = v.switch.closes / PSI, v.switch.opens / PSI
    style.band(ax, low, high, f"band {low:.0f} to {high:.0f} psig")
    if hold.overshoot is None or hold.overshoot < 0.5 * PSI:
        return
    peak = hold.peak_pressure / PSI
    rows = v.rows(hold)
    at = (v.time[rows][int(v.gauge[rows].argmax())] - hold.start_time) / per
    ax.annotate(
        f"peak {peak:.0f} psig, {hold.overshoot / PSI:.0f} psi over",
        (at, peak),
        xytext=(6, 10),
        textcoords="offset points",
        fontsize=style.font_size(ax),
        color=ROLES["pressure"],
        arrowprops={"arrowstyle": "-", "color": ROLES["pressure"], "lw": 0.8},
    )


def _strip_below(ax: Axes) -> Axes:
    strip = ax.inset_axes((0.0, -0.14, 1.0, 0.06))
    strip.sharex(ax)
    ax.tick_params(labelbottom=False)
    return strip  # type: ignore[no-any-return]


def _on_off(ax: Axes, t: np.ndarray, on: np.ndarray) -> None:
    ax.fill_between(t, 0.0, on.astype(float), color=ROLES["heater"], lw=0)
    ax.set_ylim(0.0, 1.0)
    ax.set_yticks([])
    ax.grid(False)
    ax.set_ylabel("heater\non", rotation=0, ha="right", va="center")


# --- round by round ----------------------------------------------------------------------------
def plot_rounds(
    run: Run, ax: Axes | None = None, *, bottle: str | None = None, width: float = PAGE
) -> Axes:
    """Ladder of passes: pressure from start to end of each, N2O used and left beside it."""
    v = view_of(run, bottle)
    passes = v.summaries("pass")
    if not passes:
        raise InputError("rounds", 0, "", "a run with at least one pass", "add a pass")
    with style.look(width if ax is None else style.width_of(ax)):
        if ax is None:
            ax = style.new_axes(width, min(2.0 + 0.42 * len(passes), 11.0))[0]
        for row, s in enumerate(passes):
            _rung(ax, row, s)
        if v.switch is not None:
            ax.axvspan(
                v.switch.closes / PSI, v.switch.opens / PSI, color=ROLES["band"], alpha=0.22, lw=0
            )
        _ladder_frame(ax, passes, v)
    return ax


def _rung(ax: Axes, row: int, s: Any) -> None:
    start, end = s.start_pressure / PSI, s.end_pressure / PSI
    ax.plot([start, end], [row, row], color=ROLES["pressure"], lw=5, solid_capstyle="butt")
    ax.plot(start, row, "o", color=ROLES["pressure"], ms=7)
    text = f"{start:.0f} to {end:.0f} psig"
    ax.annotate(
        text,
        (0.5 * (start + end), row),
        xytext=(0, 6),
        textcoords="offset points",
        ha="center",
        fontsize=style.font_size(ax),
        color=ROLES["pressure"],
    )
    right = f"{format_quantity(s.used, 'mass')} used, {format_quantity(s.end_mass, 'mass')} left"
    if s.liquid_out_time is not None:
        right += ", LIQUID OUT"
    if style.is_narrow(ax):
        ax.annotate(
            right,
            (0.5 * (start + end), row),
            xytext=(0, -6),
            ha="center",
            va="top",
            textcoords="offset points",
            fontsize=style.font_size(ax),
        )
        return
    ax.text(
        1.01,
        row,
        right,
        transform=ax.get_yaxis_transform(),
        va="center",
        fontsize=style.font_size(ax),
    )


def _ladder_frame(ax: Axes, passes: list[Any], v: View) -> None:
    low = min(s.end_pressure for s in passes) / PSI
    high = max(
        max(s.start_pressure for s in passes) / PSI,
        v.switch.opens / PSI if v.switch is not None else 0.0,
    )
    room = 0.1 * (high - low) + 10.0
    ax.set_xlim(low - room, high + room)
    ax.set_ylim(len(passes) - 0.4, -0.7)
    ax.set_yticks(range(len(passes)))
    ax.set_yticklabels([s.label or f"pass {k + 1}" for k, s in enumerate(passes)])
    ax.grid(False, axis="y")
    style.label_axis(ax, "gauge_pressure", "pressure, start to end of the pass", axis="x")
    ax.set_title("Round by round" + _whose(v))


__all__ = ["nth_segment", "plot_hold", "plot_rounds", "plot_run", "shop_values", "view_of"]
