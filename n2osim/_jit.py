"""One place that says how kernels are compiled.

Every kernel is a scalar function of floats. It is compiled without fast-math (results must
not depend on the machine's vector width), releases the interpreter lock (threads scale), and
is cached on disk so that only the first run on a machine pays for compiling. A cached kernel is
used only while everything it was built from is unchanged (see _jit_cache.py).
Set NUMBA_DISABLE_JIT=1 to run the same functions as plain Python (coverage, debugging).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba

from n2osim._jit_cache import stamp

F = TypeVar("F", bound=Callable[..., Any])


def jit(function: F) -> F:
    """Compile a scalar kernel: cached, GIL-free, IEEE semantics (division by zero gives inf)."""
    compiled: Any = numba.njit(cache=True, nogil=True, error_model="numpy")(function)
    index: Any = getattr(getattr(compiled, "_cache", None), "_cache_file", None)
    if hasattr(index, "_source_stamp"):  # absent with NUMBA_DISABLE_JIT, or in another numba
        index._source_stamp = (index._source_stamp, stamp(function.__code__.co_filename))
    return compiled  # type: ignore[no-any-return]


__all__ = ["jit"]
