# ruff: noqa: RUF009 - field() makes a descriptor, never a shared default
"""Choices of the model and the accuracy of the integration."""

from __future__ import annotations

from dataclasses import dataclass

from n2osim.errors import InputError
from n2osim.hardware.asked import InsideFilm, OutsideFilm
from n2osim.schema import Amount, Flag, MaybeAmount, Nested, Number, Part, Whole, field

_FILM = Number("heat_transfer_coefficient", 0.0, 1e6)


@dataclass(frozen=True)
class Model(Part):
    """Choices of the model; the defaults are the full physics.

    >>> import n2osim as n2
    >>> one = n2.Scenario(
    ...     n2.Bottle.preset("steel", "12 lb"), fill="9.7 lb", start="76 degF",
    ...     schedule=[n2.Pass("10 s", outflow="0.09 lb/s")],
    ... )
    >>> two = one.replace("model", n2.Model(two_zone=1.0))
    >>> [f"sag {car.run().get('pass0.pressure_sag', 'psi'):.0f} psi" for car in (one, two)]
    ['sag 26 psi', 'sag 109 psi']
    """

    inside_coefficient: MaybeAmount = field(
        _FILM, "left out for correlations, or a constant W/m2/K (0: adiabatic fluid)", None
    )
    inside_factor: Amount = field(
        "number",
        "multiplies the correlation (to ask how much the answer hangs on it)",
        1.0,
        low=0.0,
        high=100.0,
    )
    inside_cap: Amount = field(
        "heat_transfer_coefficient",
        "largest inside coefficient; the boiling correlations have no data at the reduced "
        "pressures of a held bottle",
        10_000.0,
        low=1.0,
        high=1e6,
    )
    outside_coefficient: MaybeAmount = field(
        "heat_transfer_coefficient",
        "left out for natural + forced convection and radiation, or a constant that stands for all "
        "of them (0: no losses)",
        None,
        low=0.0,
        high=1e5,
    )
    cover_factor: Amount = field(
        "number",
        "multiplies the outside coefficient on the heater's outer face",
        1.0,
        low=0.0,
        high=1.0,
    )
    radiation: bool = field(Flag(), "false leaves it out of the correlations", True)
    nodes_per_layer: int = field(
        Whole(1, 64, "4 is enough for most shells"), "wall nodes per layer", 4
    )
    two_zone: MaybeAmount = field(
        "number",
        "left out for an equilibrium bottle, or the empirical factor on the liquid side of the "
        "surface (Zilliac & Karabeyoglu 2005)",
        None,
        low=0.0,
        high=1e8,
    )
    boiling_growth: MaybeAmount = field(
        "number",
        "left out, or two zones with boiling in the bulk of the liquid that grows with the time "
        "for which it has been superheated, W/kg/K per s (two_zone is then 1 unless given)",
        None,
        low=0.0,
        high=1e8,
    )

    inside_film: InsideFilm | None = field(
        Nested(InsideFilm), "a film that another package has registered, by its `kind`", None
    )
    outside_film: OutsideFilm | None = field(
        Nested(OutsideFilm), "a film that another package has registered, by its `kind`", None
    )

    def __post_init__(self) -> None:
        for side in ("inside", "outside"):
            given = getattr(self, f"{side}_coefficient")
            if given is not None and getattr(self, f"{side}_film") is not None:
                valid = f"left out beside {side}_film"
                remedy = "give one of them"
                raise InputError(f"model {side} coefficient", given, "W/m2/K", valid, remedy)

    @property
    def zones(self) -> bool:
        """Whether liquid and vapour have temperatures of their own while something flows."""
        return self.two_zone is not None or self.boiling_growth is not None


@dataclass(frozen=True)
class Numerics(Part):
    """Accuracy of the integration.

    >>> import n2osim as n2
    >>> car = n2.Scenario(
    ...     n2.Bottle.preset("aluminium", "10 lb"), fill="8.2 lb", start="79 degF",
    ...     numerics=n2.Numerics(max_step_hold="20 s"), schedule=[n2.Rest("20 min")],
    ... )
    >>> len(n2.simulate(car).time) > 60
    True
    """

    tolerance: Amount = field(
        "number",
        "accuracy of the integration. 1: pressures within 0.5 psi of the converged answer over a "
        "3 h hold and a pass (worst of 50 random ones 0.44)",
        1.0,
        low=1e-6,
        high=100.0,
    )
    max_step_hold: Amount = field(
        "time", "longest time step while nothing flows", 300.0, low=1e-3, high=3600.0
    )
    max_step_flow: Amount = field(
        "time", "longest time step while something flows", 0.5, low=1e-4, high=60.0
    )
    max_steps: int = field(Whole(1, 1_000_000_000), "give up after so many steps", 200_000)
