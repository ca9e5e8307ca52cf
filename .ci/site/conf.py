"""The documentation site: Sphinx over the pages of n2osim/docs and the docstrings."""

import os
import re
import sys
from typing import Any

sys.path.insert(0, os.environ["N2OSIM_ROOT"])

from sphinx.ext.napoleon import Config, NumpyDocstring

import n2osim

project = "n2osim"
author = "n2osim contributors"
version = release = n2osim.__version__
extensions = ["myst_parser", "sphinx.ext.autodoc"]
myst_heading_anchors = 4
myst_enable_extensions = ["attrs_inline"]
suppress_warnings = ["ref.python"]  # a name in backticks that two classes have
html_theme = "furo"
html_title = f"n2osim {version}"
html_copy_source = False
autodoc_member_order = "bysource"
autodoc_typehints = "signature"
add_module_names = False

_ENTRY = re.compile(r"[A-Za-z_][\w, ]* : ")
_MORE = re.compile(r"(([A-Za-z_][\w, ]* : | {4}).*(\n|$))+\Z")


def tidy(app: Any, what: str, name: str, obj: Any, options: Any, lines: list[str]) -> None:
    """Entries ("name : words") under one heading behind the text, as napoleon wants them."""
    paragraphs = "\n".join(lines).split("\n\n")
    paragraphs = [p.removeprefix("Parameters\n----------\n") for p in paragraphs]
    entries = [p for p in paragraphs if _ENTRY.match(p) and _MORE.match(p)]
    if entries:
        text = [p for p in paragraphs if p not in entries]
        # What follows the colon here are words; napoleon would take them for a type.
        apart = re.sub(r"(?m)^([A-Za-z_][\w, ]*) : ", r"\1\n    ", "\n".join(entries))
        heading = "Parameters\n----------\n" + apart
        lines[:] = "\n\n".join([*text, heading, ""]).split("\n")
    for i, line in enumerate(lines):  # a trailing underscore would be a link
        lines[i] = re.sub(r"(?<![`\w])(\w+)_(?=[\s:,.])", r"\1\\_", line)

    if what not in ("property", "attribute"):  # in whose sentences it takes a colon for a type's
        lines[:] = NumpyDocstring(lines, Config(), app, what, name, obj, options).lines()


def setup(app: Any) -> None:
    """Called by Sphinx."""
    app.connect("autodoc-process-docstring", tidy)
