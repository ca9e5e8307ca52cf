"""``n2osim weigh``: readings in, jets out, mistakes named."""

import json

import pytest

import n2osim as n2
from n2osim.cli import main
from n2osim.scenario.file import load

CAR = """\
schema = 1
title = "a car to weigh"

[bottle]
preset = "aluminium"
capacity = "10 lb"
fill = "9 lb"
start = "80 degF"

[feed]
jets = { count = 2, bore = "0.04 in" }

[[schedule]]
kind = "pass"
duration = "8 s"
"""
LB, PSI = 0.45359237, 6894.757


@pytest.fixture
def car(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "car.toml"
    path.write_text(CAR)
    return path


def readings(car, cd: float) -> list[str]:
    """What scale, watch and gauge say of a pass with jets of that coefficient."""
    scenario = load(car)
    jets = n2.Jets(2, "0.04 in", cd)
    run = n2.simulate(scenario.replace(feeds=(("main", n2.Feed(jets)),)))
    empty = scenario.bottles[0].bottle.empty_mass
    before, after = ((m + empty) / LB for m in run["mass_kg"][0][[0, -1]])
    gauge = run["pressure_gauge_Pa"][0] / PSI
    return [f"{before:.3f} lb", f"{after:.3f} lb", "8 s", f"{gauge[0]:.1f} psig"]


def test_weighing_gives_the_coefficient_and_a_scenario_to_go_on_with(car, capsys):
    one = readings(car, 0.7)
    given = ["--pass", *one, "--pass", *one, "--timing-error", "0.05 s"]
    assert main(["weigh", "car.toml", *given, "--save", "mine.toml", "--json", "out.json"]) == 0
    said = capsys.readouterr().out
    assert "cd per jet       0.70" in said and "2 weighed pass(es)" in said
    assert "frost" in said.lower() or "burns" in said.lower() or "cautions" in said.lower()
    found = json.loads((car.parent / "out.json").read_text())
    assert found["cd"] == pytest.approx(0.7, rel=5e-3)
    low, high = found["cd_interval"]
    assert low < 0.7 < high and (high - low) / 1.4 == pytest.approx(found["half_width"], rel=0.02)
    mine = load(car.parent / "mine.toml")
    jets = mine.feed.jets
    assert (jets.count, jets.bore) == (2, pytest.approx(0.04 * 0.0254))
    assert jets.cd == pytest.approx(0.7, rel=5e-3) and jets.cd_spread == found["half_width"]
    assert len(mine.weighed) == 2
    assert main(["weigh", "mine.toml"]) == 0  # the readings are in the file


@pytest.mark.parametrize(
    "given, words",
    [
        (["--pass", "27 lb", "25 lb", "8 s"], "BEFORE AFTER SECONDS GAUGE"),
        (["--pass", "25 lb", "27 lb", "8 s", "900 psig"], "less after than before"),
        (["--pass", "2 lb", "1 lb", "8 s", "900 psig"], "above the empty bottle's"),
        (["--pass", "60 lb", "58 lb", "8 s", "900 psig"], "check gauge and scale"),
        ([], "one pass or more"),
    ],
)
def test_mistakes_are_named(given, words, car, capsys):
    assert main(["weigh", "car.toml", *given]) != 0
    assert words in capsys.readouterr().err
