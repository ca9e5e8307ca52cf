"""The pressure chart against worked examples (computed independently with CoolProp 8.0)."""

import pytest

import n2osim as n2
from n2osim.errors import InputError, NoSolutionError
from n2osim.report import chart
from n2osim.units import PSI, to_degF

BOTTLE = n2.Bottle.preset("aluminium", "10 lb")
ATM = 101325.0


def kelvin(degF: float) -> float:
    return (degF + 459.67) / 1.8


@pytest.mark.parametrize("degF, psia, tolerance", [(100.0, 1266.5, 0.2), (130.0, 2079.0, 0.6)])
def test_full_bottle(degF: float, psia: float, tolerance: float) -> None:
    # 680 kg/m3: 1266.5 psia at 100 degF, 2079 psia at 130 degF
    asked = chart.Chart.asked(BOTTLE)
    gauge, single = chart.gauge_at(asked, kelvin(degF), BOTTLE.capacity)
    assert (gauge + ATM) / PSI == pytest.approx(psia, abs=tolerance)
    assert single


def test_turning_points_table() -> None:
    # 680 kg/m3 is liquid-full at 87.1 degF; 20 % of full needs about 177 degF for 1000 psia
    switch = n2.PressureSwitch("900 psig", f"{1000 - 14.69595} psig")
    asked = chart.Chart.asked(BOTTLE, fills=["100 %", "20 %"], switch=switch)
    full, light = chart.points_table(asked, "shop").rows
    assert float(full[2]) == pytest.approx(87.1, abs=0.06) and full[3] == "liquid-full"
    assert float(light[5]) == pytest.approx(177.0, abs=1.0) and light[3] == "all vapour"


def test_half_charge_from_gauge_and_thermometer() -> None:
    # 1050 psia at 97.9 degF is a single-phase 340 kg/m3: half of full
    text = chart.reading_text(chart.Chart.asked(BOTTLE), "1050 psia", "97.9 degF")
    assert "50 % of full" in text and "licensed filler" not in text
    density = float(text.split(" kg/m3")[0].split(", ")[-1])
    assert density == pytest.approx(340.0, abs=3.0)
    with pytest.raises(NoSolutionError, match="saturated"):
        # ESDU 91022: saturated at 50.362 bar and 293 K
        chart.reading_text(chart.Chart.asked(BOTTLE), "50.362 bar", "293 K")


def test_a_reading_says_how_much_hangs_on_gauge_and_thermometer() -> None:
    """Beside saturation next to nothing is known of a charge; full of liquid it is, if too much."""
    asked = chart.Chart.asked(BOTTLE)

    def told(p: str, T: str) -> tuple[float, str]:
        text = " ".join(chart.reading_text(asked, p, T).split())
        assert "a gauge 10.0 psi off, or a thermometer 1.0 degF off" in text
        return float(text.split(" holds ")[1].split(" lb")[0]), text

    charge, text = told("1050 psig", "97.9 degF")
    moved = [told(*x)[0] - charge for x in (("1040 psig", "97.9 degF"), ("1050 psig", "98.9 degF"))]
    most = float(text.split("up to ")[1].split(" lb")[0])
    assert max(map(abs, moved)) == pytest.approx(most, abs=0.011) and most > 2.0
    assert "nothing can be told" in told("1042 psig", "97.39 degF")[1]
    assert "licensed filler" in told("1800 psig", "110 degF")[1]


def test_table_marks_one_phase_and_rises_with_temperature() -> None:
    table = chart.chart_table(chart.Chart.asked(BOTTLE, fill="9.2 lb"), "shop")
    assert table.heads[1] == ("92 %", "9.20")
    assert [float(r[0]) for r in table.rows] == [float(t) for t in range(40, 131, 10)]
    for c in range(1, len(table.heads)):
        column = [r[c] for r in table.rows]
        values = [float(x.strip("* ")) for x in column]
        assert values == sorted(values)
        stars = [x.startswith("*") for x in column]
        assert stars == sorted(stars)  # once out of saturation, out for good
    si = chart.chart_table(chart.Chart.asked(BOTTLE), "si")
    assert [float(r[0]) for r in si.rows][:3] == [5.0, 10.0, 15.0]


def test_altitude_changes_the_gauge_reading() -> None:
    sea, high = (chart.Chart.asked(BOTTLE, ambient=p) for p in (ATM, 84e3))
    a, b = (chart.gauge_at(c, kelvin(60), 4.0)[0] for c in (sea, high))
    assert b - a == pytest.approx(ATM - 84e3)


def test_text_has_findings_first_and_the_source_of_100_percent() -> None:
    text = chart.chart_text(chart.Chart.asked(BOTTLE, fill="10.8 lb"))
    assert text.index("WARNING") < text.index("PRESSURE OF")
    assert "49 CFR 173.304a" in text and "flame" in text
    assert "taken out by a licensed filler" in text  # nobody vents a bottle by himself


def test_csv_every_kelvin() -> None:
    asked = chart.Chart.asked(BOTTLE, fills=["10 lb"], low="60 degF", high="100 degF")
    rows = [r.split(",") for r in chart.chart_csv(asked).splitlines()]
    assert rows[0][0] == "temperature_K" and len(rows) == 24
    assert to_degF(float(rows[-1][0])) == pytest.approx(100.0, abs=1e-4)
    assert (float(rows[-1][1]) + ATM) / PSI == pytest.approx(1266.5, abs=0.2)


@pytest.mark.parametrize(
    "options, words",
    [
        ({"fill": "900 lb"}, "charge"),
        ({"low": "100 degF", "high": "50 degF"}, "lower one"),
        ({"fill": "0 lb"}, "charge"),
        ({"high": "2000 degF"}, "temperature"),
        ({"fills": ["10 psi"]}, "mass"),
    ],
)
def test_mistakes(options: dict, words: str) -> None:
    with pytest.raises(InputError, match=words):
        chart.Chart.asked(BOTTLE, **options)
