"""Engine side of a run: flows, mixture, power, charge cooling, oxygen.

Expected numbers come from molar masses (`chemicals`), CoolProp, Bernoulli and the definitions of
the figures, written out here.
"""

from __future__ import annotations

import dataclasses
import json
import math

import chemicals
import CoolProp.CoolProp as CP
import numpy as np
import pytest
from oxygen import oxygen_balance

from n2osim.errors import InputError
from n2osim.hardware import Ambient, Bottle, EngineSide, Feed, Jets
from n2osim.results.engine_side import engine_point, fuel_of, shot_power_of
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.schedule import Hold, Pass, Purge, Refill, Rest, Stage, Weigh

BOTTLE = Bottle.preset("aluminium", "10 lb")
PSI, HP, LB = 6894.757293168, 745.69987158, 0.45359237
BSFC = 0.5 * LB / HP / 3600.0  # 0.5 lb/hp/h in kg/J
AMBIENT = 101325.0


def scenario(schedule, engine=None, **changes) -> Scenario:
    given = (
        dict(
            fill="10 lb",
            start="80 degF",
            ambient=Ambient("80 degF"),
            engine=engine,
            feeds={"main": Feed(Jets(1, "0.05 in")), "purge": Feed(Jets(1, "0.03 in"))},
        )
        | changes
    )
    return Scenario(BOTTLE, schedule=schedule, **given)


@pytest.fixture(scope="module")
def run():
    engine = EngineSide(
        fuel_jets=Jets(1, "0.022 in"), fuel_pressure="43 psig", base_air=0.25, base_fuel=0.02
    )
    return scenario([Purge("1 s"), Rest("60 s"), Pass("10 s"), Rest("30 s")], engine).run()


# --- flows ---------------------------------------------------------------------------------------
def test_purge_does_not_reach_the_engine(run):
    trace = run.engine
    purge, shot = run.purges[0], run.passes[0]
    assert trace["n2o_to_engine_kg"][-1] == pytest.approx(shot.used, rel=1e-12)
    assert trace["n2o_vented_kg"][-1] == pytest.approx(purge.used, rel=1e-12)
    outside = run["segment"] != 2
    assert not trace["n2o_flow_kg_s"][outside].any() and not trace["power_W"][outside].any()
    assert np.isnan(trace["equivalence_shot"][outside]).all()


def test_flow_and_its_total_agree(run):
    """The flow array, integrated, gives the mass that left the bottle."""
    trace = run.engine
    total = np.trapezoid(trace["n2o_flow_kg_s"], run.time)
    assert total == pytest.approx(run.passes[0].used, rel=2e-5)


def test_fuel_jets_by_bernoulli(run):
    """Cd A sqrt(2 rho dp), 740 kg/m3 petrol (specific gravity 0.74)."""
    area = math.pi / 4.0 * (0.022 * 0.0254) ** 2
    expected = 0.8 * area * math.sqrt(2.0 * 740.0 * 43.0 * PSI)
    one = run.engine.passes[0]
    assert one.fuel.mean == pytest.approx(expected, rel=1e-9)
    assert one.fuel_used == pytest.approx(expected * 10.0, rel=1e-6)


@pytest.mark.parametrize(("referenced", "drop"), [(True, 43.0), (False, 28.0)])
def test_boost_and_the_fuel_regulator(referenced, drop):
    engine = EngineSide(
        fuel_jets=Jets(1, "0.022 in"),
        fuel_pressure="43 psig",
        intake_pressure="15 psig",
        regulator_referenced=referenced,
    )
    area = math.pi / 4.0 * (0.022 * 0.0254) ** 2
    expected = 0.8 * area * math.sqrt(2.0 * 740.0 * drop * PSI)
    assert engine_point(engine, 0.05).fuel_flow == pytest.approx(expected, rel=1e-9)


def test_pulsed_solenoids_pulse_the_fuel():
    """Half open: half the N2O and half the fuel, the same mixture."""
    engine = EngineSide(fuel_jets=Jets(1, "0.022 in"), fuel_pressure="43 psig")
    half = scenario([Pass("4 s", delivery=[(0.0, 0.5)])], engine).run().engine
    full = scenario([Pass("4 s")], engine).run().engine
    assert half.passes[0].fuel.start == pytest.approx(0.5 * full.passes[0].fuel.start, rel=1e-9)
    assert half.passes[0].n2o.start == pytest.approx(0.5 * full.passes[0].n2o.start, rel=1e-9)
    assert half.passes[0].mixture.start == pytest.approx(full.passes[0].mixture.start, rel=1e-9)
    assert half["opening"][1] == 0.5


def test_stages_share_the_fuel_jets_by_area():
    """Two equal stages, the second from 2 s on: half the fuel before, all of it after."""
    engine = EngineSide(fuel_jets=Jets(2, "0.016 in"), fuel_pressure="43 psig")
    feeds = {"one": Feed(Jets(1, "0.03 in")), "two": Feed(Jets(1, "0.03 in"))}
    stages = (Stage("one"), Stage("two", delivery=[(0.0, 0.0), (2.0, 0.0), (2.0, 1.0)]))
    trace = scenario([Pass("4 s", stages=stages)], engine, feeds=feeds).run().engine
    one = trace.passes[0]
    assert one.fuel.end == pytest.approx(2.0 * one.fuel.start, rel=1e-9)
    assert one.n2o.end == pytest.approx(2.0 * one.n2o.start, rel=0.02)  # the bottle sags meanwhile


def test_relief_gas_does_not_reach_the_engine():
    """A burst disc vents beside the jets: the engine gets what the jets pass."""
    bottle = dataclasses.replace(BOTTLE, relief_pressure="600 psig", relief_bore="1 mm")
    item = scenario([Pass("3 s")], EngineSide()).replace(
        bottles=dataclasses.replace(scenario([]).bottles[0], bottle=bottle)
    )
    run = item.run()
    trace = run.engine
    both = run["outflow_kg_s"].sum(axis=0)
    assert run["relief_open"].all() or run["relief_open"][0, 1:].all()
    assert (trace["n2o_flow_kg_s"][1:] < 0.9 * both[1:]).all()
    assert trace["n2o_vented_kg"][-1] > 0.0
    assert oxygen_balance(run, trace)["closure"] < 1e-12


# --- mixture and power ---------------------------------------------------------------------------
def n2o_per_fuel() -> float:
    """Stoichiometric N2O to CH1.87 by mass, from molar masses alone."""
    carbon, hydrogen = chemicals.MW("7440-44-0"), chemicals.MW("12385-13-6")
    fuel = carbon + 1.87 * hydrogen
    oxygen_atoms = 2.0 + 1.87 / 2.0  # CO2 and H2O
    return oxygen_atoms * chemicals.MW("10024-97-2") / fuel


def test_mixture_of_the_shot(run):
    one = run.engine.passes[0]
    expected = one.fuel_used * n2o_per_fuel() / one.n2o_used
    assert one.mixture.mean == pytest.approx(expected, rel=1e-4)
    assert one.ratio.mean == pytest.approx(one.n2o_used / one.fuel_used, rel=1e-12)
    assert one.mixture.minimum <= one.mixture.mean <= one.mixture.maximum
    assert 0.0 <= one.mixture.minimum_at <= 10.0


def test_mixture_of_the_whole_engine_by_atoms(run):
    """Oxygen atoms of air (20.946 % O2, 28.9647 g/mol) and N2O against all the fuel's demand."""
    one = run.engine.passes[0]
    fuel = chemicals.MW("7440-44-0") + 1.87 * chemicals.MW("12385-13-6")
    need = (one.fuel.start + 0.02) / fuel * (2.0 + 1.87 / 2.0)
    have = 0.25 / 28.9647 * 2.0 * 0.20946 + one.n2o.start / chemicals.MW("10024-97-2")
    assert one.engine_mixture.start == pytest.approx(need / have, rel=1e-4)


def test_fuel_follows_the_target_without_jets():
    one = scenario([Pass("5 s")], EngineSide(target_mixture=1.2)).run().engine.passes[0]
    assert one.mixture.minimum == pytest.approx(1.2) and one.mixture.maximum == pytest.approx(1.2)
    assert one.ratio.mean == pytest.approx(n2o_per_fuel() / 1.2, rel=1e-4)
    assert one.lean == 0.0 and one.rich == 0.0


def test_power_is_fuel_over_bsfc():
    one = scenario([Pass("5 s")], EngineSide(bsfc=BSFC)).run().engine.passes[0]
    assert one.power.start == pytest.approx(one.fuel.start / BSFC, rel=1e-6)
    assert one.work == pytest.approx(one.fuel_used / BSFC, rel=1e-6)
    assert one.power.mean * 5.0 == pytest.approx(one.work, rel=1e-4)


def test_wheel_and_decomposition_are_said_and_counted():
    """Decomposition: 82.05 kJ/mol (NIST-JANAF) at the brake efficiency stated.

    A BSFC holds for all of the power: the heat takes its part of it and adds nothing.
    """
    n2o = 0.05
    plain = engine_point(EngineSide(bsfc=BSFC), n2o)
    wheel = engine_point(EngineSide(bsfc=BSFC, power_at="wheel", driveline_efficiency=0.85), n2o)
    assert wheel.power == pytest.approx(0.85 * plain.power, rel=1e-12)
    assert engine_point(EngineSide(bsfc=BSFC, decomposition=True), n2o).power == pytest.approx(
        plain.power, rel=1e-9
    )
    without, counted = (
        engine_point(EngineSide(efficiency=0.3, decomposition=d), n2o) for d in (False, True)
    )
    heat = n2o * 82.05e3 / (chemicals.MW("10024-97-2") * 1e-3)
    assert counted.power - without.power == pytest.approx(0.3 * heat, rel=1e-4)
    said = scenario([Pass("1 s")], EngineSide(power_at="wheel", decomposition=True)).run().engine
    for words in ("at the wheel", "decomposition heat counted", "driveline efficiency 0.85"):
        assert words in said.statement
    assert said.passes[0].statement == said.statement


def test_lean_fuel_limits_power_and_is_flagged():
    """Fuel jets too small: power goes with the fuel, oxygen is left free, the pass is lean."""
    engine = EngineSide(fuel_jets=Jets(1, "0.015 in"), fuel_pressure="43 psig")
    run = scenario([Pass("5 s")], engine).run()
    one, trace = run.engine.passes[0], run.engine
    assert one.mixture.maximum < 1.0 and one.lean == pytest.approx(5.0)
    assert one.power.mean == pytest.approx(0.3134 * 43.44e6 * one.fuel.mean, rel=1e-4)
    free = 1.0 - one.mixture.mean
    assert trace["oxygen_free_kg"][-1] / (one.n2o_used * 0.36350) == pytest.approx(free, rel=1e-3)


def test_mixture_drifts_lean_when_the_bottle_is_too_hot():
    """Fixed fuel jets: a full bottle at 1225 psig gives more N2O and a leaner shot than at 890."""
    engine = EngineSide(fuel_jets=Jets(1, "0.022 in"), fuel_pressure="43 psig")
    warm, hot = (scenario([Pass("2 s")], engine, start=t).run() for t in ("85 degF", "99 degF"))
    assert hot.passes[0].start_pressure > 1220 * PSI
    assert 880 * PSI < warm.passes[0].start_pressure < 900 * PSI
    a, b = warm.engine.passes[0].mixture, hot.engine.passes[0].mixture
    assert b.start < 0.9 * a.start
    assert b.end > b.start  # and richens as it sags


# --- charge cooling ------------------------------------------------------------------------------
def test_shot_cools_the_intake_air_drastically(run):
    """Common practice, no source: it does. Enthalpy balance closed with CoolProp and cp of air."""
    one, trace = run.engine.passes[0], run.engine
    row = int(np.flatnonzero(trace["n2o_flow_kg_s"] > 0.0)[0])
    n2o, mixed = trace["n2o_flow_kg_s"][row], trace["charge_temperature_K"][row]
    assert mixed < 305.0 - 20.0 and one.density_gain.minimum > 1.08
    moles_air, moles_n2o = 0.25 / 28.9647, n2o / chemicals.MW("10024-97-2")
    partial = AMBIENT * moles_n2o / (moles_air + moles_n2o)
    T0 = run["fluid_temperature_K"][0, 0, row]
    gained = n2o * (
        CP.PropsSI("H", "T", mixed, "P", partial, "NitrousOxide")
        - CP.PropsSI("H", "T", T0, "Q", 0, "NitrousOxide")
    )
    air = 0.25 * (
        CP.PropsSI("H", "T", 305.0, "P", AMBIENT, "Air")
        - CP.PropsSI("H", "T", mixed, "P", AMBIENT, "Air")
    )
    assert gained == pytest.approx(air, rel=5e-3)


def test_more_n2o_than_the_air_can_evaporate_gives_no_number():
    engine = EngineSide(base_air=0.01)
    run = scenario([Pass("1 s")], engine).run()
    assert np.isnan(run.engine["charge_temperature_K"]).all()
    assert run.engine.passes[0].charge_temperature is None


# --- oxygen --------------------------------------------------------------------------------------
def test_oxygen_balance_over_purge_pass_and_refill():
    engine = EngineSide(fuel_jets=Jets(1, "0.02 in"), fuel_pressure="43 psig")
    items = [
        Purge("2 s"),
        Pass("10 s"),
        Weigh(),
        Refill("70 degF", to="10 lb"),
        Pass("5 s"),
        Hold("10 s"),
    ]
    run = scenario(items, engine).run()
    found = oxygen_balance(run, run.engine)
    assert found["closure"] < 1e-12
    assert found["refilled"] > 0.0 and found["vented"] > 0.0
    # Oxygen that the shot's fuel needs, by atoms, against what the trace says was burnt and free.
    fuel = run.engine["fuel_kg"][-1]
    demand = (
        (2.0 + 1.87 / 2.0)
        * chemicals.MW("17778-80-2")
        / (chemicals.MW("7440-44-0") + 1.87 * chemicals.MW("12385-13-6"))
    )
    delivered = (
        run.engine["n2o_to_engine_kg"][-1]
        * 0.5
        * chemicals.MW("7782-44-7")
        / (chemicals.MW("10024-97-2"))
    )
    expected = min(fuel * demand, delivered)
    assert found["burnt"] == pytest.approx(expected, rel=1e-4)
    assert found["burnt"] + found["free"] == pytest.approx(delivered, rel=1e-4)


# --- shape ---------------------------------------------------------------------------------------
def test_no_engine_no_trace():
    assert scenario([Pass("1 s")]).run().engine is None


def test_plain_dict_is_json_and_names_are_helped(run):
    text = json.dumps(run.engine.as_dict(), allow_nan=False)
    data = json.loads(text)
    assert data["schema"] == 1 and "power_W" in data["variables"]
    assert len(data["variables"]["power_W"]["values"]) == len(run.time)
    assert data["passes"][0]["mixture"]["mean"] == pytest.approx(run.engine.passes[0].mixture.mean)
    with pytest.raises(ValueError, match="power_W"):
        run.engine["power"]


def test_two_passes_two_summaries():
    run = scenario([Pass("2 s", label="first"), Rest("10 s"), Pass("3 s")], EngineSide()).run()
    first, second = run.engine.passes
    assert (first.index, first.label, second.index) == (0, "first", 2)
    assert second.start_time == pytest.approx(12.0)
    assert second.n2o_used == pytest.approx(run.passes[1].used, rel=1e-12)


def test_a_pass_without_flow_has_no_figures():
    run = scenario([Pass("2 s", delivery=[(0.0, 0.0)])], EngineSide()).run()
    one = run.engine.passes[0]
    assert one.n2o_used == 0.0 and math.isnan(one.power.mean)
    assert one.as_dict()["power"]["mean"] is None


# --- what decides the power ----------------------------------------------------------------------
def test_oxygen_decides_on_the_rich_side_and_fuel_on_the_lean():
    """Fuel fixed at a mixture of 1.15: more N2O adds power until the mixture is stoichiometric."""
    of = fuel_of(EngineSide())
    n2o = 0.05
    right = 1.15 * n2o / of.n2o_fuel
    power = [
        float(shot_power_of(EngineSide(), of, k * n2o, right).total)
        for k in (0.8, 1.0, 1.1, 1.15, 1.3)
    ]
    assert np.array(power) / power[1] == pytest.approx([0.8, 1.0, 1.1, 1.15, 1.15], rel=1e-9)


@pytest.mark.parametrize("name", ["petrol", "E85", "methanol"])
def test_default_power_is_a_brake_efficiency_of_what_burns(name):
    """0.5 lb/hp/h of petrol at 1.15 (common practice, no source) is 0.313; more fuel than finds
    oxygen never makes more power, whatever the fuel and the target."""
    n2o, heat = 0.05, []
    for target in (1.0, 1.15, 1.5, 5.0):
        engine = EngineSide(fuel=name, target_mixture=target)
        heat.append(0.05 / fuel_of(engine).n2o_fuel * fuel_of(engine).lhv)
        assert engine_point(engine, n2o).power == pytest.approx(0.3134 * heat[0], rel=1e-9)
    petrol = EngineSide(bsfc="0.5 lb/hp/h")
    default = engine_point(EngineSide(), n2o).power
    assert default == pytest.approx(engine_point(petrol, n2o).power, rel=2e-3)


@pytest.mark.parametrize(
    "engine",
    [
        EngineSide(bsfc="0.5 lb/hp/h", target_mixture=5.0),
        EngineSide(fuel="methanol", bsfc="0.5 lb/hp/h"),
    ],
)
def test_a_bsfc_that_the_fuel_cannot_have_is_refused(engine):
    with pytest.raises(InputError, match=r"BSFC.*0\.5 lb/hp/h.*brake efficiency"):
        scenario([Pass("1 s")], engine)
