"""Sizing the heater against heat balances by hand (CoolProp for the fluid), by running it again,
and every way it was caught out."""

from __future__ import annotations

import dataclasses
import math
import re

import numpy as np
import pytest
from study_samples import base

from n2osim.answers.heater import largest_power, size_coverage, size_heater, warm_up_table
from n2osim.answers.wiring import fuse, supply_current, wire, wiring
from n2osim.errors import InputError, NoSolutionError
from n2osim.hardware import Ambient, Bottle, Heater, PressureSwitch, Supply
from n2osim.results.run import simulate
from n2osim.scenario.fields import with_fields
from n2osim.scenario.file import loads
from n2osim.scenario.scenario import FittedBottle, Model, Scenario
from n2osim.scenario.schedule import Hold
from n2osim.units import PSI

CP = pytest.importorskip("CoolProp.CoolProp")

BOTTLE = Bottle.preset("aluminium", "10 lb")
VOLUME, WALL, AREA, CHARGE = 0.010, 8000.0, 0.35, 5.0
P_AIR = 101325.0


def lumped(heater=None, outside=0.0, air=290.0, **changes):
    """A bottle of one wall temperature; no heater mass, no contact resistance."""
    heater = heater or Heater(
        100.0, contact_resistance=0.0, heat_capacity=0.0, cover_resistance=100.0, coverage=0.9
    )
    return Scenario(
        Bottle.lumped(VOLUME, WALL, AREA),
        fill=CHARGE,
        start=290.0,
        ambient=Ambient(air),
        heater=heater,
        switch=PressureSwitch("900 psig", "1000 psig"),
        model=Model(inside_coefficient=1e5, outside_coefficient=outside, nodes_per_layer=1),
        schedule=[Hold("2 h")],
        **changes,
    )


def energy(T, charge=CHARGE):
    """Internal energy of charge and wall, J (CoolProp, fixed density)."""
    return charge * CP.PropsSI("U", "T", T, "D", charge / VOLUME, "NitrousOxide") + WALL * T


def temperature(gauge, charge=CHARGE):
    """Temperature at which the charge reads a gauge pressure (bisection on CoolProp)."""
    low, high = 250.0, 400.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        p = CP.PropsSI("P", "T", middle, "D", charge / VOLUME, "NitrousOxide")
        low, high = (middle, high) if p - P_AIR < gauge else (low, middle)
    return low


def again(answer):
    """The run of the scenario as it would be saved."""
    return simulate(loads(answer.scenario.to_toml(), "saved"))


# --- two balances by hand ------------------------------------------------------------------------
def test_least_power_is_the_heat_over_the_time():
    """Fluid and wall warmed to the opening point in 20 min, nothing lost."""
    found = size_heater(lumped(), "20 min", page=False)
    heat = energy(temperature(1000 * PSI)) - energy(290.0)
    assert wiring(found.scenario.heater, found.scenario.supply).delivered_power == pytest.approx(
        heat / 1200.0, rel=2e-3
    )
    assert 1198.0 <= found["warm_up_time"] <= 1200.0
    assert abs(found["overshoot"]) < 0.1 * PSI
    assert found.decided_by == ("warm-up at most 20.0 min",)


def test_least_power_with_losses_is_heat_and_losses():
    """Lumped bottle that loses h A (T - air): m c dT/dt = P - loss, integrated backwards."""
    outside, air, within = 8.0, 285.0, 1800.0
    found = size_heater(lumped(outside=outside, air=air), within, page=False)
    covered = 0.9 * AREA / (100.0 + 1.0 / outside)
    conductance = 0.1 * AREA * outside + covered
    power = wiring(found.scenario.heater, found.scenario.supply).delivered_power
    steps = np.linspace(290.0, temperature(1000 * PSI), 401)
    middle = 0.5 * (steps[1:] + steps[:-1])
    heat = np.diff([energy(T) for T in steps])
    seconds = float((heat / (power - conductance * (middle - air))).sum())
    assert seconds == pytest.approx(within, rel=3e-3)


# --- electrical ----------------------------------------------------------------------------------
def test_current_on_a_sagging_supply():
    for volts, ohms, watts in ((14.4, 0.0, 300.0), (12.0, 0.05, 300.0), (16.0, 0.1, 600.0)):
        i = supply_current(Supply(volts, ohms), watts)
        assert (volts - i * ohms) * i == pytest.approx(watts, rel=1e-12)
    assert math.isnan(supply_current(Supply(12.0, 0.2), 200.0))  # 12^2 / 0.8 = 180 W at most


def test_an_element_delivers_what_the_supply_makes_of_it():
    """0.45 ohm on 12 V behind 0.01 ohm: V^2 R / (R + r)^2, not its rated watts."""
    w = wiring(Heater(resistance="0.45 ohm"), Supply("12 V", "0.01 ohm"))
    assert w.delivered_power == pytest.approx(12.0**2 * 0.45 / 0.46**2)
    w = wiring(Heater("404 W", voltage="14.4 V"), Supply("12 V"))
    assert w.rated_power == 404.0 and w.delivered_power == pytest.approx(404.0 * (12 / 14.4) ** 2)


def test_fuse_and_wire_by_their_rules():
    """125 % of 22.9 A is 28.6 A; AWG 8 has a diameter of 3.264 mm by definition."""
    assert fuse(22.9) == 30.0 and fuse(1e4) is None and wire(1e4, 12.0) is None
    gauge = wire(22.9, 13.0)
    diameter = 0.127e-3 * 92.0 ** ((36 - gauge) / 39.0)
    drop = 22.9 * 1.724e-8 * 9.0 / (math.pi / 4 * diameter**2)
    assert drop <= 0.03 * 13.0
    assert pytest.approx(3.264e-3, rel=1e-3) == 0.127e-3 * 92.0 ** ((36 - 8) / 39.0)


# --- the answer is what its scenario gives -------------------------------------------------------
def test_the_sized_heater_does_it_and_a_smaller_one_does_not():
    found = size_heater(base(), "20 min", page=False)
    hold = again(found).holds[0]
    assert hold.warm_up_time == pytest.approx(found["warm_up_time"], rel=5e-3)
    assert hold.warm_up_time <= 1200.0
    less = with_fields(found.scenario, {"heater.power": 0.995 * found["heater.power"]})
    assert simulate(less).holds[0].warm_up_time > 1200.0
    assert found["overshoot"] == hold.overshoot and found["duty"] == hold.duty
    assert found.status == 0 and found.runs <= 80


def test_a_list_of_powers_gives_one_of_the_list():
    free = size_heater(base(), "20 min", page=False)["heater.power"]
    found = size_heater(base(), "20 min", values=["200 W", "300 W", "400 W", "500 W"], page=False)
    assert found["heater.power"] in (300.0, 400.0, 500.0) and found["heater.power"] >= free


def test_the_page_tells_nights_tolerances_and_faults():
    found = size_heater(base(), "30 min")
    text = found.text()
    for words in (
        "cold, 40.0 degF",
        "battery at",
        "wind",
        "contact",
        "ohm",
        "fuse",
        "AWG",
        "sq in",
    ):
        assert words in text
    assert "relay welded: peak" in text and "hot closed boot: peak" in text
    assert "kPa" not in text and "psig" not in found.text("si").split("OTHER NIGHTS")[1]
    rows = {r["when"]: r for r in found.rows}
    cold = next(r for name, r in rows.items() if name.startswith("cold"))
    assert cold["warm_up_time"] > rows["as given"]["warm_up_time"]
    assert len(text.splitlines()) <= 75


def when_of(found, night):
    """Name of the row of a night, and the row."""
    return next((r["when"], r) for r in found.rows if r["when"].startswith(f"{night},"))


def test_no_assumed_night_is_milder_than_the_scenario_itself():
    """40 degF was called cold beside a scenario at -10 degF, and 95 degF hot beside one at 105."""
    frost = Ambient("-10 degF")
    found = size_heater(base(start="-10 degF", ambient=frost, heater=Heater("900 W")), "90 min")
    when, cold = when_of(found, "cold")
    given = next(r for r in found.rows if r["when"] == "as given")
    assert when == "cold, -10.0 degF (-23.3 degC)"
    assert cold["warm_up_time"] == pytest.approx(given["warm_up_time"], rel=1e-6)
    assert when_of(found, "hot")[0] == "hot, 95.0 degF (35.0 degC)"
    day = Ambient([("08:00", "35 degF"), ("09:00", "105 degF")])
    swing = size_heater(base(ambient=day, clock_start="08:00", schedule=[Hold("3 h")]), "30 min")
    assert when_of(swing, "cold")[0] == "cold, 35.0 degF (1.7 degC)"
    assert when_of(swing, "hot")[0] == "hot, 105.0 degF (40.6 degC)"
    warmer = size_heater(base(), "30 min", nights={"cold": "45 degF"})
    assert when_of(warmer, "cold")[0] == "cold, 45.0 degF (7.2 degC)"  # what is given stays


def test_text_json_and_table_give_the_same_numbers(tmp_path):
    import json

    found = size_heater(base(), "30 min", page=False)
    data = json.loads(found.to_json(tmp_path / "a.json"))
    assert data["answer"]["warm_up_time"]["value"] == found["warm_up_time"]
    assert data["status"] == found.status and "scenario" in data
    assert found.to_dataframe().loc["warm_up_time", "value"] == found.warm_up_time
    assert "<table" in found._repr_html_()
    with pytest.raises(InputError, match="did you mean"):
        found["warm_up_tim"]


# --- measured failures, by name ------------------------------------------------------------------
def test_the_air_table_counts():
    """It said 322.9 W for 30 min with an air table of the evening, which takes 40.5 min."""
    table = Ambient([["18:00", "60 degF"], ["19:00", "25 degF"], ["23:00", "20 degF"]])
    s = base(ambient=table, start="40 degF", clock_start="19:00", schedule=[Hold("1 h")])
    found = size_heater(s, "30 min", page=False)
    hold = again(found).holds[0]
    assert 1790.0 < hold.warm_up_time <= 1800.0
    mild = size_heater(s.replace(ambient=Ambient("60 degF")), "30 min", page=False)
    assert found["heater.power"] > mild["heater.power"]
    assert found.scenario.ambient == table and found.scenario.clock_start == 19 * 3600.0


@pytest.mark.parametrize("change", [{"switch.offset": "-40 psi"}, {"switch.lag": "60 s"}])
def test_offset_and_lag_of_the_switch_count(change):
    """With an offset of -40 psi it said 950.7 psig, simulated 991.6; with a lag of 60 s 978.7."""
    s = with_fields(base(schedule=[Hold("1 h")]), change)
    found = size_heater(s, "30 min", page=False)
    run = again(found)
    assert run.holds[0].peak_pressure == pytest.approx(found["peak_pressure"], abs=0.5 * PSI)
    plain = size_heater(base(schedule=[Hold("1 h")]), "30 min", page=False)
    assert found["peak_pressure"] > plain["peak_pressure"] + 5 * PSI


def test_wall_start_stays():
    s = base().replace(bottles=(dataclasses.replace(base().bottles[0], wall_start="100 degF"),))
    found = size_heater(s, "20 min", page=False)
    assert found.scenario.bottles[0].wall_start == s.bottles[0].wall_start


def test_a_hot_day_that_bursts_by_itself_is_not_one_watt_and_sound():
    """It answered "1 W, decided by warm-up time", exit 0, on a day that reaches 1829 psig."""
    s = base(ambient=Ambient("128 degF"), start="90 degF", schedule=[Hold("8 h")])
    found = size_heater(s, "30 min", page=False)
    assert found.status == 3
    never = [b for b in found.broken if b.always]
    assert any(b.code == "over-125-degF" for b in never)
    assert "nothing that was asked for can cure it" in " ".join(found.text().split())


def test_a_nearly_empty_bottle_is_refused_with_the_reason():
    """It said 710 W with a wall of 242 degF for a nearly empty bottle."""
    with pytest.raises(NoSolutionError, match="no solution because") as caught:
        size_heater(base(fill="2.4 lb"), "20 min", page=False)
    nearest = caught.value.nearest
    assert nearest is None or nearest.status == 3 or nearest["warm_up_time"] is None


def test_an_overfilled_bottle_with_a_welded_relay_is_not_sound():
    """It said 369 W, exit 0."""
    s = with_fields(base(schedule=[Hold("1 h")]), {"switch.fault": "welded", "fill": "12.4 lb"})
    with pytest.raises(NoSolutionError, match="hottest wall") as caught:
        size_heater(s, "20 min", page=False)
    nearest = caught.value.nearest
    assert nearest.status == 3
    assert any(b.code == "relay-welded" and b.always for b in nearest.broken)
    said = nearest.text()
    assert "relay is welded" in said and "filling density" in said


def test_largest_power_says_when_the_supply_decides():
    """It said "largest 1800 W, decided by wall temperature" with the wall at 94 of 350 degF."""
    s = base(supply=Supply("12 V", "0.2 ohm"), heater=Heater("100 W", coverage=0.9))
    found = largest_power(s)
    assert "what the supply can give at most (30 A)" in found.decided_by
    assert wiring(found.scenario.heater, found.scenario.supply).delivered_power == pytest.approx(
        180.0, rel=1e-3
    )


def test_largest_power_is_where_its_limit_binds():
    found = largest_power(base(), overshoot="30 psi")
    assert found.decided_by == ("overshoot at most 30.0 psi",)
    assert again(found).holds[0].overshoot <= 30 * PSI
    over = with_fields(found.scenario, {"heater.power": 1.02 * found["heater.power"]})
    assert simulate(over).holds[0].overshoot > 30 * PSI
    amps = largest_power(base(), current="20 A")
    assert amps["current"] == pytest.approx(20.0, rel=1e-3)
    assert amps.decided_by == ("the limit of 20 A on its current",)


def test_watts_follow_the_supply():
    """ "404 W" entered as rated at 14.4 V then took 53.8 min instead of 30 on a weak supply."""
    s = base(heater=Heater("300 W", voltage="14.4 V"), supply=Supply("12 V", "0.03 ohm"))
    found = size_heater(s, "30 min", page=False)
    hold = again(found).holds[0]
    assert 1790.0 < hold.warm_up_time <= 1800.0
    w = wiring(found.scenario.heater, s.supply)
    assert found["delivered_power"] == w.delivered_power < found["heater.power"]
    assert f"{w.resistance:.4g} ohm" in found.text()


def test_an_element_given_in_ohms_is_sized_in_ohms():
    s = base(heater=Heater(resistance="0.7 ohm"), supply=Supply("12 V", "0.02 ohm"))
    found = size_heater(s, "30 min", page=False)
    assert again(found).holds[0].warm_up_time <= 1800.0
    less = with_fields(found.scenario, {"heater.resistance": 1.005 * found["heater.resistance"]})
    assert simulate(less).holds[0].warm_up_time > 1800.0


def two(**changes):
    """A leader, and a lighter bottle that follows its switch."""
    b = Bottle.preset("aluminium", "12 lb")
    switch = PressureSwitch("950 psig", "1000 psig")
    left = FittedBottle(b, "11 lb", "60 degF", name="left", heater=Heater("300 W"), switch=switch)
    right = FittedBottle(b, "7 lb", "60 degF", name="right", heater=Heater("300 W"), follows="left")
    return Scenario([left, right], [Hold("1 h")], Ambient("60 degF"), **changes)


def test_two_bottles_on_one_switch_are_both_sized_and_told():
    """`size` refused two bottles; a follower reached 1552 psig unsaid."""
    found = size_heater(two(), "40 min", page=False)
    left, right = (b.heater.power for b in found.scenario.bottles)
    assert left == right == found["heater.power"]
    assert found["peak_pressure_left"] != found["peak_pressure_right"]
    run = again(found)
    told = {f.code for f in found.findings} | {b.code for b in found.broken}
    assert {f.code for f in run.findings if f.severity in ("danger", "warning")} <= told


def test_a_page_for_a_follower_tells_its_leader_s_warm_up():
    """Every night said "never": a bottle without a switch of its own has no warm-up."""
    found = size_heater(two(), "40 min")
    given = next(r for r in found.rows if r["when"] == "as given")
    assert given["warm_up_time"] == found.run.get("hold0.left.warm_up_time")
    welded = next(n for n in found.notes if n.startswith("relay welded"))
    assert welded.count("exposure limit") <= 1


def test_what_a_weak_supply_burns_by_itself_is_told():
    """674 W of element were advised on a supply that gave 211 W of them, and lost 82 W unsaid."""
    strong = size_heater(base(), "60 min", page=False)
    weak = size_heater(base(supply=Supply("12 V", "0.2 ohm")), "60 min", page=False)
    amps = weak["current"]
    volts, watts = re.findall(r"([\d.]+) V of|V, (\d+) W", weak["lost"])
    assert float(volts[0]) == pytest.approx(0.2 * amps, abs=0.06)
    assert float(watts[1]) == pytest.approx(0.2 * amps**2, abs=0.6)
    assert all(f.name != "lost" for f in strong.figures)


def test_wind_does_not_blow_inside_a_closed_boot():
    """Duty of a bottle in a closed boot was 13, 29, 41 % at 0, 10, 40 mph."""
    from n2osim.hardware import Boot

    duties = []
    for wind in ("0 mph", "10 mph", "40 mph"):
        air = Ambient("40 degF", air_speed=wind, enclosure=Boot())
        duties.append(simulate(base(ambient=air, schedule=[Hold("6 h")])).holds[0].energy)
    assert duties[1] == pytest.approx(duties[0], rel=1e-9) == pytest.approx(duties[2], rel=1e-9)


# --- coverage, table -----------------------------------------------------------------------------
def test_least_coverage_is_what_the_blanket_bears_or_a_limit():
    found = size_coverage(base(), "60 min")
    assert found.decided_by == ("what the blanket bears",)
    tight = size_coverage(base(), "60 min", overshoot="12 psi")
    assert tight["heater.coverage"] >= found["heater.coverage"]
    assert again(tight).holds[0].overshoot <= 12 * PSI


def test_warm_up_table_is_simulate_row_by_row():
    found = warm_up_table(base(schedule=[Hold("12 h")]), ["150 W", "400 W"])
    for row in found.rows:
        s = with_fields(found.scenario, {"heater.power": row["power"]})
        assert row["warm_up_time"] == simulate(s).holds[0].warm_up_time
    assert found.rows[1]["warm_up_time"] < found.rows[0]["warm_up_time"]
    table = found.listings[0].table()
    assert table.heads[-1] == ("current", "A")
    assert float(table.rows[0][-1]) == pytest.approx(found.rows[0]["current"], rel=1e-3)
    assert len(table.rows[0][-1]) <= 5  # not every digit
    single = warm_up_table(base(schedule=[Hold("12 h")]), "150 W")
    assert single.rows[0]["warm_up_time"] == found.rows[0]["warm_up_time"]


def test_a_bottle_above_its_band_needs_no_heater():
    """It said that "1 W" never gets there; the bottle was there already."""
    hot = with_fields(base(), {"start": "110 degF", "ambient.temperature": "110 degF"})
    for ask in (size_heater, size_coverage, largest_power):
        with pytest.raises(NoSolutionError, match=r"at first, above 1100\.0 psig"):
            ask(hot)


def test_an_overshoot_asked_for_binds_a_follower_too():
    """Its own switch is another bottle's: only its peak over that one's opening point tells."""
    one = base().bottles[0]
    pair = (
        dataclasses.replace(one, name="left", fill=0.9 * one.fill),
        dataclasses.replace(one, name="right", switch=None, follows="left"),
    )
    car = base().replace(bottles=pair)
    free = size_heater(car, "60 min", page=False)
    above = {
        h.bottle: h.peak_pressure - 1100 * PSI for h in free.run.holds[:2] if h.bottle == "right"
    }["right"]
    with pytest.raises(NoSolutionError, match="right"):
        size_heater(car, "60 min", overshoot=f"{0.5 * above / PSI} psi", page=False)


def pair(**supply):
    """Two bottles on one switch behind one supply."""
    heater = Heater("300 W", voltage="14.4 V")
    left = FittedBottle(
        BOTTLE, "9 lb", "50 degF", "left", heater, PressureSwitch("900 psig", "950 psig")
    )
    right = FittedBottle(BOTTLE, "9 lb", "50 degF", "right", heater, follows="left")
    return Scenario(
        [left, right],
        ambient=Ambient("50 degF"),
        supply=Supply("13.2 V", "40 milliohm", **supply),
        schedule=[Hold("60 min")],
    )


def test_the_charge_of_several_heaters_is_counted_once_and_at_their_voltage():
    """It was counted with each bottle and with all: 56 Ah instead of 30."""
    found = size_heater(pair(), "40 min", page=False)
    run = found.run
    power, conductance = run["heater_power_W"], found.scenario.bottles[0].heater.element_conductance
    volts = 13.2 / (1.0 + 0.04 * conductance * (power > 0.0).sum(axis=0))
    amp_hours = np.trapezoid(power.sum(axis=0) / volts, run.time) / 3600.0
    assert float(found["ampere_hours"].split()[0]) == pytest.approx(amp_hours, rel=5e-3)
    assert found["together"] == pytest.approx(power.sum(axis=0).max(), rel=1e-9)
    assert found["together"] < 1.95 * found["delivered_power"]


def test_a_heater_is_not_sized_beyond_the_fuse_of_its_supply():
    """23 A were advised behind a fuse of 20 A, as sound."""
    free, fused = size_heater(pair(), "35 min", page=False), pair(fuse="30 A")
    volts = 13.2 - 30.0 * 0.04
    most = 15.0 / volts * 14.4**2
    assert free["heater.power"] > most
    with pytest.raises(NoSolutionError, match="the supply's fuse of 30 A") as caught:
        size_heater(fused, "35 min", page=False)
    assert caught.value.nearest["heater.power"] <= most * (1.0 + 1e-9)
    largest = largest_power(fused)
    assert largest["heater.power"] == pytest.approx(most, rel=2e-3)
    assert "over-fuse" not in {f.code for f in largest.findings}


def test_one_or_two_powers_that_can_be_had_are_a_list_too():
    """400 W and 600 W were taken as a range, and 418 W advised."""
    for values, chosen in ((["200 W", "300 W"], 300.0), (["600 W"], 600.0)):
        found = size_heater(pair(), "40 min", values=values, page=False)
        assert found["heater.power"] == pytest.approx(chosen)
    with pytest.raises(NoSolutionError, match="none of the values given"):
        size_heater(pair(fuse="30 A"), "60 min", values=["500 W", "900 W"], page=False)
