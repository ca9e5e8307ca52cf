"""Hostile logs: whatever the bytes are, the outcome is a log or the project's own error."""

from __future__ import annotations

import os
import random
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from n2osim.errors import N2OSimError
from n2osim.fit.log_text import to_clock, to_number
from n2osim.fit.logs import read_log

MUTATIONS = int(os.environ.get("N2OSIM_LOG_FUZZ", "600"))
SEEDS = (
    "t_s,p_psig,T [degC],heater\n0,900,20,on\n0.5,901,20.5,off\n1,902,21,1\n1.5,903,21,0\n",
    "Zeit [s];Druck [bar]\n0,0;62,1\n0,5;62,3\n1,0;62,2\n",
    "# logger\n\ntime\tP tank [psig]\n12:00:00\t900\n12:00:01\t901\n12:00:02\t903\n",
    "time [s] , weight [lb], pressure [psia]\n0,30,914\n1,30.1,915\n2,30.2,916\n",
)
PIECES = [
    "\x00",
    "\ufeff",
    '"',
    "'",
    ",,,,",
    ";;",
    "\t",
    "\r",
    "\n\n",
    "-",
    "e",
    "1e999",
    "nan",
    "inf",
    "1_000",
    "١٢",
    "psig",
    "[",
    "]",
    "#",
    "%",
    "\x1a",
    "\x85",
    "\u2028",
    "=cmd()",
    "9" * 400,
    "0x10",
    "∞",
    "t_s,p_psig",
    "12:61:00",
    "24-13-99T25:00:00",
    ",",
]


def attempt(path: Path, **options: object) -> None:
    """Read; anything but a sound log or the project's error fails the test."""
    try:
        log = read_log(path, **options)  # type: ignore[arg-type]
    except N2OSimError as error:
        assert str(error)
        return
    assert len(log) >= 2
    assert np.all(np.diff(log.time) >= 0.0) and np.all(np.isfinite(log.time))
    for values in log.channels.values():
        assert values.shape == log.time.shape and not np.isinf(values).any()
    assert log.report.rows >= log.report.kept == len(log)
    log.report.text()


@settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.binary(max_size=600))
def test_any_bytes(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(data)
    attempt(path)
    attempt(path, columns={"time": (0, "s"), "gauge_pressure": (1, "psig")})


@settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(text=st.text(alphabet='0123456789.,;:-+eE \t\n"#psigt_[]abc', max_size=300))
def test_nearly_csv(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.csv"
    path.write_text(text, newline="")
    attempt(path)
    attempt(path, columns={"time": (0, "s"), "charge": (1, "kg")}, decimal=",")


def test_mutated_logs(tmp_path: Path) -> None:
    """N2OSIM_LOG_FUZZ sets the count (default 600)."""
    rng = random.Random(20)
    path = tmp_path / "x.csv"
    for _ in range(MUTATIONS):
        text = rng.choice(SEEDS)
        for _ in range(rng.randint(1, 6)):
            i = rng.randrange(len(text))
            action = rng.randrange(3)
            if action == 0:
                text = text[:i] + rng.choice(PIECES) + text[i:]
            elif action == 1:
                text = text[:i] + text[i + rng.randint(1, 30) :]
            else:
                text = (
                    text[:i]
                    + chr(rng.choice((rng.randrange(256), rng.randrange(0xD7FF))))
                    + (text[i + 1 :])
                )
            text = text or "x"
        data = text.encode(rng.choice(("utf-8", "utf-16", "utf-8-sig")))
        if rng.random() < 0.3:
            j = rng.randrange(len(data))
            data = data[:j] + bytes([rng.randrange(256)]) + data[j + 1 :]
        path.write_bytes(data)
        attempt(path)


def test_nothing_is_executed_or_followed(tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text("t_s,p_psig\n=HYPERLINK(1),900\n0,__import__('os')\n1,900\n2,901\n")
    log = read_log(path)
    assert len(log) == 2
    assert [(r.line, r.reason.split(":")[0]) for r in log.report.rejected] == [
        (2, "not a number"),
        (2, "no time that can be read"),
        (3, "not a number"),
        (3, "nothing usable beside the time"),
    ]


@pytest.mark.parametrize("cell", ["1_0", "0x1", "inf", "NaN ", "１", "1e", "1,5", "--1", "1 2", ""])
def test_what_is_no_number(cell: str) -> None:
    with pytest.raises(ValueError):
        to_number(cell, ".")


@given(value=st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_come_back_exactly(value: float) -> None:
    assert to_number(repr(value), ".") == value
    assert to_number(repr(value).replace(".", ","), ",") == value


@pytest.mark.parametrize(
    ("cell", "seconds"),
    [
        ("1:02:03.5", 3723.5),
        ("02:03", 123.0),
        ("1:2:3", 3723.0),
        ("1:60:00", None),
        ("x", None),
        ("2024-13-01T00:00:00", None),
    ],
)
def test_clock(cell: str, seconds: float | None) -> None:
    assert to_clock(cell) == seconds


def test_large_file_reads_in_reasonable_time(tmp_path: Path) -> None:
    n = 100_000
    path = tmp_path / "x.csv"
    with path.open("w") as out:
        out.write("t_s,p_psig\n")
        out.writelines(f"{0.01 * i:.2f},{900 + i % 7}\n" for i in range(n))
    log = read_log(path)
    assert len(log) == n and log.report.rejected == ()
