"""Saddles, measured on their meshes: they hold the pieces where another reckoning puts them, and stay off the joint.

Where the tube runs is reckoned here from pieces and turns alone, as in the trial with the paper.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from assembly import circle_middle, home, manifold
from layers import as_trimesh, starts_in_mid_air
from manifold3d import CrossSection, Manifold

from headergen.geometry.mesh.triangles import Points
from headergen.mock.build import make_mock
from headergen.mock.part import MockPart, overhang
from headergen.mock.saddle import saddles_of
from headergen.model import CutPiece, Header, MockSettings, Plan, SaddleFacts
from headergen.pipeline import settle
from headergen.shop.stage import shop_of
from tests.outputs.paper import PaperPiece, added

ROOT = Path(__file__).resolve().parents[2]
RUN = "primary 3"  # five pieces: bends on both sides of a straight, straights on both sides of a bend
OFF_THE_ARC = 25.0  # mm, as the sheet says
SEAT = 0.1  # mm of play to each side
SLOT_DEPTH = 2.6  # mm from the tube to the bottom of a slot
Pose = tuple[Points, Points, Points]
Made = list[tuple[MockPart, SaddleFacts]]


@pytest.fixture(scope="module")
def bench() -> tuple[Header, Plan, dict[int, float]]:
    header = settle(ROOT / "specs" / "bogbean.yaml").with_runs({RUN})
    shop = shop_of(header)
    return header, shop.plan, {mark.piece: mark.angle for mark in shop.turns}


@pytest.fixture(scope="module")
def made(bench: tuple[Header, Plan, dict[int, float]]) -> Made:
    header, plan, _ = bench
    [(run, line)] = header.tubes
    found = saddles_of((run, line, "3"), plan.of_run(RUN), plan.joints_of(RUN), MockSettings())
    assert len(found) == len(plan.joints) == 4
    return [each for each in found if not isinstance(each, str)]


def part_of(piece: CutPiece, length: float) -> PaperPiece:
    """The first `length` mm of a piece."""
    before = min(piece.legs[0], length)
    arc = min(max(length - piece.legs[0], 0.0), piece.angle * piece.radius)
    after = max(length - piece.legs[0] - piece.angle * piece.radius, 0.0) if piece.is_bend else 0.0
    return PaperPiece(piece.number, before, arc / piece.radius if piece.is_bend else 0.0, after, piece.radius)


def poses(bench: tuple[Header, Plan, dict[int, float]], at: float, within: tuple[float, float]) -> Pose:
    """Place, travel and the scribed side of the tube at a length from its port; between two lengths of one piece."""
    header, plan, turns = bench
    frame = header.runs[0].start.frame
    pieces = plan.of_run(RUN)
    way = np.array(frame.z)
    pose = (np.array(frame.origin) + pieces[0].start * way, way, np.array(frame.x))
    for piece in pieces:
        length = min(max(at, within[0]), within[1]) - piece.start
        if length <= 0:
            break
        pose = added(pose, part_of(piece, min(length, piece.length)), turns.get(piece.number, 0.0))
    return pose


def section(part: MockPart, pose: Pose) -> CrossSection:
    """The part cut square to the tube, in axes with x along the scribed side."""
    at, way, side = pose
    axes = np.array([side, np.cross(way, side), way])
    return manifold(part.mesh, home(part)).transform(np.column_stack([axes, -axes @ at])).slice(0.0)


def seat(part: MockPart, pose: Pose, radius: float) -> tuple[Points, float, float] | None:
    """Middle, radius and share of a turn of the hollow round the tube there; None where there is no rib."""
    outline = section(part, pose).to_polygons()
    points = np.concatenate(outline) if outline else np.empty((0, 2))
    away = np.linalg.norm(points, axis=1)
    near = points[abs(away - radius - SEAT) < 0.15]
    if len(near) < 20:
        return None
    middle = circle_middle(near)
    turns = np.sort(np.arctan2(near[:, 1], near[:, 0]))
    open_side = max(np.diff([*turns, turns[0] + 2 * math.pi]))
    return middle, float(np.linalg.norm(near - middle, axis=1).mean()), 1 - open_side / (2 * math.pi)


@pytest.mark.slow
def test_both_pieces_lie_where_they_are_to_be(bench: tuple[Header, Plan, dict[int, float]], made: Made) -> None:
    """Every 2 mm along 100 mm on both sides of the joint: where there is a rib, its hollow is round the tube, up to the
    tube's middle, and there are ribs at two places, or a wide one, under each piece."""
    header, plan, _ = bench
    radius = header.runs[0].tube.radius
    pieces = plan.of_run(RUN)
    for (part, facts), joint in zip(made, plan.joints_of(RUN), strict=True):
        assert (facts.run, facts.joint) == (RUN, joint.number)
        for piece, way in ((pieces[joint.number - 1], -1), (pieces[joint.number], 1)):
            held, shares = [], []
            for off in np.arange(1.0, min(piece.length, 100.0), 2.0).tolist():
                found = seat(part, poses(bench, joint.at + way * off, (piece.start, piece.end)), radius)
                if found is not None:
                    middle, wide, share = found
                    if share > 0.4:  # less where an upright rib begins and ends on a slope
                        assert np.linalg.norm(middle) < SEAT, (part.name, off)
                        assert wide == pytest.approx(radius + SEAT, abs=0.05), (part.name, off)
                    held.append(off)
                    shares.append(share)
            assert 0.45 < max(shares) < 0.56
            assert held and min(held) >= OFF_THE_ARC and max(held) - min(held) >= 7.0, (part.name, held)
            if piece.length > OFF_THE_ARC + 40.0:
                assert max(held) - min(held) > 20.0, (part.name, held)


def test_the_line_that_is_scribed_shows_in_the_slot(bench: tuple[Header, Plan, dict[int, float]], made: Made) -> None:
    """In the rib nearest to the joint, the slot is on the outside of the piece's bend, or opposite, as is said."""
    header, plan, _ = bench
    radius, pieces = header.runs[0].tube.radius, plan.of_run(RUN)
    for (part, facts), joint in zip(made, plan.joints_of(RUN), strict=True):
        for k, (piece, way) in enumerate(((pieces[joint.number - 1], -1), (pieces[joint.number], 1))):

            def at_off(off: float, way: int = way, piece: CutPiece = piece, at: float = joint.at) -> Pose:
                return poses(bench, at + way * off, (piece.start, piece.end))

            offs = np.arange(OFF_THE_ARC, 90.0, 1.0).tolist()
            pose = at_off(next(off for off in offs if (seat(part, at_off(off), radius) or (0, 0, 0))[2] > 0.45) + 1.0)
            if way > 0 and piece.is_bend:  # its plane is known once some of the bend is there
                inside = poses(bench, piece.start + piece.legs[0] + 1e-3, (piece.start, piece.end))[2]
                inside = inside - (inside @ pose[1]) * pose[1]
                pose = (pose[0], pose[1], inside / np.linalg.norm(inside))
            points = np.concatenate(section(part, pose).to_polygons())
            bottom = points[abs(np.linalg.norm(points, axis=1) - radius - SLOT_DEPTH) < 0.2]
            toward = "inside" in facts.lines[k] or "line at x" in facts.lines[k]
            shown = bottom[:, 0] if toward else -bottom[:, 0]
            off = np.degrees(np.arctan2(bottom[:, 1], shown))  # from the inside of the bend, or from its outside
            slot = off[abs(off) < 5.0]
            assert len(slot) > 1 and abs(slot.min() + slot.max()) / 2 < 0.3, (part.name, facts.lines[k], off)
            assert not (abs(off) > 175.0).any()


@pytest.mark.slow
def test_a_bend_that_sets_the_turn_could_not_be_turned(
    bench: tuple[Header, Plan, dict[int, float]], made: Made
) -> None:
    """The hollow of the farthest rib is so far beside the axis of the joint that 1° moves it by more than the play."""
    header, plan, _ = bench
    radius, pieces, seen = header.runs[0].tube.radius, plan.of_run(RUN), 0
    for (part, facts), joint in zip(made, plan.joints_of(RUN), strict=True):
        point, along, _ = poses(bench, joint.at, (0.0, joint.at))
        for k, (piece, way) in enumerate(((pieces[joint.number - 1], -1), (pieces[joint.number], 1))):
            levers = []
            for off in np.arange(1.0, min(piece.length, 100.0), 2.0).tolist():
                pose = poses(bench, joint.at + way * off, (piece.start, piece.end))
                if seat(part, pose, radius) is not None:
                    offset = pose[0] - point
                    levers.append(float(np.linalg.norm(offset - (offset @ along) * along)))
            if facts.holds_turn[k]:
                assert max(levers) * math.sin(math.radians(1.0)) > 2 * SEAT, part.name
                seen += 1
    assert seen > 1


@pytest.mark.slow
def test_no_plastic_is_near_the_joint(bench: tuple[Header, Plan, dict[int, float]], made: Made) -> None:
    header, plan, _ = bench
    radius = header.runs[0].tube.radius
    for (part, _), joint in zip(made, plan.joints_of(RUN), strict=True):
        at, way, side = poses(bench, joint.at, (0.0, joint.at))
        ring = Manifold.cylinder(0.02, radius, radius, 256, True)
        placed = ring.transform(np.column_stack([side, np.cross(way, side), way, at]))
        gap = placed.min_gap(manifold(part.mesh, home(part)), 100.0)
        assert OFF_THE_ARC - 0.05 < gap < OFF_THE_ARC + 3.0, (part.name, gap)


@pytest.mark.slow
def test_the_tube_is_laid_in_and_lifted_out(bench: tuple[Header, Plan, dict[int, float]], made: Made) -> None:
    """All of it that is near, as balls along its middle: at home and on its way up, none comes into the plastic."""
    header, plan, _ = bench
    radius = header.runs[0].tube.radius
    for (part, _), joint in zip(made, plan.joints_of(RUN), strict=True):
        reach = np.arange(max(joint.at - 200.0, 5.0), joint.at + 200.0, 2.0)
        reach = reach[reach < plan.of_run(RUN)[-1].end]
        middles = np.array([poses(bench, at, (0.0, at))[0] for at in reach.tolist()])
        corners = as_trimesh(part.mesh).sample(6000, seed=1) @ home(part)[0].T + home(part)[1]
        up = home(part)[0] @ np.array([0.0, 0.0, 1.0])
        for lift in (0.0, 2.0, 5.0, 10.0, 20.0, 40.0):
            off = np.linalg.norm(corners[:, None] - (middles + lift * up)[None], axis=2).min()
            assert off > radius - 0.01, (part.name, lift, off)


def test_saddles_print_without_support(made: Made) -> None:
    for part, _ in made:
        seen = as_trimesh(part.mesh)
        assert seen.is_watertight and seen.body_count == 1 and seen.volume == pytest.approx(part.volume)
        assert overhang(part.mesh, MockSettings().lean) < 0.01 and starts_in_mid_air(part.mesh) == [], part.name


def test_a_piece_too_short_for_a_rib_is_said(bench: tuple[Header, Plan, dict[int, float]]) -> None:
    header, plan, _ = bench
    [(run, line)] = header.tubes
    pieces = list(plan.of_run(RUN))
    pieces[1] = replace(pieces[1], end=pieces[1].start + 30.0, legs=(30.0, 0.0), angle=0.0, radius=0.0)
    [said] = saddles_of((run, line, "3"), pieces, plan.joints_of(RUN)[:1], MockSettings())
    assert said == (
        "There is no saddle H3-1 for joint 1 of primary 3: piece 2 is 30.0 mm long, and a rib needs 33.0 mm."
    )


@pytest.mark.slow
def test_a_mock_has_them_where_they_are_asked_for(bench: tuple[Header, Plan, dict[int, float]]) -> None:
    header, _, _ = bench
    bare = MockSettings(flange=False, plates=False, straights="steel")
    mock = make_mock(header, replace(bare, saddles=True))
    assert [part.name for part in mock.saddles] == [f"H3-{joint}" for joint in (1, 2, 3, 4)]
    assert [facts.name for facts in mock.saddle_facts] == [part.name for part in mock.saddles]
    assert {place.name for place in mock.placed} == {part.name for part in mock.printed} >= {"H3-1"}
    assert "H3-1" not in mock.order and make_mock(header, bare).saddles == ()
