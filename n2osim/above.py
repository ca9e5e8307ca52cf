"""What stands above the place that offers it: the one registration of upward calls.

Imports point one way (the contract in ``pyproject.toml``). A run can still show itself, a scenario
read its file and a bottle name its presets: such methods look up here who does it, and load that
when first asked. Nothing else may reach upwards.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import Any

ABOVE = {
    "bottle_builders": "n2osim.hardware.build",
    "with_fields": "n2osim.scenario.fields:with_fields",
    "load": "n2osim.scenario.file:load",
    "dump": "n2osim.scenario.file:dump",
    "simulate": "n2osim.results.run:simulate",
    "load_extensions": "n2osim.extend:load",
    "remedies": "n2osim.answers.remedies:remedies",
    "summary": "n2osim.report.text:summary",
    "summary_html": "n2osim.report.text:summary_html",
    "write_json": "n2osim.report.export:write_json",
    "read_json": "n2osim.report.export:read_json",
    "write_csv": "n2osim.report.export:write_csv",
    "dataframe": "n2osim.report.export:dataframe",
    "xarray_of": "n2osim.report.export:xarray_of",
    "plot_shells": "n2osim.plot:shells",
    "plot_residuals": "n2osim.plot:residuals",
}
"""Name -> module and what it is called there (the module itself where nothing follows)."""

FIGURES = {
    "run": "n2osim.report.plots_run:plot_run",
    "hold": "n2osim.report.plots_run:plot_hold",
    "pass": "n2osim.report.plots_pass:plot_pass",
    "rounds": "n2osim.report.plots_run:plot_rounds",
    "wall": "n2osim.report.plots_wall:plot_wall_profile",
    "chart": "n2osim.report.plots_chart:plot_pressure_chart",
}
"""Figures of a run by name, as ``run.plot("pass")`` and ``--figure`` know them."""


def above(name: str, among: Mapping[str, str] = ABOVE) -> Any:
    """What is registered under ``name`` in :data:`ABOVE` (or :data:`FIGURES`)."""
    module, _, attribute = among[name].partition(":")
    found = import_module(module)
    return getattr(found, attribute) if attribute else found
