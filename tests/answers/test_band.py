"""Switch points that keep the pressure inside, confirmed by running them, and what was unsaid."""

from __future__ import annotations

import pytest
from study_samples import base

from n2osim.answers.band import set_band
from n2osim.errors import InputError, NoSolutionError
from n2osim.hardware import Ambient, CutOut
from n2osim.results.run import simulate
from n2osim.scenario.fields import with_fields
from n2osim.scenario.file import loads
from n2osim.units import PSI


def cycled(scenario):
    """(lowest, highest) pressure in the first hold after the switch first opened, psig."""
    run = simulate(scenario)
    hold = run.holds[0]
    rows = (run.time >= hold.start_time + hold.warm_up_time) & (run["segment"] == hold.index)
    p = run["pressure_gauge_Pa"][0][rows] / PSI
    return p.min(), p.max()


@pytest.mark.parametrize(
    ("shell", "power"),
    [("aluminium", 300.0), ("carbon-aluminium", 300.0), ("carbon-polymer", 120.0)],
)
def test_band_keeps_the_pressure_inside(shell, power):
    scenario = with_fields(base(), {"bottle": shell, "heater.power": power})
    band = set_band(scenario, "1000 psig", "1100 psig")
    low, high = cycled(loads(band.scenario.to_toml(), "saved"))
    assert low >= 1000.0 - 0.5 and high <= 1100.0 + 0.5
    assert 1000 * PSI <= band["closes"] < band["opens"] < 1100 * PSI
    over = with_fields(band.scenario, {"switch.opens": band["opens"] + PSI})
    assert cycled(over)[1] > 1100.0 + 0.3
    under = with_fields(band.scenario, {"switch.closes": band["closes"] - PSI})
    assert cycled(under)[0] < 1000.0
    assert band["peak"] == pytest.approx(high * PSI, abs=0.5 * PSI)


def test_no_band_says_why():
    scenario = with_fields(base(), {"bottle": "carbon-polymer", "heater.power": 400.0})
    with pytest.raises(NoSolutionError, match="peak in band"):
        set_band(scenario, "1000 psig", "1060 psig")
    with pytest.raises(InputError, match="high end of the band"):
        set_band(base(), "1000 psig", "1001 psig")
    weak = with_fields(base(), {"heater.power": 10.0, "ambient.temperature": "20 degF"})
    with pytest.raises(NoSolutionError):
        set_band(weak)


def test_opening_above_the_liquid_full_pressure_is_said():
    """The help's own example opened above the liquid-full pressure without a word."""
    full = base(fill="12 lb", schedule=[])
    band = set_band(full, "900 psig", "1000 psig")
    assert any(f.code == "liquid-full" for f in band.findings)
    assert "liquid fills the whole bottle" in band.text()


def test_a_hot_day_is_blamed_on_the_air_not_on_stored_heat():
    hot = base(ambient=Ambient("98 degF"), start="98 degF")
    try:
        band = set_band(hot, "900 psig", "950 psig")
    except NoSolutionError as problem:
        assert "heat stored" not in str(problem)
    else:
        codes = {f.code for f in band.findings} | {b.code for b in band.broken}
        assert "weather-above-band" in codes


def test_offset_of_the_switch_moves_its_points():
    s = with_fields(base(), {"switch.offset": "-40 psi"})
    band = set_band(s, "1000 psig", "1100 psig")
    low, high = cycled(band.scenario)
    assert low >= 1000.0 - 0.5 and high <= 1100.0 + 0.5
    assert band["opens"] < 1065 * PSI


def test_one_duty_of_one_band():
    """One band had a duty of 36.5 % in one command and 29 % in another: whole cycles agree."""
    from n2osim.answers.heater import size_heater

    band = set_band(base(), "1000 psig", "1100 psig")
    again = simulate(loads(band.scenario.to_toml(), "saved")).get("hold0.duty")
    assert band["duty"] == pytest.approx(again, abs=0.01)
    heater = size_heater(band.scenario, "40 min", values=["290 W", "300 W", "310 W"], page=False)
    at = simulate(with_fields(band.scenario, {"heater.power": heater["heater.power"]}))
    assert heater["duty"] == pytest.approx(at.get("hold0.duty"), abs=0.02)


def test_more_power_is_not_advised_to_a_bottle_that_needs_a_refill_or_a_switch():
    """1.2 lb reach 950 psig at 380 degF only; a switch in the line let 3000 psig pass unseen."""
    light = with_fields(base(fill="1.2 lb", start="70 degF"), {"heater.power": 100.0})
    with pytest.raises(NoSolutionError, match="refill it, never more power"):
        set_band(light, "900 psig", "950 psig")
    for field, value, words in (
        ("switch.sensor", "line", "nothing stops the heater"),
        ("switch.fault", "stuck open", "the heater never comes on"),
    ):
        with pytest.raises(NoSolutionError, match=f"mend the switch|{words}") as caught:
            set_band(with_fields(base(), {field: value}))
        assert words in str(caught.value) and "more power" not in str(caught.value)


def test_a_cut_out_that_ends_the_heat_is_named():
    """It was answered with more power, or shelter from the wind."""
    low = with_fields(base(), {"heater.cut_out": CutOut("85 degF", "80 degF")})
    with pytest.raises(NoSolutionError, match="the surface cut-out ends the heat before"):
        set_band(low)
