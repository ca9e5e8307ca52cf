# ruff: noqa: RUF009 - Quantity() makes a descriptor, never a shared default
"""The bottle: water capacity, shell layers, markings, surface."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from n2osim.errors import InputError, RangeError
from n2osim.hardware._part import (
    Checked,
    MaybeChecked,
    OptionalQuantity,
    Part,
    Quantity,
    check_keys,
    reading_at,
    text,
)
from n2osim.hardware.cylinder_rules import FULL_FILLING_DENSITY
from n2osim.hardware.materials import material, surface
from n2osim.hardware.wall import WallNetwork, wall_network


@dataclass(frozen=True)
class Layer(Part):
    """One layer of the shell: a material (or its name) and its thickness (m) on the sides."""

    material: Any
    thickness: Checked = Quantity("length", low=1e-5, high=0.2)

    def __post_init__(self) -> None:
        object.__setattr__(self, "material", material(self.material))


@dataclass(frozen=True)
class Bottle(Part):
    """A cylinder with two dished ends and a layered shell.

    Parameters
    ----------
    name : for tables and messages.
    volume : water capacity, m3.
    inner_diameter : m.
    layers : :class:`Layer` from inside to outside; an insulating jacket is simply another layer.
    end_depth : depth of each end over the inside diameter: 0 flat, 0.25 (default) a 2:1 ellipsoid,
        0.5 a hemisphere.
    end_thickness : thickness of the ends over that of the sides (default 1).
    extra_mass, extra_heat_capacity : neck, valve, siphon tube: kg, J/K.
    service_pressure, test_pressure, relief_pressure : as marked, Pa GAUGE, or None.
    relief_bore : throat of the relief device, m; default 6 mm (typical).
    surface_emissivity, solar_absorptivity : of the outside, 0 to 1.
    wall_temperature_limit : overrides the layers' own limits, K, or None.
    specification, oxidising_note : words on approval and oxidising service.
    inner_area_given, outer_area_given : replace the areas from the geometry, m2, or None.
    status : words on where the dimensions come from.
    """

    name: str
    volume: Checked = Quantity("volume", low=1e-5, high=1.0)
    inner_diameter: Checked = Quantity("length", low=0.01, high=1.0)
    layers: tuple[Layer, ...] = ()
    end_depth: Checked = Quantity("fraction", 0.25, low=0.0, high=0.5)
    end_thickness: Checked = Quantity("number", 1.0, low=0.2, high=5.0)
    extra_mass: Checked = Quantity("mass", 0.0, low=0.0, high=50.0)
    extra_heat_capacity: Checked = Quantity("heat_capacity", 0.0, low=0.0, high=1e6)
    service_pressure: MaybeChecked = OptionalQuantity("gauge_pressure", low=1e5, high=1e8)
    test_pressure: MaybeChecked = OptionalQuantity("gauge_pressure", low=1e5, high=1e8)
    relief_pressure: MaybeChecked = OptionalQuantity("gauge_pressure", low=1e5, high=1e8)
    relief_bore: Checked = Quantity("length", 6e-3, low=1e-4, high=0.05)
    surface_emissivity: Checked = Quantity("fraction", 0.92, low=0.0, high=1.0)
    solar_absorptivity: Checked = Quantity("fraction", 0.7, low=0.0, high=1.0)
    wall_temperature_limit: MaybeChecked = OptionalQuantity("temperature", low=200.0, high=2000.0)
    specification: str = ""
    oxidising_note: str = ""
    inner_area_given: MaybeChecked = OptionalQuantity("area", low=1e-4, high=100.0)
    outer_area_given: MaybeChecked = OptionalQuantity("area", low=1e-4, high=100.0)
    status: str = "given by the user"

    def __post_init__(self) -> None:
        text(self.name, "bottle name", empty=False)
        for words in ("specification", "oxidising_note", "status"):
            text(getattr(self, words), f"bottle {words}")
        layers = self.layers if isinstance(self.layers, (tuple, list)) else (self.layers,)
        layers = tuple(Layer.from_dict(x) if isinstance(x, Mapping) else x for x in layers)
        if not layers or not all(isinstance(x, Layer) for x in layers):
            raise InputError(
                "bottle layers", self.layers, "", "one or more Layer(material, thickness)"
            )
        object.__setattr__(self, "layers", layers)
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
    def preset(cls, shell: str = "aluminium", capacity: Any = "10 lb", **changes: Any) -> Bottle:
        """A typical bottle: shell "aluminium", "steel", "carbon-aluminium" or "carbon-polymer",
        capacity 10, 12, 15 or 20 lb (kg of N2O or text). ``changes`` replace fields."""
        return replace(_builders().preset(shell, capacity), **changes)

    @classmethod
    def from_capacity(
        cls, capacity: Any, shell: str = "aluminium", outer_diameter: Any = None, **changes: Any
    ) -> Bottle:
        """As :meth:`preset` for any capacity (1 to 60 lb); the diameter is scaled if not given."""
        return replace(_builders().from_capacity(shell, capacity, outer_diameter), **changes)

    @classmethod
    def from_dimensions(cls, **dimensions: Any) -> Bottle:
        """From outside or inside diameter, volume or inside length, and wall or specification.

        See :func:`n2osim.hardware.build.from_dimensions`.
        """
        return _builders().from_dimensions(**dimensions)

    @classmethod
    def from_layers(
        cls,
        volume: Any,
        layers: Iterable[Mapping[str, Any]],
        inner_diameter: Any = None,
        **fields: Any,
    ) -> Bottle:
        """From layers given by mass and heat capacity.

        Each layer is a mapping with ``mass`` (kg) and ``specific_heat`` (J/kg/K), or with
        ``heat_capacity`` (J/K); ``thickness`` (m); and ``k`` (W/m/K; ``k_inplane`` if it differs)
        or ``material`` for the conductivities.
        """
        return _builders().from_layers(volume, list(layers), inner_diameter, **fields)

    @classmethod
    def lumped(
        cls,
        volume: Any,
        heat_capacity: Any,
        inner_area: Any = None,
        outer_area: Any = None,
        **fields: Any,
    ) -> Bottle:
        """A shell of one temperature: total ``heat_capacity`` (J/K) and practically no resistance.

        For checks against closed forms; use one node per layer.
        """
        return _builders().lumped(volume, heat_capacity, inner_area, outer_area, **fields)

    @classmethod
    def from_dict(cls, data: Mapping[str, Any], *, ambient: float | None = None) -> Bottle:
        """From :meth:`as_dict`, or from a table with ``preset``, ``outer_diameter``,
        ``wall_heat_capacity`` (lumped) or layers by mass; unknown keys suggest a near match."""
        build = _builders()
        with reading_at(ambient):
            return build.from_table(check_keys(cls, data, extra=build.TABLE_KEYS))

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
    def side_mass(self) -> float:
        """Mass of the cylindrical sides alone, kg."""
        total, inner = 0.0, self.inner_diameter
        for x in self.layers:
            total += math.pi * (inner + x.thickness) * x.thickness * x.material.density
            inner += 2.0 * x.thickness
        return total * self.straight_length

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
    def with_jacket(self, thickness: Any, jacket: Any = "foam", finish: Any = None) -> Bottle:
        """The same bottle with one more layer outside (default foam)."""
        changed = replace(self, layers=(*self.layers, Layer(jacket, thickness)))
        return changed if finish is None else changed.with_finish(finish)

    def with_finish(self, finish: Any) -> Bottle:
        """The same bottle with the emissivity and absorptivity of a named surface."""
        s = surface(finish)
        return replace(self, surface_emissivity=s.emissivity, solar_absorptivity=s.absorptivity)

    def wall_network(
        self, nodes_per_layer: int | Sequence[int] = 4, coverage: float = 0.5
    ) -> WallNetwork:
        """Thermal network of the shell, see :mod:`n2osim.hardware.wall`."""
        return wall_network(self, nodes_per_layer, coverage)


def _builders() -> Any:
    # The builders need Bottle, so they are loaded when first asked for.
    from n2osim.hardware import build

    return build


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


__all__ = ["Bottle", "Layer", "end_area_factor"]
