"""Ways to make a :class:`Bottle`: presets, capacity, dimensions, layer masses, lumped.

Presets: outside diameters are round numbers of the trade (typical, no source). Metal sides have
the least wall that the specification's own formula allows at test pressure (3000 psig for 1800
psig service). Composite sides have a thin liner under the laminate that netting analysis asks for
at a burst factor of 3.4, and a glass layer for protection. Ends are thicker than the sides
(spun shoulder and forged base; overlapping helical turns), and neck and valve are added: all
typical. The sides alone are a third too light.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from typing import Any, NamedTuple

from n2osim.errors import InputError, UnknownNameError
from n2osim.hardware import cylinder_rules as rules
from n2osim.hardware._part import choice
from n2osim.hardware.bottle import Bottle, Layer, end_area_factor
from n2osim.hardware.materials import SURFACES, Material, material
from n2osim.units import INCH, LB, PSI, parse

SERVICE_PRESSURE = 1800.0 * PSI
RELIEF_RATING = 3000.0 * PSI
"""Burst disc rating: test pressure +0/-10 % (CGA S-1.1, recalled)."""
OUTSIDE_DIAMETERS = {10: 7.0 * INCH, 12: 7.0 * INCH, 15: 8.0 * INCH, 20: 8.0 * INCH}
BRASS_CP = 380.0
VALVE_MASS = 0.6  # brass body, siphon tube, nut: typical


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


_POLYMER_NOTE = (
    "ISO 11119-3 (polymer-lined) excludes oxidising gases from its scope: ask for this "
    "cylinder's own approval for nitrous oxide"
)
SHELLS: dict[str, Shell] = {
    "aluminium": Shell("3AL", 1.6, 0.35, 900.0, "painted", ""),
    "steel": Shell("3AA", 1.8, 0.6, 477.0, "painted", ""),
    "carbon-aluminium": Shell(
        "composite, 3.4 burst factor", 1.5, 0.35, 900.0, "clear epoxy", "", "6061-T6", 2.5e-3
    ),
    "carbon-polymer": Shell(
        "composite, 3.4 burst factor", 1.5, 0.5, 900.0, "clear epoxy", _POLYMER_NOTE, "HDPE", 5e-3
    ),
}
GLASS_THICKNESS = 0.8e-3
_SYNONYMS = {s: s for s in SHELLS} | {
    "aluminum": "aluminium",
    "6061-t6": "aluminium",
    "3al": "aluminium",
    "4130": "steel",
    "3aa": "steel",
    "carbon-aluminum": "carbon-aluminium",
}
_HOW = (
    "preset",
    "shell",
    "outer_diameter",
    "inside_length",
    "wall",
    "material",
    "spec",
    "wall_heat_capacity",
    "inner_area",
    "outer_area",
    "capacity",
)
TABLE_KEYS = _HOW
"""Keys of a bottle table besides the fields of :class:`Bottle`."""


# --- presets ---------------------------------------------------------------------------------
def preset(shell: str, capacity: Any) -> Bottle:
    """The preset ``shell`` in one of the sizes 10, 12, 15, 20 lb."""
    kilograms = parse(capacity, "mass", name="bottle capacity", low=0.0, low_open=True)
    for size, diameter in OUTSIDE_DIAMETERS.items():
        if abs(kilograms / LB - size) < 0.01 * size:
            return _typical(shell, size * LB, diameter, f"{size} lb")
    raise UnknownNameError.among(
        "bottle preset capacity", f"{kilograms / LB:.4g} lb", [f"{s} lb" for s in OUTSIDE_DIAMETERS]
    )


def from_capacity(shell: str, capacity: Any, outer_diameter: Any = None) -> Bottle:
    """A typical ``shell`` of any capacity from 1 to 60 lb; diameter in quarter inches if not given.

    The default diameter keeps the shape of the presets: 7 in for 11 lb, growing with the cube root.
    """
    kilograms = parse(capacity, "mass", name="bottle capacity", low=1.0 * LB, high=60.0 * LB)
    if outer_diameter is None:
        quarters = round(4.0 * 7.0 * (kilograms / LB / 11.0) ** (1.0 / 3.0))
        diameter = quarters * 0.25 * INCH
    else:
        diameter = parse(outer_diameter, "length", name="bottle outer diameter", low=0.05, high=0.6)
    return _typical(shell, kilograms, diameter, f"{kilograms / LB:.3g} lb")


def _typical(shell: str, capacity: float, diameter: float, size: str) -> Bottle:
    key = choice(shell, _SYNONYMS, "bottle preset")
    kind = SHELLS[key]
    test = rules.TEST_TO_SERVICE * SERVICE_PRESSURE
    if kind.liner:
        layers = _composite_layers(kind, diameter)
    else:
        layers = _metal_layers(kind, diameter, test)
    finish = SURFACES[kind.finish]
    return Bottle(
        name=f"{key} {size}",
        volume=capacity / rules.FULL_FILLING_DENSITY,
        inner_diameter=diameter - 2.0 * sum(x.thickness for x in layers),
        layers=layers,
        end_thickness=kind.end_thickness,
        extra_mass=kind.neck_mass + VALVE_MASS,
        extra_heat_capacity=kind.neck_mass * kind.neck_cp + VALVE_MASS * BRASS_CP,
        service_pressure=SERVICE_PRESSURE,
        test_pressure=test,
        relief_pressure=RELIEF_RATING,
        surface_emissivity=finish.emissivity,
        solar_absorptivity=finish.absorptivity,
        specification=kind.specification,
        oxidising_note=kind.note,
        status="typical outside diameter; side wall computed from the rule named in specification; "
        "ends, neck and valve typical",
    )


def _metal_layers(kind: Shell, diameter: float, test: float) -> tuple[Layer, ...]:
    rule = rules.specification(kind.specification)
    thickness = rules.wall_thickness(rule.name, diameter, test)
    return (Layer(material(rule.material), thickness),)


def _composite_layers(kind: Shell, diameter: float) -> tuple[Layer, ...]:
    """Liner, carbon, glass for this outside diameter (laminate is proportional to liner radius)."""
    per_radius = rules.laminate_thickness(SERVICE_PRESSURE, 1.0)
    liner_radius = (0.5 * diameter - GLASS_THICKNESS) / (1.0 + per_radius)
    return (
        Layer(material(kind.liner), kind.liner_thickness),
        Layer(material("carbon-epoxy"), per_radius * liner_radius),
        Layer(material("glass-epoxy"), GLASS_THICKNESS),
    )


# --- dimensions --------------------------------------------------------------------------------
def _exactly_one(what: str, **given: Any) -> str:
    present = [k for k, v in given.items() if v is not None]
    if len(present) != 1:
        raise InputError(
            what,
            ", ".join(present) or None,
            "",
            "exactly one of " + ", ".join(given),
            "give one and leave the others out",
        )
    return present[0]


def from_dimensions(
    *,
    outer_diameter: Any = None,
    inner_diameter: Any = None,
    volume: Any = None,
    capacity: Any = None,
    inside_length: Any = None,
    wall: Any = None,
    spec: str | None = None,
    material: Any = None,
    layers: Any = None,
    name: str = "bottle",
    **fields: Any,
) -> Bottle:
    """A bottle from what can be measured on it.

    Exactly one of each: ``outer_diameter`` or ``inner_diameter``; ``volume`` (m3), ``capacity``
    (kg) or ``inside_length`` (m, overall, with the dished ends); ``wall`` (m, of ``material``),
    ``spec`` ("3AL", "3AA": least wall at ``test_pressure``, default 3000 psig) or ``layers``. Other
    ``fields`` as in :class:`Bottle`.
    """
    how = _exactly_one("bottle wall", wall=wall, spec=spec, layers=layers)
    across = _exactly_one(
        "bottle diameter", outer_diameter=outer_diameter, inner_diameter=inner_diameter
    )
    diameter = parse(
        outer_diameter if across == "outer_diameter" else inner_diameter,
        "length",
        name=f"bottle {across.replace('_', ' ')}",
        low=0.01,
        high=1.2,
    )
    if how == "spec":
        found = _spec_layers(str(spec), diameter, across, fields)
    elif how == "wall":
        found = (Layer(material or "6061-T6", wall),)
    else:
        found = tuple(Layer.from_dict(x) if isinstance(x, Mapping) else x for x in layers)
    inner = diameter
    if across == "outer_diameter":
        inner -= 2.0 * sum(x.thickness for x in found)
    if inner <= 0.0:
        raise InputError(
            "bottle wall",
            sum(x.thickness for x in found),
            "m",
            f"less than half the outside diameter ({diameter:.4g} m)",
            "",
        )
    depth = parse(
        fields.get("end_depth", 0.25), "fraction", name="bottle end depth", low=0.0, high=0.5
    )
    held = _volume(volume, capacity, inside_length, inner, depth)
    return Bottle(name, held, inner, found, **fields)


def _spec_layers(
    spec: str, diameter: float, across: str, fields: dict[str, Any]
) -> tuple[Layer, ...]:
    rule = rules.specification(spec)
    test = parse(
        fields.setdefault("test_pressure", 3000.0 * PSI),
        "gauge_pressure",
        name="bottle test pressure",
        low=1e5,
        high=1e8,
    )
    fields.setdefault("specification", rule.name)
    if across == "inner_diameter":
        # t is proportional to D, so D = d / (1 - 2 t/D), unless the least wall governs
        ratio = rules.wall_thickness(rule.name, 100.0, test) / 100.0
        thickness = max(ratio * diameter / (1.0 - 2.0 * ratio), rule.least_wall)
    else:
        thickness = rules.wall_thickness(rule.name, diameter, test)
    return (Layer(material(rule.material), thickness),)


def _volume(volume: Any, capacity: Any, inside_length: Any, inner: float, depth: float) -> float:
    which = _exactly_one(
        "bottle size", volume=volume, capacity=capacity, inside_length=inside_length
    )
    if which == "volume":
        return parse(volume, "volume", name="bottle volume", low=1e-5, high=1.0)
    if which == "capacity":
        kilograms = parse(capacity, "mass", name="bottle capacity", low=0.007, high=680.0)
        return kilograms / rules.FULL_FILLING_DENSITY
    least = 2.0 * depth * inner
    length = parse(inside_length, "length", name="bottle inside length", low=least, high=10.0)
    return 0.25 * math.pi * inner**2 * (length - 2.0 / 3.0 * depth * inner)


# --- layers by mass, lumped ----------------------------------------------------------------------
_LAYER_KEYS = (
    "mass",
    "specific_heat",
    "heat_capacity",
    "thickness",
    "k",
    "k_inplane",
    "material",
    "max_temperature",
    "name",
)


def _typical_diameter(volume: float) -> float:
    """Inside diameter of a flat-ended cylinder three diameters long (typical shape)."""
    return (4.0 * volume / (3.0 * math.pi)) ** (1.0 / 3.0)


def from_layers(
    volume: Any, layers: list[Mapping[str, Any]], inner_diameter: Any = None, **fields: Any
) -> Bottle:
    """See :meth:`Bottle.from_layers`: densities follow from the masses and the geometry."""
    held = parse(volume, "volume", name="bottle volume", low=1e-5, high=1.0)
    inner = (
        _typical_diameter(held)
        if inner_diameter is None
        else parse(inner_diameter, "length", name="bottle inner diameter", low=0.01, high=1.0)
    )
    name = fields.pop("name", "bottle")
    fields.setdefault("end_thickness", 1.0)
    plain = tuple(_unit_density_layer(i, x) for i, x in enumerate(layers, 1))
    unit = Bottle(name, held, inner, plain, **fields)
    made = tuple(
        _layer_of_mass(thin, size, row) for thin, size, row in zip(plain, unit.layer_masses, layers)
    )
    return Bottle(name, held, inner, made, **fields)


def _unit_density_layer(number: int, row: Mapping[str, Any]) -> Layer:
    """The layer with density 1, so that its mass in the bottle is its volume."""
    if not isinstance(row, Mapping):
        raise InputError(f"layer {number}", row, "", "a table with mass or heat_capacity", "")
    for key in row:
        if key not in _LAYER_KEYS:
            raise UnknownNameError.among(f"layer {number} entry", key, _LAYER_KEYS)
    base = material(row["material"]) if "material" in row else None
    k = row.get("k", base.k_radial if base else None)
    if k is None:
        raise InputError(
            f"layer {number}",
            ", ".join(row),
            "",
            "k or material",
            "give the conductivity k in W/m/K, or a material",
        )
    along = row.get("k_inplane", base.k_inplane if base and "k" not in row else k)
    limit = row.get("max_temperature", base.max_temperature if base else None)
    name = str(row.get("name", base.name if base else f"layer {number}"))
    return Layer(
        Material(name, k, along, 1.0, base.cp if base else 1.0, limit), row.get("thickness", 1e-3)
    )


def _layer_of_mass(thin: Layer, size: float, row: Mapping[str, Any]) -> Layer:
    m = thin.material
    if "heat_capacity" in row:
        total = parse(
            row["heat_capacity"],
            "heat_capacity",
            name=f"{m.name} heat capacity",
            low=0.0,
            low_open=True,
        )
        mass = parse(row.get("mass", total / 900.0), "mass", name=f"{m.name} mass", low=1e-6)
        cp = total / mass
    elif "mass" in row:
        mass = parse(row["mass"], "mass", name=f"{m.name} mass", low=1e-6)
        cp = parse(row.get("specific_heat", m.cp), "specific_heat", name=f"{m.name} specific heat")
        if "specific_heat" not in row and "material" not in row:
            raise InputError(f"{m.name}", ", ".join(row), "", "specific_heat or heat_capacity", "")
    else:
        raise InputError(f"{m.name}", ", ".join(row), "", "mass or heat_capacity", "")
    solid = Material(m.name, m.k_radial, m.k_inplane, mass / size, cp, m.max_temperature)
    return Layer(solid, thin.thickness)


def lumped(
    volume: Any, heat_capacity: Any, inner_area: Any = None, outer_area: Any = None, **fields: Any
) -> Bottle:
    """See :meth:`Bottle.lumped`. One layer so conductive that its gradients are below 1 mK."""
    fields.setdefault("name", "lumped")
    fields.setdefault("inner_area_given", inner_area)
    fields.setdefault("outer_area_given", inner_area if outer_area is None else outer_area)
    layer = {
        "heat_capacity": heat_capacity,
        "k": 1e4,
        "k_inplane": 1e8,
        "thickness": 1e-3,
        "name": "lumped wall",
    }
    return from_layers(volume, [layer], **fields)


# --- tables (scenario files) -----------------------------------------------------------------
def from_table(data: dict[str, Any]) -> Bottle:
    """A bottle from a plain table; which keys are there decides how it is read."""
    if "preset" in data or "shell" in data:
        return _preset_table(
            _only(data, "a preset", "preset", "shell", "capacity", "outer_diameter")
        )
    if "wall_heat_capacity" in data:
        data = _only(data, "a lumped wall", "wall_heat_capacity", "inner_area", "outer_area")
        data["heat_capacity"] = data.pop("wall_heat_capacity")
        return lumped(**_need(data, "volume", "heat_capacity"))
    layers = data.get("layers")
    rows = layers if isinstance(layers, (list, tuple)) else ()
    if any(isinstance(x, Mapping) and ("mass" in x or "heat_capacity" in x) for x in rows):
        return from_layers(**_need(_only(data, "layers by mass"), "volume", "layers"))
    if any(k in data for k in _HOW):
        return from_dimensions(
            **_only(
                data,
                "dimensions",
                "outer_diameter",
                "capacity",
                "material",
                "inside_length",
                "wall",
                "spec",
            )
        )
    return Bottle(**_need({"name": "bottle"} | data, "volume", "inner_diameter", "layers"))


def _only(data: dict[str, Any], way: str, *keys: str) -> dict[str, Any]:
    """A copy of ``data`` with no keys beyond ``keys`` and the fields of a bottle."""
    known = [*keys, *(f.name for f in dataclasses.fields(Bottle))]
    for key in data:
        if key not in known:
            raise UnknownNameError.among(f"bottle given by {way}: entry", key, known)
    return dict(data)


def _need(data: dict[str, Any], *keys: str) -> dict[str, Any]:
    missing = [k for k in keys if k not in data]
    if missing:
        raise InputError(
            "bottle",
            ", ".join(data),
            "",
            "an entry " + ", ".join(keys),
            f"add {', '.join(missing)}, or name a preset",
        )
    return data


def _preset_table(data: dict[str, Any]) -> Bottle:
    named = {k: data.pop(k, None) for k in ("preset", "shell")}
    shell = named[_exactly_one("bottle", **named)]
    capacity = data.pop("capacity", "10 lb")
    if "outer_diameter" in data:
        return Bottle.from_capacity(capacity, shell, data.pop("outer_diameter"), **data)
    return Bottle.preset(shell, capacity, **data)


__all__ = [
    "OUTSIDE_DIAMETERS",
    "SHELLS",
    "TABLE_KEYS",
    "end_area_factor",
    "from_capacity",
    "from_dimensions",
    "from_layers",
    "from_table",
    "lumped",
    "preset",
]
