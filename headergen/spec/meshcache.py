"""Indices of large meshes, kept in the user's cache folder so that the next run starts at once.

They are kept by the hash of the mesh file's bytes, in its own numbers, so that units and placement may change. What
cannot be read back whole is as good as absent, and what cannot be written is not missed.
"""

from __future__ import annotations

import json
import os
import zipfile
import zlib
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path

import numpy as np

from headergen.geometry.index import Runs, TriangleIndex
from headergen.model import FileFacts

FORMAT = 2  # raised when the index, or what is kept of it, changes
MOST_KEPT = 12  # files; the oldest go first
RUNS = ("centre", "radius", "area", "middle")


def cache_folder() -> Path:
    """Where indices are kept; the folder need not exist."""
    import platformdirs

    return platformdirs.user_cache_path("headergen") / "meshes"


def stored_index(sha256: str) -> tuple[TriangleIndex, FileFacts] | None:
    """The unplaced index of a mesh file and its facts, if it was kept and is whole."""
    path = _path(sha256)
    try:
        if not path.is_file():
            return None
        with np.load(path) as kept:  # every array carries a checksum
            facts = json.loads(kept["facts"].tobytes())
            raw, order = kept["raw"], kept["order"]
            leaves, branches = (Runs(*(kept[f"{level}_{name}"] for name in RUNS)) for level in ("leaves", "branches"))
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile, zlib.error):
        return None
    raw.setflags(write=False)
    facts |= {"assumed": tuple(facts["assumed"]), "doubts": tuple(facts["doubts"])}
    index = TriangleIndex(raw, order, leaves, branches, 1.0, np.eye(3), np.zeros(3), spacing=facts["spacing"])
    return index, FileFacts(**facts)


def store_index(sha256: str, index: TriangleIndex, facts: FileFacts) -> None:
    """Keep an unplaced index; a full disk or a folder that may not be written leaves things as they are."""
    path = _path(sha256)
    arrays = {f"leaves_{name}": getattr(index.leaves, name) for name in RUNS}
    arrays |= {f"branches_{name}": getattr(index.branches, name) for name in RUNS}
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            text = np.frombuffer(json.dumps(asdict(facts)).encode(), np.uint8)
            np.savez(file, raw=index.raw, order=index.order, facts=text, **arrays)
        part.replace(path)
        _drop_oldest(path.parent)
    except OSError:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _path(sha256: str) -> Path:
    return cache_folder() / f"{sha256}.{FORMAT}.npz"


def _drop_oldest(folder: Path) -> None:
    kept = sorted(folder.glob("*.npz"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in kept[MOST_KEPT:]:
        path.unlink(missing_ok=True)
