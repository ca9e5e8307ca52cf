"""Figures: ``n2osim.plot.run(run)``, ``n2osim.plot.chart(bottle)``, ... in one look.

Each takes what it shows, then ``ax`` to draw on (without it a new figure is made, ``width`` inches
wide: ``PAGE``, or ``PHONE`` for one held upright), and returns the main Axes:
``n2osim.plot.run(run).figure.savefig("run.png")``. ``n2osim.plot.dark`` turns one that is drawn
into one for a dark page.
"""

from n2osim.report.dark import dark
from n2osim.report.plots_chart import plot_pressure_chart as chart
from n2osim.report.plots_pass import plot_pass as pass_
from n2osim.report.plots_run import plot_hold as hold
from n2osim.report.plots_run import plot_rounds as rounds
from n2osim.report.plots_run import plot_run as run
from n2osim.report.plots_studies import plot_bands as bands
from n2osim.report.plots_studies import plot_residuals as residuals
from n2osim.report.plots_studies import plot_sensitivity as sensitivity
from n2osim.report.plots_studies import plot_shells as shells
from n2osim.report.plots_wall import plot_wall_profile as wall
from n2osim.report.style import PAGE, PHONE

__all__ = [
    "PAGE",
    "PHONE",
    "bands",
    "chart",
    "dark",
    "hold",
    "pass_",
    "residuals",
    "rounds",
    "run",
    "sensitivity",
    "shells",
    "wall",
]
