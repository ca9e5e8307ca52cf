"""Heater, supply, switch, surroundings, feed, jets, engine side: values, refusals, round trips."""

from __future__ import annotations

import dataclasses
import json
import math
import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from n2osim.errors import InputError, N2OSimError, RangeError, UnitError, UnknownNameError
from n2osim.hardware import (
    Ambient,
    Boot,
    Bottle,
    CutOut,
    DayNight,
    EngineSide,
    Feed,
    FeedLine,
    Heater,
    Jets,
    Layer,
    Material,
    PressureSwitch,
    Supply,
    TemperatureTable,
    Valve,
    standard_pressure,
)
from n2osim.units import INCH, PSI

PARTS = [
    Heater("300 W"),
    Heater(resistance="0.7 ohm", cut_out=CutOut("180 degF", "160 degF"), self_limit=0.01),
    Heater("300 W", voltage="14.4 V"),
    Supply("12 V", "20 mohm"),
    PressureSwitch("1000 psig", "1100 psig", "line", "2 s", "5 psi", "10 psi", "welded", 60),
    Ambient("70 degF"),
    Ambient(DayNight("70 degF", "15 degF", "15:00"), enclosure=Boot(solar="200 W"), sun=600.0),
    Ambient([("06:00", "50 degF"), ("15:00", "85 degF")], "84 kPa", "5 mph"),
    Jets(2, "0.028 in", 0.75),
    FeedLine.from_dash(4, "14 ft", fittings_k=3.0),
    Valve("0.1 in"),
    Feed(Jets(1, "0.5 mm"), FeedLine("3 m", "4 mm"), Valve(area="8 mm2"), "hem", Valve("5 mm")),
    EngineSide(
        "methanol",
        fuel_jets=Jets(1, "0.04 in"),
        fuel_pressure="43 psig",
        base_air="60 lb/min",
        decomposition=True,
        power_at="wheel",
    ),
    Material("mine", 1.0, 2.0, 3.0, 4.0, notes=(("cp", "typical", "guess"),)),
    Layer("HDPE", "5 mm"),
]


@pytest.mark.parametrize("part", PARTS, ids=lambda p: type(p).__name__)
def test_round_trip_through_json_pickle_and_replace(part):
    stored = json.loads(json.dumps(part.as_dict(), allow_nan=False))
    assert type(part).from_dict(stored) == part
    assert pickle.loads(pickle.dumps(part)) == part
    assert dataclasses.replace(part) == part
    assert hash(part) == hash(type(part).from_dict(stored))
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(part, dataclasses.fields(part)[0].name, 1.0)


@pytest.mark.parametrize("part", PARTS, ids=lambda p: type(p).__name__)
def test_unknown_and_missing_entries_are_named(part):
    stored = part.as_dict()
    first = next(iter(stored))
    wrong = {first + "x": 1} | {k: v for k, v in stored.items() if k != first}
    with pytest.raises(UnknownNameError, match=f"did you mean '{first}'"):
        type(part).from_dict(wrong)
    with pytest.raises(InputError, match="a table of entries"):
        type(part).from_dict(3)


# --- heater and supply -------------------------------------------------------------------------
def test_heater_power():
    assert Heater("300 W").power_at(12.0) == 300.0
    resistive = Heater(resistance=0.7)
    assert resistive.power_at(14.4) == pytest.approx(14.4**2 / 0.7)  # Joule
    rated = Heater("300 W", voltage=14.4)
    assert rated.power_at(14.4) == pytest.approx(300.0)
    assert rated.power_at(12.0) == pytest.approx(300.0 * (12 / 14.4) ** 2)
    assert rated.current_at(14.4) == pytest.approx(300.0 / 14.4)
    assert rated.power_at(np.array([12.0, 14.4])) == pytest.approx([208.333, 300.0], rel=1e-5)
    limiting = Heater("300 W", self_limit=0.01, self_limit_reference=300.0)
    assert limiting.power_at(14.4, 350.0) == pytest.approx(150.0)
    assert limiting.power_at(14.4, 450.0) == 0.0
    assert limiting.power_at(14.4, np.array([300.0, 350.0])) == pytest.approx([300.0, 150.0])


def test_heater_limits_of_mass_and_contact():
    h = Heater("300 W", heat_capacity=0.0, contact_resistance=0.0)
    assert h.node_heat_capacity == 0.1
    assert h.contact_conductance(0.1) == pytest.approx(1e5)
    assert Heater("300 W").contact_conductance(0.1) == pytest.approx(100.0)


def test_supply_sag_is_a_voltage_divider():
    s = Supply(14.4, 0.05)
    load = 1 / 0.7
    current = s.voltage_at(load) * load
    assert s.voltage_at(load) == pytest.approx(14.4 - 0.05 * current, rel=1e-12)  # Kirchhoff


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Heater(), "either power or resistance"),
        (lambda: Heater("300 W", resistance=0.7), "either power or resistance"),
        (lambda: Heater(resistance=0.7, voltage=12.0), "only together with power"),
        (lambda: Heater("300 V"), "power, not"),
        (lambda: Heater("-300 W"), "heater power"),
        (lambda: Heater("300 W", coverage=80), "'80 %'"),
        (lambda: Heater("300 W", cut_out="180 degF"), "CutOut"),
        (lambda: CutOut("160 degF", "180 degF"), "closes is 180.0 degF"),
        (lambda: CutOut("160 degF", "160 degF"), "chatter"),
        (lambda: PressureSwitch("1000 psig", "1000 psig"), "lower closes or raise opens"),
        (lambda: PressureSwitch("1100 psig", "1000 psig"), "closes is 1100.0 psig"),
        (lambda: PressureSwitch("1000 psia", "1100 psig"), "gauge pressure"),
        (lambda: PressureSwitch("1000 psig", "1100 psig", sensor="hose"), "bottle, line"),
        (lambda: PressureSwitch("1000 psig", "1100 psig", fault="weldet"), "'welded'"),
        (lambda: Ambient("70"), "unit"),
        (lambda: Ambient("700 degF"), "ambient temperature"),
        (lambda: Ambient("70 degF", "14.7 psi"), "psia"),
        (lambda: Ambient([("06:00", "50 degF")]), "two or more times"),
        (lambda: Ambient([("06:00", "50 degF"), ("05:00", "50 degF")]), "rising order"),
        (lambda: Ambient([("06:00", "50 degF"), "noon"]), "a pair"),
        (lambda: Ambient("70 degF", enclosure=3), "Boot"),
        (lambda: Jets("0.028 in", 1), "Jets(count, bore)"),
        (lambda: Jets(0, "0.028 in"), "1 to 64"),
        (lambda: Jets(True, "0.028 in"), "1 to 64"),
        (lambda: Jets(1, "0.028 in", 1.3), "cd"),
        (lambda: Valve(), "either bore or area"),
        (lambda: Valve("1 mm", "1 mm2"), "either bore or area"),
        (lambda: Feed(Jets(1, "1 mm"), model="dier"), "did you mean 'dyer'"),
        (lambda: Feed(None), "Jets"),
        (lambda: Feed(Jets(1, "1 mm"), Valve("1 mm")), "FeedLine"),
        (lambda: FeedLine.from_dash(7, "3 m"), "dash size"),
        (lambda: FeedLine("3 m", "4 mm", closable="yes"), "true or false"),
        (lambda: EngineSide(""), "name of a fuel"),
        (lambda: EngineSide(fuel_jets=Jets(1, "1 mm")), "pressure ahead"),
        (lambda: EngineSide(power_at="hub"), "crank, wheel"),
        (lambda: EngineSide(decomposition=1), "true or false"),
        (lambda: EngineSide(bsfc="0.5 lb/hp"), "fuel consumption"),
        (lambda: standard_pressure("50000 ft"), "altitude"),
    ],
)
def test_refusals(make, words):
    with pytest.raises(N2OSimError) as caught:
        make()
    assert words in str(caught.value)


# --- surroundings ------------------------------------------------------------------------------
def test_ambient_over_the_clock():
    a = Ambient(DayNight(290.0, 8.0, "15:00"))
    assert a.temperature_at(15 * 3600.0) == pytest.approx(298.0)
    assert a.temperature_at(3 * 3600.0) == pytest.approx(282.0)
    clock = np.linspace(0, 86400, 25)
    assert a.temperature_at(clock) == pytest.approx([a.temperature_at(c) for c in clock])
    assert a.temperature_at(clock + 86400.0) == pytest.approx(a.temperature_at(clock))
    assert np.mean(a.temperature_at(clock[:-1])) == pytest.approx(290.0)
    t = Ambient([("06:00", 280.0), ("12:00", 292.0), ("30 h", 281.0)])
    assert t.temperature_at(9 * 3600.0) == pytest.approx(286.0)
    assert t.temperature_at(0.0) == 280.0
    assert t.temperature_at(1e6) == 281.0
    assert isinstance(t.temperature, TemperatureTable)
    assert Ambient(300.0).temperature_at(np.zeros(3)) == pytest.approx([300.0] * 3)


def test_standard_atmosphere():
    # ICAO Doc 7488 (recalled): 0 m 101 325, 1000 m 89 874.6, 5000 m 54 019.9 Pa; 24.896 inHg
    assert standard_pressure(0.0) == 101325.0
    assert standard_pressure(1000.0) == pytest.approx(89874.6, rel=2e-5)
    assert standard_pressure(5000.0) == pytest.approx(54019.9, rel=5e-5)
    assert standard_pressure("5000 ft") == pytest.approx(24.896 * 3386.389, rel=1e-4)


def test_switch_at_altitude_needs_and_uses_the_ambient():
    data = {"closes": "1012.2 psia", "opens": "1100 psig"}
    with pytest.raises(UnitError):
        PressureSwitch.from_dict(data)
    high = standard_pressure("5000 ft")
    s = PressureSwitch.from_dict(data, ambient=high)
    assert s.closes == pytest.approx(1012.2 * PSI - high)
    with pytest.raises(UnitError):  # the ambient does not leak out of the call
        PressureSwitch.from_dict(data)


# --- feed --------------------------------------------------------------------------------------
def test_feed_numbers():
    jets = Jets(2, "0.028 in", 0.75)
    assert jets.area == pytest.approx(2 * math.pi / 4 * (0.028 * INCH) ** 2)
    assert jets.cda == pytest.approx(0.75 * jets.area)
    assert Jets.effective("0.4 mm2").cda == pytest.approx(0.4e-6, rel=1e-12)
    assert Feed.effective_area(0.4e-6, "dyer").model == "nhne"
    assert Feed.effective_area(0.4e-6, "HNE-DS").model == "omega"
    line = FeedLine("4 m", "5 mm", extra_volume="2 cc", closable=True)
    assert line.volume == pytest.approx(math.pi / 4 * 25e-6 * 4 + 2e-6)
    valve = Valve("3 mm", cd=0.6)
    assert valve.cda == pytest.approx(0.6 * math.pi / 4 * 9e-6)
    assert Valve(area="7 mm2").flow_area == pytest.approx(7e-6)
    feed = Feed(jets, line, valve, bottle_valve=Valve("6 mm"), distribution=FeedLine("1 m", "2 mm"))
    assert [n for n, _ in feed.parts] == ["bottle_valve", "line", "valve", "distribution", "jets"]
    assert feed.closed_volume == line.volume
    assert feed.fill_volume == pytest.approx(line.volume + math.pi / 4 * 4e-6)
    assert Feed(jets).closed_volume == Feed(jets).fill_volume == 0.0
    assert (
        dataclasses.replace(feed, line=dataclasses.replace(line, closable=False)).closed_volume == 0
    )
    assert Jets(np.int64(3), 1e-3).count == 3


def test_engine_side():
    assert EngineSide().power_factor == 1.0
    assert EngineSide(power_at="WHEEL", driveline_efficiency="80 %").power_factor == 0.8
    said = EngineSide(bsfc="0.5 lb/hp/h")
    assert said.bsfc == pytest.approx(8.4483e-8, rel=1e-5)  # NIST factors
    with pytest.raises(InputError, match="either bsfc or efficiency"):
        EngineSide(bsfc="0.5 lb/hp/h", efficiency=0.3)
    with pytest.raises(RangeError):
        EngineSide(driveline_efficiency=0.1)


# --- hostile tables ------------------------------------------------------------------------------
_VALUES = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.floats(),
        st.integers(),
        st.text(max_size=8),
        st.sampled_from(["12 lb", "300 W", "1000 psig", "7 in", "3AL", "aluminium", "8 L"]),
    ),
    lambda x: st.one_of(
        st.lists(x, max_size=3),
        st.dictionaries(
            st.sampled_from(
                ["mass", "k", "mean", "material", "times", "thickness", "count", "bore"]
            ),
            x,
            max_size=3,
        ),
    ),
    max_leaves=6,
)


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_any_table_gives_a_part_or_our_error(data):
    cls = data.draw(st.sampled_from([Bottle, *sorted({type(p) for p in PARTS}, key=str)]))
    keys = [f.name for f in dataclasses.fields(cls)]
    if cls is Bottle:
        keys += ["preset", "capacity", "outer_diameter", "spec", "wall", "wall_heat_capacity"]
    table = data.draw(st.dictionaries(st.sampled_from(keys), _VALUES, max_size=6))
    try:
        part = cls.from_dict(table)
    except N2OSimError as problem:
        assert str(problem)
    else:
        assert cls.from_dict(part.as_dict()) == part


def test_air_as_tables_instead_of_pairs_is_refused_in_our_words():
    # Found by the hostile tables above: two keys looked like a pair.
    with pytest.raises(InputError, match=r"ambient table row.*a pair \(clock, temperature\)"):
        Ambient(temperature=[{"mass": None, "k": None}])
