"""The figures of README and model page: ``python -m n2osim.docs.make_figures [DIRECTORY]``.

Each figure is a function of no arguments that returns matplotlib Axes; the file has its name.
Every scenario in them is invented.
"""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Callable
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import n2osim as n2

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DIRECTORY = Path(__file__).parent / "figures"
DPI = 110  # wide enough for a screen, small enough to ship


@lru_cache(maxsize=1)
def demo() -> n2.Run:
    """The built-in demonstration, carried out."""
    return n2.simulate(n2.Scenario.from_toml(str(files("n2osim") / "data" / "demo.toml")))


@lru_cache(maxsize=1)
def carbon() -> n2.Run:
    """The demonstration's hold with a polymer-lined carbon bottle in place of the metal one."""
    scenario = demo().scenario
    fitted = scenario.bottles[0]
    bottle = n2.Bottle.preset("carbon-polymer", capacity="10 lb")
    changed = dataclasses.replace(fitted, bottle=bottle)
    return n2.simulate(scenario.replace(bottles=(changed,), title="Demo, carbon bottle (invented)"))


def pressure_chart() -> Axes:
    """Pressure by temperature and charge of the demonstration's bottle."""
    return n2.plot.chart(demo())


def demo_run() -> Axes:
    """The whole demonstration."""
    return n2.plot.run(demo())


def demo_pass() -> Axes:
    """Its first pass."""
    return n2.plot.pass_(demo())


def wall_profile() -> Axes:
    """Temperature through a composite wall."""
    return n2.plot.wall(carbon())


def shells() -> Axes:
    """Carbon against metal with the demonstration's bottle size, heater and air."""
    return n2.plot.shells(n2.compare_shells(demo().scenario))


FIGURES: dict[str, Callable[[], Axes]] = {
    f.__name__: f for f in (pressure_chart, demo_run, demo_pass, wall_profile, shells)
}


def main(directory: Path = DIRECTORY, dark: bool = False) -> list[Path]:
    """Write all figures as PNG, ``dark`` for a dark page as "NAME-dark.png"; returns the paths."""
    import matplotlib

    matplotlib.use("Agg")
    directory.mkdir(parents=True, exist_ok=True)
    written = []
    for name, make in FIGURES.items():
        path = directory / f"{name}{'-dark' if dark else ''}.png"
        ax = make()
        figure = (n2.plot.dark(ax) if dark else ax).get_figure(root=True)
        assert figure is not None
        colour = figure.get_facecolor()
        figure.savefig(path, dpi=DPI, metadata={"Software": None}, facecolor=colour)
        written.append(path)
    return written


if __name__ == "__main__":
    for made in main(Path(sys.argv[1]) if len(sys.argv) > 1 else DIRECTORY):
        print(made)
