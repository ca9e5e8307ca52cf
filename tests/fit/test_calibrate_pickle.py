"""A fit travels: pickled, copied, and still runs and predicts the same."""

import copy
import pickle

import numpy as np

import n2osim as n2
from n2osim.fit.calibrate import calibrate
from n2osim.fit.logs import read_log


def test_a_calibration_survives_pickling_and_copying(tmp_path):
    scenario = n2.Scenario(
        n2.Bottle.preset("aluminium", "10 lb"),
        fill="9 lb",
        start="85 degF",
        ambient=n2.Ambient("85 degF"),
        feed=n2.Feed.effective_area("1.2 mm2"),
        schedule=[n2.Pass("10 s")],
    )
    run = n2.simulate(scenario)
    t = np.arange(0.0, 10.0, 0.1)
    noise = np.random.default_rng(3).normal(0.0, 5e3, t.size)
    p = np.interp(t, run.time, run["pressure_gauge_Pa"][0]) + noise
    path = tmp_path / "log.csv"
    path.write_text("t_s,p_Pa\n" + "".join(f"{a:.3f},{b:.1f}\n" for a, b in zip(t, p)))
    log = read_log(path, {"time": "t_s", "gauge_pressure": ("p_Pa", "Pa")})
    guess = scenario.replace(feed=n2.Feed.effective_area("1.0 mm2"))
    fit = calibrate(guess, log, ["effective_area"], log_start=0.0, profile=False)
    for twin in (pickle.loads(pickle.dumps(fit)), copy.deepcopy(fit)):
        assert twin.scenario == fit.scenario
        assert twin["effective_area"].value == fit["effective_area"].value
        assert n2.simulate(twin.scenario).passes[0] == n2.simulate(fit.scenario).passes[0]
