"""The margins that reports and answers tell of, counted anew from the arrays of a run."""

import dataclasses

import pytest
import report_runs

import n2osim as n2
from n2osim.numbers import Units
from n2osim.results.limits import kept_clear
from n2osim.units import PSI


def test_what_one_keeps_clear_of_is_told_with_how_far_it_is() -> None:
    """Distances counted anew from the arrays; the tightest of each kind stands in an answer."""
    switch = n2.PressureSwitch("890 psig", "940 psig")
    scenario = report_runs.scenario(
        fill="9.2 lb", heater=n2.Heater("300 W"), switch=switch, schedule=[n2.Hold("50 min")]
    )
    bottle = scenario.bottles[0].bottle
    run = n2.simulate(scenario)
    found = {m.limit.code: m for m in kept_clear(run)}
    gauge = float((run["pressure_Pa"][0] - scenario.ambient.pressure).max())
    between = 100.0  # Pa: the peak lies between rows
    relief, test = 0.9 * bottle.relief_pressure - gauge, bottle.test_pressure - gauge
    assert found["relief-margin"].margin == pytest.approx(relief, abs=between)
    assert found["over-test-pressure"].margin == pytest.approx(test, abs=between)
    service = found["over-service-pressure"].margin
    assert service == pytest.approx(bottle.service_pressure - gauge, abs=between)
    share = [m.margin / m.limit.margin for m in kept_clear(run)]
    assert share == sorted(share) and share[0] > 0.0
    full = run.summary(full=True)
    told = " ".join(full.split("MARGINS")[1].split("EVENTS")[0].split())
    assert f"{service / PSI:.1f} psi" in told
    answer = n2.set_band(scenario, "900 psig", "960 psig")
    tightest = {m.kind: m for m in reversed(answer.margins)}
    assert set(tightest) == {"gauge_pressure", "temperature"}
    text = " ".join(answer.text().split())
    assert all(m.told(Units()) in text for m in tightest.values())
    assert text.count("clear of ") == 2
    assert [m["left"] for m in answer.to_dict()["margins"]] == [m.margin for m in answer.margins]
    assert "less than the" in dataclasses.replace(tightest["temperature"], margin=0.1).told(Units())
