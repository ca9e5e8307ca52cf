"""Each place where a command touches the disk or a stream is made to fail in turn.

What is checked is what a person is told: one line, in words, that names the file or the output and
the system's own reason (from ``os.strerror``), the exit status, and that nothing half-written or
stray is left behind.
"""

from __future__ import annotations

import builtins
import errno
import io
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest

from n2osim.cli import FAULT, OK, USER_MISTAKE, main

SCENARIO = """\
schema = 1
title = "A short hold"
[bottle]
preset = "steel"
capacity = "10 lb"
fill = "7 lb"
start = "75 degF"
[heater]
power = "250 W"
[switch]
closes = "820 psig"
opens = "880 psig"
[ambient]
temperature = "70 degF"
[[schedule]]
kind = "hold"
duration = "3 min"
"""
COMMANDS = {
    "new": ["new", "{out}.toml"],
    "check": ["check", "{in}"],
    "json": ["simulate", "{in}", "--quiet", "--json", "{out}.json"],
    "csv": ["simulate", "{in}", "--quiet", "--csv", "{out}.csv"],
    "plot": ["simulate", "{in}", "--quiet", "--plot", "{out}.png"],
    "chart": ["chart", "--file", "{in}", "--csv", "{out}.csv"],
    "sheet": ["sheet", "{in}", "{out}.html"],
    "study": ["study", "{in}", "--vary", "fill=6 lb,7 lb", "--csv", "{out}.csv"],
}
WORKING = "n2osim: working ...\n"  # on a machine so busy that the command takes long
REASONS = (errno.ENOSPC, errno.EACCES, errno.EIO)
CALLS = ((builtins, "open"), (os, "replace"), (os, "chmod"), (tempfile, "mkstemp"))


class Injector:
    """Counts calls that touch ``folder`` and makes number ``fail_at`` of them fail."""

    def __init__(self, patch: pytest.MonkeyPatch, folder: Path, fail_at: int, reason: int) -> None:
        self.folder, self.fail_at, self.reason, self.count = str(folder), fail_at, reason, 0
        for module, name in CALLS:
            patch.setattr(module, name, self._wrap(getattr(module, name)))
        patch.setattr(io, "open", builtins.open)

    def _wrap(self, function: Any) -> Any:
        def wrapped(*args: Any, **options: Any) -> Any:
            if any(str(a).startswith(self.folder) for a in (*args, *options.values())):
                self.count += 1
                if self.count == self.fail_at:
                    where = args[0] if args else options.get("dir")
                    raise OSError(self.reason, os.strerror(self.reason), str(where))
            return function(*args, **options)

        return wrapped


def run(
    folder: Path, command: str, fail_at: int, reason: int, capsys: pytest.CaptureFixture[str]
) -> tuple[int, int, str]:
    """(exit status, calls counted, standard error) of a command with one call failing."""
    source = folder / "car.toml"
    source.write_text(SCENARIO)
    words = [w.format(**{"in": source, "out": folder / "result"}) for w in COMMANDS[command]]
    capsys.readouterr()
    with pytest.MonkeyPatch.context() as patch:
        injector = Injector(patch, folder, fail_at, reason)
        status = main(words)
    return status, injector.count, capsys.readouterr().err


SLOW = ("plot", "sheet")


@pytest.mark.parametrize(
    "command", [pytest.param(c, marks=pytest.mark.campaign if c in SLOW else ()) for c in COMMANDS]
)
def test_each_call_site_failing_in_turn(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    quiet = tmp_path / "quiet"
    quiet.mkdir()
    status, sites, told = run(quiet, command, 0, 0, capsys)
    assert status == OK, told
    assert sites >= 1
    for k in range(1, sites + 1):
        for reason in REASONS:
            folder = tmp_path / f"{k}-{errno.errorcode[reason]}"
            folder.mkdir()
            status, _, told = run(folder, command, k, reason, capsys)
            left = {p.name for p in folder.iterdir()} - {"car.toml"}
            assert status == USER_MISTAKE, (k, reason, told)
            told = told.removeprefix(WORKING)
            assert told.startswith("n2osim: ") and told.count("\n") == 1, told
            assert os.strerror(reason).lower() in told.lower(), told
            assert str(folder) in told, told
            assert not left, f"left behind: {left}"


class Broken(io.StringIO):
    """A standard output that fails with ``reason`` at the first write."""

    def __init__(self, reason: int) -> None:
        super().__init__()
        self.reason = reason

    def write(self, text: str) -> int:
        raise OSError(self.reason, os.strerror(self.reason))


@pytest.mark.parametrize("words", [["check", "{in}"], ["simulate", "{in}"], ["new", "-"]])
@pytest.mark.parametrize("reason", [errno.ENOSPC, errno.EIO])
def test_standard_output_that_fails(
    words: list[str],
    reason: int,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    source = tmp_path / "car.toml"
    source.write_text(SCENARIO)
    monkeypatch.setattr(sys, "stdout", Broken(reason))
    assert main([w.format(**{"in": source}) for w in words]) == USER_MISTAKE
    told = capsys.readouterr().err
    assert "its output" in told and os.strerror(reason) in told and told.count("\n") == 1


def test_a_reader_that_goes_away_is_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    class Gone(Broken):
        def write(self, text: str) -> int:
            raise BrokenPipeError(errno.EPIPE, os.strerror(errno.EPIPE))

    monkeypatch.setattr(sys, "stdout", Gone(errno.EPIPE))
    assert main(["new", "-"]) == OK


def test_output_never_replaces_its_own_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = tmp_path / "car.toml"
    source.write_text(SCENARIO)
    link = tmp_path / "same.toml"
    link.symlink_to(source)
    for target in (source, link, tmp_path / "." / "car.toml"):
        words = ["simulate", str(source), "--json", str(target), "--overwrite"]
        assert main(words) == USER_MISTAKE
        assert "would destroy what you gave" in capsys.readouterr().err
    assert source.read_text() == SCENARIO


def test_only_plain_files_are_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path, why in (
        (tmp_path / "pipe", "pipe"),
        (Path("/dev/null"), "device"),
        (tmp_path, "directory"),
        (tmp_path / "none", "no such file"),
    ):
        assert main(["check", str(path)]) == USER_MISTAKE
        assert why in capsys.readouterr().err


def test_a_fault_of_the_program_is_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: Any) -> int:
        raise ZeroDivisionError("first line\nsecond line")

    monkeypatch.setattr("n2osim.cli.files.run_new", broken)
    assert main(["new", "-"]) == FAULT
    told = capsys.readouterr().err
    assert "a fault of the program" in told and told.count("\n") == 1
    monkeypatch.setenv("N2OSIM_TRACEBACK", "1")
    with pytest.raises(ZeroDivisionError):
        main(["new", "-"])
