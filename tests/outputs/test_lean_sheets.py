"""The cut of a first end that leans, in every output of the bench; nothing of it where ports are square."""

from __future__ import annotations

import csv
import json
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdf
import pytest
from reportlab.pdfbase.pdfmetrics import stringWidth

from headergen.checks.sign_off import sign_off
from headergen.geometry.mesh.tube import tube_mesh
from headergen.model import Header, Shop
from headergen.outputs.shop import all_tables, shop_data, write_shop
from headergen.outputs.shop.screens.steps import screens
from headergen.outputs.shop.sheets import write_sheets
from headergen.outputs.shop.sheets.full_size import FULL_SIZE_WIDE
from headergen.outputs.shop.sheets.templates import wrapped
from headergen.shop.stage import shop_of
from headergen.show.meshes import ShownMesh
from headergen.show.paper import BOLD, register_fonts
from tests.outputs.sample_result import result
from tests.shop.benches import random_bench
from tests.shop.leaning import leaning_bench
from tests.shop.test_bending import BENDER

LEAN, TOWARD = 25.0, 40.0


@pytest.fixture(scope="module")
def bench() -> tuple[Header, Shop]:
    header = leaning_bench(LEAN, TOWARD)
    return header, shop_of(header)


@pytest.fixture(scope="module")
def data(bench: tuple[Header, Shop]) -> Any:
    return json.loads(json.dumps(shop_data(*bench, "1.0")))


def paper(bench: tuple[Header, Shop], folder: Path) -> list[str]:
    header, shop = bench
    shown = [ShownMesh(run.name, "header", tube_mesh(line, 21.2, 19.7, 0.5)) for run, line in header.tubes]
    write_sheets(folder / "sheets.pdf", header, shop, sign_off(result(()), "bcdfghjkmnpq"), shown, None)
    return [page.extract_text() for page in pypdf.PdfReader(folder / "sheets.pdf").pages]


def test_shop_json_has_the_cut(data: Any) -> None:
    """The tube leans by 25° to 40° from x, so it is longest on the other side, and longer by its diameter · tan 25°."""
    cut = data["runs"][0]["leans"]["first_end"]
    assert cut["saw_deg"] == pytest.approx(LEAN) and cut["longest_side_deg"] == pytest.approx(TOWARD - 180.0)
    assert cut["longest_mm"] - cut["shortest_mm"] == pytest.approx(42.4 * math.tan(math.radians(LEAN)), abs=2e-6)
    assert cut["longest_side_arc_mm"] == pytest.approx(math.radians(140.0) * 21.2, abs=1e-6)
    assert data["runs"][0]["pieces"][0]["ends"][0]["cut"] == "lean" and data["runs"][1]["leans"] is None
    assert data["runs"][0]["cut_length_mm"] == pytest.approx(
        sum(each["to_mm"] - each["from_mm"] for each in data["runs"][0]["pieces"])
    )
    [template] = [each for each in data["templates"] if each["template"] == cut["template"]]
    high = template["ordinates_mm"]
    assert [value - (high[0] + high[8]) / 2 for value in high] == pytest.approx(
        [21.2 * math.tan(math.radians(LEAN)) * math.cos(math.tau * k / 16) for k in range(16)], abs=2e-6
    )


def test_the_table_says_the_same(bench: tuple[Header, Shop], data: Any, tmp_path: Path) -> None:
    write_shop(tmp_path, *bench, "1.0")
    with (tmp_path / "shop" / "lean_cuts.csv").open(encoding="utf-8", newline="") as text:
        [row] = list(csv.DictReader(text))
    cut = data["runs"][0]["leans"]["first_end"]
    assert row["tube"] == "primary 1" and float(row["saw, from square (deg)"]) == pytest.approx(LEAN)
    assert float(row["longest side (mm)"]) == pytest.approx(cut["longest_mm"], abs=0.051)
    assert float(row["shortest side (mm)"]) == pytest.approx(cut["shortest_mm"], abs=0.051)
    [clock] = [row[head] for head in row if head.startswith("longest side, clockwise")]
    assert float(clock) == pytest.approx(TOWARD - 180.0) and row["template"] == cut["template"]


def test_the_sheets_have_the_cut_its_template_and_when_it_is_made(
    bench: tuple[Header, Shop], data: Any, tmp_path: Path
) -> None:
    pages = paper(bench, tmp_path)
    flowing = " ".join(" ".join(pages).split())
    cut = data["runs"][0]["leans"]["first_end"]
    row = f"25.0° {cut['longest_mm']:.1f} {cut['shortest_mm']:.1f} -140.0° {cut['template']}"
    assert flowing.count(row) == 1
    assert "140.0° counter-clockwise, 51.8 mm or 2-3/64 in on the outside, from x of the flange" in flowing
    assert re.search(rf"{cut['template']}, start of primary 1", flowing) and any(
        "witness line" in page for page in pages[-4:]
    )
    assert "to the lean, by its template" in flowing[: flowing.index("Primary 1 Tube")]


def test_the_title_of_a_template_fits_its_page(bench: tuple[Header, Shop]) -> None:
    register_fonts()
    [template] = [each for each in bench[1].templates if each.what == "lean"]
    title = wrapped(replace(template, name="RL12", run="primary 12"), "mm").title
    assert stringWidth(title, BOLD, 11) * 25.4 / 72 < FULL_SIZE_WIDE


def test_the_phone_says_it_with_the_first_piece(data: Any) -> None:
    first, *rest = screens(data)
    groups = [group for group in first.groups if "lean" in group.title or "longest" in group.title]
    assert next(group.title for group in groups) == "Saw its first end to the lean"
    said = {reading.label: reading.said for group in groups for reading in group.figures}
    cut = data["runs"][0]["leans"]["first_end"]
    assert said["saw, from square"] == "25.0" and said["longest side"] == f"{cut['longest_mm']:.1f}"
    assert said["counter-clockwise"] == "140.0" and said["arc outside"] == "2-3/64"
    assert not any("lean" in group.title for screen in rest for group in screen.groups)


def test_the_phone_says_it_after_the_last_bend_of_a_bent_tube() -> None:
    header = leaning_bench(LEAN, TOWARD)
    header = replace(header, draft=replace(header.draft, bender=replace(BENDER, min_straight=0.0)))
    shop = shop_of(header)
    assert "primary 1" in {tube.run for tube in shop.bent}
    names = [screen.name for screen in screens(shop_data(header, shop, "1.0"))]
    assert names.count("bent-1-lean") == 1 and names.index("bent-1-lean") == names.index("bent-1-finished") - 1


def test_nothing_is_said_of_it_where_ports_are_square(tmp_path: Path) -> None:
    header = random_bench(3)
    shop = shop_of(header)
    assert "lean_cuts" not in {table.name for table in all_tables(header, shop)}
    assert "first_end" not in json.dumps(shop_data(header, shop, "1.0"))
    assert "to the lean" not in " ".join(" ".join(paper((header, shop), tmp_path)).split())
