"""Printed parts kept in the user's cache folder, so that after a change only what depends on it is made again.

The key of a part is the hash of the function that makes it and of all that this is given, of headergen's own source and
of the versions of the libraries used. Parts that cannot be read completely are removed and made again.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.mock.part import MockPart
from headergen.mock.solid import is_closed
from headergen.mock.strength import TubeSection
from headergen.model import Frame
from headergen.store.files import keep, taken, tidy, users_folder
from headergen.store.keys import key_of_values

FORMAT = 1  # increased when what is kept of a part changes
MOST_KEPT = 200_000_000  # bytes; the least recently used is removed first
LIBRARIES = ("manifold3d", "numpy")
REST = "rest"  # the array that holds all of the parts but their meshes, as JSON


@dataclass(frozen=True)
class KeptMockParts:
    """A folder of kept printed parts; it need not exist."""

    folder: Path

    def parts(self, make: partial[Any]) -> tuple[MockPart, ...]:
        """The part or the parts that `make` makes: as they were kept, or made now and kept."""
        key = key_of_values((FORMAT, make.func.__qualname__, make.args), LIBRARIES)
        kept = None if key is None else taken(self.folder, key, _read)
        if kept is not None:
            return kept
        made = all_of(make())
        if key is not None:
            keep(self.folder, key, _written(made))
        return made

    def tidy(self) -> None:
        """Remove the least recently used parts beyond MOST_KEPT, and files that were never finished."""
        tidy(self.folder, MOST_KEPT)


def users_kept_mock_parts() -> KeptMockParts:
    return KeptMockParts(users_folder("mock_parts"))


def all_of(made: MockPart | Iterable[MockPart]) -> tuple[MockPart, ...]:
    return (made,) if isinstance(made, MockPart) else tuple(made)


def _written(parts: Sequence[MockPart]) -> dict[str, Any]:
    """The arrays of some parts. JSON keeps every digit of a float."""
    arrays: dict[str, Any] = {}
    for k, part in enumerate(parts):
        arrays |= {f"{k} vertices": part.mesh.vertices, f"{k} faces": part.mesh.faces}
    text = json.dumps([_rest_of(part) for part in parts], ensure_ascii=False)
    return {**arrays, REST: np.frombuffer(text.encode(), np.uint8)}


def _rest_of(part: MockPart) -> dict[str, Any]:
    return {
        "name": part.name,
        "runs": part.runs,
        "pieces": part.pieces,
        "home": astuple(part.home),
        "smallest_section": part.smallest_section,
        "spigot": None if part.spigot is None else astuple(part.spigot),
        "sockets": [(run, astuple(frame)) for run, frame in part.sockets],
        "notes": part.notes,
        "sections": [astuple(section) for section in part.sections],
        "kind": part.kind,
        "collector": part.collector,
    }


def _read(kept: Mapping[str, Any]) -> tuple[MockPart, ...]:
    """Damage may raise any exception."""
    rest = json.loads(kept[REST].tobytes())
    return tuple(_part(told, kept[f"{k} vertices"], kept[f"{k} faces"]) for k, told in enumerate(rest))


def _part(told: dict[str, Any], vertices: Any, faces: Any) -> MockPart:
    if not is_closed(faces):
        raise ValueError("a printed part that was kept is not as it was")
    return MockPart(
        name=told["name"],
        runs=tuple(told["runs"]),
        pieces=tuple(told["pieces"]),
        mesh=TriangleMesh(vertices, faces, closed=True),
        home=_frame(told["home"]),
        smallest_section=told["smallest_section"],
        spigot=None if told["spigot"] is None else _frame(told["spigot"]),
        sockets=tuple((run, _frame(axes)) for run, axes in told["sockets"]),
        notes=tuple(told["notes"]),
        sections=tuple(TubeSection(run, tuple(place), *sizes) for run, place, *sizes in told["sections"]),
        kind=told["kind"],
        collector=told["collector"],
    )


def _frame(axes: list[list[float]]) -> Frame:
    return Frame(*(tuple(axis) for axis in axes))  # type: ignore[arg-type]  # four axes of three figures
