"""What jets and vents get from several bottles, apart from what the bottles give each other.

References: conservation of mass (the manifold holds nothing) and the flow of one bottle of the
same contents.
"""

import numpy as np
import pytest

from n2osim.answers.judge import PassLimits
from n2osim.answers.passes import passes_per_fill, refill_mark
from n2osim.answers.race_day import race_day
from n2osim.answers.race_plan import RaceDay
from n2osim.hardware import Ambient, Bottle, Feed, Jets
from n2osim.results.run import simulate
from n2osim.scenario.scenario import FittedBottle, Scenario
from n2osim.scenario.schedule import Pass, Purge, Rest
from n2osim.studies.members import numbers_of

BOTTLE = Bottle.preset("aluminium", "10 lb")
JETS = Feed(Jets(4, "0.03 in"))
PASS = (Pass("5 s"),)
EQUAL = ((4.0, "80 degF"), (4.0, "80 degF"))
UNEQUAL = ((4.5, "88 degF"), (2.5, "70 degF"))
DRAWN = (Purge("1 s"), Rest("10 s"), Pass("5 s", delay="0.5 s"))


def pair(left, right, schedule=PASS):
    bottles = [FittedBottle(BOTTLE, *left, name="left"), FittedBottle(BOTTLE, *right, name="right")]
    feeds = {"main": JETS, "purge": Feed(Jets(1, "0.03 in"))}
    return Scenario(bottles, schedule, Ambient("75 degF"), feeds)


@pytest.fixture(scope="module")
def unequal():
    return simulate(pair(*UNEQUAL, schedule=DRAWN))


def test_totals_are_what_left_the_bottles(unequal) -> None:
    """Charge before less charge after, and the mean is that over the time the valve was open."""
    mass = unequal["mass_kg"].sum(axis=0)
    for total, seconds in zip(unequal.totals, (1.0, 5.0)):
        rows = np.flatnonzero(unequal["segment"] == total.index)
        gone = mass[rows[0]] - mass[rows[-1]]
        assert total.used == pytest.approx(gone, rel=1e-9)
        assert total.flow_time == pytest.approx(seconds - total.start_time % 1.0, abs=0.51)
        assert total.flow_mean * total.flow_time == pytest.approx(gone, rel=1e-9)
        assert 0.0 < min(total.flow_start, total.flow_end) <= total.flow_mean <= total.flow_max
    assert [t.kind for t in unequal.totals] == ["purge", "pass"]


def test_what_one_bottle_gives_the_other_is_crossflow(unequal) -> None:
    """The colder bottle gains as pressures level out: that never reached the vent."""
    left, right = (s for s in unequal.purges)
    total = unequal.totals[0]
    assert left.used > 5.0 * total.used and right.used < 0.0
    assert right.crossflow == pytest.approx(-right.used, rel=0.05) and left.crossflow == 0.0
    assert total.crossflow == pytest.approx(right.crossflow)
    assert left.used + right.used == pytest.approx(total.used)


def test_a_bottle_s_net_flow_is_its_own_mass_over_the_common_time(unequal) -> None:
    """No flow larger than the largest that was there; means add up to the total's."""
    for segment, total in zip((unequal.purges, unequal.passes), unequal.totals):
        assert sum(s.flow_mean for s in segment) == pytest.approx(total.flow_mean, rel=1e-9)
        assert sum(s.flow_start for s in segment) == pytest.approx(total.flow_start, rel=1e-9)
        assert sum(s.flow_end for s in segment) == pytest.approx(total.flow_end, rel=1e-9)
        assert all(s.flow_time == total.flow_time for s in segment)
        filled = segment[1]
        out = unequal["outflow_kg_s"][1, unequal["segment"] == filled.index]
        assert out.min() <= filled.flow_mean <= out.max()


def test_one_bottle_is_its_own_total() -> None:
    one = Scenario(
        BOTTLE, fill=4.0, start="80 degF", feeds={"main": JETS, "purge": JETS}, schedule=DRAWN
    )
    run = simulate(one)
    for s, total in zip((*run.purges, *run.passes), run.totals):
        for name in ("used", "flow_start", "flow_mean", "flow_max", "flow_end", "flow_time"):
            assert getattr(total, name) == pytest.approx(getattr(s, name), rel=1e-12), name
        assert s.crossflow == total.crossflow == 0.0


def test_ensembles_have_the_summaries_numbers(unequal) -> None:
    found = numbers_of(pair(*UNEQUAL, schedule=DRAWN))
    for s in unequal.passes:
        assert found[f"pass0.{s.bottle}.flow_mean_kg_s"] == s.flow_mean
        assert found[f"pass0.{s.bottle}.flow_start_kg_s"] == s.flow_start
        assert found[f"pass0.{s.bottle}.flow_end_kg_s"] == s.flow_end


def test_the_summary_has_a_row_over_all_bottles(unequal) -> None:
    for full, totals in ((True, unequal.totals), (False, unequal.totals[1:])):
        table = unequal.summary(full=full).split("PASSES")[1].split("Model:")[0]
        rows = [line.split() for line in table.splitlines()]
        all_rows = [row for row in rows if row[2:3] == ["all"]]
        figures = [row for row in all_rows if row[3] != "crossflow"]
        assert [row[1] for row in figures] == [t.kind for t in totals]
        for row, total in zip(figures, totals):
            assert float(row[3]) == pytest.approx(total.used / 0.45359237, abs=0.006)
    assert "crossflow" in table


def test_passes_compare_what_the_jets_get() -> None:
    """Two nearly equal bottles give about as many passes as two equal ones of the same charge."""
    day = RaceDay(pass_=Pass("5 s"), purge=0.0, staging=0.0, warm=0.0, reheat=0.0, weigh=None)
    keep = PassLimits(flow=0.8)
    found = [
        passes_per_fill(pair(*p), day, keep)
        for p in (EQUAL, ((4.2, "80.5 degF"), (3.8, "79.5 degF")))
    ]
    equal, nearly = found
    assert equal.count > 2 and abs(nearly.count - equal.count) <= 1
    # What is left is of both bottles, and of the passes that count only.
    last = sum(s.end_mass for s in nearly.run.passes[2 * nearly.count - 2 : 2 * nearly.count])
    assert len(nearly.left) == nearly.count and nearly.left[-1] == pytest.approx(last, rel=1e-12)


def test_refill_point_of_two_bottles() -> None:
    """With a second bottle to share the draw a lighter first one still keeps the flow."""
    keep = PassLimits(flow=0.9)
    alone = pair(*EQUAL)
    one = Scenario(BOTTLE, fill=4.0, start="80 degF", feed=JETS)
    single = refill_mark(one, Pass("5 s"), keep, "740 psig")
    both = refill_mark(alone, Pass("5 s"), keep, "740 psig")
    assert both["charge"] <= 2.0 * single["charge"] + 1e-3


def test_the_day_of_two_bottles_adds_up() -> None:
    plan = RaceDay(rounds=2, pass_=Pass("5 s"), purge=0.0, warm=0.0, reheat=0.0)
    done = race_day(pair(*UNEQUAL), plan)
    for number, total in zip((1, 2), done.run.totals):
        used = sum(r.used for r in done.rounds if r.round == number)
        assert used == pytest.approx(total.used, rel=1e-9)
