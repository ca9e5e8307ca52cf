"""Compare two recordings: ``python tests/corpus/compare.py A B [--only raw]``.

Raw rows and events are compared bit for bit, numbers to 1e-9 of themselves, findings and texts line
by line. Exit status 1 when raw arrays differ or scenarios are missing, 0 otherwise.
"""

from __future__ import annotations

import argparse
import gzip
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from differences import Raw, Report, compare_findings, compare_raw, walk

SHOWN = 8  # scenarios, or lines of a group, that are listed
KINDS = ("raw", "rest")


def names(folder: Path, kind: str) -> set[str]:
    """Names of the scenarios recorded there."""
    return {p.name.split(".")[0] for p in (folder / kind).glob("*")}


def load(path: Path) -> Any:
    """Plain values of one scenario."""
    return json.loads(gzip.decompress(path.read_bytes()))


def common(a: Path, b: Path, kind: str) -> tuple[list[str], bool]:
    """Scenarios of both, and whether some are missing on one side (which is printed)."""
    one, other = names(a, kind), names(b, kind)
    for side, missing in (("A", one - other), ("B", other - one)):
        if missing:
            print(f"{kind}: only in {side}: {listed(missing)}")
    return sorted(one & other), one != other


def listed(found: Any) -> str:
    """The first few of some names."""
    some = sorted(found)
    more = f" and {len(some) - SHOWN} more" if len(some) > SHOWN else ""
    return ", ".join(some[:SHOWN]) + more


def raw_part(a: Path, b: Path) -> bool:
    """Compare raw arrays; whether they differ."""
    both, missing = common(a, b, "raw")
    found: list[Raw] = []
    for name in both:
        with np.load(a / "raw" / f"{name}.npz") as one, np.load(b / "raw" / f"{name}.npz") as other:
            found += compare_raw(name, dict(one), dict(other))
    differing = {d.name for d in found}
    print(f"raw: {len(both) - len(differing)} of {len(both)} scenarios equal bit for bit")
    for d in sorted(found, key=lambda d: -d.largest):
        steps = "same steps" if d.same_steps else "OTHER STEPS"
        print(f"  {d.name}: {d.what}: {d.largest:.3g} relative, column {d.where}, {steps}")
    if found:
        finite = [d.largest for d in found if np.isfinite(d.largest)]
        print(f"  largest relative difference {max(finite, default=np.inf):.3g}")
    return missing or bool(found)


def rest_part(a: Path, b: Path, report: Report) -> int:
    """Compare findings, texts, JSON, columns, totals, engine and closure."""
    both, _ = common(a, b, "rest")
    for name in both:
        one, other = (load(side / "rest" / f"{name}.json.gz") for side in (a, b))
        for side in (one, other):
            if isinstance(side["json"], dict):
                side["json"].pop("findings", None)  # told already, with all fields
        compare_findings(report, name, one.pop("findings"), other.pop("findings"))
        walk(report, name, "", one, other)
    return len(both)


def tell(report: Report) -> None:
    """Print what differs: names in one side only, numbers by quantity, lines by group."""
    for quantity, there in sorted(report.one_sided.items()):
        print(f"  {quantity}: only there, in {len(there)} scenarios: {listed(there)}")
    for quantity, found in sorted(report.values.items()):
        far, name, x, y = max(found, key=lambda f: f[0])
        where = len({f[1] for f in found})
        print(
            f"  {quantity}: {len(found)} values in {where} scenarios differ, "
            f"most {far:.3g} in {name}: {x!r} {y!r}"
        )
    groups: dict[str, list[tuple[str, set[str]]]] = {}
    for (group, line), there in report.lines.items():
        groups.setdefault(group, []).append((line, there))
    for group, lines in sorted(groups.items()):
        print(f"  {group}: {len(lines)} lines")
        for line, there in lines:
            print(f"    {line}    [{len(there)}: {min(there)}]")


def main() -> int:
    """Compare and say what differs."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("a", type=Path, metavar="A")
    parser.add_argument("b", type=Path, metavar="B")
    parser.add_argument("--only", choices=KINDS, help="one part of it")
    args = parser.parse_args()
    wanted = (args.only,) if args.only else KINDS
    differ = raw_part(args.a, args.b) if "raw" in wanted else False
    for kind, part in (("rest", rest_part),):
        if kind in wanted:
            report = Report()
            count = part(args.a, args.b, report)
            print(f"{kind}: {count} scenarios compared{', nothing differs' * report.empty}")
            tell(report)
    return int(differ)


if __name__ == "__main__":
    sys.exit(main())
