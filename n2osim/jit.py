"""One place that says how kernels are compiled.

Every kernel is a scalar function of floats. It is compiled without fast-math (results must
not depend on the machine's vector width), releases the interpreter lock (threads scale), and
is cached on disk so that only the first run on a machine pays for compiling. A cached kernel is
used only while everything it was built from is unchanged (see jit_cache.py).
Set NUMBA_DISABLE_JIT=1 to run the same functions as plain Python (coverage, debugging).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba

from n2osim.jit_cache import stamp

F = TypeVar("F", bound=Callable[..., Any])


def _compile(function: F, **options: Any) -> F:
    compiled: Any = numba.njit(cache=True, nogil=True, error_model="numpy", **options)(function)
    index: Any = getattr(getattr(compiled, "_cache", None), "_cache_file", None)
    if hasattr(index, "_source_stamp"):  # absent with NUMBA_DISABLE_JIT, or in another numba
        # By content alone, not by the file's date: a copy of the package can use the same kernels.
        index._source_stamp = stamp(function.__code__.co_filename)
    return compiled  # type: ignore[no-any-return]


def jit(function: F) -> F:
    """Compile a scalar kernel: cached, GIL-free, IEEE semantics (division by zero gives inf)."""
    return _compile(function)


def leaf(function: F) -> F:
    """As :func:`jit`, for kernels that are handed arrays and neither make nor return any.

    numba counts references to every array and view it touches, atomically; in short kernels that
    was half of the time (solving a bottle's chain: 0.45 against 0.13 us). The option that leaves
    the counting out is numba's own but not documented; where a release lacks it, ``jit`` serves.
    """
    try:
        return _compile(function, _nrt=False)
    except (KeyError, NameError, TypeError, numba.core.errors.NumbaError):
        return _compile(function)


__all__ = ["jit", "leaf"]
