"""The first end of a tube that leans on its flange: its cut lies in the plane in which the tube begins, parallel to the
face, and nothing is cut so where the port is square or has a transition."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from headergen.built.chain import BEFORE, FIRST
from headergen.built.freedoms import freedoms_of
from headergen.built.path import line_as_built
from headergen.built.state import half_built
from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.plate.flange import tube_from
from headergen.hand.tube import tubes_of
from headergen.model import Header, LeanCut, RunAsBuilt, Shop, Straight
from headergen.shop.course import courses_of
from headergen.shop.stage import shop_of
from tests.shop.leaning import leaning_bench
from tests.shop.test_bending import BENDER
from tests.shop.test_plan import assert_can_be_cut
from tests.shop.test_put_together import assert_is_path, turned

LEANS = [(6.0, -140.0, 3), (30.0, 35.0, 1), (75.0, 160.0, 5)]
CLOSE = 1e-9  # mm
Vector = NDArray[np.float64]


@pytest.fixture(scope="module", params=LEANS, ids=str)
def leant(request: pytest.FixtureRequest) -> tuple[Header, Shop, LeanCut]:
    header = leaning_bench(*request.param)
    shop = shop_of(header)
    [cut] = shop.lean_cuts
    assert math.degrees(cut.angle) == pytest.approx(request.param[0])
    return header, shop, cut


def face_of(header: Header) -> tuple[Vector, Vector, float]:
    """A place in the plane of the face, its normal, and how far above it the tube begins."""
    flange = header.draft.flanges[0]
    return np.array(flange.frame.origin), np.array(flange.frame.z), flange.tube_start


def on_skin(header: Header, along: float, clock: float) -> Vector:
    """On the outside of the first run's tube; `clock`: clockwise from x, seen looking from the flange along it."""
    run, frame = header.runs[0], header.runs[0].start.frame
    way = np.array(frame.z)
    out: Vector = np.array(frame.origin) + along * way + run.tube.radius * turned(np.array(frame.x), way, clock)
    return out


def met(header: Header, clock: float) -> float:
    """Where along the run the line on its skin meets the plane."""
    origin, normal, high = face_of(header)
    start, way = on_skin(header, 0.0, clock), np.array(header.runs[0].start.frame.z)
    return float((high - normal @ (start - origin)) / (normal @ way))


def test_the_longest_side_is_where_the_plane_meets_the_tube_first(leant: tuple[Header, Shop, LeanCut]) -> None:
    header, shop, cut = leant
    clocks = np.radians(np.arange(-180.0, 180.0, 0.25))
    places = np.array([met(header, clock) for clock in clocks])
    off = math.remainder(cut.clock - clocks[places.argmin()], math.tau)
    assert abs(math.degrees(off)) <= 0.125 + 1e-9
    piece = shop.plan.of_run(cut.run)[0]
    straight = piece.start + piece.legs[0]
    assert cut.sides == pytest.approx([straight - met(header, cut.clock), straight - met(header, cut.clock + math.pi)])
    assert piece.start == pytest.approx(met(header, cut.clock))
    assert piece.ends[0].cut == "lean" and cut.sides[1] > 0


def test_the_template_is_the_formula_and_lies_in_the_plane(leant: tuple[Header, Shop, LeanCut]) -> None:
    """r·tan α·cos φ (pattern development of a cut cylinder); with the cut up, right is counter-clockwise seen from
    above, that is from the flange."""
    header, shop, cut = leant
    [template] = [each for each in shop.templates if each.name == cut.name]
    assert template.what == "lean" and template.run == cut.run
    count, middle = len(template.heights), (max(template.heights) + min(template.heights)) / 2
    origin, normal, high = face_of(header)
    at = high / (normal @ np.array(header.runs[0].start.frame.z))  # of the middle of the cut, along the run
    for k in range(count):
        round_it = 2 * math.pi * k / count
        wanted = cut.radius * math.tan(cut.angle) * math.cos(round_it)
        assert template.heights[k] - middle == pytest.approx(wanted, abs=CLOSE)
        place = on_skin(header, at - (template.heights[k] + template.base), cut.clock - round_it)
        assert normal @ (place - origin) == pytest.approx(high, abs=CLOSE)


def test_the_longest_side_is_said_from_the_line_of_a_bend() -> None:
    """That line is on the outside, half round from where the bend goes: toward x, turned by its rotation."""
    header = leaning_bench(20.0, 70.0, more=0.0)
    while (shop := shop_of(header)).plan.of_run("primary 1")[0].angle == 0:
        [run, other] = header.runs
        run = replace(run, steps=(Straight(run.steps[0].length - 10.0), *run.steps[1:]))  # type: ignore[union-attr]
        header = replace(header, runs=(run, other), draft=replace(header.draft, runs=(run, other)))
    [cut] = shop.lean_cuts
    frame, bend = header.runs[0].start.frame, header.runs[0].steps[1]
    way = np.array(frame.z)
    line = -turned(np.array(frame.x), way, bend.rotation)  # type: ignore[union-attr]
    assert cut.from_line is not None
    longest = on_skin(header, 0.0, cut.clock) - np.array(frame.origin)
    assert turned(line, way, cut.from_line) == pytest.approx(longest / cut.radius)


def test_pieces_put_together_from_the_cut_give_back_the_centreline(leant: tuple[Header, Shop, LeanCut]) -> None:
    """The middle of the sawn face lies above the port by where tubes begin; from there the first piece is as long as
    the middle of its two sides."""
    header, shop, cut = leant
    run, pieces = header.runs[0], shop.plan.of_run(cut.run)
    _, _, high = face_of(header)
    middle = sum(cut.sides) / 2
    first = replace(pieces[0], legs=(middle, pieces[0].legs[1]))
    clocked = {joint.number + 1: joint.clocking for joint in shop.plan.joints_of(run.name)}
    by_x = next((mark.angle for mark in shop.turns if mark.run == run.name and mark.joint == 0), 0.0)
    turns = [by_x if piece.number == 1 else clocked[piece.number] or 0.0 for piece in pieces]
    assert_is_path(header, run, (first, *pieces[1:]), turns, high / math.cos(cut.angle))
    lengths = shop.lengths[0]
    assert lengths.centreline - lengths.cut == pytest.approx(met(header, cut.clock))


def test_the_stock_has_the_longest_side_and_no_joint_is_in_the_cut(leant: tuple[Header, Shop, LeanCut]) -> None:
    header, shop, cut = leant
    draft = header.draft
    assert draft.stock is not None
    assert_can_be_cut(shop.plan, courses_of(header, draft.shop, draft.stock), draft.stock, draft.shop)
    short = shop.plan.of_run(cut.run)[0].start + cut.sides[0] - cut.sides[1]
    assert all(joint.at >= short - 1e-6 for joint in shop.plan.joints_of(cut.run))
    [start] = [piece.ends[0] for piece in shop.plan.of_run(cut.run) if piece.number == 1]
    assert start.leave_on == pytest.approx(min(draft.shop.dressing / math.cos(cut.angle), start.room))


def test_a_square_port_and_one_with_a_transition_are_not_sawn_so() -> None:
    """A transition is made with a square end, and its tube begins square after it."""
    for header in (leaning_bench(0.0, 0.0), leaning_bench(20.0, 30.0, transition=40.0)):
        shop = shop_of(header)
        run, flange = header.runs[0], header.draft.flanges[0]
        first = shop.plan.of_run(run.name)[0]
        assert shop.lean_cuts == () and not any(each.what == "lean" for each in shop.templates)
        assert first.ends[0].cut != "lean"
        assert first.start == pytest.approx(tube_from(flange, run.port, run.tube))


def test_a_tube_that_bends_inside_the_cut_has_no_pieces() -> None:
    header = leaning_bench(75.0, 0.0, more=0.0)
    shop = shop_of(header)
    assert shop.plan.of_run("primary 1") == () and shop.lean_cuts == ()
    assert any("bends before its tube" in note for note in shop.notes)


def test_the_own_bender_feeds_from_the_longest_side() -> None:
    header = leaning_bench(20.0, 30.0)
    header = replace(header, draft=replace(header.draft, bender=replace(BENDER, min_straight=0.0)))
    shop = shop_of(header)
    [tube] = [each for each in shop.bent if each.run == "primary 1"]
    [cut] = shop.lean_cuts
    steps = header.runs[0].steps
    assert cut.sides[0] == pytest.approx(tube.rows[0].feed)
    assert tube.rows[0].feed == pytest.approx(steps[0].length - met(header, cut.clock))  # type: ignore[union-attr]


def test_the_tube_as_planned_is_its_own_path_wherever_its_longest_side_begins(
    leant: tuple[Header, Shop, LeanCut],
) -> None:
    """Half built, but just as planned: though its longest side reaches to before the start of the run."""
    header, shop, cut = leant
    tube = next(each for each in tubes_of(header, shop) if each.run.name == cut.run)
    assert tube.begins < 0
    line, planned = line_as_built(half_built(tube, RunAsBuilt(cut.run), 0.0), 0.0), header.centrelines[0]
    assert line.length == pytest.approx(planned.length)
    for share in (0.0, 0.1, 0.5, 1.0):
        place, wanted = (frame_at(each, share * planned.length)[0] for each in (line, planned))
        assert place == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize("is_cut", [False, True])
def test_what_is_half_built_keeps_its_cut_at_the_flange(leant: tuple[Header, Shop, LeanCut], is_cut: bool) -> None:
    """However much its first straight is cut shorter, its cut stays in that. With the next piece welded on it turns in
    the flange, until it is sawn."""
    header, shop, cut = leant
    tube = next(each for each in tubes_of(header, shop) if each.run.name == cut.run)
    half = half_built(tube, RunAsBuilt(cut.run, welded=(1,), cut=(1,) if is_cut else ()), 0.0)
    of_first = [each for each in freedoms_of(half, header.draft.stock) if each.piece == 0]
    shorter = [each for each in of_first if each.kind == "length" and each.value == FIRST]
    across = 2 * cut.radius * math.tan(cut.angle)
    assert all(half.pieces[0].first + each.low >= across - CLOSE for each in shorter)
    assert any(each.low < 0 for each in shorter)
    assert any(each.kind == "turn" for each in of_first) is not is_cut


def test_a_welded_first_straight_is_cut_back_to_its_cut_at_most(leant: tuple[Header, Shop, LeanCut]) -> None:
    header, shop, cut = leant
    tube = next(each for each in tubes_of(header, shop) if each.run.name == cut.run)
    half = half_built(tube, RunAsBuilt(cut.run, welded=(0,)), 0.0)
    [back] = [each for each in freedoms_of(half, header.draft.stock) if each.value == BEFORE]
    if half.pieces[0].angle == 0:
        assert half.pieces[0].first + back.low >= 2 * cut.radius * math.tan(cut.angle)
    else:
        assert half.pieces[0].last + back.low >= 0
