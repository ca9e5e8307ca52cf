"""Engine side in findings, summary, files and figures."""

import json

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
import pytest
from report_runs import evening, with_engine

from n2osim.errors import ScenarioError
from n2osim.reporting import export, plots
from n2osim.reporting.limits import find
from n2osim.simulation.scenario_file import loads


def codes(run) -> dict:
    return {f.code: f for f in find(run)}


def test_mixture_follows_the_square_root_of_fuel_pressure() -> None:
    # Bernoulli: fuel flow, and so the mixture at the same N2O flow, goes as sqrt(pressure)
    a, b = (with_engine(p).engine.passes[0].mixture.mean for p in ("20 psig", "80 psig"))
    assert b / a == pytest.approx(2.0, rel=0.02)


def test_lean_is_a_danger_and_rich_a_warning() -> None:
    lean, rich = codes(with_engine("15 psig")), codes(with_engine("120 psig"))
    assert lean["lean"].severity == "danger" and "rich" not in lean
    assert rich["rich"].severity == "warning" and "lean" not in rich
    f = lean["lean"]
    assert f.value < f.limit == pytest.approx(0.95 * 1.15)
    assert 60.0 <= f.time < 66.0 and '"run"' in f.message
    assert "breaks engines" in f.message and "no source" in f.source


def test_a_good_mixture_is_not_found_fault_with() -> None:
    run = with_engine("43 psig")
    mean = run.engine.passes[0].mixture.mean
    found = codes(run)
    if 1.10 < mean < 1.37:
        assert "lean" not in found and "rich" not in found
    else:
        pytest.fail(f"the fixture's mixture is {mean}: choose other jets")


def test_summary_prints_power_with_its_accounting() -> None:
    text = with_engine().summary()
    block = " ".join(text.split("ENGINE")[1].split())
    assert "decomposition heat not counted" in block and "at the crank" in block
    assert "brake efficiency 0.313 of the fuel that burns" in block
    one = with_engine().engine.passes[0]
    assert f"{one.power.mean / 745.6998715822702:.0f} " in block
    si = " ".join(with_engine().summary("si").split("ENGINE")[1].split())
    assert "kW" in si and "kg/J" in si
    assert "ENGINE" not in evening().summary()


def test_files_carry_the_engine() -> None:
    data = json.loads(export.json_text(with_engine()))
    assert data["engine"]["passes"][0]["label"] == "run"
    assert data["engine"]["statement"]
    assert json.loads(export.json_text(evening()))["engine"] is None
    frame = with_engine().to_dataframe()
    assert np.array_equal(frame["engine_power_W"], with_engine().engine["power_W"])


def test_figure_of_the_pass_shows_mixture_and_power() -> None:
    axes = plots.plot_pass(with_engine())
    labels = [a.get_ylabel() for a in axes.figure.axes]
    assert any("mixture" in x for x in labels) and any("power" in x for x in labels)
    assert len(plots.plot_pass(evening()).figure.axes) == 3
    plt.close("all")


def test_unknown_fuel_is_caught_when_the_file_is_read() -> None:
    text = """\
schema = 1
[bottle]
preset = "steel"
capacity = "10 lb"
fill = "9 lb"
start = "70 degF"
[engine]
fuel = "petrl"
"""
    with pytest.raises(ScenarioError, match=r"line 8: engine\.fuel.*petrol"):
        loads(text, "x.toml")
