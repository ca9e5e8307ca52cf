"""``n2osim tune`` (pressure, weight, power), and what ``n2osim size`` says of jets and refills.

Checks from outside: Bernoulli with CoolProp's densities, CoolProp's temperature of a charge that
is all vapour; otherwise an answer is checked by running it.
"""

import json
from pathlib import Path

import CoolProp.CoolProp as CP
import numpy as np
import pytest
from test_study_commands import CAR, ok, refused, table

from n2osim import simulate
from n2osim.cli import main
from n2osim.scenario.fields import with_fields
from n2osim.scenario.file import load

PSI, HP, LB, AIR = 6894.757293168361, 745.6998715822702, 0.45359237, 101325.0


@pytest.fixture
def car(tmp_path, monkeypatch) -> str:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "car.toml").write_text(CAR)
    return "car.toml"


def changed(name: str, *pairs: tuple[str, str]) -> str:
    """CAR with pieces of its text replaced, as a file."""
    text = CAR
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    Path(name).write_text(text)
    return name


def answer(capsys, *args: str) -> dict:
    return json.loads(ok(capsys, *args, "--json", "-"))


def test_help_has_examples(capsys) -> None:
    with pytest.raises(SystemExit) as end:
        main(["tune", "--help"])
    shown = capsys.readouterr().out
    assert end.value.code == 0 and "examples:" in shown and "n2osim tune weight" in shown
    with pytest.raises(SystemExit):
        main(["--help"])
    assert "    tune " in capsys.readouterr().out


# --- pressure ------------------------------------------------------------------------------------
def test_power_over_pressure_is_bernoulli_s_without_boiling(capsys, car) -> None:
    """spi: flow as sqrt(rho dp), power as the flow while fuel is enough (rich of the target)."""
    spi = changed(
        "spi.toml", ('model = "hem"', 'model = "spi"'), ('bore = "0.025 in"', 'bore = "0.06 in"')
    )
    found = answer(capsys, "tune", "pressure", spi, "--at", "880 psig", "--span", "40 psi")
    rows = found["rows"]
    assert [round(r["error"] / PSI) for r in rows] == list(range(-40, 41, 8))
    zero = rows[5]
    assert zero["error"] == zero["power_error"] == zero["mixture_error"] == 0.0
    for r in rows:
        p = [x["pressure_gauge"] + AIR for x in (r, zero)]
        rho = [CP.PropsSI("D", "P", x, "Q", 0, "NitrousOxide") for x in p]
        flow = (rho[0] * (p[0] - AIR) / (rho[1] * (p[1] - AIR))) ** 0.5
        assert r["density"] == pytest.approx(rho[0], rel=1e-6)
        assert r["flow"] / zero["flow"] == pytest.approx(flow, rel=1e-5)
        assert r["power"] / zero["power"] == pytest.approx(flow, rel=1e-5)
        assert r["mixture"] / zero["mixture"] == pytest.approx(1.0 / flow, rel=1e-5)
    slope = (rows[6]["power"] - rows[4]["power"]) / HP / 16.0
    assert found["hp_per_psi"] == pytest.approx(slope, rel=1e-6)


def test_the_opening_point_is_the_reference_and_both_units_are_spoken(capsys, car) -> None:
    shown = ok(capsys, "tune", "pressure", car)
    assert "920.0 psig" in shown and "psi more make" in shown and "efficiency" in shown
    assert "A model, not a measurement" in " ".join(shown.split())
    si = ok(capsys, "tune", "pressure", car, "--si", "--csv", "p.csv")
    assert "kPa" in si and "psi" not in si and "-0.0 " not in si
    rows = table("p.csv")
    assert len(rows) == 11 and float(rows[5]["error"]) == 0.0
    alone = load(car).replace(schedule=load(car).schedule[1:])
    run = simulate(with_fields(alone, {"start": float(rows[8]["temperature"])}))
    assert run.passes[0].start_pressure == pytest.approx(float(rows[8]["pressure_gauge"]), rel=1e-6)
    assert run.engine.passes[0].power.start == pytest.approx(float(rows[8]["power"]), rel=5e-3)


def test_a_slope_next_to_nothing_is_not_turned_over(capsys, car) -> None:
    """Lean: fuel decides the power, pressure moves the mixture only."""
    lean = changed("lean.toml", ('bore = "0.025 in"', 'bore = "0.021 in"'))
    rows = answer(capsys, "tune", "pressure", lean, "--span", "20 psi")["rows"]
    spread = max(r["power"] for r in rows) - min(r["power"] for r in rows)
    assert spread < 1e-6 * HP
    shown = ok(capsys, "tune", "pressure", lean, "--span", "20 psi")
    assert "more than the 20.0 psi listed" in shown
    assert "fuel decides the power" in " ".join(shown.split())
    rich = changed("rich.toml", ('bore = "0.025 in"', 'bore = "0.03 in"'))
    assert "fuel decides" not in ok(capsys, "tune", "pressure", rich).replace("\n  ", " ")


# --- weight --------------------------------------------------------------------------------------
def test_two_phase_charges_draw_the_same_and_vapour_does_not(capsys, car) -> None:
    found = answer(
        capsys,
        "tune",
        "weight",
        car,
        "--at",
        "900 psig",
        "--charges",
        "8 lb",
        "6 lb",
        "5 lb",
        "2 lb",
    )
    rows = found["rows"]
    p, volume = 900.0 * PSI + AIR, load(car).bottles[0].bottle.volume
    full = CP.PropsSI("T", "P", p, "Q", 0, "NitrousOxide")
    rho = CP.PropsSI("D", "P", p, "Q", 0, "NitrousOxide")
    for r in rows[:3]:
        assert r["temperature"] == pytest.approx(full, abs=1e-3) and r["two_phase"]
        assert r["density"] == pytest.approx(rho, rel=1e-5)
        assert r["flow_change"] == pytest.approx(0.0, abs=1e-6)
    light = rows[3]
    assert not light["two_phase"] and light["density"] == pytest.approx(2.0 * LB / volume, rel=1e-9)
    hot = CP.PropsSI("T", "P", p, "D", 2.0 * LB / volume, "NitrousOxide")
    assert light["temperature"] == pytest.approx(hot, abs=2e-3) and light["flow_change"] < -0.3
    empty = load(car).bottles[0].bottle.empty_mass
    assert [r["weight"] - r["charge"] for r in rows] == pytest.approx([empty] * 4)


def test_the_wall_table_refuses_what_is_too_hot(capsys, car) -> None:
    shown = ok(capsys, "tune", "weight", car, "--charges", "8 lb", "1.5 lb")
    light = next(line for line in shown.splitlines() if " 1.50 " in line)
    assert light.rstrip().endswith("refill first          -")
    words = " ".join(shown.split())
    assert "125.0 degF" in words and "empty bottle: use yours" in words


def test_the_factor_of_the_jets_brings_the_flow_back_over_a_pass(capsys, car) -> None:
    """A hot, light bottle: run its pass with the jets that the table asks for."""
    found = answer(capsys, "tune", "weight", car, "--over-pass", "--charges", "8 lb", "3 lb")
    assert found["mean_over_pass"] and len(found["rows"]) == 2
    light = found["rows"][1]
    assert light["flow_change"] < -0.02
    s = load(car)
    bore = s.feeds[0][1].jets.bore * light["jet_factor"]
    alone = with_fields(
        s, {"fill": light["charge"], "start": light["temperature"], "feed.jets.bore": bore}
    ).replace(schedule=s.schedule[1:])
    run = simulate(alone)
    assert run.passes[0].start_pressure == pytest.approx(found["pressure_gauge_Pa"], rel=1e-5)
    assert run.passes[0].flow_mean == pytest.approx(found["flow_kg_s"], rel=2e-3)


def test_charges_that_cannot_stand_are_counted(capsys, car) -> None:
    shown = ok(capsys, "tune", "weight", car, "--charges", "8 lb", "0.05 lb", "--csv", "w.csv")
    assert "Left out: 1 that cannot stand" in " ".join(shown.split())
    assert len(table("w.csv")) == 1


# --- power ---------------------------------------------------------------------------------------
def test_a_power_is_held_and_the_saved_file_holds_it(capsys, car) -> None:
    full = simulate(load(car)).engine.passes[0].power
    wanted = 0.9 * full.end
    ok(
        capsys,
        "tune",
        "power",
        car,
        "--hp",
        f"{wanted / HP:.6f} hp",
        "--save",
        "held.toml",
        "--json",
        "h.json",
        "--csv",
        "rows.csv",
    )
    told = json.loads(Path("h.json").read_text())["answer"]
    assert told["held_until"]["value"] is None and told["shortfall"]["value"] < 1.0
    power = np.array([float(r["power"]) for r in table("rows.csv")[1:]])
    assert power == pytest.approx(wanted, rel=1.5e-3)
    kept = simulate(load("held.toml"))
    assert len(kept.scenario.schedule) == 2 and kept.scenario.schedule[1].delivery is not None
    seen = kept.engine.passes[0].power
    assert seen.minimum == pytest.approx(wanted, rel=5e-3)
    assert seen.maximum == pytest.approx(wanted, rel=5e-3)
    assert "--overwrite" in refused(capsys, "tune", "power", car, "--hp", "9 hp", "--save", car)


def test_a_light_bottle_is_held_until_the_valve_is_fully_open(capsys, car) -> None:
    """What the open valve makes decides the opening at first; then the vapour that the pick-up
    draws: fully open, the power falls short."""
    light = changed("light.toml", ('fill = "8 lb"', 'fill = "3.6 lb"'))
    shown = ok(
        capsys,
        "tune",
        "power",
        light,
        "--hp",
        "70 hp",
        "--json",
        "h.json",
        "--csv",
        "r.csv",
        "--plot",
        "h.png",
        "--save",
        "held.toml",
    )
    assert "fully open" in shown and "held until" in shown
    told = json.loads(Path("h.json").read_text())["answer"]
    until = told["held_until"]["value"]
    assert 4.0 < until < 7.0
    open_ = simulate(load(light)).engine.passes[0].power.start / HP
    assert told["opening_first"] == pytest.approx(70.0 / open_, rel=5e-3)
    time, opening, power = (
        np.array([float(r[name]) for r in table("r.csv")]) for name in ("time", "opening", "power")
    )
    early = (time > 0.01) & (time < until - 0.1)
    assert power[early] == pytest.approx(70.0 * HP, rel=2e-3)
    assert (opening[early] < 1.0).all() and (opening[time >= until] == 1.0).all()
    run = simulate(load("held.toml"))
    assert run.passes[0].liquid_out_time < until
    assert told["shortfall"]["value"] == pytest.approx(
        70.0 * HP - run.engine.passes[0].power.end, rel=0.02
    )
    assert Path("h.png").read_bytes()[:4] == b"\x89PNG"


def test_jets_for_gas_are_called_so(capsys, car) -> None:
    light = changed("light.toml", ('fill = "8 lb"', 'fill = "2.4 lb"'))
    said = " ".join(ok(capsys, "size", "jets", light, "--hp", "60 hp").split())
    assert "CAUTION no liquid is left" in said and "times as much N2O" in said
    found = answer(capsys, "size", "jets", light, "--hp", "60 hp")["answer"]
    assert "no liquid" in found["caution_1"]
    assert "CAUTION" not in ok(capsys, "size", "jets", car, "--hp", "60 hp")


def test_a_curve_that_is_capped_early(capsys, car) -> None:
    found = answer(capsys, "tune", "power", car, "--hp", "0 s=30 hp", "3 s=30 hp", "4 s=60 hp")
    for r in found["rows"]:
        wanted = np.interp(r["time"], [3.0, 4.0], [30.0, 60.0]) * HP
        assert r["wanted"] == pytest.approx(wanted, rel=1e-9)
        if r["time"] > 0.01:
            assert r["power"] == pytest.approx(wanted, rel=5e-3)
    assert found["delivery"][0][0] == 0.0 and len(found["delivery"]) < 12


# --- mistakes ------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "args, said",
    [
        (("pressure", "--step", "0 psi"), "--step"),
        (("pressure", "--at", "abc"), "reference"),
        (("pressure", "--span", "3 lb"), "--span"),
        (("pressure", "--hp", "3 hp"), "leave --hp out"),
        (("weight", "--save", "x.toml"), "leave --save out"),
        (("weight", "--plot", "x.png"), "--plot"),
        (("weight", "--charges", "0 lb"), "charges"),
        (("weight", "--charges", "0.05 lb"), "heavier"),
        (("power",), "for example --hp"),
        (("power", "--hp", "0 hp"), "above 0"),
        (("power", "--hp", "1 s=", "2 s=3 hp"), "TIME=POWER"),
        (("power", "--hp", "60 hp", "70 hp"), "TIME=POWER"),
        (("power", "--hp", "2 s=60 hp", "1 s=70 hp"), "rising times"),
    ],
)
def test_mistakes(capsys, car, args, said) -> None:
    assert said in refused(capsys, "tune", args[0], car, *args[1:])


SWITCH = '[switch]\ncloses = "880 psig"\nopens = "920 psig"\n'
ENGINE = '[engine]\nfuel_pressure = "43 psig"\nfuel_jets = { count = 1, bore = "0.025 in" }\n'
PASS = '[[schedule]]\nkind = "pass"\nduration = "8 s"\n'


@pytest.mark.parametrize(
    "what, old, new, said",
    [
        (("pressure",), ENGINE, "", "engine"),
        (("power", "--hp", "50 hp"), ENGINE, "", "engine"),
        (("weight",), SWITCH, "", "--at"),
        (("power", "--hp", "50 hp"), PASS, "", "pass"),
        (("weight", "--over-pass"), PASS, PASS + 'outflow = "0.1 lb/s"\n', "metered by its jets"),
        (("power", "--hp", "50 hp"), PASS, PASS + 'outflow = "0.1 lb/s"\n', "one way of metering"),
        (("power", "--hp", "50 hp"), PASS, PASS + "stages = [{}, {}]\n", "pass of one feed"),
    ],
)
def test_what_the_scenario_lacks_is_said(capsys, car, what, old, new, said) -> None:
    other = changed("other.toml", (old, new))
    assert said in refused(capsys, "tune", what[0], other, *what[1:])


# --- size: jets to be had, when to refill --------------------------------------------------------
def test_size_jets_names_the_nearest_drills_and_every_model(capsys, car) -> None:
    told = answer(capsys, "size", "jets", car, "--hp", "80 hp", "--sizes", "drills")["answer"]
    bore, near = told["n2o_bore"]["value"], told["nearest_n2o_bore"]["value"]
    # ASME B94.11M: number-size drills near this bore are 60 to 85 thou and less than 6 % apart.
    assert near != bore and abs(near / bore - 1.0) < 0.035
    ratio = told["nearest_power"]["value"] / (80.0 * HP)
    assert ratio == pytest.approx((near / bore) ** 2, rel=0.03)
    assert told["n2o_bore_hem"]["value"] == pytest.approx(bore, rel=1e-6)
    assert told["n2o_bore_spi"]["value"] < 0.7 * bore
    own = answer(capsys, "size", "jets", car, "--hp", "80 hp", "--sizes", "1 mm", "2 mm")["answer"]
    assert own["nearest_n2o_bore"]["value"] in (1e-3, 2e-3)


def test_size_passes_says_when_to_refill_and_the_edge_holds(capsys, car) -> None:
    told = answer(capsys, "size", "passes", car, "--at", "900 psig", "--low", "700 psig")["answer"]
    charge = told["refill_below"]["value"]
    empty = load(car).bottles[0].bottle.empty_mass
    assert told["refill_reading"]["value"] == pytest.approx(charge + empty)
    from n2osim.answers.passes import PassLimits, one_pass

    limits, s = PassLimits("700 psig"), load(car)
    first = one_pass(s, 8.0 * LB, 900.0 * PSI, s.schedule[1]).passes[0].flow_start
    for share, good in ((1.01, True), (0.99, False)):
        done = one_pass(s, share * charge, 900.0 * PSI, s.schedule[1]).passes[0]
        assert (limits.broken(done, first) == "") is good
    more = answer(capsys, "size", "passes", car, "--flow", "99 %")["answer"]
    assert more["count"] <= told["count"] and "flow falls" in more["reason"]


# --- day: the pump of a refill -------------------------------------------------------------------
def test_day_takes_the_pump_s_efficiency(capsys, car) -> None:
    """From a cold supply: a worse pump leaves the bottle warmer, so back in its band sooner."""
    often = (
        "day",
        car,
        "--rounds",
        "2",
        "--refill-every",
        "1",
        "--refill-to",
        "8 lb",
        "--supply",
        "40 degF",
        "--cool-down",
        "0 s",
    )
    back = [
        answer(capsys, *often, "--pump-efficiency", e)["rounds"][0]["recovery_time"]
        for e in ("100 %", "60 %", "5 %")
    ]
    assert back[0] > back[1] > back[2]
    assert answer(capsys, *often)["rounds"][0]["recovery_time"] == back[1]
    assert "pump efficiency" in refused(capsys, *often, "--pump-efficiency", "2")
    assert "refill-every" in refused(capsys, "day", car, "--pump-efficiency", "0.5")


def test_a_pass_that_is_held_shut_is_said_by_name(capsys, car) -> None:
    """The arming window below the pressure at launch: nothing flows, and nothing divides by it."""
    window = 'window = ["300 psig", "400 psig"]'
    shut = changed("shut.toml", ('kind = "pass"', f'kind = "pass"\n{window}'))
    shown = ok(capsys, "tune", "power", shut, "--hp", "20 hp")
    assert "arming window" in shown and "0.0 %" in shown
    assert "nothing flows" in refused(capsys, "tune", "weight", shut, "--over-pass")


def test_what_a_horsepower_needs_is_a_row_of_the_table(capsys, car) -> None:
    shown = ok(capsys, "tune", "pressure", car, "--at", "860 psig")
    needs = float(next(x for x in shown.splitlines() if x.startswith("1 hp more")).split()[-2])
    rows = answer(capsys, "tune", "pressure", car, "--at", "860 psig")["rows"]
    made = np.interp(needs * PSI, [r["error"] for r in rows], [r["power_error"] for r in rows])
    assert made == pytest.approx(HP, rel=0.1)
