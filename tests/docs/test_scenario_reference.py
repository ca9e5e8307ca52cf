"""The scenario-file reference says what the code does, and its examples run."""

from __future__ import annotations

import dataclasses
import re
from importlib.resources import files

import pytest

import n2osim as n2
from n2osim.docs.keys import EXAMPLES
from n2osim.docs.make_tables import scenario_reference
from n2osim.fluid import state
from n2osim.hardware import build  # noqa: F401 - every part is known then
from n2osim.scenario.read import SECTIONS
from n2osim.scenario.schedule import Item
from n2osim.schema import Part, declared

FILES = sorted(EXAMPLES.glob("*.toml"))


def test_every_section_and_key_of_the_reader_is_in_the_page():
    page = scenario_reference()
    for name in SECTIONS:
        assert f"`{name}`" in page or f"[{name}" in page, name
    for cls in _parts(Part):
        ways = list(cls.ways)
        for key in [k for k in declared(cls) if k not in NOT_KEYS.get(cls.__name__, ())] + ways:
            assert f"| `{key}` |" in page, (cls.__name__, key)


# Fields that a file gives by a section instead of a key, and what a file never holds.
NOT_KEYS = {
    "Scenario": ("bottles", "schedule", "ambient", "feeds", "engine", "supply", "model", "numerics")
    + ("title", "clock_start", "weighed"),
    "FittedBottle": ("bottle", "heater", "switch", "mounting"),
    "Bottle": ("name",),
    "Material": ("notes",),
    "Surface": ("emissivity", "absorptivity"),
    "ConstantAir": ("temperature",),
    "Controller": ("period",),
    "InsideFilm": ("period",),
    "OutsideFilm": ("period",),
}


def _parts(cls: type[Part]) -> list[type[Part]]:
    found = [c for sub in cls.__subclasses__() for c in (sub, *_parts(sub))]
    in_a_file = ("n2osim.scenario.", "n2osim.hardware.")
    return [
        c
        for c in found
        if dataclasses.is_dataclass(c) and c is not Item and c.__module__.startswith(in_a_file)
    ]


def test_every_example_is_in_the_page():
    page = scenario_reference()
    assert len(FILES) == 3
    for path in FILES:
        assert path.read_text(encoding="utf-8").strip() in page


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
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
    rows = [line for line in scenario_reference().splitlines() if "no fault" in line]
    assert [row.split("|")[1].strip() for row in rows] == ["`fault`"]


def test_the_limits_in_the_page_are_those_that_are_enforced():
    """A value just outside the range that the page prints is refused, one inside is taken."""
    kind = declared(n2.Model)["two_zone"].kind
    assert (kind.dimension, kind.low, kind.high) == ("number", 0.0, 1e8)
    hold = declared(n2.Hold)["duration"].kind
    n2.Hold(hold.high)
    with pytest.raises(n2.N2OSimError, match="hold duration"):
        n2.Hold(hold.high * 1.001)


def test_closed_form_example_against_paper():
    """What its comments promise: heat in = m (u2 - u1) + C (T2 - T1), and 50 g/s for 20 s."""
    scenario = n2.Scenario.from_toml(EXAMPLES / "closed_form.toml")
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
