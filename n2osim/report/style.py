"""One look for all figures: colours by role, direct labels, shop units with SI beside them.

Colours are the eight of Okabe & Ito (Color Universal Design, 2008), told apart with the usual
kinds of colour blindness; each also differs in lightness, so that a grey print still reads. What
a line is stands at its end instead of in a legend. matplotlib is imported when a figure is made.
"""

from __future__ import annotations

import functools
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, NamedTuple, ParamSpec

import numpy as np

from n2osim.errors import InputError
from n2osim.text import printable
from n2osim.units import to_display

if TYPE_CHECKING:
    from matplotlib.axes import Axes

P = ParamSpec("P")

INK, BLUE, SKY, GREEN = "#000000", "#0072B2", "#56B4E9", "#009E73"
VERMILLION, ORANGE, PURPLE = "#D55E00", "#E69F00", "#CC79A7"
GREY, PALE = "#6B6B6B", "#E6E6E6"
ROLES = {
    "pressure": BLUE,
    "fluid": GREEN,
    "wall": VERMILLION,
    "heater": ORANGE,
    "air": GREY,
    "flow": PURPLE,
    "charge": INK,
    "band": SKY,
    "limit": GREY,
    "power": VERMILLION,
    "mixture": GREEN,
}
SERIES = (BLUE, VERMILLION, GREEN, PURPLE, ORANGE, SKY, INK)
PAGE, PHONE = 7.0, 3.6
"""Widths in inches: a printed page's column, and a phone held upright."""
_NARROW = 5.0

_RC: dict[str, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],  # comes with matplotlib, so that all its letters are known
    "text.usetex": False,
    "text.parse_math": False,
    "axes.formatter.use_mathtext": False,
    "font.size": 9.0,
    "axes.titlesize": 10.0,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.labelsize": 9.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": "#444444",
    "axes.linewidth": 0.8,
    "axes.grid": True,
    "grid.color": "#DDDDDD",
    "grid.linewidth": 0.6,
    "axes.axisbelow": True,
    "lines.linewidth": 1.8,
    "lines.solid_capstyle": "round",
    "xtick.labelsize": 8.0,
    "ytick.labelsize": 8.0,
    "xtick.color": "#444444",
    "ytick.color": "#444444",
    "figure.dpi": 110,
    "savefig.dpi": 200,
    "figure.facecolor": "white",
    "legend.frameon": False,
    "figure.constrained_layout.use": True,
}


class Scale(NamedTuple):
    """A kind of quantity on an axis: its name, shop unit and the SI unit of the second axis."""

    name: str
    dimension: str
    shop: str
    metric: str
    metric_factor: float
    metric_offset: float = 0.0


SCALES = {
    s.dimension: s
    for s in (
        Scale("pressure", "gauge_pressure", "psig", "bar gauge", 1e-5),
        Scale("temperature", "temperature", "\u00b0F", "\u00b0C", 1.0, -273.15),
        Scale("flow", "mass_flow", "lb/min", "g/s", 1e3),
        Scale("mass", "mass", "lb", "kg", 1.0),
        Scale("power", "power", "W", "W", 1.0),
        Scale("power", "engine_power", "hp", "kW", 1e-3),
        Scale("length", "length", "in", "mm", 1e3),
        Scale("pressure", "pressure_difference", "psi", "bar", 1e-5),
    )
}


def shop_values(si: Any, dimension: str) -> np.ndarray:
    """SI values in the unit that figures show."""
    return np.asarray(to_display(np.asarray(si, dtype=float), dimension, "shop"))


@contextmanager
def look(width: float = PAGE) -> Iterator[None]:
    """The style while a figure is drawn; smaller type on a narrow one."""
    import matplotlib

    rc: Any = dict(_RC)
    if width < _NARROW:
        rc |= {
            "font.size": 7.0,
            "axes.titlesize": 8.0,
            "axes.labelsize": 7.0,
            "xtick.labelsize": 6.5,
            "ytick.labelsize": 6.5,
            "lines.linewidth": 1.4,
        }
    with matplotlib.rc_context(rc):
        yield
        # A notebook's backend loads with the first figure and turns interactive mode on: leaving
        # the context must not turn it off, or no later figure would be shown.
        interactive = matplotlib.is_interactive()
    matplotlib.interactive(interactive)


def figure(draw: Callable[P, Axes]) -> Callable[P, Axes]:
    """Makes ``draw(source, ax=None, *, width=...)`` draw in the common look.

    Text in it stays text whatever the settings of the caller: no title or label is read as
    mathematics, now or when the figure is saved.
    """

    wanted = _kinds(draw)

    @functools.wraps(draw)
    def drawn(*args: P.args, **how: P.kwargs) -> Axes:
        ax: Any = how.get("ax", args[1] if len(args) > 1 else None)
        width: Any = how.get("width", PAGE)
        _check(wanted, args[0] if args else None, ax, width)
        with look(width if ax is None else width_of(ax)):
            made = draw(*args, **how)
            _keep_text(made if ax is not None else made.figure)
        return made

    return drawn


def _kinds(draw: Callable[..., Any]) -> list[str]:
    """Names of the classes that a figure shows, as its first annotation has them; [] for any."""
    said = next(iter(draw.__annotations__.values()))
    names = [n.split("[")[0].strip() for n in said.split("|")]
    return [] if "Any" in names else names


def _check(wanted: list[str], source: Any, ax: Any, width: Any) -> None:
    """InputError where a figure is asked to show, or to stand on, what it cannot."""
    of = {c.__name__ for c in type(source).__mro__}
    of |= {"Mapping"} if isinstance(source, Mapping) else set()
    if source is not None and wanted and not of.intersection(wanted):
        remedy = "simulate it first" if "Scenario" in of and "Run" in wanted else ""
        raise InputError("figure of", source, "", "a " + " or ".join(wanted), remedy)
    if ax is not None and not hasattr(ax, "figure"):
        raise InputError("ax", ax, "", "a matplotlib Axes", "name the arguments that follow it")
    if not isinstance(width, (int, float)) or not 1.0 <= width <= 100.0:
        raise InputError("width", width, "", "inches, 1 to 100", "")


def _keep_text(artist: Any) -> None:
    from matplotlib.text import Text

    for _ in range(2):  # ticks get their labels only when they are drawn
        for text in artist.findobj(Text):
            text.set_parse_math(False)
            text.set_usetex(False)
        artist.get_figure(root=True).draw_without_rendering()


def plain(text: object) -> str:
    """Text of others for a figure: one line, with a box for each letter that the font lacks."""
    font = _font()
    return "".join(c if font.get_char_index(ord(c)) else "\u25a1" for c in printable(text))


@functools.cache
def _font() -> Any:
    from matplotlib import font_manager

    return font_manager.get_font(font_manager.findfont("DejaVu Sans"))


def new_axes(width: float, height: float, ratios: Sequence[float] = (1.0,)) -> list[Axes]:
    """Axes in one column sharing their time axis, in a new figure (sizes in inches)."""
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(
        len(ratios),
        1,
        figsize=(width, height),
        sharex=True,
        squeeze=False,
        gridspec_kw={"height_ratios": list(ratios)},
    )
    engine: Any = figure.get_layout_engine()
    engine.set(h_pad=0.04, w_pad=0.06)
    return list(axes[:, 0])


def given_or_new(ax: Axes | None, width: float, height: float) -> Axes:
    """The axes given, or those of a new figure (sizes in inches)."""
    return new_axes(width, height)[0] if ax is None else ax


def width_of(ax: Axes) -> float:
    """Width of the figure that an axes sits in, inches."""
    figure: Any = ax.figure
    return float(figure.get_figwidth())


def is_narrow(ax: Axes) -> bool:
    """Whether a figure is of phone size."""
    return width_of(ax) < _NARROW


def wrapped(text: str, width: float) -> str:
    """A title broken so that it fits a figure ``width`` inches wide."""
    letters = int(0.83 * 72.0 * width / (0.62 * (10.0 if width >= _NARROW else 8.0)))
    return "\n".join(textwrap.wrap(plain(text), letters, break_on_hyphens=False))


def title(ax: Axes, text: str) -> None:
    """A title above the axes, broken so that it fits the figure."""
    ax.set_title(wrapped(text, width_of(ax)))


def label_axis(ax: Axes, dimension: str, name: str = "", axis: str = "y") -> None:
    """Name and shop unit on an axis, and the SI unit on the opposite side.

    dimension : a key of ``SCALES``; it has none for a share or a count.
    """
    scale = SCALES[dimension]
    words = name or scale.name
    text = f"{words}, {scale.shop}" if scale.shop else words
    (ax.set_ylabel if axis == "y" else ax.set_xlabel)(text)
    if scale.shop == scale.metric:
        return
    zero, one = (float(to_display(x, dimension, "shop")) for x in (0.0, 1.0))
    a = scale.metric_factor / (one - zero)
    b = scale.metric_factor * scale.metric_offset - a * zero
    linear: Any = (
        lambda shop: a * np.asarray(shop) + b,
        lambda metric: (np.asarray(metric) - b) / a,
    )
    second: Any
    if axis == "y":
        second = ax.secondary_yaxis("right", functions=linear)
    else:
        second = ax.secondary_xaxis("top", functions=linear)
    second.set_color(GREY)
    (second.set_ylabel if axis == "y" else second.set_xlabel)(scale.metric, color=GREY)
    second.tick_params(labelsize="small", colors=GREY)
    second.grid(False)


# --- several bottles ---------------------------------------------------------------------------
STROKES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1, 1.5)), (0, (4, 1.5, 1, 1.5)))
"""Lines of the first, second, ... bottle; they share the colour of the quantity."""


def lines(
    ax: Axes,
    shown: Sequence[Any],
    x: Callable[[Any], Any],
    y: Callable[[Any], Any],
    role: str,
    *,
    name: bool = True,
) -> None:
    """One line for each bottle (views of a run), named where there are several."""
    for k, v in enumerate(shown):
        ax.plot(x(v), y(v), color=ROLES[role], ls=STROKES[k % 4], label=plain(v.name))
    if name:
        legend(ax, shown)


def legend(ax: Axes, shown: Sequence[Any]) -> None:
    """Names of the bottles where there are several."""
    if len(shown) > 1:
        ax.legend(loc="best", fontsize=font_size(ax), frameon=False)


# --- direct labels ---------------------------------------------------------------------------
class Label(NamedTuple):
    """Text for the end of a line: height in data coordinates, colour, weight."""

    y: float
    text: str
    colour: str
    bold: bool = False


def label_ends(ax: Axes, labels: Iterable[Label], x: float) -> None:
    """Write labels where lines end, moved apart where they would touch.

    The texts start a little right of ``x`` (data coordinates), in the gutter that :func:`gutter`
    leaves. Call when limits are final.
    """
    rows = sorted((r for r in labels if np.isfinite(r.y)), key=lambda r: r.y)
    if not rows:
        return
    low, high = ax.get_ylim()
    left, right = ax.get_xlim()
    size = font_size(ax)
    ax.figure.draw_without_rendering()  # type: ignore[union-attr]  # settles the layout
    inches = ax.get_window_extent().height / ax.figure.dpi
    gap = 1.2 * size / 72.0 / max(inches, 0.2)
    wanted = [(r.y - low) / (high - low) for r in rows]
    at = (x - left) / (right - left) + 0.012
    for row, y in zip(rows, spread(wanted, gap, 0.5 * gap, 1.0 - 0.5 * gap)):
        write(
            ax,
            at,
            y,
            row.text,
            share="xy",
            color=row.colour,
            ha="left",
            va="center",
            weight="bold" if row.bold else "normal",
            zorder=6,
        )


def gutter(ax: Axes, low: float, high: float, letters: int) -> None:
    """Set the x limits so that labels of so many letters fit right of ``high``."""
    share = (0.62 * letters * font_size(ax) + 8.0) / 72.0 / (0.8 * width_of(ax))
    ax.set_xlim(low, high + (high - low) * share / (1.0 - share))


def font_size(ax: Axes) -> float:
    """Points for text inside these axes: smaller where they are narrow."""
    return 6.5 if is_narrow(ax) else 8.0


BOX = {"facecolor": "white", "alpha": 0.75, "edgecolor": "none", "pad": 0.5}
"""Behind words that stand on lines."""


def write(ax: Axes, x: Any, y: Any, text: str, *, share: str = "", **how: Any) -> None:
    """Small text at a point. share: of "x", "y" those that are shares of the axes, not data."""
    places = {"": ax.transData, "x": ax.get_yaxis_transform(), "y": ax.get_xaxis_transform()}
    place = ax.transAxes if share == "xy" else places[share]
    ax.text(x, y, text, transform=place, fontsize=font_size(ax), **how)


def note(
    ax: Axes, at: Any, text: str, offset: tuple[float, float], *, arrow: bool = False, **how: Any
) -> None:
    """Small text ``offset`` points beside a point, with a line to it where ``arrow``."""
    if arrow:
        how["arrowprops"] = {"arrowstyle": "-", "color": how.get("color", INK), "lw": 0.8}
    ax.annotate(text, at, offset, textcoords="offset points", fontsize=font_size(ax), **how)


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Rising positions nearest to ``wanted`` (rising; by least squares), at least ``gap`` apart,
    inside low..high. Where there is not room for all, the gap shrinks to fit."""
    from scipy.optimize import isotonic_regression

    if not len(wanted):
        return []
    apart = min(gap, (high - low) / max(len(wanted) - 1, 1)) * np.arange(len(wanted))
    level = isotonic_regression(np.asarray(wanted) - apart).x
    places: list[float] = (np.clip(level, low, high - apart[-1]) + apart).tolist()
    return places


def band(ax: Axes, low: float, high: float, text: str = "") -> None:
    """A horizontal band (shop units), named inside at the left."""
    ax.axhspan(low, high, color=ROLES["band"], alpha=0.22, lw=0, zorder=0)
    if text:
        write(ax, 0.01, high, text, share="x", color="#2A6A92", va="bottom", ha="left")


def limit_line(
    ax: Axes,
    value: float,
    text: str,
    *,
    vertical: bool = False,
    place: float = 0.01,
    side: int = -1,
) -> None:
    """A dashed limit with its name on it; ``place`` along it in axes fraction.

    side : where the name stands: -1 left of or above the line, 1 right of or below it.
    """
    from matplotlib.patheffects import withStroke

    draw = ax.axvline if vertical else ax.axhline
    draw(value, color=ROLES["limit"], lw=1.0, ls=(0, (5, 3)), zorder=1)
    across = ax.get_xaxis_transform() if vertical else ax.get_yaxis_transform()
    how: dict[str, Any] = {"va": "top" if side > 0 else "bottom", "ha": "left"}
    if vertical:
        how |= {"rotation": 90, "ha": "left" if side > 0 else "right", "va": "bottom"}
    ax.annotate(
        plain(text),
        (value, place) if vertical else (place, value),
        xycoords=across,
        xytext=(2.5 * side, 0) if vertical else (0, -side),
        textcoords="offset points",
        fontsize=font_size(ax),
        color=GREY,
        path_effects=[withStroke(linewidth=2.0, foreground=ax.get_facecolor())],
        **how,
    )


def ticks_up_to(ax: Axes, high: float) -> None:
    """No ticks in the gutter: keep those of the x axis up to ``high``."""
    low = ax.get_xlim()[0]
    ax.set_xticks([t for t in ax.get_xticks() if low <= t <= high * (1.0 + 1e-9)])


def time_unit(seconds: float) -> tuple[float, str]:
    """(seconds per unit, name) that suits a time axis of this length."""
    if seconds <= 180.0:
        return 1.0, "s"
    return (60.0, "min") if seconds <= 4 * 3600.0 else (3600.0, "h")
