"""Runs that ask Python as they go: heater controllers and films of other packages.

The compiled integration is entered again and again: it is given the schedule up to the segment
under way and that segment's end is set to the next question. Then the segment is taken up again
where it stood. What is answered goes into the arrays of the bottles. A changed set point or film is
met by a first step of a microsecond, so that rates are never those of the answer before.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine import recorder
from n2osim.engine.balances import Setup
from n2osim.errors import InputError
from n2osim.hardware.asked import Controller, InsideWall, OutsideWall, Seen
from n2osim.hardware.geometry import wetted_fraction
from n2osim.scenario.scenario import Scenario

_NEVER = 1e30
_FIRST = 1e-6  # s
_EPS = 1e-9  # s: the integration's own (``integrate._TIME_EPS``)
PARTS = (("covered", "c", 0), ("bare", "b", 1))


def asks(scenario: Scenario) -> bool:
    """Whether a run of this scenario asks Python as it goes."""
    model = scenario.model
    films = model.inside_film is not None or model.outside_film is not None
    return films or any(isinstance(b.switch, Controller) for b in scenario.bottles)


@dataclass
class Question:
    """Something that is asked every ``period`` (s); ``ask`` says whether anything changed.

    before : first asked before a segment begins, so that what is on from the start is no switching.
    """

    period: float
    ask: Callable[[], bool]
    before: bool
    due: float = 0.0


class Slices:
    """A run under way that is asked for.

    call : carries the run on, with a control array; returns the ending code. stopped : whether to
    stop.
    """

    def __init__(
        self,
        whole: Any,
        setup: Setup,
        call: Callable[[Setup, np.ndarray], int],
        stopped: Callable[[], bool],
    ) -> None:
        self.scenario: Scenario = whole.packed.scenario
        self.whole, self.call, self.stopped = whole, call, stopped
        self.fixed = setup.bottles
        self.bottles = setup.bottles.copy()
        self.setup = setup._replace(bottles=self.bottles)
        self.width = whole.packed.width
        self.armed = False
        self.memory: list[dict[str, Any]] = [{} for _ in self.bottles]
        self.questions = self._questions()

    # --- how it goes on ---------------------------------------------------------------------------
    def run(self) -> int:
        """To the end of the schedule; returns the ending code."""
        counts = self.whole.now.counts
        code = L.OK
        while code == L.OK and counts[recorder.N_SEGMENT] < len(self.setup.segments):
            code = self._segment(int(counts[recorder.N_SEGMENT]))
        return code

    def _segment(self, s: int) -> int:
        setup = self.setup._replace(segments=self.setup.segments[: s + 1])
        counts, time = self.whole.now.counts, self.whole.now.time
        self.armed = bool(setup.segments[s]["heater_armed"])
        for question in self.questions:
            question.due = float(time[0]) if question.before else math.inf
        self._ask(float(time[0]))
        code = self.call(setup, np.array([1, 0]))  # begins it, and stops before the first step
        if code != L.PAUSED:
            return code  # no time passes in it, or it failed
        end = float(time[3])
        for question in self.questions:
            question.due = min(question.due, math.inf if question.before else float(time[0]))
        while not self.stopped():
            time[3] = end
            if self._ask(float(time[0])):
                step, time[2] = time[2], _FIRST
                code = self.call(setup, np.array([0, counts[recorder.N_STEPS] + 1]))
                if code != L.PAUSED:
                    return code
                time[2] = max(time[2], min(step, 1.0))
            time[3] = upto = min([end, *(q.due for q in self.questions)])
            code = self.call(setup, np.array([0, 0]))
            if code != L.OK or time[0] < upto - _EPS or time[0] >= end - _EPS:
                return code
            counts[recorder.N_SEGMENT], counts[recorder.N_INSIDE] = s, 1
            counts[recorder.N_EVENTS] -= 1  # it has not ended
        return L.PAUSED

    def _ask(self, now: float) -> bool:
        changed = False
        for question in self.questions:
            if question.due <= now + _EPS:
                changed |= question.ask()
                question.due = now + question.period
        return changed

    # --- what is asked ----------------------------------------------------------------------------
    def _questions(self) -> list[Question]:
        found, model = [], self.scenario.model
        for i, fitted in enumerate(self.scenario.bottles):
            if isinstance(fitted.switch, Controller) and self.bottles[i]["controller"] == i:
                self._set_points(i, False)
                ask = self._decide(i, fitted.switch)
                found.append(Question(fitted.switch.period, ask, True))
            if model.inside_film is not None:
                found.append(Question(model.inside_film.period, self._inside(i), False))
            if model.outside_film is not None:
                found.append(Question(model.outside_film.period, self._outside(i), False))
        return found

    def _set_points(self, i: int, on: bool) -> None:
        """Thresholds that the switch of bottle ``i`` has passed, so that it is on, or off."""
        self.bottles[i]["closes"] = 0.5 * _NEVER if on else -_NEVER
        self.bottles[i]["opens"] = _NEVER if on else -0.5 * _NEVER

    def _decide(self, i: int, controller: Controller) -> Callable[[], bool]:
        fed = [k for k, b in enumerate(self.bottles) if b["controller"] == i]
        last = [0.0]

        def ask() -> bool:
            if not self.armed or self.whole.modes[i, L.FROZEN]:
                return False
            answer = controller.decide(self._seen(i, last[0] > 0.0))
            share = _checked(f"{type(controller).__name__}.decide", float(answer), 1.0, "")
            if share == last[0] and self.whole.modes[i, L.SW_ON] == (share > 0.0):
                return False
            last[0] = share
            self._set_points(i, share > 0.0)
            # Off is what the relay makes of it: one that is welded feeds the whole power.
            part = share if share > 0.0 and controller.fault is None else 1.0
            for k in fed:
                for name in ("power", "conductance"):
                    self.bottles[k][name] = part * self.fixed[k][name]
            return True

        return ask

    def _seen(self, i: int, on: bool) -> Seen:
        b, y, base = self.bottles[i], self.whole.y, i * self.width
        begun = self.whole.now.counts[recorder.N_ROWS] > 0
        lagging = b["lag"] > 0.0 or not begun
        gauge = y[base + L.SENSOR] if lagging else self.whole.now.out[i, L.O_GAUGE]
        now = float(self.whole.now.time[0])
        return Seen(
            now,
            self.scenario.clock_start + now,
            float(gauge + b["offset"]),
            float(y[base + L.HEATER]),
            float(y[base + self.width - 2]),
            self._air(now),
            on,
            self.memory[i],
        )

    def _air(self, now: float) -> float:
        if self.setup.whole[0]["air_node"] == 1:
            return float(self.whole.y[len(self.bottles) * self.width])
        return float(self.scenario.ambient.temperature_at(self.scenario.clock_start + now))

    def _inside(self, i: int) -> Callable[[], bool]:
        film, factor = self.scenario.model.inside_film, self.scenario.model.inside_factor
        assert film is not None
        name = f"{type(film).__name__}.coefficient"

        def ask() -> bool:
            for part, side, k in PARTS:
                h = film.coefficient(self._inside_wall(i, part, side, k))
                h = _checked(name, float(h), math.inf, "W/m2/K")
                self.bottles[i][f"h_in_{side}"] = factor * h
            return True

        return ask

    def _inside_wall(self, i: int, part: str, side: str, k: int) -> InsideWall:
        b, y, base = self.bottles[i], self.whole.y, i * self.width
        out = self.whole.now.out[i]
        heat, last = (L.O_QC, L.O_HC) if k == 0 else (L.O_QB, L.O_HB)
        level, standing = float(out[L.O_LEVEL]), int(b["standing"])
        diameter, length = float(b["diameter_in"]), float(b["length_in"])
        return InsideWall(
            part,
            float(y[base + L.NODE0 + k] - out[heat] * b[f"r_in_{side}"]),
            float(out[L.O_T]),
            float(out[L.O_P]),
            float((y[base + L.M1] + y[base + L.M2]) / b["volume"]),
            float(out[L.O_X]),
            float(wetted_fraction(level, diameter, length, standing)),
            bool(self.whole.lmodes[L.L_FLOWING]),
            diameter,
            length,
            standing == 1,
            float(out[last]),
        )

    def _outside(self, i: int) -> Callable[[], bool]:
        film, ambient = self.scenario.model.outside_film, self.scenario.ambient
        assert film is not None
        name = f"{type(film).__name__}.coefficient"

        def ask() -> bool:
            b, y, base = self.bottles[i], self.whole.y, i * self.width
            air = self._air(float(self.whole.now.time[0]))
            for part, side, k in PARTS:
                surface = y[base + self.width - 2 + k]
                if k == 0 and b["has_heater"] == 1:
                    surface = y[base + L.HEATER]
                wall = OutsideWall(
                    part,
                    float(surface),
                    air,
                    ambient.pressure,
                    ambient.wind_on_bottle,
                    float(b["emissivity"]),
                    float(b["diameter_out"]),
                    float(b["length_out"]),
                    b["standing"] == 1,
                )
                h = _checked(name, float(film.coefficient(wall)), math.inf, "W/m2/K")
                b[f"h_out_{side}"] = h
            return True

        return ask


def _checked(name: str, value: float, most: float, unit: str) -> float:
    if not (0.0 <= value <= most and math.isfinite(value)):
        valid = "0 to 1 (off to on)" if most == 1.0 else "0 or more, finite"
        raise InputError(name, value, unit, valid, "see who wrote it")
    return value
