"""A fit in words and tables."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

_SHOWN = {
    "fill": ("lb", 1.0 / 0.45359237, 0.0),
    "effective_area": ("mm2", 1e6, 0.0),
    "start_temperature": ("degF", 1.8, -459.67),
    "ambient_temperature": ("degF", 1.8, -459.67),
    "sensor_offset": ("psi", 1.0 / 6894.757293168361, 0.0),
    "tare": ("lb", 1.0 / 0.45359237, 0.0),
}  # name -> unit for the shop, factor, shift


def summary(c: Any, system: str = "shop") -> str:
    """Values with 95 % intervals, correlations, goodness of fit, warnings."""
    return "\n".join(_lines(c, system))


def _lines(c: Any, system: str) -> Iterator[str]:
    yield f"Fit of {c.scenario.title!r}: {len(c.parameters)} parameters, {c.runs} model runs, " \
          f"{c.seconds:.2f} s"  # fmt: skip
    yield f"{'parameter':<22}{'value':>12}  {'95 % (profile)':>25}  {'95 % (covariance)':>25}  unit"
    for p in c.parameters:
        yield _row(p, system)
    if len(c.parameters) > 1:
        yield "correlation"
        for k, p in enumerate(c.parameters):
            yield f"  {p.name:<22}" + " ".join(f"{x:+.2f}" for x in c.correlation[k, : k + 1])
    for g in c.goodness:
        yield (f"{g.channel}: {g.count} rows, residual {g.rms:.4g} {g.unit} rms, noise "
               f"{g.noise:.4g}, R2 {g.r2:.5f}, {g.effective:.0f} of them independent"
               + (f" (correlated over {g.correlation_time:.3g} s)" if g.share else "")
               )  # fmt: skip
    yield from (f"WARNING: {w}" for w in c.warnings)
    yield from (f"note: {n}" for n in c.notes)


def _row(p: Any, system: str) -> str:
    unit, factor, shift = (p.unit, 1.0, 0.0)
    if system == "shop" and p.name in _SHOWN:
        unit, factor, shift = _SHOWN[p.name]

    def show(x: float) -> str:
        return f"{x * factor + shift:.5g}"

    def pair(a: float, b: float) -> str:
        return "not asked for" if a != a else f"{show(a)} to {show(b)}"

    if not p.determined:
        return f"{p.name:<22}{show(p.value):>12}  {'not determined':>25}  {'':>25}  {unit}"
    return (f"{p.name:<22}{show(p.value):>12}  {pair(p.profile_low, p.profile_high):>25}  "
            f"{pair(p.low, p.high):>25}  {unit}")  # fmt: skip


__all__ = ["summary"]
