"""A relief device that opens: full-bore vent to the outside pressure, and what is said of it."""

from __future__ import annotations

import json
import re
from types import SimpleNamespace

import CoolProp as cp
import numpy as np
import pytest
from run_checks import problems

import n2osim as n2
from n2osim.engine import layout as L
from n2osim.engine.fluid_node import BOTTLE_STATE_SIZE, equilibrium_state
from n2osim.engine.outflow import _relief
from n2osim.report import export
from n2osim.report.sheet import set_up_sheet
from n2osim.results.findings import SEVERITIES
from n2osim.results.run import Run, simulate
from n2osim.units import PSI

ATM = 101325.0
BURST = 900.0 * PSI
BOTTLE = n2.Bottle.preset("aluminium", "10 lb", relief_pressure=BURST)


def burst(fill: float, seconds: float, **model: float) -> Run:
    """A bottle whose disc opens at once: it starts just above its rating."""
    start = float(n2.fluid.saturation_temperature(BURST + ATM + 2e3))
    run = simulate(
        n2.Scenario(
            BOTTLE,
            [n2.Rest(seconds)],
            n2.Ambient(294.0),
            fill=fill,
            start=start,
            model=n2.Model(**model),
        )
    )
    assert problems(run) == []
    return run


# --- against an independent vent, CoolProp and nothing of ours -----------------------------------
class Twin:
    """Adiabatic bottle venting saturated vapour (then gas) at the homogeneous-equilibrium flux."""

    def __init__(self, volume: float, area: float) -> None:
        self.volume, self.area = volume, area
        self.bulk, self.throat = (cp.AbstractState("HEOS", "NitrousOxide") for _ in range(2))

    def flux(self, p0: float, h0: float, s0: float) -> float:
        best = 0.0
        for p in np.linspace(max(ATM, 0.3 * p0), p0, 60)[:-1]:
            self.throat.update(cp.PSmass_INPUTS, p, s0)
            drop = h0 - self.throat.hmass()
            best = max(best, self.throat.rhomass() * np.sqrt(2.0 * max(drop, 0.0)))
        return best

    def rates(self, m: float, u: float) -> tuple[float, float]:
        self.bulk.update(cp.DmassUmass_INPUTS, m / self.volume, u / m)
        p = self.bulk.p()
        if p <= ATM:
            return 0.0, 0.0
        if self.bulk.phase() == cp.iphase_twophase:
            self.bulk.update(cp.PQ_INPUTS, p, 1.0)
        h, s = self.bulk.hmass(), self.bulk.smass()
        flow = self.area * self.flux(p, h, s)
        return -flow, -flow * h

    def mass_after(self, m: float, u: float, seconds: float, steps: int) -> float:
        dt = seconds / steps
        for _ in range(steps):  # midpoint rule
            dm, du = self.rates(m, u)
            dm, du = self.rates(m + 0.5 * dt * dm, u + 0.5 * dt * du)
            m, u = m + dt * dm, u + dt * du
        return m


def test_the_vent_follows_an_independent_one() -> None:
    """Mass left after 2, 5 and 10 s, fluid without heat from the wall: 0.5 %."""
    run = burst(2.0, 10.0, inside_coefficient=0.0)
    twin = Twin(BOTTLE.volume, BOTTLE.relief_cda)
    twin.bulk.update(cp.DmassT_INPUTS, 2.0 / BOTTLE.volume, run.scenario.start)
    u = 2.0 * twin.bulk.umass()
    for seconds in (2.0, 5.0, 10.0):
        left = twin.mass_after(2.0, u, seconds, 60)
        assert np.interp(seconds, run.time, run["mass_kg"][0]) == pytest.approx(left, rel=5e-3)


def test_a_disc_does_not_shut_again() -> None:
    """Down to the outside's pressure, and gas at that pressure is all that stays."""
    run = burst(3.0, 1800.0)
    opened = [e for e in run.events if e.name == "relief opens"]
    assert len(opened) == 1 and opened[0].time == 0.0
    assert run["relief_open"].all() or run["relief_open"][0, 1:].all()
    assert 0.0 <= run["pressure_gauge_Pa"][0, -1] < 100.0
    gas = n2.fluid.state_from_p_T(ATM, float(run["fluid_temperature_K"][0, 0, -1])).rho
    assert run["mass_kg"][0, -1] == pytest.approx(float(gas) * BOTTLE.volume, rel=1e-2)


def test_no_refill_no_heat_brings_a_burst_disc_back() -> None:
    run = simulate(
        n2.Scenario(
            BOTTLE,
            [n2.Hold("40 min"), n2.Refill("60 degF", to=1.0), n2.Rest("10 min")],
            n2.Ambient(294.0),
            fill=3.0,
            start=290.0,
            heater=n2.Heater(400.0),
            switch=n2.PressureSwitch("1000 psig", "1100 psig"),
        )
    )
    assert problems(run) == []
    opened = next(e.time for e in run.events if e.name == "relief opens")
    assert run["relief_open"][0][run.time > opened].all()
    assert run["pressure_gauge_Pa"][0, -1] < 1e3


# --- what is said --------------------------------------------------------------------------------
def test_the_finding_says_time_mass_and_air() -> None:
    run = burst(3.0, 1800.0)
    worst = run.findings[0]
    assert worst.code == "relief-opened" and worst.severity == "danger"
    lost = 3.0 - run["mass_kg"][0, -1]
    for words in (f"({lost:.3f} kg)", "closed car of 110 cu ft (3 m3)", "% oxygen", "25 ppm"):
        assert words in worst.message, words
    gone = float(np.interp(0.9 * lost, 3.0 - run["mass_kg"][0], run.time))
    took = float(re.search(r"nine tenths of it in ([\d.]+) s", worst.message)[1])  # type: ignore[index]
    assert took == pytest.approx(gone, rel=0.02)
    # by hand: v = lost / 44.0128e-3 * 0.024125 * 0.9945; x = 20.95 % exp(-v / 3)
    v = lost / 44.0128e-3 * 8.314463 * 294.0 / ATM * 0.9945
    said = float(re.search(r"it leaves ([\d.]+) % oxygen", worst.message)[1])  # type: ignore[index]
    assert said == pytest.approx(20.95 * np.exp(-v / 3.0), abs=0.06)
    assert "door" in worst.remedy and "outside" in worst.remedy


def test_findings_come_first_in_summary_sheet_and_json() -> None:
    run = burst(3.0, 60.0)
    text = run.summary()
    order = ["IN SHORT", "FINDINGS", "  DANGER", "Bottle ", "WHAT HAPPENED"]
    places = [text.index(f"\n{word}") for word in order]
    assert places == sorted(places)  # only the short answer is before them
    assert "relief device opens" in text[places[1] : places[3]]
    data = json.loads(export.json_text(run))
    keys = list(data)
    assert all(
        keys.index("findings") < keys.index(k)
        for k in ("events", "segments", "variables")
        if k in keys
    )
    assert data["findings"][0]["code"] == "relief-opened"
    page = set_up_sheet(run.scenario)
    body = page[page.index("<body") :]
    assert "relief device opens" in body
    for later in ("<table", "<svg"):
        assert body.index("relief device opens") < body.index(later), later


def test_every_finding_names_its_source_and_the_cylinder_comes_first() -> None:
    """A regulation, a paper, "computed", "typical" or "common practice": nothing without."""
    run = burst(3.0, 60.0)
    for f in run.findings:
        assert f.severity in SEVERITIES
        assert re.search(r"CFR|CGA|ISO|computed|practice|typical|literature|source", f.source), f
    words = " ".join(f.message for f in run.findings if f.severity == "caution")
    for needed in ("marking", "re-test", "local codes", "licensed", "displaces oxygen"):
        assert needed in words


def test_findings_are_evaluated_on_every_run_and_on_partial_ones() -> None:
    from n2osim.errors import IntegrationError

    bare = n2.Bottle.preset("steel", "10 lb", relief_pressure=None)
    with pytest.raises(IntegrationError) as caught:
        simulate(n2.Scenario(bare, [n2.Hold("3 h")], fill=4.0, start=300.0, heater=n2.Heater(5e3)))
    codes = [f.code for f in caught.value.partial_run.findings]
    assert "over-test-pressure" in codes and "relief-not-stated" in codes
    assert codes.index("over-test-pressure") < codes.index("relief-not-stated")


def test_flow_does_not_jump_where_the_last_vapour_goes() -> None:
    """At 285 K from 97 % of liquid to full: liquid passes where vapour did, over the last percent.

    Homogeneous equilibrium itself passes that boundary without a jump.
    """
    T, volume = 285.0, 5e-3
    line = n2.fluid.saturation(T)
    liquid, vapour = float(line.rho_l), float(line.rho_v)
    whole = SimpleNamespace(p_ambient=ATM)
    bottle = SimpleNamespace(relief_cda=2e-5)
    flows = []
    for level in (0.97, 0.9899, 0.993, 0.996, 0.999, 0.99999, 1.00001):
        st, out = np.zeros(BOTTLE_STATE_SIZE), np.zeros((1, L.N_OUT))
        rho = vapour + level * (liquid - vapour)
        fluid = n2.fluid.state(T=T, rho=rho)
        guess = np.array([T, T, 0.0, 0.0, 0.0, 0.0])
        equilibrium_state(rho * volume, float(fluid.u) * rho * volume, volume, guess, st)
        _relief(whole, bottle, st, out, 0)
        flows.append(out[0, L.O_RELIEF])
    assert flows[1] == pytest.approx(flows[0], rel=1e-9)
    assert flows == sorted(flows)
    assert flows[-2] > 1.5 * flows[0]
    assert flows[-1] == pytest.approx(flows[-2], rel=2e-3)
