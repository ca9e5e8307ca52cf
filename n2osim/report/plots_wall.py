"""Temperature through the wall at several instants."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.numbers import lasting
from n2osim.report import style
from n2osim.report.style import PAGE, Label
from n2osim.results.view import View
from n2osim.units import INCH, parse

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from n2osim.results.run import Run

MOMENTS = 5


@style.figure
def plot_wall_profile(
    run: Run,
    ax: Axes | None = None,
    *,
    times: Sequence[Any] | None = None,
    bottle: str | None = None,
    width: float = PAGE,
) -> Axes:
    """Temperature through the shell at several times: under the heater solid, bare part dashed.

    bottle : default the one whose wall gets hottest.
    times : s or text; default from the start to the hottest moment of the shell and after it.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("carbon-aluminium", "10 lb"), fill="8.5 lb", start="69 degF",
    ...     heater=n2.Heater("250 W"), switch=n2.PressureSwitch("820 psig", "850 psig"),
    ...     schedule=[n2.Hold("40 min")],
    ... )
    >>> ax = n2.plot.wall(n2.simulate(car), times=["0 s", "15 min"])
    >>> ax.get_xlabel()
    'depth from the inside, in'
    """
    times = [times] if isinstance(times, str) else times
    v = _hottest(run) if bottle is None else run.view_of(bottle)
    moments = (
        _moments(v)
        if times is None
        else [
            parse(t, "time", name="profile time", low=0.0, high=float(run.time[-1])) for t in times
        ]
    )
    x = _depths(v)
    ax = style.given_or_new(ax, width, 0.62 * width if width > 5 else 0.95 * width)
    _layers(ax, v)
    labels = []
    for k, t in enumerate(moments):
        colour = _shade(k, len(moments))
        covered = _profile(v, 0, t)
        ax.plot(x, covered, color=colour, marker="o", ms=2.5)
        ax.plot(x, _profile(v, 1, t), color=colour, ls=(0, (4, 2)), lw=1.2)
        labels.append(Label(float(covered[-1]), lasting(t), colour))
    style.gutter(ax, 0.0, v.bottle.wall / INCH, 8)
    low, high = ax.get_ylim()
    ax.set_ylim(low, high + 0.25 * (high - low))  # room for the names of the layers
    style.label_axis(ax, "length", "depth from the inside", axis="x")
    style.label_axis(ax, "temperature")
    style.label_ends(ax, labels, v.bottle.wall / INCH)
    whose = v.name if len(run.scenario.bottles) > 1 else v.bottle.name
    style.title(ax, f"{whose}: wall under the heater (solid) and bare (dashed)")
    return ax


def _hottest(run: Run) -> View:
    """The bottle whose wall gets hottest."""
    hottest = np.nanmax(run["wall_temperature_K"], axis=(1, 2, 3))
    return run.views[int(hottest.argmax())]


def _moments(v: View) -> list[float]:
    """Start, on the way to the hottest moment, that moment, and the end."""
    hottest = v.array("wall_temperature_K").max(axis=(0, 1))
    peak = float(v.time[int(hottest.argmax())])
    times = [*np.linspace(0.0, peak, MOMENTS - 1), float(v.time[-1])]
    return sorted({round(float(t), 3) for t in times})


def _profile(v: View, part: int, t: float) -> np.ndarray:
    nodes = v.array("wall_temperature_K")[part]
    values = np.array([np.interp(t, v.time, row) for row in nodes])
    return style.shop_values(values, "temperature")


def _depths(v: View) -> np.ndarray:
    """Depth of every node from the inside, in."""
    counts = np.bincount(v.layers).tolist()
    coverage = v.fitted.heater.coverage if v.fitted.heater is not None else 0.5
    radii = v.bottle.wall_network(counts, coverage).radii
    return (radii - 0.5 * v.bottle.inner_diameter) / INCH


def _layers(ax: Axes, v: View) -> None:
    """Shading and names of the layers."""
    edge = 0.0
    for k, layer in enumerate(v.bottle.layers):
        inner, edge = edge, edge + layer.thickness / INCH
        if k % 2 == 0:
            ax.axvspan(inner, edge, color=style.PALE, alpha=0.55, lw=0, zorder=0)
        thin = edge - inner < 0.12 * v.bottle.wall / INCH
        style.write(
            ax,
            0.5 * (inner + edge),
            0.985,
            style.plain(layer.material.name),
            share="y",
            ha="center",
            va="top",
            color=style.GREY,
            rotation=90 if thin else 0,
            bbox=style.BOX,
        )


def _shade(k: int, n: int) -> str:
    """From dark to light over the moments, by a map that rises in lightness throughout."""
    import matplotlib

    colour = matplotlib.colormaps["viridis"](0.72 * k / max(n - 1, 1))
    return matplotlib.colors.to_hex(colour)
