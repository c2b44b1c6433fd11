"""Printed parts as twins of steel pieces: divided where the plan is, numbered as it is, with real tube between them."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from assembly import home, manifold

from headergen.geometry.curves.centreline import cut_out, frame_at
from headergen.geometry.mesh.tube import tube_mesh
from headergen.mock.build import Mock, make_mock
from headergen.mock.part import MockPart
from headergen.model import Centreline, CutPiece, Header, MockSettings, SteelStraight
from headergen.pipeline import settle
from headergen.shop.stage import shop_of

ROOT = Path(__file__).resolve().parents[2]
Demo = Callable[[str], tuple[Header, Mock]]
NEAR = 0.01  # mm


def spigot_at(part: MockPart) -> np.ndarray:
    """Where a part's stop face stands in the engine."""
    assert part.spigot is not None
    rotation, shift = home(part)
    return np.asarray(rotation @ np.array(part.spigot.origin) + shift)


def line_of(header: Header, run: str) -> Centreline:
    [line] = [line for line in header.centrelines if line.run == run]
    return line


def test_every_piece_has_a_part_with_its_number(name: str, demo: Demo) -> None:
    """The plan of the shop, made again: at each of its joints a part begins, named by the piece after it, and stands
    for that piece alone."""
    header, mock = demo(name)
    plan = shop_of(header).plan
    lines = {line.run: line for line in header.centrelines}
    tubes = [part for part in mock.parts if part.spigot is not None]
    assert len(plan.joints) > 8
    for joint in plan.joints:
        point = np.array(frame_at(lines[joint.run], joint.at)[0])
        after = [part for part in tubes if part.runs == (joint.run,) and np.linalg.norm(spigot_at(part) - point) < NEAR]
        number = joint.run.rpartition(" ")[2]
        assert [part.pieces for part in after] == [(joint.number + 1,)], joint
        assert re.fullmatch(rf"[AB]?P{number}-{joint.number + 1}([.]1)?", after[0].name)
    printed = {(run, piece) for part in tubes for run in part.runs for piece in part.pieces}
    flange = {(run, 1) for part in mock.parts if part.spigot is None for run in part.runs}
    asked = {(piece.run, piece.number) for piece in plan.pieces}
    assert printed <= asked and asked - printed <= flange  # a first piece that is short is printed with the flange
    assert all(len(part.pieces) == 1 for part in tubes)


def test_shares_of_a_piece_are_counted_from_the_flange(name: str, demo: Demo) -> None:
    _, mock = demo(name)
    shared = [fact for fact in mock.facts if fact.share[1] > 1]
    assert shared
    for fact in shared:
        stem, _, count = fact.name.rpartition(".")
        assert int(count) == fact.share[0]
        assert sum(other.name.rpartition(".")[0] == stem for other in mock.facts) == fact.share[1]


def test_tubes_are_thin_between_their_joints(demo: Demo) -> None:
    """The middle of the long straight, well away from letters: a ring of the wall that is set, by its area."""
    header, mock = demo("bogbean")
    radius = header.draft.tube.radius
    [leg] = [part for part in mock.parts if part.name == "P1-4"]
    area = manifold(leg.mesh).slice(leg.size[2] / 2).area()
    assert area == pytest.approx(math.pi * (radius**2 - (radius - 1.2) ** 2), rel=0.01)


@pytest.fixture(scope="module")
def with_steel() -> tuple[Header, Mock]:
    """Two primaries of the Bogbean: one begins with a straight, one with a bend."""
    header = settle(ROOT / "specs" / "bogbean.yaml")
    runs = header.runs[:2]
    header = replace(header, runs=runs, centrelines=header.centrelines[:2])
    return header, make_mock(header, MockSettings(straights="steel"))


def test_only_what_is_bent_is_printed(with_steel: tuple[Header, Mock]) -> None:
    header, mock = with_steel
    straight = {(piece.run, piece.number) for piece in shop_of(header).plan.pieces if not piece.is_bend}
    printed = {(run, piece) for part in mock.parts if part.spigot for run in part.runs for piece in part.pieces}
    assert straight and not printed & straight
    assert {(each.run, each.piece) for each in mock.straights if not each.is_leg} == straight
    assert [adapter.name for adapter in mock.adapters] == [each.before for each in mock.straights]


def test_long_legs_of_bends_are_real_tube(with_steel: tuple[Header, Mock]) -> None:
    """As many as the plan's bends have from 60 mm on, with what the plates ask for; by the lengths of the plan."""
    header, mock = with_steel
    add = {hole.run: pair.add for pair in mock.pairs for hole in pair.plates[1].holes}
    bends = [piece for piece in shop_of(header).plan.pieces if piece.is_bend]
    last = {piece.run: piece.number for piece in bends}
    wanted = []
    for piece in bends:
        first, second = piece.legs
        past = add[piece.run] if piece.number == last[piece.run] else 0.0
        wanted += [leg for leg in (first, second + past) if leg >= 60.0]
    found = [each.length for each in mock.straights if each.is_leg]
    assert len(wanted) == 5 and sorted(found) == pytest.approx(sorted(wanted), abs=NEAR)


def test_lengths_to_saw_are_those_between_the_faces(with_steel: tuple[Header, Mock]) -> None:
    """From the face that a tube stands against to that of what goes into its far end, or to its end past the plates."""
    header, mock = with_steel
    add = {hole.run: pair.add for pair in mock.pairs for hole in pair.plates[1].holes}
    for each in mock.straights:
        line = line_of(header, each.run)
        [adapter] = [part for part in mock.adapters if part.name == each.before]
        face, last = spigot_at(adapter), not each.after
        after = [part for part in (*mock.parts, *mock.adapters) if part.name == each.after]
        assert len(after) == (0 if last else 1)
        end = np.array(frame_at(line, line.length)[0]) if last else spigot_at(after[0])
        assert each.length == pytest.approx(
            float(np.linalg.norm(end - face)) + (add[each.run] if last else 0), abs=NEAR
        )


def place_of(each: SteelStraight, piece: CutPiece) -> tuple[float, float]:
    """From where to where along its run a piece of real tube stands, without what is past the steel."""
    length = each.length - each.past
    if not each.is_leg:
        return piece.start + each.in_stub, piece.end
    # the first leg of a bend, if it is as long as that
    first = abs(piece.legs[0] - each.in_stub - length) < NEAR
    return (piece.start + each.in_stub, piece.start + piece.legs[0]) if first else (piece.end - length, piece.end)


@pytest.mark.slow
def test_the_real_tube_goes_over_what_stands_in_its_ends(with_steel: tuple[Header, Mock]) -> None:
    """The true tube where it belongs, its bore narrowed by half the gap: it shares nothing with any printed part, and
    narrowed by half a millimetre more it does with what is in its ends."""
    header, mock = with_steel
    tube, gap = header.draft.tube, MockSettings().gap
    for each in mock.straights:
        line = line_of(header, each.run)
        [piece] = [p for p in mock.pieces if (p.run, p.number) == (each.run, each.piece)]
        part = cut_out(line, *place_of(each, piece))
        tight = manifold(tube_mesh(part, tube.radius, tube.radius - tube.wall - gap / 2, 0.01))
        loose = manifold(tube_mesh(part, tube.radius, tube.radius - tube.wall - gap - 0.5, 0.01))
        for other in (*mock.parts, *mock.adapters):
            shared = [(solid ^ manifold(other.mesh, home(other))).volume() for solid in (tight, loose)]
            assert shared[0] < 0.5, (each.name, other.name)
            if other.name in (each.before, each.after):
                assert shared[1] > 5.0, (each.name, other.name)


@pytest.mark.slow
def test_steel_hangs_on_the_parts_before_it(with_steel: tuple[Header, Mock]) -> None:
    """All printed, flange plate and first part bear less: a metre of this steel weighs some six times its print."""
    header, mock = with_steel
    printed = make_mock(header, MockSettings())
    stress = {fact.name: fact.stress for fact in mock.facts}
    before = {fact.name: fact.stress for fact in printed.facts}
    assert stress["F1"] > 1.2 * before["F1"]
    assert stress["P1-1.1"] > 1.2 * before["P1-1.1"]
    assert all(each.name in mock.order for each in mock.straights)


@pytest.mark.slow
def test_an_adapter_after_steel_is_refused(with_steel: tuple[Header, Mock]) -> None:
    """Joint 2 of primary 1 follows a steel straight: its tube has no socket that an adapter could go into."""
    header, _ = with_steel
    only = replace(header, runs=header.runs[:1], centrelines=header.centrelines[:1])
    mock = make_mock(only, MockSettings(straights="steel", steel_after=(("primary 1", 2),), plates=False))
    assert mock.settings.steel_after == ()
    assert any("J1-2: what stands before joint 2 of primary 1 is steel already" in note for note in mock.notes)
