"""Where results go: files written only where that is safe, or standard output for ``-``."""

from __future__ import annotations

import io
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from n2osim.errors import InputError
from n2osim.files import check_writable, write_bytes, write_text

PICTURES = ("png", "pdf", "svg", "jpg")
_PATIENCE = 2.0  # s
_COMPILING = (
    "n2osim: working ... (the first run on a machine compiles its kernels once, which takes a "
    "minute or two; later runs take a second or two)"
)


def check_outputs(paths: list[str | None], overwrite: bool) -> None:
    """Refuse now what could not be written later, after the work."""
    given = [p for p in paths if p is not None]
    for path in given:
        if path != "-":
            check_writable(path, overwrite=overwrite)
    same = [Path(p).resolve() if p != "-" else p for p in given]
    if len(set(same)) != len(same):
        raise InputError(
            "output files",
            ", ".join(given),
            "",
            "different names",
            "give each output a file of its own",
        )


def check_picture(path: str | None) -> None:
    """A picture needs an ending that says its kind."""
    if path is not None and Path(path).suffix.lower().lstrip(".") not in PICTURES:
        raise InputError(
            "picture file",
            path,
            "",
            "a name ending in ." + ", .".join(PICTURES),
            "for example run.png",
        )


def put_text(path: str, text: str, overwrite: bool) -> None:
    """Write a text file, or to standard output for ``-``."""
    if path == "-":
        sys.stdout.write(text)
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
    timer = threading.Timer(_PATIENCE, lambda: print(_COMPILING, file=sys.stderr, flush=True))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
