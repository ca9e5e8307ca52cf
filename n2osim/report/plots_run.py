"""Figures of a run over time: the whole run, one hold, round by round."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.errors import InputError
from n2osim.numbers import lasting
from n2osim.report import style
from n2osim.report.style import PAGE, ROLES, Label, shop_values
from n2osim.results.holds import ABOVE, IN_BAND, above_from_start, in_band_throughout, led_by
from n2osim.results.limits import margins
from n2osim.results.view import View
from n2osim.units import PSI, format_quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from n2osim.results.run import Run


def views_of(run: Run, bottle: str | None) -> list[View]:
    """All bottles, or the one of that name."""
    if bottle is None:
        return list(run.views)
    return [run.view_of(bottle)]


def _whose(run: Run, bottle: str | None) -> str:
    """The bottle that a figure is of, where there are several and it shows one."""
    return f": {bottle}" if bottle is not None and len(run.scenario.bottles) > 1 else ""


# --- the whole run -----------------------------------------------------------------------------
@style.figure
def plot_run(
    run: Run, ax: Axes | None = None, *, bottle: str | None = None, width: float = PAGE
) -> Axes:
    """Pressure, temperatures, heaters and charge over the whole run, of all bottles or of one.

    With ``ax`` only the pressure is drawn there. Returns the axes of the pressure.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("carbon-aluminium", "10 lb"), fill="8.3 lb", start="78 degF",
    ...     schedule=[n2.Rest("30 min")],
    ... )
    >>> ax = n2.plot.run(n2.simulate(car), width=n2.plot.PHONE)
    >>> ax.get_ylabel()
    'pressure, psig'
    """
    shown = views_of(run, bottle)
    per, unit = style.time_unit(float(run.time[-1]))
    if ax is not None:
        _pressure(ax, shown, per)
        ax.set_xlabel(f"time, {unit}")
        return ax
    tall = 7.6 if width > 5 else 1.75 * width
    axes = style.new_axes(width, tall, (0.22, 2.2, 2.2, 0.7, 1.2))
    _schedule(axes[0], run, per)
    _pressure(axes[1], shown, per)
    _temperatures(axes[2], shown, per)
    _limits_near(run, shown, gauge_pressure=axes[1], temperature=axes[2])
    _power(axes[3], shown, per)
    full = _charge(axes[4], shown, per)
    axes[-1].set_xlabel(f"time, {unit}")
    style.title(axes[0], run.scenario.title + _whose(run, bottle))
    _name_lines(axes[2], shown[0], per)
    labels = [Label(full, "100 %", ROLES["limit"])] if full else []
    style.label_ends(axes[4], labels, float(run.time[-1]) / per)
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
        end = max(s.end_time, s.start_time + 0.002 * total)
        colour = _KIND_COLOUR.get(s.kind, style.PALE)
        ax.axvspan(s.start_time / per, end / per, color=colour, lw=0)
        if s.duration > 0.12 * total:
            style.write(
                ax,
                0.5 * (s.start_time + s.end_time) / per,
                0.5,
                style.plain(s.label or s.kind),
                ha="center",
                va="center",
                clip_on=True,
            )
    ax.set_yticks([])
    ax.grid(False)
    ax.spines[:].set_visible(False)
    ax.tick_params(bottom=False)
    style.gutter(ax, 0.0, total / per, 7)


def _pressure(ax: Axes, shown: list[View], per: float) -> None:
    gauge = "gauge_pressure"
    style.lines(
        ax, shown, lambda v: v.time / per, lambda v: shop_values(v.gauge, gauge), "pressure"
    )
    ax.margins(y=0.12)
    _bands(ax, shown)
    _mark_passes(ax, shown[0], per)
    for s in shown[0].summaries("pass"):
        style.write(
            ax,
            s.start_time / per,
            0.02,
            "pass ",
            share="y",
            ha="right",
            va="bottom",
            color=ROLES["flow"],
        )
    style.label_axis(ax, "gauge_pressure", "pressure")


def _bands(ax: Axes, shown: list[View]) -> None:
    """The switching bands of the bottles, each once, named together above the highest."""
    switches = {(v.switch.closes / PSI, v.switch.opens / PSI) for v in shown if v.switch}
    for low, high in switches:
        style.band(ax, low, high)
    if switches:
        said = ", ".join(f"{low:.0f} to {high:.0f}" for low, high in sorted(switches))
        top = max(high for _, high in switches)
        style.band(ax, top, top, f"band{'s' if len(switches) > 1 else ''} {said} psig")


_NEAR = 0.25  # of an axis beyond its top: limits further off are not drawn


def _limits_near(run: Run, shown: list[View], **axes: Axes) -> None:
    """A line for each limit of a bottle that lies on an axis or a little above it."""
    names = {v.name for v in shown}
    found = {
        (m.kind, m.bound, m.limit.limit_is)
        for m in margins(run)
        if m.limit.of == "bottle"
        and m.bottle in names
        and m.kind in axes
        and m.limit.cause != "air"  # a bound on the air, not on the bottle
    }
    for kind, ax in axes.items():
        low, high = ax.get_ylim()
        found_here = sorted(x for x in found if x[0] == kind)
        above = [float(shop_values(bound, kind)) for _, bound, _ in found_here[1:]]
        for (_, bound, words), next_up in zip(found_here, [*above, math.inf]):
            at = float(shop_values(bound, kind))
            if low < at < high + _NEAR * (high - low):
                text = f"{words} {format_quantity(bound, kind)}"
                crowded = next_up - at < 0.08 * (high - low)
                style.limit_line(ax, at, text, place=0.0, side=1 if crowded else -1)
                high = max(high, at + 0.08 * (high - low))
        ax.set_ylim(low, high)


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
        ("N\u2082O", v.temperature, ROLES["fluid"]),
        ("air", v.run["air_temperature_K"][v.there], ROLES["air"]),
    ]
    return lines if v.fitted.heater is not None else lines[1:]


def _temperatures(ax: Axes, shown: list[View], per: float) -> None:
    for k, v in enumerate(shown):
        for _, values, colour in _thermometers(v):
            degrees = shop_values(values, "temperature")
            ax.plot(v.time / per, degrees, color=colour, lw=1.5, ls=style.STROKES[k % 4])
    ax.margins(y=0.1)
    _mark_passes(ax, shown[0], per)
    style.label_axis(ax, "temperature")


def _name_lines(ax: Axes, v: View, per: float) -> None:
    labels = [
        Label(float(shop_values(values[-1], "temperature")), name, colour)
        for name, values, colour in _thermometers(v)
    ]
    style.label_ends(ax, labels, float(v.time[-1]) / per)


def _power(ax: Axes, shown: list[View], per: float) -> None:
    """What all heaters shown take together."""
    run = shown[0].run
    # One that is frozen out takes nothing any more.
    power = np.nan_to_num(run["heater_power_W"][[v.index for v in shown]]).sum(axis=0)
    ax.fill_between(run.time / per, power, color=ROLES["heater"], alpha=0.8, lw=0)
    ax.set_ylim(0.0, max(1.0, 1.25 * float(power.max())))
    ax.set_ylabel("heaters, W" if len(shown) > 1 else "heater, W")


def _charge(ax: Axes, shown: list[View], per: float) -> float:
    """Charges, and the rated one where it is the same for all (returned, else 0)."""
    style.lines(
        ax,
        shown,
        lambda v: v.time / per,
        lambda v: shop_values(v.mass, "mass"),
        "charge",
        name=False,
    )
    rated = {round(float(shop_values(v.bottle.capacity, "mass")), 6) for v in shown}
    most = max(float(shop_values(v.mass, "mass").max()) for v in shown)
    ax.set_ylim(0.0, 1.15 * max(most, *rated))
    style.label_axis(ax, "mass", "charge")
    if len(rated) > 1:
        return 0.0
    full = rated.pop()
    end = float(shown[0].run.time[-1]) / per  # its name stands behind it
    ax.plot([0.0, end], [full, full], color=ROLES["limit"], lw=0.8, ls=(0, (5, 3)))
    return full


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


@style.figure
def plot_hold(
    run: Run,
    ax: Axes | None = None,
    *,
    index: int = 0,
    bottle: str | None = None,
    width: float = PAGE,
) -> Axes:
    """Pressure of one hold in its band, overshoot marked, with the heater's on/off strip below.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "10 lb"), fill="8.1 lb", start="63 degF",
    ...     heater=n2.Heater("310 W"), switch=n2.PressureSwitch("815 psig", "850 psig"),
    ...     schedule=[n2.Hold("1 h")],
    ... )
    >>> ax = n2.plot.hold(n2.simulate(car))
    >>> ax.get_ylabel()
    'pressure, psig'
    """
    shown = views_of(run, bottle)
    holds = [nth_segment(run, "hold", index, v.name) for v in shown]
    rows = shown[0].rows(holds[0])
    strip = None
    if ax is None:
        ax, strip = style.new_axes(width, 0.62 * width if width > 5 else 0.95 * width, (5, 0.5))
    t = run.time[rows] - holds[0].start_time
    per, unit = style.time_unit(float(t[-1]))
    gauge = "gauge_pressure"
    style.lines(
        ax, shown, lambda v: t / per, lambda v: shop_values(v.gauge[rows], gauge), "pressure"
    )
    ax.margins(y=0.12)
    ax.set_xlim(0.0, max(float(t[-1]) / per, 1e-6))
    _bands(ax, shown)
    v, hold = max(zip(shown, holds), key=lambda x: x[1].overshoot or 0.0)
    _mark_peak(ax, v, hold, per)
    style.label_axis(ax, "gauge_pressure", "pressure")
    style.title(ax, _hold_title(run, holds))
    on = np.any([v.array("heater_power_W")[rows] > 0.0 for v in shown], axis=0)
    strip = _strip_below(ax) if strip is None else strip
    _on_off(strip, t / per, on)
    strip.set_xlabel(f"time from the start of the hold, {unit}")
    return ax


def _hold_title(run: Run, holds: list[Any]) -> str:
    said = [_hold_words(run, h) for h in holds]
    if len(run.scenario.bottles) > 1:
        said = [f"{h.bottle}, {text}" for h, text in zip(holds, said)]
    return f"{holds[0].label or f'hold {holds[0].index + 1}'}: {'; '.join(said)}"


def _hold_words(run: Run, hold: Any) -> str:
    if above_from_start(run, hold):
        return f"the switch {ABOVE}"
    if in_band_throughout(run, hold):
        return f"the bottle {IN_BAND} without heat"
    if hold.warm_up_time is None:
        return led_by(run, hold) or "the switch did not open"
    text = f"in the band after {lasting(hold.warm_up_time)}"
    if hold.duty is not None and hold.duration > 1.05 * hold.warm_up_time:
        text += f", then {100 * hold.duty:.0f} % on"
    return text


def _mark_peak(ax: Axes, v: View, hold: Any, per: float) -> None:
    if v.switch is None or hold.overshoot is None or hold.overshoot < 0.5 * PSI:
        return
    peak = hold.peak_pressure / PSI
    rows = v.rows(hold)
    at = (v.time[rows][int(v.gauge[rows].argmax())] - hold.start_time) / per
    late = at > 0.6 * ax.get_xlim()[1]
    style.note(
        ax,
        (at, peak),
        f"peak {peak:.0f} psig, {hold.overshoot / PSI:.0f} psi over",
        (-6 if late else 6, 10),
        arrow=True,
        ha="right" if late else "left",
        color=ROLES["pressure"],
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
@style.figure
def plot_rounds(
    run: Run, ax: Axes | None = None, *, bottle: str | None = None, width: float = PAGE
) -> Axes:
    """Ladder of passes: pressure from start to end of each, N2O used and left beside it.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("steel", "15 lb"), fill="12.3 lb", start="82 degF",
    ...     schedule=[n2.Pass("7 s", outflow="0.08 lb/s"), n2.Pass("7 s", outflow="0.08 lb/s")],
    ... )
    >>> ax = n2.plot.rounds(n2.simulate(car))
    >>> ax.get_xlabel()
    'pressure, start to end of the pass, psig'
    """
    shown = views_of(run, bottle)
    names = {v.name for v in shown}
    passes = [p for p in run.passes if p.bottle in names]
    if not passes:
        raise InputError("rounds", 0, "", "a run with at least one pass", "add a pass")
    ax = style.given_or_new(ax, width, min(2.0 + 0.42 * len(passes), 11.0))
    for row, s in enumerate(passes):
        _rung(ax, row, s)
    switches = {v.switch for v in shown if v.switch is not None}
    for switch in switches:
        low, high = switch.closes / PSI, switch.opens / PSI
        ax.axvspan(low, high, color=ROLES["band"], alpha=0.22, lw=0)
    _ladder_frame(ax, passes, max((w.opens for w in switches), default=0.0), len(shown) > 1)
    style.title(ax, "Round by round" + _whose(run, bottle))
    return ax


def _rung(ax: Axes, row: int, s: Any) -> None:
    start, end = s.start_pressure / PSI, s.end_pressure / PSI
    ax.plot([start, end], [row, row], color=ROLES["pressure"], lw=5, solid_capstyle="butt")
    ax.plot(start, row, "o", color=ROLES["pressure"], ms=7)
    text = f"{start:.0f} to {end:.0f} psig"
    style.note(ax, (0.5 * (start + end), row), text, (0, 6), ha="center", color=ROLES["pressure"])
    right = f"{format_quantity(s.used, 'mass')} used, {format_quantity(s.end_mass, 'mass')} left"
    if s.liquid_out_time is not None:
        right += ", LIQUID OUT"
    if style.is_narrow(ax):
        style.note(ax, (0.5 * (start + end), row), right, (0, -6), ha="center", va="top")
        return
    style.write(ax, 1.01, row, right, share="x", va="center")


def _ladder_frame(ax: Axes, passes: list[Any], top: float, several: bool) -> None:
    low = min(s.end_pressure for s in passes) / PSI
    high = max(max(s.start_pressure for s in passes), top) / PSI
    room = 0.1 * (high - low) + 10.0
    ax.set_xlim(low - room, high + room)
    ax.set_ylim(len(passes) - 0.4, -0.7)
    names = [s.label or f"pass {s.index + 1}" for s in passes]
    if several:
        names = [f"{name}, {s.bottle}" for name, s in zip(names, passes)]
    ax.set_yticks(range(len(passes)), [style.plain(name) for name in names])
    ax.grid(False, axis="y")
    style.label_axis(ax, "gauge_pressure", "pressure, start to end of the pass", axis="x")
