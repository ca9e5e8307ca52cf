"""Reading data logs: every spelling of a CSV, everything refused is accounted for.

Expected values are written out by hand from the file's own text: psi = 6894.757293168361 Pa
(NIST SP 811), degF to K by definition.
"""

from __future__ import annotations

import io
import pickle
from pathlib import Path

import numpy as np
import pytest

from n2osim.errors import InputError, LogError, N2OSimError, UnitError, UnknownNameError
from n2osim.fit.log_columns import Column
from n2osim.fit.log_reader import longest_rising
from n2osim.fit.logs import Log, read_log

PSI = 6894.757293168361
PLAIN = "time [s],Bottle pressure [psig],Bottle temp [degF]\n0,900,60\n0.5,901.5,60.5\n1,903,61\n"


def write(path: Path, text: str, encoding: str = "utf-8") -> Path:
    path.write_bytes(text.encode(encoding))
    return path


def test_plain_file(tmp_path: Path) -> None:
    log = read_log(write(tmp_path / "a.csv", PLAIN))
    assert log.time.tolist() == [0.0, 0.5, 1.0]
    np.testing.assert_allclose(log["gauge_pressure"], np.array([900, 901.5, 903]) * PSI, rtol=1e-12)
    np.testing.assert_allclose(log["bottle_temperature"], (np.array([60, 60.5, 61]) + 459.67) / 1.8)
    assert log.report.rows == log.report.kept == 3
    assert log.report.rejected == ()
    assert log.name == "a"


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "utf-32"]
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(tmp_path: Path, encoding: str, end: str) -> None:
    text = PLAIN.replace("degF", "°F").replace("\n", end)
    log = read_log(write(tmp_path / "a.csv", text, encoding))
    assert log["bottle_temperature"][0] == pytest.approx((60 + 459.67) / 1.8)
    assert len(log) == 3


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_delimiters(tmp_path: Path, delimiter: str) -> None:
    log = read_log(write(tmp_path / "a.csv", PLAIN.replace(",", delimiter)))
    assert log.report.delimiter == delimiter
    assert log["gauge_pressure"][1] == pytest.approx(901.5 * PSI)


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_decimal_comma(tmp_path: Path, delimiter: str) -> None:
    text = delimiter.join(("Zeit (s)", "Druck (bar)")) + "\n"
    text += "".join(f"0,{i}{delimiter}6{i},25\n" for i in range(5))
    log = read_log(write(tmp_path / "a.csv", text))
    assert log.report.decimal == ","
    np.testing.assert_allclose(log.time, [0, 0.1, 0.2, 0.3, 0.4])
    np.testing.assert_allclose(log["gauge_pressure"], [60.25e5, 61.25e5, 62.25e5, 63.25e5, 64.25e5])


def test_decimal_comma_in_quotes_and_thousands(tmp_path: Path) -> None:
    text = 't_s,p_psig\n"0,0","1.012,5"\n"0,5","998,25"\n'
    log = read_log(write(tmp_path / "a.csv", text))
    np.testing.assert_allclose(log["gauge_pressure"] / PSI, [1012.5, 998.25])
    text = 't_s,p_psig\n0.0,"1,012.5"\n0.5,998.25\n1.0,"1,050"\n'
    log = read_log(write(tmp_path / "b.csv", text))
    np.testing.assert_allclose(log["gauge_pressure"] / PSI, [1012.5, 998.25, 1050.0])


def test_ambiguous_comma_is_asked_back(tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv", "t_s;p_psig\n0;1,012\n1;998\n2;1,050\n")
    with pytest.raises(LogError, match="decimal comma or a thousands mark"):
        read_log(path)
    assert read_log(path, decimal=".")["gauge_pressure"][0] == pytest.approx(1012 * PSI)


def test_decimal_comma_without_quotes_in_a_comma_file_is_refused(tmp_path: Path) -> None:
    """0,0,60,5 could be anything: the rows do not have the header's width."""
    with pytest.raises(LogError):
        read_log(
            write(tmp_path / "a.csv", "t_s,p_bar\n0,0,60,5\n0,5,60,7\n1,0,60,9\n"),
            columns={"time": "t_s", "gauge_pressure": "p_bar"},
        )


def test_rows_are_accounted_for_one_by_one(tmp_path: Path) -> None:
    text = (
        "# invented log\n"  # 1
        "t_s,p_psig,T [degC]\n"  # 2
        "0,900,20\n"  # 3
        "\n"  # 4 blank
        "1,ERR,20\n"  # 5 cell refused
        "2,902\n"  # 6 short row
        "3,903,20,7\n"  # 7 long row
        "# pit stop\n"  # 8 comment
        "4,904,900\n"  # 9 temperature out of range
        "x,905,20\n"  # 10 no time
        "t_s,p_psig,T [degC]\n"  # 11 header again
        "2,906,20\n"  # 12 time runs backwards
        "5,,\n"  # 13 nothing beside the time
        "6,1e999,20\n"  # 14 infinite
        "7,907,\n"  # 15 empty cell: fine
        "8,908,20"  # 16 no line end
    )
    log = read_log(write(tmp_path / "a.csv", text))
    why = {(r.line, r.column): r.reason.split(":")[0] for r in log.report.rejected}
    assert why == {
        (5, "p_psig"): "not a number",
        (6, None): "wrong number of cells",
        (7, None): "wrong number of cells",
        (9, "T [degC]"): "out of range",
        (10, "t_s"): "not a number",
        (10, None): "no time that can be read",
        (11, None): "header repeated",
        (12, None): "time out of order",
        (13, None): "nothing usable beside the time",
        (14, "p_psig"): "not a number",
    }
    assert log.lines.tolist() == [3, 5, 9, 14, 15, 16]
    r = log.report
    assert (r.rows, r.kept, r.comments, r.blank) == (12, 6, 1, 1)  # above the header not counted
    assert r.rows == r.kept + 6
    assert "line 6: wrong number of cells" in r.text()


def test_every_line_is_header_comment_blank_kept_or_rejected(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    kinds = ["1.5,900\n", "\n", "# c\n", "bad row\n", "2,x\n", "3,900,1\n", ",\n", "9e9,7\n"]
    body = "".join(kinds[k] for k in rng.integers(0, len(kinds), 500))
    log = read_log(write(tmp_path / "a.csv", "t_s,p_psig\n" + "0,900\n0,900\n" + body))
    r = log.report
    assert r.rows + r.blank + r.comments == 502
    assert r.rows == r.kept + len({x.line for x in r.rejected} - set(log.lines.tolist()))


def test_one_wild_time_costs_one_row(tmp_path: Path) -> None:
    rows = "".join(f"{i},{900 + i}\n" for i in range(10)) + "1e6,910\n"
    rows += "".join(f"{i},{900 + i}\n" for i in range(11, 20))
    log = read_log(write(tmp_path / "a.csv", "t_s,p_psig\n" + rows))
    assert log.report.kept == 19
    assert [r.line for r in log.report.rejected] == [12]


def test_longest_rising() -> None:
    assert longest_rising([0, 1, 9, 2, 3]).tolist() == [0, 1, 3, 4]
    assert longest_rising([0, 1, 4, 2, 5]).tolist() == [0, 1, 2, 4]
    assert longest_rising([]).size == 0
    assert longest_rising([1, 1, 1]).size == 3


def test_clock_times_and_midnight(tmp_path: Path) -> None:
    text = "time,p_psig\n23:59:58.5,900\n23:59:59.5,901\n00:00:00.5,902\n0:00:01.5,903\n"
    np.testing.assert_allclose(np.diff(_clock(tmp_path, text).time), 1.0)
    text = "time,p_psig\n2024-02-29T23:59:59,900\n2024-03-01T00:00:00.25,901\n"
    np.testing.assert_allclose(np.diff(_clock(tmp_path, text).time), 1.25)
    text = "time,p_psig\n2024-05-01 12:00:00Z,900\n2024-05-01 14:00:01+02:00,901\n"
    np.testing.assert_allclose(np.diff(_clock(tmp_path, text).time), 1.0)


def _clock(tmp_path: Path, text: str) -> Log:
    columns = {"time": ("time", "s"), "gauge_pressure": "p_psig"}
    return read_log(write(tmp_path / "c.csv", text), columns=columns)


def test_preamble_units_row_and_metadata(tmp_path: Path) -> None:
    text = (
        "Logger 3000\nSerial;12\nRate;10\n\nTime;Bottle pressure;Heater;Solenoid duty\n"
        "s;bar;;%\n0,0;62,0;on;0\n0,1;62,1;off;50\n0,2;62,2;off;100\n"
    )
    log = read_log(write(tmp_path / "a.csv", text))
    assert log.report.header_line == 5
    np.testing.assert_allclose(log["gauge_pressure"], [62e5, 62.1e5, 62.2e5])
    assert log["heater_on"].tolist() == [1.0, 0.0, 0.0]
    assert log["solenoid_duty"].tolist() == [0.0, 0.5, 1.0]


def test_header_in_a_comment_and_no_header(tmp_path: Path) -> None:
    body = "0 900\n1 901\n2 902\n"
    log = read_log(write(tmp_path / "a.txt", "# t_s p_psig\n" + body))
    assert log["gauge_pressure"][2] == pytest.approx(902 * PSI)
    log = read_log(
        write(tmp_path / "b.txt", body), columns={"time": (0, "s"), "gauge_pressure": (1, "psig")}
    )
    assert log["gauge_pressure"][2] == pytest.approx(902 * PSI)


def test_scale_and_offset_of_a_raw_sensor(tmp_path: Path) -> None:
    """0.5 to 4.5 V for 0 to 1600 psig."""
    text = "t_s,volts\n0,0.5\n1,2.5\n2,4.5\n"
    column = Column("volts", "psig", scale=400.0, offset=-200.0)
    log = read_log(
        write(tmp_path / "a.csv", text), columns={"time": "t_s", "gauge_pressure": column}
    )
    np.testing.assert_allclose(log["gauge_pressure"] / PSI, [0, 800, 1600], atol=1e-9)


def test_absolute_pressure_stays_absolute(tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv", "t_s,p_psia\n0,914.7\n1,915.7\n")
    log = read_log(path)
    assert "pressure" in log and "gauge_pressure" not in log
    np.testing.assert_allclose(log.gauge(14.7 * PSI), np.array([900, 901]) * PSI, rtol=1e-9)
    with pytest.raises(UnitError, match="ambient"):
        read_log(path, columns={"time": "t_s", "gauge_pressure": "p_psia"})
    log = read_log(
        path, columns={"time": "t_s", "gauge_pressure": ("p_psia", "psia")}, ambient="14.7 psia"
    )
    np.testing.assert_allclose(log["gauge_pressure"], np.array([900, 901]) * PSI, rtol=1e-9)


def test_bare_psi_is_noted_as_gauge(tmp_path: Path) -> None:
    log = read_log(write(tmp_path / "a.csv", PLAIN.replace("psig", "psi")))
    assert any("taken as gauge" in n for n in log.report.notes)


@pytest.mark.parametrize(
    ("columns", "message"),
    [
        ({"time": "t", "gauge_pressure": "nope"}, "no such column"),
        ({"time": "time [s]", "gauge_pressure": 7}, "no column 7"),
        ({"time": "time [s]", "gauge_pressure": ("time [s]", "psig")}, "used for both"),
    ],
)
def test_column_mistakes(tmp_path: Path, columns: dict[str, object], message: str) -> None:
    with pytest.raises(LogError, match=message):
        read_log(write(tmp_path / "a.csv", PLAIN), columns=columns)


def test_mapping_mistakes(tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv", PLAIN)
    with pytest.raises(UnknownNameError, match="gauge_pressure"):
        read_log(path, columns={"time": "time [s]", "gauge_presure": "x"})
    with pytest.raises(LogError, match="no such column"):
        read_log(path, columns={"gauge_pressure": "x"})
    with pytest.raises(InputError, match="not both"):
        read_log(path, columns={"time": 0, "gauge_pressure": 1, "pressure": 2})
    for bad in (None, -1, 1.5, True, ["a", "b", "c", "d", "e"], {"nam": "x"}):
        with pytest.raises(InputError):
            read_log(path, columns={"time": 0, "gauge_pressure": bad})
    with pytest.raises(UnitError):
        read_log(path, columns={"time": 0, "gauge_pressure": (1, "degF")})


def test_wanted_quantity_without_unit_asks_for_it(tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv", "t_s,tank pressure raw\n0,1\n1,2\n")
    with pytest.raises(LogError, match="no unit in the header"):
        read_log(path)


def test_two_pressures_are_asked_back(tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv", "t_s,p left [psig],p right [psig]\n0,1,2\n1,2,3\n")
    with pytest.raises(LogError, match="could be any of"):
        read_log(path)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n\n\n",
        b"just words\nand more\n",
        b"1\n2\n3\n",
        b"\x00\x01\x02\x03" * 500,
        b"a,b\n",
        b"# only\n# comments\n",
        b"t_s,p_psig\n0,900\n",
    ],
)
def test_unusable_files(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(content)
    with pytest.raises(LogError, match=r"a\.csv"):
        read_log(path)


def test_no_file_and_wrong_arguments(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="no such file"):
        read_log(tmp_path / "missing.csv")
    with pytest.raises(LogError, match="this is a directory"):
        read_log(tmp_path)
    with pytest.raises(InputError):
        read_log(7)  # type: ignore[arg-type]
    with pytest.raises(InputError):
        read_log("a\0b")
    path = write(tmp_path / "a.csv", PLAIN)
    with pytest.raises(LogError, match="not known"):
        read_log(path, encoding="klingon")
    for bad in ({"delimiter": "::"}, {"delimiter": ""}, {"decimal": "x"}):
        with pytest.raises(LogError):
            read_log(path, **bad)


def test_undecodable_bytes_cost_their_cells_only(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(PLAIN.encode() + b"1.5,9\xff0,61\n2,904,62\n")
    log = read_log(path, encoding="utf-8")
    assert [r.line for r in log.report.rejected] == [5]
    assert np.isnan(log["gauge_pressure"][3])
    assert log["gauge_pressure"][4] == pytest.approx(904 * PSI)


def test_overlong_line(tmp_path: Path) -> None:
    text = PLAIN + "9" * 450_000 + "\n" + "2,905,62\n"
    log = read_log(write(tmp_path / "a.csv", text))
    assert [r.line for r in log.report.rejected] == [5]
    assert log.lines.tolist() == [2, 3, 4, 6]


def test_stray_quote_does_not_swallow_the_file(tmp_path: Path) -> None:
    text = PLAIN + '1.5,"904,61\n2,905,62\n'
    log = read_log(write(tmp_path / "a.csv", text))
    assert log.lines.tolist() == [2, 3, 4, 6]
    assert log.report.rejected[0].line == 5


def test_row_limit(tmp_path: Path) -> None:
    with pytest.raises(LogError, match="more than 2 rows"):
        read_log(write(tmp_path / "a.csv", PLAIN), max_rows=2)


def test_text_stream() -> None:
    assert len(read_log(io.StringIO(PLAIN))) == 3


def test_windows_and_thinning(tmp_path: Path) -> None:
    log = read_log(write(tmp_path / "a.csv", PLAIN))
    part = log.between(0.5, 1.0, zero=True)
    assert part.time.tolist() == [0.0, 0.5]
    assert part.lines.tolist() == [3, 4]
    assert len(log.thin(2)) == 2
    with pytest.raises(InputError, match="log window"):
        log.between(5, 6)
    with pytest.raises(UnknownNameError):
        log["gauge"]
    again = pickle.loads(pickle.dumps(log))
    np.testing.assert_array_equal(again["gauge_pressure"], log["gauge_pressure"])


def test_from_arrays_is_checked() -> None:
    log = Log.from_arrays([0.0, 1.0, 2.0], gauge_pressure=[1e6, 2e6, 3e6])
    assert log.pressure_channel == "gauge_pressure"
    with pytest.raises(UnknownNameError):
        Log.from_arrays([0.0, 1.0], pressur=[1.0, 2.0])
    with pytest.raises(InputError):
        Log.from_arrays([0.0, 1.0], pressure=[1.0])
    with pytest.raises(InputError):
        Log.from_arrays([1.0, 0.0], pressure=[1.0, 2.0])
    with pytest.raises(LogError, match="no pressure"):
        Log.from_arrays([0.0, 1.0], charge=[1.0, 2.0]).gauge(101325.0)


def test_errors_are_the_projects_own() -> None:
    assert issubclass(LogError, N2OSimError) and issubclass(UnitError, N2OSimError)


# --- what tuners' logs do ---------------------------------------------------------------------
def test_one_named_column_does_not_oblige_the_others(tmp_path: Path) -> None:
    text = "t,P1,P2 [psig],T [degF]\n" + "".join(f"{k},{k},{900 + k},70\n" for k in range(9))
    log = read_log(write(tmp_path / "a.csv", text), {"gauge_pressure": "P2 [psig]"})
    assert log["gauge_pressure"][3] == pytest.approx(903 * PSI)
    assert log.time.tolist() == list(range(9))
    assert any("taken as seconds" in note for note in log.report.notes)
    log = read_log(write(tmp_path / "b.csv", PLAIN), {"bottle_temperature": 2})
    assert log["gauge_pressure"][1] == pytest.approx(901.5 * PSI)


def test_t_is_a_time_and_capital_t_with_a_unit_a_temperature(tmp_path: Path) -> None:
    text = "t,P tank [psi],T [degF]\n0,900,60\n1,901,61\n2,902,62\n"
    log = read_log(write(tmp_path / "a.csv", text))
    assert log.time.tolist() == [0.0, 1.0, 2.0]
    assert log["bottle_temperature"][0] == pytest.approx((60 + 459.67) / 1.8)


@pytest.mark.parametrize(
    ("data", "words"),
    (
        (b"", "empty"),
        (b"PK\x03\x04" + b"a,b\n1,2\n" * 20, "zip archive"),
        (b"\x1f\x8b\x08" + bytes(range(1, 200)), "gzip"),
        (b"t,p\n\0\1\2\3" + bytes(400), "not a text file"),
        (b"MDF     3.00" + b"x" * 300, "binary format"),
    ),
)
def test_what_is_no_log_is_called_by_its_name(tmp_path: Path, data: bytes, words: str) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(data)
    with pytest.raises(LogError, match=words):
        read_log(path)


def test_a_pipe_is_refused_rather_than_waited_for(tmp_path: Path) -> None:
    import os

    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(LogError, match="pipe"):
        read_log(tmp_path / "pipe")


def test_data_frame(tmp_path: Path) -> None:
    pandas = pytest.importorskip("pandas")
    path = write(tmp_path / "a.csv", PLAIN)
    frame = pandas.read_csv(path)
    for given in (frame, frame.set_index("time [s]")):
        log = read_log(given)
        np.testing.assert_array_equal(log["gauge_pressure"], read_log(path)["gauge_pressure"])
        np.testing.assert_array_equal(log.time, [0.0, 0.5, 1.0])


def test_a_column_that_only_its_unit_calls_a_pressure(tmp_path):
    file = tmp_path / "bottle.csv"
    file.write_text("time [s],bottle [psig],fuel [psi],shell [degF]\n0,900,45,88\n1,880,45,87\n")
    log = read_log(file)
    assert log.channels["gauge_pressure"] == pytest.approx(np.array([900.0, 880.0]) * PSI)
    assert repr(log).startswith("<Log 'bottle") and "2 rows, 0 to 1 s" in repr(log)
    two = tmp_path / "two.csv"
    two.write_text("time [s],left [psig],right [psig]\n0,900,870\n1,880,860\n")
    with pytest.raises(LogError, match=r"could be any of 'left \[psig\]', 'right \[psig\]'"):
        read_log(two)
