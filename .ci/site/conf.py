"""The documentation site: Sphinx over the pages of n2osim/docs and the docstrings."""

import os
import sys

sys.path.insert(0, os.environ["N2OSIM_ROOT"])

import n2osim

project = "n2osim"
author = "n2osim contributors"
version = release = n2osim.__version__
extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
myst_heading_anchors = 4
napoleon_google_docstring = False
suppress_warnings = ["ref.python"]  # a name in backticks that two classes have
html_theme = "furo"
html_title = f"n2osim {version}"
html_copy_source = False
autodoc_member_order = "bysource"
autodoc_typehints = "signature"
add_module_names = False
