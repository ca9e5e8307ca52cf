"""Ways for other packages to add to n2osim; ``n2osim/docs/extending.md`` says how.

What stands in ``__all__`` is the contract, and nothing else is. :data:`CONTRACT` counts its
versions: it grows when something here is taken away or asks for something else, not when something
is added. A package says which one it was written for with :func:`require`.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.metadata import entry_points
from typing import Any, TypeVar

from n2osim.engine.pack import forget_maps
from n2osim.errors import N2OSimError
from n2osim.hardware.air import AirFunction
from n2osim.hardware.asked import Controller, InsideFilm, InsideWall, OutsideFilm, OutsideWall, Seen
from n2osim.hardware.switch import PressureSwitch
from n2osim.physics.sampled_orifice import Flux, register_orifice_model
from n2osim.results.judge import Case, Limit, Part, Reading
from n2osim.results.limits import register_limit as limit
from n2osim.results.quantities import register_quantity
from n2osim.results.quantity import ALWAYS, GOOD, NEVER, UNDEFINED, Formula, Quantity, Table
from n2osim.scenario.schedule import DURATION, Item
from n2osim.scenario.steps import Filling, Step, Stream, Window
from n2osim.schema import Amount, Choice, Flag, MaybeAmount, Text, Whole, field, register_kind

CONTRACT = 1
"""Version of what is here."""
GROUP = "n2osim.extensions"
"""Entry points of this group are loaded by the command line and by workers of studies."""
C = TypeVar(
    "C", bound=type[PressureSwitch] | type[AirFunction] | type[InsideFilm] | type[OutsideFilm]
)


def require(contract: int) -> None:
    """Raise N2OSimError unless this is the version of the contract that a package was made for."""
    if contract != CONTRACT:
        told = "a newer n2osim" if contract > CONTRACT else "a newer version of the package"
        raise N2OSimError(
            f"an extension asks for contract {contract}, n2osim has {CONTRACT}: install {told}"
        )


def orifice_model(name: str, *, title: str, source: str) -> Callable[[Flux], Flux]:
    """Decorator: a flux function (see ``Flux``) becomes what ``Feed(model=name)`` takes."""

    def take(flux: Flux) -> Flux:
        register_orifice_model(name, flux, title, source)
        forget_maps()
        return flux

    return take


def kind(name: str) -> Callable[[C], C]:
    """Decorator: files know a dataclass of a switch, controller, air or film as ``kind = name``."""

    def take(cls: C) -> C:
        return register_kind(name, cls)

    return take


def quantity(
    name: str,
    of: str,
    sentence: str,
    formula: Formula,
    *,
    missing: str = ALWAYS,
    kind: str = "",
    label: str = "",
    dims: tuple[str, ...] = (),
) -> Quantity:
    """Add a quantity: ``name`` with its unit, what it is ``of`` (a group), a sentence, a formula.

    kind: kind of quantity, by the name's end where left out. missing: what no value means.
    """
    made = Table()
    made.rows(of, " ".join(dims))(name, sentence, formula, missing, kind, label)
    (entry,) = made
    register_quantity(entry)
    return entry


def load() -> list[str]:
    """Import what installed packages name in the group :data:`GROUP`; returns their names.

    N2OSimError with the package's name where one cannot be imported.
    """
    found = []
    for point in entry_points(group=GROUP):
        try:
            made: Any = point.load()
        except Exception as problem:
            where = f"{point.name} ({point.value})"
            raise N2OSimError(f"the extension {where} cannot be loaded: {problem}") from problem
        if callable(made):
            made()
        found.append(point.name)
    return found


__all__ = [
    "ALWAYS",
    "CONTRACT",
    "DURATION",
    "GOOD",
    "GROUP",
    "NEVER",
    "UNDEFINED",
    "AirFunction",
    "Amount",
    "Case",
    "Choice",
    "Controller",
    "Filling",
    "Flag",
    "InsideFilm",
    "InsideWall",
    "Item",
    "Limit",
    "MaybeAmount",
    "OutsideFilm",
    "OutsideWall",
    "Part",
    "Quantity",
    "Reading",
    "Seen",
    "Step",
    "Stream",
    "Text",
    "Whole",
    "Window",
    "field",
    "kind",
    "limit",
    "load",
    "orifice_model",
    "quantity",
    "require",
]
