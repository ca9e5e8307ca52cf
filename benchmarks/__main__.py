"""``python -m benchmarks [--json FILE] [--quick] [--largest N]``: speed and memory as ratios."""

from __future__ import annotations

import argparse
import json
import platform
import sys
from pathlib import Path
from typing import Any

import n2osim as n2
from benchmarks import measure
from benchmarks.cases import scenario
from n2osim.studies.driver import Workers


def run(quick: bool, largest: int) -> dict[str, Any]:
    """Measure everything; the headline keys first, the rest under ``details``."""
    compiled = measure.compile_seconds()
    repeats = 1 if quick else 3
    equal = measure.equal_error(1 if quick else 5)
    rtol = equal["rtol"]
    hold = measure.single("hold", repeats=repeats, rtol=rtol)
    passes = {flow: measure.single("pass", flow, repeats=repeats) for flow in ("spi", "hem")}
    sample = 2 if quick else 50
    error = max(measure.pressure_error_psi(s) for s in measure.members(sample, seed=11))
    reference = measure.plain_seconds(1 if quick else 10, rtol)
    counts = [20, 60] if quick else [1, 10, 100, 1000, 10_000]
    if largest > counts[-1]:
        counts.append(largest)
    times, exponent = measure.scaling(counts)
    each = times[counts[-1]] / counts[-1]
    memory = measure.peak_memory_gb()
    nodes = [4] if quick else [2, 4, 8, 16, 32]
    three_hours = {"schedule": [n2.Hold(measure.HOLD)], "start": "60 degF"}
    films = measure.hold_speedup(
        scenario(**three_hours, default_films=True), [measure.PLAINLY], repeats
    )
    smart = measure.hold_speedup(scenario(**three_hours), measure.SMART, repeats)
    lsoda = {
        flow: measure.single("pass", flow, repeats=repeats, method="LSODA")
        for flow in ("spi", "hem")
    }
    cold = [measure.cold_demo() for _ in range(1 if quick else 3)]
    return {
        "hold_single_speedup": hold["ratio"],
        "pass_single_speedup": min(p["ratio"] for p in passes.values()),
        "ensemble_speedup": reference / each,
        "hold_default_speedup": films["ratio"],
        "hold_smart_speedup": smart["ratio"],
        "pass_lsoda_speedup": min(p["ratio"] for p in lsoda.values()),
        "ensemble_per_core_speedup": reference / each / Workers().count,
        "cold_demo_wall_s": min(wall for wall, _ in cold),
        "cold_demo_cpu_s": min(cpu for _, cpu in cold),
        "max_pressure_error_psi": error,
        "scaling_exponent": exponent,
        "peak_memory_gb": memory,
        "import_s": measure.import_seconds(),
        "demo_s": measure.command_seconds("demo"),
        "details": {
            "note": "hold and ensemble ratios at equal error (equal_error.rtol of the reference); "
            "hold_at_1e-5 is the same without that; pass ratios are the lower of the flow models; "
            "default: both sides with the default films; smart: the reference splines its isochore "
            "once a run and takes BDF or LSODA, whichever is quicker",
            "equal_error": equal,
            "hold_at_1e-5": measure.single("hold", repeats=repeats),
            "quick": quick,
            "python": platform.python_version(),
            "machine": platform.machine(),
            "first_call_s": compiled,
            "hold": hold,
            "hold_default": films,
            "hold_smart": smart,
            "pass": passes,
            "pass_lsoda": lsoda,
            "cold_demo_s": cold,
            "error_sample": sample,
            "plain_per_member_s": reference,
            "ensemble_per_member_s": each,
            "ensemble_wall_s": times,
            "help_s": measure.command_seconds("--help"),
            "property_call": measure.property_calls(),
            "hold_s_by_nodes": {
                n: measure.single("hold", nodes=n, repeats=1)["ours_s"] for n in nodes
            },
        },
    }


def main(arguments: list[str] | None = None) -> int:
    """Run, print, and write JSON where asked."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--json", metavar="FILE", help="write the figures here")
    parser.add_argument("--quick", action="store_true", help="a smoke run of a minute")
    parser.add_argument("--largest", type=int, default=0, help="also this many members (100000)")
    options = parser.parse_args(arguments)
    figures = run(options.quick, options.largest)
    print(json.dumps(figures, indent=2))
    if options.json:
        Path(options.json).write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
