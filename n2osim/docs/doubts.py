"""Tables of the model page about what is not known, computed: see make_tables."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from functools import lru_cache

from scipy.optimize import brentq

import n2osim as n2
from n2osim.fluid.state import state_Trho
from n2osim.hardware.bottle import Layer
from n2osim.physics.boiling import DEFAULT_CAP, inside_coefficient
from n2osim.physics.combustion import DEFAULT_EFFICIENCY
from n2osim.physics.feed_state import drawn_at, feed_flow
from n2osim.physics.fuels import OXYGEN_IN_N2O, fuel
from n2osim.units import LB, PSI, STANDARD_ATMOSPHERE, from_psig, to_psig

FULL = 680.0
"""Density of a full bottle, kg/m3."""
HP = 745.69987


# --- inside coefficient ---------------------------------------------------------------------------
EXPECTED = {0.3: (350, 650), 1.0: (500, 950), 2.0: (650, 1250), 5.0: (900, 1800)}
"""kW/m2 -> W/m2/K: 0.10 to 0.15 Ra^(1/3) on carbon dioxide at the same reduced temperature and
density, secant density and heat capacity (CoolProp; computed for this project, not measured)."""


def film_at_flux(T: float, flux: float, density: float = FULL) -> float:
    """Our coefficient (W/m2/K) where ``flux`` (W/m2) enters one phase at ``T`` (K), lying, 6 in."""
    phase = state_Trho(T, density)[6]

    def coefficient(wall: float) -> float:
        return float(inside_coefficient(wall, T, density, phase, 1.0, 0.15, 0.0, DEFAULT_CAP)[0])

    wall = brentq(lambda w: coefficient(w) * (w - T) - flux, T + 1e-4, T + 60.0)
    return coefficient(wall)


def inside_range() -> list[list[str]]:
    """Our inside coefficient of a full bottle beside what a sister fluid makes likely."""
    rows = [["heat flux, kW/m2", "ours at 306 / 308 K, W/m2/K", "to be expected, W/m2/K"]]
    for q, (low, high) in EXPECTED.items():
        ours = " / ".join(f"{film_at_flux(T, 1e3 * q):.0f}" for T in (306.0, 308.0))
        rows.append([f"{q:g}", ours, f"{low} to {high}"])
    return rows


# --- one temperature ------------------------------------------------------------------------------
def excess_pressure(p: float, share: float, warmer: float, density: float = FULL) -> float:
    """Pa by which a bottle with a warm layer reads above the same bottle mixed, at ``p`` (Pa).

    ``share`` of the mass is ``warmer`` (K) than the rest, both of one phase at one pressure; mixed,
    the same mass, volume and energy are at one temperature.
    """

    def layers(cold: float) -> tuple[list[float], list[float]]:
        states = [n2.fluid.state_from_p_T(p, cold + extra) for extra in (0.0, warmer)]
        return [1.0 / s.rho for s in states], [s.u for s in states]

    def together(pair: list[float]) -> float:
        return pair[0] + share * (pair[1] - pair[0])

    cold = brentq(lambda T: together(layers(T)[0]) * density - 1.0, 290.0, 312.0)
    return float(p - n2.fluid.state_from_rho_u(density, together(layers(cold)[1])).p)


def stratification() -> list[list[str]]:
    """By how much one temperature reads low in a full bottle whose upper part is warmer."""
    rows = [["warm share of the mass", "1 K warmer", "2 K warmer", "5 K warmer"]]
    p = from_psig(1000.0)
    for share in (0.05, 0.10, 0.30):
        cells = [f"{excess_pressure(p, share, dT) / PSI:.0f} psi" for dT in (1.0, 2.0, 5.0)]
        rows.append([f"{100 * share:.0f} %", *cells])
    return rows


# --- power ----------------------------------------------------------------------------------------
def power_steps() -> list[list[str]]:
    """From a flow of N2O to horsepower, one line each."""
    of, flow, mixture = fuel("petrol"), 0.045, 1.15
    oxygen = flow * OXYGEN_IN_N2O
    burnt = oxygen / of.oxygen
    heat = burnt * of.lhv
    crank = heat * DEFAULT_EFFICIENCY
    return [
        ["step", "by", "gives"],
        ["nitrous oxide to the engine", "given", f"{flow * 1e3:.1f} g/s"],
        ["its oxygen", f"x {OXYGEN_IN_N2O:.4f}", f"{oxygen * 1e3:.2f} g/s"],
        ["petrol that this oxygen burns", f"/ {of.oxygen:.3f}", f"{burnt * 1e3:.2f} g/s"],
        ["petrol supplied", f"x {mixture:g}", f"{burnt * mixture * 1e3:.2f} g/s"],
        ["heat of what burns", f"x {of.lhv / 1e6:.2f} MJ/kg", f"{heat / 1e3:.1f} kW"],
        [
            "power at the crank",
            f"x {DEFAULT_EFFICIENCY:.3f}",
            f"{crank / 1e3:.1f} kW, {crank / HP:.1f} hp",
        ],
        ["power at the wheels", "x 0.85", f"{0.85 * crank / HP:.1f} hp"],
    ]


# --- short jets -----------------------------------------------------------------------------------
KNOWN = {
    288.0: "1.5 to 2.1",
    292.0: "1.45 to 1.75",
    297.0: "1.15 to 1.45",
    300.0: "1.10 to 1.25",
    305.0: "1.05 to 1.20",
    309.0: "1.00 to 1.08",
}
"""K -> flow of a short passage over homogeneous equilibrium, joined from near-critical nitrogen and
refrigerants by reduced temperature; 25 % sure at 288 K, 10 % from 300 K."""


def over_equilibrium(T: float, length_over_bore: float) -> float:
    """Flow of a jet of that length, by the default model, over homogeneous equilibrium."""
    drawn = drawn_at(T, 500.0)
    jets = n2.Jets(1, 8e-4, cd=1.0, length=8e-4 * length_over_bore)
    feeds = [n2.Feed(jets), n2.Feed(jets, model="hem")]
    ours, equilibrium = (feed_flow(f, drawn, STANDARD_ATMOSPHERE).flow for f in feeds)
    return ours / equilibrium


def short_jets() -> list[list[str]]:
    """Flow over homogeneous equilibrium by length of the jet, saturated liquid."""
    rows = [["temperature, K (psig)", "two bores long", "seven", "twelve", "known of two to three"]]
    for T, known in KNOWN.items():
        psig = to_psig(n2.fluid.saturation(T).p)
        cells = [f"{over_equilibrium(T, length):.2f}" for length in (2.0, 7.0, 12.0)]
        rows.append([f"{T:.0f} ({psig:.0f})", *cells, known])
    return rows


# --- what hangs on it -----------------------------------------------------------------------------
def case() -> n2.Scenario:
    """The evening that the doubts are tried on; invented."""
    return n2.Scenario(
        n2.Bottle.preset("aluminium", "15 lb"),
        fill="12.6 lb",
        start="55 degF",
        ambient=n2.Ambient("55 degF"),  # type: ignore[arg-type]
        heater=n2.Heater("420 W"),  # type: ignore[arg-type]
        switch=n2.PressureSwitch("870 psig", "915 psig"),  # type: ignore[arg-type]
        feed=n2.Feed(n2.Jets(2, "0.036 in")),  # type: ignore[arg-type]
        schedule=[n2.Hold("75 min"), n2.Pass("9 s"), n2.Hold("30 min")],  # type: ignore[arg-type]
    )


def _shell(factor: float) -> Callable[[n2.Scenario], n2.Scenario]:
    def change(s: n2.Scenario) -> n2.Scenario:
        fitted = s.bottles[0]
        layers = tuple(Layer(x.material, x.thickness * factor) for x in fitted.bottle.layers)
        bottle = dataclasses.replace(fitted.bottle, layers=layers)
        return s.replace(bottles=(dataclasses.replace(fitted, bottle=bottle),))

    return change


def _heater(**changed: float) -> Callable[[n2.Scenario], n2.Scenario]:
    def change(s: n2.Scenario) -> n2.Scenario:
        fitted = s.bottles[0]
        assert fitted.heater is not None
        heater = dataclasses.replace(fitted.heater, **changed)  # type: ignore[arg-type]
        return s.replace(bottles=(dataclasses.replace(fitted, heater=heater),))

    return change


def _inside(factor: float) -> Callable[[n2.Scenario], n2.Scenario]:
    return lambda s: s.replace(model=n2.Model(inside_factor=factor))


def _flow(factor: float) -> Callable[[n2.Scenario], n2.Scenario]:
    def change(s: n2.Scenario) -> n2.Scenario:
        jets = n2.Jets(2, 0.036 * 0.0254 * math.sqrt(factor))
        return s.replace(feed=n2.Feed(jets))

    return change


def _wind(s: n2.Scenario) -> n2.Scenario:
    return s.replace(ambient=n2.Ambient("55 degF", air_speed="8 mph"))  # type: ignore[arg-type]


DOUBTS: tuple[tuple[str, str, Callable[[n2.Scenario], n2.Scenario]], ...] = (
    ("inside coefficient", "half", _inside(0.5)),
    ("inside coefficient", "twice", _inside(2.0)),
    ("air past the bottle", "8 mph in place of still", _wind),
    ("thickness of the shell", "10 % less", _shell(0.9)),
    ("thickness of the shell", "10 % more", _shell(1.1)),
    ("contact of the heater", "three times better", _heater(contact_resistance=1e-3 / 3.0)),
    ("contact of the heater", "three times worse", _heater(contact_resistance=3e-3)),
    ("share of the shell that is heated", "0.3 in place of 0.5", _heater(coverage=0.3)),
    ("flow of the jets (Cd, model, length)", "10 % less", _flow(0.9)),
    ("flow of the jets (Cd, model, length)", "20 % more", _flow(1.2)),
)


@lru_cache(maxsize=1)
def answers() -> list[tuple[str, str, tuple[float, ...]]]:
    """(doubt, moved by, answers): what is asked by the three users, for each doubt."""
    tried = [("nothing", "", lambda s: s), *DOUBTS]
    return [(what, how, _answers(n2.simulate(change(case())))) for what, how, change in tried]


def _answers(run: n2.Run) -> tuple[float, ...]:
    hold, one = run.holds[0], run.passes[0]
    warm_up = hold.warm_up_time or math.nan
    return (
        warm_up / 60.0,
        (hold.overshoot or 0.0) / PSI,
        one.used / LB,
        (one.start_pressure - one.end_pressure) / PSI,
        hold.energy / 3600.0,
    )


def doubts() -> list[list[str]]:
    """What the answers of engineer, tuner and student do when a doubt is moved."""
    rows = [
        [
            "doubt",
            "moved",
            "engineer: warm-up, min",
            "overshoot, psi",
            "tuner: used in a pass, lb",
            "sag, psi",
            "student: electricity of the first hold, Wh",
        ]
    ]
    for what, how, a in answers():
        rows.append(
            [what, how, f"{a[0]:.1f}", f"{a[1]:.1f}", f"{a[2]:.3f}", f"{a[3]:.1f}", f"{a[4]:.0f}"]
        )
    return rows
