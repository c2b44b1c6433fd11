"""Assembly pictures of a fit mock: one for each run, with its parts numbered from its start."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from headergen.geometry.frames import vec
from headergen.geometry.mesh.triangles import TriangleMesh
from headergen.model import Header, Run, Vec
from headergen.outputs.picture import PictureNotes, most_seen, picture_notes, render
from headergen.outputs.picture.shown import ShownPart
from headergen.outputs.picture.view import fitted, view_directions
from headergen.parts.kind import file_stem

if TYPE_CHECKING:
    from headergen.outputs.picture.stage import Rooms  # imports VTK

SIZE = (1200, 825)
OF_RUNS = ("tube", "steel")  # the kinds that are numbered from the start of their run
SMALL = (480, 330)  # pixels of the pictures by which directions are compared
POINTED_AT = 60  # points of a part to which its number may point


def draw_guide(
    folder: Path,
    header: Header,
    parts: Mapping[str, ShownPart],
    errors: int,
    report: Callable[[int, int], None],
    rooms: Rooms | None = None,
) -> tuple[tuple[str, str, str], ...]:
    """Writes `primary_N.png` for each primary, and `secondary_NAME.png` for each printed secondary; also
    `primary_N_saddles.png` if it has saddles.

    Returns names, marks and file names. `parts`: by name.
    """
    from headergen.outputs.picture import stage

    rooms = rooms or stage.opened()
    shown = {name: part.mesh for name, part in parts.items() if part.kind in ("collector", "flange plate", *OF_RUNS)}
    own = {run.name: [name for name in shown if _is_of(parts[name], run, OF_RUNS)] for run in header.runs}
    best = _best_directions(shown, own, header.draft.outward, rooms)
    made = []
    for count, run in enumerate(header.runs):
        report(count, len(header.runs))
        if not own[run.name]:
            continue
        mine = {_label(name, parts[name]): shown[name] for name in own[run.name]}
        others = [mesh for name, mesh in shown.items() if name not in own[run.name]]
        file, notes = f"{file_stem(run.name)}.png", _notes(header, run, mine, errors)
        render(folder / file, (mine, (), others), notes, SIZE, rooms, best[run.name])
        held = {_label(name, part): part.mesh for name, part in parts.items() if _is_of(part, run, ("saddle",))}
        if held:
            notes = _notes(header, run, held, errors, "saddles")
            render(folder / f"{file_stem(run.name)}_saddles.png", (held, (), list(mine.values())), notes, SIZE, rooms)
        made.append((run.name, f"{header.draft.letter}{header.draft.mock_mark(run)}", file))
    report(len(header.runs), len(header.runs))
    return tuple(made)


def _best_directions(
    shown: Mapping[str, TriangleMesh], own: Mapping[str, Sequence[str]], outward: Vec, rooms: Rooms
) -> dict[str, Vec]:
    """The direction from which the parts of each run are seen best, all from the same small pictures of everything."""
    from headergen.outputs.picture import stage

    if not shown:
        return {}
    bodies, directions = [rooms.thin(mesh) for mesh in shown.values()], view_directions(outward)
    points = stage.points_of(bodies)
    views = [fitted(points, direction, SMALL[0] / SMALL[1]) for direction in directions]
    images = stage.owners(bodies, views, SMALL, rooms)
    pixels = np.array([np.bincount(image.ravel(), minlength=len(shown) + 1)[1:] for image in images])
    place = {name: k for k, name in enumerate(shown)}
    return {
        run: directions[most_seen(pixels[:, [place[name] for name in names]])] for run, names in own.items() if names
    }


def _is_of(part: ShownPart, run: Run, kinds: Sequence[str]) -> bool:
    return part.kind in kinds and run.name in part.runs


def _label(name: str, part: ShownPart) -> str:
    """The number of its piece, and of its share in that; of a saddle, the number of its joint."""
    steel = "S" if part.kind == "steel" else ""
    return f"{steel}{name.rpartition('-')[2]}"


def _notes(header: Header, run: Run, parts: Mapping[str, TriangleMesh], errors: int, of: str = "") -> PictureNotes:
    notes = picture_notes(header, errors)
    places = tuple((count, _places(mesh)) for count, mesh in parts.items())
    return replace(notes, title=f"{notes.title}: {of or 'fit mock'}, {run.name}", places=places)


def _places(mesh: TriangleMesh) -> tuple[Vec, ...]:
    """Points of a part's skin, nearest to its centre first."""
    away = np.linalg.norm(mesh.vertices - mesh.vertices.mean(axis=0), axis=1)
    order = np.argsort(away, kind="stable")
    picked = mesh.vertices[order[:: max(1, len(order) // POINTED_AT)]]
    return tuple(vec(each) for each in picked)
