"""The sheets for the bench, measured in the file's own coordinates; expected values are by hand."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
from pypdf.generic import ContentStream
from reportlab.pdfbase.pdfmetrics import stringWidth

from headergen.checks.sign_off import sign_off
from headergen.geometry.mesh.tube import tube_mesh
from headergen.model import CutMark, Header, MeasuredBend, Shop, StockBend, TurnMark
from headergen.outputs.shop.by_hand import comes_of_closing
from headergen.outputs.shop.sheets import LAY_BEND, WRAP_CUT, WRAP_HOLE, WRAP_TAPE, write_sheets
from headergen.outputs.shop.sheets.full_size import FULL_SIZE_WIDE, FullSize, full_size_room
from headergen.outputs.shop.sheets.layflat import BEYOND, flat_bend, saw_lines
from headergen.outputs.shop.sheets.offered import WRAP_OFFER
from headergen.outputs.shop.sheets.pages import SET, TEXT, PrintJob, full_size, grid, made, paragraph, says_tube
from headergen.outputs.shop.sheets.tapes import tape
from headergen.outputs.shop.sheets.views import arranged
from headergen.pipeline import Checked
from headergen.shop.stage import shop_of
from headergen.show.meshes import ShownMesh
from headergen.show.paper import BOLD, FONT, MM, register_fonts
from headergen.words.closing import of_hundred
from headergen.words.numbers import in_fractions
from tests.demos import checked_once, planned_once
from tests.outputs.sample_result import header as sample_header
from tests.shop.test_bending import BENDER

POINT = 25.4 / 72
SPECS = Path(__file__).parents[2] / "specs"
TIGHT = StockBend(63.5, math.pi / 2, (75.0, 150.0), None)


def lines_of(page: Any) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Both ends, in mm on the paper, of every straight line that is stroked by itself."""
    matrix, stack, start, found = np.eye(3), [], None, []
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        values = [float(each) for each in operands if isinstance(each, int | float)]
        if operator == b"q":
            stack.append(matrix)
        elif operator == b"Q":
            matrix = stack.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = values
            matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
        elif operator == b"m":
            start = np.array([*values, 1.0]) @ matrix
        elif operator == b"l" and start is not None:
            end = np.array([*values, 1.0]) @ matrix
            found.append((tuple(start[:2] * POINT), tuple(end[:2] * POINT)))
    return found


def letters_of(page: Any) -> list[float]:
    """Sizes of letters in points, as they come out on the paper."""
    scale, size, stack, found = 1.0, 0.0, [], []
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        if operator == b"q":
            stack.append(scale)
        elif operator == b"Q":
            scale = stack.pop()
        elif operator == b"cm":
            a, b, c, d = (float(each) for each in operands[:4])
            scale *= math.sqrt(abs(a * d - b * c))
        elif operator == b"Tf":
            size = float(operands[1])
        elif operator in (b"Tj", b"TJ"):
            found.append(size * scale)
    return found


def lengths_of(page: Any) -> list[float]:
    return [math.dist(start, end) for start, end in lines_of(page)]


@pytest.fixture(scope="module")
def checked() -> Checked:
    return checked_once("bogbean")


@pytest.fixture(scope="module")
def sheets(checked: Checked, tmp_path_factory: pytest.TempPathFactory) -> list[Any]:
    header = checked.result.header
    shown = [ShownMesh(run.name, "header", tube_mesh(line, 21.2, 19.7, 0.5)) for run, line in header.tubes]
    path = tmp_path_factory.mktemp("sheets") / "sheets.pdf"
    write_sheets(path, header, planned_once("bogbean"), sign_off(checked.result, "bcdfghjkmnpq"), shown, None)
    return list(pypdf.PdfReader(path).pages)


def sheet(checked: Checked, scale: tuple[float, float] = (100.0, 100.0)) -> PrintJob:
    register_fonts()
    return PrintJob(sign_off(checked.result, "bcdfghjkmnpq"), "mm", scale)


def pages_of(figures: list[Any], on: PrintJob, folder: Path) -> list[Any]:
    path = folder / "figures.pdf"
    path.write_bytes(made(lambda: list(full_size(figures, on, "How")), on))
    return list(pypdf.PdfReader(path).pages)


def test_every_page_says_the_job_and_its_place(sheets: list[Any]) -> None:
    for number, page in enumerate(sheets, 1):
        text = " ".join(page.extract_text().split())
        for word in ("Bogbean, revision A, 2026-03-14", "hash bcdfghjkmnpq", f"page {number} of {len(sheets)}"):
            assert word in text
        assert "Lengths in millimetres" in text
        assert min(letters_of(page)) >= 10.99, "11 points at least"


@pytest.mark.slow
def test_every_page_of_a_tube_says_which(sheets: list[Any], checked: Checked) -> None:
    """Front and back of one sheet of paper, the back as a continuation; pages for all tubes name none."""
    heads = [page.extract_text().split("2026-03-14", 1)[1].splitlines()[0] for page in sheets]
    firsts = [k for k, page in enumerate(sheets) if "Centreline length" in page.extract_text()]
    named = [heads[k] for k in firsts]
    assert named == [f": {run.name}" for run in checked.result.header.runs]
    for first, name in zip(firsts, named, strict=True):
        assert first % 2 == 0 and heads[first + 1] == f"{name}, continued"
    assert sum(map(bool, heads)) == 2 * len(named)
    assert "Lay the bend" in sheets[firsts[-1] + 2].extract_text()


def test_a_long_title_keeps_clear_of_the_hash(checked: Checked, tmp_path: Path) -> None:
    on = sheet(checked)
    long = replace(on, facts=replace(on.facts, title="The long way round from the port to the silencer and back " * 2))
    path = tmp_path / "long.pdf"
    path.write_bytes(made(lambda: [says_tube("42.4 mm", "primary 4"), paragraph("Said.")], long))
    text = pypdf.PdfReader(path).pages[0].extract_text()
    [head] = [line for line in text.splitlines() if "The long way" in line]
    job, _ = head.split("hash") if "hash" in head else (head, "")
    assert job.strip().endswith("…, revision A, 2026-03-14: primary 4")
    room = on.size[0] - 2 * 14.0 - stringWidth("hash bcdfghjkmnpq", FONT, 11) * POINT
    assert room - 10 < stringWidth(job.strip(), BOLD, 11) * POINT < room


@pytest.mark.parametrize(
    ("sizes", "scale", "block"),
    [
        # side by side 300 / 146 or 500 / 135; stacked 150 / 166 or 1000 / 115
        ([(150.0, 500.0), (150.0, 500.0)], 4, (180.0, 145.0)),
        # side by side 960 / 146; stacked 480 / 166 or 500 / 115
        ([(480.0, 300.0), (480.0, 200.0)], 5, (180.0, 140.0)),
    ],
)
def test_two_views_fill_their_room(sizes: list[Any], scale: float, block: tuple[float, float]) -> None:
    """Of 155 mm, 6 are for a caption below a view, and 7 on each side of it for numbers beside the tube."""
    found, places, size = arranged(sizes, 155.0)
    assert found == scale and size == pytest.approx(block)
    drawn = [
        (x, y, x + wide / found + 14.0, y + high / found + 20.0)
        for (x, y), (wide, high) in zip(places, sizes, strict=True)
    ]
    assert all(left >= 0 and low >= 0 and right <= 180 and up <= 155.001 for left, low, right, up in drawn)
    one, other = drawn
    assert one[2] < other[0] or one[1] >= other[3] - 1e-9, "they do not overlap"


@pytest.mark.parametrize("most", [30.0, 38.0, 39.5, 41.0, 60.0])
def test_two_views_keep_to_the_room_that_is_left(most: float) -> None:
    """Where there is no height for one above the other, they stand side by side."""
    _, _, size = arranged([(480.0, 300.0), (480.0, 200.0)], most)
    assert size[1] <= most + 1e-9


@pytest.mark.slow
def test_each_tube_has_its_figures(sheets: list[Any], checked: Checked) -> None:
    """The saw line of every piece and every turn stands on the pages of its tube."""
    text = " ".join(" ".join(page.extract_text().split()) for page in sheets)
    shop = planned_once("bogbean")
    for mark in shop.cuts:
        assert f"{mark.outside:.1f}" in text
    for turn in shop.turns:
        if comes_of_closing(turn, shop):
            continue
        assert f"{abs(math.degrees(turn.angle)):.1f}°" in text and f"{turn.arc:.1f}" in text
    for height in shop.heights:
        assert f"{height.offset:.1f}" in text
    assert shop.by_hand is not None
    for run in shop.by_hand.runs:
        assert run.closing is not None and f"Close at joint {run.closing.joint}, between" in text
        assert f"Of 100 such tubes {of_hundred(run.closing.closes)} close" in text


def test_bars_are_a_hundred_millimetres(checked: Checked, tmp_path: Path) -> None:
    [page] = pages_of([flat_bend(1, TIGHT, 21.2, ())], sheet(checked), tmp_path)
    bars = [ends for ends in lines_of(page) if math.dist(*ends) == pytest.approx(100.0, abs=0.01)]
    assert any(start[1] == pytest.approx(end[1]) for start, end in bars), "across"
    assert any(start[0] == pytest.approx(end[0]) for start, end in bars), "up"


def test_a_printer_that_shrinks_is_met(checked: Checked, tmp_path: Path) -> None:
    """A bar that came out as 99.4 is drawn 100 / 99.4 as long, and so is what it measures."""
    [page] = pages_of([flat_bend(1, TIGHT, 21.2, ())], sheet(checked, (99.4, 99.6)), tmp_path)
    found = lengths_of(page)
    for measured in (99.4, 99.6):
        assert any(length == pytest.approx(100.0 * 100.0 / measured, abs=0.01) for length in found)


def cut(piece: int, end: str, angle: float, **more: Any) -> CutMark:
    values = {"measured_from": "first leg", "middle": 75.0 + 63.5 * angle, "chords": (1.0, 1.0), **more}
    return CutMark("primary 1", piece, end, 1, outside=0.0, inside=0.0, angle=angle, **values)  # type: ignore[arg-type]


def test_a_line_in_a_bend_goes_through_its_centre_and_past_both_sides(checked: Checked, tmp_path: Path) -> None:
    mark = cut(1, "end", math.radians(46.0))
    [page] = pages_of([flat_bend(1, TIGHT, 21.2, [mark])], sheet(checked), tmp_path)
    found = lines_of(page)
    centre = next(  # the middle of the cross, two lines of 8 mm
        tuple(np.mean(ends, axis=0)) for ends in found if math.dist(*ends) == pytest.approx(8.0, abs=0.01)
    )
    wanted = 63.5 - 21.2 - BEYOND, 63.5 + 21.2 + BEYOND
    radial = [sorted(math.dist(centre, end) for end in ends) for ends in found]
    assert any(reach == pytest.approx(wanted, abs=0.01) for reach in radial)
    [line] = [ends for ends, reach in zip(found, radial, strict=True) if reach == pytest.approx(wanted, abs=0.01)]
    far = max(line, key=lambda end: math.dist(centre, end))
    # the first leg ends where the arc begins, level with the centre and right of it; the bend turns up from there
    assert math.degrees(math.atan2(far[1] - centre[1], far[0] - centre[0])) == pytest.approx(46.0, abs=0.01)


def test_the_saw_goes_on_the_side_that_is_cut_off() -> None:
    left_on = math.radians(0.5)
    alone = [cut(1, "end", math.radians(46.0), leave_on_angle=left_on), cut(1, "start", 0.0, middle=30.0, chords=None)]
    [line] = saw_lines(alone, TIGHT)
    assert math.degrees(line.net) == pytest.approx(46.0) and math.degrees(line.saw) == pytest.approx(46.5)
    [line] = saw_lines(alone[:1], TIGHT)
    assert math.degrees(line.saw) == pytest.approx(46.5), (
        "the other end is as it was bought: the leg it is measured from"
    )
    near = [cut(2, "start", math.radians(50.0), leave_on_angle=left_on), cut(2, "end", 0.0, middle=200.0, chords=None)]
    [line] = saw_lines(near, TIGHT)
    assert math.degrees(line.saw) == pytest.approx(49.5), "its piece lies beyond the line"
    other = [
        cut(3, "end", math.radians(30.0), leave_on_angle=left_on, measured_from="second leg"),
        cut(3, "start", 0.0, middle=5.0, chords=None, measured_from="second leg"),
    ]
    [line] = saw_lines(other, TIGHT)
    assert math.degrees(line.net) == pytest.approx(60.0) and math.degrees(line.saw) == pytest.approx(59.5)


def test_a_line_across_a_leg_is_as_far_from_its_end_as_is_said(checked: Checked, tmp_path: Path) -> None:
    """30 mm from the end of a leg of 75 mm, so 45 from the bend; the saw goes 1.4 mm nearer to the end. The line is
    extended past both sides of the tube, to square up to."""
    mark = cut(1, "start", 0.0, middle=30.0, chords=None, leave_on=1.4)
    [page] = pages_of([flat_bend(1, TIGHT, 21.2, [mark])], sheet(checked), tmp_path)
    found = lines_of(page)
    cross = [ends for ends in found if math.dist(*ends) == pytest.approx(8.0, abs=0.01)]
    centre = np.mean(cross[0], axis=0)
    across = [ends for ends in found if math.dist(*ends) == pytest.approx(2 * 21.2 + 2 * BEYOND, abs=0.01)]
    assert sorted(float(centre[1] - ends[0][1]) for ends in across) == pytest.approx([45.0, 46.4], abs=0.01)


def test_a_line_across_a_leg_of_a_u_is_carried_as_far_as_its_page_allows(checked: Checked, tmp_path: Path) -> None:
    """A U is 169.4 mm across, with 2 mm round the drawing 173.4. A4 is 297 mm high, of which margins, head and foot
    take 46, the bars 24.5, the title 10, and four lines of text 20.8: 195.7 are left, so that 22 mm are there for one
    line, turned a quarter. With lines across both legs, and one more of text, there are 8 mm on either side."""
    u = StockBend(63.5, math.pi, (120.0, 120.0), None)
    one, other = cut(1, "start", 0.0, middle=75.0, chords=None), cut(2, "end", 0.0, middle=80.0, chords=None)
    [page] = pages_of([flat_bend(1, u, 21.2, [one])], sheet(checked), tmp_path)
    upright = [ends for ends in lines_of(page) if ends[0][0] == pytest.approx(ends[1][0], abs=1e-6)]
    assert any(math.dist(*ends) == pytest.approx(2 * 21.2 + BEYOND + 22.0, abs=0.01) for ends in upright)
    text = " ".join(page.extract_text().split())
    assert "Lines go 22.0 mm past the outside: the page has no room for more." in text
    assert "First leg 120.0 mm (to the right, above)" in text
    other = replace(other, measured_from="second leg")
    [page] = pages_of([flat_bend(1, u, 21.2, [one, other])], sheet(checked), tmp_path)
    assert sum(length == pytest.approx(2 * 21.2 + BEYOND + 8.0, abs=0.01) for length in lengths_of(page)) == 2


def test_a_line_in_a_bend_has_all_its_length_where_the_page_allows_it(checked: Checked, tmp_path: Path) -> None:
    """Toward the side of a U it is 114.7 mm from the centre, and 84.7 are on the other side: 203.4 with 2 mm round it,
    more than 174 across, less than the page is high when the drawing is turned with three lines of text."""
    mark = cut(1, "end", math.radians(170.0), middle=120.0 + 63.5 * math.radians(170.0))
    [page] = pages_of(
        [flat_bend(1, StockBend(63.5, math.pi, (120.0, 120.0), None), 15.0, [mark])], sheet(checked), tmp_path
    )
    assert any(length == pytest.approx(30.0 + 2 * BEYOND, abs=0.01) for length in lengths_of(page))
    assert "no room" not in page.extract_text()


def test_a_bend_larger_than_a_page_takes_as_few_as_it_can(checked: Checked, tmp_path: Path) -> None:
    """It is 173 mm from its centre to the end of a line, and 28 mm or more of a leg on the other side: too wide for a
    page, also when turned. With legs that short it takes two pages and not four."""
    bend = StockBend(115.0, math.pi / 2, (90.0, 120.0), None)
    marks = [cut(1, "end", math.radians(angle), middle=90.0 + 115.0 * math.radians(angle)) for angle in (10.0, 52.0)]
    pages = pages_of([flat_bend(9, bend, 30.15, marks)], sheet(checked), tmp_path)
    assert len(pages) == 2
    for number, page in enumerate(pages, 1):
        assert f"part {number} of 2 across, 1 of 1 up" in page.extract_text().splitlines()


def test_the_title_of_a_tape_in_parts_stays_on_its_page(checked: Checked, tmp_path: Path) -> None:
    mark = TurnMark("secondary balance", 2, 3, 1, 1.0, 30.0, 0.5, True)
    figure = tape(mark, 38.1, "outlet")
    pages = pages_of([figure], sheet(checked), tmp_path)
    assert len(pages) == 2
    for number, page in enumerate(pages, 1):
        lines = page.extract_text().splitlines()
        assert figure.title in lines and f"part {number} of 2 across, 1 of 1 up" in lines
        assert stringWidth(figure.title, BOLD, TEXT) * POINT < FULL_SIZE_WIDE


def test_a_lay_flat_drawing_says_what_the_bend_is_to_be_checked_by(checked: Checked, tmp_path: Path) -> None:
    """As measured where it was: CLR, angle, legs, and both diameters of its oval; else 3 % of 42.4 mm either way round
    the nominal, which is 41.764 to 43.036."""
    measured = replace(TIGHT, measured=MeasuredBend(63.9, math.radians(89.5), (42.9, 41.7), (74.0, 151.0)))
    [page] = pages_of([flat_bend(1, measured, 21.2, [], "mm", 0.03)], sheet(checked), tmp_path)
    text = " ".join(page.extract_text().split())
    for said in (
        "89.5°, CLR 63.9 mm, tube 42.4 mm",
        "First leg 74.0",
        "second leg 151.0",
        "Oval: 41.7",
        "42.9 mm square",
    ):
        assert said in text
    [page] = pages_of([flat_bend(1, TIGHT, 21.2, [], "mm", 0.03)], sheet(checked), tmp_path)
    assert "Oval: about 41.8 in the plane of the bend, 43.0 mm" in page.extract_text()
    [page] = pages_of([flat_bend(1, TIGHT, 21.2, [], "in", 0.03)], sheet(checked), tmp_path)
    assert "CLR 2.500 in" in page.extract_text() and "First leg 2.953 in" in page.extract_text()


def test_a_tape_goes_once_round_the_tube(checked: Checked, tmp_path: Path) -> None:
    """π(42.4 + 0.1) = 133.518 mm; B a quarter turn clockwise from A, or three quarters the other way round."""
    for degrees in (90.0, -270.0):
        figure = tape(TurnMark("primary 1", 2, 3, 1, math.radians(degrees), 33.3, 0.0, True), 21.2)
        assert figure.size[0] == pytest.approx(133.518, abs=0.001)
        [page] = pages_of([figure], sheet(checked), tmp_path)
        upright = [ends for ends in lines_of(page) if ends[0][0] == pytest.approx(ends[1][0], abs=1e-6)]
        ticks = [ends for ends in upright if math.dist(*ends) < 5.5]
        assert len({round(ends[0][0], 3) for ends in ticks}) >= 721, "a tick every half degree"
        marks = sorted(ends[0][0] for ends in upright if math.dist(*ends) == pytest.approx(10.4, abs=0.01))
        assert marks[1] - marks[0] == pytest.approx(133.518 / 4, abs=0.01)


@pytest.mark.parametrize(
    ("degrees", "letters"), [(0.0, ["A, B"]), (-1e-7, ["A, B"]), (90.0, ["A", "B"]), (4.0, ["A", "B"])]
)
def test_letters_of_a_tape_do_not_lie_on_each_other(
    degrees: float, letters: list[str], checked: Checked, tmp_path: Path
) -> None:
    """Letters of 11 points are under 3 mm wide; 4° of this tube are 1.5 mm."""
    figure = tape(TurnMark("primary 1", 2, 3, 1, math.radians(degrees), 33.3, 0.0, True), 21.2)
    [page] = pages_of([figure], sheet(checked), tmp_path)
    found: list[tuple[str, float]] = []
    page.extract_text(
        visitor_text=lambda text, cm, tm, font, size: found.append((text.strip(), (cm[4] + cm[0] * tm[4]) * POINT))
    )
    shown = [(text, x) for text, x in found if text in ("A", "B", "A, B")]
    assert [text for text, _ in shown] == letters
    assert len(shown) == 1 or shown[1][1] - shown[0][1] > 3.0


@pytest.mark.parametrize("how", [LAY_BEND, WRAP_TAPE, WRAP_CUT, WRAP_HOLE, WRAP_OFFER])
def test_how_to_use_a_drawing_stays_within_the_page(how: str) -> None:
    """In letters of 11 points it is no wider than the drawings have room."""
    register_fonts()
    assert stringWidth(how, FONT, 11) * POINT <= FULL_SIZE_WIDE


def test_what_is_larger_than_a_page_goes_on_several(checked: Checked, tmp_path: Path) -> None:
    wide = StockBend(200.0, math.pi, (120.0, 120.0), None)
    figure = flat_bend(1, wide, 30.0, ())
    pages = pages_of([figure], sheet(checked), tmp_path)
    across, up = (
        math.ceil(size / room)
        for size, room in zip(figure.size, (FULL_SIZE_WIDE, full_size_room((210.0, 297.0))[1] - 12), strict=True)
    )
    assert len(pages) == across * up > 1
    assert "part 1 of" in pages[0].extract_text()


@pytest.mark.parametrize(("units", "size"), [("mm", (210.0, 297.0)), ("in", (215.9, 279.4))])
def test_what_is_drawn_at_full_size_fits_both_papers(
    units: str, size: tuple[float, float], checked: Checked, tmp_path: Path
) -> None:
    [page] = pages_of([flat_bend(2, TIGHT, 21.2, ())], PrintJob(sheet(checked).facts, units), tmp_path)
    assert (float(page.mediabox.width) * POINT, float(page.mediabox.height) * POINT) == pytest.approx(size, abs=0.01)
    across, up = zip(*(end for ends in lines_of(page) for end in ends), strict=True)
    assert 0 < min(across) < max(across) < size[0] and 0 < min(up) < max(up) < size[1]


def test_the_same_input_gives_the_same_bytes(checked: Checked, tmp_path: Path) -> None:
    figures = [flat_bend(1, TIGHT, 21.2, ())]
    on = sheet(checked)
    assert made(lambda: list(full_size(figures, on, "How")), on) == made(
        lambda: list(full_size(figures, on, "How")), on
    )


def printed(header: Header, shop: Shop, checked: Checked, path: Path) -> str:
    """The letters of all pages of the sheets of a header."""
    shown = [ShownMesh(run.name, "header", tube_mesh(line, 21.2, 19.7, 0.5)) for run, line in header.tubes]
    write_sheets(path, header, shop, sign_off(checked.result, "bcdfghjkmnpq"), shown, None)
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(path).pages)


def test_a_tube_from_the_bender_has_its_table(checked: Checked, tmp_path: Path) -> None:
    header = sample_header()
    header = replace(header, draft=replace(header.draft, bender=BENDER))
    shop = shop_of(header)
    text = printed(header, shop, checked, tmp_path / "sheets.pdf")
    for tube in shop.bent:
        assert f"{tube.blank:.1f}" in text
        assert all(f"{math.degrees(row.set_angle):.2f}" in text and f"{row.feed:.1f}" in text for row in tube.rows)
    large = large_words(pypdf.PdfReader(tmp_path / "sheets.pdf").pages)
    for tube in shop.bent:
        assert f"{tube.blank:.1f}" in large
        for row in tube.rows:
            angles = {f"{math.degrees(each) + 0.0:.2f}" for each in (row.rotation, row.set_angle)}
            assert {f"{row.feed:.1f}", *angles} <= large
            assert row.corner is None or all(f"{each + 0.0:.1f}" in text for each in row.corner)


def test_a_piece_that_is_not_in_the_stock_list_has_its_length(checked: Checked, tmp_path: Path) -> None:
    """Without a list nothing has a saw line; each piece is its net length, what its ends leave on, and no more."""
    header = sample_header()
    header = replace(header, draft=replace(header.draft, stock=None))
    shop = shop_of(header)
    text = printed(header, shop, checked, tmp_path / "sheets.pdf")
    assert shop.plan.pieces and not shop.cuts
    for piece in shop.plan.pieces:
        left_on = [end.leave_on for end in piece.ends]
        row = (f"{left_on[0]:.1f}", f"{left_on[1]:.1f}", f"{piece.end - piece.start + sum(left_on):.1f}")
        assert "\n".join((str(piece.number), *row)) in text


def test_a_number_to_set_is_never_broken() -> None:
    """Its column takes the room from the widest column of text."""
    register_fonts()
    number, words = "11.448", "from the end of the bar"
    table = grid([("piece", "straight", "from"), ("4", number, words)], (14, 15, 50), (TEXT, SET, TEXT))
    piece, straight, said = table._colWidths
    assert straight > stringWidth(number, BOLD, SET) and piece == pytest.approx(14 * MM)
    assert piece + straight + said == pytest.approx(79 * MM)


def large_words(pages: Iterable[Any]) -> set[str]:
    """What stands on pages in the size of numbers to set."""
    found = set[str]()

    def see(text: str, cm: list[float], tm: list[float], _: Any, size: float) -> None:
        if abs(size * math.hypot(tm[0], tm[1]) * math.hypot(cm[0], cm[1]) - SET) < 0.01:
            found.update(text.split())

    for page in pages:
        page.extract_text(visitor_text=see)
    return found


@pytest.mark.slow
def test_every_number_to_set_is_large(sheets: list[Any], checked: Checked) -> None:
    """Saw lines, chords, what is left on, turns, arcs and levels of a tube stand on its pages in 16 points."""
    large = large_words(sheets)
    shop = planned_once("bogbean")
    for mark in shop.cuts:
        figures = (mark.middle, mark.leave_on) if mark.chords is None else (mark.outside, *mark.chords, mark.leave_on)
        assert {f"{each:.1f}" for each in figures} <= large
        assert mark.chords is None or f"{math.degrees(mark.angle):.1f}°" in large
    for turn in shop.turns:
        if not comes_of_closing(turn, shop):
            assert {f"{turn.arc:.1f}", in_fractions(turn.arc), f"{abs(math.degrees(turn.angle)):.1f}°"} <= large
            assert f"{math.degrees(turn.level):+.1f}°" in large
    for height in shop.heights:
        assert {f"{height.along:.1f}", f"{height.offset:.1f}"} <= large


def test_what_is_enlarged_for_a_printer_stays_below_its_title(checked: Checked, tmp_path: Path) -> None:
    """A drawing of 90 mm is 94.7 mm high for a printer that shrinks upward by 5 %, and its top is where it was."""
    figure = FullSize("A line at its top", (50.0, 90.0), lambda canvas: canvas.line(0.0, 90.0, 37.0, 90.0))
    tops = []
    for scale in ((100.0, 100.0), (100.0, 95.0)):
        [page] = pages_of([figure], sheet(checked, scale), tmp_path)
        [line] = [ends for ends in lines_of(page) if math.dist(*ends) == pytest.approx(37.0, abs=0.01)]
        tops.append(line[0][1])
    assert tops[1] == pytest.approx(tops[0], abs=0.01)


@pytest.mark.slow
def test_a_tube_of_five_pieces_is_one_sheet_of_letter_too(checked: Checked, tmp_path: Path) -> None:
    """The same header with its figures in inches, which are longer, on paper that is 18 mm lower."""
    header, shop = checked.result.header, planned_once("bogbean")
    assert max(len(shop.plan.of_run(run.name)) for run in header.runs) == 5
    inches = replace(header, draft=replace(header.draft, units="in"))
    shown = [ShownMesh(run.name, "header", tube_mesh(line, 21.2, 19.7, 0.5)) for run, line in header.tubes]
    write_sheets(tmp_path / "in.pdf", inches, shop, sign_off(checked.result, "bcdfghjkmnpq"), shown, None)
    heads = [
        page.extract_text().split("2026-03-14", 1)[1].splitlines()[0]
        for page in pypdf.PdfReader(tmp_path / "in.pdf").pages
    ]
    of_tubes = [head for head in heads if head]
    assert of_tubes == [f": {run.name}{also}" for run in header.runs for also in ("", ", continued")]
