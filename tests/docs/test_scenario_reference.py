"""The scenario-file reference says what the code does, and its examples run."""

from __future__ import annotations

import dataclasses
import re
from importlib.resources import files

import pytest

import n2osim as n2
from n2osim.docs import make_scenario_reference as reference
from n2osim.docs._fields import parsed_as
from n2osim.fluid import state
from n2osim.scenario.read_sections import EXTRA_KEYS, NESTED, SECTIONS

EXAMPLES = sorted(reference.EXAMPLES.glob("*.toml"))


def test_reference_is_up_to_date():
    written = reference.TARGET.read_text(encoding="utf-8")
    assert written == reference.page(), "run: python -m n2osim.docs.make_scenario_reference"


def test_every_section_and_key_of_the_reader_is_in_the_page():
    page = reference.page()
    for name in SECTIONS:
        assert f"`{name}`" in page or f"[{name}" in page, name
    for cls in {*NESTED.values(), *(c for c, _ in NESTED), *EXTRA_KEYS}:
        keys = [f.name for f in dataclasses.fields(cls) if f.name not in ("name", "notes")]
        for key in (*keys, *EXTRA_KEYS.get(cls, ())):
            assert f"| `{key}` |" in page, (cls.__name__, key)


def test_every_example_is_in_the_page():
    page = reference.page()
    assert len(EXAMPLES) == 3
    for path in EXAMPLES:
        assert path.read_text(encoding="utf-8").strip() in page


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_example_runs_to_its_end_and_closes(path):
    run = n2.simulate(n2.Scenario.from_toml(path))
    assert run.ending == "schedule complete"
    assert max(run.closure().values()) < 1e-9
    assert not [f for f in run.findings if f.severity == "danger"]
    assert not [f for f in run.findings if f.code in ("rich", "lean")]


def test_the_template_with_its_engine_taken_in_is_neither_rich_nor_lean(tmp_path):
    text = (files("n2osim") / "data" / "new.toml").read_text(encoding="utf-8")
    block = re.search(r"^# \[engine\]\n(# .*\n)+", text, re.MULTILINE)[0]
    lines = [line[2:] for line in block.splitlines() if "efficiency" not in line]  # or bsfc
    path = tmp_path / "car.toml"
    path.write_text(text.replace(block, "\n".join(lines) + "\n"), encoding="utf-8")
    run = n2.simulate(n2.Scenario.from_toml(path))
    assert run.engine.passes[0].mixture.mean == pytest.approx(1.15, abs=0.02)
    assert "efficiency" in block and re.search(r"^# duration = .*\n# pumped", text, re.MULTILINE)


def test_only_a_fault_is_said_to_be_left_out_for_no_fault():
    rows = [line for line in reference.page().splitlines() if "no fault" in line]
    assert [row.split("|")[1].strip() for row in rows] == ["`fault`"]


def test_watching_the_parser_finds_the_limits_that_it_enforces():
    """A value just outside the range that the page prints is refused, one inside is taken."""
    seen = parsed_as(n2.Model, "two_zone")
    assert (seen.dimension, seen.low, seen.high) == ("number", 0.0, 1e8)
    hold = parsed_as(n2.Hold, "duration")
    n2.Hold(hold.high)
    with pytest.raises(n2.N2OSimError, match="hold duration"):
        n2.Hold(hold.high * 1.001)


def test_closed_form_example_against_paper():
    """What its comments promise: heat in = m (u2 - u1) + C (T2 - T1), and 50 g/s for 20 s."""
    scenario = n2.Scenario.from_toml(reference.EXAMPLES / "closed_form.toml")
    run = n2.simulate(scenario)
    hold, rest = run.holds[0], run.rests[0]
    rho = 4.4 / 8e-3
    fluid = 4.4 * (state(hold.end_temperature, rho).u - state(290.0, rho).u)
    wall = run["wall_temperature_K"][0]
    row = int((run["segment"] == 0).sum()) - 1
    shell = 5e3 * (wall[:, 0, row].mean() - 290.0)
    assert hold.energy == pytest.approx(fluid + shell, rel=2e-4)
    assert hold.energy == pytest.approx(300.0 * hold.warm_up_time, rel=1e-9)
    assert hold.end_pressure == pytest.approx(65e5, rel=1e-6)
    assert run.passes[0].used == pytest.approx(1.0, rel=1e-9)
    assert rest.end_mass == pytest.approx(3.4, rel=1e-9)
    assert run["loss_W"].max() == 0.0
