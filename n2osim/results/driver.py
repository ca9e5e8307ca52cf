"""What drove a bottle up to where it stands: refill, heater, stored heat, sun, air, or nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from n2osim.results.view import View

LEAST_RISE = 3e3
"""Pa; a bottle that rose by less stands as it started."""


def driver(v: View, at: float | None) -> str:
    """Cause of the pressure of a bottle at time ``at`` (s), a key of ``judge.CAUSES``.

    Looks back to the last low of the pressure. A refill that brought half of the rise or more is
    the cause; otherwise whoever gave the shell most heat since then, or since its disc burst: an
    empty shell has no pressure to tell by.
    """
    if at is None:
        return "charge"
    row = max(int(np.searchsorted(v.time, at, side="right")) - 1, 0)
    # A bound that is passed between two rows belongs to the rise that ends at the later one.
    row = min(row + 1, len(v.time) - 1) if v.time[row] < at else row
    gauge = v.gauge[: row + 1]
    low = len(gauge) - 1 - int(np.argmin(gauge[::-1]))
    rise = float(gauge[-1] - gauge[low])
    if rise < LEAST_RISE:
        burst = np.flatnonzero(v.array("relief_open")[:row])
        return _heat(v, int(burst[0]), row) if len(burst) else "start"
    filling = v.filling[low + 1 : row + 1]
    if float((np.diff(gauge[low:]) * filling).sum()) >= 0.5 * rise:
        return "refill"
    return _heat(v, low, row)


def _heat(v: View, low: int, row: int) -> str:
    """Whoever gave most heat between two rows."""
    electric = _gain(v, "heater_energy_J", low, row)
    sun = v.bottle.absorbed_sun(v.run.scenario.ambient.sun_on_bottle)
    sun *= float(v.time[row] - v.time[low])
    air = -_gain(v, "heat_loss_J", low, row) - sun
    gave = {"heater": electric, "sun": sun, "air": air}
    most = max(gave, key=gave.__getitem__)
    if max(gave.values()) <= 0.0:
        return "stored heat"
    return _heater(v, row) if most == "heater" else most


def _gain(v: View, name: str, low: int, row: int) -> float:
    total = v.array(name)
    return float(total[row] - total[low])


def _heater(v: View, row: int) -> str:
    """Why the heater drives it: its fault, its sensor, what it stored, or simply its heat."""
    switch = v.switch
    if switch is not None and switch.fault == "welded":
        return "relay"
    if switch is not None and switch.sensor == "line":
        return "sensor"
    on: Any = v.array("heater_power_W")[row] > 0.0
    above = switch is not None and float(v.gauge[row]) > switch.opens
    return "stored heat" if above and not on else "heater"
