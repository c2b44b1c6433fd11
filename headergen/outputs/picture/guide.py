"""Assembly pictures of a fit mock: one for each primary, with its parts numbered from the flange."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Header, Vec
from headergen.outputs.picture import PictureNotes, picture_notes, render

if TYPE_CHECKING:
    from headergen.outputs.picture.stage import Rooms  # imports VTK

SIZE = (1200, 825)
POINTED_AT = 60  # points of a part to which its number may point


def draw_guide(
    folder: Path,
    header: Header,
    meshes: Mapping[str, TriangleMesh],
    errors: int,
    report: Callable[[int, int], None],
    rooms: Rooms | None = None,
) -> tuple[tuple[int, str], ...]:
    """Writes `primary_N.png` for each primary; returns numbers and file names. `meshes`: parts, in engine axes."""
    made = []
    for count, primary in enumerate(header.primaries):
        report(count, len(header.primaries))
        own = {name for name in meshes if _kind(name, header) in "PS" and _number(name, header) == primary.number}
        mine = {_label(name, header): mesh for name, mesh in meshes.items() if name in own}
        others = [mesh for name, mesh in meshes.items() if name not in own and _kind(name, header) in "FPSC"]
        file = f"primary_{primary.number}.png"
        render(folder / file, (mine, (), others), _notes(header, primary.number, mine, errors), SIZE, rooms)
        made.append((primary.number, file))
    report(len(header.primaries), len(header.primaries))
    return tuple(made)


def _kind(name: str, header: Header) -> str:
    """The kind letter of a part."""
    return name.removeprefix(header.draft.letter)[0]


def _number(name: str, header: Header) -> int:
    """Of the primary that a tube part or a steel straight is of."""
    return int(name.removeprefix(header.draft.letter)[1:].partition("-")[0])


def _label(name: str, header: Header) -> str:
    """The number of its piece, and of its share in that."""
    steel = "S" if _kind(name, header) == "S" else ""
    return f"{steel}{name.rpartition('-')[2]}"


def _notes(header: Header, number: int, parts: Mapping[str, TriangleMesh], errors: int) -> PictureNotes:
    notes = picture_notes(header, errors)
    places = tuple((count, _places(mesh)) for count, mesh in parts.items())
    return replace(notes, title=f"{notes.title}: fit mock, primary {number}", places=places)


def _places(mesh: TriangleMesh) -> tuple[Vec, ...]:
    """Points of a part's skin, nearest to its centre first."""
    away = np.linalg.norm(mesh.vertices - mesh.vertices.mean(axis=0), axis=1)
    order = np.argsort(away, kind="stable")
    picked = mesh.vertices[order[:: max(1, len(order) // POINTED_AT)]]
    return tuple((float(x), float(y), float(z)) for x, y, z in picked)
