"""Hostile scenario files: whatever is in them, the project's own error or a valid scenario."""

import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scenario_texts import CHECKS, EVERYTHING, PAIR, SMALL

from n2osim.errors import ScenarioError
from n2osim.scenario.file import load, loads
from n2osim.scenario.scenario import Scenario
from n2osim.scenario.source import LARGEST

BASES = (SMALL, EVERYTHING, PAIR, CHECKS)
VALUES = (
    "true",
    "-1",
    "0",
    "1e308",
    "-1e308",
    "nan",
    "-inf",
    "9" * 400,
    "9" * 5000,
    '""',
    '"x"',
    '"1e999 lb"',
    '"12 lb lb"',
    "\"__import__('os').system('x')\"",
    "[]",
    "{}",
    "[[]]",
    "[1, 2]",
    "[[1]]",
    '[["0 s"]]',
    "{a = 1}",
    "[{}]",
    "[{a = {b = 1}}]",
    "1979-05-27",
    "07:32:00",
    "1979-05-27T07:32:00Z",
    "0x7fffffffffffffffffff",
    "'''\nlong\n'''",
    '"' + "x" * 3000 + '"',
    '"12 \\u0000lb"',
    '"\u0661\u0662 lb"',
    '"12 l\u200bb"',
    "[" * 20 + "]" * 20,
    '"80 %"',
    '"1/0 in"',
    '"-0 degF"',
)


def outcome(text: str) -> str:
    """ "ok" or "refused"; anything else propagates and fails the test."""
    try:
        made = loads(text, "hostile.toml")
    except ScenarioError as error:
        assert len(str(error)) < 1500
        assert error.file == "hostile.toml"
        return "refused"
    assert isinstance(made, Scenario)
    return "ok"


BYTES = {
    "utf-16": SMALL.encode("utf-16"),
    "latin": SMALL.replace("small", "größe").encode("latin-1"),
    "zeros": b"\0" * 1000,
    "random": random.Random(5).randbytes(5000),
    "lone continuation": b'schema = 1\ntitle = "\x80"\n',
    "surrogate": b'schema = 1\ntitle = "\xed\xa0\x80"\n',
    "pickle": b"\x80\x04\x95\x15\x00\x00\x00\x00\x00\x00\x00\x8c\x05posix\x94",
    "too large": b"# " + b"x" * LARGEST,
    "old mac line ends": SMALL.replace("\n", "\r").encode(),
    "gzip": b"\x1f\x8b\x08\x00" + b"x" * 50,
}


@pytest.mark.parametrize("name", BYTES)
def test_hostile_bytes(name: str, tmp_path) -> None:
    path = tmp_path / "hostile.toml"
    path.write_bytes(BYTES[name])
    with pytest.raises(ScenarioError) as caught:
        load(path)
    assert caught.value.file == str(path)


def test_byte_order_mark_and_windows_line_ends_are_fine(tmp_path) -> None:
    path = tmp_path / "w.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())
    assert load(path) == loads(SMALL)


DEEP = {
    "arrays": "schema = 1\nx = " + "[" * 50_000,
    "closed arrays": "schema = 1\nx = " + "[" * 30_000 + "]" * 30_000,
    "inline tables": "schema = 1\nx = " + "{a = " * 50_000,
    "dotted key": "schema = 1\n" + ".".join("a" * 200_000) + " = 1",
    "header": "schema = 1\n[" + ".".join("a" * 200_000) + "]",
    "many headers": "schema = 1\n" + "\n".join(f"[a{i}]" for i in range(50_000)),
    "array headers": "schema = 1\n" + "[[schedule]]\n" * 50_000,
    "one long string": 'schema = 1\nx = "' + "y" * 900_000,
    "quotes": "schema = 1\n" + 'x = """\n' * 100_001,
    "backslashes": 'schema = 1\nx = "' + "\\" * 900_000,
    "comment lines": "#\n" * 400_000,
    "long digits": "schema = " + "1" * 900_000,
    "wide array": "schema = 1\nx = [" + "1," * 400_000 + "]",
}


@pytest.mark.parametrize("name", DEEP)
@pytest.mark.filterwarnings("error")
def test_deep_or_huge_texts_are_refused_quickly(name: str) -> None:
    assert outcome(DEEP[name]) == "refused"


def _variants() -> list[str]:
    """Every value of every base text replaced by every hostile value, every line dropped."""
    texts = []
    for base in BASES:
        rows = base.splitlines()
        for i, row in enumerate(rows):
            texts.append("\n".join(rows[:i] + rows[i + 1 :]))
            if " = " in row and not row.startswith("#"):
                key = row.split(" = ")[0]
                texts += ["\n".join([*rows[:i], f"{key} = {v}", *rows[i + 1 :]]) for v in VALUES]
    return texts


@pytest.mark.campaign
def test_every_value_replaced_by_every_hostile_value() -> None:
    texts = _variants()
    results = [outcome(t) for t in texts]
    assert len(texts) > 2500
    assert results.count("refused") > 0.8 * len(texts)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.sampled_from(BASES),
    st.lists(st.tuples(st.floats(0, 1), st.integers(0, 8), st.text(max_size=8)), max_size=6),
)
def test_edited_texts(base: str, edits: list) -> None:
    text = base
    for place, cut, insert in edits:
        at = int(place * len(text))
        text = text[:at] + insert + text[at + cut :]
    assert outcome(text) in ("ok", "refused")


@settings(max_examples=300, deadline=None)
@given(st.text(alphabet="[]{}=.,\"'#\n\\ ab1-", max_size=300))
def test_random_syntax(text: str) -> None:
    assert outcome("schema = 1\n" + text) in ("ok", "refused")
