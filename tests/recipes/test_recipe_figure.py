"""A figure of a run is a function and its name in the table, and is drawn by every way to ask."""

from __future__ import annotations

import json
from pathlib import Path

from recipe_tools import Copy

DRAWN = '''

@style.figure
def plot_charge(run: Run, ax: Axes | None = None, *, width: float = PAGE) -> Axes:
    """What is left in each bottle."""
    if ax is None:
        ax = style.new_axes(width, 0.6 * width)[0]
    for k, charge in enumerate(run["mass_kg"]):
        ax.plot(run.time, charge, label=run.scenario.bottles[k].name)
    style.label_axis(ax, "mass", "charge", axis="y")
    return ax
'''
USE = """
import json
import n2osim as n2
from n2osim.cli import main

scenario = n2.Scenario(
    n2.Bottle.preset("aluminium", "10 lb"), fill="9 lb", start="50 degF",
    ambient=n2.Ambient("50 degF"), schedule=[n2.Rest("1 s")],
)
scenario.to_toml("rest.toml")
run = n2.simulate(scenario)
ax = run.plot("charge")
status = main(["simulate", "rest.toml", "--plot", "charge.png", "--figure", "charge"])
print("\\n" + json.dumps({
    "status": status,
    "kg": list(ax.lines[0].get_ydata()[[0]]),
    "label": ax.get_ylabel(),
}))
"""


def test_a_figure_is_a_function_and_its_name(tmp_path: Path) -> None:
    copy = Copy(tmp_path)
    walls = copy.path("report/plots_wall.py")
    walls.write_text(walls.read_text(encoding="utf-8") + DRAWN, encoding="utf-8", newline="\n")
    copy.touched.add("report/plots_wall.py")
    last = '    "chart": "n2osim.report.plots_chart:plot_pressure_chart",\n'
    entry = '    "charge": "n2osim.report.plots_wall:plot_charge",\n'
    copy.replace("above.py", last, last + entry)
    assert len(copy.touched) == 2
    found = json.loads(copy.python(USE, compiled=False).splitlines()[-1])
    assert found["status"] == 0 and found["label"]
    assert abs(found["kg"][0] - 9 * 0.45359237) < 1e-9
    assert (tmp_path / "charge.png").stat().st_size > 5000
