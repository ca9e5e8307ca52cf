"""One place that says how kernels are compiled.

Every kernel is a scalar function of floats. It is compiled without fast-math (results must
not depend on the machine's vector width), releases the interpreter lock (threads scale), and
is cached on disk so that only the first run on a machine pays for compiling.
Set NUMBA_DISABLE_JIT=1 to run the same functions as plain Python (coverage, debugging).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba

F = TypeVar("F", bound=Callable[..., Any])


def jit(function: F) -> F:
    """Compile a scalar kernel: cached, GIL-free, IEEE semantics (division by zero gives inf)."""
    return numba.njit(cache=True, nogil=True, error_model="numpy")(function)  # type: ignore[no-any-return]


__all__ = ["jit"]
