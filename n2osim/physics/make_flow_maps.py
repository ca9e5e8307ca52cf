"""Make the flow maps that come with the package: ``python -m n2osim.physics.make_flow_maps``.

They are those of jets of 1 m2 for the models whose flow chokes, long and short where that counts,
at standard pressure: all that feeds without losses need. Tests compare the file with new ones.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from n2osim.hardware.orifice_models import MODELS
from n2osim.physics import feed_network as feed
from n2osim.units import STANDARD_ATMOSPHERE

WANTED = (("hem", 0.0), ("hne", 0.0), ("hne", 1.0))


def unit_layers() -> dict[str, NDArray[np.float64]]:
    """Jets' layers by their names in the file."""
    found = {}
    for name, share in WANTED:
        model = MODELS[name].index
        packed = feed.empty_map(model, STANDARD_ATMOSPHERE)
        feed._fill_jets(packed, feed.unit_jets(share), model)
        where = feed.shipped_name(model, share, STANDARD_ATMOSPHERE)
        found[where] = packed[feed.HEADER : feed.RATIO_START]
    return found


def main() -> None:
    """Write the file."""
    layers: dict[str, Any] = unit_layers()
    np.savez_compressed(feed.SHIPPED, **layers)


if __name__ == "__main__":
    main()
