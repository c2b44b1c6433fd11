"""One picture of a header, rendered without a screen.

Runs in a child process of its own, because VTK ends the process if there is no GL. All tubes have one steel tone, the
chassis a matte dark one. Numbers identify the primaries; colour marks errors only. Importing this module does not
import VTK; rendering does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.mesh.triangles import Faces, Points, TriangleMesh
from headergen.geometry.mesh.tube import run_mesh
from headergen.model import Header, Run, Vec
from headergen.outputs.picture.marks import Mark, balls
from headergen.outputs.picture.view import View, fitted, other_directions, projected, view_directions
from headergen.show.chassis import chassis_meshes

if TYPE_CHECKING:
    from headergen.outputs.picture.stage import Rooms  # imports VTK
    from headergen.outputs.picture.strips import Marked, Pointer  # imports VTK

SIZE = (1600, 1100)
SPOTTED = (560, 400)  # pixels of the small pictures by which views of errors are compared
NEARLY_BEST = 0.85  # of the best share of visible places: among views above this, the best one of the header is taken
CHORD_ERROR = 0.15  # mm; a quarter of a pixel where a header of 900 mm fills the picture
TAGGED = tuple(k / 100 for k in range(9, 60, 3))  # shares of a tube's length at which its number may point


@dataclass(frozen=True)
class PictureNotes:
    """The facts that a picture needs besides the meshes.

    `outward` is the flange normal out of the head; `places` holds, for each primary, the centreline points to which its
    number may point, the best first; `errors` counts the error findings, and `marks` are their places, the worst first.
    """

    title: str
    revision: str
    date: str
    errors: int
    outward: Vec
    places: tuple[tuple[str, tuple[Vec, ...]], ...]
    marks: tuple[Mark, ...] = ()


def picture_notes(header: Header, errors: int) -> PictureNotes:
    """The notes for a header; its primaries are numbered near their ports."""
    job = header.draft.job
    places = tuple(
        (label(run), tuple(frame_at(line, share * line.length)[0] for share in TAGGED))
        for run, line in header.tubes
        if run.is_primary
    )
    return PictureNotes(job.title, job.revision, job.date, errors, header.draft.outward, places)


def label(run: Run) -> str:
    """The label of a run in a picture: a primary has its number."""
    return str(run.number) if run.is_primary else run.name


def tube_skins(header: Header) -> dict[str, TriangleMesh]:
    """The mesh of every run as drawn, by its label."""
    return {label(run): run_mesh(run, line, CHORD_ERROR) for run, line in header.tubes}


def render_header(
    path: Path,
    header: Header,
    chassis: Mapping[str, tuple[Points, Faces]],
    marks: Sequence[Mark],
    parts: Sequence[TriangleMesh] = (),
    rooms: Rooms | None = None,
) -> None:
    """Write a PNG of a header in its chassis. `chassis`: vertices and faces of each mesh item, by name.

    `marks` are the errors, the worst first; `parts` are those besides the primaries; `rooms` may be open already.

    Raises ValueError if the header has no primary, OSError if the file cannot be written.
    """
    notes = replace(picture_notes(header, len(marks)), marks=tuple(marks))
    items = chassis_meshes(header.draft.chassis, chassis)
    render(path, (tube_skins(header), parts, items), notes, rooms=rooms)


def render_mesh(path: Path, mesh: TriangleMesh, title: str) -> None:
    """Write a PNG of one mesh alone, in any units. Raises OSError if the file cannot be written."""
    from headergen.outputs.picture import stage, strips

    sheet = strips.sheet_of(SIZE, banner=False, errors=False)
    width, height = sheet.photograph
    direction = view_directions((0.0, 1.0, 0.0))[1]
    body = stage.polydata(mesh)
    whole, _ = stage.photographs([body], [], fitted(mesh.vertices, direction, width / height), (width, height))
    image = strips.laid_out(whole, sheet)
    strips.draw_foot(image, sheet, title)
    path.write_bytes(stage.png(image))


def render(
    path: Path,
    meshes: tuple[Mapping[str, TriangleMesh], Sequence[TriangleMesh], Sequence[TriangleMesh]],
    notes: PictureNotes,
    size: tuple[int, int] = SIZE,
    rooms: Rooms | None = None,
    seen_from: Vec | None = None,
) -> None:
    """Write a PNG of the meshes (millimetres, engine axes); the same bytes for the same input, machine and versions.

    The meshes are the primaries by number, the parts welded to them, and the chassis. `seen_from`: the unit direction
    of the camera; without it the view is chosen to show the primaries and the worst error. Raises ValueError if there
    is no primary.
    """
    from headergen.outputs.picture import overlay, stage, strips

    tubes, parts, chassis = meshes
    if not tubes:
        raise ValueError("there is no primary to draw")
    sheet = strips.sheet_of(size, banner=notes.errors > 0, errors=bool(notes.marks))
    points = np.concatenate([mesh.vertices for mesh in (*tubes.values(), *parts)])
    width, height = sheet.photograph
    around = [*view_directions(notes.outward), *(other_directions(notes.outward) if notes.marks else ())]
    directions = around if seen_from is None else [seen_from]
    views = [fitted(points, direction, width / height) for direction in directions]

    rooms = rooms or stage.opened()
    steel, dark = [rooms.body(mesh) for mesh in (*tubes.values(), *parts)], [rooms.body(mesh) for mesh in chassis]
    if len(views) > 1:
        small = (round(200 * width / height), 200)
        thin = [rooms.thin(mesh) for mesh in (*tubes.values(), *parts, *chassis)]
        views = _that_show([rooms.body(mesh) for mesh in balls(notes.marks)], thin, views, rooms)
        views = [best_view(stage.owners(thin, views, small, rooms), len(tubes), views)]
    [view] = views
    photograph, owners = overlay.photographed(steel, dark, view, (width, height), rooms)
    image = strips.laid_out(photograph, sheet)
    numbered = {number: points for number, points in notes.places if number in tubes}
    strips.draw_pointers(image, sheet, pointers(owners, list(tubes), numbered, view))
    strips.draw_marks(image, sheet, _marked(notes.marks, view, (width, height)))
    if notes.errors:
        count = f"{notes.errors} error" + ("s" if notes.errors > 1 else "")
        strips.draw_banner(image, sheet, f"NOT CLEARED: {count} - see report", (overlay.RED, overlay.PAPER))
    strips.draw_foot(image, sheet, f"{notes.title}   revision {notes.revision}   {notes.date}")
    path.write_bytes(stage.png(image))


def pointers(
    owners: NDArray[np.integer[Any]], tubes: list[str], numbered: Mapping[str, tuple[Vec, ...]], view: View
) -> list[Pointer]:
    """For each number, the first of its places that is visible; `owners` numbers `tubes` from 1."""
    from headergen.outputs.picture import overlay, strips

    found = []
    for number, places in numbered.items():
        seen = projected(np.array(places), view, (owners.shape[1], owners.shape[0]))
        column, row = overlay.first_in_sight(seen, owners, tubes.index(number) + 1)
        found.append(strips.Pointer(number, (float(column), float(row))))
    return found


def _that_show(
    spots: Sequence[Any], bodies: Sequence[Any], views: list[View], rooms: Rooms | None = None
) -> list[View]:
    """The views that show the first spot best and as many of the others as possible; all views if there is no spot."""
    from headergen.outputs.picture import stage

    if not spots:
        return views
    alone, among = (stage.owners(each, views, SPOTTED, rooms) for each in (spots, [*spots, *bodies]))
    scores = [_share_seen(one, other, len(spots)) for one, other in zip(alone, among, strict=True)]
    return [view for view, score in zip(views, scores, strict=True) if score >= NEARLY_BEST * max(scores)]


def _share_seen(alone: NDArray[np.integer[Any]], among: NDArray[np.integer[Any]], spots: int) -> float:
    """The visible share of the spots in a view, compared with nothing in front; the first spot counts double."""
    whole, seen = (np.bincount(image.ravel(), minlength=spots + 1)[1 : spots + 1] for image in (alone, among))
    shares = seen / np.maximum(whole, 1)
    return 2 * float(shares[0]) + float(shares.mean())


def best_view(owners: Sequence[NDArray[np.integer[Any]]], tubes: int, views: Sequence[View]) -> View:
    """The view that shows most of the first `tubes` meshes, judged by the one that it shows least.

    `owners` holds, for each view, the number (from 1) of the mesh at each pixel. The first of equal views wins.
    """
    pixels = [np.bincount(image.ravel(), minlength=tubes + 1)[1 : tubes + 1] for image in owners]
    return views[most_seen(np.array(pixels))]


def most_seen(pixels: NDArray[np.integer[Any]]) -> int:
    """The row of the best view in (V, M) pixels of each mesh in each view: judged by the mesh that it shows least."""
    # + 1, so that a tube hidden in every view leaves the choice to the others
    return int(np.argmax((pixels.min(axis=1) + 1) * pixels.sum(axis=1)))


def _marked(marks: Sequence[Mark], view: View, size: tuple[int, int]) -> list[Marked]:
    """The marks with their pixels in a photograph; no pixel for a mark outside it."""
    from headergen.outputs.picture import strips

    found = []
    for mark in marks:
        place = None
        if mark.place is not None:
            column, row = projected(np.array([mark.place]), view, size)[0].tolist()
            place = (column, row) if 0 <= column < size[0] and 0 <= row < size[1] else None
        found.append(strips.Marked(mark.lines, place))
    return found


def can_render(rooms: Rooms | None = None) -> bool:
    """Whether a picture of one square is correct. Call it in a child process: without GL, VTK ends the process."""
    from headergen.outputs.picture import stage

    stage.keep_quiet()
    corners = np.array([[-1.0, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])
    square = TriangleMesh(corners, np.array([[0, 1, 2], [0, 2, 3]]), False)
    above = View((0.0, 0.0, 5.0), (0.0, 0.0, 0.0), up=(0.0, 1.0, 0.0), half_height=2.0)
    [image] = stage.owners([stage.polydata(square)], [above], (16, 16), rooms)
    return bool(image[8, 8] == 1 and image[0, 0] == 0)
