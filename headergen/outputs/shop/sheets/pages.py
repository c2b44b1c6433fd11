"""The pages of the sheets in reportlab: heads and feet, tables, drawings, and tiles of large drawings."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from headergen.model import Vec2
from headergen.model.sign_off import SignOff
from headergen.outputs.shop.sheets.full_size import FOOT, HEAD, LEFT, LOW, FullSize, full_size_room
from headergen.show.paper import BOLD, FONT, INK, MARGIN, MM, PALE, PAPER, draw_not_clear, escaped

TEXT, SET = 11.0, 16.0  # points: of text, and of a number to be set on a tool
LEADING, FIGURE_LEADING = 1.28, 1.04  # from line to line, of its size: of text, and of figures in one line
FOOT_LINES, FOOT_STEP, NUMBER_ROOM = 2, 4.7, 38.0  # lines and mm: of the text at the foot, beside the page's number
SIZES = re.compile(r" (?=(?:or|then|growing) )")  # where the text at the foot may be parted
HASH_APART = 4.0  # mm between the job and the hash at the head
BAR = 100.0  # mm
TILE_HEAD = 12.0  # mm, of title and number of a part
EDGE_LETTER = 3.0  # mm that a letter at the edge of a drawing stands out
LEFT_FREE = "Left free, so that each tube is one sheet of paper if both sides are printed."


@dataclass(frozen=True)
class PrintJob:
    """The common data of all pages: the facts of the job, its units, and the printed size of 100 mm across and up."""

    facts: SignOff
    units: str
    print_scale: tuple[float, float] = (BAR, BAR)

    @property
    def size(self) -> tuple[float, float]:
        return PAPER[self.units]


def paragraph(text: str, points: float = TEXT, bold: bool = False, leads: bool = False) -> Any:
    """A paragraph; `leads`: kept on one page with what follows."""
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph

    face, name = BOLD if bold else FONT, f"{bold}{points}{leads}"
    style = ParagraphStyle(name, fontName=face, fontSize=points, leading=LEADING * points, keepWithNext=int(leads))
    return Paragraph(escaped(text), style)


def leading(text: str) -> Any:
    """A paragraph on one page with the table that it explains, with some space above."""
    said = paragraph(text, leads=True)
    said.style.spaceBefore, said.style.spaceAfter = 4, 3
    return said


def heading(text: str) -> Any:
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph

    style = ParagraphStyle(
        "heading", fontName=BOLD, fontSize=14, leading=18, spaceBefore=6, spaceAfter=2, keepWithNext=1
    )
    return Paragraph(escaped(text), style)


def with_head(parts: Sequence[Any]) -> Any:
    """Parts that stay on one page, if it has room for all of them."""
    from reportlab.platypus import KeepTogether

    return KeepTogether(list(parts))


def page_break() -> Any:
    """What follows begins on a new page."""
    from reportlab.platypus import PageBreak

    return PageBreak()


def to_front() -> Any:
    """What follows begins in front of a sheet that is printed on both sides: on a page with an odd number."""
    from reportlab.platypus import ActionFlowable

    class ToFront(ActionFlowable):  # type: ignore[misc]
        def apply(self, doc: Any) -> None:
            if doc.page % 2 == 0:
                canvas, (_, high) = doc.canv, doc.pagesize
                canvas.run = ""
                canvas.setFont(FONT, TEXT)
                canvas.setFillColorRGB(*INK)
                canvas.drawString(MARGIN * MM, high - (MARGIN + HEAD + TEXT) * MM, LEFT_FREE)
                doc.handle_pageBreak()

    return ToFront()


def room_of(paper: Vec2) -> Vec2:
    """The room between head and foot of a page, mm."""
    return paper[0] - 2 * MARGIN, paper[1] - 2 * MARGIN - HEAD - FOOT


def height_of(parts: Sequence[Any], paper: Vec2) -> float:
    """How high parts are one below the other, mm; no less than what a page needs for them."""
    from reportlab.platypus import KeepTogether

    wide, total = room_of(paper)[0] * MM, 0.0
    for part in parts:
        if isinstance(part, KeepTogether):
            total += height_of(part._content, paper) * MM
        else:
            total += part.getSpaceBefore() + part.wrap(wide, 1e6)[1] + part.getSpaceAfter()
    return total / MM


def signed(radians: float) -> str:
    """An angle to be set, with its sign."""
    return f"{round(math.degrees(radians), 1) + 0.0:+.1f}°"


CELL = 3.0  # points, beside the text of a cell


def _widths(rows: Sequence[Sequence[str]], widths: Sequence[float], sizes: Sequence[float]) -> list[float]:
    """The widths (mm) with room for the longest number to be set in each column, taken from the widest of text."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    def longest(k: int) -> float:
        words = (word for row in rows[1:] for word in row[k].split())
        return max((stringWidth(word, BOLD, sizes[k]) + 2 * CELL + 1.0 for word in words), default=0.0) / MM

    wide = [max(width, longest(k)) if sizes[k] > TEXT else width for k, width in enumerate(widths)]
    words = [k for k, size in enumerate(sizes) if size <= TEXT]
    if words:
        wide[max(words, key=lambda k: widths[k])] -= sum(wide) - sum(widths)
    return wide


def grid(rows: Sequence[Sequence[str]], widths: Sequence[float], sizes: Sequence[float] = ()) -> Any:
    """A ruled table, its first row the head; `widths` in mm, `sizes` the points of each column."""
    from reportlab.platypus import Table, TableStyle

    sizes = sizes or [TEXT] * len(widths)
    cells = [
        [
            _figure(text, size) if k and size > TEXT else paragraph(text, bold=k == 0)
            for text, size in zip(row, sizes, strict=True)
        ]
        for k, row in enumerate(rows)
    ]
    style = TableStyle(
        [
            ("GRID", (0, 0), (-1, -1), 0.5, PALE),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("TOPPADDING", (0, 0), (-1, -1), 0),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.9),
            ("LEFTPADDING", (0, 0), (-1, -1), CELL),
            ("RIGHTPADDING", (0, 0), (-1, -1), CELL),
        ]
    )
    wide = [width * MM for width in _widths(rows, widths, sizes)]
    return Table(cells, colWidths=wide, repeatRows=1, style=style, hAlign="LEFT")


def _figure(text: str, points: float) -> Any:
    """A number to be set, in one line."""
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph

    style = ParagraphStyle(f"figure{points}", fontName=BOLD, fontSize=points, leading=FIGURE_LEADING * points)
    return Paragraph(escaped(text), style)


def drawing(size: tuple[float, float], draw: Callable[[Any], None]) -> Any:
    """A drawing of a size in mm, in one piece on a page; `draw` works in mm from its lower left corner."""
    from reportlab.platypus import Flowable

    class Drawing(Flowable):  # type: ignore[misc]  # reportlab asks for a class
        def wrap(self, *_: float) -> tuple[float, float]:
            return size[0] * MM, size[1] * MM

        def draw(self) -> None:
            self.canv.saveState()
            self.canv.scale(MM, MM)
            draw(self.canv)
            self.canv.restoreState()

    return Drawing()


def says_tube(size: str, run: str = "") -> Any:
    """From here on, pages say at their head which run they are of, and at their foot the size of its tube."""

    def set_it(canvas: Any) -> None:
        canvas.tube, canvas.run = size, run

    return drawing((0.0, 0.0), set_it)


def full_size(figures: Sequence[FullSize], job: PrintJob, how: str) -> Iterator[Any]:
    """Pages with 1:1 drawings, each with its bars; a drawing larger than a page is continued on others."""
    from reportlab.platypus import PageBreak

    room = full_size_room(job.size)
    at, placed = 0.0, list[tuple[FullSize, float]]()
    for figure in figures:
        if figure.size[0] > room[0] or figure.size[1] > room[1] - 10:
            if placed:
                yield from (_bars(placed, job, how), PageBreak())
            at, placed = 0.0, []
            yield from _tiles(figure, job, how)
            continue
        if at + figure.size[1] + 10 > room[1]:
            yield from (_bars(placed, job, how), PageBreak())
            at, placed = 0.0, []
        placed.append((figure, at))
        at += figure.size[1] + 10
    if placed:
        yield from (_bars(placed, job, how), PageBreak())


def _bars(placed: Sequence[tuple[FullSize, float]], job: PrintJob, how: str) -> Any:
    room = full_size_room(job.size)

    def draw(canvas: Any) -> None:
        _draw_bars(canvas, job, how)
        for figure, at in placed:
            canvas.saveState()
            canvas.translate(LEFT, LOW + room[1] - at - 7)
            canvas.setFillColorRGB(*INK)
            canvas.setFont(BOLD, TEXT / MM)
            canvas.drawString(0, 2, figure.title)
            canvas.translate(0, -figure.size[1] * BAR / job.print_scale[1])  # enlarged, it ends below its title too
            _to_scale(canvas, job)
            figure.draw(canvas)
            canvas.restoreState()

    return drawing((room[0] + LEFT, room[1] + LOW), draw)


def _tile_room(job: PrintJob) -> Vec2:
    """The part of a large drawing on one page; its title and which part it is stand above."""
    wide, high = full_size_room(job.size)
    return wide, high - TILE_HEAD


def _tiles(figure: FullSize, job: PrintJob, how: str) -> Iterator[Any]:
    """The drawing in parts with register marks where they meet."""
    from reportlab.platypus import PageBreak

    wide, high = _tile_room(job)
    across, up = math.ceil(figure.size[0] / wide), math.ceil(figure.size[1] / high)
    for row in range(up):
        for column in range(across):
            yield drawing(
                (wide + LEFT, high + TILE_HEAD + LOW),
                _tile(figure, job, how, (column, row), (across, up)),
            )
            yield PageBreak()


def _tile(
    figure: FullSize, job: PrintJob, how: str, place: tuple[int, int], of: tuple[int, int]
) -> Callable[[Any], None]:
    wide, high = _tile_room(job)
    column, row = place

    def draw(canvas: Any) -> None:
        _draw_bars(canvas, job, how)
        canvas.setFont(BOLD, TEXT / MM)
        part = f"part {column + 1} of {of[0]} across, {row + 1} of {of[1]} up"
        canvas.drawString(LEFT + 7, LOW + high + 9.5, figure.title)
        canvas.drawString(LEFT + 7, LOW + high + 5, part)
        canvas.saveState()
        canvas.translate(LEFT, LOW)
        _to_scale(canvas, job)
        for x in (0.0, wide):
            for y in (0.0, high):
                _register(canvas, (x, y))
        path = canvas.beginPath()
        first, last = (EDGE_LETTER if at else 0.0 for at in (column == 0, column == of[0] - 1))
        path.rect(-first, 0, first + wide + last, high)
        canvas.clipPath(path, stroke=0)
        canvas.translate(-column * wide, -row * high)
        figure.draw(canvas)
        canvas.restoreState()

    return draw


def _register(canvas: Any, at: tuple[float, float]) -> None:
    x, y = at
    canvas.setLineWidth(0.2)
    canvas.circle(x, y, 2.5)
    canvas.line(x - 4, y, x + 4, y)
    canvas.line(x, y - 4, x, y + 4)


def _to_scale(canvas: Any, job: PrintJob) -> None:
    """Enlarges what the printer shrinks."""
    canvas.scale(*(BAR / measured for measured in job.print_scale))


def _draw_bars(canvas: Any, job: PrintJob, how: str) -> None:
    """A bar of 100 mm across and one upward, by which the reader checks the print."""
    canvas.setFillColorRGB(*INK)
    canvas.setStrokeColorRGB(*INK)
    canvas.setFont(FONT, TEXT / MM)
    canvas.drawString(0, 11, how)
    canvas.drawString(0, 6, "Both bars must measure 100.0 mm. If they do not, write in the spec what they measure,")
    canvas.drawString(0, 1, "as in shop: {print_scale: {x: 99.4, y: 99.6}}, and build again.")
    canvas.saveState()
    canvas.translate(LEFT, 17)
    _to_scale(canvas, job)
    canvas.setLineWidth(0.4)
    canvas.line(0, 0, BAR, 0)
    for end in (0.0, BAR):
        canvas.line(end, -1, end, 1)
    canvas.restoreState()
    canvas.saveState()
    canvas.translate(3, 24)
    _to_scale(canvas, job)
    canvas.setLineWidth(0.4)
    canvas.line(0, 0, 0, BAR)
    for end in (0.0, BAR):
        canvas.line(-1, end, 1, end)
    canvas.restoreState()


def made(story: Callable[[], Sequence[Any]], job: PrintJob) -> bytes:
    """The document."""
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    wide, high = job.size
    content, room = io.BytesIO(), room_of(job.size)
    frame = Frame(MARGIN * MM, (MARGIN + FOOT) * MM, room[0] * MM, room[1] * MM, 0, 0, 0, 0)
    document = BaseDocTemplate(
        content,
        pagesize=(wide * MM, high * MM),
        invariant=1,
        title=f"{job.facts.title}, revision {job.facts.revision}: shop sheets",
        pageTemplates=[PageTemplate(id="page", frames=[frame])],
    )
    document.build(list(story()), canvasmaker=_numbering(job))
    return content.getvalue()


def _numbering(job: PrintJob) -> Callable[..., Any]:
    """A canvas whose pages get head and foot at the end, when the number of pages is known."""
    from reportlab.pdfgen.canvas import Canvas

    class NumberedCanvas(Canvas):  # type: ignore[misc]
        def __init__(self, *given: Any, **named: Any) -> None:
            super().__init__(*given, **named)
            self.laid_out: list[dict[str, Any]] = []
            self.tube, self.run = job.facts.tube, ""

        def showPage(self) -> None:
            self.laid_out.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            before = ""
            for number, page in enumerate(self.laid_out, 1):
                self.__dict__.update(page)
                which = f"{self.run}, continued" if self.run and self.run == before else self.run
                before = self.run
                _head_and_foot(self, job, (number, len(self.laid_out)), which)
                super().showPage()
            super().save()

    return NumberedCanvas


def _head_and_foot(canvas: Any, job: PrintJob, place: tuple[int, int], run: str) -> None:
    """`place`: the page's number, and how many there are; `run`: what it is of, if not of all."""
    facts, (wide, high) = job.facts, job.size
    canvas.saveState()
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.scale(MM, MM)
    canvas.setFillColorRGB(*INK)
    canvas.setFont(FONT, TEXT / MM)
    hashed = f"hash {facts.hash}"
    canvas.drawRightString(wide - MARGIN, high - MARGIN - 4, hashed)
    room = wide - 2 * MARGIN - canvas.stringWidth(hashed, FONT, TEXT / MM) - HASH_APART
    which = f": {run}" if run else ""
    canvas.setFont(BOLD, TEXT / MM)
    said = _shortened(canvas, facts.title, f", revision {facts.revision}, {facts.date}{which}", room)
    canvas.drawString(MARGIN, high - MARGIN - 4, said)
    canvas.setFont(FONT, TEXT / MM)
    canvas.setLineWidth(0.3)
    canvas.line(MARGIN, high - MARGIN - 7, wide - MARGIN, high - MARGIN - 7)
    _foot(canvas, f"Lengths in {'inches' if job.units == 'in' else 'millimetres'}; tube {canvas.tube}", wide)
    canvas.drawRightString(wide - MARGIN, MARGIN, f"page {place[0]} of {place[1]}")
    if not facts.clear:
        draw_not_clear(canvas, job.size)
    canvas.restoreState()


def _shortened(canvas: Any, title: str, rest: str, room: float) -> str:
    """The title with the rest behind it; of a title too long for that, as much as fits."""
    kept = title
    while kept and canvas.stringWidth(f"{kept}…{rest}", BOLD, TEXT / MM) > room:
        kept = kept[:-1].rstrip()
    fits = kept == title or canvas.stringWidth(title + rest, BOLD, TEXT / MM) <= room
    return title + rest if fits else f"{kept}…{rest}"


def _foot(canvas: Any, said: str, wide: float) -> None:
    """The text left of the page's number, in two lines where it is long; of what is longer still, as much as fits."""
    from reportlab.lib.utils import simpleSplit

    room = wide - 2 * MARGIN - NUMBER_ROOM
    first, *rest = SIZES.split(said)
    lines = [first]
    for part in rest:  # a size of tube stays in one line where it can
        more = f"{lines[-1]} {part}"
        lines[-1:] = [more] if canvas.stringWidth(more, FONT, TEXT / MM) <= room else [lines[-1], part]
    lines = [piece for line in lines for piece in simpleSplit(line, FONT, TEXT / MM, room)]
    if len(lines) > FOOT_LINES:
        lines = [*lines[: FOOT_LINES - 1], f"{lines[FOOT_LINES - 1]} …"]
    for k, line in enumerate(lines, 1):
        canvas.drawString(MARGIN, MARGIN + (len(lines) - k) * FOOT_STEP, line)
