"""The console command as a user runs it: in a process of its own, through files and pipes."""

import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from scenario_texts import SMALL

import n2osim
from n2osim.results.run import RUN_SCHEMA
from n2osim.scenario.file import load

COMMAND = Path(sys.executable).with_name("n2osim")
MODULES_AT_HELP = ("numpy", "numba", "scipy", "matplotlib", "CoolProp", "pandas", "pint", "tqdm")


def n2(*args: str, cwd: Path | None = None, stdin: str | None = None, **env: str):
    return subprocess.run(
        [str(COMMAND), *args],
        cwd=cwd,
        input=stdin,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=600,
        env=os.environ | env,
    )


def processor_time() -> float:
    """Processor time (s) of finished child processes; a busy machine does not stretch it."""
    spent = os.times()
    return spent.children_user + spent.children_system


@pytest.fixture
def small(tmp_path) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(SMALL)
    return path


# --- help and start-up -------------------------------------------------------------------------
def test_console_script_is_installed() -> None:
    assert COMMAND.exists()
    assert n2("--version").stdout.strip() == f"n2osim {n2osim.__version__}"
    module = subprocess.run(
        [sys.executable, "-m", "n2osim", "--version"], capture_output=True, text=True
    )
    assert module.stdout.strip() == f"n2osim {n2osim.__version__}"


def test_help_has_examples_and_is_quick() -> None:
    best = 9.0
    for _ in range(3):
        start = processor_time()
        shown = n2("--help", COLUMNS="80")
        best = min(best, processor_time() - start)
    assert shown.returncode == 0
    for word in ("demo", "simulate", "chart", "new", "check", "examples:", "flame"):
        assert word in shown.stdout
    assert max(len(line) for line in shown.stdout.splitlines()) <= 80
    assert best < 0.6


@pytest.mark.parametrize("command", ["demo", "simulate", "chart", "new", "check"])
def test_help_of_every_command(command: str) -> None:
    shown = n2(command, "--help")
    assert shown.returncode == 0 and command in shown.stdout


@pytest.mark.parametrize(
    "code", ["from n2osim.cli.parser import build_parser; build_parser()", "import n2osim"]
)
def test_nothing_heavy_is_imported(code: str) -> None:
    ask = f"{code}; import sys; print([m for m in {MODULES_AT_HELP!r} if m in sys.modules])"
    seen = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert seen.stdout.strip() == "[]"


def test_simulating_does_not_load_plotting_or_coolprop() -> None:
    ask = (
        "import n2osim as n, sys; n.Scenario; n.simulate; from n2osim.report import text; "
        "print([m for m in ('matplotlib', 'CoolProp', 'pandas') if m in sys.modules])"
    )
    seen = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert seen.stdout.strip() == "[]"


def test_import_takes_less_than_0_7_s() -> None:
    ask = "import time; t = time.perf_counter(); import n2osim; print(time.perf_counter() - t)"
    took = [
        float(subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True).stdout)
        for _ in range(3)
    ]
    assert min(took) < 0.7


# --- demo and simulate -------------------------------------------------------------------------
def test_demo_says_that_it_is_invented_and_writes_what_is_asked(tmp_path) -> None:
    done = n2("demo", "--json", "d.json", "--csv", "d.csv", "--plot", "d.png", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "invented" in done.stdout.splitlines()[0]
    for part in ("FINDINGS", "CAUTIONS", "HOLDS", "PASSES", "psig"):
        assert part in done.stdout
    assert sorted(os.listdir(tmp_path)) == ["d.csv", "d.json", "d.png"]
    data = json.loads((tmp_path / "d.json").read_text())
    passes = [s for s in data["segments"] if s["kind"] == "pass"]
    assert len(passes) == 2 and all(s["used"] > 0.05 for s in passes)
    holds = [s for s in data["segments"] if s["kind"] == "hold"]
    assert all(s["warm_up_time"] is not None for s in holds)
    assert (tmp_path / "d.png").read_bytes().startswith(b"\x89PNG")


def test_second_demo_takes_less_than_5_s() -> None:
    n2("demo", "--quiet")
    took = []
    for _ in range(2):
        start = processor_time()
        assert n2("demo", "--quiet").stdout == ""
        took.append(processor_time() - start)
    assert min(took) < 5.0


def test_simulate_shop_and_si(small) -> None:
    shop, si = n2("simulate", str(small)), n2("simulate", str(small), "--si")
    assert shop.returncode == si.returncode == 0
    assert "psig" in shop.stdout and "kPa gauge" in si.stdout


def test_json_to_standard_output_is_json_alone(small) -> None:
    done = n2("simulate", str(small), "--json", "-")
    assert json.loads(done.stdout)["schema"] == RUN_SCHEMA


@pytest.mark.parametrize("name", ["-", "/dev/stdin"])
def test_scenario_from_standard_input(name: str) -> None:
    done = n2("check", name, stdin=SMALL)
    assert done.returncode == 0 and "no mistakes found" in done.stdout


def test_check_says_what_is_assumed_and_doubts_bare_numbers(tmp_path) -> None:
    path = tmp_path / "own.toml"
    shell = 'outer_diameter = "7 in"\noverall_length = "20 in"\nempty_weight = "16 lb"'
    path.write_text(
        f'schema = 1\n[bottle]\n{shell}\nfill = "9 lb"\nstart = "70 degF"\n'
        '[heater]\npower = 300\n[switch]\ncloses = 900\nopens = "950 psig"\n'
        '[[schedule]]\nkind = "hold"\nduration = "1 h"\n'
    )
    said = " ".join(n2("check", str(path)).stdout.split())
    assert "switch.closes: 900 without a unit is 0.1 psig; 900 psig meant?" in said
    assert (
        "empty weight with valve 16.00 lb," in said and "neck and valve 2.09 lb (assumed)" in said
    )
    assert "heater.power" not in said


def test_results_do_not_depend_on_the_directory_or_a_hostile_one(small, tmp_path) -> None:
    # a module of the user's lying about must not be picked up
    for name in ("numpy.py", "n2osim.py", "json.py"):
        (tmp_path / name).write_text("raise SystemExit('hijacked')")
    done = n2("simulate", "small.toml", cwd=tmp_path)
    assert done.returncode == 0, done.stderr


# --- mistakes: exit code 1, one line, no traceback ---------------------------------------------
def assert_plain_mistake(done, *words: str) -> None:
    assert done.returncode == 1, (done.returncode, done.stderr)
    lines = [r for r in done.stderr.strip().splitlines() if "working ..." not in r]
    assert "Traceback" not in done.stderr
    assert len(lines) == 1 and lines[0].startswith("n2osim: ")
    for word in words:
        assert word in done.stderr


MISTAKES = [
    (SMALL.replace("preset", "prest"), ("small.toml, line 5", "'preset'")),
    (SMALL.replace("9 lb", "9 psi"), ("line 7", "mass")),
    (SMALL.replace("[bottle]", "[bottle"), ("line 4", "TOML")),
    (SMALL.replace("2 min", "-2 min"), ("line 12", "at least")),
    ("", ("schema",)),
]


@pytest.mark.parametrize("text, words", MISTAKES)
@pytest.mark.parametrize("command", ["simulate", "check"])
def test_mistakes_in_files(command: str, text: str, words: tuple, small) -> None:
    small.write_text(text)
    assert_plain_mistake(n2(command, str(small)), *words)


def test_mistakes_around_files(small, tmp_path) -> None:
    assert_plain_mistake(n2("simulate", str(tmp_path / "no.toml")), "no.toml", "no such file")
    assert_plain_mistake(n2("simulate", str(tmp_path)), "this is a directory")
    (tmp_path / "x.toml").write_bytes(b"\xff\xfe\x00")
    assert_plain_mistake(n2("check", str(tmp_path / "x.toml")), "UTF-8")
    assert_plain_mistake(n2("simulate", str(small), "--json", str(tmp_path)), "directory")
    assert_plain_mistake(n2("simulate", str(small), "--csv", str(tmp_path / "a" / "b")), "no dir")
    assert_plain_mistake(n2("simulate", str(small), "--plot", str(tmp_path / "a.doc")), ".png")
    same = str(tmp_path / "same")
    assert_plain_mistake(n2("simulate", str(small), "--csv", same, "--json", same), "different")
    empty = SMALL[: SMALL.index("[[schedule]]")]
    small.write_text(empty)
    assert_plain_mistake(n2("simulate", str(small)), "schedule", "empty")
    checked = n2("check", str(small))
    assert checked.returncode == 0 and "schedule is empty" in checked.stdout


def test_outputs_never_clobber(small, tmp_path) -> None:
    out = tmp_path / "run.json"
    out.write_text("mine")
    refused = n2("simulate", str(small), "--json", str(out))
    assert_plain_mistake(refused, "overwrite")
    assert out.read_text() == "mine" and refused.stdout == ""
    assert n2("simulate", str(small), "--json", str(out), "--overwrite").returncode == 0
    assert json.loads(out.read_text())["schema"] == RUN_SCHEMA
    assert_plain_mistake(n2("simulate", str(small), "--csv", str(small)), "destroy")
    assert small.read_text() == SMALL


def test_usage_mistakes_have_exit_code_2() -> None:
    for args in ((), ("simulate",), ("fly",), ("demo", "--figure", "pie"), ("demo", "--nonsense")):
        done = n2(*args)
        assert done.returncode == 2 and "usage:" in done.stderr
        assert "Traceback" not in done.stderr


def test_integration_failure_has_exit_code_3_and_keeps_what_there_is(tmp_path) -> None:
    # a sealed full bottle under 5 kW leaves the equation of state
    path, out = tmp_path / "s.toml", tmp_path / "s.json"
    path.write_text("""\
schema = 1
[bottle]
volume = "6.67 L"
wall_heat_capacity = "5 kJ/K"
inner_area = "0.2 m2"
fill = "10 lb"
start = "60 degF"
[heater]
power = "5 kW"
[[schedule]]
kind = "hold"
duration = "3 h"
""")
    done = n2("simulate", str(path), "--json", str(out))
    assert done.returncode == 3 and "Traceback" not in done.stderr
    assert "could not go on" in done.stderr and "try:" in done.stderr
    data = json.loads(out.read_text())
    assert data["ending"] != "schedule complete" and len(data["variables"]["time_s"]["values"]) > 5
    assert "FINDINGS" in done.stdout


# --- pipes and terminals -----------------------------------------------------------------------
def test_a_reader_that_leaves_is_no_failure(small) -> None:
    for _ in range(3):
        with subprocess.Popen(
            [str(COMMAND), "simulate", str(small), "--json", "-"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        ) as running:
            running.stdout.read(10)
            running.stdout.close()
            errors = running.stderr.read().decode()
            code = running.wait(timeout=120)
        assert code == 0 and "Traceback" not in errors and "Broken" not in errors


def test_terminal_without_the_letters(small) -> None:
    small.write_text(SMALL.replace('"small"', '"größe \U0001f600"'))
    done = subprocess.run(
        [str(COMMAND), "simulate", str(small)],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert b"gr??e" in done.stdout


def test_spaces_and_unicode_in_paths(tmp_path) -> None:
    folder = tmp_path / "my cär files"
    folder.mkdir()
    (folder / "räce day.toml").write_text(SMALL)
    done = n2("simulate", "räce day.toml", "--csv", "öut put.csv", cwd=folder)
    assert done.returncode == 0, done.stderr
    assert (folder / "öut put.csv").exists()


# --- new, check, chart -------------------------------------------------------------------------
@pytest.mark.parametrize("start", ["blank", "demo"])
def test_new_file_checks_and_runs(start: str, tmp_path) -> None:
    path = tmp_path / "car.toml"
    assert n2("new", str(path), "--from", start).returncode == 0
    assert_plain_mistake(n2("new", str(path)), "overwrite")
    checked = n2("check", str(path))
    assert checked.returncode == 0 and "no mistakes found" in checked.stdout
    assert n2("simulate", str(path), "--quiet").returncode == 0


def test_every_option_that_the_new_file_shows_is_understood() -> None:
    """Take the comment mark off each commented key in turn (and whole commented tables)."""
    from n2osim.errors import ScenarioError
    from n2osim.scenario.file import loads

    rows = n2("new", "-").stdout.splitlines()
    shown = [i for i, r in enumerate(rows) if r.startswith("# ") and " = " in r.split("#")[1]]
    assert len(shown) > 40
    known = set()
    for i in shown:
        key = rows[i][2:].split(" = ")[0].strip()
        text = "\n".join([*rows[:i], rows[i][2:], *rows[i + 1 :]])
        try:
            tomllib.loads(text)
        except tomllib.TOMLDecodeError:
            continue  # the key stands again below, or its table is commented too
        try:
            loads(text)
        except ScenarioError as problem:
            assert "not a known entry" not in str(problem) or rows_before_table(rows, i), problem
        known.add(key)
    assert len(known) > 25


def rows_before_table(rows: list[str], i: int) -> bool:
    """Whether the commented key belongs to a commented table (so not to the one above it)."""
    return any(r.startswith("# [") for r in rows[max(0, i - 12) : i])


def test_check_lists_what_it_read(small) -> None:
    done = n2("check", str(small))
    words = " ".join(done.stdout.split())
    assert "steel 10 lb" in words and "1 rest; 2.0 min in all" in words


def test_check_warns_of_liquid_out_of_reach(tmp_path) -> None:
    path = tmp_path / "tilted.toml"
    path.write_text(SMALL + '\n[mounting]\ntilt = "-20 deg"\n', "utf-8")
    done = n2("check", str(path))
    words = " ".join(done.stdout.split())
    assert done.returncode == 0 and "WARNING the pick-up leaves" in words
    assert "Mounting lying, valve end down by 20 deg" in words
    path.write_text(SMALL + '\n[mounting]\nstanding = true\ntilt = "20 deg"\n', "utf-8")
    assert_plain_mistake(n2("check", str(path)), "70 deg")


def test_chart_on_the_terminal() -> None:
    # worked example with CoolProp 8.0: 680 kg/m3 is liquid-full at 87.1 degF
    done = n2("chart", "--fill", "10 lb", "--closes", "900 psig", "--opens", "950 psig")
    assert done.returncode == 0
    row = next(r for r in done.stdout.splitlines() if "liquid-full" in r)
    assert " 87.1 " in row


def test_chart_files_and_scenario(small, tmp_path) -> None:
    done = n2("chart", "--file", str(small), "--csv", "c.csv", "--plot", "c.svg", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "steel 10 lb" in done.stdout
    assert (tmp_path / "c.csv").read_text().startswith("temperature_K,")
    assert b"<svg" in (tmp_path / "c.svg").read_bytes()
    assert load(small).fill == pytest.approx(9 * 0.45359237)


def test_chart_reading() -> None:
    assert "% of full" in n2("chart", "--reading", "1050 psia", "97.9 degF").stdout
    saturated = n2("chart", "--reading", "5.036 MPa", "293 K")  # ESDU 91022: 50.36 bar
    assert_plain_mistake(saturated, "saturated", "weigh")


@pytest.mark.parametrize(
    "args, words",
    [
        (("--bottle", "alumnium"), "aluminium"),
        (("--capacity", "11 lb"), "12 lb"),
        (("--closes", "900 psig"), "both ends"),
        (("--low", "100 degF", "--high", "50 degF"), "lower"),
        (("--fill", "ten"), "charge"),
        (("--altitude", "90 miles"), "altitude"),
        (("--closes", "950 psig", "--opens", "900 psig"), "below opens"),
    ],
)
def test_chart_mistakes(args: tuple, words: str) -> None:
    assert_plain_mistake(n2("chart", *args), words)
