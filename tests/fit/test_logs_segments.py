"""Segments of logs with a known schedule, with and without the recorded states."""

from __future__ import annotations

import numpy as np
import pytest

import n2osim as n2
from n2osim.errors import InputError
from n2osim.fit.calibrate import calibrate
from n2osim.fit.log_segments import detect_segments, edge_error, replay_schedule
from n2osim.fit.logs import Log
from n2osim.fit.synthetic import Recorder, synthetic_log
from n2osim.scenario.schedule import Hold, Pass, Rest

PSI = 6894.757293168361
TRUTH = [
    ("heating", 0.0, 600.0),
    ("idle", 600.0, 900.0),
    ("pass", 900.0, 909.0),
    ("idle", 909.0, 1000.0),
    ("recovery", 1000.0, 1300.0),
]


@pytest.fixture(scope="module")
def scenario() -> n2.Scenario:
    """Invented: heat 10 min, stand 5 min, pass 9 s, stand, heat again for 5 min."""
    return n2.Scenario(
        n2.Bottle.preset("aluminium", capacity="12 lb"),
        fill="9 lb",
        start="70 degF",
        ambient=n2.Ambient("60 degF"),
        heater=n2.Heater("300 W"),
        feed=n2.Feed.effective_area("3 mm2"),
        schedule=[Hold(600.0), Rest(300.0), Pass(9.0), Rest(91.0), Hold(300.0)],
    )


def stripped(log: Log, *channels: str) -> Log:
    """The log with only these channels beside pressure."""
    keep = {c: log[c] for c in ("gauge_pressure", *channels)}
    return Log.from_arrays(log.time, **keep)


@pytest.mark.parametrize("seed", range(3))
def test_recorded_states_are_believed(scenario: n2.Scenario, seed: int) -> None:
    log = synthetic_log(scenario, seed=seed, recorder=Recorder(0.25, noise=2 * PSI, step=PSI))
    found = detect_segments(log)
    assert [s.kind for s in found] == [k for k, _, _ in TRUTH]
    for s, (_, start, end) in zip(found, TRUTH):
        assert s.start == pytest.approx(start, abs=0.5)
        assert s.end == pytest.approx(end, abs=0.5)
    assert {s.told_by for s in found} == {"solenoid", "heater"}


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("step", [0.5, 5.0])
def test_pressure_alone_finds_pass_and_heating(
    scenario: n2.Scenario, seed: int, step: float
) -> None:
    """Noise 1.5 psi and a quantisation of up to 5 psi; edges within a few seconds of the truth."""
    recorder = Recorder(0.1, noise=1.5 * PSI, step=step * PSI, spikes=0.002)
    log = stripped(synthetic_log(scenario, seed=seed, recorder=recorder))
    found = detect_segments(log)
    passes = [s for s in found if s.kind == "pass"]
    assert len(passes) == 1
    assert passes[0].start == pytest.approx(900.0, abs=2.5)  # half a noise-limited window
    assert passes[0].end == pytest.approx(909.0, abs=2.5)
    first = next(s for s in found if s.kind == "heating")
    assert first.start < 60.0  # the blanket has to warm before the pressure rises
    assert first.end == pytest.approx(600.0, abs=60.0)  # heat still in the wall and blanket
    rising = [s for s in found if s.kind == "recovery"]
    assert rising and rising[-1].end == pytest.approx(1300.0, abs=5.0)


def test_segments_cover_the_log_without_overlap(scenario: n2.Scenario) -> None:
    log = stripped(synthetic_log(scenario, seed=5, recorder=Recorder(0.5, noise=3 * PSI)))
    found = detect_segments(log)
    assert found[0].first == 0 and found[-1].last == len(log)
    for a, b in zip(found[:-1], found[1:]):
        assert a.last == b.first and a.end == b.start and a.kind != b.kind


def test_constant_noise_is_idle() -> None:
    rng = np.random.default_rng(1)
    t = np.arange(0, 600, 0.5)
    log = Log.from_arrays(t, gauge_pressure=6e6 + 2 * PSI * rng.normal(size=t.size))
    assert [s.kind for s in detect_segments(log)] == ["idle"]


def test_replayed_schedule_repeats_the_log(scenario: n2.Scenario) -> None:
    log = synthetic_log(scenario, seed=7, recorder=Recorder(0.25, noise=PSI))
    items = replay_schedule(detect_segments(log))
    assert [type(i).__name__ for i in items] == ["Hold", "Rest", "Pass", "Rest", "Hold"]
    run = n2.simulate(scenario.replace(schedule=tuple(items)))
    p = np.interp(log.time, run.time, run["pressure_gauge_Pa"][0])
    assert np.std(p - log["gauge_pressure"]) < 3 * PSI


def test_bad_arguments(scenario: n2.Scenario) -> None:
    log = Log.from_arrays([0.0, 1.0, 2.0], gauge_pressure=[1e6, 1e6, 1e6])
    with pytest.raises(InputError, match="pass fall"):
        detect_segments(log, fall=-1.0)


# --- recorded edges -----------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("interval", "opened"), ((0.5, 3.0), (0.5, 3.2), (0.05, 3.0), (0.05, 3.02))
)
def test_recorded_edges_are_kept_within_their_error(interval: float, opened: float) -> None:
    """A pass of 3 s recorded at 2 Hz (it became 12.1 s long) and at 20 Hz (0.15 s early)."""
    t = np.arange(0.0, 12.1, interval)
    duty = ((t >= opened) & (t < opened + 3.0)).astype(float)
    p = 6.5e6 - 2e5 * np.clip(t - opened, 0.0, 3.0)
    log = Log.from_arrays(t, gauge_pressure=p, solenoid_duty=duty)
    segments = detect_segments(log)
    (one,) = (s for s in segments if s.kind == "pass")
    assert one.start == pytest.approx(opened, abs=0.5 * interval + 1e-9)
    assert one.end == pytest.approx(opened + 3.0, abs=0.5 * interval + 1e-9)
    assert sum(i.duration for i in replay_schedule(segments)) == pytest.approx(t[-1])
    assert edge_error(log, segments) == pytest.approx(interval / np.sqrt(12.0), rel=1e-6)


def test_replayed_fit_takes_the_edges_into_its_interval() -> None:
    """2 Hz: a replay finds the true area within an interval that knows the edges."""
    truth = n2.Scenario(
        n2.Bottle.preset("aluminium", capacity="10 lb"),
        fill="9 lb",
        start="80 degF",
        feed=n2.Feed(n2.Jets(8, "0.0292 in", cd=0.7)),
        schedule=[Rest(3.2), Pass(3.0), Rest(6.0)],
    )
    log = synthetic_log(truth, seed=4, recorder=Recorder(0.5, noise=2 * PSI, step=PSI))
    believed = truth.replace(feeds=(("main", n2.Feed(n2.Jets(8, "0.0292 in"))),))
    segments = detect_segments(log)
    replayed = believed.replace(schedule=tuple(replay_schedule(segments)))
    known, unknown = (
        calibrate(replayed, log, ["effective_area"], edge_error=e, search=False)
        for e in (0.0, edge_error(log, segments))
    )
    true = truth.feed.jets.cda
    low, high = unknown["effective_area"].interval
    assert low < true < high
    assert high - low > 1.5 * (known["effective_area"].high - known["effective_area"].low)
    jets = unknown.scenario.feed.jets
    assert (jets.count, jets.bore) == (8, believed.feed.jets.bore)  # the hardware stays
    assert jets.cd == pytest.approx(0.7, rel=0.2) and jets.cd_spread is not None
    assert any("8 of 0.7417 mm, cd 0." in note for note in unknown.notes)
