"""Hostile files, each through the library and through the command line: a plain refusal, always.

The count of what went through is printed and asserted, and stands in DEVELOPERS.md.
"""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable, Iterable
from contextlib import chdir
from pathlib import Path
from typing import Any

import hostile_files as h
import numpy as np
import pytest

from n2osim.cli import main
from n2osim.errors import LogError, N2OSimError, ScenarioError
from n2osim.fit.logs import read_log
from n2osim.scenario.file import load, loads
from n2osim.scenario.scenario import Scenario
from n2osim.studies.checkpoint import Checkpoint, CheckpointError

SCENARIOS, LOGS = 1200, 800  # spoiled copies; the corpus by hand comes on top
READERS = ("check", "simulate", "chart", "sheet", "size", "compare", "study", "day")


def command(name: str, file: str) -> list[str]:
    """A command line of each kind that reads a scenario file."""
    return {
        "check": ["check", file],
        "simulate": ["simulate", file],
        "chart": ["chart", "--file", file],
        "sheet": ["sheet", file, "out.html"],
        "size": ["size", "heater", file],
        "compare": ["compare", file],
        "study": ["study", file, "--vary", "fill=3,4"],
        "day": ["day", file],
    }[name]


def said(capsys: Any, arguments: list[str]) -> str:
    """Standard error of a command that must refuse: exit code 1, one line, no traceback."""
    code = main(arguments)
    shown = capsys.readouterr()
    assert code == 1, (arguments, code, shown.err)
    assert "Traceback" not in shown.out + shown.err
    # Hostile text may itself hold line ends and escapes: they must not reach the terminal raw.
    lines = shown.err.rstrip("\n").split("\n")
    assert len(lines) == 1 and lines[0].startswith("n2osim: "), lines
    assert all(c.isprintable() for c in lines[0]), lines
    assert len(lines[0]) < 2000
    return lines[0]


def scenario_error(path: Path) -> ScenarioError | None:
    """The refusal of a scenario file by the library; None when it makes a sound scenario."""
    try:
        made = load(path)
    except ScenarioError as error:
        assert error.file == str(path)
        assert error.line is None or error.line >= 1
        return error
    assert isinstance(made, Scenario) and loads(made.to_toml()) == made
    return None


# --- scenario files ------------------------------------------------------------------------------
@pytest.mark.parametrize("name", h.BY_HAND)
def test_by_hand_through_the_library_and_every_command(name: str, tmp_path: Path, capsys) -> None:
    path = tmp_path / "hostile.toml"
    path.write_bytes(h.BY_HAND[name])
    error = scenario_error(path)
    assert error is not None
    with chdir(tmp_path):
        for reader in READERS:
            line = said(capsys, command(reader, str(path)))
            assert "hostile.toml" in line
            if error.line is not None:
                assert f"line {error.line}" in line
        assert sorted(os.listdir(tmp_path)) == ["hostile.toml"]  # nothing was written


def test_all_but_whole_file_refusals_name_a_line(tmp_path: Path) -> None:
    """Where no line is named, the message is about the file as a whole."""
    path = tmp_path / "x.toml"
    whole = (
        "larger than",
        "cannot be read",
        "schema version",
        "at the end",
        "nested deeper",
        "not valid TOML",
        "needs",
        "is missing",
        "no bottle",
        "at least one bottle",
        "bottle name",  # of another bottle: one of two tables is wrong, it cannot be known which
    )
    for name, data in h.BY_HAND.items():
        path.write_bytes(data)
        error = scenario_error(path)
        assert error is not None
        assert error.line is not None or any(w in str(error) for w in whole), (name, str(error))


@pytest.mark.parametrize(
    "count", [SCENARIOS // 10, pytest.param(SCENARIOS, marks=pytest.mark.campaign)]
)
def test_spoiled_scenario_files(count: int, tmp_path: Path, capsys) -> None:
    refused = accepted = 0
    path = tmp_path / "hostile.toml"
    for data in h.mutated_scenarios(count):
        path.write_bytes(data)
        error = scenario_error(path)
        if error is None:
            accepted += 1
            assert main(["check", str(path)]) in (0, 3)  # 3: its run has a danger in it
            capsys.readouterr()
        else:
            refused += 1
            line = said(capsys, ["check", str(path)])
            assert "hostile.toml" in line
    print(f"spoiled scenario files: {refused} refused, {accepted} sound, 0 tracebacks")
    assert refused > count // 2 and accepted > 0


# --- logs ----------------------------------------------------------------------------------------
def log_error(path: Path) -> N2OSimError | None:
    """The refusal of a log by the library; None when it reads as a sound log."""
    try:
        log = read_log(path)
    except LogError as error:
        assert error.file == str(path)
        return error
    assert len(log) >= 2 and np.isfinite(log.time).all() and np.all(np.diff(log.time) >= 0.0)
    assert all(not np.isinf(v).any() for v in log.channels.values())
    return None


def fit_refuses(capsys: Any, scenario: Path, path: Path) -> None:
    line = said(capsys, ["fit", str(scenario), str(path), "--free", "heater_power"])
    assert path.name in line


def spoiled_logs(tmp_path: Path, capsys: Any, all_data: Iterable[bytes]) -> tuple[int, int]:
    scenario, path = tmp_path / "car.toml", tmp_path / "hostile.csv"
    scenario.write_text(h.PLAIN)
    refused = accepted = 0
    for data in all_data:
        path.write_bytes(data)
        if log_error(path) is None:
            accepted += 1
        else:
            refused += 1
            fit_refuses(capsys, scenario, path)
    return refused, accepted


def test_logs_by_hand(tmp_path: Path, capsys) -> None:
    refused, accepted = spoiled_logs(tmp_path, capsys, h.LOGS_BY_HAND.values())
    assert refused + accepted == len(h.LOGS_BY_HAND)
    assert refused >= 18


@pytest.mark.parametrize("count", [LOGS // 10, pytest.param(LOGS, marks=pytest.mark.campaign)])
def test_spoiled_logs(count: int, tmp_path: Path, capsys) -> None:
    refused, accepted = spoiled_logs(tmp_path, capsys, h.mutated_logs(count))
    print(f"spoiled logs: {refused} refused, {accepted} sound, 0 tracebacks")
    assert refused > count // 10 and accepted > count // 10


def test_what_is_no_file_at_all(tmp_path: Path, capsys) -> None:
    scenario = tmp_path / "car.toml"
    scenario.write_text(h.PLAIN)
    loop = tmp_path / "loop"
    loop.symlink_to(loop)
    for path in (tmp_path, tmp_path / "not there", loop, Path("nul\0byte"), Path("x" * 5000)):
        with pytest.raises(ScenarioError):
            load(path)
        with pytest.raises(N2OSimError):
            read_log(path)
        code = main(["check", str(path)])
        assert code == 1 and "Traceback" not in capsys.readouterr().err
        code = main(["fit", str(scenario), str(path), "--free", "heater_power"])
        assert code == 1 and "Traceback" not in capsys.readouterr().err


def test_the_size_of_the_corpus() -> None:
    """What DEVELOPERS.md says."""
    total = len(h.BY_HAND) + len(h.LOGS_BY_HAND) + SCENARIOS + LOGS
    said = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"{total:,} hostile files" in said
    assert total > 2000


# --- nothing is executed -------------------------------------------------------------------------
def test_no_file_runs_code(tmp_path: Path, capsys) -> None:
    """A pickle in the place of every file that the program reads: refused, and never loaded."""
    marker = tmp_path / "it ran"
    quoted = f"'{marker}'"
    scenario = tmp_path / "car.toml"
    scenario.write_text(h.PLAIN)
    for data in (h.bomb(quoted), h.bomb_npz(quoted)):
        path = tmp_path / "bomb"
        path.write_bytes(data)
        assert scenario_error(path) is not None
        assert log_error(path) is not None
        said(capsys, ["simulate", str(path)])
        fit_refuses(capsys, scenario, path)
    assert not marker.exists()
    pickle.loads(h.bomb(quoted))
    assert marker.exists()  # the trap is live: only not loading it kept it shut


@pytest.mark.parametrize("spoil", ["pickle", "object array", "text", "manifest"])
def test_no_checkpoint_runs_code(spoil: str, tmp_path: Path, capsys) -> None:
    marker = tmp_path / "it ran"
    quoted = f"'{marker}'"
    folder = tmp_path / "study"
    scenario = tmp_path / "car.toml"
    scenario.write_text(h.PLAIN)
    study = ["study", str(scenario), "--vary", "fill=3 kg,3.1 kg", "--checkpoint", str(folder)]
    assert main(study) == 0
    piece = next(folder.glob("members-*.npz"))
    if spoil == "manifest":
        (folder / "manifest.json").write_bytes(h.bomb(quoted))
    else:
        piece.write_bytes(
            {"pickle": h.bomb(quoted), "object array": h.bomb_npz(quoted), "text": b"x"}[spoil]
        )
    capsys.readouterr()
    if spoil == "manifest":
        assert str(folder) in said(capsys, study)
        with pytest.raises(CheckpointError):
            list(Checkpoint(folder, "another", {}).load())
    else:
        # Put aside with a warning of one line, and computed again.
        assert main(study) == 0
        (line,) = capsys.readouterr().err.splitlines()
        assert str(piece) in line and "computed again" in line
        assert piece.exists() and piece.with_suffix(".damaged").exists()
    assert not marker.exists()


def test_no_loading_code_in_the_package() -> None:
    """Nothing that turns data into code, and no pickle of a file, anywhere in the package.

    One process is started: this package's own compiler of kernels, with no word of a file in it.
    """
    import n2osim

    root = Path(n2osim.__file__).parent
    for file in root.rglob("*.py"):
        text = file.read_text(encoding="utf-8")
        for word in (
            "pickle.load",
            "eval(",
            "exec(",
            "allow_pickle=True",
            "yaml.load",
            "marshal",
            "shelve",
            "os.system",
            "subprocess",
            "joblib",
        ):
            if (file.name, word) != ("prepare.py", "subprocess"):
                assert word not in text.replace(".eval(", ""), (file, word)


# --- nothing is overwritten ----------------------------------------------------------------------
WRITING: dict[str, tuple[Callable[[str], list[str]], str]] = {
    "new": (lambda out: ["new", out], ".toml"),
    "simulate --json": (lambda out: ["simulate", "car.toml", "--quiet", "--json", out], ".json"),
    "simulate --csv": (lambda out: ["simulate", "car.toml", "--quiet", "--csv", out], ".csv"),
    "simulate --plot": (lambda out: ["simulate", "car.toml", "--quiet", "--plot", out], ".png"),
    "demo --json": (lambda out: ["demo", "--quiet", "--json", out], ".json"),
    "chart --csv": (lambda out: ["chart", "--csv", out], ".csv"),
    "chart --plot": (lambda out: ["chart", "--plot", out], ".png"),
    "sheet": (lambda out: ["sheet", "car.toml", out], ".html"),
    "size --json": (lambda out: ["size", "passes", "car.toml", "--json", out], ".json"),
    "compare --csv": (lambda out: ["compare", "car.toml", "--csv", out], ".csv"),
    "study --csv": (lambda out: ["study", "car.toml", "--vary", "fill=3,4", "--csv", out], ".csv"),
    "day --csv": (lambda out: ["day", "car.toml", "--csv", out], ".csv"),
    "fit --save": (
        lambda out: ["fit", "car.toml", "log.csv", "--free", "heater_power", "--save", out],
        ".toml",
    ),
    "fit --json": (
        lambda out: ["fit", "car.toml", "log.csv", "--free", "heater_power", "--json", out],
        ".json",
    ),
}


@pytest.mark.parametrize("name", WRITING)
def test_every_writing_command_refuses_to_clobber(name: str, tmp_path: Path, capsys) -> None:
    """Before any work: an existing file, a directory, a directory that is not there."""
    make, ending = WRITING[name]
    (tmp_path / "car.toml").write_text(h.PLAIN)
    (tmp_path / "log.csv").write_text(h.LOG)
    kept = tmp_path / f"kept{ending}"
    kept.write_text("mine")
    (tmp_path / f"folder{ending}").mkdir()
    with chdir(tmp_path):
        for target in (kept.name, f"./sub/../{kept.name}", f"folder{ending}", f"nowhere/x{ending}"):
            line = said(capsys, make(target))
            assert target in line or "no directory" in line
        link = tmp_path / f"link{ending}"
        link.symlink_to(kept)
        assert link.name in said(capsys, make(link.name))
    assert kept.read_text() == "mine"
    assert not (tmp_path / "nowhere").exists()


def test_an_output_never_overwrites_an_input(tmp_path: Path, capsys) -> None:
    """Nor do two outputs of one command share a file."""
    car = tmp_path / "car.toml"
    car.write_text(h.PLAIN)
    with chdir(tmp_path):
        said(capsys, ["simulate", "car.toml", "--json", "car.toml"])
        said(capsys, ["simulate", "car.toml", "--json", "x", "--csv", "./x"])
    assert car.read_text() == h.PLAIN


def test_library_writers_do_not_clobber(tmp_path: Path) -> None:
    import n2osim as n2
    from n2osim.errors import InputError
    from n2osim.report.sheet import write_sheet

    scenario = loads(h.PLAIN.replace("10 min", "1 min"))
    run = n2.simulate(scenario)
    study = n2.run_ensemble([scenario])
    kept = tmp_path / "kept"
    kept.write_text("mine")
    for write in (run.to_json, run.to_csv, scenario.to_toml, study.to_csv, study.to_parquet):
        with pytest.raises(InputError, match=r"overwrite"):
            write(kept)
    page = tmp_path / "kept.html"
    page.write_text("mine")
    with pytest.raises(InputError, match=r"overwrite"):
        write_sheet(scenario, page)
    assert kept.read_text() == page.read_text() == "mine"
    run.to_csv(kept, overwrite=True)
    assert kept.read_text() != "mine"


def test_names_in_files_are_never_paths(tmp_path: Path, capsys) -> None:
    """Titles, names and labels that look like paths, markup or terminal codes stay text."""
    path = tmp_path / "car.toml"
    evil = "../../../tmp/n2osim-evil<script>alert(1)</script>"
    text = h.PLAIN.replace("schema = 1", f'schema = 1\ntitle = "{evil}"').replace("10 min", "1 min")
    path.write_text(text.replace("[heater]", f'name = "{evil[:40]}"\n[heater]'))
    with chdir(tmp_path):
        assert main(["simulate", "car.toml", "--json", "o.json", "--csv", "o.csv"]) == 0
        assert main(["sheet", "car.toml", "o.html"]) == 0
    assert sorted(os.listdir(tmp_path)) == ["car.toml", "o.csv", "o.html", "o.json"]
    assert "<script>" not in (tmp_path / "o.html").read_text()
    capsys.readouterr()
