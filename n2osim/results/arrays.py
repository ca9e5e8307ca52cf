"""The arrays of a run: its series by name, with units and labelled axes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from n2osim.engine.pack import Packed
from n2osim.results.frames import Comparable
from n2osim.results.quantities_series import SERIES, Rows


@dataclass(frozen=True, eq=False)
class Variable(Comparable):
    """A labelled array: values, unit, names of its axes, and what it is in words."""

    values: np.ndarray
    unit: str
    dims: tuple[str, ...]
    description: str

    def as_dict(self) -> dict[str, Any]:
        """All of it as plain values."""
        return vars(self) | {"dims": list(self.dims), "values": self.values.tolist()}


def arrays_from_rows(packed: Packed, rows: np.ndarray) -> dict[str, Variable]:
    """All series of a run by name; they cannot be written to."""
    view = Rows(packed, rows)
    found = {}
    for q in SERIES:
        values = np.asarray(q.formula(view))
        values.flags.writeable = False
        found[q.name] = Variable(values, q.unit, q.dims, q.sentence)
    return found
