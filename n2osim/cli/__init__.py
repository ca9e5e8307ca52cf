"""The console command ``n2osim``.

Exit codes: 0 done; 1 a mistake in what was given; 2 a mistake in the command itself; 3 the
simulation could not go on (what was computed until then is still written); 130 interrupted.
Nothing heavy is imported before a command needs it.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import suppress

OK, USER_MISTAKE, USAGE, INTEGRATION, INTERRUPTED = 0, 1, 2, 3, 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line ``argv`` (default: the process's own); returns the exit code."""
    from n2osim.cli.parser import build_parser

    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal that lacks a letter is no failure
    args = build_parser().parse_args(argv)
    try:
        code = _run(args)
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # The reader of a pipe has gone (head, less): not our failure. Give the interpreter
        # somewhere to flush the rest to.
        with suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return OK
    except KeyboardInterrupt:
        print("interrupted", file=sys.stderr)
        return INTERRUPTED


def _run(args: object) -> int:
    from n2osim.errors import IntegrationError, N2OSimError

    try:
        return int(args.run(args) or OK)  # type: ignore[attr-defined]
    except IntegrationError as problem:
        print(f"n2osim: the simulation could not go on: {problem}", file=sys.stderr)
        return INTEGRATION
    except N2OSimError as problem:
        print(f"n2osim: {problem}", file=sys.stderr)
        return USER_MISTAKE


__all__ = ["INTEGRATION", "INTERRUPTED", "OK", "USAGE", "USER_MISTAKE", "main"]
