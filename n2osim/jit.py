"""One place that says how kernels are compiled, and when.

Every kernel is a plain function of floats and arrays. Inner kernels (``jit``, ``leaf``) stay plain
functions that compiled code may call (numba's ``register_jitable``); a few entries (``entry``) are
what Python calls, and only those are compiled as a whole and kept on disk. Nothing is compiled with
fast-math (results must not depend on the machine's vector width); compiled kernels release the
interpreter lock (threads scale).

Compiling everything takes most of a minute. Until it is done the same functions run as plain
Python: on a cache miss a process of low priority compiles in the background (``n2osim.prepare``)
and this one changes over as soon as it has finished. numba itself is only imported when compiled
code is used.

N2OSIM_KERNELS=compiled compiles whatever is called, at once and in this process;
N2OSIM_KERNELS=plain or NUMBA_DISABLE_JIT=1 never compiles (coverage, debugging).
"""

from __future__ import annotations

import functools
import os
import threading
import time
from collections.abc import Callable
from typing import Any, TypeVar

from n2osim import jit_cache, jit_library
from n2osim.interrupts import interruptible

F = TypeVar("F", bound=Callable[..., Any])

# Nothing calls a kernel through a C pointer: that wrapper need not be made.
_OPTIONS: dict[str, Any] = {"error_model": "numpy", "no_cfunc_wrapper": True}
_LOOK_AGAIN = 0.25  # s between looks whether the background has finished
_PLAIN, _COMPILED, _WAITING, _UNKNOWN = "plain", "compiled", "waiting", "unknown"

_lock = threading.RLock()
_unregistered: list[tuple[Callable[..., Any], Callable[..., Any], dict[str, Any]]] = []
_mode = _UNKNOWN
_next_look = 0.0


def jit(function: F) -> F:
    """An inner kernel: plain for Python, compiled into every compiled kernel that calls it."""
    _unregistered.append((function, function, _OPTIONS))
    return function


def leaf(function: F) -> F:
    """As :func:`jit`, for kernels that are handed arrays and neither make nor return any.

    numba counts references to every array and view it touches, atomically; in short kernels that
    was half of the time (solving a bottle's chain: 0.45 against 0.13 us). The option that leaves
    the counting out is numba's own but not documented; where a release lacks it, ``jit`` serves.
    """
    _unregistered.append((function, function, _OPTIONS | {"_nrt": False}))
    return function


def entry(function: F) -> F:
    """A kernel that Python calls: compiled where compiled code is at hand, plain until then."""
    made: list[Callable[..., Any]] = []

    @functools.wraps(function)
    def call(*args: Any) -> Any:
        if _mode is not _COMPILED and not compiled():
            return function(*args)
        if not made:  # reading machine code from disk takes some tenths of a second
            made.append(_compile(function))
            return interruptible(lambda: kept(*args), patience=0.5)
        return kept(*args)

    def kept(*args: Any) -> Any:
        try:
            return made[0](*args)
        except OSError:  # it could not be kept on disk (full): what was compiled is there
            return made[0](*args)

    _unregistered.append((call, function, _OPTIONS))
    return call  # type: ignore[return-value]


def _register() -> None:
    """Tell numba of the kernels that have been defined since the last time."""
    from numba import extending

    overload: Any = extending.overload
    own = jit_library.pipeline()
    while _unregistered:
        name, function, options = _unregistered.pop()
        if own is not None:
            options = options | {"pipeline_class": own}

        def same(*args: Any, _kernel: Any = function, **kwargs: Any) -> Any:
            return _kernel

        overload(name, jit_options=options, strict=False)(same)


def _compile(function: Callable[..., Any]) -> Callable[..., Any]:
    import numba

    with _lock:
        _register()
        how = {"nogil": True, **_OPTIONS, "pipeline_class": jit_library.pipeline()}
        config: Any = numba.config
        name, place = "CACHE_LOCATOR_CLASSES", "n2osim.jit_cache.Locator"
        if not hasattr(config, name):  # before numba 0.62: copies of the package share nothing
            name, place = "CACHE_DIR", str(jit_cache.directory_for(function.__code__.co_filename))
        before = getattr(config, name)
        setattr(config, name, place)
        try:
            return numba.njit(cache=True, **how)(function)  # type: ignore[no-any-return]
        except RuntimeError:  # there is no place for files
            return numba.njit(**how)(function)  # type: ignore[no-any-return]
        finally:
            setattr(config, name, before)


# --- which of the two is used --------------------------------------------------------------------
def compiled() -> bool:
    """Whether entries run compiled by now."""
    global _mode, _next_look
    if _mode is _COMPILED or _mode is _PLAIN:
        return _mode is _COMPILED
    now = time.monotonic()
    if now < _next_look:
        return False
    _next_look = now + _LOOK_AGAIN
    if _mode is _UNKNOWN:
        _mode = _from_environment()
    if _mode is _WAITING and jit_cache.is_ready():
        _mode = _COMPILED
    return _mode is _COMPILED


def _from_environment() -> str:
    wanted = os.environ.get("N2OSIM_KERNELS", "")
    if wanted == _PLAIN or os.environ.get("NUMBA_DISABLE_JIT", "0") not in ("", "0"):
        return _PLAIN
    return _COMPILED if wanted == _COMPILED else _WAITING


def pending() -> bool:
    """Whether kernels are still to be compiled in the background (and will be used then)."""
    return not compiled() and _mode is _WAITING


def use_compiled() -> None:
    """Compile from now on whatever is called and is not on disk, in this process."""
    global _mode
    if _mode is _UNKNOWN:
        _mode = _from_environment()
    if _mode is not _PLAIN:
        _mode = _COMPILED
