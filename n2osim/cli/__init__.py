"""The console command ``n2osim``.

Exit codes: 0 done; 1 a mistake in what was given, or a file that cannot be read or written; 2 a
mistake in the command itself; 3 the simulation could not go on (what was computed until then is
still written), a danger was found in it, or nothing keeps to what was asked and the nearest that
does not is shown; 70 a fault of the program; 130 interrupted.
Nothing heavy is imported before a command needs it.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import Any

OK, USER_MISTAKE, USAGE, NOT_SOUND, FAULT, INTERRUPTED = 0, 1, 2, 3, 70, 130
TRACEBACK = "N2OSIM_TRACEBACK"
"""Environment variable that lets a fault of the program show where it happened."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line ``argv`` (default: the process's own); returns the exit code.

    This is the one place where a fault becomes a line of text and an exit code.
    """
    _prepare_streams()
    try:
        from n2osim.cli.output import check_paths
        from n2osim.cli.parser import build_parser

        args = build_parser().parse_args(argv)
        check_paths(args)
        _load_extensions()
        code = int(args.run(args) or OK)
        sys.stdout.flush()
        return code
    except KeyboardInterrupt:
        _say("interrupted")
        return INTERRUPTED
    except BrokenPipeError:
        # The reader of a pipe has gone (head, less): not our failure.
        _let_go_of_stdout()
        return OK
    except Exception as problem:
        return _explain(problem)


def _load_extensions() -> None:
    """Import the installed packages that add to n2osim, where there are any."""
    from importlib.metadata import entry_points

    if entry_points(group="n2osim.extensions"):
        from n2osim import extend

        extend.load()


def _explain(problem: Exception) -> int:
    """What went wrong, on standard error, and the exit code for it."""
    from n2osim.errors import IntegrationError, N2OSimError, NoSolutionError

    if isinstance(problem, IntegrationError):
        _say(f"n2osim: the simulation could not go on: {problem}")
        return NOT_SOUND
    if isinstance(problem, NoSolutionError):
        _say(f"n2osim: {problem.reason}")
        if hasattr(problem.nearest, "text"):  # an answer: a page that a person can read
            print(f"\n{problem.nearest}", file=sys.stderr, flush=True)
            return NOT_SOUND
        return USER_MISTAKE
    if isinstance(problem, N2OSimError):
        _say(f"n2osim: {problem}")
        return USER_MISTAKE
    if isinstance(problem, OSError):
        _let_go_of_stdout()
        where = f" {problem.filename}" if problem.filename else " its output"
        _say(f"n2osim: cannot read or write{where}: {problem.strerror or problem}")
        return USER_MISTAKE
    if isinstance(problem, MemoryError):
        _say("n2osim: not enough memory for this; ask for less at once")
        return USER_MISTAKE
    if os.environ.get(TRACEBACK):
        raise problem
    _say(
        f"n2osim: a fault of the program ({type(problem).__name__}: {problem}). Nothing is wrong "
        f"with your command; set {TRACEBACK}=1 to see where it happened, and please report it"
    )
    return FAULT


def _say(text: str) -> None:
    """A line on standard error, where there still is one."""
    with suppress(OSError, ValueError):
        print(" ".join(text.splitlines()), file=sys.stderr, flush=True)


def _prepare_streams() -> None:
    """Streams that exist and never fail over a letter that a terminal lacks."""
    for name in ("stdout", "stderr"):
        stream: Any = getattr(sys, name)
        if stream is None:  # closed before the program began
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _let_go_of_stdout() -> None:
    """Give the interpreter somewhere to flush what can no longer be written."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


__all__ = ["FAULT", "INTERRUPTED", "NOT_SOUND", "OK", "USAGE", "USER_MISTAKE", "main"]
