"""The study commands: study, fit, sheet, day; files and mistakes of all that answer."""

import csv
import io
import itertools
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from n2osim.cli import main
from n2osim.scenario.file import load

CAR = """\
schema = 1
title = "a small car"

[bottle]
preset = "aluminium"
capacity = "10 lb"
fill = "8 lb"
start = "60 degF"

[heater]
power = "400 W"

[switch]
closes = "880 psig"
opens = "920 psig"

[ambient]
temperature = "60 degF"

[feed]
jets = { count = 1, bore = "0.06 in" }
model = "hem"

[engine]
fuel_pressure = "43 psig"
fuel_jets = { count = 1, bore = "0.025 in" }

[[schedule]]
kind = "hold"
duration = "25 min"

[[schedule]]
kind = "pass"
duration = "8 s"
"""
COMMANDS = ("size", "tune", "faults", "compare", "study", "fit", "sheet", "day")
PSI = 6894.757293168361


@pytest.fixture
def car(tmp_path, monkeypatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "car.toml"
    path.write_text(CAR)
    return path


def ok(capsys, *args: str) -> str:
    """Standard output of a command that must succeed (the car runs lean: day and sheet say 3)."""
    code = main(list(args))
    seen = capsys.readouterr()
    assert code == 0 or (code == 3 and args[0] in ("day", "sheet")), seen.err
    return seen.out


def refused(capsys, *args: str, status: int = 1) -> str:
    """What a refused command says (one line, no traceback)."""
    code = main(list(args))
    seen = capsys.readouterr()
    assert code == status and "Traceback" not in seen.err and seen.err.startswith("n2osim: ")
    return seen.err


def table(path: str) -> list[dict[str, str]]:
    """Rows of a CSV file."""
    return list(csv.DictReader(io.StringIO(Path(path).read_text())))


# --- help ----------------------------------------------------------------------------------------
@pytest.mark.parametrize("command", COMMANDS)
def test_help_has_examples(capsys, command: str) -> None:
    with pytest.raises(SystemExit) as end:
        main([command, "--help"])
    shown = capsys.readouterr().out
    assert end.value.code == 0 and f"n2osim {command} " in shown and "examples:" in shown


def test_help_lists_them(capsys) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    shown = capsys.readouterr().out
    assert all(f"    {c} " in shown for c in COMMANDS)


def test_parameters_in_the_help_of_fit_are_those_of_the_fit() -> None:
    from n2osim.cli.fit_command import PARAMETERS
    from n2osim.fit.calibrate_parameters import PARAMETERS as REAL

    assert set(PARAMETERS) == set(REAL)


# --- study ---------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ["run.peak_pressure", "pass0.power_mean", "pass*.power_mean_W"])
def test_what_is_asked_of_a_study_is_shown_by_any_of_its_names(capsys, car, name) -> None:
    """A name without its unit, or a quantity of the engine, gave an empty table."""
    shown = ok(capsys, "study", str(car), "--vary", "heater.power=300 W, 500 W", "--of", name)
    assert name.replace("*", "0").removesuffix("_W") in shown


def test_a_study_tells_the_dangers_of_what_it_varies(capsys, car) -> None:
    car.write_text(CAR.replace("0.025 in", "0.012 in"))
    shown = ok(capsys, "study", str(car), "--vary", "heater.power=300 W, 500 W")
    assert "DANGER" in shown and "too lean" in shown


def test_vary_runs_every_combination(capsys, car) -> None:
    text = ok(
        capsys,
        "study",
        str(car),
        "--vary",
        "heater.power=300 W, 500 W",
        "--vary",
        "fill=6 lb, 8 lb",
        "--csv",
        "-",
    )
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == 4
    times = [float(r["hold0.warm_up_time_s"]) for r in rows]
    assert times[2] < times[0] and times[3] < times[1]


def test_a_field_that_is_true_or_false_can_be_varied(capsys, car) -> None:
    """ "true" was answered with "valid: true or false"."""
    shown = ok(
        capsys, "study", str(car), "--vary", "mounting.standing=true,false", "--of", "pass0.*"
    )
    assert "failed" not in shown and "True" in shown and "False" in shown


def test_a_member_that_cannot_be_run_shows_in_the_exit_status(capsys, car) -> None:
    """Three: what is there is not all, and a script that looks at nothing else stops."""
    status = main(["study", str(car), "--vary", "fill=6 lb,60 lb", "--of", "pass0.*sag*"])
    shown = capsys.readouterr().out
    assert status == 3 and "Member 1 failed: bottle fill: '60 lb' is out of range" in shown


def test_vary_on_the_terminal_in_both_units(capsys, car) -> None:
    asked = ("study", str(car), "--vary", "fill=6 lb,8 lb", "--of", "pass0.*sag*")
    assert "psi" in ok(capsys, *asked)
    shown = ok(capsys, *asked, "--si")
    assert "kPa" in shown and "psi" not in shown


def test_scatter_is_repeatable_and_centred(capsys, car) -> None:
    asked = (
        "study",
        str(car),
        "--scatter",
        "fill=0.4 lb",
        "--count",
        "24",
        "--seed",
        "5",
        "--json",
        "-",
    )
    first, again = (json.loads(ok(capsys, *asked)) for _ in range(2))
    assert first["members"] == again["members"]
    fills = [m["fill"] for m in first["members"]]
    assert sum(fills) / len(fills) == pytest.approx(8 * 0.45359237, rel=2e-3)
    inside = sum(abs(f / 0.45359237 - 8.0) <= 0.4 for f in fills) / len(fills)
    assert inside >= 0.9  # 95 % are meant to be within the half-width


def test_scatter_draws_bands(capsys, car) -> None:
    ok(capsys, "study", str(car), "--scatter", "fill=0.4 lb", "--count", "8", "--plot", "b.svg")
    assert "<svg" in Path("b.svg").read_text()


def test_tolerances_add_as_squares(capsys, car) -> None:
    ok(
        capsys,
        "study",
        str(car),
        "--tolerance",
        "fill=0.2 lb",
        "--tolerance",
        "feed.jets.cd=5 %",
        "--of",
        "pass0.used_kg",
        "--json",
        "t.json",
        "--plot",
        "t.png",
    )
    text = ok(capsys, "study", str(car), "--tolerance", "fill=0.2 lb")
    assert "+- " in text and "+- -" not in text  # what has no value has no tolerance
    row = json.loads(Path("t.json").read_text())["figures"][0]
    by = [row["by fill"], row["by feed.jets.cd"]]
    assert row["plus_minus"] == pytest.approx(sum(x * x for x in by) ** 0.5, rel=1e-12)


@pytest.mark.parametrize(
    "args, said",
    [
        ((), "one of --vary"),
        (("--vary", "heater.powr=1"), "did you mean 'heater.power'"),
        (("--vary", "fill"), "NAME=VALUE"),
        (("--scatter", "fill=0 lb"), "above 0"),
        (("--scatter", "title=2"), "a field that holds a number"),
        (("--vary", "fill=8 lb", "--scatter", "fill=1 lb"), "one of --vary"),
        (("--vary", "fill=8 lb", "--of", "pass0.usd_kg"), "pass0.usd_kg"),
        (("--vary", "fill=8 lb", "--plot", "x.png"), "--scatter or --tolerance"),
    ],
)
def test_study_mistakes(capsys, car, args, said) -> None:
    assert said in refused(capsys, "study", str(car), *args)


def test_an_interrupted_study_says_so_and_keeps_what_it_has(capsys, car, monkeypatch) -> None:
    from dataclasses import replace

    import n2osim

    whole = n2osim.sweep

    def cut_short(*args, **how):
        return replace(whole(*args, **how), complete=False, note="interrupted")

    monkeypatch.setattr(n2osim, "sweep", cut_short)
    code = main(["study", str(car), "--vary", "fill=8 lb", "--csv", "s.csv"])
    seen = capsys.readouterr()
    assert code == 130 and "INCOMPLETE: interrupted" in seen.out
    assert len(table("s.csv")) == 1


def test_fields_can_be_listed(capsys, car) -> None:
    shown = ok(capsys, "study", str(car), "--fields")
    assert "heater.power" in shown and "feed.jets.bore" in shown


# --- fit -----------------------------------------------------------------------------------------
@pytest.fixture
def log(car) -> Path:
    """A log of 15 minutes on a heater of 330 W (the scenario says 400)."""
    from dataclasses import replace

    from n2osim import Hold
    from n2osim.fit.synthetic import Recorder, synthetic_log, write_log

    s = load(car)
    warm = s.replace(schedule=[Hold("15 min")])
    Path("warm.toml").write_text(warm.to_toml())
    true = warm.replace(heater=replace(warm.heater, power=330.0))
    made = synthetic_log(true, seed=2, recorder=Recorder(interval=5.0, noise="2 psi", step="1 psi"))
    write_log(made, "log.csv")
    return Path("log.csv")


def test_fit_finds_the_true_power_and_saves_it(capsys, log) -> None:
    shown = ok(
        capsys,
        "fit",
        "warm.toml",
        "log.csv",
        "--free",
        "heater_power",
        "--json",
        "f.json",
        "--save",
        "mine.toml",
        "--plot",
        "f.png",
        "--csv",
        "f.csv",
    )
    assert "heater_power" in shown
    p = json.loads(Path("f.json").read_text())["parameters"]["heater_power"]
    assert p["low"] <= 330.0 <= p["high"]
    assert load("mine.toml").heater.power == pytest.approx(p["value"])
    rows = table("f.csv")
    assert len(rows) == 181 and {r["channel"] for r in rows} == {"pressure"}


def test_fit_columns_limits_and_window(capsys, log) -> None:
    ok(
        capsys,
        "fit",
        "warm.toml",
        "log.csv",
        "--free",
        "heater_power=200 W..420 W",
        "--column",
        "time=time [s]:s",
        "--column",
        "gauge_pressure=bottle pressure [psig]:psig",
        "--window",
        "0",
        "10 min",
        "--no-profile",
        "--json",
        "f.json",
    )
    p = json.loads(Path("f.json").read_text())["parameters"]["heater_power"]
    assert 200.0 < p["value"] < 420.0 and p["profile_low"] is None


@pytest.mark.parametrize(
    "args, said",
    [
        (("--free", "heater_powr"), "did you mean 'heater_power'"),
        (("--free", "heater_power=200"), "LOW..HIGH"),
        (("--free", "heater_power=1 W..2 W", "fill"), "limits for all"),
        (
            ("--free", "fill", "--column", "time=none such", "--column", "charge=heater"),
            "none such",
        ),
        (("--free", "fill", "--column", "gage=x"), "gauge_pressure"),
    ],
)
def test_fit_mistakes(capsys, log, args, said) -> None:
    assert said in refused(capsys, "fit", "warm.toml", "log.csv", *args)


def test_fit_replays_the_log_and_compares_with_a_second_one(capsys, log) -> None:
    """The second log is another recording of the same truth: it must be inside the band."""
    from dataclasses import replace

    from n2osim import Hold
    from n2osim.fit.synthetic import Recorder, synthetic_log, write_log

    s = load("warm.toml").replace(schedule=[Hold("15 min")])
    again = s.replace(heater=replace(s.heater, power=330.0))
    write_log(synthetic_log(again, seed=3, recorder=Recorder(5.0, noise="2 psi")), "second.csv")
    shown = ok(
        capsys,
        "fit",
        "warm.toml",
        "log.csv",
        "--free",
        "heater_power",
        "--replay",
        "--second",
        "second.csv",
        "--no-profile",
        "--json",
        "f.json",
    )
    assert "segments" in shown and "told by the heater" in shown
    assert "nothing fitted again" in shown and "predicted 95 % band" in shown
    second = json.loads(Path("f.json").read_text())["second_log"]
    assert second["log"] == "second.csv" and second["inside"] > 0.85


def test_fit_reads_a_log_of_another_country(capsys, log) -> None:
    """Semicolons, decimal commas, headers of one's own, bar instead of psi, a line of chatter."""
    from n2osim.fit.logs import read_log

    given = read_log("log.csv")
    lines = ["Aufzeichnung 3", "Zeit;Flaschendruck"]
    lines += [
        f"{t:.1f};{p / 1e5:.3f}".replace(".", ",")
        for t, p in zip(given.time, given["gauge_pressure"])
    ]
    Path("fahrt.csv").write_text("\n".join(lines), encoding="latin-1")
    shown = ok(
        capsys,
        "fit",
        "warm.toml",
        "fahrt.csv",
        "--free",
        "heater_power",
        "--no-profile",
        "--column",
        "time=Zeit:s",
        "--column",
        "gauge_pressure=Flaschendruck:bar",
        "--json",
        "f.json",
    )
    assert "semicolon" in shown and "decimal sign ','" in shown
    p = json.loads(Path("f.json").read_text())["parameters"]["heater_power"]
    assert p["low"] <= 330.0 <= p["high"]


def test_fit_without_a_log(capsys, car) -> None:
    assert "nowhere.csv" in refused(capsys, "fit", str(car), "nowhere.csv", "--free", "fill")


# --- sheet and day -------------------------------------------------------------------------------
def test_sheet_is_written_once(capsys, car) -> None:
    assert "car.html" in ok(capsys, "sheet", str(car), "car.html", "--date", "2024-05-06")
    html = Path("car.html").read_text(encoding="utf-8")
    assert html.startswith("<!DOCTYPE html>") and "2024-05-06" in html and "a small car" in html
    assert "--overwrite" in refused(capsys, "sheet", str(car), "car.html")
    assert "ending in .html" in refused(capsys, "sheet", str(car), "car.pdf")


def test_a_sheet_of_a_danger_says_so_as_a_run_does(capsys, car) -> None:
    """It was written with status 0: "Do not run this set-up" stood in the file alone."""
    runs = [main(["simulate", str(car), "--quiet"]), main(["sheet", str(car), "danger.html"])]
    assert runs == [3, 3] and "do not run this set-up" in capsys.readouterr().out


def test_sheet_through_a_pipe(capsys, car) -> None:
    text = ok(capsys, "sheet", str(car), "-", "--si")
    assert text.startswith("<!DOCTYPE html>") and text.rstrip().endswith("</html>")


def test_day_by_rounds(capsys, car) -> None:
    shown = ok(capsys, "day", str(car), "--rounds", "3", "--csv", "d.csv", "--plot", "d.png")
    assert "ROUND BY ROUND" in shown and "CAUTIONS" in shown
    rows = table("d.csv")
    assert [r["round"] for r in rows] == ["1", "2", "3"]
    left = [float(r["charge_left"]) for r in rows]
    used = [float(r["used"]) for r in rows]
    assert left[0] == pytest.approx(8 * 0.45359237 - used[0], rel=1e-6)
    assert left[1] == pytest.approx(left[0] - used[1], rel=1e-6)


def test_day_with_refills(capsys, car) -> None:
    data = json.loads(
        ok(capsys, "day", str(car), "--rounds", "3", "--refill-every", "2", "--json", "-")
    )
    assert data["refilled_after"] == [2]
    assert data["rounds"][1]["refilled"] > 0.0 and data["rounds"][0]["refilled"] == 0.0


@pytest.mark.parametrize(
    "args, said",
    [
        (("--rounds", "0"), "1 to 200"),
        (("--purge", "1 s"), "purge"),
        (("--staging", "3 psi"), "staging"),
        (("--supply", "200 degF"), "--refill-every"),
        (("--supply", "200 degF", "--refill-every", "1"), "supply temperature"),
    ],
)
def test_day_mistakes(capsys, car, args, said) -> None:
    assert said in refused(capsys, "day", str(car), *args)


# --- files ---------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "command",
    [
        ("size", "heater", "FILE"),
        ("compare", "FILE"),
        ("study", "FILE", "--vary", "fill=8 lb"),
        ("day", "FILE"),
        ("fit", "FILE", "log.csv", "--free", "fill"),
    ],
)
def test_nothing_is_overwritten_and_nothing_is_run_first(capsys, car, command) -> None:
    Path("there.json").write_text("mine")
    Path("log.csv").write_text("t_s,P [psig]\n0,900\n1,901\n")
    said = refused(
        capsys, *(str(car) if a == "FILE" else a for a in command), "--json", "there.json"
    )
    assert "--overwrite" in said and Path("there.json").read_text() == "mine"


@pytest.mark.parametrize(
    "command", [("size", "heater"), ("compare",), ("study",), ("sheet",), ("day",)]
)
def test_a_missing_scenario_is_named(capsys, tmp_path, monkeypatch, command) -> None:
    monkeypatch.chdir(tmp_path)
    out = ("x.html",) if command == ("sheet",) else ()
    assert "nowhere.toml" in refused(capsys, *command, "nowhere.toml", *out)


def test_a_closed_pipe_is_no_failure(car) -> None:
    """``n2osim study ... --fields | head -1``."""
    text = subprocess.run(
        f'"{sys.executable}" -m n2osim study "{car}" --fields | head -1',
        shell=True,
        capture_output=True,
        text=True,
        env=os.environ,
        timeout=300,
    )
    assert text.stderr == "" and len(text.stdout.splitlines()) == 1


def test_day_refills_to_a_charge_and_without_a_pump(capsys, car) -> None:
    """No pump and a supply colder than the bottle: nothing comes in, and it says so."""
    often = ("day", str(car), "--rounds", "1", "--refill-every", "1", "--refill-to", "8 lb")
    text = ok(capsys, *often, "--supply", "30 degF", "--unpumped")
    said = " ".join(text.split())
    assert "nothing was let in after round 1; the supply's pressure was too low" in said
    assert "refilled after" not in said
    data = json.loads(ok(capsys, *often, "--json", "-"))
    left = data["rounds"][0]
    assert left["charge_left"] + left["refilled"] == pytest.approx(8 * 0.45359237, rel=1e-6)


def test_day_says_when_a_refill_let_nothing_in(capsys, car) -> None:
    """8 lb in the bottle less a pass is more than 2 lb: there is nothing to fill."""
    often = ("day", str(car), "--rounds", "2", "--refill-every", "1", "--refill-to", "2 lb")
    said = " ".join(ok(capsys, *often).split())
    assert "refilled after" not in said
    assert "nothing was let in after round 1, 2: the charge was not below the one wanted" in said
    data = json.loads(ok(capsys, *often, "--json", "-"))
    assert data["refilled_after"] == [] and [r["refilled"] for r in data["rounds"]] == [0.0, 0.0]


def _block(text: str, title: str) -> list[list[str]]:
    """Rows of a table of ``day`` that begin with a round's number."""
    lines = [line.split() for line in text[text.index(title) :].splitlines()]
    first = next(k for k, row in enumerate(lines) if row and row[0] == "1")
    return list(itertools.takewhile(lambda row: row and row[0].isdigit(), lines[first:]))


def test_day_s_plus_minus_counts_the_scale_after_a_refill(capsys, car) -> None:
    """Found: +- 0.00010 lb of a charge that a scale had told, and +- 0.007 hp of 55."""
    weigh = '\n[[schedule]]\nkind = "weigh"\nscale_tolerance = "0.3 lb"\n'
    car.write_text(CAR + weigh)
    often = ("day", str(car), "--rounds", "3", "--refill-every", "2", "--refill-to", "8 lb")
    shown = ok(capsys, *often)
    rows = _block(shown, "+- OF A GAUGE")
    assert [row[-1] for row in rows] == ["0.20", "0.20", "0.30"]
    data = json.loads(ok(capsys, *often, "--json", "-"))["plus_minus"]
    assert data["pass2.end_mass_kg"] == pytest.approx(0.3 * 0.45359237, rel=0.02)
    # No figure finer than the table above it: less than its last digit is told as that.
    finest = {"psig": 0, "psi": 0, "lb": 2, "lb/min": 2, "hp": 0}
    units = next(line.split() for line in shown[shown.index("+- OF") :].splitlines()[2:])
    for row in rows:
        for unit, cell in zip(units, row[1:]):
            assert len(cell.partition(".")[2]) <= finest[unit], (unit, cell)
    assert any("<" in cell for row in rows for cell in row)
    assert "discharge coefficient" in " ".join(shown.split()) and "JCGM" in shown
    car.write_text(CAR)
    assert _block(ok(capsys, *often), "+- OF A GAUGE")[2][-1] == "0.20"


def test_day_does_not_refill_beyond_the_rated_charge(capsys, car) -> None:
    """Found: an equation-of-state error with a Python dictionary."""
    said = refused(capsys, "day", str(car), "--refill-every", "1", "--refill-to", "14 lb")
    assert "rated charge, 10.00 lb" in said and "{" not in said


def test_day_says_what_it_takes_the_scale_for(capsys, car) -> None:
    often = ("day", str(car), "--rounds", "1", "--refill-below", "7 lb")
    assert "a scale taken as exact" in " ".join(ok(capsys, *often).split())
    car.write_text(CAR + '\n[[schedule]]\nkind = "weigh"\nscale_tolerance = "0.3 lb"\n')
    assert "off by 0.30 lb" in " ".join(ok(capsys, *often).split())


def test_day_of_two_bottles_has_a_row_for_both(capsys, car) -> None:
    text = CAR.replace("[bottle]", '[[bottles]]\nname = "left"')
    text = text.replace("[heater]\npower", "heater = { power").replace('"400 W"', '"400 W" }')
    text = text.replace(
        '[switch]\ncloses = "880 psig"\nopens = "920 psig"',
        'switch = { closes = "880 psig", opens = "920 psig" }',
    )
    second = '[[bottles]]\nname = "right"\nfollows = "left"\npreset = "aluminium"\n'
    second += 'capacity = "10 lb"\nfill = "7 lb"\nstart = "60 degF"\n'
    car.write_text(text.replace("[ambient]", second + 'heater = { power = "400 W" }\n\n[ambient]'))
    shown = ok(capsys, "day", str(car), "--rounds", "2")
    rows = [line.split() for line in shown.splitlines() if " all " in line]
    assert len(rows) == 2
    data = json.loads(ok(capsys, "day", str(car), "--rounds", "2", "--json", "-"))
    cells = {
        who: next(line for line in shown.splitlines() if f" {who} " in line).split()
        for who in ("left", "right", "all")
    }
    for who in ("left", "right"):
        of_the_car = [a for a, own in zip(cells["all"], cells[who], strict=True) if own == "-"]
        power, mixture = map(float, of_the_car[:2])
        assert power == pytest.approx(data["rounds"][0]["power_mean"] / 745.7, rel=0.02)
        assert mixture == pytest.approx(data["rounds"][0]["mixture_start"], rel=0.02)
    assert "crossflow" not in shown and "what the jets got" in " ".join(shown.split())


def test_legends_are_for_what_is_shown(capsys, car) -> None:
    """Found: the legend of a column that was not there."""
    assert "In band after" in ok(capsys, "day", str(car), "--rounds", "1")
    car.write_text(CAR.replace('[switch]\ncloses = "880 psig"\nopens = "920 psig"\n', ""))
    bare = ("day", str(car), "--rounds", "1", "--warm", "5 min", "--reheat", "1 min")
    assert "In band after" not in ok(capsys, *bare)
