"""Figures: ``plot_*(run_or_study, ax=None) -> Axes``, one look (:mod:`n2osim.report.style`).

Without ``ax`` a new figure is made (``width`` in inches; ``style.PHONE`` suits a phone). The main
Axes are returned: ``plot_run(run).figure.savefig("run.png")``.
"""

from n2osim.report.plots_chart import plot_pressure_chart
from n2osim.report.plots_pass import plot_pass
from n2osim.report.plots_run import plot_hold, plot_rounds, plot_run
from n2osim.report.plots_studies import plot_bands, plot_residuals, plot_sensitivity, plot_shells
from n2osim.report.plots_wall import plot_wall_profile

__all__ = [
    "plot_bands",
    "plot_hold",
    "plot_pass",
    "plot_pressure_chart",
    "plot_residuals",
    "plot_rounds",
    "plot_run",
    "plot_sensitivity",
    "plot_shells",
    "plot_wall_profile",
]
