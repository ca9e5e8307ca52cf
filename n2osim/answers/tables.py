"""Tables for the trailer wall: correction by bottle weight, power by pressure error, rounds.

Each table is a tuple of frozen rows (SI); :func:`text_table` prints any of them in shop or SI
units.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim.engine.pack import back_pressure
from n2osim.errors import InputError, NoSolutionError, RangeError
from n2osim.hardware.feed import Feed
from n2osim.physics.feed_state import drawn_at_pressure, feed_flow
from n2osim.results.engine_side import engine_point
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Pass
from n2osim.studies.frames import html_table
from n2osim.units import PSI, parse, parse_many, to_display, unit_label

if TYPE_CHECKING:
    from n2osim.answers.race_day import RoundSummary
    from n2osim.hardware.engine import EngineSide


# --- pressure errors -----------------------------------------------------------------------------
@dataclass(frozen=True)
class PressureErrorRow:
    """What a gauge pressure gives. Pa gauge, K, kg/s, W; mixture: equivalence ratio of the shot.

    error: Pa from the reference; power_error: W from the power there. density: of what is drawn.
    """

    error: float
    pressure: float
    temperature: float
    density: float
    flow: float
    power: float
    power_error: float
    mixture: float
    two_phase: bool


@dataclass(frozen=True)
class PressureErrorTable:
    """Power and mixture over gauge pressure with everything else as set up for one pressure.

    hp_per_psi: mechanical horsepower per psi at the reference (slope of a straight line through
    the rows next to it); psi_per_hp its inverse.
    """

    charge: float
    reference: float
    rows: tuple[PressureErrorRow, ...]
    statement: str

    @property
    def power_per_pressure(self) -> float:
        """Slope of power over pressure at the reference, W/Pa."""
        near = sorted(self.rows, key=lambda r: abs(r.error))[:3]
        return float(np.polyfit([r.error for r in near], [r.power for r in near], 1)[0])

    @property
    def mixture_per_pressure(self) -> float:
        """Slope of the mixture over pressure at the reference, 1/Pa (below 0: leaner)."""
        near = sorted(self.rows, key=lambda r: abs(r.error))[:3]
        return float(np.polyfit([r.error for r in near], [r.mixture for r in near], 1)[0])

    @property
    def hp_per_psi(self) -> float:
        """Slope of power over pressure at the reference, hp/psi."""
        return float(to_display(self.power_per_pressure * PSI, "engine_power", "shop"))

    @property
    def psi_per_hp(self) -> float:
        """Pressure error that costs one horsepower, psi."""
        return 1.0 / self.hp_per_psi

    def text(self, system: str = "shop") -> str:
        """The table as text."""
        return text_table(self.rows, system, leave_out=("two_phase",)) + f"\n{self.statement}"


def pressure_error_table(
    scenario: Scenario,
    at_pressure: Any,
    errors: Sequence[Any] | None = None,
    charge: Any = None,
    feed: str = "main",
) -> PressureErrorTable:
    """Power and mixture when the bottle does not stand at the pressure it was set up for.

    at_pressure : GAUGE pressure (Pa). errors : differences from it (Pa, "-50 psi"); default -100
    to +100 psi. charge : kg (default: the scenario's fill). The scenario gives bottle, feed, engine
    (fuel jets keep their flow, so the mixture drifts) and ambient. Pressures that the charge
    cannot stand at are left out.
    """
    from n2osim.results.engine_side import accounting

    engine = _engine(scenario)
    gauge, held, offs = _reference(scenario, at_pressure, charge, errors)
    chosen = scenario.feed_named(feed)
    p_back = back_pressure(scenario, feed)
    bottle, air = scenario.bottles[0].bottle, scenario.ambient.pressure
    reference = _at(chosen, bottle, held, gauge, air, p_back, engine, 0.0, math.nan)
    rows = []
    for off in offs:
        try:
            rows.append(
                _at(chosen, bottle, held, gauge + off, air, p_back, engine, off, reference.power)
            )
        except (NoSolutionError, RangeError):
            continue
    return PressureErrorTable(held, gauge, tuple(rows), accounting(engine))


def _engine(scenario: Scenario) -> EngineSide:
    if scenario.engine is None:
        raise InputError(
            "engine", None, "", "a scenario with an EngineSide", "power and mixture need one"
        )
    return scenario.engine


def _reference(
    scenario: Scenario, at_pressure: Any, charge: Any, errors: Sequence[Any] | None
) -> tuple[float, float, tuple[float, ...]]:
    air = scenario.ambient.pressure
    gauge = parse(at_pressure, "gauge_pressure", name="reference pressure", low=1e5, ambient=air)
    held = scenario.bottles[0].fill
    if charge is not None:
        held = parse(charge, "mass", name="charge", low=0.0, low_open=True)
    given = [k * PSI for k in range(-100, 101, 20)] if errors is None else errors
    offs = parse_many(given, "pressure_difference", name="pressure errors", low=-gauge)
    return gauge, held, offs


def _at(
    feed: Feed,
    bottle: Any,
    held: float,
    gauge: float,
    air: float,
    p_back: float,
    engine: EngineSide,
    off: float,
    reference: float,
) -> PressureErrorRow:
    drawn = drawn_at_pressure(bottle, held, gauge, air)
    flow = feed_flow(feed, drawn, p_back).flow
    point = engine_point(engine, flow)
    return PressureErrorRow(
        off,
        gauge,
        drawn.temperature,
        drawn.density,
        flow,
        point.power,
        point.power - reference,
        point.equivalence,
        drawn.two_phase,
    )


# --- correction by weight ------------------------------------------------------------------------
@dataclass(frozen=True)
class CorrectionRow:
    """One charge at the same gauge pressure as the reference charge. SI.

    charge (kg), weight (with the empty bottle, kg), temperature (K) at which it reads that
    pressure, density (kg/m3) of what is drawn, flow (kg/s) and flow_change (fraction of the
    reference). gauge_change: by how much (Pa) to set the gauge otherwise so that the flow is the
    reference's (None: no pressure does); jet_factor: or by what factor to change the jets' bore.
    two_phase: draws saturated liquid. With a pass, flows are means over it and the last three
    figures come from simulated passes.
    """

    charge: float
    weight: float
    temperature: float
    density: float
    two_phase: bool
    flow: float
    flow_change: float
    gauge_change: float | None
    jet_factor: float | None


@dataclass(frozen=True)
class CorrectionTable:
    """Corrections by bottle weight for one gauge pressure; flow: the reference's, kg/s."""

    pressure: float
    reference_charge: float
    flow: float
    rows: tuple[CorrectionRow, ...]

    def text(self, system: str = "shop") -> str:
        """The table as text, fullest bottle first."""
        return text_table(self.rows, system, leave_out=("two_phase",))


def correction_table(
    scenario: Scenario,
    at_pressure: Any,
    charges: Sequence[Any] | None = None,
    pass_: Pass | None = None,
    feed: str = "main",
) -> CorrectionTable:
    """What the same gauge pressure gives at other bottle weights, and how to keep the flow.

    charges : kg (default: the scenario's fill down to 20 % of it). The scenario's own fill is the
    reference. pass_ : compare mean flows over this pass, simulated from rest at that pressure;
    None compares the flow at the instant the valve opens. Charges that cannot stand at the
    pressure are left out.
    """
    from n2osim.answers.corrections import Case

    case = Case.of(scenario, at_pressure, pass_, feed)
    if charges is None:
        held = [case.charge * part for part in np.linspace(1.0, 0.2, 9)]
    else:
        held = list(parse_many(charges, "mass", name="charges", low=0.0, low_open=True))
    reference = case.flow(case.charge, case.gauge, 1.0)
    rows = []
    for charge in sorted(held, reverse=True):
        try:
            rows.append(case.row(charge, reference))
        except (NoSolutionError, RangeError):
            continue
    return CorrectionTable(case.gauge, case.charge, reference, tuple(rows))


# --- printing ------------------------------------------------------------------------------------
# field name: (heading, dimension, digits); "error" dimensions print as differences
_COLUMNS: dict[str, tuple[str, str, str]] = {
    "round": ("round", "", "d"),
    "bottle": ("bottle", "", "s"),
    "error": ("error", "pressure_difference", "+.0f"),
    "pressure": ("gauge", "gauge_pressure", ".0f"),
    "start_pressure": ("leaves pits", "gauge_pressure", ".0f"),
    "launch_pressure": ("launch", "gauge_pressure", ".0f"),
    "pressure_sag": ("sag", "pressure_difference", ".0f"),
    "temperature": ("bottle at", "temperature", ".1f"),
    "density": ("density", "density", ".0f"),
    "charge": ("charge", "mass", ".2f"),
    "weight": ("on scale", "mass", ".2f"),
    "used": ("used", "mass", ".3f"),
    "purge_used": ("purged", "mass", ".3f"),
    "flow": ("flow", "mass_flow", ".2f"),
    "flow_mean": ("flow", "mass_flow", ".2f"),
    "flow_change": ("flow change", "fraction", "+.1f"),
    "gauge_change": ("set gauge by", "pressure_difference", "+.0f"),
    "jet_factor": ("or jet bore x", "", ".3f"),
    "power": ("power", "engine_power", ".1f"),
    "power_mean": ("power", "engine_power", ".1f"),
    "power_error": ("power error", "engine_power", "+.1f"),
    "mixture": ("mixture", "", ".3f"),
    "mixture_start": ("mix start", "", ".3f"),
    "mixture_end": ("mix end", "", ".3f"),
    "recovery_time": ("back in band", "time", ".0f"),
    "charge_left": ("left", "mass", ".2f"),
    "weighed_error": ("+-", "mass", ".2f"),
    "refilled": ("refilled", "mass", ".2f"),
}
_ROUND_COLUMNS = (
    "round",
    "bottle",
    "start_pressure",
    "launch_pressure",
    "pressure_sag",
    "purge_used",
    "used",
    "flow_mean",
    "power_mean",
    "mixture_start",
    "mixture_end",
    "recovery_time",
    "charge_left",
    "weighed_error",
    "refilled",
)


def rounds_table(rounds: Sequence[RoundSummary], system: str = "shop") -> str:
    """Rounds of a day as a text table."""
    return _table(rounds, _ROUND_COLUMNS, system)


def rounds_html(rounds: Sequence[RoundSummary], system: str = "shop") -> str:
    """Rounds of a day as an HTML table."""
    return html_table(*_cells(rounds, _ROUND_COLUMNS, system))


def text_table(rows: Sequence[Any], system: str = "shop", leave_out: Sequence[str] = ()) -> str:
    """Rows (frozen records of SI numbers) as a text table with units in the head."""
    if not rows:
        return "(no rows)"
    names = [f.name for f in fields(rows[0]) if f.name in _COLUMNS and f.name not in leave_out]
    return _table(rows, names, system)


def _table(rows: Sequence[Any], names: Sequence[str], system: str) -> str:
    heads, body = _cells(rows, names, system)
    widths = [max(len(h), *(len(b[k]) for b in body)) for k, h in enumerate(heads)]
    lines = ["  ".join(h.rjust(w) for h, w in zip(heads, widths))]
    lines += ["  ".join(c.rjust(w) for c, w in zip(b, widths)) for b in body]
    return "\n".join(lines)


def _cells(
    rows: Sequence[Any], names: Sequence[str], system: str
) -> tuple[list[str], list[list[str]]]:
    heads = [_head(n, system) for n in names]
    return heads, [[_cell(getattr(r, n), n, system) for n in names] for r in rows]


def _head(name: str, system: str) -> str:
    heading, dimension, _ = _COLUMNS[name]
    unit = unit_label(dimension, system) if dimension else ""
    return f"{heading} {unit}".strip()


def _cell(value: Any, name: str, system: str) -> str:
    _, dimension, digits = _COLUMNS[name]
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return "-"
    if isinstance(value, str):
        return value
    if dimension:
        value = to_display(value, dimension, system)
        digits = (
            digits
            if system == "shop"
            else digits.lstrip("+")
            .replace("f", "g")
            .replace(".0", ".5")
            .replace(".1", ".5")
            .replace(".2", ".5")
            .replace(".3", ".5")
        )
    return format(value, digits)


__all__ = [
    "CorrectionRow",
    "CorrectionTable",
    "PressureErrorRow",
    "PressureErrorTable",
    "correction_table",
    "pressure_error_table",
    "rounds_html",
    "rounds_table",
    "text_table",
]
