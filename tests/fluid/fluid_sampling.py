"""Random states and the CoolProp oracle shared by the fluid tests (CoolProp 7.2 or later)."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from n2osim import fluid
from n2osim.fluid.coolprop_oracle import abstract_state
from n2osim.fluid.state import state_Trho

DATA = Path(__file__).parents[1] / "data"


def random_states(count: int, seed: int, near_critical: float = 0.5) -> np.ndarray:
    """(T, rho) pairs inside the range: a spread and a dense cloud about the critical point.

    The spread has half its densities uniform and half log-uniform from 1e-4 kg/m3; the cloud
    comes as near as 1e-7 K and 1e-7 of the critical density, on all sides.
    """
    rng = np.random.default_rng(seed)
    pairs = np.empty((0, 2))
    cloud = int(count * near_critical)
    while len(pairs) < count - cloud:
        n = count
        T = rng.uniform(fluid.T_TRIPLE, fluid.T_MAX, n)
        rho = np.where(rng.random(n) < 0.5, 10 ** rng.uniform(-4, 3.11, n), rng.uniform(1, 1293, n))
        inside = np.array([state_Trho(t, r)[0] > 0.0 for t, r in zip(T, rho, strict=True)])
        pairs = np.concatenate([pairs, np.stack([T, rho], axis=1)[inside]])
    T = fluid.T_CRITICAL + rng.choice([-1, 1], cloud) * 10 ** rng.uniform(-7, 0.5, cloud)
    spread = rng.choice([-1, 1], cloud) * 10 ** rng.uniform(-7, -0.5, cloud)
    near = np.stack([T, fluid.RHO_CRITICAL * (1 + spread)], axis=1)
    return np.concatenate([pairs[: count - cloud], near])


def coolprop_puhs(T: float, rho: float) -> tuple[float, float, float, float]:
    """p, u, h, s from CoolProp itself."""
    from CoolProp import DmassT_INPUTS

    state = abstract_state()
    state.update(DmassT_INPUTS, rho, T)
    return state.p(), state.umass(), state.hmass(), state.smass()


def read_table(name: str) -> dict[str, np.ndarray]:
    """Columns of a reference table in tests/data (comment lines skipped, blanks are NaN)."""
    lines = [line for line in (DATA / name).read_text().splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    return {key: np.array([float(row[key] or "nan") for row in rows]) for key in rows[0]}
