"""Results of a long study on disk, so that it can be taken up again where it stopped.

A checkpoint is a directory: ``manifest.json`` says what study it belongs to, and each finished
piece is one ``members-*.npz`` of plain arrays (nothing pickled, so a file from elsewhere cannot run
anything). Every file is written next to its place and moved there in one step: a power cut leaves
the old file or the new one, never half of one. Members already there are not computed again,
whatever the chunk size or the number of workers of the run that takes over.
"""

from __future__ import annotations

import hashlib
import io
import json
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from n2osim import __version__
from n2osim.errors import N2OSimError
from n2osim.files import read_bytes, write_bytes, write_text
from n2osim.numbers import exact
from n2osim.studies.members import Chunk, Failed

SCHEMA = 2
_MANIFEST = "manifest.json"
_LARGEST_MANIFEST = 10_000_000  # bytes
_DIFFERENT = {
    "schema": "was written in another format",
    "version": "was computed by another version of n2osim",
    "definition": "belongs to another study (scenario, values, seed or outputs differ)",
}


class CheckpointError(N2OSimError):
    """A checkpoint that cannot be used; says why and what to do."""


def digest(*parts: Any) -> str:
    """Hash of the definition of a study: texts, arrays, parts of a scenario."""
    h = hashlib.sha256()
    for part in parts:
        if isinstance(part, np.ndarray) and part.dtype != object:
            h.update(f"{part.dtype.str}{part.shape}".encode())
            h.update(np.ascontiguousarray(part).tobytes())
        else:
            h.update(exact(part).encode())
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
            write_text(manifest, text, overwrite=True)

    def _compare(self, manifest: Path, wanted: dict[str, Any]) -> None:
        try:
            found = json.loads(read_bytes(manifest, _LARGEST_MANIFEST))
            found = {k: found[k] for k in wanted}
        except (ValueError, KeyError, TypeError, RecursionError) as problem:
            raise CheckpointError(
                f"{manifest} cannot be read ({problem}): give an empty directory"
            ) from None
        for key, what in _DIFFERENT.items():
            if found[key] != wanted[key]:
                raise CheckpointError(
                    f"checkpoint {self.path} {what}: {key} is {str(found[key])[:24]!r}, wanted "
                    f"{str(wanted[key])[:24]!r}; give another directory, or remove this one to "
                    "start afresh"
                )

    def save(self, chunk: Chunk) -> None:
        """Write one finished piece."""
        first, last = int(chunk.members.min()), int(chunk.members.max())
        texts = {
            "names": list(chunk.columns),
            "failed": [[str(x) for x in f] for f in chunk.failures],
            "digests": chunk.digests,
        }
        arrays = {
            "members": chunk.members,
            "ok": chunk.ok,
            "table": np.array(list(chunk.columns.values())),
            "series": chunk.series,
            "events": chunk.events,
            "times": np.array([chunk.seconds, chunk.first_call]),
            # As bytes of JSON: exact, and without pickle.
            "texts": np.frombuffer(json.dumps(texts).encode(), np.uint8),
        }
        data = io.BytesIO()
        np.savez(data, **arrays)  # type: ignore[arg-type]
        name = f"members-{first:09d}-{last:09d}-{len(chunk.members)}.npz"
        write_bytes(self.path / name, data.getvalue(), overwrite=True)

    def load(self) -> Iterator[Chunk]:
        """All pieces, in order of their first member.

        One that cannot be read is put aside with a warning, so that its members are computed again.
        """
        there: set[int] = set()
        for file in sorted(self.path.glob("members-*.npz")):
            try:
                chunk = _read(file)
            except Exception as problem:
                file.replace(file.with_suffix(".damaged"))
                warnings.warn(
                    f"checkpoint piece {file} cannot be read ({problem}): put aside, its members "
                    "are computed again",
                    stacklevel=2,
                )
                continue
            members = set(chunk.members.tolist())
            if members & there:
                raise CheckpointError(
                    f"checkpoint {self.path} holds members twice (from {min(members & there)}): "
                    "remove one of the pieces"
                )
            there |= members
            yield chunk


def _read(file: Path) -> Chunk:
    with np.load(io.BytesIO(file.read_bytes()), allow_pickle=False) as data:
        texts = json.loads(data["texts"].tobytes())
        names, failed = texts["names"], texts["failed"]
        members, table = data["members"], data["table"]
        if len(names) != len(table) or not len(members) == len(data["ok"]) == len(data["series"]):
            raise ValueError("arrays do not fit together")
        if len(table) and table.shape[1] != len(members):
            raise ValueError("columns do not fit the members")
        return Chunk(
            members,
            data["ok"],
            dict(zip(map(str, names), table)),
            data["series"],
            data["events"],
            tuple(Failed(int(m), *map(str, rest)) for m, *rest in failed),
            float(data["times"][0]),
            float(data["times"][1]),
            digests=tuple(map(str, texts["digests"])),
        )
