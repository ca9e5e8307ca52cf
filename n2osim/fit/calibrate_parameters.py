# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""What can be fitted: where each parameter sits in a scenario, its limits and its scale.

Parameters that can only be positive are fitted as logarithms, so that intervals stay positive and
a factor of two up weighs as much as one down. The fit sees ``z`` (pure number); value =
``reference * exp(z)`` or ``reference + scale * z``.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from n2osim.errors import InputError, UnknownNameError
from n2osim.scenario.fields import get_field, with_fields
from n2osim.scenario.scenario import Scenario
from n2osim.schema import Amount, Choice, Part, field
from n2osim.units import parse, unit_label


@dataclass(frozen=True)
class Sensor(Part):
    """Between the bottle and the log.

    >>> import n2osim as n2
    >>> n2.Sensor(lag="0.4 s", offset="6 psi", temperature="fluid")
    Sensor(lag='0.4 s', offset='6.0 psi', temperature='fluid')
    """

    lag: Amount = field("time", "first-order time constant of the pressure channel", 0.0, low=0.0)
    offset: Amount = field("pressure_difference", "what the pressure channel shows too much", 0.0)
    time_offset: Amount = field(
        "time",
        "how much later the log's clock runs than assumed: positive when things happen in the log "
        "later than in the scenario",
        0.0,
    )
    tare: Amount = field(
        "mass", "what the weight channel shows beyond bottle and charge (brackets, wrong tare)", 0.0
    )
    temperature: str = field(
        Choice("shell", "fluid"),
        "what the temperature channel touches: `shell` (bare outside) or `fluid`",
        "shell",
    )


State = tuple[Scenario, Sensor]


@dataclass(frozen=True)
class Kind:
    """One parameter that can be fitted.

    path : dotted name of its field in a scenario ("feed": that which is no purge), or behind
    "sensor." in a :class:`Sensor`. span : default limits, as factors of the start value
    where ``log``, else as differences from it; ``absolute`` limits on top. otherwise : where a fit
    begins when the scenario has no value, or 0. unit : for a number, whose dimension has none.
    """

    name: str
    path: str
    dimension: str
    span: tuple[float, float]
    absolute: tuple[float, float]
    words: str
    log: bool = True
    scale: float = 1.0
    otherwise: float = 0.0
    unit: str = ""

    def __post_init__(self) -> None:
        unit = self.unit or unit_label(self.dimension, "si") or "1"
        object.__setattr__(self, "unit", unit)

    @property
    def hardware(self) -> bool:
        """Whether it belongs to bottle and car (carried to other scenarios), not to this log."""
        return self.path.startswith(("model.", "bottles.0.heater.", "feed."))

    @property
    def of_sensor(self) -> bool:
        """Whether it is a field of the sensor, not of the scenario."""
        return self.path.startswith("sensor.")

    def get(self, scenario: Scenario, sensor: Sensor) -> float:
        """The value (SI) that scenario and sensor have."""
        if self.of_sensor:
            value = getattr(sensor, self.path.removeprefix("sensor."))
        elif self.name == "effective_area":
            self._check("feed", scenario.feeds, "give it jets, e.g. Feed.effective_area('10 mm2')")
            value = scenario.feed_named(None).jets.cda
        else:
            heater = scenario.bottles[0].heater
            if "heater." in self.path:
                self._check("heater", heater, "give the scenario a heater")
            value = get_field(scenario, self.path)
            if self.name == "heater_power" and heater is not None:
                value = heater.power_at(scenario.supply.voltage)
        if self.name == "ambient_temperature" and not isinstance(value, float):
            valid = "a scenario with one air temperature"
            raise InputError(f"free parameter {self.name}", "a course over the day", valid=valid)
        return float(value or self.otherwise)

    def changes(self, scenario: Scenario, value: float) -> dict[str, Any]:
        """Fields by dotted name (of the sensor by their own) that put the value in."""
        if self.name == "effective_area":
            name, feed = scenario.feeds[scenario.feed_index(None)]
            return {f"feeds.{name}.jets": feed.jets.with_cda(value)}
        path = self.path.removeprefix("sensor.")
        more = ("resistance", "voltage") if self.name == "heater_power" else ()
        return {path: value, **{f"bottles.0.heater.{x}": None for x in more}}

    def _check(self, part: str, there: Any, remedy: str) -> None:
        if not there:
            valid, remedy = f"a scenario with a {part}", f"{remedy}, or leave this parameter out"
            raise InputError(f"free parameter {self.name}", f"no {part}", "", valid, remedy)


_KINDS = (
    Kind(
        "outside_coefficient",
        "model.outside_coefficient",
        "heat_transfer_coefficient",
        (0.05, 20.0),
        (0.1, 500.0),
        "heat loss of the mounted bottle",
        otherwise=10.0,
    ),
    Kind(
        "inside_factor",
        "model.inside_factor",
        "number",
        (0.02, 50.0),
        (1e-3, 100.0),
        "inside coefficient over its correlation",
        otherwise=1.0,
    ),
    Kind(
        "heater_power",
        "bottles.0.heater.power",
        "power",
        (0.1, 4.0),
        (1.0, 20e3),
        "what the heater really delivers",
    ),
    Kind(
        "contact_resistance",
        "bottles.0.heater.contact_resistance",
        "contact_resistance",
        (0.01, 100.0),
        (1e-5, 0.5),
        "between heater and shell",
        otherwise=1e-5,
    ),
    Kind(
        "fill", "bottles.0.fill", "mass", (0.2, 3.0), (1e-3, 1e3), "charge at the start of the log"
    ),
    Kind("effective_area", "feed.jets", "area", (0.05, 20.0), (1e-8, 2.9e-4), "CdA of the jets"),
    Kind(
        "two_zone",
        "model.two_zone",
        "number",
        (0.005, 500.0),
        (1.0, 1e7),
        "liquid-side factor of the two-zone bottle",
        otherwise=2000.0,
    ),
    Kind(
        "boiling_growth",
        "model.boiling_growth",
        "number",
        (0.02, 200.0),
        (1.0, 1e7),
        "how fast boiling in the superheated liquid grows",
        otherwise=1000.0,
        unit="W/kg/K/s",
    ),
    Kind(
        "start_temperature",
        "bottles.0.start",
        "temperature",
        (-20.0, 20.0),
        (200.0, 400.0),
        "bottle and N2O at the start of the log",
        log=False,
    ),
    Kind(
        "ambient_temperature",
        "ambient.temperature",
        "temperature",
        (-20.0, 20.0),
        (200.0, 360.0),
        "air around the bottle",
        log=False,
    ),
    Kind(
        "sensor_offset",
        "sensor.offset",
        "pressure_difference",
        (-5e5, 5e5),
        (-5e6, 5e6),
        "pressure channel shows this much too much",
        log=False,
        scale=2e4,
    ),
    Kind(
        "sensor_lag",
        "sensor.lag",
        "time",
        (0.01, 100.0),
        (1e-3, 600.0),
        "time constant of the pressure channel",
        otherwise=0.1,
    ),
    Kind(
        "time_offset",
        "sensor.time_offset",
        "time",
        (-5.0, 5.0),
        (-1e4, 1e4),
        "log's clock against the scenario's",
        log=False,
        scale=0.1,
    ),
    Kind(
        "tare",
        "sensor.tare",
        "mass",
        (-20.0, 20.0),
        (-500.0, 500.0),
        "weight channel beyond bottle and charge",
        log=False,
        scale=0.1,
    ),
)
PARAMETERS: dict[str, Kind] = {k.name: k for k in _KINDS}
"""What can be fitted, by name."""


@dataclass(frozen=True)
class Free:
    """A parameter to fit, its limits and its start value in SI; ``given`` start is not scanned."""

    kind: Kind
    start: float
    low: float
    high: float
    given: bool = False

    def to_z(self, value: float) -> float:
        """Pure number of a value."""
        if self.kind.log:
            return math.log(value / self.start)
        return (value - self.start) / self.kind.scale

    def to_value(self, z: float) -> float:
        """Value (SI) of a pure number, inside the limits."""
        value = self.start * math.exp(z) if self.kind.log else self.start + self.kind.scale * z
        return min(max(value, self.low), self.high)


def read_free(
    scenario: Scenario,
    sensor: Sensor,
    free: Sequence[str] | Mapping[str, Any],
    start: Mapping[str, Any] | None,
) -> tuple[Free, ...]:
    """Check the list of free parameters (or name -> (low, high)) and the start values."""
    if isinstance(free, str):
        free = [free]
    names = list(free)
    start = dict(start or {})
    if not names or len(set(names)) != len(names):
        raise InputError(
            "free parameters",
            ", ".join(map(str, names)),
            "",
            f"one or more of {', '.join(PARAMETERS)}, each once",
        )
    for name in [*names, *start]:
        if name not in PARAMETERS:
            raise UnknownNameError.among("free parameter", name, PARAMETERS)
    return tuple(
        _one(
            scenario,
            sensor,
            PARAMETERS[n],
            free[n] if isinstance(free, Mapping) else None,
            start.get(n),
        )
        for n in names
    )


def _one(scenario: Scenario, sensor: Sensor, kind: Kind, limits: Any, start: Any) -> Free:
    value = kind.get(scenario, sensor)
    if start is not None:
        value = parse(start, kind.dimension, name=f"start of {kind.name}")
    if limits is None:
        low, high = (value * f if kind.log else value + f for f in kind.span)
    else:
        low, high = _limits(kind, limits)
    low, high = max(low, kind.absolute[0]), min(high, kind.absolute[1])
    if kind.name == "fill":
        high = min(high, 1050.0 * scenario.bottles[0].bottle.volume)
    if not low < high:
        raise InputError(
            f"limits of {kind.name}",
            f"{low:.6g} to {high:.6g}",
            kind.unit,
            f"within {kind.absolute[0]:g} to {kind.absolute[1]:g}, low below high",
        )
    if not low <= value <= high:
        if start is not None:
            raise InputError(
                f"start of {kind.name}",
                value,
                kind.unit,
                f"within its limits, {low:.6g} to {high:.6g}",
            )
        value = math.sqrt(low * high) if kind.log else 0.5 * (low + high)
    return Free(kind, value, low, high, start is not None)


def _limits(kind: Kind, limits: Any) -> tuple[float, float]:
    if isinstance(limits, (str, bytes)) or not isinstance(limits, Sequence) or len(limits) != 2:
        raise InputError(f"limits of {kind.name}", limits, "", "a pair (low, high)")
    low, high = (parse(v, kind.dimension, name=f"limit of {kind.name}") for v in limits)
    return low, high


def apply(
    frees: Sequence[Free],
    values: Sequence[float],
    scenario: Scenario,
    sensor: Sensor,
    hardware_only: bool = False,
) -> State:
    """The scenario and sensor with these values in them."""
    changes: dict[bool, dict[str, Any]] = {True: {}, False: {}}
    for free, value in zip(frees, values):
        if free.kind.hardware or not hardware_only:
            changes[free.kind.of_sensor] |= free.kind.changes(scenario, float(value))
    return with_fields(scenario, changes[False]), dataclasses.replace(sensor, **changes[True])
