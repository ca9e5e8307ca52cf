"""Fuels: composition, heating value and what they need of oxygen, air or nitrous oxide.

Stoichiometry follows from composition and molar masses (IUPAC abridged standard atomic weights):
C_a H_b O_c + (a + b/4 - c/2) O2 -> a CO2 + b/2 H2O, N2O -> N2 + 1/2 O2. Dry air is 20.946 mol-%
oxygen of molar mass 28.9647 g/mol (US Standard Atmosphere 1976), 23.1 % by mass.
"""

from __future__ import annotations

from dataclasses import dataclass

from n2osim.errors import UnknownNameError

M_CARBON = 12.011e-3
M_HYDROGEN = 1.008e-3
M_NITROGEN = 14.007e-3
M_OXYGEN = 15.999e-3
M_N2O = 2.0 * M_NITROGEN + M_OXYGEN
M_AIR = 28.9647e-3
"""Molar masses, kg/mol."""
OXYGEN_IN_N2O = M_OXYGEN / M_N2O
"""Mass fraction of oxygen in N2O: 0.3635."""
OXYGEN_IN_AIR = 0.20946 * 2.0 * M_OXYGEN / M_AIR
"""Mass fraction of oxygen in dry air: 0.2314."""


def oxygen_demand(carbon: float, hydrogen: float, oxygen: float = 0.0) -> float:
    """kg of O2 to burn 1 kg of fuel with these numbers of atoms (any scale: CH1.87 is 1, 1.87)."""
    mass = carbon * M_CARBON + hydrogen * M_HYDROGEN + oxygen * M_OXYGEN
    return (carbon + 0.25 * hydrogen - 0.5 * oxygen) * 2.0 * M_OXYGEN / mass


@dataclass(frozen=True)
class Fuel:
    """A fuel.

    oxygen : kg O2 per kg for complete combustion.
    lhv : lower heating value, J/kg.
    density : liquid at about 15 to 20 degC, kg/m3.
    latent_heat : of vaporisation at about 15 to 25 degC, J/kg.
    status : "seen" (a table read by us), "computed" (from those or from heats of formation),
        "typical" or "recalled"; source says where.
    """

    name: str
    oxygen: float
    lhv: float
    density: float
    latent_heat: float
    status: str
    source: str

    @property
    def air_fuel(self) -> float:
        """Stoichiometric kg of dry air per kg."""
        return self.oxygen / OXYGEN_IN_AIR

    @property
    def n2o_fuel(self) -> float:
        """Stoichiometric kg of N2O per kg."""
        return self.oxygen / OXYGEN_IN_N2O


_DOE = "US DOE Alternative Fuels Data Center, Properties of Fuels (Btu/lb x 2326)"
_FORMATION = "heats of formation at 298 K"

GASOLINE = Fuel(
    "gasoline",
    oxygen_demand(1.0, 1.87),
    43.44e6,
    740.0,
    349e3,
    "seen",
    f"{_DOE}: LHV 18676 Btu/lb, latent heat about 150 Btu/lb, specific gravity 0.72 "
    "to 0.78 (0.74 taken); composition CH1.87 typical",
)
METHANOL = Fuel(
    "methanol",
    oxygen_demand(1, 4, 1),
    20.09e6,
    796.0,
    1177e3,
    "seen",
    f"{_DOE}: LHV 8637 Btu/lb, latent heat 506 Btu/lb, specific gravity 0.796",
)
ETHANOL = Fuel(
    "ethanol",
    oxygen_demand(2, 6, 1),
    26.95e6,
    789.0,
    921e3,
    "seen",
    f"{_DOE}: LHV 11585 Btu/lb, latent heat 396 Btu/lb; density recalled "
    "(20 degC; the table's specific gravity is 0.794 at 60 degF)",
)
ISOOCTANE = Fuel(
    "isooctane",
    oxygen_demand(8, 18),
    44.35e6,
    692.0,
    307e3,
    "computed",
    f"{_FORMATION}; density recalled",
)
TOLUENE = Fuel(
    "toluene",
    oxygen_demand(7, 8),
    40.53e6,
    867.0,
    413e3,
    "computed",
    f"{_FORMATION}; density recalled",
)


def blend(name: str, ethanol_volume: float) -> Fuel:
    """Ethanol in gasoline, by volume fraction of ethanol; volumes add."""
    a = ethanol_volume * ETHANOL.density
    b = (1.0 - ethanol_volume) * GASOLINE.density
    w = a / (a + b)

    def mean(attribute: str) -> float:
        return w * getattr(ETHANOL, attribute) + (1.0 - w) * getattr(GASOLINE, attribute)

    return Fuel(
        name,
        mean("oxygen"),
        mean("lhv"),
        a + b,
        mean("latent_heat"),
        "computed",
        f"{100 * ethanol_volume:g} vol-% ethanol in gasoline, by mass from both; what is "
        "sold as E85 holds 51 to 83 % ethanol by season",
    )


E85 = blend("E85", 0.85)

FUELS: dict[str, Fuel] = {
    f.name.lower(): f for f in (GASOLINE, METHANOL, ETHANOL, E85, ISOOCTANE, TOLUENE)
}
_SYNONYMS = {
    "petrol": "gasoline",
    "pump gas": "gasoline",
    "race gas": "gasoline",
    "iso-octane": "isooctane",
}


def fuel(name: str) -> Fuel:
    """Fuel of a name ("petrol", "E85", "methanol", ...); an unknown one suggests near matches."""
    key = " ".join(str(name).lower().split())
    key = _SYNONYMS.get(key, key)
    if key not in FUELS:
        raise UnknownNameError.among("fuel", name, [*FUELS, *_SYNONYMS])
    return FUELS[key]
