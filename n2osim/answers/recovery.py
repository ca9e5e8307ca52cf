"""When a bottle is back in its band after a pass or a refill, and stays there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from n2osim.results.holds import switch_of

if TYPE_CHECKING:
    from n2osim.answers.race_plan import RoundItems
    from n2osim.results.run import Run

CYCLING = 0.2
"""Part of the switch's band by which the pressure may fall below the closing point while the
heater is on its switch without having left the band: the dip of a switch that comes on there
(common practice, no source)."""


def stays_from(
    time: np.ndarray, p: np.ndarray, level: float, slack: np.ndarray | float = 0.0
) -> float | None:
    """Time from which ``p`` is at ``level`` or above it for the rest of the course, interpolated.

    slack: how far below ``level`` it may fall again, once there, without counting as away (same
    unit; one value or one per row). The first row's time when it never was away; None when it is
    away at the end.
    """
    inside = bool(p[0] >= level)
    entry = float(time[0])
    low = level - np.broadcast_to(slack, p.shape)
    for k in range(1, len(p)):
        if inside and p[k] < low[k]:
            inside = False
        elif not inside and p[k] >= level:
            inside = True
            rise = p[k] - p[k - 1]
            w = (level - p[k - 1]) / rise if 0.0 < level - p[k - 1] < rise else 1.0
            entry = float(time[k - 1] + w * (time[k] - time[k - 1]))
    return entry if inside else None


def recovery_time(
    run: Run, items: RoundItems, following: RoundItems | None, bottle: str, since: float
) -> float | None:
    """Seconds after ``since`` (run time, s) from which the bottle is in its band and stays there.

    In the band: at or above the switch's closing point; what the switch's own cycling takes off
    that (:data:`CYCLING`) while the heater is on it does not count. Looks from the end of the pass
    to where the ``following`` round leaves the pits (its purge and its wait at the line are its
    own), or to the end of this round's last item. None without a switch, or when it is not in the
    band at the end.
    """
    switch = switch_of(run.scenario, bottle)
    if switch is None:
        return None
    own = (items.pass_, items.weigh, items.refill, items.reheat)
    last = max(k for k in own if k is not None)
    if following is not None and following.soak is not None:
        last = following.soak
    segment = run["segment"]
    # At the instant itself the row behind the jump counts, not the one before it.
    first = int(np.searchsorted(run.time, since, side="right")) - 1
    rows = slice(max(first, 0), int(np.searchsorted(segment, last + 1)))
    if rows.stop <= rows.start:
        return None
    heated = np.array([item.heats for item in run.scenario.schedule])
    slack = np.where(heated[segment[rows]], CYCLING * (switch.opens - switch.closes), 0.0)
    p = run["pressure_gauge_Pa"][run.scenario.bottle_index(bottle), rows]
    found = stays_from(run.time[rows] - since, p, switch.closes, slack)
    return None if found is None else max(found, 0.0)
