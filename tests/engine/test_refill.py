"""Refilling with a pump: its work against CoolProp, its limits, and what it does to the balance.

The reference integrates dU/dm = h1 + w(p(m, U)) with CoolProp's properties and scipy's integrator:
w is the isentropic enthalpy rise h(p, s1) - h1 from the supply's saturated liquid, over the
efficiency, and nothing below the supply's pressure.
"""

from __future__ import annotations

import json

import CoolProp.CoolProp as CP
import numpy as np
import pytest
from scipy.integrate import solve_ivp
from verification import Check

from n2osim import simulate
from n2osim.engine.advance import as_objects
from n2osim.engine.pack import pack
from n2osim.engine.refill import pump_work, specific_pump_work
from n2osim.errors import InputError
from n2osim.hardware.bottle import Bottle
from n2osim.scenario.fields import with_fields
from n2osim.scenario.scenario import FittedBottle, Scenario
from n2osim.scenario.schedule import PUMP_EFFICIENCY, Hold, Pass, Refill, Rest

BOTTLE = Bottle.preset("aluminium", "10 lb")
LB = 0.45359237
FLUID = CP.AbstractState("HEOS", "NitrousOxide")

TOPIC = "Energy, closure and control"
SPECIFIC = Check(
    TOPIC,
    "work of a refill pump, per kg",
    "CoolProp's h(p, s1) - h1",
    "isentropic, from saturated liquid",
    "220 to 308.5 K, 0.1 to 20 MPa above it",
    1e-5,
    seen="other program",
    used="no",
)
WORK = Check(
    TOPIC,
    "work of a refill pump over a filling",
    "CoolProp's states, scipy's integrator",
    "the same, over the efficiency, at the bottle's pressure of each moment",
    "four fillings, efficiencies 0.1 to 1",
    5e-4,
    seen="other program",
    used="no",
)
WARMTH = Check(
    TOPIC,
    "temperature after a pumped refill",
    "CoolProp's states, scipy's integrator",
    "energy balance of an adiabatic filling",
    "the same",
    2e-3,
    "K",
    seen="other program",
    used="no",
)


def at_once(*args, **fields) -> Refill:
    """A refill that no wall takes part in: what the references here integrate."""
    return Refill(*args, duration=0, **fields)


def degF(value: float) -> float:
    return (value + 459.67) / 1.8


def supply(T: float) -> tuple[float, float, float, float]:
    """Pressure, enthalpy, entropy, density of CoolProp's saturated liquid at T."""
    FLUID.update(CP.QT_INPUTS, 0.0, T)
    return FLUID.p(), FLUID.hmass(), FLUID.smass(), FLUID.rhomass()


def isentropic_work(T: float, p: float) -> float:
    """h(p, s1) - h1 by CoolProp, J/kg; 0 at or below the supply's pressure."""
    p1, h1, s1, _ = supply(T)
    if p <= p1:
        return 0.0
    FLUID.update(CP.PSmass_INPUTS, p, s1)
    return FLUID.hmass() - h1


def filled(T: float, efficiency: float, start: float, m0: float, m1: float) -> tuple[float, float]:
    """(final temperature, pump work) of a bottle filled from m0 to m1, by CoolProp and scipy."""
    V, (_, h1, _, _) = BOTTLE.volume, supply(T)
    FLUID.update(CP.DmassT_INPUTS, m0 / V, start)
    u0 = m0 * FLUID.umass()

    def slope(m: float, work: np.ndarray) -> list[float]:
        FLUID.update(CP.DmassUmass_INPUTS, m / V, (u0 + (m - m0) * h1 + work[0]) / m)
        return [isentropic_work(T, FLUID.p()) / efficiency]

    found = solve_ivp(slope, (m0, m1), [0.0], rtol=1e-7, atol=1e-3, max_step=(m1 - m0) / 400)
    work = float(found.y[0, -1])
    FLUID.update(CP.DmassUmass_INPUTS, m1 / V, (u0 + (m1 - m0) * h1 + work) / m1)
    return FLUID.T(), work


# supply degF, bottle at degF, from lb, to lb: cold supply into a warm bottle; supply above the
# bottle at first, below it later; far above; compressed at the end
CASES = [
    (40.0, 85.0, 4.0, 8.0),
    (70.0, 60.0, 2.0, 9.0),
    (60.0, 110.0, 3.0, 7.0),
    (20.0, 70.0, 1.0, 10.0),
]


@pytest.mark.parametrize("efficiency", [1.0, 0.6, 0.1])
@pytest.mark.parametrize("case", CASES)
def test_work_and_end_state_against_coolprop(case, efficiency) -> None:
    T1, T0, m0, m1 = degF(case[0]), degF(case[1]), case[2] * LB, case[3] * LB
    item = at_once(T1, to=m1, pump_efficiency=efficiency)
    run = simulate(Scenario(BOTTLE, [item], fill=m0, start=T0))
    T, work = filled(T1, efficiency, T0, m0, m1)
    assert work > 300.0
    WORK.relative(run.segments[0].pump_work, work)
    WARMTH.below(run.segments[0].end_temperature - T)


@pytest.mark.parametrize("T", [220.0, 280.0, 300.0, 308.5])
@pytest.mark.parametrize("rise", [1e5, 2e6, 2e7])
def test_specific_work_against_coolprop_and_bernoulli(T: float, rise: float) -> None:
    p1, _, _, rho = supply(T)
    s = Scenario(BOTTLE, [at_once(T, pump_efficiency=1.0)], fill=2.0, start=280.0)
    found = specific_pump_work(p1 + rise, as_objects(pack(s).setup.segments)[0])
    SPECIFIC.relative(found, isentropic_work(T, p1 + rise))
    # Compressing makes it denser: below dp / rho1, above dp over the density at the end.
    FLUID.update(CP.PSmass_INPUTS, p1 + rise, supply(T)[2])
    assert rise / FLUID.rhomass() - 2e-3 <= found <= rise / rho + 2e-3


def test_specific_work_begins_at_the_supply() -> None:
    p1 = supply(290.0)[0]
    setup = pack(Scenario(BOTTLE, [at_once(290.0)], fill=2.0, start=280.0)).setup
    segment = as_objects(setup.segments)[0]
    work = [specific_pump_work(p1 + x, segment) for x in (-1e6, -1.0, 1e3)]
    assert work[:2] == [0.0, 0.0] and 0.0 < work[2] < 5.0
    assert specific_pump_work(float("nan"), segment) == 0.0


def test_steps_over_the_mass_are_enough() -> None:
    for T1, T0, m0, m1 in CASES:
        s = Scenario(BOTTLE, [at_once(degF(T1), to=m1 * LB)], fill=m0 * LB, start=degF(T0))
        setup, y = pack(s).setup, pack(s).y0
        bottle, segment = as_objects(setup.bottles)[0], as_objects(setup.segments)[0]
        given = (bottle, y[0], y[1], (m1 - m0) * LB, segment)
        assert pump_work(*given, 64) == pytest.approx(pump_work(*given, 512), rel=2e-4)


# --- limits --------------------------------------------------------------------------------------
WARM = dict(fill=4.0 * LB, start=degF(85.0))


def refilled(**fields):
    return simulate(Scenario(BOTTLE, [at_once(degF(60.0), to=8.0 * LB, **fields)], **WARM))


def test_a_worse_pump_leaves_it_warmer() -> None:
    ends = [refilled(pump_efficiency=e).segments[0] for e in (1.0, 0.6, 0.3, 0.1)]
    assert np.all(np.diff([s.end_temperature for s in ends]) > 0.0)
    assert np.all(np.diff([s.end_pressure for s in ends]) > 0.0)
    assert ends[1].pump_work > ends[0].pump_work / 0.6 > 0.0  # warmer: a higher pressure to meet
    # Ideal: at most the whole pressure difference over the supply's density, for every kilogram.
    p1, _, _, rho = supply(degF(60.0))
    most = ends[0].end_mass - ends[0].start_mass
    most *= (max(ends[0].end_pressure, ends[0].start_pressure) + 101325.0 - p1) / rho
    assert 0.0 < ends[0].pump_work < most


def test_what_an_ideal_pump_warms_is_small() -> None:
    """Without its work the contents end less than 1 K colder (m c_v dT is the work)."""
    ideal = refilled(pump_efficiency=1.0).segments[0]
    V, (_, h1, _, _) = BOTTLE.volume, supply(degF(60.0))
    FLUID.update(CP.DmassT_INPUTS, WARM["fill"] / V, WARM["start"])
    u = WARM["fill"] * FLUID.umass() + 4.0 * LB * h1
    FLUID.update(CP.DmassUmass_INPUTS, 8.0 * LB / V, u / (8.0 * LB))
    assert 0.05 < ideal.end_temperature - FLUID.T() < 1.0


def test_no_pump_no_work() -> None:
    run = simulate(
        Scenario(
            BOTTLE,
            [at_once(degF(85.0), pumped=False, pump_efficiency=0.05)],
            fill=4.0 * LB,
            start=degF(60.0),
        )
    )
    one = run.segments[0]
    assert one.pump_work == 0.0 and run["pump_work_J"].max() == 0.0 and one.end_mass > 4.5 * LB
    carried = (one.end_mass - one.start_mass) * supply(degF(85.0))[1]
    assert -run["enthalpy_out_J"][0, -1] == pytest.approx(carried, rel=1e-8)


def test_a_supply_above_the_bottle_flows_by_itself() -> None:
    """From 80 degF into a bottle at 40 degF that ends below the supply: nothing to pump."""
    s = Scenario(BOTTLE, [at_once(degF(80.0), to=6.0 * LB)], fill=4.0 * LB, start=degF(40.0))
    run = simulate(s)
    assert run["pressure_Pa"].max() < supply(degF(80.0))[0]
    assert run.segments[0].pump_work == 0.0


# --- balance, results, scenario ---------------------------------------------------------------
def test_closure_counts_the_work_and_the_totals_tell_it() -> None:
    """Two bottles, one of them refilled twice; energies by CoolProp from exported T and m."""
    two = [FittedBottle(BOTTLE, 4.0 * LB, degF(85.0), name=n) for n in ("left", "right")]
    items = [
        at_once("60 degF", to="8 lb", bottle="left", pump_efficiency=0.3),
        Rest("5 min"),
        Pass("5 s", outflow=0.1),
        at_once("50 degF", to="8.5 lb", bottle="left"),
        Hold("5 min"),
    ]
    run = simulate(Scenario(two, items))
    assert max(run.closure().values()) < 1e-9
    work = [s.pump_work for s in run.segments if s.kind == "refill"]
    assert work[0] > 0.0 and work[2] > 0.0 and work[1] == work[3] == 0.0
    assert run["pump_work_J"][:, -1] == pytest.approx([work[0] + work[2], 0.0], rel=1e-12)
    T, m = run["fluid_temperature_K"][0, 0], run["mass_kg"][0]
    u = np.array(
        [CP.PropsSI("U", "T", t, "D", x / BOTTLE.volume, "NitrousOxide") for t, x in zip(T, m)]
    )
    gained = m * u - m[0] * u[0]
    heat, carried = run["heat_to_fluid_J"][0], run["enthalpy_out_J"][0]
    moved = np.abs(np.diff(heat)).sum() + np.abs(np.diff(carried)).sum()
    assert np.abs(gained - heat + carried).max() < 1e-6 * moved
    # The first refill by itself: the supply's enthalpy and the work, nothing else.
    first = int(np.flatnonzero(np.diff(m) > 0.0)[0]) + 1
    assert gained[first] == pytest.approx(4.0 * LB * supply(degF(60.0))[1] + work[0], rel=1e-7)


def test_summary_and_export_tell_the_work() -> None:
    run = refilled(pump_efficiency=0.2)
    told = run.summary("si", full=True).split("REFILLS")[1]
    assert "pump work" in told
    assert f" {run.segments[0].pump_work / 1e3:.0f}" in told
    from n2osim.report.export import csv_text, json_text

    told = json.loads(json_text(run))
    assert told["segments"][0]["pump_work"] == run.segments[0].pump_work > 0.0
    assert told["variables"]["pump_work_J"]["unit"] == "J"
    assert "pump_work_J" in csv_text(run)


def test_studies_see_it() -> None:
    from n2osim.studies.sweeps import sweep

    s = Scenario(BOTTLE, [at_once(degF(60.0), to=8.0 * LB)], **WARM)
    found = sweep(s, {"schedule.0.pump_efficiency": [0.3, 0.9]})["refill0.pump_work_J"]
    wanted = [
        simulate(with_fields(s, {"schedule.0.pump_efficiency": e})).segments[0].pump_work
        for e in (0.3, 0.9)
    ]
    assert list(found) == pytest.approx(wanted, rel=1e-12) and found[0] > found[1] > 0.0


def test_scenario_file_takes_it_and_gives_it_back(tmp_path) -> None:
    items = [Refill("60 degF", pump_efficiency="45 %"), Refill("60 degF")]
    s = Scenario(BOTTLE, items, fill=2.0, start=280.0)
    assert [i.pump_efficiency for i in s.schedule] == [0.45, PUMP_EFFICIENCY]
    s.to_toml(tmp_path / "s.toml")
    again = Scenario.from_toml(tmp_path / "s.toml")
    assert again == s and "pump_efficiency = 0.45" in (tmp_path / "s.toml").read_text()


@pytest.mark.parametrize("wrong", [0.0, 0.01, 1.2, "120 %", "5 psi", float("nan")])
def test_an_efficiency_that_cannot_be_is_refused(wrong) -> None:
    with pytest.raises(InputError, match="pump efficiency"):
        Refill("60 degF", pump_efficiency=wrong)
