"""Results of a long study on disk, so that it can be taken up again where it stopped.

A checkpoint is a directory: ``manifest.json`` says what study it belongs to, and each finished
piece is one ``members-*.npz`` of plain arrays (nothing pickled, so a file from elsewhere cannot run
anything). Every file is written next to its place and moved there in one step: a power cut leaves
the old file or the new one, never half of one. Members already there are not computed again,
whatever the chunk size or the number of workers of the run that takes over.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from n2osim import __version__
from n2osim.errors import N2OSimError
from n2osim.studies.members import Chunk, Failed

SCHEMA = 1
_MANIFEST = "manifest.json"
_LARGEST_MANIFEST = 10_000_000  # bytes


class CheckpointError(N2OSimError):
    """A checkpoint that cannot be used; says why and what to do."""


def atomically(path: str | Path, write: Callable[[BinaryIO], None]) -> None:
    """Write a file in one step: a temporary neighbour is filled, flushed and moved into place."""
    path = Path(path)
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            write(file)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, 0o666 & ~_umask())
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current


def digest(*parts: Any) -> str:
    """Hash of the definition of a study: texts, arrays, anything with an exact ``repr``."""
    h = hashlib.sha256()
    for part in parts:
        if isinstance(part, np.ndarray) and part.dtype != object:
            h.update(f"{part.dtype.str}{part.shape}".encode())
            h.update(np.ascontiguousarray(part).tobytes())
        else:
            h.update(repr(part).encode())
        h.update(b"\0")
    return h.hexdigest()


class Checkpoint:
    """Directory of finished pieces of one study.

    ``definition`` is the :func:`digest` of the study; a directory that holds another study's pieces
    is refused. ``describe`` goes into the manifest for people.
    """

    def __init__(self, path: str | Path, definition: str, describe: dict[str, Any]) -> None:
        self.path = Path(path)
        if self.path.exists() and not self.path.is_dir():
            raise CheckpointError(f"{self.path} is a file: give a directory for the checkpoint")
        self.path.mkdir(parents=True, exist_ok=True)
        manifest = self.path / _MANIFEST
        wanted = {"schema": SCHEMA, "version": __version__, "definition": definition}
        if manifest.exists():
            self._compare(manifest, wanted)
        elif any(self.path.glob("members-*.npz")):
            raise CheckpointError(
                f"{self.path} holds pieces of a study but no {_MANIFEST}: give an empty directory"
            )
        else:
            text = json.dumps(wanted | {"study": describe}, indent=1, default=str)
            atomically(manifest, lambda file: _put(file, text.encode()))

    def _compare(self, manifest: Path, wanted: dict[str, Any]) -> None:
        if manifest.stat().st_size > _LARGEST_MANIFEST:
            raise CheckpointError(f"{manifest} is too large to be a manifest of a study")
        try:
            found = json.loads(manifest.read_text(encoding="utf-8"))
            found = {k: found[k] for k in wanted}
        except (ValueError, KeyError, TypeError, RecursionError) as problem:
            raise CheckpointError(
                f"{manifest} cannot be read ({problem}): give an empty directory"
            ) from None
        for key, what in (
            ("schema", "was written in another format"),
            ("version", "was computed by another version of n2osim"),
            ("definition", "belongs to another study (scenario, values, seed or outputs differ)"),
        ):
            if found[key] != wanted[key]:
                raise CheckpointError(
                    f"checkpoint {self.path} {what}: {key} is {str(found[key])[:24]!r}, wanted "
                    f"{str(wanted[key])[:24]!r}; give another directory, or remove this one to "
                    "start afresh"
                )

    # --- pieces ----------------------------------------------------------------------------------
    def save(self, chunk: Chunk) -> None:
        """Write one finished piece."""
        first, last = int(chunk.members.min()), int(chunk.members.max())
        name = f"members-{first:09d}-{last:09d}-{len(chunk.members)}.npz"
        arrays = {
            "members": chunk.members,
            "ok": chunk.ok,
            "table": chunk.table,
            "names": _texts(chunk.names),
            "series": chunk.series,
            "events": chunk.events,
            "failed": np.array([f.member for f in chunk.failures], np.int64),
            "failed_kind": _texts([f.kind for f in chunk.failures]),
            "failed_reason": _texts([f.reason for f in chunk.failures]),
            "failed_scenario": _texts([f.scenario for f in chunk.failures]),
            "times": np.array([chunk.seconds, chunk.first_call]),
            "digests": _texts(chunk.digests),
        }
        atomically(self.path / name, lambda file: np.savez(file, **arrays))  # type: ignore[arg-type]

    def load(self) -> Iterator[Chunk]:
        """All pieces, in order of their first member."""
        for file in sorted(self.path.glob("members-*.npz")):
            yield _read(file)


def _put(file: BinaryIO, data: bytes) -> None:
    file.write(data)


def _texts(values: Any) -> np.ndarray:
    """Texts as bytes of a JSON list: exact, and without pickle."""
    return np.frombuffer(json.dumps([str(v) for v in values]).encode(), np.uint8)


def _untexts(data: np.ndarray, count: int | None = None) -> list[str]:
    texts = json.loads(data.tobytes())
    if not isinstance(texts, list) or not all(isinstance(x, str) for x in texts):
        raise ValueError("not a list of texts")
    if count is not None and len(texts) != count:
        raise ValueError("texts do not match their numbers")
    return texts


def _read(file: Path) -> Chunk:
    try:
        with np.load(file, allow_pickle=False) as data:
            table = data["table"]
            members = data["members"]
            failed = data["failed"]
            texts = [
                _untexts(data[f"failed_{x}"], len(failed)) for x in ("kind", "reason", "scenario")
            ]
            names = tuple(_untexts(data["names"], table.shape[1]))
            if table.shape != (len(members), len(names)) or len(data["ok"]) != len(members):
                raise ValueError("arrays do not fit together")
            seconds, first = (float(x) for x in data["times"])
            return Chunk(
                members,
                data["ok"],
                names,
                table,
                data["series"],
                data["events"],
                tuple(Failed(int(m), *rest) for m, *rest in zip(failed, *texts)),
                seconds,
                first,
                digests=tuple(_untexts(data["digests"])),
            )
    except CheckpointError:
        raise
    except Exception as problem:
        raise CheckpointError(
            f"checkpoint piece {file} cannot be read ({problem}): remove it, and its members are "
            "computed again"
        ) from problem


__all__ = ["Checkpoint", "CheckpointError", "atomically", "digest"]
