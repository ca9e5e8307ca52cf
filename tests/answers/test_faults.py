"""Faults and cooling against energy balances and the run's own events."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from study_samples import base
from test_heater import AREA, CHARGE, CP, P_AIR, VOLUME, energy, lumped, temperature

from n2osim.answers.faults import faults, hot_soak, time_to_limits
from n2osim.errors import InputError
from n2osim.hardware import Ambient, Boot, CutOut, Heater
from n2osim.results.instants import first_above
from n2osim.results.run import simulate
from n2osim.scenario.fields import with_fields
from n2osim.scenario.schedule import Hold, Rest
from n2osim.units import PSI


def test_boot_in_the_sun_ends_where_sun_and_losses_balance():
    """Steady: boot air = outside + sun / conductance; the bottle inside takes that temperature."""
    s = with_fields(lumped(outside=10.0), {"fill": 3.0}).replace(heater=None, switch=None)
    soak = hot_soak(s, "40 h", boot=Boot(solar=160.0, conductance=8.0), air=300.0)
    last = simulate(soak.scenario)
    assert last["air_temperature_K"][-1] == pytest.approx(320.0, abs=0.05)
    assert last["fluid_temperature_K"][0, 0, -1] == pytest.approx(320.0, abs=0.05)
    p = CP.PropsSI("P", "T", 320.0, "D", 3.0 / VOLUME, "NitrousOxide")
    assert soak["peak_pressure"] + P_AIR == pytest.approx(p, rel=2e-3)
    assert soak.time_to("exposure") is None and soak.ended is None
    with pytest.raises(InputError, match="exposure"):
        soak.time_to("boiling")


def test_times_to_limits_of_a_welded_relay():
    welded = with_fields(base(schedule=[Hold("90 min")]), {"switch.fault": "welded"})
    found = time_to_limits(welded)
    order = [found.time_to(x) for x in ("liquid-full", "exposure", "5/4", "relief")]
    assert order == sorted(order) and order[-1] < 5400.0
    run = found.run
    fluid = run["fluid_temperature_K"][0, 0]
    k = int(np.searchsorted(run.time, found.time_to("exposure")))
    assert fluid[k - 1] <= (125 + 459.67) / 1.8 <= fluid[k]
    full = next(e for e in run.events if e.name == "liquid-full")
    assert found.time_to("liquid-full") == pytest.approx(full.time, abs=0.1)
    assert "reached" in found.text() and found.status == 3


def test_faults_of_a_car_give_both():
    found = faults(base(), relay="90 min", soak="4 h")
    kinds = {r["fault"] for r in found.rows}
    assert kinds == {"relay welded", "in a hot closed boot"} and found.status == 3
    text = found.text("si").split("DANGER")[0]  # limits and notes were in the shop's units
    assert "kPa gauge" in text and "degC outside" in text
    assert not any(unit in text for unit in ("psig", "degF"))
    bare = faults(base(heater=None, switch=None), soak="2 h")
    assert {r["fault"] for r in bare.rows} == {"in a hot closed boot"}


def test_the_peak_of_a_fault_is_the_peak_that_its_finding_tells():
    """It stood 0.1 psi beside it: the highest row, where the finding has the top between rows."""
    heater = Heater("350 W", cut_out=CutOut("130 degF", "115 degF"))
    found = faults(base(heater=heater), relay="2 h", soak="1 h")
    (said,) = (f for f in found.run.findings if f.code == "relay-welded")
    assert found["peak_welded"] == pytest.approx(said.value, rel=1e-12)
    assert found["peak_welded"] > found.run["pressure_gauge_Pa"].max()


def test_cooling_of_a_lumped_bottle_against_its_integral():
    air, outside = 285.0, 12.0
    heater = Heater(
        500.0, contact_resistance=0.0, heat_capacity=0.0, cover_resistance=100.0, coverage=0.5
    )
    scenario = with_fields(lumped(heater, outside, air), {"start": 300.0})
    run = simulate(scenario.replace(schedule=[Hold("12 h", until_open=True), Rest("6 h")]))
    rows = run.rows_of(1)
    p = run["pressure_gauge_Pa"][0, rows]
    top = int(p.argmax())  # the wall may push the pressure up through a level first
    time = run.time[rows][top:] - run.time[rows][0]
    cooled = [first_above(time, -p[top:], -level * PSI) for level in (800.0, 100.0)]
    hot, cold = temperature(1000 * PSI), temperature(800 * PSI)
    covered = 0.5 * AREA / (100.0 + 1.0 / outside)

    def seconds_per_kelvin(T):
        capacity = (energy(T + 1e-3, CHARGE) - energy(T - 1e-3, CHARGE)) / 2e-3
        return capacity / ((0.5 * AREA * outside + covered) * (T - air))

    expected = quad(seconds_per_kelvin, cold, hot, epsrel=1e-6)[0]
    assert cooled[0] == pytest.approx(expected, rel=5e-3)
    assert cooled[1] is None  # never colder than the air


def test_a_welded_relay_feeds_the_heaters_of_followers_too():
    """One relay, two heaters: the bottle that nothing senses is the one that must not be missed."""
    one = base().bottles[0]
    pair = (
        replace(one, name="left"),
        replace(one, name="right", switch=None, follows="left", fill=0.8 * one.fill),
    )
    found = faults(base().replace(bottles=pair), relay="90 min")
    reached = {r["bottle"] for r in found.rows if r["time"] and r["fault"] == "relay welded"}
    assert reached == {"left", "right"}
    left, right = found.run.holds
    assert right.energy == pytest.approx(left.energy, rel=1e-9)


def test_a_disc_that_only_the_boot_opens_is_called_a_danger():
    """The findings told are of the welded relay, which the cut-out holds harmless."""
    s = with_fields(base(), {"heater.cut_out": CutOut("96 degF", "92 degF")})
    s = with_fields(s, {"bottle": replace(s.bottles[0].bottle, relief_pressure=1500.0 * PSI)})
    found = faults(s, relay="60 min", soak="8 h")
    assert found.time_to("relief") is None and found.boot.time_to("relief") is not None
    said = [n for n in found.notes if n.startswith("danger in the hot closed boot")]
    assert any("relief device opens and lets out" in n for n in said)
    assert "danger in the hot closed boot" in found.text()
    high = with_fields(s, {"bottle": replace(s.bottles[0].bottle, relief_pressure=3000.0 * PSI)})
    mild = faults(high, relay="60 min", soak="10 min", air="60 degF")
    assert not any("danger" in n for n in mild.notes)


def test_the_hot_day_is_no_milder_than_the_scenario_s_own():
    """95 degF is assumed outside the boot unless the scenario's own air is hotter."""
    mild, hot = (base(ambient=air) for air in (Ambient("70 degF"), Ambient("112 degF")))
    told = [" ".join(faults(s, relay="5 min", soak="1 h").notes) for s in (mild, hot)]
    assert "with 95.0 degF" in told[0] and "with 112.0 degF" in told[1]
