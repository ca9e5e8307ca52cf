"""Numerical hazards by name: what breaks simulators of this kind, one test each."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hazard_cases import ATM, BOTTLE, SMALL, base, named, sound

import n2osim as n2
from n2osim import fluid
from n2osim.errors import InputError, IntegrationError, RangeError
from n2osim.physics.charge import liquid_full_temperature, pressure_at
from n2osim.results.run import simulate
from n2osim.scenario.scenario import Numerics, Scenario
from n2osim.units import PSI


# --- switching -----------------------------------------------------------------------------------
def test_thresholds_closer_than_the_sensor_noise() -> None:
    """A band of 2 Pa on a bottle: events alternate, each met within its half, none is lost."""
    run = sound(
        base(
            bottle=SMALL,
            fill=0.5,
            start=290.0,
            heater=n2.Heater(200.0, heat_capacity=50.0),
            switch=n2.PressureSwitch(5e6, 5e6 + 2.0),
            schedule=[n2.Hold("20 min")],
            ambient=n2.Ambient(285.0),
        )
    )
    names = [e.name for e in run.events if e.name.startswith("switch")]
    assert len(names) > 4
    assert all(a != b for a, b in zip(names, names[1:]))


def test_a_band_inside_the_set_point_scatter_is_said() -> None:
    """Tolerance wider than the band: the run goes on, and a finding or caution names it."""
    switch = n2.PressureSwitch("900 psig", "903 psig", tolerance="10 psi")
    run = sound(base(switch=switch))
    assert any("toleran" in f.message or "scatter" in f.message for f in run.findings)


@pytest.mark.parametrize("gap", [0.0, -1.0])
def test_equal_or_swapped_thresholds_are_refused(gap: float) -> None:
    with pytest.raises(InputError, match="closes"):
        n2.PressureSwitch(6e6, 6e6 + gap)
    with pytest.raises(InputError, match="chatter"):
        n2.CutOut(350.0, 350.0 - gap)


def test_a_lagging_sensor_that_overshoots_its_band_does_not_chatter() -> None:
    run = sound(
        base(
            heater=n2.Heater(3000.0),
            schedule=[n2.Hold("30 min")],
            switch=n2.PressureSwitch("900 psig", "901 psig", lag="30 s"),
        )
    )
    times = [e.time for e in run.events if e.name.startswith("switch")]
    assert np.diff(times).min() > 1.0


def test_a_heater_of_almost_no_mass_on_a_close_cut_out_is_counted_or_stopped() -> None:
    """It buzzes at hundreds of hertz: every cycle is listed, or the run is stopped with advice."""
    buzz = base(
        heater=n2.Heater(
            2000.0,
            heat_capacity=0.0,
            contact_resistance=0.01,
            cut_out=n2.CutOut(330.0, 329.0, pause=1e-3),
        ),
        switch=None,
        schedule=[n2.Hold("10 s")],
        numerics=Numerics(max_steps=3000),
    )
    try:
        run = simulate(buzz)
    except IntegrationError as error:
        assert error.advice and error.partial_run is not None
        run = error.partial_run
    cut = [e for e in run.events if e.name.startswith("cut-out")]
    assert len(cut) > 500
    assert len(cut) == np.count_nonzero(np.diff(run["cut_out_open"][0].astype(int)))


def test_a_day_with_a_thousand_switchings() -> None:
    """24 h: every switching exactly at its threshold, all listed, all closed."""
    run = sound(
        base(
            bottle=SMALL,
            fill=0.5,
            start=290.0,
            heater=n2.Heater(60.0, heat_capacity=20.0),
            switch=n2.PressureSwitch(5e6, 5.03e6),
            schedule=[n2.Hold("24 h")],
            ambient=n2.Ambient(285.0),
        )
    )
    switched = [e for e in run.events if e.name.startswith("switch")]
    assert len(switched) > 1000
    for e in switched[1:]:
        at = 5e6 if e.name == "switch on" else 5.03e6
        assert e.pressure_gauge == pytest.approx(at, abs=0.5)
    assert run.time[-1] == 86400.0


def test_more_events_than_the_first_list_holds() -> None:
    """The list has room for 2,000 at first; none may be lost without a word."""
    run = sound(
        base(
            heater=n2.Heater(
                2000.0,
                heat_capacity=2.0,
                contact_resistance=0.01,
                cut_out=n2.CutOut(330.0, 329.0, pause=1e-3),
            ),
            switch=None,
            schedule=[n2.Hold("60 s")],
        )
    )
    cut = [e for e in run.events if e.name.startswith("cut-out")]
    assert len(cut) > 2000
    assert len(cut) == np.count_nonzero(np.diff(run["cut_out_open"][0].astype(int)))
    assert run.events[-1].name == "segment end"
    one = n2.run_ensemble([run.scenario])
    assert one["run.events"][0] == len(run.events)


# --- where the start is --------------------------------------------------------------------------
SAT_RHO = 600.0


@pytest.mark.parametrize("off", [-1e-3, -1e-7, 0.0, 1e-7, 1e-3])
def test_start_exactly_at_liquid_full(off: float) -> None:
    T = float(liquid_full_temperature(SAT_RHO)) + off
    run = sound(base(start=T, fill=SAT_RHO * BOTTLE.volume))
    assert run["pressure_Pa"][0, 0] == pytest.approx(float(fluid.saturation(T).p), rel=1e-3)
    down = sound(
        base(
            start=T,
            fill=SAT_RHO * BOTTLE.volume,
            ambient=n2.Ambient(T - 15.0),
            schedule=[n2.Rest("1 h"), n2.Pass("3 s", outflow=0.05)],
            heater=None,
            switch=None,
        )
    )
    assert down["liquid_fraction"][0, -1] < 1.0


@pytest.mark.parametrize("off", [-1e-3, -1e-7, 0.0, 1e-7, 1e-3])
def test_start_exactly_at_the_dew_line(off: float) -> None:
    rho = float(fluid.saturation(290.0).rho_v)
    run = sound(base(start=290.0 + off, fill=rho * BOTTLE.volume))
    assert run["pressure_Pa"][0, 0] == pytest.approx(float(fluid.saturation(290.0).p), rel=1e-3)


@pytest.mark.parametrize("where", [1.0, 1.0 - 1e-9, 1.0 + 1e-9, 0.999, 1.001])
@pytest.mark.parametrize(
    "what", [[n2.Hold("10 min")], [n2.Rest("10 min")], [n2.Pass("10 s", outflow=0.05)]]
)
def test_start_exactly_at_the_critical_point(where: float, what: list[Any]) -> None:
    run = sound(
        base(
            start=fluid.T_CRITICAL * where,
            fill=fluid.RHO_CRITICAL * BOTTLE.volume,
            schedule=what,
            ambient=n2.Ambient(300.0),
        )
    )
    assert run["pressure_Pa"][0, 0] == pytest.approx(fluid.P_CRITICAL, rel=0.02)


def test_through_the_critical_point_and_back() -> None:
    """Heated through it at the critical density, then cooled back: the same pressure there."""
    run = sound(
        base(
            start=300.0,
            fill=fluid.RHO_CRITICAL * BOTTLE.volume,
            heater=n2.Heater(800.0),
            switch=None,
            schedule=[n2.Hold("10 min"), n2.Rest("3 h")],
            ambient=n2.Ambient(290.0),
        )
    )
    T, p = run["fluid_temperature_K"][0, 0], run["pressure_Pa"][0]
    assert T.max() > fluid.T_CRITICAL > T[-1]
    top = int(np.argmax(T))
    up = np.interp(305.0, T[:top], p[:top])
    down = np.interp(305.0, T[top:][::-1], p[top:][::-1])
    # Straight lines between rows; what lies between is P(T) at one density both ways.
    assert up == pytest.approx(down, rel=2e-3)
    assert p[0] == pytest.approx(float(pressure_at(T[0], run["mass_kg"][0, 0], BOTTLE.volume)))


def test_a_full_bottle_warming_through_liquid_full_and_back() -> None:
    warm = [n2.Ambient("100 degF"), n2.Ambient("60 degF")]
    up = sound(
        base(fill="10 lb", ambient=warm[0], heater=None, switch=None, schedule=[n2.Rest("20 h")])
    )
    assert named(up, "liquid-full")
    assert up["pressure_gauge_Pa"][0, -1] / PSI == pytest.approx(1267 - 14.7, abs=15)


def test_bottle_empty_at_the_start() -> None:
    """A milligram, heated and drawn from: no NaN, no negative mass."""
    for fill in (1e-6, 1e-4, float(fluid.state_from_p_T(ATM, 294.26).rho) * BOTTLE.volume):
        run = sound(
            base(
                fill=fill,
                heater=n2.Heater(20.0),
                feed=n2.Feed(n2.Jets(1, 1e-3)),
                schedule=[n2.Pass("10 s"), n2.Hold("5 min")],
            )
        )
        assert run["mass_kg"].min() > 0.0
        # Below or at the outside's pressure nothing can leave.
        assert run["mass_kg"][0, -1] == pytest.approx(fill, rel=1e-3)
        assert any(f.code == "nearly-empty" for f in run.findings)
    with pytest.raises(RangeError, match="fill"):
        base(fill=0.0)


# --- what happens --------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "item",
    [
        n2.Pass(0.0),
        n2.Hold(0.0),
        n2.Rest(0.0),
        n2.Pass(0.0, outflow=1.0),
        n2.Pass(0.0, delay=5.0),
        n2.Weigh(),
        n2.Pass(1e-9),
        n2.Pass(1e-12),
    ],
)
def test_zero_length(item: Any) -> None:
    run = sound(base(schedule=[item, n2.Rest("1 s"), item], feed=n2.Feed(n2.Jets(4, 1e-3))))
    assert run["mass_out_kg"][0, -1] < 1e-6
    assert run.time[-1] == pytest.approx(1.0, abs=1e-6)
    assert run.summary()
    for one in run.segments:
        assert math.isfinite(one.start_pressure)


def test_a_heater_of_nothing_changes_nothing() -> None:
    """0 W: the same as no heater but for the blanket's own heat capacity and cover."""
    off = sound(base(heater=n2.Heater(0.0), schedule=[n2.Hold("1 h")]))
    assert off["heater_energy_J"][0, -1] == 0.0
    assert np.ptp(off["fluid_temperature_K"][0, 0]) < 1e-3
    assert named(off, "switch on")


def test_a_heater_of_a_hundred_kilowatts() -> None:
    """Five times what is accepted: refused by name; the most that is, is carried out or stopped."""
    with pytest.raises(RangeError, match=r"power.*20000|power.*20 kW|power"):
        n2.Heater("100 kW")
    monster = base(heater=n2.Heater(20e3), schedule=[n2.Hold("2 min")])
    run = sound(monster)
    assert run["pressure_gauge_Pa"][0].max() / PSI > 920
    assert any(f.severity in ("danger", "warning") for f in run.findings)


def test_two_events_at_the_same_instant() -> None:
    """Two equal bottles: their switches, on one instant to the last bit, all fire."""
    bottles = [
        n2.FittedBottle(
            BOTTLE, 3.6, 290.0, n, n2.Heater(400.0), n2.PressureSwitch("880 psig", "920 psig")
        )
        for n in "ab"
    ]
    run = sound(Scenario(bottles, [n2.Hold("1 h")], n2.Ambient(290.0)))
    a, b = ([e for e in run.events if e.bottle == n] for n in "ab")
    assert [e.name for e in a] == [e.name for e in b] and len(a) > 3
    assert [e.time for e in a] == pytest.approx([e.time for e in b], abs=1e-6)
    assert run["pressure_Pa"][0] == pytest.approx(run["pressure_Pa"][1], rel=1e-9)


def test_switch_and_cut_out_and_segment_end_together() -> None:
    """A hold that ends on the instant of its switch: whoever is first, nothing is lost."""
    first = sound(base())
    opens = named(first, "switch off")[0].time
    for length in (opens, np.nextafter(opens, 0.0), np.nextafter(opens, 1e9)):
        run = sound(base(schedule=[n2.Hold(float(length)), n2.Hold("10 min")]))
        assert len(named(run, "switch off")) >= 1
        assert named(run, "switch off")[0].time == pytest.approx(opens, abs=0.05)


def test_ambient_hotter_than_the_band() -> None:
    """The air alone carries the bottle past its opening point: the heater never comes on again."""
    run = sound(
        base(
            start="60 degF",
            ambient=n2.Ambient("110 degF"),
            schedule=[n2.Hold("8 h")],
            switch=n2.PressureSwitch("700 psig", "750 psig"),
        )
    )
    assert len(named(run, "switch on")) == 1
    assert run["pressure_gauge_Pa"][0, -1] / PSI > 900.0
    assert not run["heater_power_W"][0, -1]


def test_a_band_above_the_relief_device() -> None:
    """The disc goes first; the vent empties the bottle to the outside; everything says so."""
    weak = n2.Bottle.preset("aluminium", "10 lb", relief_pressure="1000 psig")
    run = sound(
        base(
            bottle=weak,
            switch=n2.PressureSwitch("1100 psig", "1200 psig"),
            schedule=[n2.Hold("60 min"), n2.Rest("10 min")],
        )
    )
    assert len(named(run, "relief opens")) == 1
    assert run["pressure_gauge_Pa"][0].max() / PSI == pytest.approx(1000.0, abs=0.01)
    assert run["pressure_gauge_Pa"][0, -1] < 100.0
    assert run.findings[0].severity == "danger"


def test_a_band_of_twenty_thousand_psi_is_refused() -> None:
    with pytest.raises(RangeError, match=r"closes|opens"):
        n2.PressureSwitch("19000 psig", "20000 psig")
    with pytest.raises(RangeError, match="relief"):
        n2.Bottle.preset("aluminium", "10 lb", relief_pressure="200000 psig")


def test_opening_in_the_middle_of_a_pass_with_the_heater_on() -> None:
    run = sound(
        base(
            start=300.0,
            heater=n2.Heater(20e3),
            schedule=[n2.Pass("20 s", outflow=0.05, heater=True)],
            switch=n2.PressureSwitch("700 psig", "900 psig"),
        )
    )
    assert run["mass_kg"][0, -1] == pytest.approx(8 * 0.45359237 - 1.0, rel=1e-6)
