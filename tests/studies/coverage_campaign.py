"""How often the truth lies in the 95 % intervals of a fit: the whole campaign, with its record.

    python tests/studies/coverage_campaign.py [cases ...] [--seeds 200]

One row a seed and parameter goes to ``tests/data/fit_coverage.csv``. Seeds that are there already
are left out, so that a campaign can be interrupted and taken up again; ``--again`` starts the named
cases over, which is due after every change of the method or of the engine.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterable
from pathlib import Path

RECORD = Path(__file__).parents[1] / "data" / "fit_coverage.csv"
HEAD = (
    "# Fits to synthetic logs with a known truth: tests/studies/coverage_cases.py has the cases,",
    "# python tests/studies/coverage_campaign.py made the rows. SI. low, high: 95 % interval from",
    "# the covariance; profile_low, profile_high: from the profile likelihood.",
)
COLUMNS = ("case", "seed", "parameter", "truth", "value", "low", "high", "profile_low",
           "profile_high", "runs")  # fmt: skip


def read(path: Path = RECORD) -> list[dict[str, str]]:
    """Rows of the record, in its order; none where there is no record."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def write(rows: Iterable[dict[str, str]], path: Path = RECORD) -> None:
    """The record anew, sorted, so that the order of working does not show."""
    with path.open("w", encoding="utf-8", newline="") as out:
        out.write("\n".join(HEAD) + "\n")
        table = csv.DictWriter(out, COLUMNS, lineterminator="\n")
        table.writeheader()
        table.writerows(sorted(rows, key=lambda r: (r["case"], int(r["seed"]))))


def rows_of(name: str, seed: int) -> list[dict[str, str]]:
    """Fit one seed of a case."""
    import coverage_cases as cases

    fit = cases.fit(name, seed)
    out = []
    for p in fit.parameters:
        numbers = (cases.CASES[name].true[p.name], p.value, p.low, p.high, p.profile_low,
                   p.profile_high)  # fmt: skip
        out.append(dict(zip(COLUMNS, [name, str(seed), p.name, *(f"{x:.7g}" for x in numbers),
                                      str(fit.runs)])))  # fmt: skip
    return out


def inside(row: dict[str, str]) -> tuple[bool, bool]:
    """Whether the truth is inside the covariance interval and inside the profile interval."""
    truth = float(row["truth"])
    return (
        float(row["low"]) <= truth <= float(row["high"]),
        float(row["profile_low"]) <= truth <= float(row["profile_high"]),
    )


def counts(rows: Iterable[dict[str, str]]) -> dict[tuple[str, str], tuple[int, int, int]]:
    """(case, parameter) -> (seeds, truth inside by covariance, by profile)."""
    out: dict[tuple[str, str], tuple[int, int, int]] = {}
    for row in rows:
        key = (row["case"], row["parameter"])
        n, a, b = out.get(key, (0, 0, 0))
        covariance, profile = inside(row)
        out[key] = (n + 1, a + covariance, b + profile)
    return out


def campaign(names: Iterable[str], seeds: int, again: bool) -> None:
    """Fit what the record lacks; it is written every ten seeds and at the end."""
    names = list(names)
    rows = [r for r in read() if not (again and r["case"] in names)]
    for name in names:
        done = {int(r["seed"]) for r in rows if r["case"] == name}
        for count, seed in enumerate(sorted(set(range(seeds)) - done), 1):
            rows += rows_of(name, seed)
            if count % 10 == 0:
                write(rows)
                print(name, seed, {k[1]: v for k, v in counts(rows).items() if k[0] == name},
                      flush=True)  # fmt: skip
        write(rows)


def main() -> None:
    """Command line."""
    import coverage_cases as cases

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("cases", nargs="*", default=list(cases.CASES))
    parser.add_argument("--seeds", type=int, default=200)
    parser.add_argument("--again", action="store_true", help="start the named cases over")
    args = parser.parse_args()
    campaign(args.cases, args.seeds, args.again)
    for (case, parameter), (n, a, b) in counts(read()).items():
        print(f"{case:<12}{parameter:<22}{n:>5} seeds, inside: covariance {a}, profile {b}")


if __name__ == "__main__":
    main()
