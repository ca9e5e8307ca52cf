"""The few arrays of a run that a log can show, without the rest: what a fit runs many times."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from n2osim.engine import layout as L
from n2osim.engine.advance import run_packed
from n2osim.engine.pack import MapMaker, Packed, pack
from n2osim.engine.recorder import ROW_HEAD
from n2osim.errors import N2OSimError
from n2osim.results.run import Run
from n2osim.scenario.scenario import Scenario


@dataclass(frozen=True)
class Course:
    """Course of the first bottle, arrays (time,): s, Pa gauge, kg, K, K.

    fluid_temperature : of the liquid (or only) zone. shell_temperature : bare outside.
    empty_mass : kg, of the bottle.
    """

    time: np.ndarray
    pressure_gauge: np.ndarray
    mass: np.ndarray
    fluid_temperature: np.ndarray
    shell_temperature: np.ndarray
    empty_mass: float

    @classmethod
    def of(cls, run: Run) -> Course:
        """From a run."""
        return cls(
            run.time,
            run["pressure_gauge_Pa"][0],
            run["mass_kg"][0],
            run["fluid_temperature_K"][0, 0],
            run["wall_temperature_K"][0, 1, -1],
            run.scenario.bottles[0].bottle.empty_mass,
        )


def course(scenario: Scenario, maps: MapMaker | None = None) -> Course | None:
    """The course of a scenario; what there is of it where the run fails; None without any."""
    try:
        packed = pack(scenario, maps)
    except N2OSimError:
        return None
    rows = run_packed(packed)[0]
    return _course(packed, rows) if len(rows) > 1 else None


def _course(packed: Packed, rows: np.ndarray) -> Course:
    state, report = ROW_HEAD, ROW_HEAD + packed.ny
    columns = np.array(
        [
            0,
            report + L.O_P,
            state + L.M1,
            state + L.M2,
            report + L.O_T,
            state + L.NODE0 + 2 * (packed.nodes - 1) + 1,
        ]
    )
    t, p, m1, m2, fluid, shell = np.ascontiguousarray(rows[:, columns].T)
    empty = packed.scenario.bottles[0].bottle.empty_mass
    return Course(t, p - packed.p_ambient, m1 + m2, fluid, shell, empty)
