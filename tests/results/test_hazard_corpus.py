"""Every limit of the table: found twice where it must be, twice not where it must not.

Each remedy told for them is read back from its own scenario file and run again here: the finding's
quantity moves the right way by the amount told, nothing as severe appears, nothing else worsens.
"""

from functools import cache

import pytest
from hazard_parts import METAL, leaver
from hazards import CORPUS

import n2osim as n2
from n2osim.answers.remedies import INSTEAD
from n2osim.errors import IntegrationError
from n2osim.results.findings import SEVERITIES, Finding
from n2osim.results.limits import BY_CODE, LIMITS, judged, margins
from n2osim.scenario.file import loads

CASES = [(code, k) for code in CORPUS for k in (0, 1)]
BUDGET = 60


@cache
def run_of(code: str, k: int, fires: bool = True) -> n2.Run:
    return carried_out(CORPUS[code][0 if fires else 1][k])


def carried_out(scenario: n2.Scenario) -> n2.Run:
    """The run, or as much of it as could be computed."""
    try:
        return n2.simulate(scenario)
    except IntegrationError as problem:
        assert problem.partial_run is not None
        return problem.partial_run


def found(run: n2.Run) -> dict[tuple[str, str, str], Finding]:
    return {(f.code, f.bottle, f.key): f for f in run.findings if f.severity != "caution"}


def test_every_limit_has_its_hazards() -> None:
    assert set(CORPUS) == {limit.code for limit in LIMITS}


@pytest.mark.parametrize("code, k", CASES)
def test_is_found(code, k) -> None:
    mine = [f for f in run_of(code, k).findings if f.code == code]
    assert mine
    for f in mine:
        assert f.cause and f.message and f.source and "{" not in f.text() + f.text("si")


@pytest.mark.parametrize("code, k", CASES)
def test_is_not_found(code, k) -> None:
    assert code not in {f.code for f in run_of(code, k, fires=False).findings}


def test_bottles_that_stay_are_compared_after_one_has_left() -> None:
    given = leaver(8000.0)
    for start, apart in ((281.0, False), (300.0, True)):
        third = n2.FittedBottle(METAL, 3.0, start, "third")
        run = carried_out(given.replace(bottles=(*given.bottles, third), schedule=_SOON))
        assert list(run.frozen) == ["right"]
        told = [f for f in run.findings if f.code == "bottles-unequal"]
        assert bool(told) == apart
        assert all('"third"' in f.message and "nan" not in f.text() for f in told)


_SOON = [n2.Hold("8 min"), n2.Pass("2 s")]


@pytest.mark.parametrize("code, k", CASES)
def test_margins_agree_with_findings(code, k) -> None:
    run = run_of(code, k)
    codes = {f.code for f in run.findings}
    for m in margins(run):
        assert m.margin == pytest.approx(abs(m.value - m.bound)) or m.margin < 0.0
        # rounding of a charge given in pounds, and excursions shorter than a fifth of a second
        clear = 1e-3 * abs(m.bound)
        if m.margin < -clear and m.limit.code not in ("lean", "rich", "engine-lean"):
            assert m.limit.code in codes or _otherwise_said(m, codes), m.limit.code
        if m.limit.code in codes and len([x for x in margins(run) if x.limit is m.limit]) == 1:
            assert m.margin <= clear or m.limit.margin > 0.0


def _otherwise_said(m, codes: set[str]) -> bool:
    """Limits of which a worse one speaks instead."""
    instead = {
        "hot-spot-over-125-degF": "over-125-degF",
        "band-not-reached": "switch-never-opens power-below-loss",
        "flow-beyond-data": "flow-beyond-data",
        "may-be-lean": "lean no-fuel",
        "near-fuse": "over-fuse",
    }
    return any(c in codes for c in instead.get(m.limit.code, "").split())


# The second scenario of each code takes a minute together: a campaign.
@pytest.mark.parametrize(
    "code, k", [pytest.param(c, k, marks=pytest.mark.campaign if k else ()) for c, k in CASES]
)
def test_remedies_do_what_they_say(code, k) -> None:
    before = run_of(code, k)
    advice = n2.remedies(before, budget=BUDGET)
    assert advice.runs <= BUDGET
    for remedy in advice.of(code):
        after = n2.simulate(loads(remedy.scenario.to_toml(), "remedy.toml"))
        _moves_as_told(remedy, after)
        _harms_nothing(remedy, before, after)


def _moves_as_told(remedy, after: n2.Run) -> None:
    f = remedy.finding
    rank = SEVERITIES.index(f.severity)
    alike = [x for x in after.findings if (x.code, x.bottle, x.key) == (f.code, f.bottle, f.key)]
    there = [x for x in alike if SEVERITIES.index(x.severity) <= rank]
    assert bool(there) != remedy.clears
    if remedy.after is None:
        return
    sense = 1.0 if BY_CODE[f.code].sense == "above" else -1.0
    readings = [
        one.reading
        for one in judged(after)
        if one.limit.code == f.code and one.bottle == f.bottle and one.reading.value is not None
    ]
    now = [sense * (r.value - r.bound) if remedy.is_distance else r.value for r in readings]
    told = remedy.before - remedy.after
    assert told > 0.0 if remedy.is_distance else sense * told > 0.0
    assert any(remedy.before - v == pytest.approx(told, rel=0.01) for v in now)


def _harms_nothing(remedy, before: n2.Run, after: n2.Run) -> None:
    old, rank = found(before), SEVERITIES.index(remedy.finding.severity)
    for key, f in found(after).items():
        if BY_CODE[f.code].information or (remedy.costs and f.code == "rich"):
            continue
        if key not in old:
            told = any(new == f and f.code in INSTEAD for _, new in remedy.costs)
            assert told or SEVERITIES.index(f.severity) > rank, f.text()
            continue
        limit, value, had = f.limit, f.value, old[key].value
        if None not in (limit, value, had) and key[0] != remedy.finding.code:
            scale = abs(had - 273.15) if f.dimension == "temperature" else abs(had)
            sense = 1.0 if BY_CODE[f.code].sense == "above" else -1.0
            now, then = sense * (value - limit), sense * (had - old[key].limit)
            assert max(now, 0.0) <= max(then, 0.0) + 0.011 * scale, f.text()
    for a, b in zip(before.passes, after.passes, strict=True):
        assert (b.used > 0.0) or not a.used > 0.0
