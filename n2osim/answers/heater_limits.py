"""Limits that a heater must keep, and what was found about one that does."""

from __future__ import annotations

from dataclasses import dataclass

from n2osim.hardware.bottle import Bottle
from n2osim.results.run import Run, simulate
from n2osim.scenario.scenario import Scenario
from n2osim.units import format_quantity, parse


@dataclass(frozen=True)
class Limit:
    """A limit and what was reached: margin is limit minus value; kind a dimension of the units."""

    name: str
    value: float
    limit: float
    kind: str

    @property
    def margin(self) -> float:
        """How much is left (negative: exceeded)."""
        return self.limit - self.value

    @property
    def share(self) -> float:
        """Margin in units that make pressures, temperatures and currents comparable."""
        return self.margin / _SCALES[self.kind]

    @property
    def broken(self) -> bool:
        """Whether it is exceeded by more than the search resolves (100 Pa, 0.01 K, 1 mA)."""
        return self.share < -1e-3

    def __str__(self) -> str:
        kind = {"temperature": "temperature_difference"}.get(self.kind, self.kind)
        shown = f"{self.name} {format_quantity(self.value, self.kind)}"
        if abs(self.share) <= 1e-3:
            return f"{shown}, at its limit"
        word = "left" if self.margin > 0.0 else "over"
        return (
            f"{shown} of {format_quantity(self.limit, self.kind)} "
            f"({format_quantity(abs(self.margin), kind)} {word})"
        )


_SCALES = {"pressure_difference": 1e5, "temperature": 10.0, "current": 1.0, "gauge_pressure": 1e5}


@dataclass(frozen=True)
class Limits:
    """Limits that a heater must keep; None for no limit.

    overshoot: Pa above the opening point. wall: hottest wall node, K ("shell": the lowest limit of
    the shell's materials). heater: hottest of the element itself, K. current: A.
    """

    overshoot: float | None = None
    wall: float | str | None = "shell"
    heater: float | None = None
    current: float | None = None

    def __post_init__(self) -> None:
        kinds = {"overshoot": "pressure_difference", "heater": "temperature", "current": "current"}
        for name, kind in kinds.items():
            self._parse(name, kind)
        if self.wall != "shell":
            self._parse("wall", "temperature")

    def _parse(self, name: str, kind: str) -> None:
        value = getattr(self, name)
        if value is not None:
            checked = parse(value, kind, name=f"limit on {name}", low=0.0)
            object.__setattr__(self, name, checked)

    def wall_of(self, bottle: Bottle) -> float | None:
        """Limit on the wall for this shell, K or None."""
        return bottle.max_wall_temperature if self.wall == "shell" else self.wall  # type: ignore[return-value]


@dataclass(frozen=True)
class HeaterSize:
    """A heater that brings a bottle to its band in time, and what it does there. SI.

    power (W) at the heater's terminals; current (A) and element resistance (ohm) on the supply;
    warm_up_time (s); overshoot (Pa over the opening point) and peak_pressure (Pa gauge); duty (1)
    and mean_power (W) of the hold that follows; warm_up_energy, hold_energy (J; ``hold_time`` s),
    ampere_hours of both (A h); hottest_wall, hottest_inner (liner), hottest_heater,
    hottest_surface (the hotter of wall and element), K; wall_limit (K or None) and wall_margin.
    binding: what decides the power. limits: every limit with its margin. largest_power (W): where
    the next limit would bind, named in ``next_limit`` (None: none up to the largest power tried).
    """

    power: float
    current: float
    resistance: float
    warm_up_time: float
    overshoot: float
    peak_pressure: float
    duty: float
    mean_power: float
    warm_up_energy: float
    hold_energy: float
    hold_time: float
    ampere_hours: float
    hottest_wall: float
    hottest_inner: float
    hottest_heater: float
    wall_limit: float | None
    binding: str
    limits: tuple[Limit, ...]
    scenario: Scenario
    largest_power: float | None = None
    next_limit: str | None = None

    @property
    def hottest_surface(self) -> float:
        """The hotter of wall and heating element, K."""
        return max(self.hottest_wall, self.hottest_heater)

    @property
    def wall_margin(self) -> float | None:
        """Wall limit minus hottest wall, K (None: the shell has no limit)."""
        return None if self.wall_limit is None else self.wall_limit - self.hottest_wall

    def run(self) -> Run:
        """The run behind the figures."""
        return simulate(self.scenario)

    def __str__(self) -> str:
        f = format_quantity
        lines = [
            f"power           {self.power:.4g} W ({self.binding} decides)",
            f"current         {self.current:.3g} A into {self.resistance:.3g} ohm",
            f"warm-up         {f(self.warm_up_time, 'time')}, {self.warm_up_energy / 3600:.4g} Wh",
            f"overshoot       {f(self.overshoot, 'pressure_difference')}, peak "
            f"{f(self.peak_pressure, 'gauge_pressure')}",
            f"hold            duty {100 * self.duty:.3g} %, {self.mean_power:.3g} W on average, "
            f"{self.ampere_hours:.3g} Ah with the warm-up in {f(self.hold_time, 'time')}",
            f"hottest         wall {f(self.hottest_wall, 'temperature')}, heater "
            f"{f(self.hottest_heater, 'temperature')}",
        ]
        lines += [f"limit           {limit}" for limit in self.limits]
        if self.largest_power is not None:
            lines.append(f"up to           {self.largest_power:.4g} W ({self.next_limit} next)")
        return "\n".join(lines)


__all__ = ["HeaterSize", "Limit", "Limits"]
