"""The pages of a result, from what is made already: nothing here needs its own process."""

from __future__ import annotations

import io
from collections.abc import Container, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from headergen.geometry.frames import add
from headergen.geometry.mesh.tube import run_mesh
from headergen.jobs.outcome import Missing, NotMade
from headergen.jobs.parts import Made
from headergen.model import Header, Result, Vec
from headergen.model.evidence import Evidence
from headergen.model.sign_off import SignOff
from headergen.outputs.picture.view import view_directions
from headergen.show.chassis import item_meshes, to_draw
from headergen.show.meshes import ShownMesh, thinned
from headergen.show.three import ViewerError

if TYPE_CHECKING:
    from headergen.outputs.customer.preview import Label

CHORD_ERROR = 0.2  # mm, of tubes on a page
MOST = 30_000  # triangles of all chassis meshes together
JPEG_QUALITY = 82
HOME = 10  # index in view_directions: slightly from one side, and from above


def shown_meshes(result: Result, chassis: Mapping[str, Any], made: Made) -> tuple[ShownMesh, ...]:
    """The meshes of a page: each tube, each other part, and each chassis item with a body, thinned."""
    tubes = _tubes(result.header, {part.name for part in made.parts})
    parts = (ShownMesh(name, "header", mesh) for name, mesh in made.skins.items())
    return (*tubes, *parts, *chassis_meshes(result.header, chassis))


def measured_meshes(result: Result, chassis: Mapping[str, Any]) -> tuple[ShownMesh, ...]:
    """The meshes of a page for a header of which nothing is made: each tube and each chassis item, thinned."""
    header = result.header
    return (*_tubes(header, {run.name for run in header.runs}), *chassis_meshes(header, chassis))


def _tubes(header: Header, names: Container[str]) -> Iterator[ShownMesh]:
    for run, line in header.tubes:
        if run.name in names:
            mesh = run_mesh(run, line, CHORD_ERROR)
            yield ShownMesh(run.name, "header", mesh)


def chassis_meshes(header: Header, chassis: Mapping[str, Any]) -> Iterator[ShownMesh]:
    """Every chassis item with a body, thinned; `chassis` holds those that are meshes, indexed."""
    most = MOST // max(len(chassis), 1)
    drawn = {name: to_draw(mesh, header) for name, mesh in chassis.items()}
    small = {name: thinned(mesh, most) for name, mesh in drawn.items()}
    found = item_meshes(header.draft.chassis, {name: (mesh.vertices, mesh.faces) for name, mesh in small.items()})
    return (ShownMesh(name, "chassis", mesh) for name, mesh in found)


Seen = tuple[tuple[ShownMesh, ...], bytes | None, str]  # meshes, the picture as JPEG if there is one, and the version


def ready_for_pages(shown: tuple[ShownMesh, ...]) -> None:
    """Load what the pages need, and pack their meshes, so that little is left to do when the picture is there."""
    import reportlab.pdfgen.canvas  # noqa: F401

    import headergen.outputs.customer.preview
    import headergen.outputs.customer.sign_off
    import headergen.outputs.report.page  # noqa: F401
    from headergen.show.page import ready_for_pages_that_draw
    from headergen.show.paper import register_fonts

    register_fonts()
    ready_for_pages_that_draw()
    for each in shown:
        _ = each.packed  # kept with the mesh


def make_pages(folder: Path, signing: tuple[SignOff, SignOff | None], result: Result, seen: Seen) -> NotMade:
    """Write the customer's page and sheet into `folder`.

    `signing`: the present facts, and the signed ones if they are available.

    Returns why a page could not be made, if it could not.
    """
    from headergen.outputs.customer.preview import FILE, PreviewLooks, write_preview
    from headergen.outputs.customer.sign_off import DATA, SIGNED, write_sign_off, write_sign_off_data
    from headergen.outputs.customer.sign_off import FILE as SHEET

    (facts, signed), (shown, picture, version), header = signing, seen, result.header
    write_sign_off_data(folder / DATA, facts)
    if signed is not None:
        write_sign_off_data(folder / SIGNED, signed)
    if not any(each.group == "header" for each in shown):
        return ()
    write_sign_off(folder / SHEET, facts, header, shown, picture)
    looks = PreviewLooks(_facing(header), picture, tuple(labels_of(result, facts, shown)))
    try:
        write_preview(folder / FILE, facts, header.draft.units, shown, looks, version)
    except ViewerError as wrong:
        return (Missing(FILE, str(wrong)),)
    return ()


def labels_of(result: Result, facts: SignOff, shown: tuple[ShownMesh, ...]) -> Iterator[Label]:
    """The outlets with their names, then the things around the header, nearest first, each at its smallest gap."""
    from headergen.outputs.customer.preview import Label

    zero = min(result.header.draft.ports, key=lambda port: port.number).frame.origin
    for outlet in facts.outlets:
        yield Label(f"outlet {outlet.collector}", add(zero, outlet.place), "end")
    bodies = {each.name for each in shown if each.group == "chassis"}
    gaps = (*result.survey.gaps, *result.survey.part_gaps, *result.part_gaps)
    places: dict[str, Vec] = {}
    for gap in sorted(gaps, key=lambda each: each.value):
        if gap.b in bodies and gap.b not in places:
            places[gap.b] = gap.points[1]
            yield Label(gap.b, gap.points[1], "around")


def make_report_page(folder: Path, result: Result, evidence: Evidence, seen: Seen) -> NotMade:
    """Write the report page into `folder`; tubes without a solid are shown too.

    Returns why the page could not be made, if it could not.
    """
    from headergen.outputs.report.page import FILE, Looks, write_report_page

    (shown, picture, version), header = seen, result.header
    names = {each.name for each in shown}
    bare = tuple(_tubes(header, {run.name for run in header.runs} - names))
    looks = Looks((*bare, *shown), _facing(header), picture, _is_thinned(shown, result))
    try:
        write_report_page(folder / FILE, result, version, evidence, looks)
    except ViewerError as wrong:
        return (Missing(FILE, str(wrong)),)
    return ()


def watched_page(
    result: Result, known: tuple[Evidence, Mapping[str, Any]], watched: tuple[int, tuple[str, ...]], version: str
) -> str:
    """The report page of a watched state.

    `known`: the evidence, and the meshes of the chassis; `watched`: the number of the state, and what changed in it.
    Raises ViewerError if three.js is not available.
    """
    from headergen.outputs.report.page import Looks, report_page

    evidence, meshes = known
    shown = measured_meshes(result, meshes)
    looks = Looks(shown, _facing(result.header), None, _is_thinned(shown, result), watched)
    return report_page(result, version, evidence, looks)


def _is_thinned(shown: tuple[ShownMesh, ...], result: Result) -> bool:
    return any(len(each.mesh.faces) < _triangles(each.name, result) for each in shown if each.group == "chassis")


def _triangles(item: str, result: Result) -> int:
    """The number of triangles in the file of an item; 0 for an item that is not a mesh."""
    return next((known.content.triangles for known in result.survey.meshes if known.item == item), 0)


def _facing(header: Header) -> Vec:
    return view_directions(header.draft.outward)[HOME]


def jpeg_of(picture: Path) -> bytes | None:
    """The picture in the form a page embeds; None if there is none."""
    from PIL import Image

    if not picture.exists():
        return None
    content = io.BytesIO()
    with Image.open(picture) as image:
        image.convert("RGB").save(content, "JPEG", quality=JPEG_QUALITY, optimize=True)
    return content.getvalue()
