"""Tables and numbers in the pages that code computes: ``python -m n2osim.docs.make_tables``.

A page holds ``<!-- table: NAME -->`` ... ``<!-- end of table -->``; what lies between is replaced.
So is the number in ``<!-- n: NAME -->...<!-- /n -->`` (see numbers.py). A test fails when a page is
out of date. README.md and DEVELOPERS.md are done too where they are at hand, in a checkout.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path

import n2osim as n2
from n2osim.docs import doubts, keys, numbers
from n2osim.docs.fit_coverage import counts, read
from n2osim.hardware.materials import MATERIALS
from n2osim.hardware.shells import OUTSIDE_DIAMETERS, SHELLS
from n2osim.physics.charge import leaves_saturation, temperature_for_pressure
from n2osim.physics.fuels import FUELS
from n2osim.results.quantities import GROUPS, of_group
from n2osim.units import INCH, LB, PSI, from_psig, to_degF, to_psig

HERE = Path(__file__).parent
PAGES = ("model.md", "how-to.md", "cautions.md", "quantities.md", "scenario-file.md")
ROOT_PAGES = ("README.md", "DEVELOPERS.md")
_BLOCK = re.compile(r"(<!-- table: (\w+) -->\n).*?(<!-- end of table -->)", re.DOTALL)


def _table(head: Sequence[str], body: Sequence[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *body]
    return "\n".join("| " + " | ".join(row) + " |" for row in lines) + "\n"


def materials() -> str:
    """Wall materials with status and source."""
    body = []
    for m in MATERIALS.values():
        limit = "" if m.max_temperature is None else f"{to_degF(m.max_temperature):.0f} degF"
        k = f"{m.k_radial:g} / {m.k_inplane:g}"
        body.append([m.name, k, f"{m.density:g}", f"{m.cp:g}", limit, m.status, m.source])
    head = [
        "material",
        "k through / along, W/m/K",
        "density, kg/m3",
        "cp, J/kg/K",
        "limit",
        "status",
        "source",
    ]
    return _table(head, body)


def presets() -> str:
    """What the presets weigh and hold."""
    body = []
    for shell in SHELLS:
        for size in OUTSIDE_DIAMETERS:
            b = n2.Bottle.preset(shell, f"{size} lb")
            layers = ", ".join(f"{x.material.name} {x.thickness * 1e3:.2f}" for x in b.layers)
            body.append(
                [
                    shell,
                    f"{size} lb",
                    f"{b.volume * 1e3:.2f}",
                    f"{b.outer_diameter / INCH:.2f}",
                    layers,
                    f"{b.empty_mass / LB:.1f}",
                    f"{b.heat_capacity / 1e3:.2f}",
                ]
            )
    head = [
        "shell",
        "charge",
        "water, L",
        "outside, in",
        "layers, mm (inside first)",
        "tare, lb",
        "heat capacity, kJ/K",
    ]
    return _table(head, body)


def _hold(shell: str, factor: float, blanket: float = 500.0) -> n2.Scenario:
    return n2.Scenario(
        n2.Bottle.preset(shell, "12 lb"),
        fill="12 lb",
        start="70 degF",
        ambient=n2.Ambient("70 degF"),  # type: ignore[arg-type]
        heater=n2.Heater("300 W", heat_capacity=blanket),  # type: ignore[arg-type]
        switch=n2.PressureSwitch("970 psig", "1070 psig"),
        model=n2.Model(inside_factor=factor),
        schedule=[n2.Hold("3 h")],  # type: ignore[arg-type]
    )


def inside_doubt() -> str:
    """How much hangs on the inside coefficient, and on the blanket's own heat, by shell."""
    body = []
    for shell in SHELLS:
        holds = [n2.simulate(_hold(shell, f)).holds[0] for f in (0.5, 1.0, 2.0)]
        times = " / ".join(f"{(h.warm_up_time or 0.0) / 60:.1f}" for h in holds)
        over = " / ".join(f"{(h.overshoot or 0.0) / PSI:.0f}" for h in holds)
        hot = " / ".join(f"{to_degF(h.hottest_wall):.0f}" for h in holds)
        weighed = [n2.simulate(_hold(shell, 1.0, c)).holds[0] for c in (250.0, 500.0, 1000.0)]
        stored = " / ".join(f"{(h.overshoot or 0.0) / PSI:.0f}" for h in weighed)
        body.append([shell, times, over, hot, stored])
    head = ["shell", "warm-up, min", "overshoot, psi", "hottest wall, degF"]
    return _table([*head, "overshoot by the blanket's heat capacity, psi"], body)


def charges() -> str:
    """Where each charge leaves saturation, and the temperature it needs for the usual band."""
    body = []
    for percent in (100, 90, 80, 70, 60, 50, 40, 30, 20):
        rho = 6.80 * percent
        T, how = leaves_saturation(rho)
        p = n2.fluid.saturation(T).p
        needed = [temperature_for_pressure(from_psig(x), rho, 1.0) for x in (900.0, 1000.0, 1100.0)]
        body.append(
            [
                f"{percent} %",
                f"{rho:.0f}",
                how,
                f"{to_degF(T):.1f}",
                f"{to_psig(p):.0f}",
                *(f"{to_degF(t):.1f}" for t in needed),
            ]
        )
    head = [
        "charge",
        "kg/m3",
        "heating makes it",
        "at, degF",
        "at, psig",
        "900 psig at, degF",
        "1000 psig at, degF",
        "1100 psig at, degF",
    ]
    return _table(head, body)


def fuels() -> str:
    """Fuels: heating value, stoichiometry, standing of the numbers."""
    body = [
        [
            f.name,
            f"{f.lhv / 1e6:.2f}",
            f"{f.air_fuel:.2f}",
            f"{f.n2o_fuel:.2f}",
            f"{f.density:.0f}",
            f.status,
            f.source,
        ]
        for f in FUELS.values()
    ]
    head = [
        "fuel",
        "lower heating value, MJ/kg",
        "air to fuel",
        "N2O to fuel",
        "density, kg/m3",
        "status",
        "source",
    ]
    return _table(head, body)


def fit_recovery() -> str:
    """How often the truth was inside the 95 % intervals of fits to synthetic logs."""
    body = [
        [case, parameter.replace("_", " "), str(seeds), str(covariance), str(profile)]
        for (case, parameter), (seeds, covariance, profile) in counts(read()).items()
    ]
    return _table(["log", "fitted", "seeds", "inside, covariance", "inside, profile"], body)


def evidence() -> str:
    """What kind of reference the checks of the verification page have, and which were used."""
    text = (HERE / "verification.md").read_text(encoding="utf-8")
    rows = [r[2:-2].split(" | ") for r in text.splitlines() if r.startswith("| ")]
    kinds = {r[0]: r[1] for r in rows if len(r) == 2 and r[0] != "seen"}
    checks = [(r[-5], r[-4]) for r in rows if len(r) > 2 and r[0] != "quantity"]
    body = []
    for kind, meaning in kinds.items():
        used = [u for seen, u in checks if seen == kind]
        if used:
            free = sum(u.startswith("no") for u in used)
            body.append([kind, meaning, str(free), str(len(used) - free)])
    head = [
        "how the reference was seen",
        "meaning",
        "checks, independent",
        "checks, something was chosen on it",
    ]
    return _table(head, body)


def quantities() -> str:
    """Every quantity, by what it belongs to."""
    body = [
        [f"`{q.name}`", words, q.unit, q.sentence.rstrip("."), q.missing]
        for group, words in GROUPS.items()
        for q in of_group(group)
    ]
    return _table(["name", "of", "SI unit", "what it is", "no value means"], body)


TABLES: dict[str, Callable[[], str]] = {
    f.__name__: f
    for f in (materials, presets, inside_doubt, charges, fuels, fit_recovery, evidence, quantities)
}


def _computed(make: Callable[[], list[list[str]]]) -> Callable[[], str]:
    def table() -> str:
        head, *body = make()
        return _table(head, body)

    return table


TABLES |= {
    f.__name__: _computed(f)
    for f in (
        doubts.inside_range,
        doubts.stratification,
        doubts.power_steps,
        doubts.short_jets,
        doubts.doubts,
    )
}


TABLES |= keys.TABLES


def filled(text: str) -> str:
    """A page with tables and numbers computed afresh. KeyError for one that does not exist."""
    return numbers.filled(_BLOCK.sub(lambda m: m[1] + TABLES[m[2]]() + m[3], text))


def pages() -> list[Path]:
    """The pages that hold computed tables or numbers."""
    top = HERE.parents[1]
    return [HERE / name for name in PAGES] + [
        top / name for name in ROOT_PAGES if (top / "pyproject.toml").exists()
    ]


def scenario_reference() -> str:
    """The reference of scenario files with its tables made afresh."""
    return filled((HERE / "scenario-file.md").read_text(encoding="utf-8"))


def main() -> None:
    """Rewrite the tables of every page."""
    for path in pages():
        path.write_text(filled(path.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
        print(path)


if __name__ == "__main__":
    main()
