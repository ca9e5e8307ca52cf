"""Fields of a scenario by dotted name."""

from __future__ import annotations

import numpy as np
import pytest
from study_samples import base

from n2osim.errors import InputError, UnknownNameError
from n2osim.hardware import Bottle, Feed, Heater, Jets
from n2osim.scenario.fields import field_paths, get_field, number_of, with_fields
from n2osim.scenario.scenario import FittedBottle, Scenario
from n2osim.scenario.schedule import Hold, Purge
from n2osim.units import LB, PSI


@pytest.mark.parametrize(
    ("path", "value", "read"),
    [
        ("fill", "10 lb", 10 * LB),
        ("start", "70 degF", (70 + 459.67) / 1.8),
        ("heater.power", "250 W", 250.0),
        ("bottles.0.heater.power", 250.0, 250.0),
        ("bottles.bottle.start", 290.0, 290.0),
        ("switch.opens", "1050 psig", 1050 * PSI),
        ("ambient.temperature", "50 degF", (50 + 459.67) / 1.8),
        ("feed.jets.bore", "0.03 in", 0.03 * 0.0254),
        ("feeds.main.jets.bore", "0.03 in", 0.03 * 0.0254),
        ("schedule.1.duration", "5 s", 5.0),
        ("schedule.pass0.duration", "5 s", 5.0),
        ("model.inside_factor", 2.0, 2.0),
        ("bottle.layers.0.thickness", "9 mm", 0.009),
        ("clock_start", "1 h", 3600.0),
    ],
)
def test_set_and_get(path, value, read):
    changed = with_fields(base(), {path: value})
    assert get_field(changed, path) == pytest.approx(read, rel=1e-12)
    assert changed != base()


def test_every_listed_field_can_be_read_and_put_back():
    scenario = base()
    listed = field_paths(scenario)
    assert {"fill", "heater.power", "switch.opens", "feed.jets.bore", "ambient.pressure"} <= set(
        listed
    )
    for path, value in listed.items():
        assert get_field(scenario, path) == value
        assert with_fields(scenario, {path: value}) == scenario, path


def test_changes_are_applied_together():
    # Each of these alone would leave closes above opens.
    up = with_fields(base(), {"switch.closes": "1200 psig", "switch.opens": "1300 psig"})
    assert up.switch.closes == pytest.approx(1200 * PSI)
    with pytest.raises(InputError, match="below opens"):
        with_fields(base(), {"switch.closes": "1200 psig"})


def test_whole_parts_tables_and_shells():
    assert with_fields(base(), {"heater": Heater("99 W")}).heater.power == 99.0
    assert with_fields(base(), {"heater": {"power": "99 W"}}).heater.power == 99.0
    none = base(heater=None)
    assert with_fields(none, {"heater": {"power": "99 W"}}).heater.power == 99.0
    both = with_fields(base(), {"heater": Heater("99 W"), "heater.coverage": 0.3})
    assert (both.heater.power, both.heater.coverage) == (99.0, 0.3)
    shell = with_fields(base(), {"bottle": "carbon-polymer"}).bottles[0].bottle
    assert shell == Bottle.preset("carbon-polymer", "12 lb")
    odd = base().replace(bottles=[FittedBottle(Bottle.from_capacity("7 lb"), 3.0, 290.0)])
    changed = with_fields(odd, {"bottle": "steel"}).bottles[0].bottle
    assert changed.capacity == pytest.approx(7 * LB, rel=1e-12)


def test_kinds_from_arrays():
    changed = with_fields(
        base(),
        {
            "feed.jets.count": np.float64(2.0),
            "mounting.standing": np.float64(1.0),
            "model.nodes_per_layer": np.int64(3),
        },
    )
    assert changed.feed.jets.count == 2
    assert changed.mounting.standing is True
    assert changed.model.nodes_per_layer == 3


@pytest.mark.parametrize(
    ("path", "hint"),
    [
        ("heater.powr", "heater.power"),
        ("swich.opens", "switch.opens"),
        ("feed.jets.boar", "feed.jets.bore"),
        ("ambient.temprature", "ambient.temperature"),
        ("bottle.fil", "bottle.fill"),
    ],
)
def test_a_slip_suggests_the_right_name(path, hint):
    with pytest.raises(UnknownNameError, match=f"did you mean '{hint}'"):
        with_fields(base(), {path: 1.0})
    with pytest.raises(UnknownNameError, match=hint):
        get_field(base(), path)


@pytest.mark.parametrize("path", ["", "heater.", "schedule.9.duration", "fill.x", "heater..power"])
def test_no_such_field(path):
    with pytest.raises(InputError):
        with_fields(base(), {path: 1.0})


def test_a_part_that_is_not_there():
    with pytest.raises(InputError, match="give the base scenario a line first"):
        with_fields(base(), {"feed.line.bore": "4 mm"})
    with pytest.raises(InputError, match="heater"):
        with_fields(base(heater=None), {"heater.power": 10.0})


def test_wrong_unit_is_named():
    with pytest.raises(InputError, match="heater power"):
        with_fields(base(), {"heater.power": "300 psig"})


def _two(**right: object) -> Scenario:
    fitted = [
        FittedBottle(Bottle.preset(), 4.0, 290.0, name="left", heater=Heater("300 W")),
        FittedBottle(Bottle.preset(), **{"fill": 4.0, "start": 290.0, "name": "right", **right}),
    ]
    return Scenario(fitted, schedule=[Hold(1.0), Purge(1.0)], feeds={"purge": Feed(Jets(1, 0.001))})


def test_of_several_bottles_a_short_name_means_every_one_that_has_the_part():
    changed = with_fields(_two(), {"bottles.right.fill": 3.0})
    assert [b.fill for b in changed.bottles] == [4.0, 3.0]
    assert [b.fill for b in with_fields(changed, {"fill": "8 lb"}).bottles] == [8 * LB, 8 * LB]
    hotter = with_fields(_two(), {"heater.power": "400 W"})
    assert hotter.bottles[0].heater.power == 400.0 and hotter.bottles[1].heater is None
    both = with_fields(_two(), {"heater": {"power": "400 W"}})
    assert [b.heater.power for b in both.bottles] == [400.0, 400.0]
    with pytest.raises(InputError, match="no bottle has a switch"):
        with_fields(_two(), {"switch.opens": "1000 psig"})


def test_a_tolerance_of_bottles_that_differ_asks_which():
    assert number_of(_two(), "fill", "tolerance") == 4.0
    with pytest.raises(InputError, match=r"bottles\.left\.fill or bottles\.right\.fill: they"):
        number_of(_two(fill=3.0), "fill", "tolerance")
    assert number_of(_two(fill=3.0), "bottles.right.fill", "tolerance") == 3.0
