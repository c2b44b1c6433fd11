"""sign_off.pdf: one page with what the customer signs for; sign_off.json: the same as data, which `check` compares."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from headergen.model import Header, Vec2
from headergen.model.sign_off import SignOff
from headergen.outputs.customer.facts import Fact, groups, verdict
from headergen.outputs.customer.letters import marked, replaced, write, write_to
from headergen.show.drawing import ABOVE, BEHIND, SIDE, Drawn, draw_view, drawn, fitting_scale
from headergen.show.meshes import ShownMesh
from headergen.show.paper import (
    BOLD,
    FONT,
    INK,
    MARGIN,
    MM,
    PALE,
    PAPER,
    draw_not_clear,
    register_fonts,
)
from headergen.words.say import say_length

FILE, DATA = "sign_off.pdf", "sign_off.json"
SIGNED = "signed_sign_off.json"  # of the build that the customer signed, kept from build to build
VIEWS_HIGH = 120.0
BETWEEN_VIEWS = 16.0  # room for a dimension
SIGN_HIGH = 36.0
PICTURE_HIGH = 46.0
MOST_GAPS = 8


@dataclass(frozen=True, eq=False)
class _Views:
    side: Drawn
    above: Drawn
    behind: Drawn
    scale: float


def write_sign_off_data(path: Path, facts: SignOff) -> None:
    """Write the facts as JSON. Raises OSError if it cannot be written."""
    text = json.dumps(asdict(facts), indent=2, ensure_ascii=False, sort_keys=True)
    path.write_text(text + "\n", encoding="utf-8", newline="\n")


def write_sign_off(
    path: Path, facts: SignOff, header: Header, shown: Sequence[ShownMesh], picture: bytes | None
) -> None:
    """Write the sheet; `picture` is the header's, as JPEG, if there is one. The same bytes for the same input.

    Raises ValueError if there is nothing of the header to show, OSError if the file cannot be written.
    """
    from reportlab.pdfgen.canvas import Canvas

    register_fonts()
    units = header.draft.units
    wide, high = PAPER[units]
    content = io.BytesIO()
    canvas = Canvas(content, pagesize=(wide * MM, high * MM), invariant=1, pageCompression=1)
    canvas.setTitle(f"{facts.title}, revision {facts.revision}: sign-off")
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.scale(MM, MM)  # millimetres from here on
    top = high - MARGIN
    _title(canvas, facts, (wide, top))
    views = _views(header, shown, (wide - 2 * MARGIN, VIEWS_HIGH))
    _draw_views(canvas, views, (MARGIN, top - 16 - VIEWS_HIGH), units)
    middle = top - 22 - VIEWS_HIGH
    _draw_facts(canvas, facts, units, (wide, middle), picture)
    _signature(canvas, facts, wide)
    if not facts.clear:
        draw_not_clear(canvas, (wide, high))
    canvas.showPage()
    canvas.save()
    path.write_bytes(content.getvalue())


def _title(canvas: Any, facts: SignOff, at: Vec2) -> None:
    wide, top = at
    canvas.setFillColorRGB(*INK)
    write(canvas, (MARGIN, top - 5), facts.title, 16, bold=True)
    maker = f"; made by {facts.workshop}" if facts.workshop else ""
    said = f"Exhaust header, revision {facts.revision}, {facts.date}: sign-off sheet{maker}"
    write(canvas, (MARGIN, top - 11), said, 9)
    write_to(canvas, (wide - MARGIN, top - 5), f"hash {facts.hash}", 9)
    if facts.customer:
        write_to(canvas, (wide - MARGIN, top - 11), f"for {facts.customer}", 9)


def _views(header: Header, shown: Sequence[ShownMesh], room: Vec2) -> _Views:
    """The side view, the top view above it, and the rear view to its right, aligned and at one scale."""
    side, above, behind = (drawn(header, shown, each) for each in (SIDE, ABOVE, BEHIND))
    whole = side.size[0] + behind.size[0], side.size[1] + above.size[1]
    gaps = 2 * BETWEEN_VIEWS, BETWEEN_VIEWS + 12  # and room for the dimensions below and the texts above
    return _Views(side, above, behind, fitting_scale([whole], [(room[0] - gaps[0], room[1] - gaps[1])]))


def _draw_views(canvas: Any, views: _Views, corner: Vec2, units: str) -> None:
    scale = views.scale
    left, low = corner[0] + BETWEEN_VIEWS, corner[1] + 8
    right = left + views.side.size[0] / scale + BETWEEN_VIEWS
    up = low + views.side.size[1] / scale + BETWEEN_VIEWS
    for view, at in ((views.side, (left, low)), (views.above, (left, up)), (views.behind, (right, low))):
        draw_view(canvas, view, at, scale)
        canvas.setFillColorRGB(*PALE)
        write(canvas, (at[0], at[1] + view.size[1] / scale + 1.5), f"seen {view.direction.name}", 7)
    _dimension(canvas, (left, low - 4), views.side.size[0] / scale, say_length(views.side.size[0], units))
    _dimension(canvas, (left - 4, low), views.side.size[1] / scale, say_length(views.side.size[1], units), upright=True)
    _dimension(canvas, (right, low - 4), views.behind.size[0] / scale, say_length(views.behind.size[0], units))
    canvas.setFillColorRGB(*INK)
    write(canvas, (right, up), f"Scale 1:{scale:g}", 9, bold=True)
    write(canvas, (right, up - 4), "overall dimensions", 7)


def _dimension(canvas: Any, at: Vec2, length: float, words: str, upright: bool = False) -> None:
    canvas.saveState()
    canvas.translate(*at)
    if upright:
        canvas.rotate(90)
    canvas.setStrokeColorRGB(*INK)
    canvas.setFillColorRGB(*INK)
    canvas.setLineWidth(0.15)
    canvas.line(0, 0, length, 0)
    for end in (0.0, length):
        canvas.line(end, -1.2, end, 1.2)
    canvas.setFont(FONT, 8 / MM)
    if upright:
        canvas.drawCentredString(length / 2, 1.2, words)
    else:
        canvas.drawCentredString(length / 2, -3.6, words)
    canvas.restoreState()


def _draw_facts(canvas: Any, facts: SignOff, units: str, at: Vec2, picture: bytes | None) -> None:
    """Two columns: what it is and where it ends; then the picture and the smallest gaps."""
    from reportlab.lib.utils import ImageReader

    wide, top = at
    column, low = (wide - 2 * MARGIN - 6) / 2, MARGIN + SIGN_HIGH
    found = groups(facts, MOST_GAPS)
    split = sum(1 for group in found if group.title in LEFT)
    _column(canvas, [*_rows(found[:split], units)], (MARGIN, low, column, top - low))
    right, under = MARGIN + column + 6, top
    if picture is not None:
        image = ImageReader(io.BytesIO(picture))
        width, height = image.getSize()
        high = min(PICTURE_HIGH, column * height / width)
        canvas.drawImage(image, right, top - high, width=high * width / height, height=high)
        under = top - high - 3
    _column(canvas, [("", verdict(facts)), *_rows(found[split:], units)], (right, low, column, under - low))


LEFT = ("The header", "Where it ends", "Lengths of the tubes")


def _rows(found: Sequence[Any], units: str) -> Iterator[tuple[str, str]]:
    for group in found:
        yield group.title, ""
        facts: Sequence[Fact] = group.facts
        yield from ((fact.label, fact.said(units)) for fact in facts)


def _column(canvas: Any, rows: Sequence[tuple[str, str]], box: tuple[float, float, float, float]) -> None:
    """Rows of label and text in a box, with letters as large as fit, at most 8 points."""
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Frame, KeepInFrame, Paragraph

    left, low, wide, high = box
    plain = ParagraphStyle(
        "plain", fontName=FONT, fontSize=7.6 / MM, leading=9.8 / MM, leftIndent=3, firstLineIndent=-3
    )
    head = ParagraphStyle("head", fontName=BOLD, fontSize=8 / MM, leading=11 / MM, spaceBefore=1)
    flow = []
    for label, words in rows:
        if not words:
            flow.append(Paragraph(marked(label, bold=True), head))
        else:
            said = f"{marked(label, bold=True)}: {marked(words)}" if label else marked(words)
            flow.append(Paragraph(said, plain))
    frame = Frame(left, low, wide, high, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0)
    frame.addFromList([KeepInFrame(wide, high, flow, mode="shrink")], canvas)


def _signature(canvas: Any, facts: SignOff, wide: float) -> None:
    canvas.setFillColorRGB(*INK)
    canvas.setStrokeColorRGB(*INK)
    said = (
        "I agree to this header as drawn and described on this sheet, with what is and is not included. Gaps and",
        "weight are computed from the drawing, cold and standing still. Fuel and brake lines, wiring and bodywork",
        "near a hot exhaust need the room, shields and routing that the local rules ask for.",
    )
    for k, line in enumerate(said):
        write(canvas, (MARGIN, MARGIN + SIGN_HIGH - 6 - 3.4 * k), line, 7.2)
    canvas.setLineWidth(0.25)
    third = (wide - 2 * MARGIN - 12) / 3
    for k, name in enumerate(("Name", "Date", "Signature")):
        left = MARGIN + k * (third + 6)
        canvas.line(left, MARGIN + 8, left + third, MARGIN + 8)
        write(canvas, (left, MARGIN + 4), name, 8)
    said_last = f"{facts.title}, revision {facts.revision}, hash {facts.hash}; page 1 of 1"
    write(canvas, (MARGIN, MARGIN - 3), said_last, 7)
    missing = replaced("".join(each for each in asdict(facts).values() if isinstance(each, str)))
    if missing:
        codes = ", ".join(f"U+{ord(letter):04X}" for letter in missing)
        write(canvas, (MARGIN, MARGIN - 6.5), f"No font on this machine has {codes}; question marks stand for them.", 7)
