"""How often the truth lies in the 95 % intervals of a fit: the whole campaign, with its record.

    python tests/fit/coverage_campaign.py [cases ...] [--seeds 200]

One row a seed and parameter goes to ``n2osim/docs/fit_coverage.csv``, from which the documentation
counts its table. Seeds that are there already are left out, so that a campaign can be interrupted
and taken up again; ``--again`` starts the named cases over, which is due after every change of the
method or of the engine.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterable
from pathlib import Path

from n2osim.docs.fit_coverage import COLUMNS, RECORD, counts, read

HEAD = (
    "# Fits to synthetic logs with a known truth: tests/fit/coverage_cases.py has the cases,",
    "# python tests/fit/coverage_campaign.py made the rows. SI. low, high: 95 % interval from",
    "# the covariance; profile_low, profile_high: from the profile likelihood.",
)


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
        numbers = (
            cases.CASES[name].true[p.name],
            p.value,
            p.low,
            p.high,
            p.profile_low,
            p.profile_high,
        )
        out.append(
            dict(
                zip(
                    COLUMNS,
                    [name, str(seed), p.name, *(f"{x:.7g}" for x in numbers), str(fit.runs)],
                )
            )
        )
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
                print(
                    name,
                    seed,
                    {k[1]: v for k, v in counts(rows).items() if k[0] == name},
                    flush=True,
                )
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
