"""A fit in words and tables."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from n2osim.results.frames import html_list, html_table
from n2osim.units import LB, PSI

_SHOWN = {
    "fill": ("lb", 1.0 / LB, 0.0),
    "effective_area": ("mm2", 1e6, 0.0),
    "start_temperature": ("degF", 1.8, -459.67),
    "ambient_temperature": ("degF", 1.8, -459.67),
    "sensor_offset": ("psi", 1.0 / PSI, 0.0),
    "tare": ("lb", 1.0 / LB, 0.0),
}  # name -> unit for the shop, factor, shift


def summary(c: Any, system: str = "shop") -> str:
    """Values with 95 % intervals, correlations, goodness of fit, warnings."""
    return "\n".join(_lines(c, system))


def summary_html(c: Any) -> str:
    """The same as a fragment of HTML for notebooks."""
    tables = [html_table(_HEAD, [_cells(p, "shop") for p in c.parameters], _headline(c))]
    if len(c.parameters) > 1:
        names = [p.name for p in c.parameters]
        rows = [[n, *(f"{x:+.2f}" for x in row)] for n, row in zip(names, c.correlation)]
        tables.append(html_table(["correlation", *names], rows))
    return "".join(tables) + html_list(list(_rest(c, "shop")))


_HEAD = ("parameter", "value", "95 % (profile)", "95 % (covariance)", "unit")


def _headline(c: Any) -> str:
    return (
        f"Fit of {c.scenario.title!r}: {len(c.parameters)} parameters, {c.runs} model runs, "
        f"{c.seconds:.2f} s ({1e3 * c.seconds / max(c.runs, 1):.1f} ms a run)"
    )


def _lines(c: Any, system: str) -> Iterator[str]:
    yield _headline(c)
    for cells in (_HEAD, *(_cells(p, system) for p in c.parameters)):
        name, value, profile, covariance, unit = cells
        yield f"{name:<22}{value:>12}  {profile:>25}  {covariance:>25}  {unit}"
    if len(c.parameters) > 1:
        yield "correlation"
        for k, p in enumerate(c.parameters):
            yield f"  {p.name:<22}" + " ".join(f"{x:+.2f}" for x in c.correlation[k, : k + 1])
    yield from _rest(c, system)


def validation_lines(v: Any, system: str = "shop") -> Iterator[str]:
    """A cross-validation in words."""
    for g in v.goodness:
        unit, factor = _spread(g, system)
        yield (
            f"{g.channel}: rms {g.rms * factor:.4g} {unit}, bias {g.bias * factor:.4g}, worst "
            f"{g.worst * factor:.4g} over {g.count} rows"
        )
    yield (
        f"{100 * v.inside:.0f} % of the pressures inside the predicted 95 % band; worst "
        f"relative error {100 * v.relative:.1f} %"
    )


def _spread(g: Any, system: str) -> tuple[str, float]:
    """Unit of a channel's residuals, and the factor from SI to it."""
    return _SPREADS.get(g.channel, (g.unit, 1.0)) if system == "shop" else (g.unit, 1.0)


def _rest(c: Any, system: str) -> Iterator[str]:
    """Goodness of fit, warnings, notes."""
    for g in c.goodness:
        unit, factor = _spread(g, system)
        yield (
            f"{g.channel}: {g.count} rows, residual {g.rms * factor:.4g} {unit} rms, noise "
            f"{g.noise * factor:.4g}, R2 {g.r2:.5f}, {g.effective:.0f} of them independent"
            + (f" (correlated over {g.correlation_time:.3g} s)" if g.share else "")
        )
    yield from (f"WARNING: {w}" for w in c.warnings)
    yield from (f"note: {n}" for n in c.notes)


_SPREADS = {
    "pressure": ("psi", 1.0 / PSI),
    "temperature": ("degF", 1.8),
    "weight": ("lb", 1.0 / LB),
    "charge": ("lb", 1.0 / LB),
}
"""Channel -> unit of its residuals for the shop, factor."""


def _cells(p: Any, system: str) -> tuple[str, str, str, str, str]:
    unit, factor, shift = (p.unit, 1.0, 0.0)
    if system == "shop" and p.name in _SHOWN:
        unit, factor, shift = _SHOWN[p.name]

    def show(x: float) -> str:
        return f"{x * factor + shift:.5g}"

    def pair(a: float, b: float) -> str:
        return "not asked for" if a != a else f"{show(a)} to {show(b)}"

    if not p.determined:
        return p.name, show(p.value), "not determined", "", unit
    profile = pair(p.profile_low, p.profile_high)
    return p.name, show(p.value), profile, pair(p.low, p.high), unit
