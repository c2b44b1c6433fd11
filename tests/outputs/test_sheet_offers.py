"""The template of a mitred joint in the place of a slight bend, measured on the paper against the formula."""

from __future__ import annotations

import math
from pathlib import Path

import pypdf
import pytest
from reportlab.pdfbase.pdfmetrics import stringWidth

from headergen.checks.sign_off import sign_off
from headergen.outputs.shop.sheets.full_size import FULL_SIZE_WIDE
from headergen.outputs.shop.sheets.offered import WRAP_OFFER, offered_templates
from headergen.outputs.shop.sheets.pages import PrintJob, full_size, made
from headergen.show.paper import BOLD, FONT, register_fonts
from tests.demos import checked_once, cut_once
from tests.outputs.test_sheets import lines_of

GLASSWORT = Path(__file__).parents[2] / "specs" / "glasswort_right.yaml"
POINT = 25.4 / 72


def test_the_template_of_a_mitre_on_paper(tmp_path: Path) -> None:
    """An 11° bend of a tube of 42.4 mm: both straights are cut at 5.5°, so that the curve is 21.2·tan 5.5°·cos φ =
    2.0413·cos φ from the corner, and the paper π·42.5 = 133.518 mm long. Each straight is
    63.5·tan 5.5° = 6.1 mm longer.
    A bend that saves no weld has none."""
    result, shop = checked_once("glasswort_right").result, cut_once("glasswort_right")
    header = result.header
    register_fonts()
    job = PrintJob(sign_off(result, "bcdfghjkmnpq"), "mm")
    assert [(offer.run, offer.step, offer.joints) for offer in shop.mitres] == [
        ("primary 1", 4, 1),
        ("primary 2", 6, 0),
    ]
    assert not list(offered_templates(header, shop, header.run("primary 2")))
    [figure] = offered_templates(header, shop, header.run("primary 1"))
    (tmp_path / "one.pdf").write_bytes(made(lambda: list(full_size([figure], job, WRAP_OFFER)), job))
    [page] = pypdf.PdfReader(tmp_path / "one.pdf").pages
    found, around = lines_of(page), math.pi * 42.5
    left, low = min(
        (start for start, end in found if math.dist(start, end) == pytest.approx(around, abs=0.01)),
        key=lambda start: start[1],
    )
    starts = [start for start, _ in found]
    corner = max(set(starts), key=starts.count)
    curve = [end for start, end in found if start == corner]
    assert len(curve) >= 360
    for x, y in curve:
        wanted = 22.0413 + 2.0413 * math.cos(2 * math.pi * (x - left) / around)
        assert y - low == pytest.approx(wanted, abs=0.01)
    text = " ".join(page.extract_text().split())
    assert "Primary 1, step 4 as a mitre: base line 22.0 mm before the corner" in text
    assert "6.1 mm longer" in text and "5.5° from square. That saves 1 piece and 1 weld." in text
    turned = math.degrees(header.run("primary 1").steps[3].rotation)  # type: ignore[union-attr]
    way = "clockwise" if turned > 0 else "counter-clockwise"
    assert f"Witness line, on both: {abs(turned):.1f}° {way} from that of the bend before." in text


def test_its_words_stay_within_the_page() -> None:
    register_fonts()
    title = "Secondary balance, step 14 as a mitre: base line 22.041 in before the corner"
    assert stringWidth(title, BOLD, 11) * POINT <= FULL_SIZE_WIDE
    line = "Each straight is 0.246 in longer than beside the bend, to the middle of the cut."
    assert stringWidth(line, FONT, 11) * POINT <= FULL_SIZE_WIDE
    turn = "Witness line, on both: 179.9° counter-clockwise from that of the bend before."
    assert stringWidth(turn, FONT, 11) * POINT <= FULL_SIZE_WIDE
