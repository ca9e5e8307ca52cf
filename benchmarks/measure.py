"""What the benchmark command measures, one function a figure. Ratios are taken within one run."""

from __future__ import annotations

import math
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Any, NamedTuple

import numpy as np

import n2osim as n2
from benchmarks import plain
from benchmarks.cases import problem, scenario
from n2osim.scenario.scenario import Scenario
from n2osim.units import to_psia

HOLD, PASS = 3 * 3600.0, 10.0
TIGHT = 1e-9
"""Tolerance of the reference where errors are measured: at 1e-5 its own switching instants drift by
seconds, which is psi."""
RTOLS = (1e-5, 3e-6, 1e-6, 3e-7, 1e-7, 3e-8, 1e-8)
PSI = 1.0 / float(to_psia(1.0))


def best(action: Callable[[], Any], repeats: int) -> float:
    """Shortest processor time (s) of ``repeats`` calls, so that other work does not count."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        action()
        times.append(time.process_time() - start)
    return min(times)


def compile_seconds() -> float:
    """First call: compiling, or loading what an earlier process compiled (s)."""
    start = time.perf_counter()
    n2.simulate(scenario(schedule=[n2.Hold("1 min"), n2.Pass("1 s")]))
    return time.perf_counter() - start


def _reference_pressures(s: Scenario, run: Any) -> tuple[np.ndarray, np.ndarray]:
    """Pressures (Pa) of run and reference at the run's own times, hold and pass together."""
    p = problem(s)
    ours, theirs = [], []
    edge = run.segments[0].end_time
    for first, stretch in ((True, run.time <= edge), (False, run.time >= edge)):
        t, index = np.unique(run.time[stretch], return_index=True)
        pressure = run["pressure_Pa"][0][stretch][index]
        if first:
            got = plain.hold(p, edge, rtol=TIGHT, atol=TIGHT, at=t)
            end = np.concatenate([[p.mass], got.y[:, -1]])
        else:
            length = float(run.time[-1] - edge)
            got = plain.draw(p, length, rtol=TIGHT, atol=TIGHT, at=t - edge, start=end)
            t = t - edge
        keep = np.isin(np.round(t, 6), np.round(got.t, 6))
        back = np.isin(np.round(got.t, 6), np.round(t, 6))
        ours.append(pressure[keep])
        theirs.append(got.p[back][: keep.sum()])
    return np.concatenate(ours), np.concatenate(theirs)


def pressure_error_psi(s: Scenario) -> float:
    """Largest difference (psi) between a run and the converged plain reference, hold and pass."""
    ours, theirs = _reference_pressures(s, n2.simulate(s))
    return float(np.abs(ours - theirs).max() / PSI)


class Way(NamedTuple):
    """A way of writing the reference's hold."""

    method: str
    kind: type[plain.Plain]


PLAINLY = Way("BDF", plain.Plain)
SMART = (Way("BDF", plain.Splined), Way("LSODA", plain.Splined))


def hold_error_psi(s: Scenario, ways: Sequence[Way]) -> dict[str, Any]:
    """Our error (psi) in a hold, and each way's by tolerance, against the converged reference, at
    the instants of our rows."""
    run = n2.simulate(s)
    at, rows = np.unique(run.time, return_index=True)
    p = problem(s)
    exact = plain.hold(p, HOLD, rtol=TIGHT, atol=TIGHT, at=at)

    def gap(got: Any) -> float:
        return float(np.abs(exact.p[np.isin(exact.t, at)] - got.p[np.isin(got.t, at)]).max() / PSI)

    theirs: dict[str, dict[float, float]] = {}
    for way in ways:
        errors = theirs.setdefault(f"{way.method} {way.kind.__name__}", {})
        for rtol in RTOLS:
            errors[rtol] = gap(plain.hold(p, HOLD, rtol, min(1e-6, rtol), at, None, *way))
    ours = run["pressure_Pa"][0][rows][np.isin(at, exact.t)]
    wanted = exact.p[np.isin(exact.t, at)]
    return {"ours_psi": float(np.abs(ours - wanted).max() / PSI), "plain_psi": theirs}


def hold_speedup(s: Scenario, ways: Sequence[Way], repeats: int) -> dict[str, Any]:
    """Ratio of the quickest way of the reference, each at the loosest tolerance whose error in this
    hold is no larger than ours, to us."""
    errors = hold_error_psi(s, ways)
    p = problem(s)
    ours = best(lambda: n2.simulate(s), 5 * repeats)
    seconds = {}
    for way in ways:
        name = f"{way.method} {way.kind.__name__}"
        good = [r for r, e in errors["plain_psi"][name].items() if e <= errors["ours_psi"]]
        rtol = good[0] if good else RTOLS[-1]
        run = partial(plain.hold, p, HOLD, rtol, min(1e-6, rtol), None, None, *way)
        seconds[f"{name} {rtol:g}"] = best(run, repeats)
    return errors | {"ours_s": ours, "plain_s": seconds, "ratio": min(seconds.values()) / ours}


def equal_error(count: int) -> dict[str, Any]:
    """The loosest reference tolerance that is no further off than we are, over ``count`` holds.

    Returns our error, the reference's error (psi, worst of the members) by rtol, and ``rtol``.
    """
    at = np.arange(60.0, HOLD, 60.0)
    ours, theirs = 0.0, dict.fromkeys(RTOLS, 0.0)
    for s in members(count):
        p = problem(s)
        exact = plain.hold(p, HOLD, rtol=TIGHT, atol=TIGHT, at=at)
        ours = max(ours, pressure_error_psi(s))
        for rtol in RTOLS:
            got = plain.hold(p, HOLD, rtol=rtol, atol=min(1e-6, rtol), at=at)
            gap = np.abs(exact.p[np.isin(exact.t, at)] - got.p[np.isin(got.t, at)]).max() / PSI
            theirs[rtol] = max(theirs[rtol], float(gap))
    rtol = next((r for r in RTOLS if theirs[r] <= ours), RTOLS[-1])
    return {"ours_psi": ours, "plain_psi": theirs, "rtol": rtol}


def single(
    kind: str,
    flow: str = "spi",
    nodes: int = 4,
    repeats: int = 3,
    rtol: float = RTOLS[0],
    method: str = "",
) -> dict[str, float]:
    """Times (s) and ratio of one hold or one pass against the plain reference at ``rtol``."""
    schedule = [n2.Hold(HOLD)] if kind == "hold" else [n2.Pass(PASS)]
    start = "60 degF" if kind == "hold" else "93 degF"
    s = scenario(schedule=schedule, flow=flow, nodes=nodes, start=start)
    p = problem(s)
    n2.simulate(s)
    ours = best(lambda: n2.simulate(s), 5 * repeats)

    def reference() -> Any:
        run = plain.hold if kind == "hold" else plain.draw
        how = {"method": method} if method else {}
        return run(p, HOLD if kind == "hold" else PASS, rtol=rtol, atol=min(1e-6, rtol), **how)

    reference()
    theirs = best(reference, repeats)
    return {
        "ours_s": ours,
        "plain_s": theirs,
        "ratio": theirs / ours,
        "rtol": rtol,
        "steps": n2.simulate(s).statistics["steps"],
    }


def members(count: int, seed: int = 7) -> Iterator[Scenario]:
    """Scenarios of a hold with a pass: charge, weather, heater and jets vary."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        u = rng.random(4)
        yield scenario(
            filled=0.5 + 0.5 * u[0],
            start=284.0 + 8.0 * u[1],
            air=284.0 + 8.0 * u[1],
            power=250.0 + 150.0 * u[2],
            jets=4e-6 * (0.5 + u[3]),
            schedule=[n2.Hold(HOLD), n2.Pass(PASS)],
        )


def ensemble_seconds(count: int, workers: int | None = None) -> float:
    """Wall time (s) of ``count`` members through the ensemble engine, building them included."""
    from n2osim.studies.ensemble import run_ensemble

    start = time.perf_counter()
    result = run_ensemble(members(count), workers=workers, outputs=["pass0.pressure_sag_Pa"])
    taken = time.perf_counter() - start
    if len(result) != count:
        raise RuntimeError(f"{len(result)} members came back of {count}")
    return taken


def plain_seconds(count: int, rtol: float) -> float:
    """Mean wall time (s) of a member with the plain reference, one at a time."""
    start = time.perf_counter()
    atol = min(1e-6, rtol)
    for s in members(count):
        p = problem(s)
        got = plain.hold(p, HOLD, rtol=rtol, atol=atol)
        plain.draw(p, PASS, rtol=rtol, atol=atol, start=np.concatenate([[p.mass], got.y[:, -1]]))
    return (time.perf_counter() - start) / count


def scaling(counts: list[int]) -> tuple[dict[int, float], float]:
    """Wall time by number of members and the exponent between the last two."""
    times = {n: ensemble_seconds(n) for n in counts}
    a, b = counts[-2], counts[-1]
    return times, math.log(times[b] / times[a]) / math.log(b / a)


def property_calls() -> dict[str, float]:
    """Time of a state from (T, rho): one scalar call, and per element of an array (us)."""
    T = np.full(20_000, 300.0)
    rho = np.linspace(50.0, 900.0, T.size)
    n2.fluid.state(300.0, 700.0)
    n2.fluid.state(T, rho)
    scalar = best(lambda: [n2.fluid.state(300.0, 700.0) for _ in range(2000)], 3) / 2000
    array = best(lambda: n2.fluid.state(T, rho), 3) / T.size
    return {"scalar_us": 1e6 * scalar, "array_us": 1e6 * array}


def _python(code: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ
    )
    return done.stdout.strip()


def import_seconds() -> float:
    """Time of ``import n2osim`` in a fresh process (s), best of three."""
    code = "import time; a = time.perf_counter(); import n2osim; print(time.perf_counter() - a)"
    return min(float(_python(code)) for _ in range(3))


def command_seconds(*arguments: str) -> float:
    """Wall time (s) of the second of two runs of a command."""
    taken = 0.0
    for _ in range(2):
        start = time.perf_counter()
        command = [sys.executable, "-m", "n2osim", *arguments]
        subprocess.run(command, capture_output=True, check=True)
        taken = time.perf_counter() - start
    return taken


def cold_demo() -> tuple[float, float]:
    """(wall, processor) time (s) of the demo on a machine where nothing has been compiled.

    The background process that it starts is not waited for; it ends when its directory is gone.
    """
    with tempfile.TemporaryDirectory() as empty:
        env = {**os.environ, "NUMBA_CACHE_DIR": empty, "N2OSIM_KERNELS": ""}
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        start = time.perf_counter()
        command = [sys.executable, "-m", "n2osim", "demo"]
        subprocess.run(command, capture_output=True, check=True, env=env)
        wall = time.perf_counter() - start
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def peak_memory_gb() -> float:
    """Largest resident memory of this process so far (GB; Linux counts in kB)."""
    unit = 1.0 if sys.platform == "darwin" else 1024.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e9
