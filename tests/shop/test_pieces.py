"""Pieces and joints of a header: a joint between every two steps, but where the spec makes them one piece."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from headergen.geometry.curves.centreline import frame_at
from headergen.geometry.frames import dot, rotated
from headergen.model import Bend, Header
from headergen.pipeline import settle
from headergen.shop.pieces import joints_of, pieces_of, run_joints, run_pieces
from headergen.spec.complaint import SpecError
from headergen.spec.reader import read_spec

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def bogbean() -> Header:
    return settle(ROOT / "specs" / "bogbean.yaml")


def test_every_step_is_a_piece_and_lengths_add_up(bogbean: Header) -> None:
    pieces = pieces_of(bogbean)
    for primary, line in zip(bogbean.primaries, bogbean.centrelines, strict=True):
        mine = [piece for piece in pieces if piece.run == primary.name]
        assert [piece.steps for piece in mine] == [(n,) for n in range(1, len(primary.steps) + 1)]
        assert [piece.number for piece in mine] == list(range(1, len(mine) + 1))
        assert mine[0].start == 0.0 and mine[-1].end == pytest.approx(line.length)
        assert all(a.end == b.start for a, b in pairwise(mine))
        assert sum(piece.length for piece in mine) == pytest.approx(line.length)


def test_a_joint_turns_from_one_bend_to_the_next(bogbean: Header) -> None:
    """Turned by its clocking about the travel, the witness direction faces the centre of the bend that follows."""
    seen = 0
    for primary, line in zip(bogbean.primaries, bogbean.centrelines, strict=True):
        for joint in run_joints(primary, line):
            point, tangent, _ = frame_at(line, joint.at)
            assert joint.frame.origin == pytest.approx(point, abs=1e-9)
            assert joint.frame.z == pytest.approx(tangent, abs=1e-9)
            if isinstance(primary.steps[joint.number], Bend):
                ahead = frame_at(line, joint.at + 1e-3)[1]
                toward = rotated(joint.frame.x, joint.frame.z, joint.clocking)
                assert dot(ahead, toward) > 0.999 * math.sqrt(1 - dot(ahead, tangent) ** 2) > 0
                seen += 1
    assert seen == 10  # the bends of the Bogbean


def test_joined_steps_are_one_piece(bogbean: Header) -> None:
    primary = replace(bogbean.primaries[0], joined=(2, 3))
    pieces = run_pieces(primary, bogbean.centrelines[0])
    assert [piece.steps for piece in pieces] == [(1, 2, 3), (4,), (5,), (6,), (7,)]
    joints = run_joints(primary, bogbean.centrelines[0])
    assert [joint.at for joint in joints] == [piece.end for piece in pieces[:-1]]
    assert len(joints_of(bogbean)) == len(pieces_of(bogbean)) - len(bogbean.primaries)


def test_the_spec_joins_steps(tmp_path: Path) -> None:
    text = (ROOT / "specs" / "bogbean.yaml").read_text(encoding="utf-8").replace("../shared", f"{ROOT}/shared")
    spec = tmp_path / "spec.yaml"
    first = "    - {straight: 274.23}"
    assert text.count(first) == 1
    spec.write_text(text.replace(first, "    - {straight: 274.23, joined: true}"), encoding="utf-8")
    assert read_spec(spec)[1].primaries[0].joined == (3,)
    spec.write_text(text.replace("{straight: 35.92}", "{straight: 35.92, joined: true}", 1), encoding="utf-8")
    with pytest.raises(SpecError) as error:
        read_spec(spec)
    [complaint] = error.value.complaints
    assert "before the first step" in complaint.message and complaint.path == "primaries.1 step 1 joined"
