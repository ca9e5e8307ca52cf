"""Numbers in the sentences of the pages, computed: ``<!-- n: NAME -->VALUE<!-- /n -->``.

``python -m n2osim.docs.make_tables`` fills them in, a test fails where one is stale. ``worst: ROW``
and ``allowed: ROW`` read the verification page; ROW is the beginning of its first cell. ``trade
jet: MODEL`` is the power of a 0.028 in jet by an orifice model.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

import n2osim as n2
from n2osim.fluid import saturation, saturation_temperature
from n2osim.physics.charge import pressure_at, temperature_for_pressure, trapped_liquid_pressure
from n2osim.physics.feed_state import drawn_at, feed_flow
from n2osim.results.engine_side import power_per_flow
from n2osim.units import LB, PSI, STANDARD_ATMOSPHERE, from_psig, to_degF, to_psia, to_psig

HERE = Path(__file__).parent
HP = 745.69987
FULL = 680.0
MARK = re.compile(r"(<!-- n: ([^>]+?) -->)(.*?)(<!-- /n -->)", re.DOTALL)


# --- the verification page ------------------------------------------------------------------------
def checked(begins: str, column: int) -> str:
    """A cell (-3 allowed, -2 worst found) of the one row whose quantity begins so."""
    text = (HERE / "verification.md").read_text(encoding="utf-8")
    rows = [line[2:-2].split(" | ") for line in text.splitlines() if line.startswith("| ")]
    found = [r for r in rows if len(r) > 4 and r[0].startswith(begins)]
    if len(found) != 1:
        raise KeyError(f"{len(found)} rows of the verification page begin with {begins!r}")
    return found[0][column]


# --- bottle and line ------------------------------------------------------------------------------
def _hot_line(temperature: str) -> str:
    return f"{to_psia(trapped_liquid_pressure(temperature, '70 degF')):.0f} psia"


def _climb() -> str:
    cold, hot = (float(pressure_at(T, 6.8, 0.010)) for T in ("90 degF", "100 degF"))
    return f"{(hot - cold) / PSI / 10.0:.0f} psi"


def _light_charge() -> str:
    T = temperature_for_pressure(from_psig(1000.0), 0.2 * FULL, 1.0)
    return f"{round(to_degF(T), -1):.0f} degF"


def _oxygen(mass: str, volume: str, digits: int = 1) -> str:
    return f"{100.0 * n2.closed_space(mass, volume).oxygen:.{digits}f} %"


# --- jets -----------------------------------------------------------------------------------------
@lru_cache(maxsize=1)
def _trade_jet() -> dict[str, str]:
    """hp of a 0.028 in jet at 1000 psig by every orifice model; petrol, BSFC 0.5, mixture 1.0."""
    T = float(saturation_temperature(from_psig(1000.0)))
    drawn = drawn_at(T, 500.0)
    per_flow = power_per_flow(n2.EngineSide(target_mixture=1.0, bsfc="0.5 lb/hp/h"))  # type: ignore[arg-type]
    power = {}
    for model in ("spi", "hem", "nhne", "omega", "hne"):
        feed = n2.Feed(n2.Jets(1, "0.028 in"), model=model)  # type: ignore[arg-type]
        power[model] = f"{feed_flow(feed, drawn, STANDARD_ATMOSPHERE).flow * per_flow / HP:.0f}"
    return power


# --- runs -----------------------------------------------------------------------------------------
@lru_cache(maxsize=1)
def _demo_closure() -> float:
    demo = n2.Scenario.from_toml(str(files("n2osim") / "data" / "demo.toml"))
    return max(n2.simulate(demo).closure().values())


@lru_cache(maxsize=8)
def _refilled(efficiency: float, duration: str) -> n2.Run:
    """8 lb from 4 lb in a 10 lb bottle at 85 degF, pumped from liquid at 60 degF."""
    refill = n2.Refill("60 degF", to="8 lb", pump_efficiency=efficiency, duration=duration)  # type: ignore[arg-type]
    return n2.simulate(
        n2.Scenario(
            n2.Bottle.preset("aluminium", "10 lb"),
            fill="4 lb",
            start="85 degF",
            ambient=n2.Ambient("85 degF"),  # type: ignore[arg-type]
            schedule=[refill],
        )
    )


def _pump_work(duration: str) -> str:
    run = _refilled(0.6, duration)
    return f"{float(run['pump_work_J'][..., -1].sum()) / (4.0 * LB) / 1e3:.1f} kJ/kg"


def _refill_spread() -> str:
    ends = [_refilled(e, "0 s").segments[0].end_pressure for e in (0.3, 0.9)]
    return f"{(ends[0] - ends[1]) / PSI:.0f} psi"


NUMBERS: dict[str, Callable[[], str]] = {
    "shut in, 80 degF": lambda: _hot_line("80 degF"),
    "shut in, 100 degF": lambda: _hot_line("100 degF"),
    "climb of a full bottle": _climb,
    "a fifth of a charge": _light_charge,
    "oxygen, 1 lb in a car": lambda: _oxygen("1 lb", "3 m3"),
    "oxygen, 10 lb in a car": lambda: _oxygen("10 lb", "3 m3", 0),
    "oxygen, 10 lb in a garage": lambda: _oxygen("10 lb", "34 m3"),
    "cold liquid": lambda: f"{to_degF(saturation_temperature(STANDARD_ATMOSPHERE)):.0f} degF",
    "room pressure": lambda: f"{to_psig(saturation('70 degF').p):.0f} psig",
    "demo closure": lambda: f"{_upper(_demo_closure())}",
    "pump work at once": lambda: _pump_work("0 s"),
    "pump work": lambda: _pump_work("180 s"),
    "pump spread": _refill_spread,
}


def _upper(value: float) -> str:
    """The power of ten above a rounding error."""
    exponent = 0
    while 10.0**exponent > value:
        exponent -= 1
    return f"1e{exponent + 1}"


def value(name: str) -> str:
    """The number of that name. KeyError for a name that does not exist."""
    kind, _, row = name.partition(": ")
    if kind in ("worst", "allowed"):
        return checked(row, -2 if kind == "worst" else -3)
    if kind == "trade jet":
        return _trade_jet()[row]
    return NUMBERS[name]()


def filled(text: str) -> str:
    """A page with its numbers computed afresh."""
    return MARK.sub(lambda m: m[1] + value(m[2]) + m[4], text)
