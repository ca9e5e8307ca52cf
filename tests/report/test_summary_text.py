"""The plain-language summary: what it says, in which order, in both unit systems."""

import dataclasses
import re

import matplotlib
import pytest
from report_runs import evening, pair, run, with_engine

import n2osim as n2
from n2osim.answers.judge import PassLimits, broken
from n2osim.docs.make_figures import demo
from n2osim.errors import UnknownNameError
from n2osim.numbers import Units, instant, lasting
from n2osim.report.text import summary, summary_html
from n2osim.text import Table, spreadsheet
from n2osim.units import PSI

matplotlib.use("Agg")


def test_in_short_comes_first_and_cautions_come_last() -> None:
    for full in (False, True):
        text = evening().summary(full=full)
        order = ["IN SHORT", "FINDINGS", "Bottle ", "WHAT HAPPENED", "HOLDS", "PASSES"]
        order += ["WEIGHINGS", "EVENTS", "Closure"] if full else []
        places = [text.index(w) for w in [*order, "CAUTIONS"]]
        assert places == sorted(places)
        last = " ".join(text[places[-1] :].split()).lower()
        for words in ("flame", "relief device", "ventilate", "local codes"):
            assert words in last
        assert text.lower().count("flame") == 1


def test_the_short_report_is_short_and_the_full_one_has_it_all() -> None:
    result = evening()
    short, full = result.summary(), result.summary(full=True)
    assert len(short.splitlines()) <= 50
    assert len(demo().summary().splitlines()) <= 65
    assert "EVENTS" not in short and "EVENTS" in full and "--full" in short
    for f in result.findings:
        assert " ".join(f.said().split()) in " ".join(full.split())
    assert len(short.split("IN SHORT")[1].split("FINDINGS")[0].strip().splitlines()) <= 7


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
    assert len(shop.splitlines()) == pytest.approx(len(si.splitlines()), abs=12)
    with pytest.raises(UnknownNameError, match="did you mean 'shop'"):
        evening().summary("shp")


@pytest.mark.parametrize("columns", [60, 72, 100])
@pytest.mark.parametrize("made", [evening, pair, with_engine])
def test_everything_fits_the_terminal(made, columns: int, monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    for line in made().summary(full=True).splitlines():
        assert len(line) <= columns, line


def test_a_run_that_does_its_job_says_so_and_one_that_does_not_says_why() -> None:
    assert "It does the job: both passes begin in the band" in evening().summary()
    quiet = run(
        heater=n2.Heater("300 W"),
        switch=n2.PressureSwitch("900 psig", "950 psig"),
        schedule=[n2.Hold("5 min"), n2.Pass("5 s", outflow="0.1 lb/s")],
    )
    text = " ".join(quiet.summary().split())
    assert "It does not do the job: hold 1 ends at" in text and "below the band" in text
    assert "pass 2 begins at" in text
    assert "never" in quiet.summary().split("HOLDS")[1]
    dry = n2.Pass("8 s", outflow="0.1 lb/s", label="dry")
    light, empty = (run(fill=fill, schedule=[dry]).summary() for fill in ("2.3 lb", "0.5 lb"))
    assert re.search(r'liquid runs out [\d.]+ s into pass "dry"', light)
    assert 'no liquid reaches the pick-up in pass "dry"' in empty and "runs out 0 s" not in empty


def test_drowned_in_fuel_is_no_job_done() -> None:
    """Common practice, no source: fuel far beyond the oxygen costs power."""
    assert "far too rich" not in with_engine("43 psig").summary()
    text = " ".join(with_engine("190 psig").summary().split())
    assert "does not do the job: " in text
    assert re.search(r'pass "run" is far too rich for the power stated \(mixture 2[.\d]* wh', text)


def test_electricity_in_short_is_the_integral_of_power_over_voltage() -> None:
    """400 W at a constant 14.4 V: I = P / V, so charge is energy over voltage."""
    result = evening()
    energy = sum(h.energy for h in (*result.holds, *result.rests))
    said = re.search(r"([\d.]+) W delivered, ([\d.]+) Ah", " ".join(result.summary().split()))
    assert float(said[1]) == 400.0
    assert float(said[2]) == pytest.approx(energy / 14.4 / 3600.0, abs=0.06)


def test_what_was_assumed_and_what_was_chosen_is_marked() -> None:
    chosen = run(
        heater=n2.Heater("300 W", coverage="40 %"),
        model=n2.Model(inside_factor=0.5, radiation=False, inside_cap=3000.0, cover_factor=0.5),
        numerics=n2.Numerics(tolerance=2.0),
        feed=n2.Feed(n2.Jets(1, "0.06 in", cd=0.7)),
    ).summary()
    words = " ".join(chosen.split())
    assert "40 % of the shell," not in words and "40 % of the shell (assumed)" not in words
    for said in (
        "inside coefficient times 0.5",
        "radiation left out",
        "inside coefficient at most 3000",
        "outside coefficient of the heater's face times 0.5",
        "tolerance 2",
    ):
        assert said in words
    full = " ".join(evening().summary(full=True).split())
    assert "50 % of the shell (assumed)" in full and "Cd 0.8 (assumed)" in full
    assert "the preset's (assumed)" in full
    own = n2.Bottle.preset("aluminium", "10 lb", service_pressure="1900 psig")
    assert "as given: read the" in run(bottles=own).summary(full=True)


def test_delivery_is_shown() -> None:
    text = " ".join(
        run(
            feed=n2.Feed(n2.Jets(1, "0.03 in"), model="hem"),
            schedule=[
                n2.Pass("5 s", delay="0.5 s", delivery=[("0 s", 0.3), ("2 s", 1.0)], label="ramp"),
                n2.Pass("4 s", outflow="0.05 lb/s"),
            ],
        )
        .summary()
        .split()
    )
    assert "ramp: 5 s, open 30 % at 0 s, 100 % at 2 s, from 0.5 s on" in text
    assert re.search(r"pass 2: 4 s, 3\.?0* lb/min drawn as prescribed", text)


def test_a_hold_above_its_band_is_not_a_switch_that_did_not_open() -> None:
    """1000 psig is some 93 degF: a bottle put in at 95 degF stands above a band up to 950 psig."""
    hot = run(
        start="95 degF",
        heater=n2.Heater("300 W"),
        schedule=[n2.Hold("2 min")],
        switch=n2.PressureSwitch("900 psig", "950 psig"),
    )
    assert hot.holds[0].energy == 0.0 and hot.holds[0].start_pressure > 950 * PSI
    row = hot.summary(full=True).split("HOLDS")[1]
    line = next(x for x in row.splitlines() if "1 hold" in x)
    assert "above" in line and "the heater never came on" in " ".join(row.split())
    assert "does not do the job" not in hot.summary()
    assert "was above the band from the start" in n2.plot.hold(hot).get_title(loc="left")


def test_a_hold_that_needs_no_heat_is_not_a_switch_that_did_not_open() -> None:
    """70 degF is 737 psig: a switch of 700 to 950 psig asks for no heat."""
    warm = run(
        start="70 degF",
        ambient=n2.Ambient("70 degF"),
        heater=n2.Heater("300 W"),
        schedule=[n2.Hold("2 min")],
        switch=n2.PressureSwitch("700 psig", "950 psig"),
    )
    assert warm.holds[0].energy == 0.0 and warm.holds[0].warm_up_time is None
    row = warm.summary(full=True).split("HOLDS")[1]
    line = next(x for x in row.splitlines() if "1 hold" in x)
    assert "in band" in line and "needed no heat" in " ".join(row.split())
    assert "stood in the band" in n2.plot.hold(warm).get_title(loc="left")


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
    rows = [x for x in both.summary().split("HOLDS")[1].splitlines() if "1 hold" in x]
    assert rows and all("above" in row for row in rows)


def test_several_bottles_are_named() -> None:
    text = pair().summary()
    assert "Bottle left" in text and "Bottle right, rear" in text
    assert 'on the switch of "left"' in text


def test_title_is_never_broken_by_what_the_user_wrote() -> None:
    s = dataclasses.replace(evening().scenario, title="two\nlines\tand  spaces")
    text = summary(dataclasses.replace(evening(), scenario=s))
    assert text.splitlines()[0] == "two lines and spaces"
    s = dataclasses.replace(s, title="\x1b[31mred\x07 \u202etxt $5$")
    first = summary(dataclasses.replace(evening(), scenario=s)).splitlines()[0]
    assert first == "[31mred txt $5$"


def test_many_events_are_cut_with_a_word() -> None:
    result = evening()
    many = dataclasses.replace(result, events=result.events * 30)
    assert re.search(r"\.\.\. and \d+ more: see the JSON", many.summary(full=True))


def test_html_is_escaped_and_self_contained() -> None:
    page = summary_html(evening())
    assert "An &lt;invented&gt; evening" in page and "<invented>" not in page
    assert page == evening()._repr_html_()
    for forbidden in ("<script", "http://", "https://", "<img", "onerror", "<link"):
        assert forbidden not in page
    assert page.count("<table") == page.count("</table>") >= 4


def test_table_text_lines_up() -> None:
    table = Table("t", (("", ""), ("a", "psig")), (("x", "1"), ("long name", "1000")))
    rows = table.text().splitlines()
    assert len({len(r) for r in rows[1:]}) == 1
    assert rows[-1].endswith("1000")


def test_a_table_too_wide_goes_on_below_with_its_row_names(monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    heads = (("", ""), *((f"column {k}", "psig") for k in range(12)))
    rows = tuple((f"row {r}", *(f"{100 * r + k}" for k in range(12))) for r in range(3))
    text = Table("t", heads, rows).text()
    assert max(map(len, text.splitlines())) <= 60
    for r in range(3):
        of_row = [x for x in text.splitlines() if x.startswith(f"  row {r}")]
        numbers = [n for x in of_row for n in x.split()[2:]]
        assert len(of_row) > 1 and numbers == list(rows[r][1:])


def test_columns_that_go_on_below_without_units_leave_no_line_for_them(monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    heads = (("", ""), *((f"quantity{k}", "psig" if k < 4 else "") for k in range(6)))
    text = Table("t", heads, (("row", *"123456"),)).text()
    below = text.split("\n\n")[1].splitlines()
    assert [x.split() for x in below] == [["quantity4", "quantity5"], ["row", "5", "6"]]


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@sum", "\t=1"])
def test_a_spreadsheet_does_not_carry_a_text_out(text: str) -> None:
    assert spreadsheet(text) == "'" + text and spreadsheet("plain") == "plain"


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


def test_a_switch_that_reads_low_is_not_said_to_read_high() -> None:
    for offset, said in (("-20 psi", "reads 20.0 psi too low"), ("15 psi", "15.0 psi too high")):
        switch = n2.PressureSwitch("900 psig", "950 psig", offset=offset)
        text = " ".join(run(heater=n2.Heater("300 W"), switch=switch).summary(full=True).split())
        assert said in text


def test_what_a_heater_loses_as_it_warms_and_when_the_day_begins_is_said() -> None:
    heater = n2.Heater("300 W", self_limit="0.006 1/K", self_limit_reference="70 degF")
    day = n2.DayNight("60 degF", swing="12 degF")
    text = " ".join(run(heater=heater, ambient=n2.Ambient(day)).summary(full=True).split())
    assert "0.33 % less for every degF that the heater is above 70.0 degF" in text  # 0.6 / 1.8
    assert "over the day, from 0:00 on (assumed)" in text
    evening = run(ambient=n2.Ambient(day), clock_start="18:05").summary(full=True)
    assert "over the day, from 18:05 on," in " ".join(evening.split())


def test_a_fuse_that_would_blow_is_no_job_done() -> None:
    """400 W at 14.4 V are 0.5184 ohm; behind 0.05 ohm they draw 14.4 V / 0.5684 ohm = 25.33 A."""
    car = dict(
        heater=n2.Heater("400 W", voltage="14.4 V"),
        switch=n2.PressureSwitch("700 psig", "750 psig"),
        schedule=[n2.Hold("40 min")],
    )
    for fuse, job in (
        ("20 A", "does not do the job: the heaters draw 25.33 A"),
        ("40 A", "does the job"),
    ):
        supply = n2.Supply("14.4 V", "0.05 ohm", fuse=fuse)
        text = " ".join(run(supply=supply, **car).summary().split())
        assert f"It {job}" in text and ("through a fuse" in text) == (fuse == "20 A")


def test_the_highest_pressure_and_what_it_is_over_the_switch_are_of_one_instant() -> None:
    """A refill's peak stood beside the overshoot of another hold: "995 psig, 7 psi over"."""
    refilled = run(
        heater=n2.Heater("250 W"),
        switch=n2.PressureSwitch("900 psig", "950 psig"),
        fill="5 lb",
        start="80 degF",
        schedule=[n2.Refill("75 degF", to="10 lb", pumped=True), n2.Hold("10 min")],
    )
    text = " ".join(refilled.summary().split())
    peak, over = re.search(
        r"Highest pressure (\d+) psig \((\d+) psi over the switch", text
    ).groups()
    assert float(peak) - float(over) == pytest.approx(950.0, abs=1.1)


def test_a_first_hold_that_never_gets_there_is_not_given_a_later_ones_time() -> None:
    car = run(
        heater=n2.Heater("300 W"),
        switch=n2.PressureSwitch("900 psig", "950 psig"),
        schedule=[n2.Hold("15 min"), n2.Rest("1 min"), n2.Hold("60 min")],
    )
    assert car.holds[0].warm_up_time is None and car.holds[-1].warm_up_time is not None
    assert "in the band after" not in car.summary()


@pytest.mark.parametrize("off", [-14, -8, 8, 14])
def test_in_short_and_the_day_have_one_band(off: float) -> None:
    """14 psi below a band of 50 psi: the day said "below the band", the report "in the band"."""
    from n2osim.answers.judge import PassLimits, broken

    gauge = ((900.0 if off < 0 else 950.0) + off) * PSI
    start = n2.fluid.saturation_temperature(gauge + 101325.0)
    car = run(
        fill="7 lb",
        start=start,
        heater=n2.Heater("300 W"),
        switch=n2.PressureSwitch("900 psig", "950 psig"),
        schedule=[n2.Pass("2 s", outflow="0.01 lb/s")],
    )
    limits = PassLimits(flow=None)
    day = any(code == "launch" for code, *_ in broken(car, 0, limits, 1.0))
    assert day == (abs(off) > 10) == ("does not do the job" in car.summary())


def test_a_pass_that_never_has_liquid_does_not_keep_it_to_the_end() -> None:
    """4 lb in a 15 lb bottle hold no liquid at 1000 psig, and it did "the job"."""
    light = run(
        bottles=n2.Bottle.preset("aluminium", "15 lb"),
        fill="4 lb",
        start="120 degF",
        feed=n2.Feed(n2.Jets(1, "0.05 in")),
        schedule=[n2.Pass("5 s")],
    )
    assert light.passes[0].liquid_out_time is None
    assert "does not do the job: no liquid reaches the pick-up in pass 1" in light.summary()


def test_every_danger_and_warning_is_in_the_short_report() -> None:
    """It stopped at five findings: warnings that "N more below" counted were not below."""
    worst = run(
        bottles=n2.Bottle.preset("carbon-polymer", "10 lb"),
        fill="9 lb",
        heater=n2.Heater("500 W", coverage="30 %"),
        switch=n2.PressureSwitch("900 psig", "950 psig", fault="welded"),
        feed=n2.Feed(n2.Jets(1, "0.05 in"), line=n2.FeedLine("12 ft", bore="0.22 in")),
        schedule=[n2.Hold("2 h"), n2.Pass("5 s")],
    )
    text = " ".join(worst.summary().split("FINDINGS")[1].split("Bottle ")[0].split())
    dangers = [f for f in worst.findings if f.severity == "danger"]
    warnings = [f for f in worst.findings if f.severity == "warning"]
    assert len(dangers) > 5 and warnings
    for f in dangers:
        assert " ".join(f.told("shop", "()").split()) in text
    for f in warnings:
        assert f"WARNING {f.headline()}" in text
    notes = [f for f in worst.findings if f.severity == "note"]
    assert f"... and {len(notes)} more note" in text and "NOTE" not in text


def test_a_short_report_names_the_jets_that_its_passes_open_and_vapour_that_is_drawn() -> None:
    feeds = {x: n2.Feed(n2.Jets(1, "0.03 in")) for x in ("small", "big", "purge")}
    named = run(feeds=feeds, schedule=[n2.Purge("1 s"), n2.Pass("2 s", feed="big")]).summary()
    assert 'Jets "big"' in named and "purge" not in named.split("WHAT HAPPENED")[0]
    assert 'Jets "small"' not in named and "vapour" not in named
    gas = run(
        mounting=n2.Mounting(standing=True, draw="vapour"),
        feed=n2.Feed(n2.Jets(1, "0.03 in")),
        schedule=[n2.Pass("2 s")],
    ).summary()
    assert "Mounting  standing; draws vapour" in gas
    assert "It does the job: the pass draws vapour." in gas and "liquid to the end" not in gas


def test_a_pass_held_shut_is_not_said_to_sag_or_to_have_power() -> None:
    shut = run(
        start="100 degF",
        feed=n2.Feed(n2.Jets(1, "0.03 in")),
        engine=n2.EngineSide(fuel_jets=n2.Jets(1, "0.014 in"), fuel_pressure="43 psig"),
        schedule=[n2.Pass("5 s", window=["700 psig", "900 psig"])],
    )
    short = shut.summary().split("FINDINGS")[0]
    assert "No pass draws anything; 8.00 lb left." in short
    assert "sags" not in short and "Extra power" not in short


def test_a_mixture_outside_the_range_of_its_jets_is_not_said_to_be_within() -> None:
    """A model of incompressible flow passes more gas than such jets are known to."""
    fuel = n2.EngineSide(fuel_jets=n2.Jets(1, "0.02 in"), fuel_pressure="43 psig")
    gas = run(
        fill="1.5 lb",
        feed=n2.Feed(n2.Jets(1, "0.046 in"), model="spi"),
        engine=fuel,
        schedule=[n2.Pass("3 s")],
    )
    low, high = gas.engine.mixture_ends
    said = " ".join(gas.summary().split())
    assert gas.engine.passes[0].mixture.maximum < low
    assert f"not in the range known of such jets, {low:.2f} to {high:.2f}." in said
    assert "within the jets' range" in " ".join(with_engine().summary().split())


def test_a_job_that_is_done_with_a_danger_is_not_called_simply_done() -> None:
    """A polymer-lined shell that its heater spoils reaches the band like any other."""
    car = n2.Scenario(
        n2.Bottle.preset("carbon-polymer", "10 lb"),
        fill="8 lb",
        start="60 degF",
        heater=n2.Heater("600 W", coverage=0.3),
        switch=n2.PressureSwitch("800 psig", "900 psig"),
        schedule=[n2.Hold("60 min")],
    )
    done = n2.simulate(car)
    assert "danger" in {f.severity for f in done.findings}
    assert "It does the job, but not without danger: the band is reached." in done.summary()
    mild = n2.simulate(car.replace("heater.power", 100.0))
    assert "danger" not in {f.severity for f in mild.findings}
    assert "It does the job: the band is reached." in mild.summary()


def test_a_pass_that_begins_with_gas_has_no_liquid_from_the_start() -> None:
    """A light bottle's gas condenses as it is drawn: that was said to be liquid for 3.2 s."""
    car = n2.Scenario(
        n2.Bottle.preset("carbon-polymer", "10 lb"),
        fill="2.2 lb",
        start="75 degF",
        feed=n2.Feed(n2.Jets(1, "0.1 in"), line=n2.FeedLine.from_dash(3, "20 ft")),
        schedule=[n2.Pass("10 s")],
    )
    light = n2.simulate(car)
    assert light.passes[0].liquid_out_time > 1.0
    (row,) = (x for x in light.summary().splitlines() if "pass" in x and x.endswith("at once"))
    assert "after" not in row
    assert "no liquid reaches the pick-up at all" in [
        words for _, _, words, _ in broken(light, 0, PassLimits(flow=None), 1.0)
    ]
    full = n2.simulate(car.replace(fill="6 lb"))
    assert not any(x.endswith("at once") for x in full.summary().splitlines())


@pytest.mark.parametrize("system", ["shop", "si"])
@pytest.mark.parametrize(
    "si, dimension",
    [
        (-1e-9, "gauge_pressure"),
        (-0.0, "pressure_difference"),
        (-1e-12, "mass"),
        (-0.0, "energy"),
        (-0.0, "time"),
        (-0.0, "number"),
    ],
)
def test_a_number_rounded_to_nothing_has_no_sign(system, si, dimension) -> None:
    units = Units(system)
    for text in (units.full(si, dimension), units.bare(si, dimension), units.short(si, dimension)):
        assert not text.startswith("-"), text
    assert units.full(-4e4, "gauge_pressure").startswith("-")
    assert Units("shop").full(-0.4 * PSI, "pressure_difference") == "-0.4 psi"
