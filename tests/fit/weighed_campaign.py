"""How often weighed passes hold the truth: 200 cases, or as many as asked for.

    python tests/fit/weighed_campaign.py --count 200

Prints the share of cases whose interval holds the true flow, the widest interval and the largest
error; docs/model.md quotes a run of it.
"""

from __future__ import annotations

import argparse

import numpy as np
from weighed_cases import outcome

if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=200)
    count = parser.parse_args().count
    found = [outcome(1000 + seed) for seed in range(count)]
    held = sum(one.covered for one in found)
    half = np.array([one.half_width for one in found])
    error = np.abs([one.error for one in found])
    print(f"{held} of {count} intervals hold the truth ({held / count:.1%})")
    print(f"half width: median {np.median(half):.2%}, largest {half.max():.2%}")
    print(f"error: median {np.median(error):.2%}, 95 % below {np.quantile(error, 0.95):.2%}")
