"""Figures: they draw the run's own numbers, in shop units, and their labels do not touch.

What they look like was inspected by eye at page and phone size; here is what can be asserted.
"""

import itertools
import re

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.text import Text
from report_runs import evening, pair, run

import n2osim as n2
from n2osim.errors import InputError, UnknownNameError
from n2osim.report import style
from n2osim.units import PSI, to_degF

FIGURES = {
    "run": n2.plot.run,
    "hold": n2.plot.hold,
    "pass": n2.plot.pass_,
    "rounds": n2.plot.rounds,
    "wall": n2.plot.wall,
    "chart": n2.plot.chart,
}


@pytest.fixture(autouse=True)
def close_figures():
    yield
    plt.close("all")


@pytest.mark.parametrize(
    "width", [style.PAGE, pytest.param(style.PHONE, marks=pytest.mark.campaign)]
)
@pytest.mark.parametrize("name", FIGURES)
def test_every_figure_draws_at_both_sizes(name: str, width: float, tmp_path) -> None:
    axes = FIGURES[name](evening(), width=width)
    path = tmp_path / "f.png"
    axes.figure.savefig(path, dpi=200)
    pixels = plt.imread(path)
    assert pixels.shape[1] == pytest.approx(200 * width, abs=2)
    assert (pixels[..., :3].min(axis=2) < 0.5).sum() > 500  # not an empty page


@pytest.mark.parametrize("name", FIGURES)
def test_draws_on_axes_that_are_given(name: str) -> None:
    figure, ax = plt.subplots(figsize=(6, 4))
    assert FIGURES[name](evening(), ax=ax) is ax
    assert ax.lines or ax.patches
    figure.canvas.draw()


@pytest.mark.parametrize("width", [style.PAGE, style.PHONE])
@pytest.mark.parametrize("name", FIGURES)
def test_texts_stay_inside_and_do_not_touch(name: str, width: float) -> None:
    axes = FIGURES[name](evening(), width=width)
    figure = axes.figure
    figure.canvas.draw()
    page = figure.bbox
    boxes = []
    for ax in figure.axes:
        for t in ax.texts:
            if t.get_text() and t.get_visible():
                # of the words alone: an annotation's own extent counts its leader line
                boxes.append((t.get_text(), Text.get_window_extent(t).padded(-1.0)))
        title = ax.title if ax.get_title() else ax._left_title
        if title.get_text():
            boxes.append((title.get_text(), title.get_window_extent().padded(-1.0)))
    for text, box in boxes:
        assert box.x0 >= page.x0 - 1 and box.x1 <= page.x1 + 1, f"{text!r} leaves the page"
    for (a, one), (b, two) in itertools.combinations(boxes, 2):
        assert not one.overlaps(two), f"{a!r} touches {b!r}"


@pytest.mark.parametrize("width", [style.PAGE, style.PHONE])
def test_limits_that_lie_close_can_be_read(width: float) -> None:
    """A polymer-lined shell has limits at 178 and 185 degF."""
    hot = run(
        bottles=n2.Bottle.preset("carbon-polymer", "10 lb"),
        fill="9.3 lb",
        start="48 degF",
        heater=n2.Heater("300 W"),
        switch=n2.PressureSwitch("900 psig", "950 psig"),
        schedule=[n2.Hold("40 min")],
    )
    figure = n2.plot.run(hot, width=width).figure
    figure.canvas.draw()
    said = [t for ax in figure.axes for t in ax.texts if re.search("limit.* 1[278]", t.get_text())]
    boxes = [Text.get_window_extent(t).padded(-1.0) for t in said]
    assert len(boxes) == 3
    assert not any(a.overlaps(b) for a, b in itertools.combinations(boxes, 2))


def test_pressure_line_is_the_run_s() -> None:
    axes = n2.plot.run(evening())
    line = axes.lines[0]
    assert np.allclose(line.get_xdata() * 60.0, evening().time)
    assert np.allclose(line.get_ydata() * PSI, evening()["pressure_gauge_Pa"][0])


def test_second_axis_is_si() -> None:
    axes = n2.plot.hold(evening())
    axes.figure.canvas.draw()
    second = next(c for c in axes.child_axes if c.get_ylabel() == "bar gauge")
    low, high = axes.get_ylim()
    assert second.get_ylim() == pytest.approx((low * PSI / 1e5, high * PSI / 1e5))


def test_pass_marks_events_and_counts_from_its_start() -> None:
    axes = n2.plot.pass_(evening(), index=-1)
    last = evening().passes[-1]
    x = axes.lines[0].get_xdata()
    assert x[0] == 0.0 and x[-1] == pytest.approx(last.duration)
    assert f"{last.pressure_sag / PSI:.0f} psi sag" in axes.get_title(loc="left")


def test_chart_lines_are_the_equation_of_state() -> None:
    bottle = n2.Bottle.preset("aluminium", "10 lb")
    axes = n2.plot.chart(bottle, fill="10 lb", fills=["5 lb"])
    full = max((ln for ln in axes.lines if len(ln.get_xdata()) == 140), key=lambda ln: ln.get_lw())
    at_100 = np.interp(100.0, full.get_xdata(), full.get_ydata())
    assert at_100 == pytest.approx(1266.5 - 14.7, abs=1.0)  # worked example, 680 kg/m3
    assert full.get_xdata()[0] == pytest.approx(87.1, abs=0.05)


def test_wall_profile_runs_through_the_nodes() -> None:
    axes = n2.plot.wall(evening(), times=["10 min"])
    covered, bare = axes.lines[0].get_ydata(), axes.lines[1].get_ydata()
    nodes = evening()["wall_temperature_K"][0]
    for part, drawn in ((0, covered), (1, bare)):
        exact = [np.interp(600.0, evening().time, n) for n in nodes[part]]
        assert np.allclose(drawn, to_degF(np.array(exact)))


def test_bottles_by_name_and_missing_parts() -> None:
    axes = n2.plot.run(pair(), bottle="right, rear")
    assert np.allclose(axes.lines[0].get_ydata() * PSI, pair()["pressure_gauge_Pa"][1])
    with pytest.raises(InputError, match="right, rear"):
        n2.plot.run(pair(), bottle="middle")
    with pytest.raises(InputError, match="at least one pass"):
        n2.plot.rounds(run())
    with pytest.raises(InputError, match="hold number"):
        n2.plot.hold(run())
    with pytest.raises(InputError, match="pass number"):
        n2.plot.pass_(evening(), index=7)


def test_run_plot_is_plot_run() -> None:
    assert np.array_equal(
        evening().plot().lines[0].get_ydata(), n2.plot.run(evening()).lines[0].get_ydata()
    )


def test_the_caller_s_settings_are_left_alone() -> None:
    before = dict(matplotlib.rcParams)
    n2.plot.run(evening())
    assert dict(matplotlib.rcParams) == before


@pytest.mark.parametrize(
    "wanted, gap",
    [
        ([0.5, 0.5, 0.5], 0.1),
        ([0.0, 0.01, 0.99], 0.2),
        ([0.3], 0.1),
        ([], 0.1),
        (list(np.linspace(0.4, 0.41, 30)), 0.1),
    ],
)
def test_spread_keeps_order_and_distance(wanted: list, gap: float) -> None:
    places = style.spread(wanted, gap, 0.0, 1.0)
    assert len(places) == len(wanted)
    room = min(gap, 1.0 / max(len(wanted) - 1, 1))
    for a, b in itertools.pairwise(places):
        assert b - a >= room - 1e-3
    assert all(-1e-9 <= p <= 1 + 1e-9 for p in places)


def contrast(colour: str) -> float:
    """WCAG 2 contrast ratio against white."""
    rgb = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in rgb]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return 1.05 / (luminance + 0.05)


def test_lines_and_labels_can_be_seen() -> None:
    # WCAG 2.1 asks 3:1 of graphics; the areas (band, heater) are paler on purpose
    for role, colour in style.ROLES.items():
        if role not in ("band", "heater", "flow"):
            assert contrast(colour) >= 3.0, role


def unlike() -> n2.Run:
    """Two bottles that stand apart: one fills the other while both feed the jets."""
    bottle = n2.Bottle.preset("aluminium", "10 lb")
    fitted = [
        n2.FittedBottle(bottle, "9 lb", "88 degF", name="left"),
        n2.FittedBottle(bottle, "3 lb", "70 degF", name="right"),
    ]
    return n2.simulate(
        n2.Scenario(
            fitted,
            feed=n2.Feed(n2.Jets(1, "0.052 in")),
            ambient=n2.Ambient("70 degF"),
            engine=n2.EngineSide(),
            schedule=[n2.Pass("8 s")],
        )
    )


def test_pass_of_two_bottles_shows_both_and_what_reaches_the_jets() -> None:
    result = unlike()
    axes = n2.plot.pass_(result)
    pressure, flow, charge = axes.figure.axes[:3]
    for ax in (pressure, charge):
        assert [x.get_text() for x in ax.get_legend().get_texts()] == ["left", "right"]
    drawn = flow.lines[0].get_ydata() * 0.45359237 / 60
    assert drawn == pytest.approx(result["outflow_kg_s"].sum(axis=0))
    assert drawn.max() < 0.5 * result["outflow_kg_s"][0].max()  # crossflow is not flow to the jets
    used = sum(s.used for s in result.passes)
    assert used == pytest.approx(result.engine.passes[0].n2o_used, rel=1e-6)
    assert f"{used / 0.45359237:.2f} lb used from 2 bottles" in axes.get_title(loc="left") + (
        axes.get_title()
    )
    plt.close("all")


def test_pass_of_one_named_bottle_says_which() -> None:
    result = unlike()
    axes = n2.plot.pass_(result, bottle="right")
    title = axes.get_title(loc="left") + axes.get_title()
    assert "right" in title and "taken in" in title and "psi rise" in title
    assert len(axes.lines) == 1
    plt.close("all")


HOSTILE = "$300 heater & $40 jets \\frac{ \U0001f9ca \ue000 \x1b[31m"


def hostile() -> n2.Run:
    import dataclasses

    result = pair()
    bottles = tuple(
        dataclasses.replace(b, name=f"{HOSTILE} {k}", follows=None if k == 0 else f"{HOSTILE} 0")
        for k, b in enumerate(result.scenario.bottles)
    )
    schedule = tuple(dataclasses.replace(x, label=HOSTILE) for x in result.scenario.schedule)
    return n2.simulate(result.scenario.replace(bottles=bottles, schedule=schedule, title=HOSTILE))


def test_text_is_text(tmp_path) -> None:
    """Neither mathematics, nor escape codes, nor warnings of missing letters; whatever the settings
    of the caller are."""
    import warnings

    result = hostile()
    with warnings.catch_warnings(), matplotlib.rc_context({"text.usetex": True}):
        warnings.simplefilter("error")
        for name in ("run", "hold", "pass", "rounds", "wall"):
            ax = result.plot(name)
            ax.figure.savefig(tmp_path / f"{name}.png")
            drawn = [t.get_text() for t in ax.figure.findobj(Text)]
            assert any("$300 heater & $40 jets" in x.replace("\n", " ") for x in drawn), name
            assert not any("\x1b" in x or "\ue000" in x for x in drawn)
            plt.close("all")


def test_both_bottles_are_in_every_figure() -> None:
    result = pair()
    names = [b.name for b in result.scenario.bottles]
    for what in ("run", "hold", "pass"):
        legend = result.plot(what).get_legend()
        assert [t.get_text() for t in legend.get_texts()] == names, what
    rungs = [t.get_text() for t in result.plot("rounds").get_yticklabels()]
    assert rungs == [f"pass 2, {name}" for name in names]
    with pytest.raises(UnknownNameError, match="'pass'"):
        result.plot("pss")
