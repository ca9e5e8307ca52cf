"""Orifice models by their literature names: what a feed may name, and the number kernels use.

The kernels are in :mod:`n2osim.physics.orifice`; a model is an entry here and a branch there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class OrificeModel:
    """One orifice model.

    index : number used in kernels. title, source : full name and where it comes from. synonyms :
    other names of it. unit_map : choked flow does not feel the back pressure under this model and
    is proportional to the area, so one flow map of unit area serves every feed. flux : of a model
    that another package has registered (:mod:`n2osim.physics.sampled_orifice`); kernels do not know
    its index.
    """

    index: int
    title: str
    source: str
    synonyms: tuple[str, ...] = ()
    unit_map: bool = False
    flux: Callable[..., float] | None = None


MODELS: dict[str, OrificeModel] = {
    "spi": OrificeModel(0, "single-phase incompressible", "Bernoulli", ("incompressible",)),
    "hem": OrificeModel(
        1,
        "homogeneous equilibrium, choked",
        "maximum flux on the isentrope",
        ("homogeneous equilibrium",),
        unit_map=True,
    ),
    "nhne": OrificeModel(
        2, "non-homogeneous non-equilibrium", "Dyer et al., AIAA 2007-5702; Solomon 2011", ("dyer",)
    ),
    "omega": OrificeModel(
        3,
        "omega method with boiling delay (HNE-DS)",
        "ISO 4126-10; Diener & Schmidt 2004",
        ("hne-ds",),
    ),
    "hne": OrificeModel(
        4,
        "homogeneous non-equilibrium, HNE-DS boiling delay by direct integration",
        "Diener & Schmidt 2004 (N = x^0.4), modified near the critical point",
        ("boiling delay",),
        unit_map=True,
    ),
}
SYNONYMS = {s: name for name, model in MODELS.items() for s in model.synonyms}
DEFAULT = "hne"
