"""When a kernel on disk is out of date: whenever anything it was compiled from has changed.

numba looks only at the file a kernel is written in. A kernel has its callees and constants built
in, so without this an edit of ``physics`` would leave the compiled integrator as it was. Here
the stamp of a kernel covers its own file and every module of the package that file imports,
directly or not, plus data files beside them.
"""

from __future__ import annotations

import hashlib
import os
import re
from functools import cache
from pathlib import Path

_ROOT = Path(__file__).resolve().parent
_PACKAGE = _ROOT.name
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
        found.update(f for f in map(_file, dotted) if f is not None)
    return digest.hexdigest(), frozenset(found)


@cache
def stamp(source: str) -> str:
    """Digest of a source file and of everything of the package it is built from."""
    first = Path(source).resolve()
    seen: dict[Path, str] = {}
    waiting = [first]
    while waiting:
        path = waiting.pop()
        if path in seen:
            continue
        seen[path], imports = _read(path)
        waiting.extend(imports)
    lines = sorted(f"{os.path.relpath(path, _ROOT)}={digest}" for path, digest in seen.items())
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


__all__ = ["stamp"]
