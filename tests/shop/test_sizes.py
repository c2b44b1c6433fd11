"""Pieces of a stepped primary: each of one size, no joint inside a slip, and what goes in is left on."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from headergen.geometry.curves.stepped import growth_places
from headergen.model import Header, Plan, Run, Stock
from headergen.outputs.shop.order import order_list
from headergen.pipeline import settle
from headergen.shop.sizes import piece_tube
from headergen.shop.stage import shop_of

GUIDE = Path(__file__).resolve().parents[2] / "specs" / "guide_steps.yaml"
DRESSING = 1.0  # ground off each sawn face


@pytest.fixture(scope="module")
def header() -> Header:
    return settle(GUIDE)


@pytest.fixture(scope="module")
def plan(header: Header) -> Plan:
    return shop_of(header).plan


def test_pieces_and_joints_are_counted_through(header: Header, plan: Plan) -> None:
    for run in header.runs:
        pieces, joints = plan.of_run(run.name), plan.joints_of(run.name)
        assert [piece.number for piece in pieces] == list(range(1, len(pieces) + 1))
        assert [joint.number for joint in joints] == list(range(1, len(pieces)))
        for joint, before, after in zip(joints, pieces, pieces[1:], strict=False):
            assert joint.at == pytest.approx(before.end) and before.end == pytest.approx(after.start)


def test_each_piece_is_of_one_size(header: Header, plan: Plan) -> None:
    for run in header.runs:
        edges = [
            edge
            for place in growth_places(run)
            for edge in ((place.start, place.end), (place.start,))[place.by == "slip"]
        ]
        for piece in plan.of_run(run.name):
            assert not any(piece.start + 1e-6 < edge < piece.end - 1e-6 for edge in edges)


def sizes(run: Run, plan: Plan) -> list[float | None]:
    tubes = (piece_tube(run, piece) for piece in plan.of_run(run.name))
    return [None if tube is None else tube.outside_diameter for tube in tubes]


def test_the_sizes_come_in_travel_order_and_the_cone_is_a_piece(header: Header, plan: Plan) -> None:
    for run in header.runs:
        found = sizes(run, plan)
        cone = found.index(None)
        assert found == [*sorted(found[:cone], key=float), None, *found[cone + 1 :]]  # type: ignore[arg-type]
        assert set(found[:cone]) == {38.1, 41.3} and set(found[cone + 1 :]) == {44.5}


def test_what_goes_into_the_slip_is_left_on_and_no_joint_is_in_it(header: Header, plan: Plan) -> None:
    for run in header.runs:
        slip = growth_places(run)[0]
        inner = next(piece for piece in plan.of_run(run.name) if piece.end == pytest.approx(slip.start))
        assert inner.ends[1].leave_on == pytest.approx(20.0 + DRESSING)
        assert not [j for j in plan.joints_of(run.name) if slip.start + 1e-6 < j.at < slip.end - 1e-6]


def test_all_tube_is_there_once_and_in_the_slip_twice(header: Header) -> None:
    """Cut lengths are those of the net lines; as sawn, the overlap and the allowances of welds and faces are added."""
    shop = shop_of(header)
    for lengths, run in zip(shop.lengths, header.runs, strict=True):
        pieces = shop.plan.of_run(run.name)
        assert lengths.cut == pytest.approx(lengths.centreline - pieces[0].start)
        assert lengths.sawn - lengths.cut > 20.0 + DRESSING * 2 * len(pieces)


def test_the_order_list_has_each_size_and_the_cones(header: Header) -> None:
    lines = order_list(header, shop_of(header))
    straight = {line.size for line in lines if line.what.startswith("straight tube")}
    assert straight == {"38.1 mm", "41.3 mm", "44.5 mm"}
    assert [(line.size, line.quantity) for line in lines if line.what == "cone"] == [
        ("from 41.3 mm to 44.5 mm, 25.0 mm long", 2)
    ]


def test_a_size_without_stock_is_said(header: Header) -> None:
    """The shelf is of the tube at the flange, 38.1; the two larger sizes of the guide have none."""
    stock = Stock((), (), "", "shelf.yaml", 38.1, 0.03)
    shelved = replace(header, draft=replace(header.draft, stock=stock))
    said = [note for note in shop_of(shelved).notes if note.startswith("There is no stock of tube")]
    assert [note.split(",")[0] for note in said] == [
        "There is no stock of tube 41.3 mm × 1.5 mm",
        "There is no stock of tube 44.5 mm × 1.5 mm",
    ]
    assert all("primary 1" in note and "the stock list is of tube 38.1 mm" in note for note in said)
