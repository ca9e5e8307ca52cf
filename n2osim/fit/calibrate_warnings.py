"""What the reader of a fit must be told: what the log cannot decide, what the model misses."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from n2osim.results.run import Run
from n2osim.scenario.scenario import Scenario

_TIED = 0.95
_WIDE = 2.0  # upper over lower end of an interval


def warnings_of(
    scenario: Scenario,
    run: Run,
    wanted: Sequence[Any],
    fitted: Sequence[Any],
    correlation: np.ndarray,
    goodness: Sequence[Any],
) -> tuple[str, ...]:
    """All warnings, the gravest first."""
    out: list[str] = []
    out += _undetermined(fitted)
    out += _charge(run, wanted, fitted, correlation)
    out += _tied(fitted, correlation)
    out += _limits_and_width(fitted)
    out += _unseen(run, wanted, fitted)
    out += _model_error(goodness)
    return tuple(dict.fromkeys(out))


def _undetermined(fitted: Sequence[Any]) -> list[str]:
    return [
        f"{p.name} cannot be told from this log: changing it changes nothing that others could "
        "not undo; fix it or log something that depends on it"
        for p in fitted
        if not p.determined
    ]


def _charge(
    run: Run, wanted: Sequence[Any], fitted: Sequence[Any], correlation: np.ndarray
) -> list[str]:
    """While liquid and vapour coexist pressure follows temperature alone, whatever the charge."""
    names = [p.name for p in fitted]
    weighed = any(t.name in ("weight", "charge") for t in wanted)
    if "fill" not in names or weighed or run.passes:
        return []
    span = max(float(t.times[t.used][-1]) for t in wanted)
    seen = run.time <= span
    saturated = float(np.mean(run["phase"][0][seen] == 1))
    if saturated < 0.98:
        return []
    k = names.index("fill")
    low, high = fitted[k].interval
    others = np.abs(np.delete(correlation[k], k)) if len(names) > 1 else np.zeros(0)
    partners = [names[i] for i in range(len(names)) if i != k and abs(correlation[k, i]) > 0.8]
    if fitted[k].determined and high / low < 1.1 and not (others > 0.8).any():
        how = "it rests on the rate of warming alone: heater power and shell must be right"
    else:
        how = "only the rate of warming hints at it" + (
            f", and that {', '.join(partners)} changes as well" if partners else ""
        )
    return [
        f"charge cannot be told from a saturated warm-up ({how}); weigh the bottle, or let it "
        "warm until it is liquid-full"
    ]


def _tied(fitted: Sequence[Any], correlation: np.ndarray) -> list[str]:
    out = []
    for i in range(len(fitted)):
        for j in range(i):
            r = float(correlation[i, j])
            if abs(r) > _TIED and fitted[i].determined and fitted[j].determined:
                kind = "together" if r > 0 else "against each other"
                out.append(
                    f"{fitted[j].name} and {fitted[i].name} can move {kind} almost freely "
                    f"(correlation {r:+.3f}): fix one of them, or add a log that tells them "
                    "apart"
                )
    return out


def _limits_and_width(fitted: Sequence[Any]) -> list[str]:
    out = []
    for p in fitted:
        low, high = p.interval
        if p.at_limit:
            out.append(
                f"{p.name} sits on its limit ({p.value:.4g} {p.unit}): the interval is not "
                "to be trusted; widen the limits or look for what is missing"
            )
        elif p.determined and low > 0.0 and high / low > _WIDE and p.name not in _OFFSETS:
            out.append(f"{p.name} is only known within a factor of {high / low:.2g}")
    return out


_OFFSETS = ("sensor_offset", "time_offset", "tare", "start_temperature", "ambient_temperature")
_NEEDS = {
    "effective_area": "outflow_kg_s",
    "two_zone": "outflow_kg_s",
    "boiling_growth": "outflow_kg_s",
    "heater_power": "heater_power_W",
    "contact_resistance": "heater_power_W",
}


def _unseen(run: Run, wanted: Sequence[Any], fitted: Sequence[Any]) -> list[str]:
    span = max(float(t.times[t.used][-1]) for t in wanted)
    seen = run.time <= span
    return [
        f"{p.name}: the fitted part of the log holds no "
        + ("flow" if _NEEDS[p.name] == "outflow_kg_s" else "heating")
        for p in fitted
        if p.name in _NEEDS and not (run[_NEEDS[p.name]][0][seen] > 0.0).any()
    ]


def _model_error(goodness: Sequence[Any]) -> list[str]:
    out = []
    for g in goodness:
        if g.ratio > 2.0 and g.share > 0.3:
            out.append(
                f"{g.channel}: residuals are {g.ratio:.1f} times the sensor's noise and "
                f"hang together over {g.correlation_time:.3g} s: the model falls short; "
                "intervals allow for it, values carry the rest"
            )
        if g.outliers > max(3, 0.02 * g.count):
            out.append(f"{g.channel}: {g.outliers} of {g.count} rows are outliers")
    return out
