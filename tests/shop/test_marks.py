"""Marks against values worked out independently, and against the pieces that they are to give."""

from __future__ import annotations

import math

import pytest

from headergen.model import Shop, ShopSettings, Stock, StockBend, StockStraight, Tube
from headergen.model.stock import MeasuredBend
from headergen.shop.course import Course, CourseBend
from headergen.shop.marks import chord, cut_marks, folded, turn_marks
from headergen.shop.plan import plan_of
from headergen.shop.stage import shop_of
from tests.outputs.sample_result import header as sample_header
from tests.shop.benches import random_bench

TUBE = Tube(41.275, 1.651, "304L")  # 1-5/8 in, 16 gauge: the base tube of the check values
ROUND = MeasuredBend(oval=(41.275, 41.275))
PLAIN = ShopSettings(shrinkage=0.0, trim=0.0, dressing=0.0)


def marks_of(angle: float, bend: StockBend, after: float = 60.0, settings: ShopSettings = PLAIN) -> Shop:
    course = Course("primary 1", (0.0, after), (CourseBend(angle, bend.radius, 0.4, 1),), TUBE.radius)
    stock = Stock((bend,), (StockStraight(1000.0),))
    plan = plan_of([course], stock, settings)
    return Shop(plan, (), tuple(cut_marks(plan, stock, TUBE)))


@pytest.mark.parametrize(("degrees", "arc"), [(90.0, 97.2519), (45.0, 48.6260)])
def test_arc_lengths_of_a_bend(degrees: float, arc: float) -> None:
    """CLR/OD 1.5 of 1-5/8 in tube, R·θ worked out independently to four digits. From a leg of 70 mm."""
    shop = marks_of(math.radians(degrees), StockBend(61.9125, math.pi, (70.0, 20.0), measured=ROUND))
    (cut,) = (mark for mark in shop.cuts if mark.chords is not None)
    assert cut.middle - 70.0 == pytest.approx(arc, abs=5e-5)
    assert math.degrees(cut.angle) == pytest.approx(degrees)
    half = TUBE.outside_diameter / 2
    # the same bend's outer and inner edge: R ± OD/2, and the chords by Pythagoras over the bend's centre
    for along, radius, found in ((cut.outside, 61.9125 + half, 0), (cut.inside, 61.9125 - half, 1)):
        assert along - 70.0 == pytest.approx(radius * math.radians(degrees))
        x, y = radius * math.cos(math.radians(degrees)) - radius, radius * math.sin(math.radians(degrees))
        assert cut.chords is not None and cut.chords[found] == pytest.approx(math.hypot(x, y))


def test_a_chord_of_60_degrees_is_the_radius() -> None:
    """Euclid IV.15."""
    assert chord(84.7, math.radians(60)) == pytest.approx(84.7)


def test_what_is_left_on_inside_a_bend_is_said_in_degrees() -> None:
    """1.5 mm at CLR 63.5 is 1.353°: 1.5 / 63.5 rad. The bend ends at the collector, so its arc end is dressed (0.4)
    and trimmed (1.1)."""
    course = Course("primary 1", (60.0, 0.0), (CourseBend(1.0, 63.5, 0.4, 1),), TUBE.radius)
    stock = Stock((StockBend(63.5, math.pi, (70.0, 20.0)),), ())
    plan = plan_of([course], stock, ShopSettings(trim=1.1, dressing=0.4))
    (cut,) = (mark for mark in cut_marks(plan, stock, TUBE) if mark.chords is not None)
    assert cut.leave_on == 1.5 and math.degrees(cut.leave_on_angle) == pytest.approx(1.353, abs=5e-4)


def test_nothing_is_left_on_where_there_is_nothing() -> None:
    """A weld elbow at the collector ends where it ends; at the joint before it, the straight
    carries all of it, beside 1 mm for dressing either face."""
    course = Course("primary 1", (60.0, 0.0), (CourseBend(math.pi / 2, 63.5, 0.0, 1),), TUBE.radius)
    plan = plan_of([course], Stock((StockBend(63.5, math.pi / 2),), ()), ShopSettings(trim=1.5))
    straight, elbow = plan.pieces
    assert [end.leave_on for piece in (straight, elbow) for end in piece.ends] == [1.0, 1.4, 0.0, 0.0]
    assert [end.cut for end in elbow.ends] == ["bought", "bought"]


def test_a_measured_bend_is_marked_as_it_is() -> None:
    """CLR 64.0 and an oval whose short axis, which lies in the plane of the bend, is 40 mm."""
    measured = MeasuredBend(64.0, math.radians(181), (42.4, 40.0), (71.0, 20.0))
    shop = marks_of(1.0, StockBend(63.5, math.pi, (70.0, 20.0), measured=measured))
    (cut,) = (mark for mark in shop.cuts if mark.chords is not None)
    assert (cut.outside, cut.middle, cut.inside) == pytest.approx((71.0 + 84.0, 71.0 + 64.0, 71.0 + 44.0))


def test_clocking_as_an_arc() -> None:
    """0.5° of a 42.4 tube is 0.185 mm, and 1/16 in of arc 4.29°."""
    header = sample_header()
    (run,) = (each for each in header.runs if each.name == "primary 1")
    shop = shop_of(header)
    bends = [piece for piece in shop.plan.of_run(run.name) if piece.is_bend]
    marks = list(turn_marks(run, bends, [math.radians(0.5), math.radians(-4.29)]))
    assert marks[0].arc == pytest.approx(0.185, abs=5e-4)
    assert marks[1].arc == pytest.approx(25.4 / 16, abs=5e-3) and marks[1].angle < 0


@pytest.mark.parametrize(
    ("turn", "level", "same"),
    [
        (30, 30, True),
        (150, 30, False),
        (-30, -30, True),
        (-150, -30, False),
        (90, 90, True),
        (180, 0, False),
        (0, 0, True),
    ],
)
def test_a_level_cannot_tell_one_side_from_the_other(turn: float, level: float, same: bool) -> None:
    shown, side = folded(math.radians(turn))
    assert (math.degrees(shown), side) == (pytest.approx(level), same)


@pytest.mark.parametrize("seed", range(4))
def test_cuts_give_their_pieces(seed: int) -> None:
    """From the marks on its stock alone: each bend has its angle between its two lines, each leg its length."""
    header = random_bench(seed)
    shop, stock = shop_of(header), header.draft.stock
    assert stock is not None
    by_piece = {(mark.run, mark.piece, mark.end): mark for mark in shop.cuts}
    for piece in shop.plan.pieces:
        if piece.item is None or not piece.is_bend:
            continue
        bend = stock.bends[shop.plan.items[piece.item - 1].index]
        first, second = 0.0, bend.angle  # lines on the bend, from where the first leg ends
        legs = list(bend.legs)
        for end, cut in zip(("start", "end"), piece.ends, strict=True):
            mark = by_piece.get((piece.run, piece.number, end))
            if cut.cut == "bought":
                assert mark is None
                continue
            assert mark is not None
            leg = 0 if mark.measured_from == "first leg" else 1
            if mark.chords is None:  # square: what is beyond it comes off that leg
                legs[leg] -= mark.middle
                continue
            assert mark.middle == pytest.approx(bend.legs[leg] + bend.radius * mark.angle)
            if leg == 0:
                second = mark.angle
                legs[1] = 0.0
            else:
                first = bend.angle - mark.angle
                legs[0] = 0.0
        assert second - first == pytest.approx(piece.angle)
        wanted = list(reversed(piece.legs)) if piece.turned else list(piece.legs)
        assert legs == pytest.approx(wanted, abs=0.06)  # a leg within 0.05 mm is left as bought


def test_a_leg_beside_a_straight_piece_stays_as_it_was_bought() -> None:
    """Nobody saws 0.4 mm off a leg: the straight piece carries the shrinkage of their joint."""
    course = Course("primary 1", (300.0, 300.0), (CourseBend(1.0, 63.5, 0.0, 2),), 21.2)
    plan = plan_of([course], Stock((StockBend(63.5, 3.0, (120.0, 60.0)),), (StockStraight(1000.0),)), ShopSettings())
    first, bend, last = plan.pieces
    leg = bend.legs.index(120.0)
    assert bend.ends[leg].cut == "bought" and bend.ends[leg].leave_on == 0.0
    assert bend.ends[1 - leg].cut == "arc" and bend.legs[1 - leg] == 0.0
    left_on = [end.leave_on for piece in (first, last) for end in piece.ends]
    assert left_on == pytest.approx([1.0, 1.4, 1.4, 4.0]), "1 mm to dress each face, 0.4 for a weld, 3 to trim"
    assert bend.ends[1 - leg].leave_on == 1.0


def test_no_more_is_left_on_than_the_stock_has() -> None:
    """0.5° of a weld elbow of CLR 63.5 are 0.55 mm: less than a face is dressed by, so the saw has nothing to do."""
    course = Course("primary 1", (60.0, 60.0), (CourseBend(math.radians(89.5), 63.5, 0.0, 1),), TUBE.radius)
    plan = plan_of([course], Stock((StockBend(63.5, math.pi / 2),), (StockStraight(1000.0),)), ShopSettings())
    (elbow,) = (piece for piece in plan.pieces if piece.is_bend)
    (arc,) = (end for end in elbow.ends if end.cut == "arc")
    assert arc.leave_on == pytest.approx(0.5541, abs=5e-5)
