"""A second generator of scenarios: texts, written from the reference of the scenario file alone.

It shares nothing with ``random_scenarios``: no dice, no ranges, no objects of the package. A seed
gives a TOML text as a person could have typed it, with units mixed as people mix them.

    python tests/trust/second_generator.py --count 20000      # the campaign
    python tests/trust/second_generator.py --seed 17          # one text, and what is wrong with it
    python tests/trust/second_generator.py --exponent         # how time grows with the schedule

Each text is read, run and checked as in ``run_checks.problems``. A run that ends early must have
left the equation of state (``run_checks.ends_soundly``); a text that is refused counts as such.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

sys.path[:0] = [str(Path(__file__).resolve().parent)]

from run_checks import ends_soundly, problems  # noqa: E402

from n2osim.errors import IntegrationError, N2OSimError  # noqa: E402
from n2osim.results.run import simulate  # noqa: E402
from n2osim.scenario.file import loads  # noqa: E402

KG_PER_LB = 0.45359237
SIZES = (100, 1000, 10_000)  # segments whose time is compared


class Writer:
    """Draws values and writes them as TOML."""

    def __init__(self, seed: int) -> None:
        self.dice = random.Random(seed)

    def maybe(self, chance: float) -> bool:
        return self.dice.random() < chance

    def pick(self, *choices: Any) -> Any:
        return self.dice.choice(choices)

    def between(self, low: float, high: float) -> float:
        return self.dice.uniform(low, high)

    def spread(self, low: float, high: float) -> float:
        """Between the two, evenly in its logarithm."""
        return math.exp(self.dice.uniform(math.log(low), math.log(high)))

    # --- quantities in the units people use ------------------------------------------------------
    def mass(self, kg: float) -> str:
        return self.pick(f'"{kg / KG_PER_LB:.4g} lb"', f'"{kg:.4g} kg"', f"{kg:.5g}")

    def temperature(self, low: float, high: float) -> str:
        K = self.between(low, high)
        return self.pick(f'"{K * 1.8 - 459.67:.4g} degF"', f'"{K - 273.15:.4g} degC"', f"{K:.5g}")

    def gauge(self, Pa: float) -> str:
        return self.pick(f'"{Pa / 6894.757:.5g} psig"', f'"{Pa / 1e5:.5g} barg"', f"{Pa:.6g}")

    def time(self, s: float) -> str:
        return self.pick(f'"{s:.4g} s"', f'"{s / 60:.4g} min"', f"{s:.4g}")

    def bore(self, m: float) -> str:
        return self.pick(f'"{m / 0.0254:.3g} in"', f'"{m * 1e3:.3g} mm"', f"{m:.4g}")


def table(entries: dict[str, str]) -> str:
    """Lines of a table."""
    return "\n".join(f"{k} = {v}" for k, v in entries.items())


def inline(entries: dict[str, str]) -> str:
    return "{ " + ", ".join(f"{k} = {v}" for k, v in entries.items()) + " }"


# --- shell -----------------------------------------------------------------------------------
def _preset(w: Writer) -> tuple[float, dict[str, str]]:
    pounds = w.pick(10, 12, 15, 20)
    kind = w.pick("aluminium", "steel", "carbon-aluminium", "carbon-polymer")
    return pounds * KG_PER_LB, {"preset": f'"{kind}"', "capacity": f'"{pounds} lb"'}


def _measured(w: Writer) -> tuple[float, dict[str, str]]:
    inside, kg = w.between(0.12, 0.22), w.between(3.0, 9.0)
    keys = {"inner_diameter": w.bore(inside), "capacity": w.mass(kg)}
    keys |= {"wall": w.bore(w.between(0.003, 0.012)), "material": w.pick('"6061-T6"', '"4130"')}
    return kg, keys


def _layers(w: Writer) -> tuple[float, dict[str, str]]:
    litres = w.between(3.0, 20.0)
    inside = w.between(0.8, 1.1) * (litres / 1000.0 / 2.5) ** (1.0 / 3.0)
    liner = {"material": w.pick('"6061-T6"', '"4130"', '"HDPE"', '"PA6"')}
    layers = [liner | {"thickness": w.bore(w.between(0.002, 0.008))}]
    if w.maybe(0.6):
        wrap = w.pick('"carbon-epoxy"', '"glass-epoxy"')
        layers.append({"material": wrap, "thickness": w.bore(w.between(0.002, 0.01))})
    if w.maybe(0.3):
        layers.append({"material": '"foam"', "thickness": w.bore(w.between(0.003, 0.02))})
    keys = {"volume": f'"{litres:.4g} L"', "inner_diameter": f"{inside:.4g}"}
    keys["layers"] = "[" + ", ".join(map(inline, layers)) + "]"
    if w.maybe(0.3):
        keys["end_depth"] = w.pick("0", "0.25", "0.5")
    return 0.68 * litres, keys


def _lumped(w: Writer) -> tuple[float, dict[str, str]]:
    litres = w.spread(1.0, 30.0)
    area = w.between(1.0, 1.6) * 5.5 * (litres / 1000.0) ** (2.0 / 3.0)
    keys = {"volume": f'"{litres:.4g} L"', "wall_heat_capacity": f'"{w.spread(0.3, 30):.3g} kJ/K"'}
    keys |= {"inner_area": f'"{area:.4g} m2"', "outer_area": f'"{1.1 * area:.4g} m2"'}
    return 0.68 * litres, keys


def bottle(w: Writer) -> tuple[float, dict[str, str]]:
    """(rated charge in kg, keys) of a shell with what is in it."""
    kg, keys = w.pick(_preset, _preset, _preset, _measured, _layers, _lumped)(w)
    share = w.pick(w.between(0.5, 1.0), w.between(0.03, 1.05))
    keys["fill"] = w.mass(share * kg) if w.maybe(0.6) else f'"{100 * min(share, 1.0):.3g} %"'
    if "volume" in keys and "fill" in keys and keys["fill"].endswith('%"'):
        keys["fill"] = w.mass(share * kg)
    keys["start"] = w.temperature(*w.pick((270.0, 300.0), (240.0, 315.0)))
    if w.maybe(0.1):
        keys["wall_start"] = w.temperature(250.0, 330.0)
    if w.maybe(0.5):
        keys["relief_pressure"] = w.gauge(w.between(8e6, 25e6))
        keys["relief_bore"] = w.bore(w.between(0.003, 0.01))
    if w.maybe(0.3):
        keys["service_pressure"] = w.gauge(w.between(9e6, 15e6))
    return kg, keys


def heater(w: Writer) -> dict[str, str]:
    watts = w.pick(w.between(50, 600), w.spread(20, 3000))
    keys = {"power": w.pick(f'"{watts:.4g} W"', f"{watts:.4g}")}
    if w.maybe(0.4):
        keys["voltage"] = w.pick('"12 V"', '"14.4 V"', "16")
    elif w.maybe(0.15):
        keys = {"resistance": f'"{w.spread(0.2, 4):.3g} ohm"'}
    optional = {
        "coverage": (0.5, f'"{w.between(10, 90):.3g} %"'),
        "contact_resistance": (0.3, f"{w.pick(0.0, w.spread(1e-4, 1e-2)):.3g}"),
        "heat_capacity": (0.3, f"{w.pick(0.0, w.spread(50, 5000)):.4g}"),
        "cover_resistance": (0.3, f"{w.pick(0.0, w.spread(0.01, 1)):.3g}"),
        "cut_out": (0.4, inline({"opens": '"180 degF"', "closes": '"150 degF"'})),
        "self_limit": (0.1, f"{w.spread(0.002, 0.02):.3g}"),
        "blanket": (0.3, w.pick('"around"', '"lower"', '"side"', '"top"')),
    }
    return keys | {k: v for k, (chance, v) in optional.items() if w.maybe(chance)}


def switch(w: Writer) -> dict[str, str]:
    closes = w.between(4.5e6, 6.9e6)
    keys = {"closes": w.gauge(closes), "opens": w.gauge(closes + w.spread(5e4, 8e5))}
    optional = {
        "lag": (0.4, w.time(w.spread(0.1, 60))),
        "offset": (0.3, f'"{w.between(-40, 40):.3g} psi"'),
        "tolerance": (0.3, '"10 psi"'),
        "sensor": (0.1, '"line"'),
        "fault": (0.06, w.pick('"welded"', '"stuck open"')),
    }
    return keys | {k: v for k, (chance, v) in optional.items() if w.maybe(chance)}


def mounting(w: Writer) -> dict[str, str]:
    keys = {"standing": "true"} if w.maybe(0.3) else {"tilt": f'"{w.between(-15, 60):.3g} deg"'}
    optional = {
        "acceleration": (0.5, f'"{w.between(0, 3):.3g} g"'),
        "pickup_along": (0.2, f"{w.between(0, 1):.3g}"),
        "pickup": (0.2, f"{w.between(0, 0.5):.3g}"),
        "draw": (0.15, '"vapour"'),
    }
    return keys | {k: v for k, (chance, v) in optional.items() if w.maybe(chance)}


def ambient(w: Writer) -> dict[str, str]:
    one = w.temperature(255.0, 318.0)
    night = '[["16:00", "80 degF"], ["19:30", "64 degF"], ["23:00", "51 degF"]]'
    swing = inline({"mean": one, "swing": f"{w.between(0, 12):.3g}", "hottest_at": '"15:00"'})
    keys = {"temperature": w.pick(one, one, night, swing)}
    boot = inline({"conductance": f"{w.spread(1, 50):.3g}", "solar": f"{w.between(0, 400):.4g}"})
    optional = {
        "altitude": (0.3, f'"{w.between(-200, 7000):.4g} ft"'),
        "air_speed": (0.4, f'"{w.between(0, 20):.3g} mph"'),
        "sun": (0.3, f"{w.between(0, 1000):.4g}"),
        "enclosure": (0.3, boot),
    }
    return keys | {k: v for k, (chance, v) in optional.items() if w.maybe(chance)}


def feed(w: Writer) -> dict[str, str]:
    if w.maybe(0.2):
        keys = {"effective_area": f'"{w.spread(0.1, 4):.3g} mm2"'}
    else:
        jets = {"count": str(w.pick(1, 1, 2, 4, 8)), "bore": w.bore(w.spread(4e-4, 1.5e-3))}
        if w.maybe(0.5):
            jets["cd"] = f"{w.between(0.5, 0.9):.3g}"
        elif w.maybe(0.5):
            jets["edge"] = w.pick('"drilled"', '"sharp"', '"rounded"', '"nozzle"')
        keys = {"jets": inline(jets)}
    line = {"length": f'"{w.between(1, 15):.3g} ft"', "dash": str(w.pick(3, 4, 6))}
    optional = {
        "line": (0.5, inline(line)),
        "valve": (0.4, inline({"bore": w.bore(w.between(0.002, 0.006))})),
        "bottle_valve": (0.3, inline({"bore": w.bore(w.between(0.004, 0.012))})),
        "pickup": (0.3, inline({"length": '"0.3 m"', "bore": w.bore(w.between(0.005, 0.012))})),
        "model": (0.3, w.pick('"spi"', '"hem"', '"nhne"', '"omega"', '"hne"')),
    }
    return keys | {k: v for k, (chance, v) in optional.items() if w.maybe(chance)}


def engine(w: Writer) -> dict[str, str]:
    fuel = w.pick("gasoline", "methanol", "ethanol", "e85", "isooctane", "toluene")
    keys = {"fuel": f'"{fuel}"', "target_mixture": f"{w.between(0.9, 1.6):.3g}"}
    fuel_side = inline({"count": "1", "bore": w.bore(w.spread(3e-4, 1e-3))})
    optional = {
        "efficiency": (0.4, f"{w.between(0.2, 0.4):.3g}"),
        "fuel_jets": (0.5, fuel_side),
        "fuel_pressure": (1.0, w.gauge(w.between(2e5, 6e5))),
        "intake_pressure": (0.3, w.gauge(w.between(0, 2e5))),
        "power_at": (0.3, '"wheel"'),
        "base_air": (0.2, f"{w.between(0.05, 0.4):.3g}"),
    }
    return keys | {k: v for k, (chance, v) in optional.items() if w.maybe(chance)}


def model(w: Writer) -> dict[str, str]:
    optional = {
        "two_zone": (0.5, f"{w.pick(1.0, w.spread(0.1, 1e4)):.4g}"),
        "boiling_growth": (0.15, f"{w.spread(1, 1e5):.4g}"),
        "inside_factor": (0.2, f"{w.spread(0.1, 10):.3g}"),
        "inside_coefficient": (0.15, f"{w.pick(0.0, w.spread(10, 5000)):.4g}"),
        "outside_coefficient": (0.2, f"{w.pick(0.0, w.spread(1, 50)):.3g}"),
        "radiation": (0.1, "false"),
        "nodes_per_layer": (0.3, str(w.pick(1, 2, 6, 10))),
    }
    return {k: v for k, (chance, v) in optional.items() if w.maybe(chance)}


# --- what happens --------------------------------------------------------------------------------
def _hold(w: Writer, names: list[str]) -> dict[str, str]:
    keys = {"duration": w.time(60 * w.spread(0.5, 240))}
    return keys | ({"until_open": "true"} if w.maybe(0.3) else {})


def _rest(w: Writer, names: list[str]) -> dict[str, str]:
    keys = {"duration": w.time(60 * w.spread(0.1, 300))}
    return keys | ({"heater": "true"} if w.maybe(0.2) else {})


def _pass(w: Writer, names: list[str]) -> dict[str, str]:
    seconds = w.spread(1.5, 40)
    keys = {"duration": w.time(seconds)}
    how = w.dice.random()
    if how < 0.15:
        keys["outflow"] = w.pick(f"{w.spread(0.005, 0.2):.3g}", '"5 lb/min"')
    elif how < 0.25:
        keys["target_flow"] = f"{w.spread(0.01, 0.1):.3g}"
    elif how < 0.5:
        keys["delivery"] = '[["0 s", "40 %"], ["1 s", "70 %"], ["1 s", 1]]'
    elif how < 0.6:
        keys["delivery"] = '[["60 ft", "30 %"], ["330 ft", "100 %"]]'
        keys["track"] = '[["0 s", "0 ft"], ["1.2 s", "60 ft"], ["3.0 s", "330 ft"]]'
    elif how < 0.7 and names:
        stages = [{"feed": f'"{w.pick(*names)}"', "delivery": '[["0 s", 0], ["1 s", 1]]'}]
        stages += [{"feed": f'"{names[0]}"'}] if stages[0]["feed"] != f'"{names[0]}"' else []
        keys["stages"] = "[" + ", ".join(map(inline, stages)) + "]"
    if w.maybe(0.2):
        keys["delay"] = w.time(0.3 * seconds)
    if w.maybe(0.15):
        keys["window"] = "[" + w.gauge(3e6) + ", " + w.gauge(w.between(6e6, 8e6)) + "]"
    return keys | ({"heater": "true"} if w.maybe(0.15) else {})


def _purge(w: Writer, names: list[str]) -> dict[str, str]:
    return {"duration": w.time(w.spread(0.2, 5))}


def _refill(w: Writer, names: list[str]) -> dict[str, str]:
    keys = {"supply_temperature": w.temperature(265.0, 305.0)}
    optional = {
        "pumped": (0.4, "false"),
        "duration": (0.5, w.pick("0", '"90 s"', '"10 min"')),
        "pump_efficiency": (0.2, '"40 %"'),
    }
    return keys | {k: v for k, (chance, v) in optional.items() if w.maybe(chance)}


def _weigh(w: Writer, names: list[str]) -> dict[str, str]:
    return {"tare_error": '"0.1 lb"', "refill_below": w.mass(2.0)}


KINDS = {
    "hold": (6, _hold),
    "pass": (6, _pass),
    "rest": (4, _rest),
    "purge": (2, _purge),
    "refill": (1, _refill),
    "weigh": (1, _weigh),
}


def item(w: Writer, names: list[str], head: str) -> str:
    weights = [KINDS[k][0] for k in KINDS]
    kind = w.dice.choices(list(KINDS), weights)[0]
    return f'[[{head}]]\nkind = "{kind}"\n{table(KINDS[kind][1](w, names))}\n'


def schedule(w: Writer, names: list[str]) -> str:
    parts = []
    for _ in range(w.dice.randint(1, 5)):
        if w.maybe(0.12):
            parts.append(f'[[schedule]]\nkind = "repeat"\ntimes = {w.dice.randint(2, 5)}\n')
            parts += [item(w, names, "schedule.items") for _ in range(w.dice.randint(1, 3))]
        else:
            parts.append(item(w, names, "schedule"))
    return "\n".join(parts)


# --- the whole -----------------------------------------------------------------------------------
def _of_bottle(w: Writer, head: str) -> str:
    """Sub-tables of one bottle; ``head`` is empty where there is only one."""
    parts = []
    if w.maybe(0.8):
        parts.append(f"[{head}heater]\n{table(heater(w))}")
        if w.maybe(0.9):
            parts.append(f"[{head}switch]\n{table(switch(w))}")
    if w.maybe(0.5):
        parts.append(f"[{head}mounting]\n{table(mounting(w))}")
    return "\n\n".join(parts)


def text(seed: int) -> str:
    """The scenario file of one seed."""
    w = Writer(seed)
    parts = [f'schema = 1\ntitle = "Invented, seed {seed}"\nclock_start = "{w.pick(9, 14, 18)}:05"']
    count = w.pick(1, 1, 1, 2, 2, 3)
    for i in range(count):
        _, keys = bottle(w)
        if count == 1:
            parts += [f"[bottle]\n{table(keys)}", _of_bottle(w, "")]
        else:
            keys = {"name": f'"b{i}"'} | keys
            parts += [f"[[bottles]]\n{table(keys)}", _of_bottle(w, "bottles.")]
    parts.append(f"[ambient]\n{table(ambient(w))}")
    names = ["main", "big"] if w.maybe(0.3) else ["main"]
    for name in names:
        # Mostly one of sixty feeds: the flow map of a new one takes longer than most runs.
        dealer = w if w.maybe(0.03) else Writer(-1 - w.dice.randrange(60))
        parts.append(f"[feeds.{name}]\n{table(feed(dealer))}")
    parts.append("[feeds.purge]\neffective_area = " + w.pick('"0.4 mm2"', '"2 mm2"'))
    if w.maybe(0.4):
        parts.append(f"[engine]\n{table(engine(w))}")
    if w.maybe(0.5):
        supply = {"voltage": f"{w.between(11.5, 16):.3g}", "resistance": '"20 milliohm"'}
        parts.append(f"[supply]\n{table(supply)}")
    if w.maybe(0.5):
        parts.append(f"[model]\n{table(model(w))}")
    if w.maybe(0.1):
        parts.append(f"[numerics]\ntolerance = {w.spread(0.1, 5):.3g}")
    return "\n\n".join([*parts, schedule(w, names)]) + "\n"


def examine(seed: int) -> tuple[int, str, list[str], float, int]:
    """(seed, how it ended, what is wrong, seconds of the run, steps)."""
    began, wrong, run = time.perf_counter(), [], None
    try:
        run = simulate(loads(text(seed)))
        ending = "a bottle left the equation of state" if run.frozen else "through its schedule"
    except IntegrationError as error:
        run, ending = error.partial_run, error.message[:100]
        wrong += [] if ends_soundly(error) else [f"stopped: {error}"]
    except N2OSimError as error:
        ending = f"refused: {error}"[:150]
    except Exception as error:
        ending, wrong = "foreign error", [f"{type(error).__name__}: {error}"]
    seconds = time.perf_counter() - began
    if run is None:
        return seed, ending, wrong, seconds, 0
    try:
        wrong += problems(run)
    except Exception as error:
        wrong.append(f"not checked: {type(error).__name__}: {error}")
    return seed, ending, wrong, seconds, int(run.statistics["steps"])


def campaign(first: int, count: int, workers: int, limit: float) -> dict[str, Any]:
    """Counts over ``count`` seeds from ``first``, or as many as fit into ``limit`` seconds."""
    endings: Counter[str] = Counter()
    failures: dict[int, list[str]] = {}
    slowest: list[tuple[float, int, int]] = []
    began, done = time.monotonic(), 0
    with ProcessPoolExecutor(workers) as pool:
        for start in range(first, first + count, 200):
            if time.monotonic() - began > limit:
                break
            for seed, ending, wrong, seconds, steps in pool.map(
                examine, range(start, min(start + 200, first + count)), chunksize=20
            ):
                done += 1
                endings[ending] += 1
                slowest = sorted([*slowest, (round(seconds, 3), seed, steps)], reverse=True)[:5]
                if wrong:
                    failures[seed] = wrong
                    print(f"FAILED seed {seed}: {'; '.join(wrong)[:400]}", flush=True)
    return {
        "texts": done,
        "failures": len(failures),
        "endings": dict(endings.most_common()),
        "slowest (s, seed, steps)": slowest,
        "seconds": round(time.monotonic() - began, 1),
    }


def evening(segments: int) -> str:
    """A schedule of so many segments: warm up, draw, wait, again and again."""
    head = (
        'schema = 1\n[bottle]\npreset = "steel"\ncapacity = "10 lb"\nfill = "9 lb"\n'
        'start = "70 degF"\n[heater]\npower = 300\n[switch]\ncloses = "850 psig"\n'
        'opens = "900 psig"\n[feed]\neffective_area = "0.05 mm2"\n'
    )
    items = ["hold", "pass", "rest", "refill"]
    keys = ['duration = "8 min"', 'duration = "2 s"', 'duration = "3 min"']
    keys.append('supply_temperature = "68 degF"\nto = "9 lb"')
    body = "".join(
        f'[[schedule.items]]\nkind = "{k}"\n{v}\n' for k, v in zip(items, keys, strict=True)
    )
    return f'{head}[[schedule]]\nkind = "repeat"\ntimes = {segments // 20}\n{5 * body}'


def exponent() -> float:
    """Power of the number of segments that the time of a run with its report grows with."""
    seconds: list[float] = []
    simulate(loads(evening(20))).summary()
    for n in SIZES:
        scenario = loads(evening(n))
        began = time.process_time()
        simulate(scenario).summary()
        seconds.append(time.process_time() - began)
        print(f"{n} segments: {seconds[-1]:.3f} s of processor time", flush=True)
    return math.log(seconds[-1] / seconds[0]) / math.log(SIZES[-1] / SIZES[0])


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--limit", type=float, default=math.inf, help="seconds for all of it")
    parser.add_argument("--seed", type=int, help="examine one text and stop")
    parser.add_argument("--exponent", action="store_true", help="time over 100 to 10,000 segments")
    args = parser.parse_args(argv)
    if args.seed is not None:
        print(text(args.seed), *examine(args.seed), sep="\n")
        return 0
    if args.exponent:
        print(f"exponent {exponent():.2f}")
        return 0
    found = campaign(args.first, args.count, args.workers, args.limit)
    print(json.dumps(found, indent=1))
    return 1 if found["failures"] else 0


if __name__ == "__main__":
    sys.exit(main())
