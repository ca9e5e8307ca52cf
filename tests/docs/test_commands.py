"""Every command and every piece of code in README and how-to is pasted and run."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import re
import shlex
from functools import cache

import matplotlib
import matplotlib.pyplot as plt
import pytest
from notebook_tools import differences
from page_tools import PAGES, ROOT, SETUP, _shell, blocks, carried_out

import n2osim

matplotlib.use("Agg")


@pytest.mark.campaign
@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_what_the_page_shows_runs_and_prints_what_it_says(page, tmp_path):
    text = page.read_text(encoding="utf-8")
    count = 0
    for block, printed in carried_out(text, tmp_path):
        assert block.language in ("sh", "python", "toml", "text"), block
        count += block.language in ("sh", "python")
        if block.language == "text":
            kept = "\n".join(line.rstrip() for line in printed.rstrip().splitlines()) + "\n"
            wrong = differences(block.text, kept)
            assert not wrong, "run: python tests/docs/page_tools.py\n" + "\n".join(wrong)
    assert count >= 2


def test_readme_has_its_two_commands_first():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    notes = [b.note for b in blocks(text)]
    assert notes[:2] == list(SETUP)
    assert text.index("**The job.**") < text.index("```")


def test_end_of_the_demo_command(tmp_path):
    """The set-up in front of it is what every run of the tests has already done."""
    demo = blocks((ROOT / "README.md").read_text(encoding="utf-8"))[0].text
    command = demo.strip().split("&&")[-1].strip()
    assert command.startswith(".venv/bin/n2osim ")
    printed = _shell(command.removeprefix(".venv/bin/"), tmp_path)
    assert "IN SHORT" in printed and "CAUTIONS" in printed


def test_every_command_that_the_help_lists_is_in_the_how_to(tmp_path):
    listed = re.findall(r"^    (\w+) ", _shell("n2osim --help", tmp_path), re.MULTILINE)
    text = (ROOT / "n2osim" / "docs" / "how-to.md").read_text(encoding="utf-8")
    used = {
        shlex.split(line)[1]
        for block in blocks(text)
        if block.language == "sh"
        for line in block.text.splitlines()
        if line.startswith("n2osim ")
    }
    assert set(listed) - {"demo"} <= used


def modules() -> list[str]:
    names = [m.name for m in pkgutil.walk_packages(n2osim.__path__, "n2osim.")]
    return ["n2osim", *(n for n in names if not n.endswith("__main__"))]


@pytest.mark.parametrize("name", modules())
def test_doctests(name):
    """Examples in docstrings are true (modules without any pass trivially, and import)."""
    result = doctest.testmod(importlib.import_module(name), verbose=False)
    plt.close("all")
    assert result.failed == 0


@cache
def with_examples(module: str) -> set[str]:
    """What of a module :func:`test_doctests` finds examples of."""
    found = doctest.DocTestFinder().find(importlib.import_module(module))
    return {test.name for test in found if test.examples}


def test_every_public_function_class_and_figure_has_an_example():
    public = {name: getattr(n2osim, name) for name in dir(n2osim)}
    public |= {f"plot.{name}": getattr(n2osim.plot, name) for name in n2osim.plot.__all__}
    things = {name: inspect.unwrap(thing) for name, thing in public.items() if callable(thing)}
    assert {"simulate", "Bottle", "plot.run"} <= set(things)
    without = {
        name
        for name, thing in things.items()
        if f"{thing.__module__}.{thing.__qualname__}" not in with_examples(thing.__module__)
    }
    assert not without
