"""Figure of one pass: pressure, flow to the jets and charge; mixture and power of the engine."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.report import style
from n2osim.report.plots_run import nth_segment, views_of
from n2osim.report.style import PAGE, ROLES, shop_values
from n2osim.results.view import View
from n2osim.units import PSI, format_quantity

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from n2osim.results.run import Run


@style.figure
def plot_pass(
    run: Run,
    ax: Axes | None = None,
    *,
    index: int = 0,
    bottle: str | None = None,
    width: float = PAGE,
) -> Axes:
    """Pressure, flow and charge of one pass, and with an engine side its mixture and power.

    Several bottles: each one's pressure and charge by its name, and the flow that all of them
    together give to the jets; with ``bottle`` that one alone and what leaves it. With ``ax`` the
    pressure alone is drawn there.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "12 lb"), fill="10.4 lb", start="80 degF",
    ...     feed=n2.Feed(n2.Jets(2, "0.03 in")), schedule=[n2.Pass("8.4 s")],
    ... )
    >>> ax = n2.plot.pass_(n2.simulate(car))
    >>> ax.get_ylabel()
    'pressure, psig'
    """
    shown = views_of(run, bottle)
    ones = [nth_segment(run, "pass", index, v.name) for v in shown]
    rows = shown[0].rows(ones[0])
    t = run.time[rows] - ones[0].start_time
    trace = run.engine
    if ax is not None:
        axes = [ax]
    else:
        ratios = (2.0, 1.3, 1.1) if trace is None else (2.0, 1.2, 1.0, 1.3, 1.2)
        tall = (0.17 if width > 5 else 0.29) * width * sum(ratios) + 0.2
        axes = style.new_axes(width, tall, ratios)
    _pass_pressure(axes[0], shown, ones, t, rows)
    if len(axes) > 1:
        _pass_flow(axes[1], shown, t, rows)
        _pass_charge(axes[2], shown, t, rows)
    if len(axes) > 3 and trace is not None:
        _pass_mixture(axes[3], trace, t, rows)
        _pass_power(axes[4], trace, t, rows)
    axes[-1].set_xlabel("time from the start of the pass, s")
    style.title(axes[0], _title(run, ones))
    axes[0].figure.align_ylabels(axes)
    return axes[0]


def _title(run: Run, ones: list[Any]) -> str:
    """Name, sag and what was used; of several bottles what all gave to the jets."""
    one = ones[0]
    name = one.label or f"pass {one.index + 1}"
    used = format_quantity(sum(s.used for s in ones), "mass")
    if len(ones) > 1:
        return f"{name}: {used} used from {len(ones)} bottles together"
    if len(run.scenario.bottles) > 1:
        name += f", {one.bottle}"
    fell = one.pressure_sag / PSI
    sag = f"{fell:.0f} psi sag" if fell >= 0.0 else f"{-fell:.0f} psi rise"
    if one.used < 0.0:
        taken_in = format_quantity(-one.used, "mass")
        return f"{name}: {sag}, {taken_in} taken in"
    return f"{name}: {sag}, {used} used"


def _pass_mixture(ax: Axes, trace: Any, t: np.ndarray, rows: slice) -> None:
    """Mixture of the shot between its lean and rich limits."""
    from n2osim.results.engine_side import LEAN, RICH

    target = trace.engine.target_mixture
    flow = trace["n2o_flow_kg_s"][rows]
    steady = flow > 0.05 * max(float(flow.max()), 1e-12)  # valves opening or shut say nothing
    ratio = np.where(steady, trace["equivalence_shot"][rows], np.nan)
    ax.plot(t, ratio, color=ROLES["mixture"])
    low, high = LEAN * target, RICH * target
    shown = ratio[np.isfinite(ratio)]
    ends = [low, high, *([float(shown.min()), float(shown.max())] if len(shown) else [])]
    room = 0.35 * (max(ends) - min(ends))
    ax.set_ylim(min(ends) - room, max(ends) + room)
    for value, text, place in ((low, "too lean below", "top"), (high, "rich above", "bottom")):
        ax.axhline(value, color=ROLES["limit"], lw=1.0, ls=(0, (5, 3)))
        style.write(ax, 0.01, value, text, share="x", va=place, ha="left", color=ROLES["limit"])
    ax.set_ylabel("mixture\n(1 = stoich.)")


def _pass_power(ax: Axes, trace: Any, t: np.ndarray, rows: slice) -> None:
    power = shop_values(trace["power_W"][rows], "engine_power")
    ax.plot(t, power, color=ROLES["power"])
    ax.set_ylim(0.0, 1.2 * max(float(power.max()), 1e-6))
    style.label_axis(ax, "engine_power", f"extra power\n({trace.engine.power_at})")


def _pass_pressure(
    ax: Axes, shown: list[View], ones: list[Any], t: np.ndarray, rows: slice
) -> None:
    gauge = "gauge_pressure"
    style.lines(ax, shown, lambda v: t, lambda v: shop_values(v.gauge[rows], gauge), "pressure")
    ax.margins(y=0.15)
    ax.set_xlim(0.0, max(float(t[-1]), 1e-6))
    names, one = {v.name for v in shown}, ones[0]
    for e in shown[0].run.events:
        if e.segment == one.index and e.bottle in names and e.name in _PASS_EVENTS:
            at = e.time - one.start_time
            ax.plot(at, e.pressure_gauge / PSI, "o", ms=4, color=ROLES["pressure"])
            style.note(ax, (at, e.pressure_gauge / PSI), e.name, (5, 5), color=ROLES["pressure"])
    style.label_axis(ax, "gauge_pressure", "pressure")


_PASS_EVENTS = ("saturated", "liquid-out", "liquid back", "flow inhibited", "flow allowed")


def _pass_flow(ax: Axes, shown: list[View], t: np.ndarray, rows: slice) -> None:
    """What leaves the bottles for the jets; what flows from one to the other cancels."""
    together = len(shown) > 1
    out = np.sum([v.array("outflow_kg_s")[rows] for v in shown], axis=0)
    if together:
        out -= np.sum([v.array("relief_flow_kg_s")[rows] for v in shown], axis=0)
    flow = shop_values(out, "mass_flow")
    ax.plot(t, flow, color=ROLES["flow"])
    ax.set_ylim(min(0.0, 1.15 * float(flow.min())), 1.15 * max(float(flow.max()), 1e-6))
    whose = ""
    if len(shown[0].run.scenario.bottles) > 1:
        whose = "\nto the jets" if together else f"\nout of {style.plain(shown[0].name)}"
    style.label_axis(ax, "mass_flow", f"N\u2082O flow{whose}")


def _pass_charge(ax: Axes, shown: list[View], t: np.ndarray, rows: slice) -> None:
    style.lines(ax, shown, lambda v: t, lambda v: shop_values(v.mass[rows], "mass"), "charge")
    ax.margins(y=0.2)
    style.label_axis(ax, "mass", "charge")
