"""Figures of studies: what is drawn is what the study says, in shop units, at both sizes."""

from functools import lru_cache

import matplotlib
import matplotlib.pyplot as plt
import numpy as np
import pytest
from report_runs import scenario

import n2osim as n2
from n2osim.answers.compare import compare_shells
from n2osim.errors import InputError, UnknownNameError
from n2osim.report.style import PAGE, PHONE
from n2osim.studies.montecarlo import monte_carlo, plus_minus, sobol_indices
from n2osim.units import PSI

matplotlib.use("Agg")


@pytest.fixture(autouse=True)
def close_figures():
    yield
    plt.close("all")


@lru_cache
def car() -> n2.Scenario:
    return scenario(
        heater=n2.Heater("400 W"),
        switch=n2.PressureSwitch("880 psig", "920 psig"),
        feed=n2.Feed(n2.Jets(1, "0.06 in"), model="hem"),
        schedule=[n2.Hold("30 min"), n2.Pass("8 s")],
    )


@lru_cache
def shells():
    return compare_shells(car(), ["aluminium", "carbon-polymer"], hold="20 min")


@lru_cache
def scatter():
    from scipy.stats import norm

    return monte_carlo(
        car(),
        {"fill": norm(3.6, 0.1)},
        16,
        times=np.linspace(0, 1700, 60),
        workers=1,
        outputs=["run.*"],
    )


@lru_cache
def indices():
    from scipy.stats import uniform

    return sobol_indices(
        car(),
        {"fill": uniform(3.4, 0.4), "heater.power": uniform(350, 100)},
        8,
        ["hold0.energy_J", "run.peak_pressure_gauge_Pa"],
        workers=1,
    )


@lru_cache
def tolerances():
    return plus_minus(
        car(),
        {"fill": "0.2 lb", "feed.jets.cd": "5 %"},
        ["pass0.used_kg", "pass0.pressure_sag_Pa"],
        workers=1,
    )


@lru_cache
def fitted():
    from n2osim.fit.calibrate import calibrate
    from n2osim.fit.synthetic import Recorder, synthetic_log

    base = car().replace(schedule=[n2.Hold("15 min")])
    log = synthetic_log(base, seed=3, recorder=Recorder(interval=5.0, noise="2 psi", step="1 psi"))
    return calibrate(base, log, ["heater_power"], profile=False)


FIGURES = {
    "shells": (n2.plot.shells, shells),
    "bands": (n2.plot.bands, scatter),
    "indices": (n2.plot.sensitivity, indices),
    "tolerances": (n2.plot.sensitivity, tolerances),
    "residuals": (n2.plot.residuals, fitted),
}


def texts(ax) -> list[str]:
    return [t.get_text() for t in ax.texts]


@pytest.mark.parametrize("width", [PAGE, PHONE])
@pytest.mark.parametrize("name", FIGURES)
def test_drawn_at_both_sizes_and_nothing_is_cut_off(name: str, width: float) -> None:
    draw, study = FIGURES[name]
    ax = draw(study(), width=width)
    figure = ax.figure
    assert figure.get_figwidth() == pytest.approx(width)
    figure.draw_without_rendering()
    box = figure.bbox
    for axes in figure.axes:
        low, high = sorted(axes.get_ylim())
        shown = [t for y, t in zip(axes.get_yticks(), axes.get_yticklabels()) if low <= y <= high]
        for text in [*axes.texts, axes.xaxis.label, axes.yaxis.label, *shown, axes._left_title]:
            if text.get_text() and text.get_visible():
                seen = text.get_window_extent()
                assert seen.x0 >= box.x0 - 2 and seen.x1 <= box.x1 + 2, text.get_text()
                assert seen.y0 >= box.y0 - 2 and seen.y1 <= box.y1 + 2, text.get_text()


@pytest.mark.parametrize("name", FIGURES)
def test_drawn_into_given_axes(name: str) -> None:
    draw, study = FIGURES[name]
    figure, ax = plt.subplots(figsize=(7, 6))
    assert draw(study(), ax=ax) is ax and ax.figure is figure


def test_shells_carry_their_numbers() -> None:
    ax = n2.plot.shells(shells())
    said = texts(ax)
    for row in shells().shells.values():
        assert f"{row.sag / PSI:.1f}" in said
        assert f"{row.warm_up_time / 60.0:.1f}" in said
    bars = [p.get_width() for p in ax.patches]
    assert len(bars) == 7 * 2 and max(bars) == pytest.approx(1.0)


def test_a_shell_that_never_gets_there_says_so() -> None:
    from dataclasses import replace

    late = {k: replace(r, warm_up_time=None) for k, r in shells().shells.items()}
    found = replace(shells(), more={**shells().more, "shells": late})
    assert texts(n2.plot.shells(found)).count("never") == 2


def test_bands_are_the_percentiles_in_psig() -> None:
    ax = n2.plot.bands(scatter())
    median = ax.lines[0].get_ydata()
    wanted = scatter().percentiles("pressure_gauge_Pa", [50.0])[0] / PSI
    np.testing.assert_allclose(median, wanted, rtol=1e-9)
    assert "psig" in ax.get_ylabel() and "median" in texts(ax)
    with pytest.raises(UnknownNameError, match="pressure_gauge_Pa"):
        n2.plot.bands(scatter(), series="pressure_guage_Pa")


def test_tolerance_bars_are_in_shop_units_strongest_first() -> None:
    ax = n2.plot.sensitivity(tolerances(), output="pass0.pressure_sag_Pa")
    by = tolerances()["pass0.pressure_sag_Pa"].by
    order = sorted(by, key=lambda n: -abs(by[n]))
    assert [t.get_text() for t in ax.get_yticklabels()] == order
    np.testing.assert_allclose(
        [p.get_width() for p in ax.patches], [by[n] / PSI for n in order], rtol=1e-9
    )
    assert "psi" in ax.get_xlabel()
    one = tolerances()["pass0.used_kg"]
    assert "lb" in n2.plot.sensitivity(one).get_xlabel()


def test_index_bars_are_total_and_first_order() -> None:
    ax = n2.plot.sensitivity(indices())
    total = indices().total["hold0.energy_J"]
    widths = [p.get_width() for p in ax.patches][::2]
    np.testing.assert_allclose(widths, sorted(total.values(), reverse=True), rtol=1e-9)


def test_wrong_names_are_answered() -> None:
    with pytest.raises(UnknownNameError, match=r"pass0\.used_kg"):
        n2.plot.sensitivity(tolerances(), output="pass0.usd_kg")
    with pytest.raises(UnknownNameError, match=r"hold0\.energy_J"):
        n2.plot.sensitivity(indices(), output="hold0.energy")
    with pytest.raises(InputError, match="at least one output"):
        n2.plot.sensitivity({})
    with pytest.raises(InputError, match=r"figure of: .* a StudyResult"):
        n2.plot.bands(n2.simulate(car()))
    with pytest.raises(InputError, match="a SobolIndices or PlusMinus or Mapping"):
        n2.plot.sensitivity(scatter())
    with pytest.raises(InputError, match="a matplotlib Axes"):
        n2.plot.bands(scatter(), "pressure_gauge_Pa")
    with pytest.raises(InputError, match="simulate it first"):
        n2.plot.run(car())
    with pytest.raises(InputError, match="a Bottle, Scenario or Run"):
        n2.plot.chart("steel")
    with pytest.raises(InputError, match="width: '7 in'"):
        n2.plot.run(n2.simulate(car()), width="7 in")


def test_residuals_are_those_of_the_fit() -> None:
    fit = fitted()
    ax = n2.plot.residuals(fit)
    below = ax.figure.axes[1]
    drawn = next(line for line in below.lines if len(line.get_ydata()) > 2).get_ydata()
    np.testing.assert_allclose(drawn, fit.residuals[0].residual[fit.residuals[0].used] / PSI)
    assert f"{fit.goodness[0].rms / PSI:.2g} psi" in ax.get_title("left")
    with pytest.raises(UnknownNameError, match="pressure"):
        n2.plot.residuals(fit, channel="presure")
