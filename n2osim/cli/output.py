"""What commands put out, and where it goes: the terminal, and files only where that is safe."""

from __future__ import annotations

import argparse
import io
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import n2osim
from n2osim.cli.parser import (
    OVERWRITE,
    UNITS,
    WRITTEN,
    InputPath,
    OutputPath,
    PicturePath,
    ScenarioPath,
    command,
    options,
)
from n2osim.errors import InputError
from n2osim.files import STANDARD_INPUT, check_readable, check_writable, write_bytes, write_text

if TYPE_CHECKING:
    from n2osim.answers.answer import Answer
    from n2osim.scenario.scenario import Scenario

PICTURES = ("png", "pdf", "svg", "jpg")
FLAGS = {"true": True, "false": False}
"""Values of a field that is one or the other, as they are written."""
_PATIENCE, _PATIENCE_COLD = 2.0, 0.5  # s
_WORKING = "n2osim: working ..."
_COLD = (
    "n2osim: working ... (first use on this machine: its kernels are compiled in the background, "
    "once, which takes about a minute; until then answers take some seconds)"
)


# --- before any work -----------------------------------------------------------------------------
def check_paths(args: argparse.Namespace) -> None:
    """Refuse, before any work, files that cannot be read or written, and output over input.

    Every option of type InputPath, OutputPath or PicturePath (or made of them) is looked at, in all
    commands alike. Standard input, of which a scenario may come, is no file to check. Raises
    InputError for an input that is no plain file, an output that is also an input or another
    output, and a picture whose ending says no kind; otherwise as ``check_writable``.
    """
    given: list[Any] = []
    for value in vars(args).values():
        given.extend(value if isinstance(value, list) else [value])
    inputs = [p for p in given if isinstance(p, InputPath)]
    outputs = [p for p in given if isinstance(p, OutputPath)]
    for source in inputs:
        if not (isinstance(source, ScenarioPath) and source in STANDARD_INPUT):
            check_readable(source)
    sources = {Path(p).resolve() for p in inputs}
    targets = [Path(p).resolve() if p != "-" else p for p in outputs]
    for path, target in zip(outputs, targets, strict=True):
        if target in sources:
            raise InputError(
                "output file",
                str(path),
                "",
                "another file than the one that is read",
                "writing there would destroy what you gave: choose another name",
            )
    for path in outputs:
        if isinstance(path, PicturePath):
            _check_picture(path)
        if path != "-":
            check_writable(path, overwrite=getattr(args, "overwrite", False))
    if len(set(targets)) != len(targets):
        names = ", ".join(outputs)
        raise InputError(
            "output files", names, "", "different names", "give each output a file of its own"
        )


def _check_picture(path: str) -> None:
    """A picture needs an ending that says its kind."""
    if Path(path).suffix.lower().lstrip(".") not in PICTURES:
        valid = "a name ending in ." + ", .".join(PICTURES)
        raise InputError("picture file", str(path), "", valid, "for example run.png")


@contextmanager
def patience() -> Iterator[None]:
    """Say on standard error why nothing happens yet, if it takes more than a moment."""
    from n2osim import jit

    cold = jit.pending()
    words = _COLD if cold else _WORKING
    wait = _PATIENCE_COLD if cold else _PATIENCE
    timer = threading.Timer(wait, lambda: print(words, file=sys.stderr, flush=True))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


# --- options -------------------------------------------------------------------------------------
def add_outputs(
    parser: Any,
    *,
    json: str = "write the answer as JSON",
    csv: str = "write the table as CSV",
    plot: str = "",
) -> None:
    """``--json``, ``--csv``, ``--plot`` where they have words, ``--quiet``, units, overwriting."""
    options(parser, UNITS)
    for name, words in (("--json", json), ("--csv", csv)):
        if words:
            options(parser, (name, "PATH", f"{words} ('-': to stdout)", WRITTEN))
    if plot:
        options(parser, ("--plot", "PATH", f"{plot} (.png, .pdf, .svg)", {"type": PicturePath}))
    if json:
        options(parser, ("--quiet", "", "nothing on the terminal"))
    options(parser, OVERWRITE)


def pairs(given: Sequence[str] | None, option: str, example: str) -> dict[str, str]:
    """``NAME=VALUE`` options as a mapping. InputError for one without a name or value."""
    found: dict[str, str] = {}
    for text in given or ():
        name, sign, value = text.partition("=")
        if not sign or not name.strip() or not value.strip():
            raise InputError(option, text, "", "NAME=VALUE", f"for example {option} {example}")
        if name.strip() in found:
            raise InputError(option, text, "", "each name once", f"{name.strip()} is given twice")
        found[name.strip()] = value.strip()
    return found


# --- results -------------------------------------------------------------------------------------
def say(args: Any, text: str) -> None:
    """Text on the terminal, unless a result goes there or it is not wanted."""
    if not args.quiet and "-" not in (args.json, getattr(args, "csv", None)):
        sys.stdout.write(text if text.endswith("\n") else text + "\n")


def say_cautions(args: Any) -> None:
    """The standing cautions: the last thing of every command whose answer someone acts on."""
    from n2osim.report.text import cautions_text

    say(args, "\n" + cautions_text())


def put_text(path: str, text: str, overwrite: bool) -> None:
    """Write a text file, or to standard output for ``-``: UTF-8 with plain line ends in both."""
    if path == "-":
        buffer = getattr(sys.stdout, "buffer", None)
        if buffer is None:
            sys.stdout.write(text)
        else:
            sys.stdout.flush()
            buffer.write(text.encode("utf-8"))
    else:
        write_text(path, text, overwrite=overwrite)


def put_json(args: Any, data: Mapping[str, Any]) -> None:
    """Write ``data`` (SI) where asked for; NaN becomes null."""
    if args.json is not None:
        from n2osim.results.frames import json_text

        about = {"program": f"n2osim {n2osim.__version__}", "units": "SI, pressures as named"}
        put_text(args.json, json_text(about | dict(data), indent=1), args.overwrite)


def put_csv(args: Any, rows: Sequence[Mapping[str, Any]]) -> None:
    """Write rows (SI) where asked for; empty cells for None."""
    if args.csv is not None:
        from n2osim.results.frames import csv_text

        head = list(rows[0]) if rows else []
        text = csv_text(head, ([row.get(name) for name in head] for row in rows))
        put_text(args.csv, text, args.overwrite)


def put_scenario(args: Any, scenario: Any) -> None:
    """Write a scenario with an answer in it where asked for (``--save``)."""
    if args.save is not None:
        put_text(args.save, scenario.to_toml(), args.overwrite)


def put_plot(args: Any, draw: Callable[[], Any]) -> None:
    """Draw the figure and write it where asked for (``--plot``)."""
    if getattr(args, "plot", None) is not None:
        use_file_backend()
        data = io.BytesIO()
        kind = Path(args.plot).suffix.lower().lstrip(".")
        draw().figure.savefig(data, format=kind, dpi=200)
        write_bytes(args.plot, data.getvalue(), overwrite=args.overwrite)


def use_file_backend() -> None:
    """Figures go to files: no window system is asked for."""
    import matplotlib

    matplotlib.use("Agg")


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


# --- questions that have an answer ---------------------------------------------------------------
def question(
    commands: Any,
    name: str,
    ask: Callable[[Scenario, Any], Answer],
    summary: str,
    details: str = "",
    plot: str = "",
    draw: Callable[[Answer], Any] | None = None,
) -> Any:
    """Add a command that loads FILE, asks ``ask(scenario, args)`` and puts out the answer; ``plot``
    are the words of its figure, which ``draw(answer)`` draws."""
    parser = command(commands, name, lambda args: _answer(args, ask, draw), summary, details)
    options(parser, ("--save", "PATH", "write the scenario with the answer in it", WRITTEN))
    add_outputs(parser, plot=plot)
    return parser


def _answer(args: Any, ask: Callable[[Scenario, Any], Answer], draw: Any) -> int:
    """The answer on the terminal and in the files asked for; its exit status."""
    scenario = n2osim.Scenario.from_toml(args.file)
    with patience():
        found = ask(scenario, args)
    say(args, found.text(args.system))
    if args.json is not None:
        put_text(args.json, found.to_json(), args.overwrite)
    put_csv(
        args,
        found.rows
        or tuple({"name": f.name, "value": f.value, "unit": f.unit} for f in found.figures),
    )
    put_scenario(args, found.scenario)
    put_plot(args, lambda: draw(found))
    return found.status
