"""The set-up sheet: complete, escaped, self-contained, and its numbers those of the studies."""

import dataclasses
import re
from functools import lru_cache
from html.parser import HTMLParser

import matplotlib
import pytest
from report_runs import scenario

import n2osim as n2
from n2osim.errors import InputError
from n2osim.numbers import Units
from n2osim.physics.charge import pressure_at
from n2osim.report import sheet_tables as tables
from n2osim.report.sheet import PROGRESS, SetUpSheet, set_up_sheet, write_sheet
from n2osim.units import PSI

matplotlib.use("Agg")
UNITS = Units("shop")
VOID = {"meta", "br", "path", "use", "rect", "image"}


@lru_cache
def car() -> n2.Scenario:
    """One bottle with everything that the sheet speaks of."""
    return scenario(
        heater=n2.Heater("400 W"),
        switch=n2.PressureSwitch("880 psig", "920 psig"),
        feeds={"main": n2.Feed(n2.Jets(1, "0.06 in"), model="hem")},
        engine=n2.EngineSide(fuel_jets=n2.Jets(1, "0.025 in"), fuel_pressure="43 psig"),
        schedule=[n2.Hold("40 min"), n2.Pass("8 s", label="first")],
        title='An <invented> car & "friends"',
    )


@lru_cache
def sheet() -> SetUpSheet:
    return SetUpSheet.of(car(), date="2024-05-06")


class Reader(HTMLParser):
    """Checks that elements close in order; keeps the text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text: list[str] = []
        self.tags: set[str] = set()

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        assert not any(name.startswith("on") for name, _ in attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.add(tag)

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


def test_says_everything_that_was_asked_for() -> None:
    text = " ".join(" ".join(read(sheet().html()).text).split())
    for word in (
        "What is fitted",
        "heater comes on at",
        "880",
        "920",
        "Pressure by bottle weight",
        "Warm-up by weather",
        "Passes per fill",
        "Jets",
        "Before the run",
        "torqued",
        "paint-marked",
        "Line fittings",
        "vent",
        "fuse",
        "Limits and cautions",
        "2024-05-06",
        f"n2osim {n2.__version__}",
        "What this rests on",
        "highest pressure",
        "overshoot",
        "hottest wall",
        "heater delivers",
        "taken from the battery",
    ):
        assert word in text, word
    assert text.index("Limits and cautions") < text.index("What is fitted")
    assert "flame" in text and "relief device" in text


def test_is_self_contained_and_harmless() -> None:
    html = sheet().html()
    reader = read(html)
    assert not reader.tags & {"script", "link", "iframe", "img", "object", "base", "form"}
    fetched = re.findall(r"""(?:src|href)\s*=\s*["']([^"'#][^"']*)""", html)
    assert fetched == [] and "@import" not in html and "url(http" not in html
    assert "default-src 'none'" in html
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r"url\(#([^)]+)\)", html)) <= set(ids)


def test_titles_are_escaped() -> None:
    html = sheet().html()
    assert "An &lt;invented&gt; car &amp; &quot;friends&quot;" in html
    assert "<invented>" not in html


def test_weights_stand_at_the_pressure_they_say() -> None:
    """Every row's temperature gives the gauge pressure again with P(T, m/V)."""
    run = n2.simulate(car())
    gauge = tables.reference_pressure(run)
    assert gauge == car().switch.opens
    table = tables.weight_table(run, UNITS)
    bottle = car().bottles[0].bottle
    assert len(table.rows) >= 7
    for scale, charge, full, at, flow, _ in table.rows:
        kg = float(charge) * 0.45359237
        assert float(scale) - float(charge) == pytest.approx(
            bottle.empty_mass / 0.45359237, abs=0.011
        )
        assert float(full) == pytest.approx(100.0 * kg / bottle.capacity, abs=0.6)
        T = (float(at) + 459.67) / 1.8
        p = float(pressure_at(T, kg, bottle.volume)) - car().ambient.pressure
        # the table rounds to 0.1 degF and 0.01 lb: 1.3 psi on the saturation line
        assert p / PSI == pytest.approx(gauge / PSI, abs=2.0)
        assert 0.0 < float(flow) <= 101.0
    assert table.rows[0][4] == "100" and table.rows[0][5] == f"{gauge / PSI:.0f}"


def test_a_set_pressure_brings_the_flow_back() -> None:
    """Set as the sheet says, the pass has the first row's mean flow within the rounding."""
    from n2osim.answers.judge import at_rest, first_pass, full_flow

    run = n2.simulate(car())
    gauge, item = tables.reference_pressure(run), first_pass(car())
    rows = tables.weight_table(run, UNITS).rows

    def mean(kg, p):
        return full_flow(n2.simulate(at_rest(car(), kg / car().fill, p, item)), 0).mean

    first = mean(car().fill, gauge)
    told = [r for r in rows[1:] if r[5].isdecimal()]
    assert told
    for row in told:
        kg, p = float(row[1]) * 0.45359237, float(row[5]) * PSI
        assert mean(kg, p) == pytest.approx(first, rel=0.012)


def test_refuses_to_name_a_pressure_for_a_hot_bottle() -> None:
    """20 % of a fill reads the band only far above 125 degF: refill, whatever the gauge."""
    run = n2.simulate(car())
    last = tables.weight_table(run, UNITS).rows[-1]
    assert float(last[3]) > 125.0 and last[5] == "refill first"


def test_never_advises_to_fill_a_bottle_with_liquid() -> None:
    """A raised pressure is only named where vapour is left above the liquid, under the mark."""
    from n2osim.physics.charge import liquid_full_temperature, temperature_for_pressure

    full = car().replace(fill="10.4 lb", switch=n2.PressureSwitch("1000 psig", "1100 psig"))
    run = n2.simulate(full)
    gauge = tables.reference_pressure(run)
    bottle = full.bottles[0].bottle
    rows = tables.weight_table(run, UNITS).rows
    assert any(r[5] == "not advised" for r in rows)
    for row in rows[1:]:
        if row[5].isdecimal() and float(row[5]) > gauge / PSI + 1.0:
            kg, p = float(row[1]) * 0.45359237, float(row[5]) * PSI + full.ambient.pressure
            density = kg / bottle.volume
            if density > 452.0:  # critical density, Lemmon and Span 2006
                T = float(temperature_for_pressure(p, kg, bottle.volume))
                assert float(liquid_full_temperature(density)) > T


def test_a_dangerous_set_up_says_stop_first() -> None:
    hot = car().replace(heater=n2.Heater("2000 W"), fill="10.5 lb", title="hot")
    made = SetUpSheet.of(hot, figures=False)
    assert any(f.severity == "danger" for f in made.findings)
    text = " ".join(read(made.html()).text)
    assert "Do not run this set-up as it stands" in text
    assert text.index("Do not run") < text.index("heater comes on at")
    calm = SetUpSheet.of(scenario(), figures=False)
    assert "Do not run" not in " ".join(read(calm.html()).text)


def test_warm_up_by_weather_is_what_simulate_says() -> None:
    table = tables.weather_table(car(), UNITS)
    assert [r[0] for r in table.rows] == ["30.0", "45.0", "60.0", "75.0", "90.0"]
    cold = table.rows[2]
    T = (60.0 + 459.67) / 1.8
    run = n2.simulate(
        car().replace(start=T, ambient=n2.Ambient(T), schedule=[n2.Hold("4 h", until_open=True)])
    )
    assert cold[2] == f"{run.holds[0].warm_up_time / 60.0:.1f} min"
    minutes = [float(r[2].split()[0]) for r in table.rows[:3]]
    assert minutes[0] > minutes[1] > minutes[2]
    assert table.rows[4][2] == "above the band"


def test_passes_and_refill_agree_with_the_studies() -> None:
    from n2osim.answers.passes import passes_per_fill

    words = tables.pass_words(n2.simulate(car()), UNITS)
    assert words.count == passes_per_fill(car())["count"]
    assert words.refill and words.refill in " ".join(words.sentences)


def test_units_of_the_sheet() -> None:
    text = " ".join(read(set_up_sheet(car(), system="si", figures=False)).text)
    assert "kPa gauge" in text and "\u00b0C" in text
    assert "psig" not in text and "\u00b0F" not in text and "lb/min" not in text


def test_little_to_go_by() -> None:
    """A bottle at rest without heater, jets or pass still has a sheet."""
    made = SetUpSheet.of(scenario(), figures=False)
    block = made.bottles[0]
    assert block.weights is None and block.weather is None and made.jets == ()
    assert "no pass" in made.passes[0]
    read(made.html())
    read(SetUpSheet.of(scenario(schedule=[]), figures=False).html())


def test_two_bottles() -> None:
    from report_runs import pair

    made = SetUpSheet.of(pair(), figures=False)
    names = [f"Bottle {b.name}" for b in pair().scenario.bottles]
    assert [h for h, _ in made.facts if h.startswith("Bottle")] == names
    read(made.html())


def test_progress_is_told_in_order() -> None:
    seen: list[str] = []
    SetUpSheet.of(scenario(), figures=False, progress=seen.append)
    assert tuple(seen) == PROGRESS


def test_written_to_a_file_once(tmp_path) -> None:
    path = tmp_path / "car.html"
    write_sheet(scenario(), path, figures=False)
    read(path.read_text(encoding="utf-8"))
    with pytest.raises(InputError, match="does not exist yet"):
        write_sheet(scenario(), path, figures=False)
    write_sheet(scenario(), path, figures=False, overwrite=True)
    with pytest.raises(InputError, match=r"ending in \.html"):
        write_sheet(scenario(), tmp_path / "car.pdf", figures=False)


def test_same_scenario_same_sheet() -> None:
    """Nothing in it depends on when or how often it is made, but the date given."""
    assert SetUpSheet.of(car(), date="2024-05-06").html() == sheet().html()


def test_in_a_notebook_it_is_boxed_in() -> None:
    shown = sheet()._repr_html_()
    assert shown.startswith("<iframe sandbox") and "<script" not in shown


@lru_cache
def two_bottles() -> n2.Run:
    """An unlike pair with both heaters on one switch, an engine, and one pass."""
    bottle = n2.Bottle.preset("aluminium", "10 lb")
    parts = [
        n2.FittedBottle(
            bottle,
            "9 lb",
            "80 degF",
            name="left",
            heater=n2.Heater("200 W"),
            switch=n2.PressureSwitch("880 psig", "920 psig"),
        ),
        n2.FittedBottle(
            bottle, "7 lb", "84 degF", name="right", heater=n2.Heater("100 W"), follows="left"
        ),
    ]
    return n2.simulate(
        n2.Scenario(
            parts,
            ambient=n2.Ambient("70 degF"),
            feeds={"main": n2.Feed(n2.Jets(1, "0.06 in"), model="hem")},
            engine=n2.EngineSide("E85", fuel_jets=n2.Jets(1, "0.03 in"), fuel_pressure="45 psig"),
            schedule=[n2.Hold("10 min"), n2.Pass("8 s")],
        )
    )


def test_a_bottle_that_leaves_the_range_is_shown_as_hot_as_it_got() -> None:
    bare = dataclasses.replace(n2.Bottle.preset("aluminium", "10 lb"), relief_pressure=None)
    left = n2.FittedBottle(bare, 3.0, 280.0, "left")
    right = n2.FittedBottle(bare, 4.0, 300.0, "right", n2.Heater(8000.0))
    run = n2.simulate(n2.Scenario([left, right], schedule=[n2.Hold("2 h")]))
    assert list(run.frozen) == ["right"]
    by = {t.name: t for t in SetUpSheet.of(run, figures=False).tiles}
    for name in ("highest pressure", "hottest wall"):
        low, high = by[name].number.split(" / ")
        assert float(high) > 1.2 * float(low)


@lru_cache
def two_sheet() -> SetUpSheet:
    return SetUpSheet.of(two_bottles(), date="2024-05-06", figures=False)


def test_the_first_pass_of_two_bottles_is_what_the_jets_got() -> None:
    run, note = two_bottles(), two_sheet().jets[0].note
    left, right = (p for p in run.passes)
    out = run["outflow_kg_s"][:, run["segment"] == run.passes[0].index].sum(axis=0)
    time = run.time[run["segment"] == run.passes[0].index]
    drawn = float(((out[1:] + out[:-1]) / 2 * (time[1:] - time[:-1])).sum()) / 0.45359237
    said = float(re.search(r"First pass: ([\d.]+) lb", note)[1])
    assert said == pytest.approx(drawn, rel=0.02)
    assert abs(said - left.used / 0.45359237) > 0.05  # the first bottle's own net figure is another
    for one in (left, right):
        assert f'"{one.bottle}" {UNITS.full(one.pressure_sag, "pressure_difference")}' in note


def test_charge_and_passes_of_two_bottles_count_both() -> None:
    made = two_sheet()
    assert [t.number for t in made.tiles if t.name == "charge"] == ["9.00 / 7.00"]
    assert "from 16.00 lb" in made.passes[0]


def test_both_bottles_figures_are_on_the_sheet() -> None:
    """Tiles give each bottle's number; weights have a table for each bottle."""
    run, made = two_bottles(), two_sheet()
    tiles = {t.name: t.number for t in made.tiles}
    assert tiles["charge"] == "9.00 / 7.00" and tiles["heater comes on at"] == "880"
    peaks = [max(run["pressure_gauge_Pa"][i]) / PSI for i in (0, 1)]
    starts = [p.start_pressure / PSI for p in run.passes]
    for name, each in (("highest pressure", peaks), ("reads at the launch", starts)):
        texts = [f"{p:.0f}" for p in each]
        assert tiles[name] == (" / ".join(texts) if len(set(texts)) > 1 else texts[0])
    assert [b.weights.title for b in made.bottles] == [
        f'Temperature by bottle weight: "{b.name}"' for b in run.scenario.bottles
    ]
    assert [b.weather and b.weather.title for b in made.bottles] == [
        'Warm-up by weather: "left"',
        None,
    ]
    assert "in the order of the bottles: left / right" in made.assumptions[0]


def test_bottles_that_are_alike_share_their_tables() -> None:
    bottle = n2.Bottle.preset("aluminium", "10 lb")
    names = ("left", "right")
    fitted = [n2.FittedBottle(bottle, "8 lb", "60 degF", name=n) for n in names]
    made = SetUpSheet.of(n2.Scenario(fitted, schedule=[n2.Rest("1 min")]), figures=False)
    assert [b.names for b in made.bottles] == [names]


def test_heaters_on_one_switch_share_a_fuse() -> None:
    wiring = [c for c in two_sheet().checks if c.startswith("Heater wiring")]
    assert len(wiring) == 1 and f"{300 / 14.4:.1f} A" in wiring[0]  # I = P / V of both
    assert "2 heaters" in wiring[0]


def test_facts_name_each_thing_once() -> None:
    for made in (sheet(), two_sheet()):
        assert sum(head == "Engine" for head, _ in made.facts) == 1


def test_every_bottle_has_its_own_marks() -> None:
    left, right = (n2.Bottle.preset(kind, "10 lb") for kind in ("aluminium", "steel"))
    right = dataclasses.replace(right, service_pressure="1500 psig")
    fitted = [
        n2.FittedBottle(b, "8 lb", "60 degF", name=n) for b, n in ((left, "left"), (right, "right"))
    ]
    made = SetUpSheet.of(n2.Scenario(fitted, schedule=[n2.Rest("1 min")]), figures=False)
    heads = [head for head, _ in made.facts]
    for name, bottle in (("left", left), ("right", right)):
        head, text = made.facts[heads.index(f"Bottle {name}") + 1]
        assert head == "Marked"
        assert f"service {UNITS.full(bottle.service_pressure, 'gauge_pressure')}" in text


def test_the_rule_for_a_pass_is_that_of_size_passes() -> None:
    from n2osim.answers.judge import PassLimits

    assert f"A pass counts while {PassLimits().words()}." in sheet().passes[0]


def test_a_charge_without_liquid_is_to_be_refilled_of_several_bottles_too() -> None:
    """3.6 lb in a 10 lb bottle read 950 psig as gas; only above 125 degF it was said."""
    bottle = n2.Bottle.preset("aluminium", "10 lb")
    switch = n2.PressureSwitch("900 psig", "950 psig")
    pair = [
        n2.FittedBottle(bottle, "9 lb", "60 degF", name, n2.Heater("300 W"), switch)
        for name in ("left", "right")
    ]
    two = n2.Scenario(pair, feed=n2.Feed(n2.Jets(1, "0.04 in")), schedule=[n2.Pass("2 s")])
    table = tables.weight_table(n2.simulate(two), UNITS)
    by = {row[1]: row[-1] for row in table.rows}
    assert by["3.60"] == "refill first" and by["4.50"] == ""
