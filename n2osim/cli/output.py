"""Where results go: files written only where that is safe, or standard output for ``-``."""

from __future__ import annotations

import argparse
import io
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from n2osim.cli.parser import InputPath, OutputPath, PicturePath, ScenarioPath
from n2osim.errors import InputError
from n2osim.files import STANDARD_INPUT, check_readable, check_writable, write_bytes, write_text

PICTURES = ("png", "pdf", "svg", "jpg")
_PATIENCE, _PATIENCE_COLD = 2.0, 0.5  # s
_WORKING = "n2osim: working ..."
_COLD = (
    "n2osim: working ... (first use on this machine: its kernels are compiled in the background, "
    "once, which takes about a minute; until then answers take some seconds)"
)


def check_paths(args: argparse.Namespace) -> None:
    """Refuse, before any work, files that cannot be read or written, and output over input.

    Every option of type InputPath, OutputPath or PicturePath (or made of them) is looked at, in all
    commands alike.
    """
    given: list[Any] = []
    for value in vars(args).values():
        given.extend(value if isinstance(value, list) else [value])
    outputs = [p for p in given if isinstance(p, OutputPath)]
    inputs = [p for p in given if isinstance(p, InputPath)]
    if inputs or outputs:
        check_files(inputs, outputs, getattr(args, "overwrite", False))


def check_files(inputs: Sequence[str], outputs: Sequence[str], overwrite: bool) -> None:
    """Refuse what could not be read or written later, after the work.

    Standard input, of which a scenario may come, is no file to check.

    Raises InputError for an input that is no plain file, an output that is also an input or
    another output, and a picture whose ending says no kind; otherwise as ``check_writable``.
    """
    for path in inputs:
        if not (isinstance(path, ScenarioPath) and path in STANDARD_INPUT):
            check_readable(path)
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
            check_writable(path, overwrite=overwrite)
    if len(set(targets)) != len(targets):
        names = ", ".join(outputs)
        raise InputError(
            "output files", names, "", "different names", "give each output a file of its own"
        )


def _check_picture(path: str) -> None:
    """A picture needs an ending that says its kind."""
    if Path(path).suffix.lower().lstrip(".") not in PICTURES:
        raise InputError(
            "picture file",
            str(path),
            "",
            "a name ending in ." + ", .".join(PICTURES),
            "for example run.png",
        )


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


def put_picture(path: str, axes: Any, overwrite: bool) -> None:
    """Save the figure that ``axes`` belongs to."""
    data = io.BytesIO()
    axes.figure.savefig(data, format=Path(path).suffix.lower().lstrip("."), dpi=200)
    write_bytes(path, data.getvalue(), overwrite=overwrite)


def use_file_backend() -> None:
    """Figures go to files: no window system is asked for."""
    import matplotlib

    matplotlib.use("Agg")


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
