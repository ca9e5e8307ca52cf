"""The pressure chart as text and CSV: pressure by temperature and charge of one bottle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from n2osim import fluid
from n2osim.errors import InputError, N2OSimError, NoSolutionError
from n2osim.fluid import Phase
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY, HOT_CAR
from n2osim.hardware.switch import PressureSwitch
from n2osim.numbers import Units
from n2osim.physics.charge import (
    charge_from_state,
    leaves_saturation,
    pressure_at,
    temperature_for_pressure,
)
from n2osim.report.text import cautions_text, findings_text
from n2osim.results.findings import Finding
from n2osim.results.rules_bottle import ROUNDING
from n2osim.text import Table, heading, wrapped
from n2osim.units import PSI, STANDARD_ATMOSPHERE, parse

SHARES = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2)
"""Charges shown unless others are asked for, as shares of the rated capacity."""
READING_ERROR = (10.0 * PSI, 1.0 / 1.8)
"""Pa and K by which a gauge and a thermometer may well be off (typical, no source)."""
_STEP = {"shop": (10.0, 1.8, 459.67), "si": (5.0, 1.0, 273.15)}
"""Degrees from row to row, degrees a kelvin, degrees from the absolute zero to the scale's."""


@dataclass(frozen=True)
class Chart:
    """What a chart is about. SI; ``fill`` is this bottle's own charge or None."""

    bottle: Bottle
    fills: tuple[float, ...]
    fill: float | None = None
    switch: PressureSwitch | None = None
    ambient: float = STANDARD_ATMOSPHERE
    low: float = 277.594
    high: float = 327.594

    @classmethod
    def asked(
        cls,
        source: Any,
        fill: Any = None,
        fills: Sequence[Any] | None = None,
        switch: PressureSwitch | None = None,
        ambient: float | None = None,
        low: Any = "40 degF",
        high: Any = "130 degF",
    ) -> Chart:
        """From texts or SI numbers; raises InputError for what is out of range.

        source : a Bottle, or a Run or Scenario: its first bottle, and where they are not given that
            one's charge and switch, and the air's pressure.
        """
        scenario = getattr(source, "scenario", source)
        if not (isinstance(scenario, Bottle) or hasattr(scenario, "bottles")):
            raise InputError("chart of", source, "", "a Bottle, Scenario or Run", "")
        fills = [fills] if isinstance(fills, str) else fills
        first = None if isinstance(scenario, Bottle) else scenario.bottles[0]
        bottle: Bottle = scenario if first is None else first.bottle
        if ambient is None:
            ambient = STANDARD_ATMOSPHERE if first is None else scenario.ambient.pressure
        if switch is None and first is not None:
            switch = first.switch
        most = 1250.0 * bottle.volume

        def mass(value: Any) -> float:
            if isinstance(value, str) and value.strip().endswith("%"):
                share = parse(value, "fraction", name="charge", low=0.005, high=1.8)
                return bottle.capacity * share
            return parse(value, "mass", name="charge", low=0.005 * bottle.capacity, high=most)

        own = getattr(first, "fill", None) if fill is None else mass(fill)
        shown = [s * bottle.capacity for s in SHARES] if fills is None else [mass(f) for f in fills]
        limits: dict[str, Any] = {"low": fluid.T_TRIPLE + 1.0, "high": fluid.T_MAX}
        T0, T1 = (parse(x, "temperature", name="chart temperature", **limits) for x in (low, high))
        if T1 - T0 < 1.0:
            valid, remedy = f"above the lowest ({T0:.1f} K)", "give the lower one as the lowest"
            raise InputError("chart temperature", T1, "K", valid, remedy)
        return cls(bottle, tuple(shown), own, switch, ambient, T0, T1)

    def columns(self) -> list[float]:
        """Charges of the columns: the bottle's own first."""
        rest = [f for f in self.fills if self.fill is None or abs(f - self.fill) > 1e-6]
        return rest if self.fill is None else [self.fill, *rest]

    def temperatures(self, system: str) -> np.ndarray:
        """Round temperatures (K) between the ends."""
        step, degrees, zero = _STEP[system]
        low, high = (x * degrees - zero for x in (self.low, self.high))
        first, last = np.ceil(low / step - 1e-6), np.floor(high / step + 1e-6)
        return np.asarray((np.arange(first, last + 1) * step + zero) / degrees)


def gauge_at(chart: Chart, temperature: float, fill: float) -> tuple[float | None, bool]:
    """(gauge pressure, Pa, or None beyond the equation of state; one phase or not)."""
    try:
        here = fluid.state(temperature, fill / chart.bottle.volume)
    except InputError:
        return None, True
    return float(here.p) - chart.ambient, int(here.phase) != int(Phase.TWO_PHASE)


def chart_table(chart: Chart, system: str) -> Table:
    """Rows of temperature, columns of charge."""
    units = Units(system)
    capacity = chart.bottle.capacity
    heads = [("bottle at", units.unit("temperature"))]
    heads += [(f"{100 * f / capacity:.0f} %", units.bare(f, "mass")) for f in chart.columns()]
    rows = []
    for T in chart.temperatures(system):
        cells = [units.bare(float(T), "temperature")]
        for fill in chart.columns():
            gauge, single = gauge_at(chart, float(T), fill)
            cells.append(("*" if single else "") + units.bare(gauge, "gauge_pressure"))
        rows.append(tuple(cells))
    note = (
        f"Pressures in {units.unit('gauge_pressure')}, charges in {units.unit('mass')}. "
        "* one phase: full of liquid, or no liquid left."
    )
    return Table(f"Pressure of {chart.bottle.name}", tuple(heads), tuple(rows), note)


def points_table(chart: Chart, system: str) -> Table:
    """For each charge: where it leaves saturation, the band's temperatures, 131 degF."""
    units = Units(system)
    degree = units.unit("temperature")
    heads = [
        ("charge", units.unit("mass")),
        ("of full", "%"),
        ("leaves saturation", degree),
        ("then", ""),
    ]
    if chart.switch is not None:
        heads += [("on below", degree), ("off above", degree)]
    heads.append((f"at {units.short(HOT_CAR, 'temperature')}", units.unit("gauge_pressure")))
    rows = [_points(chart, fill, units) for fill in chart.columns()]
    words = "On below, off above: bottle temperatures at which the switch acts."
    note = "" if chart.switch is None else words
    return Table("Turning points", tuple(heads), tuple(rows), note)


def _points(chart: Chart, fill: float, units: Units) -> tuple[str, ...]:
    try:
        T, how = leaves_saturation(fill / chart.bottle.volume)
        leaves = [units.bare(T, "temperature"), how]
    except InputError:
        leaves = ["-", "-"]
    share = f"{100 * fill / chart.bottle.capacity:.0f}"
    cells = [units.bare(fill, "mass"), share, *leaves]
    if chart.switch is not None:
        for gauge in (chart.switch.closes, chart.switch.opens):
            cells.append(units.bare(_needed(chart, gauge, fill), "temperature"))
    gauge_131, _ = gauge_at(chart, HOT_CAR, fill)
    return (*cells, units.bare(gauge_131, "gauge_pressure"))


def _needed(chart: Chart, gauge: float, fill: float) -> float | None:
    try:
        return float(temperature_for_pressure(gauge + chart.ambient, fill, chart.bottle.volume))
    except (InputError, NoSolutionError):
        return None


def chart_findings(chart: Chart) -> tuple[Finding, ...]:
    """Limits that concern the chart's own charge."""
    found: list[Finding] = []
    bottle, fill = chart.bottle, chart.fill
    fullest = max(chart.columns()) if fill is None else fill
    if fullest / bottle.volume > FULL_FILLING_DENSITY * ROUNDING:
        found.append(
            Finding(
                "warning",
                "overfilled",
                "a charge above the filling density allowed for nitrous oxide",
                fullest / bottle.volume,
                FULL_FILLING_DENSITY,
                "density",
                "filling density",
                "allowed",
                remedy="have what is too much taken out by a licensed filler, and weigh",
                source="49 CFR 173.304a, Table 1 of (a)(2): 68 %",
            )
        )
    service = bottle.service_pressure
    gauge, _ = gauge_at(chart, HOT_CAR, fullest)
    if service is not None and gauge is not None and gauge > 1.25 * service:
        found.append(
            Finding(
                "note",
                "pressure-at-131-degF",
                "at 131 degF above 5/4 of the marked service pressure; for information only, the "
                "rule exempts liquefied nitrous oxide",
                gauge,
                1.25 * service,
                "gauge_pressure",
                "at 131 degF",
                "5/4 of service",
                source="49 CFR 173.301a(d)(1)",
            )
        )
    return tuple(found)


def chart_text(chart: Chart, system: str = "shop") -> str:
    """The chart for a terminal: limits first, cautions last."""
    units = Units(system)
    full = units.full(chart.bottle.capacity, "mass")
    parts = [
        heading(f"Pressure chart: {chart.bottle.name}"),
        findings_text(chart_findings(chart), system),
        wrapped(
            f"100 % is {full}: 0.68 kg per litre of water capacity (49 CFR 173.304a). Ambient "
            f"pressure {units.full(chart.ambient, 'pressure')}."
        ),
        chart_table(chart, system).text(),
        points_table(chart, system).text(),
        cautions_text(),
    ]
    return "\n\n".join(parts) + "\n"


def chart_csv(chart: Chart) -> str:
    """Temperature (K) by row, gauge pressure (Pa) by charge (kg) in columns, at every kelvin."""
    lines = ["temperature_K," + ",".join(f"gauge_Pa[{f:.6g} kg]" for f in chart.columns())]
    count = max(2, round(chart.high - chart.low) + 1)
    for T in np.linspace(chart.low, chart.high, count):
        cells = [gauge_at(chart, float(T), f)[0] for f in chart.columns()]
        lines.append(f"{T:.6f}," + ",".join("" if c is None else f"{c:.1f}" for c in cells))
    return "\n".join(lines) + "\n"


def reading_text(chart: Chart, pressure: Any, temperature: Any, system: str = "shop") -> str:
    """What a gauge and a thermometer say about the charge; NoSolutionError when saturated."""
    units = Units(system)
    p = parse(pressure, "pressure", name="reading, pressure", low=1e4, ambient=chart.ambient)
    T = parse(
        temperature,
        "temperature",
        name="reading, temperature",
        low=fluid.T_TRIPLE + 1.0,
        high=fluid.T_MAX,
    )
    charge = charge_from_state(p, T, chart.bottle.volume)
    gauge = units.full(
        float(pressure_at(T, charge, chart.bottle.volume)) - chart.ambient, "gauge_pressure"
    )
    share = 100.0 * charge / chart.bottle.capacity
    density = charge / chart.bottle.volume
    text = (
        f"{chart.bottle.name} at {gauge} and {units.full(T, 'temperature')} holds "
        f"{units.full(charge, 'mass')} ({share:.0f} % of full, {density:.0f} kg/m3); "
        f"{_how_sure(chart, p, T, charge, units)}"
    )
    if density > FULL_FILLING_DENSITY * ROUNDING:
        text += "; above what is allowed: have what is too much taken out by a licensed filler"
    return wrapped(text) + "\n"


def _how_sure(chart: Chart, p: float, T: float, charge: float, units: Units) -> str:
    """What a gauge and a thermometer that are a little off make of a charge."""
    dp, dT = READING_ERROR
    told = f"a gauge {units.full(dp, 'pressure_difference')} off, or a thermometer "
    told += f"{units.full(dT, 'temperature_difference')} off, "
    try:
        near = [(p + dp, T), (p - dp, T), (p, T + dT), (p, T - dT)]
        far = max(abs(charge_from_state(*x, chart.bottle.volume) - charge) for x in near)
    except N2OSimError:
        return told + "and nothing can be told of it: weigh it"
    return told + f"moves that by up to {units.full(far, 'mass')}: weigh it"
