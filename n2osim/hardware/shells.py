"""Kinds of shell that presets are made of, and what a bottle of one's own takes from them.

Outside diameters are round numbers of the trade (typical, no source). Ends are thicker than the
sides (spun shoulder and forged base; overlapping helical turns), and neck and valve are added: all
typical. The sides alone are a third too light.
"""

from __future__ import annotations

from typing import NamedTuple

from n2osim.units import INCH, PSI

SERVICE_PRESSURE = 1800.0 * PSI
RELIEF_RATING = 3000.0 * PSI
"""Burst disc rating: test pressure +0/-10 % (CGA S-1.1, recalled)."""
OUTSIDE_DIAMETERS = {10: 7.0 * INCH, 12: 7.0 * INCH, 15: 8.0 * INCH, 20: 8.0 * INCH}
BRASS_CP = 380.0
VALVE_MASS = 0.6
"""kg: brass body, siphon tube, nut; typical."""
GLASS_THICKNESS = 0.8e-3


class Shell(NamedTuple):
    """What distinguishes one kind of preset shell from another."""

    specification: str
    end_thickness: float
    neck_mass: float
    neck_cp: float
    finish: str
    note: str
    liner: str = ""
    liner_thickness: float = 0.0
    synonyms: tuple[str, ...] = ()

    @property
    def extra_mass(self) -> float:
        """Neck, valve and siphon tube, kg."""
        return self.neck_mass + VALVE_MASS

    @property
    def extra_heat_capacity(self) -> float:
        """Of neck, valve and siphon tube, J/K."""
        return self.neck_mass * self.neck_cp + VALVE_MASS * BRASS_CP


_POLYMER_NOTE = (
    "ISO 11119-3 (polymer-lined) excludes oxidising gases from its scope: ask for this "
    "cylinder's own approval for nitrous oxide"
)
_WOUND = "composite, 3.4 burst factor"
SHELLS: dict[str, Shell] = {
    "aluminium": Shell(
        "3AL", 1.6, 0.35, 900.0, "painted", "", synonyms=("aluminum", "6061-t6", "3al")
    ),
    "steel": Shell("3AA", 1.8, 0.6, 477.0, "painted", "", synonyms=("4130", "3aa")),
    "carbon-aluminium": Shell(
        _WOUND, 1.5, 0.35, 900.0, "clear epoxy", "", "6061-T6", 2.5e-3, ("carbon-aluminum",)
    ),
    "carbon-polymer": Shell(_WOUND, 1.5, 0.5, 900.0, "clear epoxy", _POLYMER_NOTE, "HDPE", 5e-3),
}
SYNONYMS = {s: name for name, shell in SHELLS.items() for s in shell.synonyms}
