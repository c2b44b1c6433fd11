"""The picture of a whole fit mock: all its parts in place, each with its name in a strip beside the photograph.

A collector replaces locating plates, and cut guides go round tubes that a collector hides. If these are printed too,
they are shown moved along the collector's axis. Of a collector that a run begins on, what it replaces is shown beside
it instead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.frames import scaled
from headergen.geometry.mesh.triangles import Points, TriangleMesh
from headergen.model import Collector, Header, Vec
from headergen.outputs.picture.shown import ShownPart
from headergen.outputs.picture.view import View, fitted, other_directions, view_directions

if TYPE_CHECKING:
    from headergen.outputs.picture.stage import Rooms  # imports VTK

FILE = "together.png"
SIZE = (1800, 1350)
SMALL = (360, 240)  # pixels of the pictures by which views are compared
SEEN = 6  # pixels of these from which a part counts as visible
SET_OFF = 25.0  # mm between a moved part and what is in front of it
NEAR_PLANE = 150.0  # mm along the axis within which a plate belongs to a collector
NEAR_AXIS = 60.0  # mm within which the centre of a part in front of a collector is from the axis
HIDDEN = " (behind)"


def draw_together(
    folder: Path, header: Header, parts: Mapping[str, ShownPart], errors: int, rooms: Rooms | None = None
) -> str:
    """Writes the picture and returns its file name. `parts` by name."""
    from headergen.outputs.picture import overlay, stage, strips

    parts = {name: part for name, part in parts.items() if part.kind != "saddle"}  # saddles are for the bench
    meshes = apart(parts, header)
    sheet = strips.names_sheet(SIZE, banner=errors > 0)
    width, height = sheet.photograph
    rooms = rooms or stage.opened()
    bodies = [rooms.body(mesh) for mesh in meshes.values()]
    thin = [rooms.thin(mesh) for mesh in meshes.values()]
    view = _view((thin, rooms), np.concatenate([mesh.vertices for mesh in meshes.values()]), header, width / height)
    photograph, owners = overlay.photographed(bodies, [], view, (width, height), rooms)
    image = strips.laid_out(photograph, sheet)
    strips.draw_names(image, sheet, [strips.Pointer(*each) for each in pointed(owners, meshes, view)])
    if errors:
        plural = "s" if errors > 1 else ""
        strips.draw_banner(
            image, sheet, f"NOT CLEARED: {errors} error{plural} - see report", (overlay.RED, overlay.PAPER)
        )
    strips.draw_foot(image, sheet, _title(header, meshes, parts))
    (folder / FILE).write_bytes(stage.png(image))
    return FILE


def _title(header: Header, meshes: Mapping[str, TriangleMesh], parts: Mapping[str, ShownPart]) -> str:
    off_place = {part.kind for name, part in parts.items() if meshes[name] is not part.mesh}
    moved = sorted("ends in plates" if kind == "tube" else f"{kind}s" for kind in off_place)
    off = f"; {' and '.join(moved)} set off from their places" if moved else ""
    job = header.draft.job
    return f"{job.title}: fit mock{off}   revision {job.revision}   {job.date}"


def apart(parts: Mapping[str, ShownPart], header: Header) -> dict[str, TriangleMesh]:
    """The meshes of the parts, those that would overlap others moved along the collectors' axes."""
    meshes = {name: part.mesh for name, part in parts.items()}
    for collector in header.draft.collectors:
        own = {name: part.kind for name, part in parts.items() if part.collector == collector.name}
        guides = sorted(name for name, kind in own.items() if kind == "cut guide")
        group = [name for name, kind in own.items() if kind == "collector"]
        if group and any(run.source == collector.name for run in header.runs):
            replaced = [name for name, part in parts.items() if _is_replaced(name, part, collector, header)]
            shift = _aside(collector, [parts[name].mesh for name in replaced], list(meshes.values()))
            meshes |= {name: _moved(parts[name].mesh, shift) for name in replaced}
            group = []
        standing = [part.mesh for part in parts.values() if part.kind == "locating plate"]
        for names in (group, *([name] for name in guides)):
            if names:
                shift = _shift(collector, [meshes[name] for name in names], standing)
                meshes |= {name: _moved(meshes[name], shift) for name in names} if any(shift) else {}
                standing += [meshes[name] for name in names]
    return meshes


def _is_replaced(name: str, part: ShownPart, collector: Collector, header: Header) -> bool:
    """Whether a part stands where a printed collector goes: its locating plates, and what goes through them."""
    ends = {f"{header.draft.letter}{header.draft.mock_mark(header.run(bore.run))}-L" for bore in collector.bores}
    if part.kind != "locating plate":
        return name in ends
    mesh = part.mesh
    off = (mesh.vertices.min(axis=0) + mesh.vertices.max(axis=0)) / 2 - np.array(collector.frame.origin)
    along = float(off @ np.array(collector.frame.z))
    return bool(np.linalg.norm(off - along * np.array(collector.frame.z)) < NEAR_AXIS and abs(along) < NEAR_PLANE)


def _aside(collector: Collector, mine: Sequence[TriangleMesh], all_parts: Sequence[TriangleMesh]) -> Vec:
    """How far these move across the axis to be beside all parts, to the side where that is least."""
    if not mine:
        return (0.0, 0.0, 0.0)
    moves = []
    for axis in (collector.frame.x, collector.frame.y):
        for way in (axis, scaled(axis, -1.0)):
            least = min(float((mesh.vertices @ np.array(way)).min()) for mesh in mine)
            moves.append((max(float((mesh.vertices @ np.array(way)).max()) for mesh in all_parts) - least, way))
    far, way = min(moves, key=lambda move: move[0])
    return scaled(way, far + SET_OFF)


def _shift(collector: Collector, mine: Sequence[TriangleMesh], standing: Sequence[TriangleMesh]) -> Vec:
    """How far these move down the axis to be clear of what is round it; zero if nothing is."""
    axis, origin = np.array(collector.frame.z), np.array(collector.frame.origin)
    ends = []
    for mesh in standing:
        along = (mesh.vertices - origin) @ axis
        middle = (mesh.vertices.min(axis=0) + mesh.vertices.max(axis=0)) / 2 - origin
        if np.linalg.norm(middle - (middle @ axis) * axis) < NEAR_AXIS:
            ends.append(float(along.max()))
    if not ends:
        return (0.0, 0.0, 0.0)
    begins = min(float(((mesh.vertices - origin) @ axis).min()) for mesh in mine)
    return scaled(collector.frame.z, max(0.0, max(ends) + SET_OFF - begins))


def _moved(mesh: TriangleMesh, shift: Vec) -> TriangleMesh:
    return TriangleMesh(mesh.vertices + np.array(shift), mesh.faces, mesh.closed)


def _view(inside: tuple[Sequence[object], Rooms], points: Points, header: Header, aspect: float) -> View:
    """The view that shows most parts; among equal ones, the view that shows most of the least visible part.

    `inside`: the thinned bodies, which are compared, and the rooms; `points`: all that the view has to show.
    """
    from headergen.outputs.picture import stage

    (bodies, rooms), outward = inside, header.draft.outward
    directions = [*view_directions(outward), *other_directions(outward)]
    thin = stage.points_of(bodies)
    views = [fitted(thin, each, aspect) for each in directions]
    scores = [_score(image, len(bodies)) for image in stage.owners(bodies, views, SMALL, rooms)]
    return fitted(points, directions[scores.index(max(scores))], aspect)


def _score(image: NDArray[np.integer[Any]], count: int) -> tuple[int, int]:
    pixels = np.bincount(image.ravel(), minlength=count + 1)[1 : count + 1]
    return int((pixels >= SEEN).sum()), int(pixels.sum())


def pointed(
    owners: NDArray[np.integer[Any]], meshes: Mapping[str, TriangleMesh], view: View
) -> list[tuple[str, tuple[float, float]]]:
    """For each part its name and its pixel, column and row, nearest to the centre of its visible area.

    The name of an invisible part says so, and points to where it is hidden. `owners` numbers the parts from 1.
    """
    from headergen.outputs.picture.view import projected

    found = []
    height, width = owners.shape
    for number, (name, mesh) in enumerate(meshes.items(), 1):
        rows, columns = np.nonzero(owners == number)
        if len(rows):
            off = np.hypot(rows - np.median(rows), columns - np.median(columns))
            best = int(np.argmin(off))
            found.append((name, (float(columns[best]), float(rows[best]))))
        else:
            column, row = projected(mesh.vertices.mean(axis=0)[None], view, (width, height))[0].tolist()
            found.append((name + HIDDEN, (min(max(column, 0.0), width - 1.0), min(max(row, 0.0), height - 1.0))))
    return found
