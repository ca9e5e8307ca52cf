"""Record the corpus.

    python tests/corpus/record.py --out DIR                everything, one set of files a scenario
    python tests/corpus/record.py --digest tests/data/corpus.json     numbers for test_corpus.py

``--scenarios OTHER`` takes the scenarios from the texts of an earlier recording, so that neither a
changed generator nor a changed example makes another corpus. ``--only PATTERN`` records some.
"""

from __future__ import annotations

import argparse
import fnmatch
import gzip
import json
import time
from pathlib import Path
from typing import Any

import numpy as np
from recording import digest, everything, raw
from scenarios import corpus, recorded

import n2osim as n2

DIGESTED = slice(None, None, 5)
"""Which scenarios of the corpus the digest holds."""


def digested() -> dict[str, n2.Scenario]:
    """The scenarios of the digest."""
    return dict(list(corpus().items())[DIGESTED])


def write_digest(path: Path) -> None:
    """Write the numbers that ``test_corpus.py`` compares with, a scenario a line."""
    lines = [f'"{name}": {json.dumps(digest(s))}' for name, s in digested().items()]
    path.write_text("{\n" + ",\n".join(lines) + "\n}\n")


def keep(path: Path, value: Any) -> None:
    """Write plain values as compressed JSON, always the same bytes for the same values."""
    text = json.dumps(value, separators=(",", ":"))
    path.write_bytes(gzip.compress(text.encode(), 5, mtime=0))


def write_all(out: Path, scenarios: dict[str, n2.Scenario]) -> None:
    """Write everything about the scenarios."""
    for folder in ("scenarios", "raw", "rest"):
        (out / folder).mkdir(parents=True, exist_ok=True)
    for name, scenario in scenarios.items():
        scenario.to_toml(out / "scenarios" / f"{name}.toml", overwrite=True)
        np.savez(out / "raw" / f"{name}.npz", **raw(scenario))
        keep(out / "rest" / f"{name}.json.gz", everything(scenario))


def arguments() -> argparse.Namespace:
    """What is wanted."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, metavar="DIR", help="where the recording goes")
    parser.add_argument("--digest", type=Path, metavar="PATH", help="write the small file instead")
    parser.add_argument("--scenarios", type=Path, metavar="DIR", help="texts of that recording")
    parser.add_argument("--only", default="*", metavar="PATTERN", help="names to record")
    args = parser.parse_args()
    if (args.out is None) == (args.digest is None):
        parser.error("give either --out or --digest")
    return args


def main() -> None:
    """Carry it out."""
    args = arguments()
    start, processor = time.perf_counter(), time.process_time()
    if args.digest:
        write_digest(args.digest)
    else:
        found = recorded(args.scenarios) if args.scenarios else corpus()
        chosen = {k: s for k, s in found.items() if fnmatch.fnmatch(k, args.only)}
        write_all(args.out, chosen)
        print(f"{len(chosen)} scenarios")
    wall, used = time.perf_counter() - start, time.process_time() - processor
    print(f"{n2.__file__}: {wall:.1f} s, {used:.1f} s of processor time")


if __name__ == "__main__":
    main()
