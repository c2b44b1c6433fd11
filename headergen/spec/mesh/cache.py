"""Indices of large meshes, kept in the user's cache folder so that the next run starts at once.

The key is the hash of the mesh file's bytes, and the index is in the file's own numbers, so units and placement may
change. An entry that cannot be read completely is removed and made again; an entry that cannot be written is skipped.
"""

from __future__ import annotations

import json
import os
import time
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path

import numpy as np

from headergen.geometry.mesh.index import Runs, TriangleIndex
from headergen.model import FileFacts

FORMAT = 3  # increased when the index, or what is stored of it, changes
MOST_KEPT = 12  # files; the least recently used is removed first
RUNS = ("centre", "radius", "area", "middle")
PART = ".part"  # suffix of a file that is being written, after the number of the process that writes it
AN_HOUR = 3600.0  # seconds; no write takes this long


def cache_folder() -> Path:
    """The folder of the indices; it need not exist."""
    import platformdirs

    return platformdirs.user_cache_path("headergen") / "meshes"


def stored_index(sha256: str) -> tuple[TriangleIndex, FileFacts] | None:
    """The unplaced index and facts of a mesh file, if cached and complete; a damaged entry is removed."""
    path = _path(sha256)
    try:
        if not path.is_file():
            return None
        found = _read(path)
    except Exception:  # damage may raise anything in the zip, array and text readers
        with suppress(OSError):
            path.unlink(missing_ok=True)
        return None
    with suppress(OSError):
        os.utime(path)  # marks it as used now
    return found


def _read(path: Path) -> tuple[TriangleIndex, FileFacts]:
    """Damage may raise any exception; every array has a checksum."""
    with np.load(path, allow_pickle=False) as kept:
        facts = json.loads(kept["facts"].tobytes())
        leaves, branches = (Runs(*(kept[f"{level}_{name}"] for name in RUNS)) for level in ("leaves", "branches"))
        raw, order, box, closed = (kept[name] for name in ("raw", "order", "box", "closed"))
    raw.setflags(write=False)
    facts = {key: tuple(value) if isinstance(value, list) else value for key, value in facts.items()}
    placing = (1.0, np.eye(3), np.zeros(3))
    index = TriangleIndex(raw, order, leaves, branches, *placing, box, bool(closed), facts["spacing"])
    return index, FileFacts(**facts)


def store_index(sha256: str, index: TriangleIndex, facts: FileFacts) -> None:
    """Store an unplaced index. A full disk or a read-only folder changes nothing."""
    path = _path(sha256)
    arrays = {f"leaves_{name}": getattr(index.leaves, name) for name in RUNS}
    arrays |= {f"branches_{name}": getattr(index.branches, name) for name in RUNS}
    arrays |= {"raw": index.raw, "order": index.order, "box": index.box, "closed": np.array(index.closed)}
    part = path.with_name(f"{path.name}.{os.getpid()}{PART}")
    if not path.is_absolute():  # a user without a home
        return
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _drop_leftovers(path.parent)
        with part.open("wb") as file:
            text = np.frombuffer(json.dumps(asdict(facts)).encode(), np.uint8)
            np.savez(file, facts=text, **arrays)
        part.replace(path)
        _drop_unused(path.parent)
    except OSError:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _path(sha256: str) -> Path:
    return cache_folder() / f"{sha256}.{FORMAT}.npz"


def _drop_unused(folder: Path) -> None:
    kept = sorted(folder.glob("*.npz"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in kept[MOST_KEPT:]:
        path.unlink(missing_ok=True)


def _drop_leftovers(folder: Path) -> None:
    """Remove unfinished files whose writer has ended. Its process number may be reused, so an hour is enough too."""
    for part in folder.glob(f"*{PART}"):
        with suppress(OSError):
            if not _is_being_written(part):
                part.unlink(missing_ok=True)


def _is_being_written(part: Path) -> bool:
    import psutil  # imported only where there is such a file

    writer = part.name.removesuffix(PART).rpartition(".")[2]
    lives = writer.isdecimal() and len(writer) < 10 and psutil.pid_exists(int(writer))
    return lives and time.time() - part.stat().st_mtime < AN_HOUR
