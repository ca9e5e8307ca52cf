"""Courses of delivery given over distance, as courses over time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from n2osim.errors import InputError, N2OSimError
from n2osim.units import parse

Points = list[tuple[float, float]]


def is_distance(value: Any) -> bool:
    """Whether a corner's first value is text with a unit of length."""
    if not isinstance(value, str):
        return False
    try:
        parse(value, "length")
    except N2OSimError:
        return False
    return True


def distance_points(points: Sequence[Sequence[Any]]) -> Points:
    """Corners (distance m, share 0..1), checked: distances in order, two equal ones are a step."""
    found: Points = []
    for point in points:
        if not isinstance(point, (list, tuple)) or len(point) != 2:
            raise InputError(
                "delivery over distance",
                point,
                "",
                "pairs (distance, share)",
                'write it as [["60 ft", 0.3], ["330 ft", 1.0]]',
            )
        d = parse(point[0], "length", name="delivery: distance", low=0.0)
        share = parse(point[1], "fraction", name="delivery: fraction", low=0.0, high=1.0)
        if found and d < found[-1][0]:
            raise InputError(
                "delivery: distance",
                d,
                "m",
                f"not before {found[-1][0]:g} m",
                "list the corners in order of distance",
            )
        found.append((d, share))
    if not found:
        raise InputError("delivery", "nothing", "", "at least one corner", "")
    return found


def track_points(track: Sequence[Sequence[Any]]) -> np.ndarray:
    """Rows (time s, distance m) of the car, checked: two or more, both rising."""
    rows = []
    for row in track:
        if not isinstance(row, (list, tuple)) or len(row) != 2:
            raise InputError(
                "track",
                row,
                "",
                "pairs (time, distance)",
                'write it as [["0 s", "0 ft"], ["1.2 s", "60 ft"]]',
            )
        rows.append(
            (
                parse(row[0], "time", name="track: time", low=0.0),
                parse(row[1], "length", name="track: distance", low=0.0),
            )
        )
    when = np.array(rows)
    if len(when) < 2 or (np.diff(when, axis=0) <= 0.0).any():
        raise InputError(
            "track", str(track)[:60], "", "two or more (time, distance), both rising", ""
        )
    return when


def over_distance(
    points: Sequence[Sequence[Any]], track: Sequence[Sequence[Any]], delay: Any = 0.0
) -> Points:
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
    corners = distance_points(points)
    late = parse(delay, "time", name="delay", low=0.0)
    for d, _ in corners:
        parse(
            d,
            "length",
            name="delivery: distance",
            low=float(when[0, 1]),
            high=float(when[-1, 1]),
            remedy="give the track up to there",
        )
    timed = [(float(np.interp(d, when[:, 1], when[:, 0])), share) for d, share in corners]
    course = [timed[0]]
    for before, after in zip(timed, timed[1:]):
        inside = when[(when[:, 0] > before[0]) & (when[:, 0] < after[0])]
        course += [(float(t), _share(d, before, after, when)) for t, d in inside]
        course.append(after)
    return _after(course, late)


def _share(
    d: float, before: tuple[float, float], after: tuple[float, float], when: np.ndarray
) -> float:
    """Share at a distance between two corners given by time."""
    a, b = np.interp([before[0], after[0]], when[:, 0], when[:, 1])
    return before[1] + (after[1] - before[1]) * (float(d) - float(a)) / (float(b) - float(a))


def _after(course: Points, delay: float) -> Points:
    """The course with its times counted from the end of the delay."""
    if delay <= 0.0:
        return course
    later = [(t - delay, share) for t, share in course if t > delay]
    if len(later) == len(course):
        return later
    times, shares = zip(*course)
    return [(0.0, float(np.interp(delay, times, shares))), *later]


__all__ = ["distance_points", "is_distance", "over_distance", "track_points"]
