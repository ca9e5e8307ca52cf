"""A package outside the tree adds one of everything; what it adds is compared with our own."""

from __future__ import annotations

import copy
import os
import pickle
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page_tools import DOCS, blocks

import n2osim as n2
from n2osim import extend
from n2osim.errors import InputError, N2OSimError, ScenarioError
from n2osim.fluid.state import state_Trho
from n2osim.hardware.orifice_models import MODELS
from n2osim.physics.boiling import inside_from_properties, inside_properties
from n2osim.physics.orifice import orifice_flow
from n2osim.results.limits import BY_CODE, LIMITS
from n2osim.results.quantities import QUANTITIES, all_columns, columns, of_group, quantity
from n2osim.results.quantities_segments import SEGMENTS
from n2osim.scenario.file import loads
from n2osim.scenario.schedule import KINDS
from n2osim.schema import REGISTERED, declared

GARAGE = Path(__file__).parent / "garage" / "src"


@pytest.fixture(scope="module", autouse=True)
def garage() -> Iterator[Any]:
    """The package outside; what it registers is forgotten behind these tests."""
    tables: list[Any] = [KINDS, MODELS, BY_CODE, REGISTERED, QUANTITIES, SEGMENTS, LIMITS]
    model = vars(declared(n2.Feed)["model"].kind)
    before = [*map(copy.copy, tables), copy.deepcopy(model)]
    sys.path.insert(0, str(GARAGE))
    import garage

    yield garage
    sys.path.remove(str(GARAGE))
    # A worker that takes tests over may come back to this module: what is imported registers.
    for name in [m for m in sys.modules if m.split(".")[0] == "garage"]:
        del sys.modules[name]
    for table, old in zip([*tables, model], before):
        table.clear()
        (table.update if isinstance(table, dict) else table.extend)(old)
    for kept in (of_group, all_columns, columns, quantity):
        kept.cache_clear()


def car(**changes: Any) -> n2.Scenario:
    """A bottle that is warmed and then drawn from."""
    base = n2.Scenario(
        n2.Bottle.preset("aluminium", "10 lb"),
        fill="8 lb",
        start="75 degF",
        ambient=n2.Ambient("60 degF"),
        heater=n2.Heater("400 W", coverage=0.4),
        switch=n2.PressureSwitch("880 psig", "920 psig"),
        feed=n2.Feed(n2.Jets(2, "0.04 in"), model="spi"),
        schedule=[n2.Hold("20 min"), n2.Pass("3 s")],
    )
    return base.replace(changes) if changes else base


def there_and_back(scenario: n2.Scenario) -> n2.Scenario:
    """Through a file and through a pickle, as a study's workers get it."""
    assert loads(scenario.to_toml()) == scenario
    back: n2.Scenario = pickle.loads(pickle.dumps(scenario))
    assert back == scenario
    return back


def psi(run: n2.Run, name: str) -> float:
    return float(run.get(name, "psi"))


# --- orifice model --------------------------------------------------------------------------------
LOSSES = {"feed.line": n2.FeedLine("6 ft", "0.18 in"), "feed.valve": n2.Valve("0.12 in")}


def test_an_orifice_model_flows_as_the_same_of_ours() -> None:
    ours, theirs = (
        n2.simulate(there_and_back(car(**{"feed.model": m}))) for m in ("spi", "plain bernoulli")
    )
    used = [run.passes[0].used for run in (ours, theirs)]
    assert used[1] == pytest.approx(used[0], rel=1e-4)
    state = n2.fluid.state("70 degF", 800.0)
    flux = [orifice_flow(state.p, state.h, 1e5, m).flux for m in ("spi", "plain bernoulli")]
    assert flux[1] == pytest.approx(flux[0], rel=1e-12)


def test_losses_ahead_of_it_are_solved_with_the_default_model() -> None:
    """Jets alone pass what the model says; through losses less, and least of all spi's valve."""
    from n2osim.physics.feed_state import drawn_at, feed_flow

    drawn = drawn_at(300.0, 620.0)
    free, lossy = car(**{"feed.model": "plain bernoulli"}), None
    lossy = free.replace(LOSSES)
    alone, through = (feed_flow(s.feed, drawn, 1.2e5) for s in (free, lossy))
    assert through.flow < alone.flow and through.jet_pressure < alone.jet_pressure
    state = n2.fluid.state("80 degF", 700.0)
    # What passes the losses is what the model passes from the pressure ahead of the jets.
    ahead = orifice_flow(through.jet_pressure, drawn.enthalpy, 1.2e5, "plain bernoulli")
    assert ahead.flux * lossy.feed.jets.cda == pytest.approx(through.flow, rel=1e-5)
    assert state.p > 0.0


def test_behind_a_manifold_and_in_a_refusal() -> None:
    one = car()
    two = n2.Scenario(
        [n2.FittedBottle(one.bottle, "8 lb", "75 degF", name) for name in ("left", "right")],
        [n2.Pass("1 s")],
        feeds={"main": n2.Feed(n2.Jets(2, "0.04 in"), model="spi")},
    )
    used = [
        n2.simulate(two.replace("feed.model", model)).get("pass0.all.used")
        for model in ("spi", "plain bernoulli")
    ]
    assert used[1] == pytest.approx(used[0], rel=2e-3)
    with pytest.raises(InputError, match="name that is free"):
        extend.orifice_model("hne", title="", source="")(lambda *state: 0.0)
    with pytest.raises(n2.errors.UnknownNameError, match="plain bernoulli"):
        n2.Feed(n2.Jets(1, "1 mm"), model="plain bernouli")


# --- controllers ----------------------------------------------------------------------------------
def controlled(garage: Any, name: str, **more: Any) -> n2.Scenario:
    switch = getattr(garage, name)("880 psig", "920 psig", **more)
    return there_and_back(car(switch=switch))


def test_a_python_controller_does_what_the_switch_does(garage) -> None:
    """Late by up to a period: the peak is off by no more than the rise of the pressure in one."""
    ours = n2.simulate(car(schedule=[n2.Hold("40 min")]))
    late = ours.get("pressure", "psia")[0], ours.time
    rise = float(np.max(np.diff(late[0])[1:] / np.maximum(np.diff(late[1])[1:], 1.0)))
    off: list[float] = []
    for period in ("2 s", "0.4 s"):
        theirs = controlled(garage, "TwoPoint", period=period)
        run = n2.simulate(theirs.replace(schedule=ours.scenario.schedule))
        off.append(abs(psi(run, "hold0.peak_pressure") - psi(ours, "hold0.peak_pressure")))
        assert off[-1] < rise * theirs.switch.period
        assert run.get("hold0.switchings") == ours.get("hold0.switchings") > 1
        assert run.closure()["mass"] < 1e-9 and run.closure()["fluid_energy"] < 1e-6
    assert off[1] < 0.5 * off[0] < 0.5


def test_a_proportional_controller_remembers_and_settles(garage) -> None:
    run = n2.simulate(controlled(garage, "Proportional"))
    last = run.get("pressure", "psig")[0][run.time < 1199.0][-1]
    assert 880.0 < last < 920.0 and run.get("hold0.switchings") <= 2.0
    power = run["heater_power_W"][0]
    assert np.unique(power).size > 100 and power.max() == pytest.approx(400.0)


def test_a_welded_relay_does_not_ask(garage) -> None:
    hold = [n2.Hold("12 min")]
    run = n2.simulate(controlled(garage, "Proportional", fault="welded").replace(schedule=hold))
    assert run.get("hold0.energy") == pytest.approx(400.0 * 720.0, rel=1e-9)
    assert run.get("hold0.peak_pressure", "psig") > 920.0
    stuck = controlled(garage, "Proportional", fault="stuck open").replace(schedule=hold)
    assert n2.simulate(stuck).get("hold0.energy") == 0.0


def test_a_compiled_controller(garage) -> None:
    at = {
        name: psi(n2.simulate(s), "hold0.peak_pressure")
        for name, s in {
            "switch": car(switch=n2.PressureSwitch("880 psig", "910 psig")),
            "early": controlled(garage, "Early", early="10 psi"),
        }.items()
    }
    assert at["early"] == pytest.approx(at["switch"], abs=1e-9)


def test_an_answer_that_is_none_is_refused(garage) -> None:
    @dataclass(frozen=True)
    class Wrong(extend.Controller):
        def decide(self, seen: extend.Seen) -> float:
            return 3.0

    with pytest.raises(InputError, match=r"Wrong\.decide.*0 to 1"):
        n2.simulate(car(switch=Wrong("880 psig", "920 psig")))


# --- films and air --------------------------------------------------------------------------------
def test_films_meet_a_constant_coefficient(garage) -> None:
    """A film that is the same everywhere is what a constant coefficient is."""
    constant = n2.Model(inside_coefficient=300.0, outside_coefficient=9.0)
    ours = n2.simulate(car(model=constant, schedule=[n2.Hold("10 min"), n2.Pass("1 s")]))

    @extend.kind("nine")
    @dataclass(frozen=True)
    class Nine(extend.OutsideFilm):
        def coefficient(self, wall: extend.OutsideWall) -> float:
            return 9.0

    inside = garage.FlatInside(300.0, 300.0)
    films = n2.Model(inside_film=inside, outside_film=Nine())
    theirs = n2.simulate(ours.scenario.replace("model", films))
    np.testing.assert_allclose(
        theirs.get("hold0.end_pressure"), ours.get("hold0.end_pressure"), rtol=2e-5
    )
    assert theirs.passes[0].used == pytest.approx(ours.passes[0].used, rel=1e-5)
    assert theirs.closure()["fluid_energy"] < 1e-6


def test_our_own_film_asked_is_our_own_film() -> None:
    """Asked twice a second it lags the compiled one by less than 0.1 psi."""

    @extend.kind("ours")
    @dataclass(frozen=True)
    class Ours(extend.InsideFilm):
        def coefficient(self, wall: extend.InsideWall) -> float:
            phase = int(state_Trho(wall.fluid_temperature, wall.density)[6])
            found = inside_properties(wall.fluid_temperature, wall.density, phase)
            across = wall.length if wall.standing else wall.diameter
            t, side = wall.wall_temperature, int(wall.standing)
            return float(inside_from_properties(found, t, wall.wetted, across, side, 1e4)[0])

    schedule = [n2.Hold("3 min"), n2.Pass("2 s")]
    ours = n2.simulate(car(schedule=schedule))
    theirs = n2.simulate(car(schedule=schedule, model=n2.Model(inside_film=Ours())))
    for name in ("hold0.end_pressure", "pass0.end_pressure"):
        assert psi(theirs, name) == pytest.approx(psi(ours, name), abs=0.1), name


def test_films_see_the_wall_and_are_written_down(garage) -> None:
    model = n2.Model(inside_film=garage.FlatInside(), outside_film=garage.StillAir())
    scenario = there_and_back(car(model=model, schedule=[n2.Hold("5 min")]))
    run = n2.simulate(scenario)
    inside = run["inside_coefficient_W_m2K"]
    assert 80.0 < inside[0, 0, -1] < 800.0
    with pytest.raises(ScenarioError, match="did you mean 'still air'"):
        loads(scenario.to_toml().replace("still air", "still water"))
    with pytest.raises(InputError, match="left out beside inside_film"):
        n2.Model(inside_coefficient=100.0, inside_film=garage.FlatInside())


def test_air_over_the_clock(garage) -> None:
    front = garage.ColdFront("80 degF", "40 degF", "02:00")
    scenario = there_and_back(
        car(**{"ambient.temperature": front, "heater": None, "schedule": [n2.Rest("4 h")]})
    )
    run = n2.simulate(scenario)
    times = np.arange(0.0, 5 * 3600.0, 30.0)
    fine = n2.TemperatureTable(tuple(times), tuple(front.temperature_at(times)))
    exact = n2.simulate(scenario.replace("ambient.temperature", fine))
    ends = [psi(one, "rest0.end_pressure") for one in (run, exact)]
    assert ends[0] == pytest.approx(ends[1], abs=0.05)
    assert front.temperature_at(7200.0) == pytest.approx(288.706, abs=1e-3)


# --- quantity, limit, item ------------------------------------------------------------------------
def test_a_quantity_and_a_limit_are_read_like_ours(garage) -> None:
    run = n2.simulate(car(schedule=[n2.Pass("0.5 s")]))
    share = run.passes[0].used / run.passes[0].start_mass
    assert run.get("pass0.share_used") == pytest.approx(share, rel=1e-12)
    (found,) = [f for f in run.findings if f.code == "garage-drawn"]
    assert found.value == pytest.approx(share, rel=1e-12) and "thousandth" in run.summary()
    study = n2.sweep(run.scenario, {"fill": ["6 lb", "8 lb"]}, workers=1, outputs=["pass0.share*"])
    assert study["pass0.share_used"][1] == pytest.approx(share, rel=1e-9)
    with pytest.raises(InputError, match="name that is free"):
        extend.quantity("used_kg", "flowing", "another", lambda n: n.used)
    with pytest.raises(InputError, match="code that is free"):
        extend.limit(extend.Limit(next(iter(BY_CODE)), "bottle", lambda c: None, "note", ""))
    assert sum(q.name == "share_used" for q in QUANTITIES) == 1


def test_a_schedule_item_is_carried_out(garage) -> None:
    gas = n2.Feed(n2.Jets(1, "0.02 in"), model="spi")
    base = car(feeds={"purge": gas}, schedule=[garage.Vent("0.2 s", "25 %"), n2.Purge("0.2 s")])
    run = n2.simulate(there_and_back(base))
    assert run.get("vent0.used") == pytest.approx(0.25 * run.get("purge0.used"), rel=0.02)
    with pytest.raises(InputError, match="name is free"):
        type("Hold", (extend.Item,), {})


# --- the contract ---------------------------------------------------------------------------------
def test_a_subclass_that_would_be_ignored_is_refused() -> None:
    with pytest.raises(InputError, match=r"Warmer\.power_at.*extending\.md"):

        class Warmer(n2.Heater):
            def power_at(self, voltage: Any = 14.4, temperature: Any = None) -> Any:
                return 500.0


def test_a_switch_with_a_method_that_nobody_calls_is_refused() -> None:
    with pytest.raises(InputError, match=r"Clever\.decide.*Controller"):

        class Clever(n2.PressureSwitch):
            def decide(self, seen: Any) -> bool:
                return True


def test_a_subclass_that_no_file_knows_is_not_written() -> None:
    class Quiet(n2.PressureSwitch):
        def pack(self, record: Any) -> None:
            super().pack(record)

    with pytest.raises(InputError, match="registered"):
        car(switch=Quiet("880 psig", "920 psig")).to_toml()


def test_versions_are_told_apart() -> None:
    extend.require(extend.CONTRACT)
    with pytest.raises(N2OSimError, match="asks for contract 99"):
        extend.require(99)


def test_the_command_line_loads_what_is_installed(tmp_path: Path) -> None:
    """As an installed package would be: its metadata beside it on the path."""
    told = tmp_path / "garage-1.0.dist-info"
    told.mkdir()
    (told / "METADATA").write_text("Metadata-Version: 2.1\nName: garage\nVersion: 1.0\n")
    (told / "entry_points.txt").write_text("[n2osim.extensions]\ngarage = garage\n")
    code = (
        f"import sys; sys.path[:0] = [{str(tmp_path)!r}, {str(GARAGE)!r}]\n"
        "from n2osim import extend, Feed, Jets\n"
        "print(extend.load(), Feed(Jets(1, '1 mm'), model='plain bernoulli').model)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert done.stdout.strip() == "['garage'] plain bernoulli", done.stderr


def test_what_the_page_shows_runs(tmp_path: Path) -> None:
    page = (DOCS / "extending.md").read_text(encoding="utf-8")
    code = "\n".join(b.text for b in blocks(page) if b.language == "python")
    code += """
import n2osim as n2
model = n2.Model(inside_film=MyFilm())
car = n2.Scenario(
    n2.Bottle.preset("aluminium", "10 lb"), fill="8 lb", start="75 degF", model=model,
    ambient=n2.Ambient(MyColdFront("80 degF", "40 degF", "02:00")), heater=n2.Heater("300 W"),
    switch=MyProportional("880 psig", "920 psig"), schedule=[n2.Hold("10 s"), Whiff("0.1 s")],
    feeds={"purge": n2.Feed.effective_area("0.3 mm2", model="my bernoulli")},
)
run = car.run()
print(run.get("whiff0.used") > 0.0, run.get("whiff0.my_share_used") < 0.01)
"""
    mine = tmp_path / "mine.py"
    mine.write_text(code, encoding="utf-8")
    done = subprocess.run([sys.executable, mine], capture_output=True, text=True, timeout=300)
    assert done.stdout.split() == ["True", "True"], done.stderr


def test_a_study_in_other_processes_knows_it(tmp_path: Path) -> None:
    """Workers are started afresh; they know the model by the package's metadata."""
    (tmp_path / "garage-1.0.dist-info").mkdir()
    told = tmp_path / "garage-1.0.dist-info" / "entry_points.txt"
    told.write_text("[n2osim.extensions]\ngarage = garage\n")
    code = """
import multiprocessing
from concurrent.futures import ProcessPoolExecutor
import n2osim as n2
from n2osim import extend

if __name__ == "__main__":
    extend.load()
    car = n2.Scenario(
        n2.Bottle.preset("aluminium", "10 lb"), fill="8 lb", start="75 degF",
        feed=n2.Feed.effective_area("1 mm2", model="plain bernoulli"), schedule=[n2.Pass("0.2 s")],
    )
    afresh = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(1, mp_context=afresh) as pool:
        study = n2.sweep(car, {"fill": ["7 lb", "8 lb"]}, executor=pool)
    print(study.ok.tolist(), abs(study["pass0.used_kg"][1] - car.run().passes[0].used) < 1e-12)
"""
    mine = tmp_path / "mine.py"
    mine.write_text(code, encoding="utf-8")
    path = os.pathsep.join([str(tmp_path), str(GARAGE), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        [sys.executable, mine],
        capture_output=True,
        text=True,
        timeout=300,
        env=os.environ | {"PYTHONPATH": path},
    )
    assert done.stdout.split("]")[0] == "[True, True", done.stderr + done.stdout
    assert "] True" in done.stdout
