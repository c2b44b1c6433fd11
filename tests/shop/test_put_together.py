"""Pieces put together again by what the bench is told: each centreline comes back within 1e-6 mm.

What puts them together knows nothing of the paths: only where the port is, the pieces, and how they are turned; and
once more without the turns, by what a level shows, where the far end then is, and the finished tube's three distances.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from headergen.geometry.curves.centreline import frame_at
from headergen.model import BenchHeight, CutPiece, FinishedTube, Header, Run, Shop
from headergen.shop.stage import shop_of
from tests.shop.benches import random_bench

WITHIN = 1e-6  # mm
Vector = NDArray[np.float64]
Pose = tuple[Vector, Vector, Vector]  # place, travel, where the bend before has its centre


def turned(vector: Vector, axis: Vector, angle: float) -> Vector:
    """Rodrigues' formula."""
    c, s = math.cos(angle), math.sin(angle)
    out: Vector = c * vector + s * np.cross(axis, vector) + (1 - c) * (axis @ vector) * axis
    return out


def laid(pose: Pose, piece: CutPiece, turn: float, places: list[Vector] | None = None) -> Pose:
    """A piece held on to what there is, turned about the travel; `places` collects points 5 to a stretch."""
    at, way, side = pose
    if piece.angle > 0:
        side = turned(side, way, turn)
    start = at
    collected = [start + way * piece.legs[0] * k / 5 for k in range(5)]
    at = at + way * piece.legs[0]
    if piece.angle > 0:
        centre, axis = at + piece.radius * side, np.cross(way, side)
        collected += [centre + turned(at - centre, axis, piece.angle * k / 5) for k in range(5)]
        at, way, side = (
            centre + turned(at - centre, axis, piece.angle),
            turned(way, axis, piece.angle),
            turned(side, axis, piece.angle),
        )
        collected += [at + way * piece.legs[1] * k / 5 for k in range(5)]
        at = at + way * piece.legs[1]
    if places is not None:
        places += collected
    return at, way, side


def begun(run: Run, begins: float) -> Pose:
    frame = run.start.frame
    x, z = np.array(frame.x), np.array(frame.z)
    return np.array(frame.origin) + begins * z, z, x


def assert_is_path(header: Header, run: Run, pieces: tuple[CutPiece, ...], turns: list[float], begins: float) -> None:
    line = next(line for each, line in header.tubes if each.name == run.name)
    pose, places, at = begun(run, begins), list[Vector](), begins
    wanted = []
    for piece, turn in zip(pieces, turns, strict=True):
        stretches = [piece.legs[0], piece.angle * piece.radius, piece.legs[1]] if piece.angle else [piece.legs[0]]
        for stretch in stretches:
            wanted += [frame_at(line, at + stretch * k / 5)[0] for k in range(5)]
            at += stretch
        pose = laid(pose, piece, turn, places)
    end, travel, _ = frame_at(line, line.length)
    assert at == pytest.approx(line.length, abs=WITHIN)
    assert np.abs(np.array(places) - np.array(wanted)).max() < WITHIN
    assert np.abs(pose[0] - end).max() < WITHIN and np.abs(pose[1] - travel).max() < WITHIN


def begins_of(shop: Shop, run: Run) -> float:
    lengths = next(each for each in shop.lengths if each.run == run.name)
    return lengths.centreline - lengths.cut


def by_clocking(header: Header, shop: Shop) -> None:
    for run in header.runs:
        pieces = shop.plan.of_run(run.name)
        clocked = {joint.number + 1: joint.clocking for joint in shop.plan.joints_of(run.name)}
        first = next((mark.angle for mark in shop.turns if mark.run == run.name and mark.joint == 0), 0.0)
        turns = [first if piece.number == 1 else clocked[piece.number] or 0.0 for piece in pieces]
        assert_is_path(header, run, pieces, turns, begins_of(shop, run))


def by_levels(header: Header, shop: Shop) -> None:
    for run in header.runs:
        pieces = shop.plan.of_run(run.name)
        marks = {mark.piece: mark for mark in shop.turns if mark.run == run.name}
        heights = {height.piece: height for height in shop.heights if height.run == run.name}
        finished = next(each for each in shop.finished if each.run == run.name)
        turns: list[float] = []
        for piece in pieces:
            mark = marks.get(piece.number)
            if mark is None or mark.turns_from == 0:
                turns.append(0.0 if mark is None else mark.level)
                continue
            both = [mark.level, math.pi - mark.level]
            turns.append(min(both, key=lambda turn: _off(pieces, turns, turn, heights[piece.number])))
        first = next((k for k, piece in enumerate(pieces) if piece.angle > 0), None)
        if first is not None:  # turned from the flange: only the finished tube tells one way from the other
            both = [turns[first], math.pi - turns[first]]
            turns[first] = min(both, key=lambda t: _off_finished(header, run, shop, (first, t), turns, finished))
        assert_is_path(header, run, pieces, turns, begins_of(shop, run))


def _off(pieces: tuple[CutPiece, ...], turns: list[float], turn: float, height: BenchHeight) -> float:
    """How far the end is from where it should be, when the next piece is turned so and the bend before lies flat."""
    flat = height.flat - 1
    pose = np.zeros(3), np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])  # it bends left on the table
    pose = pose[0] - pieces[flat].legs[0] * pose[1], pose[1], pose[2]
    pose = laid(pose, pieces[flat], 0.0)
    for k in range(flat + 1, len(turns)):
        pose = laid(pose, pieces[k], turns[k])
    at, way, _ = laid(pose, pieces[len(turns)], turn)
    wanted = np.array([height.along, height.offset, height.height])
    return float(np.abs(at - wanted).max() + abs(way[2] - math.sin(height.lean)))


def _off_finished(
    header: Header, run: Run, shop: Shop, at: tuple[int, float], turns: list[float], finished: FinishedTube
) -> float:
    tried = [*turns[: at[0]], at[1], *turns[at[0] + 1 :]]
    pose = begun(run, begins_of(shop, run))
    for piece, turn in zip(shop.plan.of_run(run.name), tried, strict=True):
        pose = laid(pose, piece, turn)
    frame = header.draft.flange_of(run.port).frame if run.is_primary else run.start.frame
    off = pose[0] - np.array(run.start.frame.origin)
    found = [off @ np.array(axis) for axis in (frame.z, frame.x, frame.y)]
    return float(np.abs(np.array(found) - np.array([finished.out, finished.x, finished.y])).max())


@pytest.mark.quick(1)
@pytest.mark.parametrize(
    "name", ["bogbean", "withybed", "glasswort_left", "glasswort_right", "sedge", "sedge_turbine", "bulrush"]
)
def test_a_demo_comes_back_from_its_tables(name: str, planned: Callable[[str], tuple[Header, Shop]]) -> None:
    header, shop = planned(name)
    by_clocking(header, shop)
    by_levels(header, shop)


@pytest.mark.series
@pytest.mark.parametrize("seed", [*range(6), *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(6, 60))])
def test_random_runs_come_back_from_their_tables(seed: int) -> None:
    header = random_bench(seed)
    shop = shop_of(header)
    by_clocking(header, shop)
    by_levels(header, shop)


def test_a_wrong_turn_does_not_come_back() -> None:
    """The check can fail: half a degree at one joint moves the end by far more than what is allowed."""
    header = random_bench(1)
    shop = shop_of(header)
    run = header.runs[0]
    pieces = shop.plan.of_run(run.name)
    clocked = {joint.number + 1: joint.clocking for joint in shop.plan.joints_of(run.name)}
    wrong = [clocked.get(piece.number) or math.radians(0.5) for piece in pieces]
    with pytest.raises(AssertionError):
        assert_is_path(header, run, pieces, [turn + math.radians(0.5) for turn in wrong], begins_of(shop, run))
