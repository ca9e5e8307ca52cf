"""Interrupts at random moments, over the commands and the library: a table of what came of them.

    python tests/trust/interrupts.py --count 50

Every child runs something that takes minutes, says when it has begun, and gets SIGINT at a random
moment after that (the library also from another thread). What must come: exit status 130, the one
word ``interrupted``, no traceback and no crash. The times until that word and until the exit are
only reported: they hang on what else the machine does.
"""

from __future__ import annotations

import argparse
import random
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

BEGUN = "begun"
EVENING = """\
schema = 1
title = "An evening that takes minutes to compute"
[bottle]
preset = "aluminium"
capacity = "10 lb"
fill = "9 lb"
start = "60 degF"
[heater]
power = "400 W"
[switch]
closes = "880 psig"
opens = "920 psig"
[feed]
jets = { count = 2, bore = "0.028 in" }
[engine]
fuel_pressure = "43 psig"
fuel_jets = { count = 1, bore = "0.025 in" }
[numerics]
tolerance = 1e-5
max_steps = 100_000_000
[[schedule]]
kind = "repeat"
times = 200
[[schedule.items]]
kind = "hold"
duration = "20 min"
[[schedule.items]]
kind = "pass"
duration = "8 s"
[[schedule.items]]
kind = "rest"
duration = "10 min"
"""
LOG = "time [s],pressure [psig]\n" + "".join(f"{60 * k},{700 + 10 * k}\n" for k in range(20))
COMMANDS = {
    "simulate": ["simulate", "FILE"],
    "check": ["check", "FILE"],
    "sheet": ["sheet", "FILE", "sheet.html", "--overwrite"],
    "day": ["day", "FILE", "--rounds", "100"],
    "size heater": ["size", "heater", "FILE"],
    "tune power": ["tune", "power", "FILE", "--hp", "60 hp"],
    "study": ["study", "FILE", "--vary", "fill=6 lb,7 lb,8 lb,9 lb"],
    "fit": ["fit", "FILE", "log.csv", "--free", "heater_power", "outside_coefficient"],
}
_COMMAND = f"""
import sys
from n2osim.cli import main
print("{BEGUN}", file=sys.stderr, flush=True)
sys.exit(main(sys.argv[1:]))
"""
# A person's own script or notebook: it gets KeyboardInterrupt, with the run until then.
_SIGNAL = f"""
import sys
from n2osim import Rest, Scenario, simulate
scenario = Scenario.from_toml(sys.argv[1])
simulate(scenario.replace(schedule=[Rest("1 min")]))  # kernels are loaded
print("{BEGUN}", file=sys.stderr, flush=True)
try:
    simulate(scenario)
except KeyboardInterrupt as stopped:
    partial = getattr(stopped, "partial_run", None)  # none while the run is being prepared
    print("interrupted", file=sys.stderr, flush=True)
    if partial is not None:
        assert partial.ending == "interrupted" and max(partial.closure().values()) < 1e-6
    sys.exit(130)
"""
_THREAD = f"""
import sys, threading
from n2osim import Rest, Scenario, simulate
from n2osim.engine import advance
from n2osim.engine import layout as L
from n2osim.engine.pack import pack
scenario = Scenario.from_toml(sys.argv[1])
simulate(scenario.replace(schedule=[Rest("1 min")]))
packed, stop, found = pack(scenario), advance.Stop(), []
thread = threading.Thread(target=lambda: found.append(advance.run_packed(packed, stop=stop)))
print("{BEGUN}", file=sys.stderr, flush=True)
thread.start()
sys.stdin.readline()
stop.set()
thread.join()
print("interrupted", file=sys.stderr, flush=True)
assert found[0][3] == L.PAUSED and len(found[0][0]) > 0
sys.exit(130)
"""
LIBRARY = {"library, signal": _SIGNAL, "library, thread": _THREAD}
KINDS = (*COMMANDS, *LIBRARY)


@dataclass(frozen=True)
class Outcome:
    """What came of one interrupt; s until the word for it, and until the process had ended."""

    kind: str
    moment: float
    answered: float
    until_exit: float
    status: int
    said: str

    @property
    def good(self) -> bool:
        """Stopped as it should have, in words."""
        return self.status == 130 and "interrupted" in self.said and "Traceback" not in self.said


def _words(kind: str) -> list[str]:
    if kind in LIBRARY:
        return [sys.executable, "-c", LIBRARY[kind], "evening.toml"]
    given = ["evening.toml" if w == "FILE" else w for w in COMMANDS[kind]]
    return [sys.executable, "-c", _COMMAND, *given]


def interrupt(kind: str, moment: float, folder: Path) -> Outcome:
    """Begin ``kind`` in ``folder``, interrupt it ``moment`` seconds after it has begun."""
    (folder / "evening.toml").write_text(EVENING)
    (folder / "log.csv").write_text(LOG)
    pipe = subprocess.PIPE
    child = subprocess.Popen(
        _words(kind), cwd=folder, stdin=pipe, stdout=pipe, stderr=pipe, text=True
    )
    assert child.stdin is not None and child.stderr is not None
    while (line := child.stderr.readline()) and line.strip() != BEGUN:
        pass
    time.sleep(moment)
    began = time.monotonic()
    if kind == "library, thread":
        child.stdin.write("\n")
        child.stdin.flush()
    else:
        child.send_signal(signal.SIGINT)
    said, answered = "", 0.0
    for line in child.stderr:
        said += line
        answered = answered or ("interrupted" in line and time.monotonic() - began)
    child.communicate(timeout=300.0)
    return Outcome(kind, moment, answered, time.monotonic() - began, child.returncode, said)


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--count", type=int, default=50)
    parser.add_argument("--latest", type=float, default=4.0, help="latest moment, s")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(argv)
    dice, found = random.Random(args.seed), []
    print(f"{'moment, s':>9}  {'what':16}  {'s to word':>9}  {'to exit':>7}  status")
    with tempfile.TemporaryDirectory() as folder:
        for k in range(args.count):
            one = interrupt(KINDS[k % len(KINDS)], dice.uniform(0.0, args.latest), Path(folder))
            found.append(one)
            mark = "" if one.good else f"  {one.said.strip()[-1500:]}"
            times = f"{one.answered:9.3f}  {one.until_exit:7.3f}"
            print(f"{one.moment:9.2f}  {one.kind:16}  {times}  {one.status}{mark}")
            sys.stdout.flush()
    times = sorted(o.answered for o in found)
    bad = sum(not o.good for o in found)
    within = sum(t <= 0.2 for t in times)
    print(
        f"{len(found)} interrupts, {bad} not as they should be; until the word: median "
        f"{times[len(times) // 2]:.3f} s, most {times[-1]:.3f} s, {within} within 0.2 s"
    )
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
