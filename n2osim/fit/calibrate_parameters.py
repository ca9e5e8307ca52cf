"""What can be fitted: where each parameter sits in a scenario, its limits and its scale.

Parameters that can only be positive are fitted as logarithms, so that intervals stay positive and
a factor of two up weighs as much as one down. The fit sees ``z`` (pure number); value =
``reference * exp(z)`` or ``reference + scale * z``.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from n2osim.errors import InputError, UnknownNameError
from n2osim.hardware.feed import Feed
from n2osim.scenario.scenario import Scenario
from n2osim.units import parse


@dataclass(frozen=True)
class Sensor:
    """Between the bottle and the log.

    lag : first-order time constant of the pressure channel, s.
    offset : what the pressure channel shows too much, Pa.
    time_offset : how much later the log's clock runs than assumed, s: positive when things happen
        in the log later than in the scenario.
    tare : what the weight channel shows beyond bottle and charge (brackets, wrong tare), kg.
    temperature : what the temperature channel touches: "shell" (bare outside), "fluid".
    """

    lag: float = 0.0
    offset: float = 0.0
    time_offset: float = 0.0
    tare: float = 0.0
    temperature: str = "shell"

    def __post_init__(self) -> None:
        for name, dimension, low in (
            ("lag", "time", 0.0),
            ("time_offset", "time", None),
            ("offset", "pressure_difference", None),
        ):
            checked = parse(getattr(self, name), dimension, name=f"sensor {name}", low=low)
            object.__setattr__(self, name, checked)
        tare = parse(self.tare, "mass", name="sensor tare")
        object.__setattr__(self, "tare", tare)
        if self.temperature not in ("shell", "fluid"):
            raise UnknownNameError.among("sensor temperature", self.temperature, ("shell", "fluid"))


State = tuple[Scenario, Sensor]


@dataclass(frozen=True)
class Kind:
    """One parameter that can be fitted.

    get, set : read it from, write it into (scenario, sensor). span : default limits, as factors
    of the start value where ``log``, else as differences from it; ``absolute`` limits on top.
    hardware : belongs to bottle and car (carried to other scenarios), not to this one log.
    """

    name: str
    unit: str
    dimension: str
    get: Callable[[Scenario, Sensor], float]
    set: Callable[[Scenario, Sensor, float], State]
    span: tuple[float, float]
    absolute: tuple[float, float]
    log: bool = True
    scale: float = 1.0
    hardware: bool = True
    words: str = ""

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickled by name, as its functions cannot be: what it is, is fixed by the module."""
        return _kind, (self.name,)


def _kind(name: str) -> Kind:
    return PARAMETERS[name]


def _bottle(s: Scenario, **changes: Any) -> Scenario:
    first = dataclasses.replace(s.bottles[0], **changes)
    return dataclasses.replace(s, bottles=(first, *s.bottles[1:]))


def _model(field: str) -> Callable[[Scenario, Sensor, float], State]:
    def put(s: Scenario, o: Sensor, v: float) -> State:
        changed: dict[str, Any] = {field: v}
        return dataclasses.replace(s, model=dataclasses.replace(s.model, **changed)), o

    return put


def _sensor(field: str) -> Callable[[Scenario, Sensor, float], State]:
    def put(s: Scenario, o: Sensor, v: float) -> State:
        changed: dict[str, Any] = {field: v}
        return s, dataclasses.replace(o, **changed)

    return put


def _heater(s: Scenario, name: str) -> Any:
    heater = s.bottles[0].heater
    if heater is None:
        raise InputError(
            f"free parameter {name}",
            "no heater",
            "",
            "a scenario with a heater",
            "give the scenario a heater or leave this parameter out",
        )
    return heater


def _get_power(s: Scenario, o: Sensor) -> float:
    return float(_heater(s, "heater_power").power_at(s.supply.voltage))


def _set_power(s: Scenario, o: Sensor, v: float) -> State:
    heater = _heater(s, "heater_power")
    fitted = dataclasses.replace(heater, power=v, resistance=None, voltage=None)
    return _bottle(s, heater=fitted), o


def _get_contact(s: Scenario, o: Sensor) -> float:
    return max(float(_heater(s, "contact_resistance").contact_resistance), 1e-5)


def _set_contact(s: Scenario, o: Sensor, v: float) -> State:
    heater = _heater(s, "contact_resistance")
    return _bottle(s, heater=dataclasses.replace(heater, contact_resistance=v)), o


def _main_feed(s: Scenario) -> tuple[int, Feed]:
    if not s.feeds:
        raise InputError(
            "free parameter effective_area",
            "no feed",
            "",
            "a scenario with a feed",
            "give the scenario jets, e.g. Feed.effective_area('10 mm2')",
        )
    k = s.feed_index(None)
    return k, s.feeds[k][1]


def _get_area(s: Scenario, o: Sensor) -> float:
    return float(_main_feed(s)[1].jets.cda)


def _set_area(s: Scenario, o: Sensor, v: float) -> State:
    k, feed = _main_feed(s)
    fitted = dataclasses.replace(feed, jets=feed.jets.with_cda(v))
    feeds = tuple((n, fitted if i == k else f) for i, (n, f) in enumerate(s.feeds))
    return dataclasses.replace(s, feeds=feeds), o


def _set_ambient(s: Scenario, o: Sensor, v: float) -> State:
    return dataclasses.replace(s, ambient=dataclasses.replace(s.ambient, temperature=v)), o


def _get_ambient(s: Scenario, o: Sensor) -> float:
    if not isinstance(s.ambient.temperature, float):
        raise InputError(
            "free parameter ambient_temperature",
            "a course over the day",
            "",
            "a scenario with one air temperature",
            "",
        )
    return s.ambient.temperature


_KINDS = (
    Kind(
        "outside_coefficient",
        "W/m2/K",
        "heat_transfer_coefficient",
        lambda s, o: s.model.outside_coefficient or 10.0,
        _model("outside_coefficient"),
        (0.05, 20.0),
        (0.1, 500.0),
        words="heat loss of the mounted bottle",
    ),
    Kind(
        "inside_factor",
        "1",
        "number",
        lambda s, o: s.model.inside_factor or 1.0,
        _model("inside_factor"),
        (0.02, 50.0),
        (1e-3, 100.0),
        words="inside coefficient over its correlation",
    ),
    Kind(
        "heater_power",
        "W",
        "power",
        _get_power,
        _set_power,
        (0.1, 4.0),
        (1.0, 20e3),
        words="what the heater really delivers",
    ),
    Kind(
        "contact_resistance",
        "m2 K/W",
        "contact_resistance",
        _get_contact,
        _set_contact,
        (0.01, 100.0),
        (1e-5, 0.5),
        words="between heater and shell",
    ),
    Kind(
        "fill",
        "kg",
        "mass",
        lambda s, o: s.bottles[0].fill,
        lambda s, o, v: (_bottle(s, fill=v), o),
        (0.2, 3.0),
        (1e-3, 1e3),
        hardware=False,
        words="charge at the start of the log",
    ),
    Kind(
        "effective_area",
        "m2",
        "area",
        _get_area,
        _set_area,
        (0.05, 20.0),
        (1e-8, 2.9e-4),
        words="CdA of the jets",
    ),
    Kind(
        "two_zone",
        "1",
        "number",
        lambda s, o: s.model.two_zone or 2000.0,
        _model("two_zone"),
        (0.005, 500.0),
        (1.0, 1e7),
        words="liquid-side factor of the two-zone bottle",
    ),
    Kind(
        "boiling_growth",
        "W/kg/K/s",
        "number",
        lambda s, o: s.model.boiling_growth or 1000.0,
        _model("boiling_growth"),
        (0.02, 200.0),
        (1.0, 1e7),
        words="how fast boiling in the superheated liquid grows",
    ),
    Kind(
        "start_temperature",
        "K",
        "temperature",
        lambda s, o: s.bottles[0].start,
        lambda s, o, v: (_bottle(s, start=v), o),
        (-20.0, 20.0),
        (200.0, 400.0),
        log=False,
        hardware=False,
        words="bottle and N2O at the start of the log",
    ),
    Kind(
        "ambient_temperature",
        "K",
        "temperature",
        _get_ambient,
        _set_ambient,
        (-20.0, 20.0),
        (200.0, 360.0),
        log=False,
        hardware=False,
        words="air around the bottle",
    ),
    Kind(
        "sensor_offset",
        "Pa",
        "pressure_difference",
        lambda s, o: o.offset,
        _sensor("offset"),
        (-5e5, 5e5),
        (-5e6, 5e6),
        log=False,
        scale=2e4,
        hardware=False,
        words="pressure channel shows this much too much",
    ),
    Kind(
        "sensor_lag",
        "s",
        "time",
        lambda s, o: o.lag or 0.1,
        _sensor("lag"),
        (0.01, 100.0),
        (1e-3, 600.0),
        hardware=False,
        words="time constant of the pressure channel",
    ),
    Kind(
        "time_offset",
        "s",
        "time",
        lambda s, o: o.time_offset,
        _sensor("time_offset"),
        (-5.0, 5.0),
        (-1e4, 1e4),
        log=False,
        scale=0.1,
        hardware=False,
        words="log's clock against the scenario's",
    ),
    Kind(
        "tare",
        "kg",
        "mass",
        lambda s, o: o.tare,
        _sensor("tare"),
        (-20.0, 20.0),
        (-500.0, 500.0),
        log=False,
        scale=0.1,
        hardware=False,
        words="weight channel beyond bottle and charge",
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
    for free, value in zip(frees, values):
        if free.kind.hardware or not hardware_only:
            scenario, sensor = free.kind.set(scenario, sensor, float(value))
    return scenario, sensor
