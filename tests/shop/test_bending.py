"""Tubes of one piece from the shop's own bender: LRA and XYZ against a worked example, and what cannot be bent."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from headergen.geometry.curves.centreline import trace
from headergen.model import Bend, Bender, Frame, ShopSettings, Step, Straight
from headergen.outputs.shop.tables import bending_table, lengths_table
from headergen.shop.bending import bent_tube, cannot_bend, springback_of
from headergen.shop.course import Course, CourseBend
from headergen.shop.stage import shop_of
from tests.outputs.sample_result import header as sample_header

BENDER = Bender((60.0, 63.5), 30.0, 50.0, ((math.radians(30), 0.02), (math.radians(90), 0.05)))
# along +X, the first bend in the plane XY: a worked example in closed form
ALONG_X = Frame((0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
STEPS: tuple[Step, ...] = (
    Straight(80.0),
    Bend(math.radians(45), 60.0, 0.0),
    Straight(60.0),
    Bend(math.radians(60), 60.0, math.radians(30)),
    Straight(70.0),
)
BENDS = (CourseBend(math.radians(45), 60.0, 0.0, 2), CourseBend(math.radians(60), 60.0, math.radians(30), 4))
COURSE = Course("primary 1", (80.0, 60.0, 70.0), BENDS, 21.2)


def test_lra_and_xyz_of_a_worked_example() -> None:
    """L 80, 60, 70; rotation 0, 30; bends 45, 60; R 60: corners and developed length to four digits."""
    tube = bent_tube(COURSE, trace(ALONG_X, STEPS, "primary 1"), BENDER, ShopSettings(trim=0.0, dressing=0.0))
    assert [row.feed for row in tube.rows] == [80.0, 60.0] and tube.last == 70.0
    assert [math.degrees(row.rotation) for row in tube.rows] == pytest.approx([0.0, 30.0])
    corners = [row.corner for row in tube.rows]
    assert corners[0] == pytest.approx((104.8528, 0.0, 0.0), abs=5e-5)
    assert corners[1] == pytest.approx((189.3477, 84.4949, 0.0), abs=5e-5)
    assert tube.start == (0.0, 0.0, 0.0)
    assert tube.end == pytest.approx((170.8496, 176.9854, 45.3109), abs=5e-5)
    assert tube.blank == pytest.approx(319.9557, abs=5e-5) and tube.for_clamp == 0.0


def test_the_clamp_wants_tube_after_the_last_bend() -> None:
    """A last straight of 20 mm, with 3 mm to trim, is 27 short of the 50 that the clamp holds; 1 mm is dressed off
    either face."""
    course = replace(COURSE, straights=(80.0, 60.0, 20.0))
    tube = bent_tube(course, trace(ALONG_X, (*STEPS[:-1], Straight(20.0)), "primary 1"), BENDER, ShopSettings())
    assert tube.for_clamp == pytest.approx(27.0)
    assert tube.blank == pytest.approx(319.9557 - 70 + 20 + 3 + 27 + 2, abs=5e-5)


@pytest.mark.parametrize(("degrees", "expected"), [(15, 0.01), (30, 0.02), (60, 0.035), (90, 0.05), (180, 0.1)])
def test_springback_is_in_proportion_between_the_tests(degrees: float, expected: float) -> None:
    assert springback_of(BENDER.springback, math.radians(degrees)) == pytest.approx(expected)
    assert springback_of((), math.radians(degrees)) == 0.0


def test_a_die_and_room_for_it_are_wanted() -> None:
    assert cannot_bend(COURSE, BENDER, "mm") == ""
    assert "no die of CLR 60.0 mm" in cannot_bend(COURSE, replace(BENDER, radii=(63.5,)), "mm")
    assert "step 4 is 60.0 mm" in cannot_bend(COURSE, replace(BENDER, min_straight=61.0), "mm")


def test_a_header_from_the_bender_has_no_joints() -> None:
    header = sample_header()
    header = replace(header, draft=replace(header.draft, bender=BENDER))
    shop = shop_of(header)
    assert [tube.run for tube in shop.bent] == ["primary 1", "primary 2"] and shop.plan.pieces == ()
    assert [each.run for each in shop.lengths] == ["primary 1", "primary 2"]
    for lengths, line in zip(shop.lengths, header.centrelines, strict=True):
        assert (lengths.centreline, lengths.cut) == pytest.approx((line.length, line.length - 2.0))
        assert lengths.sawn == pytest.approx(line.length - 2.0 + 3.0 + 2.0), "trimmed, and dressed at either end"
    rows = bending_table(header, shop).rows
    assert len(rows) == 2 * (1 + 2 + 1) and len(lengths_table(header, shop).rows) == 2


def test_what_the_bender_cannot_make_is_made_of_pieces_and_said() -> None:
    header = sample_header()
    header = replace(header, draft=replace(header.draft, bender=replace(BENDER, min_straight=121.0)))
    shop = shop_of(header)
    assert shop.bent == () and {piece.run for piece in shop.plan.pieces} == {"primary 1", "primary 2"}
    assert sum("the bender cannot make it" in note for note in shop.notes) == 2
