"""How much an answer hangs on the inside coefficient, which has no data near the critical point."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

from n2osim.errors import InputError
from n2osim.results.run import simulate
from n2osim.scenario.scenario import Scenario
from n2osim.units import parse


@dataclass(frozen=True)
class InsideSensitivity:
    """One row per factor on the inside coefficient, for one hold of a scenario.

    factors (1); warm_up (s, None: not reached); overshoot (Pa above the opening point, None);
    duty (1, None); hottest_wall (K); sag (Pa of the first pass, None: no pass).
    """

    factors: tuple[float, ...]
    warm_up: tuple[float | None, ...]
    overshoot: tuple[float | None, ...]
    duty: tuple[float | None, ...]
    hottest_wall: tuple[float, ...]
    sag: tuple[float | None, ...]

    def spread(self, name: str) -> float | None:
        """Largest minus smallest value of a column over the factors (None where one is missing)."""
        values = getattr(self, name)
        if any(v is None for v in values):
            return None
        return float(max(values) - min(values))

    def __str__(self) -> str:
        from n2osim.unit_table import PSI

        lines = ["inside film    warm-up  overshoot   duty  hottest wall"]
        for f, w, o, d, t in zip(
            self.factors, self.warm_up, self.overshoot, self.duty, self.hottest_wall
        ):
            warm = "   never" if w is None else f"{w / 60.0:6.1f} min"
            over = "       -" if o is None else f"{o / PSI:6.1f} psi"
            duty = "    -" if d is None else f"{100.0 * d:4.1f} %"
            lines.append(f"x {f:<9g} {warm:>12} {over:>10} {duty:>6} {t * 1.8 - 459.67:9.1f} degF")
        return "\n".join(lines)


def inside_sensitivity(
    scenario: Scenario, factors: Sequence[float] = (0.5, 1.0, 2.0), hold: int = 0
) -> InsideSensitivity:
    """Run ``scenario`` with the inside coefficient multiplied by each factor.

    hold: which hold (in order, first bottle) to report. A factor of two either way is what we
    believe of the correlation in the switching band. With a constant ``inside_coefficient`` that
    constant is multiplied instead. Raises InputError without a hold in the schedule.
    """
    runs = [
        simulate(_with_factor(scenario, parse(f, "number", name="factor", low=1e-3, high=1e3)))
        for f in factors
    ]
    rows = []
    for run in runs:
        first = [h for h in run.holds if h.bottle == scenario.bottles[0].name]
        if hold >= len(first):
            raise InputError(
                quantity="hold",
                value=hold,
                unit="",
                valid=f"0 to {len(first) - 1}",
                remedy="the schedule needs a Hold to look at",
            )
        rows.append(first[hold])
    return InsideSensitivity(
        tuple(float(f) for f in factors),
        tuple(r.warm_up_time for r in rows),
        tuple(r.overshoot for r in rows),
        tuple(r.duty for r in rows),
        tuple(r.hottest_wall for r in rows),
        tuple(run.passes[0].pressure_sag if run.passes else None for run in runs),
    )


def _with_factor(scenario: Scenario, factor: float) -> Scenario:
    m = scenario.model
    if m.inside_coefficient is not None:
        changed = dataclasses.replace(m, inside_coefficient=m.inside_coefficient * factor)
    else:
        changed = dataclasses.replace(m, inside_factor=m.inside_factor * factor)
    return scenario.replace(model=changed)
