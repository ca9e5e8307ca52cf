"""Measured tank drains (tests/data/n2o_blowdown_*.csv, sources in their headers).

Assumptions, because the records do not give them: bare 6061-T6 tanks with 3 mm wall, standing,
outlet at the very bottom, flow into ambient pressure (choked all the way to the late tail), SSI
record read as gauge, start at the saturation temperature of the first pressure.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

import n2osim as n2
from n2osim.fit.calibrate import Calibration, calibrate
from n2osim.fit.logs import Log, read_log
from n2osim.fluid import saturation
from n2osim.fluid.saturation import sat_T

DATA = Path(__file__).parents[1] / "data"
PSI = 6894.757293168361
MOUNTING = n2.Mounting(standing=True, pickup=0.0, pickup_band=1e-3)
SSI_KNEE, SSI_AFTER_DIP, SSI_AMBIENT = 7.0, 2.0, 12.5 * PSI
WATERLOO_KNEE, WATERLOO_MASS = 10.3, 0.6566  # s, kg, from the record


@pytest.fixture(scope="module")
def ssi() -> Log:
    return read_log(
        DATA / "n2o_blowdown_ssi_2018-06-02.csv",
        {"time": "t_s", "gauge_pressure": ("p_ox_tank_bar", "bar")},
    )


@pytest.fixture(scope="module")
def waterloo() -> Log:
    return read_log(
        DATA / "n2o_blowdown_waterloo_stf.csv",
        {"time": "t_s", "gauge_pressure": ("p_tank_psi_raw", "psi"), "charge": "m_n2o_kg"},
    )


def ssi_scenario(area: float = 20e-6) -> n2.Scenario:
    start = float(sat_T(47.15e5 + SSI_AMBIENT))
    s = saturation(start)
    return n2.Scenario(
        n2.Bottle.from_dimensions(inner_diameter="3.75 in", volume="6.63 L", wall="3 mm"),
        fill=6.0e-3 * float(s.rho_l) + 0.63e-3 * float(s.rho_v),
        start=start,
        mounting=MOUNTING,
        ambient=n2.Ambient(280.0, pressure=SSI_AMBIENT),
        feed=n2.Feed.effective_area(area),
        schedule=[n2.Pass("14 s")],
    )


def waterloo_scenario(area: float = 14e-6) -> n2.Scenario:
    return n2.Scenario(
        n2.Bottle.from_dimensions(inner_diameter="4.5 in", volume="6.9 L", wall="3 mm"),
        fill=5.06,
        start=float(sat_T(707 * PSI + 101325.0)),
        mounting=MOUNTING,
        ambient=n2.Ambient(290.0),
        feed=n2.Feed.effective_area(area),
        schedule=[n2.Pass("14 s")],
    )


def fit_area(scenario: n2.Scenario, log: Log, window: tuple[float, float]) -> Calibration:
    return calibrate(
        scenario, log, ["effective_area"], log_start=0.0, window=[window], profile=False
    )


def knee(fit: Calibration) -> float:
    return next(e.time for e in fit.run.events if e.name == "liquid-out")


def worst_in_liquid(fit: Calibration, start: float, end: float) -> float:
    """Largest relative error of absolute pressure from ``start`` until liquid-out."""
    r = fit.residuals[0]
    rows = (r.time >= start) & (r.time <= min(end, knee(fit)) - 0.1)
    return float(np.max(np.abs(r.residual / (r.logged + fit.scenario.ambient.pressure))[rows]))


def tail(fit: Calibration, start: float, end: float) -> float:
    """d(ln P)/dt of the model over that of the record, minus one."""
    r = fit.residuals[0]
    rows = (r.time >= start) & (r.time <= end)
    p0 = fit.scenario.ambient.pressure
    model, record = (
        np.polyfit(r.time[rows], np.log(y[rows] + p0), 1)[0] for y in (r.model, r.logged)
    )
    return float(model / record - 1.0)


def test_pressure_after_the_dip_within_5_percent(ssi: Log) -> None:
    """Area fitted after the dip until just before the knee (measured when written: 2.7 %)."""
    fit = fit_area(ssi_scenario(), ssi, (SSI_AFTER_DIP, 6.8))
    assert worst_in_liquid(fit, SSI_AFTER_DIP, SSI_KNEE) < 0.05


def test_waterloo_pressure_within_5_percent(waterloo: Log) -> None:
    """Area fitted until just before the knee (measured when written: 2.5 %)."""
    fit = fit_area(waterloo_scenario(), waterloo, (0.5, 9.8))
    assert worst_in_liquid(fit, 0.5, WATERLOO_KNEE) < 0.05


def test_waterloo_first_half_predicts_knee_mass_and_tail(waterloo: Log) -> None:
    """Measured when written: knee -1.9 %, mass -5.1 %, tail -14.4 %."""
    fit = fit_area(waterloo_scenario(), waterloo, (0.5, 5.2))
    assert knee(fit) == pytest.approx(WATERLOO_KNEE, rel=0.05)
    mass = float(np.interp(knee(fit), fit.run.time, fit.run["mass_kg"][0]))
    assert mass == pytest.approx(WATERLOO_MASS, rel=0.08)
    assert abs(tail(fit, 11.0, 12.0)) < 0.15


def test_ssi_tail_from_the_whole_record(ssi: Log) -> None:
    """Measured when written: knee -4.2 %, tail +9.0 %."""
    fit = fit_area(ssi_scenario(), ssi, (SSI_AFTER_DIP, 14.0))
    assert knee(fit) == pytest.approx(SSI_KNEE, rel=0.05)
    assert abs(tail(fit, 8.0, 12.0)) < 0.15


def boiling(scenario: n2.Scenario, growth: float) -> n2.Scenario:
    return dataclasses.replace(scenario, model=n2.Model(boiling_growth=growth))


def test_ssi_first_half_predicts_the_knee_and_tail_with_growing_boiling(ssi: Log) -> None:
    """Area and one growth factor fitted on the first half of the drain, dip included.

    Measured when written: 1233 W/kg/K per s, knee +1.2 %, tail +5.2 %, dip at 0.25 of the
    equilibrium bottle's error. The record holds no mass to compare with.

    Not an independent prediction: the form of the growth was chosen on this record (see
    docs/model.md), and the knee moves from 11 % late to 7 % early as the window's end moves from
    3.0 to 4.5 s. The test keeps the half-way window from getting worse.
    """
    fit = calibrate(
        boiling(ssi_scenario(), 1000.0),
        ssi,
        ["effective_area", "boiling_growth"],
        log_start=0.0,
        window=[(0.05, 0.5 * SSI_KNEE)],
        profile=False,
    )
    assert knee(fit) == pytest.approx(SSI_KNEE, rel=0.05)
    assert abs(tail(fit, 8.0, 12.0)) < 0.15
    assert dip_error(fit.scenario, ssi) < 0.4 * dip_error(
        dataclasses.replace(fit.scenario, model=n2.Model()), ssi
    )


def factor_then_area(ssi: Log, end: float, model: n2.Model, rounds: int = 3) -> Calibration:
    """Growth factor from the opening dip, one area from there to ``end``, in turn until settled."""
    area, growth = 20e-6, 1000.0
    for _ in range(rounds):
        start = dataclasses.replace(
            ssi_scenario(area), model=dataclasses.replace(model, boiling_growth=growth)
        )
        dip = calibrate(
            start,
            ssi,
            ["boiling_growth"],
            log_start=0.0,
            window=[(0.05, SSI_AFTER_DIP + 0.05)],
            profile=False,
        )
        growth = dip["boiling_growth"].value
        fit = fit_area(dip.scenario, ssi, (SSI_AFTER_DIP + 0.05, end))
        area = fit["effective_area"].value
    return fit


@pytest.mark.parametrize(
    ("inside", "end", "within"),
    [
        pytest.param(1.0, 3.0, 0.05, marks=pytest.mark.campaign),
        pytest.param(
            *(1.0, 3.5, 0.06),
            marks=[
                pytest.mark.campaign,
                pytest.mark.xfail(
                    strict=True,
                    reason="6.3 % early since the fade of boiling near the critical point leaves "
                    "the critical heat flux alone: the wall gives the liquid more (5.3 % before)",
                ),
            ],
        ),
        pytest.param(0.3, 3.0, 0.05, marks=pytest.mark.campaign),
        (0.3, 3.5, 0.05),
        pytest.param(0.3, 5.0, 0.05, marks=pytest.mark.campaign),
    ],
)
def test_ssi_factor_from_the_dip_then_one_area(
    ssi: Log, inside: float, end: float, within: float
) -> None:
    """The factor from the dip, then one area on the rest of the first half (end in s).

    Measured, full inside coefficient: knee -3.1 % (3.0 s), -6.3 % (3.5 s), tail +10 to +14 %. With
    0.3 of it (what the wall gives a boiling, draining liquid is not measured anywhere): +3.8, +0.5,
    -3.2 % (5.0 s), tail +4 to +14 %.
    """
    fit = factor_then_area(ssi, end, n2.Model(inside_factor=inside))
    print(f"knee {knee(fit) / SSI_KNEE - 1.0:+.3f}, tail {tail(fit, 8.0, 12.0):+.3f}")
    assert knee(fit) == pytest.approx(SSI_KNEE, rel=within)
    assert abs(tail(fit, 8.0, 12.0)) < 0.15


@pytest.mark.xfail(
    strict=True,
    reason="equilibrium bottle: the superheat left by the dip falls "
    "through the first half and looks like flow; knee comes 18 % early",
)
def test_ssi_first_half_predicts_the_knee(ssi: Log) -> None:
    fit = fit_area(ssi_scenario(), ssi, (SSI_AFTER_DIP, 4.5))
    assert knee(fit) == pytest.approx(SSI_KNEE, rel=0.05)


@pytest.mark.xfail(
    strict=True,
    reason="with growing boiling and the first 64 % of the drain: knee "
    "7 % early, tail 15 % fast; see docs/model.md",
)
def test_ssi_longer_window_predicts_the_knee(ssi: Log) -> None:
    fit = calibrate(
        boiling(ssi_scenario(), 1000.0),
        ssi,
        ["effective_area", "boiling_growth"],
        log_start=0.0,
        window=[(0.05, 4.5)],
        profile=False,
    )
    assert knee(fit) == pytest.approx(SSI_KNEE, rel=0.05)


def test_waterloo_has_no_superheat_to_find(waterloo: Log) -> None:
    """The same fit there finds boiling too fast to see, and what equilibrium predicts.

    Measured when written: 1e5 W/kg/K per s, knee -0.3 %, mass -5.3 %, tail -16.5 %.
    """
    fit = calibrate(
        boiling(waterloo_scenario(), 1000.0),
        waterloo,
        ["effective_area", "boiling_growth"],
        log_start=0.0,
        window=[(0.05, 5.2)],
        profile=False,
    )
    assert fit["boiling_growth"].value > 2e4
    assert knee(fit) == pytest.approx(WATERLOO_KNEE, rel=0.05)
    mass = float(np.interp(knee(fit), fit.run.time, fit.run["mass_kg"][0]))
    assert mass == pytest.approx(WATERLOO_MASS, rel=0.08)


def dip_error(scenario: n2.Scenario, log: Log, end: float = 2.05) -> float:
    run = n2.simulate(scenario)
    rows = (log.time > 0.05) & (log.time < end)
    p = np.interp(log.time[rows], run.time, run["pressure_gauge_Pa"][0])
    return float(np.sqrt(np.mean((p - log["gauge_pressure"][rows]) ** 2)))


@pytest.mark.parametrize(
    ("name", "model"),
    [("two_zone", n2.Model(two_zone=1000.0)), ("boiling_growth", n2.Model(boiling_growth=1000.0))],
)
def test_two_zones_halve_the_opening_dip(ssi: Log, name: str, model: n2.Model) -> None:
    """One factor fitted, area kept from the equilibrium fit."""
    area = fit_area(ssi_scenario(), ssi, (SSI_AFTER_DIP, 14.0))["effective_area"].value
    start = dataclasses.replace(ssi_scenario(area), model=model)
    fit = calibrate(start, ssi, [name], log_start=0.0, window=[(0.05, 2.05)], profile=False)
    ratio = dip_error(fit.scenario, ssi) / dip_error(ssi_scenario(area), ssi)
    print(f"{name} {fit[name].value:.4g}: {ratio:.2f} of the equilibrium bottle's dip error")
    assert ratio < 0.5
