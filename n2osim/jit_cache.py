"""Where compiled kernels are kept, and when they are out of date.

A kernel has its callees and constants built in, while numba looks only at the file it is written
in. So each module with entries has a directory named by a digest of that file, every module of the
package that it imports, directly or not, and the data files beside them (but for those without
numbers): what is in it never goes out of date, and copies of the package can share it.
"""

from __future__ import annotations

import hashlib
import os
import re
import sys
import tempfile
from collections.abc import Iterator
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import Any

_ROOT = Path(__file__).resolve().parent
_PACKAGE = _ROOT.name
_ENTRIES = (
    "engine/run_schedule.py",
    "fit/calibrate_noise.py",
    "fit/trace.py",
    "fluid/_loops.py",
    "fluid/flash.py",
    "fluid/state.py",
    "physics/feed_chain.py",
    "physics/feed_network.py",
    "physics/flash_map.py",
    "physics/orifice.py",
    "results/summarise.py",
)
# No number of theirs gets into a kernel.
_WITHOUT_NUMBERS = ("errors.py", "jit_cache.py", "numbers.py", "schema.py")
# Imports at the left margin only: those under TYPE_CHECKING or in functions build nothing in.
_IMPORT = re.compile(
    rf"^from {_PACKAGE}([\w.]*) import (\([^)]*\)|[^\n]*)|^import {_PACKAGE}([\w.]+)", re.MULTILINE
)


def _file(dotted: str) -> Path | None:
    """Source of a module of this package by its dotted name below the package."""
    path = _ROOT.joinpath(*[p for p in dotted.split(".") if p])
    for candidate in (path.with_suffix(".py"), path / "__init__.py"):
        if candidate.is_file() and path != _ROOT:
            return candidate
    return None


@cache
def _read(path: Path) -> tuple[str, frozenset[Path]]:
    """Digest of a source file (data files included) and the package files it imports."""
    text = path.read_text(encoding="utf-8")
    digest = hashlib.sha256(text.encode())
    if "COEFFICIENTS" in text and ".json" in text:
        for data in sorted(path.parent.glob("*.json")):
            digest.update(data.read_bytes())
    found: set[Path] = set()
    for base, names, plain in _IMPORT.findall(text):
        dotted = [plain] if plain else [base]
        dotted += [f"{base}.{name}" for name in re.findall(r"\w+", names)]
        files = [f for f in map(_file, dotted) if f is not None]
        found.update(f for f in files if f.name not in _WITHOUT_NUMBERS)
    return digest.hexdigest(), frozenset(found)


@cache
def stamp(source: str) -> str:
    """Digest of a source file and of everything of the package it is built from."""
    seen: dict[Path, str] = {}
    waiting = [Path(source).resolve()]
    while waiting:
        path = waiting.pop()
        if path in seen:
            continue
        seen[path], imports = _read(path)
        waiting.extend(imports)
    lines = sorted(f"{os.path.relpath(path, _ROOT)}={digest}" for path, digest in seen.items())
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def sources() -> list[str]:
    """Modules that have entries."""
    return [str(_ROOT / name) for name in _ENTRIES]


# --- places --------------------------------------------------------------------------------------
def _candidates() -> Iterator[Path]:
    if given := os.environ.get("NUMBA_CACHE_DIR"):
        yield Path(given)
    yield _ROOT / "__pycache__"
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA", "")
    elif sys.platform == "darwin":
        base = os.path.expanduser("~/Library/Caches")
    else:
        base = os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache")
    if os.path.isabs(base):
        yield Path(base) / _PACKAGE
    yield Path(tempfile.gettempdir()) / f"{_PACKAGE}-{_user()}"


def _user() -> str:
    return str(os.getuid()) if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")


def _shared(path: Path) -> bool:
    return path.parent == Path(tempfile.gettempdir())


def _usable(path: Path) -> bool:
    """Whether files can be written there, and nobody else's are there to be run."""
    try:
        path.mkdir(mode=0o700, parents=True, exist_ok=True)
        if _shared(path) and hasattr(os, "getuid") and path.stat().st_uid != os.getuid():
            return False
        with tempfile.TemporaryFile(dir=path) as probe:
            probe.write(bytes(4096))
            probe.flush()
    except OSError:
        return False
    return True


@cache
def directory() -> Path | None:
    """First place where compiled kernels can be kept; None when there is none at all."""
    return next((path for path in _candidates() if _usable(path)), None)


def directory_for(source: str) -> Path | None:
    """Directory of the kernels of one module."""
    base = directory()
    return None if base is None else base / f"{Path(source).stem}-{stamp(source)[:16]}"


class Locator:
    """Tells numba (NUMBA_CACHE_LOCATOR_CLASSES) where the kernels of a module are."""

    def __init__(self, path: Path, line: int) -> None:
        self._path, self._line = path, line

    @classmethod
    def from_function(cls, function: Any, source: str) -> Locator | None:
        """The place for one function, None where nothing can be kept."""
        path = directory_for(source)
        return None if path is None else cls(path, function.__code__.co_firstlineno)

    def ensure_cache_path(self) -> None:
        """Make the directory."""
        self._path.mkdir(parents=True, exist_ok=True)

    def get_cache_path(self) -> str:
        """Its name."""
        return str(self._path)

    def get_source_stamp(self) -> str:
        """Nothing: the directory's name is the stamp."""
        return ""

    def get_disambiguator(self) -> str:
        """Tells functions of one name apart."""
        return str(self._line)


@cache
def ready_file() -> Path | None:
    """File that says that everything is compiled, for these sources, numba and Python."""
    base = directory()
    if base is None:
        return None
    parts = [*map(stamp, sources()), metadata.version("numba"), sys.version]
    digest = hashlib.sha256("\n".join(parts).encode()).hexdigest()[:16]
    return base / f"kernels-{digest}.ready"


def is_ready() -> bool:
    """Whether everything has been compiled."""
    path = ready_file()
    return path is not None and path.exists()
