"""Run notebooks; ``python tests/docs/notebook_tools.py`` rewrites those of the repository."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path
from typing import Any
from unittest import mock

import nbformat

NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks").glob("*.ipynb"))
INLINE = "module://matplotlib_inline.backend_inline"
TIME_LIMIT = 240
"""Seconds for one cell; the slowest takes ten on two cores once kernels are compiled."""

_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


def executed(path: Path, directory: Path) -> Any:
    """The notebook run from scratch in ``directory``, with tidy outputs."""
    from nbclient import NotebookClient  # only here: the tests of every day do without

    notebook = nbformat.read(path, as_version=4)
    where = {"metadata": {"path": str(directory)}}
    client = NotebookClient(notebook, timeout=TIME_LIMIT, kernel_name="python3", resources=where)
    # A backend set for the test run (Agg) would leave the notebooks without figures.
    with mock.patch.dict(os.environ, MPLBACKEND=INLINE, COLUMNS="100"):
        client.execute()
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
        if cell.cell_type == "code":
            cell.outputs = _merged(cell.outputs)
    return notebook


def _merged(outputs: list[Any]) -> list[Any]:
    """One stream of text where the kernel happened to flush in the middle."""
    merged: list[Any] = []
    for out in outputs:
        same = merged and out.output_type == merged[-1].output_type == "stream"
        if same and out.name == merged[-1].name:
            merged[-1].text += out.text
        else:
            merged.append(out)
    return merged


def texts(notebook: Any) -> list[str]:
    """What each code cell printed."""
    return [
        "".join(o.text for o in cell.outputs if o.output_type == "stream")
        for cell in notebook.cells
        if cell.cell_type == "code"
    ]


def images(notebook: Any) -> int:
    """Number of figures shown."""
    return sum(
        "image/png" in o.get("data", {})
        for cell in notebook.cells
        if cell.cell_type == "code"
        for o in cell.outputs
    )


def differences(old: str, new: str) -> list[str]:
    """Lines that differ by more than the last digits: words exactly, numbers by 3 % or 2 units."""
    if old.count("\n") != new.count("\n"):
        return [f"{old!r} became {new!r}"]
    return [
        f"{a!r} became {b!r}"
        for a, b in zip(old.splitlines(), new.splitlines())
        if not _alike(a, b)
    ]


def _alike(a: str, b: str) -> bool:
    if re.sub(r"\s+", " ", _NUMBER.sub("#", a)) != re.sub(r"\s+", " ", _NUMBER.sub("#", b)):
        return False
    pairs = zip(_NUMBER.findall(a), _NUMBER.findall(b))
    return all(
        abs(float(x) - float(y)) <= max(0.03 * abs(float(x)), _unit(x) * 2) for x, y in pairs
    )


def _unit(number: str) -> float:
    """Size of the last digit printed."""
    digits = number.split("e")[0].partition(".")[2]
    return float(10.0 ** -len(digits))


if __name__ == "__main__":
    for path in [Path(p) for p in sys.argv[1:]] or NOTEBOOKS:
        nbformat.write(executed(path, path.parent), path)
        print(path)
