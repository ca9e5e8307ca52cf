"""Faults of the pressure column told before anything is fitted."""

from __future__ import annotations

import numpy as np
import pytest

import n2osim as n2
from n2osim.errors import LogError
from n2osim.fit.calibrate import calibrate
from n2osim.fit.log_pressure import pressure_doubts
from n2osim.fit.logs import Log
from n2osim.fit.synthetic import Recorder, synthetic_log

PSI, AIR = 6894.757293168361, 101325.0


@pytest.fixture(scope="module")
def emptied() -> tuple[n2.Scenario, Log]:
    scenario = n2.Scenario(
        n2.Bottle.preset("aluminium", "10 lb"),
        [n2.Rest("2 s"), n2.Pass("90 s")],
        fill="2.5 lb",
        start="75 degF",
        feed=n2.Feed.effective_area("8 mm2"),
    )
    return scenario, synthetic_log(scenario, seed=1, recorder=Recorder(0.1, noise=PSI, step=PSI))


def moved(log: Log, factor: float, offset: float) -> Log:
    return Log.from_arrays(log.time, gauge_pressure=factor * log["gauge_pressure"] + offset)


def test_a_sound_column_is_not_doubted(emptied):
    scenario, log = emptied
    assert pressure_doubts(log, scenario) == ()


@pytest.mark.parametrize(
    ("factor", "words"),
    (
        (PSI / 1e3, "kPa read as psi"),
        (1e3 / PSI, "psi read as kPa"),
        (PSI / 1e5, "bar read as psi"),
        (1e5 / PSI, "psi read as bar"),
    ),
)
def test_a_wrong_unit_is_refused(emptied, factor, words):
    scenario, log = emptied
    with pytest.raises(LogError, match=words):
        pressure_doubts(moved(log, factor, 0.0), scenario)


def test_absolute_read_as_gauge_and_a_gauge_that_is_off(emptied):
    scenario, log = emptied
    (absolute,) = pressure_doubts(moved(log, 1.0, AIR), scenario)
    assert "one atmosphere" in absolute and "absolute" in absolute
    (offset,) = pressure_doubts(moved(log, 1.0, 30.0 * PSI), scenario)
    assert "30.0 psig" in offset and "off by that much" in offset


def test_nothing_is_said_of_what_cannot_be_told(emptied):
    """Before the bottle is empty an atmosphere is 0.6 K of start temperature."""
    scenario, log = emptied
    early = moved(log, 1.0, AIR).between(0.0, 4.0)
    assert pressure_doubts(early, scenario) == ()


def test_the_fit_says_so_before_it_fits(emptied):
    scenario, log = emptied
    with pytest.raises(LogError, match="kPa read as psi"):
        calibrate(scenario, moved(log, PSI / 1e3, 0.0), ["effective_area"])
    fit = calibrate(
        scenario,
        moved(log, 1.0, AIR),
        ["effective_area"],
        window=[(0.0, 10.0)],
        search=False,
        profile=False,
    )
    assert any("absolute" in note for note in fit.notes)
    assert np.isfinite(fit["effective_area"].value)
