"""Refills over time: between the adiabatic jump and the end that wall and fluid must come to.

References: the first law over bottle, wall and what came in (closure); CoolProp for the state that
a filling without a wall must have; the same filling in finer steps.
"""

import dataclasses

import CoolProp.CoolProp as CP
import numpy as np
import pytest

from n2osim.answers.race_day import race_day
from n2osim.answers.race_plan import RaceDay
from n2osim.engine.pack import pack
from n2osim.errors import InputError
from n2osim.hardware import Ambient, Bottle, Feed, Jets
from n2osim.results.run import simulate
from n2osim.scenario import schedule as schedules
from n2osim.scenario.scenario import FittedBottle, Scenario
from n2osim.scenario.schedule import Hold, Pass, Refill, Rest
from n2osim.studies.members import numbers_of

BOTTLE = Bottle.preset("aluminium", "10 lb")
PSI, LB = 6894.757293168, 0.45359237


def filled(refill: Refill, start="70 degF", fill="3 lb", bottle=BOTTLE) -> Scenario:
    return Scenario(
        bottle,
        fill=fill,
        start=start,
        ambient=Ambient("60 degF"),
        schedule=[Rest("5 s"), refill, Rest("30 min")],
    )


def test_at_once_it_is_the_adiabatic_state_of_coolprop() -> None:
    """U1 = U0 + m h of the saturated liquid let in + the pump's work (checked in test_refill.py):
    1359 psig, which no wall had time for."""
    run = simulate(filled(Refill("70 degF", duration=0)))
    T0, rho0 = 294.2611, 3 * LB / BOTTLE.volume
    u0 = CP.PropsSI("U", "T", T0, "D", rho0, "NitrousOxide")
    h = CP.PropsSI("H", "T", T0, "Q", 0, "NitrousOxide")
    u1 = (3 * u0 + 7 * h + run.segments[1].pump_work / LB) / 10
    p = CP.PropsSI("P", "U", u1, "D", 10 * LB / BOTTLE.volume, "NitrousOxide")
    assert run.segments[1].end_pressure + 101325.0 == pytest.approx(p, rel=2e-3)
    assert "refill-spike" in {f.code for f in run.findings}


def test_over_time_the_wall_takes_the_spike_off() -> None:
    """Found: 1279 psig and a full bottle were told for a filling that stands at 912 psig 25 s
    later, as the wall was left out while it was filled."""
    at_once = simulate(filled(Refill("70 degF", duration=0)))
    over_time = simulate(filled(Refill("70 degF")))
    a, b = at_once.segments[1], over_time.segments[1]
    assert b.duration == 180.0 and b.end_mass == pytest.approx(a.end_mass, rel=1e-12)
    assert b.end_pressure < 910 * PSI < 1270 * PSI < a.end_pressure
    # In the end it is the same bottle with the same energy, less what the air took meanwhile.
    assert over_time.segments[2].end_pressure == pytest.approx(
        at_once.segments[2].end_pressure, rel=0.01
    )
    for run in (at_once, over_time):
        assert max(run.closure().values()) < 1e-9
    found = {f.code: f.severity for f in over_time.findings}
    assert "refill-spike" not in found and found["liquid-full"] == "note"
    assert {f.code: f.severity for f in at_once.findings}["liquid-full"] != "note"


def test_twice_the_steps_say_the_same(monkeypatch) -> None:
    peaks, masses = [], []
    for steps in (schedules.FILLING_STEPS, 2 * schedules.FILLING_STEPS):
        monkeypatch.setattr(schedules, "FILLING_STEPS", steps)
        run = simulate(filled(Refill("70 degF")))
        peaks.append(run["pressure_Pa"].max())
        masses.append(simulate(filled(Refill("75 degF", pumped=False))).segments[1].end_mass)
    assert peaks[0] == pytest.approx(peaks[1], abs=3 * PSI)
    assert masses[0] == pytest.approx(masses[1], abs=0.02 * LB)


def test_the_run_knows_the_items_of_the_schedule_only() -> None:
    scenario = filled(Refill("70 degF"))
    run = simulate(scenario)
    assert sorted(set(run["segment"].tolist())) == [0, 1, 2] and len(run.segments) == 3
    marks = [(e.name, e.segment) for e in run.events if e.name.startswith("segment")]
    assert marks == [(f"segment {w}", k) for k in range(3) for w in ("start", "end")]
    assert (np.diff(run.time) >= 0.0).all() and run.time[-1] == pytest.approx(5 + 180 + 1800)
    assert len(pack(scenario).items) == 3 + schedules.FILLING_STEPS
    numbers = numbers_of(scenario)
    assert numbers["refill0.end_pressure_gauge_Pa"] == run.segments[1].end_pressure
    assert numbers["rest1.end_pressure_gauge_Pa"] == run.segments[2].end_pressure
    assert numbers["run.events"] == len(run.events)


def test_flow_comes_at_the_rate_of_a_whole_filling() -> None:
    """Half full at half time, to the step; a fuller bottle waits for its part."""
    run = simulate(filled(Refill("60 degF", to="10 lb"), fill="4 lb"))
    mass = np.interp(5.0 + np.array([60.0, 95.0, 130.0, 179.9]), run.time, run["mass_kg"][0])
    assert mass / LB == pytest.approx([4.0, 5.0, 7.0, 9.5], abs=0.51)


def test_each_bottle_to_its_own_charge() -> None:
    large = Bottle.preset("aluminium", "20 lb")
    bottles = [
        FittedBottle(BOTTLE, "2 lb", "70 degF", name="small"),
        FittedBottle(large, "4 lb", "70 degF", name="large"),
    ]
    both = simulate(Scenario(bottles, [Refill("60 degF")], Ambient("60 degF")))
    assert [s.end_mass / LB for s in both.segments] == pytest.approx([10.0, 20.0], rel=1e-3)
    one = simulate(Scenario(bottles, [Refill("60 degF", bottle="small")], Ambient("60 degF")))
    assert [s.end_mass / LB for s in one.segments] == pytest.approx([10.0, 4.0], rel=1e-3)
    assert both.segments[0].end_time == 180.0


@pytest.mark.parametrize(
    ("supply", "nothing"), [("40 degF", True), ("70 degF", True), ("90 degF", False)]
)
def test_a_refill_that_lets_in_too_little_is_found(supply: str, nothing: bool) -> None:
    """Found: an unpumped refill from a supply no warmer than the bottle let in nothing, and the
    summary said that there was nothing to say."""
    run = simulate(filled(Refill(supply, pumped=False)))
    found = {f.code: f for f in run.findings}["refill-short"]
    assert found.severity == "warning"
    assert ("nothing" in found.message) == nothing
    kelvin = (float(supply.split()[0]) + 459.67) / 1.8
    pressure = CP.PropsSI("P", "T", kelvin, "Q", 0, "NitrousOxide") - 101325.0
    assert found.limit == pytest.approx(pressure, rel=1e-4)
    pumped = simulate(filled(Refill(supply)))
    assert "refill-short" not in {f.code for f in pumped.findings}


def test_a_day_does_not_refill_beyond_the_rated_charge() -> None:
    scenario = filled(Refill("70 degF")).replace(feed=Feed(Jets(1, "0.046 in")))
    plan = RaceDay(rounds=1, purge=0, warm=0, refill=Refill("70 degF", to="14 lb"))
    with pytest.raises(InputError, match=r"14.00 lb.*rated charge, 10.00 lb"):
        race_day(scenario, plan)
    fits = dataclasses.replace(plan, refill=Refill("70 degF", to="10 lb"))
    assert race_day(scenario, fits).rounds[0].refill_short == pytest.approx(0.0, abs=1e-9)


def test_a_filling_that_breaks_off_keeps_its_items() -> None:
    from n2osim.errors import IntegrationError

    tight = dataclasses.replace(BOTTLE, relief_pressure=None)
    schedule = [Hold("1 s"), Refill("40 degF", to=7.6), Pass("1 s", outflow=0.01)]
    with pytest.raises(IntegrationError) as caught:
        simulate(Scenario(tight, schedule, fill=3.6, start=300.0, ambient=Ambient("60 degF")))
    run = caught.value.partial_run
    assert "{" not in str(caught.value) and "mass_kg" in str(caught.value)
    assert run.segments[-1].kind == "refill" and run.events[-1].name == "segment end"
