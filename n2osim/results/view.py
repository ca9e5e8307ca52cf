"""One bottle of a run, with the arrays that the rules look at."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from n2osim import fluid
from n2osim.hardware.bottle import Bottle
from n2osim.results.holds import switch_of
from n2osim.scenario.fitted import FittedBottle

if TYPE_CHECKING:
    from n2osim.hardware.switch import PressureSwitch
    from n2osim.results.run import Run


@dataclass(frozen=True)
class View:
    """Bottle ``index`` of ``run``; every array property has shape (time,) unless said."""

    run: Run
    index: int

    @property
    def fitted(self) -> FittedBottle:
        """The fitted bottle."""
        return self.run.scenario.bottles[self.index]

    @property
    def bottle(self) -> Bottle:
        """Its hardware."""
        return self.fitted.bottle

    @property
    def name(self) -> str:
        """Its name."""
        return self.fitted.name

    @property
    def ambient_pressure(self) -> float:
        """Pa, absolute."""
        return self.run.scenario.ambient.pressure

    @property
    def switch(self) -> PressureSwitch | None:
        """The switch that feeds this bottle's heater, its own or the one it follows."""
        return switch_of(self.run.scenario, self.name)

    @cached_property
    def time(self) -> np.ndarray:
        """s, until the bottle leaves the equation of state."""
        return self.run.time[self.there]

    @cached_property
    def there(self) -> slice:
        """Rows in which the bottle has a state: all, unless it leaves the equation of state."""
        if self.name not in self.run.frozen:
            return slice(len(self.run.time))
        return slice(int(np.isfinite(self.run["pressure_Pa"][self.index]).sum()))

    def array(self, name: str) -> np.ndarray:
        """This bottle's part of an array of the run."""
        found = self.run.variable(name)
        values = found.values[self.index]
        return values[..., self.there] if found.dims[-1] == "time" else values

    @cached_property
    def gauge(self) -> np.ndarray:
        """Gauge pressure, Pa."""
        return self.array("pressure_gauge_Pa")

    @cached_property
    def temperature(self) -> np.ndarray:
        """Temperature of the fluid (the liquid zone of a two-zone model), K."""
        return self.array("fluid_temperature_K")[0]

    @cached_property
    def mass(self) -> np.ndarray:
        """Charge, kg."""
        return self.array("mass_kg")

    @cached_property
    def density(self) -> np.ndarray:
        """Filling density, kg/m3."""
        return self.mass / self.bottle.volume

    @cached_property
    def full_margin(self) -> np.ndarray:
        """How far (K) a dense charge is from filling the bottle as liquid; infinite for others."""
        boundary = self.array("phase_boundary_K")
        dense = self.density > fluid.RHO_CRITICAL
        return np.where(dense, boundary - self.temperature, np.inf)

    @cached_property
    def bulk_temperature(self) -> np.ndarray:
        """Of the cylinder as a whole: the hotter of its shell's mean and the fluid, K."""
        shell = self.array("wall_temperature_K")
        weight = self.run["wall_heat_capacity_J_K"][self.index]
        mean = np.einsum("pnt,pn->t", shell, weight) / weight.sum()
        return np.maximum(mean, self.temperature)

    @cached_property
    def filling(self) -> np.ndarray:
        """Whether a row belongs to a refill of this bottle."""
        mine = [
            item.reports == "filled" and getattr(item, "bottle", None) in (None, self.name)
            for item in self.run.scenario.schedule
        ]
        return np.array(mine, dtype=bool)[self.run["segment"]]

    @cached_property
    def layers(self) -> np.ndarray:
        """Index of the layer of every wall node, shape (node,)."""
        total = self.run["wall_temperature_K"].shape[2]
        count = len(self.bottle.layers)
        per_layer = self.run.scenario.model.nodes_per_layer
        # Shells with fewer layers than the largest carry the spare nodes in the innermost one.
        counts = [per_layer + total - per_layer * count] + [per_layer] * (count - 1)
        return np.repeat(np.arange(count), counts)

    def layer_temperature(self, layer: int) -> np.ndarray:
        """Hottest temperature (K) of a layer; outer surface extrapolated from its last nodes."""
        nodes = self.array("wall_temperature_K")
        inside = np.flatnonzero(self.layers == layer)
        hottest = nodes[:, inside].max(axis=(0, 1))
        if layer == len(self.bottle.layers) - 1 and len(inside) > 1:
            last, before = nodes[:, inside[-1]], nodes[:, inside[-2]]
            hottest = np.maximum(hottest, (last + 0.5 * (last - before)).max(axis=0))
        return hottest

    def first(self, where: np.ndarray) -> float | None:
        """Time (s) at which a condition is first true, or None."""
        hits = np.flatnonzero(where)
        return float(self.time[hits[0]]) if len(hits) else None

    def events(self, name: str) -> list[Any]:
        """Events of that name at this bottle."""
        return [e for e in self.run.events if e.name == name and e.bottle == self.name]

    def summaries(self, kind: str) -> list[Any]:
        """Segment summaries of that kind ("hold", "pass", ...) of this bottle."""
        return self.run.by_kind.get((kind, self.name), [])

    def summary_of(self, index: int) -> Any:
        """Summary of one item of the schedule, None where this bottle has none."""
        return self.run.by_item.get((index, self.name))

    def rows(self, summary: Any) -> slice:
        """Rows of the run that belong to a segment summary."""
        return self.run.rows_of(summary.index)
