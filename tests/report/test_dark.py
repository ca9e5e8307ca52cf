"""Figures for a dark page can be read: contrast as WCAG 2.1 asks for it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.lines import Line2D
from matplotlib.text import Text

import n2osim as n2
from n2osim.docs.make_figures import FIGURES
from n2osim.report.dark import luminance, turned

TEXT, LINES = 4.5, 3.0
"""WCAG 2.1, 1.4.3 (text) and 1.4.11 (graphics that are needed to understand): least contrast."""


def contrast(one: object, other: object) -> float:
    """WCAG 2.1: (lighter + 0.05) / (darker + 0.05) of relative luminances."""
    low, high = sorted(float(luminance([to_rgb(c)])[0]) for c in (one, other))
    return (high + 0.05) / (low + 0.05)


def test_luminance_and_contrast_are_those_of_the_standard():
    # Black and white: 21, the largest there is; #777777 on white: 4.48 (from memory).
    assert contrast("white", "black") == pytest.approx(21.0)
    assert contrast("#777777", "white") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("make", FIGURES.values(), ids=FIGURES)
def test_everything_stands_out_from_a_dark_page(make: Callable[[], Axes]):
    ax = n2.plot.dark(make())
    figure = ax.get_figure(root=True)
    assert figure is not None
    page = figure.get_facecolor()
    assert luminance([page[:3]])[0] < 0.02
    assert all(
        tuple(a.get_facecolor()) == tuple(page) for a in figure.axes if a.patch.get_visible()
    )
    figure.draw_without_rendering()  # ticks that are made when it is drawn again
    for text in figure.findobj(Text):
        if text.get_text().strip() and text.get_visible():
            ground = text.get_bbox_patch()
            behind = page if ground is None else ground.get_facecolor()
            assert contrast(text.get_color(), behind) >= TEXT, text.get_text()
    for a in figure.axes:
        for line in a.get_lines():
            assert isinstance(line, Line2D)
            if line.get_linestyle() != "None":
                assert contrast(line.get_color(), page) >= LINES, line.get_label()


def test_greys_and_tints_change_places_and_colours_keep_their_hue():
    white, black, tint, blue = turned(["white", "black", "#DDEEFF", "#0072B2"])[:, :3]
    assert white.max() < 0.1 and black.min() > 0.9 and tint.max() < 0.3
    assert np.argmax(blue) == 2 and luminance([blue])[0] > luminance([to_rgb("#0072B2")])[0]
    assert turned([(1.0, 1.0, 1.0, 0.4)])[0, 3] == 0.4
