"""Sizing against closed forms: heat balances by hand, with CoolProp for the fluid."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from study_samples import base

from n2osim.answers import sizing
from n2osim.answers.band import set_band
from n2osim.answers.bottle_sizing import size_bottle
from n2osim.answers.compare import compare_shells
from n2osim.answers.search import Margin, edge
from n2osim.answers.sizing import Limits, largest_power, size_heater, supply_current, warm_up_table
from n2osim.answers.soak import cool_down, hot_soak, time_to_limits
from n2osim.errors import InputError, IntegrationError, NoSolutionError
from n2osim.hardware import Ambient, Boot, Bottle, Heater, PressureSwitch, Supply
from n2osim.results.run import simulate
from n2osim.scenario.fields import with_fields
from n2osim.scenario.scenario import Model, Numerics, Scenario
from n2osim.scenario.schedule import Hold, Pass
from n2osim.units import LB, PSI

CP = pytest.importorskip("CoolProp.CoolProp")

VOLUME, WALL, AREA, CHARGE = 0.010, 8000.0, 0.35, 5.0
P_AIR = 101325.0


def lumped():
    return Bottle.lumped(VOLUME, WALL, AREA)


def bare_heater(power=100.0):
    """All heat into the shell at once: no mass, no contact resistance."""
    return Heater(power, contact_resistance=0.0, heat_capacity=0.0, cover_resistance=100.0)


def no_losses(outside=0.0):
    return Model(inside_coefficient=1e5, outside_coefficient=outside, nodes_per_layer=1)


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


# --- the search ----------------------------------------------------------------------------------
@pytest.mark.parametrize("log", [False, True])
def test_edge_is_on_the_allowed_side(log):
    for root in (1.5, 2.0, 7.3):
        up = edge(Margin(lambda x, r=root: x**3 - r**3, log), 10.0, 1.0, 1e-6)
        assert root <= up <= root * (1.0 + 1e-5)
        down = edge(Margin(lambda x, r=root: r - x, log), 1.0, 10.0, 1e-6)
        assert root * (1.0 - 1e-5) <= down <= root


def test_edge_at_a_jump_and_beside_failed_runs():
    def margin(x):
        if x > 5.0:
            raise IntegrationError("no", partial_run=None)
        return 1.0 if x < 3.0 else -0.2

    found = edge(Margin(margin), 1.0, 10.0, 1e-6)
    assert 3.0 - 2e-5 <= found < 3.0


# --- heater --------------------------------------------------------------------------------------
def test_least_power_is_the_heat_over_the_time():
    target, within = 1000 * PSI, 1200.0
    size = size_heater(
        lumped(), CHARGE, 290.0, target, within, 290.0, heater=bare_heater(), model=no_losses()
    )
    heat = energy(temperature(target)) - energy(290.0)
    assert size.power == pytest.approx(heat / within, rel=1e-3)
    assert size.warm_up_time == pytest.approx(within, rel=1e-3) and size.warm_up_time <= within
    assert size.warm_up_energy == pytest.approx(heat, rel=1e-3)
    assert size.binding == "warm-up time"
    # No resistance, no heat on its way: nothing to overshoot with.
    assert abs(size.overshoot) < 0.1 * PSI
    # Nothing lost: the heater stays off.
    assert size.duty == 0.0 and size.hold_energy == pytest.approx(0.0, abs=1e-6 * heat)


def test_power_of_the_hold_is_the_loss():
    target, air, outside = 1000 * PSI, 285.0, 6.0
    size = size_heater(
        lumped(),
        CHARGE,
        290.0,
        target,
        "20 min",
        air,
        heater=bare_heater(),
        model=no_losses(outside),
        hold="10 h",
        band="20 psi",
    )
    T = temperature(target - 10 * PSI)
    # Half of the surface lies under the heater's own insulation (100 m2K/W: practically no loss).
    loss = 0.5 * AREA * outside * (T - air)
    assert size.mean_power == pytest.approx(loss, rel=0.02)
    assert size.hold_energy / size.hold_time == pytest.approx(loss, rel=0.02)


def test_current_on_a_sagging_supply():
    for volts, ohms, watts in ((14.4, 0.0, 300.0), (12.0, 0.05, 300.0), (16.0, 0.1, 600.0)):
        i = supply_current(Supply(volts, ohms), watts)
        assert (volts - i * ohms) * i == pytest.approx(watts, rel=1e-12)
    assert math.isnan(supply_current(Supply(12.0, 0.2), 200.0))  # 12^2 / 0.8 = 180 W at most
    size = size_heater(
        lumped(),
        CHARGE,
        290.0,
        1000 * PSI,
        "20 min",
        290.0,
        supply=Supply("12 V", "0.05 ohm"),
        heater=bare_heater(),
        model=no_losses(),
    )
    assert size.current**2 * size.resistance == pytest.approx(size.power)
    assert size.current * (size.resistance + 0.05) == pytest.approx(12.0)
    assert size.ampere_hours == pytest.approx(size.current * size.warm_up_time / 3600.0, rel=1e-3)


def test_the_sized_heater_does_it_and_a_smaller_one_does_not():
    bottle = Bottle.preset("carbon-aluminium", "12 lb")
    size = size_heater(bottle, "12 lb", "60 degF", "1100 psig", "20 min", "60 degF")
    assert simulate(size.scenario).holds[0].warm_up_time <= 1200.05  # other steps
    less = with_fields(size.scenario, {"heater.power": 0.995 * size.power})
    assert simulate(less).holds[0].warm_up_time > 1200.0
    hold = simulate(size.scenario).holds[0]
    assert (size.overshoot, size.duty) == (hold.overshoot, hold.duty)
    assert size.wall_margin == bottle.max_wall_temperature - hold.hottest_wall > 0.0
    assert size.hottest_surface == max(hold.hottest_wall, hold.hottest_heater)
    assert size.next_limit == "wall temperature" and size.largest_power > size.power
    most = with_fields(size.scenario, {"heater.power": size.largest_power})
    assert simulate(most).holds[0].hottest_wall == pytest.approx(
        bottle.max_wall_temperature, abs=0.1
    )
    for words in ("W (warm-up time decides)", "into", "duty", "limit", "psi"):
        assert words in str(size)


def test_no_solution_names_the_limit_and_what_can_be_had():
    polymer = Bottle.preset("carbon-polymer", "12 lb")
    with pytest.raises(NoSolutionError, match=r"overshoot .* over") as caught:
        size_heater(
            polymer,
            "12 lb",
            "60 degF",
            "1100 psig",
            "10 min",
            "60 degF",
            limits=Limits(overshoot="50 psi"),
        )
    nearest = caught.value.nearest
    assert nearest.warm_up_time > 600.0
    assert simulate(nearest.scenario).holds[0].overshoot == pytest.approx(50 * PSI, abs=0.1 * PSI)
    assert "no solution because" in str(caught.value)


@pytest.mark.parametrize(
    ("charge", "start", "within", "words", "more"),
    [
        ("2.4 lb", "60 degF", "30 min", "above the limit of the wall", {}),
        ("1 lb", "60 degF", "30 min", "never reads", {}),
        ("12 lb", "100 degF", "30 min", "already reads", {}),
        ("12 lb", "60 degF", "1 min", "even 500 W", {"largest": "500 W"}),
        ("12 lb", "60 degF", "20 min", "behind", {"supply": Supply("12 V", "0.5 ohm")}),
    ],
)
def test_no_solution_because(charge, start, within, words, more):
    bottle = Bottle.preset("carbon-polymer", "12 lb")
    with pytest.raises(NoSolutionError, match=words):
        size_heater(bottle, charge, start, "1000 psig", within, "60 degF", **more)


def test_a_run_that_cannot_be_finished_is_no_solution(monkeypatch):
    whole = sizing.numbers_of

    def stops(scenario, outputs=None):
        longest = max(item.duration for item in scenario.schedule)
        if scenario.heater.power > 500.0 and len(scenario.schedule) == 1 and longest > 3600.0:
            raise IntegrationError("state left the range", time=700.0)
        return whole(scenario, outputs)

    monkeypatch.setattr(sizing, "numbers_of", stops)
    with pytest.raises(NoSolutionError, match="run away: state left the range at 11") as caught:
        size_heater(
            Bottle.preset("carbon-aluminium", "12 lb"),
            "12 lb",
            "60 degF",
            "1100 psig",
            "8 min",
            "60 degF",
            limits=Limits(overshoot="60 psi"),
        )
    assert caught.value.nearest.power < 500.0


def test_losses_that_take_everything():
    with pytest.raises(NoSolutionError, match="even 20 W"):
        size_heater(
            Bottle.preset(), "10 lb", "0 degF", "1000 psig", "12 h", "0 degF", largest="20 W"
        )


def test_largest_power_is_where_its_limit_binds():
    found = largest_power(base(), Limits(overshoot="30 psi", wall=None))
    assert found.binding == "overshoot"
    for factor, inside in ((1.0, True), (1.02, False)):
        scenario = with_fields(base(), {"heater.power": factor * found.power})
        run = simulate(scenario.replace(schedule=[Hold("12 h", until_open=True), Hold("45 min")]))
        peak = max(h.peak_pressure for h in run.holds)
        assert (peak - scenario.switch.opens <= 30 * PSI + 100.0) is inside
    hot = largest_power(base(), Limits(overshoot=None, wall="110 degF", heater="400 degF"))
    assert hot.binding == "wall temperature"
    free = largest_power(base(), Limits(heater="500 degF", wall=None), largest="400 W")
    assert free.binding is None and free.power == 400.0
    amps = largest_power(base(), Limits(current="20 A", wall=None))
    assert amps.power == pytest.approx(20 * 14.4, rel=1e-3) and amps.binding == "current"
    with pytest.raises(NoSolutionError, match="hardly any heat"):
        largest_power(base(), Limits(wall="50 degF"))
    with pytest.raises(InputError, match="a heater and a switch"):
        largest_power(base(heater=None), Limits())


def test_warm_up_table_is_simulate_row_by_row():
    rows = warm_up_table(base(), ["5 W", "150 W", 400.0])
    assert math.isnan(rows[0]["warm_up_time_s"]) and math.isnan(rows[0]["overshoot_Pa"])
    for row in rows[1:]:
        run = simulate(
            base(
                heater=Heater(row["power_W"]),
                schedule=[Hold("12 h", until_open=True), Hold("45 min")],
            )
        )
        assert row["warm_up_time_s"] == run.holds[0].warm_up_time
        peak = max(h.peak_pressure for h in run.holds)
        assert row["overshoot_Pa"] == pytest.approx(peak - 1100 * PSI, abs=1e-3)
        assert row["current_A"] == pytest.approx(row["power_W"] / 14.4)
    assert rows[2]["warm_up_time_s"] < rows[1]["warm_up_time_s"]


# --- band ----------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("shell", "power"),
    [("aluminium", 300.0), ("carbon-aluminium", 300.0), ("carbon-polymer", 120.0)],
)
def test_band_keeps_the_pressure_inside(shell, power):
    scenario = with_fields(base(), {"bottle": shell, "heater.power": power})
    band = set_band(scenario, "1000 psig", "1100 psig")
    p = simulate(band.scenario)
    after = p["pressure_gauge_Pa"][0][p.time >= p.holds[0].end_time]
    assert after.max() <= 1100 * PSI + 1.0 and after.min() >= 1000 * PSI - 1.0
    assert 1000 * PSI <= band.closes < band.opens < 1100 * PSI
    # The set points are at the edge: a psi more is too much.
    over = simulate(with_fields(band.scenario, {"switch.opens": band.opens + PSI}))
    assert over["pressure_gauge_Pa"][0].max() > 1100 * PSI + 0.3 * PSI
    under = simulate(with_fields(band.scenario, {"switch.closes": band.closes - PSI}))
    later = under["pressure_gauge_Pa"][0][under.time >= under.holds[0].end_time]
    assert later.min() < 1000 * PSI
    assert "psig" in str(band)


def test_no_band_says_with_which_power_there_is_one():
    scenario = with_fields(base(), {"bottle": "carbon-polymer", "heater.power": 400.0})
    with pytest.raises(NoSolutionError, match="heat stored in heater and wall") as caught:
        set_band(scenario, "1000 psig", "1100 psig")
    power = caught.value.nearest.power
    assert power < 400.0
    assert set_band(with_fields(scenario, {"heater.power": 0.9 * power})).peak <= 1100 * PSI + 1.0
    with pytest.raises(InputError, match="high end of the band"):
        set_band(base(), "1000 psig", "1001 psig")
    with pytest.raises(NoSolutionError, match="does not bring the bottle"):
        set_band(with_fields(base(), {"heater.power": 10.0, "ambient.temperature": "20 degF"}))


# --- soak and cooling ----------------------------------------------------------------------------
def test_boot_in_the_sun_ends_where_sun_and_losses_balance():
    # Steady: boot air = outside + sun / conductance; the bottle inside takes that temperature.
    charge = 3.0
    scenario = Scenario(lumped(), fill=charge, start=290.0, model=no_losses(10.0))
    soak = hot_soak(scenario, "40 h", boot=Boot(solar=160.0, conductance=8.0), air=300.0)
    last = simulate(soak.run.scenario)
    assert last["air_temperature_K"][-1] == pytest.approx(320.0, abs=0.05)
    assert last["fluid_temperature_K"][0, 0, -1] == pytest.approx(320.0, abs=0.05)
    p = CP.PropsSI("P", "T", 320.0, "D", charge / VOLUME, "NitrousOxide")
    assert soak.peak_pressure + P_AIR == pytest.approx(p, rel=2e-3)
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
    # 125 degF, and liquid-full by the events of the run itself
    k = int(np.searchsorted(run.time, found.time_to("exposure")))
    assert fluid[k - 1] <= (125 + 459.67) / 1.8 <= fluid[k]
    full = next(e for e in run.events if e.name == "liquid-full")
    assert found.time_to("liquid-full") == pytest.approx(full.time, abs=0.1)
    assert "reached after" in str(found)


def test_cooling_of_a_lumped_bottle_against_its_integral():
    air, outside = 285.0, 12.0
    scenario = Scenario(
        lumped(),
        fill=CHARGE,
        start=300.0,
        ambient=Ambient(air),
        heater=bare_heater(500.0),
        switch=PressureSwitch("900 psig", "1000 psig"),
        model=no_losses(outside),
    )
    cooled = cool_down(scenario, ["800 psig", "100 psig"], "6 h")
    hot, cold = temperature(1000 * PSI), temperature(800 * PSI)
    covered = 0.5 * AREA / (100.0 + 1.0 / outside)

    def seconds_per_kelvin(T):
        capacity = (energy(T + 1e-3) - energy(T - 1e-3)) / 2e-3
        return capacity / ((0.5 * AREA * outside + covered) * (T - air))

    expected = quad(seconds_per_kelvin, cold, hot, epsrel=1e-6)[0]
    assert cooled.times[0] == pytest.approx(expected, rel=5e-3)
    assert cooled.times[1] is None  # never colder than the air
    assert cooled.end_temperature > air
    with pytest.raises(NoSolutionError, match="never opened"):
        cool_down(with_fields(scenario, {"heater.power": 1.0}))


# --- bottle --------------------------------------------------------------------------------------
def test_smallest_bottle_for_three_passes():
    scenario = base(schedule=[Pass("9 s")])
    size = size_bottle(scenario, 3, lowest_pressure="500 psig")
    assert size.bottle.capacity == pytest.approx(size.capacity) and len(size.sags) == 3
    run = simulate(size.scenario)
    assert all(x.liquid_out_time is None for x in run.passes)
    used = sum(x.used for x in run.passes)
    assert size.charge_left == pytest.approx(size.charge - used, rel=1e-9)
    assert min(x.minimum_pressure for x in run.passes) >= 500 * PSI
    part = size_bottle(scenario, 3, lowest_pressure="500 psig", fill="90 %")
    assert part.capacity > size.capacity and part.charge == pytest.approx(0.9 * part.capacity)
    more = size_bottle(scenario, 4, lowest_pressure="500 psig")
    assert more.capacity > size.capacity
    assert size.trade_size is None or size.trade_size >= size.capacity


def test_no_bottle_is_large_enough():
    greedy = base(schedule=[Pass("60 s", outflow="1 lb/s")])
    with pytest.raises(NoSolutionError, match="no solution because even a"):
        size_bottle(greedy, 2)
    with pytest.raises(InputError, match="passes"):
        size_bottle(greedy, 0)
    with pytest.raises(InputError, match="a Pass in the schedule"):
        size_bottle(base(schedule=[Hold(1.0)]), 1)


# --- shells --------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def shells():
    return compare_shells(base())


def test_shells_of_equal_charge(shells):
    metal, light, polymer = (shells[x] for x in ("aluminium", "carbon-aluminium", "carbon-polymer"))
    assert [shells.study.scenario(k).fill for k in range(4)] == [12 * LB] * 4
    # Common practice, no source: metal holds a steadier pressure; carbon is lighter.
    assert metal.overshoot < light.overshoot < polymer.overshoot
    assert metal.empty_mass > light.empty_mass > polymer.empty_mass
    # A conductive, heavy wall gives the pass more of its heat.
    assert metal.sag_support > light.sag_support > polymer.sag_support > 0.0
    assert metal.hottest_wall < light.hottest_wall < polymer.hottest_wall
    assert all(r.recovery_time > 0.0 for r in shells.rows)
    assert "ISO 11119-3" in polymer.note and metal.note == ""


def test_a_row_is_what_simulate_gives(shells):
    k = [r.shell for r in shells.rows].index("carbon-polymer")
    row = shells.rows[k]
    scenario = with_fields(base(), {"bottle": "carbon-polymer"}).replace(
        schedule=[
            Hold("12 h", until_open=True),
            Hold("1 h"),
            Hold("12 h", until_open=True),
            Pass("9 s"),
            Hold("4 h", until_open=True),
        ]
    )
    run = simulate(scenario)
    assert row.warm_up_time == run.holds[0].warm_up_time
    assert row.overshoot == pytest.approx(run.holds[1].peak_pressure - 1100 * PSI, abs=1e-6)
    assert row.sag == run.passes[0].pressure_sag
    assert row.recovery_time == run.holds[3].warm_up_time
    assert row.hottest_wall == max(s.hottest_wall for s in run.holds)
    assert row.wall_margin == row.wall_limit - row.hottest_wall
    assert row.mean_power == pytest.approx(run.holds[1].energy / 3600.0)
    assert row.duty == pytest.approx(row.mean_power / 300.0, rel=1e-6)


def test_tables_of_shells(shells):
    head, body = shells.cells()
    assert len(body) == 4 and all(len(row) == len(head) for row in body)
    text, page = shells.to_text(), shells.to_markdown()
    assert text.splitlines()[0].split()[1:] == [r.shell for r in shells.rows]
    assert page.splitlines()[2].startswith("| aluminium | ")
    frame = shells.to_dataframe()
    assert frame.loc["steel", "sag"] == shells["steel"].sag
    assert "<td>steel</td>" in shells._repr_html_()


def test_shells_that_cannot_be_compared():
    with pytest.raises(InputError, match="a heater and a switch"):
        compare_shells(base(heater=None))
    with pytest.raises(InputError, match="did you mean"):
        compare_shells(base(), ["aluminum alloy", "stel"])
    with pytest.raises(NoSolutionError, match="steel: too many steps"):
        compare_shells(base(numerics=Numerics(max_steps=5)), ["aluminium", "steel"])
