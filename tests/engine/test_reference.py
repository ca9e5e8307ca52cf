"""The engine against the plain reference: CoolProp in the right-hand side of scipy's solve_ivp.

benchmarks/plain.py takes plain numbers of the hardware and nothing else from n2osim; here at a
relative tolerance of 1e-9. Hold with switching, then a pass, pressures compared at every row of
the run. At the default tolerance a fraction of a psi is the engine's own error in time; a hundred
times tighter the two must meet.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest
from verification import Check

import n2osim as n2

sys.path.append(str(Path(__file__).resolve().parents[2]))
from benchmarks.cases import scenario
from benchmarks.measure import pressure_error_psi

TOPIC, SOURCE = "Against a plain reference", "benchmarks/plain.py: CoolProp, scipy's solve_ivp"
WHERE = "six holds with switching and a pass: liquid-full, two-phase, all-vapour, liquid-out"
DEFAULT = Check(
    TOPIC,
    "pressure, default tolerance",
    "plain reference at rtol 1e-9",
    SOURCE,
    WHERE,
    0.3,
    "psi",
    seen="other program",
    used="no",
)
TIGHT = Check(
    TOPIC,
    "pressure, tolerance 0.01",
    "plain reference at rtol 1e-9",
    SOURCE,
    WHERE,
    0.01,
    "psi",
    seen="other program",
    used="no",
)


def then(hold: float, draw: float) -> dict[str, Any]:
    return {"schedule": [n2.Hold(hold), n2.Pass(draw)]}


CASES: dict[str, dict[str, Any]] = {
    "aluminium, full": then(3600.0, 6.0),
    "aluminium, 60 %, HEM": then(5400.0, 10.0) | {"filled": 0.6, "flow": "hem"},
    "steel, 80 %": then(5400.0, 8.0) | {"shell": "steel", "filled": 0.8, "jets": "4 mm2"},
    "carbon-aluminium, 90 %": then(3600.0, 6.0) | {"shell": "carbon-aluminium", "filled": 0.9},
    "carbon-polymer, full, HEM": then(3600.0, 6.0) | {"shell": "carbon-polymer", "flow": "hem"},
    "saturated, until liquid-out": then(7200.0, 12.0)
    | {"filled": 0.7, "band": ("800 psig", "830 psig")},
}


@pytest.mark.parametrize("case", CASES)
def test_pressure_of_hold_and_pass(case: str) -> None:
    made = scenario(**CASES[case])
    names = {e.name for e in n2.simulate(made).events}
    assert {"switch on", "switch off"} <= names
    DEFAULT.below(pressure_error_psi(made))
    tight = made.replace(numerics=n2.Numerics(tolerance=0.01))
    TIGHT.below(pressure_error_psi(tight))
