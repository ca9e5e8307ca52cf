"""Is the pressure column what it is taken for? Told before anything is fitted.

Three faults look like physics to a fit: a unit that is wrong by a factor (kPa read as psi), an
absolute record read as gauge, a gauge that does not stand at zero. Two things in a log tell: the
bottle at rest before anything flows, whose pressure follows from charge and temperature, and the
level at the end of a bottle that has been emptied, which is the outside's.
"""

from __future__ import annotations

import math

import numpy as np

from n2osim.errors import LogError, N2OSimError
from n2osim.fit.logs import Log
from n2osim.numbers import Units
from n2osim.physics.charge import pressure_at
from n2osim.scenario.scenario import Scenario

_UNITS = {"psi": 6894.757, "kPa": 1e3, "bar": 1e5, "MPa": 1e6, "Pa": 1.0}
_FAR = 0.35  # of the expected pressure: what 15 K do, more than a start temperature is off by
_EMPTY = 4e5  # Pa: an empty bottle's last reading is below this
_STILL = 0.1  # of a pass's fall: by how much an emptied bottle may still fall
_MATTERS = 2e4  # Pa (3 psi): offsets below are not worth a word


def pressure_doubts(log: Log, scenario: Scenario) -> tuple[str, ...]:
    """What the pressure column seems to be instead of what it was read as, in words.

    Raises LogError where only another unit makes sense: a fit to it could mean nothing.
    """
    values = log.gauge(scenario.ambient.pressure)
    values = values[np.isfinite(values)]
    if values.size < 5:
        return ()
    top = float(np.quantile(values, 0.98))
    expected = _at_rest(scenario)
    meant, read = _other_unit(top, expected)
    u = Units("shop")
    if meant:
        raise LogError(
            f"the pressure goes up to {u.full(top, 'gauge_pressure')}, where a bottle at rest of "
            f"{u.full(expected, 'gauge_pressure')} is expected: the column looks like {meant} read "
            f"as {read}",
            log.report.file or None,
            remedy=f'give the unit with the column, as in --column "gauge_pressure=HEADER:{meant}"',
        )
    return tuple(_level_doubts(values, scenario.ambient.pressure, u))


def _at_rest(scenario: Scenario) -> float:
    """Gauge pressure, Pa, of the scenario's first bottle at its start; nan where there is none."""
    first = scenario.bottles[0]
    try:
        p = float(pressure_at(first.start, first.fill, first.bottle.volume))
    except N2OSimError:
        return math.nan
    return p - scenario.ambient.pressure


def _other_unit(top: float, expected: float) -> tuple[str, str]:
    """Units (meant, read) whose mistake explains the highest readings; empty where none is."""
    if not (expected > 0.0 and top > 0.0) or abs(top / expected - 1.0) < _FAR:
        return "", ""
    for read, factor in _UNITS.items():
        for meant, other in _UNITS.items():
            if read != meant and abs(top * other / factor / expected - 1.0) < 0.5 * _FAR:
                return meant, read
    return "", ""


def _level_doubts(values: np.ndarray, ambient: float, u: Units) -> list[str]:
    """What the end of an emptied bottle says of the gauge's zero."""
    tail = values[-max(5, values.size // 50) :]
    last, top = float(np.median(tail)), float(values.max())
    if not (top > 10.0 * _EMPTY and last < _EMPTY and np.ptp(tail) < _STILL * _EMPTY):
        return []
    if abs(last) < _MATTERS:
        return []
    shown = u.full(last, "gauge_pressure")
    if abs(last - ambient) < _MATTERS:
        return [
            f"the emptied bottle still reads {shown}, one atmosphere: the column looks absolute, "
            "read as gauge; map it to 'pressure' instead of 'gauge_pressure'"
        ]
    return [
        f"the emptied bottle reads {shown}: the gauge seems off by that much; fit "
        "sensor_offset, or give the column an offset"
    ]
