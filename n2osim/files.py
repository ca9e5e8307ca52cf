"""Writing files without surprises: never over an existing one unasked, never half a file."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from n2osim.errors import InputError, N2OSimError

STANDARD_INPUT = ("-", "/dev/stdin")
"""Names that stand for standard input where a scenario is read."""


class OutputError(N2OSimError, OSError):
    """A file that cannot be written; the text says which and why."""


def _exists(path: Path) -> InputError:
    return InputError(
        "output file",
        str(path),
        "",
        "the name of a file that does not exist yet",
        "choose another name, or allow overwriting (overwrite=True, --overwrite)",
    )


def check_readable(path: str | Path) -> Path:
    """The path, if a plain file can be read there.

    Raises InputError when nothing is there or it is a directory, a pipe or a device (reading one
    could wait for ever), and when the system does not let it be read.
    """
    source = Path(path)
    try:
        if source.is_file():
            with open(source, "rb"):
                return source
        what = "this is a directory" if source.is_dir() else "this is a pipe or a device"
        problem = what if source.exists() else "there is no such file"
    except (OSError, ValueError) as fault:
        problem = getattr(fault, "strerror", None) or str(fault)
    raise InputError("input file", str(path), "", "a plain file that can be read", problem)


def read_bytes(path: str | Path, most: int = 256 * 2**20) -> bytes:
    """The bytes of a plain file of at most ``most`` bytes; raises as :func:`check_readable`."""
    source = check_readable(path)
    size = source.stat().st_size
    if size > most:
        raise InputError("input file", str(path), "", f"at most {most} bytes", f"it has {size}")
    try:
        return source.read_bytes()
    except OSError as fault:
        raise InputError("input file", str(path), "", "readable", str(fault.strerror)) from fault


def check_writable(path: str | Path, *, overwrite: bool = False) -> Path:
    """The path, if a file may be written there; so that long work does not end in a refusal.

    Raises InputError when it exists and ``overwrite`` is False, or names a directory;
    OutputError when its directory does not exist.
    """
    target = Path(path)
    try:
        if target.is_dir():
            raise InputError(
                "output file",
                str(path),
                "",
                "the name of a file",
                "this is a directory: add a file name",
            )
        if not target.parent.is_dir():
            raise OutputError(f"cannot write {path}: there is no directory {target.parent}")
        if target.is_file() and not overwrite:
            raise _exists(target)
    except InputError:
        raise
    except ValueError as problem:  # a NUL byte in the name
        raise InputError("output file", str(path), "", "a file name", str(problem)) from None
    return target


def write_bytes(path: str | Path, data: bytes, *, overwrite: bool = False) -> Path:
    """Write ``data`` in one stroke: a reader sees the old file or the whole new one.

    Devices and pipes are written to directly. Raises as :func:`check_writable`, and OutputError
    when the system refuses.
    """
    target = check_writable(path, overwrite=overwrite)
    try:
        if target.exists() and not target.is_file():
            target.write_bytes(data)
            return target
        _write_atomically(target, data, overwrite)
    except FileExistsError:
        raise _exists(target) from None
    except OSError as problem:
        raise OutputError(f"cannot write {path}: {problem.strerror or problem}") from problem
    return target


def _write_atomically(target: Path, data: bytes, overwrite: bool) -> None:
    made: list[str] = []
    try:
        if not overwrite:
            # Claim the name first, so that two writers cannot both find it free.
            with open(target, "xb"):
                made.append(str(target))
        handle, name = tempfile.mkstemp(prefix=f".{target.name[:40]}.", dir=target.parent)
        made.append(name)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, _mode(target))
        os.replace(name, target)
    except BaseException:
        for leftover in made:
            with suppress(OSError):
                os.unlink(leftover)
        raise


def _mode(target: Path) -> int:
    """Permissions of the file replaced, or what a plain new file would get."""
    with suppress(OSError):
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def write_text(path: str | Path, text: str, *, overwrite: bool = False) -> Path:
    """:func:`write_bytes` of UTF-8 text with plain line ends."""
    return write_bytes(path, text.encode("utf-8"), overwrite=overwrite)
