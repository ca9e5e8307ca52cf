"""A few thousand random scenarios and pairs: always the same ones, so that a failure is a change.

The long campaign (``campaign.py``) is the same with other dice and a hundred thousand scenarios.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import campaign
import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from monotone import RULES
from random_scenarios import Dice, Drawn, scenario, scenarios
from run_checks import ends_soundly, measures, problems

from n2osim.errors import InputError, IntegrationError
from n2osim.physics.charge import pressure_at
from n2osim.results.run import simulate
from n2osim.scenario.scenario import Scenario

DICED, SEARCHED, PAIRS = 1500, 500, 200
STEADY: dict[str, Any] = {
    "deadline": None,
    "derandomize": True,
    "database": None,
    "phases": (Phase.explicit, Phase.generate),  # shrinking can take minutes
    "suppress_health_check": list(HealthCheck),
}


def wrong_with(one: Scenario) -> list[str]:
    """What is wrong with a scenario's run; anything but the project's errors comes through."""
    try:
        return problems(simulate(one))
    except InputError:
        return []
    except IntegrationError as error:
        run = error.partial_run
        assert error.advice and run is not None
        return problems(run) + ([] if ends_soundly(error) else [str(error)])


@pytest.mark.campaign
def test_diced_scenarios_through_the_ensemble_engine() -> None:
    """Finite, in range, closed, second law kept, findings computable: every one of them."""
    with ProcessPoolExecutor(2) as pool:
        found = campaign.batch(0, DICED, pool, 0)
    assert found["failures"] == {}
    assert sum(found["endings"].values()) == DICED
    assert found["endings"]["through its schedule"] > 0.9 * DICED
    assert found["mass"] < 1e-9
    assert max(found["fluid_energy"], found["shell_energy"]) < 1e-6


@pytest.mark.campaign
@settings(max_examples=SEARCHED, **STEADY)
@given(scenarios())
def test_searched_scenarios(one: Scenario) -> None:
    """The same, with values chosen by a search that likes corners."""
    assert wrong_with(one) == []


@pytest.mark.parametrize("rule", RULES, ids=lambda r: r.__name__)
def test_pairs_go_the_way_physics_says(rule: Callable[..., list[str]]) -> None:
    @settings(max_examples=PAIRS, **STEADY)
    @given(st.data())
    def pairs(data: Any) -> None:
        assert rule(Drawn(data.draw)) == []

    pairs()


@settings(max_examples=1000, **STEADY)
@given(st.floats(233.15, 344.26), st.floats(1e-6, 80.0), st.floats(0.02, 1.05))
def test_pressure_rises_with_temperature_at_any_charge(T: float, more: float, full: float) -> None:
    charge = 6.804 * full  # kg in 10 litres
    low, high = pressure_at(np.array([T, min(T + more, 345.0)]), charge, 0.01)
    assert high > low or min(T + more, 345.0) == T


def test_the_checks_can_fail() -> None:
    """A run with one thing spoiled is found out: the checks are not asleep."""
    run = next(r for r in map(_completed, range(100)) if r is not None and len(r.time) > 20)
    assert problems(run) == [] and measures(run)["wrong"] == 0.0
    for name, spoil, word in (
        ("pressure_Pa", np.nan, "not finite"),
        ("mass_kg", 1.001, "mass"),
        ("fluid_temperature_K", 1.001, "fluid_energy"),
        ("heater_energy_J", 1.01, "shell_energy"),
        ("wall_temperature_K", 0.999, "shell_energy"),
    ):
        values = run[name].copy()
        values[..., len(run.time) // 2] *= spoil
        variable = type(run.variables[name])(values, *_rest(run.variables[name]))
        broken = type(run)(
            run.scenario,
            run.variables | {name: variable},
            run.events,
            run.records,
            run.ending,
            run.statistics,
        )
        assert word in " ".join(problems(broken)), name


def _completed(seed: int) -> Any:
    one = scenario(Dice(seed))
    if len(one.bottles) > 1 or one.bottles[0].heater is None or one.model.two_zone is not None:
        return None
    try:
        run = simulate(one)
    except (InputError, IntegrationError):
        return None
    return run if run["heater_energy_J"][0, -1] > 1e4 else None


def _rest(variable: Any) -> tuple[Any, ...]:
    return variable.unit, variable.dims, variable.description


def test_the_campaign_goes_on_where_it_stopped(tmp_path: Path, capsys: Any) -> None:
    """Batches on file are not computed again; another engine's file is refused."""
    file = tmp_path / "c.jsonl"
    assert campaign.run(20, 0, 10, 1, 10, file) == 0
    lines = file.read_text().splitlines()
    assert [json.loads(x)["first"] for x in lines[1:]] == [0, 10]
    file.write_text("\n".join(lines[:2]) + "\n")  # as if stopped after the first batch
    assert campaign.run(20, 0, 10, 1, 10, file) == 0
    again = [json.loads(x) for x in file.read_text().splitlines()]
    assert [b["first"] for b in again[1:]] == [0, 10]
    first, second = (dict(json.loads(x)) for x in (lines[2], json.dumps(again[2])))
    assert {k: v for k, v in first.items() if k != "seconds"} == {
        k: v for k, v in second.items() if k != "seconds"
    }
    assert '"scenarios": 20' in capsys.readouterr().out
    file.write_text(json.dumps({"engine": "another"}) + "\n")
    with pytest.raises(SystemExit, match="another engine"):
        campaign.run(20, 0, 10, 1, 10, file)
