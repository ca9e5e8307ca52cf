"""Carbon against metal: shells of equal charge through the same warm-up, hold, pass, recovery."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

from n2osim.above import above
from n2osim.errors import InputError, NoSolutionError
from n2osim.hardware.bottle import Bottle
from n2osim.scenario.fields import shell_like, with_fields
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Hold, Pass
from n2osim.studies.ensemble import run_ensemble
from n2osim.studies.frames import dataframe, html_table
from n2osim.studies.result import StudyResult
from n2osim.studies.sweeps import sweep
from n2osim.units import LB, PSI, parse, to_degF

SHELLS = ("aluminium", "steel", "carbon-aluminium", "carbon-polymer")
_LONGEST = 12 * 3600.0


@dataclass(frozen=True)
class ShellRow:
    """One shell. SI; pressures are differences unless said otherwise; None: it did not happen.

    warm_up_time (s) to the first opening of the switch; overshoot (Pa) above it; duty (1),
    mean_power (W) and energy (J) of the hold that follows; warm_up_energy (J); hottest_wall,
    hottest_inner (liner), K; wall_limit, wall_margin, K. sag (Pa): start minus end pressure of the
    pass; sag_without_wall: the same pass with no heat from the wall; sag_support: the difference,
    what the shell gives back; wall_heat: that heat, J. recovery_time (s) from the end of the pass
    until the switch opens again; recovery_energy (J). empty_mass (kg), heat_capacity (J/K) of
    shell, neck and valve. note: caution about the shell.
    """

    shell: str
    empty_mass: float
    heat_capacity: float
    warm_up_time: float | None
    warm_up_energy: float
    overshoot: float | None
    duty: float | None
    mean_power: float
    energy: float
    hottest_wall: float
    hottest_inner: float
    wall_limit: float | None
    sag: float
    sag_without_wall: float
    wall_heat: float
    recovery_time: float | None
    recovery_energy: float
    note: str

    @property
    def wall_margin(self) -> float | None:
        """Wall limit minus hottest wall, K."""
        return None if self.wall_limit is None else self.wall_limit - self.hottest_wall

    @property
    def sag_support(self) -> float:
        """Sag that the heat of the wall saves, Pa."""
        return self.sag_without_wall - self.sag

    def as_dict(self) -> dict[str, Any]:
        """All figures as plain values."""
        named = {f.name: getattr(self, f.name) for f in fields(self)}
        return named | {"wall_margin": self.wall_margin, "sag_support": self.sag_support}


# heading, unit in the shop, figure of a row in that unit
_TABLE: tuple[tuple[str, str, Any], ...] = (
    ("empty", "lb", lambda r: r.empty_mass / LB),
    ("warm-up", "min", lambda r: _per(r.warm_up_time, 60.0)),
    ("warm-up", "Wh", lambda r: r.warm_up_energy / 3600.0),
    ("overshoot", "psi", lambda r: _per(r.overshoot, PSI)),
    ("duty", "%", lambda r: _per(r.duty, 0.01)),
    ("hold", "W", lambda r: r.mean_power),
    ("hottest wall", "degF", lambda r: float(to_degF(r.hottest_wall))),
    ("wall margin", "delta_degF", lambda r: _per(r.wall_margin, 1.0 / 1.8)),
    ("sag", "psi", lambda r: r.sag / PSI),
    ("sag saved by wall", "psi", lambda r: r.sag_support / PSI),
    ("recovery", "min", lambda r: _per(r.recovery_time, 60.0)),
)


def _per(value: float | None, unit: float) -> float | None:
    return None if value is None else value / unit


@dataclass(frozen=True)
class ShellComparison:
    """Rows of shells compared, the scenario they share (its bottle replaced), and the study."""

    rows: tuple[ShellRow, ...]
    scenario: Scenario
    study: StudyResult

    def __getitem__(self, shell: str) -> ShellRow:
        for row in self.rows:
            if row.shell == shell:
                return row
        from n2osim.errors import UnknownNameError

        raise UnknownNameError.among("shell", shell, [r.shell for r in self.rows])

    def cells(self) -> tuple[list[str], list[list[str]]]:
        """(headings with units, one list of texts a shell) in shop units; "never" for None."""
        head = ["shell", *(f"{name} [{unit}]" for name, unit, _ in _TABLE)]
        body = [[r.shell, *(_text(get(r)) for _, _, get in _TABLE)] for r in self.rows]
        return head, body

    def to_text(self) -> str:
        """Plain-text table, one shell a column (fits a terminal)."""
        head, body = self.cells()
        rows = list(zip(head, *body))
        widths = [max(len(cell) for cell in column) for column in zip(*rows)]
        lines = [
            "  ".join([r[0].ljust(widths[0]), *(c.rjust(w) for c, w in zip(r[1:], widths[1:]))])
            for r in rows
        ]
        lines.insert(1, "-" * len(lines[0]))
        lines += [f"{row.shell}: {row.note}" for row in self.rows if row.note]
        return "\n".join(lines)

    def to_markdown(self) -> str:
        """Markdown table, one shell a row."""
        head, body = self.cells()
        lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
        lines += ["| " + " | ".join(row) + " |" for row in body]
        lines += [f"\n{row.shell}: {row.note}" for row in self.rows if row.note]
        return "\n".join(lines)

    def to_dataframe(self) -> Any:
        """SI figures as a pandas DataFrame, one shell a row (needs the ``tables`` extra)."""
        return dataframe([r.as_dict() for r in self.rows], "shell")

    def plot(self) -> Any:
        """Figure of the comparison."""
        return above("plot_shells")(self)

    def _repr_html_(self) -> str:
        return html_table(*self.cells())

    def __str__(self) -> str:
        return self.to_text()


def _text(value: float | None) -> str:
    return "never" if value is None else f"{value:.3g}"


def compare_shells(
    scenario: Scenario,
    shells: Sequence[str | Bottle] = SHELLS,
    *,
    hold: Any = "1 h",
    run: Pass | None = None,
    recovery: Any = "4 h",
    **how: Any,
) -> ShellComparison:
    """Compare shells that hold the same charge, everything else equal.

    Parameters
    ----------
    scenario : one bottle with heater and switch, and a feed (or ``run`` with an outflow); its
        bottle is replaced by each shell in turn (presets of its capacity, or bottles given), its
        charge, start, heater, switch and surroundings are kept.
    hold : time (s) in the band between the first opening of the switch and the pass.
    run : the pass; default the first pass of the scenario's schedule, else 9 s.
    recovery : longest time (s) for which the pressure is waited for after the pass.
    how : keywords of :func:`~n2osim.studies.ensemble.run_ensemble`.

    All shells start the pass from the same state: the first opening of the switch after the hold.
    Raises NoSolutionError naming the shells that cannot be carried out.
    """
    if len(scenario.bottles) != 1 or scenario.heater is None or scenario.switch is None:
        raise InputError(
            "scenario",
            scenario.title,
            "",
            "one bottle with a heater and a switch",
            "compare one bottle at a time",
        )
    old = scenario.bottles[0].bottle
    bottles = [x if isinstance(x, Bottle) else shell_like(x, old) for x in shells]
    names = [x.name if isinstance(x, Bottle) else x for x in shells]
    item = run or next((x for x in scenario.schedule if isinstance(x, Pass)), Pass(9.0))
    whole = scenario.replace(schedule=_schedule(hold, item, recovery))
    first = sweep(whole, {"bottle": bottles}, title="shells", **how)
    _check(first, names)
    adiabatic = run_ensemble([_same_pass(first, k) for k in range(len(bottles))])
    _check(adiabatic, names)
    rows = tuple(
        _row(name, bottle, scenario.switch.opens, first, adiabatic, k)
        for k, (name, bottle) in enumerate(zip(names, bottles))
    )
    return ShellComparison(rows, scenario, first)


def _schedule(hold: Any, item: Pass, recovery: Any) -> list[Any]:
    """Warm up, hold, bring to the opening point, pass, bring there again."""
    length = parse(hold, "time", name="hold", low=60.0, high=_LONGEST)
    wait = parse(recovery, "time", name="recovery", low=60.0, high=_LONGEST)
    return [
        Hold(_LONGEST, until_open=True),
        Hold(length),
        Hold(_LONGEST, until_open=True),
        item,
        Hold(wait, until_open=True),
    ]


def _same_pass(first: StudyResult, k: int) -> Scenario:
    """The pass alone from the fluid's state at its start, with no heat from the wall."""
    member = first.scenario(k)
    changes = {
        "fill": float(first["pass0.start_mass_kg"][k]),
        "start": float(first["pass0.start_temperature_K"][k]),
        "model.inside_coefficient": 0.0,
    }
    item = next(x for x in member.schedule if isinstance(x, Pass))
    return with_fields(member.replace(schedule=[item]), changes)


def _check(result: StudyResult, names: Sequence[str]) -> None:
    if result.failures:
        raise NoSolutionError(
            "shells that cannot be compared: "
            + "; ".join(f"{names[f.member]}: {f.reason}" for f in result.failures)
        )
    if not result.complete:
        raise NoSolutionError(f"the comparison is not complete: {result.note}")


def _row(
    shell: str, bottle: Bottle, opens: float, r: StudyResult, adiabatic: StudyResult, k: int
) -> ShellRow:
    def get(name: str) -> float:
        return float(r[name][k])

    def maybe(value: float) -> float | None:
        return None if math.isnan(value) else value

    opened = not math.isnan(get("hold0.warm_up_time_s"))
    length = get("hold1.duration_s")
    on_power = get("hold0.mean_power_W")
    return ShellRow(
        shell=shell,
        empty_mass=bottle.empty_mass,
        heat_capacity=bottle.heat_capacity,
        warm_up_time=maybe(get("hold0.warm_up_time_s")),
        warm_up_energy=get("hold0.energy_J"),
        overshoot=get("hold1.peak_pressure_gauge_Pa") - opens if opened else None,
        duty=get("hold1.energy_J") / length / on_power if opened and on_power > 0.0 else None,
        mean_power=get("hold1.energy_J") / length,
        energy=get("hold1.energy_J"),
        hottest_wall=get("run.hottest_wall_K"),
        hottest_inner=get("run.hottest_inner_K"),
        wall_limit=bottle.max_wall_temperature,
        sag=get("pass0.pressure_sag_Pa"),
        sag_without_wall=float(adiabatic["pass0.pressure_sag_Pa"][k]),
        wall_heat=get("pass0.heat_to_fluid_J"),
        recovery_time=maybe(get("hold3.warm_up_time_s")) if opened else None,
        recovery_energy=get("hold3.energy_J"),
        note=bottle.oxidising_note,
    )


__all__ = ["SHELLS", "ShellComparison", "ShellRow", "compare_shells"]
