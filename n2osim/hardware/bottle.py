# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""The bottle: water capacity, shell layers, markings, surface."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, NamedTuple

from n2osim.above import above
from n2osim.errors import InputError, RangeError
from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY, SPECIFICATIONS
from n2osim.hardware.materials import MATERIALS, Material, Surface, material, surface
from n2osim.hardware.shells import OUTSIDE_DIAMETERS, SHELLS
from n2osim.hardware.wall import WallNetwork, wall_network
from n2osim.schema import (
    Amount,
    Choice,
    Custom,
    Flag,
    Given,
    Kind,
    MaybeAmount,
    Nested,
    Number,
    Part,
    Several,
    Text,
    Typed,
    Way,
    about,
    check_keys,
    field,
    reading_ambient,
    reading_at,
)


def _material_plain(value: Material) -> Any:
    """Known materials by name, others as a table."""
    return value.name if MATERIALS.get(value.name) == value else value.as_dict()


@dataclass(frozen=True)
class Layer(Part):
    """One layer of the shell.

    >>> import n2osim as n2
    >>> jacket = n2.Layer("foam", "8 mm")
    >>> bottle = n2.Bottle("mine", "6.4 L", "162 mm", [n2.Layer("aluminium", "7.2 mm"), jacket])
    >>> [f"{1e3 * layer.thickness:.1f} mm of {layer.material.name}" for layer in bottle.layers]
    ['7.2 mm of 6061-T6', '8.0 mm of foam']
    """

    material: Typed[Material | str | Mapping[str, Any], Material] = field(
        Custom(lambda value, _label, _owner: material(value), "text or table", "", _material_plain),
        "name of a material, or a table of its properties",
    )
    thickness: Amount = field("length", "thickness on the sides", low=1e-5, high=0.2)


class _Layers(Several):
    """One or more layers; a single one is taken as a list of one."""

    def read(self, value: Any, label: str, owner: Any) -> tuple[Any, ...]:
        return super().read((value,) if isinstance(value, Layer) else value, label, owner)


def _way(kind: Kind, words: str) -> Way:
    """Ways of a bottle go together: ``build.from_table`` reads them, not the way alone."""
    return Way(kind, words, (), dict)


_LENGTH = Number("length")
_AREA = Number("area")


class Figure(NamedTuple):
    """One number of a bottle: label, value (SI), kind of quantity; whether it is assumed."""

    label: str
    value: float
    dimension: str
    assumed: bool


@dataclass(frozen=True)
class Bottle(Part):
    """A cylinder with two dished ends and a layered shell.

    >>> import n2osim as n2
    >>> from n2osim.units import to_in, to_lb
    >>> bottle = n2.Bottle.preset("carbon-aluminium", "12 lb")
    >>> print(f"{to_lb(bottle.empty_mass):.1f} lb empty, wall {to_in(bottle.wall):.2f} in")
    10.2 lb empty, wall 0.27 in
    >>> mine = n2.Bottle.from_dimensions(outer_diameter="7.1 in", capacity="11 lb", wall="0.29 in")
    >>> print(f"{to_in(mine.length):.1f} in long")
    15.4 in long
    """

    name: str = field(Text("a text"), "for tables and messages")
    volume: Amount = field("volume", "water capacity", low=1e-5, high=1.0)
    inner_diameter: Amount = field("length", "inside diameter", low=0.01, high=1.0)
    layers: Typed[Layer | Sequence[Layer | Mapping[str, Any]], tuple[Layer, ...]] = field(
        _Layers(Nested(Layer), 1, "one or more Layer(material, thickness)"),
        "`Layer` from inside to outside; an insulating jacket is simply another layer",
        (),
    )
    end_depth: Amount = field(
        "fraction",
        "depth of each end over the inside diameter: 0 flat, 0.25 (default) a 2:1 ellipsoid, 0.5 a "
        "hemisphere",
        0.25,
        low=0.0,
        high=0.5,
    )
    end_thickness: Amount = field(
        "number", "thickness of the ends over that of the sides (default 1)", 1.0, low=0.2, high=5.0
    )
    extra_mass: Amount = field(
        "mass", "neck, valve, siphon tube: their mass", 0.0, low=0.0, high=50.0
    )
    extra_heat_capacity: Amount = field(
        "heat_capacity", "neck, valve, siphon tube: their heat capacity", 0.0, low=0.0, high=1e6
    )
    service_pressure: MaybeAmount = field("gauge_pressure", "as marked", None, low=1e5, high=1e8)
    test_pressure: MaybeAmount = field("gauge_pressure", "as marked", None, low=1e5, high=1e8)
    relief_pressure: MaybeAmount = field(
        "gauge_pressure", "rating of the relief device, as marked", None, low=1e5, high=1e8
    )
    relief_bore: Amount = field(
        "length", "throat of the relief device; default 6 mm (typical)", 6e-3, low=1e-4, high=0.05
    )
    surface_emissivity: Amount = field("fraction", "of the outside", 0.92, low=0.0, high=1.0)
    solar_absorptivity: Amount = field("fraction", "of the outside", 0.7, low=0.0, high=1.0)
    wall_temperature_limit: MaybeAmount = field(
        "temperature", "overrides the layers' own limits", None, low=200.0, high=2000.0
    )
    specification: str = field(Text(), "words on approval", "")
    oxidising_note: str = field(Text(), "words on oxidising service", "")
    inner_area_given: MaybeAmount = field(
        "area", "replaces the inside area from the geometry", None, low=1e-4, high=100.0
    )
    outer_area_given: MaybeAmount = field(
        "area", "replaces the outside area from the geometry", None, low=1e-4, high=100.0
    )
    status: str = field(Text(), "words on where the dimensions come from", "given by the user")
    assumed: Typed[Sequence[str], tuple[str, ...]] = field(
        Several(Text("a text")), "which numbers above are assumed, not measured", ()
    )
    ways: ClassVar = {
        "preset": _way(
            Choice(*SHELLS), "kind of shell; with `capacity` and, if wanted, `outer_diameter`"
        ),
        "shell": _way(Text(), "the same as `preset`"),
        "capacity": _way(
            Number("mass", 0.45359237, 27.2155422),
            "rated capacity, 0.68 kg per litre of water capacity. A preset without "
            "`outer_diameter` comes in "
            + ", ".join(f"{s} lb" for s in OUTSIDE_DIAMETERS)
            + '; left out: "10 lb"',
        ),
        "outer_diameter": _way(_LENGTH, "outside diameter"),
        "overall_length": _way(
            _LENGTH, "overall outside length of the shell, without neck and valve"
        ),
        "inside_length": _way(
            _LENGTH, "overall inside length with the dished ends, instead of `volume`"
        ),
        "wall": _way(_LENGTH, "wall thickness, of `material`"),
        "material": _way(Text(), "name of the wall's material"),
        "spec": _way(
            Choice(*SPECIFICATIONS),
            "least wall that this specification allows at `test_pressure` (left out: 5/3 of "
            "`service_pressure`, or 3000 psig)",
        ),
        "empty_weight": _way(
            Number("mass"),
            "of the empty bottle on the scale: gives the wall where neither `wall`, `spec` nor "
            "`layers` do, else how thick the ends are",
        ),
        "weight_with_valve": _way(Flag(), "whether the valve was on the scale (left out: true)"),
        "wall_heat_capacity": _way(
            Number("heat_capacity"),
            "a lumped wall: heat capacity of the whole shell, with `volume`",
        ),
        "inner_area": _way(_AREA, "inside area of a lumped wall"),
        "outer_area": _way(_AREA, "outside area of a lumped wall"),
    }
    meant: ClassVar = {
        "tare": "empty_weight",
        "tare_weight": "empty_weight",
        "empty_mass": "empty_weight",
        "weight": "empty_weight",
        "length": "overall_length",
        "diameter": "outer_diameter",
        "od": "outer_diameter",
        "water_capacity": "volume",
        "working_pressure": "service_pressure",
    }

    def __post_init__(self) -> None:
        if not self.layers:
            raise InputError(
                "bottle layers", self.layers, "", "one or more Layer(material, thickness)"
            )
        if self.straight_length < 0.0:
            raise RangeError(
                "bottle inner diameter",
                self.inner_diameter,
                "m",
                f"small enough that two ends {self.end_depth:g} diameters deep "
                f"hold at most {self.volume * 1e3:.4g} L",
                "reduce the diameter or the end depth",
            )

    # --- other ways to make one ---------------------------------------------------------------
    @classmethod
    def preset(cls, shell: str = "aluminium", capacity: Given = "10 lb", **changes: Any) -> Bottle:
        """A typical bottle: shell "aluminium", "steel", "carbon-aluminium" or "carbon-polymer",
        capacity 10, 12, 15 or 20 lb (kg of N2O or text). ``changes`` replace fields."""
        return replace(above("bottle_builders").preset(shell, capacity), **changes)

    @classmethod
    def from_capacity(
        cls,
        capacity: Given,
        shell: str = "aluminium",
        outer_diameter: Given | None = None,
        **changes: Any,
    ) -> Bottle:
        """As :meth:`preset` for any capacity (1 to 60 lb); the diameter is scaled if not given."""
        return replace(
            above("bottle_builders").from_capacity(shell, capacity, outer_diameter), **changes
        )

    @classmethod
    def from_dimensions(
        cls,
        *,
        outer_diameter: Given | None = None,
        inner_diameter: Given | None = None,
        volume: Given | None = None,
        capacity: Given | None = None,
        inside_length: Given | None = None,
        overall_length: Given | None = None,
        wall: Given | None = None,
        spec: str | None = None,
        material: Material | str | Mapping[str, Any] | None = None,
        layers: Sequence[Layer | Mapping[str, Any]] | None = None,
        empty_weight: Given | None = None,
        weight_with_valve: bool = True,
        name: str = "bottle",
        **fields: Any,
    ) -> Bottle:
        """A bottle from what can be measured on it.

        Exactly one of each: ``outer_diameter`` or ``inner_diameter``; ``volume`` (m3),
        ``capacity`` (kg), ``inside_length`` or ``overall_length`` (m, with the dished ends, without
        neck and valve); ``wall`` (m, of ``material``, default 6061-T6), ``spec`` ("3AL", "3AA":
        least wall at ``test_pressure``, default 5/3 of ``service_pressure``, else 3000 psig) or
        ``layers``. ``empty_weight`` (kg, with the valve unless ``weight_with_valve`` is False)
        gives the wall where none of these does, else the thickness of the ends. Ends, neck and
        valve that are not given are the preset's of that kind; ``assumed`` names them. Other
        ``fields`` as in :class:`Bottle`.
        """
        given = dict(locals())  # first, while nothing but the arguments is there
        del given["cls"], given["fields"]
        found: Bottle = above("bottle_builders").from_dimensions(given, **fields)
        return found

    @classmethod
    def from_layers(
        cls,
        volume: Given,
        layers: Sequence[Mapping[str, Any]],
        inner_diameter: Given | None = None,
        **fields: Any,
    ) -> Bottle:
        """From layers given by mass and heat capacity.

        Each layer is a mapping with ``mass`` (kg) and ``specific_heat`` (J/kg/K), or with
        ``heat_capacity`` (J/K); ``thickness`` (m); and ``k`` (W/m/K; ``k_inplane`` if it differs)
        or ``material`` for the conductivities.
        """
        return above("bottle_builders").from_layers(volume, layers, inner_diameter, **fields)

    @classmethod
    def lumped(
        cls,
        volume: Given,
        heat_capacity: Given,
        inner_area: Given | None = None,
        outer_area: Given | None = None,
        **fields: Any,
    ) -> Bottle:
        """A shell of one temperature: total ``heat_capacity`` (J/K) and practically no resistance.

        For checks against closed forms; use one node per layer.
        """
        return above("bottle_builders").lumped(
            volume, heat_capacity, inner_area, outer_area, **fields
        )

    @classmethod
    def from_dict(cls, data: Mapping[str, Any], *, ambient: float | None = None) -> Bottle:
        """From :meth:`as_dict`, or from a table with ``preset``, ``outer_diameter``,
        ``wall_heat_capacity`` (lumped) or layers by mass; unknown keys suggest a near match."""
        build = above("bottle_builders")
        with reading_at(reading_ambient() if ambient is None else ambient), about(data):
            return build.from_table(check_keys(cls, data))

    @property
    def figures(self) -> tuple[Figure, ...]:
        """What follows from what was given, in order; what rests on an assumption says so."""
        guessed = set(self.assumed)
        end = not guessed.isdisjoint(("layers", "end_thickness"))
        heat = not guessed.isdisjoint(("material", "empty_weight"))
        rows = [
            Figure("water capacity", self.volume, "volume", "volume" in guessed),
            Figure("rated capacity", self.capacity, "mass", "volume" in guessed),
            Figure("outside diameter", self.outer_diameter, "length", False),
            Figure("overall length without neck and valve", self.length, "length", False),
            Figure("wall", self.wall, "length", "layers" in guessed),
            Figure("wall of the ends", self.end_thickness * self.wall, "length", end),
            Figure("inside area", self.inner_area, "area", "layers" in guessed),
            Figure("outside area", self.outer_area, "area", False),
            Figure("neck and valve", self.extra_mass, "mass", "extra_mass" in guessed),
            Figure("empty weight with valve", self.empty_mass, "mass", "empty_weight" in guessed),
            Figure("heat capacity", self.heat_capacity, "heat_capacity", heat),
        ]
        marks = ("service_pressure", "test_pressure", "relief_pressure")
        rows += [
            Figure(m.replace("_", " "), value, "gauge_pressure", m in guessed)
            for m in marks
            if (value := getattr(self, m)) is not None
        ]
        return tuple(rows)

    # --- geometry -----------------------------------------------------------------------------
    @property
    def inner_length(self) -> float:
        """Length (m) of the flat-ended cylinder of this diameter that holds ``volume``."""
        return self.volume / (0.25 * math.pi * self.inner_diameter**2)

    @property
    def straight_length(self) -> float:
        """Length (m) of the cylindrical part between the dished ends."""
        return self.inner_length - 4.0 / 3.0 * self.end_depth * self.inner_diameter

    @property
    def wall(self) -> float:
        """Thickness of all layers on the sides, m."""
        return sum(x.thickness for x in self.layers)

    @property
    def outer_diameter(self) -> float:
        """Outside diameter, m."""
        return self.inner_diameter + 2.0 * self.wall

    @property
    def length(self) -> float:
        """Outside length without neck and valve, m."""
        return self.straight_length + 2.0 * (
            self.end_depth * self.inner_diameter + self.end_thickness * self.wall
        )

    def _surface(self, diameter: float) -> float:
        """Sides and two ends at ``diameter``, m2."""
        end = 0.25 * math.pi * diameter**2 * end_area_factor(self.end_depth)
        return math.pi * diameter * self.straight_length + 2.0 * end

    @property
    def inner_area(self) -> float:
        """Inside area with ends, m2."""
        return self.inner_area_given or self._surface(self.inner_diameter)

    @property
    def outer_area(self) -> float:
        """Outside area with ends, m2."""
        return self.outer_area_given or self._surface(self.outer_diameter)

    @property
    def projected_area(self) -> float:
        """Side view, m2 (what the sun sees)."""
        return self.outer_diameter * self.length

    # --- mass and heat ------------------------------------------------------------------------
    @property
    def layer_masses(self) -> tuple[float, ...]:
        """Mass of each layer, sides and ends, kg."""
        masses = []
        inner = self.inner_diameter
        for x in self.layers:
            middle = inner + x.thickness
            sides = math.pi * middle * self.straight_length
            ends = self._surface(middle) - sides
            solid = (sides + self.end_thickness * ends) * x.thickness
            masses.append(solid * x.material.density)
            inner += 2.0 * x.thickness
        return tuple(masses)

    @property
    def layer_heat_capacities(self) -> tuple[float, ...]:
        """Heat capacity of each layer, J/K."""
        return tuple(m * x.material.cp for m, x in zip(self.layer_masses, self.layers))

    @property
    def shell_mass(self) -> float:
        """Mass of the layers, sides and ends, kg."""
        return sum(self.layer_masses)

    @property
    def empty_mass(self) -> float:
        """Tare: shell, neck and valve, kg."""
        return self.shell_mass + self.extra_mass

    @property
    def heat_capacity(self) -> float:
        """Heat capacity of shell, neck and valve, J/K."""
        return sum(self.layer_heat_capacities) + self.extra_heat_capacity

    # --- charge and limits --------------------------------------------------------------------
    @property
    def capacity(self) -> float:
        """Charge that counts as 100 % full, kg: 0.68 kg per litre (49 CFR 173.304a)."""
        return FULL_FILLING_DENSITY * self.volume

    @property
    def relief_cda(self) -> float:
        """Effective area of the open relief device, m2: 0.6 (sharp edge) times its throat."""
        return 0.6 * 0.25 * math.pi * self.relief_bore**2

    @property
    def layer_temperature_limits(self) -> tuple[float | None, ...]:
        """Limit of each layer's material, K or None."""
        return tuple(x.material.max_temperature for x in self.layers)

    @property
    def max_wall_temperature(self) -> float | None:
        """Lowest temperature limit in the shell, K (None if no layer has one)."""
        if self.wall_temperature_limit is not None:
            return self.wall_temperature_limit
        limits = [t for t in self.layer_temperature_limits if t is not None]
        return min(limits) if limits else None

    def absorbed_sun(self, irradiance: float) -> float:
        """Heat (W) that the bottle takes from the sun at ``irradiance`` (W/m2)."""
        return self.solar_absorptivity * self.projected_area * irradiance

    # --- variants and network -----------------------------------------------------------------
    def with_jacket(
        self, thickness: Given, jacket: Material | str = "foam", finish: Surface | str | None = None
    ) -> Bottle:
        """The same bottle with one more layer outside (default foam)."""
        changed = replace(self, layers=(*self.layers, Layer(jacket, thickness)))
        return changed if finish is None else changed.with_finish(finish)

    def with_finish(self, finish: Surface | str) -> Bottle:
        """The same bottle with the emissivity and absorptivity of a named surface."""
        s = surface(finish)
        return replace(self, surface_emissivity=s.emissivity, solar_absorptivity=s.absorptivity)

    def wall_network(
        self, nodes_per_layer: int | Sequence[int] = 4, coverage: float = 0.5
    ) -> WallNetwork:
        """Thermal network of the shell, see :mod:`n2osim.hardware.wall`."""
        return wall_network(self, nodes_per_layer, coverage)


def end_area_factor(depth: float) -> float:
    """Area of an end over that of the flat disc; ``depth`` over the diameter, 0 to 0.5.

    Half the surface of an oblate spheroid: ``1 + (1 - e^2) / e * artanh(e)`` discs.
    """
    ratio = 2.0 * depth
    e = math.sqrt(1.0 - ratio**2)
    if ratio <= 0.0:
        return 1.0
    if e < 1e-6:
        return 2.0
    return 1.0 + ratio**2 / e * math.atanh(e)
