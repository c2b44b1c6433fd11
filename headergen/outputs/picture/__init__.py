"""One picture of a header, rendered without a screen.

Meant for a child process of its own: where no GL is found VTK ends the process instead of raising. Tubes are one
steel, the chassis a matte dark tone; numbers tell the primaries apart, and colour means nothing but an error.
Importing this imports no VTK; rendering does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.centreline import frame_at
from headergen.geometry.mesh import Faces, Points, TriangleMesh
from headergen.geometry.tube_mesh import tube_mesh
from headergen.model import Header, Vec
from headergen.outputs.picture.chassis import chassis_meshes
from headergen.outputs.picture.view import View, fitted, view_directions

SIZE = (1600, 1100)
CHORD_ERROR = 0.05  # mm; less than a pixel of any header
TAGGED = tuple(k / 100 for k in range(9, 60, 3))  # shares of a tube's length where its number may point


@dataclass(frozen=True)
class PictureNotes:
    """What a picture needs to know beside the meshes.

    `outward` is the flange normal out of the head; `places` holds, for each primary, places of its centreline where
    its number may point, the best first; `errors` counts the error findings.
    """

    title: str
    revision: str
    date: str
    errors: int
    outward: Vec
    places: tuple[tuple[int, tuple[Vec, ...]], ...]


def picture_notes(header: Header, errors: int) -> PictureNotes:
    """The notes for a header, whose primaries are numbered near their ports."""
    job = header.draft.job
    places = tuple(
        (line.primary, tuple(frame_at(line, share * line.length)[0] for share in TAGGED)) for line in header.centrelines
    )
    return PictureNotes(job.title, job.revision, job.date, errors, header.draft.flange.frame.z, places)


def render_header(
    path: Path,
    header: Header,
    chassis: Mapping[str, tuple[Points, Faces]],
    errors: int,
    parts: Sequence[TriangleMesh] = (),
) -> None:
    """Write a PNG of a header among its chassis. `chassis`: vertices and faces of each item that is a mesh, by name.

    `parts` are those beside the primaries.

    Raises ValueError when the header has no primary, OSError when the file cannot be written.
    """
    tube = header.draft.tube
    radii = (tube.radius, tube.radius - tube.wall)
    tubes = {line.primary: tube_mesh(line, *radii, CHORD_ERROR) for line in header.centrelines}
    render(path, tubes, chassis_meshes(header.draft.chassis, chassis), picture_notes(header, errors), parts=parts)


def render_mesh(path: Path, mesh: TriangleMesh, title: str) -> None:
    """Write a PNG of one mesh by itself, whatever its units. Raises OSError when the file cannot be written."""
    from headergen.outputs.picture import overlay, stage

    stage.keep_quiet()
    direction = view_directions((0.0, 1.0, 0.0))[1]
    body = stage.polydata(mesh)
    whole, _ = stage.photographs([body], [], fitted(mesh.vertices, direction, SIZE[0] / SIZE[1]), SIZE)
    overlay.draw_words(whole, title, 0)
    path.write_bytes(stage.png(whole))


def render(
    path: Path,
    tubes: Mapping[int, TriangleMesh],
    chassis: Sequence[TriangleMesh],
    notes: PictureNotes,
    size: tuple[int, int] = SIZE,
    parts: Sequence[TriangleMesh] = (),
) -> None:
    """Write a PNG of the meshes (millimetres, engine axes); the same bytes for the same input, machine and versions.

    `tubes` are the primaries by number, `parts` what is welded to them. Raises ValueError when there is no primary: the
    view is chosen to show them.
    """
    from headergen.outputs.picture import overlay, stage

    if not tubes:
        raise ValueError("there is no primary to draw")
    points = np.concatenate([mesh.vertices for mesh in (*tubes.values(), *parts)])
    views = [fitted(points, direction, size[0] / size[1]) for direction in view_directions(notes.outward)]

    stage.keep_quiet()
    steel = [stage.polydata(mesh) for mesh in (*tubes.values(), *parts)]
    dark = [stage.polydata(mesh) for mesh in chassis]
    view = best_view(stage.owners([*steel, *dark], views, (round(200 * size[0] / size[1]), 200)), len(tubes), views)
    image, owners = overlay.photographed(steel, dark, view, size)
    numbered = {number: points for number, points in notes.places if number in tubes}
    overlay.draw_numbers(image, owners, list(tubes), numbered, view)
    overlay.draw_words(image, f"{notes.title}   revision {notes.revision}   {notes.date}", notes.errors)
    path.write_bytes(stage.png(image))


def best_view(owners: Sequence[NDArray[np.int64]], tubes: int, views: Sequence[View]) -> View:
    """The view that shows most of the first `tubes` meshes, weighed by the one of which it shows least.

    `owners` holds, for each view, which mesh each pixel shows, counted from 1. The first of equals wins.
    """
    scores = []
    for image in owners:
        seen = np.bincount(image.ravel(), minlength=tubes + 1)[1 : tubes + 1]
        scores.append(
            (int(seen.min()) + 1) * int(seen.sum())
        )  # + 1: one hidden in every view leaves the rest to decide
    return views[scores.index(max(scores))]


def can_render() -> bool:
    """Whether a picture of one square comes out right. Call it in a child: without GL, VTK ends the process."""
    from headergen.outputs.picture import stage

    stage.keep_quiet()
    corners = np.array([[-1.0, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])
    square = TriangleMesh(corners, np.array([[0, 1, 2], [0, 2, 3]]), False)
    above = View((0.0, 0.0, 5.0), (0.0, 0.0, 0.0), up=(0.0, 1.0, 0.0), half_height=2.0)
    [image] = stage.owners([stage.polydata(square)], [above], (16, 16))
    return bool(image[8, 8] == 1 and image[0, 0] == 0)
