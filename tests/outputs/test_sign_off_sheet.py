"""The sheet that a customer signs, measured in the file's own coordinates."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
from pypdf.generic import ContentStream

from headergen.checks.sign_off import sign_off
from headergen.geometry.mesh.tube import tube_mesh
from headergen.model.sign_off import LeastGap, SignOff
from headergen.outputs.customer.facts import groups
from headergen.outputs.customer.sign_off import write_sign_off
from headergen.show.drawing import fitting_scale
from headergen.show.meshes import ShownMesh, size_of
from tests.outputs import sample_result as sample

POINT = 25.4 / 72
HEADER = sample.header()
SHOWN = tuple(ShownMesh(run.name, "header", tube_mesh(line, 21.2, 19.7, 0.05)) for run, line in HEADER.tubes)


@pytest.fixture(scope="module")
def facts() -> SignOff:
    return sign_off(sample.result(()), "bcdfghjkmnpq", 3210.0, size_of(SHOWN))


def written(path: Path, facts: SignOff, units: str = "mm") -> pypdf.PageObject:
    header = replace(HEADER, draft=replace(HEADER.draft, units=units))
    write_sign_off(path, facts, header, SHOWN, None)
    [page] = pypdf.PdfReader(path).pages
    return page


def lines_of(page: Any) -> list[tuple[float, float]]:
    """Width and length, in mm on the paper, of every straight line that is stroked by itself."""
    content = ContentStream(page.get_contents(), page.pdf)
    matrix, stack, width, start, found = np.eye(3), [], 1.0, None, []
    for operands, operator in content.operations:
        values = [float(each) for each in operands if isinstance(each, int | float)]
        if operator == b"q":
            stack.append((matrix, width))
        elif operator == b"Q":
            matrix, width = stack.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = values
            matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
        elif operator == b"w":
            width = values[0]
        elif operator == b"m":
            start = np.array([*values, 1.0]) @ matrix
        elif operator == b"l" and start is not None:
            end = np.array([*values, 1.0]) @ matrix
            scale = math.sqrt(abs(np.linalg.det(matrix[:2, :2])))
            found.append((width * scale * POINT, float(np.hypot(*(end - start)[:2])) * POINT))
    return found


@pytest.mark.parametrize(("units", "size"), [("mm", (210.0, 297.0)), ("in", (215.9, 279.4))])
def test_it_is_one_page_of_the_jobs_paper(
    units: str, size: tuple[float, float], facts: SignOff, tmp_path: Path
) -> None:
    page = written(tmp_path / "sheet.pdf", facts, units)
    box = page.mediabox
    assert (float(box.width) * POINT, float(box.height) * POINT) == pytest.approx(size, abs=0.01)


def test_views_are_at_the_scale_that_is_stated(facts: SignOff, tmp_path: Path) -> None:
    page = written(tmp_path / "sheet.pdf", facts)
    stated = float(page.extract_text().split("Scale 1:")[1].split()[0])
    found = lines_of(page)
    tubes = [width for width, _ in found if width == pytest.approx(42.4 / stated, abs=0.01)]
    assert len(tubes) > 100, "tubes are as wide as the tube is at that scale"
    points = np.concatenate([each.mesh.vertices for each in SHOWN])
    for axis in range(3):
        wanted = float(np.ptp(points[:, axis])) / stated
        assert any(
            width == pytest.approx(0.15, abs=0.01) and length == pytest.approx(wanted, abs=0.01)
            for width, length in found
        ), f"an overall dimension along {'xyz'[axis]}"


def test_everything_that_is_signed_for_is_on_it(facts: SignOff, tmp_path: Path) -> None:
    text = " ".join(written(tmp_path / "sheet.pdf", facts).extract_text().split())
    for group in groups(facts, 8):
        for fact in group.facts:
            assert fact.label in text
            assert " ".join(fact.said("mm").split()) in text
    for word in ("hash bcdfghjkmnpq", "Name", "Date", "Signature", "page 1 of 1"):
        assert word in text
    assert "NOT CLEARED" not in text


def test_what_is_not_clear_says_so_across_the_page(facts: SignOff, tmp_path: Path) -> None:
    assert "NOT CLEARED" in written(tmp_path / "sheet.pdf", replace(facts, clear=False)).extract_text()


def test_forty_items_still_fit_one_page(facts: SignOff, tmp_path: Path) -> None:
    gaps = tuple(LeastGap(f"a bracket with a long name, number {k}", "primary 1", 20.0 + k) for k in range(40))
    many = replace(
        facts, gaps=gaps, lengths=tuple((f"primary {k}", 700.0) for k in range(1, 9)), excluded=("gaskets",) * 30
    )
    text = written(tmp_path / "sheet.pdf", many).extract_text()
    assert "32 more items" in " ".join(text.split())


def test_the_same_input_gives_the_same_bytes(facts: SignOff, tmp_path: Path) -> None:
    written(tmp_path / "one.pdf", facts)
    written(tmp_path / "two.pdf", facts)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_words_that_mark_up_are_words(facts: SignOff, tmp_path: Path) -> None:
    odd = replace(facts, customer="<b>A & B", excluded=("<font> tags", "x & y"))
    assert "<font> tags, x & y." in " ".join(written(tmp_path / "sheet.pdf", odd).extract_text().split())


def test_the_scale_is_the_largest_that_fits() -> None:
    assert fitting_scale([(740.0, 470.0)], [(150.0, 100.0)]) == 5
    assert fitting_scale([(751.0, 470.0)], [(150.0, 100.0)]) == 6
    assert fitting_scale([(100.0, 470.0)], [(150.0, 100.0)]) == 5
    assert fitting_scale([(10.0, 10.0)], [(150.0, 100.0)]) == 1
