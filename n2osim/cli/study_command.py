"""``n2osim study``: vary fields of a scenario over values, scatter or tolerances."""

from __future__ import annotations

import fnmatch
import math
import sys
import warnings
from typing import Any

import n2osim
from n2osim.cli import INTERRUPTED, NOT_SOUND, OK
from n2osim.cli.output import (
    FLAGS,
    add_outputs,
    counter,
    pairs,
    patience,
    put_csv,
    put_json,
    put_plot,
    say,
    say_cautions,
)
from n2osim.cli.parser import AGAIN, MANY, WHOLE, command, options
from n2osim.errors import InputError

_STUDY = """\
examples:
  n2osim study my-car.toml --vary "heater.power=200 W, 300 W, 400 W" --vary "fill=6 lb, 10 lb"
  n2osim study my-car.toml --scatter "fill=0.2 lb" --scatter "feed.jets.cd=3 %" --count 500
  n2osim study my-car.toml --tolerance "fill=0.2 lb" --tolerance "switch.offset=10 psi"
  n2osim study my-car.toml --fields                    names that can be varied, with values

--vary        every combination of the values
--scatter     Monte Carlo: normal distributions, 95 % within the half-width given
--tolerance   each figure with a +- from half-widths (2 runs a tolerance), and what causes it
"""
DEFAULT_OUTPUTS = (
    "hold0*.warm_up_time_s",
    "hold*.overshoot_Pa",
    "hold*.duty",
    "run*.peak_pressure_gauge_Pa",
    "run*.hottest_wall_K",
    "pass*.start_pressure_gauge_Pa",
    "pass*.pressure_sag_Pa",
    "pass*.used_kg",
    "pass*.flow_mean_kg_s",
    "pass*.power_mean_W",
)
_POINTS = 241


def add(commands: Any) -> None:
    """The commands of this family."""
    words = "vary a scenario: sweeps, Monte Carlo, tolerances"
    study = command(commands, "study", run_study_command, words, _STUDY)
    count = "members with --scatter (default: 200)"
    options(
        study,
        ("--vary", "NAME=V1,V2", "a field and the values it takes; may be given again", AGAIN),
        ("--scatter", "NAME=HALF", "a field and how far it scatters; may be given again", AGAIN),
        ("--tolerance", "NAME=HALF", "a tolerance; may be given again", AGAIN),
        ("--fields", "", "list what can be varied, and stop"),
        ("--of", "OUTPUT", "figures to report (names or patterns)", MANY),
        ("--count", "N", count, {"type": int, "default": 200}),
        ("--seed", "N", "of the scatter", {"type": int, "default": 0}),
        ("--workers", "N", "threads (default: one a core)", WHOLE),
        ("--checkpoint", "DIR", "keep finished pieces, to resume"),
    )
    add_outputs(
        study,
        csv="write one row a member",
        plot="--scatter: percentile bands of the pressure; --tolerance: bars",
    )


def run_study_command(args: Any) -> int:
    """One study."""
    scenario = n2osim.Scenario.from_toml(args.file)
    if args.fields:
        say(args, _fields_text(scenario))
        return 0
    asked = [n for n in ("vary", "scatter", "tolerance") if getattr(args, n)]
    if len(asked) != 1:
        raise InputError(
            "study",
            ", ".join(asked) or "nothing to vary",
            "",
            "one of --vary, --scatter, --tolerance",
            "n2osim study FILE --fields lists what can be varied",
        )
    if args.plot is not None and asked[0] == "vary":
        raise InputError(
            "--plot",
            args.plot,
            "",
            "--scatter or --tolerance",
            "write --csv and plot what you compare",
        )
    with patience(), warnings.catch_warnings():
        warnings.showwarning = _plainly  # type: ignore[assignment]
        status = int(_KINDS[asked[0]](scenario, args))
    if status == INTERRUPTED:  # what there is of it has been printed
        print("interrupted", file=sys.stderr)
    else:
        _say_grave(scenario, args)
    say_cautions(args)
    return status


def _say_grave(scenario: Any, args: Any) -> None:
    """Dangers and warnings of the scenario as given."""
    from n2osim.report.text import findings_text

    grave = [f for f in n2osim.simulate(scenario).findings if f.severity in ("danger", "warning")]
    if grave:
        said = findings_text(grave, args.system)
        say(args, "\n" + said.replace("FINDINGS", "FINDINGS OF THE SCENARIO AS GIVEN", 1))


def _plainly(message: Any, *rest: Any, **more: Any) -> None:
    """A warning as one line, without the place in the code that gave it."""
    sys.stderr.write(f"n2osim: {message}\n")


def _fields_text(scenario: Any) -> str:
    from n2osim.scenario.fields import field_paths

    shown = {n: v for n, v in field_paths(scenario).items() if v is not None}
    wide = max(map(len, shown))
    return "\n".join(f"{n.ljust(wide)}  {v!s:.60}" for n, v in shown.items())


def _how(args: Any, what: str) -> dict[str, Any]:
    return {
        "workers": args.workers,
        "progress": counter(what),
        "checkpoint": args.checkpoint,
        "outputs": args.of or ["*"],
    }


def _vary(scenario: Any, args: Any) -> int:
    over = {
        n: [_value(v) for v in text.split(",") if v.strip()]
        for n, text in pairs(args.vary, "--vary", '"fill=8 lb, 10 lb"').items()
    }
    result = n2osim.sweep(scenario, over, title="sweep", **_how(args, "sweep"))
    names = _outputs(args.of, result.names)
    say(args, _members_text(result, names, args.system))
    return _put(result, names, args)


def _value(text: str) -> Any:
    """A number where it is one, true or false, else text with a unit or a name."""
    try:
        return float(text)
    except ValueError:
        return FLAGS.get(text.strip(), text.strip())


def _scatter(scenario: Any, args: Any) -> int:
    import numpy as np

    given = pairs(args.scatter, "--scatter", '"fill=0.2 lb"')
    drawn = {n: _normal(scenario, n, half) for n, half in given.items()}
    end = float(sum(item.duration for item in scenario.schedule))
    times = np.linspace(0.0, end, _POINTS) if end > 0.0 and args.plot is not None else None
    result = n2osim.monte_carlo(
        scenario, drawn, args.count, seed=args.seed, times=times, **_how(args, "Monte Carlo")
    )
    names = _outputs(args.of, result.names)
    say(args, _spread_text(result, names, args.system))
    put_plot(args, lambda: n2osim.plot.bands(result))
    return _put(result, names, args)


def _normal(scenario: Any, name: str, half: str) -> Any:
    """Normal distribution about the field's value with 95 % within the half-width."""
    from scipy.stats import norm

    from n2osim.scenario.fields import number_of
    from n2osim.studies.montecarlo import half_width

    value = number_of(scenario, name, f"--scatter {name}")
    width = half_width(scenario, name, _value(half))
    if width <= 0.0:
        raise InputError("--scatter", f"{name}={half}", "", "a half-width above 0", "")
    return norm(float(value), width / 1.959963984540054)


def _tolerance(scenario: Any, args: Any) -> int:
    from n2osim.studies.montecarlo import half_width, plus_minus

    given = {n: _value(v) for n, v in pairs(args.tolerance, "--tolerance", '"fill=0.2 lb"').items()}
    for name, half in given.items():
        half_width(scenario, name, half)
    of = args.of or _present(scenario)
    found = plus_minus(scenario, given, of, workers=args.workers, progress=counter("tolerances"))
    say(args, _tolerance_text(found, args.system))
    rows = [
        {
            "output": p.name,
            "value": p.value,
            "plus_minus": p.plus_minus,
            **{f"by {n}": v for n, v in p.by.items()},
        }
        for p in found.values()
    ]
    put_json(args, {"title": scenario.title, "figures": rows})
    put_csv(args, rows)
    put_plot(args, lambda: n2osim.plot.sensitivity(found))
    return 0


def _present(scenario: Any) -> list[str]:
    """Default outputs that the scenario's schedule has (holds, passes)."""
    kinds = {item.kind for item in scenario.schedule}
    found = [n for n in DEFAULT_OUTPUTS if n.startswith("run") or n[:4] in kinds]
    return [n for n in found if scenario.engine is not None or not n.endswith("power_mean_W")]


def _outputs(asked: Any, names: list[str]) -> list[str]:
    """What was asked for, which is all that was kept, or the usual ones; in the study's order."""
    if asked:
        return names
    return [n for n in names if any(fnmatch.fnmatchcase(n, p) for p in DEFAULT_OUTPUTS)]


def _put(result: Any, names: list[str], args: Any) -> int:
    keep = set(names)
    rows = [
        {k: v for k, v in row.items() if k not in result.columns or k in keep}
        for row in result.rows()
    ]
    put_json(
        args,
        {
            "study": result.title,
            "complete": result.complete,
            "statistics": result.describe(names),
            "members": rows,
        },
    )
    put_csv(args, rows)
    # Interrupted or not, what was done until then has been written.
    if not result.complete:
        return INTERRUPTED
    return NOT_SOUND if result.failures else OK


_KINDS = {"vary": _vary, "scatter": _scatter, "tolerance": _tolerance}


# --- tables --------------------------------------------------------------------------------------
def _full(name: str, value: float, system: str, difference: bool = False) -> str:
    from n2osim.numbers import Units, difference_of
    from n2osim.results.quantities import kind_in

    kind = kind_in(name)
    return Units(system).full(float(value), difference_of(kind) if difference else kind)


def _table_of(title: str, heads: list[str], rows: Any, note: str = "") -> str:
    from n2osim.text import Table

    return Table(title, tuple((h, "") for h in heads), tuple(rows), note).text() + "\n"


def _trouble(result: Any) -> str:
    said = "" if result.complete else f"INCOMPLETE: {result.note}. "
    return said + " ".join(f"Member {f.member} failed: {f.reason}." for f in result.failures[:5])


def _members_text(result: Any, names: list[str], system: str) -> str:
    """One member a block of rows: outputs down, members across (few), else statistics."""
    from n2osim.results.quantities import short_name

    if len(result) > 8:
        return _spread_text(result, names, system)
    heads = ["", *(" / ".join(v[k] for v in result.labels.values()) for k in range(len(result)))]
    rows = [(short_name(n), *(_full(n, x, system) for x in result[n])) for n in names]
    fields = " / ".join(result.inputs)
    return _table_of(f"Sweep of {fields}", heads, rows, _trouble(result))


def _spread_text(result: Any, names: list[str], system: str) -> str:
    from n2osim.results.quantities import short_name

    rows = []
    for n, d in result.describe(names).items():
        if d["count"]:
            rows.append(
                (
                    short_name(n),
                    f"{d['count']:.0f}",
                    _full(n, d["mean"], system),
                    _full(n, d["std"], system, difference=True),
                    *(_full(n, d[p], system) for p in ("p5", "p50", "p95")),
                )
            )
    heads = ["", "runs", "mean", "std", "5 %", "half", "95 %"]
    return _table_of(f"{result.title}: {len(result)} members", heads, rows, _trouble(result))


def _tolerance_text(found: Any, system: str) -> str:
    from n2osim.results.quantities import short_name

    rows = []
    for name, p in found.items():
        if not math.isfinite(p.value):
            continue
        most = max(p.by, key=lambda n: abs(p.by[n])) if p.by else ""
        rows.append(
            (
                short_name(name),
                _full(name, p.value, system),
                "+- " + _full(name, p.plus_minus, system, difference=True),
                most,
            )
        )
    return _table_of("Figures with their tolerance", ["", "value", "", "mostly from"], rows)
