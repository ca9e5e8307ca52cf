"""What the orifice tests share."""

from __future__ import annotations

import csv
from pathlib import Path

from n2osim.fluid.flash import state_pT
from n2osim.fluid.state import state_Trho
from n2osim.physics.orifice import HEM, HNE, NHNE, OMEGA, SPI, orifice_flux

DATA = Path(__file__).parents[1] / "data"
PSI = 6894.757
AREA = 1.7671e-6  # m2, injector 3 of AIAA 2013-3636
CD = 0.781  # mean of its single-phase points at 371 psi over saturation (test_orifice_measured)
ALL = (SPI, HEM, NHNE, OMEGA, HNE)


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text().splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def flux(model: int, T: float, rho: float, p_back: float) -> tuple[float, float, float, float]:
    p, _u, h, s = state_Trho(T, rho)[:4]
    return orifice_flux(model, p, h, s, rho, T, p_back)


def liquid(T: float, p: float) -> float:
    return float(state_pT(p, T)[1])
