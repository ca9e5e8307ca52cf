"""What stands above the place that offers it: the one registration of upward calls.

Imports point one way (the contract in ``pyproject.toml``). A run can still show itself, a scenario
read its file and a bottle name its presets: such methods look up here who does it, and load that
when first asked. Nothing else may reach upwards.
"""

from __future__ import annotations

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
    "figures_of_run": "n2osim.plot:OF_RUN",
    "plot_shells": "n2osim.plot:shells",
    "plot_residuals": "n2osim.plot:residuals",
}
"""Name -> module and what it is called there (the module itself where nothing follows)."""


def above(name: str) -> Any:
    """What is registered under ``name`` in :data:`ABOVE`."""
    module, _, attribute = ABOVE[name].partition(":")
    found = import_module(module)
    return getattr(found, attribute) if attribute else found
