"""Scenario files: what they become, that they round-trip, and what their mistakes say."""

import dataclasses

import pytest
from scenario_texts import CHECKS, EVERYTHING, PAIR, SMALL

from n2osim.errors import InputError, ScenarioError
from n2osim.hardware import Bottle, standard_pressure
from n2osim.scenario.file import dump, load, loads
from n2osim.scenario.scenario import Scenario
from n2osim.units import LB, PSI, from_psig


def test_small_file() -> None:
    s = loads(SMALL)
    assert s.title == "small"
    assert s.bottles[0].bottle == Bottle.preset("steel", "10 lb")
    assert s.fill == pytest.approx(9 * LB, rel=1e-15)
    assert s.start == pytest.approx(294.261111, abs=1e-6)  # 70 degF, NIST SP 811
    assert s.schedule[0].duration == 120.0


def test_every_section_arrives() -> None:
    s = loads(EVERYTHING)
    left = s.bottles[0]
    assert left.name == "left" and left.bottle.name == "my bottle"
    assert left.fill == pytest.approx(0.95 * 12 * LB)
    assert left.heater is not None and left.heater.coverage == 0.45
    assert left.heater.cut_out is not None
    assert left.switch is not None and left.switch.rated_switchings == 30
    assert left.switch.offset == pytest.approx(-5 * PSI)
    assert s.clock_start == 18.5 * 3600
    assert s.ambient.pressure == pytest.approx(standard_pressure("1500 ft"))
    assert s.ambient.temperature_at(18 * 3600.0) == pytest.approx(289.8167, abs=1e-3)
    assert s.ambient.enclosure is not None and s.ambient.enclosure.heat_capacity == 15e3
    assert [name for name, _ in s.feeds] == ["main", "second", "purge"]
    assert s.feed is not None and s.feed.line is not None
    assert s.feed.line.bore == pytest.approx(0.344 * 0.0254)  # -6 hose, table in feed.py
    assert s.feed_named("second").jets.cda == pytest.approx(3e-6)
    kinds = [type(i).__name__ for i in s.schedule]
    assert kinds == ["Hold", "Purge", "Pass", "Rest", "Pass", "Rest", "Weigh", "Refill"]
    run = s.schedule[2]
    assert run.stages[1].feed == "second" and run.stages[1].delivery[-1][1] == 1.0
    assert run.window == pytest.approx((850 * PSI, 1200 * PSI))
    assert s.schedule[7].pumped is False


def test_gauge_thresholds_given_as_absolute_use_the_scenario_s_ambient() -> None:
    text = EVERYTHING.replace('opens = "1060 psig"', 'opens = "1060 psia"')
    s = loads(text)
    assert s.switch is not None
    assert s.switch.opens == pytest.approx(1060 * PSI - standard_pressure("1500 ft"))
    assert from_psig(0.0) == 101325.0


def test_two_bottles() -> None:
    s = loads(PAIR)
    assert [b.name for b in s.bottles] == ["left", "right"]
    assert s.bottles[1].follows == "left" and s.bottles[1].switch is None
    assert s.schedule[0].outflow == pytest.approx(0.1 * LB)


def test_what_checks_need() -> None:
    s = loads(CHECKS)
    assert s.model.inside_coefficient == 400.0 and s.model.outside_coefficient == 0.0
    assert s.bottles[0].bottle.heat_capacity == pytest.approx(5e3)
    assert s.bottles[0].bottle.volume == pytest.approx(6.9e-3)


@pytest.mark.parametrize("text", [SMALL, EVERYTHING, PAIR, CHECKS])
def test_dump_loads_back_equal(text: str, tmp_path) -> None:
    first = loads(text)
    path = tmp_path / "out put.toml"
    written = dump(first, path)
    assert path.read_text(encoding="utf-8") == written
    again = load(path)
    assert again == first
    assert dump(again) == written


def test_awkward_texts_survive_the_round_trip() -> None:
    odd = 'quote " back \\ tab \t line \n bell \x07 del \x7f umlaut ü emoji \U0001f600'
    s = loads(SMALL)
    s = dataclasses.replace(s, title=odd, feeds=(('a b.c"d', loads(EVERYTHING).feed),))
    assert loads(dump(s)) == s


def test_dump_does_not_clobber(tmp_path) -> None:
    path = tmp_path / "s.toml"
    path.write_text("mine")
    with pytest.raises(InputError, match="does not exist yet") as caught:
        dump(loads(SMALL), path)
    assert str(caught.value).count("is not usable") == 1  # it was told inside itself
    assert path.read_text() == "mine"
    dump(loads(SMALL), path, overwrite=True)
    assert load(path) == loads(SMALL)


def test_methods_of_scenario(tmp_path) -> None:
    path = tmp_path / "s.toml"
    loads(SMALL).to_toml(path)
    assert Scenario.from_toml(path) == loads(SMALL)


# --- mistakes: (change this, into this, the line that must be named, words that must be there) ---
MISTAKES = [
    ('preset = "carbon-aluminium"', 'preste = "carbon-aluminium"', "preste", "'preset'"),
    ('power = "320 W"', 'powr = "320 W"', "powr", "'power'"),
    ('power = "320 W"', 'power = "320 psi"', "320 psi", "power"),
    ('power = "320 W"', 'power = "-5 W"', "-5 W", "at least 0"),
    ('power = "320 W"', "power = true", "power = true", "a number"),
    ('power = "320 W"', "power = nan", "power = nan", "finite"),
    ('power = "320 W"', "power = inf", "power = inf", "finite"),
    ('closes = "1000 psig"', 'closes = "1070 psig"', "1070 psig", "below opens"),
    ('lag = "2 s"', 'lag = "2 sek"', "2 sek", "'sec'"),
    ("[heater]", "[heatre]", "[heatre]", "'heater'"),
    ('label = "warm"', 'lable = "warm"', "lable", "'label'"),
    ('kind = "purge"', 'kind = "prge"', "prge", "'purge'"),
    ('kind = "purge"', 'x = "purge"', "[[schedule]]", "kind"),
    ('feed = "second"', 'feed = "secnd"', "secnd", "'second'"),
    ("until_open = true", 'until_open = "yes"', "until_open", "true or false"),
    ("nodes_per_layer = 3", "nodes_per_layer = 3.5", "nodes_per", "whole number"),
    ("nodes_per_layer = 3", "nodes_per_layer = 1000", "nodes_per", "1 to 64"),
    ('model = "hem"', 'model = "hme"', "hme", "'hem'"),
    ("count = 2", "count = 2.5", "count = 2.5", "whole number"),
    ('preset = "carbon-aluminium"', 'preset = "carbon-aluminum-x"', "-x", "carbon-aluminium"),
    ('duration = "8 s"', 'duration = "8 lb"', "8 lb", "time"),
    ('window = ["850 psig", "1200 psig"]', 'window = ["850 psig"]', "window", "two pressures"),
    ('window = ["850 psig", "1200 psig"]', "window = 3", "window", "a list"),
    ('window = ["850 psig", "1200 psig"]', 'window = ["1200 psig", "850 psig"]', "window", "above"),
    ('["2 s", 1.0]', '["2 s", 1.5]', "1.5", "out of range"),
    ('["2 s", 1.0]', '["2 s"]', '"2 s"]', "pairs"),
    ("times = 2", "times = 5000", "times", "1 to 1000"),
    ("times = 2", 'times = "two"', "times", "whole number"),
    ('supply_temperature = "70 degF"', 'to_ = "70 degF"', "to_", "not known"),
    ('fill = "95 %"', 'fill = "950 %"', "950", "at most 2 (200.0 %)"),
    ('fill = "95 %"', 'fill = "12 gallons"', "gallons", "mass"),
    ('start = "64 degF"', 'start = "64"', '"64"', "unit"),
    ("[supply]", "[supply]\nx = 1", "x = 1", "not known"),
    ('altitude = "1500 ft"', 'altitude = "1500 ft"\npressure = "1 atm"', "1 atm", "altitude"),
    ("schema = 1", "schema = 7", "schema", "reads schema 1"),
    ("schema = 1", 'schema = "1"', "schema", "reads schema 1"),
    ('title = "every section"', "title = 3", "title", "a text"),
    ('clock_start = "18:30"', 'clock_start = "25:30"', "clock_start", "time"),
    ("[mounting]", "[mounting]\nstanding = 1", "standing", "true or false"),
    ('effective_area = "3 mm2"', 'effective_area = "3 mm2"\njets = {count=1}', "jets", "excludes"),
]


@pytest.mark.parametrize("old, new, where, words", MISTAKES)
def test_mistakes_name_line_and_remedy(old: str, new: str, where: str, words: str) -> None:
    assert EVERYTHING.count(old) >= 1
    text = EVERYTHING.replace(old, new, 1)
    with pytest.raises(ScenarioError) as caught:
        loads(text, "car.toml")
    error = caught.value
    row = text.splitlines()[error.line - 1]
    assert where in row, f"line {error.line}: {row}\n{error}"
    assert words in str(error), str(error)
    assert str(error).startswith(f"car.toml, line {error.line}: ")
    assert len(str(error)) < 700


WHOLE = [
    ("", "schema"),
    ("schema = 1", r"\[bottle\]"),
    (SMALL + "\n[[bottles]]\n", r"\[\[bottles\]\]"),
    ("schema = 1\nbottle = 3", r"table"),
    ("schema = 1\n[[bottle]]\nx = 1", r"must be a table"),
    ("schema = 1\nbottles = 'x'", r"list of tables"),
    ("schema = 1\n[bottle]\npreset = 'steel'", "needs 'fill'"),
    ("schema = 1\n[bottle]\nfill = '5 lb'\nstart = '60 degF'", "preset"),
    (SMALL + "schedule = 3", "valid TOML|not known"),
    (SMALL.replace("[[schedule]]", "[schedule]"), "two brackets"),
    (SMALL + '\n[[schedule]]\nkind = "pass"\nduration = "3 s"', "no feed"),
    (SMALL + '\n[[schedule]]\nkind = "hold"', "needs 'duration'"),
    (SMALL + "\n[ambient]\ntemperature = 1979-05-27", "ambient temperature"),
    (PAIR.replace('follows = "left"', 'follows = "lft"'), "lft"),
    (PAIR.replace('name = "right"', 'name = "left"'), "all different"),
    (PAIR + "\n[heater]\npower = 3", "belongs to one bottle"),
    (SMALL + '\n[[schedule]]\nkind = "repeat"\ntimes = 3', "repeats nothing"),
]


@pytest.mark.parametrize("text, words", WHOLE)
def test_mistakes_of_the_whole(text: str, words: str) -> None:
    with pytest.raises(ScenarioError, match=words):
        loads(text, "car.toml")


def test_missing_file_and_directory(tmp_path) -> None:
    with pytest.raises(ScenarioError, match="cannot be read"):
        load(tmp_path / "nothing.toml")
    with pytest.raises(ScenarioError, match="cannot be read"):
        load(tmp_path)
    with pytest.raises(ScenarioError, match="cannot be read"):
        load("bad\0name.toml")
