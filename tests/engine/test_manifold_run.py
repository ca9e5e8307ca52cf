"""Several bottles on one manifold in a run: shared jets, bottles that feed each other, balances.

The independent reference for the flows is physics.manifold (network solved anew, bisection), which
its own tests check; for a whole run it is one bottle of the same contents, and conservation.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from manifold_reference import manifold_flows
from verification import Check

from n2osim.engine.advance import as_objects
from n2osim.engine.pack import branch_area, pack
from n2osim.hardware import Ambient, Bottle, EngineSide, Feed, FeedLine, Jets, Valve
from n2osim.physics.feed_chain import feed_elements
from n2osim.physics.orifice import MODELS
from n2osim.scenario.scenario import FittedBottle, Model, Mounting, Numerics, Scenario
from n2osim.scenario.schedule import Pass, Purge, Rest

TOPIC = "Lines and feed"
SHARES = Check(
    TOPIC,
    "two bottles on a manifold: exchange (of the larger flow)",
    "network solved directly",
    "itself, bisection",
    "equal, unequal, hot; jets, line",
    5e-3,
    "%",
    seen="itself",
    used="no",
)
JETS_GET = Check(
    TOPIC,
    "two bottles on a manifold: flow of the jets",
    "network solved directly",
    "itself, bisection",
    "the same",
    5e-3,
    "%",
    seen="itself",
    used="no",
)
FLASHING = Check(
    TOPIC,
    "flashing manifold through line, solenoid and jets",
    "network solved directly",
    "itself, bisection",
    "285-307 K, quality 0-0.9",
    2e-3,
    "%",
    seen="itself",
    used="no",
)
BRANCH = Check(
    TOPIC,
    "bottle valve and pick-up in series",
    "1/CdA^2 adds",
    "Crane TP-410",
    "5 mm valve, 0.3 m tube",
    1e-6,
    seen="memory",
    used="no",
)
BOTTLE = Bottle.preset("aluminium", "10 lb")
JETS = Feed(Jets(4, "0.03 in"))
LINE = Feed(Jets(4, "0.03 in"), line=FeedLine.from_dash(4, "10 ft"), valve=Valve("4 mm"))
PSI = 6894.757293168


PASS = (Pass("5 s"),)


def pair(left, right, schedule=PASS, feed=JETS, **changes):
    bottles = [FittedBottle(BOTTLE, *left, name="left"), FittedBottle(BOTTLE, *right, name="right")]
    feeds = {"main": feed, "purge": Feed(Jets(1, "0.03 in"))}
    return Scenario(bottles, schedule, Ambient("75 degF"), feeds, **changes)


EQUAL = ((4.0, "80 degF"), (4.0, "80 degF"))
UNEQUAL = ((4.5, "88 degF"), (2.5, "70 degF"))
HOT = ((4.5, "100 degF"), (2.0, "60 degF"))


def closes(run):
    found = run.closure()
    assert max(found.values()) < 1e-9, found


# --- flows ---------------------------------------------------------------------------------------
def first_row(run):
    """What each bottle gives at rest, as manifold_flows wants it: p, h, s, rho, T."""
    from n2osim import fluid

    rows = []
    for i, fitted in enumerate(run.scenario.bottles):
        T = float(run["fluid_temperature_K"][i, 0, 0])
        s = fluid.state(T, fitted.fill / fitted.bottle.volume)
        if int(s.phase) == 1:
            line = fluid.saturation(T)
            rows.append([line.p, line.h_l, line.s_l, line.rho_l, T])
        else:
            rows.append([s.p, s.h, s.s, s.rho, T])
    return np.array(rows, dtype=float)


@pytest.mark.parametrize("feed", [JETS, LINE], ids=["jets", "line"])
@pytest.mark.parametrize("bottles", [EQUAL, UNEQUAL, HOT], ids=["equal", "unequal", "hot"])
def test_flows_are_those_of_the_exact_network(bottles, feed):
    """Branch flow is softened near zero difference (2 kPa), the jets' flow is a map."""
    run = pair(*bottles, feed=feed).run()
    states = first_row(run)
    flows = np.zeros(2)
    shared = dataclasses.replace(feed, pickup=None, bottle_valve=None)
    p, _h, jets = manifold_flows(
        states,
        np.full(2, branch_area(feed)),
        MODELS[feed.model].index,
        feed_elements(shared),
        101325.0,
        flows,
    )
    got = run["outflow_kg_s"][:, 0]
    SHARES.below((got - flows) / np.abs(flows).max())
    JETS_GET.relative(got.sum(), jets)
    assert run["manifold_pressure_Pa"][0, 0] == pytest.approx(p, rel=1e-3)


def test_equal_bottles_give_half_each_and_not_twice():
    """Two bottles through the same jets pass what one does, less the branches' small loss."""
    run = pair(*EQUAL).run()
    alone = Scenario(
        BOTTLE,
        fill=4.0,
        start="80 degF",
        ambient=Ambient("75 degF"),
        feed=JETS,
        schedule=[Pass("5 s")],
    ).run()
    left, right = run.passes
    assert left.used == pytest.approx(right.used, rel=1e-9)
    assert left.flow_start + right.flow_start == pytest.approx(alone.passes[0].flow_start, rel=0.01)
    assert left.pressure_sag == pytest.approx(0.5 * alone.passes[0].pressure_sag, rel=0.1)
    closes(run)


def test_three_bottles_share():
    bottles = [FittedBottle(BOTTLE, 4.0, "80 degF", name=n) for n in "abc"]
    run = Scenario(bottles, [Pass("5 s")], Ambient("75 degF"), {"main": JETS}).run()
    used = [p.used for p in run.passes]
    assert used == pytest.approx([used[0]] * 3, rel=1e-9)
    closes(run)


def test_a_stage_of_one_bottle_leaves_the_other_alone():
    from n2osim.scenario.schedule import Stage

    run = pair(*UNEQUAL, schedule=[Pass("3 s", stages=(Stage("main", bottle="right"),))]).run()
    assert run.passes[0].used == 0.0 and run.passes[1].used > 0.0


def test_target_flow_is_the_car_s_not_each_bottle_s():
    run = pair(*EQUAL, schedule=[Pass("5 s", target_flow=0.03)], engine=EngineSide()).run()
    assert run["outflow_kg_s"].sum(axis=0)[1:-1] == pytest.approx(0.03, rel=1e-6)
    opening = run.engine["opening"][1:-1]
    full = pair(*EQUAL).run()["outflow_kg_s"].sum(axis=0)[0]
    assert opening[0] == pytest.approx(0.03 / full, rel=0.02)


def test_prescribed_outflow_is_shared():
    run = pair(*EQUAL, schedule=[Pass("5 s", outflow=0.02)]).run()
    assert [p.used for p in run.passes] == pytest.approx([0.05, 0.05], rel=1e-6)


# --- bottles that feed each other ----------------------------------------------------------------
@pytest.fixture(scope="module")
def equalised():
    """Solenoid shut, bottle valves open for two minutes."""
    return pair(*UNEQUAL, schedule=[Pass("120 s", delivery=[(0.0, 0.0)])]).run()


def test_bottles_equalise(equalised):
    p = equalised["pressure_gauge_Pa"]
    assert p[0, 0] - p[1, 0] > 150 * PSI
    assert abs(p[0, -1] - p[1, -1]) < 0.1 * PSI
    assert p[1, 0] < p[1, -1] < p[0, 0]


def test_equalising_moves_mass_and_energy_and_makes_none(equalised):
    mass = equalised["mass_kg"].sum(axis=0)
    assert mass == pytest.approx(mass[0], rel=1e-13)
    assert equalised["enthalpy_out_J"].sum(axis=0) == pytest.approx(0.0, abs=1e-6)
    assert equalised["mass_out_kg"][0, -1] > 0.5
    closes(equalised)


def test_jets_take_what_bottles_lose_on_balance():
    run = pair(
        *HOT, schedule=[Purge("1 s"), Rest("30 s"), Pass("10 s"), Rest("60 s")], engine=EngineSide()
    ).run()
    lost = run["mass_kg"].sum(axis=0)[0] - run["mass_kg"].sum(axis=0)[-1]
    trace = run.engine
    went = trace["n2o_to_engine_kg"][-1] + trace["n2o_vented_kg"][-1]
    assert went == pytest.approx(lost, rel=1e-12)
    assert run.passes[1].used < 0.0  # the cold bottle was filled meanwhile
    assert (run["outflow_kg_s"].sum(axis=0) > -1e-9).all()
    closes(run)


def test_jets_never_run_backwards():
    """Boost above the bottles' pressure: nothing moves."""
    cold = ((4.0, "-40 degF"), (4.0, "-40 degF"))
    run = pair(*cold, schedule=[Pass("2 s")], engine=EngineSide(intake_pressure="140 psig")).run()
    assert (run["pressure_gauge_Pa"][:, 0] < 140 * PSI).all()
    assert run["outflow_kg_s"] == pytest.approx(0.0, abs=1e-12)


def test_a_vapour_bottle_is_fed_and_refills():
    """All vapour at the same temperature: the other's liquid goes over, until it too holds some."""
    shut = [Pass("30 s", delivery=[(0, 0.0)])]
    run = pair((4.5, "80 degF"), (0.6, "80 degF"), schedule=shut).run()
    assert run["phase"][1, 0] == 2 and run["phase"][1, -1] == 1
    closes(run)


def test_two_zone_bottles_on_a_manifold():
    run = pair(*UNEQUAL, schedule=[Pass("3 s"), Rest("5 s")], model=Model(two_zone=1000.0)).run()
    closes(run)
    assert run.passes[0].used > 0.0 > run.passes[1].used


def flashing(model, x, T, length):
    """Flow (kg/s) through the map of the shared feed, and of the network solved directly."""
    from n2osim import fluid
    from n2osim.engine.manifold import shared_flow
    from n2osim.fluid.flash import state_ph
    from n2osim.fluid.state import state_Trho
    from n2osim.physics.feed_chain import network_flow

    jets, line = Jets(2, "0.03 in", length=length), FeedLine.from_dash(3, "14 ft")
    feed = Feed(jets, line=line, valve=Valve("2.5 mm"), model=model)
    setup = pack(pair(*EQUAL, feed=feed)).setup
    sat = fluid.saturation(T)
    p, h = float(sat.p), float(sat.h_l + x * (sat.h_v - sat.h_l))
    T1, rho, _x, _phase = state_ph(p, h)
    s = state_Trho(T1, rho)[3]
    exact = network_flow(feed_elements(feed), MODELS[model].index, p, h, s, rho, T1, 101325.0)[0]
    shared = as_objects(setup.feeds)[setup.feeds["shared"][0]]
    return shared_flow(shared, setup.maps, p, h, 101325.0), exact


@pytest.mark.parametrize("T", [285.0, 295.0, 303.0, 307.0])
@pytest.mark.parametrize("x", [0.0, 0.01, 0.1, 0.5, 0.9])
@pytest.mark.parametrize("model", ["hem", "hne"])
def test_flashing_manifold_through_line_and_jets(model, x, T):
    """A hose, solenoid and long jets that lose 7 to 13 % of the flow, against the network."""
    FLASHING.relative(*flashing(model, x, T, "0.4 in"))


SHORT_OFF = pytest.mark.xfail(
    strict=True,
    reason="the map of a feed with short jets is 0.2 to 1.7 % off the network near 295 K",
)


@pytest.mark.parametrize(
    ("x", "T"),
    [
        pytest.param(x, T, marks=SHORT_OFF if T == 295.0 and x < 0.9 else ())
        for x in (0.0, 0.01, 0.1, 0.5, 0.9)
        for T in (285.0, 295.0, 303.0, 307.0)
    ],
)
def test_flashing_manifold_through_line_and_short_jets(x, T):
    """The same with jets of no given length, which count as two bores long."""
    found, exact = flashing("hne", x, T, None)
    assert found == pytest.approx(exact, rel=FLASHING.limit)


# --- parts ---------------------------------------------------------------------------------------
def test_branch_is_bottle_valve_and_pick_up_in_series():
    """1/CdA^2 adds; a tube of N velocity heads is an orifice of A/sqrt(N) (Crane TP-410)."""
    valve = Valve("5 mm", cd=0.7)
    tube = FeedLine("0.3 m", "6 mm", fittings_k=1.0)
    heads = 1.5 + 0.02 * 0.3 / 0.006 + 1.0
    expected = (valve.cda**-2 + heads / tube.area**2) ** -0.5
    feed = dataclasses.replace(JETS, bottle_valve=valve, pickup=tube)
    packed = pack(pair(*EQUAL, feed=feed)).setup.feeds["branch_cda"][0]
    BRANCH.relative((branch_area(feed), packed), expected)


# --- what the model says of itself ---------------------------------------------------------------
@pytest.mark.parametrize("line", [None, FeedLine.from_dash(4, "1 ft")], ids=["jets", "line"])
@pytest.mark.parametrize("bottles", [1, 2])
def test_validity_does_not_hang_on_how_the_flow_is_found(line, bottles):
    """NHNE against ambient pressure is below the pressure ratios it was measured at, whether its
    flow is solved, looked up, or shared; the default model has no such limit."""
    for model, valid in (("nhne", False), ("spi", False), ("hne", True)):
        feed = Feed(Jets(2, "0.03 in"), line=line, model=model)
        fitted = [FittedBottle(BOTTLE, 4.0, "80 degF", name=n) for n in "ab"[:bottles]]
        run = Scenario(fitted, [Pass("1 s")], Ambient("75 degF"), {"main": feed}).run()
        flowing = run["outflow_kg_s"] > 0.0
        assert (run["flow_model_valid"][flowing] > 0.5).all() == valid
        assert any(f.code == "flow-model-extrapolated" for f in run.findings) != valid


# --- exchange that is stiff ----------------------------------------------------------------------
COLD_FULL = ((4.0, "95 degF"), (4.4, "60 degF"))
CLOSED = (Pass("60 s", delivery=[(0.0, 0.0)]),)


def test_a_bottle_full_of_liquid_costs_few_steps():
    """It hardly gives: followed as it is (no linearisation) its exchange took 6,500 steps."""
    run = pair(*COLD_FULL, schedule=CLOSED, feed=LINE).run()
    fine = pair(*COLD_FULL, schedule=CLOSED, feed=LINE, numerics=Numerics(tolerance=0.03)).run()
    assert run["phase"][1, -1] == 0  # liquid-full
    assert run.statistics["steps"] < 400
    late = np.linspace(5.0, 60.0, 50)
    for i in range(2):
        p, q = (np.interp(late, r.time, r["pressure_Pa"][i]) for r in (run, fine))
        assert np.abs(p - q).max() < 0.5 * PSI
    closes(run)
    mass = run["mass_kg"].sum(axis=0)
    assert mass == pytest.approx(mass[0], rel=1e-12)


def test_fed_through_the_surface_while_the_relief_is_open():
    """Two zones, fed by the other bottle while a burst disc vents: what is fed flashes, what vents
    takes the vapour's own enthalpy along. The vapour stays where vapour can be (it once rose to the
    end of the range)."""
    hot = FittedBottle(BOTTLE, 4.4, "95 degF", name="left")
    low = FittedBottle(
        dataclasses.replace(BOTTLE, relief_pressure="700 psig"), 1.5, "60 degF", name="right"
    )
    run = Scenario(
        [hot, low], [Pass("8 s")], Ambient("75 degF"), {"main": JETS}, model=Model(two_zone=100.0)
    ).run()
    assert (run["relief_flow_kg_s"][1] > 0.0).any()
    fed = run["outflow_liquid_kg_s"][1] < 0.0
    assert (fed & (run["relief_flow_kg_s"][1] > 0.0)).any()
    assert run["fluid_temperature_K"][1].max() < 320.0
    closes(run)


@pytest.mark.parametrize("factor", [1.0, 100.0])
def test_two_zones_beside_a_full_bottle_do_not_depend_on_the_tolerance(factor: float) -> None:
    """Zones are made where the level passes 97 %: at the end of whichever step that was, the pass
    ended up to 3.3 psi elsewhere."""
    large, steel = Bottle.preset("aluminium", "15 lb"), Bottle.preset("steel", "10 lb")
    full = FittedBottle(large, "99 %", "88 degF", name="full")
    drawn = Mounting(draw="vapour", standing=True)
    gas = FittedBottle(steel, "60 %", "87 degF", name="gas", mounting=drawn)
    ends = []
    for tolerance in (1.0, 0.05):
        run = Scenario(
            [full, gas],
            [Pass("8 s")],
            Ambient("75 degF"),
            {"main": Feed(Jets(2, "0.045 in"))},
            model=Model(two_zone=factor),
            numerics=Numerics(tolerance=tolerance),
        ).run()
        closes(run)
        ends.append((run["pressure_Pa"][:, -1], run["mass_kg"][:, -1]))
    assert run.passes[0].used > 0.05
    np.testing.assert_allclose(ends[0][0], ends[1][0], atol=0.05 * PSI)
    np.testing.assert_allclose(ends[0][1], ends[1][1], atol=5e-4)
