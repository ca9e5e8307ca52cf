"""What to do about the findings of a run: changes of its scenario, each run before it is said.

:func:`remedies` tries the corrective actions of :mod:`n2osim.answers.actions` and keeps what helps.
A change is judged on the whole run, so that what mends one round cannot spoil another.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from n2osim.answers.actions import ACTIONS, Action
from n2osim.errors import N2OSimError
from n2osim.hardware.cylinder_rules import EXPOSURE_LIMIT
from n2osim.numbers import Units, difference_of, exact, in_system
from n2osim.results.findings import SEVERITIES, Finding
from n2osim.results.holds import switch_of
from n2osim.results.judge import Reading
from n2osim.results.limits import BY_CODE, Judged, findings_of, judged
from n2osim.results.run import simulate
from n2osim.scenario.fields import with_fields
from n2osim.text import wrapped

if TYPE_CHECKING:
    from n2osim.results.run import Run
    from n2osim.scenario.scenario import Scenario

BUDGET = 150
"""Runs that one set of remedies may cost."""
MOST = 3
"""Remedies that are told of one finding."""
WORSE = 0.01
"""Share of its value by which another finding may move outward."""
WASTE = "rich"
"""The finding that wastes and does no harm."""
INSTEAD = {
    "relief-margin": ("relief-opened",),
    "band-not-reached": ("power-below-loss", "switch-never-opens"),
}
"""Findings of which a worse one speaks instead: where that goes, they may appear and are said."""
KEPT = {"in the band": 1.0, "liquid": 0.999, "launch": 0.95, "power": 0.97}
"""Share of each need of the job that a remedy must leave (no source); a launch may fall to where
the switch's band began."""
_DEGREES = {"temperature": 273.15}  # a share of a temperature is counted from the ice point

LEAST = 1e-4
"""Share of its value by which a quantity must move to have moved."""
NEARER = 0.1
"""Share of its distance outside its bound by which a finding that stays must come nearer."""
DISTANCES = ("temperature", "gauge_pressure", "power")
"""Kinds of quantity whose distance from a bound is told."""
NOTHING = 1e-3
"""kg; a pass that uses less had no N2O to begin with."""

LOST = {
    "in the band": "a hold ends below its band",
    "liquid": "a pass has liquid for less long",
    "launch": "a pass begins below its band",
    "power": "a pass has less power",
}
"""What is said of a need of the job that mending a fault does not leave."""
NO_BAND = "a pass begins with less pressure"

Key = tuple[str, str, str]
Need = tuple[str, int, str]
Change = tuple[Finding | None, Finding]
"""A finding before (None: it was not there) and after."""


def _placed(distance: float, kind: str, units: Units) -> str:
    """Where a quantity stands to its bound, of its distance beyond it (SI), in words."""
    words = "beyond its bound by" if distance > 0.0 else "clear of its bound by"
    return f"{words} {units.full(abs(distance), difference_of(kind))}"


def _cost(old: Finding | None, new: Finding, system: str) -> str:
    """What else a change brings about, in words."""
    name = f"{new.whose}{new.code}"
    if old is None:
        return f"then {new.severity} {name} ({new.numbers(system)})"
    units = Units(system)
    moved = (units.bare(old.value, new.dimension), units.full(new.value, new.dimension))
    return f"{name}: {in_system(new.value_is, system)} {' -> '.join(moved)}"


@dataclass(frozen=True)
class Remedy:
    """One change that helps: the changed scenario, and the finding's quantity before and after.

    clears: whether the finding is gone, or only a milder one of its kind left. before, after: SI of
    the finding's kind; None where it is a state. is_distance: they are distances beyond the bound
    (negative: inside), because that moved and not the quantity. costs: what gets
    wasteful with it, and milder warnings that appear. loses: what the job loses with the fault that
    it mends, in words.
    """

    finding: Finding
    words: str
    scenario: Scenario
    clears: bool
    before: float | None = None
    after: float | None = None
    is_distance: bool = False
    costs: tuple[Change, ...] = ()
    loses: tuple[str, ...] = ()

    def text(self, system: str = "shop") -> str:
        """The change and its effect in one line: "...: peak 941 -> 921 psig"."""
        f, units = self.finding, Units(system)
        if self.before is None or self.after is None:
            effect = ": gone" if self.clears else " (less, not gone)"
        elif self.is_distance:
            before, after = (_placed(x, f.dimension, units) for x in (self.before, self.after))
            effect = f": {before} -> {after}"
        else:
            moved = f"{units.bare(self.before, f.dimension)} -> "
            moved += units.full(self.after, f.dimension)
            effect = f": {in_system(f.value_is, system)} {moved}" + (
                "" if self.clears else " (less, not gone)"
            )
        costs = "".join(f"; but {_cost(*c, system)}" for c in self.costs)
        costs += "".join(f"; but then {lost}" for lost in self.loses)
        return in_system(self.words, system) + effect + costs


@dataclass(frozen=True)
class Advice:
    """A finding with up to three remedies, best first, and what only a person can do."""

    finding: Finding
    remedies: tuple[Remedy, ...]

    @property
    def person(self) -> str:
        """What a person must do, "" where there is nothing."""
        return self.finding.remedy


@dataclass(frozen=True)
class Remedies:
    """Advice for every finding of a run; ``runs`` spent, and what was left ``untried``."""

    advice: tuple[Advice, ...]
    runs: int
    budget: int
    untried: tuple[str, ...]

    def of(self, code: str, bottle: str = "") -> tuple[Remedy, ...]:
        """Remedies of the findings of a code (and bottle)."""
        return tuple(
            r
            for a in self.advice
            if a.finding.code == code and bottle in ("", a.finding.bottle)
            for r in a.remedies
        )

    def __repr__(self) -> str:
        found = sum(len(a.remedies) for a in self.advice)
        return f"<Remedies: {found} for {len(self.advice)} findings, {self.runs} runs>"

    def __str__(self) -> str:
        return self.text()

    def text(self, system: str = "shop") -> str:
        """All of it as lines of text."""
        lines = [f"WHAT HELPS (tried in {self.runs} run{'s' * (self.runs != 1)} of this scenario)"]
        if not self.advice:
            lines.append("  nothing is found against it")
        told: list[Finding] = []  # dangers that something can be done about
        for a in self.advice:
            f = a.finding
            numbers = f.numbers(system)
            alike = [x.finding for x in self.advice if x.finding.numbers(system) == numbers]
            named = [x.key for x in alike if (x.code, x.bottle) == (f.code, f.bottle)]
            said = f"{f.whose}{f.code}" + (f' "{f.key}"' if len(named) > 1 else "")
            said += f" ({numbers})" if numbers else ""
            lines.append(wrapped(said, f"  {f.severity.upper():<8}"))
            lines += [wrapped(r.text(system), "    > ") for r in a.remedies]
            if a.person:
                lines.append(wrapped(in_system(a.person, system), "    > "))
            if not a.remedies and not a.person:
                lines.append(f"    > {_no_remedy(f, told)}")
            elif f.severity == "danger":
                told.append(f)
        if self.untried:
            left = "; ".join(in_system(u, system) for u in self.untried)
            lines.append(wrapped(left, f"  left untried at {self.budget} runs: ", "    "))
        return "\n".join(lines)


def _no_remedy(f: Finding, dangers: list[Finding]) -> str:
    """What is said of a finding without a remedy, behind dangers that have one."""
    for one in dangers:
        if one.bottle == f.bottle or "" in (one.bottle, f.bottle):
            return f"nothing for it alone was found: see to {one.whose}{one.code} first, as above"
    return "no change that was tried helps without doing harm elsewhere"


def remedies(run: Run, budget: int = BUDGET) -> Remedies:
    """Corrective changes that help against the findings of ``run``, best first.

    Costs at most ``budget`` runs, the most severe findings first; what was left untried is said. A
    remedy is told only if the finding's quantity moves the right way, no finding of equal or higher
    severity appears, no other worsens by over 1 %, and what the job needs is kept: bands reached,
    pressure at launch, power (97 % of each pass), passes with liquid. Where a fault is mended what
    gets worse or is lost of these is said and does not count against it. A shot may get richer,
    which wastes fuel and harms nothing, for a warning or a danger: then it is said with the remedy,
    as is a warning that appears where a danger goes, and what a worse finding had stood for.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "10 lb"), fill="8.3 lb", start="65 degF",
    ...     heater=n2.Heater("300 W"), switch=n2.PressureSwitch("850 psig", "900 psig"),
    ...     feed=n2.Feed(n2.Jets(2, "0.034 in")), schedule=[n2.Hold("8 min"), n2.Pass("7 s")],
    ... )
    >>> found = n2.remedies(n2.simulate(car))
    >>> [remedy.words for remedy in found.of("band-not-reached")]
    ['hold longer: 12.0 min', 'more heater power: 480 W']
    """
    trial = _Trial(run, budget)
    advice = tuple(_advise(trial, f) for f in trial.base.findings if not _is_information(f))
    return Remedies(advice, trial.spent, budget, tuple(trial.untried))


def _is_information(f: Finding) -> bool:
    return BY_CODE[f.code].information


# --- running a change ----------------------------------------------------------------------------
@dataclass(frozen=True)
class _Outcome:
    """A run as a remedy is judged by it."""

    scenario: Scenario
    readings: list[Judged]
    findings: tuple[Finding, ...]
    job: dict[Need, float]

    @classmethod
    def of(cls, run: Run) -> _Outcome:
        readings = judged(run)
        return cls(run.scenario, readings, findings_of(readings), _job(run))

    def by_key(self) -> dict[Key, Finding]:
        return {_key(f): f for f in self.findings}

    def reading(self, f: Finding) -> Reading | None:
        """The worst reading of a finding's limit in this run, outside it or not."""
        limit = BY_CODE[f.code]
        mine = [
            one.reading
            for one in self.readings
            if one.limit is limit
            and one.bottle == f.bottle
            and one.reading.value is not None
            and (one.reading.key == f.key or f.code == "rich")
        ]
        return max(mine, key=lambda r: _beyond(f.code, r.value, r.bound), default=None)


def _beyond(code: str, value: float | None, bound: float | None) -> float:
    """How far a value is outside its bound (negative: inside), SI; without a bound its size."""
    if value is None:
        return -math.inf
    return (value - (bound or 0.0)) * (1.0 if BY_CODE[code].sense == "above" else -1.0)


def _key(f: Finding) -> Key:
    return f.code, f.bottle, f.key


def _job(run: Run) -> dict[Need, float]:
    """What the job needs, by (what, item, bottle): more is better, and none may be lost."""
    job: dict[Need, float] = {}
    for h in run.holds:
        switch = run.scenario.bottles[run.scenario.bottle_index(h.bottle)].switch
        closes = switch.closes if switch is not None else math.inf
        inside = h.warm_up_time is not None or h.end_pressure >= closes
        job["in the band", h.index, h.bottle] = float(inside)
    for p in run.passes:
        liquid = p.duration if p.liquid_out_time is None else p.liquid_out_time
        job["liquid", p.index, p.bottle] = liquid if p.used > NOTHING else 0.0
        if switch_of(run.scenario, p.bottle) is not None or p.start_temperature <= EXPOSURE_LIMIT:
            job["launch", p.index, p.bottle] = p.start_pressure
    for one in run.engine.passes if run.engine is not None else ():
        if math.isfinite(one.power.mean) and not _too_much(run, one):
            job["power", one.index, ""] = one.power.mean
    return job


def _too_much(run: Run, one: Any) -> bool:
    """Whether a pass has power that it should not have: lean, or launched above its band."""
    if one.lean > 0.0:
        return True
    for p in run.passes:
        fitted = run.scenario.bottles[run.scenario.bottle_index(p.bottle)]
        above = fitted.switch is not None and p.start_pressure > fitted.switch.opens
        if p.index == one.index and above:
            return True
    return False


class _Trial:
    """Runs changes of one scenario within a budget, each only once."""

    def __init__(self, run: Run, budget: int) -> None:
        self.base = _Outcome.of(run)
        self.budget, self.spent = budget, 0
        self.untried: list[str] = []
        self._done: dict[str, _Outcome | None] = {}

    def outcome(self, changes: dict[str, Any]) -> _Outcome | None:
        """The run with ``changes``; None where it cannot be carried out."""
        name = exact(sorted(changes.items()))
        if name not in self._done:
            self.spent += 1
            try:
                changed = simulate(with_fields(self.base.scenario, changes))
                self._done[name] = _Outcome.of(changed)
            except N2OSimError:
                self._done[name] = None
        return self._done[name]

    def affords(self, changes: dict[str, Any]) -> bool:
        """Whether it is in the budget."""
        return self.spent < self.budget or exact(sorted(changes.items())) in self._done


# --- judging it ----------------------------------------------------------------------------------
def _advise(trial: _Trial, f: Finding) -> Advice:
    """Remedies of one finding: those that clear it first, then by how far they go."""
    found: list[Remedy] = []
    for action in ACTIONS:
        if action.fits(f):
            best = _smallest_that_helps(trial, f, action)
            if best is not None:
                found.append(best)
    found.sort(key=lambda r: (not _enough(r), any(x.code == WASTE for _, x in r.costs), _left(r)))
    return Advice(f, tuple(found[:MOST]))


def _smallest_that_helps(trial: _Trial, f: Finding, action: Action) -> Remedy | None:
    """The smallest amount that clears the finding; else the one that goes furthest; or None."""
    best: Remedy | None = None
    for words, changes in action.propose(trial.base.scenario, f):
        if not trial.affords(changes):
            trial.untried.append(f"{f.code}: {words}")
            break
        done = trial.outcome(changes)
        costs = None if done is None else _costs(trial.base, done, f, action.mends)
        if done is None or costs is None:
            continue
        loses = _lost_of_the_job(trial.base, done)
        if loses and not action.mends:
            continue
        one = _remedy(trial.base, done, f, words)
        one = one and dataclasses.replace(one, costs=costs, loses=loses)
        if one is not None and (best is None or _further(one, best)):
            best = one
        if one is not None and _enough(one):
            break
    return best


def _enough(r: Remedy) -> bool:
    """Whether a remedy clears its finding and nothing takes the place of it."""
    return r.clears and not any(new.code in INSTEAD for _, new in r.costs)


def _further(a: Remedy, b: Remedy) -> bool:
    return a.clears or _left(a) < _left(b)


def _left(r: Remedy) -> float:
    """How far the finding is still outside its bound."""
    if r.clears or r.after is None:
        return 0.0 if r.clears else 1.0
    return r.after if r.is_distance else max(_beyond(r.finding.code, r.after, r.finding.limit), 0.0)


def _remedy(base: _Outcome, done: _Outcome, f: Finding, words: str) -> Remedy | None:
    """The remedy, if the finding is gone or clearly nearer to its bound."""
    there = _becomes(base, done, f)
    now = done.reading(f) if there is None else Reading(there.value, there.limit)
    if there is not None and not _less(f, there):
        return None
    clears = there is None or _milder(there, f)
    if now is None or f.value is None or now.value is None:
        return Remedy(f, words, done.scenario, clears)
    moved = _beyond(f.code, f.value, None) - _beyond(f.code, now.value, None)
    if moved > LEAST * abs(f.value):
        return Remedy(f, words, done.scenario, clears, f.value, now.value)
    bounded = BY_CODE[f.code].bound_from and f.dimension in DISTANCES
    if f.limit is None or now.bound is None or not bounded:
        return Remedy(f, words, done.scenario, clears)
    before, after = _beyond(f.code, f.value, f.limit), _beyond(f.code, now.value, now.bound)
    if after >= before:  # gone for another reason than its numbers
        return Remedy(f, words, done.scenario, clears)
    return Remedy(f, words, done.scenario, clears, before, after, is_distance=True)


def _less(old: Finding, new: Finding) -> bool:
    """Whether a finding that stays is outside its bound (or near it) by clearly less."""
    if old.limit is None or new.limit is None:
        return False
    before, after = (_beyond(f.code, f.value, f.limit) for f in (old, new))
    return after < before - max(NEARER * abs(before), LEAST * abs(old.value or 0.0))


def _milder(one: Finding, other: Finding) -> bool:
    return SEVERITIES.index(one.severity) > SEVERITIES.index(other.severity)


def _excess(f: Finding) -> float:
    """How far a finding is outside its bound (a state counts as outside by 1)."""
    if f.value is None or f.limit is None:
        return 1.0
    return max(_beyond(f.code, f.value, f.limit), 0.0)


def _costs(base: _Outcome, done: _Outcome, f: Finding, mends: bool) -> tuple[Change, ...] | None:
    """What a change wastes, and what milder appears with it; None where it does harm: something as
    severe appears that nothing worse stood for, any worsens. Where it mends a fault all is said."""
    found: list[Change] = []
    for one in done.findings:
        old = _was(base, one)
        risen = old is None or SEVERITIES.index(one.severity) < SEVERITIES.index(old.severity)
        worse = old is not None and _key(one) != _key(f) and _worse(old, one)
        if _is_information(one) or not (risen or worse):
            continue
        rank = SEVERITIES.index(one.severity) - SEVERITIES.index(f.severity)
        if old is None and _was_worse(base, one):
            found.append((None, one))
        elif (one.code == WASTE and rank >= 0) or (mends and one.severity != "note"):
            found.append((None if risen else old, one))
        elif not mends and (worse or rank <= 0):
            return None
        elif one.severity == "warning":
            found.append((None, one))
    return tuple(found)


def _was_worse(base: _Outcome, one: Finding) -> bool:
    """Whether a finding that appears takes the place of a worse one that spoke instead of it."""
    instead = (x for x in base.findings if x.code in INSTEAD.get(one.code, ()))
    return any(x.bottle == one.bottle and not _milder(x, one) for x in instead)


def _was(base: _Outcome, one: Finding) -> Finding | None:
    """What a finding was before the change. A shot that is rich for another reason was rich."""
    rich = [f for f in base.findings if f.code == one.code == WASTE]
    return base.by_key().get(_key(one)) or max(rich, key=_excess, default=None)


def _becomes(base: _Outcome, done: _Outcome, f: Finding) -> Finding | None:
    """What a finding is after the change; None: it is gone."""
    known = base.by_key()
    new = [x for x in done.findings if x.code == f.code == WASTE and _key(x) not in known]
    return done.by_key().get(_key(f)) or max(new, key=_excess, default=None)


def _worse(old: Finding, new: Finding) -> bool:
    if old.value is None or new.value is None or old.limit is None or new.limit is None:
        return False
    scale = abs(old.value - _DEGREES.get(old.dimension, 0.0))
    return _excess(new) > _excess(old) + WORSE * scale


def _lost_of_the_job(base: _Outcome, done: _Outcome) -> tuple[str, ...]:
    """What the job needs and a change does not leave, in words, each once."""
    lost: dict[str, None] = {}
    for need, had in base.job.items():
        what, _, bottle = need
        least = KEPT[what] * had
        if what == "launch":
            least = min(had, _band_begins(base.scenario, bottle, least))
        if done.job.get(need, 0.0) < least - 1e-9 * abs(least):
            banded = what != "launch" or switch_of(base.scenario, bottle) is not None
            lost[LOST[what] if banded else NO_BAND] = None
    return tuple(lost)


def _band_begins(scenario: Scenario, bottle: str, otherwise: float) -> float:
    """Gauge pressure (Pa) below which a launch is out of the band as it was set."""
    switch = switch_of(scenario, bottle)
    return otherwise if switch is None else switch.closes
