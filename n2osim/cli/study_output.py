"""What the study commands share: answers as text, JSON or CSV, options, and signs of progress."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from n2osim.cli.output import put_text
from n2osim.cli.parser import OutputPath, PicturePath, add_overwrite, add_units, options

FLAGS = {"true": True, "false": False}
"""Values of a field that is one or the other, as they are written."""


def add_outputs(
    parser: Any,
    *,
    json: str = "write the answer as JSON",
    csv: str = "write the table as CSV",
    plot: str = "",
) -> None:
    """``--json``, ``--csv``, ``--plot`` where they have words, ``--quiet``, units, overwriting."""
    add_units(parser)
    for name, words in (("--json", json), ("--csv", csv)):
        if words:
            options(parser, (name, "PATH", f"{words} ('-': to stdout)", {"type": OutputPath}))
    if plot:
        options(parser, ("--plot", "PATH", f"{plot} (.png, .pdf, .svg)", {"type": PicturePath}))
    if json:
        options(parser, ("--quiet", "", "nothing on the terminal"))
    add_overwrite(parser)


def say(args: Any, text: str) -> None:
    """Text on the terminal, unless a result goes there or it is not wanted."""
    if not args.quiet and "-" not in (args.json, getattr(args, "csv", None)):
        sys.stdout.write(text if text.endswith("\n") else text + "\n")


def say_cautions(args: Any) -> None:
    """The standing cautions: the last thing of every command whose answer someone acts on."""
    from n2osim.report.text import cautions_text

    say(args, "\n" + cautions_text())


def put_json(args: Any, data: Mapping[str, Any]) -> None:
    """Write ``data`` (SI) where asked for; NaN becomes null."""
    if args.json is not None:
        from n2osim import __version__
        from n2osim.results.frames import json_text

        full = {"program": f"n2osim {__version__}", "units": "SI, pressures as named", **data}
        text = json_text(full, indent=1)
        put_text(args.json, text, args.overwrite)


def put_scenario(args: Any, scenario: Any) -> None:
    """Write a scenario with an answer in it where asked for (``--save``)."""
    if args.save is not None:
        put_text(args.save, scenario.to_toml(), args.overwrite)


def put_csv(args: Any, rows: Sequence[Mapping[str, Any]]) -> None:
    """Write rows (SI) where asked for; empty cells for None."""
    if args.csv is not None:
        from n2osim.results.frames import csv_text

        head = list(rows[0]) if rows else []
        text = csv_text(head, ([row.get(name) for name in head] for row in rows))
        put_text(args.csv, text, args.overwrite)


def put_plot(args: Any, draw: Callable[[], Any]) -> None:
    """Draw and write the figure where asked for."""
    if args.plot is not None:
        from n2osim.cli.output import put_picture, use_file_backend

        use_file_backend()
        put_picture(args.plot, draw(), args.overwrite)


def pairs(given: Sequence[str] | None, option: str, example: str) -> dict[str, str]:
    """``NAME=VALUE`` options as a mapping. InputError for one without a name or value."""
    from n2osim.errors import InputError

    found: dict[str, str] = {}
    for text in given or ():
        name, sign, value = text.partition("=")
        if not sign or not name.strip() or not value.strip():
            raise InputError(option, text, "", "NAME=VALUE", f"for example {option} {example}")
        if name.strip() in found:
            raise InputError(option, text, "", "each name once", f"{name.strip()} is given twice")
        found[name.strip()] = value.strip()
    return found


def counter(what: str) -> Callable[[int, int | None], None]:
    """A progress function for long work: a line rewritten on a terminal, now and then elsewhere."""
    out = sys.stderr
    began, last = time.monotonic(), [time.monotonic()]
    live = bool(getattr(out, "isatty", lambda: False)())

    def show(done: int, total: int | None) -> None:
        now = time.monotonic()
        end = total is not None and done >= total
        if now - began < 1.0 or (not end and now - last[0] < (0.2 if live else 10.0)):
            return
        last[0] = now
        of = f" of {total}" if total is not None else ""
        text = f"n2osim: {what}: {done}{of}"
        out.write(f"\r{text}{chr(10) if end else ''}" if live else f"{text}\n")
        out.flush()

    return show
