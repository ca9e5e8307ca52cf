"""Failures that the random campaign found, each with the smallest scenario that showed it."""

from __future__ import annotations

import numpy as np
import pytest
from random_scenarios import Dice, scenario
from run_checks import ends_soundly, problems

from n2osim.engine.layout import OUT_OF_RANGE
from n2osim.engine.pack import pack
from n2osim.engine.recorder import ROW_HEAD
from n2osim.errors import InputError, IntegrationError
from n2osim.hardware.ambient import Ambient
from n2osim.hardware.bottle import Bottle
from n2osim.hardware.feed import Feed, Valve
from n2osim.hardware.heater import CutOut, Heater
from n2osim.hardware.jets import Jets
from n2osim.hardware.switch import PressureSwitch
from n2osim.hardware.wall import wall_network
from n2osim.results.run import build_run, run_packed, simulate
from n2osim.scenario.scenario import FittedBottle, Model, Mounting, Numerics, Scenario
from n2osim.scenario.schedule import Hold, Pass, Refill, Rest
from n2osim.units import PSI

ALUMINIUM = Bottle.preset("aluminium", "12 lb")


@pytest.mark.parametrize("coverage", [0.01, 0.5, 0.97, 0.99])
@pytest.mark.parametrize("area", [0.3, 0.62, 2.0])
def test_no_wall_node_has_a_negative_heat_capacity(coverage: float, area: float) -> None:
    """Areas given by the user make the cylinder heavier than the layer: all nodes share that."""
    bottle = Bottle.lumped(0.0235, 24e3, area)
    net = wall_network(bottle, 3, coverage)
    assert min(net.covered.capacity.min(), net.bare.capacity.min()) > 0.0
    assert net.heat_capacity == pytest.approx(bottle.heat_capacity, rel=1e-12)


def test_a_schedule_that_begins_with_a_refill_closes() -> None:
    run = simulate(Scenario(ALUMINIUM, [Refill("40 degF", pumped=False)], fill=3.0, start=250.0))
    assert problems(run) == []
    filled = run.segments[0]
    assert filled.start_mass == 3.0
    assert filled.end_mass > 4.0
    assert run["mass_out_kg"][0, -1] == pytest.approx(3.0 - filled.end_mass, rel=1e-12)


@pytest.mark.parametrize("start", [233.0, 338.9])
def test_a_refill_that_does_not_fit_says_so(start: float) -> None:
    at_once = [Refill("60 degF", to=9.5, duration=0)]
    scenario = Scenario(ALUMINIUM, at_once, fill=3.6, start=start)
    with pytest.raises(IntegrationError, match="smaller refill") as caught:
        simulate(scenario)
    assert caught.value.partial_run["mass_kg"][0, -1] == 3.6
    assert problems(caught.value.partial_run) == []
    with pytest.raises(InputError, match=r"refill of bottle: 30 kg.*at most"):
        simulate(scenario.replace(schedule=[Refill("60 degF", to=30.0)]))


@pytest.mark.parametrize("two_zone", [None, 1.0, 2e4])
@pytest.mark.parametrize("draw", ["liquid", "vapour"])
def test_a_prescribed_outflow_cannot_empty_a_bottle_below_the_outside(draw, two_zone) -> None:
    """It drew the vapour space down to the triple point, where the equation of state ends."""
    run = simulate(
        Scenario(
            ALUMINIUM,
            [Pass("60 s", outflow=0.3)],
            fill=4.9,
            start=254.0,
            mounting=Mounting(draw=draw),
            model=Model(two_zone=two_zone),
        )
    )
    assert problems(run) == []
    assert run["pressure_gauge_Pa"].min() > 0.0


def test_thin_air_does_not_freeze_a_vented_bottle() -> None:
    """79.5 kPa of a high strip is below the triple point's 87.8 kPa: the vent stops above it."""
    run = simulate(
        Scenario(
            Bottle.lumped(0.007, 5e3, 0.2, relief_pressure=4e6, relief_bore=6e-3),
            [Rest("10 min")],
            Ambient(280.0, 79.5e3),
            fill=4.4,
            start=295.0,
            model=Model(inside_coefficient=0.0),
        )
    )
    assert run["relief_open"][0, -1]
    assert problems(run) == []
    assert 91.9e3 < run["pressure_Pa"][0, -1] < 93e3
    assert np.all(run["fluid_temperature_K"] > 182.33)


def test_a_refill_of_all_fills_each_to_its_own_capacity() -> None:
    """The first bottle's capacity was let into every bottle."""
    small, large = Bottle.preset("steel", "10 lb"), Bottle.preset("steel", "20 lb")
    fitted = [FittedBottle(large, 3.0, 290.0, "large"), FittedBottle(small, 1.0, 290.0, "small")]
    run = simulate(Scenario(fitted, [Refill(285.0)]))
    for i, bottle in enumerate((large, small)):
        assert run["mass_kg"][i, -1] == pytest.approx(bottle.capacity, rel=1e-12)


LIGHT = Bottle.lumped(0.002, 300.0, 0.1)


@pytest.fixture(scope="module")
def busy():
    """A light bottle in a narrow band: thousands of switchings in a day."""
    return simulate(
        Scenario(
            LIGHT,
            [Hold("24 h")],
            Ambient(285.0),
            fill=0.5,
            start=290.0,
            heater=Heater(60.0, heat_capacity=20.0, contact_resistance=1e-4),
            switch=PressureSwitch(5e6, 5.02e6),
            model=Model(nodes_per_layer=1),
        )
    )


def test_every_switching_is_met_exactly_and_listed(busy) -> None:
    """After 400 crossings later ones were only noted at the end of a step; 20,000 events were
    all that was kept."""
    switched = [e for e in busy.events if e.name in ("switch on", "switch off")]
    assert len(switched) > 1000
    closed = busy["switch_closed"][0]
    # The first one fires at the start, before there is a row to compare with.
    assert len(switched) - 1 == np.count_nonzero(np.diff(closed.astype(int)))
    for e in switched[1:]:
        assert e.pressure_gauge == pytest.approx(5e6 if e.name == "switch on" else 5.02e6, abs=1.0)
    assert problems(busy) == []


def test_an_event_list_has_no_end() -> None:
    """A heater of almost no mass on its cut-out: more events than any fixed list holds."""
    run = simulate(
        Scenario(
            ALUMINIUM,
            [Hold("60 s")],
            fill=4.0,
            start=290.0,
            heater=Heater(
                2000.0,
                heat_capacity=2.0,
                contact_resistance=0.01,
                cut_out=CutOut(330.0, 329.0, pause=1e-3),
            ),
        )
    )
    cut = [e for e in run.events if e.name.startswith("cut-out")]
    assert len(cut) > 1000
    assert len(cut) == np.count_nonzero(np.diff(run["cut_out_open"][0].astype(int)))
    assert problems(run) == []


def vented(**changes) -> Scenario:
    """A bottle whose relief has opened, warming up at the outside's pressure."""
    given = {
        "fill": 1.0,
        "start": 300.0,
        "heater": Heater(600.0),
        "schedule": [Hold("1 h")],
        "ambient": Ambient(290.0),
        "model": Model(inside_coefficient=3000.0),
    }
    bottle = Bottle.preset("aluminium", "10 lb", relief_pressure=3e6)
    return Scenario(bottle, **(given | changes))


def test_the_tail_of_a_vent_takes_few_steps() -> None:
    """Pressure stays within pascals of the outside's: 16,000 steps before the outflow's
    linearisation carried the enthalpy that goes with the mass."""
    run = simulate(vented())
    assert 0.0 < run["pressure_gauge_Pa"][0, -1] < 50.0
    assert run.statistics["steps"] < 1000
    assert problems(run) == []


def test_a_self_limiting_heater_without_mass_takes_few_steps() -> None:
    """Its feedback (45 W/K on 0.1 J/K) was not in the implicit step: 5 ms a step."""
    run = simulate(
        Scenario(
            ALUMINIUM,
            [Hold("20 min")],
            fill=4.0,
            start=280.0,
            heater=Heater(9000.0, heat_capacity=0.0, self_limit=0.005, contact_resistance=1e-3),
            switch=PressureSwitch(7e6, 7.1e6),
        )
    )
    assert run.statistics["steps"] < 1500
    assert problems(run) == []


def test_a_follower_of_a_follower_is_refused() -> None:
    """Nobody had a switch of his own then: both heaters stayed off without a word."""
    one = FittedBottle(ALUMINIUM, 3.0, 290.0, "a", Heater(300.0), follows="b")
    two = FittedBottle(ALUMINIUM, 3.0, 290.0, "b", Heater(300.0), follows="a")
    with pytest.raises(InputError, match="follows"):
        Scenario([one, two], [Hold("1 min")])
    with pytest.raises(InputError, match="follows"):
        Scenario([FittedBottle(ALUMINIUM, 3.0, 290.0, "a", follows="a")], [Hold("1 min")])


def test_what_condenses_takes_its_heat_along() -> None:
    """A cold two-zone bottle filled from a warm one: its shrinking vapour heated up to 525 K."""
    fitted = [
        FittedBottle(Bottle.lumped(0.0165, 8e3), 6.9, 312.0, "warm"),
        FittedBottle(Bottle.preset("steel", "10 lb"), 2.6, 287.0, "cold"),
    ]
    run = simulate(
        Scenario(
            fitted,
            [Pass("30 s")],
            feed=Feed(Jets(1, 8e-4), valve=Valve(bore=5e-3)),
            model=Model(two_zone=2e4, inside_coefficient=0.0),
        )
    )
    assert problems(run) == []
    assert run["fluid_temperature_K"][1, 1].max() < 330.0


def test_zones_are_one_again_above_the_critical_pressure() -> None:
    """There is no surface there; entropy was destroyed at one that did not exist."""
    run = simulate(
        Scenario(
            Bottle.lumped(0.0064, 4e3, 0.2),
            [Pass("20 s", outflow=0.005), Hold("3 min")],
            fill=3.95,
            start=302.9,
            mounting=Mounting(standing=True),
            model=Model(two_zone=1.0, inside_coefficient=400.0),
            heater=Heater(2000.0),
        )
    )
    assert run["pressure_Pa"].max() > 7.245e6
    assert problems(run) == []
    above = run["pressure_Pa"][0] > 7.245e6
    assert (run["zone_mass_kg"][0, 1][above] == 0.0).all()


def test_the_arming_window_does_not_chatter() -> None:
    """A bottle that its neighbour fills rises to the window's high end: shut, open, shut ..."""
    fitted = [FittedBottle(ALUMINIUM, 4.6, 289.0, "a"), FittedBottle(ALUMINIUM, 1.4, 320.0, "b")]
    run = simulate(
        Scenario(
            fitted,
            [Pass("20 s", window=(300 * PSI, 716.0 * PSI))],
            feed=Feed(Jets(1, 5e-4)),
            numerics=Numerics(max_steps=3000),
        )
    )
    assert problems(run) == []
    assert len([e for e in run.events if e.name.startswith("flow")]) < 50


def test_a_heater_may_follow_a_switch_on_a_bottle_without_one() -> None:
    fitted = [
        FittedBottle(ALUMINIUM, 3.0, 285.0, "a", switch=PressureSwitch("900 psig", "950 psig")),
        FittedBottle(ALUMINIUM, 3.0, 285.0, "b", Heater(300.0), follows="a"),
    ]
    run = simulate(Scenario(fitted, [Hold("10 min")], Ambient(285.0)))
    assert run["heater_energy_J"][1, -1] > 1e5


def test_gas_above_the_critical_temperature_is_no_liquid() -> None:
    run = simulate(Scenario(ALUMINIUM, [Rest("1 min")], Ambient(325.0), fill=0.2, start=325.0))
    assert run["liquid_fraction"][0, -1] == 0.0


def test_a_run_that_ends_early_has_no_rows_beyond_the_equation_of_state() -> None:
    """The last rows stood at 525 K while energy went on: closure was 1e-6 and worse."""
    bottle = Bottle.preset("aluminium", "10 lb", relief_pressure=3e6)
    with pytest.raises(IntegrationError) as caught:
        simulate(Scenario(bottle, [Hold("3 h")], fill=1.0, start=300.0, heater=Heater(2000.0)))
    run = caught.value.partial_run
    assert problems(run) == []
    assert 520.0 < run["fluid_temperature_K"].max() < 525.0
    assert max(run.closure().values()) < 1e-9
    assert caught.value.time == run.time[-1]


def test_rows_that_are_not_numbers_never_leave_the_engine() -> None:
    """A bottle of three at 0.9 bar went below the triple point: the last row was all NaN."""
    packed = pack(Scenario(ALUMINIUM, [Rest("1 min")], fill=3.0, start=290.0))
    rows, events, counts, _ = run_packed(packed, 100, 100)
    broken = rows.copy()
    broken[-2:, ROW_HEAD:] = np.nan
    run = build_run(packed, broken, events, counts, OUT_OF_RANGE)
    assert len(run.time) == len(rows) - 2
    assert all(np.isfinite(v.values).all() for v in run.variables.values())


def test_two_zones_by_themselves_destroy_no_entropy() -> None:
    """Superheated vapour over cold liquid: what the wall gave it was taken from the liquid."""
    run = simulate(
        Scenario(
            Bottle.lumped(0.016, 1500.0),
            [Pass("67 s", outflow=0.0005), Rest("2 h")],
            Ambient(307.0),
            fill=0.97,
            start=236.0,
            model=Model(inside_coefficient=0.0, two_zone=100.0),
        )
    )
    assert problems(run) == []


# Heaters of 8 and 9 kW on their cut-outs: it opens and closes twice a second for as long as the
# schedule lasts, and the limit on steps ends that with our own words.
CYCLING = (22822, 36050)
# The first one: gas held at 525 K; the first row: two zones; the second: bottles that feed each
# other while a relief device is open, and one full of liquid on a manifold (306329); the last four:
# heaters of kilowatts without mass, which glow.
MENDED = (
    13414,
    990,
    1445,
    8388,
    15517,
    40455,
    43283,
    100234,
    105943,
    110329,
    161166,
    163085,
    28723,
    95263,
    160586,
    81335,
    304326,
    313290,
    306329,
    8373,
    29986,
    97246,
    37695,
)


def sound(seed: int) -> bool:
    try:
        return problems(simulate(scenario(Dice(seed)))) == []
    except IntegrationError as error:
        return ends_soundly(error) and problems(error.partial_run) == []


@pytest.mark.parametrize("seed", CYCLING)
def test_a_control_that_switches_without_end_is_named(seed: int) -> None:
    """Without the pause of its cut-out: with it the first goes through its schedule."""
    hasty = scenario(Dice(seed)).replace({"heater.cut_out.pause": 1e-3})
    with pytest.raises(IntegrationError, match=r"cut-out (opens|closes): \d{3,} times") as caught:
        simulate(hasty)
    assert problems(caught.value.partial_run) == []


@pytest.mark.parametrize(
    "seed", [*MENDED[:-5], pytest.param(306329, marks=pytest.mark.campaign), *MENDED[-4:]]
)
def test_seeds_that_failed_once(seed: int) -> None:
    """Heat ran from colder liquid to warmer vapour; temperatures stuck at an end of the range."""
    assert sound(seed)


def test_a_bottle_that_hardly_moves_any_heat() -> None:
    """The one failure among the 100,000 scenarios of the campaign of 2026-11-29: 2e-5 J of 440 kJ,
    which is rounding, counted against the next to nothing that it moves."""
    assert sound(39973)
