"""The long random campaign: any number of random scenarios through the ensemble engine.

    python tests/trust/campaign.py --count 100000 --json campaign.jsonl

Every scenario is checked as in ``run_checks.problems``: finite, in range, mass closed to 1e-9 and
energy to 1e-6, no entropy destroyed, findings computable. One scenario in ``--pairs`` is followed
by a pair of runs that must go the way physics says (``monotone``). Scenarios come from dice: seed k
gives the same scenario everywhere. Finished batches are lines of the JSON file; the same command
goes on behind the last one. Failures are printed with their seeds as they are found; look at one
with ``--seed K``. The exit code is 1 when anything failed.

A run that the engine ends early is allowed only where the scenario leaves the equation of state
(``run_checks.ends_soundly``): 10 kW on a bottle without relief device does.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE)]

from monotone import RULES  # noqa: E402
from random_scenarios import Dice, scenario  # noqa: E402
from run_checks import ends_soundly, measures, problems  # noqa: E402

import n2osim  # noqa: E402
from n2osim.errors import InputError, IntegrationError  # noqa: E402
from n2osim.results.run import simulate  # noqa: E402
from n2osim.scenario.scenario import Scenario  # noqa: E402
from n2osim.studies.ensemble import run_ensemble  # noqa: E402

KEPT = ("run.steps", "run.events")


def random_ones(first: int, count: int) -> Iterator[Scenario]:
    """Scenarios of seeds ``first`` to ``first + count - 1``."""
    return (scenario(Dice(seed)) for seed in range(first, first + count))


def engine_mark() -> str:
    """Hash of all code that a result hangs on, so that one campaign is about one engine."""
    h = hashlib.sha256()
    root = Path(n2osim.__file__).parent
    for part in ("engine", "fluid", "hardware", "physics"):
        for file in sorted((root / part).rglob("*.py")):
            h.update(file.read_bytes())
    for name in ("random_scenarios.py", "run_checks.py", "monotone.py"):
        h.update((HERE / name).read_bytes())
    return h.hexdigest()[:16]


def examine(seed: int) -> tuple[str, list[str]]:
    """(how it ended, what is wrong) with one seed's scenario, on its own."""
    try:
        return "through its schedule", problems(simulate(scenario(Dice(seed))))
    except InputError as error:
        return f"refused: {error.quantity}", []
    except IntegrationError as error:
        wrong = [] if error.partial_run is None else problems(error.partial_run)
        if not ends_soundly(error):
            wrong.append(f"stopped: {error}")
        return error.message, wrong


def pair(seed: int) -> list[str]:
    """The monotone rule of one seed."""
    rule = RULES[seed % len(RULES)]
    return [f"{rule.__name__}: {x}" for x in rule(Dice(-1 - seed))]


def batch(first: int, count: int, pool: Any, pairs: int) -> dict[str, Any]:
    """One batch through the ensemble engine; what went wrong is examined one by one.

    ``pool``: worker processes that outlive the batch and so keep the feeds' flow maps.
    """
    start = time.perf_counter()
    found = run_ensemble(
        random_ones(first, count), executor=pool, measure=measures, outputs=KEPT, chunk=25
    )
    ok = found.columns
    suspects = {first + int(m) for m in found.members[~found.ok]}
    suspects |= {first + int(m) for m in found.members[found.ok & (ok["wrong"] > 0)]}
    endings: Counter[str] = Counter({"through its schedule": int(found.ok.sum())})
    failures: dict[str, list[str]] = {}
    for seed in sorted(suspects):
        ending, wrong = examine(seed)
        endings[ending] += ending != "through its schedule"
        if wrong:
            failures[str(seed)] = wrong
    checked = range(first - first % pairs, first + count, pairs) if pairs else ()
    for seed in (s for s in checked if s >= first):
        if wrong := pair(seed):
            failures.setdefault(str(seed), []).extend(wrong)
    return {
        "first": first,
        "count": count,
        "pairs": sum(s >= first for s in checked),
        "endings": dict(endings),
        "failures": failures,
        "steps": float(ok["run.steps"][found.ok].sum()),
        "most_steps": float(ok["run.steps"][found.ok].max(initial=0.0)),
        **{
            k: float(ok[k][found.ok].max(initial=0.0))
            for k in ("mass", "fluid_energy", "shell_energy")
        },
        "seconds": time.perf_counter() - start,
    }


def resume(path: Path | None, mark: str) -> list[dict[str, Any]]:
    """Batches that are on file already; SystemExit when they are of another engine."""
    if path is None or not path.exists():
        return []
    lines = [json.loads(x) for x in path.read_text().splitlines() if x.strip()]
    if not lines or lines[0].get("engine") != mark:
        raise SystemExit(f"{path} belongs to another engine: give another file")
    return lines[1:]


def totals(batches: list[dict[str, Any]]) -> dict[str, Any]:
    """Sums and extremes over batches."""
    endings: Counter[str] = Counter()
    for b in batches:
        endings.update(b["endings"])
    return {
        "scenarios": sum(b["count"] for b in batches),
        "pairs": sum(b["pairs"] for b in batches),
        "failures": sum(len(b["failures"]) for b in batches),
        "endings": dict(endings),
        "steps": sum(b["steps"] for b in batches),
        **{
            k: max((b[k] for b in batches), default=0.0)
            for k in ("most_steps", "mass", "fluid_energy", "shell_energy")
        },
        "seconds": sum(b["seconds"] for b in batches),
    }


def recheck(path: Path) -> int:
    """Examine the failures on file again with the code as it is now; how many still fail."""
    seeds = [s for b in map(json.loads, path.read_text().splitlines()[1:]) for s in b["failures"]]
    still = {s: wrong for s in seeds if (wrong := examine(int(s))[1] + pair(int(s)))}
    for seed, wrong in still.items():
        print(f"STILL FAILS seed {seed}: {'; '.join(wrong)[:600]}")
    print(f"{len(seeds)} failures on file, {len(still)} still fail")
    return len(still)


def tell(done: list[dict[str, Any]]) -> None:
    """Print the last batch's failures and how far the campaign is."""
    last = done[-1]
    for seed, wrong in last["failures"].items():
        print(f"FAILED seed {seed}: {'; '.join(wrong)[:600]}", flush=True)
    t = totals(done)
    print(
        f"{t['scenarios']} scenarios, {t['pairs']} pairs, {t['failures']} failures, "
        f"{last['seconds']:.1f} s for the last {last['count']}",
        flush=True,
    )


def run(count: int, first: int, size: int, workers: int, pairs: int, path: Path | None) -> int:
    """The campaign; returns the exit code."""
    mark = engine_mark()
    done = resume(path, mark)
    if path is not None and not path.exists():
        head = {"engine": mark, "n2osim": n2osim.__version__, "began": time.strftime("%Y-%m-%d")}
        path.write_text(json.dumps(head) + "\n")
    have = {b["first"]: b for b in done}
    with ProcessPoolExecutor(workers) as pool:
        for begin in range(first, first + count, size):
            if begin in have:
                continue
            done.append(batch(begin, min(size, first + count - begin), pool, pairs))
            if path is not None:
                with path.open("a") as file:
                    file.write(json.dumps(done[-1]) + "\n")
            tell(done)
    print(json.dumps(totals(done), indent=1))
    return 1 if totals(done)["failures"] else 0


def main(argv: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--count", type=int, default=100_000)
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--batch", type=int, default=500)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--pairs", type=int, default=10, help="a monotone pair every N (0: none)")
    parser.add_argument("--json", type=Path, help="results, one batch a line; resumed if there")
    parser.add_argument("--seed", type=int, help="examine one scenario and stop")
    parser.add_argument("--recheck", action="store_true", help="examine failures on file again")
    args = parser.parse_args(argv)
    if args.recheck:
        return 1 if recheck(args.json) else 0
    if args.seed is not None:
        print(scenario(Dice(args.seed)))
        print(*examine(args.seed), pair(args.seed), sep="\n")
        return 0
    return run(args.count, args.first, args.batch, args.workers, args.pairs, args.json)


if __name__ == "__main__":
    sys.exit(main())
