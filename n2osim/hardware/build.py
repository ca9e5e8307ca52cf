"""Ways to make a :class:`Bottle`: presets, capacity, what can be measured, layer masses, lumped.

Presets (table in :mod:`n2osim.hardware.shells`): metal sides have the least wall that the
specification's own formula allows at test pressure (3000 psig for 1800 psig service). Composite
sides have a thin liner under the laminate that netting analysis asks for at a burst factor of 3.4,
and a glass layer for protection. A bottle of one's own has the ends, neck and valve of the preset
of its kind wherever they are not given; ``Bottle.assumed`` names them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from n2osim.errors import InputError, RangeError, UnknownNameError, choice
from n2osim.hardware import cylinder_rules as rules
from n2osim.hardware.bottle import Bottle, Layer
from n2osim.hardware.materials import SURFACES, Material, material
from n2osim.hardware.shells import (
    GLASS_THICKNESS,
    OUTSIDE_DIAMETERS,
    RELIEF_RATING,
    SERVICE_PRESSURE,
    SHELLS,
    SYNONYMS,
    VALVE_MASS,
    Shell,
)
from n2osim.schema import Given, declared, unknown_key
from n2osim.units import INCH, LB, parse

_TYPICAL = ("end_thickness", "extra_mass", "extra_heat_capacity")


# --- presets ---------------------------------------------------------------------------------
def preset(shell: str, capacity: Given) -> Bottle:
    """The preset ``shell`` in one of the sizes 10, 12, 15, 20 lb."""
    kilograms = parse(capacity, "mass", name="bottle capacity", low=0.0, low_open=True)
    for size, diameter in OUTSIDE_DIAMETERS.items():
        if abs(kilograms / LB - size) < 0.01 * size:
            return _typical(shell, size * LB, diameter, f"{size} lb")
    raise UnknownNameError.among(
        "bottle preset capacity", f"{kilograms / LB:.4g} lb", [f"{s} lb" for s in OUTSIDE_DIAMETERS]
    )


def from_capacity(shell: str, capacity: Given, outer_diameter: Given | None = None) -> Bottle:
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
    key = choice(shell, {s: s for s in SHELLS} | SYNONYMS, "bottle preset")
    kind = SHELLS[key]
    test = rules.TEST_TO_SERVICE * SERVICE_PRESSURE
    if kind.liner:
        layers = _composite_layers(kind, diameter)
    else:
        layers = _metal_layers(kind.specification, diameter, test)
    finish = SURFACES[kind.finish]
    return Bottle(
        name=f"{key} {size}",
        volume=capacity / rules.FULL_FILLING_DENSITY,
        inner_diameter=diameter - 2.0 * sum(x.thickness for x in layers),
        layers=layers,
        end_thickness=kind.end_thickness,
        extra_mass=kind.extra_mass,
        extra_heat_capacity=kind.extra_heat_capacity,
        service_pressure=SERVICE_PRESSURE,
        test_pressure=test,
        relief_pressure=RELIEF_RATING,
        surface_emissivity=finish.emissivity,
        solar_absorptivity=finish.absorptivity,
        specification=kind.specification,
        oxidising_note=kind.note,
        status="typical outside diameter; side wall computed from the rule named in specification; "
        "ends, neck and valve typical",
        assumed=("layers", *_TYPICAL, "empty_weight"),
    )


def _metal_layers(spec: str, diameter: float, test: float) -> tuple[Layer, ...]:
    rule = rules.specification(spec)
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


def _like(layers: Sequence[Layer]) -> Shell:
    """The kind of preset shell that such layers are of, for ends and neck."""
    for name, shell in SHELLS.items():
        lining = shell.liner or rules.specification(shell.specification).material
        if (len(layers) > 1) == bool(shell.liner) and layers[0].material.name == lining:
            return SHELLS[name]
    return SHELLS["carbon-aluminium" if len(layers) > 1 else "aluminium"]


# --- from what can be measured -----------------------------------------------------------------
def _exactly_one(what: str, given: Mapping[str, Any], *names: str) -> str:
    present = [k for k in names if given.get(k) is not None]
    if len(present) != 1:
        valid = "exactly one of " + ", ".join(names)
        remedy = "give one and leave the others out"
        raise InputError(what, ", ".join(present) or None, "", valid, remedy)
    return present[0]


def from_dimensions(given: Mapping[str, Any], **fields: Any) -> Bottle:
    """See :meth:`Bottle.from_dimensions`; ``given``: what is measured, None where it is not."""
    across = _exactly_one("bottle diameter", given, "outer_diameter", "inner_diameter")
    sizes = ("volume", "capacity", "inside_length", "overall_length")
    which = _exactly_one("bottle size", given, *sizes)
    empty_weight, how = given.get("empty_weight"), "weight"
    walls = ("wall", "spec", "layers")
    if empty_weight is None or any(given.get(k) is not None for k in walls):
        how = _exactly_one("bottle wall", given, *walls)
    label = f"bottle {across.replace('_', ' ')}"
    diameter = parse(given[across], "length", name=label, low=0.01, high=1.2)
    assumed: list[str] = []
    found = _layers_from(how, given, diameter, across, fields, assumed)
    _assume(fields, found, assumed, by_weight=how == "weight", by_length=which.endswith("length"))
    if empty_weight is None and assumed:
        assumed.append("empty_weight")

    def made(end: float, layers: tuple[Layer, ...]) -> Bottle:
        own = fields | {"end_thickness": end}
        inner = _inner(diameter, across, layers)
        held = _volume(which, given[which], inner, layers, own)
        name = given.get("name", "bottle")
        return Bottle(name, held, inner, layers, **own, assumed=tuple(assumed))

    end = parse(fields["end_thickness"], "number", name="bottle end thickness", low=0.2, high=5.0)
    if empty_weight is None:
        return made(end, found)
    extra = parse(fields["extra_mass"], "mass", name="bottle extra mass")
    other = extra - (0.0 if given.get("weight_with_valve", True) else VALVE_MASS)
    weight = parse(empty_weight, "mass", name="bottle empty weight", low=other, high=200.0)
    if how == "weight":
        solid, most = found[0].material, 0.2 * diameter
        return _of_mass(lambda t: made(end, (Layer(solid, t),)), weight - other, 3e-4, most, weight)
    if "end_thickness" in assumed:
        assumed.remove("end_thickness")
    return _of_mass(lambda e: made(e, found), weight - other, 0.2, 5.0, weight)


def _layers_from(
    how: str,
    given: Mapping[str, Any],
    diameter: float,
    across: str,
    fields: dict[str, Any],
    assumed: list[str],
) -> tuple[Layer, ...]:
    """The wall as it is given; a first guess of it where the weight is to say."""
    if how == "spec":
        return _spec_layers(str(given["spec"]), diameter, across, fields, assumed)
    if how == "layers":
        return tuple(Layer.from_dict(x) if isinstance(x, Mapping) else x for x in given["layers"])
    solid, wall = given.get("material"), given.get("wall")
    assumed += [] if solid else ["material"]
    return (Layer(solid or "6061-T6", 1e-3 if wall is None else wall),)


def _assume(
    fields: dict[str, Any],
    layers: Sequence[Layer],
    assumed: list[str],
    by_weight: bool,
    by_length: bool,
) -> None:
    """Put what is usual for such a shell in place of fields not given, and note what rests on it:
    a wall found by weight on the ends, a volume found by length on the wall."""
    kind = _like(layers)
    for key in _TYPICAL:
        if fields.get(key) is None:
            fields[key] = getattr(kind, key)
            assumed.append(key)
    if by_weight and "end_thickness" in assumed:
        assumed.append("layers")
    if by_length and "layers" in assumed:
        assumed.append("volume")


def _of_mass(
    made: Callable[[float], Bottle], mass: float, low: float, high: float, weight: float
) -> Bottle:
    """The bottle whose shell weighs ``mass`` (kg); ``made`` grows heavier with its argument."""
    from scipy.optimize import brentq

    lightest, heaviest = (made(x).shell_mass for x in (low, high))
    if not lightest <= mass <= heaviest:
        rest = weight - mass
        raise RangeError(
            "bottle empty weight",
            weight,
            "kg",
            f"{lightest + rest:.4g} to {heaviest + rest:.4g} kg with these dimensions",
            "measure again, or say whether the valve was on the scale (weight_with_valve)",
        )
    return made(float(brentq(lambda x: made(x).shell_mass - mass, low, high, xtol=1e-12)))


def _inner(diameter: float, across: str, layers: Sequence[Layer]) -> float:
    wall = sum(x.thickness for x in layers)
    inner = diameter - (2.0 * wall if across == "outer_diameter" else 0.0)
    if inner <= 0.0:
        valid = f"less than half the outside diameter ({diameter:.4g} m)"
        raise InputError("bottle wall", wall, "m", valid, "")
    return inner


def _spec_layers(
    spec: str, diameter: float, across: str, fields: dict[str, Any], assumed: list[str]
) -> tuple[Layer, ...]:
    """The least wall of a specification; notes in ``fields`` what was taken for it."""
    rule = rules.specification(spec)
    if fields.get("test_pressure") is None:
        service = fields.get("service_pressure", SERVICE_PRESSURE)
        pressure = parse(service, "gauge_pressure", name="bottle service pressure", low=1e5)
        fields["test_pressure"] = rules.TEST_TO_SERVICE * pressure
        assumed.append("test_pressure")
    test = parse(
        fields["test_pressure"], "gauge_pressure", name="bottle test pressure", low=1e5, high=1e8
    )
    fields.setdefault("specification", rule.name)
    assumed.append("layers")
    if across == "outer_diameter":
        thickness = rules.wall_thickness(rule.name, diameter, test)
    else:
        # t is proportional to D, so D = d / (1 - 2 t/D), unless the least wall governs
        ratio = rules.wall_thickness(rule.name, 100.0, test) / 100.0
        thickness = max(ratio * diameter / (1.0 - 2.0 * ratio), rule.least_wall)
    return (Layer(material(rule.material), thickness),)


def _volume(
    which: str, value: Any, inner: float, layers: Sequence[Layer], fields: Mapping[str, Any]
) -> float:
    """Water capacity (m3) from whichever measure of size was given."""
    if which == "volume":
        return parse(value, "volume", name="bottle volume", low=1e-5, high=1.0)
    if which == "capacity":
        kilograms = parse(value, "mass", name="bottle capacity", low=0.007, high=680.0)
        return kilograms / rules.FULL_FILLING_DENSITY
    depth = parse(
        fields.get("end_depth", 0.25), "fraction", name="bottle end depth", low=0.0, high=0.5
    )
    walls = 0.0
    if which == "overall_length":
        walls = 2.0 * float(fields["end_thickness"]) * sum(x.thickness for x in layers)
    least = 2.0 * depth * inner + walls
    label = f"bottle {which.replace('_', ' ')}"
    length = parse(value, "length", name=label, low=least, high=10.0) - walls
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
    volume: Given,
    layers: Sequence[Mapping[str, Any]],
    inner_diameter: Given | None = None,
    **fields: Any,
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
    given = ", ".join(row)
    if "heat_capacity" in row:
        label = f"{m.name} heat capacity"
        total = parse(row["heat_capacity"], "heat_capacity", name=label, low=0.0, low_open=True)
        mass = parse(row.get("mass", total / 900.0), "mass", name=f"{m.name} mass", low=1e-6)
        cp = total / mass
    elif "mass" in row:
        mass = parse(row["mass"], "mass", name=f"{m.name} mass", low=1e-6)
        cp = parse(row.get("specific_heat", m.cp), "specific_heat", name=f"{m.name} specific heat")
        if "specific_heat" not in row and "material" not in row:
            raise InputError(m.name, given, "", "specific_heat or heat_capacity", "")
    else:
        raise InputError(m.name, given, "", "mass or heat_capacity", "")
    solid = Material(m.name, m.k_radial, m.k_inplane, mass / size, cp, m.max_temperature)
    return Layer(solid, thin.thickness)


def lumped(
    volume: Given,
    heat_capacity: Given,
    inner_area: Given | None = None,
    outer_area: Given | None = None,
    **fields: Any,
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
_MEASURED = (
    "outer_diameter",
    "capacity",
    "material",
    "inside_length",
    "overall_length",
    "wall",
    "spec",
    "empty_weight",
    "weight_with_valve",
)


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
    if any(k in data for k in Bottle.ways):
        data = _only(data, "dimensions", *_MEASURED)
        beside = ("inner_diameter", "volume", "layers", "name")
        given = {k: data.pop(k) for k in (*_MEASURED, *beside) if k in data}
        return from_dimensions(given, **data)
    return Bottle(**_need({"name": "bottle"} | data, "volume", "inner_diameter", "layers"))


def _only(data: dict[str, Any], way: str, *keys: str) -> dict[str, Any]:
    """A copy of ``data`` with no keys beyond ``keys`` and the fields of a bottle."""
    known = [*keys, *declared(Bottle)]
    for key in data:
        if key not in known:
            raise unknown_key(f"bottle given by {way}: entry", key, known, Bottle.meant)
    return dict(data)


def _need(data: dict[str, Any], *keys: str) -> dict[str, Any]:
    missing = ", ".join(k for k in keys if k not in data)
    if missing:
        valid = "an entry " + ", ".join(keys)
        remedy = f"add {missing}, or name a preset"
        raise InputError("bottle", ", ".join(data), "", valid, remedy)
    return data


def _preset_table(data: dict[str, Any]) -> Bottle:
    named = {k: data.pop(k, None) for k in ("preset", "shell")}
    shell = named[_exactly_one("bottle", named, *named)]
    capacity = data.pop("capacity", "10 lb")
    if "outer_diameter" in data:
        return Bottle.from_capacity(capacity, shell, data.pop("outer_diameter"), **data)
    return Bottle.preset(shell, capacity, **data)
