"""Sweeps, Monte Carlo, sensitivity indices, probabilities, and what they can be written to."""

from __future__ import annotations

import csv
import io
import math
import pickle

import numpy as np
import pytest
import scipy.stats as ss
from study_samples import base

from n2osim.errors import InputError, N2OSimError, UnknownNameError
from n2osim.hardware import Heater
from n2osim.results.run import simulate
from n2osim.scenario.fields import with_fields
from n2osim.scenario.schedule import Hold, Pass, Rest
from n2osim.studies.montecarlo import monte_carlo, plus_minus, sobol_indices, unit_sample
from n2osim.studies.sweeps import sweep
from n2osim.units import LB, PSI

OUT = ["hold0.peak_pressure_gauge_Pa", "pass0.*", "run.used_kg"]
SPREAD = {
    "fill": (ss.norm(12.0, 0.2), "lb"),
    "switch.offset": ss.uniform(-5e4, 1e5),
    "feed.jets.bore": ss.norm(1.27e-3, 1e-5),
}


# --- sweep ---------------------------------------------------------------------------------------
def test_a_grid_is_every_combination_last_name_fastest():
    result = sweep(
        base(),
        {"heater.power": ["200 W", 400.0], "fill": ["10 lb", "11 lb", "12 lb"]},
        outputs=["hold0.energy_J"],
    )
    # Numbers in SI, which sort, beside what was typed.
    assert result["fill"] == pytest.approx(np.array([10, 11, 12] * 2) * LB)
    assert result["heater.power"].tolist() == [200.0] * 3 + [400.0] * 3
    assert result.labels["fill"] == ["10 lb", "11 lb", "12 lb"] * 2
    assert result.labels["heater.power"] == ["200 W"] * 3 + ["400"] * 3
    with pytest.raises(ValueError, match="read-only"):
        result["fill"][0] = 1.0
    for k in (0, 4):
        assert result["hold0.energy_J"][k] == simulate(result.scenario(k)).holds[0].energy
    assert result.scenario(4).fill == pytest.approx(11 * LB)


def test_lists_in_pairs_and_points():
    paired = sweep(
        base(),
        {"heater.power": [200.0, 400.0], "fill": [4.0, 5.0]},
        paired=True,
        outputs=["run.used_kg"],
    )
    rows = [{"fill": 4.0, "heater.power": 200.0}, {"fill": 5.0, "heater.power": 400.0}]
    points = sweep(base(), rows, outputs=["run.used_kg"])
    assert np.array_equal(paired["run.used_kg"], points["run.used_kg"])
    assert points["fill"].tolist() == [4.0, 5.0]


def test_a_value_that_cannot_be_used_fails_alone():
    result = sweep(base(), {"fill": [4.0, -1.0, "12 psig", 5.0]}, outputs=["run.used_kg"])
    assert result.ok.tolist() == [True, False, False, True]
    assert "fill" in result.failures[0].reason and result.failures[0].inputs == {"fill": -1.0}
    assert result.failures[1].kind == "UnitError"


def test_where_every_member_failed_the_reason_is_told():
    result = sweep(base(), {"fill": ["12 psig"]})
    with pytest.raises(N2OSimError, match=r"every member failed, the first because of .*12 psig"):
        result.get("hold0.overshoot", "psi")


def test_inputs_in_any_unit_of_their_field():
    liner = {"bottle.layers.0.thickness": ["2 mm", 0.003], "fill": ["10 lb", 5.0]}
    result = sweep(base(schedule=[Rest(60.0)]), liner, paired=True)
    assert result.get("bottle.layers.0.thickness", "mm") == pytest.approx([2.0, 3.0])
    assert result.get("fill", "g") == pytest.approx([1e4 * LB, 5000.0])
    with pytest.raises(InputError, match="a unit of length"):
        result.get("bottle.layers.0.thickness", "lb")
    drawn = monte_carlo(
        base(schedule=[Rest(60.0)]),
        {"start": (ss.norm(60.0, 2.0), "degF"), "switch.opens": (ss.norm(950.0, 1.0), "psig")},
        5,
    )
    assert drawn.get("start [degF]", "K") == pytest.approx((drawn["start [degF]"] + 459.67) / 1.8)
    above = drawn.get("switch.opens [psig]", "psia") - drawn["switch.opens [psig]"]
    assert above == pytest.approx(base().ambient.pressure / PSI)


def test_absolute_pressures_are_over_each_member_s_own_air():
    result = sweep(base(schedule=[Rest(60.0)]), {"ambient.pressure": ["14 psia", "12 psia", -1.0]})
    over = result.get("run.peak_pressure", "psia") - result.get("run.peak_pressure", "psig")
    assert over[:2] == pytest.approx([14.0, 12.0]) and math.isnan(over[2])
    assert result.get("run.peak_pressure", "psia")[1] == pytest.approx(
        simulate(result.scenario(1)).get("run.peak_pressure", "psia")
    )


def test_percents_are_percents(study):
    assert study.describe("run.used_kg")["run.used_kg"]["count"] == 120
    for ask in (study.describe, lambda **how: study.percentiles("mass_kg", **how)):
        with pytest.raises(InputError, match="percents, 0 to 100"):
            ask(quantiles=(5.0, 105.0))


def test_a_time_grid_may_have_units():
    result = sweep(base(schedule=[Rest(600.0)]), {"fill": [4.0]}, times=["0 s", "5 min"])
    assert result.times.tolist() == [0.0, 300.0]
    for wrong in ("1 h", 5.0, ["0 s", "5 lb"]):
        with pytest.raises(InputError, match="times"):
            sweep(base(), {"fill": [4.0]}, times=wrong)


@pytest.mark.parametrize(
    ("over", "words"),
    [
        ({"heatr.power": [1.0]}, "did you mean 'heater.power'"),
        ({"fill": "10 lb"}, r'write \{"fill": \[\'10 lb\'\]\}'),
        ({"fill": []}, "one or more values"),
        ({}, "at least one field"),
        ([], "mapping"),
        ([{"fill": 4.0}, {"start": 300.0}], "sweep point 1"),
    ],
)
def test_sweeps_that_make_no_sense(over, words):
    with pytest.raises(InputError, match=words):
        sweep(base(), over)


def test_keywords_are_checked():
    with pytest.raises(UnknownNameError, match="did you mean 'workers'"):
        sweep(base(), {"fill": [4.0]}, worker=2)
    with pytest.raises(UnknownNameError, match="hold0"):
        sweep(base(), {"fill": [4.0]}, outputs=["hold1.duty"])
    with pytest.raises(InputError, match="lists of one length"):
        sweep(base(), {"fill": [4.0], "start": [290.0, 300.0]}, paired=True)


# --- Monte Carlo ---------------------------------------------------------------------------------
@pytest.mark.parametrize("sampling", ["latin", "sobol", "random"])
def test_same_seed_same_answer_however_split(sampling):
    one = monte_carlo(base(), SPREAD, 40, seed=5, sampling=sampling, outputs=OUT, workers=1)
    two = monte_carlo(
        base(), SPREAD, 40, seed=5, sampling=sampling, outputs=OUT, workers=2, chunk=7
    )
    assert one.names == two.names
    for name in [*one.names, *one.inputs]:
        np.testing.assert_array_equal(one[name], two[name], err_msg=name)
    other = monte_carlo(base(), SPREAD, 40, seed=6, sampling=sampling, outputs=OUT)
    assert not np.array_equal(one["fill [lb]"], other["fill [lb]"])


@pytest.mark.campaign
def test_chunks_of_a_hundred_and_of_a_thousand_agree():
    quick = base(schedule=[Pass(2.0)], start=300.0)
    small = monte_carlo(quick, SPREAD, 1500, chunk=100, workers=2, outputs=["run.used_kg"])
    large = monte_carlo(quick, SPREAD, 1500, chunk=1000, workers=1, outputs=["run.used_kg"])
    assert np.array_equal(small["run.used_kg"], large["run.used_kg"])


def test_the_sample_follows_its_distributions():
    u = unit_sample(3, 500, 1, "latin")
    # A Latin hypercube has exactly one point in each of its strata, in every dimension.
    assert np.array_equal(np.sort((u * 500).astype(int), axis=0)[:, 0], np.arange(500))
    for sampling in ("latin", "sobol", "random"):
        u = unit_sample(2, 500, 1, sampling)
        assert u.shape == (500, 2) and (u > 0).all() and (u < 1).all()
        assert ss.kstest(u[:, 0], "uniform").pvalue > 1e-3
    result = monte_carlo(
        base(schedule=[Rest(1.0)]),
        {
            "fill": (ss.norm(12.0, 0.2), "lb"),
            "feed.jets.count": ss.randint(1, 4),
            "bottle": ["aluminium", "steel"],
        },
        200,
    )
    assert result["fill [lb]"].mean() == pytest.approx(12.0, abs=0.01)
    assert result["fill [lb]"].std() == pytest.approx(0.2, rel=0.05)
    assert np.bincount(result["feed.jets.count"].astype(int)).tolist() == [0, 67, 66, 67]
    assert (result["bottle"] == "steel").sum() == 100
    k = 17
    assert result.scenario(k).fill == pytest.approx(result["fill [lb]"][k] * LB, rel=1e-12)
    assert result["rest0.start_mass_kg"][k] == pytest.approx(result["fill [lb]"][k] * LB, rel=1e-12)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"fill": 5.0}, "frozen scipy.stats distribution"),
        ({"fil": ss.norm(5, 0.1)}, "did you mean 'fill'"),
        ({}, "mapping of dotted names"),
        ({"fill": ss.norm(5.0, float("nan"))}, "finite quantiles"),
        ({"fill": ss.norm}, "frozen scipy.stats distribution"),
        ({"fill": (ss.norm, "lb")}, "frozen scipy.stats distribution"),
    ],
)
def test_distributions_that_make_no_sense(given, words):
    with pytest.raises(InputError, match=words):
        monte_carlo(base(), given, 10)


def test_seed_count_and_sampling_are_checked():
    for wrong in ({"seed": -1}, {"seed": "a"}, {"sampling": "latn"}):
        with pytest.raises(InputError):
            monte_carlo(base(), SPREAD, 10, **wrong)
    for count in (0, 2.5, True):
        with pytest.raises(InputError, match="members"):
            monte_carlo(base(), SPREAD, count)


# --- statistics ----------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def study():
    return monte_carlo(
        base(),
        SPREAD,
        120,
        seed=2,
        times=np.linspace(0, 2100, 22),
        series=["pressure_gauge_Pa", "mass_kg"],
    )


def test_describe_and_bands_are_numpy_percentiles(study):
    sag = study["pass0.pressure_sag_Pa"]
    d = study.describe(["pass0.pressure_sag_Pa"])["pass0.pressure_sag_Pa"]
    assert d["mean"] == sag.mean() and d["std"] == sag.std() and d["count"] == 120
    assert [d["p5"], d["p95"]] == np.percentile(sag, [5, 95]).tolist()
    band = study.percentiles("pressure_gauge_Pa", [10, 50, 90])
    series = study.series_of("pressure_gauge_Pa")
    assert np.array_equal(band, np.percentile(series, [10, 50, 90], axis=0))
    assert series.shape == (120, 22)


def test_probabilities(study):
    peak = study["hold0.peak_pressure_gauge_Pa"]
    limit = float(np.quantile(peak, 0.9))
    found = study.probability("hold0.peak_pressure_gauge_Pa", above=limit)
    assert found.count == int((peak > limit).sum()) == 12 and found.of == 120
    # Clopper-Pearson by its definition: tail probabilities of the binomial are 2.5 % at the ends.
    assert ss.binom.sf(11, 120, found.low) == pytest.approx(0.025, rel=1e-9)
    assert ss.binom.cdf(12, 120, found.high) == pytest.approx(0.025, rel=1e-9)
    text = study.probability("hold0.peak_pressure_gauge_Pa", above=f"{limit / PSI!r} psig")
    assert text == found
    assert study.probability("hold0.peak_pressure_gauge_Pa", below="0 psig").value == 0.0
    with pytest.raises(InputError, match="above"):
        study.probability("hold0.peak_pressure_gauge_Pa")
    with pytest.raises(InputError, match="limit on"):
        study.probability("hold0.peak_pressure_gauge_Pa", above="30 degF")


def test_probability_over_time_and_of_leaving_the_band(study):
    p = study.probability_over_time("pressure_gauge_Pa", above="1050 psig")
    series = study.series_of("pressure_gauge_Pa")
    assert np.array_equal(p, (series > 1050 * PSI).mean(axis=0))
    assert p[0] == 0.0 and p.max() > 0.5
    leave = study.probability_of_leaving("hold0", "990 psig", "1115 psig")
    top, low = (study[f"hold0.{x}_after_open_gauge_Pa"] for x in ("peak", "lowest"))
    outside = (top > 1115 * PSI) | (low < 990 * PSI)
    assert leave.count == int(outside.sum()) and 0 < leave.count < 120
    cold = sweep(base(), {"heater.power": [20.0, 300.0]})
    leave = cold.probability_of_leaving("hold0", "900 psig", "1300 psig")
    assert (leave.count, leave.undefined) == (1, 1)  # 20 W never gets there


def test_members_that_have_ended_are_not_counted():
    result = sweep(
        base(schedule=[Hold("2 h", until_open=True)]),
        {"heater.power": [300.0, 900.0]},
        times=[0.0, 600.0, 900.0, 86400.0],
    )
    series = result.series_of("pressure_gauge_Pa")
    assert np.isfinite(series[:, 0]).all() and np.isnan(series[:, 3]).all()
    assert np.isnan(series[1, 2]) and np.isfinite(series[0, 2])
    assert np.isnan(result.percentiles("pressure_gauge_Pa")[:, 3]).all()
    assert np.isnan(result.probability_over_time("pressure_gauge_Pa", above=0.0)[3])


# --- sensitivity ---------------------------------------------------------------------------------
def test_indices_of_a_case_with_a_known_answer():
    # Heater energy over a hold that never switches is power times time: with both scattered
    # independently, var(P t) splits exactly (variance of a product of independent factors).
    power, time = ss.uniform(20.0, 10.0), ss.uniform(600.0, 600.0)
    scenario = base(schedule=[Hold("10 min")], heater=Heater("20 W"))
    found = sobol_indices(
        scenario, {"heater.power": power, "schedule.0.duration": time}, 256, ["hold0.energy_J"]
    )
    vp, vt = power.var() * time.mean() ** 2, time.var() * power.mean() ** 2
    both = power.var() * time.var()
    whole = vp + vt + both
    first, total = found.first["hold0.energy_J"], found.total["hold0.energy_J"]
    assert first["heater.power"] == pytest.approx(vp / whole, abs=0.02)
    assert first["schedule.0.duration"] == pytest.approx(vt / whole, abs=0.02)
    assert total["heater.power"] == pytest.approx((vp + both) / whole, abs=0.02)
    assert total["schedule.0.duration"] == pytest.approx((vt + both) / whole, abs=0.02)
    low, high = found.total_interval["hold0.energy_J"]["heater.power"]
    assert low < total["heater.power"] < high
    assert (found.used, found.count, len(found.study)) == (256, 256, 256 * 4)
    assert "schedule.0.duration" in found.summary()
    frame = found.to_dataframe()
    assert frame.loc[("hold0.energy_J", "heater.power"), "total"] == total["heater.power"]
    assert (frame["total_low"] <= frame["total"]).all() and len(frame) == 2
    shown = found._repr_html_()
    assert "256 of 256 base members" in shown and f"{total['heater.power']:.3f}" in shown


def test_indices_need_numbers():
    with pytest.raises(N2OSimError, match="warm_up_time"):
        sobol_indices(
            base(heater=Heater("20 W")), {"fill": ss.uniform(5.0, 0.2)}, 4, "hold0.warm_up_time_s"
        )
    with pytest.raises(InputError, match="power of 2"):
        sobol_indices(base(), {"fill": ss.uniform(5.0, 0.2)}, 100, "run.used_kg")


def test_a_few_lost_members_do_not_spoil_the_indices():
    # About one charge in fifty is refused (below the least that a bottle may hold).
    scenario = base(schedule=[Hold("10 min")], heater=Heater("20 W"))
    found = sobol_indices(
        scenario, {"schedule.0.duration": ss.uniform(-4.0, 604.0)}, 128, "hold0.energy_J"
    )
    assert found.used == 64 and found.study.failures
    assert found.first["hold0.energy_J"]["schedule.0.duration"] == pytest.approx(1.0, abs=0.05)


def test_plus_minus_is_the_root_sum_square_of_the_larger_changes():
    tolerances = {"fill": "0.1 lb", "switch.offset": "10 psi", "heater.power": "5 %", "start": 1.0}
    found = plus_minus(base(), tolerances, ["pass0.used_kg", "pass0.pressure_sag_Pa"])
    sag = found["pass0.pressure_sag_Pa"]
    assert sag.value == simulate(base()).passes[0].pressure_sag
    up, down = (
        simulate(with_fields(base(), {"fill": 12 * LB + d})).passes[0].pressure_sag
        for d in (0.1 * LB, -0.1 * LB)
    )
    changes = (up - sag.value, sag.value - down)
    assert sag.by["fill"] == pytest.approx(max(changes, key=abs), rel=1e-9)
    assert sag.plus_minus == pytest.approx(math.sqrt(sum(x * x for x in sag.by.values())))
    with pytest.raises(InputError, match="tolerance of fill"):
        plus_minus(base(), {"fill": "0.1 furlongs"}, "run.used_kg")
    with pytest.raises(InputError, match="holds a number"):
        plus_minus(base(), {"heater": 1.0}, "run.used_kg")
    with pytest.raises(InputError, match="tolerances"):
        plus_minus(base(), {}, "run.used_kg")


# --- tables --------------------------------------------------------------------------------------
def test_csv_frame_and_parquet_hold_the_same(tmp_path):
    pandas = pytest.importorskip("pandas")
    result = sweep(base(), {"bottle": ["aluminium", "steel"], "fill": [5.0, -1.0]}, outputs=OUT)
    text = result.to_csv(tmp_path / "a.csv")
    assert (tmp_path / "a.csv").read_bytes().decode() == text
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [r["ok"] for r in rows] == ["True", "False", "True", "False"]
    assert float(rows[2]["pass0.used_kg"]) == result["pass0.used_kg"][2]
    assert rows[1]["pass0.used_kg"] == "" and "fill" in rows[1]["reason"]
    frame = result.to_dataframe()
    assert frame["pass0.used_kg"].tolist()[0] == result["pass0.used_kg"][0]
    result.to_parquet(tmp_path / "a.parquet")
    back = pandas.read_parquet(tmp_path / "a.parquet")
    pandas.testing.assert_frame_equal(back, frame)
    with pytest.raises(InputError, match="overwrite"):
        result.to_csv(tmp_path / "a.csv", overwrite=False)


def test_a_text_is_no_formula_in_a_spreadsheet():
    result = sweep(base(), {"title": ["=1+1"]}, outputs=["run.used_kg"])
    row = next(csv.DictReader(io.StringIO(result.to_csv())))
    assert row["title"] == "'=1+1"


def test_notebook_view_and_pickle(study):
    page = study._repr_html_()
    assert page.count("<tr>") == 1 + len(study.names) - sum(
        not d["count"] for d in study.describe().values()
    )
    back = pickle.loads(pickle.dumps(study))
    assert np.array_equal(back["pass0.used_kg"], study["pass0.used_kg"])
    assert "120 members" in repr(back) and "pass0.used_kg" in back.summary()


def test_at_a_flat_maximum_both_ends_count() -> None:
    """Found: a slope of nothing at the temperature of the largest flow read as no doubt at all."""
    from n2osim.studies.montecarlo import _further

    assert _further(0.7, 1.0, 0.9) == pytest.approx(0.3)
    assert _further(0.9, 1.0, 0.7) == pytest.approx(-0.3)
    assert _further(1.0, 2.0, 3.0) == 1.0 and math.isnan(_further(math.nan, 1.0, 2.0))
    flat = base().replace(start=303.0)
    width = {"start": 4.0}
    low, top, high = (
        with_fields(flat, {"start": 303.0 + d}).run().passes[0].flow_start for d in (-4.0, 0.0, 4.0)
    )
    found = plus_minus(flat, width, "pass0.flow_start_kg_s")["pass0.flow_start_kg_s"]
    assert found.plus_minus == pytest.approx(max(abs(high - top), abs(top - low)), rel=1e-9)
