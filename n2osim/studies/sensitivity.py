"""How much an answer hangs on the inside coefficient, which has no data near the critical point."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from n2osim.errors import InputError
from n2osim.results.frames import dataframe, dataset_of, json_text, read_json
from n2osim.results.run import simulate
from n2osim.scenario.scenario import Scenario
from n2osim.units import format_quantity, parse

_SCHEMA = 1
_COLUMNS = {
    "factors": ("factor", "1"),
    "warm_up": ("warm_up_time_s", "s"),
    "overshoot": ("overshoot_Pa", "Pa"),
    "duty": ("duty", "1"),
    "hottest_wall": ("hottest_wall_K", "K"),
    "sag": ("pressure_sag_Pa", "Pa"),
}


@dataclass(frozen=True)
class InsideSensitivity:
    """One row per factor on the inside coefficient, for one hold of a scenario.

    factors (1); warm_up (s, None: not reached); overshoot (Pa above the opening point, None);
    duty (1, None: no whole switching cycle); hottest_wall (K); sag (Pa of the first pass, None: no
    pass).
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

    def to_dataframe(self) -> Any:
        """One row a factor in SI as a pandas DataFrame (needs the ``tables`` extra)."""
        columns = {name: getattr(self, key) for key, (name, _) in _COLUMNS.items()}
        rows = [dict(zip(columns, row)) for row in zip(*columns.values())]
        return dataframe(rows, "factor").astype(float)

    def to_xarray(self) -> Any:
        """:meth:`to_dataframe` as xarray.Dataset over the factor (needs ``xarray``)."""
        return dataset_of(self.to_dataframe(), dict(_COLUMNS.values()), title="inside coefficient")

    def to_json(self, path: str | Path | None = None, *, overwrite: bool = False) -> str:
        """The columns as JSON text, written to ``path`` where one is given."""
        data = {"schema": _SCHEMA} | dataclasses.asdict(self)
        return json_text(data, path, overwrite=overwrite)

    @staticmethod
    def from_json(path: str | Path) -> InsideSensitivity:
        """What :meth:`to_json` wrote. InputError for any other file."""

        def make(data: dict[str, Any]) -> InsideSensitivity:
            return InsideSensitivity(**{key: tuple(data[key]) for key in _COLUMNS})

        return read_json(path, _SCHEMA, "a sensitivity", make)

    def __repr__(self) -> str:
        return f"<InsideSensitivity to factors {', '.join(f'{f:g}' for f in self.factors)}>"

    def __str__(self) -> str:
        how = "{:<11} {:>11} {:>10} {:>8} {:>13}"
        lines = [how.format("inside film", "warm-up", "overshoot", "duty", "hottest wall")]
        shown = zip(self.factors, self.warm_up, self.overshoot, self.duty, self.hottest_wall)
        kinds = ("time", "pressure_difference", "fraction", "temperature")
        for factor, *values in shown:
            cells = ["-" if v is None else format_quantity(v, k) for v, k in zip(values, kinds)]
            lines.append(how.format(f"x {factor:g}", *cells))
        return "\n".join(lines)


def inside_sensitivity(
    scenario: Scenario, factors: Sequence[float] = (0.5, 1.0, 2.0), hold: int = 0
) -> InsideSensitivity:
    """Run ``scenario`` with the inside coefficient multiplied by each factor.

    hold: which hold (in order, first bottle) to report. A factor of two either way is what we
    believe of the correlation in the switching band. With a constant ``inside_coefficient`` that
    constant is multiplied instead. Raises InputError without a hold in the schedule.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("carbon-aluminium", "12 lb"), fill="10 lb", start="64 degF",
    ...     heater=n2.Heater("500 W"), switch=n2.PressureSwitch("815 psig", "845 psig"),
    ...     schedule=[n2.Hold("90 min")],
    ... )
    >>> half, _, double = n2.inside_sensitivity(car, (0.5, 1, 2)).hottest_wall
    >>> print(f"{half - double:.1f} K hotter with half the film")
    0.6 K hotter with half the film
    """
    given = factors if isinstance(factors, Iterable) and not isinstance(factors, str) else [factors]
    sizes = tuple(parse(f, "number", name="factor", low=1e-3, high=1e3) for f in given)
    if not sizes:
        raise InputError("factors", "none", "", "one factor or more", "leave it out for 0.5, 1, 2")
    runs = [simulate(_with_factor(scenario, f)) for f in sizes]
    first = scenario.bottles[0].name
    holds = [[h for h in run.holds if h.bottle == first] for run in runs]
    if not 0 <= hold < min(map(len, holds)):
        valid = f"0 to {min(map(len, holds)) - 1}"
        raise InputError("hold", hold, "", valid, "the schedule needs a Hold to look at")
    rows = [found[hold] for found in holds]
    return InsideSensitivity(
        sizes,
        tuple(r.warm_up_time for r in rows),
        tuple(r.overshoot for r in rows),
        tuple(r.duty for r in rows),
        tuple(r.hottest_wall for r in rows),
        tuple(run.passes[0].pressure_sag if run.passes else None for run in runs),
    )


def _with_factor(scenario: Scenario, factor: float) -> Scenario:
    m = scenario.model
    name = "inside_factor" if m.inside_coefficient is None else "inside_coefficient"
    return scenario.replace(model=dataclasses.replace(m, **{name: getattr(m, name) * factor}))
