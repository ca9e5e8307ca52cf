"""One declaration of a field serves constructors, files, errors and dotted names."""

from __future__ import annotations

import dataclasses
import inspect
import tomllib

import numpy as np
import pytest

import n2osim as n2
from n2osim.errors import InputError, UnknownNameError
from n2osim.hardware.air import ConstantAir
from n2osim.scenario.file import load_with_notes, loads
from n2osim.schema import declared

FILE = """\
schema = 1
[bottle]
preset = "steel"
capacity = "10 lb"
fill = "9 lb"
start = "70 degF"
[heater]
power = 300
[switch]
closes = 900
opens = 950
[[schedule]]
kind = "pass"
duration = "2 s"
outflow = "0.1 lb/s"
window = [850, "1100 psig"]
"""


def car() -> n2.Scenario:
    return n2.Scenario(
        n2.Bottle.preset("aluminium", "12 lb"),
        fill="80 %",
        start="60 degF",
        heater=n2.Heater("300 W"),
        switch=n2.PressureSwitch("900 psig", "950 psig"),
        schedule=[n2.Hold("10 min")],
    )


def test_every_field_of_a_part_is_declared_with_words() -> None:
    for cls in (n2.Heater, n2.Supply, n2.Bottle, n2.Model, n2.Numerics, n2.Scenario, n2.Pass):
        names = [f.name for f in dataclasses.fields(cls)]
        assert list(declared(cls)) == names
        assert all(d.words and d.kind.takes for d in declared(cls).values())


def test_the_docstring_and_the_signature_come_from_the_declaration() -> None:
    assert "opens : gauge pressure, 0 Pa gauge to" in (n2.PressureSwitch.__doc__ or "")
    assert list(inspect.signature(n2.PressureSwitch).parameters)[:2] == ["closes", "opens"]


def test_a_share_of_the_capacity_is_a_charge() -> None:
    assert car().fill == pytest.approx(0.8 * car().bottle.capacity)
    assert car().replace(fill="50 %").fill == pytest.approx(0.5 * car().bottle.capacity)


def test_replace_by_dotted_names_one_or_many() -> None:
    one = car().replace("bottle.fill", "9 lb")
    assert one.fill == pytest.approx(9 * 0.45359237) and car().fill != one.fill
    more = car().replace({"heater.power": "200 W", "schedule.hold0.duration": "1 h"}, start=290.0)
    assert more.heater is not None and more.heater.power == 200.0
    assert more.schedule[0].duration == 3600.0 and more.start == 290.0
    moved = car().replace({"switch.closes": "1000 psig", "switch.opens": "1050 psig"})
    assert moved.switch is not None and moved.switch.closes > moved.switch.opens - 4e5
    with_feed = car().replace(feed=n2.Feed(n2.Jets(1, "1 mm")), engine={"fuel": "E85"})
    assert with_feed.feed is not None and with_feed.engine is not None
    assert with_feed.replace(heater=None).heater is None
    with pytest.raises(UnknownNameError, match=r"did you mean 'heater\.power'"):
        car().replace("heater.powr", 3)
    with pytest.raises(InputError, match="new value"):
        car().replace("heater.power")


def test_the_shell_of_the_scenario() -> None:
    assert car().bottle == n2.Bottle.preset("aluminium", "12 lb")
    assert car().replace("bottle", "steel").bottle.specification == "3AA"


def test_an_override_that_nothing_would_call_is_refused() -> None:
    with pytest.raises(InputError, match="never call"):

        class Mine(n2.Heater):
            def power_at(self, voltage: float = 14.4, temperature: float | None = None) -> float:
                return 1.0

    class Named(n2.Heater):
        """Adding to a part is fine."""

        @property
        def watts(self) -> float:
            return float(self.power or 0.0)

    assert Named("300 W").watts == 300.0


def test_a_bare_number_where_a_unit_is_usual_is_noted(tmp_path) -> None:
    loads(FILE)
    path = tmp_path / "car.toml"
    path.write_text(FILE)
    found = {n.path: n for n in load_with_notes(path)[1]}
    assert set(found) == {"switch.closes", "switch.opens", "schedule[1].window"}
    assert found["switch.closes"].meant == "900 psig" and found["switch.closes"].value == 900.0
    assert found["switch.closes"].read_as == "0.1 psig"
    path.write_text(loads(FILE.replace("900", '"900 psig"').replace("950", '"950 psig"')).to_toml())
    assert [n.path for n in load_with_notes(path)[1]] == ["schedule[1].window"]  # 850 Pa it was


@pytest.mark.parametrize("value", ["-8e4", "1e308", "0", "true", '"900"', "[1, 2]", "5e6", "inf"])
def test_bare_numbers_never_raise(value: str) -> None:
    from n2osim.scenario.bare_numbers import bare_numbers as noted

    table = tomllib.loads(f"closes = {value}\noffset = {value}")
    assert noted(n2.PressureSwitch, table, "switch") == []


def test_weather_from_pandas() -> None:
    pandas = pytest.importorskip("pandas")
    when = pandas.to_datetime(["2020-05-01 18:00", "2020-05-01 21:00", "2020-05-02 02:00"])
    by_time = pandas.Series([290.0, 285.0, 280.0], index=when)
    air = n2.Ambient(by_time)
    assert air.temperature_at(19.5 * 3600.0) == pytest.approx(287.5)
    assert air.temperature_at(26.0 * 3600.0) == 280.0
    texts = pandas.DataFrame({"clock": ["18:00", "21:00"], "air": ["60 degF", "50 degF"]})
    assert n2.Ambient(texts) == n2.Ambient([("18:00", "60 degF"), ("21:00", "50 degF")])
    celsius = pandas.Series([20.0, 10.0], index=pandas.to_timedelta([18, 21], unit="h"))
    celsius.attrs["units"] = "degC"
    assert n2.Ambient(celsius).temperature_at(18 * 3600.0) == pytest.approx(293.15)


def test_kinds_of_air_agree_with_themselves() -> None:
    clock = np.linspace(0.0, 86400.0, 25)
    kinds = (n2.Ambient("60 degF"), n2.Ambient(n2.DayNight(290.0, 5.0)))
    kinds += (n2.Ambient([("06:00", 280.0), ("18:00", 290.0)]),)
    assert len({a.air.index for a in kinds}) == len(kinds)
    for ambient in kinds:
        assert ambient.temperature_at(clock).shape == clock.shape
        assert n2.Ambient.from_dict(ambient.as_dict()) == ambient
    assert ConstantAir(290.0).temperature_at(3.0) == 290.0


def test_neither_wind_nor_sun_gets_into_a_closed_boot() -> None:
    """Duty in a closed boot was 13, 29 and 41 % at 0, 10 and 40 mph."""
    from n2osim.engine.pack import pack

    still = car().replace(ambient=n2.Ambient("40 degF", enclosure=n2.Boot()))
    windy = still.replace({"ambient.air_speed": "40 mph", "ambient.sun": 800.0})
    a, b = pack(still).setup, pack(windy).setup
    assert (a.whole == b.whole).all() and (a.bottles["sun"] == b.bottles["sun"]).all()
    outside = windy.replace("ambient.enclosure", None)
    assert pack(outside).setup.whole["air_speed"][0] > 17.0
