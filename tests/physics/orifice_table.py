"""Write the table of measured jet flow in docs/model.md: run this file.

Every measured or fitted flow that the default model is compared with, grouped by fluid, length,
reduced temperature and how far the inlet pressure lies above saturation.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from orifice_cases import AREA, CD, PSI, flux, liquid, rows  # noqa: E402
from short_reference import inlet  # noqa: E402

from n2osim.fluid.equation_of_state import T_CRITICAL  # noqa: E402
from n2osim.fluid.saturation import sat  # noqa: E402
from n2osim.hardware.jets import EDGES, Jets  # noqa: E402
from n2osim.physics.orifice import DEFAULT_MODEL  # noqa: E402

PAGE = HERE.parents[1] / "n2osim" / "docs" / "model.md"
MARKS = re.compile(r"(<!-- measured flow -->\n).*?(<!-- end of measured flow -->)", re.DOTALL)
HEADS = (
    "fluid, passage",
    "L/D",
    "reduced temperature",
    "inlet over saturation pressure",
    "rows",
    "measured, t/m2/s",
    "predicted, t/m2/s",
    "residual: mean (lowest to highest), %",
    "source",
    "how seen",
)
COMPRESSION = ((0.99, 1.001), (1.001, 1.25), (1.25, 2.0), (2.0, np.inf), (np.inf, np.nan))
TEMPERATURE = ((0.70, 0.86), (0.86, 0.92), (0.92, 0.96), (0.96, 1.0), (1.0, 1.2))


class Flow(NamedTuple):
    """One flow: where (fluid and passage, L/D, reduced temperature, p0/psat: infinite above the
    critical temperature), fluxes kg/m2/s."""

    what: str
    length: str
    Tr: float
    over: float
    measured: float
    predicted: float
    source: str
    seen: str

    @property
    def error(self) -> float:
        """Predicted over measured, less 1."""
        return self.predicted / self.measured - 1.0


def nitrogen() -> Iterator[Flow]:
    share = Jets(1, 1e-3, length=3.19e-3).short_share
    for row in rows("n2_nozzle_choked_flow.csv"):
        try:
            state = inlet("Nitrogen", float(row["p0_Pa"]), float(row["T0_K"]))
        except ValueError:  # hotter than the critical entropy: never liquid
            continue
        yield Flow(
            "nitrogen, smooth nozzle",
            "3.2",
            float(row["Tr"]),
            float(row["p0_over_psat"] or np.inf),
            float(row["G_kg_m2_s"]),
            EDGES["nozzle"].cd * state.flux(share),
            "Simoneau & Hendricks 1979",
            "second-hand",
        )


def tubes() -> Iterator[Flow]:
    for row in rows("short_tube_refrigerant_fits.csv"):
        ratio = float(row["L_over_D"])
        if ratio > 12.0:
            continue
        state = inlet(
            row["fluid"], float(row["p0_Pa"]), float(row["T0_K"]), float(row["subcool_K"]) == 0.0
        )
        share = Jets(1, 1e-3, length=ratio * 1e-3).short_share
        yield Flow(
            "refrigerants, sharp tube (fits)",
            f"{ratio:.3g}",
            float(row["Tr"]),
            float(row["p0_over_psat"]),
            0.5 * (float(row["G_fitA_kg_m2_s"]) + float(row["G_fitB_kg_m2_s"])),
            EDGES["drilled"].cd * state.flux(share),
            "Kim, O'Neal, Yuan, Payne 1994-2004",
            "second-hand",
        )


def nitrous_oxide() -> Iterator[Flow]:
    T0 = 281.0
    for row in rows("n2o_orifice_waxman2013_critical.csv"):
        p0 = sat(T0)[0] + float(row["P1super_psi"]) * PSI
        yield Flow(
            "nitrous oxide, rounded",
            "12.3",
            T0 / T_CRITICAL,
            p0 / sat(T0)[0],
            float(row["mdot_critical_kg_s"]) / AREA,
            CD * flux(DEFAULT_MODEL, T0, liquid(T0, p0), 1.5e6)[0],
            "Waxman et al. 2013",
            "digitised",
        )
    for row in rows("n2o_orifice_square_edged.csv")[-2:]:
        T, p0 = float(row["T0_K"]), float(row["p0_Pa"])
        back = float(row["p_back_Pa"])
        yield Flow(
            "nitrous oxide, square edge",
            "12.3",
            T / T_CRITICAL,
            p0 / sat(T)[0],
            float(row["G_kg_m2_s"]),
            EDGES["sharp"].cd * flux(DEFAULT_MODEL, T, liquid(T, p0), back)[0],
            "Nino & Razavi 2019",
            "second-hand",
        )


def _bin(value: float, edges: tuple[tuple[float, float], ...]) -> tuple[float, float]:
    return next(e for e in reversed(edges) if e[0] <= value)


def table() -> str:
    """The table in markdown: one row a group."""
    groups: dict[tuple[object, ...], list[Flow]] = {}
    for one in (*nitrous_oxide(), *nitrogen(), *tubes()):
        place = (_bin(one.Tr, TEMPERATURE), _bin(one.over, COMPRESSION))
        groups.setdefault((one.what, one.length, *place, one.source, one.seen), []).append(one)
    lines = ["| " + " | ".join(HEADS) + " |", "|" + " --- |" * len(HEADS)]
    for (what, length, _, _, source, seen), flows in groups.items():
        off = 100.0 * np.array([f.error for f in flows])
        cells = (
            what,
            length,
            _span([f.Tr for f in flows], 3),
            _span([f.over for f in flows], 2),
            len(flows),
            _span([f.measured / 1e3 for f in flows], 1),
            _span([f.predicted / 1e3 for f in flows], 1),
            f"{off.mean():+.0f} ({off.min():+.0f} to {off.max():+.0f})",
            source,
            seen,
        )
        lines.append("| " + " | ".join(map(str, cells)) + " |")
    return "\n".join(lines) + "\n"


def _span(values: list[float], digits: int) -> str:
    if np.isinf(values).any():
        return "above critical"
    low, high = (f"{x:.{digits}f}" for x in (min(values), max(values)))
    return low if low == high else f"{low} to {high}"


def written(page: str) -> str:
    """The page with the table as it is now."""
    made = table()
    return MARKS.sub(lambda m: m[1] + made + m[2], page)


if __name__ == "__main__":
    PAGE.write_text(written(PAGE.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
