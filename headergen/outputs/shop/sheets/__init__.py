"""sheets.pdf: the bench on paper, in the order of work; 1:1 drawings have bars to check the print."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from headergen.model import Header, Shop
from headergen.model.sign_off import SignOff
from headergen.outputs.shop.by_hand import comes_of_closing, said_of_chances
from headergen.outputs.shop.cautions import CAUTIONS, NOT_CLEAR, left_on
from headergen.outputs.shop.offers import said_of_offers
from headergen.outputs.shop.order import order_list
from headergen.outputs.shop.order_line import OrderLine
from headergen.outputs.shop.order_welds import filler_lines
from headergen.outputs.shop.sheets.holes import hole_wrapped
from headergen.outputs.shop.sheets.layflat import bends_to_cut
from headergen.outputs.shop.sheets.nesting import nesting
from headergen.outputs.shop.sheets.offered import WRAP_OFFER, offered_templates
from headergen.outputs.shop.sheets.pages import (
    PrintJob,
    drawing,
    full_size,
    grid,
    heading,
    leading,
    made,
    paragraph,
    says_tube,
    with_head,
)
from headergen.outputs.shop.sheets.tapes import tape
from headergen.outputs.shop.sheets.templates import wrapped
from headergen.outputs.shop.sheets.tube import sizes_of, tube_pages
from headergen.outputs.shop.steps import start_of
from headergen.outputs.shop.tables import steps_table
from headergen.show.meshes import ShownMesh
from headergen.words.say import capital

FILE = "sheets.pdf"
PICTURE = 84.0  # mm, its width on the cover: what to buy stands below it
STEP_COLUMNS = (14, 20, 20, 24, 20, 18, 22, 22, 22)  # mm
# how a full-size drawing is used, each on one line of the page
LAY_BEND = "Lay the bend on its drawing. Solid: net line; dashed: where the saw goes."
WRAP_TAPE = "Cut out; figures toward the tube's start, 30 mm or more from the joint. The ends meet."
WRAP_CUT = "Cut out along the curve, keep the tube under it. Base line: from where the title says."
WRAP_HOLE = "Cut out the frame, wrap it, both ends together. Solid: the hole. Dashed: the tube on it."
SAW_TO_THE_LEAN = (
    "Saw the start of each tube whose page says so to the lean, by its template, before the next piece is on."
)


def ready_for_sheets() -> None:
    """Load what writing takes, before the picture is there."""
    import reportlab.lib.utils
    import reportlab.platypus  # noqa: F401

    from headergen.show.paper import register_fonts

    register_fonts()


def write_sheets(
    path: Path, header: Header, shop: Shop, facts: SignOff, shown: Sequence[ShownMesh], picture: bytes | None
) -> None:
    """Write the sheets; `shown` are the meshes of the header, `picture` is its picture as JPEG if there is one.

    The same bytes for the same input. Raises OSError if the file cannot be written.
    """
    ready_for_sheets()
    draft = header.draft
    job = PrintJob(facts, draft.units, draft.shop.print_scale)
    meshes = {each.name: each for each in shown}

    def story() -> list[Any]:
        from reportlab.platypus import PageBreak

        pages: list[Any] = [
            says_tube(sizes_of(header)),
            *_cover(header, shop, facts, picture),
            PageBreak(),
            *_work(shop, left_on(draft.shop, draft.units)),
            *_welds(header, shop),
            *_chances(header, shop),
            PageBreak(),
        ]
        stock = list(nesting(shop, draft.stock, draft.tube.radius, draft.units))
        pages += [*stock, PageBreak()] if stock else []
        for run in header.runs:
            if run.name in meshes:
                pages += [*tube_pages(header, shop, run, meshes[run.name], job.size), PageBreak()]
                pages += full_size(list(offered_templates(header, shop, run)), job, WRAP_OFFER)
        pages += [says_tube(sizes_of(header))]
        flat = list(bends_to_cut(shop, draft.stock, draft.tube.radius, draft.units))
        pages += full_size(flat, job, LAY_BEND)
        radii = {run.name: run.tube.radius for run in header.runs}
        starts = {run.name: start_of(run) for run in header.runs}
        tapes = [
            tape(mark, radii[mark.run], starts[mark.run]) for mark in shop.turns if not comes_of_closing(mark, shop)
        ]
        pages += full_size(tapes, job, WRAP_TAPE)
        templates = [wrapped(each, draft.units) for each in shop.templates]
        pages += full_size(templates, job, WRAP_CUT)
        pages += full_size([hole_wrapped(each, draft.units) for each in shop.holes], job, WRAP_HOLE)
        return [*pages, *_steps(header)]

    path.write_bytes(made(story, job))


def _cover(header: Header, shop: Shop, facts: SignOff, picture: bytes | None) -> Iterator[Any]:
    from reportlab.lib.utils import ImageReader

    yield paragraph(f"{facts.title}: shop sheets", 20, bold=True)
    clear = "Clear of what was checked." if facts.clear else NOT_CLEAR
    yield paragraph(clear, 14, bold=True)
    if picture is not None:
        image = ImageReader(io.BytesIO(picture))
        wide, high = image.getSize()
        size = (PICTURE, PICTURE * high / wide)
        yield drawing(size, lambda canvas: canvas.drawImage(image, 0, 0, *size))
    figures = shop.plan.figures
    yield paragraph(
        f"{len(shop.plan.pieces)} pieces, {figures.joints} joints, {figures.arc_cuts} ends cut inside an arc, "
        f"{figures.unclampable} piece{'' if figures.unclampable == 1 else 's'} to be cut lying flat."
    )
    yield heading("What to buy")
    rows = [("what", "size", "needed", "to order")]
    rows += [(o.what, o.size, str(o.needed), _counted(o)) for o in _on_the_cover(header, shop)]
    yield grid(rows, (54, 75, 19, 32))
    yield from (paragraph(capital(note)) for note in shop.notes)
    yield from (paragraph(said) for said in said_of_offers(shop, header.draft.units))


def _chances(header: Header, shop: Shop) -> Iterator[Any]:
    """How often each tube closes, and what to do about those that close too rarely."""
    said = {run.name: list(said_of_chances(header, shop, run.name)) for run in header.runs}
    if not any(said.values()):
        return
    yield heading("How often each tube closes")
    for run, sentences in said.items():
        if sentences:
            yield leading(f"{capital(run)}. {' '.join(sentences)}")


def _steps(header: Header) -> Iterator[Any]:
    """LRA and XYZ of every tube, as they are in the spec or were found."""
    table = steps_table(header)
    for k, run in enumerate(header.runs):
        rows = [row[1:] for row in table.rows if row[0] == run.name]
        title = paragraph("Steps of every tube: LRA and XYZ", 18, bold=True)
        head = heading(f"Steps of {run.name}")
        yield with_head([*([] if k else [title]), head, grid([table.heads[1:], *rows], STEP_COLUMNS)])


def _on_the_cover(header: Header, shop: Shop) -> Iterator[OrderLine]:
    """The order with all filler in one line."""
    filler = list(filler_lines(header, shop))
    total = sum(line.quantity for line in filler)
    for line in order_list(header, shop):
        if line not in filler:
            yield line
        elif line == filler[0]:
            yield replace(line, what="filler rod", needed=sum(each.needed for each in filler), quantity=total)


def _welds(header: Header, shop: Shop) -> Iterator[Any]:
    """What the filler on the cover is for."""
    rows = [("filler rod for", "how many", "length")]
    for line in filler_lines(header, shop):
        rows.append((line.what.removeprefix("filler rod for "), str(line.needed), f"{line.quantity:g} {line.unit}"))
    yield heading("Welds")
    yield grid(rows, (108, 28, 44))


def _counted(line: OrderLine) -> str:
    if not line.quantity:
        return "none"
    return f"{line.quantity:g} {'piece' if (line.quantity, line.unit) == (1, 'pieces') else line.unit}"


def _work(shop: Shop, what_is_left_on: str) -> Iterator[Any]:
    yield heading("Order of work")
    settings = (
        "Measure every bend as it comes in against its lay-flat drawing: CLR, angle, legs, oval.",
        "Saw item by item, in the order below; a leg is the handle, so the last cut is the one at the leg.",
        what_is_left_on,
        "Dress each face square. Lay each bend flat and scribe the middle of its outside, half the tube's height above "
        "the table; carry the line straight on along legs and straights.",
        "Wrap each tape 30 mm beside its joint or farther, since 25 mm is cleaned bright, with A on the line of the "
        "bend before, and scribe B on that tube: the line of the next bend goes there.",
        *([SAW_TO_THE_LEAN] if shop.lean_cuts else []),
        "Plates first: bolt the flange down, and hold each collector in plates where it belongs.",
        "Build each tube from both ends toward the joint that its page names, piece by piece; after each, lay the bend "
        "that is named flat and measure the heights. No tube is welded from flange to collector with nothing measured.",
        "Close each tube at that joint, then tack its end piece in the sleeve.",
        "Trim the ends at the collector in one plane, with all tubes in place; weld after that, purged.",
    )
    yield from (paragraph(f"{k}. {said}") for k, said in enumerate(settings, 1))
    yield heading("Take care")
    yield from (paragraph(said) for said in CAUTIONS)
    rows = [("item", "pieces, in the order of cutting")]
    for item in shop.plan.items:
        pieces = ", then ".join(f"{run}, piece {piece}" for run, piece in item.pieces)
        rows.append((f"{item.number} ({item.kind}{'' if item.on_hand else ', to buy'})", pieces))
    if shop.plan.items:
        yield heading("Items and what is cut from them")
        yield grid(rows, (46, 134))
