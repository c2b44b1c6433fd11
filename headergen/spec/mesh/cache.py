"""Indices of large meshes, kept in the user's cache folder so that the next run starts at once.

The key is the hash of the mesh file's bytes, and the index is in the file's own numbers, so units and placement may
change. An entry that cannot be read completely is removed and made again; an entry that cannot be written is skipped.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from headergen.geometry.mesh.index import Runs, TriangleIndex
from headergen.model import FileFacts
from headergen.store.files import keep, taken, tidy, users_folder

FORMAT = 3  # increased when the index, or what is stored of it, changes
MOST_KEPT = 12  # files; the least recently used is removed first
RUNS = ("centre", "radius", "area", "middle")


def cache_folder() -> Path:
    """The folder of the indices; it need not exist."""
    return users_folder("meshes")


def stored_index(sha256: str) -> tuple[TriangleIndex, FileFacts] | None:
    """The unplaced index of a mesh file and its facts, if cached and complete; a damaged entry is removed."""
    return taken(cache_folder(), f"{sha256}.{FORMAT}", _read, sealed=False)


def _read(kept: Mapping[str, Any]) -> tuple[TriangleIndex, FileFacts]:
    """Damage may raise any exception; every array has a checksum."""
    facts = json.loads(kept["facts"].tobytes())
    leaves, branches = (Runs(*(kept[f"{level}_{name}"] for name in RUNS)) for level in ("leaves", "branches"))
    raw, order, box, closed = (kept[name] for name in ("raw", "order", "box", "closed"))
    raw.setflags(write=False)
    facts = {key: tuple(value) if isinstance(value, list) else value for key, value in facts.items()}
    placing = (1.0, np.eye(3), np.zeros(3))
    index = TriangleIndex(raw, order, leaves, branches, *placing, box, bool(closed), facts["spacing"])
    return index, FileFacts(**facts)


def store_index(sha256: str, index: TriangleIndex, facts: FileFacts) -> None:
    """Keep an unplaced index. A full disk or a read-only folder changes nothing."""
    arrays = {f"leaves_{name}": getattr(index.leaves, name) for name in RUNS}
    arrays |= {f"branches_{name}": getattr(index.branches, name) for name in RUNS}
    arrays |= {"raw": index.raw, "order": index.order, "box": index.box, "closed": np.array(index.closed)}
    arrays["facts"] = np.frombuffer(json.dumps(asdict(facts)).encode(), np.uint8)
    keep(cache_folder(), f"{sha256}.{FORMAT}", arrays, sealed=False)
    tidy(cache_folder(), MOST_KEPT, lambda _: 1)
