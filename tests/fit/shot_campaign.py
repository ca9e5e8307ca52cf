"""500 random shots from nothing known to weighed jets, or as many as asked for.

    python tests/fit/shot_campaign.py --count 500

Prints how many first sets are lean somewhere in their range without saying so, how many were lean
with the hidden jets, how often two weighed passes hold the true flow and how closely, and how near
the jets advised then come to the target mixture; docs/model.md quotes a run of it.
"""

from __future__ import annotations

import argparse

import numpy as np
from shot_cases import Outcome, outcome


def told(found: list[Outcome]) -> str:
    """What the shots showed, in words and figures."""
    count = len(found)
    half = np.array([one.half_width for one in found])
    error = np.abs([one.error for one in found])
    on_purpose = np.array([one.meant > 1.002 for one in found])
    mixture = np.array([one.advised for one in found])
    off = np.abs(mixture - 1.0)
    aimed = np.abs(mixture / [one.meant for one in found] - 1.0)
    held = int(np.sum(error <= half))
    true = np.array([one.first_true for one in found])
    lean = sum(not one.safe for one in found)
    return "\n".join(
        [
            f"{count} shots",
            f"first sets lean in their range without saying so: {lean}; saying so: "
            f"{sum(one.warned for one in found)}",
            f"hidden jets, first set: leanest {true.min():.2f} of the target, median "
            f"{np.median(true):.2f}",
            f"{held} intervals of two weighed passes hold the truth ({held / count:.1%})",
            f"half width: median {np.median(half):.2%}, largest {half.max():.2%}",
            f"mixture with the jets advised then, off the target: {_spread(off[~on_purpose])}",
            f"rich on purpose, for the lean end of a pass: {on_purpose.sum()}; leanest of all "
            f"{mixture.min():.2%}, richest {mixture.max():.2%} of the target",
            f"all, off the mixture that the answer says: {_spread(aimed)}",
        ]
    )


def _spread(off: np.ndarray) -> str:
    if not len(off):
        return "none"
    high = f"95 % below {np.quantile(off, 0.95):.2%}, largest {off.max():.2%}"
    return f"median {np.median(off):.2%}, {high}"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--first", type=int, default=0, help="seed to begin with")
    args = parser.parse_args()
    shots: list[Outcome] = []
    for seed in range(args.first, args.first + args.count):
        shots.append(outcome(seed))
        if len(shots) % 25 == 0 or len(shots) == args.count:
            print(told(shots), flush=True)
