"""Templates of a collector's cuts and what is cut from the stock, as they are drawn; expected values from outside."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
from pypdf.generic import ContentStream
from reportlab.pdfbase.pdfmetrics import stringWidth
from scipy.special import ellipe

from headergen.checks.sign_off import sign_off
from headergen.geometry.merge.design import possible_merge
from headergen.model import CutTemplate, Frame, HoleTemplate, Plane, Shop
from headergen.outputs.shop import shop_data
from headergen.outputs.shop.sheets.holes import hole_wrapped
from headergen.outputs.shop.sheets.nesting import WIDE, nesting, placed
from headergen.outputs.shop.sheets.pages import PrintJob, full_size, made, paragraph, says_tube
from headergen.outputs.shop.sheets.templates import wrapped
from headergen.pipeline import Checked
from headergen.shop.angled_cuts import AngledCut, template_of
from headergen.show.paper import FONT, register_fonts
from tests.demos import checked_once, planned_once
from tests.outputs.test_sheets import letters_of, lines_of

POINT = 25.4 / 72
RADIUS = 41.275 / 2  # of a tube of 1 5/8 in
ALONG = Frame((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def plane_cut(degrees: float, radius: float = RADIUS) -> CutTemplate:
    """A cut at an angle to square, highest at the witness line."""
    a = math.radians(degrees)
    planes = (Plane((0.0, 0.0, 0.0), (-math.sin(a), 0.0, math.cos(a))),)
    return template_of(AngledCut("G1-1", "main", "mitre", radius, ALONG, planes, 4))


@pytest.fixture(scope="module")
def checked() -> Checked:
    return checked_once("bogbean")


@pytest.fixture(scope="module")
def shop() -> Shop:
    return planned_once("bogbean")


@pytest.fixture(scope="module")
def job(checked: Checked) -> PrintJob:
    register_fonts()
    return PrintJob(sign_off(checked.result, "bcdfghjkmnpq"), "mm")


def pages_of(story: Callable[[], Iterable[Any]], job: PrintJob, folder: Path) -> list[Any]:
    path = folder / "figures.pdf"
    path.write_bytes(made(lambda: list(story()), job))
    return list(pypdf.PdfReader(path).pages)


def boxes_of(page: Any) -> list[tuple[float, float]]:
    """Width and height, in mm on the paper, of every rectangle."""
    matrix, stack, found = np.eye(3), [], []
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        if operator == b"q":
            stack.append(matrix)
        elif operator == b"Q":
            matrix = stack.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = (float(each) for each in operands)
            matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
        elif operator == b"re":
            wide, high = float(operands[2]), float(operands[3])
            found.append((wide * matrix[0, 0] * POINT, high * matrix[1, 1] * POINT))
    return found


def test_ordinates_of_a_plane_cut() -> None:
    """y = r·tan α·cos(s/r): 22.5°, 16 divisions, computed from first principles in the project's references."""
    template = plane_cut(22.5)
    step = len(template.heights) // 16
    found = [height + template.base for height in template.heights[::step]]
    assert found[:5] == pytest.approx([8.5483, 7.8976, 6.0446, 3.2713, 0.0], abs=5e-5)
    # 57.15 · tan 30° = 32.9956; layout tables of boilermakers print 32.99, from memory
    steep = plane_cut(30.0, 57.15)
    assert steep.heights[0] + steep.base == pytest.approx(32.99, abs=0.006)


def test_a_curve_is_as_long_as_the_cut() -> None:
    """The perimeter of the ellipse with semi-axes r/cos α and r, 135.0640 mm: wrapped paper does not stretch."""
    template = plane_cut(22.5)
    count = len(template.heights)
    rises = [template.heights[(k + 1) % count] - template.heights[k] for k in range(count)]
    length = sum(math.hypot(2 * math.pi * RADIUS / count, rise) for rise in rises)
    long = RADIUS / math.cos(math.radians(22.5))
    assert 4 * long * ellipe(1 - (RADIUS / long) ** 2) == pytest.approx(135.0640, abs=1e-4)
    assert length == pytest.approx(135.0640, abs=0.003), "384 chords of it"


def test_a_template_on_paper(job: PrintJob, tmp_path: Path) -> None:
    """Measured in the file: π(41.275 + 0.1) long, and every place of the curve where the formula has it."""
    template = plane_cut(22.5)
    [page] = pages_of(lambda: full_size([wrapped(template, "mm")], job, "How"), job, tmp_path)
    found = lines_of(page)
    around = math.pi * 41.375
    left, low = min(  # the base line, the lowest of those that go once round
        (start for start, end in found if math.dist(start, end) == pytest.approx(around, abs=0.01)),
        key=lambda start: start[1],
    )
    starts = [start for start, _ in found]
    corner = max(set(starts), key=starts.count)  # all of the curve is drawn from one place on
    curve = [end for start, end in found if start == corner]
    assert len(curve) == len(template.heights)
    middle = low - template.base
    for x, y in curve:
        wanted = RADIUS * math.tan(math.radians(22.5)) * math.cos(2 * math.pi * (x - left) / around)
        assert y - middle == pytest.approx(wanted, abs=0.01)


def test_a_hole_on_paper(job: PrintJob, tmp_path: Path) -> None:
    """A square branch of radius r on a run of radius R: on the paper, r·sin φ is R·sin of the turn, r·cos φ along."""
    r, many = 15.0, 96
    turns = [2 * math.pi * k / many for k in range(many)]
    edge = tuple((math.asin(r * math.sin(turn) / RADIUS), r * math.cos(turn)) for turn in turns)
    template = HoleTemplate("B1", "branch", "run", RADIUS, 150.0, (0.0, 1.0, 0.0), edge, edge)
    [page] = pages_of(lambda: full_size([hole_wrapped(template, "mm")], job, "How"), job, tmp_path)
    assert any(wide == pytest.approx(math.pi * 41.375, abs=0.01) for wide, _ in boxes_of(page)), "its ends meet"
    found = lines_of(page)
    starts = [start for start, _ in found]
    corner = max(set(starts), key=starts.count)
    curve = np.array([end for start, end in found if start == corner])
    assert len(curve) >= many - 1
    middle = np.array([corner[0], corner[1] - r])
    across, up = (curve - middle).T
    sines = RADIUS * np.sin(across / (41.375 / 2))
    assert np.hypot(sines, up) == pytest.approx(r, abs=0.02)
    assert "150.0 mm from its start" in page.extract_text()


def test_a_size_at_the_foot_stays_in_one_line(job: PrintJob, tmp_path: Path) -> None:
    """The first size may be followed by a larger one that no longer fits beside it."""
    said = "38.100 mm × 1.500 mm, growing to 42.400 mm × 1.500 mm, then 44.450 mm × 1.500 mm, 304L"
    [page] = pages_of(lambda: [says_tube(said), paragraph("Said.")], job, tmp_path)
    lines = page.extract_text().splitlines()
    assert "Lengths in millimetres; tube 38.100 mm × 1.500 mm," in lines
    assert "growing to 42.400 mm × 1.500 mm, then 44.450 mm × 1.500 mm, 304L" in lines


@pytest.mark.parametrize("many", [1, 3, 7])
def test_the_foot_of_a_page_keeps_clear_of_its_number(many: int, job: PrintJob, tmp_path: Path) -> None:
    said = [f"{wide} mm × 1.5 mm, 304L" for wide in (38.1, 42.4, 45.0, 48.3, 60.3, 63.5, 76.1)[:many]]
    [page] = pages_of(lambda: [says_tube(" or ".join(said)), paragraph("Said.")], job, tmp_path)
    foot = list[tuple[str, float, float]]()

    def see(text: str, cm: list[float], tm: list[float], *_: Any) -> None:
        x, y, _ = np.array([tm[4], tm[5], 1.0]) @ [[cm[0], cm[1], 0.0], [cm[2], cm[3], 0.0], [cm[4], cm[5], 1.0]]
        foot.extend([(text.strip(), x, y)] if text.strip() and y < 26 / POINT else [])

    page.extract_text(visitor_text=see)
    (number,) = [x for text, x, _ in foot if text.startswith("page 1 of 1")]
    lines = [(text, x) for text, x, _ in foot if not text.startswith("page")]
    assert len(lines) == min(many, 2)
    assert all(x + stringWidth(text, FONT, 11) < number for text, x in lines)
    assert many == 7 or all(size in " ".join(text for text, _ in lines) for size in said)


def test_templates_of_a_header_are_its_merge(checked: Checked, shop: Shop) -> None:
    """The mitre halves the angle of the merge; shop.json has its ordinates."""
    header = checked.result.header
    merge = possible_merge(header.draft.tube, header.draft.collectors[0])
    assert merge is not None
    mitre, end = shop.templates
    reach = max(mitre.heights) - min(mitre.heights)
    assert reach == pytest.approx(2 * merge.outer * math.tan(merge.half_angle / 2), abs=1e-9)
    assert max(end.heights) > max(mitre.heights)
    said = shop_data(header, shop, "1")["templates"]
    assert [len(each["ordinates_mm"]) for each in said] == [16, 16]
    assert said[0]["ordinates_mm"][8] == pytest.approx(min(mitre.heights), abs=1e-6), "opposite the witness line"


def test_pieces_lie_in_their_items_with_the_saw_between(checked: Checked, shop: Shop) -> None:
    header = checked.result.header
    stock, settings = header.draft.stock, header.draft.shop
    assert stock is not None
    by_name = {(piece.run, piece.number): piece for piece in shop.plan.pieces}
    seen = 0
    for item in shop.plan.items:
        pieces = placed(item, shop, stock)
        seen += len(pieces)
        bend = stock.bends[item.index] if item.kind == "bend" else None
        whole = stock.straights[item.index].length if bend is None else sum(bend.real_legs)
        whole += 0.0 if bend is None else bend.real_radius * bend.real_angle
        assert pieces[0].start > -1e-6 and pieces[-1].end < whole + 1e-6
        for one, two in pairwise(pieces):
            wanted = settings.kerf if bend is None else settings.between
            assert two.start - one.end > wanted - 1e-6
        for each in pieces if bend is not None else ():
            piece = by_name[each.run, each.piece]
            assert each.end - each.start == pytest.approx(sum(piece.legs) + bend.real_radius * piece.angle, abs=1e-6)
    assert seen == sum(piece.item is not None for piece in shop.plan.pieces)


def test_bars_are_drawn_to_scale(checked: Checked, shop: Shop, job: PrintJob, tmp_path: Path) -> None:
    stock = checked.result.header.draft.stock
    assert stock is not None
    pages = pages_of(lambda: nesting(shop, stock, 21.2, "mm"), job, tmp_path)
    drawn = sorted(wide for page in pages for wide, _ in boxes_of(page))
    bars = [item for item in shop.plan.items if item.kind == "straight"]
    longest = max(stock.straights[item.index].length for item in bars)
    wanted = [stock.straights[item.index].length for item in bars]
    wanted += [each.end - each.start for item in bars for each in placed(item, shop, stock)]
    assert drawn == pytest.approx(sorted(length * WIDE / longest for length in wanted), abs=0.01)
    text = " ".join(" ".join(page.extract_text().split()) for page in pages)
    for item in shop.plan.items:
        assert f"Item {item.number}, {item.kind}" in text
        assert all(f"{run}, piece {piece}" in text for run, piece in item.pieces)
    assert min(size for page in pages for size in letters_of(page)) >= 10.99
