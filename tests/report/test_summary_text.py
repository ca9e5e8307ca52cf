"""The plain-language summary: what it says, in which order, in both unit systems."""

import dataclasses
import re

import matplotlib
import pytest
from report_runs import evening, pair, run

import n2osim as n2
from n2osim.errors import UnknownNameError
from n2osim.numbers import Units, instant, lasting
from n2osim.report import plots
from n2osim.report.blocks import Table
from n2osim.report.text import summary, summary_html, table_text
from n2osim.text import WIDEST
from n2osim.units import PSI

matplotlib.use("Agg")


def test_findings_and_cautions_come_before_the_numbers() -> None:
    text = evening().summary()
    places = [
        text.index(w)
        for w in (
            "FINDINGS",
            "CAUTIONS, ALWAYS",
            "IN SHORT",
            "Bottle",
            "WHAT HAPPENED",
            "HOLDS",
            "PASSES",
            "WEIGHINGS",
            "EVENTS",
            "Closure",
        )
    ]
    assert places == sorted(places)
    for words in ("flame", "relief device", "ventilate", "local codes"):
        assert words in text


def test_numbers_are_those_of_the_run() -> None:
    result, text = evening(), evening().summary()
    first = result.passes[0]
    row = next(line for line in text.split("PASSES")[1].splitlines() if "first" in line)
    numbers = [float(x) for x in re.findall(r"-?\d+\.?\d*", row.split(")")[1])]
    psi = 6894.757293168362
    assert numbers[0] == pytest.approx(first.start_pressure / psi, abs=0.51)
    assert numbers[3] == pytest.approx(first.pressure_sag / psi, abs=0.51)
    assert numbers[4] == pytest.approx(first.used / 0.45359237, abs=0.0051)
    hold = result.holds[0]
    assert f"{hold.warm_up_time / 60:.1f} min" in text.split("HOLDS")[1]


def test_shop_and_si_say_the_same_thing() -> None:
    shop, si = evening().summary("shop"), evening().summary("si")
    assert "psig" in shop and "degF" in shop and "kPa" not in shop
    assert "kPa gauge" in si and "degC" in si and "psi" not in si and "degF" not in si
    assert len(shop.splitlines()) == pytest.approx(len(si.splitlines()), abs=6)
    with pytest.raises(UnknownNameError, match="did you mean 'shop'"):
        evening().summary("shp")


def test_prose_keeps_to_the_width_and_tables_do_not_sprawl() -> None:
    for line in evening().summary().splitlines():
        assert len(line) <= WIDEST, line


def test_sentences_in_short() -> None:
    text = evening().summary().split("IN SHORT")[1]
    assert "the switch first opened after" in text
    assert "used" in text and "left" in text and "the scale reads" in text
    quiet = run(
        heater=n2.Heater("300 W"),
        switch=n2.PressureSwitch("900 psig", "950 psig"),
        schedule=[n2.Hold("5 min")],
    ).summary()
    assert "the switch did not open" in " ".join(quiet.split())
    assert "never" in quiet.split("HOLDS")[1].split("Warm-up:")[0]


def test_a_hold_above_its_band_is_not_a_switch_that_did_not_open() -> None:
    """1000 psig is some 93 degF: a bottle put in at 95 degF stands above a band up to 950 psig."""
    hot = run(
        start="95 degF",
        heater=n2.Heater("300 W"),
        schedule=[n2.Hold("2 min")],
        switch=n2.PressureSwitch("900 psig", "950 psig"),
    )
    assert hot.holds[0].energy == 0.0 and hot.holds[0].start_pressure > 950 * PSI
    text = " ".join(hot.summary().split())
    assert "was above the band from the start, the heater never came on" in text
    assert "did not open" not in text
    assert "never" not in hot.summary().split("HOLDS")[1].split("Warm-up:")[0]
    assert "was above the band from the start" in plots.plot_hold(hot).get_title(loc="left")


def test_a_follower_stands_to_the_band_of_the_switch_it_follows() -> None:
    bottle = n2.Bottle.preset("aluminium", "10 lb")
    left = n2.FittedBottle(
        bottle,
        "8 lb",
        "95 degF",
        name="left",
        heater=n2.Heater("300 W"),
        switch=n2.PressureSwitch("900 psig", "950 psig"),
    )
    right = n2.FittedBottle(
        bottle, "8 lb", "60 degF", name="right", heater=n2.Heater("300 W"), follows="left"
    )
    both = n2.simulate(
        n2.Scenario([left, right], ambient=n2.Ambient("60 degF"), schedule=[n2.Hold("2 min")])
    )
    assert " ".join(both.summary().split()).count("was above the band from the start") >= 1
    assert "did not open" not in both.summary()


def test_several_bottles_are_named() -> None:
    text = pair().summary()
    assert "Bottle left" in text and "Bottle right, rear" in text
    assert 'on the switch of "left"' in text


def test_title_is_never_broken_by_what_the_user_wrote() -> None:
    s = dataclasses.replace(evening().scenario, title="two\nlines\tand  spaces")
    text = summary(dataclasses.replace(evening(), scenario=s))
    assert text.splitlines()[0] == "two lines and spaces"


def test_many_events_are_cut_with_a_word() -> None:
    result = evening()
    many = dataclasses.replace(result, events=result.events * 30)
    assert re.search(r"\.\.\. and \d+ more: see the JSON", many.summary())


def test_html_is_escaped_and_self_contained() -> None:
    page = summary_html(evening())
    assert "An &lt;invented&gt; evening" in page and "<invented>" not in page
    assert page == evening()._repr_html_()
    for forbidden in ("<script", "http://", "https://", "<img", "onerror", "<link"):
        assert forbidden not in page
    assert page.count("<table") == page.count("</table>") >= 4


def test_table_text_lines_up() -> None:
    table = Table("t", (("", ""), ("a", "psig")), (("x", "1"), ("long name", "1000")))
    rows = table_text(table).splitlines()
    assert len({len(r) for r in rows[1:]}) == 1
    assert rows[-1].endswith("1000")


@pytest.mark.parametrize(
    "seconds, text",
    [
        (0.0, "0 s"),
        (13.46, "13.5 s"),
        (119.0, "119 s"),
        (150.0, "2.5 min"),
        (7200.0, "2.00 h"),
        (None, "-"),
        (float("nan"), "-"),
    ],
)
def test_durations(seconds, text: str) -> None:
    assert lasting(seconds) == text


@pytest.mark.parametrize(
    "seconds, text",
    [
        (0.0, "0:00:00.0"),
        (1516.84, "0:25:16.8"),
        (59.96, "0:01:00.0"),
        (3725.0, "1:02:05.0"),
        (90000.0, "25:00:00.0"),
        (None, "-"),
    ],
)
def test_instants(seconds, text: str) -> None:
    assert instant(seconds) == text


def test_numbers_with_units() -> None:
    # NIST SP 811: 1 psi = 6894.757 Pa, 1 lb = 0.45359237 kg
    shop, si = Units("shop"), Units("si")
    assert shop.full(6894757.29, "gauge_pressure") == "1000.0 psig"
    assert si.full(6894757.29, "gauge_pressure") == "6895 kPa gauge"
    assert shop.full(310.928, "temperature") == "100.0 degF"
    assert si.full(310.928, "temperature") == "37.8 degC"
    assert shop.bare(0.45359237, "mass") == "1.00" and si.bare(0.45359237, "mass") == "0.454"
    assert shop.full(None, "mass") == "-" and shop.bare(float("nan"), "mass") == "-"
    assert shop.bare(-1e-9, "mass") == "0.00"
