"""A bottle launched above its band: whether its jets pass more or less, and why a pass is lean.

Gas may be denser there than it is in the band: it was said to be "less flow, and richer".
"""

import math

import pytest

import n2osim as n2
from n2osim.units import PSI

BOTTLE = n2.Bottle.preset("aluminium", "10 lb")


def launched(fill: str, start: str, **more) -> n2.Run:
    """A pass from rest with a band of 900 to 950 psig."""
    given = dict(
        fill=fill,
        start=start,
        heater=n2.Heater("250 W"),
        switch=n2.PressureSwitch("900 psig", "950 psig"),
        feed=n2.Feed(n2.Jets(1, "0.046 in")),
        schedule=[n2.Pass("5 s")],
    )
    return n2.simulate(n2.Scenario(BOTTLE, **(given | more)))


def test_dense_gas_far_above_the_band_leans_a_pass_out() -> None:
    hot, warm = launched("5.6 lb", "180 degF"), launched("5.6 lb", "90 degF")
    assert hot.passes[0].start_pressure > 1800.0 * PSI
    assert hot.passes[0].flow_start > 1.2 * warm.passes[0].flow_start
    by = {f.code: f for f in hot.findings}
    assert "more flow than in it, and leaner" in by["launch-above-band"].message
    gas = by["no-liquid-at-launch"]
    assert "more than in the band" in gas.message and "rich" not in gas.message
    assert "never launch it there" in gas.remedy


def test_thin_gas_above_the_band_still_passes_less() -> None:
    thin, warm = launched("2 lb", "205 degF"), launched("5.6 lb", "90 degF")
    assert thin.passes[0].start_pressure > 1000.0 * PSI
    assert thin.passes[0].flow_start < 0.8 * warm.passes[0].flow_start
    by = {f.code: f for f in thin.findings}
    assert "less flow than in it, and richer" in by["launch-above-band"].message
    gas = by["no-liquid-at-launch"]
    assert "far less than they are sized for" in gas.message
    assert "leave the fuel jets alone" in gas.remedy


@pytest.mark.parametrize("bore, cause", [("0.0150 in", "fuel"), ("0.0210 in", "start")])
def test_a_pass_that_is_lean_in_the_band_as_well_is_so_by_its_fuel(bore: str, cause: str) -> None:
    engine = n2.EngineSide(fuel_jets=n2.Jets(1, bore), fuel_pressure="43 psig")
    hot = launched("8 lb", "120 degF", engine=engine)
    lean = next(f for f in hot.findings if f.code == "lean")
    assert lean.cause == cause
    in_band = launched("8 lb", "90 degF", engine=engine)
    mixture = in_band.engine.passes[0].mixture.minimum
    # most of it, as a ratio, goes away in the band or it does not
    away = math.log(mixture / lean.value) / math.log(lean.limit / lean.value)
    assert (away > 0.5) == (cause != "fuel")


def test_bottles_on_one_manifold_do_not_contradict_each_other() -> None:
    """One warm and one cold bottle: the jets see one stream, of which neither knows the flow."""
    pair = [
        n2.FittedBottle(
            n2.Bottle.preset("aluminium", "10 lb"),
            "9 lb",
            start,
            name=name,
            heater=n2.Heater("300 W"),
            switch=n2.PressureSwitch("900 psig", "950 psig"),
        )
        for name, start in (("warm", "77 degF"), ("cold", "72 degF"))
    ]
    feeds = {"main": n2.Feed(n2.Jets(2, "0.046 in"))}
    run = n2.simulate(n2.Scenario(pair, feeds=feeds, schedule=[n2.Pass("4 s")]))
    messages = [f.message for f in run.findings if f.code == "launch-below-band"]
    assert len(messages) == 2
    assert all("hangs on the other bottles" in m and "flow than in it" not in m for m in messages)
