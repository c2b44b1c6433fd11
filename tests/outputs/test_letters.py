"""Words in the sheet's own font, letters it has not in an installed one, those of none as question marks."""

from __future__ import annotations

from pathlib import Path

import pytest
from reportlab.pdfbase import pdfmetrics

from headergen.outputs.customer import letters
from headergen.outputs.customer.letters import marked, pieces, replaced
from headergen.show.paper import BOLD, FONT, register_fonts


@pytest.fixture(autouse=True)
def fonts() -> None:
    register_fonts()
    letters._font_of.cache_clear()


def test_latin_words_are_in_the_own_font() -> None:
    assert pieces("Øystein's shed, 42.4 × 1.5") == [(FONT, "Øystein's shed, 42.4 × 1.5")]
    assert pieces("Shed", bold=True) == [(BOLD, "Shed")]
    assert marked("a < b") == "a &lt; b" and replaced("Shed") == ""


def test_other_letters_come_from_an_installed_font() -> None:
    found = pieces("Шед Bogbean")
    if not letters._installed():
        pytest.skip("no other font is installed")
    assert "".join(words for _, words in found) == "Шед Bogbean"
    font = found[0][0]
    assert font != FONT and all(ord(each) in pdfmetrics.getFont(font).face.charToGlyph for each in "Шед")
    assert replaced("Шед") == ""


def test_letters_that_no_font_has_are_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(letters, "_installed", lambda: ())
    assert pieces("Шед 日") == [(FONT, "??? ?")]
    assert replaced("Шед Шед 日") == "Шед日"


def test_a_file_that_is_no_font_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / "odd.ttf").write_bytes(b"nothing")
    assert letters._registered(tmp_path / "odd.ttf") is None
