"""Flow maps for kernels that run as plain Python: a row is solved when it is first looked at.

Solving a whole map takes plain Python a quarter of a minute, and a pass looks at a few rows of it.
The numbers are those of the packed maps (feed_network.py, flash_map.py): every row is filled by
the same kernel with the same first guess.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
from numpy.typing import NDArray

from n2osim.physics import feed_network as feed
from n2osim.physics import flash_map as flash

Fill = Callable[[NDArray[np.float64]], None]


class PlainMap:
    """Stands in for a packed map; indexed like one.

    elements (n, 6), p_back Pa absolute, model; flashing: followed by the part for mixtures.
    """

    def __init__(
        self, elements: NDArray[np.float64], p_back: float, model: int, flashing: bool
    ) -> None:
        self._values = feed.empty_map(model, p_back)
        self._values[4] = elements[-1, 1] ** 2
        self._values[3] = float(len(elements) > 1)
        if flashing:
            self._values = np.concatenate([self._values, np.ones(flash.FLASH_SIZE)])
        self._fill: list[Fill | None] = []
        self._row = np.full(len(self._values), -1)
        share = float(elements[-1, 2])
        shipped = feed.shipped_map(model, share, p_back)
        if shipped is not None:
            self._values[feed.HEADER : feed.RATIO_START] = shipped[feed.HEADER : feed.RATIO_START]
        else:
            self._add(_layer(feed.HEADER, feed.JETS, feed.unit_jets(share), model, False))
        if len(elements) > 1:
            self._add(_layer(feed.RATIO_START, feed.RATIO, elements, model, True))
        if flashing:
            self._add(_flash(feed.MAP_SIZE, flash.FLASH_JETS, elements[-1:], model, False))
        if flashing and len(elements) > 1:
            self._add(_flash(flash.FLASH_RATIO_START, flash.FLASH_RATIO, elements, model, True))

    def _add(self, rows: Iterator[tuple[int, int, Fill]]) -> None:
        for first, length, fill in rows:
            self._row[first : first + length] = len(self._fill)
            self._fill.append(fill)

    def __len__(self) -> int:
        return len(self._values)

    def __getitem__(self, k: int) -> np.float64:
        row = self._row[k]
        if row >= 0:
            fill = self._fill[row]
            if fill is not None:
                self._fill[row] = None
                fill(self._values)
        value: np.float64 = self._values[k]
        return value


def tables_of(shape: tuple[int, ...]) -> tuple[tuple[int, int, bool, bool], ...]:
    """Tables of a layer in their order: pressures, densities, above p_c, dense side."""
    _, sub, top, eta, xi = shape
    dense = (sub, eta, False, True), (top, eta, True, True)
    return (*dense, (sub, xi, False, False), (top, xi, True, False))


def _layer(
    start: int, shape: tuple[int, ...], elements: NDArray[np.float64], model: int, ratio: bool
) -> Iterator[tuple[int, int, Fill]]:
    """Lines and rows of a layer in their order (feed_network._fill_layer)."""

    def line(packed: NDArray[np.float64], first: int, dense: bool) -> None:
        feed.fill_line(packed, first, lines, dense, elements, model, ratio)

    def row(
        packed: NDArray[np.float64], first: int, i: int, n: int, m: int, above: bool, dense: bool
    ) -> None:
        feed.fill_row(packed, first, i, n, m, above, dense, elements, model, ratio)

    lines = shape[0]
    for dense in (True, False):
        yield start, lines, partial(line, first=start, dense=dense)
        start += lines
    for n, m, above, dense in tables_of(shape):
        for i in range(n):
            fill = partial(row, first=start, i=i, n=n, m=m, above=above, dense=dense)
            yield start + i * m, m, fill
        start += n * m


def _flash(
    start: int, shape: tuple[int, int], elements: NDArray[np.float64], model: int, ratio: bool
) -> Iterator[tuple[int, int, Fill]]:
    n, m = shape

    def row(packed: NDArray[np.float64], i: int) -> None:
        flash.fill_row(packed, start, i, n, m, elements, model, ratio)

    for i in range(n):
        yield start + i * m, m, partial(row, i=i)
