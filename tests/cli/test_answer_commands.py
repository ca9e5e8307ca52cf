"""size, tune, compare, faults: the same object as the library's, saved and simulated again."""

import json
from pathlib import Path

import pytest
from test_study_commands import CAR, PSI, car, refused, table  # noqa: F401 - car is a fixture

import n2osim as n2
from n2osim.cli import main
from n2osim.scenario.file import load
from n2osim.units import HP, LB


def asked(capsys, *args, code=(0, 3)):
    """(what is shown, the answer as JSON) of a command that must succeed."""
    Path("answer.json").unlink(missing_ok=True)
    got = main([*map(str, args), "--json", "answer.json"])
    seen = capsys.readouterr()
    assert got in code, seen.err
    data = json.loads(Path("answer.json").read_text())
    assert data["status"] == got
    return seen.out, data


def value(data, name):
    """A figure's number."""
    got = data["answer"][name]
    return got["value"] if isinstance(got, dict) else got


def test_size_heater_is_the_library_s_answer_and_its_file_holds(capsys, car):  # noqa: F811
    shown, data = asked(capsys, "size", "heater", car, "--within", "20 min", "--save", "s.toml")
    found = n2.size_heater(load(car), "20 min")
    assert value(data, "warm_up_time") == found["warm_up_time"] <= 1200.0
    assert list(data["answer"]) == [f.name for f in found.figures]
    for word in ("ohm", "fuse", "AWG", "Ah", "W/sq in", "relay welded", "CAUTIONS"):
        assert word in shown
    hold = n2.simulate(load("s.toml")).holds[0]
    assert hold.warm_up_time == pytest.approx(value(data, "warm_up_time"), rel=5e-3)


@pytest.mark.parametrize(
    ("question", "options", "name", "bound"),
    [
        ("power", ("--overshoot", "15 psi"), "overshoot", 15.0 * PSI),
        ("coverage", ("--within", "40 min"), "warm_up_time", 2400.0),
        ("band", ("--low", "860 psig", "--high", "930 psig"), "peak", 930.0 * PSI),
    ],
)
def test_size_keeps_its_limit_in_the_saved_file(capsys, car, question, options, name, bound):  # noqa: F811
    _, data = asked(capsys, "size", question, car, *options, "--save", "s.toml")
    assert value(data, name) <= bound
    run = n2.simulate(load("s.toml"))
    told = {f["code"] for f in data["findings"]} | {b["code"] for b in data["not_sound"]}
    assert {f.code for f in run.findings if f.severity in ("danger", "warning")} <= told


def test_size_jets_bottle_and_passes(capsys, car):  # noqa: F811
    shown, data = asked(capsys, "size", "jets", car, "--hp", "60 hp", "--save", "s.toml")
    run = n2.simulate(load("s.toml"))
    assert run.engine.passes[0].power.mean == pytest.approx(60.0 * HP, rel=3e-3)
    assert "60.0 hp" in shown and "--hp" in refused(capsys, "size", "jets", str(car))
    _, data = asked(capsys, "size", "bottle", car, "--passes", "3")
    used = value(data, "charge") - value(data, "charge_left")
    assert used < value(data, "capacity") < 3.0 * used
    shown, data = asked(capsys, "size", "passes", car, "--si")
    assert "kg" in shown and " lb" not in shown
    rows = data["tables"][0]["rows"]
    assert len(rows) == value(data, "count") and value(data, "refill_below") < 8 * LB


def test_size_for_asks_anything(capsys, car):  # noqa: F811
    _, data = asked(
        capsys,
        "size",
        "for",
        car,
        "--minimize",
        "heater.power",
        "--subject-to",
        "hold0.warm_up_time <= 20 min",
        "--case",
        "cold: start=50 degF, ambient.temperature=50 degF",
        "--save",
        "s.toml",
    )
    from n2osim.scenario.fields import with_fields

    cold = with_fields(load("s.toml"), {"start": "50 degF", "ambient.temperature": "50 degF"})
    assert n2.simulate(cold).holds[0].warm_up_time <= 1200.0
    assert "cold" in data["decided_by"][0]


def test_size_says_why_not(capsys, car):  # noqa: F811
    said = refused(capsys, "size", "heater", str(car), "--within", "2 s", status=3)
    first, *page = said.splitlines()
    assert "no solution because" in first and len(page) > 5 and "Nearest that can be had" in page
    with pytest.raises(SystemExit) as end:
        main(["size", "heeter", str(car)])
    assert end.value.code == 2 and "heater" in capsys.readouterr().err


def test_a_danger_sets_the_exit_status(capsys, car):  # noqa: F811
    text = CAR.replace('opens = "920 psig"', 'opens = "920 psig"\nfault = "welded"')
    Path("welded.toml").write_text(text)
    shown, data = asked(capsys, "size", "passes", "welded.toml", code=(3,))
    assert "DANGER" in shown and any(f["code"] == "relay-welded" for f in data["findings"])


def test_faults(capsys, car):  # noqa: F811
    shown, data = asked(capsys, "faults", car, "--relay", "2 h", "--soak", "2 h", code=(3,))
    assert "relay welded" in shown and "exposure limit" in shown
    assert {r["fault"] for r in data["tables"][0]["rows"]} == {
        "relay welded",
        "in a hot closed boot",
    }


# --- compare -------------------------------------------------------------------------------------
def test_compare_table_csv_and_figure(capsys, car):  # noqa: F811
    shells = ("--shells", "aluminium", "carbon-polymer", "--hold", "20 min")
    shown, _ = asked(capsys, "compare", car, *shells, "--csv", "c.csv", "--plot", "c.png")
    assert "carbon-polymer" in shown and "overshoot" in shown
    rows = table("c.csv")
    assert [r["shell"] for r in rows] == ["aluminium", "carbon-polymer"]
    # common practice, no source: carbon is lighter, metal overshoots less
    assert float(rows[1]["empty_mass"]) < float(rows[0]["empty_mass"])
    assert float(rows[1]["overshoot"]) > float(rows[0]["overshoot"])
    assert Path("c.png").read_bytes()[:4] == b"\x89PNG"
    assert "did you mean" in refused(capsys, "compare", str(car), "--shells", "aluminum-x")


# --- tune ----------------------------------------------------------------------------------------
def test_tune_pressure_is_the_library_s_table(capsys, car):  # noqa: F811
    shown, data = asked(capsys, "tune", "pressure", car, "--at", "860 psig", "--csv", "p.csv")
    found = n2.pressure_error_table(load(car), "860 psig")
    rows = {round(r["error"]): r["power"] for r in data["tables"][0]["rows"]}
    for r in found.rows:
        assert rows[round(r["error"])] == pytest.approx(r["power"], rel=1e-9)
    assert "hp for each psi more" in shown and len(table("p.csv")) == len(rows)


def test_tune_weight_refuses_what_is_too_hot(capsys, car):  # noqa: F811
    shown, data = asked(capsys, "tune", "weight", car, "--charges", "8 lb", "1.5 lb", "0.05 lb")
    light = data["tables"][0]["rows"][1]
    assert light["verdict"] == "refill first" and light["jet_factor"] is None
    words = " ".join(shown.split())
    assert "125.0 degF" in words and "use yours" in words and "left out: 1" in words
    _, data = asked(capsys, "tune", "weight", car, "--over-pass", "--charges", "8 lb", "7 lb")
    assert len(data["tables"][0]["rows"]) == 2


def test_tune_power_is_held_by_the_saved_file(capsys, car):  # noqa: F811
    full = n2.simulate(load(car)).engine.passes[0].power
    wanted = 0.8 * full.minimum
    out = ("--save", "held.toml", "--plot", "h.png")
    shown, data = asked(capsys, "tune", "power", car, "--hp", f"{wanted / HP:.6f} hp", *out)
    assert value(data, "held_until") is None and "held to the end" in shown
    kept = n2.simulate(load("held.toml"))
    assert len(kept.scenario.schedule) == 2 and kept.scenario.schedule[1].delivery is not None
    seen = kept.engine.passes[0].power
    assert seen.minimum == pytest.approx(wanted, rel=5e-3)
    assert seen.maximum == pytest.approx(wanted, rel=5e-3)
    assert Path("h.png").read_bytes()[:4] == b"\x89PNG"
    assert "destroy" in refused(
        capsys, "tune", "power", str(car), "--hp", "9 hp", "--save", str(car)
    )


@pytest.mark.parametrize(
    "args, said",
    [
        (("tune", "pressure", "--step", "0 psi"), "--step"),
        (("tune", "pressure", "--span", "3 lb"), "--span"),
        (("tune", "weight", "--charges", "0 lb"), "charges"),
        (("tune", "weight", "--charges", "0.05 lb"), "heavier"),
        (("tune", "power"), "for example --hp"),
        (("tune", "power", "--hp", "0 hp"), "above 0"),
        (("tune", "power", "--hp", "1 s=", "2 s=3 hp"), "TIME=POWER"),
        (("tune", "power", "--hp", "2 s=60 hp", "1 s=70 hp"), "rising times"),
        (("size", "for", "--minimize", "heater.power", "--case", "x"), "NAME: field"),
        (("size", "for", "--minimize", "fill"), "range of fill"),
        (("size", "band", "--low", "900 psig", "--high", "800 psig"), "high end"),
        (("size", "bottle", "--passes", "0"), "passes"),
    ],
)
def test_mistakes(capsys, car, args, said):  # noqa: F811
    assert said in refused(capsys, args[0], args[1], str(car), *args[2:])


@pytest.mark.parametrize(
    "what, old, said",
    [
        (("size", "heater"), '[heater]\npower = "400 W"\n', "heater"),
        (("size", "band"), '[switch]\ncloses = "880 psig"\nopens = "920 psig"\n', "switch"),
        (
            ("tune", "pressure"),
            '[engine]\nfuel_pressure = "43 psig"\nfuel_jets = { count = 1, bore = "0.025 in" }\n',
            "engine",
        ),
        (("size", "passes"), '[[schedule]]\nkind = "pass"\nduration = "8 s"\n', "pass"),
    ],
)
def test_what_the_scenario_lacks_is_said(capsys, car, what, old, said):  # noqa: F811
    assert old in CAR
    Path("other.toml").write_text(CAR.replace(old, ""))
    assert said in refused(capsys, *what, "other.toml")


def test_two_values_by_comma_are_not_taken_as_a_range(capsys, car) -> None:  # noqa: F811
    """ "300 W,600 W" was answered with 390 W."""
    asked = ["size", "for", str(car), "--minimize", "heater.power"]
    assert main([*asked, "--over", "heater.power=300 W,600 W"]) == 1
    assert "300 W..600 W" in capsys.readouterr().err
