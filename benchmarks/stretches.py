"""What the plain reference found: one result out of the stretches between its restarts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np


@dataclass
class Result:
    """Steps taken (t, y, p), events [(time, name)], and how many right-hand sides it took.

    y rows: fluid temperature, covered nodes, bare nodes, heater (a pass: mass first).
    """

    t: np.ndarray
    y: np.ndarray
    p: np.ndarray
    events: list[tuple[float, str]] = field(default_factory=list)
    evaluations: int = 0


class Collector:
    """Puts the stretches between restarts together."""

    def __init__(self, at: np.ndarray | None) -> None:
        self.at = at
        self.t: list[np.ndarray] = []
        self.y: list[np.ndarray] = []
        self.events: list[tuple[float, str]] = []
        self.evaluations = 0

    def add(self, done: object) -> tuple[float, np.ndarray]:
        """Take over one stretch; returns where the next begins."""
        if done.status < 0 or not np.isfinite(done.y).all():  # type: ignore[attr-defined]
            raise RuntimeError(f"solve_ivp: {done.message}")  # type: ignore[attr-defined]
        t, y = done.t, done.y  # type: ignore[attr-defined]
        self.evaluations += done.nfev  # type: ignore[attr-defined]
        end, last = float(t[-1]), y[:, -1].copy()
        if self.at is not None:
            t_first = t[0]
            inside = self.at[(self.at >= t_first) & (self.at < end)]
            if not self.t:
                inside = np.union1d(inside, self.at[self.at == t_first])
            t, y = inside, y[:, :0]
            if len(inside):
                y = done.sol(inside)  # type: ignore[attr-defined]
        self.t.append(t)
        self.y.append(y)
        self.last = (end, last)
        return end, last

    def finish(self, pressure: Callable[[np.ndarray], float]) -> Result:
        """Everything as one result."""
        if self.at is not None:
            end, last = self.last
            rest = self.at[self.at >= end]
            self.t.append(rest)
            self.y.append(np.repeat(last[:, None], len(rest), axis=1))
        t, y = np.concatenate(self.t), np.concatenate(self.y, axis=1)
        p = np.array([pressure(column) for column in y.T])
        return Result(t, y, p, self.events, self.evaluations)
