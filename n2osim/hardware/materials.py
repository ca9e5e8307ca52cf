# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Wall materials and surfaces, each number with its source and status.

``status`` is "sourced" (read in the source named), "typical" (a usual value, no single source) or
"recalled" (from memory of the standard or handbook named; check before relying on it). A property
whose standing differs from the rest of its material is listed in ``notes``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from n2osim.errors import UnknownNameError
from n2osim.hardware.cylinder_rules import CONDEMNED
from n2osim.schema import Amount, Choice, Custom, MaybeAmount, Part, Several, Text, field

STATUSES = ("sourced", "typical", "recalled", "given")


def _note(value: Any, label: str, owner: Any) -> tuple[str, str, str]:
    """(property, status, source) of a property whose standing differs."""
    prop, status, source = value
    if status not in STATUSES:
        raise UnknownNameError.among("material status", status, STATUSES)
    return prop, status, source


@dataclass(frozen=True)
class Material(Part):
    """Solid of a wall layer, isotropic in its plane, constant properties.

    >>> import n2osim as n2
    >>> liner = n2.Material("my liner", k_radial=0.3, k_inplane=0.3, density=980, cp=2100)
    >>> n2.Layer(liner, "4 mm").material
    <Material my liner>
    """

    name: str = field(Text("a text"), "any name")
    k_radial: Amount = field("conductivity", "conductivity through the wall", low=1e-3, high=1e12)
    k_inplane: Amount = field("conductivity", "conductivity along the wall", low=1e-3, high=1e12)
    density: Amount = field("density", "density", low=1.0, high=1e7)
    cp: Amount = field("specific_heat", "specific heat", low=1e-3, high=1e7)
    max_temperature: MaybeAmount = field(
        "temperature", "limit of use", None, low=200.0, high=2000.0
    )
    status: str = field(Choice(*STATUSES), "`sourced`, `typical`, `recalled` or `given`", "given")
    source: str = field(Text(), "where the numbers come from", "given by the user")
    notes: tuple[tuple[str, str, str], ...] = field(
        Several(Custom(_note)), "(property, status, source) where it differs", ()
    )

    def provenance(self, prop: str) -> tuple[str, str]:
        """(status, source) of one property, e.g. ``provenance("cp")``."""
        for name, status, source in self.notes:
            if name == prop:
                return status, source
        return self.status, self.source


_LIMIT = "max_temperature"
_POLYMER = (
    _LIMIT,
    "sourced",
    "85 C, upper end of the service range of polyamide-lined hydrogen tanks "
    "(conference abstract); softening must exceed 100 C by ISO 11515",
)
_LAMINATE = (
    _LIMIT,
    "recalled",
    "wet glass transition 109 C of a filament-winding epoxy (sourced, DMA by ASTM D4065) "
    "less 28 K, the material operational limit of MIL-HDBK-17",
)

_ALL = (
    Material(
        "6061-T6",
        167.0,
        167.0,
        2700.0,
        900.0,
        CONDEMNED,
        "sourced",
        "Dicken & Merida, hydrogen cylinder model (NIST fit at 293 K: 154 W/m/K, 943 J/kg/K)",
        ((_LIMIT, "sourced", "CGA C-6.1 as quoted by cylinder guidance: condemned over 350 F"),),
    ),
    Material(
        "4130",
        42.7,
        42.7,
        7850.0,
        477.0,
        "650 degF",
        "recalled",
        "AISI 4130 data sheet",
        ((_LIMIT, "typical", "well below tempering; the valve and its seals give way first"),),
    ),
    Material(
        "carbon-epoxy",
        0.7,
        5.0,
        1550.0,
        1000.0,
        354.15,
        "typical",
        "standard-modulus carbon/epoxy, 60 % fibre: 0.6-0.8 through, 3-7 in plane (wound at large "
        "angles), 900-1050 J/kg/K, 1500-1600 kg/m3",
        (_LAMINATE,),
    ),
    Material(
        "glass-epoxy",
        0.6,
        0.9,
        1900.0,
        977.0,
        354.15,
        "sourced",
        "NIST cryogenic fit for G-10, normal direction, 293 K (0.596 W/m/K, 977 J/kg/K)",
        (
            _LAMINATE,
            ("k_inplane", "typical", "G-10 warp direction"),
            ("density", "typical", "wound glass/epoxy"),
        ),
    ),
    Material(
        "HDPE",
        0.385,
        0.385,
        945.0,
        1584.0,
        358.15,
        "sourced",
        "Molkov et al., polymer-lined hydrogen tank model",
        (_POLYMER,),
    ),
    Material(
        "PA6", 0.25, 0.25, 1130.0, 1700.0, 358.15, "recalled", "polyamide 6 data sheet", (_POLYMER,)
    ),
    Material(
        "foam", 0.038, 0.038, 60.0, 1400.0, 378.0, "typical", "closed-cell elastomeric insulation"
    ),
    Material(
        "silicone rubber",
        0.25,
        0.25,
        1250.0,
        1250.0,
        533.15,
        "typical",
        "filled silicone sheet",
        ((_LIMIT, "sourced", "silicone-rubber heater working range -57 to 260 C, heater data"),),
    ),
)

MATERIALS: dict[str, Material] = {m.name: m for m in _ALL}
_SYNONYMS = {
    "aluminium": "6061-T6",
    "aluminum": "6061-T6",
    "6061": "6061-T6",
    "steel": "4130",
    "carbon": "carbon-epoxy",
    "cfrp": "carbon-epoxy",
    "glass": "glass-epoxy",
    "gfrp": "glass-epoxy",
    "nylon": "PA6",
    "polyamide": "PA6",
    "polyethylene": "HDPE",
    "insulation": "foam",
}


def material(name: Material | str | Mapping[str, Any]) -> Material:
    """The material of that name (or synonym, or a ready :class:`Material`, or its dict form).

    >>> import n2osim as n2
    >>> n2.material("steel")
    <Material 4130>
    >>> round(n2.material("6061-T6").density)
    2700
    """
    if isinstance(name, Material):
        return name
    if isinstance(name, Mapping):
        return Material.from_dict(name)
    folded = {k.casefold(): k for k in MATERIALS} | _SYNONYMS
    if isinstance(name, str) and name.strip().casefold() in folded:
        return MATERIALS[folded[name.strip().casefold()]]
    raise UnknownNameError.among("material", name, MATERIALS)


@dataclass(frozen=True)
class Surface(Part):
    """Total hemispherical emissivity and solar absorptivity of an outside finish."""

    name: str = field(Text("a text"), "name of the finish")
    emissivity: Amount = field("fraction", "of the outside", low=0.0, high=1.0)
    absorptivity: Amount = field("fraction", "of sunlight", low=0.0, high=1.0)
    status: str = field(Choice(*STATUSES), "as of a material", "given")
    source: str = field(Text(), "where the numbers come from", "given by the user")


_COMPILED = "thermography emissivity compilation; absorptivity typical"
SURFACES: dict[str, Surface] = {
    s.name: s
    for s in (
        Surface("painted", 0.92, 0.7, "sourced", "lacquer on aluminium 0.92-0.94, " + _COMPILED),
        Surface("white", 0.9, 0.25, "sourced", "white lacquer 0.8-0.95, " + _COMPILED),
        Surface("black", 0.96, 0.95, "sourced", "dull black lacquer 0.96-0.98, " + _COMPILED),
        Surface("polished aluminium", 0.05, 0.15, "sourced", _COMPILED),
        Surface("bare aluminium", 0.09, 0.3, "sourced", "as-received sheet, " + _COMPILED),
        Surface("anodised aluminium", 0.55, 0.4, "sourced", _COMPILED),
        Surface("clear epoxy", 0.88, 0.9, "recalled", "clear epoxy over laminate 0.85-0.92"),
        Surface("foil jacket", 0.05, 0.15, "typical", "aluminium foil facing"),
    )
}


def surface(name: Surface | str) -> Surface:
    """The surface finish of that name (or a ready :class:`Surface`)."""
    if isinstance(name, Surface):
        return name
    if isinstance(name, str) and name.strip().casefold() in SURFACES:
        return SURFACES[name.strip().casefold()]
    raise UnknownNameError.among("surface", name, SURFACES)
