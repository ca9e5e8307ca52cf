"""Where the liquid lies in a cylinder: level, wetted share, free surface, what tilt strands.

The bottle is a flat-ended cylinder of the inside diameter and of the length that holds the water
capacity (``Bottle.inner_length``). Kernels are scalar; ``standing`` is 0 (lying) or 1.
Geometry only, exact for that cylinder; checked against numeric integration in the tests.
"""

from __future__ import annotations

import math

from n2osim.jit import jit

_GRAVITY = 9.80665
# Real ends are dished: the last 2 % of the volume wets (or uncovers) a standing bottle's end
# gradually. Without this the wetted area would jump at empty and at full.
_DISH = 0.02


@jit
def segment_angle(fraction):
    """Central angle (rad, 0 to 2 pi) of the circular segment holding ``fraction`` of the circle.

    Solves ``angle - sin(angle) = 2 pi fraction`` by Newton inside a shrinking bracket.
    """
    if fraction <= 0.0:
        return 0.0
    if fraction >= 1.0:
        return 2.0 * math.pi
    target = 2.0 * math.pi * min(fraction, 1.0 - fraction)
    low, high = 0.0, math.pi
    x = min(math.pi, (6.0 * target) ** (1.0 / 3.0))  # from sin x = x - x^3/6
    for _ in range(60):
        f = x - math.sin(x) - target
        if f > 0.0:
            high = x
        else:
            low = x
        slope = 1.0 - math.cos(x)
        new = x - f / slope if slope > 0.0 else 0.5 * (low + high)
        if not (low <= new <= high):
            new = 0.5 * (low + high)
        done = abs(new - x) <= 1e-15 * x
        x = new
        if done:
            break
    return x if fraction <= 0.5 else 2.0 * math.pi - x


@jit
def wetted_fraction(fraction, diameter, length, standing):
    """Share (0 to 1) of the inside area (side and both ends) that the liquid touches."""
    f = min(1.0, max(0.0, fraction))
    side = math.pi * diameter * length
    end = 0.25 * math.pi * diameter * diameter
    if standing == 1:
        bottom = min(1.0, f / _DISH)
        top = max(0.0, (f - 1.0 + _DISH) / _DISH)
        wet = f * side + (bottom + top) * end
    else:
        wet = segment_angle(f) / (2.0 * math.pi) * side + 2.0 * f * end
    return wet / (side + 2.0 * end)


@jit
def free_surface_area(fraction, diameter, length, standing):
    """Area (m2) of the liquid surface; zero when empty or full and lying."""
    f = min(1.0, max(0.0, fraction))
    if standing == 1:
        return 0.25 * math.pi * diameter * diameter
    return diameter * math.sin(0.5 * segment_angle(f)) * length


@jit
def _segment_integral(h, radius):
    """Integral of the circular-segment area from depth 0 to ``h`` (m3 per unit slope)."""
    if h <= 0.0:
        return 0.0
    full = max(0.0, h - 2.0 * radius)
    u = 1.0 - min(h, 2.0 * radius) / radius
    w = math.sqrt(max(0.0, 1.0 - u * u))
    return radius**3 * (w - u * math.acos(u) - w**3 / 3.0) + math.pi * radius**2 * full


@jit
def stranded_fraction(diameter, length, tilt, acceleration, pickup_along, pickup_height):
    """Share of the volume below the liquid plane through the pick-up: liquid that stays behind.

    Parameters
    ----------
    tilt : rad, positive with the front end raised; pi/2 is standing on the rear end.
    acceleration : forward, m/s2; it drives the liquid to the rear.
    pickup_along : place of the pick-up inlet along the axis, 0 front end to 1 rear end.
    pickup_height : its height in the bottle's own cross-section, 0 lowest to 1 highest.

    The liquid surface is the plane normal to gravity plus the inertial force. With the axis in
    the car's vertical plane its depth is linear along the axis, so the volume under it is the
    difference of two closed-form segment integrals.
    """
    radius = 0.5 * diameter
    along = acceleration * math.cos(tilt) + _GRAVITY * math.sin(tilt)  # towards the rear
    across = _GRAVITY * math.cos(tilt) - acceleration * math.sin(tilt)  # towards the bottom line
    height = pickup_height
    if across < 0.0:  # the liquid hangs on the other side: mirror the cross-section
        across = -across
        height = 1.0 - height
    h = height * diameter
    volume = math.pi * radius**2 * length
    to_rear = (1.0 - pickup_along) * length
    to_front = pickup_along * length
    if across <= 1e-9 * abs(along):
        return (to_rear if along > 0.0 else to_front) / length
    slope = along / across
    if abs(slope) * length < 1e-6 * diameter:
        angle = 2.0 * math.acos(1.0 - 2.0 * min(1.0, max(0.0, height)))
        return (angle - math.sin(angle)) / (2.0 * math.pi)
    rear = _segment_integral(h + slope * to_rear, radius)
    front = _segment_integral(h - slope * to_front, radius)
    return (rear - front) / slope / volume
