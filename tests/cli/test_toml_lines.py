"""The line finder against texts whose lines are counted by hand, and against tomllib's keys."""

import tomllib

import pytest
from scenario_texts import CHECKS, EVERYTHING, PAIR, SMALL

from n2osim.scenario.toml_lines import DEEPEST, TooDeep, key_lines

TEXT = '''\
# comment with [brackets] and x = 1
a = 1
"quoted key" = """
[not.a.header]
b = 2
"""
c.d = { e = 1, f = [1, 2,
  3] } # {
[t]
list = [
  "x # y",   # comment ]
  { k = 'lit]eral' },
]
[[rows]]
n = 1
[[rows]]
n = 2
[rows.sub]
m = 07:30:00
[[rows.deep]]
q = "\\"]"
'''


def test_lines_counted_by_hand() -> None:
    lines = key_lines(TEXT)
    assert lines[("a",)] == 2
    assert lines[("quoted key",)] == 3
    assert ("b",) not in lines
    assert lines[("c", "d", "e")] == lines[("c", "d", "f", 0)] == 7
    assert lines[("c", "d", "f", 2)] == 8
    assert lines[("t",)] == 9 and lines[("t", "list")] == 10
    assert lines[("t", "list", 0)] == 11 and lines[("t", "list", 1, "k")] == 12
    assert lines[("rows", 0, "n")] == 15 and lines[("rows", 1, "n")] == 17
    assert lines[("rows", 1, "sub", "m")] == 19
    assert lines[("rows", 1, "deep", 0, "q")] == 21


def paths(value: object, at: tuple = ()):
    items = value.items() if isinstance(value, dict) else enumerate(value)
    for key, inner in items:
        yield (*at, key)
        if isinstance(inner, (dict, list)):
            yield from paths(inner, (*at, key))


@pytest.mark.parametrize("text", [TEXT, SMALL, EVERYTHING, PAIR, CHECKS])
def test_every_key_that_tomllib_finds_has_a_line(text: str) -> None:
    lines = key_lines(text)
    rows = text.splitlines()
    for path in paths(tomllib.loads(text)):
        assert path in lines, path
        if isinstance(path[-1], str):
            assert path[-1] in rows[lines[path] - 1], path


@pytest.mark.parametrize(
    "text",
    [
        ".".join("a" * 400) + " = 1",
        "x = " + "[" * 400,
        "x = " + "{y = " * 400,
        "[" + ".".join("a" * 100_000) + "]",
    ],
)
def test_deep_nesting_is_reported_with_its_line(text: str) -> None:
    with pytest.raises(TooDeep) as caught:
        key_lines("# one\n" + text)
    assert caught.value.line == 2
    assert DEEPEST < 100


@pytest.mark.parametrize(
    "text",
    [
        "[",
        "[[a",
        "= 1",
        'a = "',
        "a = '''",
        "a = {b = ",
        "]\n}\na=",
        "\x00\x01",
        "a = [1 2]\nb = 3",
        '"""',
        "a.b.\n",
    ],
)
def test_broken_text_never_raises(text: str) -> None:
    assert isinstance(key_lines(text), dict)
