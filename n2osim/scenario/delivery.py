"""Courses of delivery: corners over time, or over distance with the car's own track."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from n2osim.errors import InputError, N2OSimError
from n2osim.schema import Number, Pairs, inside
from n2osim.units import parse

_STEP = 1e-3  # s; a jump in a delivery table takes this long
_OPENS = 1e-3  # s, that a valve takes to open
_TIME = Number("time", 0.0)
_DISTANCE = Number("length", 0.0)


def _pairs(
    points: Any, name: str, first: Number, second: Number, example: str
) -> list[tuple[float, float]]:
    """Two columns of checked numbers from a list of pairs, at least one."""
    if isinstance(points, str) or not isinstance(points, Sequence):
        raise InputError(name, points, "", "a list of pairs", f"write it as {example}")
    found = []
    for i, point in enumerate(points):
        with inside(i):
            if isinstance(point, str) or not isinstance(point, Sequence) or len(point) != 2:
                valid, remedy = f"pairs of {first.takes} and value", f"write it as {example}"
                raise InputError(name, point, "", valid, remedy)
            with inside(0):
                a = first.read(point[0], f"{name}: {_COLUMN[first.dimension]}", None)
            with inside(1):
                b = second.read(point[1], f"{name}: {_COLUMN[second.dimension]}", None)
        found.append((a, b))
    if not found:
        raise InputError(name, "nothing", "", "at least one corner", "leave it out")
    return found


_COLUMN = {"time": "time", "length": "distance", "fraction": "value", "power": "value"}


def course(points: Sequence[Sequence[Any]], name: str, high: float | None = 1.0) -> Pairs:
    """Check and convert a course of (time, value) corners; equal times become a 1 ms step.

    Raises InputError when it is empty, runs backwards, or a value leaves 0..``high``.
    """
    share = Number("fraction", 0.0, high)
    corners: list[tuple[float, float]] = []
    for t, v in _pairs(points, name, _TIME, share, '[["0 s", 0.5], ["1 s", 1.0]]'):
        if corners and t < corners[-1][0]:
            valid = f"not before the corner at {corners[-1][0]:g} s"
            raise InputError(f"{name}: time", t, "s", valid, "list the corners in order of time")
        if corners and t <= corners[-1][0]:
            t = corners[-1][0] + _STEP
        corners.append((t, v))
    return tuple(corners)


def delayed(corners: Pairs, delay: float) -> Pairs:
    """A delivery course that begins ``delay`` s later: shut until then, open at once behind it.

    Before its first corner a course is at that corner's share, delayed or not.
    """
    if delay <= 0.0:
        return corners
    moved = [(t + delay, v) for t, v in corners or ((0.0, 1.0),)]
    if moved[0][0] > delay:
        moved.insert(0, (delay, moved[0][1]))
    later = moved[1][0] if len(moved) > 1 else math.inf
    opened = (min(delay + _OPENS, 0.5 * (delay + later)), moved[0][1])
    return ((delay, 0.0), opened, *moved[1:])


# --- over distance -------------------------------------------------------------------------------
def in_distance(points: Any) -> bool:
    """Whether any corner's first value is text with a unit of length."""
    if isinstance(points, str) or not isinstance(points, Sequence):
        return False
    return any(
        isinstance(p, Sequence) and len(p) == 2 and isinstance(p[0], str) and _is_length(p[0])
        for p in points
    )


def _is_length(value: str) -> bool:
    try:
        parse(value, "length")
    except N2OSimError:
        return False
    return True


def distance_points(points: Sequence[Sequence[Any]]) -> Pairs:
    """Corners (distance m, share 0..1), checked: distances in order, two equal ones are a step."""
    example = '[["60 ft", 0.3], ["330 ft", 1.0]]'
    found = _pairs(points, "delivery", _DISTANCE, Number("fraction", 0.0, 1.0), example)
    for (before, _), (d, _) in zip(found, found[1:]):
        if d < before:
            valid, remedy = f"not before {before:g} m", "list the corners in order of distance"
            raise InputError("delivery: distance", d, "m", valid, remedy)
    return tuple(found)


def track_points(track: Sequence[Sequence[Any]]) -> np.ndarray:
    """Rows (time s, distance m) of the car, checked: two or more, both rising."""
    when = np.array(
        _pairs(track, "track", _TIME, _DISTANCE, '[["0 s", "0 ft"], ["1.2 s", "60 ft"]]')
    )
    if len(when) < 2 or (np.diff(when, axis=0) <= 0.0).any():
        valid = "two or more (time, distance), both rising"
        raise InputError("track", str(track)[:60], "", valid, "")
    return when


def needs_track(points: Any) -> InputError:
    """The error for a delivery over distance in a pass without a track."""
    distance = points[0][0]
    return InputError(
        quantity="delivery: distance",
        value=distance,
        unit="" if isinstance(distance, str) else "m",
        valid="times, or distances in a pass that knows when the car is where",
        remedy='give the pass a track, for example [["0 s", "0 ft"], ["1.2 s", "60 ft"]]',
    )


def timed(points: Sequence[Sequence[Any]], track: Any, delay: float) -> Pairs:
    """A delivery over distance as a course over time, checked."""
    if track is None:
        raise needs_track(points)
    return course(over_distance(points, track, delay), "delivery")


def over_distance(
    points: Sequence[Sequence[Any]], track: Sequence[Sequence[Any]], delay: Any = 0.0
) -> list[tuple[float, float]]:
    """A delivery course over time from one over distance.

    Parameters
    ----------
    points : corners (distance from the start m or "60 ft", share 0..1), in order; the share is a
        straight line in distance between them.
    track : (time s, distance) of the car since the pass began, both rising; corners beyond its end
        are refused. Between two of its rows distance is taken to grow evenly with time, so rows
        closer together follow a car that gains speed better.
    delay : the pass's ``delay`` (s): deliveries count from its end, the track from the start of
        the pass. What the course has done by then is left out.

    Returns the corners (time, share) with one at every row of the track in between, so that the
    share is the straight line in distance everywhere.
    """
    when = track_points(track)
    late = parse(delay, "time", name="delay", low=0.0)
    least, most = float(when[0, 1]), float(when[-1, 1])
    reach = Number("length", least, most, remedy="give the track up to there")
    corners = distance_points(points)
    for d, _ in corners:
        reach.read(d, "delivery: distance", None)
    moments = [(float(np.interp(d, when[:, 1], when[:, 0])), share) for d, share in corners]
    found = [moments[0]]
    for before, after in zip(moments, moments[1:]):
        between = when[(when[:, 0] > before[0]) & (when[:, 0] < after[0])]
        found += [(float(t), _share(d, before, after, when)) for t, d in between]
        found.append(after)
    return _after(found, late)


def _share(
    d: float, before: tuple[float, float], after: tuple[float, float], when: np.ndarray
) -> float:
    """Share at a distance between two corners given by time."""
    a, b = np.interp([before[0], after[0]], when[:, 0], when[:, 1])
    return before[1] + (after[1] - before[1]) * (float(d) - float(a)) / (float(b) - float(a))


def _after(found: list[tuple[float, float]], delay: float) -> list[tuple[float, float]]:
    """The course with its times counted from the end of the delay."""
    if delay <= 0.0:
        return found
    later = [(t - delay, share) for t, share in found if t > delay]
    if len(later) == len(found):
        return later
    times, shares = zip(*found)
    return [(0.0, float(np.interp(delay, times, shares))), *later]


def opening(corners: Pairs | None) -> str:
    """A course of delivery in words."""
    if not corners or all(share == 1.0 for _, share in corners):
        return "fully open"
    return "open " + ", ".join(f"{100 * share:.3g} % at {t:.3g} s" for t, share in corners)
