"""The bench as files: all of it in shop.json, and tables that say the same in the unit of the job."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from headergen.model import Bend, Header, Shop
from headergen.outputs.shop import all_tables, write_shop
from headergen.outputs.shop.order import order_list
from headergen.shop.stage import shop_of
from tests.shop.benches import random_bench

TABLES = {"steps", "lengths", "pieces", "cuts", "turns", "bench", "order"}


@pytest.fixture(scope="module")
def bench() -> tuple[Header, Shop]:
    header = random_bench(3)
    return header, shop_of(header)


def rows_of(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text))


def test_the_json_has_the_pieces_as_they_are(bench: tuple[Header, Shop], tmp_path: Path) -> None:
    header, shop = bench
    write_shop(tmp_path, header, shop, "1.0")
    data = json.loads((tmp_path / "shop.json").read_text(encoding="utf-8"))
    assert [run["name"] for run in data["runs"]] == [run.name for run in header.runs]
    for run in data["runs"]:
        pieces = shop.plan.of_run(run["name"])
        assert len(run["pieces"]) == len(pieces) and len(run["joints"]) == len(pieces) - 1
        assert sum(each["to_mm"] - each["from_mm"] for each in run["pieces"]) == pytest.approx(run["cut_length_mm"])
        for said, piece in zip(run["pieces"], pieces, strict=True):
            assert math.radians(said["angle_deg"]) == pytest.approx(piece.angle, abs=1e-7)
            assert [end["cut"] for end in said["ends"]] == [end.cut for end in piece.ends]
    assert data["figures"]["joints"] == sum(len(run["joints"]) for run in data["runs"])
    listed = sorted((p["run"], p["piece"]) for item in data["stock"] for p in item["pieces"])
    assert listed == sorted((piece.run, piece.number) for piece in shop.plan.pieces if piece.item is not None)


def test_every_table_is_a_file_of_its_own(bench: tuple[Header, Shop], tmp_path: Path) -> None:
    header, shop = bench
    write_shop(tmp_path, header, shop, "1.0")
    assert {file.stem for file in (tmp_path / "shop").iterdir()} == TABLES
    for table in all_tables(header, shop):
        rows = rows_of(tmp_path / "shop" / f"{table.name}.csv")
        assert len(rows) == len(table.rows) > 0 and list(rows[0]) == list(table.heads)
        assert all(len(row) == len(table.heads) for row in table.rows)


def test_the_same_bench_gives_the_same_bytes(bench: tuple[Header, Shop], tmp_path: Path) -> None:
    header, _ = bench
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        write_shop(tmp_path / name, header, shop_of(header), "1.0")
    for file in sorted((tmp_path / "one").rglob("*")):
        if file.is_file():
            assert file.read_bytes() == (tmp_path / "two" / file.relative_to(tmp_path / "one")).read_bytes()


def test_steps_are_those_of_the_path(bench: tuple[Header, Shop], tmp_path: Path) -> None:
    """LRA as written; XYZ begins at the port and ends where the tube does."""
    header, shop = bench
    write_shop(tmp_path, header, shop, "1.0")
    rows = rows_of(tmp_path / "shop" / "steps.csv")
    for run in header.runs:
        mine = [row for row in rows if row["tube"] == run.name]
        assert [row["kind"] for row in mine][:: len(mine) - 1] == ["start", "end"]
        port = [float(mine[0][f"corner {axis} (mm)"]) for axis in "xyz"]
        assert port == pytest.approx(run.start.frame.origin, abs=0.05)
        bends = [row for row in mine if row["kind"] == "bend"]
        turned = sum(float(row["angle (deg)"]) for row in bends)
        wanted = sum(math.degrees(step.angle) for step in run.steps if isinstance(step, Bend))
        assert turned == pytest.approx(wanted, abs=0.05)


def test_an_inch_job_has_inches(bench: tuple[Header, Shop], tmp_path: Path) -> None:
    header, shop = bench
    inches = replace(header, draft=replace(header.draft, units="in"))
    write_shop(tmp_path, inches, shop, "1.0")
    for row, lengths in zip(rows_of(tmp_path / "shop" / "lengths.csv"), shop.lengths, strict=True):
        assert float(row["cut length (in)"]) * 25.4 == pytest.approx(lengths.cut, abs=0.02)
        assert "cut length (mm)" not in row


def test_clocking_in_sixty_fourths_and_said_from_the_flange(bench: tuple[Header, Shop], tmp_path: Path) -> None:
    header, shop = bench
    write_shop(tmp_path, header, shop, "1.0")
    for row, mark in zip(rows_of(tmp_path / "shop" / "turns.csv"), shop.turns, strict=True):
        arc = float(row["arc on the outside (mm)"])
        assert arc == pytest.approx(21.2 * abs(mark.angle), abs=0.05)
        inches = sum(map(Fraction, row["arc on the outside (in, to 1/64)"].split("-")))
        assert float(inches) * 25.4 == pytest.approx(21.2 * abs(mark.angle), abs=25.4 / 128 + 1e-9)
        way = row["direction, looking along the tube from its start"]
        assert way == ("" if abs(mark.angle) < 1e-6 else "clockwise" if mark.angle > 0 else "counter-clockwise")


def test_the_order_is_what_is_not_on_hand(bench: tuple[Header, Shop]) -> None:
    """Ends of pieces and prices are no business of a supplier's."""
    header, shop = bench
    lines = [line for line in order_list(header, shop) if line.what in ("bend", "straight")]
    assert sum(line.quantity for line in lines) == sum(not item.on_hand for item in shop.plan.items)
    assert sum(line.needed for line in lines) == len(shop.plan.items)
    assert all("price" not in line.what and "EUR" not in line.size for line in lines)


def test_spares_are_ordered_of_each_kind_of_bend_that_is_used(bench: tuple[Header, Shop]) -> None:
    """One more of each, unless one is left over on the shelf."""
    header, shop = bench
    more = replace(header, draft=replace(header.draft, shop=replace(header.draft.shop, spares=1)))
    stock = header.draft.stock
    assert stock is not None
    used = [sum((item.kind, item.index) == ("bend", k) for item in shop.plan.items) for k in range(len(stock.bends))]
    left = sum(bend.count is not None and bend.count > n > 0 for bend, n in zip(stock.bends, used, strict=True))
    plain, with_spares = (
        sum(o.quantity for o in order_list(each, shop) if o.what == "bend") for each in (header, more)
    )
    assert with_spares - plain == sum(n > 0 for n in used) - left > 0


def test_the_welds_of_a_header_and_its_purge(bench: tuple[Header, Shop]) -> None:
    """Once round the tube a joint; ln(20.9 % / 0.01 %) = 7.64 volumes, by mixed dilution."""
    header, shop = bench
    by_name = {line.what: line for line in order_list(header, shop)}
    round_it = math.pi * 42.4
    joints = by_name["filler rod for joints of pieces"]
    assert joints.quantity == math.ceil(round_it * len(shop.plan.joints)) and joints.needed == len(shop.plan.joints)
    assert joints.size == "ER308L"  # for 304L: AWS A5.9
    litres = 7.645 * math.pi * 19.7**2 * sum(line.length for line in header.centrelines) / 1e6
    assert by_name["argon to purge with, at least"].quantity == pytest.approx(math.ceil(litres), abs=1)
