"""What every test run does: compare the checks of verification.py with their page, or write it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import verification_page
from hypothesis import settings
from verification import RECORDS, Check

# Kernels that are not on disk are compiled as they are called, not in the background.
os.environ.setdefault("N2OSIM_KERNELS", "compiled")
# The same examples on every run; others are looked for with --hypothesis-profile default.
settings.register_profile("same", derandomize=True)
settings.load_profile("same")
# One width of text, whatever terminal or worker process a run has.
os.environ["COLUMNS"] = "100"
_MERGED = pytest.StashKey[list[str]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--write-verification",
        action="store_true",
        help="write n2osim/docs/verification.md from this run instead of comparing with it",
    )


def pytest_configure(config: pytest.Config) -> None:
    if getattr(config.option, "dist", "no") == "load":  # -n: a worker that is done takes over some
        config.option.dist = "worksteal"
    config.addinivalue_line(
        "markers", "campaign: long; left out unless asked for with -m campaign (.ci/run does)"
    )
    config.addinivalue_line(
        "markers", "verification: its module measures rows of n2osim/docs/verification.md"
    )


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test of a module that declares a check."""
    for item in items:
        # By the name, so that checks in a module's tables count as well as those it names.
        if getattr(getattr(item, "module", None), "Check", None) is Check:
            item.add_marker("verification")


# --- several processes (pytest -n) ---------------------------------------------------------------
def _fields(check: Check) -> dict[str, Any]:
    return {name: getattr(check, name) for name in Check.__dataclass_fields__}


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_setupnodes(config: pytest.Config) -> None:
    """Compile once, before several workers would do the same side by side."""
    subprocess.run(
        [sys.executable, "-m", "n2osim.compile_kernels"], cwd=config.rootpath, check=False
    )


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any, error: object) -> None:
    """Take in what a worker measured."""
    for fields, worst, tests in getattr(node, "workeroutput", {}).get("verification", []):
        check = Check(**fields)
        RECORDS[check].merge(worst, tests)


# --- the end of a run ----------------------------------------------------------------------------
def _whole(config: pytest.Config) -> bool:
    """Whether every test of the paths given was to run."""
    option = config.option
    chosen = (
        option.keyword,
        getattr(option, "lf", False),
        option.deselect,
        option.markexpr not in ("", "not campaign", "verification"),
        option.ignore,
        option.ignore_glob,
        option.collectonly,
    )
    return not any(chosen) and not any("::" in str(a) for a in config.args)


def _paths(config: pytest.Config) -> list[str]:
    root = config.rootpath
    full = [(config.invocation_params.dir / str(a)).resolve() for a in config.args]
    return [p.relative_to(root).as_posix() for p in full if p.is_relative_to(root)]


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    config = session.config
    if hasattr(config, "workeroutput"):
        config.workeroutput["verification"] = [
            [_fields(c), r.worst, sorted(r.tests)] for c, r in RECORDS.items()
        ]
        return
    if exitstatus != 0 or not RECORDS:
        return
    problems = (_write if config.option.write_verification else _compare)(config)
    if problems:
        config.stash[_MERGED] = problems
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def _compare(config: pytest.Config) -> list[str]:
    page = verification_page.PAGE
    rows = verification_page.read(page.read_text("utf-8") if page.exists() else "")
    return verification_page.differences(RECORDS, rows, _whole(config), _paths(config))


def _write(config: pytest.Config) -> list[str]:
    """Write the page: all of it, or of a run of some modules the rows that these measured."""
    here = Path(__file__).parent
    declared = {
        p.relative_to(here.parent).as_posix()
        for p in here.rglob("test_*.py")
        if "\nfrom verification import Check\n" in p.read_text("utf-8")
    }
    if not _whole(config):
        return ["not written: only some tests of a module were chosen"]
    page, rows = verification_page.PAGE, verification_page.measured(RECORDS)
    if declared - {t.partition("::")[0] for r in RECORDS.values() for t in r.tests}:
        rows = verification_page.merged(verification_page.read(page.read_text("utf-8")), rows)
    page.write_text(verification_page.page(rows), "utf-8", newline="\n")
    return []


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    problems = config.stash.get(_MERGED, [])
    if problems:
        terminalreporter.section("n2osim/docs/verification.md is out of date", red=True)
        for line in problems:
            terminalreporter.line(line)
        terminalreporter.line(f"run: {verification_page.COMMAND}")
