"""A figure for a dark page: the same drawing with its colours turned over.

Greys and tints change places (black on white becomes white on black), colours keep their hue and
become lighter where they would sink into the page.
"""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np

F = TypeVar("F")

BLACKEST, WHITEST = 0.08, 0.94
"""Grey levels (0..1) that white and black become."""
_BRIGHT = 0.32  # relative luminance that a colour must have on a dark page
_GREY = 0.05  # spread of the channels below which a colour is a grey
_TINT = 0.75  # least channel from which on it is a tint: a pale ground, with dark letters on it


def dark(drawn: F) -> F:
    """Turn a figure (or the one that an Axes belongs to) into one for a dark page; returns it.

    >>> import n2osim as n2
    >>> ax = n2.plot.dark(n2.plot.chart(n2.Bottle.preset("steel", "15 lb")))
    >>> ax.figure.get_facecolor() < (0.1, 0.1, 0.1)
    True

    Do it once, when everything is drawn: turned twice, greys are light again.
    """
    figure: Any = drawn
    if hasattr(figure, "get_figure"):
        figure = figure.get_figure(root=True) or figure
    figure.draw_without_rendering()  # ticks exist only then
    for artist in figure.findobj():
        _turn(artist)
        for own in ("arrow_patch", "_bbox_patch"):  # of a text, which does not list them
            _turn(getattr(artist, own, None))
        if hasattr(artist, "get_axisbelow"):
            _turn_new_ticks(artist)
    return drawn


def turned(colours: Any) -> Any:
    """Colours (whatever matplotlib reads) as they are on a dark page, RGBA, shape (n, 4)."""
    from matplotlib.colors import to_rgba_array

    found = to_rgba_array(colours)
    rgb = found[:, :3]
    turn = (np.ptp(rgb, axis=1) < _GREY) | (rgb.min(axis=1) > _TINT)
    mean = rgb.mean(axis=1, keepdims=True)
    over = WHITEST - (WHITEST - BLACKEST) * mean + (rgb - mean)
    bright = luminance(rgb)
    # Mixed with white in light itself (not in screen values), luminance goes in proportion.
    white = np.clip((_BRIGHT - bright) / np.maximum(1.0 - bright, 1e-9), 0.0, 1.0)[:, None]
    light = _linear(rgb) * (1.0 - white) + white
    found[:, :3] = np.where(turn[:, None], np.clip(over, 0.0, 1.0), _screen(light))
    return found


def luminance(rgb: Any) -> Any:
    """Relative luminance (WCAG 2.1, of sRGB), shape (n,) for colours of shape (n, 3)."""
    return _linear(np.asarray(rgb, dtype=float)) @ np.array([0.2126, 0.7152, 0.0722])


def _linear(rgb: Any) -> Any:
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def _screen(light: Any) -> Any:
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


_ONE = ("color", "markerfacecolor", "markeredgecolor")
_SEVERAL = ("facecolor", "edgecolor")


def _turn(artist: Any) -> None:
    """One artist; colours that follow another one ("none", "auto") stay so."""
    from matplotlib.collections import Collection
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch
    from matplotlib.text import Text

    if isinstance(artist, (Text, Line2D)):
        names: tuple[str, ...] = _ONE if isinstance(artist, Line2D) else _ONE[:1]
    elif isinstance(artist, (Patch, Collection)):
        names = _SEVERAL
    else:
        return
    before = {name: getattr(artist, f"get_{name}")() for name in names}
    for name, colour in before.items():
        if isinstance(colour, str) and colour in ("none", "auto"):
            continue
        new = turned(colour)
        if len(new):
            getattr(artist, f"set_{name}")(new if isinstance(artist, Collection) else new[0])
    for effect in artist.get_path_effects() or ():
        stroke = getattr(effect, "_gc", {})
        if "foreground" in stroke:
            stroke["foreground"] = tuple(turned(stroke["foreground"])[0])


def _turn_new_ticks(ax: Any) -> None:
    """Ticks that are made later, when the figure is drawn again."""
    for axis in (ax.xaxis, ax.yaxis):
        how = axis.get_tick_params()
        shown = {k: how[k] for k in ("color", "labelcolor", "grid_color") if k in how}
        if shown:
            axis.set_tick_params(**{k: tuple(turned(v)[0]) for k, v in shown.items()})
