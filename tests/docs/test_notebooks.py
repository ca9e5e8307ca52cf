"""Every notebook runs from scratch, shows its figures, and says what it says in the repository."""

from __future__ import annotations

import nbformat
import pytest
from notebook_tools import NOTEBOOKS, differences, executed, images, texts

QUESTIONS = (
    "size-a-heater",
    "predict-a-day",
    "carbon-against-metal",
    "learn-from-the-car",
    "weigh-and-set",
)
LINES = 60


def test_the_notebooks_are_there():
    assert set(QUESTIONS) <= {p.stem for p in NOTEBOOKS}


@pytest.mark.campaign
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_notebook_runs_and_its_outputs_are_current(path, tmp_path):
    stored = nbformat.read(path, as_version=4)
    fresh = executed(path, tmp_path)
    assert images(fresh) == images(stored) > 0
    stale = [d for old, new in zip(texts(stored), texts(fresh)) for d in differences(old, new)]
    assert not stale, "run: python tests/docs/notebook_tools.py\n" + "\n".join(stale)
    for cell in fresh.cells:
        if cell.cell_type == "code":
            assert not [o for o in cell.outputs if o.output_type == "error"]
            assert not [o for o in cell.outputs if o.get("name") == "stderr"], cell.source


@pytest.mark.parametrize(
    "path", [p for p in NOTEBOOKS if p.stem in QUESTIONS], ids=lambda p: p.stem
)
def test_notebook_ends_in_a_decision(path):
    cells = nbformat.read(path, as_version=4).cells
    assert cells[0].cell_type == cells[-1].cell_type == "markdown"
    assert "**The question.**" in cells[0].source
    assert "## Decision" in cells[-1].source


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_notebook_is_short_and_keeps_to_the_face(path):
    cells = nbformat.read(path, as_version=4).cells
    code = "\n".join(c.source for c in cells if c.cell_type == "code")
    assert len([line for line in code.splitlines() if line.strip()]) < LINES
    assert "dataclasses" not in code and "n2osim.unit_table" not in code


def test_differences_sees_changed_words_and_numbers():
    assert not differences("peak 1012 psig\n", "peak 1013 psig\n")
    assert differences("peak 1012 psig\n", "peak 1112 psig\n")
    assert differences("peak 1012 psig\n", "peak 1012 psia\n")
    assert differences("a\n", "a\nb\n")
