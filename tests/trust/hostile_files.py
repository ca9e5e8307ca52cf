"""The hostile corpus: scenario files and logs that no sane person wrote, made by seed or by hand.

Bases are the shipped examples, so that the corpus grows with the format.
"""

from __future__ import annotations

import io
import pickle
import random
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

import numpy as np


class Bomb:
    """Unpickled, it would run a command; the tests look whether it did."""

    def __init__(self, marker: str) -> None:
        self.marker = marker

    def __reduce__(self):
        import os

        return os.system, (f"touch {self.marker}",)


def bomb(marker: str) -> bytes:
    """A pickle that leaves ``marker`` behind when it is loaded."""
    return pickle.dumps(Bomb(marker))


def bomb_npz(marker: str) -> bytes:
    """An .npz whose array is an object array with the pickle inside."""
    out = io.BytesIO()
    trap = np.empty(1, object)
    trap[0] = Bomb(marker)
    np.savez(out, table=trap, members=np.arange(1), failed=trap, names=trap)
    return out.getvalue()


@cache
def bases() -> tuple[str, ...]:
    """Texts of all scenario files that the package ships."""
    root = files("n2osim")
    found = [p for p in root.joinpath("docs", "examples").iterdir() if p.name.endswith(".toml")]
    found += [root.joinpath("data", n) for n in ("demo.toml", "new.toml")]
    return tuple(p.read_text(encoding="utf-8") for p in sorted(found, key=lambda p: p.name))


PLAIN = """\
schema = 1
[bottle]
preset = "aluminium"
capacity = "10 lb"
fill = "8 lb"
start = "70 degF"
[heater]
power = "300 W"
[switch]
closes = "850 psig"
opens = "900 psig"
[ambient]
temperature = "70 degF"
[feed]
jets = { count = 1, bore = "0.05 in" }
[[schedule]]
kind = "hold"
duration = "10 min"
"""


def _with(old: str, new: str) -> bytes:
    assert PLAIN.count(old) == 1, old
    return PLAIN.replace(old, new).encode()


BY_HAND: dict[str, bytes] = {
    # malformed
    "empty": b"",
    "only spaces": b" \n\t\n",
    "no schema": PLAIN.encode()[11:],
    "schema of tomorrow": _with("schema = 1", "schema = 2"),
    "schema true": _with("schema = 1", "schema = true"),
    "unclosed text": _with('"10 lb"', '"10 lb'),
    "unclosed table": _with("[heater]", "[heater"),
    "two equal keys": _with('power = "300 W"', 'power = "300 W"\npower = "400 W"'),
    "two equal tables": _with("[heater]", "[bottle]"),
    "json": b'{"schema": 1}',
    "yaml": b"schema: 1\nbottle:\n  fill: 8 lb\n",
    "xml": b"<!DOCTYPE x [<!ENTITY a 'b'>]><x>&a;</x>",
    "ini": b"[bottle]\nfill = 8 lb\n",
    "shell": b"#!/bin/sh\nrm -rf /\n",
    "python": b"import os\nos.system('true')\n",
    "template": b"schema = {{ 1 }}\n",
    # wrong bytes
    "not utf-8": PLAIN.encode() + b'title = "\xff\xfe"\n',
    "utf-16": PLAIN.encode("utf-16"),
    "utf-32": PLAIN.encode("utf-32"),
    "latin-1": _with("schema = 1", 'schema = 1\ntitle = "gr\xf6\xdfe"').decode().encode("latin-1"),
    "zeros": b"\0" * 4096,
    "noise": random.Random(1).randbytes(4096),
    "zip": b"PK\x03\x04" + b"\0" * 100,
    "gzip": b"\x1f\x8b\x08\0" + b"\0" * 100,
    "elf": b"\x7fELF\x02\x01\x01" + b"\0" * 100,
    "png": b"\x89PNG\r\n\x1a\n" + b"\0" * 100,
    "nul in text": _with('"300 W"', '"300\\u0000 W"'),
    "escape": _with('"300 W"', '"\x1b[31m300 W"'),
    # huge, deep
    "two megabytes": b"#" * 2_000_000,
    "a million lines": b"\n" * 999_999 + b"x",
    "deep arrays": b"schema = 1\nx = " + b"[" * 40_000,
    "deep inline": b"schema = 1\nx = " + b"{a=" * 40_000,
    "deep key": b"schema = 1\n" + b".".join([b"a"] * 100_000) + b" = 1\n",
    "deep header": b"schema = 1\n[" + b".".join([b"a"] * 100_000) + b"]\n",
    "long number": _with('"300 W"', "9" * 5000),
    "long text": _with('"300 W"', '"' + "9" * 100_000 + '"'),
    "many tables": b"schema = 1\n" + b"[[schedule]]\nkind='hold'\n" * 20_000,
    "repeat bomb": PLAIN.encode()
    + (
        b'[[schedule]]\nkind = "repeat"\ntimes = 1000000000\n'
        b'[[schedule.items]]\nkind = "rest"\nduration = "1 s"\n'
    ),
    "nested repeat bomb": PLAIN.encode()
    + (
        b'[[schedule]]\nkind = "repeat"\ntimes = 9999\n'
        b'[[schedule.items]]\nkind = "repeat"\ntimes = 9999\n[[schedule.items.items]]\n'
        b'kind = "repeat"\ntimes = 9999\n[[schedule.items.items.items]]\nkind="rest"\n'
    ),
    # wrong types
    "bottle is a number": _with("[bottle]", "bottle = 3\n[bottl]"),
    "heater is a list": _with("[heater]\n", "[[heater]]\n"),
    "schedule is a table": _with("[[schedule]]", "[schedule]"),
    "power is true": _with('"300 W"', "true"),
    "power is a date": _with('"300 W"', "1979-05-27"),
    "power is a list": _with('"300 W"', '["300 W"]'),
    "power is a table": _with('"300 W"', "{W = 300}"),
    "kind is a number": _with('"hold"', "1"),
    "kind is not known": _with('"hold"', '"held"'),
    "count is half": _with("count = 1", "count = 0.5"),
    "count is text": _with("count = 1", 'count = "one"'),
    "count is true": _with("count = 1", "count = true"),
    "title is a list": _with("schema = 1", "schema = 1\ntitle = []"),
    # wrong units and numbers
    "temperature without a unit": _with('"70 degF"\n[heater]', "70\n[heater]"),
    "temperature as a bare text": _with('"70 degF"\n[heater]', '"70"\n[heater]'),
    "mass in volts": _with('"8 lb"', '"8 V"'),
    "pressure in kelvin": _with('"850 psig"', '"850 K"'),
    "unit unknown": _with('"300 W"', '"300 furlong"'),
    "two units": _with('"300 W"', '"300 W W"'),
    "no number": _with('"300 W"', '"W"'),
    "negative power": _with('"300 W"', '"-300 W"'),
    "nan": _with('"300 W"', "nan"),
    "infinite": _with('"300 W"', "inf"),
    "text nan": _with('"300 W"', '"nan W"'),
    "beyond float": _with('"300 W"', '"1e999 W"'),
    "negative duration": _with('"10 min"', '"-10 min"'),
    "a year": _with('"10 min"', '"1000000 h"'),
    "band upside down": _with('"850 psig"', '"950 psig"'),
    "full of lead": _with('"8 lb"', '"800 lb"'),
    "below absolute zero": _with('"70 degF"\n[heater]', '"-500 degF"\n[heater]'),
    "arabic digits": _with('"300 W"', '"\u0663\u0660\u0660 W"'),
    "zero width": _with('"300 W"', '"300\u200b W"'),
    "minus of another kind": _with('"300 W"', '"\u2212300 W"'),
    # names
    "key mistyped": _with("capacity", "capactiy"),
    "section mistyped": _with("[heater]", "[heaters]"),
    "preset unknown": _with('"aluminium"', '"unobtainium"'),
    "feed unknown": PLAIN.encode() + b'[[schedule]]\nkind = "pass"\nduration = "1 s"\nfeed = "x"\n',
    "dunder key": _with("[heater]", '[heater]\n__class__ = "os"'),
    "attribute key": _with("power =", '"power.__init__" ='),
    "path key": _with("[heater]", '[heater]\n"../../etc/passwd" = 1'),
    "code in text": _with('"300 W"', "\"__import__('os').system('x')\""),
    "format in text": _with('"300 W"', '"{0.__class__} W"'),
    "percent in text": _with('"300 W"', '"%n%s W"'),
    "empty bottles": b"schema = 1\nbottles = []\n[[schedule]]\nkind='hold'\nduration='1 s'\n",
    "both bottle and bottles": PLAIN.encode() + b'[[bottles]]\nname = "x"\n',
    "follows itself": _with("[heater]", 'follows = "nobody"\n[heater]'),
}

UNITS = (
    "psig",
    "psia",
    "psi",
    "degF",
    "degC",
    "K",
    "kg",
    "lb",
    "W",
    "V",
    "ohm",
    "s",
    "min",
    "in",
    "furlong",
    "%",
    "kPa",
    "J/K",
    "",
    "hp",
)
PIECES = (
    "\x00",
    "\ufeff",
    '"',
    "'",
    "[",
    "]",
    "{",
    "}",
    "=",
    ".",
    ",",
    "#",
    "\\",
    "\n",
    "\r",
    "\t",
    "[[",
    "]]",
    '"""',
    "'''",
    "nan",
    "inf",
    "-",
    "+",
    "_",
    "1e999",
    "9" * 60,
    "true",
    "\u202e",
    "\x1b[0m",
    "\u0661",
    "0x",
    "\ud7ff",
    "%s",
    "{0}",
    "../",
    "=",
    "[[schedule]]\n",
)


def _cut(r: random.Random, text: str) -> str:
    i = r.randrange(len(text))
    return text[:i] + text[i + r.randint(1, 40) :]


def _insert(r: random.Random, text: str) -> str:
    i = r.randrange(len(text))
    return text[:i] + r.choice(PIECES) + text[i:]


def _swap_lines(r: random.Random, text: str) -> str:
    rows = text.split("\n")
    i, j = r.randrange(len(rows)), r.randrange(len(rows))
    rows[i], rows[j] = rows[j], rows[i]
    return "\n".join(rows)


def _repeat_line(r: random.Random, text: str) -> str:
    rows = text.split("\n")
    i = r.randrange(len(rows))
    return "\n".join(rows[: i + 1] * r.randint(1, 2) + rows[i:])


def _other_unit(r: random.Random, text: str) -> str:
    places = [k for k, c in enumerate(text) if c == " " and text[k - 1 : k].isdigit()]
    if not places:
        return _cut(r, text)
    i = r.choice(places)
    end = text.find('"', i)
    return text[: i + 1] + r.choice(UNITS) + text[max(end, i + 1) :]


def _other_number(r: random.Random, text: str) -> str:
    places = [k for k, c in enumerate(text) if c.isdigit()]
    i = r.choice(places) if places else 0
    new = r.choice(("-", "0", "1e300", "-1e-300", "9999999", "0.0", "nan", "1/0", "1,5", ""))
    return text[:i] + new + text[i + 1 :]


def _letter(r: random.Random, text: str) -> str:
    i = r.randrange(len(text))
    return text[:i] + chr(r.choice((r.randrange(256), r.randrange(0xD7FF)))) + text[i + 1 :]


EDITS = (_cut, _insert, _swap_lines, _repeat_line, _other_unit, _other_number, _letter)


def _spoil(r: random.Random, text: str, most: int) -> bytes:
    for _ in range(r.randint(1, most)):
        text = r.choice(EDITS)(r, text) or "x"
    data = text.encode(r.choice(("utf-8",) * 9 + ("utf-16",)), "surrogatepass")
    if r.random() < 0.1:
        i = r.randrange(len(data))
        data = data[:i] + bytes([r.randrange(256)]) + data[i + 1 :]
    return data


def mutated_scenarios(count: int, seed: int = 0) -> Iterator[bytes]:
    """``count`` spoiled copies of the bases."""
    r = random.Random(seed)
    for _ in range(count):
        yield _spoil(r, r.choice((*bases(), PLAIN, PLAIN)), 4)


LOG = "t_s,p_psig,T [degC]\n" + "".join(f"{0.5 * k},{850 + k},{20 + k / 10}\n" for k in range(20))
LOGS = (
    LOG,
    "Zeit [s];Druck [bar]\n0,0;62,1\n0,5;62,3\n1,0;62,2\n1,5;62,0\n",
    "# logger\n\ntime\tP tank [psig]\n12:00:00\t900\n12:00:01\t901\n12:00:02\t903\n",
    "time [s] , weight [lb], pressure [psia]\n0,30,914\n1,30.1,915\n2,30.2,916\n",
)
LOGS_BY_HAND: dict[str, bytes] = {
    "empty": b"",
    "only a header": b"t_s,p_psig\n",
    "one row": b"t_s,p_psig\n0,900\n",
    "no time": b"p_psig,T [degC]\n900,20\n901,20\n",
    "no numbers": b"t_s,p_psig\nx,y\nz,w\n",
    "no header": b"0,900\n1,901\n2,902\n",
    "not utf-8": b"t_s,p_psig\n0,\xff\xfe900\n1,\xff\n",
    "noise": random.Random(2).randbytes(5000),
    "zeros": b"\0" * 5000,
    "zip": b"PK\x03\x04" + b"\0" * 99,
    "one long line": b"1," * 500_000,
    "many columns": b",".join([b"a"] * 100_000) + b"\n1\n",
    "unclosed quote": b't_s,p_psig\n"0,900\n1,901\n' + b"2,902\n" * 1000,
    "wide rows": b"t_s,p_psig\n" + b"0," + b"9," * 100_000 + b"\n",
    "backwards": b"t_s,p_psig\n3,900\n2,900\n1,900\n",
    "all the same time": b"t_s,p_psig\n1,900\n1,901\n1,902\n",
    "infinite": b"t_s,p_psig\ninf,900\nnan,901\n",
    "beyond float": b"t_s,p_psig\n0,1e999\n1,1e999\n",
    "formula": b"=cmd|'/c calc'!A0,p_psig\n0,900\n1,901\n",
    "two pressures of one name": b"t_s,p_psig,p_psig\n0,1,2\n1,1,2\n",
    "wrong unit": b"t [lb],p [V]\n0,900\n1,901\n",
    "toml": PLAIN.encode(),
    "json": b'[{"t_s": 0, "p_psig": 900}]',
    "html": b"<html><td>0</td></html>",
    "nul between": b"t_s,p_psig\n0\0,900\n1\0,901\n",
    "colour": b"\x1b[31mt_s,p_psig\n\x1b[0mq,w\n",
}


def mutated_logs(count: int, seed: int = 0) -> Iterator[bytes]:
    """``count`` spoiled copies of good logs."""
    r = random.Random(seed)
    for _ in range(count):
        yield _spoil(r, r.choice(LOGS), 6)
