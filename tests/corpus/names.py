"""Names that the corpus needs from inside the package, wherever they live.

Everything else is taken from the public package. Each entry lists modules to try, the present one
first: when a module moves, add its new place here and nowhere else.
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from typing import Any

import n2osim

PLACES: dict[str, tuple[str, ...]] = {
    "pack": ("n2osim.engine.pack", "n2osim.simulation.pack"),
    "run_packed": ("n2osim.results.run", "n2osim.engine.run", "n2osim.simulation.run"),
    "IntegrationError": ("n2osim.errors",),
}

_TESTS = Path(__file__).resolve().parents[1]


def find(name: str) -> Any:
    """The object of that name from the first of its places that has it."""
    tried = []
    for place in PLACES[name]:
        try:
            return getattr(importlib.import_module(place), name)
        except (ModuleNotFoundError, AttributeError) as problem:
            tried.append(f"{place}: {problem}")
    raise ImportError(f"{name} is in none of its places; edit names.py\n" + "\n".join(tried))


def shipped(name: str) -> Path:
    """A scenario file that ships with the package, in whatever folder it lies."""
    return next(Path(n2osim.__file__).parent.rglob(name))


def beside(folder: str, module: str) -> Any:
    """A helper module of another folder of the tests."""
    path = str(_TESTS / folder)
    if path not in sys.path:
        sys.path.append(path)
    return importlib.import_module(module)


IntegrationError = find("IntegrationError")
